"""What came in wrong is put right in a browser, and each change is taken back; read back from the diary."""

import pytest

from tests.browser.driving import FORM, rows, said
from tourstats.diary import opened

pytestmark = pytest.mark.browser

PUT_RIGHT = "corrections"


@pytest.fixture
def wrong(fresh):
    """A show whose set has a wrong title in it, with a review; and the number of the show."""
    with opened(fresh.diary) as diary:
        first = diary.songs().song[0]
        diary.add_song("Qwxyz Lantrn")
        diary.add_song("Qwxyz Lantern", tempo_bpm=101.0)
        show = diary.add_show("2039-03-04", "Ostby", room="club")
        diary.write_set(show, ["Qwxyz Lantrn", first], stage="played")
        diary.add_review(show, ["Qwxyz Lantrn"])
    return show, first


def opened_part(page, name):
    """Choose what is to be put right, and wait until its fields are there."""
    form = page.locator(FORM, has=page.locator("select")).first
    form.get_by_label("Correct", exact=True).select_option(label=name)
    return form


def undone(form, page):
    form.get_by_role("button", name="Undo").click()
    said(page, "Undone")


def test_a_tempo_is_corrected_and_taken_back(served, book, wrong):
    """
    The song is chosen, its tempo typed and saved; Undo brings the old one back, in the field too.
    """
    page = served(PUT_RIGHT, 1280)
    form = opened_part(page, "a song")
    form.get_by_label("Song", exact=True).select_option(label="Qwxyz Lantern")
    tempo = form.get_by_label("Tempo, bpm")
    page.wait_for_function("one => one.value === '101'", arg=tempo.element_handle())
    tempo.fill("104")
    page.keyboard.press("Tab")
    form.get_by_role("button", name="Save the song").click()
    said(page, '"Qwxyz Lantern" is saved.')
    saved = book().songs.set_index("song").tempo_bpm
    undone(form, page)
    page.wait_for_function("one => one.value === '101'", arg=tempo.element_handle())
    after = book().songs.set_index("song").tempo_bpm

    assert 104 == saved["Qwxyz Lantern"]
    assert 101 == after["Qwxyz Lantern"]
    assert saved.drop("Qwxyz Lantern").equals(after.drop("Qwxyz Lantern"))


def test_a_press_does_not_overtake_the_letters_before_it(served, book, wrong):
    """
    On a slow machine letters are sent after the press that follows them; what is saved is the whole line.
    """
    page = served(PUT_RIGHT, 1280)
    form = opened_part(page, "a song")
    form.get_by_label("Song", exact=True).select_option(label="Qwxyz Lantern")
    page.wait_for_function("one => one.value === '101'", arg=form.get_by_label("Tempo, bpm").element_handle())
    page.context.new_cdp_session(page).send("Emulation.setCPUThrottlingRate", {"rate": 6})
    form.get_by_label("Gear", exact=True).click()
    page.keyboard.type("two snares, one of them muffled")
    form.get_by_role("button", name="Save the song").click()
    said(page, '"Qwxyz Lantern" is saved.')

    assert "two snares, one of them muffled" == book().songs.set_index("song").gear["Qwxyz Lantern"]


def test_two_titles_become_one_song_and_two_again(served, book, wrong):
    """
    Plays and reviews go to the right title, the wrong one stays as another name; Undo takes all of it back.
    """
    show, first = wrong
    page = served(PUT_RIGHT, 1280)
    form = opened_part(page, "one song under two titles")
    form.get_by_label("Wrong title").select_option(label="Qwxyz Lantrn")
    form.get_by_text("Moves with it: 1 performance, 0 runs, 1 review").wait_for()
    form.get_by_label("Right title").select_option(label="Qwxyz Lantern")
    form.get_by_role("button", name="Merge").click()
    said(page, '"Qwxyz Lantrn" is "Qwxyz Lantern" now.')
    merged = book()
    undone(form, page)
    tables = book()

    assert [("Qwxyz Lantern",), (first,)] == rows(merged.plays, show, "song")
    assert [("Qwxyz Lantern",)] == rows(merged.reviews, show, "song")
    assert "Qwxyz Lantrn" in merged.songs.set_index("song").aliases["Qwxyz Lantern"]
    assert "Qwxyz Lantrn" not in set(merged.songs.song)
    assert [("Qwxyz Lantrn",), (first,)] == rows(tables.plays, show, "song")
    assert [("Qwxyz Lantrn",)] == rows(tables.reviews, show, "song")


def test_a_set_is_corrected_after_the_fact_and_taken_back(served, book, wrong):
    """
    A song more, and an encore; a line that is not sure is asked about first. Undo brings the old set back.
    """
    show, first = wrong
    page = served(PUT_RIGHT, 1280)
    form = opened_part(page, "a set")
    form.get_by_label("Show", exact=True).select_option(label="4 Mar 2039: Ostby")
    typed = form.get_by_label("Set", exact=True)
    page.wait_for_function("one => one.value.startsWith('Qwxyz Lantrn')", arg=typed.element_handle())
    typed.fill(f"{first}\nQwxyz Lantrn\nENCORE\nZzyqx Quarrel")
    page.keyboard.press("Tab")
    form.get_by_role("button", name="Save the set").click()
    said(page, "Not saved yet: settle the lines above, then save again.")
    asked = rows(book().plays, show, "song")
    form.locator(".question select").select_option(label="a new song")
    form.get_by_role("button", name="Save the set").click()
    said(page, "The played set is saved: 3 songs.")
    saved = book()
    undone(form, page)
    tables = book()

    assert [("Qwxyz Lantrn",), (first,)] == asked
    assert [(first, False), ("Qwxyz Lantrn", False), ("Zzyqx Quarrel", True)] == rows(
        saved.plays, show, "song", "encore"
    )
    assert [("Qwxyz Lantrn", False), (first, False)] == rows(tables.plays, show, "song", "encore")
    assert "Zzyqx Quarrel" not in set(tables.songs.song)
