"""Exact chances of a draw of fixed size, and of how many songs change when quiet and busy nights differ.

First how many songs go and come, then which. Which is a draw of fixed size: of independent yes-or-no songs, keep the
outcomes with n yeses (conditional Bernoulli; Chen and Liu 1997), with odds fitted so that each song keeps its chance
(Tillé 2006, chapter 5). Sums over all such outcomes are products of small polynomials, taken song by song.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

SURE = 25.0
"""Logits are cut here: e^-25 is nothing, and still a number."""

_EXACT = 1e-10
_NEVER = 1e-12


def logit(chance: ArrayLike) -> Floats:
    """Log odds of a chance."""
    p = np.asarray(chance, dtype=float)
    return np.asarray(np.log(p) - np.log1p(-p))


def expit(logits: ArrayLike) -> Floats:
    """Chance of a log odds."""
    return np.asarray(1 / (1 + np.exp(-np.clip(np.asarray(logits, dtype=float), -SURE, SURE))))


def yeses(chances: Floats, most: int | None = None) -> Floats:
    """Chance of 0, 1, … yeses among independent songs (Poisson binomial).

    Parameters
    ----------
    chances
        Chance of each song, along the last axis; axes before it are worked through side by side.
    most
        Largest count wanted; all of them if not said.

    Returns
    -------
    array
        Chances of 0 … `most` along the last axis.

    Examples
    --------
    >>> yeses(np.array([0.5, 0.1])).round(3).tolist()
    [0.45, 0.5, 0.05]

    """
    number = chances.shape[-1]
    most = number if most is None else most
    counts = np.zeros((*chances.shape[:-1], most + 1))
    counts[..., 0] = 1.0
    for k in range(number):
        p = chances[..., k, None]
        top = min(k + 1, most)
        moved = counts[..., :top] * p
        counts[..., : top + 1] *= 1 - p
        counts[..., 1 : top + 1] += moved
    return counts


def _without_each(chances: Floats, most: int) -> tuple[Floats, Floats]:
    """Counts among the songs before each one, and among those after it."""
    number = len(chances)
    before, after = np.zeros((number, most + 1)), np.zeros((number, most + 1))
    if not number:
        return before, after
    before[0, 0] = after[-1, 0] = 1.0
    both = np.stack([before[0], after[-1]])
    for k in range(1, number):
        p = np.array([[chances[k - 1]], [chances[number - k]]])
        moved = both[:, :-1] * p
        both *= 1 - p
        both[:, 1:] += moved
        before[k], after[number - k - 1] = both
    return before, after


def mixed_inclusion(chances: Floats, counts: Floats) -> Floats:
    """Chance of each song when the number of yeses is itself uncertain.

    Parameters
    ----------
    chances
        Chance of each song taken alone, more than 0 and less than 1.
    counts
        Chance of 0, 1, … yeses.

    Returns
    -------
    array
        Chance of each song; they add up to the expected number of yeses.

    """
    most = len(counts) - 1
    if most == 0 or not len(chances):
        return np.zeros(len(chances))
    alone = yeses(chances, most)
    share = np.divide(counts, alone, out=np.zeros(most + 1), where=counts > 0)
    before, after = _without_each(chances, most - 1)
    # The chance of k yeses before a song and l after it weighs in with k + l + 1 yeses in all.
    total = np.add.outer(np.arange(most), np.arange(most)) + 1
    weights = np.where(total <= most, share[np.minimum(total, most)], 0.0)
    return np.asarray(np.clip(chances * np.einsum("ik,ik->i", before @ weights, after), 0.0, 1.0))


def tilted(logits: Floats, size: float) -> Floats:
    """Chances with the same odds between songs that add up to `size`: draws of fixed size are the same, sums are safe.

    Examples
    --------
    >>> tilted(np.array([0.0, 0.0, 0.0, 0.0]), 1.0).round(6).tolist()
    [0.25, 0.25, 0.25, 0.25]

    """
    low, high = -2 * SURE, 2 * SURE
    shift = 0.0
    for _ in range(60):
        p = expit(logits + shift)
        over = p.sum() - size
        low, high = (low, shift) if over > 0 else (shift, high)
        if abs(over) < 1e-9 * max(size, 1.0):  # any tilt is exact; this one keeps the sums near one
            break
        step = shift - over / max((p * (1 - p)).sum(), 1e-300)
        shift = step if low < step < high else (low + high) / 2
    return expit(logits + shift)


def inclusion(odds: ArrayLike, size: int) -> Floats:
    """Exact chance of each item in a draw of fixed size, where a set's chance goes with the product of its odds.

    This is not the chance of being among `size` items drawn one after the other, which favours high odds less.

    Parameters
    ----------
    odds
        Odds of each item, 0 or more; only their ratios matter.
    size
        How many items are drawn.

    Returns
    -------
    array
        Chance of each item; they add up to `size`.

    Raises
    ------
    ValueError
        If an odds is negative or not a finite number, or the draw is larger than the number of items that can be drawn.

    References
    ----------
    Chen and Liu (1997), Statistica Sinica 7:875.

    Examples
    --------
    >>> inclusion([4, 3, 2, 1, 1, 0.5], 3).round(4).tolist()
    [0.7628, 0.6977, 0.586, 0.3721, 0.3721, 0.2093]

    """
    weights = np.asarray(odds, dtype=float)
    possible = weights > 0
    if weights.ndim != 1 or not np.isfinite(weights).all() or (weights < 0).any():
        raise ValueError("Odds are finite numbers, 0 or more, one for each item.")
    if not 0 <= size <= possible.sum():
        raise ValueError(f"{int(possible.sum())} items have odds above 0, so {size} of them cannot be drawn.")
    chances = np.zeros(len(weights))
    if size == possible.sum():
        chances[possible] = 1.0
    elif size:
        logs = np.log(weights[possible])
        counts = np.zeros(size + 1)
        counts[size] = 1.0
        chances[possible] = mixed_inclusion(tilted(logs - logs.mean(), size), counts)
    return chances


# ---------------------------------------------------------------------------- quiet and busy nights

SPREADS = (0.0, 0.3, 0.6, 0.9, 1.3, 2.0, 3.5)
"""How much nights may differ: standard deviations; which of them fits is weighed by how well it did so far."""

_GRID = np.linspace(-1, 1, 25)
NIGHTS = np.sinh(_GRID * 3.4) * 7.5 / np.sinh(3.4)
"""How much busier than usual a night may be, added to the log odds of every swap; close together around 0."""


def _night_weights() -> Floats:
    """Chance of each night, a row for each spread."""
    width = np.gradient(NIGHTS)
    rows = [np.where(np.isclose(NIGHTS, 0), 1.0, 0.0)]
    rows += [np.exp(-0.5 * (NIGHTS / spread) ** 2) * width for spread in SPREADS[1:]]
    table = np.array(rows)
    return np.asarray(table / table.sum(axis=1, keepdims=True))


NIGHT_WEIGHTS = _night_weights()


@dataclass(frozen=True)
class Counts:
    """How many songs go out of the last set and how many come in.

    Attributes
    ----------
    out_in
        Chance of each pair: songs that go out (rows, from 0) and songs that come in (columns, from 0).
    outs, ins
        Chance of each number on each of `NIGHTS`, had the set no fixed size; numbers that come in up to the largest
        set that is possible.
    nightly
        Chance of each song outside the last set on each of `NIGHTS`.

    """

    out_in: Floats
    outs: Floats
    ins: Floats
    nightly: Floats

    def spread_scores(self, gone: int, came: int) -> Floats:
        """Chance that each of `SPREADS` gave to these numbers of swaps, in a set of the size it had."""
        here, more = self.outs.shape[1] - 1, came - gone
        size = min(here + more, self.nightly.shape[1])
        # A set larger than was thought possible needs numbers that were not worked out.
        ins = self.ins if size < self.ins.shape[1] else yeses(self.nightly, size)
        first, most = max(0, -more), size - more
        alike = self.outs[:, first : most + 1] * ins[:, first + more : most + more + 1]
        seen = self.outs[:, gone] * ins[:, came]
        return np.asarray((NIGHT_WEIGHTS @ seen) / (NIGHT_WEIGHTS @ alike.sum(axis=1)))


def count_swaps(chances: Floats, stays: Flags, sizes: Floats, spreads: Floats) -> Counts:
    """Chance of each number of swaps, when nights are quiet or busy.

    Parameters
    ----------
    chances
        Chance of each song.
    stays
        Whether the song was in the last set.
    sizes
        Chance of each size of the set, from 0; none of them more than the number of songs.
    spreads
        Weight of each of `SPREADS`.

    """
    away = np.where(stays[None, :], -NIGHTS[:, None], NIGHTS[:, None])
    nightly = expit(logit(chances)[None, :] + away)
    others = nightly[:, ~stays]
    largest = int(np.flatnonzero(sizes)[-1])
    outs, ins = yeses((1 - nightly)[:, stays]), yeses(others, largest)
    out_in = (outs * (spreads @ NIGHT_WEIGHTS)[:, None]).T @ ins
    return Counts(_busier(out_in, sizes[: largest + 1], float(chances[~stays].sum())), outs, ins, others)


def of_sizes(out_in: Floats) -> Floats:
    """Chance of a set of 0, 1, … songs."""
    return np.asarray(np.bincount(_sizes(out_in).ravel(), out_in.ravel()), dtype=float)


def _sizes(out_in: Floats) -> NDArray[np.int64]:
    """Size of the set for each pair (out, in)."""
    here = out_in.shape[0] - 1
    return np.asarray(here - np.arange(here + 1)[:, None] + np.arange(out_in.shape[1])[None, :])


def _busier(out_in: Floats, sizes: Floats, swaps: float) -> Floats:
    """Give sets their sizes, and make every night busier or quieter so that `swaps` songs are expected to come in."""
    size, counts = _sizes(out_in), np.arange(out_in.shape[1])
    possible = np.zeros(size.max() + 1)
    possible[: len(sizes)] = sizes
    low, high, now = -40.0, 40.0, 0.0
    logs = np.log(np.where(out_in > 0, out_in, 1.0))
    for _ in range(80):
        # As logarithms, less the largest of each size: a set of nearly all songs would be too much for a number.
        weighted = np.where(out_in > 0, logs + now * counts, -np.inf)
        top = np.full(len(possible), -np.inf)
        np.maximum.at(top, size, weighted)
        weighted = np.exp(weighted - np.where(np.isfinite(top), top, 0.0)[size])
        by_size = of_sizes(weighted)
        share = np.divide(possible, by_size, out=np.zeros(len(by_size)), where=possible > 0)
        weighted *= share[size]
        means = np.bincount(size.ravel(), (weighted * counts).ravel()) / np.where(possible > 0, possible, 1.0)
        over = float(possible @ means) - swaps
        if abs(over) < _EXACT:
            break
        low, high = (low, now) if over > 0 else (now, high)
        spread = float((weighted * (counts - means[size]) ** 2).sum())
        step = now - over / max(spread, _NEVER)
        now = step if low < step < high else (low + high) / 2
    return np.asarray(weighted / weighted.sum())


def odds_for(chances: Floats, counts: Floats, rounds: int = 60, close: float = 1e-10) -> Floats:
    """Chances of independent songs whose draw, with so many yeses, gives each song the chance it should have.

    Parameters
    ----------
    chances
        Chance that each song should have; together the expected number of yeses.
    counts
        Chance of 0, 1, … yeses.
    rounds, close
        Stop after so many rounds, or when every chance is this close.

    Examples
    --------
    >>> fitted = odds_for(np.array([0.9, 0.6, 0.5]), np.array([0, 0, 1.0]))
    >>> inclusion(fitted / (1 - fitted), 2).round(6).tolist()
    [0.9, 0.6, 0.5]

    """
    wanted = logit(np.clip(chances, 1e-9, 1 - 1e-9))
    logits = wanted
    for _ in range(rounds):
        got = mixed_inclusion(expit(logits), counts)
        if np.abs(got - chances).max(initial=0.0) < close:
            break
        logits = np.clip(logits + wanted - logit(np.clip(got, 1e-9, 1 - 1e-9)), -SURE, SURE)
    return expit(logits)


@dataclass(frozen=True)
class Draw:
    """The next set as a draw.

    Attributes
    ----------
    stays
        Whether each song was in the last set.
    out_in
        Chance of each pair of numbers: songs that go out, songs that come in.
    alone
        Chance of each song, taken alone, whose draw gives it the chance it has.

    """

    stays: Flags
    out_in: Floats
    alone: Floats

    @classmethod
    def of(cls, chances: Floats, stays: Flags, counts: Counts) -> Draw:
        """Draw so many songs, with these chances."""
        alone = np.zeros(len(chances))
        alone[stays] = 1 - odds_for(1 - chances[stays], _trimmed(counts.out_in.sum(axis=1)))
        alone[~stays] = odds_for(chances[~stays], _trimmed(counts.out_in.sum(axis=0)))
        return cls(stays, counts.out_in, alone)

    @property
    def chances(self) -> Floats:
        """Chance of each song."""
        chances = np.zeros(len(self.alone))
        chances[self.stays] = 1 - mixed_inclusion(1 - self.alone[self.stays], _trimmed(self.out_in.sum(axis=1)))
        chances[~self.stays] = mixed_inclusion(self.alone[~self.stays], _trimmed(self.out_in.sum(axis=0)))
        return chances

    def given(self, known: NDArray[np.int8], later: Floats | None = None) -> tuple[Floats, Floats]:
        """Chance of each song, and of each pair of numbers, once a part of the set is known.

        Parameters
        ----------
        known
            1 known to be in, 0 known to be out, -1 not known.
        later
            Chance that the song, if it is in, comes in a place of the set that is not known yet; 1 if not said.

        Returns
        -------
        chances
            As `chances`, exact: by Bayes' rule over all sets that agree with what is known.
        out_in
            As `out_in`.

        Raises
        ------
        ValueError
            If no set agrees with what is known.

        """
        later = np.ones(len(known)) if later is None else later
        # Songs of the last set are counted when they go, so for them "in" and "out" change places.
        out = _Group.of(1 - self.alone[self.stays], 1 - known[self.stays], np.ones(self.stays.sum()), later[self.stays])
        in_ = _Group.of(self.alone[~self.stays], known[~self.stays], later[~self.stays], np.ones((~self.stays).sum()))
        out_in = self.out_in * out.fits(self.out_in.shape[0])[:, None] * in_.fits(self.out_in.shape[1])[None, :]
        if not out_in.sum() > 0:
            raise ValueError("No set agrees with what is known of it.")
        out_in /= out_in.sum()
        chances = np.zeros(len(known))
        chances[self.stays] = 1 - out.chances(out_in.sum(axis=1))
        chances[~self.stays] = in_.chances(out_in.sum(axis=0))
        return chances, out_in


@dataclass(frozen=True)
class _Group:
    """Songs of the last set, or the others, as a part of the set is known; "yes" is a swap."""

    before: Floats
    known: NDArray[np.int8]
    hidden: Floats

    @classmethod
    def of(cls, alone: Floats, known: NDArray[np.integer], if_yes: Floats, if_no: Floats) -> _Group:
        """Weigh yes and no of the songs not known by how well each agrees with the places that are known."""
        open_ = (known != 0) & (known != 1)
        yes, no = alone[open_] * if_yes[open_], (1 - alone[open_]) * if_no[open_]
        marks = np.where(open_, -1, known).astype(np.int8)
        return cls(alone, marks, yes / (yes + no))

    def fits(self, counts: int) -> Floats:
        """How well each number of yeses agrees with what is known, up to a factor."""
        fixed = int((self.known == 1).sum())
        rest = np.zeros(counts)
        if fixed < counts:
            rest[fixed:] = yeses(self.hidden, counts - 1 - fixed)
        before = yeses(self.before, counts - 1)
        return np.asarray(np.divide(rest, before, out=np.zeros(counts), where=before > 0))

    def chances(self, counts: Floats) -> Floats:
        """Chance of a yes for each song."""
        chances: Floats = (self.known == 1).astype(float)
        fixed = int(chances.sum())
        chances[self.known < 0] = mixed_inclusion(self.hidden, _trimmed(counts[fixed:]))
        return chances


def _trimmed(counts: Floats) -> Floats:
    """Leave out counts at the far end that do not happen."""
    likely = np.flatnonzero(counts > _NEVER)
    return counts[: likely[-1] + 1] if len(likely) else counts[:1]
