"""What to listen to first, and how tempo goes over a tour, from what recordings were measured to be.

A performance is never right or wrong here: it is further from, or nearer to, how its song usually goes.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd
from scipy import optimize, special, stats

from tourstats.models.estimates import adjusted, one_thread
from tourstats.tables import checked, columns, finished, in_sets, no_rows

Array = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Quantity:
    """Something measured. spread: standard deviation from show to show where too few are known; apart: how far a song's
    own usual may be from what the repertoire says, or from the other songs (common practice, no source).
    """

    name: str
    spread: float
    apart: float


QUANTITIES = (
    Quantity("tempo", 1.2, 2.5),
    Quantity("drift", 1.2, 1.0),
    Quantity("unsteadiness", 0.30, 0.30),
    Quantity("length", 4.0, 10.0),
    Quantity("loudness", 1.5, 3.0),
    Quantity("softs", 1.5, 3.0),
    Quantity("louds", 1.5, 3.0),
)
"""Tempo and length as 100 times a logarithm, so in per cent; unsteadiness as a logarithm; dB within the show."""
WORTH = 12.0
"""How many pairs of performances the assumed spread is worth."""
CLICK_SPREAD, CLICK_APART = 0.15, 0.05
"""The same for the tempo of a song played to a click or a track."""
NEW, OPEN, WATCH = 2.5, 1.5, 1.0
"""What a song without earlier performances, a finding of its last review, and a spot to watch count, in the same units
as a departure. Common practice, no source."""
TELLS = 2.0
"""Departures from here on are told."""
FEWEST = 4
"""Performances of a song from which a creep can be told."""
FEWEST_SHOWS = 8
SHOWS_OF_A_ROOM = 3


def departures(
    measured: pd.DataFrame,
    plays: pd.DataFrame,
    shows: pd.DataFrame,
    songs: pd.DataFrame,
    show_id: object,
    levels: pd.DataFrame | None = None,
) -> pd.DataFrame:
    """How far each performance of a show is from how its song usually goes.

    Parameters
    ----------
    measured, plays, shows, songs
        As in `tourstats.tables`; only shows before this one tell what is usual.
    show_id
        The show that was recorded.
    levels
        Soft and loud parts within their show, where known: show_id, position, softs, louds (dB against the show).

    Returns
    -------
    DataFrame
        A row a song of the show and quantity that is known, ordered by position:
            position   int
            song       str
            quantity   str    one of `QUANTITIES`: tempo, drift, unsteadiness, length, loudness, softs, louds
            value      float  tonight; tempo and length as 100 log, unsteadiness as log
            usual      float  expected tonight, drawn towards what the repertoire says while little is known
            earlier    int    performances that it rests on
            departure  float  (value - usual) over its standard deviation for one more performance

    Notes
    -----
    Normal with known variances: a song's own mean has a prior around the tempo or length wanted (else the mean of all
    songs); the spread from show to show is pooled over songs and drawn towards an assumed one.

    Examples
    --------
    >>> shows = pd.DataFrame({"show_id": [1, 2, 3], "date": ["2031-03-04", "2031-03-05", "2031-03-07"]})
    >>> plays = pd.DataFrame({"show_id": [1, 2, 3], "position": 1, "song": "Ferry"})
    >>> measured = pd.DataFrame({"show_id": [1, 2, 3], "position": 1, "tempo_bpm": [120.0, 120.6, 126.0],
    ...                          "tempo_sure": True})
    >>> songs = pd.DataFrame({"song": ["Ferry"], "tempo_bpm": [120.0]})
    >>> departures(measured, plays, shows, songs, 3)[["song", "quantity", "earlier", "departure"]].round(1)
        song quantity  earlier  departure
    0  Ferry    tempo        2        3.3

    """
    every = _performances(measured, plays, shows, levels)
    nights = every["at"][every.show_id == show_id]
    none = no_rows(position=int, song=str, quantity=str, value=float, usual=float, earlier=int, departure=float)
    if not len(nights):
        return none
    tonight, before = every[every.show_id == show_id], every[every["at"] < nights.iloc[0]]
    repertoire = checked(songs, "songs").drop_duplicates("song").set_index("song")
    parts = [_of(quantity, tonight, before, repertoire) for quantity in QUANTITIES]
    return pd.concat([none, *parts]).sort_values("position", kind="stable", ignore_index=True)


def _performances(
    measured: pd.DataFrame, plays: pd.DataFrame, shows: pd.DataFrame, levels: pd.DataFrame | None = None
) -> pd.DataFrame:
    """Measured performances with their song and the place of their show, quantities as they are compared."""
    plays, _ = in_sets(plays, shows)
    table = checked(measured, "measured")[columns("measured")].merge(
        plays[["show_id", "position", "song", "at"]], on=["show_id", "position"]
    )
    if levels is None or not len(levels):
        levels = table[["show_id", "position"]].assign(softs=np.nan, louds=np.nan)
    table = table.merge(levels[["show_id", "position", "softs", "louds"]], how="left", on=["show_id", "position"])
    sure, placed = table.tempo_sure.to_numpy(bool), table.sure.to_numpy(bool)
    length = (table.end_s - table.start_s).where(table.sure.astype(bool)).astype(float)
    steady = table.unsteadiness.astype(float).clip(lower=0.02)
    return table.assign(
        tempo=(100 * np.log(table.tempo_bpm.astype(float))).where(sure),
        drift=table.drift.astype(float).where(sure),
        unsteadiness=np.log(steady).where(sure),
        length=100 * np.log(length.where(length > 0)),
        loudness=table.loudness.astype(float).where(placed),
        softs=table.softs.astype(float).where(placed),
        louds=table.louds.astype(float).where(placed),
    )


def _of(quantity: Quantity, tonight: pd.DataFrame, before: pd.DataFrame, songs: pd.DataFrame) -> pd.DataFrame:
    """Departures in one quantity."""
    now = tonight.dropna(subset=[quantity.name])
    past = before.dropna(subset=[quantity.name])
    groups = past.groupby("song")[quantity.name]
    own = now.song.map(groups.mean().to_dict()).astype(float)
    count = now.song.map(groups.size().to_dict()).astype(float).fillna(0).astype(int)
    variance = np.full(len(now), _pooled(past, quantity))
    apart = np.full(len(now), quantity.apart**2)
    prior = _said(quantity.name, now.song, songs)
    if quantity.name == "tempo":
        to_click = now.song.map(songs.track.notna()).fillna(False).to_numpy(bool) & prior.notna().to_numpy()
        variance, apart = np.where(to_click, CLICK_SPREAD**2, variance), np.where(to_click, CLICK_APART**2, apart)
    together = past[quantity.name] if len(past) else now[quantity.name]
    among = prior.isna().to_numpy()
    apart = np.where(among, np.maximum(apart, float(np.var(together)) if len(together) else 0.0), apart)
    prior = prior.fillna(float(together.mean()) if len(together) else 0.0)
    weight = count / variance
    usual = (prior / apart + own.fillna(0) * weight) / (1 / apart + weight)
    spread = np.sqrt(variance + 1 / (1 / apart + weight))
    made = pd.DataFrame({"position": now.position, "song": now.song, "quantity": quantity.name})
    made = made.assign(value=now[quantity.name], usual=usual, earlier=count)
    # Without a reference or an earlier performance there is nothing to depart from.
    return made.assign(departure=((made.value - usual) / spread).where((count > 0) | ~among))


def _pooled(past: pd.DataFrame, quantity: Quantity) -> float:
    """Variance from show to show within songs, drawn towards the assumed one; a few odd nights do not carry it."""
    own = past[quantity.name] - past.groupby("song")[quantity.name].transform("mean")
    count = past.groupby("song")[quantity.name].transform("size")
    left = (own / np.sqrt(1 - 1 / count.where(count > 1))).dropna()
    free = len(left) - past.loc[left.index, "song"].nunique()
    found = (1.4826 * float(np.median(np.abs(left)))) ** 2 if len(left) else 0.0
    return float((WORTH * quantity.spread**2 + free * found) / (WORTH + free))


def _said(quantity: str, titles: pd.Series, songs: pd.DataFrame) -> pd.Series:
    """What the repertoire says of a song, as it is compared; missing where it says nothing."""
    if quantity == "tempo":
        return 100 * np.log(titles.map(songs.tempo_bpm.to_dict()).astype(float))
    if quantity == "length":
        return 100 * np.log(titles.map(songs.minutes.to_dict()).astype(float) * 60)
    return pd.Series(np.nan, index=titles.index)


# ---------------------------------------------------------------------------- what to hear first


def order(
    measured: pd.DataFrame,
    plays: pd.DataFrame,
    shows: pd.DataFrame,
    songs: pd.DataFrame,
    show_id: object,
    mistakes: pd.DataFrame | None = None,
    levels: pd.DataFrame | None = None,
) -> pd.DataFrame:
    """Songs of a recorded show in the order in which they are worth hearing.

    Parameters
    ----------
    measured, plays, shows, songs, mistakes
        As in `tourstats.tables`; `levels` as in `departures`.
    show_id
        The show that was recorded.

    Returns
    -------
    DataFrame
        A row a song with a place in the recording, the first to hear first:
            position, song, start_s, end_s
            departure  float  the largest, with its sign; NaN where nothing is known
            quantity   str    in what
            percent    float  by how much: per cent for tempo and length, dB for loudness, points for drift
            earlier    int    performances that its usual rests on; NaN where nothing is known
            new, open, watch  bool  no earlier performance; something found at its last review; a spot to watch
            score      float  what the order is by

    """
    away = departures(measured, plays, shows, songs, show_id, levels)
    every = _performances(measured, plays, shows)
    rows = every[(every.show_id == show_id) & (every.end_s > every.start_s)][
        ["position", "song", "start_s", "end_s", "at"]
    ]
    far = away.loc[away.departure.abs().dropna().groupby(away.position).idxmax()].set_index("position")
    repertoire = checked(songs, "songs").drop_duplicates("song").set_index("song")
    earlier, _ = in_sets(plays, shows)
    first = earlier.groupby("song")["at"].min()
    scored = rows.assign(
        departure=rows.position.map(far.departure),
        quantity=rows.position.map(far.quantity),
        percent=rows.position.map(far.value - far.usual),
        earlier=rows.position.map(far.earlier),
        new=rows.song.map(first) == rows["at"],
        open=rows.song.isin(_open(mistakes, earlier, rows)),
        watch=rows.song.map(repertoire.watch.notna()).fillna(False).astype(bool),
    )
    extra = NEW * scored.new + OPEN * scored.open + WATCH * scored.watch
    score = np.hypot(scored.departure.abs().fillna(0), extra)
    scored = scored.assign(score=score).drop(columns="at")
    return scored.sort_values(["score", "position"], ascending=[False, True], kind="stable", ignore_index=True)


def since(seconds: Array, curve: Array, usual: float, sections: Sequence[tuple[float, str]]) -> str | None:
    """From which section on a performance was faster or slower than usual; None if from the start, or not to be told.

    Parameters
    ----------
    seconds, curve
        The tempo through the song.
    usual
        Beats a minute.
    sections
        Where each begins and what it is called.

    Notes
    -----
    The middle of each section against the usual; it is told where all from one section on are off by at least six
    tenths of the largest, and all before by less than four tenths.

    Examples
    --------
    >>> at = np.arange(0, 120, 2.0)
    >>> since(at, np.where(at < 60, 120.0, 124.0), 120, [(0, "verse"), (30, "chorus"), (60, "verse"), (90, "chorus")])
    'verse 2'

    """
    ends = [start for start, _ in sections[1:]] + [np.inf]
    away = [
        100 * np.log(np.median(curve[(seconds >= start) & (seconds < end)]) / usual)
        if ((seconds >= start) & (seconds < end)).any()
        else np.nan
        for (start, _), end in zip(sections, ends, strict=True)
    ]
    off = np.array(away)
    largest = off[np.nanargmax(np.abs(off))] if np.isfinite(off).any() else np.nan
    share = off / largest if largest else np.full(len(off), np.nan)
    for at in range(1, len(off)):
        if np.nanmin(share[at:], initial=1) >= 0.6 and np.nanmax(share[:at], initial=-1) < 0.4:  # noqa: PLR2004  # as said
            name = sections[at][1]
            same = [place for place, (_, other) in enumerate(sections) if other == name]
            return f"{name} {same.index(at) + 1}" if len(same) > 1 else name
    return None


def _open(mistakes: pd.DataFrame | None, plays: pd.DataFrame, rows: pd.DataFrame) -> set[str]:
    """Songs with something found at the last earlier show at which they were found wanting or played."""
    if mistakes is None or not len(mistakes) or not len(rows):
        return set()
    now = rows["at"].iloc[0]
    before = plays[(plays["at"] < now) & plays.song.isin(rows.song)]
    last = before.groupby("song")["at"].max()
    found = checked(mistakes, "mistakes").merge(
        plays[["show_id", "song", "at"]].drop_duplicates(), on=["show_id", "song"]
    )
    return set(found.song[found["at"] == found.song.map(last)])


def in_minutes(ordered: pd.DataFrame, minutes: float) -> pd.DataFrame:
    """The first songs of `order` that fit into some minutes; one that is too long is passed over for the next.

    Examples
    --------
    >>> songs = pd.DataFrame({"song": ["Ferry", "Salt", "Kiln"], "start_s": [0, 300, 900], "end_s": [240, 840, 1080]})
    >>> in_minutes(songs, 8).song.tolist()
    ['Ferry', 'Kiln']

    """
    left, taken = minutes * 60, []
    for row, length in (ordered.end_s - ordered.start_s).items():
        if length <= left:
            taken.append(row)
            left -= length
    return ordered.loc[taken].reset_index(drop=True)


# ---------------------------------------------------------------------------- over the tour


@finished
def creep(measured: pd.DataFrame, plays: pd.DataFrame, shows: pd.DataFrame, leg: object = None) -> pd.DataFrame:
    """Whether the tempo of each song went up or down over a tour or a leg.

    Returns
    -------
    DataFrame
        A row a song measured at least four times:
            song          str
            performances  int
            tempo_bpm     float  mean
            change        float  from the first of these shows to the last, per cent
            low, high     float  95 % interval of it
            clear         bool   whether it holds with as many songs looked at (Holm's adjustment of t tests)

    Notes
    -----
    Few performances tell little of how much a song varies, so its variance is drawn towards the common one: moderated
    t statistics, G. K. Smyth (2004), Statistical Applications in Genetics and Molecular Biology 3: 3.

    Examples
    --------
    >>> show = range(1, 9)
    >>> shows = pd.DataFrame({"show_id": show, "date": pd.date_range("2031-03-04", periods=8)})
    >>> plays = pd.DataFrame({"show_id": show, "position": 1, "song": "Ferry"})
    >>> tempi = [120, 120.5, 120.4, 121, 121.6, 121.4, 122.1, 122.5]
    >>> measured = pd.DataFrame({"show_id": show, "position": 1, "tempo_bpm": tempi, "tempo_sure": True})
    >>> creep(measured, plays, shows).round(1)
        song  performances  tempo_bpm  change  low  high  clear
    0  Ferry             8      121.2     2.0  1.6   2.5   True

    """
    every = _performances(measured, plays, shows).dropna(subset=["tempo"])
    if leg is not None:
        within = checked(shows, "shows")
        every = every[every.show_id.isin(within.show_id[within.leg == leg])]
    every = every[every.groupby("song")["at"].transform("nunique") >= FEWEST]
    if not len(every):
        return no_rows(song=str, performances=int, tempo_bpm=float, change=float, low=float, high=float, clear=bool)
    span = float(every["at"].max() - every["at"].min())
    lines = every.groupby("song")[["at", "tempo"]].apply(_line)
    variance, free = moderated(lines.variance.to_numpy(float), lines.free.to_numpy(float))
    error = np.sqrt(variance / lines.squares.to_numpy(float))
    slope = lines.slope.to_numpy(float)
    reach = stats.t.ppf(0.975, free) * error
    ends = (100 * np.expm1(span * (slope + way * reach) / 100) for way in (0, -1, 1))
    chances = 2 * stats.t.sf(np.abs(slope) / np.maximum(error, 1e-12), free)
    return pd.DataFrame(
        {
            "song": lines.index.astype(str),
            "performances": lines.free.to_numpy(int) + 2,
            "tempo_bpm": np.exp(lines["mean"].to_numpy() / 100),
            **dict(zip(("change", "low", "high"), ends, strict=True)),
            "clear": adjusted(chances, "holm") < 0.05,  # noqa: PLR2004  # the usual level
        }
    )


def _line(group: pd.DataFrame) -> pd.Series:
    """The line through a song's tempi: slope a show, what is left about it, and what it rests on."""
    at = group["at"].to_numpy(float) - group["at"].mean()
    tempo = group.tempo.to_numpy(float)
    squares, free = float(at @ at), len(group) - 2
    slope = float(at @ tempo) / squares
    left = tempo - tempo.mean() - slope * at
    return pd.Series(
        {"slope": slope, "mean": tempo.mean(), "variance": left @ left / free, "free": free, "squares": squares}
    )


def moderated(variance: Array, free: Array) -> tuple[Array, Array]:
    """Variances drawn towards their common one, with the degrees of freedom that they then have.

    Smyth's (2004) moments of log variances. With fewer than three, or where they differ no more than chance would have
    it, all are taken for one.

    Examples
    --------
    >>> found, free = moderated(np.array([0.2, 1.0, 5.0, 0.9]), np.full(4, 3.0))
    >>> found.round(2).tolist(), free.round(0).tolist()
    ([0.64, 1.01, 2.89, 0.96], [6.0, 6.0, 6.0, 6.0])

    """
    if len(variance) < 3:  # noqa: PLR2004  # a variance of one or two says nothing
        return variance, free
    logs = np.log(np.maximum(variance, 1e-4)) - special.digamma(free / 2) + np.log(free / 2)
    beyond = float(np.var(logs, ddof=1) - special.polygamma(1, free / 2).mean())
    if beyond <= 1e-3:  # noqa: PLR2004  # chance alone makes them differ
        return np.full_like(variance, np.exp(logs.mean())), np.full_like(free, free.sum())
    prior = 2 * float(optimize.brentq(lambda half: special.polygamma(1, half) - beyond, 1e-3, 1e6))
    common = np.exp(logs.mean() + special.digamma(prior / 2) - np.log(prior / 2))
    return (prior * common + free * variance) / (prior + free), np.minimum(prior + free, free.sum())


@finished
@one_thread
def effects(
    measured: pd.DataFrame, plays: pd.DataFrame, shows: pd.DataFrame, songs: pd.DataFrame | None = None
) -> pd.DataFrame:
    """What goes with playing faster: room, place in the set, layoff, the song before, the date.

    Each song is held against itself; shows are groups, with Bell and McCaffrey's errors and degrees of freedom. A song
    to a click or a track, as `songs` has it, cannot rush: it is left out, else it would make every effect smaller.

    Returns
    -------
    DataFrame
        A row a circumstance that the measurements carry; none before eight shows.
            effect     str    "room: festival" (against the commonest kind), "position" (first to last song), "layoff"
                              (ten shows out against none), "after faster" (a song before it that is 20 % faster),
                              "date" (first to last show)
            percent    float  how much faster
            low, high  float  95 % interval
            shows      int    shows that it rests on

    """
    table = _circumstances(measured, plays, shows)
    if songs is not None:
        table = table[~table.song.isin(to_a_click(songs))]
    empty = no_rows(effect=str, percent=float, low=float, high=float, shows=int)
    if table.show_id.nunique() < FEWEST_SHOWS:
        return empty
    names = [name for name in table.columns if name not in ("show_id", "song", "tempo")]
    own = table[names] - table.groupby("song")[names].transform("mean")
    names = [name for name in names if own[name].std() > 0.05 * table[name].std() > 0]  # own share
    if not names or len(table) < 3 * len(names) + table.song.nunique():
        return empty
    left = (table.tempo - table.groupby("song").tempo.transform("mean")).to_numpy(float)
    found, error, free = clustered(own[names].to_numpy(float), left, pd.factorize(table.show_id)[0])
    reach = stats.t.ppf(0.975, free) * error
    count = [table.show_id[table[name] != table[name].mode().iloc[0]].nunique() for name in names]
    return pd.DataFrame(
        {"effect": names, "percent": found, "low": found - reach, "high": found + reach, "shows": count}
    )


def to_a_click(songs: pd.DataFrame) -> pd.Series:
    """Titles of the songs that are played to a click or a track."""
    songs = checked(songs, "songs")
    return songs.song[songs.track.notna()]


def _circumstances(measured: pd.DataFrame, plays: pd.DataFrame, shows: pd.DataFrame) -> pd.DataFrame:
    """Measured performances of songs measured twice, with what they are held against."""
    every = _performances(measured, plays, shows).dropna(subset=["tempo"])
    every = every[every.groupby("song").show_id.transform("nunique") > 1]
    ordered, nights = in_sets(plays, shows)
    ordered = ordered.assign(
        size=ordered.groupby("show_id").position.transform("max"),
        out=(ordered["at"] - ordered.groupby("song")["at"].shift() - 1).clip(lower=0).fillna(0),
        before=ordered.groupby("show_id").song.shift(),
    )
    usual = every.groupby("song").tempo.mean()
    table = every.merge(ordered.drop(columns=["song", "at", "encore"]), on=["show_id", "position"])
    room = table.show_id.map(nights.set_index("show_id").room)
    tally = nights.room.value_counts()
    step = (table.before.map(usual) - table.song.map(usual)).fillna(0) / (100 * np.log(1.2))
    made = table[["show_id", "song", "tempo"]].assign(
        position=(table.position - 1) / (table["size"] - 1).clip(lower=1),
        layoff=np.log1p(table.out) / np.log(11),
        **{"after faster": step, "date": table["at"] / max(int(nights["at"].max()), 1)},
    )
    rooms = [name for name in tally.index[1:] if tally[name] >= SHOWS_OF_A_ROOM]
    return made.assign(**{f"room: {name}": (room == name).astype(float) for name in rooms})


def clustered(matrix: Array, values: Array, group: npt.NDArray[np.int64]) -> tuple[Array, Array, Array]:
    """Least squares with errors for rows that come in groups.

    Returns coefficients, standard errors and degrees of freedom. R. M. Bell and D. F. McCaffrey (2002), Bias reduction
    in standard errors for linear regression with multi-stage samples, Survey Methodology 28: 169-181.

    Examples
    --------
    >>> x = np.array([[1.0], [-1.0], [2.0], [-2.0], [0.5], [-0.5]])
    >>> values = 3 * x[:, 0] + np.array([0.1, 0, -0.1, 0.1, 0, -0.1])
    >>> found, error, free = clustered(x, values, np.array([0, 0, 1, 1, 2, 2]))
    >>> found.round(2).tolist(), bool(error[0] < 0.1), bool(free[0] < 3)
    ([2.98], True, True)

    """
    inverse = np.linalg.pinv(matrix.T @ matrix)
    beta = inverse @ matrix.T @ values
    left = values - matrix @ beta
    count = int(group.max()) + 1
    meat = np.zeros((matrix.shape[1],) * 2)
    pulls = np.zeros((matrix.shape[1], count, len(values)))
    for one in range(count):
        rows = np.flatnonzero(group == one)
        part = matrix[rows]
        root = _inverse_root(np.eye(len(rows)) - part @ inverse @ part.T)
        score = part.T @ root @ left[rows]
        meat += np.outer(score, score)
        pull = inverse @ part.T @ root
        pulls[:, one, rows] += pull
        pulls[:, one] -= pull @ part @ inverse @ matrix.T
    error = np.sqrt(np.diag(inverse @ meat @ inverse))
    products = np.einsum("kgn,khn->kgh", pulls, pulls)
    trace = np.trace(products, axis1=1, axis2=2)
    free = trace**2 / np.maximum((products**2).sum(axis=(1, 2)), 1e-300)
    return beta, error, free


def _inverse_root(matrix: Array) -> Array:
    """Symmetric inverse root; directions that nothing is left of stay out."""
    values, vectors = np.linalg.eigh(matrix)
    root = np.where(values > 1e-9, 1 / np.sqrt(np.maximum(values, 1e-9)), 0)  # noqa: PLR2004  # nothing but rounding
    made: Array = vectors * root @ vectors.T
    return made
