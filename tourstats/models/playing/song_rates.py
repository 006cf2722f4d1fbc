"""Mistakes of each reviewed play: by song, and by whatever else a mistake or a play can be told apart by."""

from __future__ import annotations

import numpy as np
import pandas as pd

from tourstats.models.estimates import PRIOR_RATE, gamma_poisson
from tourstats.models.playing.performances import (
    PRIOR_RATE_SPREAD,
    SONGS_DIFFER,
    circumstances,
    counts,
)
from tourstats.models.playing.seams import passes
from tourstats.problems import Problem
from tourstats.tables import checked, in_sets

OF_A_MISTAKE = ("section", "cause", "severity", "kind")
OF_A_PLAY = ("room", "position", "transition")
BY = ("song", *OF_A_PLAY, *OF_A_MISTAKE)
PER = ("play", "minute")
NOT_SAID = "not said"


class RatesProblem(Problem):
    """Rates were asked for by something that is not there."""

    @classmethod
    def unknown(cls, what: str, value: object, allowed: tuple[str, ...]) -> RatesProblem:
        """Say what may be asked for."""
        return cls(f"`{what}` is one of {', '.join(allowed)}; it was {value!r}.")

    @classmethod
    def needs(cls, asked: str, what: str) -> RatesProblem:
        """Say which table is missing."""
        return cls(f"Rates {asked} need the table of {what}. Give it too.")


def rates(
    mistakes: pd.DataFrame,
    reviews: pd.DataFrame,
    by: str = "song",
    *,
    songs: pd.DataFrame | None = None,
    plays: pd.DataFrame | None = None,
    shows: pd.DataFrame | None = None,
    per: str = "play",
    listening: int = 1,
) -> pd.DataFrame:
    """Mistakes per reviewed play, shrunken, with intervals.

    Parameters
    ----------
    mistakes, reviews
        As in `tourstats.tables`. A mistake says that its song was reviewed.
    by
        song; room, position or transition (these need `plays` and `shows`; at a transition only what was found at
        its seam counts, see `seams`); section, cause, severity or kind of mistake (each against all reviewed plays).
    songs
        The repertoire: its songs that were never reviewed are there too, with the mean of the others.
    plays, shows
        Sets and shows.
    per
        "play", or "minute", which needs the minutes of `songs`; a song without minutes is taken as long as the
        middle one.
    listening
        1 for what was found the first time, 2 for what was found listening again.

    Returns
    -------
    DataFrame
        A row each, in order of first appearance.
            song       the column is named after `by`
            reviewed   int    reviewed plays
            mistakes   int    found in them
            rate       float  mistakes per play (or minute), drawn towards the mean of all
            low, high  float  95 % interval of the true rate
            basis      str    "reviews", or "prior" for one never reviewed

    Raises
    ------
    RatesProblem
        If `by` or `per` is something else, or a table is missing.

    Notes
    -----
    See `tourstats.models.estimates.gamma_poisson`.

    Examples
    --------
    >>> reviews = pd.DataFrame({"show_id": [1, 1, 2, 2], "song": ["Ferry", "Tin Rook"] * 2})
    >>> mistakes = pd.DataFrame({"show_id": [1, 2, 2], "song": ["Ferry"] * 3, "severity": [1, 2, 1]})
    >>> rates(mistakes, reviews)[["song", "reviewed", "mistakes"]]
           song  reviewed  mistakes
    0     Ferry         2         3
    1  Tin Rook         2         0

    """
    if by not in BY:
        raise RatesProblem.unknown("by", by, BY)
    if per not in PER:
        raise RatesProblem.unknown("per", per, PER)
    if per == "minute" and songs is None:
        raise RatesProblem.needs("per minute", "songs")
    heard = counts(reviews, mistakes, listening).assign(exposure=1.0)
    if per == "minute" and songs is not None:
        heard["exposure"] = _minutes(heard.song, songs)
    if by in OF_A_MISTAKE:
        table = _of_mistakes(heard, mistakes, by, listening)
    elif by == "song":
        table = _grouped(heard, by)
    elif by == "transition":
        plays, shows = _needed(by, plays, shows)
        table = _grouped(passes(mistakes, reviews, plays, shows).assign(exposure=1.0), by)
    else:
        table = _grouped(_in_the_set(heard, by, plays, shows), by)
    if by == "song" and songs is not None:
        table = _never_reviewed(table, songs)
    return _shrunken(table, by)


def _shrunken(table: pd.DataFrame, by: str) -> pd.DataFrame:
    """Fit the distribution over units, and give each unit its rate."""
    seen = table.reviewed > 0
    model = gamma_poisson(table.mistakes[seen], table.exposure[seen])
    low, high = model.interval(table.mistakes, table.exposure)
    rate = model.mean(table.mistakes, table.exposure)
    if not seen.any():
        reach = np.exp(1.96 * np.hypot(PRIOR_RATE_SPREAD, SONGS_DIFFER))
        rate, low, high = (np.full(len(table), PRIOR_RATE * factor) for factor in (1, 1 / reach, reach))
    table = table.assign(rate=rate, low=low, high=high, basis=np.where(seen, "reviews", "prior"))
    return table[[by, "reviewed", "mistakes", "rate", "low", "high", "basis"]]


def _grouped(heard: pd.DataFrame, by: str) -> pd.DataFrame:
    table = heard.groupby(by, sort=False).agg(
        reviewed=("mistakes", "size"), mistakes=("mistakes", "sum"), exposure=("exposure", "sum")
    )
    return table.reset_index()


def _of_mistakes(heard: pd.DataFrame, mistakes: pd.DataFrame, by: str, listening: int) -> pd.DataFrame:
    """Each sort of mistake against everything that was reviewed."""
    made = checked(mistakes, "mistakes")
    sort = made.loc[made.listening == listening, by]
    sort = sort if by == "severity" else sort.fillna(NOT_SAID)
    table = sort.value_counts(sort=False).rename("mistakes").rename_axis(by).reset_index()
    return table.assign(reviewed=len(heard), exposure=heard.exposure.sum())


def _needed(by: str, plays: pd.DataFrame | None, shows: pd.DataFrame | None) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Sets and shows, or say which of them is missing."""
    if plays is None or shows is None:
        raise RatesProblem.needs(f"by {by}", "plays" if plays is None else "shows")
    return plays, shows


def _in_the_set(heard: pd.DataFrame, by: str, plays: pd.DataFrame | None, shows: pd.DataFrame | None) -> pd.DataFrame:
    """Room or position of each reviewed play that is in a set."""
    plays, shows = _needed(by, plays, shows)
    if by == "room":
        return heard.merge(circumstances(plays, shows)[["show_id", "song", "room"]], on=["show_id", "song"])
    places = in_sets(plays, shows)[0]
    places = places.drop_duplicates(["show_id", "song"])
    return heard.merge(places[["show_id", "song", by]], on=["show_id", "song"])


def _never_reviewed(table: pd.DataFrame, songs: pd.DataFrame) -> pd.DataFrame:
    """Put the rest of the repertoire below, with nothing known."""
    repertoire = checked(songs, "songs").song
    rest = repertoire[~repertoire.isin(table.song)]
    return pd.concat([table, pd.DataFrame({"song": rest, "reviewed": 0, "mistakes": 0, "exposure": 0.0})]).reset_index(
        drop=True
    )


def _minutes(titles: pd.Series, songs: pd.DataFrame) -> pd.Series:
    table = checked(songs, "songs")
    if table.minutes.isna().all():
        raise RatesProblem.needs("per minute", "songs with minutes")
    return titles.map(table.set_index("song").minutes).fillna(table.minutes.median())
