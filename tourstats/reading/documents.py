"""Documents that hold text: PDF, DOCX, web pages. What is struck out comes as ~~struck out~~, a table as a table."""

# a question is read in one piece
from __future__ import annotations

import html.parser
import io
import re
from collections.abc import Iterator
from typing import Any

_BLOCKS = (
    "p",
    "div",
    "ol",
    "ul",
    "section",
    "article",
    "header",
    "footer",
    "blockquote",
    "tr",
    "table",
    "dt",
    "dd",
    "pre",
)
_STRUCK = ("del", "s", "strike")
_SILENT = ("script", "style", "head", "title")
Table = list[list[str]]


class Page(html.parser.HTMLParser):
    """Lines and tables of a web page."""

    def __init__(self) -> None:
        super().__init__()
        self.lines: list[str] = []
        self.tables: list[Table] = []
        self.line = ""
        self.row: list[str] | None = None
        self.cell: str | None = None
        self.silent = 0

    def cut(self) -> None:
        """End a line."""
        if self.line.strip():
            self.lines.append(" ".join(self.line.split()))
        self.line = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:  # noqa: ARG002  # as the parser calls it
        """Begin what a tag begins."""
        if tag in _SILENT:
            self.silent += 1
        elif tag in ("td", "th"):
            self.cell = ""
        elif tag == "table":
            self.cut()
            self.tables.append([])
        elif tag == "tr":
            self.row = []
        elif tag == "br":
            self._add(" ") if self.cell is not None else self.cut()
        elif re.fullmatch(r"h[1-6]", tag):
            self.cut()
            self.lines.append("")
        elif tag == "li":
            self.cut()
            self.line = "- "
        elif tag in _STRUCK:
            self._add("~~")
        elif tag in _BLOCKS:
            self.cut()

    def handle_endtag(self, tag: str) -> None:
        """End what a tag ends."""
        if tag in _SILENT:
            self.silent = max(0, self.silent - 1)
        elif tag in ("td", "th") and self.cell is not None:
            if self.row is not None:
                self.row.append(" ".join(self.cell.split()))
            self.cell = None
        elif tag == "tr" and self.row is not None:
            if self.tables:
                self.tables[-1].append(self.row)
            self.row = None
        elif tag in _STRUCK:
            self._add("~~")
        elif tag == "li" or tag in _BLOCKS or re.fullmatch(r"h[1-6]", tag):
            self.cut()

    def handle_data(self, data: str) -> None:
        """Take text."""
        if not self.silent:
            self._add(data)

    def _add(self, text: str) -> None:
        if self.cell is not None:
            self.cell += text
        else:
            self.line += text


def is_page(text: str) -> bool:
    """Whether a text is a web page."""
    return re.search(r"<(html|table|ol|ul|li|body|div|h\d)\b[^>]*>", text[:5000], re.IGNORECASE) is not None


def page(text: str) -> tuple[str, list[Table]]:
    r"""Text and tables of a web page.

    Examples
    --------
    >>> page("<h2>4 March 2031</h2><ol><li>Ferry<li><s>Tin Moth</s></ol>")
    ('\n4 March 2031\n- Ferry\n- ~~Tin Moth~~', [])

    """
    found = Page()
    found.feed(text)
    found.cut()
    return "\n".join(found.lines), [table for table in found.tables if any(map(any, table))]


def is_calendar(text: str) -> bool:
    """Whether a text is an export of a calendar."""
    return text.lstrip().startswith("BEGIN:VCALENDAR")


def calendar(text: str) -> str:
    r"""Events of a calendar that hold several lines, as blocks under their day and place.

    Examples
    --------
    >>> event = "BEGIN:VEVENT\nDTSTART:20310304T200000\nLOCATION:Ostby\nDESCRIPTION:Tin Moth\\nQuill\nEND:VEVENT"
    >>> calendar(f"BEGIN:VCALENDAR\n{event}\nEND:VCALENDAR").splitlines()
    ['2031-03-04, Ostby', 'Tin Moth', 'Quill']

    """
    blocks = []
    for event in re.findall(r"BEGIN:VEVENT\n(.*?)END:VEVENT", re.sub(r"\n[ \t]", "", text), re.DOTALL):
        found = dict(re.findall(r"^([A-Z]+)[^:\n]*:(.*)$", event, re.MULTILINE))
        said = {
            name: re.sub(r"\\([,;\\])", r"\1", value.replace("\\n", "\n").replace("\\N", "\n"))
            for name, value in found.items()
        }
        day = re.match(r"(\d{4})(\d{2})(\d{2})", said.get("DTSTART", ""))
        lines = [line for line in said.get("DESCRIPTION", "").split("\n") if line.strip()]
        if day and len(lines) > 1:
            lines = lines[1:] if lines[0].rstrip().endswith(":") else lines
            blocks.append("\n".join([f"{'-'.join(day.groups())}, {said.get('LOCATION', '')}".rstrip(", "), *lines]))
    return "\n\n".join(blocks)


def pdf(data: bytes) -> str:
    """Text of a PDF, a line a line; empty if it holds pictures only.

    Raises
    ------
    ValueError
        If it is damaged or locked.

    """
    import pypdfium2  # noqa: PLC0415  # only for such a file

    try:
        with pypdfium2.PdfDocument(data) as document:
            return "\n".join(_pdf_page(document, number) for number in range(len(document)))
    except pypdfium2.PdfiumError as error:
        raise ValueError(str(error)) from error


def _pdf_page(document: Any, number: int) -> str:  # noqa: ANN401  # the library ships no types
    text = document[number].get_textpage().get_text_bounded()
    return str(text).replace("\r\n", "\n").replace("\ufffe", "-")


def docx(data: bytes) -> tuple[str, list[Table]]:
    """Text and tables of a document of a word processor.

    Raises
    ------
    ValueError
        If it is damaged.

    """
    import docx as library  # noqa: PLC0415  # only for such a file

    try:
        document = library.Document(io.BytesIO(data))
    except (KeyError, ValueError, OSError) as error:
        raise ValueError(str(error)) from error
    lines = [line for paragraph in document.paragraphs for line in _paragraph(paragraph)]
    tables = [[[_cell(cell) for cell in row.cells] for row in table.rows] for table in document.tables]
    return "\n".join(lines), tables


def _paragraph(paragraph: Any) -> Iterator[str]:  # noqa: ANN401  # the library ships no types
    """Lines of a paragraph; a heading begins a block, an item of a list has its bullet."""
    style = str(getattr(paragraph.style, "name", ""))
    parts = [f"~~{run.text}~~" if run.font.strike and run.text.strip() else run.text for run in paragraph.runs]
    text = "".join(parts) or paragraph.text
    if style.startswith(("Heading", "Title")):
        yield ""
    bullet = "- " if style.startswith("List") and text.strip() else ""
    yield from (bullet + line for line in text.split("\n"))


def _cell(cell: Any) -> str:  # noqa: ANN401  # the library ships no types
    return " ".join(line for paragraph in cell.paragraphs for line in _paragraph(paragraph)).strip()
