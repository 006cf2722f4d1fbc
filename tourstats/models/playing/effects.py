"""What goes with mistakes: layoffs, rooms, the place in the set, the date, and more where the reviews carry it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

from tourstats.models.estimates import PRIOR_LAYOFF, adjusted, one_thread, t_reach
from tourstats.models.playing import runs, within
from tourstats.models.playing.design import FEWEST_MISTAKES, FEWEST_SHOWS, Design, design, usual_of
from tourstats.models.playing.performances import RUN, of_tour, performances
from tourstats.tables import finished, no_rows
from tourstats.tour import Tour

Array = npt.NDArray[np.float64]

COLUMNS = ["effect", "log_ratio", "se", "low", "high", "df"]
RIDGE = 1 / 9
"""Pull of each coefficient towards 0: that of a prior with a standard deviation of 3, a factor of 20 either way."""
SHOWS_OFF = 10
"""The layoff that a ratio is told for."""
PRIOR_SPREAD = 0.15
"""How far `PRIOR_LAYOFF` may be off: after ten shows off a factor between 0.8 and 3.3. Common practice, no source."""


@dataclass(frozen=True)
class Fitted:
    """A design and its fit, and what is known of runs with it."""

    design: Design
    fit: within.Fit
    runs: runs.Known

    def at(self, name: str) -> int:
        """Column of a coefficient."""
        return self.design.names.index(name)

    def of(self, name: str) -> tuple[float, float, float]:
        """A coefficient, its standard error and degrees of freedom; of runs, with what is assumed of them."""
        at = self.at(name)
        if name in self.runs.told:
            return *self.runs.of(name), float(self.fit.df[at])
        return float(self.fit.coefficients[at]), float(self.fit.errors[at]), float(self.fit.df[at])


@finished
@one_thread
def effects(
    plays: pd.DataFrame,
    shows: pd.DataFrame,
    reviews: pd.DataFrame,
    mistakes: pd.DataFrame,
    rehearsals: pd.DataFrame | None = None,
) -> pd.DataFrame:
    """How many times as many mistakes go with each circumstance, all the others held still.

    Parameters
    ----------
    plays, shows, reviews, mistakes, rehearsals
        As in `tourstats.tables`. Only reviewed performances count; layoffs come from all plays.

    Returns
    -------
    DataFrame
        A row an effect that the reviews carry; none while there are too few (`circumstances_used` says why).
            effect     str    "layoff" (per unit of log(1 + shows missed since last played)), "room: festival" and so
                              on (against the commonest kind), "position" (from the first to the last song),
                              "date" (from the first to the last show), "first" (never played before), "run: kit" and
                              so on (with a run of that way on the day or in the seven days before), "break" (as
                              "layoff", for the shows that a break had room for), …
            log_ratio  float  logarithm of the ratio of mistakes
            se         float  standard error
            low, high  float  95 % interval of log_ratio
            df         float  degrees of freedom of the t distribution behind it

    Notes
    -----
    Poisson regression in which each song is held only against itself, with standard errors for mistakes that come in
    shows: see `tourstats.models.playing.within`. Runs begin as an assumption, and what is said of them here is what the
    plan and the forecast use: see `tourstats.models.playing.runs`.

    Examples
    --------
    Two nights of three are of one song; six mistakes after the night without it, two on the next. The logarithm of 3 to
    that of 2, drawn a little towards 0.

    >>> show = pd.Series(range(15))
    >>> shows = pd.DataFrame({"show_id": show, "date": pd.date_range("2031-03-04", periods=15)})
    >>> plays = pd.DataFrame({"show_id": show, "position": 1, "song": np.where(show % 3, "Ferry", "Tin Rook")})
    >>> reviews = plays.loc[show % 3 > 0, ["show_id", "song"]]
    >>> found = reviews.loc[reviews.index.repeat(np.where(reviews.show_id % 3 == 1, 6, 2))].assign(severity=1)
    >>> effects(plays, shows, reviews, found).set_index("effect").log_ratio.round(1)["layoff"]
    np.float64(1.5)

    """
    found = fitted(performances(plays, shows, reviews, mistakes, rehearsals))
    return table_of(found) if found else no_rows(effect=str, **dict.fromkeys(COLUMNS[1:], float))


def circumstances_used(tour: Tour) -> pd.DataFrame:
    """Which circumstances `effects` uses, which it leaves out, and when those come in.

    Returns
    -------
    DataFrame
        A row a circumstance, in the order in which they are asked.
            circumstance  str    as `effect` in `effects`
            used          bool
            because       str    why it is left out: "too few shows with it" and so on
            have, need    float  of what that sentence counts; a share where circumstances go together

    """
    table = of_tour(tour)
    decided = design(table).decided
    few = too_few(table)
    if few:
        what, have, need = few
        decided = decided.assign(used=False, because=f"too few {what}", have=have, need=need)
    return decided


def ratios(table: pd.DataFrame) -> pd.DataFrame:
    """Effects as ratios that can be said: a layoff, and a break, after ten shows off.

    Returns
    -------
    DataFrame
        effect, ratio, low, high; `clear` says that the ratio is not 1, adjusted for how many effects are looked at
        (Holm), where `se` and `df` are there; else that the interval leaves out 1.

    Examples
    --------
    >>> ratios(pd.DataFrame({"effect": ["layoff"], "log_ratio": [0.15], "low": [0.05], "high": [0.25]})).round(2)
       effect  ratio   low  high  clear
    0  layoff   1.43  1.13  1.82   True

    """
    unit = np.where(table.effect.isin(["layoff", "break"]), np.log1p(SHOWS_OFF), 1.0)
    low, high = np.exp(table.low * unit), np.exp(table.high * unit)
    return pd.DataFrame(
        {
            "effect": table.effect,
            "ratio": np.exp(table.log_ratio * unit),
            "low": low,
            "high": high,
            "clear": (low > 1) | (high < 1) if "df" not in table else _chances(table) < 0.05,  # noqa: PLR2004  # of 95 %
        }
    )


def _chances(table: pd.DataFrame) -> Array:
    """Chance of each effect if there was none, adjusted for their number."""
    from scipy.special import stdtr  # noqa: PLC0415  # late: the start-up path imports this module

    return adjusted(2 * stdtr(table.df.to_numpy(float), -np.abs(table.log_ratio / table.se).to_numpy(float)), "holm")


def as_ratios(table: pd.DataFrame) -> pd.DataFrame:
    """A table of log_ratio, low and high with `ratio`, low and high as ratios.

    Examples
    --------
    >>> as_ratios(pd.DataFrame({"what": ["drift"], "log_ratio": [0.0], "low": [-0.1], "high": [0.1]})).ratio.tolist()
    [1.0]

    """
    return table.assign(ratio=np.exp(table.log_ratio), low=np.exp(table.low), high=np.exp(table.high))


def usual_room(tour: Tour) -> str:
    """The kind of venue that the others are held against: that of most shows, if enough of them were reviewed."""
    return usual_of(of_tour(tour))


@finished
@one_thread
def layoff_curve(tour: Tour) -> pd.DataFrame:
    """Expected mistakes against shows off, to the longest layoff reviewed, with and without a run in the week before.

    Returns
    -------
    DataFrame
        A row a number of shows off, and with and without a run where the reviews tell these apart.
            shows_off    int    shows missed
            run_through  bool   at the kit, on the day or in the seven days before
            ratio        float  mistakes against a song that was in the last set
            low, high    float  95 % band of the ratio
            expected     float  mistakes of an average performance, times the ratio; missing without reviews
            basis        str    "reviews", or "prior" where they are too few

    """
    table = of_tour(tour)
    off = np.arange(max(int(table.missed.max()) if len(table) else 0, SHOWS_OFF) + 1)
    model = fitted(table)
    if not model or "layoff" not in model.design.told:
        spread = 1.96 * PRIOR_SPREAD
        slopes = np.array([PRIOR_LAYOFF, PRIOR_LAYOFF - spread, PRIOR_LAYOFF + spread])
        curve = _curve(off, np.log1p(off)[:, None] * slopes, run_through=False, basis="prior")
        level = float(table.mistakes.mean()) if len(table) else float("nan")
        return curve.assign(expected=level * curve.ratio)
    lines = [_line(model, off, run_through=False)]
    if RUN + "kit" in model.runs.told:
        lines.append(_line(model, off, run_through=True))
    curve = pd.concat(lines, ignore_index=True)
    slope = model.of("layoff")[0]
    level = float(table.mistakes.mean() / np.exp(slope * table.layoff).mean())
    return curve.assign(expected=level * curve.ratio)


def fitted(table: pd.DataFrame, instead_of_date: Array | None = None) -> Fitted | None:
    """Fit what a table of performances carries; nothing while there are too few."""
    if too_few(table):
        return None
    chosen = design(table, instead_of_date)
    if not chosen.told:
        return None
    song, show = pd.factorize(table.song)[0], table["at"].to_numpy()
    fit = within.fit(chosen.matrix, table.mistakes.to_numpy(float), song, show, RIDGE)
    return Fitted(chosen, fit, runs.learned(chosen, fit))


def known_of_runs(table: pd.DataFrame) -> runs.Known:
    """What a run takes away, as far as a table of performances knows it."""
    found = fitted(table) if (table.ran != "").any() else None
    return found.runs if found else runs.assumed()


@finished
@one_thread
def what_runs_take(tour: Tour) -> pd.DataFrame:
    """What a run takes away of a song's mistakes, by the way it was run: what plan, forecast and effects all use.

    Returns
    -------
    DataFrame
        A row a way: kit, band, pad, listen.
            way          str
            log_ratio, low, high  float  ratio of mistakes with a run on the day or in the seven days before against
                                  without, as a logarithm, with its 95 % interval
            takes, takes_low, takes_high  float  the same as the share that it takes away; below 0 it would bring some
            basis        str    "assumed"; "mostly assumed" while the diary has its say but the assumption weighs more;
                                "the diary"
            reviewed     int    reviewed performances with such a run
            needs        float  how many it takes for the diary to weigh as much as the assumption, as far as can be
                                told; missing while it is assumed

    Examples
    --------
    >>> what_runs_take(Tour())[["way", "takes", "basis"]].round(2)
          way  takes    basis
    0     kit   0.33  assumed
    1    band   0.30  assumed
    2     pad   0.18  assumed
    3  listen   0.10  assumed

    """
    table = of_tour(tour)
    return runs.as_table(known_of_runs(table), table)


def too_few(table: pd.DataFrame) -> tuple[str, int, int] | None:
    """What there are too few of, how many there are and how many it takes; nothing when it is enough."""
    shows, mistakes = int(table["at"].nunique()), int(table.mistakes.sum())
    if shows < FEWEST_SHOWS:
        return "reviewed shows", shows, FEWEST_SHOWS
    return ("mistakes found", mistakes, FEWEST_MISTAKES) if mistakes < FEWEST_MISTAKES else None


def table_of(model: Fitted) -> pd.DataFrame:
    """Coefficients that answer a question, with their intervals."""
    middle, se, df = np.array([model.of(name) for name in model.design.told]).T
    reach = t_reach(df) * se
    values = [list(model.design.told), middle, se, middle - reach, middle + reach, df]
    return pd.DataFrame(dict(zip(COLUMNS, values, strict=True)))


def _line(model: Fitted, off: npt.NDArray[np.int64], *, run_through: bool) -> pd.DataFrame:
    """Ratio and band by the delta method."""
    slope, error, df = model.of("layoff")
    run, run_error, _ = model.of(RUN + "kit") if run_through else (0.0, 0.0, 0.0)
    middle = slope * np.log1p(off) + run
    reach = t_reach(df) * np.hypot(error * np.log1p(off), run_error)
    return _curve(
        off, np.column_stack([middle, middle - reach, middle + reach]), run_through=run_through, basis="reviews"
    )


def _curve(off: npt.NDArray[np.int64], logs: Array, *, run_through: bool, basis: str) -> pd.DataFrame:
    ratio, low, high = np.exp(logs).T
    return pd.DataFrame(
        {"shows_off": off, "run_through": run_through, "ratio": ratio, "low": low, "high": high, "basis": basis}
    )
