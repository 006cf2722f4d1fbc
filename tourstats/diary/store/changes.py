"""Changes: each one whole or not at all, and each one can be taken back.

A change is one outermost `atomic` block. Every row that it touches is noted in the table `was` by triggers (see
`migrations`), with the row as it stood before. `undo` puts these rows back, newest first, so that what a removal took
along with it comes back too.
"""

from __future__ import annotations

import contextlib
import json
import sqlite3
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

import pandas as pd

from tourstats.diary.store import frames
from tourstats.diary.store.copies import before_first_change_of_day
from tourstats.diary.store.schema import KEYS
from tourstats.diary.store.trouble import SENTENCES, UNREADABLE, DiaryProblem, explained
from tourstats.diary.store.values import SINGULAR
from tourstats.problems import Problem

KEPT_CHANGES = 200
"""How many changes can be taken back; older ones stand."""


@dataclass
class Change:
    """A change that is being made; `words` is what `undo` will call it."""

    words: str | None = None


class Store:
    """The open file, and the one way to change it; nothing here knows what a song is."""

    def __init__(self, db: sqlite3.Connection, path: Path, *, writable: bool = True) -> None:
        self.path = path
        self.writable = writable
        self.db = db
        self.depth = 0
        self._words: list[str] = []

    @contextlib.contextmanager
    def atomic(self, words: str | None = None) -> Iterator[Change]:
        """Make everything inside one change: all of it or, after any error, nothing.

        Blocks nest: an inner one that fails takes back only itself, and the error goes on to whoever catches it.

        Parameters
        ----------
        words
            What `undo` calls the change, such as 'the leg in the north'; if not said, it names what was done inside.

        Examples
        --------
        >>> import tempfile
        >>> from tourstats.diary import opened
        >>> with tempfile.TemporaryDirectory() as folder, opened(f"{folder}/tour.sqlite") as diary:
        ...     with diary.atomic("two new songs"):
        ...         titles = [diary.add_song("Ferry"), diary.add_song("Tin Rook")]
        ...     diary.undoable()
        'two new songs'

        """
        change = Change(words)
        with self._savepoint() if self.depth else self._transaction():
            before = len(self._words)
            try:
                yield change
            except BaseException:
                del self._words[before:]
                raise
            if change.words is not None:
                self._words[before:] = [change.words]

    def undo(self) -> str:
        """Take back the latest change that still stands, and say which that was.

        Each change is taken back once; asked again, the change before it follows, up to the last 200.
        """
        if self.depth:
            raise DiaryProblem("A change is being made just now. Finish it first, then undo it.")
        with self.writing():
            row = self.db.execute("select change_id, words from changes order by change_id desc limit 1").fetchone()
            if row is None:
                return "There is nothing to undo."
            self.db.execute("pragma defer_foreign_keys = on")  # a child may come back before its parent
            noted = "select tbl, row_id, old from was where change_id = ? order by was_id desc"
            try:
                for table, key, old in self.db.execute(noted, (row["change_id"],)).fetchall():
                    self._put_back(table, key, old)
            except (ValueError, KeyError) as error:  # what was noted cannot be read
                raise DiaryProblem(UNREADABLE.format(path=self.path, error=error)) from error
            # What the triggers noted while rows were put back goes with the change itself.
            self.db.execute("delete from changes where change_id = ?", (row["change_id"],))
        return f"Undone: {row['words']}."

    def undoable(self) -> str | None:
        """What `undo` would take back, or None."""
        row = self.select("select words from changes order by change_id desc limit 1").fetchone()
        return None if row is None else str(row["words"])

    def _put_back(self, table: str, key: int, old: str | None) -> None:
        name = KEYS[table]  # only our own names become part of a statement
        if old is None:
            self.db.execute(f"delete from {table} where {name} = ?", (key,))
            return
        row = json.loads(old)
        places = ", ".join(f":{column}" for column in row)
        sets = ", ".join(f"{column} = :{column}" for column in row if column != name)
        self.db.execute(
            f"insert into {table} ({', '.join(row)}) values ({places}) on conflict ({name}) do update set {sets}",
            row,
        )

    @contextlib.contextmanager
    def _transaction(self) -> Iterator[None]:
        """Run the outermost block: begin, note the change, commit; after any error all is as it was."""
        before_first_change_of_day(self.db, self.path, writable=self.writable)
        self._words = []
        with self.writing():
            made_at = datetime.now().isoformat(timespec="seconds")  # noqa: DTZ005  # the clock on the wall
            change_id = self.db.execute("insert into changes (words, made_at) values ('', ?)", (made_at,)).lastrowid
            self.depth = 1
            try:
                yield
            finally:
                self.depth = 0
            self._still_whole()
            self._finish(change_id or 0)

    def _finish(self, change_id: int) -> None:
        """Name the change, or drop it if it changed nothing, and forget what is too old to be taken back."""
        noted = self.db.execute("select 1 from was where change_id = ? limit 1", (change_id,)).fetchone()
        if noted is None:
            self.db.execute("delete from changes where change_id = ?", (change_id,))
        words = self._words or ["the latest change"]
        more = len(words) - 1
        text = words[0] if not more else f"{words[0]} and {more} more change{'s' if more > 1 else ''}"
        self.db.execute("update changes set words = ? where change_id = ?", (text, change_id))
        self.db.execute("delete from changes where change_id <= ?", (change_id - KEPT_CHANGES,))

    @contextlib.contextmanager
    def writing(self) -> Iterator[None]:
        """A transaction that waits for its turn, commits, and never hides the first error."""
        if not self.writable:
            raise DiaryProblem(SENTENCES["SQLITE_READONLY"].format(path=self.path))
        with explained(self.path):
            self.db.execute("begin immediate")
            try:
                yield
                self.db.execute("commit")
            except BaseException:
                self._back_to("rollback")
                raise

    @contextlib.contextmanager
    def _savepoint(self) -> Iterator[None]:
        self._still_whole()
        name = f"level_{self.depth}"
        self.db.execute(f"savepoint {name}")
        self.depth += 1
        try:
            yield
            self._still_whole()
            self.db.execute(f"release {name}")
        except BaseException:
            self._back_to(f"rollback to {name}", f"release {name}")
            raise
        finally:
            self.depth -= 1

    def _back_to(self, *statements: str) -> None:
        """Take back, unless SQLite has done so already; the error that led here is the one that counts."""
        if self.db.in_transaction:
            with contextlib.suppress(sqlite3.Error):
                for statement in statements:
                    self.db.execute(statement)

    def _still_whole(self) -> None:
        """After a full disk SQLite takes back the whole transaction; going on would save its second half alone."""
        if not self.db.in_transaction:
            raise DiaryProblem(
                f"The change to {self.path} was given up after an error of the disk, and nothing of it was saved. "
                "Free some space or look at the disk, then make it again."
            )

    def select(self, sql: str, values: Iterable[Any] | Mapping[str, Any] = ()) -> sqlite3.Cursor:
        """Run one statement, and explain what SQLite says against it."""
        with explained(self.path):
            return self.db.execute(sql, values)  # type: ignore[arg-type]

    def write(self, sql: str, values: Iterable[Any] | Mapping[str, Any] = ()) -> sqlite3.Cursor:
        """Run one statement of a change."""
        self._still_whole()
        return self.select(sql, values)

    def insert(self, table: str, row: Mapping[str, Any], *, tail: str = "") -> int:
        """Add a row, each column by name, and return its key."""
        names = ", ".join(row)
        places = ", ".join(f":{name}" for name in row)
        done = self.write(f"insert into {table} ({names}) values ({places}) {tail}", row)
        return int(done.lastrowid or 0)

    def update(self, table: str, key: int, row: Mapping[str, Any]) -> None:
        """Set some columns of one row."""
        if row:
            sets = ", ".join(f"{name} = :{name}" for name in row)
            self.write(f"update {table} set {sets} where {KEYS[table]} = :its_key", {**row, "its_key": key})

    def row(self, table: str, key: object) -> dict[str, Any]:
        """Row of a table by its number, or a sentence that says where numbers are found."""
        found = None
        if isinstance(key, int) or hasattr(key, "__index__"):
            found = self.select(f"select * from {table} where {KEYS[table]} = ?", (int(key),)).fetchone()
        if found is None:
            one = SINGULAR[table].split(" ", 1)[1]
            raise Problem(f"There is no {one} with the number {key!r}. Look at the table of {table} for its number.")
        return dict(found)

    def frame(self, table: str, *values: object) -> pd.DataFrame:
        """A table as `tables` describes it."""
        with explained(self.path):
            try:
                return frames.read(self.db, table, values)
            except (ValueError, TypeError) as error:  # a cell that is none of its column's kind
                raise DiaryProblem(UNREADABLE.format(path=self.path, error=f"{table}: {error}")) from error

    @contextlib.contextmanager
    def one_moment(self) -> Iterator[None]:
        """Read several tables as of one moment; inside a change they are read as they stand in it."""
        if self.db.in_transaction:
            yield
            return
        self.select("begin")
        try:
            yield
        finally:
            if self.db.in_transaction:
                self.db.execute("rollback")

    def save_draft(self, key: str, data: Mapping[str, Any]) -> None:
        """Keep what was typed but not saved, under a name; it replaces what was there and is no part of `undo`."""
        now = datetime.now().isoformat(timespec="seconds")  # noqa: DTZ005  # the clock on the wall
        sql = (
            "insert into drafts (key, data, saved_at) values (?, ?, ?) "
            "on conflict (key) do update set data = excluded.data, saved_at = excluded.saved_at"
        )
        self._aside(sql, (key, json.dumps(dict(data)), now))

    def draft(self, key: str) -> dict[str, Any] | None:
        """Return what was typed but not saved under this name, or None."""
        row = self.select("select data from drafts where key = ?", (key,)).fetchone()
        return None if row is None else dict(json.loads(row["data"]))

    def drop_draft(self, key: str) -> None:
        """Forget what was typed under this name; harmless if there is nothing."""
        self._aside("delete from drafts where key = ?", (key,))

    def _aside(self, sql: str, values: tuple[Any, ...]) -> None:
        """Write something that is no change of the diary."""
        if self.depth:
            self.write(sql, values)
        else:
            with self.writing():
                self.db.execute(sql, values)
