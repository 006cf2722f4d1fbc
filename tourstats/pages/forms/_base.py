"""What all forms share: one column that fits a telephone, problems beside what caused them, drafts that survive."""

from __future__ import annotations

import html
from collections.abc import Callable, Mapping
from typing import Any

import ipywidgets as w

from tourstats.diary import opened
from tourstats.pages.workbook import DEMO_WORDS, Whose
from tourstats.problems import Problem

WIDE = w.Layout(width="98%")
STYLE = w.HTML(
    "<style>"
    ".tourstats-form{max-width:56rem}"
    ".tourstats-form,.tourstats-form .widget-label,.tourstats-form input,.tourstats-form select,"
    ".tourstats-form textarea,.tourstats-form button{font-size:16px!important}"
    ".tourstats-form .widget-label{width:auto!important;min-width:7.5em;white-space:normal;height:auto}"
    ".tourstats-form input:not([type=checkbox]),.tourstats-form select:not([multiple]),.tourstats-form button"
    "{min-height:44px!important}"
    ".tourstats-form input[type=checkbox]{width:22px;height:22px;margin:11px}"
    ".tourstats-form .widget-inline-hbox{height:auto;min-height:44px}"
    ".tourstats-form .widget-button{height:auto;min-width:8em;line-height:1.3}"
    ".tourstats-form :focus-visible{outline:3px solid #16858c!important;outline-offset:1px}"
    ".tourstats-form .said{padding:.4em .6em;border-left:4px solid #16858c;line-height:1.4}"
    ".tourstats-form .wrong{border-left-color:#a8321a}"
    "</style>"
)


class Said(w.HTML):
    """A place for one sentence: what was done, or what is wrong."""

    def done(self, text: str) -> None:
        """Say that something was done."""
        self._say(text, "said")

    def wrong(self, text: str) -> None:
        """Say what is wrong and what to do."""
        self._say(text, "said wrong")

    def clear(self) -> None:
        """Say nothing."""
        self.value = ""

    def _say(self, text: str, kind: str) -> None:
        role = "alert" if "wrong" in kind else "status"
        self.value = f'<div class="{kind}" role="{role}">{html.escape(text)}</div>'


def column(*children: w.Widget) -> w.VBox:
    """Put everything into one column with our own style."""
    box = w.VBox([STYLE, *children], layout=w.Layout(width="100%"))
    box.add_class("tourstats-form")
    return box


def row(*children: w.Widget) -> w.HBox:
    """Put a few things side by side where there is room, below one another where there is not."""
    return w.HBox(list(children), layout=w.Layout(flex_flow="row wrap", width="100%"))


def button(text: str, do: Callable[[], None], said: Said, *, main: bool = False) -> w.Button:
    """A button whose problems are said, in words, where the person looks."""
    made = w.Button(description=text, button_style="primary" if main else "", layout=w.Layout(width="auto"))

    def pressed(_: object) -> None:
        said.clear()
        made.disabled = True
        try:
            do()
        except Problem as problem:
            said.wrong(str(problem))
        finally:
            made.disabled = False

    made.on_click(pressed)
    return made


def whose_words(found: Whose) -> w.HTML:
    """Say that this is the demo tour, where it is."""
    return w.HTML(f"<p><em>{html.escape(DEMO_WORDS.replace('*', ''))}</em></p>" if found.demo else "")


def kept(found: Whose, key: str, fields: Mapping[str, w.ValueWidget]) -> Callable[[], None]:
    """Keep what is typed in these fields as a draft, from letter to letter, and fill them with what was kept before.

    Returns
    -------
    callable
        Drops the draft; call it once everything is saved.

    """
    with opened(found.path) as diary:
        before = diary.draft(key) or {}
    for name, field in fields.items():
        if name in before:
            field.value = before[name]

    def keep(_: object) -> None:
        with opened(found.path) as diary:
            diary.save_draft(key, {name: field.value for name, field in fields.items()})

    for field in fields.values():
        field.observe(keep, names="value")

    def drop() -> None:
        with opened(found.path) as diary:
            diary.drop_draft(key)

    return drop


def undo_button(found: Whose, said: Said, after: Callable[[], None] = lambda: None) -> w.Button:
    """A button that takes the latest change back and says which that was."""

    def undo() -> None:
        with opened(found.path) as diary:
            done = diary.undo()
        said.done(done)
        after()

    return button("Undo", undo, said)


def text(label: str, **settings: Any) -> w.Text:  # noqa: ANN401  # passed on as they are
    """A line to type into."""
    return w.Text(description=label, layout=WIDE, style={"description_width": "initial"}, **settings)


def choice(label: str, options: object, **settings: Any) -> w.Dropdown:  # noqa: ANN401  # passed on as they are
    """A choice out of a few."""
    return w.Dropdown(
        description=label, options=options, layout=WIDE, style={"description_width": "initial"}, **settings
    )
