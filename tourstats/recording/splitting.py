"""Where the songs are: how likely each way is to lay a set, in order, along a recording (a hidden semi-Markov chain).

Forward and backward sums over all ways give the chance that a song begins, or ends, at each second; what else is heard
near a start is weighed with it in `starts`. Source of the parts: S.-Z. Yu (2010), "Hidden semi-Markov models".
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import timedelta

import numpy as np

from tourstats.recording.evidence import Wanted
from tourstats.recording.starts import (
    CLUES,
    END_CLUES,
    WITHIN_S,
    Sound,
    Start,
    clues_of,
    owned,
    started,
    steadiness,
    steady_from,
    told_by,
)

LONGEST, SHORTEST = 2.0, 0.45
"""How much longer or shorter than usual a song can be."""
USUAL_S, USUAL_SPREAD = 240.0, 0.4
"""Length of a song of which nothing is known, and the spread of its logarithm."""
SPREAD = 0.15
PART_S = 10
"""Of a song in which the recording begins or ends at least so much is on it: less is not found."""
MUSIC, TEMPO, CHROMA, LENGTH = 0.125, 0.125, 1.5, 6.0
"""What a second of each kind of evidence counts, and what a length that is one `SPREAD` off costs twice, in log odds:
a quarter of what they would if seconds were independent.
"""
ABSENT, CUT, OUTSIDE, OTHER, OTHER_S, OTHER_TEMPO = 15.0, 2.5, 5.0, 6.25, 0.025, 2.0
"""What it costs that a song is absent, that the recording begins or ends in one, that some lie before or after it,
other music, with each second, and that a song was played at a tempo far from the one wanted.
"""


@dataclass(frozen=True)
class Evidence:
    """For each second: log odds of music, and for each song and second how well tempo and harmony fit."""

    music: np.ndarray
    tempo: np.ndarray
    chroma: np.ndarray
    wanted: tuple[Wanted, ...]
    fixed: Mapping[int, tuple[int, int]] = field(default_factory=dict)
    """Starts and ends in whole seconds that a person has set, by place in the set from 0."""
    sound: Sound | None = None
    """What is heard, by which a start is weighed."""
    step: int = 1
    """Seconds of a row."""


@dataclass(frozen=True)
class Chances:
    """For each song the chance that it is there, and where it begins and ends if it is, (songs, seconds + 1)."""

    there: np.ndarray
    starts: np.ndarray
    ends: np.ndarray


def chances(evidence: Evidence) -> Chances:
    """Where each song may be, over all ways to lay the set.

    Examples
    --------
    >>> music = np.where((np.arange(400) > 50) & (np.arange(400) < 250), 3.0, -3.0)
    >>> nothing = np.zeros((1, 400))
    >>> found = chances(Evidence(music, nothing, nothing, (Wanted("Ferry", seconds=190),)))
    >>> found.starts.argmax(), found.ends.argmax(), round(float(found.there[0]), 2)
    (np.int64(51), np.int64(250), 1.0)

    """
    size = len(evidence.music) + 1
    before, after = _between(evidence), _between(_backwards(evidence))[::-1, ::-1]
    every = np.logaddexp.reduce(before[:, -1] + after[:, -1])
    there = np.zeros(len(evidence.wanted))
    starts, ends = np.zeros((2, len(there), size), np.float32)
    for at in range(len(there)):
        first, last = _both(before[at], after[at + 1], evidence, at)
        total = np.logaddexp.reduce(first)
        there[at] = 1 if at in evidence.fixed else np.exp(total - every)
        if np.isfinite(total):  # else those that were set leave no room
            starts[at], ends[at] = np.exp(first - total), np.exp(last - total)
    return Chances(there, starts, ends)


def _between(evidence: Evidence, add: np.ufunc = np.logaddexp) -> np.ndarray:
    """Log likelihood of being between songs at each second, with none, one, … of them over: (songs + 1, seconds + 1).

    With `np.maximum` to add, that of the best way alone.
    """
    odds = evidence.step * evidence.music * MUSIC
    quiet, other = _sums(-odds), _sums(odds - evidence.step * OTHER_S)
    entry = np.full(len(quiet), -np.inf)
    entry[0] = 0
    free = [_gap(entry, quiet, other, add)]
    for at in range(len(evidence.wanted)):
        ended = _ended(free[-1], evidence, at, add)
        if at not in evidence.fixed:
            ended = add(ended, free[-1] - ABSENT)
        if not evidence.fixed or min(evidence.fixed) > at:
            ended[0] = add(ended[0], -OUTSIDE)
        free.append(_gap(ended, quiet, other, add))
    return np.array(free)


def _backwards(evidence: Evidence) -> Evidence:
    """The same from its end."""
    size, songs = len(evidence.music), len(evidence.wanted)
    fixed = {songs - 1 - at: (size - end, size - start) for at, (start, end) in evidence.fixed.items()}
    turned = evidence.music[::-1], evidence.tempo[::-1, ::-1], evidence.chroma[::-1, ::-1], evidence.wanted[::-1]
    return Evidence(*turned, fixed, evidence.sound and evidence.sound.backwards())


def _readings(evidence: Evidence, at: int) -> tuple[tuple[np.ndarray, float], ...]:
    """Sums of what each second says for a song, and what it costs: with the tempo that was wanted, and with another."""
    other = _sums(evidence.step * (MUSIC * evidence.music + CHROMA * evidence.chroma[at]))
    return (other + _sums(evidence.step * TEMPO * evidence.tempo[at]), 0.0), (other, OTHER_TEMPO)


def _sums(values: np.ndarray) -> np.ndarray:
    return np.concatenate([[0.0], np.cumsum(values, dtype=float)])


def _gap(entry: np.ndarray, quiet: np.ndarray, other: np.ndarray, add: np.ufunc) -> np.ndarray:
    """Being between songs at each second, entered at any before; other music may play twice."""

    def stay(entry: np.ndarray, sums: np.ndarray) -> np.ndarray:
        stayed: np.ndarray = add.accumulate(entry - sums) + sums
        return stayed

    score = stay(entry, quiet)
    for _ in range(2):
        score = add(score, stay(stay(score - OTHER, other), quiet))
    return score


def _lengths(song: Wanted, size: int, step: int = 1) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Lengths that a song can have, what each costs, and lengths of a part of it at the recording's edge.

    The cost is quadratic near the usual length, linear far from it.
    """
    usual, spread = (song.seconds / step, SPREAD) if song.seconds > 0 else (USUAL_S / step, USUAL_SPREAD)
    whole = np.arange(int(SHORTEST * usual), min(int(LONGEST * usual), size - 1) + 1)
    off = np.abs(np.log(whole / usual)) / spread
    part = np.arange(PART_S // step, min(int(usual), size - 1))
    return whole, LENGTH * np.where(off < 1, 0.5 * off**2, off - 0.5), part


def _ended(free: np.ndarray, evidence: Evidence, at: int, add: np.ufunc) -> np.ndarray:
    """A song's having ended at each second, begun at any."""
    size, over = len(free), np.full(len(free), -np.inf)
    if at in evidence.fixed:
        start, end = evidence.fixed[at]
        over[end] = free[start]
        return over
    whole, cost, part = _lengths(evidence.wanted[at], size, evidence.step)
    for sums, more in _readings(evidence, at):
        begun, ended = free - sums - more, np.full(size, -np.inf)
        for length, less in zip(whole, cost, strict=True):
            add(ended[length:], begun[: size - length] - less, out=ended[length:])
        ended[part] = add(ended[part], begun[0] - CUT)
        ended[-1] = add(ended[-1], add.reduce(begun[size - 1 - part], initial=-np.inf) - CUT)
        over = add(over, ended + sums)
    return over


def _both(free: np.ndarray, after: np.ndarray, evidence: Evidence, at: int) -> tuple[np.ndarray, np.ndarray]:
    """A song's beginning at each second and ending at any, and its ending at each and having begun at any."""
    size = len(free)
    starts, ends = np.full((2, size), -np.inf)
    if at in evidence.fixed:
        start, end = evidence.fixed[at]
        starts[start] = ends[end] = 0.0
        return starts, ends
    whole, cost, part = _lengths(evidence.wanted[at], size)
    for sums, more in _readings(evidence, at):
        begun, over = free - sums - more, after + sums
        for length, less in zip(whole, cost, strict=True):
            both = begun[: size - length] + over[length:] - less
            np.logaddexp(starts[: size - length], both, out=starts[: size - length])
            np.logaddexp(ends[length:], both, out=ends[length:])
        for first, last in ((np.zeros_like(part), part), (size - 1 - part, np.full_like(part, size - 1))):
            both = begun[first] + over[last] - CUT
            np.logaddexp.at(starts, first, both)
            np.logaddexp.at(ends, last, both)
    return starts, ends


# ------------------------------------------------------------------------------------------------ how sure


@dataclass(frozen=True)
class Place:
    """Where a song is, in seconds; NaN if it was not found. `why` says what speaks against it, empty if sure.

    near: the chance that it begins within `NEAR_S` of there, which is enough to measure how fast it was. fixed: set by
    a person.
    """

    start: float
    end: float
    sure: bool
    why: str
    near: float = 1.0
    fixed: bool = False


NEAR_S = 20
AROUND_S = 60
"""Seconds around a song in which its harmony is looked for."""
THERE, SHARE, END_SHARE = 0.9, 0.75, 0.6
"""Sure: how likely a song is there, and begins and ends within `starts.WITHIN_S` of where it is said to."""
FITS, FITS_OTHERS = (0.75, 1.33), (0.5, 1.6)
"""Shares of its usual length within which a song's length fits; of the middle song's where its own is not known."""
FEWEST, ORDERS = 4, 49
"""Songs of which tempo or harmony is known from which on a set can be told from another, and in how many other orders
it is laid.
"""
HOLE, HOLE_S = -1.0, 12
"""Log odds of music, and for how many seconds they are lower in a row within what is no one song."""
STEP = 3
"""Seconds of a row where other orders are laid: it costs a fifth, and which order is ahead does not hang on it."""
LEAST_S = 45
"""A start is weighed of songs from this length on."""


def places(evidence: Evidence) -> list[Place]:
    """Lay the set along the recording, and say how far each place can be relied on."""
    likely = chances(evidence)
    laid = np.full((len(likely.there), 2), -1, int)
    for song in np.flatnonzero(likely.there > 0.5):  # noqa: PLR2004  # likelier than not
        start = int(likely.starts[song].argmax())
        laid[song] = start, start + 1 + int(likely.ends[song, start + 1 :].argmax())
    placed: list[Place] = []
    for at, place in enumerate(laid):
        after = laid[at + 1 :, 0]
        room = int(laid[:at, 1].max(initial=0)), int(after[after >= 0].min(initial=len(evidence.music)))
        placed.append(_place(evidence, at, (int(place[0]), int(place[1])), room, likely))
        if at and placed[at - 1].end > placed[at].start > placed[at - 1].start and at - 1 not in evidence.fixed:
            placed[at - 1] = replace(placed[at - 1], end=placed[at].start)
    return placed


def _place(evidence: Evidence, at: int, place: tuple[int, int], room: tuple[int, int], likely: Chances) -> Place:
    """Start and end of a song that was laid somewhere, between the end before it and the start after it."""
    start, end = place
    if at in evidence.fixed:
        return Place(float(start), float(end), True, "", fixed=True)  # as named in the class
    if start < 0:
        return Place(np.nan, np.nan, False, "not found", 0.0)  # as above
    near, size = _within(likely.starts[at], start, NEAR_S), len(evidence.music)
    begun = _begun(evidence, at, place, likely.starts[at], min(room[0], start), CLUES)
    turned, back = (size - end, size - start), size - max(room[1], end)
    ended = _begun(_backwards(evidence), -1 - at, turned, likely.ends[at][::-1], back, END_CLUES)
    end_s = size - ended.second
    other = None if begun.other is None else f"it may also begin at {timedelta(seconds=int(begun.other))}"
    cut = start == 0 or end == size
    fits = _fits(evidence, at, end_s - begun.second)
    doubts = {
        other or "the start could also be elsewhere": begun.share < SHARE,
        "the end could also be elsewhere": ended.share < END_SHARE,
        "another song of the set may be there instead": likely.there[at] < THERE,
        "it would be much shorter or longer than usual": not fits,
        "nobody plays for some time in it": _silence(evidence.music[start:end]) > HOLE_S,
        "the recording begins or ends in it": cut,
    }
    why = "; ".join(words for words, so in doubts.items() if so)
    return Place(begun.second, end_s, not why, why, near if fits or cut else 0.0)


def _fits(evidence: Evidence, at: int, seconds: float) -> bool:
    """Whether a song can be so long; one of unknown length that takes in its neighbour is longer than songs are."""
    lengths = np.array([song.seconds for song in evidence.wanted])
    own, known = lengths[at], lengths[lengths > 0]
    usual, (least, most) = (own, FITS) if own > 0 else (np.median(known) if len(known) else seconds, FITS_OTHERS)
    return bool(least <= seconds / usual <= most)


def _silence(music: np.ndarray) -> int:
    """The most seconds in a row in which there is no music."""
    played = np.flatnonzero(np.concatenate([[True], music >= HOLE, [True]]))
    return int(np.diff(played).max()) - 1


def _within(chance: np.ndarray, second: int, reach: int) -> float:
    return float(chance[max(second - reach, 0) : second + reach + 1].sum())


def _begun(
    evidence: Evidence, at: int, place: tuple[int, int], laid: np.ndarray, over: int, weights: Mapping[str, float]
) -> Start:
    """The likeliest start of a song that was laid somewhere, and how likely it is; the chain's where nothing is heard.

    Of the end this is asked backwards.
    """
    sound = evidence.sound
    if sound is None or place[1] - place[0] < LEAST_S or not place[0]:
        return Start(float(place[0]), _within(laid, place[0], WITHIN_S), None)
    like = _likeness(sound.chroma, *place)
    own = owned(like, evidence.music, evidence.tempo[at], place)
    before = told_by(evidence.wanted[at].chroma, sound.chroma, place[0])
    steady = steadiness(sound.onsets, place)
    clues, moments = clues_of(sound, own, like, place, over, laid, before, steady)
    # Songs fade and are slowed down: of an end that is not asked.
    steady_s = max(steady_from(steady, place), float(moments[0])) if weights is CLUES else np.nan
    found = started(clues, moments, weights, steady_s)
    return replace(found, share=found.share * float(laid[int(moments[0]) : int(moments[-1]) + 1].sum()))


def ahead(evidence: Evidence) -> float:
    """By how many standard deviations of other orders, each laid anew, a set lies better in its own; NaN for few songs.

    Of a set that was not played its own order is one of many, so this is a permutation test.
    """
    if sum(song.bpm > 0 or bool(song.chroma) for song in evidence.wanted) < FEWEST:
        return np.nan
    dice, songs = np.random.default_rng(0), len(evidence.wanted)
    orders = [np.arange(songs), *(dice.permutation(songs) for _ in range(ORDERS))]
    # Harmony that is known of few songs outweighs all else, so a set that is ahead without it is taken as well.
    without = replace(evidence, chroma=np.zeros_like(evidence.chroma))
    return max(_ahead(each, orders) for each in ((without, evidence) if evidence.chroma.any() else (without,)))


def _ahead(evidence: Evidence, orders: list[np.ndarray]) -> float:
    """The same of the first of some orders against the rest; infinite where all are alike."""
    own, *others = (_between(_ordered(evidence, order), np.maximum)[-1, -1] for order in orders)
    spread = float(np.std(others))
    return (own - float(np.mean(others))) / spread if spread > 0 else np.inf


def _ordered(evidence: Evidence, order: np.ndarray) -> Evidence:
    """The songs of the set in another order, a row every `STEP` seconds."""

    def coarse(values: np.ndarray) -> np.ndarray:
        whole = values.shape[-1] // STEP * STEP
        means: np.ndarray = values[..., :whole].reshape(*values.shape[:-1], -1, STEP).mean(axis=-1)
        return means

    wanted = tuple(evidence.wanted[at] for at in order)
    by_song = coarse(evidence.tempo[order]), coarse(evidence.chroma[order])
    return Evidence(coarse(evidence.music), *by_song, wanted, step=STEP)


def _likeness(chroma: np.ndarray, start: int, end: int) -> np.ndarray:
    """How much the harmony of each second is that of the song, as a share of its own, near it."""
    first, last = max(start - AROUND_S - 8, 0), min(end + AROUND_S, len(chroma))
    own = chroma[start + 5 : end - 5]
    best = np.sort(chroma[first:last] @ own.T, axis=1)[:, -5:].mean(axis=1)
    smooth = np.convolve(best, np.ones(3) / 3, "same")
    like = np.zeros(len(chroma))
    like[first:last] = smooth / np.median(smooth[start + 5 - first : end - 5 - first])
    return like
