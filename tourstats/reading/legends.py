"""What short names and signs of a file mean, where the file says so itself: "NS = Night Salt", "(DV) = who sings"."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field

from tourstats.reading.cells import tight
from tourstats.reading.days import day_in

_MEANS = re.compile(r"^\s*(?:[-*•]\s+)?(?P<short>[^\s=:](?:[^=:]{0,38}[^\s=:])?)\s*(?<!=)=(?!=)\s*(?P<long>[^\s=].*)$")
_TABBED = re.compile(r"^\s*(?P<short>[A-Z0-9][A-Za-z0-9]{0,5})\t+(?P<long>[^\t\d][^\t]*)$")
_FEWEST = 3


@dataclass
class Legend:
    """Short names and the titles they stand for, signs behind titles, and the lines that say so (from 1)."""

    short: dict[str, str] = field(default_factory=dict)
    marks: set[str] = field(default_factory=set)
    lines: set[int] = field(default_factory=set)


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
    for at, match in meant.items():
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
