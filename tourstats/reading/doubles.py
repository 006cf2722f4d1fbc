"""Titles of a repertoire that may be one song under two names: proposed to a person, never merged."""

from __future__ import annotations

import re
from collections.abc import Iterable
from itertools import combinations

from rapidfuzz import fuzz

from tourstats.reading.titles import fold

ALIKE = 80.0
"""Share of letters, in percent, that two titles have in common before they are proposed: one wrong letter in five.
Of the 132 titles of the demo tour no two are above 63."""


def likely_doubles(titles: Iterable[str]) -> list[tuple[str, str]]:
    """Pairs of titles that may be one song, the most alike first; parts told apart by a number are two songs.

    Examples
    --------
    >>> likely_doubles(["Copper Wire", "Ferry, Part 1", "Coper Wire", "Ferry, Part 2"])
    [('Copper Wire', 'Coper Wire')]

    """
    folded = {title: fold(title) for title in titles}
    pairs = [
        (fuzz.ratio(folded[one], folded[other]), one, other)
        for one, other in combinations(folded, 2)
        if re.findall(r"\d+", one) == re.findall(r"\d+", other)
    ]
    return [(one, other) for alike, one, other in sorted(pairs, key=lambda pair: -pair[0]) if alike >= ALIKE]
