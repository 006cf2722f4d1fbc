"""Ticking things off before doors, in a real browser and by keyboard."""

import pytest

from tests.browser.driving import FORM, until
from tourstats.diary import opened

pytestmark = pytest.mark.browser


@pytest.fixture
def show(fresh):
    """A show to come with gear, the last one of the demo tour."""
    with opened(fresh.diary) as diary:
        diary.add_song("Qwxyz Lantern", gear="qwxyz castanets")
        made = diary.add_show("2039-03-04", "Ostby", room="club")
        diary.write_set(made, ["Qwxyz Lantern"])
    return made


def test_what_is_set_out_is_ticked_off_by_keyboard(served, fresh, show):
    """
    Open the lists, tick with the space bar: it is in the diary and in the text to paste; again, and it is gone.
    """
    page = served("show-day", 390)
    form = page.locator(FORM)
    form.get_by_label("Show", exact=True).select_option(label="4 Mar 2039: Ostby")
    form.get_by_role("button", name="Lists to hand out and to tick off").click()
    box = form.get_by_label("qwxyz castanets (from 1)")
    until(lambda: box.evaluate("one => { one.focus(); return document.activeElement === one; }"), "the box in focus")
    page.keyboard.press(" ")
    until(lambda: _ticked(fresh, show) == ["qwxyz castanets"], "the tick")
    form.get_by_text("1 of ").wait_for()
    page.keyboard.press(" ")
    until(lambda: _ticked(fresh, show) == [], "the tick taken back")


def _ticked(fresh, show):
    with opened(fresh.diary) as diary:
        ticks = diary.ticks()
    return ticks.thing[ticks.show_id == show].tolist()
