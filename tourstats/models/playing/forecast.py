"""How many mistakes to expect in each song of tonight's set, and in the set as a whole.

A song's own level and what holds tonight (how long it was out, the room, the transition before it) multiply. Levels are
normal in logarithms between songs; what a song's reviews say of its level is integrated over a grid, so that nothing is
put on the top of a skewed curve. The coefficients maximise the likelihood with the levels integrated out, drawn towards
stated values, so that there is an answer from the first day on and every review counts. What a run takes away is not
fitted again here: it is the quantity of `tourstats.models.playing.runs`. It runs at four in the afternoon, so it is
written out: some milliseconds, no library.

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

from tourstats.models.estimates import PRIOR_LAYOFF, PRIOR_RATE, PRIOR_TRANSITION, at_most, one_thread, quantiles
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
from tourstats.tour import Tour, earlier

Array = npt.NDArray[Any]

PRIORS: dict[str, tuple[float, float]] = {
    "layoff": (PRIOR_LAYOFF, PRIOR_SPREAD),
    "break": (0.15, 0.25),
    "first": (0.3, 0.3),
    "position": (0.0, 0.3),
    "date": (-0.1, 0.3),
    "new transition": PRIOR_TRANSITION,
    "second show": (0.0, 0.2),
    "often run": (0.5, 0.7),
    "often reviewed": (0.2, 0.5),
}
"""Where each coefficient is drawn to, and how far it may stray: mean and standard deviation. Common practice, no
source; sixty reviewed shows outweigh them. A break is taken to do a little less than as many shows missed, since it
rests the hands too. Playing gets better by playing: a tenth fewer mistakes over sixty shows (that practice helps for
years is the finding of A. Newell and P. S. Rosenbloom (1981), Mechanisms of skill acquisition and the law of practice,
from memory; the size is ours)."""
SLOPE = 0.9
"""Share of what sets a performance apart from the average that is expected to come again: what was fitted to the past
strays further than what comes (J. B. Copas (1983), Regression, prediction and shrinkage, J. R. Stat. Soc. B 45:
311-354). Of 64 simulated tours of eight kinds it was 0.89, `benchmarks/honest.md`."""
OFTEN = ("often run", "often reviewed")
"""What is one figure for all performances of a song."""
SHOWS_OF_A_TOUR = 60.0
"""Shows over which the date may change things as far as its standard deviation says: ten do not change as much."""
ROOM_PRIOR = (0.0, 0.25)
FEW = ("layoff", "break", "first", "new transition")
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
GRID = np.linspace(-4.5, 4.5, 61)
"""Where songs' levels are looked at, in their standard deviations, and the weight of each before anything was found."""
LOG_PRIOR = -(GRID**2) / 2 - np.log(np.exp(-(GRID**2) / 2).sum())
SPREADS = np.array([0.2, 0.3, 0.45, 0.6, 0.8, 1.0, 1.3])
"""Standard deviations of songs' levels that are looked at."""
SPREAD_SURE = 0.4
"""How sure the stated one is, in logarithms. Common practice, no source."""
ROUNDS = 3
NODES, WEIGHTS = np.polynomial.hermite_e.hermegauss(9)
WEIGHTS = WEIGHTS / WEIGHTS.sum()


@dataclass(frozen=True)
class _Levels:
    """What is known of songs' levels: `at`, logarithms on a grid, and the weight of each for each song, a row a song.

    The last row is that of a song never reviewed.
    """

    at: Array
    weights: Array

    @property
    def mean(self) -> Array:
        """Mean level of each song."""
        return np.asarray(self.weights @ np.exp(self.at))

    @property
    def variance(self) -> Array:
        """Variance of each level."""
        return np.asarray(self.weights @ np.exp(2 * self.at) - self.mean**2)


@dataclass(frozen=True)
class _Model:
    """What was learned of all songs: coefficients, their covariance, the levels, and how uneven playing is.

    `pulls` say how each level's logarithm moves against the coefficients, `ran` against what runs take, a row a song.
    `nights` and `plays` are relative variances of nights and of single performances.
    """

    beta: Array
    covariance: Array
    levels: _Levels
    pulls: Array
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


@dataclass(frozen=True)
class Played:
    """Performances as numbers, in order of their shows: of each its song's number, its show, and its circumstances.

    `circumstances` has a column each of `PRIORS`; `mistakes` are 0 where nobody reviewed. `part` takes a piece.
    """

    song: npt.NDArray[np.int64]
    at: npt.NDArray[np.int64]
    room: Array
    usual: Array
    circumstances: Array
    runs: Array
    mistakes: Array

    @classmethod
    def of(cls, rows: pd.DataFrame, titles: pd.Index) -> Played:
        """Of a table as `circumstances` or `performances`; songs are numbered by their titles."""
        made = {"date": rows["at"] / SHOWS_OF_A_TOUR} | {name: np.zeros(len(rows)) for name in OFTEN}
        columns = [np.asarray(made.get(name, rows.get(name)), float) for name in PRIORS]
        return cls(
            titles.get_indexer(rows.song),
            rows["at"].to_numpy(np.int64),
            rows.room.to_numpy(object),
            rows["usual room"].to_numpy(object),
            np.column_stack(columns),
            rows[list(runs.NAMES)].to_numpy(float),
            np.asarray(rows.get("mistakes", np.zeros(len(rows))), float),
        )

    def part(self, rows: slice) -> Played:
        """Some of the rows."""
        return Played(*(getattr(self, name)[rows] for name in self.__dataclass_fields__))


@one_thread
def expected(
    tour: Tour, next_show: Mapping[str, object], titles: Sequence[str], *, in_order_of_set: bool = True
) -> pd.DataFrame:
    """Mistakes to expect in each song of a set that is still to be played.

    Parameters
    ----------
    tour
        What is known; what happened on or after the day of the show is left out, runs of that day are not.
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
    >>> table = expected(Tour(), {"date": "2031-03-04"}, ["Ferry"])
    >>> table[["song", "basis", "because"]].iloc[0].tolist()
    ['Ferry', 'prior', 'assumed, no reviews yet']

    """
    past, tonight = _known(tour, next_show, titles)
    if not in_order_of_set:
        tonight = tonight.assign(position=0.5, encore=False, **{"new transition": False})
    table = with_reviews(past, counts(tour.reviews, tour.mistakes))
    songs = pd.Index(past.song).append(pd.Index(tonight.song)).unique()
    reviewed, before, ahead = (Played.of(rows, songs) for rows in (table, past, tonight))
    asked = run_unasked(past, table)
    unasked = songs.get_indexer(asked.song), asked.ran.to_numpy(bool)
    said = forecast_of(reviewed, before, ahead, steps_missing(songs, tour.songs), known_of_runs(table), unasked)
    because = _reasons(tonight, said) if len(table) else [NO_REVIEWS] * len(tonight)
    figures = pd.DataFrame({"song": tonight.song, **said.figures, "because": because, "basis": said.basis})
    return figures.astype({"because": "str"}).set_index("song").loc[list(titles)].reset_index()


@dataclass(frozen=True)
class Said:
    """What is expected: `figures` as the columns of `expected`, a row a song, and what they were made of."""

    figures: dict[str, Array]
    basis: str
    names: list[str]
    model: _Model
    ahead: _Rows
    known: runs.Known


def forecast_of(
    table: Played,
    past: Played,
    tonight: Played,
    missing: Array,
    known: runs.Known,
    unasked: tuple[npt.NDArray[np.int64], Array],
) -> Said:
    """What `expected` returns, from the performances reviewed, all before, and tonight's.

    `missing` are steps that each song lacks, `known` what is known of runs, `unasked` as `run_unasked`: song, run.
    """
    few = len(np.unique(table.at)) < FEWEST_SHOWS or table.mistakes.sum() < FEWEST_MISTAKES
    basis = "prior" if not len(table.at) else "shrunken rates" if few else "effects"
    names = [name for name in PRIORS if name in FEW or not few]
    rooms = [] if few else sorted(set(table.room) - {commonest_room(table.at, table.room, table.usual)})
    often = _often(table, past, *unasked, len(missing))
    usual = _columns(next(rows for rows in (table, past, tonight) if len(rows.at)), names, rooms, often).mean(axis=0)
    reviewed, known_songs = np.full(len(missing), -1), np.unique(table.song)
    reviewed[known_songs] = np.arange(len(known_songs))
    seen, ahead = (
        _Rows(
            np.column_stack([np.ones(len(rows.at)), _columns(rows, names, rooms, often) - usual]),
            rows.runs,
            reviewed[rows.song],
            np.unique(rows.at, return_inverse=True)[1],
        )
        for rows in (table, tonight)
    )
    # The first so that a song nothing is known of has the stated rate.
    level = (np.log(PRIOR_RATE), PRIOR_RATE_SPREAD)
    priors = np.array([level, *(PRIORS[name] for name in names), *(ROOM_PRIOR for _ in rooms)])
    model = _learned(seen, table.mistakes, priors, known)
    more = STEP_MISSING * missing[tonight.song] * (ahead.song < 0) + _drawn(model, seen, ahead, known)
    figures = _said(model, ahead, known, more)
    effect = SLOPE * model.beta[1 + names.index("new transition")]
    new = tonight.circumstances[:, list(PRIORS).index("new transition")]
    figures["transition"] = figures["expected"] * new * -np.expm1(-max(float(effect), 0.0))
    low, high = _range(model, ahead, known, figures["expected"])
    figures |= {"range_low": np.full(len(new), low), "range_high": np.full(len(new), high)}
    return Said(figures, basis, [*names, *rooms], model, ahead, known)


def _known(tour: Tour, next_show: Mapping[str, object], titles: Sequence[str]) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Circumstances of every song played before, and of tonight's set."""
    show = {name: next_show[name] for name in ("date", "number", "room") if name in next_show}
    tonight = checked(pd.DataFrame([{**show, "show_id": 0}]), "shows")
    before = earlier(tour.shows, {"number": 1, **next_show})
    before = before[before.show_id.isin(tour.plays.show_id)]
    codes = dict(zip(before.show_id, range(len(before)), strict=True))
    sets = tour.plays[tour.plays.show_id.isin(before.show_id)]
    tonight["show_id"] = len(before)
    titles_tonight = pd.DataFrame({"show_id": len(before), "position": range(1, len(titles) + 1), "song": list(titles)})
    every = circumstances(
        pd.concat([sets.assign(show_id=sets.show_id.map(codes)), titles_tonight], ignore_index=True),
        pd.concat([before.assign(show_id=before.show_id.map(codes)), tonight], ignore_index=True),
        tour.rehearsals,
    )
    last = every.show_id == len(before)
    past = every[~last]
    names = before.show_id.to_numpy()
    return past.assign(show_id=names[past.show_id.to_numpy(int)]), every[last].reset_index(drop=True)


def run_unasked(past: pd.DataFrame, table: pd.DataFrame) -> pd.DataFrame:
    """Performances (at, song) that no finding made one run for, and whether they were run; `table`: reviewed ones.

    Runs after a review that found something say nothing that the finding does not say. Each row looks at earlier ones
    alone, so that those before a night are what was known then.
    """
    keys = ["show_id", "song"]
    found = past[[*keys, "at", "ran"]].merge(table[[*keys, "mistakes"]], how="left", on=keys)
    latest = found.groupby("song").mistakes.ffill().groupby(found.song).shift(1)
    return found[~latest.gt(0)].assign(ran=found.ran != "")[["at", "song", "ran"]]


def _often(table: Played, past: Played, asked: npt.NDArray[np.int64], ran: Array, songs: int) -> dict[str, Array]:
    """Share of each song's performances before which it was run, and of those on reviewed nights that were reviewed.

    Each is drawn to that of all by two of them, less that one. What one runs, and what one hears first, is not the
    easiest: it says where a song's level is, so that it is one figure for all its performances; as it stood before each
    of them, it would make hard songs ever harder.
    """
    heard = np.bincount(past.song[np.isin(past.at, table.at)], minlength=songs)
    tallies = {
        "often run": (np.bincount(asked, ran, songs), np.bincount(asked, minlength=songs)),
        "often reviewed": (np.bincount(table.song, minlength=songs), heard),
    }
    usual = {name: some.sum() / max(every.sum(), 1) for name, (some, every) in tallies.items()}
    return {
        name: np.where(every > 0, (some + 2 * usual[name]) / (every + 2) - usual[name], 0.0)
        for name, (some, every) in tallies.items()
    }


def _columns(rows: Played, names: list[str], rooms: list[str], often: Mapping[str, Array]) -> Array:
    known = dict(zip(PRIORS, rows.circumstances.T, strict=True)) | {name: of[rows.song] for name, of in often.items()}
    return np.column_stack([*(known[name] for name in names), *(rows.room == room for room in rooms)])


def steps_missing(titles: pd.Index, songs: pd.DataFrame) -> Array:
    """Steps that each song lacks to show-ready; none where nobody has said how far it is."""
    reached = songs.drop_duplicates("song").set_index("song").readiness.reindex(titles)
    steps = {step: len(READINESS) - 1 - at for at, step in enumerate(READINESS)}
    return np.asarray(reached.map(steps).fillna(0).to_numpy(float))


# ---------------------------------------------------------------------------- learning


def _learned(seen: _Rows, mistakes: Array, priors: Array, known: runs.Known) -> _Model:
    """Coefficients, how songs differ, and how uneven nights and performances are, fitted in turn."""
    songs = int(seen.song.max(initial=-1)) + 1
    offset, of_songs = seen.runs @ known.mean, np.bincount(seen.song, mistakes, songs)
    spread, beta, nights, uneven = SONGS_DIFFER, priors[:, 0].copy(), NIGHTS_DIFFER, UNEVEN
    stretch = np.ones(songs)
    for _ in range(ROUNDS):
        beta, covariance, rate, sums = _coefficients(seen, mistakes, offset, priors, spread, beta, stretch)
        spread = _spread(of_songs, sums, stretch)
        levels, _ = _weighed(of_songs, sums, spread, stretch)
        nights, uneven = _unevenness(seen, mistakes, rate, levels)
        # Counts that scatter more than chance say less of a song's level, as if there were fewer.
        squares = np.bincount(seen.song, rate**2, songs) * levels.mean[:-1]
        stretch = 1 + (nights + uneven) * squares / np.maximum(sums, 1e-12)
    against = levels.variance[:-1] / levels.mean[:-1] / stretch
    pulls, ran = (
        np.vstack([_sums(seen.song, rate, columns, songs) * against[:, None], np.zeros(columns.shape[1])])
        for columns in (seen.columns, seen.runs)
    )
    return _Model(beta, covariance, levels, pulls, ran, nights, uneven)


def _sums(song: npt.NDArray[np.int64], rate: Array, columns: Array, songs: int) -> Array:
    """Sum of each column times the rate, by song: a row a song."""
    return np.stack([np.bincount(song, rate * column, songs) for column in columns.T], axis=1)


def _weighed(mistakes: Array, sums: Array, spread: float, stretch: Array) -> tuple[_Levels, Array]:
    """Distribution of each song's level given what was found, and what should have been at level 1.

    And the logarithm of each song's likelihood with its level integrated out.
    """
    at = spread * GRID - spread**2 / 2
    logs = (mistakes[:, None] * at - sums[:, None] * np.exp(at)) / stretch[:, None] + LOG_PRIOR
    top = logs.max(axis=1, initial=-np.inf) if logs.size else np.zeros(0)
    weights = np.exp(logs - top[:, None])
    total = weights.sum(axis=1)
    levels = _Levels(at, np.vstack([weights / total[:, None], np.exp(LOG_PRIOR)]))
    return levels, np.asarray(top + np.log(total))


def _spread(mistakes: Array, sums: Array, stretch: Array) -> float:
    """Standard deviation of songs' levels, in logarithms: its mean over what the counts and the stated one allow."""
    if not len(mistakes):
        return SONGS_DIFFER
    logs = np.array([_weighed(mistakes, sums, float(spread), stretch)[1].sum() for spread in SPREADS])
    logs = logs - np.log(SPREADS / SONGS_DIFFER) ** 2 / (2 * SPREAD_SURE**2)
    weights = np.exp(logs - logs.max())
    return float((weights * SPREADS).sum() / weights.sum())


def _coefficients(
    seen: _Rows, mistakes: Array, offset: Array, priors: Array, spread: float, beta: Array, stretch: Array
) -> tuple[Array, Array, Array, Array]:
    """Newton steps on the likelihood with songs' levels integrated out.

    Returns coefficients, covariance, each row's rate at level 1, and the sum of these by song.
    """
    mean, precision = priors[:, 0], 1 / priors[:, 1] ** 2
    songs = len(stretch)
    of_songs, own = np.bincount(seen.song, mistakes, songs), 1 / stretch[seen.song]

    def at(beta: Array) -> tuple[Array, Array, _Levels, float]:
        rate = np.exp(np.clip(seen.columns @ beta + offset, -20, 20))
        sums = np.bincount(seen.song, rate, songs)
        levels, logs = _weighed(of_songs, sums, spread, stretch)
        value = (mistakes * own) @ (seen.columns @ beta) + logs.sum() - (precision * (beta - mean) ** 2).sum() / 2
        return rate, sums, levels, float(value)

    rate, sums, levels, value = at(beta)
    for _ in range(60):
        here = rate * levels.mean[:-1][seen.song]
        links = _sums(seen.song, rate, seen.columns, songs) / stretch[:, None]
        slope = seen.columns.T @ ((mistakes - here) * own) - precision * (beta - mean)
        bend = (seen.columns * (here * own)[:, None]).T @ seen.columns + np.diag(precision)
        bend -= (links * levels.variance[:-1][:, None]).T @ links
        step = np.linalg.solve(bend, slope)
        step /= max(1.0, np.abs(step).max())
        while True:
            trial = at(beta + step)
            if trial[3] >= value - 1e-9 or np.abs(step).max() < 1e-9:  # noqa: PLR2004  # below any figure shown
                break
            step = step / 2
        beta, (rate, sums, levels, value) = beta + step, trial
        if np.abs(step).max() < 1e-7:  # noqa: PLR2004  # far below a figure that is shown
            break
    return beta, np.linalg.inv(bend), rate, sums


def _unevenness(seen: _Rows, mistakes: Array, rate: Array, levels: _Levels) -> tuple[float, float]:
    """Relative variance of nights, and of performances of one night, by moments, drawn to what is usual."""
    if not len(mistakes):
        return NIGHTS_DIFFER, UNEVEN
    mean = rate * levels.mean[seen.song]
    left = mistakes - mean
    of_left, of_mean = (np.bincount(seen.show, values) for values in (left, mean))
    pairs = of_left**2 - np.bincount(seen.show, left**2)
    both = of_mean**2 - np.bincount(seen.show, mean**2)
    worth = NIGHTS_WORTH * both.mean()
    nights = (worth * NIGHTS_DIFFER + pairs.sum()) / (worth + both.sum()) if both.sum() > 0 else NIGHTS_DIFFER
    nights = float(np.clip(nights, 0.0, 1.0))
    # What the fit took of a count for its song's level: a residual is that much smaller.
    taken = rate * (levels.variance / levels.mean)[seen.song]
    single = left**2 / np.clip(1 - taken, 0.2, None) - mean
    squares = float((mean**2).sum())
    worth = UNEVEN_WORTH * squares / mean.sum()
    total = (worth * (UNEVEN + nights) + single.sum()) / (worth + squares)
    return nights, float(np.clip(total - nights, 0.0, 2.0))


# ---------------------------------------------------------------------------- saying


def _said(model: _Model, ahead: _Rows, known: runs.Known, more: Array) -> dict[str, Array]:
    """Means, their intervals, chances, and what runs have taken away."""
    run = ahead.runs @ known.mean
    at_one = np.exp(ahead.columns @ model.beta + run + more)
    shared = _shared(model, ahead, known)
    low, high = _interval(model, ahead.song, at_one, shared)
    return {
        "expected": at_one * model.levels.mean[ahead.song],
        "low": low,
        "high": high,
        "chance": _chance(model, ahead.song, at_one, shared),
        "run_share": -np.expm1(np.minimum(run, 0.0)),
    }


def _drawn(model: _Model, seen: _Rows, ahead: _Rows, known: runs.Known) -> Array:
    """What brings the logarithm of each mean nearer to the average by `SLOPE`, runs apart; in all, as much is expected.

    The average is that of what was reviewed, not of a set: a song's figure does not hang on its neighbours.
    """
    if not len(seen.song):
        return np.zeros(len(ahead.song))
    apart, coming = (r.columns[:, 1:] @ model.beta[1:] + np.log(model.levels.mean[r.song]) for r in (seen, ahead))
    run = seen.runs @ known.mean
    same = np.log(np.exp(apart + run).sum() / np.exp(SLOPE * apart + run).sum())
    return np.asarray((SLOPE - 1) * coming + same)


def _directions(model: _Model, ahead: _Rows) -> tuple[Array, Array]:
    """How each row's logarithm moves with coefficients, and with what runs take: a song's level moves against it."""
    return ahead.columns - model.pulls[ahead.song], ahead.runs - model.ran[ahead.song]


def _shared(model: _Model, ahead: _Rows, known: runs.Known) -> Array:
    """Variance of the logarithm of each mean that comes from coefficients and from runs."""
    columns, ran = _directions(model, ahead)
    return np.asarray(
        np.einsum("ij,jk,ik->i", columns, model.covariance, columns)
        + np.einsum("ij,jk,ik->i", ran, known.covariance, ran)
    )


def _interval(model: _Model, song: npt.NDArray[np.int64], at_one: Array, shared: Array) -> tuple[Array, Array]:
    """95 % interval of each mean, over its song's levels and the normal distribution of what is shared."""
    from scipy.special import ndtr  # noqa: PLC0415  # late: the start-up path imports this module

    middle_of = np.log(at_one)[:, None] + model.levels.at - shared[:, None] / 2
    weights, spread = model.levels.weights[song], np.sqrt(np.maximum(shared, 1e-8))[:, None]

    def below(at: Array, rows: npt.NDArray[np.int64]) -> tuple[Array, Array]:
        apart = (at[..., None] - middle_of[rows]) / spread[rows]
        dense = np.exp(-(apart**2) / 2) / (np.sqrt(2 * np.pi) * spread[rows])
        return (weights[rows] * ndtr(apart)).sum(axis=-1), (weights[rows] * dense).sum(axis=-1)

    reach = 9 * spread[:, 0]
    low, high = quantiles(below, np.array([0.025, 0.975]), middle_of.min(axis=1) - reach, middle_of.max(axis=1) + reach)
    return np.exp(low), np.exp(high)


def _chance(model: _Model, song: npt.NDArray[np.int64], at_one: Array, shared: Array) -> Array:
    """Chance that anything goes wrong: one less that of a count of 0, over all that is not known."""
    spread = max(model.nights + model.plays, 1e-6)
    moved = np.exp(NODES[:, None] * np.sqrt(shared) - shared / 2) * at_one
    clean = (1 + moved[:, :, None] * np.exp(model.levels.at) * spread) ** (-1 / spread)
    return np.asarray(1 - WEIGHTS @ (clean * model.levels.weights[song]).sum(axis=2))


def _range(model: _Model, ahead: _Rows, known: runs.Known, mean: Array) -> tuple[int, int]:
    """Number of mistakes of the whole set that four nights in five bring: quantiles of a negative binomial."""
    total = float(mean.sum())
    if not total:
        return 0, 0
    own = (model.levels.variance / model.levels.mean**2)[ahead.song]
    columns, ran = _directions(model, ahead)
    pulls = [mean @ part for part in (columns, ran)]
    shared = sum(pull @ of @ pull for pull, of in zip(pulls, (model.covariance, known.covariance), strict=True))
    more = float((mean**2 * (own + model.plays)).sum() + total**2 * model.nights + shared)
    low, high = np.searchsorted(at_most(total, more / total**2), [FEWEST_OF_TEN, 1 - FEWEST_OF_TEN])
    return int(low), int(high)


def _reasons(tonight: pd.DataFrame, said: Said) -> list[str]:
    """What makes each song's figure more or less than the average's, the largest first."""
    model, ahead, known = said.model, said.ahead, said.known
    parts, own = SLOPE * ahead.columns * model.beta, SLOPE * np.log(model.levels.mean[ahead.song])
    run, reasons = ahead.runs @ known.mean, []
    for row, song in enumerate(tonight.to_dict("records")):
        terms = {"this song": own[row], f"run this week ({song['ran']})": run[row]}
        for name, part in zip(said.names, parts[row, 1:], strict=True):
            word = _word(name, song)
            if word:
                terms[word] = terms.get(word, 0.0) + part
        worth = sorted((t for t in terms.items() if abs(t[1]) > TELL), key=lambda term: -abs(term[1]))
        words = [f"{word} {TIMES} {np.exp(size):.1f}" for word, size in worth]
        reasons.append(", ".join([*([] if ahead.song[row] >= 0 else ["not reviewed yet"]), *words]))
    return reasons


def _word(name: str, song: Mapping[Any, Any]) -> str:
    """What a column says of tonight, in a few words; nothing for what is not so."""
    if name == song["room"]:
        return f"{name} room"
    if name in ("layoff", "break"):
        many = "" if song["missed"] == 1 else "s"
        if song["first"]:
            return ""
        out = f"out {song['missed']} show{many}" if song["missed"] else ""
        gap = "a break" if song["break"] > 0 else ""
        return " and ".join(part for part in (out, gap) if part) or "in the last set"
    words = {"first": "first time", "new transition": "transition never played"}
    return words.get(name, "") if name in words and song[name] else ""
