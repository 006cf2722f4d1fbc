"""The two-state rule: of the songs that had stayed, or been out, for so long, how many were in the next set."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from tourstats.models.swaps.draws import logit
from tourstats.models.swaps.ledger import Ledger

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

RUNS = np.array([2, 3, 4, 6, 9])
"""Where the steps of the length of a run begin."""

OUTS = np.array([2, 3, 4, 5, 6, 8, 10, 13, 17, 25, 40])
"""Where the steps of the shows out begin."""

_NEVER = len(RUNS) + 1 + len(OUTS) + 1
_STRENGTH = 6.0
_START = {"stay": (1.2, 2.0), "come": (0.16, 2.0)}


def out_cells(out: Ints) -> Ints:
    """Step in which a song is that has been played and has been out for so many shows."""
    return np.asarray(len(RUNS) + 1 + np.searchsorted(OUTS, out, side="right"))


class Hazards:
    """Counts of what happened, by how long a song had stayed or been out; few counts are drawn to the common share."""

    def __init__(self) -> None:
        """Begin with nothing counted."""
        self.happened, self.tries = np.zeros(_NEVER + 1), np.zeros(_NEVER + 1)

    @staticmethod
    def cells(ledger: Ledger, songs: Ints) -> Ints:
        """Step in which each song is: steps of runs first, then of shows out, then never played."""
        absent = np.where(ledger.ever[songs], out_cells(ledger.out[songs]), _NEVER)
        return np.where(ledger.last[songs], np.searchsorted(RUNS, ledger.run[songs], side="right"), absent)

    def logits(self, cells: Ints) -> Floats:
        """Log odds of being in the next set."""
        shares = np.empty(_NEVER + 1)
        stay, come = slice(0, len(RUNS) + 1), slice(len(RUNS) + 1, _NEVER)
        for name, part, filled in (("stay", stay, stay), ("come", come, slice(len(RUNS) + 1, _NEVER + 1))):
            happened, tries = _START[name]
            common = (self.happened[part].sum() + happened) / (self.tries[part].sum() + tries)
            shares[filled] = (self.happened[filled] + _STRENGTH * common) / (self.tries[filled] + _STRENGTH)
        return logit(shares[cells])

    def learn(self, cells: Ints, happened: Floats) -> None:
        """Count one show."""
        self.happened = self.happened + np.bincount(cells, happened, minlength=_NEVER + 1)
        self.tries = self.tries + np.bincount(cells, minlength=_NEVER + 1)
