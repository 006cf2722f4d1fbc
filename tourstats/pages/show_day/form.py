"""The show day as a page: paste the set, settle what is open, save, and read what it means."""

from __future__ import annotations

import html
from datetime import date
from pathlib import Path

import ipywidgets as w
import pandas as pd

from tourstats.diary import Diary, opened
from tourstats.diary.tonights_set import earlier_sets, headed_day, keep, places_of
from tourstats.models import tonight
from tourstats.pages import sheet
from tourstats.pages.kit import links
from tourstats.pages.kit.fields import new_show
from tourstats.pages.kit.open_lines import OpenLines
from tourstats.pages.kit.plan_run import remember, write_down
from tourstats.pages.kit.show_written import Night, named
from tourstats.pages.kit.undoing import spare_the_demo, undo_button
from tourstats.pages.kit.widgets import (
    Page,
    Said,
    button,
    choice,
    column,
    folded,
    kept,
    lines,
    number,
    row,
    text,
    whose_words,
)  # fmt: skip
from tourstats.pages.lists.form import Lists
from tourstats.pages.show_day import on_screen
from tourstats.pages.show_day import words as show_day
from tourstats.pages.show_day.photo import PhotoOfSet
from tourstats.pages.song.self_test import today
from tourstats.pages.song.words import begin
from tourstats.pages.workbook import Whose, whose
from tourstats.problems import Problem, counted
from tourstats.reading.account import said
from tourstats.reading.titles import fold
from tourstats.tour import Tour, at_hand, coming

ANOTHER = "another show"
PASTE, ANOTHER_SET = "Paste the set", "Paste another set"
WORDS = "Run this page to paste a set, and to change the minutes or the paper."
PAST = 10
"""How many past shows the page offers."""


class ShowDay:
    """The form; `box` is what a notebook shows."""

    def __init__(self, path: str | Path | None = None, folder: str | Path = "sheets") -> None:
        self.found: Whose = whose(path)
        self.folder = Path(folder)
        self.said = Said()
        self.kept_anyway: tuple[str, object] = ("", None)
        self.show = choice("Show", [])
        self.new_show = new_show(date.today())  # noqa: DTZ011  # the day on the wall
        self.pasted = lines("Set", 14, placeholder="Paste the set here, as it stands on the paper.")
        self.minutes = number("Minutes before doors", tonight.MINUTES, 0, 600, 5)
        self.level = text("Level on stage, dBA", placeholder=show_day.ASSUMED_UNTIL)
        self.paper = choice("Paper", ["A4", "Letter"])
        self.dark = w.Checkbox(description="white on black, for a tablet", indent=False)
        self.doubts = w.Checkbox(description="how long each song was out", indent=False)
        self.open = OpenLines(self.prepare, self.said)
        self.short, self.sheet, self.page, self.more, self.plan_said = w.HTML(), w.HTML(), w.HTML(), w.HTML(), Said()
        self.test = w.HTML()
        self.lists = Lists(self.found, lambda: self._as_it_is(None))
        self.photo = PhotoOfSet(self.pasted, self.said)
        set_fields = (self.photo.choose, row(self.pasted, self.photo.shown), self._saving())
        self.paste, self.paste_box = folded(PASTE, *set_fields, open_=True)
        self.plan_box = w.VBox(
            [row(button("I ran this plan", self.ran, self.plan_said)), self.plan_said], layout=w.Layout(display="none")
        )
        # The button stands under the plan, also where the plan stands beside the set.
        self.day = w.VBox([self.page, self.plan_box])
        self.day.add_class("tourstats-day-and-plan")
        self._fill_shows()
        self.drop_draft = kept(self.found, "show day", {"set": self.pasted}, self.said)
        kept(self.found, "level on stage", {"level": self.level}, self.said)
        self._as_it_is(None)
        self.show.observe(self._as_it_is, names="value")
        self.pasted.observe(lambda _: self.open.forget(), names="value")
        self.minutes.observe(lambda _: self._as_it_is(None), names="value")
        self.box = column(*self._parts(), name="show-day")

    def prepare(self) -> None:
        """Read what was pasted; ask about open lines, or save the set and show what it means."""
        if not self.pasted.value.strip():
            raise Problem("There is no set to save. Paste it, or look at the one that is in the diary.")
        spare_the_demo(self.found)
        self.paste.value = True  # what is asked about stands in it
        with opened(self.found.path) as diary:
            tour = diary.read()
            before = earlier_sets(tour, self._day(tour))
            ready = self.open.read(self.pasted.value, tour.songs, places_of(diary), before)
            self._agrees(tour)
            with diary.atomic():
                show_id = self._show_id(diary)
                keep(diary, ready, show_id, pasted=self.pasted.value)
        self.drop_draft()
        self.open.forget()
        read = said(ready.account)
        self.said.done(f"The set is saved: {counted(len(ready.titles), 'song')}. Read: {'; '.join(read)}.")
        self.pasted.value = ""
        self.photo.forget()
        self._fill_shows(show_id)
        self._think(show_id)

    def look(self) -> None:
        """Show the day, and write the sheet, for the set that is in the diary already."""
        if self.show.value == ANOTHER:
            raise Problem("Choose a show that is in the diary.")
        self._think(self.show.value)

    def ran(self) -> None:
        """Write the plan down as run."""
        night = Night(self.found)
        night.read(self.show.value)
        self.plan_said.done(write_down(night))

    def _think(self, show_id: object) -> None:
        """Show what the set means. It is saved by now: whatever goes wrong here is no more than a sentence."""
        try:
            tables = self.found.tour()
            brief = tonight.brief(tables, show_id, minutes=self.minutes.value)
            self._show(brief)
            self.test.value = begin(tables, show_id, today(self.found, tables))
            remember(self.found, show_id, brief.plan)
            looks = {"dark": self.dark.value, "doubts": self.doubts.value}
            made = sheet.stage_sheet(brief, self.folder, self.paper.value, **looks)
            self.sheet.value = _link(made)
        except tonight.NoSetProblem:
            raise
        except Exception as fault:  # noqa: BLE001  # the set is safe; the musician has to know that first
            what = str(fault) if isinstance(fault, Problem) else f"{type(fault).__name__}: {fault}"
            self.said.wrong(f"The set is saved in the diary, but not all of this page could be made. {what}")

    def _show(self, brief: tonight.Brief) -> None:
        """Say what matters on top; the set and the plan; all the rest folded. The field for the set folds away."""
        where, said = show_day.where_and_when(brief.show), show_day.in_short(brief)
        self.short.value = f"<p><strong>{html.escape(where)}.</strong> {links.linked(said)}</p>"
        self.page.value = on_screen.day(brief)
        self.more.value = on_screen.rest(brief, self.level.value)
        self.lists.show(brief)
        self.plan_box.layout.display = ""
        self._fold(has_set=True)

    def _fold(self, *, has_set: bool) -> None:
        """The field for the set is open while there is no set, and while something stands in it."""
        self.paste.description = ANOTHER_SET if has_set else PASTE
        self.paste.value = not has_set or bool(self.pasted.value.strip())

    def _as_it_is(self, _: object) -> None:
        """Show what the diary has for the chosen show; nothing is written."""
        self.new_show.layout.display = "" if self.show.value == ANOTHER else "none"
        self.short.value = self.sheet.value = self.page.value = self.more.value = self.test.value = ""
        self.plan_box.layout.display = "none"
        self.lists.show(None)
        self.plan_said.clear()
        self._fold(has_set=False)
        tables = self.found.tour()
        if self.show.value in {*tables.planned.show_id, *tables.plays.show_id}:
            try:
                self._show(tonight.brief(tables, self.show.value, minutes=self.minutes.value))
                self.test.value = begin(tables, self.show.value, today(self.found, tables))
            except Problem as problem:
                self.said.wrong(str(problem))
        elif self.show.value != ANOTHER:
            self.short.value = "<p>This show has no set yet. Paste it, and save.</p>"

    def _saving(self) -> w.VBox:
        save = button("Save and prepare", self.prepare, self.said, main=True)
        return w.VBox([row(save), self.open.box])

    def _parts(self) -> list[w.Widget]:
        settings, panel = folded("Paper and loudness", self.paper, self.dark, self.doubts, self.level)
        asked = bool(links.asked("lists"))  # from *Today*: then the lists come first, and open
        self.lists.opens.value = asked
        return [
            whose_words(self.found),
            *([self.lists.box] if asked else []),
            self.short,
            self.show,
            self.new_show,
            row(self.paste, undo_button(self.found, self.said, self._undone)),
            self.said,
            self.paste_box,
            self.day,
            self.minutes,
            self.test,
            self.more,
            *([] if asked else [self.lists.box]),
            row(button("Make the stage sheet", self.look, self.said), settings),
            panel,
            self.sheet,
        ]

    def _undone(self) -> None:
        self._fill_shows(self.show.value)
        self._as_it_is(None)

    def _day(self, tour: Tour) -> date:
        """Day of the show that is chosen, or typed."""
        typed = self.new_show.children[0].value or date.today()  # noqa: DTZ011  # the day on the wall
        return tour.day_of(self.show.value) or typed

    def _agrees(self, tour: Tour) -> None:
        """Ask once where the set is headed with another day or town than the show that is chosen."""
        headed, asked = self.open.lines.attrs["headed"], (self.pasted.value, self.show.value)
        chosen = tour.shows[tour.shows.show_id == self.show.value]
        town = chosen.city.iloc[0] if len(chosen) else self.new_show.children[1].value
        day = self._day(tour)
        days = headed_day(headed, day, tour.shows)
        another = (days and day not in days) or (
            headed.get("city") and town and fold(headed["city"]) != fold(str(town))
        )
        if another and self.kept_anyway != asked:
            self.kept_anyway = asked
            raise Problem(
                f'The set is headed "{" ".join(headed.values())}", which may be another show than the one chosen. '
                "Choose that show and save, or press Save again to keep it for this one."
            )

    def _show_id(self, diary: Diary) -> int:
        if self.show.value != ANOTHER:
            return int(self.show.value)
        day, city, venue, room = (field.value for field in self.new_show.children)
        if day is None:
            raise Problem("Say on which day the show is.")
        if not city.strip():
            raise Problem("Say in which city the show is; the venue and its kind help later.")
        return diary.add_show(day, city, room=room, venue=venue.strip() or None)

    def _fill_shows(self, chosen: object = None) -> None:
        """Offer the shows to come first, then the last ones, then a new one."""
        tables = self.found.tour()
        rows = offered(tables)
        ids = [int(row_.show_id) for row_ in rows.itertuples()]
        ahead = at_hand(tables, today(self.found, tables).date())
        value = next((at for at in (chosen, ahead) if at in ids), ANOTHER)
        options = [*((named(row_), int(row_.show_id)) for row_ in rows.itertuples()), (ANOTHER, ANOTHER)]
        if list(self.show.options) != options:
            self.show.options = options
        self.show.value = value


def form(path: str | Path | None = None) -> Page:
    """The show-day form, for a notebook."""
    made = ShowDay(path)
    return Page(
        made.box, WORDS, lambda: whose_words(made.found).value + made.short.value + made.page.value + made.more.value
    )


def offered(tables: Tour) -> pd.DataFrame:
    """Shows to come, then the last that were played, the latest first."""
    return pd.concat([coming(tables.shows, tables.plays), tables.played().iloc[::-1].head(PAST)])


def _link(made: sheet.Sheet) -> str:
    """The sheet to take along: the page carries it itself, so the link works wherever the page is shown."""
    said = links.linked(" ".join([f"It is in {made.pdf} and {made.html} too.", *made.left_out]))
    link = links.download(Path(made.pdf), f"Take the stage sheet ({Path(made.pdf).name})")
    return f'<p class="sheet">{link}</p><p>{said}</p>'
