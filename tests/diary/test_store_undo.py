"""Changes are whole, nest, and can be taken back one by one."""

import random
import sqlite3
from contextlib import suppress

import pandas as pd
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.diary.reads import assert_same
from tourstats.diary import DiaryProblem, backup, opened
from tourstats.diary.store.changes import KEPT_CHANGES
from tourstats.diary.store.schema import KEYS
from tourstats.problems import Problem


def any_change(diary, dice):
    """Make one change of some kind."""
    titles, shows = diary.songs().song.tolist(), diary.shows().show_id.tolist()
    if len(titles) < 3 or not shows:
        return
    song, other, show_id = dice.choice(titles), dice.choice(titles), dice.choice(shows)
    number = dice.randrange(10**6)
    kinds = [
        lambda: diary.add_song(f"Song {number}", minutes=dice.uniform(1, 9)),
        lambda: diary.add_show("2031-05-01", f"Town {number}", venue=f"Hall {number % 3}", room="club"),
        lambda: diary.write_set(
            show_id, dice.sample(titles, 3), dice.choice(["planned", "played"]), pasted=f"{number}"
        ),
        lambda: diary.add_review(show_id, dice.sample(titles, 2)),
        lambda: diary.add_mistake(show_id, song, "entry", dice.choice([1, 2, 3])),
        lambda: diary.add_rehearsal(song, "kit", "2031-05-01", minutes=dice.uniform(1, 9)),
        lambda: diary.add_note(f"note {number}", about="show", show_id=show_id),
        lambda: diary.add_note(f"note {number}", song=song, show_id=show_id),
        lambda: diary.add_note(f"note {number}", about="venue", venue="The Old Mill"),
        lambda: diary.write_set(
            show_id, dice.sample(titles, 3), "played", remarks=[f"{number}", None, ""], segues=[True, False, False]
        ),
        lambda: diary.add_worked(show_id, song, f"{number}", at_s=dice.uniform(0, 9000)),
        lambda: diary.set_sections(song, [{"name": "intro", "bars": dice.randrange(1, 9)}, {"name": "coda"}]),
        lambda: diary.set_measured(show_id, [{"position": 1, "tempo_bpm": dice.uniform(60, 200), "drift": -0.1}]),
        lambda: diary.add_attendance(pd.DataFrame({"person": [f"{number:032x}"], "show_id": [show_id]}), hashed=True),
        lambda: diary.start_level(show_id, f"{number}"),
        lambda: diary.add_counts(max(shows), 10, min(shows), number % 10),
        lambda: diary.change_song(song, tempo_bpm=dice.uniform(60, 200), song=f"Song {number}"),
        lambda: diary.change_venue("The Old Mill", room=dice.choice(["club", "arena"]), city=f"Town {number}"),
        lambda: diary.change_show(show_id, city=f"Town {number}", venue=dice.choice([None, "The Old Mill"])),
        lambda: diary.merge_songs(song, other),
        lambda: diary.remove_show(show_id),
        lambda: diary.remove_review(show_id, titles),
    ]
    with suppress(Problem):  # a kind that does not fit just now
        dice.choice(kinds)()


@pytest.mark.parametrize("seed", range(3))
def test_undo_leads_back_step_by_step(path, fill, seed):
    """
    Whatever was changed, undoing gives exactly the tables that were there before, back to the empty diary.
    """
    dice = random.Random(seed)  # noqa: S311  # a game of changes
    with opened(path) as book:
        states, words = [book.read()], []
        fill(book)
        while book.undoable():
            book.undo()
        assert_same(states[0], book.read())

        with book.atomic("a start"):
            fill(book)
        for _ in range(40):
            before = book.read()
            called = book.undoable()
            any_change(book, dice)
            if book.store.db.execute("select count(*) from changes").fetchone()[0] > len(words) + 1:
                states.append(before)
                words.append(called)
        for before, called in zip(reversed(states[1:]), reversed(words), strict=True):
            book.undo()
            assert_same(before, book.read())
            assert called == book.undoable()
        assert "Undone: a start." == book.undo()
        assert_same(states[0], book.read())
        assert [] == book.pasted().text.tolist()
    assert len(words) > 15


def every_cell(diary):
    """Everything that the file holds, keys and what no frame shows included."""
    sql = "select * from {} order by 1"
    return {table: [tuple(row) for row in diary.store.select(sql.format(table))] for table in KEYS}


def changes(diary):
    """How many changes can be undone."""
    return diary.store.select("select count(*) from changes").fetchone()[0]


@settings(max_examples=15, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(seeds=st.lists(st.integers(0, 10**6), min_size=1, max_size=12))
def test_as_many_undos_as_changes_give_back_every_cell(tmp_path_factory, fill, seeds):
    """
    A law: any sequence of changes, followed by as many undos, leaves every table as it was, cell for cell.
    """
    with opened(tmp_path_factory.mktemp("law") / "diary.sqlite") as book:
        with book.atomic("a start"):
            fill(book)
        states = []
        for seed in seeds:
            before, there = every_cell(book), changes(book)
            any_change(book, random.Random(seed))  # noqa: S311  # a game of changes
            if changes(book) > there:
                states.append(before)
            else:
                assert before == every_cell(book)
        for before in reversed(states):
            book.undo()
            assert before == every_cell(book)
        assert "a start" == book.undoable()


def test_undo_says_what_it_took_back(book, fill):
    """
    Each change has words of its own; a change is taken back once, then the one before it.
    """
    fill(book)
    said = []
    while book.undoable():
        said.append(book.undo())

    assert [
        "Undone: the new level from 2031-03-06 in Fennick.",
        "Undone: the count of people at 2031-03-06 in Fennick.",
        "Undone: the attendance.",
        "Undone: the note on show 1.",
        'Undone: the note on the transition "Ferry" to "Tin Rook".',
        'Undone: the note on "Ferry".',
        'Undone: the mistake in "Ferry" at 2031-03-04 in Brackwater.',
        "Undone: the reviews of 2031-03-04 in Brackwater.",
        'Undone: the rehearsal of "Ferry" on 2031-03-03.',
        "Undone: the played set of 2031-03-06 in Fennick (1 song).",
        "Undone: the played set of 2031-03-04 in Brackwater (3 songs).",
        "Undone: the planned set of 2031-03-04 in Brackwater (2 songs).",
        "Undone: the new show 2031-03-06 in Fennick.",
        "Undone: the new show 2031-03-04 in Brackwater.",
        'Undone: the venue "The Old Mill".',
        'Undone: the new song "Tin Rook".',
        'Undone: the new song "Copper Wire".',
        'Undone: the new song "Ferry".',
    ] == said
    assert "There is nothing to undo." == book.undo()


def test_undo_works_after_closing(path):
    """
    The last change can be taken back tomorrow too.
    """
    with opened(path) as book:
        book.add_song("Ferry", tempo_bpm=0.1 + 0.2)
        book.change_song("Ferry", tempo_bpm=90)
    with opened(path) as book:
        book.undo()

        assert [0.1 + 0.2] == book.songs().tempo_bpm.tolist()


def test_a_block_is_one_change(book):
    """
    Several calls in one block are undone together and named after the first, unless the block says what it is.
    """
    with book.atomic():
        book.add_song("Ferry")
        book.add_song("Tin Rook")
        book.add_song("Salt Road")
    assert 'the new song "Ferry" and 2 more changes' == book.undoable()

    with book.atomic("two songs of the new record"):
        book.add_song("Lantern")
        book.add_song("Low Trough")

    assert "Undone: two songs of the new record." == book.undo()
    assert 3 == len(book.songs())


def test_a_block_that_fails_leaves_nothing(book):
    """
    After any error the diary is as before, and the error that is seen is the first one.
    """
    with pytest.raises(ZeroDivisionError), book.atomic():  # noqa: PT012  # the block is what fails
        book.add_song("Ferry")
        _ = 1 / 0

    assert 0 == len(book.songs())
    assert book.undoable() is None


def test_an_inner_block_fails_alone(book):
    """
    What failed inside is taken back, what was done around it is kept, and the words are of what was kept.
    """
    with book.atomic():
        book.add_song("Ferry")
        with suppress(ZeroDivisionError), book.atomic("a slip"):
            book.add_song("Tin Rook")
            _ = 1 / 0
        book.add_song("Salt Road")

    assert ["Ferry", "Salt Road"] == book.songs().song.tolist()
    assert 'the new song "Ferry" and 1 more change' == book.undoable()


def test_cleaning_up_never_hides_the_first_error(book):
    """
    When SQLite has given the transaction up by itself, the error that led there is still the one that is raised.
    """
    with pytest.raises(ZeroDivisionError), book.atomic():  # noqa: PT012  # the block is what fails
        book.add_song("Ferry")
        book.store.db.execute("rollback")  # as SQLite does by itself when the disk is full
        _ = 1 / 0


def test_the_second_half_of_a_lost_change_is_not_saved_alone(book):
    """
    When SQLite gave the change up inside a block and the error was passed over, the rest is refused.
    """
    with pytest.raises(DiaryProblem, match="given up after an error of the disk"), book.atomic():  # noqa: PT012  # as above
        book.add_song("Ferry")
        with suppress(sqlite3.Error, DiaryProblem), book.atomic():
            book.store.db.execute("rollback")  # as SQLite does by itself when the disk is full
        book.add_song("Tin Rook")

    assert 0 == len(book.songs())


@pytest.mark.parametrize("more", ["", "insert into songs (song) values ('Tin Rook')"])
def test_a_lost_change_is_said_at_its_end_at_the_latest(book, more):
    """
    Passing over the disk's error and going on, or doing nothing more, ends in a sentence; nothing is saved.
    """
    with pytest.raises(DiaryProblem, match="given up after an error"), book.atomic():  # noqa: PT012  # as above
        book.add_song("Ferry")
        book.store.db.execute("rollback")
        if more:
            book.store.write(more)

    assert 0 == len(book.songs())
    assert book.undoable() is None


def test_a_change_that_changes_nothing_is_no_change(book):
    """
    Reviewing the same song again leaves the change before it to be undone.
    """
    book.add_song("Ferry")
    show_id = book.add_show("2031-03-04", "Brackwater")
    book.add_review(show_id, "Ferry", listening=2)
    book.add_note("loud", song="Ferry")
    book.add_review(show_id, "Ferry", listening=2)

    assert 'the note on "Ferry"' == book.undoable()


def test_the_log_is_bounded(book):
    """
    The last two hundred changes can be taken back, older ones stand, and their rows are gone from the log.
    """
    book.add_song("Ferry")
    for tempo in range(1, KEPT_CHANGES + 31):
        book.change_song("Ferry", tempo_bpm=tempo)
    rows = book.store.db.execute("select count(*) from was").fetchone()[0]
    undone = 0
    while book.undoable():
        book.undo()
        undone += 1

    assert KEPT_CHANGES == undone == rows
    assert [30] == book.songs().tempo_bpm.tolist()


def test_undo_waits_for_the_end_of_a_change(book):
    """
    Inside a block there is nothing whole to take back yet.
    """
    with book.atomic(), pytest.raises(DiaryProblem, match="Finish it first"):
        book.undo()


def test_the_words_of_a_change_come_from_two_notebooks_in_turn(path):
    """
    Undo takes back the latest change, whoever made it.
    """
    with opened(path) as one, opened(path) as two:
        one.add_song("Ferry")
        two.add_song("Tin Rook")

        assert 'Undone: the new song "Tin Rook".' == one.undo()
        assert 'Undone: the new song "Ferry".' == two.undo()


def test_what_is_forgotten_does_not_come_back(path, fill):
    """
    A person taken out is in no table, no log, no copy, and no byte of the file; there is no undo for it.
    """
    with opened(path) as book:
        first, _ = fill(book)
    copy = backup(path)
    with opened(path) as book:
        person = book.attendance().person[0]
        book.remove_show(first)
        book.undo()
        assert 2 == book.forget("a")
        while book.undoable():
            book.undo()
            assert person not in set(book.attendance().person)
    with opened(copy) as old:
        assert 1 == len(old.attendance())
    for file in path.parent.rglob("*"):
        assert not file.is_file() or person.encode() not in file.read_bytes(), file


def test_everybody_is_forgotten(book, fill):
    """
    Nobody named means everybody.
    """
    fill(book)

    assert 3 == book.forget()
    assert 0 == len(book.attendance())
