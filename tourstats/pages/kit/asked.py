"""A question of one's own on a page: a few fields, one button, and the answer below, made anew at each press."""

from __future__ import annotations

from collections.abc import Callable
from typing import Protocol

import ipywidgets as w

from tourstats.pages.kit.widgets import Page, Said, button, column, row


class Asked:
    """Fields and an answer; `box` is what a page shows.

    Parameters
    ----------
    name
        Of the form, known to the browser.
    fields
        What may be filled in.
    words
        Of the button.
    answer
        Gives the answer as HTML, everything typed escaped; what is wrong it raises as a `Problem`.

    """

    def __init__(self, name: str, fields: list[w.Widget], words: str, answer: Callable[[], str]) -> None:
        self.said = Said()
        self.answer = w.HTML()
        self._make = answer
        self.box = column(*fields, row(button(words, self.ask, self.said)), self.said, self.answer, name=name)
        self.box.add_class("tourstats-asked")
        self._words = words

    def ask(self) -> None:
        """Answer what the fields ask now."""
        self.answer.value = ""
        self.answer.value = self._make()
        self.box.add_class("tourstats-answered")  # an answer is printed, and what only asks is not

    def page(self) -> Page:
        """The form, for a notebook."""
        return Page(self.box, f"Start this page to ask: {self._words}.")


class Form(Protocol):
    """What asks something of the diary that the page shows."""

    asked: Asked


def page_of(form: Callable[[], Form]) -> Callable[[], Page]:
    """What a notebook calls to show a form."""

    def page() -> Page:
        return form().asked.page()

    return page
