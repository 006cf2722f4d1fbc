"""Each page as `tourstats workbook` serves it: read and pressed on a telephone and at a desk, light and dark."""

import pytest

from tests.browser.looking import FINDINGS, SIDEWAYS, SMALL_TEXT, TARGETS, against
from tourstats.pages.kit.contents import PAGES

pytestmark = pytest.mark.browser

LETTERS_PX, TARGET_PX = 16, 44
CHARTS = {"likely-swaps": 4, "rotation": 4, "playing-trends": 4, "repeat-audience": 4, "leg-review": 2}
DARK = ("today", "show-day", "rotation", "after-the-show", "corrections")
"""Pages that a checker judges in the dark too: together they have every part that the others are made of."""


@pytest.mark.parametrize("name", [page.name for page in PAGES])
def test_a_page_is_read_and_pressed_at_both_widths(served, axe, name):
    """
    Nothing scrolls sideways, no letter under 16 px, nothing to press under 44 px, and what charts say stands whole.
    """
    page = served(name)
    page.wait_for_function(f"charts => ({FINDINGS})().length >= charts", arg=CHARTS.get(name, 0))

    assert not page.get_by_text("Error:").locator("visible=true").count()
    for width in (390, 1280):
        page.set_viewport_size({"width": width, "height": 844})

        assert [] == page.evaluate(SIDEWAYS), width
        assert [] == page.evaluate(SMALL_TEXT, LETTERS_PX), width
        assert [] == [one for one in page.evaluate(TARGETS) if one[3] < TARGET_PX], width
        assert [] == [one for one in page.evaluate(FINDINGS) if one[1] > one[2]], width
    assert [] == against(axe, page)


@pytest.mark.parametrize("name", DARK)
def test_a_page_can_be_used_by_everyone_in_the_dark(served, axe, name):
    """
    A checker of accessibility finds nothing serious there either.
    """
    assert [] == against(axe, served(name, 1280, "dark"))
