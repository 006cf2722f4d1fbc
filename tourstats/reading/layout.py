"""Shows as they stand in a file, whatever its shape: a column of items each, before it is settled what they are."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from datetime import date
from typing import NamedTuple

from tourstats.reading.asking import Asking, Where
from tourstats.reading.legends import Legend
from tourstats.reading.workbooks import letter


class Spot(NamedTuple):
    """Where something stands: in which sheet, row and column (from 1; for a text, line and character)."""

    sheet: str
    row: int
    column: int


NOWHERE = Spot("", 0, 0)


class Taken(NamedTuple):
    """What something was taken for, and why."""

    taken_as: str
    why: str = ""


@dataclass
class Item:
    """What may be a song of a show.

    Attributes
    ----------
    text, kind, at
        As it stands, its kind of cell, and where.
    top, bottom
        Its row among the shows of the file from above, and from below.
    struck, encore, numbered
        Whether it is struck out, said to be of the encore, or has a number of its own.
    placed
        Whether a column of positions, or its own name, says that songs stand there.

    """

    text: str
    kind: str
    at: Spot
    top: int = 0
    bottom: int = 0
    struck: bool = False
    encore: bool = False
    numbered: bool = False
    placed: bool = False
    marked: bool = False
    """Whether a hyphen or a dot stands before it."""
    gap: bool = False
    """Whether an empty line or a rule stands above it."""
    ruled: bool = False
    """Whether it is a rule."""
    part: int = 0
    """Which of several songs in one line or cell it is."""
    mark: str = ""
    """What stands in the place of its number: "4.", "Enc.", "+"."""
    remark: str = ""
    segue: bool = False
    form: str = ""
    """Its title as it is compared, without what is said behind it."""


@dataclass
class Night:
    """One show as it stands in a file.

    Attributes
    ----------
    day
        Its day; None if none could be read.
    said
        What names places, from the first: town, venue, leg, where the file says which is which.
    head
        Items above the songs that name places.
    items
        What may be its songs, in order.
    settled
        Whether its first and last songs are known, as where they are numbered.

    """

    day: date | None
    said: dict[str, str] = field(default_factory=dict)
    places: list[str] = field(default_factory=list)
    head: list[Item] = field(default_factory=list)
    items: list[Item] = field(default_factory=list)
    settled: bool = False
    at: Spot = NOWHERE
    number: int | None = None
    named: bool = False
    """Whether its places are called so: "Town: Ostby"."""
    typed: str = ""
    """What stands where its day should, if that is no day."""


@dataclass
class Draft:
    """One whole reading of a file.

    Attributes
    ----------
    how
        Its shape: "a row a song", "a column a show" …
    nights
        The shows.
    account
        What each spot was taken for that is no song.
    asking
        What is open in this reading.
    text
        Whether the spots are lines of a text.
    raws
        What its items say, without regard to case.
    named
        Whether the file itself says where the songs are, as with a column of that name.

    """

    how: str
    asking: Asking
    nights: list[Night] = field(default_factory=list)
    account: dict[Spot, Taken] = field(default_factory=dict)
    text: bool = False
    named: bool = False
    raws: set[str] = field(default_factory=set)
    placed: bool = False
    """Whether city and venue stand elsewhere than above the songs."""
    beside: bool = False
    """Whether there is something beside the cells that hold the songs: places need not stand in them."""
    parted: bool = False
    """Whether ">" between words parts two titles."""
    later: list[tuple[Spot, str]] = field(default_factory=list)
    """What was written after the sets, by the messages that are none."""
    people: set[str] = field(default_factory=set)
    """Who sent it or got it, name by name: the name alone below a set signs it."""
    legend: Legend = field(default_factory=Legend)
    """What the file says its short names and signs mean."""

    def take(self, spots: Iterable[Spot], taken_as: str, why: str = "") -> None:
        """Note what some spots were taken for."""
        for spot in spots:
            self.account[spot] = Taken(taken_as, why)

    def items(self) -> Iterator[Item]:
        """Every item of every show."""
        for night in self.nights:
            yield from night.items

    def where(self, spot: Spot) -> Where:
        """A spot as people name it."""
        return Where(
            "", spot.sheet if not self.text else "", spot.row, "" if self.text else letter(max(1, spot.column))
        )
