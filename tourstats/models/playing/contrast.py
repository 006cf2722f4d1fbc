"""Two parts of a tour held against each other: two legs, or before and after a day."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt
import pandas as pd

from tourstats.models.estimates import adjusted, one_thread, rate_interval, t_reach
from tourstats.models.playing.effects import Fitted, fitted, too_few
from tourstats.models.playing.performances import of_tour
from tourstats.problems import Problem
from tourstats.tables import finished, in_order
from tourstats.tour import Tour

Array = npt.NDArray[Any]

ABOUT = ("all", "song", "kind", "cause")
ALPHA, ALPHA_SORTS = 0.05, 0.025
"""Chances, adjusted for the number of tests, below which a song, or a kind or cause, is named as changed. At 0.05 kinds
and causes were named in 4 to 6 of 100 simulated tours without change, where nights and performances are uneven."""


COLUMNS = ("about", "which", "before", "after", "expected", "ratio", "low", "high", "p", "changed")


class PartsProblem(Problem):
    """What is to be compared cannot be told apart."""


@dataclass(frozen=True)
class Comparison:
    """Two parts held against each other.

    Attributes
    ----------
    ratios
        A row what is compared: `about` (all, song, kind, cause) and `which`; mistakes found before and after;
        `expected`, what the later part should have brought at the earlier part's rates for its songs and
        circumstances; `ratio`, `low`, `high`; `p`, and `changed`: by Benjamini-Hochberg over songs, by Holm over
        kinds and causes together.
    evenness
        A row a part: `part`, `shows`, `per_play`, `per_play_low`, `per_play_high`; `dispersion` (variance of shows
        against Poisson: 1 is as even as chance allows), `low`, `high`.

    """

    ratios: pd.DataFrame
    evenness: pd.DataFrame


@finished
@one_thread
def compare(tour: Tour, *, legs: tuple[object, object] | None = None, day: object = None) -> Comparison:
    """Compare two legs, or before and after a day, as if both had played the same sets.

    Returns
    -------
    Comparison
        Overall, by song, by kind and by cause; and how even the playing was.

    Raises
    ------
    PartsProblem
        If nothing is asked, or one part has no reviews.

    Notes
    -----
    Overall: the regression of `effects`, with the part in place of the date. By song: the exact conditional test of
    two rates, given what the circumstances should have brought in each (J. Przyborowski and H. Wilenski (1940),
    Homogeneity of results in testing samples from Poisson series, Biometrika 31: 313-323), two-sided by twice the
    smaller tail, and named only where shows left out one at a time say so too. Over songs: Y. Benjamini and Y. Hochberg
    (1995), Controlling the false discovery rate, J. R. Stat. Soc. B 57: 289-300. Kinds and causes: the Mantel-Haenszel
    ratio over songs, its standard error from leaving out one show at a time; over all of them S. Holm (1979), A simple
    sequentially rejective multiple test procedure, Scand. J. Stat. 6: 65-70.

    """
    table = _parted(of_tour(tour), tour.shows, legs, day)
    found, weight = held_still(table, table.later.to_numpy(float))
    rows = [_overall(table, weight, found), _by_song(table, weight), *_by_sort(table, weight, tour.mistakes)]
    return Comparison(pd.concat(rows, ignore_index=True), _evenness(table, weight))


def held_still(table: pd.DataFrame, later: Array) -> tuple[Fitted | None, Array]:
    """The regression with two parts in place of the date, and what each performance's circumstances bring by it.

    Nothing, and one for all, while there are too few reviews.
    """
    found = None if too_few(table) else fitted(table, later)
    if found is None:
        return None, np.ones(len(table))
    rest = [at for at, name in enumerate(found.design.names) if name != "part"]
    return found, np.exp(found.design.matrix[:, rest] @ found.fit.coefficients[rest])


def _parted(table: pd.DataFrame, shows: pd.DataFrame, legs: tuple[object, object] | None, day: object) -> pd.DataFrame:
    """Performances of both parts, with `later`."""
    order = in_order(shows).set_index("show_id")
    if legs is not None:
        leg = table.show_id.map(order.leg).astype("str")
        asked = [f"{each:g}" if isinstance(each, float) else str(each) for each in legs]
        parted = table.assign(later=leg == asked[1])[leg.isin(asked)]
        if parted.later.all() or not parted.later.any():
            raise PartsProblem(
                f"Cannot compare the legs {legs[0]} and {legs[1]}: both need reviewed shows. "
                f"Legs with reviews: {', '.join(dict.fromkeys(leg.dropna())) or 'none'}."
            )
    elif day is not None:
        parted = table.assign(later=table.show_id.map(order.date) >= pd.Timestamp(str(day)))
        if parted.later.all() or not parted.later.any():
            raise PartsProblem(
                f"Cannot compare before and after {day}: both sides need reviewed shows. Choose another day."
            )
    else:
        raise PartsProblem("Say what to compare: two legs (`legs=`), or before and after a day (`day=`).")
    return parted.reset_index(drop=True)


def _overall(table: pd.DataFrame, weight: Array, model: Fitted | None) -> pd.DataFrame:
    """The part's own coefficient; the plain ratio, its shows' unevenness allowed for, where reviews are too few."""
    from scipy.special import stdtr  # noqa: PLC0415  # late: the start-up path imports this package

    before, after, expected = _counts(table, weight)
    if model and "part" in model.design.told:
        at = model.at("part")
        log, se, df = model.fit.coefficients[at], model.fit.errors[at], model.fit.df[at]
        expected = after / np.exp(log) if after else expected
    else:
        nights = table["at"].nunique()
        spread = max(_dispersions(table, weight).dispersion.max(), 1.0)
        log = np.log(max(after, 0.5) / max(expected, 1e-9))
        se, df = np.sqrt(spread * (1 / max(before, 0.5) + 1 / max(after, 0.5))), max(nights - 2, 1)
    reach = float(t_reach(df)) * se
    p = 2 * stdtr(df, -abs(log) / se)
    ratio = np.exp([[log], [log - reach], [log + reach]])
    return _rows("all", ["all"], [before], [after], [expected], ratio, [p], p <= ALPHA)


def _counts(table: pd.DataFrame, weight: Array) -> tuple[float, float, float]:
    """Found before and after, and what the later part should have brought at each song's earlier rate."""
    later = table.later.to_numpy()
    found = table.mistakes.to_numpy(float)
    before, after = found[~later].sum(), found[later].sum()
    return before, after, before / max(weight[~later].sum(), 1e-9) * weight[later].sum()


def _by_song(table: pd.DataFrame, weight: Array) -> pd.DataFrame:
    """Songs that were reviewed in both parts."""
    sums = table.assign(weight=weight).pivot_table(
        index="song", columns="later", values=["mistakes", "weight"], aggfunc="sum", sort=False
    )
    both = sums.dropna()
    before, after = (both["mistakes"][side].to_numpy(float) for side in (False, True))
    share = (both["weight"][True] / both["weight"][False]).to_numpy(float)
    # Exact, given that nights are alike; where they are not, what shows say when each is left out in turn goes.
    return _tested("song", list(both.index), before, after, share, _each_held(table, weight, both.index))


def _each_held(table: pd.DataFrame, weight: Array, songs: pd.Index) -> Array:
    """`held` of each song by itself: its chance of so much if nothing changed."""
    from scipy.special import stdtr  # noqa: PLC0415  # as above

    table = table.assign(weight=weight)[table.song.isin(songs)]
    # A row a show and song: what the show brings, beside the whole of the song.
    night = table.groupby(["song", "later", "at"], sort=False)[["mistakes", "weight"]].sum().reset_index()
    parts = [
        np.where(night.later == side, night[name], 0.0) for name in ("mistakes", "weight") for side in (True, False)
    ]
    song = songs.get_indexer(night.song)
    whole = np.array([np.bincount(song, part, len(songs)) for part in parts])
    log = mantel_haenszel(*whole[..., None])[0]
    without = mantel_haenszel(*(whole[:, song] - parts)[..., None])[0]
    nights = np.bincount(song, minlength=len(songs))
    apart = without - (np.bincount(song, without) / nights)[song]
    left_out = (nights - 1) / nights * np.bincount(song, apart**2)
    se = np.sqrt(np.maximum(left_out, (1 / np.maximum(whole[:2], 0.5)).sum(axis=0)))
    sides = [np.bincount(song[night.later == side], minlength=len(songs)) for side in (True, False)]
    return np.asarray(2 * stdtr(np.maximum(np.minimum(*sides) - 1, 1), -np.abs(log / se)))


def _by_sort(table: pd.DataFrame, weight: Array, mistakes: pd.DataFrame) -> list[pd.DataFrame]:
    """Kinds and causes, each song held against itself, adjusted for how many there are of both together."""
    made = mistakes[mistakes.listening == 1].merge(table[["show_id", "song"]], on=["show_id", "song"])
    keys = pd.MultiIndex.from_frame(table[["show_id", "song"]])
    compared = []
    for sort in ("kind", "cause"):
        of_sort = made[sort].fillna("not said")
        for which in dict.fromkeys(of_sort):
            tally = made[of_sort == which].groupby(["show_id", "song"]).size()
            count = tally.reindex(keys, fill_value=0).to_numpy(float)
            compared.append((sort, which, count, held(table, weight, count)))
    if not compared:
        return []
    corrected = adjusted([one.p for *_, one in compared], "holm")
    later = table.later.to_numpy()
    rows = []
    for (sort, which, count, one), p in zip(compared, corrected, strict=True):
        ratio = np.exp([[one.log], [one.log - one.reach], [one.log + one.reach]])
        sums = [count[~later].sum()], [count[later].sum()]
        rows.append(_rows(sort, [which], *sums, [one.expected], ratio, [one.p], p <= ALPHA_SORTS))
    return rows


class Held(NamedTuple):
    """Logarithm of a ratio, its standard error, degrees of freedom, and what was expected in the later part."""

    log: float
    se: float
    df: int
    expected: float

    @property
    def reach(self) -> float:
        """Of its 95 % interval, to either side."""
        return float(t_reach(self.df)) * self.se

    @property
    def p(self) -> float:
        """Chance of so much if nothing changed."""
        from scipy.special import stdtr  # noqa: PLC0415  # as above

        return float(2 * stdtr(self.df, -abs(self.log) / self.se))


def held(table: pd.DataFrame, weight: Array, count: Array, within: Sequence[str] = ("song",)) -> Held:
    """The later part of a count against the earlier, each song (or song and room: `within`) against itself.

    Mantel-Haenszel over songs, so that harder songs in one part are no change; the standard error is from leaving out
    one show at a time, so that nights may vary, and never less than that of Poisson counts.
    """
    song, night = table.groupby(list(within)).ngroup().to_numpy(), pd.factorize(table["at"])[0]
    later = table.later.to_numpy()
    size, nights = int(song.max(initial=-1)) + 1, int(night.max(initial=-1)) + 1
    # A row a show: what each song of it brings; the sums without a show are the whole less that row.
    sums = np.zeros((4, nights, size))
    for at, values in enumerate((count * later, count * ~later, weight * later, weight * ~later)):
        np.add.at(sums[at], (night, song), values)
    whole = sums.sum(axis=1)
    log, up, down = (float(value) for value in mantel_haenszel(*whole))
    parts = mantel_haenszel(*(whole[:, None] - sums))[0]
    left_out = (nights - 1) / max(nights, 1) * ((parts - parts.mean()) ** 2).sum()
    after, before = (float(values.sum()) for values in (count[later], count[~later]))
    se = float(np.sqrt(max(left_out, 1 / max(after, 0.5) + 1 / max(before, 0.5))))
    # Those of the part with fewer shows: B. L. Welch (1938), Biometrika 29: 350-362, has no fewer.
    free = max(min(len(np.unique(night[side])) for side in (later, ~later)) - 1, 1)
    expected = after / np.exp(log) if after else before * down / max(up, 0.25)
    return Held(log, se, free, float(expected))


def mantel_haenszel(after: Array, before: Array, since: Array, until: Array) -> tuple[Array, Array, Array]:
    """Logarithm of the ratio of rates over songs (the last axis), and the two sums that it is of."""
    exposure = np.maximum(since + until, 1e-9)
    up, down = (after * until / exposure).sum(axis=-1), (before * since / exposure).sum(axis=-1)
    return np.log(np.maximum(up, 0.25) / np.maximum(down, 0.25)), up, down


def _tested(about: str, which: list[object], before: Array, after: Array, share: Array, uneven: Array) -> pd.DataFrame:
    """Ratio, exact interval and chance of each, given how many were found in both parts together."""
    from scipy.special import bdtr, betaincinv  # noqa: PLC0415  # as above

    both = before + after
    fair = share / (1 + share)
    tails = np.minimum(
        bdtr(after, both.astype(int), fair), 1 - np.where(after > 0, bdtr(after - 1, both.astype(int), fair), 0)
    )
    p = np.where(both > 0, np.minimum(2 * tails, 1.0), 1.0)
    low = np.where(after > 0, betaincinv(np.maximum(after, 1), before + 1, 0.025), 0.0)
    high = np.where(before > 0, betaincinv(after + 1, np.maximum(before, 1), 0.975), 1.0)
    with np.errstate(divide="ignore", invalid="ignore"):
        values = [np.divide(after, before) / share, low / (1 - low) / share, high / (1 - high) / share]
    changed = adjusted(np.maximum(p, uneven)) <= ALPHA
    return _rows(about, which, before, after, before * share, np.array(values), p, changed)


def _rows(about: str, which: list[Any], *values: Any) -> pd.DataFrame:  # noqa: ANN401  # arrays, or one value for all
    """Values as in `COLUMNS` from `before` on, of `ratio` with its two ends."""
    *counts, (ratio, low, high), p, changed = values
    rows = zip(COLUMNS, (about, pd.Series(which, dtype="str"), *counts, ratio, low, high, p, changed), strict=True)
    return pd.DataFrame(dict(rows)).astype({"before": int, "after": int, "expected": float, "p": float})


def _dispersions(table: pd.DataFrame, weight: Array) -> pd.DataFrame:
    """Variance of shows' totals against Poisson, each part against its own level."""
    song = table.assign(weight=weight).groupby("song")[["mistakes", "weight"]].transform("sum")
    usual = (song.mistakes + 2.3 * table.mistakes.sum() / max(weight.sum(), 1e-9)) / (song.weight + 2.3)
    nights = table.assign(share=usual * weight).groupby(["later", "at"])[["mistakes", "share"]].sum().reset_index()
    rows = []
    for later, part in nights.groupby("later"):
        expected = part.share * part.mistakes.sum() / max(part.share.sum(), 1e-9)
        apart = float(((part.mistakes - expected) ** 2 / expected.clip(lower=1e-9)).sum())
        rows.append({"later": later, "shows": len(part), "dispersion": apart / max(len(part) - 1, 1), "apart": apart})
    return pd.DataFrame(rows)


def _evenness(table: pd.DataFrame, weight: Array) -> pd.DataFrame:
    """Dispersion with a scaled chi-square interval, and mistakes per performance with an exact one."""
    from scipy.special import chdtri  # noqa: PLC0415  # as above

    parts = _dispersions(table, weight)
    free = np.maximum(parts.shows - 1, 1)
    plays = table.groupby("later").mistakes.agg(["sum", "size"])
    low, high = rate_interval(plays["sum"].to_numpy(), plays["size"].to_numpy())
    return pd.DataFrame(
        {
            "part": np.where(parts.later, "later", "earlier"),
            "shows": parts.shows,
            "per_play": (plays["sum"] / plays["size"]).to_numpy(),
            "per_play_low": low,
            "per_play_high": high,
            "dispersion": parts.dispersion,
            "low": parts.apart / chdtri(free, 0.025),
            "high": parts.apart / chdtri(free, 0.975),
        }
    )
