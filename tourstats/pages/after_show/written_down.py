"""What the diary has of this show, each with a way to take it out again."""

from __future__ import annotations

from dataclasses import dataclass

import ipywidgets as w
import pandas as pd

from tourstats.models.song import in_words
from tourstats.pages.after_show.findings_form import mistake
from tourstats.pages.after_show.notes_and_runs import HOW, subject
from tourstats.pages.kit import links, look
from tourstats.pages.kit.show_written import Night
from tourstats.pages.kit.undoing import undo_button
from tourstats.pages.kit.widgets import Said, button
from tourstats.pages.kit.widgets import row as side_by_side
from tourstats.problems import counted


@dataclass(frozen=True)
class Entry:
    """One thing that is written down: what it is, in words, and how it is taken out."""

    key: str
    words: str
    method: str
    what: tuple[object, ...]
    hear: str = ""
    """Address at which it is heard, ready for an attribute."""


class WrittenDown:
    """The list, with Remove beside each entry and Undo above."""

    def __init__(self, night: Night) -> None:
        self.night = night
        self.said = Said()
        self.list = w.VBox([])
        self._rows: dict[Entry, w.HBox] = {}
        self.undo = undo_button(night.found, self.said, night.changed)
        self.box = w.VBox([self.undo, self.said, self.list])
        self.fill()

    def fill(self) -> None:
        """Show what is there; rows that are still the same stay as they are."""
        entries = written_down(self.night)
        self._rows = {entry: self._rows.get(entry) or self._row(entry) for entry in entries}
        self.list.children = tuple(self._rows.values())

    def _row(self, entry: Entry) -> w.HBox:
        hear = f' <a href="{entry.hear}">Hear it</a>' if entry.hear else ""
        words = w.HTML(links.linked(entry.words) + hear)
        words.add_class("saved-line")
        remove = button("Remove", lambda: self._remove(entry), self.said)
        remove.tooltip = f"Remove: {entry.words}"
        made = side_by_side(words, remove)
        made.add_class("saved-row")
        return made

    def _remove(self, entry: Entry) -> None:
        with self.night.writing() as diary:
            getattr(diary, entry.method)(*entry.what)
        self.night.changed()
        self.said.done(f"Removed: {entry.words}. Undo brings it back.")


def written_down(night: Night) -> list[Entry]:
    """Everything that the diary has of this show: the played set, reviews, mistakes, notes, runs of the day."""
    if night.show_id is None:
        return []
    return [*_played(night), *_reviewed(night), *_mistakes(night), *_worked(night), *_notes(night), *_runs(night)]


def in_short(night: Night) -> str:
    """How far the writing down has come."""
    if night.show_id is None:
        return "There is no show in the diary yet. Paste the set on the page Show day first."
    reviews, mistakes = (_of(night, name) for name in ("reviews", "mistakes"))
    songs = night.plays.song.nunique()
    said = [
        f"{counted(len(night.played), 'song')} played" if len(night.played) else "What was played is not saved yet",
        f"{reviews.song.nunique()} of {songs} reviewed",
        counted(len(mistakes), "mistake"),
    ]
    return ", ".join(said) + "."


def set_state(night: Night) -> str:
    """The set with the numbers of the printed sheet, and of each song whether it was reviewed and what was found."""
    if not len(night.plays):
        return ""
    reviewed = set(_of(night, "reviews").song)
    found = _of(night, "mistakes").song.value_counts()
    lines = []
    for row in night.numbered.itertuples():
        said = [counted(int(found.get(row.song, 0)), "finding")] if found.get(row.song, 0) else []
        said += [] if row.song not in reviewed or said else ["reviewed"]
        state = f" <span class='new'>{', '.join(said)}</span>" if said else ""
        lines.append(
            f"<li><span class='no'>{row.position}</span><span class='what'>{links.to_song(row.song)}{state}</span></li>"
        )
    dropped = night.planned[~night.planned.position.isin(night.numbered.position)]
    gone = f"<p>Not played: {links.linked(', '.join(f'{row.position} {row.song}' for row in dropped.itertuples()))}</p>"
    return f"{look.DAY}<ol class='tourstats-state'>{''.join(lines)}</ol>{gone if len(dropped) else ''}"


def _of(night: Night, table: str) -> pd.DataFrame:
    frame: pd.DataFrame = getattr(night.tables, table)
    return frame[frame.show_id == night.show_id]


def _played(night: Night) -> list[Entry]:
    if not len(night.played):
        return []
    how = "as planned" if not night.differs else "with changes" if len(night.planned) else "without a planned set"
    return [
        Entry(
            "played",
            f"Played {how}: {counted(len(night.played), 'song')}",
            "write_set",
            (
                night.show,
                (),
                "played",
            ),
        )
    ]


def _reviewed(night: Night) -> list[Entry]:
    """Reviews as one entry a listening; taking it out leaves the songs in which something was found."""
    reviews, mistakes, entries = _of(night, "reviews"), _of(night, "mistakes"), []
    for listening, heard in reviews.groupby("listening"):
        found = set(mistakes.song[mistakes.listening == listening])
        clean = [song for song in heard.song if song not in found]
        again = " again" if listening != 1 else ""
        every = set(night.plays.song) <= set(heard.song)
        which = "all songs" if every else ", ".join(night.place(song) for song in heard.song)
        if clean:
            entries.append(
                Entry(
                    f"reviews {listening}",
                    f"Reviewed{again}: {which}",
                    "remove_review",
                    (
                        night.show,
                        tuple(clean),
                        int(listening),
                    ),
                )
            )
    return entries


def _heard(night: Night, at_s: object) -> str:
    """Where a moment of the recording is heard; nothing for a finding without one."""
    if at_s is None or pd.isna(at_s):
        return ""
    return links.to_page("listening", show=str(night.show_id), at=str(at_s))


def _mistakes(night: Night) -> list[Entry]:
    return [
        Entry(
            f"mistake {row['mistake_id']}",
            " — ".join(
                filter(None, (f"{night.place(row['song'])}: {mistake(row)}", in_words(row["remark"], row["song"])))
            ),
            "remove_mistake",
(int(row["mistake_id"]),),
            _heard(night, row["at_s"]),
        )
        for row in _of(night, "mistakes").to_dict("records")
    ]  # fmt: skip


def _worked(night: Night) -> list[Entry]:
    return [
        Entry(
            f"worked {row['worked_id']}",
            f"{night.place(row['song'])}: worked: {in_words(row['remark'], row['song']) or row['section']}",
            "remove_worked",
            (int(row["worked_id"]),),
            _heard(night, row["at_s"]),
        )
        for row in _of(night, "worked").to_dict("records")
    ]


def _notes(night: Night) -> list[Entry]:
    entries = []
    for row in _of(night, "notes").to_dict("records"):
        about = {name: row[name] for name in ("about", "song", "next_song", "room") if isinstance(row[name], str)}
        own = ", only for me" if row["personal"] else ""
        entries.append(
            Entry(
                f"note {row['note_id']}",
                f"Note on {subject(about)}{own}: {row['text']}",
                "remove_note",
                (int(row["note_id"]),),
            )
        )
    return entries


def _runs(night: Night) -> list[Entry]:
    runs = night.tables.rehearsals
    entries = []
    for row in runs[runs.date.dt.date == night.day].to_dict("records"):
        minutes = f", {row['minutes']:g} minutes" if row["minutes"] == row["minutes"] else ""  # NaN
        entries.append(
            Entry(
                f"run {row['rehearsal_id']}",
                f"Run: {row['song']}, {HOW[row['way']]}, {row['runs']} times{minutes}".replace(" 1 times", " once"),
                "remove_rehearsal",
                (int(row["rehearsal_id"]),),
            )
        )
    return entries
