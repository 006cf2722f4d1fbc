"""Noise limits against the documents that set them."""

import pytest

from tourstats.models import care

DAY = [(94, 30), (100, 90), (85, 60)]
"""Sound check, show, and an hour in the bus: half an hour at 94, one and a half at 100, one at 85 dBA."""


@pytest.mark.parametrize(
    ("level", "minutes"),
    # NIOSH 98-126 (1998), recommended limit; 85 to 100 dBA also in the CDC's table.
    [(82, 960), (85, 480), (88, 240), (91, 120), (94, 60), (97, 30), (100, 15), (103, 7.5), (106, 3.75)],
)
def test_niosh_table(level, minutes):
    """
    Every level of the table that is a multiple of the exchange rate away from 85.
    """
    assert minutes == care.allowed_minutes(level)


@pytest.mark.parametrize(
    ("level", "minutes"),
    # The same document's formula, T = 480 / 2^((L - 85) / 3), worked out by hand.
    [(90, 151.1905), (95, 47.6220), (98, 23.8110), (105, 4.7247), (110, 1.4882)],
)
def test_niosh_formula(level, minutes):
    """
    Levels between those of the table.
    """
    assert minutes == pytest.approx(care.allowed_minutes(level), abs=5e-5)


@pytest.mark.parametrize(
    ("level", "hours"),
    # OSHA 29 CFR 1910.95, table G-16 (rounded at 92, 97 and 102: see the next test).
    [(90, 8), (95, 4), (100, 2), (105, 1), (110, 0.5), (115, 0.25)],
)
def test_osha_table_g_16(level, hours):
    """
    Every row of the table that is not rounded.
    """
    assert hours == care.allowed_minutes(level, "osha 90") / 60


@pytest.mark.parametrize(("level", "hours", "printed"), [(92, 6.0629, 6), (97, 3.0314, 3), (102, 1.5157, 1.5)])
def test_osha_table_g_16_is_rounded(level, hours, printed):
    """
    The formula, 8 / 2^((L - 90) / 5), and what table G-16 prints for it: one percent apart.
    """
    ours = care.allowed_minutes(level, "osha 90") / 60

    assert hours == pytest.approx(ours, abs=5e-5)
    assert printed == pytest.approx(ours, rel=0.011)


@pytest.mark.parametrize(("level", "hours"), [(80, 32), (85, 16), (87, 12.1), (92, 6.1)])
def test_osha_table_g_16a(level, hours):
    """
    OSHA 29 CFR 1910.95, appendix A, table G-16a: levels from 80 dBA, one decimal.
    """
    assert hours == round(care.allowed_minutes(level, "osha 80") / 60, 1)


def test_osha_example_in_table_g_16a():
    """
    Five hours at 85, two at 87, half an hour at 80: 49.34 % with the durations of table G-16a (official-style example).
    """
    day = [(85, 300), (87, 120), (80, 30)]
    rounded = 100 * sum(minutes / 60 / round(care.allowed_minutes(level, "osha 80") / 60, 1) for level, minutes in day)

    assert 49.34 == round(rounded, 2)
    assert 49.34 == pytest.approx(care.noise_dose(day, "osha 80"), abs=0.05)


def test_osha_example_with_both_thresholds():
    """
    An hour at 100, four at 90, three at 85: 118.75 % with the threshold of 80 dBA, 100 % with that of 90.
    """
    day = [(100, 60), (90, 240), (85, 180)]

    assert 118.75 == care.noise_dose(day, "osha 80")
    assert 100.0 == care.noise_dose(day, "osha 90")


def test_osha_eight_hours_at_92():
    """
    OSHA's worked example: 8 h at 92 dBA, 100 times 8 / 6.1 = 131 % with the table's 6.1 hours.
    """
    assert 131 == pytest.approx(care.noise_dose([(92, 480)], "osha 90"), abs=1)


def test_one_day_is_six_times_over_by_one_rule_and_legal_by_another():
    """
    Worked by hand: 0.5/1 + 1.5/0.25 + 1/8 of NIOSH's day; OSHA's with both thresholds.
    """
    assert 662.5 == care.noise_dose(DAY)
    assert 92.1319 == pytest.approx(care.noise_dose(DAY, "osha 80"), abs=5e-5)
    assert 85.8819 == pytest.approx(care.noise_dose(DAY, "osha 90"), abs=5e-5)
