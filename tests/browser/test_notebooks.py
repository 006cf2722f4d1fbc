"""Notebooks in JupyterLab: no error, every chart drawn and alive, forms that save, nothing asked of a network."""

import pytest

from tests.browser.driving import FORM, said
from tests.browser.looking import said_at_rest

pytestmark = pytest.mark.browser

CHARTS = {
    "03-likely-swaps.ipynb": 5,
    "04-rotation.ipynb": 5,
    "05-playing-trends.ipynb": 6,
    "06-repeat-audience.ipynb": 5,
}
"""How many charts each notebook shows on the demo tour, those of *Your own question* (which have no title) among them.
The other notebooks are executed without a browser."""
OURS = 4
"""How many of them have a title at least."""
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


@pytest.mark.parametrize("name", CHARTS)
def test_a_notebook_runs_and_draws(tab, name):
    """
    No cell ends in an error; every chart is there, with a title, ink and data, and says more where the mouse rests.
    """
    page = tab(name, height=12000)
    page.wait_for_function(
        "many => document.querySelectorAll('.vega-embed svg.marks, .vega-embed canvas').length >= many",
        arg=CHARTS[name],
    )
    drawn = page.evaluate(INK)

    assert [] == page.locator(ERROR).all_inner_texts()
    assert [] == page.locator(STDERR).all_inner_texts()
    assert CHARTS[name] == len(drawn)
    assert [] == [chart for chart in drawn if chart[1] < 3 or chart[2] < 1]
    titled = [chart for (title, *_), chart in zip(drawn, page.locator(".vega-embed").all(), strict=True)
              if title != "no title"]  # fmt: skip
    assert OURS <= len(titled)
    assert [] == [chart for chart in titled if not said_at_rest(page, chart)]


def test_a_form_saves_in_jupyterlab_too(tab, lab):
    """
    On the second day as on the first: opened, it runs; pressed, saved; opened again, what was saved stands there.
    """
    page = tab("02-after-the-show.ipynb")
    page.locator(FORM).get_by_role("button", name="Played as planned").click()
    said(page, "Saved: played as planned")
    page.reload()
    page.locator(FORM).get_by_text("Played as planned: ").wait_for()

    assert [] == page.locator(ERROR).all_inner_texts()
