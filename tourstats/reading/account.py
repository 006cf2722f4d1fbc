"""The account of a reading: every line of a text and every cell of a table once, with what it was taken for."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from operator import attrgetter

import pandas as pd

from tourstats.problems import TableProblem, counted, listed

SONG = "song"
NOT_UNDERSTOOD = "not understood"
LEFT_OUT = "left out"
STRUCK_OUT = "struck out"
TAKEN_AS = (
    *(SONG, "heading", "day", "city", "venue", "encore mark", "remark", "segue", "total", "time stamp", "sender"),
    *("section", "bars", "feel", "lead", "cue", "hit", "start"),
    *("number", "length", "sign", STRUCK_OUT, LEFT_OUT, NOT_UNDERSTOOD),
)
"""What a piece may be taken for. A "number" counts the lines; a "sign" is a bullet or a rule and says nothing."""

NEW, SKIP = "new", "skip"
"""Answers to a question about a title: it is a new song as it is typed; leave it out."""

COLUMNS = ("file", "sheet", "row", "column", "as_typed", "taken_as", "song", "sure", "why")
_QUIET = (SONG, "number", "length", "sign")
"""What is not worth a word of its own when an account is said."""
_ROWS_NAMED = 3
COLUMN = "column "
"""How the reason begins where a whole column is left out; its name follows."""


@dataclass(frozen=True)
class Piece:
    """A line, a part of one, or a cell, and what it was taken for.

    Attributes
    ----------
    row, column
        Where it begins, from 1: line and character of a text, or row and column of a table.
    as_typed
        The piece as it stands there.
    taken_as
        One of `TAKEN_AS`.
    song
        Title that it was taken for, where it is a song and known which.
    sure
        Whether nobody has to be asked.
    why
        Reason, where the piece does not speak for itself.
    file, sheet
        Where the row is, if there is more than one.

    """

    row: int
    column: int
    as_typed: str
    taken_as: str
    song: str | None = None
    sure: bool = True
    why: str = ""
    file: str = ""
    sheet: str = ""

    def __post_init__(self) -> None:
        """Refuse a word that is not one of `TAKEN_AS`."""
        if self.taken_as not in TAKEN_AS:
            raise TableProblem.bad_value(
                "account", "taken_as", self.row, self.taken_as, f"one of {listed(TAKEN_AS, 99)}"
            )


def account_of(pieces: Iterable[Piece]) -> pd.DataFrame:
    """The account as a table, in the order of the file.

    Returns
    -------
    DataFrame
        One row per piece:
            file, sheet  str   where the row is; empty for a pasted text
            row          int   line of the text or row of the table, from 1
            column       int   character of the line or column of the table, from 1
            as_typed     str   the piece as it stands there
            taken_as     str   one of `TAKEN_AS`
            song         str   title; missing unless it is a song and known which
            sure         bool  whether nobody has to be asked
            why          str   reason; empty where the piece speaks for itself

    Examples
    --------
    >>> found = account_of([Piece(1, 4, "Fery", "song", "Ferry"), Piece(1, 1, "1.", "number")])
    >>> found[["row", "column", "as_typed", "song"]]
       row  column as_typed   song
    0    1       1       1.    NaN
    1    1       4     Fery  Ferry

    """
    rows = list(map(attrgetter(*COLUMNS), pieces))
    types = dict.fromkeys(COLUMNS, "str") | {"row": "int64", "column": "int64", "sure": bool}
    frame = pd.DataFrame(rows, columns=list(COLUMNS)).astype(types)
    return frame.sort_values(["file", "sheet", "row", "column"], kind="stable", ignore_index=True)


def said(account: pd.DataFrame, shows: int = 0, titles: pd.Series | None = None) -> list[str]:
    """Say an account in a few lines: how much became what, and where the rest stands.

    Parameters
    ----------
    account
        As `account_of` gives it.
    shows
        How many shows there are, if it is more than one set.
    titles
        The title of each place, where a line or a cell may hold several.

    Examples
    --------
    >>> pieces = [Piece(1, 1, "Set", "heading"), Piece(2, 1, "Ferry", "song", "Ferry"), Piece(3, 1, "Total 2", "total")]
    >>> for line in said(account_of([*pieces, Piece(4, 1, "%%", "not understood", sure=False)])):
    ...     print(line)
    1 place, 1 song
    1 heading (row 1)
    1 total (row 3)
    1 not understood (row 4): "%%"

    """
    songs = account[account.taken_as == SONG]
    new = int(songs.song.isna().sum())
    titles = songs.song if titles is None else titles
    first = [counted(len(titles), "place"), counted(titles.nunique(), "song")]
    first += [f"{new} not settled"] if new else []
    first += [counted(shows, "show")] if shows else []
    lines = [", ".join(first)]
    for kind in TAKEN_AS:
        theirs = account[account.taken_as == kind]
        if kind in _QUIET or not len(theirs):
            continue
        lines.append(f"{_many(len(theirs), kind)} {_where(theirs)}{_what(theirs, kind)}")
    return lines


def _many(number: int, kind: str) -> str:
    """Write how many there are of a kind; "left out" has no plural."""
    return f"{number:,} {kind}" if kind in (STRUCK_OUT, LEFT_OUT, NOT_UNDERSTOOD) else counted(number, kind)


def _where(rows: pd.DataFrame) -> str:
    at = list(dict.fromkeys(rows.row.tolist()))
    shown = ", ".join(map(str, at[:_ROWS_NAMED])) + (", …" if len(at) > _ROWS_NAMED else "")
    return f"({'row' if len(at) == 1 else 'rows'} {shown})"


def _what(rows: pd.DataFrame, kind: str) -> str:
    """Name what the reader has to see with her own eyes: whatever is not taken."""
    if kind not in (STRUCK_OUT, LEFT_OUT, NOT_UNDERSTOOD, "remark"):
        return ""
    why = dict.fromkeys(rows.why[(rows.why != "") & ((kind == "remark") | rows.as_typed.str.startswith("sheet "))])
    whole = rows.why.str.startswith(COLUMN)
    names = dict.fromkeys(rows.why[whole].str.removeprefix(COLUMN))
    of = [f"column{'s' if len(names) > 1 else ''} {listed(list(names))}"] if names else []
    of += [listed(rows.as_typed[~whole].tolist())] if not whole.all() else []
    return f": {'; '.join(of)}" + "".join(f" ({words})" for words in why)
