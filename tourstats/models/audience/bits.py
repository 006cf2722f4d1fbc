"""Who was where and what was played, as bits, and counted without joins.

Attendance patterns that are equal are worked out once; songs heard are a bitwise "or" and a population count. All
is counted in whole numbers, so that parts may be added in any order, on any machine, to the same last digit.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

from tourstats.models.audience.sets import Bools, Ints, Sets, groups

Words = npt.NDArray[np.uint64]
Index = npt.NDArray[np.integer]

WORD = 64
ODD = np.uint64(0x9E3779B97F4A7C15)
"""Multiplier that spreads a pattern over 64 bits; equal results are compared in full before they count as equal."""


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
    starts = np.flatnonzero(np.concatenate(([True], person[1:] != person[:-1])))
    visits = np.diff(np.append(starts, len(person)))
    total.attendees[:] = np.bincount(at, minlength=len(masks.size))
    total.people[:] = np.bincount(visits, minlength=len(masks.size) + 1)
    once = at[starts[visits == 1]]  # never a repeat attendee: what they heard is that one set
    total.heard[1] = masks.size[once].sum()
    more = visits > 1
    rows = np.repeat(more, visits)
    kept, weight = _patterns(np.repeat(np.arange(int(more.sum())), visits[more]), at[rows], len(masks.size))
    _walk(kept, weight, masks, total)
    return total


def _patterns(person: Ints, at: Index, count: int) -> tuple[tuple[Ints, Index], Ints]:
    """Keep one person for each pattern of attendance, and how many have it.

    Two patterns that happened to share a hash would at worst be kept apart: equality is that of all bits.
    """
    words = -(-count // WORD)
    people = int(person[-1]) + 1 if len(person) else 0
    where = person * words + at // WORD
    bits = np.left_shift(np.uint64(1), (at % WORD).astype(np.uint64))
    starts = np.flatnonzero(np.concatenate(([True], where[1:] != where[:-1]))) if len(where) else where
    pattern = np.zeros((people, words), np.uint64)
    if people:
        pattern.reshape(-1)[where[starts]] = np.bitwise_or.reduceat(bits, starts)
    mixed = np.zeros(people, np.uint64)
    for column in pattern.T:
        mixed = (mixed ^ column) * ODD
        mixed ^= mixed >> np.uint64(32)
    order = np.argsort(mixed)
    ordered = pattern[order]
    first = np.ones(people, bool)
    first[1:] = (ordered[1:] != ordered[:-1]).any(axis=1)
    weight = np.diff(np.append(np.flatnonzero(first), people))
    number = np.full(people, -1)
    number[order[first]] = np.arange(len(weight))
    rows = number[person]
    kept = rows >= 0
    return (rows[kept], at[kept]), weight


def _walk(kept: tuple[Ints, Index], weight: Ints, masks: Masks, total: Tally) -> None:
    """Go through the shows of each group in order, and count what is fresh to those who were there before."""
    pattern, at = kept
    by_show = np.argsort(at, kind="stable")
    ends = np.searchsorted(at[by_show], np.arange(len(masks.size) + 1))
    heard = np.zeros((masks.songs.shape[1], len(weight)), np.uint64)
    ever, came, group = np.zeros_like(heard), np.zeros(len(weight), bool), None
    for show in masks.order:
        if masks.group[show] != group:
            group = masks.group[show]
            ever |= heard
            heard[:], came[:] = 0, False
        who = pattern[by_show[ends[show] : ends[show + 1]]]
        fresh = np.zeros(len(who), np.int64)
        for column, mask in zip(heard, masks.songs[show], strict=True):
            before = column[who]
            fresh += np.bitwise_count(mask & ~before)
            column[who] = before | mask
        again = came[who]
        came[who] = True
        counted = np.bincount(fresh[again], weights=weight[who[again]], minlength=total.fresh.shape[1])
        total.fresh[show] = counted.astype(np.int64)  # weights add up exactly below 2^53 people
    ever |= heard
    songs = np.bitwise_count(ever).sum(axis=0, dtype=np.int64)
    visits = np.bincount(pattern, minlength=len(weight))
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
