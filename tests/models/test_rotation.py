"""What the rotation says, against counting by hand and against laws."""

from itertools import pairwise

import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tourstats import tables
from tourstats.models import rotation
from tourstats.problems import Problem, UnknownShowProblem


def tour(*sets, days=None, **columns):
    """Sets written as words, one show a day from 1 March 2031 unless days are given."""
    days = days or [f"2031-03-{day:02}" for day in range(1, len(sets) + 1)]
    shows = pd.DataFrame({"show_id": range(1, len(sets) + 1), "date": days, **columns})
    rows = [(n, place, song) for n, titles in enumerate(sets, 1) for place, song in enumerate(titles.split(), 1)]
    return pd.DataFrame(rows, columns=["show_id", "position", "song"]), shows


def repertoire(titles, **columns):
    return pd.DataFrame({"song": titles.split(), **columns})


@st.composite
def tours(draw):
    """Up to eight sets out of five songs, repeats included, some shows without a set."""
    sets = draw(st.lists(st.lists(st.sampled_from("ABCDE"), max_size=6).map(" ".join), max_size=8))
    steps = draw(st.lists(st.integers(0, 4), min_size=len(sets), max_size=len(sets)))
    days = pd.Timestamp("2031-03-01") + pd.to_timedelta(pd.Series(steps, dtype=int).cumsum(), unit="D")
    return tour(*sets, days=list(days))


def by_hand(plays, shows):
    """Sets in order of the shows, as plain Python sets, empty ones left out."""
    sets = [set(plays.song[plays.show_id == show]) for show in shows.show_id]
    return [songs for songs in sets if songs]


@given(tours())
def test_changes_are_the_set_differences(made):
    """
    Carry-overs, swap-ins and swap-outs are what plain Python sets say, show by show.
    """
    sets = by_hand(*made)
    expected = [
        *[("carry-over", song) for before, now in pairwise(sets) for song in before & now],
        *[("swap-in", song) for before, now in pairwise(sets) for song in now - before],
        *[("swap-out", song) for before, now in pairwise(sets) for song in before - now],
    ]

    got = rotation.changes(*made)

    assert sorted(expected) == sorted(zip(got.change, got.song, strict=True))


@given(tours())
def test_every_show_missed_belongs_to_one_layoff(made):
    """
    Shows missed in layoffs, and shows played, add up to all shows since the song's first.
    """
    plays, shows = made
    sets = by_hand(plays, shows)
    expected = {
        song: sum(song not in titles for titles in sets[next(n for n, s in enumerate(sets) if song in s) :])
        for song in set(plays.song)
    }

    missed = rotation.returns(plays, shows).groupby("song").layoff_shows.sum()

    assert expected == {song: int(missed.get(song, 0)) for song in expected}


@given(tours())
def test_the_running_layoff_is_the_one_in_the_returns(made):
    """
    `layoffs` and `returns` never disagree on how long a song has been out.
    """
    plays, shows = made
    table = rotation.layoffs(plays, shows, repertoire("A B C D E"))
    still_out = rotation.returns(plays, shows).query("not ended").set_index("song").layoff_shows

    out = table[table.layoff_shows.fillna(0) > 0].set_index("song").layoff_shows

    assert still_out.to_dict() == out.to_dict()


@given(tours(), st.integers(0, 10))
def test_renumbering_shows_changes_nothing(made, shift):
    """
    A show's number is a name, not an order.
    """
    plays, shows = made
    days = shows.drop_duplicates("date", keep=False)
    plays, shows = plays[plays.show_id.isin(days.show_id)], days
    expected = rotation.returns(plays, shows)[["song", "layoff_shows", "layoff_days", "ended"]]
    other = {show: f"s{(7 * n + shift) % 11}" for n, show in enumerate(shows.show_id)}

    got = rotation.returns(
        plays.assign(show_id=plays.show_id.map(other)).sample(frac=1, random_state=shift),
        shows.assign(show_id=shows.show_id.map(other)).sample(frac=1, random_state=shift),
    )

    assert expected.to_numpy().tolist() == got[expected.columns].to_numpy().tolist()


def test_two_shows_a_day_are_two_shows():
    """
    The afternoon's set is compared with the evening's, by number and not by show_id.
    """
    plays, shows = tour("A B", "A C", "A C", days=["2031-03-02", "2031-03-02", "2031-03-05"], number=[2, 1, 1])

    got = rotation.changes(plays, shows)

    assert [("A", "carry-over"), ("B", "swap-in"), ("C", "swap-out")] == [
        (row.song, row.change) for row in got[got.show_id == 1].itertuples()
    ]
    assert 3 == rotation.returns(plays, shows).query("song == 'B'").layoff_days.iloc[0]


def test_a_song_that_stands_twice_in_a_set_counts_once():
    """
    Played again at the end, a song is still one carry-over, from and to its first position.
    """
    got = rotation.changes(*tour("A B", "B A B"))

    assert [("B", "carry-over", 1, 2), ("A", "carry-over", 2, 1)] == [
        (row.song, row.change, row.position, row.was) for row in got.itertuples()
    ]


def test_the_song_that_is_out_longest_is_in_the_table():
    """
    A song that never came back is still out, and its days run to the last show.
    """
    plays, shows = tour("A B", "A", "A", "A", days=["2031-03-01", "2031-03-02", "2031-03-10", "2031-04-01"])

    got = rotation.returns(plays, shows)

    assert [("B", 3, 31, False)] == list(
        got[["song", "layoff_shows", "layoff_days", "ended"]].itertuples(index=False, name=None)
    )


def test_layoffs_look_from_the_next_show_and_only_back():
    """
    With tonight in the diary and no set yet, days run to tonight; `before` looks from an earlier show.
    """
    plays, shows = tour("A B", "A", days=["2031-03-01", "2031-03-04"])
    shows = pd.concat([shows, pd.DataFrame({"show_id": [3], "date": ["2031-03-09"]})], ignore_index=True)
    songs = repertoire("A B C")

    tonight = rotation.layoffs(plays, shows, songs).set_index("song")
    second = rotation.layoffs(plays, shows, songs, before=2).set_index("song")
    on_the_second = rotation.layoffs(plays, shows, songs, on="2031-03-04").set_index("song")

    assert [(1, 8), (0, 5)] == list(
        tonight.loc[["B", "A"], ["layoff_shows", "layoff_days"]].itertuples(index=False, name=None)
    )
    assert pd.isna(tonight.layoff_shows["C"])
    assert [(0, 3)] * 2 == list(
        second.loc[["B", "A"], ["layoff_shows", "layoff_days"]].itertuples(index=False, name=None)
    )
    assert [1, 0] == on_the_second.layoff_shows[["B", "A"]].tolist()


def test_a_rehearsal_after_the_day_does_not_count():
    """
    What was run, how and how long ago, as known on the day.
    """
    plays, shows = tour("A B")
    runs = pd.DataFrame(
        {
            "date": ["2031-02-20", "2031-02-27", "2031-03-02", "2031-02-25"],
            "song": ["A", "A", "A", "B"],
            "way": ["kit", "pad", "kit", "listen"],
        }
    )

    got = rotation.layoffs(plays, shows, repertoire("A B"), runs).set_index("song")

    assert (2, "pad", 9) == tuple(got.loc["A", ["rehearsed_days", "rehearsed_way", "kit_days"]])
    assert (4, "listen") == tuple(got.loc["B", ["rehearsed_days", "rehearsed_way"]])
    assert pd.isna(got.kit_days["B"])


def test_plays_are_counted_by_days_and_leg():
    """
    The last 30 days, the last 90, and the leg that is on; an unfinished leg counts as far as it got. The first of April
    is thirty days after the second of March, and ninety after New Year's Day, which are just out.
    """
    days = ["2031-01-01", "2031-03-02", "2031-03-20", "2031-04-01"]
    plays, shows = tour("A", "A", "A", "B", days=days, leg=["one", "one", "two", "two"])

    got = rotation.layoffs(plays, shows, repertoire("A B")).set_index("song")

    assert (1, 2, 1) == tuple(got.loc["A", ["plays_30", "plays_90", "plays_leg"]])
    assert (1, 1, 1) == tuple(got.loc["B", ["plays_30", "plays_90", "plays_leg"]])


def test_usual_needs_three_returns_and_counts_what_still_runs():
    """
    Two returns are not a habit; a long layoff that still runs moves the upper quartile out of reach.
    """
    returned = pd.DataFrame(
        {
            "song": list("AAAABB"),
            "layoff_shows": [1, 2, 3, 9, 4, 4],
            "ended": [True, True, True, False, True, True],
        }
    )

    got = rotation.usual(returned).set_index("song")

    # By hand for A: still out after 1, 2, 3 shows: 3/4, 1/2, 1/4, and the fourth runs on.
    assert [3, 1.0, 2.0, 3.0] == got.loc["A"].tolist()
    assert 2 == got.returns["B"]
    assert got.loc["B", ["usual_low", "usual_median", "usual_high"]].isna().all()


def test_presence_counts_from_the_day_a_song_joined():
    """
    A song that joined for the third show and was played in the fourth was possible twice.
    """
    plays, shows = tour("A", "A", "A", "A B")
    songs = repertoire("A B", since=["2031-01-01", "2031-03-03"])

    got = rotation.presence(plays, shows, songs).set_index("song")

    assert [(4, 4, 1.0), (1, 2, 0.5)] == list(got.loc[["A", "B"]].itertuples(index=False, name=None))


def test_the_repertoire_goes_round_as_counted_by_hand():
    """
    Distinct active songs in the last one, two, three shows; retired songs are not part of it.
    """
    plays, shows = tour("A B", "C D", "D A")

    got = rotation.goes_round(
        plays, shows, repertoire("A B C D E", status=["active", "active", "active", "retired", "active"])
    )

    assert [(1, 1, 0.25), (2, 2, 0.5), (3, 3, 0.75)] == list(got.itertuples(index=False, name=None))


def test_the_walk_to_the_encore_is_no_transition():
    """
    Songs that follow one another on stage are counted, the break before the encore is not.
    """
    plays, shows = tour("A B C", "A B")
    plays["encore"] = [False, False, True, False, False]

    got = rotation.transitions(plays, shows)

    assert [("A", "B", 2)] == list(got[["song", "next_song", "times"]].itertuples(index=False, name=None))


def test_planned_against_played():
    """
    What was dropped and what was added, in the order of the sets.
    """
    planned, shows = tour("A B C", "A")
    plays, _ = tour("A D C")

    got = rotation.planned_and_played(planned, plays, shows)

    assert [(1, 3, 3, ["B"], ["D"])] == list(got.itertuples(index=False, name=None))


@pytest.mark.parametrize(
    "function",
    [rotation.changes, rotation.changes_a_night, rotation.returns, rotation.presence, rotation.transitions],
    ids=lambda f: f.__name__,
)
def test_an_empty_diary_gives_an_empty_table(function):
    """
    On day one there is nothing to say, and that is no error.
    """
    assert 0 == len(function(tables.empty("plays"), tables.empty("shows")))


def test_a_repertoire_without_shows_has_no_layoffs_yet():
    """
    Every song is listed, none was played.
    """
    got = rotation.layoffs(tables.empty("plays"), tables.empty("shows"), repertoire("A B"))

    assert [("A", 0), ("B", 0)] == list(got[["song", "plays"]].itertuples(index=False, name=None))
    assert got.layoff_shows.isna().all()


def test_looking_before_a_show_that_is_not_there_is_said():
    """
    A wrong show number is answered in words.
    """
    with pytest.raises(UnknownShowProblem) as caught:
        rotation.layoffs(*tour("A"), repertoire("A"), before=9)

    assert "There is no show 9 in the diary. Add it first, or look at the list of shows for its number." == str(
        caught.value
    )


@pytest.mark.parametrize("on", ["soon", "01/05/2031", "2031-13-01", float("inf")])
def test_a_day_that_is_none_is_asked_about(on):
    """
    Nothing is guessed: the first of May and the fifth of January look the same.
    """
    with pytest.raises(Problem) as caught:
        rotation.layoffs(*tour("A B", "B"), repertoire("A B"), on=on)

    assert f"`on` is {on!r}, but it has to be a day such as 2031-03-04." == str(caught.value)


@pytest.mark.parametrize(
    "on", ["2031-03-02", pd.Timestamp("2031-03-02 23:00"), pd.Timestamp("2031-03-02", tz="Asia/Tokyo")]
)
def test_a_day_is_a_day_whatever_the_hour(on):
    """
    A time of day or a time zone beside it changes nothing.
    """
    told = rotation.layoffs(*tour("A B", "B", "A"), repertoire("A B"), on=on).set_index("song")

    assert {"A": 1, "B": 0} == told.layoff_shows.to_dict()
    assert {"A": 1, "B": 0} == told.layoff_days.to_dict()


def test_two_songs_cannot_have_one_place():
    """
    Two sets under one number are asked about, and not taken for one long set.
    """
    plays, shows = tour("A B", "B C")

    with pytest.raises(Problem, match="position 1 of show 1") as caught:
        rotation.changes(pd.concat([plays, plays.assign(song="D")]), shows)

    assert '"A" and "D"' in str(caught.value)
