"""Buckets: scans as numbers, all of one person in one file, so that each file can be counted apart from the others."""

from __future__ import annotations

import os
from collections.abc import Iterable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pyarrow as pa

ABOUT = "about.json"
"""File that makes a folder one of buckets: which shows its numbers stand for."""
PER_BUCKET = 750_000
"""Rows for which a bucket is meant: what one thread holds at a time."""
MOST_BUCKETS = 1024
SPILL = np.dtype([("person", "<u8"), ("show", "<u2")])
AT_ONCE = 2
"""Buckets that are put in order at once."""
SHOW_BITS = np.uint64(16)

People = npt.NDArray[np.uint64]
Shows = npt.NDArray[np.uint16]


def bits_for(rows: int) -> int:
    """Bits of a person's number that name the bucket, so that a bucket is neither long nor one of very many."""
    buckets = min(max(1, -(-rows // PER_BUCKET)), MOST_BUCKETS)
    return (buckets - 1).bit_length()


def spill(person: People, show: npt.NDArray[np.integer], width: int, folder: Path) -> None:
    """Append scans to the buckets of their people."""
    rows = np.empty(len(person), SPILL)
    rows["person"], rows["show"] = person, show
    bucket = (rows["person"] >> np.uint64(64 - width)).astype(np.uint16) if width else np.zeros(len(rows), np.uint16)
    rows = rows[np.argsort(bucket, kind="stable")]
    ends = np.concatenate(([0], np.cumsum(np.bincount(bucket, minlength=1 << width))))
    for number in np.flatnonzero(np.diff(ends)):
        with (folder / f"bucket-{number:04}.spill").open("ab") as file:
            rows[ends[number] : ends[number + 1]].tofile(file)


def in_order(person: People, show: Shows) -> tuple[People, Shows]:
    """Scans by person, then by show, each once.

    Examples
    --------
    >>> in_order(np.array([7, 2, 7, 7], np.uint64), np.array([3, 1, 0, 3], np.uint16))
    (array([2, 7, 7], dtype=uint64), array([1, 0, 3], dtype=uint16))

    """
    if not len(person):
        return person, show
    order = np.argsort(person)
    person = person[order]
    new = np.ones(len(person), bool)
    new[1:] = person[1:] != person[:-1]
    both = (np.cumsum(new, dtype=np.uint64) << SHOW_BITS) | show[order]  # one sort of numbers is faster than two orders
    both.sort()
    once = np.ones(len(both), bool)
    once[1:] = both[1:] != both[:-1]
    return person[once], both[once].astype(np.uint16)


def finished(work: Path) -> tuple[int, int]:
    """Put each bucket in order, each scan once, and write it as Parquet; count scans kept and repeated."""
    with ThreadPoolExecutor(AT_ONCE) as pool:
        counted = list(pool.map(_finished, sorted(work.glob("bucket-*.spill"))))
    return sum(kept for kept, _ in counted), sum(repeated for _, repeated in counted)


def _finished(spilled: Path) -> tuple[int, int]:
    rows = np.fromfile(spilled, SPILL)
    person, show = in_order(np.ascontiguousarray(rows["person"]), np.ascontiguousarray(rows["show"]))
    write(spilled.with_suffix(".parquet"), person, show)
    spilled.unlink()
    return len(person), len(rows) - len(person)


def write(path: Path, person: People, show: Shows) -> None:
    """One bucket; hashes do not compress, and shows as places in a list of them are as short as if compressed."""
    import pyarrow.parquet as pq  # noqa: PLC0415  # late: the start-up path reads no scans

    with path.open("wb") as file:
        pq.write_table(
            pa.table({"person": person, "show": show}),
            file,
            use_dictionary=["show"],
            compression="NONE",
            row_group_size=max(1, len(person)),
            write_page_checksum=True,
        )
        file.flush()
        os.fsync(file.fileno())


def read(path: Path) -> tuple[People, Shows]:
    """One bucket as it was written."""
    import pyarrow.parquet as pq  # noqa: PLC0415  # late

    table = pq.read_table(path, page_checksum_verification=True)
    return table.column("person").to_numpy(), table.column("show").to_numpy()


def without(folder: Path, people: Iterable[int]) -> int:
    """Take people out of every bucket; how many scans that were."""
    gone, wanted = 0, np.array(sorted(people), np.uint64)
    for bucket in sorted(folder.glob("bucket-*.parquet")):
        person, show = read(bucket)
        kept = ~np.isin(person, wanted)
        if not kept.all():
            gone += int((~kept).sum())
            part = bucket.with_suffix(".part")
            write(part, person[kept], show[kept])
            part.replace(bucket)
    return gone
