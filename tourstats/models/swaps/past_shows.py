"""How good the forecasts of this tour have been: each show forecast from the shows before it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from tourstats.models.estimates import one_thread
from tourstats.models.swaps.forecasting import interval
from tourstats.models.swaps.history import read
from tourstats.models.swaps.known_set import watched
from tourstats.models.swaps.pool import MEMBERS, Step, learned
from tourstats.models.swaps.rules import as_table
from tourstats.tables import finished


@dataclass(frozen=True)
class Record:
    """Forecasts of past shows beside what was played.

    Attributes
    ----------
    songs
        One row per show and candidate: show_id, song, chance, in_last_set, played, low, high (80 % interval of the
        leader's chance).
    counts
        One row per show: show_id, came (songs that came in), expected, low, high (80 % interval), fewer (chance of
        fewer than came), same (chance of just so many).
    weights
        One row per show and way of telling: show_id, member, weight.
    returns
        One row per song that came back: show_id, song, out (shows it sat out), low, high (the range said the night
        before).

    """

    songs: pd.DataFrame
    counts: pd.DataFrame
    weights: pd.DataFrame
    returns: pd.DataFrame


@finished
@one_thread
def backtest(plays: pd.DataFrame, shows: pd.DataFrame, songs: pd.DataFrame, start: int = 8) -> pd.DataFrame:
    """Forecasts of past shows, each made from the shows before it.

    Nothing of a show, or of one after it, goes into its forecast; so a song that is retired today counts as one of the
    repertoire at all shows, and a song that is in no list counts from the show after its first.

    Parameters
    ----------
    plays, shows, songs
        As in the diary.
    start
        How many shows to watch before the first forecast; at least one.

    Returns
    -------
    DataFrame
        One row per show and candidate, shows in order, songs in the order of the repertoire.

        =============  =====  ==================================================
        show_id               the show
        song           str    title
        chance         float  chance said before the show
        in_last_set    bool   whether it was in the set before
        played         bool   whether it was played
        =============  =====  ==================================================

    Raises
    ------
    Problem
        If `start` is not a whole number of at least 1.

    Examples
    --------
    >>> plays = pd.DataFrame({"show_id": [1, 1, 2, 2], "position": [1, 2, 1, 2], "song": ["A", "B", "A", "C"]})
    >>> shows = pd.DataFrame({"show_id": [1, 2], "date": ["2031-03-04", "2031-03-05"]})
    >>> backtest(plays, shows, pd.DataFrame({"song": ["A", "B", "C"]}), start=1).round(2)
       show_id song  chance  in_last_set  played
    0        2    A    0.87         True    True
    1        2    B    0.87         True   False
    2        2    C    0.29        False    True

    """
    return track_record(plays, shows, songs, start).songs[["show_id", "song", "chance", "in_last_set", "played"]]


@finished
@one_thread
def track_record(plays: pd.DataFrame, shows: pd.DataFrame, songs: pd.DataFrame, start: int = 8) -> Record:
    """As `backtest`, with numbers of swaps, intervals, and ranges; parameters as there.

    Returns
    -------
    Record

    Examples
    --------
    >>> shows = pd.DataFrame({"show_id": [1, 2], "date": ["2031-03-04", "2031-03-05"]})
    >>> plays = pd.DataFrame({"show_id": [1, 1, 2, 2], "position": [1, 2, 1, 2], "song": ["A", "B", "B", "C"]})
    >>> record = track_record(plays, shows, pd.DataFrame({"song": ["A", "B", "C"]}), start=1)
    >>> record.counts[["show_id", "came"]]
       show_id  came
    0        2     1

    """
    first = watched(start)
    history = read(plays, shows, songs)
    told, counts, weights, returns = [], [], [], []
    low, high = [], []
    for step in learned(history).steps if len(history.shows) else ():
        if step.at < first:
            continue
        order = np.argsort(step.rows.songs, kind="stable")
        bounds = interval(step.chances, step.spread)
        low.append(bounds[0][order])
        high.append(bounds[1][order])
        told.append((step.at, step.rows.songs[order], step.chances[order], step.rows.stays[order]))
        counts.append((history.shows[step.at], *_counted(step)))
        weights += [(history.shows[step.at], name, w) for name, w in zip(MEMBERS, step.weights, strict=True)]
        returns += [(history.shows[step.at], *one) for one in _returned(step)]
    table = as_table(history, told)
    table["low"] = np.concatenate(low) if low else []
    table["high"] = np.concatenate(high) if high else []
    return Record(
        songs=table,
        counts=pd.DataFrame(counts, columns=["show_id", "came", "expected", "low", "high", "fewer", "same"]),
        weights=pd.DataFrame(weights, columns=["show_id", "member", "weight"]),
        returns=pd.DataFrame(returns, columns=["show_id", "song", "out", "low", "high"]),
    )


def _counted(step: Step) -> tuple[int, float, int, int, float, float]:
    """How many songs came in, and how many were expected."""
    rows = step.rows
    came = int(step.ledger.history.played[step.at, rows.songs[rows.staying :]].sum())
    chance = step.counts.out_in.sum(axis=0)
    low, high = middle(chance)
    fewer, same = float(chance[:came].sum()), float(chance[came]) if came < len(chance) else 0.0
    return came, float(chance @ np.arange(len(chance))), low, high, fewer, same


def middle(chance: np.ndarray, share: float = 0.8) -> tuple[int, int]:
    """Smallest and largest number of an interval that holds at least this share, with as much left out on either side.

    Examples
    --------
    >>> middle(np.array([0.05, 0.25, 0.4, 0.25, 0.05]))
    (1, 3)

    """
    below = np.cumsum(chance) / np.sum(chance)
    edge = (1 - share) / 2
    return int(np.searchsorted(below, edge, side="right")), int(np.searchsorted(below, 1 - edge - 1e-12))


def _returned(step: Step) -> list[tuple[object, int, int, int]]:
    """Songs that come back at this show, and the range that was said for each."""
    ledger, history = step.ledger, step.ledger.history
    back = np.flatnonzero(history.played[step.at] & ~ledger.last & ledger.ever)
    low, high = ledger.return_range()
    return [(history.songs[k], int(ledger.out[k]), int(low[k]), int(high[k])) for k in back.tolist()]
