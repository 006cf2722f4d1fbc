"""Poisson regression in which each song is held only against itself, for counts that come in shows.

Hard songs are also played seldom, and come late. A regression that compares songs takes their mistakes for those of the
layoff or of the date, and a song's mean of each circumstance as a further term (Y. Mundlak (1978), On the pooling of
time series and cross section data, Econometrica 46: 69-85) helps only as far as songs' levels follow these means.
Given how many mistakes a song had in all, its own level drops out (J. Hausman, B. H. Hall and Z. Griliches (1984),
Econometric models for count data with an application to the patents-R&D relationship, Econometrica 52: 909-938).

Mistakes of one night have something in common: standard errors are those of generalised estimating equations, a show a
group, corrected for few shows (R. M. Bell and D. F. McCaffrey (2002), Bias reduction in standard errors for linear
regression with multi-stage samples, Survey Methodology 28: 169-181; with songs' levels J. E. Pustejovsky and
E. Tipton (2018), Small-sample methods for cluster-robust variance estimation, J. Bus. Econ. Stat. 36: 672-683), with an
exchangeable part between the mistakes of a show, and their degrees of freedom, a coefficient's own, are by
Satterthwaite's rule. Written out here because no library at hand has all of this; a fit takes some milliseconds. The
tests hold it against statsmodels and scikit-learn.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]
Codes = npt.NDArray[np.int64]

STEPS = 60
CLOSE = 1e-9
LEAST_LEFT = 1e-3
"""Least share of a residual that is taken to be left by the fit."""
FEWEST_DF = 1.0


@dataclass(frozen=True)
class Fit:
    """Coefficients, their covariance and degrees of freedom; `unevenness` is the variance of shows, in logarithms."""

    coefficients: Array
    covariance: Array
    df: Array
    unevenness: float

    @property
    def errors(self) -> Array:
        """Standard errors."""
        return np.asarray(np.sqrt(np.diag(self.covariance)))


@dataclass(frozen=True)
class _Residuals:
    """What is left at the solution, each row divided by the root of its mean.

    `root` is that root, `apart` the circumstances less their song's mean, `share` of the song's mistakes that the row
    should have had, `bread` the inverse of the information.
    """

    left: Array
    root: Array
    apart: Array
    share: Array
    bread: Array
    song: Codes
    show: Codes

    def by_show(self, rows: Array) -> Array:
        """Sum of each show; a row a show."""
        return _sums(self.show, rows)

    def of_songs(self, values: Array) -> Array:
        """What songs' own levels see of a value a row: a row a song, a column a show."""
        shows = int(self.show.max()) + 1
        seen = np.bincount(self.song * shows + self.show, np.sqrt(self.share) * values)
        return np.asarray(np.pad(seen, (0, (int(self.song.max()) + 1) * shows - len(seen))).reshape(-1, shows), float)

    def taken(self, values: Array) -> tuple[Array, Array]:
        """What the fit takes of a value a row: by songs' levels, and by the circumstances (a row a show).

        Of any two such values, what the regression leaves of the one in the other is small sums of these: nothing of
        the size of rows by rows, or rows by shows, is written out.
        """
        return self.of_songs(values), self.by_show(self.apart * values[:, None])


def _sums(codes: Codes, rows: Array) -> Array:
    """Sums of rows of the same code; a row a code."""
    columns = rows.reshape(len(rows), -1).T
    summed = np.stack([np.bincount(codes, column) for column in columns], axis=-1)
    return np.asarray(summed.reshape(-1, *rows.shape[1:]), float)


def telling(counted: Array, song: Codes) -> npt.NDArray[np.bool_]:
    """Rows that say something: of songs with two rows at least, and with a mistake in one of them.

    Examples
    --------
    >>> telling(np.array([1.0, 0, 2, 0, 0]), np.array([0, 0, 1, 2, 2]))
    array([ True,  True, False, False, False])

    """
    return np.asarray((np.bincount(song, counted)[song] > 0) & (np.bincount(song)[song] > 1))


def fit(circumstances: Array, counted: Array, song: Codes, show: Codes, ridge: float = 0.0) -> Fit:
    """Fit log mean = the song's level + circumstances @ coefficients.

    Parameters
    ----------
    circumstances
        A row an observation, a column a circumstance.
    counted
        Counts.
    song, show
        Whose level, and which group, each row belongs to: numbers from 0. Only rows that are `telling` are used.
    ridge
        Weight of a pull of each coefficient towards 0, as the inverse variance of a normal prior: it keeps the fit
        finite where a room has not seen a single mistake.

    Examples
    --------
    >>> found = fit(np.array([[0.0], [1], [0], [1]]), np.array([2.0, 4, 3, 6]), np.array([0, 0, 1, 1]), np.arange(4))
    >>> np.exp(found.coefficients).round(6)
    array([2.])

    """
    circumstances, counted, song, show = _of_rows(circumstances, counted, song, show)
    beta, left = _solved(circumstances, counted, song, show, ridge)
    uneven = _unevenness(left)
    stretched = _stretched(left, uneven)
    scores = left.by_show(stretched * left.left[:, None])
    covariance = _at_least_plain(scores.T @ scores, left.bread, circumstances, counted)
    return Fit(beta, covariance, _degrees(left, stretched, uneven), uneven)


def coefficients(
    circumstances: Array, counted: Array, song: Codes, ridge: float = 0.0, start: Array | float = 0.0
) -> Array:
    """As `fit`, without errors: a tenth of its time, and half of that from a `start` that is near."""
    return _solved(*_of_rows(circumstances, counted, song, song), ridge, start)[0]


def _of_rows(circumstances: Array, counted: Array, song: Codes, show: Codes) -> tuple[Array, Array, Codes, Codes]:
    """Rows that say something, with songs and shows numbered anew."""
    rows = telling(counted, song)
    song, show = (np.unique(codes[rows], return_inverse=True)[1] for codes in (song, show))
    return circumstances[rows], counted[rows], song, show


def _solved(
    circumstances: Array, counted: Array, song: Codes, show: Codes, ridge: float, start: Array | float = 0.0
) -> tuple[Array, _Residuals]:
    """Newton steps on the likelihood given each song's total."""
    total = np.bincount(song, counted)
    beta = np.full(circumstances.shape[1], start)
    pull = ridge * np.eye(len(beta))
    step = np.full(len(beta), np.inf)
    for _ in range(STEPS):
        weight = np.exp(np.clip(circumstances @ beta, -30, 30))
        share = np.asarray(weight / np.bincount(song, weight)[song], float)
        mean = total[song] * share
        apart = (circumstances - _sums(song, share[:, None] * circumstances)[song]) * np.sqrt(mean)[:, None]
        bread = np.linalg.inv(apart.T @ apart + pull)
        left = (counted - mean) / np.sqrt(mean)
        if np.abs(step).max() < CLOSE:
            break
        step = bread @ (apart.T @ left - pull @ beta)
        step /= max(1.0, np.abs(step).max() / 2)
        beta = beta + step
    return beta, _Residuals(left, np.sqrt(mean), apart, share, bread, song, show)


def _unevenness(at: _Residuals) -> float:
    """Variance between shows beyond chance, in logarithms, by moments."""
    total = at.by_show(at.left * at.root)
    chance = at.by_show(at.root**2 * (1 - at.share))
    return max(float((total**2 - chance).sum() / (at.by_show(at.root**2) ** 2).sum()), 0.0)


def _stretched(at: _Residuals, uneven: float) -> Array:
    """Each row's part in the coefficients, stretched by what the fit took of its show's residuals.

    Bell and McCaffrey's matrices: such that the variance of each show's score is the true one if the variance within a
    show is that of Poisson counts with `uneven` between shows.
    """
    of_songs, of_columns = at.taken(at.root)
    taken = np.sqrt(at.share)[:, None] * of_songs[at.song] + at.apart @ (at.bread @ of_columns.T)
    part = np.empty_like(at.apart)
    for show in range(taken.shape[1]):
        rows = np.flatnonzero(at.show == show)
        own, root = at.apart[rows], at.root[rows]
        mixed = np.outer(taken[rows, show], root)
        kept = np.diag(1 - at.share[rows]) - own @ at.bread @ own.T
        kept += uneven * (np.outer(root, root) - mixed - mixed.T + taken[rows] @ taken[rows].T)
        within = np.linalg.cholesky(np.eye(len(rows)) + uneven * np.outer(root, root))
        share, axes = np.linalg.eigh(within.T @ kept @ within)
        stretch = within @ (axes / np.sqrt(np.clip(share, LEAST_LEFT, None))) @ axes.T @ within.T
        part[rows] = stretch.T @ own @ at.bread
    return part


def _at_least_plain(covariance: Array, plain: Array, circumstances: Array, counted: Array) -> Array:
    """The covariance, no variance below the plain one where nothing was found with a circumstance, or without it.

    Residuals are next to nothing there, and would pass for certainty.
    """
    stretch = np.ones(len(plain))
    for at, column in enumerate(circumstances.T):
        sides = [counted[column == side].sum() for side in np.unique(column)]
        if len(sides) == 2 and not min(sides):  # noqa: PLR2004  # with it and without it
            stretch[at] = np.sqrt(max(plain[at, at] / max(covariance[at, at], 1e-300), 1.0))
    return np.asarray(covariance * np.outer(stretch, stretch))


def _degrees(at: _Residuals, stretched: Array, uneven: float) -> Array:
    """Satterthwaite's degrees of freedom of each coefficient: (trace)² / trace of the square."""
    degrees, (root_songs, root_columns) = [], at.taken(at.root)
    for part in stretched.T:
        songs, columns = at.taken(part)
        sums = at.by_show(np.column_stack([part**2, at.root * part]))
        between = np.diag(sums[:, 1]) - root_songs.T @ songs - root_columns @ at.bread @ columns.T
        scores = np.diag(sums[:, 0]) - songs.T @ songs - columns @ at.bread @ columns.T + uneven * between.T @ between
        # What is held still and never differs within a song has no score at all.
        degrees.append(max(float(np.trace(scores)) ** 2 / max(float((scores**2).sum()), 1e-300), FEWEST_DF))
    return np.array(degrees)
