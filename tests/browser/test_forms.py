"""The pages of every day: with the mouse, with the keyboard alone, while things go wrong; read back from the diary."""

import pytest

from tests.browser.driving import FORM, Hand, kill, rows, run_all, said, until
from tourstats.diary import opened

pytestmark = pytest.mark.browser

DAY, AFTER = "01-show-day.ipynb", "02-after-the-show.ipynb"


REACHED = f"""() => [...document.querySelectorAll('{FORM} :is(input, select, textarea, button, a[href])')].filter(
    one => one.checkVisibility() && !one.disabled).length"""
FOCUSED = """() => {
    const one = document.activeElement, style = getComputedStyle(one);
    const frame = style.outlineStyle === 'none' ? 0 : parseFloat(style.outlineWidth);
    const down = Math.round((one.getBoundingClientRect().top + scrollY) / 30);
    return [down, frame, `${one.tagName} ${one.type} ${one.textContent}`];
}"""
"""How far down the page the keyboard is, in rows of 30 px, and how wide the frame round it, and what it is."""


@pytest.fixture
def night(fresh):
    """A show that is handed out and not played yet, with six songs of the demo tour."""
    with opened(fresh.diary) as diary:
        songs = diary.songs().song.head(6).tolist()
        show = diary.add_show("2039-03-04", "Ostby", room="club")
        diary.write_set(show, songs, stage="planned")
    return show, songs


def test_a_set_is_pasted_settled_and_saved_with_the_mouse(tab, book, night):
    """
    One line is not sure; the page asks, and the answer is saved with the rest.
    """
    _, songs = night
    page = tab(DAY)
    form = page.locator(FORM)
    form.get_by_label("Show", exact=True).select_option(label="another show")
    form.get_by_label("Town").fill("Marrow")
    form.get_by_label("Set", exact=True).fill("\n".join([songs[2], songs[0], "Qwxyz Lantern"]))
    page.keyboard.press("Tab")
    form.get_by_role("button", name="Save and prepare").click()
    said(page, "1 line is not sure")
    form.locator(".question select").select_option(label="a new song: Qwxyz Lantern")
    form.get_by_role("button", name="Save with these answers").click()
    said(page, "The set is saved: 3 songs.")
    form.get_by_text("Take the stage sheet").wait_for()
    tables = book()
    (made,) = tables.shows[tables.shows.city == "Marrow"].show_id.tail(1)

    assert [(songs[2],), (songs[0],), ("Qwxyz Lantern",)] == rows(tables.planned, made, "song")
    assert form.locator("h3").count() >= 4


def test_a_night_is_written_down_by_keyboard_alone(tab, book, night):
    """
    As planned, all reviewed, three mistakes and a note, in at most 25 groups of keys.
    """
    show, songs = night
    page = tab(AFTER)
    page.locator(f"{FORM} select").first.focus()
    hand = Hand(page)
    hand.press("Tab")
    hand.press("Enter")
    said(page, "Saved: played as planned")
    hand.press("Tab", 2)
    hand.press("Enter")
    said(page, "6 songs reviewed")
    hand.press("Tab", 3)
    for line in ("2 dragged in the chorus !", "1 late entry bar 12", "3 rushed !!"):
        hand.write(line)
        hand.press("Enter")
        said(page, songs[int(line[0]) - 1])
    hand.press("Tab", 2)
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
    assert hand.count <= 25


def test_nothing_typed_is_lost_when_the_kernel_dies(tab, fresh, night):
    """
    The kernel is killed in the middle of a line; after a reload and a run the line stands there again.
    """
    page = tab(AFTER)
    field = page.locator(FORM).get_by_label("What I found", exact=True)
    field.click()
    page.keyboard.type("4 dragged in the")
    until(lambda: draft(fresh) == "4 dragged in the", "the draft is kept")
    kill(fresh, AFTER)
    page.reload()
    run_all(page)
    field.wait_for()

    assert "4 dragged in the" == field.input_value()


def test_what_is_saved_belongs_to_the_chosen_show_and_undo_takes_the_latest_back(tab, book, fresh, night):
    """
    The show before the latest is chosen: only it gets a set and reviews, and Undo takes the reviews away.
    """
    show, songs = night
    with opened(fresh.diary) as diary:
        later = diary.add_show("2039-03-05", "Weir", room="club")
        diary.write_set(later, songs[3:], stage="planned")
    page = tab(AFTER)
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
    What was pasted into the served page and not saved stands there again.
    """
    page = served("show-day")
    page.get_by_label("Set", exact=True).fill("Qwxyz Lantern")
    until(lambda: draft(fresh, "show day", "set") == "Qwxyz Lantern", "the draft is kept")
    again = served("show-day")

    assert "Qwxyz Lantern" == again.get_by_label("Set", exact=True).input_value()


def draft(fresh, form="after the show", field="found"):
    with opened(fresh.diary) as diary:
        return (diary.draft(form) or {}).get(field)


def test_the_place_of_the_keyboard_is_always_seen(served):
    """
    With Tab alone every field and button is reached, in the order of the page, each with a frame that can be seen.
    """
    page = served("after-the-show", width=1280)
    many = page.evaluate(REACHED)
    seen = []
    for _ in range(many):
        page.keyboard.press("Tab")
        seen.append(page.evaluate(FOCUSED))

    assert many > 15
    assert sorted(top for top, *_ in seen) == [top for top, *_ in seen]
    assert [] == [what for _, frame, what in seen if frame < 2]


def test_two_tabs_save_into_one_diary(tab, book, night):
    """
    Each tab has its own kernel; what both save is there.
    """
    show, songs = night
    first, second = tab(DAY), tab(AFTER)
    second.locator(FORM).get_by_role("button", name="Played as planned").click()
    said(second, "Saved: played as planned")
    form = first.locator(FORM)
    form.get_by_label("Show", exact=True).select_option(label="another show")
    form.get_by_label("Town").fill("Weir")
    form.get_by_label("Set", exact=True).fill("\n".join(songs[:2]))
    first.keyboard.press("Tab")
    form.get_by_role("button", name="Save and prepare").click()
    said(first, "The set is saved: 2 songs.")
    line = second.locator(FORM).get_by_label("Note", exact=True)
    line.click()
    second.keyboard.type("loud fans")
    second.keyboard.press("Enter")
    said(second, "Saved the note on")
    tables = book()
    (made,) = tables.shows[tables.shows.city == "Weir"].show_id.tail(1)

    assert [(songs[0],), (songs[1],)] == rows(tables.planned, made, "song")
    assert [(song,) for song in songs] == rows(tables.plays, show, "song")
    assert [("loud fans",)] == rows(tables.notes, show, "text")
