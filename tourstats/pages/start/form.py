"""Start with your own tour: bring what you have, settle what is open, see what will be written, write it once."""

from __future__ import annotations

import html
import re
from collections.abc import Mapping
from datetime import date, timedelta
from pathlib import Path

import ipywidgets as w
import pandas as pd

from tourstats.diary import exists, opened
from tourstats.diary.intake import Look, look, write
from tourstats.diary.writing import HistoryProblem, said_added
from tourstats.models import tonight
from tourstats.pages.kit import links, tables_shown
from tourstats.pages.kit.fields import new_show
from tourstats.pages.kit.questions import Questions
from tourstats.pages.kit.room_kinds import Rooms, without_room
from tourstats.pages.kit.undoing import undo_button
from tourstats.pages.kit.widgets import (
    InShort,
    Page,
    Said,
    button,
    choice,
    column,
    lines,
    prose,
    row,
    text,
)
from tourstats.pages.rotation import words as rotation
from tourstats.pages.show_day import on_screen
from tourstats.pages.workbook import Whose, whose
from tourstats.problems import Problem, counted
from tourstats.reading.account import LEFT_OUT, NOT_UNDERSTOOD, STRUCK_OUT
from tourstats.reading.sources import KINDS, ONE, SETS, Pasted, Reading
from tourstats.tour import Tour

WORDS = "Run this page to bring your songs and sets."
DRAFT = "start"
FIRST_ROWS = 8
PLAYED = [("what was played", "played"), ("what was handed out", "planned")]
_FILES = ".csv,.tsv,.txt,.xlsx,.xls,.xlsm,.ods,.md,.pdf,.docx,.html,.htm,.ics,.json,.eml"
_IN_FIELDS = ("day", "city")
"""Questions that the fields for one show answer."""


class StartProblem(Problem):
    """Something is missing before the file can be read or written."""


class Start:
    """The page; `short` and `form` are what a notebook shows of it."""

    def __init__(self, path: str | Path | None = None) -> None:
        self.found: Whose = whose(path, writing=True)
        self.short = InShort("start")
        self.short.say(in_short(self.found))
        self.looked: Look | None = None
        self.said, self.written = Said(), Said()
        self.pasted = lines(
            "Paste", 9, placeholder="Sets with their days, one set, or a list of songs: as you have them."
        )
        self.file = w.FileUpload(accept=_FILES, description="Choose a file", layout=w.Layout(width="auto"))
        self.path = text("or a file's path", continuous_update=False)
        self.kind = choice("It is", [("find out", None), *((kind, kind) for kind in KINDS)])
        self.stage = choice("The sets are", PLAYED)
        # Last night's, if not said otherwise.
        fields = new_show(date.today() - timedelta(days=1))  # noqa: DTZ011  # the day on the wall
        self.day, self.city, self.venue, self.room = fields.children
        self.show = w.VBox([w.HTML("<p>It has no date. Which show is it?</p>"), fields])
        self.questions = Questions(self._answered)
        self.preview = w.HTML()
        self.write_button = button("Save", self.write, self.written, main=True)
        self.accept_button = button("Take all that is proposed, and write it", self.accept, self.written)
        self.undo_button = undo_button(self.found, self.written, self._after)
        self.after = w.VBox([])
        self.page = w.HTML()
        self.box = column(
            self.pasted, row(self.file, self.path), self.kind, self.stage,
            button("Read it", self.look, self.said, main=True), self.said, self.preview, self.questions.box, self.show,
            row(self.write_button, self.accept_button, self.undo_button), self.written, self.after, self.page,
            name="start",
        )  # fmt: skip
        self.form = Page(self.box, WORDS)
        self._fill_draft()
        self._toggle()

    def look(self) -> None:
        """Read what was brought, anew: show what is in it, and ask what is open. Nothing is written."""
        before = self.questions.answers()
        self.questions.forget(before)
        self.written.clear()
        self._read()

    def write(self) -> None:
        """Write everything that was read, as one change, then show the first useful page."""
        self._write(accept=False)

    def accept(self) -> None:
        """Take what is proposed for every question that is open, and write it."""
        self._write(accept=True)

    def _write(self, *, accept: bool) -> None:
        self._read(accept=accept)
        if self.looked is None:
            raise StartProblem("There is nothing to write yet. Paste something or choose a file, then press Read it.")
        still = len(self._open(self.looked))
        if still:
            many = "1 question is" if still == 1 else f"{still} questions are"
            raise StartProblem(f"Nothing was written: {many} still open above. Settle it there, or leave it out.")
        if self.looked.reading.kind == ONE and (self.day.value is None or not self.city.value.strip()):
            raise StartProblem("Say on which day and in which city the show was; the venue and its kind help later.")
        try:
            with opened(self.found.path) as diary:
                done = write(diary, self.looked, self._answers(), stage=self.stage.value)
        except HistoryProblem as problem:
            raise StartProblem(re.sub(r" \(key: [^)]*\)", "", str(problem))) from problem
        self._forget()
        self._after(f"Written: {said_added(done)}.")

    def _read(self, *, accept: bool = False) -> None:
        material = self._material()
        self.looked = None
        answers = self._answers()
        try:
            if exists(self.found.path):
                with opened(self.found.path) as diary:
                    self.looked = look(
                        diary, material, answers, accept=accept, kind=self.kind.value, stage=self.stage.value
                    )
            else:
                self.looked = look(None, material, answers, accept=accept, kind=self.kind.value, stage=self.stage.value)
        finally:
            self._toggle()
        self.questions.ask(self._shown(self.looked.reading.questions))
        self.preview.value = _preview(self.looked)
        still = len(self._open(self.looked))
        if still:
            self.said.wrong(f"{still} to settle below, each or all as proposed; nothing is written before.")
        else:
            self.said.done("Nothing is open. Check it, then save.")

    def _answers(self) -> dict[str, str]:
        """What was answered, and what the fields for one show say."""
        fields = {
            "day": f"{self.day.value or ''}",
            "city": self.city.value.strip() or "not said",
            "venue": self.venue.value.strip(),
            "room": self.room.value or "",
        }
        return {**fields, **self.questions.answers()}

    @staticmethod
    def _shown(questions: pd.DataFrame) -> pd.DataFrame:
        """Questions without those that the fields for one show answer."""
        return questions[~questions["key"].isin(_IN_FIELDS)]

    def _open(self, looked: Look) -> pd.DataFrame:
        """What is to be settled before it is written."""
        return self._shown(looked.questions) if looked.reading.kind == ONE else looked.questions

    def _material(self) -> Pasted:
        """What was pasted, else the file that was chosen, else the one that was named."""
        if self.pasted.value.strip():
            return Pasted(self.pasted.value)
        if self.file.value:
            chosen = self.file.value[0]
            return Pasted(bytes(chosen["content"]), chosen["name"])
        if self.path.value.strip():
            place = Path(self.path.value.strip().strip("\"'")).expanduser()
            try:
                return Pasted(place.read_bytes(), place.name)
            except OSError as error:
                raise StartProblem(
                    f"{place} cannot be read: {error.strerror}. Look for its name, or paste it."
                ) from error
        raise StartProblem("Paste something, choose a file, or give the path of a file.")

    def _answered(self) -> None:
        """Read again after each answer, so that the preview shows what it means."""
        if self.looked is None:
            return
        try:
            self._read()
        except Problem as problem:
            self.said.wrong(str(problem))
        self._keep(None)

    def _changed(self, _: object) -> None:
        """Take back a reading of what is no longer there: only what was looked at is written."""
        self.looked = None
        self.preview.value = ""
        self.questions.forget()
        self._toggle()

    def _after(self, done: str | None = None) -> None:
        """Ask for the rooms that are missing, and show the first useful page."""
        tables = self.found.tour()
        rooms = [Rooms(self.found).box] if len(without_room(tables)) else []
        self.after.children = (w.HTML("<h3>The kind of each venue</h3>"), *rooms) if rooms else ()
        self.page.value = first_page(tables) + backed_up(self.found)
        if done is not None:
            self.written.done(done)
        self.short.say(in_short(self.found))
        self._toggle()

    def _toggle(self) -> None:
        """Show only what can be used now."""
        there = self.looked is not None
        one = self.looked is not None and self.looked.reading.kind == ONE
        proposed = self.looked is not None and len(self.looked.reading.proposal) > 0
        self.accept_button.layout.display = "" if proposed else "none"
        self.show.layout.display = "" if one else "none"
        self.write_button.layout.display = "" if there else "none"
        self.undo_button.layout.display = "" if exists(self.found.path) else "none"

    def _forget(self) -> None:
        """Make room for the next file; what was written needs no draft."""
        self.looked = None
        self.questions.forget()
        self.preview.value = ""
        self.said.clear()
        self.pasted.value, self.path.value, self.kind.value = "", "", None
        self.file.value = ()
        with opened(self.found.path) as diary:
            diary.drop_draft(DRAFT)

    def _fill_draft(self) -> None:
        """Put back what was typed before a reload; from then on keep it as it is typed."""
        draft: Mapping[str, object] = {}
        if exists(self.found.path):
            with opened(self.found.path) as diary:
                draft = diary.draft(DRAFT) or {}
        fields = self._fields()
        for name, field in fields.items():
            if name in draft:
                field.value = draft[name]
        answers = draft.get("answers")
        self.questions.forget(answers if isinstance(answers, dict) else {})
        for field in fields.values():
            field.observe(self._keep, names="value")
        for field in (self.pasted, self.path, self.file, self.kind):
            field.observe(self._changed, names="value")

    def _fields(self) -> dict[str, w.ValueWidget]:
        return {"pasted": self.pasted, "path": self.path, "kind": self.kind, "stage": self.stage, "city": self.city,
                "venue": self.venue, "room": self.room}  # fmt: skip

    def _keep(self, _: object) -> None:
        kept = {name: field.value for name, field in self._fields().items()}
        if any(kept[name] for name in ("pasted", "path", "city", "venue")):
            with opened(self.found.path) as diary:
                diary.save_draft(DRAFT, {**kept, "answers": self.questions.answers()})


def in_short(store: Whose) -> str:
    """Whose diary there is, and what it holds, in a sentence or two.

    Examples
    --------
    >>> in_short(whose("demo")).startswith("This is the demo tour")
    True

    """
    if store.demo:
        return store.words
    if not exists(store.path):
        return (
            f"You have no diary yet; it will begin in `{store.path}`. Nothing is written before you press the button."
        )
    tables = store.tour()
    played = tables.plays.show_id.nunique()
    if not len(tables.songs):
        return f"Your diary is in `{store.path}` and is empty. Bring a file of past sets, or last night's set alone."
    holds = f"{counted(len(tables.songs), 'song')} and {counted(played, 'played set')}"
    return f"Your diary in `{store.path}` holds **{holds}**. Add more below."


def first_page(tables: Tour) -> str:
    """What is worth reading first: the rotation and what is out longest, or the day of the only set."""
    sets = pd.concat([tables.plays, tables.planned]).show_id.unique()
    if not len(sets):
        songs = f"{len(tables.songs)} songs are in the repertoire. " if len(tables.songs) else ""
        return f"<p>{songs}Bring a set next: last night's alone is enough for a beginning.</p>"
    if len(sets) == 1:
        return on_screen.whole(tonight.brief(tables, sets[0]))
    said = prose(rotation.in_short(tables))
    heading, table = "Run these: out of the set and not run", rotation.out_table(tables)
    return f"<h3>Rotation, at a glance</h3><p>{said}</p><h3>{heading}</h3>{table._repr_html_()}"  # type: ignore[attr-defined]


def backed_up(store: Whose) -> str:
    """Where the diary is and how it is copied, as HTML; the demo tour, which is nobody's own, is not kept."""
    if store.demo:
        return ""
    place, copies = html.escape(str(store.path)), html.escape(str(store.path.parent / "backups"))
    return (
        f"<h3>Where it is kept</h3><p>Everything is in one file, <code>{place}</code>. A copy is made automatically "
        f"before the first change of each day, and the last fourteen are kept in <code>{copies}</code>. Before a leg, "
        "put one on a stick: <code>tourstats backup FILE</code>. The next page to open is <em>Show day</em>.</p>"
    )


def _preview(looked: Look) -> str:
    """What was read, in a few lines, the first rows, and what was passed over."""
    reading = looked.reading
    if not reading.kind:
        return ""
    kind = reading.kind if reading.kind in (SETS, ONE) else f"a list of {reading.kind}"
    said = "".join(f"<li>{links.linked(line)}</li>" for line in looked.said)
    shown = tables_shown.shown(_rows(reading), labels={"begins": "begins with"}, most=FIRST_ROWS, empty="")
    parts = [f"<h3>Read as {html.escape(kind)}</h3><ul>{said}</ul>{shown.html}"]
    left = reading.account[reading.account.taken_as.isin([LEFT_OUT, NOT_UNDERSTOOD, STRUCK_OUT])]
    if len(left):
        named = {"row": "line", "as_typed": "line says", "taken_as": "taken as"}
        table = tables_shown.shown(left[["row", "as_typed", "taken_as", "why"]], labels=named, most=FIRST_ROWS)
        parts.append(f"<p>{counted(len(left), 'piece')} will not be written:</p>{table.html}")
    return "".join(parts)


def _rows(reading: Reading) -> pd.DataFrame:
    """The first of what was read: a row a show, a line, or the rows of a table; people are not shown."""
    if reading.kind == SETS:
        sets = reading.plays.sort_values("position").groupby("show_id").song.agg(list)
        songs = reading.shows.show_id.map(sets)
        counts = songs.map(lambda titles: len(titles) if isinstance(titles, list) else 0)
        begins = songs.map(lambda titles: ", ".join(titles[:3]) if isinstance(titles, list) else "")
        rows = reading.shows[["date", "city", "venue"]].assign(songs=counts.astype(int), begins=begins.astype("str"))
        return rows.dropna(axis="columns", how="all")
    if reading.lines is not None:
        found = reading.lines
        return found.assign(song=found.song.where(found.sure, found.as_new))[["position", "song", "as_typed", "encore"]]
    return reading.rows.drop(columns=["show_id", "person"], errors="ignore").dropna(axis="columns", how="all")
