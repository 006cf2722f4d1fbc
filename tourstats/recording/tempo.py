"""How fast: a Fourier comb around the wanted tempo, followed through the song, then looked at closely.

Source of the parts: a comb over the power of onsets at the beat and its multiples is a predominant-pulse measure as in
Grosche & Müller (2011), "Extracting predominant local pulse information from music recordings"; the path is Viterbi's.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from tourstats.recording.sound_features import FRAMES

MULTIPLES = np.array([0.5, 1, 2, 3, 4])
WEIGHTS = np.array([0.6, 1, 1, 0.7, 0.8])
BIN = 0.0025
"""Step of the comb, as a share of the tempo."""
WIDE = 0.08
"""How far from a tempo is looked."""
EVERYWHERE = np.geomspace(36, 260, 500) / 60
PEAKS, APART, LOOKED, WITHIN, ALONE = 5, 12, (0.6, 1.7), (0.7, 1.45), 0.8
"""Where the wanted tempo is not sure so many of the strongest pulses are looked at, so many steps apart, if within the
first shares of it; the strongest is taken if within the second, and if the next that could be is at most so strong.
"""
ANY_BPM = 100.0
"""What stands for a wanted tempo that nobody wrote down: half and double are both right then."""
WINDOW_S, STEP_S = 12.0, 0.5
CLOSE_S, CLOSE_STEP_S = 16.0, 2.0
CLOSE = 0.012
"""How far from the path the close look goes, as a share."""
EDGE_S = 8.0
"""Seconds at both ends that are not used for the tempo itself: songs begin and end freely."""
TAILS = 0.1
"""The tempo is the mean without so much at either end: it lies between the median beat and beats over time."""
RATIOS = np.array([3 / 5, 5 / 8, 2 / 3, 3 / 4, 4 / 5, 5 / 4, 4 / 3, 3 / 2, 8 / 5, 5 / 3])
"""Other simple ratios at which the pulse could be just as strong: then the wanted tempo is not to be trusted."""
LEAST_S = 40.0
"""Shorter pieces are not measured."""
SUPPORT, SCORE, AT_EDGE, AS_STRONG = 0.7, 0.4, 0.3, 1.0
"""Sure: the share of time in which the path is the best, its mean score, at most so much at the edge of what was looked
at, and another simple ratio at most so strong."""
LIMITS = np.where(np.isclose(RATIOS, 2 / 3), 0.7, np.where(np.isclose(RATIOS, 3 / 2), 1.6, AS_STRONG))
"""In six-eight the pulse of the quarters, three halves of the beat, can be stronger than the beat, and is not meant."""


@dataclass(frozen=True)
class Tempo:
    """How fast one performance was. Without `sure`, the figures are not to be shown as such.

    bpm: its middle. drift: per cent from start to end. unsteadiness: spread about that line, per cent. seconds, curve:
    middle of each window and the tempo in it. why: what speaks against it, empty if sure.
    """

    bpm: float
    drift: float
    unsteadiness: float
    sure: bool
    seconds: np.ndarray
    curve: np.ndarray
    why: str
    doubts: dict[str, float]


NONE = Tempo(np.nan, np.nan, np.nan, False, np.zeros(0), np.zeros(0), "too short", {})


def tempo(onsets: np.ndarray, wanted: float) -> Tempo:
    """Tempo of a song from its onsets, given about how fast it was wanted.

    Parameters
    ----------
    onsets
        (100 a second, groups) of one song, as in `Features.onsets`.
    wanted
        Beats a minute as it is meant, NaN where nobody knows; what is found is within 8 % of it, or the pulse that
        stands out between seven tenths and one and a half of it.

    Examples
    --------
    >>> beat = np.arange(0, 60, 60 / 121.0)
    >>> clicks = np.zeros((6000, 1), np.float32)
    >>> clicks[np.round(beat * 100).astype(int)] = 1
    >>> found = tempo(clicks, 118)
    >>> round(found.bpm, 1), found.sure
    (121.0, True)

    """
    if len(onsets) < LEAST_S * FRAMES:
        return NONE
    level = levelled(onsets)
    first = _look(level, wanted) if wanted > 0 else replace(NONE, why="no tempo is written down, and none stands out")
    return first if first.sure else _elsewhere(level, wanted if wanted > 0 else ANY_BPM) or first


def _elsewhere(level: np.ndarray, wanted: float) -> Tempo | None:
    """The tempo of the strongest pulse that is plain and near enough to what was wanted; None if none stands out."""
    power = comb(level, EVERYWHERE, step=3.0).mean(axis=0)
    near = [at for at in _strongest(power) if LOOKED[0] <= 60 * EVERYWHERE[at] / wanted <= LOOKED[1]]
    looks = [(float(power[at]), _look(level, 60 * EVERYWHERE[at])) for at in near]
    plain = [(strength, look) for strength, look in looks if look.sure]
    if not plain or (len(plain) > 1 and plain[1][0] > ALONE * plain[0][0]):
        return None
    found = plain[0][1]
    return found if WITHIN[0] <= found.bpm / wanted <= WITHIN[1] else None


def _strongest(power: np.ndarray) -> list[int]:
    """The strongest peaks, none too near a stronger one; `scipy.signal` has this, and takes 38 MB to be loaded."""
    peaks = 1 + np.flatnonzero((power[1:-1] > power[:-2]) & (power[1:-1] >= power[2:]))
    apart: list[int] = []
    for at in peaks[np.argsort(-power[peaks])]:
        if len(apart) < PEAKS and all(abs(at - one) >= APART for one in apart):
            apart.append(int(at))
    return apart


def levelled(onsets: np.ndarray) -> np.ndarray:
    """Onsets less their mean over 0.6 s, over their strength in 8 s: a loud chorus counts no more than a verse."""
    centred = onsets - _running(onsets, int(0.6 * FRAMES))
    strength = np.sqrt(_running(centred**2, 8 * FRAMES))
    floor = 0.1 * np.sqrt((centred**2).mean(axis=0)) + 1e-9
    levelled: np.ndarray = (centred / (strength + floor)).astype(np.float32)
    return levelled


def _running(values: np.ndarray, size: int) -> np.ndarray:
    """Mean over the `size` rows around each; fewer at the ends."""
    total = np.concatenate([np.zeros((1, values.shape[1])), np.cumsum(values, axis=0, dtype=float)])
    low = np.maximum(np.arange(len(values)) - size // 2, 0)
    high = np.minimum(low + size, len(values))
    mean: np.ndarray = (total[high] - total[low]) / (high - low)[:, None]
    return mean


def _look(level: np.ndarray, wanted: float) -> Tempo:
    """One look around a tempo."""
    share = 1 + BIN * np.arange(-round(WIDE / BIN), round(WIDE / BIN) + 1)
    power = comb(level, wanted / 60 * share)
    score = np.log(power / (power.mean(axis=1, keepdims=True) + 1e-12) + 0.05)
    path = _path(score)
    middles = WINDOW_S / 2 + STEP_S * np.arange(len(path))
    at_path = wanted / 60 * share[path]
    support = np.abs(share[score.argmax(axis=1)] / share[path] - 1) < CLOSE
    seconds, curve = _closely(level, middles, at_path)
    doubts = {
        "support": float(support.mean()),
        "score": float(score[np.arange(len(path)), path].mean()),
        "edge": float((np.abs(path - len(share) // 2) > len(share) // 2 - 2).mean()),
        "other": _other(level, at_path),
    }
    return _judged(seconds, curve, doubts, len(level) / FRAMES)


def comb(level: np.ndarray, hertz: np.ndarray, *, window: float = WINDOW_S, step: float = STEP_S) -> np.ndarray:
    """Power of the pulse at each of some tempi, in windows along the song: (windows, tempi)."""
    size, hop = int(window * FRAMES), int(step * FRAMES)
    time = (np.arange(size) - size / 2) / FRAMES
    every = np.outer(hertz, MULTIPLES)
    turning = np.exp(-2j * np.pi * time[:, None] * every.reshape(1, -1)).astype(np.complex64)
    turning *= np.hanning(size).astype(np.float32)[:, None]
    waves = np.concatenate([turning.real, turning.imag], axis=1)
    views = np.lib.stride_tricks.sliding_window_view(level, size, axis=0)[::hop]
    power = np.zeros((len(views), every.size), np.float32)
    for group in range(level.shape[1]):
        for at in range(0, len(views), 128):
            both = np.ascontiguousarray(views[at : at + 128, group], np.float32) @ waves
            power[at : at + 128] += both[:, : every.size] ** 2 + both[:, every.size :] ** 2
    combed: np.ndarray = power.reshape(len(views), *every.shape) @ WEIGHTS
    return combed


def _path(score: np.ndarray) -> np.ndarray:
    """The best way through (windows, tempi): 0.35 a bin of change, at most three bins a step."""
    count, width = score.shape
    best, came = score[0].astype(float), np.zeros((count, width), np.int8)
    moves = np.arange(-3, 4)
    for at in range(1, count):
        padded = np.pad(best, 3, constant_values=-np.inf)
        options = np.stack([padded[3 + m : 3 + m + width] - 0.35 * abs(m) for m in moves])
        pick = options.argmax(axis=0)
        came[at] = moves[pick]
        best = options[pick, np.arange(width)] + score[at]
    path = np.empty(count, int)
    path[-1] = int(best.argmax())
    for at in range(count - 1, 0, -1):
        path[at - 1] = path[at] + came[at, path[at]]
    return path


def _closely(level: np.ndarray, middles: np.ndarray, at_path: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Tempo in windows of 16 s every 2 s: how slowly what is left turns once the path is taken out."""
    time = np.arange(len(level)) / FRAMES
    hertz = np.interp(time, middles, at_path)
    turns = np.cumsum(hertz) / FRAMES
    slow = FRAMES // 5
    count = len(level) // slow
    size, hop = int(CLOSE_S * 5), int(CLOSE_STEP_S * 5)
    left = CLOSE * np.linspace(-1.25, 1.25, 61)
    starts = np.arange(0, count - size + 1, hop)
    power = np.zeros((len(starts), len(left)))
    # One beat's worth of turns in each window: `left` is a share of the tempo there.
    for multiple, weight in zip(MULTIPLES, WEIGHTS, strict=True):
        turned = level * np.exp(-2j * np.pi * multiple * turns)[:, None]
        few = turned[: count * slow].reshape(count, slow, -1).mean(axis=1)
        few_turns = turns[: count * slow].reshape(count, slow).mean(axis=1)
        for row, start in enumerate(starts):
            part = few_turns[start : start + size] - few_turns[start]
            waves = np.exp(-2j * np.pi * multiple * np.outer(left, part)) * np.hanning(size)
            power[row] += weight * (np.abs(waves @ few[start : start + size]) ** 2).sum(axis=1)
    peak = power.argmax(axis=1)
    off = np.array([_summit(power[row], at, left) for row, at in enumerate(peak)])
    middle = np.interp((starts + size / 2) / 5, time, hertz)
    weighted = np.array([hertz[s * slow : (s + size) * slow].mean() for s in starts]) if len(starts) else middle
    return (starts + size / 2) / 5, 60 * weighted * (1 + off)


def _summit(power: np.ndarray, at: int, left: np.ndarray) -> float:
    """The top of the parabola through the highest bin and its neighbours."""
    if not 0 < at < len(power) - 1:
        return float(left[at])
    below, top, above = power[at - 1 : at + 2]
    curve = below - 2 * top + above
    return float(left[at] + (0.5 * (below - above) / curve if curve else 0) * (left[1] - left[0]))


def _other(level: np.ndarray, at_path: np.ndarray) -> float:
    """How strong the strongest pulse at another simple ratio is, against that at the path and over its limit."""
    middle = float(np.median(at_path))
    near = 1 + 0.01 * np.arange(-3, 4)
    tempi = middle * np.concatenate([[1.0], RATIOS])
    power = comb(level, np.outer(tempi, near).ravel(), step=3.0).mean(axis=0).reshape(len(tempi), -1).max(axis=1)
    strength = power[1:] / (power[0] + 1e-12)
    return float((strength * AS_STRONG / LIMITS).max())


def _judged(seconds: np.ndarray, curve: np.ndarray, doubts: dict[str, float], length: float) -> Tempo:
    """Figures of a curve, and whether to believe them."""
    inner = (seconds > EDGE_S) & (seconds < length - EDGE_S)
    if inner.sum() < 3:  # noqa: PLR2004  # a line through fewer says nothing
        return NONE
    ordered = np.sort(curve[inner])
    tails = int(TAILS * len(ordered))
    bpm = float(ordered[tails : len(ordered) - tails].mean())
    slope, start = _line(seconds, curve)
    spread = 1.4826 * np.median(np.abs(curve[inner] - start - slope * seconds[inner])) / bpm * 100
    why = [
        word
        for word, bad in (
            ("the pulse is not clear", doubts["support"] < SUPPORT or doubts["score"] < SCORE),
            ("it may be further from the tempo wanted", doubts["edge"] > AT_EDGE),
            ("another tempo fits as well", doubts["other"] > AS_STRONG),
        )
        if bad
    ]
    return Tempo(bpm, slope * length / bpm * 100, float(spread), not why, seconds, curve, "; ".join(why), doubts)


def _line(x: np.ndarray, y: np.ndarray) -> tuple[float, float]:
    """A robust line: Huber's weights, ten rounds."""
    weight = np.ones(len(x))
    slope, start = 0.0, float(np.median(y))
    for _ in range(10):
        slope, start = (float(v) for v in np.polyfit(x, y, 1, w=np.sqrt(weight)))
        off = np.abs(y - start - slope * x)
        limit = 1.5 * 1.4826 * np.median(off) + 1e-9
        weight = np.minimum(1, limit / np.maximum(off, limit))
    return slope, start
