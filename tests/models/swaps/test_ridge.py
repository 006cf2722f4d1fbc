"""The fit is the known one, with a penalty."""

import numpy as np
import pytest

from tourstats.models.swaps.ridge import fit


def made_up(seed=5, number=400):
    rng = np.random.default_rng(seed)
    rows = np.column_stack([np.ones(number), rng.normal(size=(number, 3))])
    happened = (rng.random(number) < 1 / (1 + np.exp(-rows @ [-1.0, 0.8, -0.5, 0.0]))).astype(float)
    return rows, happened


def test_a_second_fit_from_the_first_stays_there():
    """
    Fitted again from where it was, nothing moves.
    """
    rows, happened = made_up()
    first, _ = fit(rows, happened, np.ones(400), np.full(4, 2.0), np.zeros(4))

    again, _ = fit(rows, happened, np.ones(400), np.full(4, 2.0), first)

    np.testing.assert_allclose(again, first, atol=1e-6)


def test_the_slope_is_flat_where_it_ends():
    """
    At the best coefficients, likelihood and penalty pull equally.
    """
    rows, happened = made_up()
    weights = np.linspace(0.2, 1, 400)
    best, _ = fit(rows, happened, weights, np.full(4, 3.0), np.zeros(4))
    p = 1 / (1 + np.exp(-rows @ best))

    np.testing.assert_allclose(rows.T @ (weights * (p - happened)) + 3 * best, 0, atol=1e-3)


def test_songs_that_are_always_in_do_not_run_away():
    """
    Without a penalty these coefficients have no end.
    """
    rows = np.column_stack([np.ones(20), np.repeat([0.0, 1.0], 10)])

    best, covariance = fit(rows, rows[:, 1].copy(), np.ones(20), np.array([0.02, 2.0]), np.zeros(2))

    assert 1 < best[1] < 5
    assert np.isfinite(covariance).all()


@pytest.mark.parametrize("start", [[0.0] * 4, [30.0, -30.0, 30.0, -30.0]])
def test_where_it_starts_does_not_matter(start):
    """
    Steps that overshoot are halved.
    """
    rows, happened = made_up()
    expected, _ = fit(rows, happened, np.ones(400), np.full(4, 2.0), np.zeros(4))

    found, _ = fit(rows, happened, np.ones(400), np.full(4, 2.0), np.array(start), steps=60)

    np.testing.assert_allclose(found, expected, atol=1e-4)
