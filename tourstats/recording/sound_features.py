"""What is kept of the sound while it streams by: onsets a hundred times a second, colour and harmony twice a second."""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np
from scipy.fft import next_fast_len, rfft

FRAMES = 100
"""Frames a second of the onsets."""
SLOW = 2
"""Rows a second of the slow features."""
EDGES = (35, 110, 280, 900, 2800, 5500, 9600)
"""Hertz between the groups of bands: kick, bass, low and high middle, snare, cymbals."""
BANDS = 40
LOUDER = 30.0
"""Times the running level: growth counts by its logarithm above it, as it is below."""
COLOURS = ("level", "tonal", "flat_mid", "flat_high", "bass", "treble")
LOUDEST = 1e-12


@dataclass(frozen=True)
class Features:
    """Everything that is known of a recording once it has been read.

    onsets: (100 a second, 6) growth of energy by group of bands. colours: (2 a second, `COLOURS`), the level in dB.
    chroma: (2 a second, 12) strength of each pitch class, sum 1. seconds: length. clipped: share at full scale.
    """

    onsets: np.ndarray
    colours: np.ndarray
    chroma: np.ndarray
    seconds: float
    clipped: float

    def part(self, start: float, end: float) -> Features:
        """The same between two moments, in seconds."""
        fast = slice(max(int(start * FRAMES), 0), max(int(end * FRAMES), 0))
        slow = slice(max(int(start * SLOW), 0), max(int(end * SLOW), 0))
        onsets, chroma = self.onsets[fast], self.chroma[slow]
        return Features(onsets, self.colours[slow], chroma, len(onsets) / FRAMES, self.clipped)


def features(blocks: Iterable[np.ndarray], rate: int) -> Features:
    """Hear a recording once, block by block.

    Parameters
    ----------
    blocks
        Mono sound between -1 and 1, in blocks of any length. What has been heard is let go.
    rate
        Samples a second, 8,000 or more.

    Examples
    --------
    >>> clicks = np.zeros(44100 * 4, np.float32)
    >>> clicks[::22050] = 0.9
    >>> heard = features([clicks], 44100)
    >>> heard.onsets.shape, heard.chroma.shape, heard.seconds
    ((400, 6), (8, 12), 4.0)

    """
    # Bytes grow in place; a list of arrays would be joined at the end, and stand in memory twice and in pieces.
    onsets, colours, chroma, total, clipped = bytearray(), bytearray(), bytearray(), 0, 0
    fast, slow = _Onsets(rate), _Slow(rate)
    for block in tens(blocks, rate):
        sound = np.nan_to_num(np.asarray(np.pad(block, (0, -len(block) % rate)), np.float32))
        total += len(sound)
        clipped += int((np.abs(sound) >= 0.999).sum())  # noqa: PLR2004  # full scale, but for rounding
        onsets += fast.next(sound).tobytes()
        rows, pitches = slow.next(sound)
        colours += rows.tobytes()
        chroma += pitches.tobytes()
    size = int(total / rate * FRAMES), int(total / rate * SLOW)
    return Features(
        np.frombuffer(onsets, np.float16).reshape(-1, len(EDGES) - 1)[: size[0]],
        np.frombuffer(colours, np.float32).reshape(-1, len(COLOURS))[: size[1]],
        np.frombuffer(chroma, np.float32).reshape(-1, 12)[: size[1]],
        total / rate,
        clipped / max(total, 1),
    )


def tens(blocks: Iterable[np.ndarray], rate: int) -> Iterator[np.ndarray]:
    """Blocks of exactly ten seconds, and what is left."""
    kept: list[np.ndarray] = []
    have, size = 0, 10 * rate
    for block in blocks:
        kept.append(block)
        have += len(block)
        while have >= size:
            joined = np.concatenate(kept)
            yield joined[:size]
            kept, have = [joined[size:]], have - size
    if have:
        yield np.concatenate(kept)


class _Onsets:
    """Growth of energy in six groups of bands, with what the next block needs of the last."""

    def __init__(self, rate: int) -> None:
        self.rate = rate
        self.window = np.hanning(round(0.048 * rate)).astype(np.float32)
        self.size = next_fast_len(len(self.window), real=True)
        self.weights, self.groups = _bands(rate, self.size)
        self.tail = np.zeros(len(self.window), np.float32)
        self.before: np.ndarray | None = None
        self.level: np.ndarray | None = None

    def next(self, sound: np.ndarray) -> np.ndarray:
        """A row every hundredth of a second of this block."""
        joined = np.concatenate([self.tail, sound])
        count = round(len(sound) / self.rate * FRAMES)
        starts = np.round(np.arange(count) * (self.rate / FRAMES)).astype(int)
        views = np.lib.stride_tricks.sliding_window_view(joined, len(self.window))
        power = np.empty((count, self.weights.shape[1]), np.float32)
        for at in range(0, count, 250):
            spectrum = rfft(views[starts[at : at + 250]] * self.window, self.size, axis=1)
            power[at : at + 250] = (spectrum.real**2 + spectrum.imag**2) @ self.weights
        self.tail = joined[-len(self.window) :]
        mean = power.mean(axis=0) + LOUDEST
        self.level = mean if self.level is None else 0.5 * self.level + 0.5 * mean
        before = np.repeat(power[:1], 2, axis=0) if self.before is None else self.before
        loud = np.log1p(LOUDER * np.concatenate([before, power]) / self.level)
        self.before = power[-2:]
        grown: np.ndarray = (np.maximum(loud[2:] - loud[:-2], 0) @ self.groups).astype(np.float16)
        return grown


def _bands(rate: int, size: int) -> tuple[np.ndarray, np.ndarray]:
    """Weights from the bins of a spectrum to bands, and from bands to their groups."""
    hertz = np.fft.rfftfreq(size, 1 / rate)
    edges = np.geomspace(EDGES[0], EDGES[-1], BANDS + 1)
    weights = np.zeros((len(hertz), BANDS), np.float32)
    groups = np.zeros((BANDS, len(EDGES) - 1), np.float32)
    for band, (low, high) in enumerate(itertools.pairwise(edges)):
        middle, half = (low + high) / 2, max((high - low) / 2, hertz[1])
        weights[:, band] = np.maximum(0, 1 - np.abs(hertz - middle) / half)
        if middle < rate / 2:
            groups[band, np.searchsorted(EDGES, middle) - 1] = 1
    return weights, groups / np.maximum(groups.sum(axis=0), 1)


class _Slow:
    """Colour and harmony in windows of 0.4 s, twice a second."""

    def __init__(self, rate: int) -> None:
        self.rate = rate
        self.window = np.hanning(round(0.4 * rate)).astype(np.float32)
        self.size = next_fast_len(len(self.window), real=True)
        self.hertz = np.fft.rfftfreq(self.size, 1 / rate)

    def next(self, sound: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Two rows for each second of this block: `COLOURS`, and chroma."""
        step = self.rate / SLOW
        starts = np.round(np.arange(int(len(sound) / step)) * step).astype(int)
        frames = np.stack([sound[start : start + len(self.window)] for start in starts]) * self.window
        spectrum = np.abs(rfft(frames, self.size, axis=1)).astype(np.float32)
        return self._colours(frames, spectrum), self._chroma(spectrum)

    def _between(self, low: float, high: float) -> slice:
        first, last = np.searchsorted(self.hertz, (low, high))
        return slice(int(first), max(int(last), int(first) + 1))

    def _colours(self, frames: np.ndarray, spectrum: np.ndarray) -> np.ndarray:
        power = spectrum**2 + LOUDEST
        whole = power.sum(axis=1)
        level = 10 * np.log10((frames**2).mean(axis=1) + 1e-10)

        def flat(low: float, high: float) -> np.ndarray:
            part = power[:, self._between(low, high)]
            flatness: np.ndarray = np.log(part).mean(axis=1) - np.log(part.mean(axis=1))
            return flatness

        root = np.sqrt(spectrum[:, self._between(150, 3000)])
        wide = 41
        total = np.cumsum(np.pad(root, ((0, 0), (wide // 2 + 1, wide // 2)), mode="edge"), axis=1)
        local = (total[:, wide:] - total[:, :-wide]) / wide
        tonal = np.where(root > 1.2 * local, root, 0).sum(axis=1) / (root.sum(axis=1) + LOUDEST)
        bass = power[:, self._between(20, 150)].sum(axis=1) / whole
        treble = power[:, self._between(2500, 8000)].sum(axis=1) / whole
        columns = [level, tonal, flat(300, 3000), flat(3000, 8000), np.log(bass + 1e-4), np.log(treble + 1e-4)]
        return np.stack(columns, axis=1).astype(np.float32)

    def _chroma(self, spectrum: np.ndarray) -> np.ndarray:
        """Strength of each pitch class among the peaks between 100 and 2,200 Hz."""
        part = self._between(100, 2200)
        middle = spectrum[:, part]
        left, right = spectrum[:, part.start - 1 : part.stop - 1], spectrum[:, part.start + 1 : part.stop + 1]
        peak = (middle > left) & (middle >= right)
        bend = 0.5 * (left - right) / (left - 2 * middle + right - LOUDEST)
        hertz = self.hertz[part] + np.clip(bend, -0.5, 0.5) * self.hertz[1]
        place = 12 * np.log2(hertz / 440)
        strength = np.where(peak, np.sqrt(middle), 0)
        low = np.floor(place)
        share = place - low
        chroma = np.zeros((len(spectrum), 12), np.float32)
        rows = np.broadcast_to(np.arange(len(spectrum))[:, None], low.shape)
        np.add.at(chroma, (rows[peak], low[peak].astype(int) % 12), (strength * (1 - share))[peak])
        np.add.at(chroma, (rows[peak], (low[peak].astype(int) + 1) % 12), (strength * share)[peak])
        scaled: np.ndarray = chroma / (chroma.sum(axis=1, keepdims=True) + LOUDEST)
        return scaled
