"""Kernels that begin with everything loaded: what is loaded is there, and a fork is asked as a process of one's own."""

import asyncio
import os
import signal
import sys
from importlib.util import find_spec

import pytest

from tourstats.pages.workbook.loaded import FEWEST, LOADED, PROGRAM, Fork, Loaded

forks = pytest.mark.skipif(sys.platform != "linux", reason="Kernels are forked on Linux alone.")


def test_what_is_loaded_beforehand_is_there():
    """
    A module that was renamed would end the process that waits, and every page would begin slowly without a word.
    """
    assert [] == [name for name in LOADED if find_spec(name) is None]
    assert FEWEST < len(LOADED) == len(set(LOADED))
    assert find_spec(PROGRAM)


@forks
def test_a_fork_is_known_to_run_and_to_have_ended():
    """
    Ended by a signal, as a kernel that is told to go.
    """
    number = os.fork()
    if not number:
        signal.pause()
    fork = Fork(number)
    runs = fork.poll()
    fork.kill()
    os.waitpid(number, 0)

    assert runs is None
    assert fork.poll() == 0


@forks
def test_where_the_process_that_waits_has_died_a_kernel_begins_as_always():
    """
    Nothing is forked, and nobody waits for it.
    """

    async def after_its_death():
        loaded = Loaded()
        loaded.end()
        return await loaded.forked([], {}, ".")

    assert asyncio.run(after_its_death()) is None
