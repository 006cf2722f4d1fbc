"""The commands, as a person types them."""

import io
import os
import subprocess
import sys

import openpyxl
import pytest

from tourstats import cli, demo, diary
from tourstats.models import tonight

SET = """SET LIST, OSTBY, 4 MARCH
1. Ferry 3:45
2) copper wire
ENCORE
Tin Rook"""


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
        for song in ("Ferry", "Copper Wire", "Tin Rook"):
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
    status, out, _ = run(capsys, "--diary", filled, "tonight", "--all", "--sheets", tmp_path / "sheets")
    parts = ["Tonight against the last set", "Songs that need care", "Transitions", "My notes", "Set out before doors"]
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


def test_tonight_is_one_screen(filled, tmp_path, capsys):
    """
    At most 60 lines of 100 columns, every song of the set among them, the first steps of the plan, and no backticks.
    """
    status, out, _ = run(capsys, "--diary", filled, "tonight", "--sheets", tmp_path)
    lines = [line for line in out.splitlines() if not line.startswith("The stage sheet")]
    with diary.opened(filled) as book:
        tour = book.read()

    assert 0 == status
    assert len(lines) < 60
    assert [] == [line for line in lines if len(line) > 100]
    assert "`" not in out
    assert all(song in out for song in tour.set_of(tour.next_show()).song)
    assert "The plan" in out


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
        assert ["Ferry", "Copper Wire", "Tin Rook"] == book.plays("planned").song.tolist()
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


def test_each_open_line_is_listed_with_what_settles_it(own, tmp_path, capsys):
    """
    The nearest titles, a new song, or leaving it out: each as it is typed behind the command.
    """
    with diary.opened(own) as book:
        book.add_song("Copper $ Kettle")
    (tmp_path / "set.txt").write_text("Ferry\nCopper\nQuarry Song\n", encoding="utf-8")

    status, out, err = run(capsys, "--diary", own, "tonight", tmp_path / "set.txt", "--city", "Ostby")

    assert (1, "") == (status, out)
    assert (
        """tourstats: 2 lines are not settled; nothing is saved. Type the command again with one of these for each:
Song 2 (line 2), "Copper":
    --song 2="Copper Wire"  (proposed)
    --song 2='Copper $ Kettle'
    --song 2=new            a new song: Copper
    --song 2=skip           leave it out
Song 3 (line 3), "Quarry Song":
    --song 3=new            a new song: Quarry Song  (proposed)
    --song 3=skip           leave it out
Or take all that is proposed: --accept
"""
        == err
    )


def test_all_that_is_proposed_is_taken_at_once(own, tmp_path, capsys):
    """
    `--accept`: last night's set with its change, and a song that nobody knows.
    """
    with diary.opened(own) as book:
        book.write_set(book.add_show("2031-03-02", "Ostby"), ["Ferry", "Tin Rook"], "played")
    (tmp_path / "set.txt").write_text("same as last night but Copper Wire instead of Tin Rook", encoding="utf-8")
    words = ("--diary", own, "tonight", tmp_path / "set.txt", "--city", "Westhallow", "--date", "2031-03-04")

    asked, _, err = run(capsys, *words, "--sheets", tmp_path)
    taken, *_ = run(capsys, *words, "--accept", "--sheets", tmp_path)

    assert (1, 0) == (asked, taken)
    assert "The set that is proposed (1 Ferry; 2 Copper Wire)" in err
    assert "the set of 2 March 2031 at Ostby, Copper Wire in the place of Tin Rook" in err
    with diary.opened(own) as book:
        assert ["Ferry", "Copper Wire"] == book.plays("planned").song.tolist()


class Keyboard(io.StringIO):
    """Somebody who types lines, and then ends the input."""

    def isatty(self):
        """Say that somebody is there."""
        return True


@pytest.mark.parametrize(
    ("typed", "expected"),
    [("1\n", "Copper Wire"), ("3\n", "Copper"), ("tin rook\n", "Tin Rook"), ("2\n", "Copper Trivet"), ("4\n", None)],
)
def test_at_the_keyboard_a_line_is_asked_about_with_its_choices(own, tmp_path, capsys, monkeypatch, typed, expected):
    """
    A number takes one of the choices, anything else is a title.
    """
    with diary.opened(own) as book:
        book.add_song("Copper Trivet")
    (tmp_path / "set.txt").write_text("Ferry\nCopper\n", encoding="utf-8")
    monkeypatch.setattr("sys.stdin", Keyboard(typed))

    words = ("--city", "Ostby", "--sheets", tmp_path)
    status, out, _ = run(capsys, "--diary", own, "tonight", tmp_path / "set.txt", *words)

    assert 0 == status
    assert "1  Copper Wire\n  2  Copper Trivet\n  3  a new song: Copper\n  4  leave it out\n" in out
    with diary.opened(own) as book:
        assert ["Ferry", *([expected] if expected else [])] == book.plays("planned").song.tolist()


def test_who_ends_the_input_is_told_what_is_open(own, tmp_path, capsys, monkeypatch):
    """
    Ctrl-D instead of an answer.
    """
    (tmp_path / "set.txt").write_text("Quarry Song\n", encoding="utf-8")
    monkeypatch.setattr("sys.stdin", Keyboard(""))

    status, _, err = run(capsys, "--diary", own, "tonight", tmp_path / "set.txt", "--city", "Ostby")

    assert 1 == status
    assert "--song 1=new" in err


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
        "tourstats: This show is not in the diary yet. Say where it is: --city CITY, and --venue, --room if you like.\n"
        == err
    )


def test_a_file_that_is_not_there_is_said(own, capsys):
    """
    No traceback for a wrong name.
    """
    status, _, err = run(capsys, "--diary", own, "tonight", "nowhere.txt")

    assert 1 == status
    assert "tourstats: There is no file nowhere.txt. Look at its name, and at the folder it is in.\n" == err


NO_SET = {
    "folder": ("is a folder", lambda path: path.mkdir()),
    "sheet.xlsx": ("is damaged", lambda path: path.write_bytes(b"PK\x03\x04")),
    "picture.txt": ("holds something other than text", lambda path: path.write_bytes(bytes(range(256)) * 9)),
    "empty.txt": ("There is no song in that set", lambda path: path.touch()),
    "findings.txt": (
        "read like findings",
        lambda path: path.write_text("4 came in late\n7 ++ felt great\n8 dropped a stick\n"),
    ),
}


@pytest.mark.parametrize("name", NO_SET)
def test_what_is_no_set_is_said_and_begins_no_diary(tmp_path, capsys, name):
    """
    A folder, a spreadsheet, a picture, an empty file: a sentence, and the demo is shown as before.
    """
    why, make = NO_SET[name]
    make(tmp_path / name)

    status, _, err = run(capsys, "--diary", tmp_path / "new.sqlite", "tonight", tmp_path / name, "--city", "Ostby")

    assert 1 == status
    assert why in err
    assert [name] == [path.name for path in tmp_path.iterdir()]


@pytest.mark.parametrize("name", ["folder", "empty.sqlite"])
def test_what_lay_in_the_place_of_the_diary_is_not_taken_away(tmp_path, capsys, name):
    """
    A folder or an empty file of somebody's, named by mistake; nothing was written, and it is still there.
    """
    place = tmp_path / name
    place.mkdir() if name == "folder" else place.touch()
    (tmp_path / "set.txt").write_text("31.02.2031\n", encoding="utf-8")

    status, _, err = run(capsys, "--diary", place, "intake", tmp_path / "set.txt")

    assert 1 == status
    assert err.startswith("tourstats: ")
    assert place.exists()


@pytest.mark.parametrize("data", ["Ferry\nCafé\n".encode(code) for code in ("utf-8-sig", "utf-16", "cp1252")])
def test_a_set_is_read_in_any_usual_encoding(tmp_path, capsys, data):
    """
    As an editor on any system saves it.
    """
    (tmp_path / "set.txt").write_bytes(data)
    words = ("--diary", tmp_path / "new.sqlite", "tonight", tmp_path / "set.txt", "--city", "Ostby")

    status, *_ = run(capsys, *words, "--sheets", tmp_path)

    assert 0 == status
    with diary.opened(tmp_path / "new.sqlite") as book:
        assert ["Ferry", "Café"] == book.plays("planned").song.tolist()


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (("tonight", "--date", "31.02.2031"), '"31.02.2031" is no day; write it as 2031-03-04'),
        (("tonight", "--minutes", "nan"), '"nan" has to be a number from 0 to 1440'),
        (("tonight", "--level", "-3"), '"-3" has to be a number from 40 to 140'),
        (("likely", "--run", "0"), '"0" has to be a whole number of at least 1'),
    ],
)
def test_a_wrong_number_or_day_is_said_in_words(capsys, words, sentence):
    """
    Before anything is opened.
    """
    with pytest.raises(SystemExit):
        cli.main(list(words))

    assert sentence in capsys.readouterr().err


def test_a_place_beyond_the_set_settles_nothing(own, tmp_path, capsys):
    """
    An answer that would go nowhere is said.
    """
    (tmp_path / "set.txt").write_text("Ferry\n", encoding="utf-8")

    *_, err = run(capsys, "--diary", own, "tonight", tmp_path / "set.txt", "--song", "7=Ferry")

    assert (
        'tourstats: "7" is no place in the set, which has 1 song. Write the place and its title, as in '
        '7="Copper Wire".\n'
    ) == err


def test_a_set_tried_on_the_demo_leaves_the_demo_as_it_is(filled, tmp_path, capsys, monkeypatch):
    """
    The whole show day for a set of one's own, and nothing of it is kept.
    """
    monkeypatch.setattr(demo, "path", lambda: filled)
    with diary.opened(filled) as book:
        before = book.plays("planned"), book.shows(), book.undoable()
        title = book.songs().song[0]
    (tmp_path / "set.txt").write_text(f"{title}\n", encoding="utf-8")

    words = ("tonight", tmp_path / "set.txt", "--city", "Ostby", "--sheets", tmp_path)
    status, out, _ = run(capsys, "--diary", "demo", *words)

    assert 0 == status
    assert "What you try here is not kept." in " ".join(out.split())
    with diary.opened(filled) as book:
        after = book.plays("planned"), book.shows(), book.undoable()
        assert all(one.equals(two) for one, two in zip(before[:2], after[:2], strict=True))
        assert before[2] == after[2]


@pytest.mark.parametrize("words", [("intake", "sets.csv"), ("backup",), ("restore",)])
def test_nothing_is_read_into_the_demo_or_taken_back(filled, capsys, monkeypatch, words):
    """
    It is said where one's own begins.
    """
    monkeypatch.setattr(demo, "path", lambda: filled)
    monkeypatch.setenv("TOURSTATS_DIARY", "demo")

    status, _, err = run(capsys, *words)

    assert 1 == status
    assert (
        "tourstats: The demo tour stays as it is: nothing is read into it, copied or taken back. Say the same without "
        '"--diary demo", and it is done to your own diary, which begins with your first set or file.\n'
    ) == err


def test_the_demo_by_name_is_the_demo_for_every_command(filled, tmp_path, capsys, monkeypatch):
    """
    Not a file called "demo" in the folder at hand.
    """
    monkeypatch.setattr(demo, "path", lambda: filled)
    monkeypatch.chdir(tmp_path)

    status, out, _ = run(capsys, "--diary", "demo", "check")

    assert (0, "The demo tour has no damage.\n") == (status, out)


def test_a_file_with_questions_begins_no_diary_and_says_what_settles_them(tmp_path, capsys):
    """
    Each question with what to type; with the answers, what was added is counted.
    """
    (tmp_path / "sets.csv").write_text("date,town,song\n31.02.2031,Ostby,Ferry\n", encoding="utf-8")
    words = ("--diary", tmp_path / "new.sqlite", "intake", tmp_path / "sets.csv")

    status, _, err = run(capsys, *words)
    begun = (tmp_path / "new.sqlite").exists()
    done, out, _ = run(capsys, *words, "--answer", "date: 31.02.2031=2031-02-28")
    again = run(capsys, *words, "--answer", "date: 31.02.2031=2031-02-28")

    assert (1, False, 0) == (status, begun, done)
    assert (
        """tourstats: Nothing was written: 1 question to settle first.
- sets.csv, row 2, column A: "31.02.2031" is no day. Give the day as 2031-03-04, or "skip" to leave this show out.
    --answer "date: 31.02.2031=skip"
    --answer "date: 31.02.2031=…"
"""
        == err
    )
    assert "1 place, 1 song, 1 show" == out.splitlines()[0]
    assert "sets.csv: 1 show, 1 song, 1 set" == out.splitlines()[-1]
    assert (0, "sets.csv: nothing new; 1 there already", "") == (again[0], again[1].splitlines()[-1], again[2])


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

    assert (0, f"{own} has no damage.\n") == (status, out)
    with diary.opened(own) as book:
        assert 3 == len(book.songs())


def test_the_key_for_people_goes_to_another_machine(own, tmp_path, capsys, monkeypatch):
    """
    Copied to a file that is not written over, and taken from it; a file that is no key is refused.
    """
    stick, here, there = tmp_path / "stick.key", tmp_path / "here.key", tmp_path / "there.key"
    monkeypatch.setenv("TOURSTATS_PEOPLE_KEY", str(here))
    first, out, _ = run(capsys, "--diary", own, "backup", "--people-key", stick)
    again, _, err = run(capsys, "--diary", own, "backup", "--people-key", stick)
    monkeypatch.setenv("TOURSTATS_PEOPLE_KEY", str(there))
    taken, *_ = run(capsys, "restore", "--people-key", stick)
    refused, _, no_key = run(capsys, "restore", "--people-key", own)

    assert (0, 1, 0, 1) == (first, again, taken, refused)
    assert f"The key for people is copied to {stick}.\n" == out
    assert "Name a file that is not there yet." in err
    assert here.read_bytes() == there.read_bytes()
    assert 'Name the file that "tourstats backup --people-key" wrote.' in no_key


def test_likely_lists_songs_with_chances_and_reasons(filled, capsys):
    """
    As many songs as were asked for, none of them in the last set.
    """
    status, out, _ = run(capsys, "--diary", filled, "likely", "--run", "5")

    assert 0 == status
    assert "%" in out


def test_what_is_known_may_be_typed_with_slips(filled, capsys):
    """
    It is taken as the repertoire has it; what is no title is asked about.
    """
    with diary.opened(filled) as book:
        one, two = book.songs().song[:2]

    status, out, _ = run(capsys, "--diary", filled, "likely", "--known", f" {one.upper()}", "--out", two.lower())
    refused, _, err = run(capsys, "--diary", filled, "likely", "--known", "Zyxwvut")

    assert (0, 1) == (status, refused)
    assert one not in out
    assert f"{two}    100%  known not to be in" in out
    assert err.startswith('tourstats: "Zyxwvut" is not in the repertoire.')


def test_the_command_itself_works():
    """
    As installed, in a process of its own.
    """
    out = subprocess.run(
        [sys.executable, "-m", "tourstats.cli", "--help"], capture_output=True, text=True, check=True, timeout=60
    )

    assert "tonight" in out.stdout


def test_what_is_read_is_kept_also_where_nobody_reads_on(tmp_path):
    """
    `tourstats intake FILE | head`: the pipe is closed at once, the songs are saved, and nothing complains.
    """
    (tmp_path / "songs.csv").write_text("song,tempo\nFerry,96\nSalt Road,120\n", encoding="utf-8")
    place, (reads, writes) = tmp_path / "own.sqlite", os.pipe()
    os.close(reads)
    command = [sys.executable, "-m", "tourstats.cli", "--diary", place, "intake", tmp_path / "songs.csv"]
    done = subprocess.run(command, stdout=writes, stderr=subprocess.PIPE, check=False, timeout=60)
    os.close(writes)

    assert (0, b"") == (done.returncode, done.stderr)
    with diary.opened(place) as book:
        assert ["Ferry", "Salt Road"] == book.songs().song.tolist()


def test_a_song_said_to_be_new_is_not_said_to_be_open(own, tmp_path, capsys):
    """
    What was settled without a question is settled; the account is that of the set as it was saved.
    """
    (tmp_path / "set.txt").write_text("Ferry\nNEW: Gravel Pylon\n", encoding="utf-8")
    status, out, _ = run(
        *(capsys, "--diary", own, "tonight", tmp_path / "set.txt", "--city", "Ostby", "--date", "2031-03-05"),
        *("--sheets", tmp_path),
    )

    assert 0 == status
    assert "Read: 2 places, 2 songs\n" in out


def test_a_set_in_a_workbook_is_a_set(own, tmp_path, capsys):
    """
    One sheet, a song a row, what is struck out struck out; of two sheets somebody has to say which.
    """
    book = openpyxl.Workbook()
    for row in ([1, "Ferry"], [2, "Copper Wire", "no click"], [3, "Tin Rook"]):
        book.active.append(row)
    book.active["B1"].font = openpyxl.styles.Font(strike=True)
    book.save(tmp_path / "set.xlsx")
    command = ("--diary", own, "tonight", tmp_path / "set.xlsx", "--city", "Ostby", "--sheets", tmp_path)
    done, out, _ = run(capsys, *command)
    book.create_sheet("2").append(["Ferry"])
    book.save(tmp_path / "set.xlsx")
    refused, _, err = run(capsys, *command)

    assert (0, 1) == (done, refused)
    assert "Read: 2 places, 2 songs\n" in out
    assert "it is a spreadsheet with 2 sheets" in err


def test_a_photo_needs_an_extra(tmp_path, capsys, monkeypatch):
    """
    Where it is not installed, one sentence says what to do.
    """
    monkeypatch.setattr("importlib.util.find_spec", lambda _: None)
    (tmp_path / "page.jpg").write_bytes(b"")
    status, _, err = run(capsys, "tonight", tmp_path / "page.jpg", "--city", "Ostby")

    said = "To read a photo, install the extra once: pip install 'tourstats[photo]'. Or type the set."
    assert (1, f"tourstats: {said}\n") == (status, err)


@pytest.mark.parametrize("command", ["workbook", "lab"])
def test_a_diary_that_is_named_and_not_there_is_no_empty_workbook(tmp_path, capsys, command):
    """
    Nothing is served and no file begins; the sentence says where to look.
    """
    status, _, said = run(capsys, "--diary", tmp_path / "mistyped.sqlite", command, "--no-browser")

    assert 0 != status
    assert f'There is no diary at {tmp_path / "mistyped.sqlite"}. Look at the name behind "--diary"' in said
    assert [] == list(tmp_path.glob("*.sqlite"))


@pytest.mark.parametrize("typed", ["2031-10-09", "9 October", "Weavers"])
def test_a_show_and_a_venue_are_found_by_what_is_typed_and_told_whole(filled, capsys, typed):
    """
    A day in figures or in words, or part of a venue's name: one that is meant, and its set or its shows.
    """
    status, out, _ = run(capsys, "--diary", filled, "song", *typed.split())

    assert status == 0
    assert "What was found and said" in out
    assert ("Market Day Parade" in out) if "9" in typed else ("Shows" in out)


def test_what_was_said_behind_a_title_is_found_again(own, capsys):
    """
    A remark in a set is as good as a note.
    """
    with diary.opened(own) as book:
        show_id = book.add_show("2031-03-04", "Brackwater", room="club")
        book.write_set(show_id, ["Ferry", "Tin Rook"], remarks=["short intro", None])

    assert "Ferry: short intro (set of 2031-03-04)" in run(capsys, "--diary", own, "song", "short", "intro")[1]


def test_the_latest_change_is_taken_back_by_a_command(own, capsys):
    """
    It says which that was.
    """
    assert (0, 'Undone: the new song "Tin Rook".\n', "") == run(capsys, "--diary", own, "undo")
    with diary.opened(own) as book:
        assert "Tin Rook" not in set(book.songs().song)


def test_listening_takes_the_latest_show_that_was_played(own, tmp_path, capsys):
    """
    Not tonight's, whose set is only planned; with none played it says what to do.
    """
    with diary.opened(own) as book:
        book.write_set(book.add_show("2031-03-04", "Brackwater", room="club"), ["Ferry"], stage="planned")
    before = run(capsys, "--diary", own, "listen", tmp_path / "no.wav")
    with diary.opened(own) as book:
        book.write_set(book.add_show("2031-03-03", "Ostby", room="club"), ["Ferry"], stage="played")
    after = run(capsys, "--diary", own, "listen", tmp_path / "no.wav")

    assert "No set that was played is saved yet" in before[2]
    assert "no.wav" in after[2]
