"""Tables with a row a show of which one cell holds the whole set."""

from __future__ import annotations

import itertools
import re
import statistics
from collections import Counter
from datetime import date

from tourstats.problems import listed, there_are
from tourstats.reading import headers, places, ways
from tourstats.reading.asking import Asking, Where
from tourstats.reading.blocks import of_cells
from tourstats.reading.cells import ANY_DAY, NUMBER, TEXT, is_encore, lines_of, shown, tight
from tourstats.reading.days import Calendar, Day, day_in
from tourstats.reading.known import Known
from tourstats.reading.layout import Draft, Night, Spot
from tourstats.reading.long_tables import Table
from tourstats.reading.workbooks import Sheet, letter

HOW = "a set a cell"
_LINES = "\n"
_FEW_WORDS, _LONGEST_NAME = 3, 5


def _parts(value: object, sign: str) -> list[str]:
    """Songs of a cell, without the numbers that count them."""
    texts = [part.strip() for part in str(value).split(sign) if part.strip()]
    counts = zip(texts, ways.counted(texts), strict=True)
    return [ways.NUMBER_FIRST.sub("", text, count=1) if counted else text for text, counted in counts]


def sets_in_cells(
    sheet: Sheet, kinds: dict[tuple[int, int], str], calendar: Calendar, asking: Asking, known: Known
) -> Draft | None:
    """Read a row a show of which one cell holds the whole set, or one a part of it; None if no column is like that."""
    table = Table.of(sheet, kinds)
    days = _days(table, calendar)
    best = _best(table, days)
    if best is None:
        return None
    again, main, sign = best
    if not names_song(table, main) and again < 0.5:
        asking.confirm("shape", f"The file is read as a set in each cell of column {letter(main)}: is that right?")
    first = min(days)
    names: dict[int, str] = {}
    for row in table.rows:
        if row < first:
            names |= {at: shown(value) for at, value in table.rows[row].items()}
    sets = {main} | _others(table, days, names, (main, sign))
    with_set = [row for row in days if main in table.rows[row]]
    parts = _of_one_show(table, days, with_set, (main, sign), asking)
    shows = [_show(table, rows, days[rows[0]][0], names, sets) for rows in parts]
    free = set(table.columns) - sets - {column for column, _ in days.values()}
    draft = of_cells(HOW, shows, calendar, asking, known, beside=bool(free))
    if draft is None:
        return None
    for row in table.rows:
        there = [spot for spot in table.spots(row) if row not in with_set or spot.column not in sets | {days[row][0]}]
        draft.take(there, "heading" if row < first else "left out", "" if row < first else "beside the sets")
    draft.take((table.spot(row, days[row][0]) for rows in parts for row in rows), "day")
    roles = places.roles_of(
        {at: (names.get(at), [lines_of(table.rows[row].get(at)) for row in with_set]) for at in sorted(free)}
    )
    unnamed = {at for at in free if roles[at] is None and _may_be_places(table, at, with_set)}
    if unnamed and names and headers.CITY not in roles.values():
        roles |= dict.fromkeys(unnamed, places.PLACE)
        which = listed([names.get(at) or letter(at) for at in sorted(unnamed)])
        asking.confirm("where", f"Nothing says where the shows were but {which}: are towns or venues there?")
    if not names:
        roles |= {at: roles[at] or places.PLACE for at in free}
    for (row, *_), night in zip(parts, draft.nights, strict=True):
        found = day_in(table.rows[row][days[row][0]])
        night.places += [found.rest] if found is not None and found.rest else []
        _said_beside(draft, night, table, row, roles)
    return draft


def _may_be_places(table: Table, column: int, rows: list[int]) -> bool:
    """Whether a column may hold towns or venues: a text of few words in nearly every row, seldom the same."""
    texts = [shown(table.rows[row][column]) for row in rows if table.kinds.get((row, column)) == TEXT]
    few = all(len(text.split()) <= _LONGEST_NAME for text in texts)
    return few and len(texts) >= 0.8 * len(rows) and len(set(texts)) >= 0.7 * len(texts) > 1


def _days(table: Table, calendar: Calendar) -> dict[int, tuple[int, date]]:
    """The day of each row, and the column that it stands in: the one that has most of them."""
    found: dict[int, dict[int, date]] = {column: {} for column in table.columns}
    for (row, column), kind in table.kinds.items():
        if kind in ANY_DAY and (on := calendar.of(day_in(table.rows[row][column]))) is not None:
            found[column][row] = on
    column = max(found, key=lambda at: len(found[at]), default=0)
    return {row: (column, on) for row, on in found.get(column, {}).items()}


def _of_one_show(
    table: Table, days: dict[int, tuple[int, date]], rows: list[int], main: tuple[int, str], asking: Asking
) -> list[list[int]]:
    """Rows of one show together: those of a day that hold no song twice may be its parts, which is asked once."""
    by_day = [list(some) for _, some in itertools.groupby(sorted(rows), key=lambda row: days[row][1])]
    several = [some for some in by_day if len(some) > 1]
    column, sign = main
    forms = [[tight(part) for row in some for part in _parts(table.rows[row][column], sign)] for some in several]
    if not several or sum(len(set(one)) == len(one) for one in forms) < 0.8 * len(forms):
        return [[row] for row in rows]
    one, apart = "parts of one show", "shows of their own"
    problem = f"{there_are(len(several), 'day')} told in several rows, and no song twice: are these parts of one show?"
    at = Where("", table.sheet.name, several[0][1], letter(column))
    return by_day if asking.choose("parts", problem, (one, apart), one, where=at) == one else [[row] for row in rows]


def _show(
    table: Table, rows: list[int], day: int, names: dict[int, str], sets: set[int]
) -> tuple[Day, Spot, list[tuple[Spot, str]]]:
    """The day of a show, where it stands, and the lines of its set, an encore under its heading."""
    when = day_in(table.rows[rows[0]][day])
    assert when is not None  # noqa: S101  # the row is there for its day
    lines = []
    for row in rows:
        beside = [shown(value) for at, value in table.rows[row].items() if at not in sets]
        encore = any(is_encore(text) and len(text.split()) < _FEW_WORDS for text in beside)
        for column in sorted(sets & table.rows[row].keys()):
            spot = table.spot(row, column)
            headed = is_encore(re.sub(r"\(.*?\)", "", names.get(column, "")))  # of "Set (// = encore)" nothing
            lines += [(spot, "Encore")] if encore or headed else []
            lines += [(spot, line) for line in str(table.rows[row][column]).split(_LINES)]
    return when, table.spot(rows[0], day), lines


def _best(table: Table, days: dict[int, tuple[int, date]]) -> tuple[float, int, str] | None:
    """The column and the sign by which most of what its cells hold comes again."""
    best: tuple[float, int, str] | None = None
    for column in table.columns:
        texts = [table.rows[row][column] for row in days if column in table.rows[row] and column != days[row][0]]
        for sign in (_LINES, *ways.LISTS):
            parts = [_parts(text, sign) for text in texts]
            if len(parts) < 2 or len(parts) < 0.7 * len(days) or statistics.median(map(len, parts)) < 4:
                continue
            often = Counter(form for one in parts for form in {tight(part) for part in one})
            again = sum(often[tight(part)] > 1 for one in parts for part in one) / sum(map(len, parts))
            if best is None or again > best[0] + 0.01:
                best = (again, column, sign)
    return best


def _others(table: Table, days: dict[int, tuple[int, date]], names: dict[int, str], main: tuple[int, str]) -> set[int]:
    """Columns with a part of the set besides: headed as an encore or a set, or holding titles of the main one."""
    column, sign = main
    titles = Counter(
        tight(part) for row in days if column in table.rows[row] for part in _parts(table.rows[row][column], sign)
    )
    others = set()
    for at in table.columns:
        texts = [table.rows[row][at] for row in days if at in table.rows[row] and at not in (column, days[row][0])]
        parts = [tight(part) for text in texts if isinstance(text, str) for part in _parts(text, sign)]
        theirs = sum(part in titles for part in parts)
        headed = is_encore(names.get(at, "")) or names_song(table, at)
        if parts and (theirs > 0.5 * len(parts) or (headed and (theirs or statistics.mean(map(len, parts)) > 3))):
            others.add(at)
    return others


def names_song(table: Table, column: int) -> bool:
    """Whether a column says that it holds songs or sets."""
    heads = [table.rows[row].get(column) for row in list(table.rows)[:5]]
    return any(
        headers.named(head) == headers.SONG or re.match(r"\W*(?:set|songs?)\b", str(head or ""), re.IGNORECASE)
        for head in heads
    )


def _said_beside(draft: Draft, night: Night, table: Table, row: int, roles: dict[int, str | None]) -> None:
    """City, venue, leg and room of a show, as the columns tell."""
    for column in sorted(table.rows[row].keys() & roles.keys()):
        role = roles[column]
        if role is None or table.kinds[row, column] == NUMBER:
            continue
        if role == places.PLACE:
            night.places.append(lines_of(table.rows[row][column]))
        else:
            night.said[role] = lines_of(table.rows[row][column])
        draft.take([table.spot(row, column)], "venue" if role == headers.VENUE else "city")
