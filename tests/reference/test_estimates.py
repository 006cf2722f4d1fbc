"""The shared formulas against published values."""

import numpy as np
import pytest

from tourstats.models.estimates import gamma_poisson, rate_interval


def numbers(text):
    return np.array([float(word) for word in text.split()])


# F. Garwood (1936), Biometrika 28: 437-442, exact 95 % limits. 0 and 10 also seen in a secondary copy; the others
# recomputed by root-finding on the Poisson tail.
GARWOOD = {
    0: (0, 3.6889),
    1: (0.0253, 5.5716),
    2: (0.2422, 7.2247),
    3: (0.6187, 8.7673),
    4: (1.0899, 10.2416),
    5: (1.6235, 11.6683),
    6: (2.2019, 13.0595),
    7: (2.8144, 14.4227),
    8: (3.4538, 15.7632),
    9: (4.1154, 17.0848),
    10: (4.7954, 18.3904),
    15: (8.3954, 24.7402),
    20: (12.2165, 30.8884),
    30: (20.2409, 42.8269),
    50: (37.1110, 65.9188),
    100: (81.3640, 121.6268),
}


@pytest.mark.parametrize("count", GARWOOD)
def test_exact_intervals_of_counts(count):
    """
    Garwood (1936).
    """
    low, high = rate_interval(count)

    assert GARWOOD[count] == (pytest.approx(float(low), abs=6e-5), pytest.approx(float(high), abs=6e-5))


def test_one_sided_upper_end_of_no_event():
    """
    Garwood (1936): 2.9957, the "rule of three".
    """
    assert pytest.approx(float(rate_interval(0, level=0.9)[1]), abs=5e-5) == 2.9957


# D. Clayton and J. Kaldor (1987), Biometrics 43: 671-681: lip cancer in 56 districts of Scotland. The expected counts
# are those with one decimal. Estimates about 1.88 and 1.32 are the paper's (from memory); further digits recomputed by
# direct maximisation and with statsmodels' NegativeBinomial.
OBSERVED = numbers(
    "9 39 11 9 15 8 26 7 6 20 13 5 3 8 17 9 2 7 9 7 16 31 11 7 19 15 7 10 16 11 5 3 7 8 11 9 11 8 6 4 10 8 2 6 19 3 2 "
    "3 28 6 1 1 1 1 0 0"
)
EXPECTED = numbers(
    "1.4 8.7 3.0 2.5 4.3 2.4 8.1 2.3 2.0 6.6 4.4 1.8 1.1 3.3 7.8 4.6 1.1 4.2 5.5 4.4 10.5 22.7 8.8 5.6 15.5 12.5 6.0 "
    "9.0 14.4 10.2 4.8 2.9 7.0 8.5 12.3 10.1 12.7 9.4 7.2 5.3 18.8 15.8 4.3 14.6 50.7 8.2 5.6 9.3 88.7 19.6 3.4 3.6 "
    "5.7 7.0 4.2 1.8"
)


def test_shrinkage_of_district_rates():
    """
    Clayton & Kaldor (1987): shape 1.88, rate 1.32, and the shrunken rates of the first and last districts.
    """
    model = gamma_poisson(OBSERVED, EXPECTED)
    shrunken = model.mean(OBSERVED, EXPECTED)

    assert pytest.approx([model.shape, model.rate], abs=1e-4) == [1.87949, 1.32167]
    assert pytest.approx(model.log_likelihood, abs=1e-6) == -181.576074
    assert pytest.approx(shrunken[:5], abs=1e-4) == [3.9974, 4.0791, 2.9802, 2.8468, 3.0026]
    assert pytest.approx(shrunken[[48, 54, 55]], abs=1e-4) == [0.3319, 0.3404, 0.6021]


def test_shrinkage_turns_the_order_of_two_districts_round():
    """
    Clayton & Kaldor (1987): the first district has the highest raw rate, the second the highest shrunken one.
    """
    shrunken = gamma_poisson(OBSERVED, EXPECTED).mean(OBSERVED, EXPECTED)

    assert np.argmax(OBSERVED / EXPECTED) == 0
    assert np.argmax(shrunken) == 1
