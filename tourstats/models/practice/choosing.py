"""Which items are worth the minutes, exactly: a knapsack, and the larger choice that a practice plan is."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Hashable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import accumulate, groupby, pairwise
from typing import Any

import numpy as np

from tourstats.problems import Problem

UNITS_A_MINUTE = 6000
"""Times are whole hundredths of a second within the choice, so that sums compare exactly."""

WORTH_A_REST = 0.6
"""Share of the longest stretch of playing from which on it is cut by a rest, where the minutes have a rest in them."""

UNEVEN = 1.25
"""Longest stretch of playing, to their mean, from which on a rest may fall between songs that run on: hands that work
for 40 minutes and then for three have had their rest too late."""

GIVEN_UP = UNITS_A_MINUTE / 4
"""Playing that is given up at most at a time, in units, where what was chosen does not fit between the rests."""

Rule = tuple[Sequence[int], Sequence[float], float]
"""Items, their weights, and what the sum of the weights of the chosen ones may be at most."""


def chosen(value: Sequence[float], minutes: Sequence[float], capacity: float) -> list[int]:
    """Choose the items whose values add up to most within the minutes, each at most once (0/1 knapsack).

    Parameters
    ----------
    value
        What each item is worth; items worth nothing are never chosen.
    minutes
        What each item takes, 0 or more.
    capacity
        Minutes there are.

    Returns
    -------
    list of int
        Places of the chosen items, from 0, ascending.

    Raises
    ------
    Problem
        If the two lists differ in length, or something is not a number.

    Examples
    --------
    The best by the minute (the first) would leave no room for the two that together are worth more.

    >>> chosen([60, 50, 50], [10, 9, 9], 18)
    [1, 2]

    """
    worth, length = np.asarray(value, dtype=float), np.asarray(minutes, dtype=float)
    if worth.shape != length.shape:
        raise Problem(f"Nothing can be chosen: there are {worth.size} values and {length.size} times.")
    if not (np.isfinite(worth).all() and np.isfinite(length).all() and np.isfinite(capacity)):
        raise Problem("Nothing can be chosen: every value and every time has to be a number.")
    if (length < 0).any():
        raise Problem("Nothing can be chosen: a time is below 0 minutes.")
    taken = best(worth, [(range(worth.size), list(units(length)), room(capacity))])
    return [int(place) for place in np.flatnonzero(taken)]


def units(minutes: np.ndarray | float) -> np.ndarray:
    """Minutes as whole units, rounded up unless they are whole but for floating point."""
    return np.ceil(np.asarray(minutes, dtype=float) * UNITS_A_MINUTE - 1e-4)


def room(minutes: float) -> float:
    """Minutes that there are as whole units, rounded down unless they are whole but for floating point."""
    return float(np.floor(minutes * UNITS_A_MINUTE + 1e-4))


def best(value: np.ndarray, rules: Sequence[Rule]) -> np.ndarray:
    """Take the items worth most under all rules, as booleans: a mixed-integer programme, solved to optimality."""
    worthy = value > 0
    if not worthy.any() or any(upper < 0 for _, _, upper in rules):
        return np.zeros(len(value), dtype=bool)
    # The solver takes 0.15 s to import; who opens a diary does not need it.
    from scipy.optimize import Bounds, LinearConstraint, milp  # noqa: PLC0415  # late: the start-up path imports this module
    from scipy.sparse import csr_array  # noqa: PLC0415  # as above

    starts = np.cumsum([0, *(len(items) for items, _, _ in rules)])
    # Weights near 1 keep a sum of hundredths of a second well above the solver's tolerance.
    scales = [max([1.0, *np.abs(weight)]) for _, weight, _ in rules]
    weights = np.concatenate([np.divide(weight, scale) for (_, weight, _), scale in zip(rules, scales, strict=True)])
    columns = np.concatenate([np.asarray(items, dtype=int) for items, _, _ in rules])
    matrix = csr_array((weights, columns, starts), shape=(len(rules), len(value)))
    # The solver stops at an absolute gap of 1e-6: values are stretched so that this is a millionth of a thousandth.
    solution = milp(
        -1000 * (value / value.max()),
        integrality=np.ones(len(value)),
        bounds=Bounds(0, 1),
        constraints=LinearConstraint(
            matrix, ub=[upper / scale for (_, _, upper), scale in zip(rules, scales, strict=True)]
        ),
        options={"mip_rel_gap": 0},
    )
    return np.asarray(solution.x > 0.5) & worthy  # noqa: PLR2004  # whole numbers but for the solver's tolerance


@dataclass(frozen=True)
class Item:
    """One thing that could be done: a song one way, a transition by itself, or two songs run on in a row."""

    what: str
    song: int
    next_song: int | None  # of a transition
    value: float
    units: float  # with the set-up before it; a transition in a row spares one
    fragile: float  # what the order goes by

    @property
    def plays(self) -> bool:
        """Whether the hands work, so that it counts towards the next rest."""
        return self.what != "listen"


@dataclass(frozen=True)
class Limits:
    """What the minutes allow, in units: stretches of playing, and everything but the rests between them."""

    stretches: int
    stretch: float
    whole: float
    setup: float

    @property
    def most_a_stretch(self) -> float:
        """Playing in a stretch when every work brings a set-up: the first of a stretch needs none."""
        return self.stretch + self.setup

    @property
    def most_played(self) -> float:
        """Playing in all, so counted."""
        return self.stretches * self.most_a_stretch

    @property
    def most(self) -> float:
        """Playing and listening in all, so counted."""
        return self.whole + self.stretches * self.setup


Work = tuple[int, ...]
"""Places of items that are done without a pause: one, or songs that run on with their transitions between them."""


def choose(items: Sequence[Item], limits: Limits) -> tuple[list[list[Work]], list[Work]]:
    """Choose among what could be done, and deal it out to stretches of playing.

    Returns the works of each stretch in order, and what is listened to.

    The choice is made as if playing could be cut anywhere: no plan with rests is better than that. If what is chosen
    can be dealt out to the stretches, it is the best plan with rests too. If it cannot, playing gives up what did not
    fit, mostly seconds, and the choice is made again.
    """
    play, whole = limits.most_played, limits.most
    while True:
        works = sorted(_works(items, _taken(items, play, whole)), key=lambda work: _rank(items, work))
        playing = [work for work in works if items[work[0]].plays]
        listening = [work for work in works if not items[work[0]].plays]
        others = sum(_size(items, work) for work in works)
        stretches = _dealt(items, playing, limits, limits.most - others)
        last = stretches[-1] if stretches else []
        too_long = sum(_size(items, work) for work in last) - limits.most_a_stretch
        spent = sum(_size(items, work) for stretch in [*stretches, listening] for work in stretch)
        if too_long <= 0 and spent <= limits.most:
            return stretches, listening
        over = min(max(too_long, spent - limits.most), GIVEN_UP)
        play = sum(_size(items, work) for work in playing) - over
        whole = min(whole, sum(_size(items, work) for work in works) - over * (spent > limits.most))


def _taken(items: Sequence[Item], play: float, whole: float) -> list[int]:
    """Items worth most; songs that would run on in a circle are cut and chosen again."""
    value = np.array([item.value for item in items], dtype=float)
    played = [place for place, item in enumerate(items) if item.plays]
    rules = [
        (range(len(items)), [item.units for item in items], whole),
        *([(played, [items[place].units for place in played], play)] if play < whole else []),
        *_once(items),
        *_runs_on(items),
    ]
    while True:
        taken = [int(place) for place in np.flatnonzero(best(value, rules))]
        circles = _circles(items, taken)
        if not circles:
            return _joined(items, taken)
        rules += [(circle, [1.0] * len(circle), len(circle) - 1) for circle in circles]


def _joined(items: Sequence[Item], taken: Sequence[int]) -> list[int]:
    """Transitions run by themselves although both songs are run whole: in a row they are worth as much and cost less.

    The solver has no reason to care while there are minutes to spare.
    """
    taken = list(taken)
    rows = {(item.song, item.next_song): place for place, item in enumerate(items) if item.what == "in a row"}
    for at, place in enumerate(taken):
        item = items[place]
        if item.what == "transition" and (item.song, item.next_song) in rows:
            joined = [*taken[:at], rows[item.song, item.next_song], *taken[at + 1 :]]
            if _can_run(items, joined):
                taken = joined
    return taken


def _can_run(items: Sequence[Item], taken: Sequence[int]) -> bool:
    """Whether what is to be run in a row can be: both songs whole, each once, and no circle."""
    whole = {items[place].song for place in taken if items[place].what == "whole run"}
    pairs = [items[place] for place in taken if items[place].what == "in a row"]
    first, second = {pair.song for pair in pairs}, {pair.next_song for pair in pairs}
    once = len(first) == len(second) == len(pairs)
    return once and first | second <= whole and not _circles(items, taken)


def _once(items: Sequence[Item]) -> list[Rule]:
    """A song is run one way at most; a transition is run by itself, or between its songs run in a row, or not."""
    groups = _grouped((item.song, item.next_song) for item in items)
    return [(group, [1.0] * len(group), 1.0) for group in groups.values() if len(group) > 1]


def _runs_on(items: Sequence[Item]) -> list[Rule]:
    """A song runs on into one song at most, and from one at most, and only if both are run whole."""
    whole = {item.song: place for place, item in enumerate(items) if item.what == "whole run"}
    pairs = [place for place, item in enumerate(items) if item.what == "in a row"]
    rules: list[Rule] = []
    for ends in ([items[place].song for place in pairs], [items[place].next_song for place in pairs]):
        for end, group in _grouped(ends).items():
            rules.append(([*(pairs[at] for at in group), whole[end]], [*[1.0] * len(group), -1.0], 0.0))
    return rules


def _circles(items: Sequence[Item], taken: Sequence[int]) -> list[list[int]]:
    """Transitions that follow one another back to where they began."""
    after = {items[place].song: place for place in taken if items[place].what == "in a row"}
    for begin in set(after) - {items[place].next_song for place in after.values()}:
        song: int | None = begin
        while song in after:
            song = items[after.pop(song)].next_song
    circles = []
    while after:
        song = next(iter(after))
        circle = []
        while song in after:
            circle.append(after.pop(song))
            song = items[circle[-1]].next_song
        circles.append(circle)
    return circles


def _works(items: Sequence[Item], places: Sequence[int]) -> list[Work]:
    """Items that run on, put together in order; every other by itself."""
    after = {items[place].song: place for place in places if items[place].what == "in a row"}
    followed = {items[place].next_song for place in after.values()}
    whole = {items[place].song: place for place in places if items[place].what == "whole run"}
    works: list[Work] = [(place,) for place in places if items[place].what not in {"in a row", "whole run"}]
    for song, first in whole.items():
        if song in followed:
            continue
        work, here = [first], song
        while here in after:
            link = after[here]
            here = items[link].next_song or 0
            work += [link, whole[here]]
        works.append(tuple(work))
    return works


def _dealt(items: Sequence[Item], works: Sequence[Work], limits: Limits, spare: float) -> list[list[Work]]:
    """Works dealt out to stretches, the most fragile early; if they do not fit, the last stretch is too long.

    Songs that run on stay together while that leaves stretches alike; else a rest may fall between two of them, where
    the minutes that are spare allow for picking up their transition after it.
    """
    total = sum(_size(items, work) for work in works)
    few = min(limits.stretches, 1 + int(total // (limits.most_a_stretch * WORTH_A_REST)))
    for stretches in sorted({few, limits.stretches}):
        kept, parted = (_parts(items, works, stretches, apart=apart) for apart in (False, True))
        lengths = [[sum(_size(items, work) for work in stretch) for stretch in cut] for cut in (kept, parted)]
        uneven = max(lengths[0]) > UNEVEN * total / stretches and max(lengths[1]) < max(lengths[0])
        at = int(uneven and sum(lengths[1]) - total <= spare)
        if max(lengths[at]) <= limits.most_a_stretch:
            return [stretch for stretch in (kept, parted)[at] if stretch]
    left, dealt = list(works), []
    for rests in range(limits.stretches - 1, 0, -1):
        full, left = _filled(items, left, limits, rests)
        dealt.append(full)
    return [*dealt, left]


def _parts(items: Sequence[Item], works: Sequence[Work], stretches: int, *, apart: bool) -> list[list[Work]]:
    """Works cut into so many stretches, the longest as short as it can be; songs that run on `apart` where it helps."""
    pieces = [(at, piece) for at, work in enumerate(works) for piece in (_pieces(items, work) if apart else [work])]
    begins = [items[piece[0]].what == "in a row" for _, piece in pieces]
    # In the middle of songs that run on, a transition spares a set-up; after a rest it needs one.
    spared = [-2 * items[piece[0]].units if begun else 0.0 for (_, piece), begun in zip(pieces, begins, strict=True)]
    sizes = [_size(items, piece) - less for (_, piece), less in zip(pieces, spared, strict=True)]
    cut = _cut(sizes, spared, stretches)
    return [
        [
            tuple(place for _, piece in group for place in piece)
            for _, group in groupby((pieces[at] for at in part), key=lambda piece: piece[0])
        ]
        for part in cut
    ]


def _pieces(items: Sequence[Item], work: Work) -> list[Work]:
    """Songs that run on, one by one, each with the transition before it."""
    starts = [0, *(at for at, place in enumerate(work) if items[place].what == "in a row"), len(work)]
    return [work[begin:end] for begin, end in pairwise(starts)]


def _filled(items: Sequence[Item], works: Sequence[Work], limits: Limits, rests: int) -> tuple[list[Work], list[Work]]:
    """Fill one stretch so that the rest fits `rests` more of them, if need be up to the middle of songs that run on.

    A transition that a rest falls into is run after it, from the last bars of the first song: that takes as long as a
    set-up, and is set up for like everything else.
    """
    most = limits.most_a_stretch
    need = sum(_size(items, work) for work in works) - rests * most
    fullest: tuple[float, list[Work], list[Work]] | None = None
    for before, after, others in _cuts(items, works):
        begun = sum(_size(items, work) for work in before)
        picked, filled = _fill([_size(items, work) for work in others], most - begun)
        spare = begun + filled - need - 2 * limits.setup * len(after)
        if begun <= most and (fullest is None or spare > fullest[0]):
            here = sorted([*(others[at] for at in picked)], key=lambda work: _rank(items, work))
            kept = [work for at, work in enumerate(others) if at not in picked]
            fullest = spare, [*here, *before], [*after, *kept]
            # Before the last stretch, what fits is enough; before that, a full stretch leaves room for later cuts.
            if spare >= 0 and rests == 1:
                break
    assert fullest is not None  # noqa: S101  # the first cut cuts nothing, and always fits
    return fullest[1], fullest[2]


def _cuts(items: Sequence[Item], works: Sequence[Work]) -> Iterator[tuple[list[Work], list[Work], list[Work]]]:
    """No cut, then every cut of songs that run on: what comes before the rest, what after it, and the other works."""
    yield [], [], list(works)
    for at, work in enumerate(works):
        others = [other for place, other in enumerate(works) if place != at]
        for link in range(1, len(work)):
            if items[work[link]].what == "in a row":
                yield [work[:link]], [work[link:]], others


def _fill(sizes: Sequence[float], most: float) -> tuple[set[int], float]:
    """Which of the sizes fill the room best, the first ones if there is a choice (subset sums as bits of a number)."""
    if most < 0:
        return set(), 0.0
    mask = (1 << (int(most) + 1)) - 1
    reach = [1]
    for size in reversed(sizes):
        reach.append((reach[-1] | reach[-1] << int(size)) & mask)
    goal = left = reach[-1].bit_length() - 1
    picked = set()
    for at, size in enumerate(sizes):
        rest = left - int(size)
        if rest >= 0 and reach[len(sizes) - at - 1] >> rest & 1:
            picked.add(at)
            left = rest
    return picked, float(goal)


def _cut(sizes: Sequence[float], begun: Sequence[float], stretches: int) -> list[list[int]]:
    """Cut a list into so many runs that the longest is as short as it can be; each is `begun` longer at the start."""
    sums, more = [0.0, *accumulate(sizes)], [*begun, 0.0]
    ends = range(len(sums))
    longest, cuts = [*sums], []
    for _ in range(1, stretches):
        options = [
            min((max(longest[cut], sums[end] - sums[cut] + more[cut]), more[cut], cut) for cut in range(end + 1))
            for end in ends
        ]
        longest = [length for length, _, _ in options]
        cuts.append([cut for _, _, cut in options])
    runs, end = [], len(sizes)
    for cut in reversed(cuts):
        runs.append(list(range(cut[end], end)))
        end = cut[end]
    return [list(range(end)), *reversed(runs)]


def _size(items: Sequence[Item], work: Work) -> float:
    """Units of a work with a set-up; what follows a rest in the middle of songs that run on has one too."""
    whole = sum(items[place].units for place in work)
    return whole if items[work[0]].what != "in a row" else whole - 2 * items[work[0]].units


def _rank(items: Sequence[Item], work: Work) -> tuple[float, int]:
    """The most fragile first; a transition that a rest fell into comes right after the rest."""
    if items[work[0]].what == "in a row":
        return -np.inf, work[0]
    return -max(items[place].fragile for place in work), work[0]


def _grouped(keys: Iterable[Hashable]) -> dict[Any, list[int]]:
    groups = defaultdict(list)
    for at, key in enumerate(keys):
        groups[key].append(at)
    return groups
