"""Intake of what people have: a pasted set, a history of many shows, tables in files."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

import pandas as pd

from tourstats.diary import reading_lines as lines_
from tourstats.diary.titles import DOUBTFUL, NOTHING, SURE, UNKNOWN, Match, Titles, index

COLUMNS = ("position", "as_typed", "song", "sure", "score", "candidates", "encore", "verdict", "line")
_SET = 60
"""Rows up to which a paste is taken for one set, in which a song seldom stands twice."""
_WAYS = 10
"""Ways to take a line that are compared with typing slips in mind."""
_BEHIND_A_NUMBER = tuple(".):] ")
_DASHES = ("-", "–", "—")
_WEAK = ("first words", "cut short", "initials")


@dataclass(frozen=True)
class _Row:
    """A song of the set as it was found."""

    line: int
    as_typed: str
    match: Match
    numbered: bool = False
    encore: bool = False


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
    rows: list[_Row] = []
    ignored: list[tuple[int, str, str]] = []
    encore = False
    for number, line in typed:
        found = _line(number, line, titles)
        if isinstance(found, str):
            encore = encore or found == "encore"
            ignored.append((number, line, found))
            continue
        for row in found:
            encore = encore or row.encore
            rows.append(replace(row, encore=encore))
    rows = _without_headings(rows, typed, ignored)
    return _frame(_doubting_twins(rows), ignored)


def _line(number: int, line: str, titles: Titles) -> list[_Row] | str:
    """Read one line: its songs, or why it holds none."""
    if not line:
        return "blank"
    ways = lines_.readings(line)
    same = _same(ways, titles)
    if same is None or same[1].verdict != SURE:
        why = lines_.why_no_song(line)
        if why and same is None:
            return why
    if same is None or any(letter.isalpha() for letter in same[0].off):
        several = _several(number, line, ways, titles)
        if several and (same is None or sum(row.match.verdict == SURE for row in several) > 1):
            return several
    way, match = same or _nearest(ways, titles)
    return [_Row(number, line, match, numbered=ways[-1].numbered or way.numbered, encore=_says_encore(ways, way))]


def _says_encore(ways: list[lines_.Reading], way: lines_.Reading) -> bool:
    return way.encore or (len(ways) > 1 and ways[-1].encore and way.text != ways[0].text)


def _same(ways: list[lines_.Reading], titles: Titles) -> tuple[lines_.Reading, Match] | None:
    """Find the first way to take the line that is a title but for spelling, then but for spaces."""
    for joined in (False, True):
        for way in ways:
            if joined and way.text[1:2] in _BEHIND_A_NUMBER:
                continue
            match = titles.same(way.text, joined=joined)
            if match is not None:
                return way, match.doubted() if way.names_another else match
    return None


def _nearest(ways: list[lines_.Reading], titles: Titles) -> tuple[lines_.Reading, Match]:
    """Find the way to take the line that is nearest to a title."""
    likely = [way for way in ways if way.text[0].isalpha() or (titles.starts_with_digit and way.text[0].isdigit())]
    ways = (likely or ways)[:_WAYS]
    found = list(zip(ways, (match for _, match in titles.judged([way.text for way in ways])), strict=True))
    sure = [(way, match) for way, match in found if match.verdict == SURE]
    if sure:
        way, match = min(sure, key=lambda item: (item[1].evidence in _WEAK, item[1].slips))
        against = any(other.song != match.song for _, other in sure) or (
            match.slips > 0
            and any(m.evidence in _WEAK and m.weighs and m.verdict == DOUBTFUL and not m.slips for _, m in found)
        )
        return way, match.doubted() if against or way.names_another else match
    best = max(found, key=lambda item: (item[1].verdict == DOUBTFUL, item[1].score))
    others = [song for _, match in found for song in match.candidates]
    candidates = tuple(dict.fromkeys([*best[1].candidates, *others]))[:3]
    return best[0], replace(best[1], candidates=candidates)


def _several(number: int, line: str, ways: list[lines_.Reading], titles: Titles) -> list[_Row]:
    """Read a line that holds more than one song; nothing if it does not."""
    front = lines_.fronts(line)[-1]
    for split, enough in ((lines_.segues, _enough_segues), (lines_.cells, _enough_cells)):
        pieces = split(front.text)
        if len(pieces) == 1 or (split is lines_.segues and _whole(ways, titles)):
            continue
        parts = [(text, match) for text, match in _joined(pieces, titles) if text]
        found = [(text, match) for text, match in parts if match.evidence == "same" or not lines_.is_remark(text)]
        if len(found) > 1 and enough([match for _, match in found], pieces[1::2]):
            return [_Row(number, text, match, front.numbered, front.encore) for text, match in found]
    return []


def _strong(matches: list[Match]) -> int:
    return sum(match.verdict == SURE and match.evidence not in _WEAK for match in matches)


def _enough_segues(matches: list[Match], marks: list[str]) -> bool:
    """Whether the pieces are songs: an arrow says so, a slash perhaps, the word "into" only between two titles."""
    if any(mark.strip().isalpha() for mark in marks):
        return _strong(matches) == len(matches)
    arrows = all(">" in mark or mark.strip() not in ("/", "//") for mark in marks)
    return _strong(matches) > 0 or (arrows and all(match.verdict == SURE for match in matches))


def _enough_cells(matches: list[Match], marks: list[str]) -> bool:
    """Whether the pieces are songs and no remarks: behind a dash only a title as it is, else most of them."""
    if any(mark.strip() in _DASHES for mark in marks):
        return all(match.verdict == SURE and match.evidence == "same" for match in matches)
    return _strong(matches) > 1 and (_strong(matches) == len(matches) or 2 * _strong(matches) >= len(matches) > 2)


def _whole(ways: list[lines_.Reading], titles: Titles) -> bool:
    """Whether the line as a whole, marks and all, is surely one title typed with slips."""
    return any(
        match.verdict == SURE for match in (titles.match(way.text) for way in ways if len(lines_.segues(way.text)) > 1)
    )


def _joined(pieces: list[str], titles: Titles) -> list[tuple[str, Match]]:
    """Match the pieces, joining those that make one title together ("Either/Or")."""
    found = []
    at = 0
    while at < len(pieces):
        for end in range(min(len(pieces), at + 7), at, -1):
            text = "".join(pieces[at:end]).strip()
            if end - at == 1 or ((end - at) % 2 and _same([lines_.Reading(text)], titles) is not None):
                found.append((text, _alone(text, titles)))
                at = end + 1
                break
    return found


def _alone(text: str, titles: Titles) -> Match:
    """Match one piece of a line, with its numbering and remarks."""
    if not text:
        return NOTHING
    ways = lines_.readings(text)
    same = _same(ways, titles)
    return (same or _nearest(ways, titles))[1]


def _without_headings(
    rows: list[_Row], typed: list[tuple[int, str]], ignored: list[tuple[int, str, str]]
) -> list[_Row]:
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


def _doubting_twins(rows: list[_Row]) -> list[_Row]:
    """Doubt weak evidence for a song that another line of the same set names better."""
    if len(rows) > _SET:
        return rows
    named = {row.match.song for row in rows if row.match.verdict == SURE and row.match.evidence not in _WEAK}
    return [
        replace(row, match=row.match.doubted())
        if row.match.verdict == SURE and row.match.evidence == "first words" and row.match.song in named
        else row
        for row in rows
    ]


def _frame(rows: list[_Row], ignored: list[tuple[int, str, str]]) -> pd.DataFrame:
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
