"""Tables with a column a show, a row a show, or titles down and shows across."""

# ruff: noqa: E501  # a question is read in one piece
from __future__ import annotations

import itertools
import re
from collections import Counter
from dataclasses import dataclass

from tourstats.reading import encores, ways
from tourstats.reading import headers as columns_
from tourstats.reading.asking import Asking
from tourstats.reading.blocks import behind_encore
from tourstats.reading.cells import (
    ANY_DAY,
    KEY,
    LABEL,
    NOTHING,
    NUMBER,
    TEXT,
    TIME,
    is_encore,
    is_error,
    is_label,
    is_no_song,
    is_surely_no_song,
    kind_of,
    lines_of,
    shown,
    tight,
)  # fmt: skip
from tourstats.reading.days import Calendar, Day, day_in
from tourstats.reading.known import Known
from tourstats.reading.layout import Draft, Item, Night, Spot, Taken
from tourstats.reading.long_tables import Table
from tourstats.reading.trimming import trim
from tourstats.reading.workbooks import Sheet

COLUMN_A_SHOW, ROW_A_SHOW, SONGS_DOWN = "a column a show", "a row a show", "a row a song, a column a show"
_MARKS = frozenset(["x", "✓", "✔", "•", "*", "yes", "y", "o", "ja", "oui", "si", "●", "■", "e", "enc"])


_FEWEST = 3
"""Songs from which a column without a day may be a show."""


@dataclass
class _Band:
    """Rows that belong to one row of days."""

    rows: list[int]
    day_row: int
    days: list[int]
    """Columns with a day."""
    upward: bool = False
    gap: int = 1
    offset: int = 0
    """How many columns belong to one show, and how far left of its day they begin."""

    @property
    def body(self) -> list[int]:
        """Rows below the days, or above them where most of the table stands there."""
        return [row for row in self.rows if (row < self.day_row if self.upward else row > self.day_row)]


class _Grid:
    """A grid, read with a column a show; turned for a row a show."""

    def __init__(self, table: Table, calendar: Calendar, draft: Draft, *, turned: bool) -> None:
        self.table, self.calendar, self.draft, self.turned = table, calendar, draft, turned
        self.rows, self.kinds = table.rows, table.kinds

    def spot(self, row: int, column: int) -> Spot:
        """A cell where it stands in the file."""
        return Spot(self.table.sheet.name, column, row) if self.turned else Spot(self.table.sheet.name, row, column)

    def day(self, row: int, column: int) -> Day | None:
        """The day that a cell holds."""
        return day_in(self.rows[row].get(column))

    def night(self, row: int, column: int, *, settled: bool = False) -> Night:
        """A show below (beside) the cell of its day, which may be empty or hold an error."""
        day = self.day(row, column)
        night = Night(self.calendar.of(day), at=self.spot(row, column), settled=settled)
        night.places += [day.rest] if day and day.rest else []
        night.typed = shown(self.rows[row].get(column)) if night.day is None else ""
        self.draft.nights.append(night)
        self.draft.take([night.at] if column in self.rows[row] else [], "day")
        return night


def grid(
    sheet: Sheet, kinds: dict[tuple[int, int], str], calendar: Calendar, asking: Asking, known: Known, *, turned: bool
) -> Draft | None:
    """Read a table with a column a show (`turned`: a row a show); None if no row holds the days."""
    if turned:
        sheet = Sheet(
            sheet.name,
            {(c, r): value for (r, c), value in sheet.cells.items()},
            {(c, r) for r, c in sheet.struck},
            text=sheet.text,
        )
        kinds = {(c, r): kind for (r, c), kind in kinds.items()}
    draft = Draft(ROW_A_SHOW if turned else COLUMN_A_SHOW, asking)
    wide = _Grid(Table.of(sheet, kinds), calendar, draft, turned=turned)
    bands = _bands(wide)
    if not bands:
        return None
    for band in bands:
        if not _songs_down(wide, band):
            _shows_down(wide, band, known)
    encores.settle(draft)
    if draft.how != SONGS_DOWN:
        trim(draft, known)
    return draft if draft.nights else None


def _bands(wide: _Grid) -> list[_Band]:
    """Find the rows of days, and the rows that belong to each."""
    rows = list(wide.rows)
    dated = _dated(wide)
    if dated and wide.table.sheet.text:
        alone = [(row, here) for row in rows if len(wide.rows[row]) == 1 and (here := _days_of(wide, row))]
        dated = sorted(
            dated + [one for one in alone if (day := wide.day(one[0], one[1][0])) and day.full and one not in dated]
        )
    if not dated or len(dated) > 0.34 * len(rows) + 1:
        return []
    every = [wide.day(row, column) for row, here in dated for column in here]
    if len(set(every)) < 0.7 * len(every):
        return []
    bands, before = [], 0
    for number, (row, here) in enumerate(dated):
        begin = _first_row(wide, row, before) if number else rows[0]
        bands.append(_Band([], row, here))
        if number:
            bands[-2].rows = [one for one in rows if bands[-2].rows[0] <= one < begin]
        bands[-1].rows = [one for one in rows if one >= begin]
        before = row
    if len(bands) == 1:
        only = bands[0]
        most = [one for one in rows if 2 * sum(column in wide.rows[one] for column in only.days) >= len(only.days)]
        only.upward = 2 * most.index(only.day_row) > len(most)
    return bands


def _dated(wide: _Grid) -> list[tuple[int, list[int]]]:
    """Rows that may hold the days of shows, and the columns in which they do."""
    found = []
    for row, cells in wide.rows.items():
        here = _days_of(wide, row)
        if wide.calendar.full and len(here) < max(_FEWEST, 0.8 * len(cells)):
            here = [column for column in here if (day := wide.day(row, column)) is None or day.full]
        if len(here) >= max(2, 0.5 * sum(wide.kinds[row, column] != NOTHING for column in cells)):
            found.append((row, here))
    return found


def _days_of(wide: _Grid, row: int) -> list[int]:
    """Columns of a row with a day; beside one without its year a place may stand where nearly all cells have a day."""
    dated = [column for column in wide.rows[row] if wide.calendar.of(wide.day(row, column))]
    placed = len(dated) >= max(_FEWEST, 0.8 * len(wide.rows[row]))
    return [column for column in dated if placed or wide.kinds[row, column] in ANY_DAY]


def _first_row(wide: _Grid, row: int, before: int) -> int:
    """First row of a band: up to two rows right above its days belong to it."""
    begin = row
    while begin - 1 in wide.rows and begin - 1 > before + 1 and row - begin < 2:
        begin -= 1
    return begin


def _songs_down(wide: _Grid, band: _Band) -> bool:
    """Read a band in which titles stand at the left, and numbers or ticks say where each was played."""
    named = [column for column in wide.table.columns if column < band.days[0]]
    marks = {row: [shown(wide.rows[row][c]) for c in band.days if c in wide.rows[row]] for row in band.body}
    rows = [row for row, texts in marks.items() if texts and sum(map(_is_mark, texts)) >= 0.75 * len(texts)]
    if len(rows) < 3 or not named:
        return False
    name_at = max(named, key=lambda c: len({tight(shown(wide.rows[row].get(c))) for row in rows if wide.kinds.get((row, c)) in (TEXT, KEY)}))  # fmt: skip
    titles = {row: shown(wide.rows[row][name_at]) for row in rows if name_at in wide.rows[row]}
    sums = _sums(wide, band, titles)
    titles = {row: title for row, title in titles.items() if row not in sums and not is_surely_no_song(title)}
    forms = [tight(title) for title in titles.values()]
    inner = [text for row in titles for text in marks[row]]
    worded = sum(wide.kinds[row, name_at] in (TEXT, KEY) for row in titles)
    if len(forms) < 3 or len(set(forms)) < len(forms) or worded < 0.7 * len(forms):
        return False
    other = [row for row in band.body if any(not _is_mark(text) for text in marks[row])]
    between = [row for row in other if row > min(titles)]
    if len(between) > 0.3 * len(titles) or len(other) > len(titles) or sum(map(_is_mark, inner)) < 0.75 * len(inner):
        return False
    wide.draft.how = SONGS_DOWN
    marked = {c: [shown(wide.rows[row][c]) for row in titles if c in wide.rows[row]] for c in wide.table.columns}
    band.days = sorted(
        {*band.days, *(c for c in _undated(wide, band) if c > name_at and _is_ticked(band, c, marked[c]))}
    )
    ordered = 2 * sum(_place_of(text) is not None for text in inner) >= len(inner)
    for column in band.days:
        _one_ticked(wide, band, column, titles, name_at, ordered=ordered)
    _beside(wide, band, name_at, set(titles))
    if not ordered:
        wide.draft.asking.confirm(
            "order",
            "The file says which songs were played, not in which order: they are taken in the order of the rows.",
        )
    return True


def _undated(wide: _Grid, band: _Band) -> list[int]:
    """Columns in whose cell of the day nothing stands, or an error."""
    cells = {column: wide.rows[band.day_row].get(column) for column in wide.table.columns if column not in band.days}
    return [column for column, value in cells.items() if value is None or is_error(shown(value))]


def _is_ticked(band: _Band, column: int, marks: list[str]) -> bool:
    """Whether a column without a day holds the marks or places of a show, and not how often each was played."""
    numbers = sorted(place for text in marks if (found := _place_of(text)) is not None for place in found[1:])
    apart = column < band.days[-1] or not numbers or numbers == list(range(1, len(numbers) + 1))
    return len(marks) >= _FEWEST and all(map(_is_mark, marks)) and apart


def _like_the_others(wide: _Grid, band: _Band) -> list[int]:
    """Columns without a day whose cells are songs of the shows that have one: shows whose day is missing."""
    forms = {
        column: [tight(shown(wide.rows[row][column])) for row in band.body if wide.kinds.get((row, column)) == TEXT]
        for column in wide.table.columns
    }
    titles = {form for column in band.days for form in forms[column]}
    found = [
        column for column in _undated(wide, band)
        if len(forms[column]) >= _FEWEST and sum(form in titles for form in forms[column]) >= 0.5 * len(forms[column])
    ]  # fmt: skip
    return found if len(found) < len(band.days) else []  # else each day has two columns


def _is_mark(text: str) -> bool:
    """Whether a cell says that a song was played, by its place or with a tick."""
    return text.casefold() in _MARKS or _place_of(text) is not None


def _sums(wide: _Grid, band: _Band, titles: dict[int, str]) -> set[int]:
    """The first or last row, if its numbers count the songs of each show; a place that is free is one."""
    ends: set[int] = set()
    for row in {min(titles), max(titles)} if titles else ():
        shows = [column for column in band.days if column in wide.rows[row]]
        counted = taken = 0
        for column in shows:
            others = [shown(wide.rows[one][column]) for one in titles if one != row and column in wide.rows[one]]
            text = shown(wide.rows[row][column])
            counted += text == str(len(others))
            taken += text in others or str(len(others) - 1) not in others
        if len(shows) >= max(2, 0.8 * len(band.days)) and counted >= 0.9 * len(shows) and taken:
            ends.add(row)
    return ends


def _beside(wide: _Grid, band: _Band, name_at: int, titled: set[int]) -> None:
    """Account for what stands left and right of the shows."""
    words = Counter(c for row in band.rows for c in wide.rows[row] if wide.kinds[row, c] == TEXT)
    counts = Counter(c for row in band.rows for c in wide.rows[row] if wide.kinds[row, c] != TEXT)
    for row in band.rows:
        for column in wide.rows[row]:
            song = Taken("song", "title of its row") if column == name_at and row in titled else Taken("heading", "")
            beyond = column > band.days[0] and counts[column] > words[column] and column not in band.days
            if column < band.days[0] or beyond or row == band.day_row:
                taken = song if column < band.days[0] else Taken("total", "beside the shows")
                wide.draft.account.setdefault(wide.spot(row, column), taken)


def _one_ticked(wide: _Grid, band: _Band, column: int, titles: dict[int, str], name_at: int, *, ordered: bool) -> None:
    draft = wide.draft
    night = wide.night(band.day_row, column, settled=True)
    marked, bare = [], []
    for row, title in titles.items():
        text = shown(wide.rows[row].get(column))
        number = _place_of(text) or ((True, 1) if ordered and is_encore(text) else None)
        if text and (number is not None or not ordered):
            marked.append((number if ordered and number else (False, row), row, title, text))
        elif any(map(str.isalnum, text)):
            bare.append(row)
    marked.sort(key=lambda one: one[0])
    numbers = [place for (_, place), *_ in marked]
    behind = sum(late for (late, _), *_ in marked)
    main = len(numbers) - behind
    right = (list(range(1, len(numbers) + 1)), [*range(1, main + 1), *range(1, behind + 1)])
    if ordered and numbers not in right:
        draft.asking.confirm(
            "positions",
            f"The numbers below {night.day} do not run 1, 2, 3: {', '.join(map(str, numbers[:8]))}.",
            where=draft.where(night.at),
        )
    if bare:
        draft.asking.confirm(
            f"ticks: {night.day}",
            f'"{titles[bare[0]]}" has a mark instead of a place on {night.day}, one of {len(bare)} such; they are left out.',
            where=draft.where(wide.spot(bare[0], column)),
        )
    for _, row, title, text in marked:
        spot = wide.spot(row, column)
        struck = (row, name_at) in wide.table.sheet.struck
        item = Item(title, kind_of(title), spot, row, struck=struck, numbered=True, encore=text[:1] in "eE", mark=text)
        night.items.append(item)
    _above_and_below(wide, band, column, night, min(titles))


def _above_and_below(wide: _Grid, band: _Band, column: int, night: Night, first: int) -> None:
    """Account for what stands in a show's column and is no song: a town above the first title, a total."""
    songs = {item.at for item in night.items}
    for row in band.rows:
        if column in wide.rows[row] and wide.spot(row, column) not in songs and row != band.day_row:
            place = wide.kinds[row, column] == TEXT and row < first
            wide.draft.take([wide.spot(row, column)], "city" if place else "total", "")
            night.places += [shown(wide.rows[row][column])] if place else []


def _place_of(text: str) -> tuple[bool, int] | None:
    """Whether it is of the encore, and which place: "3", "E1"."""
    match = re.fullmatch(r"\W*(e|enc|encore)?\s*(\d{1,3})\W*", text, re.IGNORECASE)
    return None if match is None else (match[1] is not None, int(match[2]))


def _shows_down(wide: _Grid, band: _Band, known: Known) -> None:
    """Read a band in which the songs of each show stand below its day."""
    band.days = sorted({*band.days, *_like_the_others(wide, band)})
    labels_at = [column for column in wide.table.columns if column < band.days[0]]
    _span(wide, band, labels_at)
    labels_at = [column for column in wide.table.columns if column < band.days[0] - band.offset]
    own = _own_column(wide, band, known)
    labels = {
        row: next((shown(wide.rows[row][column]) for column in reversed(labels_at) if column in wide.rows[row]), "")
        for row in band.rows
    }
    fields = _fields(wide, band, own, labels)
    wide.draft.take(
        [wide.spot(row, column) for row in band.rows for column in labels_at if column in wide.rows[row]], "heading"
    )
    heads = [row for row in band.body[:_HEADS] if row not in fields.songs and _heads(wide, band, row)]
    wide.draft.take([wide.spot(row, column) for row in heads for column in wide.rows[row]], "heading")
    for row in heads:
        del wide.rows[row]
        band.rows.remove(row)
    worded = [row for row in band.body if labels[row] and row not in fields.songs]
    for column in band.days:
        _one_below(wide, band, column, own, fields, worded=len(worded) <= 0.5 * len(band.body))
    for night in wide.draft.nights[-len(band.days) :]:
        _uncounted(night)
    reached = (
        {column - band.offset + step for column in band.days for step in range(band.gap)}
        | set(labels_at)
        | set(band.days)
    )
    stray = [wide.spot(row, column) for row in band.rows for column in wide.rows[row] if column not in reached]
    _beyond(wide, band, stray, reached)


@dataclass
class _Fields:
    """What the labels of the rows of a band say.

    Attributes
    ----------
    labels
        Label of each row.
    songs
        Rows whose labels count songs: "3", "Song 3", "Encore 1".
    late
        Rows of the encore: counted apart, or below the one row that only says so.
    beside
        Rows that hold no songs: named otherwise, and nothing in them is a song elsewhere.
    digits
        Whether labels count at all.
    remarks
        How far right of the day remarks stand.

    """

    labels: dict[int, str]
    songs: set[int]
    late: set[int]
    beside: set[int]
    digits: bool
    remarks: set[int]


def _fields(wide: _Grid, band: _Band, own: int, labels: dict[int, str]) -> _Fields:
    songs, late = _counted(labels)
    cells = {
        row: [tight(shown(wide.rows[row][c])) for day in band.days if (c := day - band.offset + own) in wide.rows[row]]
        for row in band.body
    }  # fmt: skip
    told = songs or {row for row in band.body if not labels[row]}
    titles = {form for row in told for form in cells.get(row, ())}
    songs |= {
        row for row in band.body
        if len(told) >= 3 and labels[row] and columns_.named(labels[row]) is None and cells[row]
        and sum(form in titles for form in cells[row]) >= max(2, 0.4 * len(cells[row]))
    }  # fmt: skip
    other = {
        row for row in band.body
        if row not in songs and labels[row] and not is_label(labels[row]) and not is_encore(labels[row])
        and sum(form in titles for form in cells[row]) < 0.3 * max(1, len(cells[row]))
        and columns_.named(labels[row]) is None
    }  # fmt: skip
    numeric = {
        row for row in other
        if sum(wide.kinds.get((row, day - band.offset + own)) in (NUMBER, KEY, TIME) for day in band.days) >= 0.8 * len(cells[row])
    }  # fmt: skip
    sparse = {row for row in other if len(cells[row]) < 0.9 * len(band.days)}
    beside = numeric | sparse | {row for row in other if row > max(songs)} if len(songs) >= 3 else set()
    heads = [row for row in band.body if is_encore(labels[row]) and not cells[row]]
    late |= {row for row in band.body if len(heads) == 1 and row > heads[0]}
    return _Fields(labels, songs, late, beside, len(songs) >= 2, _remarks(wide, band))


def _remarks(wide: _Grid, band: _Band) -> set[int]:
    """How far right of a show's day a column stands that is called remarks."""
    steps = range(-band.offset, band.gap - band.offset)
    return {
        step
        for step in steps
        for row in band.rows
        if any(columns_.named(wide.rows[row].get(day + step)) == columns_.REMARK for day in band.days)
    }


def _counted(labels: dict[int, str]) -> tuple[set[int], set[int]]:
    """Rows whose labels count songs, with or without a word before the number; and those of the encore."""
    families: dict[str, list[tuple[int, int]]] = {}
    for row, label in labels.items():
        match = _COUNTING.fullmatch(label.strip())
        if match:
            families.setdefault(tight(match[1]), []).append((row, int(match[2])))
    main = max(families, key=lambda word: len(families[word]), default="")
    songs: set[int] = set()
    late: set[int] = set()
    for word, some in families.items():
        numbers = [number for _, number in some]
        runs = numbers == list(range(numbers[0], numbers[0] + len(numbers))) and numbers[0] <= 2
        if not (runs and (word == main or len(numbers) > 1)) and not _SONG_NAME.fullmatch(f"{word} 1"):
            continue
        songs |= {row for row, _ in some}
        if word != main and (is_encore(word) or (some[0][0] > families[main][-1][0] and len(some) <= 4)):
            late |= {row for row, _ in some}
    return songs, late


def _uncounted(night: Night) -> None:
    """Take the numbers off that stand before the songs of a column, in the same cell."""
    for item, counted in zip(night.items, ways.counted([item.text for item in night.items]), strict=True):
        if counted:
            item.mark, item.text = item.text, ways.NUMBER_FIRST.sub("", item.text, count=1)
            item.mark, item.numbered = item.mark.removesuffix(item.text).strip(), True
            item.kind = kind_of(item.text)


_COUNTING = re.compile(r"(\D{0,20}?)[\s_.#]*(\d{1,2})[.)]?")
_SONG_NAME = re.compile(r"(?:song|title|titel|titre|track|no|nr|pos|position|lied|e|enc|encore)?[\s_.]?\d{1,2}[.)]?")


_HEADS = 3
"""Rows below the days in which the names of columns may stand."""


def _heads(wide: _Grid, band: _Band, row: int) -> bool:
    """Whether a row names the columns of every show: the same words below each day, one of them above numbers."""
    steps = [
        [tight(shown(wide.rows[row].get(day - band.offset + step))) for day in band.days] for step in range(band.gap)
    ]
    words = all(wide.kinds[row, column] not in (NUMBER, TIME, *ANY_DAY) for column in wide.rows[row])
    same = [texts[0] for texts in steps if len(set(texts)) == 1 and texts[0]]
    all_same = len(band.days) > 1 and len(same) > 1 and len(same) == sum(any(texts) for texts in steps)
    counts = any(
        _kind_of_column(wide, band, band.days[0] - band.offset + step) in (NUMBER, TIME)
        for step, texts in enumerate(steps)
        if texts[0]
    )
    return words and all_same and counts


def _beyond(wide: _Grid, band: _Band, stray: list[Spot], reached: set[int]) -> None:
    """Cells outside every show: a row that is longer than the row of days, or a title there, is asked about."""
    if not stray:
        return
    wide.draft.take(stray, "left out", "outside every show")
    there = [(row, column) for row in band.body for column in wide.rows[row] if wide.kinds[row, column] == TEXT]
    inside = {tight(shown(wide.rows[row][column])) for row, column in there if column in reached}
    outside = [(shown(wide.rows[row][column]), column) for row, column in there if column not in reached]
    texts = [text for text, _ in outside]
    if any(column - 1 in reached or tight(text) in inside for text, column in outside):
        wide.draft.asking.confirm(
            f"outside {stray[0].row}",
            f'"{texts[0]}" stands outside every show, with {len(stray)} cells in all; they are left out.',
            where=wide.draft.where(stray[0]),
            value=texts[0],
        )


def _span(wide: _Grid, band: _Band, labels_at: list[int]) -> None:
    """How many columns belong to each show, as with Song and Key below a day that covers both."""
    gaps = Counter(b - a for a, b in zip(band.days, band.days[1:], strict=False))
    band.gap = max(gaps, key=lambda gap: (gaps[gap], -gap), default=1)
    if len(band.days) > 1 and band.gap > 1 and len(labels_at) >= band.gap - 1:

        def agree(offset: int) -> int:
            total = 0
            for column in band.days:
                for row in band.body:
                    there = [(column - offset + step) in wide.rows[row] for step in range(band.gap)]
                    total += all(there) or not any(there)
            return total

        def alike(
            offset: int,
        ) -> bool:  # what stands left of the first day is no label if it is like what stands left of the others
            return all(
                _kind_of_column(wide, band, day - offset) == _kind_of_column(wide, band, band.days[0] - offset)
                for day in band.days
            )

        offsets = [0, *itertools.takewhile(alike, range(1, band.gap))]
        band.offset = max(offsets, key=lambda offset: (agree(offset), -offset))


def _kind_of_column(wide: _Grid, band: _Band, column: int) -> str:
    """Which kind most cells of a column are of."""
    kinds = Counter(wide.kinds[row, column] for row in band.body if column in wide.rows[row])
    return kinds.most_common(1)[0][0] if kinds else ""


def _own_column(wide: _Grid, band: _Band, known: Known) -> int:
    """Which of the columns of a show holds the songs; asked about if another is as good."""
    scores: dict[int, float] = {}
    for step in range(band.gap):
        cells = [
            (column, wide.rows[row][column - band.offset + step])
            for column in band.days
            for row in band.body
            if column - band.offset + step in wide.rows[row]
        ]
        often = Counter(
            form for one in band.days for form in {tight(shown(value)) for column, value in cells if column == one}
        )
        worth = float(sum(kind_of(value) in (TEXT, LABEL) for _, value in cells))
        worth += sum(
            0.5
            for _, value in cells
            if kind_of(value) == TEXT and (often[tight(shown(value))] > 1 or tight(shown(value)) in known.songs)
        )
        head = {
            columns_.named(wide.rows[row].get(column - band.offset + step))
            for column in band.days
            for row in band.body[:2]
        }
        bonus = 2.0 if columns_.SONG in head else 0.4 if head & {columns_.REMARK, columns_.POSITION} else 1.0
        scores[step] = bonus * worth / max(1, len(cells)) * (len(cells) > 0.3 * len(band.body) or step == 0)
    best = max(scores, key=lambda step: scores[step])
    if any(step != best and scores[step] > 0.7 * scores[best] for step in scores):
        wide.draft.asking.confirm(
            "columns of a show",
            f"Two columns below each day look like songs; the {'first' if best == 0 else 'second' if best == 1 else 'last'} is taken.",
        )
    return best


def _one_below(wide: _Grid, band: _Band, column: int, own: int, fields: _Fields, *, worded: bool) -> None:
    """One show: its day, what names its place, and what may be its songs."""
    night = wide.night(band.day_row, column)
    for row in band.rows:
        for step in range(band.gap):
            at = column - band.offset + step
            if at not in wide.rows[row] or (row, at) == (band.day_row, column):
                continue
            if row in fields.beside:
                kind = "number" if wide.kinds[row, at] == NUMBER else "left out"
                wide.draft.take([wide.spot(row, at)], kind, f"beside the songs: {fields.labels[row]}")
            else:
                _one_cell(wide, band, night, (row, at), fields, own=step == own, worded=worded)
    while fields.digits and night.items and not re.search(r"[\w?!]", night.items[-1].text):
        wide.draft.take([night.items.pop().at], "sign", "nothing there")


def _one_cell(
    wide: _Grid, band: _Band, night: Night, at: tuple[int, int], fields: _Fields, *, own: bool, worded: bool
) -> None:
    row, column = at
    text, spot, label = shown(wide.rows[row][column]), wide.spot(row, column), fields.labels[row]
    numbered = row in fields.songs
    role = None if numbered else columns_.named(label)
    named = label and not is_label(label) and not is_encore(label) and not numbered
    named = named and role not in (columns_.SONG, columns_.POSITION, columns_.ENCORE)
    above = fields.digits and row < min(fields.songs)
    alone = row not in band.body and len(wide.rows[row]) == 1 and len(band.days) > 2
    if alone or (above and columns_.named(text) in (columns_.SONG, columns_.REMARK, columns_.POSITION)):
        wide.draft.take([spot], "heading", "above the table" if alone else "")
    elif row not in band.body or role in (columns_.CITY, columns_.VENUE, columns_.ROOM, columns_.LEG):
        if role in (columns_.CITY, columns_.VENUE, columns_.ROOM, columns_.LEG):
            night.said.setdefault(role, lines_of(wide.rows[row][column]))
        elif role != columns_.NUMBER and wide.kinds[row, column] != NUMBER:
            night.places.append(lines_of(wide.rows[row][column]))
        wide.draft.take([spot], "venue" if role == columns_.VENUE else "city")
    elif not own:
        _beside_a_song(wide, night, text, spot, remark=(column - night.at.column) in fields.remarks)
    elif label and (is_no_song(label) or (role == columns_.REMARK)):
        wide.draft.take([spot], "total" if is_no_song(label) else "remark", f'row "{label}"')
    elif named and (above or (not fields.digits and worded and role is None)):
        wide.draft.take([spot], "heading", f'row "{label}"')
        night.places += [text] if role is None else []
    else:
        bare = behind_encore(text)
        kind = wide.kinds[row, column] if bare is None else kind_of(bare)
        item = Item(bare or text, kind, spot, row, struck=(row, column) in wide.table.sheet.struck, mark=label)
        item.numbered = numbered
        item.encore = row in fields.late or bare is not None or (bool(label) and is_encore(label))
        if fields.digits and not numbered and not is_label(text) and not item.encore and not label:
            _unnumbered(wide, night, item, lines_of(wide.rows[row][column]), row, fields)
        else:
            night.items.append(item)


def _beside_a_song(wide: _Grid, night: Night, text: str, spot: Spot, *, remark: bool) -> None:
    """What stands in another column of a show than its songs: a remark on the song of its row, or nothing."""
    remark = remark and bool(night.items) and night.items[-1].at.row == spot.row
    if remark:
        night.items[-1].remark = text
    wide.draft.take([spot], "remark" if remark else "left out", "" if remark else "beside a song")


def _unnumbered(wide: _Grid, night: Night, item: Item, typed: str, row: int, fields: _Fields) -> None:
    """A cell in a row without a number where rows are numbered: above them a place, below them no song."""
    if row < min(fields.songs):
        wide.draft.take([item.at], "city")
        if item.kind == TEXT:
            night.places.append(typed)
    else:
        before = night.items[-1] if night.items else None
        item.numbered = item.kind == TEXT and before is not None and before.numbered and before.top == row - 1
        night.items.append(item)
