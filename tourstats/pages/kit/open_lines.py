"""The lines of a set that could be two songs, or none: a choice beside each, and nothing is guessed."""

from __future__ import annotations

import html
from collections.abc import Callable, Sequence

import ipywidgets as w
import pandas as pd

from tourstats.diary import read_set
from tourstats.pages.kit.widgets import Said, button, choice
from tourstats.problems import Problem, there_are
from tourstats.reading.account import NEW
from tourstats.reading.settling import Settled, choices, settled


class OpenProblem(Problem):
    """Lines wait for a choice."""

    @classmethod
    def of(cls, count: int) -> OpenProblem:
        """Say how many, and where they are settled."""
        return cls(
            f"Nothing is saved yet: {there_are(count, 'line')} not sure. "
            "Choose below, then press Save with these answers."
        )


class OpenLines:
    """Reads a text as a set, and asks about what it is not sure of; `box` is what a form shows."""

    def __init__(self, save: Callable[[], None], said: Said) -> None:
        self.box = w.VBox([])
        self.asked: dict[int, w.Dropdown] = {}
        self._text: str | None = None
        self._lines = pd.DataFrame()
        self._save = button("Save with these answers", save, said, main=True)

    def read(self, text: str, songs: pd.DataFrame) -> Settled:
        """Give the set ready to be written, or raise and show a choice for each line that is open."""
        if text != self._text:
            self._text, self._lines = text, read_set(text, songs)
            self._ask(songs.song.tolist())
        answers = {position: asked.value for position, asked in self.asked.items() if asked.value is not None}
        still = self._lines[~self._lines.sure & ~self._lines.position.isin(list(answers))]
        if len(still):
            raise OpenProblem.of(len(still))
        return settled(self._lines, answers)

    def forget(self) -> None:
        """Ask nothing any more."""
        self._text, self.asked, self.box.children = None, {}, ()

    def _ask(self, titles: Sequence[str]) -> None:
        # With an empty repertoire there is nothing to mistake a title for: every song is new.
        known = {} if titles else {"value": NEW}
        self.asked = {
            int(line.position): choice(f'{line.position}. "{line.as_typed}"', _options(line, titles), **known)
            for line in self._lines[~self._lines.sure].itertuples()
        }
        for asked in self.asked.values():
            asked.add_class("question")
        self.box.children = (*self._in_place(), self._save) if self.asked and titles else ()

    def _in_place(self) -> list[w.Widget]:
        """The set in its order, each choice where its line stands; what is sure is said in between."""
        shown: list[w.Widget] = []
        sure: list[str] = []
        for line in self._lines.itertuples():
            if int(line.position) in self.asked:
                shown += [w.HTML("<br>".join(sure))] * bool(sure)
                shown.append(self.asked[int(line.position)])
                sure = []
            else:
                sure.append(html.escape(f"{line.position}. {line.song}"))
        return shown + [w.HTML("<br>".join(sure))] * bool(sure)


def _options(line: pd.Series, titles: Sequence[str]) -> list[tuple[str, str | None]]:
    """The nearest titles, then what else it may be, then every title there is."""
    first = choices(line)
    rest = [title for title in sorted(titles, key=str.casefold) if title not in line.candidates]
    return [("choose …", None), *first, *((title, title) for title in rest)]
