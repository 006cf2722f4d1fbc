"""What goes into a chance: one row of plain numbers for each song before each show.

A row is made once, before the show, from earlier shows only, and kept. Songs of the last set may stay, the others may
come in; each kind has its own columns. `GROUPS` says under which heading a reason names a column.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from tourstats.models.swaps.draws import logit
from tourstats.models.swaps.history import read
from tourstats.models.swaps.ledger import QUICK, SLOW, Ledger

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

GROUPS = {
    "level": "",
    "run": "in a row",
    "first_night": "in a row",
    "every_night": "in a row",
    "own_stays": "in a row",
    "out": "shows out",
    "out_over_3": "shows out",
    "out_over_6": "shows out",
    "out_over_12": "shows out",
    "out_over_24": "shows out",
    "against_usual": "shows out",
    "about_due": "shows out",
    "overdue": "shows out",
    "own_returns": "how often",
    "overall": "how often",
    "this_month": "lately",
    "lately": "lately",
    "queue": "queue",
    "queue_front": "queue",
    "queue_top": "queue",
    "same_city": "city",
    "heard_here": "city",
    "not_heard_here": "city",
    "heard_this_stand": "city",
    "leg_starts": "leg",
    "leg_starts_lately": "leg",
    "newness": "new",
    "new_release": "new",
    "never_played": "new",
    "first_plays": "new",
    "kept_last_night": "the night",
    "set_repeated": "the night",
    "days_off": "the night",
}
"""Each feature, and the heading under which a reason names it."""

NIGHT = ("kept_last_night", "set_repeated", "days_off")
"""The same for all songs of a show: they move all of them."""

STAY = (
    "level", "run", "first_night", "every_night", "own_stays", "lately", "this_month", "overall", "same_city",
    "heard_here", "not_heard_here", "leg_starts", "leg_starts_lately", "newness", "new_release", *NIGHT,
)  # fmt: skip
"""Columns for songs of the last set."""

COME = (
    "level", "out", "out_over_3", "out_over_6", "out_over_12", "out_over_24", "against_usual", "about_due", "overdue",
    "never_played", "first_plays", "newness", "new_release", "lately", "this_month", "overall", "own_returns", "queue",
    "queue_front", "queue_top", "heard_here", "not_heard_here", "heard_this_stand", "same_city", "leg_starts", *NIGHT,
)  # fmt: skip
"""Columns for the other songs."""

_SHARED = ("lately", "this_month", "overall", "heard_here", "not_heard_here", "newness", "new_release")
_OWN_STAY = ("level", "run", "first_night", "every_night", "leg_starts", *NIGHT)
_OWN_COME = (
    "level", "out", "out_over_6", "against_usual", "about_due", "never_played", "queue_front", "queue_top",
    "leg_starts", *NIGHT,
)  # fmt: skip
BOTH = tuple(
    (name, kind) for kind, names in (("stay", _OWN_STAY), ("come", _OWN_COME), ("both", _SHARED)) for name in names
)
"""Columns of the one fit over both kinds of songs: fewer, and some of them shared."""


@dataclass(frozen=True)
class Rows:
    """Features of one show.

    Attributes
    ----------
    songs
        Column of each candidate in the history: songs of the last set first, each kind in the order of its features, so
        that neither titles nor the order of the repertoire matter.
    staying
        How many of them were in the last set.
    stay, come
        Rows of the columns `STAY` and `COME`.
    both
        Rows of the columns `BOTH`, for all of them.

    """

    songs: Ints
    staying: int
    stay: Floats
    come: Floats
    both: Floats

    @property
    def stays(self) -> NDArray[np.bool_]:
        """Whether each of the songs was in the last set."""
        return np.arange(len(self.songs)) < self.staying


def of_show(ledger: Ledger) -> Rows:
    """Features of the candidates of the show at hand."""
    candidate = ledger.history.candidate[ledger.at]
    columns = _columns(ledger)
    stay, stay_rows = _rows(columns, np.flatnonzero(candidate & ledger.last), STAY)
    come, come_rows = _rows(columns, np.flatnonzero(candidate & ~ledger.last), COME)
    both = np.zeros((len(stay) + len(come), len(BOTH)))
    for k, (name, kind) in enumerate(BOTH):
        if kind in ("stay", "both"):
            both[: len(stay), k] = stay_rows[:, STAY.index(name)]
        if kind in ("come", "both"):
            both[len(stay) :, k] = come_rows[:, COME.index(name)]
    return Rows(np.concatenate([stay, come]), len(stay), stay_rows, come_rows, both)


def _rows(columns: dict[str, Floats | float], songs: Ints, names: tuple[str, ...]) -> tuple[Ints, Floats]:
    """Rows of some songs, ordered by their own numbers."""
    rows = np.empty((len(songs), len(names)))
    for k, name in enumerate(names):
        value = columns[name]
        rows[:, k] = value[songs] if isinstance(value, np.ndarray) else value
    order = np.lexsort(rows.T)
    return songs[order], rows[order]


def _columns(ledger: Ledger) -> dict[str, Floats | float]:
    """Every feature, for all songs at once."""
    t, history = ledger.at, ledger.history
    candidate = history.candidate[t]
    lately = logit(ledger.rates(QUICK, candidate))
    heard, visited = ledger.heard_here(t)
    same_city = bool(history.city[t] >= 0 and history.city[t] == history.city[t - 1])
    stand = history.played[ledger.stand_start : t].any(axis=0) if same_city else np.zeros_like(heard)
    leg_starts = float(min(history.leg[t], history.leg[t - 1]) >= 0 and history.leg[t] != history.leg[t - 1])
    return {
        "level": 1.0,
        "run": np.log(np.maximum(ledger.run, 1)),
        "first_night": (ledger.run == 1).astype(float),
        "every_night": np.where(ledger.run == ledger.seen, np.log1p(ledger.run), 0.0),
        "own_stays": logit(ledger.own_stays()),
        "lately": lately,
        "this_month": logit(ledger.rates(SLOW, candidate)),
        "overall": logit(ledger.overall(candidate)),
        "own_returns": logit(ledger.own_returns()),
        "same_city": float(same_city),
        "heard_here": (heard & visited).astype(float),
        "not_heard_here": (~heard & visited).astype(float),
        "heard_this_stand": stand.astype(float),
        "leg_starts": leg_starts,
        "leg_starts_lately": leg_starts * lately,
        "newness": np.where(ledger.joined_late | (ledger.seen == 0), np.exp(-ledger.seen / 6), 0.0),
        "new_release": history.new_release.astype(float),
        "never_played": (~ledger.ever).astype(float),
        "first_plays": np.where(ledger.ever, 0.0, logit(ledger.first_plays / ledger.first_chances)),
        "kept_last_night": float(logit(ledger.kept)) / 2,
        "set_repeated": float(np.log1p(ledger.repeated)),
        "days_off": float(np.log1p(np.clip(history.day[t] - history.day[t - 1], 0, 30))) - 1.0,
        **_lying(ledger),
        **_queue(ledger, candidate & ~ledger.last),
    }


def _lying(ledger: Ledger) -> dict[str, Floats | float]:
    """How long each song has been out, by itself and against how long it usually is."""
    out = np.maximum(ledger.out, 1).astype(float)
    due = np.where(ledger.ever, np.log(out / ledger.usual()), 0.0)
    bends: dict[str, Floats | float] = {
        f"out_over_{bend}": np.maximum(np.log(out / bend), 0) for bend in (3, 6, 12, 24)
    }
    return bends | {
        "out": np.log(out),
        "against_usual": due,
        "about_due": np.where(ledger.ever, np.exp(-0.5 * (due / 0.4) ** 2), 0.0),
        "overdue": np.maximum(due, 0),
    }


def _queue(ledger: Ledger, waiting: NDArray[np.bool_]) -> dict[str, Floats | float]:
    """Place among those that are out, longest first; songs that are out equally long share a place."""
    place = np.zeros(len(waiting))
    longest_first = -ledger.out[waiting]
    order = np.sort(longest_first)
    place[waiting] = (
        np.searchsorted(order, longest_first, "left") + np.searchsorted(order, longest_first, "right") - 1
    ) / 2
    return {
        "queue": place / max(len(order), 1),
        "queue_front": np.exp(-place / 15),
        "queue_top": np.exp(-place / 5),
    }


def table(plays: pd.DataFrame, shows: pd.DataFrame, songs: pd.DataFrame) -> pd.DataFrame:
    """Every row that the fits see, to look at.

    Returns
    -------
    DataFrame
        One row per show (from the second) and candidate: show_id, song, in_last_set, played, and a column for each of
        `GROUPS`; missing where a feature is not for songs of this kind.

    Examples
    --------
    >>> plays = pd.DataFrame({"show_id": [1, 1, 2, 2], "position": [1, 2, 1, 2], "song": ["A", "B", "B", "C"]})
    >>> shows = pd.DataFrame({"show_id": [1, 2], "date": ["2031-03-04", "2031-03-05"]})
    >>> made = table(plays, shows, pd.DataFrame({"song": ["A", "B", "C"]}))
    >>> made[["show_id", "song", "in_last_set", "played", "never_played"]]
       show_id song  in_last_set  played  never_played
    0        2    A         True   False           NaN
    1        2    B         True    True           NaN
    2        2    C        False    True           1.0

    """
    history = read(plays, shows, songs)
    ledger = Ledger(history)
    parts = []
    for t in range(len(history.shows)):
        if t:
            rows = of_show(ledger)
            kinds = (pd.DataFrame(rows.stay, columns=list(STAY)), pd.DataFrame(rows.come, columns=list(COME)))
            made = pd.concat([kind for kind in kinds if len(kind)], ignore_index=True)
            made.insert(0, "show_id", history.shows[t])
            made.insert(1, "song", history.songs[rows.songs])
            made.insert(2, "in_last_set", rows.stays)
            made.insert(3, "played", history.played[t, rows.songs])
            parts.append(made.iloc[np.argsort(rows.songs, kind="stable")])
        ledger.learn()
    names = ["show_id", "song", "in_last_set", "played", *GROUPS]
    whole = pd.concat(parts, ignore_index=True) if parts else pd.DataFrame(columns=names)
    return whole.reindex(columns=names)
