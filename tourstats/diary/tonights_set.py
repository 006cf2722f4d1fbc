"""A set that was read, kept: which show it is for, its songs, what is said about them, and the names they go by."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import TYPE_CHECKING

import pandas as pd

from tourstats.problems import Problem, listed
from tourstats.reading.days import DAY_FIRST, ORDERS, day_in
from tourstats.reading.headed import known_places
from tourstats.reading.titles import fold

if TYPE_CHECKING:
    from tourstats.diary.book import Diary
    from tourstats.reading.settling import Settled
    from tourstats.tour import Tour

SOON = timedelta(days=7)
"""How far ahead a show is looked for by its town alone."""


def _headed_place(headed: Mapping[str, str]) -> tuple[str, str]:
    """City and venue that a set is headed with, as far as the heading goes."""
    city, _, venue = headed.get("place", "").partition(", ")
    return city, venue


class WhichShowProblem(Problem):
    """It is not clear which show a set is for."""

    @classmethod
    def nowhere(cls, named: Named, headed: Mapping[str, str]) -> WhichShowProblem:
        """Ask where a show is that the diary does not have; the heading may say it."""
        city, venue = _headed_place(headed)
        if not city:
            return cls(
                "This show is not in the diary yet. Say where it is: --city CITY, and --venue, --room if you like."
            )
        options = (
            [f"--date {named.day}"] * bool(named.day) + [f'--city "{city}"'] + [f'--venue "{venue}"'] * bool(venue)
        )
        return cls(
            f"This show is not in the diary yet. By the heading of the set it may be {' '.join(options)}: type that "
            "behind the command, or --accept to take it so."
        )

    @classmethod
    def one_of(cls, shows: pd.DataFrame) -> WhichShowProblem:
        """Ask which of the shows of one day it is."""
        each = "; ".join(f"--show {row.show_id} for {_place(row)}" for row in shows.itertuples())
        return cls(f"There is more than one show on {shows.date.iloc[0]:%-d %B %Y}. Say which: {each}.")

    @classmethod
    def headed(cls, heading: str, named: str) -> WhichShowProblem:
        """Say that the set names another show than the command."""
        return cls(
            f'The set is headed "{heading}", and the command says {named}: they may be two shows. Nothing is saved. '
            "Name the show as the heading does, or correct the heading, or take that line out of the set."
        )

    @classmethod
    def two_days(cls, heading: str, days: Sequence[date]) -> WhichShowProblem:
        """Ask which day a heading means."""
        each = " or ".join(f"--date {day} ({day:%-d %B %Y})" for day in days)
        return cls(f'The set is headed "{heading}", which may be two days. Say which: {each}.')

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
    headed: bool = False
    """Whether the city is only the set's own heading."""


def places_of(diary: Diary, city: str | None = None) -> dict[str, list[str]]:
    """Towns and venues that the diary knows, and the one that was said, for the heading of a set."""
    shows, venues = diary.shows(), diary.venues()
    return known_places([city, *shows.city, *venues.city], [*shows.venue, *venues.venue])


def earlier_sets(tour: Tour, day: date) -> pd.DataFrame:
    """Songs of the shows before a day, as `read_set` takes them: as played, or as planned where nobody said.

    Returns
    -------
    DataFrame
        One row per song: show_id, date, city, position, song, encore, and last_night: played the night before that day.

    """
    planned = tour.planned[~tour.planned.show_id.isin(tour.plays.show_id)]
    shows = tour.shows[["show_id", "date", "city"]]
    before = shows[(shows.date.dt.date < day) | ((shows.date.dt.date == day) & shows.show_id.isin(tour.plays.show_id))]
    songs = pd.concat([tour.plays, planned])[["show_id", "position", "song", "encore"]]
    found = before.merge(songs, on="show_id").sort_values(["date", "show_id", "position"], ignore_index=True)
    played = found.show_id.isin(tour.plays.show_id) & (found.date.dt.date == day - timedelta(days=1))
    return found.assign(last_night=played & (len(set(found.show_id[played])) == 1))


def show_of(
    diary: Diary, named: Named, today: date, headed: Mapping[str, str] | None = None, *, accept: bool = False
) -> int:
    """The show that a set is for: the one named or headed, one of its day, the next, or a new one.

    Another town on the same day is another show. A venue and a kind of venue that are said later are filled in.

    Parameters
    ----------
    diary
        An open diary.
    named
        What was said about the show; its number decides alone.
    today
        The day on the wall.
    headed
        Day, town and venue that the set is headed with, as `read_set` gives them.
    accept
        Whether a heading with a place that is not known is taken for the show's city and venue.

    Raises
    ------
    WhichShowProblem
        Says what speaks against it, and how to name the show.

    """
    if named.show_id is None:
        named = _with_heading(named, headed or {}, today, diary.shows())
    show = _found(diary, named, today)
    if show is None:
        if not named.city and accept and headed:
            city, venue = _headed_place(headed)
            named = replace(named, city=city or None, venue=named.venue or venue or None)
        if not named.city:
            raise WhichShowProblem.nowhere(named, headed or {})
        return int(diary.add_show(named.day or today, named.city, room=named.room, venue=named.venue))
    _fill_in(diary, show, named)
    return int(show.show_id)


def headed_day(headed: Mapping[str, str], near: date, shows: pd.DataFrame) -> list[date]:
    """The days that a heading may mean, the year the nearest; one where a show of the diary tells which."""
    written = day_in(headed.get("day", ""))
    if written is None:
        return []
    years = (None,) if written.full else (near.year - 1, near.year, near.year + 1)
    orders = (DAY_FIRST,) if written.dots else ORDERS
    found = []
    for order in orders:
        days = [day for year in years if (day := written.on(order, year)) is not None]
        found += [min(days, key=lambda day: abs(day - near))] if days else []
    found = list(dict.fromkeys(found))
    fit = [day for day in found if written.weekday in (None, day.weekday())] or found
    known = [day for day in fit if day == near or (shows.date.dt.date == day).any()]
    return known if len(known) == 1 else fit


def _with_heading(named: Named, headed: Mapping[str, str], today: date, shows: pd.DataFrame) -> Named:
    """What was named, and what the heading says besides; where they differ, somebody has to be asked."""
    days = headed_day(headed, named.day or today, shows)
    if days and named.day and named.day not in days:
        raise WhichShowProblem.headed(headed["day"], f"--date {named.day}")
    if len(days) > 1 and not named.day:
        raise WhichShowProblem.two_days(headed["day"], days)
    for what, mine, theirs in (("city", named.city, headed.get("city")), ("venue", named.venue, headed.get("venue"))):
        if mine and theirs and fold(mine) != fold(theirs):
            raise WhichShowProblem.headed(theirs, f"--{what} {mine}")
    return replace(
        named,
        day=named.day or (days[0] if days else None),
        city=named.city or headed.get("city"),
        venue=named.venue or headed.get("venue"),
        headed=not named.city,
    )


def _found(diary: Diary, named: Named, today: date) -> pd.Series | None:
    tour = diary.read()
    shows = tour.shows
    if named.show_id is not None:
        one = shows[shows.show_id == named.show_id]
        if len(one):
            return _agreeing(one.iloc[0], named.city, "the command")
        return pd.Series({"show_id": named.show_id})  # the diary says that there is none
    unplayed = shows[~shows.show_id.isin(tour.plays.show_id)]
    open_ = unplayed[unplayed.date.dt.date == (named.day or today)]
    if not len(open_) and named.day is None:
        return _ahead(tour, unplayed, named, today)
    if not named.headed or len(open_) > 1:
        open_ = _narrowed(open_, "city", named.city)
    if len(open_) > 1:
        open_ = _narrowed(open_, "venue", named.venue)
    if len(open_) > 1:
        raise WhichShowProblem.one_of(open_)
    return _agreeing(open_.iloc[0], named.city, "the set") if len(open_) else None


def _narrowed(shows: pd.DataFrame, what: str, said: str | None) -> pd.DataFrame:
    """Those of some shows that are there, if it was said where."""
    return shows[[fold(_text(value)) == fold(said) for value in shows[what]]] if said and len(shows) else shows


def _ahead(tour: Tour, unplayed: pd.DataFrame, named: Named, today: date) -> pd.Series | None:
    """A show to come, where none is today and no day was said: the one in the town that was said, or the next."""
    soon = unplayed[(unplayed.date.dt.date > today) & (unplayed.date.dt.date <= today + SOON)]
    there = _narrowed(soon, "city", named.city) if named.city else soon.iloc[:0]
    if len(there):
        return there.sort_values(["date", "number"]).iloc[0]
    next_ = tour.next_show()
    coming = unplayed[(unplayed.show_id == next_) & (unplayed.date.dt.date >= today)]
    if len(coming) and (named.headed or not named.city):
        return _agreeing(coming.iloc[0], named.city, "the set")
    return None


def _agreeing(show: pd.Series, city: str | None, by: str) -> pd.Series:
    """The show, if what is said of its town is not another."""
    if city and _text(show.city) and fold(city) != fold(_text(show.city)):
        raise WhichShowProblem.differs(show, "city", city, by)
    return show


def _fill_in(diary: Diary, show: pd.Series, named: Named) -> None:
    """Write down what is said about the show and was not known; refuse what is known otherwise."""
    for what, given in (("venue", named.venue), ("room", named.room)):
        if not given or what not in show:
            continue
        known = _text(show[what])
        if not known:
            diary.change_show(int(show.show_id), **{what: given})
        elif fold(known) != fold(given):
            raise WhichShowProblem.differs(show, what, given, "the command")


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
