"""A tour as one thing: what it holds, that it does not change, and what was known before a show."""

import pickle
import warnings

import pandas as pd
import pytest
from pandas.testing import assert_frame_equal

from tourstats import tables
from tourstats.problems import TableProblem, UnknownShowProblem
from tourstats.tour import NAMES, Tour


def sets(*rows):
    return pd.DataFrame(
        [(show, place, song) for show, titles in rows for place, song in enumerate(titles, 1)],
        columns=["show_id", "position", "song"],
    )


def made(**changed):
    """Two legs of two shows, the third shows of a day not yet played; something in every table of a show."""
    frames = {
        "songs": pd.DataFrame({"song": ["Ferry", "Tin Rook", "Salt Road"], "since": [None, None, "2031-05-01"]}),
        "shows": pd.DataFrame(
            {
                "show_id": [4, 2, 1, 3],
                "date": ["2031-05-02", "2031-03-05", "2031-03-04", "2031-05-02"],
                "number": [2, 1, 1, 1],
                "leg": ["late", "early", "early", "late"],
                "recording": ["d", "b", "a", "c"],
            }
        ),
        "plays": sets((1, ["Ferry"]), (2, ["Tin Rook", "Ferry"]), (3, ["Salt Road"])),
        "planned": sets((1, ["Ferry"]), (2, ["Ferry", "Tin Rook"]), (4, ["Tin Rook"])),
        "rehearsals": pd.DataFrame(
            {
                "date": ["2031-03-01", "2031-03-05", "2031-04-20", "2031-05-02", "2031-05-09"],
                "song": "Ferry",
                "way": "kit",
            }
        ),
        "reviews": pd.DataFrame({"show_id": [1, 2, 3], "song": ["Ferry", "Ferry", "Salt Road"]}),
        "mistakes": pd.DataFrame({"show_id": [1, 2], "song": "Ferry", "severity": 1}),
        "notes": pd.DataFrame(
            {
                "date": [
                    "2031-03-04",
                    "2031-03-05",
                    "2031-03-05",
                    "2031-03-06",
                    None,
                    None,
                    "2031-03-05",
                    "2031-03-01",
                ],
                "show_id": [1, 2, None, 1, 1, 2, 1, 2],
                "text": [
                    "a",
                    "at 2",
                    "that morning",
                    "later",
                    "at 1",
                    "undated at 2",
                    "heard at noon",
                    "asked for",
                ],
            }
        ),
        "attendance": pd.DataFrame({"person": ["x", "x", "x"], "show_id": [1, 2, 3]}),
        "counts": pd.DataFrame({"show_id": [2, 3], "people": 100, "earlier": [1, 2], "returning": 7}),
        "levels": pd.DataFrame({"show_id": [2, 3]}),
    }
    return Tour.of(**(frames | changed))


def test_every_described_table_is_there():
    """
    A table that is described in the module of the columns is in the tour, without a word here.
    """
    tour = Tour()

    assert [*tables.ALL, "planned"] == list(NAMES) == [name for name, _ in tour]
    assert all(not len(getattr(tour, name)) for name in NAMES)


def test_a_table_that_there_is_not_is_said():
    """
    A slip in a name is answered with the names that there are.
    """
    with pytest.raises(TableProblem) as caught:
        Tour.of(song=pd.DataFrame())

    assert f"A tour has no table `song`; it has {', '.join(NAMES)}." == str(caught.value)


@pytest.mark.parametrize(
    "change",
    [
        lambda frame: frame.__setitem__("song", "x"),
        lambda frame: frame.insert(0, "x", 1),
        lambda frame: frame.pop("song"),
        lambda frame: setattr(frame, "columns", range(len(frame.columns))),
        lambda frame: setattr(frame, "song", ["x", "y", "z"]),
        lambda frame: frame.update(pd.DataFrame({"song": ["x"]})),
    ],
)
def test_a_table_of_a_tour_does_not_change(change):
    """
    What many answers are made of stays what was checked; who wants to try something takes a copy.
    """
    tour = made()
    before = tour.songs.copy()

    with pytest.raises(TableProblem) as caught:
        change(tour.songs)

    assert "The songs of a tour do not change. Work on a copy: `songs = tour.songs.copy()`." == str(caught.value)
    assert_frame_equal(before, tour.songs.copy())


@pytest.mark.parametrize("by", ["loc", "at"])
def test_what_is_set_at_one_place_is_lost(by):
    """
    As with every part of a frame, pandas says that it was set on a copy.
    """
    tour = made()

    with warnings.catch_warnings(record=True):
        warnings.simplefilter("always")
        getattr(tour.songs, by)[0, "song"] = "x"

    assert "Ferry" == tour.songs.song[0]


def test_what_is_made_of_a_table_is_checked_again():
    """
    A part, a copy or a join of a checked table may be wrong, so it does not pass for checked.
    """
    plays = made().plays
    wrong = plays.assign(position=-1)

    assert {pd.DataFrame} == {type(part) for part in (wrong, plays.copy(), plays[plays.position > 1], plays.head())}
    with pytest.raises(TableProblem):
        tables.checked(wrong, "plays")


def test_a_table_travels_to_another_process():
    """
    What was checked here is known as checked there.
    """
    songs = pickle.loads(pickle.dumps(made().songs))  # noqa: S301  # our own bytes

    assert "songs" == songs.table
    assert ["Ferry", "Tin Rook", "Salt Road"] == songs.song.tolist()


def test_a_tour_cannot_be_written_to():
    """
    Another tour is made instead.
    """
    tour = made()

    with pytest.raises(AttributeError, match="A tour never changes"):
        tour.songs = None
    assert ["x"] == tour.replaced(songs=pd.DataFrame({"song": ["x"]})).songs.song.tolist()


def test_before_a_show_nothing_of_it_or_later_is_known():
    """
    Its place, its paper, a new level and who comes are known; its set, its review and what was written after are not.
    """
    before = made().until(2)

    assert [1, 2] == before.shows.show_id.tolist()
    assert "a" == before.shows.recording[0]
    assert pd.isna(before.shows.recording[1])
    assert [1] == before.plays.show_id.tolist() == before.reviews.show_id.tolist() == before.mistakes.show_id.tolist()
    assert [1, 2, 2] == before.planned.show_id.tolist()
    assert ["2031-03-01", "2031-03-05"] == before.rehearsals.date.dt.strftime("%Y-%m-%d").tolist()
    assert ["a", "that morning", "at 1", "heard at noon", "asked for"] == before.notes.text.tolist()
    assert [1, 2] == before.attendance.show_id.tolist()
    assert [2] == before.counts.show_id.tolist() == before.levels.show_id.tolist()
    assert ["Ferry", "Tin Rook"] == before.songs.song.tolist()
    assert 2 == before.next_show()


def test_two_shows_of_one_day_are_apart():
    """
    The first show of a day is known before the second, also in what its review says.
    """
    before = made().until(4)

    assert [1, 2, 3, 4] == before.shows.show_id.tolist()
    assert 3 == before.plays.show_id.iloc[-1] == before.reviews.show_id.iloc[-1]


def test_looking_back_twice_is_looking_back_once():
    """
    What stood before a show stood before it also as seen from a later one.
    """
    tour = made()
    once, twice = tour.until(2), tour.until(4).until(2)

    for name, frame in once:
        assert_frame_equal(frame.copy(), getattr(twice, name).copy(), obj=name)


def test_until_a_show_that_is_not_there_is_said():
    """
    A wrong number is answered in words.
    """
    with pytest.raises(UnknownShowProblem):
        made().until(9)


def test_a_leg_has_what_was_run_for_it():
    """
    Rehearsals and notes from the day after the last show of the leg before belong to it.
    """
    late = made().leg("late")

    assert [3, 4] == late.shows.show_id.tolist()
    assert ["Salt Road"] == late.plays.song.tolist()
    assert ["2031-04-20", "2031-05-02"] == late.rehearsals.date.dt.strftime("%Y-%m-%d").tolist()
    assert [3, 4] == made().leg().shows.show_id.tolist()
    assert ["early", "late"] == made().legs()


def test_a_leg_that_is_not_there_is_said():
    """
    With the names of those that are.
    """
    with pytest.raises(TableProblem) as caught:
        made().leg("Late")

    assert 'There is no leg "Late". The legs are early, late.' == str(caught.value)


def test_shows_between_two_shows_or_days():
    """
    Both edges are counted in, however they are named, and every show of a day is.
    """
    tour = made()

    assert [2, 3] == tour.shows_between(2, 3).shows.show_id.tolist()
    assert [2, 3, 4] == tour.shows_between("2031-03-05").shows.show_id.tolist()
    assert [1, 2] == tour.shows_between(None, "2031-05-01").shows.show_id.tolist()
    assert [3, 4] == tour.shows_between("2031-05-02", "2031-05-02").shows.show_id.tolist()


def test_the_next_show_is_the_first_without_a_set():
    """
    Not the first that was never logged, months ago, but the first after the last that was.
    """
    tour = made()

    assert 4 == tour.next_show()
    assert 1 == tour.replaced(plays=sets()).next_show()
    assert 3 == tour.replaced(plays=sets((2, ["Ferry"]))).next_show()
    assert tour.replaced(plays=sets((4, ["Ferry"]))).next_show() is None
    assert {} == Tour().show()
    assert "late" == tour.show()["leg"]


def test_the_set_of_a_show_is_the_planned_one():
    """
    What was handed out stands before what was played; where nothing was handed out, what was played.
    """
    tour = made()

    assert ["Ferry", "Tin Rook"] == tour.set_of(2).song.tolist()
    assert ["Salt Road"] == tour.set_of(3).song.tolist()
    assert not len(tour.replaced(planned=sets()).set_of(4))


def test_a_tour_says_what_is_in_it():
    """
    From when to when, how much of what, and what is missing; typed names cannot bring markup along.
    """
    tour = made()
    page = tour._repr_html_()

    assert (
        "A tour of 4 shows from 2031-03-04 to 2031-05-02, in 2 legs, 3 with a set; 3 songs. Nothing yet of: venues,"
    ) == " ".join(repr(tour).split())[:106]
    assert "<th scope='row'>plays</th><td>4</td>" in page
