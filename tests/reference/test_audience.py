"""The audience's numbers against published values, each with its source."""

import math

import networkx as nx
import numpy as np
import pandas as pd
import pytest

from tourstats.models import audience
from tourstats.models.audience import coming_back as again
from tourstats.models.audience.from_sets import chao2

# Fader, Hardie & Shang (2010), Marketing Science 29(6): 1086-1108: one cohort of 11,104 donors and six yearly
# opportunities to give again. As in `lifetimes.datasets.load_donations()` (package lifetimes 0.11.3, MIT licence):
# (repeat gifts, opportunity of the last one): donors.
DONORS = {
    (0, 0): 3464, (1, 1): 1091, (1, 2): 277, (1, 3): 129, (1, 4): 78, (1, 5): 119, (1, 6): 129, (2, 2): 613,
    (2, 3): 255, (2, 4): 155, (2, 5): 173, (2, 6): 234, (3, 3): 322, (3, 4): 181, (3, 5): 225, (3, 6): 357,
    (4, 4): 240, (4, 5): 284, (4, 6): 512, (5, 5): 335, (5, 6): 728, (6, 6): 1203,
}  # fmt: skip
PUBLISHED = np.array([1.204, 0.750, 0.657, 2.783])

# Trees of 225 species in 50 plots of one hectare on Barro Colorado Island: in how many plots each species was
# (plots: species). Counted from `BCI` of the R package vegan 2.6-4.
BCI = {
    1: 21, 2: 19, 3: 10, 4: 5, 5: 6, 6: 3, 7: 5, 8: 7, 9: 6, 10: 5, 11: 3, 12: 6, 13: 4, 14: 4, 15: 2, 16: 5, 17: 4,
    18: 8, 19: 5, 20: 2, 21: 3, 22: 3, 23: 4, 24: 1, 25: 2, 26: 3, 27: 4, 28: 4, 30: 3, 31: 5, 32: 4, 33: 2, 34: 2,
    35: 4, 36: 2, 37: 3, 38: 2, 39: 3, 40: 2, 41: 2, 42: 1, 43: 3, 44: 3, 45: 4, 46: 4, 47: 3, 48: 7, 49: 5, 50: 7,
}  # fmt: skip

# Ants of Costa Rica in 200 samples at two heights: Longino & Colwell (2011), Ecosphere 2(3): 29, used in Colwell et
# al. (2012), J. Plant Ecology 5: 3-21, Table 6. In how many samples each species was.
ANTS_2000 = [80, 59, 34, 23, 19, 15, 13, 8, 8, 4, 3, 2, 2, 1]
ANTS_1500 = [
    *(144, 113, 79, 76, 74, 73, 53, 50, 43, 33, 32, 30, 29, 25, 25, 25, 24, 23, 23, 19, 18, 17, 17, 11, 11, 9, 9, 9, 9),
    *(6, 6, 5, 5, 5, 5, 4, 4, 3, 3, 2, 2, 2, 2, *[1] * 13),
]

# Janzen (1973), Ecology 54: 659-686 and 687-708: beetles of Osa, individuals by species (individuals: species); as in
# Colwell et al. (2012), Table 2.
BEETLES = {
    "second growth": {
        1: 70, 2: 17, 3: 4, 4: 5, 5: 5, 6: 5, 7: 5, 8: 3, 9: 1, 10: 2, 11: 3, 12: 2, 14: 2, 17: 1, 19: 2, 20: 3, 21: 1,
        24: 1, 26: 1, 40: 1, 57: 2, 60: 1, 64: 1, 71: 1, 77: 1,
    },
    "old growth": {1: 84, 2: 10, 3: 4, 4: 3, 5: 5, 6: 1, 7: 2, 8: 1, 14: 1, 42: 1},
}  # fmt: skip


def spread(counts, units):
    """A tour in which species are songs and sampling units are shows; which show has which is all the same."""
    start, rows = 0, []
    for song, count in enumerate(counts):
        rows += [((start + at) % units + 1, f"species {song}") for at in range(count)]
        start += count
    plays = pd.DataFrame(rows, columns=["show_id", "song"])
    plays["position"] = plays.groupby("show_id").cumcount() + 1
    dates = pd.date_range("2031-01-01", periods=units)
    return plays, pd.DataFrame({"show_id": range(1, units + 1), "date": dates})


def each(counted):
    return [count for count, species in counted.items() for _ in range(species)]


@pytest.mark.parametrize(
    ("counts", "units", "after"),
    [
        # Exact accumulation; first published as `specaccum(BCI, "exact")` of vegan, recomputed hypergeometrically.
        (each(BCI), 50, {1: 90.78, 5: 159.2363, 10: 182.5604, 25: 208.1696, 50: 225}),
        # Colwell et al. (2012), Table 6, and hypergeometrically.
        (ANTS_2000, 200, {10: 6.4801, 50: 11.1673, 100: 12.8119, 200: 14}),
        (ANTS_1500, 200, {10: 24.4595, 50: 40.8755, 100: 47.9826, 200: 56}),
    ],
    ids=["forest plots", "ants at 2000 m", "ants at 1500 m"],
)
def test_songs_heard_after_so_many_shows(counts, units, after):
    """
    Sample-based rarefaction: shows are sampling units, species are songs.
    """
    heard = audience.expected_heard(*spread(counts, units)).set_index("shows").expected

    assert list(after.values()) == pytest.approx([heard[k] for k in after], abs=5e-5)


@pytest.mark.parametrize(
    ("place", "after"),
    [
        # Colwell et al. (2012), Tables 2 and 3; recomputed with scipy.stats.hypergeom.
        ("second growth", {20: 15.2758, 100: 44.2958, 237: 70.1893, 400: 90.5849, 800: 126.7974}),
        ("old growth", {20: 15.8917, 100: 58.6172, 200: 98.6318, 237: 112}),
    ],
)
def test_rarefaction_of_single_plays(place, after):
    """
    With one song a show, the same formula is the individual-based rarefaction of the beetles.
    """
    songs = [f"species {number}" for number, count in enumerate(each(BEETLES[place])) for _ in range(count)]
    dates = pd.date_range("2031-01-01", periods=len(songs))
    plays = pd.DataFrame({"show_id": range(len(songs)), "position": 1, "song": songs})
    heard = audience.expected_heard(plays, pd.DataFrame({"show_id": range(len(songs)), "date": dates}))

    assert list(after.values()) == pytest.approx([heard.expected[k - 1] for k in after], abs=5e-5)


@pytest.mark.parametrize(
    ("counts", "units", "classic", "corrected"),
    [
        # `specpool(BCI)` of vegan 2.6-4 prints 236.3732 (classic, with (n - 1) / n).
        (each(BCI), 50, 236.3732, 235.29),
        # Colwell et al. (2012), Table 6.
        (ANTS_2000, 200, 14.24875, 14.0),
        (ANTS_1500, 200, 77.019375, 71.522),
    ],
    ids=["forest plots", "ants at 2000 m", "ants at 1500 m"],
)
def test_songs_unheard(counts, units, classic, corrected):
    """
    Chao2 with the factor (T - 1) / T, in both forms, each under its name.
    """
    tour = spread(counts, units)
    plain, other = audience.unheard(*tour).iloc[0], audience.unheard(*tour, bias_corrected=True).iloc[0]

    assert plain.estimate == pytest.approx(classic, abs=5e-5)
    assert other.estimate == pytest.approx(corrected, abs=5e-5)
    assert ("Chao2 (T - 1) / T", "Chao2 bias-corrected, (T - 1) / T") == (plain.variant, other.variant)
    assert plain.heard == other.heard == len(counts)


@pytest.mark.parametrize(
    # Colwell et al. (2012), Table 6, the three lower heights: samples, species, once, twice, Chao2.
    ("samples", "species", "once", "twice", "estimate"),
    [(599, 227, 49, 23, 279.1085), (230, 241, 71, 34, 314.8100), (150, 122, 28, 16, 146.3367)],
)
def test_songs_unheard_from_the_rarest_alone(samples, species, once, twice, estimate):
    """
    Only songs played once and twice matter; the others may have been played five times each.
    """
    counts = [1] * once + [2] * twice + [5] * (species - once - twice)

    assert audience.unheard(*spread(counts, samples)).estimate[0] == pytest.approx(estimate, abs=5e-5)


def test_error_of_songs_unheard():
    """
    `specpool(BCI)` of vegan prints chao.se 6.54361 (from memory). The interval is Chao's (1987) log-normal one.
    """
    row = audience.unheard(*spread(each(BCI), 50)).iloc[0]
    factor = math.exp(1.959964 * math.sqrt(math.log(1 + (6.54361 / 11.3732) ** 2)))

    assert row.se == pytest.approx(6.54361, abs=5e-5)
    assert (225 + 11.3732 / factor, 225 + 11.3732 * factor) == pytest.approx((row.low, row.high), abs=1e-3)


@pytest.mark.parametrize(
    ("place", "classic", "with_factor", "corrected"),
    [
        # Colwell et al. (2012), Table 2; scikit-bio 0.7.4, chao1(bias_corrected=True) for the last.
        ("second growth", 284.1176, 283.9700, 274.1667),
        ("old growth", 464.8, 463.3114, 428.9091),
    ],
)
def test_three_forms_of_the_estimate_are_told_apart(place, classic, with_factor, corrected):
    """
    Ours has the factor (n - 1) / n; without it, and in scikit-bio's bias-corrected form, the last digits differ.
    """
    counts = np.array(each(BEETLES[place]))
    n = int(counts.sum())
    plain = chao2(n, counts, bias_corrected=False, level=0.95)
    other = chao2(n, counts, bias_corrected=True, level=0.95)

    assert with_factor == pytest.approx(plain["estimate"], abs=5e-5)
    assert classic == pytest.approx(len(counts) + plain["unheard"] * n / (n - 1), abs=5e-5)
    assert corrected == pytest.approx(len(counts) + other["unheard"] * n / (n - 1), abs=5e-5)


def test_people_at_real_events():
    """
    Davis, Gardner & Gardner (1941): 18 women at 14 events, `networkx.davis_southern_women_graph()`. How many of each
    event's guests had been at an earlier one.
    """
    graph = nx.davis_southern_women_graph()
    rows = [(woman, int(event[1:])) for woman in graph.graph["top"] for event in graph[woman]]
    attendance = pd.DataFrame(rows, columns=["person", "show_id"])
    shows = pd.DataFrame({"show_id": range(1, 15), "date": pd.date_range("1936-01-01", periods=14)})
    plays = pd.DataFrame({"show_id": range(1, 15), "position": 1, "song": "Ferry"})
    fresh = audience.freshness(plays, shows, attendance)

    assert [3, 3, 6, 4, 8, 8, 10, 14, 12, 5, 4, 6, 3, 3] == fresh.attendees.tolist()
    assert [0, 2, 4, 4, 6, 6, 7, 11, 10, 5, 4, 6, 3, 3] == fresh["repeat"].tolist()
    assert 89 == fresh.attendees.sum() == 18 + fresh["repeat"].sum()


def donors():
    x, t_x = (np.array([history[side] for history in DONORS]) for side in (0, 1))
    return x, t_x, np.full(len(x), 6), np.array(list(DONORS.values()))


def test_coming_again_is_fitted_as_published():
    """
    Parameters 1.204, 0.750, 0.657, 2.783 and log likelihood -33225.6 (Fader, Hardie & Shang 2010, Table 3; lifetimes
    0.11.3 finds -33225.5813).
    """
    found, value = again.fit_bgbb(*donors())

    assert PUBLISHED == pytest.approx(found, abs=2e-3)
    assert value == pytest.approx(-33225.5813, abs=1e-3)
    x, t_x, n, people = donors()
    assert -33225.58175 == pytest.approx(people @ again.log_likelihood(PUBLISHED, x, t_x, n), abs=1e-3)


def test_gifts_to_expect_as_published():
    """
    In the next five years, by history (Fader, Hardie & Shang 2010, Table 5): more gifts long ago mean less, not more.
    """
    found, _ = again.fit_bgbb(*donors())
    published = {
        (6, 6): 3.753, (5, 6): 3.232, (5, 5): 1.813, (4, 6): 2.711, (4, 5): 2.030, (4, 4): 0.583, (3, 6): 2.190,
        (3, 3): 0.224, (2, 6): 1.669, (2, 2): 0.119, (1, 6): 1.148, (1, 5): 1.022, (1, 4): 0.839, (1, 3): 0.594,
        (1, 2): 0.314, (1, 1): 0.086, (0, 0): 0.073, (2, 3): 0.536,
    }  # fmt: skip
    x, t_x = (np.array([history[side] for history in published]) for side in (0, 1))
    expected = again.expected_visits(found, x, t_x, np.full(len(x), 6), 5)

    assert list(published.values()) == pytest.approx(expected, abs=1e-3)


def test_mean_gifts_as_published():
    """
    E[X(6)] = 2.220169 and E[X(11)] = 3.388654 (lifetimes 0.11.3 and a direct sum), from chances by number of gifts.
    """
    found, _ = again.fit_bgbb(*donors())
    chances = again.repeat_chances(found, 11)

    assert 2.220169 == pytest.approx(chances[6] @ np.arange(12), abs=1e-4)
    assert 3.388654 == pytest.approx(chances[11] @ np.arange(12), abs=1e-4)


def test_the_whole_way_from_attendance_finds_the_same():
    """
    Donors as people who first came to show 1: parameters from the table of attendance are those of the fit.
    """
    rows, person = [], 0
    for (x, t_x), people in DONORS.items():
        visits = [1, *range(2, x + 1), 1 + t_x] if x else [1]
        for _ in range(people):
            rows += [(person, show) for show in visits]
            person += 1
    attendance = pd.DataFrame(rows, columns=["person", "show_id"])
    shows = pd.DataFrame({"show_id": range(1, 13), "date": pd.date_range("2031-01-01", periods=12)})
    got = audience.returning(attendance, shows)

    assert PUBLISHED == pytest.approx(got.parameters.loc[0, ["alpha", "beta", "gamma", "delta"]].tolist(), abs=2e-3)
    assert -33225.5813 == pytest.approx(got.parameters.log_likelihood[0], abs=1e-3)
    x, t_x, n, people = donors()
    assert got.ahead.visits[4] == pytest.approx(people @ again.expected_visits(PUBLISHED, x, t_x, n, 5), rel=1e-3)
    assert 24652.76 == pytest.approx((got.fit.expected * got.fit.repeats).sum(), abs=1)
