"""The lines of a set that could be two songs, or none: a choice beside each, and nothing is guessed."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

import ipywidgets as w
import pandas as pd

from tourstats.diary import read_set
from tourstats.pages.kit import links
from tourstats.pages.kit.widgets import Said, button, choice, row
from tourstats.problems import Problem, there_are
from tourstats.reading.settling import ORDER, NoSetProblem, Settled, accepted, choices, first_day, open_lines, settled


class OpenLines:
    """Reads a text as a set, and asks about what it is not sure of; `box` is what a form shows."""

    def __init__(self, save: Callable[[], None], message: Said) -> None:
        self.box = w.VBox([])
        self.asked: dict[int | str, w.Dropdown] = {}
        self._text: str | None = None
        self.lines = pd.DataFrame()
        self._save = button("Save with these answers", save, message, main=True)
        self._take = button("Take all that is proposed", self._accept, message)
        self._saves = save

    def read(
        self, text: str, songs: pd.DataFrame, places: Mapping[str, Sequence[str]] | None = None,
        earlier: pd.DataFrame | None = None,
    ) -> Settled:  # fmt: skip
        """Give the set ready to be written, or raise and show a choice for each line that is open."""
        if text != self._text:
            self._text, self.lines = text, read_set(text, songs, places, earlier)
            NoSetProblem.unless_a_set(self.lines)
            self._ask(songs.song.tolist())
        answers = {key: asked.value for key, asked in self.asked.items() if asked.value is not None}
        still = len(self.asked) - len(answers)
        if still:
            many = there_are(still, "line")
            raise Problem(f"Nothing is saved yet: {many} not sure. Choose below, then press Save with these answers.")
        return settled(self.lines, first_day(self.lines) | answers if not len(songs) else answers)

    def forget(self) -> None:
        """Ask nothing any more."""
        self._text, self.asked, self.box.children = None, {}, ()

    def _ask(self, titles: Sequence[str]) -> None:
        settled_already = () if titles else first_day(self.lines)
        self.asked = {
            int(line.position): choice(_question(line), _options(line, titles))
            for line in open_lines(self.lines, settled_already).itertuples()
        }
        ways = self.lines.attrs[ORDER]
        if ways:
            offered = [("choose …", None), *((words, way) for way, words in ways.items())]
            self.asked[ORDER] = choice(self.lines.attrs["asks"], offered)
        for asked in self.asked.values():
            asked.add_class("question")
        buttons = (row(self._save, self._take),) if accepted(self.lines) else (self._save,)
        self.box.children = (*self._in_place(), *buttons) if self.asked else ()

    def _accept(self) -> None:
        """Fill in what is proposed where nothing was chosen, and save."""
        for key, answer in accepted(self.lines).items():
            if key in self.asked and self.asked[key].value is None:
                self.asked[key].value = answer
        self._saves()

    def _in_place(self) -> list[w.Widget]:
        """The set in its order, each choice where its line stands; what is sure is said in between."""
        shown: list[w.Widget] = []
        sure: list[str] = []
        for line in self.lines.itertuples():
            if int(line.position) in self.asked:
                shown += [w.HTML("<br>".join(sure))] * bool(sure)
                shown.append(self.asked[int(line.position)])
                sure = []
            else:
                sure.append(links.linked(f"{line.position}. {line.song if line.sure else line.as_new}"))
        shown += [w.HTML("<br>".join(sure))] * bool(sure)
        return [*shown, *(asked for key, asked in self.asked.items() if key == ORDER)]


def _question(line: Any) -> str:  # noqa: ANN401  # a row of a table, as pandas names it
    return f'{line.position}. "{line.as_typed}"{f" ({line.why})" if line.why else ""}'


def _options(line: pd.Series, titles: Sequence[str]) -> list[tuple[str, str | None]]:
    """The nearest titles, then what else it may be, then every title there is."""
    first = choices(line)
    rest = [title for title in sorted(titles, key=str.casefold) if title not in line.candidates]
    return [("choose …", None), *first, *((title, title) for title in rest)]
