"""How fast a song was, against clicks and performances whose tempo is known."""

import numpy as np
import pytest

from tests.recording import band
from tourstats.recording.sound_features import features
from tourstats.recording.tempo import tempo


def clicks(bpm, seconds=50.0, rate=22050):
    """A click on every beat: a short burst of 2 kHz."""
    sound = np.zeros(int(seconds * rate), np.float32)
    burst = np.sin(2 * np.pi * 2000 * np.arange(400) / rate) * np.exp(-np.arange(400) / 80)
    for beat in np.arange(0.5, seconds - 0.1, 60 / bpm):
        start = int(beat * rate)
        sound[start : start + 400] += burst
    return sound


@pytest.mark.parametrize("bpm", [58.0, 97.3, 121.0, 181.7])
def test_a_click_is_measured_within_a_thousandth(bpm):
    """
    A steady click, wanted 4 % slower, comes out at its own tempo, without drift, and is sure.
    """
    found = tempo(features([clicks(bpm)], 22050).onsets, bpm * 0.96)

    assert found.sure
    assert bpm == pytest.approx(found.bpm, rel=0.001)
    assert 0 == pytest.approx(found.drift, abs=0.1)


@pytest.mark.parametrize("bpm", [97.3, 121.0])
def test_a_general_beat_tracker_says_the_same_of_a_click(bpm):
    """
    Ellis, "Beat Tracking by Dynamic Programming", Journal of New Music Research 36(1), 2007, as librosa computes it.

    The reference citation is from memory. Its beats, not its tempo (which lies on a coarse grid), are compared.
    """
    librosa = pytest.importorskip("librosa", reason="the general beat tracker is in the extra bench: librosa")
    sound = clicks(bpm)

    _, beats = librosa.beat.beat_track(y=sound, sr=22050, units="time", start_bpm=bpm * 0.96)
    theirs = 60 / np.polyfit(np.arange(len(beats)), beats, 1)[0]

    assert len(beats) > 40
    assert theirs == pytest.approx(tempo(features([sound], 22050).onsets, bpm * 0.96).bpm, rel=0.003)


def test_a_click_on_a_slow_machine_and_in_another_rate_is_the_same():
    """
    What is found does not hang on the samples a second of the recording.
    """
    at = [tempo(features([clicks(112.0, rate=rate)], rate).onsets, 110).bpm for rate in (16000, 22050, 44100)]

    assert [112.0] * 3 == pytest.approx(at, rel=0.001)


@pytest.mark.parametrize(("where", "within"), [("clean", 0.003), ("telephone", 0.005)])
def test_a_band_is_measured(where, within):
    """
    Human timing, drift and a crowd: the median over 16 s is found, and so is the drift.
    """
    song = band.Song("Song", "eights", 118.0, 70.0, seed=4)
    sound, beats = band.played(band.Night(song, seed=1, faster=2.0, drift=3.0))
    truth, drift = band.true_tempo(beats - beats[0])

    found = tempo(features([band.through(sound, where)], band.RATE).onsets, song.bpm)

    assert found.sure
    assert truth == pytest.approx(found.bpm, rel=within)
    assert drift == pytest.approx(found.drift, abs=0.8)


@pytest.mark.parametrize("wrong", [0.66, 0.74, 1.36])
def test_a_wrong_wanted_tempo_is_not_believed(wrong):
    """
    Asked for a tempo that the song does not have, the answer is the one that it has, or that it is not sure.
    """
    song = band.Song("Song", "ghost", 100.0, 60.0, seed=5)
    sound, _ = band.played(band.Night(song, seed=2))

    found = tempo(features([sound], band.RATE).onsets, song.bpm * wrong)

    assert not found.sure or song.bpm == pytest.approx(found.bpm, rel=0.01)


@pytest.mark.parametrize("what", ["noise", "silence", "crowd"])
def test_where_nothing_beats_nothing_is_sure(what):
    """
    Noise, silence and a crowd have no tempo.
    """
    dice = np.random.default_rng(3)
    sound = {
        "noise": dice.normal(0, 0.1, 60 * band.RATE).astype(np.float32),
        "silence": np.zeros(60 * band.RATE, np.float32),
        "crowd": band.crowd(60, dice, 0.05, [(10, 20, 0.2)]),
    }[what]

    assert not tempo(features([sound], band.RATE).onsets, 120).sure


def test_where_no_tempo_is_wanted_the_one_that_stands_out_is_taken():
    """
    A click has one, silence has none, and the reason says so.
    """
    clicks = np.zeros((9000, 1), np.float32)
    clicks[np.round(np.arange(0, 90, 60 / 104.0) * 100).astype(int)] = 1

    none = tempo(np.zeros((9000, 6), np.float32), float("nan"))

    assert 104.0 == pytest.approx(tempo(clicks, float("nan")).bpm, rel=0.001)
    assert (False, "no tempo is written down, and none stands out") == (none.sure, none.why)


def test_blocks_of_any_length_give_the_same_features():
    """
    How a recording is handed over changes nothing.
    """
    sound = clicks(120.0, 25.0)
    whole = features([sound], 22050)
    pieces = features(np.array_split(sound, 13), 22050)

    assert np.allclose(whole.onsets, pieces.onsets)
    assert np.allclose(whole.chroma, pieces.chroma)
