"""Workbooks, cell by cell: only the cells that are there are kept, so that a stray one at the far corner costs nothing."""

# ruff: noqa: E501  # a question is read in one piece
from __future__ import annotations

import io
import itertools
import re
import xml.etree.ElementTree as ET
import zipfile
from collections.abc import Collection, Iterator
from dataclasses import dataclass, field, replace
from datetime import date, datetime, time, timedelta
from pathlib import PurePosixPath

Cell = str | float | bool | date | datetime | None
MOST_CELLS = 600_000
MOST_BYTES = 400_000_000
"""Cells, and bytes once unpacked, from which on a workbook is refused."""
_MAIN = "{http://schemas.openxmlformats.org/spreadsheetml/2006/main}"
_RELATION = "{http://schemas.openxmlformats.org/officeDocument/2006/relationships}id"
_DATE_FORMATS = {*range(14, 18), 22, *range(27, 37), *range(50, 59)}
_TIME_FORMATS = {18, 19, 20, 21, 45, 46, 47}
_GAPS = (200, 60)
"""Empty rows and columns behind which what follows is far from the table."""


class TooBigError(ValueError):
    """A workbook holds more than is read."""


@dataclass
class Sheet:
    """One table: its cells by row and column (from 1), those struck out, and those far away from the rest."""

    name: str
    cells: dict[tuple[int, int], Cell]
    struck: set[tuple[int, int]] = field(default_factory=set)
    far: dict[tuple[int, int], Cell] = field(default_factory=dict)
    hidden: bool = False
    text: bool = False
    """Whether it was cut from a text rather than filled in by cells."""
    explained: set[tuple[int, int]] = field(default_factory=set)
    """Cells set aside as they say what codes mean."""
    titles: set[tuple[int, int]] = field(default_factory=set)
    """Cells of which the file says that they are titles."""
    lent: set[tuple[int, int]] = field(default_factory=set)
    """Cells that stand in another table of the file, whose keys this one has."""

    def without(self, spots: Collection[tuple[int, int]]) -> Sheet:
        """The table with some cells set aside, as they only explain it or another one."""
        return replace(
            self,
            cells={at: value for at, value in self.cells.items() if at not in spots},
            far=self.far | {at: self.cells[at] for at in spots},
            explained=self.explained | set(spots),
        )


def cleaned(value: object) -> Cell:
    """A cell without spaces around it; None if nothing is left."""
    if isinstance(value, str):
        return value.replace("\u00a0", " ").strip() or None
    if isinstance(value, bool | datetime | date):
        return value
    if isinstance(value, int | float):
        return float(value) if value == value else None  # noqa: PLR0124  # a formula without a value
    if isinstance(value, time):
        return value.strftime("%H:%M")
    if isinstance(value, timedelta):
        return f"{value.seconds // 3600 + 24 * value.days}:{value.seconds // 60 % 60:02}"
    return None if value is None else str(value)


def without_far(sheet: Sheet) -> Sheet:
    """Set aside the cells that stand far below or far right of the table."""
    for axis, most in enumerate(_GAPS):
        lines = sorted({at[axis] for at in sheet.cells})
        begin = next((b for a, b in itertools.pairwise(lines) if b - a > most), None)
        if begin is not None:
            for at in [at for at in sheet.cells if at[axis] >= begin]:
                sheet.far[at] = sheet.cells.pop(at)
    return sheet


def xlsx(data: bytes) -> list[Sheet]:
    """Sheets of an XLSX file.

    Raises
    ------
    TooBigError
        If it unpacks to more than is read.
    ValueError, KeyError, zipfile.BadZipFile, ET.ParseError
        If it is damaged.

    """
    with zipfile.ZipFile(io.BytesIO(data)) as book:
        if sum(item.file_size for item in book.infolist()) > MOST_BYTES:
            raise TooBigError("it unpacks to more than 400 MB")
        strings = _strings(book)
        styles, struck = _styles(book)
        main = ET.fromstring(book.read("xl/workbook.xml"))  # noqa: S314  # expat limits what entities may grow to
        epoch = _epoch(main)
        left, sheets = MOST_CELLS, []
        for name, path, hidden in _sheet_paths(book, main):
            sheet = Sheet(name, {}, hidden=hidden)
            for at, value, style in _cells(book, path, strings):
                if value is None:
                    continue
                left -= 1
                if left < 0:
                    raise TooBigError(f"it has more than {MOST_CELLS:,} cells")
                sheet.cells[at] = _dated(value, styles.get(style, ""), epoch)
                if style in struck:
                    sheet.struck.add(at)
            sheets.append(without_far(sheet))
    return sheets


def _epoch(main: ET.Element) -> datetime:
    properties = main.find(f"{_MAIN}workbookPr")
    late = properties is not None and properties.get("date1904") in ("1", "true")
    return datetime(1904, 1, 1) if late else datetime(1899, 12, 30)  # noqa: DTZ001  # a spreadsheet has no zone


def _sheet_paths(book: zipfile.ZipFile, main: ET.Element) -> Iterator[tuple[str, str, bool]]:
    relations = ET.fromstring(book.read("xl/_rels/workbook.xml.rels"))  # noqa: S314  # as above
    targets = {one.get("Id"): one.get("Target", "") for one in relations}
    names = set(book.namelist())
    for sheet in main.iter(f"{_MAIN}sheet"):
        target = targets.get(sheet.get(_RELATION), "")
        path = target.lstrip("/") if target.startswith("/") else str(PurePosixPath("xl") / target)
        if path in names and "worksheet" in path:
            yield sheet.get("name", ""), path, sheet.get("state", "visible") != "visible"


def _strings(book: zipfile.ZipFile) -> list[str]:
    if "xl/sharedStrings.xml" not in book.namelist():
        return []
    found: list[str] = []
    with book.open("xl/sharedStrings.xml") as file:
        for _, element in ET.iterparse(file):  # noqa: S314  # as above
            if element.tag == f"{_MAIN}si":
                found.append(_text_in(element))
                element.clear()
    return found


def _text_in(element: ET.Element) -> str:
    """Text of a cell; what is read aloud beside it (phonetic) is not its text."""
    own = [run for run in element if run.tag in (f"{_MAIN}t", f"{_MAIN}r")]
    return "".join(part.text or "" for run in own for part in run.iter(f"{_MAIN}t"))


def _styles(book: zipfile.ZipFile) -> tuple[dict[str, str], set[str]]:
    """What each style makes of a number (a day, a time), and the styles that strike out."""
    if "xl/styles.xml" not in book.namelist():
        return {}, set()
    root = ET.fromstring(book.read("xl/styles.xml"))  # noqa: S314  # as above
    own = {int(one.get("numFmtId", 0)): one.get("formatCode", "") for one in root.iter(f"{_MAIN}numFmt")}
    fonts = [_strikes(font) for font in root.iterfind(f"{_MAIN}fonts/{_MAIN}font")]
    kinds, struck = {}, set()
    for number, style in enumerate(root.iterfind(f"{_MAIN}cellXfs/{_MAIN}xf")):
        kinds[str(number)] = _kind_of_format(int(style.get("numFmtId", 0)), own)
        font = int(style.get("fontId", 0))
        if font < len(fonts) and fonts[font]:
            struck.add(str(number))
    return kinds, struck


def _strikes(font: ET.Element) -> bool:
    strike = font.find(f"{_MAIN}strike")
    return strike is not None and strike.get("val", "1") not in ("0", "false")


def _kind_of_format(number: int, own: dict[int, str]) -> str:
    if number in _DATE_FORMATS:
        return "day"
    if number in _TIME_FORMATS:
        return "time"
    code = re.sub(r'"[^"]*"|\\.|\[(?!h|m|s)[^\]]*\]', "", own.get(number, "")).lower()
    if "y" in code or ("d" in code and "m" in code):
        return "day"
    return "time" if re.search(r"h|s|\[m", code) else ""


def _dated(value: Cell, kind: str, epoch: datetime) -> Cell:
    if not kind or not isinstance(value, float) or not -700_000 < value < 2_900_000:
        return value
    if kind == "time" or 0 <= value < 1:
        minutes = round(value * 24 * 60)
        return f"{minutes // 60}:{minutes % 60:02}"
    try:
        found = epoch + timedelta(days=value)
    except OverflowError:
        return value
    return found.date() if found.time() == time() else found


def _cells(book: zipfile.ZipFile, path: str, strings: list[str]) -> Iterator[tuple[tuple[int, int], Cell, str]]:
    """Each cell of a sheet that holds anything: its place, its value and its style."""
    row = column = 0
    with book.open(path) as file:
        for event, element in ET.iterparse(file, events=("start", "end")):  # noqa: S314  # as above
            if element.tag == f"{_MAIN}row":
                if event == "start":
                    row, column = int(element.get("r", row + 1)), 0
                else:
                    element.clear()
            elif element.tag == f"{_MAIN}c" and event == "end":
                row, column = _place(element.get("r", ""), row, column + 1)
                yield (row, column), _value(element, strings), element.get("s", "0")


def _place(name: str, row: int, column: int) -> tuple[int, int]:
    match = re.fullmatch(r"([A-Z]+)(\d+)", name)
    if match is None:
        return row, column
    number = 0
    for sign in match[1]:
        number = number * 26 + ord(sign) - 64
    return int(match[2]), number


def _value(element: ET.Element, strings: list[str]) -> Cell:  # noqa: PLR0911  # one kind of cell after the other
    kind = element.get("t", "n")
    if kind == "inlineStr":
        inline = element.find(f"{_MAIN}is")
        return None if inline is None else cleaned(_text_in(inline))
    value = element.find(f"{_MAIN}v")
    text = None if value is None else value.text
    if not text:
        return None
    if kind == "s":
        return cleaned(strings[int(text)]) if int(text) < len(strings) else None
    if kind == "b":
        return text == "1"
    if kind == "d":
        return _iso(text)
    if kind in ("str", "e"):
        return cleaned(text)
    return float(text)


def _iso(text: str) -> Cell:
    try:
        found = datetime.fromisoformat(text)
    except ValueError:
        return text
    return found.date() if found.time() == time() else found


def letter(column: int) -> str:
    """Name of a column (from 1) as a spreadsheet has it.

    Examples
    --------
    >>> letter(1), letter(28)
    ('A', 'AB')

    """
    column -= 1
    return (letter(column // 26) if column >= 26 else "") + chr(65 + column % 26)
