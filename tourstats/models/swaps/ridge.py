"""Logistic regression with a ridge, made to be fitted again after every show."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

_MOST_STEPS = 25
_HALVINGS = 12


def fit(
    rows: Floats,
    happened: Floats,
    weights: Floats,
    ridge: Floats,
    start: Floats,
    steps: int = _MOST_STEPS,
) -> tuple[Floats, Floats]:
    """Most likely coefficients under a normal prior around zero, by Newton steps that are halved while they overshoot.

    Parameters
    ----------
    rows
        A row an observation, a column a feature; a column of ones is the intercept.
    happened
        1 or 0 for each row.
    weights
        How much each row counts.
    ridge
        Penalty of each coefficient: one over the variance of its prior.
    start
        Coefficients to begin from.
    steps
        Most Newton steps to take; one or two are enough from the fit of the night before.

    Returns
    -------
    coefficients
        One for each column.
    covariance
        Their covariance (inverse of the curvature) at the last step.

    """
    now = start
    value = _loss(rows @ now, now, happened, weights, ridge)
    inverse: Floats = np.diag(1 / ridge)
    for _ in range(steps):
        p = 1 / (1 + np.exp(-(rows @ now)))
        slope = rows.T @ (weights * (p - happened)) + ridge * now
        bend = (rows * (weights * p * (1 - p))[:, None]).T @ rows + np.diag(ridge)
        inverse = np.asarray(np.linalg.inv(bend), dtype=float)
        step = inverse @ slope
        for halving in range(_HALVINGS):
            there = now - step / 2**halving
            better = _loss(rows @ there, there, happened, weights, ridge)
            if better <= value:
                now, gain, value = there, value - better, better
                break
        else:
            break
        if gain < 1e-9 * (1 + value):
            break
    return now, inverse


def _loss(logits: Floats, coefficients: Floats, happened: Floats, weights: Floats, ridge: Floats) -> float:
    """Minus the log likelihood, with the penalty."""
    fit_ = weights @ (np.logaddexp(0, logits) - happened * logits)
    return float(fit_ + 0.5 * (ridge * coefficients) @ coefficients)
