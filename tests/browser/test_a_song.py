"""Finding a song from any page, and its page, in a real browser."""

from urllib.parse import quote

import pytest

from tests.browser.driving import FORM, NAMED, Hand, said
from tourstats.diary import opened

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


def test_a_shape_is_asked_about_by_keyboard_alone(served, book, song):
    """
    Opened, the answer seen, known by one letter, the next one not: both stand in the diary as they were said.
    """
    page = served(f"song?song={quote(song)}", 390)
    page.get_by_role("heading", name=song).first.wait_for()
    hand = Hand(page)
    hand.to("Test it by heart")
    hand.press("Enter")
    hand.to("Your answer")
    for letter, words in (("y", "Known: "), ("n", "Not known: ")):
        hand.press("Enter")
        page.locator(FORM).get_by_text("Known? y or n").wait_for()
        hand.write(letter)
        hand.press("Enter")
        said(page, words)
    tested = book().tested.query("song == @song")

    assert [True, False] == tested.known.astype(bool).tolist()
    assert "Your answer" == page.evaluate(NAMED)
