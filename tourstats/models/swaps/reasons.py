"""Why a song has the chance it has: what moves it away from the average song in the same place, and in words."""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from tourstats.models.swaps.features import BOTH, COME, GROUPS, STAY
from tourstats.models.swaps.pool import Step
from tourstats.problems import counted

Floats = NDArray[np.float64]

PARTS = tuple(dict.fromkeys(group for group in GROUPS.values() if group))
"""Headings under which features are added up."""

_WORTH_SAYING = 0.15
_MOST = 2
_WINDOW = 10
_ANY_TIME = 8
_FAR_BACK = 300
"""Days from which on a day is said with its year."""
_OF_THE_SHOW = ("leg", "the night")


def effects(step: Step) -> Floats:
    """Log odds that each of `PARTS` (columns) adds to each song (rows), against the average song in the same state."""
    total = np.zeros((len(step.rows.songs), len(PARTS)))
    here = step.rows.staying
    stay, come = slice(0, here), slice(here, None)
    hazards = step.members[1]
    for part, rows, names, coefficients in (
        (stay, step.rows.stay, STAY, step.coefficients[0]),
        (come, step.rows.come, COME, step.coefficients[1]),
    ):
        if not len(rows):
            continue
        _add(total[part], rows * coefficients, names, step.weights[0])
        _add(total[part], step.rows.both[part] * step.coefficients[2], [name for name, _ in BOTH], step.weights[2])
        moved = step.weights[1] * (hazards[part] - hazards[part].mean())
        if part is stay:
            total[part, PARTS.index("in a row")] += moved
        else:
            never = rows[:, COME.index("never_played")] > 0
            total[part, PARTS.index("new")] += np.where(never, moved, 0.0)
            total[part, PARTS.index("shows out")] += np.where(never, 0.0, moved)
        total[part] -= total[part].mean(axis=0)
    return total


def _add(total: Floats, products: Floats, names: tuple[str, ...] | list[str], weight: float) -> None:
    """Add each feature's part, less that of the average song."""
    for k, name in enumerate(names):
        if GROUPS[name]:
            total[:, PARTS.index(GROUPS[name])] += weight * (products[:, k] - products[:, k].mean())


def table(step: Step) -> pd.DataFrame:
    """One row per song and part: song, part, effect (log odds against the average song in the same state)."""
    songs = step.ledger.history.songs[step.rows.songs]
    order = np.argsort(step.rows.songs, kind="stable")
    return pd.DataFrame(
        {
            "song": np.repeat(songs[order], len(PARTS)),
            "part": np.tile(np.array(PARTS), len(songs)),
            "effect": effects(step)[order].ravel(),
        }
    )


def words(step: Step) -> list[str]:
    """A short reason for each song, in the order of the step's rows."""
    facts = _Facts(step)
    told = []
    for k, moves in enumerate(effects(step)):
        strongest = sorted(range(len(PARTS)), key=lambda part: -abs(moves[part]))
        said = [text for part in strongest if abs(moves[part]) >= _WORTH_SAYING and (text := facts.of(k, PARTS[part]))]
        if not said:
            own = sorted(strongest, key=lambda part: PARTS[part] in _OF_THE_SHOW)  # what holds for every song goes last
            said = [text for part in own if (text := facts.of(k, PARTS[part]))][:1]
        told.append("; ".join(dict.fromkeys(said[:_MOST])))
    return told


class _Facts:
    """What can be said about a song under each heading."""

    def __init__(self, step: Step) -> None:
        ledger, history = step.ledger, step.ledger.history
        self.step, self.ledger = step, ledger
        self.songs = step.rows.songs
        self.low, self.high = ledger.return_range()
        heard, self.visited = ledger.heard_here(step.at)
        self.heard: NDArray[np.bool_] = heard
        self.same_city = bool(history.city[step.at] >= 0 and history.city[step.at] == history.city[step.at - 1])
        self.stand = np.asarray(history.played[ledger.stand_start : step.at].any(axis=0))
        self.leg_starts = bool(history.leg[step.at] >= 0 and history.leg[step.at] != history.leg[step.at - 1])
        self.latest = _when(*history.day[step.at - 1 : step.at + 1])
        self.window = min(_WINDOW, step.at)
        self.recent = history.played[step.at - self.window : step.at].sum(axis=0)
        self.waiting: NDArray[np.bool_] = history.candidate[step.at] & ~ledger.last

    def of(self, row: int, part: str) -> str:
        """Say it, or nothing if there is nothing to say."""
        song = int(self.songs[row])
        staying = row < self.step.rows.staying
        say = {
            "in a row": self._run if staying else None,
            "shows out": None if staying else self._out,
            "how often": self._often,
            "lately": self._lately,
            "queue": None if staying else self._queue,
            "city": self._city,
            "new": self._new,
            "leg": self._leg,
            "the night": self._night,
        }[part]
        return say(song) if say else ""

    def _run(self, song: int) -> str:
        run = int(self.ledger.run[song])
        if run == self.ledger.seen[song] and run > 1:
            return f"in every set so far ({run})"
        return f"came in {self.latest}" if run == 1 else f"in the last {run} sets"

    def _out(self, song: int) -> str:
        out = int(self.ledger.out[song])
        if not self.ledger.ever[song]:
            return ""
        gone = f"out {out} show{'s' if out > 1 else ''}"
        low, high = int(self.low[song]), int(self.high[song])
        if high > _ANY_TIME * low:
            return f"{gone}, no usual gap"
        after = f"{low} to {high}" if low < high else f"{low}"
        whose = "comes" if self.ledger.returns[song] else "songs here come"
        return f"{gone}, {whose} back after {after} four times in five"

    def _often(self, song: int) -> str:
        if not self.ledger.ever[song]:
            return ""
        return f"in {self.ledger.plays[song]} of {self.ledger.seen[song]} sets"

    def _lately(self, song: int) -> str:
        if self.window < _WINDOW or not self.ledger.ever[song]:
            return ""
        return f"in {self.recent[song] or 'none'} of the last {self.window} sets"

    def _queue(self, song: int) -> str:
        longer = int((self.ledger.out[self.waiting] > self.ledger.out[song]).sum())
        if not self.ledger.ever[song]:
            return ""
        return f"{longer or 'no'} song{'' if longer == 1 else 's'} {'has' if longer == 1 else 'have'} been out longer"

    def _city(self, song: int) -> str:
        if self.same_city and self.stand[song] and not self.ledger.last[song]:
            return "already heard during this stay in the city"
        if self.visited:
            return "heard here at the last visit" if self.heard[song] else "not heard here at the last visit"
        return f"same city as {self.latest}" if self.same_city else ""

    def _leg(self, _: int) -> str:
        return "first show of a leg" if self.leg_starts else ""

    def _night(self, _: int) -> str:
        return f"{self.ledger.kept:.0%} of the set stayed at the last show"

    def _new(self, song: int) -> str:
        if not self.ledger.ever[song]:
            seen = int(self.ledger.seen[song])
            if not seen:
                return "new, not played yet"
            return f"not played at any of {seen} shows" if seen > 1 else "not played at the one show so far"
        if self.ledger.history.new_release[song]:
            return "newly released"
        return f"new {counted(self.ledger.seen[song], 'show')} ago" if self.ledger.joined_late[song] else ""


def _when(last: int, coming: int) -> str:
    """When the last show was, as one says it before the coming one; days as in a history."""
    if coming - last <= 1:
        return "last night" if coming > last else "earlier that day"
    day = pd.Timestamp(last, unit="D")
    return f"on {day:%-d %B}" + (f" {day.year}" if coming - last > _FAR_BACK else "")
