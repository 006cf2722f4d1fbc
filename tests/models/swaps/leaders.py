"""Made-up leaders whose chances are known: each returns a tour and the chance that it really gave to every song.

Truth: the chance of each song before each show, given the past and what only the leader knows (tastes, moods,
programmes). Temptation: a rule that counts how often a song was played does well with some, badly with others.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import pandas as pd

from tourstats.models.swaps.draws import inclusion


@dataclass(frozen=True)
class Tour:
    """A made-up tour.

    plays, shows, songs as in the diary; chances has a row a show, a column a song (the first show has none).
    """

    plays: pd.DataFrame
    shows: pd.DataFrame
    songs: pd.DataFrame
    chances: np.ndarray


def tour(chances_of: Callable, songs: int, shows: int, size: int, seed: int, cities: int = 30, legs: int = 3) -> Tour:
    """Let a leader write sets: `chances_of` gives a function from the past to a set and its chances."""
    rng = np.random.default_rng(seed)
    city = (
        np.sort(rng.integers(0, cities, shows)) if cities < 5 else np.repeat(rng.integers(0, cities, shows), 2)[:shows]
    )
    day = np.cumsum(rng.integers(1, 4, shows))
    leader = chances_of(rng, songs, size)
    sets, truth = [], np.full((shows, songs), np.nan)
    out, run = np.full(songs, 10), np.zeros(songs, dtype=int)
    for t in range(shows):
        past = {"sets": sets, "out": out, "run": run, "city": city, "t": t, "day": day}
        chosen, chances = leader(past)
        truth[t] = chances
        sets.append(chosen)
        played = np.isin(np.arange(songs), chosen)
        run, out = np.where(played, run + 1, 0), np.where(played, 0, out + 1)
    titles = np.array([f"Song {name:03d}" for name in rng.permutation(songs)])
    return Tour(
        plays=pd.DataFrame(
            [(t + 1, k + 1, titles[song]) for t, chosen in enumerate(sets) for k, song in enumerate(chosen)],
            columns=["show_id", "position", "song"],
        ),
        shows=pd.DataFrame(
            {
                "show_id": np.arange(1, shows + 1),
                "date": pd.Timestamp("2031-03-01") + pd.to_timedelta(day, unit="D"),
                "city": [f"town {name}" for name in city],
                "leg": [f"leg {t * legs // shows}" for t in range(shows)],
            }
        ),
        songs=pd.DataFrame({"song": titles}),
        chances=truth,
    )


def _drawn(rng, logits, size):
    """Draw a set of fixed size one song after the other, each with its exact chance given those before."""
    odds = np.exp(logits - logits.max() + 5)
    after = np.zeros((len(odds) + 1, size + 1))
    after[-1, 0] = 1.0
    for k in range(len(odds) - 1, -1, -1):
        after[k] = after[k + 1]
        after[k, 1:] += odds[k] * after[k + 1, :-1]
    chosen, left = [], size
    for k in range(len(odds)):
        if left and rng.random() * after[k, left] < odds[k] * after[k + 1, left - 1]:
            chosen.append(k)
            left -= 1
    return rng.permutation(chosen), inclusion(odds, size)


def _swapping(stay, come):
    """Make a leader who moves from the last set: log odds of staying and of coming in; quiet and busy nights differ."""

    def leader(rng, songs, size):
        taste = rng.normal(0, 1, songs)

        def next_set(past):
            if not past["sets"]:
                return _drawn(rng, taste, size)
            last = np.isin(np.arange(songs), past["sets"][-1])
            night = rng.normal(0, 0.4)
            logits = np.where(last, stay(past, taste) - night, come(past, taste) + night)
            return _drawn(rng, logits, size)

        return next_set

    return leader


def by_taste(seed=1, songs=60, shows=60, size=12):
    """A leader with tastes that nobody sees and that do not change."""
    return tour(_swapping(lambda _, a: 1.2 + 0.9 * a, lambda _, a: -2.6 + 0.9 * a), songs, shows, size, seed)


def by_runs(seed=2, songs=60, shows=60, size=12):
    """A leader who keeps a song for a run of shows, then leaves it out."""
    return tour(
        _swapping(
            lambda p, a: 2.8 - 0.35 * p["run"] + 0.3 * a,
            lambda p, a: -3.2 + 0.3 * a + 0.5 * np.log(np.maximum(p["out"], 1)),
        ),
        songs,
        shows,
        size,
        seed,
    )


def by_queue(seed=3, songs=60, shows=60, size=12):
    """A leader who brings back what has been out longest."""

    def come(past, taste):
        waiting = np.where(past["out"] > 0, past["out"], -1)
        rank = np.argsort(np.argsort(-waiting, kind="stable"), kind="stable")
        return -3.5 + 3.5 * np.exp(-rank / 6) + 0.3 * taste

    return tour(_swapping(lambda _, a: 1.0 + 0.6 * a, come), songs, shows, size, seed)


def by_mood(seed=4, songs=60, shows=60, size=12):
    """A leader whose tastes move."""

    def leader(rng, songs, size):
        taste = rng.normal(0, 1.2, songs)

        def next_set(past):
            nonlocal taste
            taste = 0.93 * taste + rng.normal(0, 1.2 * np.sqrt(1 - 0.93**2), songs)
            if not past["sets"]:
                return _drawn(rng, taste, size)
            last = np.isin(np.arange(songs), past["sets"][-1])
            return _drawn(rng, np.where(last, 1.0, -2.5) + taste, size)

        return next_set

    return tour(leader, songs, shows, size, seed)


def by_town(seed=5, songs=60, shows=60, size=12):
    """A leader who avoids what a town heard at the last visit."""

    def heard(past, songs):
        t, city = past["t"], past["city"]
        before = [s for s in range(t) if city[s] == city[t]]
        return np.isin(np.arange(songs), past["sets"][before[-1]]) if before else np.zeros(songs, dtype=bool)

    return tour(
        _swapping(
            lambda p, a: 1.5 + 0.7 * a - 2.0 * heard(p, len(a)),
            lambda p, a: -2.6 + 0.7 * a - 1.5 * heard(p, len(a)),
        ),
        songs,
        shows,
        size,
        seed,
        cities=12,
    )


def by_programme(seed=6, songs=30, shows=60, size=4, programmes=10, shared=0.35):
    """An orchestra's way: a whole programme repeated for some nights, then another one, some of which come back."""

    def leader(rng, songs, size):
        lists = [rng.choice(songs, size, replace=False, p=None) for _ in range(programmes)]
        weight = rng.dirichlet(np.ones(programmes))
        now, nights = 0, 0

        def next_set(past):
            nonlocal now, nights
            keep = 0.0 if not past["sets"] else (0.8 if nights < 2 else 0.45)
            chance = np.zeros(programmes)
            other = weight.copy()
            other[now] = 0 if past["sets"] else other[now]
            chance += (1 - keep) * other / other.sum()
            chance[now] += keep
            chances = np.zeros(songs)
            for which, share in enumerate(chance):
                chances[lists[which]] += share
            was, now = now, int(rng.choice(programmes, p=chance))
            nights = nights + 1 if was == now else 1
            return lists[now], chances

        return next_set

    return tour(leader, songs, shows, size, seed)


def by_slots(seed=7, works=40, shows=50, size=4):
    """An orchestra's other way: each place of the programme goes its own way, with two or three works in turn."""

    def leader(rng, songs, size):
        own = np.array_split(rng.permutation(songs), size)
        keep = rng.uniform(0.5, 0.9, size)
        weights = [rng.dirichlet(np.full(len(o), 0.4)) + 1e-9 for o in own]
        now = [int(rng.choice(len(o), p=w / w.sum())) for o, w in zip(own, weights, strict=True)]

        def next_set(past):
            chances = np.zeros(songs)
            for k in range(size):
                other = weights[k].copy()
                other[now[k]] = 1e-12
                chance = (1 - keep[k]) * other / other.sum()
                chance[now[k]] += keep[k]
                chance /= chance.sum()
                chances[own[k]] = chance
                now[k] = int(rng.choice(len(chance), p=chance))
            return np.array([own[k][now[k]] for k in range(size)]), chances

        return next_set

    return tour(leader, works, shows, size, seed)


def in_turn(seed=8, works=24, shows=40, size=4):
    """Two or three programmes in turn, night after night, with one work changed now and then."""

    def leader(rng, songs, size):
        lists = [list(rng.choice(songs, size, replace=False)) for _ in range(3)]

        def next_set(past):
            k = past["t"] % len(lists)
            now = lists[k]
            chances = np.zeros(songs)
            chances[now] = 0.9
            outside = np.setdiff1d(np.arange(songs), now)
            place = rng.integers(size)
            chances[now] = 1 - 0.4 / size
            chances[outside] = 0.4 / len(outside)
            if rng.random() < 0.4:
                now[place] = int(rng.choice(outside))
            return np.array(now), chances

        return next_set

    return tour(leader, works, shows, size, seed)


def never_changing(seed=9, songs=40, shows=30, size=10):
    """The same set every night."""

    def leader(rng, songs, size):
        chosen = rng.choice(songs, size, replace=False)
        chances = np.isin(np.arange(songs), chosen).astype(float)
        return lambda _: (chosen, chances)

    return tour(leader, songs, shows, size, seed)


def all_changing(seed=10, songs=40, shows=30, size=10):
    """Nothing of last night's set, anything else."""

    def leader(rng, songs, size):
        def next_set(past):
            last = np.isin(np.arange(songs), past["sets"][-1]) if past["sets"] else np.zeros(songs, dtype=bool)
            chances = np.where(last, 0.0, size / (~last).sum())
            return rng.choice(np.flatnonzero(~last), size, replace=False), chances

        return next_set

    return tour(leader, songs, shows, size, seed)


def by_lot(seed=11, songs=40, shows=40, size=10):
    """Any set is as likely as any other."""
    return tour(
        lambda rng, songs, size: lambda _: (rng.choice(songs, size, replace=False), np.full(songs, size / songs)),
        songs,
        shows,
        size,
        seed,
    )


def small(seed=12, songs=20, shows=40, size=3):
    """Twenty songs, three a night."""
    return tour(_swapping(lambda _, a: 0.3 + 0.7 * a, lambda _, a: -2.2 + 0.7 * a), songs, shows, size, seed)


KINDS = {
    f.__name__: f
    for f in (
        by_taste,
        by_runs,
        by_queue,
        by_mood,
        by_town,
        by_programme,
        by_slots,
        in_turn,
        never_changing,
        all_changing,
        by_lot,
        small,
    )
}
