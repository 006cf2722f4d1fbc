"""How many mistakes to expect in each song of tonight's set, and in the set as a whole.

A song's own level and what holds tonight (how long it was out, the room, the transition before it) multiply. Levels are
gamma distributed between songs, so that what a song's reviews say of its level has an exact mean: nothing is put on
the top of a skewed curve. The coefficients maximise the likelihood with the levels integrated out, drawn towards stated
values, so that there is an answer from the first day on and every review counts. What a run takes away is not fitted
again here: it is the quantity of `tourstats.models.playing.runs`. It runs at four in the afternoon, so it is written
out: some milliseconds, no library.

A count scatters more than its mean is unsure: ranges of what will be found add chance itself, and how uneven nights and
performances have been.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from tourstats.models.estimates import PRIOR_LAYOFF, PRIOR_RATE, PRIOR_TRANSITION, gamma_poisson, one_thread
from tourstats.models.playing import runs
from tourstats.models.playing.design import FEWEST_MISTAKES, FEWEST_SHOWS, commonest_room
from tourstats.models.playing.effects import PRIOR_SPREAD, known_of_runs
from tourstats.models.playing.performances import (
    PRIOR_RATE_SPREAD,
    SONGS_DIFFER,
    circumstances,
    counts,
    with_reviews,
)
from tourstats.tables import READINESS, checked
from tourstats.tour import earlier

Array = npt.NDArray[Any]

SONGS_ENOUGH = 10
PRIORS: dict[str, tuple[float, float]] = {
    "layoff": (PRIOR_LAYOFF, PRIOR_SPREAD),
    "break": (PRIOR_LAYOFF, PRIOR_SPREAD),
    "first": (0.3, 0.3),
    "position": (0.0, 0.3),
    "date": (0.0, 0.5),
    "new transition": PRIOR_TRANSITION,
    "second show": (0.0, 0.2),
    "often run": (0.5, 0.7),
}
"""Where each coefficient is drawn to, and how far it may stray: mean and standard deviation. Common practice, no
source; sixty reviewed shows outweigh them."""
ROOM_PRIOR = (0.0, 0.4)
FEW = ("layoff", "break", "first")
"""What counts while reviews are few."""
STEP_MISSING = 0.1
"""What each step that a song lacks to show-ready adds to the logarithm of its mistakes, until it was reviewed. Common
practice, no source."""
NIGHTS_DIFFER, NIGHTS_WORTH = 0.06, 8.0
"""Variance between nights, in logarithms, before there are shows to measure it by, and its worth in shows. Common
practice, no source, as the next."""
UNEVEN, UNEVEN_WORTH = 0.1, 60.0
"""The same between performances of one night, and its worth in mistakes."""
FEWEST_OF_TEN = 0.1
"""Share of nights below and above the range of a set: it holds four in five."""
TELL = np.log(1.15)
"""The least that is worth a word."""
TIMES = "\N{MULTIPLICATION SIGN}"
NO_REVIEWS = "assumed, no reviews yet"
NODES, WEIGHTS = np.polynomial.hermite_e.hermegauss(9)
WEIGHTS = WEIGHTS / WEIGHTS.sum()


@dataclass(frozen=True)
class _Model:
    """What was learned of all songs: coefficients, their covariance, shape of the levels, and how uneven playing is.

    `known` and `sums` are mistakes found in each reviewed song and what its level stands against; `links` are the sums
    of circumstances in them, `ran` those of runs. `nights` and `plays` are relative variances of nights and of single
    performances.
    """

    beta: Array
    covariance: Array
    shape: float
    found: Array
    sums: Array
    links: Array
    ran: Array
    nights: float
    plays: float


@dataclass(frozen=True)
class _Rows:
    """Circumstances as columns, runs as columns apart, the song of each row (-1: never reviewed) and its show."""

    columns: Array
    runs: Array
    song: npt.NDArray[np.int64]
    show: npt.NDArray[np.int64]


@one_thread
def expected(  # noqa: PLR0913  # a setting with a default
    plays: pd.DataFrame,
    shows: pd.DataFrame,
    songs: pd.DataFrame,
    reviews: pd.DataFrame,
    mistakes: pd.DataFrame,
    rehearsals: pd.DataFrame | None,
    next_show: Mapping[str, object],
    titles: Sequence[str],
    *,
    in_order_of_set: bool = True,
) -> pd.DataFrame:
    """Mistakes to expect in each song of a set that is still to be played.

    Parameters
    ----------
    plays, shows, songs, reviews, mistakes, rehearsals
        As in `tourstats.tables`; what happened on or after the day of the show is left out, runs of that day are not.
    next_show
        date, and if known number, room.
    titles
        The set, in order.
    in_order_of_set
        False where the titles are songs that may come, in no order: each is then expected in the middle of a set, after
        a song that it followed before.

    Returns
    -------
    DataFrame
        A row a title, in order.
            song       str
            expected   float  mistakes, in the mean of such nights
            low, high  float  95 % interval of that mean; a single night varies more
            chance     float  that anything goes wrong in it
            transition float  the part of `expected` that comes with a transition never played; 0 for other songs
            run_share  float  share of its mistakes that runs of the last week have taken away already: `expected` is
                              what is left
            range_low, range_high  int  number of mistakes in the whole set: it is between these, or on them, four
                              nights in five; the same in each row, each song counted once
            because    str    what makes it more or less than the average, "" if nothing does
            basis      str    "effects", "shrunken rates" while reviews are few, "prior" while there are none

    Examples
    --------
    >>> empty = pd.DataFrame(columns=["show_id", "song", "severity", "position", "date", "way"])
    >>> table = expected(empty, empty, empty, empty, empty, None, {"date": "2031-03-04"}, ["Ferry"])
    >>> table[["song", "basis", "because"]].iloc[0].tolist()
    ['Ferry', 'prior', 'assumed, no reviews yet']

    """
    songs = checked(songs, "songs")
    past, tonight = _known(plays, shows, rehearsals, next_show, titles)
    if not in_order_of_set:
        tonight = tonight.assign(position=0.5, encore=False, **{"new transition": False})
    table = with_reviews(past, counts(reviews, mistakes))
    return forecast_of(table, past, tonight, songs).loc[list(titles)].reset_index()


def forecast_of(
    table: pd.DataFrame, past: pd.DataFrame, tonight: pd.DataFrame, songs: pd.DataFrame, known: runs.Known | None = None
) -> pd.DataFrame:
    """What `expected` returns, a row a song, from tables of performances: reviewed ones, all before, and tonight's."""
    few = table["at"].nunique() < FEWEST_SHOWS or table.mistakes.sum() < FEWEST_MISTAKES
    basis = "prior" if not len(table) else "shrunken rates" if few else "effects"
    names = [name for name in PRIORS if name in FEW or not few]
    rooms = [] if few else sorted(set(table.room) - {commonest_room(table)})
    reviewed = pd.Index(table.song.unique())
    frames = (table, tonight)
    usual = next(_columns(rows, names, rooms) for rows in (table, past, tonight) if len(rows)).mean(axis=0)
    seen, ahead = (
        _Rows(
            np.column_stack([np.ones(len(rows)), _columns(rows, names, rooms) - usual]),
            rows[list(runs.NAMES)].to_numpy(float),
            reviewed.get_indexer(rows.song),
            pd.factorize(rows["at"])[0],
        )
        for rows in frames
    )
    known = known_of_runs(table) if known is None else known
    model = _learned(seen, table.mistakes.to_numpy(float), _priors(names, rooms), known)
    readiness = _steps_missing(tonight.song, songs) * (ahead.song < 0)
    said = _said(model, ahead, known, STEP_MISSING * readiness)
    at = 1 + names.index("new transition") if "new transition" in names else None
    said["transition"] = _of_transitions(said["expected"], tonight, model, at)
    reasons = _reasons(tonight, model, ahead, known, [*names, *rooms]) if len(table) else [NO_REVIEWS] * len(tonight)
    low, high = _range(model, ahead, known, said["expected"])
    return pd.DataFrame(
        {
            "song": tonight.song,
            **said,
            "range_low": low,
            "range_high": high,
            "because": pd.Series(reasons, index=tonight.index, dtype="str"),
            "basis": basis,
        }
    ).set_index("song")


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
    before, plays = earlier(shows, {"number": 1, **next_show}), checked(plays, "plays")
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


def _steps_missing(titles: pd.Series, songs: pd.DataFrame) -> Array:
    """Steps that each song lacks to show-ready; none where nobody has said how far it is."""
    reached = titles.map(songs.drop_duplicates("song").set_index("song").readiness)
    steps = {step: len(READINESS) - 1 - at for at, step in enumerate(READINESS)}
    return np.asarray(reached.map(steps).fillna(0).to_numpy(float))


def _priors(names: list[str], rooms: list[str]) -> Array:
    """Where each coefficient is drawn to; the first one so that a song nothing is known of has the stated rate."""
    level = (np.log(PRIOR_RATE), PRIOR_RATE_SPREAD)
    return np.array([level, *(PRIORS[name] for name in names), *(ROOM_PRIOR for _ in rooms)])


# ---------------------------------------------------------------------------- learning


def _learned(seen: _Rows, found: Array, priors: Array, known: runs.Known) -> _Model:
    """Coefficients and the shape of songs' levels, fitted in turn; then how uneven nights and performances are."""
    songs = int(seen.song.max(initial=-1)) + 1
    of_songs = np.bincount(seen.song, found, songs)
    offset = seen.runs @ known.mean
    shape, beta = 1 / np.expm1(SONGS_DIFFER**2), priors[:, 0].copy()
    for _ in range(3):
        beta, covariance, rate, sums = _coefficients(seen, found, offset, priors, shape, beta)
        again = _shape(of_songs, sums)
        if again is None:
            break
        shape = again
    rate, sums = np.asarray(rate), np.asarray(sums)
    links = np.stack([np.bincount(seen.song, rate * column, songs) for column in seen.columns.T], axis=1)
    ran = np.stack([np.bincount(seen.song, rate * column, songs) for column in seen.runs.T], axis=1)
    nights, uneven = _unevenness(seen, found, rate, sums, shape, of_songs)
    return _Model(beta, covariance, shape, of_songs, sums, links, ran, nights, uneven)


def _shape(found: Array, sums: Array) -> float | None:
    """Shape of the gamma distribution of songs' levels; the stated one while few songs were reviewed."""
    if len(found) < SONGS_ENOUGH or not found.sum():
        return None
    return float(np.clip(gamma_poisson(found, sums).shape, 1 / np.expm1(2.0), 1 / np.expm1(0.02)))


def _coefficients(
    seen: _Rows, found: Array, offset: Array, priors: Array, shape: float, beta: Array
) -> tuple[Array, Array, Array, Array]:
    """Newton steps on the likelihood with levels integrated out: the counts of a song are a negative multinomial.

    Returns coefficients, covariance, each row's rate at level 1, and the sum of these by song.
    """
    mean, precision = priors[:, 0], 1 / priors[:, 1] ** 2
    songs = int(seen.song.max(initial=-1)) + 1
    of_songs = np.bincount(seen.song, found, songs)

    def at(beta: Array) -> tuple[Array, Array, float]:
        rate = np.exp(np.clip(seen.columns @ beta + offset, -20, 20))
        sums = np.bincount(seen.song, rate, songs)
        value = found @ (seen.columns @ beta) - (of_songs + shape) @ np.log(sums + shape)
        return rate, sums, float(value - (precision * (beta - mean) ** 2).sum() / 2)

    rate, sums, value = at(beta)
    for _ in range(50):
        level = (of_songs + shape) / (sums + shape)
        links = np.stack([np.bincount(seen.song, rate * column, songs) for column in seen.columns.T])
        slope = seen.columns.T @ (found - rate * level[seen.song]) - precision * (beta - mean)
        bend = (seen.columns * (rate * level[seen.song])[:, None]).T @ seen.columns
        taken = bend - (links * (level / (sums + shape))) @ links.T
        step = np.linalg.solve(taken + np.diag(precision), slope)
        step /= max(1.0, np.abs(step).max())
        while True:
            trial = at(beta + step)
            if trial[2] >= value - 1e-9 or np.abs(step).max() < 1e-9:  # noqa: PLR2004  # below any figure shown
                break
            step = step / 2
        beta, (rate, sums, value) = beta + step, trial
        if np.abs(step).max() < 1e-8:  # noqa: PLR2004  # far below a figure that is shown
            break
    return beta, np.linalg.inv(taken + np.diag(precision)), rate, sums


def _unevenness(
    seen: _Rows, found: Array, rate: Array, sums: Array, shape: float, of_songs: Array
) -> tuple[float, float]:
    """Relative variance of nights, and of performances of one night, by moments, drawn to what is usual."""
    level = ((of_songs + shape) / (sums + shape))[seen.song]
    mean = rate * level
    left = found - mean
    shows = int(seen.show.max(initial=-1)) + 1
    by_show = [np.bincount(seen.show, values, shows) for values in (left, left**2, mean, mean**2)]
    pairs, both = by_show[0] ** 2 - by_show[1], by_show[2] ** 2 - by_show[3]
    own = rate / (sums + shape)[seen.song] if len(mean) else mean
    single = left**2 / np.clip(1 - own, 0.2, None) - mean
    each = (
        (NIGHTS_WORTH * NIGHTS_DIFFER * both.mean() + pairs.sum()) / (NIGHTS_WORTH * both.mean() + both.sum())
        if (both.sum() > 0)
        else NIGHTS_DIFFER
    )
    nights = float(np.clip(each, 0.0, 1.0))
    squares = float((mean**2).sum())
    worth = UNEVEN_WORTH * squares / max(mean.sum(), 1e-9)
    total = (worth * (UNEVEN + nights) + single.sum()) / (worth + squares) if squares else UNEVEN + nights
    return nights, float(np.clip(total - nights, 0.0, 2.0))


# ---------------------------------------------------------------------------- saying


def _said(model: _Model, ahead: _Rows, known: runs.Known, more: Array) -> dict[str, Array]:
    """Means, their intervals, chances, and what runs have taken away."""
    shape, mean = _levels(model, ahead)
    run = ahead.runs @ known.mean
    mean = mean * np.exp(ahead.columns @ model.beta + run + more)
    low, high = _interval(mean, shape, _shared(model, ahead, known))
    return {
        "expected": mean,
        "low": low,
        "high": high,
        "chance": _chance(mean, shape, _shared(model, ahead, known), model),
        "run_share": -np.expm1(np.minimum(run, 0.0)),
    }


def _levels(model: _Model, ahead: _Rows) -> tuple[Array, Array]:
    """Shape and mean of what is known of each song's level: gamma distributions."""
    found, sums = (np.r_[values, 0.0][ahead.song] for values in (model.found, model.sums))
    shape = found + model.shape
    return shape, shape / (sums + model.shape)


def _directions(model: _Model, ahead: _Rows) -> tuple[Array, Array]:
    """How each row's logarithm moves with coefficients, and with what runs take: a song's level moves against it."""
    sums = np.r_[model.sums, 0.0][ahead.song][:, None] + model.shape
    links, ran = (np.vstack([values, np.zeros(values.shape[1])])[ahead.song] for values in (model.links, model.ran))
    return ahead.columns - links / sums, ahead.runs - ran / sums


def _shared(model: _Model, ahead: _Rows, known: runs.Known) -> Array:
    """Variance of the logarithm of each mean that comes from coefficients and from runs."""
    columns, ran = _directions(model, ahead)
    return np.asarray(
        np.einsum("ij,jk,ik->i", columns, model.covariance, columns)
        + np.einsum("ij,jk,ik->i", ran, known.covariance, ran)
    )


def _nodes(mean: Array, shared: Array) -> Array:
    """Means at the nodes of the normal distribution of what is shared, a row a node; their mean is the mean."""
    spread = np.sqrt(shared)
    return np.asarray(mean * np.exp(NODES[:, None] * spread - shared / 2))


def _interval(mean: Array, shape: Array, shared: Array) -> tuple[Array, Array]:
    """95 % interval of each mean: quantiles of gamma distributions over the nodes, by bisection."""
    from scipy.special import gammainc  # noqa: PLC0415  # late: the start-up path imports this module

    nodes = _nodes(mean, shared)
    ends = []
    for tail in (0.025, 0.975):
        below, above = np.log(mean) - 15, np.log(mean) + 5
        for _ in range(45):
            middle = (below + above) / 2
            share = WEIGHTS @ gammainc(shape, np.exp(middle) * shape / nodes)
            below, above = np.where(share < tail, middle, below), np.where(share < tail, above, middle)
        ends.append(np.exp((below + above) / 2))
    return ends[0], ends[1]


def _chance(mean: Array, shape: Array, shared: Array, model: _Model) -> Array:
    """Chance that anything goes wrong: one less that of a count of 0, over all that is not known."""
    spread = 1 / shape + model.nights + model.plays
    clean = WEIGHTS @ (1 + _nodes(mean, shared) * spread) ** (-1 / spread)
    return np.asarray(1 - clean)


def _range(model: _Model, ahead: _Rows, known: runs.Known, mean: Array) -> tuple[int, int]:
    """Number of mistakes of the whole set that four nights in five bring: quantiles of a negative binomial."""
    total = float(mean.sum())
    if not total:
        return 0, 0
    shape, _ = _levels(model, ahead)
    columns, ran = _directions(model, ahead)
    pulls = [mean @ part for part in (columns, ran)]
    shared = sum(pull @ of @ pull for pull, of in zip(pulls, (model.covariance, known.covariance), strict=True))
    more = float((mean**2 * (1 / shape + model.plays)).sum() + total**2 * model.nights + shared)
    return _quantiles(total, more / total**2)


def _quantiles(mean: float, spread: float) -> tuple[int, int]:
    """Counts at either end of four in five, of a negative binomial of variance mean + spread * mean squared."""
    top = int(mean + 12 * np.sqrt(mean + spread * mean**2)) + 20
    shape = 1 / max(spread, 1e-9)
    steps = np.arange(1, top + 1)
    logs = np.log((steps - 1 + shape) / steps * (mean / (mean + shape)))
    cumulated = np.cumsum(np.exp(np.cumsum(np.r_[shape * np.log(shape / (shape + mean)), logs])))
    low, high = np.searchsorted(cumulated, [FEWEST_OF_TEN, 1 - FEWEST_OF_TEN])
    return int(low), int(high)


def _of_transitions(mean: Array, tonight: pd.DataFrame, model: _Model, at: int | None) -> Array:
    """The part of each song's mistakes that comes with a transition never played, by the effect fitted or assumed."""
    effect = model.beta[at] if at is not None else 0.0
    return np.asarray(mean * tonight["new transition"].to_numpy(float) * -np.expm1(-max(float(effect), 0.0)))


def _reasons(tonight: pd.DataFrame, model: _Model, ahead: _Rows, known: runs.Known, names: list[str]) -> list[str]:
    """What makes each song's figure more or less than the average's, the largest first."""
    parts, own = ahead.columns * model.beta, np.log(_levels(model, ahead)[1])
    run, said = ahead.runs @ known.mean, []
    for row, (_, song) in enumerate(tonight.iterrows()):
        terms = {"this song": own[row], f"run this week ({song.ran})": run[row]}
        for name, part in zip(names, parts[row, 1:], strict=True):
            word = _word(name, song)
            if word:
                terms[word] = terms.get(word, 0.0) + part
        worth = sorted((t for t in terms.items() if abs(t[1]) > TELL), key=lambda term: -abs(term[1]))
        words = [f"{word} {TIMES} {np.exp(size):.1f}" for word, size in worth]
        said.append(", ".join([*([] if ahead.song[row] >= 0 else ["not reviewed yet"]), *words]))
    return said


def _word(name: str, song: pd.Series) -> str:
    """What a column says of tonight, in a few words; nothing for what is not so."""
    if name == song.room:
        return f"{name} room"
    if name in ("layoff", "break"):
        many = "" if song.missed == 1 else "s"
        if song["first"]:
            return ""
        out = f"out {song.missed} show{many}" if song.missed else ""
        gap = "a break" if song["break"] > 0 else ""
        return " and ".join(part for part in (out, gap) if part) or "in the last set"
    words = {"first": "first time", "new transition": "transition never played"}
    return words.get(name, "") if name in words and song[name] else ""
