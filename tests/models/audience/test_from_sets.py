"""What sets alone say, held against counting every choice of shows."""

import math
from fractions import Fraction
from itertools import combinations

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.models.audience.tours import SONGS, crowds, plays_of, random_tour, shows_of
from tourstats.models import audience
from tourstats.models.audience.from_sets import AudienceProblem

legs = st.lists(st.lists(st.sampled_from(SONGS), min_size=1, max_size=6), min_size=1, max_size=7)


def counted(choices):
    """Mean and variance of distinct songs, over all choices alike, as fractions."""
    songs = [Fraction(len(set().union(*choice))) for choice in choices]
    mean = sum(songs) / len(songs)
    return mean, sum((n - mean) ** 2 for n in songs) / len(songs)


@given(legs)
def test_expected_heard_is_the_average_over_every_choice_of_shows(sets):
    """
    Mean and variance equal those over all subsets to 1e-12.
    """
    heard = audience.expected_heard(plays_of(sets), shows_of(["a"] * len(sets)))

    assert list(range(1, len(sets) + 1)) == heard.shows.tolist()
    for row in heard.itertuples():
        mean, variance = counted(list(combinations(sets, row.shows)))
        assert float(mean) == pytest.approx(row.expected, abs=1e-12)
        assert float(variance) == pytest.approx(row.sd**2, abs=1e-12)


@given(legs)
def test_runs_are_averaged_over_shows_in_a_row(sets):
    """
    People travel in runs; those are fewer choices, each counted once.
    """
    heard = audience.expected_heard(plays_of(sets), shows_of(["a"] * len(sets)), runs=True)

    for row in heard.itertuples():
        runs = [sets[at : at + row.shows] for at in range(len(sets) - row.shows + 1)]
        mean, variance = counted(runs)
        assert float(mean) == pytest.approx(row.expected, abs=1e-12)
        assert float(variance) == pytest.approx(row.sd**2, abs=1e-12)
        songs = [len(set().union(*run)) for run in runs]
        assert min(songs) <= row.low <= row.high <= max(songs)


def test_nothing_is_left_to_chance_for_whoever_attends_all():
    """
    On a long tour too: all songs, and a deviation of exactly 0.
    """
    plays, shows = random_tour(1, shows=60, songs=120, size=20)
    last = audience.expected_heard(plays, shows).iloc[-1]

    assert (plays.song.nunique(), 0.0) == (last.expected, last.sd)


def test_the_interval_holds_what_it_claims():
    """
    Of 2,000 random choices of six shows of forty, at least 95 in 100 are in the interval, but it is not all there is.
    """
    plays, shows = random_tour(2, shows=40, songs=90, size=18)
    row = audience.expected_heard(plays, shows).iloc[5]
    sets, random = [set(s) for _, s in plays.groupby("show_id").song], np.random.default_rng(3)
    songs = [len(set().union(*(sets[n] for n in random.choice(40, 6, replace=False)))) for _ in range(2000)]
    inside = np.mean([row.low <= n <= row.high for n in songs])

    assert 0.95 <= inside < 1
    assert row.expected == pytest.approx(np.mean(songs), abs=4 * row.sd / math.sqrt(2000))


@given(legs, st.randoms(use_true_random=False))
def test_names_and_order_of_rows_change_nothing(sets, random):
    """
    Songs under other names, shows under other numbers, rows shuffled: the same numbers.
    """
    shows = shows_of(["a"] * len(sets))
    names = dict(zip(SONGS, random.sample(SONGS, len(SONGS)), strict=True))
    other = plays_of([[names[song] for song in songs] for songs in sets])
    shuffled = other.sample(frac=1, random_state=random.randint(0, 999))

    pd.testing.assert_frame_equal(
        audience.expected_heard(plays_of(sets), shows), audience.expected_heard(shuffled, shows[::-1])
    )
    pd.testing.assert_frame_equal(audience.shared(plays_of(sets), shows), audience.shared(shuffled, shows[::-1]))


@pytest.mark.parametrize("function", [audience.expected_heard, audience.shared, audience.after_last])
def test_before_the_first_set_tables_are_empty(function):
    """
    Day one is no error.
    """
    assert 0 == len(function(plays_of([]), shows_of(["a"])))


@given(crowds())
def test_after_the_last_shows_only_what_is_not_in_them_is_fresh(crowd):
    """
    Counted by sets, in the order of dates, within the leg; missing if there were too few shows.
    """
    plays, shows, _ = crowd
    sets = {show: set(rows.song) for show, rows in plays.groupby("show_id")}
    leg = shows.leg.fillna("-").to_numpy()
    got = audience.after_last(plays, shows).set_index(["show_id", "last"])

    for at, show in enumerate(shows.show_id):
        before = [other for other, its in zip(shows.show_id[:at], leg[:at], strict=True) if its == leg[at]]
        for last in (1, 2, 3):
            row = got.loc[(show, last)]
            if last > len(before):
                assert pd.isna(row.fresh)
                assert pd.isna(row.fresh_share)
            else:
                fresh = sets[show] - set().union(*(sets[other] for other in before[-last:]))
                assert (len(fresh), len(sets[show])) == (row.fresh, row.songs)
                assert len(fresh) / len(sets[show]) == row.fresh_share


def test_a_town_or_region_may_take_the_place_of_the_leg():
    """
    Any column of the shows will do; a show whose town is not known stands alone, and a wrong word is answered.
    """
    plays = plays_of([["Ferry"], ["Ferry"], ["Ferry"], ["Ferry"]])
    shows = shows_of(["a"] * 4, city=["Aldmoor", None, "Aldmoor", None], region=["coast", "coast", "hills", "coast"])
    fresh = {
        within: audience.after_last(plays, shows, [1], within).fresh.tolist() for within in ("city", "region", "tour")
    }

    assert {
        "city": [pd.NA, pd.NA, 0, pd.NA], "region": [pd.NA, 0, pd.NA, 0], "tour": [pd.NA, 0, 0, 0]
    } == fresh  # fmt: skip
    with pytest.raises(AudienceProblem) as caught:
        audience.after_last(plays, shows, [1], "moon")
    assert str(caught.value) == (
        "`within` is tour, or a column of the table of shows (leg, city, venue, room); it was 'moon'."
    )


def test_shared_counts_pairs_both_ways_of_looking():
    """
    One row a pair, the later show first; a song that stands twice counts once.
    """
    plays = plays_of([["Ferry", "Ferry", "Tin Rook"], ["Ferry"], ["Salt Road", "Tin Rook"]])
    got = audience.shared(plays, shows_of(["a"] * 3))

    assert [(2, 1, 1, 1), (3, 1, 1, 2), (3, 2, 0, 2)] == list(
        got[["show_id", "earlier", "shared", "songs"]].itertuples(index=False, name=None)
    )
    assert [1.0, 0.5, 0.0] == got.share.tolist()
    assert [2 / 3, 4 / 3, 2 / 3] == pytest.approx(got.by_chance.tolist())


def test_shows_to_hear_is_the_first_that_is_enough():
    """
    One show fewer is not enough, for any choice and for runs.
    """
    plays, shows = random_tour(4, shows=20, songs=60, size=12)
    got = audience.shows_to_hear(plays, shows, 0.8)

    for row, runs in zip(got.itertuples(), (False, True), strict=True):
        curve = audience.expected_heard(plays, shows, runs=runs).set_index("shows").expected
        assert curve[row.shows - 1] < 0.8 * row.songs <= curve[row.shows] == row.expected
    assert ["any shows", "shows in a row"] == got.way.tolist()


def test_songs_unheard_need_two_shows_and_say_which_form_was_used():
    """
    One show says nothing; no song played twice means the bias-corrected form; every song played often means none.
    """
    one = audience.unheard(plays_of([["Ferry"]]), shows_of(["a"])).iloc[0]
    no_twice = audience.unheard(plays_of([["Ferry", "Tin Rook"], ["Salt Road"]]), shows_of(["a"] * 2)).iloc[0]
    often = audience.unheard(plays_of([["Ferry", "Tin Rook"]] * 9), shows_of(["a"] * 9)).iloc[0]

    assert (1, 1) == (one.heard, one.once)
    assert pd.isna(one.estimate)
    assert ("Chao2 bias-corrected, (T - 1) / T", 3 + 0.5 * 3 * 2 / 2) == (no_twice.variant, no_twice.estimate)
    assert (2.0, 0.0) == (often.estimate, often.unheard)
    assert often.low == pytest.approx(2.0)
    assert 2.0 <= often.high < 2.04


def test_the_estimate_of_unheard_songs_is_a_lower_bound_that_finds_most():
    """
    Truth: 80 songs, unequal chances. After 12 shows of 8 the interval reaches beyond what was heard, and not past 130.
    """
    random = np.random.default_rng(5)
    chances = random.beta(1, 3, 80)
    sets = [[f"Song {n}" for n in np.flatnonzero(random.random(80) < chances)] for _ in range(12)]
    row = audience.unheard(plays_of(sets), shows_of(["a"] * 12)).iloc[0]

    assert row.heard < row.low < row.estimate < row.high < 130
    assert row.heard < 80
