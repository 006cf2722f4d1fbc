"""Tables of one kind in a file: the repertoire, venues, rehearsals, reviews, mistakes, notes, shows, shapes, and so on."""

# ruff: noqa: RUF001, E501  # the signs that people type are meant; lists of words and questions are read in one piece
from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

import pandas as pd

from tourstats import tables
from tourstats.problems import TableProblem, listed
from tourstats.reading.account import NEW, SKIP
from tourstats.reading.asking import QUESTIONS, Asking
from tourstats.reading.cells import TOTALS, shown
from tourstats.reading.days import Calendar, day_in, of_serial, settle
from tourstats.reading.files import Source, cuts
from tourstats.reading.songs import one_title
from tourstats.reading.titles import SURE, Titles, fold, index
from tourstats.reading.workbooks import Cell, Sheet, letter

KINDS = (
    *("songs", "venues", "shows", "rehearsals", "reviews", "mistakes", "notes"),
    *("worked", "sections", "tested", "measured", "things"),
)
"""Tables that may be taken from a file of their own."""
_TITLES = ("song", "next_song")
_HEADER_ROWS = 10
_BY_SHOW = ("reviews", "mistakes", "notes", "worked", "measured")
_TOLD_BY = {
    "sections": {"song", "position", "bars"}, "tested": {"song", "asked", "known"}, "things": {"thing", "spare"},
    "measured": {"position", "start_s", "end_s"},
}  # fmt: skip
"""Columns that only one table has together."""
_WHEN = {name: tables.described("shows")[name].also for name in ("date", "city", "number")}
"""What tells which show a row belongs to, in a file that has no numbers of ours."""
_TYPICAL = {
    "songs": {"tempo_bpm", "aliases", "status", "minutes", "starts_by", "gear", "samples", "track", "readiness", "watch", "since"},
    "venues": {"venue"}, "shows": {"date"}, "rehearsals": {"way"}, "reviews": {"listening"}, "mistakes": {"severity"}, "notes": {"text"},
}  # fmt: skip


_OF_A_SONG = {"tempo_bpm", "minutes", "starts_by", "count_in", "gear", "samples", "track"}
"""What a table of sets may say of its songs, the same at every show."""
_TOTAL = re.compile(rf"\W*(?:{TOTALS}|all)s?\W*[\d:.,\s]*\w{{0,6}}", re.IGNORECASE)
"""What stands below a list and may count it: "TOTAL 50", "Summe: 3:20 h"."""


@dataclass(frozen=True)
class Rows:
    """A table by rows, as they stand: an empty cell is None."""

    name: str
    rows: list[list[Cell]]
    numbers: list[int]
    """Row or line of each in the file."""

    @classmethod
    def of(cls, sheet: Sheet) -> Rows:
        """Put the cells of a sheet into rows."""
        width = max((column for _, column in sheet.cells), default=0)
        numbers = sorted({row for row, _ in sheet.cells})
        return cls(
            sheet.name, [[sheet.cells.get((row, column)) for column in range(1, width + 1)] for row in numbers], numbers
        )


def sheets_of(source: Source, table: str | None = None) -> list[Rows]:
    """Tables of a file; a text is cut into columns by the sign that gives a row of column names, or most columns."""
    if source.sheets or source.text is None:
        return [Rows.of(sheet) for sheet in source.sheets]
    ways = [Rows.of(cut.sheet) for cut in cuts(source.text)]
    kinds = KINDS if table is None else (table,)
    ways.sort(key=lambda rows: -max((len(head[1]) for kind in kinds if (head := _head(rows, kind))), default=0))
    if not ways:
        lines = [(number, line.strip()) for number, line in enumerate(source.lines(), 1) if line.strip()]
        return [Rows("", [[line] for _, line in lines], [number for number, _ in lines])]
    return ways[:1]


def kind_of(source: Source) -> str | None:  # noqa: PLR0911  # one sign after the other
    """Name the table that a file holds, by its columns and then its name; None for a history of sets.

    A table of songs has no dates and positions; rehearsals say a way, mistakes a severity, notes a text.
    """
    read = sheets_of(source)
    stem = fold(source.name.rsplit(".", 1)[0])
    named = next((table for table in KINDS if table in stem or table.rstrip("s") in stem.split()), None)
    heads = [head for rows in read for table in KINDS if (head := _head(rows, table))]
    every = {name for head in heads for name in head[1]}
    told = next((table for table, names in _TOLD_BY.items() if _has_all(read, table, names)), None)
    if told:
        return told
    if not every or not read or (source.text is not None and not source.sheets and not cuts(source.text)):
        return None
    if "song" in every and "date" in every:
        if "severity" in every and named in (None, "mistakes"):
            return "mistakes"
        if "way" in every:
            return "rehearsals"
        return named if named in _BY_SHOW else None
    if "text" in every and named == "notes":
        return "notes"
    if "song" in every:
        list_of_songs = (every & _TYPICAL["songs"] or named == "songs") and not _of_shows(read)
        return "songs" if list_of_songs else named if named != "songs" else None
    if "venue" in every and "date" not in every:
        return "venues"
    return named


def _of_shows(read: Iterable[Rows]) -> bool:
    """Whether a table with titles is about shows: days name its columns or stand above them, or many titles come again."""
    titles: list[str] = []
    for rows in read:
        at, columns = _head(rows, "songs") or (0, {})
        if any(sum(day_in(cell) is not None for cell in row) > 1 for row in rows.rows[: at + 1]):
            return True
        titles += [fold(shown(row[columns["song"]])) for row in rows.rows[at + 1 :] if "song" in columns]
    titles = [title for title in titles if title]
    return len(set(titles)) < 0.8 * len(titles)


def _has_all(read: Iterable[Rows], table: str, names: set[str]) -> bool:
    """Whether a row of column names has all of some names, as we call them."""
    spelt = {name.replace("_", "") for name in names}
    return any(
        spelt <= {fold(cell).replace(" ", "") for cell in row if isinstance(cell, str)} and _head(rows, table)
        for rows in read
        for row in rows.rows[:_HEADER_ROWS]
    )


def surely(source: Source, kind: str) -> bool:
    """Whether the names of the columns leave no doubt that it is that table, and no file of sets."""
    for rows in sheets_of(source, kind):
        head = _head(rows, kind)
        found = set() if head is None else set(head[1])
        enough = {
            "songs": "song" in found and len(found & _TYPICAL["songs"]) >= 2,
            "venues": "venue" in found
            and bool(found & {"city", "room"})
            and len(found) == len(rows.rows[head[0]] if head else ()),
            "notes": "text" in found,
            "shows": "date" in found and len(found & {"number", "leg", "venue", "city", "room", "set_minutes"}) >= 3,
        }
        if enough.get(kind, True):
            return True
    return False


def read_table(
    source: Source,
    table: str,
    shows: pd.DataFrame | None = None,
    songs: pd.DataFrame | Iterable[str] | None = None,
    *,
    answers: Mapping[str, object] | None = None,
) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Read a table of one kind, whatever its columns are called. Nothing is written.

    Parameters
    ----------
    source
        The file, opened.
    table
        Name of the table, one of `KINDS`.
    shows
        Shows by which a date, and perhaps a town and a number, become a `show_id`.
    songs
        The repertoire, to which titles are matched.
    answers
        Decisions by key.

    Returns
    -------
    frame
        The table as in `tables`, its rows in order; unchecked while a question is open that blocks it.
    problems
        One row per question, with the columns of `asking.QUESTIONS`.

    """
    if table not in KINDS:
        raise TableProblem(f"There is no table {table!r} to read; it is one of {', '.join(KINDS)}.")
    reader = _Reader(table, shows, songs, dict(answers or {}), source.name)
    for rows in sheets_of(source, table):
        reader.read(rows)
    return reader.result(source.name)


def of_songs(
    sheets: Iterable[Sheet], places: Iterable[tuple[str, str, int]]
) -> tuple[pd.DataFrame, set[tuple[str, int]]]:
    """What columns beside the songs of sets say of each song: tempo, length, who starts it.

    Parameters
    ----------
    sheets
        The tables of the sets.
    places
        Title, sheet and row of each song that was played.

    Returns
    -------
    frame
        As `tables.Songs`, a row a song, with the columns that say the same of a song at every show.
    taken
        Sheet and column of each of these.

    """
    played: dict[str, list[tuple[str, int]]] = {}
    for song, name, row in places:
        played.setdefault(name, []).append((song, row))
    known: dict[str, dict[str, Cell]] = {}
    taken: set[tuple[str, int]] = set()
    for sheet in sheets:
        head = _head(Rows.of(sheet), "songs") if sheet.name in played else None
        for name, at in (head[1] if head else {}).items():
            told = _told(sheet, at + 1, played[sheet.name]) if name in _OF_A_SONG else {}
            taken |= {(sheet.name, at + 1)} if told else set()
            for song, cell in told.items():
                known.setdefault(song, {}).setdefault(name, cell)
    columns = ["song", *sorted({name for values in known.values() for name in values})]
    lines: list[list[Cell]] = [[song, *(values.get(name) for name in columns[1:])] for song, values in known.items()]
    reader = _Reader("songs", None, None, {})
    reader.read(Rows("", [[name.replace("_", "") for name in columns], *lines], list(range(1, len(lines) + 2))))
    return (pd.DataFrame(), set()) if reader.asked else (pd.DataFrame(reader.rows), taken)


def _told(sheet: Sheet, column: int, places: list[tuple[str, int]]) -> dict[str, Cell]:
    """What a column says of each song; nothing if it does not say the same of a song wherever it was played."""
    told: dict[str, list[Cell]] = {}
    for song, row in places:
        if (cell := sheet.cells.get((row, column))) is not None:
            told.setdefault(song, []).append(cell)
    same = all(len({shown(cell) for cell in cells}) == 1 for cells in told.values())
    return {song: cells[0] for song, cells in told.items()} if same else {}


def _head(sheet: Rows, table: str) -> tuple[int, dict[str, int]] | None:
    """Find the row of column names, and the column of each name that the table has."""
    known = tables.described(table)
    wanted = [*known, *(name for name in _WHEN if table in _BY_SHOW and name not in known)]
    for at, row in enumerate(sheet.rows[:_HEADER_ROWS]):
        words = [fold(cell).replace(" ", "") if isinstance(cell, str) else "" for cell in row]
        names: dict[str, int] = {}
        for name in wanted:
            spelt = [name.replace("_", ""), *(known[name].also if name in known else _WHEN[name])]
            place = next(
                (words.index(word) for word in spelt if word in words and words.index(word) not in names.values()), None
            )
            if place is not None:
                names[name] = place
        needed = [name for name in tables.REQUIRED[table] if name != "show_id"] or ["date"]
        if any(name in names for name in needed) and len(names) > (table in ("rehearsals", "reviews", "mistakes")):
            return at, names
    return None


class _Reader:
    """Collects the rows of one table, and the questions."""

    def __init__(
        self,
        table: str,
        shows: pd.DataFrame | None,
        songs: pd.DataFrame | Iterable[str] | None,
        answers: dict[str, object],
        file: str = "",
    ) -> None:
        self.table, self.answers, self.file = table, answers, file
        self.shows = None if shows is None else tables.checked(shows, "shows")
        self.on_day: dict[object, list[dict[Any, Any]]] = {}
        for show in [] if self.shows is None else self.shows.to_dict("records"):
            self.on_day.setdefault(show["date"].date(), []).append(show)
        self.titles: Titles | None = None if songs is None or table == "songs" else index(songs)
        self.rows: list[dict[str, object]] = []
        self.asked: dict[str, dict[str, object]] = {}
        self.left_out: list[str] = []
        self.calendar = Calendar()

    def ask(
        self,
        key: str,
        where: tuple[str, int, str],
        value: object,
        problem: str,
        todo: str,
        candidates: Iterable[str] = (),
    ) -> None:
        """Add a question, each key once."""
        file, number, column = where
        cells = (key, file, "", number, column, value, problem, todo, list(candidates), "", True, True)
        self.asked.setdefault(key, dict(zip(QUESTIONS, cells, strict=True)))

    def read(self, sheet: Rows) -> None:
        """Read the rows of one sheet."""
        head = _head(sheet, self.table)
        if head is None:
            needed = ", ".join(name for name in tables.REQUIRED[self.table] if name != "show_id")
            self.ask(f"columns: {sheet.name}", (self.file, 1, ""), "", f"No row of column names was found for {self.table}.",
                     f"Name the columns in one row at the top; needed: {needed}.")  # fmt: skip
            return
        at, columns = head
        self.left_out += [
            shown(cell) for place, cell in enumerate(sheet.rows[at]) if cell and place not in columns.values()
        ]
        days = [
            day
            for row in sheet.rows[at + 1 :]
            for name in ("date", "since")
            if (day := day_in(_cell(row, columns, name)))
        ]
        asking = Asking({key: str(answer) for key, answer in self.answers.items()})
        self.calendar = settle(days, asking)
        for question in asking.open.values():
            self.ask(question.key, (self.file, 1, ""), question.value, question.problem, question.todo, question.offers)
        for number, row in zip(sheet.numbers[at + 1 :], sheet.rows[at + 1 :], strict=True):
            if any(_cell(row, columns, name) is not None for name in columns):
                self._row(self.file, number, row, columns)

    def _row(self, file: str, number: int, row: list[Cell], columns: dict[str, int]) -> None:
        values: dict[str, object] = {}
        for name, column in columns.items():
            cell = _cell(row, columns, name)
            if cell is not None:
                values[name] = self._value(name, cell, (file, number, letter(column + 1)))
        if any(value is _LEFT_OUT for value in values.values()) or self._is_total(values, (file, number, "")):
            return
        if self.table in _BY_SHOW:
            self._find_show(values, (file, number, letter(columns.get("date", 0) + 1)))
        self.rows.append(values)

    def _is_total(self, values: dict[str, object], where: tuple[str, int, str]) -> bool:
        """Whether a row of a list of songs counts the others; a title may read like that, so it is asked."""
        text = str(values.get("song", ""))
        if self.table != "songs" or len(values) > 1 or not _TOTAL.fullmatch(text):
            return False
        answer = str(self.answers.get(f"title: {text}", "")).strip().lower()
        if answer not in (SKIP, NEW):
            self.ask(f"title: {text}", where, text, f'"{text}" may be a total.', f'Answer "{SKIP}" to leave it out, or "{NEW}" for a song.', (SKIP, NEW))  # fmt: skip
        return answer != NEW

    def _value(self, name: str, cell: Cell, where: tuple[str, int, str]) -> object:  # noqa: PLR0911  # one kind of column after the other
        text = shown(cell)
        known = tables.described(self.table).get(name) or tables.described("shows")[name]
        if known.kind == "day":
            return self._day(cell, text, where)
        if name == "minutes":
            return self._minutes(cell, text, where)
        if known.kind in ("int", "float") and name != "show_id":
            found = re.search(r"\d+(?:[.,]\d+)?", text)
            return float(found.group().replace(",", ".")) if found else self._wrong(name, text, "a number", where)
        if known.kind == "bool":
            return fold(text) in ("1", "y", "yes", "true", "x", "ja", "oui", "si", "new")
        if known.items:
            return (
                text if ";" in text else "; ".join(part.strip() for part in re.split(r"[,/\n]", text) if part.strip())
            )
        if known.choices:
            words = {fold(str(one)): one for one in known.choices} | {fold(was): now for was, now in known.was.items()}
            choice = words.get(fold(text))
            return choice or self._wrong(name, text, f"one of {', '.join(known.choices)}", where, known.choices)
        if name in _TITLES and self.titles is not None:
            return self._title(text, where)
        return text

    def _wrong(
        self, name: str, text: str, expected: str, where: tuple[str, int, str], choices: Iterable[str] = ()
    ) -> object:
        key = f"{name}: {text}"
        answer = self.answers.get(key)
        if answer is not None:
            return None if str(answer).strip().lower() == SKIP else answer
        self.ask(
            key,
            where,
            text,
            f'"{text}" in the column of {name} has to be {expected}.',
            'Answer with what it should be, or "skip" to leave it empty.',
            choices,
        )
        return None

    def _day(self, cell: Cell, text: str, where: tuple[str, int, str]) -> object:
        if isinstance(cell, float) and (serial := of_serial(cell)):
            return serial
        settled = self.calendar.of(day_in(cell, whole=isinstance(cell, str)))
        answer = self.answers.get(f"date: {text}")
        if settled is None and answer is not None:
            settled = self.calendar.of(day_in(str(answer), whole=True))
        if settled is None:
            self.ask(f"date: {text}", where, text, f'"{text}" is no day with a year.', "Give the day as 2031-03-04.")
        return settled

    def _minutes(self, cell: Cell, text: str, where: tuple[str, int, str]) -> object:
        """Minutes from 3:45, 3'45, 3.75 or "4 min"; a cell of a spreadsheet that holds a time of day is hours and minutes."""
        clock = re.fullmatch(r"(\d{1,3})\s?[:'’′m]\s?(\d{2})(?::(\d{2}))?\s?(?:[\"”″s]|min)?", text)
        if clock:
            return int(clock[1]) + int(clock[2]) / 60
        found = re.fullmatch(r"(\d+(?:[.,]\d+)?)\s*(?:min|mins|minutes|m|'|′)?\.?", text)
        if found:
            value = float(found[1].replace(",", "."))
            return value * 24 * 60 if isinstance(cell, float) and 0 < value < 0.05 else value  # part of a day
        return self._wrong("minutes", text, "a length such as 3:45", where)

    def _title(self, text: str, where: tuple[str, int, str]) -> object:
        if self.titles is not None and not self.titles.names:
            self.ask("songs", where, text, "The diary has no songs yet.",
                     "Take in the repertoire or the sets first, then this file.")  # fmt: skip
            return None
        match = one_title(text, self.titles) if self.titles is not None else None
        if match is None or match.verdict == SURE:
            return match.song if match else text
        answer = self.answers.get(f"title: {text}")
        if answer is not None:
            said = str(answer).strip()
            return _LEFT_OUT if said.lower() == SKIP else text if said.lower() == NEW else said
        near = f"The nearest: {listed(match.candidates)}." if match.candidates else "No title is near."
        self.ask(f"title: {text}", where, text, f'"{text}" may not be in the repertoire. {near}',
                 'Answer with the title, or "skip" to leave these rows out.', match.candidates)  # fmt: skip
        return None

    def _find_show(self, values: dict[str, object], where: tuple[str, int, str]) -> None:
        """Put the number of the show in the place of its day, town and number."""
        if values.get("show_id") is not None or values.get("date") is None or self.shows is None:
            if "show_id" in values:
                values["show_id"] = _as_number(values["show_id"])
            return
        if self.table == "notes" and not values.get("city") and not values.get("number"):
            return
        if not len(self.shows):
            self.ask("shows", where, values["date"], "The diary has no shows yet.",
                     "Take in the sets or the shows first, then this file.")  # fmt: skip
            return
        shows = self.on_day.get(values["date"], [])
        if values.get("city"):
            town = fold(str(values["city"]))
            shows = [show for show in shows if isinstance(show["city"], str) and fold(show["city"]) == town]
        if values.get("number") or len(shows) > 1:
            shows = [show for show in shows if show["number"] == int(float(str(values.get("number") or 1)))]
        if len(shows) == 1:
            values["show_id"] = shows[0]["show_id"]
        else:
            said = f"{values['date']} {values.get('city') or ''}".strip()
            many = "no show" if not shows else f"{len(shows)} shows"
            self.ask(
                f"show: {said}",
                where,
                said,
                f"There is {many} of {said} in the diary.",
                "Add the show first, or correct the day, the city or the number.",
            )
        if self.table != "notes":
            values.pop("date", None)
        for name in ("city", "number"):
            values.pop(name, None)

    def result(self, file: str) -> tuple[pd.DataFrame, pd.DataFrame]:
        """Return the table, checked if nothing is open, and the questions."""
        names = tables.columns(self.table)
        frame = pd.DataFrame(self.rows, columns=[*names, *(n for row in self.rows[:1] for n in row if n not in names)])
        if self.table == "shows" and frame["show_id"].isna().all():
            frame["show_id"] = range(1, len(frame) + 1)
        if not self.asked:
            try:
                frame = tables.checked(frame, self.table)
            except TableProblem as problem:
                self.ask("table", (file, 1, ""), "", str(problem), "Correct the file and read it again.")
        frame.attrs["left_out"] = self.left_out
        problems = pd.DataFrame(list(self.asked.values()), columns=list(QUESTIONS)).astype({"blocking": bool})
        return frame, problems


class _LeftOut:
    """Marks a cell that takes its row with it."""


_LEFT_OUT = _LeftOut()


def _cell(row: list[Cell], columns: dict[str, int], name: str) -> Cell:
    at = columns.get(name)
    return row[at] if at is not None and at < len(row) else None


def _as_number(value: object) -> object:
    text = str(value)
    return int(float(text)) if re.fullmatch(r"\d+(?:\.0)?", text) else value
