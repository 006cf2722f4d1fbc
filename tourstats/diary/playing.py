"""How the songs go: rehearsals, reviews, mistakes, what worked."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from tourstats.diary import sets, shows, songs
from tourstats.diary.shows import show_key
from tourstats.diary.songs import song_key
from tourstats.diary.store.changes import Store
from tourstats.diary.store.values import cleaned, or_today
from tourstats.problems import counted


def add_rehearsal(
    store: Store, /, song: str, way: str, date: object = None, runs: int = 1, minutes: float | None = None,
    **more: object,
) -> int:  # fmt: skip
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
    given = {"song": song, "way": way, "date": or_today(date), "runs": runs, "minutes": minutes, **more}
    row = cleaned("rehearsals", given)
    with store.atomic(f'the rehearsal of "{row["song"]}" on {row["date"]}'):
        row["song_id"] = song_key(store, row.pop("song"))
        same = "select * from rehearsals where date = :date and song_id = :song_id and way = :way"
        there = store.select(same, row).fetchone()
        if there is None:
            return store.insert("rehearsals", row)
        store.update("rehearsals", there["rehearsal_id"], songs.more_runs(there, row))
        return int(there["rehearsal_id"])


def remove_rehearsal(store: Store, /, rehearsal_id: int) -> None:
    """Take a rehearsal out, by the `rehearsal_id` that `rehearsals()` shows."""
    with store.atomic() as change:
        there = store.row("rehearsals", rehearsal_id)
        change.words = f'the removal of the rehearsal of "{songs.title_of(store, there["song_id"])}" on {there["date"]}'
        store.write("delete from rehearsals where rehearsal_id = ?", (there["rehearsal_id"],))


def add_review(store: Store, /, show_id: object, songs: Sequence[str] | str, listening: int = 1) -> None:
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
    with store.atomic() as change:
        key = show_key(store, show_id)
        change.words = f"the reviews of {shows.called(store, key)}"
        if songs == "all":
            ids = sets.played(store, key)
        else:
            ids = [song_key(store, title) for title in ([songs] if isinstance(songs, str) else songs)]
        for song_id in ids:
            reviewed(store, key, song_id, row["listening"])


def rest_was_clean(store: Store, /, shows_heard: Sequence[object]) -> int:
    """Note that whole shows were listened to, and that nothing was found but what stands there: one change.

    Parameters
    ----------
    shows_heard
        Numbers of the shows.

    Returns
    -------
    int
        How many songs of their sets count as reviewed now and did not before.

    """
    with store.atomic() as change:
        change.words = f"{counted(len(shows_heard), 'show')} heard whole"
        before = store.select("select count(*) from reviews").fetchone()[0]
        for show_id in shows_heard:
            key = show_key(store, show_id)
            for song_id in sets.played(store, key):
                reviewed(store, key, song_id, 1)
        return int(store.select("select count(*) from reviews").fetchone()[0] - before)


def set_figure(store: Store, /, setting: str, figure: float) -> None:
    """Choose a figure: "heard more" is what a mistake weighs for each step of severity, times the step before."""
    row = cleaned("settings", {"setting": setting, "figure": figure})
    with store.atomic(f'the figure of "{row["setting"]}"'):
        store.insert("settings", row, tail="on conflict (setting) do update set figure = :figure")


def remove_review(store: Store, /, show_id: object, songs: Sequence[str] | str, listening: int = 1) -> None:
    """Say that songs of a show were not reviewed after all; their mistakes of that listening go too.

    Parameters
    ----------
    show_id, songs, listening
        As in `add_review`.

    """
    row = cleaned("reviews", {"listening": listening})
    with store.atomic() as change:
        key = show_key(store, show_id)
        change.words = f"the removal of reviews of {shows.called(store, key)}"
        titles = [songs] if isinstance(songs, str) else songs
        ids = sets.played(store, key) if songs == "all" else [song_key(store, title) for title in titles]
        for song_id in ids:
            for table in ("mistakes", "reviews"):
                store.write(
                    f"delete from {table} where show_id = ? and song_id = ? and listening = ?",
                    (key, song_id, row["listening"]),
                )


def add_mistake(  # noqa: PLR0913, PLR0917  # the contract names them
    store: Store, /, show_id: object, song: str, kind: str | None, severity: int, section: str | None = None,
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
    with store.atomic() as change:
        row["show_id"] = show_key(store, show_id)
        change.words = f'the mistake in "{row["song"]}" at {shows.called(store, row["show_id"])}'
        row["song_id"] = song_key(store, row.pop("song"))
        reviewed(store, row["show_id"], row["song_id"], row["listening"])
        return store.insert("mistakes", row)


def change_mistake(store: Store, mistake_id: int, /, **columns: object) -> None:
    """Change columns of a mistake, by the `mistake_id` that `mistakes()` shows."""
    row = cleaned("mistakes", columns)
    with store.atomic() as change:
        there = store.row("mistakes", mistake_id)
        if "show_id" in row:
            row["show_id"] = show_key(store, row["show_id"])
        if "song" in row:
            row["song_id"] = song_key(store, row.pop("song"))
        store.update("mistakes", there["mistake_id"], row)
        now = {**there, **row}
        reviewed(store, now["show_id"], now["song_id"], now["listening"])
        change.words = f"the change to {_mistake_called(store, now)}"


def remove_mistake(store: Store, /, mistake_id: int) -> None:
    """Take a mistake out; the song stays reviewed."""
    with store.atomic() as change:
        there = store.row("mistakes", mistake_id)
        change.words = f"the removal of {_mistake_called(store, there)}"
        store.write("delete from mistakes where mistake_id = ?", (there["mistake_id"],))


def add_worked(store: Store, /, show_id: object, song: str, remark: str | None = None, **columns: object) -> int:
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
    with store.atomic() as change:
        row["show_id"] = show_key(store, show_id)
        change.words = f'what worked in "{row["song"]}" at {shows.called(store, row["show_id"])}'
        row["song_id"] = song_key(store, row.pop("song"))
        reviewed(store, row["show_id"], row["song_id"], 1)
        return store.insert("worked", row)


def remove_worked(store: Store, /, worked_id: int) -> None:
    """Take out what worked, by the `worked_id` that `worked()` shows; the song stays reviewed."""
    with store.atomic("the removal of what worked"):
        store.write("delete from worked where worked_id = ?", (store.row("worked", worked_id)["worked_id"],))


def reviewed(store: Store, /, show_id: int, song_id: int, listening: int) -> None:
    """Note that a song was listened to; saying it twice is harmless."""
    row = {"show_id": show_id, "song_id": song_id, "listening": listening}
    store.insert("reviews", row, tail="on conflict do nothing")


def _mistake_called(store: Store, row: dict[str, Any]) -> str:
    return f'the mistake in "{songs.title_of(store, row["song_id"])}" at {shows.called(store, row["show_id"])}'
