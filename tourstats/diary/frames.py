"""The tables as DataFrames, straight from SQL, typed as `tables.checked` would type them.

Checking a frame cell by cell takes longer than reading it; the file's constraints have done that already, and a test
holds that the result is what `tables.checked` gives.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable
from typing import Any

import numpy as np
import pandas as pd

from tourstats.tables import DATE

QUERIES: dict[str, str] = {
    "songs": (
        "select song, aliases, status, since, new_release, tempo_bpm, minutes, starts_by, gear, samples, track, "
        "readiness, watch from songs order by song_id"
    ),
    "venues": "select venue, city, room from venues order by venue_id",
    "shows": (
        "select s.show_id, s.date, s.number, s.leg, v.venue, s.city, coalesce(s.room, v.room) as room, s.set_minutes, "
        "s.recording from shows s left join venues v using (venue_id) order by s.date, s.number, s.show_id"
    ),
    "plays": (
        "select p.show_id, p.position, g.song, p.encore from plays p join shows s using (show_id) "
        "join songs g using (song_id) where p.stage = ? order by s.date, s.number, s.show_id, p.position"
    ),
    "rehearsals": (
        "select r.date, g.song, r.way, r.runs, r.minutes, r.rehearsal_id from rehearsals r join songs g "
        "using (song_id) order by r.date, r.rehearsal_id"
    ),
    "reviews": (
        "select r.show_id, g.song, r.listening from reviews r join shows s using (show_id) "
        "join songs g using (song_id) order by s.date, s.number, s.show_id, r.review_id"
    ),
    "mistakes": (
        "select m.show_id, g.song, m.kind, m.section, m.bar, m.severity, m.cause, m.said_by, m.remark, m.listening, "
        "m.mistake_id from mistakes m join shows s using (show_id) join songs g using (song_id) "
        "order by s.date, s.number, s.show_id, m.mistake_id"
    ),
    "notes": (
        "select n.date, n.about, g.song, h.song as next_song, n.room, n.show_id, n.text, n.personal, n.note_id "
        "from notes n left join songs g on g.song_id = n.song_id left join songs h on h.song_id = n.next_song_id "
        "order by n.note_id"
    ),
    "attendance": (
        "select a.person, a.show_id from attendance a join shows s using (show_id) "
        "order by s.date, s.number, s.show_id, a.attendance_id"
    ),
    "counts": (
        'select c.show_id, c.people, c.earlier, c.came_back as "returning" from counts c join shows s using (show_id) '
        "order by s.date, s.number, s.show_id, c.count_id"
    ),
    "levels": (
        "select l.show_id, l.remark from levels l join shows s using (show_id) order by s.date, s.number, s.show_id"
    ),
    "pasted": (
        "select p.show_id, p.stage, p.text, p.pasted_at from pasted p join shows s using (show_id) "
        "order by s.date, s.number, s.show_id, p.pasted_id"
    ),
}
"""How each table is read; columns in the order of `tables`, keys that forms need at the end."""

WHOLE = {
    "show_id", "number", "position", "runs", "listening", "severity", "people", "earlier", "returning",
    "mistake_id", "note_id", "rehearsal_id",
}  # fmt: skip
MAY_BE_EMPTY = {("mistakes", "bar"), ("notes", "show_id")}
NUMBERS = {"tempo_bpm", "minutes", "set_minutes"}
YES_OR_NO = {"new_release", "encore", "personal"}
DAYS = {"date", "since"}


def read(db: sqlite3.Connection, table: str, values: Iterable[Any] = ()) -> pd.DataFrame:
    """Return one table, in its order, with the right types also when it is empty."""
    cursor = db.execute(QUERIES[table], tuple(values))
    cursor.row_factory = None
    names = [column[0] for column in cursor.description]
    rows = cursor.fetchall()
    cells = zip(*rows, strict=True) if rows else [()] * len(names)
    return pd.DataFrame({name: _column(table, name, column) for name, column in zip(names, cells, strict=True)})


def _column(table: str, name: str, cells: tuple[Any, ...]) -> Any:  # noqa: ANN401  # an array of the column's own kind
    if (table, name) in MAY_BE_EMPTY:
        return pd.array(cells, dtype="Int64")
    if name in WHOLE:
        return np.array(cells, dtype="int64")
    if name in NUMBERS:
        return np.array(cells, dtype="float64")
    if name in YES_OR_NO:
        return np.array(cells, dtype="bool")
    if name in DAYS:
        days = np.array([cell or "NaT" for cell in cells], dtype="datetime64[D]")
        return pd.Series(days.astype(DATE))
    return pd.array(cells, dtype="str")
