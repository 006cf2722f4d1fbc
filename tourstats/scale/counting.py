"""Who was where, counted from files of any length: ticket scans or an export of a fan club, read a part at a time.

Dask is loaded only where somebody asks for a cluster. What is written is a temporary folder, and only if the file is
not yet in buckets: there, people are numbers mixed with a key that is thrown away with the folder.
"""

from __future__ import annotations

import json
import os
import secrets
import tempfile
from collections.abc import Callable, Generator
from contextlib import ExitStack, closing
from dataclasses import dataclass
from functools import partial
from pathlib import Path

import numpy as np
import pandas as pd
import pyarrow as pa

from tourstats import tables
from tourstats.models.audience import bits, small
from tourstats.models.audience.bits import Index, Masks, Tally
from tourstats.models.audience.from_sets import AudienceProblem, Ints, Sets
from tourstats.scale import buckets, siphash
from tourstats.scale.buckets import ABOUT, SPILL, People
from tourstats.scale.scan_files import as_text

BATCH = 1_000_000
UNKNOWN, NO_SET = -1, -2
REASONS = ("the show is not in the table of shows", "the set of the show is not known", "there is no identifier",
           "somebody was scanned twice at a show")  # fmt: skip
RETRIES = 3

Counted = tuple[Tally, Ints]
"""What one bucket says, and how many of its rows were left out for each of the reasons."""


@dataclass(frozen=True)
class Scans:
    """What the scans say.

    Attributes
    ----------
    by_show
        As `freshness`.
    by_attendance
        shows, people, songs_heard (mean distinct songs of people who attended that many, on the whole tour), to_shows.
    left_out
        One row per reason: reason (str), rows (int). Scans that are not counted.

    """

    by_show: pd.DataFrame
    by_attendance: pd.DataFrame
    left_out: pd.DataFrame


def from_scans(
    path: str | os.PathLike[str],
    plays: pd.DataFrame,
    shows: pd.DataFrame,
    within: str = "tour",
    workers: int | None = None,
    cluster: object = None,
    *,
    hide_under: int = 0,
    progress: bool | None = None,
) -> Scans:
    """Freshness of every show, and songs heard, from scans that need not fit into memory.

    Parameters
    ----------
    path
        A folder of buckets as the intake of scans makes it; or a Parquet file, or a folder of them, with the columns
        person (text or whole number) and show_id. Scans of one person and show count once.
    plays, shows, within, hide_under
        As for `freshness`.
    workers
        Threads, or workers of a cluster of its own; as many as there are processors if not said.
    cluster
        None for threads; "local" for Dask's workers on this machine; the address of a running cluster
        ("tcp://…", whose workers have to see the same path); or a Dask client.
    progress
        Show a bar; if not said, where there is a terminal.

    Returns
    -------
    Scans
        `by_show`, `by_attendance` and `left_out`. Counts are whole numbers until the last division: the same to the
        last digit whatever the number of buckets, workers or machines.

    Raises
    ------
    AudienceProblem
        If the path cannot be read as scans.

    Notes
    -----
    Safe to interrupt: nothing but a temporary folder is ever written, and that goes away.

    Examples
    --------
    >>> shows = pd.DataFrame({"show_id": [1, 2], "date": ["2031-03-04", "2031-03-05"]})
    >>> plays = pd.DataFrame({"show_id": [1, 1, 2, 2], "position": [1, 2, 1, 2], "song": ["A", "B", "B", "C"]})
    >>> scans = pd.DataFrame({"person": ["p", "p", "q"], "show_id": [1, 2, 2]})
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     scans.to_parquet(f"{folder}/scans.parquet")
    ...     found = from_scans(f"{folder}/scans.parquet", plays, shows, progress=False)
    >>> found.by_show[["show_id", "attendees", "repeat", "fresh_share"]]
       show_id  attendees  repeat  fresh_share
    0        1          1       0          NaN
    1        2          2       1          0.5
    >>> found.by_attendance
       shows  people  songs_heard  to_shows
    0      1       1          2.0         1
    1      2       1          3.0         2

    """
    sets = Sets.of(plays, shows)
    masks = Masks.of(sets, within)
    known = dict.fromkeys(map(str, tables.checked(shows, "shows").show_id), NO_SET)
    known |= {str(show): place for place, show in enumerate(sets.shows.show_id)}
    total, left_out = Tally.zero(masks), np.zeros(len(REASONS), np.int64)
    with ExitStack() as stack:
        folder = Path(path)
        if not (folder / ABOUT).is_file():
            given = _parquet_files(folder)
            folder = Path(stack.enter_context(tempfile.TemporaryDirectory(prefix="scans-")))
            left_out += _into_buckets(given, list(known), folder)
        numbered = json.loads((folder / ABOUT).read_text(encoding="utf-8"))["shows"]
        work = partial(
            count_bucket, places=np.array([known.get(show, UNKNOWN) for show in numbered], np.int64), masks=masks
        )
        parts = [str(bucket) for bucket in sorted(folder.glob("bucket-*"))]
        counted = _by_threads(work, parts, workers) if cluster is None else _by_dask(work, parts, workers, cluster)
        for part, rows in stack.enter_context(closing(_with_bar(counted, len(parts), progress))):
            total, left_out = total + part, left_out + rows
    return Scans(
        small.hidden_shows(bits.by_show(total, sets), hide_under),
        small.hidden_numbers(bits.by_number(total), hide_under),
        pd.DataFrame({"reason": REASONS, "rows": left_out}),
    )


def count_bucket(path: str, places: Ints, masks: Masks) -> Counted:
    """Count one bucket; public because workers elsewhere have to find it by name.

    Parameters
    ----------
    path
        Of the bucket: Parquet as the intake writes it (ordered, each scan once), or a spilled file (neither).
    places
        Place in `masks` of each show number of the bucket, or why there is none.
    masks
        The sets.

    """
    person, at, in_order = _read(path, places)
    left_out = np.array([(at == UNKNOWN).sum(), (at == NO_SET).sum(), 0, 0])
    if left_out.any():
        person, at = person[at >= 0], at[at >= 0]
    if not in_order:
        rows = len(person)
        person, at = buckets.in_order(person, at.astype(np.uint16))
        left_out[3] = rows - len(person)
    return bits.tally(person, at, masks), left_out


def _read(path: str, places: Ints) -> tuple[People, Index, bool]:
    """People and places of one bucket, and whether they are in order."""
    small_places = places.astype(np.int16) if len(places) <= np.iinfo(np.int16).max else places
    if path.endswith(".spill"):
        rows = np.fromfile(path, SPILL)
        return np.ascontiguousarray(rows["person"]), small_places[rows["show"]], False
    import pyarrow.parquet as pq  # noqa: PLC0415  # late: the start-up path reads no scans

    try:
        table = pq.read_table(
            path, columns=["person", "show"], use_threads=False, memory_map=True, page_checksum_verification=True
        )
    except (pa.ArrowException, OSError) as error:
        raise AudienceProblem(f"{Path(path).name} is damaged. Take the scans in again.") from error
    person, show = (table.column(name).to_numpy() for name in ("person", "show"))
    some = places[places >= 0]
    return person, small_places[show], bool((np.diff(some) > 0).all())


def _by_threads(work: Callable[[str], Counted], parts: list[str], workers: int | None) -> Generator[Counted]:
    """Count buckets in threads; leaving early drops what has not begun."""
    from concurrent.futures import ThreadPoolExecutor, as_completed  # noqa: PLC0415  # late

    with ThreadPoolExecutor(workers or _processors()) as pool:
        try:
            for future in as_completed([pool.submit(work, bucket) for bucket in parts]):
                yield future.result()
        finally:
            pool.shutdown(wait=True, cancel_futures=True)


def _by_dask(
    work: Callable[[str], Counted], parts: list[str], workers: int | None, cluster: object
) -> Generator[Counted]:
    """Count buckets on a Dask cluster; a bucket whose worker dies is counted again by another."""
    from distributed import Client, LocalCluster, as_completed  # noqa: PLC0415  # late, and only for those who ask

    with ExitStack() as stack:
        if cluster == "local":
            cluster = stack.enter_context(
                LocalCluster(n_workers=workers or _processors(), threads_per_worker=1, dashboard_address=None)
            )
        client = cluster if isinstance(cluster, Client) else stack.enter_context(Client(cluster))
        futures = client.map(work, parts, retries=RETRIES, pure=False)
        try:
            for _, counted in as_completed(futures, with_results=True):
                yield counted
        finally:
            client.cancel(futures)


def _with_bar(counted: Generator[Counted], parts: int, progress: bool | None) -> Generator[Counted]:
    from tqdm import tqdm  # noqa: PLC0415  # late

    disable = None if progress is None else not progress
    with closing(counted):
        yield from tqdm(counted, total=parts, unit="bucket", disable=disable, leave=False)


def _processors() -> int:
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def _parquet_files(path: Path) -> list[Path]:
    """The files to read, in order."""
    files = sorted(path.rglob("*.parquet")) if path.is_dir() else [path]
    if not files or not all(file.is_file() for file in files):
        raise AudienceProblem(f"There are no scans at {path}. Give a Parquet file, a folder of them, or buckets.")
    return files


def _into_buckets(files: list[Path], shows: list[str], folder: Path) -> Ints:
    """Spread scans over temporary buckets, so that each person is in one; return rows left out by reason."""
    import pyarrow.parquet as pq  # noqa: PLC0415  # late

    number, key = {show: place for place, show in enumerate(shows)}, secrets.token_hex(8)
    left_out, file = np.zeros(len(REASONS), np.int64), files[0]
    (folder / ABOUT).write_text(json.dumps({"shows": shows}), encoding="utf-8")
    try:
        rows = sum(pq.read_metadata(file := each).num_rows for each in files)
        width = buckets.bits_for(rows)
        for file in files:
            with pq.ParquetFile(file, page_checksum_verification=True) as scans:
                _check(scans.schema_arrow, file)
                for batch in scans.iter_batches(BATCH, columns=["person", "show_id"]):
                    left_out += _spread(batch, number, key, width, folder)
    except (pa.ArrowException, OSError) as error:
        raise AudienceProblem(
            f"{file.name} cannot be read as Parquet; it may be cut short. Get it again, or take it out."
        ) from error
    return left_out


def _check(schema: pa.Schema, file: Path) -> None:
    """Say which column is missing or is no identifier."""
    import pyarrow.types as kind  # noqa: PLC0415  # late

    missing = [name for name in ("person", "show_id") if name not in schema.names]
    if missing:
        raise AudienceProblem(
            f"{file.name} has the columns {', '.join(schema.names)}; scans need person and show_id. Rename them."
        )
    of_person = schema.field("person").type
    of_person = of_person.value_type if kind.is_dictionary(of_person) else of_person
    if not (kind.is_integer(of_person) or kind.is_string(of_person) or kind.is_large_string(of_person)):
        raise AudienceProblem(f"{file.name}: person has to be text or whole numbers; it is {of_person}.")


def _spread(batch: pa.RecordBatch, number: dict[str, int], key: str, width: int, folder: Path) -> Ints:
    """Append a batch of scans to the buckets; people and shows become numbers."""
    people, called = batch.column("person"), batch.column("show_id").dictionary_encode()
    places = [number.get(as_text(show), UNKNOWN) for show in called.dictionary.to_pylist()]
    show = np.array([*places, UNKNOWN], np.int64)[np.asarray(called.indices.fill_null(len(places)))]
    nobody = np.asarray(people.is_null())
    left_out = np.array([((show < 0) & ~nobody).sum(), 0, nobody.sum(), 0])
    kept = (show >= 0) & ~nobody
    texts = people.filter(pa.array(kept)).cast(pa.string())
    buckets.spill(siphash.numbers(texts, key), show[kept], width, folder)
    return left_out
