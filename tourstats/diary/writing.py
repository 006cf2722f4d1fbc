"""What was read, written into the store: sets of many shows, and tables of one kind. All or nothing; what is there stays.

A song, a show or a venue that is there already gets what it lacks: a tempo, a venue, a kind of venue said later.
"""

# ruff: noqa: E501  # lists of names and questions are read in one piece
from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Any

import pandas as pd

from tourstats import tables
from tourstats.problems import Problem, counted
from tourstats.reading.again import There, matched
from tourstats.reading.asking import Asking, table_of
from tourstats.reading.titles import fold, index
from tourstats.tables import checked

if TYPE_CHECKING:
    from tourstats.diary.book import Diary

_COUNTED = ("mistakes", "rehearsals")
"""Tables in which equal rows of one file are as many events: rushed twice in one song."""
_WHOLE = {"sections": "song", "measured": "show_id"}
"""Tables that are taken for a whole song or show at once, and only where there is nothing of it yet."""
_FILLED = {"songs": "song", "venues": "venue", "shows": "show_id"}
"""Tables whose rows are filled in where they are there already, and what names a row."""


_CALLED = {
    "planned": "planned song", "worked": "well-played part", "tested": "shape answer", "measured": "measured song",
    "pasted": "pasted set", "attendance": "visit",
}  # fmt: skip
"""What one row of a table is called where its name does not say it."""


FILLED = "filled in"
"""Rows that were there, and got what they lacked."""


def said_added(counts: Mapping[str, int]) -> str:
    """What came from a file, in words.

    Examples
    --------
    >>> said_added({"shows": 2, "songs": 0, "worked": 1, "already": 1}), said_added({"already": 3, "filled in": 2})
    ('2 shows, 1 well-played part; 1 there already', '2 filled in; 3 there already')

    """
    there = counts.get("already", 0)
    said = [
        counted(count, _CALLED.get(name, name.removesuffix("s")))
        for name, count in counts.items()
        if count and name not in ("already", FILLED)
    ]
    said += [f"{counts[FILLED]} filled in"] if counts.get(FILLED) else []
    return ", ".join(said or ["nothing new"]) + (f"; {there} there already" if there else "")


def open_questions(problems: pd.DataFrame) -> pd.DataFrame:
    """Problems that have to be answered before anything is written."""
    return problems[problems["blocking"].astype(bool)]


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
        parts = [row.file, *([f"sheet {row.sheet}"] if row.sheet else []), *([f"row {row.row}"] if row.row else [])]
        place = ", ".join([*filter(None, parts), *([f"column {row.column}"] if row.column else [])])
        return f"- {place}{': ' if place else ''}{row.problem} {row.todo}"


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
    >>> plays = pd.DataFrame({"show_id": [1, 1], "position": [1, 2], "song": ["Ferry", "Tin Rook"]})
    >>> with TemporaryDirectory() as folder, opened(f"{folder}/tour.sqlite") as diary:
    ...     write_history(diary, shows, plays)
    {'shows': 1, 'songs': 2, 'sets': 1, 'already': 0}

    """
    if problems is not None and len(open_questions(problems)):
        raise HistoryProblem.of(open_questions(problems))
    asking = Asking()
    there = matched(checked(shows, "shows"), checked(plays, "plays"), diary.shows(), diary.plays(stage), asking)
    if asking.open:
        raise HistoryProblem.of(table_of(asking.open.values()))
    return write_sets(diary, shows, plays, there, stage=stage)


def write_sets(
    diary: Diary, shows: pd.DataFrame, plays: pd.DataFrame, there: Mapping[Any, There], *, stage: str = "played"
) -> dict[str, int]:
    """Write sets of shows of which it is settled what the diary has already; see `write_history`."""
    shows, plays = checked(shows, "shows"), checked(plays, "plays")
    done = Counter({"shows": 0, "songs": 0, "sets": 0, "already": 0})
    with diary.atomic(f"a history of {counted(len(shows), 'show')}"):
        spelt, done["songs"] = _with_new_songs(diary, plays)
        sets = _sets(plays, spelt)
        written = set(diary.plays(stage).show_id)
        for show in shows.itertuples():
            _write_show(diary, show, sets.get(show.show_id, []), there.get(show.show_id, There()), written, done, stage)
    return dict(done)


def _with_new_songs(diary: Diary, plays: pd.DataFrame) -> tuple[dict[str, str], int]:
    """Add the titles that the repertoire does not have; return what each title is called there, and how many are new."""
    titles = index(diary.songs())
    spelt: dict[str, str] = {}
    added = 0
    for title in dict.fromkeys(plays["song"]):
        same = titles.same(title)
        if title in titles.names:
            spelt[title] = title
        elif same is not None and same.song is not None:
            spelt[title] = same.song
        else:
            spelt[title] = diary.add_song(title)
            added += 1
    return spelt, added


def _sets(plays: pd.DataFrame, spelt: Mapping[str, str]) -> dict[object, pd.DataFrame]:
    """Songs of each show, in order, as the repertoire calls them."""
    named = plays.assign(song=plays["song"].map(lambda title: spelt.get(title, title)))
    ordered = named.sort_values(["show_id", "position"], kind="stable")
    return dict(iter(ordered.groupby("show_id")))


def _write_show(
    diary: Diary,
    show: Any,  # noqa: ANN401  # a row
    songs: pd.DataFrame,
    there: There,
    written: set[object],
    done: Counter[str],
    stage: str,  # a row
) -> None:
    """Write one show: a new one with its set; of one that is there what it lacks, and its set if that was settled."""
    show_id = there.show_id
    cells: dict[str, Any] = {name: _or_empty(getattr(show, name, None)) or None for name in ("room", "venue", "leg")}
    if show_id is None:
        show_id = diary.add_show(show.date.date(), _or_empty(show.city) or None, number=int(show.number), **cells)
        done["shows"] += 1
    else:
        _fill(diary, "shows", show_id, {**cells, "city": _or_empty(show.city) or None})
        if there.change:
            diary.change_show(show_id, **dict(there.change))
    if not len(songs):
        return
    if not there.write:
        done["already"] += 1
        return
    if show_id in written:
        diary.write_set(show_id, [], stage=stage)
    first = int(songs.encore.to_numpy().argmax()) + 1 if songs.encore.any() else None
    cells = {
        name: songs[name].where(songs[name].notna(), empty).tolist()
        for name, empty in (("remark", ""), ("segue", False))
        if name in songs
    }
    diary.write_set(
        show_id,
        songs.song.tolist(),
        stage=stage,
        encore_from=first,
        remarks=cells.get("remark"),
        segues=cells.get("segue"),
    )
    done["sets"] += 1


def _fill(diary: Diary, table: str, key: object, values: Mapping[str, object]) -> int:
    """Give a song, a show or a venue that is there what it lacks; return whether anything was."""
    frame = getattr(diary, table)()
    row = frame[frame[_FILLED[table]] == key]
    if not len(row):
        return 0
    now = row.iloc[0]
    lacking = {
        name: value
        for name, value in values.items()
        if value is not None and name in frame.columns and name != _FILLED[table] and _is_missing(now[name])
    }
    if lacking:
        if table == "shows":
            diary.change_show(key, **lacking)
        else:
            (diary.change_song if table == "songs" else diary.change_venue)(str(key), **lacking)
    return int(bool(lacking))


def _or_empty(value: object) -> str:
    return value if isinstance(value, str) else ""


def write_table(diary: Diary, frame: pd.DataFrame, table: str, problems: pd.DataFrame | None = None) -> dict[str, int]:
    """Write a table that was read into the diary, all or nothing; songs, venues and shows that are there stay as they are.

    Returns
    -------
    dict
        How many rows were added, and how many were there `already`.

    """
    if problems is not None and len(open_questions(problems)):
        raise HistoryProblem.of(open_questions(problems))
    rows = [
        {str(name): value for name, value in row.items() if name in tables.columns(table) and not _is_missing(value)}
        for row in frame.to_dict("records")
    ]
    fresh = _fresh(rows, table, _there(diary, table))
    with diary.atomic(f"{len(frame)} rows of {table}"):
        filled = sum(_fill_row(diary, table, values) for values in rows) if table in _FILLED else 0
        if table == "reviews":
            _add_reviews(diary, fresh)
        elif table in _WHOLE:
            _add_whole(diary, fresh, table)
        else:
            add = _adders(diary)[table]
            for values in fresh:
                add(values)
    done = {table: len(fresh), "already": len(frame) - len(fresh)}
    return done | ({FILLED: filled} if filled else {})


def _fill_row(diary: Diary, table: str, values: dict[str, Any]) -> int:
    """Give a row that is there what it lacks."""
    if table == "shows":
        shows = diary.shows()
        key = _key(table, values)
        there = next((row["show_id"] for row in shows.to_dict("records") if _key(table, row) == key), None)
        return 0 if there is None else _fill(diary, table, there, values)
    name = _FILLED[table]
    same = next((one for one in getattr(diary, table)()[name] if fold(str(one)) == fold(str(values[name]))), None)
    return 0 if same is None else _fill(diary, table, same, values)


def _fresh(rows: list[dict[str, Any]], table: str, there: Counter[tuple[object, ...]]) -> list[dict[str, Any]]:
    """Rows that the diary lacks. Two equal mistakes or rehearsals of one file are two; of anything else, one."""
    left = Counter(there)
    if table in _WHOLE:
        return [values for values in rows if not left[_key(table, values)]]
    fresh = []
    for values in rows:
        key = _key(table, values)
        if left[key] > 0:
            left[key] -= table in _COUNTED
            continue
        fresh.append(values)
        left[key] += table not in _COUNTED
    return fresh


def _add_reviews(diary: Diary, rows: list[dict[str, Any]]) -> None:
    """Add what was listened to a show at a time: one change each is far quicker than one a song."""
    together: dict[tuple[Any, int], list[str]] = {}
    for row in rows:
        together.setdefault((row["show_id"], int(row.get("listening", 1))), []).append(row["song"])
    for (show_id, listening), songs in together.items():
        diary.add_review(show_id, songs, listening=listening)


def _add_whole(diary: Diary, rows: list[dict[str, Any]], table: str) -> None:
    """Write every row of a song, or of a show, together."""
    name = _WHOLE[table]
    add: Callable[..., None] = diary.set_sections if table == "sections" else diary.set_measured
    for key in dict.fromkeys(row[name] for row in rows):
        theirs = sorted((row for row in rows if row[name] == key), key=lambda row: row["position"])
        add(key, [{column: value for column, value in row.items() if column != name} for row in theirs])


def _adders(diary: Diary) -> dict[str, Callable[[dict[str, Any]], object]]:
    return {
        "songs": lambda row: diary.add_song(**row),
        "venues": lambda row: diary.add_venue(**row),
        "shows": lambda row: diary.add_show(**{name: value for name, value in row.items() if name != "show_id"}),
        "rehearsals": lambda row: diary.add_rehearsal(**row),
        "mistakes": lambda row: diary.add_mistake(**{"kind": None, **row}),
        "notes": lambda row: diary.add_note(**row),
        "worked": lambda row: diary.add_worked(**row),
        "tested": lambda row: diary.add_tested(**row),
        "things": lambda row: diary.keep_thing(**row),
    }


_KEYS = {
    "songs": ("song",), "venues": ("venue", "city"), "shows": ("date", "number", "city"), "rehearsals": ("date", "song", "way"),
    "reviews": ("show_id", "song", "listening"), "mistakes": ("show_id", "song", "kind", "section", "bar", "severity", "cause", "said_by", "remark", "listening", "at_s"),
    "notes": ("about", "song", "next_song", "room", "venue", "show_id", "text"),
    "worked": ("show_id", "song", "section", "bar", "remark", "at_s"), "tested": ("song", "date", "asked", "known"),
    "things": ("thing",), "sections": ("song",), "measured": ("show_id",),
}  # fmt: skip


def _key(table: str, values: Mapping[str, object]) -> tuple[object, ...]:
    """What makes a row the same as one that is there."""
    return tuple(
        fold(value) if isinstance(value, str) else (None if _is_missing(value) else value)
        for value in (values.get(name) for name in _KEYS[table])
    )


def _there(diary: Diary, table: str) -> Counter[tuple[object, ...]]:
    return Counter(_key(table, row) for row in getattr(diary, table)().to_dict("records"))


def _is_missing(value: object) -> bool:
    return value is None or (not isinstance(value, str | list) and bool(pd.isna(value)))
