"""Documents that hold text: PDF, DOCX, web pages. What is struck out comes as ~~struck out~~, a table as a table."""

# ruff: noqa: RUF001  # the signs that people type are meant
from __future__ import annotations

import html.parser
import io
import re
import statistics
from collections import Counter
from collections.abc import Iterator
from datetime import date
from itertools import pairwise
from typing import Any

from tourstats.reading.cells import is_label
from tourstats.reading.days import day_in
from tourstats.reading.letters import decoded

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
Letter = tuple[float, float, float, float, str]
"""Left, bottom, right and top of a letter on a page, and the letter."""
_GAP, _APART = 3.0, 3
"""Letters' widths from which a gap parts columns; the spaces that then stand there at least."""
_HEAD = 3
"""Lines in which a show in a cell says its day, and the shows from which a table is one of them."""
_BLOCK = 1.4
"""How many usual lines further down a block begins."""


class Page(html.parser.HTMLParser):
    """Lines and tables of a web page."""

    def __init__(self) -> None:
        super().__init__()
        self.lines: list[str] = []
        self.tables: list[Table] = []
        self.line = ""
        self.row: list[str] | None = None
        self.cell: str | None = None
        self.silent = self.quoted = 0
        self.over: dict[int, int] = {}
        """Columns that a cell of an earlier row covers, and for how many rows more."""
        self.spans = 1

    def cut(self) -> None:
        """End a line, within a cell that of the cell."""
        if self.cell is not None:
            self.cell += "\r"
        elif self.line.strip():
            self.lines.append("> " * self.quoted + " ".join(self.line.split()))
        self.line = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Begin what a tag begins."""
        if tag in _SILENT:
            self.silent += 1
        elif tag in ("td", "th"):
            self._end_cell()
            self.cell, said = "", dict(attrs).get("rowspan") or ""
            self.spans = int(said) if said.isdecimal() else 1
        elif tag == "table":
            self.cut()
            self.tables.append([])
            self.over = {}
        elif tag == "tr":
            self._end_row()
            self.cut()
            self.row = []
        elif tag == "br":
            self._add("\r") if self.cell is not None else self.cut()
        elif re.fullmatch(r"h[1-6]", tag):
            self.cut()
            self.lines += [""] * (self.cell is None)
        elif tag == "li":
            self.cut()
            self.line = "- " if self.cell is None else ""
        elif tag in _STRUCK:
            self._add("~~")
        elif tag in _BLOCKS:
            self.cut()
            self.quoted += tag == "blockquote"

    def handle_endtag(self, tag: str) -> None:
        """End what a tag ends."""
        if tag in _SILENT:
            self.silent = max(0, self.silent - 1)
        elif tag in ("td", "th"):
            self._end_cell()
        elif tag in ("tr", "table"):
            self._end_row()
        elif tag in _STRUCK:
            self._add("~~")
        elif tag == "li" or tag in _BLOCKS or re.fullmatch(r"h[1-6]", tag):
            self.cut()
            self.quoted = max(0, self.quoted - (tag == "blockquote"))

    def _end_cell(self) -> None:
        """Put a cell into its row, right of what earlier rows cover."""
        if self.cell is not None and self.row is not None:
            while self.over.get(len(self.row), 0) > 0:
                self.row.append("")
            if self.spans > 1:
                self.over[len(self.row)] = self.spans
            self.row.append("\n".join(" ".join(line.split()) for line in self.cell.split("\r") if line.strip()))
        self.cell = None

    def _end_row(self) -> None:
        """Put a row into its table; as a line it stands in the text too."""
        self._end_cell()
        if self.row is not None and self.tables:
            self.tables[-1].append(self.row)
            self.lines.append(_in_a_line(self.row))
            self.over = {column: left - 1 for column, left in self.over.items() if left > 1}
        self.row = None

    def handle_data(self, data: str) -> None:
        """Take text."""
        if not self.silent:
            self._add(data)

    def _add(self, text: str) -> None:
        if self.cell is not None:
            self.cell += text
        else:
            self.line += text


def struck_by_style(page: str) -> str:
    """A web page in which what a style strikes out stands between tags that say so.

    Examples
    --------
    >>> struck_by_style('<style>.x{text-decoration:line-through}</style><li>Ferry</li><li class="x">Wren</li>')[47:]
    '<li>Ferry</li><li class="x"><s>Wren</s></li>'

    """
    classes = "|".join(map(re.escape, re.findall(r"\.([\w-]+)\s*\{[^{}]*line-through", page)))
    named = rf"|class=[\"'][^\"']*(?<![\w-])(?:{classes})(?![\w-])" if classes else ""
    tag = rf"<(\w+)(\s[^<>]*(?:style=[\"'][^\"']*line-through{named})[^<>]*)>(.*?)</\1>"
    return re.sub(tag, r"<\1\2><s>\3</s></\1>", page, flags=re.IGNORECASE | re.DOTALL)


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
    found.feed(struck_by_style(text))
    found.cut()
    return "\n".join(found.lines), [table for table in found.tables if any(map(any, table))]


def is_calendar(text: str) -> bool:
    """Whether a text is an export of a calendar."""
    return text.lstrip().startswith("BEGIN:VCALENDAR")


def calendar(text: str) -> str:
    r"""Events of a calendar that hold several lines, as blocks under their day and place, in the order of their days.

    Examples
    --------
    >>> event = "BEGIN:VEVENT\nDTSTART:20310304T200000\nLOCATION:Ostby\nDESCRIPTION:Tin Moth\\nQuill\nEND:VEVENT"
    >>> calendar(f"BEGIN:VCALENDAR\n{event}\nEND:VCALENDAR").splitlines()
    ['2031-03-04, Ostby', 'Tin Moth', 'Quill']

    """
    blocks: list[tuple[str, str]] = []
    names = re.findall(r"^SUMMARY[^:\n]*:(.*)$", text, re.MULTILINE)
    often = Counter(word for name in names for word in set(name.split()))
    for event in re.findall(r"BEGIN:VEVENT\n(.*?)END:VEVENT", re.sub(r"\n[ \t]", "", text), re.DOTALL):
        found = dict(re.findall(r"^([A-Z]+)[^:\n]*:(.*)$", event, re.MULTILINE))
        fields = {
            name: re.sub(r"\\([,;\\])", r"\1", value.replace("\\n", "\n").replace("\\N", "\n"))
            for name, value in found.items()
        }
        day = re.match(r"(\d{4})(\d{2})(\d{2})", fields.get("DTSTART", ""))
        lines = fields.get("DESCRIPTION", "").split("\n")
        if day and sum(bool(line.strip()) for line in lines) > 1:
            lines = lines[1:] if lines[0].rstrip().endswith(":") else lines
            off = " (cancelled)" if fields.get("STATUS", "") == "CANCELLED" else ""
            on, place = "-".join(day.groups()), fields.get("LOCATION", "")
            kept = (
                word for word in fields.get("SUMMARY", "").split() if often[word] <= 0.5 * len(names) or word in "-–—"
            )
            name = " ".join(kept).strip(" -–—")
            place = place if "," in place or name in place else f"{name}, {place}"
            blocks.append((on, "\n".join([f"{on}, {place}".rstrip(", ") + off, *lines])))
    return "\n\n".join(text for _, text in sorted(blocks, key=lambda block: block[0]))


def is_cue(text: str) -> bool:
    """Whether a text is one cue sheet or several, one after the other."""
    return len(re.findall(r"^[ \t]*TRACK \d+ AUDIO", text, re.MULTILINE)) > 1


def cue(text: str) -> str:
    r"""Cue sheets as blocks under their day and title.

    Examples
    --------
    >>> tracks = '  TRACK 01 AUDIO\n    TITLE "Tin Moth"\n    INDEX 01 00:00:33'
    >>> cue(f'REM DATE 2031-03-04\nTITLE "Live in Ostby"\nFILE "one.wav" WAVE\n{tracks}').splitlines()
    ['', '2031-03-04, Live in Ostby', '1. Tin Moth']

    """
    lines: list[str] = []
    head, track = [""], 0
    for word, value in re.findall(r"^[ \t]*(REM DATE|TITLE|FILE|TRACK)[ \t]+(\S.*)", text, re.MULTILINE):
        bare = value.strip().strip('"')
        if word == "TRACK":
            track = int(re.sub(r"\D", "", value) or 0)
        elif word == "FILE":
            lines += ["", ", ".join(filter(None, head))]
            head, track = [""], 0
        elif word == "TITLE" and track:
            lines.append(f"{track}. {bare}")
        else:
            head, track = ([*head, bare] if word == "TITLE" else [bare, *head]), 0
    return "\n".join(lines)


_STAMPED = re.compile(
    r"\W*(\d{4}-\d\d-\d\d)[T ,;\t]+(\d\d):(\d\d)(?::\d\d(?:[.,]\d+)?)?(?:Z|[+-]\d\d:?\d\d)?\W*?[\s;,|\]]\s*(.*)"
)
_FEWEST_STAMPED, _KINDS, _PAUSE = 6, 6, 120
"""Lines from which a text may be a log, words that may say of what kind its lines are, minutes between two shows."""


def is_log(text: str) -> bool:
    """Whether nearly every line of a text begins with a day and a clock, and many have the same day."""
    full = [line for line in text.split("\n") if line.strip()]
    stamps = [match[1] for line in full if (match := _STAMPED.match(line))]
    return len(stamps) >= max(_FEWEST_STAMPED, 0.9 * len(full)) and len(set(stamps)) <= 0.34 * len(stamps)


def log(text: str) -> str:
    r"""What a program noted line by line, as blocks under their day: songs are of the kind that most lines are of.

    A show begins with the kind of the first line, or behind a pause; its first line names the place. What is said of
    a show in lines of other kinds is a comment, if it is no heading within the set.

    Examples
    --------
    >>> noted = ["20:00:00 BEGIN Ostby", "20:01:00 SONG Quill", "20:05:00 SONG Tin Moth", "20:09:00 NOTE rain"]
    >>> log("\n".join(f"2031-03-04T{line}" for line in noted)).splitlines()
    ['', '2031-03-04, Ostby', 'Quill', 'Tin Moth', '// rain']

    """
    noted = [match.groups() for line in text.split("\n") if (match := _STAMPED.match(line))]
    kinds = Counter(said.partition(" ")[0] for *_, said in noted)
    apart = len(kinds) <= _KINDS and 2 * max(kinds.values()) >= len(noted)
    songs, begins = (kinds.most_common(1)[0][0], noted[0][3].partition(" ")[0]) if apart else ("", "")
    lines: list[str] = []
    last = -_PAUSE
    for on, hour, minute, said in noted:
        now = date.fromisoformat(on).toordinal() * 1440 + int(hour) * 60 + int(minute)
        kind, _, rest = said.partition(" ") if apart else ("", "", said)
        rest = rest.strip()
        if now - last >= _PAUSE or (kind == begins != songs):
            lines += ["", f"{on}, {rest}".rstrip(", ") if kind != songs else on]
        elif kind != songs and rest and not is_label(rest):
            lines.append(f"// {rest}")
        if kind == songs or (kind != begins and is_label(rest)):
            lines.append(rest)
        last = now
    return "\n".join(lines)


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
    """Text of a page as it lies there: what stands apart on a line stays apart, and so do blocks."""
    rules = _rules_of(document[number])
    page = document[number].get_textpage()
    text = page.get_text_range().replace("\ufffe", "-")
    if len(text) != page.count_chars():  # letters that have no place of their own
        return str(page.get_text_bounded()).replace("\r\n", "\n").replace("\ufffe", "-")
    boxes = [page.get_charbox(at, loose=True) for at in range(len(text))]
    rows = [
        _struck(
            [(*boxes[at], text[at]) for at in range(*found.span()) if text[at].strip() or at + 1 < found.end()], rules
        )
        for found in re.finditer(r"[^\r\n]*\S[^\r\n]*", text)
    ]
    lines: list[str] = []
    for column in _columns_of_a_page(rows):
        wide = statistics.median(right - left for row in column for left, _, right, _, _ in row) or 1.0
        edge = min(row[0][0] for row in column)
        down = [above[0][1] - row[0][1] for above, row in pairwise(column)]
        block = _BLOCK * statistics.median(down) if down else 0.0
        for gap, row in zip([0.0, *down], column, strict=True):
            lines += [""] * (gap > block)
            lines.append(_laid_out(row, edge, wide))
    return "\n".join(lines)


def _rules_of(page: Any) -> list[tuple[float, float, float]]:  # noqa: ANN401  # the library ships no types
    """Thin lines drawn across a page: their left and right ends, and how high they stand."""
    from pypdfium2 import raw  # noqa: PLC0415  # only for such a file

    boxes = [
        one.get_bounds() if hasattr(one, "get_bounds") else one.get_pos()
        for one in page.get_objects(filter=(raw.FPDF_PAGEOBJ_PATH,))
    ]
    return [(left, right, (low + high) / 2) for left, low, right, high in boxes if right - left > _FLAT * (high - low)]


def _struck(row: list[Letter], rules: list[tuple[float, float, float]]) -> list[Letter]:
    """A line with two waves before and behind what a rule runs through."""

    def through(letter: Letter) -> bool:
        left, low, right, high, _ = letter
        inner = (low + _EDGE * (high - low), high - _EDGE * (high - low))
        return any(start <= (left + right) / 2 <= end and inner[0] < up < inner[1] for start, end, up in rules)

    out = [at for at, letter in enumerate(row) if letter[4].strip() and through(letter)]
    if len(out) < _FEW_LETTERS:
        return row
    (left, low, *_), (_, _, right, high, _) = row[out[0]], row[out[-1]]
    marks = [(left, low, left, high, "~~")], [(right, low, right, high, "~~")]
    return [*row[: out[0]], *marks[0], *row[out[0] : out[-1] + 1], *marks[1], *row[out[-1] + 1 :]]


_FLAT, _EDGE, _FEW_LETTERS = 8, 0.3, 3
"""How much longer than high a drawn line is, share of a letter's height at its edges that it leaves free, letters."""


def _columns_of_a_page(rows: list[list[Letter]]) -> Iterator[list[list[Letter]]]:
    """The lines of a page in runs that go down it."""
    column: list[list[Letter]] = []
    for row in rows:
        if column and row[0][1] > column[-1][0][1]:
            yield column
            column = []
        column.append(row)
    if column:
        yield column


def _laid_out(row: list[Letter], edge: float, wide: float) -> str:
    """A line as it stands in its column, with as many spaces as there is room for where it has a gap."""
    text, at = "", edge
    for left, _, right, _, sign in row:
        if sign.strip():
            if left - at > _GAP * wide:
                text = text.rstrip()
                text += " " * max(round((left - edge) / wide) - len(text), _APART if text else 0)
            text, at = text + sign, right
        elif text.strip():
            text += " "
    return text.rstrip()


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
    lines: list[str] = []
    tables: list[Table] = []
    for block in document.iter_inner_content():
        if hasattr(block, "rows"):
            tables.append([_cells_of(row) for row in block.rows])
            lines += map(_in_a_line, tables[-1])
        else:
            lines += _paragraph(block)
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


def _cells_of(row: Any) -> list[str]:  # noqa: ANN401  # the library ships no types
    """Cells of a row; one that covers several columns stands once, with nothing right of it."""
    pairs = zip([None, *row.cells], row.cells, strict=False)
    return ["" if before is not None and before._tc is cell._tc else _cell(cell) for before, cell in pairs]  # noqa: SLF001  # the only mark of cells that are one


def _cell(cell: Any) -> str:  # noqa: ANN401  # the library ships no types
    return "\n".join(line for paragraph in cell.paragraphs for line in _paragraph(paragraph)).strip()


def shows_in_cells(text: str, tables: list[Table]) -> str:
    r"""The text where each cell of its tables is a show of its own, with its day above it: one show below another.

    Examples
    --------
    >>> shows = ["Ostby\n4.3.2031\nTin Moth", "Ferrol\n5.3.2031\nQuill", "Tarn\n6.3.2031\nTin Moth"]
    >>> shows_in_cells("", [[shows[:2], shows[2:]]]).split("\n\n") == shows, shows_in_cells("Ferry", [])
    (True, '')

    """
    full = [cell for table in tables for row in table for cell in row if cell.strip()]
    shows = [cell for cell in full if any(day_in(line) for line in cell.split("\n")[:_HEAD]) and "\n" in cell]
    if len(shows) < _HEAD or len(shows) < len(full):
        return ""
    rows = {_in_a_line(row) for table in tables for row in table}
    return "\n\n".join([*(line for line in text.split("\n") if line.strip() and line not in rows), *shows])


def _in_a_line(row: list[str]) -> str:
    """A row of a table as a line of text."""
    return "\t".join(" ".join(cell.split()) for cell in row)


_RTF = re.compile(r"\\([a-z]+)(-?\d+)? ?|\\'([0-9a-fA-F]{2})|\\([^a-z])|([{}])|([^\\{}\r\n]+)", re.IGNORECASE)
_RTF_SILENT = frozenset(
    ["fonttbl", "colortbl", "stylesheet", "info", "pict", "listtable", "listoverridetable", "generator", "header",
      "footer", "themedata", "datastore", "xmlnstbl"]
)  # fmt: skip
_RTF_SIGNS = {
    "par": "\n",
    "line": "\n",
    "row": "\n",
    "sect": "\n",
    "page": "\n",
    "tab": "\t",
    "cell": "\t",
    "endash": "–",
    "emdash": "—",
    "lquote": "‘",
    "rquote": "’",
    "ldblquote": "“",
    "rdblquote": "”",
    "bullet": "•",
}
_CODE_PAGES = {"1250": "cp1250", "1251": "cp1251", "932": "shift_jis", "10000": "mac_roman"}


def rtf(data: bytes) -> str:
    r"""Text of a document in RTF.

    Examples
    --------
    >>> rtf(rb"{\rtf1\ansi{\fonttbl\f0 Sans;}\b 4 March 2031\b0\par Tin Moth\par {\strike Quill}\par \'c5s\u229?\par}")
    '4 March 2031\nTin Moth\n~~Quill~~\nÅså'

    """
    text = data.decode("latin-1")
    page = re.search(r"\\ansicpg(\d+)", text)
    encoding = _CODE_PAGES.get(page[1], "cp1252") if page else "cp1252"
    reader = _Rtf(encoding)
    for token in _RTF.findall(text):
        reader.take(*token)
    return re.sub(r"~~(\s*)~~", r"\1", re.sub(r"\n~~(?=\n|$)", "~~\n", "".join(reader.found))).strip()


class _Rtf:
    """Text of a document in RTF, word by word; what is struck out stands between two pairs of waves."""

    def __init__(self, encoding: str) -> None:
        self.encoding = encoding
        self.found: list[str] = []
        self.groups: list[tuple[bool, bool]] = []
        self.silent = self.struck = self.instead = False

    def take(self, word: str, number: str, code: str, sign: str, brace: str, plain: str) -> None:
        """Read one word of it."""
        was = self.struck
        if brace == "{":
            self.groups.append((self.silent, self.struck))
        elif brace == "}":
            self.silent, self.struck = self.groups.pop() if self.groups else (False, False)
        elif word in _RTF_SILENT or sign == "*":
            self.silent = True
        elif word in ("strike", "striked", "plain"):
            self.struck = word != "plain" and number != "0"
        if was != self.struck and not self.silent:
            self.found.append("~~")
        said = self._said(word, number, code, sign, plain)
        if said and not self.silent:
            self.found.append(said)

    def _said(self, word: str, number: str, code: str, sign: str, plain: str) -> str:
        """What stands for one word; a sign by its number is followed by another for programs that lack it."""
        instead, self.instead = self.instead, word == "u" and bool(number)
        if self.instead:
            return chr(int(number) % 65536)
        if instead and (code or plain):
            return "" if code else plain[1:]
        if code:
            return bytes.fromhex(code).decode(self.encoding, "replace")
        if sign in ("\n", "\r"):
            return "\n"
        return (
            plain
            or _RTF_SIGNS.get(word, "")
            or {"~": " ", "_": "-", "-": ""}.get(sign, sign if sign in tuple("\\{}") else "")
        )


def is_mail(text: str) -> bool:
    """Whether a text is a mail as it was sent, its letters or its lines written in code."""
    head = text.lstrip()[:4000].split("\n\n", 1)[0]
    coded = re.search(r"(?im)^Content-(?:Transfer-Encoding:\s*(?:quoted-printable|base64)|Type:\s*multipart)", head)
    return (
        coded is not None and re.search(r"^(?:From|Date|Subject|To):", head, re.IGNORECASE | re.MULTILINE) is not None
    )


def mail(data: bytes) -> str:
    """Text of a mail, the lines that say whose it is and when above it."""
    import email.policy  # noqa: PLC0415  # only for such a file

    message = email.message_from_bytes(data.lstrip(), policy=email.policy.default)
    body = message.get_body(("plain", "html"))
    sent = b"" if body is None else bytes(body.get_payload(decode=True) or b"")
    charset = None if body is None else body.get_content_charset()
    text = decoded(sent).text if charset is None else sent.decode(charset, "replace").replace("\r\n", "\n")
    if body is not None and body.get_content_type() == "text/html":
        text = page(text)[0]
    head = [f"{name}: {message[name]}" for name in ("From", "To", "Date", "Subject") if message[name]]
    return "\n".join([*head, "", text])
