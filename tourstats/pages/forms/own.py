"""The demo tour stays as it is: who may write into which diary, and an Undo that cannot take the demo itself away."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path

import ipywidgets as w

from tourstats.diary import opened
from tourstats.pages.forms._base import Said, button
from tourstats.pages.workbook import DEMO, DEMO_WORDS, Whose
from tourstats.problems import Problem

MADE = "the demo tour"
"""What undo calls the change that filled the demo."""


class DemoProblem(Problem):
    """Somebody without a diary of their own tried to change something."""


def asked_by_name(path: str | Path | None = None) -> bool:
    """Whether the demo tour was asked for by its name; then it may be changed, to try things out."""
    return str(path or os.environ.get("TOURSTATS_DIARY")) == DEMO


def spare_the_demo(found: Whose, *, by_name: bool) -> None:
    """Refuse to write into the demo tour unless it was asked for by name."""
    if found.demo and not by_name:
        raise DemoProblem(DEMO_WORDS.replace("*", ""))


def undo_button(found: Whose, said: Said, after: Callable[[], None], *, by_name: bool = True) -> w.Button:
    """A button that takes the latest change back and says which that was; the making of the demo is none."""

    def undo() -> None:
        spare_the_demo(found, by_name=by_name)
        with opened(found.path) as diary:
            done = "There is nothing to undo." if found.demo and diary.undoable() == MADE else diary.undo()
        after()
        said.done(done)

    return button("Undo", undo, said)
