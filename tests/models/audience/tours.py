"""Small tours for the tests of the audience, and the plainest way to count."""

import numpy as np
import pandas as pd
from hypothesis import strategies as st

SONGS = ["Ferry", "Copper Wire", "Tin Rook", "Salt Road", "Low Water", "Paper Mill", "Lantern", "Old Brass"]


def shows_of(legs, ids=None, **columns):
    ids = list(range(1, len(legs) + 1)) if ids is None else ids
    dates = pd.date_range("2031-03-01", periods=len(legs))
    return pd.DataFrame({"show_id": ids, "date": dates, "leg": legs, **columns})


def plays_of(sets, ids=None):
    ids = list(range(1, len(sets) + 1)) if ids is None else ids
    rows = [(show, at, song) for show, songs in zip(ids, sets, strict=True) for at, song in enumerate(songs, start=1)]
    return pd.DataFrame(rows, columns=["show_id", "position", "song"])


def random_tour(seed, shows=12, songs=30, size=8, legs=2):
    random = np.random.default_rng(seed)
    titles = [f"Song {n}" for n in range(songs)]
    sets = [[titles[n] for n in random.choice(songs, size, replace=False)] for _ in range(shows)]
    return plays_of(sets), shows_of([f"leg {at * legs // shows}" for at in range(shows)])


def random_people(seed, shows, people=200, most=5):
    random = np.random.default_rng(seed)
    rows = [
        (f"p{person}", show)
        for person in range(people)
        for show in random.choice(shows.show_id, random.integers(1, most + 1), replace=False)
    ]
    return pd.DataFrame(rows, columns=["person", "show_id"])


@st.composite
def crowds(draw):
    """A tour of up to six shows with interleaved legs, songs that stand twice, and people scanned twice."""
    count = draw(st.integers(1, 6))
    ids = draw(st.permutations(range(10, 10 + count)))
    legs = draw(st.lists(st.sampled_from(["north", "south", None]), min_size=count, max_size=count))
    sets = draw(st.lists(st.lists(st.sampled_from(SONGS), min_size=1, max_size=6), min_size=count, max_size=count))
    pairs = st.tuples(st.sampled_from("abcdefg"), st.sampled_from(ids))
    scans = draw(st.lists(pairs, max_size=25))
    return plays_of(sets, ids), shows_of(legs, ids), pd.DataFrame(scans, columns=["person", "show_id"])


def naive(plays, shows, attendance, within):
    """For each show in order: attendees, and the fresh share of each repeat attendee, by unions of sets."""
    sets = {show: set(rows.song) for show, rows in plays.groupby("show_id")}
    order = list(shows.sort_values("date").show_id)
    leg = {row.show_id: ("-" if pd.isna(row.leg) else row.leg) if within == "leg" else 0 for row in shows.itertuples()}
    came = {person: set(rows.show_id) for person, rows in attendance.groupby("person")}
    made = []
    for at, show in enumerate(order):
        if show not in sets:
            continue
        before = [other for other in order[:at] if leg[other] == leg[show] and other in sets]
        attendees, fresh = 0, []
        for visits in came.values():
            if show in visits:
                attendees += 1
                earlier = [other for other in before if other in visits]
                heard = set().union(*(sets[other] for other in earlier))
                if earlier:
                    fresh.append(len(sets[show] - heard) / len(sets[show]))
        made.append((show, attendees, fresh))
    return made
