"""The plan, as run: what the show day proposed becomes what was rehearsed, with one press."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import pandas as pd

from tourstats.diary import opened
from tourstats.models import tonight
from tourstats.pages.kit.show_written import Night
from tourstats.pages.kit.whose import Whose
from tourstats.problems import Problem, counted

DRAFT = "the plan"
LISTEN = "listen"
RUN = ("whole run", "hard section", LISTEN)
"""What of a plan counts as a run of its song; a transition belongs to two, and a rest to none."""


def remember(store: Whose, show_id: object, plan: pd.DataFrame) -> None:
    """Keep the plan that was shown for a show, until the next one is: later the diary would make another."""
    with opened(store.path) as diary:
        diary.save_draft(DRAFT, {"show": int(str(show_id)), "runs": runs_of(plan)})


def runs_of(plan: pd.DataFrame) -> list[dict[str, Any]]:
    """The runs of a plan.

    Examples
    --------
    >>> steps = [("whole run", "Ferry", 4.0), ("rest", None, 10.0), ("listen", "Tin Rook", 5.0)]
    >>> runs_of(pd.DataFrame(steps, columns=["what", "song", "minutes"]))[1]
    {'what': 'listen', 'song': 'Tin Rook', 'minutes': 5.0}

    """
    rows = plan[plan.what.isin(RUN)]
    return [
        {"what": what, "song": song, "minutes": round(float(minutes), 1)}
        for what, song, minutes in zip(rows.what, rows.song, rows.minutes, strict=True)
    ]


def write_down(night: Night, way: str = "kit") -> str:
    """Write the runs of the plan for this show into the diary, as one change.

    Parameters
    ----------
    night
        The show.
    way
        How what was not listened to was played.

    Returns
    -------
    str
        What was written.

    Raises
    ------
    Problem
        If there is no plan for this show, or its runs are written down already.

    """
    rows = [(run["song"], LISTEN if run["what"] == LISTEN else way, run["minutes"]) for run in _planned(night)]
    if not rows:
        raise Problem("There is no plan for this show: it has no set, or there was no time for a run.")
    there = night.tables.rehearsals
    there = there[there.date.dt.date == night.day]
    if set(rows) <= set(zip(there.song, there.way, there.minutes.astype(float), strict=True)):
        raise Problem("The runs of the plan are written down already. Undo, or Remove beside a run, takes them out.")
    with night.writing() as diary, diary.atomic("the runs of the plan"):
        for song, how, minutes in rows:
            diary.add_rehearsal(song, how, night.day, 1, minutes)
    night.changed()
    return f"Saved the plan as run: {counted(len(rows), 'run')}. Undo takes all of them back."


def _planned(night: Night) -> Sequence[Mapping[str, Any]]:
    """The plan that was shown; else the one that the diary makes without what was run that day."""
    with opened(night.found.path) as diary:
        kept = diary.draft(DRAFT) or {}
        if kept.get("show") == night.show:
            runs: Sequence[Mapping[str, Any]] = kept["runs"]
            return runs
        tables = diary.read()
    rehearsals = tables.rehearsals
    before = tables.replaced(rehearsals=rehearsals[rehearsals.date.dt.date != night.day])
    try:
        return runs_of(tonight.brief(before, night.show).plan)
    except tonight.NoSetProblem:
        return []
