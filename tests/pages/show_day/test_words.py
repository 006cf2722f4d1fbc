"""The set as it is used: a row a song with what is new, its remark, what to watch, what was last found."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from tourstats.models import care, tonight
from tourstats.pages.show_day import on_screen
from tourstats.pages.show_day import words as show_day
from tourstats.tour import Tour


@pytest.fixture(scope="module")
def tour():
    """Three shows; tonight is the third. Findings at the first and, later than tonight, at a fourth."""
    plays = [(1, "Qx Ferry"), (1, "Qx Wire"), (2, "Qx Wire"), (2, "Qx Rook"), (4, "Qx Rook")]
    return Tour.of(
        songs=pd.DataFrame({
            "song": ["Qx Ferry", "Qx Wire", "Qx Rook", "Qx <b>New"], "minutes": 4.0,
            "watch": ["the ending", None, None, None],
        }),
        shows=pd.DataFrame({"show_id": [1, 2, 3, 4], "date": pd.date_range("2031-03-04", periods=4), "city": "Ostby"}),
        plays=pd.DataFrame(plays, columns=["show_id", "song"]).assign(position=range(1, 6)),
        planned=pd.DataFrame({
            "show_id": 3, "position": [1, 2, 3, 4], "song": ["Qx Rook", "Qx Ferry", "Qx <b>New", "Qx Wire"],
            "remark": [None, "short intro", None, None], "segue": [False, True, False, False],
            "encore": [False, False, False, True],
        }),
        reviews=pd.DataFrame({"show_id": [1, 4], "song": ["Qx Ferry", "Qx Rook"]}),
        mistakes=pd.DataFrame({
            "show_id": [1, 4], "song": ["Qx Ferry", "Qx Rook"], "kind": "tempo", "section": "chorus", "severity": 2,
        }),
    )  # fmt: skip


def test_each_song_has_one_row_with_what_is_known_of_it(tour):
    """
    In order; a song that came in says how long it was out, and nothing that was found later is known.
    """
    rows = show_day.rows(tonight.brief(tour, 3))

    assert ["Qx Rook", "Qx Ferry", "Qx <b>New", "Qx Wire"] == rows.song.tolist()
    assert ["in, out 1 show", "first time"] == [row.new for row in rows.itertuples() if row.status == "in"]
    assert [None, "short intro", None, None] == rows.remark.tolist()
    assert [False, True, False, False] == rows.segue.tolist()
    assert [["tempo, chorus, the band heard it (4 Mar)"]] == rows.found.dropna().tolist()
    assert ["the ending"] == rows.watch.dropna().tolist()


def test_the_page_has_every_song_once_and_escapes_it(tour):
    """
    Number, title, remark, segue and encore are there; markup in a title is words.
    """
    brief = tonight.brief(tour, 3, minutes=60)
    page = on_screen.day(brief)

    assert "short intro" in page
    assert "&gt;</span>" in page
    assert 1 == page.count(">Encore</li>")
    assert "<b>New" not in page
    assert page.index("Qx Rook") < page.index("Qx Ferry") < page.index("Qx &lt;b&gt;New")


@pytest.mark.parametrize(
    ("asked", "sentence"),
    [
        (20.0, "16 minutes of music in 4 songs; 20 were asked for, which leaves 4 for talking and transitions."),
        (16.0, "16 minutes of music in 4 songs; 16 were asked for, which leaves 0 for talking and transitions."),
        (15.0, "16 minutes of music in 4 songs: 1 minutes more than the 15 that were asked for, before any talking."),
        (None, "16 minutes of music in 4 songs. No set length given."),
    ],
)
def test_the_length_is_held_against_what_was_asked(tour, asked, sentence):
    """
    Music and what is left add up to what was asked for.
    """
    shows = tour.shows.assign(set_minutes=asked).astype({"set_minutes": "float64"})

    assert sentence == show_day.length(tonight.brief(tour.replaced(shows=shows), 3))


def test_minutes_at_the_instrument_are_what_the_ears_are_warned_of(tour):
    """
    Whole runs, hard sections and transitions are loud: 40 + 8 + 2 minutes. Listening and rests are not.
    """
    steps = pd.DataFrame({
        "what": ["whole run", "hard section", "transition", "listen", "rest"], "minutes": [40.0, 8, 2, 100, 10],
        "song": "Qx Ferry", "next_song": None, "starts": 0.0, "avoids": 0.1,
    })  # fmt: skip
    brief = replace(tonight.brief(tour, 3), plan=steps)
    ears = next(section for section in show_day.sections(brief) if section.heading == "Ears and hands")

    assert f"{show_day.ASSUMED} {care.caution(show_day.STAGE_DBA, 50)} {care.REST}" == ears.words
    assert show_day.ASSUMED not in show_day.ears_and_hands(f"{show_day.STAGE_DBA:.0f}", 50)  # typed, not assumed


def test_what_does_not_fit_begins_with_what_costs_most(tour):
    """
    Of many songs that are left out the first ones stand there.
    """
    rest = pd.DataFrame({
        "song": [f"Qx {at}" for at in range(40)], "next_song": None, "minutes": 4.0, "costs": np.linspace(2, 0, 40),
    })  # fmt: skip
    brief = replace(tonight.brief(tour, 3), left_out=rest)
    table = next(section for section in show_day.sections(brief) if section.heading == "What does not fit").table

    assert [f"Qx {at}" for at in range(len(table))] == table.song.tolist()


def test_what_is_not_the_set_or_the_plan_is_folded_with_its_count(tour):
    """
    No heading twice, none of them open; what is set out is a list to tick off elsewhere on the page.
    """
    brief = tonight.brief(tour, 3)
    rest = on_screen.rest(brief)
    headings = [section.heading for section in show_day.sections(brief)]

    assert "The plan" in headings
    assert "<summary>The plan" not in rest
    assert "Set out before doors" in headings
    assert "Set out before doors" not in rest
    assert rest.count("<details") == len(headings) - 3 == rest.count("<summary>")
    assert "<details open" not in rest


@pytest.mark.parametrize(("days", "said"), [(14, False), (15, True), (199, True)])
def test_a_long_gap_since_the_last_show_is_said_at_a_glance(days, said, tour):
    """
    Beyond a fortnight; "was 7" is else read as if it had been yesterday.
    """
    day = pd.Timestamp("2031-03-05") + pd.Timedelta(days=days)
    later = tour.replaced(shows=tour.shows.assign(date=tour.shows.date.where(tour.shows.show_id != 3, day)).head(3),
                          plays=tour.plays[tour.plays.show_id < 3], reviews=tour.reviews.head(1),
                          mistakes=tour.mistakes.head(1))  # fmt: skip
    told = show_day.in_short(tonight.brief(later, 3))

    assert said == told.startswith(f"The last show was {days} days ago. ")
    assert said == ("days ago" in told)


@pytest.mark.parametrize("many", [8, 30, 55, 80])
def test_the_day_fits_one_screen_however_long_the_set(many):
    """
    At most so many lines of 100 columns, every song among them with its number, and a first step of the plan.
    """
    songs = [f"Qx Ferry number {at} of the river" for at in range(1, many + 1)]
    tour = Tour.of(
        songs=pd.DataFrame({"song": songs, "minutes": 3.0, "watch": "the second ending, a bar longer than on paper"}),
        shows=pd.DataFrame({"show_id": [1], "date": ["2031-03-04"], "city": ["Ostby"]}),
        planned=pd.DataFrame({"show_id": 1, "position": range(1, many + 1), "song": songs}),
    )
    lines = show_day.on_one_screen(tonight.brief(tour, 1)).split("\n")

    assert len(lines) <= show_day.SCREEN
    assert [] == [line for line in lines if len(line) > 100]
    assert [] == [song for song in songs if song not in "\n".join(lines)]
    assert any("The plan" in line for line in lines)
