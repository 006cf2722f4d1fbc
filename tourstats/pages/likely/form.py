"""Likely swaps asked in fields: a part of the set that is known, and what to learn by a day."""

from __future__ import annotations

from datetime import date, timedelta

from tourstats.diary.store.values import cleaned
from tourstats.pages.kit.asked import Asked, page_of
from tourstats.pages.kit.show_written import Night
from tourstats.pages.kit.whose import whose
from tourstats.pages.kit.widgets import lines, number, text
from tourstats.pages.likely import new_songs
from tourstats.pages.likely import words as likely
from tourstats.pages.song.self_test import today
from tourstats.problems import Problem


class PartKnown:
    """Titles that are known to be in, or not to be: what that changes for the others."""

    def __init__(self) -> None:
        self.night = Night(whose())
        self.inside = lines("Known to be in", 3, placeholder="titles or letters of them, a line or a comma apart")
        self.outside = lines("Known to be out", 2)
        self.asked = Asked("part-known", [self.inside, self.outside], "What changes", self.answer)

    def answer(self) -> str:
        """Name the songs whose chance changes most."""
        known = dict.fromkeys(self._titles(self.inside.value), True) | dict.fromkeys(
            self._titles(self.outside.value), False
        )
        if not known:
            raise Problem("Say at least one song that is known to be in or out.")
        return likely.known_table(self.night.found.tour(), known).html

    def _titles(self, typed: str) -> list[str]:
        return [self.night.song(part) for line in typed.splitlines() for part in line.split(",") if part.strip()]


class NewToTheBand:
    """Songs that the others know and I do not: in which order to learn them by a day, and which of them do not fit."""

    def __init__(self) -> None:
        self.found = whose()
        tour = self.found.tour()
        self.today = today(self.found, tour).date()
        self.until = text("By when", value=f"{self.today + timedelta(weeks=3)}", placeholder="a day: 2031-03-24")
        self.minutes = number("Minutes a day", 60, 5, 720, 5)
        since = new_songs.joined(tour)
        self.since = text("In the band since", value="" if since is None else f"{since}", placeholder="empty: not yet")
        self.asked = Asked("new-to-the-band", [self.until, self.minutes, self.since], "In which order", self.answer)

    def answer(self) -> str:
        """The order, with the minutes of each song, and what does not fit."""
        until, since = _day(self.until.value), _day(self.since.value)
        if until is None or until <= self.today:
            raise Problem(f"Say a day after {self.today} by when the songs are wanted; it was {self.until.value!r}.")
        return new_songs.asked(self.found.tour(), until, float(self.minutes.value), self.today, since).html


def _day(typed: str) -> date | None:
    if not typed.strip():
        return None
    return date.fromisoformat(str(cleaned("rehearsals", {"date": typed.strip()})["date"]))


part_known, new_to_the_band = page_of(PartKnown), page_of(NewToTheBand)
