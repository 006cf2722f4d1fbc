"""The chart of a song on one page: its sections in order, large enough to read from a stand."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

import pandas as pd

from tourstats.pages.kit import typeset
from tourstats.pages.kit.charts import svg
from tourstats.pages.song import chart

PAPER_PX = 680
"""How wide the strip is drawn for paper: its letters are then as large as the others."""


def name_of(song: str) -> str:
    """Name of the file.

    Examples
    --------
    >>> name_of("Salt & Stairs")
    'chart-salt-stairs.pdf'

    """
    return f"chart-{re.sub(r'[^a-z0-9]+', '-', song.lower()).strip('-') or 'song'}.pdf"


def chart_pdf(song: str, sections: pd.DataFrame, facts: Mapping[str, Any] | None = None) -> bytes:
    """Set a song's chart as a PDF of one page.

    Parameters
    ----------
    song, sections
        Title, and its sections in order: name, bars, feel, leads, cue, hits.
    facts
        Its row of the repertoire: tempo_bpm, count_in, starts_by, watch.

    """
    made = chart.shape(sections, px=PAPER_PX)
    told = {
        "title": song, "head": " · ".join(_head(facts or {})), "fonts": typeset.FONTS, "paper": "a4",
        "strip": svg(made, PAPER_PX), "about": made.to_dict()["description"],
        "rows": [_row(row) for row in sections.to_dict("records")],
        "size": max(7.0, min(13.0, 420 / max(len(sections), 1))),
    }  # fmt: skip
    return typeset.printed(_TEMPLATE, told)[0]


def _head(facts: Mapping[str, Any]) -> list[str]:
    tempo = facts.get("tempo_bpm")
    said = [f"{tempo:.0f} bpm"] if tempo is not None and pd.notna(tempo) else []
    for name, words in (("count_in", "count-in"), ("starts_by", "starts"), ("watch", "watch")):
        if isinstance(facts.get(name), str):
            said.append(f"{words}: {facts[name]}")
    return said


def _row(row: Mapping[str, Any]) -> dict[str, str]:
    def cell(name: str) -> str:
        return str(row.get(name)) if isinstance(row.get(name), str) else ""

    behind = [
        cell("feel"),
        *(f"{words} {cell(name)}" for name, words in (("leads", "leads:"), ("cue", "cue:")) if cell(name)),
    ]
    bars = row.get("bars")
    return {
        "name": str(row["name"]), "bars": "" if bars is None or pd.isna(bars) else str(int(bars)),
        "behind": " · ".join(one for one in behind if one), "hits": cell("hits"),
    }  # fmt: skip


_TEMPLATE = """
#let data = json(bytes(sys.inputs.data))
#set document(title: data.title)
#set page(paper: data.paper, margin: (x: 14mm, y: 12mm))
#set text(font: data.fonts, size: data.size * 1pt, lang: "en")
#heading(level: 1, text(22pt, data.title))
#if data.head != "" { text(11pt, data.head) }
#image(bytes(data.strip), format: "svg", width: 100%, alt: data.about)
#table(columns: (auto, auto, 1fr), stroke: none, inset: (x: 5pt, y: data.size * 0.35pt),
  align: (left, right, left), table.header([*Section*], [*Bars*], [*What*]), table.hline(stroke: 0.5pt),
  ..data.rows.map(row => (strong(row.name), row.bars, {
    text(row.behind)
    if row.hits != "" { if row.behind != "" { linebreak() }; strong("hits: " + row.hits) }
  })).flatten())
"""
