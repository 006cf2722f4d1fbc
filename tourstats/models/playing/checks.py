"""Whether the regression of mistakes fits: what it leaves over against chance, and whether one show carries it."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import pandas as pd

from tourstats.models.estimates import adjusted, one_thread
from tourstats.models.playing import within
from tourstats.models.playing.effects import RIDGE, fitted
from tourstats.models.playing.performances import of_tour
from tourstats.tables import finished
from tourstats.tour import Tour

Array = npt.NDArray[np.float64]

DRAWN = 400
"""Tours drawn from the fit itself, against which its residuals are held."""
CHECKS = ("spread", "clean performances", "shows in a row alike", "largest count")


@finished
@one_thread
def residual_checks(tour: Tour) -> pd.DataFrame:
    """Hold what the regression leaves over against what it would leave if mistakes were as it takes them.

    Returns
    -------
    DataFrame
        A row a check; none while there are too few reviews for the regression.
            check      str    "spread" (mean squared residual: more than chance where nights or songs differ in ways
                              that nothing here knows), "clean performances" (share without a mistake), "shows in a row
                              alike" (correlation of a show's residuals with the show before), "largest count"
            value      float  as seen
            low, high  float  middle 95 % of what the fit itself would give
            p          float  two-sided, Holm's adjustment for the number of checks
            holds      bool   p of 0.05 or more

    Notes
    -----
    Parametric bootstrap: mistakes of each song dealt again over its performances by the fitted shares, seeded. Standard
    errors of `effects` allow for spread within shows; clean performances and order are what they do not allow for.

    """
    table = of_tour(tour)
    found = fitted(table)
    if found is None:
        return pd.DataFrame(columns=["check", "value", "low", "high", "p", "holds"])
    rows = within.telling(table.mistakes.to_numpy(float), pd.factorize(table.song)[0])
    counts = table.mistakes.to_numpy(float)[rows]
    song, show = (pd.factorize(codes[rows])[0] for codes in (table.song, table["at"]))
    weight = np.exp(found.design.matrix[rows] @ found.fit.coefficients)
    share = weight / np.bincount(song, weight)[song]
    mean = np.bincount(song, counts)[song] * share
    random = np.random.default_rng(1)
    drawn = np.array([_scores(_dealt(random, counts, song, share), mean, share, show) for _ in range(DRAWN)])
    seen = _scores(counts, mean, share, show)
    low, high = np.quantile(drawn, [0.025, 0.975], axis=0)
    tails = np.minimum((drawn <= seen).sum(axis=0), (drawn >= seen).sum(axis=0))
    p = adjusted(np.minimum(2 * (tails + 1) / (DRAWN + 1), 1), "holm")
    return pd.DataFrame({"check": CHECKS, "value": seen, "low": low, "high": high, "p": p, "holds": p >= 0.05})  # noqa: PLR2004  # the usual level


@finished
@one_thread
def influence(tour: Tour) -> pd.DataFrame:
    """How far each effect would move if a show had not been reviewed.

    Returns
    -------
    DataFrame
        A row a reviewed show and effect, what moves most first: show_id, effect, ratio (with all shows, of
        `exp(log_ratio)`), without (the same without the show), moved (in standard errors of all shows; beyond 1 one
        show carries much of the effect).

    Notes
    -----
    D. A. Belsley, E. Kuh and R. E. Welsch (1980), Regression Diagnostics: DFBETAS, a whole show left out and the
    regression fitted again on the same circumstances.

    """
    table = of_tour(tour)
    model = fitted(table)
    columns = ["show_id", "effect", "ratio", "without", "moved"]
    if model is None:
        return table[["show_id"]].head(0).reindex(columns=columns)
    at = [model.design.names.index(name) for name in model.design.told]
    counts, song, shows = table.mistakes.to_numpy(float), pd.factorize(table.song)[0], table.show_id.unique()
    less = []
    for show in shows:
        rest = (table.show_id != show).to_numpy()
        of_rest = (model.design.matrix[rest], counts[rest], song[rest])
        less.append(within.coefficients(*of_rest, RIDGE, model.fit.coefficients)[at])
    whole, error = model.fit.coefficients[at], model.fit.errors[at]
    moved = pd.DataFrame(
        {
            "show_id": np.repeat(shows, len(at)),
            "effect": np.tile(model.design.told, len(shows)),
            "ratio": np.tile(np.exp(whole), len(shows)),
            "without": np.exp(np.concatenate(less)),
            "moved": np.concatenate([(one - whole) / error for one in less]),
        }
    )
    order = moved.moved.abs().sort_values(ascending=False, kind="stable").index
    return moved.loc[order, columns].reset_index(drop=True)


def _dealt(random: np.random.Generator, counts: Array, song: within.Codes, share: Array) -> Array:
    """Each song's mistakes dealt again over its performances: each lands where its place among the shares is."""
    order = np.argsort(song, kind="stable")
    ends = np.cumsum(share[order])  # the shares of a song add up to one
    lands = np.searchsorted(ends, np.repeat(song[order], counts[order].astype(int)) + random.random(int(counts.sum())))
    return np.bincount(order[np.minimum(lands, len(order) - 1)], minlength=len(counts)).astype(float)


def _scores(counts: Array, mean: Array, share: Array, show: within.Codes) -> Array:
    """What each check looks at."""
    left = (counts - mean) / np.sqrt(np.maximum(mean * (1 - share), 1e-9))
    nights = np.bincount(show, left) / np.sqrt(np.bincount(show))
    nights = nights - nights.mean()
    alike = float(nights[1:] @ nights[:-1] / max(float(nights @ nights), 1e-9))
    return np.array([(left**2).mean(), (counts == 0).mean(), alike, counts.max()])
