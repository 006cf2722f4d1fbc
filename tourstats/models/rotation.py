"""How songs go round: what changed from set to set, what is out, and how long it usually is.

A layoff is counted in shows that a song missed since it was last played: 0 if it was in the last set. Days are counted
from the day of that show. A song that is still out is a row with `ended` false, never left out.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

import numpy as np
import pandas as pd

from tourstats.problems import Problem, UnknownShowProblem
from tourstats.tables import DATE, checked, in_order, in_sets, latest_kept
from tourstats.tour import coming, earlier

CHANGES = ("carry-over", "swap-in", "swap-out")
LATER = pd.Timestamp("2200-01-01")
"""Stands for a day that is not known, after every show."""
FEWEST_RETURNS = 3
"""Returns of its own that it takes before a song has a usual layoff."""


def changes(plays: pd.DataFrame, shows: pd.DataFrame) -> pd.DataFrame:
    """What changed from each set to the next, a row a show and song.

    Parameters
    ----------
    plays, shows
        As in `tourstats.tables`. A song that stands twice in a set counts once, at its first position.

    Returns
    -------
    DataFrame
        Ordered by show, then position. The first show has no rows: there is nothing to compare it with.
            show_id    the show
            song       str
            change     str    carry-over, swap-in or swap-out
            position   Int64  place in this set, missing for a swap-out
            was        Int64  place in the set before, missing for a swap-in

    Examples
    --------
    >>> shows = pd.DataFrame({"show_id": [1, 2], "date": ["2031-03-04", "2031-03-05"]})
    >>> plays = pd.DataFrame({"show_id": [1, 1, 2, 2], "position": [1, 2, 1, 2], "song": ["Ferry", "Tin Rook", "Tin Rook", "Salt Road"]})
    >>> changes(plays, shows)
       show_id       song      change  position   was
    0        2   Tin Rook  carry-over         1     2
    1        2  Salt Road     swap-in         2  <NA>
    2        2      Ferry    swap-out      <NA>     1

    """  # noqa: E501  # the example is one frame
    plays, shows = in_sets(plays, shows)
    places = plays.drop_duplicates(["at", "song"])[["at", "song", "position"]]
    before = places.assign(at=places["at"] + 1).rename(columns={"position": "was"})
    both = places.merge(before[before["at"] < len(shows)], how="outer", on=["at", "song"])
    both = both[both["at"] > 0]
    both = both.astype({"position": "Int64", "was": "Int64"})
    both["change"] = np.select([both.position.isna(), both.was.isna()], ["swap-out", "swap-in"], "carry-over")
    both["show_id"] = _of(shows, "show_id", both["at"])
    both = both.sort_values(["at", "position", "was"], ignore_index=True, na_position="last")
    return both[["show_id", "song", "change", "position", "was"]].astype({"show_id": shows.show_id.dtype})


def changes_a_night(plays: pd.DataFrame, shows: pd.DataFrame) -> pd.DataFrame:
    """How many songs stayed, came in and went out, a row a show but the first.

    Returns
    -------
    DataFrame
        show_id, date, number, leg, city, then the counts carried, came_in and went_out, in order.

    Examples
    --------
    >>> shows = pd.DataFrame({"show_id": [1, 2], "date": ["2031-03-04", "2031-03-05"]})
    >>> plays = pd.DataFrame({"show_id": [1, 1, 2, 2], "position": [1, 2, 1, 2], "song": ["A", "B", "B", "C"]})
    >>> changes_a_night(plays, shows)[["show_id", "carried", "came_in", "went_out"]]
       show_id  carried  came_in  went_out
    0        2        1        1         1

    """
    _, shows = in_sets(plays, shows)
    changed = changes(plays, shows)
    counts = pd.crosstab(changed.show_id, changed.change).reindex(columns=CHANGES, fill_value=0)
    counts = counts.set_axis(["carried", "came_in", "went_out"], axis=1)
    night = shows[["show_id", "date", "number", "leg", "city"]].iloc[1:]
    return night.join(counts, on="show_id").fillna({"carried": 0, "came_in": 0, "went_out": 0}).reset_index(drop=True)


def returns(plays: pd.DataFrame, shows: pd.DataFrame) -> pd.DataFrame:
    """Each time that a song was out and came back, or is still out, a row a song and layoff.

    Returns
    -------
    DataFrame
        Ordered by song and the show after which it was out.
            song           str
            left_show_id   the last show that had it
            back_show_id   the show that brought it back, missing while it is out
            layoff_shows   int   shows it missed, at least 1
            layoff_days    int   days between the two shows; to the last show while it is out
            ended          bool  False while it is still out

    Examples
    --------
    >>> shows = pd.DataFrame({"show_id": [1, 2, 3], "date": ["2031-03-04", "2031-03-05", "2031-03-08"]})
    >>> plays = pd.DataFrame({"show_id": [1, 1, 2, 3], "position": [1, 2, 1, 1], "song": ["Ferry", "Tin Rook", "Tin Rook", "Ferry"]})
    >>> returns(plays, shows)[["song", "layoff_shows", "layoff_days", "ended"]]
           song  layoff_shows  layoff_days  ended
    0     Ferry             1            4   True
    1  Tin Rook             1            3  False

    """  # noqa: E501  # the example is one frame
    plays, shows = in_sets(plays, shows)
    once = plays.drop_duplicates(["song", "at"]).sort_values(["song", "at"], kind="stable")[["song", "at"]]
    once["back"] = once.groupby("song")["at"].shift(-1)
    once["ended"] = once.back.notna()
    until = once.back.fillna(len(shows)).astype(int)
    once["layoff_shows"] = until - once["at"] - 1
    once = once[once.layoff_shows > 0]
    end = until[once.index].clip(upper=len(shows) - 1)
    days = shows.date.to_numpy()
    return pd.DataFrame(
        {
            "song": once.song,
            "left_show_id": _of(shows, "show_id", once["at"]),
            "back_show_id": _of(shows, "show_id", once.back),
            "layoff_shows": once.layoff_shows.astype(int),
            "layoff_days": (days[end] - days[once["at"]]).astype("timedelta64[D]").astype(int),
            "ended": once.ended,
        }
    ).reset_index(drop=True)


def still_out(durations: Sequence[float], ended: Sequence[bool]) -> pd.DataFrame:
    """Share of layoffs that last longer than each time: the product-limit estimate.

    Parameters
    ----------
    durations
        How long each one lasted, or has lasted so far.
    ended
        Whether it ended then; one that still runs is censored, and counts among those at risk until then.

    Returns
    -------
    DataFrame
        A row for each duration at which at least one ended: duration, at_risk, ended, share (0 to 1), se (Greenwood).

    Notes
    -----
    Kaplan and Meier (1958), Journal of the American Statistical Association 53:457.

    Examples
    --------
    >>> still_out([1, 2, 2, 4], [True, True, False, True]).share.tolist()
    [0.75, 0.5, 0.0]

    """
    at, risk, gone, share = _product_limit(np.asarray(durations, float), np.asarray(ended, bool))
    with np.errstate(divide="ignore", invalid="ignore"):
        se = np.where(share > 0, share * np.sqrt(np.cumsum(gone / (risk * (risk - gone)))), 0.0)
    return pd.DataFrame({"duration": at, "at_risk": risk, "ended": gone, "share": share, "se": se})


def _product_limit(times: np.ndarray, ended: np.ndarray) -> tuple[np.ndarray, ...]:
    """Durations at which some ended, how many were at risk, how many ended, and the share that lasts longer."""
    at = np.unique(times[ended])
    risk = (times[:, None] >= at).sum(axis=0)
    gone = (times[ended][:, None] == at).sum(axis=0)
    return at, risk, gone, np.cumprod(1 - gone / risk)


def usual(returned: pd.DataFrame) -> pd.DataFrame:
    """How long each song is usually out: the median and the middle half of its layoffs, those still running counted in.

    Parameters
    ----------
    returned
        As from `returns`.

    Returns
    -------
    DataFrame
        A row a song: song, returns (finished layoffs), usual_low, usual_median, usual_high. A quantile is missing
        where the song has come back fewer than three times or too many of its layoffs still run.

    Examples
    --------
    >>> returned = pd.DataFrame({"song": "Ferry", "layoff_shows": [1, 2, 4, 9], "ended": [True, True, True, False]})
    >>> usual(returned)
        song  returns  usual_low  usual_median  usual_high
    0  Ferry        3        1.0           2.0         4.0

    """
    rows = []
    for song, own in returned.groupby("song", sort=True):
        finished = int(own.ended.sum())
        quantiles = [np.nan] * 3
        if finished >= FEWEST_RETURNS:
            times, _, _, share = _product_limit(own.layoff_shows.to_numpy(float), own.ended.to_numpy(bool))
            quantiles = [_quantile(times, share, reached) for reached in (0.25, 0.5, 0.75)]
        rows.append((song, finished, *quantiles))
    table = pd.DataFrame(rows, columns=["song", "returns", "usual_low", "usual_median", "usual_high"])
    return table.astype({"song": "str", "returns": int} | dict.fromkeys(table.columns[2:], float))


@latest_kept
def layoffs(
    plays: pd.DataFrame,
    shows: pd.DataFrame,
    songs: pd.DataFrame,
    rehearsals: pd.DataFrame | None = None,
    on: date | str | None = None,
    before: object = None,
) -> pd.DataFrame:
    """How long each song of the repertoire has not been played, nor run through, a row a song.

    Parameters
    ----------
    plays, shows, songs, rehearsals
        As in `tourstats.tables`. Songs that were played but are not in `songs` are there too.
    on
        The day at whose end to look; shows of that day count. By default the day of the next show that has no set
        yet, or of the last one that has.
    before
        A show_id: look just before that show instead; an earlier show of the same day counts, a song that joined
        later does not.

    Returns
    -------
    DataFrame
        Longest layoff first, songs never played last.
            song, status, readiness
            plays           int    shows that had it
            last_show_id    missing if it was never played
            last_played     date
            layoff_shows    Int64  shows missed since, 0 if it was in the last set
            layoff_days     Int64
            plays_30, plays_90, plays_leg   int  shows that had it in the last 30 and 90 days, and on the current leg
            returns         int    finished layoffs of its own
            usual_low, usual_median, usual_high   float  shows it is usually out (see `usual`)
            rehearsed       date of the last run of any kind; rehearsed_days Int64; rehearsed_way str
            kit_days        Int64  days since it was last run at the kit or with the band

    Examples
    --------
    >>> shows = pd.DataFrame({"show_id": [1, 2], "date": ["2031-03-04", "2031-03-05"]})
    >>> plays = pd.DataFrame({"show_id": [1, 2], "position": [1, 1], "song": ["Ferry", "Tin Rook"]})
    >>> layoffs(plays, shows, plays[["song"]])[["song", "layoff_shows", "layoff_days"]]
           song  layoff_shows  layoff_days
    0     Ferry             1            1
    1  Tin Rook             0            0

    """
    plays, past, day, leg = _until(plays, shows, on, before)
    songs = checked(songs, "songs")
    table = _repertoire(plays, songs if before is None else songs[~(songs.since > day)])
    once = plays.drop_duplicates(["song", "at"])
    last = once.groupby("song")["at"].max()
    at = _by(last, table.song)
    table["plays"] = _by(once.groupby("song").size(), table.song).fillna(0).astype(int)
    table["last_show_id"] = _of(past, "show_id", at)
    table["last_played"] = _of(past, "date", at)
    table["layoff_shows"] = (len(past) - 1 - at).astype("Int64")
    table["layoff_days"] = _days(day, table.last_played)
    when, where = _of(past, "date", once["at"]), _of(past, "leg", once["at"])
    for name, rows in {
        "plays_30": when > day - pd.Timedelta(days=30),
        "plays_90": when > day - pd.Timedelta(days=90),
        "plays_leg": where == leg,
    }.items():
        table[name] = _by(once[rows].groupby("song").size(), table.song).fillna(0).astype(int)
    own = usual(returns(plays.drop(columns="at"), past))
    table = table.merge(own, how="left", on="song").fillna({"returns": 0}).astype({"returns": int})
    table = table.join(_last_runs(rehearsals, table.song, day))
    return table.sort_values("layoff_shows", ascending=False, na_position="last", kind="stable", ignore_index=True)


def presence(plays: pd.DataFrame, shows: pd.DataFrame, songs: pd.DataFrame | None = None) -> pd.DataFrame:
    """In how many of the shows that could have had it each song was, a row a song, most present first.

    Returns
    -------
    DataFrame
        song, plays (shows that had it), possible (shows since it joined the repertoire, or since its first play if
        that is not known or later than that play), share (0 to 1).

    Examples
    --------
    >>> shows = pd.DataFrame({"show_id": [1, 2], "date": ["2031-03-04", "2031-03-05"]})
    >>> plays = pd.DataFrame({"show_id": [1, 1, 2, 2], "position": [1, 2, 1, 2], "song": ["A", "B", "B", "C"]})
    >>> presence(plays, shows)
      song  plays  possible  share
    0    B      2         2    1.0
    1    C      1         1    1.0
    2    A      1         2    0.5

    """
    plays, shows = in_sets(plays, shows)
    once = plays.drop_duplicates(["song", "at"])
    table = once.groupby("song")["at"].agg(plays="size", first="min").reset_index()
    since = pd.Series(dtype=DATE) if songs is None else checked(songs, "songs").set_index("song").since
    joined = shows.date.searchsorted(_by(since, table.song).fillna(LATER).to_numpy())
    table["possible"] = len(shows) - np.minimum(table["first"], joined)
    table["share"] = table.plays / table.possible
    table = table.sort_values(["share", "plays"], ascending=False, kind="stable", ignore_index=True)
    return table[["song", "plays", "possible", "share"]]


def goes_round(plays: pd.DataFrame, shows: pd.DataFrame, songs: pd.DataFrame) -> pd.DataFrame:
    """How much of the active repertoire was played within the last shows, a row for each number of shows back.

    Returns
    -------
    DataFrame
        shows (1, 2, … back from the last), heard (distinct active songs), share (of the active repertoire, 0 to 1).

    Examples
    --------
    >>> shows = pd.DataFrame({"show_id": [1, 2], "date": ["2031-03-04", "2031-03-05"]})
    >>> plays = pd.DataFrame({"show_id": [1, 1, 2, 2], "position": [1, 2, 1, 2], "song": ["A", "B", "B", "C"]})
    >>> goes_round(plays, shows, pd.DataFrame({"song": ["A", "B", "C", "D"]}))
       shows  heard  share
    0      1      2   0.50
    1      2      3   0.75

    """
    plays, past = in_sets(plays, shows)
    songs = checked(songs, "songs")
    active = set(songs.song[songs.status == "active"])
    last = plays[plays.song.isin(active)].groupby("song")["at"].max()
    back = np.arange(1, len(past) + 1)
    heard = np.array([(last >= len(past) - k).sum() for k in back], int)
    return pd.DataFrame({"shows": back, "heard": heard, "share": heard / max(len(active), 1)})


def transitions(plays: pd.DataFrame, shows: pd.DataFrame) -> pd.DataFrame:
    """Which song followed which, a row a pair that was ever played, with how often and when last.

    The change into the encore is not a transition: the band has left the stage.

    Returns
    -------
    DataFrame
        song, next_song, times (int), last_show_id, last_played (date).

    Examples
    --------
    >>> shows = pd.DataFrame({"show_id": [1, 2], "date": ["2031-03-04", "2031-03-05"]})
    >>> plays = pd.DataFrame({"show_id": [1, 1, 2, 2], "position": [1, 2, 1, 2], "song": ["A", "B", "B", "C"]})
    >>> transitions(plays, shows)
      song next_song  times  last_show_id last_played
    0    A         B      1             1  2031-03-04
    1    B         C      1             2  2031-03-05

    """
    plays, shows = in_sets(plays, shows)
    pairs = following(plays)
    table = pairs.groupby(["song", "next_song"])["at"].agg(times="size", last="max").reset_index()
    table["last_show_id"] = _of(shows, "show_id", table["last"])
    table["last_played"] = _of(shows, "date", table["last"])
    return table.drop(columns="last")


def following(plays: pd.DataFrame) -> pd.DataFrame:
    """Each play that another one follows in the same set, with `next_song` and `next_position`.

    Parameters
    ----------
    plays
        In order within each show, as `in_sets` gives them.

    Examples
    --------
    >>> shows = pd.DataFrame({"show_id": [1, 2], "date": ["2031-03-04", "2031-03-05"]})
    >>> plays = pd.DataFrame({"show_id": [1, 1, 2, 2], "position": [1, 2, 1, 2], "song": ["A", "B", "B", "C"]})
    >>> following(in_sets(plays, shows)[0])[["show_id", "song", "next_song"]]
       show_id song next_song
    0        1    A         B
    1        2    B         C

    """
    after = plays[["show_id", "song", "position", "encore"]].shift(-1)
    goes_on = (after.show_id == plays.show_id) & (after.encore == plays.encore)
    pairs = plays.assign(next_song=after.song, next_position=after.position)[goes_on]
    return pairs.astype({"next_position": int}).reset_index(drop=True)


def planned_and_played(planned: pd.DataFrame, plays: pd.DataFrame, shows: pd.DataFrame) -> pd.DataFrame:
    """What became of the sets that were handed out, a row a show that has both.

    Returns
    -------
    DataFrame
        show_id, planned, played (counts of distinct songs), dropped, added (lists of titles), in order of the shows.

    Examples
    --------
    >>> shows = pd.DataFrame({"show_id": [1, 2], "date": ["2031-03-04", "2031-03-05"]})
    >>> plays = pd.DataFrame({"show_id": [1, 1, 2, 2], "position": [1, 2, 1, 2], "song": ["A", "B", "B", "C"]})
    >>> planned_and_played(plays.assign(song=["A", "B", "B", "D"]), plays, shows)
       show_id  planned  played dropped added
    0        1        2       2      []    []
    1        2        2       2     [D]   [C]

    """
    out, done = checked(planned, "plays"), checked(plays, "plays")
    rows = []
    for show_id in in_order(shows).show_id:
        was, became = (dict.fromkeys(sets.song[sets.show_id == show_id]) for sets in (out, done))
        if was and became:
            rows.append(
                (
                    show_id,
                    len(was),
                    len(became),
                    [s for s in was if s not in became],
                    [s for s in became if s not in was],
                )
            )
    return pd.DataFrame(rows, columns=["show_id", "planned", "played", "dropped", "added"])


def _until(
    plays: pd.DataFrame, shows: pd.DataFrame, on: date | str | None, before: object
) -> tuple[pd.DataFrame, pd.DataFrame, pd.Timestamp, object]:
    """Sets played up to the asked moment, their shows, the day that it is, and the leg."""
    until = None if on is None else _day(on)
    ordered = in_order(shows)
    plays, past = in_sets(plays, ordered)
    now = coming(ordered, plays).iloc[:1]
    if before is not None:
        now = ordered[ordered.show_id == before]
        if not len(now):
            raise UnknownShowProblem.of(before)
        past = past[past.show_id.isin(earlier(ordered, {"show_id": before}).show_id)]
    elif until is not None:
        past = past[past.date <= until]
        now = past.iloc[-1:]
    elif not len(now):
        now = past.iloc[-1:]
    day = until if until is not None else now.date.iloc[0] if len(now) else pd.NaT
    leg = now.leg.iloc[0] if len(now) else None
    return plays[plays["at"].isin(past["at"])], past, day, leg


def _day(on: date | str) -> pd.Timestamp:
    """The day, from a date or ISO text; anything else is asked about, never guessed."""
    try:
        return pd.Timestamp(date.fromisoformat(on.strip()) if isinstance(on, str) else on).tz_localize(None).normalize()
    except (TypeError, ValueError) as error:
        raise Problem(f"`on` is {on!r}, but it has to be a day such as 2031-03-04.") from error


def _repertoire(plays: pd.DataFrame, songs: pd.DataFrame) -> pd.DataFrame:
    """Title, status and readiness of each song that is in the repertoire or was played."""
    others = pd.DataFrame({"song": [s for s in plays.song.unique() if s not in set(songs.song)]}, dtype="str")
    table = pd.concat([songs[["song", "status", "readiness"]], others], ignore_index=True)
    return table.fillna({"status": "active"})


def _last_runs(rehearsals: pd.DataFrame | None, titles: pd.Series, day: pd.Timestamp) -> pd.DataFrame:
    """When and how each song was last run outside a show, up to the day."""
    runs = checked(rehearsals if rehearsals is not None else _NO_RUNS, "rehearsals")
    runs = runs[runs.date <= day].sort_values("date", kind="stable")
    last = runs.drop_duplicates("song", keep="last").set_index("song")
    kit = runs[runs.way.isin(("kit", "band"))].groupby("song").date.max()
    rehearsed = _by(last.date, titles)
    return pd.DataFrame(
        {
            "rehearsed": rehearsed,
            "rehearsed_days": _days(day, rehearsed),
            "rehearsed_way": _by(last.way, titles),
            "kit_days": _days(day, _by(kit, titles)),
        }
    )


_NO_RUNS = pd.DataFrame({"date": [], "song": [], "way": []})


def _of(shows: pd.DataFrame, column: str, at: pd.Series) -> pd.Series:
    """A column of the shows for each place in their order, missing where the place is."""
    return _by(shows[column].astype("Int64") if shows[column].dtype == "int64" else shows[column], at)


def _by(values: pd.Series, keys: pd.Series) -> pd.Series:
    """Look each key up in the index; unlike `map`, an empty table keeps its type."""
    return values.reindex(keys.to_numpy()).set_axis(keys.index)


def _quantile(times: np.ndarray, still: np.ndarray, share: float) -> float:
    """Shortest duration by which at least this share has ended; missing where the curve does not get there."""
    reached = times[still <= 1 - share + 1e-12]
    return float(reached[0]) if len(reached) else np.nan


def _days(day: pd.Timestamp, dates: pd.Series) -> pd.Series:
    return (day - dates).dt.days.astype("Int64")
