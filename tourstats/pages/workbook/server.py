"""A server of Jupyter's as a program of its own: it ends when the command that started it ends, whichever way."""

from __future__ import annotations

import signal
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from typing import NoReturn

END_S = 10.0
"""How long it may take to end its kernels and itself, in seconds."""
ASKED = ("SIGTERM", "SIGHUP")
"""What asks a command to end, beside Ctrl-C: another program, and a terminal that is closed."""


def stop(server: subprocess.Popen[bytes]) -> None:
    """Ask a server of Jupyter's to end, and end it where it does not: its own threads may keep it for ever."""
    server.terminate()
    try:
        server.wait(END_S)
    except subprocess.TimeoutExpired:
        server.kill()
        server.wait()


@contextmanager
def stopped_when_asked() -> Iterator[None]:
    """Leave the block, through every `finally` in it, also where the command is asked to end; as Ctrl-C does."""
    known = [getattr(signal, name) for name in ASKED if hasattr(signal, name)]
    before = {each: signal.signal(each, _interrupt) for each in known}
    try:
        with suppress(KeyboardInterrupt):
            yield
    finally:
        for each, handler in before.items():
            signal.signal(each, handler)


def _interrupt(*_: object) -> NoReturn:
    raise KeyboardInterrupt
