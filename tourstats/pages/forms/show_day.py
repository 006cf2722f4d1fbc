"""The show day as a page: paste the set, settle what is open, save, and read what it means."""

from __future__ import annotations

import html
from datetime import date
from pathlib import Path

import ipywidgets as w
import pandas as pd

from tourstats.diary import opened, read_set
from tourstats.diary.intake import settled
from tourstats.models import tonight
from tourstats.pages import sheet, show_day, tables_shown
from tourstats.pages.forms._base import WIDE, Said, button, choice, column, kept, row, text, undo_button, whose_words
from tourstats.pages.workbook import Whose, whose
from tourstats.problems import Problem
from tourstats.tables import ROOMS, in_order

ANOTHER = "another show"
NEW, SKIP = "new", "skip"


class ShowDayProblem(Problem):
    """A field of the form is not filled in."""


class ShowDay:
    """The form; `box` is what a notebook shows."""

    def __init__(self, path: str | Path | None = None, folder: str | Path = "sheets") -> None:
        self.found: Whose = whose(path)
        self.folder = Path(folder)
        self.said = Said()
        self.show = choice("Show", [])
        self.new_show = self._new_show()
        self.pasted = w.Textarea(
            description="Set",
            placeholder="Paste the set here, as it lies on the table.",
            layout=w.Layout(width="98%", height="18em"),
            style={"description_width": "initial"},
        )
        self.minutes = w.BoundedFloatText(
            value=tonight.MINUTES, min=0, max=600, step=5, description="Minutes before doors", layout=WIDE
        )
        self.level = w.BoundedFloatText(
            value=show_day.STAGE_DBA, min=40, max=140, step=1, description="Level on stage, dB(A)", layout=WIDE
        )
        self.paper = choice("Paper", ["A4", "Letter"])
        self.questions = w.VBox([])
        self.page = w.HTML()
        self.lines: pd.DataFrame | None = None
        self._fill_shows()
        self.drop_draft = kept(self.found, "show day", {"set": self.pasted})
        self.show.observe(self._toggle_new, names="value")
        self.pasted.observe(self._forget_lines, names="value")
        self.box = column(
            whose_words(self.found),
            self.show,
            self.new_show,
            self.pasted,
            row(self.minutes, self.level, self.paper),
            row(
                button("Save and prepare", self.prepare, self.said, main=True),
                button("As it is in the diary", self.look, self.said),
                undo_button(self.found, self.said, self._fill_shows),
            ),
            self.said,
            self.questions,
            self.page,
        )

    def prepare(self) -> None:
        """Read what was pasted; ask about open lines, or save the set and show what it means."""
        if not self.pasted.value.strip():
            raise ShowDayProblem("There is no set to save. Paste it, or look at the one that is in the diary.")
        with opened(self.found.path) as diary:
            songs = diary.songs()
            if self.lines is None:
                self.lines = read_set(self.pasted.value, songs)
                self._ask(self.lines, everything_is_new=not len(songs))
            ready = settled(self.lines, self._answers())
            with diary.atomic():
                show_id = self._show_id(diary)
                for song in ready.new:
                    diary.add_song(song)
                diary.write_set(
                    show_id, ready.titles, stage="planned", encore_from=ready.encore_from, pasted=self.pasted.value
                )
        self.drop_draft()
        self.questions.children = ()
        self._fill_shows(show_id)
        self._show(show_id)
        self.said.done("The set is saved.")

    def look(self) -> None:
        """Show the day for the set that is in the diary already."""
        if self.show.value == ANOTHER:
            raise ShowDayProblem("Choose a show that is in the diary.")
        self._show(self.show.value)

    def _show(self, show_id: object) -> None:
        with opened(self.found.path) as diary:
            tables = diary.read()
        brief = tonight.brief(tables, show_id, minutes=self.minutes.value)
        made = sheet.stage_sheet(brief, self.folder, paper=self.paper.value)
        files = f"The stage sheet lies in {made.pdf} and {made.html}."
        words = " ".join([files, *made.left_out])
        self.page.value = as_html(brief, self.level.value) + f"<p>{html.escape(words)}</p>"

    def _ask(self, lines: pd.DataFrame, *, everything_is_new: bool) -> None:
        """Put a choice for each line that is open."""
        asked = []
        for line in lines[~lines.sure].itertuples():
            options = [(title, title) for title in line.candidates]
            options += [("a new song", NEW), ("leave it out", SKIP)]
            value = NEW if everything_is_new else None
            asked.append(choice(f'{line.position}. "{line.as_typed}"', options, value=value))
            asked[-1].add_class("question")
            asked[-1].position = line.position
        self.questions.children = tuple(asked)

    def _answers(self) -> dict[int, str]:
        return {asked.position: asked.value for asked in self.questions.children if asked.value is not None}

    def _show_id(self, diary: object) -> int:
        if self.show.value != ANOTHER:
            return int(self.show.value)
        day, city, venue, room = (field.value for field in self.new_show.children)
        if not city.strip():
            raise ShowDayProblem("Say in which town the show is; the place and the kind of room help later.")
        return int(diary.add_show(day, city, room=room, venue=venue or None))  # type: ignore[attr-defined]

    def _new_show(self) -> w.VBox:
        day = w.DatePicker(description="Day", value=date.today(), layout=WIDE)  # noqa: DTZ011  # the day on the wall
        room = choice("Kind of room", [("not said", None), *((room, room) for room in ROOMS)])
        return w.VBox([day, text("Town"), text("Venue"), room])

    def _fill_shows(self, chosen: object = None) -> None:
        """Offer the shows that lie ahead first, then the last ones, then a new one."""
        with opened(self.found.path) as diary:
            tables = diary.read()
        shows = in_order(tables.shows)
        ahead = tonight.next_show(tables)
        played = shows.show_id.isin(tables.plays.show_id)
        offered = pd.concat(
            [
                shows[~played & (shows.date >= shows.date[played].max())] if played.any() else shows,
                shows[played].iloc[::-1].head(10),
            ]
        )
        self.show.options = [*((_named(show), show.show_id) for show in offered.itertuples()), (ANOTHER, ANOTHER)]
        self.show.value = next((at for at in (chosen, ahead) if at in set(offered.show_id)), ANOTHER)
        self._toggle_new(None)

    def _toggle_new(self, _: object) -> None:
        self.new_show.layout.display = "" if self.show.value == ANOTHER else "none"

    def _forget_lines(self, _: object) -> None:
        self.lines = None
        self.questions.children = ()


def form(path: str | Path | None = None) -> w.VBox:
    """The show-day form, for a notebook."""
    return ShowDay(path).box


def as_html(brief: tonight.Brief, level_dba: float = show_day.STAGE_DBA) -> str:
    """The whole show day as HTML, everything typed escaped."""
    parts = []
    for section in show_day.sections(brief, level_dba):
        parts.append(f"<h3>{html.escape(section.heading)}</h3>")
        parts.append(f"<p>{html.escape(section.words)}</p>" if section.words else "")
        if len(section.table):
            parts.append(tables_shown.shown(section.table, labels=section.labels).html)
    return "".join(parts)


def _named(show: pd.Series) -> str:
    """A show as a person looks for it."""
    day = f"{show.date.day} {show.date:%b %Y}"
    second = f", show {show.number}" if show.number != 1 else ""
    place = ", ".join(str(name) for name in (show.city, show.venue) if isinstance(name, str))
    return f"{day}{second}: {place}"
