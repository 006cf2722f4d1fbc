"""Playing against published values and other libraries."""

import numpy as np
import pandas as pd
import pytest
from scipy import stats
from scipy.integrate import quad
from scipy.optimize import minimize
from sklearn.linear_model import PoissonRegressor
from statsmodels.discrete.conditional_models import ConditionalPoisson
from statsmodels.genmod.families import Poisson
from statsmodels.genmod.generalized_estimating_equations import GEE
from statsmodels.regression.linear_model import WLS

from tests.models.playing.simulated import tour
from tourstats.models.estimates import adjusted, at_most
from tourstats.models.playing import rates, within
from tourstats.models.playing.contrast import _tested
from tourstats.models.playing.design import design
from tourstats.models.playing.forecast import _coefficients, _Rows
from tourstats.models.playing.monitor import _limits
from tourstats.models.playing.performances import performances
from tourstats.models.playing.second_listening import icc, weighted_kappa


def test_adjusting_for_many_tests():
    """
    Y. Benjamini and Y. Hochberg (1995), J. R. Stat. Soc. B 57: 289-300, the 15 values of their example: at 0.05 the
    first four are rejected. Adjusted values recomputed with statsmodels and scipy; ties at the sixth and seventh.
    """
    p = [0.0001, 0.0004, 0.0019, 0.0095, 0.0201, 0.0278, 0.0298, 0.0344, 0.0459, 0.3240, 0.4262, 0.5719, 0.6528, 0.7590]
    expected = [0.0015, 0.0030, 0.0095, 0.035625, 0.0603, 0.063857, 0.063857, 0.0645, 0.0765, 0.486, 0.581182, 0.714875]
    expected += [0.753231, 0.813214, 1.0]
    values = adjusted([*p, 1.0])

    assert expected == pytest.approx(values.tolist(), abs=1e-6)
    assert 4 == (values <= 0.05).sum()


def test_the_intraclass_correlation():
    """
    P. E. Shrout and J. L. Fleiss (1979), Psychol. Bull. 86: 420-428, six targets and four judges (table from memory):
    0.29. As a fraction, recomputed by hand.
    """
    scores = np.array([[9, 2, 5, 8], [6, 1, 3, 2], [8, 4, 6, 8], [7, 1, 2, 6], [10, 5, 6, 9], [6, 2, 4, 7]], float)

    assert 184 / 635 == pytest.approx(icc(scores))


@pytest.mark.parametrize(
    ("table", "kappa"),
    [([[20, 5], [10, 15]], 0.4), ([[45, 15], [25, 15]], 0.130435), ([[25, 35], [5, 35]], 0.259259)],
)
def test_agreement_of_two_answers(table, kappa):
    """
    The usual textbook tables of Cohen's kappa (from memory): the last two agree in the same 60 % of cases. With two
    answers squared weights change nothing.
    """
    scores = np.array([(a, b) for a in (0, 1) for b in (0, 1) for _ in range(table[a][b])], float)

    assert kappa == pytest.approx(weighted_kappa(scores), abs=1e-6)


def test_two_rates():
    """
    11 in 800 against 21 in 3011: ratio 1.971488, exact 95 % interval 0.8584264 to 4.2772659 (printed output of R's
    poisson.test); twice the smaller tail 0.112017 (recomputed from the binomial distribution).
    """
    table = _tested(
        "song", ["Ferry"], np.array([21.0]), np.array([11.0]), np.array([800 / 3011]), np.array([0.0])
    ).iloc[0]

    assert [1.971488, 0.8584264, 4.2772659] == pytest.approx([table.ratio, table.low, table.high], abs=1e-6)
    assert 0.112017 == pytest.approx(table.p, abs=1e-6)


@pytest.fixture(scope="module")
def regression():
    table = performances(*tour(3, "uneven", shows=40).tables)
    song = pd.factorize(table.song)[0]
    rows = within.telling(table.mistakes.to_numpy(float), song)
    matrix = design(table).matrix[rows]
    return matrix, table.mistakes.to_numpy(float)[rows], pd.factorize(song[rows])[0], table["at"].to_numpy()[rows]


def test_the_regression_is_statsmodels_given_each_songs_total(regression):
    """
    ConditionalPoisson of statsmodels, a group a song, and its GEE with a column a song and a group a show.
    """
    matrix, found, song, show = regression
    ours = within.fit(matrix, found, song, show).coefficients
    conditional = ConditionalPoisson(found, matrix, groups=song).fit(method="newton", tol=1e-9, disp=0)
    columns = np.column_stack([matrix, np.eye(song.max() + 1)[song]])
    equations = GEE(found, columns, groups=show, family=Poisson()).fit(ctol=1e-10, maxiter=200)

    assert conditional.params == pytest.approx(ours, abs=1e-6)
    assert equations.params[: len(ours)] == pytest.approx(ours, abs=1e-6)


def test_the_regression_with_columns_of_songs_is_sklearns(regression):
    """
    Scikit-learn's PoissonRegressor(alpha=0) with a column a song is the same fit.
    """
    matrix, found, song, show = regression
    columns = np.column_stack([matrix, np.eye(song.max() + 1)[song]])
    theirs = PoissonRegressor(alpha=0, fit_intercept=False, tol=1e-10, max_iter=5000).fit(columns, found)

    assert theirs.coef_[: matrix.shape[1]] == pytest.approx(
        within.fit(matrix, found, song, show).coefficients, abs=2e-3
    )


def test_errors_of_single_counts_are_hc2(regression, monkeypatch):
    """
    With a show for each play, and nothing between shows, Bell and McCaffrey's correction is HC2 (J. G. MacKinnon and
    H. White (1985), J. Econometrics 29: 305-325) of the weighted regression that the last Newton step solves, here by
    statsmodels with a column a song.
    """
    matrix, found, song, _ = regression
    monkeypatch.setattr(within, "_unevenness", lambda _: 0.0)
    ours = within.fit(matrix, found, song, np.arange(len(found)))
    columns = np.column_stack([matrix, np.eye(song.max() + 1)[song]])
    rate = np.exp(matrix @ ours.coefficients)
    mean = np.bincount(song, found)[song] * rate / np.bincount(song, rate)[song]
    theirs = WLS(np.log(mean) + (found - mean) / mean, columns, weights=mean).fit(cov_type="HC2")

    assert theirs.params[: matrix.shape[1]] == pytest.approx(ours.coefficients, abs=1e-6)
    assert theirs.bse[: matrix.shape[1]] == pytest.approx(ours.errors, rel=1e-6)


@pytest.mark.parametrize("uneven", [0.0, 0.5])
def test_degrees_of_freedom_of_three_shows_against_twenty_seven(monkeypatch, uneven):
    """
    3 units against 27: 2.5 degrees of freedom (G. W. Imbens and M. Kolesar (2016), Robust standard errors in small
    samples, Rev. Econ. Stat. 98: 701-712, from memory; by hand (1/3 + 1/27)^2 / (1/(9 * 2) + 1/(729 * 26)) = 2.4668).
    Here units are shows of one song each and have the same mean, so that their unevenness changes nothing.
    """
    monkeypatch.setattr(within, "_unevenness", lambda _: uneven)
    room = np.r_[np.ones(3), np.zeros(27)][:, None]
    found = np.r_[[1.0, 2, 3], np.tile([1.0, 2, 3], 9)]
    ours = within.fit(room, found, np.zeros(30, int), np.arange(30))

    assert 2.4668 == pytest.approx(ours.df[0], abs=1e-4)
    assert 0 == pytest.approx(ours.coefficients[0], abs=1e-9)


def test_a_trend_of_counts():
    """
    H. M. Whyte and others (1987), as in A. J. Dobson's textbook: 14 quarters, slope 0.256524 (recomputed with
    statsmodels' GLM; the data from memory). One song, a show a quarter.
    """
    found = np.array([0.0, 1, 2, 3, 1, 4, 9, 18, 23, 31, 20, 25, 37, 45])
    ours = within.fit(np.arange(1.0, 15)[:, None], found, np.zeros(14, int), np.arange(14))

    assert 0.256524 == pytest.approx(ours.coefficients[0], abs=1e-6)


@pytest.mark.parametrize(
    ("counts", "units", "beyond"),
    [
        ([3, 8, 10, 6, 2, 11, 9, 5, 20], [15, 9, 15, 15, 15, 20, 15, 15, 15], [9]),
        (
            [7, 11, 15, 6, 11, 15, 5, 10, 8, 11, 3, 14, 3, 9, 7, 6, 7, 5, 14, 13, 11, 6, 6, 9, 11],
            """30 27.6 30.4 34.8 26 28.6 28 30.2 28.2 31.4 30.3 27.8 27
            30 32.1 34.8 26.5 30 31.3 31.6 29.4 28.6 27.5 32.6 31.7""",
            [],
        ),
    ],
)
def test_limits_of_unequal_shows_flag_what_published_charts_flag(counts, units, beyond):
    """
    Two u charts: a vendor's help page with nine samples, the ninth beyond; the rolls of the manual of SAS/QC, none.
    Ours are quantiles, not three standard deviations; without unevenness they flag the same.
    """
    units = np.array(units.split() if isinstance(units, str) else units, float)
    limits = [
        _limits(found, sum(counts) / units.sum() * unit, 0.0)[:2] for found, unit in zip(counts, units, strict=True)
    ]

    assert beyond == [
        at + 1 for at, (found, (low, high)) in enumerate(zip(counts, limits, strict=True)) if not low <= found <= high
    ]


def test_shrunken_rates_foretell_the_rest_of_a_season():
    """
    B. Efron and C. Morris (1975), J. Am. Stat. Assoc. 70: 311-319, Table 1: hits in the first 45 at bats of 18 players,
    and their averages in the rest of the season. Shrinking to the mean they had 3.5 times less squared error. Hits are
    taken for mistakes and at bats for reviewed plays here; ours draws towards the mean a little less.
    """
    hits = np.array([18, 17, 16, 15, 14, 14, 13, 12, 11, 11, 10, 10, 10, 10, 10, 9, 8, 7])
    rest = ".346 .298 .276 .222 .273 .270 .263 .210 .269 .230 .264 .256 .303 .264 .226 .286 .316 .200"
    rest = np.array(rest.split(), float)
    player = [f"Player {number}" for number in range(18)]
    reviews = pd.DataFrame({"show_id": np.repeat(np.arange(45), 18), "song": player * 45})
    mistakes = reviews[np.arange(45 * 18) // 18 < np.tile(hits, 45)].assign(severity=1)
    table = rates(mistakes, reviews)
    ours, raw = ((table.rate - rest) ** 2).sum(), ((hits / 45 - rest) ** 2).sum()

    assert hits.tolist() == table.mistakes.tolist()
    assert 0.075488 == pytest.approx(raw, abs=1e-5)
    assert 2.5 < raw / ours < 4


def fitted_tonight(table, columns, song, spread):
    """Coefficients and their covariance with priors too wide to matter and no runs."""
    matrix = np.column_stack([np.ones(len(table)), table[columns]])
    rows = _Rows(matrix, np.zeros((len(table), 5)), np.asarray(song), table["at"].to_numpy())
    wide = np.array([(0.0, 1e3)] * matrix.shape[1])
    found = table.mistakes.to_numpy(float)
    songs = np.ones(np.max(song) + 1)
    return matrix, _coefficients(rows, found, np.zeros(len(table)), wide, spread, np.zeros(matrix.shape[1]), songs)


def test_tonights_regression_with_songs_alike_is_statsmodels():
    """
    With levels held at 1, statsmodels' Poisson equations give the same fit and errors.
    """
    table = performances(*tour(4, shows=30).tables)
    matrix, (beta, covariance, *_) = fitted_tonight(table, ["layoff", "position"], range(len(table)), 1e-6)
    groups = np.arange(len(table))
    theirs = GEE(table.mistakes, matrix, groups=groups, family=Poisson()).fit(cov_type="naive", scale=1.0)

    assert theirs.params.to_numpy() == pytest.approx(beta, abs=1e-4)
    assert theirs.bse.to_numpy() == pytest.approx(np.sqrt(np.diag(covariance)), rel=1e-2)


def test_tonights_regression_with_many_performances_a_song_is_that_of_integrals():
    """
    The likelihood of each song as an integral over its level (scipy's quad), made as large as it can be by scipy's
    Nelder-Mead: the same coefficients.
    """
    table = performances(*tour(4, shows=12).tables)
    table = table[table.song.isin(table.song.unique()[:12])].reset_index(drop=True)
    song = pd.factorize(table.song)[0]
    matrix, (beta, *_) = fitted_tonight(table, ["position"], song, 0.7)
    found = table.mistakes.to_numpy()

    def less_likely(at):
        rate = np.exp(matrix @ at)
        total = 0.0
        for one in range(song.max() + 1):
            own, many = rate[song == one], found[song == one]

            def density(level, own=own, many=many):
                # A level of mean 1 and standard deviation 0.7 in logarithms.
                return stats.poisson.pmf(many, np.exp(level) * own).prod() * stats.norm.pdf(level, -0.245, 0.7)

            total -= np.log(quad(density, -5, 4, limit=200)[0])
        return total

    best = minimize(less_likely, beta + 0.1, method="Nelder-Mead", options={"xatol": 1e-4, "fatol": 1e-7})

    assert best.x == pytest.approx(beta, abs=2e-3)


def test_chances_and_ranges_are_scipys_negative_binomial():
    """
    Scipy's nbinom and, where nothing scatters more than chance, its poisson; and the ends of four in five.
    """
    mean, spread = 6.5, 0.3
    theirs = stats.nbinom(1 / spread, 1 / (1 + mean * spread))
    ours = at_most(mean, spread)

    assert theirs.cdf(np.arange(len(ours))) == pytest.approx(ours, abs=1e-12)
    assert list(theirs.ppf([0.1, 0.9])) == np.searchsorted(ours, [0.1, 0.9]).tolist()
    assert stats.poisson(6.5).cdf(np.arange(20)) == pytest.approx(at_most(6.5, 0.0)[:20], abs=1e-7)
