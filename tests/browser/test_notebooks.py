"""Every notebook opened and run as a person does it: no error, every chart drawn, nothing asked of a network."""

import pytest

from tourstats.pages import workbook

pytestmark = pytest.mark.browser

BOOKS = sorted(path.name for path in workbook.NOTEBOOKS.glob("[0-9]*.ipynb"))
DRAWN = {"03-likely-swaps", "04-rotation", "05-playing-trends", "06-repeat-audience"}
INK = """() => [...document.querySelectorAll('.vega-embed')].map(chart => {
    const canvas = chart.querySelector('canvas');
    if (!canvas) return chart.querySelectorAll('svg path').length;
    const dots = canvas.getContext('2d').getImageData(0, 0, canvas.width, canvas.height).data;
    const colours = new Set();
    for (let at = 0; at < dots.length; at += 4) colours.add(dots.slice(at, at + 4).join());
    return colours.size;
})"""
"""How many colours each chart shows; one colour is an empty sheet."""


@pytest.mark.parametrize("name", BOOKS)
def test_a_notebook_runs_and_draws(tab, name):
    """
    No cell ends in an error, and every chart has ink on it.
    """
    page = tab(name, height=8000)
    page.wait_for_function("() => !document.querySelector('.vega-embed:empty')")
    colours = page.evaluate(INK)

    assert [] == page.locator(".jp-RenderedText[data-mime-type='application/vnd.jupyter.error']").all_inner_texts()
    assert [] == page.locator(".jp-RenderedText[data-mime-type='application/vnd.jupyter.stderr']").all_inner_texts()
    assert (name.removesuffix(".ipynb") in DRAWN) == bool(colours)
    assert [] == [count for count in colours if count < 3]


def test_a_chart_says_more_where_the_mouse_rests(tab):
    """
    The bar of the chart of layoffs names its song.
    """
    page = tab("04-rotation.ipynb", height=8000)
    bar = page.locator(".vega-embed").first.locator("svg.marks g.role-mark.mark-rect path").first
    bar.hover(force=True)
    shown = page.locator("#vg-tooltip-element.visible")

    assert "song" in shown.inner_text().lower()
