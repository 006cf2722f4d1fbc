"""Which shows were reviewed is no accident either: how they differ from the others, and the trend like with like."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from tourstats.models.estimates import t_reach
from tourstats.models.playing.contrast import held, held_still
from tourstats.models.playing.performances import circumstances, counts, of_tour
from tourstats.tour import Tour

Array = npt.NDArray[Any]

FEWEST_EITHER_SIDE = 3
FEWEST_CELLS = 5
CELL = ["song", "room"]


def review_bias(tour: Tour) -> pd.DataFrame:
    """How reviewed shows differ from the others.

    Returns
    -------
    DataFrame
        A row a property of a show.
            what            str    "room: festival" and so on, "second show", "day off", "weekend" (shares);
                                   "date" (0 first, 1 last), "first times", "long layoffs" (songs a show)
            reviewed, others  float  mean of each
            low, high       float  95 % interval of the difference (t, unequal variances; missing below three shows on
                                   either side)
            differs         bool   the interval leaves out 0

    """
    table = circumstances(tour.plays, tour.shows, tour.rehearsals)
    columns = ["what", "reviewed", "others", "low", "high", "differs"]
    if not len(table):
        return pd.DataFrame(columns=columns).astype({"differs": bool})
    heard = counts(tour.reviews, tour.mistakes).show_id.unique()
    nights = table.groupby("at").agg(
        show_id=("show_id", "first"),
        date=("date", "first"),
        **{name: (name, "first") for name in ("room", "second show", "day off")},
        first_times=("first", "sum"),
        long_layoffs=("missed", lambda missed: (missed >= 10).sum()),  # noqa: PLR2004  # ten shows off
    )
    day = pd.Series(pd.to_datetime(nights.show_id.map(tour.shows.set_index("show_id").date)))
    nights["weekend"] = (day.dt.day_of_week >= 4).to_numpy()  # noqa: PLR2004  # Friday to Sunday
    values = {f"room: {room}": nights.room == room for room in sorted(nights.room.unique())}
    values |= {name: nights[name] for name in ("second show", "day off", "weekend", "date")}
    values |= {"first times": nights.first_times, "long layoffs": nights.long_layoffs}
    reviewed = nights.show_id.isin(heard).to_numpy()
    rows = [_difference(name, column.to_numpy(float), reviewed) for name, column in values.items()]
    return pd.DataFrame(rows, columns=columns)


def like_with_like(tour: Tour) -> pd.DataFrame:
    """The second half of the tour against the first, only where the same song was reviewed in the same kind of venue.

    How long it was out, whether it was played for the first time, and whatever else `effects` knows, is held still: on
    the second half songs come back from longer layoffs.

    Returns
    -------
    DataFrame
        One row, or none while fewer than five such songs have mistakes.
            cells, plays          int    songs in a kind of venue reviewed in both halves, and their plays
            log_ratio, se, low, high     mistakes of the second half against the first

    Notes
    -----
    Mantel-Haenszel ratio of rates over songs and rooms (S. Greenland and J. M. Robins (1985), Estimation of a common
    effect parameter from sparse follow-up data, Biometrics 41: 55-68), its standard error from leaving out one show at
    a time: the paper's own, for counts that vary no more than by chance, is a quarter smaller, and too small.

    """
    table = of_tour(tour)
    table = table.assign(later=table.date > 0.5)  # noqa: PLR2004  # the second half
    cells = table.groupby(CELL)
    both = (cells.later.transform("nunique") == 2).to_numpy()  # noqa: PLR2004  # in either half
    columns = ["cells", "plays", "log_ratio", "se", "low", "high"]
    if (cells.mistakes.sum()[cells.later.nunique() == 2] > 0).sum() < FEWEST_CELLS:  # noqa: PLR2004  # as above
        return pd.DataFrame(columns=columns)
    weight = held_still(table, table.later.to_numpy(float))[1]
    one = held(table[both], weight[both], table.mistakes.to_numpy(float)[both], CELL)
    told = table[both].groupby(CELL).ngroups, int(both.sum())
    return pd.DataFrame([[*told, one.log, one.se, one.log - one.reach, one.log + one.reach]], columns=columns)


def _difference(what: str, values: Array, reviewed: Array) -> tuple[str, float, float, float, float, bool]:
    """Means of both groups, and Welch's interval of their difference."""
    groups = [values[reviewed], values[~reviewed]]
    means = [float(group.mean()) if len(group) else float("nan") for group in groups]
    low = high = float("nan")
    if min(map(len, groups)) >= FEWEST_EITHER_SIDE:
        parts = np.array([group.var(ddof=1) / len(group) for group in groups])
        if parts.sum():
            free = parts.sum() ** 2 / (parts**2 / [len(group) - 1 for group in groups]).sum()
            reach = float(t_reach(free)) * float(np.sqrt(parts.sum()))
            low, high = means[0] - means[1] - reach, means[0] - means[1] + reach
    return what, means[0], means[1], low, high, low > 0 or high < 0
