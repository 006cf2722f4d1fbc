"""Workbooks with a sheet a show."""

from __future__ import annotations

import re

from tourstats.reading import headers as columns
from tourstats.reading.asking import Asking
from tourstats.reading.cells import ANY_DAY, DAYS, KEY, NUMBER, TEXT, is_encore, is_no_song, shown, tight, whole_number
from tourstats.reading.days import Calendar, Day, day_in
from tourstats.reading.known import Known
from tourstats.reading.layout import Draft, Item, Night, Spot
from tourstats.reading.long_tables import Table
from tourstats.reading.trimming import trim
from tourstats.reading.workbooks import Sheet

HOW = "a sheet a show"
_HEAD_ROWS = 6


def sheets_as_shows(
    sheets: list[Sheet], kinds: dict[str, dict[tuple[int, int], str]], calendar: Calendar, asking: Asking, known: Known
) -> Draft | None:
    """Read a workbook with a sheet a show; None if fewer than two sheets have a day."""
    draft = Draft(HOW, asking)
    for sheet in sheets:
        table = Table.of(sheet, kinds[sheet.name])
        if not _one_sheet(draft, table, calendar):
            draft.take((Spot(sheet.name, *at) for at in sheet.cells), "left out", "a sheet without a show")
    if len(draft.nights) < 2:
        return None
    trim(draft, known)
    return draft


def _day_of(table: Table, calendar: Calendar) -> tuple[Day, Spot | None] | None:
    """The one day of a sheet: in its name, or in one of its first rows."""
    named = day_in(re.sub(r"[_]", " ", table.sheet.name))
    if named is not None and (not calendar.of(named) or (calendar.full and not named.full)):
        named = None
    first = list(table.rows)[:_HEAD_ROWS]
    wanted = DAYS if calendar.full else ANY_DAY
    found = [(row, column) for row in first for column in table.rows[row] if table.kinds[row, column] in wanted]
    found = [at for at in found if calendar.of(day_in(table.rows[at[0]][at[1]]))]
    if named is not None and not found:
        return named, None
    if len(found) != 1:
        return None
    inner = day_in(table.rows[found[0][0]][found[0][1]])
    if inner is None or (named is not None and calendar.of(named) != calendar.of(inner)):
        return None
    return inner, table.spot(*found[0])


def _one_sheet(draft: Draft, table: Table, calendar: Calendar) -> bool:
    found = _day_of(table, calendar)
    if found is None:
        return False
    day, spot = found
    night = Night(calendar.of(day), places=[day.rest] if day.rest else [], at=spot or Spot(table.sheet.name, 1, 1))
    if spot is None:
        left = day_in(re.sub(r"[_]", " ", table.sheet.name))
        night.places = [left.rest] if left and left.rest else []
    draft.nights.append(night)
    own = _song_column(table)
    beside = [column for column in table.columns if column != own]
    numbered = (
        sum(table.kinds.get((row, column)) == NUMBER for row in table.rows for column in beside if column < own) >= 3
    )
    for row in table.rows:
        if spot is not None and row == spot.row:
            _day_row(draft, night, table, row, spot)
        else:
            _row(draft, night, table, row, own, numbered=numbered)
    return True


def _song_column(table: Table) -> int:
    """The column with most different texts, or the one that says so."""
    for row in list(table.rows)[:_HEAD_ROWS]:
        for column, value in table.rows[row].items():
            if columns.named(value) == columns.SONG:
                return column
    different = {
        column: len(
            {
                tight(shown(table.rows[row].get(column)))
                for row in table.rows
                if table.kinds.get((row, column)) in (TEXT, KEY)
            }
        )
        for column in table.columns
    }
    return max(different, key=lambda column: (different[column], -column))


def _day_row(draft: Draft, night: Night, table: Table, row: int, spot: Spot) -> None:
    for column in table.rows[row]:
        at = table.spot(row, column)
        if at == spot:
            draft.take([at], "day")
        elif columns.named(table.rows[row][column]) is not None:
            draft.take([at], "heading")
        else:
            draft.take([at], "city")
            night.places.append(shown(table.rows[row][column]))


def _row(draft: Draft, night: Night, table: Table, row: int, own: int, *, numbered: bool) -> None:
    labels = {column: shown(table.rows[row][column]) for column in table.rows[row] if column != own}
    role = next((named for label in labels.values() if (named := columns.named(label))), None)
    left = next((label for column, label in labels.items() if column < own), "")
    for column, label in labels.items():
        counts = whole_number(label) is not None
        draft.take(
            [table.spot(row, column)],
            "number" if counts else "heading" if columns.named(label) or is_encore(label) else "left out",
            "" if counts else "beside a song",
        )
    if own not in table.rows[row]:
        return
    text, spot = shown(table.rows[row][own]), table.spot(row, own)
    if role in (columns.CITY, columns.VENUE, columns.ROOM, columns.LEG) and columns.named(text) is None:
        draft.take([spot], "venue" if role == columns.VENUE else "city")
        night.said.setdefault(role, text)
    elif columns.named(text) == columns.SONG:
        draft.take([spot], "heading")
    elif any(is_no_song(label) for label in labels.values()):
        draft.take([spot], "total")
    else:
        item = Item(text, table.kinds[row, own], spot, row, struck=(row, own) in table.sheet.struck)
        item.numbered, item.encore = numbered and whole_number(left) is not None, is_encore(left)
        night.items.append(item)
