"""The test of a song's shape, away from the instrument: a question, its answer at Enter, known or not by one letter."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime

import ipywidgets as w
import pandas as pd

from tourstats.models import by_heart
from tourstats.models import song as model
from tourstats.models.song import Song
from tourstats.pages.kit import links
from tourstats.pages.kit.undoing import changing
from tourstats.pages.kit.whose import Whose
from tourstats.pages.kit.widgets import Said, button, folded, on_enter, row, text, words
from tourstats.problems import Problem, counted
from tourstats.tour import Tour

HOW_TO = "Say or type the answer, then Enter shows it; y and Enter if you knew it, n and Enter if not."
IN_THE_TERMINAL = "Say the answer, then Enter shows it; y and Enter if you knew it. Ctrl-D ends it."
NOTHING = "Write down its shape first: the questions are made from it."


class Asked:
    """The form; `box` is a part of the song's page, `toggle` stands above it."""

    def __init__(self, store: Whose, after: Callable[[], None]) -> None:
        self.found, self.after = store, after
        self.said = Said()
        self.question = w.HTML()
        self.field = text("Your answer", placeholder="Enter shows the answer; then y or n")
        on_enter(self.field, self.go_on, self.said)
        self.toggle, panel = folded(
            "Test it by heart", words(HOW_TO), self.question, self.field,
            row(button("I knew it", lambda: self.answer(known=True), self.said),
                button("I did not", lambda: self.answer(known=False), self.said)), self.said,
        )  # fmt: skip
        self.box = w.VBox([panel])
        self.song, self.queue, self.day, self.shown = "", pd.DataFrame({"asked": [], "answer": []}), pd.NaT, False

    def show(self, song: Song, tested: pd.DataFrame, day: pd.Timestamp, most_days: float) -> None:
        """Begin with the questions of a song that are due; with all in turn once none is."""
        if song.title == self.song and len(self.queue):
            return
        asked = by_heart.due(tested, song.questions.asked.tolist(), day, most_days)
        first = asked[asked.due] if asked.due.any() else asked
        answers = dict(zip(song.questions.asked, song.questions.answer, strict=True))
        self.queue = first[["asked"]].head(by_heart.A_SITTING).assign(answer=lambda table: table.asked.map(answers))
        self.song, self.day = song.title, day
        self._ask()

    def go_on(self) -> None:
        """At Enter: show the answer, or take whether it was known."""
        if not len(self.queue):
            return
        typed = self.field.value.strip().casefold()
        if not self.shown:
            self.field.value = ""
            self._ask(shown=True)
        elif typed in ("y", "yes", "n", "no"):
            self.answer(known=typed.startswith("y"))
        else:
            raise Problem("Type y if you knew it, n if not, then Enter.")

    def answer(self, *, known: bool) -> None:
        """Write down whether the answer was known, and ask the next."""
        if not len(self.queue):
            return
        row_ = self.queue.iloc[0]
        with changing(self.found) as diary:
            diary.add_tested(self.song, row_.asked, known, self.day)
        self.queue = self.queue.iloc[1:]
        self.field.value = ""
        self._ask()
        if not len(self.queue):
            self.after()
        self.said.done(f"{'Known' if known else 'Not known'}: {row_.asked} {row_.answer}.")

    def _ask(self, *, shown: bool = False) -> None:
        self.shown = shown
        if not len(self.queue):
            self.question.value = f"<p>{NOTHING if not self.song else 'That was all for now.'}</p>"
            return
        row_ = self.queue.iloc[0]
        left = counted(len(self.queue), "question")
        answer = f"<p role='status'><b>{links.linked(row_.answer)}</b> Known? y or n</p>" if shown else ""
        self.question.value = f"<p class='asked'>{links.linked(row_.asked)} ({left} to go)</p>{answer}"


def today(store: Whose, tour: Tour) -> pd.Timestamp:
    """The day on the wall; for the demo tour that of its next show."""
    ahead = tour.next_show()
    if store.demo and ahead is not None:
        return pd.Timestamp(tour.shows.date[tour.shows.show_id == ahead].iloc[0])
    return pd.Timestamp(datetime.now().date())  # noqa: DTZ005  # the day on the wall


def sitting(store: Whose, tour: Tour, title: str = "") -> pd.DataFrame:
    """The questions of a sitting: song, asked, answer; of one song, or of all that are due today, wanted first.

    Raises
    ------
    UnknownSongProblem
        If there is no such song.

    """
    day = today(store, tour)
    wanted = model.wanted(tour, day)
    if title:
        share = {model.one(tour, title): by_heart.A_SITTING}
    else:
        share = model.to_test(tour, day, wanted).query("today > 0").set_index("song").today.to_dict()
    rows = [pd.DataFrame({"song": [], "asked": [], "answer": []}, dtype="str")]
    for song, many in share.items():
        made, longest = model.questions_of(tour, song), model.gap(wanted[song][1])
        due = by_heart.due(tour.tested[tour.tested.song == song], made.asked.tolist(), day, longest)
        asked = due[due.due].asked if due.due.any() else due.asked
        rows.append(made.set_index("asked").loc[asked.head(many)].reset_index().assign(song=song))
    return pd.concat(rows, ignore_index=True)
