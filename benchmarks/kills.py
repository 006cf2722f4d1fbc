"""A program that is killed while it writes, thousands of times: what it said was saved is there, and nothing by half.

    python benchmarks/kills.py 10000        so many kills; 500 by default
    python benchmarks/kills.py 500 7        … with other moments to die at

One interpreter loads what is slow to load, and each round forks: the child opens the diary, makes changes (a show with
its set, the set again, a mistake) and acknowledges each through a pipe, until it is killed at a random moment between
two changes or within one. Then the file is read by SQLite alone. Figures are in
`benchmarks/diary.md`. A kill leaves what was handed to the system, so the disk plays no part; a power cut is another
matter (see SQLite's own tests).
"""

import itertools
import json
import os
import random
import signal
import sqlite3
import sys
import tempfile
import time
from contextlib import closing
from pathlib import Path

from tourstats.diary import check, opened

A_FILE = 100
"""Rounds on one diary, so that it has something in it and is still small."""
TITLES = [f"Song {number}" for number in range(12)]


def write(path, name, pipe, dice):
    """Make changes for ever, and acknowledge each."""
    with opened(path) as book:
        for number in itertools.count():
            chosen = dice.sample(TITLES, 6)
            if number % 3 == 0:
                with book.atomic("a night"):
                    show_id = book.add_show("2031-03-04", f"Town {name} {number}")
                    book.write_set(show_id, chosen, stage="played", pasted="\n".join(chosen))
            elif number % 3 == 1:
                book.write_set(show_id, chosen, stage="played", pasted="\n".join(chosen))
            else:
                book.add_mistake(show_id, chosen[0], "entry", 2, remark=f"{name} {number}")
            os.write(pipe, b".")


def killed(path, name, dice):
    """Let a child write and kill it; how many changes it acknowledged."""
    reads, writes = os.pipe()
    child = os.fork()
    if not child:
        try:
            write(path, name, writes, dice)
        finally:
            os._exit(1)
    os.close(writes)
    said = sum(len(os.read(reads, 1)) for _ in range(dice.randrange(9)))
    time.sleep(dice.uniform(0, 0.004))
    os.kill(child, signal.SIGKILL)
    _, status = os.waitpid(child, 0)
    assert os.WTERMSIG(status) == signal.SIGKILL, "the child ended by itself"
    while more := os.read(reads, 4096):
        said += len(more)
    os.close(reads)
    return said


def lost(path, name, said):
    """What is wrong with the file after a kill, as SQLite alone reads it: nothing, one hopes."""
    with closing(sqlite3.connect(path)) as db:
        wrong = [row[0] for row in db.execute("pragma quick_check") if row[0] != "ok"]
        saved = db.execute(
            "select (select count(*) from pasted join shows using (show_id) where city like ?) "
            "+ (select count(*) from mistakes where remark like ?)",
            (f"Town {name} %", f"{name} %"),
        ).fetchone()[0]
        half = db.execute(
            "select count(*) from shows s where coalesce((select group_concat(song, char(10)) from (select song from "
            "plays join songs using (song_id) where show_id = s.show_id order by position)), '') <> (select text from "
            "pasted where show_id = s.show_id order by pasted_id desc limit 1)"
        ).fetchone()[0]
        bare = db.execute("select count(*) from changes where change_id not in (select change_id from was)").fetchone()
    if not said <= saved <= said + 1:
        wrong.append(f"{said} changes were acknowledged, {saved} are there")
    if half:
        wrong.append(f"{half} sets are not what was written")
    return wrong + ["a change without what it changed"] * bool(bare[0])


def run(kills, seed):
    """Kill so many times, a new diary for every hundred; what happened, in figures."""
    dice = random.Random(seed)  # noqa: S311  # moments to die at
    total, wrong, begin = 0, [], time.perf_counter()
    for first in range(0, kills, A_FILE):
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / "diary.sqlite"
            with opened(path) as book, book.atomic("the repertoire"):
                for title in TITLES:
                    book.add_song(title)
            for number in range(first, min(first + A_FILE, kills)):
                said = killed(path, f"n{number}", dice)
                total += said
                wrong += [f"kill {number}: {what}" for what in lost(path, f"n{number}", said)]
            with opened(path) as book:
                wrong += [] if book.undo().startswith("Undone: ") else [f"no undo after kill {number}"]
            wrong += check(path)
    return {"kills": kills, "changes": total, "wrong": wrong, "seconds": round(time.perf_counter() - begin)}


if __name__ == "__main__":
    given = [int(text) for text in sys.argv[1:]]
    print(json.dumps(run(*(given + [500, 1][len(given) :]))))
