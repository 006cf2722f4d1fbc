"""Notes: remarks to see again."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from tourstats.diary import shows, songs
from tourstats.diary.shows import show_key
from tourstats.diary.songs import song_key
from tourstats.diary.store.changes import Store
from tourstats.diary.store.values import cleaned, or_today
from tourstats.problems import Problem

NEEDS: dict[str, tuple[tuple[str, str], ...]] = {
    "song": (("song", "the song"),),
    "transition": (("song", "the song"), ("next_song", "the song that follows")),
    "room": (("room", "the kind of venue"),),
    "venue": (("venue", "the name of the venue"),),
    "show": (("show_id", "the number of the show"),),
}
"""What a note needs to be about something."""


def add_note(  # noqa: PLR0913  # the contract names them
    store: Store, /, text: str, about: str = "song", song: str | None = None, next_song: str | None = None,
    room: str | None = None, show_id: object = None, date: object = None, *, personal: bool = False,
    **more: object,
) -> int:  # fmt: skip
    """Add a remark to see again and return its number.

    Parameters
    ----------
    text
        The remark.
    about
        "song" (with `song`; with `room` too it holds in that kind of venue), "transition" (with `song` and
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
         "venue": None, "date": or_today(date), "personal": personal, **more},
    )  # fmt: skip
    with store.atomic(f"the note on {_subject(row)}"):
        return store.insert("notes", linked(store, row))


def change_note(store: Store, note_id: int, /, **columns: object) -> None:
    """Change columns of a note, by the `note_id` that `notes()` shows."""
    row = cleaned("notes", columns)
    with store.atomic("the change to a note"):
        there = store.row("notes", note_id)
        now = {column: there[column] for column in ("date", "about", "room", "show_id", "text", "personal")}
        for column in ("song", "next_song"):
            now[column] = songs.title_of(store, there[f"{column}_id"])
        venue = store.select("select venue from venues where venue_id = ?", (there["venue_id"],)).fetchone()
        now["venue"] = None if venue is None else venue["venue"]
        store.update("notes", there["note_id"], linked(store, {**now, **row}))


def remove_note(store: Store, /, note_id: int) -> None:
    """Take a note out."""
    with store.atomic("the removal of a note"):
        store.write("delete from notes where note_id = ?", (store.row("notes", note_id)["note_id"],))


def linked(store: Store, /, row: dict[str, Any]) -> dict[str, Any]:
    """Look whether a note has what it is about, and put keys in the place of titles."""
    note = {**row, "show_id": None if row["show_id"] is None else show_key(store, row["show_id"])}
    for column, needed in NEEDS[row["about"]]:
        if note.get(column) is None:
            raise Problem(f"A note about a {row['about']} needs {needed}. Add it, or say what the note is about.")
    for column in ("song", "next_song"):
        title = note.pop(column)
        note[f"{column}_id"] = None if title is None else song_key(store, title)
    venue = note.pop("venue")
    note["venue_id"] = None if venue is None else shows.known_venue(store, venue)["venue_id"]
    return note


def _subject(row: Mapping[str, Any]) -> str:
    """What a note is on, in words."""
    if row["about"] == "transition":
        return f'the transition "{row["song"]}" to "{row["next_song"]}"'
    named = {"song": f'"{row["song"]}"', "room": f"the kind of venue {row['room']}", "venue": f'"{row["venue"]}"'}
    return named.get(row["about"], f"show {row['show_id']}")
