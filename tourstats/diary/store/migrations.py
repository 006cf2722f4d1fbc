"""How the file is laid out, as a list of steps that is only ever added to.

Each step is a function that takes the file from version n - 1 to n; SQLite's `user_version` says where a file is. A
step that has been released is never edited: its text, allowed values included, is frozen, and a test holds it.

Keys are whole numbers, so that a renamed song keeps its history. Every change of a row is noted by triggers in `was`
(see `layout` and `changes`), with the row as it was before; that is what `undo` reads. A step is needed for a new table
or for values that are called otherwise from now on; a new column is made by `layout`.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterator

APPLICATION_ID = 0x746F7572
"""Marks a SQLite file as a diary ("tour" in ASCII)."""


def migrate(db: sqlite3.Connection) -> None:
    """Take a file to the newest version, inside the transaction that the caller has begun."""
    (version,) = db.execute("pragma user_version").fetchone()
    for number, step in enumerate(MIGRATIONS[version:], start=version + 1):
        step(db)
        db.execute(f"pragma user_version = {number}")
    db.execute(f"pragma application_id = {APPLICATION_ID}")


def m001_core(db: sqlite3.Connection) -> None:
    """Songs, venues, shows, sets and what was pasted for them, rehearsals, reviews, mistakes, notes, attendance."""
    for part in (_m001_songs, _m001_places, _m001_sets, _m001_practice, _m001_remarks_and_people):
        part(db)


def _m001_songs(db: sqlite3.Connection) -> None:
    """The repertoire."""
    _run(
        db,
        """
        create table songs (
            song_id integer primary key,
            song text not null unique check (song <> ''),
            aliases text,
            status text not null default 'active' check (status in ('active', 'learning', 'retired')),
            since text check (since is date(since, '+0 days')),
            new_release integer not null default 0 check (new_release in (0, 1)),
            tempo_bpm real check (tempo_bpm > 0 and tempo_bpm <= 400),
            minutes real check (minutes > 0 and minutes <= 120),
            starts_by text,
            gear text,
            samples text,
            track text,
            readiness text check (
                readiness in ('charted', 'heard', 'tapped', 'memorised', 'on the kit', 'show-ready')),
            watch text
        ) strict;
        """,
    )


def _m001_places(db: sqlite3.Connection) -> None:
    """Venues and shows."""
    _run(
        db,
        """
        create table venues (
            venue_id integer primary key,
            venue text not null unique check (venue <> ''),
            city text,
            room text check (room in ('theatre', 'arena', 'club', 'festival', 'studio', 'other'))
        ) strict;
        create table shows (
            show_id integer primary key,
            date text not null check (date is date(date, '+0 days')),
            number integer not null default 1 check (number >= 1),
            leg text,
            venue_id integer references venues (venue_id),
            city text,
            room text check (room in ('theatre', 'arena', 'club', 'festival', 'studio', 'other')),
            set_minutes real check (set_minutes > 0),
            recording text
        ) strict;
        create unique index shows_once on shows (date, coalesce(city, ''), number);
        create index shows_venue on shows (venue_id);
        """,
    )


def _m001_sets(db: sqlite3.Connection) -> None:
    """Sets, and what was pasted for them."""
    _run(
        db,
        """
        create table plays (
            play_id integer primary key,
            show_id integer not null references shows (show_id) on delete cascade,
            stage text not null check (stage in ('planned', 'played')),
            position integer not null check (position >= 1),
            song_id integer not null references songs (song_id),
            encore integer not null default 0 check (encore in (0, 1)),
            unique (show_id, stage, position)
        ) strict;
        create index plays_song on plays (song_id);
        create table pasted (
            pasted_id integer primary key,
            show_id integer not null references shows (show_id) on delete cascade,
            stage text not null check (stage in ('planned', 'played')),
            text text not null,
            pasted_at text not null
        ) strict;
        create index pasted_show on pasted (show_id);
        """,
    )


def _m001_practice(db: sqlite3.Connection) -> None:
    """Rehearsals, reviews, and the mistakes found in them."""
    _run(
        db,
        """
        create table rehearsals (
            rehearsal_id integer primary key,
            date text not null check (date is date(date, '+0 days')),
            song_id integer not null references songs (song_id),
            way text not null check (way in ('listen', 'pad', 'kit', 'band')),
            runs integer not null default 1 check (runs >= 1),
            minutes real check (minutes > 0),
            unique (date, song_id, way)
        ) strict;
        create index rehearsals_song on rehearsals (song_id);
        create table reviews (
            review_id integer primary key,
            show_id integer not null references shows (show_id) on delete cascade,
            song_id integer not null references songs (song_id),
            listening integer not null default 1 check (listening in (1, 2)),
            unique (show_id, song_id, listening)
        ) strict;
        create index reviews_song on reviews (song_id);
        create table mistakes (
            mistake_id integer primary key,
            show_id integer not null references shows (show_id) on delete cascade,
            song_id integer not null references songs (song_id),
            kind text,
            section text,
            bar integer check (bar >= 0),
            severity integer not null check (severity in (1, 2, 3)),
            cause text check (cause in ('execution', 'sonic', 'interpretation')),
            said_by text,
            remark text,
            listening integer not null default 1 check (listening in (1, 2))
        ) strict;
        create index mistakes_show on mistakes (show_id);
        create index mistakes_song on mistakes (song_id);
        """,
    )


def _m001_remarks_and_people(db: sqlite3.Connection) -> None:
    """Notes, and who was where."""
    _run(
        db,
        """
        create table notes (
            note_id integer primary key,
            date text check (date is date(date, '+0 days')),
            about text not null default 'song' check (about in ('song', 'changeover', 'room', 'show')),
            song_id integer references songs (song_id),
            next_song_id integer references songs (song_id),
            room text check (room in ('theatre', 'arena', 'club', 'festival', 'studio', 'other')),
            show_id integer references shows (show_id) on delete set null,
            text text not null check (text <> ''),
            personal integer not null default 0 check (personal in (0, 1))
        ) strict;
        create index notes_song on notes (song_id);
        create index notes_next_song on notes (next_song_id);
        create index notes_show on notes (show_id);
        create table attendance (
            attendance_id integer primary key,
            person text not null check (person <> ''),
            show_id integer not null references shows (show_id) on delete cascade,
            unique (show_id, person)
        ) strict;
        """,
    )


def m002_drafts_and_undo(db: sqlite3.Connection) -> None:
    """What was typed but not saved, and what every change replaced; triggers that note it are made by `layout`."""
    _run(
        db,
        """
        create table drafts (
            key text primary key,
            data text not null,
            saved_at text not null
        ) strict;
        create table changes (
            change_id integer primary key,
            words text not null,
            made_at text not null
        ) strict;
        create table was (
            was_id integer primary key,
            change_id integer references changes (change_id) on delete cascade,
            tbl text not null,
            row_id integer not null,
            old text
        ) strict;
        create index was_change on was (change_id);
        """,
    )


def m003_counts_and_levels(db: sqlite3.Connection) -> None:
    """How many came back, as somebody counted, and where a new level of playing starts."""
    _run(
        db,
        """
        create table counts (
            count_id integer primary key,
            show_id integer not null references shows (show_id) on delete cascade,
            people integer not null check (people >= 0),
            earlier integer not null references shows (show_id) on delete cascade,
            came_back integer not null check (came_back >= 0),
            unique (show_id, earlier)
        ) strict;
        create index counts_earlier on counts (earlier);
        create table levels (
            level_id integer primary key,
            show_id integer not null unique references shows (show_id) on delete cascade,
            remark text
        ) strict;
        """,
    )


_FINDINGS = """
        create table worked (
            worked_id integer primary key,
            show_id integer not null references shows (show_id) on delete cascade,
            song_id integer not null references songs (song_id),
            section text,
            bar integer check (bar >= 0),
            remark text,
            at_s real check (at_s >= 0)
        ) strict;
        create index worked_show on worked (show_id);
        create index worked_song on worked (song_id);
        create table sections (
            section_id integer primary key,
            song_id integer not null references songs (song_id) on delete cascade,
            position integer not null check (position >= 1),
            name text not null check (name <> ''),
            bars integer check (bars >= 1),
            feel text,
            leads text,
            cue text,
            hits text,
            unique (song_id, position)
        ) strict;
        create table measured (
            measured_id integer primary key,
            show_id integer not null references shows (show_id) on delete cascade,
            position integer not null check (position >= 1),
            start_s real check (start_s >= 0),
            end_s real check (end_s >= 0),
            sure integer not null default 0 check (sure in (0, 1)),
            tempo_bpm real check (tempo_bpm > 0 and tempo_bpm <= 400),
            drift real,
            unsteadiness real check (unsteadiness >= 0),
            tempo_sure integer not null default 0 check (tempo_sure in (0, 1)),
            loudness real,
            unique (show_id, position)
        ) strict;
        """
"""Tables of what worked, of a song's sections, and of what a recording says."""


def m004_words_and_findings(db: sqlite3.Connection) -> None:
    """The trade's words for readiness, cause and transition; what worked, a song's shape, what a recording says."""
    for table in ("songs", "mistakes", "notes"):  # renaming is no change that could be undone
        for moment in ("insert", "update", "delete"):
            db.execute(f"drop trigger if exists {table}_{moment}_noted")
    ladder = ("on paper", "by ear", "by hand", "by heart", "at the kit", "show-ready")
    _respelt(db, "songs", "readiness text", ladder, {"charted": "on paper", "heard": "by ear", "tapped": "by hand",
                                                     "memorised": "by heart", "on the kit": "at the kit"})  # fmt: skip
    causes = {"execution": "playing", "sonic": "sound", "interpretation": "feel"}
    _respelt(db, "mistakes", "cause text", tuple(causes.values()), causes)
    about = ("song", "transition", "room", "venue", "show")
    _respelt(db, "notes", "about text not null default 'song'", about, {"changeover": "transition"})
    _run(db, _FINDINGS)


def m005_kept_of_recordings(db: sqlite3.Connection) -> None:
    """What is kept of a recorded performance to hold the next one against: bulk that no table of `tables` carries."""
    db.execute("alter table measured add column kept text")


def m006_tested(db: sqlite3.Connection) -> None:
    """What was asked of a song's shape, and whether it was known."""
    _run(
        db,
        """
        create table tested (
            tested_id integer primary key,
            song_id integer not null references songs (song_id) on delete cascade,
            date text not null check (date is date(date, '+0 days')),
            asked text not null check (asked <> ''),
            known integer not null check (known in (0, 1))
        ) strict;
        create index tested_song on tested (song_id);
        """,
    )


def m007_set_out(db: sqlite3.Connection) -> None:
    """What is set out before doors, and what was ticked off before a show."""
    _run(
        db,
        """
        create table things (
            thing_id integer primary key,
            thing text not null unique check (thing <> ''),
            who text,
            spare text,
            remark text
        ) strict;
        create table ticks (
            tick_id integer primary key,
            show_id integer not null references shows (show_id) on delete cascade,
            thing text not null check (thing <> ''),
            unique (show_id, thing)
        ) strict;
        """,
    )


def m008_settings(db: sqlite3.Connection) -> None:
    """Figures that a person chooses, such as how much more a mistake weighs that others heard."""
    _run(
        db,
        """
        create table settings (
            setting_id integer primary key,
            setting text not null unique,
            figure real not null check (figure > 0 and figure <= 100)
        ) strict;
        """,
    )


MIGRATIONS: tuple[Callable[[sqlite3.Connection], None], ...] = (
    m001_core,
    m002_drafts_and_undo,
    m003_counts_and_levels,
    m004_words_and_findings,
    m005_kept_of_recordings,
    m006_tested,
    m007_set_out,
    m008_settings,
)
"""Every step, in order; a file's version is how many of them it has had."""


def _respelt(db: sqlite3.Connection, table: str, column: str, allowed: tuple[str, ...], now: dict[str, str]) -> None:
    """Let a column have other words, in the rows and in what `undo` would bring back; SQLite edits no check."""
    name, _, kind = column.partition(" ")
    words = ", ".join(f"'{word}'" for word in allowed)
    db.execute(f"alter table {table} add column {name}_now {kind} check ({name}_now in ({words}))")
    cases = " ".join(f"when '{old}' then '{new}'" for old, new in now.items())
    db.execute(f"update {table} set {name}_now = case {name} {cases} else {name} end")
    db.execute(f"alter table {table} drop column {name}")
    db.execute(f"alter table {table} rename column {name}_now to {name}")
    for old, new in now.items():
        db.execute(
            f"update was set old = json_set(old, '$.{name}', '{new}') "
            f"where tbl = '{table}' and json_extract(old, '$.{name}') = '{old}'"
        )


def _run(db: sqlite3.Connection, script: str) -> None:
    """Run statement by statement; sqlite3's own executescript would commit first."""
    for statement in _statements(script):
        db.execute(statement)


def _statements(script: str) -> Iterator[str]:
    pending = ""
    for line in script.splitlines(keepends=True):
        pending += line
        if pending.strip() and sqlite3.complete_statement(pending):
            yield pending.strip()
            pending = ""
