"""Opening the workbook from a notebook: the diary read once, said whose it is, with charts switched on."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import pandas as pd

from tourstats.diary import opened
from tourstats.pages.kit import links
from tourstats.pages.kit.finished import keep_results
from tourstats.pages.kit.whose import whose
from tourstats.tour import Tour

if TYPE_CHECKING:
    from IPython.display import Markdown


def read(path: str | Path | None = None) -> Tour:
    """Read the whole diary for a notebook, say whose it is, and make charts live."""
    # The 16:00 command reads too, and draws nothing: what is heavy waits for the notebook.
    from IPython.display import Markdown, display  # noqa: PLC0415  # late, as said above

    from tourstats.pages.kit import charts  # noqa: PLC0415  # as above

    charts.register()
    found = whose(path)
    if found.demo:
        display(Markdown(f"*{found.words}*"))
    keep_results()
    with opened(found.path, make=False) as diary:
        tour = diary.read()
    display(say(f"*{as_of(tour)}*"))
    return tour


def as_of(tour: Tour) -> str:
    """Up to which show an analysis goes.

    Examples
    --------
    >>> as_of(Tour())
    'No set was played yet.'

    """
    played = tour.played()
    if not len(played):
        return "No set was played yet."
    last = played.iloc[-1]
    where = "" if pd.isna(last.city) else f" in {last.city}"
    return f"As of the show of {last.date.day} {last.date:%b %Y}{where}."


def say(text: str) -> Markdown:
    r"""Show a computed sentence as prose.

    Examples
    --------
    >>> say("**Three** songs came in.").data
    '**Three** songs came in.'
    >>> say("On the leg <b>Spring</b> [here](x)").data
    'On the leg &lt;b&gt;Spring&lt;/b&gt; \\[here\\](x)'

    """
    from IPython.display import Markdown  # noqa: PLC0415  # as above

    # Names that were typed stand in it: they are words, never markup or links. Ours are stars and dashes alone.
    return Markdown(links.linked(text, in_prose=True))
