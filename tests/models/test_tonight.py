"""The brief of one show: what it says, and that it says nothing from later."""

from dataclasses import fields

import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pandas.testing import assert_frame_equal

from tests.models.playing import rehearsed
from tourstats.models import playing, tonight
from tourstats.problems import UnknownShowProblem
from tourstats.tour import Tour

SONGS = pd.DataFrame(
    {
        "song": ["Ferry", "Copper Wire", "Tin Rook", "Salt Road", "Low Water"],
        "tempo_bpm": [92.0, 148.0, 96.0, 120.0, None],
        "minutes": [4.0, 3.5, 5.0, 4.5, None],
        "starts_by": ["Ada", "Ada", "Ben", None, None],
        "gear": ["sticks", "sticks; cowbell", "brushes", "brushes; low drum", None],
        "samples": [None, "rain", None, None, None],
        "track": [None, None, "strings", None, None],
        "watch": [None, "bridge in seven", None, None, None],
    }
)


def sets(stage_of, *rows):
    return pd.DataFrame(
        [(show, place, song) for show, titles in rows for place, song in enumerate(titles, 1)],
        columns=["show_id", "position", "song"],
    ).assign(encore=stage_of)


def tour(**changed):
    """Three shows played, the fourth handed out."""
    frames = {
        "songs": SONGS,
        "shows": pd.DataFrame(
            {
                "show_id": [1, 2, 3, 4],
                "date": ["2031-03-01", "2031-03-03", "2031-03-09", "2031-03-10"],
                "leg": "first",
                "city": ["Ostby", "Marrow", "Ostby", "Weir"],
                "venue": ["Weir Hall", "The Cart Shed", "Weir Hall", "Weir Hall"],
                "room": ["theatre", "festival", "theatre", "theatre"],
                "set_minutes": [None, None, None, 15.0],
            }
        ),
        "plays": sets(
            False,
            (1, ["Ferry", "Copper Wire", "Tin Rook"]),
            (2, ["Ferry", "Tin Rook", "Salt Road"]),
            (3, ["Tin Rook", "Ferry", "Salt Road"]),
        ),
        "planned": sets(False, (4, ["Ferry", "Tin Rook", "Copper Wire", "Low Water"])),
    }
    return Tour.of(**(frames | changed))


def test_the_set_says_what_came_in_and_what_moved():
    """
    The fewest songs that had to move are called moved; the rest kept its order.
    """
    got = tonight.brief(tour(), 4).set

    assert ["carried", "in", "in", "moved"] == sorted(got.status)
    assert {"Copper Wire", "Low Water"} == set(got.song[got.status == "in"])


def test_the_warning_is_how_long_it_lay_and_the_spot_to_watch():
    """
    One short text on the sheet for each song that needs one.
    """
    got = tonight.brief(tour(), 4).set.set_index("song").warning

    assert "out 2 shows · bridge in seven" == got["Copper Wire"]
    assert "first time" == got["Low Water"]
    assert pd.isna(got["Ferry"])


def test_what_went_out_is_said_with_what_came_in():
    """
    In first, then out, then moved.
    """
    got = tonight.brief(tour(), 4).changes

    assert [("in", "Copper Wire"), ("in", "Low Water"), ("out", "Salt Road")] == [
        (row.change, row.song) for row in got.itertuples() if row.change != "moved"
    ]


def test_a_transition_says_everything_that_it_asks_for():
    """
    Never played, another tempo, other gear, a sample, somebody else who starts.
    """
    got = tonight.brief(tour(), 4).transitions.set_index("song").reasons

    assert "pick up: brushes; put down: sticks; track: strings; count-in: Ben" == _sorted_gear(got["Ferry"])
    assert (
        "never played before; tempo 96 to 148; pick up: sticks, cowbell; put down: brushes; sample: rain; count-in: Ada"
        == (got["Tin Rook"])
    )


def _sorted_gear(text):
    parts = text.split("; ")
    return "; ".join(sorted(parts[:2]) + parts[2:])


def test_on_the_first_day_nothing_is_called_new():
    """
    Where no set was ever played, "never played before" and "first time" say nothing.
    """
    first = tour(plays=sets(False))

    got = tonight.brief(first, 4)

    assert not got.transitions.reasons.str.contains("never played").any()
    assert 0 == len(got.care)
    assert not got.set.warning.str.contains("first time").any()


def test_notes_hold_for_this_room_this_place_and_these_songs():
    """
    A note on another kind of venue, another place, or another transition is not shown.
    """
    notes = pd.DataFrame(
        [
            ("song", "Ferry", None, None, None, "pickup late"),
            ("song", "Ferry", None, "theatre", None, "softer here"),
            ("song", "Ferry", None, "festival", None, "louder there"),
            ("song", "Salt Road", None, None, None, "not tonight"),
            ("transition", "Ferry", "Tin Rook", None, None, "brushes first"),
            ("transition", "Tin Rook", "Ferry", None, None, "the other way"),
            ("room", None, None, "theatre", None, "mind the balcony"),
            ("show", None, None, None, 1, "dark stage left"),
            ("show", None, None, None, 2, "another place"),
        ],
        columns=["about", "song", "next_song", "room", "show_id", "text"],
    )

    got = tonight.brief(tour(notes=notes), 4).notes

    assert {
        ("song", "pickup late"),
        ("song in this kind of venue", "softer here"),
        ("transition", "brushes first"),
        ("this kind of venue", "mind the balcony"),
        ("this venue", "dark stage left"),
    } == set(zip(got.why, got.text, strict=True))


def test_gear_is_listed_once_in_the_order_needed_and_no_spare_is_guessed():
    """
    What to set out, from which song on, for which songs; a spare is the user's word or none.
    """
    got = tonight.brief(tour(), 4).ready

    assert ["sticks", "brushes", "strings", "cowbell", "rain"] == got.item.tolist()
    assert (1, "1 Ferry, 3 Copper Wire", "") == tuple(got.loc[0, ["first", "songs", "spare"]])
    assert {""} == {*got.spare}


def test_the_length_says_what_is_not_known():
    """
    Minutes of the songs that have a length, how many have none, and how that stands to what was asked for.
    """
    row = tonight.brief(tour(), 4).length.iloc[0]

    assert (4, 12.5, 1, 15.0, -2.5) == (row.songs, row.minutes, row.unknown, row.asked, row.over)


def test_care_has_its_reasons_in_words():
    """
    How long it was out, that nobody ran it, and the spot to watch.
    """
    got = tonight.brief(tour(), 4).care.set_index("song").reasons

    assert got["Copper Wire"].startswith("out 9 days and 2 shows; no run on record")
    assert got["Copper Wire"].endswith("watch bridge in seven")
    assert got["Low Water"].startswith("never played at a show; no run on record")
    assert "Ferry" not in got.index


def test_the_song_with_most_to_expect_comes_first():
    """
    Care is ranked by the mistakes to be expected, as the page says.
    """
    got = tonight.brief(tour(), 4).care.expected

    assert got.iloc[0] > got.iloc[-1]
    assert got.is_monotonic_decreasing


def test_a_brief_for_a_past_show_says_what_it_would_have_said_then():
    """
    Later sets, reviews, mistakes, runs and scans change nothing.
    """
    later = {
        "plays": pd.concat([tour().plays, sets(False, (4, ["Salt Road", "Copper Wire"]))]),
        "reviews": pd.DataFrame({"show_id": [4], "song": ["Copper Wire"]}),
        "mistakes": pd.DataFrame({"show_id": [4] * 3, "song": ["Copper Wire"] * 3, "severity": [3, 2, 1]}),
        "rehearsals": pd.DataFrame({"date": ["2031-03-11"], "song": ["Copper Wire"], "way": ["kit"]}),
    }

    one, two = (tonight.brief(tables, 4) for tables in (tour(), tour(**later)))

    for field in fields(tonight.Brief):
        a, b = getattr(one, field.name), getattr(two, field.name)
        if isinstance(a, pd.DataFrame):
            assert_frame_equal(a, b, obj=field.name)


def test_a_song_that_stands_twice_is_in_the_set_twice_and_in_the_lists_once():
    """
    The reprise is on the sheet; care is taken of the song once.
    """
    twice = tour(planned=sets(False, (4, ["Copper Wire", "Ferry", "Copper Wire"])))

    got = tonight.brief(twice, 4)

    assert ["Copper Wire", "Ferry", "Copper Wire"] == got.set.song.tolist()
    assert 1 == (got.care.song == "Copper Wire").sum()


def test_a_set_of_one_song_has_tables_of_the_same_kind():
    """
    What is empty has columns of text where others have them, so that it can be read in the same way.
    """
    one, more = tonight.brief(tour(planned=sets(False, (4, ["Ferry"]))), 4), tonight.brief(tour(), 4)

    assert 0 == len(one.transitions)
    assert more.transitions.dtypes.to_dict() == one.transitions.dtypes.to_dict()
    assert more.care.dtypes.to_dict() == one.care.dtypes.to_dict()


def test_a_show_without_a_set_is_said():
    """
    There is nothing to prepare before the set is there.
    """
    with pytest.raises(tonight.NoSetProblem) as caught:
        tonight.brief(tour(planned=sets(False)), 4)

    assert "Show 4 has no set yet. Paste the set that was handed out, then ask again." == str(caught.value)


def test_a_show_that_is_not_there_is_said():
    """
    A wrong number is answered in words.
    """
    with pytest.raises(UnknownShowProblem):
        tonight.brief(tour(), 9)


@given(st.permutations(range(8)))
def test_moved_songs_are_as_few_as_can_be(order):
    """
    Taking the moved ones out leaves the rest in order, and one fewer would not.
    """
    came = pd.DataFrame(
        {"change": "carry-over", "position": range(1, 9), "was": [place + 1 for place in order]}, index=list("ABCDEFGH")
    )

    moved = tonight._moved(came)
    kept = [place for song, place in zip("ABCDEFGH", order, strict=True) if song not in moved]

    assert sorted(kept) == kept
    assert _longest_run(order) == len(kept)


def _longest_run(order):
    """Longest rising subsequence, by the slow and plain way."""
    best = []
    for at, place in enumerate(order):
        best.append(1 + max((best[b] for b in range(at) if order[b] < place), default=0))
    return max(best)


def reviewed_tour(**changed):
    """A tour of thirty shows with reviews, the last one handed out, from the first simulator of rehearsals."""
    made = rehearsed.tour(600, "fair", shows=30)
    last = made.shows.date.max()
    show = int(made.shows.show_id.iloc[-1])
    before = {
        "plays": made.plays[made.plays.show_id != show],
        "reviews": made.reviews[made.reviews.show_id != show],
        "mistakes": made.mistakes[made.mistakes.show_id != show],
        "rehearsals": made.rehearsals[made.rehearsals.date < last],
    }
    planned = made.plays[made.plays.show_id == show].assign(encore=False)
    return Tour.of(songs=made.songs, shows=made.shows, planned=planned, **(before | changed)), show, last


def test_what_was_run_in_the_afternoon_is_not_planned_again_and_less_is_expected():
    """
    The first runs of the plan are logged, and the plan is asked again: none of them comes again, and what is expected
    has fallen by what they were said to avoid.
    """
    tour, show, day = reviewed_tour()
    done = set()
    for _ in range(3):
        brief = tonight.brief(tour, show, minutes=60)
        first = brief.plan[brief.plan.what == "whole run"].head(3)
        assert not done & set(brief.plan.song[brief.plan.what.isin(["whole run", "hard section"])])
        done |= set(first.song)
        logged = pd.DataFrame({"date": day, "song": first.song, "way": "kit"})
        tour = tour.replaced(rehearsals=pd.concat([tour.rehearsals, logged], ignore_index=True))
        after = tonight.brief(tour, show, minutes=60)
        fell = brief.total.expected[0] - after.total.expected[0]
        weight = after.set.set_index("song").run_share.reindex(first.song)
        assert (weight > 0).all()
        assert first.avoids.sum() == pytest.approx(fell, rel=0.45)


def test_a_transition_never_played_counts_once():
    """
    What it brings is taken out of the song that follows: songs and transitions of the plan together expect what the
    forecast expects.
    """
    tour, show, _ = reviewed_tour()
    brief = tonight.brief(tour, show)
    songs = tonight._candidates(brief.set, tour)
    pairs = tonight._never_played(brief.transitions, brief.set, brief.band)

    assert len(pairs)
    assert brief.total.expected[0] == pytest.approx(songs.expected.sum() + pairs.expected.sum())


def test_after_a_break_a_song_of_the_last_set_is_out_all_the_same():
    """
    Sixty days without a show: every song of the last set needs care and says how long it was not played.
    """
    shows = tour().shows.assign(date=["2031-03-01", "2031-03-03", "2031-03-09", "2031-05-08"])

    got = tonight.brief(tour(shows=shows), 4)

    assert "out 60 days" == got.set.set_index("song").warning["Ferry"]
    assert {"Ferry", "Tin Rook", "Copper Wire", "Low Water"} == set(got.care.song)
    assert got.care.set_index("song").reasons["Tin Rook"].startswith("not played for 60 days")
    before = tonight.brief(tour(), 4).set.set_index("song").expected
    assert (got.set.set_index("song").expected[["Ferry", "Tin Rook"]] > before[["Ferry", "Tin Rook"]]).all()


def test_without_reviews_everything_is_called_assumed_and_ordered_by_what_is_known():
    """
    The new song and the one that was out are worth more than the two of the last set; no decimals in the reasons.
    """
    got = tonight.brief(tour(), 4)

    assert {"prior"} == set(got.care.basis)
    assert {"Low Water", "Copper Wire"} == set(got.plan[got.plan.what == "whole run"].nlargest(2, "avoids").song)
    assert not got.plan.because.str.contains(r"\d\.\d").any()
    assert any("assumed; common practice, no source" in sentence for sentence in got.assumed)


def test_a_break_is_worked_on_in_sittings_and_no_song_twice():
    """
    No sitting is longer than it may be, and each song is run in one of them.
    """
    tour, _, _ = reviewed_tour()
    steps, known = tonight.for_break(tour, sittings=3, minutes=30, days=40)
    runs = steps[steps.what.isin(["whole run", "hard section", "listen"])]

    assert [1, 2, 3] == steps.sitting.unique().tolist()
    assert ((steps.starts + steps.minutes).groupby(steps.sitting).max() <= 30 + 1e-6).all()
    assert runs.song.is_unique
    assert known.chance.between(0, 1).all()


def test_a_song_forgets_until_the_break_is_over():
    """
    Sixty days more until the show: every song that was played is expected to go worse, those never played as before.
    """
    tour, _, day = reviewed_tour()
    titles = tour.plays.song.unique()[:10].tolist()
    soon, later = (
        playing.expected(tour, {"date": day + pd.Timedelta(days=days)}, titles, in_order_of_set=False).expected
        for days in (1, 61)
    )

    assert (later > soon).all()


@pytest.mark.parametrize(("people", "told"), [(4, False), (5, True)])
def test_a_group_of_fewer_than_five_is_not_in_the_brief(people, told):
    """
    Four people were at both shows of the leg and hold tickets: nothing is said of them; of five it is.
    """
    came = pd.DataFrame(
        [(f"{person:032x}", show) for person in range(people) for show in (1, 2, 3, 4)], columns=["person", "show_id"]
    )
    heard = tonight.brief(tour(attendance=came), 4).heard

    assert told == (heard.basis != "sets").any()


@pytest.mark.parametrize(("out", "told"), [(6, True), (1, False)])
def test_what_is_usual_is_said_of_a_song_that_is_out_for_longer(out, told):
    """
    Ferry came back after two or three shows seven times: after six the care list says what is usual, after one not.
    """
    on = [0, 3, 6, 10, 13, 17, 20, 23]
    nights = range(24 + out + 1)
    shows = pd.DataFrame({"show_id": nights, "date": pd.date_range("2031-03-01", periods=len(nights))})
    plays = sets(False, *((night, ["Ferry", "Tin Rook"] if night in on else ["Tin Rook"]) for night in nights[:-1]))
    planned = sets(False, (nights[-1], ["Tin Rook", "Ferry"]))
    care = tonight.brief(Tour.of(songs=SONGS, shows=shows, plays=plays, planned=planned), nights[-1]).care

    assert told == (", usually 2 to 3" in care.set_index("song").reasons["Ferry"])


def test_severity_weighs_in_care():
    """
    As many mistakes, but everybody heard them: the song comes first.
    """
    tour, show, _ = reviewed_tour()
    grave = tour.planned.song.iloc[5]
    heard = tour.mistakes.assign(severity=1)
    heard.loc[heard.song == grave, "severity"] = 3
    one, two = (
        tonight.brief(tour.replaced(mistakes=found), show).care.song.tolist()
        for found in (tour.mistakes.assign(severity=1), heard)
    )

    assert grave not in one or two.index(grave) <= one.index(grave)


def test_on_day_one_nothing_that_fits_is_called_left_out():
    """
    The second show, nothing reviewed: transitions never played are in the plan, and none "does not fit" beside an
    hour that is free.
    """
    titles = [f"Qx {number}" for number in range(12)]
    plays = sets(False, (1, titles[:6]))
    shows = pd.DataFrame({"show_id": [1, 2], "date": ["2031-03-04", "2031-03-05"]})
    songs = pd.DataFrame({"song": titles, "minutes": 4.0})
    first = Tour.of(songs=songs, shows=shows, plays=plays, planned=sets(False, (2, titles[3:9])))
    roomy, short = (tonight.brief(first, 2, minutes) for minutes in (110, 12))

    assert set(titles[3:9]) == set(roomy.plan.song[roomy.plan.what == "whole run"])
    assert 3 == (roomy.plan.what == "transition").sum()
    assert 0 == len(roomy.left_out)
    assert (short.left_out.costs > 0).all()
    assert len(short.left_out)


def test_the_plan_of_a_day_off_says_which_songs_it_leaves_out_as_safe():
    """
    Nine clean in a row get no minutes and are named; a mistake in the last, and the song is run.
    """
    ids = range(1, 10)
    plays = sets(False, *((show, ["Ferry", "Tin Rook"]) for show in ids))
    shows = pd.DataFrame({"show_id": ids, "date": pd.date_range("2031-03-04", periods=9)})
    wrong = pd.DataFrame({"show_id": [9], "song": "Tin Rook", "severity": 1})
    played = Tour.of(songs=SONGS, shows=shows, plays=plays, reviews=plays, mistakes=wrong)
    chances = pd.DataFrame({"song": ["Ferry", "Tin Rook"], "chance": [0.9, 0.5]})
    steps, safe = tonight.day_off(played, chances, {}, 60)

    assert ["Tin Rook"] == steps.song.tolist()
    assert [("Ferry", 0.9, 9)] == [tuple(row) for row in safe.itertuples(index=False)]


def test_a_song_that_stands_twice_is_run_once_and_counts_once():
    """
    Its reprise brings no mistakes of its own: the plan, and what is expected of the set, are those without it.
    """
    once, twice = (sets(False, (4, ["Ferry", "Tin Rook", "Salt Road", *again])) for again in ([], ["Ferry"]))
    plain, reprised = (tonight.brief(tour(planned=planned), 4) for planned in (once, twice))

    assert 1 == (reprised.plan.song == "Ferry").sum()
    assert plain.total.expected.tolist() == pytest.approx(reprised.total.expected.tolist())
    assert plain.plan.set_index("song").avoids["Ferry"] == pytest.approx(
        reprised.plan.set_index("song").avoids["Ferry"], rel=0.05
    )


def test_a_spot_to_watch_alone_is_no_reason_for_care():
    """
    Copper Wire was in every set so far and nothing was found in it; that its bridge is in seven is on the sheet.
    """
    plays = sets(False, *((show, ["Ferry", "Copper Wire"]) for show in (1, 2, 3)))
    got = tonight.brief(tour(plays=plays, planned=sets(False, (4, ["Ferry", "Copper Wire"]))), 4)

    assert [] == got.care.song.tolist()
    assert "bridge in seven" == got.set.set_index("song").warning["Copper Wire"]
