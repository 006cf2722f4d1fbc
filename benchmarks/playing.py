"""How well playing is measured: simulated tours with known truth, in full size.

    nice python -m benchmarks.playing [TOURS]

prints the tables of benchmarks/playing.md: what intervals of effects hold, shrunken rates against raw ones, and what
the monitoring finds and how often it cries wolf. 200 tours take about six minutes.
"""

import sys
import time

import numpy as np
import pandas as pd

from tests.models.playing.simulated import SCENARIOS, TRUTH, WORDS, tour
from tourstats.models.playing import control, effects, expected, rates

FIRST_SEED = 50_000
LEVEL = dict.fromkeys(TRUTH, 0.0)


def of_effects(tours):
    """Bias and coverage of each effect in each scenario."""
    rows = []
    for scenario in SCENARIOS:
        found, took = [], []
        for seed in range(FIRST_SEED, FIRST_SEED + tours):
            made = tour(seed, scenario)
            start = time.perf_counter()
            table = effects(*made.tables)
            took.append(time.perf_counter() - start)
            found.append(table[table.effect.isin(list(TRUTH))])
        table = pd.concat(found)
        table["off"] = table.log_ratio - table.effect.map(TRUTH)
        table["held"] = (table.low <= table.effect.map(TRUTH)) & (table.effect.map(TRUTH) <= table.high)
        for effect, part in table.groupby("effect", sort=False):
            rows.append(
                (WORDS[scenario], effect, len(part), part.off.mean(), part.off.std(), part.se.mean(), part.held.mean())
            )
        print(f"{scenario}: a fit took {np.median(took) * 1000:.0f} ms", file=sys.stderr)
    columns = ["tours", "effect", "told in", "bias", "spread", "standard error", "held"]
    return pd.DataFrame(rows, columns=columns)


def of_rates(tours):
    """Squared error and coverage of songs' rates, nothing but songs differing."""
    rows = []
    for shows in (10, 20, 40, 68):
        shrunken, raw, held = [], [], []
        for seed in range(FIRST_SEED, FIRST_SEED + tours):
            made = tour(seed, shows=shows, truth=LEVEL)
            table = rates(made.mistakes, made.reviews)
            truth = made.levels[table.song].to_numpy()
            shrunken.append(((table.rate - truth) ** 2).mean())
            raw.append(((table.mistakes / table.reviewed - truth) ** 2).mean())
            held.append(((table.low <= truth) & (truth <= table.high)).mean())
        rows.append((shows, np.mean(shrunken) / np.mean(raw), np.mean(held)))
    return pd.DataFrame(rows, columns=["reviewed shows", "squared error against raw rates", "held"])


def of_control(tours):
    """False signals, and how soon a lasting change is found."""
    rows = []
    kinds = {
        "plain": ("plain", 0.3, (0, 0)),
        "uneven": ("uneven", 0.3, (0.3, 0.5)),
        "uneven, twice the mistakes": ("uneven", 0.6, (0.3, 0.5)),
    }
    for name, (scenario, base, uneven) in kinds.items():
        signals = {}
        for change in (None, (35, 1.5), (35, 0.5)):
            signals[change] = np.array(
                [
                    control(*tour(seed, scenario, 75, base, {**TRUTH, "date": 0.0}, change, uneven).tables).signal
                    for seed in range(FIRST_SEED, FIRST_SEED + tours)
                ]
            )
        row = [name, signals[None].mean()]
        for change in ((35, 1.5), (35, 0.5)):
            row += [signals[change][:, 35:50].any(axis=1).mean(), signals[change][:, 35:65].any(axis=1).mean()]
        rows.append(row)
    columns = ["tours", "false signals a show", "half more found in 15 shows", "in 30", "halving found in 15", "in 30"]
    return pd.DataFrame(rows, columns=columns)


def of_tonight():
    """Time for one set's expected mistakes after 200 shows."""
    made = tour(1, shows=200)
    songs = pd.DataFrame({"song": made.plays.song.unique()})
    titles = made.plays.song[made.plays.show_id == 7].tolist()
    next_show = {"date": made.shows.date.max() + pd.Timedelta(days=1), "room": "festival"}
    took = []
    for _ in range(7):
        start = time.perf_counter()
        expected(made.plays, made.shows, songs, made.reviews, made.mistakes, None, next_show, titles)
        took.append(time.perf_counter() - start)
    return f"Expected mistakes of a set after 200 shows: {np.median(took) * 1000:.0f} ms"


def as_text(table):
    """A table in Markdown."""
    lines = [list(table.columns), ["---"] * table.shape[1]]
    lines += [
        [f"{value:.3f}" if isinstance(value, float) else str(value) for value in row] for row in table.to_numpy(object)
    ]
    return "\n".join("| " + " | ".join(line) + " |" for line in lines)


def main():
    """Print everything."""
    tours = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    for part in (of_effects, of_rates, of_control):
        print(as_text(part(tours)), flush=True)
        print()
    print(of_tonight())


if __name__ == "__main__":
    main()
