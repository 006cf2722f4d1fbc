"""Execute the notebooks again on the demo tour, so that two runs differ by nothing.

    python -m tourstats.pages.workbook.run_again [NOTEBOOK …]

No timing is recorded, and the view of a form is left out: a form is drawn when somebody runs it. What it shows without
a kernel stays.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import nbformat
from nbclient import NotebookClient

from tourstats.pages.kit.whose import DEMO
from tourstats.pages.kit.widgets import KEYS
from tourstats.pages.workbook.lab import NOTEBOOKS

VIEW = "application/vnd.jupyter.widget-view+json"


def execute(path: Path) -> None:
    """Run one notebook in its own folder and write it back."""
    notebook = nbformat.read(path, as_version=4)
    settings = {"metadata": {"path": str(path.parent)}}
    NotebookClient(notebook, record_timing=False, store_widget_state=False, resources=settings).execute()
    for cell in notebook.cells:
        cell.get("metadata", {}).pop("execution", None)
        if cell.cell_type == "code":
            cell.outputs = [kept for output in cell.outputs if (kept := _without_form(output)) is not None]
    notebook.metadata.pop("widgets", None)
    notebook.metadata["language_info"] = {"name": "python"}  # not the version of whoever ran it
    nbformat.write(notebook, path)


def main(names: Sequence[str]) -> None:
    """Execute the notebooks named, or all of them."""
    os.environ["TOURSTATS_DIARY"] = DEMO
    for path in [Path(name) for name in names] or sorted(NOTEBOOKS.glob("*.ipynb")):
        execute(path)


def _without_form(output: Any) -> Any:  # noqa: ANN401  # a node of a notebook
    """An output as a page without a kernel shows it, or None where there is nothing but a form."""
    data = output.get("data", {})
    if (data.pop(VIEW, None) is not None and "text/html" not in data) or data.get("text/html") == KEYS:
        return None
    return output


if __name__ == "__main__":
    main(sys.argv[1:])
