"""The regression's own checks: quiet where its assumptions hold, and loud where a fault was planted."""

import numpy as np
import pandas as pd
import pytest
import statsmodels.api as sm

from tests.models.playing.as_tour import as_tour
from tourstats.models import playing
from tourstats.models.playing.checks import CHECKS, influence, residual_checks
from tourstats.models.playing.effects import fitted as regression
from tourstats.models.playing.performances import performances

SHOWS, SONGS = 40, 30


def tour(seed, fault=""):
    """Thirty songs, half of them each night, mistakes by a layoff effect; and one fault."""
    random = np.random.default_rng(seed)
    shows = pd.DataFrame({"show_id": range(SHOWS), "date": pd.date_range("2031-03-04", periods=SHOWS)})
    plays = pd.DataFrame(
        [(show, at, f"Song {song}") for show in range(SHOWS)
         for at, song in enumerate(random.permutation(SONGS)[:15], start=1)],
        columns=["show_id", "position", "song"],
    )  # fmt: skip
    level = np.exp(random.normal(-0.7, 0.4, SONGS))[plays.song.str[5:].astype(int)]
    drift = 0.9 * np.sin(np.arange(SHOWS) * 2 * np.pi / 10) * (fault == "waves")
    found = random.poisson(level * np.exp(drift - drift.mean())[plays.show_id])
    if fault == "bursts":
        found = np.where(random.random(len(found)) < 0.8, 0, 5 * found)
    if fault == "one show":
        found = np.where(plays.show_id == 3, found + 6 * (plays.position > 8), found)
    lost = plays.loc[plays.index.repeat(found), ["show_id", "song"]].assign(severity=1)
    return plays, shows, plays[["show_id", "song"]], lost.reset_index(drop=True)


@pytest.mark.parametrize(("fault", "what"), [("bursts", "clean performances"), ("waves", "shows in a row alike")])
def test_a_planted_fault_is_told(fault, what):
    """
    Mistakes that come in bursts, and nights that wander, are what the regression does not reckon with.
    """
    found = residual_checks(as_tour(*tour(2, fault))).set_index("check")

    assert not found.holds[what]
    assert not found.low[what] <= found.value[what] <= found.high[what]


def test_mistakes_as_the_regression_takes_them_pass():
    """
    Of four tours drawn as Poisson counts, with four checks each at 5 % together, none or one is held for odd.
    """
    odd = [not residual_checks(as_tour(*tour(seed))).holds.all() for seed in range(4)]

    assert sum(odd) <= 1
    assert list(CHECKS) == residual_checks(as_tour(*tour(1))).check.tolist()


def test_one_show_that_carries_an_effect_is_named():
    """
    A night that fell apart at its end makes the place in the set look grave: it is first in the list.
    """
    told = influence(as_tour(*tour(5, "one show")))

    assert (3, "position") == (told.show_id[0], told.effect[0])
    assert abs(told.moved[0]) > 1
    assert set(told.effect) == set(playing.effects(*tour(5, "one show")).effect)


def test_influence_is_that_of_statsmodels():
    """
    Statsmodels 0.14: GLM Poisson with an indicator of each song, the show's rows left out, moves a coefficient as far.
    """
    plays, shows, reviews, lost = tour(7)
    table = performances(plays, shows, reviews, lost)
    found = regression(table)
    songs = pd.get_dummies(table.song).to_numpy(float)
    rows = within_telling(table)

    def fitted(rows):
        design = np.column_stack([found.design.matrix[rows], songs[rows][:, songs[rows].sum(axis=0) > 0]])
        return sm.GLM(table.mistakes[rows], design, family=sm.families.Poisson()).fit().params.to_numpy()

    at = found.at("position")
    moved = fitted(rows & (table.show_id != 3).to_numpy())[at] - fitted(rows)[at]
    ours = influence(as_tour(plays, shows, reviews, lost)).query("show_id == 3 and effect == 'position'").iloc[0]

    assert moved == pytest.approx(np.log(ours.without / ours.ratio), abs=0.01)


def within_telling(table):
    counted = table.groupby("song").mistakes.transform("sum")
    return (counted > 0).to_numpy()
