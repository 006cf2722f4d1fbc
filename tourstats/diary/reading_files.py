"""Opening what people send: spreadsheets, CSV in any usual form, plain text. Nothing is interpreted here."""

from __future__ import annotations

import csv
import io
import os
from collections import Counter
from dataclasses import dataclass
from datetime import date, datetime, time
from pathlib import Path

from tourstats.problems import Problem

Cell = str | float | bool | date | datetime | None
_SEPARATORS = ("\t", ";", ",", "|")
_SPREADSHEETS = (".xlsx", ".xlsm", ".xlsb", ".xls", ".ods")
_ENOUGH = 0.75
"""Share of the lines that have to have the same number of fields for a text to be a table."""
_SAMPLE = 2000
_LOOK, _ODD = 4000, 0.02
"""Signs at the start of a file that are looked at, and the share of them that may be none that people type."""
_SEVERAL = 3


_SAVE_AGAIN = "Save it again as CSV (UTF-8) or XLSX, and read that."


class FileProblem(Problem):
    """A file cannot be read."""

    @classmethod
    def of(cls, path: Path, why: str, todo: str = _SAVE_AGAIN) -> FileProblem:
        """Name the file, the reason, and a way out."""
        return cls(f"{path.name or path} cannot be read: {why}. {todo}")

    @classmethod
    def missing(cls, path: Path) -> FileProblem:
        """Say that there is no such file."""
        return cls(f"There is no file {path}. Look at its name, and at the folder it is in.")


@dataclass(frozen=True)
class Sheet:
    """One table or text: rows of cells as they are, and whether columns were found in it.

    Attributes
    ----------
    file, name
        Name of the file, and of the sheet in it (empty for a text file).
    rows
        Cells; text is stripped, an empty cell is None.
    table
        Whether it has columns; a text has one cell a row, the line.

    """

    file: str
    name: str
    rows: list[list[Cell]]
    table: bool


def sheets(path: str | os.PathLike[str]) -> list[Sheet]:
    """Read every sheet of a file that holds anything.

    Raises
    ------
    FileProblem
        If it is not there, or neither text nor a spreadsheet.

    """
    place = Path(path)
    data = _bytes(place)
    if _is_spreadsheet(place, data):
        return _workbook(place, data)
    return [_text(place.name, _legible(place, data))]


def text_in(path: str | os.PathLike[str]) -> str:
    """Read a file that holds plain text, such as one set.

    Raises
    ------
    FileProblem
        If it is not there, or holds something other than text.

    """
    place = Path(path)
    data = _bytes(place)
    if _is_spreadsheet(place, data):
        raise FileProblem.of(place, "it is a spreadsheet", "Copy the set out of it into a text file.")
    return _legible(place, data)


def _bytes(place: Path) -> bytes:
    try:
        return place.read_bytes()
    except FileNotFoundError as error:
        raise FileProblem.missing(place) from error
    except IsADirectoryError as error:
        raise FileProblem.of(place, "it is a folder", "Name a file in it.") from error
    except OSError as error:
        raise FileProblem.of(place, error.strerror or "it cannot be opened", "Allow reading it, or copy it.") from error


def _is_spreadsheet(place: Path, data: bytes) -> bool:
    return data.startswith((b"PK\x03\x04", b"\xd0\xcf\x11\xe0")) or place.suffix.lower() in _SPREADSHEETS


def _legible(place: Path, data: bytes) -> str:
    """Text of a file; signs that nobody types, one in fifty, say that it is a picture, a song or a program."""
    text = decoded(data)
    odd = sum(
        not (sign.isprintable() or sign.isspace() or sign == "\ufeff") or sign == "\ufffd" for sign in text[:_LOOK]
    )
    if odd > len(text[:_LOOK]) * _ODD:
        raise FileProblem.of(place, "it holds something other than text")
    return text


def decoded(data: bytes) -> str:
    """Text of bytes: a mark decides, then zero bytes mean UTF-16, then UTF-8, else Windows-1252.

    Examples
    --------
    >>> decoded("Żółta".encode("utf-16")), decoded("Café".encode("cp1252"))
    ('Żółta', 'Café')

    """
    for mark, name in ((b"\xef\xbb\xbf", "utf-8-sig"), (b"\xff\xfe", "utf-16"), (b"\xfe\xff", "utf-16")):
        if data.startswith(mark):
            return data.decode(name, errors="replace")
    if b"\x00" in data[:400]:
        little = data[1:400:2].count(0) >= data[:400:2].count(0)
        return data.decode("utf-16-le" if little else "utf-16-be", errors="replace")
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError:
        return data.decode("cp1252", errors="replace")


def _workbook(place: Path, data: bytes) -> list[Sheet]:
    from python_calamine import CalamineError, CalamineWorkbook  # noqa: PLC0415  # only for spreadsheets

    try:
        book = CalamineWorkbook.from_filelike(io.BytesIO(data))
        found = [(name, book.get_sheet_by_name(name).to_python(skip_empty_area=False)) for name in book.sheet_names]
    except (CalamineError, OSError, ValueError) as error:
        raise FileProblem.of(place, f"as a spreadsheet it is damaged ({error})") from error
    return [
        Sheet(place.name, name, [[_cell(cell) for cell in row] for row in rows], table=True)
        for name, rows in found
        if any(_cell(cell) is not None for row in rows for cell in row)
    ]


def _cell(value: object) -> Cell:
    if isinstance(value, str):
        return value.replace("\u00a0", " ").strip() or None
    if isinstance(value, bool | datetime | date):
        return value
    if isinstance(value, int | float):
        return float(value) if value == value else None  # noqa: PLR0124  # a formula without a value
    if isinstance(value, time):
        return value.strftime("%H:%M")
    return None if value is None else str(value)


def _text(name: str, text: str) -> Sheet:
    text = text.replace("\x00", "")
    lines = text.splitlines()
    separator = None
    if lines and lines[0].lower().startswith("sep=") and len(lines[0]) > len("sep="):
        separator, lines = lines[0][len("sep=")], lines[1:]
    separator = separator or _separator(lines)
    if separator is None:
        return Sheet(name, "", [[_cell(line)] for line in lines], table=False)
    return Sheet(name, "", _fields(lines, separator), table=True)


def _fields(lines: list[str], separator: str) -> list[list[Cell]]:
    csv.field_size_limit(10**9)
    rows = csv.reader((f"{line}\n" for line in lines), delimiter=separator, skipinitialspace=True)
    return [[_cell(_unguarded(cell)) for cell in row] for row in rows]


def _unguarded(cell: str) -> str:
    """Take off the apostrophe that keeps a spreadsheet from reading a title as a formula."""
    return cell[1:] if cell[:1] == "'" and cell[1:2] in tuple("=+-@'") else cell


def _separator(lines: list[str]) -> str | None:
    """Find the sign that cuts nearly every line into the same number of fields, two or more."""
    written = [line for line in lines[:_SAMPLE] if line.strip()]
    best: tuple[float, int, str] | None = None
    for separator in _SEPARATORS:
        counts = Counter(len(row) for row in _fields(written, separator) if any(cell is not None for cell in row))
        if not counts:
            continue
        size, times = max(counts.items(), key=lambda item: (item[0] > 1, item[1], item[0]))
        share = sum(many for count, many in counts.items() if count > 1) / counts.total()
        same = times / counts.total()
        regular = same >= _ENOUGH or (share >= _ENOUGH and size >= _SEVERAL)
        if size > 1 and regular and (best is None or (same, size) > best[:2]):
            best = (same, size, separator)
    return None if best is None else best[2]
