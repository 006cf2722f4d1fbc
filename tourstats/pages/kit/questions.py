"""What a reading is not sure of, each with its place and a choice; nothing is written while one is open."""

from __future__ import annotations

from collections.abc import Callable, Mapping

import ipywidgets as w
import pandas as pd

from tourstats.pages.kit import links
from tourstats.pages.kit.widgets import Said, choice
from tourstats.reading.account import NEW, SKIP
from tourstats.reading.asking import NEW_SONG
from tourstats.reading.repertoire import EACH

OTHER = "something else"
_WORDS = {NEW: "a new song", SKIP: "leave it out", NEW_SONG: "two songs", EACH: "ask about each"}
_ALONE = ("nothing", "table", "columns", "shows")
"""Questions by the beginning of their key that only the file itself can settle."""


class Question:
    """One question: what is open and where, a choice, and a line to type into for anything else."""

    def __init__(self, row: Mapping[str, object], changed: Callable[[], None], before: str | None = None) -> None:
        self.key = str(row["key"])
        self.todo = str(row["todo"]).replace('or "skip" to', "or choose to")
        self.blocking = bool(row["blocking"])
        self.options = options(row)
        self.said = Said()
        known = [value for _, value in self.options]
        self.chosen = choice("Answer", [("–", None), *self.options], value=None)  # noqa: RUF001  # nothing said yet
        self.typed = w.Text(
            description="Type it",
            continuous_update=False,
            layout=w.Layout(width="98%"),  # its own, for it comes and goes
            style={"description_width": "initial"},
        )
        if before is not None:
            self.chosen.value = before if before in known else OTHER if OTHER in known else None
            self.typed.value = "" if before in known else before
        words = w.HTML(f"<p>{links.linked(_place(row) + str(row['problem']))}</p>")
        self.box = w.VBox([words, *([self.chosen] if self.options else []), self.typed, self.said])
        self.box.add_class("question")
        self._toggle(None)
        self.chosen.observe(self._toggle, names="value")
        for field in (self.chosen, self.typed):
            field.observe(lambda _: changed(), names="value")

    @property
    def answer(self) -> str | None:
        """What was answered, or None."""
        if self.chosen.value == OTHER or (not self.options and self._can_type):
            return self.typed.value.strip() or None
        return self.chosen.value  # type: ignore[no-any-return]

    @property
    def _can_type(self) -> bool:
        return not self.key.startswith(_ALONE)

    def _toggle(self, _: object) -> None:
        wanted = self.chosen.value == OTHER or (not self.options and self._can_type)
        self.typed.layout.display = "" if wanted else "none"

    def judge(self, *, still_open: bool) -> None:
        """Say beside the field that an answer was not understood, or that only the file can settle it."""
        self.said.clear()
        if still_open and (self.answer is not None or not (self.options or self._can_type)):
            start = "" if self.answer is None else "That does not settle it. "
            self.said.wrong(start + self.todo)


class Questions:
    """All questions of one reading, in one column; a question that was answered stays, so that it can be changed."""

    def __init__(self, changed: Callable[[], None]) -> None:
        self.changed = changed
        self.asked: dict[str, Question] = {}
        self.before: dict[str, str] = {}
        self.box = w.VBox([])

    def ask(self, problems: pd.DataFrame) -> None:
        """Show what is open; what was asked before stays with its answer."""
        for row in problems.to_dict("records"):
            key = str(row["key"])
            if key not in self.asked:
                self.asked[key] = Question(row, self.changed, self.before.get(key))
        still = set(problems["key"])
        for key, question in self.asked.items():
            question.judge(still_open=key in still and question.blocking)
        self.box.children = tuple(question.box for question in self.asked.values())

    def answers(self) -> dict[str, str]:
        """Answers by key."""
        given = {key: question.answer for key, question in self.asked.items()}
        return {**self.before, **{key: answer for key, answer in given.items() if answer is not None}}

    def forget(self, before: Mapping[str, str] | None = None) -> None:
        """Begin anew, perhaps with answers that were given before."""
        self.asked, self.before, self.box.children = {}, dict(before or {}), ()


def options(row: Mapping[str, object]) -> list[tuple[str, str]]:
    """Choices that answer a question, as words and value.

    Examples
    --------
    >>> options({"key": "title: Fery", "candidates": ["Ferry"], "blocking": True})[:2]
    [('Ferry', 'Ferry'), ('a new song', 'new')]

    """
    key, candidates = str(row["key"]), [str(one) for one in row["candidates"]]  # type: ignore[attr-defined]
    proposal = str(row.get("proposal") or "")
    if proposal:
        ordered = [proposal, *(one for one in candidates if one != proposal)]
        offered = [(_WORDS.get(one, one) + (" (proposed)" if one == proposal else ""), one) for one in ordered]
        return [*offered, *([(OTHER, OTHER)] if row.get("free") else [])]
    pairs = [(one, one) for one in candidates]
    if key.startswith(("title:", "line")):
        return [*pairs, ("a new song", NEW), ("leave it out", SKIP), (OTHER, OTHER)]
    if key.startswith("date:"):
        return [("leave this show out", SKIP), ("a day, as 2031-03-04", OTHER)]
    if key.startswith(("room:", "date order", "show:")):
        return pairs
    return [*pairs, ("leave it empty", SKIP), (OTHER, OTHER)] if candidates else []


def _place(row: Mapping[str, object]) -> str:
    number = row.get("row")
    if not number or not row.get("value"):
        return ""
    column = f", column {row['column']}" if row.get("column") else ""
    return f"Row {number}{column}: "
