"""Where a song begins and ends: each half second near its place is weighed; what else weighs nearly as much is told.

What is tried before a song, a false start, a soft first verse and a pause all make two starts nearly as likely. A start
is as sure as the share of all likelihood that lies within six seconds of it. Of a song that was recorded before, the
harmony tells how far into it a moment is, and so where it began.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import partial

import numpy as np
from scipy.fft import irfft, next_fast_len, rfft

from tourstats.recording.evidence import along
from tourstats.recording.sound_features import COLOURS, FRAMES, SLOW
from tourstats.recording.tempo import levelled

EARLIER_S, LATER_S = 60, 40
"""How far from where the set was laid a start is looked for."""
BACK_S = 10
"""How far before the end of the last song, as it was laid, one may begin that follows at once."""
WITHIN_S = 6
"""Starts nearer than this are one."""
HARMONY_S, LEAST_LIKE = 100, 0.15
"""How far into a song its harmony tells where it began, and how alike it has to be."""
REPEATS_S, REPEATS_NEAR = (2, 9), 0.02
"""Between how many seconds a bar or two are, after which onsets come again, and how far a bar is from the usual one."""
LEAST_ALIKE, STEADY = 0.2, 0.25
"""How alike a song is at least to what comes a bar later, if that is to tell its start; the share of it below which the
song has not begun."""
OWN = {"like": 12.2, "music": 0.7, "tempo": 1.7}
OWN_ALWAYS = -8.7
"""Log odds that a second is the song's, by harmony, music and pulse against its middle."""
CLUES = {
    "enters": -0.45, "enters_much": 0.67, "rises": 2.1, "rises_some": 0.5, "falls": 0.81, "fits_better": 0.76,
    "loud_after": -1.02, "loud_before": -0.15, "stops_soon": 0.51, "silent_soon": -0.32,
    "seconds_own": -0.28, "seconds_not_own": 0.92, "seconds_loud": -0.93, "seconds_heard": 0.76,
    "seconds_as_bright": -0.9, "brightens": 0.03, "gets_noisy": -0.03, "comes_into_key": 0.65,
    "quiet_before": 0.73, "laid": 0.18, "told": 1.09,
    "goes_on_steadily": 1.59, "gets_steady": 2.12, "seconds_steady": 1.96,
}  # fmt: skip
"""What speaks for a start, in units of log likelihood; fitted as `benchmarks/recording.md` says."""
END_CLUES = {
    "enters": 2.73, "enters_much": 1.58, "rises": -0.3, "rises_some": 0.15, "falls": -0.16, "fits_better": 0.75,
    "loud_after": 1.31, "loud_before": 1.25, "stops_soon": 0.56, "silent_soon": 0.33,
    "seconds_own": 1.2, "seconds_not_own": 1.56, "seconds_loud": -0.27, "seconds_heard": 0.08,
    "seconds_as_bright": 0.79, "brightens": 0.27, "gets_noisy": -0.86, "comes_into_key": 0.55,
    "quiet_before": -0.93, "laid": 1.0, "told": 0.0,
    "goes_on_steadily": 0.12, "gets_steady": 1.28, "seconds_steady": 1.74,
}  # fmt: skip
"""The same for an end, which is the start of the song played backwards."""


@dataclass(frozen=True)
class Sound:
    """What is heard twice a second: `strokes`, logarithms of the onsets in each group of bands, and `colours`.

    And `chroma`, once a second, and `onsets`, a hundred times.
    """

    strokes: np.ndarray
    colours: np.ndarray
    chroma: np.ndarray
    onsets: np.ndarray

    def backwards(self) -> Sound:
        """The same from its end."""
        size = len(self.chroma) * FRAMES
        return Sound(self.strokes[::-1], self.colours[::-1], self.chroma[::-1], self.onsets[:size][::-1])


@dataclass(frozen=True)
class Start:
    """A start in seconds, the share of likelihood near it, and the likeliest of the others, if any were weighed."""

    second: float
    share: float
    other: float | None


def started(
    clues: np.ndarray, moments: np.ndarray, weights: Mapping[str, float] = CLUES, steady_s: float = np.nan
) -> Start:
    """The start, or end, that all clues together make likeliest.

    Where it goes on steadily from somewhat earlier on, one player has begun alone: the likeliest that is near both is
    taken. From much earlier on: nothing is sure.

    Examples
    --------
    >>> clues = np.zeros((60, len(CLUES)))
    >>> clues[20, 2], clues[44, 2] = 5, 4
    >>> found = started(clues, np.arange(60) / 2)
    >>> found.second, found.other, round(found.share, 2)
    (10.0, 22.0, 0.89)
    >>> clues[20, 2], clues[44, 2] = 0, 8
    >>> started(clues, np.arange(60) / 2, steady_s=2.0)
    Start(second=22.0, share=0.0, other=2.0)

    """
    weight = clues @ np.array(list(weights.values()))
    likely = np.exp(weight - weight.max())
    likely /= likely.sum()
    at = int(likely.argmax())
    if WITHIN_S < moments[at] - steady_s <= 2 * WITHIN_S:
        both = (moments >= moments[at] - WITHIN_S) & (moments <= steady_s + WITHIN_S)
        at = int(np.where(both, likely, -1).argmax())
    if moments[at] - steady_s > WITHIN_S:
        return Start(float(moments[at]), 0.0, steady_s)
    near = np.abs(moments - moments[at]) <= WITHIN_S
    other = moments[np.where(near, 0, likely).argmax()]
    return Start(float(moments[at]), float(likely[near].sum()), float(other))


def clues_of(
    sound: Sound,
    own: np.ndarray,
    like: np.ndarray,
    place: tuple[int, int],
    free: int,
    laid: np.ndarray,
    told: np.ndarray,
    steady: np.ndarray,
) -> tuple[np.ndarray, np.ndarray]:
    """Columns of `CLUES` for each half second near a start, and these moments in seconds.

    A soft beginning may be no louder than what lies before it, and softer where a song follows at once: what counts is
    that something enters, rises or falls, that the harmony fits better from there on, and whose seconds follow.

    Parameters
    ----------
    sound
        The recording.
    own, like
        For each second: log odds that it is the song's (`owned`), and likeness to its harmony.
    place
        Start and end in whole seconds, as laid.
    free
        Second from which the song can begin: the end of the one before.
    laid, told
        For each second the chance that it begins there, and for each half second how much an earlier performance says
        so (`told_by`).
    steady
        For each half second how steadily it goes on (`steadiness`).

    """
    at = _moments(place, free)
    loud, noisy, bright = (sound.colours[:, COLOURS.index(name)] for name in ("level", "flat_mid", "treble"))
    level = np.convolve(np.pad(loud, 1, mode="edge"), np.ones(3) / 3, "valid")
    floor = np.quantile(level[max(at[0] - 10, 0) : SLOW * (place[0] + 20)], 0.05)
    usual = np.median(level[_middle(place, SLOW)])
    mean, still_to_come = partial(_mean, at), partial(_to_come, at)
    enters = mean(sound.strokes, 0, 4) - mean(sound.strokes, -4, 0)
    rises = mean(level, 0, 1.5) - mean(level, -1.5, 0)
    alike, odds, key = (np.repeat(each, SLOW) for each in (like, own, in_key(sound.chroma, place)))
    better = mean(alike, 1, 6) - mean(alike, -6, -1)
    # The loudest of two seconds: a note that dies away is no stop.
    loudest = _around(level, -1, 4).max(axis=1)
    least, now = _around(loudest, 3, 44)[at].min(axis=1), _around(loudest, 0, 6)[at].max(axis=1)
    columns = {
        "enters": enters,
        "enters_much": np.clip(enters, 0, 1) ** 2,
        "rises": np.clip(rises, 0, 12) / 5,
        "rises_some": np.clip(rises, 0, 6) / 3,
        "falls": np.clip(-rises, 0, 12) / 5,
        "fits_better": np.clip(better, -0.2, 0.5) * 4,
        "loud_after": np.clip(mean(level, 0, 6) - usual, -15, 5) / 5,
        "loud_before": np.clip(mean(level, -2.5, 0) - floor, 0, 20) / 5,
        "stops_soon": np.clip(least - now, -15, 0) / 5,
        "silent_soon": np.clip(least - floor - 6, -6, 0) / 3,
        "seconds_own": still_to_come(np.clip(odds, 0, 4)) / 1.6,
        "seconds_not_own": still_to_come(np.clip(odds, -4, 0)) / 1.6,
        "seconds_loud": still_to_come(np.clip(level - floor, 0, 25)) / 10,
        "seconds_heard": still_to_come(np.clip(level - floor, 0, 6)) / 6,
        "seconds_as_bright": still_to_come(-np.abs(np.clip(bright - np.median(bright[_middle(place, SLOW)]), -3, 3))),
        "brightens": np.clip(mean(bright, 0, 4) - mean(bright, -4, 0), -3, 3),
        "gets_noisy": np.clip(mean(noisy, 0, 4) - mean(noisy, -4, 0), -3, 3),
        "comes_into_key": mean(key, 0, 5) - mean(key, -5, 0),
        "quiet_before": np.clip(mean(level, -1.5, 0) - floor, 0, 15) / 5,
        "laid": np.log(np.interp(at / SLOW, np.arange(len(laid)), laid) + 1e-9),
        "told": np.log1p(20 * told[at]),
    } | _steady_clues(steady, at, place)
    return np.column_stack([columns[name] for name in CLUES]), at / SLOW


def _steady_clues(steady: np.ndarray, at: np.ndarray, place: tuple[int, int]) -> dict[str, np.ndarray]:
    """That it goes on steadily from some half seconds on, and gets so there."""
    # The least from each moment to where the song surely plays: a breath between what was tried and the song is one.
    unbroken = np.minimum.accumulate(steady[: SLOW * (place[0] + 14)][::-1])[::-1]
    unbroken = 2 * np.clip(np.concatenate([unbroken, steady[len(unbroken) :]]), 0, 0.5)
    before = np.maximum(at - 7, 0)
    return {
        "goes_on_steadily": unbroken[at] - unbroken[before],
        "gets_steady": np.clip(steady[at] - steady[before], 0, 0.5),
        "seconds_steady": _to_come(at, np.clip(steady - 0.4, 0, 0.6)),
    }


def _moments(place: tuple[int, int], free: int) -> np.ndarray:
    """Half seconds at which a song that was laid somewhere can begin."""
    first = max(free - BACK_S, place[0] - EARLIER_S, 0)
    return np.arange(SLOW * first, SLOW * min(place[0] + LATER_S, place[1] - 20))


def told_by(earlier: tuple[np.ndarray, ...], chroma: np.ndarray, start: int) -> np.ndarray:
    """For each half second, which share of what follows says that the song began there, by an earlier performance."""
    told = np.zeros(SLOW * len(chroma))
    near = np.arange(max(start - EARLIER_S, 0), min(start + HARMONY_S, len(chroma)))
    moments = np.arange(SLOW * near[0], SLOW * (near[-1] + 1))
    for one in earlier:
        like, into = along(chroma[near], one[: HARMONY_S + LATER_S])
        weight = np.clip(like - LEAST_LIKE, 0, 1) * (into < HARMONY_S - 10)
        off = moments[:, None] / SLOW - (near - into)
        share = np.exp(-0.5 * (off / 1.5) ** 2) @ weight / max(weight.sum(), 8)
        told[moments] = np.maximum(told[moments], share)
    return told


def steadiness(onsets: np.ndarray, place: tuple[int, int]) -> np.ndarray:
    """How steadily it goes on at each half second: how alike its onsets are to those a bar or two later.

    It is a share of what that is within the song, 0 far from where it begins, and where nothing comes again in it.
    What is struck by one player alone has it as well as the band; talk, tuning and applause have not.
    """
    first, last = max(place[0] - EARLIER_S - 20, 0), min(place[0] + 140, place[1])
    level = levelled(onsets[first * FRAMES : last * FRAMES])
    half = level[: len(level) // 2 * 2].reshape(-1, 2, level.shape[1]).sum(axis=1)
    padded = np.pad(half, ((1, 1), (0, 0)))
    smooth = (padded[:-2] + 2 * padded[1:-1] + padded[2:]) / 4
    rate = FRAMES // 2
    alike = [_alike(smooth, lag) for lag in _bars(smooth[(place[0] + 12 - first) * rate :][: 75 * rate])]
    share = np.mean(alike, axis=0) if alike else np.zeros(len(smooth) * SLOW // rate)
    own = share[SLOW * (place[0] + 12 - first) : SLOW * (min(place[0] + 70, place[1] - 10) - first)]
    steady = np.zeros(SLOW * (len(onsets) // FRAMES + 1))
    if np.median(own) >= LEAST_ALIKE:
        steady[SLOW * first :][: len(share)] = np.clip(share / np.median(own), 0, 1.2)
    return steady


def _bars(level: np.ndarray) -> list[int]:
    """After how many rows, fifty a second, onsets come again best: two lengths that differ."""
    rate = FRAMES // 2
    size = next_fast_len(2 * len(level), real=True)
    power = (np.abs(rfft(level, size, axis=0)) ** 2).sum(axis=1)
    again = irfft(power, size)[: REPEATS_S[1] * rate + 2] / (len(level) - np.arange(REPEATS_S[1] * rate + 2))
    rows = np.arange(REPEATS_S[0] * rate, len(again) - 1)
    peaks = rows[(again[rows] > again[rows - 1]) & (again[rows] >= again[rows + 1])]
    best: list[int] = []
    for lag in peaks[np.argsort(-again[peaks])]:
        if len(best) < 2 and all(abs(np.log(lag / one)) > 2 * REPEATS_NEAR for one in best):  # noqa: PLR2004  # as said
            best.append(int(lag))
    return best


def _alike(level: np.ndarray, lag: int) -> np.ndarray:
    """For each half second, the correlation of its onsets with those about so many rows later, over two seconds."""
    each, rows = FRAMES // 2 // SLOW, len(level)
    power = (level**2).sum(axis=1)

    def sums(values: np.ndarray) -> np.ndarray:
        halves = values[: len(values) // each * each].reshape(-1, each).sum(axis=1)
        most: np.ndarray = np.convolve(np.pad(halves, (0, 3)), np.ones(4), "valid")
        return np.pad(most, (0, rows // each - len(most)))

    best = np.zeros(rows // each)
    for off in np.unique(np.round(lag * (1 + REPEATS_NEAR * np.linspace(-1, 1, 9))).astype(int)):
        both = sums((level[:-off] * level[off:]).sum(axis=1))
        best = np.maximum(best, both / np.sqrt(sums(power[:-off]) * sums(power[off:]) + 1e-6))
    return best


def steady_from(steady: np.ndarray, place: tuple[int, int]) -> float:
    """The second from which on a song goes on steadily; NaN where it never does.

    Examples
    --------
    >>> steady_from(np.repeat([0.9, 0.1, 0.8, 1.0], 20), (20, 300))
    20.0

    """
    goes_on = steady[: SLOW * (place[0] + 20)] >= STEADY
    if not goes_on.any():
        return np.nan
    last = int(np.flatnonzero(goes_on)[-1])
    return float(np.flatnonzero(~goes_on[:last]).max(initial=-1) + 1) / SLOW


def in_key(chroma: np.ndarray, place: tuple[int, int]) -> np.ndarray:
    """How much each second has the notes of a song, in what order ever, as a share of what its own seconds have."""
    own = chroma[place[0] + 5 : place[1] - 5].mean(axis=0)
    share = chroma @ (own / (np.linalg.norm(own) + 1e-9))
    shares: np.ndarray = np.clip(share / max(float(np.median(share[_middle(place, 1)])), 0.1), -1, 1.5)
    return shares


def owned(like: np.ndarray, music: np.ndarray, tempo: np.ndarray, place: tuple[int, int]) -> np.ndarray:
    """For each second, log odds that it is the song's, by what its own middle is like."""
    middle = _middle(place, 1)
    odds = OWN["like"] * np.clip(like, 0, 1.2) + OWN["music"] * (music - np.median(music[middle])) + OWN_ALWAYS
    odds = odds + OWN["tempo"] * np.clip(tempo - np.median(tempo[middle]), -2, 1)
    clipped: np.ndarray = np.clip(odds, -4, 4)
    return clipped


def _middle(place: tuple[int, int], rate: int) -> slice:
    """A song without its first half minute and its end."""
    return slice(rate * (place[0] + 30), rate * max(place[1] - 8, place[0] + 40))


def _around(values: np.ndarray, first: int, last: int) -> np.ndarray:
    """For each value those from `first` to before `last` of it."""
    padded = np.pad(values, (max(-first, 0), last), mode="edge")
    views: np.ndarray = np.lib.stride_tricks.sliding_window_view(padded, last - first)
    return views[max(first, 0) : max(first, 0) + len(values)]


def _mean(at: np.ndarray, values: np.ndarray, first: float, last: float) -> np.ndarray:
    """Mean of the values between two moments, in seconds from each of some half seconds; 0 where there are none."""
    rows = values.reshape(len(values), -1)
    sums = np.concatenate([np.zeros((1, rows.shape[1])), np.cumsum(rows, axis=0, dtype=float)])
    low, high = (np.clip(at + round(SLOW * edge), 0, len(rows)) for edge in (first, last))
    means: np.ndarray = ((sums[high] - sums[low]) / np.maximum(high - low, 1)[:, None]).mean(axis=1)
    return means


def _to_come(at: np.ndarray, values: np.ndarray) -> np.ndarray:
    """Sum of the values from each of some half seconds to the last of these, in tens of seconds."""
    after: np.ndarray = np.cumsum(values[at[0] : at[-1] + 1][::-1])[::-1] / SLOW / 10
    return after
