"""What to learn next, and what to run on a day off."""

from datetime import date

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tourstats.models import practice
from tourstats.problems import Problem, TableProblem
from tourstats.tables import READINESS

NEW = pd.DataFrame(
    {
        "song": ["Ferry", "Copper Wire", "Tin Rook", "Salt Road", "Lantern"],
        "readiness": ["by heart", None, "show-ready", "by ear", "at the kit"],
        "status": ["learning"] * 5,
    }
)
CHANCES = {"Ferry": 0.2, "Copper Wire": 0.9, "Salt Road": 0.3, "Lantern": 0.01}


@st.composite
def repertoires(draw):
    """Songs at every step, and their chances."""
    number = draw(st.integers(1, 7))
    songs = pd.DataFrame(
        {
            "song": [f"Song {at}" for at in range(number)],
            "readiness": draw(st.lists(st.sampled_from([None, *READINESS]), min_size=number, max_size=number)),
        }
    )
    return songs, dict(zip(songs.song, draw(st.lists(st.floats(0, 1), min_size=number, max_size=number)), strict=True))


def test_the_next_step_of_each_song_comes_by_chance_against_what_is_missing():
    """
    A likely song with everything to learn comes before an unlikely one that lacks a single step.
    """
    steps = practice.learn_next(NEW, CHANCES)

    # By hand: 0.9/115 = .0078, 0.2/35 = .0057, 0.3/75 = .0040, 0.01/15 = .0007.
    assert [
        ("Copper Wire", "on paper", 115.0),
        ("Ferry", "at the kit", 35.0),
        ("Salt Road", "by hand", 75.0),
        ("Lantern", "show-ready", 15.0),
    ] == list(steps[["song", "step", "missing_minutes"]].itertuples(index=False, name=None))


@given(repertoires(), st.integers(0, 25), st.integers(0, 150))
def test_a_timetable_keeps_to_the_minutes_and_the_order_of_steps(repertoire, days, a_day):
    """
    No day is longer than it may be, every step of a song follows the one before, and no song is dropped.
    """
    songs, chances = repertoire

    table = practice.learn_next(songs, chances, a_day, days)

    placed = table[table["day"].notna()]
    assert placed.groupby("day").minutes.sum().le(a_day + 1e-9).all()
    assert placed["day"].between(1, days).all()
    assert set(table.song) == set(songs.song[songs.readiness != "show-ready"])
    for title, rows in placed[placed.step != "again"].groupby("song", sort=False):
        reached = songs.set_index("song").readiness[title]
        missing = READINESS[0 if pd.isna(reached) else READINESS.index(reached) + 1 :]
        assert list(missing) == rows.step.drop_duplicates().tolist()
        assert sum(practice.STEPS[step] for step in missing) == pytest.approx(rows.minutes.sum())
        assert rows["day"].is_monotonic_increasing


@given(repertoires(), st.randoms(use_true_random=False))
def test_the_order_of_rows_does_not_matter(repertoire, chance):
    """
    The same songs in another order get the same timetable.
    """
    songs, chances = repertoire
    order = list(range(len(songs)))
    chance.shuffle(order)

    pd.testing.assert_frame_equal(
        practice.learn_next(songs, chances, 60, 6), practice.learn_next(songs.iloc[order], chances, 60, 6)
    )


def test_a_night_lies_between_two_steps_of_a_song_if_there_is_time():
    """
    In three weeks no two steps of one song fall on one day; in one day, all of them do.
    """
    placed = practice.learn_next(NEW, CHANCES, 120, 21)

    assert not placed.duplicated(["song", "day"]).any()
    assert {1} == set(practice.learn_next(NEW, CHANCES, 240, 1)["day"])


def test_the_songs_whose_chances_add_up_to_most_are_made_ready():
    """
    Ninety minutes are enough for one song with everything to learn, or for two with less that together are likelier.
    """
    songs = pd.DataFrame({"song": ["Ferry", "Tin Rook", "Lantern"], "readiness": ["on paper", "by hand", "by hand"]})
    chances = {"Ferry": 0.8, "Tin Rook": 0.45, "Lantern": 0.45}

    # Missing: 90, 60 and 60 minutes; 120 minutes in all.
    table = practice.learn_next(songs, chances, 20, 6, steps={"by heart": 20})

    assert {"Tin Rook", "Lantern"} == set(table.song[table.step == "show-ready"])
    assert [True] == table["day"].isna()[table.song == "Ferry"].tolist()
    assert (
        table.because[table.song == "Ferry"].item().startswith("cannot be show-ready in time: 85 minutes are missing")
    )


def test_three_weeks_for_the_whole_repertoire():
    """
    A new member with 120 songs, three weeks and four hours a day: what is most likely is ready, the rest is listed.
    """
    titles = [f"Song {at}" for at in range(120)]
    chances = dict(zip(titles, np.linspace(0.9, 0.05, 120), strict=True))

    table = practice.learn_next(pd.DataFrame({"song": titles}), chances, 240, "2031-03-25", today="2031-03-04")

    ready = table.loc[table.step == "show-ready", "song"].tolist()
    assert set(titles[:40]) <= set(ready)
    assert set(titles) == set(table.song)
    assert pd.Timestamp("2031-03-04") == table.date.min()
    assert pd.Timestamp("2031-03-24") >= table.date.max()
    assert 0.9 * 21 * 240 < table.minutes[table["day"].notna()].sum() <= 21 * 240


def test_what_is_ready_is_run_again_after_the_gap_that_suits_the_time_left():
    """
    A song that is ready on the first of twenty days comes again some days later, once.
    """
    one = pd.DataFrame({"song": ["Ferry"], "readiness": ["at the kit"]})

    table = practice.learn_next(one, None, 60, 20)

    # 20 days are left after day 1: suggest_gap(20) is 3.9.
    assert [("show-ready", 1), ("again", 5)] == list(table[["step", "day"]].itertuples(index=False, name=None))


def test_a_step_that_is_longer_than_a_day_takes_several():
    """
    Ten minutes a day are a beginning too.
    """
    table = practice.learn_next(pd.DataFrame({"song": ["Ferry"], "readiness": ["by hand"]}), None, 10, 9)

    assert [10, 10, 5, 10, 10, 10, 5, 5] == table.minutes.tolist()
    assert ["by heart"] * 3 + ["at the kit"] * 2 + ["show-ready"] * 2 + ["again"] == table.step.tolist()


def test_songs_that_were_played_are_ready_though_nobody_wrote_it_down():
    """
    `ready` speaks for empty cells only: what is written down counts.
    """
    table = practice.learn_next(NEW, CHANCES, ready=["Copper Wire", "Ferry"])

    assert ["Ferry", "Salt Road", "Lantern"] == table.song.tolist()


def test_more_shows_make_a_song_more_likely():
    """
    Played at one of two shows at least: 1 - 0.8 * 0.8.
    """
    table = practice.learn_next(NEW, CHANCES, shows=2)

    assert pytest.approx(0.36) == table.set_index("song").chance["Ferry"]


def test_a_song_without_a_chance_gets_the_mean_and_says_so():
    """
    A song that no forecast knows is no reason to leave it out.
    """
    table = practice.learn_next(NEW, {"Ferry": 0.2, "Copper Wire": 0.4})

    lantern = table.set_index("song").loc["Lantern"]
    assert 0.3 == pytest.approx(lantern.chance)
    assert lantern.because == (
        "chance of being played 30%, the mean, since nobody knows it; the last step to show-ready"
    )


def test_retired_songs_are_not_learned():
    """
    What is no longer played is left alone.
    """
    songs = NEW.assign(status=["retired", "learning", "learning", "active", "retired"])

    assert {"Copper Wire", "Salt Road"} == set(practice.learn_next(songs).song)


@pytest.mark.parametrize(
    ("settings", "sentence"),
    [
        (
            {"songs": NEW.assign(readiness="nearly")},
            (
                "Row 1 of the table of songs: `readiness` is 'nearly', but it has to be one of on paper, by ear, "
                "by hand, by heart, at the kit, show-ready, or empty."
            ),
        ),
        (
            {"chances": {"Ferry": 1.5}},
            "Row 1 of the table of chances: `chance` is 1.5, but it has to be a number between 0 and 1.",
        ),
        (
            {"minutes_a_day": 60, "until": date(2031, 3, 4)},
            "`today` is None, but it has to be a day such as 2031-03-04, since `until` is one.",
        ),
        (
            {"minutes_a_day": 60, "until": "4 March", "today": "2031-03-01"},
            "`until` is '4 March', but it has to be a day such as 2031-03-04.",
        ),
        ({"minutes_a_day": -1, "until": 3}, "`minutes_a_day` is -1, but it has to be a number of minutes, 0 or more."),
        (
            {"steps": {"hummed": 3}},
            "`steps` may name on paper, by ear, by hand, by heart, at the kit, show-ready; it named 'hummed'.",
        ),
        (
            {"steps": {"by ear": 0}},
            "`steps: by ear` is 0, but it has to be a number of minutes, 1 or more.",
        ),
        (
            {"songs": pd.DataFrame({"title": []})},
            "The table of songs needs the column `song`; it has title. Add what is missing, or rename what is there.",
        ),
    ],
)
def test_what_cannot_be_is_said(settings, sentence):
    """
    Each wrong cell or setting has its sentence.
    """
    with pytest.raises(Problem) as caught:
        practice.learn_next(**{"songs": NEW, **settings})

    assert sentence == str(caught.value)


@given(st.floats(1, 2000), st.floats(1.01, 3))
def test_the_gap_grows_but_less_than_the_time(days, more):
    """
    A longer gap for a later show, and a smaller share of the time.
    """
    sooner, later = practice.suggest_gap(days), practice.suggest_gap(days * more)

    assert sooner < later
    assert sooner / days > later / (days * more)


def test_candidates_keep_every_song():
    """
    Songs without a forecast stay, with no chance; songs that only the forecast knows are added; titles stay whole.
    """
    songs = pd.DataFrame({"song": ["Ferry", "Tin Rook", " Salt Road "], "minutes": [4.0, 5.0, 3.0]})
    forecast = pd.DataFrame({"song": ["Tin Rook", "Lantern"], "chance": [0.7, 0.2], "because": ["out 9 shows", None]})

    table = practice.candidates(songs, forecast)

    assert [("Ferry", 0.0), ("Tin Rook", 0.7), (" Salt Road ", 0.0), ("Lantern", 0.2)] == list(
        table[["song", "chance"]].itertuples(index=False, name=None)
    )
    assert "out 9 shows" == table.because[1]


def test_a_rate_that_was_assumed_is_called_assumed_in_the_plan():
    """
    The plan does not pass off a guess as a review.
    """
    known = practice.candidates(["Ferry", "Tin Rook"], {"Ferry": 0.9, "Tin Rook": 0.5}, {"Ferry": 0.4})
    steps = practice.plan(known, 20)

    assert [
        "chance of being played 90%; 0.40 mistakes per performance expected",
        "chance of being played 50%; 0.40 mistakes per performance assumed, nothing reviewed yet",
    ] == steps.because.tolist()


def test_on_a_day_off_the_chance_decides_as_much_as_the_mistakes():
    """
    A song that goes wrong twice as often but comes a quarter as often is not the one to run.
    """
    chances = pd.DataFrame({"song": ["Ferry", "Tin Rook"], "chance": [0.8, 0.2]})
    rates = pd.DataFrame({"song": ["Ferry", "Tin Rook"], "rate": [0.5, 1.0]})

    steps = practice.plan(practice.candidates(["Tin Rook", "Ferry"], chances, rates), 4, ways=["whole run"])

    assert [("Ferry", 0.132)] == [(row.song, pytest.approx(row.avoids)) for row in steps.itertuples()]


@pytest.mark.parametrize(
    ("chances", "sentence"),
    [
        (
            pd.DataFrame({"song": ["Ferry"], "chance": [None]}),
            "Row 1 of the table of chances: `chance` is nan, but it has to be a number between 0 and 1.",
        ),
        (
            pd.DataFrame({"song": ["Ferry"], "odds": [1.0]}),
            (
                "The table of chances needs the columns `song`, `chance`; it has song, odds. "
                "Add what is missing, or rename what is there."
            ),
        ),
    ],
)
def test_chances_that_are_none_are_said(chances, sentence):
    """
    A chance that is missing is not taken for 0.
    """
    with pytest.raises(TableProblem) as caught:
        practice.candidates(["Ferry"], chances)

    assert sentence == str(caught.value)
