"""Simple rules, to hold the forecasts against: a model earns its place only where it does better than these.

Each takes the tables of a backtest and gives a table of the same grain, one row per show and candidate, made from
earlier shows only.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from tourstats.models.swaps.draws import expit
from tourstats.models.swaps.hazards import Hazards
from tourstats.models.swaps.history import History, read
from tourstats.models.swaps.known_set import watched
from tourstats.models.swaps.ledger import Ledger

Floats = NDArray[np.float64]
_HALF_LIFE = 8.0


def carry_over(plays: pd.DataFrame, shows: pd.DataFrame, songs: pd.DataFrame, start: int = 8) -> pd.DataFrame:
    """Last night's set again: one chance for all songs that were in it, one for all others.

    Parameters
    ----------
    plays, shows, songs
        As in the diary.
    start
        How many shows to watch before the first forecast; at least one.

    Returns
    -------
    DataFrame
        One row per show and candidate: show_id, song, chance, in_last_set, played.

    Examples
    --------
    >>> shows = pd.DataFrame({"show_id": [1, 2], "date": ["2031-03-04", "2031-03-05"]})
    >>> plays = pd.DataFrame({"show_id": [1, 1, 2, 2], "position": [1, 2, 1, 2], "song": ["A", "B", "B", "C"]})
    >>> carry_over(plays, shows, pd.DataFrame({"song": ["A", "B", "C"]}), start=1).round(2)
       show_id song  chance  in_last_set  played
    0        2    A     0.5         True   False
    1        2    B     0.5         True    True
    2        2    C     0.1        False    True

    """
    return _told(plays, shows, songs, start, lambda: _CarryOver().chances)


def base_rate(plays: pd.DataFrame, shows: pd.DataFrame, songs: pd.DataFrame, start: int = 8) -> pd.DataFrame:
    """Share of shows so far with the song, drawn to the common share; parameters and table as `carry_over`.

    Examples
    --------
    >>> shows = pd.DataFrame({"show_id": [1, 2], "date": ["2031-03-04", "2031-03-05"]})
    >>> plays = pd.DataFrame({"show_id": [1, 1, 2, 2], "position": [1, 2, 1, 2], "song": ["A", "B", "B", "C"]})
    >>> base_rate(plays, shows, pd.DataFrame({"song": ["A", "B", "C"]}), start=1).round(2)
       show_id song  chance  in_last_set  played
    0        2    A    0.63         True   False
    1        2    B    0.63         True    True
    2        2    C    0.61        False    True

    """
    return _told(plays, shows, songs, start, lambda: lambda ledger, candidate: ledger.overall(candidate))


def decayed_rate(plays: pd.DataFrame, shows: pd.DataFrame, songs: pd.DataFrame, start: int = 8) -> pd.DataFrame:
    """Share of late shows with the song, each counting half as much after eight more; otherwise as `carry_over`.

    Examples
    --------
    >>> shows = pd.DataFrame({"show_id": [1, 2], "date": ["2031-03-04", "2031-03-05"]})
    >>> plays = pd.DataFrame({"show_id": [1, 1, 2, 2], "position": [1, 2, 1, 2], "song": ["A", "B", "B", "C"]})
    >>> decayed_rate(plays, shows, pd.DataFrame({"song": ["A", "B", "C"]}), start=1).round(2)
       show_id song  chance  in_last_set  played
    0        2    A    0.75         True   False
    1        2    B    0.75         True    True
    2        2    C    0.25        False    True

    """
    return _told(plays, shows, songs, start, lambda: lambda ledger, candidate: ledger.rates(_HALF_LIFE, candidate))


def markov(plays: pd.DataFrame, shows: pd.DataFrame, songs: pd.DataFrame, start: int = 8) -> pd.DataFrame:
    """By how many nights a song has stayed, or how many it has been out, whatever the song; otherwise as `carry_over`.

    Examples
    --------
    >>> shows = pd.DataFrame({"show_id": [1, 2], "date": ["2031-03-04", "2031-03-05"]})
    >>> plays = pd.DataFrame({"show_id": [1, 1, 2, 2], "position": [1, 2, 1, 2], "song": ["A", "B", "B", "C"]})
    >>> markov(plays, shows, pd.DataFrame({"song": ["A", "B", "C"]}), start=1).round(2)
       show_id song  chance  in_last_set  played
    0        2    A    0.60         True   False
    1        2    B    0.60         True    True
    2        2    C    0.08        False    True

    """
    return _told(plays, shows, songs, start, lambda: _Markov().chances)


ALL = {"carry-over": carry_over, "how often": base_rate, "how often lately": decayed_rate, "stay and return": markov}
"""The rules, by the name under which they are shown."""

Rule = Callable[[Ledger, NDArray[np.bool_]], Floats]


class _CarryOver:
    """Counts of staying and of coming in, over all songs."""

    def __init__(self) -> None:
        self.stays, self.comes = np.array([1.0, 2.0]), np.array([1.0, 10.0])

    def chances(self, ledger: Ledger, candidate: NDArray[np.bool_]) -> Floats:  # noqa: ARG002  # as all rules
        """Learn from the last set, then say."""
        if ledger.at >= 2:  # noqa: PLR2004  # there is a set before the last one
            known = ledger.history.candidate[ledger.at - 1]
            before, last = ledger.before_last, ledger.last
            self.stays += [(last & before).sum(), before.sum()]
            self.comes += [(last & ~before & known).sum(), (~before & known).sum()]
        return np.asarray(np.where(ledger.last, self.stays[0] / self.stays[1], self.comes[0] / self.comes[1]))


class _Markov:
    """The hazards of the pool, taken by themselves."""

    def __init__(self) -> None:
        self.hazards = Hazards()
        self.waiting: tuple[NDArray[np.int64], NDArray[np.int64]] | None = None

    def chances(self, ledger: Ledger, candidate: NDArray[np.bool_]) -> Floats:
        """Learn from the last set, then say."""
        if self.waiting is not None:
            songs, cells = self.waiting
            self.hazards.learn(cells, ledger.last[songs].astype(float))
        songs = np.flatnonzero(candidate)
        cells = self.hazards.cells(ledger, songs)
        self.waiting = songs, cells
        chances = np.zeros(len(candidate))
        chances[songs] = expit(self.hazards.logits(cells))
        return chances


def _told(
    plays: pd.DataFrame, shows: pd.DataFrame, songs: pd.DataFrame, start: int, rule: Callable[[], Rule]
) -> pd.DataFrame:
    """Walk through the tour with one rule."""
    first = watched(start)
    return forecasts(read(plays, shows, songs), first, rule())


def forecasts(history: History, start: int, rule: Rule) -> pd.DataFrame:
    """Let a rule say its chances before each show."""
    ledger = Ledger(history)
    told = []
    for t in range(len(history.shows)):
        candidate = history.candidate[t]
        chances = rule(ledger, candidate) if t else None
        if chances is not None and t >= start:
            told.append((t, np.flatnonzero(candidate), chances[candidate], ledger.last[candidate]))
        ledger.learn()
    return as_table(history, told)


def as_table(history: History, told: list[tuple[int, NDArray[np.int64], Floats, NDArray[np.bool_]]]) -> pd.DataFrame:
    """One row per show and candidate, songs in the order of the repertoire."""
    columns: dict[str, object] = {"show_id": [], "song": [], "chance": [], "in_last_set": [], "played": []}
    if told:
        columns = {
            "show_id": np.repeat(np.array([history.shows[t] for t, *_ in told]), [len(s) for _, s, *_ in told]),
            "song": np.concatenate([history.songs[s] for _, s, *_ in told]),
            "chance": np.concatenate([c for *_, c, _ in told]),
            "in_last_set": np.concatenate([last for *_, last in told]),
            "played": np.concatenate([history.played[t, s] for t, s, *_ in told]),
        }
    return pd.DataFrame(columns)
