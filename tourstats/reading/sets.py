"""Reading a pasted set: which line is which song, what is said behind a title, and which lines are open."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Any

import pandas as pd

from tourstats.problems import Problem, listed, there_are
from tourstats.reading import lines as lines_
from tourstats.reading.account import NEW, SKIP
from tourstats.reading.songs import WEAK, Row, songs_in
from tourstats.reading.titles import SURE, UNKNOWN, index

COLUMNS = ("position", "as_typed", "song", "sure", "score", "candidates", "encore", "verdict", "line", "as_new")
_A_FEW = 3
_NEXT = 3
"""Lines below a first one in which the numbering may go on."""
_SET = 60
"""Rows up to which a paste is taken for one set, in which a song seldom stands twice."""


def read_set(text: str, songs: pd.DataFrame | Iterable[str]) -> pd.DataFrame:
    r"""Read a pasted set and match each line to the repertoire. Nothing is written.

    Parameters
    ----------
    text
        The set as it was pasted: numbered or not, with times, keys, remarks, segue marks, encore marks and headings.
    songs
        The repertoire: a table with `song` and perhaps `aliases`, or plain titles.

    Returns
    -------
    DataFrame
        One row per song of the set, in order:
            position     int    place in the set, from 1
            as_typed     str    the line, or the part of it that holds this song
            song         str    title in the repertoire; missing unless sure
            sure         bool   whether the title can be taken without asking
            score        float  likeness of the best title, 0 to 100
            candidates   list   up to three titles, best first; empty if nothing is near
            encore       bool   whether it comes after the main set
            verdict      str    `sure`, `doubtful` or `unknown`
            line         int    line in the text, from 1
            as_new       str    title it would get as a new song
        `attrs["ignored"]` lists (line, text, why) for every other line that is not blank, and for blank lines too.

    Examples
    --------
    >>> repertoire = ["Ferry", "Copper Wire", "Tin Roof"]
    >>> found = read_set("1. coper wire 3:45\nTin Roof > Ferry\nENCORE\nBrand New Thing", repertoire)
    >>> found[["position", "song", "verdict", "encore"]]
       position         song  verdict  encore
    0         1  Copper Wire     sure   False
    1         2     Tin Roof     sure   False
    2         3        Ferry     sure   False
    3         4          NaN  unknown    True

    """
    titles = index(songs)
    typed = [(number, lines_.cleaned(line)) for number, line in enumerate(text.splitlines(), start=1)]
    lettered = lines_.lettered(line for _, line in typed)
    rows: list[Row] = []
    ignored: list[tuple[int, str, str]] = []
    encore = False
    for number, line in typed:
        below = next((other for _, other in typed[number : number + _NEXT] if other), "")
        within = bool(rows) or lines_.counts_on(line, below)
        found = songs_in(number, line, titles, within=within, letters=lettered or not rows)
        if isinstance(found, str):
            encore = encore or found == "encore"
            ignored.append((number, line, found))
            continue
        for row in found:
            encore = encore or row.encore
            rows.append(replace(row, encore=encore))
    rows = _without_headings(rows, typed, ignored)
    return _frame(_doubting_twins(rows), ignored)


def _without_headings(rows: list[Row], typed: list[tuple[int, str]], ignored: list[tuple[int, str, str]]) -> list[Row]:
    """Take out lines above the set that belong to its heading: the band, the place, the tour."""
    first = next((row.line for row in rows if row.match.verdict == SURE or row.numbered), None)
    numbered = sum(row.numbered for row in rows)
    if first is None:
        return rows
    blank = {number for number, line in typed if not line or (number, line, "only signs") in ignored}
    dated = any(why.startswith("a heading") and number < first for number, _, why in ignored)
    kept = []
    for row in rows:
        above = row.line < first and row.match.verdict == UNKNOWN
        apart = any(row.line < number < first for number in blank)
        among_numbers = numbered >= _A_FEW and numbered >= 0.8 * (len(rows) - 1)
        if above and (among_numbers or apart or (lines_.names_a_place(row.as_typed) and (dated or row.line == 1))):
            ignored.append((row.line, row.as_typed, "above the set"))
        else:
            kept.append(row)
    ignored.sort()
    return kept


def _doubting_twins(rows: list[Row]) -> list[Row]:
    """Doubt weak evidence for a song that another line of the same set names better."""
    if len(rows) > _SET:
        return rows
    named = {row.match.song for row in rows if row.match.verdict == SURE and row.match.evidence not in WEAK}
    return [
        replace(row, match=row.match.doubted())
        if row.match.verdict == SURE and row.match.evidence == "first words" and row.match.song in named
        else row
        for row in rows
    ]


def _frame(rows: list[Row], ignored: list[tuple[int, str, str]]) -> pd.DataFrame:
    numbered = sum(row.numbered for row in rows) > len(rows) / 2
    frame = pd.DataFrame(
        {
            "position": pd.Series(range(1, len(rows) + 1), dtype="int64"),
            "as_typed": pd.Series([row.as_typed for row in rows], dtype="str"),
            "song": pd.Series([row.match.song for row in rows], dtype="str"),
            "sure": pd.Series([row.match.verdict == SURE for row in rows], dtype=bool),
            "score": pd.Series([float(row.match.score) for row in rows], dtype=float),
            "candidates": pd.Series([list(row.match.candidates[:3]) for row in rows], dtype=object),
            "encore": pd.Series([row.encore for row in rows], dtype=bool),
            "verdict": pd.Series([row.match.verdict for row in rows], dtype="str"),
            "line": pd.Series([row.line for row in rows], dtype="int64"),
            "as_new": pd.Series([lines_.likely_title(row.as_typed, numbered=numbered) for row in rows], dtype="str"),
        }
    )
    frame.attrs["ignored"] = ignored
    return frame


@dataclass(frozen=True)
class Settled:
    """A set that is ready to be written.

    Attributes
    ----------
    titles
        Songs in order, for `Diary.write_set`.
    encore_from
        Position of the first song of the encore, from 1; None if there is none.
    new
        Titles that have to be added to the repertoire first.

    """

    titles: list[str]
    encore_from: int | None
    new: list[str]


def choices(line: Any) -> list[tuple[str, str]]:  # noqa: ANN401  # a row of a table, as pandas names it
    """What an open line of a set may be: the words to offer, and the answer that `settled` takes, nearest title first.

    Parameters
    ----------
    line
        A row of `read_set`, by names.

    Examples
    --------
    >>> choices(next(read_set("Copper", ["Copper Wire", "Copper Kettle"]).itertuples()))
    [('Copper Wire', 'Copper Wire'), ('Copper Kettle', 'Copper Kettle'), ('a new song: Copper', 'new'),
     ('leave it out', 'skip')]

    """
    near = [(title, title) for title in line.candidates]
    return [*near, (f"a new song: {line.as_new}", NEW), ("leave it out", SKIP)]


class OpenLinesProblem(Problem):
    """Lines of a set are not settled yet; `lines` are those rows of `read_set`."""

    lines: pd.DataFrame

    @classmethod
    def of(cls, lines: pd.DataFrame) -> OpenLinesProblem:
        """List every open line with the nearest titles, by the position under which it is answered."""
        items = [
            f'- song {row.position} (line {row.line}), "{row.as_typed}": '
            + (f"perhaps {listed(row.candidates)}" if len(row.candidates) else "not in the repertoire")
            for row in lines.itertuples()
        ]
        many = there_are(len(items), "line")
        todo = "Give each a title of the repertoire, say that it is new, or skip it."
        problem = cls("\n".join([f"{many} not settled. {todo}", *items]))
        problem.lines = lines
        return problem


def settled(lines: pd.DataFrame, answers: Mapping[int, str] | None = None) -> Settled:
    r"""Put the answers to the open lines of a set in their places.

    Parameters
    ----------
    lines
        As `read_set` gives them.
    answers
        For positions: a title, `"new"` for a new song called as it was typed, `"new: Title"` for one called
        otherwise, or `"skip"` to leave the line out. An answer overrides a sure match.

    Raises
    ------
    OpenLinesProblem
        Lists the lines that are still open.

    Examples
    --------
    >>> lines = read_set("Fery Cross\n2. Brand New Thing", ["Ferry", "Copper Wire"])
    >>> settled(lines, {1: "Ferry", 2: "new"})
    Settled(titles=['Ferry', 'Brand New Thing'], encore_from=None, new=['Brand New Thing'])

    """
    given = {int(position): str(answer).strip() for position, answer in (answers or {}).items() if _is_answer(answer)}
    still = lines[~lines["sure"].astype(bool) & ~lines["position"].isin(list(given))]
    if len(still):
        raise OpenLinesProblem.of(still)
    titles: list[str] = []
    new: list[str] = []
    encore_from = None
    for row in lines.itertuples():
        answer = given.get(int(row.position))
        if answer is not None and answer.casefold() == SKIP:
            continue
        title, is_new = (str(row.song), False) if answer is None else _answered(answer, str(row.as_new))
        titles.append(title)
        if is_new and title not in new:
            new.append(title)
        if row.encore and encore_from is None:
            encore_from = len(titles)
    return Settled(titles, encore_from, new)


def _is_answer(answer: object) -> bool:
    return isinstance(answer, str) and bool(answer.strip())


def _answered(answer: str, as_new: str) -> tuple[str, bool]:
    """Title of an answer, and whether it is new."""
    if answer.casefold() == NEW:
        return as_new, True
    word, colon, title = answer.partition(":")
    if colon and word.strip().casefold() == NEW and title.strip():
        return title.strip(), True
    return answer, False
