"""Which shows were reviewed is no accident either: how they differ from the others, and the trend like with like."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from tourstats.models.estimates import t_reach
from tourstats.models.playing.contrast import mantel_haenszel
from tourstats.models.playing.performances import circumstances, counts, performances
from tourstats.tables import in_order

Array = npt.NDArray[Any]

FEWEST_EITHER_SIDE = 3
FEWEST_CELLS = 5


def review_bias(
    plays: pd.DataFrame, shows: pd.DataFrame, reviews: pd.DataFrame, mistakes: pd.DataFrame
) -> pd.DataFrame:
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
    table = circumstances(plays, shows)
    heard = counts(reviews, mistakes).show_id.unique()
    nights = table.groupby("at").agg(
        show_id=("show_id", "first"),
        date=("date", "first"),
        **{name: (name, "first") for name in ("room", "second show", "day off")},
        first_times=("first", "sum"),
        long_layoffs=("missed", lambda missed: (missed >= 10).sum()),  # noqa: PLR2004  # ten shows off
    )
    day = pd.Series(pd.to_datetime(nights.show_id.map(_dates(shows))))
    nights["weekend"] = (day.dt.day_of_week >= 4).to_numpy()  # noqa: PLR2004  # Friday to Sunday
    values = {f"room: {room}": nights.room == room for room in sorted(nights.room.unique())}
    values |= {name: nights[name] for name in ("second show", "day off", "weekend", "date")}
    values |= {"first times": nights.first_times, "long layoffs": nights.long_layoffs}
    reviewed = nights.show_id.isin(heard).to_numpy()
    rows = [_difference(name, column.to_numpy(float), reviewed) for name, column in values.items()]
    return pd.DataFrame(rows, columns=["what", "reviewed", "others", "low", "high", "differs"])


def like_with_like(
    plays: pd.DataFrame, shows: pd.DataFrame, reviews: pd.DataFrame, mistakes: pd.DataFrame
) -> pd.DataFrame:
    """The second half of the tour against the first, only where the same song was reviewed in the same kind of venue.

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
    a time.

    """
    table = performances(plays, shows, reviews, mistakes)
    later = (table.date > 0.5).to_numpy()  # noqa: PLR2004  # the second half
    cell = pd.factorize(pd.MultiIndex.from_frame(table[["song", "room"]]))[0]
    size = int(cell.max(initial=-1)) + 1
    sides = [np.bincount(cell[rows], minlength=size) > 0 for rows in (later, ~later)]
    both = sides[0] & sides[1]
    with_mistakes = both & (np.bincount(cell, table.mistakes, size) > 0)
    columns = ["cells", "plays", "log_ratio", "se", "low", "high"]
    if with_mistakes.sum() < FEWEST_CELLS:
        return pd.DataFrame(columns=columns)
    rows = both[cell]
    cell, later, found = cell[rows], later[rows], table.mistakes.to_numpy(float)[rows]
    night = table["at"].to_numpy()[rows]
    whole = _ratio(cell, later, found, size)
    parts = np.array([_ratio(cell[k], later[k], found[k], size) for k in (night != n for n in np.unique(night))])
    se = float(np.sqrt((len(parts) - 1) / len(parts) * ((parts - parts.mean()) ** 2).sum()))
    reach = float(t_reach(max(len(parts) - 2, 1))) * se
    values = [int(both.sum()), int(rows.sum()), whole, se, whole - reach, whole + reach]
    return pd.DataFrame([values], columns=columns)


def _ratio(cell: Array, later: Array, found: Array, size: int) -> float:
    sums = (np.bincount(cell, weight, size) for weight in (found * later, found * ~later, later, ~later))
    return float(mantel_haenszel(*sums)[0])


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


def _dates(shows: pd.DataFrame) -> dict[Any, Any]:
    order = in_order(shows)
    return dict(zip(order.show_id, order.date, strict=True))
