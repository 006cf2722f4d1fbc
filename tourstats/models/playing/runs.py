"""What a run takes away: one quantity, which the plan, the forecast, the pages of songs and the effects share.

For each way it begins as a stated assumption and is learned from reviewed performances: the same song with and without
a run of that way on the day of the show or in the seven days before. Assumption and diary are weighed by how sure each
is, as normal distributions of the logarithm of the ratio of mistakes.

What remains of selection: songs are held against themselves, layoffs and what was found the last time are held still.
A player who feels that a song has got worse, without a finding to show for it, and runs it for that reason, makes runs
look less useful than they are.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

from tourstats.models.estimates import PRIOR_RUNS, t_reach
from tourstats.models.playing import within
from tourstats.models.playing.design import Design
from tourstats.models.playing.performances import BEST_FIRST, ON_THE_DAY, RUN

Array = npt.NDArray[np.float64]

FRESH = (-0.1, 0.15)
"""Logarithm of the ratio of mistakes with a run on the day itself against one earlier in the week, and how far it may
be off: what a run took away fades. Common practice, no source."""


@dataclass(frozen=True)
class Known:
    """What is known of runs: means and covariance of `names` (four ways, then a run on the day), in logarithms.

    `told` are names that the diary has a say in; `df` their degrees of freedom; `error` their standard errors by the
    diary alone.
    """

    mean: Array
    covariance: Array
    told: tuple[str, ...]
    df: Mapping[str, float]
    error: Mapping[str, float]

    @property
    def names(self) -> tuple[str, ...]:
        """Names of the effects, as in `effects`."""
        return NAMES

    def of(self, name: str) -> tuple[float, float]:
        """Mean and standard error of one."""
        at = NAMES.index(name)
        return float(self.mean[at]), float(np.sqrt(self.covariance[at, at]))

    def takes(self, way: str) -> float:
        """Share of a song's mistakes that a run of a way on the day takes away; none where it seems to bring some.

        Examples
        --------
        >>> round(assumed().takes("kit"), 2)
        0.33

        """
        return float(-np.expm1(min(self.of(RUN + way)[0], 0.0)))


NAMES = (*(RUN + way for way in BEST_FIRST), ON_THE_DAY)


def assumed() -> Known:
    """What is assumed before anything is known.

    Examples
    --------
    >>> assumed().mean.tolist()
    [-0.4, -0.35, -0.2, -0.1, -0.1]

    """
    middle, spread = np.array([*(PRIOR_RUNS[way] for way in BEST_FIRST), FRESH]).T
    return Known(middle, np.diag(spread**2), (), {}, {})


def learned(design: Design, fit: within.Fit) -> Known:
    """The assumption, and what a fit of the diary says, each weighed by how sure it is."""
    before = assumed()
    told = tuple(name for name in NAMES if name in design.told)
    if not told:
        return before
    of_fit, own = [design.names.index(name) for name in told], [NAMES.index(name) for name in told]
    seen = fit.covariance[np.ix_(of_fit, of_fit)]
    precision = np.linalg.inv(before.covariance)
    said = np.zeros_like(precision)
    said[np.ix_(own, own)] = np.linalg.inv(seen)
    covariance = np.linalg.inv(precision + said)
    pull = precision @ before.mean
    pull[own] += np.linalg.inv(seen) @ fit.coefficients[of_fit]
    return Known(
        covariance @ pull,
        covariance,
        told,
        dict(zip(told, fit.df[of_fit], strict=True)),
        dict(zip(told, fit.errors[of_fit], strict=True)),
    )


def as_table(known: Known, table: pd.DataFrame) -> pd.DataFrame:
    """What is known of each way, as `what_runs_take` gives it; `table` as `performances`."""
    rows = []
    for way in BEST_FIRST:
        name = RUN + way
        middle, error = known.of(name)
        reach = float(t_reach(known.df.get(name, np.inf))) * error
        reviewed = int((table.ran == way).sum())
        spread = PRIOR_RUNS[way][1]
        # The diary's variance falls as the performances with a run grow; where nothing is told, those it takes to ask.
        needs = reviewed * (known.error[name] / spread) ** 2 if name in known.told else float("nan")
        rows.append((way, middle, middle - reach, middle + reach, name in known.told, reviewed, needs))
    frame = pd.DataFrame(rows, columns=["way", "log_ratio", "low", "high", "told", "reviewed", "needs"])
    shares = {name: -np.expm1(frame[of]) for name, of in _SHARES.items()}
    basis = np.where(~frame.told, "assumed", np.where(frame.reviewed < frame.needs, "mostly assumed", "the diary"))
    frame = frame.assign(**shares, basis=pd.Series(basis, dtype="str"))
    return frame[["way", "log_ratio", "low", "high", *_SHARES, "basis", "reviewed", "needs"]]


_SHARES = {"takes": "log_ratio", "takes_low": "high", "takes_high": "low"}
