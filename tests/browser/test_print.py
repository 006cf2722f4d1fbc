"""The show day as it is handed on: few screens of a telephone, few sheets of paper, and nothing cut."""

import re

import pypdfium2
import pytest

pytestmark = pytest.mark.browser

SCREENS, SHEETS = 5, 3
WORDS = """() => {
    const root = document.querySelector('#rendered_cells'), found = [];
    const words = document.createTreeWalker(root, NodeFilter.SHOW_TEXT);
    while (words.nextNode()) {
        const one = words.currentNode.parentElement, text = words.currentNode.textContent.trim();
        if (text && !one.closest('style, script, svg, option') && one.checkVisibility()) found.push(text);
    }
    return found;
}"""
"""What can be read on a page, as it is shown on a screen or, where that is asked for, on paper."""


def letters(text):
    """Latin letters and figures alone: paper breaks lines, and the letters of other scripts depend on the machine."""
    return re.sub(r"[^A-Za-z0-9]+", "", text)


def test_the_show_day_fits_a_few_screens_and_a_few_sheets(served):
    """
    From a dark page: every word that goes on paper is in the PDF's text, and no form is.
    """
    page = served("show-day", 390, "dark")
    high = page.evaluate("document.documentElement.scrollHeight / innerHeight")
    pdf = pypdfium2.PdfDocument(page.pdf(format="A4", prefer_css_page_size=True))
    sheets = letters(" ".join(sheet.get_textpage().get_text_range() for sheet in pdf))
    page.emulate_media(media="print")
    words = [letters(word) for word in page.evaluate(WORDS)]

    assert high <= SCREENS
    assert len(pdf) <= SHEETS
    assert len(words) > 40
    assert [] == [word for word in words if word not in sheets]
    assert "Savethe" not in sheets
    assert "Minutesbeforedoors" not in sheets
