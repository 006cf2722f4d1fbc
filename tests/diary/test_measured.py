"""What recordings say, kept beside the played set."""

import pandas as pd
import pytest

from tourstats.diary import opened
from tourstats.problems import Problem

ROWS = pd.DataFrame(
    {"position": [1, 2], "start_s": [3.0, 250.0], "end_s": [240.0, 460.0], "sure": True, "tempo_bpm": [121.5, None]}
)


@pytest.fixture
def book(tmp_path):
    """A show of two songs, measured."""
    with opened(tmp_path / "tour.sqlite") as diary:
        for song in ("Copper", "Lantern"):
            diary.add_song(song)
        show_id = diary.add_show("2031-03-04", "Brackwater")
        diary.write_set(show_id, ["Copper", "Lantern"], stage="played")
        diary.set_measured(show_id, ROWS, {1: b"\x00\xffone", 2: b"two"})
        yield diary


def test_what_is_kept_comes_back_as_it_was(book):
    """
    Bytes by song, in the order of shows; other songs are left out when asked for some.
    """
    assert [(1, "Copper", b"\x00\xffone"), (2, "Lantern", b"two")] == list(
        book.kept()[["position", "song", "kept"]].itertuples(index=False, name=None)
    )
    assert ["Lantern"] == book.kept(["Lantern"]).song.tolist()


def test_deleting_is_one_change_and_can_be_taken_back(book):
    """
    No rows: nothing is kept of the recording; undo brings all of it back.
    """
    book.set_measured(1, [])
    assert 0 == len(book.measured()) + len(book.kept())

    book.undo()

    assert [121.5, None] == book.measured().tempo_bpm.astype(object).where(
        book.measured().tempo_bpm.notna(), None
    ).tolist()
    assert b"two" == book.kept().kept[1]


def test_what_is_kept_stays_with_its_song_when_the_set_is_put_right(book):
    """
    The two songs were noted in the wrong order: figures and bytes go along.
    """
    book.write_set(1, ["Lantern", "Copper"], stage="played")

    assert [("Lantern", b"two"), ("Copper", b"\x00\xffone")] == list(
        book.kept()[["song", "kept"]].itertuples(index=False, name=None)
    )


def test_a_place_that_the_set_does_not_have_is_refused(book):
    """
    Nothing is half written.
    """
    with pytest.raises(Problem, match="has no song 3"):
        book.set_measured(1, [{"position": 1, "start_s": 1.0}, {"position": 3, "start_s": 2.0}])

    assert 2 == len(book.measured())
