"""The demo tour in a diary."""

from __future__ import annotations

import hashlib
import io
import os
import tempfile
from contextlib import suppress
from functools import cache
from pathlib import Path

import pandas as pd
import platformdirs

from tourstats.demo.process import SEED, tour
from tourstats.demo.typed import files, write_files
from tourstats.diary.book import Diary, opened
from tourstats.diary.writing import write_history, write_table
from tourstats.problems import Problem
from tourstats.reading.one_kind import KINDS
from tourstats.reading.sources import read, read_history

PLAYED = ("sets_leg1.csv", "sets_leg2.csv", "sets_leg3.txt")
HANDED_OUT = "handouts_leg3.txt"
FILES = {table: f"{table}.csv" for table in KINDS} | {"songs": "repertoire.csv"}


def fill(diary: Diary, seed: int = SEED) -> None:
    """Take the files of the demo tour into an empty diary, as one change.

    Parameters
    ----------
    diary
        Open and empty.
    seed
        Another seed, another tour of the same band.

    """
    texts = files(seed)
    with diary.atomic("the demo tour"), tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        write_files(folder, seed)
        for table in ("songs", "venues", "shows"):
            _take(diary, folder / FILES[table], table)
        shows = {(f"{show.date:%Y-%m-%d}", str(show.number)): show.show_id for show in diary.shows().itertuples()}
        _sets(diary, folder, shows, seed)
        for table in ("rehearsals", "reviews", "mistakes", "notes"):
            _take(diary, folder / FILES[table], table)
        for thing in pd.read_csv(io.StringIO(texts["things.csv"]), dtype=str, keep_default_na=False).to_dict("records"):
            more = {name: thing[name] or None for name in ("who", "spare", "remark")}
            diary.keep_thing(thing["thing"], **more)
        _people(diary, texts, shows)
        _recordings(diary, texts, shows)
        _studied(diary, texts, shows)


def path() -> Path:
    """Where a filled demo diary is; made at the first call, in the user's cache folder.

    Its name carries a digest of the code that makes it, so that it is never older than the program. Two programs that
    make it at once are no trouble: each makes its own, and the first to finish puts it in place.
    """
    folder = Path(platformdirs.user_cache_dir("tourstats", appauthor=False))
    place = folder / f"demo-{_digest()}.sqlite"
    if place.exists():
        return place
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryDirectory(dir=folder, prefix="making-") as aside:
            part = Path(aside) / place.name
            with opened(part) as diary:
                fill(diary)
            with suppress(FileExistsError):  # another program was first; someone may be reading that one already
                os.link(part, place)
    except OSError as error:
        raise Problem(
            f"The demo tour cannot be laid out in {folder} ({error.strerror}). Allow writing there, or begin your own "
            "diary: `tourstats intake FILE`."
        ) from error
    return place


@cache
def _digest() -> str:
    """What stands for all code that has a part in the demo diary: this package, reading, the diary, the tables."""
    here = Path(__file__).parents[1]
    rooms = [sorted((here / room).rglob("*.py")) for room in ("reading", "diary", "demo")]
    sources = [here / "tables.py", here / "demo" / "band.toml", *(each for room in rooms for each in room)]
    digest = hashlib.sha256()
    for source in sources:
        digest.update(source.read_bytes())
    return digest.hexdigest()[:16]


def _take(diary: Diary, file: Path, table: str) -> None:
    """Read a table from its file and write it; a question would be a fault of ours."""
    found = read(file, diary.read(), kind=table)
    write_table(diary, found.rows, table, found.questions)


def _people(diary: Diary, texts: dict[str, str], shows: dict[tuple[str, str], int]) -> None:
    """Who was where, and what was counted at the door."""
    people = pd.read_csv(io.StringIO(texts["attendance.csv"]), dtype=str)
    people["show_id"] = [shows[at] for at in zip(people.date, people.number, strict=True)]
    diary.add_attendance(people, hashed=True)
    for row in pd.read_csv(io.StringIO(texts["counts.csv"]), dtype={"number": str, "earlier_number": str}).itertuples():
        show_id, earlier = shows[row.date, row.number], shows[row.earlier_date, row.earlier_number]
        diary.add_counts(show_id, row.people, earlier, row.returning)


def _recordings(diary: Diary, texts: dict[str, str], shows: dict[tuple[str, str], int]) -> None:
    """What the recordings were measured to be; of the sound there is nothing."""
    table = pd.read_csv(io.StringIO(texts["measured.csv"]), dtype={"number": str})
    table = table.assign(sure=table.sure == "yes", tempo_sure=table.tempo_sure == "yes")
    for at, rows in table.groupby(["date", "number"], sort=False):
        diary.set_measured(shows[at], rows.drop(columns=["date", "city", "number"]))


def _studied(diary: Diary, texts: dict[str, str], shows: dict[tuple[str, str], int]) -> None:
    """Shapes of songs, what was known of them when asked, and what worked."""
    for song, sections in pd.read_csv(io.StringIO(texts["shapes.csv"])).groupby("song", sort=False):
        diary.set_sections(str(song), sections)
    for row in pd.read_csv(io.StringIO(texts["tested.csv"])).itertuples():
        diary.add_tested(str(row.song), str(row.asked), row.known == "yes", row.date)
    for row in pd.read_csv(io.StringIO(texts["worked.csv"]), dtype={"number": str}).itertuples():
        diary.add_worked(shows[row.date, row.number], str(row.song), row.remark, section=row.section)


def _sets(diary: Diary, folder: Path, shows: dict[tuple[str, str], int], seed: int) -> None:
    """The sets of three legs, what had been handed out on the third, and tonight's as it was pasted."""
    songs = diary.songs()
    for name in PLAYED:
        write_history(diary, *read_history(folder / name, songs))
    found, sets, _ = read_history(folder / HANDED_OUT, songs)
    _hand_out(diary, found, sets, shows)
    tonight = tour(seed).shows[-1]
    diary.write_set(
        shows[str(tonight.date), str(tonight.number)],
        tonight.planned,
        encore_from=len(tonight.planned) - tonight.planned_encore + 1,
        pasted=(folder / "tonight.txt").read_text(encoding="utf-8"),
    )


def _hand_out(diary: Diary, found: pd.DataFrame, sets: pd.DataFrame, shows: dict[tuple[str, str], int]) -> None:
    """Write sets as planned; a history is always of what was played."""
    ids = {show.show_id: shows[f"{show.date:%Y-%m-%d}", str(show.number)] for show in found.itertuples()}
    for show_id, planned in sets.groupby("show_id", sort=False):
        encore_from = int(planned.position[planned.encore].min())
        diary.write_set(ids[show_id], planned.song.tolist(), encore_from=encore_from)
