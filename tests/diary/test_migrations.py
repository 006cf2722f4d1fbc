"""The layout of the file: frozen step by step, true to the tables, and reached from every earlier version."""

import hashlib
import sqlite3

import pytest

from tourstats import tables
from tourstats.diary import DiaryProblem, copies, opened
from tourstats.diary.store.migrations import APPLICATION_ID, MIGRATIONS
from tourstats.diary.store.schema import stored

FROZEN = {
    "m001_core": "f172a007619eeb6e",
    "m002_drafts_and_undo": "c7c1dc7058da243d",
    "m003_counts_and_levels": "4ee6227e8eb2aa03",
    "m004_words_and_findings": "7d247bfb57c74af1",
    "m005_kept_of_recordings": "8e3086b8f743650d",
    "m006_tested": "17c18c5f48fb73a5",
    "m007_set_out": "27fb2a72e70ffddd",
    "m008_settings": "98379b78ad0b368a",
}


class Listener:
    """Stands in for a connection and keeps what is run."""

    def __init__(self):
        self.said = []

    def execute(self, sql):
        """Keep a statement, however it is indented."""
        self.said.append(" ".join(sql.split()))


def at_version(path, version, fill=True):
    """Make a file as a program of that version would have left it, with data in it."""
    path.parent.mkdir(parents=True)
    db = sqlite3.connect(path, isolation_level=None)
    db.execute("pragma journal_mode = wal")
    db.execute("pragma synchronous = off")
    for step in MIGRATIONS[:version]:
        step(db)
    db.execute(f"pragma user_version = {version}")
    db.execute(f"pragma application_id = {APPLICATION_ID}")
    db.execute("insert into songs (song_id, song, tempo_bpm) values (4, 'Ferry', 96.5), (7, 'Tin Rook', null)")
    db.execute("insert into venues (venue_id, venue, city, room) values (2, 'The Old Mill', 'Brackwater', 'club')")
    db.execute(
        "insert into shows (show_id, date, leg, venue_id, city) values (3, '2031-03-04', 'north', 2, 'Brackwater')"
    )
    db.execute("insert into plays (show_id, stage, position, song_id, encore) values (3, 'played', 1, 7, 0)")
    db.execute("insert into plays (show_id, stage, position, song_id, encore) values (3, 'played', 2, 4, 1)")
    db.execute("insert into mistakes (show_id, song_id, kind, severity) values (3, 4, 'entry', 2)")
    db.execute(
        "insert into pasted (show_id, stage, text, pasted_at) values (3, 'played', 'tin rook', '2031-03-04T23:10:00')"
    )
    db.close()


def up_to_date(path, version=1):
    """Make an old file and open it once."""
    at_version(path, version)
    with opened(path):
        pass


def test_released_steps_are_never_edited():
    """
    The list only grows: each step's name and text is held here. A new step adds a line; a changed one is a mistake.
    """
    texts = {}
    for step in MIGRATIONS:
        listener = Listener()
        step(listener)
        texts[step.__name__] = hashlib.sha256("\n".join(listener.said).encode()).hexdigest()[:16]

    assert FROZEN == texts
    assert list(FROZEN) == [step.__name__ for step in MIGRATIONS]


@pytest.mark.parametrize("version", range(1, len(MIGRATIONS)))
def test_every_earlier_version_is_brought_up_to_date(path, version):
    """
    An older file keeps all it holds, can be changed and undone, and was copied before.
    """
    at_version(path, version)
    with opened(path) as book:
        plays, shows, mistakes = book.plays(), book.shows(), book.mistakes()
        book.remove_show(3)
        book.undo()
        same = book.plays().equals(plays)

    assert [("Tin Rook", False), ("Ferry", True)] == list(zip(plays.song, plays.encore, strict=True))
    assert [("club", "north", 3)] == list(zip(shows.room, shows.leg, shows.show_id, strict=True))
    assert [2] == mistakes.severity.tolist()
    assert same
    before = next(copy for copy in copies(path) if f"before-version-{version + 1}" in copy.name)
    db = sqlite3.connect(before)
    assert (version,) == db.execute("pragma user_version").fetchone()
    assert (2,) == db.execute("select count(*) from plays").fetchone()
    db.close()


def test_a_step_that_fails_leaves_the_file_as_it_was(path, monkeypatch):
    """
    Half of a migration is none: the version and the tables are those of before.
    """
    at_version(path, 2)

    def breaks(db):
        db.execute("drop table mistakes")
        db.execute("this is not SQL")

    monkeypatch.setattr("tourstats.diary.store.migrations.MIGRATIONS", (*MIGRATIONS[:2], breaks))
    with pytest.raises(DiaryProblem, match="syntax error"), opened(path):
        pass
    db = sqlite3.connect(path)

    assert (2,) == db.execute("pragma user_version").fetchone()
    assert (1,) == db.execute("select count(*) from mistakes").fetchone()
    db.close()


def test_a_newer_file_is_left_alone(path):
    """
    A file from a newer program is refused before anything is opened or written.
    """
    with opened(path) as book:
        book.add_song("Ferry")
    db = sqlite3.connect(path)
    db.execute(f"pragma user_version = {len(MIGRATIONS) + 1}")
    db.close()
    before = path.read_bytes()

    with pytest.raises(DiaryProblem) as caught, opened(path):
        pass

    assert str(caught.value) == (
        f"The diary {path} was written by a newer tourstats (version {len(MIGRATIONS) + 1}; this one knows up to "
        f"{len(MIGRATIONS)}). Update tourstats; the file was left alone."
    )
    assert before == path.read_bytes()


SMALLEST = {
    "songs": {"song": "Low Trough"},
    "venues": {"venue": "Barn"},
    "shows": {"date": "2031-05-05"},
    "plays": {"show_id": 3, "stage": "planned", "position": 1, "song_id": 4},
    "rehearsals": {"date": "2031-05-05", "song_id": 4, "way": "kit"},
    "reviews": {"show_id": 3, "song_id": 4},
    "mistakes": {"show_id": 3, "song_id": 4, "severity": 1},
    "worked": {"show_id": 3, "song_id": 4},
    "sections": {"song_id": 4, "position": 1, "name": "coda"},
    "measured": {"show_id": 3, "position": 1},
    "tested": {"song_id": 4, "date": "2031-03-04", "asked": "how long is the bridge?", "known": 1},
    "notes": {"about": "song", "text": "loud"},
    "attendance": {"person": "ab", "show_id": 3},
    "counts": {"show_id": 3, "people": 1, "earlier": 3, "came_back": 1},
    "levels": {"show_id": 3},
    "things": {"thing": "spare pack"},
    "ticks": {"show_id": 3, "thing": "spare pack"},
    "settings": {"setting": "heard more", "figure": 2.0},
}


def limits():
    """Every column of the tables that may not hold everything, with values that it may and may not hold."""
    for table in tables.ALL:
        for name, rule in tables.described(table).items():
            good, bad = list(rule.choices), ["nonsense"] if rule.choices and isinstance(rule.choices[0], str) else []
            if rule.choices and not bad:
                bad = [0, max(rule.choices) + 1]
            if rule.over is not None:
                good, bad = [*good, rule.over + 0.5], [*bad, rule.over, rule.over - 1]
            if rule.least is not None:
                good, bad = [*good, int(rule.least)], [*bad, int(rule.least) - 1]
            if rule.most is not None:
                good, bad = [*good, rule.most], [*bad, rule.most + 0.5]
            if rule.kind == "bool":
                good, bad = [0, 1], [2]
            if rule.kind == "day":
                good, bad = ["2031-02-28"], ["2031-02-30", "28.2.2031", "sometime"]
            if bad:
                yield pytest.param(table, stored(table, name), good, bad,
                                   id=f"{table}-{name}")  # fmt: skip


@pytest.mark.parametrize(("table", "column", "good", "bad"), list(limits()))
def test_the_file_itself_refuses_what_the_tables_do_not_allow(path, table, column, good, bad):
    """
    Every limit in the description of the tables is a constraint of the newest file, to the same values.
    """
    up_to_date(path)
    db = sqlite3.connect(path, isolation_level=None)

    def put(value):
        row = {**SMALLEST[table], column: value}
        db.execute("begin")
        try:
            db.execute(f"insert into {table} ({', '.join(row)}) values ({', '.join('?' * len(row))})", [*row.values()])  # noqa: S608  # names of our own tables
        finally:
            db.execute("rollback")

    for value in good:
        put(value)
    for value in bad:
        with pytest.raises(sqlite3.IntegrityError):
            put(value)
    db.close()


def test_the_file_has_every_column_of_the_tables(path):
    """
    No column that the tables describe is missing from the newest file; what has to be filled in is so there.
    """
    up_to_date(path)
    db = sqlite3.connect(path)
    for table in tables.ALL:
        there = {row[1]: bool(row[3]) or bool(row[5]) for row in db.execute(f"pragma table_info({table})")}
        for name, rule in tables.described(table).items():
            mine = stored(table, name)

            assert mine in there, (table, name)
            assert there[mine] is not rule.nullable, (table, name)
    db.close()


@pytest.mark.parametrize(
    "sql",
    [
        "insert into plays (show_id, stage, position, song_id) values (99, 'played', 1, 4)",
        "insert into plays (show_id, stage, position, song_id) values (3, 'played', 9, 99)",
        "insert into shows (date, venue_id) values ('2031-05-05', 99)",
        "delete from songs where song_id = 4",
    ],
)
def test_nothing_refers_to_what_is_not_there(path, sql):
    """
    Foreign keys are on in an opened diary.
    """
    at_version(path, len(MIGRATIONS))
    with opened(path) as book, pytest.raises(DiaryProblem, match="FOREIGN KEY"), book.atomic():
        book.store.write(sql)  # what no method of ours does


def test_a_song_of_the_same_title_is_refused_by_the_file_too(path):
    """
    One title, one song.
    """
    at_version(path, len(MIGRATIONS))
    with opened(path) as book, pytest.raises(DiaryProblem, match="UNIQUE"), book.atomic():
        book.store.write("insert into songs (song) values ('Ferry')")  # what no method of ours does
