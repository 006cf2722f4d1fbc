"""Who comes again: found where the truth is known, honest where there is too little."""

import math

import numpy as np
import pandas as pd
import pytest

from tests.models.audience.tours import shows_of
from tourstats.models import audience
from tourstats.models.audience import coming_back as model
from tourstats.models.audience.from_sets import AudienceProblem
from tourstats.problems import TableProblem, TooFewProblem

TRUTH = np.array([0.8, 2.2, 0.7, 4.0])


def crowd(seed, people=3000, shows=16, truth=TRUTH):
    """Truth: chances to come ~ beta(0.8, 2.2), to be gone after a show ~ beta(0.7, 4). Temptation: those who have not
    come for long look as if they seldom came; most of them are gone.
    """
    random = np.random.default_rng(seed)
    comes, gone = random.beta(*truth[:2], people), random.beta(*truth[2:], people)
    first = random.integers(0, shows - 1, people)
    last = first + random.geometric(np.maximum(gone, 1e-9)) - 1
    at = np.arange(shows)
    there = (at > first[:, None]) & (at <= last[:, None]) & (random.random((people, shows)) < comes[:, None])
    there[np.arange(people), first] = True
    person, show = np.nonzero(there)
    return pd.DataFrame({"person": person, "show_id": show + 1})


def test_the_truth_is_found():
    """
    Means of both chances within a few hundredths, and the likelihood no lower than at the truth.
    """
    shows = shows_of(["a"] * 16)
    came = crowd(1, people=12_000)
    row = audience.returning(came, shows, ahead=1).parameters.iloc[0]

    assert row.come_chance == pytest.approx(0.8 / 3.0, abs=0.03)
    assert row.drop_chance == pytest.approx(0.7 / 4.7, abs=0.03)
    history, _ = model._histories(came.astype({"person": str}), shows)
    x, t_x, n, people = model._columns(history)
    assert row.log_likelihood >= people @ model.log_likelihood(TRUTH, x, t_x, n)


def test_the_interval_holds_how_many_really_come():
    """
    Eight tours: everything after the tenth show is hidden; the 95 % interval for the next four holds the truth in all
    but one at most, and it is no wider than a quarter of the forecast.
    """
    held, widths = 0, []
    shows = shows_of(["a"] * 14)
    for seed in range(8):
        came = crowd(seed, shows=14)
        early, late = came[came.show_id <= 10], came[came.show_id > 10]
        row = audience.returning(early, shows).ahead.iloc[3]
        really = late[late.person.isin(early.person)].person.nunique()
        held += row.low <= really <= row.high
        widths.append((row.high - row.low) / row.again)

    assert held >= 7
    assert np.median(widths) < 0.25


def test_the_shows_to_come_are_those_without_attendance():
    """
    By default as many as the table of shows has; five if it has none.
    """
    came = crowd(2, shows=10)

    assert [1, 2, 3] == audience.returning(came, shows_of(["a"] * 13)).ahead.shows.tolist()
    assert 5 == len(audience.returning(came, shows_of(["a"] * 10)).ahead)


def test_numbers_belong_together():
    """
    More shows ahead bring more people and visits, never more people than there are; the fit adds up to everybody.
    """
    got = audience.returning(crowd(3), shows_of(["a"] * 20))

    assert got.ahead.again.is_monotonic_increasing
    assert (got.ahead.again <= got.ahead.visits + 1e-9).all()
    assert (got.ahead.low <= got.ahead.again).all()
    assert got.ahead.again.iloc[0] == pytest.approx(got.ahead.visits.iloc[0])
    assert 3000 == got.fit.people.sum()
    assert got.fit.expected.sum() == pytest.approx(3000)


def test_chances_of_all_histories_sum_to_one():
    """
    Over every (x, t_x) with the number of ways to it, and in the closed form by repeat visits.
    """
    for n in (1, 5, 9):
        x = np.array([0, *(x for x in range(1, n + 1) for _ in range(x, n + 1))])
        t_x = np.array([0, *(t for x in range(1, n + 1) for t in range(x, n + 1))])
        ways = np.array([1, *(model_ways(x, t) for x, t in zip(x[1:], t_x[1:], strict=True))])
        chance = ways * np.exp(model.log_likelihood(TRUTH, x, t_x, np.full(len(x), n)))

        assert chance.sum() == pytest.approx(1)
        by_x = np.bincount(x, weights=chance)
        assert by_x.tolist() == pytest.approx(model.repeat_chances(TRUTH, n)[n].tolist())


def model_ways(x, t):
    """Choices of the other x - 1 visits among the t - 1 opportunities before the last one."""
    return math.comb(t - 1, x - 1)


def test_coming_again_is_one_less_all_ways_of_not_coming():
    """
    The chance to come at least once, against a direct sum over when somebody drops out (numerical integration).
    """
    random = np.random.default_rng(4)
    comes, gone = random.beta(*TRUTH[:2], 400_000), random.beta(*TRUTH[2:], 400_000)
    # History: 2 visits, the last at 3 of 5; there at 3, then gone at some time or only absent.
    absent = sum((1 - comes) ** i * (1 - gone) ** i * gone for i in range(2)) + ((1 - comes) * (1 - gone)) ** 2
    weight = comes**2 * (1 - comes) * (1 - gone) ** 3
    alive = weight * ((1 - comes) * (1 - gone)) ** 2
    come = alive * ((1 - gone) * comes + (1 - gone) ** 2 * (1 - comes) * comes)
    one = np.array([2]), np.array([3]), np.array([5])

    assert come.sum() / (weight * absent).sum() == pytest.approx(model.come_again(TRUTH, *one, 2)[0], rel=0.01)


def test_too_few_people_get_no_parameters():
    """
    The sentence says how many it takes.
    """
    came = crowd(5, people=25)
    with pytest.raises(TooFewProblem) as caught:
        audience.returning(came, shows_of(["a"] * 16))
    assert str(caught.value).startswith("Not enough people with a later show yet: ")
    once = pd.DataFrame({"person": range(61), "show_id": [1] * 60 + [2]})
    with pytest.raises(TooFewProblem, match="repeat visits yet: 0 so far, it takes 30"):
        audience.returning(once, shows_of(["a"] * 2))
    with pytest.raises(TableProblem, match="rows for 9"):
        audience.returning(pd.DataFrame({"person": ["a"], "show_id": [9]}), shows_of(["a"]))


def test_a_list_of_travellers_cannot_say_who_comes_again():
    """
    Those who came once are missing from it; a fit would find that nearly everybody comes again.
    """
    came = crowd(6)
    travellers = came[came.person.duplicated(keep=False)]
    with pytest.raises(AudienceProblem) as caught:
        audience.returning(travellers, shows_of(["a"] * 16))

    assert str(caught.value) == (
        "Everybody on this list came at least twice. How many will come again can only be told from a list that has "
        "those who came once as well, such as all ticket scans."
    )
