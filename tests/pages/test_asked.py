"""What a page is asked is asked in fields: a part of the set, a draft, a count, a leg; nobody types Python."""

import html
from datetime import timedelta

import pytest

from tourstats.diary import opened
from tourstats.models.rotation import layoffs
from tourstats.pages.audience.form import Door, Draft, Forget
from tourstats.pages.kit import links
from tourstats.pages.kit.whose import for_pages
from tourstats.pages.likely.form import NewToTheBand, PartKnown
from tourstats.pages.review.form import Leg
from tourstats.pages.review.words import parts
from tourstats.pages.rotation.form import NEED, Picture, for_paper
from tourstats.pages.trends.form import FreshStart


@pytest.fixture
def tour(monkeypatch):
    """A copy of the demo tour, as the pages of one workbook share it."""
    for name, value in for_pages("demo").items():
        monkeypatch.setenv(name, value)

    def read():
        with opened(for_pages("demo")["TOURSTATS_DEMO_COPY"]) as diary:
            return diary.read()

    return read


def test_a_part_of_the_set_is_known(tour):
    """
    Titles by letters; without any, the page says what it needs; a song that is none is said beside the field.
    """
    form = PartKnown()
    form.asked.box.children[-3].children[0].click()
    nothing = form.asked.said.value
    form.inside.value = tour().songs.song[0]
    form.asked.ask()
    form.outside.value = "Qx of nobody"
    form.asked.box.children[-3].children[0].click()

    assert "Say at least one song that is known to be in or out." in nothing
    assert "Qx of nobody" in form.asked.said.value
    assert "" == form.asked.answer.value


def test_a_draft_is_scored_and_what_is_no_song_is_named(tour):
    """
    As the set on the table is.
    """
    form = Draft()
    songs = tour().songs.song[:12].tolist()
    form.set.value = "\n".join(songs)
    form.asked.ask()
    scored = form.asked.answer.value
    form.set.value = "Qx of nobody"
    form.asked.box.children[-3].children[0].click()

    assert "<table" in scored
    assert "not surely a song" in form.asked.said.value


def test_a_count_at_the_door_is_saved(tour):
    """
    Two numbers and two shows; words for numbers are refused.
    """
    form = Door()
    form.show.value, form.earlier.value = [value for _, value in form.show.options][1:3]
    form.people.value, form.returning.value = "about 900", "120"
    form.asked.box.children[-3].children[0].click()
    refused = form.asked.said.value
    form.people.value = "900"
    form.asked.ask()
    row = tour().counts.query("people == 900 and returning == 120")

    assert "Give two whole numbers" in refused
    assert "Saved: 120 of 900" in form.asked.answer.value
    assert 1 == len(row)


def test_nobody_is_forgotten_by_mistake(tour):
    """
    Without a name nothing is taken out, least of all everybody.
    """
    form = Forget()
    before = len(tour().attendance)
    form.asked.box.children[-3].children[0].click()

    assert "Say whom" in form.asked.said.value
    assert before == len(tour().attendance) > 0


def test_any_leg_is_reviewed_with_other_minutes(tour):
    """
    The same words as the review of that leg has.
    """
    form = Leg()
    first = [value for _, value in form.leg.options][-1]
    form.leg.value, form.minutes.value = first, 60
    form.asked.ask()
    expected = [part.heading for part in parts(tour(), first, minutes=60, charts=False)]

    assert [] == [heading for heading in expected if f"<h2>{heading}</h2>" not in form.asked.answer.value]


def test_what_is_new_to_me_is_put_in_order_by_a_day(tour):
    """
    Every song short of show-ready once, in the order or among those that do not fit; a day that has gone is refused.
    """
    form = NewToTheBand()
    form.asked.ask()
    roomy = form.asked.answer.value
    form.minutes.value, form.until.value = 5, f"{form.today + timedelta(days=2)}"
    form.asked.ask()
    tight = form.asked.answer.value
    form.until.value = f"{form.today}"
    form.asked.box.children[-3].children[0].click()
    learning = tour().songs.query("status == 'learning'").song

    assert all(html.escape(title) in roomy for title in learning)
    assert all(html.escape(title) in tight for title in learning)
    assert "all fit in" in roomy
    assert "Not in time, the least likely first" in tight
    assert "At your own pace" in roomy
    assert f"Say a day after {form.today}" in html.unescape(form.asked.said.value)


def test_the_picture_of_the_tour_is_drawn_for_any_leg_and_in_order_of_need(tour, monkeypatch):
    """
    By need the song that is out longest and not run is on top; for paper, as a page is served, each leg is a picture.
    """
    monkeypatch.setattr(links, "served", lambda: True)
    monkeypatch.setenv("QUERY_STRING", "across=342")
    each = []
    monkeypatch.setattr(f"{for_paper.__module__}.display", each.append)
    for_paper(tour())
    form = Picture()
    form.leg.value, form.order.value = tour().legs()[0], NEED
    form.asked.ask()
    needed = form.asked.answer.value
    back = layoffs(tour().plays, tour().shows, tour().songs, tour().rehearsals)
    run = (back.rehearsed > back.last_played).fillna(value=False)
    wanted = back[(back.status != "retired") & (back.layoff_shows > 0) & ~run].song.iloc[0]
    first = min(tour().songs.song, key=lambda title: needed.find(f">{html.escape(title)}<") % len(needed))

    assert [f"The leg {leg}" for leg in tour().legs()] == [" ".join(one.title.text) for one in each]
    # A telephone has room for some of the newest shows; its paper has all.
    assert [] == [one.title.text for one in each if "The last" in " ".join(one.title.subtitle)]
    assert 1 == needed.count("<figure>")
    assert wanted == first


def test_a_fresh_start_is_written_down_shown_and_taken_back(tour):
    """
    From a show on, with its reason; Undo takes it away again.
    """
    form = FreshStart()
    show = form.show.options[3][1]
    form.show.value, form.why.value = show, "new kit & pedals"
    form.save()
    saved = tour().levels
    shown = form.known.value
    form.box.children[3].children[1].click()

    assert ["new kit & pedals"] == saved[saved.show_id == show].remark.tolist()
    assert "Undone" in form.said.value
    assert "new kit &amp; pedals" in shown
    assert show not in set(tour().levels.show_id)
