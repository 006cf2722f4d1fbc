"""Copies, taking them back, and files that are not as they should be."""

import os
import shutil
import sqlite3
import sys
import tempfile
from contextlib import contextmanager
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from tests.diary.reads import assert_same
from tourstats.diary import CopyWarning, DiaryProblem, backup, check, copies, opened, restore
from tourstats.diary.store import file as opening
from tourstats.diary.store.copies import KEPT
from tourstats.diary.store.migrations import MIGRATIONS

NOBODY = 65534


def read(path):
    """Everything in a diary."""
    with opened(path) as book:
        return book.read()


def clock(monkeypatch, moment):
    """Set the clock that names the copies and dates the changes."""

    class Clock(datetime):
        """A clock that stands still."""

        @classmethod
        def now(cls):
            """Tell the time that was set."""
            return moment

    for module in ("copies", "changes"):
        monkeypatch.setattr(sys.modules[f"tourstats.diary.store.{module}"], "datetime", Clock)


@contextmanager
def reader_only(path):
    """Let the file be readable and nothing writable, for root too, in a folder that others may enter."""
    folder = Path(tempfile.mkdtemp(prefix="tour-"))
    place = folder / path.name
    shutil.copyfile(path, place)
    if Path(f"{path}-wal").exists():
        shutil.copyfile(f"{path}-wal", f"{place}-wal")
    for file in folder.iterdir():
        file.chmod(0o444)
    folder.chmod(0o555)
    root = os.geteuid() == 0
    if root:
        os.seteuid(NOBODY)
    try:
        yield place
    finally:
        if root:
            os.seteuid(0)
        folder.chmod(0o755)
        shutil.rmtree(folder)


def test_the_first_change_of_a_day_makes_a_copy(path, monkeypatch):
    """
    Each day's copy holds what was there in the morning; an empty diary is not worth one; fourteen are kept.
    """
    start = datetime(2031, 3, 1, 14)  # noqa: DTZ001  # the clock on the wall
    for day in range(KEPT + 4):
        clock(monkeypatch, start + timedelta(days=day))
        with opened(path) as book:
            book.add_song(f"Song {day}")
            book.add_song(f"Other song {day}")

    names = [copy.name for copy in copies(path)]
    assert KEPT == len(names)
    assert "diary-2031-03-18.sqlite" == names[0]
    assert "diary-2031-03-05.sqlite" == names[-1]
    assert 2 * (KEPT + 3) == len(read(copies(path)[0]).songs)


def test_a_copy_by_hand_is_never_cleared_away(path, fill, tmp_path, monkeypatch):
    """
    It is where it was asked for, or beside the diary, and is one whole file.
    """
    with opened(path) as book:
        fill(book)
        mine = backup(path)
        other = backup(path, to=tmp_path / "stick.sqlite")
    for day in range(KEPT + 2):
        clock(monkeypatch, datetime(2031, 3, 1) + timedelta(days=day))  # noqa: DTZ001  # the clock on the wall
        with opened(path) as book:
            book.add_song(f"Song {day}")

    assert mine in copies(path)
    assert KEPT + 1 == len(copies(path))
    assert [] == check(mine) == check(other)
    assert not Path(f"{mine}-wal").exists()
    with pytest.raises(DiaryProblem, match="already"):
        backup(path, to=other)
    with pytest.raises(DiaryProblem, match="There is no file"):
        backup(tmp_path / "none.sqlite")


def test_a_copy_is_made_while_somebody_writes(path, fill):
    """
    It holds the last whole change.
    """
    with opened(path) as book:
        fill(book)
        before = book.read()
        with book.atomic("a long one"):
            book.add_song("Low Trough")
            copy = backup(path)

    assert "Low Trough" not in set(read(copy).songs.song)
    assert_same(before, read(copy))


def test_a_copy_of_the_day_that_fails_does_not_hold_up_the_change(path):
    """
    What was played tonight comes first; that there is no copy is said.
    """
    with opened(path) as book:
        book.add_song("Ferry")
        (path.parent / "backups").write_text("in the way", encoding="utf-8")
        with pytest.warns(CopyWarning, match="The copy of the day was not made"):
            book.add_song("Tin Rook")

        assert 2 == len(book.songs())


def test_restore_brings_back_what_the_copy_holds_and_keeps_what_was_there(path, fill):
    """
    An open notebook sees the restored diary at once; what was there is a copy of its own.
    """
    with opened(path) as book:
        fill(book)
        then = book.read()
        copy = backup(path)
        book.add_song("Low Trough")
        book.remove_show(1)
        now = book.read()
        aside = restore(copy, path)
        again = restore(copy, path)

        assert_same(then, book.read())
        book.add_song("Low Trough")
    assert_same(now, read(aside))
    assert aside != again
    assert_same(then, read(again))


def test_restore_into_nothing(path, fill, tmp_path):
    """
    A copy makes a diary where there is none.
    """
    with opened(path) as book:
        fill(book)
        then = book.read()
        copy = backup(path, to=tmp_path / "stick.sqlite")

    assert restore(copy, tmp_path / "new" / "diary.sqlite") is None
    assert_same(then, read(tmp_path / "new" / "diary.sqlite"))


def test_restore_to_where_nothing_can_be_written_is_said(path, fill, tmp_path):
    """
    A folder in the diary's place, a file in its folder's: a sentence, and all is left as it was.
    """
    with opened(path) as book:
        fill(book)
    copy = backup(path)
    (tmp_path / "folder").mkdir()
    (tmp_path / "file").write_text("mine", encoding="utf-8")

    with pytest.raises(DiaryProblem) as one:
        restore(copy, tmp_path / "folder")
    with pytest.raises(DiaryProblem, match=r"was not taken back, since .* cannot be written \(") as two:
        restore(copy, tmp_path / "file" / "diary.sqlite")

    assert f"{tmp_path / 'folder'} is a folder. Name a file for the diary with `--diary`." == str(one.value)
    assert "name another place with `--diary`" in str(two.value)
    assert "mine" == (tmp_path / "file").read_text(encoding="utf-8")


def test_restore_in_place_of_a_damaged_diary(path, fill):
    """
    The damaged file is kept byte for byte.
    """
    with opened(path) as book:
        fill(book)
        then = book.read()
        copy = backup(path)
    path.write_bytes(path.read_bytes()[:9000])
    damaged = path.read_bytes()
    aside = restore(copy, path)

    assert_same(then, read(path))
    assert damaged == aside.read_bytes()
    assert [] == check(path)


def test_a_damaged_copy_is_not_taken_back(path, fill, tmp_path):
    """
    The copy is looked through first; the diary is left as it is.
    """
    with opened(path) as book:
        fill(book)
        copy = backup(path, to=tmp_path / "stick.sqlite")
    pages = bytearray(copy.read_bytes())
    pages[4096 * 3 : 4096 * 6] = b"\xa5" * (4096 * 3)
    copy.write_bytes(bytes(pages))
    before = path.read_bytes()

    with pytest.raises(DiaryProblem, match="was not taken back, since it is not whole") as caught:
        restore(copy, path)
    assert "is damaged" in str(caught.value)
    assert before == path.read_bytes()
    with pytest.raises(DiaryProblem, match="There is no file"):
        restore(tmp_path / "none.sqlite", path)


def test_an_older_copy_is_brought_up_to_date_after_it_was_taken_back(path, tmp_path):
    """
    Restoring a copy of an earlier version gives a diary that opens.
    """
    old = sqlite3.connect(tmp_path / "old.sqlite")
    MIGRATIONS[0](old)
    old.execute("pragma user_version = 1")
    old.execute("pragma application_id = 1953461618")
    old.execute("insert into songs (song) values ('Ferry')")
    old.commit()
    old.close()
    with opened(path) as book:
        book.add_song("Tin Rook")
    restore(tmp_path / "old.sqlite", path)

    assert ["Ferry"] == read(path).songs.song.tolist()


def test_check_finds_nothing_in_a_whole_diary(path, fill):
    """
    A whole diary gives no sentences, and looking changes nothing.
    """
    with opened(path) as book:
        fill(book)
    before = {file: file.read_bytes() for file in path.parent.iterdir() if file.is_file()}

    assert [] == check(path)
    assert before == {file: file.read_bytes() for file in path.parent.iterdir() if file.is_file()}
    assert [f"There is no diary at {path}x. It is made when you save something for the first time."] == check(
        f"{path}x"
    )
    assert not Path(f"{path}x").exists()


def test_a_look_while_somebody_writes_is_of_one_moment(path, fill, monkeypatch):
    """
    When the log is written into the file between copying the one and the other, both are copied again.
    """
    with opened(path) as book:
        fill(book)
        copyfile, left = shutil.copyfile, ["the log is emptied once"]

        def slow(source, target):
            copyfile(source, target)
            if left:
                left.pop()
                book.add_song("Low Trough")
                book.store.select("pragma wal_checkpoint(truncate)")
                book.add_song("Lantern")

        monkeypatch.setattr(opening.shutil, "copyfile", slow)
        with opening.read_from(path) as db:
            titles = {row[0] for row in db.execute("select song from songs")}

    assert {"Low Trough", "Lantern"} <= titles


def test_check_names_what_is_wrong(path, fill):
    """
    Rows that refer to nothing, gaps in a set, and pages that cannot be read each get a sentence.
    """
    with opened(path) as book:
        fill(book)
    db = sqlite3.connect(path)
    db.execute("delete from songs where song = 'Copper Wire'")
    db.execute("delete from plays where show_id = 1 and stage = 'played' and position = 1")
    db.commit()
    db.close()
    troubles = check(path)

    assert any(line.startswith(f"The diary {path} has a row in plays that refers to one missing in songs.")
               for line in troubles)  # fmt: skip
    assert "The played set of show 1 has a gap in its positions. Save the set again." in troubles


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"Ferry\nTin Rook\n" * 20, "is not a diary. Name another file"),
        (b"SQLite format 3\0", "is cut short"),
        (b"PK\x03\x04" + bytes(5000), "is not a diary. Name another file"),
    ],
)
def test_a_file_that_is_something_else_is_left_alone(path, content, words):
    """
    A text, a zip or the first bytes of a diary are refused, byte for byte as they were, with what to do.
    """
    path.parent.mkdir(parents=True)
    path.write_bytes(content)

    with pytest.raises(DiaryProblem, match=words), opened(path):
        pass
    assert content == path.read_bytes()
    assert [path] == list(path.parent.iterdir())
    assert 1 == len(check(path))


def test_a_file_that_lost_its_end_is_left_alone(path, fill):
    """
    A diary cut short by a failed copy is noticed when it is opened.
    """
    with opened(path) as book:
        fill(book)
    whole = path.read_bytes()
    for size in (len(whole) - 1, len(whole) // 2, 4096, 99):
        path.write_bytes(whole[:size])
        with pytest.raises(DiaryProblem, match="is cut short: a part of the file is missing"), opened(path):
            pass

        assert whole[:size] == path.read_bytes()


def test_another_program_s_database_is_left_alone(path):
    """
    SQLite files are many; only one that is marked as a diary is one.
    """
    path.parent.mkdir(parents=True)
    db = sqlite3.connect(path)
    db.execute("create table stock (item text)")
    db.commit()
    db.close()
    before = path.read_bytes()

    with pytest.raises(DiaryProblem, match="is a SQLite file, but not a diary"), opened(path):
        pass
    assert before == path.read_bytes()


def test_an_empty_file_becomes_a_diary(path):
    """
    A file of no bytes, as a crash at the very first moment leaves it, is used.
    """
    path.parent.mkdir(parents=True)
    path.touch()

    assert 0 == len(read(path).songs)


def test_a_file_that_another_program_has_just_begun_becomes_a_diary(path):
    """
    Between the first page and the first table a file is nobody's yet.
    """
    path.parent.mkdir(parents=True)
    db = sqlite3.connect(path)
    db.execute("pragma journal_mode = wal")
    db.close()
    assert path.stat().st_size > 0

    assert 0 == len(read(path).songs)


@pytest.mark.parametrize("still_open", [False, True], ids=["closed", "with a log beside it"])
def test_what_may_only_be_read_is_read(path, fill, still_open):
    """
    Where nothing may be written, everything is shown, a change is refused with what to do, and no byte differs.
    """
    with opened(path) as book:
        fill(book)
        if still_open:
            then = book.read()
            with reader_only(path) as place:
                now, sentence, same = look_and_try(place)
    if not still_open:
        then = read(path)
        with reader_only(path) as place:
            now, sentence, same = look_and_try(place)

    assert_same(then, now)
    assert "may be read but not written. Allow writing to the file and its folder" in sentence
    assert same


def look_and_try(place):
    """Read a diary, try to change it, and say what came of it."""
    before = {file: file.read_bytes() for file in place.parent.iterdir()}
    with opened(place) as book:
        now = book.read()
        assert not book.writable
        with pytest.raises(DiaryProblem) as caught:
            book.add_song("Low Trough")
        with pytest.raises(DiaryProblem):
            book.save_draft("a", {})
    return now, str(caught.value), before == {file: file.read_bytes() for file in place.parent.iterdir()}


def test_a_folder_in_which_nothing_may_be_made(path, fill):
    """
    A new diary in a folder that may not be written is a sentence that names another way.
    """
    with opened(path) as book:
        fill(book)
    with reader_only(path) as place:
        with pytest.raises(DiaryProblem) as one, opened(place.parent / "new.sqlite"):
            pass
        with pytest.raises(DiaryProblem) as two, opened(place.parent / "folder" / "new.sqlite"):
            pass

    assert "cannot be opened. Look whether its folder is there and may be written" in str(one.value)
    assert "cannot be made (Permission denied). Name another place with `--diary`." in str(two.value)


def test_a_full_disk(path, fill):
    """
    What does not fit is not saved by half; what was there stays, and the next change works when there is room.
    """
    with opened(path) as book:
        fill(book)
        before = book.read()
        pages = book.store.db.execute("pragma page_count").fetchone()[0]  # the smallest disk there is
        book.store.db.execute(f"pragma max_page_count = {pages}")
        with pytest.raises(DiaryProblem) as caught, book.atomic():  # noqa: PT012  # one change that does not fit
            book.add_song("Low Trough")
            for number in range(2000):
                book.add_note(f"{number} " + "long " * 200, song="Ferry")

        assert_same(before, book.read())
        book.store.db.execute("pragma max_page_count = 100000")
        book.add_song("Low Trough")
    assert str(caught.value) == (
        f"There is no room left on the disk for the diary {path}. Free some space, then try again; what was saved "
        "before is safe, and this change was not made."
    )
    assert [] == check(path)


def test_waiting_is_long_enough_for_people():
    """
    A second notebook waits some seconds before it gives up.
    """
    assert opening.PATIENCE_S >= 5
