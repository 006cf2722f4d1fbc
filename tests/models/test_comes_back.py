"""What was said comes back: every remark, finding, note and thing that worked is on the show day of its song."""

import numpy as np
import pandas as pd

from tourstats.models import tonight
from tourstats.pages.show_day import on_screen
from tourstats.tour import Tour

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
        songs=pd.DataFrame({"song": titles, "minutes": 4.0}),
        shows=pd.DataFrame({"show_id": ids, "date": [f"2031-03-{day:02}" for day in ids], "room": "club"}),
        plays=past,
        planned=plays[plays.show_id == 9].assign(remark=[f"remark{at}x" for at in range(7)], segue=SEGUES),
        reviews=past[["show_id", "song"]],
        mistakes=mistakes[["show_id", "song"]].assign(severity=2, remark=[f"finding{at}x" for at in range(14)]),
        worked=worked[["show_id", "song"]].assign(remark=[f"good{at}x" for at in range(10)]),
        notes=pd.DataFrame({"song": titles, "text": [f"note{at}x" for at in range(12)], "date": "2031-03-02"}),
    )  # fmt: skip


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
