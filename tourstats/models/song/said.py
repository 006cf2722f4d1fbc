"""What was said about songs, in words: the one place where a finding becomes a sentence.

A page, the sheet and the command say the same, for all of them ask here.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Any

import pandas as pd

from tourstats.tables import in_order
from tourstats.tour import Tour

HEARD = {1: "", 2: "the band heard it", 3: "everyone heard it"}
"""How loud a mistake was, in words; what only the player heard goes without saying."""
COLUMNS = ["date", "show_id", "city", "song", "what", "severity", "words", "room", "personal", "at_s"]
_NUMBER = re.compile(
    r"^(?:#?\d{1,2}(?:[:),]\s*|\.?\s+)"
    r"|(?:the )?(?:\d{1,2}(?:st|nd|rd|th)|first|second|third|[a-z]+th) (?:one|song|tune)[\s:,]+)"
    r"(?!(?:bpm|%|x|bars?|beats?|min(?:ute)?s?|ms|seconds?|times|hits?|on|and|or|of|to)\b)",
    re.IGNORECASE,
)
_MARKS = re.compile(r"\s*!+(?=[\s.,;)]|$)|\+\+|\bsev(?:erity)?\.?\s*[:=]?\s*[123]\b", re.IGNORECASE)
ORDER = {"mistake": 0, "worked": 1, "note": 2}
SHOWN_AT_ONCE = 3
"""Sentences on a song that stand on the show day without asking for more."""
ALWAYS_SHOWN = 2
"""Shows back to which a mistake is always shown: what went wrong last night is what tonight is for."""


def told(tour: Tour, songs: Sequence[str] | None = None) -> pd.DataFrame:
    """Return everything that was said about songs, a sentence a row.

    Parameters
    ----------
    tour
        What was said in it counts; for what was known before a show, `tour.until(show_id)`.
    songs
        Titles; all if not given.

    Returns
    -------
    DataFrame
        One row per mistake, thing that worked, and note on a song, newest first, then the loudest, with columns

        date      datetime  day of the show, or on which a note was written; missing where nobody said
        show_id   Int64     show it was found at, missing for most notes
        city      str       its town
        song      str       title
        what      str       "mistake", "worked" or "note"
        severity  Int64     1 to 3, of mistakes only
        words     str       as a sentence
        room      str       kind of venue that a note holds for, missing where it holds everywhere
        personal  bool      whether to leave it out of what others see
        at_s      float     seconds into the recording, where it was marked

    Examples
    --------
    >>> tour = Tour.of(
    ...     songs=pd.DataFrame({"song": ["Ferry"]}),
    ...     shows=pd.DataFrame({"show_id": [1], "date": ["2031-03-04"], "city": ["Brackwater"]}),
    ...     mistakes=pd.DataFrame({
    ...         "show_id": [1], "song": ["Ferry"], "severity": [3], "kind": ["entry"], "section": ["bridge"],
    ...         "bar": [12], "remark": ["a beat late"],
    ...     }),
    ... )
    >>> told(tour).words.tolist()
    ['entry: a beat late, bridge, bar 12, everyone heard it']

    """
    mistakes, worked, notes = (
        table if songs is None else table[table.song.isin(list(songs))]
        for table in (tour.mistakes, tour.worked, tour.notes[tour.notes.about == "song"])
    )
    rows = pd.concat([_mistakes(mistakes), _worked(worked), notes.assign(what="note", words=notes.text)])
    shows = in_order(tour.shows)[["show_id", "date", "city"]].assign(at=lambda t: range(len(t)))
    rows = rows.merge(shows, how="left", on="show_id", suffixes=("", "_of_show"))
    rows = rows.assign(
        date=rows.date.fillna(rows.date_of_show),
        at=rows["at"].fillna(-1),
        rank=rows.what.map(ORDER),
        loud=-rows.severity.fillna(0).astype(int),
    )
    rows = rows.sort_values(["date", "at", "rank", "loud"], ascending=[False, False, True, True], kind="stable")
    return rows[COLUMNS].reset_index(drop=True)


def tonight(past: Tour, the_set: pd.DataFrame) -> pd.DataFrame:
    """What was said about the songs of a set, by song in order, with the few sentences that stand there at once.

    Parameters
    ----------
    past
        The tour as it stood before the show, which is its last: notes for another kind of venue are left out.
    the_set
        position, song.

    Returns
    -------
    DataFrame
        As `told`, with position first and two more columns: `shows_ago` (Int64, 1 is the last show) and `shown`
        (bool: among the first three of its song, or a mistake of the last two shows).

    """
    first = the_set.drop_duplicates("song").set_index("song").position
    table = told(past, first.index.tolist())
    table = table[table.room.isna() | (table.room == past.shows.room.iloc[-1])]
    shows = past.played()
    ago = {show_id: len(shows) - n for n, show_id in enumerate(shows.show_id)}
    shows_ago = pd.array([ago.get(show_id) for show_id in table.show_id], dtype="Int64")
    table = table.assign(position=first.reindex(table.song).array, shows_ago=shows_ago)
    fresh = ((table.what == "mistake") & (table.shows_ago <= ALWAYS_SHOWN)).fillna(value=False).astype(bool)
    table = table.assign(older=~fresh).sort_values(["position", "older"], kind="stable", ignore_index=True)
    shown = ~table.older | (table.groupby("song").cumcount() < SHOWN_AT_ONCE)
    return table.assign(shown=shown)[["position", *COLUMNS, "shows_ago", "shown"]]


def _mistakes(rows: pd.DataFrame) -> pd.DataFrame:
    """Each mistake once: what was found listening again too, in the same words, is the same."""
    rows = rows.sort_values("listening", kind="stable")
    rows = rows.assign(words=[sentence(row) for row in rows.to_dict("records")])
    same = ["show_id", "song", "words"]
    rows = rows.assign(nth=rows.groupby([*same, "listening"]).cumcount())
    rows = rows.drop_duplicates([*same, "nth"]).sort_index()
    again = rows.listening.ne(1).map({True: "; found listening again", False: ""})
    words = [said + more for said, more in zip(rows.words, again, strict=True)]
    return rows.assign(what="mistake", words=words, personal=False, severity=rows.severity.astype("Int64"))


def _worked(rows: pd.DataFrame) -> pd.DataFrame:
    words = [
        "worked: " + (joined(in_words(row["remark"], row["song"]), *_elsewhere(row)) or "this song")
        for row in rows.to_dict("records")
    ]
    return rows.assign(what="worked", words=words, personal=False)


def sentence(row: Mapping[str, Any]) -> str:
    """A mistake as a sentence: kind, what was written, where, and how loud; nothing twice.

    The kind of a line that names its song was read from its words, and is not said beside them.
    """
    typed = row["remark"] if isinstance(row["remark"], str) else ""
    remark = in_words(typed, row["song"])
    kind = row["kind"] if isinstance(row["kind"], str) and row["kind"] != "other" else ""
    said = f"{kind}: {remark}" if kind and remark and remark == typed else remark or kind or "a mistake"
    by = row["said_by"] if isinstance(row["said_by"], str) and row["said_by"] != "me" else ""
    loud, whose = HEARD[int(row["severity"])], f"said by {by}" if by else ""
    return joined(said, *_elsewhere(row), *(part for part in (loud, whose) if part.casefold() not in said.casefold()))


def in_words(typed: object, song: str) -> str:
    """What was typed of a song, without what stands for the song and for how loud it was.

    The number is that of the song on one night's sheet, and misleads on every other. The diary keeps what was typed.

    Examples
    --------
    >>> in_words("2 rushed in chorus 2 !!", "Ferry"), in_words("harbour: late !", "Salt Harbour")
    ('rushed in chorus 2', 'late')
    >>> in_words("the third one dragged", "Ferry"), in_words("7 ++ felt great", "Ferry")
    ('dragged', 'felt great')
    >>> in_words("2 bars early", "Ferry"), in_words("ferry", "Ferry"), in_words(None, "Ferry")
    ('2 bars early', 'ferry', '')

    """
    text = typed.strip() if isinstance(typed, str) else ""
    said = _NUMBER.sub("", _MARKS.sub("", text), count=1)
    front, colon, rest = said.partition(":")
    if colon and set(front.casefold().split()) <= set(song.casefold().split()):
        said = rest
    elif said.casefold().startswith(f"{song.casefold()} "):
        said = said[len(song) :]
    said = said.strip(" ,;:-")
    return said if any(letter.isalnum() for letter in said) else text


def _elsewhere(row: Mapping[str, Any]) -> list[str]:
    """Where it was, as far as its own words do not say so."""
    remark = row["remark"].casefold() if isinstance(row["remark"], str) else ""
    return [part for part in _where(row) if part.casefold() not in remark]


def _where(row: Mapping[str, Any]) -> list[str]:
    section = [row["section"]] if isinstance(row["section"], str) else []
    return [*section, *([f"bar {int(row['bar'])}"] if pd.notna(row["bar"]) else [])]


def joined(*parts: object) -> str:
    """The parts that are words, with commas between."""
    return ", ".join(part for part in parts if isinstance(part, str) and part)
