"""What was really played: as planned in one press, or with changes in a few."""

from __future__ import annotations

import ipywidgets as w

from tourstats.diary import opened
from tourstats.diary.tonights_set import keep
from tourstats.pages.kit.open_lines import OpenLines
from tourstats.pages.kit.show_written import ENCORE, Night, as_lines
from tourstats.pages.kit.widgets import LABEL, WIDE, Said, button, folded, letters, lines, on_enter, row, spoken, words
from tourstats.problems import Problem, counted


class Played:
    """The set as it was played; the text holds it, the list and its buttons change the text."""

    def __init__(self, night: Night) -> None:
        self.night = night
        self.said, self.added_said = Said(), Said()
        self.list = w.Select(description="Song", rows=9, layout=WIDE, style=LABEL)
        self.added = letters("Add", placeholder="letters of a title; it goes below the chosen song")
        self.text = lines("As text", 14, placeholder="The set as it was played, one title a line.")
        self.open = OpenLines(self.save, self.said)
        self.as_planned_button = button("Played as planned", self.as_planned, self.said, main=True)
        self.toggle, panel = folded(
            "With changes",
            words("Choose a song, then say what happened to it. Or change the text; both say the same."),
            self.list,
            row(
                button("Dropped", self.drop, self.said),
                button("Earlier", lambda: self.move(-1), self.said),
                button("Later", lambda: self.move(1), self.said),
                button("Encore starts here", self.encore, self.said),
            ),
            row(self.added, button("Add it", self.add, self.added_said)),
            self.added_said,
            self.text,
            button("Save what was played", self.save, self.said, main=True),
            self.open.box,
        )
        on_enter(self.added, self.add, self.added_said)
        self.box = w.VBox([row(self.as_planned_button, self.toggle), self.said, panel])
        self.fill()
        night.after.append(self._offer_plan)
        self.text.observe(self._changed, names="value")

    def as_planned(self) -> None:
        """Save the planned set as the one that was played."""
        self.night.read()  # another page may have saved another set since
        planned = self.night.planned
        if not len(planned):
            raise Problem(
                "There is no planned set for this show. Press With changes, and type or paste what was played."
            )
        if self.night.differs:
            self._offer_plan()
            raise Problem(
                "What was played is saved already, and differs from the plan; it stays. To take the plan instead, "
                "remove it first, under Written down for this show."
            )
        with self.night.writing() as diary:
            diary.write_set(self.night.show, planned[["song", "encore", "remark", "segue"]], "played")
        self._saved("Saved: played as planned")

    def save(self) -> None:
        """Save the set as the text has it."""
        if self.added.value.strip():
            # What is still in the field was meant to be in the set; what cannot be found is said beside it.
            spoken(self.add, self.added_said)
            if self.added.value.strip():
                raise Problem(f'Nothing is saved yet: see beside Add, where "{self.added.value.strip()}" stands.')
        if not self.text.value.strip():
            raise Problem("There is no set to save. Type or paste what was played, one title a line.")
        ready = self.open.read(self.text.value, self.night.songs)
        with self.night.writing() as diary, diary.atomic():
            keep(diary, ready, self.night.show, "played", self.text.value)
        self._saved("Saved: played with changes")

    def drop(self) -> None:
        """Take the chosen song out."""
        at = self._chosen()
        held = self._lines()
        del held[at]
        self._put(held, min(at, len(held) - 1))

    def move(self, by: int) -> None:
        """Move the chosen song one place."""
        at, held = self._chosen(), self._lines()
        to = min(max(at + by, 0), len(held) - 1)
        held.insert(to, held.pop(at))
        self._put(held, to)

    def encore(self) -> None:
        """Let the encore start at the chosen song."""
        at, held = self._chosen(), self._lines()
        song = held[at]
        before = [line for line in held[:at] if line != ENCORE]
        after = [line for line in held[at:] if line != ENCORE]
        self._put([*before, ENCORE, *after] if song != ENCORE else [*before, *after], len(before) + 1)

    def add(self) -> None:
        """Put another song below the chosen one."""
        song = self.night.song(self.added.value)
        held = self._lines()
        at = len(held) if self.list.index is None else self.list.index + 1
        self._put([*held[:at], song, *held[at:]], at)
        self.added.value = ""

    def fill(self) -> None:
        """Start from what the diary has for this show, or from what was typed and not saved."""
        with opened(self.night.found.path) as diary:
            draft = diary.draft(self._key)
        self.toggle.value = draft is not None
        self.text.value = draft["text"] if draft else self._as_saved()
        self.added.options = tuple(self.night.titles())
        self.open.forget()
        self._offer_plan()
        self._list()

    def _offer_plan(self) -> None:
        """Offer the plan as what was played only where that replaces nothing that was saved."""
        self.as_planned_button.layout.display = "none" if self.night.differs else ""

    @property
    def _key(self) -> str:
        return f"played at show {self.night.show_id}"

    def _as_saved(self) -> str:
        return "\n".join(as_lines(self.night.plays))

    def _changed(self, _: object) -> None:
        """Number the list again, and keep the text as a draft while it differs from the diary."""
        self._list()
        with opened(self.night.found.path) as diary:
            if self.text.value == self._as_saved():
                diary.drop_draft(self._key)
            else:
                diary.save_draft(self._key, {"text": self.text.value})

    def _saved(self, what: str) -> None:
        self.toggle.value = False
        with opened(self.night.found.path) as diary:
            diary.drop_draft(self._key)
        self.open.forget()
        self.night.changed()
        self.fill()
        encores = int(self.night.played.encore.sum())
        after = f", {encores} of them after the main set" if encores else ""
        self.said.done(f"{what}, {counted(len(self.night.played), 'song')}{after}.")

    def _lines(self) -> list[str]:
        return [line.strip() for line in self.text.value.splitlines() if line.strip()]

    def _chosen(self) -> int:
        if self.list.index is None:
            raise Problem("Choose a song in the list first.")
        return int(self.list.index)

    def _put(self, held: list[str], at: int) -> None:
        self.said.clear()  # it was said of the set before
        self.text.value = "\n".join(held)
        self._list()
        self.list.index = at if 0 <= at < len(held) else None

    def _list(self) -> None:
        """List the songs of the text to choose from, with the numbers of the printed sheet; an added one has none."""
        left = [(int(at), song) for at, song in zip(self.night.planned.position, self.night.planned.song, strict=True)]
        options, number, chosen = [], 0, self.list.index
        for at, line in enumerate(self._lines()):
            number += line != ENCORE
            mark = next((mark for mark in left if line == mark[1] or line.startswith(f"{mark[1]} ")), None)
            if mark is not None:
                left.remove(mark)
            said = mark[0] if mark else "+" if len(self.night.planned) else number
            options.append((f"{said}  {line}" if line != ENCORE else "·  encore  ·", at))
        if options != list(self.list.options):
            self.list.options = options
            self.list.index = chosen if chosen is not None and chosen < len(options) else None
