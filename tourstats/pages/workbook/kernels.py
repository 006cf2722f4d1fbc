"""Kernels that begin with everything loaded: forked from one process that waits with the code of all pages in memory.

A page is read when it is asked for, never before, so that nothing on it is older than the latest save; what is ready
beforehand is the code. The process that is forked (`python -m tourstats.pages.workbook.kernels`) has read nothing, and
started no thread of its own; what pages will ask (`beforehand`) is worked out by a fork of it. Where a system cannot
fork well (only Linux is known to), kernels begin as they always do.
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
from contextlib import suppress
from functools import partial
from multiprocessing import Pipe
from multiprocessing.connection import Connection
from typing import Any

from jupyter_client.provisioning.local_provisioner import LocalProvisioner
from jupyter_server.services.kernels.kernelmanager import AsyncMappingKernelManager, ServerKernelManager
from traitlets import default

from tourstats.pages.workbook.beforehand import Ahead
from tourstats.tables import ALL, empty

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
HEARD = "import ipywidgets; ipywidgets.register_comm_target()"
"""What a kernel does first: loaded without a kernel, the widgets have told none where their messages go."""


def main(told: Connection) -> None:
    """Load everything, and fork a kernel for each line that asks for one, until nobody can ask any more."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    signal.signal(signal.SIGCHLD, signal.SIG_IGN)  # a kernel that ended leaves nothing behind
    with suppress(EOFError):
        # What checks tables is loaded when the first one of each is checked: all pages need it, so it comes early.
        loads = [partial(importlib.import_module, name) for name in LOADED]
        loads[FEWEST:FEWEST] = [partial(empty, table) for table in ALL]
        for at, load in enumerate(loads):
            load()
            while at >= FEWEST and told.poll():
                _fork(told)
        ahead = Ahead()
        while True:
            while not told.poll(LOOK_S):
                ahead.look()
            _fork(told)


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
    return next(one.rpartition("kernel-")[2][:8] for one in arguments if "kernel-" in one)


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
        """Tell it."""
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
        command = [sys.executable, "-m", __name__, str(told.fileno())]
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


class Forked(LocalProvisioner):
    """Starts a kernel by a fork of what is loaded, or as always."""

    loaded: Loaded | None = None
    process: Any

    async def launch_kernel(self, cmd: list[str], **given: Any) -> Any:  # noqa: ANN401  # as the provisioner's own
        """Start it."""
        arguments = cmd[cmd.index("-f") :]
        found = await self.loaded.forked(arguments, given["env"], str(given["cwd"])) if self.loaded else None
        if found is None:
            return await super().launch_kernel(cmd, **given)
        self.process, self.pid, self.pgid, self.cwd = found, found.pid, found.pid, given["cwd"]
        return self.connection_info


class Kernel(ServerKernelManager):  # type: ignore[misc]  # ships no types
    """A kernel of a page."""

    provisioner: Any

    async def _async_pre_start_kernel(self, **given: Any) -> Any:  # noqa: ANN401  # as the manager's own
        if self.provisioner is None:
            number = given.get("kernel_id") or self.kernel_id
            self.provisioner = Forked(kernel_id=number, kernel_spec=self.kernel_spec, parent=self)
        return await super()._async_pre_start_kernel(**given)


class WaitingKernels(AsyncMappingKernelManager):  # type: ignore[misc]  # ships no types
    """Kernels, one of which is always started beforehand."""

    @default("kernel_manager_class")  # type: ignore[untyped-decorator]  # as above
    def _of_pages(self) -> str:
        return f"{Kernel.__module__}.{Kernel.__name__}"

    def __init__(self, **settings: Any) -> None:  # noqa: ANN401  # passed on as they are
        super().__init__(**settings)
        self._waiting: asyncio.Task[str] | None = None

    async def start_kernel(self, **asked: Any) -> str:  # noqa: ANN401  # as the manager's own
        """Give the kernel that waits, told what this page was asked, and start the next one."""
        waiting, self._waiting = self._waiting, None
        kernel = await waiting if waiting else ""
        if kernel not in self:  # none waited, or it has died since
            kernel = await self._start(asked)
        await self._tell(kernel, asked.get("env") or {})
        self._waiting = asyncio.ensure_future(self._later(asked))
        return kernel

    async def _later(self, asked: dict[str, Any]) -> str:
        await asyncio.sleep(1)  # the page that is being made goes first
        return await self._start(asked)

    async def _start(self, asked: dict[str, Any]) -> str:
        first = HEARD if Forked.loaded else f"import {', '.join(LOADED)}"
        loaded = ["--IPKernelApp.log_level=ERROR", f"--IPKernelApp.exec_lines={first}"]
        kernel: str = await super().start_kernel(**{**asked, "extra_arguments": loaded})
        self.add_restart_callback(kernel, lambda: asyncio.ensure_future(self._died(kernel)), "restart")
        return kernel

    async def _died(self, kernel: str) -> None:
        """End for good what died: another kernel under its name would know nothing of the page, which has to say so."""
        while kernel in self:
            # It cannot be ended in the middle of being started again.
            with suppress(asyncio.InvalidStateError):
                await self.shutdown_kernel(kernel, now=True)
            await asyncio.sleep(0.2)

    async def _tell(self, kernel: str, env: dict[str, str]) -> None:
        """Let the kernel know what was asked for: the query of the address, as its environment has it."""
        client = self.get_kernel(kernel).client()
        client.start_channels()
        try:
            await client.wait_for_ready(timeout=60)
            query = env.get("QUERY_STRING", "")
            await client.execute_interactive(
                f"import os; os.environ['QUERY_STRING'] = {query!r}", silent=True, store_history=False, timeout=60
            )
        finally:
            client.stop_channels()

    async def shutdown_all(self, *, now: bool = True) -> None:
        """End all kernels at once: what they were told to save is saved, and a word to each would take seconds."""
        await super().shutdown_all(now=now)

    async def cull_kernel_if_idle(self, kernel_id: str) -> None:
        """Spare the kernel that waits: it is idle by its nature."""
        waiting = self._waiting
        if waiting is not None and waiting.done() and waiting.result() == kernel_id:
            return
        await super().cull_kernel_if_idle(kernel_id)


if __name__ == "__main__":
    main(Connection(int(sys.argv[1])))
