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

from tourstats.diary.backup import before_first_change_of_day
from tourstats.diary.layout import KEYS
from tourstats.diary.trouble import SENTENCES, DiaryProblem, explained

KEPT_CHANGES = 200
"""How many changes can be taken back; older ones stand."""


@dataclass
class Change:
    """A change that is being made; `words` is what `undo` will call it."""

    words: str | None = None


class Ledger:
    """The open file, and the one way to change it."""

    def __init__(self, db: sqlite3.Connection, path: Path, *, writable: bool = True) -> None:
        self.path = path
        self.writable = writable
        self._db = db
        self._depth = 0
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
        ...         titles = [diary.add_song("Ferry"), diary.add_song("Tin Roof")]
        ...     diary.undoable()
        'two new songs'

        """
        change = Change(words)
        with self._savepoint() if self._depth else self._transaction():
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
        if self._depth:
            raise DiaryProblem("A change is being made just now. Finish it first, then undo it.")
        with self._writing():
            row = self._db.execute("select change_id, words from changes order by change_id desc limit 1").fetchone()
            if row is None:
                return "There is nothing to undo."
            self._db.execute("pragma defer_foreign_keys = on")  # a child may come back before its parent
            noted = "select tbl, row_id, old from was where change_id = ? order by was_id desc"
            for table, key, old in self._db.execute(noted, (row["change_id"],)).fetchall():
                self._put_back(table, key, old)
            # What the triggers noted while rows were put back goes with the change itself.
            self._db.execute("delete from changes where change_id = ?", (row["change_id"],))
        return f"Undone: {row['words']}."

    def undoable(self) -> str | None:
        """What `undo` would take back, or None."""
        row = self._query("select words from changes order by change_id desc limit 1").fetchone()
        return None if row is None else str(row["words"])

    def _put_back(self, table: str, key: int, old: str | None) -> None:
        name = KEYS[table]  # only our own names become part of a statement
        if old is None:
            self._db.execute(f"delete from {table} where {name} = ?", (key,))
            return
        row = json.loads(old)
        places = ", ".join(f":{column}" for column in row)
        sets = ", ".join(f"{column} = :{column}" for column in row if column != name)
        self._db.execute(
            f"insert into {table} ({', '.join(row)}) values ({places}) on conflict ({name}) do update set {sets}",
            row,
        )

    @contextlib.contextmanager
    def _transaction(self) -> Iterator[None]:
        """Run the outermost block: begin, note the change, commit; after any error all is as it was."""
        before_first_change_of_day(self._db, self.path, writable=self.writable)
        self._words = []
        with self._writing():
            made_at = datetime.now().isoformat(timespec="seconds")  # noqa: DTZ005  # the clock on the wall
            change_id = self._db.execute("insert into changes (words, made_at) values ('', ?)", (made_at,)).lastrowid
            self._depth = 1
            try:
                yield
            finally:
                self._depth = 0
            self._still_whole()
            self._finish(change_id or 0)

    def _finish(self, change_id: int) -> None:
        """Name the change, or drop it if it changed nothing, and forget what is too old to be taken back."""
        noted = self._db.execute("select 1 from was where change_id = ? limit 1", (change_id,)).fetchone()
        if noted is None:
            self._db.execute("delete from changes where change_id = ?", (change_id,))
        words = self._words or ["the latest change"]
        more = len(words) - 1
        text = words[0] if not more else f"{words[0]} and {more} more change{'s' if more > 1 else ''}"
        self._db.execute("update changes set words = ? where change_id = ?", (text, change_id))
        self._db.execute("delete from changes where change_id <= ?", (change_id - KEPT_CHANGES,))

    @contextlib.contextmanager
    def _writing(self) -> Iterator[None]:
        """A transaction that waits for its turn, commits, and never hides the first error."""
        if not self.writable:
            raise DiaryProblem(SENTENCES["SQLITE_READONLY"].format(path=self.path))
        with explained(self.path):
            self._db.execute("begin immediate")
            try:
                yield
                self._db.execute("commit")
            except BaseException:
                self._back_to("rollback")
                raise

    @contextlib.contextmanager
    def _savepoint(self) -> Iterator[None]:
        self._still_whole()
        name = f"level_{self._depth}"
        self._db.execute(f"savepoint {name}")
        self._depth += 1
        try:
            yield
            self._still_whole()
            self._db.execute(f"release {name}")
        except BaseException:
            self._back_to(f"rollback to {name}", f"release {name}")
            raise
        finally:
            self._depth -= 1

    def _back_to(self, *statements: str) -> None:
        """Take back, unless SQLite has done so already; the error that led here is the one that counts."""
        if self._db.in_transaction:
            with contextlib.suppress(sqlite3.Error):
                for statement in statements:
                    self._db.execute(statement)

    def _still_whole(self) -> None:
        """After a full disk SQLite takes back the whole transaction; going on would save its second half alone."""
        if not self._db.in_transaction:
            raise DiaryProblem(
                f"The change to {self.path} was given up after an error of the disk, and nothing of it was saved. "
                "Free some space or look at the disk, then make it again."
            )

    def _query(self, sql: str, values: Iterable[Any] | Mapping[str, Any] = ()) -> sqlite3.Cursor:
        with explained(self.path):
            return self._db.execute(sql, values)  # type: ignore[arg-type]

    def _write(self, sql: str, values: Iterable[Any] | Mapping[str, Any] = ()) -> sqlite3.Cursor:
        """Run one statement of a change."""
        self._still_whole()
        return self._query(sql, values)

    def _insert(self, table: str, row: Mapping[str, Any], *, tail: str = "") -> int:
        """Add a row, each column by name, and return its key."""
        names = ", ".join(row)
        places = ", ".join(f":{name}" for name in row)
        done = self._write(f"insert into {table} ({names}) values ({places}) {tail}", row)
        return int(done.lastrowid or 0)

    def _update(self, table: str, key: int, row: Mapping[str, Any]) -> None:
        """Set some columns of one row."""
        if row:
            sets = ", ".join(f"{name} = :{name}" for name in row)
            self._write(f"update {table} set {sets} where {KEYS[table]} = :its_key", {**row, "its_key": key})
