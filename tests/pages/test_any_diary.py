"""No diary makes a page, a form or a command fall, and none makes it read "nan"."""

import contextlib
import io
import re
import warnings
import wave

import numpy as np
import pytest
from hypothesis import HealthCheck, example, given, seed, settings
from hypothesis import strategies as st

from tests.pages.made_up import SONGS, Made, diaries, fill
from tests.pages.open_cells import read, shown
from tourstats import cli
from tourstats.diary import opened
from tourstats.models import tonight
from tourstats.pages.after_show import form as after_show
from tourstats.pages.corrections import leaving
from tourstats.pages.corrections.form import PutRight
from tourstats.pages.likely import words as likely
from tourstats.pages.listening import form as listening
from tourstats.pages.show_day import form as show_day_form
from tourstats.pages.show_day import words as show_day
from tourstats.pages.song.form import look
from tourstats.pages.start.form import Start
from tourstats.pages.today import words as today
from tourstats.pages.trends import form as trends
from tourstats.tables import in_order

NO_WORD = re.compile(r"\b[Nn][Aa][Nn]\b|\binf\b|\bNaT\b|<NA>|\bNone\b(?! of)")
SHOWS_ALL = {"suppress_health_check": list(HealthCheck)}
FIXED = Made(shows=3, songs=4, sets="fixed", retired=1)
"""Three shows of one set, and the one song outside it retired."""


def on_likely(book):
    """Likely swaps."""
    yield from cells("03", book)
    yield likely.as_text(book)


def on_rotation(book):
    """Rotation."""
    yield from cells("04", book)


def on_trends(book):
    """Playing trends."""
    yield from cells("05", book)


def on_audience(book):
    """Repeat audience."""
    yield from cells("06", book)


def on_review(book):
    """The leg review, of the last leg."""
    yield from cells("07", book)


def cells(notebook, book):
    """What the notebook shows but for questions of one's own, which are a person's to change."""
    yield from (value for tags, _, value in shown(notebook, book) if "own-question" not in tags)


def on_show_days(book):
    """Today, and the show days of the first show, of the latest and of the next."""
    yield str(today.now(book))
    told = in_order(book.shows).show_id
    told = told[told.isin(book.plays.show_id) | told.isin(book.planned.show_id)]
    for show in told.iloc[sorted({0, len(told) - 2, len(told) - 1} & set(range(len(told))))]:
        told = tonight.brief(book, show)
        yield show_day.as_text(told)
        yield show_day.rows(told).astype("str").fillna("").to_csv(na_rep="")
        yield show_day.in_short(told)


FORMS = (after_show.form, listening.form, show_day_form.form, trends.form, PutRight, Start, leaving.form, look)


def on_forms(place):
    """Each form as it is opened: corrections, listening, after the show, show day, trends, a song, the first file."""
    for form in FORMS:
        made = form(place)
        without_kernel = getattr(made, "read", str)()
        yield f"{form.__module__}: {' '.join(written(getattr(made, 'box', made)))} {without_kernel}"


def written(widget):
    """Every text that a form shows: its words, and the labels of what can be chosen."""
    options = [each[0] if isinstance(each, tuple) else each for each in getattr(widget, "options", ())]
    yield from (text for text in (getattr(widget, "value", None), *options) if isinstance(text, str))
    for child in getattr(widget, "children", ()):
        yield from written(child)


PAGES = (on_likely, on_trends, on_review, on_rotation, on_audience, on_show_days)


def holds(made, tmp_path, pages=PAGES, forms=()):
    """Nobody reads a word that is none, on any page or form of this diary."""
    place = tmp_path / "any.sqlite"
    for old in tmp_path.glob("any.sqlite*"):
        old.unlink()
    with opened(place) as diary:
        with diary.atomic():
            fill(diary, made)
        book = diary.read()
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        for page, asked in [*((page, book) for page in pages), *((form, place) for form in forms)]:
            for value in page(asked):
                text = re.sub(r"(?s)<style>.*?</style>", "", read(value))
                assert not NO_WORD.search(text), f"{page.__doc__} {text}"
    return place


@given(diaries())
@example(FIXED)
@example(Made(shows=2, songs=1, retired=1, reviews="all", facts=True))
@example(Made(shows=4, days="two a day", reviews="faults only", coming=2, planned=True))
@example(Made(shows=5, songs=4, sets="all", reviews="some", retired=2, coming=2, seed=9))
@example(Made(shows=4, songs=1, sets="all", reviews="one show", again=True))
@example(Made(shows=9, songs=2, sets="all", days="one day", reviews="all", legs=False))
@settings(max_examples=1, **SHOWS_ALL)
def test_no_made_up_diary_makes_a_page_fall(tmp_path_factory, made):
    """
    Few shows, one song, one set for all nights, retired songs, two shows a day, years apart, nothing reviewed.
    """
    holds(made, tmp_path_factory.getbasetemp())


@pytest.mark.parametrize("legs", [True, False])
def test_a_record_in_which_no_song_ever_came_in_is_told(tmp_path, legs):
    """
    One set on all of two dozen nights: there are forecasts enough to judge by, and nothing that they could have found.
    """
    holds(Made(shows=24, songs=7, sets="fixed", legs=legs, retired=1, reviews="some"), tmp_path, (on_likely, on_review))


def test_a_regression_that_a_show_decides_alone_is_told(tmp_path):
    """
    A dozen shows of few songs, of which only what went wrong was written down: a question of one's own has no answer.
    """
    made = Made(
        shows=12, songs=5, sets="drawn", days="two a day", reviews="faults only", legs=False, facts=True, seed=33
    )
    holds(made, tmp_path, (on_trends,))


@pytest.mark.full
@pytest.mark.parametrize("part", range(10))
@seed(1303)
@given(data=st.data())
@settings(max_examples=30, **SHOWS_ALL)
def test_no_made_up_diary_makes_a_page_fall_in_full(tmp_path_factory, part, data):
    """
    Three hundred of them, in ten parts.
    """
    made = data.draw(diaries(most_shows=14).filter(lambda made: made.seed % 10 == part))
    holds(made, tmp_path_factory.getbasetemp(), forms=(on_forms,))


@pytest.mark.parametrize(
    "made", [FIXED, Made(shows=0, songs=1), Made(shows=3, days="two a day", reviews="all", coming=1, planned=True)]
)
def test_no_made_up_diary_makes_a_form_fall(tmp_path, made):
    """
    Corrections, listening, after the show, show day, lists, trends, review, a song, the first file.
    """
    holds(made, tmp_path, (), (on_forms,))


def hum(path):
    """Two seconds in which nobody plays."""
    with wave.open(str(path), "wb") as sound:
        sound.setparams((1, 2, 8000, 0, "NONE", ""))
        sound.writeframes((np.random.default_rng(1).normal(0, 200, 16000)).astype("<i2").tobytes())
    return str(path)


def commands_answer(made, folder):
    """Each command answers, or says in one sentence what is missing; what was exported and copied comes back."""
    place, out, copy = holds(made, folder, ()), folder / "out", folder / "copy.sqlite"
    asked = [
        ("tonight",), ("tonight", "--all"), ("likely", "--run", "3"), ("song", SONGS[0]), ("check",),
        ("listen", hum(folder / "hum.wav")), ("export", str(out)), ("backup", str(copy)), ("restore", str(copy)),
        ("restore",), ("check",),
    ]  # fmt: skip
    for name, *arguments in asked:
        answers(place, name, *arguments)
    with opened(place) as before:
        there = {name: len(table) for name, table in before.read()}
    answers(folder / "again.sqlite", "intake", str(out), "--accept")
    with opened(folder / "again.sqlite") as again:
        assert there["songs"] == len(again.read().songs)
        assert there["plays"] == len(again.read().plays)


def answers(place, name, *arguments):
    """A command ends well, or with a sentence; it never says what is no word."""
    with contextlib.redirect_stdout(io.StringIO()) as out, contextlib.redirect_stderr(io.StringIO()) as err:
        status = cli.main(["--diary", str(place), name, *arguments])
    assert status == 0 or err.getvalue().lstrip().startswith("tourstats: "), f"{name} {err.getvalue()}"
    assert not NO_WORD.search(out.getvalue() + err.getvalue()), f"{name} {out.getvalue()}"


@pytest.mark.parametrize(
    "made", [FIXED, Made(shows=0, songs=1), Made(shows=3, days="two a day", reviews="all", coming=1, planned=True)]
)
def test_no_made_up_diary_makes_a_command_fall(tmp_path, monkeypatch, made):
    """
    Every command answers in words.
    """
    monkeypatch.chdir(tmp_path)
    commands_answer(made, tmp_path)


@pytest.mark.full
@given(diaries())
@settings(max_examples=60, **SHOWS_ALL)
def test_no_made_up_diary_makes_a_command_fall_in_full(tmp_path_factory, made):
    """
    Sixty diaries.
    """
    commands_answer(made, tmp_path_factory.mktemp("commands"))
