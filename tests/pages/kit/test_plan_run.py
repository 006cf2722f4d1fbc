"""The plan of the show day, written down as run with one press."""

import re

import pandas as pd
import pytest

from tourstats.diary import opened
from tourstats.pages.after_show.form import AfterShow
from tourstats.pages.kit.plan_run import runs_of
from tourstats.pages.show_day.form import ShowDay


@pytest.fixture
def path(tmp_path):
    """Three shows played, the fourth handed out, on days long ago, so that runs belong to today."""
    place = tmp_path / "diary.sqlite"
    songs = ["Ferry", "Copper Wire", "Tin Rook", "Salt Road"]
    with opened(place) as book:
        for song in songs:
            book.add_song(song, minutes=4.0)
        for day in (4, 5, 6):
            show = book.add_show(f"2031-03-0{day}", "Ostby", room="club")
            book.write_set(show, songs[:2], stage="played")
        show = book.add_show("2031-03-07", "Marrow", room="theatre")
        book.write_set(show, songs, stage="planned")
    return place


def runs(path):
    """The rehearsals of a diary, as song, way, runs and minutes."""
    with opened(path) as book:
        table = book.rehearsals()
    return list(zip(table.song, table.way, table.runs, table.minutes, strict=True))


def press(box, name):
    """Press the button of that name."""
    boxes = [box]
    while boxes:
        widget = boxes.pop()
        if getattr(widget, "description", "") == name and hasattr(widget, "click"):
            widget.click()
            return
        boxes += getattr(widget, "children", ())
    raise AssertionError(name)


def words(said):
    return re.sub(r"<[^>]+>", "", said.value)


def test_one_press_writes_the_plan_that_was_shown(path, tmp_path):
    """
    On the show day with 20 minutes: each run of that plan, with its minutes; after the show it is the same plan.
    """
    form = ShowDay(path, tmp_path)
    form.minutes.value = 20
    form.look()
    with opened(path) as book:
        shown = book.draft("the plan")["runs"]
    after = AfterShow(path)
    press(after.box, "I ran the plan")

    assert 0 < sum(run["minutes"] for run in shown) <= 20
    assert [(run["song"], "kit", 1, run["minutes"]) for run in shown] == runs(path)
    assert f"Saved the plan as run: {len(shown)} runs. Undo takes all of them back." == words(after.runs.said)


def test_undo_takes_the_whole_plan_back(path, tmp_path):
    """
    It is one change.
    """
    form = ShowDay(path, tmp_path)
    form.look()
    press(form.box, "I ran this plan")
    written = runs(path)
    press(form.box, "Undo")

    assert len(written) > 1
    assert [] == runs(path)


def test_a_second_press_writes_nothing(path):
    """
    Nothing is counted twice, also where no plan was shown and the diary has to make one.
    """
    form = AfterShow(path)
    press(form.box, "I ran the plan")
    once = runs(path)
    press(form.box, "I ran the plan")

    assert once
    assert once == runs(path)
    assert "The runs of the plan are written down already." in words(form.runs.said)


def test_what_was_listened_to_was_not_played():
    """
    Listening stays listening; rests and transitions are no runs.
    """
    steps = [("listen", "Ferry"), ("transition", "Ferry"), ("rest", None), ("hard section", "Tin Rook")]
    plan = pd.DataFrame(steps, columns=["what", "song"]).assign(minutes=[5.0, 0.6, 10.0, 1.66])

    assert [("listen", "Ferry", 5.0), ("hard section", "Tin Rook", 1.7)] == [
        tuple(run.values()) for run in runs_of(plan)
    ]


def test_a_show_without_a_set_has_no_plan(path):
    """
    That is said, and nothing is written.
    """
    with opened(path) as book:
        show = book.add_show("2031-03-08", "Kelp")
    form = AfterShow(path)
    form.show.value = show
    press(form.box, "I ran the plan")

    assert "There is no plan for this show: it has no set, or there was no time for a run." == words(form.runs.said)
    assert [] == runs(path)
