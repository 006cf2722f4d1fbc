"""Every reviewed performance with its circumstances, and rates of mistakes by any of them."""

from __future__ import annotations

from collections.abc import Sequence

import pandas as pd

from tourstats.models.estimates import gamma_poisson, one_thread
from tourstats.models.playing.performances import performances as reviewed
from tourstats.models.playing.song_rates import NOT_SAID, RatesProblem
from tourstats.tables import described, in_sets, items, latest_kept
from tourstats.tour import Tour

MOST_VALUES = 12
"""Values up to which a column of numbers is taken as it is; with more, its quarters are compared."""
NOT_RUN = "not run"
WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
NAMED = {
    "missed": "layoff_shows",
    "first": "first_time",
    "new transition": "new_transition",
    "ran": "ran",
    "went wrong last time": "wrong_last_time",
    "other room": "other_room",
    "second show": "second_show",
    "day off": "day_off",
    "encore": "encore",
    "mistakes": "mistakes",
}
"""Circumstances that are known of each reviewed performance, and their names in a formula."""


@latest_kept
def performances(tour: Tour) -> pd.DataFrame:
    """Each reviewed performance: what was found in it, and all that was known of it before it was played.

    Returns
    -------
    DataFrame
        A row a show and song that was reviewed, by show and position. A name here can stand in a formula.
            show_id, song
            mistakes        int    found at the first listening
            serious         int    of them, those that everyone heard (severity 3)
            position        int    place in the set; place float, 0 the first song of the set and 1 the last
            previous        str    the song before it in the set, missing for the first
            layoff_shows    int    shows that it missed since it was last played
            layoff_days     int    days since it was last played, 0 the first time
            ran             str    how it was last run before the show (kit, band, pad, listen), "not run" without
            first_time, new_transition, wrong_last_time, other_room, second_show, day_off, encore   bool
            nth             int    how many times it had been played before
            show            int    the how many-th show with a set this was, from 1
            weekday         str
        then what the tables of shows and songs say of them.

    Examples
    --------
    >>> tour = Tour.of(
    ...     shows=pd.DataFrame({"show_id": [1, 2], "date": ["2031-03-04", "2031-03-06"], "city": ["Ostby", "Weir"]}),
    ...     songs=pd.DataFrame({"song": ["Ferry"], "starts_by": ["Ada"]}),
    ...     plays=pd.DataFrame({"show_id": [1, 2], "position": 1, "song": "Ferry"}),
    ...     reviews=pd.DataFrame({"show_id": [1, 2], "song": "Ferry"}),
    ... )
    >>> performances(tour)[["show_id", "song", "mistakes", "layoff_days", "city", "starts_by"]]
       show_id   song  mistakes  layoff_days   city starts_by
    0        1  Ferry         0            0  Ostby       Ada
    1        2  Ferry         0            2   Weir       Ada

    """
    found = reviewed(tour.plays, tour.shows, tour.reviews, tour.mistakes, tour.rehearsals)
    table = found[["show_id", "song", *NAMED]].rename(columns=NAMED)
    table["ran"] = table.ran.replace("", NOT_RUN)
    plays, shows = in_sets(tour.plays, tour.shows)
    plays["previous"] = plays.groupby("at").song.shift(1)
    once = plays.drop_duplicates(["at", "song"])
    once = once.assign(nth=once.groupby("song").cumcount(), date=shows.date.to_numpy()[once["at"]])
    once["layoff_days"] = once.groupby("song").date.diff().dt.days.fillna(0).astype(int)
    last = (once["at"].map(plays["at"].value_counts()) - 1).clip(lower=1)
    once["place"] = once.groupby("at").cumcount() / last
    keys, worst = ["show_id", "song"], tour.mistakes[(tour.mistakes.severity == 3) & (tour.mistakes.listening == 1)]  # noqa: PLR2004  # everyone heard it
    serious = worst.groupby(keys).size().rename("serious").reset_index()
    once = once[[*keys, "position", "place", "previous", "nth", "layoff_days"]]
    table = table.merge(once, on=keys).merge(serious, how="left", on=keys)
    table["serious"] = table.serious.fillna(0).astype(int)
    nights = shows.rename(columns={"at": "show"}).assign(
        show=lambda t: t.show + 1, weekday=pd.array([WEEKDAYS[day] for day in shows.date.dt.day_of_week], dtype="str")
    )
    return table.merge(nights, on="show_id").merge(tour.songs, how="left", on="song").reset_index(drop=True)


@one_thread
def rates_by(table: pd.DataFrame, by: str | Sequence[str], count: str = "mistakes") -> pd.DataFrame:
    """Rate of mistakes in each group of performances, drawn towards the mean of all groups.

    Parameters
    ----------
    table
        As from `performances`, or a part of it, or with further columns.
    by
        A column, or several. A column of numbers with many values is compared by its quarters; one that lists items
        (gear, samples) counts a performance for each of its items.
    count
        What is counted: mistakes, serious, or a column of one's own.

    Returns
    -------
    DataFrame
        A row a group, the most mistakes first: the columns of `by`, reviewed, mistakes, rate, low, high (95 % interval
        of the true rate).

    Raises
    ------
    RatesProblem
        If there is no such column; the sentence lists those that there are.

    Examples
    --------
    >>> table = pd.DataFrame({"mistakes": [3, 0, 1, 2], "starts_by": ["Ada", "Ben", "Ben", "Ada"]})
    >>> rates_by(table, "starts_by")[["starts_by", "reviewed", "mistakes"]]
      starts_by  reviewed  mistakes
    0       Ada         2         5
    1       Ben         2         1

    """
    names = [by] if isinstance(by, str) else list(by)
    for name in (*names, count):
        if name not in table.columns:
            raise RatesProblem.unknown("by" if name in names else "count", name, tuple(map(str, table.columns)))
    rows = table[[*names, count]].copy()
    for name in names:
        rows = _told_apart(rows, name)
    groups = rows.groupby(names, sort=False, observed=True)[count]
    told = groups.agg(reviewed="size", mistakes="sum").reset_index()
    model = gamma_poisson(told.mistakes, told.reviewed.astype(float))
    low, high = model.interval(told.mistakes, told.reviewed.astype(float))
    told = told.assign(rate=model.mean(told.mistakes, told.reviewed.astype(float)), low=low, high=high)
    return told.sort_values("rate", ascending=False, kind="stable", ignore_index=True)


def _told_apart(rows: pd.DataFrame, name: str) -> pd.DataFrame:
    """Make a column one of groups: items one by one, many numbers as their quarters, and what is missing in words."""
    values = rows[name]
    if any(name in described(table) and described(table)[name].items for table in ("songs", "shows")):
        rows = rows.assign(**{name: values.map(items)}).explode(name, ignore_index=True)
    elif pd.api.types.is_numeric_dtype(values) and values.nunique() > MOST_VALUES:
        quarters = pd.qcut(values.astype(float), 4, duplicates="drop")
        words = [NOT_SAID if pd.isna(part) else f"over {part.left:.4g} to {part.right:.4g}" for part in quarters]
        return rows.assign(**{name: words})
    elif pd.api.types.is_datetime64_any_dtype(values):
        rows = rows.assign(**{name: values.dt.strftime("%Y-%m")})
    if rows[name].isna().any():
        rows = rows.assign(**{name: rows[name].astype(object).where(rows[name].notna(), NOT_SAID)})
    return rows
