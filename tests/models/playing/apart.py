"""A second simulator, written apart from the first: other distributions, other calendar, other ways to tempt.

Songs' levels are gamma distributed and skewed; songs that are hard are played seldom, so that many of them come late;
the first time brings a third more; last night's songs are avoided and songs that were out are taken up again; the
tour has a month off; two shows of three are reviewed; each show has a gamma distributed level of its own where
`uneven` is given.
"""

import numpy as np
import pandas as pd

from tests.models.playing.simulated import Simulated

TRUTH = {"layoff": 0.3, "room: festival": 0.4, "position": 0.2, "date": -0.3, "first": 0.3}
WORDS = {
    "plain": "apart, plain",
    "twenty": "apart, 20 reviewed shows only",
    "uneven": "apart, shows vary (gamma of shape 8)",
    "late": "apart, festivals only in the last twenty shows",
}
SETTINGS = {"plain": {}, "twenty": {"reviewed": 20}, "uneven": {"uneven": 8}, "late": {"late": True}}
SHOWS, SONGS, SIZE = 75, 130, 22


def tour(seed, scenario="plain", truth=None, change=None, **settings):
    """A tour of 75 shows; `reviewed` a share or a number; `change` a show and what mistakes are times from it on."""
    settings = {"reviewed": 2 / 3, "uneven": None, "late": False, **SETTINGS[scenario], **settings}
    truth = TRUTH if truth is None else truth
    random = np.random.default_rng([seed, list(WORDS).index(scenario), 7])
    level = random.gamma(1.5, 0.35 / 1.5, SONGS) + 1e-3
    popular = np.clip(np.exp(-0.7 * np.log(level / 0.35) + random.normal(0, 0.6, SONGS)), 0.02, 20)
    calendar = _calendar(random, late=settings["late"])
    last, rows = np.full(SONGS, -1), []
    for show, room in enumerate(calendar.room):
        pull = np.log(popular) - 1.2 * (last == show - 1) * (show > 0) + 0.6 * ((last >= 0) & (show - last > 6))
        chosen = random.permutation(np.argsort(-(pull + random.gumbel(size=SONGS)))[:SIZE])
        first = last[chosen] < 0
        missed = np.where(first, 0, show - last[chosen] - 1)
        log = truth["layoff"] * np.log1p(missed) + truth["first"] * first
        log += truth["position"] * np.arange(SIZE) / (SIZE - 1) + truth["date"] * show / (SHOWS - 1)
        log += truth["room: festival"] * (room == "festival")
        times = change[1] if change and show >= change[0] else 1
        night = random.gamma(settings["uneven"], 1 / settings["uneven"]) if settings["uneven"] else 1
        found = random.poisson(level[chosen] * np.exp(log) * times * night)
        rows.append(pd.DataFrame({"at": show, "position": np.arange(SIZE) + 1, "number": chosen, "found": found}))
        last[chosen] = show
    table = pd.concat(rows, ignore_index=True)
    table["show_id"] = calendar.show_id.to_numpy()[table["at"]]
    table["song"] = [f"s{number * 37 % SONGS:03d}" for number in table.number]
    share = settings["reviewed"]
    heard = random.permutation(SHOWS)[:share] if share > 1 else np.flatnonzero(random.random(SHOWS) < share)
    kept = table[table["at"].isin(heard)]
    mistakes = kept.loc[kept.index.repeat(kept.found), ["show_id", "song"]].assign(severity=1)
    levels = pd.Series(level, [f"s{number * 37 % SONGS:03d}" for number in range(SONGS)])
    return Simulated(table[["show_id", "position", "song"]], calendar, kept[["show_id", "song"]], mistakes, levels)


def _calendar(random, *, late):
    days = np.cumsum(random.choice([1, 1, 1, 2, 3], SHOWS) + 30 * (np.arange(SHOWS) == 38))
    room = random.choice(["theatre", "arena", "festival"], SHOWS, p=[0.5, 0.2, 0.3])
    if late:
        usual = np.where(random.random(SHOWS) < 0.7, "theatre", "arena")
        room = np.where((np.arange(SHOWS) >= SHOWS - 20) & (random.random(SHOWS) < 0.5), "festival", usual)
    return pd.DataFrame(
        {
            "show_id": 1000 + 7 * np.arange(SHOWS),
            "date": pd.Timestamp("2031-03-01") + pd.to_timedelta(days, unit="D"),
            "leg": np.where(np.arange(SHOWS) < 38, "one", "two"),
            "city": [f"Town {show // 2}" for show in range(SHOWS)],
            "room": room,
        }
    )
