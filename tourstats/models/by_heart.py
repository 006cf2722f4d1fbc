"""A song's shape known by heart: questions made from it, what was known, and when to be asked again."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from itertools import pairwise
from typing import Any, NamedTuple

import pandas as pd

from tourstats.tables import READINESS

BY_HEART = "by heart"
A_SITTING = 5
"""Questions at a time. Common practice, no source."""
A_DAY = 30
"""Questions a day: a repertoire whose shapes are all new is learned over weeks. Common practice, no source."""
GROWS = 2.0
"""How much longer it is until a question comes again, each time that it was known. Doubling is common practice, no
source; that longer and longer gaps are as good as equal ones, and both better than none: Karpicke & Bauernschmidt
(2011), J. Exp. Psychol.: Learning, Memory, and Cognition 37:1250-1257, on words (from memory)."""
FIRST_DAYS, MOST_DAYS = 1.0, 64.0
_GOING_IN = re.compile(r"\b(?:going in|goes in|into it|in to it|pick-?up|lead-?in)\b", re.IGNORECASE)
_GOING_OUT = re.compile(r"\b(?:going out|goes out|at the end|last bar|out of it|into the next)\b", re.IGNORECASE)


class Known(NamedTuple):
    """How much of a song's shape was known when it was asked."""

    questions: int
    """That its shape makes."""
    asked: int
    """Of them, how many were ever asked."""
    known: int
    """Of them, how many were known the last time."""
    last: pd.Timestamp | None
    """Day of the last test."""
    last_asked: int
    last_known: int


def questions(sections: pd.DataFrame, song: Mapping[str, Any] | None = None) -> pd.DataFrame:
    """Make the questions that a song's shape answers.

    Parameters
    ----------
    sections
        Its sections in order: name, bars, feel, leads, cue, hits.
    song
        Its row of the repertoire: starts_by, count_in.

    Returns
    -------
    DataFrame
        A row a question, in the order of the song: asked, answer.

    Examples
    --------
    >>> shape = pd.DataFrame({"name": ["verse", "outro"], "bars": [16, 4], "hits": [None, "crash on 1 going in"]})
    >>> questions(shape).values.tolist()[1:]
    [['How many bars is the verse?', '16'], ['What comes after the verse?', 'outro'],
    ['How many bars is the outro?', '4'], ['Which hit leads into the outro?', 'crash on 1 going in']]

    """
    rows = sections.reindex(columns=["name", "bars", "feel", "leads", "cue", "hits"]).to_dict("records")
    if not rows:
        return pd.DataFrame({"asked": [], "answer": []}, dtype="str")
    song = song or {}
    made = [("Who counts in or starts?", song.get("starts_by")), ("How is it counted in?", song.get("count_in"))]
    made.append(("What does it begin with?", rows[0]["name"]))
    after = {at: behind["name"] for at, (_, behind) in enumerate(pairwise(rows))}
    for at, row in enumerate(rows):
        made += _of_a_section(row, after.get(at))
    said = [(asked, answer) for asked, answer in made if isinstance(answer, str) and answer]
    return pd.DataFrame(said, columns=["asked", "answer"], dtype="str").drop_duplicates("asked", ignore_index=True)


def _the(name: str) -> str:
    """A section in a sentence: "the bridge", "verse 2"."""
    return name if name[-1:].isdigit() else f"the {name}"


def _of_a_section(row: Mapping[str, Any], after: str | None) -> list[tuple[str, Any]]:
    name, after = _the(row["name"]), after and _the(after)
    bars = None if pd.isna(row["bars"]) else str(int(row["bars"]))
    asked = [
        (f"How many bars is {name}?", bars),
        (f"How is {name} played?", row["feel"]),
        (f"Who leads in {name}?", row["leads"]),
        (f"What is the cue for {name}?", row["cue"]),
    ]
    for hit in str(row["hits"]).split(";") if isinstance(row["hits"], str) else ():
        if _GOING_OUT.search(hit) and after:
            asked.append((f"Which hit leads into {after}?", hit.strip()))
        elif _GOING_IN.search(hit):
            asked.append((f"Which hit leads into {name}?", hit.strip()))
        else:
            asked.append((f"What must not be missed in {name}?", row["hits"]))
    return [*asked, (f"What comes after {name}?", after and after.removeprefix("the "))]


def due(tested: pd.DataFrame, asked: Sequence[str], on: pd.Timestamp, most_days: float = MOST_DAYS) -> pd.DataFrame:
    """When each question is to be asked again.

    One that was not known comes the next day; one that was known after a day, then after twice as long each time, but
    never after more days than suit the show it is wanted for. What was never asked is due at once.

    Parameters
    ----------
    tested
        Of this song: date, asked, known, in order.
    asked
        The questions, as `questions` gives them.
    on
        The day.
    most_days
        The longest gap that suits the days until the song is likely to be played.

    Returns
    -------
    DataFrame
        A row a question, those due first, the longest overdue on top: asked, last (day, missing if never), known
        (bool, the last time), next (day), due (bool).

    Examples
    --------
    >>> days = pd.to_datetime(["2031-03-04", "2031-03-05", "2031-03-07"])
    >>> past = pd.DataFrame({"date": days, "asked": "How many bars is the verse?", "known": True})
    >>> due(past, ["How many bars is the verse?"], pd.Timestamp("2031-03-09"))[["next", "due"]]
            next    due
    0 2031-03-11  False

    """
    past: dict[str, dict[pd.Timestamp, bool]] = {}
    for question, day, known in sorted(
        zip(tested.asked, tested.date, tested.known, strict=True), key=lambda row: row[1]
    ):
        past.setdefault(question, {})[day] = bool(known)  # of one day the last answer counts
    rows = []
    for question in asked:
        answers = list(past.get(question, {}).values())
        in_a_row = next((at for at, right in enumerate(reversed(answers)) if not right), len(answers))
        gap = min(max(FIRST_DAYS, FIRST_DAYS * GROWS ** (in_a_row - 1)), max(FIRST_DAYS, most_days), MOST_DAYS)
        last = max(past[question]) if answers else pd.NaT
        again = last + pd.Timedelta(days=round(gap)) if answers else on
        rows.append((question, last, bool(answers and answers[-1]), again, again <= on))
    table = pd.DataFrame(rows, columns=["asked", "last", "known", "next", "due"])
    # What is never asked keeps the order of the song.
    late = (on - pd.to_datetime(table["next"])).dt.days if len(table) else table["due"]
    return table.assign(late=late).sort_values(
        ["due", "late"], ascending=False, kind="stable", ignore_index=True
    ).drop(columns="late")  # fmt: skip


def how_known(tested: pd.DataFrame, asked: Sequence[str]) -> Known:
    """How much of a shape was known when it was asked; answers about what the shape no longer asks do not count.

    Examples
    --------
    >>> past = pd.DataFrame({"date": pd.to_datetime(["2031-03-04"]), "asked": ["Who starts?"], "known": [True]})
    >>> how_known(past, ["Who starts?", "What does it begin with?"])[:3]
    (2, 1, 1)

    """
    ours = tested[tested.asked.isin(list(asked))]
    latest = ours.drop_duplicates("asked", keep="last")
    if not len(ours):
        return Known(len(asked), 0, 0, None, 0, 0)
    day = ours.date.max()
    that_day = ours[ours.date == day].drop_duplicates("asked", keep="last")
    return Known(len(asked), len(latest), int(latest.known.sum()), day, len(that_day), int(that_day.known.sum()))


def measured(claimed: object, known: Known) -> object:
    """The readiness of a song by what was known of its shape, else what is claimed.

    Examples
    --------
    >>> all_known, one_missing = Known(4, 4, 4, None, 4, 4), Known(4, 2, 1, None, 2, 1)
    >>> measured("by ear", all_known), measured("show-ready", all_known), measured("show-ready", one_missing)
    ('by heart', 'show-ready', 'by hand')

    """
    far = READINESS.index(str(claimed)) if claimed in READINESS else -1
    heart = READINESS.index(BY_HEART)
    if known.asked and known.known < known.asked and far >= heart:
        return READINESS[heart - 1]
    return BY_HEART if known.questions and known.known == known.questions and far < heart else claimed
