"""Histories of many shows, as people have kept them. Everything doubtful is listed at once; nothing is guessed."""

# ruff: noqa: E501  # a question is read in one piece
from __future__ import annotations

import os
import re
from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date as day
from typing import TYPE_CHECKING, Any

import pandas as pd

from tourstats.diary.reading_dates import DAY_FIRST, MONTH_FIRST, ORDERS, day_in, order_of, years_in
from tourstats.diary.reading_files import Sheet, sheets
from tourstats.diary.reading_shapes import Block, Typed, shape, text_of
from tourstats.problems import Problem, counted, listed
from tourstats.reading import lines as lines_
from tourstats.reading.account import NEW, SKIP
from tourstats.reading.songs import one_title, songs_in
from tourstats.reading.titles import DOUBTFUL, SURE, Match, Titles, fold, index
from tourstats.tables import DATE, ROOMS, checked

if TYPE_CHECKING:
    from tourstats.diary.book import Diary

PROBLEM_COLUMNS = ("key", "file", "row", "column", "value", "problem", "todo", "candidates", "blocking")
ALL_UNKNOWN = "unknown titles"
"""Key by which every title that is near no other is answered at once."""
_ROOM_WORDS = {
    "theatre": "theater theatre teatro theaterhall operahouse hall konzerthaus concerthall",
    "arena": "arena stadium stadion arene", "club": "club bar pub keller", "studio": "studio radio tv",
    "festival": "festival openair open outdoor fest fields", "other": "other",
}  # fmt: skip
_ROOM_OF = {word: room for room, words in _ROOM_WORDS.items() for word in words.split()}
_SAME_SIZE = 5


@dataclass
class _Asking:
    """The questions so far, and the answers that were given."""

    answers: Mapping[str, object]
    rows: list[dict[str, object]] = field(default_factory=list)

    def add(self, key: str, where: tuple[str, int, str], value: object, problem: str, todo: str,
            candidates: Iterable[str] = (), *, blocking: bool = True) -> None:  # fmt: skip
        file, row, column = where
        self.rows.append(
            {"key": key, "file": file, "row": row, "column": column, "value": value, "problem": problem, "todo": todo,
             "candidates": list(candidates), "blocking": blocking}
        )  # fmt: skip

    def frame(self) -> pd.DataFrame:
        """One row per question, each key once."""
        seen: dict[str, dict[str, object]] = {}
        for row in self.rows:
            seen.setdefault(str(row["key"]), row)
        frame = pd.DataFrame(list(seen.values()), columns=list(PROBLEM_COLUMNS))
        return frame.astype({"blocking": bool, "row": "int64"})


@dataclass
class _Show:
    """A show whose day is settled."""

    block: Block
    date: day
    number: int
    songs: list[Typed]

    @property
    def key(self) -> tuple[day, str, int]:
        return self.date, fold(self.block.city or ""), self.number


def read_history(
    path: str | os.PathLike[str],
    songs: pd.DataFrame | Iterable[str] | None = None,
    *,
    answers: Mapping[str, object] | None = None,
) -> tuple[pd.DataFrame, pd.DataFrame, pd.DataFrame]:
    r"""Read the sets of many shows from one file. Nothing is written.

    The file may be a table with a row a song, a grid with a column a show (titles below, or a row a song with
    positions or ticks) or a row a show ("Song 1", "Song 2" …), or blocks of text; CSV with any usual separator, a spreadsheet, or plain text.

    Parameters
    ----------
    path
        The file.
    songs
        The repertoire, to which titles are matched. Without it every title that differs in more than case, accents,
        punctuation and spaces is a song of its own.
    answers
        Decisions on the problems of an earlier reading, by their `key`: "day first" or "month first", a year, a title,
        "new", "skip".

    Returns
    -------
    shows
        One row per show in the order of the file, as `tables.Shows`; show_id from 1, and `file`, `sheet` and `row`.
    plays
        One row per song played, as `tables.Plays`, with `as_typed` and `row`. `attrs["ignored"]` lists what was not
        read, as (sheet, row, text, why).
    problems
        One row per question, with columns key, file, row, column, value, problem, todo, candidates, and `blocking`:
        whether it has to be answered before anything is written.

    Raises
    ------
    FileProblem
        If the file cannot be opened at all.

    Examples
    --------
    >>> from pathlib import Path
    >>> from tempfile import TemporaryDirectory
    >>> with TemporaryDirectory() as folder:
    ...     file = Path(folder) / "sets.csv"
    ...     kept = file.write_text("date,town,song\n2031-03-04,Ostby,Ferry\n2031-03-04,Ostby,Tin Rof\n", encoding="utf-8")
    ...     shows, plays, problems = read_history(file, ["Ferry", "Tin Roof"])
    >>> shows[["show_id", "date", "city"]]
       show_id       date   city
    0        1 2031-03-04  Ostby
    >>> plays[["show_id", "position", "song"]]
       show_id  position      song
    0        1         1     Ferry
    1        1         2  Tin Roof
    >>> len(problems)
    0

    """
    asking = _Asking(dict(answers or {}))
    titles = None if songs is None else index(songs)
    read = sheets(path)
    shapes = [shape(sheet, titles) for sheet in read]
    blocks = [block for found in shapes for block in found.blocks]
    ignored = [(sheet.name, *item) for sheet, found in zip(read, shapes, strict=True) for item in found.ignored]
    if not blocks:
        file = read[0].file if read else os.fspath(path)
        asking.add("nothing", (str(file), 1, ""), "", f"No show was found in {file}.",
                   "Give each show a day and each song a row, and name the columns date and song.")  # fmt: skip
    dated = _dated(blocks, read, asking)
    whole = _one_each(_numbered(dated), asking)
    shows, plays = _frames(whole, titles, asking, ignored)
    return shows, plays, asking.frame()


def open_questions(problems: pd.DataFrame) -> pd.DataFrame:
    """Problems that have to be answered before anything is written."""
    return problems[problems["blocking"].astype(bool)]


def _dated(blocks: list[Block], read: list[Sheet], asking: _Asking) -> list[_Show]:
    """Settle the day of each block, or ask."""
    days = [block.day for block in blocks if block.day is not None]
    answer = str(asking.answers.get("date order", "")).strip().lower()
    order = answer if answer in ORDERS else order_of(days)
    year = _only_year(days, read, asking.answers.get("year"))
    found = []
    for block in blocks:
        settled = _settle(block, order, year, asking)
        if settled is not None:
            found.append(_Show(block, settled, block.number or 1, block.songs))
    return found


def _only_year(days: Iterable[object], read: list[Sheet], answer: object) -> int | None:
    """Year for days that are written without one: the answer, or the only year anywhere in the file."""
    if answer is not None and re.fullmatch(r"\s*\d{4}\s*", str(answer)):
        return int(str(answer))
    years = {day.year for day in days if day.year is not None}  # type: ignore[attr-defined]
    if not years:
        top = [cell for sheet in read for row in sheet.rows[:_SAME_SIZE] for cell in row]
        years = years_in([*(sheet.name for sheet in read), *(sheet.file for sheet in read), *top])
    return years.pop() if len(years) == 1 else None


def _settle(block: Block, order: str | None, year: int | None, asking: _Asking) -> day | None:
    typed = text_of(block.date)
    where = (block.sheet.file, block.row, block.column)
    key = f"date: {typed or f'row {block.row}'}"
    answer = asking.answers.get(key)
    if answer is not None:
        if str(answer).strip().lower() == SKIP:
            return None
        given = day_in(answer, whole=True)
        settled = given.on(None, None) if given else None
        if settled is not None:
            return settled
    if block.day is None:
        what = f'"{typed}" is no day' if typed else "The day is missing"
        asking.add(key, where, typed, f"{what}.", 'Give the day as 2031-03-04, or "skip" to leave this show out.')
        return None
    if block.day.asks_for_order(order):
        asking.add("date order", where, typed, f'"{typed}" can be read with the day first or the month first, and nothing in the file tells which.',
                   f'Answer "{DAY_FIRST}" or "{MONTH_FIRST}".', ORDERS)  # fmt: skip
        return None
    settled = block.day.on(order, year)
    if settled is None:
        asking.add(
            "year",
            where,
            typed,
            f'"{typed}" has no year, and the file does not tell which it is.',
            "Answer with the year, such as 2031.",
        )
    return settled


def _numbered(shows: list[_Show]) -> list[_Show]:
    """Number the shows of one day and town that the file keeps apart by a name of their own."""
    named: dict[tuple[day, str], dict[str, int]] = defaultdict(dict)
    found = []
    for show in shows:
        if show.block.number is None and show.block.show:
            numbers = named[show.date, fold(show.block.city or "")]
            found.append(replace(show, number=numbers.setdefault(show.block.show, len(numbers) + 1)))
        else:
            found.append(show)
    return found


def _one_each(shows: list[_Show], asking: _Asking) -> list[_Show]:
    """Make one show of what the file has twice; ask where the two do not agree."""
    kept: dict[tuple[day, str, int], _Show] = {}
    for show in shows:
        first = kept.get(show.key)
        if first is None:
            kept[show.key] = show
            continue
        _fill_in(first.block, show.block)
        if _titles(first) == _titles(show) or not show.songs:
            continue
        if not first.songs:
            kept[show.key] = replace(show, block=first.block)
        elif _continues(first, show):
            kept[show.key] = replace(
                first, songs=sorted([*first.songs, *show.songs], key=lambda typed: typed.position or 0)
            )
        else:
            _ask_which(first, show, kept, asking)
    return list(kept.values())


def _fill_in(into: Block, other: Block) -> None:
    for name in ("city", "venue", "room", "leg"):
        if getattr(into, name) is None:
            setattr(into, name, getattr(other, name))


def _titles(show: _Show) -> list[str]:
    return [fold(typed.text) for typed in show.songs]


def _continues(first: _Show, second: _Show) -> bool:
    """Whether two pieces are one set in a table that is not sorted by show."""
    positions = [typed.position for typed in (*first.songs, *second.songs)]
    return None not in positions and len(set(positions)) == len(positions)


def _ask_which(first: _Show, second: _Show, kept: dict[tuple[day, str, int], _Show], asking: _Asking) -> None:
    town = first.block.city or "no town"
    key = f"show: {first.date} {town} {first.number}"
    answer = str(asking.answers.get(key, "")).strip().lower()
    if answer in ("second", "last"):
        kept[first.key] = replace(second, block=first.block)
    elif answer not in ("first", SKIP):
        block = second.block
        asking.add(
            key, (block.sheet.file, block.row, block.column), f"{first.date} {town}",
            f"The show of {first.date} in {town} is there twice, with different sets (the first in row {first.block.row}).",
            'Answer "first" or "second" for the one to keep, or number the two shows in the file if both were played.',
            ("first", "second"),
        )  # fmt: skip


def _frames(
    found: list[_Show], titles: Titles | None, asking: _Asking, ignored: list[tuple[str, int, str, str]]
) -> tuple[pd.DataFrame, pd.DataFrame]:
    namer = _Namer(titles, asking)
    shows, plays = [], []
    for show_id, show in enumerate(found, start=1):
        block = show.block
        shows.append(
            {"show_id": show_id, "date": show.date, "number": show.number, "leg": block.leg or _leg_of(block),
             "venue": block.venue, "city": block.city, "room": _room(block, asking), "file": block.sheet.file,
             "sheet": block.sheet.name, "row": block.row}
        )  # fmt: skip
        songs = _in_order(show)
        _ask_about_order(show, asking)
        position, encore = 0, False
        for typed in songs:
            for text, song, is_encore, why in namer.songs(typed, block):
                encore = encore or is_encore
                if why:
                    ignored.append((block.sheet.name, typed.row, text, why))
                    continue
                position += 1
                plays.append((show_id, position, song, encore, text, typed.row))
    namer.near_twins()
    return _show_frame(shows), _play_frame(plays, ignored)


def _leg_of(block: Block) -> str | None:
    """Name of the sheet, where it is neither a day nor what a program calls a first sheet."""
    name = block.sheet.name
    if (
        not name
        or day_in(name) is not None
        or re.fullmatch(r"(?:sheet|table|tabelle|feuille|hoja|blatt)\s?\d*", name, re.IGNORECASE)
    ):
        return None
    return name


def _room(block: Block, asking: _Asking) -> str | None:
    if block.room is None:
        return None
    word = fold(block.room)
    room = (
        word
        if word in ROOMS
        else next((_ROOM_OF[part] for part in [word.replace(" ", ""), *word.split()] if part in _ROOM_OF), None)
    )
    if room is None:
        key = f"room: {block.room}"
        answer = str(asking.answers.get(key, "")).strip().lower()
        if answer in ROOMS:
            return answer
        asking.add(key, (block.sheet.file, block.row, block.column), block.room, f'"{block.room}" is no kind of room known here; it is left empty.',
                   f"Answer with one of {', '.join(ROOMS)}.", ROOMS, blocking=False)  # fmt: skip
    return room


def _in_order(show: _Show) -> list[Typed]:
    """Songs by their positions if each has one of its own; else as they stand."""
    main = [typed for typed in show.songs if not typed.encore]
    after = [typed for typed in show.songs if typed.encore]
    found = []
    for part in (main, after):
        positions = [typed.position for typed in part]
        own = None not in positions and len(set(positions)) == len(part)
        found += sorted(part, key=lambda typed: typed.position or 0) if own else part
    return (
        found
        if after and all(typed.position is not None for typed in show.songs)
        else (found if not after else show.songs)
    )


def _ask_about_order(show: _Show, asking: _Asking) -> None:
    block = show.block
    where = (block.sheet.file, block.row, block.column)
    if not block.ordered and show.songs:
        asking.add(f"order: {show.date} {block.city}", where, f"{show.date} {block.city or ''}".strip(),
                   "The file says which songs were played, not in which order; they are taken in the order of the rows.",
                   "Write positions instead of ticks, or leave it so.", blocking=False)  # fmt: skip
    positions = Counter(typed.position for typed in show.songs if typed.position is not None and not typed.encore)
    twice = [int(position) for position, many in positions.items() if many > 1]
    if twice:
        asking.add(f"positions: {show.date} {block.city}", where, twice[0],
                   f"Position {listed(twice)} is there more than once on {show.date}; the order of the rows is taken.",
                   "Correct the positions in the file, or leave it so.", blocking=False)  # fmt: skip


class _Namer:
    """Gives each typed title the song it means; asks where that is not sure."""

    def __init__(self, titles: Titles | None, asking: _Asking) -> None:
        self.titles, self.asking = titles, asking
        self.spelt: dict[str, Counter[str]] = defaultdict(Counter)
        self.known: dict[tuple[str, bool], list[tuple[str, str, bool, str]]] = {}
        self.where: dict[str, tuple[str, int, str]] = {}

    def songs(self, typed: Typed, block: Block) -> list[tuple[str, str, bool, str]]:
        """Songs of one cell or line: as typed, title, whether it begins the encore, why it is none."""
        key = typed.text, block.has_letters
        if key not in self.known:
            self.known[key] = list(self._read(typed, block))
        return [(text, song, encore or typed.encore, why) for text, song, encore, why in self.known[key]]

    def _read(self, typed: Typed, block: Block) -> Iterable[tuple[str, str, bool, str]]:
        where = (block.sheet.file, typed.row, typed.column)
        in_text = not block.sheet.table or not typed.column
        if self.titles is None:
            yield from self._without_repertoire(typed, where, in_text=in_text, numbered=in_text and block.has_numbers)
            return
        found = (
            songs_in(typed.row, typed.text, self.titles, letters=block.has_letters)
            if in_text
            else [(typed.text, one_title(typed.text, self.titles), False)]
        )
        if isinstance(found, str):
            yield typed.text, "", found == "encore", found
            return
        for item in found:
            text, match, encore = item if isinstance(item, tuple) else (item.as_typed, item.match, item.encore)
            song = self._asked(text, match, where)
            yield text, song or "", encore, "" if song else "left out"

    def _asked(self, text: str, match: Match, where: tuple[str, int, str]) -> str | None:
        """Title of a match; the answer for one that is not sure, and a question if there is none."""
        if match.verdict == SURE:
            return match.song
        name = lines_.likely_title(text)
        key = f"title: {name}"
        answer = self.asking.answers.get(
            key, self.asking.answers.get(ALL_UNKNOWN) if match.verdict != DOUBTFUL else None
        )
        if answer is not None:
            said = str(answer).strip()
            return None if said.lower() == SKIP else name if said.lower() == NEW else said
        near = f"The nearest: {listed(match.candidates)}." if match.candidates else "No title is near."
        self.asking.add(key, where, name, f'"{name}" is not surely a title of the repertoire. {near}',
                        'Answer with the title, "new" for a new song, or "skip" to leave it out.', match.candidates)  # fmt: skip
        return name

    def _without_repertoire(
        self, typed: Typed, where: tuple[str, int, str], *, in_text: bool, numbered: bool
    ) -> Iterable[tuple[str, str, bool, str]]:
        if in_text and (why := lines_.why_no_song(typed.text)) not in ("", "only numbers"):
            yield typed.text, "", why == "encore", why
            return
        ways = lines_.readings(typed.text) if in_text else [lines_.Reading(typed.text)]
        name = lines_.likely_title(typed.text, numbered=numbered) if in_text else typed.text
        key = fold(name)
        answer = self.asking.answers.get(f"title: {name}")
        if answer is not None and str(answer).strip().lower() == SKIP:
            yield typed.text, "", False, "left out"
            return
        if answer is not None and str(answer).strip().lower() != NEW:
            name = str(answer).strip()
            key = fold(name)
        self.spelt[key][name] += 1
        self.where.setdefault(key, where)
        first = next(iter(self.spelt[key]))
        yield typed.text, first, any(way.encore for way in ways), ""

    def near_twins(self) -> None:
        """Ask about titles that look like one song typed two ways; they stay two until somebody says so."""
        if self.titles is not None or len(self.spelt) < 2:  # noqa: PLR2004  # two to compare
            return
        names = [next(iter(spelt)) for spelt in self.spelt.values()]
        for one, other in _twins(names):
            if f"title: {other}" in self.asking.answers or f"title: {one}" in self.asking.answers:
                continue
            self.asking.add(f"title: {other}", self.where[fold(other)], other, f'"{other}" and "{one}" look like one song; they are taken as two.',
                            f'Answer "{one}" if they are one, or "new" if they are not.', (one,), blocking=False)  # fmt: skip


def _twins(names: list[str]) -> Iterable[tuple[str, str]]:
    """Pairs of titles a slip apart, the one that comes first in the file first."""
    from rapidfuzz import process  # noqa: PLC0415  # only where it is used
    from rapidfuzz.distance import OSA  # noqa: PLC0415  # only where it is used

    folded = [fold(name).replace(" ", "") for name in names]
    for at, name in enumerate(folded):
        most = 1 if len(name) < 8 else 2  # noqa: PLR2004  # letters
        if len(name) < 5:  # noqa: PLR2004  # letters
            continue
        for _, _, other in process.extract(name, folded[:at], scorer=OSA.distance, score_cutoff=most, limit=1):
            if not (set(filter(str.isdigit, name)) ^ set(filter(str.isdigit, folded[other]))):
                yield names[other], names[at]


def _show_frame(shows: list[dict[str, object]]) -> pd.DataFrame:
    names = ("show_id", "date", "number", "leg", "venue", "city", "room", "file", "sheet", "row")
    frame = pd.DataFrame(shows, columns=list(names))
    frame["date"] = pd.Series(frame["date"].to_list(), dtype=DATE)
    for name in ("leg", "venue", "city", "room", "file", "sheet"):
        frame[name] = frame[name].astype("str")
    return frame.astype({"show_id": "int64", "number": "int64", "row": "int64"})


def _play_frame(plays: Sequence[tuple[object, ...]], ignored: list[tuple[str, int, str, str]]) -> pd.DataFrame:
    frame = pd.DataFrame(plays, columns=["show_id", "position", "song", "encore", "as_typed", "row"])
    frame = frame.astype(
        {"show_id": "int64", "position": "int64", "song": "str", "encore": bool, "as_typed": "str", "row": "int64"}
    )
    frame.attrs["ignored"] = ignored
    return frame


class HistoryProblem(Problem):
    """A history cannot be written yet; `questions` are the rows of problems that have to be settled."""

    questions: pd.DataFrame

    @classmethod
    def of(cls, problems: pd.DataFrame) -> HistoryProblem:
        """List every open question, each with its place and what to do."""
        lines = [f"{cls.line(row)} (key: {row.key})" for row in problems.itertuples()]
        problem = cls("\n".join([cls.heading(len(lines)), *lines]))
        problem.questions = problems
        return problem

    @staticmethod
    def heading(questions: int) -> str:
        """What stands above the list."""
        return f"Nothing was written: {counted(questions, 'question')} to settle first."

    @staticmethod
    def line(row: Any) -> str:  # noqa: ANN401  # a row of problems, as pandas names it
        """One question: its place, what is wrong, and what to do."""
        place = f"{row.file}, row {row.row}{f', column {row.column}' if row.column else ''}"
        return f"- {place}: {row.problem} {row.todo}"


def write_history(
    diary: Diary,
    shows: pd.DataFrame,
    plays: pd.DataFrame,
    problems: pd.DataFrame | None = None,
    *,
    stage: str = "played",
) -> dict[str, int]:
    """Write shows and their sets into the diary, all or nothing. What is there already is left as it is.

    Parameters
    ----------
    diary
        An open diary.
    shows, plays, problems
        As `read_history` gives them.
    stage
        "played", or "planned" for sets that were handed out.

    Returns
    -------
    dict
        How many `shows`, `songs` and `sets` were added, and how many sets were `already` there.

    Raises
    ------
    HistoryProblem
        Lists what has to be settled first: the open questions of the reading, and each show whose set in the diary is
        another one.

    Examples
    --------
    >>> from tempfile import TemporaryDirectory
    >>> from tourstats.diary import opened
    >>> shows = pd.DataFrame({"show_id": [1], "date": ["2031-03-04"], "city": ["Ostby"]})
    >>> plays = pd.DataFrame({"show_id": [1, 1], "position": [1, 2], "song": ["Ferry", "Tin Roof"]})
    >>> with TemporaryDirectory() as folder, opened(f"{folder}/tour.sqlite") as diary:
    ...     write_history(diary, shows, plays)
    {'shows': 1, 'songs': 2, 'sets': 1, 'already': 0}

    """
    if problems is not None and len(open_questions(problems)):
        raise HistoryProblem.of(open_questions(problems))
    shows, plays = checked(shows, "shows"), checked(plays, "plays")
    done = Counter({"shows": 0, "songs": 0, "sets": 0, "already": 0})
    with diary.atomic(f"a history of {counted(len(shows), 'show')}"):
        spelt, added = _with_new_songs(diary, plays)
        done["songs"] = added
        there = {}
        for show in diary.shows().itertuples():
            there[show.date.date(), fold(_or_empty(show.city)), int(show.number)] = int(show.show_id)
        written, sets = _sets(diary.plays(stage), {}), _sets(plays, spelt)
        conflicts = []
        for show in shows.itertuples():
            conflicts += _write_show(diary, show, sets.get(show.show_id, []), there, written, done, stage)
        if conflicts:
            raise HistoryProblem.of(pd.DataFrame(conflicts, columns=list(PROBLEM_COLUMNS)))
    return dict(done)


def _with_new_songs(diary: Diary, plays: pd.DataFrame) -> tuple[dict[str, str], int]:
    """Add the titles that the repertoire does not have; return what each title is called there, and how many are new."""
    titles = index(diary.songs())
    spelt: dict[str, str] = {}
    added = 0
    for title in dict.fromkeys(plays["song"]):
        same = titles.same(title)
        if same is not None and same.song is not None:
            spelt[title] = same.song
        elif same is not None:
            raise HistoryProblem(
                f'"{title}" fits {listed(same.candidates)} alike. Give it as one of these titles in the file, and read it again.'
            )
        else:
            spelt[title] = diary.add_song(title)
            added += 1
    return spelt, added


def _sets(plays: pd.DataFrame, spelt: Mapping[str, str]) -> dict[object, list[tuple[str, bool]]]:
    """Titles and encores of each show, in order."""
    found: dict[object, list[tuple[str, bool]]] = defaultdict(list)
    ordered = plays.sort_values(["show_id", "position"], kind="stable")
    for show_id, song, encore in zip(ordered["show_id"], ordered["song"], ordered["encore"], strict=True):
        found[show_id].append((spelt.get(song, song), bool(encore)))
    return found


def _write_show(
    diary: Diary, show: Any, songs: list[tuple[str, bool]], there: dict[tuple[day, str, int], int],  # noqa: ANN401  # a row
    written: dict[object, list[tuple[str, bool]]], done: Counter[str], stage: str,
) -> list[dict[str, object]]:  # fmt: skip
    """Write one show; return the question if the diary has another set for it."""
    on, city = show.date.date(), _or_empty(show.city)
    show_id = there.get((on, fold(city), int(show.number)))
    if show_id is None:
        said: dict[str, Any] = {name: _or_empty(getattr(show, name, None)) or None for name in ("room", "venue", "leg")}
        show_id = diary.add_show(on, city or None, number=int(show.number), **said)
        there[on, fold(city), int(show.number)] = show_id
        done["shows"] += 1
    if not songs:
        return []
    if written.get(show_id) == songs:
        done["already"] += 1
        return []
    if show_id in written:
        return [
            {"key": f"diary: {on} {city} {show.number}", "file": getattr(show, "file", ""), "row": int(getattr(show, "row", 0)), "column": "",
             "value": f"{on} {city}", "problem": f"The diary has another set for {on} in {city or 'no town'} (show {show_id}).",
             "todo": "Correct one of the two, or take this show out of the file.", "candidates": [], "blocking": True}
        ]  # fmt: skip
    encore_from = next((at for at, (_, encore) in enumerate(songs, start=1) if encore), None)
    diary.write_set(show_id, [song for song, _ in songs], stage=stage, encore_from=encore_from)
    done["sets"] += 1
    return []


def _or_empty(value: object) -> str:
    return value if isinstance(value, str) else ""
