"""A program that dies, and two that write at once: what was acknowledged is there, and nothing is there by half."""

import os
import random
import signal
import subprocess
import sys
import time
from contextlib import contextmanager

from tourstats.diary import check, opened

ROUNDS = 12

WRITER = """
import os, random, sys
from tourstats.diary import opened
from tourstats.tables import described

described("shows"), described("mistakes")  # what a first change loads, loaded before the first fork


def say(words):
    os.write(1, f"{words}\\n".encode())


def write(path, seed, most):
    dice = random.Random(seed)
    with opened(path) as book:
        titles = [f"Song {seed}-{number}" for number in range(30)]
        with book.atomic("the repertoire"):
            for title in titles:
                book.add_song(title)
        say(f"ready {os.getpid()}")
        for number in range(most):
            chosen = dice.sample(titles, 12)
            name = f"{seed}-{number}"
            if number % 3 == 0:
                with book.atomic(f"night {name}"):
                    show_id = book.add_show("2031-03-04", f"Town {name}")
                    book.write_set(show_id, chosen, stage="played", pasted="\\n".join(chosen))
            elif number % 3 == 1:
                book.write_set(show_id, chosen, stage="played", pasted="\\n".join(chosen))
            else:
                book.add_mistake(show_id, chosen[0], "entry", 2, remark=name)
            say(name)


for line in sys.stdin:
    seed, most = map(int, line.split())
    child = os.fork()
    if not child:
        write(sys.argv[1], seed, most)
        os._exit(0)
    os.waitpid(child, 0)
    say("gone")
"""
"""Writes in a child of its own for each seed that it is told, and says each change that was acknowledged."""


@contextmanager
def writer(path):
    """Start the program; it has loaded what is slow to load once for all rounds."""
    pipe = subprocess.PIPE
    with subprocess.Popen([sys.executable, "-c", WRITER, str(path)], stdin=pipe, stdout=pipe, text=True) as process:
        yield process
        process.stdin.close()


def told(process, seed, most):
    """Have it begin, and return the child's number once it writes."""
    process.stdin.write(f"{seed} {most}\n")
    process.stdin.flush()
    word, pid = process.stdout.readline().split()
    assert "ready" == word
    return int(pid)


def acknowledged(process):
    """Every change that was acknowledged until the child was gone."""
    return [int(line.split("-")[1]) for line in iter(process.stdout.readline, "gone\n")]


def assert_whole(path, seed, said):
    """Look whether what was acknowledged is there, at most one change more, and none by half."""
    assert [] == check(path)
    with opened(path) as book:
        plays, pasted, mistakes, shows = book.plays(), book.pasted(), book.mistakes(), book.shows()
    mine = shows.show_id[shows.city.str.startswith(f"Town {seed}-")]
    remarks = mistakes.remark[mistakes.remark.str.startswith(f"{seed}-")]
    kept = pasted.show_id.isin(mine).sum() + len(remarks)  # each change left one text or one mistake

    assert {f"Town {seed}-{number}" for number in said if number % 3 == 0} <= set(shows.city)
    assert {f"{seed}-{number}" for number in said if number % 3 == 2} <= set(remarks)
    assert len(said) <= kept <= len(said) + 1
    last = pasted.groupby("show_id").text.last()
    assert last.to_dict() == plays.groupby("show_id").song.agg("\n".join).to_dict()
    assert set(shows.show_id) == set(plays.show_id)


def test_a_killed_program_loses_nothing_that_it_acknowledged(path):
    """
    Killed at a random moment, again and again on one diary: each acknowledged change is there, each set is as long as
    the text it came from, and undo still works.
    """
    dice = random.Random(7)  # noqa: S311  # moments to die at
    total = 0
    with writer(path) as process:
        for seed in range(ROUNDS):
            pid = told(process, seed, most=1000)
            first = [int(process.stdout.readline().split("-")[1]) for _ in range(dice.randrange(1, 50))]
            time.sleep(dice.uniform(0, 0.02))  # between two changes or within one
            os.kill(pid, signal.SIGKILL)
            said = first + acknowledged(process)
            total += len(said)

            assert_whole(path, seed, said)
    with opened(path) as book:
        assert book.undo().startswith("Undone: ")
    assert [] == check(path)
    assert 100 < total < ROUNDS * 1000


def test_two_programs_make_a_diary_and_write_at_once(path):
    """
    Both find no diary, make one, and write a hundred changes each: both wait their turn, and all are there.
    """
    with writer(path) as one, writer(path) as two:
        for process, seed in ((one, 101), (two, 102)):
            process.stdin.write(f"{seed} 100\n")
            process.stdin.flush()
        said = []
        for process in (one, two):
            assert process.stdout.readline().startswith("ready")
            said.append(acknowledged(process))

    assert [list(range(100))] * 2 == said
    for seed in (101, 102):
        assert_whole(path, seed, range(100))
