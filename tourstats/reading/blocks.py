"""Texts, and tables without one shape: shows as lines under their day, mails, messages, or one set alone."""

# ruff: noqa: RUF001, E501  # the signs that people type are meant, and a pattern is read in one piece
from __future__ import annotations

import itertools
import re
from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import timedelta
from typing import NamedTuple

from tourstats.reading import chats, counters, encores, headers, same_again, towns, ways
from tourstats.reading.asking import Asking
from tourstats.reading.cells import CANCELLED as CANCELLED_WORDS
from tourstats.reading.cells import (
    ENCORES,
    LABEL,
    NUMBER,
    TEXT,
    is_encore,
    is_label,
    is_struck,
    kind_of,
    plain_signs,
    shown,
    tight,
    unstruck,
)
from tourstats.reading.days import Calendar, Day, day_in
from tourstats.reading.files import RULE_OF_TABLE
from tourstats.reading.known import Known
from tourstats.reading.layout import Draft, Item, Night, Spot
from tourstats.reading.legends import Legend, defined_in, legend_of
from tourstats.reading.places import reads_like_venue
from tourstats.reading.same_again import corrected, is_told
from tourstats.reading.titles import fold
from tourstats.reading.trimming import trim
from tourstats.reading.workbooks import Sheet
from tourstats.reading.years import META, WROTE, beside, section_of

BLOCKS, CHAT, MAILS, ROWS, SHEETS = "blocks under a day", "messages", "mails", "rows under a day", "a sheet a show"
SET_A_LINE, ONE_SET = "a set a line", "one set"
CANCELLED, EXPLAINED = "a show that was cancelled", "what short names and signs mean"
REHEARSED, REPEATED, PAGES, ADDED = "a rehearsal", "the same show again", "counts the pages", "what the program adds"
NO_SHOW = "a sheet without a show"
"""Why the songs of a show, and the lines of a legend, are left out."""
ENCORE = "encore"
_HEADING = 8
"""Words up to which a line may be a heading."""
_COUNT = re.compile(r"\W*\d{1,3}\W*")
_BOX = re.compile(r"^\s*(?:[-*•]\s+)?\[([ xX✓✔]?)\]\s+")
_CANCELLED = re.compile(rf"\b(?:{CANCELLED_WORDS})\b", re.IGNORECASE)
_CANCELLED_APART = re.compile(rf"(?:^|[(\[,:;–—-])\W*(?:{CANCELLED_WORDS})\s*(?:$|[()\[\].,:;!–—]|- )", re.IGNORECASE)
"""Said alone between signs, and so of the show."""
_CANCELLED_LINE = re.compile(rf"\W*(?:{CANCELLED_WORDS})\s*(?:[(:,.!–-]|$)", re.IGNORECASE)
_ENCORE_FRONT = re.compile(
    rf"^(?:[*_]{{0,2}}\(?(?:{ENCORES}|[ezrb])\s*\d?\s*[:–)][*_]{{0,2}}\s*|(?:{ENCORES})\.\s+|(?:{ENCORES})\s*\d?\s*-\s+|(?:e|enc|encore|z|t)\s?\d[.)]?\s+(?:[-–]\s+)?|[ezrb]\d\s*[-–]\s*|enc\s+(?=\d|[^\W\d_]))(?=\S)(.+)$",
    re.IGNORECASE,
)
_FRONT = re.compile(
    rf"({ENCORES}|[^\W\d_][^:]{{0,24}}(?=:)|[^\W\d_]{{1,4}}(?=[.\s]))[.:]?\s+(?=\S)(.+)$", re.IGNORECASE
)
"""A word for the encore, or one cut short, and what stands behind it."""
_IN_BRACKETS = re.compile(r"[(\[][^()\[\]]*[)\]]")
_LAST_ONE = re.compile(r"(?:the )?(?:last|clos|final|letzte|derni|[uú]ltim)", re.IGNORECASE)
_YEAR = 4
"""Digits of a year, which is a title where it has a hyphen of its own."""
_FEWEST_ENDS, _HALVES, _LISTS, _LISTED_AGAIN = 3, 2, 5, 0.4
_PARTS, _STROKES = re.compile(r"[;,/>|]| [+–-] "), (" + ", " / ", " | ", "; ", " – ", " - ", " > ")
"""What parts the songs of a list, and what may part its encore."""
_EQUALS = re.compile(r"\s*(?:=>?|[-–—]?>|→|»)\s*(?=\w)")
"""What leads from a day to the songs behind it."""
_DASHED = re.compile(
    r"([^>/|;:–—,]{2,50}?(?:,[^>/|;:–—,]{2,30}?)?)\s+([–—-]{1,2})\s+(?=[^–—]*(?: > | // | / | \| |; | → |,[^,]*,| - [^–—]* - ))"
)
"""A place, and behind a dash the songs of a list."""
_DASH = re.compile(r"(.+?)\s+([–—])\s+(?=\S)")
"""The same of a line that does not list them."""
_BEHIND = re.compile(r"(?<=\S)\s+(?://\s+(\S[^/()]*)|([*_])(?=\w)([^*_()]+)\2)$")
"""What is said behind a title: behind two strokes, or in italics."""
_MARKUP = re.compile(r"^(?:#{1,6}\s+|>\s*)+|(?<!\w)(?:\*\*|__|_(?=[^_]+_(?!\w)))(?=\S)|(?<=[^\s_])(?:\*\*|__?)(?!\w)")
_HEADED = re.compile(r"\s*(?:#{1,6}|={2,}|\*{2,}|>{2,}|-{2,}|[\u25a0-\u25ff【])\s*(?=\w)")
"""What headings of shows begin with."""
_RULE = re.compile(r"[\W_]+")
_COMMENT = re.compile(r"\s*//+\s+(?=\w)(.+)$")
_LEADER = re.compile(r"\s*(?:\.{4,}|(?:\. ){3,}|…{2,}|_{3,})\s*(?=\w)")
"""Dots that lead from a title to who wrote it."""
_LISTED = re.compile(r":\s.*(?:>|/|;|,|–|-)\s.*(?:>|/|;|,|–|-)\s")
_NEARLY_FULL = (0.85, 0.75)
"""Shares of the width at which a line of a page may end, whose letters are not equally wide."""
_MOST_TRIED, _FORM_GAIN = 400, 1.05
"""Headings up to which their forms are tried apart, and how much more has to come again for it."""
_PLACES = (headers.CITY, headers.VENUE)
_MORNING = 6
_APART = 120
"""Minutes from which what one person writes is of another set."""
_BEFORE, _BORNE = "the evening before", "the day that was sent"
_BY_DAY = range(_MORNING, 18)
"""Hours at which the last night is the one before."""
_LAST_NIGHT = re.compile(
    r"\b(?:last night|yesterday|gestern|hier(?: soir)?|anoche|ayer|ontem|ieri(?: sera)?|wczoraj|gisteren|gisteravond|i går|igår|i gaar|eilen)\b",
    re.IGNORECASE,
)
_REHEARSAL = re.compile(
    r"\b(?:rehears\w+|practice|probe\w*|generalprobe|répétition|repetition|ensayos?|ensaio|prova|prove|repetitie|øving|øvelse|rep|repet|harjoituk\w+|próba|zkouška|skúška|próbák|proba)\b",
    re.IGNORECASE,
)
_COUNTED_APART = re.compile(r"[^\W\d_]{1,6}[\s.-]?\d{1,2}[.)]?")
"""What counts the songs of an encore where numbers count the others: "EN1", "Z 2"."""
_REHEARSED = re.compile(r"\W*(?:sound|line)[\s-]?check\W*|\W*(?:rehears(?:al|ed)|probe)\W*", re.IGNORECASE)


def is_rehearsed(text: str) -> bool:
    """Whether a heading is that of songs that were only tried: "Soundcheck"."""
    return _REHEARSED.fullmatch(text) is not None


@dataclass
class _Block:
    """A show as a stretch of lines: its day, the lines above it that name places, and those below."""

    day: Day | None
    line: int
    places: list[tuple[int, str]] = field(default_factory=list)
    body: list[tuple[int, str]] = field(default_factory=list)
    earlier: int = 0
    """How many days before its day the show was: 1 for a mail that says "last night"."""
    part: Part | None = None
    whole: bool = False
    """Whether its songs stand in the line of its day."""
    named: bool = False
    """Whether its day is in the name of its sheet."""


@dataclass
class Part:
    """Lines that are read together: a text, or the rows of a sheet, with a tab between its cells."""

    lines: list[str]
    sheet: Sheet | None = None

    @classmethod
    def of(cls, sheet: Sheet) -> Part:
        """Rows of a sheet as lines."""
        width = max(column for _, column in sheet.cells)
        rows: dict[int, list[str]] = defaultdict(lambda: [""] * width)
        for (row, column), value in sheet.cells.items():
            rows[row][column - 1] = shown(value).replace("\t", " ")
        return cls(counters.plain(["\t".join(rows.get(row, ())) for row in range(1, max(rows) + 1)]), sheet)

    @property
    def name(self) -> str:
        """Name of the sheet; of a text none."""
        return self.sheet.name if self.sheet else ""

    def spot(self, line: int, at: int = 0) -> Spot:
        """Where a line stands, or one cell of a row."""
        return Spot(self.name, line, at + 1)

    def spots(self, line: int) -> list[Spot]:
        """Every spot of a line."""
        if self.sheet is None:
            return [self.spot(line)]
        return [self.spot(line, at) for at, text in enumerate(self.lines[line - 1].split("\t")) if text]


def prose(lines: list[str], calendar: Calendar, asking: Asking, known: Known) -> Draft | None:
    """Read a text; None if nothing in it can be shows."""
    draft = Draft(BLOCKS, asking, text=True)
    bare = [re.sub(r"^(\s*>)+ ?", "", plain_signs(line)).rstrip() for line in lines]
    bare = [_LEADER.sub("   ", line) for line in _without_pipes(bare)]
    part = Part(counters.plain(_without_empty_boxes(draft, bare)))
    sent = chats.messages(part.lines)
    legend = defined_in(part.lines) if sent else legend_of(part.lines)
    draft.take((part.spot(line) for line in legend.lines), "heading", EXPLAINED)
    part.lines = ["" if number in legend.lines else line for number, line in enumerate(part.lines, start=1)]
    if not sent:
        part.lines = _without_comments(draft, _without_names(draft, _without_running_lines(draft, part)))
    blocks = _of_chat(draft, part.lines, sent, calendar, "") if sent else _of_text(draft, part.lines, calendar, "")
    for block in blocks:
        block.part = part
    return _read(draft, blocks, calendar, known, legend)


def _without_pipes(lines: list[str]) -> list[str]:
    """Rows of a table in Markdown with tabs between their cells."""
    if not any(RULE_OF_TABLE.fullmatch(line) for line in lines):
        return lines
    return [
        "\t".join(cell.strip() for cell in line.strip().strip("|").split("|"))
        if line.lstrip().startswith("|") and not RULE_OF_TABLE.fullmatch(line)
        else line
        for line in lines
    ]


def _without_running_lines(draft: Draft, part: Part) -> list[str]:
    """Lines without those that only count the pages, one for each show or so: "Spring tour / sheet 3 of 8"."""
    days = [day is not None and day.full for day in map(day_in, part.lines)]
    found: dict[str, list[tuple[int, int, int]]] = defaultdict(list)
    for at, line in enumerate(part.lines):
        pieces = re.split(r"(\d+)", line.strip())
        if not days[at] and not ways.NUMBER_FIRST.match(line) and re.search(r"[^\W\d_]{3}", line):
            for which in range(1, len(pieces), 2):
                form = "".join([*pieces[:which], "#", *pieces[which + 1 :]])
                found[form].append((at, int(pieces[which]), sum(days[:at])))
    lines = list(part.lines)
    for some in found.values():
        apart = len({show for *_, show in some}) == len(some) >= max(_FEWEST_ENDS, 0.3 * sum(days))
        if apart and all(other - one == 1 for (_, one, _), (_, other, _) in itertools.pairwise(some)):
            draft.take((part.spot(at + 1) for at, *_ in some), "heading", PAGES)
            lines = ["" if at in {one for one, *_ in some} else line for at, line in enumerate(lines)]
    return lines


def _without_names(draft: Draft, lines: list[str]) -> list[str]:
    """Lines of cells without those that stand above several runs of numbers from 1: the names of the columns."""
    cells = [line.split("\t") for line in lines]
    first = [len(row) > 1 and re.fullmatch(r"\W*0?1\W*", row[0]) is not None for row in cells]
    above = {at for at in range(len(lines) - 1) if first[at + 1] and len(cells[at]) == len(cells[at + 1])}
    names = Counter(
        lines[at] for at in above if not _COUNT.fullmatch(cells[at][0]) and not any(map(is_label, cells[at]))
    )
    heads = {line for line, times in names.items() if times > 1}
    found = {at for at in above if lines[at] in heads}
    draft.take((Spot("", at + 1, 1) for at in found), "heading", "the names of the columns")
    return ["" if at in found else line for at, line in enumerate(lines)]


def _without_comments(draft: Draft, lines: list[str]) -> list[str]:
    """Lines without those behind two strokes, as programs mark what is none of theirs, if they stand nowhere else."""
    plain = {tight(line) for line in lines if not _COMMENT.match(line)}
    found = {at for at, line in enumerate(lines) if (match := _COMMENT.match(line)) and tight(match[1]) not in plain}
    draft.take((Spot("", at + 1, 1) for at in found), "remark", "a comment")
    return ["" if at in found else line for at, line in enumerate(lines)]


def stretches(sheets: Sequence[Sheet], calendar: Calendar, asking: Asking, known: Known) -> Draft | None:
    """Read the rows of sheets as lines under a day, or the day of their name; None if fewer than two shows are."""
    draft = Draft(ROWS, asking)
    blocks: list[_Block] = []
    for sheet in sheets:
        part = Part.of(sheet)
        on_sheet = _of_text(draft, part.lines, calendar, sheet.name)
        day = day_in(sheet.name.replace("_", " "))
        if draft.how == ONE_SET:
            draft.how = ROWS
            on_sheet = on_sheet if day is not None and calendar.of(day) else []
            for block in on_sheet:
                block.day, block.named = day, True
        if not on_sheet:
            draft.take((Spot(sheet.name, *at) for at in sheet.cells), "left out", NO_SHOW)
        for block in on_sheet:
            block.part = part
        blocks += on_sheet
    _take_labels(blocks)
    if len(sheets) > 1 and len(blocks) <= len(sheets):
        draft.how = SHEETS
    return _read(draft, blocks, calendar, known, Legend()) if len(blocks) > 1 else None


def _take_labels(blocks: list[_Block]) -> None:
    """Rows below a day that say, as its own does, first what they tell and then that: "Town", and beside it "Ostby"."""
    found = [(block, *_labelled(block)) for block in blocks]
    values: dict[str, list[str]] = defaultdict(list)
    for *_, rows in found:
        for _, label, value in rows:
            values[tight(label)].append(tight(value))
    most = max(2, 0.8 * len(blocks))
    telling = {form for form, some in values.items() if len(some) >= most and len(set(some)) > 1}
    days = Counter(label for _, label, _ in found if label)
    for block, day, rows in found:
        if day and days[day] >= most and block.day is not None:
            block.day = replace(block.day, rest="")
            told = {number: (label, value) for number, label, value in rows if tight(label) in telling}
            block.body = [one for one in block.body if one[0] not in told]
            block.places += [
                (number, f"{label}: {value}" if headers.named(label) in _PLACES else value)
                for number, (label, value) in told.items()
            ]


def _labelled(block: _Block) -> tuple[str, list[tuple[int, str, str]]]:
    """What stands in the one cell left of a day, and the rows below that have cells in the same two columns alone."""
    lines = block.part.lines if block.part is not None else []
    cells = [{at: text for at, text in enumerate(line.split("\t")) if text} for line in lines[block.line - 1 :]]
    day = list(cells[0].values()) if cells and block.day is not None and not block.named else []
    if len(day) != 2 or kind_of(day[0]) != TEXT or day_in(day[1]) is None or day_in(day[0]) is not None:
        return "", []
    rows = []
    for number, row in enumerate(cells[1:], start=block.line + 1):
        label, value = (*row.values(), "", "")[:2]
        if row.keys() != cells[0].keys() or kind_of(label) != TEXT or headers.named(label) == headers.POSITION:
            break
        if kind_of(value) == TEXT:
            rows.append((number, label, value))
    return tight(day[0]), rows


class _Cells(Part):
    """Lines that stand in cells: several may stand in one."""

    def __init__(self) -> None:
        super().__init__([])
        self.at: list[Spot] = []

    def add(self, spot: Spot, line: str) -> int:
        """One more line; which it is."""
        self.lines.append(line)
        self.at.append(spot)
        return len(self.lines)

    def spot(self, line: int, at: int = 0) -> Spot:  # noqa: ARG002  # a cell is one place
        """The cell in which a line stands."""
        return self.at[line - 1]

    def spots(self, line: int) -> list[Spot]:
        """As a list."""
        return [self.at[line - 1]]


def of_cells(
    how: str,
    shows: Sequence[tuple[Day, Spot, list[tuple[Spot, str]]]],
    calendar: Calendar,
    asking: Asking,
    known: Known,
    *,
    beside: bool,
) -> Draft | None:
    """Read shows of which cells hold lines of the set: the day of each, where it stands, and lines with their cells."""
    blocks, part = [], _Cells()
    for day, at, lines in shows:
        block = _Block(day, part.add(at, day.text), part=part)
        block.body = [(part.add(spot, line), line) for spot, line in lines if line.strip()]
        blocks.append(block)
    return _read(Draft(how, asking, placed=True, beside=beside), blocks, calendar, known, Legend())


def _read(draft: Draft, blocks: list[_Block], calendar: Calendar, known: Known, legend: Legend) -> Draft | None:
    """Cut the lines of all shows in the way that makes most of them come again, and take the songs of each."""
    if not blocks:
        return None
    _beside_days(draft, blocks)
    _mark_encores(blocks, draft.asking)
    bodies = [[line for _, line in block.body] for block in blocks if block.body and not is_told(block.body)]
    if not bodies:
        return None
    cells = blocks[0].part is not None and blocks[0].part.sheet is not None
    way = ways.best_way(bodies, known, cells=cells, legend=legend.short)
    way = _with_encore_beside(bodies, way) if cells else way
    if (joined := _unwrapped(draft, blocks, way, known)) is not None:
        bodies, way = joined
    order = ways.order_of(bodies, way, draft.asking)
    _ask_about_way(draft, bodies, way)
    draft.legend = legend
    cutter = _cutter(draft, way, order, bodies)
    if cells and way.picks:
        _songs_beside_days(blocks, cutter)
    for block in blocks:
        night = _night(draft, block, calendar, cutter)
        draft.nights.append(_without_cancelled(draft, night))
    _leave_rehearsals(draft, blocks)
    _leave_repeated(draft)
    _part_encores(draft)
    encores.settle(draft)
    corrected(draft)
    if draft.how == SET_A_LINE and not all(night.places for night in draft.nights):
        first = next((night.items[0].text for night in draft.nights if night.items), "")
        draft.asking.confirm("first of a line", f'Is "{first}", the first of its line, read as it should be?')
    again = same_again.told(draft)
    trim(draft, known)
    same_again.same_again(draft, again)
    draft.nights = [night for night in draft.nights if night.items or draft.how != CHAT]
    return draft


def _ask_about_way(draft: Draft, bodies: list[list[str]], way: ways.Way) -> None:
    """Ask about titles in quotation marks, and about two that never stand apart."""
    if way.sign == ways.QUOTED and not ways.all_quoted(bodies):
        problem = "What stands in quotation marks is taken for the songs, in that order: is that right?"
        draft.asking.confirm("quoted", problem)
    if (pair := ways.always_together(bodies, way)) is not None:
        problem = f'"{pair[0]}" and "{pair[1]}" never stand apart: are they two songs, and not one?'
        draft.asking.confirm("together", problem)


def _cutter(draft: Draft, way: ways.Way, order: str, bodies: list[list[str]]) -> _Cutter:
    """What cuts the lines of every show in the way that was found."""
    lines = [line for body in bodies for line in body]
    again = Counter(ways.core(one.text) for line in lines for one in ways.cut(line, way, set()).songs)
    again += ways.below_headings(lines)
    again += ways.signs_in_titles(lines)
    headed = any(is_label(line.strip()) and is_encore(line) for line in lines)
    heads = ways.column_heads(bodies, way) if order == ways.DOWN else set()
    cutter = _Cutter(draft, way, order, ways.leads(bodies), again, headed=headed, remarks=_sparse(lines, way))
    return replace(cutter, heads=heads)


def _sparse(lines: list[str], way: ways.Way) -> set[int]:
    """Columns right of the songs in which few rows hold a text: what is said of some songs."""
    rows = [
        cells
        for line in lines
        if way.picks and len(cells := line.split(way.sign)) > way.picks[0] and cells[way.picks[0]]
    ]
    beside = Counter(at for cells in rows for at, text in enumerate(cells) if at > max(way.picks) and text)
    texts = Counter(at for cells in rows for at, text in enumerate(cells) if text and kind_of(text) == TEXT)
    return {at for at, filled in beside.items() if filled < 0.5 * len(rows) and texts[at] >= 0.8 * filled}


def _with_encore_beside(bodies: list[list[str]], way: ways.Way) -> ways.Way:
    """Read the columns too that a heading for the encore stands above, in a row where another cell heads the songs."""
    heads: Counter[int] = Counter()
    for body in bodies:
        rows = [line.split(ways.CELLS) for line in body]
        for row in rows:
            if any(at < len(row) and (is_label(row[at]) or headers.named(row[at])) for at in way.picks):
                heads.update(at for at, text in enumerate(row) if is_label(text) and is_encore(text))
    more = {at for at, times in heads.items() if at > max(way.picks, default=0) and times >= 0.5 * len(bodies)}
    return replace(way, picks=(*way.picks, *sorted(more))) if way.picks else way


def _songs_beside_days(blocks: list[_Block], cutter: _Cutter) -> None:
    """Where the rows of most days hold a song of other shows too, as in two tables side by side, sets begin there."""
    beside = {}
    for at, block in enumerate(blocks):
        cells = block.part.lines[block.line - 1].split("\t") if block.part and block.day else []
        day = next((column for column, cell in enumerate(cells) if block.day and block.day.text in cell), len(cells))
        rest = ["" if column <= day else cell for column, cell in enumerate(cells)]
        picked = [rest[pick] for pick in cutter.way.picks if pick < len(rest)]
        if any(kind_of(text) == TEXT and cutter.again[ways.core(text)] for text in picked):
            beside[at] = "\t".join(rest)
    full = [block for block in blocks if block.body]
    for at, line in beside.items() if 2 * len(beside) > len(full) else ():
        blocks[at].whole = True
        blocks[at].body.insert(0, (blocks[at].line, line))


def _leave_rehearsals(draft: Draft, blocks: list[_Block]) -> None:
    """A day whose heading says that it was a rehearsal is no show, where others are."""
    told = [
        night
        for night, block in zip(draft.nights, blocks, strict=True)
        if block.part and _REHEARSAL.search(block.part.lines[block.line - 1])
    ]
    for night in told if len(told) < len(draft.nights) else ():
        draft.take((item.at for item in night.items), "left out", REHEARSED)
        night.items = []


def _leave_repeated(draft: Draft) -> None:
    """A set that is quoted again under the same day stands for one show."""
    first: set[tuple[object, ...]] = set()
    for night in draft.nights:
        said = (night.day, *(tight(item.text) for item in night.items if item.kind != LABEL))
        if len(said) > 3 and said in first and draft.how in (BLOCKS, SET_A_LINE):
            draft.take((item.at for item in night.items), "left out", REPEATED)
            night.items = []
        first.add(said)


def _part_encores(draft: Draft) -> None:
    """Take a word off the last songs of the shows if it says that they are the encore: "Ex. Ferry", "Zugabe Ferry".

    It does where it begins nothing but the ends of the shows, and half of what stands behind it is a title without it.
    """
    led: dict[str, list[tuple[Item, str]]] = defaultdict(list)
    for item in draft.items():
        match = _FRONT.match(item.text) if item.kind == TEXT and not item.encore else None
        if match:
            led[fold(match[1])].append((item, match[2]))
    forms = {tight(item.text) for item in draft.items()}
    for some in led.values():
        mine = {id(item) for item, _ in some}
        ends = [[id(item) in mine for item in night.items] for night in draft.nights if night.items]
        least = max(_FEWEST_ENDS, 0.5 * len(ends))
        titles = {tight(title) for _, title in some}
        if (
            sum(map(any, ends)) < least
            or any(flags != sorted(flags) for flags in ends)
            or any(all(flags) for flags in ends)
            or len(titles) < _FEWEST_ENDS
            or 2 * len(titles & forms) < len(titles)
        ):
            continue
        for item, title in some:
            item.text, item.encore, item.numbered = title, not _LAST_ONE.match(item.text), True


def _unwrapped(
    draft: Draft, blocks: list[_Block], way: ways.Way, known: Known
) -> tuple[list[list[str]], ways.Way] | None:
    """Join lists that an editor has broken at its width, if more comes again then."""
    told = [block for block in blocks if block.body and not is_told(block.body)]
    width = max((len(line.rstrip()) for block in told for _, line in block.body), default=0)
    best: tuple[float, list[list[tuple[int, str]]], ways.Way] | None = None
    marked = [bool(ways.MARK.match(line) or ways.NUMBER_FIRST.match(line)) for block in told for _, line in block.body]
    if sum(marked) > 0.4 * len(marked):
        return None
    signs = {sign.strip(): sign for sign in ways.LISTS}.values()
    for sign, full in itertools.product(signs, (1.0, *_NEARLY_FULL)):
        made = [ways.unwrapped(block.body, sign, full * width) for block in told]
        if sum(map(len, made)) >= sum(len(block.body) for block in told):
            continue
        found = ways.best_way([[line for _, line in body] for body in made], known)
        if found.sign == sign and found.worth > max(1.02 * way.worth, best[0] if best else 0):
            best = (found.worth, made, found)
    if best is None:
        return None
    for block, body in zip(told, best[1], strict=True):
        kept = {number for number, _ in body}
        if block.part is not None:
            draft.take(
                (block.part.spot(number) for number, _ in block.body if number not in kept),
                "song",
                "goes on from the line above",
            )
        block.body = body
    return [[line for _, line in body] for body in best[1]], best[2]


def _beside_days(draft: Draft, blocks: list[_Block]) -> None:
    """Take what stands behind the days for the sets, where they stand there."""
    alone = [block for block in blocks if not block.body]
    if len(blocks) > 1 and (len(alone) >= 0.8 * len(blocks) or _list_beside_days(blocks)):
        draft.how = SET_A_LINE
        _rest_is_body(draft, blocks)
    else:
        _rest_is_body(
            draft, [block for block in blocks if not block.body and block.day and _LISTED.search(block.day.rest)]
        )


def _list_beside_days(blocks: list[_Block]) -> bool:
    """Whether nearly all days have a list behind them, of which most comes again behind others: what stands below is said."""
    lists = [{ways.core(piece) for piece in _PARTS.split(block.day.rest)} for block in blocks if block.day]
    lists = [some for some in lists if len(some) >= _LISTS]
    often = Counter(form for some in lists for form in some if form)
    again = sum(often[form] > 1 for some in lists for form in some)
    return len(lists) >= max(_HALVES, 0.6 * len(blocks)) and again > _LISTED_AGAIN * sum(map(len, lists))


def _rest_is_body(draft: Draft, blocks: list[_Block]) -> None:
    """Shows of one line each: what stands behind the day is the set; what ends in a colon before it, the place."""
    lines = [block.day.rest for block in blocks if block.day]
    dashed = sum(_DASHED.match(line) is not None for line in lines) >= 0.6 * len(lines)
    for block in blocks:
        rest = block.day.rest if block.day else ""
        head, colon, songs = rest.partition(": ")
        line = block.part.lines[block.line - 1] if block.part else rest
        behind = line.partition(block.day.text)[2].strip(" \t:,–—-") if block.day else rest
        if not colon and (told := _EQUALS.match(behind)):
            head, colon, songs = rest.removesuffix(behind).strip(" \t:,–—-"), told[0], behind[told.end() :]
        if not colon and dashed and (told := _DASHED.match(behind) or _DASH.match(behind)):
            head, colon, songs = told[1].strip(" \t:,"), told[2], behind[told.end() :]
        tabbed = [text for text in re.split(r"\t|\s{2,}", behind) if text.strip()] if not colon else []
        if len(tabbed) > 1:
            head, colon, songs = ", ".join(tabbed[:-1]), "\t", tabbed[-1]
        if block.part is not None and not is_told(block.body):
            _leave_message(draft, block.body, "between the shows", block.part.name)
            block.body = []
        block.body = block.body or [(block.line, songs if colon else rest)]
        block.places = [*block.places, (block.line, head)] if colon else block.places
        block.whole = True


def _mark_encores(blocks: list[_Block], asking: Asking) -> None:
    """Part the encore of each show, by a sign near the end of its list or by a word that leads to it."""
    _mark_by_sign(blocks)
    led = encores.below_leads([[line for _, line in block.body] for block in blocks], asking)
    for block, lines in zip(blocks, led, strict=True):
        numbers = [number for number, _ in block.body]
        block.body = [(number, ways.with_encore_parted(line)) for number, line in zip(numbers, lines, strict=True)]


def _mark_by_sign(blocks: list[_Block]) -> None:
    """Part the encore where most lists have one sign near their end that parts no other songs: "Quill, Ferry / Marl".

    What stands on both sides of it comes again elsewhere, and is not always the same.
    """
    lists = [line for block in blocks for _, line in block.body if len(_PARTS.split(line)) >= _LISTS]
    again = Counter(tight(piece) for line in lists for piece in _PARTS.split(line))
    for sign in _STROKES:
        halves = [line.split(sign) for line in lists]
        two = [half for half in halves if len(half) == _HALVES]
        ends = [(tight(_PARTS.split(one)[-1]), tight(_PARTS.split(other)[0])) for one, other in two]
        told = sum(again[one] > 1 and again[other] > 1 for one, other in ends)
        few = [len(_PARTS.split(other)) <= min(_LISTS, 0.5 * len(_PARTS.split(one))) for one, other in two]
        if (
            all(len(half) <= _HALVES for half in halves)
            and len(two) >= max(_FEWEST_ENDS, 0.8 * len(lists))
            and all(few)
            and told >= 0.5 * len(ends)
            and len(set(ends)) >= max(_HALVES, 0.3 * len(ends))
        ):
            for block in blocks:
                block.body = [(number, line.replace(sign, " // ")) for number, line in block.body]
            return


def _without_empty_boxes(draft: Draft, lines: list[str]) -> list[str]:
    """Where some boxes are ticked and some are not, ask whether only what is ticked was played.

    A few boxes whose texts stand once among songs that have none hold what is to be done.
    """
    boxes = [match for line in lines if (match := _BOX.match(line))]
    often = Counter(map(ways.core, lines))
    listed = sum(ways.MARK.match(line) is not None or ways.NUMBER_FIRST.match(line) is not None for line in lines)
    if len(boxes) < 0.3 * listed and all(often[ways.core(match.string)] == 1 for match in boxes):
        some = {n for n, line in enumerate(lines, 1) if _BOX.match(line)}
        draft.take((Spot("", n, 1) for n in some), "remark", "to be done")
        return ["" if n in some else line for n, line in enumerate(lines, 1)]
    if len({match[1].strip() == "" for match in boxes}) < 2:
        return lines
    only, everything = "only what is ticked", "all of them"
    problem = f"{sum(not match[1].strip() for match in boxes)} of {len(boxes)} boxes are not ticked: what was played?"
    if draft.asking.choose("boxes", problem, (only, everything), only, value=boxes[0].string.strip()) == everything:
        return lines
    return [
        f"~~{line[match.end() :]}~~" if (match := _BOX.match(line)) and not match[1].strip() else line for line in lines
    ]


def _without_cancelled(draft: Draft, night: Night) -> Night:
    """Ask whether a show whose heading says that it was cancelled was played all the same."""
    words = next((text for text in night.places if _CANCELLED.search(text)), None)
    if (
        words is None
        and len(night.items) > 1
        and _CANCELLED_LINE.match(night.items[0].text)
        and not night.items[0].numbered
    ):
        words = night.items[0].text
    if words is None or not night.items:
        return night
    out, played = "it was not played", "it was played"
    key = f"cancelled: {night.day or night.at.row}"
    answer = out if _CANCELLED_APART.search(words) else draft.asking.choose(
        key, f'"{words}" stands above a set.', (out, played), out, where=draft.where(night.at), value=words
    )  # fmt: skip
    if answer == out:
        draft.take((item.at for item in night.items), "left out", CANCELLED)
        night.items = []
    return night


# ------------------------------------------------------------------------------------------------ where shows begin


def _of_text(draft: Draft, lines: list[str], calendar: Calendar, name: str) -> list[_Block]:
    mail = _mail_lines(draft, lines, name)
    mails = _of_mails(draft, lines, mail, calendar, name)
    if mails:
        return mails
    headings, stamps = _without_stamps(lines, _headings(lines, mail, calendar))
    draft.take((Spot(name, number, 1) for number in stamps), "heading", "says when it was written")
    headings, mail = _best_headings(lines, headings), mail | stamps
    if not headings:
        draft.how = ONE_SET
        return [_Block(None, 1, [], [(n, line) for n, line in enumerate(lines, 1) if line.strip() and n not in mail])]
    return _between(draft, lines, headings, mail, name)


def _headings(lines: list[str], mail: set[int], calendar: Calendar) -> list[tuple[int, Day]]:
    """Lines that hold a day and may be the heading of a show."""
    found = []
    for number, line in enumerate(lines, start=1):
        label = any(map(is_label, line.split("\t")))  # the first set of a show is none of September
        day = day_in(_plain(line)) if number not in mail and not label else None
        if day is not None and calendar.of(day) and _may_head(line, day, calendar):
            found.append((number, day))
    return found


def _without_stamps(lines: list[str], headings: list[tuple[int, Day]]) -> tuple[list[tuple[int, Day]], set[int]]:
    """Lines with a day without those right below another that say the same beside it at every show: "Posted on"."""
    above = {number for number, _ in headings}
    below = [(number, day) for number, day in headings if _above(lines, number) in above and day.rest]
    often = Counter(tight(day.rest) for _, day in below)
    stamps = {number for number, day in below if often[tight(day.rest)] >= max(_FEWEST_ENDS, 0.3 * len(headings))}
    return [one for one in headings if one[0] not in stamps], stamps


def _above(lines: list[str], number: int) -> int:
    """The line above one that is not empty."""
    return next((at for at in range(number - 1, 0, -1) if lines[at - 1].strip()), 0)


def _best_headings(lines: list[str], headings: list[tuple[int, Day]]) -> list[tuple[int, Day]]:
    """Of lines with a day those of the forms that, as headings, make most of the lines between come again."""
    forms: dict[tuple[object, ...], list[tuple[int, Day]]] = defaultdict(list)
    for number, day in headings:
        forms[_form(lines[number - 1], day)].append((number, day))
    if len(forms) < 2 or len(headings) > _MOST_TRIED:
        return headings
    cores = [ways.core(line) for line in lines]
    tried = [headings]
    for some in forms.values():
        rest = [one for one in headings if one not in some]
        tried += [few for few in (some, rest) if len(few) > 1]
    worth = [_comes_again(cores, [number for number, _ in some]) for some in tried]
    best = max(range(len(tried)), key=worth.__getitem__)
    return tried[best] if worth[best] > _FORM_GAIN * worth[0] else headings


def _form(line: str, day: Day) -> tuple[object, ...]:
    """How a heading with a day is written: what stands before the day, how the day does, and whether a clock follows."""
    before = line.partition(day.text)[0]
    clock = re.search(r"\d{1,2}:\d{2}", line) is not None
    return (
        day.text[:1].isdigit(),
        day.text[-1:].isdigit() and day.text[:1].isdigit(),
        len(before.split()) > 2,
        clock,
        ways.MARK.match(line) is not None,
    )


def _comes_again(cores: list[str], begins: list[int]) -> float:
    """How many letters of lines come again below other headings, less those that come twice below one."""
    shows = [Counter(filter(None, cores[one:end])) for one, end in itertools.pairwise([*begins, len(cores) + 1])]
    often = Counter(form for one in shows for form in one)
    return sum(len(form) * ((often[form] > 1) - (times - 1)) for one in shows for form, times in one.items())


def _may_head(line: str, day: Day, calendar: Calendar) -> bool:
    """Whether a line with a day can be the heading of a show, and is no title such as "7. March of the Hats"."""
    if calendar.full and not day.full:
        return False
    if not day.full and day.rest:
        numbered = (
            re.match(r"^\s*\d{1,2}[.)]\s", line) is not None
            and day.text[:1].isdigit()
            and re.match(r"^\s*\d{1,2}[.)]\s+[^\W\d]", line) is not None
            and re.match(r"\s+\w", line.partition(day.text)[2]) is not None
        )
        return not numbered and len(day.rest.split()) <= 6
    return not (ways.MARK.match(line) and day.rest and len(day.rest) > 40)


def _between(
    draft: Draft, lines: list[str], headings: list[tuple[int, Day]], mail: set[int], name: str
) -> list[_Block]:
    """Cut a text at its days; up to two lines right above a day, behind a blank line, belong to it."""
    years = {day.on("day first").year for _, day in headings if day.full and day.on("day first")}  # type: ignore[union-attr]
    below = range(headings[0][0] + 1, len(lines) + 1)
    sections = [n for n in below if day_in(lines[n - 1]) is None and section_of(lines[n - 1]) in years]
    draft.take((Spot(name, n, 1) for n in sections), "heading", "a year or a month")
    mail = (
        mail
        | set(sections)
        | _sections_apart(draft, lines, headings, name)
        | _below_mails(draft, lines, mail, {n for n, _ in headings}, name)
    )
    above = _lines_above(lines, [number for number, _ in headings])
    begins, before = [], -1
    for number, _ in headings:
        begins.append(number - above if above and number - above > before else _begin(lines, number, before))
        before = number
    if len(begins) > 2 and all(begin == number for begin, (number, _) in list(zip(begins, headings, strict=True))[1:]):
        begins[0] = headings[0][0]
    draft.take(
        (Spot(name, n, 1) for n in range(1, begins[0]) if lines[n - 1].strip() and n not in mail),
        "heading",
        "above the first day",
    )
    blocks = []
    for (number, day), begin, end in zip(headings, begins, [*begins[1:], len(lines) + 1], strict=True):
        block = _Block(day, number)
        block.places = [
            (n, _plain(lines[n - 1])) for n in range(begin, number) if lines[n - 1].strip() and n not in mail
        ]
        block.body = [(n, lines[n - 1]) for n in range(number + 1, end) if lines[n - 1].strip() and n not in mail]
        blocks.append(block)
    return blocks


def _sections_apart(draft: Draft, lines: list[str], headings: list[tuple[int, Day]], name: str) -> set[int]:
    """Lines below a heading that is written as those of the shows are and has no day: "## To do"; asked if titles stand there."""
    marks = Counter(match[0].strip() for n, _ in headings if (match := _HEADED.match(lines[n - 1])))
    mark, times = marks.most_common(1)[0] if marks else ("", 0)
    if times < 0.8 * len(headings):
        return set()
    dated = {n for n, _ in headings}
    often = Counter(map(str.strip, lines))
    starts = [
        n
        for n in range(headings[0][0] + 1, len(lines) + 1)
        if (match := _HEADED.match(line := lines[n - 1])) and match[0].strip() == mark and n not in dated
        if often[line.strip()] == 1 and not is_label(_plain(line)) and not is_encore(line)
    ]
    ends = sorted({*dated, *starts, len(lines) + 1})
    apart = {at for n in starts for at in range(n, next(end for end in ends if end > n)) if lines[at - 1].strip()}
    titles = {ways.core(line) for n, line in enumerate(lines, 1) if n not in apart} - {""}
    if starts and any(ways.core(lines[n - 1]) in titles for n in apart):
        problem = (
            f'"{lines[starts[0] - 1].strip()}" is written like the heading of a show, and has no day: it is left out.'
        )
        draft.asking.confirm(f"section: {_plain(lines[starts[0] - 1])}", problem, value=lines[starts[0] - 1].strip())
    draft.take((Spot(name, n, 1) for n in apart), "left out", "below a heading without a day")
    return apart


def _below_mails(draft: Draft, lines: list[str], mail: set[int], dated: set[int], name: str) -> set[int]:
    """Lines below two hyphens in a mail, or in one without a day in its text, if they stand nowhere else."""
    often = Counter(map(ways.core, lines))
    ends = sorted({*mail, *dated, len(lines) + 1})
    found: set[int] = set()
    for n in (n for n in range(min(dated), len(lines) + 1) if mail and (n in mail or lines[n - 1].strip() == "--")):
        below = range(n + 1, next(end for end in ends if end > n))
        full = {at for at in below if lines[at - 1].strip()}
        if all(often[ways.core(lines[at - 1])] == 1 for at in full) and not (n in mail and below.stop in dated):
            found |= full if n in mail else {n, *full}
    draft.take((Spot(name, n, 1) for n in found), "sender", "below the set")
    return found


def _lines_above(lines: list[str], at: list[int]) -> int:
    """How many lines right above every day have no number or mark although the songs have, and never come again below."""
    if len(at) < 3:
        return 0
    counted = [line for line in lines if ways.MARK.match(line) or ways.NUMBER_FIRST.match(line)]
    inner = [line for n, line in enumerate(lines[at[0] :], at[0] + 1) if line.strip() and n not in at]
    songs = Counter(map(ways.core, counted))
    if sum(line in counted for line in inner) < 0.6 * len(inner):
        often = Counter(map(ways.core, inner))
        songs = Counter({form: times - 1 for form, times in often.items() if times > 1})
        if len(at) <= 3 or sum(map(songs.__contains__, map(ways.core, inner))) < 0.6 * len(inner):
            return 0

    signs = Counter(line.split()[0] for line in lines if len(line.split()) > 1 and len(line.split()[0]) == 1)
    signs = Counter({sign: times for sign, times in signs.items() if sign.isalpha() and times >= 0.5 * len(at)})

    def heads(n: int) -> bool:
        line = lines[n - 1] if n > 0 else ""
        if line.split() and line.split()[0] in signs:
            return False
        marked = ways.MARK.match(line) or ways.NUMBER_FIRST.match(line) or is_label(line.strip())
        named = len(line.split()) <= 8 and not line.rstrip().endswith((".", "!", ",", ":"))
        marked = marked or is_encore(line.split("\t")[0])
        return bool(line.strip()) and named and not marked and not songs[ways.core(line)] and day_in(line) is None

    def same(up: int) -> bool:
        return len({lines[number - up - 1].strip() for number in at[1:]}) == 1

    return next((up - 1 for up in (1, 2, 3) if same(up) or not all(heads(number - up) for number in at[1:])), 3)


def _begin(lines: list[str], number: int, before: int) -> int:
    """First line of a heading: those right above its day if a blank line or a rule stands above them."""
    begin = number
    while (
        begin > 1
        and number - begin < 2
        and begin - 1 > before + 1
        and not _is_blank(lines[begin - 2])
        and not ways.MARK.match(lines[begin - 2])
        and not ways.NUMBER_FIRST.match(lines[begin - 2])
        and not ways.below_heading(lines[begin - 2])[0]
    ):
        begin -= 1
    if begin < number and not (begin == 1 or _is_blank(lines[begin - 2])):
        return number
    return begin


def _is_blank(line: str) -> bool:
    return not line.strip() or (_RULE.fullmatch(line.strip()) is not None)


def _plain(line: str) -> str:
    """A line without marks of emphasis, headings and bullets."""
    return re.sub(r"[*_#=~]{2,}|^[#>\s*]+|[*_]+$", " ", ways.MARK.sub("", line)).strip(" \t")


def _of_mails(draft: Draft, lines: list[str], mail: set[int], calendar: Calendar, name: str) -> list[_Block]:
    """Mails whose only day is that of their header: a set each, in the town that the subject names."""
    starts: list[tuple[int, Day]] = []
    for number in sorted(mail):
        day = day_in(lines[number - 1])
        sent = re.match(r"\s*(?:date|datum|sent|gesendet)\s*:", lines[number - 1], re.IGNORECASE)
        if (sent or WROTE.match(lines[number - 1])) and day and calendar.of(day):
            starts.append((number, day))
    if not starts or any(
        (day := day_in(line)) and calendar.of(day) and n not in mail for n, line in enumerate(lines, 1)
    ):
        return []
    draft.how = MAILS
    draft.take(
        (Spot(name, n, 1) for n in range(1, starts[0][0]) if lines[n - 1].strip()), "left out", "above the first mail"
    )
    blocks = []
    for (number, day), end in zip(starts, [*(n for n, _ in starts[1:]), len(lines) + 1], strict=True):
        block = _Block(day, number)
        for n in range(number + 1, end):
            line = lines[n - 1].strip()
            subject = re.match(r"(?:subject|betreff)\s*:\s*(?:(?:re|fw|aw)\s*:\s*)*(.*)", line, re.IGNORECASE)
            if subject:
                block.places.append((n, subject[1]))
            elif line and n not in mail:
                block.body.append((n, lines[n - 1]))
        _cut_signature(draft, block, name)
        clock = re.search(r"\b(\d{1,2}):\d{2}", lines[number - 1])
        hour = int(clock[1]) if clock else None
        _say_last_night(draft, block, lines, hour)
        if hour is not None and hour < _MORNING and not block.earlier:
            _ask_after_midnight(draft, block)
        blocks.append(block)
    return [block for block in blocks if block.body]


def _cut_signature(draft: Draft, block: _Block, name: str) -> None:
    """Leave out a greeting that ends in a colon or a comma, and what stands below two hyphens."""
    for at, (number, text) in enumerate(block.body[:2]):
        if text.rstrip().endswith((":", ",")):
            draft.take((Spot(name, n, 1) for n, _ in block.body[: at + 1]), "heading", "above the set")
            if re.search(r"\b(?:in|at)\s+\S", text):
                block.places.append((number, text.rstrip(" :,")))
            block.body = block.body[at + 1 :]
            break
    end = next((at for at, (_, text) in enumerate(block.body) if text.strip() in ("--", "-- ")), None)
    if end is not None:
        draft.take((Spot(name, n, 1) for n, _ in block.body[end:]), "sender", "below the set")
        block.body = block.body[:end]


def _say_last_night(draft: Draft, block: _Block, lines: list[str], hour: int | None) -> None:
    """A mail that says "last night" above its set speaks of the day before."""
    first = block.body[0][0] if block.body else block.line
    if any(_LAST_NIGHT.search(line) for line in lines[block.line : first - 1]):
        _take_day_before(draft, block, "mail", hour)


def _take_day_before(draft: Draft, block: _Block, sent: str, hour: int | None) -> None:
    """Take a show for one of the day before; what was sent by night is asked about, once for all."""
    block.earlier = 1
    if hour is not None and hour in _BY_DAY:
        return
    problem = f'A {sent} that says "last night" is taken for a show of the day before it was sent.'
    draft.asking.confirm("last night", problem)


def _ask_after_midnight(draft: Draft, block: _Block) -> None:
    """Ask of which day the shows are whose sets were sent in the night, once for all; of the evening before, most likely."""
    problem = (
        "Sets were sent after midnight. Are their shows of the evening before, or of the day that was sent with them?"
    )
    answer = draft.asking.choose("after midnight", problem, (_BEFORE, _BORNE), _BEFORE)
    block.earlier = int(answer == _BEFORE)


def _mail_lines(draft: Draft, lines: list[str], name: str) -> set[int]:
    """Lines of mail headers: two or more together, or "On … wrote:"."""
    mail: set[int] = set()
    for number, line in enumerate(lines, start=1):
        near = sum(bool(META.match(other)) for other in lines[max(0, number - 3) : number + 2])
        match = META.match(line)
        if WROTE.match(line) or (match and near >= 2 and not re.match(r"\s*(?:subject|betreff)", line, re.IGNORECASE)):
            mail.add(number)
    for number in mail:
        draft.take([Spot(name, number, 1)], "sender")
        day, line = day_in(lines[number - 1]), lines[number - 1]
        said = line.partition(":")[2] if day is None else day.rest if WROTE.match(line) else ""
        names = [one for one in re.findall(r"[^\W\d_]{2,}", re.sub(r"<\S+|\S*@\S+", "", said)) if one[0].isupper()]
        draft.people |= {tight(one) for one in [" ".join(names), *names]} - {""}
    return mail


# ------------------------------------------------------------------------------------------------ messages


def _of_chat(draft: Draft, lines: list[str], sent: list[chats.Message], calendar: Calendar, name: str) -> list[_Block]:
    """Shows of a chat: a message of several lines is a set; else the lines of one evening and sender are."""
    draft.how = CHAT
    first = sent[0].stamp
    draft.take(
        (Spot(name, n, 1) for n in range(1, first) if lines[n - 1].strip()), "heading", "before the first message"
    )
    within = {number for message in sent for number in (message.stamp, *(at for at, _ in message.lines))}
    draft.take(
        (Spot(name, n, 1) for n, line in enumerate(lines, 1) if line.strip() and n not in within and n >= first), "day"
    )
    for message in sent:
        draft.take([Spot(name, message.stamp, 1)], *(("time stamp",) if message.who else ("left out", ADDED)))
        message.lines = [
            (number, chats.without_edited(text))
            for number, text in message.lines
            if not _is_program(draft, number, text, name)
        ]
    if any(len(message.lines) >= 4 for message in sent):
        sets = [[message] for message in sent if len(message.lines) >= 3]
        rest = [message for message in sent if len(message.lines) < 3]
        _leave_message(draft, [line for message in rest for line in message.lines], "a message that is no set", name)
    else:
        sets = _of_main_sender(draft, _without_talk(draft, _bursts(sent, calendar), name), name)
        _leave_answers(draft, sent, sets, name)
    blocks = [_of_message(some[0], [line for one in some for line in one.lines], calendar, draft) for some in sets]
    _name_towns(draft, blocks, name)
    return blocks


def _leave_message(draft: Draft, lines: list[tuple[int, str]], why: str, name: str) -> None:
    draft.take((Spot(name, number, 1) for number, _ in lines), "left out", why)
    draft.later += [(Spot(name, number, 1), text) for number, text in lines]


def _bursts(sent: list[chats.Message], calendar: Calendar) -> list[list[chats.Message]]:
    """Messages of one sender that follow each other within two hours, whatever others write between."""
    bursts: list[list[chats.Message]] = []
    last: dict[str, tuple[int, list[chats.Message]]] = {}
    for message in sent:
        if not message.lines:
            continue
        day = calendar.of(message.day)
        at = (day.toordinal() if day else 0) * 1440 + message.minute
        before, burst = last.get(message.who, (-_APART, []))
        if not burst or abs(at - before) > _APART:
            burst = []
            bursts.append(burst)
        burst.append(message)
        last[message.who] = (at, burst)
    return bursts


def _without_talk(draft: Draft, bursts: list[list[chats.Message]], name: str) -> list[list[chats.Message]]:
    """Where others are sets, a line or two that never come again are talk."""
    texts = [[line for one in some for line in one.lines] for some in bursts]
    forms = Counter(form for lines in texts for form in {tight(text) for _, text in lines})
    full = [lines for lines in texts if len(lines) > _FEWEST_ENDS]
    songs = {tight(text) for lines in full for _, text in lines}
    again = sum(forms[tight(text)] > 1 for lines in full for _, text in lines)
    if len(full) < _HALVES or 2 * again < sum(map(len, full)):
        return bursts
    talk = [
        at
        for at, lines in enumerate(texts)
        if len(lines) < _FEWEST_ENDS and not any(tight(text) in songs for _, text in lines)
    ]
    for at in talk:
        _leave_message(draft, texts[at], "no set, among those of several lines", name)
    return [some for at, some in enumerate(bursts) if at not in talk]


def _leave_answers(draft: Draft, sent: list[chats.Message], sets: list[list[chats.Message]], name: str) -> None:
    """Leave out a line within a set that answers another's: right behind it, beginning small as no title does."""
    within = {id(one) for some in sets for one in some}
    forms = {tight(text): text for some in sets for one in some for _, text in one.lines}
    if sum(text[:1].islower() for text in forms.values()) > 0.2 * len(forms) + 1:
        return
    for before, one in itertools.pairwise(message for message in sent if message.lines):
        small = [(n, text) for n, text in one.lines if text[:1].islower()]
        first = any(some[0] is one for some in sets)
        answers = small == one.lines and not first and id(one) in within and before.who not in ("", one.who)
        if answers and not is_label(small[0][1]):
            _leave_message(draft, small, "an answer", name)
            one.lines = []


def _name_towns(draft: Draft, blocks: list[_Block], name: str) -> None:
    """The first line of a set that comes nowhere again, where nearly every set has one, says where it was."""
    firsts = {id(block): block.body[0] for block in blocks if len(block.body) > _HALVES and not block.places}
    forms = Counter(form for block in blocks for form in {tight(text) for _, text in block.body})
    own = {at: line for at, line in firsts.items() if forms[tight(line[1])] == 1}
    rest = [forms[tight(text)] > 1 for block in blocks for _, text in block.body[1:]]
    told = sum(re.search(r"[^\w\s]\s*$|[!,:]|^[^\W\d_A-Z]*[a-z]", text) is not None for _, text in own.values())
    dated = len(blocks) - len(firsts)
    if (
        2 * sum(rest) < len(rest)
        or len(own) + dated < max(_HALVES, 0.7 * len(blocks))
        or 2 * (told + dated) < len(blocks)
    ):
        own = {}
    for block in blocks:
        if (line := own.get(id(block))) is not None:
            block.places, block.body = [line], block.body[1:]
            draft.take([Spot(name, line[0], 1)], "city")
    said = Counter(
        word for block in blocks for _, text in block.places for word in set(re.findall(r"\w+", text.casefold()))
    )
    often = (word for word, times in said.items() if times > 1 and times >= 0.3 * len(blocks))
    common = {word for word in often if not reads_like_venue(word)}
    for block in blocks:
        named = [towns.named_in(text, common) for _, text in block.places]
        for (n, text), some in zip(list(block.places), named, strict=True):
            if some and (doubtful := towns.shorter(some)):
                problem = f'Which is the city in "{text}"?'
                some[0] = draft.asking.choose(f"city: {text}", problem, (doubtful, some[0]), doubtful, value=text)
            block.places[block.places.index((n, text))] = (n, ", ".join(some) or text)


def _of_main_sender(draft: Draft, sets: list[list[chats.Message]], name: str) -> list[list[chats.Message]]:
    """Sets of whoever sends them; what others write is left out unless it repeats the sets' lines."""
    written: dict[str, list[str]] = defaultdict(list)
    for some in sets:
        written[some[0].who] += [tight(text) for one in some for _, text in one.lines]
    if not written:
        return []
    main = max(written, key=lambda who: len(written[who]))
    forms = set(written[main])
    kept = []
    for some in sets:
        who, lines = some[0].who, [line for one in some for line in one.lines]
        if (
            who == main
            or len(written[who]) > 0.5 * len(written[main])
            or any(tight(text) in forms for _, text in lines)
        ):
            kept.append(some)
        else:
            _leave_message(draft, lines, f"said by {who}", name)
    people = {some[0].who for some in kept}
    if any(2 * len(set(written[who]) & forms) < len(set(written[who])) for who in people - {main}):
        draft.asking.confirm(
            "senders", f"Several people wrote ({', '.join(sorted(people)[:3])}): all their lines are taken for songs."
        )
    return kept


def _is_program(draft: Draft, number: int, text: str, name: str) -> bool:
    if chats.is_chatter(text):
        draft.take([Spot(name, number, 1)], "left out", ADDED)
        return True
    return False


def _of_message(message: chats.Message, lines: list[tuple[int, str]], calendar: Calendar, draft: Draft) -> _Block:
    """A set in a message: its day is the one in its first line if there is one, else the message's."""
    block = _Block(message.day, message.stamp)
    for at, (number, text) in enumerate(lines[:2]):
        day = day_in(_plain(text))
        if day is not None and not ways.NUMBER_FIRST.match(text) and (calendar.of(day) or not day.full):
            block.day = day if calendar.of(day) else _with_year(day, message.day, calendar)
            block.places = [(n, _plain(t)) for n, t in lines[:at]] + ([(number, day.rest)] if day.rest else [])
            draft.take([Spot("", number, 1)] if not block.places else [], "day")
            block.line = number
            block.body = lines[at + 1 :]
            return block
    if lines and _LAST_NIGHT.search(lines[0][1]):
        _take_day_before(draft, block, "message", message.hour)
    elif message.hour < _MORNING:
        _ask_after_midnight(draft, block)
    block.body = lines
    return block


def _with_year(day: Day, sent: Day, calendar: Calendar) -> Day:
    """A day without a year in the year that brings it nearest to the day on which it was sent; else the latter."""
    anchor = calendar.of(sent)
    year = beside(day, anchor, calendar.order) if anchor else None
    on = day.on(calendar.order, year) if year else None
    if on is None or day.weekday not in (None, on.weekday()):
        return sent
    return replace(day, numbers=(on.year, on.month, on.day), how="certain")


# ------------------------------------------------------------------------------------------------ lines


def _night(draft: Draft, block: _Block, calendar: Calendar, cutter: _Cutter) -> Night:
    part = block.part or Part([])
    day = calendar.of(block.day)
    night = Night(day - timedelta(days=block.earlier) if day else None, at=part.spot(block.line))
    night.places = [text for _, text in block.places if text]
    if block.day is not None and draft.how in (BLOCKS, ROWS, SHEETS) and block.day.rest and not block.whole:
        night.places.append(_beside_day(block, part))
    for _, line in block.body if part.sheet is not None else ():
        beside = itertools.pairwise(line.split("\t"))
        night.places += [f"{name}: {text}" for name, text in beside if headers.named(name) in _PLACES and text]
    draft.take((spot for number, _ in block.places for spot in part.spots(number)), "city")
    if draft.how in (BLOCKS, ROWS, SHEETS, SET_A_LINE) or (block.places and draft.how == CHAT):
        rows = [] if block.named else part.spots(block.line)
        draft.take(rows if part.sheet else [night.at], "day")
    night.items = cutter.items(block, part)
    night.places += cutter.above
    return night


def _beside_day(block: _Block, part: Part) -> str:
    """What stands beside the day in its heading; of a sentence before it nothing, if something stands behind it."""
    rest = block.day.rest if block.day else ""
    before, _, behind = part.lines[block.line - 1].partition(block.day.text) if block.day else ("", "", "")
    talk = re.search(r"[.?!]\s", before) is not None or max(len(one.split()) for one in before.split(",")) > 6
    return behind.strip(" ,;:–—-|*_#") if talk and re.search(r"\w", behind) else rest


class _Piece(NamedTuple):
    """A piece of a line: which line, where, what is said beside it, and what stands before it in place of a number."""

    line: int
    field: ways.Field
    spot: Spot
    remark: str = ""
    mark: str = ""


def _placed(item: Item, piece: _Piece, before: list[Item], part: Part) -> Item:
    """An item with what its piece and the items before it tell."""
    row, at = item.at.row, piece.field.at
    fresh = bool(before) and before[-1].at.row != row and row > 1
    item.gap = item.ruled or (part.sheet is None and fresh and not part.lines[row - 2].strip())
    item.part, item.remark = at if part.sheet is None else 0, piece.remark
    item.mark = piece.mark or item.mark
    item.struck = item.struck or (part.sheet is not None and (row, item.at.column) in part.sheet.struck)
    if item.kind == NUMBER and len(item.text) > 2 and (at or (before and before[-1].kind == LABEL)):
        item.kind = TEXT
    return item


@dataclass
class _Cutter:
    """Makes items of the lines of a set, as it was found that the file's lines are cut."""

    draft: Draft
    way: ways.Way
    order: str
    leads: set[str]
    again: Counter[str]
    headed: bool = False
    """Whether encores have a heading without a number: one with a number is a title."""
    above: list[str] = field(default_factory=list)
    """What stands above the songs of the show that was read last, in rows without one."""
    heads: set[str] = field(default_factory=set)
    """Lines that stand above columns of songs."""
    remarks: set[int] = field(default_factory=set)
    """Columns of remarks: sparse ones, or those that the last row of names calls so."""

    def items(self, block: _Block, part: Part) -> list[Item]:
        """Items of one show; numbers count if they run on, marks if most lines have them."""
        pieces = self._pieces(block, part)
        texts = [piece.field.text for piece in pieces]
        timed = ways.timed(texts)
        texts = [ways.CLOCK.sub("", ways.MARK.sub("", text)) if timed else text for text in texts]
        marked = sum(bool(ways.MARK.match(text)) for text in texts) >= 0.5 * len(texts)
        counts = ways.counted([ways.MARK.sub("", text) for text in texts])
        items: list[Item] = []
        ruled = False
        for top, (text, piece, counted) in enumerate(zip(texts, pieces, counts, strict=True)):
            item = _item(text, piece.spot, top, counted=counted, bulleted=marked)
            if item is None:
                self.draft.take([piece.spot], "sign")
            else:
                placed = any(map(str.isdigit, piece.mark)) or is_encore(piece.mark) or (counted and self.headed)
                if item.kind == LABEL and placed:
                    item.kind, item.numbered = TEXT, True
                item.ruled = ruled
                items.append(_placed(item, piece, items, part))
            ruled = item is None
        return _without_rehearsed(self.draft, items)

    def _pieces(self, block: _Block, part: Part) -> list[_Piece]:
        """Pieces of the lines of one show, in the order in which they are read."""
        pieces: list[_Piece] = []
        self.above = []
        for number, line in block.body:
            spot = part.spot(number)
            if self.draft.account.get(spot, ("",))[0] == "time stamp":
                spot = Spot(part.name, number, 2)
            pieces += self._line(number, line, spot, part, first=not pieces)
        numbers = {at: ways.number_of(piece.field.text) for at, piece in enumerate(pieces)}
        if self.way.picks and None not in numbers.values() and len(set(numbers.values())) == len(numbers):
            pieces = [pieces[at] for at in sorted(numbers, key=lambda at: numbers[at] or 0)]
        elif self.order == ways.DOWN:
            pieces = _down(pieces, part)
        if is_told(block.body):
            pieces = [_Piece(number, ways.Field(line.strip(), 0), part.spot(number)) for number, line in block.body]
        return pieces

    def _line(self, number: int, line: str, spot: Spot, part: Part, *, first: bool) -> list[_Piece]:
        """Pieces of one line."""
        cut = ways.cut(line, self.way, self.leads, self.again)
        songs = cut.songs
        several = bool(self.way.picks and songs) and sum(map(bool, ways.parts(line, self.way.sign))) > 1
        named = several and all(headers.named(one.text) and not is_label(one.text) for one in songs)
        if named or line.strip() in self.heads:
            self.draft.take(part.spots(number) or [spot], "heading", "the names of the columns")
            self.remarks = {at for at, text in enumerate(line.split("\t")) if headers.named(text) == headers.REMARK}
            return []
        if cut.lead and is_label(f"{cut.lead}:"):
            songs = [ways.Field(f"{cut.lead}:", 0), *songs]
        if part.sheet is None:
            if not songs and not self._heads(number, line, part):
                self.draft.take([spot], "remark", "no song in it")
                return []
            songs = songs or [ways.Field(line.strip(), 0)]
            mark = next((one.text for one in cut.beside if one.at < songs[0].at), "")
            beside = [one.text for one in cut.beside if kind_of(one.text) == TEXT and one.at > songs[0].at]
            if _COUNT.fullmatch(mark) and len(songs) == 1:
                songs = [ways.Field(f"{mark.strip('#.:()[] ')}. {songs[0].text}", songs[0].at)]
            return [_Piece(number, one, spot, ", ".join(beside), mark) for one in songs]
        every = [(at, text) for at, text in enumerate(line.split("\t")) if text]
        if not songs and len(every) == 1 and (is_label(every[0][1]) or kind_of(every[0][1]) == TEXT):
            songs = [ways.Field(every[0][1], every[0][0])]
        if first and not songs and all(kind_of(text) == TEXT and headers.named(text) is None for _, text in every):
            self.above += [text for _, text in every]
            self.draft.take(part.spots(number), "city")
            return []
        remark = ", ".join(text for at, text in every if songs and at in self.remarks)
        self.draft.take((part.spot(number, at) for at, _ in every if songs and at in self.remarks), "remark")
        taken = {one.at for one in songs} | (self.remarks if remark else set())
        for at, text in every:
            if at not in taken:
                number_ = kind_of(text) == "number"
                self.draft.take(
                    [part.spot(number, at)], "number" if number_ else "left out", "" if number_ else "beside a song"
                )
        before = [(at, text) for at, text in every if at not in taken and songs and at < songs[0].at]
        mark = before[-1][1] if before else ""
        return [_Piece(number, _named(one, before, part), part.spot(number, one.at), remark, mark) for one in songs]

    def _heads(self, number: int, line: str, part: Part) -> bool:
        """Whether a line that is no row of songs heads some: it stands right above one, and is no sentence."""
        below = next((text for text in part.lines[number:] if text.strip()), "")
        sentence = len(line.split()) > _HEADING or line.rstrip().endswith((".", "!", "?"))
        return not sentence and (self.way.sign in below or is_label(line.strip()))


def _down(pieces: list[_Piece], part: Part) -> list[_Piece]:
    """Pieces of lines in columns, one column after the other; what stands alone below an empty line comes last.

    A piece alone in its line is of the column below whose beginning it stands.
    """
    starts = [part.lines[one.line - 1].find(one.field.text) for one in pieces if one.field.at == 1]
    right = sorted(starts)[len(starts) // 2] if starts else 0
    last = max((one.line for one in pieces if one.field.at), default=0)
    apart = next(
        (n for n in range(last + 1, len(part.lines) + 1) if not part.lines[n - 1].strip()), len(part.lines) + 1
    )
    alone = Counter(one.line for one in pieces)

    def column(one: _Piece) -> int:
        indent = len(part.lines[one.line - 1]) - len(part.lines[one.line - 1].lstrip())
        return 1 if alone[one.line] == 1 and part.sheet is None and 0 < right <= 2 * indent else one.field.at

    heads = (one for one in pieces if is_label(one.field.text) or ways.below_heading(one.field.text)[0])
    below = min([apart, *(one.line for one in heads if one.line > last)])
    return sorted(pieces, key=lambda one: (one.line >= below, column(one), one.line))


def _named(one: ways.Field, before: list[tuple[int, str]], part: Part) -> ways.Field:
    """A title with what stands in a cell left of it: its number, the mark of an encore, or, among numbers, a name."""
    counts = [text for _, text in before if _COUNT.fullmatch(text)]
    number = int(re.sub(r"\D", "", counts[-1])) if counts else 100
    if number < 100:
        return ways.Field(f"{number}. {one.text}", one.at)
    if not before or counts:
        return one
    at, text = before[-1]
    column = [cells[at] for line in part.lines if len(cells := line.split("\t")) > at and cells[at]]
    if sum(_COUNT.fullmatch(cell) is not None for cell in column) < 0.5 * len(column):
        return one
    apart = is_encore(text) or _COUNTED_APART.fullmatch(text)
    return ways.Field(f"{ENCORE if apart else text}: {one.text}", one.at)


def _without_rehearsed(draft: Draft, items: list[Item]) -> list[Item]:
    """Leave out what stands under "soundcheck", if another heading follows; asked once for all shows."""
    kept: list[Item] = []
    heads = [at for at, item in enumerate(items) if item.kind == LABEL]
    skipping = False
    for at, item in enumerate(items):
        rehearsed = is_rehearsed(item.text) and any(head > at for head in heads)
        skipping = (skipping or rehearsed) and item.kind != LABEL
        if skipping:
            draft.take([item.at], "heading" if rehearsed else "left out", "" if rehearsed else "the sound check")
        else:
            kept.append(item)
    if len(kept) < len(items) - 1:
        draft.asking.confirm("sound check", "What stands under the sound check is left out: is that right?")
    return kept


def behind_encore(text: str) -> str | None:
    """What stands behind a sign of the encore: "(E) Quill", "Z: Quill", "R1 - Quill"; None if there is none.

    Examples
    --------
    >>> [behind_encore(text) for text in ("(E) Quill", "Z: Quill", "R1 - Quill", "Evergreen")]
    ['Quill', 'Quill', 'Quill', None]

    """
    said = _ENCORE_FRONT.match(text)
    return said[1] if said else None


def _item(line: str, spot: Spot, top: int, *, counted: bool, bulleted: bool) -> Item | None:
    """One line as an item; None for a rule."""
    bullet = ways.MARK.match(line) is not None
    text = _BEHIND.sub(r" (\1\3)", ways.MARK.sub("", line.strip()))
    match = ways.NUMBER_FIRST.match(text) if counted else None
    numbered = match is not None
    if match:
        text = text[match.end() :]
    struck = is_struck(text) or re.match(r"~~[^~]+~~\s*(?:[(\[]|[-–—]\s)", text) is not None
    text = shown(unstruck(_MARKUP.sub("", text)) if struck or "~~" in text else _MARKUP.sub("", text))
    said = behind_encore(text)
    text = said or text
    if not text or (_RULE.fullmatch(text) and not (numbered or any(sign in "?!" for sign in text))):
        return None
    kind = LABEL if is_label(text) and not numbered else kind_of(text)
    kind = TEXT if kind == NUMBER and bullet and len(text) == _YEAR else kind
    numbered = numbered or said is not None or (bulleted and bullet)
    mark = match or ways.MARK.match(line)
    item = Item(text, kind, spot, top, struck=struck, encore=said is not None, numbered=numbered, marked=bullet)
    item.mark = mark[0].strip() if mark else ""
    return item
