"""The demo tour: the files are what the process makes, the diary what the files say, and the truth can be found."""

import csv
import io
import math
import os
import re
import sqlite3
import subprocess
import sys
from collections import Counter
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from dataclasses import replace
from pathlib import Path
from statistics import mean, median

import pandas as pd
import pytest

from tourstats import demo
from tourstats.demo import band
from tourstats.demo.dice import Dice
from tourstats.diary import opened, read_set
from tourstats.problems import Problem

DATA = Path(__file__).parents[1] / "data"
README = (DATA / "README.md").read_text(encoding="utf-8")
OLD = {title for title, marks, _ in band.SONGS if len(marks) == 1}
"""Titles that may be played on any night."""


@pytest.fixture(scope="module")
def tour():
    return demo.tour()


@pytest.fixture(scope="module")
def many_tours():
    """Sixteen tours and what happened at each play, to see a process and not its luck."""
    return [(made, made.plays()) for made in map(demo.tour, range(1, 17))]


@pytest.fixture(scope="module")
def tables(tmp_path_factory):
    with opened(tmp_path_factory.mktemp("demo") / "diary.sqlite") as diary:
        demo.fill(diary)
        return diary.read()


def rows(name):
    return list(csv.DictReader(io.StringIO(demo.files()[name])))


def number_before(words):
    """The number that the README gives before these words."""
    return int(re.search(rf"(\d+)\s+{words}", README.replace("\n", " "))[1])


def spread(values):
    """Mean of a quantity over tours, and its standard error."""
    values = list(values)
    return mean(values), math.sqrt(sum((v - mean(values)) ** 2 for v in values) / len(values) / (len(values) - 1))


# The files


def test_the_files_that_are_shipped_are_the_ones_that_are_made():
    """
    data/ holds what the process makes, byte for byte, and besides only its README and pictures.
    """
    beside = ("README.md", "pictures")
    shipped = {path.name: path.read_bytes() for path in DATA.iterdir() if path.name not in beside}

    assert {name: text.encode() for name, text in demo.files().items()} == shipped


def test_another_seed_is_another_tour():
    """
    The band stays the same; its dates, sets and mistakes do not.
    """
    ours, other = demo.files(), demo.files(7)

    assert set(ours) == set(other)
    assert {"shows.csv", "sets_leg1.csv", "sets_leg3.txt", "mistakes.csv", "attendance.csv", "tonight.txt"} <= {
        name for name in ours if ours[name] != other[name]
    }


def test_the_order_of_sets_in_memory_changes_nothing():
    """
    Two programs with differently shuffled hashes make the same bytes.
    """
    code = (
        "import hashlib; from tourstats import demo;"
        "print(hashlib.sha256(repr(sorted(demo.files().items())).encode()).hexdigest())"
    )
    made = {
        subprocess.run(
            [sys.executable, "-c", code], env=os.environ | {"PYTHONHASHSEED": seed}, capture_output=True, check=True
        ).stdout
        for seed in ("0", "7")
    }

    assert 1 == len(made)


def test_the_attendance_stays_small():
    """
    A newcomer clones the project over a hotel's network.
    """
    assert len(demo.files()["attendance.csv"]) < 300_000


@pytest.mark.parametrize("name", sorted(demo.files()))
def test_the_readme_names_every_file_and_column(name):
    """
    Whoever opens a file finds it explained.
    """
    line = next(line for line in README.splitlines() if line.startswith(f"| {name} |"))
    if name.endswith(".csv") and name != "sets_leg1.csv":
        header = re.split("[,;]", demo.files()[name].splitlines()[0])

        assert set(header) <= set(re.findall(r"\w+", line))


def test_no_file_has_a_name_of_another_kind_of_person(tour):
    """
    Travellers are hashes, twelve hexadecimal digits each.
    """
    assert all(re.fullmatch("[0-9a-f]{12}", str(row["person"])) for row in tour.attendance)


def test_tonights_set_is_messy_and_needs_no_answer(tour):
    """
    The first command of a newcomer asks nothing: all lines are matched surely, and rightly, though few are typed right.
    """
    tonight = tour.shows[-1]
    typed = demo.files()["tonight.txt"]
    found = read_set(typed, pd.DataFrame(rows("repertoire.csv")))

    assert tonight.planned == found.song.tolist()
    assert found.sure.all()
    assert tonight.planned_encore == found.encore.sum()
    assert sum(f"{place}. {title}" in typed.splitlines() for place, title in enumerate(tonight.planned, 1)) < 12


# The diary


def test_the_diary_holds_what_the_readme_says(tables):
    """
    The numbers in the README are those of the diary.
    """
    statuses = tables.songs.status.value_counts()

    assert {
        "songs": number_before("in the book"),
        "played": number_before("songs played"),
        "shows played": number_before("shows, 1016"),
        "rehearsals": number_before("rehearsals"),
        "reviewed": number_before("shows reviewed"),
        "again": number_before("of them a second time"),
        "mistakes": number_before("mistakes written down"),
        "notes": number_before("notes, and"),
        "travellers": number_before("travellers"),
        "evenings": number_before("evenings"),
        "retired": number_before("were retired"),
        "learning": number_before("are being learned"),
        "new": number_before("of them newly released"),
    } == {
        "songs": len(tables.songs),
        "played": len(tables.plays),
        "shows played": tables.plays.show_id.nunique(),
        "rehearsals": len(tables.rehearsals),
        "reviewed": tables.reviews.show_id.nunique(),
        "again": tables.reviews[tables.reviews.listening == 2].show_id.nunique(),
        "mistakes": len(tables.mistakes),
        "notes": len(tables.notes),
        "travellers": tables.attendance.person.nunique(),
        "evenings": len(tables.attendance),
        "retired": statuses["retired"],
        "learning": statuses["learning"],
        "new": tables.songs.new_release.sum(),
    }


def test_the_diary_holds_the_tour_as_it_was(tables, tour):
    """
    Every set, its order and its encore, came through.
    """
    played = tables.plays.groupby("show_id", sort=False)
    shows = tables.shows.set_index("show_id")

    assert [show.played for show in tour.played] == [sets.song.tolist() for _, sets in played]
    assert [show.encore for show in tour.played] == [sets.encore.sum() for _, sets in played]
    assert [(show.city, show.venue, show.room, show.leg, show.number, str(show.date)) for show in tour.shows] == [
        (row.city, row.venue, row.room, row.leg, row.number, str(row.date.date())) for row in shows.itertuples()
    ]


def test_the_handouts_of_the_third_leg_and_of_tonight_are_there(tables, tour):
    """
    What was handed out stands beside what was played; tonight is planned only.
    """
    third = [show for show in tour.shows if show.leg == "Autumn rooms"]
    planned = [sets.song.tolist() for _, sets in tables.planned.groupby("show_id", sort=False)]

    assert [show.planned for show in third] == planned
    assert [show.planned_encore for show in third] == list(tables.planned.groupby("show_id", sort=False).encore.sum())
    assert tables.shows.show_id.iloc[-1] not in set(tables.plays.show_id)
    assert 3 <= sum(show.planned != show.played for show in third[:-1]) <= 15


def test_every_reviewed_song_was_played_and_every_mistake_reviewed(tables):
    """
    Nobody finds a mistake in a song that was not heard.
    """
    played = set(zip(tables.plays.show_id, tables.plays.song, strict=True))
    reviewed = set(zip(tables.reviews.show_id, tables.reviews.song, tables.reviews.listening, strict=True))
    found = set(zip(tables.mistakes.show_id, tables.mistakes.song, tables.mistakes.listening, strict=True))

    assert {(show, song) for show, song, _ in reviewed} <= played
    assert found <= reviewed


def test_remarks_are_finished_sentences(tables):
    """
    No placeholder is left in what a newcomer reads.
    """
    words = [*tables.mistakes.remark, *tables.notes.text, *tables.songs.watch.dropna()]

    assert [] == [text for text in words if "{" in text or not text.strip()]
    assert len(set(tables.mistakes.remark)) > 100


def test_filling_is_one_change(tmp_path):
    """
    The demo can be undone like anything else, and is there wholly or not at all.
    """
    with opened(tmp_path / "diary.sqlite") as diary:
        demo.fill(diary, seed=3)
        diary.undo()

        assert (0, 0) == (len(diary.songs()), len(diary.shows()))


def test_where_the_demo_cannot_be_laid_out_is_said(tmp_path, monkeypatch):
    """
    A place that is no folder; one's own diary needs no demo.
    """
    (tmp_path / "file").touch()
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "file"))

    with pytest.raises(Problem) as caught:
        demo.path()

    assert (
        f"The demo tour cannot be laid out in {tmp_path / 'file' / 'tourstats'} (Not a directory). Allow writing "
        "there, or begin your own diary: `tourstats intake FILE`."
    ) == str(caught.value)


def test_the_demo_diary_is_made_once_by_two_at_the_same_time():
    """
    Two programs that start together get the same whole diary, and no leavings.
    """
    with ThreadPoolExecutor(2) as pool:
        first, second = pool.map(lambda _: demo.path(), range(2))

    assert first == second == demo.path()
    assert [first] == list(first.parent.iterdir())
    with closing(sqlite3.connect(first)) as db:
        assert ("ok",) == db.execute("pragma integrity_check").fetchone()


# The scenario: common practice of the trade, no source


def test_consecutive_sets_are_similar_but_never_equal(many_tours):
    """
    At least a couple of songs change every night, and most stay.
    """
    for made, _ in many_tours:
        for before, after in zip(made.played, made.played[1:], strict=False):
            come, stay = set(after.played) - set(before.played), set(after.played) & set(before.played)

            assert len(come) >= 2
            assert len(set(before.played) - set(after.played)) >= 2
            assert len(stay) >= 4


def test_the_tour_has_every_kind_of_room_and_two_shows_on_some_days(tour):
    """
    What a newcomer may have on a tour of their own is on this one.
    """
    days = Counter(show.date for show in tour.shows)

    assert set(band.ROOM_NOTES) == {show.room for show in tour.shows}
    assert (75, [2, 2]) == (len(tour.shows), [many for many in days.values() if many > 1])
    assert ("festival", "theatre") == (tour.shows[-2].room, tour.shows[-1].room)
    assert tour.shows[-1].city in {show.city for show in tour.shows[:27]}


def test_sets_have_the_length_and_encore_of_the_trade(many_tours):
    """
    22 to 24 songs were handed out, two or three of them for the encore; no song stands twice in a set.
    """
    for made, _ in many_tours:
        assert {len(show.planned) for show in made.shows} <= {22, 23, 24}
        assert {show.planned_encore for show in made.shows} <= {2, 3}
        assert all(len(set(show.played)) == len(show.played) for show in made.played)


def test_songs_are_played_only_while_they_are_in_the_repertoire(many_tours):
    """
    Nothing before it joined, after it was retired, or while it is being learned.
    """
    for made, _ in many_tours:
        titled = {song.title: song for song in made.songs}

        assert all(titled[title].playable(show.date) for show in made.shows for title in show.planned)


def test_songs_are_out_for_a_few_shows_or_for_many(tour):
    """
    Among the returns there are short layoffs and very long ones.
    """
    missed = [play.missed for play in tour.playing.plays if play.missed]

    assert 3 <= median(missed) <= 12
    assert max(missed) >= 30


def test_songs_are_learned_by_listening_then_pad_then_kit(tour):
    """
    The first run of each way comes in the order of learning, before the first show for the old book.
    """
    first = {}
    for row in tour.playing.rehearsals:
        first.setdefault((row["song"], row["way"]), row["date"])
    old = [song for song in tour.songs if song.since.year < 2031]

    assert all(first[s.title, "listen"] < first[s.title, "pad"] < first[s.title, "kit"] for s in old)
    assert max(first[s.title, "kit"] for s in old) < tour.shows[0].date


# The truth, found again: means over sixteen tours


def test_the_layoff_has_the_effect_that_is_stated(many_tours):
    """
    Within songs, so that hard songs being out longer does not count: log ratio per log(1 + shows missed), truth 0.32.
    """
    slopes = []
    for _, plays in many_tours:
        known = plays[~plays["first"]].assign(missed=lambda p: p.missed.map(math.log1p))
        known["missed"] -= known.groupby("song").missed.transform("mean")
        hot = known[known.missed > 0.8]
        cold = known[known.missed < -0.1]
        level = known.groupby("song").mistakes.transform("mean").clip(lower=0.02)
        ratio = (hot.mistakes.sum() / level[hot.index].sum()) / (cold.mistakes.sum() / level[cold.index].sum())
        slopes.append(math.log(ratio) / (hot.missed.mean() - cold.missed.mean()))
    found, error = spread(slopes)

    assert 0.22 < found - 2 * error
    assert found + 2 * error < 0.48


def test_the_rates_hold_the_parameters(many_tours):
    """
    Log rates of a song at two shows differ by exactly what is stated: the room, the layoff, the run, and the rest.
    """
    truth = demo.truth()
    made, plays = many_tours[0]
    shows = {show.show_id: show for show in made.shows}
    titled = {song.title: song for song in made.songs}
    longest = plays.groupby("show_id").position.transform("max")
    rest = [
        row.log_rate
        - titled[row.song].difficulty
        - (0.75 if row.first else 0.32 * math.log(1 + row.missed))
        - {"theatre": 0, "club": 0.1, "arena": 0.25, "festival": 0.45, "studio": -0.2, "other": 0.15}[
            shows[row.show_id].room
        ]
        - 0.3 * (row.position - 1) / (length - 1)
        + 0.6 * (row.show_id - 1) / 74
        - 0.25 * row.new_transition
        - {"": 0, "listen": -0.1, "pad": -0.2, "band": -0.35, "kit": -0.5}[row.run]
        - 0.2 * (shows[row.show_id].number > 1)
        for row, length in zip(plays.itertuples(), longest, strict=True)
    ]
    nights = plays.assign(rest=rest).groupby("show_id").rest

    assert 0 == pytest.approx((nights.max() - nights.min()).max(), abs=1e-9)
    assert truth.night_sd == pytest.approx(nights.mean().std(), rel=0.3)


def test_what_a_play_is_said_to_depend_on_is_what_was_played_and_run(tour):
    """
    Layoffs count from what was played, not planned; of the runs of the last seven days the best counts.
    """
    last, runs = {}, {}
    for row in tour.playing.rehearsals:
        runs.setdefault(row["song"], []).append((row["date"], row["way"]))
    order = ["", "listen", "pad", "band", "kit"]
    expected = []
    for show in tour.played:
        for title in show.played:
            near = [way for day, way in runs.get(title, []) if 0 <= (show.date - day).days <= 7]
            best = max(near, key=order.index) if near else ""
            expected.append((title, show.show_id - last.get(title, show.show_id - 1) - 1, title not in last, best))
        last |= dict.fromkeys(show.played, show.show_id)

    assert expected == [(play.song, play.missed, play.first, play.run) for play in tour.playing.plays]


def test_as_many_mistakes_happen_as_the_rates_say(many_tours):
    """
    Poisson: the total is the sum of the rates, and the variance is the mean.
    """
    expected = sum(plays.log_rate.map(math.exp).sum() for _, plays in many_tours)
    happened = sum(plays.mistakes.sum() for _, plays in many_tours)
    squares = sum(((plays.mistakes - plays.log_rate.map(math.exp)) ** 2).sum() for _, plays in many_tours)

    assert expected == pytest.approx(happened, abs=4 * math.sqrt(expected))
    assert expected == pytest.approx(squares, rel=0.08)


def test_a_review_finds_seven_in_ten_at_first_and_nine_in_ten_at_last(many_tours):
    """
    The ear gets stricter over the tour, and is strictest when listening again.
    """
    found, there = Counter(), Counter()
    for made, plays in many_tours:
        happened = plays.set_index(["show_id", "song"]).mistakes
        for row in made.playing.reviews:
            when = "again" if row["listening"] == 2 else ("first", "middle", "last")[min(2, row["show_id"] // 25)]
            there[when] += happened[row["show_id"], row["song"]]
        for row in made.playing.mistakes:
            found["again" if row["listening"] == 2 else ("first", "middle", "last")[min(2, row["show_id"] // 25)]] += 1
    share = {when: found[when] / there[when] for when in there}

    assert 0.70 < share["first"] < 0.76
    assert 0.85 < share["last"] < 0.91
    assert 0.87 < share["again"] < 0.93


def test_a_plain_comparison_is_tempting(many_tours):
    """
    Songs run at the kit had no fewer mistakes, though a run takes away four in ten; layoffs look worse than they are.
    """
    kit = spread(p[p.run == "kit"].mistakes.mean() / p[p.run == ""].mistakes.mean() for _, p in many_tours)
    missed = spread(
        math.log(p[p.missed > 0].mistakes.mean() / p[(p.missed == 0) & ~p["first"]].mistakes.mean())
        / p[p.missed > 0].missed.map(math.log1p).mean()
        for _, p in many_tours
    )

    assert kit[0] - 2 * kit[1] > 0.9
    assert missed[0] > demo.truth().layoff


def test_a_field_is_harder_than_a_theatre_and_reviewed_less(many_tours):
    """
    Rooms differ as stated, before and after what is reviewed.
    """
    log_ratio, reviewed = [], Counter()
    for made, plays in many_tours:
        room = {show.show_id: show.room for show in made.shows}
        rooms = plays.show_id.map(room)
        season = plays.show_id.between(28, 51)
        field, theatre = plays[season & (rooms == "festival")], plays[season & (rooms == "theatre")]
        if len(theatre) > 60:
            log_ratio.append(math.log(field.mistakes.mean() / theatre.mistakes.mean()))
        heard = {row["show_id"] for row in made.playing.reviews}
        reviewed.update((show.room, show.show_id in heard) for show in made.played)
    found, error = spread(log_ratio)

    assert abs(found - 0.45) < 3 * error
    assert (
        reviewed["festival", True] / reviewed["festival", False]
        < reviewed["theatre", True] / reviewed["theatre", False]
    )


def test_the_leader_does_as_is_stated(many_tours):
    """
    Fixtures nearly always; more changes at the start of a leg and in the same town again.
    """
    fixtures = [
        len({"Put Out the Lanterns", "Market Day Parade"} & set(show.planned)) / 2
        for made, _ in many_tours
        for show in made.shows
    ]
    swaps = {"ordinary": [], "leg start": [], "same town": []}
    for made, _ in many_tours:
        for before, after in zip(made.shows, made.shows[1:], strict=False):
            kind = "leg start" if before.leg != after.leg else "same town" if before.city == after.city else "ordinary"
            swaps[kind].append(len(set(after.planned) - set(before.played)))

    assert 0.92 < mean(fixtures) < 0.96
    assert mean(swaps["leg start"]) > mean(swaps["same town"]) > mean(swaps["ordinary"]) + 2


def test_the_leader_avoids_what_a_town_has_heard(many_tours):
    """
    On a later visit, songs of the visit before come in less often than others.
    """
    come = Counter()
    for made, _ in many_tours:
        heard = {}
        for before, after in zip([None, *made.played], made.played, strict=False):
            if before and after.city in heard and before.city != after.city and before.leg == after.leg:
                here = heard[after.city]
                come.update((song in here, True) for song in set(after.planned) - set(before.played))
                come.update((song in here, False) for song in OLD - set(after.planned) - set(before.played))
            heard[after.city] = set(after.played)

    assert come[True, True] / come[True, False] < 0.6 * come[False, True] / come[False, False]


def test_a_leader_with_other_habits_writes_other_sets():
    """
    The parameters are what drives the process: with a strong queue the song that is out longest comes next.
    """
    made = demo.tour(1, replace(demo.truth(), queue=40.0, heard_here_in=0.0, newness=0.0, return_sd=0.01))
    missed = made.plays().query("show_id > 40 and missed > 0").missed

    assert missed.quantile(0.25) > 8


def test_a_leader_who_hates_to_repeat_lets_go_first_of_what_the_town_has_heard():
    """
    With that habit made extreme, nothing new to the town goes out while something it has heard stays in.
    """
    made = demo.tour(1, replace(demo.truth(), heard_here_out=60.0))
    heard, visits = {}, 0
    for before, after in zip([None, *made.played], made.played, strict=False):
        here = heard.get(after.city, set()) & OLD
        if before and here:
            went = OLD & set(before.played) - set(after.planned)
            visits += 1

            assert went <= here or not here & set(before.played) & set(after.planned)
        heard[after.city] = set(after.played)

    assert visits > 20


def test_travellers_come_again_with_a_heavy_tail(tour):
    """
    Everyone came twice at least, most not often, a few to most of the tour; shows near one another share people.
    """
    many = Counter(row["person"] for row in tour.attendance)
    people = {}
    for row in tour.attendance:
        people.setdefault(row["show"].show_id, set()).add(row["person"])
    shared = [len(people[at] & people[at + 1]) / len(people[at]) for at in range(1, 74)]
    far = [len(people[at] & people[(at + 36) % 74 + 1]) / len(people[at]) for at in range(1, 74)]

    assert (2, 60) == (min(many.values()), max(many.values()))
    assert median(many.values()) <= 3
    assert sum(times > 20 for times in many.values()) >= 30
    assert mean(shared) > 1.5 * mean(far)


# The dice


def test_the_dice_follow_the_distributions_that_they_name():
    """
    Means and variances of many throws.
    """
    dice = Dice(5)
    normal = [dice.normal(2, 3) for _ in range(4000)]
    poisson = [dice.poisson(1.7) for _ in range(4000)]

    assert (2, 3) == pytest.approx((mean(normal), math.sqrt(mean((x - 2) ** 2 for x in normal))), abs=0.15)
    assert (1.7, 1.7) == pytest.approx((mean(poisson), mean((x - 1.7) ** 2 for x in poisson)), abs=0.12)
    assert {3, 4, 5} == {dice.whole(3, 5) for _ in range(100)}


def test_a_draw_takes_each_by_its_odds_and_none_twice():
    """
    By hand: odds 3, 1, 1. The first is drawn first in 3/5, among the first two in 3/5 + 2 x 1/5 x 3/4 = 9/10.
    """
    dice = Dice(6)
    log_odds = {"a": math.log(3), "b": 0.0, "c": 0.0}
    drawn = [dice.draw(log_odds, 2) for _ in range(6000)]

    assert 0.6 == pytest.approx(mean(d[0] == "a" for d in drawn), abs=0.02)
    assert 0.9 == pytest.approx(mean("a" in d for d in drawn), abs=0.015)
    assert all(len(set(d)) == 2 for d in drawn)


def test_a_pick_follows_its_weights():
    """
    Weights 1, 0, 3: the second never, the third three times in four.
    """
    dice = Dice(7)
    picked = Counter(dice.pick("abc", (1, 0, 3)) for _ in range(4000))

    assert 0 == picked["b"]
    assert 0.75 == pytest.approx(picked["c"] / 4000, abs=0.025)
