"""Tables as people read them: in a notebook or on a telephone, and in the terminal.

Columns are named for code and labelled for print: `LABELS` has the words, with their units, where a column's name
does not say them. Days read "4 Mar 2031", what is not known reads as a dash, and a table gives the same text each time.
"""

from __future__ import annotations

import html
import textwrap
import unicodedata
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from functools import partial
from itertools import zip_longest
from typing import NamedTuple

import numpy as np
import pandas as pd

from tourstats.pages.kit import links
from tourstats.pages.kit.look import TABLES

MISSING = "\u2013"
CUT = "…"

LABELS = {
    "position": "no.",
    "was": "was no.",
    "status": "tonight",
    "tempo_bpm": "tempo, bpm",
    "starts_by": "starts",
    "warning": "to watch",
    "date": "day",
    "room": "kind of venue",
    "show_id": "show",
    "number": "number that day",
    "carried": "stayed",
    "plays": "performances",
    "possible": "shows it could have been in",
    "heard": "songs heard",
    "times": "times played",
    "layoff_shows": "out, shows",
    "layoff_days": "out, days",
    "usual_low": "a quarter back within, shows",
    "usual_median": "half back within, shows",
    "usual_high": "three quarters back within, shows",
    "returns": "came back, times",
    "last_show_id": "last show",
    "plays_30": "performances, last 30 days",
    "plays_90": "performances, last 90 days",
    "plays_leg": "performances on this leg",
    "rehearsed": "last run",
    "rehearsed_days": "last run, days ago",
    "rehearsed_way": "run how",
    "kit_days": "at the kit, days ago",
    "expected": "expected mistakes",
    "rate": "mistakes per performance",
    "reviewed": "performances reviewed",
    "clean": "of them clean",
    "in_a_row": "clean in a row",
    "sure": "next one clean",
    "at_most": "mistakes per performance, at most",
    "for_nothing": "run and not played that week",
    "without": "without a run",
    "wrong": "went wrong",
    "in_last_set": "in the last set",
    "reasons": "because",
    "text": "note",
    "item": "ready",
    "first": "first for no.",
    "way": "how",
    "asked": "minutes asked for",
    "over": "minutes over",
    "unknown": "songs without a length",
    "fresh_share": "new to those who come again",
}
"""Words for print, with units, where they are not the name of the column with spaces."""

SHARES = (
    *("share", "chance", "sure", "fresh_share", "goes", "chance_before", "chance_now", "recall", "recall_10", "wrong"),
    *("worst_decile", "after_last", "audience_fresh_share", "heard_share", "one_earlier"),
)
"""Columns from 0 to 1 that read as a percentage."""

ENDS = ("low", "high")
"""Ends of the interval of the column before them."""

TITLES = ("song", "next_song", "neighbour")
"""Columns of titles: on a served page each is a link to the song's own page."""

SHORT = 12
"""Letters that stay in one line, such as show-ready."""

TELEPHONE = 42
"""Letters that a table on a telephone has room for, two of them between columns."""


@dataclass(frozen=True)
class Shown:
    """A table as HTML for a notebook, and as text wherever there is only text."""

    html: str
    as_words: Callable[[], str] = str
    """Made when it is asked for: a form never shows it."""

    @property
    def text(self) -> str:
        """The table in columns."""
        return self.as_words()

    def _repr_html_(self) -> str:
        return self.html

    def __repr__(self) -> str:
        """The table in columns."""
        return self.text


def shown(
    frame: pd.DataFrame,
    columns: Sequence[str] | None = None,
    *,
    labels: Mapping[str, str] | None = None,
    caption: str = "",
    most: int | None = None,
    empty: str = "Nothing here yet.",
) -> Shown:
    """Show a table in a notebook.

    Parameters
    ----------
    frame
        Any table; its index is not shown.
    columns
        Which columns, in which order; those that are not there are passed over. All of them by default.
    labels
        Words for columns, before those of `LABELS`.
    caption
        What the table says, above it.
    most
        How many rows to show; how many more there are is said below.
    empty
        What to say when there are no rows.

    Returns
    -------
    Shown
        Everything typed is escaped. On a telephone, a last column of words goes below the others; a table that is too
        wide even so scrolls within itself.

    Examples
    --------
    >>> "<td>Ferry &amp; Tide</td>" in shown(pd.DataFrame({"song": ["Ferry & Tide"], "layoff_days": [31]})).html
    True

    """
    if not len(frame):
        return Shown(f"<p>{links.linked(empty)}</p>", lambda: empty)
    drawn = _chosen(frame, columns)
    right = [_is_figure(drawn[name]) for name in drawn]
    heads = [_label(name, labels) for name in drawn]
    # A served page has a button for the rest; a saved notebook stays small.
    rows = _rows(drawn if links.served() else drawn.head(most))
    shape = _on_a_telephone(heads, rows, right)
    kind = " ".join(["tourstats", *shape[:1]])
    # Laid out otherwise it is no table to a screen reader unless its roles are spelt out.
    spelt = ' role="table"' + f' style="{shape[1]}"' * bool(shape[1]) if shape else ""
    title = f"<caption>{links.linked(caption)}</caption>" if caption else ""
    more = _more(len(drawn), most)
    said = heads if shape else ()
    titles = {at for at, name in enumerate(drawn) if name in TITLES}
    body = "".join(
        _row(row, right, said, titles, beyond=most is not None and at >= most) for at, row in enumerate(rows)
    )
    head = "".join(_head(heads, right, spelt=bool(shape)))
    rest = _rest(more)
    table = f'<table class="{kind}"{spelt}>{title}<thead>{head}</thead><tbody>{body}</tbody></table>'
    words = partial(as_text, frame, columns, labels=labels, most=most)
    return Shown(f'{TABLES}<div class="tourstats-box">{table}{rest}</div>', words)


def _rest(more: str) -> str:
    """How many rows there are besides; on a served page a button that shows them."""
    if not more:
        return ""
    return f"<button type='button' class='tourstats-all'>{more}</button>" if links.served() else f"<p>{more}</p>"


def _on_a_telephone(heads: Sequence[str], rows: Sequence[Sequence[str]], right: Sequence[bool]) -> tuple[str, ...]:
    """Say how a table that is too wide for a telephone is laid out there: a class and a style, or nothing.

    A last column of words goes below the others; where these are too wide by themselves, each row becomes a paragraph
    that names its figures.
    """
    words = [max(map(len, head.split()), default=0) for head in heads]
    cells = [max(map(len, column)) for column in zip(*rows, strict=True)]
    wanted = [
        max(word, long if number else min(long, 14)) + 2 for word, long, number in zip(words, cells, right, strict=True)
    ]
    if sum(wanted[:-1]) + max(wanted[-1], min(cells[-1], 24)) <= TELEPHONE:
        return ()
    # A column of figures takes the room that its heading takes in one line.
    room = [
        max(want, len(head) + 2) if number else want for want, head, number in zip(wanted, heads, right, strict=True)
    ]
    if right[-1] or sum(room[:-1]) > TELEPHONE:
        return ("stacked", "")
    shares = ["auto" if number else f"minmax(0,{want}fr)" for want, number in zip(wanted[:-1], right[:-1], strict=True)]
    return ("wordy", f"--across:{' '.join(shares)}")


class InWords(NamedTuple):
    """A table as paper needs it: headings, rows of cells, and which columns stand to the right."""

    head: list[str]
    rows: list[list[str]]
    right: list[bool]


def in_words(frame: pd.DataFrame) -> InWords:
    """Every cell of a table in words.

    Examples
    --------
    >>> in_words(pd.DataFrame({"song": ["Ferry"], "layoff_days": [31]}))
    InWords(head=['song', 'out, days'], rows=[['Ferry', '31']], right=[False, True])

    """
    right = [_is_figure(frame[name]) for name in frame]
    return InWords([_label(name, None) for name in frame], _rows(frame), right)


def as_text(
    frame: pd.DataFrame,
    columns: Sequence[str] | None = None,
    *,
    labels: Mapping[str, str] | None = None,
    width: int = 100,
    most: int | None = None,
    empty: str = "Nothing here yet.",
    wrap: bool = False,
) -> str:
    """Show a table in the terminal, in columns that line up whatever the script.

    Parameters
    ----------
    frame, columns, labels, most, empty
        As for `shown`.
    width
        Letters across; the widest columns are cut until it fits, never below a few letters each.
    wrap
        Whether long cells go on below instead of being cut.

    Examples
    --------
    >>> print(as_text(pd.DataFrame({"position": [1, 10], "song": ["Ferry", "日本語"], "minutes": [4.5, None]})))
    no.  song    minutes
      1  Ferry       4.5
     10  日本語        –

    """  # noqa: RUF002  # the dash of what is not known
    if not len(frame):
        return empty
    drawn = _chosen(frame, columns)
    right = [_is_figure(drawn[name]) for name in drawn]
    heads, rows = [_label(name, labels) for name in drawn], _rows(drawn.head(most))
    # A heading may take several lines; its longest word may not.
    words = [max(label.split(), key=_across, default="") for label in heads]
    widths = _widths([words, *rows], right, width)
    folded = [_folded(line, widths) for line in (rows if wrap else [])]
    lines = [*_folded(heads, widths), *(line for row in folded for line in row), *([] if wrap else rows)]
    text = ["  ".join(map(_padded, line, widths, right)).rstrip() for line in lines]
    more = _more(len(drawn), most)
    return "\n".join([*text, *([more] if more else [])])


def cell(value: object, column: str = "") -> str:
    """One value as people read it.

    Examples
    --------
    >>> cell(pd.Timestamp("2031-03-04")), cell(None), cell(0.375, "chance"), cell(True), cell(["Ferry", "Tin Rook"])
    ('4 Mar 2031', '–', '38%', 'yes', 'Ferry, Tin Rook')

    """  # noqa: RUF002  # the dash of what is not known
    if isinstance(value, list | tuple | np.ndarray):
        return ", ".join(cell(each) for each in value) or MISSING
    if value is None or pd.isna(value) or value == "":
        return MISSING
    if isinstance(value, bool | np.bool_):
        return "yes" if value else "no"
    if isinstance(value, date):
        return f"{value.day} {_MONTHS[value.month - 1]} {value.year}"
    if isinstance(value, int | float | np.number):
        return f"{100 * value:.0f}%" if column in SHARES else _number(float(value))
    words = " ".join(str(value).split())
    # Signs that steer a terminal are not for reading.
    return "".join(sign for sign in words if unicodedata.category(sign) not in ("Cc", "Cs")) or MISSING


_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


def _number(value: float) -> str:
    """Two figures behind the point for small numbers, one for larger, none for whole ones."""
    if np.isinf(value):
        return "∞" if value > 0 else "-∞"
    rounded = round(value, 2 if abs(value) < 1 else 1)
    return f"{rounded:,.{2 if abs(value) < 1 else 1}f}" if rounded != int(rounded) else f"{int(rounded):,}"


def _rows(frame: pd.DataFrame) -> list[list[str]]:
    """Every cell in words, the numbers of a column with the same figures behind the point."""
    names = [str(name) for name in frame]
    # The ends of an interval are told as what stands before them.
    of = [next((name for name in names[at::-1] if name not in ENDS), "") for at in range(len(names))]
    columns = [_column(frame[name], name if of_ not in SHARES else of_) for name, of_ in zip(names, of, strict=True)]
    return [list(row) for row in zip(*columns, strict=True)]


def _column(values: pd.Series, name: str) -> list[str]:
    if name in SHARES or not _is_number(values):
        return [value if isinstance(value, links.Heard) else cell(value, name) for value in values]
    known = values.dropna().astype(float)
    known = known[np.isfinite(known)]
    broken = known[known != known.round()]
    behind = 0 if not len(broken) else 2 if (broken.abs() < 1).any() and (broken != broken.round(1)).any() else 1
    return [f"{value:,.{behind}f}" if pd.notna(value) and np.isfinite(value) else cell(value) for value in values]


def _chosen(frame: pd.DataFrame, columns: Sequence[str] | None) -> pd.DataFrame:
    return frame if columns is None else frame[[name for name in columns if name in frame]]


def _label(name: object, labels: Mapping[str, str] | None) -> str:
    return {**LABELS, **(labels or {})}.get(str(name), str(name).replace("_", " "))


def _is_number(column: pd.Series) -> bool:
    kinds = pd.api.types
    if kinds.is_object_dtype(column):
        known = column.dropna()
        return len(known) > 0 and all(isinstance(v, int | float | np.number) for v in known)
    return bool(kinds.is_numeric_dtype(column) and not kinds.is_bool_dtype(column))


def _is_figure(column: pd.Series) -> bool:
    """Whether a column lines up at its right: numbers, days, and times such as 1:05."""
    kinds = pd.api.types
    clock = kinds.is_string_dtype(column) and column.astype(str).str.fullmatch(r"\d+:\d\d").all()
    return _is_number(column) or kinds.is_datetime64_any_dtype(column) or bool(clock and len(column))


def _head(heads: Sequence[str], right: Sequence[bool], *, spelt: bool) -> str:
    role = ' role="columnheader"' if spelt else ""
    kinds = [' class="number"' if number else "" for number in right]
    made = [f'<th{role} scope="col"{kind}>{html.escape(head)}</th>' for head, kind in zip(heads, kinds, strict=True)]
    return f"<tr{_spelt('row', spelt)}>{''.join(made)}</tr>"


def _row(
    cells: Sequence[str],
    right: Sequence[bool],
    heads: Sequence[str],
    titles: Collection[int] = (),
    *,
    beyond: bool = False,
) -> str:
    """One row; with heads, each cell knows its own, for where they stand nowhere else."""
    top = right.index(False) if False in right else 0
    parts = []
    for at, (text, number) in enumerate(zip(cells, right, strict=True)):
        said = "none" if text == MISSING else "top" if at <= top else ""
        whole = "-" in text and len(text) <= SHORT
        looks = " ".join(["number"] * number + [said] * bool(heads and said) + ["whole"] * whole)
        kind = f' class="{looks}"' if looks else ""
        named = f' role="cell" data-head="{html.escape(heads[at])}"' if heads else ""
        linked = at in titles and text != MISSING and links.served()
        words = links.to_song(text) if linked else links.linked(text)
        words = (isinstance(text, links.Heard) and text.link(text)) or words
        parts.append(f"<td{named}{kind}>{words}</td>")
    hidden = " hidden" if beyond else ""
    return f"<tr{_spelt('row', bool(heads))}{hidden}>{''.join(parts)}</tr>"


def _spelt(role: str, said: bool) -> str:
    return f' role="{role}"' if said else ""


def _more(rows: int, most: int | None) -> str:
    return f"and {rows - most} more" if most is not None and rows > most else ""


def _widths(lines: Sequence[Sequence[str]], right: Sequence[bool], width: int) -> list[int]:
    """Room for each column: what it needs, less where the whole would be too wide, words before numbers."""
    needed = [max(map(_across, column)) for column in zip(*lines, strict=True)]
    least = 4
    while sum(needed) + 2 * (len(needed) - 1) > width:
        words = [at for at, number in enumerate(right) if not number and needed[at] > least]
        at = max(words or range(len(needed)), key=lambda at: needed[at])
        if needed[at] <= least:
            break
        needed[at] -= 1
    return needed


def _folded(cells: Sequence[str], widths: Sequence[int]) -> list[tuple[str, ...]]:
    """One row on as many lines as its longest cell needs."""
    wrapped = [textwrap.wrap(text, room) for text, room in zip(cells, widths, strict=True)]
    return list(zip_longest(*wrapped, fillvalue=""))


def _padded(text: str, width: int, right: bool) -> str:
    text = _cut(text, width)
    space = " " * (width - _across(text))
    return space + text if right else text + space


def _cut(text: str, width: int) -> str:
    if _across(text) <= width:
        return text
    kept = ""
    for sign in text:
        if _across(kept + sign) >= width:
            break
        kept += sign
    return kept.rstrip() + CUT


def _across(text: str) -> int:
    """Columns of a terminal that a text takes: two for wide scripts, none for marks that sit on a letter."""
    return sum(
        0 if unicodedata.combining(sign) or unicodedata.category(sign) in ("Mn", "Me", "Cf") else 1 + _is_wide(sign)
        for sign in text
    )


def _is_wide(sign: str) -> bool:
    return unicodedata.east_asian_width(sign) in ("W", "F")
