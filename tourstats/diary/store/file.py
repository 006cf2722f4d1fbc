"""Opening the file: looked at first, so that what is not a diary of ours is left byte for byte as it is."""

from __future__ import annotations

import os
import shutil
import sqlite3
import struct
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path

from tourstats.diary.store import migrations, schema
from tourstats.diary.store.trouble import SENTENCES, UNFIT, DiaryProblem, explained

PATIENCE_S = 15.0
"""How long a change waits for another program that is writing."""

COPY_ATTEMPTS = 20
LOOKS = 5
HEADER_BYTES = 100
MAGIC = b"SQLite format 3\0"


@dataclass(frozen=True)
class Header:
    """What the first hundred bytes of a SQLite file say of it."""

    page_bytes: int
    pages: int
    version: int
    application_id: int


def newest() -> int:
    """Version of the files that this program writes."""
    return len(migrations.MIGRATIONS)


def look_at(path: Path) -> int:
    """Read the version from a file's first bytes; 0 when there is no file yet.

    Raises
    ------
    DiaryProblem
        If the file is something else, is cut short, or comes from a newer program. Nothing is written or locked.

    """
    for _ in range(LOOKS - 1):
        with suppress(DiaryProblem):
            return _look(path)
        time.sleep(0.03)  # somebody may be making it or emptying its log at this moment
    return _look(path)


def _look(path: Path) -> int:
    try:
        size = path.stat().st_size
        with path.open("rb") as file:
            start = file.read(HEADER_BYTES)
    except FileNotFoundError:
        return 0
    except OSError as error:
        raise DiaryProblem(f"The diary {path} cannot be read ({error.strerror}). Allow reading it, or name another "
                           "file with `--diary`.") from error  # fmt: skip
    if size == 0:
        return 0
    if not start.startswith(MAGIC):
        raise DiaryProblem(SENTENCES["SQLITE_NOTADB"].format(path=path))
    header = _header(start, path)
    if _has_log(path):
        return header.version  # the log may hold newer pages; SQLite will put them together
    if size < header.page_bytes * header.pages:
        raise _cut_short(path)
    being_made = header.version == header.application_id == 0 and header.pages <= 1  # no table of anybody's
    if header.application_id != migrations.APPLICATION_ID and not being_made:
        raise _not_a_diary(path)
    _not_newer(header.version, path)
    return header.version


@contextmanager
def connected(path: Path, before_migration: Callable[[sqlite3.Connection, Path, int], None],
              patience_s: float = PATIENCE_S) -> Iterator[tuple[sqlite3.Connection, bool]]:  # fmt: skip
    """Open a diary at the newest version, made or migrated if need be; gives it and whether it may be written.

    Parameters
    ----------
    path
        Where it is.
    before_migration
        Called with the connection, the path and the version it has, before an older file is changed.
    patience_s
        How long to wait for another program that is writing.

    """
    look_at(path)
    log_belongs(path)
    if path.exists() and not (_may_write(path) and _may_write(path.parent)):
        with _copied_aside(path) as copy, _opened(copy, patience_s) as db:
            _bring_up(db, copy, lambda *_: None)
            db.execute("pragma query_only = on")
            yield db, False
        return
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise DiaryProblem(
            f"The folder of the diary {path} cannot be made ({error.strerror}). Name another place with `--diary`."
        ) from error
    with _opened(path, patience_s) as db:
        _bring_up(db, path, before_migration)
        yield db, True


def log_belongs(path: Path) -> None:
    """Refuse a file beside which another file's log is: put together they would be neither.

    Both are looked at in a copy, with the log and without.
    """
    if not (path.exists() and _has_log(path)):
        return
    with _copied_aside(path) as copy:
        if not _has_log(copy) or _whole(copy):
            return
    with _copied_aside(path) as copy:
        Path(f"{copy}-wal").unlink(missing_ok=True)
        if _whole(copy):
            raise DiaryProblem(
                f"Beside the diary {path} is a log, {path.name}-wal, that does not fit it: it may belong to another "
                "file of that name. Move the log away if so, then try again; both were left as they are."
            )


def _whole(path: Path) -> bool:
    """Whether a file is a diary whose pages fit together; for a copy that nobody else uses."""
    try:
        with closing(sqlite3.connect(path)) as db:
            ours = db.execute("pragma application_id").fetchone()[0] == migrations.APPLICATION_ID
            return bool(ours and db.execute("pragma quick_check(1)").fetchone()[0] == "ok")
    except (sqlite3.Error, *UNFIT):
        return False


@contextmanager
def read_from(path: Path) -> Iterator[sqlite3.Connection]:
    """Open a file as it is, at whatever version, from a copy: neither it nor its folder is touched."""
    with _copied_aside(path) as copy, explained(path), closing(sqlite3.connect(copy, isolation_level=None)) as db:
        yield db


@contextmanager
def _opened(path: Path, patience_s: float) -> Iterator[sqlite3.Connection]:
    with explained(path):
        db = sqlite3.connect(path, timeout=patience_s, isolation_level=None)
    try:
        db.row_factory = sqlite3.Row
        with explained(path):
            _write_ahead(db, patience_s)
            db.execute("pragma synchronous = full")  # a change that was acknowledged survives a power cut
            db.execute("pragma foreign_keys = on")
            db.execute("pragma cell_size_check = on")  # a page that is damaged says so, instead of being believed
            db.execute("pragma secure_delete = on")  # what is forgotten is gone from the file too
        yield db
    finally:
        db.close()


def _write_ahead(db: sqlite3.Connection, patience_s: float) -> None:
    """Turn the write-ahead log on; two programs that make the file at once take turns, which SQLite leaves to us."""
    last = time.monotonic() + patience_s
    while True:
        try:
            db.execute("pragma journal_mode = wal")
        except sqlite3.OperationalError as error:
            if "SQLITE_BUSY" not in getattr(error, "sqlite_errorname", "") or time.monotonic() > last:
                raise
            time.sleep(0.02)
        else:
            return


def _bring_up(db: sqlite3.Connection, path: Path,
              before_migration: Callable[[sqlite3.Connection, Path, int], None]) -> None:  # fmt: skip
    """Make or migrate the tables, if that is still to be done once it is our turn."""
    with explained(path):
        version = _version(db, path)
        if version == newest() and not schema.lacking(db):
            return
        if version:
            before_migration(db, path, version)
        db.execute("begin immediate")
        try:
            if not _version(db, path) and db.execute("select 1 from sqlite_master").fetchone():
                raise _not_a_diary(path)  # noqa: TRY301  # rolled back below
            migrations.migrate(db)
            for statement in schema.lacking(db):
                db.execute(statement)
            db.execute("commit")
        except BaseException:
            if db.in_transaction:
                db.execute("rollback")
            raise


def _version(db: sqlite3.Connection, path: Path) -> int:
    version = int(db.execute("pragma user_version").fetchone()[0])
    _not_newer(version, path)
    return version


@contextmanager
def _copied_aside(path: Path) -> Iterator[Path]:
    """A copy, log included, to read from where nothing may be written, not even the log's index."""
    with tempfile.TemporaryDirectory(prefix="tourstats-") as folder:
        copy = Path(folder) / path.name
        try:
            for _ in range(COPY_ATTEMPTS):
                before = _marks(path)
                shutil.copyfile(path, copy)
                Path(f"{copy}-wal").unlink(missing_ok=True)
                if _has_log(path):
                    shutil.copyfile(f"{path}-wal", f"{copy}-wal")
                if before == _marks(path):
                    break
                time.sleep(0.02)  # somebody wrote meanwhile: file and log might not fit each other
        except OSError as error:
            raise DiaryProblem(
                f"The diary {path} cannot be read ({error.strerror}). Allow reading it, "
                "or name another file with `--diary`."
            ) from error
        yield copy


def _header(start: bytes, path: Path) -> Header:
    if len(start) < HEADER_BYTES:
        raise _cut_short(path)
    (page_bytes,) = struct.unpack(">H", start[16:18])
    (pages,) = struct.unpack(">I", start[28:32])
    (version,) = struct.unpack(">I", start[60:64])
    (application_id,) = struct.unpack(">I", start[68:72])
    return Header(65536 if page_bytes == 1 else page_bytes, pages, version, application_id)


def _may_write(path: Path) -> bool:
    return os.access(path, os.W_OK, effective_ids=os.access in os.supports_effective_ids)


def _marks(path: Path) -> list[tuple[int, int]]:
    """Times and sizes of the file and its log, which change with every write."""
    both = [each.stat() for each in (path, Path(f"{path}-wal")) if each.exists()]
    return [(each.st_mtime_ns, each.st_size) for each in both]


def _has_log(path: Path) -> bool:
    log = Path(f"{path}-wal")
    return log.exists() and log.stat().st_size > 0


def _cut_short(path: Path) -> DiaryProblem:
    return DiaryProblem(
        f"The diary {path} is cut short: a part of the file is missing. Take the latest good copy back with "
        "`tourstats restore`; this file was left as it is."
    )


def _not_a_diary(path: Path) -> DiaryProblem:
    return DiaryProblem(
        f"{path} is a SQLite file, but not a diary. Name another file with `--diary`; this one was left alone."
    )


def _not_newer(version: int, path: Path) -> None:
    if version > newest():
        raise DiaryProblem(
            f"The diary {path} was written by a newer tourstats (version {version}; this one knows up to {newest()}). "
            "Update tourstats; the file was left alone."
        )
