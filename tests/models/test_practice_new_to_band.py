"""New to the band: the order to a day, and the minutes that songs took so far."""

from datetime import date

import pandas as pd
import pytest

from tourstats.models import practice
from tourstats.models.practice import STEPS

FIRST = date(2031, 3, 1)


def dated(rows, *names):
    """Rows with a day first."""
    table = pd.DataFrame(rows, columns=["date", *names])
    return table.assign(date=pd.to_datetime(table.date))


def test_a_song_took_its_runs_up_to_my_first_show_with_it():
    """
    Runs of that day and later ones keep it; a song played before its first run was learned elsewhere; a run without
    minutes takes its song's length; what is not by heart yet says nothing.
    """
    songs = pd.DataFrame(
        {
            "song": ["Qx Ferry", "Qx Rook", "Qx Wire", "Qx Lamp"],
            "readiness": ["show-ready", "show-ready", "by heart", "by hand"],
            "minutes": [4.0, 4.0, 5.0, 4.0],
        }
    )
    runs = dated(
        [
            ("2031-03-02", "Qx Ferry", 1, 30.0),
            ("2031-03-04", "Qx Ferry", 2, 16.0),
            ("2031-03-10", "Qx Ferry", 1, 50.0),
            ("2031-03-20", "Qx Ferry", 1, 99.0),
            ("2031-03-12", "Qx Rook", 1, 7.0),
            ("2031-03-12", "Qx Wire", 4, None),
            ("2031-03-12", "Qx Lamp", 4, 50.0),
        ],
        "song", "runs", "minutes",
    )  # fmt: skip
    plays = dated([("2031-03-10", "Qx Ferry"), ("2031-03-10", "Qx Rook")], "song")

    learned = practice.took(songs, runs, plays).set_index("song")

    # By hand: 30 + 16; of 115 assumed. Four runs of five minutes; of 25 + 15 + 15 + 25 = 80 assumed.
    assert {"Qx Ferry": 46.0, "Qx Wire": 20.0} == learned.minutes.to_dict()
    assert {"Qx Ferry": 46 / 115, "Qx Wire": 20 / 80} == pytest.approx(learned.share.to_dict())


def test_the_pace_is_used_from_five_songs_on():
    """
    Four say too little; one slow song of five does not move the middle.
    """
    share = pd.DataFrame({"share": [0.5, 0.5, 0.5, 0.5, 4.0]})

    assert dict(STEPS) == practice.my_steps(share.head(4))
    assert {step: minutes / 2 for step, minutes in STEPS.items()} == practice.my_steps(share)


def test_eighty_songs_in_three_weeks():
    """
    80 songs of 115 minutes and 21 days of 120: 2520 // 115 = 21 fit at most; those left out are the least likely, the
    least of all first.
    """
    titles = [f"Qx {number:02}" for number in range(80)]
    songs = pd.DataFrame({"song": titles, "readiness": None})
    chances = {title: (at + 1) / 100 for at, title in enumerate(titles)}
    plays = pd.DataFrame({"song": ["Qx 79"] * 3})

    order = practice.learning_order(songs, plays, 120, date(2031, 3, 22), FIRST, chances=chances)
    fits, late = order[order.place.notna()], order[order.place.isna()]

    assert 80 == len(order)
    assert 20 <= len(fits) <= 21
    assert titles[: len(late)] == late.song.tolist()
    assert fits.minutes.sum() <= 2520
    assert list(range(1, len(fits) + 1)) == fits.place.tolist()
    assert fits.begins.is_monotonic_increasing
    assert 3 == order.set_index("song").played["Qx 79"]


def test_a_song_that_i_played_is_known_unless_its_readiness_says_otherwise():
    """
    From the day I joined; before that it was the others'.
    """
    songs = pd.DataFrame({"song": ["Qx Ferry", "Qx Rook", "Qx Wire"], "readiness": [None, None, "by heart"]})
    plays = pd.DataFrame({"show_id": [1, 2, 2], "song": ["Qx Ferry", "Qx Rook", "Qx Wire"]})
    shows = pd.DataFrame({"show_id": [1, 2], "date": pd.to_datetime(["2031-02-01", "2031-02-20"])})

    def left(since):
        known = practice.mine(plays, shows, since).song.unique()
        return set(practice.learning_order(songs, plays, 60, date(2031, 4, 1), FIRST, ready=known).song)

    assert {"Qx Ferry", "Qx Wire"} == left(date(2031, 2, 10))
    assert {"Qx Ferry", "Qx Rook", "Qx Wire"} == left(None)
