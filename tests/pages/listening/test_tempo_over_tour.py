"""Tempo over a tour, in words."""

import pandas as pd

from tests.models.test_listening import tour as made
from tourstats.pages.listening import tempo_over_tour, words
from tourstats.pages.review import words as review
from tourstats.tour import Tour


def tour_of(measured, plays, shows, songs):
    """A tour of frames."""
    return Tour.of(measured=measured, plays=plays, shows=shows.assign(leg="Spring"), songs=songs)


def test_nothing_measured_is_said():
    """
    An empty diary gets a way to go on, not an empty table.
    """
    assert tempo_over_tour.NOTHING == tempo_over_tour.words(Tour.of())
    assert "" == tempo_over_tour.of_leg(Tour.of(), "Spring")


def test_songs_that_crept_are_counted_with_their_range():
    """
    Two songs of 24 get 0.25 % faster a show for 24 shows, about 6 %: said once, in one sentence, with room effects.
    """
    tour = tour_of(*made(7, shows=24, rushing=1.5, creeping=("Song 3", "Song 4")))
    said = tempo_over_tour.words(tour)

    assert "2 songs have crept up, by " in said
    assert "At a festival the same songs are 1." in said
    assert "Song 3" in tempo_over_tour.table(tour).song.head(2).tolist()
    assert words.crept(tour) == words.crept(tour, "Spring")


def test_too_few_recordings_are_said_to_be():
    """
    Three shows tell nothing of tempo.
    """
    tour = tour_of(*made(7, shows=3))

    assert "Not enough recordings yet" in tempo_over_tour.words(tour)
    assert "so far 3." in tempo_over_tour.words(tour)


def test_the_leg_review_has_one_line_on_tempo():
    """
    Its own part, with the table, where there are recordings; none where there are none.
    """
    measured, plays, shows, songs = made(7, shows=24, creeping=("Song 3", "Song 4"))
    parts = {part.heading: part for part in review.parts(tour_of(measured, plays, shows, songs), charts=False)}
    without = review.parts(tour_of(measured.iloc[:0], plays, shows, songs), charts=False)

    assert parts["Tempo"].words.startswith("2 songs have crept up, by ")
    assert len(parts["Tempo"].table) == 8  # the surest; the others are on Playing trends
    assert "Tempo" not in [part.heading for part in without]


def test_an_effect_is_read_with_its_interval():
    """
    Signs go into words; figures are positive.
    """
    row = pd.Series({"effect": "position", "percent": -0.84, "low": -1.3, "high": -0.4})

    assert "At the end of the set, against its start the same songs are 0.8% slower (likely 0.4 to 1.3%)." == (
        tempo_over_tour.effect_words(row)
    )
