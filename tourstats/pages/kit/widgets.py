"""What all forms share: one column that fits a telephone, problems beside what caused them, drafts that survive."""

from __future__ import annotations

import asyncio
import html
import re
from collections import Counter
from collections.abc import Callable, Mapping
from functools import cache
from typing import Any

import ipywidgets as w
from IPython import get_ipython
from IPython.display import HTML, display

from tourstats.diary import opened
from tourstats.pages.kit import links
from tourstats.pages.kit.look import FOLDED
from tourstats.pages.kit.whose import Whose
from tourstats.problems import Problem

WIDE = {"width": "98%"}
LABEL = {"description_width": "initial"}
AGAIN = "These lines were saved a moment ago; they are not saved twice. To save the same again, type it."
_MADE: Counter[str] = Counter()

# Colours are JupyterLab's own where it is the one that shows the page, so that light and dark both read.
_STYLE = (
    f"<style>{FOLDED}"
    ".tourstats-style,.tourstats-form .widget-html:has(>.widget-html-content:empty){display:none!important}"
    ".tourstats-form{max-width:56rem;--mark:var(--jp-brand-color1,#16858c);overflow-x:hidden;padding:2px 4px;"
    "box-sizing:border-box}"
    ".tourstats-form,.tourstats-form .widget-label,.tourstats-form .widget-html-content,.tourstats-form input,"
    ".tourstats-form select,.tourstats-form textarea,.tourstats-form button{font-size:16px!important;line-height:1.4;"
    "font-family:var(--jp-ui-font-family,inherit)}"
    ".tourstats-form ::placeholder{color:var(--jp-ui-font-color2,#5a6570);opacity:1}"
    # The browser's own arrow, for the widgets' is black on black in the dark.
    ".tourstats-form select:not([multiple]):not([size]){appearance:auto;background-image:none!important}"
    "body:is(.theme-dark,[data-jp-theme-light=false]) .tourstats-form{color-scheme:dark}"
    ".tourstats-form .widget-html,.tourstats-form .widget-html-content{min-width:0;max-width:100%}"
    ".tourstats-form .widget-html-content,.tourstats-form .widget-label{color:var(--jp-content-font-color1,inherit)}"
    ".tourstats-form h2{font-size:20px;margin:1em 0 .2em;padding-top:.5em;"
    "border-top:1px solid var(--jp-border-color1,#8a939c)}"
    ".tourstats-form h3{font-size:18px;margin:1em 0 .2em}.tourstats-form p{margin:.3em 0}"
    ".tourstats-form :is(p,h3){overflow-wrap:anywhere}"
    ".tourstats-form>.widget-box,.tourstats-form .widget-vbox{overflow:visible}"
    ".tourstats-form .widget-label{width:auto!important;min-width:12em;white-space:normal;height:auto;"
    "text-align:left;align-self:center}"
    ".tourstats-form .widget-inline-hbox{height:auto;min-height:44px;flex-wrap:wrap;max-width:100%}"
    ".tourstats-form .widget-inline-hbox>*:not(.widget-label){min-width:12em}"
    ".tourstats-form .widget-textarea textarea{flex:1 1 16em;height:auto}"
    ".tourstats-form .widget-textarea .widget-label{align-self:flex-start;padding-top:.4em}"
    ".tourstats-form input:not([type=checkbox]),.tourstats-form select:not([multiple]):not([size]),"
    ".tourstats-form button{min-height:44px!important}"
    ".tourstats-form input,.tourstats-form select,.tourstats-form textarea"
    "{border:1px solid var(--jp-ui-font-color2,#5a6570)!important}"
    ".tourstats-form input[type=checkbox]{min-width:22px;width:22px;height:22px;margin:11px 8px 11px 0;flex:0 0 auto}"
    ".tourstats-form .widget-checkbox{width:auto}"
    ".tourstats-form .widget-checkbox label{display:flex;align-items:center;height:auto}"
    ".tourstats-form .widget-checkbox *{font-size:16px!important}"
    ".tourstats-form .widget-checkbox .widget-label{min-width:0}"
    ".tourstats-form .widget-select select option{padding:10px 6px}"
    ".tourstats-form .widget-button,.tourstats-form .widget-toggle-button{align-self:flex-start;height:auto;"
    "min-width:6em;width:auto;"
    "white-space:normal;padding:6px 14px;border:1px solid var(--jp-ui-font-color2,#5a6570)}"
    ".tourstats-form.tourstats-form .mod-primary{background:#0d6066;border-color:#0d6066;color:#fff}"
    # Said three times, to weigh more than the widgets' own style, which takes the frame away from lines of text.
    ".tourstats-form.tourstats-form.tourstats-form :focus-visible{outline:3px solid var(--mark)!important;"
    "outline-offset:1px}"
    ".tourstats-form .said{padding:.4em .6em;border-left:5px solid var(--mark);white-space:pre-line}"
    ".tourstats-form .wrong{border-left-color:var(--jp-error-color1,#a8321a)}"
    ".tourstats-form a{color:var(--jp-content-link-color,#0b6fa4);text-decoration:underline}"
    ".tourstats-form .sheet a{display:inline-block;padding:10px 0}"
    ".tourstats-form .quiet{color:var(--jp-ui-font-color1,inherit)}"
    ".tourstats-form .saved-line{flex:1 1 12em;padding:.5em 0;overflow-wrap:anywhere}"
    ".tourstats-form .saved-row{align-items:center;border-bottom:1px solid var(--jp-border-color2,#c3c9cf)}"
    ".tourstats-form .question{border-left:5px solid var(--mark);padding-left:.6em}"
    "@media (max-width:600px){.tourstats-form .widget-label{min-width:100%;max-width:100%}"
    ".tourstats-form .widget-checkbox .widget-label{min-width:0}}"
    "</style>"
)


KEYS = (
    "<script>window.tourstatsKeys??=document.addEventListener('focusin',({target})=>target.closest('.tourstats-form')"
    "&&target.setAttribute('data-lm-suppress-shortcuts','true'))??true</script>"
)
"""Keeps a form's keys for the form: JupyterLab takes an arrow or a letter in a choice for an order to the notebook."""


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
        self.value = f'<div class="{kind}" role="{role}">{links.linked(text)}</div>'


class Page:
    """A form as a notebook shows it: alive beside a kernel, as text where there is none."""

    def __init__(self, box: w.VBox, words: str, read: Callable[[], str] = str) -> None:
        self.box = box
        self.words = words
        self.read = read

    def _repr_mimebundle_(self, **_: object) -> dict[str, object]:
        """The form, and what a page without a kernel shows of it."""
        text = html.escape(self.words)
        return {
            "text/plain": self.words,
            "text/html": f"<p><em>{text}</em></p>{self.read()}",
            "application/vnd.jupyter.widget-view+json": {
                "version_major": 2,
                "version_minor": 0,
                "model_id": self.box.model_id,
            },
        }


class InShort:
    """The sentences at the head of a page, said again after every save."""

    def __init__(self, name: str) -> None:
        self.words = ""
        self._html = w.HTML()
        self._box = column(self._html, name=f"{name}-in-short")

    def say(self, words: str) -> None:
        """Say them as the diary is now."""
        self.words = words
        self._html.value = f"<p>{prose(words)}</p>"

    def _repr_mimebundle_(self, **_: object) -> dict[str, object]:
        return Page(self._box, plain(self.words))._repr_mimebundle_()


def column(*children: w.Widget, name: str | None = None) -> w.VBox:
    """Put everything into one column with our own style.

    Parameters
    ----------
    *children
        What stands in it.
    name
        Of a whole page. It is then known to the browser by this name and a number, not by chance letters, so that a
        notebook that is executed twice is the same file twice.

    """
    known = {}
    if name is not None:
        _MADE[name] += 1
        known["model_id"] = f"tourstats-{name}-{_MADE[name]}"
    style = w.HTML(_STYLE)
    style.add_class("tourstats-style")
    box = w.VBox([style, *children], layout=w.Layout(width="100%"), **known)
    box.add_class("tourstats-form")
    kernel = getattr(get_ipython(), "kernel", None)
    if kernel is not None:
        _browser(kernel)  # known to the browser from the first
        if not links.served():
            display(HTML(KEYS))
    return box


def row(*children: w.Widget) -> w.HBox:
    """Put a few things side by side where there is room, below one another where there is not."""
    return w.HBox(list(children), layout=w.Layout(flex_flow="row wrap", width="100%", overflow="visible"))


def heading(text: str) -> w.HTML:
    """A heading inside a page."""
    return w.HTML(f"<h2>{html.escape(text)}</h2>")


def words(text: str) -> w.HTML:
    """A sentence inside a page."""
    return w.HTML(f'<p class="quiet">{html.escape(text)}</p>')


def button(text: str, do: Callable[[], None], message: Said, *, main: bool = False) -> w.Button:
    """A button whose problems are said, in words, where the person looks."""
    made = w.Button(description=text, button_style="primary" if main else "", layout=w.Layout(width="auto"))
    # It stays enabled meanwhile: a button that is switched off loses the keyboard's place on the page.
    made.on_click(lambda _: settled(lambda: spoken(do, message)))
    return made


def spoken(do: Callable[[], None], message: Said) -> None:
    """Do something, and say in words what went wrong, also where the fault is the program's."""
    message.clear()
    try:
        do()
    except Problem as problem:
        message.wrong(str(problem))
    except Exception as fault:
        message.wrong(
            f"That did not work, and the fault is the program's ({type(fault).__name__}: {fault}). "
            "What was typed is still here."
        )
        raise


def on_enter(field: w.Text, do: Callable[[], None], message: Said) -> None:
    """Do something when Enter is pressed in a line of text."""

    def heard(_: w.Widget, content: Mapping[str, object], __: object) -> None:
        if content.get("event") == "submit":
            settled(lambda: spoken(do, message))

    field.on_msg(heard)


class LinesAtEnter:
    """A field of lines, each of which is taken when Enter ends it.

    Enter is part of the text here, not a message beside it: it cannot overtake the letters before it, and telephones
    send it too. What was taken a moment ago and comes again in one piece is not taken again: the browser had not heard
    yet, or it was pasted twice.
    """

    def __init__(self, field: w.Textarea, take: Callable[[str], None], message: Said) -> None:
        self.field = field
        self._take = take
        self._said = message
        self._before = ""
        self._typed = ""
        field.observe(self._heard, names="value")

    def _heard(self, _: object) -> None:
        typed = self.field.value
        if typed and typed == self._before:
            self._put("")
            self._said.done(AGAIN)
            return
        if self._before and typed.startswith(self._before):
            # The browser had not heard yet that these lines are saved.
            typed = typed.removeprefix(self._before)
            if "\n" not in typed:
                self._put(typed)
        elif typed:
            self._before = ""
        self._typed = typed
        if "\n" in typed:
            spoken(self._try, self._said)

    def _try(self) -> None:
        """Take the lines that Enter has ended, and leave the one that is still being typed.

        What could not be saved stays, to be put right and ended with Enter again.
        """
        done, _, rest = self._typed.rpartition("\n")
        try:
            self._take(done)
        except Problem:
            self._put(self._typed.removesuffix("\n"))
            raise
        self._before = self.field.value.removesuffix(rest)
        self._put(rest)

    def forget(self) -> None:
        """Take the same lines again: something else was saved since, or taken back."""
        self._before = ""

    def _put(self, text: str) -> None:
        self.field.unobserve(self._heard, names="value")
        self.field.value = text
        self.field.observe(self._heard, names="value")


class _Browser:
    """The browser before which a form is, asked for what it still holds back: a link of its own carries a number back.

    A press is sent at once, letters only once the kernel has heard those before them: on a busy machine the press
    overtakes them. By the time the browser hears the question it has sent them.
    """

    def __init__(self) -> None:
        self._there, back = w.IntText(), w.IntText()
        self._link = w.jsdlink((self._there, "value"), (back, "value"))
        self._waiting: dict[int, Callable[[], None]] = {}
        back.observe(lambda change: self._answered(change["new"]), names="value")

    def ask(self, do: Callable[[], None]) -> None:
        """Do something when it has answered."""
        number = self._there.value + 1
        self._waiting[number] = do
        self._there.value = number

    def _answered(self, number: int) -> None:
        for asked in [one for one in self._waiting if one <= number]:
            self._waiting.pop(asked)()


@cache
def _browser(_: object) -> _Browser:
    """The browser of this kernel."""
    return _Browser()


def settled(do: Callable[[], None]) -> None:
    """Do something once the browser has sent what it still holds back; at once where no browser asks for it."""
    kernel = getattr(get_ipython(), "kernel", None)
    if kernel is not None and kernel.get_parent().get("header", {}).get("msg_type") == "comm_msg":
        _browser(kernel).ask(do)
    else:
        do()


def loop() -> asyncio.AbstractEventLoop | None:
    """The loop in which a page is heard and may be changed, or None where there is no browser.

    Not the kernel's main one: JupyterLab has forms heard in a thread beside it, so that they answer while a cell runs,
    and what another thread puts into a sleeping loop may stay there for ever.
    """
    try:
        return asyncio.get_running_loop()
    except RuntimeError:
        return None


def prose(text: str) -> str:
    """The marks of a notebook's prose as HTML.

    Examples
    --------
    >>> prose("**2 songs** & *no set* in `diary.sqlite`")
    '<strong>2 songs</strong> &amp; <em>no set</em> in <code>diary.sqlite</code>'

    """
    said = links.linked(text)
    for mark, kind in ((r"\*\*", "strong"), (r"\*", "em"), ("`", "code")):
        said = re.sub(f"{mark}(.+?){mark}", rf"<{kind}>\1</{kind}>", said)
    return said


def plain(text: str) -> str:
    """The words of a notebook's prose, without its marks.

    Examples
    --------
    >>> plain("**2 songs** in `diary.sqlite`")
    '2 songs in diary.sqlite'

    """
    return text.replace("*", "").replace("`", "")


def whose_words(store: Whose) -> w.HTML:
    """Say that this is the demo tour, where it is."""
    said = html.escape(plain(store.words))
    return w.HTML(f"<p><em>{said}</em></p>" if said else "")


class Kept:
    """What is typed in these fields, kept as a draft from letter to letter; they begin with what was kept before.

    Parameters
    ----------
    found
        Whose diary keeps it.
    key
        Name of the draft, asked each time: what is typed may belong to the show that is looked at.
    fields
        Fields with text, numbers or choices, by the names under which they are kept. When all of them are as they
        were at first, the draft is dropped by itself.
    said
        Where to say that nothing can be kept, for a diary that may only be read.

    """

    def __init__(
        self, found: Whose, key: Callable[[], str], fields: Mapping[str, w.ValueWidget], said: Said | None = None
    ) -> None:
        self._found, self._key, self._fields, self._said = found, key, fields, said
        self._at_first = {name: field.value for name, field in fields.items()}
        self.take_up()
        for field in fields.values():
            field.observe(self._keep, names="value")

    def take_up(self) -> None:
        """Fill the fields with what was kept under the name that holds now; with what they had at first where not."""
        with opened(self._found.path) as diary:
            before = {**self._at_first, **(diary.draft(self._key()) or {})}
        self._filling = True
        for name, field in self._fields.items():
            if field.value != before[name] and _takes(field, before[name]):
                field.value = before[name]
        self._filling = False

    def drop(self) -> None:
        """Forget the draft; for when everything is saved."""
        with opened(self._found.path) as diary:
            diary.drop_draft(self._key())

    def _keep(self, _: object) -> None:
        if self._filling:
            return
        now = {name: field.value for name, field in self._fields.items()}
        try:
            with opened(self._found.path) as diary:
                if now == self._at_first:
                    diary.drop_draft(self._key())
                else:
                    diary.save_draft(self._key(), now)
        except Problem as problem:
            if self._said is not None:
                self._said.wrong(str(problem))


def kept(
    store: Whose, key: str, fields: Mapping[str, w.ValueWidget], message: Said | None = None
) -> Callable[[], None]:
    """Keep what is typed in these fields under one name (`Kept`); what drops it is returned."""
    return Kept(store, lambda: key, fields, message).drop


def _takes(field: w.ValueWidget, value: object) -> bool:
    """Whether a choice still offers what was kept; other fields take what they gave."""
    options = getattr(field, "_options_values", None)
    return options is None or value in options


def folded(text: str, *children: w.Widget, open_: bool = False) -> tuple[w.ToggleButton, w.VBox]:
    """A part that is shown when its button is pressed: the button, and the part."""
    part = w.VBox(list(children))
    toggle = w.ToggleButton(value=open_, description=text, tooltip=text, layout=w.Layout(width="auto"))

    def show(_: object) -> None:
        part.layout.display = "" if toggle.value else "none"

    toggle.observe(show, names="value")
    show(None)
    return toggle, part


def text(label: str, **settings: Any) -> w.Text:  # noqa: ANN401  # passed on as they are
    """A line to type into."""
    return w.Text(description=label, layout=WIDE, style=LABEL, **settings)


def lines(label: str, rows: int, **settings: Any) -> w.Textarea:  # noqa: ANN401  # passed on as they are
    """Several lines to type into."""
    return w.Textarea(description=label, rows=rows, layout=WIDE, style=LABEL, **settings)


def letters(label: str, options: object = (), **settings: Any) -> w.Combobox:  # noqa: ANN401  # passed on as they are
    """A line that offers titles while they are typed."""
    return w.Combobox(description=label, options=options, layout=WIDE, style=LABEL, **settings)


def number(label: str, value: float, least: float, most: float, step: float) -> w.BoundedFloatText:
    """A number between two others."""
    return w.BoundedFloatText(value=value, min=least, max=most, step=step, description=label, layout=WIDE, style=LABEL)


class _Choice(w.Dropdown):
    """A choice that shows the words of an option that stands for None; the widgets' own shows nothing there."""

    def __init__(self, **settings: Any) -> None:  # noqa: ANN401  # passed on as they are
        super().__init__(**settings)
        self.observe(self._show_none, names=["value", "options"])
        self._show_none(None)

    def _show_none(self, _: object) -> None:
        if self.value is None and None in self._options_values:
            self.index = self._options_values.index(None)


def choice(label: str, options: object, **settings: Any) -> w.Dropdown:  # noqa: ANN401  # passed on as they are
    """A choice out of a few."""
    return _Choice(description=label, options=options, layout=WIDE, style=LABEL, **settings)
