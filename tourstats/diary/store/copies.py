"""Copies of the diary: made by themselves, made by hand, checked, and taken back."""

from __future__ import annotations

import os
import re
import shutil
import sqlite3
import warnings
from collections.abc import Sequence
from contextlib import closing
from datetime import datetime
from pathlib import Path

from tourstats.diary.store import file, schema
from tourstats.diary.store.place import where
from tourstats.diary.store.trouble import DiaryProblem, explained
from tourstats.problems import Problem

KEPT = 14
"""How many of the copies that are made by themselves are kept."""

BY_ITSELF = re.compile(r"-\d{4}-\d{2}-\d{2}(-before-version-\d+)?\.sqlite$")


class CopyWarning(UserWarning):
    """The copy of the day could not be made; the change itself was."""


def backup(path: str | os.PathLike[str] | None = None, to: str | os.PathLike[str] | None = None) -> Path:
    """Make a copy of the diary, also while somebody is writing, and return where it is.

    Parameters
    ----------
    path
        The diary; by default as `where` finds it.
    to
        File or folder for the copy; by default the folder `backups` beside the diary. A file that is there is not
        written over.

    Examples
    --------
    >>> from tempfile import TemporaryDirectory
    >>> from tourstats.diary import opened
    >>> with TemporaryDirectory() as folder:
    ...     with opened(f"{folder}/tour.sqlite") as diary:
    ...         number = diary.add_song("Ferry")
    ...     copy = backup(f"{folder}/tour.sqlite", f"{folder}/stick.sqlite")
    ...     copy.name, check(copy)
    ('stick.sqlite', [])

    """
    place = _there(where(path))
    name = f"{place.stem}-{_now()}-by-hand.sqlite"
    target = _folder(place) / name if to is None else Path(to).expanduser()
    if target.is_dir():
        target /= name
    if target.exists():
        raise DiaryProblem(f"There is a file {target} already. Name another one for the copy.")
    with file.connected(place, before_migration) as (db, _):
        _must_be_whole(db, place)
        return _copy(db, target)


def copies(path: str | os.PathLike[str] | None = None) -> list[Path]:
    """List the copies beside the diary, the latest first.

    Examples
    --------
    >>> from tempfile import TemporaryDirectory
    >>> from tourstats.diary import opened
    >>> with TemporaryDirectory() as folder:
    ...     with opened(f"{folder}/tour.sqlite") as diary:
    ...         number = diary.add_song("Ferry")
    ...     made = backup(f"{folder}/tour.sqlite")
    ...     copies(f"{folder}/tour.sqlite") == [made]
    True

    """
    place = where(path)
    found = [copy for copy in _folder(place).glob("*.sqlite") if copy.name.startswith(f"{place.stem}-")]
    days = slice(len(place.stem), len(place.stem) + len("-2031-03-04"))
    return sorted(found, key=lambda copy: (copy.name[days], copy.stat().st_mtime_ns, copy.name), reverse=True)


def restore(copy: str | os.PathLike[str], path: str | os.PathLike[str] | None = None) -> Path | None:
    """Put a copy in the place of the diary, after looking whether the copy is whole.

    What was there is kept as a copy of its own, whatever its state; its path is returned (None if there was nothing).

    Raises
    ------
    DiaryProblem
        If the copy is not there, not whole, or newer than this program, or the diary's place cannot be written; the
        diary is left as it is.

    Examples
    --------
    >>> from tempfile import TemporaryDirectory
    >>> from tourstats.diary import opened
    >>> with TemporaryDirectory() as folder:
    ...     with opened(f"{folder}/tour.sqlite") as diary:
    ...         number = diary.add_song("Ferry")
    ...     aside = restore(backup(f"{folder}/tour.sqlite"), f"{folder}/again.sqlite")
    ...     with opened(f"{folder}/again.sqlite") as diary:
    ...         diary.songs().song.tolist(), aside
    (['Ferry'], None)

    """
    place, source = where(path), _there(Path(copy).expanduser())
    troubles = check(source)
    if troubles:
        raise DiaryProblem(f"{source} was not taken back, since it is not whole. {troubles[0]}")
    if place.is_dir():
        raise DiaryProblem(f"{place} is a folder. Name a file for the diary with `--diary`.")
    try:
        place.parent.mkdir(parents=True, exist_ok=True)
        aside = _set_aside(place)
    except OSError as error:
        raise DiaryProblem(
            f"{source} was not taken back, since {place} or its folder cannot be written ({error.strerror}). "
            "Allow writing there, or name another place with `--diary`."
        ) from error
    with file.read_from(source) as db:
        if aside is None or check(place):
            fresh = _copy(db, place.with_name(f"{place.name}.restored-{os.getpid()}"))
            for tail in ("-wal", "-shm"):
                Path(f"{place}{tail}").unlink(missing_ok=True)
            fresh.replace(place)
        else:
            _write_over(db, place)
    return aside


def check(path: str | os.PathLike[str] | None = None) -> list[str]:
    """Look whether a diary is whole: empty when it is, else a sentence for each thing that is not.

    Nothing is changed: an older file is not migrated, and no file is made.

    Examples
    --------
    >>> check("nowhere.sqlite")
    ['There is no diary at nowhere.sqlite. It is made when you save something for the first time.']

    """
    place = where(path)
    if not place.exists():
        return [f"There is no diary at {place}. It is made when you save something for the first time."]
    try:
        file.look_at(place)
        file.log_belongs(place)
        with file.read_from(place) as db, explained(place):
            return _troubles(db, place)
    except Problem as problem:
        return [str(problem)]


def before_first_change_of_day(db: sqlite3.Connection, path: Path, *, writable: bool = True) -> None:
    """Make the copy of the day, unless there is one or there is nothing in the diary yet.

    A copy that fails does not hold up the change: what was played tonight comes first. It is said as a warning.
    """
    target = _folder(path) / f"{path.stem}-{_now()[:10]}.sqlite"
    if not writable or target.exists():
        return
    filled = "select exists (select 1 from songs) or exists (select 1 from shows) or exists (select 1 from notes)"
    with explained(path):
        if not db.execute(filled).fetchone()[0]:
            return
    try:
        _must_be_whole(db, path)
        _copy(db, target)
        _prune(path)
    except (DiaryProblem, OSError, sqlite3.Error) as error:
        warnings.warn(f"The copy of the day was not made: {error}", CopyWarning, stacklevel=2)


def before_migration(db: sqlite3.Connection, path: Path, version: int) -> None:
    """Make a copy of an older file before it is changed; without the copy there is no change."""
    _copy(db, _folder(path) / f"{path.stem}-{_now()[:10]}-before-version-{version + 1}.sqlite")
    _prune(path)


def forget_rows(db: sqlite3.Connection, people: Sequence[str] | None) -> int:
    """Take attendance out, also of what `undo` could bring back; of these people, or of everybody."""
    if people is None:
        gone = db.execute("delete from attendance").rowcount
        db.execute("delete from was where tbl = 'attendance' and old is not null")
        return int(gone)
    gone = 0
    for person in people:
        gone += db.execute("delete from attendance where person = ?", (person,)).rowcount
        noted = "delete from was where tbl = 'attendance' and json_extract(old, '$.person') = ?"
        db.execute(noted, (person,))
    return gone


def forget_in_copies(path: Path, people: Sequence[str] | None) -> None:
    """Take attendance out of the copies beside the diary, so that none brings it back."""
    for copy in copies(path):
        if check(copy):
            continue  # not a whole diary: kept as it was found
        with explained(copy), closing(sqlite3.connect(copy)) as db:
            db.execute("pragma secure_delete = on")
            if db.execute("pragma user_version").fetchone()[0] > 1:
                forget_rows(db, people)
            else:
                marks = "" if people is None else f" where person in ({', '.join('?' * len(people))})"
                db.execute(f"delete from attendance{marks}", people or ())
            db.commit()


def _troubles(db: sqlite3.Connection, path: Path) -> list[str]:
    troubles = [_damaged(path, row[0]) for row in db.execute("pragma integrity_check(5)") if row[0] != "ok"]
    if troubles:
        return troubles
    version = db.execute("pragma user_version").fetchone()[0]
    if not 1 <= version <= file.newest():
        return [f"The diary {path} has version {version}; this tourstats knows 1 to {file.newest()}."]
    if version == file.newest():
        schema.lacking(db)  # says which table is missing
    troubles += [
        f"The diary {path} has a row in {row[0]} that refers to one missing in {row[2]}. "
        "Take the latest good copy back with `tourstats restore`."
        for row in db.execute("pragma foreign_key_check")
    ]
    gaps = "select show_id, stage from plays group by show_id, stage having max(position) <> count(*) order by 1, 2"
    troubles += [
        f"The {row[1]} set of show {row[0]} has a gap in its positions. Save the set again." for row in db.execute(gaps)
    ]
    return troubles


def _copy(db: sqlite3.Connection, target: Path) -> Path:
    """Copy whole or not at all: under another name first, in one file, then renamed."""
    part = target.with_name(f"{target.name}.part-{os.getpid()}")
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        with explained(target), closing(sqlite3.connect(part)) as copy:
            db.backup(copy)
            copy.execute("pragma journal_mode = delete")
        part.replace(target)
    except OSError as error:
        raise DiaryProblem(f"The copy {target} cannot be written ({error.strerror}).") from error
    finally:
        part.unlink(missing_ok=True)
    return target


def _write_over(db: sqlite3.Connection, place: Path) -> None:
    """Let the copy become the content of the open file, as one change; other notebooks see it at once."""
    with explained(place), closing(sqlite3.connect(place, timeout=file.PATIENCE_S)) as current:
        current.execute("begin immediate")  # waits its turn, or says that the diary is in use
        current.execute("rollback")
        db.backup(current)


def _set_aside(place: Path) -> Path | None:
    """Keep what is there: by SQLite if it can read it, else byte for byte."""
    if not place.exists():
        return None
    target = _free(_folder(place) / f"{place.stem}-{_now()}-set-aside.sqlite")
    if check(place):
        target.parent.mkdir(parents=True, exist_ok=True)
        shutil.copyfile(place, target)
        if Path(f"{place}-wal").exists():
            shutil.copyfile(f"{place}-wal", f"{target}-wal")
        return target
    with file.read_from(place) as db:
        return _copy(db, target)


def _free(target: Path) -> Path:
    """A name that no file has: two restores in one second keep both."""
    number = 1
    free = target
    while free.exists():
        number += 1
        free = target.with_name(f"{target.stem}-{number}{target.suffix}")
    return free


def _prune(path: Path) -> None:
    """Clear away copies of more than the last days, counted by what is in them, whatever a clock says.

    Only whole copies count, and a copy that is not whole is left alone: there is always a whole one left.
    """
    made_alone = [copy for copy in copies(path) if BY_ITSELF.fullmatch(copy.name.removeprefix(path.stem))]
    if len(made_alone) <= KEPT:
        return
    whole = {copy: last for copy in made_alone if (last := _last_change(copy, path)) is not None}
    days = sorted({day for day, _ in whole.values()}, reverse=True)
    for copy, (day, _) in whole.items():
        if len(days) > KEPT and day < days[KEPT - 1]:
            copy.unlink(missing_ok=True)


def _last_change(copy: Path, path: Path) -> tuple[str, int] | None:
    """Day of the latest change in a copy, by its own notes; None if it is not whole."""
    named = copy.name[len(path.stem) + 1 :][: len("2031-03-04")]
    try:
        with closing(sqlite3.connect(f"{copy.absolute().as_uri()}?mode=ro&immutable=1", uri=True)) as db:
            if db.execute("pragma quick_check(1)").fetchone()[0] != "ok":
                return None
            if not db.execute("select 1 from sqlite_schema where name = 'changes'").fetchone():
                return named, 0
            made, number = db.execute("select max(made_at), max(change_id) from changes").fetchone()
            return (str(made)[: len(named)], int(number)) if made else (named, 0)
    except (sqlite3.Error, UnicodeError):
        return None


def _must_be_whole(db: sqlite3.Connection, path: Path) -> None:
    """Refuse to copy what is damaged: a copy is what one falls back on."""
    with explained(path):
        (said,) = db.execute("pragma quick_check(1)").fetchone()
    if said != "ok":
        raise DiaryProblem(_damaged(path, said))


def _damaged(path: Path, said: str) -> str:
    return f"The diary {path} is damaged: {said}. Take the latest good copy back with `tourstats restore`."


def _folder(path: Path) -> Path:
    return path.parent / "backups"


def _there(path: Path) -> Path:
    if not path.exists():
        raise DiaryProblem(f"There is no file {path}. Look at the name; the copies are in the folder `backups`.")
    return path


def _now() -> str:
    return datetime.now().strftime("%Y-%m-%d-%H%M%S")  # noqa: DTZ005  # the clock on the wall
