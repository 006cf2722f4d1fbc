"""Scans of any length give what a table in memory gives, to the last digit."""

import os
import signal
import tempfile
import time
from functools import partial
from pathlib import Path

import numpy as np
import pandas as pd
import pyarrow as pa
import pyarrow.parquet as pq
import pytest
from hypothesis import given, settings

from tests.models.audience.tours import crowds, random_people, random_tour
from tourstats.models import audience
from tourstats.models.audience import bits
from tourstats.models.audience.from_sets import AudienceProblem, Sets
from tourstats.scale import buckets, counting, taking


@pytest.fixture(scope="module")
def tour():
    plays, shows = random_tour(1, shows=70, songs=90, size=14, legs=4)
    return plays, shows, random_people(2, shows, people=900, most=9)


@pytest.fixture(autouse=True)
def _own_key(tmp_path, monkeypatch):
    monkeypatch.setenv("TOURSTATS_PEOPLE_KEY", str(tmp_path / "own" / "people.key"))


@pytest.fixture
def parquet(tmp_path, tour):
    path = tmp_path / "scans.parquet"
    again = pd.concat([tour[2], tour[2].head(40)]).sample(frac=1, random_state=1)
    pq.write_table(pa.Table.from_pandas(again, preserve_index=False), path)
    return path


def same(got, plays, shows, people, within):
    pd.testing.assert_frame_equal(audience.freshness(plays, shows, people, within), got.by_show, check_exact=True)
    pd.testing.assert_frame_equal(audience.by_attendance(plays, shows, people), got.by_attendance, check_exact=True)


@pytest.mark.parametrize("within", ["leg", "tour"])
@pytest.mark.parametrize("rows", [buckets.PER_BUCKET, 37])
def test_a_parquet_file_gives_what_the_table_gives(parquet, tour, within, rows, monkeypatch):
    """
    In one bucket or in many, with scans in no order and forty of them twice.
    """
    monkeypatch.setattr(buckets, "PER_BUCKET", rows)
    monkeypatch.setattr(counting, "BATCH", 500)
    got = audience.from_scans(parquet, *tour[:2], within=within)

    same(got, *tour, within)
    assert [0, 0, 0, 40] == got.left_out.rows.tolist()


@settings(max_examples=15)
@given(crowd=crowds())
def test_any_crowd_gives_what_the_table_gives(crowd):
    """
    Interleaved legs, shows numbered in no order.
    """
    plays, shows, people = crowd
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder, "scans.parquet")
        pq.write_table(pa.table({"person": pa.array(people.person, pa.string()), "show_id": people.show_id}), path)
        got = audience.from_scans(path, plays, shows, within="leg")

    assert set(plays.show_id) == set(got.by_show.show_id)
    same(got, plays, shows, people, "leg")


@pytest.mark.parametrize("kind", [pa.int64(), pa.int32(), pa.large_string(), pa.dictionary(pa.int32(), pa.string())])
def test_people_and_shows_may_be_text_or_numbers(kind, tmp_path, tour):
    """
    Of any width; a show number as text or as 3.0 is the same show.
    """
    plays, shows, people = tour
    codes = pd.factorize(people.person)[0]
    person = pa.array(codes if pa.types.is_integer(kind) else [f"p{n}" for n in codes]).cast(kind)
    folder = tmp_path / "scans"
    folder.mkdir()
    half = len(people) // 2
    pq.write_table(
        pa.table({"person": person[:half], "show_id": people.show_id[:half].astype(float)}), folder / "1.parquet"
    )
    pq.write_table(
        pa.table({"person": person[half:], "show_id": people.show_id[half:].astype(str)}), folder / "2.parquet"
    )

    got = audience.from_scans(folder, plays, shows)

    assert [0, 0, 0, 0] == got.left_out.rows.tolist()
    same(got, *tour, "tour")


@pytest.mark.parametrize("workers", [1, 3])
def test_buckets_of_the_intake_give_what_the_table_gives(parquet, tour, tmp_path, workers, monkeypatch):
    """
    However many threads; a second reading gives the same.
    """
    monkeypatch.setattr(buckets, "PER_BUCKET", 300)
    taken = taking.take_scans(parquet, tmp_path / "buckets", tour[1])

    assert len(tour[2]) == taken.rows
    assert len(list((tmp_path / "buckets").glob("bucket-*.parquet"))) > 1
    got = audience.from_scans(tmp_path / "buckets", *tour[:2], within="leg", workers=workers)
    same(got, *tour, "leg")
    assert [0, 0, 0, 0] == got.left_out.rows.tolist()


def test_shows_may_have_changed_since_the_intake(parquet, tour, tmp_path):
    """
    A show that is gone, one whose set is not known, dates in another order: as for the table without these scans.
    """
    plays, shows, people = tour
    taking.take_scans(parquet, tmp_path / "buckets", shows)
    dates = shows.date.sample(frac=1, random_state=3).to_numpy()
    turned = shows.assign(date=dates)[lambda t: t.show_id != 7]
    without = plays[~plays.show_id.isin([7, 9])]
    got = audience.from_scans(tmp_path / "buckets", without, turned, within="leg")

    same(got, without, turned, people[people.show_id != 7], "leg")
    assert [(people.show_id == 7).sum(), (people.show_id == 9).sum(), 0, 0] == got.left_out.rows.tolist()


def test_rows_without_a_person_or_a_show_are_counted_not_used(tmp_path, tour):
    """
    And the rest is what it would be without them.
    """
    plays, shows, people = tour
    table = pa.table({
        "person": pa.array([*people.person, None, "x", "y"], pa.string()),
        "show_id": pa.array([*people.show_id.astype(str), "1", "77", None], pa.string()),
    })  # fmt: skip
    pq.write_table(table, tmp_path / "scans.parquet")
    got = audience.from_scans(tmp_path / "scans.parquet", plays, shows)

    same(got, *tour, "tour")
    assert [2, 0, 1, 0] == got.left_out.rows.tolist()


def test_small_groups_can_be_left_out(parquet, tour):
    """
    With the same rule as everywhere.
    """
    plays, shows, people = tour
    got = audience.from_scans(parquet, plays, shows, hide_under=5)

    pd.testing.assert_frame_equal(audience.freshness(plays, shows, people, "tour", hide_under=5), got.by_show)
    pd.testing.assert_frame_equal(audience.by_attendance(plays, shows, people, hide_under=5), got.by_attendance)


def broken(path, how):
    if how == "cut short":
        path.write_bytes(path.read_bytes()[:-200])
    if how == "not Parquet":
        path.write_text("person,show_id\n")
    if how == "other columns":
        pq.write_table(pa.table({"who": ["a"], "show_id": [1]}), path)
    if how == "people as lists":
        pq.write_table(pa.table({"person": [["a"]], "show_id": [1]}), path)
    if how == "not there":
        path.unlink()


@pytest.mark.parametrize(
    ("how", "sentence"),
    [
        ("cut short", "scans.parquet cannot be read as Parquet; it may be cut short. Get it again, or take it out."),
        ("not Parquet", "scans.parquet cannot be read as Parquet; it may be cut short. Get it again, or take it out."),
        ("other columns", "scans.parquet has the columns who, show_id; scans need person and show_id. Rename them."),
        ("people as lists", "scans.parquet: person has to be text or whole numbers; it is list<"),
        ("not there", "There are no scans at "),
    ],
)
def test_a_broken_file_is_answered_and_leaves_nothing(parquet, tour, how, sentence, tmp_path, monkeypatch):
    """
    The sentence says which file; the temporary folder is gone.
    """
    scratch = tmp_path / "scratch"
    scratch.mkdir()
    monkeypatch.setattr(tempfile, "tempdir", str(scratch))
    broken(parquet, how)
    with pytest.raises(AudienceProblem) as caught:
        audience.from_scans(parquet, *tour[:2])

    assert str(caught.value).startswith(sentence)
    assert [] == list(scratch.iterdir())


def test_a_damaged_bucket_is_answered(parquet, tour, tmp_path):
    """
    Numbers that changed on the disk are not taken for people.
    """
    taking.take_scans(parquet, tmp_path / "buckets", tour[1])
    bucket = tmp_path / "buckets" / "bucket-0000.parquet"
    whole = bucket.read_bytes()
    bucket.write_bytes(whole[:2000] + bytes(8) + whole[2008:])
    with pytest.raises(AudienceProblem) as caught:
        audience.from_scans(tmp_path / "buckets", *tour[:2])

    assert "bucket-0000.parquet is damaged. Take the scans in again." == str(caught.value)


def test_interrupting_leaves_nothing(parquet, tour, tmp_path, monkeypatch):
    """
    Not half-way through the buckets either.
    """
    scratch = tmp_path / "scratch"
    scratch.mkdir()
    monkeypatch.setattr(tempfile, "tempdir", str(scratch))
    monkeypatch.setattr(buckets, "PER_BUCKET", 37)
    count, calls = counting.count_bucket, []

    def tired(path, places, masks):
        calls.append(path)
        if len(calls) == 5:
            raise KeyboardInterrupt
        return count(path, places, masks)

    monkeypatch.setattr(counting, "count_bucket", tired)
    with pytest.raises(KeyboardInterrupt):
        audience.from_scans(parquet, *tour[:2], workers=1)

    assert [] == list(scratch.iterdir())
    assert len(calls) < 64  # of the buckets; how many were under way when it was stopped is the machine's affair


def test_what_is_spilled_names_nobody(parquet, tour, tmp_path, monkeypatch):
    """
    Temporary buckets hold mixed numbers only, other ones each time.
    """
    seen = []
    count = counting.count_bucket

    def look(path, places, masks):
        seen.append(Path(path).read_bytes())
        return count(path, places, masks)

    monkeypatch.setattr(counting, "count_bucket", look)
    audience.from_scans(parquet, *tour[:2])
    audience.from_scans(parquet, *tour[:2])

    assert not any(b"p12" in part for part in seen)
    people = [np.frombuffer(part, counting.SPILL)["person"] for part in seen]
    assert 0 == len(np.intersect1d(*people))


@pytest.mark.parametrize(("rows", "bits"), [(0, 0), (750_000, 0), (750_001, 1), (10_000_000, 4), (10**12, 10)])
def test_buckets_are_neither_long_nor_very_many(rows, bits):
    """
    A power of two.
    """
    assert bits == buckets.bits_for(rows)


@pytest.mark.full
def test_a_cluster_gives_the_same_also_when_a_worker_dies(parquet, tour, tmp_path, monkeypatch):
    """
    Dask's workers count the buckets; one of two is killed when the work has begun, and every bucket still counts once.
    """
    # With the extra `cluster`; everybody else's tests, and their first start, do without it.
    from distributed import Client, LocalCluster  # noqa: PLC0415  # an extra, for this test only

    monkeypatch.setattr(buckets, "PER_BUCKET", 200)
    taking.take_scans(parquet, tmp_path / "buckets", tour[1])
    plays, shows, people = tour
    sets = Sets.of(plays, shows)
    work = partial(slow, places=np.arange(len(shows)), masks=bits.Masks.of(sets, "leg"))
    files = [str(path) for path in (tmp_path / "buckets").glob("bucket-*")]
    assert len(files) >= 16
    with LocalCluster(n_workers=2, threads_per_worker=1, dashboard_address=None) as cluster, Client(cluster) as client:
        by_address = audience.from_scans(tmp_path / "buckets", plays, shows, "leg", cluster=cluster.scheduler_address)
        first = next(iter(client.run(os.getpid).values()))
        counted = counting._by_dask(work, files, None, client)
        total, _ = next(counted)
        os.kill(first, signal.SIGKILL)
        for part, _ in counted:
            total += part
        assert first not in client.run(os.getpid).values()

    same(by_address, plays, shows, people, "leg")
    pd.testing.assert_frame_equal(by_address.by_show, bits.by_show(total, sets))


def slow(bucket, places, masks):
    """Take long enough over a bucket that a worker dies with one in its hands."""
    time.sleep(0.1)
    return counting.count_bucket(bucket, places, masks)
