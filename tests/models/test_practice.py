"""What to run in the minutes there are."""

import itertools
import subprocess
import sys

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tourstats.models import practice
from tourstats.problems import Problem, TableProblem

SONGS = pd.DataFrame(
    {
        "song": ["Ferry", "Copper Wire", "Tin Rook", "Salt Road"],
        "position": [1, 2, 3, 4],
        "expected": [0.2, 0.9, 0.4, 0.6],
        "minutes": [4.0, 5.0, 3.0, 6.0],
    }
)
TITLES = ("Ferry", "Copper Wire", "Tin Rook", "Salt Road")


def known(*expected, minutes=4.0, **columns):
    """Candidates with these expected mistakes."""
    return pd.DataFrame({"song": TITLES[: len(expected)], "expected": expected, "minutes": minutes, **columns})


@st.composite
def nights(draw):
    """A few songs, transitions among them, and the minutes: times in whole quarters of a minute."""
    number = draw(st.integers(1, 4))
    share = st.sampled_from([0.0, 0.1, 0.35, 0.5, 0.8, 1.0])
    quarters = st.integers(2, 32).map(lambda number: number / 4)
    songs = pd.DataFrame(
        {
            "song": TITLES[:number],
            "chance": draw(st.lists(share, min_size=number, max_size=number)),
            "expected": draw(st.lists(st.floats(0, 3), min_size=number, max_size=number)),
            "minutes": draw(st.lists(quarters, min_size=number, max_size=number)),
            "hard_minutes": draw(st.lists(quarters, min_size=number, max_size=number)),
        }
    )
    pairs = list(itertools.product(range(number), repeat=2))
    kept = draw(st.lists(st.sampled_from(pairs), unique=True, max_size=3))
    transitions = pd.DataFrame(
        {
            "song": [TITLES[a] for a, _ in kept],
            "next_song": [TITLES[b] for _, b in kept],
            "expected": draw(st.lists(st.floats(0, 3), min_size=len(kept), max_size=len(kept))),
            "minutes": draw(st.lists(quarters, min_size=len(kept), max_size=len(kept))),
        }
    )
    return songs, transitions, draw(st.integers(0, 160).map(lambda number: number / 4))


def by_trying_everything(songs, transitions, minutes, setup=0.5):
    """The most that any plan without a rest can avoid, by looking at every plan."""
    rows = songs.to_dict("records")
    pairs = transitions.to_dict("records")
    chance = {row["song"]: row["chance"] for row in rows}
    best = 0.0
    for ways in itertools.product(["", *practice.WAYS], repeat=len(rows)):
        avoids, lengths, whole = 0.0, [], set()
        for row, way in zip(rows, ways, strict=True):
            if way:
                avoids += row["chance"] * row["expected"] * practice.TAKES[way]
                lengths.append(min(row["hard_minutes"], row["minutes"]) if way == "hard section" else row["minutes"])
            if way == "whole run":
                whole.add(row["song"])
        for how in itertools.product(["", "alone", "free"], repeat=len(pairs)):
            free = [pair for pair, way in zip(pairs, how, strict=True) if way == "free"]
            if not runs_on(free, whole):
                continue
            alone = [pair for pair, way in zip(pairs, how, strict=True) if way == "alone"]
            lasts = [*lengths, *(pair["minutes"] for pair in alone)]
            pauses = max(len(lasts) - len(free) - 1, 0) * setup
            if sum(lasts) + pauses > minutes + 1e-9:
                continue
            more = sum(
                min(chance[pair["song"]], chance[pair["next_song"]]) * pair["expected"] for pair in [*free, *alone]
            )
            best = max(best, avoids + more * practice.TAKES["transition"])
    return best


def runs_on(free, whole):
    """Whether the songs of these transitions can be run in rows: each once, no circle."""
    starts, ends = [pair["song"] for pair in free], [pair["next_song"] for pair in free]
    if not whole.issuperset([*starts, *ends]) or len({*starts}) < len(free) or len({*ends}) < len(free):
        return False
    after = dict(zip(starts, ends, strict=True))
    for song in starts:
        here, seen = song, set()
        while here in after and here not in seen:
            seen.add(here)
            here = after[here]
        if here in seen:
            return False
    return True


def stretches(steps):
    """Minutes of playing between rests, pauses included, listening left out."""
    number = (steps.what == "rest").cumsum()
    played = steps[~steps.what.isin(["rest", "listen"])]
    return [
        float((part.starts + part.minutes).max() - part.starts.min())
        for _, part in played.groupby(number.loc[played.index])
    ]


@settings(max_examples=100)
@given(nights())
def test_no_plan_avoids_more(night):
    """
    Looking at every possible plan finds none that is better, with transitions, pauses and every way to run a song.
    """
    songs, transitions, minutes = night

    steps = practice.plan(songs, minutes, transitions=transitions)

    assert by_trying_everything(songs, transitions, minutes) == pytest.approx(steps.avoids.sum(), abs=1e-6)
    assert steps.empty or (steps.starts + steps.minutes).max() <= minutes + 1e-9


@given(nights(), st.randoms(use_true_random=False))
def test_neither_the_order_of_rows_nor_the_titles_matter(night, chance):
    """
    The same songs in another order, or under other names, get the same plan.
    """
    songs, transitions, minutes = night
    songs["position"] = range(1, len(songs) + 1)
    names = dict(zip(TITLES, ["Zinc", "Old Mill", "Lantern", "Ash"], strict=True))
    order = list(range(len(songs)))
    chance.shuffle(order)

    plain = practice.plan(songs, minutes, transitions=transitions)
    shuffled = practice.plan(songs.iloc[order], minutes, transitions=transitions[::-1])
    renamed = practice.plan(songs.replace({"song": names}), minutes, transitions=transitions.replace(names))

    pd.testing.assert_frame_equal(plain, shuffled)
    pd.testing.assert_frame_equal(plain.replace(names), renamed)


@given(nights(), st.integers(0, 80))
def test_more_minutes_never_avoid_less(night, more):
    """
    Whatever can be run in the minutes there are can be run in more of them.
    """
    songs, transitions, minutes = night

    less = practice.plan(songs, minutes, transitions=transitions).avoids.sum()

    assert practice.plan(songs, min(minutes + more / 4, 59), transitions=transitions).avoids.sum() >= less - 1e-9


def long_set(seed, songs=30):
    """A set as long as an evening, every transition new, lengths in whole seconds."""
    rng = np.random.default_rng(seed)
    titles = [f"Song {number}" for number in range(songs)]
    table = pd.DataFrame(
        {
            "song": titles,
            "position": range(1, songs + 1),
            "minutes": np.round(rng.uniform(150, 420, songs)) / 60,
            "expected": rng.gamma(1.0, 0.6, songs),
        }
    )
    return table, pd.DataFrame({"song": titles[:-1], "next_song": titles[1:]})


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("minutes", [60, 110, 119, 175])
def test_each_whole_hour_has_its_rest(seed, minutes):
    """
    No stretch of playing is longer than fifty minutes, everything ends in time, and nothing runs into the next step.
    """
    songs, transitions = long_set(seed)

    steps = practice.plan(songs, minutes, transitions=transitions)

    ends = steps.starts + steps.minutes
    assert max(stretches(steps)) <= 50 + 1e-5
    assert ends.max() <= minutes + 1e-5
    assert (steps.starts.to_numpy()[1:] >= ends.to_numpy()[:-1] - 1e-5).all()
    assert minutes // 60 == (steps.what == "rest").sum()
    assert [10.0] == steps.minutes[steps.what == "rest"].unique().tolist()


@pytest.mark.parametrize("seed", range(6))
def test_rests_cost_next_to_nothing(seed):
    """
    Cutting the playing up for rests keeps nearly all that as many minutes without rests would avoid.
    """
    songs, transitions = long_set(seed)

    with_rest = practice.plan(songs, 110, transitions=transitions).avoids.sum()
    # One pause more, since what follows a rest needs none.
    without = practice.plan(songs, 100.5, transitions=transitions, rest_minutes=0).avoids.sum()

    assert 0.97 * without <= with_rest <= without + 1e-9


def test_a_short_plan_has_no_rest():
    """
    Thirty-five minutes are played through.
    """
    songs, transitions = long_set(1)

    assert 0 == (practice.plan(songs, 35, transitions=transitions).what == "rest").sum()


@pytest.mark.parametrize(("many", "rests"), [(6, 0), (7, 1)])
def test_half_an_hour_of_playing_has_a_rest_where_there_is_an_hour(many, rests):
    """
    Songs of four minutes and their pauses, in 110 minutes: 26.5 minutes are played through, 30.5 are cut by a rest.
    """
    songs = pd.DataFrame({"song": [f"Qx {at}" for at in range(many)], "minutes": 4.0, "expected": 0.5})
    steps = practice.plan(songs, 110, ways=["whole run"])

    assert rests == (steps.what == "rest").sum()


def test_a_rest_falls_between_songs_that_run_on_where_stretches_would_be_uneven():
    """
    One song that is dearest, then ten that run on: not three minutes, a rest, and forty-odd without one.
    """
    titles = ["Salt Road", *(f"Qx {at}" for at in range(10))]
    songs = pd.DataFrame({"song": titles, "minutes": 4.0, "expected": [2.0, *[0.5] * 10]})
    pairs = pd.DataFrame({"song": titles[1:-1], "next_song": titles[2:], "expected": 0.2})
    steps = practice.plan(songs, 110, transitions=pairs, ways=["whole run"])
    after = steps.iloc[steps.index[steps.what == "rest"][0] + 1]

    assert ["Salt Road", *titles[1:]] == steps.song[steps.what == "whole run"].tolist()
    assert max(stretches(steps)) < 1.25 * np.mean(stretches(steps))
    assert ("transition", 0.5) == (after.what, after.minutes)


@pytest.mark.parametrize(
    ("many", "minutes", "why"),
    [
        (4, 60, "The plan ends after 18 of the 60 minutes: every song worth a run is in it."),
        (12, 27, ""),
        (12, 30, "The plan ends after 26 of the 30 minutes: what is left takes longer than that."),
        (13, 58, "The plan ends after 49 of the 58 minutes: hands that played for so long need a rest."),
    ],
)
def test_a_plan_says_why_it_ends_before_its_minutes(many, minutes, why):
    """
    Songs of four minutes, worth a whole run and nothing else, with half a minute between them.
    """
    songs = pd.DataFrame({"song": [f"Qx {at}" for at in range(many)], "minutes": 4.0, "expected": 0.5})
    steps = practice.plan(songs, minutes, ways=["whole run"])

    assert why == practice.why_it_ends(steps, minutes, practice.left_out(songs, steps))


def test_two_hours_with_little_to_run_have_no_rest():
    """
    A rest is kept where there is playing to rest from.
    """
    assert ["whole run"] * 4 == practice.plan(SONGS, 120).what.tolist()


def test_the_most_fragile_comes_first():
    """
    Chance times expected mistakes sets the order, not the order of the set.
    """
    steps = practice.plan(SONGS, 40)

    assert ["Copper Wire", "Salt Road", "Tin Rook", "Ferry"] == steps.song.tolist()


def test_songs_that_follow_on_are_run_in_a_row_and_their_transition_comes_free():
    """
    The transition between two songs that are run whole takes no minutes and no pause.
    """
    pair = pd.DataFrame({"song": ["Ferry"], "next_song": ["Copper Wire"], "expected": [0.3], "minutes": [2.0]})

    steps = practice.plan(SONGS, 40, transitions=pair)

    assert ["whole run", "transition", "whole run", "whole run", "whole run"] == steps.what.tolist()
    assert ["Ferry", "Ferry", "Copper Wire", "Salt Road", "Tin Rook"] == steps.song.tolist()
    assert ["Copper Wire", "Copper Wire", None, None, None] == steps.next_song.tolist()
    assert [0.0, 4.0, 4.0, 9.5, 16.0] == steps.starts.tolist()
    assert [0.066, 0.099, 0.297, 0.198, 0.132] == pytest.approx(steps.avoids.tolist())


def test_a_transition_can_be_run_by_itself():
    """
    With two minutes only, the end of one song into the start of the next is what is worth it.
    """
    pair = pd.DataFrame({"song": ["Ferry"], "next_song": ["Copper Wire"], "expected": [2.0]})

    steps = practice.plan(SONGS, 2, transitions=pair)

    assert [("transition", "Ferry", "Copper Wire", 1.5)] == list(
        steps[["what", "song", "next_song", "minutes"]].itertuples(index=False, name=None)
    )


def test_songs_that_would_run_on_in_a_circle_are_cut_where_it_costs_least():
    """
    Two songs that may follow each other are run in a row once, the better way round.
    """
    there_and_back = pd.DataFrame(
        {"song": ["Ferry", "Tin Rook"], "next_song": ["Tin Rook", "Ferry"], "expected": [0.2, 0.3], "minutes": 30.0}
    )
    steps = practice.plan(known(1.0, 1.0, 1.0).assign(minutes=5.0), 20, transitions=there_and_back)

    assert [("Tin Rook", "Ferry")] == list(
        steps.loc[steps.what == "transition", ["song", "next_song"]].itertuples(index=False, name=None)
    )


def test_without_the_instrument_one_listens():
    """
    At a hotel desk only listening is possible, and it needs no rest for the hands.
    """
    songs, transitions = long_set(3)
    steps = practice.plan(songs, 110, transitions=transitions, ways=["listen"])

    assert {"listen"} == set(steps.what)
    assert (steps.starts + steps.minutes).max() > 105


def test_listening_fills_what_the_hands_must_not():
    """
    In fifty-nine minutes fifty are played; in the nine that are left one listens, at the end.
    """
    songs, _ = long_set(3)
    steps = practice.plan(songs, 59)

    assert max(stretches(steps)) <= 50
    assert "listen" == steps.what.iloc[-1]


def test_a_song_twice_in_the_set_is_run_once_and_counts_twice():
    """
    Running it once takes its share away from both times it is played.
    """
    twice = pd.DataFrame({"song": ["Ferry", "Tin Rook", "Ferry"], "expected": [0.4, 0.7, 0.4], "minutes": 4.0})

    steps = practice.plan(twice, 60)

    assert [("Ferry", 0.264), ("Tin Rook", 0.231)] == [
        (row.song, pytest.approx(row.avoids)) for row in steps.itertuples()
    ]


@pytest.mark.parametrize("minutes", [0, 0.5, 1])
def test_no_minutes_give_an_empty_plan(minutes):
    """
    An empty plan has all its columns, and every song is among those that it leaves out.
    """
    steps = practice.plan(SONGS, minutes)

    assert (0, list(practice.plan(SONGS, 60).columns)) == (len(steps), list(steps.columns))
    assert list(TITLES) == sorted(practice.left_out(SONGS, steps).song, key=TITLES.index)


def test_no_songs_give_an_empty_plan():
    """
    A night without candidates is ordinary.
    """
    nothing = pd.DataFrame({"song": []})

    assert 0 == len(practice.plan(nothing, 60))
    assert 0 == len(practice.left_out(nothing, practice.plan(nothing, 60)))


def test_on_the_first_day_titles_are_enough():
    """
    No reviews, no lengths, no chances: what is assumed is said, and the songs are run in the order of the set.
    """
    first = pd.DataFrame({"song": list(TITLES), "position": [2, 1, 4, 3]})

    steps = practice.plan(first, 60)

    assert ["Copper Wire", "Ferry", "Salt Road", "Tin Rook"] == steps.song.tolist()
    assert "number 1 of the set; assumed, nothing reviewed yet" == steps.because[0]
    assert [
        "No chances were given: every song counts as played.",
        "Nothing was reviewed yet of any song: 0.3 mistakes per performance are assumed for each.",
        "No song's length is known: 4.0 minutes are assumed.",
        "A hard section is taken to be 40% of its song where its length is not given.",
    ] == practice.assumed(first)[:4]


def test_a_length_that_is_not_known_is_the_median_of_the_others():
    """
    Three lengths are known: the fourth is taken to be the middle one.
    """
    songs = known(1, 1, 1, 1, minutes=[3.0, 9.0, 5.0, None])

    steps = practice.plan(songs, 59)

    assert 5.0 == steps.set_index("song").minutes["Salt Road"]
    assert "The length of 1 of 4 songs is not known: 5.0 minutes, the median of the others, are assumed." in (
        practice.assumed(songs)
    )


def test_what_is_left_out_is_listed_with_what_it_costs():
    """
    The dearest first, a transition among the songs.
    """
    pair = pd.DataFrame({"song": ["Ferry"], "next_song": ["Tin Rook"], "expected": [0.5], "minutes": [9.0]})
    songs = known(0.2, 0.9, 0.4, chance=[1.0, 1.0, 0.5])
    steps = practice.plan(songs, 4, transitions=pair)

    missed = practice.left_out(songs, steps, transitions=pair)

    assert ["Copper Wire"] == steps.song.tolist()
    assert [("Ferry", "Tin Rook", 9.0, 0.0825), ("Ferry", None, 4.0, 0.066), ("Tin Rook", None, 4.0, 0.066)] == [
        (row.song, row.next_song, row.minutes, pytest.approx(row.costs)) for row in missed.itertuples()
    ]


@given(nights())
def test_every_song_is_in_the_plan_or_left_out(night):
    """
    No title is lost, and none is in both.
    """
    songs, transitions, minutes = night
    steps = practice.plan(songs, minutes, transitions=transitions)
    missed = practice.left_out(songs, steps, transitions=transitions)

    run = steps.song[steps.what.isin(practice.WAYS)].tolist()
    assert sorted(songs.song) == sorted([*run, *missed.song[missed.next_song.isna()]])


def test_the_reasons_are_in_words():
    """
    What is known of a song is said: its spot to watch, how long it was out, when it was last run.
    """
    songs = known(
        0.8, chance=[0.6], watch=["the bridge, bar 40"], layoff_shows=[14], layoff_days=[31], rehearsed_days=[40]
    )

    assert [
        (
            "watch: the bridge, bar 40; chance of being played 60%; out 31 days and 14 shows; last run 40 days ago; "
            "0.80 mistakes per performance expected"
        )
    ] == practice.plan(songs, 2).because.tolist()


def test_a_reason_that_the_caller_gives_comes_first():
    """
    It is not said twice how long the song was out.
    """
    songs = known(0.8, because=["new since last night"], layoff_shows=[14])

    assert ["new since last night; 0.80 mistakes per performance expected"] == practice.plan(songs, 9).because.tolist()


def test_another_share_can_be_taken_away():
    """
    Who thinks that a hard section does more than a whole run says so.
    """
    steps = practice.plan(known(1.0), 10, takes={"hard section": 0.9})

    assert [("hard section", 0.9)] == [(row.what, row.avoids) for row in steps.itertuples()]


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        (
            {"chance": [0.5, None, 1, 1]},
            "Row 2 of the table of candidates: `chance` is nan, but it has to be a number between 0 and 1.",
        ),
        (
            {"chance": [0.5, 1.2, 1, 1]},
            "Row 2 of the table of candidates: `chance` is 1.2, but it has to be a number between 0 and 1.",
        ),
        (
            {"expected": [0.5, 0.1, -1, 1]},
            "Row 3 of the table of candidates: `expected` is -1.0, but it has to be a number of at least 0, or empty.",
        ),
        (
            {"minutes": [0, 1, 1, 1]},
            "Row 1 of the table of candidates: `minutes` is 0, but it has to be a number over 0, or empty.",
        ),
        (
            {"minutes": ["long", 1, 1, 1]},
            "Row 1 of the table of candidates: `minutes` is 'long', but it has to be a number over 0, or empty.",
        ),
        (
            {"song": ["Ferry", "  ", "Tin Rook", "Salt Road"]},
            "Row 2 of the table of candidates: `song` is '  ', but it has to be a title.",
        ),
    ],
)
def test_a_wrong_cell_is_named(change, sentence):
    """
    The sentence says which row, which column, what is there and what may be.
    """
    with pytest.raises(TableProblem) as caught:
        practice.plan(SONGS.assign(**change), 60)

    assert sentence == str(caught.value)


@pytest.mark.parametrize(
    ("settings", "sentence"),
    [
        ({"minutes": -1}, "`minutes` is -1, but it has to be a number of minutes, 0 or more."),
        ({"minutes": float("nan")}, "`minutes` is nan, but it has to be a number of minutes, 0 or more."),
        ({"minutes": "an hour"}, "`minutes` is 'an hour', but it has to be a number of minutes, 0 or more."),
        ({"rest_minutes": 60}, "`rest_minutes` is 60, but it has to be less than 60."),
        ({"setup_minutes": 11}, "`setup_minutes` is 11, but it has to be no longer than a rest."),
        ({"ways": ["humming"]}, "`ways` may name whole run, hard section, listen; it named 'humming'."),
        (
            {"takes": {"humming": 1}},
            "`takes` may name whole run, hard section, listen, transition; it named 'humming'.",
        ),
        ({"takes": {"listen": 2}}, "`takes` for listen is 2, but it has to be a share between 0 and 1."),
        (
            {"transitions": pd.DataFrame({"song": ["Ferry"], "next_song": ["Gravel"]})},
            (
                'Row 1 of the table of transitions: `next_song` is "Gravel", which is not among the candidates. '
                "Add the song there, or take the transition out."
            ),
        ),
        (
            {"transitions": pd.DataFrame({"song": ["Ferry"]})},
            (
                "The table of transitions needs the column `next_song`; it has song. "
                "Add what is missing, or rename what is there."
            ),
        ),
    ],
)
def test_a_wrong_setting_is_named(settings, sentence):
    """
    The sentence says what was set and what it may be.
    """
    with pytest.raises(Problem) as caught:
        practice.plan(SONGS, **{"minutes": 60, **settings})

    assert sentence == str(caught.value)


def test_what_comes_in_is_left_as_it_was():
    """
    The tables of the caller are not written to.
    """
    songs, transitions = long_set(2)
    before = songs.copy(), transitions.copy()
    practice.plan(songs, 60, transitions=transitions)

    pd.testing.assert_frame_equal(before[0], songs)
    pd.testing.assert_frame_equal(before[1], transitions)


@given(
    st.lists(st.tuples(st.floats(0, 9), st.integers(0, 12)), max_size=8),
    st.integers(0, 30),
)
def test_nothing_else_that_fits_is_worth_more(items, capacity):
    """
    Every selection that fits is worth at most as much as the chosen one.
    """
    value, minutes = [item[0] for item in items], [item[1] for item in items]

    taken = practice.chosen(value, minutes, capacity)

    fits = [
        sum(value[place] for place in some)
        for size in range(len(items) + 1)
        for some in itertools.combinations(range(len(items)), size)
        if sum(minutes[place] for place in some) <= capacity
    ]
    assert sum(minutes[place] for place in taken) <= capacity
    assert max(fits) == pytest.approx(sum(value[place] for place in taken), abs=1e-6)


@pytest.mark.parametrize(
    ("arguments", "sentence"),
    [
        (([1, 2], [1], 5), "Nothing can be chosen: there are 2 values and 1 times."),
        (([1], [float("nan")], 5), "Nothing can be chosen: every value and every time has to be a number."),
        (([1], [-1], 5), "Nothing can be chosen: a time is below 0 minutes."),
    ],
)
def test_what_cannot_be_chosen_from_is_said(arguments, sentence):
    """
    Each wrong input has its sentence.
    """
    with pytest.raises(Problem) as caught:
        practice.chosen(*arguments)

    assert sentence == str(caught.value)


def test_the_solver_is_loaded_only_when_there_is_something_to_choose():
    """
    Opening a diary does not wait for it.
    """
    code = "import sys, tourstats.models.practice; sys.exit('scipy.optimize' in sys.modules)"

    assert 0 == subprocess.run([sys.executable, "-c", code], check=False).returncode


def test_what_was_run_already_is_not_run_again():
    """
    Runs took away as much as a whole run can: nothing is left for it. Where they took away less, what is left counts:
    by hand, 1 - 0.67 / 0.9 of 0.5.
    """
    take = practice.TAKES["whole run"]
    songs = known(0.5, 0.5, 0.1, minutes=4.0, done=[take, 0.1, 0.0])

    steps = practice.plan(songs, 60)

    assert ["Copper Wire", "Tin Rook"] == steps.song.tolist()
    assert (1 - (1 - take) / 0.9) * 0.5 == pytest.approx(steps.avoids[0])
    assert [] == practice.left_out(songs, steps).song.tolist()


def test_a_mistake_that_weighs_more_is_worth_more_minutes():
    """
    Twice the weight, twice the worth: the song that everybody hears comes first.
    """
    steps = practice.plan(known(0.5, 0.4, weight=[1.0, 2.0]), 5, ways=["whole run"])

    assert [("Copper Wire", 0.8 * practice.TAKES["whole run"])] == [
        (row.song, pytest.approx(row.avoids)) for row in steps.itertuples()
    ]


def test_a_hard_section_takes_what_lies_in_it():
    """
    Nine tenths of the mistakes in the hard section: running it takes nine tenths of what a whole run takes.
    """
    steps = practice.plan(known(1.0, minutes=8.0, hard_part=[0.9]), 4)

    assert [("hard section", 0.9 * practice.TAKES["whole run"])] == [
        (row.what, pytest.approx(row.avoids)) for row in steps.itertuples()
    ]


def test_without_any_review_no_decimals_are_given():
    """
    In the reasons of a plan: the order is that of what is known.
    """
    songs = pd.DataFrame({"song": list(TITLES)})
    steps = practice.plan(songs, 30)

    assert not steps.because.str.contains(r"\d\.\d").any()
