"""How the playing goes, as pictures."""

from __future__ import annotations

from typing import Any

import pandas as pd

from tourstats.pages.kit import fitting
from tourstats.pages.kit.charts import FAINT, IN, INK, KEPT, QUIET, ROW, THIRD, WIDTH, finished
from tourstats.pages.kit.light_altair import alt
from tourstats.problems import counted, listed

FEWEST, MOST = 0.1, 10.0
"""Ends of the axis of ratios; an interval that goes beyond is cut there."""


def effects(frame: pd.DataFrame, title: str = "") -> Any:  # noqa: ANN401  # an Altair chart
    """Draw how many times as many mistakes go with each circumstance.

    Parameters
    ----------
    frame
        A row an effect: words, ratio, low, high, clear.
    title
        The finding.

    """
    rows = frame[["words", "ratio", "low", "high", "clear"]].copy()
    rows[["ratio", "low", "high"]] = rows[["ratio", "low", "high"]].clip(FEWEST, MOST)
    rows["words"] = rows.words.astype("str").str.replace(r"^when (it|the song) was ", "", regex=True)
    rows["says"] = rows.clear.map({True: "clear", False: "may be chance"})
    order = rows.words.tolist()
    scale = alt.Scale(type="log", domain=[FEWEST, MOST])
    ticks = alt.Axis(values=[0.1, 0.2, 0.5, 1, 2, 5, 10], format="~g", grid=True)
    x = alt.X("ratio:Q", scale=scale, axis=ticks, title="times as many mistakes")
    y = alt.Y("words:N", sort=order, title=None, axis=alt.Axis(labelLimit=fitting.SENTENCES + 120))
    colour = alt.Color("says:N", scale=alt.Scale(domain=["clear", "may be chance"], range=[IN, KEPT]))
    shape = alt.Shape("says:N", scale=alt.Scale(domain=["clear", "may be chance"], range=["circle", "diamond"]))
    tooltip = [alt.Tooltip("words:N"), *(alt.Tooltip(f"{name}:Q", format=".2f") for name in ("ratio", "low", "high"))]
    one = alt.Chart(pd.DataFrame({"ratio": [1.0]})).mark_rule(color=INK).encode(x=x)
    reach = alt.Chart(rows).mark_rule(strokeWidth=2).encode(
        x=alt.X("low:Q", scale=scale, axis=ticks, title="times as many mistakes"),
        x2="high:Q", y=y, color=colour, tooltip=tooltip,
    )  # fmt: skip
    dots = alt.Chart(rows).mark_point(size=70, filled=True, opacity=1).encode(
        x=x, y=y, color=colour, shape=shape, tooltip=tooltip
    )  # fmt: skip
    chart = alt.layer(one, reach, dots).properties(width=WIDTH - 200, height=max(2 * ROW * len(rows), 3 * ROW))
    said = "; ".join(f"{row.words}: {row.ratio:.2f}, from {row.low:.2f} to {row.high:.2f}" for row in rows.itertuples())
    words = f"Ratios of mistakes with 95% intervals, a row a circumstance. {said}."
    clear = frame.words[frame.clear].tolist()
    finding = f"Clear: {listed(clear)}" if clear else "Nothing goes clearly with mistakes"
    how = "Dot and 95% interval; 1 is no difference."
    return finished(chart, title or finding, words, how, rows=len(rows))


def layoff_curve(frame: pd.DataFrame, title: str = "") -> Any:  # noqa: ANN401  # as above
    """Draw mistakes against shows off.

    Parameters
    ----------
    frame
        As from `layoff_curve` of the playing models.
    title
        The finding.

    """
    rows = frame.assign(way=frame.run_through.map({True: "run at the kit that week", False: "not run"}))
    x = alt.X("shows_off:Q", title="shows off", axis=alt.Axis(tickMinStep=1))
    ways = ["not run", "run at the kit that week"]
    colour = alt.Color("way:N", scale=alt.Scale(domain=ways, range=[IN, THIRD]), legend=None)
    dash = alt.StrokeDash("way:N", scale=alt.Scale(domain=ways, range=[[1, 0], [6, 3]]), legend=None)
    band = alt.Chart(rows).mark_area(opacity=0.25).encode(
        x=x, y=alt.Y("low:Q", title="times the mistakes"), y2="high:Q", color=colour
    )  # fmt: skip
    # Points that are not seen, for a line says the same wherever the mouse rests on it.
    line = alt.Chart(rows).mark_line(strokeWidth=2.5, point=alt.OverlayMarkDef(opacity=0, size=200)).encode(
        x=x, y=alt.Y("ratio:Q", title="times the mistakes"), color=colour, strokeDash=dash,
        tooltip=[
            "shows_off", alt.Tooltip("way", title="before"), alt.Tooltip("ratio", format=".2f"),
            alt.Tooltip("low", format=".2f"), alt.Tooltip("high", format=".2f"),
        ],
    )  # fmt: skip
    at = rows[(rows.shows_off % 10 == 0) & (rows.shows_off > 0)]
    ratios = "; ".join(
        f"{row.shows_off} shows off, {row.way}: {row.ratio:.2f} ({row.low:.2f} to {row.high:.2f})"
        for row in at.itertuples()
    )
    # Each line says itself what it is, above its end.
    last = rows[rows.shows_off == rows.shows_off.max()]
    names = (
        alt.Chart(last)
        .mark_text(align="right", dy=-10, fontWeight=600)
        .encode(x=x, y="ratio:Q", text="way:N", color=colour)
    )
    chart = alt.layer(band, line, names).properties(width=WIDTH, height=240)
    finding = ratios.partition(";")[0] or "Mistakes against shows off"
    return finished(chart, title or finding, f"Ratio of mistakes against shows off, with 95% band. {ratios}.")


def control(frame: pd.DataFrame, title: str = "") -> Any:  # noqa: ANN401  # as above
    """Draw each reviewed show against what its set should have brought.

    Parameters
    ----------
    frame
        As from `control` of the playing models, with `date`.
    title
        The finding.

    """
    rows = frame.assign(
        number=range(1, len(frame) + 1), says=frame.signal.map({True: "stands out", False: "as expected"})
    )
    x = alt.X("number:Q", title="reviewed show", scale=alt.Scale(nice=False), axis=alt.Axis(tickMinStep=1))
    count = "mistakes found"
    says = ["as expected", "stands out"]
    tooltip = [
        alt.Tooltip("date:T", format="%-d %b %Y"), alt.Tooltip("mistakes:Q"), alt.Tooltip("expected:Q", format=".1f"),
        alt.Tooltip("because:N"), alt.Tooltip("made_by:N"),
    ]  # fmt: skip
    band = alt.Chart(rows).mark_area(color=FAINT, interpolate="step").encode(
        x=x, y=alt.Y("low:Q", title=count), y2="high:Q"
    )  # fmt: skip
    line = alt.Chart(rows).mark_line(color=QUIET, interpolate="step").encode(x=x, y=alt.Y("expected:Q", title=count))
    dots = alt.Chart(rows).mark_point(size=45, filled=True, opacity=1).encode(
        x=x, y=alt.Y("mistakes:Q", title=count), tooltip=tooltip,
        color=alt.Color("says:N", scale=alt.Scale(domain=says, range=[INK, IN])),
        shape=alt.Shape("says:N", scale=alt.Scale(domain=says, range=["circle", "triangle-up"])),
    )  # fmt: skip
    chart = alt.layer(band, line, dots).properties(width=WIDTH, height=240)
    loud = rows[rows.signal]
    said = "; ".join(
        f"show {row.show_id}: {row.mistakes} mistakes, {row.expected:.1f} expected, {row.because}"
        for row in loud.itertuples()
    )
    words = (
        f"Mistakes of {len(rows)} reviewed shows, with what their sets should have brought and limits. "
        f"Standing out: {said or 'none'}."
    )
    finding = f"{counted(len(loud), 'show')} of {len(rows)} reviewed stand{'s' if len(loud) == 1 else ''} out"
    how = "Line: expected for this set and room. Band: limits."
    return finished(chart, title or finding, words, how, rows=len(frame))


def record(frame: pd.DataFrame) -> Any:  # noqa: ANN401  # as above
    """Draw expected mistakes against those found, by fifths of the performances.

    Parameters
    ----------
    frame
        fifth, performances, expected, found, in the order of what was expected.

    """
    label = "mistakes per performance"
    rows = frame.melt(["fifth", "performances"], ["expected", "found"], var_name="which", value_name="rate")
    y = alt.Y("fifth:N", sort=frame.fifth.tolist(), title=None)
    says = alt.Scale(domain=["expected", "found"], range=[INK, IN])
    dots = alt.Chart(rows).mark_point(size=70, filled=True, opacity=1).encode(
        x=alt.X("rate:Q", title=label), y=y, color=alt.Color("which:N", scale=says),
        shape=alt.Shape("which:N", scale=alt.Scale(domain=says.domain, range=["diamond", "circle"])),
        tooltip=["fifth", "which", alt.Tooltip("rate:Q", format=".2f"), "performances"],
    )  # fmt: skip
    line = alt.Chart(frame).mark_rule(color=KEPT).encode(x=alt.X("expected:Q", title=label), x2="found:Q", y=y)
    chart = alt.layer(line, dots).properties(width=WIDTH - 150, height=2 * ROW * len(frame))
    said = "; ".join(f"{row.fifth}: {row.expected:.2f} expected, {row.found:.2f} found" for row in frame.itertuples())
    words = f"Mistakes per performance, expected and found, by fifths of the performances. {said}."
    how = "Fifths of the performances, by what was expected."
    return finished(chart, "Expected mistakes beside those found", words, how, rows=len(rows))
