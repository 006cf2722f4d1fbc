"""What all charts share: colours, type, sizes, and how a chart reaches a notebook, a saved page and paper.

A chart function takes a table whose columns a model computed, and ends with `finished(chart, title, description)`.
The title states the finding ("Nine songs came in last night"), not the axes; the description tells the same to somebody
who cannot see the picture.

JupyterLab 4 draws Vega-Lite 5, and Altair 6 writes Vega-Lite 6. So a chart goes out twice in one bundle: its spec,
labelled version 5, is live (tooltips) wherever there is something to draw it, and a picture stands beside it for
exported pages, print and files that were only opened. Nothing is fetched. Keep to what Vega-Lite 5.6 knows; the picture
is drawn by 5.8, the nearest at hand, so that a newer feature shows itself at once.
"""

from __future__ import annotations

import base64
import html
import os
import re
import textwrap
import zlib
from typing import Any

import pandas as pd
import vl_convert
from IPython import get_ipython

from tourstats.pages.kit import fitting, links, look
from tourstats.pages.kit.light_altair import alt

INK = "#1b1f24"
"""Text, axes, and marks that need no colour."""
QUIET = "#5c6670"
"""Second-rank text: axis labels, subtitles."""
KEPT = "#8a939c"
"""What stayed as it was: carry-overs, the usual range. The lightest that still stands out from white (3 : 1)."""
FAINT = "#d9dee3"
"""Grid lines and bands; never the only carrier of a fact."""
IN = "#a8321a"
"""What came in, what needs attention."""
OUT = "#14285f"
"""What went out, what was."""
THIRD = "#16858c"
FOURTH = "#c08610"
PALETTE = [OUT, IN, THIRD, FOURTH]
"""For categories, in this order. Lightness climbs (18, 39, 50, 61), so they differ in grey print too, and they stay
apart for the three kinds of colour blindness. Four is the limit: give more categories a row each, not a colour."""
RAMP = ["#e4edf2", "#9fc3cf", "#4f97a6", "#1f6376", "#14285f"]
"""For amounts, light to dark."""

WIDTH = 600
"""Width of a chart within its axes, until it is fitted to the page that shows it."""
ROW = 18
"""Height of a row that has a label, so that neighbouring labels never touch."""
FONT = "system-ui, 'Segoe UI', 'Helvetica Neue', Arial, 'Liberation Sans', 'DejaVu Sans', sans-serif"
"""Whatever is on the machine; nothing is fetched."""

NO_WORDS = "A chart without a description."
NOTHING = "nothing to draw"
"""What a chart without any data says of itself."""
LIVE = "application/vnd.vegalite.v5+json"
DOT = "iVBORw0KGgoAAAANSUhEUgAAAAEAAAABCAQAAAC1HAwCAAAAC0lEQVR42mNkYAAAAAYAAjCB0C8AAAAASUVORK5CYII="
"""The smallest picture. What draws a live chart adds a picture to it where it has none, and where pages are served
that fails with an error below the chart."""
HEAVY = 250_000
"""Bytes from which a picture of lines is weighed against one of dots; below that, lines stay sharp in print. Few marks
get there: the tour of 150 songs at 200 shows, some 3,000 marks, does not."""

_TITLE_LINE = 74
"""Letters of the title that fit beside each other where a chart has not been fitted to a page."""

THEME: dict[str, Any] = {
    "background": "#ffffff",  # also on a dark page: the colours were chosen against white
    "font": FONT,
    "padding": {"left": 12, "top": 8, "right": 8, "bottom": 8},  # a font wider than the one measured with needs room
    "view": {"stroke": None, "continuousWidth": WIDTH, "continuousHeight": 260},
    "title": {
        "anchor": "start",
        "frame": "bounds",  # from the left edge, where a telephone shows it
        "color": INK,
        "fontSize": 15,
        "fontWeight": 600,
        "lineHeight": 19,
        "subtitleColor": QUIET,
        "subtitleFontSize": 13,
        "subtitleLineHeight": 17,
        "subtitlePadding": 4,
        "offset": 12,
    },
    "axis": {
        "domainColor": KEPT,
        "gridColor": FAINT,
        "labelColor": INK,
        "labelFontSize": 13,
        "labelLimit": 210,
        "tickColor": KEPT,
        "titleColor": QUIET,
        "titleFontSize": 13,
        "titleFontWeight": "normal",
        "titlePadding": 8,
    },
    # The last number is drawn inside the frame, and would touch the one before it.
    "axisX": {"labelSeparation": 8},
    "legend": {
        "labelColor": INK,
        "labelFontSize": 13,
        "labelLimit": 260,
        "orient": "top",
        "symbolType": "square",
        "title": None,
        "titleColor": QUIET,
        "titleFontSize": 13,
        "titleFontWeight": "normal",
    },
    "header": {"labelColor": INK, "labelFontSize": 13, "labelFontWeight": 600, "title": None},
    "range": {"category": PALETTE, "ramp": RAMP, "heatmap": RAMP, "ordinal": RAMP},
    # A screen reader gets the description, not a word for each of hundreds of marks; the table beside has the figures.
    "mark": {"color": OUT, "aria": False},
    "rule": {"color": KEPT, "aria": False},
    "text": {"color": INK, "fontSize": 13},
}


def finished(
    chart: Any,  # noqa: ANN401  # any Altair chart
    title: str,
    description: str,
    subtitle: str = "",
    *,
    rows: int | None = None,
) -> Any:  # noqa: ANN401  # the same chart
    """Give a chart its title, its words for a screen reader, and the look that all charts share.

    Parameters
    ----------
    chart
        Any Altair chart with its data in it.
    title
        The finding, as a sentence.
    description
        What the chart shows and what it says, for somebody who cannot see it.
    subtitle
        How to read it, or what it rests on.
    rows
        How much there is to draw, where that may be nothing: a page then shows the title instead of empty axes.

    Returns
    -------
    alt.Chart
        Or whichever kind of chart was given; the renderer is registered as well, so that it is seen.

    Raises
    ------
    ValueError
        If the title or the description is empty.

    Examples
    --------
    >>> bars = alt.Chart(pd.DataFrame({"song": ["Ferry"], "layoff_shows": [9]})).mark_bar().encode(x="layoff_shows:Q")
    >>> finished(bars, "Ferry out 9 shows", "One bar, Ferry: 9 shows.").to_dict()["description"]
    'One bar, Ferry: 9 shows.'

    """
    for name, text in (("title", title), ("description", description)):
        if not text.strip():
            raise ValueError(f"A chart needs a {name} that says what it shows; it was empty.")
    register()
    heading = {"text": textwrap.wrap(title, _TITLE_LINE)}
    if subtitle.strip():
        heading["subtitle"] = textwrap.wrap(subtitle, _TITLE_LINE + 12)
    return chart.properties(
        title=alt.TitleParams(**heading),
        description=" ".join(description.split()),
        **({"usermeta": {NOTHING: True}} if rows == 0 else {}),
    )


def plain(frame: pd.DataFrame, columns: list[str]) -> pd.DataFrame:
    """Only what is drawn, in types that every drawing engine knows, and no finer than can be seen."""
    drawn = frame.reset_index(drop=True).reindex(columns=columns).round(4)
    numbers = [name for name in columns if pd.api.types.is_numeric_dtype(drawn[name])]
    return drawn.astype(dict.fromkeys(numbers, "float64"))


def register() -> None:
    """Have Altair show charts as `bundle` makes them and in our look, unless others than its defaults were chosen.

    The look is a theme and no part of a chart, so that a chart can be gone on with: `chart + more`.

    Examples
    --------
    >>> register()
    >>> alt.renderers.active
    'tourstats'

    """
    if _registered:
        return
    _registered.append("tourstats")  # Altair would look through everything that is installed to know that
    alt.renderers.register("tourstats", bundle)
    if alt.renderers.active == "default":
        alt.renderers.enable("tourstats")
    alt.theme.register("tourstats", enable=alt.theme.active == "default")(lambda: {"config": THEME})
    if os.environ.get(look.LIVE_ONLY) and (shell := get_ipython()):
        # A page's charts are ours, and tests hold them against Vega-Lite's own rules: to do so again takes a third
        # of the time in which they are made.
        alt.utils.schemapi.disable_debug_mode()
        shell.display_formatter.mimebundle_formatter.for_type(alt.TopLevelMixin, _shown)


def _shown(chart: Any, **_: object) -> Any:  # noqa: ANN401  # as Altair's own and as `bundle`
    return bundle(chart.to_dict(validate=False, context={"pre_transform": False}))


_registered: list[str] = []


def bundle(spec: dict[str, Any], **_: object) -> tuple[dict[str, Any], dict[str, Any]]:
    """Make everything a page may want to show of a chart.

    Parameters
    ----------
    spec
        The chart as Vega-Lite, as Altair hands it to a renderer.

    Returns
    -------
    data
        By type: the live chart, one picture (`image/svg+xml`, or `image/png` where that is the smaller for many
        marks), and the description as `text/plain`.
    metadata
        By type: how to embed the live chart, and how wide to show the picture.

    """
    words = spec.get("description") or NO_WORDS
    if NOTHING in spec.get("usermeta", {}):
        title = f"{' '.join(spec['title']['text']).rstrip('.')}."
        return {"text/markdown": title, "text/plain": title}, {}
    spec = fitting.fitted(spec)
    embed = {"embed_options": {"actions": False, "renderer": "svg"}}
    data: dict[str, Any] = {LIVE: _live(spec), "text/plain": words}
    if os.environ.get(look.LIVE_ONLY):
        return data | {"image/png": DOT}, {LIVE: embed}
    if os.environ.get(look.PICTURES_THERE):
        return data, {LIVE: embed}
    picture, shape = _picture(spec)
    return data | picture, {LIVE: embed} | shape


def svg(chart: Any, px: int | None = None) -> str:  # noqa: ANN401  # any Altair chart
    """Draw a chart as SVG, for paper and for files: so many px wide, or as wide as the page that shows it.

    Examples
    --------
    >>> svg(alt.Chart(pd.DataFrame({"shows": [1, 2]})).mark_point().encode(x="shows:Q"))[:4]
    '<svg'

    """
    spec = chart.to_dict()
    return _svg(fitting.fitted(spec, px) if px or links.served() else spec)


def _svg(spec: dict[str, Any]) -> str:
    """Draw with nothing fetched, the same bytes each time, and the description where a screen reader finds it."""
    drawn = vl_convert.vegalite_to_svg(spec, vl_version="5.8", allowed_base_urls=[])
    drawn = re.sub(r' (?:role="graphics-[a-z]+"|aria-roledescription="[^"]*"|aria-hidden="true")', "", drawn)
    drawn = re.sub(r' (?:d|transform|[xy]2?|width|height)="[^"]*"', _rounded, drawn)
    # The drawing engine counts its clips up for as long as it runs; pages hold many pictures, so each needs its own.
    clips = dict.fromkeys(re.findall(r'id="((?:clip|gradient|pattern)\w*?\d+)"', drawn))
    own = f"p{zlib.crc32(str(spec).encode()):08x}"
    for at, clip in enumerate(clips):
        drawn = re.sub(rf'(?<=["#]){clip}(?=[")])', f"{own}-{at}", drawn)
    words = html.escape(spec.get("description") or NO_WORDS)
    return drawn.replace("<svg ", f'<svg role="img" aria-label="{words}" ', 1)


def _rounded(attribute: re.Match[str]) -> str:
    """Keep places to a hundredth of a dot."""
    return re.sub(r"(\.\d\d)\d+", r"\1", attribute[0])


def _picture(spec: dict[str, Any]) -> tuple[dict[str, str], dict[str, Any]]:
    """Take lines, or dots where there are so many lines that dots weigh less."""
    lines = _svg(spec)
    if len(lines) > HEAVY:
        dots = vl_convert.vegalite_to_png(spec, vl_version="5.8", scale=1, allowed_base_urls=[])
        coded = base64.b64encode(dots).decode("ascii")
        if len(coded) < len(lines):
            width, height = (int.from_bytes(dots[at : at + 4], "big") for at in (16, 20))
            return {"image/png": coded}, {"image/png": {"width": width, "height": height}}
    return {"image/svg+xml": lines}, {}


def _live(spec: dict[str, Any]) -> dict[str, Any]:
    """Label the spec as version 5, which it is in all we use.

    Its width stays as it is: with the width of its container, JupyterLab 4.6 measures and draws for ever.
    """
    return {**spec, "$schema": re.sub(r"/v6[^/]*\.json$", "/v5.json", spec.get("$schema", ""))}
