"""Two listenings whose truth is known, without arrays and apart from the other simulators.

A tour of nights, on each some songs; each mistake that was made is heard by each listening with a chance of its own,
that of the first changing by `drift`, in logarithms, from the first night to the last. Nights vary.
"""

import math
import random as dice
from datetime import date, timedelta

import pandas as pd


def tour(seed, drift=0.0, nights=30, songs=4, rate=0.7, heard=0.95):
    """Plays, shows, reviews and mistakes, everything heard twice."""
    lot = dice.Random(f"{seed} ears")  # noqa: S311  # a game
    made = {"plays": [], "shows": [], "reviews": [], "mistakes": []}
    for night in range(nights):
        made["shows"].append({"show_id": f"n{night}", "date": date(2031, 2, 1) + timedelta(days=2 * night)})
        mood = lot.gammavariate(9, 1 / 9)
        first = heard * math.exp(drift * (night / (nights - 1) - (drift > 0)))
        for place in range(songs):
            song = f"S{lot.randrange(40)}" if place else f"S{night % 40}"
            if any(row["song"] == song and row["show_id"] == f"n{night}" for row in made["plays"]):
                continue
            row = {"show_id": f"n{night}", "song": song}
            made["plays"].append({**row, "position": place + 1})
            made["reviews"] += [{**row, "listening": listening} for listening in (1, 2)]
            for _ in range(lot.randrange(3) if lot.random() < rate * mood else 0):
                ears = ((1, first), (2, heard))
                made["mistakes"] += [
                    {**row, "listening": listening, "severity": 1} for listening, sure in ears if lot.random() < sure
                ]
    return tuple(pd.DataFrame(made[name]) for name in ("plays", "shows", "reviews", "mistakes"))
