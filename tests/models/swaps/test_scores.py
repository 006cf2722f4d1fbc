"""Scores and simple rules, worked out by hand on small tables."""

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from tourstats.models import swaps
from tourstats.models.swaps.past_shows import middle


def table(*rows):
    return pd.DataFrame(rows, columns=["show_id", "song", "chance", "in_last_set", "played"])


FORECASTS = table(
    (1, "A", 0.9, True, True),
    (1, "B", 0.4, False, True),
    (1, "C", 0.3, False, False),
    (1, "D", 0.2, False, True),
    (2, "A", 0.8, True, False),
    (2, "B", 0.1, False, False),
    (2, "C", 0.7, False, True),
    (2, "D", 0.6, True, True),
)


def tour(sets):
    plays = pd.DataFrame(
        [(t + 1, k + 1, song) for t, titles in enumerate(sets) for k, song in enumerate(titles)],
        columns=["show_id", "position", "song"],
    )
    shows = pd.DataFrame({"show_id": range(1, len(sets) + 1), "date": pd.date_range("2031-03-01", periods=len(sets))})
    return plays, shows, pd.DataFrame({"song": sorted({song for titles in sets for song in titles})})


def test_recall_is_of_the_songs_outside_the_last_set():
    """
    Three came in; the likeliest one outside found two of them, the likeliest two found no more, three found all.
    """
    found = swaps.recall(FORECASTS, [1, 2, 3])

    assert [3, 3, 3] == found.came.tolist()
    assert [2, 2, 3] == found.found.tolist()
    assert [2 / 3, 2 / 3, 1.0] == found.recall.tolist()
    assert found.low.isna().all()


def test_the_interval_of_a_share_is_that_of_as_many_coins():
    """
    400 shows at which one song came in, found at 100 of them: 0.25, and 1.96 standard errors of a share either way.
    """
    shows = range(400)
    rows = [(show, "A", 0.9 if show % 4 == 0 else 0.1, False, True) for show in shows]
    rows += [(show, "B", 0.5, False, False) for show in shows]
    found = swaps.recall(table(*rows), [1]).iloc[0]
    reach = 1.96 * np.sqrt(0.25 * 0.75 / 400)

    assert (400, 100) == (found.came, found.found)
    assert [0.25 - reach, 0.25 + reach] == pytest.approx([found.low, found.high], abs=0.1 * reach)


def test_shows_count_alike_however_many_songs_they_had():
    """
    The mean of a show first, then of the shows.
    """
    scores = swaps.by_show(FORECASTS)

    assert [1, 2] == scores.show_id.tolist()
    assert -np.log([0.9, 0.4, 0.7, 0.2]).mean() == pytest.approx(scores.log_loss[0])
    assert np.mean([0.64, 0.01, 0.09, 0.16]) == pytest.approx(scores.brier[1])


def test_a_slope_knows_bold_from_timid():
    """
    Log odds twice too large give a half, twice too small give two.
    """
    rng = np.random.default_rng(5)
    odds = rng.normal(-1, 1.2, 40_000)
    played = rng.random(40_000) < 1 / (1 + np.exp(-odds))
    bold, timid = (1 / (1 + np.exp(-odds * factor)) for factor in (2, 0.5))

    assert 0.5 == pytest.approx(swaps.slope(bold, played), abs=0.03)
    assert 2.0 == pytest.approx(swaps.slope(timid, played), abs=0.1)


def test_what_cannot_be_scored_is_not_a_number():
    """
    No forecasts, or nothing but one outcome.
    """
    assert np.isnan(swaps.slope([], []))
    assert np.isnan(swaps.slope([0.2, 0.4], [1, 1]))
    assert np.isnan(swaps.recall(FORECASTS.head(0)).recall).all()


def test_a_comparison_holds_the_figures_of_each_way():
    """
    Loss, slope and recall of every way, and the difference from the forecast.
    """
    parts = [FORECASTS.assign(show_id=FORECASTS.show_id + 2 * k) for k in range(4)]
    model = pd.concat(parts, ignore_index=True)
    rule = model.assign(chance=0.2 + 0.6 * model.chance)
    told = swaps.compare(model, {"flatter": rule}).set_index("way")
    gap = swaps.by_show(rule).log_loss.mean() - swaps.by_show(model).log_loss.mean()

    assert gap == pytest.approx(told.worse["flatter"])
    assert swaps.slope(rule.chance, rule.played) == told.slope["flatter"]
    assert told.slope["flatter"] > told.slope["this forecast"]
    assert told.low["flatter"] <= gap <= told.high["flatter"]


def test_carrying_over_counts_stays_and_swaps():
    """
    Starting from one stay of two and one swap-in of ten; three sets, worked out on paper.
    """
    told = swaps.carry_over(*tour([["A", "B"], ["A", "C"], ["A", "C"]]), start=1).set_index(["show_id", "song"]).chance

    assert [1 / 2, 1 / 2, 1 / 10] == told[2][["A", "B", "C"]].tolist()
    assert [2 / 4, 2 / 11, 2 / 4] == pytest.approx(told[3][["A", "B", "C"]].tolist())


def test_how_often_lately_fades_and_how_often_does_not():
    """
    A song of the first ten shows against one of the last ten.
    """
    sets = [["Early", "Always"]] * 10 + [["Late", "Always"]] * 10
    often, lately = (
        rule(*tour(sets), start=19).set_index("song").chance for rule in (swaps.base_rate, swaps.decayed_rate)
    )

    assert 0.45 < often["Late"] < often["Early"] < 0.6
    assert lately["Early"] < 0.35 < 0.65 < lately["Late"]  # noqa: PLR0133  # one after the other
    assert lately["Always"] > 0.9


def test_the_two_state_rule_counts_runs_and_shows_out():
    """
    A song that comes every third night: never stays, comes after two nights out.
    """
    sets = [["A", "X"], ["B", "X"], ["C", "X"]] * 12
    told = swaps.markov(*tour(sets), start=33).set_index(["show_id", "song"]).chance[34]

    assert told["A"] > 0.75
    assert told["B"] < 0.2
    assert told["C"] < 0.2
    assert told["X"] > 0.8


def test_rules_know_nothing_of_the_show_itself():
    """
    Another last set, the same forecasts of it.
    """
    sets = [["A", "B"], ["A", "C"], ["B", "C"], ["A", "B"]]
    for rule in (swaps.carry_over, swaps.base_rate, swaps.decayed_rate, swaps.markov):
        here = rule(*tour(sets), start=1)
        there = rule(*tour([*sets[:-1], ["C", "B"]]), start=1)

        pd.testing.assert_series_equal(here.chance, there.chance)
        assert not here.played.equals(there.played)


def test_what_a_town_heard_is_the_last_show_there_before_this_stay():
    """
    Two nights in one town, one in another, back for two nights.
    """
    sets = [["A", "B"], ["A", "C"], ["D", "E"], ["A", "D"], ["B", "C"]]
    plays, shows, songs = tour(sets)
    made = swaps.feature_table(plays, shows.assign(city=["Here", "Here", "There", "Here", "Here"]), songs)
    made = made.set_index(["show_id", "song"])

    assert 0 == made.loc[2, "heard_here"].sum() == made.loc[3, "heard_here"].sum()
    assert {"A", "C"} == set(made.loc[4].query("heard_here == 1").index)
    assert {"B", "D", "E"} == set(made.loc[4].query("not_heard_here == 1").index)
    assert {"A", "C"} == set(made.loc[5].query("heard_here == 1").index)
    assert [1, 0, 0, 1] == made.same_city.groupby("show_id").first().tolist()
    assert {"A", "D"} == set(made.loc[5].query("in_last_set").index)


@pytest.mark.parametrize("mean", [0.4, 3.0, 11.0])
def test_the_middle_of_a_count_is_that_of_its_distribution(mean):
    """
    Scipy's quantiles of a Poisson distribution: a tenth at most below, a tenth at most above.
    """
    law = stats.poisson(mean)
    low, high = middle(law.pmf(range(60)))

    assert (law.ppf(0.1), law.ppf(0.9)) == (low, high)
    assert law.cdf(low - 1) <= 0.1 >= law.sf(high)
