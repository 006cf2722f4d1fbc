"""Tours whose truth is known.

log(mean mistakes) = base + song + layoff * log(1 + shows missed) + room + position * place + date * time, songs drawn
by how popular they are, many of last night's kept. Truth is in `TRUTH`. Temptation, in "seldom": hard songs are also
played seldom, so that a comparison across songs blames their mistakes on the layoff and doubles it.
"""

from dataclasses import dataclass

import numpy as np
import pandas as pd

SCENARIOS = ("plain", "seldom", "twenty", "uneven", "late")
WORDS = {
    "plain": "plain",
    "seldom": "hard songs are played seldom",
    "twenty": "20 reviewed shows only",
    "uneven": "over-dispersed, and shows vary",
    "late": "one kind of venue only late in the tour",
}
TRUTH = {"layoff": 0.25, "room: festival": 0.4, "room: arena": 0.15, "position": 0.3, "date": -0.4}
ROOMS = ("theatre", "festival", "arena")


@dataclass(frozen=True)
class Simulated:
    """Tables of one tour, and each song's true level."""

    plays: pd.DataFrame
    shows: pd.DataFrame
    reviews: pd.DataFrame
    mistakes: pd.DataFrame
    levels: pd.Series

    @property
    def tables(self):
        """What the models ask for, in their order."""
        return self.plays, self.shows, self.reviews, self.mistakes


def tour(seed, scenario="plain", shows=68, base=0.3, truth=None, change=None, uneven=(0.35, 0.8)):
    """A tour of one kind; `change` is the show from which on mistakes are a multiple, and that multiple."""
    truth = TRUTH if truth is None else truth
    random = np.random.default_rng([seed, SCENARIOS.index(scenario)])
    songs, size = 120, 22
    popular = random.beta(0.8, 2.2, songs) * 0.9 + 0.03
    level = random.normal(0, 0.6, songs)
    if scenario == "seldom":
        rank = (np.log(popular) - np.log(popular).mean()) / np.log(popular).std()
        level = -0.55 * rank + random.normal(0, 0.35, songs)
    level -= np.log(np.exp(level).mean())
    days = np.cumsum(random.choice([1, 1, 1, 2, 2, 3], shows) + 21 * (np.arange(shows) % 30 == 29))
    time = (days - days[0]) / (days[-1] - days[0])
    room = random.choice(3, shows, p=[0.6, 0.25, 0.15])
    if scenario == "late":
        early = np.where(random.random(shows) < 0.75, 0, 2)
        room = np.where(np.arange(shows) < 0.65 * shows, early, random.choice(2, shows))
    shows_differ, plays_differ = uneven if scenario == "uneven" else (0, 0)
    last, tonight, rows = np.full(songs, -1), np.zeros(songs, bool), []
    for show in range(shows):
        chosen = np.argsort(-(np.log(popular * (1 + 2 * tonight)) + random.gumbel(size=songs)))[:size]
        chosen = random.permutation(chosen)
        missed = np.where(last[chosen] < 0, 0, show - last[chosen] - 1)
        last[chosen] = show
        tonight = np.isin(np.arange(songs), chosen)
        place = np.arange(size) / (size - 1)
        of_room = [0, truth["room: festival"], truth["room: arena"]][room[show]]
        log = np.log(base) + level[chosen] + truth["layoff"] * np.log1p(missed) + truth["position"] * place
        log += of_room + truth["date"] * time[show] + random.normal(-(shows_differ**2) / 2, shows_differ)
        mean = np.exp(log) * (change[1] if change and show >= change[0] else 1)
        if plays_differ:
            mean = mean * random.gamma(1 / plays_differ, plays_differ, size)
        rows.append(pd.DataFrame({"show": show, "song": chosen, "found": random.poisson(mean)}))
    table = pd.concat(rows, ignore_index=True)
    table["show_id"] = table.show + 1
    table["position"] = table.groupby("show").cumcount() + 1
    table["song"] = [f"Song {song}" for song in table.song]
    reviewed = random.choice(shows, 20, replace=False) if scenario == "twenty" else np.arange(shows)
    heard = table[table.show.isin(reviewed)]
    found = heard.loc[heard.index.repeat(heard.found), ["show_id", "song"]].reset_index(drop=True)
    calendar = pd.DataFrame(
        {
            "show_id": np.arange(shows) + 1,
            "date": pd.Timestamp("2031-03-01") + pd.to_timedelta(days, unit="D"),
            "leg": np.where(np.arange(shows) < shows // 2, "Spring", "Autumn"),
            "city": [f"Town {show // 2}" for show in range(shows)],
            "room": [ROOMS[kind] for kind in room],
        }
    )
    return Simulated(
        table[["show_id", "position", "song"]],
        calendar,
        heard[["show_id", "song"]].reset_index(drop=True),
        found.assign(severity=1),
        pd.Series(base * np.exp(level), [f"Song {song}" for song in range(songs)]),
    )
