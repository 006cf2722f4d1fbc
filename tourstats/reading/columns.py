"""Columns: two of songs side by side, and their order; a table with the songs in one; labels before songs."""

# ruff: noqa: RUF001  # the signs that people type are meant
from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace

from tourstats.reading import lines as lines_
from tourstats.reading.account import Piece
from tourstats.reading.medium import Line
from tourstats.reading.songs import one_title
from tourstats.reading.titles import SURE, Titles

_GAP = re.compile(r"\t+\s*|\s{3,}|\s+[|│]\s+")
_NUMBER = re.compile(r"\W*(\d{1,2})(?!\d|[:.]\d)(?:\W|$)")
_TWO = 2
_FEWEST = 3
_ONCE = 1
_SHORT = 3
_MOST = 0.7


@dataclass(frozen=True)
class Columns:
    """Lines in the order in which they are read, and whether that order is sure.

    Attributes
    ----------
    lines
        The lines; of two columns the left one first.
    order
        "one" column, "down" each column by its numbers, "across" by its numbers, or "open" where nothing says which.

    """

    lines: list[Line]
    order: str = "one"


def apart(lines: Sequence[Line], titles: Titles) -> Columns:
    """Take two columns apart, if there are two.

    Examples
    --------
    >>> from tourstats.reading.titles import index
    >>> songs = index(["Ferry", "Wren", "Salt Road", "Copper Wire"])
    >>> read = apart([Line(1, "1. Ferry     3. Salt Road"), Line(2, "2. Wren      4. Copper Wire")], songs)
    >>> read.order, [line.text for line in read.lines]
    ('down', ['1. Ferry', '2. Wren', '3. Salt Road', '4. Copper Wire'])

    """
    halves = [_halves(line) for line in lines]
    pairs = [half for half in halves if half is not None and not _headed(*half)]
    songs = [half for half in pairs if all(_is_song(part.text, titles) for part in half)]
    if len(songs) < _TWO or len(songs) < _MOST * len(pairs):
        return Columns(list(lines))
    at = [place for place, half in enumerate(halves) if half is not None]
    above, below = list(lines[: at[0]]), list(lines[at[-1] + 1 :])
    left, right = [], []
    for line, half in zip(lines[at[0] : at[-1] + 1], halves[at[0] : at[-1] + 1], strict=True):
        if half is None:
            left.append(line)
        else:
            left.append(half[0])
            right.append(half[1])
    first = _number(right[0].text)
    also = [line for line in below if first is not None and (_number(line.text) or first) < first]
    below = [line for line in below if line not in also]
    order = "down" if _headed(left[0], right[0]) else _order(left + also, right, below)
    if order == "across":
        return Columns([*above, *_across(lines[at[0] : at[-1] + 1], halves[at[0] : at[-1] + 1]), *also, *below], order)
    return Columns([*above, *left, *also, *right, *below], order)


def tabled(lines: Sequence[Line], titles: Titles) -> list[Line]:
    r"""Take the names of the columns off a table with a song a row, and what counts its rows if it is no number.

    Examples
    --------
    >>> from tourstats.reading.titles import index
    >>> rows = ["Nr;Titel;bpm", "1;Ferry;96", "2;Wren;120", ";Pause;", "Z1;Salt Road;88"]
    >>> lines = tabled([Line(at, row) for at, row in enumerate(rows, 1)], index(["Ferry", "Wren", "Salt Road"]))
    >>> [line.text for line in lines]
    ['', '1;Ferry;96', '2;Wren;120', 'Pause', 'Salt Road;88']

    """
    for sign in "\t;|":
        rows = {at: line.text.split(sign) for at, line in enumerate(lines) if sign in line.text}
        if len(rows) < _FEWEST or len(rows) < _MOST * sum(bool(line.text) for line in lines):
            continue
        sure = [
            sum(titles.same(cells[at].strip()) is not None for cells in rows.values() if at < len(cells))
            for at in range(max(map(len, rows.values())))
        ]
        own = sure.index(max(sure))
        if sure[own] < _FEWEST or sum(count > _ONCE for count in sure) > 1:
            continue
        first = min(at for at, cells in rows.items() if own < len(cells) and titles.same(cells[own].strip()))
        return [
            _row_of_table(line, rows[at], own, sign, titles, above=at < first) if at in rows else line
            for at, line in enumerate(lines)
        ]
    return list(lines)


def _row_of_table(line: Line, cells: list[str], own: int, sign: str, titles: Titles, *, above: bool) -> Line:
    """One row: the names of the columns, a row of one word, or a song with what stands before it."""
    full = [at for at, cell in enumerate(cells) if cell.strip()]
    if above and len(full) > 1 and not any(cell.strip().isdigit() for cell in cells):
        return line.all_as("heading", "the names of the columns")
    words = cells[own].strip() if own < len(cells) else ""
    said = [at for at in full if at != own and not cells[at].strip().isdigit()]
    if titles.same(words) is None and (len(full) == 1 or not words or (not said and lines_.why_no_song(words))):
        only = own if words else full[0]
        if full[1:] and not any(letter.isalpha() for at in full[1:] for letter in cells[at]):
            return line.all_as("total", "a total")
        start = sum(len(cell) + 1 for cell in cells[:only])
        behind = sign.join(cells[only + 1 :])
        cut = line.without(start, "number") if start else line
        pieces = (
            (Piece(line.number, line.at + start + len(cells[only]) + 2, behind.strip(), "sign"),)
            if behind.strip(sign + " ")
            else ()
        )
        return replace(cut, text=cells[only].strip(), pieces=(*cut.pieces, *pieces))
    count = cells[0].strip()
    if own and words and not re.search(r"\d", count[:1]) and len(count) <= _SHORT and not lines_.is_encore_mark(count):
        return line.without(len(cells[0]) + 1, "encore mark" if _CODE.fullmatch(count) else "number")
    return line


_CODE = re.compile(r"[^\W\d_]{1,2}\s?\d")
"""What counts the songs of an encore apart from those of the set: Z1, T2."""
_LABEL = re.compile(r"\W*(?P<label>[^-–—:\n]{2,40}?)\s*(?:(?<=\s)[-–—]|:)\s+(?=\S)")


def unlabelled(lines: Sequence[Line], titles: Titles) -> list[Line]:
    """Take off what stands before the songs of several lines and is none: the dance to which tunes are played.

    Examples
    --------
    >>> from tourstats.reading.titles import index
    >>> rows = ["Long Mill - Ferry / Wren", "Corner Four - Salt Road", "The Basket - Copper Wire / Ferry"]
    >>> songs = index(["Ferry", "Wren", "Salt Road", "Copper Wire"])
    >>> [line.text for line in unlabelled([Line(at, row) for at, row in enumerate(rows)], songs)]
    ['Ferry / Wren', 'Salt Road', 'Copper Wire / Ferry']

    """
    marks = {
        at: mark
        for at, line in enumerate(lines)
        if (mark := _LABEL.match(line.text)) and _labels(line.text, mark, titles)
    }
    if len(marks) < _FEWEST or len({marks[at]["label"] for at in marks}) < len(marks):
        return list(lines)
    return [
        line.without(marks[at].end(), "heading", "a label") if at in marks else line for at, line in enumerate(lines)
    ]


def _labels(text: str, mark: re.Match[str], titles: Titles) -> bool:
    """Whether what stands before a dash or a colon is no song, and all that stands behind it are."""
    parts = [part for part in lines_.segues(text[mark.end() :])[::2] if part.strip()]
    return (
        titles.same(text) is None
        and one_title(mark["label"], titles).verdict != SURE
        and not lines_.is_encore_mark(mark["label"])
        and all((match := titles.same(part.strip())) is not None and match.verdict == SURE for part in parts)
    )


def _across(lines: Sequence[Line], halves: Sequence[tuple[Line, Line] | None]) -> list[Line]:
    return [one for line, half in zip(lines, halves, strict=True) for one in (half or (line,))]


def _headed(left: Line, right: Line) -> bool:
    """Whether each column has a heading of its own: "Set 1" and "Set 2"."""
    return all(lines_.why_no_song(line.text) in ("a heading", "encore") for line in (left, right))


def _order(left: list[Line], right: list[Line], below: list[Line]) -> str:
    """How the numbers say that the columns are read; "open" where they say nothing."""
    one, other = _numbers(left), _numbers(right)
    if len(one) < _MOST * len(left) or len(other) < _MOST * len(right) or not one or not other:
        return "open"
    rising = one == sorted(one) and other == sorted(other)
    if rising and one[-1] < other[0]:
        return "down"
    mixed = [number for pair in zip(one, other, strict=False) for number in pair] + _numbers(below)
    return "across" if rising and mixed == sorted(mixed) else "open"


def _halves(line: Line) -> tuple[Line, Line] | None:
    """The two parts of a line with one wide gap; a number apart from its title goes with it."""
    cuts = []
    start = 0
    for gap in _GAP.finditer(line.text):
        before = line.text[start : gap.start()].strip()
        if not before or re.fullmatch(r"\W*\d{1,2}\W*", before):
            continue
        cuts.append(gap)
        start = gap.end()
    if len(cuts) != 1 or not line.text[cuts[0].end() :].strip():
        return None
    gap = cuts[0]
    sign = gap.group().strip()
    pieces = (Piece(line.number, line.at + gap.start() + gap.group().index(sign) + 1, sign, "sign"),) if sign else ()
    left = replace(line, text=line.text[: gap.start()].rstrip())
    right = replace(line, text=line.text[gap.end() :], at=line.at + gap.end(), pieces=pieces)
    return left, right


def _is_song(text: str, titles: Titles) -> bool:
    """Whether half a line is a song: a title, or a number and words."""
    words = any(letter.isalpha() for letter in text) or len(re.findall(r"\d+", text)) > 1
    if _number(text) is not None and words:
        return True
    match = one_title(text, titles)
    return match.verdict == SURE and (match.evidence == "same" or not lines_.is_remark(text))


def _number(text: str) -> int | None:
    found = _NUMBER.match(text)
    return int(found[1]) if found else None


def _numbers(lines: list[Line]) -> list[int]:
    return [number for line in lines if (number := _number(line.text)) is not None]
