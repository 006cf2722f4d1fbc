"""Each page as `tourstats workbook` serves it: read and pressed on a telephone and at a desk."""

import pytest

from tests.browser.looking import FINDINGS, SIDEWAYS, SMALL_TEXT, TARGETS
from tourstats.pages.kit.places import PAGES
from tourstats.pages.workbook import served as pages

pytestmark = pytest.mark.browser

LETTERS_PX, TARGET_PX = 16, 44


@pytest.mark.parametrize("name", [page.name for page in PAGES])
def test_a_page_is_read_and_pressed_at_both_widths(served, name):
    """
    Nothing scrolls sideways, no letter is smaller than 16 px, nothing to press is lower than 44 px.
    """
    page = served(name)

    assert not page.get_by_text("Error:").locator("visible=true").count()
    for width in (390, 1280):
        page.set_viewport_size({"width": width, "height": 844})

        assert [] == page.evaluate(SIDEWAYS), width
        assert [] == page.evaluate(SMALL_TEXT, LETTERS_PX), width
        assert [] == [one for one in page.evaluate(TARGETS) if one[3] < TARGET_PX], width


@pytest.mark.parametrize(
    ("name", "charts"),
    [("likely-swaps", 4), ("rotation", 4), ("playing-trends", 4), ("repeat-audience", 4), ("leg-review", 2)],
)
def test_what_a_chart_says_is_read_without_moving_it(served, name, charts):
    """
    On a telephone a chart may be moved in its frame; its finding stands whole where the frame begins, once drawn.
    """
    page = served(name)
    page.wait_for_function(f"charts => ({FINDINGS})().length === charts", arg=charts)
    found = page.evaluate(FINDINGS)

    assert [] == [one for one in found if one[1] > one[2]]


@pytest.mark.parametrize("theme", pages.THEMES)
@pytest.mark.parametrize("name", ["show-day", "after-the-show", "start", "corrections"])
def test_a_form_can_be_used_by_everyone(served, axe, name, theme):
    """
    A checker of accessibility judges fields, names and the contrast of words, and finds nothing serious.
    """
    page = served(name, 1280, theme)
    found = axe.run(page, context=".tourstats-form", options={}).response
    judged = {one["id"]: " ".join(node["html"] for node in one["nodes"]) for one in found["passes"]}

    assert {"label", "select-name", "button-name"} <= judged.keys()
    assert "<label" in judged["color-contrast"]
    assert [] == [
        (one["id"], [node["html"] for node in one["nodes"]][:3])
        for one in found["violations"]
        if one["impact"] in ("serious", "critical")
    ]
