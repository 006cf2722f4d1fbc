"""What rates stand on, as forms: the rest of a show was clean, what a mistake weighs, where playing starts afresh."""

from __future__ import annotations

from html import escape
from pathlib import Path

import ipywidgets as w

from tourstats.models import playing
from tourstats.pages.kit import tables_shown
from tourstats.pages.kit.asked import Asked
from tourstats.pages.kit.charts import svg
from tourstats.pages.kit.show_written import named
from tourstats.pages.kit.undoing import changing, undo_button
from tourstats.pages.kit.whose import Whose, whose
from tourstats.pages.kit.widgets import (
    LABEL,
    WIDE,
    Page,
    Said,
    button,
    choice,
    column,
    heading,
    number,
    row,
    text,
    words,
)
from tourstats.pages.trends import chart, comes_again
from tourstats.problems import Problem, counted
from tourstats.tables import in_order
from tourstats.tour import Tour

WORDS = "Start this page to say of whole shows that the rest was clean, or what a mistake weighs that others heard."
ROWS = 8
"""Shows that are seen at once."""


class Reviewing:
    """The form; `box` is what a notebook shows."""

    def __init__(self, path: str | Path | None = None) -> None:
        self.found: Whose = whose(path)
        self.said = Said()
        self.shows = w.SelectMultiple(description="Shows", rows=ROWS, layout=WIDE, style=LABEL)
        self.weight = number("A mistake that the band heard weighs, times", playing.HEARD_MORE, 1, 10, 0.5)
        self.all = button("Choose all of these", self.choose_all, self.said)
        rest = button("The rest was clean", self.rest_was_clean, self.said, main=True)
        weigh = button("Weigh them so", self.weigh, self.said)
        self.fill()
        self.box = column(
            words("Shows of which not every song is written down. You heard one whole? Then the rest of it was clean."),
            self.shows, row(self.all, rest, undo_button(self.found, self.said, self.fill)),
            heading("What a mistake weighs"),
            words("One that everybody heard weighs that times that. 1 weighs all alike. Care and plan go by it; "
                  "rates, ranges and charts count every mistake once."),
            self.weight, row(weigh), self.said, name="reviewing",
        )  # fmt: skip

    def fill(self) -> None:
        """Show the diary as it is now."""
        tables = self.found.tour()
        self.shows.value = ()
        self.shows.options = in_part(tables)
        self.weight.value = playing.heard_more(tables.settings)

    def choose_all(self) -> None:
        """Choose every show that is offered."""
        self.shows.value = tuple(key for _, key in self.shows.options)

    def rest_was_clean(self) -> None:
        """Write down that the other songs of these shows were clean."""
        if not self.shows.value:
            raise Problem("No show is chosen. Choose the shows that you heard from the first song to the last.")
        chosen = self.shows.value
        with changing(self.found) as diary:
            more = diary.rest_was_clean(chosen)
        self.fill()
        self.said.done(f"Saved: {counted(more, 'song')} of {counted(len(chosen), 'show')} were clean.")

    def weigh(self) -> None:
        """Keep the weight."""
        with changing(self.found) as diary:
            diary.set_figure("heard more", self.weight.value)
        self.said.done(
            f"Saved: a mistake that the band heard weighs {self.weight.value:g} times one that you alone heard."
        )


class FreshStart:
    """From which show on playing is another: a new kit, a lesson, an injury; `box` is what a notebook shows."""

    def __init__(self, path: str | Path | None = None) -> None:
        self.found: Whose = whose(path)
        self.said = Said()
        self.show = choice("From the show", [])
        self.why = text("Why", placeholder="new kit, a lesson, an injury")
        self.known = w.HTML()
        save = button("Start afresh there", self.save, self.said)
        undo = undo_button(self.found, self.said, self.fill)
        self.fill()
        self.box = column(self.show, self.why, row(save, undo), self.said, self.known, name="fresh-start")

    def fill(self) -> None:
        """Show the diary as it is now."""
        tables = self.found.tour()
        chosen = self.show.value
        shows = in_order(tables.shows)[::-1]
        self.show.options = [(named(row), row.show_id) for row in shows.itertuples()]
        if chosen in set(shows.show_id):
            self.show.value = chosen
        starts = shows.merge(tables.levels[["show_id", "remark"]], on="show_id")
        self.known.value = tables_shown.shown(
            starts, ["date", "city", "remark"], labels={"remark": "why"}, empty="No fresh start is written down."
        ).html

    def save(self) -> None:
        """Write it down."""
        if self.show.value is None:
            raise Problem("There is no show yet to start from. Bring a set first.")
        with changing(self.found) as diary:
            diary.start_level(self.show.value, self.why.value.strip() or None)
        self.why.value = ""
        self.fill()
        self.said.done(f"Saved: a fresh start from {self.show.label} on.")


def in_part(tables: Tour) -> list[tuple[str, object]]:
    """Shows of which some songs were reviewed and others not, the latest first: words and number."""
    counted_ = playing.counted(tables.reviews, tables.mistakes).groupby("show_id").song.nunique()
    songs = tables.plays.groupby("show_id").song.nunique()
    shows = in_order(tables.shows)[["show_id", "date", "city"]]
    shows = shows.assign(heard=shows.show_id.map(counted_), songs=shows.show_id.map(songs))
    part = shows[(shows.heard > 0) & (shows.heard < shows.songs)][::-1]
    return [
        (f"{row.date.day} {row.date:%b %Y} {row.city}: {row.heard:.0f} of {row.songs:.0f}", row.show_id)
        for row in part.itertuples()
    ]


def form(path: str | Path | None = None) -> Page:
    """The form, for a notebook."""
    return Page(Reviewing(path).box, WORDS)


def record(path: str | Path | None = None) -> Page:
    """How good the expected mistakes were, for a notebook: each show told from those before it, at a press."""

    def answer() -> str:
        said = comes_again.record(whose(path).tour())
        picture = f"<figure>{svg(chart.record(said.table))}</figure>" if len(said.table) else ""
        return f"<p>{escape(said.words)}</p>{tables_shown.shown(said.table, empty='').html}{picture}"

    return Asked("record", [], "How good the expected mistakes were", answer).page()


def fresh_start(path: str | Path | None = None) -> Page:
    """The form for a fresh start, for a notebook."""
    return Page(FreshStart(path).box, "Start this page to say from which show on your playing is another.")
