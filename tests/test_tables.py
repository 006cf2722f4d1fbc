"""Tables take what people have, and name the cell that is wrong."""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tourstats import tables
from tourstats.problems import TableProblem

ROOT = Path(__file__).parents[1]


@pytest.mark.parametrize(
    ("table", "columns", "sentence"),
    [
        (
            "songs",
            {"song": ["Ferry", "Tin Rook"], "status": ["active", "asleep"]},
            "Row 2 of the table of songs: `status` is 'asleep', but it has to be one of active, learning, retired.",
        ),
        (
            "songs",
            {"song": ["Ferry", "Ferry"]},
            "Row 1 of the table of songs: `song` is 'Ferry', but it has to be there once only.",
        ),
        (
            "songs",
            {"song": ["Ferry"], "tempo_bpm": [-3]},
            "Row 1 of the table of songs: `tempo_bpm` is -3, but it has to be a number over 0 and at most 400.",
        ),
        (
            "shows",
            {"show_id": [1], "date": ["01/02/2031"]},
            "Row 1 of the table of shows: `date` is '01/02/2031', but it has to be a day such as 2031-03-04.",
        ),
        (
            "shows",
            {"show_id": [1, 2], "date": ["2031-03-04", "9031-03-05"]},
            "Row 2 of the table of shows: `date` is '9031-03-05', but it has to be a day such as 2031-03-04.",
        ),
        (
            "shows",
            {"show_id": [1, 2], "date": np.array(["NaT", "9031-03-05"], dtype="datetime64[us]")},
            "Row 2 of the table of shows: `date` is '9031-03-05', but it has to be a day such as 2031-03-04.",
        ),
        (
            "plays",
            {"show_id": [1], "song": ["Ferry"]},
            (
                "The table of plays needs the column `position`; it has show_id, song. "
                "Add what is missing, or rename what is there."
            ),
        ),
        (
            "mistakes",
            {"show_id": [1], "song": ["Ferry"], "severity": [4]},
            "Row 1 of the table of mistakes: `severity` is 4, but it has to be one of 1, 2, 3.",
        ),
        (
            "plays",
            {"show_id": [1, 1, 2, 2], "position": [1, 2, 3, 3], "song": ["Ferry", "Ferry", "Ferry", "Tin Rook"]},
            (
                'The table of plays has 2 rows for position 3 of show 2: "Ferry" and "Tin Rook". '
                "Give each song a position of its own, or take out what is there twice."
            ),
        ),
    ],
    ids=lambda value: value if isinstance(value, str) and " " not in value else "",
)
def test_the_wrong_cell_is_named(table, columns, sentence):
    """
    Table, row, column, value, and what it may hold.
    """
    with pytest.raises(TableProblem) as caught:
        tables.checked(pd.DataFrame(columns), table)

    assert sentence == str(caught.value)


def test_a_play_without_its_show_does_not_vanish():
    """
    It is said which shows are missing, instead of leaving the rows out.
    """
    shows = pd.DataFrame({"show_id": [1], "date": ["2031-03-04"]})
    plays = pd.DataFrame({"show_id": [1, 7], "position": [1, 1], "song": ["Ferry", "Tin Rook"]})

    with pytest.raises(TableProblem) as caught:
        tables.in_sets(plays, shows)

    assert (
        "The table of plays has rows for 7, which the table of shows does not have. "
        "Add the show, or take these rows out." == str(caught.value)
    )


@given(st.permutations(range(6)), st.permutations(range(3)))
def test_sets_come_in_order_however_the_rows_lie(rows, nights):
    """
    By day, number on the day, and position; never by show_id or by the order of entry.
    """
    shows = pd.DataFrame(
        {"show_id": [9, 4, 2], "date": ["2031-03-05", "2031-03-04", "2031-03-04"], "number": [1, 2, 1]}
    )
    plays = pd.DataFrame(
        {"show_id": [2, 2, 4, 4, 9, 9], "position": [1, 2] * 3, "song": ["A", "B", "C", "D", "E", "F"]}
    )

    got, ordered = tables.in_sets(plays.iloc[rows], shows.iloc[nights])

    assert list("ABCDEF") == got.song.tolist()
    assert ([2, 4, 9], [0, 1, 2]) == (ordered.show_id.tolist(), ordered["at"].tolist())


@pytest.mark.parametrize("table", tables.ALL)
def test_an_empty_table_has_the_types_of_a_full_one(table):
    """
    A model that joins or counts does not meet another type on the first day.
    """
    full = {"show_id": 1, "earlier": 1, "date": "2031-03-04", "since": "2031-03-04", "severity": 1, "way": "kit"}
    full |= {"setting": "heard more", "figure": 2.0}
    row = {
        name: [full.get(name, 1 if name in ("position", "people", "returning") else "x")]
        for name in tables.REQUIRED[table]
    }

    got = tables.checked(pd.DataFrame(row), table).dtypes

    assert tables.empty(table).dtypes.to_dict() == got.to_dict()


def test_show_names_that_are_no_numbers_stay_what_they_are():
    """
    Numbers become integers wherever they are; other names are kept.
    """
    frames = [{"show_id": [1.0, None], "text": ["a", "b"]}, {"show_id": ["s1", "s2"], "text": ["a", "b"]}]

    numbers, names = (tables.checked(pd.DataFrame(frame), "notes").show_id for frame in frames)

    assert "Int64" == str(numbers.dtype)
    assert ["s1", "s2"] == names.tolist()


def test_a_table_that_was_right_is_asked_about_once_it_is_changed():
    """
    What was checked is not checked again, but only while every cell of it is the same.
    """
    given = pd.DataFrame({"show_id": [1, 1], "position": [1, 2], "song": ["Ferry", "Tin Rook"], "lamp": [2, 3]})
    first = tables.checked(given, "plays")
    first.loc[1, "position"] = 1
    with pytest.raises(TableProblem, match="position 1"):
        tables.checked(first, "plays")
    again = tables.checked(tables.checked(given, "plays"), "plays")
    again.loc[0, "lamp"] = 9

    assert [2, 3] == tables.checked(tables.checked(given, "plays"), "plays").lamp.tolist()


def test_true_is_not_taken_for_one():
    """
    In somebody's own column the values stay what they were, also where they count as equal.
    """
    rows = {"song": ["Ferry"], "show_id": [1], "position": [1]}
    one, true = (
        tables.checked(pd.DataFrame(rows), "plays").assign(own=pd.Series([v], dtype=object)) for v in (1, True)
    )

    assert [int, bool] == [type(tables.checked(tables.checked(rows, "plays"), "plays").own[0]) for rows in (one, true)]


def test_other_columns_are_kept_behind_ours():
    """
    What a person adds to a table is theirs.
    """
    frame = pd.DataFrame({"mood": ["slow"], "song": ["Ferry"]})

    got = tables.checked(frame, "songs")

    assert ["song", "mood"] == [name for name in got.columns if name in frame.columns]
    assert got.columns[-1] == "mood"


@pytest.mark.parametrize("table", tables.ALL)
def test_the_manual_describes_every_column(table):
    """
    data/README.md says of each column what `tables` says; a new one is not forgotten there.
    """
    lines = (ROOT / "data" / "README.md").read_text(encoding="utf-8").splitlines()
    section = lines[lines.index(f"### {table}") :]
    fields = tables.ALL[table].to_schema().columns

    assert [] == [name for name, field in fields.items() if f"| `{name}` | {field.description} |" not in section]
