"""Two columns side by side: which songs stand in which, and in what order they are read."""

# the signs that people type are meant
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
