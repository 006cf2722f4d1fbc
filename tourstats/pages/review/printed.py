"""The leg review on paper: one HTML page and one PDF, to print or to send."""

from __future__ import annotations

import html
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from tourstats.pages.kit import look, tables_shown, typeset
from tourstats.pages.kit.charts import svg
from tourstats.pages.kit.whole_files import write_whole
from tourstats.pages.review.words import BREAK_MINUTES, Part, ReviewProblem, leg_of, lines_of, part_html, parts
from tourstats.pages.trends.words import CAUTION
from tourstats.tour import Tour


@dataclass(frozen=True)
class Printed:
    """The review as two files to be: their name without its ending, the page, the PDF, and signs no font could draw."""

    name: str
    html: str
    pdf: bytes
    left_out: str


PAPER_PX = 700
"""Width of a chart on paper."""


@dataclass(frozen=True)
class Written:
    """Where the review is, and signs that no font here could draw."""

    html: Path
    pdf: Path
    left_out: str


def write(
    tables: Tour,
    folder: str | Path,
    leg: object = None,
    *,
    personal: bool = False,
    minutes: float = BREAK_MINUTES,
    paper: str = "a4",
    step: Callable[[int, int], None] = lambda _, __: None,
) -> Written:
    """Write the review as HTML and PDF, to print or to send.

    Parameters
    ----------
    tables, leg, minutes
        As for `parts`.
    folder
        Where to write; made if it is not there.
    personal
        Whether personal notes and remarks are in it. Left out unless asked for, since this is what one sends.
    paper
        "a4" or "us-letter".
    step
        As for `parts`; what it raises leaves nothing written.

    Returns
    -------
    Written

    Raises
    ------
    ReviewProblem
        If there is no such leg, or the files cannot be written.

    """
    review = printed(tables, leg, personal=personal, minutes=minutes, paper=paper, step=step)
    page, pdf = Path(folder) / f"{review.name}.html", Path(folder) / f"{review.name}.pdf"
    try:
        write_whole(page, review.html)
        write_whole(pdf, review.pdf)
    except OSError as error:
        reason = error.strerror or error
        raise ReviewProblem(f"Cannot write the review to {folder}: {reason}. Choose another folder.") from error
    return Written(page, pdf, review.left_out)


def printed(
    tables: Tour,
    leg: object = None,
    *,
    personal: bool = False,
    minutes: float = BREAK_MINUTES,
    paper: str = "a4",
    step: Callable[[int, int], None] = lambda _, __: None,
) -> Printed:
    """Make both files without writing them; parameters as for `write`."""
    made = parts(tables, leg, personal=personal, minutes=minutes, step=step)
    leg_name = str(leg_of(tables, leg).name) if len(tables.plays) else "nothing played yet"
    title = f"Leg review: {leg_name}"
    pdf, left_out = _pdf(title, made, paper)
    name = "leg-review-" + (re.sub(r"\W+", "-", leg_name.lower()).strip("-") or "leg")
    return Printed(name, _html(title, made), pdf, left_out)


def _html(title: str, review: Sequence[Part]) -> str:
    """One page that needs nothing else."""
    body = "\n".join(f"<section>{part_html(part)}</section>" for part in review)
    foot = f"<footer><p>{html.escape(CAUTION)}</p></footer>"
    return look.page(title, _STYLE, f"<h1>{html.escape(title)}</h1>\n{body}\n{foot}")


def _pdf(title: str, review: Sequence[Part], paper: str) -> tuple[bytes, str]:
    """Set the page, again without the signs that no font here draws, until it draws all that is there."""
    content = [
        {
            "heading": part.heading,
            "lines": [{"item": item, "text": line} for item, line in lines_of(part.words)],
            **tables_shown.in_words(part.table)._asdict(),
            "chart": svg(part.chart, PAPER_PX) if part.chart is not None else "",
            "about": part.chart.to_dict()["description"] if part.chart is not None else "",
        }
        for part in review
    ]
    page = {"title": title, "caution": CAUTION, "paper": paper, "fonts": typeset.FONTS, "parts": content}
    printed, lost = typeset.printed(_TEMPLATE, page)
    return printed, "".join(sorted(lost))


_STYLE = """
@page { margin: 14mm }
body { padding: 16px; max-width: 44rem; font-size: 16px; line-height: 1.45; color: #1b1f24 }
h1 { font-size: 1.5rem } h2 { font-size: 1.1rem; margin: 1.4em 0 .3em } p { margin: .3em 0 }
figure { margin: .8em 0; break-inside: avoid } figure svg { max-width: 100%; height: auto }
"""

_TEMPLATE = """
#let data = json(bytes(sys.inputs.data))
#set document(title: data.title)
#set page(paper: data.paper, margin: (x: 16mm, y: 14mm), numbering: "1 / 1")
#set text(font: data.fonts, size: 10pt, lang: "en")
#set par(leading: 0.55em, spacing: 0.75em)
#show heading.where(level: 1): set text(17pt)
#show heading.where(level: 2): set text(12pt)
#heading(level: 1, text(data.title))
#for part in data.parts {
  heading(level: 2, text(part.heading))
  for line in part.lines {
    if line.item { list(text(line.text)) } else { par(text(line.text)) }
  }
  if part.rows.len() > 0 {
    table(columns: part.head.len(), stroke: none, inset: (x: 4pt, y: 2.5pt),
      align: part.right.map(number => if number { right } else { left }),
      table.header(..part.head.map(word => text(8.5pt, word))), table.hline(stroke: 0.5pt),
      ..part.rows.flatten().map(word => text(9pt, word)))
  }
  if part.chart != "" {
    block(breakable: false, image(bytes(part.chart), format: "svg", width: 68%, alt: part.about))
  }
}
#v(1em)
#text(8.5pt, data.caution)
"""
