"""What a run takes away: one quantity, held against tours whose truth is known; in full in benchmarks/honest.py."""

import numpy as np
import pandas as pd
import pytest

from tests.models.playing import afternoons, rehearsed
from tests.models.playing.as_tour import as_tour
from tourstats.models import playing
from tourstats.models.estimates import PRIOR_RUNS
from tourstats.models.playing import runs
from tourstats.models.playing.effects import fitted
from tourstats.models.playing.performances import performances


def tables(made):
    return made.plays, made.shows, made.reviews, made.mistakes, made.rehearsals


@pytest.mark.parametrize("simulator", [rehearsed, afternoons])
@pytest.mark.parametrize("who", ["risky", "worried"])
def test_a_run_that_takes_away_half_is_found(simulator, who):
    """
    Truth: log 0.5 at the kit, whether hard songs are run or what went wrong the last time. A raw comparison of songs
    that are run with the others says less, where the hard ones are run.
    """
    rows, raw = [], []
    for seed in range(6):
        made = simulator.tour(200 + seed, who)
        rows.append(playing.effects(*tables(made)).set_index("effect").loc["run: kit"])
        heard = performances(*tables(made))
        raw.append(np.log(heard[heard.ran == "kit"].mistakes.mean() / heard[heard.ran == ""].mistakes.mean()))
    found = pd.DataFrame(rows)
    held = ((found.low <= np.log(0.5)) & (np.log(0.5) <= found.high)).sum()

    assert abs(found.log_ratio.mean() - np.log(0.5)) < 0.15
    assert 5 <= held
    assert (50 * (np.exp(found.high) - np.exp(found.low))).max() < 35
    assert who == "worried" or found.log_ratio.mean() + 0.1 < np.mean(raw)


def test_plan_forecast_and_effects_say_the_same():
    """
    The share that a run takes away is 1 - exp of the effect; a song that is run tonight falls by as much.
    """
    made = rehearsed.tour(300, "fair")
    row = playing.effects(*tables(made)).set_index("effect").loc["run: kit"]
    said = playing.what_runs_take(as_tour(*tables(made))).set_index("way")
    day = made.shows.date.max() + pd.Timedelta(days=9)
    titles = made.songs.song[:4].tolist()
    run = pd.DataFrame({"date": [day], "song": titles[:1], "way": "kit"})

    def told(rehearsals):
        return playing.expected(as_tour(*tables(made)[:4], rehearsals), {"date": day}, titles)

    before, after = told(made.rehearsals), told(pd.concat([made.rehearsals, run]))
    fell = 1 - after.expected[0] / before.expected[0]

    assert -np.expm1(row.log_ratio) == pytest.approx(said.takes["kit"])
    assert said.takes["kit"] == pytest.approx(fell, abs=0.06)
    assert fell == pytest.approx(after.run_share[0], abs=1e-3)
    assert before.expected[1:].tolist() == pytest.approx(after.expected[1:].tolist(), rel=0.02)


def test_without_a_diary_the_assumption_stands_with_its_interval():
    """
    At the kit a third less, from three quarters less to no use at all (two standard deviations of 0.5), and the word.
    """
    nothing = pd.DataFrame(columns=["show_id", "song", "severity", "position", "date", "way"])
    row = playing.what_runs_take(as_tour(nothing, nothing, nothing, nothing, nothing)).set_index("way").loc["kit"]

    assert ("assumed", 0) == (row.basis, row.reviewed)
    assert [-0.4 - 1.96 * 0.5, -0.4 + 1.96 * 0.5] == pytest.approx([row.low, row.high], abs=1e-3)
    assert [1 - np.exp(-0.4), 1 - np.exp(row.high)] == pytest.approx([row.takes, row.takes_low])


def test_the_diary_weighs_as_much_as_it_is_sure():
    """
    By hand, of one way alone: means weighed by their inverse variances.
    """
    made = rehearsed.tour(301, "risky")
    found = fitted(performances(*tables(made)))
    at = found.design.names.index("run: kit")
    assumed, spread = PRIOR_RUNS["kit"]
    seen, error = found.fit.coefficients[at], found.fit.errors[at]
    assert "run on the day" not in found.runs.told
    weights = np.array([1 / spread**2, 1 / error**2])

    assert weights @ [assumed, seen] / weights.sum() == pytest.approx(found.runs.of("run: kit")[0])
    assert weights.sum() ** -0.5 == pytest.approx(found.runs.of("run: kit")[1])
    assert runs.assumed().of("run: pad") == pytest.approx(found.runs.of("run: pad"))


def test_what_is_needed_is_as_many_as_make_the_diary_as_sure_as_the_assumption():
    """
    With those there are the diary's variance is so many times smaller: the sentence counts them.
    """
    made = rehearsed.tour(301, "risky")
    heard = performances(*tables(made))
    row = playing.what_runs_take(as_tour(*tables(made))).set_index("way").loc["kit"]
    error = fitted(heard).runs.error["run: kit"]

    assert (heard.ran == "kit").sum() == row.reviewed
    assert row.reviewed * error**2 / 0.25 == pytest.approx(row.needs)
    assert ("the diary" if row.needs < row.reviewed else "mostly assumed") == row.basis


@pytest.mark.parametrize("simulator", [rehearsed, afternoons])
def test_expected_mistakes_and_chances_are_found_and_the_range_of_a_set_holds(simulator):
    """
    Truth: counts of tours with runs by lot. In all within a tenth, the range of the set four nights in five.
    """
    records = []
    for seed in range(3):
        made = (
            simulator.tour(400 + seed, "fair", nights=40)
            if simulator is afternoons
            else simulator.tour(400 + seed, "fair", shows=40)
        )
        records.append(playing.expected_record(as_tour(*tables(made))).assign(tour=seed))
    record = pd.concat(records)
    sets = record[record.whole.astype(bool)].groupby(["tour", "show_id"])
    night = sets.agg(found=("mistakes", "sum"), low=("range_low", "first"), high=("range_high", "first"))
    inside = ((night.found > night.low) & (night.found < night.high)).mean()
    on = ((night.found == night.low) | (night.found == night.high)).mean()

    assert record.expected.sum() == pytest.approx(record.mistakes.sum(), rel=0.12)
    assert record.chance.sum() == pytest.approx((record.mistakes > 0).sum(), rel=0.12)
    assert 0.7 < inside + on / 2 < 0.92
    assert ["performances", "expected", "found", "chance", "wrong"] == list(playing.by_fifths(record).columns)


def test_a_record_says_what_would_have_been_said():
    """
    Leaving out what came later changes nothing of it.
    """
    made = rehearsed.tour(500, "fair", shows=20)
    all_of_it = playing.expected_record(as_tour(*tables(made)))
    cut = [t[t.show_id <= 14] for t in (made.plays, made.shows, made.reviews, made.mistakes)]
    part = playing.expected_record(as_tour(*cut, made.rehearsals))

    reviewed = [show for show in made.shows.show_id if show in set(made.reviews.show_id)]
    shared = all_of_it[all_of_it.show_id <= 14]
    assert all_of_it.show_id.iloc[0] == reviewed[8]  # the first eight are what is known by then
    assert shared.song.tolist() == part.song.tolist()
    told = ["expected", "chance", "range_low", "range_high", "mistakes"]
    pd.testing.assert_frame_equal(shared[told].reset_index(drop=True), part[told], check_dtype=False)


@pytest.mark.parametrize(("error", "basis"), [(0.5, "the diary"), (0.6, "mostly assumed")])
def test_what_is_mostly_assumed_is_said_until_the_diary_weighs_as_much(error, basis):
    """
    By hand: at the kit the assumption may be 0.5 off; ten performances that know it to 0.5 weigh as much, to 0.6 it
    takes 14.4 of them.
    """
    before = runs.assumed()
    known = runs.Known(before.mean, before.covariance, ("run: kit",), {"run: kit": 30}, {"run: kit": error})
    row = runs.as_table(known, pd.DataFrame({"ran": ["kit"] * 10})).set_index("way").loc["kit"]

    assert (basis, pytest.approx(10 * (error / 0.5) ** 2)) == (row.basis, row.needs)


def test_a_spot_that_goes_wrong_again_is_told_and_one_that_did_once_is_not():
    """
    Bar 4 of the bridge at three shows of five, the coda once; a bar that is all of its section stands for it.
    """
    reviews = pd.DataFrame({"show_id": [1, 2, 3, 4, 5], "song": "Ferry"})
    rows = [(1, "bridge", 4), (2, "bridge", 4), (5, "bridge", 4), (3, "coda", None)]
    found = pd.DataFrame(rows, columns=["show_id", "section", "bar"]).assign(song="Ferry", severity=2)
    table = playing.spots(found, reviews)

    assert [("bridge", 4, 3, 5, 3)] == [
        (row.section, row.bar, row.shows, row.reviewed, row.mistakes) for row in table.itertuples()
    ]
    assert (table.rate < 3 / 5 + 1e-9).all()
