"""The notebooks in JupyterLab: laid out in a folder that is the user's own, and served until it is closed."""

from __future__ import annotations

import hashlib
import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

from tourstats.diary.store.place import home
from tourstats.pages.kit.whose import for_pages
from tourstats.pages.workbook.server import stop, stopped_when_asked
from tourstats.problems import Problem

NOTEBOOKS = Path(__file__).parents[3] / "notebooks"

FIRST = "/lab/tree/01-show-day.ipynb"
"""What JupyterLab opens, and the address that it prints: the show day."""


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
    settings = {"JUPYTER_CONFIG_PATH": str(quiet_settings(folder.parent / "jupyter"))} | for_pages(path)
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
        raise WorkbookProblem(f"The notebooks should be in {NOTEBOOKS}, but are not. Take a whole copy of the project.")
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


def quiet_settings(folder: Path) -> Path:
    """Settings that keep JupyterLab from asking a network for its news."""
    inner = folder / "labconfig"
    inner.mkdir(parents=True, exist_ok=True)
    words = {"disabledExtensions": {"@jupyterlab/apputils-extension:announcements": True}}
    (inner / "page_config.json").write_text(json.dumps(words), encoding="utf-8")
    return folder
