"""How good the expected mistakes were, and what came of runs: each show as it would have been told on its day."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import pandas as pd

from tourstats.models.estimates import one_thread
from tourstats.models.playing.effects import known_of_runs
from tourstats.models.playing.forecast import Played, forecast_of, run_unasked, steps_missing
from tourstats.models.playing.performances import WEEK, circumstances, counts, of_tour, with_reviews
from tourstats.tables import finished
from tourstats.tour import Tour

START = 8
"""Reviewed shows before the first that is told."""
COLUMNS = ["expected", "chance", "range_low", "range_high", "mistakes", "whole"]
RUNS_KNOWN = 6
"""Shows after which what runs take away is learned again."""
FIFTHS = 5


@finished
@one_thread
def expected_record(tour: Tour) -> pd.DataFrame:
    """What was expected of each reviewed performance, by what was known before its show, and what was found.

    Returns
    -------
    DataFrame
        A row a performance reviewed after the first eight reviewed shows, in order.
            show_id, song
            expected, chance, range_low, range_high   as from `expected`; the range is of the whole set
            mistakes         int   found
            whole            bool  whether the whole set was reviewed, so that the range can be held against it

    """
    every = circumstances(tour.plays, tour.shows, tour.rehearsals)
    table, titles, told = of_tour(tour), pd.Index(every.song.unique()), []
    known, asked, missing = None, run_unasked(every, table), steps_missing(titles, tour.songs)
    asked_of, asked_ran = titles.get_indexer(asked.song), asked.ran.to_numpy(bool)
    all_of, of_reviewed = (Played.of(rows, titles) for rows in (every, table))
    for nth, at in enumerate(table["at"].unique()[START:]):
        # In order of shows, so that each part is a piece, which costs nothing to take.
        before, here = _parted(of_reviewed.at, at)
        past, tonight = _parted(all_of.at, at)
        until = _parted(asked["at"], at)[0]
        known = known_of_runs(table[before]) if nth % RUNS_KNOWN == 0 or known is None else known
        now, unasked = all_of.part(tonight), (asked_of[until], asked_ran[until])
        said = forecast_of(of_reviewed.part(before), all_of.part(past), now, missing, known, unasked)
        rows = pd.Index(now.song).get_indexer(of_reviewed.song[here])
        figures = {name: said.figures[name][rows] for name in ("expected", "chance", "range_low", "range_high")}
        told.append({**figures, "whole": np.full(len(rows), len(rows) == len(now.song))})
    keys = ["show_id", "song"]
    if not told:
        return table[keys].head(0).reindex(columns=[*keys, *COLUMNS])
    record = table.loc[table["at"] >= table["at"].unique()[START], [*keys, "mistakes"]].reset_index(drop=True)
    figures = {name: np.concatenate([one[name] for one in told]) for name in told[0]}
    return record.assign(**figures)[[*keys, *COLUMNS]]


def _parted(shows: npt.ArrayLike, at: int) -> tuple[slice, slice]:
    """The rows before a show and those of it."""
    first, last = np.searchsorted(shows, (at, at + 1))
    return slice(0, first), slice(first, last)


def by_fifths(record: pd.DataFrame) -> pd.DataFrame:
    """How good a record was: the fifth of the performances with least expected first, then the next.

    Returns
    -------
    DataFrame
        A row a fifth: performances, expected and found (mistakes a performance), chance and wrong (share in which
        something went wrong); none while there are fewer than 50 performances.

    Examples
    --------
    >>> record = pd.DataFrame({"expected": range(50), "chance": 0.5, "mistakes": 1})
    >>> by_fifths(record)[["performances", "expected", "found"]].tail(1)
       performances  expected  found
    4            10      44.5    1.0

    """
    columns = ["performances", "expected", "found", "chance", "wrong"]
    if len(record) < FIFTHS * 10:
        return pd.DataFrame(columns=columns)
    fifth = (record.expected.rank(method="first").to_numpy() - 1) * FIFTHS // len(record)
    groups = record.assign(wrong=record.mistakes > 0).groupby(fifth)
    return groups.agg(
        performances=("mistakes", "size"),
        expected=("expected", "mean"),
        found=("mistakes", "mean"),
        chance=("chance", "mean"),
        wrong=("wrong", "mean"),
    ).reset_index(drop=True)


@finished
def what_came_of_runs(tour: Tour, runs: pd.DataFrame | None = None) -> pd.DataFrame:
    """What was run, and for what: whether each song was played in the week after its runs, and what was found then.

    Parameters
    ----------
    tour
        What is known.
    runs
        The runs in question, as `rehearsals`; all of them if not said.

    Returns
    -------
    DataFrame
        A row a song that was run, the one with most runs for nothing first.
            song         str
            runs         int    days on which it was run
            minutes      float  of them, where they are known
            for_nothing  int    of these days, those after which it was not played within seven days
            reviewed     int    performances with a run that week that were reviewed
            mistakes     int    found in them
            without      float  mistakes a performance of the same song without a run that week; missing if none was
                                reviewed. Few performances: no proof that runs helped; `what_runs_take` weighs them all.

    Examples
    --------
    >>> shows = pd.DataFrame({"show_id": [1], "date": ["2031-03-04"]})
    >>> plays = pd.DataFrame({"show_id": [1], "position": [1], "song": ["Ferry"]})
    >>> runs = pd.DataFrame({"date": ["2031-03-04", "2031-03-03"], "song": ["Ferry", "Tin Rook"], "way": "kit"})
    >>> what_came_of_runs(Tour.of(shows=shows, plays=plays, rehearsals=runs))[["song", "runs", "for_nothing"]]
           song  runs  for_nothing
    0  Tin Rook     1            1
    1     Ferry     1            0

    """
    runs = (tour.rehearsals if runs is None else runs).dropna(subset=["date"])
    days = runs.groupby(["song", "date"], as_index=False).agg(minutes=("minutes", "sum"))
    played = tour.plays[["show_id", "song"]].merge(tour.shows[["show_id", "date"]], on="show_id")
    after = days.merge(played[["song", "date"]].rename(columns={"date": "shown"}), on="song", how="inner")
    after = after[(after.shown >= after.date) & (after.shown <= after.date + pd.Timedelta(days=WEEK))]
    useful = pd.MultiIndex.from_frame(after[["song", "date"]])
    days["for_nothing"] = ~pd.MultiIndex.from_frame(days[["song", "date"]]).isin(useful)
    table = days.groupby("song").agg(
        runs=("date", "size"), minutes=("minutes", "sum"), for_nothing=("for_nothing", "sum")
    )
    heard = with_reviews(circumstances(tour.plays, tour.shows, runs), counts(tour.reviews, tour.mistakes))
    run = heard.ran != ""
    found = heard[run].groupby("song").mistakes.agg(["size", "sum"]).reindex(table.index).fillna(0)
    table = table.assign(reviewed=found["size"].astype(int), mistakes=found["sum"].astype(int))
    table["without"] = heard[~run].groupby("song").mistakes.mean().reindex(table.index).astype(float)
    table["minutes"] = table.minutes.where(table.minutes > 0, np.nan)
    table = table.sort_values(["for_nothing", "runs"], ascending=[False, True], kind="stable").reset_index()
    return table[["song", "runs", "minutes", "for_nothing", "reviewed", "mistakes", "without"]]
