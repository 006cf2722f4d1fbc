"""Random choices that come out the same on every machine.

Only uniform numbers are taken from the generator; everything else is made of them here, so that a new version of a
sampler elsewhere cannot change the demo tour.
"""

from __future__ import annotations

import math
from collections.abc import Hashable, Mapping, Sequence
from statistics import NormalDist
from typing import TypeVar

import numpy as np

T = TypeVar("T")
Item = TypeVar("Item", bound=Hashable)
_NORMAL = NormalDist()


class Dice:
    """A seeded source of choices; each stage of the process has its own."""

    def __init__(self, *seed: int) -> None:
        self._random = np.random.default_rng(seed).random

    def uniform(self, low: float = 0.0, high: float = 1.0) -> float:
        """Any number between the two."""
        return low + (high - low) * float(self._random())

    def chance(self, of: float) -> bool:
        """Happen with this chance."""
        return self.uniform() < of

    def normal(self, mean: float = 0.0, sd: float = 1.0) -> float:
        """Draw from the normal distribution."""
        return mean + sd * _NORMAL.inv_cdf(max(self.uniform(), 1e-12))

    def poisson(self, mean: float) -> int:
        """How many come when `mean` are expected."""
        left, many = math.exp(-mean), 0
        product = self.uniform()
        while product > left:
            product *= self.uniform()
            many += 1
        return many

    def whole(self, low: int, high: int) -> int:
        """Any whole number from low to high, both included."""
        return low + int(self.uniform() * (high - low + 1))

    def pick(self, items: Sequence[T], weights: Sequence[float] | None = None) -> T:
        """One of the items."""
        if weights is None:
            return items[self.whole(0, len(items) - 1)]
        left = self.uniform() * sum(weights)
        for item, weight in zip(items, weights, strict=True):
            left -= weight
            if left < 0:
                return item
        return items[-1]

    def draw(self, log_odds: Mapping[Item, float], many: int) -> list[Item]:
        """Draw some, one after the other, none twice, each time by the odds of those that are left."""
        keys = {item: odds - math.log(-math.log(max(self.uniform(), 1e-300))) for item, odds in log_odds.items()}
        return sorted(keys, key=lambda item: -keys[item])[:many]
