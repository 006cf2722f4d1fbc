"""Each list as lines: one truth for page, paper, message and terminal. Nothing personal stands on any of them."""

from __future__ import annotations

from dataclasses import dataclass

import pandas as pd

from tourstats.models.tonight import Brief
from tourstats.pages.show_day import words as show_day
from tourstats.problems import counted

BAND, TECHNICIAN, DIRECTOR, DOORS = WHOM = ("band", "technician", "director", "doors")
"""Whom a list is for."""
HEADINGS = {
    BAND: "For the sound check with the band",
    TECHNICIAN: "For the technician",
    DIRECTOR: "For the musical director",
    DOORS: show_day.SET_OUT,
}


@dataclass(frozen=True)
class Line:
    """One line of a list: what, and more in smaller type; `key` names it where it can be ticked off."""

    what: str
    more: str = ""
    key: str | None = None
    ticked: bool = False


@dataclass(frozen=True)
class Listed:
    """One list: its heading, where and when, a sentence or two, and its lines."""

    whom: str
    heading: str
    where: str
    said: tuple[str, ...]
    lines: tuple[Line, ...]


def listed_for(brief: Brief, whom: str) -> Listed:
    """Make the list for somebody.

    Parameters
    ----------
    brief
        As from `models.tonight.brief`.
    whom
        One of `WHOM`.

    """
    said, lines = {BAND: _band, TECHNICIAN: _technician, DIRECTOR: _director, DOORS: _doors}[whom](brief)
    return Listed(whom, HEADINGS[whom], show_day.where_and_when(brief.show), tuple(said), tuple(lines))


def as_message(listed: Listed) -> str:
    """The list as text to paste into a message."""
    boxes = {True: "[x] ", False: "[ ] "}
    lines = [
        f"{boxes[line.ticked] if line.key else ''}{line.what}{f' ({line.more})' if line.more else ''}"
        for line in listed.lines
    ]
    return "\n".join([f"{listed.heading}: {listed.where}", *listed.said, *lines])


def _pair(position: int, song: str, next_song: object) -> str:
    if not isinstance(next_song, str):
        return f"{position}  {song}"
    return f"{position} > {position + 1}  {song} > {next_song}"


def _joined(*parts: object) -> str:
    return " · ".join(str(part) for part in parts if isinstance(part, str) and part)


def _band(brief: Brief) -> tuple[list[str], list[Line]]:
    table = brief.band
    left = table[~table.ticked]
    lines = [
        Line(
            _pair(row.position, row.song, row.next_song),
            _joined(row.why, f"count-in: {row.who}" if isinstance(row.who, str) else "", f"{row.minutes:g} min"),
            row.key,
            row.ticked,
        )
        for row in table.itertuples()
    ]
    if not lines:
        return ["Every transition was played before, and no song was out for long."], []
    said = f"{counted(len(left), 'thing')} to try, {left.minutes.sum():g} minutes in all, what is most needed first."
    return [said], lines


def _technician(brief: Brief) -> tuple[list[str], list[Line]]:
    lines = []
    for row in brief.technician.itertuples():
        moves = ", ".join([f"{row.in_} in"] * bool(row.in_) + [f"{row.out} out"] * bool(row.out))
        armed = f"{row.armed} armed" if row.armed else ""
        where = f"after {row.after}" if row.after else "before 1"
        fails = f"if it fails: {row.fails}" if row.fails else ""
        what = f"{where}: {'; '.join(filter(None, (moves, armed)))}"
        lines.append(Line(what, _joined(f"for {row.into}", f"by {row.by}" if row.by else "", fails)))
    return ([] if lines else ["No gear, samples or tracks are noted."]), lines


def _director(brief: Brief) -> tuple[list[str], list[Line]]:
    came = brief.set[brief.set.status == "in"]
    sentences = [f"Came in: {', '.join(came.song)}."] if len(came) else []
    sentences.append(show_day.heard(brief))
    lines = [
        Line(
            _pair(row.position, row.song, row.next_song),
            _joined(
                row.gap,
                f"tempo {row.tempo}" if row.tempo else "",
                f"count-in: {row.starts}" if row.starts else "",
                f"before it: {row.speech}" if row.speech else "",
                f"cue: {row.cue}" if row.cue else "",
                f"played {counted(row.played, 'time')}" if row.played else "never played",
            ),
        )
        for row in brief.director.itertuples()
    ]
    return sentences, lines


def _doors(brief: Brief) -> tuple[list[str], list[Line]]:
    lines = [
        Line(
            row.item if row.kind in ("gear", "always") or row.kind in row.item else f"{row.kind} {row.item}",
            _joined(
                f"from {row.first}" if pd.notna(row.first) else "every night",
                row.who,
                row.remark,
                f"if it fails: {row.spare}" if row.spare else "",
            ),
            row.item,
            row.ticked,
        )
        for row in brief.ready.itertuples()
    ]
    done = sum(line.ticked for line in lines)
    return [f"{done} of {len(lines)} ticked off." if lines else "No gear, samples or tracks are noted."], lines
