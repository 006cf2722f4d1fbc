"""Where a song begins and ends, and what makes its place doubtful, on evidence that is made up second by second."""

from dataclasses import replace

import numpy as np
import pytest

from tourstats.recording.evidence import Wanted
from tourstats.recording.measuring import COUNTS, PLAYED, UNKNOWN
from tourstats.recording.sound_features import COLOURS
from tourstats.recording.splitting import Evidence, ahead, places
from tourstats.recording.starts import Sound, steadiness, steady_from

SECONDS = 420
SONG = slice(100, 300)


@pytest.fixture
def heard():
    """Chroma a second: four chords in turn from second 100 to 300, people before and after."""
    dice = np.random.default_rng(5)
    chords = dice.normal(0, 1, (4, 12))
    chroma = dice.normal(0, 1, (SECONDS, 12))
    chroma[SONG] = chords[np.arange(200) // 4 % 4] + dice.normal(0, 0.2, (200, 12))
    return (chroma / np.linalg.norm(chroma, axis=1, keepdims=True)).astype(np.float32)


FERRY, KILN = Wanted("Ferry", seconds=195.0), Wanted("Kiln", seconds=196.0)


def laid(heard, *, weak=(), wanted=(FERRY,), tempo=None, played=((100, 300, 1.0),)):
    """The places of some songs where music is clear from 100 to 300, but for some seconds.

    `played` says how strongly from when to when, against people who make a tenth of it.
    """
    music = np.full(SECONDS, -2.5)
    music[SONG] = 2.5
    for first, last, odds in weak:
        music[first:last] = odds
    loud = np.full(2 * SECONDS, 0.1)
    for first, last, strength in played:
        loud[2 * first : 2 * last] = strength
    colours = np.column_stack([20 * np.log10(loud), np.zeros((len(loud), len(COLOURS) - 1))])
    # People clap at random; where somebody plays there is a beat.
    onsets = np.where(np.random.default_rng(7).random((100 * SECONDS, 6)) < 0.02, 0.1, 0.0)
    for beat in range(0, 100 * SECONDS, 47):
        onsets[beat] += (loud[beat // 50] - 0.1) * (1 + beat // 47 % 4)
    sound = Sound(np.log(np.repeat(5 * loud[:, None], 6, axis=1) + 0.3), colours, heard, onsets)
    none = np.zeros((len(wanted), SECONDS))
    return places(Evidence(music, none if tempo is None else tempo, none, wanted, sound=sound))


def test_a_soft_beginning_is_walked_back_to(heard):
    """
    Twenty seconds of the song's own harmony without a clear pulse: it begins where they begin, for sure.
    """
    (place,) = laid(heard, weak=[(100, 120, -0.5)])

    assert 100 == pytest.approx(place.start, abs=1)
    assert place.sure


def test_people_before_a_song_are_not_its_beginning(heard):
    """
    The same seconds with the harmony of nothing: the song begins after them.
    """
    heard[100:120] = heard[20:40]
    (place,) = laid(heard, weak=[(100, 120, -1.5)], played=[(120, 300, 1.0)])

    assert 120 == pytest.approx(place.start, abs=1)
    assert place.sure


def test_of_two_songs_that_are_alike_neither_is_sure_where_one_is_there(heard):
    """
    Same tempo, same length, one place: which was left out is not known. Where both tempi are known and tell, it is;
    where only one is wanted at a tempo, that one fits is no proof that the other was left out.
    """
    told = np.zeros((2, SECONDS))
    told[0, SONG] = 0.5

    alike = laid(heard, wanted=(FERRY, KILN))
    fast = [replace(song, bpm=bpm) for song, bpm in ((FERRY, 120.0), (KILN, 90.0))]
    apart = laid(heard, wanted=(*fast,), tempo=told)
    told[1, SONG] = 0.5  # as `evidence.tempo_match` has it
    one = laid(heard, wanted=(fast[0], KILN), tempo=told)

    assert not any(place.sure for place in alike)
    assert [True, False] == [place.sure for place in apart]
    assert not any(place.sure for place in one)


@pytest.mark.parametrize(("whose", "theirs"), [((0, 1, 2, 3, 4, 5, 6), True), ((5, 3, 6, 0, 2, 1, 4), False)])
def test_a_set_in_its_own_order_is_ahead_of_other_orders(whose, theirs):
    """
    Seven songs that fit by number and length: where the tempo of most is another's, their own order is one of many.
    """
    blocks = [slice(10 + 80 * at, 80 + 80 * at) for at in range(7)]
    wanted = tuple(Wanted(f"Song {at}", 80.0 + 15 * at, 70.0) for at in range(7))
    music, tempo = np.full(580, -2.5), np.zeros((7, 580))
    for at, block in enumerate(blocks):
        music[block] = 2.5
        tempo[whose[at], block] = 0.4

    by = ahead(Evidence(music, tempo, np.zeros_like(tempo), wanted))

    assert theirs == (by > PLAYED - UNKNOWN * COUNTS)


def test_of_three_songs_no_order_is_ahead():
    """
    Six orders tell nothing.
    """
    wanted = tuple(Wanted(f"Song {at}", 80.0 + 15 * at, 70.0) for at in range(3))

    assert np.isnan(ahead(Evidence(np.zeros(300), np.zeros((3, 300)), np.zeros((3, 300)), wanted)))


def test_a_place_in_which_nobody_plays_for_long_is_not_sure(heard):
    """
    Half a minute in the middle without music: two tries of a song at a sound check are no song.
    """
    (place,) = laid(heard, weak=[(180, 210, -2.0)])
    (whole,) = laid(heard, weak=[(180, 186, -2.0)])

    assert "nobody plays for some time in it" in place.why
    assert whole.sure


def test_a_song_begins_where_it_goes_on_steadily():
    """
    Strokes at random, then a beat by one player alone, then the band, all equally loud: the beat is where it begins.
    """
    dice = np.random.default_rng(3)
    onsets = np.zeros((200 * 100, 6), np.float32)
    onsets[dice.integers(0, 6000, 130)] = 1
    for beat in range(6000, 20000, 47):
        onsets[beat, : 2 if beat < 7000 else 6] = 1 + (beat - 6000) // 47 % 4

    assert 60 == pytest.approx(steady_from(steadiness(onsets, (70, 200)), (70, 200)), abs=2)
