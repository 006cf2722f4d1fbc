"""The show day on a screen: the set in order is the page, the plan beside or under it, the rest folded with counts."""

from __future__ import annotations

import html

import pandas as pd

from tourstats.models.tonight import Brief
from tourstats.pages.kit import links, look, tables_shown
from tourstats.pages.show_day import words as show_day
from tourstats.problems import counted

FIRST = 6
"""Steps of the plan that stand open: half an hour's worth."""
APART = ("The plan", show_day.SET_OUT)
"""Sections that stand elsewhere on the page: the plan open, what is set out as a list to tick off."""


def day(brief: Brief) -> str:
    """The set and the plan, side by side where there is room; everything typed escaped."""
    rows = show_day.rows(brief)
    lines = "".join(_line(row, first_encore=at == _encore(rows)) for at, row in enumerate(rows.to_dict("records")))
    steps = show_day.steps(brief)
    plan = [_step(row) for row in steps.to_dict("records")]
    total = f"{len(steps[steps['what'] != 'rest'])} runs"
    planned = _plan(plan) if plan else f"<p>{html.escape(show_day.NO_TIME)}</p>"
    planned += "".join(
        f"<p class='more'>{links.linked(said)}</p>" for said in (brief.ends, show_day.safe(brief)) if said
    )
    return (
        f"{look.DAY}<div class='tourstats-day'>"
        f"<section aria-label='The set'><h2>The set</h2><ol class='set'>{lines}</ol></section>"
        f"<section aria-label='The plan'><h2>The plan{f', {total}' if plan else ''}</h2>{planned}</section></div>"
    )


def rest(brief: Brief, level_dba: float | str | None = None) -> str:
    """Everything else, folded: a heading with a count each, open at one press, open on paper."""
    return "".join(
        _folded(section) for section in show_day.sections(brief, level_dba)[1:] if section.heading not in APART
    )


def whole(brief: Brief, level_dba: float | str | None = None) -> str:
    """The page without its fields."""
    return day(brief) + rest(brief, level_dba)


def _plan(steps: list[str]) -> str:
    """The first steps at once, the others one press away."""
    first, others = steps[:FIRST], steps[FIRST:]
    more = (
        f"<details class='tourstats-more'><summary>{counted(len(others), 'more step')}</summary>"
        f"<ol class='plan'>{''.join(others)}</ol></details>"
    )
    return f"<ol class='plan'>{''.join(first)}</ol>{more if others else ''}"


def _encore(rows: pd.DataFrame) -> int | None:
    marked = rows.encore.fillna(value=False).astype(bool).tolist()
    return marked.index(True) if any(marked) and not all(marked) else None


def _line(row: dict[str, object], *, first_encore: bool) -> str:
    """One song: its number, its title, what is new of it; below, what to know."""
    new = str(row["new"] or "")
    kind = " class='in'" if row["status"] == "in" else ""
    badge = f" <span class='new'>{links.linked(new)}</span>" if new else ""
    segue = " <span class='segue' title='segue: no gap'>&gt;</span>" if row["segue"] is True else ""
    told = [
        f"<span class='{name}'>{label}{links.linked(str(row[name]))}</span>"
        for name, label in (("remark", ""), ("watch", "<b>watch</b> "))
        if row[name]
    ]
    found, more = _lines(row["found"]), _lines(row["more"])
    below = f"<span class='more'>{' · '.join(told)}</span>" if told else ""
    first = max(int(str(row["open"] or 0)), 1)  # a finding of the last two shows is never folded away
    ready = " \u00b7 ".join(_lines(row["ready"]))
    below += _found(found[:first]) + _press([*([ready] * bool(ready)), *found[first:], *more])
    encore = "<li class='encore' aria-label='Encore'>Encore</li>" if first_encore else ""
    number = f"<span class='no'>{row['position']}</span>"
    title = links.to_song(str(row["song"]))
    return f"{encore}<li{kind}>{number}<span class='what'>{title}{segue}{badge}{below}</span></li>"


def _lines(cell: object) -> list[str]:
    return cell if isinstance(cell, list) else []


def _found(lines: list[str]) -> str:
    """What was found and said, a line each."""
    return "".join(f"<span class='more found'>{links.linked(line)}{_hear(line)}</span>" for line in lines)


def _hear(line: str) -> str:
    """Where the moment is heard that a line tells of."""
    link = line.link("Hear it") if isinstance(line, links.Heard) else ""
    return f" {link}" if link else ""


def _press(lines: list[str]) -> str:
    """The rest of it, one press away."""
    if not lines:
        return ""
    summary = f"<summary aria-label='{len(lines)} more'>+{len(lines)}</summary>"
    return f"<details class='more'>{summary}{_found(lines)}</details>"


def _step(row: dict[str, object]) -> str:
    title = links.to_song(str(row["song"])) if isinstance(row["song"], str) else "Rest"
    what = "" if row["what"] == "rest" else f" <span class='how'>{links.linked(str(row['how']))}</span>"
    return f"<li><span class='no'>{row['at']}</span><span class='what'>{title}{what}</span></li>"


def _folded(section: show_day.Section) -> str:
    count = f" ({len(section.table)})" if len(section.table) else ""
    said = f"<p>{links.linked(section.words)}</p>" if section.words else ""
    table = tables_shown.shown(section.table, labels=section.labels).html if len(section.table) else ""
    return (
        f"<details class='tourstats-more'><summary>{html.escape(section.heading)}{count}</summary>"
        f"{said}{table}</details>"
    )
