"""What to learn next: songs that are not show-ready yet, by their chance of being played against what is missing."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date, timedelta
from typing import Any

import numpy as np
import pandas as pd

from tourstats.models.practice.choosing import chosen
from tourstats.models.practice.inputs import PlanProblem, chances_of, lot, number
from tourstats.problems import TableProblem
from tourstats.tables import DATE, READINESS

STEPS = {
    "on paper": 25.0,
    "by ear": 15.0,
    "by hand": 15.0,
    "by heart": 25.0,
    "at the kit": 20.0,
    "show-ready": 15.0,
}
"""Minutes that it takes to bring a song to each step. Common practice, no source: change them with `steps=`."""

AGAIN_MINUTES = 5.0
"""Running a song once more that is ready. Common practice, no source."""

COLUMNS = ["day", "date", "song", "step", "minutes", "chance", "missing_minutes", "because"]


def suggest_gap(days_until: float) -> float:
    """Days to let pass before a song is run again, for a show that is so many days away.

    Longer for a show that is further away, but a smaller share of the time: 20 to 40 % of a week, 5 to 10 % of a year
    (Cepeda, Vul, Rohrer, Wixted & Pashler 2008, Psychological Science 19:1095-1102, on facts learned by more than 1,350
    people; that it holds for songs is assumed). Between the two, a straight line in the logarithms is taken.

    Examples
    --------
    >>> round(suggest_gap(7), 1), round(suggest_gap(365), 1)
    (2.0, 25.8)

    """
    days = number(days_until, "days_until")
    week, year = 7.0, 365.0
    in_week, in_year = np.sqrt(0.2 * 0.4) * week, np.sqrt(0.05 * 0.1) * year
    slope = np.log(in_year / in_week) / np.log(year / week)
    return float(in_week * (days / week) ** slope) if days else 0.0


def learn_next(  # settings with defaults
    songs: pd.DataFrame,
    chances: pd.DataFrame | Mapping[str, float] | None = None,
    minutes_a_day: float | None = None,
    until: date | str | float | None = None,
    *,
    today: date | str | None = None,
    shows: int = 1,
    ready: Iterable[str] = (),
    steps: Mapping[str, float] | None = None,
) -> pd.DataFrame:
    """What to do next for the songs that are not show-ready, or a timetable for them by the day.

    Parameters
    ----------
    songs
        A row a song: song; readiness, the step that is reached (nothing yet where empty); status (retired songs are
        left out).
    chances
        Chance of being played at one show, by title: a table with song and chance, or a mapping. A song that is not
        there gets the mean of the others; without any, every song counts as played.
    minutes_a_day, until
        With both, a timetable: minutes for learning on each day, and the day of the show, or how many days are left.
    today
        The first day of the timetable; needed if `until` is a date.
    shows
        Coming shows that count: a song is worth its chance of being played at one of them at least.
    ready
        Titles that are show-ready although their readiness is empty, such as those that were played already.
    steps
        Minutes for a step, where they are not as in `STEPS`.

    Returns
    -------
    DataFrame
        Without a timetable, a row a song, the best by the minute first, with its next step. With one, a row for each
        step and day in the order of the days, then a row for each song that cannot be ready in time.
            day              Int64  from 1; empty without a timetable, and for songs that cannot be ready in time
            date             date   the same, if `today` is given
            song, step       str    step is one of `tables.READINESS`, or "again"
            minutes          float  for this step
            chance           float  of being played at one of the coming shows
            missing_minutes  float  for all steps of the song that were missing at the start
            because          str    why

    Raises
    ------
    Problem
        If a table or a setting is not what it has to be.

    Notes
    -----
    A song is of use when it is show-ready. The songs whose chances add up to most are chosen exactly under the minutes
    in all (a knapsack); if minutes are left, the others follow. Chosen songs are placed one after the other, the
    greatest chance by missing minute first, each step on the earliest day with room, and with a night between two
    steps of a song if it can be ready in time that way, else without. A song that is ready is run once again after
    `suggest_gap` of the days that are left, if that day has room.

    Examples
    --------
    >>> songs = pd.DataFrame({"song": ["Ferry", "Tin Rook"], "readiness": ["by heart", None]})
    >>> learn_next(songs, {"Ferry": 0.2, "Tin Rook": 0.5})[["song", "step", "minutes", "missing_minutes"]]
           song        step  minutes  missing_minutes
    0     Ferry  at the kit     20.0             35.0
    1  Tin Rook    on paper     25.0            115.0

    """
    lasts = _lasting(steps)
    table = _missing(songs, chances, lasts, shows=shows, ready=set(ready))
    if minutes_a_day is None or until is None:
        return _finished([_next(row, lasts) for row in table], None)
    first = None if today is None else _day(today, "today")
    days = _days(until, first)
    a_day = number(minutes_a_day, "minutes_a_day")
    places = chosen([row["chance"] for row in table], [row["missing_minutes"] for row in table], days * a_day)
    others = [place for place in range(len(table)) if place not in set(places)]
    left = np.full(days, a_day)
    rows, late = [], []
    for row in (table[place] for place in [*places, *others]):
        placed = _placed(row, lasts, left, a_day, nights=1)
        placed = placed if placed is not None else _placed(row, lasts, left, a_day, nights=0)
        if placed is None:
            late.append(row)
        rows += placed or []
    rows += _again(rows, left)
    rows.sort(key=lambda row: row["day"])
    return _finished([*rows, *(_late(row, lasts) for row in late)], first)


def _missing(
    songs: pd.DataFrame,
    chances: pd.DataFrame | Mapping[str, float] | None,
    lasts: Mapping[str, float],
    *,
    shows: int,
    ready: set[str],
) -> list[dict[str, Any]]:
    """Songs that are not ready with the steps that are missing, the greatest chance by missing minute first."""
    if "song" not in songs:
        raise TableProblem.missing_columns("songs", ["song"], songs.columns)
    once = songs.drop_duplicates("song").reset_index(drop=True)
    known = chances_of(chances)
    rows = []
    for at, song in enumerate(once.to_dict("records"), start=1):
        reached = song.get("readiness")
        reached = None if reached is None or pd.isna(reached) else reached
        if reached is not None and reached not in READINESS:
            raise TableProblem.bad_value("songs", "readiness", at, reached, f"one of {', '.join(READINESS)}, or empty")
        if song.get("status") == "retired" or (reached is None and song["song"] in ready):
            continue
        missing = READINESS[READINESS.index(reached) + 1 if reached else 0 :]
        if missing:
            once_played = 1.0 if chances is None else known.get(song["song"], known.mean() if len(known) else 0.0)
            rows.append(
                {
                    "song": song["song"],
                    "reached": reached,
                    "steps": missing,
                    "chance": 1 - (1 - once_played) ** shows,
                    "assumed": chances is not None and song["song"] not in known.index,
                    "missing_minutes": sum(lasts[step] for step in missing),
                }
            )
    return sorted(
        rows, key=lambda row: (-row["chance"] / max(row["missing_minutes"], 1e-9), -row["chance"], lot(row["song"]))
    )


def _placed(
    row: Mapping[str, Any], lasts: Mapping[str, float], left: np.ndarray, a_day: float, nights: int
) -> list[dict[str, Any]] | None:
    """Every missing step of a song on its days, taken out of the minutes left; none, and nothing taken, if too late."""
    room, placed = left.copy(), []
    begin = 0
    for step in row["steps"]:
        to_do, day = lasts[step], begin
        # A step is cut only if no day has room for it.
        whole = to_do <= a_day
        while to_do > 0:
            if day >= len(room):
                return None
            now = min(to_do, room[day])
            if now > 0 and (now == to_do or not whole):
                room[day] -= now
                to_do -= now
                ends = to_do == 0 and step == READINESS[-1]
                placed.append({**_row(row, step, now, day + 1), "ends": ends})
            day += to_do > 0
        begin = day + nights
    left[:] = room
    return placed


def _again(rows: list[dict[str, Any]], left: np.ndarray) -> list[dict[str, Any]]:
    """Once more what is ready, after the gap that suits the days until the show."""
    again = []
    for row in [row for row in rows if row["ends"]]:
        day = row["day"] + max(1, round(suggest_gap(len(left) + 1 - row["day"])))
        if day <= len(left) and left[day - 1] >= AGAIN_MINUTES:
            left[day - 1] -= AGAIN_MINUTES
            why = f"ready since day {row['day']}; once more before the show, so that it stays"
            again.append({**row, "step": "again", "minutes": AGAIN_MINUTES, "day": day, "because": why})
    return again


def _row(row: Mapping[str, Any], step: str, minutes: float, day: int | None) -> dict[str, Any]:
    return {
        "day": day,
        "song": row["song"],
        "step": step,
        "minutes": float(minutes),
        "chance": row["chance"],
        "missing_minutes": row["missing_minutes"],
        "because": _why(row, step),
    }


def _next(row: Mapping[str, Any], lasts: Mapping[str, float]) -> dict[str, Any]:
    step = row["steps"][0]
    return _row(row, step, lasts[step], None)


def _late(row: Mapping[str, Any], lasts: Mapping[str, float]) -> dict[str, Any]:
    because = f"cannot be show-ready in time: {row['missing_minutes']:g} minutes are missing; {_chance(row)}"
    return {**_next(row, lasts), "because": because}


def _why(row: Mapping[str, Any], step: str) -> str:
    steps = row["steps"]
    which = "the last step" if step == steps[-1] else f"step {steps.index(step) + 1} of {len(steps)}"
    return f"{_chance(row)}; {which} to show-ready"


def _chance(row: Mapping[str, Any]) -> str:
    how = ", the mean, since nobody knows it" if row["assumed"] else ""
    return f"chance of being played {row['chance']:.0%}{how}"


def _finished(rows: list[dict[str, Any]], first: date | None) -> pd.DataFrame:
    table = pd.DataFrame(rows, columns=COLUMNS)
    table["day"] = table["day"].astype("Int64")
    dates = [None if first is None or pd.isna(day) else first + timedelta(days=int(day) - 1) for day in table["day"]]
    table["date"] = pd.Series(dates, index=table.index, dtype=DATE)
    return table.astype({"minutes": float, "chance": float, "missing_minutes": float})


def _lasting(steps: Mapping[str, float] | None) -> dict[str, float]:
    for step, minutes in (steps or {}).items():
        if step not in STEPS:
            raise PlanProblem.bad_choice("steps", step, tuple(STEPS))
        number(minutes, f"steps: {step}", least=1.0)
    return {**STEPS, **(steps or {})}


def _days(until: date | str | float, first: date | None) -> int:
    """Whole days for learning before the show."""
    if isinstance(until, date | str):
        if first is None:
            raise PlanProblem.bad_minutes("today", None, "a day such as 2031-03-04, since `until` is one")
        return max(0, (_day(until, "until") - first).days)
    return int(number(until, "until"))


def _day(value: date | str, name: str) -> date:
    try:
        return date.fromisoformat(value) if isinstance(value, str) else pd.Timestamp(value).date()
    except ValueError as error:
        raise PlanProblem.bad_minutes(name, value, "a day such as 2031-03-04") from error
