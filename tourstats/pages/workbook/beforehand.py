"""What costly pages ask, worked out before anybody opens them: at the start of the workbook, and after each save.

The cells of their notebooks run as they stand there, out of sight; what they find is kept beside the diary
(`finished`), where the page looks first. A page that is opened meanwhile works it out for itself.
"""

from __future__ import annotations

import io
import json
import os
import time
from collections.abc import Iterator
from contextlib import redirect_stdout, suppress

from tourstats.pages.kit.contents import chosen
from tourstats.pages.kit.finished import Finished, place
from tourstats.pages.kit.whose import whose
from tourstats.pages.workbook.lab import NOTEBOOKS

COSTLY = ("show-day", "likely-swaps", "song", "playing-trends", "leg-review")
"""In the order in which a day asks for them."""
REST_S = 20.0
"""How long nothing may have been saved before anything is worked out ahead, in seconds: findings come one by one."""
LAST = 10
"""How much less urgent it is than what somebody waits for, as the system counts it."""


class Ahead:
    """Looks whether the diary was saved, and works out in a process of its own what its pages will ask."""

    def __init__(self, rest_s: float = REST_S) -> None:
        self._rest_s, self._since = rest_s, 0.0
        self._seen: object = None
        self._done: object = None

    def look(self) -> None:
        """Fork that process, once nothing was saved for a while since it was last done."""
        now = whose().written
        if now != self._seen:
            self._seen, self._since = now, time.monotonic()
        if not now or now == self._done or time.monotonic() - self._since < self._rest_s:
            return
        self._done = now
        if os.fork():
            return
        try:
            work_out()
        finally:
            os._exit(0)


def work_out() -> None:
    """Run the cells of the costly pages, unless that was done for a diary that holds the same."""
    os.nice(LAST)
    asks, store, tour = os.getppid(), Finished(place()), whose().tour()
    done = f"{__name__} {tour.content}"  # a draft is saved too, and changes no table
    if not len(tour.plays) or store.found(done):
        return
    store.tidy()
    os.chdir(NOTEBOOKS)
    for name in COSTLY:
        names: dict[str, object] = {}
        for source in _cells(name):
            if os.getppid() != asks:  # the workbook was closed
                return
            # What a cell cannot do, the page will say.
            with suppress(Exception), redirect_stdout(io.StringIO()):
                exec(source, names)  # noqa: S102  # our own cells
    store.keep(done, made=True)


def _cells(name: str) -> Iterator[str]:
    """The code of a page, without questions of one's own."""
    for cell in json.loads((NOTEBOOKS / chosen(name).notebook).read_text(encoding="utf-8"))["cells"]:
        if cell["cell_type"] == "code" and "own-question" not in cell["metadata"].get("tags", []):
            yield "".join(cell["source"])
