"""The demo tour in a diary."""

from __future__ import annotations

import csv
import hashlib
import io
import os
import tempfile
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path
from typing import Any

import pandas as pd
import platformdirs

from tourstats.demo.process import SEED, tour
from tourstats.demo.typed import KEY, files
from tourstats.diary.history import read_history, write_history
from tourstats.diary.store import Diary, opened

PLAYED = ("sets_leg1.csv", "sets_leg2.csv", "sets_leg3.txt")
HANDED_OUT = "handouts_leg3.txt"
Row = dict[str, Any]


def fill(diary: Diary, seed: int = SEED) -> None:
    """Take the files of the demo tour into an empty diary, as one change.

    Parameters
    ----------
    diary
        Open and empty.
    seed
        Another seed, another tour of the same band.

    """
    made = files(seed)
    with diary.atomic("the demo tour"):
        for row in _rows(made["repertoire.csv"]):
            diary.add_song(**row)
        for row in _rows(made["venues.csv"]):
            diary.add_venue(**row)
        shows = {(row["date"], row["number"]): diary.add_show(**row) for row in _rows(made["shows.csv"])}
        _sets(diary, made, shows, seed)
        for row in _rows(made["rehearsals.csv"]):
            diary.add_rehearsal(**row)
        for row in _rows(made["reviews.csv"]):
            diary.add_review(_show(row, shows), [row["song"]], listening=row["listening"])
        for row in _rows(made["mistakes.csv"]):
            diary.add_mistake(_show(row, shows), **row)
        for row in _rows(made["notes.csv"]):
            diary.add_note(show_id=shows[row["date"], row.pop("number")] if row.pop("city", "") else None, **row)
        people = pd.DataFrame(list(_rows(made["attendance.csv"])))
        people["show_id"] = [shows[at] for at in zip(people.date, people.number, strict=True)]
        diary.add_attendance(people, hashed=True)
        for row in _rows(made["counts.csv"]):
            earlier = shows[row.pop("earlier_date"), row.pop("earlier_number")]
            diary.add_counts(_show(row, shows), row["people"], earlier, row["returning"])


def path() -> Path:
    """Where a filled demo diary lies; made at the first call, in the user's cache folder.

    Its name carries a digest of the code that makes it, so that it is never older than the program. Two programs that
    make it at once are no trouble: each makes its own, and the first to finish puts it in place.
    """
    folder = Path(platformdirs.user_cache_dir("tourstats", appauthor=False))
    place = folder / f"demo-{_digest()}.sqlite"
    if not place.exists():
        folder.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryDirectory(dir=folder, prefix="making-") as aside:
            part = Path(aside) / place.name
            with opened(part) as diary:
                fill(diary)
            with suppress(FileExistsError):  # another program was first; someone may be reading that one already
                os.link(part, place)
    return place


def _digest() -> str:
    """What stands for all code that has a part in the demo diary: this package, the diary, the tables."""
    here = Path(__file__).parents[1]
    sources = [here / "tables.py", *sorted(here.glob("diary/*.py")), *sorted(here.glob("demo/*.py"))]
    digest = hashlib.sha256()
    for source in sources:
        digest.update(source.read_bytes())
    return digest.hexdigest()[:16]


def _sets(diary: Diary, made: dict[str, str], shows: dict[tuple[str, str], int], seed: int) -> None:
    """The sets of three legs, what had been handed out on the third, and tonight's as it was pasted."""
    songs = diary.songs()
    with tempfile.TemporaryDirectory() as folder:
        for name in (*PLAYED, HANDED_OUT):
            file = Path(folder) / name
            file.write_text(made[name], encoding="utf-8")
            found, sets, questions = read_history(file, songs)
            if name == HANDED_OUT:
                _hand_out(diary, found, sets, shows)
            else:
                write_history(diary, found, sets, questions)
    tonight = tour(seed).shows[-1]
    diary.write_set(
        shows[str(tonight.date), str(tonight.number)],
        tonight.planned,
        encore_from=len(tonight.planned) - tonight.planned_encore + 1,
        pasted=made["tonight.txt"],
    )


def _hand_out(diary: Diary, found: pd.DataFrame, sets: pd.DataFrame, shows: dict[tuple[str, str], int]) -> None:
    """Write sets as planned; a history is always of what was played."""
    ids = {show.show_id: shows[f"{show.date:%Y-%m-%d}", str(show.number)] for show in found.itertuples()}
    for show_id, planned in sets.groupby("show_id", sort=False):
        encore_from = int(planned.position[planned.encore].min())
        diary.write_set(ids[show_id], planned.song.tolist(), encore_from=encore_from)


def _rows(text: str) -> Iterator[Row]:
    """Rows of one of our tables; empty cells are left out."""
    for row in csv.DictReader(io.StringIO(text)):
        yield {name: cell for name, cell in row.items() if cell}


def _show(row: Row, shows: dict[tuple[str, str], int]) -> int:
    """Number of the show that the row names; what named it is taken out of the row."""
    named = {name: row.pop(name, "") for name in KEY}
    return shows[named["date"], named["number"]]
