"""Sets, as they were planned and as they were played, and what a recording says of each place."""

from __future__ import annotations

import base64
from collections import Counter
from collections.abc import Mapping, Sequence
from datetime import datetime
from sqlite3 import Row
from typing import Any

import pandas as pd

from tourstats import tables
from tourstats.diary import shows
from tourstats.diary.shows import show_key
from tourstats.diary.songs import song_key
from tourstats.diary.store.changes import Store
from tourstats.diary.store.values import cleaned, is_missing, rows_in, without
from tourstats.problems import Problem, TableProblem, counted
from tourstats.tables import STAGES

Cells = dict[str, Any]


def write_set(
    store: Store,
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
    with store.atomic() as change:
        key = show_key(store, show_id)
        change.words = f"the {stage} set of {shows.called(store, key)} ({counted(len(rows), 'song')})"
        for row in rows:
            row["song_id"] = song_key(store, row.pop("song"), f"Song {row['position']} of the set")
        there = "select * from plays where show_id = ? and stage = ? order by position"
        before = [dict(row) for row in store.select(there, (key, stage)).fetchall()]
        store.write("delete from plays where show_id = ? and stage = ?", (key, stage))
        for row in staying(before, rows):
            store.insert("plays", {**row, "show_id": key, "stage": stage})
        if stage == "played":
            _move_measured(store, key, before, rows)
        if pasted is not None and pasted.strip():
            _keep_text(store, key, stage, pasted)


def set_measured(
    store: Store, /, show_id: object, measured: pd.DataFrame | Sequence[Mapping[str, object]],
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
        cleaned("measured", {name: value for name, value in without(row, "show_id").items() if name in known})
        for row in rows_in(measured)
    ]
    with store.atomic() as change:
        key = show_key(store, show_id)
        change.words = f"what the recording of {shows.called(store, key)} says"
        places = {row["position"] for row in rows_of(store, key)}
        store.write("delete from measured where show_id = ?", (key,))
        for row in rows:
            if row["position"] not in places:
                raise Problem(
                    f"The played set of show {key} has no song {row['position']}. Save what was played first."
                )
            pack = (kept or {}).get(int(row["position"]))
            words = None if pack is None else base64.b64encode(pack).decode()
            store.insert("measured", {**row, "show_id": key, "kept": words})


def kept(store: Store, /, songs: Sequence[str] | None = None) -> pd.DataFrame:
    """What is kept of recorded performances, by order of shows and position.

    Parameters
    ----------
    songs
        Titles; all of them if not said.

    Returns
    -------
    DataFrame
        show_id, position, song, and `kept`: bytes as `tourstats.recording` packs them.

    """
    sql = (
        "select m.show_id, m.position, g.song, m.kept from measured m join shows s on s.show_id = m.show_id "
        "join plays p on p.show_id = m.show_id and p.position = m.position and p.stage = 'played' "
        "join songs g on g.song_id = p.song_id where m.kept is not null "
        "order by s.date, s.number, s.show_id, m.position"
    )
    rows = [
        (row["show_id"], row["position"], row["song"], base64.b64decode(row["kept"]))
        for row in store.select(sql)
        if songs is None or row["song"] in songs
    ]
    return pd.DataFrame(rows, columns=["show_id", "position", "song", "kept"])


def rows_of(store: Store, /, show_id: int) -> list[Row]:
    """Rows of a played set, in order."""
    sql = "select * from plays where show_id = ? and stage = 'played' order by position"
    return store.select(sql, (show_id,)).fetchall()


def played(store: Store, /, show_id: int) -> list[int]:
    """Keys of the songs of a played set, each once."""
    ids = list(dict.fromkeys(row["song_id"] for row in rows_of(store, show_id)))
    if not ids:
        raise Problem(f"Show {show_id} has no played set yet. Save what was played first, then review it.")
    return ids


def staying(before: Sequence[Cells], after: Sequence[Cells]) -> list[Cells]:
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


def _occurrences(rows: Sequence[Cells]) -> dict[tuple[int, int], Cells]:
    """Rows of a set by song and how many times it came before."""
    times: Counter[int] = Counter()
    found = {}
    for row in rows:
        found[row["song_id"], times[row["song_id"]]] = row
        times[row["song_id"]] += 1
    return found


def _set_rows(
    titles: Sequence[str] | pd.DataFrame, encore_from: int | None, columns: Mapping[str, Sequence[object] | None]
) -> list[Cells]:
    """Rows of a set, each cell cleaned; what is not said is not there."""
    known = tables.columns("plays")
    if isinstance(titles, pd.DataFrame):
        rows = [{name: value for name, value in row.items() if name in known} for row in titles.to_dict("records")]
    else:
        rows = [{"song": title} for title in titles]
    for name, values in columns.items():
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
        cells = cleaned("plays", {**without(row, "show_id"), "position": position, "encore": encore})
        made.append({**cells, "song": title})
    return made


def _encore(encore_from: int | None, songs: int) -> int:
    """Position of the first song of the encore; past the end when there is none."""
    if is_missing(encore_from):
        return songs + 1
    first = cleaned("plays", {"position": encore_from})["position"]
    if first > songs:
        raise Problem(f"The encore cannot start at song {first}: the set has {songs}. Name a position within the set.")
    return int(first)


def _move_measured(store: Store, show_id: int, before: Sequence[Cells], after: Sequence[Cells]) -> None:
    """Let what a recording says stay with its song when the played set is put right."""
    new = _occurrences(after)
    now = {row["position"]: new.get(which) for which, row in _occurrences(before).items()}
    measured = store.select("select * from measured where show_id = ?", (show_id,)).fetchall()
    store.write("delete from measured where show_id = ?", (show_id,))
    for row in measured:
        place = now.get(row["position"])
        if place is not None:
            store.insert("measured", {**dict(row), "position": place["position"]})


def _keep_text(store: Store, show_id: int, stage: str, text: str) -> None:
    now = datetime.now().isoformat(timespec="seconds")  # noqa: DTZ005  # the clock on the wall
    kept = text.encode("utf-8", "replace").decode("utf-8").replace("\0", "")
    store.insert("pasted", {"show_id": show_id, "stage": stage, "text": kept, "pasted_at": now})


def pasted(store: Store) -> pd.DataFrame:
    """Every text that a set was pasted from.

    Returns
    -------
    DataFrame
        One row per text, by order of shows and then time, with columns

        show_id : int
            Number of the show.
        stage : str
            "planned" or "played".
        text : str
            As it came.
        pasted_at : str
            When, as ISO text to the second, by the clock of this machine.

    """
    return store.frame("pasted")
