"""Ticket scans and other lists of who was where: read, made anonymous, and kept.

A person is whatever identifies them in the file: a ticket number, an address, the number of a fan club. It becomes the
keyed hash of `people` before anything is written; an address with other spaces around it or accents written another way
is the same person. Small lists go into the diary (`read_attendance`), long ones into a folder of buckets
(`take_scans`), which `models.audience.from_scans` reads. What identifies people is in no message and no table of
problems.
"""

from __future__ import annotations

import csv
import json
import os
import shutil
import tempfile
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pandas as pd
import pyarrow as pa

from tourstats import tables
from tourstats.diary.people import hasher
from tourstats.diary.store.values import clean_text
from tourstats.problems import Problem

ABOUT = "about.json"
NOBODY = {"", "nan", "none", "null", "n/a", "-"}
"""What stands in an identifier's place where there is none; all of these as one person would be everywhere."""
LONGEST = 1_000
"""Letters of the longest identifier or show; longer ones are a fault of the file."""
MOST = 20
"""Rows that are listed for each thing that is wrong; the rest is counted."""
BATCH = 1_000_000
KNOWN = 1_000_000
"""People whose numbers are kept while files are read; some 200 MB."""
BLOCK = 16 << 20
"""Bytes of a text file that are read at a time; no row may be longer."""
PER_BUCKET = 750_000
MOST_BUCKETS = 1024
SHOWN = 60
SEPARATORS = ",;\t|"
PROBLEMS = ["file", "row", "column", "value", "problem", "todo"]
SPILL = np.dtype([("person", "<u8"), ("show", "<u2")])
PREFIX = ".taking-scans-"

Places = dict[str, int]
Numbers = npt.NDArray[np.int64]


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


@dataclass
class _Trouble:
    """Gathers what is wrong, a few rows of each kind, and counts the rest."""

    listed: list[tuple[object, ...]] = field(default_factory=list)
    seen: dict[tuple[str, str, str], int] = field(default_factory=dict)
    fatal: bool = False

    def add(self, file: str, rows: Sequence[int], column: str, values: Sequence[str], problem: str, todo: str) -> None:
        """Note rows with the same thing wrong."""
        key = (file, column, problem)
        room = max(0, MOST - self.seen.get(key, 0))
        self.seen[key] = self.seen.get(key, 0) + len(rows)
        for row, value in zip(rows[:room], values[:room], strict=True):
            self.listed.append((file, row, column, _cut(value), problem, todo))

    def stop(self, file: str, problem: str, todo: str, row: int | None = None) -> None:
        """Note that a file cannot be used at all."""
        self.fatal = True
        self.listed.append((file, row, "", "", problem, todo))

    def table(self) -> pd.DataFrame:
        """Everything that is wrong, as a table."""
        rest = [
            (file, None, column, "", f"{problem}: {count - MOST} more rows", "")
            for (file, column, problem), count in self.seen.items()
            if count > MOST
        ]
        made = pd.DataFrame([*self.listed, *rest], columns=PROBLEMS)
        return made.astype({name: "Int64" if name == "row" else "str" for name in PROBLEMS})


class _Stopped(Exception):  # noqa: N818  # not an error: the list of problems says it
    """A file cannot be read on."""


def read_attendance(
    path: str | os.PathLike[str], shows: pd.DataFrame, *, person: str = "person", show: str = "show_id"
) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Read a list of who was where for the diary; people are hashes from here on.

    Parameters
    ----------
    path
        CSV (any usual separator and encoding) or Parquet, a row a person and show.
    shows
        Shows of the diary.
    person, show
        Columns that identify the person and the show. A show is its number, or its day where there was one show only.

    Returns
    -------
    attendance
        One row per person and show, for `Diary.add_attendance(attendance, hashed=True)`: person (keyed hash), show_id.
        Empty if the file could not be read to its end.
    problems
        As in `Taken`. Rows that are named there are left out.

    """
    ids, places = _places(shows)
    trouble, name, parts = _Trouble(), hasher(), []
    try:
        for texts, codes, at in _matched(Path(path), (person, show), places, trouble):
            hashed = np.array([name(text) for text in texts], object)
            parts.append(pd.DataFrame({"person": hashed[codes], "show_id": np.array(ids, object)[at]}))
    except _Stopped:
        parts = []
    frame = pd.concat([tables.empty("attendance"), *parts], ignore_index=True)
    kept = frame.drop_duplicates(ignore_index=True)
    _say_repeated(len(frame) - len(kept), trouble, Path(path).name)
    return tables.checked(kept, "attendance"), trouble.table()


def take_scans(
    paths: str | os.PathLike[str] | Sequence[str | os.PathLike[str]],
    folder: str | os.PathLike[str],
    shows: pd.DataFrame,
    *,
    person: str = "person",
    show: str = "show_id",
    replace: bool = False,
    progress: bool | None = None,
) -> Taken:
    """Turn files of scans, however long, into a folder of buckets that the audience's numbers are counted from.

    Parameters
    ----------
    paths
        CSV or Parquet files, or a folder of them; a row a person and show.
    folder
        Where the buckets go; it must not be there yet, unless `replace` is said.
    shows, person, show
        As for `read_attendance`.
    replace
        Put the new buckets in the place of older ones, once they are whole.
    progress
        Show a bar; if not said, where there is a terminal.

    Returns
    -------
    Taken
        Rows that cannot be used are left out and listed. If a file cannot be read to its end, nothing is written.

    Raises
    ------
    Problem
        If the folder is there already, or there is nothing to read.

    Notes
    -----
    The folder appears at once, when all is done: the work is done beside it and then renamed. Interrupting is safe.
    A person is the first 64 bits of their keyed hash; among five million people, the chance that any two share one is
    one in a million.

    """
    files, target = _files(paths), Path(folder)
    if target.exists() and not (replace and (target / ABOUT).is_file()):
        raise Problem(
            f"{target} is there already. Name another folder, or say replace=True if it holds scans that may go."
        )
    ids, places = _places(shows)
    trouble, target = _Trouble(), target.absolute()
    target.parent.mkdir(parents=True, exist_ok=True)
    with _beside(target) as (work, finish):
        try:
            _spread(files, (person, show), places, work, trouble, progress)
        except _Stopped:
            return Taken(0, trouble.table(), written=False)
        rows, repeated = _finished(work)
        _say_repeated(repeated, trouble, files[0].name if len(files) == 1 else f"{len(files)} files")
        about = {"shows": [str(each) for each in ids], "rows": rows}
        (work / ABOUT).write_text(json.dumps(about), encoding="utf-8")
        finish()
    return Taken(rows, trouble.table(), written=True)


def forget_scans(folder: str | os.PathLike[str], person: str | None = None) -> int:
    """Take one person out of the buckets, or everybody: then the whole folder goes.

    Parameters
    ----------
    folder
        As `take_scans` made it.
    person
        Whatever identified them in the file, or their hash in the diary; nobody named means everybody.

    Returns
    -------
    int
        How many scans were taken out.

    """
    import pyarrow.parquet as pq  # noqa: PLC0415  # late: the start-up path reads no scans

    place = Path(folder)
    if not (place / ABOUT).is_file():
        raise Problem(f"There are no scans in {place}. Name the folder that they were taken into.")
    if person is None:
        rows = int(json.loads((place / ABOUT).read_text(encoding="utf-8"))["rows"])
        shutil.rmtree(place)
        return rows
    wanted = {_short(hasher()(clean_text(person)))} | ({_short(person)} if _is_hash(person) else set())
    gone = 0
    for file in sorted(place.glob("bucket-*.parquet")):
        table = pq.read_table(file)
        people = table.column("person").to_numpy()
        kept = ~np.isin(people, np.array(sorted(wanted), np.uint64))
        if not kept.all():
            gone += int((~kept).sum())
            part = file.with_suffix(".part")
            _write(part, people[kept], table.column("show").to_numpy()[kept])
            part.replace(file)
    about = json.loads((place / ABOUT).read_text(encoding="utf-8"))
    part = (place / ABOUT).with_suffix(".part")
    part.write_text(json.dumps(about | {"rows": about["rows"] - gone}), encoding="utf-8")
    part.replace(place / ABOUT)
    return gone


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


def _matched(
    file: Path, columns: tuple[str, str], places: Places, trouble: _Trouble
) -> Iterator[tuple[list[str], Numbers, Numbers]]:
    """Read a file part by part: its identifiers, and for each row that can be used, which identifier and which show."""
    for people, shows, line in _parts(file, columns, trouble):
        texts = [_text(value) for value in people.dictionary.to_pylist()]
        called = [_text(value) for value in shows.dictionary.to_pylist()]
        person, show = _codes(people, texts), _codes(shows, called)
        empty = _are([text.casefold() in NOBODY for text in texts], person)
        long = _are([len(text) > LONGEST for text in texts], person) | _are([len(s) > LONGEST for s in called], show)
        at = np.array([places.get(text, -1) for text in called], np.int64)[show]
        strange = (at < 0) & ~empty & ~long
        _note(trouble, file.name, columns, (empty, long, strange), line, (texts, person), (called, show))
        kept = (at >= 0) & ~empty & ~long
        used, codes = np.unique(person[kept], return_inverse=True)
        yield [texts[code] for code in used], codes, at[kept]


def _note(
    trouble: _Trouble,
    file: str,
    columns: tuple[str, str],
    wrong: tuple[npt.NDArray[np.bool_], ...],
    line: Callable[[Numbers], list[int]],
    people: tuple[list[str], Numbers],
    shows: tuple[list[str], Numbers],
) -> None:
    """List rows that cannot be used; of people only how long the text was."""
    empty, long, strange = (np.flatnonzero(mask) for mask in wrong)
    trouble.add(
        file, line(empty), columns[0], [""] * len(empty), "nobody is identified", "Leave it, or complete the row."
    )
    lengths = [max(len(people[0][people[1][row]]), len(shows[0][shows[1][row]])) for row in long[:MOST]]
    trouble.add(
        *(file, line(long), columns[0], [f"{n:,} letters" for n in lengths] + [""] * (len(long) - len(lengths))),
        f"longer than {LONGEST:,} letters",
        "Look for a quotation mark that is not closed.",
    )
    first = strange[np.unique(shows[1][strange], return_index=True)[1]]
    for row in np.sort(first).tolist():
        name, count = shows[0][shows[1][row]], int((shows[1][strange] == shows[1][row]).sum())
        name = "" if "@" in name else name  # whoever mixes up the columns should not see people here
        trouble.add(
            *(file, line(np.array([row])), columns[1], [name], "not a show of the diary, nor a day with one show"),
            f"{count} row{'s' if count > 1 else ''} left out. Add the show, or correct the file.",
        )


def _parts(
    file: Path, columns: tuple[str, str], trouble: _Trouble
) -> Iterator[tuple[pa.DictionaryArray, pa.DictionaryArray, Callable[[Numbers], list[int]]]]:
    """Both columns of a file, a part at a time, each value of a part once; and the line of each row."""
    skipped: list[int] = []
    start = 0
    try:
        for batch in _batches(file, columns, trouble, skipped):
            people, shows = (batch.column(name).dictionary_encode() for name in columns)
            yield people, shows, _Lines(start, skipped)
            start += batch.num_rows
    except (pa.ArrowException, OSError, UnicodeError) as error:
        at = start + len(skipped) + 2
        trouble.stop(
            *(file.name, "it cannot be read to its end", "It may be cut short. Get it again; nothing was written."),
            row=at if start else None,
        )
        raise _Stopped from error


@dataclass(frozen=True)
class _Lines:
    """Line of a file for each row of a part, reckoning with lines that were passed over before it."""

    start: int
    skipped: list[int]

    def __call__(self, rows: Numbers) -> list[int]:
        lines, passed = [], sorted(self.skipped)
        for row in rows[: 2 * MOST].tolist():
            line = self.start + row + 2
            for bad in passed:
                if bad > line:
                    break
                line += 1
            lines.append(line)
        return lines + [0] * max(0, len(rows) - 2 * MOST)


def _batches(file: Path, columns: tuple[str, str], trouble: _Trouble, skipped: list[int]) -> Iterator[pa.RecordBatch]:
    with file.open("rb") as raw:
        start = raw.read(1 << 16)
    if start[:4] == b"PAR1" or file.suffix == ".parquet":
        import pyarrow.parquet as pq  # noqa: PLC0415  # late

        with pq.ParquetFile(file, page_checksum_verification=True) as scans:
            _look_for(columns, scans.schema_arrow.names, file, trouble)
            yield from scans.iter_batches(BATCH, columns=list(columns))
        return
    yield from _csv_batches(file, start, columns, trouble, skipped)


def _csv_batches(
    file: Path, start: bytes, columns: tuple[str, str], trouble: _Trouble, skipped: list[int]
) -> Iterator[pa.RecordBatch]:
    """Read text as bytes, so that one odd letter stops nothing; letters are made of it where values are compared."""
    import pyarrow.csv as arrow_csv  # noqa: PLC0415  # late

    wide = start[:2] in (b"\xff\xfe", b"\xfe\xff")
    heading = start.decode("utf-16" if wide else "utf-8-sig", "replace").splitlines()[:1] or [""]
    separator = max(SEPARATORS, key=heading[0].count)
    names = next(csv.reader(heading, delimiter=separator), [])
    _look_for(columns, names, file, trouble)

    def pass_over(row: arrow_csv.InvalidRow) -> str:
        skipped.append(row.number)
        trouble.add(
            *(file.name, [row.number], "", [f"{row.actual_columns} fields"]),
            f"not the {row.expected_columns} fields of the heading",
            "Look at the line; it is left out.",
        )
        return "skip"

    yield from arrow_csv.open_csv(
        file,
        read_options=arrow_csv.ReadOptions(
            use_threads=False, block_size=BLOCK, encoding="utf-16" if wide else "utf8", column_names=names, skip_rows=1
        ),
        parse_options=arrow_csv.ParseOptions(delimiter=separator, invalid_row_handler=pass_over),
        convert_options=arrow_csv.ConvertOptions(
            column_types=dict.fromkeys(columns, pa.binary()), include_columns=list(dict.fromkeys(columns))
        ),
    )


def _look_for(columns: tuple[str, str], names: Sequence[str], file: Path, trouble: _Trouble) -> None:
    missing = [name for name in columns if name not in names]
    if missing:
        trouble.stop(
            *(file.name, f"there is no column {' and no '.join(missing)}"),
            f"It has {_cut(', '.join(names)) or 'nothing'}. Say which column is which: person=…, show=…",
        )
        raise _Stopped


def _text(value: object) -> str:
    """An identifier, or the name of a show, as text; a number that a file keeps as 3.0 is 3."""
    if value is None:
        return ""
    if isinstance(value, bytes):
        value = _decoded(value)
    if isinstance(value, float) and value.is_integer():
        value = int(value)
    if isinstance(value, datetime):
        value = value.date()
    text = str(value)
    return text.strip() if text.isascii() and "\0" not in text else clean_text(text)


def _decoded(value: bytes) -> str:
    try:
        return value.decode("utf-8")
    except UnicodeDecodeError:
        return value.decode("cp1252", "replace")


def _codes(encoded: pa.DictionaryArray, texts: list[str]) -> Numbers:
    """Which text each row has; rows without a value get an empty one."""
    if encoded.null_count:
        texts.append("")
    return np.asarray(encoded.indices.fill_null(len(texts) - 1)).astype(np.int64)


def _are(flags: list[bool], codes: Numbers) -> npt.NDArray[np.bool_]:
    found: npt.NDArray[np.bool_] = np.array(flags, bool)[codes]
    return found


def _spread(
    files: list[Path],
    columns: tuple[str, str],
    places: Places,
    work: Path,
    trouble: _Trouble,
    progress: bool | None,
) -> None:
    """Append every scan to the bucket of its person."""
    from tqdm import tqdm  # noqa: PLC0415  # late

    width, number = _width(files), _numbered(hasher())
    disable = None if progress is None else not progress
    with tqdm(unit=" scans", unit_scale=True, disable=disable, leave=False) as bar:
        for file in files:
            for texts, codes, at in _matched(file, columns, places, trouble):
                hashed = np.fromiter(map(number, texts), np.uint64, len(texts))
                rows = np.empty(len(at), SPILL)
                rows["person"], rows["show"] = hashed[codes], at
                _append(rows, width, work)
                bar.update(len(rows))


def _numbered(name: Callable[[str], str]) -> Callable[[str], int]:
    """The number of a person, worked out once for each: who travels with the tour is in many parts of the files."""
    known: dict[str, int] = {}

    def number(text: str) -> int:
        found = known.get(text)
        if found is None:
            found = _short(name(text))
            if len(known) < KNOWN:
                known[text] = found
        return found

    return number


def _append(rows: npt.NDArray[np.void], width: int, work: Path) -> None:
    bucket = (rows["person"] >> np.uint64(64 - width)).astype(np.uint16) if width else np.zeros(len(rows), np.uint16)
    rows = rows[np.argsort(bucket, kind="stable")]
    ends = np.concatenate(([0], np.cumsum(np.bincount(bucket, minlength=1 << width))))
    for number in np.flatnonzero(np.diff(ends)):
        with (work / f"bucket-{number:04}.spill").open("ab") as file:
            rows[ends[number] : ends[number + 1]].tofile(file)


def _width(files: list[Path]) -> int:
    """Bits of a person's number that name their bucket, from how many rows the files have, roughly."""
    rows = sum(_rows(file) for file in files)
    return (min(max(1, -(-rows // PER_BUCKET)), MOST_BUCKETS) - 1).bit_length()


def _rows(file: Path) -> int:
    """Rows of Parquet; of text about as many as it has 20 bytes. A file that cannot be read is told about later."""
    import pyarrow.parquet as pq  # noqa: PLC0415  # late

    if file.suffix == ".parquet":
        with suppress(pa.ArrowException, OSError):
            return int(pq.read_metadata(file).num_rows)
    return file.stat().st_size // 20


def _finished(work: Path) -> tuple[int, int]:
    """Put each bucket in order, each scan once, and write it as Parquet; count scans kept and repeated."""
    kept = repeated = 0
    for spill in sorted(work.glob("bucket-*.spill")):
        rows = np.fromfile(spill, SPILL)
        person, show = np.ascontiguousarray(rows["person"]), np.ascontiguousarray(rows["show"])
        order = np.lexsort((show, person))
        person, show = person[order], show[order]
        once = np.ones(len(rows), bool)
        once[1:] = (person[1:] != person[:-1]) | (show[1:] != show[:-1])
        _write(spill.with_suffix(".parquet"), person[once], show[once])
        spill.unlink()
        kept, repeated = kept + int(once.sum()), repeated + int((~once).sum())
    return kept, repeated


def _write(path: Path, person: npt.NDArray[np.uint64], show: npt.NDArray[np.uint16]) -> None:
    """One bucket; hashes do not compress, so they are kept as they are."""
    import pyarrow.parquet as pq  # noqa: PLC0415  # late

    with path.open("wb") as file:
        pq.write_table(
            pa.table({"person": person, "show": show}),
            file,
            use_dictionary=False,
            compression={"person": "NONE", "show": "ZSTD"},
            row_group_size=max(1, len(person)),
            write_page_checksum=True,
        )
        file.flush()
        os.fsync(file.fileno())


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


def _say_repeated(repeated: int, trouble: _Trouble, file: str) -> None:
    if repeated:
        said = f"{repeated:,} scan{'s' if repeated > 1 else ''} of somebody who was scanned at that show before"
        trouble.listed.append((file, None, "", "", said, "Nothing to do: each counts once."))


def _short(hashed: str) -> int:
    """The first 64 bits of a hash."""
    return int(hashed[:16], 16)


def _is_hash(text: str) -> bool:
    return len(text) >= 16 and all(letter in "0123456789abcdef" for letter in text)  # noqa: PLR2004  # 64 bits


def _cut(text: str) -> str:
    return text if len(text) <= SHOWN else f"{text[: SHOWN - 1]}…"
