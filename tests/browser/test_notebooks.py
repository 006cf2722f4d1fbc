"""Every notebook opened and run: no error, every chart drawn and alive, nothing asked of a network."""

import pytest

from tests.browser.looking import said_at_rest
from tourstats.pages import workbook

pytestmark = pytest.mark.browser

BOOKS = sorted(path.name for path in workbook.NOTEBOOKS.glob("[0-9]*.ipynb"))
CHARTS = {
    "03-likely-swaps.ipynb": 4,
    "04-rotation.ipynb": 4,
    "05-playing-trends.ipynb": 4,
    "06-repeat-audience.ipynb": 4,
}
"""How many charts each notebook shows on the demo tour; the others show none."""
ERROR, STDERR = (f".jp-RenderedText[data-mime-type='application/vnd.jupyter.{kind}']" for kind in ("error", "stderr"))
INK = """() => Promise.all([...document.querySelectorAll('.vega-embed')].map(async chart => {
    const svg = chart.querySelector('svg.marks'), sheet = document.createElement('canvas');
    if (!svg) return ['no picture', 0, 0];
    sheet.width = svg.clientWidth, sheet.height = svg.clientHeight;
    const picture = new Image();
    picture.src = 'data:image/svg+xml,' + encodeURIComponent(new XMLSerializer().serializeToString(svg));
    await picture.decode();
    const draw = sheet.getContext('2d');
    draw.drawImage(picture, 0, 0);
    const dots = draw.getImageData(0, 0, sheet.width, sheet.height).data, colours = new Set();
    for (let at = 0; at < dots.length; at += 4) colours.add(dots.slice(at, at + 4).join());
    const marks = [...svg.querySelectorAll('.role-mark path')].filter(one => one.getBoundingClientRect().width > 0);
    return [svg.querySelector('.role-title-text')?.textContent || 'no title', colours.size, marks.length];
}))"""
"""Of each chart its title, how many colours its picture has, and how many marks of data can be seen."""


@pytest.mark.parametrize("name", BOOKS)
def test_a_notebook_runs_and_draws(tab, name):
    """
    No cell ends in an error; every chart is there, with a title, ink and data, and says more where the mouse rests.
    """
    page = tab(name, height=12000)
    page.wait_for_function(
        "many => document.querySelectorAll('.vega-embed svg.marks, .vega-embed canvas').length >= many",
        arg=CHARTS.get(name, 0),
    )
    drawn = page.evaluate(INK)

    assert [] == page.locator(ERROR).all_inner_texts()
    assert [] == page.locator(STDERR).all_inner_texts()
    assert CHARTS.get(name, 0) == len(drawn)
    assert [] == [chart for chart in drawn if chart[0] == "no title" or chart[1] < 3 or chart[2] < 1]
    assert [] == [
        title for (title, *_), chart in zip(drawn, page.locator(".vega-embed").all(), strict=True)
        if not said_at_rest(page, chart)
    ]  # fmt: skip
