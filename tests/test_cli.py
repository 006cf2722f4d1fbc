"""The commands, as a person types them."""

import io
import subprocess
import sys

import pytest

from tourstats import cli, demo, diary
from tourstats.models import tonight

SET = """SET LIST, OSTBY, 4 MARCH
1. Ferry 3:45
2) copper wire
ENCORE
Tin Roof"""


@pytest.fixture(scope="session")
def filled(tmp_path_factory):
    """The demo tour in a diary of its own, made once."""
    path = tmp_path_factory.mktemp("demo") / "diary.sqlite"
    with diary.opened(path) as book:
        demo.fill(book)
    return path


@pytest.fixture
def own(tmp_path):
    """A diary with three songs and nothing played."""
    path = tmp_path / "diary.sqlite"
    with diary.opened(path) as book:
        for song in ("Ferry", "Copper Wire", "Tin Roof"):
            book.add_song(song, minutes=4.0)
    return path


def run(capsys, *words):
    """Run a command; its status and what it said on both streams."""
    status = cli.main([str(word) for word in words])
    return status, *capsys.readouterr()


def test_tonight_gives_the_whole_show_day_in_order(filled, tmp_path, capsys):
    """
    Every part is there, in the order in which the afternoon needs it, and the sheet is written.
    """
    status, out, _ = run(capsys, "--diary", filled, "tonight", "--sheets", tmp_path / "sheets")
    parts = ["Tonight against the last set", "Songs that need care", "Changeovers", "My notes", "What must lie ready"]
    parts += [
        "Length",
        "The plan",
        "What the plan assumes",
        "Ears and hands",
        "For people who travel",
        "The stage sheet",
    ]

    assert 0 == status
    assert sorted(places := [out.index(f"\n{part}") for part in parts]) == places
    assert {".pdf", ".html"} == {made.suffix for made in (tmp_path / "sheets").iterdir()}


def test_a_pasted_set_is_saved_before_anything_is_computed(own, tmp_path, capsys, monkeypatch):
    """
    The set is in the diary, raw text and all, though what comes after fails.
    """
    (tmp_path / "set.txt").write_text(SET, encoding="utf-8")

    def broken(*_, **__):
        raise ArithmeticError

    monkeypatch.setattr(tonight, "brief", broken)
    with pytest.raises(ArithmeticError):
        run(capsys, "--diary", own, "tonight", tmp_path / "set.txt", "--city", "Ostby", "--date", "2031-03-04")

    with diary.opened(own) as book:
        assert ["Ferry", "Copper Wire", "Tin Roof"] == book.plays("planned").song.tolist()
        assert [False, False, True] == book.plays("planned").encore.tolist()
        assert SET in book.pasted().text.tolist()


def test_a_doubtful_line_is_asked_about_and_nothing_is_written(own, tmp_path, capsys):
    """
    Without a keyboard the open lines are listed, with how to settle them.
    """
    (tmp_path / "set.txt").write_text("Ferry\nQuarry Song\n", encoding="utf-8")

    status, _, err = run(capsys, "--diary", own, "tonight", tmp_path / "set.txt", "--city", "Ostby")

    assert 1 == status
    assert "Quarry Song" in err
    with diary.opened(own) as book:
        assert 0 == len(book.shows()) + len(book.plays("planned"))


def test_a_doubtful_line_is_settled_by_the_command(own, tmp_path, capsys):
    """
    `--song 2=new` adds the song; a second run with the same set writes the same show.
    """
    (tmp_path / "set.txt").write_text("Ferry\nQuarry Song\n", encoding="utf-8")
    words = ["--diary", own, "tonight", tmp_path / "set.txt", "--city", "Ostby", "--song", "2=new"]

    first, *_ = run(capsys, *words, "--sheets", tmp_path)
    second, *_ = run(capsys, *words, "--sheets", tmp_path)

    with diary.opened(own) as book:
        assert (0, 0, 1) == (first, second, len(book.shows()))
        assert ["Ferry", "Quarry Song"] == book.plays("planned").song.tolist()


def test_the_first_set_starts_a_diary(tmp_path, capsys, monkeypatch):
    """
    With nothing but tonight's set, every title is a new song and the day is prepared.
    """
    monkeypatch.setenv("TOURSTATS_DIARY", str(tmp_path / "mine.sqlite"))
    monkeypatch.setattr("sys.stdin", io.StringIO(SET))

    status, out, _ = run(capsys, "tonight", "-", "--city", "Ostby", "--room", "club", "--sheets", tmp_path)

    assert 0 == status
    assert "3 songs: the first set in the diary." in out
    assert "demo tour" not in out


def test_a_show_that_nobody_has_heard_of_needs_a_town(own, tmp_path, capsys):
    """
    What is missing is said, with what to type.
    """
    (tmp_path / "set.txt").write_text("Ferry\n", encoding="utf-8")

    status, _, err = run(capsys, "--diary", own, "tonight", tmp_path / "set.txt")

    assert 1 == status
    assert (
        "tourstats: This show is not in the diary yet. Say where it is: --city TOWN, and --venue, --room if you like.\n"
        == err
    )


def test_a_file_that_is_not_there_is_said(own, capsys):
    """
    No traceback for a wrong name.
    """
    status, _, err = run(capsys, "--diary", own, "tonight", "nowhere.txt")

    assert 1 == status
    assert (
        "tourstats: There is no file nowhere.txt. Give the name of a text file with the set, or - to paste it.\n" == err
    )


def test_without_a_diary_the_demo_is_shown_and_said(filled, tmp_path, capsys, monkeypatch):
    """
    Whoever has typed nothing yet sees the demo tour, and is told so.
    """
    monkeypatch.setattr(demo, "path", lambda: filled)

    status, out, _ = run(capsys, "tonight", "--sheets", tmp_path)

    assert 0 == status
    assert out.startswith("This is the demo tour: an invented band, not your diary.")


def test_export_and_intake_of_a_folder_give_the_same_diary(filled, tmp_path, capsys):
    """
    What leaves can come back.
    """
    run(capsys, "--diary", filled, "export", tmp_path / "out")
    status, *_ = run(capsys, "--diary", tmp_path / "again.sqlite", "intake", tmp_path / "out")

    assert 0 == status
    with diary.opened(filled) as one, diary.opened(tmp_path / "again.sqlite") as two:
        assert one.plays().song.tolist() == two.plays().song.tolist()
        assert len(one.mistakes()) == len(two.mistakes())


def test_backup_restore_and_check(own, tmp_path, capsys):
    """
    A copy, a change, and the copy taken back.
    """
    run(capsys, "--diary", own, "backup", tmp_path / "copy.sqlite")
    with diary.opened(own) as book:
        book.add_song("Low Water")

    run(capsys, "--diary", own, "restore", tmp_path / "copy.sqlite")
    status, out, _ = run(capsys, "--diary", own, "check")

    assert (0, f"{own} is whole.\n") == (status, out)
    with diary.opened(own) as book:
        assert 3 == len(book.songs())


def test_likely_lists_songs_with_chances_and_reasons(filled, capsys):
    """
    As many songs as were asked for, none of them in the last set.
    """
    status, out, _ = run(capsys, "--diary", filled, "likely", "--run", "5")

    assert 0 == status
    assert "%" in out


def test_the_command_itself_works():
    """
    As installed, in a process of its own, into a pipe that closes early.
    """
    out = subprocess.run(
        [sys.executable, "-m", "tourstats.cli", "--help"], capture_output=True, text=True, check=True, timeout=60
    )

    assert "tonight" in out.stdout
