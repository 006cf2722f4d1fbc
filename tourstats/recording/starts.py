"""Where a song begins: each half second near its place is weighed, and what else weighs nearly as much is told.

What is tried before a song, a false start, a soft first verse and a pause all make two starts nearly as likely. A start
is as sure as the share of all likelihood that lies within six seconds of it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from tourstats.recording.sound_features import SLOW

EARLIER_S, LATER_S = 60, 40
"""How far from where the set was laid a start is looked for."""
WITHIN_S = 6
"""Starts nearer than this are one."""
SIDE_S = 4
"""Seconds before and after a moment that are held against one another."""
OWN = {"like": 12.2, "music": 0.7, "tempo": 1.7}
OWN_ALWAYS = -8.7
"""Log odds that a second is the song's, by harmony, music and pulse against its middle."""
CLUES = {
    "enters": 0.32, "enters_much": 3.07, "own": 0.56, "stops_soon": 1.8, "loud_after": -1.2,
    "like_before": -6.61, "like_after": 17.65, "from_told": -0.24, "from_laid": -0.94,
}  # fmt: skip
"""What speaks for a start, in units of log likelihood; fitted as `benchmarks/recording.md` says."""


@dataclass(frozen=True)
class Sound:
    """What is heard twice a second: `strokes`, logarithms of the onsets in each group of bands; `level`, in dB."""

    strokes: np.ndarray
    level: np.ndarray


@dataclass(frozen=True)
class Start:
    """A start in seconds, the share of likelihood near it, and the likeliest of the others."""

    second: float
    share: float
    other: float


def started(clues: np.ndarray, moments: np.ndarray) -> Start:
    """The start that all clues together make likeliest.

    Examples
    --------
    >>> clues = np.zeros((60, len(CLUES)))
    >>> clues[20, 0], clues[44, 0] = 30, 27
    >>> found = started(clues, np.arange(60) / 2)
    >>> found.second, found.other, round(found.share, 2)
    (10.0, 22.0, 0.72)

    """
    weight = clues @ np.array(list(CLUES.values()))
    likely = np.exp(weight - weight.max())
    likely /= likely.sum()
    near = np.abs(moments - moments[likely.argmax()]) <= WITHIN_S
    other = moments[np.where(near, 0, likely).argmax()]
    return Start(float(moments[likely.argmax()]), float(likely[near].sum()), float(other))


def clues_of(
    sound: Sound, own: np.ndarray, like: np.ndarray, place: tuple[int, int], free: int, told: float | None
) -> tuple[np.ndarray, np.ndarray]:
    """Columns of `CLUES` for each half second near a start, and these moments in seconds.

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
    told
        The start that an earlier performance tells, where it does.

    """
    start, end = place
    size = len(sound.level)
    at = np.arange(SLOW * max(free, start - EARLIER_S, 0), SLOW * min(start + LATER_S, end - 20))
    middle = slice(SLOW * (start + 30), max(SLOW * (end - 8), SLOW * (start + 40)))
    enters = np.mean(_mean(sound.strokes, at, 0, SIDE_S) - _mean(sound.strokes, at, -SIDE_S, 0), axis=1)
    level = np.convolve(sound.level, np.ones(3) / 3, "same")
    lowest = np.quantile(level[middle], 0.05)
    stops = [level[min(one + 3, size - 2) : one + 40].min() - lowest for one in at]
    likes = np.repeat(like, SLOW)[:, None]
    after = np.cumsum(np.repeat(own, SLOW)[at[0] : at[-1] + 2][::-1] / SLOW)[::-1]
    owns = after[: len(at)] - after[0] / 2
    columns = {
        "enters": enters,
        "enters_much": np.clip(enters, 0, 1) ** 2,
        "own": np.maximum(owns - owns.max(), -60) / 10,
        "stops_soon": np.clip(stops, -15, 0) / 5,
        "loud_after": np.clip(_mean(sound.level[:, None], at, 0, 6)[:, 0] - np.median(sound.level[middle]), -15, 5) / 5,
        "like_before": _mean(likes, at, -7, -1)[:, 0],
        "like_after": _mean(likes, at, 1, 7)[:, 0],
        "from_told": np.zeros(len(at)) if told is None else np.minimum((at / SLOW - told) ** 2 / 4, 16),
        "from_laid": np.abs(at / SLOW - start) / 10,
    }
    return np.column_stack([columns[name] for name in CLUES]), at / SLOW


def owned(like: np.ndarray, music: np.ndarray, tempo: np.ndarray, place: tuple[int, int]) -> np.ndarray:
    """For each second, log odds that it is the song's, by what its own middle is like."""
    middle = slice(place[0] + 8, max(place[1] - 8, place[0] + 9))
    odds = OWN["like"] * np.clip(like, 0, 1.2) + OWN["music"] * (music - np.median(music[middle])) + OWN_ALWAYS
    odds = odds + OWN["tempo"] * np.clip(tempo - np.median(tempo[middle]), -2, 1)
    clipped: np.ndarray = np.clip(odds, -4, 4)
    return clipped


def _mean(rows: np.ndarray, at: np.ndarray, first: float, last: float) -> np.ndarray:
    """Mean of the rows between two moments, in seconds from each of some half seconds; 0 where there are none."""
    sums = np.concatenate([np.zeros((1, rows.shape[1])), np.cumsum(rows, axis=0, dtype=float)])
    low, high = (np.clip(at + round(SLOW * edge), 0, len(rows)) for edge in (first, last))
    mean: np.ndarray = (sums[high] - sums[low]) / np.maximum(high - low, 1)[:, None]
    return mean
