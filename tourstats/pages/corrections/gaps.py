"""What the repertoire is without: tempi, lengths and who counts in, filled in one table, keyboard all the way."""

from __future__ import annotations

import html
from collections.abc import Callable

import ipywidgets as w
import pandas as pd

from tourstats.diary import opened
from tourstats.pages.kit.fields import Fields
from tourstats.pages.kit.undoing import spare_the_demo, undo_button
from tourstats.pages.kit.whose import Whose
from tourstats.pages.kit.widgets import Said, button, on_enter, row
from tourstats.problems import Problem, counted
from tourstats.tour import Tour

COLUMNS = ("tempo_bpm", "minutes", "starts_by")
MOST = 25
"""Songs that are listed at once; the next ones follow after a save."""
STYLE = (
    "<style>.tourstats-gap>.widget-vbox{display:flex;flex-flow:row wrap;gap:0 1em}"
    ".tourstats-gap>.widget-vbox>.widget-vbox{flex:1 1 13em;width:auto}"
    ".tourstats-gap .widget-inline-hbox .widget-label{min-width:0!important;padding-right:.5em}"
    ".tourstats-gap .widget-inline-hbox>*:not(.widget-label){min-width:6em!important}"
    ".tourstats-gap h3{margin:.5em 0 0!important}</style>"
)


def without(songs: pd.DataFrame) -> pd.DataFrame:
    """Songs that may be played and lack a tempo, a length or who counts in; those that lack most come first.

    Examples
    --------
    >>> songs = pd.DataFrame({"song": ["Ferry", "Tin Rook"], "status": "active", "tempo_bpm": [98.0, None]})
    >>> without(songs.assign(minutes=[None, None], starts_by=["drums", None])).song.tolist()
    ['Tin Rook', 'Ferry']

    """
    may_be = songs[songs.status != "retired"]
    lacks = may_be[list(COLUMNS)].isna().sum(axis=1)
    return may_be[lacks > 0].assign(lacks=lacks).sort_values("lacks", ascending=False, kind="stable")


class Gaps:
    """The table; `box` is what a page shows."""

    def __init__(self, store: Whose, after: Callable[[Tour], None] = lambda _: None) -> None:
        self.found, self.after = store, after
        self.said = Said()
        self.rows: dict[str, Fields] = {}
        self.words, self.list = w.HTML(), w.VBox([])
        self.save_button = button("Save all of it", self.save, self.said, main=True)
        undo = undo_button(store, self.said, self.fill)
        self.box = w.VBox([w.HTML(STYLE), self.words, self.list, row(self.save_button, undo), self.said])
        self.fill()

    def fill(self) -> None:
        """List the songs that lack something, each with a field for what it lacks."""
        tables = self.found.tour()
        lacking = without(tables.songs)
        self.rows = {str(song["song"]): self._fields(song) for song in lacking.head(MOST).to_dict("records")}
        self.list.children = tuple(self._row(title, fields) for title, fields in self.rows.items())
        more = f" The first {MOST} are here; the others follow after a save." if len(lacking) > MOST else ""
        self.words.value = (
            f"<p>{counted(len(lacking), 'song')} without a tempo, a length or who counts in. Tab goes from field to "
            f"field, Enter saves all of it; a field may stay empty.{more}</p>"
            if len(lacking)
            else "<p>Every song that may be played has its tempo, its length and who counts it in.</p>"
        )
        self.save_button.layout.display = "" if len(lacking) else "none"
        self.after(tables)

    def save(self) -> None:
        """Write everything that was filled in, as one change; what is wrong is said beside its field."""
        spare_the_demo(self.found)
        values, wrong = {}, []
        for title, fields in self.rows.items():
            try:
                values[title] = fields.changed()
            except Problem:
                wrong.append(title)
        if wrong:
            raise Problem(f"Nothing was saved: see beside {', '.join(wrong)}.")
        values = {title: given for title, given in values.items() if given}
        if not values:
            raise Problem("Nothing is filled in yet.")
        with opened(self.found.path) as diary, diary.atomic(f"what was missing of {counted(len(values), 'song')}"):
            for title, given in values.items():
                diary.change_song(title, **given)
        self.fill()
        self.said.done(f"Saved: {counted(len(values), 'song')}.")

    def _fields(self, song: dict[str, object]) -> Fields:
        fields = Fields("songs", tuple(name for name in COLUMNS if pd.isna(song[name])))
        fields.fill(None)
        for name, field in fields.fields.items():
            field.tooltip = f"{field.description}: {song['song']}"
            on_enter(fields.fields[name], self.save, self.said)
        return fields

    def _row(self, title: str, fields: Fields) -> w.VBox:
        made = w.VBox([w.HTML(f"<h3>{html.escape(title)}</h3>"), fields.box])
        made.add_class("tourstats-gap")
        return made
