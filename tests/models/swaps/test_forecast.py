"""Forecasts keep their laws on any tour, and say what can be said on small ones."""

from dataclasses import fields, replace
from itertools import product

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats
from scipy.special import logit

from tests.models.swaps import leaders
from tourstats.models import swaps
from tourstats.models.swaps import pool, reasons, rules
from tourstats.models.swaps.forecasting import interval
from tourstats.models.swaps.history import History, read
from tourstats.models.swaps.ledger import Ledger
from tourstats.models.swaps.sizes import Sizes
from tourstats.problems import Problem, UnknownSongProblem

COLUMNS = ["song", "chance", "in_last_set", "low", "high", "because"]
NEXT = {"date": "2032-06-01", "city": "town 1", "leg": "leg 2"}


def told(sets, songs=None, **more):
    """Tables of a tour from its sets."""
    plays = pd.DataFrame(
        [(t + 1, k + 1, song) for t, titles in enumerate(sets) for k, song in enumerate(titles)],
        columns=["show_id", "position", "song"],
    )
    shows = pd.DataFrame({"show_id": range(1, len(sets) + 1), "date": pd.date_range("2031-03-01", periods=len(sets))})
    titles = sorted({song for titles in sets for song in titles}) if songs is None else songs
    return plays, shows.assign(**more), pd.DataFrame({"song": titles})


@st.composite
def tours(draw):
    """Small tours of any kind."""
    songs = [f"Song {k}" for k in range(draw(st.integers(2, 9)))]
    sets = draw(
        st.lists(st.lists(st.sampled_from(songs), min_size=1, max_size=5, unique=True), min_size=1, max_size=14)
    )
    return sets, songs


@given(tours())
def test_chances_are_chances_and_make_a_set(tour):
    """
    Between 0 and 1, and together the expected number of songs, which is near the numbers that there were.
    """
    sets, songs = tour
    said = swaps.forecast(*told(sets, songs), NEXT)

    assert COLUMNS == list(said.songs.columns)
    assert said.songs.chance.between(0, 1).all()
    assert (said.songs.low <= said.songs.chance + 1e-12).all()
    assert (said.songs.chance <= said.songs.high + 1e-12).all()
    assert min(map(len, sets)) - 2.5 < said.songs.chance.sum() < max(map(len, sets)) + 2.5
    assert said.size == pytest.approx(said.songs.chance.sum(), abs=1e-6)
    assert said.counts.chance.sum() == pytest.approx(1)


@given(tours(), st.integers(1, 5))
def test_chances_add_up_to_the_size_that_is_known(tour, size):
    """
    A set of known size is filled, unless there are not so many songs.
    """
    sets, songs = tour
    said = swaps.forecast(*told(sets, songs), NEXT, set_size=size)

    assert said.songs.chance.sum() == pytest.approx(min(size, len(songs)), abs=0.01)


@given(tours())
def test_expected_swaps_are_the_chances_of_the_songs_outside(tour):
    """
    Counts and chances tell the same story.
    """
    sets, songs = tour
    said = swaps.forecast(*told(sets, songs), NEXT)
    outside = said.songs[~said.songs.in_last_set].chance.sum()

    assert (said.counts.swaps * said.counts.chance).sum() == pytest.approx(outside, abs=1e-3)


@given(tours(), st.randoms(use_true_random=False))
def test_names_and_rows_may_change_places(tour, random):
    """
    Other titles for the songs, rows in another order, other show ids: the same chances.
    """
    sets, songs = tour
    plays, shows, repertoire = told(sets, songs)
    other = songs.copy()
    random.shuffle(other)
    renamed = dict(zip(songs, other, strict=True))
    named = {show: f"show {k}" for show, k in zip(shows.show_id, random.sample(range(99), len(shows)), strict=True)}
    turned = plays.assign(song=plays.song.map(renamed), show_id=plays.show_id.map(named))

    here = swaps.forecast(plays, shows, repertoire, NEXT).songs.set_index("song").chance
    there = (
        swaps.forecast(
            turned.sample(frac=1, random_state=1),
            shows.assign(show_id=shows.show_id.map(named)).iloc[::-1],
            pd.DataFrame({"song": other[::-1]}),
            NEXT,
        )
        .songs.set_index("song")
        .chance
    )

    np.testing.assert_allclose(there.loc[[renamed[song] for song in here.index]], here, rtol=0, atol=1e-12)


@pytest.mark.parametrize("kind", [leaders.by_town, leaders.by_queue, leaders.by_programme])
def test_names_do_not_matter_on_a_whole_tour(kind):
    """
    A tour of forty shows with every title changed for another.
    """
    tour = kind(shows=40)
    titles = tour.songs.song.tolist()
    renamed = dict(zip(titles, np.random.default_rng(3).permutation(titles), strict=True))

    here = swaps.backtest(tour.plays, tour.shows, tour.songs)
    there = swaps.backtest(
        tour.plays.assign(song=tour.plays.song.map(renamed)),
        tour.shows,
        pd.DataFrame({"song": sorted(titles)}),
    )
    both = here.assign(song=here.song.map(renamed)).merge(there, on=["show_id", "song"])

    assert len(here) == len(both)
    np.testing.assert_allclose(both.chance_x, both.chance_y, rtol=0, atol=1e-12)


def test_what_comes_later_changes_nothing_before():
    """
    Sets, towns and legs from show 25 on thrown together anew: forecasts up to show 25 are the same to the last bit.
    """
    tour = leaders.by_town(shows=40)
    rng = np.random.default_rng(9)
    late = tour.plays.show_id >= 25
    plays = tour.plays.copy()
    plays.loc[late, "song"] = rng.permutation([*tour.songs.song, *"XYZ"])[rng.integers(0, 60, late.sum())]
    shows = tour.shows.copy()
    after = shows.show_id > 25
    shows.loc[after, "city"] = rng.permutation(shows.loc[after, "city"])

    here = swaps.backtest(tour.plays, tour.shows, tour.songs).query("show_id <= 25")
    there = swaps.backtest(plays, shows, tour.songs).query("show_id <= 25")

    pd.testing.assert_frame_equal(here.drop(columns="played"), there.drop(columns="played"), check_exact=True)
    assert not here[here.show_id == 25].played.equals(there[there.show_id == 25].played)


def test_a_forecast_is_what_the_backtest_says_of_that_show():
    """
    Forecast before show 31 from the shows before it, or looking back: the same to the last bit.
    """
    tour = leaders.by_town()
    past = tour.plays[tour.plays.show_id < 31]
    show = tour.shows[tour.shows.show_id == 31].iloc[0].to_dict()

    looking_back = swaps.backtest(tour.plays, tour.shows, tour.songs).query("show_id == 31").set_index("song").chance
    before = swaps.forecast(past, tour.shows, tour.songs, show).songs.set_index("song").chance

    assert before.loc[looking_back.index].tolist() == looking_back.tolist()


def test_later_shows_in_the_diary_are_not_looked_at():
    """
    A forecast for a day in the past stands on the shows before that day.
    """
    tour = leaders.by_taste(shows=30)
    show = tour.shows[tour.shows.show_id == 21].iloc[0].to_dict()

    whole = swaps.forecast(tour.plays, tour.shows, tour.songs, show)
    cut = swaps.forecast(tour.plays[tour.plays.show_id < 21], tour.shows, tour.songs, show)

    assert 20 == whole.shows == cut.shows
    pd.testing.assert_frame_equal(whole.songs, cut.songs)


def test_a_song_that_is_never_played_changes_little():
    """
    One more song in the repertoire that nobody plays.
    """
    tour = leaders.by_taste()
    more = pd.concat([tour.songs, pd.DataFrame({"song": ["Never"]})])

    here = swaps.forecast(tour.plays, tour.shows, tour.songs, NEXT).songs.set_index("song").chance
    there = swaps.forecast(tour.plays, tour.shows, more, NEXT).songs.set_index("song").chance

    assert there["Never"] < 0.05
    assert (there[here.index] - here).abs().max() < 0.03


def test_ties_are_not_in_the_order_of_the_alphabet():
    """
    Songs of the same chance come in a drawn order, the same each time.
    """
    sets = [["Lead"]] * 6
    songs = ["Lead", *(f"Other {k:02d}" for k in range(20))]
    first = swaps.forecast(*told(sets, songs), NEXT).songs
    others = first.song[1:].tolist()

    assert others != sorted(others)
    assert others != sorted(others, reverse=True)
    assert swaps.forecast(*told(sets, songs), NEXT).songs.song.tolist() == first.song.tolist()


# ---------------------------------------------------------------------------- what the tables may say


def test_a_retired_song_does_not_come():
    """
    It has no chance from now on; past forecasts knew nothing of it.
    """
    tour = leaders.by_taste(shows=20)
    gone = tour.plays.song.value_counts().index[0]
    songs = tour.songs.assign(status=np.where(tour.songs.song == gone, "retired", "active"))

    said = swaps.forecast(tour.plays, tour.shows, songs, NEXT)
    back = swaps.backtest(tour.plays, tour.shows, songs)

    assert 0.0 == said.songs.set_index("song").chance[gone]
    assert 12 == said.songs.chance.sum().round()
    pd.testing.assert_frame_equal(back, swaps.backtest(tour.plays, tour.shows, tour.songs))


def test_a_song_is_a_candidate_from_the_day_it_joined():
    """
    Not the day before; or from the show after it was played, if that was earlier.
    """
    sets = [["A", "B"], ["A", "B"], ["A", "C"], ["B", "C"], ["A", "C"]]
    plays, shows, songs = told(sets, ["A", "B", "C", "D"])
    songs["since"] = [None, None, "2031-03-05", "2031-03-04"]

    back = swaps.backtest(plays, shows, songs, start=1)
    first = back.groupby("song").show_id.min()

    assert {"A": 2, "B": 2, "C": 4, "D": 4} == first.to_dict()


def test_a_played_song_that_is_in_no_list_is_one_of_the_repertoire():
    """
    An empty list of songs is enough.
    """
    tour = leaders.by_taste(shows=20)
    said = swaps.forecast(tour.plays, tour.shows, tour.songs.iloc[:0], NEXT)

    assert set(tour.plays.song) == set(said.songs.song)
    assert said.songs.chance.sum() <= 12.5


def test_titles_alone_are_enough():
    """
    Only the required columns, shows without town or leg.
    """
    tour = leaders.by_runs(shows=15)
    said = swaps.forecast(tour.plays, tour.shows[["show_id", "date"]], tour.songs, {})

    assert 12 == pytest.approx(said.songs.chance.sum(), abs=0.5)


def test_a_new_release_may_come_in_more_often():
    """
    Leader who plays what is newly released: the flag is learned from.
    """
    rng = np.random.default_rng(4)
    songs = [f"Song {k:02d}" for k in range(30)]
    new = songs[:6]
    sets = [list(rng.choice(new, 3, replace=False)) + list(rng.choice(songs[6:], 3, replace=False)) for _ in range(20)]
    plays, shows, repertoire = told(sets, songs)
    flagged = repertoire.assign(new_release=repertoire.song.isin(new))
    unheard = pd.DataFrame({"song": ["Fresh", "Stale"], "new_release": [True, False]})

    said = swaps.forecast(plays, shows, pd.concat([flagged, unheard]), NEXT).songs.set_index("song").chance

    assert said["Fresh"] > 1.2 * said["Stale"]


def test_the_town_is_learned_from():
    """
    Leader who never repeats in a town what it heard at the last visit.
    """
    sets = [["A", "B", "C"] if (t // 2) % 2 == 0 else ["D", "E", "F"] for t in range(24)]
    plays, shows, songs = told(sets, city=["Here" if t % 2 else "There" for t in range(24)])

    here = swaps.forecast(plays, shows, songs, {"date": "2031-04-01", "city": "Here"}).songs.set_index("song").chance

    assert here["A"] > 0.7
    assert here["D"] < 0.3


# ---------------------------------------------------------------------------- small and odd diaries


def test_an_empty_diary_gives_empty_tables_and_says_what_to_do():
    """
    No set yet: no error, and a way out.
    """
    plays, shows, songs = told([["A"]])
    said = swaps.forecast(plays.iloc[:0], shows.iloc[:0], songs, {"date": "2031-03-02"})

    assert 0 == len(said.songs) == len(said.counts) == said.shows
    assert COLUMNS == list(said.songs.columns)
    assert "No set in the diary yet: log one, and this fills." == said.note
    assert 0 == len(swaps.backtest(plays.iloc[:0], shows.iloc[:0], songs))
    assert 0 == len(swaps.coming(plays.iloc[:0], shows.iloc[:0], songs))


def test_on_the_opening_night_all_songs_are_alike():
    """
    Nothing to go by but the size of the set, and what is known.
    """
    plays, shows, songs = told([["A"]], list("ABCD"))
    said = swaps.forecast(plays.iloc[:0], shows, songs, {"date": "2031-02-01"}, set_size=2, known=["B"])

    assert {"A": 1 / 3, "B": 1.0, "C": 1 / 3, "D": 1 / 3} == pytest.approx(
        dict(zip(said.songs.song, said.songs.chance, strict=True))
    )


def test_after_one_show_it_is_an_early_guess():
    """
    The last set is likelier than the rest, and the page can say how little it stands on.
    """
    said = swaps.forecast(*told([["A", "B"]], list("ABCDEF")), NEXT)
    chance = said.songs.set_index("song").chance

    assert "Early guess: 1 set so far." == said.note
    assert min(chance["A"], chance["B"]) > max(chance[list("CDEF")])


def test_one_song_every_night():
    """
    A repertoire of one.
    """
    said = swaps.forecast(*told([["A"]] * 10), NEXT)

    assert [("A", pytest.approx(1, abs=0.01))] == list(zip(said.songs.song, said.songs.chance, strict=True))
    assert 0 == said.counts.set_index("swaps").chance.idxmax()


def test_everybody_always_in():
    """
    The whole repertoire every night leaves nothing to say.
    """
    said = swaps.forecast(*told([list("ABCDE")] * 12), NEXT)

    assert said.songs.chance.min() > 0.97


def test_a_set_longer_than_all_that_was_known():
    """
    Ten new songs on one night: a forecast afterwards, and before, is possible.
    """
    sets = [["A", "B"]] * 9 + [list("CDEFGHIJKL")]
    plays, shows, songs = told(sets)

    assert 0.5 < swaps.forecast(plays, shows, songs.iloc[:0], NEXT).songs.chance.sum() < 12
    before = swaps.forecast(plays[plays.show_id < 10], shows, songs.iloc[:2], NEXT, set_size=9).songs
    assert 2 == pytest.approx(before.chance.sum())


def test_two_shows_a_day_and_a_song_twice_in_a_set():
    """
    The number on the day says which was first; a song counts once for its set.
    """
    plays, shows, songs = told([["A", "B", "A"], ["B", "C"], ["A", "C"]], list("ABCD"))
    shows["date"] = "2031-03-01"
    shows["number"] = [2, 1, 3]

    back = swaps.backtest(plays, shows, songs, start=1)

    assert [1, 3] == back.show_id.unique().tolist()
    assert {"B": True, "C": True, "A": False, "D": False} == back[back.show_id == 1].set_index(
        "song"
    ).in_last_set.to_dict()
    assert ["A", "B"] == back[(back.show_id == 1) & back.played].song.tolist()


def test_before_the_second_show_of_a_day_only_the_first_is_known():
    """
    A next show on a day with shows comes after those with a smaller number, or after all if it has none.
    """
    plays, shows, songs = told([["A"], ["B"], ["C"]])
    shows["date"] = "2031-03-01"
    shows["number"] = [1, 2, 3]

    assert 1 == swaps.forecast(plays, shows, songs, {"date": "2031-03-01", "number": 2}).shows
    assert 3 == swaps.forecast(plays, shows, songs, {"date": "2031-03-01"}).shows


# ---------------------------------------------------------------------------- what is known


@pytest.fixture(scope="module")
def tour():
    return leaders.by_runs(shows=40)


def test_known_songs_are_sure_and_the_rest_share_what_is_left(tour):
    """
    Two in, one out, of twelve places.
    """
    plain = swaps.forecast(tour.plays, tour.shows, tour.songs, NEXT, set_size=12).songs
    a, b, c = plain.song.iloc[[0, 30, 3]]
    said = swaps.forecast(
        tour.plays, tour.shows, tour.songs, NEXT, set_size=12, known={a: True, b: True, c: False}
    ).songs.set_index("song")

    assert [1.0, 1.0, 0.0] == said.chance[[a, b, c]].tolist()
    assert 12 == pytest.approx(said.chance.sum(), abs=1e-6)
    assert ["known to be in", "known not to be in"] == said.because[[a, c]].tolist()


def test_learning_a_song_changes_no_chance_on_the_average(tour):
    """
    The chances without knowing are the mean of the chances with it in, and with it out.
    """
    plain = swaps.forecast(tour.plays, tour.shows, tour.songs, NEXT).songs.set_index("song").chance
    song = plain.index[8]
    in_, out = (
        swaps.forecast(tour.plays, tour.shows, tour.songs, NEXT, known={song: what}).songs.set_index("song").chance
        for what in (True, False)
    )

    mean = plain[song] * in_[plain.index] + (1 - plain[song]) * out[plain.index]

    np.testing.assert_allclose(mean, plain, atol=1e-6)


def test_a_list_of_titles_is_known_to_be_in(tour):
    """
    A list, a single title and True say the same.
    """
    song = tour.songs.song.iloc[0]
    said = [
        swaps.forecast(tour.plays, tour.shows, tour.songs, NEXT, known=known).songs
        for known in ([song], song, {song: True})
    ]

    pd.testing.assert_frame_equal(said[0], said[1])
    pd.testing.assert_frame_equal(said[0], said[2])


def test_a_place_that_is_taken_speaks_against_who_always_has_it():
    """
    Opener and closer: when another song opens, the opener has lost its place, the closer not.
    """
    rng = np.random.default_rng(1)
    sets = [["Opener", *rng.choice(list("ABCDEFGH"), 4, replace=False), "Closer"] for _ in range(20)]
    sets[5], sets[12] = ["A", *"BCDE", "Closer"], ["Opener", *"BCDE", "F"]
    tables = told(sets)

    plain = swaps.forecast(*tables, NEXT, set_size=6, known=["A"]).songs.set_index("song").chance
    placed = swaps.forecast(*tables, NEXT, set_size=6, known={"A": 1}).songs.set_index("song").chance

    assert placed["Opener"] < plain["Opener"] - 0.1
    assert placed["Closer"] > plain["Closer"] - 0.01


def test_half_a_set_list_helps_with_the_other_half(tour):
    """
    Knowing the first half of each set lowers the loss on the songs that are still open.
    """
    losses = []
    for show in tour.shows.iloc[20::3].to_dict("records"):
        played = tour.plays[tour.plays.show_id == show["show_id"]].sort_values("position")
        half = dict(zip(played.song[:6], played.position[:6], strict=True))
        open_ = [song for song in tour.songs.song if song not in half]
        for known in ({}, half):
            chance = swaps.forecast(tour.plays, tour.shows, tour.songs, show, 12, known).songs.set_index("song").chance
            losses.append(swaps.log_loss(chance[open_], pd.Index(open_).isin(played.song)).mean())

    assert np.mean(losses[1::2]) < 0.97 * np.mean(losses[::2])


def test_a_title_nobody_knows_takes_its_place(tour):
    """
    A rumour of a new song: it is in the table, and one place less is left.
    """
    said = swaps.forecast(tour.plays, tour.shows, tour.songs, NEXT, set_size=12, known=["Quite New"]).songs

    assert 1.0 == said.set_index("song").chance["Quite New"]
    assert 12 == pytest.approx(said.chance.sum(), abs=1e-6)


def test_too_much_known_is_answered_with_what_to_do(tour):
    """
    Thirteen songs in a set of twelve.
    """
    titles = tour.songs.song[:13].tolist()
    with pytest.raises(swaps.KnownSetProblem) as caught:
        swaps.forecast(tour.plays, tour.shows, tour.songs, NEXT, set_size=12, known=titles)

    assert (
        f'No set agrees with what is known of it ("{titles[0]}", "{titles[1]}", "{titles[2]}", "{titles[3]}", '
        f'"{titles[4]}" and 8 more): more songs than the set has room for, or too few left to fill it. '
        "Take out what is not sure, or give the size of the set."
    ) == str(caught.value)


def test_new_titles_are_no_more_than_the_set_has_room_for(tour):
    """
    Thirteen songs that nobody has listed, in a set of twelve: the set does not grow to hold them.
    """
    with pytest.raises(swaps.KnownSetProblem):
        swaps.forecast(
            tour.plays, tour.shows, tour.songs, NEXT, set_size=12, known=[f"Quite New {n}" for n in range(13)]
        )


@pytest.mark.parametrize("other", ["{} ", "{}!", " {}"])
@pytest.mark.parametrize("how", [str.upper, str.title, str])
def test_a_title_written_otherwise_is_no_new_song(tour, other, how):
    """
    Capitals, spaces and signs make no other song; it is said which one may be meant.
    """
    title = tour.songs.song.iloc[2]
    with pytest.raises(UnknownSongProblem) as caught:
        swaps.forecast(tour.plays, tour.shows, tour.songs, NEXT, known=[other.format(how(title))])

    assert (
        f'What is known of the set: "{other.format(how(title))}" is not in the repertoire. The nearest in the '
        f'repertoire: "{title}". Correct the title, add it as another name of a song, or add it as a new song.'
    ) == str(caught.value)


def test_a_song_that_nobody_knows_cannot_be_known_to_be_out(tour):
    """
    It would say nothing, and is more likely a slip.
    """
    with pytest.raises(UnknownSongProblem, match='"Quite New" is not in the repertoire'):
        swaps.forecast(tour.plays, tour.shows, tour.songs, NEXT, known={"Quite New": False})


@pytest.mark.parametrize("way", [swaps.backtest, swaps.track_record, *rules.ALL.values()])
@pytest.mark.parametrize("start", [0, -3, 1.5, "8", None])
def test_a_look_back_from_before_the_first_set_is_asked_about(tour, way, start):
    """
    No forecast can go before the second show, and none is begun there in silence.
    """
    with pytest.raises(Problem) as caught:
        way(tour.plays, tour.shows, tour.songs, start=start)

    assert (
        f"`start` is {start!r}, but it has to be a whole number of at least 1: how many shows to watch before the "
        "first forecast, which needs a set to go by."
    ) == str(caught.value)


@pytest.mark.parametrize("size", [0, -1, 2.5, "10", float("nan"), float("inf")])
def test_a_size_that_is_none_is_asked_about(tour, size):
    """
    A set of no songs, of two and a half, or of the text "10".
    """
    with pytest.raises(Problem) as caught:
        swaps.forecast(tour.plays, tour.shows, tour.songs, NEXT, set_size=size)

    assert f"The set cannot have {size!r} songs; say a whole number of at least 1, or leave it out." == str(
        caught.value
    )


def test_the_next_show_may_be_a_row_of_a_table(tour):
    """
    A row of the shows is as good as a dictionary, and 12.0 as good as 12.
    """
    row = pd.DataFrame([NEXT]).iloc[0]
    said = swaps.forecast(tour.plays, tour.shows, tour.songs, row, set_size=12.0)
    plain = swaps.forecast(tour.plays, tour.shows, tour.songs, NEXT, set_size=12)

    pd.testing.assert_frame_equal(plain.songs, said.songs)


@pytest.mark.parametrize(("listed", "unlisted"), [(0, 5), (1, 0), (2, 0)])
def test_after_small_sets_no_set_of_everything_is_expected(listed, unlisted):
    """
    One less than no song is no song, not all that there are.
    """
    sizes = Sizes()
    for _ in range(10):
        sizes.learn(listed, unlisted)
    chances = sizes.chances(40)

    assert 1 == pytest.approx(chances[:5].sum())
    assert max(listed, 1) == chances.argmax()


def test_one_song_a_night_stays_one_song_a_night():
    """
    Forty songs, each night another one.
    """
    songs = [f"Song {k}" for k in range(40)]
    said = swaps.forecast(*told([[song] for song in songs[:30]], songs), NEXT)

    assert 1 == pytest.approx(said.size, abs=0.1)
    assert said.counts.swaps.max() <= 5


# ---------------------------------------------------------------------------- reasons and features


def test_every_part_of_a_chance_has_words():
    """
    Whatever moves a song can be said: under each heading there is something to say of some song at some show.
    """
    tour = leaders.by_queue(shows=24)
    shows = tour.shows.assign(leg=["Spring"] * 12 + ["Autumn"] * (len(tour.shows) - 12))
    said = {part: set() for part in reasons.PARTS}
    for step in pool.learned(read(tour.plays, shows, tour.songs)).steps:
        facts = reasons._Facts(step)
        for part, row in product(reasons.PARTS, range(0, len(step.rows.songs), 5)):
            said[part].add(facts.of(row, part))

    assert [] == [part for part, texts in said.items() if not texts - {""}]


def test_reasons_name_what_moves_a_song():
    """
    A song that comes back every fourth show, one that is in every set, one that nobody has played.
    """
    rest = [f"Song {k:02d}" for k in range(20)]
    turns = [[rest[(4 * t + k + (t * k) % 3) % 20] for k in range(4)] for t in range(24)]
    sets = [list(dict.fromkeys(["Anchor", *(["Fourth"] if t % 4 == 0 else []), *turns[t]])) for t in range(24)]
    said = swaps.forecast(*told(sets, ["Anchor", "Fourth", "Unplayed", *rest]), NEXT).songs.set_index("song").because

    assert "in every set so far (24)" in said["Anchor"]
    assert "out 3 shows, comes back after " in said["Fourth"]
    assert "not played at any of 24 shows" in said["Unplayed"]
    assert said.str.len().between(1, 120).all()


@pytest.mark.parametrize(
    ("day", "number", "said"),
    [
        ("2032-03-05", 1, "came in last night"),
        ("2032-03-04", 2, "came in earlier that day"),
        ("2032-03-12", 1, "came in on 4 March"),
        ("2033-06-01", 1, "came in on 4 March 2032"),
    ],
)
def test_a_night_that_is_not_last_night_is_said_by_its_day(day, number, said):
    """
    The last show was on 4 March 2032; the song came in there.
    """
    plays, shows, songs = told([["Anchor", "Fourth"], ["Anchor", "Newcomer"]], ["Anchor", "Fourth", "Newcomer"])
    shows["date"] = pd.to_datetime(["2032-03-02", "2032-03-04"])
    because = swaps.forecast(plays, shows, songs, {"date": day, "number": number}).songs.set_index("song").because

    assert said in because["Newcomer"]


def test_one_show_is_one_show_in_words():
    """
    A song that nobody has played after a single show.
    """
    said = swaps.forecast(*told([["Anchor", "Fourth"]], ["Anchor", "Fourth", "Unplayed"]), NEXT).songs

    assert "not played at the one show so far" in said.set_index("song").because["Unplayed"]


@pytest.mark.parametrize(
    "asked",
    [
        {"next_show": NEXT},
        {"next_show": {"date": "2033-01-01"}, "set_size": 9},
        {"known": ["Song 3", "Some new one"]},
        {"next_show": {"show_id": 25}},
    ],
)
def test_a_forecast_owes_nothing_to_the_one_before_it(asked, monkeypatch):
    """
    The pool is kept from one forecast to the next: after one for another show, of the same tour and of another with
    one play changed, each says what it says by itself.
    """
    tour = leaders.by_town(shows=30)
    tour.songs["song"] = [f"Song {k}" for k in range(len(tour.songs))]
    names = dict(zip(tour.plays.song.unique(), tour.songs.song, strict=False))
    plays = tour.plays.assign(song=tour.plays.song.map(names))
    other = plays.assign(song=plays.song.mask(plays.index == 40, "Song 99"))
    monkeypatch.setattr(pool, "_LATEST", [])
    alone = swaps.forecast(plays, tour.shows, tour.songs, **asked)
    swaps.forecast(other, tour.shows, tour.songs, **asked)
    swaps.forecast(plays, tour.shows, tour.songs, {"city": "nowhere"})
    swaps.backtest(plays, tour.shows, tour.songs)
    after = swaps.forecast(plays, tour.shows, tour.songs, **asked)

    pd.testing.assert_frame_equal(alone.songs, after.songs, check_exact=True)
    pd.testing.assert_frame_equal(alone.counts, after.counts, check_exact=True)


@pytest.mark.parametrize("change", sorted({field.name for field in fields(History)} - {"shows", "upcoming"}))
def test_a_tour_that_differs_in_anything_is_learned_anew(change):
    """
    A pool is used again for the very same past only.
    """
    tour = leaders.by_town(shows=12)
    history = read(tour.plays, tour.shows, tour.songs, NEXT)
    kept = pool.last_step(history).ledger
    part = getattr(history, change).copy()
    part.flat[3] = "Another" if change == "songs" else not part.flat[3] if part.dtype == bool else part.flat[3] + 1
    ended = {"part": replace(history, **{change: part}), "same": replace(history)}

    assert pool.last_step(ended["same"]).ledger.plays is kept.plays
    assert pool.last_step(ended["part"]).ledger.plays is not kept.plays


def test_parts_are_nothing_on_the_average():
    """
    What is said of a song is said against the average song in the same state.
    """
    tour = leaders.by_town(shows=30)
    said = swaps.forecast(tour.plays, tour.shows, tour.songs, NEXT)
    parts = said.parts.merge(said.songs[["song", "in_last_set"]])

    assert parts.groupby(["part", "in_last_set"]).effect.mean().abs().max() < 1e-9


def test_parts_add_up_to_the_log_odds_of_the_pool():
    """
    Nothing that moves one song and not another is left out of its reasons.
    """
    tour = leaders.by_town(shows=30)
    *_, step = pool.learned(read(tour.plays, tour.shows, tour.songs)).steps
    pooled = step.weights @ step.members
    for state in (True, False):
        which = step.rows.stays == state
        np.testing.assert_allclose(
            reasons.effects(step)[which].sum(axis=1), pooled[which] - pooled[which].mean(), atol=1e-9
        )


def test_features_are_counted_right_by_hand():
    """
    Four shows, worked out on paper.
    """
    sets = [["A", "B"], ["A", "C"], ["A", "B"], ["A", "C"]]
    made = swaps.feature_table(*told(sets, list("ABCD"))).set_index(["show_id", "song"])
    fourth = made.loc[4]

    assert np.log(3) == pytest.approx(fourth.run["A"])
    assert [1.0, 0.0] == fourth.first_night[["B", "A"]].tolist()
    assert [np.log(4), 0.0] == fourth.every_night[["A", "B"]].tolist()
    assert 0.0 == fourth.out["C"] == made.loc[3].out["B"]
    assert np.log(3) == pytest.approx(fourth.out["D"])
    assert [1.0, 0.0] == fourth.never_played[["D", "C"]].tolist()
    assert np.exp(-1 / 5) == pytest.approx(fourth.queue_top["C"])
    assert 1.0 == fourth.queue_top["D"]
    assert made.query("in_last_set").out.isna().all()


def test_the_usual_layoff_does_not_know_the_one_to_come():
    """
    Layoffs count when they end, not when they begin.
    """
    history = read(*told([["A"], ["B"], ["B"], ["B"], ["A"], ["B"]]))
    ledger = Ledger(history)
    usual = []
    for _ in range(6):
        ledger.learn()
        usual.append(ledger.usual()[0])

    assert [4.0] * 4 == usual[:4]
    assert usual[4] == pytest.approx(np.exp((np.log(3) + 2 * (np.log(3) + 2 * np.log(4)) / 3) / 3))


# ---------------------------------------------------------------------------- the shows after the next


def test_more_shows_bring_more_songs():
    """
    At least once in five shows is no rarer than at the next one.
    """
    tour = leaders.by_runs(shows=40)
    one, five = (swaps.coming(tour.plays, tour.shows, tour.songs, k, NEXT).set_index("song").chance for k in (1, 5))
    said = swaps.forecast(tour.plays, tour.shows, tour.songs, NEXT).songs.set_index("song").chance

    np.testing.assert_allclose(one[said.index], said, atol=1e-12)
    assert (five[said.index] >= one[said.index]).all()


def test_a_song_that_always_comes_after_six_shows_comes_when_its_time_is_there():
    """
    Six songs in turn, one a show: the one that was out for two comes in the fourth show from now, not in the second.
    """
    sets = [[f"Turn {t % 6}"] for t in range(60)]
    chance = {k: swaps.coming(*told(sets), k, NEXT).set_index("song").chance["Turn 3"] for k in (2, 4, 5)}

    assert chance[2] < 0.3
    assert chance[5] > chance[2] + 0.3


def test_shows_out_are_those_for_which_a_song_could_have_come():
    """
    Retired songs and songs that joined later do not wait while they cannot be played; a show without them is not one.
    """
    plays, shows, songs = told([["A", "B"], ["B"], ["B"], ["B"]], list("ABC"))
    since = pd.Series([None, None, shows.date.iloc[2]], dtype="datetime64[ns]")
    ledger = Ledger(read(plays, shows, songs.assign(since=since)))
    for _ in range(4):
        ledger.learn()
    titles = list(ledger.history.songs)

    assert {"A": 3, "B": 0, "C": 2} == {song: int(ledger.out[titles.index(song)]) for song in "ABC"}


def test_intervals_of_chances_hold_four_in_five_of_a_normal_distribution():
    """
    Scipy's normal quantiles on the log odds; a chance that is sure stays as it is.
    """
    chances, spread = np.array([0.3, 0.7, 1.0]), np.array([0.5, 0.8, 0.5])
    low, high = interval(chances, spread)
    theirs = stats.norm.cdf(logit(high[:2]), logit(chances[:2]), spread[:2])

    assert [0.9, 0.9] == pytest.approx(theirs.tolist())
    assert [0.1, 0.1] == pytest.approx(stats.norm.cdf(logit(low[:2]), logit(chances[:2]), spread[:2]).tolist())
    assert low[2] == high[2] == 1


def test_a_favourite_stays_one_after_the_next_show():
    """
    Of songs that have been out as long, the likelier one now is the likelier one later.
    """
    sets = [["Often" if t % 2 == 0 else "Other", "Seldom" if t == 20 else "Filler", "Anchor"] for t in range(21)]
    sets += [["Other", "Filler", "Anchor"], ["Other", "Filler", "Anchor"]]
    table = swaps.coming(*told(sets), 4, NEXT).set_index("song")
    later = 1 - (1 - table.chance) / (1 - table.next)

    assert table.next["Often"] > table.next["Seldom"]
    assert later["Often"] > later["Seldom"] + 0.02


def test_chances_for_five_shows_hold():
    """
    Over many made-up tours, as many songs come as were said to, likely and unlikely ones.
    """
    said = []
    for kind in (leaders.by_taste, leaders.by_runs, leaders.by_queue, leaders.by_mood, leaders.small):
        for seed in (1, 2):
            tour = kind(shows=45, seed=seed)
            past = tour.plays[tour.plays.show_id <= 40]
            table = swaps.coming(past, tour.shows[tour.shows.show_id <= 40], tour.songs, 5)
            table["came"] = table.song.isin(tour.plays[tour.plays.show_id > 40].song)
            said.append(table)
    said = pd.concat(said)
    likely = said.chance > 0.5

    assert abs(said.chance.mean() - said.came.mean()) < 0.05
    assert abs(said.chance[likely].mean() - said.came[likely].mean()) < 0.08
    assert abs(said.chance[~likely].mean() - said.came[~likely].mean()) < 0.08


@pytest.mark.filterwarnings("error")
@pytest.mark.parametrize("size", [38, 39, 40, 60])
def test_a_set_of_nearly_all_songs_is_no_overflow(size):
    """
    Every song has its chance, up to a set that is longer than the repertoire.
    """
    chance = np.random.default_rng(7)
    titles = [f"Song {number:02}" for number in range(40)]
    rows = [(n, at, titles[k]) for n in range(1, 16) for at, k in enumerate(chance.choice(40, 10, replace=False), 1)]
    plays = pd.DataFrame(rows, columns=["show_id", "position", "song"])
    shows = pd.DataFrame({"show_id": range(1, 16), "date": pd.date_range("2031-03-01", periods=15)})

    got = swaps.forecast(plays, shows, pd.DataFrame({"song": titles}), {"date": "2031-04-01"}, set_size=size)

    assert min(size, 40) == pytest.approx(got.songs.chance.sum(), abs=1e-6)
    assert 1 == pytest.approx(got.counts.chance.sum())


def test_known_titles_that_fill_the_set_leave_no_place():
    """
    Ten titles nobody had listed fill a set of ten; no other song comes in.
    """
    rows = [(n, at, f"Song {(3 * n + at) % 20:02}") for n in range(1, 9) for at in range(1, 11)]
    plays = pd.DataFrame(rows, columns=["show_id", "position", "song"])
    shows = pd.DataFrame({"show_id": range(1, 9), "date": pd.date_range("2031-03-01", periods=8)})
    new = [f"New {number}" for number in range(10)]

    got = swaps.forecast(plays, shows, plays[["song"]].drop_duplicates(), {}, set_size=10, known=new).songs

    assert 10 == pytest.approx(got.chance.sum())
    assert set(new) == set(got.song[got.chance > 0.5])
