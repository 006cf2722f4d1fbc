"""How many mistakes to expect in each song of tonight's set.

A song's own level and what holds tonight (how long it lay, the room, the transition before it) multiply. All of it is
one Poisson regression whose coefficients are drawn towards stated values, so that it answers from the first day on and
learns from every review. It runs at four in the afternoon, so it is written out here: some milliseconds, no library.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from tourstats.models.estimates import PRIOR_LAYOFF, PRIOR_RATE, gamma_poisson, one_thread
from tourstats.models.playing.design import FEWEST_MISTAKES, FEWEST_SHOWS, commonest_room
from tourstats.models.playing.effects import PRIOR_SPREAD
from tourstats.models.playing.performances import (
    PRIOR_RATE_SPREAD,
    SONGS_DIFFER,
    circumstances,
    counts,
)
from tourstats.tables import checked, in_order

Array = npt.NDArray[Any]

SONGS_ENOUGH = 10
PRIORS: dict[str, tuple[float, float]] = {
    "layoff": (PRIOR_LAYOFF, PRIOR_SPREAD),
    "first": (0.3, 0.3),
    "position": (0.0, 0.3),
    "date": (0.0, 0.5),
    "new transition": (0.1, 0.2),
    "run-through": (-0.1, 0.1),
    "listened": (0.0, 0.2),
    "other room": (0.0, 0.2),
    "second show": (0.0, 0.2),
    "day off": (0.0, 0.2),
    "encore": (0.0, 0.2),
}
"""Where each coefficient is drawn to, and how far it may stray: mean and standard deviation. Common practice, no
source; sixty reviewed shows outweigh them."""
ROOM_PRIOR = (0.0, 0.4)
FEW = ("layoff", "first")
"""What counts while reviews are few."""
TELL = np.log(1.15)
"""The least that is worth a word."""
TIMES = "\N{MULTIPLICATION SIGN}"
NO_REVIEWS = f"no reviews yet: taken as {PRIOR_RATE} a play, more after a layoff"


@dataclass(frozen=True)
class _Posterior:
    """Coefficients and songs' levels, and what it takes to say how sure they are."""

    beta: Array
    level: Array
    beta_covariance: Array
    link: Array
    level_precision: Array


@one_thread
def expected(
    plays: pd.DataFrame,
    shows: pd.DataFrame,
    songs: pd.DataFrame,
    reviews: pd.DataFrame,
    mistakes: pd.DataFrame,
    rehearsals: pd.DataFrame | None,
    next_show: Mapping[str, object],
    titles: Sequence[str],
) -> pd.DataFrame:
    """Mistakes to expect in each song of a set that is still to be played.

    Parameters
    ----------
    plays, shows, songs, reviews, mistakes, rehearsals
        As in `tourstats.tables`; what happened on or after the day of the show is left out.
    next_show
        date, and if known number, room.
    titles
        The set, in order.

    Returns
    -------
    DataFrame
        A row a title, in order.
            song       str
            expected   float  mistakes
            low, high  float  95 % interval of that mean; a single night varies more
            because    str    what makes it more or less than the average, "" if nothing does
            basis      str    "effects", "shrunken rates" while reviews are few, "prior" while there are none

    Examples
    --------
    >>> empty = pd.DataFrame(columns=["show_id", "song", "severity", "position", "date", "way"])
    >>> table = expected(empty, empty, empty, empty, empty, None, {"date": "2031-03-04"}, ["Ferry"])
    >>> table[["song", "basis", "because"]].iloc[0].tolist()
    ['Ferry', 'prior', 'no reviews yet: taken as 0.3 a play, more after a layoff']

    """
    checked(songs, "songs")
    past, tonight = _known(plays, shows, rehearsals, next_show, titles)
    known = past.merge(counts(reviews, mistakes), on=["show_id", "song"])
    few = known["at"].nunique() < FEWEST_SHOWS or known.mistakes.sum() < FEWEST_MISTAKES
    basis = "prior" if not len(known) else "shrunken rates" if few else "effects"
    names = [name for name in PRIORS if name in FEW or not few]
    rooms = [] if few else sorted(set(known.room) - {commonest_room(known)})
    design, ahead = (_columns(rows, names, rooms) for rows in (known, tonight))
    usual = next(rows for rows in (design, _columns(past, names, rooms), ahead) if len(rows))
    design, ahead = (np.column_stack([np.ones(len(rows)), rows - usual.mean(axis=0)]) for rows in (design, ahead))
    reviewed = pd.Index(known.song.unique())
    spread = _between_songs(known)
    fit = _posterior(design, reviewed.get_indexer(known.song), known.mistakes, _priors(names, rooms, spread), spread)
    song = reviewed.get_indexer(tonight.song)
    parts, own = ahead * fit.beta, np.where(song >= 0, np.r_[fit.level, 0.0][song], 0.0)
    middle, variance = parts.sum(axis=1) + own, _variance(fit, ahead, song, spread)
    reach = 1.96 * np.sqrt(variance)
    reasons = _reasons(tonight, parts, own, song >= 0, [*names, *rooms]) if len(known) else [NO_REVIEWS] * len(tonight)
    table = pd.DataFrame(
        {
            "song": tonight.song,
            "expected": np.exp(middle + variance / 2),
            "low": np.exp(middle - reach),
            "high": np.exp(middle + reach),
            "because": pd.Series(reasons, dtype="str"),
            "basis": basis,
        }
    )
    return table.set_index("song").loc[list(titles)].reset_index()


def _known(
    plays: pd.DataFrame,
    shows: pd.DataFrame,
    rehearsals: pd.DataFrame | None,
    next_show: Mapping[str, object],
    titles: Sequence[str],
) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Circumstances of every song played before, and of tonight's set."""
    show = {name: next_show[name] for name in ("date", "number", "room") if name in next_show}
    tonight = checked(pd.DataFrame([{**show, "show_id": 0}]), "shows")
    before, plays = in_order(shows), checked(plays, "plays")
    day, number = tonight.date[0], tonight.number[0]
    before = before[(before.date < day) | ((before.date == day) & (before.number < number))]
    before = before[before.show_id.isin(plays.show_id)]
    codes = dict(zip(before.show_id, range(len(before)), strict=True))
    sets = plays[plays.show_id.isin(before.show_id)]
    tonight["show_id"] = len(before)
    titles_tonight = pd.DataFrame({"show_id": len(before), "position": range(1, len(titles) + 1), "song": list(titles)})
    every = circumstances(
        pd.concat([sets.assign(show_id=sets.show_id.map(codes)), titles_tonight], ignore_index=True),
        pd.concat([before.assign(show_id=before.show_id.map(codes)), tonight], ignore_index=True),
        rehearsals,
    )
    last = every.show_id == len(before)
    past = every[~last]
    names = before.show_id.to_numpy()
    return past.assign(show_id=names[past.show_id.to_numpy(int)]), every[last].reset_index(drop=True)


def _columns(rows: pd.DataFrame, names: list[str], rooms: list[str]) -> Array:
    return np.column_stack(
        [*(rows[name].to_numpy(float) for name in names), *((rows.room == room).to_numpy(float) for room in rooms)]
    )


def _between_songs(known: pd.DataFrame) -> float:
    """Variance of songs' levels, in logarithms."""
    by_song = known.groupby("song").mistakes
    if by_song.ngroups < SONGS_ENOUGH or not known.mistakes.sum():
        return SONGS_DIFFER**2
    shape = gamma_poisson(by_song.sum(), by_song.size()).shape
    return float(np.clip(np.log1p(1 / shape), 0.02, 2.0))


def _priors(names: list[str], rooms: list[str], spread: float) -> Array:
    """Where each coefficient is drawn to; the first one so that a song nothing is known of has the stated rate."""
    level = np.log(PRIOR_RATE) - (PRIOR_RATE_SPREAD**2 + spread) / 2
    return np.array([(level, PRIOR_RATE_SPREAD), *(PRIORS[name] for name in names), *(ROOM_PRIOR for _ in rooms)])


def _posterior(
    design: Array, song: npt.NDArray[np.int64], mistakes: pd.Series, priors: Array, spread: float
) -> _Posterior:
    """Newton steps; the songs' block of the Hessian is diagonal, so that it costs next to nothing."""
    mean, precision = priors[:, 0], 1 / priors[:, 1] ** 2
    counted, songs = mistakes.to_numpy(float), int(song.max(initial=-1)) + 1
    beta, level = mean.copy(), np.zeros(songs)
    for _ in range(50):
        rate = np.exp(np.clip(design @ beta + level[song], -20, 20))
        link = np.stack([np.bincount(song, rate * column, songs) for column in design.T])
        own = np.bincount(song, rate, songs) + 1 / spread
        slope = design.T @ (counted - rate) - precision * (beta - mean)
        slope_own = np.bincount(song, counted - rate, songs) - level / spread
        covariance = np.linalg.inv((design * rate[:, None]).T @ design + np.diag(precision) - (link / own) @ link.T)
        step = covariance @ (slope - (link / own) @ slope_own)
        step_own = (slope_own - link.T @ step) / own
        largest = max(np.abs(step).max(), np.abs(step_own).max(initial=0))
        beta, level = beta + step / max(1, largest), level + step_own / max(1, largest)
        if largest < 1e-8:  # noqa: PLR2004  # far below a figure that is shown
            break
    return _Posterior(beta, level, covariance, link, own)


def _variance(fit: _Posterior, ahead: Array, song: npt.NDArray[np.int64], spread: float) -> Array:
    """Variance of the logarithm of each expected count."""
    own = np.where(song >= 0, np.r_[1 / fit.level_precision, spread][song], spread)
    link = np.column_stack([fit.link / fit.level_precision, np.zeros(len(fit.beta))])[:, song].T
    shared = ahead - link
    return np.asarray(np.einsum("ij,jk,ik->i", shared, fit.beta_covariance, shared) + own)


def _reasons(
    tonight: pd.DataFrame, parts: Array, own: Array, reviewed: npt.NDArray[np.bool_], names: list[str]
) -> list[str]:
    """What makes each song's figure more or less than the average's, the largest first."""
    said = []
    for row, (_, song) in enumerate(tonight.iterrows()):
        terms = {"this song": own[row]}
        for name, part in zip(names, parts[row, 1:], strict=True):
            word = _word(name, song)
            # One runs what is shaky: that a run-through goes with more mistakes is no reason, and never told as one.
            if word and not (name == "run-through" and part > 0):
                terms[word] = terms.get(word, 0.0) + part
        worth = sorted((t for t in terms.items() if abs(t[1]) > TELL), key=lambda term: -abs(term[1]))
        words = [f"{word} {TIMES} {np.exp(size):.1f}" for word, size in worth]
        said.append(", ".join([*([] if reviewed[row] else ["not reviewed yet"]), *words]))
    return said


def _word(name: str, song: pd.Series) -> str:
    """What a column says of tonight, in a few words; nothing for what is not so."""
    if name == song.room:
        return f"{name} room"
    if name == "layoff":
        many = "" if song.missed == 1 else "s"
        return "" if song["first"] else f"lay {song.missed} show{many}" if song.missed else "in the last set"
    words = {"first": "first time", "new transition": "transition never played", "run-through": "run through since"}
    return words.get(name, "") if name in words and song[name] else ""
