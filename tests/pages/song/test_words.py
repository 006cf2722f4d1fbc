"""The page of a song, a show or a venue says everything that the diary knows of it, and nothing raw."""

import re

import pandas as pd
import pytest

from tourstats.models.song import search, song
from tourstats.pages.song import form, words
from tourstats.problems import UnknownShowProblem, UnknownSongProblem
from tourstats.tour import Tour


@pytest.fixture
def tour():
    """Two shows and a song with everything."""
    return Tour.of(
        songs=pd.DataFrame({
            "song": ["Qx Rook", "Qx Never"], "tempo_bpm": [120.0, None], "starts_by": ["cello", None],
            "count_in": ["two bars, sticks", None], "track_fails": ["play on", None],
        }),
        venues=pd.DataFrame({"venue": ["Weir Loft"], "city": ["Ostby"], "room": ["club"]}),
        shows=pd.DataFrame({"show_id": [1, 2], "date": ["2031-03-04", "2031-03-05"], "venue": "Weir Loft",
                            "city": "Ostby", "room": "club"}),
        plays=pd.DataFrame({"show_id": [1, 2], "position": [1, 1], "song": "Qx Rook", "remark": [None, "short intro"]}),
        reviews=pd.DataFrame({"show_id": [1, 2], "song": "Qx Rook"}),
        mistakes=pd.DataFrame({"show_id": [1], "song": ["Qx Rook"], "severity": [3], "remark": ["late & loud"]}),
        worked=pd.DataFrame({"show_id": [2], "song": ["Qx Rook"], "remark": ["tempo sat right"]}),
        rehearsals=pd.DataFrame({"date": ["2031-03-05"], "song": ["Qx Rook"], "way": ["pad"], "runs": [2]}),
        notes=pd.DataFrame({"about": ["venue"], "venue": ["Weir Loft"], "text": ["stairs are narrow"]}),
        sections=pd.DataFrame({"song": ["Qx Rook"], "position": [1], "name": ["intro"], "bars": [4]}),
    )  # fmt: skip


def test_a_song_says_everything_that_was_said_of_it(tour):
    """
    Findings, what worked, remark, cue, run, section: each word of it is on the page, as in the terminal.
    """
    text = words.as_text(words.of_song(tour, "qx rook"), most=None)

    for said in ("late & loud", "everyone heard it", "tempo sat right", "short intro", "starts: cello", "sticks",
                 "if the track fails: play on", "2 runs (pad)", "intro", "Wanted 120 bpm"):  # fmt: skip
        assert said in re.sub(r"\s+", " ", text), said
    assert "1 clean in a row up to now; it takes 8 to be 90% sure of a clean next one" in re.sub(r"\s+", " ", text)


@pytest.mark.parametrize("make", [lambda t: words.of_song(t, "Qx Never"), lambda t: words.of_song(t, "Qx Rook")])
def test_nothing_raw_is_read(tour, make):
    """
    What is not known is said in words.
    """
    assert not re.search(r"\b(nan|NaT|None|inf|<NA>)\b", words.as_text(make(tour), most=None))


def test_a_song_says_what_the_set_of_the_next_show_says_of_it():
    """
    Once that set is written its place and the remark stand there; a song that is out is said to be.
    """
    ahead = {"show_id": 2, "position": 1, "song": "Ferry", "remark": "short intro", "segue": True}
    made = {
        "songs": pd.DataFrame({"song": ["Ferry", "Tin Rook"]}),
        "shows": pd.DataFrame({"show_id": [1, 2], "date": ["2031-03-04", "2031-03-06"]}),
        "plays": pd.DataFrame({"show_id": 1, "position": [1, 2], "song": ["Ferry", "Tin Rook"]}),
    }
    before, after = Tour.of(**made), Tour.of(**made, planned=pd.DataFrame([ahead]))
    told = [words.parts(song(tour, title))[0].words for tour in (before, after) for title in ("Ferry", "Tin Rook")]

    assert ["set of" in one for one in told] == [False, False, True, True]
    assert "Number 1 of the set of 6 Mar: short intro, straight into the next" in told[2]
    assert "Not in the set of 6 Mar" in told[3]
    assert not any("Chance of being in the next set" in one for one in told[2:])


def test_a_show_and_a_venue_have_such_a_page_too(tour):
    """
    The show tells its set and what was found, the venue its notes and what everyone heard there.
    """
    show, venue = words.as_text(words.of_show(tour, 1)), words.as_text(words.of_venue(tour, "Weir Loft"))

    assert "late & loud" in show
    assert "1 mistake written down" in show
    assert "stairs are narrow" in venue
    assert "late & loud" in venue


def test_words_that_mean_one_song_open_its_page(tour):
    """
    A part of a title is enough where nothing else is found by it; where there is more, everything is listed.
    """
    meant, more = search(tour, "rook"), search(tour, "qx")

    assert "Qx Rook" == words.of_found(tour, meant)[0].heading
    assert [] == words.of_found(tour, more)


def test_what_is_not_there_is_said(tour):
    """
    With what to do instead.
    """
    with pytest.raises(UnknownSongProblem):
        words.of_song(tour, "Qx Gone")
    with pytest.raises(UnknownShowProblem):
        words.of_show(tour, 9)
    with pytest.raises(words.UnknownVenueProblem) as caught:
        words.of_venue(tour, "Weir Left")
    assert 'There is no venue "Weir Left". Those there are: "Weir Loft".' == str(caught.value)


def test_the_field_finds_and_opens():
    """
    On the demo: a word of a note opens its song; what nobody wrote is said, and the page stays.
    """
    look = form.Look("demo")
    look.looked_for.value = "Nettle"
    look.find()
    assert "<h2>Nettle Soup</h2>" in look.page.value

    before = look.page.value
    look.looked_for.value = "no such words"
    with pytest.raises(form.NothingFoundProblem) as caught:
        look.find()
    assert 'Nothing in the diary has "no such words".' in str(caught.value)
    assert before == look.page.value


def test_what_to_hear_it_from_stands_on_its_page_and_an_address_is_a_link(tour):
    """
    As on the record and as we play it now; a note with an address too; nobody's markup becomes one.
    """
    notes = pd.DataFrame({"about": "song", "song": ["Qx Rook"], "text": ["as in https://example.org/a?b=1&c, softer"]})
    songs = tour.songs.assign(reference=['https://example.org/"x', None], reference_now=["rook-2031.m4a", None])
    page = words.as_html(words.of_song(tour.replaced(songs=songs, notes=notes), "Qx Rook"))

    assert "as we play it now: rook-2031.m4a" in page
    assert re.search(r'as on the record: <a href="https://example.org/"[^>]*>https://example.org/</a>&quot;x', page)
    assert 'href="https://example.org/a?b=1&amp;c"' in page


def test_a_measured_recording_says_how_it_is_played_now(tour):
    """
    Where nobody has said it: the latest recording in which the song was found, and from when.
    """
    shows = tour.shows.assign(recording=[None, "night two.wav"])
    measured = pd.DataFrame(
        {"show_id": [2], "position": [1], "start_s": [754.0], "end_s": [990.0], "tempo_bpm": [99.0]}
    )
    page = words.as_text(words.of_song(tour.replaced(shows=shows, measured=measured), "Qx Rook"), width=200)

    assert "as we play it now: night two.wav, from 12:34 (5 Mar)" in page
