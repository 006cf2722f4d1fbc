"""The regression that holds each song against itself: the same thing written out in whole matrices, and laws."""

import numpy as np
import pytest
from scipy.linalg import cholesky

from tourstats.models.playing import within


@pytest.fixture(scope="module")
def counts():
    """Twelve uneven shows of eight songs out of fifteen, two circumstances of songs and one of shows."""
    random = np.random.default_rng(8)
    song = np.concatenate([random.permutation(15)[:8] for _ in range(12)])
    show = np.repeat(np.arange(12), 8)
    matrix = np.column_stack([random.normal(size=96), random.random(96), np.repeat(random.random(12) < 0.4, 8)])
    mean = np.exp(matrix @ [0.3, -0.5, 0.4] + random.normal(0, 0.5, 15)[song] + random.normal(0, 0.5, 12)[show])
    found = random.poisson(mean).astype(float)
    rows = within.telling(found, song)
    return matrix[rows], found[rows], np.unique(song[rows], return_inverse=True)[1], show[rows]


def inverse_root(matrix):
    share, axes = np.linalg.eigh(matrix)
    return (axes * np.where(share > 1e-8, np.clip(share, 1e-12, None) ** -0.5, 0)) @ axes.T


def in_full(matrix, found, song, show, fit):
    """Bell and McCaffrey's variance and Satterthwaite's degrees, with every matrix as large as it is."""
    rate = np.exp(matrix @ fit.coefficients)
    mean = np.bincount(song, found)[song] * rate / np.bincount(song, rate)[song]
    root = np.sqrt(mean)
    columns = root[:, None] * np.column_stack([matrix, np.eye(song.max() + 1)[song]])
    bread = np.linalg.inv(columns.T @ columns)
    kept = np.eye(len(found)) - columns @ bread @ columns.T
    shared = np.eye(len(found)) + fit.unevenness * np.outer(root, root) * (show[:, None] == show)
    left = (found - mean) / root
    parts = []
    for at in np.unique(show):
        rows = show == at
        within_show = cholesky(shared[np.ix_(rows, rows)])
        middle = within_show @ (kept @ shared @ kept)[np.ix_(rows, rows)] @ within_show.T
        stretch = within_show.T @ inverse_root(middle) @ within_show
        parts.append((bread @ columns[rows].T)[: matrix.shape[1]] @ stretch @ kept[rows])
    scores = np.stack([part @ left for part in parts])
    degrees = []
    for name in range(matrix.shape[1]):
        lines = np.stack([part[name] for part in parts])
        mixed = lines @ shared @ lines.T
        degrees.append(np.trace(mixed) ** 2 / (mixed**2).sum())
    return scores.T @ scores, degrees


def test_errors_and_degrees_are_those_of_whole_matrices(counts):
    """
    Same variance and degrees of freedom as with all rows and all songs in matrices; shows are uneven here.
    """
    fit = within.fit(*counts)
    variance, degrees = in_full(*counts, fit)

    assert 0.05 < fit.unevenness
    assert variance == pytest.approx(fit.covariance, rel=1e-6)
    assert degrees == pytest.approx(fit.df, rel=1e-6)


def test_uneven_shows_make_less_sure(counts, monkeypatch):
    """
    With the unevenness held at nothing, the errors of what differs between shows are smaller and the degrees more.
    """
    fit = within.fit(*counts)
    monkeypatch.setattr(within, "_unevenness", lambda _: 0.0)
    even = within.fit(*counts)

    assert even.coefficients == pytest.approx(fit.coefficients)
    assert even.errors[2] < fit.errors[2]
    assert even.df[2] > fit.df[2]


def test_a_songs_own_level_and_a_constant_change_nothing(counts):
    """
    A circumstance may be counted from anywhere, a song's too; a song of one row says nothing.
    """
    matrix, found, song, show = counts
    moved = matrix + np.random.default_rng(1).normal(size=(song.max() + 1, 3))[song]
    once = within.fit(
        np.vstack([matrix, [[5.0, 5, 1]]]), np.r_[found, 9.0], np.r_[song, song.max() + 1], np.r_[show, 3]
    )

    for other in (within.fit(moved, found, song, show), once):
        assert within.fit(*counts).coefficients == pytest.approx(other.coefficients, abs=1e-6)
        assert within.fit(*counts).errors == pytest.approx(other.errors, rel=1e-5)


def test_a_ridge_pulls_towards_nothing(counts):
    """
    The stronger, the nearer to 0; where one side has no mistake at all only the ridge keeps the answer finite.
    """
    matrix, found, song, show = counts
    clean = np.where(matrix[:, 2] == 1, 0.0, found)
    sizes = [np.abs(within.fit(*counts, ridge=ridge).coefficients).sum() for ridge in (0.0, 1.0, 100.0)]
    kept = within.fit(matrix, clean, song, show, ridge=1 / 9)

    assert sizes == sorted(sizes, reverse=True)
    assert -15 < kept.coefficients[2] < -2
    assert 1 < kept.errors[2] < 3


@pytest.mark.parametrize(("between", "variance"), [(0.0, 0.0), (0.5, np.expm1(0.25))])
def test_the_unevenness_of_shows_is_recovered(between, variance):
    """
    Truth: shows' levels have a standard deviation of 0 or 0.5 in logarithms; 20 tours of 40 shows.
    """
    found = []
    for seed in range(20):
        random = np.random.default_rng(seed)
        song = np.concatenate([random.permutation(60)[:15] for _ in range(40)])
        show = np.repeat(np.arange(40), 15)
        mean = np.exp(random.normal(-1, 0.6, 60)[song] + random.normal(0, between, 40)[show])
        fit = within.fit(random.normal(size=(600, 1)), random.poisson(mean).astype(float), song, show)
        found.append(fit.unevenness)

    assert variance - 0.07 < np.mean(found) < variance + 0.04


def test_what_never_differs_within_a_song_has_one_degree_of_freedom():
    """
    A circumstance that goes with the song says nothing: its coefficient stays at 0, the other's is as without it.
    """
    song, show = np.repeat([0, 1], 4), np.tile(np.arange(4), 2)
    often, late = (song == 1).astype(float), np.tile([0.0, 1.0], 4)
    counted = np.array([1.0, 2, 1, 4, 2, 3, 0, 5])
    both = within.fit(np.column_stack([late, often]), counted, song, show, ridge=0.1)
    alone = within.fit(late[:, None], counted, song, show, ridge=0.1)

    assert [alone.coefficients[0], 0.0] == pytest.approx(both.coefficients.tolist(), abs=1e-9)
    assert [alone.df[0], 1.0] == pytest.approx(both.df.tolist())
