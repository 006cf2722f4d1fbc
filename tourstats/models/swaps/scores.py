"""How good chances were: scores, recall of the songs that came in, calibration; with intervals over shows."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray

from tourstats.models.swaps import ridge
from tourstats.models.swaps.draws import logit
from tourstats.tables import finished

Floats = NDArray[np.float64]

CUT = 5e-4
"""Chances are scored as if they were no nearer to 0 or 1 than this."""

_SEED = 2031
_DRAWS = 1000
_FEWEST = 5


def log_loss(chance: ArrayLike, played: ArrayLike) -> Floats:
    """Log loss of each forecast in nat: minus the log of the chance given to what happened.

    Examples
    --------
    >>> float(log_loss([0.9, 0.8, 0.7, 0.6, 0.3], [1, 1, 0, 1, 0]).mean().round(6))
    0.479995

    """
    p = np.clip(np.asarray(chance, float), CUT, 1 - CUT)
    return np.asarray(-np.where(np.asarray(played, bool), np.log(p), np.log1p(-p)))


def brier(chance: ArrayLike, played: ArrayLike) -> Floats:
    """Squared error of each forecast.

    Examples
    --------
    >>> float(brier([0.9, 0.8, 0.7, 0.6, 0.3], [1, 1, 0, 1, 0]).mean().round(3))
    0.158

    """
    return np.asarray((np.asarray(chance, float) - np.asarray(played, float)) ** 2)


def slope(chance: ArrayLike, played: ArrayLike) -> float:
    """Slope of what happened on the log odds of the chance: 1 is calibrated, less is too bold, more too timid.

    Examples
    --------
    >>> round(slope([0.1, 0.1, 0.9, 0.9, 0.5], [0, 1, 1, 1, 0]), 2)
    0.53

    """
    odds = logit(np.clip(np.asarray(chance, float), CUT, 1 - CUT))
    happened = np.asarray(played, float)
    if len(odds) == 0 or happened.min() == happened.max() or odds.min() == odds.max():
        return float("nan")
    rows = np.column_stack([np.ones_like(odds), odds])
    fitted, _ = ridge.fit(rows, happened, np.ones_like(odds), np.full(2, 1e-8), np.array([0.0, 1.0]))
    return float(fitted[1])


def by_show(backtest: pd.DataFrame) -> pd.DataFrame:
    """Mean score of each show's forecasts.

    Returns
    -------
    DataFrame
        One row per show, in order: show_id, log_loss, brier, both means over its candidates.

    Examples
    --------
    >>> told = pd.DataFrame({"show_id": [9, 9, 9], "song": list("ABC"), "chance": [0.9, 0.4, 0.2]})
    >>> told = told.assign(in_last_set=[True, False, False], played=[True, True, False])
    >>> by_show(told).round(3)
       show_id  log_loss  brier
    0        9     0.415  0.137

    """
    scored = backtest.assign(
        log_loss=log_loss(backtest.chance, backtest.played), brier=brier(backtest.chance, backtest.played)
    )
    return scored.groupby("show_id", sort=False)[["log_loss", "brier"]].mean().reset_index()


@finished
def recall(backtest: pd.DataFrame, firsts: Sequence[int] = (5, 10, 20)) -> pd.DataFrame:
    """Of the songs that came in, how many were among the likeliest few outside the last set.

    Returns
    -------
    DataFrame
        One row per number of songs run: first, found, came, recall (found of came), low, high (95 % bootstrap interval
        over shows; missing with fewer than five shows). Songs of the same chance are put in order by a seeded draw.

    Examples
    --------
    >>> told = pd.DataFrame({"show_id": [9, 9, 9], "song": list("ABC"), "chance": [0.9, 0.4, 0.2]})
    >>> told = told.assign(in_last_set=[True, False, False], played=[True, True, False])
    >>> recall(told, [1])[["first", "found", "came", "recall"]]
       first  found  came  recall
    0      1      1     1     1.0

    """
    outside = backtest[~backtest.in_last_set.astype(bool)]
    tie = np.random.default_rng(_SEED).random(len(outside))
    outside = outside.assign(tie=tie).sort_values(["chance", "tie"], ascending=[False, True])
    rank = outside.groupby("show_id", sort=False).cumcount()
    came = outside.groupby("show_id", sort=True).played.sum()
    made = []
    for first in firsts:
        found = outside[rank < first].groupby("show_id", sort=True).played.sum().reindex(came.index, fill_value=0)
        low, high = _share_interval(found.to_numpy(float), came.to_numpy(float))
        made.append((first, int(found.sum()), int(came.sum()), _share(found.sum(), came.sum()), low, high))
    return pd.DataFrame(made, columns=["first", "found", "came", "recall", "low", "high"])


def _share(part: float, whole: float) -> float:
    return float(part / whole) if whole else float("nan")


def _share_interval(parts: Floats, wholes: Floats) -> tuple[float, float]:
    """Bootstrap interval of a share of sums, drawing shows."""
    if len(parts) < _FEWEST or not wholes.sum():
        return float("nan"), float("nan")
    drawn = np.random.default_rng(_SEED).integers(0, len(parts), (_DRAWS, len(parts)))
    low, high = np.quantile(parts[drawn].sum(axis=1) / np.maximum(wholes[drawn].sum(axis=1), 1), [0.025, 0.975])
    return float(low), float(high)


@finished
def compare(model: pd.DataFrame, rules: Mapping[str, pd.DataFrame]) -> pd.DataFrame:
    """The forecasts beside simple rules, on the same shows and songs.

    Returns
    -------
    DataFrame
        One row per way of telling, the forecast first: way, log_loss (mean over songs, then shows), slope, recall_10,
        worse (log loss more than the forecast's), low, high (95 % bootstrap interval of `worse` over shows).

    Examples
    --------
    >>> told = pd.DataFrame({"show_id": [9, 9, 9], "song": list("ABC"), "chance": [0.9, 0.4, 0.2]})
    >>> told = told.assign(in_last_set=[True, False, False], played=[True, True, False])
    >>> compare(told, {"even": told.assign(chance=0.5)})[["way", "log_loss", "worse"]].round(3)
                 way  log_loss  worse
    0  this forecast     0.415  0.000
    1           even     0.693  0.278

    """
    ours = by_show(model).log_loss.to_numpy()
    rows = []
    for way, table in {"this forecast": model, **rules}.items():
        loss = by_show(table).log_loss.to_numpy()
        worse = loss - ours
        low = high = float("nan")
        if len(worse) >= _FEWEST:
            drawn = np.random.default_rng(_SEED).integers(0, len(worse), (_DRAWS, len(worse)))
            low, high = np.quantile(worse[drawn].mean(axis=1), [0.025, 0.975])
        found = recall(table, [10]).recall.iloc[0]
        mean = float(loss.mean()) if len(loss) else float("nan")
        gap = float(worse.mean()) if len(worse) else float("nan")
        rows.append((way, mean, slope(table.chance, table.played), found, gap, float(low), float(high)))
    return pd.DataFrame(rows, columns=["way", "log_loss", "slope", "recall_10", "worse", "low", "high"])


def calibration(backtest: pd.DataFrame, fewest: int = 60, groups: int = 10) -> pd.DataFrame:
    """What was said beside what happened, in groups of songs with like chances.

    Returns
    -------
    DataFrame
        One row per group, from unlikely to likely: said (mean chance), happened (share played), low, high (95 %
        bootstrap interval over shows), songs (how many forecasts). Empty with too few forecasts for two groups.

    Examples
    --------
    >>> told = pd.DataFrame({"show_id": [1] * 5 + [2] * 5, "chance": [0.2] * 5 + [0.8] * 5})
    >>> told["played"] = [0, 1, 0, 0, 0, 1, 1, 1, 1, 0]
    >>> calibration(told, fewest=5)[["said", "happened", "songs"]].round(1)
       said  happened  songs
    0   0.5       0.5     10

    """
    number = min(groups, len(backtest) // max(fewest, 1))
    if number < 2:  # noqa: PLR2004  # one group says nothing
        return pd.DataFrame(columns=["said", "happened", "low", "high", "songs"], dtype=float)
    # Half the groups by number would all be unlikely songs: cut where the expected number of plays is alike.
    ordered = backtest.sort_values("chance", kind="stable")
    mass = np.sqrt(ordered.chance * (1 - ordered.chance)).cumsum().to_numpy()
    if not mass[-1]:  # every chance was sure
        return pd.DataFrame(columns=["said", "happened", "low", "high", "songs"], dtype=float)
    which = np.minimum((mass / mass[-1] * number).astype(int), number - 1)
    ordered = ordered.assign(group=_merged(which, fewest))
    made = []
    for _, group in ordered.groupby("group"):
        shows = group.groupby("show_id").played.agg(["sum", "size"])
        low, high = _share_interval(shows["sum"].to_numpy(float), shows["size"].to_numpy(float))
        made.append((group.chance.mean(), group.played.mean(), low, high, len(group)))
    return pd.DataFrame(made, columns=["said", "happened", "low", "high", "songs"])


def _merged(which: NDArray[np.int64], fewest: int) -> NDArray[np.int64]:
    """Join groups that are too small to the next one."""
    sizes = np.bincount(which)
    target, now, filled = np.zeros(len(sizes), dtype=np.int64), 0, 0
    for k, size in enumerate(sizes):
        target[k] = now
        filled += size
        if filled >= fewest:
            now, filled = now + 1, 0
    return np.minimum(target, max(now - 1, 0))[which]
