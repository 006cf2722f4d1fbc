"""Tours with rehearsals whose truth is known: what a run takes away, a break, partial reviews, a second listening.

log(mean mistakes) = song + layoff * log(1 + shows missed) + room + position * place + date * time + run[way of the run
that counts] + night. Songs' levels are normal in logarithms. Who runs what is said by `who`:
    fair      a third of each set, by lot
    risky     half of the songs that are hard or were out long
    worried   most of what went wrong the last time it was reviewed, and little else
    mixed     all four ways, by lot weighed by how hard the song is
Temptation: songs that are run are the hard ones, so that a raw comparison shows more mistakes after a run than without.
"""

from types import SimpleNamespace

import numpy as np
import pandas as pd

WHO = ("fair", "risky", "worried", "mixed")
KINDS = ("plain", "uneven", "break", "partial")
TRUTH = {"layoff": 0.25, "room: festival": 0.4, "position": 0.2, "date": -0.3}
RUN = {"kit": np.log(0.5), "band": -0.35, "pad": -0.2, "listen": -0.1}
WAYS = tuple(RUN)


def tour(seed, who="risky", kind="plain", shows=60, base=0.3, run=None, songs=90, size=20):
    """A tour; `found` has every performance, reviewed or not, with its mistakes and their mean."""
    run = RUN if run is None else run
    random = np.random.default_rng([seed, WHO.index(who), KINDS.index(kind), 11])
    level = random.normal(0, 0.6, songs)
    level -= np.log(np.exp(level).mean())
    popular = random.beta(0.9, 2, songs) + 0.03
    days = np.cumsum(random.choice([1, 1, 2, 2, 3], shows))
    if kind == "break":
        days = days + 58 * (np.arange(shows) >= int(0.8 * shows))
    room = np.where(random.random(shows) < 0.3, "festival", "theatre")
    last, missed_by_break, wrong = np.full(songs, -1), np.zeros(songs), np.zeros(songs, bool)
    tonight, played, ran = np.zeros(songs, bool), [], []
    latest = np.full((songs, len(WAYS)), -100)
    for show in range(shows):
        if kind == "break" and show == int(0.8 * shows):
            missed_by_break += 60 / 1.8 - 1
        chosen = np.argsort(-(np.log(popular * (1 + 2 * tonight)) + random.gumbel(size=songs)))[:size]
        chosen = random.permutation(chosen)
        first = last[chosen] < 0
        missed = np.where(first, 0, show - last[chosen] - 1 + missed_by_break[chosen])
        risk = level[chosen] + 0.3 * np.log1p(missed)
        for at in np.flatnonzero(_run(random, who, risk, wrong[chosen])):
            way = 0 if who != "mixed" else int(random.choice(4, p=[0.4, 0.2, 0.2, 0.2]))
            # On the day, or on a day off before it: after the show before, at which it did not count yet.
            off = days[show] - days[show - 1] if show else 4
            latest[chosen[at], way] = days[show] - (random.integers(1, off) if random.random() < 0.3 and off > 1 else 0)
            ran.append((latest[chosen[at], way], chosen[at], WAYS[way]))
        near = latest[chosen] >= days[show] - 7
        way = np.where(near.any(axis=1), near.argmax(axis=1), -1)
        log = np.log(base) + level[chosen] + TRUTH["layoff"] * np.log1p(missed)
        log += TRUTH["position"] * np.arange(size) / (size - 1) + TRUTH["date"] * show / (shows - 1)
        log += TRUTH["room: festival"] * (room[show] == "festival") + np.array([*run.values(), 0.0])[way]
        mean = np.exp(log)
        if kind == "uneven":
            mean = mean * np.exp(random.normal(-0.04, 0.28)) * random.gamma(3, 1 / 3, size)
        count = random.poisson(mean)
        reviewed = random.random(size) < (0.6 if kind == "partial" else 1) if random.random() < 0.9 else np.zeros(size)
        played.append(
            pd.DataFrame(
                {
                    "show_id": show + 1,
                    "position": np.arange(size) + 1,
                    "number": chosen,
                    "mean": mean,
                    "mistakes": count,
                    "reviewed": reviewed.astype(bool),
                }
            )
        )
        heard = chosen[reviewed.astype(bool)]
        wrong[heard] = count[reviewed.astype(bool)] > 0
        last[chosen], missed_by_break[chosen] = show, 0
        tonight = np.isin(np.arange(songs), chosen)
    return _tables(pd.concat(played, ignore_index=True), days, room, ran, random)


def _run(random, who, risk, wrong):
    """Which songs of the set are run."""
    if who == "fair":
        return random.random(len(risk)) < 1 / 3
    if who == "risky":
        return (risk > np.median(risk)) & (random.random(len(risk)) < 0.5)
    if who == "worried":
        return random.random(len(risk)) < np.where(wrong, 0.7, 0.12)
    return random.random(len(risk)) < 1 / (1 + np.exp(-risk - 0.2))


def _tables(found, days, room, ran, random):
    """What a diary would hold; a tenth of what was reviewed is listened to again, by the same ear."""
    found["song"] = [f"Song {number}" for number in found.number]
    start = pd.Timestamp("2031-03-01")
    shows = pd.DataFrame(
        {"show_id": np.arange(len(days)) + 1, "date": start + pd.to_timedelta(days, unit="D"), "room": room}
    )
    kept = found[found.reviewed]
    again = kept[random.random(len(kept)) < 0.1]
    keys = ["show_id", "song"]
    rows = [
        (part[keys].assign(listening=nth), part.loc[part.index.repeat(part.mistakes), keys].assign(listening=nth))
        for nth, part in ((1, kept), (2, again))
    ]
    reviews, mistakes = (pd.concat(parts, ignore_index=True) for parts in zip(*rows, strict=True))
    return SimpleNamespace(
        plays=found[["show_id", "position", "song"]],
        shows=shows,
        songs=pd.DataFrame({"song": found.song.unique()}),
        reviews=reviews,
        mistakes=mistakes.assign(severity=random.choice([1, 2, 3], len(mistakes), p=[0.6, 0.3, 0.1])),
        rehearsals=pd.DataFrame(
            [(start + pd.Timedelta(days=int(day)), f"Song {song}", way) for day, song, way in ran],
            columns=["date", "song", "way"],
        ),
        found=found.drop(columns="number"),
    )
