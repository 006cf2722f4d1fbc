"""The few formulas that several models share: intervals of counts, shrinkage, smoothing, scores of a forecast.

scipy is imported where it is used: reading this module costs nothing at four in the afternoon.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from functools import wraps
from typing import ParamSpec, TypeVar

import numpy as np
import numpy.typing as npt
from threadpoolctl import threadpool_limits

Array = npt.NDArray[np.float64]
Numbers = npt.ArrayLike

PRIOR_RATE = 0.3
"""Mistakes per performance before anything was reviewed. Common practice, no source."""
PRIOR_LAYOFF = 0.2
"""What a layoff does to mistakes where the reviews are too few to say, per unit of log(1 + shows missed): a factor of
1.6 after ten shows off. Common practice, no source; that skill fades with the time it is not used is the finding of
W. Arthur and others (1998), Factors that influence skill decay and retention, Human Performance 11: 57-101, whose
figures are for other tasks and are not used here."""

PRIOR_RUNS = {"kit": (-0.4, 0.5), "band": (-0.35, 0.5), "pad": (-0.2, 0.4), "listen": (-0.1, 0.4)}
"""What a run takes away until the diary knows better, by the way: logarithm of the ratio of mistakes with a run against
without one, and how far it may be off (standard deviation). At the kit a third less, between three quarters less and no
use at all. Common practice, no source."""
PRIOR_TRANSITION = (0.1, 0.2)
"""The same for a transition never played: a tenth more. Common practice, no source."""

HARD_PART = 0.7
"""Share of a song's mistakes that lie in its hard section, where nothing is known. Common practice, no source."""

LIKE_ONE = 1e6
"""Shape at which units are taken as alike: the data give no sign that they differ more than chance makes them."""
SURELY = 600.0
"""A logarithm beyond that of every rate."""
WIDEST = 4.0
"""Largest coefficient of variation between units that an interval reckons with."""
LEAST_LIKELY = 8.0
"""Log likelihood below the best at which a spread between units no longer counts."""


Given = ParamSpec("Given")
Result = TypeVar("Result")


def one_thread(function: Callable[Given, Result]) -> Callable[Given, Result]:
    """Run a function with one thread of linear algebra.

    Our matrices are small. Threads that wait for one another cost more than they bring: on two busy cores a forecast
    took 1.1 s with one thread and 6 to 24 s with two.

    Examples
    --------
    >>> one_thread(abs)(-3)
    3

    """

    @wraps(function)
    def alone(*given: Given.args, **named: Given.kwargs) -> Result:
        with threadpool_limits(limits=1, user_api="blas"):
            return function(*given, **named)

    return alone


def t_reach(df: Numbers) -> Array:
    """Standard errors to either side of an estimate that make its 95 % interval, by its degrees of freedom."""
    from scipy.special import stdtrit  # noqa: PLC0415  # late: the start-up path imports this module

    return np.asarray(stdtrit(df, 0.975))


def rate_interval(count: Numbers, exposure: Numbers = 1.0, level: float = 0.95) -> tuple[Array, Array]:
    """Exact interval of a rate from a count of rare events.

    Parameters
    ----------
    count
        Events seen, 0 or more.
    exposure
        In how many plays, minutes or shows they were seen; the interval is per one of these.
    level
        Share of such intervals that hold the truth, at least.

    Returns
    -------
    low, high
        Arrays of the shape of `count` and `exposure` together. Without exposure nothing is known: 0 and infinity.

    Notes
    -----
    F. Garwood (1936), Fiducial limits for the Poisson distribution, Biometrika 28: 437-442, by gamma quantiles.

    Examples
    --------
    >>> low, high = rate_interval([0, 10])
    >>> low.round(2), high.round(2)
    (array([0. , 4.8]), array([ 3.69, 18.39]))

    """
    from scipy.special import gammaincinv  # noqa: PLC0415  # late: the start-up path imports this module

    counts, exposures = np.broadcast_arrays(np.asarray(count, float), np.asarray(exposure, float))
    tail = (1 - level) / 2
    low = np.where(counts > 0, gammaincinv(np.maximum(counts, 0.5), tail), 0.0)
    high = gammaincinv(counts + 1, 1 - tail)
    known = exposures > 0
    below = np.divide(low, exposures, out=np.zeros_like(exposures), where=known)
    above = np.divide(high, exposures, out=np.full_like(exposures, np.inf), where=known)
    return below, above


def at_most(mean: float, spread: float, least: int = 0) -> Array:
    """Chances of at most 0, 1, 2, … of a count whose variance is mean + spread * mean squared: negative binomial.

    They reach as far as such a count can, and to `least` at least.

    Examples
    --------
    >>> at_most(1.0, 0.5)[:3].round(3)
    array([0.444, 0.741, 0.889])

    """
    from scipy.special import betainc  # noqa: PLC0415  # as above

    top = max(least, int(mean + 12 * np.sqrt(mean + spread * mean**2))) + 20
    shape = 1 / max(spread, 1e-9)
    return np.asarray(betainc(shape, np.arange(1.0, top + 2), shape / (shape + mean)))


def adjusted(p: Numbers, method: str = "fdr_bh") -> Array:
    """Adjust chances of many tests for their number.

    Parameters
    ----------
    p
        A chance for each test.
    method
        As for statsmodels' `multipletests`: "fdr_bh" (at most a share of those that are named is false), or "holm" (at
        most so often is anything named that is false; Holm 1979), which is worked out here: there the library looks
        for garbage in all of memory, a third of a second on a page.

    Examples
    --------
    >>> adjusted([0.01, 0.02, 0.9]).round(3), adjusted([0.01, 0.02, 0.9], "holm").round(3)
    (array([0.03, 0.03, 0.9 ]), array([0.03, 0.04, 0.9 ]))

    """
    from statsmodels.stats.multitest import multipletests  # noqa: PLC0415  # late: the start-up path imports this module

    chance = np.asarray(p, float)
    if method != "holm" or not len(chance):
        return np.asarray(multipletests(chance, method=method)[1]) if len(chance) else chance
    order = np.argsort(chance)
    steps = np.maximum.accumulate(chance[order] * np.arange(len(chance), 0, -1))
    return np.minimum(steps, 1)[np.argsort(order)]


@dataclass(frozen=True)
class GammaPoisson:
    """How rates differ from unit to unit: a gamma distribution of `shape` and `rate`, its mean `shape / rate`.

    Attributes
    ----------
    shape, rate
        Of the gamma distribution, by maximum likelihood. A shape of `LIKE_ONE` says that units are alike.
    log_likelihood
        Of the counts, as negative binomial.
    nodes
        Shapes, rates and weights of the distributions that the counts allow beside the likeliest one; intervals
        are averaged over them, since few units say little about how units differ.

    """

    shape: float
    rate: float
    log_likelihood: float
    nodes: tuple[Array, Array, Array] = field(repr=False, compare=False)

    @property
    def average(self) -> float:
        """Mean rate over units."""
        return self.shape / self.rate

    def mean(self, observed: Numbers, expected: Numbers) -> Array:
        """Shrunken rate of each unit: what it has shown, drawn towards the others the more, the less it has shown.

        Examples
        --------
        >>> model = gamma_poisson([0, 2, 1, 9, 3, 0], [4, 4, 4, 4, 4, 4])
        >>> model.mean([0, 9, 0], [4, 4, 0]).round(2)
        array([0.15, 1.87, 0.62])

        """
        return np.asarray((np.asarray(observed, float) + self.shape) / (np.asarray(expected, float) + self.rate))

    def interval(self, observed: Numbers, expected: Numbers) -> tuple[Array, Array]:
        """95 % interval of each unit's true rate.

        Parameters
        ----------
        observed, expected
            Events and exposure of each unit; 0 and 0 for a unit nothing is known of.

        Returns
        -------
        low, high
            Quantiles of the unit's rate, averaged over the distributions in `nodes`. Plain quantiles at the
            likeliest one are too narrow with few units (N. M. Laird and T. A. Louis (1987), Empirical Bayes confidence
            intervals based on bootstrap samples, J. Am. Stat. Assoc. 82: 739-750).

        """
        counts, exposures = np.broadcast_arrays(np.asarray(observed, float), np.asarray(expected, float))
        pairs, where = np.unique(np.stack([counts.ravel(), exposures.ravel()]), axis=1, return_inverse=True)
        low, high = self._quantiles(pairs[0], pairs[1], np.array([0.025, 0.975]))
        return low[where.ravel()].reshape(counts.shape), high[where.ravel()].reshape(counts.shape)

    def _quantiles(self, counts: Array, exposures: Array, tails: Array) -> Array:
        """Quantiles of a mixture of gamma distributions, in the logarithm, from those of the one with its moments."""
        from scipy.special import gammainc, gammaincinv, gammaln  # noqa: PLC0415  # as above

        shapes, rates, weights = (node[:, None] for node in self.nodes)
        shapes, rates = counts + shapes, exposures + rates
        whole = gammaln(shapes)

        def below(at: Array, rows: npt.NDArray[np.int64]) -> tuple[Array, Array]:
            scaled = rates[:, rows] * np.exp(at)[:, None, :]
            dense = np.exp(shapes[:, rows] * np.log(scaled) - scaled - whole[:, rows])
            return (weights * gammainc(shapes[:, rows], scaled)).sum(axis=1), (weights * dense).sum(axis=1)

        mean = (weights * shapes / rates).sum(axis=0)
        spread = (weights * shapes * (1 + shapes) / rates**2).sum(axis=0) - mean**2
        start = np.log(np.maximum(gammaincinv(mean**2 / spread, tails[:, None]) * spread / mean, 1e-300))
        far = np.full(len(counts), SURELY)
        return np.asarray(np.exp(quantiles(below, tails, -far, far, start)))


def quantiles(
    below: Callable[[Array, npt.NDArray[np.int64]], tuple[Array, Array]],
    tails: Array,
    least: Array,
    most: Array,
    start: Array | None = None,
) -> Array:
    """Quantiles of many distributions at once, by Newton steps that are halves of what is left where one leaves it.

    Parameters
    ----------
    below
        Chance of less than each value (a row a tail, a column a distribution) and density there, of the distributions
        of these numbers.
    tails
        Chances.
    least, most
        Between which values the quantiles of each distribution are.
    start
        Where to begin.

    Returns
    -------
    array
        A row a tail, a column a distribution.

    Examples
    --------
    >>> evenly = lambda at, rows: (at / 8, np.full_like(at, 1 / 8))
    >>> quantiles(evenly, np.array([0.25, 0.75]), np.zeros(1), np.full(1, 8.0)).ravel()
    array([2., 6.])

    """
    low, high = (np.tile(end, (len(tails), 1)) for end in (least, most))
    at, left = (low + high) / 2 if start is None else np.clip(start, low, high), np.arange(len(least))
    for _ in range(80):
        here = at[:, left]
        chance, dense = below(here, left)
        missing = tails[:, None] - chance
        low[:, left] = np.where(missing > 0, here, low[:, left])
        high[:, left] = np.where(missing > 0, high[:, left], here)
        step = here + missing / np.maximum(dense, 1e-300)
        inside = (step > low[:, left]) & (step < high[:, left])
        at[:, left] = np.where(inside, step, (low[:, left] + high[:, left]) / 2)
        left = left[np.abs(at[:, left] - here).max(axis=0) > 1e-9]  # noqa: PLR2004  # far below a figure that is shown
        if not len(left):
            break
    return at


def gamma_poisson(observed: Numbers, expected: Numbers) -> GammaPoisson:
    """Fit how rates differ between units (songs, rooms) by maximum likelihood.

    Parameters
    ----------
    observed
        Events of each unit.
    expected
        Exposure of each unit (plays, minutes), or what it should have shown; over 0.

    Returns
    -------
    GammaPoisson
        `mean` and `interval` give each unit's shrunken rate. At the edges it stays usable: with no events at all the
        mean is half an event in all exposure (Jeffreys); when counts differ no more than chance makes them the units
        are alike; with no units nothing is known and `mean` is that of half an event in one.

    Notes
    -----
    D. Clayton and J. Kaldor (1987), Empirical Bayes estimates of age-standardized relative risks for use in disease
    mapping, Biometrics 43: 671-681.

    Examples
    --------
    >>> model = gamma_poisson([0, 2, 1, 9, 3, 0], [4, 4, 4, 4, 4, 4])
    >>> round(model.average, 3), round(model.shape, 2)
    (0.625, 0.76)

    """
    counts, exposures = np.broadcast_arrays(np.asarray(observed, float), np.asarray(expected, float))
    seen = exposures.ravel() > 0
    counts, exposures = counts.ravel()[seen], exposures.ravel()[seen]
    if not counts.sum():
        shape, rate = 0.5, float(exposures.sum()) or 1.0
        nodes = (np.array([shape]), np.array([rate]), np.ones(1))
    else:
        shape, rate = _likeliest(counts, exposures)
        nodes = _allowed(counts, exposures, shape / rate)
    best = float(_log_likelihood(counts, exposures, np.array([shape]), np.array([rate]))[0])
    return GammaPoisson(shape, rate, best, nodes)


def _likeliest(counts: Array, exposures: Array) -> tuple[float, float]:
    """Newton steps in the logarithms of shape and rate, halved until the likelihood rises."""
    mean = counts.sum() / exposures.sum()
    spread = float(((counts - mean * exposures) ** 2 - counts).sum())
    if spread <= 0 or len(counts) == 1:
        return LIKE_ONE, LIKE_ONE / mean
    shape = float(np.clip((mean * exposures**2).sum() * mean / spread, 0.02, 1e3))
    at = np.log([shape, shape / mean])
    value = _log_likelihood(counts, exposures, *np.exp(at)[:, None])[0]
    for _ in range(100):
        step = _newton_step(counts, exposures, *np.exp(at))
        for _ in range(30):
            trial = at + step
            new = _log_likelihood(counts, exposures, *np.exp(trial)[:, None])[0]
            if new >= value:
                break
            step /= 2
        else:
            break
        at, gain, value = trial, new - value, new
        if at[0] > np.log(LIKE_ONE):
            return LIKE_ONE, LIKE_ONE / mean
        if gain < 1e-12 and np.abs(step).max() < 1e-7:  # noqa: PLR2004  # as exact as the arithmetic allows
            break
    return float(np.exp(at[0])), float(np.exp(at[1]))


def _newton_step(counts: Array, exposures: Array, shape: float, rate: float) -> Array:
    """One step in (log shape, log rate); uphill also where the likelihood is not concave."""
    from scipy.special import polygamma, psi  # noqa: PLC0415  # as above

    scale = np.array([shape, rate])
    slope = scale * [
        (psi(counts + shape) - psi(shape) + np.log(rate) - np.log(exposures + rate)).sum(),
        (shape / rate - (counts + shape) / (exposures + rate)).sum(),
    ]
    cross = (1 / rate - 1 / (exposures + rate)).sum()
    bend = np.array(
        [
            [(polygamma(1, counts + shape) - polygamma(1, shape)).sum(), cross],
            [cross, ((counts + shape) / (exposures + rate) ** 2 - shape / rate**2).sum()],
        ]
    )
    bend = bend * np.outer(scale, scale) + np.diag(slope)
    values, vectors = np.linalg.eigh(-bend)
    step = vectors @ ((vectors.T @ slope) / np.maximum(np.abs(values), 1e-8))
    return np.asarray(step / max(1.0, float(np.abs(step).max())))


def _log_likelihood(counts: Array, exposures: Array, shapes: Array, rates: Array) -> Array:
    """Negative binomial log likelihood of all counts at each shape and rate."""
    from scipy.special import gammaln, xlogy  # noqa: PLC0415  # as above

    shape, rate = shapes[:, None], rates[:, None]
    ups, downs = np.unique(counts, return_inverse=True)
    falling = gammaln(ups + shape) - gammaln(shape)
    terms = falling[:, downs] - shape * np.log1p(exposures / rate) + xlogy(counts, exposures / (exposures + rate))
    return np.asarray((terms - gammaln(counts + 1)).sum(axis=1))


def _allowed(counts: Array, exposures: Array, mean: float) -> tuple[Array, Array, Array]:
    """Shapes, rates and weights that the counts allow, flat over coefficient of variation and log mean."""
    wide = np.linspace(0.02, WIDEST, 80)
    profile = _log_likelihood(counts, exposures, 1 / wide**2, 1 / (wide**2 * mean))
    ok = wide[profile > profile.max() - LEAST_LIKELY]
    step = wide[1] - wide[0]
    spread = np.linspace(max(0.01, ok.min() - step, 1 / np.sqrt(LIKE_ONE)), min(WIDEST, ok.max() + step), 13)
    information = (mean * exposures / (1 + mean * exposures * spread[:, None] ** 2)).sum(axis=1)
    means = mean * np.exp(np.linspace(-3.5, 3.5, 11) / np.sqrt(information)[:, None])
    shapes = np.repeat(1 / spread**2, means.shape[1])
    rates = shapes / means.ravel()
    heights = _log_likelihood(counts, exposures, shapes, rates)
    weights = np.exp(heights - heights.max()) * np.repeat(1 / np.sqrt(information), means.shape[1])
    kept = weights > weights.max() * 1e-4
    return shapes[kept], rates[kept], weights[kept] / weights[kept].sum()
