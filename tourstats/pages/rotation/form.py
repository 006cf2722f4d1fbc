"""The picture of the tour asked otherwise: another leg, and another order of the songs; and each leg, for paper."""

from __future__ import annotations

from IPython.display import display

from tourstats.models import rotation
from tourstats.pages.kit import fitting, links
from tourstats.pages.kit.asked import Asked, page_of
from tourstats.pages.kit.charts import svg
from tourstats.pages.kit.whose import whose
from tourstats.pages.kit.widgets import choice
from tourstats.pages.rotation.chart import tour_picture
from tourstats.tour import Tour

NEED, FIRST = "by need: out longest and not run", "by first playing"
NEWEST = "the newest shows"


class Picture:
    """Which shows, and in which order the songs; the answer is the picture."""

    def __init__(self) -> None:
        self.found = whose()
        legs = [str(leg) for leg in self.found.tour().played().leg.dropna().unique()[::-1]]
        self.leg = choice("Shows", [NEWEST, *legs])
        self.order = choice("Songs", [FIRST, NEED])
        self.asked = Asked("tour-picture", [self.leg, self.order], "Draw it so", self.answer)

    def answer(self) -> str:
        """Draw it."""
        tour, leg = self.found.tour(), self.leg.value
        order = by_need(tour) if self.order.value == NEED else None
        part, title = (tour, "") if leg == NEWEST else (tour.leg(leg), f"The leg {leg}")
        return f"<figure>{svg(tour_picture(part.plays, part.shows, part.songs, order, title))}</figure>"


def for_paper(tour: Tour) -> None:
    """Show the songs of each leg, the oldest leg first, on a sheet each: what a served page prints of the picture."""
    parts = [(tour.leg(leg), f"The leg {leg}") for leg in tour.legs()] or [(tour, "")]
    with fitting.on_paper():
        for part, title in parts if links.served() else []:
            display(tour_picture(part.plays, part.shows, title=title))


def by_need(tour: Tour) -> list[str]:
    """Titles in the order in which they want running: out longest and not run since, then out and run, then the set's.

    Examples
    --------
    >>> import pandas as pd
    >>> days = pd.to_datetime(["2031-03-04", "2031-03-05"])
    >>> tour = Tour.of(
    ...     songs=pd.DataFrame({"song": ["Ferry", "Tin Rook"]}),
    ...     shows=pd.DataFrame({"show_id": [1, 2], "date": days}),
    ...     plays=pd.DataFrame({"show_id": [1, 2], "position": 1, "song": ["Ferry", "Tin Rook"]}),
    ... )
    >>> by_need(tour)
    ['Ferry', 'Tin Rook']

    """
    back = rotation.layoffs(tour.plays, tour.shows, tour.songs, tour.rehearsals)
    back = back[back.status != "retired"]
    run = (back.rehearsed > back.last_played).fillna(value=False)
    out = back.assign(later=run | (back.layoff_shows.fillna(0) == 0))
    return [str(title) for title in out.sort_values("later", kind="stable").song]


picture = page_of(Picture)
