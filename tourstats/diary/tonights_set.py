"""A set that was read, kept: which show it is for, its songs, what is said about them, and the names they go by."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

import pandas as pd

from tourstats.problems import Problem, listed
from tourstats.reading.headed import known_places
from tourstats.reading.titles import fold

if TYPE_CHECKING:
    from tourstats.diary.book import Diary
    from tourstats.reading.settling import Settled


class WhichShowProblem(Problem):
    """It is not clear which show a set is for."""

    @classmethod
    def nowhere(cls) -> WhichShowProblem:
        """Ask where a show is that the diary does not have."""
        return cls("This show is not in the diary yet. Say where it is: --city TOWN, and --venue, --room if you like.")

    @classmethod
    def one_of(cls, shows: pd.DataFrame) -> WhichShowProblem:
        """Ask which of the shows of one day it is."""
        each = "; ".join(f"--show {row.show_id} for {_place(row)}" for row in shows.itertuples())
        return cls(f"There is more than one show on {shows.date.iloc[0]:%-d %B %Y}. Say which: {each}.")

    @classmethod
    def differs(cls, show: pd.Series, what: str, said: str, by: str) -> WhichShowProblem:
        """Say that a show stands otherwise in the diary."""
        return cls(
            f"Show {show.show_id} on {show.date:%-d %B %Y} is in the diary with {what} {_text(show[what])}; {by} says "
            f"{said}. If it is this show, leave it out or correct it on the page Corrections; if it is another, name "
            "its --date and --city."
        )


@dataclass(frozen=True)
class Named:
    """What is said about the show that a set is for; everything may be missing."""

    show_id: int | None = None
    day: date | None = None
    city: str | None = None
    venue: str | None = None
    room: str | None = None


def places_of(diary: Diary) -> dict[str, list[str]]:
    """Towns and venues that the diary knows, for the heading of a set."""
    shows, venues = diary.shows(), diary.venues()
    return known_places([*shows.city, *venues.city], [*shows.venue, *venues.venue])


def show_of(diary: Diary, named: Named, today: date, headed: str | None = None) -> int:
    """The show that a set is for: the one named, one of its day, the next, or a new one.

    Another town on the same day is another show. A venue and a kind of room that are said later are filled in.

    Parameters
    ----------
    diary
        An open diary.
    named
        What was said about the show.
    today
        The day on the wall.
    headed
        Town that the set is headed with, if it is a known one.

    Raises
    ------
    WhichShowProblem
        Says what speaks against it, and how to name the show.

    """
    found = _found(diary, named, today, headed)
    if found is None:
        city = named.city or headed
        if not city:
            raise WhichShowProblem.nowhere()
        return int(diary.add_show(named.day or today, city, room=named.room, venue=named.venue))
    _fill_in(diary, found, named)
    return int(found.show_id)


def _found(diary: Diary, named: Named, today: date, headed: str | None) -> pd.Series | None:
    tour = diary.read()
    shows = tour.shows
    if named.show_id is not None:
        one = shows[shows.show_id == named.show_id]
        if len(one):
            return _agreeing(one.iloc[0], named.city, "the command")
        return pd.Series({"show_id": named.show_id})  # the diary says that there is none
    day = named.day or today
    open_ = shows[(shows.date.dt.date == day) & ~shows.show_id.isin(tour.plays.show_id)]
    town = named.city or (headed if len(open_) > 1 else None)
    if town:
        open_ = open_[[fold(_text(city)) == fold(town) for city in open_.city]]
    if len(open_) > 1:
        raise WhichShowProblem.one_of(open_)
    if len(open_):
        return _agreeing(open_.iloc[0], None if named.city else headed, "the set")
    ahead = None if named.day or named.city else tour.next_show()
    coming = shows[shows.show_id == ahead] if ahead is not None else shows.iloc[:0]
    if len(coming) and coming.date.iloc[0].date() >= day:
        return _agreeing(coming.iloc[0], headed, "the set")
    return None


def _agreeing(show: pd.Series, city: str | None, by: str) -> pd.Series:
    """The show, if what is said of its town is not another."""
    if city and _text(show.city) and fold(city) != fold(_text(show.city)):
        raise WhichShowProblem.differs(show, "city", city, by)
    return show


def _fill_in(diary: Diary, show: pd.Series, named: Named) -> None:
    """Write down what is said about the show and was not known; refuse what is known otherwise."""
    for what, said in (("venue", named.venue), ("room", named.room)):
        if not said or what not in show:
            continue
        known = _text(show[what])
        if not known:
            diary.change_show(int(show.show_id), **{what: said})
        elif fold(known) != fold(said):
            raise WhichShowProblem.differs(show, what, said, "the command")


def keep(diary: Diary, ready: Settled, show_id: int, stage: str = "planned", pasted: str | None = None) -> None:
    """Write a settled set: new songs, names that were asked about once, the songs in order and what is said of them."""
    with diary.atomic():
        known = set(diary.songs().song)
        for song in ready.new:
            if song not in known:  # the same command typed twice
                diary.add_song(song)
        _remember(diary, ready)
        diary.write_set(
            *(show_id, ready.titles, stage, ready.encore_from, pasted), remarks=ready.remarks, segues=ready.segues
        )  # fmt: skip


def _remember(diary: Diary, ready: Settled) -> None:
    """Take a bare word that was asked about for another name of the song that it turned out to be."""
    songs = diary.songs().set_index("song")
    taken = {fold(name) for names in songs.aliases for name in _names(names)} | set(map(fold, songs.index))
    for word, song in ready.aliases.items():
        if song in songs.index and fold(word) not in taken:
            diary.change_song(song, aliases=[*_names(songs.aliases[song]), word])


def _names(cell: object) -> list[str]:
    if isinstance(cell, str):
        return [name.strip() for name in cell.split(";") if name.strip()]
    return list(cell) if isinstance(cell, list | tuple) else []


def _text(value: object) -> str:
    return value.strip() if isinstance(value, str) else ""


def _place(row: object) -> str:
    return listed([name for name in (getattr(row, "city", None), getattr(row, "venue", None)) if _text(name)])
