"""Opening the workbook: whose diary it is, read once, with charts switched on."""

from __future__ import annotations

import hashlib
import json
import os
import shutil
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from tourstats import demo
from tourstats.diary import exists, opened, where
from tourstats.diary.place import home
from tourstats.problems import Problem
from tourstats.tables import Tables

if TYPE_CHECKING:
    from IPython.display import Markdown

NOTEBOOKS = Path(__file__).parents[2] / "notebooks"

DEMO = "demo"
"""Given instead of a path, this asks for the demo tour."""

DEMO_WORDS = (
    "This is the demo tour: an invented band, not your diary. "
    "Your own begins with your first set or file: `tourstats intake FILE`, or the notebook *Start with your own tour*."
)


@dataclass(frozen=True)
class Whose:
    """Which diary is shown: its path, and whether it is the demo tour."""

    path: Path
    demo: bool


def whose(path: str | Path | None = None, *, writing: bool = False) -> Whose:
    """The diary that was asked for, else one's own, else the demo tour.

    Parameters
    ----------
    path
        A path, "demo", or None for the environment's TOURSTATS_DIARY and then the user's data folder.
    writing
        Whether something will be written: then one's own begins, unless the demo tour was asked for by name.

    """
    if str(path or os.environ.get("TOURSTATS_DIARY")) == DEMO or not (path or writing or exists()):
        return Whose(demo.path(), demo=True)
    return Whose(where(path), demo=False)


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
        display(Markdown(f"*{DEMO_WORDS}*"))
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
    settings = {"JUPYTER_CONFIG_PATH": str(_quiet(folder.parent / "jupyter"))}
    if path is not None:
        settings["TOURSTATS_DIARY"] = DEMO if str(path) == DEMO else str(where(path).resolve())
    command = [sys.executable, "-m", "jupyterlab", f"--ServerApp.root_dir={folder}", "01-show-day.ipynb"]
    if not browser:
        command.append("--no-browser")
    if hasattr(os, "geteuid") and os.geteuid() == 0:
        command.append("--allow-root")
    subprocess.run(command, cwd=folder, env=os.environ | settings, check=False)  # noqa: S603  # our own words only


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
