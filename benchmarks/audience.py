"""Repeat audience from millions of ticket scans: our way, and every other way that was thought of, in turn.

    python benchmarks/audience.py                          ten million scans, threads, databases
    python benchmarks/audience.py 1e6 --joins --dask       a million, with the ways that do not scale, and Dask
    python benchmarks/audience.py 5e7 --only intake threads

Data are made (seeded) in a temporary folder: 200 shows, 150 songs, 22 a set, half as many people as scans, most of
whom come once and a few very often. Each way runs in a process of its own, reads the same buckets, and has to give the
same numbers: the digest of its tables is printed, and said to be wrong if it is not that of the first way. Memory is
the largest that the process (for Dask: any of its processes) ever held. DuckDB, Polars and Dask come with
`pip install -e '.[bench]'`.
"""

import argparse
import hashlib
import json
import os
import resource
import signal
import subprocess
import sys
import tempfile
import threading
import time
from pathlib import Path

import numpy as np
import pandas as pd
import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.parquet as pq

from tourstats.models import audience
from tourstats.models.audience import bits
from tourstats.models.audience.from_sets import Sets

SHOWS, SONGS, SIZE = 200, 150, 22
TAIL = 1.73
"""Of the numbers of shows attended: their mean is then 2, and one in a hundred came to more than ten."""
PART = 500_000
SEED = 20310304
COUNTS = ["show_id", "attendees", "repeat", "fresh_share", "fresh_sd", "worst_decile", "audience_fresh_share"]


def tour():
    """The sets, from a leader who keeps favourites and changes a third of the set each night."""
    random = np.random.default_rng(SEED)
    taste = random.gamma(1.0, 1.0, SONGS)
    rows = []
    for show in range(1, SHOWS + 1):
        songs = random.choice(SONGS, SIZE, replace=False, p=taste / taste.sum())
        rows += [(show, at, f"Song {song:03}") for at, song in enumerate(songs, start=1)]
    plays = pd.DataFrame(rows, columns=["show_id", "position", "song"])
    dates = pd.date_range("2031-01-01", periods=SHOWS)
    return plays, pd.DataFrame({"show_id": range(1, SHOWS + 1), "date": dates})


def make_scans(path, rows):
    """People in random order of rows within parts; identifiers as an export has them."""
    random = np.random.default_rng(SEED + 1)
    schema = pa.schema([("person", pa.string()), ("show_id", pa.int16())])
    first, left = 0, rows
    with pq.ParquetWriter(path, schema) as writer:
        while left > 0:
            visits = np.minimum(1 + np.floor(random.pareto(TAIL, PART)), SHOWS).astype(int)
            people = np.repeat(np.arange(first, first + PART), visits)
            shows = random.integers(1, SHOWS + 1, len(people)).astype(np.int16)
            order = random.permutation(len(people))[:left]
            numbers = pc.cast(pa.array(people[order]), pa.string())
            names = pc.binary_join_element_wise("fan", numbers, "example", "-")
            writer.write_table(pa.table({"person": names, "show_id": shows[order]}, schema=schema))
            first, left = first + PART, left - len(order)


def digest(by_show, by_attendance):
    """A few letters for all the numbers; whole numbers and shares that were divided once."""
    text = by_show[COUNTS].to_csv(index=False) + by_attendance[["shows", "people", "songs_heard"]].to_csv(index=False)
    return hashlib.sha256(text.encode()).hexdigest()[:12]


def by_intake(folder):
    """Identifiers hashed, rows bucketed by person, written."""
    from tourstats.scale.taking import take_scans  # noqa: PLC0415  # only this way needs it

    taken = take_scans(folder / "scans.parquet", folder / "buckets", tour()[1], replace=True)
    return f"{taken.rows:,} scans kept"


def by_polars_intake(folder):
    """Polars does the same in memory, by a quick hash that is no secret: nothing for people, but a measure."""
    import polars as pl  # noqa: PLC0415  # only this way needs it

    scans = pl.read_parquet(folder / "scans.parquet")
    hashed = scans.select(pl.col("person").str.strip_chars().str.to_lowercase().hash(7), "show_id")
    kept = hashed.unique().sort("person", "show_id")
    kept.write_parquet(folder / "hashed.parquet", compression="uncompressed")
    return f"{len(kept):,} scans kept"


def by_threads(folder):
    """Ours."""
    got = audience.from_scans(folder / "buckets", *tour())
    return digest(got.by_show, got.by_attendance)


def by_plain_file(folder):
    """Ours, from the plain file, bucketed on the way."""
    got = audience.from_scans(folder / "scans.parquet", *tour())
    return digest(got.by_show, got.by_attendance)


def _from_patterns(words, people, once):
    """Our walk, for patterns of more than one show that a database has found; `once`: people by their only show."""
    sets = Sets.of(*tour())
    masks = bits.Masks.of(sets, "tour")
    pattern, at = _unpacked(words)
    rows = np.argsort(pattern, kind="stable")
    at, visits = at[rows], np.bincount(pattern, minlength=len(words))
    total = bits.Tally.zero(masks)
    total.attendees[:] = np.bincount(at, weights=np.repeat(people, visits), minlength=SHOWS).astype(np.int64) + once
    total.people[:] = np.bincount(visits, weights=people, minlength=SHOWS + 1).astype(np.int64)
    total.people[1] += once.sum()
    total.heard[1] = once @ masks.size
    bits.walk(at, np.cumsum(visits) - visits, visits, people, masks, total)
    return digest(bits.by_show(total, sets), bits.by_number(total))


def _unpacked(words):
    """Which pattern has which shows: the lowest bit of every word, again and again, until none is left."""
    patterns, shows = [], []
    for number in range(words.shape[1]):
        left = np.flatnonzero(words[:, number])
        word = words[left, number]
        while len(left):
            patterns.append(left)
            shows.append(
                (np.bitwise_count((word & (~word + np.uint64(1))) - np.uint64(1)) + 64 * number).astype(np.int16)
            )
            word &= word - np.uint64(1)
            more = word > 0
            left, word = left[more], word[more]
    return np.concatenate(patterns), np.concatenate(shows)


def _word(n):
    return f'bit_or(case when "show" // 64 = {n} then 1::ubigint << ("show" % 64)::ubigint else 0::ubigint end) as w{n}'


def by_duckdb_patterns(folder):
    """DuckDB finds the patterns of those who came more than once and counts them; the walk is ours."""
    import duckdb  # noqa: PLC0415  # only this way needs it

    words = ", ".join(_word(n) for n in range(4))
    scans = f"from '{folder}/buckets/*.parquet'"
    duckdb.sql(f"""create temp table people as
        select person, count(*) as visits, min("show") as first, {words} {scans} group by person""")
    found = duckdb.sql("""select w0, w1, w2, w3, count(*) as people from people where visits > 1 group by all""")
    once = duckdb.sql("select first, count(*) as people from people where visits = 1 group by all").fetchnumpy()
    found, singles = found.fetchnumpy(), np.zeros(SHOWS, np.int64)
    singles[once["first"]] = once["people"]
    return _from_patterns(
        np.column_stack([found[f"w{n}"] for n in range(4)]), found["people"].astype(np.int64), singles
    )


def by_polars_patterns(folder):
    """Polars finds the patterns of those who came more than once and counts them; the walk is ours."""
    import polars as pl  # noqa: PLC0415  # only this way needs it

    show, zero, names = pl.col("show").cast(pl.UInt64), pl.lit(0, pl.UInt64), [f"w{n}" for n in range(4)]
    bit = pl.lit(2, pl.UInt64).pow(show % 64)
    words = [pl.when(show // 64 == n).then(bit).otherwise(zero).alias(name) for n, name in enumerate(names)]
    scans = pl.scan_parquet(f"{folder}/buckets/*.parquet")
    each = [*(pl.col(name).sum() for name in names), pl.len().alias("visits"), pl.col("show").min()]
    people = scans.select("person", "show", *words).group_by("person").agg(each)
    found, once = pl.collect_all(
        [
            people.filter(pl.col("visits") > 1).group_by(names).agg(pl.len().alias("people")),
            people.filter(pl.col("visits") == 1).group_by("show").agg(pl.len().alias("people")),
        ],
        engine="streaming",
    )
    singles = np.zeros(SHOWS, np.int64)
    singles[once["show"].to_numpy()] = once["people"].to_numpy()
    return _from_patterns(found.select(names).to_numpy(), found["people"].to_numpy().astype(np.int64), singles)


JOIN = """
    with first as (select person, song, min(night) as night from scans join plays using (night) group by person, song),
         fresh as (select person, night, count(*) as fresh from first group by person, night),
         came as (select person, night, row_number() over (partition by person order by night) > 1 as again,
                  count(*) over (partition by person) as visits from scans)
    select night, again, coalesce(fresh, 0) as fresh, visits, count(*) as people
    from came left join fresh using (person, night) group by all
"""


def _from_joined(frame):
    """Tables from counts by show, first time or not, fresh songs and visits."""
    sets = Sets.of(*tour())
    total = bits.Tally.zero(bits.Masks.of(sets, "tour"))
    people = frame.people.to_numpy(np.int64)
    np.add.at(total.attendees, frame.show, people)
    again = frame[frame.again]
    np.add.at(total.fresh, (again.show, again.fresh.astype(int)), again.people.to_numpy(np.int64))
    np.add.at(total.heard, frame.visits, people * frame.fresh.to_numpy(np.int64))
    at_first = frame[~frame.again]
    np.add.at(total.people, at_first.visits, at_first.people.to_numpy(np.int64))
    return digest(bits.by_show(total, sets), bits.by_number(total))


def _plays():
    plays, _ = tour()
    return plays.assign(show=plays.show_id - 1)[["show", "song"]].drop_duplicates()


def by_duckdb_join(folder):
    """DuckDB, the direct way: scans joined with songs."""
    import duckdb  # noqa: PLC0415  # only this way needs it

    plays = _plays().rename(columns={"show": "night"})  # noqa: F841  # DuckDB reads it by its name
    duckdb.sql(f"""create view scans as select person, "show" as night from '{folder}/buckets/*.parquet'""")  # noqa: S608  # our own folder
    return _from_joined(duckdb.sql(JOIN).df().rename(columns={"night": "show"}))


def by_polars_join(folder):
    """Polars, the direct way."""
    import polars as pl  # noqa: PLC0415  # only this way needs it

    plays = pl.from_pandas(_plays()).lazy().with_columns(pl.col("show").cast(pl.UInt16))
    scans = pl.scan_parquet(f"{folder}/buckets/*.parquet")
    first = scans.join(plays, on="show").group_by("person", "song").agg(pl.col("show").min())
    fresh = first.group_by("person", "show").agg(pl.len().alias("fresh"))
    came = scans.with_columns(
        again=pl.col("show") > pl.col("show").min().over("person"), visits=pl.len().over("person")
    )
    found = (
        came.join(fresh, on=["person", "show"], how="left")
        .with_columns(pl.col("fresh").fill_null(0))
        .group_by("show", "again", "fresh", "visits")
        .agg(pl.len().alias("people"))
    )
    return _from_joined(found.collect().to_pandas())


def by_pandas_join(folder):
    """Plain pandas, the direct way."""
    scans = pd.concat([pd.read_parquet(path) for path in sorted((folder / "buckets").glob("*.parquet"))])
    joined = scans.merge(_plays(), on="show")
    first = joined.groupby(["person", "song"])["show"].min().reset_index()
    fresh = first.groupby(["person", "show"]).size().rename("fresh").reset_index()
    people = scans.groupby("person")["show"]
    came = scans.assign(again=scans["show"] > people.transform("min"), visits=people.transform("size"))
    came = came.merge(fresh, on=["person", "show"], how="left").fillna({"fresh": 0})
    found = came.groupby(["show", "again", "fresh", "visits"]).size().rename("people").reset_index()
    return _from_joined(found)


def by_dask(folder, workers, *, kill=False):
    """Dask's workers count the same buckets; with `kill`, one of them dies when the work has begun."""
    from distributed import Client, LocalCluster  # noqa: PLC0415  # only this way needs it

    with (
        LocalCluster(n_workers=workers, threads_per_worker=1, dashboard_address=None) as cluster,
        Client(cluster) as on,
    ):
        on.wait_for_workers(workers)
        victim = next(iter(on.run(os.getpid).values()))
        begin = time.perf_counter()
        if kill:
            threading.Timer(float(os.environ.get("KILL_AFTER", "0.5")), os.kill, (victim, signal.SIGKILL)).start()
        got = audience.from_scans(folder / "buckets", *tour(), cluster=on)
        took = time.perf_counter() - begin
        alive = victim in on.run(os.getpid).values()
    died = "" if not kill else ", nobody died" if alive else ", one worker died"
    return digest(got.by_show, got.by_attendance) + died, took


WAYS = {
    "intake": by_intake,
    "Polars intake": by_polars_intake,
    "threads": by_threads,
    "plain file": by_plain_file,
    "DuckDB patterns": by_duckdb_patterns,
    "Polars patterns": by_polars_patterns,
    "DuckDB join": by_duckdb_join,
    "Polars join": by_polars_join,
    "pandas join": by_pandas_join,
    "Dask, 1 worker": lambda folder: by_dask(folder, 1),
    "Dask, 2 workers": lambda folder: by_dask(folder, 2),
    "Dask, 4 workers": lambda folder: by_dask(folder, 4),
    "Dask, one killed": lambda folder: by_dask(folder, 2, kill=True),
}


def one(way, folder):
    """Run one way in this process, and print what it took."""
    begin, processor = time.perf_counter(), time.process_time()
    said = WAYS[way](folder)
    took, processor = time.perf_counter() - begin, time.process_time() - processor
    said, took = said if isinstance(said, tuple) else (said, took)
    held = max(resource.getrusage(who).ru_maxrss for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)) / 1024
    print(json.dumps({"took": took, "processor": processor, "held": held, "said": said}))


def run(rows, ways, repeat):
    """Make the scans, run every way, and print a line for each."""
    with tempfile.TemporaryDirectory(prefix="bench-scans-") as name:
        folder = Path(name)
        make_scans(folder / "scans.parquet", rows)
        environment = os.environ | {"TOURSTATS_PEOPLE_KEY": str(folder / "people.key")}
        print(f"\n{rows:,} scans, {(folder / 'scans.parquet').stat().st_size / 1e6:,.0f} MB")
        print(f"{'way':<18}{'seconds':>9}{'processor':>11}{'MB':>8}  result")
        right = None
        for way in ways:
            for _ in range(repeat):
                command = [sys.executable, __file__, "--one", way, "--folder", name]
                done = subprocess.run(command, capture_output=True, text=True, env=environment, check=False)  # noqa: S603  # our own command
                if done.returncode:
                    print(f"{way:<18}  failed: {done.stderr.strip().splitlines()[-1][:90]}", flush=True)
                    continue
                got = json.loads(done.stdout.splitlines()[-1])
                if "intake" not in way:
                    right = right or got["said"]
                    got["said"] += "" if got["said"].startswith(right) else "  WRONG"
                print(
                    f"{way:<18}{got['took']:>9.2f}{got['processor']:>11.2f}{got['held']:>8.0f}  {got['said']}",
                    flush=True,
                )


def main():
    """Read what to run."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("rows", nargs="*", type=lambda text: int(float(text)), default=[10_000_000])
    parser.add_argument("--joins", action="store_true", help="the ways that do not scale too")
    parser.add_argument("--dask", action="store_true", help="Dask with 1, 2 and 4 workers, and with one killed")
    parser.add_argument("--only", nargs="*", choices=WAYS, help="these ways only (intake comes first)")
    parser.add_argument("--repeat", type=int, default=1, help="times each way is run")
    parser.add_argument("--one", choices=WAYS, help=argparse.SUPPRESS)
    parser.add_argument("--folder", type=Path, help=argparse.SUPPRESS)
    asked = parser.parse_args()
    if asked.one:
        one(asked.one, asked.folder)
        return
    ways = [way for way in WAYS if asked.joins or "join" not in way]
    ways = asked.only or [way for way in ways if asked.dask or "Dask" not in way]
    for rows in asked.rows:
        run(rows, ways, asked.repeat)


if __name__ == "__main__":
    main()
