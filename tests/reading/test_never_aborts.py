"""Whatever somebody brings, reading and writing it ends in a reading, a question or a sentence."""

from __future__ import annotations

import contextlib
import io
import zipfile

import openpyxl
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tourstats.diary import opened
from tourstats.diary.intake import intake
from tourstats.problems import Problem
from tourstats.reading.sources import Pasted, read

PIECES = st.sampled_from(
    """/ /Quill Harbourer/1893/4 March 2031/2031-03-05/05.06.31/Encore:/ENCORE/???/-/cut/~~Moth Tin~~/Total 20
/1. Moth Tin/2) Quill Harbourer/20:04 01 Moth Tin/Ostby/date/song/town/pos/#REF!/3:45/Moth Tin > Quill Harbourer/"/x
/Moth Tin or Quill Harbourer/swap 1 and 2/> On Sun, 30 Mar 2031 at 11:08, Odile wrote:/[10.10.31, 16:02] Odile: Moth Tin
/-1/01   Moth Tin      02   Quill Harbourer/\u0336M\u0336/'=1/\ufeff/\x0c/()/| a | b |/{}/<td>/#tag #other""".replace(
        "\n", ""
    ).split("/")
)
TEXTS = st.lists(st.lists(PIECES, max_size=4).map(" ".join), max_size=14).map("\n".join)
TABLES = st.tuples(
    st.sampled_from([",", ";", "\t", "|", "    "]), st.lists(st.lists(PIECES, min_size=1, max_size=6), max_size=10)
)
QUICK = settings(max_examples=25, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))


@pytest.fixture(scope="module")
def diary(tmp_path_factory):
    """One diary for all of them: what one brought stays for the next."""
    with opened(tmp_path_factory.mktemp("never") / "tour.sqlite") as one:
        yield one


def _taken_in(text, diary):
    for accept in (False, True):
        with contextlib.suppress(Problem):
            intake(diary, Pasted(text, "what came.txt"), accept=accept)


@QUICK
@given(text=TEXTS)
def test_no_text_aborts(text, diary):
    """
    Lines in any order and number are read, asked about or refused in a sentence, also with the proposal accepted.
    """
    _taken_in(text, diary)


@QUICK
@given(table=TABLES)
def test_no_table_aborts(table, diary):
    """
    Nor does a table with empty columns, one row or ragged rows.
    """
    separator, rows = table
    _taken_in("\n".join(separator.join(row) for row in rows), diary)


def _workbook(cells):
    book = openpyxl.Workbook()
    for (row, column), value in cells.items():
        book.active.cell(row, column, value)
    data = io.BytesIO()
    book.save(data)
    return data.getvalue()


def test_a_cell_at_the_far_corner_costs_nothing():
    """
    The last cell of a sheet is said to be far away; the shows are read as if it were not there.
    """
    titles = ["Quill Harbourer", "Moth Tin", "Salt Lanternist", "Wax Ferryman"]
    rows = [(f"2031-03-0{day}", title) for day in range(1, 6) for title in titles]
    cells = {(1, 1): "date", (1, 2): "song"} | {
        (row, column): value for row, pair in enumerate(rows, start=2) for column, value in enumerate(pair, start=1)
    }

    found = read(Pasted(_workbook(cells | {(1_048_576, 16_384): "stray"}), "tour.xlsx"))

    assert (5, 20) == (len(found.shows), len(found.plays))
    assert ["far away from the table"] == found.account[found.account.as_typed == "stray"].why.tolist()


def test_a_workbook_that_unpacks_to_half_a_gigabyte_is_refused():
    """
    The size is read before anything is unpacked.
    """
    data = io.BytesIO()
    with (
        zipfile.ZipFile(data, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as book,
        book.open("xl/workbook.xml", "w") as part,
    ):
        for _ in range(410):
            part.write(b" " * 1_000_000)

    with pytest.raises(Problem, match="unpacks to more than 400 MB"):
        read(Pasted(data.getvalue(), "bomb.xlsx"))


@pytest.mark.parametrize("deep", ["<div>" * 50_000 + "Moth Tin", "[" * 50_000, '{"a":' * 20_000])
def test_what_is_nested_deeply_ends_in_a_sentence(deep, diary):
    """
    Neither a page nor data of fifty thousand levels overflows anything.
    """
    _taken_in(deep, diary)
