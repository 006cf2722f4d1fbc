"""A list on paper: one page of PDF to hand out."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from tourstats.pages.kit import typeset
from tourstats.pages.kit.whole_files import write_whole
from tourstats.pages.lists.words import Listed
from tourstats.problems import Problem


def write(sheet: Listed, folder: str | Path, day: object, paper: str = "A4") -> Path:
    """Write a list as PDF and say where it is.

    Raises
    ------
    Problem
        If it cannot be written.

    """
    place = Path(folder) / f"{sheet.whom}-{day}.pdf"
    try:
        write_whole(place, printed(sheet, paper))
    except OSError as error:
        raise Problem(
            f"The list cannot be written to {place.parent}: {error.strerror or error}. Choose another folder, or close "
            "the file."
        ) from error
    return place


def printed(
    sheet: Listed,
    paper: str = "A4",
    **settings: Any,  # noqa: ANN401  # of typst
) -> bytes:
    """Set a list; a sign that no font here draws is left out."""
    told = {
        "title": sheet.heading, "where": sheet.where, "said": sheet.said, "paper": {"A4": "a4"}.get(paper, "us-letter"),
        "fonts": typeset.FONTS,
        "lines": [{"what": each.what, "more": each.more.replace(" min", "\u00a0min"),
                   "box": each.key is not None, "ticked": each.ticked}
                  for each in sheet.lines],
    }  # fmt: skip
    return typeset.printed(_TEMPLATE, told, **settings)[0]


# The largest letters with which all of it stands on one page, whatever font the machine has; below what can be read on
# a stand it takes a second page.
_TEMPLATE = """
#let data = json(bytes(sys.inputs.data))
#set document(title: data.title)
#let edge = 14mm
#set page(paper: data.paper, margin: (x: 16mm, y: edge), numbering: "1 / 1")
#set text(font: data.fonts, size: 12pt, lang: "en", hyphenate: false)
#show heading: set text(20pt)
#let listed(size) = for line in data.lines {
  block(breakable: false, above: size * 0.42, below: 0pt, width: 100%, stroke: (bottom: 0.5pt + luma(160)),
    inset: (bottom: 0.3em), grid(columns: if line.box { (18pt, 1fr) } else { (1fr,) },
    ..if line.box {
      (box(width: 10pt, height: 10pt, stroke: 1pt, fill: if line.ticked { black } else { white }),)
    } else { () },
    [#text(size, strong(line.what)) #text(size * 0.84, line.more)]))
}
#heading(level: 1, text(data.title))
#text(11pt, data.where)
#for line in data.said { par(text(line)) }
#v(0.5em)
#context layout(room => {
  let left = room.height + edge - here().position().y
  let sizes = range(18, 27).rev().map(half => half * 0.5pt)
  let fits = sizes.find(size => measure(block(width: room.width, listed(size))).height < left)
  listed(if fits == none { 10.5pt } else { fits })
})
"""
