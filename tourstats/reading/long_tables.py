"""A table with a row a song: which column is the day, which the songs, which their order, and where one show ends."""

# ruff: noqa: E501  # a question is read in one piece
from __future__ import annotations

import bisect
import itertools
import re
import statistics
from collections import Counter, defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date

from tourstats.reading import encores, places
from tourstats.reading import headers as columns
from tourstats.reading.account import COLUMN
from tourstats.reading.asking import Asking
from tourstats.reading.blocks import REHEARSED, is_rehearsed
from tourstats.reading.cells import (
    ANY_DAY,
    CANCELLED,
    DAY,
    DAY_AND_TEXT,
    DAYS,
    KEY,
    NO_SONG,
    NUMBER,
    SHORT_DAY,
    TEXT,
    is_encore,
    is_error,
    kind_of,
    lines_of,
    shown,
    tight,
    whole_number,
)  # fmt: skip
from tourstats.reading.days import Calendar, day_in
from tourstats.reading.known import Known
from tourstats.reading.layout import Draft, Item, Night, Spot
from tourstats.reading.titles import fold
from tourstats.reading.workbooks import Cell, Sheet, letter

HOW = "a row a song"
SAME_AGAIN, OFF, COUNTED = "the same again", "a show that was cancelled", "how often each was played"
"""Why what stands there twice over, what was not played, and what counts songs is left out."""
_HEADER_ROWS = 15
_FEW_WORDS = 3
"""Different words up to which a column says whether something was of the encore, and holds no titles."""
_HOUSES = 3
"""Shows of one day that a column may keep apart."""
_ACROSS = 3
"""Columns called songs from which the songs of a show stand across."""
_LONG = 5
"""Words beside a day from which it is no heading of a column."""
_HALF = re.compile(r"half|set|part|teil|1|2|first|second", re.IGNORECASE)
_TEXTS = (TEXT, DAY_AND_TEXT, SHORT_DAY)


@dataclass
class Table:
    """A sheet by rows, with the kind of each cell."""

    sheet: Sheet
    kinds: dict[tuple[int, int], str]
    rows: dict[int, dict[int, Cell]]
    columns: list[int]

    @classmethod
    def of(cls, sheet: Sheet, kinds: dict[tuple[int, int], str]) -> Table:
        """Put the cells of a sheet into rows."""
        rows: dict[int, dict[int, Cell]] = defaultdict(dict)
        for (row, column), value in sorted(sheet.cells.items(), key=lambda item: item[0]):
            rows[row][column] = value
        return cls(sheet, kinds, dict(rows), sorted({column for _, column in sheet.cells}))

    def spot(self, row: int, column: int) -> Spot:
        """A cell by its place."""
        return Spot(self.sheet.name, row, column)

    def spots(self, row: int) -> Iterator[Spot]:
        """All cells of a row."""
        return (self.spot(row, column) for column in self.rows[row])

    def name(self, names: dict[int, str], column: int) -> str:
        """What a column is called, or its letter."""
        return names.get(column) or letter(column)


@dataclass
class _Column:
    """What the rows of the shows tell about one column."""

    fill: float
    text: float
    same: float
    distinct: float
    again: float
    forms: set[str]
    score: float


@dataclass
class _Found:
    """What was found out about a table so far."""

    days: dict[int, date | None]
    used: set[int]
    first: int
    head: int | None = None
    names: dict[int, str] = field(default_factory=dict)
    roles: dict[str, int] = field(default_factory=dict)
    places: list[int] = field(default_factory=list)
    """Columns that may hold towns and venues: the same all evening."""


def long_table(
    sheet: Sheet, kinds: dict[tuple[int, int], str], calendar: Calendar, asking: Asking, known: Known
) -> Draft | None:
    """Read a table with a row a song; None if it has no column of days that go with several rows."""
    table = Table.of(sheet, kinds)
    if _stand_across(table):
        return None
    draft = Draft(HOW, asking, named=_named_columns(table) is not None)
    layout = _day_column(table, calendar, draft)
    if layout is None:
        return None
    _head(table, layout, draft)
    groups = _without_restarts(table, layout, _shows(table, layout, draft))
    if not draft.named and len(groups) < 2 and sum(map(len, groups.values())) < 3:
        return None
    stats = {
        column: one
        for column in table.columns
        if column not in layout.used
        and not is_rehearsed(table.name(layout.names, column))
        and (one := _stats(table, column, groups, layout, known))
    }
    may_be_places = _name_where(table, layout, stats, groups)
    songs = _song_columns(stats, layout, draft, table, len(groups))
    if not songs:
        return None
    said = set(layout.roles.values())
    layout.places = [at for at in may_be_places if at not in said]
    _fill(draft, table, layout, groups, stats, songs)
    _heads_beside_days(draft, table, layout)
    return draft


def _stand_across(table: Table) -> bool:
    """Whether several columns are called songs: then each row is a show."""
    heads = [[*map(columns.named, cells.values())] for cells in list(table.rows.values())[:_HEADER_ROWS]]
    return any(names.count(columns.SONG) >= _ACROSS for names in heads)


def _name_where(table: Table, layout: _Found, stats: dict[int, _Column], groups: dict[Group, list[int]]) -> list[int]:
    """Give columns of cities and venues their roles; other columns that are the same all evening and may hold places."""
    for role in (columns.VENUE, columns.ROOM, columns.LEG):
        column = layout.roles.get(role)
        if column in stats and stats[column].same < 0.5:
            del layout.roles[role]
    firsts = [some[0] for some in groups.values()]
    told = {layout.roles.get(role) for role in (columns.CITY, columns.VENUE, columns.ROOM, columns.LEG)}
    others = {*layout.roles.values()} - told
    free = [at for at in stats if at not in others and stats[at].same >= 0.9 and stats[at].text > 0.6]
    where = places.roles_of(
        {at: (layout.names.get(at), [lines_of(table.rows[row].get(at)) for row in firsts]) for at in free}
    )
    layout.roles |= {role: at for at, role in where.items() if role in (columns.CITY, columns.VENUE)}
    return [at for at in free if columns.CITY not in layout.roles or where[at] == places.PLACE]


def _heads_beside_days(draft: Draft, table: Table, layout: _Found) -> None:
    """Where only the first row of a show has a day, what stands beside it is the town if it never comes again."""
    column = next(iter(layout.used), 0)
    nights = [night for night in draft.nights if len(night.items) > 1]
    dated = sum(column in table.rows[item.at.row] for night in nights for item in night.items)
    if len(nights) < 3 or dated != len(nights):
        return
    often = Counter(form for night in nights for form in {tight(item.text) for item in night.items})
    rest = [often[tight(item.text)] > 1 for night in nights for item in night.items[1:]]
    if any(often[tight(night.items[0].text)] > 1 for night in nights) or sum(rest) < 0.5 * len(rest):
        return
    for night in nights:
        head = night.items.pop(0)
        night.head.append(head)
        for at in sorted(table.rows[head.at.row].keys() - layout.used - {head.at.column, *layout.roles.values()}):
            if table.kinds[head.at.row, at] == TEXT:
                night.places.append(lines_of(table.rows[head.at.row][at]))
                draft.take([table.spot(head.at.row, at)], "city")
    if len(nights) < 5:
        first = nights[0].head[-1]
        draft.asking.confirm(
            "beside the day", f'"{first.text}" stands beside the day, and comes in no other show: taken for the city.',
            where=draft.where(first.at), value=first.text,
        )  # fmt: skip


# ------------------------------------------------------------------------------------------------ days


def _day_column(table: Table, calendar: Calendar, draft: Draft) -> _Found | None:
    """Find the days: in one column, in three, or as numbers of a spreadsheet."""
    said = _named_columns(table)
    if said is not None:
        head, column = said
        days: dict[int, date | None] = {
            row: on
            for row, cells in table.rows.items()
            if row > head and column in cells and (on := calendar.of(day_in(cells[column]))) is not None
        }
        return _Found(days, {column}, head + 1)
    counts = {
        column: sum(table.kinds[row, column] in DAYS for row in table.rows if column in table.rows[row])
        for column in table.columns
    }
    if not any(counts.values()):
        counts = {
            column: sum(table.kinds[row, column] == SHORT_DAY for row in table.rows if column in table.rows[row])
            for column in table.columns
        }
    best = max(counts, key=lambda column: (counts[column], -column))
    filled = sum(best in row for row in table.rows.values())
    if counts[best] >= 2 and counts[best] >= 0.5 * filled:
        kinds = [table.kinds[row, best] for row in table.rows if best in table.rows[row]]
        pure = kinds.count(DAY) >= 0.8 * counts[best]
        wanted = (DAY,) if pure and kinds.count(DAY) else ANY_DAY
        days = {
            row: calendar.of(day_in(table.rows[row][best]))
            for row in table.rows
            if best in table.rows[row] and table.kinds[row, best] in wanted
        }
        return _Found(days, {best}, min(days))
    return _three_columns(table, draft)


def _named_columns(table: Table) -> tuple[int, int] | None:
    """The row of column names and the column of days, where one row names both the day and the songs."""
    for row in list(table.rows)[:_HEADER_ROWS]:
        roles = {columns.named(value): column for column, value in reversed(table.rows[row].items())}
        if columns.DATE in roles and columns.SONG in roles:
            below = [one for one in table.rows if one > row and roles[columns.DATE] in table.rows[one]]
            return (row, roles[columns.DATE]) if below else None
    return None


def _three_columns(table: Table, draft: Draft) -> _Found | None:
    """Year, month and day in columns of their own."""
    numbers = {
        column: {
            row: number
            for row, cells in table.rows.items()
            if column in cells and (number := whole_number(cells[column])) is not None
        }
        for column in table.columns
    }
    many = 0.7 * len(table.rows)
    years = [
        column
        for column in table.columns
        if len(numbers[column]) > many and all(1950 <= number <= 2100 for number in numbers[column].values())
    ]
    tried = []
    for year in years:
        small = [
            column
            for column in table.columns
            if column != year and len(numbers[column]) > many and all(1 <= n <= 31 for n in numbers[column].values())
        ]
        for month, day in itertools.permutations(small, 2):
            try:
                days = {row: date(numbers[year][row], numbers[month][row], numbers[day][row]) for row in numbers[year]}
            except (ValueError, KeyError):
                continue
            layout = list(days.values())
            forward = sum(b >= a for a, b in itertools.pairwise(layout)) / max(1, len(layout) - 1)
            tried.append((forward, -(max(layout) - min(layout)).days, days, {year, month, day}))
    if not tried:
        return None
    tried.sort(key=lambda one: one[:2], reverse=True)
    if len(tried) > 1 and tried[1][0] >= tried[0][0] - 0.02 and -tried[1][1] < 60 * len(set(tried[1][2].values())):
        draft.asking.confirm(
            "date columns",
            f"Which column is the day and which the month could be either way; the first show is taken to be on {min(tried[0][2].values())}.",
        )
    return _Found({**tried[0][2]}, tried[0][3], min(tried[0][2]))


def _head(table: Table, layout: _Found, draft: Draft) -> None:
    """Read the names of the columns: the last full row above the first day."""
    above = [row for row in table.rows if row < layout.first]
    for row in above:
        draft.take(table.spots(row), "heading", "above the table")
    heads = [
        row
        for row in above
        if len(table.rows[row]) >= 2
        and all(
            table.kinds[row, c] in (TEXT, NO_SONG, KEY, "label") or columns.named(v) for c, v in table.rows[row].items()
        )
    ]
    if not heads:
        return
    layout.head = heads[-1]
    layout.names = {column: shown(value) for column, value in table.rows[layout.head].items()}
    for column, value in table.rows[layout.head].items():
        role = columns.named(value)
        if role and column not in layout.used:
            layout.roles.setdefault(role, column)


Group = tuple[date | None, str, int]


def _shows(table: Table, layout: _Found, draft: Draft) -> dict[Group, list[int]]:
    """Rows of each show: by day, and by number, town or name of the show where the file keeps them apart."""
    groups: dict[Group, list[int]] = defaultdict(list)
    head = {column: tight(shown(value)) for column, value in table.rows[layout.head].items()} if layout.head else {}
    rows = [row for row in table.rows if row >= layout.first]
    usual = statistics.median([len(table.rows[row]) for row in rows] or [1])
    lost: list[int] = []
    for row in rows:
        cells = table.rows[row]
        if row in layout.days:
            groups[layout.days[row], *_apart(table, row, layout)].append(row)
        elif head and {column: tight(shown(value)) for column, value in cells.items()} == head:
            draft.take(table.spots(row), "heading", "the names of the columns again")
        elif _is_odd(table, row, layout, usual):
            total = any(table.kinds[row, column] == NO_SONG for column in cells)
            draft.take(table.spots(row), "total" if total else "remark", "a row without a day")
        else:
            lost.append(row)
    lost = _without_counts(table, lost, layout, draft)
    _place_lost(table, lost, layout, groups)
    show_of = {row: key for key, some in groups.items() for row in some}
    changes = sum(show_of[a] != show_of[b] for a, b in itertools.pairwise(sorted(show_of)))
    mixed = changes > 2 * len(groups)
    ordered = sorted(groups.items(), key=lambda item: (item[0][0] or date.max if mixed else 0, min(item[1], default=0)))
    return {key: sorted(some) for key, some in ordered if some}


def _without_counts(table: Table, lost: list[int], layout: _Found, draft: Draft) -> list[int]:
    """Rows without a day, without those at the end that say how often each title stands above."""
    if not lost or not layout.days:
        return lost
    first, last = min(layout.days), max(layout.days)
    rows = [row for row in table.rows if first <= row <= last]
    usual = [column for column in table.columns if sum(column in table.rows[row] for row in rows) >= 0.95 * len(rows)]
    end = [row for row in lost if any(column not in table.rows[row] for column in usual)]
    full = max((row for row in lost if row not in set(end)), default=0)
    end = [row for row in end if row > max(full, last)]
    body = Counter(tight(shown(value)) for row in table.rows if not end or row < end[0] for value in table.rows[row].values())  # fmt: skip
    agree = sum(
        any(body[tight(shown(one))] == whole_number(other) for one, other in itertools.pairwise(table.rows[row].values()))
        for row in end
    )  # fmt: skip
    if len(end) < 3 or agree < 0.7 * len(end):
        return lost
    for row in end:
        draft.take(table.spots(row), "total", COUNTED)
    return [row for row in lost if row not in end]


def _is_odd(table: Table, row: int, layout: _Found, usual: float) -> bool:
    """Whether a row without a day is no row of a song: a total, a comment, a note across the table."""
    cells = table.rows[row]
    day_column = next(iter(layout.used))
    if day_column in cells and len(layout.used) == 1:
        counts = len(layout.days) in map(whole_number, cells.values())
        sums = row == max(table.rows) and (counts or table.kinds[row, day_column] == NO_SONG)
        return sums or len(cells) < max(2, 0.7 * usual) or (table.kinds[row, day_column] == TEXT and len(cells) < 2)
    return len(cells) == 1 and not _may_be_song(table, row, layout)


def _may_be_song(table: Table, row: int, layout: _Found) -> bool:
    column = next(iter(table.rows[row]))
    song = layout.roles.get(columns.SONG)
    return (
        table.kinds[row, column] in (*_TEXTS, KEY, NUMBER)
        and (song is None or song == column)
        and column not in layout.used
    )


def _place_lost(table: Table, lost: list[int], layout: _Found, groups: dict[Group, list[int]]) -> None:
    """Rows without a day: of the show above where days are written once; else a show of their own, its day not lent."""
    day_column = next(iter(layout.used))
    filled = [row for row in lost if _without_day(table, row, day_column)]
    once = len(filled) >= max(1, len(layout.days))
    later = sorted(layout.days)
    own: Group | None = None
    before = 0
    for row in lost:
        at = bisect.bisect(later, row)
        last = later[at - 1] if at else None
        after = later[at] if at < len(later) else None
        inside = (
            last is not None and after is not None and layout.days[last] == layout.days[after]
            and _apart(table, last, layout) == _apart(table, after, layout) and not _other_place(table, row, last, layout)
            and (day_column not in table.rows[row] or _apart(table, row, layout) == _apart(table, last, layout))
        )  # fmt: skip
        elsewhere = last is not None and _other_place(table, row, last, layout)
        empty = day_column not in table.rows[row]
        if last is not None and row in filled and ((once and empty and not elsewhere) or inside):
            groups[layout.days[last], *_apart(table, last, layout)].append(row)
            continue
        if own is None or before < (last or 0) or _other_place(table, row, before, layout):
            own = (None, f"row {row}", 0)
        groups[own].append(row)
        before = row


def _without_day(table: Table, row: int, column: int) -> bool:
    """Whether the cell of the day is empty, or holds what a spreadsheet writes where it could not reckon."""
    value = table.rows[row].get(column)
    return value is None or (isinstance(value, str) and is_error(value))


def _apart(table: Table, row: int, layout: _Found) -> tuple[str, int]:
    """What keeps two shows of one day apart: the town, the number, the name of the show."""
    cells = table.rows[row]
    names = [
        tight(shown(cells[column]))
        for role in (columns.CITY, columns.SHOW)
        if (column := layout.roles.get(role)) in cells
    ]
    number = layout.roles.get(columns.NUMBER)
    said = whole_number(cells[number]) if number in cells else None
    return " ".join(names), said or 0


def _other_place(table: Table, row: int, last: int, layout: _Found) -> bool:
    columns_ = [column for role in (columns.CITY, columns.VENUE) if (column := layout.roles.get(role))]
    return any(
        column in table.rows[row]
        and column in table.rows[last]
        and tight(shown(table.rows[row][column])) != tight(shown(table.rows[last][column]))
        for column in columns_
    )


# ------------------------------------------------------------------------------------------------ songs


def _stats(
    table: Table, column: int, groups: dict[tuple[date | None, str, int], list[int]], layout: _Found, known: Known
) -> _Column | None:
    """What one column tells, show by show."""
    usable = (*_TEXTS, KEY, NUMBER)
    values = [
        [
            tight(shown(table.rows[row][column]))
            for row in rows
            if column in table.rows[row] and table.kinds[row, column] in usable
        ]
        for rows in groups.values()
    ]
    filled = sum(map(len, values))
    if not filled:
        return None
    rows = sum(map(len, groups.values()))
    often = Counter(form for one in values for form in set(one))
    text = (
        sum(table.kinds[row, column] in _TEXTS for one in groups.values() for row in one if column in table.rows[row])
        / filled
    )
    same = sum(len(set(one)) == 1 for one in values if one) / max(1, sum(map(bool, values)))
    distinct = sum(len(set(one)) for one in values) / filled
    again = sum(often[form] > 1 or form in known.songs for one in values for form in one) / filled
    size = rows / len(groups)
    named = layout.roles.get(columns.SONG) == column
    score = (text > 0.6) * distinct**2 * (0.15 + again) * min(1, filled / rows + 0.1) * (same < 0.9 or size < 2)
    if named and text > 0.3:
        score = max(score, distinct**2 * (0.15 + again)) * 3
    return _Column(filled / rows, text, same, distinct, again, set(often), score)


def _song_columns(stats: dict[int, _Column], layout: _Found, draft: Draft, table: Table, shows: int) -> list[int]:
    """The column of the songs, or two of them read across; asked about where another is as good."""
    ranked = sorted((column for column in stats if stats[column].score > 0.02), key=lambda column: -stats[column].score)
    if not ranked:
        return []
    named = layout.roles.get(columns.SONG)
    best = named if named in stats and stats[named].distinct > 0.5 else ranked[0]
    ranked = [best, *(column for column in ranked if column != best)]
    behind = _encore_songs(best, stats, layout, draft, table)
    if behind is not None:
        return [best, behind, -1]
    songs = [best]
    harmless = {
        column
        for column, name in layout.names.items()
        if columns.named(name) not in (None, columns.SONG) or fold(name) in columns.HARMLESS
    }
    rivals = [
        column
        for column in ranked[1:]
        if stats[column].score > 0.4 * stats[best].score and (named != best or column not in harmless)
    ]
    if rivals and stats[rivals[0]].fill > 0.2:
        songs = _with_rival(best, rivals[0], stats, layout, draft, table)
    if stats[songs[0]].again < 0.2 and shows > 2 and named != songs[0]:
        draft.asking.confirm(
            "song column", f"Hardly a title comes again: is column {table.name(layout.names, songs[0])} the songs?"
        )
    return songs


def _encore_songs(best: int, stats: dict[int, _Column], layout: _Found, draft: Draft, table: Table) -> int | None:
    """A column called encore that holds titles: the songs behind those of the other column, and no mark."""
    column = layout.roles.get(columns.ENCORE)
    if column is None or column == best or column not in stats:
        return None
    said = {shown(cells[column]) for row, cells in table.rows.items() if row >= layout.first and column in cells}
    titles = {text for text in said if not is_encore(text) and len(text) > _FEW_WORDS}
    if len(said) <= _FEW_WORDS or len(titles) <= 0.5 * len(said) or stats[column].text <= 0.6:
        return None
    if not stats[column].forms & stats[best].forms:
        draft.asking.confirm(
            "encore column",
            f'Column {table.name(layout.names, column)} holds texts such as "{min(titles)}": they are taken for the songs of the encore.',
        )
    return column


def _with_rival(
    best: int, rival: int, stats: dict[int, _Column], layout: _Found, draft: Draft, table: Table
) -> list[int]:
    shared = stats[rival].forms & stats[best].forms
    names = table.name(layout.names, best), table.name(layout.names, rival)
    if len(shared) >= 0.3 * min(len(stats[rival].forms), len(stats[best].forms)):
        answer = draft.asking.choose("two song columns", f"Columns {names[0]} and {names[1]} both hold songs.", ("across", "down"), "down" if all(_HALF.search(name) for name in names) else "across",
                                     todo='Answer "across" to read each row from left to right, or "down" to read one column, then the other.')  # fmt: skip
        both = sorted([best, rival])
        return both if answer == "across" else [*both, -1]
    answer = draft.asking.choose(
        "song column", f"Column {names[0]} is taken for the songs; column {names[1]} could be.", names, names[0]
    )
    return [best if answer == names[0] else rival]


# ------------------------------------------------------------------------------------------------ order, places, and all together


def _fill(
    draft: Draft,
    table: Table,
    layout: _Found,
    groups: dict[tuple[date | None, str, int], list[int]],
    stats: dict[int, _Column],
    songs: list[int],
) -> None:
    """Make a night of each group of rows, in the order of its positions."""
    down, songs = -1 in songs, [column for column in songs if column > 0]
    quiet = [
        column for column in stats if column not in songs and stats[column].same >= 0.9 and stats[column].text > 0.6
    ]
    order = _order(table, layout, groups, stats, songs, draft)
    shows = [_sorted(table, rows, order) for rows in groups.values()]
    others = _of_another_kind(table, shows, songs, order)
    sung = {key: [row for row in rows if row not in others] for key, rows in zip(groups, shows, strict=True)}
    encore = _encore_of(table, layout, list(sung.values()), songs)
    _name_remarks(layout, stats, {*songs, *quiet, *order, encore.column})
    _guard(table, layout, sung, [*songs, encore.column or 0], quiet, draft)
    numbers = _numbers(groups, layout)
    for (on, apart, number), ordered in zip(groups, shows, strict=True):
        night = Night(on, at=table.spot(ordered[0], next(iter(layout.used))), number=number or numbers.get((on, apart)))
        if on is None:
            night.typed = shown(table.rows[ordered[0]].get(next(iter(layout.used))))
        draft.nights.append(night)
        _name_places(night, table, layout, songs, ordered, draft)
        for row in ordered:
            night.items += _items(table, row, songs, order, ordered, encore, layout)
            _take_rest(draft, table, row, songs, quiet, order, encore, layout)
        draft.take(
            (item.at for item in night.items if item.at.row in others), "left out", "no song, by what its row says"
        )
        night.items = [item for item in night.items if item.at.row not in others]
        if down:
            night.items.sort(key=lambda item: item.at.column)
        _leave_cancelled(draft, night, [shown(table.rows[ordered[0]].get(column)) for column in stats])
    _without_copies(draft)


def _of_another_kind(table: Table, shows: list[list[int]], songs: list[int], order: tuple[int, ...]) -> set[int]:
    """Rows without a place in their show that some column calls something else than all that have one: speeches."""
    rows = [row for some in shows for row in some if order and songs[0] in table.rows[row]]
    placed = {row for row in rows if None not in _keys(table, row, order)}
    titles = {tight(shown(table.rows[row][songs[0]])) for row in placed}
    apart = {row for row in rows if row not in placed and tight(shown(table.rows[row][songs[0]])) not in titles}
    for column in set(table.columns) - {*songs, *order} if apart else ():
        words = [{tight(shown(table.rows[row].get(column))) for row in some} for some in (placed, apart)]
        if (
            not words[0] & words[1]
            and len(words[0]) <= _FEW_WORDS
            and len(words[1]) <= _FEW_WORDS
            and all(words[0] | words[1])
        ):
            return apart
    return set()


def _leave_cancelled(draft: Draft, night: Night, said: list[str]) -> None:
    """A show whose rows say that it was called off was not played, whatever was planned."""
    if any(re.fullmatch(CANCELLED, text, re.IGNORECASE) for text in said if text):
        draft.take((item.at for item in night.items), "left out", OFF)
        night.items = []


def _without_restarts(table: Table, layout: _Found, groups: dict[Group, list[int]]) -> dict[Group, list[int]]:
    """Shows of one day and town that stand below each other: the positions begin again, or a column parts the songs.

    In parts of one evening they may begin again too, but with other songs.
    """
    parts = {fold(name) for name in layout.names.values()} & {"set", "part", "section", "teil", "encore"}
    position = layout.roles.get(columns.POSITION)
    apart: dict[Group, list[int]] = {}
    for (on, name, number), rows in groups.items():
        column = _parting(table, layout, rows) if not (number or parts) else None
        keys = [whole_number(table.rows[row].get(position)) for row in rows] if position is not None else []
        runs = _runs(table, rows, column) if column is not None else _restarts(rows, keys)
        for at, run in enumerate(runs if not parts or _hold_the_same(table, runs) else [rows]):
            apart[on, name, at + 1 if column is not None else number + at if at else number] = run
    return apart


def _restarts(rows: list[int], keys: list[int | None]) -> list[list[int]]:
    """Rows of a show, cut where its positions begin again."""
    first = next((key for key in keys if key is not None), None)
    twice = len(set(keys) - {None}) < len(keys) - keys.count(None)
    cuts = [at for at, key in enumerate(keys) if at and twice and key == first]
    return [rows[a:b] for a, b in itertools.pairwise([0, *cuts, len(rows)])]


def _runs(table: Table, rows: list[int], column: int) -> list[list[int]]:
    """Rows of a show, cut where another word stands in a column."""
    return [list(some) for _, some in itertools.groupby(rows, key=lambda row: shown(table.rows[row].get(column)))]


def _parting(table: Table, layout: _Found, rows: list[int]) -> int | None:
    """The column that keeps two shows of a day apart: one word above, another below, and titles of the one in the other.

    Two sets of one evening do not hold the same songs.
    """
    said = {*layout.used, layout.roles.get(columns.POSITION), layout.roles.get(columns.ENCORE)}
    for column in table.columns:
        runs = _runs(table, rows, column) if column not in said else []
        words = {shown(table.rows[run[0]].get(column)) for run in runs}
        if 1 < len(runs) == len(words) <= _HOUSES and all(words) and _hold_the_same(table, runs):
            return column
    return None


def _hold_the_same(table: Table, runs: list[list[int]]) -> bool:
    """Whether some column holds, in both of two stretches of rows, texts that differ there and many of the other's."""
    for column in table.columns:
        texts = [
            [tight(shown(table.rows[row][column])) for row in run if table.kinds.get((row, column)) == TEXT]
            for run in runs
        ]
        apart = all(len(one) >= _FEW_WORDS and len(set(one)) == len(one) for one in texts)
        pairs = itertools.combinations(map(set, texts), 2)
        if apart and all(len(one & other) >= max(2, 0.3 * min(len(one), len(other))) for one, other in pairs):
            return True
    return False


def _numbers(groups: dict[Group, list[int]], layout: _Found) -> dict[tuple[date | None, str], int]:
    """Numbers of shows of one day that a column of shows keeps apart."""
    if columns.SHOW not in layout.roles:
        return {}
    days: dict[date | None, list[str]] = defaultdict(list)
    for on, apart, _ in groups:
        if apart not in days[on]:
            days[on].append(apart)
    return {(on, apart): at for on, some in days.items() if len(some) > 1 for at, apart in enumerate(some, start=1)}


def _items(
    table: Table, row: int, songs: list[int], order: tuple[int, ...], rows: list[int], encore: _Encore, layout: _Found
) -> Iterator[Item]:
    remark, named = layout.roles.get(columns.REMARK), layout.roles.get(columns.SONG)
    for column in songs:
        if column not in table.rows[row]:
            continue
        value = table.rows[row][column]
        item = Item(
            shown(value), table.kinds[row, column], table.spot(row, column), struck=(row, column) in table.sheet.struck
        )
        placed = bool(order) and None not in _keys(table, row, order)
        item.numbered = placed and len(rows) > 2
        item.placed = item.numbered or named == column
        item.encore = encore.says(table.rows[row]) or layout.roles.get(columns.ENCORE) == column
        if remark is not None and remark in table.rows[row] and remark not in songs:
            item.remark = shown(table.rows[row][remark])
        yield item


def _take_rest(
    draft: Draft,
    table: Table,
    row: int,
    songs: list[int],
    quiet: list[int],
    order: tuple[int, ...],
    encore: _Encore,
    layout: _Found,
) -> None:
    """Note what the cells beside a song were taken for."""
    roles = {column: role for role, column in layout.roles.items()}
    for column in table.rows[row]:
        if column in songs:
            continue
        spot, role = table.spot(row, column), roles.get(column)
        if column in layout.used:
            draft.take([spot], "day")
        elif column in order or role in (columns.POSITION, columns.NUMBER):
            draft.take([spot], "number")
        elif column == encore.column:
            draft.take([spot], "encore mark")
        elif role == columns.VENUE:
            draft.take([spot], "venue")
        elif (column in quiet and songs[0] in table.rows[row]) or role in (
            columns.CITY,
            columns.LEG,
            columns.ROOM,
            columns.SHOW,
        ):
            draft.take([spot], "city" if role == columns.CITY else "heading")
        elif role == columns.REMARK:
            draft.take([spot], "remark")
        elif spot not in draft.account:
            name = table.name(layout.names, column)
            draft.take([spot], "left out", REHEARSED if is_rehearsed(name) else f"{COLUMN}{name}")


def _name_places(night: Night, table: Table, layout: _Found, songs: list[int], rows: list[int], draft: Draft) -> None:
    """Town, venue and so on of a show: by the names of the columns, else whatever is the same all evening."""
    for role in (columns.CITY, columns.VENUE, columns.ROOM, columns.LEG):
        column = layout.roles.get(role)
        values = (
            list(dict.fromkeys(lines_of(table.rows[row][column]) for row in rows if column in table.rows[row]))
            if column
            else []
        )
        if values:
            night.said[role] = values[0]
        if len({tight(value) for value in values}) > 1:
            draft.asking.confirm(
                f"{role}: {night.day}",
                f"On {night.day} more than one {role} is given ({', '.join(values[:3])}): one show, in {values[0]}?",
            )
    first, said = rows[0], set(layout.roles.values())
    if _names_places(table, layout, first):
        night.places.append(lines_of(table.rows[first][layout.roles[columns.SHOW]]))
    heads = () if songs[0] in table.rows[first] else table.rows[first].keys() - layout.used
    for column in sorted({*layout.places, *heads} & table.rows[first].keys() - said - set(songs)):
        if column in layout.places or table.kinds[first, column] == TEXT:
            night.places.append(lines_of(table.rows[first][column]))
            draft.take([table.spot(first, column)], "city")


def _name_remarks(layout: _Found, stats: dict[int, _Column], taken: set[int | None]) -> None:
    """Where no column is called remarks, the only one that holds a text in few rows and no titles is said of songs."""
    titles = {form for column in taken if column in stats for form in stats[column].forms}
    sparse = [
        column
        for column, one in stats.items()
        if column not in taken | {*layout.roles.values()}
        and one.fill < 0.5
        and one.text >= 0.8
        and not one.forms & titles
        and fold(layout.names.get(column, "")) not in columns.HARMLESS
    ]
    if len(sparse) == 1:
        layout.roles.setdefault(columns.REMARK, sparse[0])


def _names_places(table: Table, layout: _Found, row: int) -> bool:
    """Whether the name of a show holds its places, as no column of cities does."""
    shows = layout.roles.get(columns.SHOW)
    return columns.CITY not in layout.roles and shows is not None and " " in shown(table.rows[row].get(shows))


@dataclass(frozen=True)
class _Encore:
    """The column that says encore, and what it says then."""

    column: int | None = None
    words: frozenset[str] = frozenset()

    def says(self, cells: dict[int, Cell]) -> bool:
        """Whether a row is of the encore."""
        return self.column is not None and shown(cells.get(self.column)) in self.words


def _encore_of(table: Table, layout: _Found, shows: list[list[int]], songs: list[int]) -> _Encore:
    """The column that says encore: the one that is called so, else one that says something at the ends of shows alone."""
    named = layout.roles.get(columns.ENCORE)
    played = [[row for row in rows if any(song in table.rows[row] for song in songs)] for rows in shows]
    titles = {
        row: next(shown(table.rows[row][song]) for song in songs if song in table.rows[row])
        for rows in played
        for row in rows
    }
    for column in sorted(set(table.columns) - layout.used - set(songs), key=lambda one: one != named):
        words = encores.at_the_ends(
            ([(titles[row], shown(table.rows[row].get(column))) for row in rows] for rows in played),
            named=column == named,
        )
        said = column == layout.roles.get(columns.REMARK) or fold(layout.names.get(column, "")) in columns.HARMLESS
        if said and column != named:
            words = set(filter(is_encore, words))
        if words:
            return _Encore(column, frozenset(words))
    return _Encore(named) if named not in songs else _Encore()


def _keys(table: Table, row: int, order: tuple[int, ...]) -> tuple[int | None, ...]:
    layout = []
    for column in order:
        match = re.search(r"\d+", shown(table.rows[row].get(column)))
        layout.append(int(match[0]) if match else None)
    return tuple(layout)


def _sorted(table: Table, rows: list[int], order: tuple[int, ...]) -> list[int]:
    if not order:
        return rows
    return sorted(
        rows,
        key=lambda row: (
            None in _keys(table, row, order),
            () if None in _keys(table, row, order) else _keys(table, row, order),
        ),
    )


def _order(
    table: Table,
    layout: _Found,
    groups: dict[tuple[date | None, str, int], list[int]],
    stats: dict[int, _Column],
    songs: list[int],
    draft: Draft,
) -> tuple[int, ...]:
    """The column of positions, or two of them (set and number): different within a show, and from 0 or 1 on."""
    rows = [row for one in groups.values() for row in one]
    numbers = [
        column for column in table.columns
        if column not in (*songs, *layout.used, layout.roles.get(columns.ENCORE)) and column in stats and stats[column].text < 0.3
        and sum(table.kinds[row, column] == NUMBER for row in rows if column in table.rows[row]) >= 0.9 * sum(column in table.rows[row] for row in rows)
    ]  # fmt: skip
    ways: list[tuple[int, ...]] = [*((column,) for column in numbers), *itertools.permutations(numbers[:6], 2)]
    sung = [
        some
        for one in groups.values()
        if (some := [row for row in one if table.kinds.get((row, songs[0]), NO_SONG) != NO_SONG])
    ]
    tried = [(*_fits(table, order, sung), -len(order), order) for order in ways]
    if not tried:
        return ()
    tried.sort(key=lambda one: (one[0], one[1], one[2], layout.roles.get(columns.POSITION) in one[3]), reverse=True)
    share, _, _, order = tried[0]
    if share >= 0.9:
        return tuple(order)
    if share >= 0.5:
        draft.asking.confirm(
            "positions",
            f"The numbers in column {table.name(layout.names, order[-1])} do not give one order in every show; the rows are taken as they stand.",
        )
    return ()


def _fits(table: Table, order: tuple[int, ...], groups: list[list[int]]) -> tuple[float, float]:
    """Share of the shows in which these columns give each song a place of its own, and in which they go up."""
    right = upward = ones = 0
    for rows in groups:
        keys = [key for row in rows if None not in (key := _keys(table, row, order))]
        if not keys:
            continue
        last = [key[-1] or 0 for key in keys]
        right += len(set(keys)) == len(keys) and max(last) <= len(keys) + 3
        upward += keys == sorted(keys, key=lambda key: [part or 0 for part in key])
        ones += min(last) <= 1
    if ones < 0.5 * len(groups):
        return 0.0, 0.0
    return right / len(groups), upward / len(groups)


def _guard(
    table: Table,
    layout: _Found,
    groups: dict[tuple[date | None, str, int], list[int]],
    songs: list[int],
    quiet: list[int],
    draft: Draft,
) -> None:
    """Ask about a column of a few words that may say which rows were songs of ours, and about a second column of days."""
    rows = [row for one in groups.values() for row in one if any(column in table.rows[row] for column in songs)]
    for column in table.columns:
        if column in layout.used or column in songs:
            continue
        cells = [row for row in rows if column in table.rows[row]]
        values = Counter(tight(shown(table.rows[row][column])) for row in cells if table.kinds[row, column] == TEXT)
        name = table.name(layout.names, column)
        says_song = any(columns.named(shown(table.rows[row][column])) == columns.SONG for row in cells)
        harmless = fold(name) in columns.HARMLESS or columns.named(name) is not None or column in quiet
        harmless = harmless or _said_of_songs(table, groups, songs, column)
        few = values.total() >= 0.8 * len(rows) and 2 <= len(values) <= 5
        if few and (says_song or (len(groups) > len(values) + 1 and not harmless)):
            words = ", ".join(
                sorted(
                    shown(table.rows[next(r for r in cells if tight(shown(table.rows[r][column])) == form)][column])
                    for form in values
                )
            )
            draft.asking.confirm(
                f"column {name}", f"Column {name} holds {words}: are all these rows songs that you played?"
            )
        named = columns.named(layout.names.get(min(layout.used))) == columns.DATE
        if sum(table.kinds[row, column] in DAYS for row in cells) > 0.5 * len(rows) and not named:
            draft.asking.confirm(
                f"column {name}",
                f"Column {name} is a second column of days; the first is taken for the day of the show.",
            )


def _said_of_songs(
    table: Table, groups: dict[tuple[date | None, str, int], list[int]], songs: list[int], column: int
) -> bool:
    """Whether a column goes with the songs, the same at each show, and changes up and down a set: keys, composers."""
    tally: dict[str, Counter[str]] = defaultdict(Counter)
    turns = parts = 0
    for rows in groups.values():
        words = [tight(shown(table.rows[row].get(column))) for row in rows]
        turns += sum(one != other for one, other in itertools.pairwise(words))
        parts += len(set(words)) - 1
        for row, word in zip(rows, words, strict=True):
            tally[tight(shown(table.rows[row].get(songs[0])))][word] += 1
    again = [count for count in tally.values() if count.total() > 1]
    same = sum(max(count.values()) for count in again)
    return turns > 1.5 * parts and bool(again) and same >= 0.95 * sum(count.total() for count in again)


def _without_copies(draft: Draft) -> None:
    """Leave out what is there twice over: a table that was pasted twice."""
    first: dict[tuple[date | None, str], Night] = {}
    for night in list(draft.nights):
        town = tight(night.said.get(columns.CITY, ""))
        same = first.setdefault((night.day, town), night)
        if same is not night and [tight(item.text) for item in same.items] == [
            tight(item.text) for item in night.items
        ]:
            draft.take([item.at for item in night.items], "left out", SAME_AGAIN)
            draft.nights.remove(night)
    for night in draft.nights:
        forms = [tight(item.text) for item in night.items]
        half = len(forms) // 2
        if half > 1 and len(forms) % 2 == 0 and forms[:half] == forms[half:]:
            draft.take([item.at for item in night.items[half:]], "left out", SAME_AGAIN)
            night.items = night.items[:half]


def kinds_of(sheet: Sheet) -> dict[tuple[int, int], str]:
    """Kind of every cell of a sheet."""
    kinds = {at: TEXT if at in sheet.titles else kind_of(value) for at, value in sheet.cells.items()}
    for axis in (0, 1):  # days without a year, each with its town, across or down
        lines: dict[int, list[tuple[int, int]]] = defaultdict(list)
        for at in kinds:
            lines[at[axis]].append(at)
        for spots in lines.values():
            bare = [
                at
                for at in spots
                if kinds[at] == TEXT and (day := day_in(sheet.cells[at])) and len(day.rest.split()) < _LONG
            ]
            if len(bare) > _FEW_WORDS and len(bare) >= 0.7 * len(spots):
                kinds |= dict.fromkeys(bare, SHORT_DAY)
    return kinds
