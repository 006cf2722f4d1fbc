"""Likely swaps, as pictures."""

from __future__ import annotations

import math
from typing import Any

import pandas as pd

from tourstats.pages.kit.charts import FAINT, IN, INK, KEPT, OUT, QUIET, ROW, WIDTH, finished, plain
from tourstats.pages.kit.light_altair import alt

FORECAST = "this forecast"
"""The way of telling that is not a simple rule."""
MOST_SONGS = 10
"""Songs that the chart of parts shows."""
SMALL = 0.005
"""Parts that move a song less than this have no mark."""


def parts(frame: pd.DataFrame, songs: list[str]) -> Any:  # noqa: ANN401  # an Altair chart
    """Draw what moves a song's chance up and down, against the average song outside, or inside, the last set.

    Parameters
    ----------
    frame
        One row per song and part: song, part, effect (log odds).
    songs
        Which songs, from top to bottom.

    """
    shown = [song for song in songs if song in set(frame.song)][:MOST_SONGS]
    table = frame[frame.song.isin(shown)]
    order = table.groupby("part").effect.apply(lambda e: e.abs().sum()).sort_values(ascending=False, kind="stable")
    kept = [part for part in order.index if order[part] > SMALL]
    table = table[table.part.isin(kept)].assign(
        way=lambda t: t.effect.ge(0).map({True: "likelier", False: "less likely"}),
    )
    times = 4 if table.effect.abs().max() > math.log(4) else 2
    odds = alt.Axis(
        values=[-math.log(times), 0, math.log(times)],
        labelExpr=f"datum.value < 0 ? '1/{times}' : datum.value > 0 ? '{times}' : '1'",
    )
    chart = (
        alt.Chart(plain(table, ["song", "part", "effect", "way"]))
        .mark_bar()
        .encode(
            x=alt.X("effect:Q", title=None, axis=odds),
            y=alt.Y("song:N", sort=shown, title=None),
            color=alt.Color("way:N", scale=alt.Scale(domain=["likelier", "less likely"], range=[IN, OUT])),
            column=alt.Column("part:N", sort=kept, spacing=8, header=alt.Header(title=None)),
            tooltip=["song:N", "part:N", alt.Tooltip("effect:Q", format="+.2f", title="log odds")],
        )
        .properties(width=max(WIDTH // max(len(kept), 1) - 20, 60), height=ROW * max(len(shown), 1))
    )
    said = f"What moves {len(shown)} songs, in log odds"
    strongest = f" The part that moves them most is {kept[0]!r}." if kept else ""
    return finished(
        chart,
        f'"{kept[0].capitalize()}" moves these songs most' if kept else "What is known moves none of these songs",
        f"{said}: a row for each song, a panel for each part of its chance ({', '.join(kept) or 'none'}).{strongest}",
        "How many times the odds of the average song outside the last set. To the right: likelier to come in.",
        rows=len(kept),
    )


def recall(frame: pd.DataFrame) -> Any:  # noqa: ANN401  # an Altair chart
    """Draw how many of the songs that came in were among the first on the list, beside simple rules.

    Parameters
    ----------
    frame
        One row per way of telling and number of songs run: way, first, recall, low, high.

    """
    table = frame.dropna(subset=["recall"]).assign(
        run=lambda t: "first " + t["first"].astype(str),
        kind=lambda t: t.way.eq(FORECAST).map({True: FORECAST, False: "rule"}),
    )
    ways = list(dict.fromkeys(table.way))
    runs = list(dict.fromkeys(table.run))
    color = alt.Color("kind:N", scale=alt.Scale(domain=[FORECAST, "rule"], range=[INK, KEPT]), legend=None)
    base = alt.Chart(plain(table, ["way", "run", "recall", "low", "high", "kind"])).encode(
        y=alt.Y("way:N", sort=ways, title=None)
    )
    scale = alt.Scale(
        domain=[0, min(1.0, 0.1 + float(table[["recall", "high"]].max().max() if len(table) else 0.9))], nice=True
    )
    bars = base.mark_rule(strokeWidth=2).encode(x=alt.X("low:Q", scale=scale), x2="high:Q", color=color)
    dots = base.mark_point(filled=True, size=70, opacity=1).encode(
        x=alt.X("recall:Q", scale=scale, title="found, of those that came in", axis=alt.Axis(format="%", tickCount=3)),
        color=color,
        shape=alt.Shape("kind:N", legend=None),
        tooltip=["way:N", "run:N", *(alt.Tooltip(f"{name}:Q", format=".0%") for name in ("recall", "low", "high"))],
    )
    chart = (
        alt.layer(bars, dots)
        .properties(width=WIDTH // 3 - 20, height=ROW * 1.6 * max(len(ways), 1))
        .facet(column=alt.Column("run:N", sort=runs, header=alt.Header(title=None)))
    )
    ours = table[table.way == FORECAST]
    words = ", ".join(f"the {row.run} held {row.recall:.0%}" for row in ours.itertuples())
    return finished(
        chart,
        f"Of the songs that came in, {words}"
        if words
        else "Not enough past shows yet to say how many of those that came in were on the list",
        f"Share of the songs that came in that were among the first of the list, for {', '.join(ways) or 'no way'}. "
        f"The forecast: {words or 'nothing yet'}.",
        "Lines: 95% intervals.",
        rows=len(table),
    )


def calibration(frame: pd.DataFrame) -> Any:  # noqa: ANN401  # an Altair chart
    """Draw what was said beside what happened.

    Parameters
    ----------
    frame
        One row per group of like chances: said, happened, low, high, songs.

    """
    axis = alt.Axis(format="%", tickCount=5)
    scale = alt.Scale(domain=[0, 1])
    right = alt.Chart(pd.DataFrame({"said": [0.0, 1.0], "happened": [0.0, 1.0]}))
    line = right.mark_line(color=KEPT, strokeDash=[4, 4]).encode(
        x=alt.X("said:Q", scale=scale, axis=axis, title="chance that was said"),
        y=alt.Y("happened:Q", scale=scale, axis=axis, title="share that was played"),
    )
    base = alt.Chart(plain(frame, ["said", "happened", "low", "high", "songs"])).encode(x="said:Q")
    bars = base.mark_rule(color=OUT, strokeWidth=2).encode(y=alt.Y("low:Q", scale=scale), y2="high:Q")
    dots = base.mark_point(filled=True, size=60, color=OUT, opacity=1).encode(
        y="happened:Q",
        tooltip=[*(alt.Tooltip(f"{name}:Q", format=".0%") for name in ("said", "happened", "low", "high")), "songs:Q"],
    )
    held = int(((frame.low <= frame.said) & (frame.said <= frame.high)).sum())
    said = f"In {held} of {len(frame)} groups the chance that was said is within the interval of what happened"
    return finished(
        alt.layer(line, bars, dots).properties(width=320, height=320),
        said if len(frame) else "Not enough past forecasts yet",
        f"{said}. On the dashed line, chances are right.",
        "A dot for each group of sixty songs or more with like chances. Lines: 95% intervals.",
        rows=len(frame),
    )


def swaps_a_night(frame: pd.DataFrame) -> Any:  # noqa: ANN401  # an Altair chart
    """Draw how many songs were expected to come in, and how many came.

    Parameters
    ----------
    frame
        Shows in order: came, expected, low, high.

    """
    table = frame.reset_index(drop=True).assign(
        number=lambda t: range(1, len(t) + 1),
        held=lambda t: ((t.low <= t.came) & (t.came <= t.high)).map({True: "within", False: "outside"}),
    )
    base = alt.Chart(plain(table, ["number", "came", "expected", "low", "high", "held"])).encode(
        x=alt.X(
            "number:Q",
            title="show that was forecast, in order",
            scale=alt.Scale(nice=False),
            axis=alt.Axis(tickMinStep=1),
        )
    )
    band = base.mark_bar(color=FAINT, size=5).encode(y=alt.Y("low:Q", title="songs coming in"), y2="high:Q")
    mean = base.mark_line(color=QUIET).encode(y="expected:Q")
    dots = base.mark_point(filled=True, size=45, opacity=1).encode(
        y="came:Q",
        color=alt.Color("held:N", scale=alt.Scale(domain=["within", "outside"], range=[INK, IN])),
        shape=alt.Shape("held:N", scale=alt.Scale(domain=["within", "outside"]), legend=None),
        tooltip=["number:Q", "came:Q", alt.Tooltip("expected:Q", format=".1f"), "low:Q", "high:Q"],
    )
    held = int((table.held == "within").sum())
    said = f"On {held} of {len(table)} nights the number of swaps was within the 80% interval"
    return finished(
        alt.layer(band, mean, dots).properties(width=WIDTH, height=240),
        said if len(table) else "Not enough past shows yet to compare with what was expected",
        f"{said}. A dot for the songs that came in at each show, a bar for the interval, a line for what was expected.",
        "Dots: songs that came in. Bars: 80% interval said before. Line: expected.",
        rows=len(table),
    )
