"""Notes and runs: a line and Enter for notes, and a row for what was rehearsed."""

from __future__ import annotations

import re
from datetime import date, timedelta

import ipywidgets as w

from tourstats.pages.kit import tables_shown
from tourstats.pages.kit.plan_run import write_down
from tourstats.pages.kit.show_written import Night
from tourstats.pages.kit.widgets import (
    LABEL,
    WIDE,
    LinesAtEnter,
    Said,
    button,
    choice,
    letters,
    lines,
    on_enter,
    row,
    text,
)  # fmt: skip
from tourstats.problems import Problem
from tourstats.reading.titles import SURE, index
from tourstats.tables import WAYS

AS_SAID, SHOW, SONG, TRANSITION, ROOM, SONG_IN_ROOM = range(6)
ON = [
    ("what the line names, else this show", AS_SAID),
    ("this show", SHOW),
    ("a song", SONG),
    ("a transition: this song and the next", TRANSITION),
    ("this kind of venue", ROOM),
    ("a song in this kind of venue", SONG_IN_ROOM),
]
HOW = {"listen": "by listening", "pad": "on a pad", "kit": "at the kit", "band": "with the band"}
WEEK = 7
"""Days before and after a show that are offered for its runs."""
_FOLLOWED = re.compile(r"\s*(?:>|→|->)\s*")


class Notes:
    """A note: a line and Enter; `SONG: note` and `SONG > SONG: note` say what it is on."""

    def __init__(self, night: Night) -> None:
        self.night = night
        self.said = Said()
        self.line = lines("Note", 2, placeholder="5: lights go out before the last hit\nEnter saves it")
        self.on = choice("It is on", ON)
        self.song = letters("Song", placeholder="its number, or letters of its title")
        self.personal = w.Checkbox(description="only for me", indent=False, layout=w.Layout(width="auto"))
        self.lines = LinesAtEnter(self.line, self._take, self.said)
        night.after.append(self.lines.forget)
        self.on.observe(lambda _: self.fill(), names="value")
        self.box = w.VBox([self.line, self.said, self.on, self.song, self.personal])
        self.fill()

    def fill(self) -> None:
        """Ask for a song only where one is needed."""
        self.lines.forget()
        self.song.options = tuple(self.night.titles())
        self.song.layout = w.Layout(
            width="98%", display="" if self.on.value in (SONG, TRANSITION, SONG_IN_ROOM) else "none"
        )

    def save(self, text_: str) -> None:
        """Save one note."""
        about, note = self._about(text_.strip())
        with self.night.writing() as diary:
            diary.add_note(
                note, **about, show_id=self.night.show, date=self.night.day, personal=bool(self.personal.value)
            )
        self.song.value = ""
        self.night.changed()
        self.said.done(f"Saved the note on {subject(about)}.")

    def _take(self, typed: str) -> None:
        if typed.strip():
            self.save(" ".join(typed.split()))

    def _about(self, note: str) -> tuple[dict[str, str], str]:
        """What a note is on, and its words."""
        on = self.on.value
        if on == AS_SAID:
            return self._named(note)
        room = self.night.row.room if self.night.row is not None else None
        if on in (ROOM, SONG_IN_ROOM) and not isinstance(room, str):
            raise Problem("Nobody has said what kind of venue this show is in. Say that first, or choose another.")
        if on == SHOW:
            return {"about": "show"}, note
        if on == ROOM:
            return {"about": "room", "room": str(room)}, note
        song = self.night.song(self.song.value)
        if on == TRANSITION:
            return {"about": "transition", "song": song, "next_song": self._next(song)}, note
        return {"about": "song", "song": song, **({"room": str(room)} if on == SONG_IN_ROOM else {})}, note

    def _named(self, note: str) -> tuple[dict[str, str], str]:
        """Look in front of a colon for a song, or for two with a sign between."""
        front, colon, rest = note.partition(":")
        if colon and rest.strip():
            songs = [self._surely(part) for part in _FOLLOWED.split(front.strip())]
            if len(songs) == 1 and songs[0]:
                return {"about": "song", "song": songs[0]}, rest.strip()
            if len(songs) == 2 and songs[0] and songs[1]:  # noqa: PLR2004  # from one into another
                return {"about": "transition", "song": songs[0], "next_song": songs[1]}, rest.strip()
        return {"about": "show"}, note

    def _surely(self, typed: str) -> str | None:
        if typed.lstrip("#").isdigit():
            return self.night.song(typed)
        match = index(self.night.songs).match(typed) if typed else None
        return match.song if match is not None and match.verdict == SURE else None

    def _next(self, song: str) -> str:
        plays = self.night.plays
        after = plays.song.shift(-1)[plays.song == song].dropna()
        if not len(after):
            raise Problem(f'No song follows "{song}" in this set. Write "SONG > SONG: note" instead.')
        return str(after.iloc[0])


class Runs:
    """What was run outside the show, on its day unless another is chosen."""

    def __init__(self, night: Night) -> None:
        self.night = night
        self.said = Said()
        self.day = choice("Day", [])
        self.songs = text("Songs", placeholder="3, 5-7, or letters of titles")
        self.way = choice("How", [(HOW[way], way) for way in WAYS], value="kit")
        self.runs = w.BoundedIntText(description="Runs each", value=1, min=1, max=99, layout=WIDE, style=LABEL)
        self.minutes = text("Minutes each", placeholder="may stay empty")
        on_enter(self.songs, self.save, self.said)
        on_enter(self.minutes, self.save, self.said)
        plan = button("I ran the plan", self.save_plan, self.said, main=True)
        save = button("Save the runs", self.save, self.said)
        self.box = w.VBox([row(plan), self.day, self.songs, self.way, self.runs, self.minutes, row(save), self.said])
        self.fill()

    def fill(self) -> None:
        """Offer the day of this show, the week before and after it, and today."""
        own, today = self.night.day, date.today()  # noqa: DTZ011  # the day on the wall
        days = {own + timedelta(days=ago) for ago in range(-WEEK, WEEK + 1)}
        days = {day for day in days if day <= max(own, today)} | {own, max(own, today)}
        self.day.options = [(tables_shown.cell(day), day) for day in sorted(days, reverse=True)]
        self.day.value = own

    def save_plan(self) -> None:
        """Save the runs that the show day planned, as one change, on the day of the show."""
        self.said.done(write_down(self.night, self.way.value))

    def save(self) -> None:
        """Save a row for each song, as one change."""
        songs = self.night.several(self.songs.value)
        minutes, day = _minutes(self.minutes.value), self.day.value
        with self.night.writing() as diary, diary.atomic():
            for song in songs:
                diary.add_rehearsal(song, self.way.value, day, self.runs.value, minutes)
        self.songs.value = ""
        self.night.changed()
        self.said.done(f"Saved: {', '.join(songs)}, {HOW[self.way.value]}, on {tables_shown.cell(day)}.")


def subject(about: dict[str, str]) -> str:
    """What a note is on, in words.

    Examples
    --------
    >>> subject({"about": "transition", "song": "Ferry", "next_song": "Tin Rook"})
    'Ferry into Tin Rook'

    """
    if about["about"] == "transition":
        return f"{about['song']} into {about['next_song']}"
    if about["about"] == "song":
        return about["song"] + (f" in a {about['room']}" if "room" in about else "")
    return f"kind of venue: {about['room']}" if about["about"] == "room" else "this show"


def _minutes(typed: str) -> float | None:
    said = typed.strip().replace(",", ".")
    if not said:
        return None
    try:
        return float(said)
    except ValueError as error:
        raise Problem(f'The minutes are a number; "{typed.strip()}" is not one.') from error
