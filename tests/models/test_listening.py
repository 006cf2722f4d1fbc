"""What to hear first, and how tempo goes over a tour, with tours whose truth is known."""

import numpy as np
import pandas as pd
import pytest
import statsmodels.api as sm

from tourstats.models import listening

SONGS = 24
SIZE = 16


def tour(seed, shows=14, rushing=0.0, creeping=(), leg=None):
    """Measured shows: each song has its own tempo and length; `rushing` per cent at festivals, some songs creep.

    Truth: tonight's usual is the song's own mean; the spread from show to show is 1 %. Temptation: the tempo wanted is
    up to 3 % off what the band plays, so songs far from it are not the odd ones.
    """
    dice = np.random.default_rng(seed)
    own, wanted = dice.normal(0, 2.0, SONGS), dice.uniform(80, 160, SONGS)
    rows, plays = [], []
    for show in range(1, shows + 1):
        festival = show % 3 == 0
        for position, song in enumerate(dice.permutation(SONGS)[:SIZE], start=1):
            title = f"Song {song}"
            away = own[song] + dice.normal(0, 1.0) + rushing * festival + 0.25 * show * (title in creeping)
            plays.append((show, position, title))
            rows.append(
                (show, position, wanted[song] * np.exp(away / 100), dice.normal(0, 1), np.exp(dice.normal(-1, 0.3)))
            )
    measured = pd.DataFrame(rows, columns=["show_id", "position", "tempo_bpm", "drift", "unsteadiness"])
    measured = measured.assign(tempo_sure=True, sure=True, start_s=300.0 * measured.position, loudness=0.0)
    measured = measured.assign(end_s=measured.start_s + 240)
    played = pd.DataFrame(plays, columns=["show_id", "position", "song"])
    nights = pd.DataFrame({"show_id": range(1, shows + 1), "date": pd.date_range("2031-03-04", periods=shows)})
    nights["room"] = np.where(nights.show_id % 3 == 0, "festival", "theatre")
    songs = pd.DataFrame({"song": [f"Song {at}" for at in range(SONGS)], "tempo_bpm": wanted, "minutes": 4.0})
    return measured, played, nights, songs


def planted(seed):
    """A last show with five odd performances, and which they are."""
    measured, plays, shows, songs = tour(seed)
    last = measured.show_id == 14
    odd = [2, 5, 8, 11, 15]
    for position, change in zip(odd, (5, -5, 4.5, -6, 5), strict=True):
        measured.loc[last & (measured.position == position), "tempo_bpm"] *= 1 + change / 100
    return measured, plays, shows, songs, odd


@pytest.mark.parametrize("seed", [1, 2, 3, 4])
def test_odd_performances_come_first(seed):
    """
    Of five performances 4.5 to 6 % off the song's own usual, at least four are among the first six.
    """
    measured, plays, shows, songs, odd = planted(seed)

    first = listening.order(measured, plays, shows, songs, 14).head(6)

    assert len(set(first.position) & set(odd)) >= 4


def test_a_song_is_held_against_itself_not_against_the_paper():
    """
    A song that is always played 4 % under the tempo wanted is not odd tonight; one that jumps by 5 % is.
    """
    show = list(range(1, 9))
    shows = pd.DataFrame({"show_id": show, "date": pd.date_range("2031-03-04", periods=8)})
    plays = pd.DataFrame({"show_id": show * 2, "position": [1] * 8 + [2] * 8, "song": ["Under"] * 8 + ["Jumps"] * 8})
    measured = plays[["show_id", "position"]].assign(tempo_bpm=[96.0] * 8 + [100.0] * 7 + [105.0], tempo_sure=True)
    songs = pd.DataFrame({"song": ["Under", "Jumps"], "tempo_bpm": [100.0, 100.0]})

    away = listening.departures(measured, plays, shows, songs, 8).set_index("song").departure

    assert abs(away["Under"]) < 0.7
    assert away["Jumps"] > 3


def test_a_song_to_a_click_is_held_against_the_click():
    """
    One per cent off is nothing by hand, and much with a track running.
    """
    shows = pd.DataFrame({"show_id": [1], "date": ["2031-03-04"]})
    plays = pd.DataFrame({"show_id": 1, "position": [1, 2], "song": ["Free", "Click"]})
    measured = plays[["show_id", "position"]].assign(tempo_bpm=[101.0, 101.0], tempo_sure=True)
    songs = pd.DataFrame({"song": ["Free", "Click"], "tempo_bpm": 100.0, "track": [None, "click"]})

    away = listening.departures(measured, plays, shows, songs, 1).set_index("song").departure

    assert away["Free"] < 1
    assert away["Click"] > 5


def test_titles_beside_the_figures_change_nothing():
    """
    The table that a recording gives has titles in it; they are those of the set.
    """
    measured, plays, shows, songs = tour(6, shows=4)
    titled = measured.merge(plays, on=["show_id", "position"])

    plain, with_titles = (listening.departures(table, plays, shows, songs, 4) for table in (measured, titled))

    pd.testing.assert_frame_equal(plain, with_titles)


def test_what_is_not_sure_departs_from_nothing():
    """
    A tempo that is not sure, and a song of which nothing is known, are not in the table.
    """
    measured, plays, shows, songs = tour(5, shows=3)
    measured["tempo_sure"] = False

    away = listening.departures(measured, plays, shows, songs, 3)

    assert not {"tempo", "drift", "unsteadiness"} & set(away.quantity)


def test_later_shows_say_nothing_about_tonight():
    """
    What is usual comes from the shows before this one only.
    """
    measured, plays, shows, songs = tour(6)
    early = [frame[frame.show_id <= 7] for frame in (measured, plays, shows)]

    then, now = listening.departures(*early, songs, 7), listening.departures(measured, plays, shows, songs, 7)

    pd.testing.assert_frame_equal(then, now)


def test_new_songs_open_findings_and_spots_to_watch_move_up():
    """
    Of performances that are as usual, the new one comes first, then the finding, then the spot to watch.
    """
    shows = pd.DataFrame({"show_id": [1, 2], "date": ["2031-03-04", "2031-03-05"]})
    titles = ["Plain", "Watch", "Found", "New"]
    plays = pd.DataFrame(
        {"show_id": [1] * 3 + [2] * 4, "position": [1, 2, 3, 1, 2, 3, 4], "song": [*titles[:3], *titles]}
    )
    measured = plays[["show_id", "position"]].assign(
        tempo_bpm=100.0, tempo_sure=True, sure=True, start_s=0.0, end_s=200.0
    )
    songs = pd.DataFrame({"song": titles, "tempo_bpm": 100.0, "watch": [None, "last bar", None, None]})
    mistakes = pd.DataFrame({"show_id": [1], "song": ["Found"], "severity": [2]})

    ordered = listening.order(measured, plays, shows, songs, 2, mistakes)

    assert ["New", "Found", "Watch", "Plain"] == ordered.song.tolist()


def test_songs_that_creep_are_found_and_others_are_not():
    """
    Two songs of 24 get 0.25 % faster a show: both are told, and hardly any other.
    """
    measured, plays, shows, _ = tour(7, shows=24, creeping=("Song 3", "Song 4"))

    table = listening.creep(measured, plays, shows).set_index("song")

    assert table.clear[["Song 3", "Song 4"]].all()
    assert table.clear.sum() <= 3
    assert table.low["Song 3"] < 100 * np.expm1(0.25 * 23 / 100) < table.high["Song 3"]


@pytest.mark.parametrize("rushing", [0.0, 1.5])
def test_rushing_at_festivals_is_found(rushing):
    """
    The interval of the festival's effect holds what was put in, and leaves out 0 where it is large.
    """
    measured, plays, shows, _ = tour(8, shows=24, rushing=rushing)

    effect = listening.effects(measured, plays, shows).set_index("effect").loc["room: festival"]

    assert effect.low < rushing < effect.high
    assert (effect.low > 0) == (rushing > 0)


def test_groups_of_one_row_give_the_errors_of_statsmodels():
    """
    Bell and McCaffrey's errors with every row a group are HC2, as statsmodels 0.14 computes them (OLS, cov_type="HC2").
    """
    dice = np.random.default_rng(2)
    matrix = np.column_stack([np.ones(40), dice.normal(size=(40, 2))])
    values = matrix @ [1, 2, 0] + dice.normal(size=40) * (1 + matrix[:, 1] ** 2)

    found, error, _ = listening.clustered(matrix, values, np.arange(40))

    fit = sm.OLS(values, matrix).fit(cov_type="HC2")
    assert fit.params == pytest.approx(found)
    assert fit.bse == pytest.approx(error)


def test_two_groups_have_the_degrees_of_freedom_of_welch():
    """
    Two means of n clusters each, all alike: 2 (n - 1) degrees of freedom, as in Student's test.
    """
    matrix = np.column_stack([np.repeat([1.0, 0.0], 10), np.repeat([0.0, 1.0], 10)])
    difference = matrix @ np.array([[1.0, 1.0], [-1.0, 1.0]])

    *_, free = listening.clustered(difference, np.random.default_rng(1).normal(size=20), np.arange(20))

    assert [18.0, 18.0] == pytest.approx(free)


def test_minutes_are_kept():
    """
    What is chosen fits, and starts with the first.
    """
    measured, plays, shows, songs, _ = planted(1)
    ordered = listening.order(measured, plays, shows, songs, 14)

    chosen = listening.in_minutes(ordered, 40)

    assert (chosen.end_s - chosen.start_s).sum() <= 40 * 60
    assert ordered.song.head(10).tolist() == chosen.song.tolist()


def test_a_song_that_nothing_is_known_of_is_in_the_order_all_the_same():
    """
    Never recorded before, with no tempo and no length wanted: it departs from nothing, and is new.
    """
    measured, plays, shows, songs = tour(3, shows=3)
    title = plays.song[(plays.show_id == 3) & (plays.position == 2)].iloc[0]
    gone = plays[(plays.song == title) & (plays.show_id < 3)]
    plays = plays.drop(gone.index)
    measured = measured.drop(gone.index)
    songs = songs.assign(tempo_bpm=songs.tempo_bpm.where(songs.song != title), minutes=float("nan"))
    ordered = listening.order(measured, plays, shows, songs, 3)

    assert title in ordered.song.tolist()
    assert SIZE == len(ordered)
