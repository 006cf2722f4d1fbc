"""How long songs stay out: the share of layoffs that last longer, with limits, and whether groups differ.

The estimates are statsmodels'; it is loaded only when one of these is asked, never for the show day.
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from tourstats.problems import Problem

ALL_TOGETHER = "all"


def out_curve(returned: pd.DataFrame, by: str | None = None) -> pd.DataFrame:
    """Share of layoffs that last longer than each time, with pointwise 95 % limits.

    Parameters
    ----------
    returned
        As from `rotation.returns`, and whatever column it is to be told apart by.
    by
        A column of groups (a leg, who starts the song); all together if not said.

    Returns
    -------
    DataFrame
        A row a group and time at which a song came back, times rising: group, duration, at_risk, ended, share (0 to
        1), se, low, high. Limits are those of log(-log share), which stay between 0 and 1.

    Notes
    -----
    Kaplan and Meier (1958); statsmodels' SurvfuncRight, errors by Greenwood's formula.

    Examples
    --------
    >>> returned = pd.DataFrame({"layoff_shows": [1, 2, 2, 4], "ended": [True, True, False, True]})
    >>> out_curve(returned)[["group", "duration", "at_risk", "share"]]
      group  duration  at_risk  share
    0   all       1.0        4   0.75
    1   all       2.0        3   0.50
    2   all       4.0        1   0.00

    """
    parts = [_curve(rows).assign(group=str(name)) for name, rows in _groups(returned, by)]
    table = pd.concat(parts, ignore_index=True) if parts else pd.DataFrame(columns=["group", *_NAMES])
    return table[["group", *_NAMES]]


def differ(returned: pd.DataFrame, by: str) -> pd.DataFrame:
    """Whether songs stay out equally long in all groups: the log-rank test.

    Returns
    -------
    DataFrame
        One row: groups, layoffs, chi2, p (two-sided).

    Raises
    ------
    Problem
        If there are fewer than two groups with a layoff.

    Notes
    -----
    Mantel (1966), Peto and Peto (1972); statsmodels' survdiff. A song gives several layoffs, which are taken as
    independent: a small p of few songs is weak evidence.

    """
    from statsmodels.duration.survfunc import survdiff  # noqa: PLC0415  # a second to load; never for the show day

    rows = returned.dropna(subset=[by])
    groups = rows[by].nunique()
    if groups < 2:  # noqa: PLR2004  # to compare takes two
        raise Problem(f"To compare layoffs by {by} takes two groups; there is {groups}.")
    chi2, p = survdiff(rows.layoff_shows.to_numpy(float), rows.ended.to_numpy(int), rows[by].astype(str).to_numpy())
    return pd.DataFrame({"groups": [groups], "layoffs": [len(rows)], "chi2": [float(chi2)], "p": [float(p)]})


_NAMES = ["duration", "at_risk", "ended", "share", "se", "low", "high"]


def _groups(returned: pd.DataFrame, by: str | None) -> list[tuple[object, pd.DataFrame]]:
    parts = [(ALL_TOGETHER, returned)] if by is None else list(returned.groupby(by, sort=False))
    return [(name, rows) for name, rows in parts if rows.ended.any()]


def _curve(rows: pd.DataFrame) -> pd.DataFrame:
    from statsmodels.duration.survfunc import SurvfuncRight  # noqa: PLC0415  # as above

    fit = SurvfuncRight(rows.layoff_shows.to_numpy(float), rows.ended.to_numpy(int))
    share, se = fit.surv_prob, np.nan_to_num(fit.surv_prob_se)
    inside = (share > 0) & (share < 1)
    with np.errstate(divide="ignore", invalid="ignore"):
        reach = 1.959964 * se / (share * np.abs(np.log(share)))
        low, high = share ** np.exp(reach), share ** np.exp(-reach)
    return pd.DataFrame(
        {
            "duration": fit.surv_times,
            "at_risk": fit.n_risk.astype(int),
            "ended": fit.n_events.astype(int),
            "share": share,
            "se": se,
            "low": np.where(inside, low, share),
            "high": np.where(inside, high, share),
        }
    )
