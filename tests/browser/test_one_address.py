"""All pages at one address, in a browser: the bar, tables that can be used, and a server that goes."""

import pytest

from tests.browser.looking import SIDEWAYS
from tourstats.pages.kit.contents import PAGES

pytestmark = pytest.mark.browser


def test_the_bar_leads_from_page_to_page_and_keeps_the_theme(served):
    """
    Today first; a link leads on without another word; dark stays dark on the next page.
    """
    page = served("today", 1280)
    links = page.locator(".tourstats-wide a").all_inner_texts()
    page.get_by_role("link", name="Dark").click()
    page.locator("body.theme-dark #rendered_cells").wait_for(state="visible")
    page.locator(".tourstats-wide").get_by_role("link", name="Show day").click()
    page.locator("body.theme-dark #rendered_cells").wait_for(state="visible")

    assert [one.title for one in PAGES] == links[:-1]
    assert "Show day" == page.title()
    assert [] == page.evaluate(SIDEWAYS)


def test_a_table_is_sorted_searched_and_opened_in_full(served):
    """
    By presses alone: all rows, then in the order of the first column, then those that have the word.
    """
    page = served("rotation", 1280)
    table = page.locator("table.tourstats").first
    rows = table.locator("tbody tr:visible")
    few = rows.count()
    page.locator(".tourstats-all").first.click()
    every = rows.count()
    table.locator("th button").first.click()
    titles = table.locator("tbody tr:visible td:first-child").all_inner_texts()
    field = page.get_by_label("Search this table").first
    field.fill(titles[3])
    found = rows.count()
    field.fill("")

    assert few < every
    assert sorted(titles[:9], key=lambda one: (not one.isdigit(), one.casefold())) == titles[:9]
    assert 1 <= found < every
    assert every == rows.count()


def test_what_is_typed_is_kept_when_the_server_goes(served):
    """
    One bar says so; the words are in the browser, for the page that is opened next.
    """
    page = served("show-day", 1280)
    bar = page.locator(".tourstats-gone")
    hidden = bar.is_hidden()
    page.context.set_offline(True)
    page.get_by_role("button", name="Paste another set").click()
    page.evaluate("window.dispatchEvent(new Event('online'))")
    bar.get_by_text("Not connected. Your words are kept here; reload.").wait_for()
    page.locator("textarea").first.evaluate(
        "one => { one.value = 'Qwxyz'; one.dispatchEvent(new Event('input', {bubbles: true})); }"
    )
    kept = page.evaluate("JSON.stringify(localStorage)")

    assert hidden
    assert "Qwxyz" in kept
