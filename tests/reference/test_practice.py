"""The choice under a limit, and the spacing of runs, against published values."""

import pytest

from tourstats.models import practice

# 0/1 knapsack problems that go around with their optima (309 and 1735 printed in the copies): capacity, weights,
# values, optimum, and the greedy result by value per weight. Every optimum was recomputed by full enumeration.
PROBLEMS = {
    "309": (
        165,
        [23, 31, 29, 44, 53, 38, 63, 85, 89, 82],
        [92, 57, 49, 68, 60, 43, 67, 84, 87, 72],
        309,
        None,
    ),
    "51": (26, [12, 7, 11, 8, 9], [24, 13, 23, 15, 16], 51, 47),
    "107": (50, [31, 10, 20, 19, 4, 3, 6], [70, 20, 39, 37, 7, 5, 10], 107, 102),
    "900": (104, [25, 35, 45, 5, 25, 3, 2, 2], [350, 400, 450, 20, 70, 8, 5, 5], 900, 858),
    "1735": (170, [41, 50, 49, 59, 55, 57, 60], [442, 525, 511, 593, 546, 564, 617], 1735, 1478),
    "1458": (
        750,
        [70, 73, 77, 80, 82, 87, 90, 94, 98, 106, 110, 113, 115, 118, 120],
        [135, 139, 149, 150, 156, 163, 173, 184, 192, 201, 210, 214, 221, 229, 240],
        1458,
        1441,
    ),
}
CHOSEN = {"309": [0, 1, 2, 3, 5], "51": [1, 2, 3], "107": [0, 3], "1735": [1, 3, 6]}
"""Printed selections, counted from 0."""


def greedy(capacity, weights, values):
    """Best value by weight first, whatever still fits."""
    left, worth = capacity, 0
    for place in sorted(range(len(weights)), key=lambda place: -values[place] / weights[place]):
        if weights[place] <= left:
            left -= weights[place]
            worth += values[place]
    return worth


@pytest.mark.parametrize("name", PROBLEMS)
def test_published_knapsacks(name):
    """
    The published optimum, which taking the best by the minute first does not reach.
    """
    capacity, weights, values, optimum, by_greed = PROBLEMS[name]

    taken = practice.chosen(values, weights, capacity)

    assert optimum == sum(values[place] for place in taken)
    assert sum(weights[place] for place in taken) <= capacity
    assert by_greed in (None, greedy(capacity, weights, values))
    assert by_greed is None or by_greed < optimum
    assert CHOSEN.get(name, taken) == taken


@pytest.mark.parametrize(("days", "low", "high"), [(7, 1.4, 2.8), (365, 18, 37)])
def test_gaps_of_cepeda_and_others(days, low, high):
    """
    Cepeda, Vul, Rohrer, Wixted & Pashler (2008), Psychological Science 19:1095-1102: the best gap is 20 to 40 % of a
    week, and 5 to 10 % of a year.
    """
    assert low <= practice.suggest_gap(days) <= high
