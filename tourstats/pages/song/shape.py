"""The shape of a song as a form: paste, see how it is understood, save; a strip to scale, and a page to print."""

from __future__ import annotations

import base64
import html
from collections.abc import Callable, Mapping
from typing import Any

import ipywidgets as w
import pandas as pd

from tourstats.diary import opened
from tourstats.pages.kit import links, tables_shown
from tourstats.pages.kit.charts import svg
from tourstats.pages.kit.undoing import spare_the_demo, undo_button
from tourstats.pages.kit.whose import Whose
from tourstats.pages.kit.widgets import Said, button, folded, kept, lines, row, words
from tourstats.pages.song import chart, printed
from tourstats.problems import Problem
from tourstats.reading.shapes import as_line, read_shape, said
from tourstats.tour import Tour

HOW_TO = (
    "One line or many: v 16 brushes | ch 8 open hat | br 12 half-time, crash on 2 going in | ch 8 x2 | out on nod. "
    "Behind the bars: how it feels, who leads, the cue, the hits."
)
COLUMNS = ["name", "bars", "feel", "leads", "cue", "hits"]
LABELS = {"name": "section"}


class Shape:
    """The form; `box` is a part of the song's page, `strip` and `toggle` stand above it."""

    def __init__(self, store: Whose, after: Callable[[], None]) -> None:
        self.found, self.after = store, after
        self.song = ""
        self.said = Said()
        self.typed = lines("Shape", 4, placeholder="in 4 | v 16 brushes | ch 8 | out on nod")
        self.understood, self.strip = w.HTML(), w.HTML()
        self.typed.observe(lambda _: self.look(), names="value")
        self.toggle, panel = folded(
            "Write down its shape", words(HOW_TO), self.typed, self.understood,
            row(button("Save this shape", self.save, self.said, main=True), undo_button(store, self.said, after)),
        )  # fmt: skip
        self.box = w.VBox([self.said, panel])
        self.drop = kept(store, "shape", {"shape": self.typed}, self.said)

    def show(self, tour: Tour, song: str) -> None:
        """Show the shape of a song, and put it into the field to be corrected; what is being typed there stays."""
        sections = of_song(tour, song)
        before, self.song = self.song, song
        self.strip.value = drawn(sections, tour.songs[tour.songs.song == song].iloc[0].to_dict())
        self.toggle.description = "Correct its shape" if len(sections) else "Write down its shape"
        if before and before != song:
            self.said.clear()
        if not self.typed.value or before:
            self.typed.value = as_line(sections)

    def look(self) -> None:
        """Say how what is typed is understood."""
        read = read_shape(self.typed.value)
        if not self.typed.value.strip():
            self.understood.value = ""
            return
        told = "".join(f"<p>{links.linked(line)}</p>" for line in said(read))
        table = tables_shown.shown(read, COLUMNS, labels=LABELS).html if len(read) else ""
        self.understood.value = f"<p><b>Understood as</b></p>{table}{told}"

    def save(self) -> None:
        """Save the shape as it is understood."""
        spare_the_demo(self.found)
        read = read_shape(self.typed.value)
        if not len(read):
            raise Problem(f"No section can be read in this. Write it as in: {HOW_TO}")
        with opened(self.found.path) as diary:
            diary.write_shape(self.song, read)
        self.drop()
        self.after()
        self.said.done(f"Saved the shape of {self.song}: {' '.join(said(read))}")


def of_song(tour: Tour, song: str) -> pd.DataFrame:
    """The sections of a song in order."""
    return tour.sections[tour.sections.song == song].sort_values("position", ignore_index=True)


def drawn(sections: pd.DataFrame, facts: Mapping[str, Any]) -> str:
    """The strip, and the page to take along with its head; nothing where nothing is written down."""
    if not len(sections):
        return ""
    song = str(facts["song"])
    made = chart.shape(sections, song)
    picture = base64.b64encode(svg(made).encode()).decode()
    words_ = html.escape(made.to_dict()["description"])
    page = base64.b64encode(printed.chart_pdf(song, sections, facts)).decode()
    return (
        f'<p><img alt="{words_}" style="max-width:100%" src="data:image/svg+xml;base64,{picture}"></p>'
        f'<p class="sheet"><a download="{html.escape(printed.name_of(song))}" '
        f'href="data:application/pdf;base64,{page}">Take its chart to print</a></p>'
    )
