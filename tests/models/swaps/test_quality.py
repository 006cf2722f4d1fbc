"""Forecasts of made-up leaders: no worse than simple rules, calibrated, with intervals that hold."""

import numpy as np
import pandas as pd
import pytest

from tests.models.swaps import leaders
from tourstats.models import swaps
from tourstats.models.swaps import rules

RULES = rules.ALL
SLACK = 0.003
"""How much worse than its best simple rule a tour may be, in nat a song and show."""


@pytest.fixture(scope="module")
def records():
    """One tour of each kind, its forecasts, and the leader's own chances."""
    made = {}
    for name, kind in leaders.KINDS.items():
        tour = kind()
        record = swaps.track_record(tour.plays, tour.shows, tour.songs)
        truth = pd.DataFrame(tour.chances, index=tour.shows.show_id, columns=tour.songs.song).stack().rename("truth")  # noqa: PD013  # a series with the two keys
        songs = record.songs.join(truth, on=["show_id", "song"])
        made[name] = tour, record, songs
    return made


def loss(table):
    return swaps.by_show(table).log_loss.mean()


@pytest.mark.parametrize("name", leaders.KINDS)
def test_no_tour_is_much_worse_than_its_best_simple_rule(records, name):
    """
    Also where the best that can be said is "like last night", or "any song".
    """
    tour, record, _ = records[name]
    best = min(loss(rule(tour.plays, tour.shows, tour.songs)) for rule in RULES.values())

    assert loss(record.songs) < best + SLACK


def test_the_pool_is_better_than_every_simple_rule_on_the_whole(records):
    """
    Each rule is best somewhere; none is as good in the mean.
    """
    by_rule = {
        name: np.mean([loss(rule(tour.plays, tour.shows, tour.songs)) for tour, _, _ in records.values()])
        for name, rule in RULES.items()
    }

    assert np.mean([loss(record.songs) for _, record, _ in records.values()]) < min(by_rule.values()) - 0.005


@pytest.mark.parametrize(
    ("name", "regret"),
    [("by_taste", 0.02), ("by_runs", 0.018), ("by_queue", 0.032), ("by_town", 0.035), ("all_changing", 0.004)],
)
def test_forecasts_come_near_the_leaders_own_chances(records, name, regret):
    """
    Log loss less that of who knows the leader's tastes (our own figures, rounded up).
    """
    songs = records[name][2]
    gap = swaps.log_loss(songs.chance, songs.played).mean() - swaps.log_loss(songs.truth, songs.played).mean()

    assert 0 < gap < regret


def test_chances_mean_what_they_say(records):
    """
    Slope of what happened on the log odds, and the mean.
    """
    slopes = {
        name: swaps.slope(songs.chance, songs.played)
        for name, (_, _, songs) in records.items()
        if name not in {"by_lot", "never_changing", "in_turn"}  # nothing to tell apart, or almost sure
    }

    assert 0.9 < np.mean(list(slopes.values())) < 1.1
    assert min(slopes.values()) > 0.75
    for _, _, songs in records.values():
        assert songs.chance.mean() == pytest.approx(songs.played.mean(), abs=0.01)


def test_chances_add_up_to_the_size_of_the_set(records):
    """
    All these leaders write sets of one size.
    """
    for _, record, songs in records.values():
        sums = record.songs.groupby("show_id").chance.sum()
        assert (sums - songs[songs.show_id == sums.index[0]].played.sum()).abs().max() < 0.5


def test_intervals_of_the_number_of_swaps_hold_what_they_say(records):
    """
    With the ends drawn by lot, 80 % of the nights.
    """
    counts = pd.concat([record.counts for name, (_, record, _) in records.items() if name != "never_changing"])
    place = counts.fewer + np.random.default_rng(1).random(len(counts)) * counts.same

    assert 0.75 < place.between(0.1, 0.9).mean() < 0.9
    assert ((counts.low <= counts.came) & (counts.came <= counts.high)).mean() > 0.8


def test_busy_and_quiet_nights_widen_the_interval():
    """
    A leader who changes everything or nothing: without nights that differ, both would be a surprise.
    """
    counts = swaps.track_record(*_tables(leaders.by_programme(shows=60))).counts
    wide = counts.high - counts.low

    assert wide.iloc[20:].median() >= 3


def _tables(tour):
    return tour.plays, tour.shows, tour.songs


def test_intervals_of_chances_hold_the_leaders_own(records):
    """
    Four in five over all kinds of leaders, among songs that are not as good as sure.
    """
    holds = []
    for _, _, songs in records.values():
        open_ = songs[songs.chance.between(0.02, 0.98)]
        if len(open_):
            holds.append(((open_.low <= open_.truth) & (open_.truth <= open_.high)).mean())

    assert 0.7 < np.mean(holds) < 0.92


def test_the_range_of_returns_holds_four_in_five(records):
    """
    What was said the night before, of songs that came back.
    """
    returns = pd.concat([record.returns for _, record, _ in records.values()])
    holds = returns.out.between(returns.low, returns.high)

    assert 0.78 < holds.mean() < 0.92
    assert (returns.low >= 1).all()


def test_early_forecasts_are_no_worse_than_carrying_over(records):
    """
    From the third show on, before there is much to learn from.
    """
    ours, carried = [], []
    for tour, _, _ in records.values():
        first = (tour.plays[tour.plays.show_id <= 8], tour.shows, tour.songs)
        ours.append(loss(swaps.backtest(*first, start=2)))
        carried.append(loss(swaps.carry_over(*first, start=2)))

    assert np.mean(ours) < np.mean(carried) + 0.002


def test_more_songs_are_found_than_by_chance(records):
    """
    Of the songs that come in, the first ten hold more than ten drawn by lot.
    """
    songs = records["by_queue"][2]
    outside = (~songs[songs.show_id == 60].in_last_set).sum()
    found = swaps.recall(songs, [5, 10, 20])

    assert found.recall[1] > 1.8 * 10 / outside
    assert found.recall.is_monotonic_increasing
    assert ((found.low < found.recall) & (found.recall < found.high)).all()


def test_comparison_says_where_a_simple_rule_does_as_well(records):
    """
    With sets drawn by lot, the interval of the difference does not clear a simple rule by much.
    """
    tour, record, _ = records["by_lot"]
    told = swaps.compare(record.songs, {name: rule(*_tables(tour)) for name, rule in RULES.items()}).set_index("way")

    assert ["this forecast", *RULES] == told.index.tolist()
    assert 0 == told.worse["this forecast"]
    assert abs(told.worse["carry-over"]) < SLACK
    assert told.low["carry-over"] <= told.worse["carry-over"] <= told.high["carry-over"]


def test_calibration_groups_are_large_enough_to_mean_something(records):
    """
    All forecasts, in groups of sixty or more, from unlikely to likely.
    """
    songs = records["by_taste"][2]
    groups = swaps.calibration(songs)

    assert len(songs) == groups.songs.sum()
    assert groups.songs.min() >= 60
    assert groups.said.is_monotonic_increasing
    assert ((groups.low <= groups.happened) & (groups.happened <= groups.high)).all()
    assert 0 == len(swaps.calibration(songs.head(100)))
