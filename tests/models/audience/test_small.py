"""Small groups stay hidden, and cannot be worked out."""

import numpy as np
import pandas as pd
import pytest

from tests.models.audience.tours import plays_of, random_people, random_tour, shows_of
from tourstats.models import audience
from tourstats.models.audience import small

PEOPLE = ["repeat", "repeat_share", "fresh_share", "fresh_sd", "worst_decile", "audience_fresh_share"]


def nights(attendees, back):
    """Two nights: so many people at the second, so many of them from the first."""
    people = [(f"p{n}", 1) for n in range(max(back, 8))] + [(f"p{n}", 2) for n in range(back)]
    people += [(f"new{n}", 2) for n in range(attendees - back)]
    attendance = pd.DataFrame(people, columns=["person", "show_id"])
    plays = plays_of([["Ferry", "Tin Rook"], ["Tin Rook", "Salt Road", "Lantern"]])
    return audience.freshness(plays, shows_of(["a"] * 2), attendance, hide_under=5).iloc[1]


@pytest.mark.parametrize(
    ("attendees", "back", "hidden"),
    [(60, 0, False), (60, 1, True), (60, 4, True), (60, 5, False), (60, 55, False), (60, 56, True), (60, 60, False)],
)
def test_a_group_under_five_is_hidden_and_so_is_one_that_leaves_under_five(attendees, back, hidden):
    """
    Four came back: nothing about them. Fifty-six of sixty: the four newcomers would show.
    """
    row = nights(attendees, back)

    assert hidden == pd.isna(row["repeat"])
    assert hidden == pd.isna(row.audience_fresh_share)
    assert 60 == row.attendees


def test_an_audience_under_five_is_hidden_whole():
    """
    Three people at a show are not shown as an audience.
    """
    row = nights(3, 2)

    assert pd.isna(row.attendees)
    assert row[PEOPLE].isna().all()


def test_the_least_fresh_tenth_is_five_people_or_hidden():
    """
    With 49 repeat attendees it would be four of them.
    """
    assert pd.isna(nights(100, 49).worst_decile)
    assert pd.notna(nights(100, 50).worst_decile)


def test_what_is_shown_is_rounded():
    """
    Counts to 5, shares to whole percent.
    """
    row = nights(83, 27)

    assert (85, 25) == (row.attendees, row["repeat"])
    assert row.repeat_share == pytest.approx(25 / 85)
    assert (0.67, 0.89) == (row.fresh_share, row.audience_fresh_share)


def test_two_tables_do_not_show_a_small_group_by_their_difference():
    """
    Within the leg 30 came back, within the tour 32: the two from the other leg cannot be read off, nor can one person
    who was forgotten. A difference of counts that is shown is a multiple of 5 (or nothing).
    """
    plays, shows = random_tour(11, shows=16, songs=40, size=10, legs=4)
    people = random_people(12, shows, people=120, most=4)
    without = people[people.person != "p7"]
    tables = [
        audience.freshness(plays, shows, frame, within, hide_under=5)
        for frame in (people, without)
        for within in ("leg", "tour")
    ]
    exact = [audience.freshness(plays, shows, people, within) for within in ("leg", "tour")]
    differing = (exact[1]["repeat"] - exact[0]["repeat"]).between(1, 4)

    assert differing.any()
    for table in tables:
        for name in ("attendees", "repeat"):
            assert (table[name].dropna() % 5 == 0).all()
        derived = (table.repeat_share * table.attendees.astype(float)).dropna()
        assert (derived.round(6) % 5 == 0).all()


def test_nested_songs_do_not_show_a_small_group():
    """
    Who had heard one song and who had heard another differ by three people; what is shown does not.
    """
    plays = plays_of([["Ferry"], ["Ferry", "Tin Rook"], ["Ferry", "Tin Rook", "Low Water"]])
    people = [(f"p{n}", 3) for n in range(40)] + [(f"p{n}", 1) for n in range(3)] + [(f"p{n}", 2) for n in range(3, 23)]
    got = audience.heard_by(
        plays, shows_of(["a"] * 3), pd.DataFrame(people, columns=["person", "show_id"]), 3, hide_under=5
    )

    assert [(40, 25, 0.62), (40, 20, 0.5), (40, 0, 0.0)] == list(
        got[["attendees", "heard", "share"]].itertuples(index=False, name=None)
    )


def test_rare_numbers_of_shows_are_put_together():
    """
    No row holds under five people, and none is left out that a total would give away.
    """
    plays, shows = random_tour(13, shows=10)
    random = np.random.default_rng(14)
    visits = [1] * 60 + [2] * 14 + [3] * 3 + [6] * 2 + [9]
    rows = [(n, show) for n, k in enumerate(visits) for show in random.choice(shows.show_id, k, replace=False)]
    got = audience.by_attendance(plays, shows, pd.DataFrame(rows, columns=["person", "show_id"]), hide_under=5)

    assert [(1, 1, 60), (2, 2, 15), (3, 9, 5)] == list(
        got[["shows", "to_shows", "people"]].itertuples(index=False, name=None)
    )


@pytest.mark.parametrize(
    ("people", "rows"), [([3, 90, 4], [0, 0, 0]), ([2, 1], [0, 0]), ([5, 5], [0, 1]), ([9, 1, 4, 1], [0, 1, 1, 1])]
)
def test_rows_are_joined_until_they_hold_five(people, rows):
    """
    The last ones join those before.
    """
    assert rows == small.together(np.array(people), 5).tolist()


def test_hidden_numbers_are_hidden_when_nobody_is_left_to_join():
    """
    Three people in all: no row.
    """
    plays, shows = random_tour(13, shows=3)
    people = pd.DataFrame({"person": list("abc"), "show_id": [1, 2, 3]})

    assert 0 == len(audience.by_attendance(plays, shows, people, hide_under=5))
    assert 1 == len(audience.by_attendance(plays, shows, people))
