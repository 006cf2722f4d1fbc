"""Playing against published values and other libraries."""

import numpy as np
import pandas as pd
import pytest
from sklearn.linear_model import PoissonRegressor
from statsmodels.genmod.cov_struct import Exchangeable
from statsmodels.genmod.families import Poisson
from statsmodels.genmod.generalized_estimating_equations import GEE

from tests.models.playing.simulated import tour
from tourstats.models.playing import gee
from tourstats.models.playing.again import icc, weighted_kappa
from tourstats.models.playing.contrast import _tested, adjusted
from tourstats.models.playing.design import design
from tourstats.models.playing.forecast import _posterior
from tourstats.models.playing.performances import performances


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


def test_intraclass_correlations():
    """
    P. E. Shrout and J. L. Fleiss (1979), Psychol. Bull. 86: 420-428, six targets and four judges (table from memory):
    0.17, 0.29, 0.71, 0.44, 0.62, 0.91. As fractions, recomputed by hand.
    """
    scores = np.array([[9, 2, 5, 8], [6, 1, 3, 2], [8, 4, 6, 8], [7, 1, 2, 6], [10, 5, 6, 9], [6, 2, 4, 7]], float)
    fractions = [448 / 2703, 184 / 635, 920 / 1287, 1792 / 4047, 736 / 1187, 3680 / 4047]
    found = list(icc(scores).values())

    assert fractions == pytest.approx(found)
    assert [0.17, 0.29, 0.71, 0.44, 0.62, 0.91] == [round(value, 2) for value in found]


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
    table = _tested("song", ["Ferry"], np.array([21.0]), np.array([11.0]), np.array([800 / 3011])).iloc[0]

    assert [1.971488, 0.8584264, 4.2772659] == pytest.approx([table.ratio, table.low, table.high], abs=1e-6)
    assert 0.112017 == pytest.approx(table.p, abs=1e-6)


@pytest.fixture(scope="module")
def regression():
    table = performances(*tour(3, "uneven", shows=40).tables)
    matrix = design(table).matrix
    matrix[:, 1:] -= matrix[:, 1:].mean(axis=0)
    return matrix, table.mistakes.to_numpy(float), table["at"].to_numpy()


def test_the_regression_is_statsmodels(regression):
    """
    GEE(Poisson(), Exchangeable()).fit(cov_type="bias_reduced") of statsmodels gives the same figures.
    """
    matrix, found, show = regression
    theirs = GEE(found, matrix, groups=show, family=Poisson(), cov_struct=Exchangeable()).fit(
        cov_type="bias_reduced", ctol=1e-10
    )
    ours = gee.fit(matrix, found, show)

    assert theirs.cov_struct.dep_params == pytest.approx(ours.correlation, abs=1e-4)
    assert theirs.params == pytest.approx(ours.coefficients, abs=1e-4)
    assert theirs.bse == pytest.approx(ours.errors, rel=1e-3)


def test_the_regression_of_single_counts_is_sklearns(regression):
    """
    With a show for each play there is no correlation: scikit-learn's PoissonRegressor(alpha=0) is the same fit.
    """
    matrix, found, _ = regression
    theirs = PoissonRegressor(alpha=0, fit_intercept=False, tol=1e-10, max_iter=2000).fit(matrix, found)
    ours = gee.fit(matrix, found, np.arange(len(found)))

    assert theirs.coef_ == pytest.approx(ours.coefficients, abs=2e-3)


def test_tonights_regression_is_sklearns():
    """
    With all coefficients drawn to 0 alike and songs as columns, scikit-learn's penalised PoissonRegressor agrees.
    """
    table = performances(*tour(4, shows=30).tables)
    matrix = np.column_stack([np.ones(len(table)), table.layoff])
    song, names = pd.factorize(table.song)
    drawn = 0.25
    ours = _posterior(matrix, song, table.mistakes, np.array([(0.0, drawn), (0.0, drawn)]), drawn**2)
    whole = np.column_stack([matrix, np.eye(len(names))[song]])
    theirs = PoissonRegressor(alpha=1 / drawn**2 / len(table), fit_intercept=False, tol=1e-10, max_iter=2000)
    theirs.fit(whole, table.mistakes)

    assert theirs.coef_ == pytest.approx(np.r_[ours.beta, ours.level], abs=1e-3)


def test_tonights_regression_without_songs_is_statsmodels():
    """
    With songs held at nothing and priors too wide to matter, statsmodels' Poisson GLM gives the same fit and errors.
    """
    table = performances(*tour(4, shows=30).tables)
    matrix = np.column_stack([np.ones(len(table)), table.layoff, table.position])
    groups = np.arange(len(table))
    theirs = GEE(table.mistakes, matrix, groups=groups, family=Poisson()).fit(cov_type="naive", scale=1.0)
    ours = _posterior(matrix, np.zeros(len(table), int), table.mistakes, np.array([(0.0, 1e3)] * 3), 1e-9)

    assert theirs.params.to_numpy() == pytest.approx(ours.beta, abs=1e-4)
    assert theirs.bse.to_numpy() == pytest.approx(np.sqrt(np.diag(ours.beta_covariance)), rel=1e-2)
