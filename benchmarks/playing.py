"""How well playing is measured: simulated tours with known truth, in full size.

    nice python -m benchmarks.playing [TOURS]

prints the tables of benchmarks/playing.md: what intervals of effects hold, shrunken rates against raw ones, and what
the monitoring finds and how often it cries wolf. 200 tours take about ten minutes.
"""

import sys
import time

import numpy as np
import pandas as pd

from tests.models.playing import apart, simulated
from tests.models.playing.as_tour import as_tour
from tests.models.playing.simulated import TRUTH, tour
from tourstats.models.playing import control, effects, expected, rates

FIRST_SEED = 50_000
LEVEL = dict.fromkeys(TRUTH, 0.0)


def of_effects(tours):
    """Bias and coverage of each effect in each scenario of both simulators."""
    rows = []
    for simulator in (simulated, apart):
        for scenario, words in simulator.WORDS.items():
            found, took = [], []
            for seed in range(FIRST_SEED, FIRST_SEED + tours):
                made = simulator.tour(seed, scenario)
                start = time.perf_counter()
                table = effects(*made.tables)
                took.append(time.perf_counter() - start)
                found.append(table[table.effect.isin(list(simulator.TRUTH))])
            rows += _held(words, pd.concat(found), simulator.TRUTH)
            print(f"{words}: a fit took {np.median(took) * 1000:.0f} ms", file=sys.stderr)
    columns = ["tours", "effect", "told in", "bias", "spread", "standard error", "held"]
    return pd.DataFrame(rows, columns=columns)


def _held(words, table, truth):
    """A row an effect."""
    true = table.effect.map(truth)
    table = table.assign(off=table.log_ratio - true, held=(table.low <= true) & (true <= table.high))
    return [
        (words, effect, len(part), part.off.mean(), part.off.std(), part.se.mean(), part.held.mean())
        for effect, part in table.groupby("effect", sort=False)
    ]


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
    """False signals, and how soon a lasting change is found in the direction it has."""
    level, level_apart = {**TRUTH, "date": 0.0}, {**apart.TRUTH, "date": 0.0}
    kinds = {
        "plain": lambda seed, change: tour(seed, "plain", 75, 0.3, level, change, (0, 0)),
        "uneven": lambda seed, change: tour(seed, "uneven", 75, 0.3, level, change, (0.3, 0.5)),
        "uneven, twice the mistakes": lambda seed, change: tour(seed, "uneven", 75, 0.6, level, change, (0.3, 0.5)),
        **{
            f"apart, gamma of shape {shape}, {words} reviewed": lambda seed, change, shape=shape, share=share: (
                apart.tour(seed, "plain", level_apart, change, uneven=shape, reviewed=share)
            )
            for shape in (20, 8)
            for words, share in (("all", 1.0), ("two of three", 2 / 3))
        },
    }
    seeds = range(FIRST_SEED, FIRST_SEED + tours)
    rows = []
    for name, made in kinds.items():
        quiet = pd.concat([control(*made(seed, None).tables) for seed in seeds])
        row = [name, quiet.signal.mean()]
        for times, words in ((1.5, ("above the limit", "drifting up")), (0.5, ("below the limit", "drifting down"))):
            first = np.array([_first(made(seed, (35, times)), words) for seed in seeds])
            row += [(first < 15).mean(), (first < 30).mean()]
        rows.append(row)
        print(name, file=sys.stderr)
    columns = ["tours", "false signals a show", "half more found in 15 shows", "in 30", "halving found in 15", "in 30"]
    return pd.DataFrame(rows, columns=columns)


def _first(made, words):
    """Shows from the change, the 36th show, to the first signal of its direction."""
    table = control(*made.tables)
    at = pd.Index(made.shows.show_id).get_indexer(table.show_id[table.because.isin(words)]) - 35
    return min(at[at >= 0], default=1000)


def of_tonight():
    """Time for one set's expected mistakes after 200 shows."""
    made = tour(1, shows=200)
    known = as_tour(*made.tables)
    titles = made.plays.song[made.plays.show_id == 7].tolist()
    next_show = {"date": made.shows.date.max() + pd.Timedelta(days=1), "room": "festival"}
    took = []
    for _ in range(7):
        start = time.perf_counter()
        expected(known, next_show, titles)
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
