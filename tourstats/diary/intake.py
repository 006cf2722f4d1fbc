"""Intake of what people have: a pasted set, a history of many shows, tables in files."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

import pandas as pd

from tourstats.diary import reading_lines as lines_
from tourstats.diary.reading_songs import WEAK, Row, songs_in
from tourstats.diary.titles import SURE, UNKNOWN, index

COLUMNS = ("position", "as_typed", "song", "sure", "score", "candidates", "encore", "verdict", "line")
_SET = 60
"""Rows up to which a paste is taken for one set, in which a song seldom stands twice."""
def read_set(text: str, songs: pd.DataFrame | Iterable[str]) -> pd.DataFrame:
    """Read a pasted set and match each line to the repertoire. Nothing is written.

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
        `attrs["ignored"]` lists (line, text, why) for every other line that is not blank, and for blank lines too.

    Examples
    --------
    >>> found = read_set("1. coper wire 3:45\\nTin Roof > Ferry\\nENCORE\\nBrand New Thing", ["Ferry", "Copper Wire", "Tin Roof"])
    >>> found[["position", "song", "verdict", "encore"]]
       position         song  verdict  encore
    0         1  Copper Wire     sure   False
    1         2     Tin Roof     sure   False
    2         3        Ferry     sure   False
    3         4          NaN  unknown    True

    """
    titles = index(songs)
    typed = [(number, lines_.cleaned(line)) for number, line in enumerate(text.splitlines(), start=1)]
    rows: list[Row] = []
    ignored: list[tuple[int, str, str]] = []
    encore = False
    for number, line in typed:
        found = songs_in(number, line, titles)
        if isinstance(found, str):
            encore = encore or found == "encore"
            ignored.append((number, line, found))
            continue
        for row in found:
            encore = encore or row.encore
            rows.append(replace(row, encore=encore))
    rows = _without_headings(rows, typed, ignored)
    return _frame(_doubting_twins(rows), ignored)


def _without_headings(
    rows: list[Row], typed: list[tuple[int, str]], ignored: list[tuple[int, str, str]]
) -> list[Row]:
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
        among_numbers = numbered >= 3 and numbered >= 0.8 * (len(rows) - 1)
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
        }
    )
    frame.attrs["ignored"] = ignored
    return frame
