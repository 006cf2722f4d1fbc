"""Counts: weighted by who came back, with what rounding and sampling leave open."""

import numpy as np
import pandas as pd
import pytest
from statsmodels.stats.proportion import proportion_confint

from tests.models.audience.tours import plays_of, random_tour, shows_of
from tourstats.models import audience
from tourstats.problems import TableProblem

COLUMNS = ["show_id", "people", "earlier", "returning"]


def counts_of(*rows):
    return pd.DataFrame(rows, columns=COLUMNS)


def test_a_rounded_count_is_less_certain_than_an_exact_one():
    """
    300 of 2,100 is 250 to 350 of 2,050 to 2,150; 301 of 2,103 is itself. Both have chance in them besides.
    """
    rounded = audience.returning_shares(counts_of((2, 2100, 1, 300))).iloc[0]
    exact = audience.returning_shares(counts_of((2, 2103, 1, 301))).iloc[0]

    assert rounded.low < 250 / 2150 < exact.low < exact.share < exact.high < 350 / 2050 < rounded.high
    assert proportion_confint(301, 2103, method="wilson") == pytest.approx((exact.low, exact.high), abs=1e-9)


def test_the_unit_of_rounding_may_be_said():
    """
    Exactly 300 of exactly 2,100, or both to the next 500.
    """
    widths = [
        float((row.high - row.low).iloc[0])
        for row in (audience.returning_shares(counts_of((2, 2100, 1, 300)), rounded_to=unit) for unit in (1, 100, 500))
    ]

    assert widths == sorted(widths)
    assert widths[0] < 0.04
    assert widths[2] > 0.2


def test_few_people_asked_say_little():
    """
    Of 40 people asked in the queue, 6 had been there before: 300 of 2,100, with a far wider interval.
    """
    everybody = audience.returning_shares(counts_of((2, 2100, 1, 300)), rounded_to=1).iloc[0]
    forty = audience.returning_shares(counts_of((2, 2100, 1, 300)).assign(asked=40), rounded_to=1).iloc[0]

    assert everybody.share == forty.share
    assert forty.high - forty.low > 6 * (everybody.high - everybody.low)


def test_the_interval_holds_the_truth_behind_a_rounded_sample():
    """
    Truth: 13 % come back. Of 80 asked, scaled up to 2,100 and rounded to hundreds, 95 intervals in 100 hold it.
    """
    random = np.random.default_rng(1)
    asked = random.binomial(80, 0.13, 400)
    counts = pd.DataFrame({"show_id": 2, "people": 2100, "earlier": 1, "returning": np.round(asked / 80 * 21) * 100})
    got = audience.returning_shares(counts.assign(asked=80))

    assert ((got.low <= 0.13) & (got.high >= 0.13)).mean() >= 0.95
    assert (got.low > 0.02).mean() > 0.9


def test_one_count_weighs_the_two_sorts_of_people():
    """
    A quarter were there yesterday and know half of the set: the audience finds seven eighths fresh.
    """
    plays = plays_of([["Ferry", "Tin Rook"], ["Ferry", "Salt Road"]])
    row = audience.freshness_from_counts(plays, shows_of(["a"] * 2), counts_of((2, 204, 1, 51))).iloc[0]

    assert (0.5, 0.875) == (row.fresh_share, row.audience_fresh_share)
    assert row.low < 0.875 < row.high
    assert 204 == row.people


def test_counts_against_two_shows_leave_open_whether_they_are_the_same_people():
    """
    30 % and 20 % heard a song: from 30 % (the same people) to 50 % (others), 44 % if independent.
    """
    plays, shows = plays_of([["Ferry"], ["Ferry"], ["Ferry"]]), shows_of(["a"] * 3)
    counts = counts_of((3, 100_001, 1, 30_000), (3, 100_001, 2, 20_000))
    got = audience.freshness_from_counts(plays, shows, counts, rounded_to=1).iloc[-1]

    assert [0.56, 0.495, 0.703] == pytest.approx([got.audience_fresh_share, got.low, got.high], abs=1e-3)


def test_an_uncounted_show_has_no_row_and_no_share():
    """
    Nothing is made up for it.
    """
    plays, shows = random_tour(1)
    counts = counts_of((5, 2100, 4, 300))

    assert [5] == audience.freshness_from_counts(plays, shows, counts).show_id.tolist()
    assert 0 == len(audience.freshness_from_counts(plays, shows, counts.head(0)))


MORE = "Row 1 of the table of counts: `returning` is 11, but it has to be at most the 10 people there."
LATER = "Row 1 of the table of counts: `earlier` is 2, but it has to be a show before show 1."
UNKNOWN = (
    "The table of counts has rows for 9, which the table of shows does not have. Add the show, or take these rows out."
)


@pytest.mark.parametrize(
    ("row", "sentence"), [((2, 10, 1, 11), MORE), ((1, 10, 2, 5), LATER), ((2, 10, 9, 5), UNKNOWN)]
)
def test_a_count_that_cannot_be_is_answered(row, sentence):
    """
    More than were there, a later show, a show that is not there.
    """
    with pytest.raises(TableProblem) as caught:
        audience.freshness_from_counts(plays_of([["Ferry"], ["Ferry"]]), shows_of(["a"] * 2), counts_of(row))

    assert sentence == str(caught.value)
