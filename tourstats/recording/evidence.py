"""What speaks for a song at each second: that there is music, at the song's tempo, with its harmony."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.fft import rfft

from tourstats.recording.sound_features import FRAMES, SLOW, Features
from tourstats.recording.tempo import MULTIPLES, WEIGHTS, levelled

TEMPI = np.geomspace(38, 250, 190)
"""Beats a minute that are looked for everywhere: steps of one per cent."""
MUSIC = {"level": 0.05, "tonal": 0.0, "flat_mid": -0.35, "flat_high": -0.45, "bass": 0.2, "treble": -0.3, "pulse": 2.4}
MUSIC_ALWAYS = -4.7
STILL = 0.3
"""Onsets in half a second below which nothing is struck."""
NEAR = 0.06
"""How far from its usual tempo a song is looked for."""
SLOPES = (0.95, 1.0, 1.05)
DIAGONAL_S = 24
"""Seconds of harmony that are held against an earlier performance."""
USUAL_LIKENESS = 0.08
PART_S = 600
"""Seconds that are worked on at once: of six hours all at once would fill the memory."""


@dataclass(frozen=True)
class Wanted:
    """What is known of a song before the recording is read; NaN and () for what is not."""

    song: str
    bpm: float = np.nan
    seconds: float = np.nan
    chroma: tuple[np.ndarray, ...] = ()


def per_second(features: Features) -> np.ndarray:
    """Columns of `MUSIC`, a row a second: level against the loud quarter of the show, colours, and pulse."""
    seconds = len(features.colours) // SLOW
    slow = features.colours[: seconds * SLOW].reshape(seconds, SLOW, -1).mean(axis=1)
    slow = slow - np.concatenate([[np.quantile(slow[:, 0], 0.75) if seconds else 0.0], np.zeros(slow.shape[1] - 1)])
    slow[:, 0] = np.maximum(slow[:, 0], -40)
    rows: np.ndarray = slow
    return rows


def strokes(features: Features) -> np.ndarray:
    """Logarithm of the onsets in each group of bands, twice a second."""
    size, each = len(features.colours), FRAMES // SLOW
    halves = features.onsets[: size * each].reshape(size, each, -1)
    logs: np.ndarray = np.log(halves.sum(axis=1, dtype=np.float32) + np.float32(STILL))
    return logs


def pulses(onsets: np.ndarray, seconds: int) -> np.ndarray:
    """How strong the pulse at each of `TEMPI` is in the twelve seconds around each second, as a logarithm."""
    margin = 14
    rows = [np.zeros((0, len(TEMPI)), np.float32)]
    for start in range(0, seconds, PART_S):
        first = max(start - margin, 0)
        piece = onsets[first * FRAMES : (start + PART_S + margin) * FRAMES]
        rows.append(_pulses(piece, start - first, min(PART_S, seconds - start)))
    return np.concatenate(rows)


def _pulses(onsets: np.ndarray, first: int, seconds: int) -> np.ndarray:
    """The same for some seconds of a piece, from the `first` on."""
    half = levelled(onsets)[: len(onsets) // 2 * 2].reshape(len(onsets) // 2, 2, -1).sum(axis=1)
    size, rate = 12 * FRAMES // 2, FRAMES // 2
    padded = np.pad(half, ((size // 2, size), (0, 0)))
    views = np.lib.stride_tricks.sliding_window_view(padded, size, axis=0)[::rate][first : first + seconds]
    bins = np.round(np.outer(TEMPI / 60, MULTIPLES) * 2048 / rate).astype(int)
    taper = np.hanning(size).astype(np.float32)
    score = np.empty((seconds, len(TEMPI)), np.float32)
    for at in range(0, seconds, 100):
        spectrum = rfft(views[at : at + 100] * taper, 2048, axis=2)
        power = (spectrum.real**2 + spectrum.imag**2).sum(axis=1)
        combed = power[:, bins] @ WEIGHTS
        score[at : at + 100] = np.log(combed / (combed.mean(axis=1, keepdims=True) + 1e-9) + 0.05)
    return score


def music(slow: np.ndarray, pulse: np.ndarray) -> np.ndarray:
    """Log odds that there is music at each second, within three either way, smoothed over three seconds."""
    columns = np.column_stack([slow, pulse.max(axis=1)])
    odds = columns @ np.array(list(MUSIC.values())) + MUSIC_ALWAYS
    smooth = np.convolve(np.pad(odds, 1, mode="edge"), np.ones(3) / 3, "valid") if len(odds) else odds
    return np.clip(smooth, -3, 3)


def tempo_match(pulse: np.ndarray, wanted: list[Wanted]) -> np.ndarray:
    """For each song and second: the pulse near its tempo, less the mean of that over all songs of the set."""
    match = np.zeros((len(wanted), len(pulse)), np.float32)
    known = [at for at, song in enumerate(wanted) if song.bpm > 0]
    for at in known:
        near = np.abs(np.log(TEMPI / wanted[at].bpm)) <= NEAR
        if near.any():
            match[at] = pulse[:, near].max(axis=1)
    if known:
        match[known] -= match[known].mean(axis=0)
        # That the song beside it has a tempo that fits is no proof against one of which none is known.
        match[[at for at in range(len(wanted)) if at not in known]] = match[known].max(axis=0)
    return match


def seconds_of_chroma(features: Features) -> np.ndarray:
    """Chroma a second, as it is kept: (seconds, 12), without the show's mean colour, each row of length 1."""
    seconds = len(features.chroma) // SLOW
    slow = features.chroma[: seconds * SLOW].reshape(seconds, SLOW, 12).mean(axis=1)
    slow = slow - slow.mean(axis=0) if seconds else slow
    scaled: np.ndarray = (slow / (np.linalg.norm(slow, axis=1, keepdims=True) + 1e-9)).astype(np.float32)
    return scaled


def chroma_match(chroma: np.ndarray, wanted: list[Wanted]) -> np.ndarray:
    """For each song and second: likeness to an earlier performance, over what is usual at that second."""
    likeness = np.full((len(wanted), len(chroma)), np.nan, np.float32)
    for at, song in enumerate(wanted):
        for earlier in song.chroma:
            likeness[at] = np.fmax(likeness[at], along(chroma, earlier)[0])
    known = ~np.isnan(likeness).all(axis=1) if len(chroma) else np.zeros(len(wanted), bool)
    match = np.zeros_like(likeness)
    if known.any():
        match[known] = likeness[known] - np.median(likeness[known], axis=0) - USUAL_LIKENESS
    return match


def along(chroma: np.ndarray, earlier: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Best mean likeness over 24 s of walking along an earlier performance, and where that walk's middle is."""
    best, where = np.full(len(chroma), -1, np.float32), np.full(len(chroma), np.nan, np.float32)
    padded = np.pad(chroma, ((DIAGONAL_S // 2, DIAGONAL_S // 2), (0, 0)))
    for start in range(0, len(chroma) if len(earlier) else 0, PART_S):
        part = slice(start, start + PART_S)
        best[part], where[part] = _along(padded[start : start + PART_S + DIAGONAL_S], earlier)
    return best, where


def _along(padded: np.ndarray, earlier: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """The same of a part with half a walk more at both ends."""
    half = DIAGONAL_S // 2
    seconds, length = len(padded) - DIAGONAL_S, len(earlier)
    best, where = np.full(seconds, -1, np.float32), np.full(seconds, np.nan, np.float32)
    alike = np.pad(padded @ earlier.T, ((0, 0), (half, half)))
    for slope in SLOPES:
        total = np.zeros((seconds, length), np.float32)
        for step in range(-half, half):
            over = min(max(round(step * slope), -half), half)
            total += alike[half + step : half + step + seconds, half + over : half + over + length]
        top = total.argmax(axis=1)
        mean = total[np.arange(seconds), top] / DIAGONAL_S
        better = mean > best
        best[better], where[better] = mean[better], top[better]
    return best, where
