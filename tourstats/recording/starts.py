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

from tourstats.recording.evidence import along
from tourstats.recording.sound_features import COLOURS, SLOW

EARLIER_S, LATER_S = 60, 40
"""How far from where the set was laid a start is looked for."""
BACK_S = 10
"""How far before the end of the last song, as it was laid, one may begin that follows at once."""
WITHIN_S = 6
"""Starts nearer than this are one."""
HARMONY_S, LEAST_LIKE = 100, 0.15
"""How far into a song its harmony tells where it began, and how alike it has to be."""
OWN = {"like": 12.2, "music": 0.7, "tempo": 1.7}
OWN_ALWAYS = -8.7
"""Log odds that a second is the song's, by harmony, music and pulse against its middle."""
CLUES = {
    "enters": -0.35, "enters_much": 0.68, "rises": 2.31, "rises_some": 0.52, "falls": 0.75, "fits_better": 0.96,
    "loud_after": -0.82, "loud_before": -0.35, "stops_soon": 0.38, "silent_soon": -0.4,
    "seconds_own": -0.1, "seconds_not_own": 1.05, "seconds_loud": -0.97, "seconds_heard": 0.67,
    "seconds_as_bright": -1.04, "brightens": 0.33, "gets_noisy": -0.36, "comes_into_key": 0.61,
    "quiet_before": 0.5, "laid": 0.59, "told": 1.19,
}  # fmt: skip
"""What speaks for a start, in units of log likelihood; fitted as `benchmarks/recording.md` says."""
END_CLUES = {
    "enters": 2.63, "enters_much": 1.52, "rises": -0.1, "rises_some": 0.44, "falls": -0.34, "fits_better": 0.61,
    "loud_after": 1.4, "loud_before": 1.12, "stops_soon": 0.54, "silent_soon": 0.34,
    "seconds_own": 1.15, "seconds_not_own": 1.59, "seconds_loud": -0.3, "seconds_heard": 0.03,
    "seconds_as_bright": 0.82, "brightens": 0.37, "gets_noisy": -0.72, "comes_into_key": 0.56,
    "quiet_before": -1.08, "laid": 0.93, "told": 0.0,
}  # fmt: skip
"""The same for an end, which is the start of the song played backwards."""


@dataclass(frozen=True)
class Sound:
    """What is heard twice a second: `strokes`, logarithms of the onsets in each group of bands, and `colours`.

    And `chroma`, once a second.
    """

    strokes: np.ndarray
    colours: np.ndarray
    chroma: np.ndarray

    def backwards(self) -> Sound:
        """The same from its end."""
        return Sound(self.strokes[::-1], self.colours[::-1], self.chroma[::-1])


@dataclass(frozen=True)
class Start:
    """A start in seconds, the share of likelihood near it, and the likeliest of the others, if any were weighed."""

    second: float
    share: float
    other: float | None


def started(clues: np.ndarray, moments: np.ndarray, weights: Mapping[str, float] = CLUES) -> Start:
    """The start, or end, that all clues together make likeliest.

    Examples
    --------
    >>> clues = np.zeros((60, len(CLUES)))
    >>> clues[20, 2], clues[44, 2] = 5, 4
    >>> found = started(clues, np.arange(60) / 2)
    >>> found.second, found.other, round(found.share, 2)
    (10.0, 22.0, 0.91)

    """
    weight = clues @ np.array(list(weights.values()))
    likely = np.exp(weight - weight.max())
    likely /= likely.sum()
    near = np.abs(moments - moments[likely.argmax()]) <= WITHIN_S
    other = moments[np.where(near, 0, likely).argmax()]
    return Start(float(moments[likely.argmax()]), float(likely[near].sum()), float(other))


def clues_of(
    sound: Sound,
    own: np.ndarray,
    like: np.ndarray,
    place: tuple[int, int],
    free: int,
    laid: np.ndarray,
    told: np.ndarray,
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
    }
    return np.column_stack([columns[name] for name in CLUES]), at / SLOW


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
