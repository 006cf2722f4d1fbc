"""How songs go round, as pictures."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Sequence
from typing import Any

import pandas as pd

from tourstats.pages.kit import fitting
from tourstats.pages.kit.charts import IN, INK, KEPT, OUT, QUIET, ROW, WIDTH, finished, plain
from tourstats.pages.kit.light_altair import alt
from tourstats.problems import counted
from tourstats.tables import checked, in_sets

TOUR_ROW, SHOW, TITLES, DAY, FIGURES = 16, 9, 210, 52, 60
"""In the picture of the tour, in px: the height of a song, so that titles never touch; the least width of a show; what
titles take beside the shows; what a date takes; what figures take beside a chart of nights."""
AGAIN, DATES = 40, "\u2007"
"""Songs after which the dates stand again, and the blank of which the names of such rows are made."""
LONGEST = 25
"""Songs that the chart of layoffs shows."""
MOST_DOTS = 60
"""Points up to which a line has a dot each."""


def tour_picture(
    plays: pd.DataFrame,
    shows: pd.DataFrame,
    songs: pd.DataFrame | None = None,
    order: Sequence[str] | None = None,
    title: str = "",
) -> Any:  # noqa: ANN401  # an Altair chart
    """Draw the tour up to its newest show: a row a song, a column a show, dates above and again every forty rows.

    Parameters
    ----------
    plays, shows, songs
        As in `tourstats.tables`. Songs of the repertoire that were never played have a row too, retired ones not.
    order
        Titles from top to bottom; others follow in the order in which they were first played.
    title
        The finding, if the notebook has a better one than the counts.

    Returns
    -------
    alt.LayerChart
        A night on which a song came in is one mark, the nights that it then stayed are one bar. As many shows as the
        page has room for, the newest at the right.

    """
    plays, shows = in_sets(plays, shows)
    first = max(len(shows) - max((fitting.across() - TITLES) // SHOW, 12), 0) + 1
    runs = _runs(plays, shows)
    runs = runs[runs.end > first - 0.5].assign(start=lambda r: r.start.clip(lower=first - 0.5))
    rows = _rows(plays, songs, order)
    ticks = _ticks(shows, first, rows)
    domain = _with_dates(rows)
    x = alt.X("start:Q", scale=_show_scale(first, len(shows) - first + 1), axis=None)
    y = alt.Y(
        "song:N", sort=domain, title=None, scale=alt.Scale(domain=domain, paddingInner=0.18), axis=_song_axis(grid=True)
    )
    legend = alt.Color(
        "what:N", scale=alt.Scale(domain=["came in", "stayed"], range=[IN, KEPT]), legend=alt.Legend(title=None)
    )
    tooltip = [alt.Tooltip("song:N"), alt.Tooltip("what:N", title="that night"), alt.Tooltip("when:N", title="when")]
    bars = alt.Chart(_inline(runs)).mark_bar().encode(x=x, x2="end:Q", y=y, color=legend, tooltip=tooltip)
    dates = alt.Chart(_inline(ticks)).mark_text(color=QUIET).encode(x=x, y=y, text="day:N")
    legs = _legs(shows)
    legs = legs[legs["last"] >= first].assign(first=lambda t: t["first"].clip(lower=first))
    chart = alt.layer(bars, dates, *_leg_marks(legs)).properties(width=WIDTH, height=TOUR_ROW * max(len(domain), 1))
    size = f"{counted(plays.song.nunique(), 'song')} at {counted(len(shows), 'show')}"
    seen = f" The last {len(shows) - first + 1} of {len(shows)} shows." if first > 1 else ""
    return finished(
        chart,
        title or size,
        f"Where each song was in and out, a row for each of {len(rows)} songs and a column for each show: {size}, "
        f"{len(plays)} performances.{seen} Legs, in order: {', '.join(map(str, legs.leg)) or 'none named'}. "
        "The table of layoffs has the figures.",
        f"A row a song, a column a show, the newest at the right. Red: the night it came in; grey: it stayed.{seen}",
        rows=len(runs),
    )


def _with_dates(rows: list[str]) -> list[str]:
    """The rows with one for the dates above, one after every forty, and one below; their names are blank."""
    parts = [rows[at : at + AGAIN] for at in range(0, len(rows), AGAIN)]
    return [name for at, part in enumerate(parts) for name in (DATES * (at + 1), *part)] + [DATES * (len(parts) + 1)]


def _ticks(shows: pd.DataFrame, first: int, rows: list[str]) -> pd.DataFrame:
    """The dates that have room, counted back from the newest show, for each row of dates."""
    across = max(fitting.across() - TITLES, 1) / max(len(shows) - first + 1, 1)
    at = list(range(len(shows), first - 1, -max(math.ceil(DAY / across), 1)))
    # The outermost letters of a date would be cut at the edge.
    at = [show for show in at if (show - first + 0.5) * across >= DAY / 2 - SHOW] or at
    days = pd.to_datetime(shows.date)
    day = [f"{days.iloc[show - 1].day} {days.iloc[show - 1]:%b}" for show in at]
    blank = [name for name in _with_dates(rows) if not name.strip(DATES)]
    return pd.DataFrame(
        [(name, show, words) for name in blank for show, words in zip(at, day, strict=True)],
        columns=["song", "start", "day"],
    )


def changes_a_night(frame: pd.DataFrame) -> Any:  # noqa: ANN401  # an Altair chart
    """Draw how many songs stayed, came in and went out at each show.

    Parameters
    ----------
    frame
        Shows in order: show_id, date, leg, city, carried, came_in, went_out.

    """
    shows = frame.reset_index(drop=True)
    first = 2  # the first show of the tour has nothing before it
    shows = shows.assign(at=range(first, len(shows) + first), when=_when(shows, first))
    marks = pd.concat(
        [
            shows.assign(what="stayed", songs=shows.carried, low=0, high=shows.carried),
            shows.assign(what="came in", songs=shows.came_in, low=shows.carried, high=shows.carried + shows.came_in),
            shows.assign(what="went out", songs=shows.went_out, low=-shows.went_out, high=0),
        ]
    )
    marks = marks[marks.songs > 0].assign(start=lambda m: m["at"] - 0.42, end=lambda m: m["at"] + 0.42)
    kinds = alt.Scale(domain=["stayed", "came in", "went out"], range=[KEPT, IN, OUT])
    bars = (
        alt.Chart(plain(marks, ["start", "end", "low", "high", "what", "songs", "when"]))
        .mark_bar()
        .encode(
            x=alt.X("start:Q", title="show", scale=_show_scale(first, len(shows)), axis=_show_axis()),
            x2="end:Q",
            y=alt.Y("low:Q", title="songs", axis=alt.Axis(labelExpr="abs(datum.value)", tickMinStep=1)),
            y2="high:Q",
            color=alt.Color("what:N", scale=kinds, legend=alt.Legend(title=None)),
            tooltip=[alt.Tooltip("when:N", title="show"), alt.Tooltip("what:N", title="songs that"), "songs:Q"],
        )
    )
    chart = alt.layer(bars, *_leg_marks(_legs(shows, first), FIGURES)).properties(width=WIDTH, height=240)
    said = _last_night(shows)
    return finished(
        chart,
        said,
        f"Bars for {len(shows)} shows: songs that stayed and that came in above the line, songs that went out below "
        f"it. {said}.",
        "Above the line the set, below it what the set before had and this one had not.",
        rows=len(marks),
    )


LAYOFF = {
    "layoff_shows:Q": "shows out",
    "layoff_days:Q": "days out",
    "usual_median:Q": "usually out, shows",
    "usual_low:Q": "a quarter come back by",
    "usual_high:Q": "three quarters by",
    "run:N": "rehearsed",
}
"""What the mouse shows of a layoff."""


def layoffs(frame: pd.DataFrame) -> Any:  # noqa: ANN401  # an Altair chart
    """Draw the songs that are out longest, against how long each is usually out.

    Parameters
    ----------
    frame
        Longest first: song, layoff_shows, layoff_days, usual_low, usual_median, usual_high, rehearsed_days.

    """
    longest = frame[frame.layoff_shows.fillna(0) > 0].head(LONGEST)
    longest = longest.assign(
        run=[f"run {int(d)} d ago" if pd.notna(d) else "not run" for d in longest.rehearsed_days],
        beside=longest[["layoff_shows", "usual_high"]].max(axis=1),  # right of whatever is drawn in the row
    )
    columns = ["song", "layoff_shows", "layoff_days", "usual_low", "usual_median", "usual_high", "run", "beside"]
    base = alt.Chart(plain(longest, columns)).encode(
        y=alt.Y("song:N", sort=longest.song.tolist(), title=None, axis=_song_axis(grid=False)),
        tooltip=["song:N", *(alt.Tooltip(name, title=words) for name, words in LAYOFF.items())],
    )
    room = 2.6 if fitting.narrow() else 1.15  # for the words beside the longest row
    shows_out = alt.X(
        "layoff_shows:Q",
        title="shows since last played",
        axis=alt.Axis(tickMinStep=1),
        scale=alt.Scale(domain=[0, room * float(longest.beside.max() if len(longest) else 1)], nice=False),
    )
    bars = base.mark_bar(color=OUT, height=6).encode(x=shows_out)
    usual = base.transform_filter("isValid(datum.usual_low) && isValid(datum.usual_high)")
    band = usual.mark_bar(color=KEPT, height=ROW - 2, opacity=0.55).encode(x="usual_low:Q", x2="usual_high:Q")
    middle = base.transform_filter("isValid(datum.usual_median)").mark_tick(color=INK, thickness=2, size=ROW - 2)
    words = base.mark_text(align="left", dx=5, color=QUIET, fontSize=13).encode(x="beside:Q", text="run:N")
    chart = alt.layer(band, bars, middle.encode(x="usual_median:Q"), words).properties(
        width=WIDTH, height=(ROW + 2) * max(len(longest), 1)
    )
    said = _longest(longest)
    listed = "; ".join(
        f"{row.song}, {counted(row.layoff_shows, 'show')}, {row.run}" for row in longest.head(10).itertuples()
    )
    return finished(
        chart,
        said,
        f"Bars for the {len(longest)} songs that are out longest. {said}. In order: {listed or 'none'}.",
        "Bar: shows since last played. Grey: how long it is usually out (middle half; the tick is the median).",
        rows=len(longest),
    )


def goes_round(frame: pd.DataFrame) -> Any:  # noqa: ANN401  # an Altair chart
    """Draw which share of the repertoire the last one, two, three … shows had.

    Parameters
    ----------
    frame
        In order: shows (counted back from the last), share (0 to 1).

    """
    dots = len(frame) <= MOST_DOTS
    chart = (
        alt.Chart(plain(frame, ["shows", "share"]))
        .mark_line(color=OUT, strokeWidth=2.5, point=alt.OverlayMarkDef(color=OUT, size=28) if dots else False)
        .encode(
            x=alt.X("shows:Q", title="last shows", axis=alt.Axis(tickMinStep=1, grid=False)),
            y=alt.Y(
                "share:Q", title="share of the repertoire", scale=alt.Scale(domain=[0, 1]), axis=alt.Axis(format="%")
            ),
            tooltip=[alt.Tooltip("shows:Q", title="last shows"), alt.Tooltip("share:Q", format=".0%")],
        )
        .properties(width=WIDTH, height=240)
    )
    said = _round(frame)
    return finished(
        chart, said, f"A line that climbs with the number of shows looked back on. {said}.", rows=len(frame)
    )


def _runs(plays: pd.DataFrame, shows: pd.DataFrame) -> pd.DataFrame:
    """Marks of the tour picture: the night a song came in, and the nights in a row that it then stayed."""
    once = plays.drop_duplicates(["song", "at"]).sort_values(["song", "at"], kind="stable")
    once["run"] = (once.groupby("song")["at"].diff() != 1).cumsum()
    runs = once.groupby(["run", "song"], sort=False)["at"].agg(["min", "max"]).reset_index()
    when = dict(enumerate(_when(shows)))
    first = runs.assign(what="came in", start=runs["min"] + 0.5, end=runs["min"] + 1.5, when=runs["min"].map(when))
    # The first show has nothing before it: nothing came in that night, the set was simply there.
    first.loc[first["min"] == 0, "what"] = "stayed"
    long = runs[runs["max"] > runs["min"]]
    stayed = long.assign(
        what="stayed",
        start=long["min"] + 1.5,
        end=long["max"] + 1.5,
        when="to " + long["max"].map(when).astype(str),
    )
    return plain(pd.concat([first, stayed]), ["song", "what", "start", "end", "when"])


def _rows(plays: pd.DataFrame, songs: pd.DataFrame | None, order: Sequence[str] | None) -> list[str]:
    """Titles from top to bottom, each once."""
    played = plays.song.drop_duplicates().tolist()
    repertoire = [] if songs is None else checked(songs, "songs").query("status != 'retired'").song.tolist()
    return list(dict.fromkeys([*(order or []), *played, *repertoire]))


def _legs(shows: pd.DataFrame, start: int = 1) -> pd.DataFrame:
    """Legs in order: name, and the numbers of their first and last shows."""
    if "leg" not in shows or shows.leg.isna().all():
        return pd.DataFrame({"leg": [], "first": [], "last": []})
    named = shows.reset_index(drop=True).assign(place=range(start, len(shows) + start)).dropna(subset=["leg"])
    block = (named.leg != named.leg.shift()).cumsum()
    legs = named.groupby(block).agg(leg=("leg", "first"), first=("place", "min"), last=("place", "max"))
    return legs.reset_index(drop=True)


def _leg_marks(legs: pd.DataFrame, beside: int = TITLES) -> list[Any]:
    """A line where each leg but the first begins, and the names along the top, a line or two in the room there is."""
    if not len(legs):
        return []
    room = (fitting.across() - beside) / (legs["last"].max() - legs["first"].min() + 1)
    names = [
        _in_two(str(leg), int((last - first + 1) * room / 8))
        for leg, first, last in zip(legs.leg, legs["first"], legs["last"], strict=True)
    ]
    frame = plain(legs.assign(start=legs["first"] - 0.5, name=names), ["start", "name"])
    base, lowest = alt.Chart(frame).encode(x="start:Q"), frame.start.min()
    lines = base.transform_filter(f"datum.start > {lowest}").mark_rule(color=INK, strokeDash=[3, 3])
    words = base.mark_text(align="left", baseline="bottom", dx=2, dy=-3, color=QUIET, fontSize=13, lineBreak="\n")
    return [lines, words.encode(y=alt.value(0), text="name:N")]


def _in_two(text: str, letters: int) -> str:
    """In lines of so many letters, two at most; cut where a word has no room, nothing where a letter has none."""
    if max(map(len, text.split()), default=0) <= letters:
        return "\n".join(textwrap.wrap(text, letters, max_lines=2, placeholder="…"))
    return f"{text[: letters - 1]}…" if letters > 2 else ""  # noqa: PLR2004  # no room for a letter and the dots


def _show_axis() -> alt.Axis:
    return alt.Axis(grid=False, format="d", tickMinStep=1)


def _show_scale(first: int, shows: int) -> alt.Scale:
    return alt.Scale(domain=[first - 0.5, first + max(shows, 1) - 0.5], nice=False)


def _song_axis(*, grid: bool) -> alt.Axis:
    return alt.Axis(grid=grid, labelOverlap=False, labelLimit=230, ticks=False, domain=False)


def _when(shows: pd.DataFrame, first: int = 1) -> list[str]:
    """Each show as its number, day and town."""
    days = pd.to_datetime(shows.date)
    towns = shows.city if "city" in shows else pd.Series([None] * len(shows))
    return [
        ", ".join([f"{at}: {day.day} {day:%b %Y}", *([town] if isinstance(town, str) else [])])
        for at, (day, town) in enumerate(zip(days, towns, strict=True), start=first)
    ]


def _inline(frame: pd.DataFrame) -> Any:  # noqa: ANN401  # Altair's data
    """Many rows as CSV within the spec, at a third of the weight of named cells."""
    kinds = {name: "number" if pd.api.types.is_numeric_dtype(frame[name]) else "string" for name in frame}
    return alt.InlineData(values=frame.to_csv(index=False), format=alt.CsvDataFormat(type="csv", parse=kinds))


def _last_night(shows: pd.DataFrame) -> str:
    if not len(shows):
        return "No set to compare yet"
    last = shows.iloc[-1]
    came, went, stayed = (counted(last[column], "song") for column in ("came_in", "went_out", "carried"))
    return f"At the last show {came} came in, {went} went out and {stayed} stayed"


def _longest(longest: pd.DataFrame) -> str:
    if not len(longest):
        return "Every song was in the last set"
    first = longest.iloc[0]
    return f"{first.song} is out longest: {counted(first.layoff_shows, 'show')}"


def _round(frame: pd.DataFrame) -> str:
    if not len(frame):
        return "No shows yet"
    row = frame[frame.shows <= 10].iloc[-1]  # noqa: PLR2004  # about two weeks of shows
    last = "show" if row.shows == 1 else f"{int(row.shows)} shows"
    return f"The last {last} had {100 * row.share:.0f}% of the repertoire"
