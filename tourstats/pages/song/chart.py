"""The shape of a song as a strip to scale."""

from __future__ import annotations

import re
from typing import Any

import pandas as pd

from tourstats.pages.kit import fitting
from tourstats.pages.kit.charts import INK, KEPT, PALETTE, WIDTH, finished
from tourstats.pages.kit.light_altair import alt
from tourstats.problems import counted

BARS_UNSAID = 4
"""How wide a section is drawn whose bars nobody has said."""
_LETTER_PX = 6.2
"""What a letter of 11 px takes, on average."""
LIGHT = ["#c6d2ea", "#f2cabd", "#bfe3e4", "#f0dcae"]
"""The four colours of categories, light enough for words on them; a section of any further name is grey."""


def shape(sections: pd.DataFrame, song: str = "", px: int | None = None) -> Any:  # noqa: ANN401  # an Altair chart
    """Draw a song's sections to scale, from its first bar to its last.

    Parameters
    ----------
    sections
        In order: name, bars, and if known feel, leads, cue, hits.
    song
        Its title.
    px
        How wide it will be drawn, to know which names have room; by default as wide as the page is.

    Returns
    -------
    alt.LayerChart
        One strip; sections of one name have one colour, and a dashed edge where nobody has said how long they are.

    """
    table = _placed(sections, fitting.across() if px is None else px)
    kinds = list(dict.fromkeys(table.kind))
    colours = [*LIGHT, *["#e3e6e9"] * max(len(kinds) - len(PALETTE), 0)][: len(kinds)]
    total = int(table.bars.sum())
    x = alt.X("start:Q", title="bars", scale=alt.Scale(domain=[0, max(float(table.end.max() or 0), 1)], nice=False),
              axis=alt.Axis(grid=False, tickMinStep=1))  # fmt: skip
    base = alt.Chart(table)
    tooltip = [alt.Tooltip(f"{name}:N", title=name) for name in ("name", "said", "feel", "leads", "cue", "hits")]
    strip = base.mark_bar(height=46, stroke=KEPT, strokeWidth=1).encode(
        x=x, x2="end:Q", tooltip=tooltip,
        color=alt.Color("kind:N", scale=alt.Scale(domain=kinds, range=colours), legend=None),
        strokeDash=alt.condition("datum.unsaid", alt.value([4, 3]), alt.value([1, 0])),
    )  # fmt: skip
    words = base.mark_text(baseline="middle", color=INK, fontSize=11, lineBreak="|").encode(
        x=alt.X("middle:Q"), text="label:N"
    )
    title = f"{song}: " if song else ""
    unsaid = int(table.unsaid.sum())
    said = f"{title}{counted(len(table), 'section')}, {counted(total, 'bar')}"
    told = "; ".join(f"{row.name} {row.said}" for row in table[["name", "said"]].itertuples(index=False))
    return finished(
        (strip + words).properties(width=WIDTH, height=70), said, f"A strip of sections in order: {told}.",
        f"{counted(unsaid, 'section')} without a number of bars: dashed, drawn as {BARS_UNSAID}." if unsaid else "",
        rows=len(table),
    )  # fmt: skip


def _placed(sections: pd.DataFrame, px: int) -> pd.DataFrame:
    """Where each section begins and ends, what it is of, and what is written on it."""
    table = sections.reindex(columns=["name", "bars", "feel", "leads", "cue", "hits"]).reset_index(drop=True)
    bars = table.bars.astype("Float64")
    drawn = bars.fillna(BARS_UNSAID).astype(float)
    end = drawn.cumsum()
    lengths = ["" if pd.isna(one) else counted(int(one), "bar") for one in bars]
    # A name is written out where its letters, and a little beside them, have room in its section.
    wide = drawn / max(drawn.sum(), 1) * (px - 24) > table.name.str.len() * _LETTER_PX + 8
    short = [
        name if room else "".join(part[0] for part in re.split(r"[\s-]+", name))
        for name, room in zip(table.name, wide, strict=True)
    ]
    return table.assign(
        kind=[re.sub(r"\s*\d+$", "", name) for name in table.name], unsaid=bars.isna().to_numpy(bool), said=lengths,
        bars=bars.fillna(0).astype(int), start=end - drawn, end=end, middle=end - drawn / 2,
        label=[f"{name}|{'?' if pd.isna(one) else int(one)}" for name, one in zip(short, bars, strict=True)],
    ).astype(dict.fromkeys(("feel", "leads", "cue", "hits"), object)).fillna("")  # fmt: skip
