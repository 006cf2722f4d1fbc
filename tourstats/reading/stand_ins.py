"""What stands for something else in a table: ditto marks, days under the name of their month, codes for titles."""

# ruff: noqa: RUF001  # the signs that people type are meant

from __future__ import annotations

import itertools
import re
from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import date

from tourstats.reading import headers
from tourstats.reading.cells import ANY_DAY, NUMBER, TEXT, is_encore, is_label, kind_of, shown, tight, whole_number
from tourstats.reading.days import day_in, month_of, of_serial
from tourstats.reading.joins import joined, points_at
from tourstats.reading.legends import defined
from tourstats.reading.workbooks import Cell, Sheet
from tourstats.reading.years import carried

_FEWEST, _LONGEST, _MOST_FOREIGN = 4, 8, 0.2
_HEADS = 15
"""Cells at the top of a column of which one may name it."""
_BETWEEN = re.compile(r"[\s,;]+")
_ENCORE_SIGN = re.compile(r"//+|\|\|?|E:?|\+")
Column = dict[int, str]


_DITTO_SIGN = re.compile(r"[\"”“″〃'’]{1,2}|,,|-\s?[\"”]\s?-")
_DITTO_WORD = re.compile(r"ditto|dito|dto\.?|do\.|idem|id\.", re.IGNORECASE)
_DAY_NUMBER = re.compile(r"(?:[^\W\d_]{2,10}\.?\s+)?\d{1,2}(?:st|nd|rd|th|\.)?", re.IGNORECASE)


def filled_in(sheets: Sequence[Sheet]) -> list[Sheet]:
    """Tables with everything in its place that a sign, a heading or a code stands for."""
    return deciphered(
        _spelled_out(joined([_without_dittos(_with_years(_with_months(_with_days(sheet)))) for sheet in sheets]))
    )


def _spelled_out(sheets: Sequence[Sheet]) -> list[Sheet]:
    """Tables with titles for the short names that a cell of them explains: "NB = Night Barge; TM = Tin Moth"."""
    told = [{at: names for at, text in sheet.cells.items() if (names := defined(shown(text)))} for sheet in sheets]
    meant = {short: title for some in told for names in some.values() for short, title in names.items()}
    if not meant:
        return list(sheets)
    short = re.compile(rf"(?<!\w)(?:{'|'.join(map(re.escape, meant))})(?!\w)", re.IGNORECASE)

    def full(text: Cell) -> Cell:
        if not isinstance(text, str):
            return text
        return short.sub(lambda name: meant[tight(name[0])] if name[0].isupper() else name[0], text)

    bare = [sheet.without(some) for sheet, some in zip(sheets, told, strict=True)]
    return [replace(sheet, cells={at: full(text) for at, text in sheet.cells.items()}) for sheet in bare]


def _with_days(sheet: Sheet) -> Sheet:
    """Numbers that a spreadsheet keeps days as, each as its day: below their name, or in a line that goes one way."""
    numbers = {at: number for at, value in sheet.cells.items() if (number := whole_number(value)) is not None}
    days = {at: on for at, number in numbers.items() if (on := of_serial(number)) is not None}
    bare = not any(kind_of(value) in ANY_DAY for value in sheet.cells.values())
    meant: dict[tuple[int, int], Cell] = {}
    for axis, named in ((1, True), (1, False), (0, False)) if days else ():
        for line in sorted({at[axis] for at in days}):
            full = [at for at in sorted(sheet.cells) if at[axis] == line]
            theirs = [at for at in full if at in days]
            if named:
                heads = [
                    at for at in full[:_HEADS] if headers.named(sheet.cells[at]) == headers.DATE and at < theirs[0]
                ]
                meant |= {at: days[at] for at in theirs if heads and at > heads[0]}
            elif bare and not meant and _goes_one_way([days[at] for at in theirs], len(full)):
                meant |= {at: days[at] for at in theirs}
    return replace(sheet, cells=sheet.cells | meant) if meant else sheet


def _goes_one_way(days: Sequence[date], filled: int) -> bool:
    """Whether most of a line may be days of shows: they go forward or back, by less than two months a step."""
    if len(days) < max(2, 0.7 * filled):
        return False
    steps = [b >= a for a, b in itertools.pairwise(days)]
    one_way = max(sum(steps), len(steps) - sum(steps)) >= 0.9 * len(steps)
    return one_way and (max(days) - min(days)).days <= 60 * len(set(days))


def _with_months(sheet: Sheet) -> Sheet:
    """A row of day numbers below names of months, each with its month: "Thu 17" below "October 2031"."""
    columns = sorted({column for _, column in sheet.cells})
    for row in sorted({row for row, _ in sheet.cells}):
        texts = {column: shown(sheet.cells.get((row, column))) for column in columns}
        days = [column for column, text in texts.items() if _DAY_NUMBER.fullmatch(text)]
        heads = {
            column: text
            for column in columns
            if (text := shown(sheet.cells.get((row - 1, column)))) and _is_month(text)
        }
        if len(days) < 3 or not heads or len(days) < 0.7 * sum(map(bool, texts.values())) or min(heads) > min(days):
            continue
        year = next(iter(re.findall(r"\d{4}", " ".join(heads.values()))), "")
        cells = dict(sheet.cells)
        for column in days:
            month = heads[max(at for at in heads if at <= column)]
            day = re.sub(r"(?<=\d)(?:st|nd|rd|th|\.)$", "", texts[column])
            cells[row, column] = f"{day} {month}" if re.search(r"\d{4}", month) else f"{day} {month} {year}".strip()
        return replace(sheet, cells=cells)
    return sheet


def _with_years(sheet: Sheet) -> Sheet:
    """Days in a row or a column of which only some have their year, each with one."""
    texts = {at: text for at, text in sheet.cells.items() if isinstance(text, str) and day_in(text) is not None}
    cells = dict(sheet.cells)
    for axis in (0, 1):
        for line in sorted({at[axis] for at in texts}):
            some = sorted(at for at in texts if at[axis] == line)
            if len(some) > 2:
                cells |= zip(some, carried([texts[at] for at in some]), strict=True)
    return replace(sheet, cells=cells) if cells != sheet.cells else sheet


def _is_month(text: str) -> bool:
    match = re.fullmatch(r"([^\W\d_]{3,12})\.?(?:\s+\d{4})?", text)
    return match is not None and month_of(match[1]) is not None


def _without_dittos(sheet: Sheet) -> Sheet:
    """A table with what a ditto mark repeats: of the show to its left where days are a row, else of the one above."""
    texts = sorted((at, value) for at, value in sheet.cells.items() if isinstance(value, str))
    dittos = [at for at, text in texts if _DITTO_SIGN.fullmatch(text)]
    dittos = dittos or [at for at, text in texts if _DITTO_WORD.fullmatch(text)]
    if not dittos:
        return sheet
    days: dict[int, list[int]] = defaultdict(list)
    for (row, column), value in sorted(sheet.cells.items()):
        days[row] += [column] if kind_of(value) in ANY_DAY or (day_in(value) and not is_label(shown(value))) else []
    shows = max(days.values(), key=len)
    across = len(shows) > 2
    wide = min((other - one for one, other in itertools.pairwise(shows)), default=1)
    cells = dict(sheet.cells)
    for row, column in dittos:
        before = (row, column - wide) if across else (row - 1, column)
        if before in cells:
            cells[row, column] = cells[before]
    return replace(sheet, cells=cells)


def deciphered(sheets: Sequence[Sheet]) -> list[Sheet]:
    r"""Tables with titles for codes, and the cells that say what the codes mean set aside.

    Examples
    --------
    >>> legend = {(1, 4): "S1", (2, 4): "S2", (3, 4): "S3", (4, 4): "S4"}
    >>> legend |= {(1, 5): "Quill", (2, 5): "Tin Moth", (3, 5): "Salt Lantern", (4, 5): "Ostler"}
    >>> shows = {(1, 1): "2031-03-04", (1, 2): "S2 S1 S4", (2, 1): "2031-03-05", (2, 2): "S3 S1"}
    >>> found = deciphered([Sheet("tour", legend | shows)])[0]
    >>> found.cells[1, 2], (1, 4) in found.cells
    ('Tin Moth\nQuill\nOstler', False)

    """
    sheets = list(sheets)
    for at, sheet in enumerate(sheets):
        for keys, titles in _legends(sheet):
            spots = {(row, column): code for column, some in (keys, titles) for row, code in some.items()}
            meant = {tight(code): shown(titles[1][row]) for row, code in keys[1].items()}
            numeric = all(kind_of(code) == NUMBER for code in keys[1].values())
            read = [
                other if numeric and other is sheet
                else _read(other, meant, spots if other is sheet else {}, sheet.name if numeric else None)
                for other in sheets
            ]  # fmt: skip
            if any(one is not other for one, other in zip(read, sheets, strict=True)):
                read[at] = _set_aside(read[at], spots)
                return read
    return sheets


def _columns(sheet: Sheet) -> dict[int, Column]:
    found: dict[int, Column] = defaultdict(dict)
    for (row, column), value in sorted(sheet.cells.items()):
        found[column][row] = shown(value)
    return found


def _legends(sheet: Sheet) -> Iterator[tuple[tuple[int, Column], tuple[int, Column]]]:
    """Two columns of which one may hold codes and the next titles: in rows without a gap, each but once."""
    columns = _columns(sheet)
    for one, other in zip(sorted(columns), sorted(columns)[1:], strict=False):
        rows = [row for row in columns[one] if row in columns[other]]
        kinds = {row: kind_of(columns[one][row]) for row in rows}
        short = [row for row in rows if len(columns[one][row]) <= _LONGEST and " " not in columns[one][row]]
        for numeric in (False, True):
            some = _run([row for row in short if (kinds[row] == NUMBER) == numeric])
            codes = {row: columns[one][row] for row in some}
            titles = {row: columns[other][row] for row in some if kind_of(columns[other][row]) == TEXT}
            once = len({tight(code) for code in codes.values()}) == len(codes) and _is_apart(sheet, one, some)
            if len(codes) >= _FEWEST and once and len({*map(tight, titles.values())}) >= 0.9 * len(codes):
                titles = {row: columns[other][row] for row in some}
                yield (one, codes), (other, titles)


def _is_apart(sheet: Sheet, column: int, rows: Sequence[int]) -> bool:
    """Whether a table begins with a column: nothing stands left of it, nor a day right of it."""
    right = [sheet.cells[row, at] for row in rows for at in range(column, column + 4) if (row, at) in sheet.cells]
    left = any((row, column - 1) in sheet.cells for row in rows)
    return not left and not any(kind_of(value) in ANY_DAY for value in right)


def _run(rows: Sequence[int]) -> list[int]:
    """The longest run of rows without a gap."""
    runs: list[list[int]] = []
    for row in rows:
        if not runs or row != runs[-1][-1] + 1:
            runs.append([])
        runs[-1].append(row)
    return max(runs, key=len, default=[])


def _read(sheet: Sheet, meant: dict[str, str], legend: dict[tuple[int, int], str], name: str | None) -> Sheet:
    """A table with titles for its codes; numbers stand for titles only in a column that says so."""
    cells, titles = dict(sheet.cells), set(sheet.titles)
    for column, some in _columns(sheet).items():
        texts = {row: _codes(text) for row, text in some.items() if (row, column) not in legend}
        head = next(iter(some.values()), "")
        inside = {
            row: codes
            for row, codes in texts.items()
            if codes and sum(tight(code) in meant for code in codes) >= (1 - _MOST_FOREIGN) * len(codes)
        }
        if len(inside) < 2 or len(inside) < 0.6 * sum(map(bool, texts.values())) - 1:
            continue
        beside = [tight(shown(value)) for (row, at), value in sheet.cells.items() if row in inside and at != column]
        if (
            sum(tight(meant.get(tight(code), "")) in set(beside) for codes in inside.values() for code in codes)
            >= len(inside)
            > 0
            and name is None
            and all(len(codes) == 1 for codes in inside.values())
        ):
            continue  # what they mean stands beside them
        if name is not None and not (headers.named(head) == headers.SONG or points_at(head, name)):
            continue
        if len({code for codes in inside.values() for code in codes}) < 3:
            continue
        titles |= {(row, column) for row, codes in inside.items() if len(codes) == 1}
        for row, codes in inside.items():
            cells[row, column] = "\n".join(
                meant.get(tight(code), "Encore" if _ENCORE_SIGN.fullmatch(code) else code) for code in codes
            )
    return replace(sheet, cells=cells, titles=titles) if cells != sheet.cells else sheet


def _codes(text: str) -> list[str]:
    return [part for part in _BETWEEN.split(text) if part and not (is_encore(part) and part[-1] == ":")]


def _set_aside(sheet: Sheet, spots: dict[tuple[int, int], str]) -> Sheet:
    """A table without the cells that explain it; what else stands only in their rows goes with them."""
    rows = {row for row, _ in spots}
    right = max(column for _, column in spots)
    left = min(column for _, column in spots)
    alone = not any(row in rows and column < left for row, column in sheet.cells)
    beside = {at for at in sheet.cells if at[0] in rows and at[1] >= left}
    head = {at for at in sheet.cells if at[0] < min(rows) and left <= at[1] <= right + 2 and not alone}
    return sheet.without(beside | head | set(spots))
