"""Finding a song from any page, its page, and the test of its shape by keyboard, in a real browser."""

from urllib.parse import quote

import pandas as pd
import pytest

from tests.browser.driving import FORM, Hand, said, until
from tourstats.diary import opened
from tourstats.models import by_heart

pytestmark = pytest.mark.browser


@pytest.fixture
def song(fresh):
    """A song of nobody's, with a note and a shape, in tonight's set of a show to come."""
    with opened(fresh.diary) as diary:
        title = "Qwxyz & Lantern"
        diary.add_song(title, starts_by="cello", reference="https://example.org/lantern")
        diary.add_note("qwxyz softer here", song=title)
        diary.set_sections(title, [{"name": "verse", "bars": 16}, {"name": "outro", "bars": 4}])
        show = diary.add_show("2039-03-04", "Ostby", room="club")
        diary.write_set(show, [title])
    return title


def test_a_word_of_a_note_is_found_from_another_page(served, song):
    """
    Typed into the field in the bar it leads to the song, whose notes stand there, and whose record is a link.
    """
    page = served("today", 1280)
    field = page.get_by_role("searchbox").first
    field.fill("softer qwxyz")
    field.press("Enter")
    page.get_by_role("heading", name=song).first.wait_for()

    page.locator("td", has_text="qwxyz softer here").first.wait_for()
    assert page.locator("a[href='https://example.org/lantern']").count() == 1


def test_a_title_leads_to_its_song(served, song):
    """
    From the list of the show day, also with a sign in the title.
    """
    page = served("show-day", 390)
    page.locator(FORM).get_by_label("Show", exact=True).select_option(label="4 Mar 2039: Ostby")
    link = page.get_by_role("link", name=song).first
    link.wait_for()
    page.goto(page.url.partition("/show-day")[0] + link.get_attribute("href"))

    page.get_by_role("heading", name=song).first.wait_for()


def test_the_test_of_a_shape_goes_by_keyboard(served, song, fresh):
    """
    Tab to the field; Enter shows the answer, a letter says whether it was known; each answer is in the diary.
    """
    page = served(f"song?song={quote(song)}", 390)
    page.get_by_role("heading", name=song).first.wait_for()
    hand = Hand(page)
    hand.to("Test it by heart")
    hand.press(" ")
    hand.to("Your answer")
    for at, letter in enumerate("yn", start=1):
        hand.press("Enter")
        page.get_by_text("Known? y or n").wait_for()
        hand.write(letter)
        hand.press("Enter")
        until(lambda at=at: len(_tested(fresh, song)) == at, "the answer is kept")
        page.get_by_text(f"({_asked(fresh, song) - at} questions to go)").wait_for()

    assert [True, False] == _tested(fresh, song)
    said(page, "Not known: ")


def _tested(fresh, song):
    with opened(fresh.diary) as diary:
        tested = diary.read().tested
    return tested.known[tested.song == song].tolist()


def _asked(fresh, song):
    with opened(fresh.diary) as diary:
        tour = diary.read()
    shape = tour.sections[tour.sections.song == song]
    made = by_heart.questions(shape, pd.DataFrame(tour.songs)[tour.songs.song == song].iloc[0].to_dict())
    return min(len(made), by_heart.A_SITTING)
