"""Likely swaps in words: what to run, how many may change, whether a simple rule does as well."""

import subprocess
import sys

import pandas as pd
import pytest

from tests.models.swaps import leaders
from tourstats.models import swaps
from tourstats.pages.kit.charts import bundle
from tourstats.pages.likely import chart as drawn
from tourstats.pages.likely import words as likely
from tourstats.tour import Tour


def book_of(tour, **more):
    return Tour.of(plays=tour.plays, shows=tour.shows, songs=tour.songs, **more)


@pytest.fixture(scope="module")
def book():
    return book_of(leaders.by_queue(shows=40))


@pytest.fixture(scope="module")
def past(book):
    return likely.LookBack(book)


def test_in_short_says_how_many_come_and_what_the_list_covers(book):
    """
    The numbers in the sentence are those of the forecast.
    """
    said = likely.forecast(book)
    covered = likely.to_run(said).chance.sum()
    expected = (said.counts.swaps * said.counts.chance).sum()

    assert f"covers about {covered:.1f} of these {expected:.1f}." in likely.in_short(book)
    assert "songs come in** four nights in five" in likely.in_short(book)
    assert "early guess" not in likely.in_short(book)


def test_an_early_guess_is_called_one():
    """
    After three shows.
    """
    assert "This is an early guess from 3 shows" in likely.in_short(book_of(leaders.by_queue(shows=3)))


def test_without_a_set_the_page_says_what_to_do_next():
    """
    An empty diary is ordinary.
    """
    empty = Tour.of()

    assert likely.NOTHING == likely.in_short(empty) == likely.as_text(empty)
    assert "Not enough past shows yet to judge by: 0 so far" in likely.how_good(likely.LookBack(empty))


def test_the_list_holds_songs_outside_the_last_set_only(book):
    """
    The likeliest first, as many as asked for.
    """
    last = set(book.plays[book.plays.show_id == 40].song)
    listed = likely.to_run(likely.forecast(book), 7)

    assert 7 == len(listed)
    assert not last & set(listed.song)
    assert listed.chance.is_monotonic_decreasing


def test_who_goes_is_of_the_last_set(book):
    """
    The chance to go is what is left of the chance to stay.
    """
    said = likely.forecast(book)
    going = likely.to_go(said, 3)
    stay = said.songs.set_index("song").chance

    assert set(going.song) <= set(book.plays[book.plays.show_id == 40].song)
    assert going.goes.tolist() == (1 - stay[going.song]).tolist()
    assert going.goes[0] == 1 - stay[said.songs[said.songs.in_last_set].song].min()


def test_the_command_prints_list_reasons_and_counts(book):
    """
    As many songs as asked for, with a reason each.
    """
    text = likely.as_text(book, run=4, known={"Song 001": False})
    listed = likely.to_run(likely.forecast(book, {"Song 001": False}), 4)

    assert all(song in text for song in listed.song)
    assert "Running the first 4 songs of the list covers about" in text
    assert "Of the last set, likeliest to go:" in text
    assert "To run tonight, likeliest first:" in text


def test_the_next_show_is_the_first_without_a_set_after_the_last():
    """
    Taken from the diary, with its town; shows without a set in between are passed over.
    """
    tour = leaders.by_town(shows=12)
    book = Tour.of(plays=tour.plays[~tour.plays.show_id.isin([4, 10, 11, 12])], shows=tour.shows, songs=tour.songs)
    tenth = tour.shows.iloc[9]

    assert (10, tenth.city) == (book.show()["show_id"], book.show()["city"])
    assert {} == book_of(tour).show()


def test_how_good_it_was_is_counted_and_compared(past):
    """
    The queue is no simple rule's strength, and the sentence says so.
    """
    said = likely.how_good(past)
    recall = swaps.recall(past.record.songs, [10]).iloc[0]

    assert f"Of the {recall.came:.0f} songs that came in at the last 32 shows, **{recall.recall:.0%} were among" in said
    assert "is clearly worse on this tour." in said


@pytest.mark.parametrize(
    ("low", "high", "words"),
    [
        (0.01, 0.03, 'The best simple rule, "how often", is clearly worse on this tour.'),
        (-0.01, 0.01, '**the rule "how often" does about as well**'),
        (-0.03, -0.01, '**the rule "how often" does better**'),
    ],
)
def test_a_rule_that_does_as_well_is_named(low, high, words):
    """
    Worse, as good, better: by the interval of the difference.
    """
    compared = pd.DataFrame(
        {"way": ["this forecast", "how often", "carry-over"], "log_loss": [0.2, 0.21, 0.3], "low": low, "high": high}
    )

    assert words in likely.against_rules(compared)


def test_known_songs_move_the_others(book):
    """
    The same first five as last night: the table shows what moved, not what is known.
    """
    known = likely.first_songs(book, 5)
    shown = repr(likely.known_table(book, known))

    assert [1, 2, 3, 4, 5] == list(known.values())
    assert not any(song in shown for song in known)


def test_charts_say_what_they_show(book, past):
    """
    Each has a finding, words for who cannot see it, and a picture.
    """
    said = likely.forecast(book)
    charts = [
        drawn.parts(said.parts, likely.to_run(said).song.tolist()),
        drawn.recall(past.recall),
        drawn.calibration(swaps.calibration(past.record.songs)),
        drawn.swaps_a_night(past.record.counts),
    ]
    words = [bundle(chart.to_dict())[0]["text/plain"] for chart in charts]

    assert "a row for each song" in words[0]
    assert all(way in words[1] for way in past.rules)
    assert "groups the chance that was said" in words[2]
    held = past.record.counts.came.between(past.record.counts.low, past.record.counts.high).sum()
    assert words[3].startswith(f"On {held} of 32 nights")


def test_charts_of_an_empty_diary_are_sentences():
    """
    Nothing to show is no error, and no picture of empty axes.
    """
    past = likely.LookBack(Tour.of())
    said = likely.forecast(past.tables)
    for chart in (
        drawn.parts(said.parts, []),
        drawn.recall(past.recall),
        drawn.calibration(swaps.calibration(past.record.songs)),
        drawn.swaps_a_night(past.record.counts),
    ):
        assert {"text/markdown", "text/plain"} == set(bundle(chart.to_dict())[0])


def test_the_words_load_no_charts():
    """
    The command starts without altair, ipywidgets and statsmodels.
    """
    heavy = ("altair", "ipywidgets", "statsmodels")
    code = f"import sys, tourstats.pages.likely; print([m for m in {heavy} if m in sys.modules])"
    told = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)

    assert "[]" == told.stdout.strip()


def test_a_flat_list_says_that_it_is_flat():
    """
    Of thirty songs that are all alike, ten are listed: any other would do as well. Where five stand out it is not flat.
    """
    chances = [0.2 - 0.001 * place for place in range(30)]
    songs = pd.DataFrame({"song": [f"Song {n}" for n in range(30)], "chance": chances, "in_last_set": False})
    counts = pd.DataFrame({"swaps": [5, 6], "chance": [0.5, 0.5]})

    def said(table):
        return swaps.Forecast(table, counts, songs, songs, 20.0, 30, "")

    assert 30 == likely.flat(said(songs))
    assert "The list is flat: any of these 30 is about as likely as the next (17% to 20%)." in likely._in_short(
        said(songs), {}, 10
    )
    assert 0 == likely.flat(said(songs.assign(chance=[0.6] * 5 + chances[5:])))
