"""Listening again: whoever reviews themself gets stricter or milder, and a trend may be that and nothing else."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from tourstats.models.playing.performances import circumstances, counts
from tourstats.problems import TooFewProblem
from tourstats.tables import checked, in_sets

Array = npt.NDArray[Any]

THIRDS = 3
MOST = 3
"""Mistakes of one play from which on they are taken as alike when two listenings are compared."""
FEWEST_PAIRS = 10
FEWEST_FOUND = 10
RESAMPLED = 1000


def sample_again(
    plays: pd.DataFrame,
    shows: pd.DataFrame,
    reviews: pd.DataFrame,
    mistakes: pd.DataFrame,
    size: int = 18,
    seed: int = 1,
) -> pd.DataFrame:
    """Pick old recordings to review again, without telling what was found in them.

    Parameters
    ----------
    plays, shows, reviews, mistakes
        As in `tourstats.tables`.
    size
        How many songs to listen to.
    seed
        The same seed picks the same songs, as long as no review is added.

    Returns
    -------
    DataFrame
        show_id, song, position, in random order: as many from the first, middle and last third of the tour, half of
        each from songs in which something was found (so that there is something to agree on). Songs that were
        listened to again are left out. Which is which is not told.

    """
    first = counts(reviews, mistakes)
    again = counts(reviews, mistakes, listening=2)[["show_id", "song"]]
    rows = circumstances(plays, shows)[["show_id", "song", "at", "position"]].merge(first, on=["show_id", "song"])
    done = pd.MultiIndex.from_frame(rows[["show_id", "song"]]).isin(pd.MultiIndex.from_frame(again))
    rows = rows[~done].sort_values(["at", "position"], kind="stable", ignore_index=True)
    nights = rows["at"].unique()
    third = np.minimum(np.searchsorted(nights, rows["at"]) * THIRDS // max(len(nights), 1), THIRDS - 1)
    random = np.random.default_rng(seed)
    lot = random.permutation(len(rows))
    group = third * 2 + (rows.mistakes.to_numpy() > 0)
    turn = pd.Series(lot).groupby(group).rank(method="first").to_numpy()
    chosen = rows.iloc[np.lexsort((lot, turn))[:size]]
    chosen = chosen.iloc[random.permutation(len(chosen))]
    where = checked(plays, "plays").drop_duplicates(["show_id", "song"])[["show_id", "song", "position"]]
    return chosen[["show_id", "song"]].merge(where, on=["show_id", "song"]).reset_index(drop=True)


def pairs(reviews: pd.DataFrame, mistakes: pd.DataFrame) -> pd.DataFrame:
    """Mistakes found the first time and listening again, a row a play heard twice: show_id, song, first, again."""
    first, again = counts(reviews, mistakes), counts(reviews, mistakes, listening=2)
    both = first.merge(again, on=["show_id", "song"], suffixes=("_first", "_again"))
    return both.set_axis(["show_id", "song", "first", "again"], axis=1)


def agreement(reviews: pd.DataFrame, mistakes: pd.DataFrame) -> pd.DataFrame:
    """How far two listenings agree.

    Returns
    -------
    DataFrame
        A row a measure.
            measure    str    "weighted kappa" (0, 1, 2, 3 or more mistakes; squared weights) and "ICC(2,1)"
            value      float  1 is full agreement, 0 what chance would give
            low, high  float  95 % interval over resampled plays
            plays      int    heard twice

    Raises
    ------
    TooFewProblem
        With fewer than ten plays heard twice.

    Notes
    -----
    J. Cohen (1968), Weighted kappa, Psychol. Bull. 70: 213-220; P. E. Shrout and J. L. Fleiss (1979), Intraclass
    correlations, Psychol. Bull. 86: 420-428. Interval: percentiles of a seeded bootstrap.

    """
    both = pairs(reviews, mistakes)
    if len(both) < FEWEST_PAIRS:
        raise TooFewProblem.of("songs listened to again", len(both), FEWEST_PAIRS)
    scores = both[["first", "again"]].to_numpy(float)
    rows = []
    measures: dict[str, Callable[[Array], float]] = {"weighted kappa": weighted_kappa, "ICC(2,1)": _icc}
    for measure, of in measures.items():
        random = np.random.default_rng(1)
        drawn = [of(scores[random.integers(len(scores), size=len(scores))]) for _ in range(RESAMPLED)]
        low, high = np.nanquantile(drawn, [0.025, 0.975])
        rows.append({"measure": measure, "value": of(scores), "low": low, "high": high, "plays": len(scores)})
    return pd.DataFrame(rows)


def weighted_kappa(scores: Array, most: int | None = MOST) -> float:
    """Agreement of two columns of counts beyond chance, with squared weights.

    Parameters
    ----------
    scores
        A row a subject, a column a listening.
    most
        Counts above it are taken as it.

    Examples
    --------
    >>> round(weighted_kappa(np.array([[0, 0], [1, 1], [2, 1], [0, 1]])), 3)
    0.429

    """
    first, again = (np.minimum(scores, most) if most is not None else scores).T
    seen = ((first - again) ** 2).mean()
    chance = ((first[:, None] - again[None, :]) ** 2).mean()
    return float(1 - seen / chance) if chance else 1.0


def icc(scores: Array) -> dict[str, float]:
    """Intraclass correlations of a table of scores: a row a target, a column a judge.

    Returns
    -------
    dict
        The six of Shrout and Fleiss (1979), by their names: "ICC(1,1)" to "ICC(3,k)".

    """
    targets, judges = scores.shape
    mean = scores.mean()
    between = judges * ((scores.mean(axis=1) - mean) ** 2).sum() / (targets - 1)
    of_judges = targets * ((scores.mean(axis=0) - mean) ** 2).sum()
    within = ((scores - scores.mean(axis=1, keepdims=True)) ** 2).sum()
    error = (within - of_judges) / ((targets - 1) * (judges - 1))
    of_judges, within = of_judges / (judges - 1), within / (targets * (judges - 1))
    second = judges * (of_judges - error) / targets
    with np.errstate(divide="ignore", invalid="ignore"):
        values = np.divide(
            [between - within, between - error, between - error] * 2,
            [
                *(between + (judges - 1) * within, between + (judges - 1) * error + second),
                *(between + (judges - 1) * error, between, between + second / judges, between),
            ],
        )
    names = ["ICC(1,1)", "ICC(2,1)", "ICC(3,1)", "ICC(1,k)", "ICC(2,k)", "ICC(3,k)"]
    return dict(zip(names, values.tolist(), strict=True))


def _icc(scores: Array) -> float:
    return icc(scores)["ICC(2,1)"]


def strictness(plays: pd.DataFrame, shows: pd.DataFrame, reviews: pd.DataFrame, mistakes: pd.DataFrame) -> pd.DataFrame:
    """How strict the first reviews were against listening again now, and whether that drifted.

    Parameters
    ----------
    plays, shows, reviews, mistakes
        As in `tourstats.tables`.

    Returns
    -------
    DataFrame
        Two rows, logarithms of ratios with their intervals.
            what              str    "level": found the first time against found again, mid-tour;
                                     "drift": change of that from the first show to the last (over 0: stricter)
            log_ratio, se, low, high
            plays, found      int    heard twice, and mistakes in both listenings together

    Raises
    ------
    TooFewProblem
        With fewer than ten plays heard twice, or ten mistakes in them.

    Notes
    -----
    Given all that was found in a play, the share found the first time is binomial, whatever the song and the night were
    like: a logistic regression of that share on the date, its variance stretched by what is left over.

    """
    both = pairs(reviews, mistakes)
    if len(both) < FEWEST_PAIRS:
        raise TooFewProblem.of("songs listened to again", len(both), FEWEST_PAIRS)
    played = in_sets(plays, shows)[1]
    when = both.show_id.map(played.set_index("show_id")["at"]) / max(len(played) - 1, 1)
    first, total = both["first"].to_numpy(float), both[["first", "again"]].sum(axis=1).to_numpy(float)
    if total.sum() < FEWEST_FOUND:
        raise TooFewProblem.of("mistakes in songs listened to again", int(total.sum()), FEWEST_FOUND)
    design = np.column_stack([np.ones(len(both)), when - 0.5])
    beta, covariance = _binomial(design, first, total)
    se = np.sqrt(np.diag(covariance))
    reach = _t(max(int((total > 0).sum()) - 2, 1)) * se
    return pd.DataFrame(
        {
            "what": ["level", "drift"],
            "log_ratio": beta,
            "se": se,
            "low": beta - reach,
            "high": beta + reach,
            "plays": len(both),
            "found": int(total.sum()),
        }
    )


def without_drift(effect: pd.DataFrame, drift: pd.DataFrame) -> pd.DataFrame:
    """The effect of the date with and without the drift of strictness.

    Parameters
    ----------
    effect, drift
        As `effects` and `strictness` give them.

    Returns
    -------
    DataFrame
        Rows "as reviewed" and "with one ear": trend, log_ratio, se, low, high from the first show to the last. No rows
        while the reviews do not carry the date.

    """
    columns = ["trend", "log_ratio", "se", "low", "high"]
    trend = effect[effect.effect == "date"]
    if not len(trend):
        return pd.DataFrame(columns=columns)
    seen = trend.iloc[0]
    ear = drift[drift.what == "drift"].iloc[0]
    middle, se = seen.log_ratio - ear.log_ratio, float(np.hypot(seen.se, ear.se))
    reach = max(_t(int(seen.df)), (ear.high - ear.log_ratio) / ear.se) * se
    rows = [
        ("as reviewed", seen.log_ratio, seen.se, seen.low, seen.high),
        ("with one ear", middle, se, middle - reach, middle + reach),
    ]
    return pd.DataFrame(rows, columns=columns)


def _binomial(design: Array, first: Array, total: Array) -> tuple[Array, Array]:
    """Logistic regression by Newton steps, a weak pull towards 0, covariance stretched by what is left over."""
    beta, pull = np.zeros(design.shape[1]), np.eye(design.shape[1]) / 9
    for _ in range(50):
        share = 1 / (1 + np.exp(-np.clip(design @ beta, -30, 30)))
        information = (design * (total * share * (1 - share))[:, None]).T @ design + pull
        step = np.linalg.solve(information, design.T @ (first - total * share) - pull @ beta)
        beta = beta + step / max(1.0, float(np.abs(step).max()))
        if np.abs(step).max() < 1e-9:  # noqa: PLR2004  # as exact as it gets
            break
    used = total > 0
    left = ((first - total * share)[used] ** 2 / (total * share * (1 - share))[used]).sum()
    stretch = max(1.0, float(left) / max(int(used.sum()) - design.shape[1], 1))
    return beta, np.linalg.inv(information) * stretch


def _t(free: int) -> float:
    from scipy.special import stdtrit  # noqa: PLC0415  # late: the start-up path imports this package

    return float(stdtrit(free, 0.975))
