"""From the files of a recording to the diary: what a command and the page both do."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, datetime
from pathlib import Path

import numpy as np
import pandas as pd

from tourstats.diary import Diary, opened
from tourstats.problems import Problem, listed
from tourstats.recording import SUFFIXES, Heard, Kept, listen, measured_between
from tourstats.recording.measuring import Progress
from tourstats.tables import in_order, items
from tourstats.tour import Tour, night_of

NEWEST = 8
"""How many files of a folder are offered."""
DAYS = ("%Y-%m-%d", "%Y%m%d", "%y%m%d", "%Y_%m_%d", "%Y.%m.%d", "%d-%m-%Y", "%d.%m.%Y", "%d%m%Y")
"""How recorders and people write a day into the name of a file."""
SOFT, LOUD = 0.1, 0.9
"""Shares of a song's time below which it is soft, above which loud."""


def heard(
    path: str | Path,
    show_id: object,
    files: Sequence[str | Path],
    *,
    fixed: Mapping[int, tuple[float, float]] | None = None,
    progress: Progress | None = None,
) -> Heard:
    """Listen to a show's recording and write what it says into the diary, as one change at the end.

    Parameters
    ----------
    path
        The diary.
    show_id
        Number of the show.
    files
        The recording, its files in order, or a folder that is looked through for the files of that day.
    fixed
        Starts and ends set by ear, by position; by default those that were set before.
    progress
        Told how far it is; may raise to stop, and nothing is written then.

    """
    with opened(path) as diary:
        tour = diary.read()
        past = earlier(diary, tour, show_id)
    plays = tour.plays[tour.plays.show_id == show_id]
    if not len(plays):
        raise Problem(
            f"Show {show_id} has no played set yet, so nobody knows which songs to look for. Save what was played on "
            "the page After the show, then listen."
        )
    files = of_show(tour, show_id, files)
    fixed = set_by_ear(tour, show_id) if fixed is None else fixed
    found = listen(files, plays[["position", "song"]], tour.songs, past, fixed, progress)
    rows = found.measured[found.measured.start_s.notna()]
    rows = rows.assign(moved=rows.position.isin(list(fixed)), why=rows.why.where(rows.why != "", None))
    with opened(path) as diary, diary.atomic():
        diary.set_measured(show_id, rows, found.kept)
        diary.change_show(show_id, recording="; ".join(str(Path(file).expanduser().resolve()) for file in files))
    return found


def set_by_ear(tour: Tour, show_id: object) -> dict[int, tuple[float, float]]:
    """Starts and ends that somebody moved."""
    rows = tour.measured[(tour.measured.show_id == show_id) & tour.measured.moved.astype(bool)]
    return {int(row.position): (float(row.start_s), float(row.end_s)) for row in rows.itertuples()}


def moved(path: str | Path, show_id: object, position: int, start: float, end: float) -> None:
    """Set a song's start and end by ear: it is measured again there, and stays there when the rest is aligned again."""
    with opened(path) as diary:
        tour = diary.read()
        kept = diary.kept()
    if not end - start > 1:
        raise Problem("The end has to come after the start. Set the other one first.")
    show = tour.shows[tour.shows.show_id == show_id].iloc[0]
    title = tour.plays.song[(tour.plays.show_id == show_id) & (tour.plays.position == position)].iloc[0]
    wanted = tour.songs.tempo_bpm[tour.songs.song == title]
    row, pack = measured_between(files_of(show), start, end, float(wanted.iloc[0]) if len(wanted) else float("nan"))
    rows = tour.measured[tour.measured.show_id == show_id]
    old = rows[rows.position == position]
    row |= {"position": position, "moved": True, "why": row["why"] or None}
    row["loudness"] = old.loudness.iloc[0] if len(old) else None
    others = rows[rows.position != position].to_dict("records")
    packs = {int(one.position): one.kept for one in kept[kept.show_id == show_id].itertuples()}
    with opened(path) as diary:
        diary.set_measured(show_id, [*others, row], {**packs, position: pack})


def performance(path: str | Path, show_id: object, position: int) -> Kept | None:
    """What is kept of one performance."""
    with opened(path) as diary:
        kept = diary.kept()
    found = kept.kept[(kept.show_id == show_id) & (kept.position == position)]
    return Kept.unpacked(found.iloc[0]) if len(found) else None


def before(tour: Tour, show_id: object, song: str) -> pd.Series | None:
    """The same song at the latest earlier show whose recording is still where it was: its measured row."""
    nights = in_order(tour.shows)
    past = nights[: int((nights.show_id == show_id).to_numpy().argmax())]
    there = past[[bool(files_of(row)) and all(Path(f).is_file() for f in files_of(row)) for _, row in past.iterrows()]]
    places = tour.plays[(tour.plays.song == song) & tour.plays.show_id.isin(there.show_id)]
    rows = tour.measured.merge(places[["show_id", "position"]], on=["show_id", "position"]).dropna(subset=["start_s"])
    if not len(rows):
        return None
    order = {show: at for at, show in enumerate(nights.show_id)}
    return rows.iloc[int(rows.show_id.map(order).to_numpy().argmax())]


def earlier(diary: Diary, tour: Tour, show_id: object) -> pd.DataFrame:
    """What recordings of the shows before this one say of each song, and what is kept of them."""
    places = tour.plays[["show_id", "position", "song"]]
    nights = in_order(tour.shows)
    before = nights.show_id[: int((nights.show_id == show_id).to_numpy().argmax())]
    rows = tour.measured[tour.measured.show_id.isin(before)].merge(places, on=["show_id", "position"])
    kept = diary.kept(places.song[places.show_id == show_id].tolist())
    return rows.merge(kept[["show_id", "position", "kept"]], how="left", on=["show_id", "position"])


def files_of(show: pd.Series) -> list[str]:
    """The files of a show's recording, in order."""
    return items(show.recording)


def of_show(tour: Tour, show_id: object, files: Sequence[str | Path]) -> list[Path]:
    """The files that are meant: those named, or of a folder those of the show's day that are no other show's."""
    paths = [Path(file).expanduser() for file in files]
    if len(paths) != 1 or not paths[0].is_dir():
        return paths
    show = tour.shows[tour.shows.show_id == show_id].iloc[0]
    others = {file for _, row in tour.shows[tour.shows.show_id != show_id].iterrows() for file in files_of(row)}
    every = [file for file in newest(paths[0], None) if str(file.resolve()) not in others]
    day = pd.Timestamp(show.date)
    named = [file for file in every if any(day.strftime(form) in file.stem for form in DAYS)]
    found = sorted(named or [file for file in every if _saved(file) == day.date()])
    if not found:
        raise Problem(
            f'No recording in "{paths[0]}" is of {day:%d %B %Y}, by name or by when it was saved. The newest: '
            f"{listed([file.name for file in every[:NEWEST]]) or 'none that is new'}. Name the file."
        )
    return found


def _saved(file: Path) -> date:
    """The evening on which a file was saved last."""
    return night_of(datetime.fromtimestamp(file.stat().st_mtime).astimezone())


def levels(kept: pd.DataFrame) -> pd.DataFrame:
    """How loud the soft and the loud parts of each performance are within their show.

    Returns
    -------
    DataFrame
        show_id, position, softs, louds: level in dB against the show that a tenth of the song stays below, and above.

    """
    rows = []
    for one in kept.itertuples():
        about = Kept.unpacked(one.kept)
        if about is not None and len(about.level):
            rows.append((one.show_id, one.position, *np.quantile(about.level, (SOFT, LOUD))))
    return pd.DataFrame(rows, columns=["show_id", "position", "softs", "louds"])


def newest(folder: str | Path, most: int | None = NEWEST) -> list[Path]:
    """Recordings in a folder, the latest first."""
    place = Path(folder).expanduser()
    if not place.is_dir():
        raise Problem(f'There is no folder "{place}". Check the path, or choose a file.')
    found = [file for file in place.iterdir() if file.suffix.lower() in SUFFIXES and file.is_file()]
    if not found:
        raise Problem(f'There is no recording in "{place}" (looked for {", ".join(SUFFIXES[:8])} and others).')
    return sorted(found, key=lambda file: file.stat().st_mtime, reverse=True)[:most]
