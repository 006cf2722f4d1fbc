"""The kind of venue of every place, in one pass: a list of places that have none yet, a choice each, one button."""

from __future__ import annotations

from collections.abc import Callable

import ipywidgets as w
import pandas as pd

from tourstats.pages.kit.undoing import changing, undo_button
from tourstats.pages.kit.whose import Whose
from tourstats.pages.kit.widgets import Said, button, choice, row
from tourstats.problems import Problem, counted
from tourstats.tables import ROOMS
from tourstats.tour import Tour

WHY = (
    "Songs feel different in a theatre and in a field: your notes, your mistakes and the plan go by the kind of venue."
)
_STYLE = (
    "<style>.tourstats-form .widget-toggle-buttons{flex-wrap:wrap;height:auto}"
    ".tourstats-form .widget-toggle-button{width:auto!important;height:auto;min-height:44px;font-size:16px;"
    "padding:0 .8em}</style>"
)


def without_room(tables: Tour) -> pd.DataFrame:
    """Places whose kind of venue nobody has said, those with most shows first.

    Returns
    -------
    DataFrame
        One row per venue, and per town of shows without a venue, with columns

        venue : str
            Name of the place; missing where shows only have a town.
        city : str
            Its town.
        shows : int
            How many shows it had.

    Examples
    --------
    >>> shows = pd.DataFrame({"show_id": [1, 2, 3], "date": ["2031-03-04", "2031-03-05", "2031-03-06"]})
    >>> shows = shows.assign(city=["Ostby", "Ostby", "Brackwater"], room=[None, None, "club"])
    >>> without_room(Tour.of(shows=shows))
       venue   city  shows
    0    NaN  Ostby      2

    """
    venues = tables.venues[tables.venues.room.isna()]
    counts = tables.shows.groupby("venue").size()
    named = venues[["venue", "city"]].assign(shows=venues.venue.map(counts).fillna(0).astype(int))
    lone = tables.shows[tables.shows.venue.isna() & tables.shows.room.isna() & tables.shows.city.notna()]
    towns = lone.groupby("city").size().rename("shows").reset_index().assign(venue=None)
    towns["venue"] = towns["venue"].astype("str")
    both = pd.concat([named, towns[["venue", "city", "shows"]]], ignore_index=True)
    return both.sort_values(["shows", "city"], ascending=[False, True], kind="stable", ignore_index=True)


class Rooms:
    """The form; `box` is what a notebook shows."""

    def __init__(self, store: Whose, after: Callable[[Tour], None] = lambda _: None) -> None:
        self.found, self.after = store, after
        self.said = Said()
        self.rest = choice("All that are left open", [("leave them so", None), *((room, room) for room in ROOMS)])
        self.rest.layout = w.Layout(width="98%")  # its own, for it comes and goes
        self.places = w.VBox([])
        self.asked: list[tuple[str | None, str | None, w.ToggleButtons]] = []
        self.save_button = button("Save the rooms", self.save, self.said, main=True)
        undo = undo_button(store, self.said, self.fill)
        style = w.HTML(_STYLE, layout={"display": "none"})  # a style holds all the same, and takes no room
        save = row(self.save_button, undo)
        self.box = w.VBox([w.HTML(f"<p>{WHY}</p>"), style, self.places, self.rest, save, self.said])
        self.fill()

    def fill(self) -> None:
        """List the places that have no kind of venue yet."""
        tables = self.found.tour()
        self.asked = []
        children: list[w.Widget] = []
        for place in without_room(tables).to_dict("records"):
            venue, city = (name if isinstance(name, str) else None for name in (place["venue"], place["city"]))
            toggle = w.ToggleButtons(options=ROOMS, value=None)
            label = ", ".join(filter(None, (venue, city)))
            toggle.tooltips = [f"{label}: {room}" for room in ROOMS]
            words = w.Label(f"{label} ({counted(place['shows'], 'show')})")
            children.append(w.VBox([words, toggle]))
            self.asked.append((venue, city, toggle))
        self.places.children = tuple(children) or (w.HTML("<p>Every venue has its kind.</p>"),)
        for field in (self.rest, self.save_button):
            field.layout.display = "" if self.asked else "none"
        self.after(tables)

    def save(self) -> None:
        """Write every choice, as one change."""
        chosen = [(venue, city, toggle.value or self.rest.value) for venue, city, toggle in self.asked]
        chosen = [place for place in chosen if place[2] is not None]
        if not chosen:
            raise Problem("Nothing is chosen yet. Choose a kind for a venue, or for all that are left.")
        with changing(self.found) as diary, diary.atomic(f"the rooms of {len(chosen)} places"):
            shows = diary.shows()
            for venue, city, room in chosen:
                if venue is not None:
                    diary.change_venue(venue, room=room)
                    continue
                lone = shows[shows.venue.isna() & shows.room.isna() & (shows.city == city)]
                for show_id in lone.show_id:
                    diary.change_show(show_id, room=room)
        self.fill()
        self.said.done(f"Saved: the kind of venue of {counted(len(chosen), 'place')}.")
