"""No diary makes a page or a command fall, and none makes it read "nan"."""

import contextlib
import io
import re
import warnings

import pytest
from hypothesis import HealthCheck, example, given, settings

from tests.pages.made_up import SONGS, Made, diaries, fill
from tourstats import cli
from tourstats.diary import opened
from tourstats.models import audience as audience_asked
from tourstats.models import rotation as rotation_asked
from tourstats.models import swaps, tonight
from tourstats.pages.audience import chart as audience_drawn
from tourstats.pages.audience import words as audience
from tourstats.pages.likely import chart as likely_drawn
from tourstats.pages.likely import words as likely
from tourstats.pages.review import words as review
from tourstats.pages.rotation import chart as rotation_drawn
from tourstats.pages.rotation import words as rotation
from tourstats.pages.show_day import words as show_day
from tourstats.pages.today import words as today
from tourstats.pages.trends import chart as trends_drawn
from tourstats.pages.trends import words as trends

NO_WORD = re.compile(r"\b[Nn][Aa][Nn]\b|\binf\b|\bNaT\b|<NA>|\bNone\b(?! of)")
SHOWS_ALL = {"suppress_health_check": list(HealthCheck)}
FIXED = Made(shows=3, songs=4, sets="fixed", retired=1)
"""Three shows of one set, and the one song outside it retired."""


def on_likely(book):
    """Likely swaps."""
    past = likely.LookBack(book)
    yield likely.in_short(book)
    yield likely.how_good(past)
    yield likely.run_table(book)
    yield likely.go_table(book)
    said = likely.forecast(book)
    yield likely_drawn.parts(said.parts, likely.to_run(said).song.tolist())
    yield likely_drawn.recall(past.recall)
    yield likely.rules_table(past)
    yield likely_drawn.calibration(swaps.calibration(past.record.songs))
    yield likely_drawn.swaps_a_night(past.record.counts)
    yield likely.known_table(book, likely.first_songs(book, most=5))
    yield likely.day_off_table(book, minutes=60)
    yield likely.learn_table(book, shows=5)
    yield likely.as_text(book)


def on_trends(book):
    """Playing trends."""
    found = trends.read(book)
    for words in (
        trends.in_short, trends.effects_words, trends.left_out_words, trends.curve_words, trends.songs_table,
        trends.control_words, trends.ear_words, trends.bias_words,
    ):  # fmt: skip
        yield words(found)
    yield trends_drawn.effects(found.effects, trends.effects_title(found))
    yield trends_drawn.layoff_curve(found.curve, trends.curve_words(found))
    yield trends_drawn.songs(found.songs.query("basis == 'reviews'"), trends.songs_title(found))
    yield trends_drawn.control(found.control, trends.control_words(found))
    for by in ("room", "transition", "cause", "section", "severity", "position"):
        yield trends.rates_table(book, by)
    yield trends.again_table(book)


def on_review(book):
    """The leg review, of the last leg."""
    for part in review.parts(book, charts=False):
        yield review.part_html(part)


def on_rotation(book):
    """Rotation."""
    yield rotation.in_short(book)
    yield rotation.out_table(book)
    yield rotation_drawn.layoffs(rotation.out_and_not_run(book))
    yield rotation_drawn.tour_picture(book.plays, book.shows, book.songs)
    yield rotation_drawn.changes_a_night(rotation_asked.changes_a_night(book.plays, book.shows))
    yield rotation.planned_against_played(book)
    yield rotation.always_in(book)
    yield rotation_drawn.goes_round(rotation_asked.goes_round(book.plays, book.shows, book.songs))
    yield rotation.never_played(book)


def on_audience(book):
    """Repeat audience."""
    leg = audience.leg_of(book)
    for words in (
        audience.in_short, audience.kinds_of_data, audience.draft_table, audience.newest_table, audience.curve_words,
        audience.unheard_words, audience.nights_table, audience.counts_table, audience.coming_again_words,
        audience.review_paragraph,
    ):  # fmt: skip
        yield words(book)
    yield audience_drawn.shared_songs(audience_asked.shared(leg.plays, leg.shows), leg.shows)
    yield audience_drawn.heard_curve(audience.curve(book))
    yield audience_drawn.fresh_nights(audience.nights(book))
    yield audience_drawn.heard_most(audience.heard_most(book))


def on_show_days(book):
    """Every show day, and today."""
    yield str(today.now(book))
    for show in set(book.plays.show_id) | set(book.planned.show_id):
        told = tonight.brief(book, show)
        yield show_day.as_text(told)
        yield show_day.rows(told).astype("str").fillna("").to_csv(na_rep="")
        yield show_day.in_short(told)


PAGES = (on_likely, on_trends, on_review, on_rotation, on_audience, on_show_days)


def read(value):
    """Every word that somebody can read of a value."""
    if value is None or isinstance(value, str):
        return value or ""
    if hasattr(value, "to_dict"):
        made = value.to_dict()
        return f"{made.get('title')} {made.get('description', '')}".replace("None", "")
    return f"{value!r} {value._repr_html_()}" if hasattr(value, "_repr_html_") else repr(value)


def holds(made, tmp_path, pages=PAGES):
    """Nobody reads a word that is none, on any page of this diary."""
    place = tmp_path / "any.sqlite"
    for old in tmp_path.glob("any.sqlite*"):
        old.unlink()
    with opened(place) as diary:
        with diary.atomic():
            fill(diary, made)
        book = diary.read()
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        for page in pages:
            for value in page(book):
                text = re.sub(r"(?s)<style>.*?</style>", "", read(value))
                assert not NO_WORD.search(text), f"{page.__doc__} {text}"
    return place


@given(diaries())
@example(FIXED)
@example(Made(shows=4, days="two a day", reviews="faults only", coming=2, planned=True))
@example(Made(shows=5, songs=4, sets="all", reviews="some", retired=2, coming=2, seed=9))
@settings(max_examples=2, **SHOWS_ALL)
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


@pytest.mark.full
@given(diaries(most_shows=14))
@settings(max_examples=300, **SHOWS_ALL)
def test_no_made_up_diary_makes_a_page_fall_in_full(tmp_path_factory, made):
    """
    Three hundred of them.
    """
    holds(made, tmp_path_factory.getbasetemp())


def commands_answer(made, folder):
    """Each command answers, or says in one sentence what is missing."""
    place = holds(made, folder, ())
    asked = {"tonight": [], "likely": ["--run", "3"], "song": [SONGS[0]], "check": [], "export": [str(folder / "out")]}
    for name in asked.keys() & cli.COMMANDS.keys():
        with contextlib.redirect_stdout(io.StringIO()) as out, contextlib.redirect_stderr(io.StringIO()) as err:
            status = cli.main(["--diary", str(place), name, *asked[name]])
        assert status == 0 or err.getvalue().startswith("tourstats: ")
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
