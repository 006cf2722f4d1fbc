"""Results that were worked out are found again, and never after a save."""

import os

import pandas as pd
import pytest

from tests.pages.open_cells import read, shown
from tests.pages.test_same_numbers import made_up
from tourstats import tables
from tourstats.pages.kit import finished
from tourstats.pages.kit.finished import Finished
from tourstats.pages.workbook import beforehand
from tourstats.tour import NAMES, Tour


def three_rows(table):
    """Three rows of a table, with the types that it has."""
    cells = {"s": ["Ferry", "Tin Rook", "Linden"], "i": [1, 2, 3], "f": [0.5, 1.5, 2.5], "b": [True, False, True]}
    days = pd.to_datetime(["2031-03-04", "2031-03-05", "2031-03-08"])
    return pd.DataFrame(
        {
            name: pd.Series(cells.get(str(kind).lower()[0], days)).astype(kind)
            for name, kind in tables.empty(table).dtypes.items()
        }
    )


@pytest.fixture
def store(tmp_path, monkeypatch):
    """A folder of results that everything of this test keeps and finds."""
    made = Finished(tmp_path / "finished")
    monkeypatch.setenv(finished.FOLDER, str(made.folder))
    monkeypatch.setattr(tables, "beside", [made])
    return made


def test_a_tour_with_one_other_cell_has_another_content():
    """
    Whatever cell of whatever table it is, another value or none: nothing kept for the one is found for the other.
    """
    frames = {name: three_rows("plays" if name == "planned" else name) for name in NAMES}
    tours = {Tour(**frames).content}
    for name, table in frames.items():
        seen = {tables.content(table)}
        for column in table.columns:
            for value in (table[column].iloc[0], None):
                changed = table.astype({column: object} if table[column].dtype != "str" else {})
                changed.loc[1, column] = value
                seen.add(tables.content(changed.infer_objects()))

        assert len(seen) == 1 + 2 * len(table.columns)
        tours.add(Tour(**frames | {name: changed.infer_objects()}).content)

    assert len(tours) == 1 + len(NAMES)


def test_the_same_tour_read_again_has_the_same_content():
    """
    Also where its tables are other objects, and nobody has asked before; but not where it stands before a show.
    """
    once, again = (Tour(songs=three_rows("songs"), shows=three_rows("shows")) for _ in range(2))

    assert once.content == again.content
    assert once.until(3).content != Tour(None, **dict(once.until(3))).content


def test_a_result_is_worked_out_once_for_all_programs(store):
    """
    Another program with the same tables finds it; one with other tables, or of another version, works it out.
    """
    asked = []
    count = tables.finished(lambda table: asked.append(len(table)) or pd.DataFrame({"songs": [len(table)]}))
    songs = pd.DataFrame({"song": ["Ferry", "Tin Rook"]})

    found = [count(songs), count(songs.copy()), count(songs.head(1))]
    store.code = "another version"
    found.append(count(songs))

    assert ([2, 1, 2], [2, 2, 1, 2]) == (asked, [int(one.songs.iloc[0]) for one in found])


def test_a_torn_result_is_worked_out_anew(store):
    """
    Half a file, or one that nobody can read, costs time and nothing else.
    """
    count = tables.finished(len)
    songs = pd.DataFrame({"song": ["Ferry", "Tin Rook"]})
    count(songs)
    for place in store.folder.iterdir():
        place.write_bytes(place.read_bytes()[:-3])

    assert count(songs) == 2


def test_what_was_not_asked_for_longest_goes_first(store, monkeypatch):
    """
    The folder keeps to its size, and what was found lately stays.
    """
    for at, key in enumerate(("first", "second", "third")):
        store.keep(key, b"x" * 1000)
        (place,) = (one for one in store.folder.iterdir() if one.stat().st_mtime > 1e9)
        os.utime(place, (at + 1, at + 1))
    store.found("first")
    monkeypatch.setattr(finished, "MOST_BYTES", 2100)

    store.tidy()

    assert [True, False, True] == [store.found(key) is not None for key in ("first", "second", "third")]


def test_a_page_says_the_same_from_what_was_kept(store):
    """
    Every word, table and chart of the costliest page, when it is opened for the second time by another program.
    """
    first, second = ([read(value) for *_, value in shown("05", made_up())] for _ in range(2))

    assert first == second
    assert len(list(store.folder.iterdir())) > 10


def test_what_is_worked_out_ahead_begins_when_nothing_was_saved_for_a_while(tmp_path, monkeypatch):
    """
    Once after each save, and not while somebody goes on saving.
    """
    forks, diary, clock = [], tmp_path / "diary.sqlite", [0.0]
    diary.write_text("begun")
    os.utime(diary, (1, 1))
    monkeypatch.setenv("TOURSTATS_DIARY", str(diary))
    monkeypatch.setattr(beforehand.os, "fork", lambda: forks.append(clock[0]) or 1)
    monkeypatch.setattr(beforehand.time, "monotonic", lambda: clock[0])
    looks = beforehand.Ahead(rest_s=10.0)
    for second in range(60):
        clock[0] = float(second)
        if second in (5, 9, 30):
            diary.write_text(f"saved at {second}")
            os.utime(diary, (second, second))
        looks.look()

    assert forks == [19.0, 40.0]  # and not at 10, since one was saved at 5
