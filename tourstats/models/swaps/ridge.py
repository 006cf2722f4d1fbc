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
    now, logits = start, rows @ start
    shrunk = np.exp(-np.abs(logits))
    value = _loss(logits, shrunk, now, happened, weights, ridge)
    inverse: Floats = np.diag(1 / ridge)
    for _ in range(steps):
        p = np.where(logits >= 0, 1.0, shrunk) / (1 + shrunk)
        slope = rows.T @ (weights * (p - happened)) + ridge * now
        # The root of the weights on both sides: a matrix with its own transpose takes half the work.
        rooted = rows * np.sqrt(weights * p * (1 - p))[:, None]
        inverse = np.asarray(np.linalg.inv(rooted.T @ rooted + np.diag(ridge)), dtype=float)
        step = inverse @ slope
        for halving in range(_HALVINGS):
            there = now - step / 2**halving
            logits = rows @ there
            shrunk = np.exp(-np.abs(logits))
            better = _loss(logits, shrunk, there, happened, weights, ridge)
            if better <= value:
                now, gain, value = there, value - better, better
                break
        else:
            break
        if gain < 1e-9 * (1 + value):
            break
    return now, inverse


def _loss(
    logits: Floats, shrunk: Floats, coefficients: Floats, happened: Floats, weights: Floats, ridge: Floats
) -> float:
    """Minus the log likelihood, with the penalty; `shrunk` is e to the minus of how large each logit is."""
    fit_ = weights @ (np.maximum(logits, 0) + np.log1p(shrunk) - happened * logits)
    return float(fit_ + 0.5 * (ridge * coefficients) @ coefficients)
