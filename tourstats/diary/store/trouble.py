"""What can go wrong with the file itself, each with what to do about it."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from tourstats.problems import Problem


class DiaryProblem(Problem):
    """The diary's file cannot be read or written; the text says what to do."""


SENTENCES: dict[str, str] = {
    "SQLITE_BUSY": (
        "The diary {path} has been in use by another program for too long. "
        "Close the other notebook or wait for it to finish, then try again; nothing was changed."
    ),
    "SQLITE_FULL": (
        "There is no room left on the disk for the diary {path}. Free some space, then try again; "
        "what was saved before is safe, and this change was not made."
    ),
    "SQLITE_READONLY": (
        "The diary {path} may be read but not written. Allow writing to the file and its folder, "
        "or name another diary with `--diary`; this change was not made."
    ),
    "SQLITE_CANTOPEN": (
        "The diary {path} cannot be opened. Look whether its folder is there and may be written, "
        "or name another place with `--diary`."
    ),
    "SQLITE_NOTADB": (
        "{path} is not a diary. Name another file with `--diary`, or take a copy back with `tourstats restore`."
    ),
    "SQLITE_CORRUPT": (
        "The diary {path} is damaged. Take the latest good copy back with `tourstats restore`; "
        "the damaged file is kept beside the copies."
    ),
    "SQLITE_IOERR": (
        "The disk gave an error with the diary {path}. Look whether the disk is full or was taken away, "
        "then try again; this change was not made."
    ),
    "SQLITE_CONSTRAINT": "The diary {path} refused the change: {error}. It was not made.",
}
"""What to say, by the first part of SQLite's own name for the error."""
SENTENCES["SQLITE_LOCKED"] = SENTENCES["SQLITE_BUSY"]
SENTENCES["SQLITE_PERM"] = SENTENCES["SQLITE_READONLY"]

UNREADABLE = (
    "The diary {path} cannot be used as it is ({error}); it may be damaged. Look at it with `tourstats check`, "
    "and take the latest good copy back with `tourstats restore`."
)
"""What to say of any other trouble: a table or a part of one that is missing, a cell that is none."""

UNFIT = (UnicodeError, OverflowError)
"""What Python says of cells that no program of ours wrote."""


@contextmanager
def explained(path: Path) -> Iterator[None]:
    """Turn what SQLite says about the file into a sentence that says what to do."""
    try:
        yield
    except UNFIT as error:
        raise DiaryProblem(UNREADABLE.format(path=path, error=error)) from error
    except sqlite3.Error as error:
        name = getattr(error, "sqlite_errorname", None) or ""
        sentence = next((text for start, text in SENTENCES.items() if name.startswith(start)), UNREADABLE)
        raise DiaryProblem(sentence.format(path=path, error=error)) from error
