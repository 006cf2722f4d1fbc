"""Charts drawn for the width they have: a page's own, as its browser said, or that of a notebook.

A chart is made once, and its spec is fitted when it is shown: title and lines of words are wrapped to the width, panels
that stand side by side at a desk stand below one another on a telephone, long labels take two lines.
"""

from __future__ import annotations

import textwrap
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from tourstats.pages.kit import links
from tourstats.pages.kit.look import ACROSS

NOTEBOOK, LEAST, MOST = 760, 320, 980
"""Widths in px: where nothing is known, and the bounds."""
NARROW = 500
"""Below this many px a chart is for a telephone."""
_FOR_PAPER: list[str] = []
_TITLE_PX, _WORDS_PX = 8.6, 7.0
"""Px that a letter takes, on average: of a title of 15 px, of other words of 13 px."""
SENTENCES = 300
"""Px from which on the labels of a chart are sentences, whose rows are high enough for two lines."""
_LABELS, _LINES, _PAD = 150, 165, 40
"""Px that labels of a row may take on a telephone, in one line and in two, and that a panel needs beside its data."""
_SHORT, _LONG, _FEW, _ROW = 19, 205, 40, 30
"""Letters of a title that fit `_LABELS`, px for a longer one, and how many rows may be high enough for two lines."""
_TWO_LINES = (
    "length(datum.label) > {0} ? [slice(datum.label, 0, lastindexof(slice(datum.label, 0, {0} + 1), ' ')), "
    "slice(datum.label, lastindexof(slice(datum.label, 0, {0} + 1), ' ') + 1)] : datum.label"
)
_TITLE = {
    "labelExpr": _TWO_LINES.format(_SHORT),
    "labelOffset": {"condition": {"test": f"length(datum.value) > {_SHORT}", "value": -7}, "value": 0},
}
"""A title in two lines beside the middle of its row."""


def across() -> int:
    """How many px a chart has here.

    Examples
    --------
    >>> across()
    760

    """
    if _FOR_PAPER:
        return MOST
    said = links.asked(ACROSS)
    return min(max(int(said), LEAST), MOST) if said.isdigit() else NOTEBOOK


@contextmanager
def on_paper() -> Iterator[None]:
    """What is drawn meanwhile is for paper, which is as wide from a telephone as from a desk.

    Examples
    --------
    >>> with on_paper():
    ...     across()
    980

    """
    _FOR_PAPER.append("paper")
    try:
        yield
    finally:
        _FOR_PAPER.pop()


def narrow() -> bool:
    """Whether charts are drawn for a telephone."""
    return across() < NARROW


def fitted(spec: dict[str, Any], px: int | None = None) -> dict[str, Any]:
    """Fit a chart, as Vega-Lite, to a width.

    Parameters
    ----------
    spec
        As a chart of ours is handed to a renderer.
    px
        How many px it has, frame included; by default what `across` says.

    Examples
    --------
    >>> fitted({"mark": "bar", "title": {"text": ["Nine songs", "came in"]}, "width": 600}, 340)["width"]
    340

    """
    px = across() if px is None else px
    chart = dict(spec)
    square = isinstance(chart.get("width"), int | float) and chart["width"] == chart.get("height")
    room = min(px, chart["width"] + 120) if square else px
    if isinstance(chart.get("title"), dict):
        chart["title"] = _wrapped(chart["title"], room)
    if "facet" in chart or "column" in chart.get("encoding", {}):
        chart = _panels(chart, px)
    elif isinstance(chart.get("width"), int | float) and not {"hconcat", "vconcat", "concat", "repeat"} & set(chart):
        chart["width"] = room
        chart["autosize"] = {"type": "fit-x", "contains": "padding"}
    return _titles_whole(_labels_in_two_lines(chart)) if px < NARROW else chart


def _wrapped(title: dict[str, Any], px: int) -> dict[str, Any]:
    """The words above a chart, in lines as long as there is room."""
    made = dict(title)
    for name, letter in (("text", _TITLE_PX), ("subtitle", _WORDS_PX)):
        if made.get(name):
            words = made[name] if isinstance(made[name], str) else " ".join(made[name])
            made[name] = textwrap.wrap(words, max(int((px - 24) / letter), 12))
    return made


def _panels(spec: dict[str, Any], px: int) -> dict[str, Any]:
    """Panels side by side where there is room, else below one another with their names above them."""
    chart = dict(spec)
    column = chart["facet"]["column"] if "facet" in chart else chart["encoding"]["column"]
    inner = dict(chart.get("spec", chart))
    if px >= NARROW:
        inner["width"] = max((px - _LABELS - _PAD) / max(len(column.get("sort") or ()), 1) - 24, 60)
        return chart | ({"spec": inner} if "spec" in chart else inner)
    row = {name: value for name, value in column.items() if name != "spacing"} | {
        "header": {**(column.get("header") or {}), "orient": "top", "labelAnchor": "start", "labelAngle": 0}
    }
    inner["width"] = px - _LABELS - _PAD
    if "facet" in chart:
        return chart | {"facet": {"row": row}, "spec": inner}
    encoding = {name: value for name, value in chart["encoding"].items() if name != "column"}
    return chart | inner | {"encoding": encoding | {"row": row}}


def _titles_whole(chart: dict[str, Any]) -> dict[str, Any]:
    """Titles before the rows of a fitted chart stand there in full: in two lines, or in one where rows are many."""
    rows = [row for row in _rows(chart) if row.get("axis", {}) is not None and "labelExpr" not in row.get("axis", {})]
    titles: list[str] = max((row["sort"] for row in rows), key=len, default=[])
    if max(map(len, titles), default=0) <= _SHORT:
        return chart
    few = len(titles) <= _FEW
    for row in rows:
        row["axis"] = row.get("axis", {}) | (_TITLE if few else {"labelLimit": _LONG})
    high = chart.get("spec", chart)
    if few and isinstance(high.get("height"), int | float):
        high["height"] = max(high["height"], _ROW * len(titles))
    return chart


def _rows(part: Any) -> list[dict[str, Any]]:  # noqa: ANN401  # any part of a spec
    """What says which rows a chart has, in which order: everywhere in it."""
    if isinstance(part, list):
        return [row for one in part for row in _rows(one)]
    if not isinstance(part, dict):
        return []
    own = [part["y"]] if isinstance(part.get("y"), dict) and isinstance(part["y"].get("sort"), list) else []
    return own + [row for name, value in part.items() if name not in ("datasets", "data") for row in _rows(value)]


def _labels_in_two_lines(part: Any) -> Any:  # noqa: ANN401  # any part of a spec
    """Words that stand before a row take two lines, or are cut, where there is little room."""
    if isinstance(part, list):
        return [_labels_in_two_lines(one) for one in part]
    if not isinstance(part, dict):
        return part
    narrowed = {name: _labels_in_two_lines(value) for name, value in part.items() if name not in ("datasets", "data")}
    narrowed |= {name: part[name] for name in ("datasets", "data") if name in part}
    limit = narrowed.get("labelLimit")
    if narrowed.get("orient") == "top" and "symbolType" in narrowed:
        return narrowed | {"columns": 1}  # a legend: a line each
    if isinstance(limit, int | float) and limit > _LABELS:
        lines = {"labelLimit": _LINES, "labelExpr": _TWO_LINES.format(24)}
        narrowed |= lines if limit >= SENTENCES else {"labelLimit": _LABELS}
    return narrowed
