"""Any leg reviewed, with the minutes that the break has."""

from __future__ import annotations

from tourstats.diary import opened
from tourstats.pages.kit.asked import Asked
from tourstats.pages.kit.whose import whose
from tourstats.pages.kit.widgets import Page, choice, number
from tourstats.pages.review import words as review


class Leg:
    """A leg and the minutes of the break; the answer is the whole review of it."""

    def __init__(self) -> None:
        self.found = whose()
        with opened(self.found.path) as diary:
            played = diary.shows().merge(diary.plays()[["show_id"]].drop_duplicates(), on="show_id")
        legs = [str(leg) for leg in played.sort_values("date").leg.dropna().drop_duplicates()][::-1]
        self.leg = choice("Leg", [("the last one", None), *((leg, leg) for leg in legs)])
        self.minutes = number("Minutes for the break", review.BREAK_MINUTES, 0, 6000, 15)
        self.asked = Asked("leg-review", [self.leg, self.minutes], "Review this leg", self.answer)

    def answer(self) -> str:
        """Every part of the review."""
        with opened(self.found.path) as diary:
            made = review.parts(diary.read(), self.leg.value, minutes=self.minutes.value)
        return "".join(review.part_html(part) for part in made)


def leg() -> Page:
    """The form, for a notebook."""
    return Leg().asked.page()
