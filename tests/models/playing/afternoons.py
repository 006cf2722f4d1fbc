"""A second simulator of rehearsals, written apart from the first, afternoon by afternoon, without arrays.

Songs' levels are gamma distributed; the same songs come in blocks; a month off is a layoff of its own; the night has a
gamma distributed level; runs of several ways in one week do not add up: only the one that helps most counts; some songs
are reviewed more gladly than others. The player runs (`who`)
    fair      three songs of the set by lot
    risky     half of those with the worst level, times how long they were out
    worried   what went wrong at its latest review, and one song besides
    mixed     as risky, every way
"""

import math
import random as dice
from datetime import date, timedelta
from types import SimpleNamespace

import pandas as pd

WORDS = ("fair", "risky", "worried", "mixed")
RUN = {"kit": 0.5, "band": 0.7, "pad": 0.8, "listen": 0.9}
TRUTH = {"layoff": 0.3, "room: club": -0.2, "position": 0.1, "date": -0.2, "first": 0.3}
ROOMS = ("arena", "arena", "club", "arena", "club")


def tour(seed, who="risky", kind="plain", nights=60, level=0.35, run=None):
    """A tour of songs A0 to A74; `kind` as plain, uneven, break or partial."""
    run = RUN if run is None else run
    lot = dice.Random(f"{seed} {who} {kind} afternoons")  # noqa: S311  # a game
    hard = {f"A{number}": lot.gammavariate(2.2, level / 2.2) for number in range(75)}
    made = {name: [] for name in ("plays", "shows", "reviews", "mistakes", "rehearsals", "found")}
    day, was, wrong, runs = date(2031, 5, 1), {}, set(), {}
    block = lot.sample(sorted(hard), 40)
    gone = 0.0
    for night in range(nights):
        free = lot.choice((1, 1, 1, 2, 3)) - 1
        day += timedelta(days=free + 1)
        if night == int(0.7 * nights) and kind == "break":
            day += timedelta(days=58)
            gone = 58 / 1.6
        if night % 12 == 11:
            block = lot.sample(sorted(hard), 40)
        room = lot.choice(ROOMS)
        titles = lot.sample(block, 16) + lot.sample(sorted(set(hard) - set(block)), 2)
        lot.shuffle(titles)
        made["shows"].append({"show_id": 500 - night, "date": day, "room": room})
        out = {song: _out(was.get(song), night, int(0.7 * nights), gone) for song in titles}
        for song, way in _chosen(lot, who, titles, hard, out, wrong):
            on = day - timedelta(days=0 if lot.random() < 0.7 else lot.randint(0, free))
            made["rehearsals"].append({"date": on, "song": song, "way": way})
            runs.setdefault(song, []).append((on, way))
        shared = lot.gammavariate(12, 1 / 12) if kind == "uneven" else 1.0
        heard_at_all = lot.random() < 0.85
        for place, song in enumerate(titles):
            near = [way for on, way in runs.get(song, ()) if 0 <= (day - on).days <= 7]
            rate = hard[song] * (1 + out[song]) ** TRUTH["layoff"] * math.exp(TRUTH["position"] * place / 17)
            rate *= math.exp(TRUTH["date"] * night / (nights - 1) + TRUTH["room: club"] * (room == "club"))
            rate *= math.exp(TRUTH["first"]) if song not in was else 1.0
            rate *= min((run[way] for way in near), default=1.0) * shared
            count = _poisson(lot, rate)
            heard = heard_at_all and (kind != "partial" or lot.random() < 0.3 + 0.4 * (hard[song] > level))
            made["found"].append((500 - night, place + 1, song, rate, count, heard))
            if heard:
                made["reviews"].append({"show_id": 500 - night, "song": song})
                made["mistakes"] += [{"show_id": 500 - night, "song": song, "severity": 1}] * count
                (wrong.add if count else wrong.discard)(song)
        was.update(dict.fromkeys(titles, night))
    columns = ["show_id", "position", "song", "mean", "mistakes", "reviewed"]
    found = pd.DataFrame(made["found"], columns=columns)
    tables = {name: pd.DataFrame(made[name]) for name in ("shows", "reviews", "mistakes")}
    runs_made = pd.DataFrame(made["rehearsals"], columns=["date", "song", "way"])
    songs = pd.DataFrame({"song": sorted(hard)})
    return SimpleNamespace(plays=found[columns[:3]], rehearsals=runs_made, songs=songs, found=found, **tables)


def _out(last, night, break_at, gone):
    """Shows out; a break counts as the shows that it had room for."""
    if last is None:
        return 0.0
    return night - last - 1 + (gone if last < break_at <= night else 0.0)


def _chosen(lot, who, titles, hard, out, wrong):
    """Songs that are run, and how."""
    if who == "fair":
        return [(song, "kit") for song in lot.sample(titles, 5)]
    if who == "worried":
        worry = [song for song in titles if song in wrong and lot.random() < 0.75]
        return [(song, "kit") for song in {*worry, lot.choice(titles)}]
    worst = sorted(titles, key=lambda song: -hard[song] * (1 + out[song]) ** 0.3)[:9]
    ways = ("kit",) if who == "risky" else ("kit", "kit", "band", "pad", "listen")
    return [(song, lot.choice(ways)) for song in worst if lot.random() < 0.5]


def _poisson(lot, mean):
    """Count by products of uniform numbers."""
    end, count, product = math.exp(-mean), 0, lot.random()
    while product > end:
        count, product = count + 1, product * lot.random()
    return count
