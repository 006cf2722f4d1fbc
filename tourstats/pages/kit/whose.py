"""Whose diary is shown: one's own, the demo tour, or a copy of it to try things on."""

from __future__ import annotations

import atexit
import os
import shutil
import tempfile
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from tourstats import demo
from tourstats.diary import backup, exists, opened, where
from tourstats.pages.kit.finished import keep_results
from tourstats.tour import Tour

DEMO = "demo"
"""Given instead of a path, this asks for the demo tour."""

COPY = "TOURSTATS_DEMO_COPY"
"""Names, for the pages of one workbook, the copy of the demo tour that they all write into."""

DEMO_WORDS = (
    "This is the demo tour: an invented band, not your diary. "
    "Your own begins with your first set or file: `tourstats intake FILE`, or the page *Start*."
)

COPY_WORDS = (
    "This is the demo tour: an invented band, not your diary. Try every form: what you write goes into a copy, which "
    "is gone when the workbook is closed. Your own diary opens without `--diary demo`."
)


@dataclass(frozen=True)
class Whose:
    """Which diary is shown: its path, whether it is the demo tour, and whether that is a copy to try things on."""

    path: Path
    demo: bool
    copy: bool = False

    def tour(self) -> Tour:
        """Everything in it, as it is now."""
        keep_results()
        with opened(self.path) as diary:
            return diary.read()

    @property
    def written(self) -> tuple[tuple[int, int], ...]:
        """What changes with each save: times and sizes of the file and of its log; empty where there is none."""
        sides = [Path(f"{self.path}{side}") for side in ("", "-wal")]
        return tuple((side.stat().st_mtime_ns, side.stat().st_size) for side in sides if side.exists())

    @property
    def words(self) -> str:
        """What a page says about it, as Markdown; nothing about a diary of one's own."""
        return (COPY_WORDS if self.copy else DEMO_WORDS) if self.demo else ""


def whose(path: str | Path | None = None, *, writing: bool = False) -> Whose:
    """The diary that was asked for, else one's own, else the demo tour.

    The demo tour is never written into: who asks for it by name gets a copy, the same for all pages of a workbook.

    Parameters
    ----------
    path
        A path, "demo", or None for the environment's TOURSTATS_DIARY and then the user's data folder.
    writing
        Whether something will be written: then one's own begins, unless the demo tour was asked for by name.

    """
    if str(path or os.environ.get("TOURSTATS_DIARY")) == DEMO:
        shared = os.environ.get(COPY)
        return Whose(Path(shared) if shared else _copied(demo.path()), demo=True, copy=True)
    if not (path or writing or exists()):
        return Whose(demo.path(), demo=True)
    return Whose(where(path), demo=False)


@cache
def _copied(source: Path) -> Path:
    """A copy that this program, and the pages that it opens, may write into; it goes when the program ends."""
    folder = Path(tempfile.mkdtemp(prefix="tourstats-demo-"))
    atexit.register(shutil.rmtree, folder, ignore_errors=True)
    return backup(source, folder / "demo.sqlite")


def for_pages(path: str | Path | None) -> dict[str, str]:
    """What the pages of a workbook have to find in their environment, to show the diary that was asked for."""
    store = whose(path, writing=True)
    if store.copy:
        return {"TOURSTATS_DIARY": DEMO, COPY: str(store.path)}
    if path is None:
        return {}
    with opened(store.path, make=False) as diary:
        diary.read()  # what is wrong with it is said here, before any page opens
    return {"TOURSTATS_DIARY": str(store.path.resolve())}
