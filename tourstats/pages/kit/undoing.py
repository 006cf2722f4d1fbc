"""The demo tour stays as it is: who may write into which diary, and an Undo that cannot take the demo itself away."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager

import ipywidgets as w

from tourstats.diary import Diary, opened
from tourstats.pages.kit.whose import Whose
from tourstats.pages.kit.widgets import Said, button, plain
from tourstats.problems import Problem

MADE = "the demo tour"
"""What undo calls the change that filled the demo."""


def spare_the_demo(store: Whose) -> None:
    """Refuse to write into the demo tour itself; a copy of it is there to be tried on."""
    if store.demo and not store.copy:
        raise Problem(plain(store.words))


@contextmanager
def changing(store: Whose) -> Iterator[Diary]:
    """The diary, open for changes; of the demo tour only a copy."""
    spare_the_demo(store)
    with opened(store.path) as diary:
        yield diary


def undo_button(store: Whose, message: Said, after: Callable[[], None]) -> w.Button:
    """A button that takes the latest change back and says which that was; the making of the demo is none."""

    def undo() -> None:
        with changing(store) as diary:
            done = "There is nothing to undo." if store.demo and diary.undoable() == MADE else diary.undo()
        after()
        message.done(done)

    return button("Undo", undo, message)
