"""Export: every table as CSV, the review of a leg, and its stage sheets in one PDF."""

from __future__ import annotations

import re
from pathlib import Path

import ipywidgets as w
import pandas as pd

from tourstats.diary import opened
from tourstats.diary.export import export
from tourstats.models import tonight
from tourstats.pages import sheet
from tourstats.pages.kit.long_work import LongWork, Step
from tourstats.pages.kit.widgets import Said, button, choice, column, row, text
from tourstats.pages.review import printed
from tourstats.pages.workbook import whose
from tourstats.problems import Problem, counted
from tourstats.tables import in_order
from tourstats.tour import Tour

ALL_SHOWS = "the whole tour"


class Leaving:
    """The form; `box` is what a notebook shows."""

    def __init__(self, path: str | Path | None = None) -> None:
        self.found = whose(path)
        self.said = Said()
        self.folder = text("Folder", value=str(Path.home() / "tourstats"))
        self.leg = choice("Leg", self._legs())
        self.paper = choice("Paper", list(sheet.PAPERS))
        self.personal = w.Checkbox(description="with personal notes and remarks", indent=False)
        self.work = LongWork(self.said)
        self.box = column(
            self.folder, self.leg, self.paper, self.personal,
            row(button("Every table as CSV", self.tables, self.said),
                button("The review of the leg", self.review, self.said),
                button("All sheets of the leg", self.sheets, self.said)),
            self.work.box, self.said,
        )  # fmt: skip

    def tables(self) -> None:
        """Write every table as a CSV file."""
        files = export(self._folder(), self.found.path)
        self.said.done(f"{len(files)} tables are in {files[0].parent}. `tourstats intake FOLDER` reads them back.")

    def review(self) -> None:
        """Write the leg review as HTML and PDF."""
        leg = None if self.leg.value == ALL_SHOWS else self.leg.value
        paper = {"A4": "a4", "Letter": "us-letter"}[self.paper.value]
        tables, folder, personal = self.found.tour(), self._folder(), self.personal.value

        def make(step: Step) -> str:
            made = printed.write(tables, folder, leg, personal=personal, paper=paper, step=step)
            return f"The review is in {made.pdf} and {made.html}. {made.left_out}".strip()

        self.work.run(make)

    def sheets(self) -> None:
        """Write the stage sheets of the leg into one PDF."""
        leg = None if self.leg.value == ALL_SHOWS else self.leg.value
        tables, folder, paper = self.found.tour(), self._folder(), self.paper.value

        def make(step: Step) -> str:
            made = leg_pdf(tables, folder, leg, paper=paper, step=step)
            return " ".join([f"The sheets of {counted(made.shows, 'show')} are in {made.pdf}.", *made.left_out])

        self.work.run(make)

    def _folder(self) -> Path:
        if not self.folder.value.strip():
            raise Problem("Say into which folder it should go.")
        return Path(self.folder.value.strip()).expanduser()

    def _legs(self) -> list[str]:
        """Legs, the latest first, then everything."""
        with opened(self.found.path) as diary:
            legs = diary.legs()
        return [*legs.leg[::-1], ALL_SHOWS]


def leg_pdf(
    tables: Tour,
    folder: str | Path,
    leg: str | None = None,
    *,
    paper: str = "A4",
    step: Step = lambda _, __: None,
) -> sheet.Sheets:
    """Write the stage sheets of a leg into one PDF, each as it was on its afternoon.

    Parameters
    ----------
    tables
        The whole diary.
    folder
        Where to write; made if it is not there.
    leg
        Name of the leg; None for every show.
    paper
        A4 or Letter.
    step
        Called after each show with how many are done, and of how many. What it raises ends the work, with nothing
        written.

    Returns
    -------
    sheet.Sheets
        pdf (path), shows (how many have a set) and left_out (sentences).

    Raises
    ------
    SheetProblem
        If no show of the leg has a set.

    """
    shows = in_order(tables.shows)
    has_set = shows.show_id.isin(pd.concat([tables.plays.show_id, tables.planned.show_id]))
    own = shows[has_set] if leg is None else shows[has_set & (shows.leg == leg)]
    briefs = []
    for show_id in own.show_id:
        briefs.append(tonight.brief(tables, show_id))
        step(len(briefs), len(own))
    name = leg or "all shows"
    stem = re.sub(r"\W+", "-", name.lower()).strip("-") or "leg"
    return sheet.leg_sheets(briefs, Path(folder) / f"stage-sheets-{stem}.pdf", paper, title=f"Stage sheets: {name}")


def form(path: str | Path | None = None) -> w.VBox:
    """The form *Export*, for a notebook."""
    return Leaving(path).box
