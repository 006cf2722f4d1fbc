"""Intake of what people have: a history of many shows, tables in files."""

from __future__ import annotations

import os
from collections.abc import Mapping
from typing import TYPE_CHECKING

from tourstats.diary.history import read_history, write_history
from tourstats.diary.reading_tables import read_table, table_of, write_table

if TYPE_CHECKING:
    from tourstats.diary.book import Diary


def intake(
    diary: Diary, path: str | os.PathLike[str], answers: Mapping[str, object] | None = None, *, stage: str = "played"
) -> dict[str, int]:
    r"""Take a file into the diary, whatever it holds: a history of sets, or a table of songs, venues and so on.

    Parameters
    ----------
    diary
        An open diary.
    path
        The file. What it holds is told by its columns; a folder that was exported is read by `import_tables`.
    answers
        Decisions on the questions of an earlier attempt, by their key.
    stage
        Whether the sets of a history were "played" or "planned".

    Returns
    -------
    dict
        How much was added, by kind.

    Raises
    ------
    HistoryProblem
        Lists every question that has to be settled first; nothing was written.

    Examples
    --------
    >>> from pathlib import Path
    >>> from tempfile import TemporaryDirectory
    >>> from tourstats.diary import opened
    >>> with TemporaryDirectory() as folder, opened(f"{folder}/tour.sqlite") as diary:
    ...     file = Path(folder) / "songs.csv"
    ...     kept = file.write_text("song,tempo\nFerry,96\n", encoding="utf-8")
    ...     intake(diary, file)
    {'songs': 1, 'already': 0}

    """
    songs = diary.songs()
    table = table_of(path)
    if table is not None:
        frame, problems = read_table(path, table, diary.shows(), songs, answers=answers)
        return write_table(diary, frame, table, problems)
    shows, plays, problems = read_history(path, songs if len(songs) else None, answers=answers)
    return write_history(diary, shows, plays, problems, stage=stage)
