"""Values on their way in: each cell checked against its description in `tables`, one row at a time.

`tables.checked` looks at whole frames; this does the same for a row in microseconds, so that a history of
20,000 rows goes in quickly. What a column may hold is read from `tables`, never repeated here.
"""

from __future__ import annotations

import math
import unicodedata
from collections.abc import Mapping, Sequence
from datetime import date, datetime
from typing import Any

import numpy as np
import pandas as pd

from tourstats import tables
from tourstats.problems import TableProblem, listed

SINGULAR = {table: f"a {table.removesuffix('s')}" for table in tables.ALL} | {
    "plays": "a set", "worked": "a thing that worked", "tested": "a tested answer", "measured": "a measured song",
    "attendance": "a person at a show", "levels": "a new level", "things": "a thing to set out",
}  # fmt: skip
"""What one row of a table is called."""

LARGEST = 10**12
"""No number in a diary comes near this; larger ones are slips of the finger."""


def cleaned(table: str, row: Mapping[str, object]) -> dict[str, Any]:
    """Return the row as SQLite stores it, or say which value is wrong and what it may be.

    Parameters
    ----------
    table
        Name of the table, as in `tables.ALL`.
    row
        Some or all of its columns. Text is stripped, and empty text means missing; a missing value in a column that
        cannot be empty becomes its default.

    Raises
    ------
    TableProblem
        If there is no such column, or a value does not fit it.

    Examples
    --------
    >>> cleaned("songs", {"song": " Salt  Road ", "gear": ["brushes", "bell"], "status": ""})
    {'song': 'Salt Road', 'gear': 'brushes; bell', 'status': 'active'}

    """
    known = tables.described(table)
    unknown = [name for name in row if name not in known]
    if unknown:
        raise TableProblem(
            f"{SINGULAR[table][:1].upper()}{SINGULAR[table][1:]} has no {listed(unknown)}. It has: {', '.join(known)}."
        )
    return {name: _cell(table, name, value, known[name]) for name, value in row.items()}


def is_missing(value: object) -> bool:
    """Whether a cell says nothing."""
    if value is None or value is pd.NA or value is pd.NaT:
        return True
    if isinstance(value, float | np.floating):
        return math.isnan(value)
    if isinstance(value, str):
        return not value.strip()
    return isinstance(value, np.datetime64) and bool(np.isnat(value))


def clean_text(value: str, *, one_line: bool = False) -> str:
    """Strip text, write accents one way, and leave out what no file can hold.

    Examples
    --------
    >>> clean_text(" Salt   Road ", one_line=True)
    'Salt Road'

    """
    text = unicodedata.normalize("NFC", value.encode("utf-8", "replace").decode("utf-8").replace("\0", ""))
    return " ".join(text.split()) if one_line else text.strip()


def folded(title: str) -> str:
    """A title as it is compared: "salt road " and "Salt Road" are one song."""
    return clean_text(title, one_line=True).casefold()


def _cell(table: str, name: str, value: object, rule: tables.Column) -> Any:  # noqa: ANN401  # text or number
    if rule.kind == "text":
        value = _text(value, rule)
    if is_missing(value):
        if rule.default is not None:
            return int(rule.default) if isinstance(rule.default, bool) else rule.default
        if rule.nullable:
            return None
        raise TableProblem(f"The `{name}` of {SINGULAR[table]} has to be filled in; it is {rule.expected()}.")
    cell = _READERS[rule.kind](value)
    if (
        cell is None
        or (rule.choices and cell not in rule.choices)
        or (rule.over is not None and not cell > rule.over)
        or (rule.least is not None and not cell >= rule.least)
        or (rule.most is not None and not cell <= rule.most)
    ):
        shown = value.item() if isinstance(value, np.generic) else value
        raise TableProblem(f"The `{name}` of {SINGULAR[table]} cannot be {shown!r}; it has to be {rule.expected()}.")
    return cell


def _text(value: object, rule: tables.Column) -> object:
    """Text as it is stored: a list with semicolons between its items, an earlier program's word as it is said now."""
    if isinstance(value, list | tuple):
        value = f"{tables.BETWEEN_ITEMS} ".join(str(item).strip() for item in value)
    if not isinstance(value, str):
        return value
    text = clean_text(value, one_line=rule.one_line)
    return rule.was.get(text, text)


def _as_text(value: object) -> str | None:
    if isinstance(value, bool | np.bool_):
        return None
    if isinstance(value, str | int | float | np.number):
        return str(value)
    return None


def as_int(value: object) -> int | None:
    """Read a whole number, also from text or from a frame's cell; None if it is none."""
    number = _as_float(value)
    return int(number) if number is not None and number.is_integer() else None


def _as_float(value: object) -> float | None:
    if isinstance(value, bool | np.bool_) or not isinstance(value, str | int | float | np.number):
        return None
    try:
        number = float(value)
    except (ValueError, OverflowError):
        return None
    return number if abs(number) < LARGEST else None


def _as_bool(value: object) -> int | None:
    if isinstance(value, str):
        return {"yes": 1, "true": 1, "1": 1, "no": 0, "false": 0, "0": 0}.get(value.strip().lower())
    if isinstance(value, bool | np.bool_ | int | float | np.number) and value in (0, 1):
        return int(value)
    return None


def _as_day(value: object) -> str | None:
    if isinstance(value, np.datetime64):
        value = pd.Timestamp(value)
    if isinstance(value, datetime):
        value = value.date()
    if isinstance(value, str):
        try:
            value = date.fromisoformat(value.strip())
        except ValueError:
            return None
    if isinstance(value, date) and tables.in_reach(value):
        return value.isoformat()
    return None


_READERS: dict[str, Any] = {
    "text": _as_text,
    "int": as_int,
    "float": _as_float,
    "bool": _as_bool,
    "day": _as_day,
}


def rows_in(given: pd.DataFrame | Sequence[Mapping[str, object]]) -> list[dict[str, Any]]:
    """Rows of a table, whichever way it was given."""
    return given.to_dict("records") if isinstance(given, pd.DataFrame) else [dict(row) for row in given]


def without(row: Mapping[str, object], *known: str) -> dict[str, Any]:
    """A row without what is known already."""
    return {name: value for name, value in row.items() if name not in known}


def or_today(date: object) -> object:
    """A day, today if not said."""
    return datetime.now().date() if is_missing(date) else date  # noqa: DTZ005  # the day on the wall
