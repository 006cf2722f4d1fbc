"""What people who travel have heard, as pictures."""

from __future__ import annotations

from typing import Any

import pandas as pd

from tourstats.pages.kit import fitting
from tourstats.pages.kit.charts import FAINT, FOURTH, INK, KEPT, QUIET, RAMP, ROW, THIRD, WIDTH, finished, plain
from tourstats.pages.kit.light_altair import alt

CELL = 26
"""Side of a cell, so that two figures fit."""
MOST_SHOWS, MOST_NARROW = 30, 9
"""Shows that the picture of shared songs holds, at a desk and on a telephone; of a longer leg, the last ones."""
MOST_SONGS = 25


def shared_songs(frame: pd.DataFrame, shows: pd.DataFrame) -> Any:  # noqa: ANN401  # an Altair chart
    """Draw how many songs any two shows have in common.

    Parameters
    ----------
    frame
        A row a pair: show_id, earlier, shared, songs, share.
    shows
        The shows in order: show_id, date, city.

    """
    most = MOST_NARROW if fitting.narrow() else MOST_SHOWS
    last = shows[shows.show_id.isin(set(frame.show_id) | set(frame.earlier))].tail(most)
    names = dict(zip(last.show_id, _names(last), strict=True))
    pairs = frame[frame.show_id.isin(names) & frame.earlier.isin(names)]
    cells = pairs[["shared", "songs", "share"]].assign(
        show=pairs.show_id.map(names), earlier=pairs.earlier.map(names), neighbours=_neighbours(pairs, last)
    )
    order = list(names.values())
    axis = alt.Axis(grid=False, ticks=False, domain=False, labelOverlap=False)
    base = alt.Chart(cells).encode(
        x=alt.X("earlier:N", sort=order, title=None, axis=axis, scale=alt.Scale(domain=order[:-1])),
        y=alt.Y("show:N", sort=order, title=None, axis=axis, scale=alt.Scale(domain=order[1:])),
        tooltip=[
            alt.Tooltip("show:N"),
            alt.Tooltip("earlier:N", title="and"),
            alt.Tooltip("shared:Q", title="songs in both"),
            alt.Tooltip("songs:Q", title="of the later show's"),
        ],
    )
    # The ramp runs from the least to the most there is, and is dark from its middle on.
    dark = (cells.share.min() + cells.share.max()) / 2 if len(cells) else 0
    fill = base.mark_rect(stroke="#ffffff").encode(
        color=alt.Color(
            "share:Q",
            scale=alt.Scale(range=RAMP),
            legend=alt.Legend(title="share of the later set", format="%", orient="bottom"),
        )
    )
    figures = base.mark_text(fontSize=13).encode(
        text="shared:Q", color=alt.condition(f"datum.share > {dark}", alt.value("#ffffff"), alt.value(INK))
    )
    side = CELL * max(len(order) - 1, 1)
    said = _usual_overlap(cells)
    return finished(
        alt.layer(fill, figures).properties(width=side, height=side),
        said,
        f"A triangle of {len(cells)} pairs of {len(order)} shows, each with the number of songs in both. {said}.",
        "A row and a column a show; the figure is how many songs both had.",
        rows=len(cells),
    )


def heard_curve(frame: pd.DataFrame) -> Any:  # noqa: ANN401  # an Altair chart
    """Draw songs heard against shows attended: expected, and what people really heard.

    Parameters
    ----------
    frame
        way ("any shows", "shows in a row", "real"), shows, to_shows, songs, low, high, people.

    """
    expected, real = frame[frame.way != "real"], frame[frame.way == "real"]
    ways = ["any shows", "shows in a row", "real"]
    colour = alt.Color("way:N", scale=alt.Scale(domain=ways, range=[INK, QUIET, THIRD]), legend=alt.Legend(title=None))
    x = alt.X("shows:Q", title="shows attended", axis=alt.Axis(grid=False, tickMinStep=1, format="d"))
    y = alt.Y("songs:Q", title="different songs heard")
    band = (
        alt.Chart(plain(expected[expected.way == "any shows"], ["shows", "low", "high"]))
        .mark_area(color=FAINT)
        .encode(x=x, y=alt.Y("low:Q", title="different songs heard"), y2="high:Q")
    )
    lines = alt.Chart(plain(expected, ["way", "shows", "songs"])).mark_line(strokeWidth=2.5).encode(
        x=x,
        y=y,
        color=colour,
        strokeDash=alt.StrokeDash("way:N", scale=alt.Scale(domain=ways, range=[[1, 0], [6, 3], [1, 0]]), legend=None),
        tooltip=["way:N", "shows:Q", alt.Tooltip("songs:Q", title="songs expected", format=".1f")],
    )  # fmt: skip
    dots = alt.Chart(plain(real, ["way", "shows", "to_shows", "songs", "people"])).mark_point(
        filled=True, shape="diamond", size=70, opacity=1
    ).encode(
        x=x,
        y=y,
        color=colour,
        tooltip=[
            alt.Tooltip("shows:Q", title="shows, from"),
            alt.Tooltip("to_shows:Q", title="to"),
            alt.Tooltip("songs:Q", title="songs heard", format=".1f"),
            alt.Tooltip("people:Q", title="people, about"),
        ],
    )  # fmt: skip
    said = _after_five(expected)
    known = f"{len(real)} diamonds for people who were there" if len(real) else "nobody's attendance is known"
    return finished(
        alt.layer(band, lines, dots).properties(width=WIDTH, height=280),
        said,
        f"Two lines climb with the number of shows attended, for any shows and for shows in a row; {known}. {said}.",
        "Lines: expected over every choice of shows, and over shows in a row; grey: 95% of the choices. "
        "Diamonds: what people on the list heard.",
        rows=len(expected),
    )


FRESH = {
    "fresh_share": "new to people who came again",
    "worst_decile": "to the 10% who have heard the most",
    "after_last": "to somebody at the show before",
}
DIAMONDS = (
    "Diamonds: the mean over people on the list who had been at an earlier show of the leg; the grey line reaches "
    "down to the tenth that had heard most. "
)


def fresh_nights(frame: pd.DataFrame) -> Any:  # noqa: ANN401  # an Altair chart
    """Draw how new each show was to people who came again, and to somebody at the show before.

    Parameters
    ----------
    frame
        Shows in order: date, city, fresh_share, worst_decile, after_last (0 to 1, missing where not known).

    """
    shows = frame.assign(at=range(1, len(frame) + 1), when=_names(frame))
    drawn = plain(shows, ["at", "when", "fresh_share", "worst_decile", "after_last"])
    x = alt.X(
        "at:Q",
        title="show of the leg",
        axis=alt.Axis(grid=False, tickMinStep=1, format="d"),
        scale=alt.Scale(domain=[0.5, len(shows) + 0.5], nice=False),
    )
    scale, axis = alt.Scale(domain=[0, 1]), alt.Axis(format="%")
    kinds = alt.Scale(domain=["people who came again", "somebody at the show before"], range=[THIRD, FOURTH])
    tip = [alt.Tooltip(f"{name}:Q", title=words, format=".0%") for name, words in FRESH.items()]
    base = alt.Chart(drawn).encode(x=x, tooltip=[alt.Tooltip("when:N", title="show"), *tip])
    y = alt.Y("value:Q", title="new songs, share of the set", scale=scale, axis=axis)
    both = base.transform_fold(["fresh_share", "after_last"]).transform_filter("isValid(datum.value)")
    both = both.transform_calculate(
        what="datum.key == 'fresh_share' ? 'people who came again' : 'somebody at the show before'"
    )
    line = both.mark_line(strokeWidth=1.5, opacity=0.5).encode(y=y, color=alt.Color("what:N", scale=kinds))
    dots = both.mark_point(filled=True, size=60, opacity=1).encode(
        y=y,
        color=alt.Color("what:N", scale=kinds, legend=alt.Legend(title=None)),
        shape=alt.Shape("what:N", scale=alt.Scale(domain=kinds.domain, range=["diamond", "circle"]), legend=None),
    )
    rules = (
        base.transform_filter("isValid(datum.worst_decile) && isValid(datum.fresh_share)")
        .mark_rule(color=KEPT, strokeWidth=2)
        .encode(
            y=alt.Y("worst_decile:Q", scale=scale, axis=axis, title="new songs, share of the set"), y2="fresh_share:Q"
        )
    )
    said = _freshest(shows)
    return finished(
        alt.layer(rules, line, dots).properties(width=WIDTH, height=260),
        said,
        f"Two rows of dots over {len(shows)} shows, between nothing and everything new. {said}.",
        f"{DIAMONDS * bool(shows.fresh_share.notna().any())}Dots: somebody who was at the show before.",
        rows=int(shows[["fresh_share", "after_last"]].notna().any(axis=1).sum()),
    )


def heard_most(frame: pd.DataFrame, most: int = MOST_SONGS) -> Any:  # noqa: ANN401  # an Altair chart
    """Draw the songs that travellers have heard most.

    Parameters
    ----------
    frame
        Most often heard first: song, times (mean over travellers), share (of them that heard it).
    most
        How many songs to draw.

    """
    songs = frame[frame.times.notna()].head(most)
    drawn = plain(songs, ["song", "times", "share"])
    base = alt.Chart(drawn).encode(
        y=alt.Y(
            "song:N",
            sort=songs.song.tolist(),
            title=None,
            axis=alt.Axis(grid=False, ticks=False, domain=False, labelOverlap=False, labelLimit=230),
        ),
        tooltip=[
            "song:N",
            alt.Tooltip("times:Q", title="times, on average", format=".1f"),
            alt.Tooltip("share:Q", title="heard by", format=".0%"),
        ],
    )
    bars = base.mark_bar(color=THIRD, height=ROW - 5).encode(x=alt.X("times:Q", title="times heard, on average"))
    words = base.mark_text(align="left", dx=4, color=QUIET, fontSize=13).encode(
        x="times:Q", text=alt.Text("times:Q", format=".1f")
    )
    said = _most_heard(songs)
    return finished(
        alt.layer(bars, words).properties(width=WIDTH, height=(ROW + 2) * max(len(songs), 1)),
        said,
        f"Bars for the {len(songs)} songs that people who were at two shows or more have heard most often. {said}.",
        "Mean over people on the list who were at two shows of the leg or more.",
        rows=len(songs),
    )


def _names(shows: pd.DataFrame) -> list[str]:
    """Each show as its day, with its number where a day has two."""
    days = [f"{day.day} {day:%b}" for day in pd.to_datetime(shows.date)]
    return [day if days.count(day) == 1 else f"{day} ({days[: at + 1].count(day)})" for at, day in enumerate(days)]


def _neighbours(pairs: pd.DataFrame, shows: pd.DataFrame) -> list[bool]:
    """Whether a pair of shows followed one another."""
    before = dict(zip(shows.show_id.iloc[1:], shows.show_id.iloc[:-1], strict=True))
    return [before.get(show) == earlier for show, earlier in zip(pairs.show_id, pairs.earlier, strict=True)]


def _usual_overlap(cells: pd.DataFrame) -> str:
    near = cells[cells.neighbours]
    if not len(near):
        return "There are no two shows to compare yet"
    return (
        f"Two shows in a row shared {near.shared.min()} to {near.shared.max()} songs, "
        f"any two shows {cells.shared.min()} to {cells.shared.max()}"
    )


def _after_five(expected: pd.DataFrame) -> str:
    lines = expected[expected.shows <= 5]  # noqa: PLR2004  # as far as most travellers go
    last = lines[lines.shows == lines.shows.max()].set_index("way").songs
    if not len(last):
        return "No shows yet"
    shows = int(lines.shows.max())
    number = f"{shows} shows" if shows > 1 else "one show"
    row = f", in a row {last['shows in a row']:.0f}" if "shows in a row" in last else ""
    return f"At any {number} one hears {last['any shows']:.0f} songs{row}"


def _freshest(shows: pd.DataFrame) -> str:
    for column, whom in (("fresh_share", "people who came again"), ("after_last", "somebody at the show before")):
        known = shows[shows[column].notna()]
        if len(known) > 1:
            best, worst = known.loc[known[column].idxmax()], known.loc[known[column].idxmin()]
            return f"Newest to {whom}: {best.when} ({best[column]:.0%}); least new: {worst.when} ({worst[column]:.0%})"
    return "There are not two shows to compare yet"


def _most_heard(songs: pd.DataFrame) -> str:
    if not len(songs):
        return "Nobody's attendance is known"
    first = songs.iloc[0]
    return f"Travellers have heard {first.song} most: {first.times:.1f} times on average"
