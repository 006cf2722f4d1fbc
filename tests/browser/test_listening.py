"""The player in a real browser: keys, speed, marks that reach the diary, and a curve that is drawn in both themes."""

import pytest

from tests.browser.driving import FORM, said, until
from tests.browser.looking import SIDEWAYS, against
from tests.recording import band
from tests.recording.files import written
from tourstats.diary import opened
from tourstats.pages.listening import hearing

pytestmark = pytest.mark.browser

PLAYER = ".tourstats-player"
AUDIO = f"document.querySelector('{PLAYER}').audio"
HEIGHTS = f"Math.min(...[...document.querySelectorAll('{PLAYER} button')].map(one => one.offsetHeight))"
SONG = band.Song("Gravel Lantern", "eights", 122.0, 62.0, seed=31)
OTHER = band.Song("Copper Kiln", "floor", 134.0, 66.0, seed=33)


@pytest.fixture(scope="module")
def recorded(tmp_path_factory):
    """Two songs, as a recorder beside the stage has them."""
    sound = band.show([band.tonight(song, 1) for song in (SONG, OTHER)], 6, "room").sound
    return written(tmp_path_factory.mktemp("recorded") / "show.wav", sound, band.RATE)


@pytest.fixture
def show(fresh, recorded):
    """The two songs, played and recorded, the last show of the demo tour."""
    with opened(fresh.diary) as diary:
        for song in (SONG, OTHER):
            diary.add_song(song.title, tempo_bpm=song.bpm, minutes=song.seconds / 60)
        made = diary.add_show("2039-03-04", "Ostby", room="club")
        diary.write_set(made, [SONG.title, OTHER.title], stage="played")
    hearing.heard(fresh.diary, made, [recorded])
    return made


def test_a_song_is_heard_and_marked_by_keyboard_alone(served, fresh, show):
    """
    Choose, Tab to the player, space, arrows, bars, slower, M, words, Enter: the mark is in the diary, and on the page.
    """
    page = served("listening", 390)
    page.locator(FORM).get_by_label("Hear", exact=True).select_option(index=1)
    page.wait_for_function(f"{AUDIO}.duration > 40")
    first = page.locator(f"{PLAYER} .title").inner_text()
    page.locator(PLAYER).focus()
    page.keyboard.press(" ")
    page.wait_for_function(f"!{AUDIO}.paused")
    page.keyboard.press("7")
    page.keyboard.press(" ")
    page.wait_for_function(f"{AUDIO}.paused && {AUDIO}.playbackRate === 0.75 && {AUDIO}.preservesPitch")
    at = page.evaluate(f"{AUDIO}.currentTime")
    for _ in range(3):
        page.keyboard.press("ArrowRight")
    assert at + 15 == pytest.approx(page.evaluate(f"{AUDIO}.currentTime"), abs=0.5)
    page.keyboard.press(".")
    assert 0 < page.evaluate(f"{AUDIO}.currentTime") - at - 15 < 3
    page.keyboard.press("m")
    said(page, "Marked.")
    page.keyboard.type("dragged into the turn")
    page.keyboard.press("Enter")
    said(page, "Saved:")
    page.locator(f"{PLAYER} .marks button").wait_for()

    with opened(fresh.diary) as diary:
        row = diary.mistakes().iloc[-1]
    assert (show, "dragged into the turn") == (row.show_id, row.remark)
    assert row.song in first
    assert row.at_s > 15
    assert [] == page.evaluate(SIDEWAYS)
    assert page.evaluate(HEIGHTS) >= 44

    page.wait_for_function(f"document.activeElement === document.querySelector('{PLAYER}')")
    page.keyboard.press("n" if page.locator(f"{PLAYER} .title").inner_text().startswith("1") else "p")
    until(lambda: page.locator(f"{PLAYER} .title").inner_text() != first, "the other song is there")


@pytest.mark.parametrize(("width", "theme"), [(1280, "light"), (390, "dark")])
def test_the_player_can_be_used_by_everyone(served, axe, show, width, theme):
    """
    A checker of accessibility finds nothing serious in the player with a song in it; the curve is drawn.
    """
    page = served("listening", width, theme)
    page.locator(FORM).get_by_label("Hear", exact=True).select_option(index=1)
    page.wait_for_function(f"{AUDIO}.duration > 40")
    page.wait_for_function(f"document.querySelector('{PLAYER} .tempo')?.getAttribute('points').split(' ').length > 15")

    assert [] == against(axe, page)
    assert [] == page.evaluate(SIDEWAYS)
