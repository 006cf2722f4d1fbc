"""Counters with letters before the titles of a text: "M01 Quill", "b1.- Ferry", "EN2: Marl"."""

# ruff: noqa: RUF001  # the signs that people type are meant

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from itertools import pairwise
from typing import NamedTuple

from tourstats.reading.cells import is_encore, is_label
from tourstats.reading.days import day_in

_COUNTER = re.compile(
    r"(?P<front>^|\t)\s*(?P<letters>[^\W\d_]{0,4})[ .-]?(?P<number>\d{1,2})(?P<sign>[.:)\]、–-]*)(?P<gap>\s+)(?=\S)"
)
_MOST, _SHARE, _FEWEST = 6, 0.4, 3
"""Songs of an encore at most, the share of a show that it may be, and counters that are enough to tell."""


class _Counter(NamedTuple):
    """A counter of a line: its letters, its number, and where it stands."""

    letters: str
    number: int
    at: re.Match[str]


def plain(lines: Sequence[str]) -> list[str]:
    r"""Lines whose counters have no letters; a second counter, at the ends of the shows, is that of the encore.

    Examples
    --------
    >>> plain(["M01 Quill", "M02 Wren", "M03 Zinc", "EN01 Marl", "Oxmere", "M01 Wren", "M02 Marl", "M03 Quill"])
    ['1. Quill', '2. Wren', '3. Zinc', 'E1 - Marl', 'Oxmere', '1. Wren', '2. Marl', '3. Quill']
    >>> plain(["Side 1 Quill", "Route 66 Wren", "A1 Zinc", "Hwy 61 Marl"])
    ['Side 1 Quill', 'Route 66 Wren', 'A1 Zinc', 'Hwy 61 Marl']

    """
    counters = list(map(_counter, lines))
    letters = {one.letters for one in counters if one} - {""}
    if not letters:
        return list(lines)
    shows = _shows(counters)
    runs = {name for name in letters if _runs(name, shows) and _close(name, counters)}
    often = Counter(name for show in shows for name in show)
    usual = {name for name in {*runs, ""} if often[name] >= _FEWEST}
    if len(usual & letters) == 1:
        usual -= {name for name in usual if name and is_encore(f"{name}1")}  # "E1 Ferry" below titles without a counter
    encores = {name for name in runs if _ends(name, [[one for one in show if one in {*usual, name}] for show in shows])}
    return [
        _rewritten(line, one, encores) if one and one.letters in (runs & usual) | encores else line
        for line, one in zip(lines, counters, strict=True)
    ]


def _counter(line: str) -> _Counter | None:
    match = next((one for one in _COUNTER.finditer(line) if one["letters"] or not one["front"]), None)
    if match is None or (not match["letters"] and day_in(line) is not None):
        return None
    again = match["letters"] and re.match(rf"{match['letters']}[ .-]?\d", line[match.end() :], re.IGNORECASE)
    set_ = f"{match['letters']} {match['number']}"
    if again or (len(match["letters"]) > 1 and is_label(set_) and not is_encore(set_)):
        return None  # "Set 1    Set 2" heads two columns
    return _Counter(match["letters"].casefold(), int(match["number"]), match)


def _shows(found: Sequence[_Counter | None]) -> list[list[str]]:
    """Letters of the counters, from where one begins again on; a number that goes on from none has no letters here."""
    shows: list[list[str]] = [[]]
    for one in found:
        if one is None:
            continue
        last = shows[-1].count(one.letters)
        if one.number == 1 and last:
            shows.append([one.letters])
        elif one.number == last + 1:
            shows[-1].append(one.letters)
        elif one.letters:
            shows[-1].append(f"{one.letters}?")
    return shows


def _runs(letters: str, shows: list[list[str]]) -> bool:
    """Whether these letters count from 1 on wherever they stand."""
    return not any(f"{letters}?" in show for show in shows)


def _close(letters: str, found: Sequence[_Counter | None]) -> bool:
    """Whether what these letters count follows each other, as songs do, and no headings of shows."""
    at = [(place, one.number) for place, one in enumerate(found) if one and one.letters == letters]
    steps = [later - place for (place, number), (later, following) in pairwise(at) if following == number + 1]
    return sorted(steps)[len(steps) // 2] <= _FEWEST if steps else True


def _ends(letters: str, shows: list[list[str]]) -> bool:
    """Whether these letters count the last few songs of every show that has them, behind those of another counter."""
    shows = [show for show in shows if letters in show]
    return all(
        show.index(letters) == len(show) - show.count(letters)
        and show.count(letters) <= min(_MOST, max(1, _SHARE * len(show)))
        and len(set(show)) > 1
        for show in shows
    )


def _rewritten(line: str, one: _Counter, encores: set[str]) -> str:
    encore = one.letters in encores
    # a cell keeps its number apart from the title beside it; in a line a hyphen parts the two
    apart = "\t" if "\t" in one.at["gap"] else " - " if encore else " "
    count = f"E{one.number}" if encore else f"{one.number}."
    return f"{line[: one.at.start()]}{one.at['front']}{count}{apart}{line[one.at.end() :]}"
