"""The lists on the show day: ticked off, changed, printed, copied into a message."""

from __future__ import annotations

import base64
from collections.abc import Callable
from dataclasses import replace

import ipywidgets as w

from tourstats.diary import Diary, opened
from tourstats.models.tonight import Brief
from tourstats.pages.kit import links
from tourstats.pages.kit.undoing import spare_the_demo
from tourstats.pages.kit.whose import Whose
from tourstats.pages.kit.widgets import Said, button, choice, folded, row, text
from tourstats.pages.lists import printed, words
from tourstats.problems import Problem

LISTS = "Lists to hand out and to tick off"
MESSAGE = "Text to paste into a message"


class Lists:
    """The lists of one show; `box` is what the page shows. `changed` is asked to think again after a tick."""

    def __init__(self, store: Whose, changed: Callable[[], None]) -> None:
        self.found, self.changed = store, changed
        self.said = Said()
        self.brief: Brief | None = None
        self.drawn: tuple[words.Line, ...] | None = None
        self.whom = choice("List", [(words.HEADINGS[one], one) for one in words.WHOM], value=words.DOORS)
        self.where, self.lines, self.message = w.HTML(), w.VBox(), w.Textarea(rows=6, layout=w.Layout(width="auto"))
        self.paper = w.HTML()
        self.thing, self.spare = text("Thing"), text("If it fails")
        self.who, self.remark = text("Who sets it out"), text("Where it stands, what to look at")
        self.thing.observe(self._known, names="value")
        put = button("Keep on the list of every show", self.keep, self.said)
        take = button("Take off the list", self.drop, self.said)
        self.adding = w.VBox([self.thing, self.spare, self.who, self.remark, row(put, take)])
        shown, message = folded(MESSAGE, self.message)
        self.opens, box = folded(
            LISTS, self.whom, self.said, self.where, self.lines, self.adding, row(shown), message, self.paper
        )
        self.box = w.VBox([self.opens, box], layout=w.Layout(display="none"))
        self.box.add_class("tourstats-lists")
        self.whom.observe(lambda _: self._show(), names="value")

    def show(self, brief: Brief | None) -> None:
        """Take the lists of a show; none hides them."""
        self.brief = brief
        self.box.layout.display = "none" if brief is None else ""
        self._show()

    def keep(self) -> None:
        """Keep a thing on the list of every show, with what takes its place in the user's own words."""
        if not self.thing.value.strip():
            raise Problem("Say what the thing is; what takes its place may stay empty.")
        told = {name: field.value.strip() or None for name, field in self._of_a_thing().items()}
        self._write(lambda diary: diary.keep_thing(self.thing.value, **told))
        self.said.done(f"{self.thing.value.strip()} is on the list of every show.")
        for field in (self.thing, *self._of_a_thing().values()):
            field.value = ""

    def _of_a_thing(self) -> dict[str, w.Text]:
        return {"spare": self.spare, "who": self.who, "remark": self.remark}

    def _known(self, change: dict[str, str]) -> None:
        """Fill in what is kept of a thing that is on the list already."""
        if self.brief is None:
            return
        kept = self.brief.ready[self.brief.ready["item"] == change["new"].strip()]
        for name, field in self._of_a_thing().items():
            field.value = str(kept[name].iloc[0]) if len(kept) else field.value

    def drop(self) -> None:
        """Take a thing off the list of every show."""
        self._write(lambda diary: diary.drop_thing(self.thing.value.strip()))
        self.said.done(f"{self.thing.value.strip()} is off the list.")

    def _write(self, change: Callable[[Diary], None], *, think: bool = True) -> None:
        spare_the_demo(self.found)
        with opened(self.found.path) as diary:
            change(diary)
        if think:
            self.changed()

    def _show(self) -> None:
        if self.brief is None:
            return
        drawn = self.drawn
        self._say()
        # The same lines stay where they are: a box drawn anew under somebody's finger loses the press.
        if self.drawn != drawn:
            self.lines.children = [self._line(line) for line in self.drawn or ()]
        self.adding.layout.display = "" if self.whom.value == words.DOORS else "none"

    def _say(self) -> None:
        """All that a tick changes, so that the box that was pressed stays where it is."""
        if self.brief is None:
            return
        listed = words.listed_for(self.brief, self.whom.value)
        self.drawn = tuple(listed.lines)
        self.where.value = "".join(f"<p>{links.linked(sentence)}</p>" for sentence in listed.said)
        self.message.value = words.as_message(listed)
        pdf = base64.b64encode(printed.printed(listed)).decode()
        self.paper.value = (
            f'<p><a download="{listed.whom}.pdf" href="data:application/pdf;base64,{pdf}">'
            f"Print this list ({listed.whom}.pdf)</a></p>"
        )

    def _line(self, line: words.Line) -> w.Widget:
        if line.key is None:
            more = f" <small>{links.linked(line.more)}</small>" if line.more else ""
            return w.HTML(f"<p><strong>{links.linked(line.what)}</strong>{more}</p>")
        more = f" ({line.more})" if line.more else ""
        tick = w.Checkbox(value=line.ticked, description=f"{line.what}{more}", indent=False)
        tick.layout.width = "auto"
        tick.observe(lambda change, key=line.key: self._tick(key, off=change["new"]), names="value")
        return tick

    def _tick(self, key: str, *, off: bool) -> None:
        if self.brief is None:
            return
        show_id, band = self.brief.show["show_id"], self.brief.band[self.brief.band.key == key]
        try:
            whole = band[band.what == "song"]
            # What the band has tried leaves my plan, which is thought over again; a whole song is a run with the band.
            if len(whole):
                row_ = whole.iloc[0]
                self._write(lambda diary: diary.tick_band(show_id, key, row_.song, float(row_.minutes), off=off))
            else:
                self._write(lambda diary: diary.tick(show_id, key, off=off), think=bool(len(band)))
        except Problem as problem:
            self.said.wrong(str(problem))
        else:
            ready = self.brief.ready
            self.brief = replace(self.brief, ready=ready.assign(ticked=ready.ticked.mask(ready["item"] == key, off)))
            self._say()
