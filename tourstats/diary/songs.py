"""The repertoire: songs, their shapes, and how a song is found by what a person says."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from sqlite3 import Row
from typing import Any

import pandas as pd

from tourstats import tables
from tourstats.diary.store.changes import Store
from tourstats.diary.store.values import clean_text, cleaned, folded, is_missing, or_today, rows_in, without
from tourstats.problems import Problem, UnknownSongProblem


def add_song(store: Store, /, song: str, **columns: object) -> str:
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
    with store.atomic(f'the new song "{row["song"]}"'):
        title_is_free(store, row["song"])
        store.insert("songs", row)
    return str(row["song"])


def change_song(store: Store, song: str, /, **columns: object) -> None:
    """Change columns of a song; `song="…"` as a column renames it, and its history stays with it.

    Parameters
    ----------
    song
        The title it has now.
    **columns
        Columns of `tables.Songs` and what they should hold; None empties one.

    Examples
    --------
    >>> import tempfile
    >>> from tourstats.diary import opened
    >>> with tempfile.TemporaryDirectory() as folder, opened(f"{folder}/tour.sqlite") as diary:
    ...     diary.add_song("Fery")
    ...     diary.change_song("Fery", song="Ferry", tempo_bpm=96)
    ...     diary.songs()[["song", "tempo_bpm"]].to_dict("records")
    'Fery'
    [{'song': 'Ferry', 'tempo_bpm': 96.0}]

    """
    row = cleaned("songs", columns)
    with store.atomic(f'the change to the song "{song}"'):
        song_id = song_key(store, song)
        if "song" in row:
            title_is_free(store, row["song"], but=song_id)
        store.update("songs", song_id, row)


def merge_songs(store: Store, /, wrong: str, right: str) -> None:
    """Make one song of two: what was written down for `wrong` goes to `right`, and its name with it."""
    with store.atomic(f'the merge of "{wrong}" into "{right}"'):
        old, new = song_key(store, wrong), song_key(store, right)
        if old == new:
            raise Problem(f'"{wrong}" and "{right}" are one song already. Name two songs.')
        for table, column in (("plays", "song_id"), ("mistakes", "song_id"), ("worked", "song_id"),
                              ("tested", "song_id"), ("notes", "song_id"), ("notes", "next_song_id")):  # fmt: skip
            store.write(f"update {table} set {column} = ? where {column} = ?", (new, old))
        _merge_rehearsals(store, old, new)
        store.write("update or ignore reviews set song_id = ? where song_id = ?", (new, old))
        store.write("delete from reviews where song_id = ?", (old,))
        if not store.select("select 1 from sections where song_id = ?", (new,)).fetchone():
            store.write("update sections set song_id = ? where song_id = ?", (new, old))
        store.write("delete from sections where song_id = ?", (old,))
        _merge_names(store, old, new)
        store.write("delete from songs where song_id = ?", (old,))


def set_sections(store: Store, /, song: str, sections: pd.DataFrame | Sequence[Mapping[str, object]]) -> None:
    """Write the shape of a song, in place of the one that was there.

    Parameters
    ----------
    song
        Title.
    sections
        A row a section, in order, with columns of `tables.Sections`; `song` and `position` need not be said.

    """
    rows = [cleaned("sections", {**without(row, "song"), "position": place})
            for place, row in enumerate(rows_in(sections), start=1)]  # fmt: skip
    with store.atomic(f'the shape of "{song}"'):
        song_id = song_key(store, song)
        store.write("delete from sections where song_id = ?", (song_id,))
        for row in rows:
            store.insert("sections", {**row, "song_id": song_id})


def write_shape(store: Store, /, song: str, read: pd.DataFrame) -> None:
    """Write a shape that `reading.shapes` read, and how the song is counted in where that was said, as one change."""
    with store.atomic(f'the shape of "{song}"'):
        set_sections(store, song, read[["name", "bars", "feel", "leads", "cue", "hits"]])
        if read.attrs.get("start"):
            change_song(store, song, count_in=read.attrs["start"])


def add_tested(store: Store, /, song: str, asked: str, known: bool, date: object = None) -> None:
    """Note that a question about a song's shape was asked, and whether its answer was known.

    Parameters
    ----------
    song
        Title.
    asked
        The question, as it was put.
    known
        Whether the answer was known.
    date
        Day; today if not said.

    """
    row = cleaned("tested", {"song": song, "asked": asked, "known": known, "date": or_today(date)})
    with store.atomic(f'an answer about "{row["song"]}"'):
        row["song_id"] = song_key(store, row.pop("song"))
        store.insert("tested", row)


def song_key(store: Store, /, title: object, where: str = "") -> int:
    """Key of a song by its title, in any letter case, or by another name that fits it alone."""
    if not isinstance(title, str) or is_missing(title):
        raise Problem(f"{where or 'Here'}: a title is missing. Type the song's title.")
    found = store.select("select song_id from songs where song = ?", (title,)).fetchone()
    if found is None:
        found = _by_any_name(store, title)
    if found is None:
        raise UnknownSongProblem.of(clean_text(title, one_line=True), _nearest(store, title), where)
    return int(found["song_id"])


def title_of(store: Store, /, song_id: int | None) -> str | None:
    """Title of a song by its key."""
    found = store.select("select song from songs where song_id = ?", (song_id,)).fetchone()
    return None if found is None else str(found["song"])


def title_is_free(store: Store, /, title: str, but: int = 0) -> None:
    """Refuse a title that another song has."""
    wanted = folded(title)
    for row in store.select("select song_id, song from songs where song_id <> ?", (but,)):
        if folded(row["song"]) == wanted:
            raise Problem(f'"{row["song"]}" is in the repertoire already. Change that song, or take another title.')


def more_runs(there: Mapping[str, Any], row: Mapping[str, Any]) -> dict[str, Any]:
    """Add the runs and minutes of one rehearsal to another."""
    minutes = [each for each in (there["minutes"], row["minutes"]) if each is not None]
    return {"runs": there["runs"] + row["runs"], "minutes": sum(minutes) if minutes else None}


def _by_any_name(store: Store, title: str) -> Row | None:
    wanted = folded(title)
    songs = store.select("select song_id, song, aliases from songs").fetchall()
    named = [row for row in songs if folded(row["song"]) == wanted]
    named = named or [row for row in songs if wanted in map(folded, tables.items(row["aliases"]))]
    return named[0] if len(named) == 1 else None


def _nearest(store: Store, title: str) -> list[str]:
    """Give the three titles that look most alike, if any does."""
    from rapidfuzz import fuzz, process  # noqa: PLC0415  # only when a title is unknown

    titles = [row["song"] for row in store.select("select song from songs order by song_id")]
    found = process.extract(title, titles, scorer=fuzz.ratio, processor=folded, limit=3, score_cutoff=50)
    return [match[0] for match in found]


def _merge_rehearsals(store: Store, old: int, new: int) -> None:
    for row in store.select("select * from rehearsals where song_id = ?", (old,)).fetchall():
        same = "select * from rehearsals where song_id = ? and date = ? and way = ?"
        there = store.select(same, (new, row["date"], row["way"])).fetchone()
        if there is None:
            store.update("rehearsals", row["rehearsal_id"], {"song_id": new})
        else:
            store.update("rehearsals", there["rehearsal_id"], more_runs(there, row))
            store.write("delete from rehearsals where rehearsal_id = ?", (row["rehearsal_id"],))


def _merge_names(store: Store, old: int, new: int) -> None:
    rows = [store.select("select * from songs where song_id = ?", (key,)).fetchone() for key in (new, old)]
    names = [
        *tables.items(rows[0]["aliases"]),
        rows[1]["song"].replace(";", ","),
        *tables.items(rows[1]["aliases"]),
    ]
    once = {folded(name): name for name in reversed(names) if folded(name) != folded(rows[0]["song"])}
    kept = f"{tables.BETWEEN_ITEMS} ".join(reversed(once.values()))
    store.update("songs", new, {"aliases": kept or None})
