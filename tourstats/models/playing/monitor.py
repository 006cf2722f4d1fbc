"""Show by show: were there more mistakes than this set and this room should have brought?

Every figure is what could be said on that night: songs' and rooms' shares, the layoffs' part, the level and the
unevenness come from shows before it, leaving out the latest (a change that has just begun must not hide itself) and
those that signalled; these still count for how uneven shows are, or limits would tighten with each that is left out.
The first ten shows of a level are its base: each of them is held against the other nine.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from tourstats.models.estimates import PRIOR_RATE, at_most, one_thread
from tourstats.models.playing.forecast import PRIORS
from tourstats.models.playing.performances import performances
from tourstats.problems import UnknownShowProblem
from tourstats.tables import checked, finished, in_order

Array = npt.NDArray[Any]

LAM = 0.2
WIDTH = 2.4
"""Limits of the moving average, in its standard deviations; it starts anew after each signal."""
SOONER, NARROWER, FEWEST_REVIEWED = 0.15, 0.9, 0.5
"""Where not all shows are reviewed, those that are weigh more and limits are narrower, by this times the share that is
not, up to a half: a change is to be seen in as few shows of the tour, and what signals by chance is counted by them.
Chosen on simulated tours of which two shows in three were reviewed."""
TAIL = 0.0005
"""Chance of a show beyond either limit while nothing has changed."""
BASE = 10
"""Shows that a level is first measured by."""
LAG = 18
"""Latest shows that the level does not use yet."""
SONGS_ALIKE, ROOMS_ALIKE = 2.3, 7.7
"""Mistakes' worth by which songs and rooms are drawn to the average: shapes of gamma distributions with standard
deviations of 0.6 and 0.35 in logarithms."""
HELD = {"layoff": PRIORS["layoff"], "first": (0.15, 0.25), "seldom": (0.1, 0.2)}
"""What a song's share goes by beside the song itself, where each coefficient is drawn to, and how far it may stray:
the first time is not yet the hundredth, and songs played seldom are often the hard ones. Common practice, no source."""
MIDDLE, SPREAD = np.array(list(HELD.values())).T
ROUNDS = 4
UNEVEN, UNEVEN_WORTH = 0.12, 10.0
"""Variance between shows against the square of their mean, before there are shows to measure it by, and its worth in
shows. Common practice, no source, as the two above."""
FARTHEST = 3.5
"""Largest score of a single show."""
MOST_NAMED = 3


@dataclass(frozen=True)
class _Plays:
    """Reviewed plays as arrays: song, room, what is `HELD`, mistakes, show.

    And of each show its level, and the share of the shows up to it that were reviewed.
    """

    song: Array
    room: Array
    held: Array
    found: Array
    show: Array
    level: Array
    share: Array

    def of_shows(self, values: Array) -> Array:
        """Sum of each show."""
        return np.asarray(np.bincount(self.show, values, len(self.level)))

    def only(self, shows: Array) -> _Plays:
        """Plays of some shows."""
        rows = shows[self.show]
        song, room, held = self.song[rows], self.room[rows], self.held[rows]
        return _Plays(song, room, held, self.found[rows], self.show[rows], self.level, self.share)


WATCHED = [("expected", float), ("low", int), ("high", int), ("average", float), ("reach", float)]
WATCHED += [("beyond", bool), ("drifting", bool)]
"""What is said of each show."""


@finished
@one_thread
def control(
    plays: pd.DataFrame,
    shows: pd.DataFrame,
    reviews: pd.DataFrame,
    mistakes: pd.DataFrame,
    levels: pd.DataFrame | None = None,
) -> pd.DataFrame:
    """Mistakes of each reviewed show against what its set and its room should have brought.

    Parameters
    ----------
    plays, shows, reviews, mistakes
        As in `tourstats.tables`.
    levels
        Shows from which on a new level starts, because the person says so: a column show_id.

    Returns
    -------
    DataFrame
        A row a reviewed show, in order.
            show_id              the show
            mistakes       int   found
            expected       float by its songs (how long they were out, too) and its room, at the level until then
            low, high      int   limits: beyond them once in a thousand shows while nothing has changed
            ewma           float moving average of the scores: 0 on the level, in standard deviations of a show
            ewma_low, ewma_high  float  its limits
            signal         bool  beyond the limits, or the average beyond its own
            because        str   "above the limit", "below the limit", "drifting up", "drifting down", or ""
            made_by        str   songs with the most mistakes over what they should have brought, when it signals more
            level          int   1 from the first show, one more from each new level
            share          float of the shows from the first reviewed one to this one, those that were reviewed

    Raises
    ------
    UnknownShowProblem
        If a level starts at a show that is not there.

    Notes
    -----
    Limits are quantiles of a negative binomial distribution; scores are its normal scores, and their average has the
    weights and limits of NIST/SEMATECH e-Handbook of Statistical Methods, section 6.3.2.4, widened by how little the
    level itself is known. It starts anew after each signal, so that one drift is not told every night.

    Examples
    --------
    Fourteen shows of one song, a mistake in each; then a night with fifteen.

    >>> shows = pd.DataFrame({"show_id": range(15), "date": pd.date_range("2031-03-04", periods=15)})
    >>> plays = pd.DataFrame({"show_id": range(15), "position": 1, "song": "Ferry"})
    >>> found = plays.loc[plays.index.repeat([1] * 14 + [15]), ["show_id", "song"]].assign(severity=1)
    >>> last = control(plays, shows, plays[["show_id", "song"]], found).iloc[-1]
    >>> print(last.mistakes, "found, limit", last.high, last.because, "by", last.made_by)
    15 found, limit 6 above the limit by Ferry

    """
    table = performances(plays, shows, reviews, mistakes).sort_values("at", kind="stable", ignore_index=True)
    nights = table.drop_duplicates("at").show_id.reset_index(drop=True)
    night = table["at"].unique()
    data = _Plays(
        song=pd.factorize(table.song)[0],
        room=pd.factorize(table.room)[0],
        held=table[list(HELD)].to_numpy(float),
        found=table.mistakes.to_numpy(float),
        show=pd.factorize(table["at"])[0],
        level=_levels(nights, shows, levels),
        share=np.arange(1, len(nights) + 1) / (1 + np.diff(night, prepend=night[:1]).cumsum()),
    )
    watch, parts = _watched(data)
    total = data.of_shows(data.found).astype(int)
    signal = watch.beyond | watch.drifting
    up = np.where(watch.beyond, total > watch.expected, watch.average > 0)
    kinds = [watch.beyond & up, watch.beyond, watch.drifting & up, watch.drifting]
    because = np.select(kinds, ["above the limit", "below the limit", "drifting up", "drifting down"], "")
    return pd.DataFrame(
        {
            "show_id": nights,
            "mistakes": total,
            "expected": watch.expected,
            "low": watch.low,
            "high": watch.high,
            "ewma": watch.average,
            "ewma_low": -watch.reach,
            "ewma_high": watch.reach,
            "signal": signal,
            "because": pd.Series(because, dtype="str"),
            "made_by": _made_by(table, data, parts, signal & up),
            "level": data.level + 1,
            "share": data.share,
        }
    )


def _levels(nights: pd.Series, shows: pd.DataFrame, levels: pd.DataFrame | None) -> Array:
    """How many new levels have started by each reviewed show."""
    if levels is None or not len(levels):
        return np.zeros(len(nights), int)
    order = in_order(shows).show_id
    starts = checked(levels, "levels").show_id
    unknown = starts[~starts.isin(order)]
    if len(unknown):
        raise UnknownShowProblem.of(unknown.iloc[0])
    begun = order.isin(starts).cumsum().to_numpy()
    level = begun[pd.Index(order).get_indexer(nights)]
    return np.asarray(level - level.min(initial=0))


def _watched(data: _Plays) -> tuple[Any, Array]:
    """Go through the shows as they came: what is said of each, and what each of its plays should have brought."""
    watch, parts = np.zeros(len(data.level), WATCHED).view(np.recarray), np.zeros(len(data.song))
    total, missing = data.of_shows(data.found), 1 - np.maximum(data.share, FEWEST_REVIEWED)
    moving = _Moving()
    for now in range(len(total)):
        if now and data.level[now] != data.level[now - 1]:
            moving = _Moving()
        signalled = watch.beyond | watch.drifting
        base = _base(data.level, now, signalled)
        own = data.show == now
        share, of_level = _shares(data.only(base | (data.level < data.level[now])), data, own, now)
        parts[own] = share
        expected = watch.expected[now] = float(share.sum())
        past = _base(data.level, now, np.zeros_like(signalled)) & (np.arange(len(total)) < now)
        uneven = _unevenness(total[past], watch.expected[past])
        unsure = 1 / max(of_level, 0.5) + uneven / max(base.sum(), 1)
        low, high, score = _limits(int(total[now]), expected, uneven + unsure)
        watch.low[now], watch.high[now] = low, high
        lasting = expected * unsure / (1 + expected * (uneven + unsure))
        moving = moving.after(score, LAM + SOONER * missing[now])
        reach = (WIDTH - NARROWER * missing[now]) * moving.spread(lasting)
        watch.average[now], watch.reach[now] = moving.average, reach
        watch.beyond[now] = not low <= total[now] <= high
        measured = (data.level[:now] == data.level[now]).sum() >= BASE
        watch.drifting[now] = abs(moving.average) > reach and measured
        if watch.drifting[now]:
            moving = _Moving()
    return watch, parts


@dataclass(frozen=True)
class _Moving:
    """A moving average of scores, its variance where these are independent, and how much of its start is left."""

    average: float = 0.0
    variance: float = 0.0
    start: float = 1.0

    def after(self, score: float, weight: float) -> _Moving:
        """The average with one score more."""
        left = 1 - weight
        variance = weight**2 + left**2 * self.variance
        return _Moving(weight * score + left * self.average, variance, left * self.start)

    def spread(self, lasting: float) -> float:
        """Its standard deviation; `lasting` is the share of a score's variance that all have in common."""
        return float(np.sqrt(self.variance * (1 - lasting) + lasting * (1 - self.start) ** 2))


def _base(level: Array, now: int, signalled: Array) -> Array:
    """Shows by which the level is known at this one."""
    mine = level == level[now]
    number = np.cumsum(mine) - 1
    base = mine & (number < max(number[now] - LAG, BASE))
    base[now] = False
    quiet = base & ~signalled
    return np.asarray(quiet if quiet.sum() >= BASE // 2 else base)


def _shares(base: _Plays, data: _Plays, own: Array, now: int) -> tuple[Array, float]:
    """What each play of this show should have brought, and how many mistakes the level rests on.

    Songs, rooms, what is held still and levels multiply; each is fitted in turn while the others are held.
    """
    songs, rooms, levels = (int(values.max(initial=0)) + 1 for values in (data.song, data.room, data.level))
    of_play = base.level[base.show]
    song, room, slope = np.ones(songs), np.ones(rooms), MIDDLE
    mistakes = np.bincount(of_play, base.found, levels)
    level = np.full(levels, max(base.found.sum(), 0.5) / max(len(base.found), 1))
    for _ in range(ROUNDS):
        by_layoff = np.exp(base.held @ slope)
        rest = level[of_play] * by_layoff
        song = _drawn(base.song, base.found, rest * room[base.room], songs, SONGS_ALIKE)
        room = _drawn(base.room, base.found, rest * song[base.song], rooms, ROOMS_ALIKE)
        rate = song[base.song] * room[base.room] * by_layoff
        level = np.maximum(mistakes, 0.5) / np.maximum(np.bincount(of_play, rate, levels), 1e-9)
        slope = slope + _slope_step(base, rate * level[of_play], slope)
    rate = song[base.song] * room[base.room] * np.exp(base.held @ slope)
    here = of_play == data.level[now]
    usual = float(base.found.mean()) if base.found.any() else PRIOR_RATE
    known = max(base.found[here].sum(), 0.5) / rate[here].sum() if here.any() else usual
    share = known * song[data.song[own]] * room[data.room[own]] * np.exp(data.held[own] @ slope)
    return share, float(base.found[here].sum())


def _drawn(unit: Array, found: Array, expected: Array, size: int, alike: float) -> Array:
    """Each unit's ratio of mistakes, drawn towards 1."""
    return np.asarray((np.bincount(unit, found, size) + alike) / (np.bincount(unit, expected, size) + alike))


def _slope_step(base: _Plays, rate: Array, slope: Array) -> Array:
    """One Newton step for the parts of layoffs, of first times and of songs played seldom."""
    pull = np.diag(1 / SPREAD**2)
    apart = base.held - rate @ base.held / max(rate.sum(), 1e-9)
    score = apart.T @ (base.found - rate) - pull @ (slope - MIDDLE)
    return np.asarray(np.linalg.solve((apart * rate[:, None]).T @ apart + pull, score))


def _unevenness(total: Array, expected: Array) -> float:
    """Variance between shows beyond Poisson, against the square of their mean, drawn to what is usual."""
    if not len(total):
        return UNEVEN
    seen = max(float(((total - expected) ** 2 - expected).sum() / max((expected**2).sum(), 1e-9)), 0.0)
    return (UNEVEN_WORTH * UNEVEN + len(total) * seen) / (UNEVEN_WORTH + len(total))


def _limits(found: int, mean: float, spread: float) -> tuple[int, int, float]:
    """Quantiles and normal score of a negative binomial distribution of variance mean + spread * mean squared."""
    from scipy.special import ndtri  # noqa: PLC0415  # late: the start-up path imports this module

    cumulated = at_most(mean, spread, found)
    before = cumulated[found - 1] if found else 0.0
    score = float(ndtri(np.clip((before + cumulated[found]) / 2, 1e-9, 1 - 1e-9)))
    low, high = np.searchsorted(cumulated, [TAIL, 1 - TAIL])
    return int(low), int(high), float(np.clip(score, -FARTHEST, FARTHEST))


def _made_by(table: pd.DataFrame, data: _Plays, parts: Array, told: Array) -> pd.Series:
    """Songs that brought the most over what they should have, of each show that signals more than expected."""
    over = data.found - parts
    named = [""] * len(told)
    for now in np.flatnonzero(told):
        rows = np.flatnonzero((data.show == now) & (over > 0))
        rows = rows[np.argsort(-over[rows], kind="stable")][:MOST_NAMED]
        named[now] = ", ".join(table.song.iloc[rows])
    return pd.Series(named, dtype="str")
