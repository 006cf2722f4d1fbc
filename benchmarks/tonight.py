"""How long the show day and the likely swaps take, process start included, on a diary of 200 shows and 150 songs.

    python benchmarks/tonight.py [RUNS]

Runs both commands and, in the same run and in turn, `python -c "import pandas"` as the thing to compare with: no
program that uses pandas starts faster. Prints the median of each and their ratio; `tonight.md` holds the last figures.
"""

import os
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

from tourstats import diary

SHOWS, SONGS, SET = 200, 150, 22
SEED = 20_310_304
BARE = 'python -c "import pandas"'


def fill(path):
    """Write a made-up tour, two shows in three reviewed, the last show planned and not played."""
    chance = np.random.default_rng(SEED)
    titles = [f"Song {number:03}" for number in range(SONGS)]
    rooms = ("theatre", "arena", "club", "festival")
    with diary.opened(path) as book, book.atomic():
        for title in titles:
            book.add_song(title, minutes=4.0, tempo_bpm=float(chance.integers(60, 200)), gear="sticks; brushes")
        for number in range(SHOWS + 1):
            day = np.datetime64("2031-01-01") + 2 * number
            show = book.add_show(str(day), f"Town {number % 40}", room=rooms[number % 4], leg=f"leg {number // 40}")
            today = [titles[at] for at in chance.choice(SONGS, SET, replace=False)]
            if number == SHOWS:
                book.write_set(show, today, stage="planned", encore_from=SET - 1)
                break
            book.write_set(show, today, stage="played", encore_from=SET - 1)
            if number % 3:
                book.add_review(show, "all")
                for song in chance.choice(today, 6):
                    book.add_mistake(show, song, "entry", int(chance.integers(1, 4)))
            book.add_rehearsal(today[0], "kit", date=str(day))
            book.add_note("softer here", song=today[1], room=rooms[number % 4])


def seconds(command, **settings):
    """Wall time of one run, and what it printed."""
    start = time.perf_counter()
    subprocess.run(command, check=True, capture_output=True, env=os.environ | settings)  # noqa: S603  # our own words
    return time.perf_counter() - start


def main(runs):
    """Time both commands in turn and print the table."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "diary.sqlite"
        fill(path)
        tonight = [sys.executable, "-m", "tourstats.cli", "--diary", str(path), "tonight", "--sheets", folder]
        likely = [sys.executable, "-m", "tourstats.cli", "--diary", str(path), "likely"]
        bare = [sys.executable, "-c", "import pandas"]
        commands = {"tourstats tonight": tonight, "tourstats likely": likely, BARE: bare}
        for command in commands.values():
            seconds(command)
        took = {name: [] for name in commands}
        for _ in range(runs):
            for name, command in commands.items():
                took[name].append(seconds(command))
    medians = {name: statistics.median(times) for name, times in took.items()}
    print("| command | median of runs, s | ratio |\n|---|---|---|")
    for name, median in medians.items():
        print(f"| `{name}` | {median:.2f} | {median / medians[BARE]:.1f} |")
    print(f"\n{SHOWS} shows, {SONGS} songs, {SET} a set; {runs} runs of each in turn; {os.cpu_count()} cores.")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 9)
