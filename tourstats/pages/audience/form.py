"""Repeat audience asked: any draft scored, what was counted at the door, and a person forgotten."""

from __future__ import annotations

from pathlib import Path

import ipywidgets as w

from tourstats.diary import opened, read_set
from tourstats.pages.audience import words as audience
from tourstats.pages.kit import links
from tourstats.pages.kit.asked import Asked, page_of
from tourstats.pages.kit.finished import forget_results
from tourstats.pages.kit.show_written import Night
from tourstats.pages.kit.undoing import changing, spare_the_demo
from tourstats.pages.kit.whose import whose
from tourstats.pages.kit.widgets import choice, lines, text
from tourstats.problems import Problem, counted, listed
from tourstats.scale.taking import beside, forget_scans, take_scans, there


class Draft:
    """A draft of a set, scored as the set on the table is."""

    def __init__(self) -> None:
        self.found = whose()
        self.set = lines("Draft", 8, placeholder="a song a line, as for the show day")
        self.asked = Asked("draft", [self.set], "How new this set would be", self.answer)

    def answer(self) -> str:
        """Score it, or name the lines that are no song."""
        tour = self.found.tour()
        read = read_set(self.set.value, tour.songs)
        unsure = read.as_typed[~read.sure].tolist()
        if unsure or not len(read):
            raise Problem(
                f"These lines are not surely a song: {listed(unsure)}." if unsure else "Type the draft first."
            )
        return str(getattr(audience.draft_table(tour, read.song.tolist()), "html", ""))


class Door:
    """How many came, and how many of them had been at an earlier show."""

    def __init__(self) -> None:
        self.night = Night(whose())
        shows = self.night.offered()
        self.show, self.earlier = choice("Show", shows), choice("Earlier show", shows[1:] or shows)
        self.people, self.returning = text("People at the show"), text("Of them at the earlier show")
        fields: list[w.Widget] = [self.show, self.people, self.earlier, self.returning]
        self.asked = Asked("at-the-door", fields, "Save the count", self.answer)

    def answer(self) -> str:
        """Save it, as one change that Undo takes back."""
        if not (self.people.value.strip().isdigit() and self.returning.value.strip().isdigit()):
            raise Problem("Give two whole numbers: how many people came, and how many of them had been there before.")
        people, returning = int(self.people.value), int(self.returning.value)
        with self.night.writing() as diary:
            diary.add_counts(self.show.value, people, self.earlier.value, returning)
        return f"<p>Saved: {returning:,} of {people:,} were at the earlier show.</p>"


class Forget:
    """A person who asks to be taken off the list."""

    def __init__(self) -> None:
        self.found = whose()
        self.person = text("Ticket number or address", placeholder="as it stood on the list")
        self.asked = Asked("forget", [self.person], "Forget this person", self.answer)

    def answer(self) -> str:
        """Take everything of this person out."""
        if not self.person.value.strip():
            raise Problem("Say whom: the number or address that stood on the list.")
        with changing(self.found) as diary:
            gone = diary.forget(self.person.value.strip())
        if there(scans := beside(self.found.path)):
            gone += forget_scans(scans, self.person.value.strip())
        forget_results()
        self.person.value = ""
        return f"<p>Forgotten: {counted(gone, 'visit')}.</p>"


class Scans:
    """Ticket scans by the million: too long for the diary, kept in a folder beside it."""

    def __init__(self) -> None:
        self.found = whose()
        self.files = text("File or folder of scans", placeholder="its path on this machine: Parquet or CSV")
        self.person = text("Column of the person", value="person")
        self.show = text("Column of the show or its day", value="show_id")
        self.asked = Asked("scans", [self.files, self.person, self.show], "Take these scans in", self.answer)

    def answer(self) -> str:
        """Take them in, together with those that are there, and say what was left out."""
        typed = self.files.value.strip()
        if not typed:
            raise Problem("Say where the scans are: the path of a file, or of a folder of files.")
        spare_the_demo(self.found)
        with opened(self.found.path, make=False) as diary:
            tour = diary.read()
        taken = take_scans(
            *(Path(typed).expanduser(), beside(self.found.path), tour.shows),
            person=self.person.value.strip(),
            show=self.show.value.strip(),
            add=True,
            progress=False,
        )
        if not taken.written:
            raise Problem("\n".join(taken.said()))
        told = "".join(f"<p>{links.linked(line)}</p>" for line in taken.said())
        return told + str(getattr(audience.scans_table(tour, self.found.path), "html", ""))


draft, door, forget, scans = page_of(Draft), page_of(Door), page_of(Forget), page_of(Scans)
