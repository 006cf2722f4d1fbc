"""Whole tables taken in, with the numbers that their shows, mistakes and notes had."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

from tourstats.diary.editing import Editing
from tourstats.diary.values import as_int, cleaned
from tourstats.problems import Problem, TableProblem

Row = dict[str, Any]


class Taking(Editing):
    """What reading an export back needs."""

    def take_tables(self, tables: Mapping[str, Sequence[Mapping[str, object]]], words: str = "the tables") -> None:
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
        with self.atomic(words):
            self._must_be_empty()
            for name, take in self._takers().items():
                for number, row in enumerate(tables.get(name, ()), start=2):
                    try:
                        take(dict(row))
                    except Problem as problem:
                        raise TableProblem(f"Row {number} of {name}: {problem}") from problem

    def _takers(self) -> dict[str, Callable[[Row], None]]:
        """What to do with a row of each table, in the order in which they refer to one another."""
        return {
            "songs": self._take_song,
            "venues": lambda row: self._take_plain("venues", row),
            "shows": self._take_show,
            "plays": lambda row: self._take_plain("plays", row, stage="played"),
            "planned": lambda row: self._take_plain("plays", row, stage="planned"),
            "rehearsals": lambda row: self._take_plain("rehearsals", row, "rehearsal_id"),
            "reviews": lambda row: self._take_plain("reviews", row),
            "mistakes": lambda row: self._take_plain("mistakes", row, "mistake_id"),
            "worked": lambda row: self._take_plain("worked", row, "worked_id"),
            "sections": lambda row: self._take_plain("sections", row),
            "measured": lambda row: self._take_plain("measured", row),
            "notes": self._take_note,
            "attendance": lambda row: self._take_plain("attendance", row),
            "counts": self._take_count,
            "levels": lambda row: self._take_plain("levels", row),
            "pasted": self._take_pasted,
        }

    def _must_be_empty(self) -> None:
        for table in ("songs", "venues", "shows", "notes"):
            if self._query(f"select 1 from {table} limit 1").fetchone():
                raise Problem(
                    f"The diary {self.path} is not empty: it has {table}. Tables are read into a new diary; "
                    "name a new file with `--diary`."
                )

    def _take_song(self, row: Row) -> None:
        self.add_song(**row)

    def _take_show(self, row: Row) -> None:
        show = cleaned("shows", row)
        venue = show.get("venue")
        found = self._query("select * from venues where venue = ?", (venue,)).fetchone()
        if found is None:
            self._place(show)
        else:
            del show["venue"]
            show["venue_id"] = found["venue_id"]
            if show.get("room") == found["room"]:
                show["room"] = None
        self._show_is_free({"number": 1, "city": None, **show})
        self._insert("shows", show)

    def _take_plain(self, table: str, row: Row, key: str | None = None, **more: object) -> None:
        """Take a row whose song and show are written as title and number."""
        numbered = self._number(row, key)
        self._insert(table, {**self._keyed(cleaned(table, row)), **numbered, **more})

    def _take_note(self, row: Row) -> None:
        numbered = self._number(row, "note_id")
        empty = dict.fromkeys(("about", "song", "next_song", "room", "venue", "show_id"))
        self._insert("notes", {**self._linked(cleaned("notes", {**empty, **row})), **numbered})

    def _take_count(self, row: Row) -> None:
        self.add_counts(**row)

    def _take_pasted(self, row: Row) -> None:
        self._insert("pasted", {**row, "show_id": self._show(row["show_id"])})

    def _keyed(self, row: Row) -> Row:
        """Put keys in the place of titles, and look whether shows are there."""
        if "show_id" in row:
            row["show_id"] = self._show(row["show_id"])
        if "song" in row and "song_id" not in row:
            row["song_id"] = self._song(row.pop("song"))
        return row

    def _number(self, row: Row, key: str | None) -> Row:
        """Take the row's own number out of it, where it has one."""
        said = None if key is None else row.pop(key, None)
        return {} if key is None or not said else {key: as_int(said)}
