"""After the show as a page: what was really played, what was reviewed, what was found, and what is worth noting."""

from __future__ import annotations

import html
import re
import warnings
from collections.abc import Callable
from datetime import date
from itertools import pairwise
from pathlib import Path
from typing import Any

import ipywidgets as w
import pandas as pd

from tourstats.diary import Diary, opened, read_found, read_set, settled
from tourstats.models import care
from tourstats.pages import show_day
from tourstats.pages.forms._base import WIDE, Said, button, choice, column, kept, row, text, undo_button, whose_words
from tourstats.pages.forms.show_day import NEW, SKIP, _named
from tourstats.pages.workbook import whose
from tourstats.problems import Problem
from tourstats.tables import CAUSES, KINDS, SEVERITIES, WAYS, Tables, in_order

SHOWS_OFFERED = 15
SECTIONS = ("intro", "verse", "chorus", "bridge", "solo", "coda", "ending")
THE_SHOW, THE_ROOM = "this show", "this kind of room"
FOUND_LINE = 'One a line: "5 dragged in chorus 2 !!", "the fifth one dragged", "harbour: late entry bar 12"'


class AfterShowProblem(Problem):
    """A field of the form is not filled in, or does not fit the set."""


class AfterShow:
    """The form; `box` is what a notebook shows."""

    def __init__(self, path: str | Path | None = None) -> None:
        self.whose = whose(path)
        self.said = {part: Said() for part in ("set", "reviewed", "found", "note", "run", "below")}
        self.show = choice("Show", [])
        self.ear = w.HTML()
        self.below = w.VBox([])
        self.open_lines = w.VBox([])
        self.open_finds = w.VBox([])
        self._make_fields()
        self.show.observe(self._show_chosen, names="value")
        self._fill_shows()
        self.set_text.observe(self._keep_set, names="value")
        quick = {"found": self.found, "many": self.many, "note": self.note, "reviewed": self.reviewed}
        self.drop_draft = kept(self.whose, "after the show", quick)
        self.box = column(
            whose_words(self.whose),
            self.show,
            *self._played_part(),
            *self._reviewed_part(),
            *self._found_part(),
            *self._note_part(),
            *self._run_part(),
            _heading("Entered for this show"),
            row(undo_button(self.whose, self.said["below"], self._refresh)),
            self.said["below"],
            self.below,
            _heading("Ears"),
            self.level,
            self.ear,
        )

    # What was played

    def save_set(self) -> None:
        """Write the set as it stands in the text, once no line is open."""
        with opened(self.whose.path) as diary:
            lines = read_set(self.set_text.value, diary.songs())
            if not len(lines):
                raise AfterShowProblem("There is no song in the set. Type or paste what was played, a title a line.")
            self._ask(lines)
            ready = settled(lines, {asked.position: asked.value for asked in self.open_lines.children if asked.value})
            with diary.atomic("the played set"):
                for song in ready.new:
                    diary.add_song(song)
                diary.write_set(
                    self.show_id,
                    ready.titles,
                    stage="played",
                    encore_from=ready.encore_from,
                    pasted=self.set_text.value,
                )
            diary.drop_draft(f"played {self.show_id}")
        self.open_lines.children = ()
        self._refresh()
        self.said["set"].done(f"Saved: {len(ready.titles)} songs were played.")

    # What was reviewed

    def review_all(self) -> None:
        """Say that every song of the set was listened to."""
        with opened(self.whose.path) as diary:
            diary.add_review(self.show_id, "all")
        self._refresh()
        self.said["reviewed"].done("Saved: every song of this set counts as reviewed; what has no mistake was clean.")

    def review_some(self) -> None:
        """Say which songs were listened to, by their places."""
        titles = self._titles()
        wanted = [titles[place] for place in places(self.reviewed.value, len(titles))]
        with opened(self.whose.path) as diary:
            diary.add_review(self.show_id, wanted)
        self.reviewed.value = ""
        self._refresh()
        self.said["reviewed"].done(f"Saved: {len(wanted)} songs count as reviewed.")

    # What was found

    def save_found(self, field: w.ValueWidget) -> None:
        """Write the mistakes typed into a field; lines whose song is not clear stay, and are asked about."""
        with opened(self.whose.path) as diary:
            lines = read_found(field.value, self._played(diary), diary.songs())
            if not len(lines):
                raise AfterShowProblem(
                    "There is no mistake in this. Say the song, by its place or some letters, and what."
                )
            answers = {asked.remark: asked.value for asked in self.open_finds.children if asked.value}
            songs = lines.song.where(lines.sure, lines.remark.map(answers))
            clear = lines.assign(song=songs)[songs.notna()]
            with diary.atomic(f"{len(clear)} mistake{'s' * (len(clear) != 1)}"):
                for found in clear.to_dict("records"):
                    diary.add_mistake(self.show_id, **_mistake(found))
        still = lines[songs.isna()]
        self._ask_songs(still, field)
        field.value = "\n".join(still.remark)
        self._refresh()
        if len(still):
            raise AfterShowProblem("Say which song this was; the line is kept until then.")
        self.said["found"].done(f"Saved: {_and(clear.song + ', ' + clear.kind)}.")

    def save_field_by_field(self) -> None:
        """Write one mistake from the fields; kind and section stay for the next."""
        if not self.song.value:
            raise AfterShowProblem("Say which song it was: type some letters of the title.")
        with opened(self.whose.path) as diary:
            diary.add_mistake(
                self.show_id,
                self.song.value,
                self.kind.value or "other",
                self.severity.value,
                section=self.section.value or None,
                bar=int(self.bar.value) if self.bar.value.strip().isdigit() else None,
                cause=self.cause.value,
                said_by=self.said_by.value or None,
                remark=self.remark.value or None,
            )
        song, self.song.value, self.bar.value, self.remark.value = self.song.value, "", "", ""
        self._refresh()
        self.said["found"].done(f"Saved: {song}, {self.kind.value or 'other'}.")

    # Notes and runs

    def save_note(self) -> None:
        """Write the note on what was chosen."""
        if not self.note.value.strip():
            raise AfterShowProblem("There is no note to save. Type it first.")
        about: dict[str, Any] = {"about": "show", "show_id": self.show_id}
        on, room = self.on.value, self._show_row().room
        if on == THE_ROOM:
            if not isinstance(room, str):
                raise AfterShowProblem(
                    "The kind of room of this show is not known. Say it on the page Put right first."
                )
            about = {"about": "room", "room": room}
        elif isinstance(on, tuple):
            about = {"about": "changeover", "song": on[0], "next_song": on[1]}
        elif on != THE_SHOW:
            here = room if self.only_here.value and isinstance(room, str) else None
            about = {"about": "song", "song": on, "room": here, "show_id": self.show_id}
        with opened(self.whose.path) as diary:
            diary.add_note(self.note.value, personal=self.personal.value, date=self._show_row().date.date(), **about)
        self.note.value = ""
        self._refresh()
        self.said["note"].done("Saved: the note comes back when it holds.")

    def save_run(self) -> None:
        """Write one rehearsal of today."""
        if not self.run_song.value:
            raise AfterShowProblem("Say which song was run: type some letters of the title.")
        with opened(self.whose.path) as diary:
            diary.add_rehearsal(
                self.run_song.value,
                self.way.value,
                date=self.run_day.value,
                runs=self.runs.value,
                minutes=self.run_minutes.value or None,
            )
        song, self.run_song.value = self.run_song.value, ""
        self._refresh()
        self.said["run"].done(f"Saved: {song}, {self.way.value}.")

    # Parts of the page

    def _make_fields(self) -> None:
        self.set_text = w.Textarea(
            description="Set", layout=w.Layout(width="98%", height="20em"), style={"description_width": "initial"}
        )
        self.reviewed = text("Places", placeholder="1-5, 8")
        self.found = text("Found", placeholder=FOUND_LINE)
        self.many = w.Textarea(description="Lines", placeholder=FOUND_LINE, layout=w.Layout(width="98%", height="8em"))
        self.song, self.kind = _combo("Song"), _combo("Kind", KINDS)
        self.section, self.bar = _combo("Section", SECTIONS), text("Bar")
        self.severity = w.ToggleButtons(
            options=[
                (label, value)
                for label, value in zip(("1 only I", "2 the band", "3 everyone"), SEVERITIES, strict=True)
            ],
            description="Severity",
            style={"description_width": "initial", "button_width": "7em"},
        )
        self.cause = choice("Cause", [("not said", None), *((cause, cause) for cause in CAUSES)])
        self.said_by, self.remark = text("Said by"), text("Remark")
        self.note, self.on = text("Note"), choice("On", [THE_SHOW])
        self.only_here = w.Checkbox(description="only in this kind of room", indent=False)
        self.personal = w.Checkbox(description="personal: others do not see it", indent=False)
        self.run_song, self.way = _combo("Song"), choice("How", list(WAYS), value="kit")
        self.run_day = w.DatePicker(description="Day", value=date.today(), layout=WIDE)  # noqa: DTZ011  # on the wall
        self.runs = w.BoundedIntText(value=1, min=1, max=99, description="Runs", layout=WIDE)
        self.run_minutes = w.BoundedFloatText(value=0, min=0, max=600, description="Minutes", layout=WIDE)
        self.level = w.BoundedFloatText(
            value=show_day.STAGE_DBA, min=40, max=140, step=1, description="Level on stage, dB(A)", layout=WIDE
        )
        self.level.observe(self._say_ear, names="value")

    def _played_part(self) -> list[w.Widget]:
        words = "The set as it was handed out. Take out what was dropped, add and move lines, then save."
        do = button("Played as it stands here", self.save_set, self.said["set"], main=True)
        return [_heading("What was played"), _words(words), self.set_text, do, self.said["set"], self.open_lines]

    def _reviewed_part(self) -> list[w.Widget]:
        said = self.said["reviewed"]
        on_enter(self.reviewed, self.review_some, said)
        buttons = [
            button("All of them", self.review_all, said, main=True),
            button("Only these", self.review_some, said),
        ]
        words = "What you listened to on the recording. A song that was not reviewed is not a clean song."
        return [_heading("Reviewed"), _words(words), row(*buttons), self.reviewed, said]

    def _found_part(self) -> list[w.Widget]:
        said = self.said["found"]
        on_enter(self.found, lambda: self.save_found(self.found), said)
        fields = (self.song, self.kind, self.section, self.bar, self.severity, self.cause, self.said_by, self.remark)
        more = w.Accordion(
            [
                w.VBox([self.many, button("Save these lines", lambda: self.save_found(self.many), said)]),
                w.VBox([*fields, button("Save this mistake", self.save_field_by_field, said)]),
            ],
            titles=("Paste many lines", "Field by field"),
        )
        do = button("Save", lambda: self.save_found(self.found), said)
        words = "Say the song by its place or some letters, and what it was. ! the band heard it, !! everyone did."
        return [_heading("What I found"), _words(words), self.found, do, said, self.open_finds, more]

    def _note_part(self) -> list[w.Widget]:
        said = self.said["note"]
        on_enter(self.note, self.save_note, said)
        do = button("Save the note", self.save_note, said)
        return [_heading("Note"), self.note, self.on, row(self.only_here, self.personal), do, said]

    def _run_part(self) -> list[w.Widget]:
        said = self.said["run"]
        do = button("Save the run", self.save_run, said)
        return [
            _heading("Run outside the show"),
            *(self.run_song, self.way, row(self.runs, self.run_minutes, self.run_day), do, said),
        ]

    # What the page knows

    @property
    def show_id(self) -> int:
        """The show that is chosen."""
        if self.show.value is None:
            raise AfterShowProblem("There is no show in the diary yet. Paste tonight's set on the page Show day first.")
        return int(self.show.value)

    def _played(self, diary: Diary) -> pd.DataFrame:
        """The played set of the show, or the planned one while nobody has said what was played."""
        sets = (diary.plays(stage) for stage in ("played", "planned"))
        found = next((plays for plays in (s[s.show_id == self.show_id] for s in sets) if len(plays)), None)
        if found is None:
            raise AfterShowProblem("This show has no set yet. Say what was played first.")
        return found.reset_index(drop=True)

    def _titles(self) -> list[str]:
        with opened(self.whose.path) as diary:
            titles: list[str] = self._played(diary).song.tolist()
        return titles

    def _read(self) -> Tables:
        with opened(self.whose.path) as diary:
            return diary.read()

    def _show_row(self) -> Any:  # noqa: ANN401  # a row of the table of shows
        shows = self._read().shows
        return shows[shows.show_id == self.show_id].iloc[0]

    def _fill_shows(self) -> None:
        """Offer shows with a planned set that nobody has logged first, then the last ones."""
        tables = self._read()
        shows = in_order(tables.shows)
        done = shows.show_id.isin(tables.plays.show_id)
        waiting = shows[~done & shows.show_id.isin(tables.planned.show_id)]
        offered = pd.concat([waiting.iloc[::-1], shows[done].iloc[::-1]]).head(SHOWS_OFFERED)
        self.show.options = [(_named(show), show.show_id) for show in offered.itertuples()]
        if len(offered):
            self.show.value = offered.show_id.iloc[0]
        else:
            self._show_chosen(None)

    def _show_chosen(self, _: object) -> None:
        if self.show.value is None:
            self.said["set"].wrong("There is no show in the diary yet. Paste tonight's set on the page Show day first.")
            return
        with opened(self.whose.path) as diary:
            draft = diary.draft(f"played {self.show_id}")
            songs = diary.songs()
            sets = [plays[plays.show_id == self.show_id] for plays in (diary.plays(), diary.plays("planned"))]
        plays = next((found for found in sets if len(found)), sets[0])
        self.set_text.value = draft["set"] if draft else as_lines(plays)
        titles = plays.song.tolist()
        pairs = [(f"{a} → {b}", (a, b)) for a, b in pairwise(titles)]
        ons = [(THE_SHOW, THE_SHOW), (THE_ROOM, THE_ROOM), *((song, song) for song in dict.fromkeys(titles)), *pairs]
        self.on.options = ons
        self.song.options = list(dict.fromkeys(titles))
        self.run_song.options = songs.song.tolist()
        self._refresh()

    def _keep_set(self, _: object) -> None:
        with opened(self.whose.path) as diary:
            diary.save_draft(f"played {self.show_id}", {"set": self.set_text.value})

    def _ask(self, lines: pd.DataFrame) -> None:
        """Put a choice for each open line of the set, answers already given kept."""
        before = {asked.position: asked.value for asked in self.open_lines.children}
        self.open_lines.children = tuple(
            _question(line.as_typed, line.candidates, before.get(line.position), position=line.position)
            for line in lines[~lines.sure].itertuples()
        )

    def _ask_songs(self, lines: pd.DataFrame, field: w.ValueWidget) -> None:
        """Put a choice of song for each mistake whose song is not clear; choosing saves it."""
        titles = self._titles()
        asked = []
        for line in lines.itertuples():
            options = [*line.candidates, *(title for title in titles if title not in line.candidates)]
            asked.append(choice(f'"{line.remark}": which song?', [(title, title) for title in options], value=None))
            asked[-1].remark = line.remark
            asked[-1].observe(lambda _: self._chosen(field), names="value")
        self.open_finds.children = tuple(asked)

    def _chosen(self, field: w.ValueWidget) -> None:
        try:
            self.save_found(field)
        except Problem as problem:
            self.said["found"].wrong(str(problem))

    def _refresh(self) -> None:
        """List what was entered for this show, each with a way to take it out."""
        tables = self._read()
        mistakes, notes, reviews = (
            rows[rows.show_id == self.show_id] for rows in (tables.mistakes, tables.notes, tables.reviews)
        )
        runs = tables.rehearsals[tables.rehearsals.date == self._show_row().date]
        reviewed = w.HTML(f"<p>{reviews.song.nunique()} songs reviewed.</p>")
        rows = [
            *(self._entry(_mistake_words(one), "remove_mistake", one.mistake_id) for one in mistakes.itertuples()),
            *(self._entry(f"note: {one.text}", "remove_note", one.note_id) for one in notes.itertuples()),
            *(
                self._entry(f"run: {one.song}, {one.way}", "remove_rehearsal", one.rehearsal_id)
                for one in runs.itertuples()
            ),
        ]
        self.below.children = (reviewed, *rows)
        self._say_ear(None)

    def _entry(self, words: str, remove: str, key: int) -> w.HBox:
        def take_out() -> None:
            with opened(self.whose.path) as diary:
                getattr(diary, remove)(int(key))
            self._refresh()
            self.said["below"].done(f"Taken out: {words}. Undo brings it back.")

        return row(w.HTML(f"<span>{html.escape(words)}</span>"), button("Remove", take_out, self.said["below"]))

    def _say_ear(self, _: object) -> None:
        """Tonight's time at the level entered, as a reminder."""
        tables = self._read()
        lengths = tables.songs.set_index("song").minutes
        minutes = float(lengths.reindex(self._titles_or_none()).sum())
        words = f"{care.caution(self.level.value, round(minutes))} {care.REST}" if minutes else care.REST
        self.ear.value = f"<p>{html.escape(words)}</p>"

    def _titles_or_none(self) -> list[str]:
        try:
            return self._titles()
        except Problem:
            return []


def form(path: str | Path | None = None) -> w.VBox:
    """The after-the-show form, for a notebook."""
    return AfterShow(path).box


def places(typed: str, most: int) -> list[int]:
    """Places in a set as a person types them, from 0.

    Raises
    ------
    AfterShowProblem
        If a part is no place of this set.

    Examples
    --------
    >>> places("1-3, 5", 6)
    [0, 1, 2, 4]

    """
    found: list[int] = []
    for part in filter(None, re.split(r"[,;\s]+", re.sub(r"\s*[-–]\s*", "-", typed.strip()))):  # noqa: RUF001  # as typed
        match = re.fullmatch(r"(\d+)(?:-(\d+))?", part)
        first, last = (int(match[1]), int(match[2] or match[1])) if match else (0, 0)
        if not 1 <= first <= last <= most:
            raise AfterShowProblem(f'"{part}" is no place in this set of {most}. Write places such as 1-5, 8.')
        found += range(first - 1, last)
    if not found:
        raise AfterShowProblem("Say which songs, by their places: 1-5, 8.")
    return list(dict.fromkeys(found))


def as_lines(plays: pd.DataFrame) -> str:
    """A set as text, a title a line, the encore marked: what `read_set` reads back.

    Examples
    --------
    >>> print(as_lines(pd.DataFrame({"position": [1, 2], "song": ["Ferry", "Tin Roof"], "encore": [False, True]})))
    1. Ferry
    ENCORE
    2. Tin Roof

    """
    lines = []
    encore = False
    for play in plays.itertuples():
        if play.encore and not encore:
            lines.append("ENCORE")
        encore = encore or play.encore
        lines.append(f"{play.position}. {play.song}")
    return "\n".join(lines)


def on_enter(field: w.Text, do: Callable[[], None], said: Said) -> None:
    """Run something when Enter is pressed in a field; what is wrong is said."""

    def entered(_: object) -> None:
        said.clear()
        try:
            do()
        except Problem as problem:
            said.wrong(str(problem))

    with warnings.catch_warnings():
        # Watching the value instead would save on leaving the field, and not keep what is typed letter by letter.
        warnings.simplefilter("ignore", DeprecationWarning)
        field.on_submit(entered)


def _combo(label: str, options: tuple[str, ...] = ()) -> w.Combobox:
    return w.Combobox(description=label, options=options, layout=WIDE, style={"description_width": "initial"})


def _question(typed: str, candidates: list[str], value: str | None, *, position: int) -> w.Dropdown:
    options = [*((title, title) for title in candidates), ("a new song", NEW), ("leave it out", SKIP)]
    known = value if value in dict(options).values() else None
    asked = choice(f'{position}. "{typed}"', options, value=known)
    asked.position = position
    return asked


def _mistake(found: dict[str, Any]) -> dict[str, Any]:
    """What `add_mistake` takes of a line that was read."""
    names = ("song", "kind", "severity", "section", "bar", "cause", "said_by", "remark")
    return {name: None if pd.isna(found[name]) else found[name] for name in names}


def _mistake_words(one: Any) -> str:  # noqa: ANN401  # a row of the table of mistakes
    bar = f"bar {one.bar}" if pd.notna(one.bar) else None
    parts = [one.song, one.kind, one.section, bar, f"severity {one.severity}"]
    return ", ".join(str(part) for part in parts if part is not None and pd.notna(part))


def _heading(words: str) -> w.HTML:
    return w.HTML(f"<h3>{html.escape(words)}</h3>")


def _words(words: str) -> w.HTML:
    return w.HTML(f"<p>{html.escape(words)}</p>")


def _and(parts: pd.Series) -> str:
    return "; ".join(parts)
