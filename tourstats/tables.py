"""Every table of the diary: columns, types, units and allowed values. This is the one place.

A table is a pandas DataFrame. `checked` turns whatever came in (a CSV, a frame typed in a notebook) into the table
described here, or says which cell is wrong. Columns that are not in a frame and not required are added, empty, so that
a model never has to ask whether one is there.
"""

from __future__ import annotations

from datetime import date, datetime
from typing import Any, ClassVar

import numpy as np
import pandas as pd
import pandera.pandas as pa
from pandera.errors import SchemaErrors
from pandera.typing import Series

from tourstats.problems import TableProblem

STATUSES = ("active", "learning", "retired")
ROOMS = ("theatre", "arena", "club", "festival", "studio", "other")
WAYS = ("listen", "pad", "kit", "band")
READINESS = ("charted", "heard", "tapped", "memorised", "on the kit", "show-ready")
SEVERITIES = (1, 2, 3)
CAUSES = ("execution", "sonic", "interpretation")
ABOUT = ("song", "changeover", "room", "show")
STAGES = ("planned", "played")
LISTENINGS = (1, 2)
KINDS = ("entry", "ending", "form", "groove", "tempo", "fill", "dynamics", "sound", "other")
"""Kinds of mistake that the forms offer; others may be typed."""

DATE = "datetime64[us]"
FIRST_YEAR, LAST_YEAR = 1700, 2199
"""Years in which a day may lie; another one is a slip, and more than some arithmetic with days can hold."""
BETWEEN_ITEMS = ";"
"""What separates the items of `aliases`, `gear` and `samples` within one cell."""


class Table(pa.DataFrameModel):
    """What all tables share: other columns are kept, values are coerced."""

    class Config:
        """Settings of pandera."""

        coerce = True
        strict = False


class Songs(Table):
    """The repertoire, a row a song."""

    song: Series[str] = pa.Field(unique=True, str_length={"min_value": 1}, description="title")
    aliases: Series[str] = pa.Field(nullable=True, description="other names, separated by semicolons")
    status: Series[str] = pa.Field(isin=STATUSES, description="whether it may be played; active if not said")
    since: Series[DATE] = pa.Field(nullable=True, description="date it joined the repertoire")
    new_release: Series[bool] = pa.Field(description="whether it is newly released; false if not said")
    tempo_bpm: Series[float] = pa.Field(nullable=True, gt=0, le=400, description="beats per minute")
    minutes: Series[float] = pa.Field(nullable=True, gt=0, le=120, description="how long it takes")
    starts_by: Series[str] = pa.Field(nullable=True, description="who starts it")
    gear: Series[str] = pa.Field(nullable=True, description="what must lie ready, separated by semicolons")
    samples: Series[str] = pa.Field(nullable=True, description="samples in the order needed, separated by semicolons")
    track: Series[str] = pa.Field(nullable=True, description="backing track or click")
    readiness: Series[str] = pa.Field(nullable=True, isin=READINESS, description="how far it is learned")
    watch: Series[str] = pa.Field(nullable=True, description="spots to watch")


class Venues(Table):
    """Places, a row a venue."""

    venue: Series[str] = pa.Field(unique=True, str_length={"min_value": 1}, description="name of the place")
    city: Series[str] = pa.Field(nullable=True, description="town")
    room: Series[str] = pa.Field(nullable=True, isin=ROOMS, description="kind of room")


class Shows(Table):
    """Performances, a row a show; played, and yet to come."""

    show_id: Series[Any] = pa.Field(unique=True, description="number of the show in the diary")
    date: Series[DATE] = pa.Field(description="day of the show")
    number: Series[int] = pa.Field(ge=1, description="first, second … show of that day; 1 if not said")
    leg: Series[str] = pa.Field(nullable=True, description="run of shows it belongs to")
    venue: Series[str] = pa.Field(nullable=True, description="name of the place")
    city: Series[str] = pa.Field(nullable=True, description="town")
    room: Series[str] = pa.Field(nullable=True, isin=ROOMS, description="kind of room")
    set_minutes: Series[float] = pa.Field(nullable=True, gt=0, description="length of the set that was asked for")
    recording: Series[str] = pa.Field(nullable=True, description="where the recording lies")


class Plays(Table):
    """Sets, a row a show and position."""

    show_id: Series[Any] = pa.Field(description="number of the show")
    position: Series[int] = pa.Field(ge=1, description="place in the set, from 1")
    song: Series[str] = pa.Field(description="title")
    encore: Series[bool] = pa.Field(description="whether it came after the main set; false if not said")


class Rehearsals(Table):
    """Runs outside the show, a row a song and day and way."""

    date: Series[DATE] = pa.Field(description="day")
    song: Series[str] = pa.Field(description="title")
    way: Series[str] = pa.Field(isin=WAYS, description="how: by listening, on a pad, at the kit, with the band")
    runs: Series[int] = pa.Field(ge=1, description="how often; 1 if not said")
    minutes: Series[float] = pa.Field(nullable=True, gt=0, description="how long in all")


class Reviews(Table):
    """Songs of recorded shows that were listened to, also when nothing was found."""

    show_id: Series[Any] = pa.Field(description="number of the show")
    song: Series[str] = pa.Field(description="title")
    listening: Series[int] = pa.Field(isin=LISTENINGS, description="1 the first time, 2 again; 1 if not said")


class Mistakes(Table):
    """What was found in a review, a row a mistake."""

    show_id: Series[Any] = pa.Field(description="number of the show")
    song: Series[str] = pa.Field(description="title")
    kind: Series[str] = pa.Field(nullable=True, description="what sort")
    section: Series[str] = pa.Field(nullable=True, description="part of the song")
    bar: Series[pd.Int64Dtype] = pa.Field(nullable=True, ge=0, description="bar within the section or song")
    severity: Series[int] = pa.Field(isin=SEVERITIES, description="1 only I heard it, 2 the band did, 3 everyone did")
    cause: Series[str] = pa.Field(nullable=True, isin=CAUSES, description="where it came from")
    said_by: Series[str] = pa.Field(nullable=True, description="who said so")
    remark: Series[str] = pa.Field(nullable=True, description="in words")
    listening: Series[int] = pa.Field(isin=LISTENINGS, description="found the first time or again; 1 if not said")


class Notes(Table):
    """Remarks worth seeing again, a row a note."""

    date: Series[DATE] = pa.Field(nullable=True, description="day it was written")
    about: Series[str] = pa.Field(isin=ABOUT, description="what it is on; song if not said")
    song: Series[str] = pa.Field(nullable=True, description="title")
    next_song: Series[str] = pa.Field(nullable=True, description="title of the song that follows, for a changeover")
    room: Series[str] = pa.Field(nullable=True, isin=ROOMS, description="kind of room it holds for")
    show_id: Series[Any] = pa.Field(nullable=True, description="number of the show it was made at")
    text: Series[str] = pa.Field(description="the remark")
    personal: Series[bool] = pa.Field(description="whether to leave it out of what others see; false if not said")


class Attendance(Table):
    """Who was where, a row a person and show. People are keyed hashes, never names."""

    person: Series[str] = pa.Field(description="keyed hash of whatever identified them")
    show_id: Series[Any] = pa.Field(description="number of the show")


class Counts(Table):
    """How many of a night's audience were at an earlier show, as somebody counted or asked."""

    show_id: Series[Any] = pa.Field(description="number of the show")
    people: Series[int] = pa.Field(ge=0, description="how many were there in all")
    earlier: Series[Any] = pa.Field(description="number of the earlier show")
    returning: Series[int] = pa.Field(ge=0, description="how many of them had been at the earlier show")


class Levels(Table):
    """Shows from which on the person says that their playing starts a new level (a new kit, a lesson, an injury)."""

    show_id: Series[Any] = pa.Field(unique=True, description="number of the first show of the new level")
    remark: Series[str] = pa.Field(nullable=True, description="why")


ALL: dict[str, type[Table]] = {
    "songs": Songs,
    "venues": Venues,
    "shows": Shows,
    "plays": Plays,
    "rehearsals": Rehearsals,
    "reviews": Reviews,
    "mistakes": Mistakes,
    "notes": Notes,
    "attendance": Attendance,
    "counts": Counts,
    "levels": Levels,
}

REQUIRED: dict[str, tuple[str, ...]] = {
    "songs": ("song",),
    "venues": ("venue",),
    "shows": ("show_id", "date"),
    "plays": ("show_id", "position", "song"),
    "rehearsals": ("date", "song", "way"),
    "reviews": ("show_id", "song"),
    "mistakes": ("show_id", "song", "severity"),
    "notes": ("text",),
    "attendance": ("person", "show_id"),
    "counts": ("show_id", "people", "earlier", "returning"),
    "levels": ("show_id",),
}
"""Columns without which a table says nothing; every other may be left out."""

DEFAULTS: dict[str, object] = {
    "status": "active",
    "new_release": False,
    "number": 1,
    "encore": False,
    "runs": 1,
    "listening": 1,
    "about": "song",
    "personal": False,
}
"""What an empty cell means in a column that cannot be empty."""


PLACE = ["show_id", "position"]
"""Columns that name one row of `plays`: one song has each place in a set."""


def _on_a_copy(name: str) -> property:
    """One of pandas' indexers: reading with it works, what is set with it is lost, as pandas then warns."""
    return property(lambda frame: getattr(frame.copy(deep=False), name))


class Checked(pd.DataFrame):
    """A table of a tour that was found right and does not change, so that it need not be looked at again.

    Whatever is made of it (a part, a copy, a join) is an ordinary DataFrame, which has to be checked like any other.
    """

    _metadata: ClassVar = ["table"]  # travels with a pickled table

    def __init__(self, frame: pd.DataFrame, table: str) -> None:
        super().__init__(frame)
        object.__setattr__(self, "table", table)

    @property
    def _constructor(self) -> Any:  # noqa: ANN401  # what pandas makes of it
        return pd.DataFrame

    def _refuse(self, *_: object, **__: object) -> None:
        name = self.table
        raise TableProblem(f"The {name} of a tour do not change. Work on a copy: `{name} = tour.{name}.copy()`.")

    # Everything that changes a frame in place goes through one of these.
    __setitem__ = __delitem__ = insert = update = _update_inplace = _set_axis = _refuse

    loc, iloc, at, iat = map(_on_a_copy, ("loc", "iloc", "at", "iat"))


def columns(table: str) -> list[str]:
    """Names of a table's columns, in order.

    Examples
    --------
    >>> columns("venues")
    ['venue', 'city', 'room']

    """
    return list(ALL[table].to_schema().columns)


def empty(table: str) -> pd.DataFrame:
    """A table with no rows and the right types.

    Examples
    --------
    >>> empty("reviews").dtypes.astype(str).to_dict()
    {'show_id': 'int64', 'song': 'str', 'listening': 'int64'}

    """
    return checked(pd.DataFrame({name: pd.Series(dtype=object) for name in columns(table)}), table)


def checked(frame: pd.DataFrame, table: str) -> pd.DataFrame:
    """Return the frame as the table described here, or say which cell is wrong.

    Parameters
    ----------
    frame
        Any frame with the required columns of the table; others may be missing, and more may be there.
    table
        Name of the table, a key of `ALL`.

    Returns
    -------
    DataFrame
        A new frame with the table's columns first, in order and typed, then the other columns as they were.
        Rows keep their order; the index is 0, 1, ….

    Raises
    ------
    TableProblem
        Names the first cell that is wrong: table, row (from 1), column, value, and what it may hold. In a table of
        plays, also the first place in a set that two rows claim.

    Examples
    --------
    >>> checked(pd.DataFrame({"show_id": [1], "date": ["2031-03-04"]}), "shows")[["date", "number", "leg"]]
            date  number  leg
    0 2031-03-04       1  NaN

    """
    if isinstance(frame, Checked) and frame.table == table:
        return frame.copy(deep=False)
    latest = _LATEST.get(table, ())
    for known in latest:
        if frame.equals(known):
            return known.copy(deep=False)
    valid = _valid(frame, table)
    # In columns of objects True is as good as 1 to `equals`, so that they may not stand for one another.
    if np.dtype(object) not in valid.dtypes.tolist():
        _LATEST[table] = (valid.copy(deep=False), *latest)[:2]
    return valid


_LATEST: dict[str, tuple[pd.DataFrame, ...]] = {}
"""The latest two of each table that were found right: every model checks what it is given, and a page asks many."""


def _valid(frame: pd.DataFrame, table: str) -> pd.DataFrame:
    """The frame as the table, typed, after every check."""
    names = columns(table)
    missing = [name for name in REQUIRED[table] if name not in frame.columns]
    if missing:
        raise TableProblem.missing_columns(table, missing, frame.columns)
    full = frame.reset_index(drop=True).reindex(columns=[*names, *(c for c in frame.columns if c not in names)])
    for name in names:
        if name in DEFAULTS:
            full[name] = full[name].astype(object).where(full[name].notna(), DEFAULTS[name])
        elif name in ("date", "since"):
            full[name] = _dates(full[name], table)
        elif name in ("show_id", "earlier"):
            full[name] = _numbers(full[name], nullable=ALL[table].to_schema().columns[name].nullable)
    try:
        valid = ALL[table].validate(full, lazy=True)
    except SchemaErrors as errors:
        raise _first(errors, table, full) from errors
    if table == "plays" and (taken := valid.duplicated(PLACE)).any():
        raise _place_taken(valid, valid[taken].iloc[0])
    return valid.astype({name: DATE for name in ("date", "since") if name in names})


def in_order(shows: pd.DataFrame) -> pd.DataFrame:
    """Checked shows in the order in which they were played: by day, number on the day, then show_id.

    Examples
    --------
    >>> shows = pd.DataFrame({"show_id": [7, 3], "date": ["2031-03-04"] * 2, "number": [2, 1]})
    >>> in_order(shows).show_id.tolist()
    [3, 7]

    """
    return checked(shows, "shows").sort_values(["date", "number", "show_id"], kind="stable", ignore_index=True)


def of_known_shows(rows: pd.DataFrame, shows: pd.DataFrame, table: str) -> None:
    """Ask about rows of a table whose show is not among `shows`, both checked already.

    Examples
    --------
    >>> of_known_shows(pd.DataFrame({"show_id": [1, 9]}), pd.DataFrame({"show_id": [1, 2]}), "plays")
    Traceback (most recent call last):
    ...
    tourstats.problems.TableProblem: The table of plays has rows for 9, which the table of shows does not have. Add the
    show, or take these rows out.

    """
    unknown = rows.loc[~rows.show_id.isin(shows.show_id), "show_id"].unique()
    if len(unknown):
        raise TableProblem.unknown_shows(table, list(unknown))


def in_sets(plays: pd.DataFrame, shows: pd.DataFrame) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Put played sets and their shows in order, and number the shows that have a set.

    Parameters
    ----------
    plays, shows
        As in `Plays` and `Shows`; every play's show has to be there.

    Returns
    -------
    plays
        Checked, ordered by show and position, with `at`: place of the show among those that have a set, from 0.
    shows
        Checked, in order, only those that have a set, with the same `at` (equal to the index).

    Raises
    ------
    TableProblem
        If a play belongs to a show that is not in `shows`, or a table is wrong.

    Examples
    --------
    >>> shows = pd.DataFrame({"show_id": [1, 2], "date": ["2031-03-04", "2031-03-05"]})
    >>> plays = pd.DataFrame({"show_id": [1, 1, 2, 2], "position": [1, 2, 1, 2], "song": ["A", "B", "B", "C"]})
    >>> ordered, _ = in_sets(plays.iloc[::-1], shows)
    >>> ordered[["show_id", "position", "song", "at"]]
       show_id  position song  at
    0        1         1    A   0
    1        1         2    B   0
    2        2         1    B   1
    3        2         2    C   1

    """
    plays, ordered = checked(plays, "plays"), in_order(shows)
    of_known_shows(plays, ordered, "plays")
    ordered = ordered[ordered.show_id.isin(plays.show_id)].reset_index(drop=True)
    ordered["at"] = range(len(ordered))
    plays = plays.assign(at=plays.show_id.map(dict(zip(ordered.show_id, ordered["at"], strict=True))).astype(int))
    return plays.sort_values(["at", "position"], kind="stable", ignore_index=True), ordered


def items(cell: object) -> list[str]:
    """Split the items of one cell (gear, samples, aliases).

    Examples
    --------
    >>> items("brushes; small cowbell ;")
    ['brushes', 'small cowbell']
    >>> items(float("nan"))
    []

    """
    if not isinstance(cell, str):
        return []
    return [item.strip() for item in cell.split(BETWEEN_ITEMS) if item.strip()]


def _dates(values: pd.Series, table: str) -> pd.Series:
    """Days from datetimes, date objects or ISO text; anything else is asked about, never guessed."""
    if pd.api.types.is_datetime64_any_dtype(values):
        far = ~values.dt.year.between(FIRST_YEAR, LAST_YEAR) & values.notna()
        if far.any():
            row = int(far.to_numpy().argmax())
            raise _no_day(values.iloc[row].date().isoformat(), row + 1, str(values.name), table)
        return values.dt.tz_localize(None).dt.normalize().astype(DATE)
    return pd.Series(
        [_date(value, row, str(values.name), table) for row, value in enumerate(values, start=1)], dtype=DATE
    )


def _numbers(values: pd.Series, *, nullable: bool) -> pd.Series:
    """Show numbers as integers wherever they are, so that tables of shows and plays join; other names stay."""
    known = values.dropna()
    if not all(
        isinstance(value, int | np.integer) or (isinstance(value, float) and value.is_integer()) for value in known
    ):
        return values
    return values.astype("Int64" if nullable or len(known) < len(values) else "int64")


def _date(value: object, row: int, column: str, table: str) -> date | None:
    day = value
    if isinstance(value, str):
        try:
            day = date.fromisoformat(value.strip())
        except ValueError as error:
            raise _no_day(value, row, column, table) from error
    elif pd.isna(value):
        return None
    elif isinstance(value, datetime):
        day = value.date()
    if isinstance(day, date) and in_reach(day):
        return day
    raise _no_day(value, row, column, table)


def in_reach(day: date) -> bool:
    """Whether a day lies in the years that can be counted in.

    Examples
    --------
    >>> in_reach(date(2031, 3, 4)), in_reach(date(9999, 12, 31))
    (True, False)

    """
    return FIRST_YEAR <= day.year <= LAST_YEAR


def _no_day(value: object, row: int, column: str, table: str) -> TableProblem:
    return TableProblem.bad_value(table, column, row, value, "a day such as 2031-03-04")


def _first(errors: SchemaErrors, table: str, frame: pd.DataFrame) -> TableProblem:
    """Turn pandera's report into one sentence about the first wrong cell."""
    cases = errors.failure_cases
    cell = cases[cases["index"].notna()]
    case = (cell if len(cell) else cases).iloc[0]
    column, check = str(case["column"]), str(case["check"])
    if pd.isna(case["index"]):
        return TableProblem(f"The table of {table}: `{column}` does not fit its description ({check}).")
    row = int(case["index"])
    value = frame[column].iloc[row]
    value = value.item() if isinstance(value, np.generic) else value
    return TableProblem.bad_value(table, column, row + 1, value, _expected(check, table, column))


def _place_taken(plays: pd.DataFrame, row: pd.Series) -> TableProblem:
    """Turn one place that is taken twice into a sentence."""
    same = (plays.show_id == row.show_id) & (plays.position == row.position)
    return TableProblem.place_taken(row.show_id, row.position, plays.song[same].tolist())


def _expected(check: str, table: str, column: str) -> str:
    """Say in words what a column may hold."""
    field = ALL[table].to_schema().columns[column]
    for rule in field.checks:
        if rule.name == "isin":
            return f"one of {', '.join(map(str, rule.statistics['allowed_values']))}"
    if "unique" in check:
        return "there once only"
    if check == "not_nullable":
        return "filled in"
    limits = [
        f"{_LIMIT[rule.name]} {next(iter(rule.statistics.values()))}" for rule in field.checks if rule.name in _LIMIT
    ]
    kind = "text" if str(field.dtype) == "str" else "a number"
    return " ".join([kind, *limits])


_LIMIT = {
    "greater_than": "over",
    "greater_than_or_equal_to": "of at least",
    "less_than_or_equal_to": "and at most",
}


def __getattr__(name: str) -> Any:  # noqa: ANN401  # a class
    """Find `Tables` under the name by which the tour was known when it was part of this module."""
    if name == "Tables":
        from tourstats.tour import Tour  # noqa: PLC0415  # the tour is made of these tables

        return Tour
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
