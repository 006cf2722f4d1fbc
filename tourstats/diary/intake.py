"""The one door from a reading into the store: what is this? what is open? write it, in one transaction."""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

import pandas as pd

from tourstats.diary.tonights_set import keep
from tourstats.diary.writing import FILLED, HistoryProblem, write_sets, write_table
from tourstats.problems import Problem
from tourstats.reading.people import COUNTS, PEOPLE
from tourstats.reading.settling import ORDER, first_day, settled
from tourstats.reading.sources import ONE, SETS, Pasted, Reading, read
from tourstats.tour import Tour

if TYPE_CHECKING:
    from tourstats.diary.book import Diary


@dataclass(frozen=True)
class Look:
    """What a file is, what is in it and what is open, before anything is written.

    Attributes
    ----------
    reading
        What was read.
    accepted
        Whether the whole proposal is taken.

    """

    reading: Reading
    accepted: bool = False

    @property
    def questions(self) -> pd.DataFrame:
        """What has to be settled before it is written; with the proposal accepted, what nothing is proposed for."""
        return self.reading.open if self.accepted else self.reading.questions

    @property
    def said(self) -> list[str]:
        """What is in it, in a few lines."""
        return self.reading.said()


def look(
    diary: Diary | None, source: str | os.PathLike[str] | Pasted, answers: Mapping[str, object] | None = None, *,
    accept: bool = False, kind: str | None = None, stage: str = "played",
) -> Look:  # fmt: skip
    """Read a file against what the diary holds. Nothing is written.

    Parameters
    ----------
    diary
        An open diary, or None for one that is not there yet.
    source
        A path, or something pasted.
    answers
        To questions of an earlier look, by key.
    accept
        Whether to take the whole proposal.
    kind
        What it is, one of `tourstats.reading.sources.KINDS`; None to find out.
    stage
        Whether sets were "played" or "planned".

    Raises
    ------
    FileProblem
        If it cannot be opened at all.

    """
    tour = Tour.of() if diary is None else diary.read()
    return Look(read(source, tour, answers=answers, kind=kind, stage=stage), accept)


def write(
    diary: Diary, looked: Look, answers: Mapping[str, object] | None = None, *, stage: str = "played"
) -> dict[str, int]:
    """Write what was looked at, as one change.

    Returns
    -------
    dict
        How much was added, by kind, and how much was there `already`.

    Raises
    ------
    HistoryProblem
        Lists every question that has to be settled first; nothing was written.

    """
    if len(looked.questions):
        raise HistoryProblem.of(looked.questions)
    reading = looked.reading
    with diary.atomic(f"what {reading.name} holds"):
        if reading.kind == SETS:
            done = write_sets(diary, reading.shows, reading.plays, reading.there, stage=stage)
            filled = write_table(diary, reading.rows, "songs").get(FILLED, 0) if len(reading.rows) else 0
            return done | ({FILLED: filled} if filled else {})
        if reading.kind == PEOPLE:
            new = diary.add_attendance(reading.rows, hashed=_hashed(reading.rows))
            return {"people at shows": new, "already": len(reading.rows) - new}
        if reading.kind == COUNTS:
            return _write_counts(diary, reading.rows)
        if reading.lines is not None:
            return _write_list(diary, reading, looked.accepted, {**reading.proposal, **(answers or {})}, stage)
        return write_table(diary, reading.rows, reading.kind)


def intake(
    diary: Diary, source: str | os.PathLike[str] | Pasted, answers: Mapping[str, object] | None = None, *,
    accept: bool = False, stage: str = "played",
) -> dict[str, int]:  # fmt: skip
    r"""Take a file into the diary, whatever it holds: sets of shows, one set, or a table of songs, venues and so on.

    Parameters
    ----------
    diary
        An open diary.
    source
        The file, or something pasted; a folder that was exported is read by `import_tables`.
    answers
        Decisions on the questions of an earlier attempt, by their key.
    accept
        Whether to take what is proposed for every question that is not answered.
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
    return write(diary, look(diary, source, answers, accept=accept, stage=stage), answers, stage=stage)


def _hashed(people: pd.DataFrame) -> bool:
    """Whether people are keyed hashes already, as in a file that the diary exported."""
    return bool(len(people)) and bool(people["person"].str.fullmatch(r"[0-9a-f]{12,}").all())


def _write_counts(diary: Diary, rows: pd.DataFrame) -> dict[str, int]:
    there = set(diary.counts()[["show_id", "people", "earlier", "returning"]].itertuples(index=False, name=None))
    new = [row for row in rows.itertuples(index=False, name=None) if row not in there]
    for show_id, people, earlier, returning in new:
        diary.add_counts(show_id, people, earlier, returning)
    return {"counts": len(new), "already": len(rows) - len(new)}


def _write_list(
    diary: Diary, reading: Reading, accepted: bool, answers: Mapping[str, object], stage: str
) -> dict[str, int]:
    """Write one set for the show that was said, or a plain list of songs."""
    lines = reading.lines
    assert lines is not None  # noqa: S101  # as the caller looked
    del accepted
    given: dict[int | str, str] = {
        int(key.removeprefix("line ")): str(answer) for key, answer in answers.items() if str(key).startswith("line ")
    }
    given |= {ORDER: str(answers[ORDER])} if ORDER in answers else {}
    ready = settled(lines, first_day(lines) | given)
    if reading.kind != ONE:
        for song in ready.new:
            diary.add_song(song)
        return {"songs": len(ready.new), "already": len(ready.titles) - len(ready.new)}
    show_id, new = _show_of(diary, answers)
    keep(diary, ready, show_id, stage, reading.text or "")
    return {"shows": new, "songs": len(ready.new), "sets": 1}


def _show_of(diary: Diary, answers: Mapping[str, object]) -> tuple[int, int]:
    """The show of that day and town, or a new one; and how many are new."""
    try:
        day = pd.Timestamp(str(answers.get("day", ""))).date()
    except ValueError as error:
        raise Problem(f'"{answers.get("day")}" is no day. Write it as 2031-03-04.') from error
    city = str(answers.get("city", "")).strip()
    city = "" if city == "not said" else city
    shows = diary.shows()
    same = shows[shows.date.dt.date == day]
    if city:
        same = same[same.city.str.casefold() == city.casefold()]
    if len(same):
        return int(same.show_id.iloc[0]), 0
    room, venue = (str(answers.get(name) or "") or None for name in ("room", "venue"))
    return int(diary.add_show(day, city or None, room=room, venue=venue)), 1
