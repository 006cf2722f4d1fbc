"""What somebody brings to their first hour, read without writing: what it is, what is in it, what is open.

A history of many shows, one set, a list of songs, or any table: all come out as one `Reading`, which a form shows and
then writes as one change.
"""

from __future__ import annotations

import tempfile
from collections import defaultdict
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path

import pandas as pd

from tourstats.diary import Diary, read_history, read_set
from tourstats.diary.history import ALL_UNKNOWN, PROBLEM_COLUMNS, open_questions, write_history
from tourstats.diary.reading_files import decoded, sheets
from tourstats.diary.reading_tables import KINDS, read_table, table_of, write_table
from tourstats.diary.tonights_set import keep
from tourstats.pages.kit.questions import EACH, KEEP, TAKE
from tourstats.problems import Problem, counted
from tourstats.reading.settling import first_day, open_lines, settled
from tourstats.reading.titles import fold, index

SETS, ONE = "sets of several shows", "one set"
MOST_IN_A_SET = 45
"""Lines without any day beyond which a list is taken for the repertoire. Common practice, no source."""
SEVERAL = 3
"""So many titles that are near no other are asked about at once."""
TITLES = ("song", "songs", "title", "titles", "titel", "titre")


class StartProblem(Problem):
    """Something is missing before the file can be read or written."""


@dataclass(frozen=True)
class Material:
    """What was pasted, chosen or named: a file's name and its bytes."""

    name: str
    data: bytes


@dataclass(frozen=True)
class Known:
    """What the diary holds already; empty for a diary that is not there yet."""

    songs: pd.DataFrame
    shows: pd.DataFrame
    plays: pd.DataFrame


@dataclass(frozen=True)
class Reading:
    """What was read, ready to be shown and, once no question blocks, to be written.

    Attributes
    ----------
    kind
        `SETS`, `ONE`, or the name of a table.
    words
        What was read, as a sentence.
    rows
        The first of it, a row a show, song or line.
    left_out
        Lines that were not read: row, text, why.
    questions
        As from `read_history`; those that are `blocking` have to be answered first.
    write
        Writes all of it into an open diary, given the stage and, for one set, the number of its show.

    """

    kind: str
    words: str
    rows: pd.DataFrame
    write: Callable[[Diary, str, int | None], str]
    left_out: pd.DataFrame = field(default_factory=lambda: _left_out([]))
    questions: pd.DataFrame = field(default_factory=lambda: _questions([]))


def read(material: Material, kind: str | None, known: Known, answers: Mapping[str, str]) -> Reading:
    """Read what somebody brought. Nothing is written.

    Parameters
    ----------
    material
        A name and bytes.
    kind
        `SETS`, `ONE` or the name of a table; None to find out.
    known
        What the diary holds.
    answers
        To questions of an earlier reading, by key.

    Raises
    ------
    Problem
        If it cannot be read at all.

    """
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / (Path(material.name).name or "pasted text")
        path.write_bytes(material.data)
        kind = kind or _kind(path, known)
        if kind == SETS:
            return _history(path, known, answers)
        if kind in KINDS and (kind != "songs" or any(sheet.table for sheet in sheets(path))):
            return _table(path, kind, known, answers)
        return _set(_lines(path), kind, known, answers)


def _kind(path: Path, known: Known) -> str:
    """What the file holds: a table by its columns, sets by their days, else one set, or songs if there are many."""
    table = table_of(path)
    if table is not None:
        return table
    _, _, problems = read_history(path, known.songs if len(known.songs) else None)
    lines = _lines(path)
    if "nothing" not in set(problems.key) or not lines:
        return SETS
    return ONE if len(lines) <= MOST_IN_A_SET else "songs"


def _lines(path: Path) -> list[str]:
    """Lines of a plain text, or the column of titles of a table; nothing for other tables."""
    sheet = next(iter(sheets(path)), None)
    if sheet is None:
        return []
    if not sheet.table:
        lines = [line for line in decoded(path.read_bytes()).splitlines() if line.strip()]
        return lines[1:] if lines and fold(lines[0]) in TITLES else lines
    for at, row in enumerate(sheet.rows[:10]):
        words = [fold(str(cell)) for cell in row]
        column = next((words.index(word) for word in TITLES if word in words), None)
        if column is not None:
            cells = [row[column] for row in sheet.rows[at + 1 :] if len(row) > column]
            return [str(cell) for cell in cells if cell is not None]
    return []


def _history(path: Path, known: Known, answers: Mapping[str, str]) -> Reading:
    """Sets of several shows."""
    given = {key: answer for key, answer in answers.items() if (key, answer) != (ALL_UNKNOWN, EACH)}
    repertoire = known.songs if len(known.songs) else None
    shows, plays, problems = read_history(path, repertoire, answers=given)
    problems = _at_once(problems, answers)
    clashes = _clashes(shows, plays, known)
    questions = pd.concat(
        [problems, _questions([row for row in clashes.values() if row["key"] not in answers])], ignore_index=True
    )

    def write(diary: Diary, stage: str, _: int | None) -> str:
        kept = [show_id for show_id, row in clashes.items() if answers.get(str(row["key"])) == KEEP]
        with diary.atomic(f"{counted(len(shows) - len(kept), 'show')} from {path.name}"):
            for show_id, row in clashes.items():
                if answers.get(str(row["key"])) == TAKE:
                    diary.write_set(row["there"], [], stage=stage)
                    assert show_id not in kept  # noqa: S101  # one answer a show
            done = write_history(
                diary, shows[~shows.show_id.isin(kept)], plays[~plays.show_id.isin(kept)], open_questions(problems),
                stage=stage,
            )  # fmt: skip
        return _added({name: count for name, count in done.items() if name != "already"}, done["already"] + len(kept))

    ignored = [(row, text, why) for _, row, text, why in plays.attrs["ignored"]]
    return Reading(SETS, _history_words(shows, plays, known), _show_rows(shows, plays), write, _left_out(ignored),
                   questions)  # fmt: skip


def _at_once(problems: pd.DataFrame, answers: Mapping[str, str]) -> pd.DataFrame:
    """Put one question in the place of many titles that are near no other, until somebody wants to see each."""
    lone = (
        problems.key.str.startswith("title: ")
        & problems.blocking
        & (problems.candidates.map(len) == 0)
        & ~problems.key.isin(list(answers))
    )
    if ALL_UNKNOWN in answers or lone.sum() < SEVERAL:
        return problems
    titles = [str(title) for title in problems.value[lone]]
    shown = ", ".join(f'"{title}"' for title in titles[:6]) + (", …" if len(titles) > 6 else "")  # noqa: PLR2004  # as many as are shown
    words = f"{len(titles)} titles are near none of the repertoire: {shown}."
    row = {"key": ALL_UNKNOWN, "problem": words, "todo": "Say whether they are all new songs.", "blocking": True}
    return pd.concat([_questions([row]), problems[~lone]], ignore_index=True)


def _clashes(shows: pd.DataFrame, plays: pd.DataFrame, known: Known) -> dict[object, dict[str, object]]:
    """Questions about shows for which the diary has another set already, by the number they have in the file."""
    titles = index(known.songs)
    there = {_place(show): show.show_id for show in known.shows.itertuples()}
    mine, theirs = _titles_by_show(known.plays, {}), _titles_by_show(plays, _names(plays, titles))
    found: dict[object, dict[str, object]] = {}
    for show in shows.itertuples():
        show_id = there.get(_place(show))
        if mine[show_id] and theirs[show.show_id] and mine[show_id] != theirs[show.show_id]:
            day = f"{show.date:%Y-%m-%d}"
            town = show.city if isinstance(show.city, str) else "no town"
            found[show.show_id] = {
                "key": f"diary: {day} {town} {show.number}",
                "value": day,
                "row": int(show.row),
                "problem": f"The diary has another set for {day} in {town}: {_few(mine[show_id])}.",
                "todo": "Say which of the two to keep.",
                "blocking": True,
                "there": show_id,
            }
    return found


def _names(plays: pd.DataFrame, titles: object) -> dict[str, str]:
    """What each title of the file is called in the diary."""
    matches = {title: titles.same(title) for title in dict.fromkeys(plays.song)}  # type: ignore[attr-defined]
    return {title: match.song for title, match in matches.items() if match is not None and match.song is not None}


def _titles_by_show(plays: pd.DataFrame, names: Mapping[str, str]) -> dict[object, list[tuple[str, bool]]]:
    found: dict[object, list[tuple[str, bool]]] = defaultdict(list)
    for row in plays.sort_values(["show_id", "position"], kind="stable").itertuples():
        found[row.show_id].append((names.get(row.song, row.song), bool(row.encore)))
    return found


def _few(songs: list[tuple[str, bool]]) -> str:
    titles = [song for song, _ in songs]
    return ", ".join(titles[:4]) + (", …" if len(titles) > 4 else "")  # noqa: PLR2004  # enough to know it by


def _place(show: pd.Series) -> tuple[date, str, int]:
    """What makes a show of the file the one that is in the diary."""
    return show.date.date(), fold(show.city) if isinstance(show.city, str) else "", int(show.number)


def _history_words(shows: pd.DataFrame, plays: pd.DataFrame, known: Known) -> str:
    if not len(shows):
        return "No show could be read yet."
    titles = index(known.songs)
    names = dict.fromkeys(plays.song)
    new = sum(titles.same(title) is None for title in names)
    first, last = shows.date.min(), shows.date.max()
    span = f"on {_day(first)}" if first == last else f"from {_day(first)} to {_day(last)}"
    fresh = "" if not len(known.songs) else f", {new} of them new in the repertoire"
    return (
        f"{counted(len(shows), 'show')} {span}, {counted(len(plays), 'song')} played, "
        f"{counted(len(names), 'title')}{fresh}."
    )


def _show_rows(shows: pd.DataFrame, plays: pd.DataFrame) -> pd.DataFrame:
    """One row a show: day, town, how many songs, and the first ones."""
    sets = plays.sort_values("position").groupby("show_id").song.agg(list)
    songs = shows.show_id.map(sets)
    counts = songs.map(lambda titles: len(titles) if isinstance(titles, list) else 0)
    begins = songs.map(lambda titles: ", ".join(titles[:3]) if isinstance(titles, list) else "")
    rows = shows[["date", "city", "venue"]].assign(songs=counts.astype(int), begins=begins.astype("str"))
    return rows.dropna(axis="columns", how="all")


def _table(path: Path, kind: str, known: Known, answers: Mapping[str, str]) -> Reading:
    """A table of songs, venues and so on."""
    frame, problems = read_table(path, kind, known.shows, known.songs, answers=answers)

    def write(diary: Diary, _: str, __: int | None) -> str:
        done = write_table(diary, frame, kind, problems)
        return _added({kind: done[kind]}, done["already"])

    rows = frame.dropna(axis="columns", how="all").drop(columns=["show_id"], errors="ignore")
    return Reading(kind, f"{counted(len(frame), 'row')} of {kind}.", rows, write, questions=problems)


def _set(lines: list[str], kind: str, known: Known, answers: Mapping[str, str]) -> Reading:
    """One set, or a plain list of songs."""
    text = "\n".join(lines)
    found = read_set(text, known.songs)
    if not len(found):
        raise StartProblem("There is no song in it. Give each song a line of its own.")
    given: dict[int | str, str] = {
        int(key.removeprefix("line ")): answer for key, answer in answers.items() if key.startswith("line ")
    }
    if not len(known.songs) or kind == "songs":
        # With nothing to mistake a title for, or in a list of the repertoire, what is far from all others is new.
        given = first_day(found) | given
    open_ = open_lines(found, given)

    def write(diary: Diary, stage: str, show_id: int | None) -> str:
        ready = settled(found, given)
        with diary.atomic(f"{counted(len(ready.titles), 'song')} from a list"):
            if kind == ONE and show_id is not None:
                keep(diary, ready, show_id, stage, text)
            else:
                for song in ready.new:
                    diary.add_song(song)
        return _added({"songs": len(ready.new), "sets": int(kind == ONE)}, 0)

    new = int((found.verdict == "unknown").sum())
    words = f"{counted(len(found), 'song')}, {new} of them new in the repertoire."
    rows = found.assign(song=found.song.where(found.sure, found.as_new))[["position", "song", "as_typed", "encore"]]
    questions = [
        {"key": f"line {row.position}", "row": int(row.line), "value": row.as_typed, "blocking": True,
         "problem": f'"{row.as_typed}" is not surely a title of the repertoire.', "candidates": list(row.candidates),
         "todo": "Choose the title, a new song, or leave it out."}
        for row in open_.itertuples()
    ]  # fmt: skip
    return Reading(kind, words, rows, write, _left_out(found.attrs["ignored"]), _questions(questions))


def _questions(rows: list[dict[str, object]]) -> pd.DataFrame:
    """Questions in the form of `read_history`, with what is not said filled in."""
    empty = {"file": "", "row": 0, "column": "", "value": "", "candidates": [], "blocking": True}
    frame = pd.DataFrame([empty | row for row in rows], columns=list(PROBLEM_COLUMNS))
    return frame.astype({"row": "int64", "blocking": bool})


def _left_out(rows: list[tuple[int, str, str]]) -> pd.DataFrame:
    frame = pd.DataFrame(rows, columns=["row", "text", "why"])
    # The line above an encore is no song, but it was understood.
    return frame[(frame.text.astype(str).str.strip() != "") & (frame.why != "encore")].reset_index(drop=True)


def _added(done: Mapping[str, int], already: int) -> str:
    """What was written, in words.

    Examples
    --------
    >>> _added({"shows": 2, "songs": 0, "sets": 2}, 1)
    'Written: 2 shows, 2 sets. 1 was there already.'

    """
    parts = [counted(count, name.rstrip("s")) for name, count in done.items() if count]
    words = f"Written: {', '.join(parts)}." if parts else "There was nothing new in it."
    return words + (f" {already} {'was' if already == 1 else 'were'} there already." if already else "")


def _day(day: date) -> str:
    return f"{day.day} {day:%B %Y}"
