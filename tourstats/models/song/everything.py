"""Everything about one song, looked up once."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import pandas as pd

from tourstats.models import by_heart, rotation, swaps
from tourstats.models.song.clean import Streak, records
from tourstats.models.song.crossings import crossings
from tourstats.models.song.looking import one
from tourstats.models.song.said import told
from tourstats.models.song.when_to_test import questions_of
from tourstats.problems import TooFewProblem
from tourstats.tour import Tour


@dataclass(frozen=True)
class Song:
    """Everything about one song.

    Attributes
    ----------
    title
        As in the repertoire.
    facts
        Its row of the repertoire, and of `rotation.layoffs`: how long it is out, when it was run.
    history, said, transitions
        As from `history`, `told`, `crossings`.
    runs
        Its runs and rehearsals, newest first: date, way, runs, minutes.
    rooms
        A row a kind of venue: room, played, reviewed, mistakes (first listenings), each as counted.
    shape
        Its sections in order.
    tempi
        Where recordings were measured, newest first: date, show_id, city, tempo_bpm, tempo_sure, drift, minutes, and
        where to hear it: recording, start_s.
    streak
        As from `records`: how many clean ones in a row, and how many it takes.
    chance
        Chance of being in the next set, None where that cannot be said.
    ahead
        Of the next show, where its set is written already: date, and the song's row in it or nothing; else None.
    questions, known
        What its shape asks, and how much of it was known, as from `by_heart`.

    """

    title: str
    facts: Mapping[str, Any]
    history: pd.DataFrame
    said: pd.DataFrame
    transitions: pd.DataFrame
    runs: pd.DataFrame
    rooms: pd.DataFrame
    shape: pd.DataFrame
    tempi: pd.DataFrame
    streak: Streak
    chance: float | None
    ahead: Mapping[str, Any] | None
    questions: pd.DataFrame
    known: by_heart.Known


def song(tour: Tour, title: str) -> Song:
    """Look up everything about one song.

    Parameters
    ----------
    tour
        As `tourstats.read` gives it; `tour.until(show_id)` for what was known before a show.
    title
        Its title or another name of it.

    Raises
    ------
    UnknownSongProblem
        If no title and no other name is written so; it names the nearest.

    Examples
    --------
    >>> tour = Tour.of(
    ...     songs=pd.DataFrame({"song": ["Ferry"], "aliases": ["The Sculling"]}),
    ...     shows=pd.DataFrame({"show_id": [1, 2], "date": ["2031-03-04", "2031-03-05"]}),
    ...     plays=pd.DataFrame({"show_id": [1, 2], "position": [1, 1], "song": ["Ferry", "Ferry"]}),
    ...     reviews=pd.DataFrame({"show_id": [2], "song": ["Ferry"]}),
    ... )
    >>> found = song(tour, "the sculling")
    >>> found.title, len(found.history), found.streak.in_a_row
    ('Ferry', 2, 1)

    """
    title = one(tour, title)
    out = rotation.layoffs(tour.plays, tour.shows, tour.songs, tour.rehearsals)
    played = history(tour, title)
    facts = tour.songs[tour.songs.song == title].iloc[0].to_dict() | out[out.song == title].iloc[0].to_dict()
    shape = tour.sections[tour.sections.song == title].sort_values("position", ignore_index=True)
    asked = questions_of(tour, title)
    return Song(
        title=title,
        facts=facts,
        history=played,
        said=told(tour, [title]),
        transitions=crossings(tour, title),
        runs=tour.rehearsals[tour.rehearsals.song == title].iloc[::-1].reset_index(drop=True),
        rooms=_rooms(played),
        shape=shape,
        tempi=_tempi(tour, title),
        streak=records(tour, [title])[title],
        chance=_chance(tour, title),
        ahead=_ahead(tour, title),
        questions=asked,
        known=by_heart.how_known(tour.tested[tour.tested.song == title], asked.asked),
    )


def history(tour: Tour, song: str) -> pd.DataFrame:
    """Each show with a played set, and whether the song was in it.

    Returns
    -------
    DataFrame
        One row per show since the song was first played, oldest first: show_id, date, city, room, position (missing
        where it was out), encore, remark, reviewed (bool), mistakes (found at the first listening; missing where
        nobody listened).

    """
    shows = tour.played()
    plays = tour.plays[tour.plays.song == song].drop_duplicates("show_id").set_index("show_id")
    first = tour.reviews[(tour.reviews.song == song) & (tour.reviews.listening == 1)].show_id
    mistakes = tour.mistakes[(tour.mistakes.song == song) & (tour.mistakes.listening == 1)].groupby("show_id").size()
    table = shows[["show_id", "date", "city", "room"]].assign(
        position=plays.position.reindex(shows.show_id).astype("Int64").array,
        encore=plays.encore.reindex(shows.show_id).astype("boolean").array,
        remark=plays.remark.reindex(shows.show_id).array,
        reviewed=shows.show_id.isin(first).array,
    )
    table["mistakes"] = mistakes.reindex(table.show_id).fillna(0).astype("Int64").array
    table["mistakes"] = table.mistakes.mask(~table.reviewed)
    since = table.position.notna().to_numpy().argmax() if table.position.notna().any() else len(table)
    return table.iloc[since:].reset_index(drop=True)


def _rooms(played: pd.DataFrame) -> pd.DataFrame:
    """By kind of venue, as counted."""
    there = played[played.position.notna()].assign(reviewed=lambda t: t.reviewed.astype(int))
    table = there.groupby("room", as_index=False).agg(
        played=("position", "size"), reviewed=("reviewed", "sum"), mistakes=("mistakes", "sum")
    )
    return table.sort_values("played", ascending=False, kind="stable", ignore_index=True)


def _tempi(tour: Tour, title: str) -> pd.DataFrame:
    """Where its recordings were measured, newest first."""
    there = tour.plays[tour.plays.song == title][["show_id", "position"]]
    table = tour.measured.merge(there, on=["show_id", "position"])
    table = table.merge(tour.shows[["show_id", "date", "city", "recording"]], on="show_id", how="left")
    table["minutes"] = (table.end_s - table.start_s) / 60
    table = table.sort_values("date", ascending=False, kind="stable", ignore_index=True)
    return table[["date", "show_id", "city", "tempo_bpm", "tempo_sure", "drift", "minutes", "recording", "start_s"]]


def _ahead(tour: Tour, title: str) -> dict[str, Any] | None:
    """What the set of the next show says of the song."""
    the_set = tour.set_of(tour.next_show())
    if not len(the_set):
        return None
    return {"date": tour.show()["date"]} | dict(*the_set[the_set.song == title].head(1).to_dict("records"))


def _chance(tour: Tour, title: str) -> float | None:
    """Chance of being in the next set, unless too little is known."""
    try:
        forecast = swaps.forecast(tour.plays, tour.shows, tour.songs, tour.show() or {})
    except TooFewProblem:
        return None
    row = forecast.songs[forecast.songs.song == title]
    return float(row.chance.iloc[0]) if len(row) else None
