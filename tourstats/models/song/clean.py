"""Safe without thinking: clean performances in a row, and how sure they make one of the next."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from typing import NamedTuple

import pandas as pd

from tourstats.tables import in_order
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


RULE = (
    "Safe without thinking: {needed} reviewed performances clean in a row make a clean next one {sure:.0%} sure "
    "(beta-binomial, every chance as likely at first). Such a song gets no minutes, unless something is said of it "
    "tonight, or it was out for more shows than it came back clean from."
)
"""The rule in words, wherever it leaves a song out."""


def rule() -> str:
    """What it takes, in words."""
    return RULE.format(needed=streak([]).needed, sure=SURE)


def streak(mistakes: Sequence[int], out: Sequence[int] = ()) -> Streak:
    """How many clean performances there are in a row, and how sure that makes one of the next.

    What counts is the run of clean ones since the last mistake, so that a song that went wrong while it was learned may
    become sure. With a beta distribution of uniform shape the chance that the next one is clean, after n clean ones in
    a row, is (n + 1) / (n + 2) (Laplace 1814, the rule of succession; from memory): eight in a row make nine in ten.
    `playing.safe` asks another question: how seldom it goes wrong in the long run.

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
    shows = in_order(tour.shows[tour.shows.show_id.isin(tour.plays.show_id)])
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


def safe_tonight(found: Streak, layoff_shows: float, remark: object) -> bool:
    """Whether a song needs no minutes before a show.

    It holds for a song as it is usually played: not if something else is said of it tonight, and not after more shows
    than it came back clean from among those in a row. Common practice, no source.

    Examples
    --------
    >>> clean = streak([0] * 9, [0, 0, 4, 0, 0, 0, 0, 0, 0])
    >>> safe_tonight(clean, 4, None), safe_tonight(clean, 5, None), safe_tonight(clean, 0, "short intro")
    (True, False, False)

    """
    return bool(found.holds and layoff_shows <= found.longest_out and not isinstance(remark, str))
