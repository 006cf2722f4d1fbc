"""Draws of fixed size are exact: against all subsets one by one."""

from itertools import combinations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from tourstats.models.swaps.draws import (
    SPREADS,
    Draw,
    count_swaps,
    inclusion,
    mixed_inclusion,
    odds_for,
    of_sizes,
    tilted,
    yeses,
)

ODDS = arrays(float, st.integers(2, 8), elements=st.floats(0.01, 50))
CHANCES = arrays(float, st.integers(1, 9), elements=st.floats(0.02, 0.98))
EVEN = np.full(len(SPREADS), 1 / len(SPREADS))


def by_subsets(odds, size):
    chances, total = np.zeros(len(odds)), 0.0
    for chosen in combinations(range(len(odds)), size):
        weight = np.prod(odds[list(chosen)])
        total += weight
        chances[list(chosen)] += weight
    return chances / total


@given(ODDS, st.data())
def test_inclusion_is_what_all_subsets_say(odds, data):
    """
    The chance of each item is the share of the subsets that hold it, by weight.
    """
    size = data.draw(st.integers(1, len(odds)))

    np.testing.assert_allclose(inclusion(odds, size), by_subsets(odds, size), rtol=0, atol=1e-12)


@given(ODDS, st.floats(1e-6, 1e6), st.data())
def test_only_ratios_of_odds_matter(odds, factor, data):
    """
    The same odds in another unit give the same chances.
    """
    size = data.draw(st.integers(1, len(odds)))

    np.testing.assert_allclose(inclusion(odds * factor, size), inclusion(odds, size), atol=1e-12)


def test_items_that_are_nearly_always_in_break_nothing():
    """
    Odds of a million million beside odds of one: the rest shares what is left.
    """
    expected = np.array([1.0, 1.0, 0.25, 0.25, 0.25, 0.25])

    np.testing.assert_allclose(inclusion([1e12, 1e12, 1, 1, 1, 1], 3), expected, atol=1e-11)


def test_an_item_with_no_odds_is_never_drawn():
    """
    Odds of 0, and a draw of all that is left.
    """
    assert [0.0, 1.0, 1.0] == inclusion([0, 2, 3], 2).tolist()


@pytest.mark.parametrize(("odds", "size"), [([1, 2], 3), ([0, 1], 2), ([1, -1], 1), ([1, np.nan], 1), ([1, 2], -1)])
def test_what_cannot_be_drawn_is_refused(odds, size):
    """
    More items than there are, negative odds, no number.
    """
    with pytest.raises(ValueError, match=r"drawn|finite"):
        inclusion(odds, size)


@given(CHANCES)
def test_counts_of_yeses_add_up(chances):
    """
    All counts together are sure, their mean is the sum of the chances.
    """
    counts = yeses(chances)

    np.testing.assert_allclose(counts.sum(), 1)
    np.testing.assert_allclose(counts @ np.arange(len(counts)), chances.sum())


@given(CHANCES, st.data())
def test_an_uncertain_number_mixes_draws(chances, data):
    """
    A draw of 1 or 2 is a draw of 1 or a draw of 2.
    """
    n = len(chances)
    a, b = data.draw(st.integers(0, n)), data.draw(st.integers(0, n))
    counts = np.zeros(n + 1)
    counts[a] += 0.3
    counts[b] += 0.7
    odds = chances / (1 - chances)

    expected = 0.3 * inclusion(odds, a) + 0.7 * inclusion(odds, b)

    np.testing.assert_allclose(mixed_inclusion(chances, counts), expected, atol=1e-10)


@given(arrays(float, st.integers(2, 40), elements=st.floats(-7, 7)), st.floats(0.05, 0.95))
def test_tilted_chances_add_up_and_keep_their_order(logits, share):
    """
    They make the size asked for, and who was likelier stays likelier.
    """
    chances = tilted(logits, share * len(logits))

    np.testing.assert_allclose(chances.sum(), share * len(logits), rtol=1e-6)
    assert (np.diff(chances[np.argsort(logits)]) >= -1e-15).all()


def test_fitted_odds_give_back_the_chances():
    """
    Odds fitted to the chances of a draw are the odds it was drawn with.
    """
    odds = np.array([4, 3, 2, 1, 1, 0.5])
    four = np.zeros(5)
    four[4] = 1

    alone = odds_for(inclusion(odds, 4), four)

    np.testing.assert_allclose((alone / (1 - alone)) / (alone[3] / (1 - alone[3])), odds, rtol=1e-6)


STAYS = np.array([True, True, True, False, False, False, False])
SAID = np.array([0.9, 0.6, 0.5, 0.5, 0.3, 0.15, 0.05])
SIZES = np.array([0, 0, 0.2, 0.6, 0.2, 0])


def drawn():
    return Draw.of(SAID, STAYS, count_swaps(SAID, STAYS, SIZES, EVEN))


def all_sets(draw):
    """Chance of every set: how many go and come, then which."""
    sets = {}
    stay, come = np.flatnonzero(draw.stays), np.flatnonzero(~draw.stays)
    odds = draw.alone / (1 - draw.alone)
    for gone in range(len(stay) + 1):
        for came in range(min(len(come), draw.out_in.shape[1] - 1) + 1):
            chance = draw.out_in[gone, came]
            kept = {k: np.prod(odds[list(k)]) for k in combinations(stay, len(stay) - gone)}
            new = {k: np.prod(odds[list(k)]) for k in combinations(come, came)}
            for a, wa in kept.items():
                for b, wb in new.items():
                    sets[frozenset(a + b)] = chance * wa / sum(kept.values()) * wb / sum(new.values())
    return sets


def test_a_draw_gives_each_song_the_chance_it_was_said_to_have():
    """
    How many and which, taken together, change nothing about each song.
    """
    np.testing.assert_allclose(drawn().chances, SAID, atol=1e-8)


def test_a_draw_has_the_sizes_it_should_have():
    """
    Quiet and busy nights change how many songs change places, not how many there are.
    """
    counts = count_swaps(SAID, STAYS, np.array([0, 0, 0, 1.0]), EVEN)

    np.testing.assert_allclose(of_sizes(counts.out_in)[3], 1)


@pytest.mark.parametrize(
    ("known", "later"),
    [
        ([1, -1, -1, -1, -1, -1, -1], None),
        ([-1, 0, -1, -1, -1, -1, -1], None),
        ([1, 0, -1, 1, -1, -1, 0], None),
        ([1, -1, -1, -1, -1, -1, -1], [1, 0.2, 0.9, 0.5, 1, 0.1, 0.7]),
        ([-1, -1, -1, -1, 1, -1, -1], [0.3, 0.3, 0.3, 0.3, 0.3, 0.3, 0.3]),
    ],
)
def test_what_is_known_changes_the_rest_as_counting_all_sets_does(known, later):
    """
    Bayes' rule over every set that agrees with what is known.
    """
    draw = drawn()
    known = np.array(known, dtype=np.int8)
    later = np.ones(len(known)) if later is None else np.array(later)
    total, expected = 0.0, np.zeros(len(known))
    for members, chance in all_sets(draw).items():
        inside = np.isin(np.arange(len(known)), list(members))
        if (inside[known == 1]).all() and not inside[known == 0].any():
            weight = chance * np.prod(later[inside & (known < 0)])
            total += weight
            expected += weight * inside

    chances, out_in = draw.given(known, later)

    np.testing.assert_allclose(chances, expected / total, atol=1e-10)
    np.testing.assert_allclose(out_in.sum(), 1)


def test_learning_a_song_keeps_the_chances_on_the_average():
    """
    The chance before is the mean of the chances after, in and out.
    """
    draw = drawn()
    known = np.full(7, -1, dtype=np.int8)
    in_, out = known.copy(), known.copy()
    in_[3], out[3] = 1, 0

    mean = SAID[3] * draw.given(in_)[0] + (1 - SAID[3]) * draw.given(out)[0]

    np.testing.assert_allclose(mean, draw.chances, atol=1e-8)


def test_a_set_that_cannot_be_is_refused():
    """
    Five songs known in a set of at most four.
    """
    with pytest.raises(ValueError, match="No set agrees"):
        drawn().given(np.array([1, 1, 1, 1, 1, -1, -1], dtype=np.int8))


def test_spreads_are_told_apart_by_the_nights_they_made():
    """
    All songs at once, or none, speaks for nights that differ much; the usual number for nights that are alike.
    """
    stays = np.arange(40) < 10
    chances = np.where(stays, 0.7, 0.1)
    counts = count_swaps(chances, stays, np.eye(11)[10], EVEN)

    busy, usual = counts.spread_scores(9, 9), counts.spread_scores(3, 3)

    assert busy.argmax() > usual.argmax() == 0


@pytest.mark.parametrize(("gone", "came"), [(0, 4), (1, 6), (0, 2), (3, 1)])
def test_what_is_learned_of_nights_is_the_same_however_large_a_set_was_thought_possible(gone, came):
    """
    A set of eight, where at most four songs were thought possible, teaches as much as where eight were.
    """
    stays, chances = np.arange(12) < 3, np.append(SAID, [0.2, 0.3, 0.1, 0.4, 0.25])
    narrow = count_swaps(chances, stays, SIZES, EVEN)
    wide = count_swaps(chances, stays, np.append(SIZES, [1e-12] * 5), EVEN)

    assert (5, 11) == (narrow.ins.shape[1], wide.ins.shape[1])
    np.testing.assert_allclose(narrow.spread_scores(gone, came), wide.spread_scores(gone, came), rtol=1e-12)
