"""The same place in two performances of a song, by their harmony."""

from __future__ import annotations

import numpy as np

from tourstats.recording.kept import Kept

MOVE = 0.15
"""What a step off the even pace costs, in units of likeness a second."""


def same_place(tonight: Kept, earlier: Kept, seconds: float) -> float:
    """Where in an earlier performance the music of a moment tonight is, both in seconds from the start of the song.

    Examples
    --------
    >>> chroma = np.eye(12, dtype=np.float32)[np.arange(60) // 4 % 12]
    >>> before, now = (Kept(np.zeros(0), 0, np.zeros(0), part) for part in (chroma, chroma[8:]))
    >>> same_place(now, before, 20.0)
    28.0

    """
    one, other = tonight.chroma, earlier.chroma
    if not len(one) or not len(other):
        return max(seconds, 0.0)
    path = _path(one @ other.T)
    at = min(max(seconds, 0.0), len(one) - 1)
    return float(path[int(at)] + at % 1)


def _path(alike: np.ndarray) -> np.ndarray:
    """For each second of one, the second of the other on the best way through both; each step goes on by 0, 1 or 2."""
    rows, columns = alike.shape
    best = alike[0] - MOVE * np.abs(np.arange(columns)) / 8
    came = np.zeros((rows, columns), np.int8)
    for row in range(1, rows):
        padded = np.concatenate([[-np.inf, -np.inf], best])
        options = np.stack([padded[2:] - MOVE, padded[1:-1], padded[:-2] - MOVE])
        came[row] = options.argmax(axis=0)
        best = options.max(axis=0) + alike[row]
    path = np.empty(rows, int)
    path[-1] = int((best - MOVE * (columns - 1 - np.arange(columns)) / 8).argmax())
    for row in range(rows - 1, 0, -1):
        path[row - 1] = path[row] - came[row, path[row]]
    return path
