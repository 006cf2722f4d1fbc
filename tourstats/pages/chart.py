"""Every chart in one place, for whoever draws one in a notebook: `ts.chart.layoffs(ts.layoffs(tour))`.

Each takes a table that a model made, or a part of it, and gives an Altair chart that can be gone on with:
`ts.chart.rates(df) + …`, `.properties(width=300)`, `.facet("leg")`. `alt` is Altair itself.
"""

from __future__ import annotations

from typing import Any

import pandas as pd

from tourstats.pages.audience.chart import fresh_nights as freshness
from tourstats.pages.audience.chart import heard_curve, heard_most, shared_songs
from tourstats.pages.kit.charts import INK, KEPT, OUT, ROW, WIDTH, finished
from tourstats.pages.kit.light_altair import alt
from tourstats.pages.likely.chart import calibration, recall, swaps_a_night
from tourstats.pages.likely.chart import parts as forecast
from tourstats.pages.rotation.chart import changes_a_night as changes
from tourstats.pages.rotation.chart import goes_round, layoffs, tour_picture
from tourstats.pages.trends.chart import control, effects, layoff_curve, record

__all__ = [
    "alt",
    "calibration",
    "changes",
    "control",
    "effects",
    "forecast",
    "freshness",
    "goes_round",
    "heard_curve",
    "heard_most",
    "layoff_curve",
    "layoffs",
    "rates",
    "recall",
    "record",
    "shared_songs",
    "still_out",
    "swaps_a_night",
    "tour_picture",
]

MOST = 30
"""Groups that a chart of rates shows."""


def __dir__() -> list[str]:
    """Offer the charts where names are completed."""
    return sorted(__all__)


def rates(frame: pd.DataFrame, title: str = "", most: int = MOST) -> Any:  # noqa: ANN401  # an Altair chart
    """Draw the rate of mistakes of each group with its interval, as from `ts.rates`, whatever it is grouped by."""
    by = [str(name) for name in frame.columns[: list(frame.columns).index("reviewed")]]
    words = [" · ".join(map(str, row)) for row in frame[by].itertuples(index=False)]
    rows = pd.DataFrame(frame[["reviewed", "mistakes", "rate", "low", "high"]]).assign(group=words).head(most)
    y = alt.Y("group:N", sort=rows.group.tolist(), title=", ".join(name.replace("_", " ") for name in by))
    shares = {"axis": alt.Axis(grid=True), "title": "mistakes a performance"}
    tooltip = [
        "group:N",
        "reviewed:Q",
        "mistakes:Q",
        *(alt.Tooltip(f"{n}:Q", format=".2f") for n in ("rate", "low", "high")),
    ]
    base = alt.Chart(rows).encode(y=y, tooltip=tooltip)
    mean = alt.Chart(pd.DataFrame({"rate": [frame.mistakes.sum() / max(frame.reviewed.sum(), 1)]})).mark_rule(
        color=INK, strokeDash=[4, 3]
    )
    chart = alt.layer(
        base.mark_rule(strokeWidth=2, color=KEPT).encode(x=alt.X("low:Q", **shares), x2="high:Q"),
        base.mark_point(filled=True, size=60, color=OUT, opacity=1).encode(x=alt.X("rate:Q", **shares)),
        mean.encode(x="rate:Q"),
    ).properties(width=WIDTH - 200, height=max(ROW * len(rows), 3 * ROW))
    intervals = "; ".join(f"{row.group}: {row.rate:.2f}, {row.low:.2f} to {row.high:.2f}" for row in rows.itertuples())
    apart = len(rows) > 1 and rows.low.max() > rows.high.min()
    finding = (
        f"{rows.group.iloc[0]}: {rows.rate.iloc[0]:.2f} mistakes a performance"
        if apart
        else "No two groups are clearly apart"
    )
    words_ = f"Rates of mistakes by {', '.join(by)}, with 95% intervals, a row a group. {intervals}."
    return finished(chart, title or finding, words_, "Dot and 95% interval; dashed: all together.", rows=len(rows))


SHARES = {"share": "still out", "low": "at least", "high": "at most"}
"""Columns of shares that a curve says where the mouse rests, and what they are called."""


def still_out(frame: pd.DataFrame) -> Any:  # noqa: ANN401  # an Altair chart
    """Draw the share of layoffs that last longer than so many shows, with limits, a line for each `group`.

    `frame` is as from `models.survival.out_curve`: duration, share, low, high, group.
    """
    x = alt.X("duration:Q", title="shows out")
    tooltip = [
        alt.Tooltip("group:N", title="which"),
        alt.Tooltip("duration:Q", title="shows out"),
        *(alt.Tooltip(f"{name}:Q", title=title, format=".0%") for name, title in SHARES.items()),
    ]
    base = alt.Chart(pd.DataFrame(frame)).encode(x=x, color=alt.Color("group:N"), tooltip=tooltip)
    band = base.mark_area(interpolate="step-after", opacity=0.2).encode(
        y=alt.Y("low:Q", title="share still out"), y2="high:Q"
    )
    line = base.mark_line(interpolate="step-after", point=alt.OverlayMarkDef(size=28)).encode(
        y="share:Q", strokeDash=alt.StrokeDash("group:N", legend=None)
    )
    half = frame[frame.share <= 1 / 2].groupby("group", sort=False).duration.min()
    said = "; ".join(f"{group}: half are back after {shows:.0f} shows" for group, shows in half.items())
    words = (
        f"Share of layoffs that last longer than so many shows, with 95% limits. {said or 'No group has half back'}."
    )
    return finished(alt.layer(band, line), said or "Fewer than half came back", words, rows=len(frame))
