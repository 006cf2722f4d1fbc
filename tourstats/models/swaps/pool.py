"""Four ways to say who stays and who comes in, pooled by how well each did so far, and one draw from them.

The pool goes forward one show at a time: it says what it expects, sees the set, learns, and goes on. A forecast of the
next show is the last step of the same walk, so what is measured on past shows is what is used tomorrow.
"""

from __future__ import annotations

from copy import copy
from dataclasses import dataclass
from functools import cached_property
from math import fsum

import numpy as np
from numpy.typing import NDArray

from tourstats.models.swaps import features, ridge
from tourstats.models.swaps.draws import Counts, Draw, count_swaps, logit, tilted
from tourstats.models.swaps.features import BOTH, COME, STAY, Rows
from tourstats.models.swaps.hazards import Hazards
from tourstats.models.swaps.history import History, same_past
from tourstats.models.swaps.ledger import Ledger
from tourstats.models.swaps.sizes import Sizes

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

MEMBERS = ("two fits", "stay and return", "one fit", "carry-over")
"""A ridge fit for each state; pooled hazards; one ridge fit for both states; one chance for each state."""

_HALF_LIFE = 60.0
_RIDGE = {"two": (2.0, 20.0), "one": (4.0, 150.0)}
"""Penalty after many shows, and how much more (shared out over the shows so far) there is at first."""
_LEVEL_RIDGE = 0.02
_EARLY, _SETTLED = 12, 40
"""Shows up to which a refit takes eight steps, and two; later one is enough, since one more show moves little."""
_FEW = 2
"""With so few sets, the fits say nothing of their own."""
_COME_AGAIN = 0.6
_LEARNING, _FORGETTING, _FLOOR = 0.3, 0.98, 0.1
_CUT = 7.0
_WIDER, _HIDDEN = 1.3, 0.6
_SPREAD_START = np.log([1, 1, 1, 0.7, 0.4, 0.2, 0.1])


class _Fit:
    """One ridge fit; it grows by the rows of each show and is fitted again from where it was."""

    def __init__(self, levels: NDArray[np.bool_], penalty: tuple[float, float]) -> None:
        self.levels, self.penalty = levels, penalty
        self.rows, self.happened, self.at = np.empty((512, len(levels))), np.empty(512), np.empty(512)
        self.count = 0
        self.coefficients = np.zeros(len(levels))
        self.covariance = np.diag(1 / self._ridge(0))

    def _ridge(self, at: int) -> Floats:
        lasting, early = self.penalty
        return np.where(self.levels, _LEVEL_RIDGE, lasting + early / (1 + at))

    def learn(self, rows: Floats, happened: Floats, at: int) -> None:
        """Add the rows of a show, in an order of their own, and fit again."""
        order = np.lexsort((happened, *rows.T)) if len(rows) else slice(None)
        end = self.count + len(rows)
        while end > len(self.rows):
            self.rows = np.concatenate([self.rows, np.empty_like(self.rows)])
            self.happened = np.concatenate([self.happened, np.empty_like(self.happened)])
            self.at = np.concatenate([self.at, np.empty_like(self.at)])
        new = slice(self.count, end)
        self.rows[new], self.happened[new], self.at[new] = rows[order], happened[order], at
        self.count = end
        if not end:
            return
        weights = 0.5 ** ((at - self.at[:end]) / _HALF_LIFE)
        self.coefficients, self.covariance = ridge.fit(
            self.rows[:end],
            self.happened[:end],
            weights,
            self._ridge(at),
            self.coefficients,
            steps=8 if at <= _EARLY else 2 if at <= _SETTLED else 1,
        )


@dataclass(frozen=True)
class Step:
    """What is expected of one show.

    Attributes
    ----------
    at
        Which show.
    rows
        Features of the candidates; all that follows is in their order.
    members
        Log odds by each of `MEMBERS` (rows).
    weights
        Weight of each of them in the pool.
    sizes
        Chance of 0, 1, … songs in the set.
    counts
        Chance of each number of swaps.
    chances
        Chance of each song; together the expected size of the set.
    coefficients, covariances
        Of the fits: songs that stay, songs that come in, both.
    taste
        Variance of the log odds of songs that the pool has not learned to tell apart: those that stay, those that come.
    ledger, hazards
        What was known of each song, and of staying and returning.

    """

    at: int
    rows: Rows
    members: Floats
    weights: Floats
    sizes: Floats
    counts: Counts
    chances: Floats
    coefficients: tuple[Floats, Floats, Floats]
    covariances: tuple[Floats, Floats, Floats]
    taste: Floats
    ledger: Ledger
    hazards: Hazards

    @cached_property
    def draw(self) -> Draw:
        """The set as a draw with these chances."""
        return Draw.of(self.chances, self.rows.stays, self.counts)

    @property
    def spread(self) -> Floats:
        """How far the leader's own log odds may be from these, as a standard deviation.

        Errors of the fits, differences between the members, and tastes not learned yet add up; the two constants were
        set so that 80 % intervals hold four in five of the chances of made-up leaders. With leaders whose mood changes
        they hold fewer, with leaders who draw lots they hold all.
        """
        stay, come, both = (
            np.einsum("ij,jk,ik->i", rows, covariance, rows)
            for rows, covariance in zip((self.rows.stay, self.rows.come, self.rows.both), self.covariances, strict=True)
        )
        fits = self.weights[0] * np.concatenate([stay, come]) + self.weights[2] * both
        between = self.weights @ (self.members - self.weights @ self.members) ** 2
        learned = fits + between + np.where(self.rows.stays, *self.taste)
        return np.asarray(np.sqrt(_WIDER**2 * learned + _HIDDEN**2))


class Pool:
    """Members, their weights, and what else is learned from show to show."""

    def __init__(self, history: History) -> None:
        """Begin after the first show."""
        self.ledger = Ledger(history)
        self.two = (
            _Fit(np.array([name == "level" for name in STAY]), _RIDGE["two"]),
            _Fit(np.array([name == "level" for name in COME]), _RIDGE["two"]),
        )
        self.one = _Fit(np.array([name == "level" for name, _ in BOTH]), _RIDGE["one"])
        self.hazards, self.sizes = Hazards(), Sizes()
        self.carried, self.tried = np.array([1.2, 0.4]), np.array([2.0, 4.0])
        self.scores = np.zeros(len(MEMBERS))
        self.spread_scores = _SPREAD_START.copy()
        self.residuals, self.variances = np.zeros((2, len(history.songs))), np.zeros((2, len(history.songs)))
        # A first set of songs that nobody had listed does not say how many of them come again: some new ones will come.
        size, listed = int(history.played[0].sum()), int((history.played[0] & history.candidate[0]).sum())
        self.sizes.learn(listed + round(_COME_AGAIN * (size - listed)), 0)
        self.ledger.learn()
        self.steps = [self._step() for _ in range(1, history.sets)]

    def _step(self) -> Step:
        """Expect the next show that has a set, and learn from it."""
        step = self.expect()
        self.learn(step)
        return step

    def before(self, history: History) -> Pool:
        """The same pool with another show to come."""
        pool = copy(self)
        pool.ledger = copy(self.ledger)
        pool.ledger.history = history
        return pool

    def expect(self, set_size: int | None = None, taken: int = 0) -> Step:
        """Say what is expected of the show at hand; songs of no list may have `taken` some places."""
        rows = features.of_show(self.ledger)
        members = self._members(rows)
        weights = _shares(_LEARNING * self.scores)
        weights = (1 - _FLOOR) * weights + _FLOOR / len(weights)
        sizes = self.sizes.chances(len(rows.songs), set_size, taken)
        chances = tilted(weights @ members, float(sizes @ np.arange(len(sizes))))
        counts = count_swaps(chances, rows.stays, sizes, _shares(self.spread_scores))
        return Step(
            at=self.ledger.at,
            rows=rows,
            members=members,
            weights=weights,
            sizes=sizes,
            counts=counts,
            chances=chances,
            coefficients=(self.two[0].coefficients, self.two[1].coefficients, self.one.coefficients),
            covariances=(self.two[0].covariance, self.two[1].covariance, self.one.covariance),
            taste=self._taste(),
            ledger=copy(self.ledger),
            hazards=copy(self.hazards),
        )

    def _members(self, rows: Rows) -> Floats:
        """Log odds of each song by each member."""
        hazards = self.hazards.logits(self.hazards.cells(self.ledger, rows.songs))
        carry = np.where(rows.stays, *logit(self.carried / self.tried))
        if self.ledger.at <= _FEW:
            two = one = hazards
        else:
            two = np.concatenate([rows.stay @ self.two[0].coefficients, rows.come @ self.two[1].coefficients])
            one = rows.both @ self.one.coefficients
        return np.asarray(np.clip(np.stack([two, hazards, one, carry]), -_CUT, _CUT))

    def _taste(self) -> Floats:
        """How much more the songs' own totals differ from what was expected than chance allows, as a variance."""
        excess = np.array([fsum(songs) for songs in self.residuals**2 - self.variances])
        room = np.array([fsum(songs) for songs in self.variances**2])
        return np.asarray(np.clip(excess / np.maximum(room, 1.0), 0.0, 4.0))

    def learn(self, step: Step) -> None:
        """See the set that was played, and learn from it."""
        history, t, rows = self.ledger.history, step.at, step.rows
        played = history.played[t, rows.songs].astype(float)
        here = rows.staying
        sign = 1 - 2 * played
        self.scores = _FORGETTING * self.scores - [fsum(losses) for losses in np.logaddexp(0, sign * step.members)]
        gone, came = here - int(played[:here].sum()), int(played[here:].sum())
        chance = step.counts.spread_scores(gone, came)
        self.spread_scores += np.log(np.maximum(np.nan_to_num(chance), 1e-12))
        kind = (~rows.stays).astype(np.int64)
        self.residuals[kind, rows.songs] += played - step.chances
        self.variances[kind, rows.songs] += step.chances * (1 - step.chances)
        self.hazards.learn(self.hazards.cells(self.ledger, rows.songs), played)
        self.carried += [played[:here].sum(), played[here:].sum()]
        self.tried += [here, len(played) - here]
        self.two[0].learn(rows.stay, played[:here], t)
        self.two[1].learn(rows.come, played[here:], t)
        self.one.learn(rows.both, played, t)
        self.sizes.learn(int(played.sum()), int(history.played[t].sum() - played.sum()))
        self.ledger.learn()


def _shares(scores: Floats) -> Floats:
    """Weights that add up to one from log scores."""
    weights = np.exp(scores - scores.max())
    return np.asarray(weights / weights.sum())


def learned(history: History) -> Pool:
    """A pool that has learned from every set, with what it expected of each.

    The latest one is kept: what may be known of one show, or asked of the next five, changes nothing in the past. A
    page asks four times, and then how good its forecasts were.
    """
    if not (_LATEST and same_past(_LATEST[0].ledger.history, history)):
        _LATEST[:] = [Pool(history)]
    return _LATEST[0]


def last_step(history: History, set_size: int | None = None, taken: int = 0) -> Step:
    """Learn from every set, and say what is expected of the show to come."""
    return learned(history).before(history).expect(set_size, taken)


_LATEST: list[Pool] = []
