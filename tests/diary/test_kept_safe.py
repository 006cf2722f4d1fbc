"""What happens to the file and to a folder of tables when things go wrong: a sentence, and nothing lost."""

import random
import shutil
import sqlite3
import subprocess
import sys
from contextlib import suppress
from datetime import datetime, timedelta
from pathlib import Path

import pandas as pd
import pytest

from tests.diary.reads import assert_same
from tourstats import cli
from tourstats.diary import DiaryProblem, backup, begun, check, copies, export, opened, restore
from tourstats.diary.people import hasher, is_hash, save_key, take_key
from tourstats.diary.store import copies as copying
from tourstats.diary.store.copies import KEPT
from tourstats.diary.store.schema import ASIDE, KEYS
from tourstats.pages.kit.whose import for_pages

PAGE_BYTES = 4096


def test_what_was_acknowledged_survives_a_power_cut(tmp_path):
    """
    SQLite: `pragma synchronous` 2 is FULL, which waits for the disk at each commit; 1 would lose the latest ones.
    """
    with opened(tmp_path / "diary.sqlite") as diary:
        assert (2,) == tuple(diary.store.db.execute("pragma synchronous").fetchone())


def damaged(path, how, seed):
    """Damage a file the way a bad stick or a power cut does."""
    dice = random.Random(seed)  # noqa: S311  # which bits does not matter
    data = bytearray(path.read_bytes())
    if how == "bits":
        for _ in range(50):
            data[dice.randrange(len(data))] ^= 1 << dice.randrange(8)
    elif how == "first pages":
        for _ in range(20):
            data[dice.randrange(16, 3 * PAGE_BYTES)] ^= 1 << dice.randrange(8)
    elif how == "a page":
        at = dice.randrange(len(data) // PAGE_BYTES) * PAGE_BYTES
        data[at : at + PAGE_BYTES] = bytes(PAGE_BYTES)
    path.write_bytes(data)
    if how == "a table":
        db = sqlite3.connect(path)
        db.execute("pragma foreign_keys = off")
        db.execute(f"drop table {dice.choice([*KEYS, *ASIDE])}")
        db.commit()
        db.close()


DAMAGED = 3
"""Files that are damaged in each way; forty of each were tried."""
EVERY = [
    *(["check"], ["likely"], ["song", "Ferry"], ["song", "zzz"], ["export", "out"], ["backup"], ["restore"]),
    *(["tonight"], ["tonight", "set.txt", "--city", "Fennick"], ["listen", "night.wav"], ["intake", "songs.csv"]),
    ["intake", "set.txt", "--accept"],
]
"""Every command that opens the diary."""


@pytest.mark.parametrize("how", ["bits", "first pages", "a page", "a table"])
def test_a_damaged_file_ends_every_command_in_a_sentence_and_a_copy_brings_it_back(
    path, fill, tmp_path, how, capsys, monkeypatch
):
    """
    Whatever SQLite can still make of it, no command ends in a traceback, and `restore` needs nothing of the file.
    """
    monkeypatch.chdir(tmp_path)
    with opened(path) as book:
        fill(book)
        whole = book.read()
    copy = backup(path, tmp_path / "copy.sqlite")
    Path("set.txt").write_text("Ferry\nTin Rook")
    Path("songs.csv").write_text("song,tempo\nLow Water,96\n")
    for seed in range(DAMAGED):
        for words in EVERY:
            shutil.copyfile(copy, path)
            damaged(path, how, seed)
            status = cli.main(["--diary", str(path), *words])
            said = capsys.readouterr().err

            assert (status == 0) == (not said), (seed, words)
        with suppress(DiaryProblem):  # a sentence, or nothing was wrong
            for_pages(path)  # as `workbook` and `lab` look before they open a page
        assert 0 == cli.main(["--diary", str(path), "restore", str(copy)])
        with opened(path) as book:
            assert_same(whole, book.read())


def test_a_missing_table_is_named(path, fill):
    """
    No older program leaves a file without one, so it is damage, and said to be.
    """
    with opened(path) as book:
        fill(book)
    for table, named in (("mistakes", "mistakes"), ("was", "mistakes and was")):
        db = sqlite3.connect(path)
        db.execute(f"drop table {table}")
        db.commit()
        db.close()

        assert f"it has no table of {named}" in check(path)[0].replace('"', "")
        with pytest.raises(DiaryProblem, match=table), opened(path):
            pass


def test_no_copy_of_the_day_is_made_of_a_damaged_file(path, fill, recwarn):
    """
    The change is saved all the same, and it is said; a copy is what one falls back on.
    """
    with opened(path) as book:
        fill(book)
    for copy in copies(path):
        copy.unlink()
    with opened(path) as book:
        book.store.select("pragma wal_checkpoint(truncate)")
        db = sqlite3.connect(path)
        db.execute("pragma writable_schema = on")
        db.execute("update sqlite_schema set rootpage = (select rootpage from sqlite_schema where name = 'venues') "
                   "where name = 'plays_song'")  # fmt: skip
        db.commit()
        db.close()
    with opened(path) as book:
        book.add_note("still saved", about="room", room="club")

    assert [] == copies(path)
    assert any("copy of the day was not made" in str(each.message) for each in recwarn.list)


def clocked(monkeypatch, moment):
    """Set the clock that names copies and dates changes."""

    class Clock(datetime):
        """A clock that stands still."""

        @classmethod
        def now(cls):
            """Tell the time that was set."""
            return moment

    for module in ("copies", "changes"):
        monkeypatch.setattr(sys.modules[f"tourstats.diary.store.{module}"], "datetime", Clock)


def test_a_clock_that_goes_back_clears_no_copy_away(path, monkeypatch):
    """
    Days are counted by what is in the copies: twenty days at a clock four years back are, for this, one.
    """
    start = datetime(2031, 3, 1, 14)  # noqa: DTZ001  # the clock on the wall
    for day in range(KEPT):
        clocked(monkeypatch, start + timedelta(days=day))
        with opened(path) as book:
            book.add_song(f"Song {day}")
    there = set(copies(path))
    for day in range(KEPT + 6):
        clocked(monkeypatch, start - timedelta(days=1500 - day))
        with opened(path) as book:
            book.add_song(f"Earlier song {day}")

    assert there <= set(copies(path))
    assert KEPT - 1 + KEPT + 6 == len(copies(path))


def test_the_last_whole_copy_is_never_cleared_away(path, monkeypatch):
    """
    Copies that went bad do not count as copies, however many there are.
    """
    start = datetime(2031, 3, 1, 14)  # noqa: DTZ001  # the clock on the wall
    for day in range(4):
        clocked(monkeypatch, start + timedelta(days=day))
        with opened(path) as book:
            book.add_song(f"Song {day}")
    oldest = copies(path)[-1]
    for copy in copies(path)[:-1]:
        copy.write_bytes(b"gone bad")
    for day in range(1, KEPT + 3):
        (path.parent / "backups" / f"diary-2031-04-{day:02}.sqlite").write_bytes(b"gone bad")
    copying._prune(path)

    assert oldest in copies(path)
    assert [] == check(oldest)


def test_another_file_s_log_beside_the_diary_is_not_taken_in(path, fill, tmp_path):
    """
    A log that came along from somewhere else would make one broken file of two; both are left as they are.
    """
    other = tmp_path / "other.sqlite"
    keeps = sqlite3.connect(other)
    keeps.execute("pragma journal_mode = wal")
    keeps.execute("create table lamps (lamp text)")
    keeps.executemany("insert into lamps values (?)", [("x" * 3000,)] * 40)
    keeps.commit()
    with opened(path) as book:
        fill(book)
    shutil.copyfile(f"{other}-wal", f"{path}-wal")
    keeps.close()
    before = path.read_bytes(), Path(f"{path}-wal").read_bytes()

    with pytest.raises(DiaryProblem, match="may belong to another file"), opened(path):
        pass
    assert "may belong to another file" in check(path)[0]
    assert before == (path.read_bytes(), Path(f"{path}-wal").read_bytes())
    Path(f"{path}-wal").unlink()
    assert [] == check(path)


def test_a_link_is_followed_to_the_file_and_its_log(path, fill, tmp_path):
    """
    Through a link the same diary is seen, also what lies in its log only, and restoring leaves the link a link.
    """
    link = tmp_path / "link.sqlite"
    link.symlink_to(path)
    with opened(path) as book:
        fill(book)
        with opened(link) as same:
            assert_same(book.read(), same.read())
        copy = backup(link, tmp_path / "copy.sqlite")
    restore(copy, link)

    assert link.is_symlink()
    assert [] == check(link)
    (tmp_path / "round.sqlite").symlink_to(tmp_path / "round.sqlite")
    with pytest.raises(DiaryProblem, match="leads nowhere"):
        check(tmp_path / "round.sqlite")


READERS = [
    *(["tonight"], ["likely"], ["song", "Ferry"], ["listen", "night.wav"], ["export", "out"], ["check"], ["backup"]),
    *(["restore"], ["workbook", "--no-browser"], ["lab", "--no-browser"]),
]
"""Every command that only reads, or reads before it writes."""


@pytest.mark.parametrize("words", READERS, ids=" ".join)
def test_a_mistyped_path_begins_no_diary(tmp_path, capsys, monkeypatch, words):
    """
    A command that only reads says that there is none, and makes none.
    """
    monkeypatch.chdir(tmp_path)
    status = cli.main(["--diary", str(tmp_path / "dairy.sqlite"), *words])

    assert 1 == status
    assert "dairy.sqlite" in capsys.readouterr().err
    assert [] == [each.name for each in tmp_path.iterdir() if "dairy" in each.name]


def test_a_home_that_cannot_be_written_is_said(tmp_path, capsys, monkeypatch):
    """
    No folder can be made where a file is; the sentence says what to do.
    """
    (tmp_path / "home").write_text("a file")
    (tmp_path / "set.txt").write_text("Ferry\nTin Rook")
    monkeypatch.chdir(tmp_path)
    place = tmp_path / "home" / "tour" / "diary.sqlite"
    status = cli.main(["--diary", str(place), "tonight", "set.txt", "--city", "Brackwater"])

    assert 1 == status
    assert 'Name another place with "--diary"' in capsys.readouterr().err


OTHER = """
import sys
from tourstats.diary import opened
with opened(sys.argv[1]) as book:
    book.add_song("Tin Rook")
"""


def test_what_another_program_saves_while_a_first_file_is_read_stays(path):
    """
    A reading that ends with a question takes nothing away, and one that ends well does not write over it.
    """
    with pytest.raises(DiaryProblem, match="a question"), begun(path):  # noqa: PT012  # the block is what is tried
        subprocess.run([sys.executable, "-c", OTHER, str(path)], check=True)
        raise DiaryProblem("a question is open")
    with opened(path) as book:
        assert ["Tin Rook"] == book.songs().song.tolist()
    path.unlink()

    with pytest.raises(DiaryProblem, match="Another program began"), begun(path) as book:  # noqa: PT012  # as above
        book.add_song("Ferry")
        subprocess.run([sys.executable, "-c", OTHER, str(path)], check=True)
    with opened(path) as book:
        assert ["Tin Rook"] == book.songs().song.tolist()
    with begun(path) as book:
        book.add_song("Ferry")
    with opened(path) as book:
        assert ["Tin Rook", "Ferry"] == book.songs().song.tolist()
    assert ["backups", "diary.sqlite"] == sorted(each.name for each in path.parent.iterdir())


def test_a_diary_that_gets_nothing_does_not_begin(path):
    """
    Nothing was written, so there is none, nor a trace of one.
    """
    with begun(path) as book:
        book.songs()

    assert [] == list(path.parent.iterdir())


def test_an_export_that_fails_leaves_the_earlier_one(book, fill, tmp_path, monkeypatch):
    """
    A disk that is full in the middle: every file of the earlier export is as it was, and no half one is beside it.
    """
    folder = tmp_path / "out"
    export(folder, book)
    (folder / "own.txt").write_text("mine")
    before = {each.name: each.read_bytes() for each in folder.iterdir()}
    fill(book)
    left = [5]

    def full(_):
        left[0] -= 1
        if not left[0]:
            raise OSError(28, "No space left on device")

    monkeypatch.setattr("os.fsync", full)
    with pytest.raises(DiaryProblem, match="No space left"):
        export(folder, book)

    assert before == {each.name: each.read_bytes() for each in folder.iterdir()}
    assert not [each.name for each in tmp_path.iterdir() if each.name.startswith(".out")]
    monkeypatch.undo()
    export(folder, book)
    assert "Ferry" in (folder / "songs.csv").read_text(encoding="utf-8-sig")
    assert "mine" == (folder / "own.txt").read_text()


def test_whoever_comes_in_is_hashed_at_the_door(tmp_path, path):
    """
    Also from a folder of tables; letter case and spaces make no other person, and no address is anywhere in the file.
    """
    folder = tmp_path / "tables"
    folder.mkdir()
    (folder / "shows.csv").write_text("show_id,date,city\n1,2031-03-04,Brackwater\n2,2031-03-06,Fennick\n")
    (folder / "attendance.csv").write_text("person,show_id\nOla@Example.org,1\n ola@example.org,2\n4006381333931,1\n")
    assert 0 == cli.main(["--diary", str(path), "intake", str(folder)])
    with opened(path) as book:
        people = book.attendance()
        again = book.add_attendance(pd.DataFrame({"person": ["OLA@example.org  "], "show_id": [2]}))

    assert 2 == people.person.nunique()
    assert all(map(is_hash, people.person))
    assert 0 == again
    few = tmp_path / "people.csv"
    few.write_text("person,show_id\nBo Vane,1\n Ivo@Example.org,2\n")
    assert 0 == cli.main(["--diary", str(path), "intake", str(few), "--accept"])
    with opened(path) as book:
        assert (4, 0) == (book.attendance().person.nunique(), len(book.songs()))
    assert b"xample.org" not in path.read_bytes()
    assert b"4006381333931" not in path.read_bytes()


def test_the_key_for_people_can_be_taken_along(tmp_path, monkeypatch):
    """
    On a new machine the same person is the same again, and a key that was there is kept aside.
    """
    old, new = tmp_path / "old" / "people.key", tmp_path / "new" / "people.key"
    monkeypatch.setenv("TOURSTATS_PEOPLE_KEY", str(old))
    here = hasher()("Ola")
    saved = save_key(tmp_path / "stick.key")
    with pytest.raises(DiaryProblem, match="not there yet"):
        save_key(saved)
    monkeypatch.setenv("TOURSTATS_PEOPLE_KEY", str(new))
    elsewhere = hasher()("Ola")
    take_key(saved)

    assert here == hasher()(" ola ") != elsewhere
    assert 0o600 == new.stat().st_mode & 0o777
    assert 2 == len(list(new.parent.iterdir()))
    with pytest.raises(DiaryProblem, match="no key for people"):
        take_key(Path(__file__))
