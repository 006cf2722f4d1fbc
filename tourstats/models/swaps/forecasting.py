"""The next show's forecast, and how good the forecasts of past shows were."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from tourstats.models.estimates import one_thread
from tourstats.models.swaps import known_set, reasons
from tourstats.models.swaps.draws import expit, logit
from tourstats.models.swaps.history import History, read
from tourstats.models.swaps.known_set import KnownSetProblem
from tourstats.models.swaps.pool import MEMBERS, Step, last_step
from tourstats.problems import counted
from tourstats.tables import finished, no_rows

Floats = NDArray[np.float64]

EARLY = 8
"""With fewer sets than this, a forecast is an early guess."""

_Z = 1.2815515655446004  # intervals that should hold the truth in four of five

TIES = 20310304
"""Seed of the draw that puts songs of the same chance in order."""

_PLACE_STRENGTH = 2.0


@dataclass(frozen=True)
class Forecast:
    """What to expect of the next set.

    Attributes
    ----------
    songs
        One row per song of the repertoire, likeliest first; ties in a drawn order.

        =============  =====  ==================================================================================
        song           str    title
        chance         float  chance that it is in the next set, 0 to 1; together they make the expected size
        in_last_set    bool   whether it was in the last set
        low, high      float  80 % interval of what the leader's own chance may be, given how little has been seen
        because        str    what moves it most away from the average song
        =============  =====  ==================================================================================
    counts
        One row per number of songs coming in: swaps, chance.
    parts
        One row per song and part of its chance: song, part, effect (log odds against the average song that was, or was
        not, in the last set).
    weights
        One row per way of telling in the pool: member, weight.
    size
        Expected number of songs in the set.
    shows
        Number of sets that the forecast stands on.
    note
        What to keep in mind, or nothing.

    """

    songs: pd.DataFrame
    counts: pd.DataFrame
    parts: pd.DataFrame
    weights: pd.DataFrame
    size: float
    shows: int
    note: str


@finished
@one_thread
def forecast(
    plays: pd.DataFrame,
    shows: pd.DataFrame,
    songs: pd.DataFrame,
    next_show: Mapping[str, Any] | None = None,
    set_size: int | None = None,
    known: Iterable[str] | Mapping[str, bool | int] = (),
) -> Forecast:
    """Chances of every song for the next show, from the sets before it.

    Parameters
    ----------
    plays, shows, songs
        As in the diary. Dates of joining, retired and newly released songs, cities and legs are used where they are
        there. A song that was played counts as one of the repertoire, also when it is not in `songs`.
    next_show
        Any of date, number, leg, city, room, show_id. Shows on or after it are left out. The day after the last show
        if no date is said.
    set_size
        How many songs the next set has, if that is known.
    known
        Titles known to be in the set; or for each title True (in), False (not in), or its position in the set. With
        positions, songs that tend to come in places already taken become less likely. Titles are written as the tables
        write them; one that is in no table is a new song.

    Returns
    -------
    Forecast
        With empty tables, and a note, while there is no set to go by.

    Raises
    ------
    KnownSetProblem
        If no set agrees with what is known.
    Problem
        If `set_size` is not a whole number of at least 1.
    UnknownSongProblem
        If a title is one of the tables, but written otherwise, or nobody knows a song that is said to be out.
    TableProblem
        If a table is not as described in `tables`.

    Examples
    --------
    >>> plays = pd.DataFrame({"show_id": [1, 1, 2, 2], "position": [1, 2, 1, 2], "song": ["A", "B", "A", "C"]})
    >>> shows = pd.DataFrame({"show_id": [1, 2], "date": ["2031-03-04", "2031-03-05"]})
    >>> said = forecast(plays, shows, pd.DataFrame({"song": ["A", "B", "C"]}), {"date": "2031-03-07"}, set_size=2)
    >>> said.songs[["song", "chance", "in_last_set"]].round(2)
      song  chance  in_last_set
    0    A    0.83         True
    1    C    0.83         True
    2    B    0.34        False
    >>> said.note
    'Early guess: 2 sets so far.'

    """
    set_size = known_set.size(set_size)
    history = read(plays, shows, songs, {} if next_show is None else dict(next_show))
    sure, candidates = known_set.known(known, history.songs), set(history.songs[history.candidate[-1]])
    if set_size is not None and sum(what is not False for what in sure.values()) > set_size:
        raise KnownSetProblem.contradiction(list(sure))
    extra = [title for title, what in sure.items() if what is not False and title not in candidates]
    if len(history.shows) == 1:
        return _opening(history, set_size, sure, extra)
    step = last_step(history, set_size, len(extra))
    chances, out_in, spread = step.chances, step.counts.out_in, step.spread
    if sure:
        chances, out_in = _given(step, sure)
        spread = np.where(np.isin(_titles(step), list(sure)), 0.0, spread)
    told = pd.DataFrame({"song": _titles(step), "chance": chances, "in_last_set": step.rows.stays})
    told["low"], told["high"] = interval(chances, spread)
    told["because"] = reasons.words(step)
    swaps = out_in.sum(axis=0)
    return _forecast(
        history,
        told,
        sure,
        extra,
        counts=pd.DataFrame({"swaps": np.arange(len(swaps)), "chance": swaps}),
        parts=reasons.table(step),
        weights=pd.DataFrame({"member": MEMBERS, "weight": step.weights}),
    )


def _forecast(
    history: History,
    told: pd.DataFrame,
    sure: dict[str, bool | int],
    extra: list[str],
    counts: pd.DataFrame,
    parts: pd.DataFrame,
    weights: pd.DataFrame,
) -> Forecast:
    """Add the songs that are no candidates, and what is known; put songs in order."""
    last = history.played[-2] if len(history.shows) > 1 else np.zeros(len(history.songs), dtype=bool)
    others = ~history.candidate[-1] & ~np.isin(history.songs, extra)
    away = pd.DataFrame(
        {"song": history.songs[others], "chance": 0.0, "in_last_set": last[others], "low": 0.0, "high": 0.0}
    ).assign(because="not in the repertoire on that day")
    in_last = set(history.songs[last])
    more = pd.DataFrame(
        {"song": extra, "chance": 1.0, "in_last_set": [title in in_last for title in extra], "low": 1.0, "high": 1.0}
    ).assign(because="")
    songs = pd.concat([part for part in (told, more, away) if len(part)], ignore_index=True)
    for what, because in ((True, "known to be in"), (False, "known not to be in")):
        said = [title for title, value in sure.items() if (value is not False) is what]
        songs.loc[songs.song.isin(said), "because"] = because
    place = pd.Index(history.songs).append(pd.Index(extra).difference(history.songs, sort=False))
    draw = np.random.default_rng(TIES).random(len(place))
    songs["_tie"] = draw[place.get_indexer(songs.song)]
    songs = songs.sort_values(["chance", "_tie"], ascending=[False, True], ignore_index=True).drop(columns="_tie")
    new = sum(title not in in_last for title in extra)
    sets = len(history.shows) - 1
    return Forecast(
        songs=songs,
        counts=counts.assign(swaps=counts.swaps + new)[counts.chance > 0].reset_index(drop=True),
        parts=parts,
        weights=weights,
        size=float(songs.chance.sum()),
        shows=sets,
        note=f"Early guess: {counted(sets, 'set')} so far." if sets < EARLY else "",
    )


def interval(chances: Floats, spread: Floats) -> tuple[Floats, Floats]:
    """Interval of chances whose log odds have this standard error; a chance that is sure stays so."""
    inner = (chances > 0) & (chances < 1) & (spread > 0)
    middle = logit(np.where(inner, chances, 0.5))
    low, high = expit(middle - _Z * spread), expit(middle + _Z * spread)
    return np.where(inner, low, chances), np.where(inner, high, chances)


def _titles(step: Step) -> NDArray[Any]:
    """Titles in the order of the step's rows."""
    return np.asarray(step.ledger.history.songs[step.rows.songs])


def _given(step: Step, sure: dict[str, bool | int]) -> tuple[Floats, Floats]:
    """Chances and counts once a part of the set is known."""
    marks = np.array([{True: 1, False: 0}.get(sure.get(title, -1) is not False, -1) for title in _titles(step)])
    marks = np.where(np.isin(_titles(step), list(sure)), marks, -1).astype(np.int8)
    places = sorted({int(what) for what in sure.values() if not isinstance(what, bool)})
    later = later_share(step, places)
    try:
        return step.draw.given(marks, later)
    except ValueError as error:
        raise KnownSetProblem.contradiction(list(sure)) from error


def later_share(step: Step, places: list[int]) -> Floats:
    """Chance of each song that it comes in none of these places, by where it stood in past sets, if it is in.

    Past places are stretched to the size of the set at hand, and drawn to the share of places still free.
    """
    history = step.ledger.history
    size = max(round(float(step.sizes @ np.arange(len(step.sizes)))), *places, 1) if places else 1
    before = history.place[: step.at, step.rows.songs]
    sizes = np.maximum(before.max(axis=1, initial=1), 1)[:, None]
    stretched = np.ceil(before / sizes * size).astype(np.int64)
    free = (before > 0) & ~np.isin(stretched, places)
    share = 1 - len(places) / size
    return np.asarray((free.sum(axis=0) + _PLACE_STRENGTH * share) / ((before > 0).sum(axis=0) + _PLACE_STRENGTH))


def _opening(history: History, set_size: int | None, sure: dict[str, bool | int], extra: list[str]) -> Forecast:
    """Before the first set there is nothing to go by: every song is as likely as any other, if the size is known."""
    titles = history.songs[history.candidate[-1]]
    parts, weights = no_rows(song=str, part=str, effect=float), no_rows(member=str, weight=float)
    if set_size is None or not len(titles):
        note = "No set in the diary yet: log one, and this fills."
        told = no_rows(song=str, chance=float, in_last_set=bool, low=float, high=float, because=str)
        return Forecast(told, no_rows(swaps=int, chance=float), parts, weights, size=0.0, shows=0, note=note)
    marks = np.array([{True: 1, False: 0}[sure[t] is not False] if t in sure else -1 for t in titles], dtype=np.int8)
    room = set_size - len(extra) - int((marks == 1).sum())
    if not 0 <= room <= (marks < 0).sum() and sure:
        raise KnownSetProblem.contradiction(list(sure))
    share = np.clip(room / max((marks < 0).sum(), 1), 0.0, 1.0)
    chances = np.where(marks < 0, share, marks).astype(float)
    told = pd.DataFrame({"song": titles, "chance": chances, "in_last_set": False, "low": chances, "high": chances})
    told["because"] = "no set to go by yet"
    number = round(float(chances.sum()))
    counts = pd.DataFrame({"swaps": np.arange(number + 1), "chance": (np.arange(number + 1) == number).astype(float)})
    return _forecast(history, told, sure, extra, counts, parts, weights)
