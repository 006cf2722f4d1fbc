"""What is added to the diary: each call is one change."""

from __future__ import annotations

import base64
import re
from collections import Counter
from collections.abc import Mapping, Sequence
from datetime import date as day
from datetime import datetime
from typing import Any

import pandas as pd

from tourstats import tables
from tourstats.diary import people as persons
from tourstats.diary.finding import Finding
from tourstats.diary.values import cleaned, is_missing
from tourstats.problems import Problem, TableProblem, counted
from tourstats.tables import STAGES

Row = dict[str, Any]


class Adding(Finding):
    """Songs, shows, sets, rehearsals, reviews, mistakes, notes and who was there."""

    def add_song(self, song: str, **columns: object) -> str:
        """Add a song to the repertoire and return its title as it is kept.

        Parameters
        ----------
        song
            Title; "Salt Road" and "salt road " are one song.
        **columns
            Any other column of `tables.Songs`; `aliases`, `gear` and `samples` may be lists.

        Raises
        ------
        Problem
            If the title is there already, or a value does not fit its column.

        """
        row = cleaned("songs", {"song": song, "status": None, "new_release": None, **columns})
        with self.atomic(f'the new song "{row["song"]}"'):
            self._title_is_free(row["song"])
            self._insert("songs", row)
        return str(row["song"])

    def add_venue(self, venue: str, city: str | None = None, room: str | None = None) -> str:
        """Add a place, or fill in what was not known of it, and return the name it is kept under.

        A second place of the same name in another town is kept as "name, town".
        """
        row = cleaned("venues", {"venue": venue, "city": city, "room": room})
        with self.atomic(f'the venue "{row["venue"]}"'):
            found = self._venue(row["venue"], row["city"], row["room"])
            known = {name: row[name] for name in ("city", "room") if row[name] is not None}
            self._update("venues", found["venue_id"], known)
        return str(found["venue"])

    def add_show(
        self,
        date: object,
        city: str | None = None,
        room: str | None = None,
        venue: str | None = None,
        leg: str | None = None,
        number: int = 1,
        set_minutes: float | None = None,
        recording: str | None = None,
        **more: object,
    ) -> int:
        """Add a show and return its number in the diary.

        Parameters
        ----------
        date
            Day, as a date or as ISO text.
        city, room
            Town and kind of room; what is not said is taken from a venue that the diary knows.
        venue
            Name of the place; added, with town and room, when the diary does not know it.
        leg
            Run of shows. If not said: the leg of the latest show up to that day if it is at most 21 days earlier,
            else of the next show if it is at most 21 days later, else a new one named "leg 1", "leg 2", ….
        number
            First, second, … show of that day.
        set_minutes
            Length of the set that was asked for.
        recording
            Where the recording lies.
        **more
            Any other column of `tables.Shows`.

        Raises
        ------
        Problem
            If that show is there already, or a value does not fit.

        """
        said = {"date": date, "city": city, "room": room, "venue": venue, "leg": leg, "number": number,
                "set_minutes": set_minutes, "recording": recording, **more}  # fmt: skip
        row = cleaned("shows", said)
        with self.atomic() as change:
            self._place(row)
            self._show_is_free(row)
            if row["leg"] is None:
                row["leg"] = self._leg_of(row["date"])
            show_id = self._insert("shows", row)
            change.words = f"the new show {self._called(show_id)}"
        return show_id

    def write_set(
        self,
        show_id: object,
        titles: Sequence[str] | pd.DataFrame,
        stage: str = "planned",
        encore_from: int | None = None,
        pasted: str | None = None,
        remarks: Sequence[str | None] | None = None,
        segues: Sequence[bool] | None = None,
    ) -> None:
        """Write the set of a show, in place of the one that was there, and keep the text it was pasted from.

        Parameters
        ----------
        show_id
            Number of the show.
        titles
            Songs in order; each has to be in the repertoire, by its title or another name it has. Or a table with the
            column `song` and any other of `tables.Plays`, its rows in order.
        stage
            "planned" for what was handed out, "played" for what happened.
        encore_from
            Position of the first song of the encore, from 1.
        pasted
            The text as it came; every version is kept with its time.
        remarks
            What stands behind each title, as many as there are titles; None or "" for nothing.
        segues
            Whether each song goes straight into the next one.

        Whatever of these is not said stays with its song, if the set that was there had it too.

        Raises
        ------
        UnknownSongProblem
            Names the first title that the repertoire does not have, and the nearest ones.
        Problem
            If the show, the stage or the position of the encore does not exist.

        """
        if stage not in STAGES:
            raise TableProblem(f"The `stage` of a set cannot be {stage!r}; it has to be one of {', '.join(STAGES)}.")
        rows = _set_rows(titles, encore_from, {"remark": remarks, "segue": segues})
        with self.atomic() as change:
            key = self._show(show_id)
            change.words = f"the {stage} set of {self._called(key)} ({counted(len(rows), 'song')})"
            for row in rows:
                row["song_id"] = self._song(row.pop("song"), f"Song {row['position']} of the set")
            there = "select * from plays where show_id = ? and stage = ? order by position"
            before = [dict(row) for row in self._query(there, (key, stage)).fetchall()]
            self._write("delete from plays where show_id = ? and stage = ?", (key, stage))
            for row in staying(before, rows):
                self._insert("plays", {**row, "show_id": key, "stage": stage})
            if stage == "played":
                self._move_measured(key, before, rows)
            if pasted is not None and pasted.strip():
                self._keep_text(key, stage, pasted)

    def add_rehearsal(
        self, song: str, way: str, date: object = None, runs: int = 1, minutes: float | None = None, **more: object
    ) -> int:
        """Add runs of a song outside the show and return the row's number.

        More runs of the same song, day and way are added to the row that is there.

        Parameters
        ----------
        song
            Title.
        way
            "listen", "pad", "kit" or "band".
        date
            Day; today if not said.
        runs
            How many times.
        minutes
            How long in all.
        **more
            Any other column of `tables.Rehearsals`.

        """
        given = {"song": song, "way": way, "date": _or_today(date), "runs": runs, "minutes": minutes, **more}
        row = cleaned("rehearsals", given)
        with self.atomic(f'the rehearsal of "{row["song"]}" on {row["date"]}'):
            row["song_id"] = self._song(row.pop("song"))
            same = "select * from rehearsals where date = :date and song_id = :song_id and way = :way"
            there = self._query(same, row).fetchone()
            if there is None:
                return self._insert("rehearsals", row)
            self._update("rehearsals", there["rehearsal_id"], more_runs(there, row))
            return int(there["rehearsal_id"])

    def add_review(self, show_id: object, songs: Sequence[str] | str, listening: int = 1) -> None:
        """Note that songs of a recorded show were listened to, also when nothing was found.

        Parameters
        ----------
        show_id
            Number of the show.
        songs
            Titles, or "all" for every song of the played set. Saying it twice is harmless.
        listening
            1 the first time, 2 again.

        """
        row = cleaned("reviews", {"listening": listening})
        with self.atomic() as change:
            key = self._show(show_id)
            change.words = f"the reviews of {self._called(key)}"
            if songs == "all":
                ids = self._played(key)
            else:
                ids = [self._song(title) for title in ([songs] if isinstance(songs, str) else songs)]
            for song_id in ids:
                self._reviewed(key, song_id, row["listening"])

    def add_mistake(  # noqa: PLR0913, PLR0917  # the contract names them
        self, show_id: object, song: str, kind: str | None, severity: int, section: str | None = None,
        bar: int | None = None, cause: str | None = None, said_by: str | None = None, remark: str | None = None,
        listening: int = 1, at_s: float | None = None, **more: object,
    ) -> int:  # fmt: skip
        """Add what was found in a review and return the row's number; the song then counts as reviewed.

        Parameters
        ----------
        show_id, song
            The show, and the title in its set.
        kind
            What sort; `tables.KINDS` are offered, others may be typed.
        severity
            1 only I heard it, 2 the band did, 3 everyone did.
        section, bar
            Where in the song.
        cause
            "playing", "sound" or "feel".
        said_by, remark
            Who said so, and in which words.
        listening
            1 found the first time, 2 again.
        at_s
            Seconds into the recording.
        **more
            Any other column of `tables.Mistakes`.

        """
        row = cleaned(
            "mistakes",
            {"song": song, "kind": kind, "severity": severity, "section": section, "bar": bar, "cause": cause,
             "said_by": said_by, "remark": remark, "listening": listening, "at_s": at_s, **more},
        )  # fmt: skip
        with self.atomic() as change:
            row["show_id"] = self._show(show_id)
            change.words = f'the mistake in "{row["song"]}" at {self._called(row["show_id"])}'
            row["song_id"] = self._song(row.pop("song"))
            self._reviewed(row["show_id"], row["song_id"], row["listening"])
            return self._insert("mistakes", row)

    def add_worked(self, show_id: object, song: str, remark: str | None = None, **columns: object) -> int:
        """Add what worked, heard in a review, and return the row's number; the song then counts as reviewed.

        Parameters
        ----------
        show_id, song
            The show, and the title in its set.
        remark
            What it was, in words.
        **columns
            Any other column of `tables.Worked`: section, bar, at_s.

        """
        row = cleaned("worked", {"song": song, "remark": remark, **columns})
        with self.atomic() as change:
            row["show_id"] = self._show(show_id)
            change.words = f'what worked in "{row["song"]}" at {self._called(row["show_id"])}'
            row["song_id"] = self._song(row.pop("song"))
            self._reviewed(row["show_id"], row["song_id"], 1)
            return self._insert("worked", row)

    def set_sections(self, song: str, sections: pd.DataFrame | Sequence[Mapping[str, object]]) -> None:
        """Write the shape of a song, in place of the one that was there.

        Parameters
        ----------
        song
            Title.
        sections
            A row a section, in order, with columns of `tables.Sections`; `song` and `position` need not be said.

        """
        rows = [cleaned("sections", {**_said(row, "song"), "position": place})
                for place, row in enumerate(_rows(sections), start=1)]  # fmt: skip
        with self.atomic(f'the shape of "{song}"'):
            song_id = self._song(song)
            self._write("delete from sections where song_id = ?", (song_id,))
            for row in rows:
                self._insert("sections", {**row, "song_id": song_id})

    def set_measured(
        self, show_id: object, measured: pd.DataFrame | Sequence[Mapping[str, object]],
        kept: Mapping[int, bytes] | None = None,
    ) -> None:  # fmt: skip
        """Write what a recording says of the songs of a played set, in place of what was there.

        Parameters
        ----------
        show_id
            Number of the show.
        measured
            A row a place of the played set that was found, with columns of `tables.Measured`; others are left out.
            No row takes all of it away.
        kept
            By position, what the next recordings are held against; it is not exported, a recording gives it again.

        """
        known = tables.columns("measured")
        rows = [
            cleaned("measured", {name: value for name, value in _said(row, "show_id").items() if name in known})
            for row in _rows(measured)
        ]
        with self.atomic() as change:
            key = self._show(show_id)
            change.words = f"what the recording of {self._called(key)} says"
            places = {row["position"] for row in self._set_of(key)}
            self._write("delete from measured where show_id = ?", (key,))
            for row in rows:
                if row["position"] not in places:
                    raise Problem(
                        f"The played set of show {key} has no song {row['position']}. Save what was played first."
                    )
                pack = (kept or {}).get(int(row["position"]))
                words = None if pack is None else base64.b64encode(pack).decode()
                self._insert("measured", {**row, "show_id": key, "kept": words})

    def add_note(
        self, text: str, about: str = "song", song: str | None = None, next_song: str | None = None,
        room: str | None = None, show_id: object = None, date: object = None, *, personal: bool = False,
        **more: object,
    ) -> int:  # fmt: skip
        """Add a remark worth seeing again and return its number.

        Parameters
        ----------
        text
            The remark.
        about
            "song" (with `song`; with `room` too it holds in that kind of room), "transition" (with `song` and
            `next_song`), "room" (with `room`), "venue" (with `venue`) or "show" (with `show_id`).
        song, next_song, room, show_id
            What it is on; any of them, and `venue`, may be said in addition.
        date
            Day it was written; today if not said.
        personal
            Whether to leave it out of what others see.
        **more
            Any other column of `tables.Notes`.

        """
        row = cleaned(
            "notes",
            {"text": text, "about": about, "song": song, "next_song": next_song, "room": room, "show_id": show_id,
             "venue": None, "date": _or_today(date), "personal": personal, **more},
        )  # fmt: skip
        with self.atomic(f"the note on {_subject(row)}"):
            return self._insert("notes", self._linked(row))

    def add_attendance(self, people: pd.DataFrame, *, hashed: bool = False) -> int:
        """Add who was at which show and return how many rows are new.

        Parameters
        ----------
        people
            One row per person and show, columns `person` and `show_id`. Whatever identifies a person is turned into
            a keyed hash before it is written; the diary never holds a name or a ticket number.
        hashed
            Say so when `person` holds such hashes already.

        """
        needed = [name for name in ("person", "show_id") if name not in people.columns]
        if needed:
            raise TableProblem.missing_columns("attendance", needed, people.columns)
        name = _hashed_already if hashed else persons.hasher()
        new = 0
        with self.atomic("the attendance"):
            shows: dict[object, int] = {}
            for person, show_id in zip(people["person"].tolist(), people["show_id"].tolist(), strict=True):
                if show_id not in shows:
                    shows[show_id] = self._show(show_id)
                row = {**cleaned("attendance", {"person": person}), "show_id": shows[show_id]}
                row["person"] = name(row["person"])
                sql = "insert into attendance (person, show_id) values (:person, :show_id) on conflict do nothing"
                new += self._write(sql, row).rowcount
        return new

    def add_counts(self, show_id: object, people: int, earlier: object, returning: int) -> None:
        """Write down how many of a night's audience said that they were at an earlier show.

        Parameters
        ----------
        show_id, people
            The show, and how many were there in all.
        earlier, returning
            The earlier show, and how many of them had been there. Saying it again replaces the count.

        """
        row = cleaned("counts", {"people": people, "returning": returning})
        if row["returning"] > row["people"]:
            raise Problem(f"{row['returning']} came back of {row['people']} in all; it cannot be more than all.")
        with self.atomic() as change:
            row |= {"show_id": self._show(show_id), "earlier": self._show(earlier)}
            change.words = f"the count of people at {self._called(row['show_id'])}"
            if self._when(row["earlier"]) >= self._when(row["show_id"]):
                raise Problem(
                    f"Show {row['earlier']} is not earlier than show {row['show_id']}. Name the show that came first."
                )
            row["came_back"] = row.pop("returning")  # a word that SQLite keeps for itself
            tail = "on conflict (show_id, earlier) do update set people = :people, came_back = :came_back"
            self._insert("counts", row, tail=tail)

    def start_level(self, show_id: object, remark: str | None = None) -> None:
        """Say that your playing starts a new level with this show (a new kit, a lesson, an injury)."""
        row = cleaned("levels", {"remark": remark})
        with self.atomic() as change:
            row["show_id"] = self._show(show_id)
            change.words = f"the new level from {self._called(row['show_id'])}"
            self._insert("levels", row, tail="on conflict (show_id) do update set remark = :remark")

    def _linked(self, row: dict[str, Any]) -> dict[str, Any]:
        """Look whether a note has what it is about, and put keys in the place of titles."""
        note = {**row, "show_id": None if row["show_id"] is None else self._show(row["show_id"])}
        for column, needed in NEEDS[row["about"]]:
            if note.get(column) is None:
                raise Problem(f"A note about a {row['about']} needs {needed}. Add it, or say what the note is about.")
        for column in ("song", "next_song"):
            title = note.pop(column)
            note[f"{column}_id"] = None if title is None else self._song(title)
        venue = note.pop("venue")
        note["venue_id"] = None if venue is None else self._known_venue(venue)["venue_id"]
        return note

    def _move_measured(self, show_id: int, before: Sequence[Row], after: Sequence[Row]) -> None:
        """Let what a recording says stay with its song when the played set is put right."""
        new = _occurrences(after)
        now = {row["position"]: new.get(which) for which, row in _occurrences(before).items()}
        measured = self._query("select * from measured where show_id = ?", (show_id,)).fetchall()
        self._write("delete from measured where show_id = ?", (show_id,))
        for row in measured:
            place = now.get(row["position"])
            if place is not None:
                self._insert("measured", {**dict(row), "position": place["position"]})

    def _keep_text(self, show_id: int, stage: str, text: str) -> None:
        now = datetime.now().isoformat(timespec="seconds")  # noqa: DTZ005  # the clock on the wall
        kept = text.encode("utf-8", "replace").decode("utf-8").replace("\0", "")
        self._insert("pasted", {"show_id": show_id, "stage": stage, "text": kept, "pasted_at": now})

    def _reviewed(self, show_id: int, song_id: int, listening: int) -> None:
        row = {"show_id": show_id, "song_id": song_id, "listening": listening}
        self._insert("reviews", row, tail="on conflict do nothing")


NEEDS: dict[str, tuple[tuple[str, str], ...]] = {
    "song": (("song", "the song"),),
    "transition": (("song", "the song"), ("next_song", "the song that follows")),
    "room": (("room", "the kind of room"),),
    "venue": (("venue", "the name of the place"),),
    "show": (("show_id", "the number of the show"),),
}
"""What a note needs to be about something."""


def more_runs(there: Mapping[str, Any], row: Mapping[str, Any]) -> dict[str, Any]:
    """Add the runs and minutes of one rehearsal to another."""
    minutes = [each for each in (there["minutes"], row["minutes"]) if each is not None]
    return {"runs": there["runs"] + row["runs"], "minutes": sum(minutes) if minutes else None}


def staying(before: Sequence[Row], after: Sequence[Row]) -> list[Row]:
    """Rows of a set with what the set before it said of the same songs, where nothing else is said now.

    A segue stays only where the same song follows.
    """
    old, new = _occurrences(before), _occurrences(after)
    follows = dict(zip(old, [*list(old)[1:], None], strict=False))
    rows = []
    for (which, row), after_it in zip(new.items(), [*list(new)[1:], None], strict=False):
        kept = dict(old.get(which, {}))
        for name in ("play_id", "encore", *(["segue"] if follows.get(which) != after_it else [])):
            kept.pop(name, None)
        rows.append({**kept, **row})
    return rows


def _occurrences(rows: Sequence[Row]) -> dict[tuple[int, int], Row]:
    """Rows of a set by song and how many times it came before."""
    times: Counter[int] = Counter()
    found = {}
    for row in rows:
        found[row["song_id"], times[row["song_id"]]] = row
        times[row["song_id"]] += 1
    return found


def _set_rows(
    titles: Sequence[str] | pd.DataFrame, encore_from: int | None, said: Mapping[str, Sequence[object] | None]
) -> list[Row]:
    """Rows of a set, each cell cleaned; what is not said is not there."""
    known = tables.columns("plays")
    if isinstance(titles, pd.DataFrame):
        rows = [{name: value for name, value in row.items() if name in known} for row in titles.to_dict("records")]
    else:
        rows = [{"song": title} for title in titles]
    for name, values in said.items():
        if values is not None:
            if len(values) != len(rows):
                raise TableProblem(
                    f"The set has {len(rows)} songs, but {len(values)} cells for `{name}`. Give one each."
                )
            rows = [{**row, name: value} for row, value in zip(rows, values, strict=True)]
    first = _encore(encore_from, len(rows))
    made = []
    for position, row in enumerate(rows, start=1):
        title = row.pop("song")
        encore = position >= first if encore_from is not None or "encore" not in row else row["encore"]
        cells = cleaned("plays", {**_said(row, "show_id"), "position": position, "encore": encore})
        made.append({**cells, "song": title})
    return made


def _rows(given: pd.DataFrame | Sequence[Mapping[str, object]]) -> list[Row]:
    return given.to_dict("records") if isinstance(given, pd.DataFrame) else [dict(row) for row in given]


def _said(row: Mapping[str, object], *known: str) -> Row:
    """A row without what is known already."""
    return {name: value for name, value in row.items() if name not in known}


def _encore(encore_from: int | None, songs: int) -> int:
    """Position of the first song of the encore; past the end when there is none."""
    if is_missing(encore_from):
        return songs + 1
    first = cleaned("plays", {"position": encore_from})["position"]
    if first > songs:
        raise Problem(f"The encore cannot start at song {first}: the set has {songs}. Name a position within the set.")
    return int(first)


def _or_today(date: object) -> object:
    return day.today() if is_missing(date) else date  # noqa: DTZ011  # the day on the wall


def _subject(row: Mapping[str, Any]) -> str:
    """What a note is on, in words."""
    if row["about"] == "transition":
        return f'the transition "{row["song"]}" to "{row["next_song"]}"'
    named = {"song": f'"{row["song"]}"', "room": f"the room kind {row['room']}", "venue": f'"{row["venue"]}"'}
    return named.get(row["about"], f"show {row['show_id']}")


def _hashed_already(person: str) -> str:
    """Let a hash pass; a name or an address that slipped in here is not written, nor repeated in the sentence."""
    if re.fullmatch(r"[0-9a-f]{12,}", person) is None:
        raise TableProblem(
            "A `person` among the attendance is not a hash. Leave `hashed` out, so that they are hashed."
        )
    return person
