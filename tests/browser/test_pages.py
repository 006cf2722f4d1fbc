"""Each page as `tourstats workbook` serves it: on a telephone, at a desk, light, dark, and on paper."""

import re

import pypdfium2
import pytest

from tests.browser.driving import UNFOLD
from tests.browser.looking import FINDINGS, PRESSED, SIDEWAYS, SMALL_TEXT, TARGETS, WORDS, against, twice
from tourstats.pages.kit.contents import PAGES

pytestmark = pytest.mark.browser

LETTERS_PX, TARGET_PX = 16, 44
CHARTS = {"likely-swaps": 4, "rotation": 4, "playing-trends": 4, "repeat-audience": 4, "leg-review": 2}
SCREENS, SHEETS = {"show-day": 5}, {"show-day": 3}
"""How many screens of a telephone and sheets of paper a page may take that is used in a hurry."""
EVERY = [page.name for page in PAGES]


@pytest.mark.parametrize("name", EVERY)
def test_a_page_is_read_and_pressed_at_both_widths(served, axe, name):
    """
    Nothing scrolls sideways, no letter under 16 px, nothing to press under 44 px, what charts say stands whole, and no
    sentence stands twice.
    """
    page = served(name)
    page.wait_for_function(f"charts => ({FINDINGS})().length >= charts", arg=CHARTS.get(name, 0))

    assert not page.get_by_text("Error:").locator("visible=true").count()
    assert page.evaluate("document.documentElement.scrollHeight / innerHeight") <= SCREENS.get(name, 30)
    assert [] == twice(page)
    for width in (390, 1280):
        page.set_viewport_size({"width": width, "height": 844})

        assert [] == page.evaluate(SIDEWAYS), width
        assert [] == page.evaluate(SMALL_TEXT, LETTERS_PX), width
        assert [] == [one for one in page.evaluate(TARGETS) if one[3] < TARGET_PX], width
        assert [] == [one for one in page.evaluate(FINDINGS) if one[1] > one[2]], width
        assert [] == against(axe, page), width


@pytest.mark.parametrize("name", ["likely-swaps", "playing-trends"])
def test_a_long_page_is_folded_on_a_telephone(served, name):
    """
    What answers the page's question stands there on five screens; each other part is a heading that says what is in it,
    opened and closed by the keyboard too, and whole on paper.
    """
    page = served(name, folded=True)
    page.wait_for_function(COUNTED)
    screens = page.evaluate("document.documentElement.scrollHeight / innerHeight")
    hidden = page.evaluate(FOLDED)
    page.locator(".tourstats-fold button").first.focus()
    page.keyboard.press("Enter")
    opened = page.evaluate(FOLDED)
    page.keyboard.press("Enter")
    closed = page.evaluate(FOLDED)
    page.emulate_media(media="print")
    on_paper = page.evaluate(WORDS)
    page.evaluate(UNFOLD)

    assert screens <= 5
    assert 0 < opened < hidden == closed
    assert on_paper == page.evaluate(WORDS)


COUNTED = """() => [...document.querySelectorAll('.tourstats-fold span')].every(
    one => /\\d (table|chart|form)/.test(one.textContent))"""
"""Whether each heading says what is in its part."""
FOLDED = """() => [...document.querySelectorAll('.tourstats-folded :is(.jp-RenderedMarkdown, table, .vega-embed)')]
    .filter(one => !one.checkVisibility()).length"""
"""How many pieces of a page are folded away."""


@pytest.mark.parametrize("name", EVERY)
def test_a_page_in_the_dark_and_on_paper(served, axe, name):
    """
    A checker of accessibility finds nothing serious in the dark either. On paper it is black on white, no sheet is
    blank, every word of it is in the PDF's text, and nothing is there to be pressed.
    """
    page = served(name, 1280, "dark")
    found = against(axe, page)
    pdf = pypdfium2.PdfDocument(page.pdf(format="A4", prefer_css_page_size=True))
    printed = [letters(sheet.get_textpage().get_text_range()) for sheet in pdf]
    sheets = "".join(printed)
    page.emulate_media(media="print")
    words = [letters(word) for word in page.evaluate(WORDS)]

    assert [] == found
    assert len(pdf) <= SHEETS.get(name, 40)
    assert all(printed), "a blank sheet"
    assert len(words) > 2
    assert [] == [word for word in words if word not in sheets]
    assert [] == page.evaluate(PRESSED)
    assert [] == page.evaluate(WITHOUT_HEADS)
    assert "rgb(255, 255, 255)" == page.evaluate("getComputedStyle(document.body).backgroundColor")


WITHOUT_HEADS = """() => [...document.querySelectorAll('#rendered_cells thead th button')].filter(
    one => one.closest('table').checkVisibility() && !one.checkVisibility()).map(one => one.textContent)"""
"""Heads of tables that are not printed with them."""


def letters(text):
    """Latin letters and figures alone: paper breaks lines, and the letters of other scripts depend on the machine."""
    return re.sub(r"[^A-Za-z0-9]+", "", text)
