"""How long the diary takes: opening and reading a long tour, taking in a history, and what undo costs.

Run with `python benchmarks/diary.py`. The same history is written without the log of changes for comparison.

Last figures (two cores with little else to do, Python 3.11, SQLite 3.40): open and read 24 ms, the first time in a
process 94 ms; 20,000 plays 0.43 s, of which the log of changes takes 0.17 s. On busy cores up to six times that.
"""

import os
import random
import tempfile
import time
from datetime import date, timedelta
from pathlib import Path

from tourstats.diary import opened

SHOWS, SONGS, SET, MISTAKES = 200, 150, 22, 10
TITLES = [f"Song {number}" for number in range(SONGS)]


def fill(book, shows, songs_a_set, *, reviewed):
    """Write a tour as one change."""
    dice = random.Random(1)  # noqa: S311  # a made-up tour
    with book.atomic("a tour"):
        for title in TITLES:
            book.add_song(title, tempo_bpm=100, minutes=4)
        for number in range(shows):
            day = date(2025, 1, 1) + timedelta(days=2 * number)
            show_id = book.add_show(day, f"Town {number}", room="club", venue=f"Hall {number % 60}")
            book.write_set(show_id, dice.sample(TITLES, songs_a_set), stage="played")
            if reviewed:
                book.write_set(show_id, dice.sample(TITLES, songs_a_set))
                book.add_review(show_id, "all")
                for _ in range(MISTAKES):
                    book.add_mistake(show_id, dice.choice(TITLES), "entry", dice.choice((1, 2, 3)), remark="late")


def timed(what, work):
    """Print how long it takes."""
    start = time.perf_counter()
    result = work()
    print(f"{what:<60} {1000 * (time.perf_counter() - start):8.0f} ms")
    return result


def without_log(book):
    """Take the triggers away that note each change for undo."""
    db = book.store.db  # below what anybody should do with a diary
    for (name,) in db.execute("select name from sqlite_master where type = 'trigger'").fetchall():
        db.execute(f"drop trigger {name}")


def main():
    """Time everything once, and the read five times."""
    with tempfile.TemporaryDirectory() as folder:
        os.environ["TOURSTATS_PEOPLE_KEY"] = str(Path(folder) / "people.key")
        tour, long, bare = (Path(folder) / f"{name}.sqlite" for name in ("tour", "long", "bare"))
        with opened(tour) as book:
            timed("write 200 shows with reviews and 2,000 mistakes", lambda: fill(book, SHOWS, SET, reviewed=True))

        def read():
            with opened(tour) as book:
                return book.read()

        for _ in range(5):
            timed("open and read all of it", read)
        with opened(bare) as book:
            without_log(book)
            timed("take in 20,000 plays, no log of changes", lambda: fill(book, 1000, 20, reviewed=False))
        with opened(long) as book:
            timed("take in 20,000 plays", lambda: fill(book, 1000, 20, reviewed=False))
            timed("undo them", book.undo)


if __name__ == "__main__":
    main()
