"""A set before the show: how new it would be, and to whom."""

import pandas as pd
import pytest

from tests.models.audience.tours import plays_of, random_people, random_tour, shows_of
from tourstats.models import audience

PLAYS = plays_of([["Ferry", "Tin Rook"], ["Tin Rook", "Salt Road"], ["Salt Road", "Ferry"], ["Low Water", "Lantern"]])
SHOWS = shows_of(["a", "b", "b", "b"])
DRAFT = ["Ferry", "Tin Rook", "Lantern", "Never"]
NEXT = {"date": "2031-04-01", "leg": "b", "show_id": 5}


def shares(table):
    return dict(zip(table.group, table.fresh_share, strict=True))


def test_from_sets_alone_it_scores_for_people_at_the_last_shows():
    """
    Within the leg: last night had Lantern; the night before Ferry; the one before that Tin Rook. Show 1 was elsewhere.
    """
    got = audience.tonight(PLAYS, SHOWS, None, None, DRAFT, NEXT)

    assert {"at the last show": 0.75, "at the last 2 shows": 0.5, "at the last 3 shows": 0.25} == shares(got)
    assert [3.0, 2.0, 1.0] == got.songs_new.tolist()
    assert {4} == set(got.songs)
    assert {"sets"} == set(got.basis)


def test_only_what_was_before_the_show_counts():
    """
    Scored for the third show's date, the third and fourth are not known; a first show of a leg has nothing before it.
    """
    past = audience.tonight(PLAYS, SHOWS, None, None, DRAFT, {"date": "2031-03-03", "leg": "b", "show_id": 3})
    first = audience.tonight(PLAYS, SHOWS, None, None, DRAFT, {"date": "2031-03-03", "leg": "c"})

    assert {"at the last show": 0.75} == shares(past)
    assert 0 == len(first)
    assert ["group", "fresh_share", "low", "high", "songs_new", "songs", "basis"] == list(first.columns)


def test_a_later_show_of_the_same_day_knows_the_earlier_one():
    """
    The matinee counts for the evening, not the other way round.
    """
    shows = pd.DataFrame({"show_id": [1, 2], "date": ["2031-03-01"] * 2, "number": [1, 2]})
    plays = plays_of([["Ferry"], ["Tin Rook"]])
    evening = audience.tonight(plays, shows, None, None, ["Ferry"], {"date": "2031-03-01", "number": 2, "show_id": 2})
    matinee = audience.tonight(plays, shows, None, None, ["Ferry"], {"date": "2031-03-01", "number": 1, "show_id": 1})

    unnamed = audience.tonight(plays, shows, None, None, ["Ferry"], {"date": "2031-03-01", "number": 1})

    assert {"at the last show": 0.0} == shares(evening)
    assert 0 == len(matinee) == len(unnamed)


def test_without_a_leg_it_goes_on_with_the_last_one():
    """
    Somebody who did not say the leg means this one; a table without legs is one leg.
    """
    unsaid = audience.tonight(PLAYS, SHOWS, None, None, DRAFT, {"date": "2031-04-01"})
    none = audience.tonight(PLAYS, SHOWS.drop(columns="leg"), None, None, DRAFT, {"date": "2031-04-01"})

    assert [0.75, 0.5, 0.25] == unsaid.fresh_share.tolist() == none.fresh_share.tolist()


def test_with_tickets_it_is_exactly_what_freshness_says_afterwards():
    """
    Who will be there is known: before and after, the numbers agree, for repeat attendees and for all.
    """
    plays, shows = random_tour(1, legs=1)
    people, last = random_people(2, shows), shows.show_id.iloc[-1]
    after = audience.freshness(plays, shows, people).iloc[-1]
    before = audience.tonight(
        plays[plays.show_id != last], shows, people, None, plays.song[plays.show_id == last].tolist(),
        {**shows.iloc[-1], "show_id": last},
    )  # fmt: skip

    assert shares(before)["returning people"] == pytest.approx(after.fresh_share)
    assert shares(before)["whole audience"] == pytest.approx(after.audience_fresh_share)
    assert {"tickets"} == set(before.basis[before.basis != "sets"])


def test_without_tickets_tonights_crowd_is_taken_from_the_last_nights():
    """
    Last night, 30 of 40 had been at the show before, nobody earlier. Tonight, 30 of 40 are taken to have been there
    last night, and to know its Lantern and Low Water: half of the draft.
    """
    draft = ["Lantern", "Low Water", "Tin Rook", "Never"]
    rows = [(f"old{n}", show) for n in range(30) for show in (3, 4)] + [(f"new{n}", 4) for n in range(10)]
    people = pd.DataFrame([*rows, ("gone", 2)], columns=["person", "show_id"])
    got = audience.tonight(PLAYS, SHOWS, people, None, draft, NEXT).set_index("group")

    # Two nights stand for tonight: show 3 (30 newcomers: nothing heard) and show 4.
    assert (1 - 0.75 * 0.5 / 2) == pytest.approx(got.fresh_share["whole audience"])
    assert [1 - 0.75 * 0.5, 1.0] == pytest.approx(got.loc["whole audience", ["low", "high"]].tolist())
    assert 0.5 == got.fresh_share["returning people"]
    assert "as lately" == got.basis["whole audience"]


def test_counts_stand_in_for_people():
    """
    Of 200 last night, 50 had been at the show before: a quarter of tonight's audience is taken to know last night's
    Lantern.
    """
    counts = pd.DataFrame({"show_id": [4], "people": [200], "earlier": [3], "returning": [50]})
    got = audience.tonight(PLAYS, SHOWS, None, counts, DRAFT, NEXT).set_index("group").loc["whole audience"]

    assert (1 - 0.25 * 0.25, "counts lately") == (got.fresh_share, got.basis)
    assert got.low < got.fresh_share < got.high


def test_a_small_group_is_not_shown_on_the_show_day():
    """
    Four people with tickets who came before: only what sets say is left.
    """
    rows = [(f"p{n}", show) for n in range(4) for show in (4, 5)] + [(f"q{n}", 5) for n in range(30)]
    people = pd.DataFrame(rows, columns=["person", "show_id"])
    shows = pd.concat([SHOWS, shows_of(["b"], [5]).assign(date=pd.Timestamp("2031-04-01"))])

    assert 5 == len(audience.tonight(PLAYS, shows, people, None, DRAFT, NEXT))
    assert {"sets"} == set(audience.tonight(PLAYS, shows, people, None, DRAFT, NEXT, hide_under=5).basis)
    songs = pd.DataFrame({"song": ["Ferry", "Lantern"]})
    assert audience.newest_for(PLAYS, shows, songs, NEXT, people, hide_under=5).heard_share.isna().all()


def test_the_newest_songs_come_first_and_retired_ones_not():
    """
    By share that heard them, then by how many shows of the leg had them, then by how long they were out.
    """
    songs = pd.DataFrame({
        "song": ["Ferry", "Tin Rook", "Salt Road", "Lantern", "Never", "Old Brass"],
        "status": ["active"] * 5 + ["retired"],
    })  # fmt: skip
    got = audience.newest_for(PLAYS, SHOWS, songs, NEXT)

    assert ["Never", "Tin Rook", "Ferry", "Lantern", "Salt Road"] == got.song.tolist()
    assert [0, 1 / 3, 1 / 3, 1 / 3, 2 / 3] == got.one_earlier.tolist()
    assert [pd.NA, 3, 2, 1, 2] == got.shows_ago.tolist()
    assert got.heard_share.isna().all()


def test_newest_agrees_with_who_had_heard_it():
    """
    With tickets, the share of each song is that of those who hold one and were at a show that had it.
    """
    plays, shows = random_tour(3, legs=1)
    people, last = random_people(4, shows), shows.show_id.iloc[-1]
    songs = pd.DataFrame({"song": plays.song.unique()})
    past = plays[plays.show_id != last]
    newest = audience.newest_for(past, shows, songs, {**shows.iloc[-1]}, people)
    here = people[people.person.isin(people.person[people.show_id == last]) & (people.show_id != last)]
    heard = here.merge(past, on="show_id").groupby("song").person.nunique().reindex(newest.song, fill_value=0)
    came = people.person[people.show_id == last].nunique()

    assert (heard / came).tolist() == pytest.approx(newest.heard_share.tolist())
    assert newest.heard_share.is_monotonic_increasing


def test_the_first_show_of_a_tour_has_no_past():
    """
    Everything is new, and nothing fails.
    """
    songs = pd.DataFrame({"song": ["Ferry", "Tin Rook"]})
    got = audience.newest_for(PLAYS.head(0), SHOWS, songs, NEXT)

    assert ["Ferry", "Tin Rook"] == got.song.tolist()
    assert got.one_earlier.isna().all()
    assert 0 == len(audience.tonight(PLAYS.head(0), SHOWS, None, None, DRAFT, NEXT))
    assert 0 == len(audience.tonight(PLAYS, SHOWS, None, None, [], NEXT))


def test_renaming_songs_does_not_change_their_order():
    """
    Ties are never broken by title: the order of the repertoire stays.
    """
    plays, shows = random_tour(5)
    songs = pd.DataFrame({"song": [f"Song {n}" for n in range(30)]})
    names = {title: f"{n * 7 % 30:02} other" for n, title in enumerate(songs.song)}
    other = audience.newest_for(plays.assign(song=plays.song.map(names)), shows,
                                songs.assign(song=songs.song.map(names)), {"date": "2031-05-01"})  # fmt: skip

    assert [names[s] for s in audience.newest_for(plays, shows, songs, {"date": "2031-05-01"}).song] == list(other.song)


def test_a_list_of_travellers_does_not_speak_for_the_whole_audience():
    """
    Where everybody came twice, the list is no audience: only the repeat attendees' row, and the counts say the rest.
    """
    travellers = pd.DataFrame([(f"p{n}", show) for n in range(30) for show in (3, 4)], columns=["person", "show_id"])
    counts = pd.DataFrame({"show_id": [4], "people": [200], "earlier": [3], "returning": [50]})
    alone = audience.tonight(PLAYS, SHOWS, travellers, None, DRAFT, NEXT)
    both = audience.tonight(PLAYS, SHOWS, travellers, counts, DRAFT, NEXT)

    assert "whole audience" not in set(alone.group)
    assert [("returning people", "as lately"), ("whole audience", "counts lately")] == list(
        both[["group", "basis"]].tail(2).itertuples(index=False, name=None)
    )
