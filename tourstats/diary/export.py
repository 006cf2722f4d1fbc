"""Every table as a CSV file that is safe to open in a spreadsheet, and back.

A cell whose text starts with = + - @ (or their wide forms), a tab or a line end would be taken for a formula, so an
apostrophe goes before it; one goes before a text that starts with an apostrophe too, so that reading can take exactly
one off again. Files are UTF-8 with a mark, which spreadsheets need to see that they are.
"""

from __future__ import annotations

import csv
import os
import tempfile
from collections.abc import Mapping, Sequence
from pathlib import Path

import numpy as np
import pandas as pd

from tourstats.diary.book import Diary, opened
from tourstats.diary.store.trouble import DiaryProblem
from tourstats.diary.taken import TAKERS

GUARD = "'"
GUARDED = ("=", "+", "-", "@", "\t", "\r", "\n", GUARD, "\uff1d", "\uff0b", "\uff0d", "\uff20")
TABLES = tuple(TAKERS)
"""One file each, in the order in which they can be read back. `plays` is what was played, `planned` what was handed
out, `pasted` the texts that sets came from. People are the keyed hashes of the diary; the key is not written."""


def export(folder: str | os.PathLike[str], diary: Diary | str | os.PathLike[str] | None = None) -> list[Path]:
    """Write every table of the diary as a CSV file and return the files.

    Parameters
    ----------
    folder
        Where to; made if it is not there. The tables of an earlier export there are replaced once all of the new ones
        are written, and other files stay; if the disk is full, the earlier export stays.
    diary
        An open diary, or the path of one; by default as `where` finds it.

    Raises
    ------
    DiaryProblem
        If the folder cannot be written.

    Examples
    --------
    >>> from tempfile import TemporaryDirectory
    >>> with TemporaryDirectory() as folder, opened(f"{folder}/tour.sqlite") as diary:
    ...     number = diary.add_song("Ferry", tempo_bpm=96)
    ...     files = export(f"{folder}/out", diary)
    ...     files[0].name, files[0].read_text(encoding="utf-8-sig").splitlines()[1]
    ('songs.csv', 'Ferry,,active,,no,96.0,,,,,,,,,,,,,')

    """
    if not isinstance(diary, Diary):
        with opened(diary, make=False) as book:
            return export(folder, book)
    with diary.one_moment():
        frames = {name: diary.plays("planned") if name == "planned" else getattr(diary, name)() for name in TABLES}
    target = Path(folder).expanduser()
    try:
        return _into(target, frames)
    except OSError as error:
        raise DiaryProblem(
            f"The folder {target} cannot be written ({error.strerror}). Name another one, or make room; what was there "
            "is as it was."
        ) from error


def _into(target: Path, frames: Mapping[str, pd.DataFrame]) -> list[Path]:
    """Write everything beside the folder first; only what is whole takes its name."""
    target.parent.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(dir=target.parent, prefix=f".{target.name}-") as aside:
        fresh = Path(aside) / "tables"
        fresh.mkdir()
        made = [_write(frame, fresh / f"{name}.csv") for name, frame in frames.items()]
        if target.exists():
            return [each.replace(target / each.name) for each in made]
        fresh.rename(target)
        return [target / each.name for each in made]


def import_tables(folder: str | os.PathLike[str], diary: Diary) -> dict[str, int]:
    r"""Read a folder that `export` wrote into an empty diary, as one change.

    Parameters
    ----------
    folder
        Holds some or all of the files; each may be left out if no other refers to it.
    diary
        An open diary with no songs, shows, venues or notes.

    Returns
    -------
    dict
        How many rows came from each file.

    Raises
    ------
    Problem
        Names the file, row and value that is wrong; nothing is written then.

    Examples
    --------
    >>> from tempfile import TemporaryDirectory
    >>> with TemporaryDirectory() as folder, opened(f"{folder}/tour.sqlite") as diary:
    ...     kept = (Path(folder) / "songs.csv").write_text("song,tempo_bpm\nFerry,96\n", encoding="utf-8")
    ...     import_tables(folder, diary)
    {'songs': 1}

    """
    source = Path(folder).expanduser()
    tables = {name: _read(source / f"{name}.csv") for name in TABLES if (source / f"{name}.csv").is_file()}
    if not tables:
        raise DiaryProblem(f"There are no tables in {source}. Name the folder that an export was written to.")
    diary.take_tables(tables, words=f"the tables of {source.name}")
    return {name: len(rows) for name, rows in tables.items()}


def guarded(text: str) -> str:
    """Put the guard before text that a spreadsheet would take for a formula.

    Examples
    --------
    >>> guarded("=1+1"), guarded("'Tis Late"), guarded("Ferry")
    ("'=1+1", "''Tis Late", 'Ferry')

    """
    return f"{GUARD}{text}" if text.startswith(GUARDED) else text


def unguarded(text: str) -> str:
    """Take one guard off.

    Examples
    --------
    >>> unguarded("'=1+1"), unguarded("''Tis Late"), unguarded("Ferry")
    ('=1+1', "'Tis Late", 'Ferry')

    """
    return text.removeprefix(GUARD)


def _write(frame: pd.DataFrame, target: Path) -> Path:
    cells = [[_cell(value) for value in frame[name].tolist()] for name in frame.columns]
    with target.open("w", encoding="utf-8-sig", newline="") as file:
        writer = csv.writer(file)
        writer.writerow(frame.columns)
        writer.writerows(zip(*cells, strict=True))
        file.flush()
        os.fsync(file.fileno())
    return target


def _cell(value: object) -> str:
    if isinstance(value, str):
        return guarded(value)
    if pd.isna(value):
        return ""
    if isinstance(value, bool | np.bool_):
        return "yes" if value else "no"
    if isinstance(value, pd.Timestamp):
        return str(value.date().isoformat())
    return str(value)


def _read(source: Path) -> list[dict[str, str]]:
    """Rows of a file as text; a cell that is not there is empty."""
    csv.field_size_limit(2**31 - 1)  # a remark may be long
    try:
        with source.open(encoding="utf-8-sig", newline="") as file:
            head, *rows = list(csv.reader(file)) or [[]]
    except (OSError, UnicodeDecodeError, csv.Error) as error:
        raise DiaryProblem(
            f"{source} cannot be read as a table ({error}). Save it as CSV in UTF-8 with commas, as it was exported."
        ) from error
    return [_named(head, row) for row in rows if any(row)]


def _named(head: Sequence[str], row: Sequence[str]) -> dict[str, str]:
    padded = [*row, *[""] * (len(head) - len(row))]
    return {name.strip(): unguarded(cell) for name, cell in zip(head, padded, strict=False)}
