"""Files of every kind, and files that are none."""

import numpy as np
import pytest

from tests.recording.files import pictures, written
from tourstats.recording import sound
from tourstats.recording.sound import RATE, RecordingProblem, Source


@pytest.fixture
def tone():
    """Six seconds that rise from 200 to 800 Hz."""
    time = np.arange(6 * RATE) / RATE
    return (0.4 * np.sin(2 * np.pi * (200 * time + 50 * time**2))).astype(np.float32)


@pytest.mark.parametrize(
    ("name", "codec", "layout", "rate"),
    [
        ("a.wav", "pcm_s16le", "mono", 22050),
        ("a.wav", "pcm_u8", "mono", 22050),
        ("a.wav", "pcm_s16le", "5.1", 48000),
        ("a.flac", "flac", "stereo", 44100),
        ("a.mp3", "libmp3lame", "stereo", 44100),
        ("a.m4a", "aac", "stereo", 48000),
        ("a.mp4", "aac", "mono", 44100),
        ("a.opus", "libopus", "stereo", 48000),
    ],
)
def test_every_kind_of_file_reads_the_same(tmp_path, tone, name, codec, layout, rate):
    """
    Mono, 8 bit, 5.1, a camera's file: the same six seconds come out, as loud as they are in each channel.
    """
    given = np.interp(np.arange(0, 6, 1 / rate), np.arange(len(tone)) / RATE, tone)
    path = written(tmp_path / name, given, rate, codec=codec, layout=layout)

    read = np.concatenate(list(Source.of(path).blocks()))

    assert 6.0 == pytest.approx(len(read) / RATE, abs=0.1)
    lag = np.argmax(np.correlate(read[RATE : 2 * RATE], tone[RATE : 2 * RATE - 3000], "valid"))
    assert lag < 2500
    assert np.std(tone) == pytest.approx(np.std(read), rel=0.1)
    assert np.corrcoef(read[RATE + lag : 2 * RATE], tone[RATE : 2 * RATE - lag])[0, 1] > 0.95


def test_files_in_order_are_one_recording(tmp_path, tone):
    """
    A recorder that begins a new file half way loses nothing, and a part is found across the seam.
    """
    first, second = (written(tmp_path / name, tone, RATE) for name in ("1.wav", "2.wav"))
    source = Source.of([first, second])

    whole = np.concatenate(list(source.blocks()))
    part = np.concatenate(list(source.blocks(4.5, 8.0)))

    assert 12 * RATE == len(whole)
    assert np.array_equal(whole[int(4.5 * RATE) : 8 * RATE], part)


def test_a_file_cut_short_gives_what_there_is(tmp_path, tone):
    """
    The battery died: the first half is still there.
    """
    path = written(tmp_path / "a.wav", tone, RATE)
    path.write_bytes(path.read_bytes()[: 44 + 6 * RATE])

    assert 3.0 == pytest.approx(sum(map(len, Source.of(path).blocks())) / RATE, abs=0.1)


def test_what_is_no_sound_is_said_in_a_sentence(tmp_path):
    """
    A text, an empty file and a missing one are named, with what to do.
    """
    text = tmp_path / "set.wav"
    text.write_text("no sound at all")
    (tmp_path / "empty.mp3").touch()

    with pytest.raises(RecordingProblem) as caught:
        Source.of(text)
    assert (
        '"set.wav" holds no sound that can be read: it may be another kind of file, damaged, or (M4A, MP4) cut '
        "off before it was closed. Choose the recording itself (WAV, FLAC, MP3, M4A, MP4 and others), or convert it to "
        "WAV."
    ) == str(caught.value)
    with pytest.raises(RecordingProblem, match=r'"empty\.mp3" holds no sound'):
        Source.of(tmp_path / "empty.mp3")
    with pytest.raises(RecordingProblem, match="There is no recording"):
        Source.of(tmp_path / "none.wav")
    with pytest.raises(RecordingProblem, match="There is no recording"):
        Source.of(tmp_path)


def test_a_video_without_sound_is_said_in_a_sentence(tmp_path):
    """
    A camera whose microphone was off: the file is named, and nothing is measured.
    """
    with pytest.raises(RecordingProblem, match=r'"camera\.mp4" holds no sound that can be read'):
        Source.of(pictures(tmp_path / "camera.mp4"))


def test_without_the_extra_a_sentence_says_how_to_get_it(monkeypatch, tmp_path):
    """
    A bare installation has no PyAV.
    """
    monkeypatch.setattr(sound.importlib.util, "find_spec", lambda _: None)

    with pytest.raises(RecordingProblem, match=r"pip install 'tourstats\[recording\]'"):
        Source.of(tmp_path / "a.wav")
