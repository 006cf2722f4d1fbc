"""Who was where, held against unions of sets in plain Python."""

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings

from tests.models.audience.tours import crowds, naive, plays_of, random_people, random_tour, shows_of
from tourstats.models import audience
from tourstats.models.audience import bits
from tourstats.models.audience.from_sets import Sets
from tourstats.problems import TableProblem


@pytest.mark.parametrize("within", ["leg", "tour"])
@settings(max_examples=25)
@given(crowd=crowds())
def test_freshness_equals_unions_of_sets(within, crowd):
    """
    Attendees, repeat attendees, mean, spread and worst decile, show by show.
    """
    plays, shows, attendance = crowd
    got = audience.freshness(plays, shows, attendance, within)
    expected = naive(plays, shows, attendance, within)

    assert [show for show, _, _ in expected] == got.show_id.tolist()
    for row, (_, attendees, fresh) in zip(got.itertuples(), expected, strict=True):
        assert (attendees, len(fresh)) == (row.attendees, row.repeat)
        if fresh:
            assert np.mean(fresh) == pytest.approx(row.fresh_share, abs=1e-12)
            assert np.std(fresh) == pytest.approx(row.fresh_sd, abs=1e-9)
            assert np.quantile(fresh, 0.1, method="inverted_cdf") == pytest.approx(row.worst_decile)
            assert (attendees - len(fresh) + sum(fresh)) / attendees == pytest.approx(row.audience_fresh_share)
        else:
            assert pd.isna(row.fresh_share)
            assert pd.isna(row.worst_decile)


@settings(max_examples=25)
@given(crowd=crowds())
def test_songs_heard_equal_unions_of_sets(crowd):
    """
    By how many shows people attended, over the whole tour.
    """
    plays, shows, attendance = crowd
    sets = {show: set(rows.song) for show, rows in plays.groupby("show_id")}
    heard = {}
    for _, rows in attendance.groupby("person"):
        visits = set(rows.show_id)
        heard.setdefault(len(visits), []).append(len(set().union(*(sets[show] for show in visits))))
    got = audience.by_attendance(plays, shows, attendance)

    assert sorted(heard) == got.shows.tolist()
    assert [len(heard[n]) for n in got.shows] == got.people.tolist()
    assert [np.mean(heard[n]) for n in got.shows] == pytest.approx(got.songs_heard.tolist())


def test_travellers_have_heard_most_what_was_played_where_they_were():
    """
    People who came once do not count; how often and by how many are told apart.
    """
    plays = plays_of([["Ferry", "Tin Rook"], ["Ferry"], ["Ferry", "Salt Road"]])
    attendance = pd.DataFrame({"person": list("aaabbcc"), "show_id": [1, 2, 3, 2, 3, 1, 1]})
    got = audience.heard_most(plays, shows_of(["a"] * 3), attendance)

    assert [("Ferry", 2, 2, 2.5), ("Salt Road", 2, 2, 1.0), ("Tin Rook", 2, 1, 0.5)] == list(
        got[["song", "attendees", "heard", "times"]].itertuples(index=False, name=None)
    )


def test_a_show_without_a_set_is_as_if_nobody_had_been_there():
    """
    What they heard is not known, so they are newcomers next time.
    """
    plays = plays_of([["Ferry"]], [2])
    attendance = pd.DataFrame({"person": ["a", "a"], "show_id": [1, 2]})
    got = audience.freshness(plays, shows_of(["a"] * 2), attendance)

    assert [(2, 1, 0)] == list(got[["show_id", "attendees", "repeat"]].itertuples(index=False, name=None))


def test_numbers_may_be_names_and_people_numbers():
    """
    Whatever identifies shows and people, the table is the same.
    """
    plays, shows = random_tour(6)
    people = random_people(7, shows)
    named = {"plays": plays, "shows": shows, "people": people}
    named = {key: frame.assign(show_id=frame.show_id.map("night {}".format)) for key, frame in named.items()}
    numbers = named["people"].assign(person=pd.factorize(people.person)[0])

    pd.testing.assert_frame_equal(
        audience.freshness(plays, shows, people).drop(columns="show_id"),
        audience.freshness(named["plays"], named["shows"], numbers).drop(columns="show_id"),
    )


def test_an_unknown_show_is_named():
    """
    The sentence says which, and what to do.
    """
    plays, shows = random_tour(6)
    with pytest.raises(TableProblem) as caught:
        audience.freshness(plays, shows, pd.DataFrame({"person": ["a"], "show_id": [99]}))

    assert str(caught.value) == (
        "The table of attendance has rows for 99, which the table of shows does not have. "
        "Add the show, or take these rows out."
    )


def test_parts_of_an_audience_add_up():
    """
    Counting people in two parts, on more shows than one word has bits, gives the whole.
    """
    plays, shows = random_tour(8, shows=150, songs=140, size=20, legs=5)
    people = random_people(9, shows, people=400, most=30)
    sets = Sets.of(plays, shows)
    masks = bits.Masks.of(sets, "leg")
    code = people.person.str[1:].astype(int).to_numpy()
    at = people.show_id.to_numpy() - 1
    order = np.lexsort((at, code))
    code, at = code[order], at[order]
    whole, first, second = (
        bits.tally(code[part], at[part], masks) for part in (code >= 0, code % 3 == 0, code % 3 > 0)
    )

    for name in ("attendees", "fresh", "people", "heard"):
        assert (getattr(whole, name) == getattr(first + second, name)).all()
    pd.testing.assert_frame_equal(bits.by_show(whole, sets), audience.freshness(plays, shows, people))
    expected = naive(plays, shows, people, "leg")
    assert [np.mean(fresh) if fresh else np.nan for _, _, fresh in expected] == pytest.approx(
        bits.by_show(whole, sets).fresh_share.tolist(), nan_ok=True
    )


def test_the_least_fresh_tenth_of_ten_people_is_one():
    """
    One of ten had heard everything: the fresh share that the least fresh tenth did not exceed is 0.
    """
    rows = [(f"p{n}", show) for n in range(10) for show in (1, 3)] + [("p0", 2)]
    plays = plays_of([["Ferry"], ["Tin Rook"], ["Ferry", "Tin Rook"]])
    got = audience.freshness(plays, shows_of(["a"] * 3), pd.DataFrame(rows, columns=["person", "show_id"])).iloc[2]

    assert (10, 0.0, 0.45) == (got["repeat"], got.worst_decile, got.fresh_share)


@pytest.mark.parametrize("odd", [bits.ODD, np.uint64(0)], ids=["spread", "every hash the same"])
def test_patterns_that_differ_in_any_show_are_told_apart(odd, monkeypatch):
    """
    Every pair of 70 shows is a pattern of its own, also if all of them share one hash.
    """
    monkeypatch.setattr(bits, "ODD", odd)
    plays, shows = random_tour(15, shows=70, songs=60, size=9, legs=1)
    pairs = [(f"{a}-{b}", show) for a in range(1, 71) for b in range(a + 1, 71) for show in (a, b)]
    people = pd.DataFrame(pairs, columns=["person", "show_id"])
    got = audience.freshness(plays, shows, people)

    expected = [np.mean(fresh) if fresh else np.nan for _, _, fresh in naive(plays, shows, people, "leg")]
    assert expected == pytest.approx(got.fresh_share.tolist(), nan_ok=True)
