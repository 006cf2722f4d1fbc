"""A diary with something in every table, for the tests of the store."""

import pandas as pd
import pytest

from tourstats.diary import opened


@pytest.fixture(autouse=True)
def _own_folders(tmp_path, monkeypatch):
    """Keep every test away from the diary and the key of whoever runs it."""
    monkeypatch.setenv("TOURSTATS_DIARY", str(tmp_path / "own" / "diary.sqlite"))
    monkeypatch.setenv("TOURSTATS_PEOPLE_KEY", str(tmp_path / "own" / "people.key"))


@pytest.fixture
def path(tmp_path):
    """Where a new diary will be."""
    return tmp_path / "tour" / "diary.sqlite"


@pytest.fixture
def book(path):
    """An open, empty diary."""
    with opened(path) as diary:
        yield diary


def filled(diary):
    """Put something into every table, through the methods that people use."""
    diary.add_song(
        "Ferry", aliases=["The Ferry"], tempo_bpm=96.1, minutes=4, gear=["brushes", "bell"], new_release=True
    )
    diary.add_song("Copper Wire", status="learning", since="2031-02-01", readiness="at the kit", watch="bar 12")
    diary.add_song("Tin Rook")
    diary.add_venue("The Old Mill", "Brackwater", "theatre")
    first = diary.add_show("2031-03-04", venue="The Old Mill", set_minutes=95)
    second = diary.add_show("2031-03-06", "Fennick", room="festival", leg="leg 1", recording="card 2")
    diary.write_set(first, ["Ferry", "Tin Rook"], pasted="1. Ferry\n2. Tin rook")
    diary.write_set(first, ["Ferry", "Tin Rook", "Copper Wire"], stage="played", encore_from=3)
    diary.write_set(second, ["Copper Wire"], stage="played")
    diary.add_rehearsal("Ferry", "kit", "2031-03-03", runs=2, minutes=9.5)
    diary.add_review(first, "all")
    diary.add_mistake(
        first, "Ferry", "entry", 2, section="bridge", bar=3, cause="playing", said_by="Ola", remark="late"
    )
    diary.add_note("count it in", song="Ferry", room="festival", date="2031-03-05")
    diary.add_note("no gap", about="transition", song="Ferry", next_song="Tin Rook", date="2031-03-05")
    diary.add_note("dark stage", about="show", show_id=first, date="2031-03-05", personal=True)
    diary.add_attendance(pd.DataFrame({"person": ["a", "b", "a"], "show_id": [first, first, second]}))
    diary.add_counts(second, 300, first, 41)
    diary.start_level(second, "new kit")
    return first, second


@pytest.fixture
def fill():
    """Give the function that fills a diary."""
    return filled
