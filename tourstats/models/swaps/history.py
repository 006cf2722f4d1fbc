"""The tour as arrays: who was played when, and what was known of each show before it began."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from tourstats import tables
from tourstats.tour import earlier

NEXT = "__next__"
"""Stands for the id of a show that is not in the diary."""


@dataclass(frozen=True)
class History:
    """Shows in order, songs in columns.

    Attributes
    ----------
    songs, shows
        Titles, and show ids; the last show is still to come if `upcoming`.
    played
        Whether each song was in the set of each show.
    place
        Position of each song in each set, 0 where it was not in it.
    candidate
        Whether each song could have been in the set, as far as was known before the show: listed in the repertoire with
        a date of joining on or before that day (or none), or played before.
    day
        Day of each show, counted from a fixed day.
    city, leg
        Number of the city and of the leg of each show; -1 where it is not known.
    new_release
        Whether each song is newly released.
    upcoming
        Whether the last show has no set yet.

    """

    songs: NDArray[Any]
    shows: list[Any]
    played: NDArray[np.bool_]
    place: NDArray[np.int64]
    candidate: NDArray[np.bool_]
    day: NDArray[np.int64]
    city: NDArray[np.int64]
    leg: NDArray[np.int64]
    new_release: NDArray[np.bool_]
    upcoming: bool

    @property
    def sets(self) -> int:
        """Number of shows that have a set."""
        return len(self.shows) - self.upcoming


def same_past(one: History, other: History) -> bool:
    """Whether two histories have the same songs and sets, whatever show is to come and whatever shows are called."""
    sets = one.sets
    return sets == other.sets and all(
        np.array_equal(getattr(one, name)[:until], getattr(other, name)[:until])
        for names, until in ((_OF_SHOWS, sets), (_OF_SONGS, None))
        for name in names
    )


_OF_SHOWS, _OF_SONGS = ("played", "place", "candidate", "day", "city", "leg"), ("songs", "new_release")
"""Parts of a history with a row for each show, and for each song."""


def read(
    plays: pd.DataFrame,
    shows: pd.DataFrame,
    songs: pd.DataFrame,
    next_show: Mapping[str, Any] | None = None,
) -> History:
    """Turn tables into a history, up to the next show if there is one.

    Shows on or after the next show's place in the diary are left out. Retired songs are candidates for all shows that
    have been, since nobody announces a retirement, but not for the next one.
    """
    songs = tables.checked(songs, "songs")
    plays, shows = tables.in_sets(plays, shows)
    if next_show is not None:
        shows, coming = _up_to(shows, next_show)
        plays = plays[plays["at"] < len(shows)]
        shows = pd.concat([shows, coming], ignore_index=True)
    titles = pd.Index(songs.song).append(pd.Index(plays.song.unique()).difference(songs.song, sort=False))
    played = np.zeros((len(shows), len(titles)), dtype=bool)
    place = np.zeros((len(shows), len(titles)), dtype=np.int64)
    column, row = titles.get_indexer(plays.song), plays["at"].to_numpy()
    played[row, column] = True
    # From the last to the first: a song that came twice counts where it came first.
    place[row[::-1], column[::-1]] = plays.position.to_numpy()[::-1]
    day = shows.date.to_numpy().astype("datetime64[D]").astype(np.int64)
    candidate = _candidates(songs, played, day)
    new = np.zeros(len(titles), dtype=bool)
    new[: len(songs)] = songs.new_release.to_numpy()
    if next_show is not None:
        candidate[-1, : len(songs)] &= (songs.status != "retired").to_numpy()
    return History(
        songs=titles.to_numpy(),
        shows=shows.show_id.tolist(),
        played=played,
        place=place,
        candidate=candidate,
        day=day,
        city=pd.factorize(shows.city)[0],
        leg=pd.factorize(shows.leg)[0],
        new_release=new,
        upcoming=next_show is not None,
    )


def _candidates(songs: pd.DataFrame, played: NDArray[np.bool_], day: NDArray[np.int64]) -> NDArray[np.bool_]:
    """Whether each song had joined by the day of each show, or been played before."""
    since = songs.since.to_numpy().astype("datetime64[D]")
    joined = np.where(np.isnat(since), np.iinfo(np.int64).min, since.astype(np.int64))
    candidate = np.zeros_like(played)
    candidate[:, : len(songs)] = joined[None, :] <= day[:, None]
    candidate[1:] |= np.maximum.accumulate(played, axis=0)[:-1]
    return candidate


def _up_to(shows: pd.DataFrame, next_show: Mapping[str, Any]) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Shows with a set that come before the next one, and the next one as a row."""
    given = {name: value for name, value in next_show.items() if value is not None}
    if "date" not in given:
        known = shows[shows.show_id == given.get("show_id")]
        after = shows.date.iloc[-1] + pd.Timedelta(days=1) if len(shows) else pd.Timestamp("2000-01-01")
        given["date"] = known.date.iloc[0] if len(known) else after
    given.setdefault("show_id", NEXT)
    return earlier(shows, given), tables.checked(pd.DataFrame([given]), "shows")
