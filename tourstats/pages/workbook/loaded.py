"""One process that waits with the code of all pages in memory, and forks a kernel for each page that is opened.

A page is read when it is asked for, never before, so that nothing on it is older than the latest save; what is ready
beforehand is the code. The process that is forked (`python -m tourstats.pages.workbook.loaded`) has read nothing, and
started no thread of its own; what pages will ask (`beforehand`) is worked out by a fork of it. It is the first thing
that the program of the server (`main`) starts, and loads while the server loads what it needs itself.
"""

from __future__ import annotations

import asyncio
import gc
import importlib
import json
import os
import signal
import subprocess
import sys
from collections.abc import Callable
from contextlib import suppress
from functools import partial
from multiprocessing import Pipe
from multiprocessing.connection import Connection

PROGRAM = "tourstats.pages.workbook.loaded"
"""This module by its name, also where it runs as a program."""
LAB = "lab"
"""Asks it for JupyterLab instead of the pages."""
LOADED = (
    "ipykernel.kernelapp", "ipykernel.ipkernel", "pandas", "ipywidgets", "IPython.display", "tourstats.diary",
    "tourstats.models.tonight", "tourstats.pages.workbook", "tourstats.pages.kit.widgets",
    "tourstats.pages.today.form", "tourstats.pages.show_day.form", "tourstats.pages.after_show.form",
    "tourstats.pages.chart", "tourstats.pages.likely.form", "tourstats.pages.song.form", "tourstats.pages.trends.form",
    "tourstats.pages.review.form", "tourstats.pages.rotation.chart", "tourstats.pages.audience.form",
    "tourstats.pages.listening.form", "tourstats.pages.corrections.form", "tourstats.pages.corrections.leaving",
    "tourstats.pages.start.form", "tourstats.answers", "scipy.optimize", "scipy.stats", "scipy.signal",
    "statsmodels.genmod.generalized_linear_model", "statsmodels.stats.multitest", "statsmodels.duration.survfunc",
    "narwhals.stable.v1", "narwhals._pandas_like.dataframe",
)  # fmt: skip
"""What the pages need, in the order in which it is loaded; a page asked for meanwhile does not wait for the rest."""
FEWEST = 9
"""How much of that comes before the first page."""
LOOK_S = 1.0
"""How often it is looked whether the diary was saved, in seconds."""


def wait(told: Connection) -> None:
    """Load everything, and fork a kernel for each line that asks for one, until nobody can ask any more."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    signal.signal(signal.SIGCHLD, signal.SIG_IGN)  # a kernel that ended leaves nothing behind
    with suppress(EOFError, BrokenPipeError):
        # What checks tables is loaded when the first one of each is checked: all pages need it, so it comes early.
        loads: list[Callable[[], object]] = [partial(importlib.import_module, name) for name in LOADED]
        loads.insert(FEWEST, _no_tour)
        for at, load in enumerate(loads):
            load()
            while at >= FEWEST and told.poll():
                _fork(told)
        from tourstats.pages.workbook.beforehand import Ahead  # noqa: PLC0415  # loaded in its turn

        ahead = Ahead()
        while True:
            while not told.poll(LOOK_S):
                ahead.look()
            _fork(told)


def _no_tour() -> None:
    from tourstats.tour import Tour  # noqa: PLC0415  # loaded in its turn

    Tour()


def _fork(told: Connection) -> None:
    asked = json.loads(told.recv_bytes())
    gc.freeze()  # a kernel's garbage is not looked for in what is loaded, whose memory it would copy by looking
    number = os.fork()
    if number:
        told.send_bytes(str(number).encode())
        return
    try:
        told.close()
        _kernel(**asked)
    finally:
        os._exit(0)  # what waits above is the other's


def _kernel(arguments: list[str], env: dict[str, str], cwd: str) -> None:
    """Be a kernel, as if started by its own command."""
    from ipykernel.kernelapp import IPKernelApp  # noqa: PLC0415  # loaded already, and by this process alone

    os.setsid()
    os.chdir(cwd)
    os.environ.clear()
    os.environ.update(env)
    for number in (signal.SIGINT, signal.SIGCHLD):
        signal.signal(number, signal.SIG_DFL)
    with suppress(OSError), open("/proc/self/comm", "w", encoding="ascii") as name:  # noqa: PTH123  # no file
        name.write(_known_by(arguments))
    sys.argv = ["kernel", *arguments, f"--IPKernelApp.parent_handle={os.getppid()}"]  # it ends with its parent
    IPKernelApp.launch_instance(sys.argv[1:])


def _known_by(arguments: list[str]) -> str:
    """What the process is called where processes are listed: the beginning of its kernel's number."""
    return next((one.rpartition("kernel-")[2][:8] for one in arguments if "kernel-" in one), "kernel")


class Fork:
    """A process that was forked by another one, to be asked and told as one of our own."""

    stdin = stdout = stderr = None

    def __init__(self, pid: int) -> None:
        self.pid = pid

    def poll(self) -> int | None:
        """Nothing while it runs."""
        try:
            os.kill(self.pid, 0)
        except ProcessLookupError:
            return 0
        return None

    def wait(self) -> int:
        """It has ended when this is asked."""
        return 0

    def send_signal(self, number: int) -> None:
        """Tell it; one that has ended hears nothing."""
        with suppress(ProcessLookupError):
            os.kill(self.pid, number)

    def kill(self) -> None:
        """End it."""
        self.send_signal(signal.SIGKILL)

    def terminate(self) -> None:
        """Ask it to end."""
        self.send_signal(signal.SIGTERM)


class Loaded:
    """The process that waits with everything loaded; it ends with the one that started it."""

    def __init__(self) -> None:
        self._asks, told = Pipe()
        command = [sys.executable, "-m", PROGRAM, str(told.fileno())]
        self._process = subprocess.Popen(command, pass_fds=[told.fileno()], stdin=subprocess.DEVNULL)  # noqa: S603  # our own
        told.close()
        self._one_at_a_time = asyncio.Lock()

    async def forked(self, arguments: list[str], env: dict[str, str], cwd: str) -> Fork | None:
        """Start a kernel; nothing if the process has died."""
        asked = json.dumps({"arguments": arguments, "env": env, "cwd": cwd}).encode()
        async with self._one_at_a_time:
            try:
                self._asks.send_bytes(asked)
                return Fork(int(await asyncio.to_thread(self._asks.recv_bytes)))
            except (OSError, EOFError):
                return None

    def end(self) -> None:
        """End it; kernels that it forked see that and end too."""
        self._process.kill()
        self._process.wait()


def main(arguments: list[str]) -> None:
    """Be the server of the pages, or JupyterLab; the rest is Voilà's, or JupyterLab's."""
    loaded = Loaded() if sys.platform == "linux" else None
    if arguments[0] == LAB:
        from tourstats.pages.workbook.kernels import open_lab  # noqa: PLC0415  # loaded beside what the other loads

        open_lab(arguments[1:], loaded)
    else:
        from tourstats.pages.workbook import pages_server  # noqa: PLC0415  # as above

        pages_server.main(arguments, loaded)


if __name__ == "__main__":
    if sys.argv[1].isdigit():
        wait(Connection(int(sys.argv[1])))
    else:
        main(sys.argv[1:])
