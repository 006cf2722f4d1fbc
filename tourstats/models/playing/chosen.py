"""Which shows were reviewed is no accident either: how they differ from the others, and the trend like with like."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from tourstats.models.estimates import t_reach
from tourstats.models.playing.contrast import mantel_haenszel
from tourstats.models.playing.performances import circumstances, counts, of_tour
from tourstats.tour import Tour

Array = npt.NDArray[Any]

FEWEST_EITHER_SIDE = 3
FEWEST_CELLS = 5


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
    return pd.DataFrame(rows, columns=["what", "reviewed", "others", "low", "high", "differs"])


def like_with_like(tour: Tour) -> pd.DataFrame:
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
    effect parameter from sparse follow-up data, Biometrics 41: 55-68). Its standard error is by what is left over at
    each show, so that nights may vary, each residual made as large as it was before its cell's level was fitted to it
    (Bell and McCaffrey, see `tourstats.models.playing.within`): most cells hold two performances.

    """
    table = of_tour(tour)
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
    sums = [np.bincount(cell, weight, size) for weight in (found * later, found * ~later, later, ~later)]
    whole, se = _ratio(cell, later, found, np.unique(night, return_inverse=True)[1], sums)
    reach = float(t_reach(max(len(np.unique(night)) - 2, 1))) * se
    values = [int(both.sum()), int(rows.sum()), whole, se, whole - reach, whole + reach]
    return pd.DataFrame([values], columns=columns)


def _ratio(cell: Array, later: Array, found: Array, night: Array, sums: list[Array]) -> tuple[float, float]:
    """Logarithm of the ratio over cells, and its standard error."""
    after, before, since, until = (of_cell[cell] for of_cell in sums)
    log, up, _ = (float(value) for value in mantel_haenszel(*sums))
    times = np.where(later, np.exp(log), 1.0)
    taken = times / (np.exp(log) * since + until)
    left = (found - (after + before) * taken) / np.sqrt(1 - taken)
    scores = np.bincount(night, np.where(later, until, -np.exp(log) * since) / (since + until) * left)
    return log, float(np.sqrt((scores**2).sum())) / max(up, 0.25)


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
