"""From a sheet to its shows: a long table, a grid with a column or a row a show, or blocks of text."""

# ruff: noqa: RUF001, E501  # the signs that people type are meant, and a pattern is read in one piece
from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import cached_property

from tourstats.diary.reading_dates import Day, day_in
from tourstats.diary.reading_files import Cell, Sheet
from tourstats.reading import lines as lines_
from tourstats.reading.titles import Titles, fold

HEADERS = {
    "date": "showdate dateofshow gigdate date datum day jour fecha data dato when",
    "city": "city town ort stadt ville ciudad citta cidade by place location where",
    "venue": "venue hall halle salle local house stage spielort",
    "room": "room kind type raum kindofroom roomkind roomtype venuetype",
    "leg": "leg tour run abschnitt tournee",
    "song": "song title titel titre cancion canzone lied stuck morceau songtitle track name tune sang lat",
    "position": "position pos no nr order nummer slot place# songno songnumber trackno tracknumber setposition orden rang platz",
    "encore": "encore encores zugabe rappel bis enc part section set",
    "number": "number shownumber showno showofday showoftheday numberonday concertnumber",
    "show": "show showid gig concert konzert id gigid concertid",
}
_FIELDS = {word: name for name, words in HEADERS.items() for word in words.split()}
_HEADER_ROWS = 15
_TOP_ROWS = 12
_HEADING = 3
"""Lines that the heading of a show may take."""
_YES = frozenset(
    (
        "1",
        "y",
        "yes",
        "true",
        "x",
        "ja",
        "oui",
        "si",
        "e",
        "encore",
        "zugabe",
        "rappel",
        "bis",
        "enc",
        "e1",
        "e2",
        "e3",
        "✓",
    )
)
_SONG_COLUMN = re.compile(r"(?:song|title|titel|titre|track|no|nr|pos|position|e|enc|encore|zugabe)? ?\d{1,2}")
"""Names of the columns of songs in a table with a row a show."""
_MARKS = re.compile(r"(?:x|✓|✔|•|\*|yes|y|o|e\d{0,2}|enc(?:ore)?|\d{1,3}(?:\.0)?)", re.IGNORECASE)
_VENUE = re.compile(
    r"\b(?:hall|theatre|theater|club|arena|ballroom|pavilion|stadium|auditorium|opera|halle|saal|room|festival|fields?|park|bar|rooms)\b"
)
_SHOW_NUMBER = re.compile(
    r"\(?\b(?:(?:show|gig|set|concert)\s*(?:#|no\.?)?\s*(\d)\b|(\d)(?:st|nd|rd|\.)?\s+show\b|(early|matinee|afternoon|first)(?:\s+show)?\b|(late|evening|second)(?:\s+show)?\b)\)?",
    re.IGNORECASE,
)


@dataclass(frozen=True)
class Typed:
    """A song as it stands in a file."""

    text: str
    row: int
    column: str
    position: float | None = None
    encore: bool = False


@dataclass
class Block:
    """A show as it stands in a file, before its day and its titles are settled."""

    sheet: Sheet
    row: int
    column: str
    date: Cell
    day: Day | None
    city: str | None = None
    venue: str | None = None
    room: str | None = None
    leg: str | None = None
    number: int | None = None
    show: str | None = None
    songs: list[Typed] = field(default_factory=list)
    ordered: bool = True

    @property
    def has_numbers(self) -> bool:
        """Whether most of its lines are numbered."""
        return sum(_numbered(typed.text) for typed in self.songs) > len(self.songs) / 2

    @cached_property
    def has_letters(self) -> bool:
        """Whether letters count its lines; asked for once it is whole."""
        return lines_.lettered(typed.text for typed in self.songs)


@dataclass
class Shape:
    """What was found in a sheet."""

    blocks: list[Block]
    ignored: list[tuple[int, str, str]]
    kind: str


def shape(sheet: Sheet, titles: Titles | None) -> Shape:
    """Find the shows of a sheet in whichever form it has."""
    if sheet.table:
        head = _header(sheet.rows)
        if head is not None:
            return _long(sheet, *head)
        wide = _wide_header(sheet.rows)
        if wide is not None:
            return _wide(sheet, *wide)
        dates = _date_row(sheet.rows)
        if dates is not None:
            return _grid(sheet, *dates)
        nameless = _nameless(sheet.rows, titles)
        if nameless is not None:
            return _wide(sheet, -1, *nameless)
    return _blocks_of_text(sheet, titles)


def text_of(cell: Cell) -> str | None:
    """A cell as the person would read it: 1847.0 is "1847".

    Examples
    --------
    >>> text_of(1847.0), text_of("  "), text_of(True)
    ('1847', None, 'yes')

    """
    if cell is None:
        return None
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    if isinstance(cell, float):
        return str(int(cell)) if cell.is_integer() else str(cell)
    if isinstance(cell, str):
        return " ".join(lines_.cleaned(cell).split()) or None
    return f"{cell:%Y-%m-%d}"


def letter(column: int) -> str:
    """Name of a column as a spreadsheet has it.

    Examples
    --------
    >>> letter(0), letter(27)
    ('A', 'AB')

    """
    return (letter(column // 26 - 1) if column >= 26 else "") + chr(65 + column % 26)  # noqa: PLR2004  # letters


def _field(cell: Cell) -> str | None:
    if not isinstance(cell, str):
        return None
    if cell.strip() in ("#", "№", "n°"):
        return "position"
    return _FIELDS.get(fold(cell).replace(" ", ""))


def _header(rows: list[list[Cell]]) -> tuple[int, dict[str, int]] | None:
    """Find the row of column names of a long table."""
    for at, row in enumerate(rows[:_HEADER_ROWS]):
        found: dict[str, int] = {}
        for column, cell in enumerate(row):
            name = _field(cell)
            if name:
                found.setdefault(name, column)
        if "song" in found and ("date" in found or "show" in found):
            return at, found
    return None


def _wide_header(rows: list[list[Cell]]) -> tuple[int, dict[str, int], list[int]] | None:
    """Find the row of column names of a table with a row a show, and the columns of its songs: "Song 1", "2", "Encore"."""
    for at, row in enumerate(rows[:_HEADER_ROWS]):
        numbered = [column for column, cell in enumerate(row) if _SONG_COLUMN.fullmatch(fold(text_of(cell) or "-"))]
        found: dict[str, int] = {}
        for column, cell in enumerate(row):
            name = _field(cell)
            if name and name != "encore" and column not in numbered:
                found.setdefault(name, column)
        if len(numbered) > 1 and ("date" in found or "show" in found) and "song" not in found:
            extra = [column for column, cell in enumerate(row) if _field(cell) == "encore"]
            return at, found, sorted({*numbered, *extra})
    return None


def _nameless(rows: list[list[Cell]], titles: Titles | None) -> tuple[dict[str, int], list[int]] | None:
    """Find a row a show without column names: a day, perhaps a town and a venue, then the songs."""
    full = [row for row in rows if _joined(row)]
    dated = [row for row in full if day_in(row[0], whole=True) is not None]
    width = max((len(row) for row in full), default=0)
    if (
        len(full) <= 1
        or len(dated) < len(full)
        or sum(text_of(cell) is not None for row in full for cell in row) <= _HEADING * len(full)
    ):
        return None
    first = 2
    if titles is not None:
        for column in (1, 2, 3):
            cells = [text for row in full if column < len(row) and (text := text_of(row[column]))]
            if 2 * sum(titles.same(text) is not None for text in cells) > len(cells):
                first = column
                break
    names = ("date", "city", "venue")[:first]
    return {name: at for at, name in enumerate(names)}, list(range(first, width))


def _wide(sheet: Sheet, head: int, columns: dict[str, int], songs: list[int]) -> Shape:
    """Read a table with a row a show; songs beyond the last named column belong to it too."""
    names = [fold(text_of(cell) or "") for cell in sheet.rows[head]] if head >= 0 else [""] * (max(songs) + 1)
    after = {column for column in songs if lines_.is_encore_mark(names[column])}
    blocks: list[Block] = []
    ignored = [
        (at, _joined(row), "above the table")
        for at, row in enumerate(sheet.rows[: max(head, 0)], start=1)
        if _joined(row)
    ]
    for at, row in enumerate(sheet.rows[head + 1 :], start=head + 2):
        if not _joined(row):
            continue
        values = {name: _get(row, columns, name) for name in ("date", "city", "venue", "room", "leg", "number", "show")}
        block = _block(sheet, at, letter(columns.get("date", columns.get("show", 0))), values)
        beyond = [column for column in range(max(songs) + 1, len(row)) if column not in columns.values()]
        for column in [*songs, *beyond]:
            text = text_of(row[column]) if column < len(row) else None
            if text is not None:
                encore = column in after or (column in beyond and max(songs) in after)
                block.songs.append(Typed(text, at, letter(column), encore=encore))
        blocks.append(block)
    return Shape(blocks, ignored, "a row a show")


def _get(row: list[Cell], columns: dict[str, int], name: str) -> Cell:
    at = columns.get(name)
    return row[at] if at is not None and at < len(row) else None


def _long(sheet: Sheet, head: int, columns: dict[str, int]) -> Shape:
    """Read a table with a row a song; what stands once for a whole show holds until the next."""
    blocks: list[Block] = []
    ignored = [
        (at, _joined(row), "above the table") for at, row in enumerate(sheet.rows[:head], start=1) if _joined(row)
    ]
    last: tuple[object, ...] | None = None
    kept: dict[str, Cell] = {}
    for at, row in enumerate(sheet.rows[head + 1 :], start=head + 2):
        song = text_of(_get(row, columns, "song"))
        values = {name: _get(row, columns, name) for name in ("date", "city", "venue", "room", "leg", "number", "show")}
        if all(value is None for value in values.values()) and song is None:
            if _joined(row):
                ignored.append((at, _joined(row), "no song"))
            continue
        if values["date"] is None and values["show"] is None:
            values = {name: value if value is not None else kept.get(name) for name, value in values.items()}
        kept = values
        key = tuple(text_of(values[name]) for name in ("date", "city", "number", "show"))
        position, encore = _number(_get(row, columns, "position")), _is_encore(_get(row, columns, "encore"))
        if key != last or _restarts(blocks[-1], position, encore):
            blocks.append(_block(sheet, at, letter(columns.get("date", columns.get("show", 0))), values))
            last = key
        if song is not None:
            blocks[-1].songs.append(Typed(song, at, letter(columns["song"]), position, encore))
    return Shape(blocks, ignored, "a row a song")


def _block(sheet: Sheet, row: int, column: str, values: dict[str, Cell]) -> Block:
    number = _number(values.get("number"))
    return Block(
        sheet, row, column, values.get("date"), day_in(values.get("date")),
        city=text_of(values.get("city")), venue=text_of(values.get("venue")), room=text_of(values.get("room")),
        leg=text_of(values.get("leg")), number=int(number) if number is not None and number >= 1 else None,
        show=text_of(values.get("show")),
    )  # fmt: skip


def _restarts(block: Block, position: float | None, encore: bool) -> bool:
    """Whether the same show begins again, as in a table that was pasted twice."""
    if position is None or not block.songs or block.songs[0].position is None:
        return False
    return position == block.songs[0].position == 1 and not (encore and not block.songs[-1].encore)


def _number(cell: Cell) -> float | None:
    if isinstance(cell, bool) or cell is None:
        return None
    if isinstance(cell, int | float):
        return float(cell)
    found = re.search(r"\d+", str(cell))
    return float(found.group()) if found else None


def _is_encore(cell: Cell) -> bool:
    text = text_of(cell)
    return text is not None and (fold(text) in _YES or lines_.is_encore_mark(text))


def _date_row(rows: list[list[Cell]]) -> tuple[int, dict[int, Day]] | None:
    """Find the row at the top that has a day in two or more columns."""
    best: tuple[int, dict[int, Day]] | None = None
    for at, row in enumerate(rows[:_TOP_ROWS]):
        days = {column: day for column, cell in enumerate(row) if not isinstance(cell, float) and (day := day_in(cell))}
        if len(days) > 1 and (best is None or len(days) > len(best[1])):
            best = at, days
    return best


def _grid(sheet: Sheet, head: int, days: dict[int, Day]) -> Shape:
    rows = sheet.rows
    blocks = {column: Block(sheet, head + 1, letter(column), rows[head][column], day) for column, day in days.items()}
    for column, day in days.items():
        _place(blocks[column], day.rest)
    names = next(
        (
            column
            for column in range(min(days))
            if any(isinstance(row[column], str) for row in rows[head + 1 :] if column < len(row))
        ),
        None,
    )
    body = [row for row in rows[head + 1 :] if row]
    cells = [text for row in body for column in days if column < len(row) and (text := text_of(row[column]))]
    marked = sum(_MARKS.fullmatch(cell) is not None for cell in cells)
    by_song = bool(cells) and marked >= 0.8 * len(cells)
    first, ignored = _grid_head(sheet, head, blocks, by_song=by_song)
    if by_song:
        name_at = _song_column(rows, first, days, names)
        _song_rows(rows, first, blocks, name_at)
    else:
        ignored += _song_columns(rows, first, blocks)
    return Shape([blocks[column] for column in sorted(blocks)], ignored, "a column a show")


def _song_column(rows: list[list[Cell]], first: int, days: dict[int, Day], names: int | None) -> int:
    """Column of the titles in a grid with a row a song: the one left of the shows with most different texts."""

    def different(column: int) -> int:
        return len({text_of(row[column]) for row in rows[first:] if column < len(row) and isinstance(row[column], str)})

    left = [column for column in range(max(days)) if column not in days]
    return max(left, key=different) if left else (names or 0)


def _grid_head(
    sheet: Sheet, head: int, blocks: dict[int, Block], *, by_song: bool
) -> tuple[int, list[tuple[int, str, str]]]:
    """Read the rows around the row of days; return where the songs begin and what was left out."""
    rows, ignored, first = sheet.rows, [], head + 1
    for at in range(head):
        name = _field(rows[at][0]) if rows[at] else None
        values = {column: text for column in blocks if column < len(rows[at]) and (text := text_of(rows[at][column]))}
        if values and (name or len(values) > len(blocks) / 2):
            _fill(blocks, name if name not in (None, "date", "song", "position") else "city", values)
        elif _joined(rows[at]):
            ignored.append((at + 1, _joined(rows[at]), "above the table"))
    while first < min(len(rows), head + 6):
        row = rows[first]
        name = next((_field(cell) for column, cell in enumerate(row) if column not in blocks and _field(cell)), None)
        values = {column: text for column in blocks if column < len(row) and (text := text_of(row[column]))}
        if not _joined(row):
            first += 1
            continue
        if name not in ("city", "venue", "room", "leg", "number", "show") and not _is_town_row(
            rows, first, blocks, by_song=by_song
        ):
            if name in ("song", "position") and not values:
                first += 1
                continue
            break
        _fill(blocks, name if name in ("city", "venue", "room", "leg", "number", "show") else "city", values)
        first += 1
    return first, ignored


def _is_town_row(rows: list[list[Cell]], at: int, blocks: dict[int, Block], *, by_song: bool) -> bool:
    """Whether a row below the days holds towns though nothing says so."""
    if any(block.city for block in blocks.values()):
        return False
    row = rows[at]
    values = [text for column in blocks if column < len(row) and (text := text_of(row[column]))]
    if by_song:
        return bool(values) and not any(_MARKS.fullmatch(value) for value in values)
    if min(blocks) > 0 and at + 1 < len(rows):
        here, below = _number(row[0] if row else None), _number(rows[at + 1][0] if rows[at + 1] else None)
        if below is not None:
            return here is None
    later = {
        fold(text)
        for other in rows[at + 1 :]
        for column in blocks
        if column < len(other) and (text := text_of(other[column]))
    }
    return len(blocks) > 1 and len(values) == len(blocks) and not any(fold(value) in later for value in values)


def _fill(blocks: dict[int, Block], name: str | None, values: dict[int, str]) -> None:
    for column, text in values.items():
        if name == "number":
            number = _number(text)
            blocks[column].number = int(number) if number else None
        elif name == "city":
            _place(blocks[column], text)
        elif name:
            setattr(blocks[column], name, text)


def _song_rows(rows: list[list[Cell]], first: int, blocks: dict[int, Block], name_at: int) -> None:
    """Read a grid with a row a song; a mark says that it was played, a number where."""
    for at, row in enumerate(rows[first:], start=first + 1):
        song = text_of(row[name_at]) if name_at < len(row) else None
        if song is None or _field(song):
            continue
        for column, block in blocks.items():
            mark = text_of(row[column]) if column < len(row) else None
            if mark is None or fold(mark) in ("no", "0", "-"):
                continue
            encore = mark[0] in "eE"
            position = _number(mark)
            block.ordered = block.ordered and position is not None
            block.songs.append(Typed(song, at, letter(name_at), position, encore))
    for block in blocks.values():
        if block.ordered:
            block.songs.sort(key=lambda typed: (typed.encore, typed.position))


def _song_columns(rows: list[list[Cell]], first: int, blocks: dict[int, Block]) -> list[tuple[int, str, str]]:
    """Read a grid with a column a show: the titles stand below."""
    ignored = []
    for column, block in blocks.items():
        encore = False
        for at, row in enumerate(rows[first:], start=first + 1):
            text = text_of(row[column]) if column < len(row) else None
            if text is None:
                continue
            if lines_.is_encore_mark(text) or not any(sign.isalnum() for sign in text):
                encore = encore or lines_.is_encore_mark(text)
                ignored.append((at, text, "encore" if lines_.is_encore_mark(text) else "only signs"))
                continue
            label = row[0] if row and 0 not in blocks else None
            front = lines_.readings(text)
            said = any(reading.encore for reading in front) or (isinstance(label, str) and lines_.is_encore_mark(label))
            encore = encore or said
            block.songs.append(Typed(text, at, letter(column), None, encore))
    return ignored


def _joined(row: list[Cell]) -> str:
    return "\t".join(text for cell in row if (text := text_of(cell)))


def _place(block: Block, text: str | None) -> None:
    """Read town, place and number of the show from what stands beside a day."""
    text = (text or "").strip()
    number = _SHOW_NUMBER.search(text)
    if number:
        digits = number[1] or number[2]
        block.number = int(digits) if digits and int(digits) else (1 if number[3] else 2)
        text = f"{text[: number.start()]} {text[number.end() :]}"
    parts = [
        part.strip(" ()")
        for part in re.split(r"\s*[,;@|/\t\n]\s*|\s+[-–—·•]\s+|\s+at\s+", text)
        if part.strip(" ()-–—:.,")
    ]
    if not parts:
        return
    if len(parts) > 1 and _VENUE.search(fold(parts[0])) and not _VENUE.search(fold(parts[1])):
        parts[0], parts[1] = parts[1], parts[0]
    block.city = block.city or parts[0]
    if len(parts) > 1:
        block.venue = block.venue or parts[1]


def _paragraphs(sheet: Sheet) -> Iterator[list[tuple[int, str]]]:
    found: list[tuple[int, str]] = []
    for at, row in enumerate(sheet.rows, start=1):
        line = lines_.cleaned(
            "\t".join(text for cell in row if (text := text_of(cell) if not isinstance(cell, str) else cell))
        )
        if line:
            found.append((at, line))
        elif found:
            yield found
            found = []
    if found:
        yield found


def _blocks_of_text(sheet: Sheet, titles: Titles | None) -> Shape:
    """Read blocks: a line with the day and the town, then the songs."""
    blocks: list[Block] = []
    ignored: list[tuple[int, str, str]] = []
    named = day_in(sheet.name)
    if named is not None and named.year:
        blocks.append(Block(sheet, 1, "", sheet.name, named))
        _place(blocks[-1], named.rest)
    for lines in _paragraphs(sheet):
        _paragraph(sheet, lines, blocks, ignored, titles)
    return Shape(blocks, ignored, "blocks of text")


def _paragraph(
    sheet: Sheet,
    lines: list[tuple[int, str]],
    blocks: list[Block],
    ignored: list[tuple[int, str, str]],
    titles: Titles | None,
) -> None:
    heads = [at for at, (_, line) in enumerate(lines) if _is_head(line, titles, year=True)] or [
        at
        for at, (_, line) in enumerate(lines[:_HEADING])
        if not _numbered(line) and _is_head(line, titles, year=False)
    ][:1]
    above = lines[: heads[0]] if heads and heads[0] < _HEADING else []
    if blocks and any(_numbered(line) or _is_title(line, titles) for _, line in above):
        above = []  # the last songs of the show before
    for at, (number, line) in enumerate(lines[len(above) :], start=len(above)):
        if at in heads:
            blocks.append(Block(sheet, number, "", line, day := day_in(line)))
            _place(blocks[-1], day.rest if day else None)
            for row, other in above if at == heads[0] else []:
                ignored.append((row, other, "heading"))
                if not blocks[-1].city:
                    _place(blocks[-1], other)
        elif not blocks:
            ignored.append((number, line, "above the first day"))
        elif heads and at == heads[-1] + 1 and _is_place_line(blocks[-1], lines, at):
            ignored.append((number, line, "heading"))
            _place(blocks[-1], line)
        else:
            blocks[-1].songs.append(Typed(line, number, ""))


def _is_place_line(block: Block, lines: list[tuple[int, str]], at: int) -> bool:
    """Whether the line below the day is the town: none is known, and it stands apart from the songs."""
    alone = len(lines) == at + 1 or _numbered(lines[at + 1][1])
    return block.city is None and alone and not _numbered(lines[at][1])


def _is_title(line: str, titles: Titles | None) -> bool:
    return titles is not None and any(titles.same(reading.text) for reading in lines_.readings(line)[:_HEADING])


def _numbered(line: str) -> bool:
    return any(reading.numbered for reading in lines_.fronts(line))


def _is_head(line: str, titles: Titles | None, *, year: bool) -> bool:
    """Whether a line is the heading of a show: it has a day, and is no song."""
    day = day_in(re.sub(r"\([^)]*\)", " ", line))
    if day is None or _is_title(line, titles):
        return False
    return day.year is not None or not year
