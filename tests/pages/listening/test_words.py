"""What to hear first, in words, and the command that says it."""

import os

import numpy as np
import pandas as pd
import pytest

from tests.recording import band
from tests.recording.files import written
from tourstats import cli
from tourstats.diary import opened
from tourstats.models import listening
from tourstats.pages.listening import hearing, words
from tourstats.problems import Problem
from tourstats.recording import Kept
from tourstats.tour import Tour

SONGS = [band.Song("Copper", "eights", 122.0, 62.0, seed=31), band.Song("Gravel", "floor", 134.0, 66.0, seed=33)]


@pytest.fixture(scope="module")
def sound(tmp_path_factory):
    """Two songs, the second five per cent faster than it is meant."""
    nights = [band.Night(SONGS[0], 1, faster=0.2), band.Night(SONGS[1], 1, faster=5.0)]
    made = band.show(nights, 6, "room").sound
    return written(tmp_path_factory.mktemp("recording") / "show.wav", made, band.RATE)


@pytest.fixture
def own(tmp_path):
    """A diary with a played show of these songs."""
    path = tmp_path / "tour.sqlite"
    with opened(path) as diary:
        for song in SONGS:
            diary.add_song(song.title, tempo_bpm=song.bpm, minutes=song.seconds / 60)
        show_id = diary.add_show("2031-03-04", "Brackwater")
        diary.write_set(show_id, [song.title for song in SONGS], stage="played")
    return path


def read(path):
    """The tour of a diary."""
    with opened(path) as diary:
        return diary.read()


def test_the_command_says_what_to_hear_first(own, sound, capsys):
    """
    Status 0, the song that was too fast first, with the reason; figures and the recording's path are in the diary.
    """
    status = cli.main(["--diary", str(own), "listen", str(sound)])
    out = capsys.readouterr().out
    tour = read(own)

    assert 0 == status
    assert "2 of 2 songs placed for sure, 2 with a tempo." in out
    assert words.PEOPLE.split(":")[0] in out
    assert words.EARS in out
    assert out.index("Gravel", out.index("What to hear first")) < out.index("Copper", out.index("What to hear first"))
    assert [str(sound.resolve())] == hearing.files_of(tour.shows.iloc[0])
    assert 134 * 1.05 == pytest.approx(tour.measured.tempo_bpm[1], rel=0.005)


def test_a_file_that_is_none_changes_nothing(own, tmp_path, capsys):
    """
    A sentence, status 1, and the diary as it was.
    """
    (tmp_path / "set.wav").write_text("1. Copper")

    assert 1 == cli.main(["--diary", str(own), "listen", str(tmp_path / "set.wav")])
    assert '"set.wav" holds no sound that can be read' in capsys.readouterr().err
    assert 0 == len(read(own).measured)


def test_a_show_without_a_played_set_is_asked_for_it(own, sound):
    """
    What was played has to be known first.
    """
    with opened(own) as diary:
        show_id = diary.add_show("2031-03-05", "Brackwater")

    with pytest.raises(Problem, match="has no played set yet"):
        hearing.heard(own, show_id, [sound])


def test_stopping_writes_nothing(own, sound):
    """
    An exception on the way, and the diary is as it was.
    """

    def stop(share, said):
        if share > 0.8:
            raise Problem("Stopped.")

    with pytest.raises(Problem, match="Stopped"):
        hearing.heard(own, 1, [sound], progress=stop)

    assert 0 == len(read(own).measured)


def test_what_was_set_by_ear_is_kept_and_the_rest_is_aligned_again(own, sound):
    """
    A start that was moved stays where it was put when the recording is read again.
    """
    hearing.heard(own, 1, [sound])
    before = read(own).measured
    hearing.heard(own, 1, [sound], fixed={1: (before.start_s[0] + 2, before.end_s[0] - 2)})
    hearing.heard(own, 1, [sound])
    after = read(own).measured

    assert round(before.start_s[0] + 2) == after.start_s[0]
    assert [True, False] == after.moved.astype(bool).tolist()


def test_a_folder_is_looked_through_for_the_newest(tmp_path):
    """
    Recordings only, the latest first; an empty folder is said to be.
    """
    for age, name in enumerate(["old.wav", "new.M4A", "note.txt"]):
        (tmp_path / name).touch()
        os.utime(tmp_path / name, (1000 + age, 1000 + age))

    assert ["new.M4A", "old.wav"] == [file.name for file in hearing.newest(tmp_path)]
    with pytest.raises(Problem, match="There is no folder"):
        hearing.newest(tmp_path / "none")


def test_a_folder_gives_the_files_of_the_day(own, tmp_path):
    """
    By the day in the name, else by the evening on which they were saved; never another show's; else a sentence.
    """
    folder = tmp_path / "recorder"
    folder.mkdir()
    for name, saved in {"20310304_2.wav": 5, "20310304_1.wav": 9, "0002.wav": 7, "set.txt": 7}.items():
        (folder / name).touch()
        os.utime(folder / name, (saved, saved))
    named = hearing.of_show(read(own), 1, [folder])
    for file in named:
        file.unlink()
    after_midnight = pd.Timestamp("2031-03-05 01:30").tz_localize(None).to_pydatetime().timestamp()
    os.utime(folder / "0002.wav", (after_midnight, after_midnight))
    saved = hearing.of_show(read(own), 1, [folder])
    with opened(own) as diary:
        other = diary.add_show("2031-03-04", "Brackwater", number=2, recording=str((folder / "0002.wav").resolve()))

    assert ["20310304_1.wav", "20310304_2.wav"] == [file.name for file in named]
    assert ["0002.wav"] == [file.name for file in saved]
    assert ["0002.wav"] == [file.name for file in hearing.of_show(read(own), other, [folder])]
    with pytest.raises(
        Problem, match=r"is of 04 March 2031, by name or by when it was saved\. The newest: none that is"
    ):
        hearing.of_show(read(own), 1, [folder])


def test_it_is_said_from_which_section_on_and_what_was_soft_or_loud():
    """
    Three per cent faster from the second chorus on; a night on which the soft parts were loud.
    """
    usual, odd = (np.r_[np.full(60, soft), np.full(60, 0.0)] for soft in (-12.0, -3.0))
    steady = np.full(112, 120.0)
    faster = np.where(8 + 2 * np.arange(112) < 180, 120.0, 124.5)
    places = [{"show_id": at + 1, "position": 1, "song": "Ferry"} for at in range(6)]

    def kept(tonight):
        nights = [(steady, usual)] * 5 + [(faster, tonight)]
        return pd.DataFrame(places).assign(kept=[Kept(*(c, 8.0, at), np.zeros((0, 12))).packed() for c, at in nights])

    measured = pd.DataFrame(places).drop(columns="song").assign(
        start_s=0.0, end_s=240.0, sure=True, tempo_bpm=[120.0] * 5 + [124.5], tempo_sure=True
    )  # fmt: skip
    sections = [("verse", 30), ("chorus", 30), ("verse", 30), ("chorus", 30)]
    tour = Tour.of(
        shows=pd.DataFrame({"show_id": range(1, 7), "date": pd.date_range("2031-03-04", periods=6)}),
        plays=pd.DataFrame(places),
        songs=pd.DataFrame({"song": ["Ferry"], "tempo_bpm": [120.0], "minutes": [4.0]}),
        sections=pd.DataFrame(
            [("Ferry", at, name, bars) for at, (name, bars) in enumerate(sections, 1)],
            columns=["song", "position", "name", "bars"],
        ),
        measured=measured,
    )
    away = listening.departures(tour.measured, tour.plays, tour.shows, tour.songs, 6, hearing.levels(kept(odd)))
    of = away.set_index("quantity").departure

    assert "3.8% faster than you usually play it, from chorus 2 on" in words.first(tour, 6, kept=kept(usual)).why[0]
    assert of.softs > 3 > abs(of.louds)
    row = words.table(tour, 6, kept(odd)).iloc[0]
    assert (3.8, True, True) == (
        row["against usual, %"],
        row["softs against usual, dB"] > 6,
        abs(row["louds against usual, dB"]) < 1,
    )


@pytest.mark.parametrize(
    ("quantity", "percent", "departure", "says"),
    [
        ("tempo", 2.96, 3.0, "3.0% faster than you usually play it"),
        ("tempo", -3.05, -3.0, "3.0% slower than you usually play it"),
        ("length", -10.5, -2.5, "10% shorter than usual"),
        ("drift", 2.0, 2.2, "it speeds up more than it usually does, by 2.0% from start to end"),
        ("tempo", 1.0, 0.8, "about as usual"),
    ],
)
def test_reasons_are_what_people_say(quantity, percent, departure, says):
    """
    By how much and in what; nothing is ever called wrong.
    """
    row = pd.Series({"departure": departure, "new": False, "open": False, "watch": False, "click": False})
    away = pd.DataFrame({"position": [1], "quantity": [quantity], "value": [percent], "usual": 0.0})

    assert says == words.because(row, words.told(away.assign(departure=departure)))


def test_everything_that_departs_is_told_in_one_line_the_largest_first():
    """
    Tempo, unsteadiness, length, and of how loud it was the largest alone; what is near the usual is left out.
    """
    away = pd.DataFrame(
        [
            ("tempo", 3.0, 2.4),
            ("drift", 0.5, 0.4),
            ("unsteadiness", 0.7, 3.5),
            ("length", -8.2, -2.1),
            ("softs", 4.0, 2.6),
            ("loudness", 3.1, 2.2),
        ],
        columns=["quantity", "value", "departure"],
    ).assign(position=1, usual=0.0)
    row = pd.Series({"departure": 3.5, "new": False, "open": False, "watch": False, "click": False})

    assert words.because(row, words.told(away)) == (
        "the tempo wanders more than usual; its soft parts are 4.0 dB louder than usual; "
        "3.0% faster than you usually play it; 8% shorter than usual"
    )


@pytest.mark.parametrize(
    ("bpm", "says"),
    [(101.5, "1.5% faster than the click"), (100.05, "with the click"), (99.0, "1.0% slower than the click")],
)
def test_a_song_to_a_click_is_told_against_the_click(bpm, says):
    """
    Whatever it was at earlier shows: the click is what it is held against, and that it was with it is said too.
    """
    places = pd.DataFrame({"show_id": [1, 2, 3], "position": 1, "song": "Ferry"})
    tour = Tour.of(
        shows=pd.DataFrame({"show_id": [1, 2, 3], "date": pd.date_range("2031-03-04", periods=3)}),
        plays=places,
        songs=pd.DataFrame({"song": ["Ferry"], "tempo_bpm": [100.0], "track": ["click"]}),
        measured=places[["show_id", "position"]].assign(
            start_s=0.0, end_s=240.0, sure=True, tempo_bpm=[100.0, 100.0, bpm], tempo_sure=True
        ),
    )

    assert says == words.first(tour, 3).why[0]
    assert (says in words.at_a_glance(tour, 3)) == (bpm != 100.05)


def test_hours_of_listening_are_those_of_the_recommendation():
    """
    80 dBA for 40 hours a week: ITU-T H.870, adults, as in the table that WHO publishes.
    """
    assert "80 dBA for 40 hours a week" in words.EARS
    assert "H.870" in words.EARS
