"""Opening the workbook: whose diary it is, read once, with charts switched on."""

from __future__ import annotations

import atexit
import hashlib
import json
import os
import shutil
import subprocess
import sys
import tempfile
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

from tourstats import demo
from tourstats.diary import backup, exists, opened, where
from tourstats.diary.place import home
from tourstats.pages.server import stop, stopped_when_asked
from tourstats.problems import Problem
from tourstats.tables import Tables

if TYPE_CHECKING:
    from IPython.display import Markdown

NOTEBOOKS = Path(__file__).parents[2] / "notebooks"

FIRST = "/lab/tree/01-show-day.ipynb"
"""What JupyterLab opens, and the address that it prints: the show day."""

DEMO = "demo"
"""Given instead of a path, this asks for the demo tour."""

COPY = "TOURSTATS_DEMO_COPY"
"""Names, for the pages of one workbook, the copy of the demo tour that they all write into."""

DEMO_WORDS = (
    "This is the demo tour: an invented band, not your diary. "
    "Your own begins with your first set or file: `tourstats intake FILE`, or the notebook *Start with your own tour*."
)

COPY_WORDS = (
    "This is the demo tour: an invented band, not your diary. Try every form: what you write goes into a copy, which "
    "is gone when the workbook is closed. Your own diary is there when you leave out `--diary demo`."
)


@dataclass(frozen=True)
class Whose:
    """Which diary is shown: its path, whether it is the demo tour, and whether that is a copy to try things on."""

    path: Path
    demo: bool
    copy: bool = False

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
    found = whose(path, writing=True)
    if found.copy:
        return {"TOURSTATS_DIARY": DEMO, COPY: str(found.path)}
    return {} if path is None else {"TOURSTATS_DIARY": str(found.path.resolve())}


def read(path: str | Path | None = None) -> Tables:
    """Read the whole diary for a notebook, say whose it is, and make charts live.

    Parameters
    ----------
    path
        As for `whose`.

    """
    # The 16:00 command reads too, and draws nothing: what is heavy waits for the notebook.
    from IPython.display import Markdown, display  # noqa: PLC0415  # late, as said above

    from tourstats.pages import charts  # noqa: PLC0415  # as above

    charts.register()
    found = whose(path)
    if found.demo:
        display(Markdown(f"*{found.words}*"))
    with opened(found.path) as diary:
        return diary.read()


def say(text: str) -> Markdown:
    """Show a computed sentence as prose.

    Examples
    --------
    >>> say("**Three** songs came in.").data
    '**Three** songs came in.'

    """
    from IPython.display import Markdown  # noqa: PLC0415  # as above

    return Markdown(text)


class WorkbookProblem(Problem):
    """The workbook cannot be opened."""


def run(path: str | Path | None = None, *, browser: bool = True) -> None:
    """Open JupyterLab on a copy of the notebooks that is the user's own, and wait until it is closed.

    Parameters
    ----------
    path
        As for `whose`.
    browser
        Whether to open a browser; else the address is printed.

    """
    folder = laid_out(home() / "workbook")
    settings = {"JUPYTER_CONFIG_PATH": str(_quiet(folder.parent / "jupyter"))} | for_pages(path)
    command = [
        *(sys.executable, "-m", "jupyterlab", f"--ServerApp.root_dir={folder}", f"--LabApp.default_url={FIRST}"),
        "--ServerApp.answer_yes=True",  # one Ctrl-C is enough
    ]
    if not browser:
        command.append("--no-browser")
    if hasattr(os, "geteuid") and os.geteuid() == 0:
        command.append("--allow-root")
    with stopped_when_asked():
        server = subprocess.Popen(command, cwd=folder, env=os.environ | settings)  # noqa: S603  # our own words only
        try:
            server.wait()
        finally:
            stop(server)


def laid_out(folder: Path) -> Path:
    """Put the notebooks into the user's folder, without the demo's pictures; what the user changed there is kept.

    A notebook of ours is laid anew when the one that comes with the program has changed since; a changed copy is kept
    beside it under another name.
    """
    if not NOTEBOOKS.is_dir():
        raise WorkbookProblem(f"The notebooks should lie in {NOTEBOOKS}, but do not. Take a whole copy of the project.")
    folder.mkdir(parents=True, exist_ok=True)
    marks = folder / ".laid-out.json"
    laid: dict[str, str] = json.loads(marks.read_text(encoding="utf-8")) if marks.exists() else {}
    for source in sorted(NOTEBOOKS.glob("*.ipynb")):
        target, ours = folder / source.name, _digest(source)
        if target.exists() and laid.get(source.name) == ours:
            continue
        if target.exists() and _digest(target) != laid.get(source.name):
            shutil.move(target, folder / f"{source.stem}-mine.ipynb")
        target.write_text(_without_outputs(source), encoding="utf-8")
        laid[source.name] = ours
    marks.write_text(json.dumps(laid), encoding="utf-8")
    return folder


def _without_outputs(source: Path) -> str:
    notebook = json.loads(source.read_text(encoding="utf-8"))
    for cell in notebook["cells"]:
        if cell["cell_type"] == "code":
            cell |= {"outputs": [], "execution_count": None}
    return json.dumps(notebook, ensure_ascii=False, indent=1)


def _digest(path: Path) -> str:
    """Digest of what the cells say; running or saving a notebook does not change it."""
    cells = json.loads(path.read_text(encoding="utf-8"))["cells"]
    words = json.dumps([(cell["cell_type"], "".join(cell["source"])) for cell in cells])
    return hashlib.sha256(words.encode()).hexdigest()


def _quiet(folder: Path) -> Path:
    """Settings that keep JupyterLab from asking a network for its news."""
    inner = folder / "labconfig"
    inner.mkdir(parents=True, exist_ok=True)
    words = {"disabledExtensions": {"@jupyterlab/apputils-extension:announcements": True}}
    (inner / "page_config.json").write_text(json.dumps(words), encoding="utf-8")
    return folder
