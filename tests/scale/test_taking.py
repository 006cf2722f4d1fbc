"""Intake of scans: hashed before anything is written, whole or not at all, and every trouble listed."""

import json
import traceback

import numpy as np
import pandas as pd
import pyarrow as pa
import pyarrow.parquet as pq
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tourstats.diary.people import key_for
from tourstats.problems import Problem
from tourstats.scale import buckets, scan_files, scan_problems, siphash, taking
from tourstats.scale.scan_files import identifiers

SHOWS = pd.DataFrame({
    "show_id": [1, 2, 3, 4],
    "date": ["2031-03-01", "2031-03-02", "2031-03-03", "2031-03-03"],
    "number": [1, 1, 1, 2],
})  # fmt: skip
PEOPLE = ["ola@example", "Café-Club 7", "ticket 0031", "ola@example"]


@pytest.fixture
def csv_file(tmp_path):
    path = tmp_path / "scans.csv"
    path.write_text("person,show_id,gate\n" + "".join(f"{p},{n},A\n" for n, p in enumerate(PEOPLE, start=1)))
    return path


def read_back(folder):
    tables = [pq.read_table(file).to_pandas() for file in sorted(folder.glob("bucket-*.parquet"))]
    return pd.concat(tables, ignore_index=True)


def number_of(person):
    return int(siphash.numbers(identifiers(pa.array([person])), key_for(taking.NUMBERED))[0])


def scans_in(path, folder, **columns):
    """Scans of a file as (number of the person, show), and what was wrong."""
    taken = taking.take_scans(path, folder, SHOWS, replace=True, **columns)
    kept = read_back(folder).itertuples(index=False, name=None) if taken.written else []
    return [(person, show + 1) for person, show in kept], taken.problems


def left(folder):
    """What is in a folder, besides the key and the settings of the tests."""
    return sorted(path.name for path in folder.iterdir() if path.name != "own" and not path.name.startswith("xdg"))


WAYS = {
    "semicolons": lambda text: text.replace(",", ";").encode(),
    "tabs": lambda text: text.replace(",", "\t").encode(),
    "a mark": lambda text: b"\xef\xbb\xbf" + text.encode(),
    "UTF-16": lambda text: text.encode("utf-16"),
    "Windows-1252": lambda text: text.encode("cp1252"),
    "line ends": lambda text: text.replace("\n", "\r\n").encode(),
    "quotes": lambda text: "\n".join(
        ",".join(f'"{cell}"' for cell in line.split(",")) for line in text.splitlines()
    ).encode(),
    "spaces around": lambda text: text.replace("@example,", "@example ,").encode(),
}


@pytest.mark.parametrize("way", WAYS)
def test_every_way_a_list_arrives_reads_the_same(csv_file, tmp_path, way):
    """
    Separators, encodings, ends of lines, quotes.
    """
    csv_file.write_bytes(WAYS[way](csv_file.read_text()))
    got, problems = scans_in(csv_file, tmp_path / "buckets")

    assert 0 == len(problems)
    assert sorted((number_of(person), show) for show, person in enumerate(PEOPLE, start=1)) == got
    assert 3 == len({person for person, _ in got})


@pytest.mark.parametrize("values", [[7, 8, 7], [7.0, 8.0, 7.0], ["7", " 8", "7 "], [b"7", b"8", b"7"]])
def test_an_identifier_is_the_same_however_a_file_keeps_it(tmp_path, values):
    """
    Numbers, numbers with a point, text, bytes.
    """
    path = tmp_path / "club.parquet"
    pq.write_table(pa.table({"member": values, "day": ["2031-03-01", "2031-03-02", "2031-03-02"]}), path)
    got, _ = scans_in(path, tmp_path / "buckets", person="member", show="day")

    assert sorted([(number_of("7"), 1), (number_of("8"), 2), (number_of("7"), 2)]) == got


def test_spaces_and_capitals_make_no_other_person():
    """
    As in the diary, also where a text is not plain: accents written another way, spaces that are none of ASCII's.
    """
    given = ["Ola@Example", " ola@example ", "CAFÉ\u00a0club", "cafe\u0301  Club", "STRASSE", "straße", "plain", ""]

    assert ["ola@example"] * 2 + ["café club"] * 2 + ["strasse"] * 2 + ["plain", ""] == identifiers(
        pa.array(given)
    ).to_pylist()


def test_a_number_is_the_published_keyed_hash():
    """
    SipHash-2-4 of the bytes 0 to 14 under the key of the bytes 0 to 15: Aumasson and Bernstein (2012), appendix A.
    Its 64 bits are shuffled by the end of SplitMix64 (Steele, Lea and Flood 2014), which gives each number another.
    """
    text, key = "".join(map(chr, range(15))), "".join(map(chr, range(16)))
    number = 0xA129CA6149BE45E5
    for shift, odd in ((30, 0xBF58476D1CE4E5B9), (27, 0x94D049BB133111EB), (31, 1)):
        number = (number ^ (number >> shift)) * odd % 2**64

    assert [number] == siphash.numbers(pa.array([text]), key).tolist()


@given(st.lists(st.text(max_size=70), max_size=60), st.integers(0, 60), st.integers(1, 40))
def test_many_texts_are_hashed_as_one_by_one(texts, first, at_once):
    """
    Of any length, in any order, however many go together: `pandas.util.hash_array`, which hashes text by text.
    """
    arrived, key = pa.array(texts, pa.string())[first:], "0123456789abcdef"
    one_by_one = pd.util.hash_array(np.array(texts[first:], object), hash_key=key, categorize=False)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(siphash, "AT_ONCE", at_once)

        assert one_by_one.tolist() == siphash.numbers(arrived, key).tolist()


def test_more_scans_are_added_to_those_that_are_there(tmp_path, monkeypatch):
    """
    What both hold counts once, in as many buckets as it then takes; nothing is added to people of another key.
    """
    monkeypatch.setattr(buckets, "PER_BUCKET", 300)
    random = np.random.default_rng(2)
    frame = pd.DataFrame({"person": random.integers(0, 400, 1500), "show_id": random.integers(1, 5, 1500)})
    for name, part in (("all", frame), ("first", frame[:900]), ("second", frame[600:])):
        pq.write_table(pa.Table.from_pandas(part), tmp_path / f"{name}.parquet")
    taking.take_scans(tmp_path / "all.parquet", tmp_path / "all", SHOWS)
    taking.take_scans(tmp_path / "first.parquet", tmp_path / "added", SHOWS, add=True)
    taken = taking.take_scans(tmp_path / "second.parquet", tmp_path / "added", SHOWS.iloc[::-1], add=True)
    whole, added = (read_back(tmp_path / name).sort_values(["person", "show"]) for name in ("all", "added"))

    assert len(whole) == taken.rows
    np.testing.assert_array_equal(whole.to_numpy(), added.to_numpy())
    monkeypatch.setenv("TOURSTATS_PEOPLE_KEY", str(tmp_path / "another.key"))
    with pytest.raises(Problem, match="hashed with another key for people"):
        taking.take_scans(tmp_path / "second.parquet", tmp_path / "added", SHOWS, add=True)


def test_buckets_hold_each_scan_once_in_order(tmp_path, monkeypatch):
    """
    Each person in one bucket, ordered by person and show; scanned twice counts once, and is said.
    """
    monkeypatch.setattr(buckets, "PER_BUCKET", 100)
    random = np.random.default_rng(1)
    frame = pd.DataFrame({"person": random.integers(0, 200, 2000), "show_id": random.integers(1, 5, 2000)})
    path = tmp_path / "scans.parquet"
    pq.write_table(pa.Table.from_pandas(frame), path)
    taken = taking.take_scans(path, tmp_path / "buckets", SHOWS)
    got = read_back(tmp_path / "buckets")
    once = frame.drop_duplicates()

    assert len(once) == taken.rows == len(got)
    assert f"{2000 - len(once):,} scans of somebody who was scanned at that show before" == taken.problems.problem[0]
    assert (got.person.dtype, got.show.dtype) == ("uint64", "uint16")
    pd.testing.assert_frame_equal(got, got.sort_values(["person", "show"], ignore_index=True))
    expected = [(number_of(str(person)), show - 1) for person, show in once.itertuples(index=False)]
    assert sorted(expected) == list(got.itertuples(index=False, name=None))
    assert ["1", "2", "3", "4"] == json.loads((tmp_path / "buckets" / "about.json").read_text())["shows"]
    assert 0o700 == (tmp_path / "buckets").stat().st_mode & 0o777


def test_what_cannot_be_used_is_listed_and_left_out(tmp_path):
    """
    Nobody, unknown shows, a day with two shows, a field of ten million letters, a line with too few fields.
    """
    path = tmp_path / "odd.csv"
    lines = [
        "person,show_id", "ola,1", ",1", "  ,2", "None,2", "mim,9", "mim,2031-03-02", "mim,2031-03-03", "tor,9",
        "x" * 10_000_000 + ",2", "short", "ola,2", "ola,1", "zoe,harbour",
    ]  # fmt: skip
    path.write_text("\n".join(lines))
    taken = taking.take_scans(path, tmp_path / "buckets", SHOWS)

    assert taken.written
    assert 3 == taken.rows == len(read_back(tmp_path / "buckets"))
    nobody, strange = "nobody is identified", "not a show of the diary, nor a day with one show"
    assert [
        (11, "", "1 fields", "not the 2 fields of the heading"),
        (3, "person", "", nobody), (4, "person", "", nobody), (5, "person", "", nobody),
        (10, "person", "10,000,000 letters", "longer than 1,000 letters"),
        (6, "show_id", "9", strange), (8, "show_id", "2031-03-03", strange), (14, "show_id", "harbour", strange),
        (pd.NA, "", "", "1 scan of somebody who was scanned at that show before"),
    ] == list(taken.problems[["row", "column", "value", "problem"]].itertuples(index=False, name=None))  # fmt: skip
    assert "2 rows left out. Add the show, or correct the file." == taken.problems.todo[5]
    assert {"odd.csv"} == set(taken.problems.file)
    assert scan_problems.PROBLEMS == list(taken.problems.columns)


def test_many_of_a_kind_are_counted(tmp_path):
    """
    Twenty rows are listed, the rest in one line; the lines are right in every part of a long file.
    """
    path = tmp_path / "gaps.csv"
    path.write_text("person,show_id\n" + "ola,1\n,1\n" * 400)
    _, problems = scans_in(path, tmp_path / "buckets")
    listed = problems[problems["row"].notna()]

    assert list(range(3, 43, 2)) == listed["row"].tolist()
    assert ["nobody is identified: 380 more rows"] == problems.problem[
        problems["row"].isna() & (problems.column == "person")
    ].tolist()


def test_lines_are_counted_through_parts(tmp_path, monkeypatch):
    """
    In the tenth block of a file, after lines that were passed over, the number is still that of the line.
    """
    monkeypatch.setattr(scan_files, "BLOCK", 200)
    lines = ["person,show_id"] + [f"p{n},1" if n % 9 else "short" for n in range(300)]
    lines[250] = "ola,nowhere"
    path = tmp_path / "long.csv"
    path.write_text("\n".join(lines))
    _, problems = scans_in(path, tmp_path / "buckets")

    assert [251] == problems["row"][problems.value == "nowhere"].tolist()


def broken(path, how):
    """Spoil a file; return its path."""
    whole = path.read_bytes()
    spoiled = {
        "cut short": whole[: len(whole) - 300],
        "a hole": whole[:4] + bytes(500) + whole[504:],
        "empty": b"",
        "other columns": b"name,night\nola,1\n",
        "a picture": b"\x89PNG\r\n\x1a\n" + bytes(range(256)) * 10,
    }[how]
    path.write_bytes(spoiled)
    return path


@pytest.mark.parametrize("how", ["cut short", "a hole", "empty", "other columns", "a picture"])
def test_a_broken_file_writes_nothing(tmp_path, how):
    """
    The first file of two is whole, the second is not: no buckets, nothing half-written, and a line that says why.
    """
    random = np.random.default_rng(1)
    frame = pd.DataFrame({"person": random.integers(0, 10**9, 5000), "show_id": random.integers(1, 5, 5000)})
    for name in ("1.parquet", "2.parquet"):
        pq.write_table(pa.Table.from_pandas(frame), tmp_path / name, compression="NONE", use_dictionary=False)
    if how in ("empty", "other columns", "a picture"):
        (tmp_path / "2.parquet").rename(tmp_path / "2.csv")
    second = broken(next(tmp_path.glob("2.*")), how)
    taken = taking.take_scans([tmp_path / "1.parquet", second], tmp_path / "buckets", SHOWS)

    assert (0, False) == (taken.rows, taken.written)
    assert ["1.parquet", second.name] == left(tmp_path)
    assert second.name == taken.problems.file.iloc[-1]
    assert taken.problems.problem.iloc[-1] in (
        "it cannot be read to its end",
        "there is no column person and no show_id",
    )


def test_stopping_half_way_leaves_the_old_buckets(csv_file, tmp_path, monkeypatch):
    """
    Whole old buckets, or whole new ones, and nothing beside them.
    """
    target = tmp_path / "buckets"
    taking.take_scans(csv_file, target, SHOWS)
    before = {path.name: path.read_bytes() for path in target.iterdir()}

    def tired(*_):
        raise KeyboardInterrupt

    monkeypatch.setattr(buckets, "write", tired)
    with pytest.raises(KeyboardInterrupt):
        taking.take_scans(csv_file, target, SHOWS, replace=True)

    assert before == {path.name: path.read_bytes() for path in target.iterdir()}
    assert ["buckets", "scans.csv"] == left(tmp_path)


def test_buckets_are_replaced_only_if_said(csv_file, tmp_path):
    """
    And a folder of something else never.
    """
    target = tmp_path / "buckets"
    taking.take_scans(csv_file, target, SHOWS)
    with pytest.raises(Problem) as caught:
        taking.take_scans(csv_file, target, SHOWS)
    assert str(caught.value) == (
        f"{target} is there already. Name another folder, or say replace=True if it holds scans that may go."
    )
    csv_file.write_text("person,show_id\nola,1\n")
    assert 1 == taking.take_scans(csv_file, target, SHOWS, replace=True).rows
    assert 1 == len(read_back(target))
    (tmp_path / "photos").mkdir()
    with pytest.raises(Problem, match="photos is there already"):
        taking.take_scans(csv_file, tmp_path / "photos", SHOWS, replace=True)
    with pytest.raises(Problem, match="There is no file of scans at"):
        taking.take_scans(tmp_path / "nothing.csv", tmp_path / "other", SHOWS)


def test_one_person_or_everybody_is_forgotten(csv_file, tmp_path):
    """
    By what identified them; then nothing of theirs is in the folder.
    """
    target = tmp_path / "buckets"
    taking.take_scans(csv_file, target, SHOWS)

    assert 2 == taking.forget_scans(target, " ola@example ")
    assert 0 == taking.forget_scans(target, "ola@example")
    assert 2 == len(read_back(target)) == json.loads((target / "about.json").read_text())["rows"]
    assert 1 == taking.forget_scans(target, "Ticket 0031")
    assert 1 == taking.forget_scans(target)
    assert not target.exists()
    with pytest.raises(Problem, match="There are no scans in"):
        taking.forget_scans(target)


def everything_under(folder):
    return b"".join(path.read_bytes() for path in folder.rglob("*") if path.is_file())


def test_nobody_can_be_read_in_what_is_written_or_said(csv_file, tmp_path):
    """
    Not in the buckets, in no message, and not if somebody mixes up the columns.
    """
    target = tmp_path / "out" / "buckets"
    taken = taking.take_scans(csv_file, target, SHOWS)
    mixed = taking.take_scans(csv_file, tmp_path / "out" / "mixed", SHOWS, person="show_id", show="person")

    for person in ("ola@example", "ticket 0031"):
        assert person.encode() not in everything_under(tmp_path / "out")
        assert person not in repr(taken) + taken.problems.to_csv()
    assert "ola@example" not in mixed.problems.to_csv()


def test_the_key_is_in_nothing_that_is_written_or_said(csv_file, tmp_path, monkeypatch):
    """
    It is kept apart, for its owner alone; not in buckets, in tables, in what a function looks like, or in a traceback.
    """
    place = tmp_path / "secret" / "people.key"
    monkeypatch.setenv("TOURSTATS_PEOPLE_KEY", str(place))
    taken = taking.take_scans(csv_file, tmp_path / "out" / "buckets", SHOWS)
    key = place.read_bytes()

    assert 0o600 == place.stat().st_mode & 0o777
    monkeypatch.setattr(buckets, "spill", lambda *_: 1 / 0)
    with pytest.raises(ZeroDivisionError) as caught:
        taking.take_scans(csv_file, tmp_path / "out" / "other", SHOWS)
    told = traceback.TracebackException.from_exception(caught.value, capture_locals=True)
    frames = str([frame.locals for frame in told.stack if "tourstats" in frame.filename])
    assert "trouble" in frames
    said = repr(taken) + taken.problems.to_csv() + frames
    for form in (repr(key)[2:-1], key.hex()):
        assert form not in said
    assert key not in everything_under(tmp_path / "out")
    assert ["buckets"] == left(tmp_path / "out")


def test_another_key_makes_other_people(csv_file, tmp_path, monkeypatch):
    """
    Without the key, a list of names cannot be tried against the hashes.
    """
    first, _ = scans_in(csv_file, tmp_path / "buckets")
    monkeypatch.setenv("TOURSTATS_PEOPLE_KEY", str(tmp_path / "another.key"))
    second, _ = scans_in(csv_file, tmp_path / "buckets")

    assert not {person for person, _ in first} & {person for person, _ in second}
