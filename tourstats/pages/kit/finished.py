"""Finished results beside the diary: what was worked out once is not worked out again by the next page or notebook.

Each is one file in a folder of the user's own, named for everything that it was made of (`tables.finished`) and
for the code that made it, so that no result outlives a save, or a change of the program. What is not asked for any more
goes by itself; where something is forgotten for good, everything goes (`Finished.empty`).
"""

from __future__ import annotations

import os
import pickle
import sys
from contextlib import suppress
from functools import cached_property
from pathlib import Path
from typing import Any

import pandas as pd

from tourstats import tables
from tourstats.diary.store.place import home
from tourstats.pages.kit.whole_files import write_whole

PACKAGE = Path(__file__).parents[2]
LIBRARIES = Path(pd.__file__).parents[1]
MOST_BYTES = 50_000_000
"""How much is kept: the results of one state of the demo diary, for three pages, take 3.5 MB."""
FOLDER = "TOURSTATS_FINISHED"
"""Names the folder, for the pages of one workbook."""


class Finished:
    """A folder of results; `tables.Beside`."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    @cached_property
    def code(self) -> str:
        """What makes results now: our code and what it stands on."""
        newest = max(path.stat().st_mtime_ns for path in PACKAGE.rglob("*.py"))
        return tables.content([sys.version, newest, *sorted(each.name for each in LIBRARIES.glob("*.dist-info"))])

    def found(self, key: str) -> Any:  # noqa: ANN401  # as it was kept
        """What was kept under this key; None where nothing was, or where it cannot be read."""
        place = self._place(key)
        # Whatever a torn or foreign file raises, the result is worked out anew.
        with suppress(Exception):
            found = pickle.loads(place.read_bytes())  # noqa: S301  # the user's own folder, which nobody else may write
            os.utime(place)
            return found
        return None

    def keep(self, key: str, made: object) -> None:
        """Keep it; where that cannot be, nothing is lost but time."""
        with suppress(OSError, pickle.PicklingError, AttributeError, TypeError):
            self.folder.mkdir(parents=True, exist_ok=True, mode=0o700)
            write_whole(self._place(key), pickle.dumps(made))

    def tidy(self) -> None:
        """Delete what was not asked for the longest, down to the most that is kept."""
        with suppress(OSError):
            there = [(place.stat().st_mtime, place.stat().st_size, place) for place in self.folder.glob("*.pickle")]
            left = sum(size for _, size, _ in there)
            for _, size, place in sorted(there):
                if left <= MOST_BYTES:
                    break
                place.unlink(missing_ok=True)
                left -= size

    def empty(self) -> None:
        """Delete everything that is kept; what cannot be deleted is left."""
        for place in self.folder.glob("*.pickle"):
            with suppress(OSError):
                place.unlink()

    def _place(self, key: str) -> Path:
        return self.folder / f"{tables.content([self.code, key])}.pickle"


def keep_results() -> None:
    """Have costly results kept, and found again, by this program from now on; only where a workbook was opened."""
    if FOLDER in os.environ and not tables.beside:
        tables.beside.append(Finished(place()))


def forget_results() -> None:
    """Delete every result that is kept, for whatever is forgotten for good."""
    Finished(place()).empty()


def place() -> Path:
    """The folder of the workbook that is open, else the one in the user's data folder."""
    return Path(os.environ.get(FOLDER) or home() / "finished")
