"""What short names and signs of a file mean, where the file says so itself: "NS = Night Salt", "(DV) = who sings"."""

# ruff: noqa: RUF001  # the signs that people type are meant

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from tourstats.reading.cells import tight
from tourstats.reading.days import day_in

_MEANS = re.compile(r"^\s*(?:[-*•]\s+)?(?P<short>[^\s=:](?:[^=:]{0,38}[^\s=:])?)\s*(?<!=)=(?!=)\s*(?P<long>[^\s=].*)$")
_TABBED = re.compile(r"^\s*(?P<short>[A-Z0-9][A-Za-z0-9]{0,5})\t+(?P<long>[^\t\d][^\t]*)$")
_FEWEST = 3
_PARTED = re.compile(r"\s*[;|\t]\s*|\s{2,}|,\s+(?=[^\s,=]{2,8}\s*=)")
_DEFINED = re.compile(r"(?P<short>[^\W_]{2,8})\s*(?:=|:|->|→|–)\s*(?P<long>\S.*)")


@dataclass
class Legend:
    """Short names and the titles they stand for, signs behind titles, and the lines that say so (from 1)."""

    short: dict[str, str] = field(default_factory=dict)
    marks: set[str] = field(default_factory=set)
    lines: set[int] = field(default_factory=set)


def initials(title: str) -> str:
    """First letters of the words of a title, as a short name has them.

    Examples
    --------
    >>> initials("Don't Forget the Salt")
    'dfts'

    """
    return "".join(tight(word)[:1] for word in re.split(r"[\s/-]+", title) if tight(word))


def defined(text: str) -> dict[str, str]:
    """Short names that a line or a cell explains, each made of the first letters of its title; none if it says more.

    Examples
    --------
    >>> defined("# DFTS = Don't Forget the Salt; NB = Night Barge")
    {'dfts': "Don't Forget the Salt", 'nb': 'Night Barge'}
    >>> defined("DFTS = who sings")
    {}

    """
    parts = [part for part in _PARTED.split(text.strip(" \t#*->•()[]")) if part]
    found = [_DEFINED.fullmatch(part) for part in parts]
    pairs = {tight(one["short"]): one["long"].strip() for one in found if one}
    whole = all(found) and len(pairs) == len(parts)
    return pairs if whole and all(initials(title) == short for short, title in pairs.items()) else {}


def defined_in(lines: Iterable[str]) -> Legend:
    """Find the lines that explain short names by the first letters of their titles, and nothing else."""
    found = {at: names for at, line in enumerate(lines, start=1) if (names := defined(line))}
    return Legend({short: title for names in found.values() for short, title in names.items()}, lines=set(found))


def legend_of(lines: Sequence[str]) -> Legend:
    """Find the lines of a text that explain it.

    Examples
    --------
    >>> lines = ["NS = Night Salt", "QU = Quill Under", "TM = Tin Moth", "", "DV / RT = who sings    * = with brass"]
    >>> found = legend_of(lines)
    >>> found.short["ns"], sorted(found.marks), sorted(found.lines)
    ('Night Salt', ['*', 'dv', 'rt'], [1, 2, 3, 5])

    """
    legend = Legend()
    meant = {
        number: match
        for number, line in enumerate(lines, start=1)
        if (match := _MEANS.match(line)) and day_in(line) is None
    }
    tabbed = {at: match for at, line in enumerate(lines, start=1) if (match := _TABBED.match(line))}
    used = Counter(tight(word) for at, line in enumerate(lines, start=1) if at not in tabbed for word in line.split())
    if sum(used[tight(match["short"])] > 0 for match in tabbed.values()) >= 0.6 * len(tabbed):
        meant = tabbed | meant
    titles = {at: match for at, match in meant.items() if match["long"].count("=") == 0}
    if len(titles) >= _FEWEST and len({tight(match["short"]) for match in titles.values()}) == len(titles):
        legend.short = {tight(match["short"]): match["long"].strip() for match in titles.values()}
        legend.lines = set(titles)
    sure = defined_in(lines)
    legend.short |= sure.short
    legend.lines |= sure.lines
    for at, match in meant.items():
        if at in legend.lines:
            continue
        several = re.split(r"\s{2,}|;\s+|\t", match[0].strip())
        if at in titles and "/" not in match["short"]:
            continue
        for one in several:
            sign, _, _ = one.partition("=")
            legend.marks |= {
                tight(part) if part.strip().isalnum() else part.strip() for part in sign.split("/") if part.strip()
            }
        legend.lines.add(at)
    return legend
