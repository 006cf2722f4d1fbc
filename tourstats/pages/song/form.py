"""The page of a song, a show or a venue: one field finds them, what was chosen is shown below."""

from __future__ import annotations

import html
from pathlib import Path

import ipywidgets as w

from tourstats.models import song as model
from tourstats.pages.kit import links
from tourstats.pages.kit.whose import Whose, whose
from tourstats.pages.kit.widgets import Page, Said, button, choice, column, on_enter, row, spoken, text, whose_words
from tourstats.pages.show_day.words import Section
from tourstats.pages.song import self_test, words
from tourstats.pages.song.shape import Shape
from tourstats.problems import Problem, counted
from tourstats.tour import Tour

EMPTY = "There is no song in the diary yet. Bring what you have on the page Start."
TEST = "test"
"""Asked for by address, the page begins with what is due today, song after song."""
FIND = "find"
"""What the field in the bar of every page asks this one for."""
WORDS = "Run this page to find a song, a show, a venue, or a word in a note."


class NothingFoundProblem(Problem):
    """Nothing in the diary has these words."""


class Look:
    """The form; `box` is what a notebook shows."""

    def __init__(self, path: str | Path | None = None) -> None:
        self.found: Whose = whose(path)
        self.tour: Tour = self.found.tour()
        self.said = Said()
        self.looked_for = text("Find", placeholder="a song, a city, a show's day, a word in a note; Enter finds")
        self.looked_for.layout = w.Layout(flex="1 1 240px", width="auto")  # its button stands beside it
        self.which = choice("Found", [])
        self.which.layout.display = "none"
        self.page = w.HTML()
        self.shape = Shape(self.found, self._again)
        self.asked = self_test.Asked(self.found, self._go_on)
        self.day = self_test.today(self.found, self.tour)
        self.wanted = model.wanted(self.tour, self.day)
        self.testing: set[str] = set()
        presses = row(self.shape.toggle, self.asked.toggle)
        self.of_song = w.VBox([self.shape.strip, presses, self.shape.box, self.asked.box])
        self.due = w.HTML()
        self.title = ""
        on_enter(self.looked_for, self.find, self.said)
        self.which.observe(self._chosen, names="value")
        self.box = column(
            whose_words(self.found), row(self.looked_for, button("Find", self.find, self.said, main=True)),
            self.said, self.which, self.of_song, self.page, self.due, name="song",
        )  # fmt: skip
        self._first()

    def find(self) -> None:
        """Find what was typed; the only thing found, or the first, is opened."""
        found = model.search(self.tour, self.looked_for.value)
        if not len(found):
            self.which.layout.display = "none"
            raise NothingFoundProblem(
                f'Nothing in the diary has "{self.looked_for.value}". Try fewer words, or fewer letters of one.'
            )
        options = [(_option(row), (row["kind"], row["name"])) for row in found.to_dict("records")]
        self.which.options = options
        self.which.layout.display = "" if len(options) > 1 else "none"
        self.said.done(f"{counted(len(options), 'place')} found.")
        self.which.value = options[0][1]
        self.open(*options[0][1])

    def open(self, kind: str, name: str) -> None:
        """Show the page of a song, a venue or a show; what was said opens what it was said of."""
        self.page.value = words.as_html(self._parts(kind, name))
        self.of_song.layout.display = "" if self.title else "none"

    def _parts(self, kind: str, name: str) -> list[Section]:
        self.title = ""
        if kind == "song" or (kind == "said" and name in set(self.tour.songs.song)):
            return self._of_song(name)
        if kind == "venue" or name in set(self.tour.venues.venue):
            return words.of_venue(self.tour, name)
        shows = self.tour.shows.show_id[self.tour.shows.show_id.astype(str) == name]
        return (
            words.of_show(self.tour, shows.iloc[0]) if len(shows) else [Section(name, "A note on this kind of venue.")]
        )

    def _of_song(self, name: str) -> list[Section]:
        found = model.song(self.tour, name)
        self.title = found.title
        tested = self.tour.tested[self.tour.tested.song == self.title]
        self.shape.show(self.tour, self.title)
        self.asked.show(found, tested, self.day, model.gap(self.wanted[self.title][1]))
        return words.parts(found)

    def _again(self) -> None:
        """Read the diary again and show the same song."""
        self.tour = self.found.tour()
        self._say_due()
        if self.title:
            self.open("song", self.title)

    def _say_due(self) -> None:
        """What is to be asked today, below everything."""
        self.to_test = model.to_test(self.tour, self.day, self.wanted)
        self.due.value = words.folded(words.to_test(self.to_test))

    def _go_on(self) -> None:
        """After the last question of a sitting: the same song as it is known now, or the next one that is due."""
        self._again()
        if self.testing:
            self._next_due()

    def _next_due(self) -> None:
        """Ask about the song that is wanted first of those that were not asked about in this sitting."""
        due = self.to_test[~self.to_test.song.isin(self.testing) & (self.to_test.today > 0)]
        if not len(due):
            self.said.done("That was all for today." if self.testing or len(self.to_test) else "Nothing is due today.")
            return
        self.testing.add(due.song.iloc[0])
        self.open("song", due.song.iloc[0])
        self.said.done(f"Asked about {self.title}; still to be asked today: {words.due_in_words(due)}.")
        self.asked.toggle.value = True
        self.asked.field.focus()

    def _first(self) -> None:
        """What the address asks for; else the opener of the next set, or the first song there is."""
        self._say_due()
        if links.asked(TEST):
            self._next_due()
            return
        if links.asked(FIND):
            self.looked_for.value = links.asked(FIND)
            spoken(self.find, self.said)
            return
        for kind in ("song", "venue", "show"):
            if links.asked(kind):
                self._open_or_say(kind, links.asked(kind))
                return
        ahead = self.tour.next_show()
        titles = self.tour.set_of(ahead).song if ahead is not None else self.tour.songs.song
        titles = titles if len(titles) else self.tour.songs.song
        if len(titles):
            self.open("song", titles.iloc[0])
        else:
            self.page.value = f"<p>{html.escape(EMPTY)}</p>"

    def _open_or_say(self, kind: str, name: str) -> None:
        try:
            self.open(kind, name)
        except Problem as problem:
            self.said.wrong(str(problem))

    def _chosen(self, change: dict[str, object]) -> None:
        if isinstance(change["new"], tuple):
            self._open_or_say(*change["new"])


def look(path: str | Path | None = None) -> Page:
    """Return the page as a notebook shows it."""
    made = Look(path)
    return Page(made.box, WORDS, lambda: whose_words(made.found).value + made.said.value + made.page.value)


def _option(found: dict[str, str]) -> str:
    return f"{found['kind']}: {found['words'][:110]}"
