"""A song's shape on its page: pasted, understood, saved, asked about by keyboard, drawn and printed."""

import base64
import io
import re
from datetime import datetime

import ipywidgets as w
import pandas as pd
import pypdfium2
import pytest

from tests.pages.test_forms import enter, everything, press, said
from tests.pages.test_markup import run_by
from tourstats.cli import main
from tourstats.diary import opened
from tourstats.models import by_heart
from tourstats.models import song as model
from tourstats.pages.kit.look import LIVE_ONLY
from tourstats.pages.show_day.form import ShowDay
from tourstats.pages.song import chart, printed, words
from tourstats.pages.song.form import Look
from tourstats.pages.today import words as words_of_today
from tourstats.pages.today.form import Today
from tourstats.reading.shapes import read_shape
from tourstats.tour import Tour

LINE = "in 4 | v 16 brushes | br 12 half-time, crash on 2 going in | ch 8 x2 | out on nod"


@pytest.fixture
def path(tmp_path):
    """A diary with one song."""
    place = tmp_path / "tour.sqlite"
    with opened(place) as diary:
        diary.add_song("Qx Roof", starts_by="cello", readiness="by heart")
    return place


def read(path):
    with opened(path) as diary:
        return diary.read()


def test_a_pasted_shape_is_shown_as_understood_and_saved(path):
    """
    Before it is saved the page says what it took it for; afterwards the strip is there, and undo takes it away.
    """
    page = Look(path)
    page.shape.typed.value = LINE
    before, kept = said(page.box), read(path).sections
    press(page.box, "Save this shape")
    sections, after = read(path).sections, said(page.box)
    press(page.box, "Undo")

    assert "Understood as" in before
    assert "crash on 2 going in" in before
    assert not len(kept)
    assert ["intro", "verse", "bridge", "chorus", "outro"] == sections.name.tolist()
    head = pypdfium2.PdfDocument(base64.b64decode(re.search(r"data:application/pdf;base64,([^'\"]+)", after)[1]))
    assert "starts: cello" in head[0].get_textpage().get_text_range()
    assert "Saved the shape of Qx Roof: 5 sections, 48 bars, 1 without a number of bars." in after
    assert "Take its chart to print" in after
    assert not len(read(path).sections)


def test_the_test_goes_by_keyboard_and_is_written_down(path):
    """
    Enter shows the answer, y and n say whether it was known; then the page says tested instead of claimed.
    """
    with opened(path) as diary:
        diary.set_sections("Qx Roof", read_shape(LINE)[["name", "bars", "feel", "cue", "hits"]])
    page = Look(path)
    claimed, before = page.page.value, page.due.value
    asked = page.asked.queue.asked.tolist()
    for letter in ("y", "n", "y", "y", "y"):
        enter(page.asked.field, "whatever I think")
        shown = page.asked.question.value
        enter(page.asked.field, letter)
    tested = read(path).tested

    assert by_heart.A_SITTING == len(asked)
    assert "Readiness by heart is claimed, never tested; its shape makes 15 questions." in claimed
    assert "Known? y or n" in shown
    assert list(zip(asked, [True, False, True, True, True], strict=True)) == list(
        zip(tested.asked, tested.known, strict=True)
    )
    assert "Tested 4 of 5 on " in page.page.value
    assert "5 questions on 1 song (10 more can wait)" in before
    assert "5 questions on 1 song (5 more can wait)" in page.due.value
    assert "4 of 5" in page.due.value
    assert not set(asked) & set(page.asked.queue.asked)  # what was just asked is not due today


def test_neither_known_nor_not_is_said(path):
    """
    Another letter is no answer, and nothing is written.
    """
    with opened(path) as diary:
        diary.set_sections("Qx Roof", read_shape(LINE)[["name", "bars"]])
    page = Look(path)
    enter(page.asked.field, "")
    enter(page.asked.field, "maybe")

    assert "Type y if you knew it" in page.asked.said.value
    assert not len(read(path).tested)


def test_the_strip_is_to_scale_and_the_paper_says_everything():
    """
    A section's width is its bars; whatever was written stands on the page to print, in one page.
    """
    sections = read_shape(LINE)
    table = chart.shape(sections).data
    pdf = pypdfium2.PdfDocument(printed.chart_pdf("Qx Roof", sections, {"tempo_bpm": 96.0, "count_in": "two bars"}))
    text = pdf[0].get_textpage().get_text_range()

    assert [4, 16, 12, 16, 4] == (table.end - table.start).tolist()
    assert [0, 4, 20, 32, 48] == table.start.tolist()
    assert 1 == len(pdf)
    for word in ("Qx Roof", "96 bpm", "two bars", "brushes", "half-time", "crash on 2 going in", "2 × 8", "on nod"):  # noqa: RUF001  # the sign is meant
        assert word in text


def test_a_title_in_markup_stays_words(path):
    """
    Whatever somebody calls a section, it is not run.
    """
    with opened(path) as diary:
        diary.set_sections("Qx Roof", [{"name": "<img src=x onerror=alert(1)>", "bars": 4}])
    page = Look(path)

    drawn = [one.value for one in everything(page.box) if isinstance(one, w.HTML)]

    assert "onerror" in "".join(drawn)
    assert [] == [found for one in drawn for found in run_by(one)]


def test_a_gap_grows_with_each_time_it_was_known_and_never_past_what_suits_the_show():
    """
    1, 2, 4 days after one, two, three times in a row; a miss begins anew; a show in three days holds it at one.
    """
    days = pd.to_datetime(["2031-03-01", "2031-03-02", "2031-03-04"])
    past = pd.DataFrame({"date": days, "asked": "Q?", "known": [True, True, True]})

    def gap(known, most=64.0):
        table = past.head(len(known)).assign(known=known)
        return (by_heart.due(table, ["Q?"], days[0], most)["next"].iloc[0] - table.date.iloc[-1]).days

    assert [1, 2, 4] == [gap([True]), gap([True] * 2), gap([True] * 3)]
    assert 1 == gap([True, True, False])
    assert 2 == gap([True] * 3, most=2.0)


def test_a_shape_is_written_down_in_the_terminal(path, capsys):
    """
    As a line; the song's page then says it, and what cannot be read is one sentence.
    """
    asked = ["--diary", str(path), "song", "Qx", "Roof", "--shape"]
    done, out = main([*asked, LINE]), capsys.readouterr().out
    wrong = main([*asked, "?"])

    assert 0 == done
    assert "The shape of Qx Roof is saved.\n5 sections, 48 bars, 1 without a number of bars." in out
    assert "crash on 2 going in" in out
    assert 1 == wrong
    assert "No section can be read in this shape." in capsys.readouterr().err


@pytest.fixture
def tonight(path, monkeypatch):
    """Two songs with a shape, one of them in tonight's set; pages as they are served."""
    monkeypatch.setenv("TOURSTATS_DIARY", str(path))
    monkeypatch.setenv(LIVE_ONLY, "1")
    monkeypatch.setattr(words_of_today, "OVER_HOUR", 24)  # whatever the hour is, tonight's show is ahead
    with opened(path) as diary:
        diary.add_song("Qx Wire")
        for song in ("Qx Roof", "Qx Wire"):
            diary.set_sections(song, [{"name": "verse", "bars": 16}, {"name": "outro", "bars": 4}])
        show = diary.add_show(f"{datetime.now():%Y-%m-%d}", "Ostby")  # noqa: DTZ005  # the day on the wall
        diary.write_set(show, ["Qx Wire"])
    return show


def test_where_the_day_is_planned_one_press_begins_the_test(path, tonight):
    """
    Today and the show day say what is due of tonight's songs, and lead to the test.
    """
    link = '<a href="/song?test=1">Begin the test</a>'
    today, day = Today(path)._repr_html_(), ShowDay(path).test.value

    assert f"of tonight&#x27;s songs, 4 questions on 1 song. {link}" in today
    assert f"4 questions on 1 song. {link}" in day


def test_the_test_goes_on_from_song_to_song(path, tonight, monkeypatch):
    """
    Begun by address it asks about tonight's song first, then the other, and ends; every answer is written down.
    """
    monkeypatch.setenv("QUERY_STRING", "test=1")
    page = Look(path)
    first, opened_ = page.title, page.asked.toggle.value
    for _ in range(4):
        enter(page.asked.field, "")
        enter(page.asked.field, "y")
    second = page.title
    for _ in range(5):
        enter(page.asked.field, "")
        enter(page.asked.field, "n")

    assert ("Qx Wire", True, "Qx Roof") == (first, opened_, second)
    assert "That was all for today." in page.said.value
    assert ["Qx Wire"] * 4 + ["Qx Roof"] * 5 == read(path).tested.song.tolist()


def test_a_day_has_its_share_of_questions():
    """
    Of a repertoire whose shapes are all new a day asks thirty questions, five a song; what was asked on it counts.
    """
    day = pd.Timestamp("2031-03-04")
    titles = [f"Qx {letter}" for letter in "ABCDEFGHJK"]
    shape = [
        {"song": title, "position": at, "name": f"part {at}", "bars": at} for title in titles for at in range(1, 9)
    ]
    tour = Tour.of(songs=pd.DataFrame({"song": titles}), sections=pd.DataFrame(shape))
    asked = model.to_test(tour, day)
    rows = pd.DataFrame({"song": "Qx A", "asked": model.questions_of(tour, "Qx A").asked[:7], "known": True})
    later = model.to_test(tour.replaced(tested=rows.assign(date=day)), day)

    assert [5] * 6 + [0] * 4 == asked.today.tolist()
    assert by_heart.A_DAY - 7 == later.today.sum()
    assert (asked.due > asked.today).all()
    assert "30 questions on 6 songs" in words.due_in_words(asked)


def test_by_heart_is_measured(path, tonight):
    """
    Claimed by heart with an answer that was not known, it is by hand where songs are learned; all known, by heart.
    """
    with opened(path) as diary:
        for song, knows in (("Qx Roof", False), ("Qx Wire", True)):
            for asked in by_heart.questions(read(path).sections[lambda t, s=song: t.song == s]).asked:
                diary.add_tested(song, asked, knows, "2031-03-04")

    assert {"Qx Roof": "by hand", "Qx Wire": "by heart"} == dict(
        model.measured(read(path)).songs[["song", "readiness"]].itertuples(index=False, name=None)
    )


def test_the_test_goes_in_the_terminal_too(path, tonight, monkeypatch, capsys):
    """
    Without a title about what is due today; each answer is kept at once, also when it is ended in the middle.
    """
    monkeypatch.setattr("sys.stdin", io.StringIO("\ny\n\nn\n\n"))

    assert 0 == main(["--diary", str(path), "song", "--test"])
    assert "1 of 2 known." in capsys.readouterr().out
    assert [("Qx Wire", True), ("Qx Wire", False)] == list(
        zip(read(path).tested.song, read(path).tested.known, strict=True)
    )


def test_a_song_has_to_be_named(path, capsys):
    """
    Neither a title nor a test: what to type is said.
    """
    assert 1 == main(["--diary", str(path), "song"])
    assert "Name a song, or words to look for" in capsys.readouterr().err
