"""After the show as a page: what was played, what was reviewed, what was found, notes, and what was run today."""

from __future__ import annotations

import html
from pathlib import Path

import ipywidgets as w

from tourstats.diary import opened
from tourstats.pages.after_show.findings_form import Findings
from tourstats.pages.after_show.notes_and_runs import Notes, Runs
from tourstats.pages.after_show.played import Played
from tourstats.pages.after_show.written_down import WrittenDown, in_short, set_state
from tourstats.pages.kit import links
from tourstats.pages.kit.show_written import Night, is_logged, named
from tourstats.pages.kit.widgets import (
    Kept,
    Page,
    Said,
    button,
    choice,
    column,
    heading,
    kept,
    on_enter,
    row,
    text,
    whose_words,
)  # fmt: skip
from tourstats.pages.show_day import words as show_day
from tourstats.pages.workbook import Whose, whose
from tourstats.problems import counted

WORDS = "Run this page to write down what was played and what you found."


class AfterShow:
    """The form; `box` is what a notebook shows."""

    def __init__(self, path: str | Path | None = None) -> None:
        self.found: Whose = whose(path)
        self.night = Night(self.found)
        self.said, self.reviewed_said = Said(), Said()
        self.show = choice("Show", self.night.offered(), value=self.night.show_id)
        self.listening = choice("Listening", [("for the first time", 1), ("again", 2)])
        self.these = text("These songs", placeholder="1-5, 8, or letters of titles; Enter saves")
        self.played = Played(self.night)
        self.findings = Findings(self.night, self.listening)
        self.notes, self.runs = Notes(self.night), Runs(self.night)
        self.written = WrittenDown(self.night)
        self.level = text("Level on stage, dBA", placeholder=show_day.ASSUMED_UNTIL)
        self.short, self.state, self.ears, self.recording = w.HTML(), w.HTML(), w.HTML(), w.HTML()
        on_enter(self.these, self.review_these, self.reviewed_said)
        self.show.observe(self._another, names="value")
        self.typed = Kept(self.found, lambda: draft_of(self.night.show_id), self._typed(), self.said)
        kept(self.found, "level on stage", {"level": self.level}, self.said)
        self.findings.resume()
        self.night.after += [self.written.fill, self._fill_short, self._fill_ears]
        self.level.observe(lambda _: self._fill_ears(), names="value")
        self._fill_short()
        self._fill_ears()
        self.box = column(*self._parts(), name="after-the-show")

    def review_all(self) -> None:
        """Say that every song of the played set was listened to."""
        self._review("all")

    def review_these(self) -> None:
        """Say that some songs were listened to."""
        self._review(self.night.several(self.these.value))
        self.these.value = ""

    def _review(self, songs: list[str] | str) -> None:
        with self.night.writing() as diary:
            diary.add_review(self.night.show, songs, self.listening.value)
        self.night.changed()
        count = self.night.played.song.nunique() if songs == "all" else len(songs)
        self.reviewed_said.done(f"Saved: {counted(count, 'song')} reviewed.")

    def _typed(self) -> dict[str, w.ValueWidget]:
        """Everything that may be typed and not saved yet; each show has its own."""
        found = self.findings
        return {
            "found": found.line, "waiting": found.waiting, "these": self.these,
            "song": found.song, "section": found.section, "kind": found.kind, "bar": found.bar, "by": found.by,
            "remark": found.remark, "note": self.notes.line, "on": self.notes.on, "note song": self.notes.song,
            "runs": self.runs.songs, "way": self.runs.way, "minutes": self.runs.minutes,
        }  # fmt: skip

    def _parts(self) -> list[w.Widget]:
        all_ = button("Reviewed all", self.review_all, self.reviewed_said, main=True)
        return [
            whose_words(self.found), self.short, self.said, self.show,
            heading("What was played"), self.state, self.played.box,
            heading("What I listened to"), self.recording, row(all_), self.these, self.listening, self.reviewed_said,
            heading("What I found"), self.findings.box,
            heading("Notes"), self.notes.box,
            heading("What I ran"), self.runs.box,
            heading("Written down for this show"), self.written.box,
            heading("Ears and hands"), self.level, self.ears,
        ]  # fmt: skip

    def _another(self, _: object) -> None:
        """Go to another show."""
        self.night.read(self.show.value)
        for part in (self.played, self.findings, self.notes, self.runs, self.written):
            part.fill()
        self.typed.take_up()
        self.findings.resume()
        said_of = (self.played, self.findings, self.notes, self.runs)
        for said in (self.said, self.reviewed_said, *(part.said for part in said_of)):
            said.clear()
        self._fill_short()
        self._fill_ears()

    def _fill_short(self) -> None:
        """Which show it is, and how far it has come."""
        night, words = self.night, links.linked(in_short(self.night))
        show = f"<strong>{html.escape(named(night.row))}</strong>: " if night.row is not None else ""
        more = [which_show(night), left_typed(night)]
        self.short.value = f"<p>{show}{words}</p>" + "".join(f"<p>{html.escape(one)}</p>" for one in more if one)
        self.state.value = set_state(night)
        page = links.to_page("listening", **({} if night.show_id is None else {"show": str(night.show_id)}))
        self.recording.value = (
            f'<p><a href="{page}">Choose the recording and hear it</a>: where each song is, how fast it was, what to '
            "hear first; one key marks a moment.</p>"
        )

    def _fill_ears(self) -> None:
        """The time on a loud stage today, as far as the diary knows it."""
        tables, night = self.night.tables, self.night
        music = night.plays.merge(night.songs[["song", "minutes"]], how="left", on="song").minutes.sum()
        runs = tables.rehearsals[
            (tables.rehearsals.date.dt.date == night.day) & tables.rehearsals.way.isin(["kit", "band"])
        ]
        minutes = round(float(music + runs.minutes.sum()))
        said = [
            f"The set and what was run on stage come to {minutes} minutes." if minutes else "",
            show_day.ears_and_hands(self.level.value, minutes),
        ]  # fmt: skip
        self.ears.value = f"<p>{links.linked(' '.join(filter(None, said)))}</p>"


def draft_of(show_id: int | None) -> str:
    """Name under which what was typed about a show is kept."""
    return f"after show {show_id}"


def which_show(night: Night) -> str:
    """Say that another show is looked at than the one that is to be logged; nothing where it is that one."""
    meant = night.shows[night.shows.show_id == night.to_log]
    if night.row is None or not len(meant) or night.show_id == night.to_log:
        return ""
    state = "The latest one is" if is_logged(night.tables, night.to_log) else "To be logged is"
    return f"You look at another show than the latest. {state} {named(meant.iloc[0])}; choose it below."


def left_typed(night: Night) -> str:
    """Name the other shows for which something was typed and not saved."""
    with opened(night.found.path) as diary:
        kept_ = [(name, diary.draft(draft_of(show)) or {}) for name, show in night.offered() if show != night.show_id]
    left = [name for name, draft in kept_ if any(draft.get(field) for field in ("found", "waiting", "remark", "note"))]
    return f"Typed and not saved yet: {'; '.join(left)}. Choose it below to go on there." if left else ""


def form(path: str | Path | None = None) -> Page:
    """The form for after the show, for a notebook."""
    made = AfterShow(path)
    return Page(made.box, WORDS, lambda: whose_words(made.found).value + made.short.value)
