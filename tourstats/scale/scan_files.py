"""Files of scans, a part at a time: who is identified, and at which show."""

from __future__ import annotations

import csv
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import TypeVar

import numpy as np
import numpy.typing as npt
import pyarrow as pa
import pyarrow.compute as pc

from tourstats.diary.store.values import clean_text, folded
from tourstats.scale.scan_problems import MOST, Stopped, Trouble, cut

NOBODY = ["", "-", "n/a", "nan", "none", "null"]
"""What stands in an identifier's place where there is none; all of these as one person would be everywhere."""
LONGEST = 1_000
"""Letters of the longest identifier or show; longer ones are a fault of the file."""
BATCH = 1_000_000
BLOCK = 16 << 20
"""Bytes of a text file that are read at a time; no row may be longer."""
SEPARATORS = ",;\t|"
PLAIN = "^[!-~]+( [!-~]+)*$"
"""Text that folding changes only in its capitals."""
FIRST, LAST = b"!~"
"""Between these it is plain without another look."""

Places = dict[str, int]
Numbers = npt.NDArray[np.int64]
Part = TypeVar("Part")


def matched(
    file: Path, columns: tuple[str, str], places: Places, trouble: Trouble
) -> Iterator[tuple[pa.Array, Numbers]]:
    """Read a file part by part: who is identified in each row that can be used, and at which show."""
    for people, shows, line in _parts(file, columns, trouble):
        texts = pc.fill_null(identifiers(people), "")
        called = [*(as_text(value) for value in shows.dictionary.to_pylist()), ""]
        show = np.asarray(shows.indices.fill_null(len(called) - 1)).astype(np.int64)
        letters = np.asarray(pc.utf8_length(texts))
        empty = letters <= len(NOBODY[-1])
        empty[empty] = pc.is_in(texts.filter(pa.array(empty)), pa.array(NOBODY)).to_numpy(zero_copy_only=False)
        long = (letters > LONGEST) | np.array([len(name) > LONGEST for name in called])[show]
        at = np.array([places.get(name, -1) for name in called], np.int64)[show]
        strange = (at < 0) & ~empty & ~long
        _note(trouble, file.name, columns, (empty, long, strange), line, letters, (called, show))
        kept = (at >= 0) & ~empty & ~long
        yield (texts, at) if kept.all() else (texts.filter(pa.array(kept)), at[kept])


def identifiers(values: pa.Array) -> pa.Array:
    """What identifies people, folded as the diary folds it: spaces and capitals make no other person.

    Examples
    --------
    >>> identifiers(pa.array([b" Ola@example", b"ola@Example "])).to_pylist()
    ['ola@example', 'ola@example']

    """
    if pa.types.is_dictionary(values.type):
        return identifiers(values.dictionary).take(values.indices)
    texts = _as_text(values)
    capitals = pc.ascii_lower(texts)
    written = np.frombuffer(texts.buffers()[2] or b"", np.uint8)
    if written.min(initial=LAST) >= FIRST and written.max(initial=FIRST) <= LAST:
        return capitals
    odd = pc.invert(pc.fill_null(pc.match_substring_regex(texts, PLAIN), True))  # who is not there is not odd
    each = texts.filter(odd).dictionary_encode()  # folding costs more than finding what is the same
    fold = pa.array(map(folded, each.dictionary.to_pylist()), pa.string())
    return pc.replace_with_mask(capitals, odd, fold.take(each.indices))


def _as_text(values: pa.Array) -> pa.Array:
    """Values as text, at once where they are of one plain kind; else each distinct one by itself."""
    if pa.types.is_string(values.type) or pa.types.is_integer(values.type):
        return values.cast(pa.string())
    if pa.types.is_binary(values.type):
        with suppress(pa.ArrowInvalid):  # not everything is UTF-8
            return values.cast(pa.string())
    each = values.dictionary_encode()
    return pa.array([as_text(value) for value in each.dictionary.to_pylist()], pa.string()).take(each.indices)


def _note(
    trouble: Trouble,
    file: str,
    columns: tuple[str, str],
    wrong: tuple[npt.NDArray[np.bool_], ...],
    line: Callable[[Numbers], list[int]],
    letters: Numbers,
    shows: tuple[list[str], Numbers],
) -> None:
    """List rows that cannot be used; of people only how long the text was."""
    empty, long, strange = (np.flatnonzero(mask) for mask in wrong)
    trouble.add(
        file, line(empty), columns[0], [""] * len(empty), "nobody is identified", "Leave it, or complete the row."
    )
    lengths = [max(int(letters[row]), len(shows[0][shows[1][row]])) for row in long[:MOST]]
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
    file: Path, columns: tuple[str, str], trouble: Trouble
) -> Iterator[tuple[pa.Array, pa.DictionaryArray, Callable[[Numbers], list[int]]]]:
    """Both columns of a file, a part at a time, each show of a part once; and the line of each row.

    People are not looked for among one another: finding the same text again takes longer than hashing it.
    """
    skipped: list[int] = []
    start = 0
    try:
        for batch in _ahead(_batches(file, columns, trouble, skipped)):
            people, shows = (batch.column(name) for name in columns)
            yield people, shows.dictionary_encode(), _Lines(start, skipped)
            start += len(shows)
    except (pa.ArrowException, OSError, UnicodeError) as error:
        at = start + len(skipped) + 2
        trouble.stop(
            *(file.name, "it cannot be read to its end", "It may be cut short. Get it again; nothing was written."),
            row=at if start else None,
        )
        raise Stopped from error


def _ahead(parts: Iterator[Part]) -> Iterator[Part]:
    """Each part, while the next one is made in a thread: reading and hashing take about as long as each other."""
    with ThreadPoolExecutor(1) as pool:
        coming = pool.submit(next, parts, None)
        while (part := coming.result()) is not None:
            coming = pool.submit(next, parts, None)
            yield part


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


def _batches(file: Path, columns: tuple[str, str], trouble: Trouble, skipped: list[int]) -> Iterator[pa.RecordBatch]:
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
    file: Path, start: bytes, columns: tuple[str, str], trouble: Trouble, skipped: list[int]
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


def _look_for(columns: tuple[str, str], names: Sequence[str], file: Path, trouble: Trouble) -> None:
    missing = [name for name in columns if name not in names]
    if missing:
        trouble.stop(
            *(file.name, f"there is no column {' and no '.join(missing)}"),
            f"It has {cut(', '.join(names)) or 'nothing'}. Say which column is which, "
            "as in --answer person=ticket --answer show=day.",
        )
        raise Stopped


def as_text(value: object) -> str:
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
