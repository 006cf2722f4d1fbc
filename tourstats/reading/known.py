"""What the tour knows already: titles, towns, venues, shows. Empty on day one."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import pandas as pd

from tourstats.reading.cells import tight
from tourstats.reading.titles import Titles, index, names_of


@dataclass
class Known:
    """Names of a tour, as they are compared.

    Attributes
    ----------
    titles
        The repertoire, ready to be matched; None if there is none.
    songs
        Titles and other names, tight.
    cities, venues
        Towns and venues: tight form to the name as it is written.
    latest
        Year of the latest show.

    """

    titles: Titles | None = None
    songs: set[str] = field(default_factory=set)
    cities: dict[str, str] = field(default_factory=dict)
    venues: dict[str, str] = field(default_factory=dict)
    latest: int | None = None
    home: dict[str, str] = field(default_factory=dict)
    """Town of a venue, both tight."""

    def is_place(self, text: str) -> bool:
        """Whether a text is a town or a venue of the tour."""
        form = tight(text)
        return form in self.cities or form in self.venues


def known(tour: Any = None, songs: Any = None) -> Known:  # noqa: ANN401  # a Tour, or tables by those names
    """Gather what a tour knows; `songs` alone if there is nothing else."""
    gathered = Known()
    songs = getattr(tour, "songs", None) if songs is None else songs
    if songs is not None and len(songs):
        names = names_of(songs)
        gathered.titles = index(songs)
        gathered.songs = {tight(name) for title, others in names.items() for name in (title, *others)}
    for table in (getattr(tour, "shows", None), getattr(tour, "venues", None)):
        if isinstance(table, pd.DataFrame) and len(table):
            _add_places(gathered, table)
    shows = getattr(tour, "shows", None)
    if isinstance(shows, pd.DataFrame) and len(shows):
        gathered.latest = int(shows["date"].max().year)
    return gathered


def _add_places(gathered: Known, table: pd.DataFrame) -> None:
    for city, venue in zip(table["city"], table["venue"], strict=True):
        if isinstance(city, str) and city:
            gathered.cities.setdefault(tight(city), city)
        if isinstance(venue, str) and venue:
            gathered.venues.setdefault(tight(venue), venue)
            if isinstance(city, str) and city:
                gathered.home.setdefault(tight(venue), tight(city))
