"""The notebooks in JupyterLab: laid out in a folder that is the user's own, and served until it is closed."""

from __future__ import annotations

import hashlib
import json
import os
import shutil
import subprocess
import sys
from itertools import count
from pathlib import Path

from tourstats.diary.store.place import home
from tourstats.pages.kit.contents import PAGES
from tourstats.pages.kit.finished import FOLDER
from tourstats.pages.kit.finished import place as kept
from tourstats.pages.kit.look import PICTURES_THERE
from tourstats.pages.kit.whole_files import write_whole
from tourstats.pages.kit.whose import for_pages
from tourstats.pages.workbook.loaded import LAB, PROGRAM
from tourstats.pages.workbook.server import stop, stopped_when_asked
from tourstats.problems import Problem

NOTEBOOKS = Path(__file__).parents[3] / "notebooks"

SHARE = Path(__file__).with_name("share")
"""What Jupyter finds of ours: the template of the pages, and what starts one in JupyterLab."""
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
    place = home() / "workbook"
    try:
        folder = laid_out(place)
    except OSError as error:
        raise WorkbookProblem(
            f"The notebooks cannot be laid out in {place} ({error.strerror}). Allow writing there, or make room."
        ) from error
    _trust(folder)
    quiet = {"JUPYTER_CONFIG_PATH": str(quiet_settings(folder.parent / "jupyter")), FOLDER: str(kept())}
    settings = os.environ | quiet | {"JUPYTER_PATH": with_share(), PICTURES_THERE: "1"} | for_pages(path)
    command = [
        *(sys.executable, "-m", PROGRAM, LAB, f"--ServerApp.root_dir={folder}", f"--LabApp.default_url={FIRST}"),
        "--ServerApp.answer_yes=True",  # one Ctrl-C is enough
    ]
    if not browser:
        command.append("--no-browser")
    if hasattr(os, "geteuid") and os.geteuid() == 0:
        command.append("--allow-root")
    with stopped_when_asked():
        server = subprocess.Popen(command, cwd=folder, env=settings)  # noqa: S603  # our own words only
        try:
            server.wait()
        finally:
            stop(server)


def with_share() -> str:
    """Where Jupyter looks for what is not its own: at ours first."""
    before = os.environ.get("JUPYTER_PATH")
    return os.pathsep.join([str(SHARE), *([before] if before else [])])


def laid_out(folder: Path) -> Path:
    """Put the notebooks into the user's folder, without a picture or number of yesterday; what was changed is kept.

    A notebook of ours is laid anew each time, so that nothing old is taken for today's; where its cells were changed,
    the changed copy goes beside it under another name, and never over one that is there already.
    """
    if not NOTEBOOKS.is_dir():
        raise WorkbookProblem(f"The notebooks should be in {NOTEBOOKS}, but are not. Take a whole copy of the project.")
    folder.mkdir(parents=True, exist_ok=True)
    marks = folder / ".laid-out.json"
    laid = _marks(marks)
    ours = {source.name: source for source in sorted(NOTEBOOKS.glob("*.ipynb"))}
    for name, source in ours.items():
        target = folder / name
        if target.exists() and _digest(target) not in (laid.get(name), _digest(source)):
            shutil.move(target, _beside(target))
        write_whole(target, _without_outputs(source))
        laid[name] = _digest(source)
    for name in set(laid) - set(ours):
        # One of ours that no longer comes with the program goes, unless it was changed.
        if _digest(folder / name) == laid.pop(name):
            (folder / name).unlink()
    write_whole(marks, json.dumps(laid))
    return folder


def _trust(folder: Path) -> None:
    """Sign the notebooks that are ours, cell for cell: JupyterLab asks no question when one of them is started."""
    import nbformat  # noqa: PLC0415  # only who opens JupyterLab waits for it
    from nbformat.sign import NotebookNotary  # noqa: PLC0415  # as above

    notary = NotebookNotary()
    for source in NOTEBOOKS.glob("*.ipynb"):
        notary.sign(nbformat.read(folder / source.name, as_version=4))


def _marks(path: Path) -> dict[str, str]:
    """What was laid out last; nothing where the file is not there or cannot be read."""
    try:
        laid = json.loads(path.read_text(encoding="utf-8"))
    except FileNotFoundError:
        return {}
    except (OSError, ValueError):
        laid = None
    if not isinstance(laid, dict):
        print(  # noqa: T201  # said to whoever opens the notebooks
            f"The list of notebooks in {path.parent} could not be read and was made anew. A notebook that is not as it "
            "comes is kept beside the fresh one, with -mine in its name.",
            file=sys.stderr,
        )
        return {}
    return {str(name): str(mark) for name, mark in laid.items()}


def _beside(target: Path) -> Path:
    """A name beside a notebook that nothing has yet."""
    names = (f"{target.stem}-mine{f'-{at}' if at > 1 else ''}.ipynb" for at in count(1))
    return next(path for name in names if not (path := target.with_name(name)).exists())


def _without_outputs(source: Path) -> str:
    notebook = json.loads(source.read_text(encoding="utf-8"))
    for cell in notebook["cells"]:
        if cell["cell_type"] == "code":
            cell |= {"outputs": [], "execution_count": None}
    return json.dumps(notebook, ensure_ascii=False, indent=1)


def _digest(path: Path) -> str:
    """Digest of what the cells say, which running or saving does not change; nothing for a file that is torn."""
    try:
        cells = json.loads(path.read_text(encoding="utf-8"))["cells"]
        words = json.dumps([(cell["cell_type"], "".join(cell["source"])) for cell in cells])
    except (OSError, ValueError, KeyError, TypeError):
        return ""
    return hashlib.sha256(words.encode()).hexdigest()


def quiet_settings(folder: Path) -> Path:
    """Settings that keep JupyterLab from asking a network for its news, and name the pages that start when opened."""
    inner = folder / "labconfig"
    inner.mkdir(parents=True, exist_ok=True)
    quiet = {"@jupyterlab/apputils-extension:announcements": True}
    words = {"disabledExtensions": quiet, "tourstatsPages": [page.notebook for page in PAGES]}
    (inner / "page_config.json").write_text(json.dumps(words), encoding="utf-8")
    return folder
