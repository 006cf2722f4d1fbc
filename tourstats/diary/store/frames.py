"""The tables as DataFrames, straight from SQL, typed as `tables.checked` would type them.

Checking a frame cell by cell takes longer than reading it; the file's constraints have done that already, and a test
holds that the result is what `tables.checked` gives. Which columns there are, and of which kind, `tables` says.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable
from functools import cache
from typing import Any

import numpy as np
import pandas as pd

from tourstats.diary.store.schema import KEYS, stored
from tourstats.tables import DATE, Column, described

BY_SHOW = "s.date, s.number, s.show_id"
ORDER = {
    "shows": "t.date, t.number, t.show_id",
    "plays": f"{BY_SHOW}, t.position",
    "measured": f"{BY_SHOW}, t.position",
    "rehearsals": "t.date, t.rehearsal_id",
    "sections": "t.song_id, t.position",
    "tested": "t.date, t.tested_id",
}
"""How rows are ordered: by show where a row belongs to one, else as they were added, but for these."""

NUMBERED = ("rehearsals", "mistakes", "worked", "notes")
"""Tables whose rows are changed by their number, which stands behind their columns."""

PASTED = (
    "select p.show_id, p.stage, p.text, p.pasted_at from pasted p join shows s using (show_id) "
    f"order by {BY_SHOW}, p.pasted_id"
)


@cache
def query(table: str) -> str:
    """How a table is read: its columns in order, titles and places by name, what forms need at the end."""
    known = described(table)
    names = [_selected(table, name) for name in known]
    if table in NUMBERED:
        names.append(f"t.{KEYS[table]}")
    joins = ""
    if table != "songs" and "song" in known:
        joins += " left join songs g on g.song_id = t.song_id"
    if "next_song" in known:
        joins += " left join songs h on h.song_id = t.next_song_id"
    if table != "venues" and "venue" in known:
        joins += " left join venues v on v.venue_id = t.venue_id"
    by_show = table != "shows" and "show_id" in known and not known["show_id"].nullable
    if by_show:
        joins += " join shows s on s.show_id = t.show_id"
    key = f"t.{KEYS[table]}"
    order = ORDER.get(table) or (f"{BY_SHOW}, {key}" if by_show else key)
    where = " where t.stage = ?" if table == "plays" else ""
    return f"select {', '.join(names)} from {table} t{joins}{where} order by {order}"


def _selected(table: str, name: str) -> str:
    if name == "next_song":
        return "h.song as next_song"
    if name in ("song", "venue") and table != f"{name}s":
        return {"song": "g.song", "venue": "v.venue"}[name]
    if (table, name) == ("shows", "room"):
        return "coalesce(t.room, v.room) as room"  # what is not said is the venue's
    return f't.{stored(table, name)} as "{name}"'


def read(db: sqlite3.Connection, table: str, values: Iterable[Any] = ()) -> pd.DataFrame:
    """Return one table, in its order, with the right types also when it is empty."""
    cursor = db.execute(PASTED if table == "pasted" else query(table), tuple(values))
    cursor.row_factory = None
    names = [column[0] for column in cursor.description]
    rows = cursor.fetchall()
    cells = zip(*rows, strict=True) if rows else [()] * len(names)
    known = {} if table == "pasted" else described(table)
    return pd.DataFrame(
        {name: _column(name, column, known.get(name)) for name, column in zip(names, cells, strict=True)}
    )


def _column(name: str, cells: tuple[Any, ...], known: Column | None) -> Any:  # noqa: ANN401  # an array of its own kind
    kind = known.kind if known else "int" if name.endswith("_id") else "text"
    if kind == "int":
        may_be_empty = known is not None and known.nullable
        return pd.array(cells, dtype="Int64") if may_be_empty else np.array(cells, dtype="int64")
    if kind in ("float", "bool"):
        return np.array(cells, dtype="float64" if kind == "float" else "bool")
    if kind == "day":
        days = np.array([cell or "NaT" for cell in cells], dtype="datetime64[D]")
        return pd.Series(days.astype(DATE))
    return pd.array(cells, dtype="str")
