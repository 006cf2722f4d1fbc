"""Made-up diaries of every kind that people keep: few shows, one song, fixed sets, years apart, nothing reviewed."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from hypothesis import strategies as st

SONGS = (
    "Ochre Lantern",
    "Wet Gravel Reel",
    "Tin Heron",
    "Paraffin Hymn",
    "Low Orchard",
    "Brass Thimble",
    "Ninth Ferryman",
)
SETS = ("fixed", "drawn", "all", "one song")
DAYS = ("every day", "two a day", "years apart", "one day")
REVIEWS = ("nothing", "one show", "all", "faults only", "some")


@dataclass(frozen=True)
class Made:
    """What a made-up diary is like; the same values give the same diary."""

    shows: int = 3
    songs: int = 4
    sets: str = "fixed"
    days: str = "every day"
    reviews: str = "nothing"
    retired: int = 0
    coming: int = 0
    planned: bool = False
    legs: bool = True
    facts: bool = False
    again: bool = False
    people: bool = False
    seed: int = 0


def diaries(most_shows=6):
    """Diaries of all kinds, small ones first."""
    return st.builds(
        Made,
        shows=st.integers(0, most_shows),
        songs=st.integers(1, len(SONGS)),
        sets=st.sampled_from(SETS),
        days=st.sampled_from(DAYS),
        reviews=st.sampled_from(REVIEWS),
        retired=st.integers(0, 2),
        coming=st.integers(0, 2),
        planned=st.booleans(),
        legs=st.booleans(),
        facts=st.booleans(),
        again=st.booleans(),
        people=st.booleans(),
        seed=st.integers(0, 99),
    )


def fill(diary, made):
    """Write it as a person would, show by show."""
    random = np.random.default_rng(made.seed)
    titles = list(SONGS[: made.songs])
    for song in titles:
        facts = {"minutes": 4.0, "tempo_bpm": 90.0, "readiness": "by heart", "gear": "bass drum"} if made.facts else {}
        diary.add_song(song, **facts)
    for number in range(made.shows):
        show = diary.add_show(*_where(made, number), leg=_leg(made, number), **_facts(made, number))
        played = _set(made, titles, random)
        diary.write_set(show, played, stage="played", encore_from=len(played) if made.facts else None)
        _review(diary, made, show, number, list(dict.fromkeys(played)), random)
        if made.people:
            came = [f"person {seat}" for seat in range(5 + 3 * (number % 2))]
            diary.add_attendance(pd.DataFrame({"person": came, "show_id": show}))
        if made.again and made.reviews != "nothing":
            diary.add_review(show, played[:1], listening=2)
    for song in titles[len(titles) - min(made.retired, made.songs) :]:
        diary.change_song(song, status="retired")
    for number in range(made.shows, made.shows + made.coming):
        show = diary.add_show(*_where(made, number), leg=_leg(made, number), **_facts(made, number))
        if made.planned:
            diary.write_set(show, _set(made, titles, random))
    if made.facts and made.shows:
        diary.add_rehearsal(titles[0], "kit", _where(made, 0)[0], runs=2, minutes=9)
        diary.add_note("softer here", song=titles[0], date=_where(made, 0)[0])


def _where(made, number):
    step = {"every day": 1, "two a day": 0.5, "years apart": 500, "one day": 0}[made.days]
    day = pd.Timestamp("2029-05-01") + pd.Timedelta(int(number * step), "D")
    return str(day.date()), ("Ostby", "Varrow")[number // 2 % 2]


def _leg(made, number):
    return f"leg {1 + number // 3}" if made.legs else None


def _facts(made, number):
    nth = {"every day": 1, "two a day": 1 + number % 2, "years apart": 1, "one day": 1 + number}[made.days]
    return {"number": nth, **({"room": ("club", "festival")[number % 2]} if made.facts else {})}


def _set(made, titles, random):
    if made.sets == "one song":
        return titles[:1]
    if made.sets == "drawn":
        return [str(song) for song in random.permutation(titles)[: random.integers(1, len(titles) + 1)]]
    return titles if made.sets == "all" else titles[: max(len(titles) - 1, 1)]


def _review(diary, made, show, number, played, random):
    if made.reviews == "nothing" or (made.reviews == "one show" and number) or (made.reviews == "some" and number % 2):
        return
    if made.reviews != "faults only":
        diary.add_review(show, played)
    for song in played:
        for _ in range(random.poisson(0.5)):
            where = {"section": "bridge", "bar": int(random.integers(1, 4))} if made.facts else {}
            diary.add_mistake(show, song, random.choice(["entry", "tempo"]), int(random.integers(1, 4)), **where)
