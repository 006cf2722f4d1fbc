"""Small groups stay hidden, and cannot be worked out."""

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.models.audience.tours import crowds, plays_of, random_people, random_tour, shows_of
from tourstats import tables
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


@given(crowds(), st.lists(st.integers(1, 9), min_size=7, max_size=7))
@settings(max_examples=10)
def test_no_two_tables_give_a_small_group_away(crowd, many):
    """
    Whatever is shown of a crowd, by leg or on the tour, after any show, song by song or by shows attended: every number
    of people is a multiple of five, so no two of them differ by one to four people; nor do those that shares give.
    """
    plays, shows, people = crowd
    copies = people.person.map(dict(zip("abcdefg", many, strict=True))).fillna(1).astype(int)
    crowd = people.loc[people.index.repeat(copies)]
    number = crowd.groupby(["person", "show_id"]).cumcount().astype(str)
    crowd = crowd.assign(person=crowd.person + number).drop_duplicates()
    shown = []
    for last in range(1, len(shows) + 1):
        so_far = tables.in_order(shows).head(last)
        part = [frame[frame.show_id.isin(so_far.show_id)] for frame in (plays, crowd)]
        for within in ("leg", "tour"):
            table = audience.freshness(part[0], so_far, part[1], within, hide_under=5)
            shown += [table.attendees, table["repeat"], (table.repeat_share * table.attendees.astype(float)).round(6)]
        most = audience.heard_most(part[0], so_far, part[1], hide_under=5)
        shown += [most.attendees, most.heard]
        shown.append(audience.by_attendance(part[0], so_far, part[1], hide_under=5).people)
    numbers = pd.concat(shown).dropna().astype(float).unique()
    differences = np.abs(np.subtract.outer(numbers, numbers))

    assert not ((differences > 0) & (differences < 5)).any()


def test_a_small_count_at_the_door_is_not_used():
    """
    Three of sixty came back: nothing about them, in the table of counted nights or for the next set.
    """
    plays, shows = plays_of([["Ferry", "Tin Rook"], ["Ferry", "Salt Road"]]), shows_of(["a"] * 2)
    few = pd.DataFrame({"show_id": [2], "people": [63], "earlier": [1], "returning": [3]})
    enough = few.assign(returning=30)
    ahead = {"date": "2031-05-01", "leg": "a"}
    scored = [
        audience.tonight(plays, shows, None, counts, ["Ferry"], ahead, hide_under=5).basis.tolist()
        for counts in (few, enough)
    ]

    assert 0 == len(audience.freshness_from_counts(plays, shows, few, hide_under=5))
    assert [(65, 0.76)] == list(
        audience.freshness_from_counts(plays, shows, enough, hide_under=5)[
            ["people", "audience_fresh_share"]
        ].itertuples(index=False, name=None)
    )
    assert [False, True] == ["counts lately" in basis for basis in scored]


def test_nested_songs_do_not_show_a_small_group():
    """
    Who had heard one song and who had heard another differ by three people; what is shown does not.
    """
    table = pd.DataFrame({"song": ["Ferry", "Tin Rook", "Low Water"], "attendees": 40, "heard": [23, 20, 0]})
    got = small.hidden_songs(table, 5)

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
