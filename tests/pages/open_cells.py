"""The cells of a notebook run one after the other in this process, on any tour: what a page shows, without a kernel."""

import ast
import json
from pathlib import Path

import pandas as pd

NOTEBOOKS = Path(__file__).parents[2] / "notebooks"
SETUP = "book = workbook.read()"
FORMS = ("form.", "workbook.form")


def sources(path):
    """Each code cell's tags and source; what reads the diary of whoever runs it, and forms, are left out."""
    for cell in json.loads(path.read_text(encoding="utf-8"))["cells"]:
        source = "".join(cell["source"]).replace(SETUP, "")
        if cell["cell_type"] == "code" and not source.splitlines()[-1].startswith(FORMS):
            yield cell["metadata"].get("tags", ()), source


def run(source, space):
    """What the last line of a cell shows, None where it shows nothing."""
    *body, last = ast.parse(source).body or [ast.Pass()]
    shows = isinstance(last, ast.Expr)
    exec(compile(ast.Module([*body] if shows else [*body, last], []), "cell", "exec"), space)  # noqa: S102  # our own cell
    return eval(compile(ast.Expression(last.value), "cell", "eval"), space) if shows else None  # noqa: S307  # as above


def shown(name, book, turned=None, space=None):
    """Everything that a notebook shows of a tour, cell by cell; `turned` stands in for what its first cell says.

    `space`, if given, has every name that the cells made.
    """
    (path,) = NOTEBOOKS.glob(f"{name}*.ipynb")
    space = {} if space is None else space
    space["book"] = book
    for tags, source in sources(path):
        head, line, tail = source.partition("book = book.until")
        chosen = [f"{key} = {value!r}" for key, value in (turned or {}).items() if line]
        value = run("\n".join([head, *chosen, line + tail]), space)
        if value is not None:
            yield tags, source, value


def read(value):
    """Every word that somebody can read of a value."""
    if value is None or isinstance(value, str):
        return value or ""
    if hasattr(value, "to_dict") and not isinstance(value, pd.DataFrame):
        made = value.to_dict()
        return f"{made.get('title')} {made.get('description', '')}".replace("None", "")
    if isinstance(value, pd.DataFrame):
        return value._repr_html_()
    return getattr(value, "data", None) or (
        f"{value!r} {value._repr_html_()}" if hasattr(value, "_repr_html_") else repr(value)
    )
