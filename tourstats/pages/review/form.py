"""Any leg reviewed, with the minutes that the break has, and the same as files to download."""

from __future__ import annotations

import base64

import ipywidgets as w

from tourstats.pages.kit import links
from tourstats.pages.kit.asked import Asked
from tourstats.pages.kit.whose import whose
from tourstats.pages.kit.widgets import Page, choice, number
from tourstats.pages.review import printed
from tourstats.pages.review import words as review


class Leg:
    """A leg and the minutes of the break; the answer is the whole review of it, or two files of it to download."""

    def __init__(self) -> None:
        self.found = whose()
        legs = self.found.tour().played().leg.dropna().unique()[::-1]
        self.leg = choice("Leg", [("the last one", None), *((leg, leg) for leg in map(str, legs))])
        self.minutes = number("Minutes for the break", review.BREAK_MINUTES, 0, 6000, 15)
        self.personal = w.Checkbox(description="with personal notes and remarks", indent=False)
        self.asked = Asked("leg-review", [self.leg, self.minutes], "Review this leg", self.answer)
        files = [self.leg, self.minutes, self.personal]
        self.files = Asked("leg-review-files", files, "Make the files", self.links)

    def answer(self) -> str:
        """Every part of the review."""
        made = review.parts(self.found.tour(), self.leg.value, minutes=self.minutes.value)
        return "".join(review.part_html(part) for part in made)

    def links(self) -> str:
        """One page and one PDF, each behind a link that downloads it: nothing is written on this machine."""
        asked = {"personal": self.personal.value, "minutes": self.minutes.value}
        paper = printed.printed(self.found.tour(), self.leg.value, **asked)
        files = {"pdf": ("application/pdf", paper.pdf), "html": ("text/html", paper.html.encode())}
        said = [
            f'<p><a download="{paper.name}.{ending}" href="data:{kind};base64,{base64.b64encode(data).decode()}">'
            f"Download {paper.name}.{ending}</a></p>"
            for ending, (kind, data) in files.items()
        ]
        return "".join([*said, f"<p>{links.linked(paper.left_out)}</p>" * bool(paper.left_out)])


def leg() -> Page:
    """The form for a review, for a notebook."""
    return Leg().asked.page()


def download() -> Page:
    """The form for its files, for a notebook."""
    return Leg().files.page()
