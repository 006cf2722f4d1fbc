"""Listening again: whoever reviews themself gets stricter or milder, and a trend may be that and nothing else."""

from __future__ import annotations

import warnings
from collections.abc import Callable
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from tourstats.models.estimates import t_reach
from tourstats.models.playing.performances import circumstances, counts
from tourstats.problems import TooFewProblem
from tourstats.tables import checked, in_sets
from tourstats.tour import Tour

Array = npt.NDArray[Any]

THIRDS = 3
MOST = 3
"""Mistakes of one play from which on they are taken as alike when two listenings are compared."""
FEWEST_PAIRS = 10
FEWEST_FOUND = 10
RESAMPLED = 1000
NEAR_S = 5.0
"""Seconds into the recording within which two findings are one. Our own choice, as the next."""
FARTHEST_RATIO = 10.0
"""An interval that reaches beyond this factor, either way, says nothing that helps."""


def sample_again(tour: Tour, size: int = 18) -> pd.DataFrame:
    """Pick old recordings to review again, without telling what was found in them.

    Parameters
    ----------
    tour
        What is known.
    size
        How many songs to listen to.

    Returns
    -------
    DataFrame
        show_id, song, position, in random order: as many from the first, middle and last third of the tour, half of
        each from songs in which something was found (so that there is something to agree on). Songs that were
        listened to again are left out. Which is which is not told. The same songs as long as no review is added.

    """
    first = counts(tour.reviews, tour.mistakes)
    again = counts(tour.reviews, tour.mistakes, listening=2)[["show_id", "song"]]
    rows = circumstances(tour.plays, tour.shows, tour.rehearsals)[["show_id", "song", "at", "position"]].merge(
        first, on=["show_id", "song"]
    )
    done = pd.MultiIndex.from_frame(rows[["show_id", "song"]]).isin(pd.MultiIndex.from_frame(again))
    rows = rows[~done].sort_values(["at", "position"], kind="stable", ignore_index=True)
    nights = rows["at"].unique()
    third = np.minimum(np.searchsorted(nights, rows["at"]) * THIRDS // max(len(nights), 1), THIRDS - 1)
    random = np.random.default_rng(1)
    lot = random.permutation(len(rows))
    group = third * 2 + (rows.mistakes.to_numpy() > 0)
    turn = pd.Series(lot).groupby(group).rank(method="first").to_numpy()
    chosen = rows.iloc[np.lexsort((lot, turn))[:size]]
    chosen = chosen.iloc[random.permutation(len(chosen))]
    where = tour.plays.drop_duplicates(["show_id", "song"])[["show_id", "song", "position"]]
    return chosen[["show_id", "song"]].merge(where, on=["show_id", "song"]).reset_index(drop=True)


def pairs(reviews: pd.DataFrame, mistakes: pd.DataFrame) -> pd.DataFrame:
    """Mistakes found the first time and listening again, a row a play heard twice: show_id, song, first, again."""
    first, again = counts(reviews, mistakes), counts(reviews, mistakes, listening=2)
    both = first.merge(again, on=["show_id", "song"], suffixes=("_first", "_again"))
    return both.set_axis(["show_id", "song", "first", "again"], axis=1)


def matched(reviews: pd.DataFrame, mistakes: pd.DataFrame) -> pd.DataFrame:
    """Findings of two listenings to the same performance, matched: two ears on the same mistakes.

    Returns
    -------
    DataFrame
        A row a performance heard twice: show_id, song, first (found the first time), again (found listening again) and
        both (of them found both times). Two findings are one where they lie within five seconds of the recording;
        where a time is missing, in the same section and the same bar; where a bar is missing too, in the same section;
        where a section is missing, anywhere. As many are matched as can be, the nearest kept together.

    Examples
    --------
    >>> reviews = pd.DataFrame({"show_id": 1, "song": "Ferry", "listening": [1, 2]})
    >>> found = pd.DataFrame({"show_id": 1, "song": "Ferry", "listening": [1, 1, 2, 2], "bar": [4, 9, 9, 30]})
    >>> matched(reviews, found.assign(section="bridge", severity=1))[["first", "again", "both"]]
       first  again  both
    0      2      2     1

    """
    both = pairs(reviews, mistakes)
    found = checked(mistakes, "mistakes")
    found = found[found.listening.isin([1, 2])]
    of = dict(list(found.groupby(["show_id", "song"], sort=False)))
    none = found.head(0)
    keys = zip(both.show_id, both.song, strict=True)
    return both.assign(both=[_in_both(of.get(key, none)) for key in keys])


def _in_both(found: pd.DataFrame) -> int:
    """How many findings of one performance were found both times."""
    from scipy.optimize import linear_sum_assignment  # noqa: PLC0415  # late: the start-up path imports this package

    first, again = (found[found.listening == listening] for listening in (1, 2))
    if not len(first) or not len(again):
        return 0
    near = np.array([[_alike(one, other) for other in again.itertuples()] for one in first.itertuples()])
    return int((near[linear_sum_assignment(-near)] > 0).sum())


def _alike(one: Any, other: Any) -> int:  # noqa: ANN401  # rows of a table
    """How surely two findings are one: by the time, the bar, the section, or because nothing speaks against it."""
    if pd.notna(one.at_s) and pd.notna(other.at_s):
        return SURE[0] * bool(abs(one.at_s - other.at_s) <= NEAR_S)
    if pd.isna(one.section) or pd.isna(other.section):
        return SURE[3]
    if one.section != other.section:
        return 0
    if pd.isna(one.bar) or pd.isna(other.bar):
        return SURE[2]
    return SURE[1] * bool(one.bar == other.bar)


SURE = (103, 102, 101, 100)
"""Worth of a match by time, bar, section, or none of them: more matches before surer ones."""


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
    measures: dict[str, Callable[[Array], float]] = {"weighted kappa": weighted_kappa, "ICC(2,1)": icc}
    for measure, of in measures.items():
        random = np.random.default_rng(1)
        drawn = [of(scores[random.integers(len(scores), size=len(scores))]) for _ in range(RESAMPLED)]
        low, high = np.nanquantile(drawn, [0.025, 0.975])
        rows.append({"measure": measure, "value": of(scores), "low": low, "high": high, "plays": len(scores)})
    return pd.DataFrame(rows)


def weighted_kappa(scores: Array) -> float:
    """Agreement of two columns of counts beyond chance, with squared weights (Cohen 1968; statsmodels' `cohens_kappa`).

    Parameters
    ----------
    scores
        A row a subject, a column a listening; counts above `MOST` are taken as it.

    Examples
    --------
    >>> round(weighted_kappa(np.array([[0, 0], [1, 1], [2, 1], [0, 1]])), 3)
    0.429

    """
    from statsmodels.stats.inter_rater import cohens_kappa  # noqa: PLC0415  # late: it takes a second to load

    first, again = np.minimum(scores, MOST).astype(int).T
    counts = np.zeros((1 + max(first.max(), again.max()),) * 2)
    np.add.at(counts, (first, again), 1)
    # Where every count is the same there is nothing to agree on by chance, and they agree.
    return float(cohens_kappa(counts, wt="quadratic", return_results=False)) if np.ptp([first, again]) else 1.0


def icc(scores: Array) -> float:
    """ICC(2,1) of Shrout and Fleiss (1979) of a table of scores: a row a target, a column a judge."""
    targets, judges = scores.shape
    of_targets, of_judges = (scores.mean(axis=axis) - scores.mean() for axis in (1, 0))
    between, judging = judges * (of_targets**2).sum() / (targets - 1), targets * (of_judges**2).sum() / (judges - 1)
    left = ((scores - scores.mean() - of_targets[:, None] - of_judges) ** 2).sum() / ((targets - 1) * (judges - 1))
    with np.errstate(divide="ignore", invalid="ignore"):
        whole = between + (judges - 1) * left + judges * (judging - left) / targets
        return float(np.divide(between - left, whole))


def strictness(tour: Tour) -> pd.DataFrame:
    """How strict the first reviews were against listening again now, and whether that drifted.

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
    A logistic regression, on the date, of which listening a finding belongs to (statsmodels), its errors by what is
    left over at each show (K.-Y. Liang and S. L. Zeger (1986), Longitudinal data analysis using generalized linear
    models, Biometrika 73: 13-22). What both listenings found cancels out of
    the errors, as it does when pairs are compared: two ears on the same mistakes are not two samples. Errors are
    at least what one finding of each listening alone would make them: an ear is not known exactly because ten songs
    agreed.

    Examples
    --------
    Ten songs, two mistakes in each; both listenings found the same. The ear did not change: the
    drift is known to a fifth.

    >>> shows = pd.DataFrame({"show_id": range(10), "date": pd.date_range("2031-03-04", periods=10)})
    >>> plays = pd.DataFrame({"show_id": range(10), "position": 1, "song": "Ferry"})
    >>> heard = pd.concat([plays.assign(listening=nth) for nth in (1, 2)])
    >>> twice = pd.concat([heard, heard]).assign(severity=1)
    >>> table = strictness(Tour.of(plays=plays, shows=shows, reviews=heard, mistakes=twice))
    >>> table[["what", "se", "found"]].round(2)
        what    se  found
    0  level  0.07     40
    1  drift  0.20     40

    """
    both = pairs(tour.reviews, tour.mistakes)
    if len(both) < FEWEST_PAIRS:
        raise TooFewProblem.of("songs listened to again", len(both), FEWEST_PAIRS)
    total = int(both[["first", "again"]].to_numpy().sum())
    if total < FEWEST_FOUND:
        raise TooFewProblem.of("mistakes in songs listened to again", total, FEWEST_FOUND)
    played = in_sets(tour.plays, tour.shows)[1]
    when = both.show_id.map(played.set_index("show_id")["at"]).to_numpy(float) / max(len(played) - 1, 1)
    beta, se, nights = _of_pairs(when - 0.5, both)
    reach = t_reach(max(nights - 2, 1)) * se
    return pd.DataFrame(
        {
            "what": ["level", "drift"],
            "log_ratio": beta,
            "se": se,
            "low": beta - reach,
            "high": beta + reach,
            "plays": len(both),
            "found": total,
        }
    )


def tells(table: pd.DataFrame) -> bool:
    """Whether the drift of an ear is known to a factor of ten: beyond it too little was listened to again.

    Examples
    --------
    >>> tells(pd.DataFrame({"what": ["drift"], "low": [-0.5], "high": [2.5]}))
    False

    """
    drift = table[table.what == "drift"]
    return bool(len(drift) and drift[["low", "high"]].abs().to_numpy().max() <= np.log(FARTHEST_RATIO))


def without_drift(effect: pd.DataFrame, drift: pd.DataFrame) -> pd.DataFrame:
    """The effect of the date with and without the drift of strictness.

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
    reach = max(float(t_reach(int(seen.df))), (ear.high - ear.log_ratio) / ear.se) * se
    rows = [
        ("as reviewed", seen.log_ratio, seen.se, seen.low, seen.high),
        ("with one ear", middle, se, middle - reach, middle + reach),
    ]
    return pd.DataFrame(rows, columns=columns)


def _of_pairs(when: Array, both: pd.DataFrame) -> tuple[Array, Array, int]:
    """Level and drift of the share found the first time, their errors, and the shows that say something."""
    from statsmodels.genmod.families import Binomial  # noqa: PLC0415  # late: it takes a second to load
    from statsmodels.genmod.generalized_linear_model import GLM  # noqa: PLC0415  # as above
    from statsmodels.tools.sm_exceptions import PerfectSeparationWarning  # noqa: PLC0415  # as above

    first, again = both[["first", "again"]].to_numpy(float).T
    telling, night = first + again > 0, pd.factorize(both.show_id)[0]
    # Half a finding of each listening at either end keeps the fit finite, and takes no side.
    counted = np.vstack([np.column_stack([first, again])[telling], np.full((2, 2), 0.5)])
    date, group = np.r_[when[telling], -0.5, 0.5], np.r_[night[telling], night.max() + 1 + np.arange(2)]
    model = GLM(counted, np.column_stack([np.ones(len(date)), date]), family=Binomial())
    with warnings.catch_warnings():  # two equal listenings fit exactly, and nothing is separated
        warnings.simplefilter("ignore", PerfectSeparationWarning)
        fit = model.fit(cov_type="cluster", cov_kwds={"groups": group})
    least = 2 / counted.sum() * np.diag(fit.normalized_cov_params)
    return np.asarray(fit.params), np.sqrt(np.maximum(fit.bse**2, least)), len(np.unique(night[telling]))
