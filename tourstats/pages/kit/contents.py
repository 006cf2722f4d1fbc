"""The pages of the workbook, in the order of the bar: one constant, from which bar, addresses and commands are made."""

from __future__ import annotations

from typing import NamedTuple

from tourstats.problems import Problem, listed


class Place(NamedTuple):
    """A page: its name in addresses and commands, its title in bar and tab, and the notebook that it is."""

    name: str
    title: str
    notebook: str


PAGES = (
    Place("today", "Today", "00-today.ipynb"),
    Place("show-day", "Show day", "01-show-day.ipynb"),
    Place("song", "A song", "02-a-song.ipynb"),
    Place("after-the-show", "After the show", "02-after-the-show.ipynb"),
    Place("listening", "Listening", "09-listening.ipynb"),
    Place("likely-swaps", "Likely swaps", "03-likely-swaps.ipynb"),
    Place("rotation", "Rotation", "04-rotation.ipynb"),
    Place("playing-trends", "Playing trends", "05-playing-trends.ipynb"),
    Place("repeat-audience", "Repeat audience", "06-repeat-audience.ipynb"),
    Place("leg-review", "Leg review", "07-leg-review.ipynb"),
    Place("corrections", "Corrections", "08-corrections.ipynb"),
    Place("start", "Start", "00-start-with-your-own-tour.ipynb"),
)
"""What the bar lists. A page is added by a line here, a notebook, and a folder in `pages`."""

FIRST = PAGES[0].name


class PageProblem(Problem):
    """There is no such page."""


def chosen(name: str) -> Place:
    """The page of that name, or of the only name that begins so.

    Examples
    --------
    >>> chosen("rot").title
    'Rotation'

    """
    fits = [page for page in PAGES if name and page.name.startswith(name)]
    exact = [page for page in fits if page.name == name]
    if len(exact or fits) == 1:
        return (exact or fits)[0]
    known = listed([page.name for page in PAGES], most=20)
    raise PageProblem(f'There is no page "{name}". The pages: {known}.')


def address(name: str) -> str:
    """Where a page is, as a link from another page has it.

    Examples
    --------
    >>> address("show-day")
    '/show-day'

    """
    return f"/{chosen(name).name}"
