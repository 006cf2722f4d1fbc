"""Today knows which hour of the job it is, and what is open, whatever the diary holds."""

from datetime import datetime, time, timedelta

import pandas as pd
import pytest

from tourstats.cli import main
from tourstats.diary import opened
from tourstats.pages.show_day.form import ShowDay
from tourstats.pages.today.form import Today, as_html
from tourstats.pages.today.words import Hour, Now, now
from tourstats.tour import Tour, night_of

NIGHTS = ["2031-03-03", "2031-03-04", "2031-03-05"]


def tour(played, planned=(), reviewed=(), shows=3):
    """Some shows in Ostby, of which these were played, handed out, reviewed."""
    sets = {"plays": played, "planned": planned}
    columns = ["show_id", "position", "song"]
    rows = {
        stage: pd.DataFrame([(show, at, f"Qx {at + show}") for show in which for at in (1, 2, 3)], columns=columns)
        for stage, which in sets.items()
    }
    return Tour.of(
        songs=pd.DataFrame({"song": [f"Qx {at}" for at in range(1, 9)]}),
        shows=pd.DataFrame({
            "show_id": range(1, shows + 1), "date": NIGHTS[:shows], "city": "Ostby", "leg": "Spring", "room": "club",
        }),
        reviews=pd.DataFrame({"show_id": list(reviewed), "song": [f"Qx {show + 1}" for show in reviewed]}),
        **rows,
    )  # fmt: skip


def at(day, hour):
    return datetime.fromisoformat(f"{day}T{hour:02}:00")


@pytest.mark.parametrize(
    ("played", "planned", "day", "hour", "expected", "page"),
    [
        ([], [], NIGHTS[0], 16, Hour.AHEAD, "likely-swaps"),
        ([1], [], NIGHTS[1], 9, Hour.AHEAD, "likely-swaps"),
        ([1], [2], NIGHTS[1], 16, Hour.SET, "show-day"),
        ([1], [2], NIGHTS[1], 23, Hour.OVER, "after-the-show"),
        ([1], [2], NIGHTS[2], 2, Hour.OVER, "after-the-show"),
        ([1], [2], NIGHTS[2], 11, Hour.OVER, "after-the-show"),
        ([1, 2, 3], [], NIGHTS[2], 23, Hour.LEG_OVER, "leg-review"),
    ],
)
def test_each_hour_has_its_page(played, planned, day, hour, expected, page):
    """
    Set not in, set in, show over also after midnight, leg over: up to three lines, and the page first that it needs.
    """
    said = now(tour(played, planned), at(day, hour))

    assert expected == said.hour
    assert page == said.ways[0][0]
    assert 1 <= len(said.lines) <= 3
    assert 2 <= len(said.ways) <= 3


def test_the_latest_set_is_the_one_to_log_and_an_earlier_one_is_named():
    """
    Two sets handed out and not logged: the later one; once that is logged, the one that was left out is open.
    """
    assert "4 Mar 2031: Ostby." == now(tour([], [1, 2]), at(NIGHTS[2], 11)).lines[0]
    assert "1 show not logged (the set of 3 Mar 2031)" == now(tour([2], [1]), at(NIGHTS[2], 11)).open[0]


def test_today_show_day_and_the_command_mean_the_same_show(tmp_path, capsys):
    """
    Last night was not logged and tonight's set is in: all three are about tonight.
    """
    path, tonight = tmp_path / "diary.sqlite", night_of(datetime.now())  # noqa: DTZ005  # the clock on the wall
    with opened(path) as book:
        for song in ("Ferry", "Copper Wire"):
            book.add_song(song)
        nights = [
            book.add_show(tonight - timedelta(days=days), town)
            for days, town in ((2, "Weir"), (1, "Kelp"), (0, "Ostby"))
        ]
        for show, stage in zip(nights, ("played", "planned", "planned"), strict=True):
            book.write_set(show, ["Ferry", "Copper Wire"], stage=stage)
        told = now(book.read(), datetime.combine(tonight, time(16)))
    page = ShowDay(path)
    main(["--diary", str(path), "tonight", "--sheets", str(tmp_path)])

    assert told.lines[0].endswith("Ostby.")
    assert nights[2] == page.show.value
    assert "Ostby, " in capsys.readouterr().out


def test_without_a_show_it_is_time_to_start():
    """
    An empty diary leads to the page that fills it.
    """
    said = now(Tour.of(), at(NIGHTS[0], 16))

    assert (Hour.START, "start") == (said.hour, said.ways[0][0])


def test_it_says_what_came_in_and_what_is_open():
    """
    Two of three songs are new since last night; of two shows played one has no review; no song has a length.
    """
    said = now(tour([1, 2], [3], reviewed=[1]), at(NIGHTS[2], 16))

    assert ("5 Mar 2031: Ostby.", "The set is in: 3 songs, 1 came in.") == said.lines
    assert "1 show not reviewed (4 Mar 2031)" == said.open[0]
    assert "8 songs without a length" in said.open


def test_what_is_typed_is_never_more_than_words():
    """
    A town made of markup is read, not run.
    """
    shown = as_html(Now(Hour.SET, ("<img src=x onerror=alert(1)>",), (("show-day", "Show day"),), ("<b>",)))

    assert "<img" not in shown
    assert "&lt;img src=x onerror=alert(1)&gt;" in shown
    assert "<b>" not in shown


def test_for_the_demo_tour_it_is_the_afternoon_of_its_next_show():
    """
    Whatever day it is on the wall, the demo shows what a show day looks like.
    """
    page = Today("demo")

    assert Hour.SET == page.now.hour
    assert "The set is in: 23 songs" in repr(page)
