"""The pages of every day: with the mouse, with the keyboard alone, while things go wrong; read back from the diary."""

import os
import signal

import pytest

from tests.browser.driving import FORM, Hand, leave, processes, rows, said, until
from tourstats.diary import opened
from tourstats.pages.after_show.form import draft_of
from tourstats.tour import to_log

pytestmark = pytest.mark.browser

REACHED = f"""() => [...document.querySelectorAll(
    '{FORM} :is(input, select, textarea, button, a[href], summary)'
)].filter(one => one.checkVisibility() && !one.disabled && !one.closest('.tourstats-state')).length"""
FOCUSED = """() => {
    const one = document.activeElement, style = getComputedStyle(one);
    const frame = style.outlineStyle === 'none' ? 0 : parseFloat(style.outlineWidth);
    const down = Math.round((one.getBoundingClientRect().top + scrollY) / 30);
    return [one.closest('.tourstats-state') ? null : down, frame, `${one.tagName} ${one.type} ${one.textContent}`];
}"""
"""How far down the page the keyboard is, in rows of 30 px (the set stands in columns and has none), how wide the frame
round it is, and what it is."""
KERNEL = "() => JSON.parse(document.getElementById('jupyter-config-data').textContent).kernelId"


@pytest.fixture
def night(fresh):
    """A show that is handed out and not played yet, with six songs of the demo tour; every earlier one is logged."""
    with opened(fresh.diary) as diary:
        songs = diary.songs().song.head(6).tolist()
        diary.write_set(diary.read().next_show(), songs, stage="played")
        show = diary.add_show("2039-03-04", "Ostby", room="club")
        diary.write_set(show, songs, stage="planned")
    return show, songs


def draft(fresh, form=None, field="found"):
    with opened(fresh.diary) as diary:
        return (diary.draft(form or draft_of(to_log(diary.read()))) or {}).get(field)


def test_a_set_is_pasted_settled_and_saved_with_the_mouse(served, book, night):
    """
    One line is not sure; the page asks, and the answer is saved with the rest. Two pages write into one diary.
    """
    show, songs = night
    page, other = served("show-day", 1280), served("after-the-show", 1280)
    form = page.locator(FORM)
    form.get_by_label("Show", exact=True).select_option(label="another show")
    form.get_by_label("City").fill("Marrow")
    form.get_by_label("Set", exact=True).fill("\n".join([songs[2], songs[0], "Qwxyz Lantern"]))
    page.keyboard.press("Tab")
    form.get_by_role("button", name="Save and prepare").click()
    said(page, "1 line is not sure")
    form.locator(".question select").select_option(label="a new song: Qwxyz Lantern")
    form.get_by_role("button", name="Save with these answers").click()
    said(page, "The set is saved: 3 songs.")
    form.get_by_role("link", name="Qwxyz Lantern").first.wait_for()
    form.get_by_text("Take the stage sheet").wait_for()
    other.locator(FORM).get_by_role("button", name="Played as planned").click()
    said(other, "Saved: played as planned")
    tables = book()
    (made,) = tables.shows[tables.shows.city == "Marrow"].show_id.tail(1)

    assert [(songs[2],), (songs[0],), ("Qwxyz Lantern",)] == rows(tables.planned, made, "song")
    assert [(song,) for song in songs] == rows(tables.plays, show, "song")
    assert not form.get_by_label("Set", exact=True).is_visible()


def test_a_night_is_written_down_by_keyboard_alone(served, book, night):
    """
    As planned, all reviewed, three mistakes and a note, in at most 44 groups of keys, Tab among them.
    """
    show, songs = night
    page = served("after-the-show", 1280)
    hand = Hand(page)
    hand.to("Played as planned")
    hand.press("Enter")
    said(page, "Saved: played as planned")
    hand.to("Reviewed all")
    hand.press("Enter")
    said(page, "6 songs reviewed")
    hand.to("What I found")
    for line in ("2 dragged in the chorus !", "1 late entry bar 12", "3 rushed !!"):
        hand.write(line)
        hand.press("Enter")
        said(page, songs[int(line[0]) - 1])
    hand.to("Note")
    hand.write("dark stage left")
    hand.press("Enter")
    said(page, "Saved the note on")
    tables = book()

    assert [(song,) for song in songs] == rows(tables.plays, show, "song")
    assert {(song,) for song in songs} == set(rows(tables.reviews, show, "song"))
    assert [(songs[1], "tempo", 2), (songs[0], "entry", 1), (songs[2], "tempo", 3)] == rows(
        tables.mistakes, show, "song", "kind", "severity"
    )
    assert [("show", "dark stage left")] == rows(tables.notes, show, "about", "text")
    assert hand.count <= 44


def test_nothing_typed_is_lost_when_the_kernel_dies(served, fresh, night):
    """
    Killed in the middle of a line: one bar says so, and after a reload the line stands there again.
    """
    page = served("after-the-show")
    field = page.locator(FORM).get_by_label("What I found", exact=True)
    field.click()
    page.keyboard.type("4 dragged in the")
    until(lambda: draft(fresh) == "4 dragged in the", "the draft is kept")
    for one in processes(page.evaluate(KERNEL)):
        os.kill(one, signal.SIGKILL)
    page.locator(".tourstats-gone").get_by_text("Not connected. Your words are kept here; reload.").wait_for()
    page.keyboard.type(" middle")
    page.locator(".tourstats-gone").get_by_role("link", name="Reload").click()
    page.wait_for_function("""() => [...document.querySelectorAll('textarea')].some(
        one => one.value === '4 dragged in the middle')""")
    until(lambda: draft(fresh) == "4 dragged in the middle", "the new kernel keeps it")


def test_what_is_saved_belongs_to_the_chosen_show_and_undo_takes_the_latest_back(served, book, fresh, night):
    """
    The show before the latest is chosen: only it gets a set and reviews, and Undo takes the reviews away.
    """
    show, songs = night
    with opened(fresh.diary) as diary:
        later = diary.add_show("2039-03-05", "Weir", room="club")
        diary.write_set(later, songs[3:], stage="planned")
    page = served("after-the-show", 1280)
    form = page.locator(FORM)
    form.get_by_label("Show", exact=True).select_option(label="4 Mar 2039: Ostby")
    form.get_by_role("button", name="Played as planned").click()
    said(page, "Saved: played as planned, 6 songs")
    form.get_by_label("These songs").fill("1-2")
    page.keyboard.press("Enter")
    said(page, "2 songs reviewed")
    saved = book()
    form.get_by_role("button", name="Undo").click()
    said(page, "Undone")
    tables = book()

    assert [(song,) for song in songs] == rows(saved.plays, show, "song")
    assert {(song,) for song in songs[:2]} == set(rows(saved.reviews, show, "song"))
    assert [] == rows(saved.plays, later, "song")
    assert [(song,) for song in songs] == rows(tables.plays, show, "song")
    assert [] == rows(tables.reviews, show, "song")


def test_a_pasted_set_is_there_again_when_the_page_is_opened_anew(served, fresh, night):
    """
    What was pasted and not saved stands there again, and its field is open; a page that is left ends its kernel.
    """
    page = served("show-day")
    page.get_by_role("button", name="Paste another set").click()
    page.get_by_label("Set", exact=True).fill("Qwxyz Lantern")
    until(lambda: draft(fresh, "show day", "set") == "Qwxyz Lantern", "the draft is kept")
    kernel = page.evaluate(KERNEL)
    leave(page)
    again = served("show-day")

    assert "Qwxyz Lantern" == again.get_by_label("Set", exact=True).input_value()
    until(lambda: not processes(kernel), "the kernel of the page that was left has ended")


def test_the_place_of_the_keyboard_is_always_seen(served, night):
    """
    With Tab alone every field and button is reached, in the order of the page, each with a frame that can be seen.
    """
    page = served("after-the-show", width=1280)
    many = page.evaluate(REACHED)
    page.locator(f"{FORM} select").first.focus()
    seen = [page.evaluate(FOCUSED)]
    while len([one for one in seen if one[0] is not None]) < many:
        page.keyboard.press("Tab")
        seen.append(page.evaluate(FOCUSED))
    down = [top for top, *_ in seen if top is not None]

    assert many > 15
    assert sorted(down) == down
    assert [] == [what for _, frame, what in seen[1:] if frame < 2]
