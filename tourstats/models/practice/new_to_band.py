"""New to the band: songs that the others know, in the order to learn them, at the pace at which songs were learned."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date

import pandas as pd

from tourstats.models.practice.inputs import SONG_MINUTES
from tourstats.models.practice.learning import STEPS, learn_next
from tourstats.tables import READINESS

ENOUGH = 5
"""Songs learned from which on their pace is used for the next ones. Our own choice."""
LEARNED = "by heart"
"""The step from which on a song says how long it took."""
COLUMNS = ["place", "song", "minutes", "begins", "ready", "chance", "played"]


def mine(plays: pd.DataFrame, shows: pd.DataFrame, since: date | None) -> pd.DataFrame:
    """Plays of the shows from the day on which I joined, with their day; none as long as I have not.

    Examples
    --------
    >>> plays = pd.DataFrame({"show_id": [1, 2], "song": ["Ferry", "Tin Rook"]})
    >>> shows = pd.DataFrame({"show_id": [1, 2], "date": pd.to_datetime(["2031-03-01", "2031-03-09"])})
    >>> mine(plays, shows, date(2031, 3, 5)).song.tolist()
    ['Tin Rook']

    """
    dated = plays[["show_id", "song"]].merge(shows[["show_id", "date"]], on="show_id")
    return dated[dated.date >= pd.Timestamp(since)] if since is not None else dated.iloc[:0]


def took(songs: pd.DataFrame, rehearsals: pd.DataFrame, my_plays: pd.DataFrame) -> pd.DataFrame:
    """How long each song that I have learned took me, from its first run to my first show with it.

    Parameters
    ----------
    songs
        song, readiness, minutes.
    rehearsals
        date, song, runs, minutes. A run without minutes takes the length of its song.
    my_plays
        As from `mine`. A song that I played before its first run was learned before anything was written down, and is
        left out.

    Returns
    -------
    DataFrame
        A row a song that is by heart or further: song, readiness, minutes (runs written down), assumed (minutes in
        `STEPS` for the steps that are reached), share (the one by the other).

    """
    far = READINESS[READINESS.index(LEARNED) :]
    known = songs[songs.readiness.isin(far)].drop_duplicates("song").set_index("song")
    runs = rehearsals[rehearsals.song.isin(known.index)]
    first_show, first_run = my_plays.groupby("song").date.min(), runs.groupby("song").date.min()
    shown = runs.song.map(first_show)
    counted = (shown.isna() | (runs.date < shown)) & ~(shown <= runs.song.map(first_run))
    runs = runs[counted]
    length = pd.to_numeric(runs.song.map(known.minutes)).fillna(SONG_MINUTES)
    minutes = pd.to_numeric(runs.minutes).fillna(runs.runs * length).astype(float)
    table = minutes.groupby(runs.song).sum().rename("minutes").rename_axis("song").reset_index()
    table.insert(1, "readiness", table.song.map(known.readiness))
    table["assumed"] = [_all_steps(reached) for reached in table.readiness]
    return table.assign(share=table.minutes / table.assumed.astype(float))


def _all_steps(reached: str) -> float:
    return sum(STEPS[step] for step in READINESS[: READINESS.index(reached) + 1])


def my_steps(learned: pd.DataFrame) -> dict[str, float]:
    """Minutes for each step at my pace, the median of the songs in `took`; as in `STEPS` while they are few.

    Examples
    --------
    >>> my_steps(pd.DataFrame({"share": [0.4, 0.5, 0.5, 0.6, 3.0]}))["on paper"]
    12.5

    """
    pace = float(learned.share.median()) if len(learned) >= ENOUGH else 1.0
    return {step: max(1.0, round(minutes * pace, 1)) for step, minutes in STEPS.items()}


def learning_order(  # settings with defaults
    songs: pd.DataFrame,
    plays: pd.DataFrame,
    minutes_a_day: float,
    until: date,
    today: date,
    *,
    chances: pd.DataFrame | Mapping[str, float] | None = None,
    ready: Iterable[str] = (),
    steps: Mapping[str, float] | None = None,
) -> pd.DataFrame:
    """Songs to learn by a day, in the order in which to learn them; below them those that do not fit.

    Parameters
    ----------
    songs, chances, minutes_a_day, until, today, ready, steps
        As for `learn_next`.
    plays
        Every play of the band: how often the others have played each song.

    Returns
    -------
    DataFrame
        A row a song: place (from 1, missing where it does not fit), song, minutes (all that are missing), begins and
        ready (days; missing where it does not fit), chance, played. Those that do not fit come last, the least likely
        first.

    """
    table = learn_next(songs, chances, minutes_a_day, until, today=today, ready=ready, steps=steps)
    table = table[table.step != "again"]
    by_song = table.groupby("song", sort=False).agg(
        minutes=("missing_minutes", "first"), begins=("date", "min"), ready=("date", "max"), chance=("chance", "first")
    )
    by_song = by_song.reset_index()
    fits = by_song.ready.notna()
    order = by_song[fits].sort_values(["begins", "ready", "chance"], ascending=[True, True, False], kind="stable")
    out = by_song[~fits].sort_values("chance", kind="stable")
    both = pd.concat([order, out], ignore_index=True)
    both["place"] = pd.Series(range(1, len(both) + 1), dtype="Int64").where(both.ready.notna())
    played = plays.song.value_counts()
    return both.assign(played=both.song.map(played).fillna(0).astype(int))[COLUMNS]
