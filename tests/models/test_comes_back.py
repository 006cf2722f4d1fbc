"""What was said comes back: every remark, finding, note, cue and segue is on the show day of its song."""

import html
import re

import numpy as np
import pandas as pd

from tourstats.models import tonight
from tourstats.pages import sheet
from tourstats.pages.lists import words as lists
from tourstats.pages.show_day import on_screen
from tourstats.tour import Tour

STARTS = ("starts_by", "count_in", "speech", "track", "track_by", "track_fails", "samples")
"""What a song begins with: of each there is a word for every song."""
SEGUES = [True] * 6 + [False]


def made_up(seed):
    """Twelve songs over eight shows and a ninth to come, each thing that was said in words that stand nowhere else."""
    draw = np.random.default_rng(seed)
    titles = [f"Qx {at}" for at in range(12)]
    ids = list(range(1, 10))
    sets = {show: list(draw.choice(titles, 7, replace=False)) for show in ids}
    rows = [{"show_id": s, "position": at, "song": song} for s in ids for at, song in enumerate(sets[s], start=1)]
    plays = pd.DataFrame(rows)
    past = plays[plays.show_id < 9]
    said = past.sample(24, random_state=seed).reset_index(drop=True)
    mistakes, worked = said.head(14), said.tail(10)
    return Tour.of(
        songs=pd.DataFrame({"song": titles, "minutes": 4.0} | {name: _each(name, 12) for name in STARTS}),
        sections=pd.DataFrame({"song": titles, "position": 1, "name": "bridge", "cue": _each("cue", 12)}),
        shows=pd.DataFrame({"show_id": ids, "date": [f"2031-03-{day:02}" for day in ids], "room": "club"}),
        plays=past,
        planned=plays[plays.show_id == 9].assign(remark=[f"remark{at}x" for at in range(7)], segue=SEGUES),
        reviews=past[["show_id", "song"]],
        mistakes=mistakes[["show_id", "song"]].assign(severity=2, remark=[f"finding{at}x" for at in range(14)]),
        worked=worked[["show_id", "song"]].assign(remark=[f"good{at}x" for at in range(10)]),
        notes=pd.DataFrame({"song": titles, "text": _each("note", 12), "date": "2031-03-02", "personal": [True] * 6 +
                            [False] * 6}),
    )  # fmt: skip


def _each(word, many):
    return [f"{word.replace('_', '')}{at}x" for at in range(many)]


def test_whatever_was_said_of_tonights_songs_stands_on_the_show_day():
    """
    Of each song of the set all of its words are there, of the last two shows above the fold; of no other song any.
    """
    for seed in (1, 2, 3):
        tour = made_up(seed)
        page = on_screen.day(tonight.brief(tour, 9))
        lines = dict(zip(tour.planned.song, page.split("<li")[1:], strict=False))
        of_set = set(tour.planned.song)
        for table, column in ((tour.mistakes, "remark"), (tour.worked, "remark"), (tour.notes, "text")):
            for song, word in zip(table.song, table[column], strict=True):
                assert (word in page) == (song in of_set), (song, word)
                assert song not in of_set or word in lines[song]
        for song, remark in zip(tour.planned.song, tour.planned.remark, strict=True):
            assert remark in lines[song]
        fresh = tour.mistakes[tour.mistakes.show_id.isin([7, 8]) & tour.mistakes.song.isin(of_set)]
        for song, word in zip(fresh.song, fresh.remark, strict=True):
            assert word in lines[song].partition("<details")[0]
        assert 6 == page.count("class='segue'")


def test_how_a_song_starts_and_what_may_fail_stand_on_its_show_day_sheet_and_lists():
    """
    Who starts, count-in, speech, track, who starts that, what if it fails, samples, cues: at their song on the show day
    and on the sheet, and on the list of whoever needs them.
    """
    tour = made_up(1)
    brief = tonight.brief(tour, 9)
    page = on_screen.day(brief)
    lines = dict(zip(tour.planned.song, page.split("<li")[1:], strict=False))
    (rows,) = sheet._content(brief, "A4", dark=False)["pages"]
    facts = tour.songs.merge(tour.sections, on="song").set_index("song")
    shared = "".join(lists.as_message(lists.listed_for(brief, whom)) for whom in lists.WHOM)

    for row, song in zip(rows, tour.planned.song, strict=True):
        for name in (*STARTS, "cue"):
            word = facts[name][song]
            assert word in lines[song], (name, song)
            assert word in str(row), (name, song)
            # The set's first song follows nothing; the change into the encore is no transition.
            assert word in shared or (row["position"] == 1 and name in ("cue", "starts_by", "count_in", "speech"))


def test_nothing_of_ones_own_stands_on_a_shared_sheet():
    """
    What was found, noted or worked is mine: not on the sheet, nor on what the band, technician and director get.
    """
    tour = made_up(2)
    brief = tonight.brief(tour, 9)
    papers = [lists.as_message(lists.listed_for(brief, whom)) for whom in lists.WHOM]
    papers += [str(sheet._content(brief, "A4", dark=False, doubts=doubts)) for doubts in (False, True)]
    mine = [*tour.mistakes.remark, *tour.worked.remark, *tour.notes.text]

    assert [] == [word for word in mine for paper in papers if re.search(rf"\b{word}\b", html.unescape(paper))]
