"""The first hour: somebody without a diary brings a few sets, with the keyboard alone; read back from the diary."""

from pathlib import Path

import pytest

from tests.browser.driving import FORM, Hand, rows, said, until
from tourstats.diary import exists

pytestmark = pytest.mark.browser

START = "start"
SETS = """2031-03-13, Ostby, Tin Hall
1. Ferry
2. Copper Wire
3. Tin Rook

2031-03-14, Kelp, Salt Yard
1. Coper Wire
2. Ferry
Encore
3. Salt Road

2031-03-15, Kelp, Salt Yard
1. Copper Wire
"""
"""Three sets as they stand in a phone; one title is wrong."""


@pytest.fixture
def nothing(fresh):
    """No diary at all."""
    for tail in ("", "-wal", "-shm"):
        Path(f"{fresh.diary}{tail}").unlink(missing_ok=True)
    return fresh


def test_a_tour_begins_with_the_keyboard_alone(nothing, served, book):
    """
    Pasted, read, settled, seen, written with one button, rooms said in one pass: all of it is in the diary.
    """
    page = served(START, 1280)
    form, hand = page.locator(FORM, has=page.locator("textarea")), Hand(page)
    form.get_by_label("Paste", exact=True).focus()
    hand.write(SETS)
    begun = exists(nothing.diary) and len(book().plays)
    hand.to("Read it")
    hand.press("Enter")
    said(page, "1 to settle below")
    hand.to("Answer")
    hand.choose("Copper Wire (proposed)")
    form.get_by_text("Copper Wire (2), Coper Wire (1)").wait_for()
    said(page, "Nothing is open. Check it, then save.")
    before = len(book().plays)
    hand.to("Save")
    hand.press("Enter")
    said(page, "3 shows, 4 songs")
    page.get_by_text("4 songs and 3 played sets", exact=True).wait_for()
    form.get_by_text("The kind of each venue").wait_for()
    for place, room in (("Salt Yard, Kelp", "club"), ("Tin Hall, Ostby", "theatre")):
        hand.to(f"{place}: {room}")
        hand.press("Enter")
    hand.to("Save the rooms")
    hand.press("Enter")
    form.get_by_text("Every venue has its kind.").wait_for()
    tables = book()
    shows = tables.shows.sort_values("date")

    assert (0, 0) == (begun or 0, before)
    assert [("Ostby", "Tin Hall", "theatre"), *[("Kelp", "Salt Yard", "club")] * 2] == list(
        shows[["city", "venue", "room"]].itertuples(index=False, name=None)
    )
    assert [("Ferry", False), ("Copper Wire", False), ("Tin Rook", False)] == rows(
        tables.plays, shows.show_id.iloc[0], "song", "encore"
    )
    assert [("Copper Wire", False), ("Ferry", False), ("Salt Road", True)] == rows(
        tables.plays, shows.show_id.iloc[1], "song", "encore"
    )
    assert ["Copper Wire", "Ferry", "Salt Road", "Tin Rook"] == sorted(tables.songs.song)
    until(form.get_by_text("Run these").first.is_visible, "the first useful page is there", 10)
