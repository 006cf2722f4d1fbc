"""Whole tables taken in, with the numbers that their shows, mistakes and notes had."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

from tourstats.diary import notes, people, shows, songs
from tourstats.diary.shows import show_key
from tourstats.diary.songs import song_key
from tourstats.diary.store.changes import Store
from tourstats.diary.store.frames import NUMBERED
from tourstats.diary.store.schema import KEYS
from tourstats.diary.store.values import as_int, cleaned
from tourstats.problems import Problem, TableProblem
from tourstats.tables import ALL, REQUIRED

Row = dict[str, Any]
PASTED = ("show_id", "stage", "text", "pasted_at")
Take = Callable[[Store, Row], None]


def take_tables(
    store: Store, /, tables: Mapping[str, Sequence[Mapping[str, object]]], words: str = "the tables"
) -> None:
    """Fill an empty diary from tables as `export` writes them, as one change.

    Parameters
    ----------
    tables
        Rows by the name of the table: those of `tables.ALL`, `planned` and `pasted`.
    words
        What `undo` calls the change.

    Raises
    ------
    Problem
        Names the table, row and value that is wrong; nothing is written then.

    """
    with store.atomic(words):
        _must_be_empty(store)
        for name, take in TAKERS.items():
            _must_have(name, tables.get(name, ()))
            for number, row in enumerate(tables.get(name, ()), start=2):
                try:
                    take(store, dict(row))
                except Problem as problem:
                    raise TableProblem(f"Row {number} of {name}: {problem}") from problem


def _must_be_empty(store: Store) -> None:
    for table in ("songs", "venues", "shows", "notes"):
        if store.select(f"select 1 from {table} limit 1").fetchone():
            raise Problem(
                f"The diary {store.path} is not empty: it has {table}. Tables are read into a new diary; "
                "name a new file with `--diary`."
            )


def _must_have(name: str, rows: Sequence[Mapping[str, object]]) -> None:
    """Refuse a table without a column that it needs."""
    needed = PASTED if name == "pasted" else REQUIRED["plays" if name == "planned" else name]
    missing = [column for column in needed if rows and column not in rows[0]]
    if missing:
        raise TableProblem.missing_columns(name, missing, list(rows[0]))


def _plain(table: str, **more: object) -> Take:
    """Take rows whose song and show are written as title and number, and which may have a number of their own."""

    def take(store: Store, row: Row) -> None:
        numbered = _number(row, table)
        store.insert(table, {**_keyed(store, cleaned(table, row)), **numbered, **more})

    return take


def _song(store: Store, row: Row) -> None:
    songs.add_song(store, **row)


def _show(store: Store, row: Row) -> None:
    show = cleaned("shows", {**dict.fromkeys(("venue", "city", "room")), **row})
    found = store.select("select * from venues where venue = ?", (show.get("venue"),)).fetchone()
    if found is None:
        shows.placed(store, show)
    else:
        del show["venue"]
        show["venue_id"] = found["venue_id"]
        if show.get("room") == found["room"]:
            show["room"] = None
    shows.is_free(store, {"number": 1, "city": None, **show})
    store.insert("shows", show)


def _note(store: Store, row: Row) -> None:
    numbered = _number(row, "notes")
    empty = dict.fromkeys(("about", "song", "next_song", "room", "venue", "show_id"))
    store.insert("notes", {**notes.linked(store, cleaned("notes", {**empty, **row})), **numbered})


def _count(store: Store, row: Row) -> None:
    cleaned("counts", row)  # says which column there is not
    people.add_counts(store, **row)


def _attendance(store: Store, row: Row) -> None:
    """Whoever comes in is hashed, unless it is a hash of ours already: a table may be somebody's own list of guests."""
    kept = _keyed(store, cleaned("attendance", row))
    if not people.is_hash(kept["person"]):
        kept["person"] = people.hasher()(kept["person"])
    store.insert("attendance", kept, tail="on conflict do nothing")


def _pasted(store: Store, row: Row) -> None:
    store.insert("pasted", {name: row[name] for name in PASTED} | {"show_id": show_key(store, row["show_id"])})


_OWN: dict[str, Take] = {
    "songs": _song, "shows": _show, "notes": _note, "attendance": _attendance, "counts": _count, "pasted": _pasted,
    "plays": _plain("plays", stage="played"), "planned": _plain("plays", stage="planned"),
}  # fmt: skip
_ORDER = [name for table in ALL for name in ((table, "planned") if table == "plays" else (table,))]
TAKERS = {name: _OWN.get(name) or _plain(name) for name in (*_ORDER, "pasted")}
"""What to do with a row of each table, in the order in which they refer to one another."""


def _keyed(store: Store, row: Row) -> Row:
    """Put keys in the place of titles, and look whether shows are there."""
    if "show_id" in row:
        row["show_id"] = show_key(store, row["show_id"])
    if "song" in row and "song_id" not in row:
        row["song_id"] = song_key(store, row.pop("song"))
    return row


def _number(row: Row, table: str) -> Row:
    """Take the row's own number out of it, where it has one."""
    said = row.pop(KEYS[table], None) if table in NUMBERED else None
    return {KEYS[table]: as_int(said)} if said else {}
