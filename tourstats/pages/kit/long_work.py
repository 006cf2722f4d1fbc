"""Work that takes a while: a bar that shows how far it is, and a Stop button that works meanwhile.

It runs in a thread of its own, while the one that began it goes on answering and changes everything that the page
shows. Work stops between two steps, so it must write nothing before its last one.
"""

from __future__ import annotations

import asyncio
import html
import threading
from collections.abc import Callable

import ipywidgets as w

from tourstats.pages.kit.widgets import Said, button, loop, row, spoken
from tourstats.problems import Problem

Step = Callable[..., None]
"""Called with how many steps are done, of how many, and if it helps with what is being done; it raises `Stopped` once
somebody has pressed Stop.
"""


class Stopped(Problem):
    """Somebody pressed Stop."""


class LongWork:
    """The bar and the button; `box` is there only while something runs."""

    def __init__(self, message: Said) -> None:
        self.said = message
        self.bar = w.IntProgress(layout=w.Layout(flex="1 1 12em", width="auto", height="44px"))
        self.stop_button = button("Stop", self._stop, Said())
        self.doing = w.HTML()
        self.box = row(self.bar, self.stop_button, self.doing)
        self.box.layout.display = "none"
        self._asked_to_stop = threading.Event()
        self._runs: threading.Thread | None = None
        self._loop: asyncio.AbstractEventLoop | None = None

    def run(self, do: Callable[[Step], str]) -> None:
        """Begin the work; what it returns is said at its end, and what went wrong with it too.

        Parameters
        ----------
        do
            Does the work, calls what it is given between any two steps of it, and returns a sentence.

        Raises
        ------
        Problem
            If something runs already.

        """
        if self.box.layout.display != "none":
            raise Problem("Something is being made already. Wait for it, or press Stop.")
        self._asked_to_stop.clear()
        self._show(0, 1, "")
        self.box.layout.display = ""
        self._loop = loop()
        if self._loop is None:
            self._work(do)
            return
        self._runs = threading.Thread(target=self._work, args=(do,), daemon=True)
        self._runs.start()

    def _work(self, do: Callable[[Step], str]) -> None:
        try:
            sentence = do(self._step)
        except BaseException as fault:  # noqa: BLE001  # it is raised again where it can be said
            told = fault

            def tell() -> None:
                raise told
        else:

            def tell() -> None:
                self.said.done(sentence)

        self._later(lambda: self._end(tell))

    def _step(self, done: int, of: int, doing: str = "") -> None:
        self._later(lambda: self._show(done, of, doing))
        if self._asked_to_stop.is_set():
            raise Stopped(f"Stopped after {done} of {of}. Nothing was written.")

    def _show(self, done: int, of: int, doing: str) -> None:
        self.bar.max, self.bar.value = of, done
        self.bar.description = f"{done} of {of}"
        self.doing.value = html.escape(doing)

    def _stop(self) -> None:
        self._asked_to_stop.set()
        self.bar.description = "stopping"

    def _end(self, tell: Callable[[], None]) -> None:
        self.box.layout.display = "none"
        spoken(tell, self.said)

    def _later(self, do: Callable[[], None]) -> None:
        if self._loop is None:
            do()
        else:
            self._loop.call_soon_threadsafe(do)
