"""Two legs held against each other: what is named has changed, and what has not is not named."""

import numpy as np
import pandas as pd
import pytest
from statsmodels.stats.contingency_tables import StratifiedTable

from tests.models.playing import apart
from tests.models.playing.as_tour import as_tour
from tests.models.playing.kinds import named, with_kinds
from tests.models.playing.simulated import TRUTH, tour
from tourstats.models import playing
from tourstats.models.playing import contrast
from tourstats.models.playing.contrast import held

LEVEL = dict.fromkeys(TRUTH, 0.0)


@pytest.mark.parametrize("hard", [False, True])
def test_no_kind_or_cause_is_named_where_nothing_changed(hard):
    """
    Nights vary, and the second time the later leg has the harder half of the songs only: nothing of eight is named.
    """
    told = [named(tour(seed, "uneven", truth=LEVEL), seed, hard=hard)[0] for seed in range(3)]

    assert [[], [], []] == told


def test_nothing_is_named_in_tours_of_another_making():
    """
    The second simulator, with nights that vary, partial reviews, and the harder half of the songs on the later leg.
    """
    truth = {**apart.TRUTH, "date": 0.0}

    assert [[], []] == [named(apart.tour(seed, "uneven", truth=truth), seed, hard=True)[0] for seed in (1, 2)]


def test_a_kind_that_changed_is_named():
    """
    Truth: three times as many late entries on the later leg.
    """
    assert "entry" in named(tour(5, truth=LEVEL), 5, times=3.0)[0]


def test_each_song_is_held_against_itself():
    """
    The ratio of rates over songs is that of Mantel and Haenszel: for rare events statsmodels' odds ratio over the same
    tables comes near it. A raw comparison would say four times as many.
    """
    table = pd.DataFrame(
        {"song": ["easy"] * 40 + ["hard"] * 40, "later": [False] * 32 + [True] * 8 + [False] * 8 + [True] * 32}
    )
    table["at"] = np.tile(np.arange(20), 4)
    found = np.zeros(80)
    found[:4] = found[32] = found[[40, 41, 42, 43]] = found[48:64] = 1
    one = held(table, np.ones(80), found)
    million = 10**6
    strata = [
        np.array([[1, 8 * million], [4, 32 * million]]),
        np.array([[16, 32 * million], [4, 8 * million]]),
    ]

    assert StratifiedTable(strata).logodds_pooled == pytest.approx(one.log, abs=1e-5)
    assert 17 == pytest.approx(one.expected)


def test_legs_that_are_numbers_are_legs():
    """
    A leg written 1 in a file reads as text later; asking for the number 1 means the same.
    """
    made = tour(2, truth=LEVEL, shows=20)
    numbered = made.shows.assign(leg=made.shows.leg.map({"Spring": "1", "Autumn": "2"}))
    asked = made.plays, numbered, made.reviews, made.mistakes

    pd.testing.assert_frame_equal(
        playing.compare(as_tour(*asked), legs=(1, 2)).ratios, playing.compare(as_tour(*asked), legs=("1", "2")).ratios
    )


def test_kinds_are_named_at_one_in_forty_and_songs_at_one_in_twenty(monkeypatch):
    """
    Where each adjusted chance is 0.03, every song is named and no kind or cause: eight of these are looked at.
    """
    monkeypatch.setattr(contrast, "adjusted", lambda p, method="fdr_bh": np.full(len(p), 0.03))  # noqa: ARG005  # as it
    made = tour(2, truth=LEVEL, shows=20)
    asked = as_tour(made.plays, made.shows, made.reviews, with_kinds(made, 2))
    rows = playing.compare(asked, legs=("Spring", "Autumn")).ratios

    assert rows.changed[rows.about == "song"].all()
    assert not rows.changed[rows.about.isin(["kind", "cause"])].any()
    assert {"kind", "cause", "song"} < set(rows.about)
