"""Likely swaps asked with what is known: a part of the set, by title, in or out."""

from __future__ import annotations

from tourstats.diary import opened
from tourstats.pages.kit.asked import Asked
from tourstats.pages.kit.show_written import Night
from tourstats.pages.kit.whose import whose
from tourstats.pages.kit.widgets import Page, lines
from tourstats.pages.likely import words as likely
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
        with opened(self.night.found.path) as diary:
            return likely.known_table(diary.read(), known).html

    def _titles(self, typed: str) -> list[str]:
        return [self.night.song(part) for line in typed.splitlines() for part in line.split(",") if part.strip()]


def part_known() -> Page:
    """The form, for a notebook."""
    return PartKnown().asked.page()
