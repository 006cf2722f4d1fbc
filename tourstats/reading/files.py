"""Opening what people send: spreadsheets, tables and texts in any usual form, documents. Nothing is interpreted here."""

# ruff: noqa: E501  # a question is read in one piece
from __future__ import annotations

import csv
import io
import json
import os
import re
import zipfile
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path
from xml.etree.ElementTree import ParseError

from tourstats.problems import Problem, counted, listed
from tourstats.reading import chats, documents, listings, records
from tourstats.reading.asking import Asking
from tourstats.reading.cells import shown
from tourstats.reading.days import day_in
from tourstats.reading.letters import decoded
from tourstats.reading.titles import fold
from tourstats.reading.workbooks import Cell, Sheet, TooBigError, cleaned, without_far, xlsx

SEPARATORS = ("\t", ";", "|", ",")
MOST_BYTES = 60_000_000
MOST_LINES = 150_000
"""Size of a file, and lines of a text, from which on it is refused."""
_ODD, _LOOK = 0.02, 20_000
_LONGEST = 20_000
_OLD = b"\xd0\xcf\x11\xe0"
_SAVE_AGAIN = "Save it again as CSV (UTF-8) or XLSX, and read that."
_PICTURES = (b"\x89PNG", b"\xff\xd8\xff", b"GIF8", b"RIFF", b"ID3", b"OggS", b"fLaC", b"II*\x00", b"MM\x00*")


class FileProblem(Problem):
    """A file cannot be read."""

    @classmethod
    def of(cls, name: str, why: str, todo: str = _SAVE_AGAIN) -> FileProblem:
        """Name the file, the reason, and a way out."""
        return cls(f"{name} cannot be read: {why}. {todo}")

    @classmethod
    def missing(cls, path: Path) -> FileProblem:
        """Say that there is no such file."""
        return cls(f"There is no file {path}. Look at its name, and at the folder it is in.")


@dataclass
class Source:
    """What a file holds: its tables, and its text.

    Attributes
    ----------
    name
        Of the file.
    sheets
        Its tables; for a text none, as it may be cut into columns in several ways.
    text
        Its text; None for a workbook.
    doubtful
        Lines (from 1) with a byte that could not be read.
    apart
        Names of sheets that hold people, and are not read with it.

    """

    name: str
    sheets: list[Sheet] = field(default_factory=list)
    text: str | None = None
    doubtful: frozenset[int] = frozenset()
    apart: Sequence[str] = ()

    def lines(self) -> list[str]:
        """Lines of its text."""
        return [] if self.text is None else self.text.split("\n")


def bytes_of(path: str | os.PathLike[str]) -> tuple[str, bytes]:
    """Name and bytes of a file.

    Raises
    ------
    FileProblem
        If it is not there, or cannot be opened.

    """
    place = Path(path).expanduser()
    try:
        if place.stat().st_size > MOST_BYTES:
            raise FileProblem.of(place.name, "it is larger than 60 MB", "Cut it into smaller ones, a leg each.")
        return place.name, place.read_bytes()
    except FileNotFoundError as error:
        raise FileProblem.missing(place) from error
    except IsADirectoryError as error:
        raise FileProblem.of(place.name, "it is a folder", "Name a file in it.") from error
    except OSError as error:
        raise FileProblem.of(
            place.name, error.strerror or "it cannot be opened", "Allow reading it, or copy it."
        ) from error


def text_in(path: str | os.PathLike[str], about: Iterable[str] = ()) -> str:
    """Read a file that holds text, such as one set: plain, a document, a web page, or a sheet of a workbook.

    Parameters
    ----------
    path
        The file.
    about
        The town and the day of the show: of several sheets the one is read whose name has most of them.

    Raises
    ------
    FileProblem
        If it is not there, or holds something other than text.

    """
    name, data = bytes_of(path)
    found = source(name, data)
    if found.text is not None:  # the tables of a document stand in its text too
        return found.text
    sheet = _sheet_about(found.sheets, [word for word in about if word])
    if sheet is None:
        names = listed([one.name for one in found.sheets])
        raise FileProblem.of(
            name, f"it is a spreadsheet with {counted(len(found.sheets), 'sheet')} ({names})",
            "Name one after tonight's town, or copy the set out of it into a text file.",
        )  # fmt: skip
    columns = sorted({column for _, column in sheet.cells})
    rows = sorted({row for row, _ in sheet.cells})
    return "\n".join("\t".join(_word(sheet, (row, column)) for column in columns).rstrip("\t") for row in rows)


def _sheet_about(sheets: list[Sheet], words: list[str]) -> Sheet | None:
    """The only sheet, or the one whose name has most of the words; None where several may be meant."""
    named = [sum(f" {fold(word)} " in f" {fold(sheet.name)} " for word in words) for sheet in sheets]
    best = [sheet for sheet, count in zip(sheets, named, strict=True) if count == max(named)]
    return best[0] if len(best) == 1 else None


def _word(sheet: Sheet, place: tuple[int, int]) -> str:
    """One cell of a set as words, struck out where it is."""
    value = sheet.cells.get(place)
    return "" if value is None else f"~~{value}~~" if place in sheet.struck else shown(value)


def source(name: str, data: bytes, asking: Asking | None = None) -> Source:
    """Open the bytes of a file.

    Raises
    ------
    FileProblem
        If they hold neither text nor tables.

    """
    asking = asking or Asking()
    try:
        return _opened(name, data, asking)
    except TooBigError as error:
        raise FileProblem.of(name, str(error), "Cut it into smaller ones, a leg each.") from error
    except (zipfile.BadZipFile, ParseError, ValueError, KeyError, OSError, NotImplementedError, RuntimeError) as error:
        if isinstance(error, Problem):
            raise
        raise FileProblem.of(
            name, f"it is damaged ({str(error).splitlines()[0] if str(error) else type(error).__name__})"
        ) from error


def _opened(name: str, data: bytes, asking: Asking) -> Source:
    if data.startswith(b"PK\x03\x04"):
        return _zipped(name, data)
    if data.startswith(_OLD) or name.lower().endswith(".xlsb"):
        return _old(name, data)
    if data[:1024].lstrip().startswith(b"%PDF"):
        return _pdf(name, data)
    if data.lstrip().startswith(b"{\\rtf"):
        return Source(name, text=documents.rtf(data))
    if data.startswith(_PICTURES):
        raise FileProblem.of(
            name, "it is a picture or a recording", "A photo of one set goes in with `tourstats tonight PHOTO`."
        )
    return _text(name, data, asking)


def _zipped(name: str, data: bytes) -> Source:
    with zipfile.ZipFile(io.BytesIO(data)) as book:
        names = set(book.namelist())
        if any(item.flag_bits & 1 for item in book.infolist()):
            raise FileProblem.of(name, "it is locked with a password", "Save it without one, and read that.")
        if sum(item.file_size for item in book.infolist()) > 400_000_000:
            raise TooBigError("it unpacks to more than 400 MB")
    if "xl/workbook.xml" in names:
        return Source(name, [sheet for sheet in xlsx(data) if sheet.cells])
    if "word/document.xml" in names:
        text, tables = documents.docx(data)
        return _with_tables(name, text, tables)
    if "content.xml" in names or "xl/workbook.bin" in names:
        return _old(name, data)
    raise FileProblem.of(name, "it is an archive", "Unpack it, and read the files in it.")


def _old(name: str, data: bytes) -> Source:
    """A workbook of an older or another program."""
    from python_calamine import CalamineError, CalamineWorkbook  # noqa: PLC0415  # only for such a file

    if "EncryptedPackage".encode("utf-16-le") in data:
        raise FileProblem.of(name, "it is locked with a password", "Save it without one, and read that.")
    try:
        book = CalamineWorkbook.from_filelike(io.BytesIO(data))
        sheets = []
        for sheet_name in book.sheet_names:
            sheet = book.get_sheet_by_name(sheet_name)
            if sheet.total_height * sheet.total_width > 3_000_000:
                raise TooBigError("it has a sheet of more than three million cells")
            rows = sheet.to_python(skip_empty_area=False)
            cells: dict[tuple[int, int], Cell] = {
                (r, c): cell
                for r, row in enumerate(rows, 1)
                for c, value in enumerate(row, 1)
                if (cell := cleaned(value)) is not None
            }
            sheets.append(without_far(Sheet(sheet_name, cells)))
    except CalamineError as error:
        raise FileProblem.of(name, f"as a spreadsheet it is damaged ({error})") from error
    return Source(name, [sheet for sheet in sheets if sheet.cells])


def _pdf(name: str, data: bytes) -> Source:
    try:
        text = documents.pdf(data)
    except ValueError as error:
        raise FileProblem.of(
            name, f"the PDF is damaged or locked ({error})", "Save it again without a password."
        ) from error
    if not text.strip():
        raise FileProblem.of(
            name,
            "the PDF holds pictures, no text",
            "Read the file that it was made from, or take a photo of one set and use `tourstats tonight PHOTO`.",
        )
    return Source(name, text=text)


def _with_tables(name: str, text: str, tables: list[documents.Table]) -> Source:
    sheets = []
    apart = documents.shows_in_cells(text, tables)
    if apart:
        return Source(name, text=apart)
    for number, table in enumerate(tables, start=1):
        cells = {
            (r, c): cell
            for r, row in enumerate(table, 1)
            for c, value in enumerate(row, 1)
            if (cell := cleaned(value)) is not None
        }
        struck = {at for at, cell in cells.items() if isinstance(cell, str) and re.fullmatch(r"~~.*~~", cell)}
        plain: dict[tuple[int, int], Cell] = {
            at: cell.replace("~~", "") if isinstance(cell, str) else cell for at, cell in cells.items()
        }
        sheets.append(Sheet(f"table {number}" if len(tables) > 1 else "table", plain, struck))
    return Source(name, [sheet for sheet in sheets if sheet.cells], text if text.strip() else None)


def _text(name: str, data: bytes, asking: Asking) -> Source:
    content = decoded(data, asking)
    text = content.text
    look = text[:_LOOK]
    odd = sum(not (sign.isprintable() or sign.isspace() or sign == "\ufeff") or sign == "\ufffd" for sign in look)
    if odd > max(1, len(look) * _ODD):
        raise FileProblem.of(name, "it holds something other than text")
    other = _other_text(name, data, text)
    if other is not None:
        return other
    if text.count("\n") > MOST_LINES:
        raise FileProblem.of(name, f"it has more than {MOST_LINES:,} lines", "Cut it into smaller ones, a leg each.")
    text = re.sub("[\u2028\u2029\x0b\x0c\x85]", "\n", text.removeprefix("\ufeff"))
    return Source(name, text=text, doubtful=content.doubtful)


_OTHERS = (
    (documents.is_calendar, documents.calendar),
    (documents.is_cue, documents.cue),
    (documents.is_log, documents.log),
)


def _other_text(name: str, data: bytes, text: str) -> Source | None:
    """What another program made of a text: a page, a calendar, records, a listing, a mail; None if it is a plain one."""
    if documents.is_mail(text):
        return Source(name, text=documents.mail(data))
    if documents.is_page(text):
        return _with_tables(name, *documents.page(text))
    for is_it, lines in _OTHERS:
        if is_it(text):
            return Source(name, text=lines(text))
    text = records.json_of_xml(text) or text
    if records.is_json(text):
        held = json.loads(text)
        chat = chats.is_exported(held)
        return Source(name, text=chats.from_json(held)) if chat else Source(name, records.from_json(text))
    found = records.from_sql(text) if records.is_sql(text) else []
    if listings.is_listing(text) and any(at[1] == 1 and at[0] > 1 for at in listings.listing(text).cells):
        found = [listings.listing(text)]
    return Source(name, found) if found else None


@dataclass
class Cut:
    """A text cut into columns.

    Attributes
    ----------
    sheet
        The cells; row is the line.
    widths
        Number of fields of each line.
    stray
        Lines with a quotation mark that has no other.

    """

    sheet: Sheet
    widths: dict[int, int]
    stray: list[int]


RULE_OF_TABLE = re.compile(r"\s*\|?\s*:?-{2,}:?\s*(?:\|\s*:?-+:?\s*)+\|?\s*")
"""What stands under the heading of a table in Markdown."""


@lru_cache(maxsize=2)
def cuts(text: str) -> list[Cut]:
    """Ways to cut a text into columns: by each sign that cuts most lines into the same number of fields."""
    lines = text.split("\n")
    said = re.match(r"sep=(.)\s*$", lines[0], re.IGNORECASE) if lines else None
    if said:
        lines[0] = ""
    found = []
    for separator in [said[1]] if said else SEPARATORS:
        cut = _cut(lines, separator)
        if cut is not None and (said or _is_table(cut)):
            found.append(cut)
    return found


def aligned(text: str) -> Cut | None:
    r"""Cut shows that stand side by side, padded with spaces; None if no line holds two days.

    Examples
    --------
    >>> text = "Ostby        Oxmere\n4 May 2031   6 May 2031\nTin Moth     Quill\n             Zinc"
    >>> list(aligned(text).sheet.cells.values())
    ['Ostby', 'Oxmere', '4 May 2031', '6 May 2031', 'Tin Moth', 'Quill', 'Zinc']

    """
    lines = [line.expandtabs() for line in text.split("\n")]
    dated = [
        sum(day is not None and day.full for day in map(day_in, re.split(r"\s{2,}", line.strip()))) for line in lines
    ]
    if max(dated) < 2 or "\t" in text:
        return None
    starts = [at for at, line in enumerate(lines) if line.strip() and (at == 0 or not lines[at - 1].strip())]
    ends = [*starts[1:], len(lines)]
    begins = [start for start, end in zip(starts, ends, strict=True) if any(dated[start:end])]
    cut = Cut(Sheet("", {}, text=True), {}, [])
    for begin, end in zip(begins, [*begins[1:], len(lines)], strict=True):
        columns = _columns(lines[begin:end])
        for number in range(begin, end):
            for column, (left, right) in enumerate(columns, start=1):
                cell = cleaned(lines[number][left:right])
                if cell is not None and re.search(r"\w", str(cell)):
                    cut.sheet.cells[number + 1, column] = cell
    for number, line in enumerate(lines[: begins[0]], start=1):
        if line.strip():
            cut.sheet.cells[number, 1] = line.strip()
    return cut


def _columns(lines: list[str]) -> list[tuple[int, int]]:
    """Where columns of lines begin and end: between them no line has a sign in two places side by side."""
    width = max(map(len, lines))
    bare = [all(at >= len(line) or line[at] == " " for line in lines) for at in range(width)]
    gaps = [at for at in range(width - 1) if bare[at] and bare[at + 1]]
    edges = sorted({at + 1 for at in gaps if at + 1 not in gaps})
    return list(zip([0, *edges], [*edges, width], strict=True))


_MOST_IN_A_CELL = 60
"""Lines that may stand in one cell."""


def _is_table(cut: Cut) -> bool:
    counts = Counter(cut.widths.values())
    total = counts.total()
    width, times = max(counts.items(), key=lambda item: (item[1] * (item[0] > 1), item[0]), default=(0, 0))
    several = sum(many for size, many in counts.items() if size >= 3)
    return width >= 2 and (times >= 0.6 * total or several >= 0.8 * total)


def _cut(lines: list[str], separator: str) -> Cut | None:
    cut = Cut(Sheet("", {}, text=True), {}, [])
    csv.field_size_limit(10**9)
    marked = separator == "|" and any(RULE_OF_TABLE.fullmatch(line) for line in lines)
    for number, fields in _rows(lines, separator, cut.stray):
        if separator == "|" and all(re.fullmatch(r"[\s:=-]*", one) for one in fields):
            continue
        if not marked or len(fields) > 1:
            cut.widths[number] = len(fields)
        for column, one in enumerate(fields, start=1):
            cell = cleaned(_unguarded(_without_markup(one) if marked else one))
            if cell is not None:
                cut.sheet.cells[number, column] = cell
    return cut if cut.sheet.cells else None


def _without_markup(cell: str) -> str:
    """A cell of a table in Markdown: its lines, without marks of emphasis."""
    return re.sub(
        r"(\*\*|__|(?<!\w)[*_](?!\s))(.+?)\1", r"\2", re.sub(r"\s*<br\s*/?>\s*", "\n", cell, flags=re.IGNORECASE)
    )


def _rows(lines: list[str], separator: str, stray: list[int]) -> list[tuple[int, list[str]]]:
    """Fields of each line with its number; a field may run over several lines if its quotation marks say so."""
    if (even := _even(lines, separator)) is not None:
        return even
    rows: list[tuple[int, list[str]]] = []
    at = 0
    while at < len(lines):
        line, begin = lines[at], at
        at += 1
        if not line.strip():
            continue
        if line.count('"') % 2:
            end = _closing(lines, begin, separator)
            if end is None:
                stray.append(begin + 1)
                line = line.replace('"', "")
            else:
                line, at = "\n".join(lines[begin : end + 1]), end + 1
        if separator == "|" and line.strip().startswith("|"):
            line = line.strip().strip("|")
        fields = next(csv.reader(io.StringIO(line[: _LONGEST * 10]), delimiter=separator, skipinitialspace=True), [])
        rows.append((begin + 1, fields))
    return rows


def _even(lines: list[str], separator: str) -> list[tuple[int, list[str]]] | None:
    """Rows of a whole text whose fields run over lines, if all rows are equally wide then."""
    if sum(line.count('"') % 2 for line in lines) < 2 or max(map(len, lines)) > _LONGEST:
        return None
    rows, begin = [], 1
    reader = csv.reader([f"{line}\n" for line in lines], delimiter=separator, skipinitialspace=True)
    for fields in reader:
        within = lines[begin : reader.line_num - 1]
        if any(line.count(separator) >= max(1, len(fields) - 1) for line in within):
            return None
        if any(fields):
            rows.append((begin, fields))
        begin = reader.line_num + 1
    widths = {len(fields) for _, fields in rows}
    return rows if len(widths) == 1 and len(rows) > 2 and max(widths) > 1 else None


def _closing(lines: list[str], begin: int, separator: str) -> int | None:
    """Line in which a quotation mark that was opened is closed, before a separator or an end; none between is a row."""
    if not re.search(rf'(^|{re.escape(separator)})\s*"[^"]*$', lines[begin]):
        return None
    full = lines[begin].count(separator)
    for end in range(begin + 1, min(len(lines), begin + _MOST_IN_A_CELL)):
        if lines[end].count('"') % 2:
            return end if re.match(rf'[^"]*"\s*({re.escape(separator)}|$)', lines[end]) else None
        if end > begin + 5 and (not full or lines[end].count(separator) >= full):
            return None
    return None


def _unguarded(cell: str) -> str:
    """Take off the apostrophe that keeps a spreadsheet from reading a title as a formula."""
    return cell[1:] if cell[:1] == "'" and cell[1:2] in tuple("=+-@'") else cell
