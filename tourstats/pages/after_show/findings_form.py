"""What was found on the recording: a line and Enter, many lines at once, or field by field."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import ipywidgets as w
import pandas as pd

from tourstats.diary import Diary
from tourstats.pages.kit.fields import SEVERITY
from tourstats.pages.kit.show_written import Night
from tourstats.pages.kit.widgets import (
    LinesAtEnter,
    Said,
    button,
    choice,
    folded,
    letters,
    on_enter,
    row,
    spoken,
    text,
    words,
)
from tourstats.pages.kit.widgets import lines as several_lines
from tourstats.problems import Problem
from tourstats.reading.findings import read_found
from tourstats.reading.titles import fold
from tourstats.tables import CAUSES, KINDS

HEARD = {value: label[2:] for label, value in SEVERITY}
SECTIONS = ("intro", "verse", "chorus", "bridge", "solo", "last chorus", "outro", "coda")
HOW_TO = (
    "One mistake a line: the song by number or letters, then what it was. ! the band heard it, !! everyone did. "
    '++ is what worked. "Rest clean" says that every other song was listened to.'
)
WORKED = "++"
LEAVE = "leave this line out"
CLEAN = "says that the rest was clean"


class Findings:
    """Lines with mistakes; `waiting` holds the lines whose song is not sure, until somebody chooses."""

    def __init__(self, night: Night, listening: w.Dropdown) -> None:
        self.night = night
        self.listening = listening
        self.said = Said()
        self.line = several_lines(
            "What I found", 2, placeholder="5 dragged in chorus 2 !!\nEnter saves it; paste many lines at once"
        )
        self.waiting = w.Textarea()
        self.questions = w.VBox([])
        self.song = letters("Song", placeholder="its number, or letters of its title")
        self.kind = letters("Kind", KINDS, value="tempo", ensure_option=False)
        self.section = letters("Section", SECTIONS)
        self.bar = text("Bar")
        self.severity = choice("Who heard it", SEVERITY)
        self.cause = choice("Cause", [("not said", None), *((cause, cause) for cause in CAUSES)])
        self.by, self.remark = text("Said by"), text("Remark")
        for field in (self.song, self.section, self.bar, self.by, self.remark):
            on_enter(field, self.save_fields, self.said)
        self.toggle, panel = folded(
            "Field by field",
            *(self.song, self.severity, self.kind, self.section, self.bar, self.cause, self.by, self.remark),
            button("Save this mistake", self.save_fields, self.said, main=True),
        )
        self.song.observe(self._offer, names="value")
        self.lines = LinesAtEnter(self.line, self.save_lines, self.said)
        night.after.append(self.lines.forget)
        self.fill()
        self.box = w.VBox(
            [
                words(HOW_TO),
                self.line, self.said, self.questions, row(self.toggle), panel,
            ]
        )  # fmt: skip

    def fill(self) -> None:
        """Offer the titles of this show."""
        self.song.options = tuple(self.night.titles())
        self.lines.forget()

    def resume(self) -> None:
        """Take up what was kept from before: lines that waited for a choice are asked about again."""
        self._ask()

    def save_lines(self, text_: str) -> None:
        """Save what is sure, each line as one change, and ask about the song of every other."""
        findings = read_found(text_, self.night.numbered, self.night.songs)
        clean = [line for _, line, why in findings.attrs["ignored"] if why == CLEAN]
        unread = [line for _, line, why in findings.attrs["ignored"] if why not in (CLEAN, "blank", "only signs")]
        saved: list[str] = []
        sure = findings[findings.sure]
        with self.night.writing() as diary, diary.atomic():
            saved += [self._add(diary, line) for line in sure.to_dict("records")]
            if clean:
                diary.add_review(self.night.show, "all", self.listening.value)
                saved.append("nothing else found: every song counts as reviewed")
        open_ = findings[~findings.sure].remark.tolist()
        if open_:
            self.waiting.value = "\n".join([*filter(None, self.waiting.value.split("\n")), *open_])
            self._ask()
        if saved:
            self.night.changed()
        self._tell(saved, unread)

    def save_fields(self) -> None:
        """Save one mistake from its fields; kind and section stay for the next one."""
        if not self.kind.value.strip():
            raise Problem("Say what kind of mistake it was; other is a kind too.")
        bar = self.bar.value.strip()
        if bar and not bar.isdigit():
            raise Problem(f'The bar is a number; "{bar}" is not one. Put words into the remark.')
        line = {
            "song": self.night.song(self.song.value), "kind": self.kind.value.strip(),
            "severity": self.severity.value, "section": self.section.value, "bar": int(bar) if bar else None,
            "cause": self.cause.value, "said_by": self.by.value, "remark": self.remark.value,
        }  # fmt: skip
        with self.night.writing() as diary:
            saved = self._add(diary, line)
        for field in (self.song, self.bar, self.remark):
            field.value = ""
        self.night.changed()
        self._tell([saved], [])

    def _add(self, diary: Diary, line: Mapping[str, object]) -> str:
        line = {**line, "section": self._own_section(line)}
        if WORKED in str(line["remark"]):
            where = {name: _said(line[name]) for name in ("section", "bar")}
            before, _, behind = str(line["remark"]).partition(WORKED)
            told = behind.strip(" :-,") or before.strip()
            diary.add_worked(self.night.show, str(line["song"]), told, **where)
            return f"{self.night.place(str(line['song']))}: worked: {told}"
        names = ("kind", "severity", "section", "bar", "cause", "said_by", "remark")
        given: dict[str, Any] = {name: _said(line[name]) for name in names}
        diary.add_mistake(self.night.show, str(line["song"]), **given, listening=self.listening.value)
        return f"{self.night.place(str(line['song']))}: {mistake(line)}"

    def _sections(self, song: str) -> list[str]:
        """Names of the sections of a song whose shape is written down."""
        table = self.night.tables.sections
        return [str(name) for name in table[table.song == song].sort_values("position").name]

    def _own_section(self, line: Mapping[str, object]) -> object:
        """The section by the song's own name for it, where its shape has one that stands in the line."""
        words_ = f" {fold(str(line['remark']))} "
        own = [name for name in self._sections(str(line["song"])) if f" {fold(name)} " in words_]
        return max(own, key=len) if own else line["section"]

    def _offer(self, _: object) -> None:
        """Offer the sections of the song that is chosen, by its own names."""
        try:
            own = self._sections(self.night.song(self.song.value)) if self.song.value.strip() else []
        except Problem:  # it is still being typed
            own = []
        self.section.options = tuple(own) or SECTIONS

    def _ask(self) -> None:
        """Put a choice of songs beside each line that waits."""
        asked = []
        for line in filter(None, self.waiting.value.split("\n")):
            found = read_found(line, self.night.numbered, self.night.songs)
            near = list(found.candidates.iloc[0]) if len(found) else []
            songs = [*near, *(song for song in self.night.titles() if song not in near)]
            options = [("which song?", None), *((self.night.place(song), song) for song in songs), (LEAVE, LEAVE)]
            field = choice(f'"{line}"', options)
            field.add_class("question")
            field.observe(lambda change, line=line: self._chosen(line, change["new"]), names="value")
            asked.append(field)
        self.questions.children = tuple(asked)

    def _chosen(self, line: str, song: str | None) -> None:
        if song is not None:
            spoken(lambda: self._settle(line, song), self.said)

    def _settle(self, line: str, song: str) -> None:
        saved = []
        if song != LEAVE:
            found = read_found(line, self.night.numbered, self.night.songs).iloc[0].to_dict()
            with self.night.writing() as diary:
                saved = [self._add(diary, {**found, "song": song})]
        waiting = list(filter(None, self.waiting.value.split("\n")))
        waiting.remove(line)
        self.waiting.value = "\n".join(waiting)
        self._ask()
        if saved:
            self.night.changed()
        self._tell(saved, [])

    def _tell(self, saved: list[str], unread: list[str]) -> None:
        waits = len(self.questions.children)
        parts = [f"Saved: {'; '.join(saved)}."] if saved else []
        if waits:
            parts.append(f"{waits} line{'s wait' if waits > 1 else ' waits'} for you to choose the song.")
        if unread:
            parts.append(f"Not saved as a mistake: {'; '.join(unread)}.")
        if parts:
            (self.said.wrong if waits or unread else self.said.done)(" ".join(parts))


def mistake(line: Mapping[str, object]) -> str:
    """One mistake in words.

    Examples
    --------
    >>> mistake({"kind": "tempo", "section": "chorus 2", "bar": None, "severity": 3, "cause": None})
    'tempo, chorus 2, everyone did (3)'

    """
    said = {name: _said(line.get(name)) for name in ("kind", "section", "bar", "cause", "said_by")}
    parts = [said["kind"], said["section"], f"bar {said['bar']}" if said["bar"] is not None else None, said["cause"]]
    parts.append(f"{HEARD[int(str(line['severity']))]} ({line['severity']})")
    parts.append(f"said by {said['said_by']}" if said["said_by"] else None)
    return ", ".join(str(part) for part in parts if part)


def _said(value: object) -> object:
    """A value, or None where nothing was said."""
    if isinstance(value, str):
        return value.strip() or None
    return None if value is None or pd.isna(value) else value
