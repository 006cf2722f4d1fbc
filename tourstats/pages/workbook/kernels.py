"""Kernels of pages and of JupyterLab: forked from the process that has everything loaded.

For pages, one of them is always started beforehand.

Where a system cannot fork well (only Linux is known to), kernels begin as they always do.
"""

from __future__ import annotations

import asyncio
import sys
from contextlib import suppress
from typing import Any

from jupyter_client.provisioning.local_provisioner import LocalProvisioner
from jupyter_server.services.kernels.kernelmanager import AsyncMappingKernelManager, ServerKernelManager
from traitlets import default

from tourstats.pages.workbook.loaded import LOADED, Loaded

OURS = [sys.executable, "-m", "ipykernel_launcher"]
"""How a kernel of this Python begins."""
HEARD = "import ipywidgets; ipywidgets.register_comm_target()"
"""What a kernel does first: loaded without a kernel, the widgets have told none where their messages go."""


class Forked(LocalProvisioner):
    """Starts a kernel by a fork of what is loaded, or as always."""

    loaded: Loaded | None = None
    process: Any

    async def launch_kernel(self, cmd: list[str], **given: Any) -> Any:  # noqa: ANN401  # as the provisioner's own
        """Start it."""
        found = None
        if self.loaded and cmd[:3] == OURS:  # not where somebody chose another kernel
            arguments = [*cmd[cmd.index("-f") :], f"--IPKernelApp.exec_lines={HEARD}"]
            found = await self.loaded.forked(arguments, given["env"], str(given["cwd"]))
        if found is None:
            return await super().launch_kernel(cmd, **given)
        self.process, self.pid, self.pgid, self.cwd = found, found.pid, found.pid, given["cwd"]
        return self.connection_info


class Kernel(ServerKernelManager):  # type: ignore[misc]  # ships no types
    """A kernel of a page."""

    provisioner: Any

    def emit(self, *_: Any, **__: Any) -> None:  # noqa: ANN401  # as the manager's own
        """Tell nobody: nobody listens, and to describe such news each kernel would read a file for a quarter second."""

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
        first = [] if Forked.loaded else [f"--IPKernelApp.exec_lines=import {', '.join(LOADED)}"]
        loaded = ["--IPKernelApp.log_level=ERROR", *first]
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


def open_lab(arguments: list[str], loaded: Loaded | None) -> None:
    """Be JupyterLab, whose kernels of this Python have everything loaded."""
    from jupyterlab.labapp import LabApp  # noqa: PLC0415  # the server of the pages has no use for it

    Forked.loaded = loaded
    LabApp.launch_instance([f"--MappingKernelManager.kernel_manager_class={__name__}.{Kernel.__name__}", *arguments])
