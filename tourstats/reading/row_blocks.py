"""Tables in which each show is a stretch of rows under a row with its day; and those with a whole set in one cell."""

from __future__ import annotations

import statistics
from collections import Counter

from tourstats.reading import headers
from tourstats.reading.asking import Asking
from tourstats.reading.blocks import SEPARATORS
from tourstats.reading.cells import DAYS, KEY, NUMBER, TEXT, kind_of, shown, tight, whole_number
from tourstats.reading.days import Calendar, day_in
from tourstats.reading.known import Known
from tourstats.reading.layout import Draft, Item, Night
from tourstats.reading.long_tables import Table
from tourstats.reading.trimming import trim
from tourstats.reading.workbooks import Sheet, letter

HOW, IN_CELLS = "rows under a day", "a set a cell"


def row_blocks(
    sheet: Sheet, kinds: dict[tuple[int, int], str], calendar: Calendar, asking: Asking, known: Known
) -> Draft | None:
    """Read rows under a row with a day; None if there are not several such stretches of several rows."""
    table = Table.of(sheet, kinds)
    dated = {
        row: column
        for row in table.rows
        for column in table.rows[row]
        if kinds[row, column] in DAYS and calendar.of(day_in(table.rows[row][column]))
    }
    rows = list(table.rows)
    starts = sorted(dated)
    if len(starts) < 2 or len(rows) < 4 * len(starts):
        return None
    draft = Draft(HOW, asking)
    draft.take((spot for row in rows if row < starts[0] for spot in table.spots(row)), "heading", "above the first day")
    bodies = [
        [row for row in rows if start < row < end]
        for start, end in zip(starts, [*starts[1:], rows[-1] + 1], strict=True)
    ]
    own = _song_column(table, bodies, known)
    if own is None or sum(kinds.get((start, own)) == TEXT for start in starts) > 0.5 * len(starts):
        return None
    for start, body in zip(starts, bodies, strict=True):
        _one(draft, table, calendar, start, dated[start], body, own)
    trim(draft, known)
    words = f"The file is read as rows under a day, column {letter(own)} the songs: is that right?"
    asking.confirm("shape", words)
    return draft


def _song_column(table: Table, bodies: list[list[int]], known: Known) -> int | None:
    """The column whose texts come again from show to show, and are different within one."""
    said = Counter(
        column
        for row in table.rows
        for column, value in table.rows[row].items()
        if headers.named(value) == headers.SONG
    )
    if said and said.most_common(1)[0][1] >= 0.5 * len(bodies):
        return said.most_common(1)[0][0]
    best: tuple[float, int] | None = None
    for column in table.columns:
        values = [
            [tight(shown(table.rows[row][column])) for row in body if table.kinds.get((row, column)) in (TEXT, KEY)]
            for body in bodies
        ]
        many = sum(map(len, values))
        if many < 3 * len(bodies):
            continue
        often = Counter(form for one in values for form in set(one))
        steady = sum(often[form] == len(bodies) for form in often)
        again = sum(often[form] > 1 or form in known.songs for one in values for form in one) / many
        distinct = sum(len(set(one)) for one in values) / many
        score = distinct**2 * (0.15 + again) - 0.5 * (steady == len(often))
        if best is None or score > best[0]:
            best = (score, column)
    return None if best is None or best[0] < 0.2 else best[1]


def _one(draft: Draft, table: Table, calendar: Calendar, start: int, at: int, body: list[int], own: int) -> None:
    day = day_in(table.rows[start][at])
    night = Night(calendar.of(day), places=[day.rest] if day and day.rest else [], at=table.spot(start, at))
    draft.nights.append(night)
    draft.take(table.spots(start), "city")
    draft.take([night.at], "day")
    _places(night, table, start, {at})
    first = next(
        (row for row in body if any(headers.named(value) == headers.SONG for value in table.rows[row].values())), None
    )
    for row in body:
        if first is not None and row <= first:
            draft.take(table.spots(row), "heading")
            _places(night, table, row, set())
            continue
        draft.take((spot for spot in table.spots(row) if spot.column != own), "left out", "beside a song")
        if own not in table.rows[row]:
            continue
        item = Item(shown(table.rows[row][own]), table.kinds[row, own], table.spot(row, own), row - start)
        item.struck = (row, own) in table.sheet.struck
        left = [value for column, value in table.rows[row].items() if column < own]
        item.numbered = first is not None and any(whole_number(value) is not None for value in left)
        night.items.append(item)


def _places(night: Night, table: Table, row: int, used: set[int]) -> None:
    """Town and venue: behind a cell that says so, else whatever stands beside the day."""
    cells = {column: value for column, value in table.rows[row].items() if column not in used}
    named = {column: headers.named(value) for column, value in cells.items()}
    for column, role in named.items():
        if role in (headers.CITY, headers.VENUE) and column + 1 in cells and named[column + 1] is None:
            night.said.setdefault(role, shown(cells[column + 1]))
    if used and not any(named.values()):
        night.places += [shown(value) for value in cells.values() if kind_of(value) == TEXT]


def sets_in_cells(
    sheet: Sheet, kinds: dict[tuple[int, int], str], calendar: Calendar, asking: Asking, known: Known
) -> Draft | None:
    """Read a row a show of which one cell holds the whole set; None if no column is like that."""
    table = Table.of(sheet, kinds)
    days = {
        row: (column, on)
        for row in table.rows
        for column in sorted(table.rows[row], reverse=True)
        if kinds[row, column] in DAYS and (on := calendar.of(day_in(table.rows[row][column])))
    }
    best: tuple[float, int, str] | None = None
    for column in table.columns:
        texts = [shown(table.rows[row][column]) for row in days if column in table.rows[row] and column != days[row][0]]
        for separator in (*SEPARATORS, "\n"):
            sizes = [len([part for part in text.split(separator) if part.strip()]) for text in texts]
            if len(sizes) >= 2 and len(sizes) >= 0.7 * len(days) and statistics.median(sizes) >= 4:
                often = Counter(tight(part) for text in texts for part in text.split(separator))
                again = sum(often[tight(part)] > 1 for text in texts for part in text.split(separator)) / sum(sizes)
                if best is None or again > best[0] + 0.01:
                    best = (again, column, separator)
    if best is None:
        return None
    draft = Draft(IN_CELLS, asking)
    if len({column for column in table.columns if names_song(table, column)}) != 1:
        asking.confirm("shape", f"The file is read as a set in each cell of column {letter(best[1])}: is that right?")
    first = min(days)
    names = {
        column: headers.named(value) for row in table.rows if row < first for column, value in table.rows[row].items()
    }
    for row in table.rows:
        draft.take(
            table.spots(row), "heading" if row < first else "left out", "beside the sets" if row >= first else ""
        )
        if row in days and best[1] in table.rows[row]:
            _one_cell(draft, table, row, days[row], best, names)
    trim(draft, known)
    return draft


def names_song(table: Table, column: int) -> bool:
    """Whether a column says that it holds songs or sets."""
    return any(headers.named(table.rows[row].get(column)) == headers.SONG for row in list(table.rows)[:5])


def _one_cell(
    draft: Draft,
    table: Table,
    row: int,
    day: tuple[int, object],
    best: tuple[float, int, str],
    names: dict[int, str | None],
) -> None:
    _, column, separator = best
    found = day_in(table.rows[row][day[0]])
    night = Night(day[1], places=[found.rest] if found and found.rest else [], at=table.spot(row, day[0]))  # type: ignore[arg-type]  # a date
    draft.nights.append(night)
    draft.take([night.at], "day")
    for other, value in table.rows[row].items():
        role = names.get(other)
        if other in (column, day[0]) or table.kinds[row, other] == NUMBER:
            continue
        if role in (headers.CITY, headers.VENUE, headers.LEG, headers.ROOM):
            night.said[role] = shown(value)
            draft.take([table.spot(row, other)], "city")
    spot = table.spot(row, column)
    parts = [
        part.strip() for part in shown(table.rows[row][column]).split(separator.strip() or separator) if part.strip()
    ]
    night.items = [Item(text, kind_of(text), spot, at, part=at) for at, text in enumerate(parts)]
