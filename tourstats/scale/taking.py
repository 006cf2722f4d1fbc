"""Ticket scans taken in: made anonymous, put in buckets, and kept in a folder beside the diary.

A person is whatever identifies them in the file: a ticket number, an address, the number of a fan club. It becomes a
keyed hash before anything is written; an address with other spaces around it or accents written another way is the
same person. `counting.from_scans` reads the folder. What identifies people is in no message and no table of problems.
"""

from __future__ import annotations

import json
import os
import shutil
import tempfile
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pyarrow as pa

from tourstats import tables
from tourstats.diary.people import key_for
from tourstats.problems import Problem
from tourstats.scale import buckets, siphash
from tourstats.scale.buckets import ABOUT
from tourstats.scale.scan_files import Places, identifiers, matched
from tourstats.scale.scan_problems import Stopped, Trouble

FOR_THE_DIARY = 4_000_000
"""Bytes of the longest list of people that goes into the diary: some hundred thousand rows."""
HEADING = 4096
PREFIX = ".taking-scans-"
NUMBERED, WHICH = "people among scans", "which key"
"""What keys are derived for: the numbers of people, and a mark by which a folder knows its key again."""


@dataclass(frozen=True)
class Taken:
    """What became of a file of scans.

    Attributes
    ----------
    rows
        Scans that were kept, each person and show once; 0 if nothing was written.
    problems
        One row per thing that is wrong: file (str), row (Int64, line of the file, the heading being 1; missing where
        it is the whole file), column, value, problem, todo (str). Never what identifies a person.
    written
        Whether there is a result: not if a file could not be read to its end.

    """

    rows: int
    problems: pd.DataFrame
    written: bool

    def said(self) -> list[str]:
        """What became of it, and a line for each thing that was wrong."""
        kept = f"{self.rows:,} visits of people are kept." if self.written else "Nothing was written."
        rows = self.problems[["file", "row", "value", "problem", "todo"]].itertuples(index=False, name=None)
        return [kept, *(_line(*row) for row in rows)]


def _line(file: str, row: object, value: str, problem: str, todo: str) -> str:
    """One thing that is wrong with a file, as a sentence."""
    at = "" if pd.isna(row) else f", row {row}"
    what = f'"{value}": {problem}' if value else problem
    return f"{file}{at}: {what}.{f' {todo}' if todo else ''}"


def beside(diary: Path) -> Path:
    """Folder of the scans that belong to a diary.

    Examples
    --------
    >>> beside(Path("tours/diary.sqlite")).name
    'diary-scans'

    """
    return diary.with_name(f"{diary.stem}-scans")


def are_scans(path: Path) -> bool:
    """Whether a file is one for here, by what it is: Parquet, or a list too long for the diary that names people.

    Examples
    --------
    >>> are_scans(Path("songs.csv"))
    False

    """
    try:
        with path.open("rb") as file:
            start = file.read(HEADING)
            long = os.fstat(file.fileno()).st_size > FOR_THE_DIARY
    except OSError:
        return False
    heading = start.splitlines()[:1] or [b""]
    return start.startswith(b"PAR1") or (long and b"person" in heading[0] and b"show_id" in heading[0])


def there(folder: str | os.PathLike[str]) -> bool:
    """Whether scans were taken into a folder."""
    return (Path(folder) / ABOUT).is_file()


def take_scans(
    paths: str | os.PathLike[str] | Sequence[str | os.PathLike[str]],
    folder: str | os.PathLike[str],
    shows: pd.DataFrame,
    *,
    person: str = "person",
    show: str = "show_id",
    replace: bool = False,
    add: bool = False,
    progress: bool | None = None,
) -> Taken:
    """Turn files of scans, however long, into a folder of buckets that the audience's numbers are counted from.

    Parameters
    ----------
    paths
        CSV or Parquet files, or a folder of them; a row a person and show.
    folder
        Where the buckets go; it must not be there yet, unless `replace` or `add` is said.
    shows
        Shows of the diary.
    person, show
        Columns that identify the person and the show. A show is its number, or its day where there was one show only.
    replace
        Put the new buckets in the place of older ones, once they are whole.
    add
        Put them together with older ones, once they are whole; what both hold counts once.
    progress
        Show a bar; if not said, where there is a terminal.

    Returns
    -------
    Taken
        Rows that cannot be used are left out and listed. If a file cannot be read to its end, nothing is written.

    Raises
    ------
    Problem
        If the folder is there already, or there is nothing to read; or if what is to be added to was hashed with
        another key.

    Notes
    -----
    The folder appears at once, when all is done: the work is done beside it and then renamed. Interrupting is safe.
    A person is a keyed hash of 64 bits; among five million people, the chance that any two share one is
    one in a million.

    """
    files, target = _files(paths), Path(folder).absolute()
    if target.exists() and not ((replace or add) and there(target)):
        raise Problem(
            f"{target} is there already. Name another folder, or say replace=True if it holds scans that may go."
        )
    old = _kept(target) if add and there(target) else None
    ids, places = _places(shows)
    trouble = Trouble()
    target.parent.mkdir(parents=True, exist_ok=True)
    with _beside(target) as (work, finish):
        width = buckets.bits_for(sum(map(_rows, files)) + (old["rows"] if old else 0))
        try:
            if old:
                _spread_again(target, old["shows"], places, width, work)
            _spread(files, (person, show), places, width, work, trouble, progress)
        except Stopped:
            return Taken(0, trouble.table(), written=False)
        rows, repeated = buckets.finished(work)
        _say_repeated(repeated, trouble, files[0].name if len(files) == 1 else f"{len(files)} files")
        _write_about(work, {"shows": [str(each) for each in ids], "rows": rows, "key": key_for(WHICH)})
        finish()
    return Taken(rows, trouble.table(), written=True)


def forget_scans(folder: str | os.PathLike[str], person: str | None = None) -> int:
    """Take one person out of the buckets, or everybody: then the whole folder goes.

    Parameters
    ----------
    folder
        As `take_scans` made it.
    person
        Whatever identified them in the file; nobody named means everybody.

    Returns
    -------
    int
        How many scans were taken out.

    """
    place = Path(folder)
    if not there(place):
        raise Problem(f"There are no scans in {place}. Name the folder that they were taken into.")
    about = _about(place)
    if person is None:
        shutil.rmtree(place)
        return int(about["rows"])
    gone = buckets.without(place, siphash.numbers(identifiers(pa.array([person])), key_for(NUMBERED)).tolist())
    _write_about(place, about | {"rows": about["rows"] - gone})
    return gone


def _about(folder: Path) -> dict[str, Any]:
    return dict(json.loads((folder / ABOUT).read_text(encoding="utf-8")))


def _write_about(folder: Path, about: dict[str, Any]) -> None:
    part = (folder / ABOUT).with_suffix(".part")
    part.write_text(json.dumps(about), encoding="utf-8")
    part.replace(folder / ABOUT)


def _kept(folder: Path) -> dict[str, Any]:
    """What a folder holds that is to be added to; its people have to be hashed as the new ones will be."""
    about = _about(folder)
    if about.get("key") != key_for(WHICH):
        raise Problem(
            f"The scans in {folder} were hashed with another key for people, so that nobody would be known again. "
            "Put that key back with `tourstats restore --people-key FILE`, or move the folder away and take all scans "
            "in once more."
        )
    return about


def _files(paths: str | os.PathLike[str] | Sequence[str | os.PathLike[str]]) -> list[Path]:
    given = [paths] if isinstance(paths, str | os.PathLike) else paths
    files: list[Path] = []
    for path in map(Path, given):
        files += sorted(each for each in path.iterdir() if each.is_file()) if path.is_dir() else [path]
    missing = [str(file) for file in files if not file.is_file()]
    if missing or not files:
        raise Problem(f"There is no file of scans at {', '.join(missing or map(str, given))}. Look at the path.")
    return files


def _places(shows: pd.DataFrame) -> tuple[list[object], Places]:
    """Shows in order, and the number of each by what a file may call it: its number, or its day if that is clear."""
    ordered = tables.in_order(shows)
    days = ordered.date.dt.strftime("%Y-%m-%d")
    once = ~days.duplicated(keep=False)
    places = {day: place for place, day in days[once].items()}
    return ordered.show_id.tolist(), places | {str(show): place for place, show in ordered.show_id.items()}


def _spread(
    files: list[Path],
    columns: tuple[str, str],
    places: Places,
    width: int,
    work: Path,
    trouble: Trouble,
    progress: bool | None,
) -> None:
    """Append every scan to the bucket of its person."""
    from tqdm import tqdm  # noqa: PLC0415  # late

    key, disable = key_for(NUMBERED), None if progress is None else not progress
    with tqdm(unit=" scans", unit_scale=True, disable=disable, leave=False) as bar:
        for file in files:
            for people, show in matched(file, columns, places, trouble):
                buckets.spill(siphash.numbers(people, key), show, width, work)
                bar.update(len(show))


def _spread_again(folder: Path, shows: list[str], places: Places, width: int, work: Path) -> None:
    """Append what is kept in a folder already; shows that are in the diary no more are left out."""
    now = np.array([*(places.get(show, -1) for show in shows), -1], np.int64)
    for bucket in sorted(folder.glob("bucket-*.parquet")):
        person, show = buckets.read(bucket)
        at = now[show]
        buckets.spill(person[at >= 0], at[at >= 0], width, work)


def _rows(file: Path) -> int:
    """Rows of Parquet; of text about as many as it has 20 bytes. A file that cannot be read is told about later."""
    import pyarrow.parquet as pq  # noqa: PLC0415  # late

    if file.suffix == ".parquet":
        with suppress(pa.ArrowException, OSError):
            return int(pq.read_metadata(file).num_rows)
    return file.stat().st_size // 20


@contextmanager
def _beside(target: Path) -> Iterator[tuple[Path, Callable[[], None]]]:
    """A folder beside the target, for its owner alone, which takes the target's place when it is finished, or goes."""
    work = Path(tempfile.mkdtemp(prefix=PREFIX, dir=target.parent))

    def finish() -> None:
        old = Path(tempfile.mkdtemp(prefix=PREFIX, dir=target.parent))
        if target.exists():
            target.rename(old / "old")
        work.rename(target)
        shutil.rmtree(old)

    try:
        yield work, finish
    finally:
        shutil.rmtree(work, ignore_errors=True)


def _say_repeated(repeated: int, trouble: Trouble, file: str) -> None:
    if repeated:
        said = f"{repeated:,} scan{'s' if repeated > 1 else ''} of somebody who was scanned at that show before"
        trouble.listed.append((file, None, "", "", said, "Nothing to do: each counts once."))
