"""From a recording and a set to a table, with a show whose truth is known."""

import numpy as np
import pandas as pd
import pytest

from tests.recording import band
from tests.recording.files import written
from tourstats import recording
from tourstats.recording import RecordingProblem
from tourstats.recording.evidence import Wanted
from tourstats.recording.kept import Kept
from tourstats.recording.measuring import believed
from tourstats.recording.splitting import Place
from tourstats.recording.tempo import NONE, Tempo

SONGS = [
    band.Song("Copper", "eights", 122.0, 62.0, seed=31),
    band.Song("Lantern", "shuffle", 108.0, 75.0, seed=32),
    band.Song("Gravel", "floor", 134.0, 66.0, seed=33),
]
REPERTOIRE = pd.DataFrame(
    {"song": [s.title for s in SONGS], "tempo_bpm": [s.bpm for s in SONGS], "minutes": [s.seconds / 60 for s in SONGS]}
)
TITLES = REPERTOIRE.song.tolist()


@pytest.fixture(scope="module")
def show():
    """Three songs in a room."""
    return band.show([band.tonight(song, 1) for song in SONGS], 6, "room")


@pytest.fixture(scope="module")
def path(show, tmp_path_factory):
    """The same as a file."""
    return written(tmp_path_factory.mktemp("recording") / "show.wav", show.sound, band.RATE)


@pytest.fixture(scope="module")
def heard(path):
    """What comes of it."""
    return recording.listen(path, TITLES, REPERTOIRE)


def test_songs_are_found_and_measured(heard, show):
    """
    Every song is where it is, as fast as it was, and sure.
    """
    table = heard.measured

    assert TITLES == table.song.tolist()
    assert [True] * 3 == table.sure.tolist()
    assert [start for _, start, _, _ in show.songs] == pytest.approx(table.start_s.tolist(), abs=6)
    assert [end for _, _, end, _ in show.songs] == pytest.approx(table.end_s.tolist(), abs=4)
    truth = [band.true_tempo(beats - beats[0])[0] for *_, beats in show.songs]
    assert truth == pytest.approx(table.tempo_bpm.tolist(), rel=0.003)
    assert 0 == table.loudness.median()


def test_what_is_kept_is_small_and_helps_the_next_show(heard, path):
    """
    Ten kilobytes a performance at most, no sound, and the next show is told by it although nobody wrote a length down.
    """
    earlier = heard.measured.assign(kept=heard.measured.position.map(heard.kept))
    again = recording.measure(path, TITLES, REPERTOIRE[["song"]], earlier)

    assert max(map(len, heard.kept.values())) < 10_000
    assert [True] * 3 == again.tempo_sure.tolist()
    assert heard.measured.start_s.tolist() == pytest.approx(again.start_s.tolist(), abs=2)
    kept = Kept.unpacked(heard.kept[1])
    assert np.median(kept.curve) == pytest.approx(heard.measured.tempo_bpm[0], rel=0.005)


def test_a_song_that_was_not_played_is_not_found(path):
    """
    A fourth title in the middle of the set gets no figure, and the others stay where they are.
    """
    songs = pd.concat(
        [REPERTOIRE, pd.DataFrame({"song": ["Absent"], "tempo_bpm": [93.0], "minutes": [1.1]})], ignore_index=True
    )

    table = recording.measure(path, [TITLES[0], "Absent", *TITLES[1:]], songs).set_index("song")

    assert np.isnan(table.start_s["Absent"])
    assert "not found" == table.why["Absent"]
    assert not table.sure["Absent"]
    assert np.isnan(table.tempo_bpm["Absent"])


def test_a_start_that_a_person_set_stays(path, show):
    """
    What was moved by hand is sure, and where it was put.
    """
    _, start, end, _ = show.songs[1]

    table = recording.listen(path, TITLES, REPERTOIRE, fixed={2: (start + 1, end - 1)}).measured

    assert (round(start + 1), round(end - 1), True) == tuple(table.loc[1, ["start_s", "end_s", "sure"]])


def test_another_recording_is_not_taken_for_the_show(tmp_path):
    """
    A crowd for two minutes: nothing is sure, no figure is shown, and a sentence says so.
    """
    sound = band.crowd(120, np.random.default_rng(1), 0.05, [(20, 30, 0.2), (80, 10, 0.3)])
    heard = recording.listen(written(tmp_path / "a.wav", sound, band.RATE), TITLES, REPERTOIRE)

    assert not heard.measured.sure.any()
    assert not heard.measured.tempo_sure.any()
    assert heard.measured.tempo_bpm.isna().all()
    assert any(remark.startswith("Only 0 of 3 songs could be placed for sure.") for remark in heard.remarks)


@pytest.mark.parametrize(
    ("seconds", "level", "says"),
    [(90, 0.0, "there is nothing on it: it is silent"), (20, 0.1, "20 seconds long: too short to look for songs")],
)
def test_silence_and_scraps_are_refused(tmp_path, seconds, level, says):
    """
    Nothing is measured where nothing can be.
    """
    sound = level * np.random.default_rng(1).normal(0, 1, seconds * band.RATE)
    path = written(tmp_path / "a.wav", sound, band.RATE)

    with pytest.raises(RecordingProblem, match=says):
        recording.measure(path, TITLES, REPERTOIRE)


def test_a_clipped_recording_is_remarked_on(show, tmp_path):
    """
    Turned up until it breaks: a remark, and what is called sure is still right.
    """
    path = written(tmp_path / "a.wav", np.clip(show.sound * 30, -1, 1), band.RATE)
    heard = recording.listen(path, TITLES, REPERTOIRE)

    assert any("is clipped" in remark for remark in heard.remarks)
    truth = dict(zip(TITLES, (band.true_tempo(beats - beats[0])[0] for *_, beats in show.songs), strict=True))
    for row in heard.measured[heard.measured.tempo_sure].itertuples():
        assert truth[row.song] == pytest.approx(row.tempo_bpm, rel=0.005)


def test_listening_can_be_stopped(path):
    """
    Whoever is told of the progress may end it by an exception.
    """

    def stop(share, words):
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        recording.listen(path, TITLES, REPERTOIRE, progress=stop)


def test_a_recording_that_begins_in_the_second_song_places_the_rest(show, tmp_path):
    """
    Somebody pressed the button late: what is there is found, the first song is not, the cut one is not called sure.
    """
    _, start, end, _ = show.songs[1]
    cut = int((start + end) / 2 * band.RATE)
    path = written(tmp_path / "a.wav", show.sound[cut:], band.RATE)

    table = recording.measure(path, TITLES, REPERTOIRE)

    assert not table.sure[0]
    assert not table.sure[1]
    assert table.start_s[2] + cut / band.RATE == pytest.approx(show.songs[2][1], abs=5)


def test_two_shows_in_one_file_are_one_set_and_what_is_left(show, tmp_path):
    """
    The same set twice: each song is in one of the two places, in order, and a tempo called sure is right.
    """
    path = written(tmp_path / "a.wav", np.concatenate([show.sound, show.sound]), band.RATE)

    table = recording.measure(path, TITLES, REPERTOIRE)
    truth = [band.true_tempo(beats - beats[0])[0] for *_, beats in show.songs]

    assert table.start_s.dropna().is_monotonic_increasing
    for row, bpm in zip(table.itertuples(), truth, strict=True):
        assert not row.tempo_sure or bpm == pytest.approx(row.tempo_bpm, rel=0.005)


def test_a_sound_check_is_not_taken_for_the_show(show, tmp_path):
    """
    Half a minute of the second song, broken off, begun again, broken off: nothing is sure, no figure, and it is said.
    """
    _, start, _, _ = show.songs[1]
    first = int(start * band.RATE)
    bit = show.sound[first : first + 30 * band.RATE]
    people = band.crowd(45, np.random.default_rng(4), 0.03)
    path = written(tmp_path / "a.wav", np.concatenate([people, bit, people, bit, people]).astype(np.float32), band.RATE)

    heard = recording.listen(path, TITLES, REPERTOIRE)

    assert not heard.measured.sure.any()
    assert heard.measured[["tempo_bpm", "drift", "unsteadiness"]].isna().all(axis=None)
    assert (heard.measured.why != "").all()
    assert any("a sound check or another set" in remark for remark in heard.remarks)


def test_a_recording_that_is_cut_short_keeps_what_is_on_it(show, tmp_path):
    """
    The battery went half way through the third song: two songs are as they were, the third is not sure.
    """
    _, start, end, _ = show.songs[2]
    path = written(tmp_path / "a.wav", show.sound[: int((start + end) / 2 * band.RATE)], band.RATE)

    table = recording.measure(path, TITLES, REPERTOIRE)

    assert [True, True, False] == table.sure.tolist()
    assert [begins for _, begins, _, _ in show.songs[:2]] == pytest.approx(table.start_s.tolist()[:2], abs=6)
    assert np.isnan(table.tempo_bpm[2])
    assert "the recording begins or ends in it" in table.why[2]


def test_a_set_of_other_songs_has_no_sure_tempo_that_is_nobodys(path):
    """
    Another band's set over this recording: no title gets a tempo that was wanted and not played.
    """
    others = pd.DataFrame(
        {"song": ["One", "Two", "Three"], "tempo_bpm": [88.0, 171.0, 97.0], "minutes": [2.2, 0.5, 2.0]}
    )

    table = recording.measure(path, others.song.tolist(), others)

    assert not table.tempo_sure.any()


def of(bpm):
    """A sure tempo."""
    return Tempo(bpm, 0.0, 0.0, True, np.zeros(0), np.zeros(0), "", {"support": 1.0})


LOST, THERE = (Place(0.0, 60.0, sure=sure, why="" if sure else "too short") for sure in (False, True))
WANTED = [Wanted(title, 120.0) for title in "abcdef"]


def test_where_no_song_is_placed_for_sure_no_tempo_is_told():
    """
    A sound check of songs of the set has their tempi, and is not the show.
    """
    assert not any(one.sure for one in believed([of(120.0)] * 3, WANTED[:3], [LOST] * 3, 180.0, np.nan)[0])
    assert all(one.sure for one in believed([of(120.0)] * 3, WANTED[:3], [LOST, LOST, THERE], 180.0, np.nan)[0])


@pytest.mark.parametrize(
    ("off", "ahead", "sure"),
    [
        ((5, 5, 5, 5, 5, 5), 0.5, True),  # the whole night faster than wanted
        ((5, 0, -5, 8, -8, 3), 0.5, False),
        ((5, 0, -5, 8, -8, 3), 5.5, True),
        ((1, 0, 1, 0, 30, 30), 1.0, False),
        ((1, 0, 1, 0, 30, 30), 2.5, True),
    ],
)
def test_a_set_is_believed_by_its_order_and_its_tempi(off, ahead, sure):
    """
    The further its own order is ahead of others, the fewer songs need the tempo that is wanted, and the reverse.
    """
    tempi, places = believed([of(120.0 + by) for by in off], WANTED, [THERE] * 6, 360.0, ahead)

    assert [sure] * 6 == [place.sure for place in places]
    assert sure == any(one.sure for one in tempi)


def test_where_much_is_outside_the_set_nothing_is_sure():
    """
    Two shows in one file: songs can lie in either.
    """
    tempi, places = believed([of(120.0)] * 6, WANTED, [THERE] * 6, 720.0, 6.0)

    assert not any(one.sure for one in (*tempi, *places))
    assert "another show may be on it" in places[0].why


def test_songs_beside_one_that_was_not_found_need_their_own_tempo():
    """
    The second song is lost; the third and fourth have other tempi than are wanted: they may be those before them.
    """
    lost = Place(np.nan, np.nan, sure=False, why="not found")
    tempi = [of(120.0), NONE, of(126.0), of(140.0), of(120.0), of(140.0)]

    found = believed(tempi, WANTED, [THERE, lost, *[THERE] * 4], 360.0, np.nan)[1]

    assert [True, False, False, False, True, True] == [place.sure for place in found]
    assert 0 == found[2].near
