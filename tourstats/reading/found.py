"""What was found in a set so far, which each rule of the reading looks at and changes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from tourstats.reading.medium import Line
from tourstats.reading.songs import Row

_A_FEW = 3
_NUMBERED = 0.8


@dataclass
class Found:
    """What was found in a set so far.

    Attributes
    ----------
    lines
        Every line, in the order in which it is read.
    rows
        The songs, in order.
    others
        By place of the line in `lines`: why it holds no song.
    struck
        Songs that are struck out.
    headed
        What the heading says of the show: its `day`, `city` and `venue`.
    order
        What the order of the songs may be, where the paper leaves it open: words by answer.
    places
        By answer to the order: the rows in that order.
    missing
        Numbers that the numbering leaves out.
    asks
        What the answer to the order settles.

    """

    lines: list[Line]
    rows: list[Row] = field(default_factory=list)
    others: dict[int, str] = field(default_factory=dict)
    struck: list[Row] = field(default_factory=list)
    headed: dict[str, str] = field(default_factory=dict)
    order: dict[str, str] = field(default_factory=dict)
    places: dict[str, list[int]] = field(default_factory=dict)
    missing: list[int] = field(default_factory=list)
    asks: str = "The order of the songs"
    known_places: tuple[str, ...] = ()
    """Towns and venues that are known."""
    usual: tuple[int, int] = (0, 0)
    """Songs of the shortest and of the longest of the last sets; 0 where too few are known."""
    longest_encore: int = 0
    """Songs of the longest of their encores; 0 where most had none."""

    def drop(self, gone: Sequence[Row], why: str) -> None:
        """Take rows out, and say why their lines hold no song."""
        for row in gone:
            self.others[row.place] = why
        self.rows = [row for row in self.rows if not any(row is one for one in gone)]

    def change(self, row: Row, to: Row) -> None:
        """Put one row in the place of another."""
        self.rows = [to if one is row else one for one in self.rows]

    def say(self, row: Row, *words: str) -> None:
        """Let a song's remark be these words, the empty ones left out."""
        self.change(row, replace(row, said=replace(row.said, remark=", ".join(filter(None, words)))))

    @property
    def numbered(self) -> bool:
        """Whether numbers count the songs."""
        numbered = sum(row.number is not None for row in self.rows)
        known = [row for row in self.rows if row.match.song or row.number is not None]
        rows = known if any(row.match.song for row in known) else self.rows
        return numbered >= _A_FEW and numbered >= _NUMBERED * (len(rows) - 1)

    def blank_between(self, one: int, other: int) -> bool:
        """Whether a line without words stands between two places."""
        places = range(min(one, other), max(one, other))
        return any(self.others.get(place) in ("blank", "only signs") for place in places)
