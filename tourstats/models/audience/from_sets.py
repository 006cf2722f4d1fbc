"""What sets alone say about an audience that travels: exact over every choice of shows, nobody has to be counted."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import accumulate
from statistics import NormalDist

import numpy as np
import numpy.typing as npt
import pandas as pd

from tourstats import tables
from tourstats.problems import Problem

Bools = npt.NDArray[np.bool_]
Ints = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]


Z = NormalDist().inv_cdf(0.975)
"""Standard errors to either side of what is told with its 95 % interval."""


class AudienceProblem(Problem):
    """A question about the audience cannot be answered as it was put."""


@dataclass(frozen=True)
class Sets:
    """Which song was in which set: `played` has a row a show (in order) and a column a song (by first play)."""

    shows: pd.DataFrame
    songs: list[str]
    played: Bools

    @classmethod
    def of(cls, plays: pd.DataFrame, shows: pd.DataFrame) -> Sets:
        """Read played sets; a song that stands twice in a set counts once."""
        plays, shows = tables.in_sets(plays, shows)
        codes, songs = pd.factorize(plays.song)
        played = np.zeros((len(shows), len(songs)), bool)
        played[plays["at"], codes] = True
        return cls(shows, list(songs), played)


def groups(shows: pd.DataFrame, within: str) -> Ints:
    """Number the group of each show: the whole tour, its leg, city, or what another column says.

    Shows without a leg belong together. Where anything else is missing, the show stands alone.
    """
    if within == "tour":
        return np.zeros(len(shows), np.int64)
    if within not in shows.columns:
        raise AudienceProblem(
            f"`within` is tour, or a column of the table of shows (leg, city, venue, room); it was {within!r}."
        )
    codes: Ints = pd.factorize(shows[within])[0].astype(np.int64)
    missing = codes < 0
    first_free = codes.max(initial=-1) + 1
    codes[missing] = first_free if within == "leg" else first_free + np.arange(missing.sum())
    return codes


def expected_heard(plays: pd.DataFrame, shows: pd.DataFrame, *, runs: bool = False) -> pd.DataFrame:
    """Distinct songs heard by somebody who attends k of these shows, every choice of k equally likely.

    Parameters
    ----------
    plays, shows
        Played sets and their shows: those of one leg, or of a tour.
    runs
        Count only choices of k shows in a row, as people travel; otherwise any k.

    Returns
    -------
    DataFrame
        One row per number of shows, from 1 to all:
        shows (int), expected (float, songs), sd (float, songs; 0 when k is all shows),
        low, high (int, songs): meant to hold 95 % of the choices.

    Notes
    -----
    Mean and variance are exact: computed in whole numbers and divided once. A song is missed by C(T - n, k) of the
    C(T, k) choices, n the shows with that song; a pair of songs by C(T - u, k), u the shows with either. This is the
    sample-based rarefaction of Colwell et al. (2012), J. Plant Ecology 5: 3-21, eq. 17, with shows as sampling units
    and the variance of the choice itself (nothing is said about shows that were not played).
    `low` and `high` are the mean and normal quantiles, rounded outwards; for runs, they are quantiles of the runs.

    Examples
    --------
    >>> shows = pd.DataFrame({"show_id": [1, 2, 3], "date": ["2031-03-01", "2031-03-02", "2031-03-03"]})
    >>> plays = pd.DataFrame({"show_id": [1, 1, 2, 2, 3, 3], "position": [1, 2] * 3,
    ...                       "song": ["Ferry", "Tin Rook", "Ferry", "Salt Road", "Ferry", "Copper Wire"]})
    >>> expected_heard(plays, shows)
       shows  expected   sd  low  high
    0      1       2.0  0.0    2     2
    1      2       3.0  0.0    3     3
    2      3       4.0  0.0    4     4

    """
    played = Sets.of(plays, shows).played
    made = _over_runs(played) if runs else _over_choices(played)
    whole = dict.fromkeys(("shows", "low", "high"), "int64")
    return pd.DataFrame(made, columns=["shows", "expected", "sd", "low", "high"]).astype(
        {"expected": "float64", "sd": "float64", **whole}
    )


def _over_choices(played: Bools) -> list[tuple[int, float, float, int, int]]:
    """Mean and deviation over all choices, in whole numbers until the last division."""
    count, songs = played.shape
    once = played.astype(np.int64)
    each = once.sum(0)
    either = each[:, None] + each[None, :] - once.T @ once
    with_song = np.bincount(each, minlength=count + 1).tolist()
    with_pair = np.bincount(either.ravel(), minlength=count + 1).tolist()
    least = played.sum(1).min(initial=songs)
    choices = [1] * (count + 1)  # C(m, 0) for every m; each next k is a running sum
    rows = []
    for k in range(1, count + 1):
        choices = [0, *accumulate(choices[:-1])]
        every = choices[count]
        missed = sum(n * choices[count - shows] for shows, n in enumerate(with_song) if n)
        missed_both = sum(n * choices[count - shows] for shows, n in enumerate(with_pair) if n)
        expected = (songs * every - missed) / every
        sd = math.sqrt((missed_both * every - missed**2) / every**2)
        low, high = math.floor(expected - Z * sd), math.ceil(expected + Z * sd)
        rows.append((k, expected, sd, max(low, int(least)), min(high, songs)))
    return rows


def _over_runs(played: Bools) -> list[tuple[int, float, float, int, int]]:
    """The same over k shows in a row; each next k adds one show to every run."""
    heard, rows = played.copy(), []
    for k in range(1, len(played) + 1):
        heard = heard[: len(played) - k + 1]
        heard |= played[k - 1 :]
        songs = heard.sum(1)
        low, high = np.quantile(songs, [0.025, 0.975], method="inverted_cdf")
        rows.append((k, float(songs.mean()), float(songs.std()), int(low), int(high)))
    return rows


def shows_to_hear(plays: pd.DataFrame, shows: pd.DataFrame, share: float = 0.9) -> pd.DataFrame:
    """How many shows it takes, on average, to hear this share of the songs that were played.

    Returns
    -------
    DataFrame
        One row per way of going: way (str, "any shows" or "shows in a row"), shows (int), of (int, shows in all),
        songs (int, played in all), expected (float, songs heard by then).

    Examples
    --------
    >>> shows = pd.DataFrame({"show_id": [1, 2], "date": ["2031-03-01", "2031-03-02"]})
    >>> plays = pd.DataFrame({"show_id": [1, 1, 2, 2], "position": [1, 2] * 2,
    ...                       "song": ["Ferry", "Tin Rook", "Ferry", "Salt Road"]})
    >>> shows_to_hear(plays, shows)
                  way  shows  of  songs  expected
    0       any shows      2   2      3       3.0
    1  shows in a row      2   2      3       3.0

    """
    rows = []
    for way, runs in (("any shows", False), ("shows in a row", True)):
        curve = expected_heard(plays, shows, runs=runs)
        if len(curve):
            songs = int(curve.expected.iloc[-1])
            enough = curve[curve.expected >= share * songs].iloc[0]
            rows.append((way, int(enough.shows), len(curve), songs, float(enough.expected)))
    return pd.DataFrame(rows, columns=["way", "shows", "of", "songs", "expected"])


def unheard(plays: pd.DataFrame, shows: pd.DataFrame, *, bias_corrected: bool = False) -> pd.DataFrame:
    """How many songs the band has ready that nobody has heard yet, at least, judged from the sets alone.

    Parameters
    ----------
    plays, shows
        Played sets and their shows.
    bias_corrected
        Use Chao2's bias-corrected form. It is used anyway where no song was played exactly twice.

    Returns
    -------
    DataFrame
        One row: shows, heard, once, twice (int: shows, distinct songs, songs in exactly one and two shows),
        estimate (float, songs in all), unheard (float, estimate less heard), se, low, high (float, of it, 95 %),
        variant (str). Missing estimates with fewer than two shows.

    Notes
    -----
    Chao2 with the factor (T - 1) / T: once^2 / (2 twice) on top of the songs heard. A lower bound, and one that takes
    shows for draws of equal chance; a leader who holds songs back gives no sign of them. Variance and log-normal
    interval: Chao (1987), Biometrics 43: 783-791, in the forms collected in Colwell et al. (2012). With no song played
    just once, the interval of Colwell's EstimateS for that case.

    Examples
    --------
    >>> shows = pd.DataFrame({"show_id": [1, 2], "date": ["2031-03-01", "2031-03-02"]})
    >>> plays = pd.DataFrame({"show_id": [1, 1, 2, 2], "position": [1, 2] * 2,
    ...                       "song": ["Ferry", "Tin Rook", "Ferry", "Salt Road"]})
    >>> unheard(plays, shows)[["heard", "once", "twice", "estimate", "variant"]]
       heard  once  twice  estimate            variant
    0      3     2      1       4.0  Chao2 (T - 1) / T

    """
    played = Sets.of(plays, shows).played
    each = played.sum(0)
    return pd.DataFrame([chao2(len(played), each, bias_corrected=bias_corrected)])


def chao2(count: int, each: Ints, *, bias_corrected: bool, level: float = 0.95) -> dict[str, object]:
    """Chao2 from the number of shows and in how many of them each song was."""
    heard, once, twice = len(each), int((each == 1).sum()), int((each == 2).sum())  # noqa: PLR2004  # that is Chao2
    corrected = bias_corrected or twice == 0
    row: dict[str, object] = {"shows": count, "heard": heard, "once": once, "twice": twice}
    variant = "Chao2 bias-corrected, (T - 1) / T" if corrected else "Chao2 (T - 1) / T"
    if count <= 1:
        return row | dict.fromkeys(("estimate", "unheard", "se", "low", "high"), math.nan) | {"variant": variant}
    less = (count - 1) / count
    if corrected:
        more = less * once * (once - 1) / (2 * (twice + 1))
        variance = more + less**2 * once * (2 * once - 1) ** 2 / (4 * (twice + 1) ** 2)
        if twice:
            variance += less**2 * once**2 * twice * (once - 1) ** 2 / (4 * (twice + 1) ** 4)
        elif more:
            variance -= less**2 * once**4 / (4 * (heard + more))
    else:
        more = less * once**2 / (2 * twice)
        ratio = once / twice
        variance = twice * (less / 2 * ratio**2 + less**2 * ratio**3 + less**2 / 4 * ratio**4)
    low, high, se = _chao_interval(heard, more, variance, int(each.sum()), level)
    return row | {
        "estimate": heard + more, "unheard": more, "se": se, "low": low, "high": high, "variant": variant,
    }  # fmt: skip


def _chao_interval(heard: int, more: float, variance: float, plays: int, level: float) -> tuple[float, float, float]:
    """Log-normal interval of what is unheard, on top of what was heard, and the standard error."""
    z = NormalDist().inv_cdf((1 + level) / 2)
    if more > 0:
        factor = math.exp(z * math.sqrt(math.log1p(variance / more**2)))
        return heard + more / factor, heard + more * factor, math.sqrt(variance)
    if not heard:
        return math.nan, math.nan, math.nan
    chance = math.exp(-plays / heard)  # that a song is missed although it goes round like the others
    se = math.sqrt(heard * chance) / (1 - chance)
    centre = heard / (1 - chance)
    return max(heard, centre - z * se), centre + z * se, math.sqrt(heard * chance * (1 - chance))


def shared(plays: pd.DataFrame, shows: pd.DataFrame) -> pd.DataFrame:
    """Songs that any two shows have in common.

    Returns
    -------
    DataFrame
        One row per pair of shows, in order: show_id, earlier (the other one, before it), shared (int, songs),
        songs (int, distinct songs of the later show), share (float, shared / songs),
        by_chance (float, songs that two sets of these sizes would share if drawn from all songs played here).

    Examples
    --------
    >>> shows = pd.DataFrame({"show_id": [1, 2], "date": ["2031-03-01", "2031-03-02"]})
    >>> plays = pd.DataFrame({"show_id": [1, 1, 2, 2], "position": [1, 2] * 2,
    ...                       "song": ["Ferry", "Tin Rook", "Ferry", "Salt Road"]})
    >>> shared(plays, shows)
       show_id  earlier  shared  songs  share  by_chance
    0        2        1       1      2    0.5   1.333333

    """
    sets = Sets.of(plays, shows)
    played = sets.played.astype(np.int64)
    sizes, ids = played.sum(1), sets.shows.show_id.to_numpy()
    later, earlier = np.tril_indices(len(played), -1)
    both = (played @ played.T)[later, earlier]
    return pd.DataFrame(
        {
            "show_id": ids[later],
            "earlier": ids[earlier],
            "shared": both,
            "songs": sizes[later],
            "share": both / np.maximum(sizes[later], 1),
            "by_chance": sizes[later] * sizes[earlier] / max(len(sets.songs), 1),
        }
    )


def after_last(
    plays: pd.DataFrame, shows: pd.DataFrame, last: Sequence[int] = (1, 2, 3), within: str = "leg"
) -> pd.DataFrame:
    """How fresh each show was for somebody who was at the last 1, 2, 3 … shows before it.

    Parameters
    ----------
    plays, shows
        Played sets and their shows.
    last
        Numbers of shows before, each a row.
    within
        Only shows of the same "leg", "city", another column of `shows` such as a region, or the whole "tour" count.

    Returns
    -------
    DataFrame
        One row per show and number, shows in order: show_id, last (int), songs (int, distinct songs of the show),
        fresh (Int64, songs not heard at those shows), fresh_share (float). Missing where there were fewer shows before.

    Examples
    --------
    >>> shows = pd.DataFrame({"show_id": [1, 2], "date": ["2031-03-01", "2031-03-02"]})
    >>> plays = pd.DataFrame({"show_id": [1, 1, 2, 2], "position": [1, 2] * 2,
    ...                       "song": ["Ferry", "Tin Rook", "Ferry", "Salt Road"]})
    >>> after_last(plays, shows, last=[1])
       show_id  last  songs  fresh  fresh_share
    0        1     1      2   <NA>          NaN
    1        2     1      2      1          0.5

    """
    sets = Sets.of(plays, shows)
    group, sizes = groups(sets.shows, within), sets.played.sum(1)
    rows = []
    for at, show_id in enumerate(sets.shows.show_id):
        before = np.flatnonzero(group[:at] == group[at])
        for number in last:
            known = 0 < number <= len(before)
            heard = sets.played[before[-number:]].any(0) if known else np.zeros(len(sets.songs), bool)
            fresh = int((sets.played[at] & ~heard).sum()) if known else None
            rows.append((show_id, number, int(sizes[at]), fresh))
    table = pd.DataFrame(rows, columns=["show_id", "last", "songs", "fresh"])
    table = table.astype({"last": "int64", "songs": "int64", "fresh": "Int64"})
    return table.assign(fresh_share=table.fresh.astype("float64") / table.songs)
