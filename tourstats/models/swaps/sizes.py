"""How many songs the next set has."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

_HALF_LIFE, _UNLISTED_HALF_LIFE = 20.0, 5.0
_KERNEL = {-2: 0.05, -1: 0.15, 0: 0.6, 1: 0.15, 2: 0.05}
_SMOOTHED = 0.15
_NEGLIGIBLE = 0.004


class Sizes:
    """Numbers of songs in past sets: of those listed before the show, and of those nobody had listed."""

    def __init__(self) -> None:
        """Begin with no set."""
        self.listed: list[int] = []
        self.unlisted: list[int] = []

    def learn(self, listed: int, unlisted: int) -> None:
        """Count one set."""
        self.listed.append(listed)
        self.unlisted.append(unlisted)

    def chances(self, most: int, set_size: int | None = None, taken: int = 0) -> Floats:
        """Chance of 0, 1, … listed songs in the next set, at most `most`, when others take `taken` places.

        Half of it goes by the sizes of past sets, half by the last size and past steps from one to the next.
        """
        if set_size is not None and taken >= set_size:
            return np.asarray(np.eye(1, most + 1)[0])  # the known titles fill the set
        if set_size is not None:
            later = np.array(self.unlisted[1:] or [0])
            table = np.zeros(max(most, set_size) + 1)
            np.add.at(
                table, np.maximum(set_size - np.maximum(later, taken), 0), _faded(len(later), _UNLISTED_HALF_LIFE)
            )
            return _cut(table, most)
        seen = np.array(self.listed)
        reach = max(most, seen.max()) + 3
        level, step = np.zeros(reach), np.zeros(reach)
        np.add.at(level, seen, _faded(len(seen), _HALF_LIFE))
        level = (1 - _SMOOTHED) * level + _SMOOTHED * _smoothed(level)
        step[seen[-1]] = 1.0
        step = _smoothed(step)
        if len(seen) > 1:
            there = np.clip(seen[-1] + np.diff(seen), 0, reach - 1)
            np.add.at(step, there, 0.5 ** (np.arange(len(there))[::-1] / _HALF_LIFE))
        both = level / level.sum() + step / step.sum()
        return _cut(np.append(both[taken:], np.zeros(taken)), most)


def _faded(number: int, half_life: float) -> Floats:
    """Weights that add up to one, the last one largest."""
    weights = 0.5 ** (np.arange(number)[::-1] / half_life)
    return np.asarray(weights / weights.sum())


def _smoothed(table: Floats) -> Floats:
    """Let each size stand for its neighbours too; less than no song is no song."""
    below = -min(_KERNEL)
    wide = np.append(np.zeros(below), table)
    wide = np.asarray(sum(share * np.roll(wide, step) for step, share in _KERNEL.items()))
    wide[below] += wide[:below].sum()
    return wide[below:]


def _cut(table: Floats, most: int) -> Floats:
    """Chances up to `most`; larger sets are sets of all the songs there are."""
    table = np.append(table[:most], table[most:].sum())
    table = np.where(table < _NEGLIGIBLE * table.sum(), 0.0, table)
    if most:
        table[0] = 0.0
        if not table.sum():
            table[1] = 1.0
    return np.asarray(table / table.sum())
