"""Who was where and what was played, as bits, and counted without joins.

Attendance patterns that are equal are worked out once; songs heard are a bitwise "or" and a population count. All
is counted in whole numbers, so that parts may be added in any order, on any machine, to the same last digit.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

from tourstats.models.audience.from_sets import Bools, Ints, Sets, groups

Words = npt.NDArray[np.uint64]
Index = npt.NDArray[np.integer]

WORD = 64
ODD = np.uint64(0x9E3779B97F4A7C15)
"""Multiplier that spreads small numbers over 64 bits."""


def packed(rows: Bools) -> Words:
    """Each row of a table of booleans as 64-bit words, the first column in the lowest bit.

    Examples
    --------
    >>> packed(np.array([[True, False, True]]))
    array([[5]], dtype=uint64)

    """
    words = max(1, -(-rows.shape[1] // WORD))
    padded = np.zeros((len(rows), words * WORD), bool)
    padded[:, : rows.shape[1]] = rows
    return np.packbits(padded, axis=1, bitorder="little").view("<u8").astype(np.uint64)


@dataclass(frozen=True)
class Masks:
    """Sets as bits: a row a show, in order; `size` is its distinct songs, `group` the leg (or what else) it is in."""

    songs: Words
    size: Ints
    group: Ints

    @classmethod
    def of(cls, sets: Sets, within: str) -> Masks:
        """Pack played sets."""
        return cls(packed(sets.played), sets.played.sum(1), groups(sets.shows, within))

    @property
    def order(self) -> Ints:
        """Shows group by group, each group in order."""
        return np.argsort(self.group, kind="stable")


@dataclass(frozen=True)
class Tally:
    """What was counted, in whole numbers; two tallies of different people add up.

    Attributes
    ----------
    attendees
        People by show.
    fresh
        Repeat attendees by show (row) and number of fresh songs (column).
    people
        People by number of shows attended.
    heard
        Distinct songs heard on the whole tour, summed over these people.

    """

    attendees: Ints
    fresh: Ints
    people: Ints
    heard: Ints

    @classmethod
    def zero(cls, masks: Masks) -> Tally:
        """Nobody yet."""
        count = len(masks.size)
        return cls(
            np.zeros(count, np.int64),
            np.zeros((count, int(masks.size.max(initial=0)) + 1), np.int64),
            np.zeros(count + 1, np.int64),
            np.zeros(count + 1, np.int64),
        )

    def __add__(self, other: Tally) -> Tally:
        """Count both."""
        return Tally(
            self.attendees + other.attendees,
            self.fresh + other.fresh,
            self.people + other.people,
            self.heard + other.heard,
        )


def tally(person: Index, at: Index, masks: Masks) -> Tally:
    """Count fresh songs of one part of the audience.

    Parameters
    ----------
    person, at
        One entry per person and show, ordered by person, then by show, each once: any whole number for the person,
        and the place of the show in `masks`.
    masks
        The sets.

    Returns
    -------
    Tally
        Of these people.

    """
    total = Tally.zero(masks)
    if not len(person):
        return total
    order = masks.order
    if (np.diff(order) < 0).any():  # legs that interleave: count as if they had been played one after another
        place = np.argsort(order)
        rows = np.lexsort((place[at], person))
        turned = tally(person[rows], place[at][rows], Masks(masks.songs[order], masks.size[order], masks.group[order]))
        return Tally(turned.attendees[place], turned.fresh[place], turned.people, turned.heard)
    start = np.flatnonzero(np.concatenate(([True], person[1:] != person[:-1])))
    visits = np.diff(start, append=len(person))
    total.attendees[:] = np.bincount(at, minlength=len(masks.size))
    total.people[:] = np.bincount(visits, minlength=len(masks.size) + 1)
    once = visits == 1  # never repeat attendees: what they heard is that one set
    total.heard[1] = masks.size[at[start[once]]].sum()
    walk(at, *_patterns(at, start, visits, ~once), masks, total)
    return total


def _patterns(at: Index, start: Ints, visits: Ints, several: Bools) -> tuple[Ints, Ints, Ints]:
    """Keep one person for each pattern of attendance: where their shows start, how many, how many people have it.

    Patterns are found by a hash, a sum of a number for each show, and then compared show by show: if two that differ
    ever shared a hash, nobody would be put together.
    """
    show = np.arange(int(at.max()) + 1, dtype=np.uint64)
    hashed = np.add.reduceat(((show + np.uint64(1)) * ODD ^ (show * ODD >> np.uint64(29)) * ODD)[at], start)[several]
    start, visits = start[several], visits[several]
    order = np.argsort(hashed)
    hashed, start, visits = hashed[order], start[order], visits[order]
    first = np.ones(len(order), bool)
    first[1:] = (hashed[1:] != hashed[:-1]) | (visits[1:] != visits[:-1])
    at_first = np.flatnonzero(first)
    if not _same(at, start[~first], start[at_first[np.cumsum(first)[~first] - 1]], visits[~first]):
        return start, visits, np.ones(len(start), np.int64)
    return start[first], visits[first], np.diff(at_first, append=len(first))


def _same(at: Index, one: Ints, other: Ints, visits: Ints) -> bool:
    """Whether the shows from each of these starts are those from the other."""
    for step in range(int(visits.max(initial=0))):
        left = visits > step
        if not left.all():
            one, other, visits = one[left], other[left], visits[left]
        if (at[one + step] != at[other + step]).any():
            return False
    return True


def walk(at: Index, start: Ints, visits: Ints, weight: Ints, masks: Masks, total: Tally) -> None:
    """Go through the first, second, third … shows of all patterns, and count what is fresh to those who came before.

    Parameters
    ----------
    at
        Places of shows; those of one pattern stand together, in order, groups one after another.
    start, visits, weight
        Of each pattern: where its shows start, how many there are, and how many people have it.
    masks, total
        The sets, and what to add to.

    """
    order = np.argsort(-visits, kind="stable")  # whoever is still under way stands in front
    start, visits, weight = start[order], visits[order], weight[order]
    heard = np.zeros((masks.songs.shape[1], len(start)), np.uint64)
    ever, group = np.zeros_like(heard), np.full(len(start), -1)
    columns, width = np.ascontiguousarray(masks.songs.T), total.fresh.shape[1]
    keys, people = [], []
    under_way = np.searchsorted(-visits, -np.arange(int(visits.max(initial=0))), side="left")
    for step, some in enumerate(under_way):
        show = at[start[:some] + step]
        again = group[:some] == masks.group[show]
        fresh = np.zeros(some, np.int64)
        for before, all_songs, column in zip(heard, ever, columns, strict=True):
            songs = column[show]
            old = np.where(again, before[:some], np.uint64(0))
            fresh += np.bitwise_count(songs & ~old)
            before[:some] = old | songs
            all_songs[:some] |= songs
        group[:some] = masks.group[show]
        keys.append((show.astype(np.int64) * width + fresh)[again])
        people.append(weight[:some][again])
    if not keys:
        return
    counted = np.bincount(np.concatenate(keys), weights=np.concatenate(people), minlength=total.fresh.size)
    total.fresh[:] += counted.astype(np.int64).reshape(total.fresh.shape)  # exact: whole numbers below 2^53
    songs = np.bitwise_count(ever).sum(axis=0, dtype=np.int64)
    total.heard[:] += np.bincount(visits, weights=weight * songs, minlength=len(total.heard)).astype(np.int64)


def by_show(total: Tally, sets: Sets) -> pd.DataFrame:
    """Turn counts into the table of freshness, a row a show."""
    size = sets.played.sum(1)
    repeat = total.fresh.sum(1)
    songs = np.arange(total.fresh.shape[1])
    some = np.maximum(repeat, 1)
    sums, squares = total.fresh @ songs, total.fresh @ songs**2
    spread = np.sqrt(np.maximum(some * squares - sums**2, 0)) / some
    reached = total.fresh.cumsum(1) * 10 >= repeat[:, None]
    nobody = repeat == 0
    table = pd.DataFrame(
        {
            "show_id": sets.shows.show_id,
            "attendees": total.attendees,
            "repeat": repeat,
            "repeat_share": repeat / np.maximum(total.attendees, 1),
            "fresh_share": sums / (some * size),
            "fresh_sd": spread / size,
            "worst_decile": reached.argmax(1) / size,
            "audience_fresh_share": 1 - (repeat * size - sums) / (np.maximum(total.attendees, 1) * size),
        }
    )
    table.loc[nobody, ["fresh_share", "fresh_sd", "worst_decile"]] = np.nan
    table.loc[total.attendees == 0, ["repeat_share", "audience_fresh_share"]] = np.nan
    return table


def by_number(total: Tally) -> pd.DataFrame:
    """Turn counts into the table of songs heard, a row a number of shows attended."""
    some = np.flatnonzero(total.people)
    return pd.DataFrame(
        {"shows": some, "people": total.people[some], "songs_heard": total.heard[some] / total.people[some]}
    )
