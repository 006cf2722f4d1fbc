"""Safe without thinking: clean performances in a row, and how sure they make one of the next.

The one rule by which a song is called safe: the show day, the plan of a day off, *A song*, *Playing trends* and the leg
review all ask here.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from typing import NamedTuple

import numpy as np
import pandas as pd

from tourstats.models.estimates import rate_interval
from tourstats.tour import Tour

KEYS = ["show_id", "song"]
SURE = 0.9
"""Chance of a clean next performance from which on one may stop thinking of it. Common practice, no source."""
PRIOR_CLEAN = (1.0, 1.0)
"""Beta distribution from which the chance of a clean performance starts: every chance as likely as another (Bayes)."""


class Streak(NamedTuple):
    """Clean performances in a row, and how sure one can be of the next."""

    reviewed: int
    clean: int
    in_a_row: int
    """Clean ones in a row, up to the last that was reviewed."""
    needed: int
    """How many in a row it takes to be sure of the next."""
    sure: float
    """Chance that the next one is clean."""
    longest_out: int = 0
    """Of those in a row, the most shows that it had been out before one."""

    @property
    def holds(self) -> bool:
        """Whether one may stop thinking of it."""
        return self.in_a_row >= self.needed


def rule() -> str:
    """What it takes to be safe, in words, wherever a song is called so.

    Examples
    --------
    >>> rule()[:56]
    'Safe without thinking: 8 reviewed performances clean in '

    """
    return (
        f"Safe without thinking: {streak([]).needed} reviewed performances clean in a row make a clean next one "
        f"{SURE:.0%} sure (beta-binomial, every chance as likely at first)."
    )


NO_MINUTES = (
    "Such a song gets no minutes, unless something is said of it tonight, or it was out for more shows than it came "
    "back clean from."
)
"""What that means for a plan."""


def streak(mistakes: Sequence[int], out: Sequence[int] = ()) -> Streak:
    """How many clean performances there are in a row, and how sure that makes one of the next.

    What counts is the run of clean ones since the last mistake, so that a song that went wrong while it was learned may
    become sure. With a beta distribution of uniform shape the chance that the next one is clean, after n clean ones in
    a row, is (n + 1) / (n + 2) (Laplace 1814, the rule of succession; from memory): eight in a row make nine in ten.

    Parameters
    ----------
    mistakes
        Mistakes in each reviewed performance, the oldest first.
    out
        Shows that it had been out before each of them.

    Examples
    --------
    >>> found = streak([1, 0, 0, 0, 0, 0, 0, 0, 0])
    >>> found.in_a_row, found.needed, found.sure
    (8, 8, 0.9)

    """
    clean = [not count for count in mistakes]
    in_a_row = next((n for n, good in enumerate(reversed(clean)) if not good), len(clean))
    a, b = PRIOR_CLEAN
    needed = math.ceil((SURE * (a + b) - a) / (1 - SURE) - 1e-9)
    longest = max(list(out)[len(out) - in_a_row :], default=0) if in_a_row else 0
    return Streak(len(clean), sum(clean), in_a_row, needed, (in_a_row + a) / (in_a_row + a + b), int(longest))


def records(tour: Tour, songs: Iterable[str]) -> dict[str, Streak]:
    """Of each song its clean performances in a row, up to the last that was reviewed.

    A performance is clean if it was listened to and nothing was found, also when it was heard again.

    Examples
    --------
    >>> shows = pd.DataFrame({"show_id": range(1, 10), "date": pd.date_range("2031-03-04", periods=9)})
    >>> plays = pd.DataFrame({"show_id": range(1, 10), "position": 1, "song": "Ferry"})
    >>> plays.loc[3, "song"] = "Tin Rook"
    >>> songs = pd.DataFrame({"song": ["Ferry", "Tin Rook"]})
    >>> found = records(Tour.of(songs=songs, shows=shows, plays=plays, reviews=plays), ["Ferry"])
    >>> found["Ferry"].holds, found["Ferry"].longest_out
    (True, 1)

    """
    songs = list(dict.fromkeys(songs))
    shows = tour.played()
    plays = tour.plays[tour.plays.song.isin(songs)].drop_duplicates(KEYS)
    plays = plays.assign(at=plays.show_id.map({show_id: n for n, show_id in enumerate(shows.show_id)}))
    plays = plays.sort_values("at", kind="stable")
    plays["out"] = plays.groupby("song")["at"].diff().sub(1).fillna(0).astype(int)
    played = pd.MultiIndex.from_frame(plays[KEYS])
    wrong = played.isin(pd.MultiIndex.from_frame(tour.mistakes[KEYS]))
    heard = wrong | played.isin(pd.MultiIndex.from_frame(tour.reviews[KEYS]))
    rows = plays.assign(wrong=wrong)[heard]
    found = {song: streak(of.wrong.tolist(), of.out.tolist()) for song, of in rows.groupby("song", sort=False)}
    return {song: found.get(song, streak([])) for song in songs}


def safe(tour: Tour) -> pd.DataFrame:
    """How safe each reviewed song is, the safest first.

    Returns
    -------
    DataFrame
        A row a song that was reviewed.
            song      str
            reviewed  int    performances reviewed
            clean     int    of them without a mistake
            in_a_row  int    clean ones in a row, up to the last
            sure      float  chance that the next one is clean
            at_most   float  mistakes a performance, at most, by those in a row (one-sided 95 %; clean in 12, at most
                             0.25); missing after a mistake
            safe      bool   as many in a row as the rule takes

    Notes
    -----
    `at_most` is the rule of three over the number of performances (J. A. Hanley and A. Lippman-Hand (1983), If nothing
    goes wrong, is everything all right?, JAMA 249: 1743-1745), exactly -log(0.05) of them.

    Examples
    --------
    >>> shows = pd.DataFrame({"show_id": range(12), "date": pd.date_range("2031-03-04", periods=12)})
    >>> plays = pd.DataFrame({"show_id": range(12), "position": 1, "song": "Ferry"})
    >>> safe(Tour.of(shows=shows, plays=plays, reviews=plays))[["song", "in_a_row", "sure", "at_most"]].round(2)
        song  in_a_row  sure  at_most
    0  Ferry        12  0.93     0.25

    """
    found = records(tour, tour.plays.song)
    kept = ["reviewed", "clean", "in_a_row", "sure"]
    rows = [(song, *(getattr(one, name) for name in kept), one.holds) for song, one in found.items() if one.reviewed]
    table = pd.DataFrame(rows, columns=["song", *kept, "safe"]).astype({"song": "str", "safe": "bool"})
    most = rate_interval(0, table.in_a_row, level=0.9)[1]
    table.insert(5, "at_most", np.where(table.in_a_row > 0, most, np.nan))
    return table.sort_values(["in_a_row", "reviewed"], ascending=False, kind="stable", ignore_index=True)


def safe_tonight(clean: Streak, layoff_shows: float, remark: object) -> bool:
    """Whether a song needs no minutes before a show.

    It holds for a song as it is usually played: not if something else is said of it tonight, and not after more shows
    than it came back clean from among those in a row. Common practice, no source.

    Examples
    --------
    >>> clean = streak([0] * 9, [0, 0, 4, 0, 0, 0, 0, 0, 0])
    >>> safe_tonight(clean, 4, None), safe_tonight(clean, 5, None), safe_tonight(clean, 0, "short intro")
    (True, False, False)

    """
    return bool(clean.holds and layoff_shows <= clean.longest_out and not isinstance(remark, str))
