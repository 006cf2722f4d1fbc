"""What the file has to have by what `tables` describes: columns, and the triggers that note every change for `undo`.

A table is made by a step of `migrations`. A column is added when a file without it is opened, and triggers are made
anew whenever they do not name exactly what their table has, so that a column that is stored can always be undone.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator

from tourstats.problems import listed
from tourstats.tables import ALL, Column, described

KEYS = {table: f"{table.removesuffix('s')}_id" for table in (*ALL, "pasted")}
"""Key of each table whose changes can be taken back."""

ASIDE = ("drafts", "changes", "was")
"""Tables that are no part of the diary itself: what was typed and not saved, and what `undo` reads."""

_REFERS = {"song": "songs", "next_song": "songs", "venue": "venues"}
_OWN_NAMES = {("counts", "returning"): "came_back"}  # a word that SQLite keeps for itself
_TYPES = {"text": "text", "day": "text", "int": "integer", "bool": "integer", "float": "real"}


def stored(table: str, name: str) -> str:
    """Name of the file's column that holds a table's column; titles and places are kept as keys.

    Examples
    --------
    >>> stored("songs", "song"), stored("plays", "song"), stored("counts", "returning")
    ('song', 'song_id', 'came_back')

    """
    if name in _REFERS and _REFERS[name] != table:
        return f"{name}_id"
    return _OWN_NAMES.get((table, name), name)


def lacking(db: sqlite3.Connection) -> list[str]:
    """Statements that give a file what it lacks; none for a file that is as it should be.

    Raises
    ------
    sqlite3.DatabaseError
        If a whole table is missing, which no older program could have left so.

    """
    there = _columns(db)
    if gone := [table for table, has in there.items() if not has]:
        raise sqlite3.DatabaseError(f"it has no table of {listed(gone)}")
    added: dict[str, list[tuple[str, str]]] = {}
    for table in ALL:
        have = {name for name, _ in there[table]}
        added[table] = [
            (stored(table, name), _TYPES[each.kind])
            for name, each in described(table).items()
            if stored(table, name) not in have
        ]
    columns = [
        f"alter table {table} add column {declared(table, each)}"
        for table in ALL
        for each in described(table).values()
        if stored(table, each.name) in dict(added[table])
    ]
    return columns + list(_notes(db, {table: [*there[table], *added.get(table, [])] for table in KEYS}))


def declared(table: str, column: Column) -> str:
    """Write a column as SQL declares it, with every limit that `tables` states.

    Examples
    --------
    >>> declared("plays", described("plays")["segue"])
    'segue integer not null default 0 check (segue in (0, 1))'

    """
    name = stored(table, column.name)
    if name != column.name and column.name in _REFERS:
        return f"{name} integer references {_REFERS[column.name]} ({_REFERS[column.name][:-1]}_id)"
    must = "" if column.nullable else f" not null default {_literal(column.default)}"
    checks = list(_checks(name, column))
    return f"{name} {_TYPES[column.kind]}{must}" + (f" check ({' and '.join(checks)})" if checks else "")


def _checks(name: str, column: Column) -> Iterator[str]:
    if column.kind == "bool":
        yield f"{name} in (0, 1)"
    if column.kind == "day":
        yield f"{name} is date({name}, '+0 days')"
    if column.choices:
        yield f"{name} in ({', '.join(map(_literal, column.choices))})"
    for sign, limit in ((">", column.over), (">=", column.least), ("<=", column.most)):
        if limit is not None:
            yield f"{name} {sign} {limit:g}"


def _literal(value: object) -> str:
    if isinstance(value, str):
        return "'" + value.replace("'", "''") + "'"
    return str(int(value)) if isinstance(value, bool) else str(value)


def _columns(db: sqlite3.Connection) -> dict[str, list[tuple[str, str]]]:
    """Columns and their types, by table, as the file has them."""
    columns: dict[str, list[tuple[str, str]]] = {table: [] for table in (*KEYS, *ASIDE)}
    sql = (
        "select m.name, c.name, c.type from sqlite_schema m join pragma_table_info(m.name) c "
        "where m.type = 'table' order by c.cid"
    )
    for table, name, kind in db.execute(sql):
        if table in columns:
            columns[table].append((name, kind.lower()))
    return columns


def _notes(db: sqlite3.Connection, columns: dict[str, list[tuple[str, str]]]) -> Iterator[str]:
    """Triggers that are missing, or name other columns than their table has."""
    there = dict(db.execute("select name, sql from sqlite_schema where type = 'trigger'").fetchall())
    for table, has in columns.items():
        for name, sql in noting(table, has):
            if there.get(name) != sql:
                if name in there:
                    yield f"drop trigger {name}"
                yield sql


def noting(table: str, columns: list[tuple[str, str]]) -> Iterator[tuple[str, str]]:
    """Triggers that note each change of a table: the row's key, and the row before it unless it is new."""
    pairs = ", ".join(f"'{name}', {_exact(name) if kind == 'real' else f'old.{name}'}" for name, kind in columns)
    note = "insert into was (change_id, tbl, row_id, old) values ((select max(change_id) from changes)"
    for moment, which, old in (
        ("after insert", "new", "null"),
        ("after update", "old", f"json_object({pairs})"),
        ("before delete", "old", f"json_object({pairs})"),
    ):
        name = f"{table}_{moment.split()[1]}_noted"
        does = f"begin {note}, '{table}', {which}.{KEYS[table]}, {old}); end"
        yield name, f"CREATE TRIGGER {name} {moment} on {table} {does}"


def _exact(name: str) -> str:
    """Write a number with all its digits; older SQLite puts only fifteen into JSON."""
    return f"json(case when old.{name} is not null then printf('%!.17g', old.{name}) end)"
