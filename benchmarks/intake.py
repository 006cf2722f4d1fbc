"""How well and how fast pasted sets and histories are read.

Run with `python benchmarks/intake.py [FIRST_SEED]` from the checkout. Lines come from two processes of typing,
`tests/reading/noise.py` (single lines) and `tests/reading/noise_second.py` (whole sets), with other seeds than the
tests use. Speed stands beside an alternative that does less: `rapidfuzz.process.extractOne` on the raw lines, and
`pandas.read_csv` of the same file. The last figures are in `intake.md`.
"""

import csv
import sys
import tempfile
import time
from collections import Counter, defaultdict
from datetime import date, timedelta
from pathlib import Path

import numpy as np
import pandas as pd
from rapidfuzz import fuzz, process

sys.path.insert(0, str(Path(__file__).parents[1]))

from tests.reading import messy, noise, noise_second
from tourstats.diary import read_history, read_set
from tourstats.reading.sources import Pasted, read
from tourstats.reading.titles import Titles, names_of

SEEDS = 4


def verdict(meant, song):
    """Name what happened to one song: right, wrong or asked; taken or left open where there is no answer."""
    if meant is None:
        return "left open" if song is None else "taken"
    return "asked" if song is None else "right" if song == meant else "wrong"


def raw_best(text, titles, at_least=85):
    """Answer as the simple alternative does: the likeliest title of the raw line, if it is likely enough."""
    best = process.extractOne(text, titles, scorer=fuzz.WRatio, score_cutoff=at_least)
    return best[0] if best else None


def first_process(seed, tally, simple):
    """Count what becomes of single lines."""
    for style in noise.STYLES:
        rng = np.random.default_rng(seed)
        titles = noise.repertoire(rng, style)
        for line in [*noise.messy(rng, titles, 400), *noise.strangers(rng, titles, style, 120)]:
            songs = [song if isinstance(song, str) else None for song in read_set(line.typed, titles).song]
            tally[line.kind][verdict(line.meant, songs[0] if len(songs) == 1 else next(filter(None, songs), None))] += 1
            simple["first process"][verdict(line.meant, raw_best(line.typed, titles))] += 1


def second_process(seed, tally, simple):
    """Count what becomes of the songs of whole sets, and how often their number in a line and the encore are right."""
    for style in noise_second.STYLES:
        rng = np.random.default_rng(seed)
        names = noise_second.repertoire(rng, style)
        songs = pd.DataFrame({"song": list(names), "aliases": list(names.values())})
        for _ in range(12):
            lines = noise_second.make_set(rng, names, style)
            read = read_set("\n".join(line.text for line in lines), songs)
            for number, line in enumerate(lines, start=1):
                rows = read[read.line == number]
                tally["(songs in the line)"]["right" if len(rows) == len(line.meant) else "wrong"] += 1
                tally["(encore)"].update("right" if flag == line.encore else "wrong" for flag in rows.encore)
                found = [song if isinstance(song, str) else None for song in rows.song]
                found += [None] * (len(line.meant) - len(found))
                for (meant, kind), song in zip(line.meant, found, strict=False):
                    tally[kind][verdict(meant, song)] += 1
                    simple["second process"][verdict(meant, raw_best(line.text, list(names)))] += 1


def shares(counts):
    """Write counts as shares of the lines with an answer, and of those without."""
    known = sum(counts[name] for name in ("right", "wrong", "asked"))
    open_ = counts["taken"] + counts["left open"]
    parts = (
        [f"{known} lines: right {counts['right'] / known:.2%}, wrong {counts['wrong'] / known:.2%}"] if known else []
    )
    parts += [f"{open_} without an answer: taken {counts['taken'] / open_:.2%}"] if open_ else []
    return "; ".join(parts)


def matching(first):
    """Print the table of each process, by kind."""
    simple = defaultdict(Counter)
    for name, run in (("first process", first_process), ("second process", second_process)):
        tally = defaultdict(Counter)
        for seed in range(first, first + SEEDS):
            run(seed, tally, simple)
        total = sum((counts for kind, counts in tally.items() if not kind.startswith("(")), Counter())
        print(f"\n{name}: {shares(total)}\n  raw lines, WRatio of at least 85: {shares(simple[name])}")
        for kind, counts in tally.items():
            print(f"  {kind:<22} {dict(counts)}")


def best_of(work, times=5):
    """Seconds of the fastest of a few runs."""
    took = []
    for _ in range(times):
        start = time.perf_counter()
        work()
        took.append(time.perf_counter() - start)
    return min(took)


def speed(first):
    """Print how long a set and a long history take, as multiples of an alternative that does less."""
    rng = np.random.default_rng(first)
    titles = noise.repertoire(rng, "sentences")
    lines = [line.typed for line in noise.messy(rng, titles, 40)]
    text = "\n".join(lines)
    own = best_of(lambda: read_set(text, titles))
    raw = best_of(lambda: [process.extractOne(line, titles, scorer=fuzz.WRatio) for line in lines])
    prepare = best_of(lambda: Titles(names_of(titles)))
    print(f"\n40 lines, 150 titles: {1000 * own:.0f} ms, and {1000 * prepare:.0f} ms once for the repertoire")
    print(f"  raw lines, WRatio: {1000 * raw:.0f} ms; ours takes {own / raw:.0f} times as long")
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "history.csv"
        for name, typed in (
            ("clean", str),
            ("slips in every other row", lambda title: noise.slip(rng, title.lower()) if rng.random() < 0.5 else title),
        ):
            with path.open("w", newline="", encoding="utf-8") as file:
                rows = csv.writer(file)
                rows.writerow(["date", "town", "position", "song"])
                for show in range(1000):
                    played = rng.permutation(titles)[:20]
                    rows.writerows(
                        [date(2026, 1, 1) + timedelta(days=show), f"Town {show % 70}", at, typed(str(song))]
                        for at, song in enumerate(played, 1)
                    )
            own, raw = best_of(lambda: read_history(path, titles), 3), best_of(lambda: pd.read_csv(path), 3)
            print(f"20,000 rows, {name}: {own:.2f} s; pandas.read_csv {raw:.3f} s: {own / raw:.0f} times")


def whole_files(seed, tours=10):
    """Count what becomes of whole files of each shape, with no repertoire to go by."""
    tally = Counter()
    for shape in messy.SHAPES:
        for at in range(tours):
            sets = messy.tour(seed + at)
            found = read(Pasted(messy.written(shape, sets), "sets.txt"))
            right = messy.right(found, sets)
            asked = len(found.questions) > 0
            tally[
                f"asked, proposal {'right' if right else 'wrong'}"
                if asked
                else "right unasked"
                if right
                else "written wrong"
            ] += 1
    print(f"whole files, {len(messy.SHAPES)} shapes, {tours} tours each: {dict(tally)}")


def messy_grid(seed, grids=10):
    """Sixty songs and thirty shows in a grid with slips, remarks and totals: songs and decisions."""
    for at in range(seed, seed + grids):
        dice = np.random.default_rng(at)
        titles = noise.repertoire(dice, noise.STYLES[0])[:60]
        found = read(Pasted(messy.grid(at, titles, dice, noise.slip)[0], "grid.txt"))
        songs, decisions = found.plays.song.nunique(), len(found.questions)
        print(f"messy grid of {len(titles)} songs and 30 shows: {songs} songs after {decisions} decisions")


if __name__ == "__main__":
    SEED = int(sys.argv[1]) if len(sys.argv) > 1 else 500
    whole_files(SEED)
    messy_grid(SEED)
    matching(SEED)
    speed(SEED)
