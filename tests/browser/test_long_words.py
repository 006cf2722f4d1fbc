"""Long titles, notes and names of places on a telephone: nothing is cut off, and nothing scrolls sideways."""

import pytest

from tests.browser.driving import FORM
from tests.browser.looking import SIDEWAYS
from tourstats.diary import opened

pytestmark = pytest.mark.browser

TITLE = "The Lamplighter's Daughter and the Seventeen Unposted Letters"[:60]
UNBROKEN = "Donaudampfschifffahrtselektrizitaetenhauptbetriebswerkbaum"[:60].ljust(60, "x")
VENUE = "Municipal Concert Hall of the Old Harbour District"
NOTE = ("Watch the second ending, it is a bar longer than on paper; " * 6)[:299] + "!"


@pytest.fixture
def long_words(fresh):
    """A show with long words everywhere: handed out, written down, noted, found."""
    with opened(fresh.diary) as diary:
        first = diary.songs().song[0]
        for title in (TITLE, UNBROKEN):
            diary.add_song(title, gear=title, samples=title, starts_by=title, watch=NOTE, tempo_bpm=100.0, minutes=4.0)
        show = diary.add_show("2039-03-04", "Ostby", room="club", venue=VENUE)
        diary.write_set(show, [TITLE, first, UNBROKEN], stage="planned")
        for title in (TITLE, UNBROKEN):
            diary.add_note(NOTE, about="song", song=title)
            diary.add_mistake(show, title, "tempo", 2, remark=NOTE)
        diary.add_note(NOTE, about="show", show_id=show)
    return "4 Mar 2039: Ostby, " + VENUE


@pytest.mark.parametrize("name", ["show-day", "after-the-show"])
def test_long_words_fit_a_telephone(served, long_words, name):
    """
    A title of 60 signs, one of them without a space, a note of 300 and a place of 50 are there to be read.
    """
    page = served(name)
    form = page.locator(FORM).first
    form.get_by_label("Show", exact=True).select_option(label=long_words)
    form.get_by_text(NOTE).first.wait_for()
    words = form.evaluate(r"form => form.textContent.replace(/\s/g, ' ')")

    assert (60, 60, 50, 300) == (len(TITLE), len(UNBROKEN), len(VENUE), len(NOTE))
    assert [] == [word for word in (TITLE, UNBROKEN, VENUE, NOTE) if word not in words]
    assert [] == page.evaluate(SIDEWAYS)
