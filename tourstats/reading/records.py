"""Records of other programs, JSON and SQL: each list as a table, and what its entries point at filled in."""

from __future__ import annotations

import contextlib
import json
import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from xml.etree import ElementTree as ET

from tourstats.reading import joins
from tourstats.reading.cells import is_encore
from tourstats.reading.workbooks import Sheet, cleaned

Scalar = str | float | int | bool | None
Row = dict[str, Scalar]
_INSERT = re.compile(
    r"INSERT\s+INTO\s+[`\"\[]?(\w+)[`\"\]]?\s*(?:\(([^)]*)\))?\s*VALUES\s*(.*?);\s*$",
    re.IGNORECASE | re.MULTILINE | re.DOTALL,
)
_CREATE = re.compile(
    r"CREATE\s+TABLE\s+(?:IF NOT EXISTS\s+)?[`\"\[]?(\w+)[`\"\]]?\s*\((.*?)\);", re.IGNORECASE | re.DOTALL
)
_TUPLE = re.compile(r"\(((?:'(?:[^']|'')*'|[^()'])*)\)")
_VALUE = re.compile(r"\s*(?:'((?:[^']|'')*)'|([^,]*))\s*(?:,|$)")

_LINES = 3
"""Lines from which a text is a note."""


@dataclass
class Table:
    """A list of records: its name, its columns in the order in which they come, its rows."""

    name: str
    rows: list[Row] = field(default_factory=list)

    def columns(self) -> list[str]:
        """Names of its columns."""
        return list(dict.fromkeys(name for row in self.rows for name in row))

    def values(self, column: str) -> list[str]:
        """What stands in a column, as text."""
        return [str(row[column]) for row in self.rows if row.get(column) is not None]


def is_json(text: str) -> bool:
    """Whether a text is an object or a list of another program, whole."""
    if not re.match(r"\s*[\[{]", text):
        return False
    with contextlib.suppress(ValueError, RecursionError):
        return isinstance(json.loads(text), dict | list)
    return False


def json_of_xml(text: str) -> str | None:
    """An XML text as JSON: what comes several times is a list; None if it is none, or defines entities of its own.

    Examples
    --------
    >>> json_of_xml('<gigs><gig day="2031-03-04"><song>Quill</song><song>Wren</song></gig><gig/></gigs>')
    '{"gig": [{"day": "2031-03-04", "song": ["Quill", "Wren"]}, ""]}'

    """
    if not re.match(r"\s*<(?!!doctype html|html)", text, re.IGNORECASE) or "<!ENTITY" in text:
        return None
    with contextlib.suppress(ET.ParseError, RecursionError, ValueError):
        return json.dumps(_of_element(ET.fromstring(text.strip().encode())), ensure_ascii=False)  # noqa: S314  # no entities
    return None


def _of_element(element: ET.Element) -> object:
    inner: dict[str, list[object]] = {}
    for child in element:
        inner.setdefault(child.tag, []).append(_of_element(child))
    said = (element.text or "").strip()
    if not inner and not element.attrib:
        return said
    own = {**element.attrib, **({element.tag: said} if said else {})}
    return own | {tag: values if len(values) > 1 else values[0] for tag, values in inner.items()}


def from_json(text: str) -> list[Sheet]:
    r"""Tables of a JSON text: a list within an entry makes a row of each of its own entries.

    Examples
    --------
    >>> text = '{"songs": [{"id": 7, "title": "Quill"}], "gigs": [{"date": "2031-03-04", "set": [7]}]}'
    >>> list(from_json(text)[0].cells.values())
    ['date', 'title', '2031-03-04', 'Quill']

    """
    tables: dict[str, Table] = {}
    for name, rows in _lists(json.loads(text), "table"):
        tables.setdefault(name, Table(name)).rows += rows
    return _notes(list(tables.values())) or _sheets(list(tables.values()))


def _notes(tables: list[Table]) -> list[Sheet]:
    """Each note as a sheet of lines, where most entries of some list hold a text of several lines."""
    sheets: list[Sheet] = []
    for table in tables:
        written = {name: [value.splitlines() for value in table.values(name)] for name in table.columns()}
        long = {name: sum(len(lines) >= _LINES for lines in notes) for name, notes in written.items()}
        name = max(long, key=lambda one: long[one], default="")
        if sheets or (name and long[name] >= max(_LINES, 0.6 * len(table.rows))):
            for lines in written.get(name, []):
                cells = {(row, 1): cleaned(line) for row, line in enumerate(lines, start=1) if line.strip()}
                sheets.append(Sheet(f"note {len(sheets) + 1}", cells))
    return sheets


def _lists(value: object, name: str) -> Iterator[tuple[str, list[Row]]]:
    """Outermost lists of a value, each with its name and its rows."""
    if isinstance(value, dict):
        for key, inner in value.items():
            yield from _lists(inner, str(key))
    elif isinstance(value, list):
        yield name, [row for one in value for row in _rows(one, name)]


def _rows(entry: object, name: str) -> list[Row]:
    """Rows of one entry: one, or one of each entry of the lists within it, with what stands beside them."""
    if not isinstance(entry, dict):
        inner = entry if isinstance(entry, list) else []
        return [row for one in inner for row in _rows(one, name)] or [{name: entry}]  # type: ignore[dict-item]  # a scalar
    own, lists = _parted(entry, "")
    found: list[Row] = []
    for key, entries in lists:
        plain = any(is_encore(one) for one, _ in lists) and not is_encore(key)
        label: Row = {"encore": key} if is_encore(key) else {"encore": "main"} if plain else {}
        found += [{**own, **label, **row} for one in entries for row in _rows(one, key)]
    return found or [own]


def _parted(entry: dict[str, object], before: str) -> tuple[Row, list[tuple[str, list[object]]]]:
    """What an entry says itself, and the lists in it."""
    own: Row = {}
    lists: list[tuple[str, list[object]]] = []
    for key, value in entry.items():
        if isinstance(value, dict):
            inner, more = _parted(value, f"{key}.")
            own |= inner
            lists += more
        elif isinstance(value, list):
            lists += [(str(key), value)] if value else []
        else:
            own[f"{before}{key}"] = value  # type: ignore[assignment]  # a scalar, as JSON has no other
    return own, lists


def is_sql(text: str) -> bool:
    """Whether a text is a dump of a database."""
    return len(_INSERT.findall(text[:200_000])) > 1


def from_sql(text: str) -> list[Sheet]:
    """Tables of a dump."""
    names = {
        table: [part.split()[0].strip('`"[]') for part in body.split(",") if part.split()]
        for table, body in _CREATE.findall(text)
    }
    tables: dict[str, Table] = {}
    for name, said, body in _INSERT.findall(text):
        own = [part.strip(' `"[]') for part in said.split(",")] if said else names.get(name, [])
        for values in _TUPLE.findall(body):
            cells = [quoted.replace("''", "'") or plain.strip() for quoted, plain in _VALUE.findall(values + ",")][:-1]
            row: Row = {
                (own[at] if at < len(own) else f"column {at + 1}"): None if cell.upper() == "NULL" else cell
                for at, cell in enumerate(cells)
            }
            tables.setdefault(name, Table(name)).rows.append(row)
    return _sheets(list(tables.values()))


def _sheets(tables: list[Table]) -> list[Sheet]:
    """Lists as tables, each with what it points at in the others."""
    return [_shortened(sheet) for sheet in joins.joined([_sheet(table) for table in tables]) if sheet.cells]


def _shortened(sheet: Sheet) -> Sheet:
    """A table with the short names of its columns, where they say what they are and no other is called so."""
    names = {at: str(value) for at, value in sheet.cells.items() if at[0] == 1}
    short = {at: name.rsplit(".", 1)[-1] for at, name in names.items()}
    often = Counter(short.values())
    telling = {at: one for at, one in short.items() if often[one] == 1 and joins.role_of(names[at]) is not None}
    return replace(sheet, cells={**sheet.cells, **telling}, lent=set())


def _sheet(table: Table) -> Sheet:
    names = table.columns()
    cells = {(1, column): cleaned(name) for column, name in enumerate(names, start=1)}
    for number, row in enumerate(table.rows, start=2):
        for column, name in enumerate(names, start=1):
            cell = cleaned(row.get(name))
            if cell is not None:
                cells[number, column] = cell
    return Sheet(table.name, cells)
