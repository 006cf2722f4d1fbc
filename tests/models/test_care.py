"""Reminders for ears and hands."""

import math

import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tourstats.models import care
from tourstats.problems import Problem

LEVELS = st.floats(40, 130)
SEGMENTS = st.lists(st.tuples(LEVELS, st.floats(0, 300)), max_size=5)


@given(LEVELS)
def test_three_decibels_more_halve_the_time(level):
    """
    The exchange rate of the recommended limit.
    """
    assert care.allowed_minutes(level) / 2 == pytest.approx(care.allowed_minutes(level + 3))


@given(SEGMENTS, SEGMENTS, st.sampled_from(sorted(care.RULES)))
def test_doses_of_a_day_add_up(morning, night, rule):
    """
    What was heard in the morning is not gone at night.
    """
    both = care.noise_dose(morning, rule) + care.noise_dose(night, rule)

    assert both == pytest.approx(care.noise_dose([*morning, *night], rule))


@given(SEGMENTS)
def test_what_the_limit_does_not_count_is_no_dose(segments):
    """
    The stricter threshold never gives more, and the recommended limit never gives less than either.
    """
    ninety, eighty = care.noise_dose(segments, "osha 90"), care.noise_dose(segments, "osha 80")

    assert ninety <= eighty
    assert eighty <= care.noise_dose(segments) + 1e-9


def test_a_table_of_stretches_is_as_good_as_pairs():
    """
    The forms keep tables.
    """
    day = pd.DataFrame({"minutes": [30, 60], "level_dba": [94, 85]})

    assert 62.5 == care.noise_dose(day)


def test_the_sentence_says_how_much_of_the_limit_it_is_and_whom_to_ask():
    """
    Time, level, share, limit, source, and who comes first.
    """
    assert (
        "90 minutes at 100 dBA is 600% of the recommended limit for a day (15 minutes at that level): a reminder, "
        "not advice; local rules and a hearing professional come first."
    ) == care.caution(100, 90)


@pytest.mark.parametrize(
    ("level", "lasts"), [(85, "8 hours"), (94, "60 minutes"), (106, "3.75 minutes"), (115, "28 seconds")]
)
def test_the_limit_is_said_in_a_unit_that_can_be_read(level, lasts):
    """
    Hours, minutes or seconds.
    """
    assert f"({lasts} at that level)" in care.caution(level, 30)


@pytest.mark.parametrize("level", [None, float("nan")])
def test_a_level_that_nobody_knows_is_said(level):
    """
    The reminder stands without a level too.
    """
    assert care.caution(level, 30).startswith(
        "Nobody has said how loud it is: at 100 dBA, the recommended limit for a day is 15"
    )


@given(st.one_of(st.none(), st.floats(0, 140)), st.floats(0, 600))
def test_no_sentence_promises_anything(level, minutes):
    """
    Every sentence defers to somebody, and none says that something does no harm.
    """
    for text in (care.caution(level, minutes), care.REST, care.__doc__):
        assert "professional" in text
        assert not {"safe", "safely", "harmless", "risk-free"} & set(text.lower().replace(",", " ").split())
        assert "safe" not in text.lower()


def test_a_caution_is_one_sentence_and_names_no_author():
    """
    One full stop, at the end; authors stand beside the sentence in the code.
    """
    assert 1 == care.REST.count(".")
    assert "Klickstein" not in care.REST


@pytest.mark.parametrize("level", [-3, 201, "loud", math.nan, True])
def test_a_level_that_cannot_be_is_said(level):
    """
    Louder than 200 dBA, below 0, or no number.
    """
    with pytest.raises(Problem) as caught:
        care.allowed_minutes(level)

    assert f"The level is {level!r}, but it has to be a number of dBA between 0 and 200." == str(caught.value)


@pytest.mark.parametrize("minutes", [-1, 1441, "long", math.nan])
def test_a_time_that_cannot_be_is_said(minutes):
    """
    Longer than a day, below 0, or no number.
    """
    with pytest.raises(Problem) as caught:
        care.caution(90, minutes)

    assert f"The time is {minutes!r}, but it has to be a number of minutes between 0 and 1440." == str(caught.value)


def test_a_rule_that_is_not_there_is_answered_with_those_that_are():
    """
    The right names are listed.
    """
    with pytest.raises(Problem) as caught:
        care.allowed_minutes(90, "local")

    assert "`rule` is one of niosh, osha 80, osha 90; it was 'local'." == str(caught.value)
