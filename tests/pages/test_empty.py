"""Every page on a diary that holds next to nothing: no error, and a sentence that says what to do next."""

import ast
import contextlib
import io
import json
import re
import warnings
from pathlib import Path

import pytest

from tourstats.diary import opened, where

FOLDER = Path(__file__).parents[2] / "notebooks"
NOTEBOOKS = sorted(path for path in FOLDER.glob("*.ipynb") if not path.stem.startswith("10"))
"""All that speak of a diary: how the numbers are made is shown on the demo tour, whoever reads it."""
NEXT = re.compile(
    r"Start with your own tour|Show day|After the show|Corrections|tourstats \w|[Ww]rite down|[Pp]aste|[Bb]ring|"
    r"[Aa]dd |\byet\b|[Nn]ot enough"
)
"""What a sentence sounds like that says what is missing, or what to do about it."""


def nothing(_):
    """A diary that was only just begun."""


def songs_only(diary):
    """A repertoire, no show."""
    for song in ("Ferry", "Tin Rook", "Copper Wire"):
        diary.add_song(song)


def one_set(diary):
    """Last night's set and nothing else."""
    songs_only(diary)
    show = diary.add_show("2031-03-13", "Ostby")
    diary.write_set(show, ["Ferry", "Tin Rook"], stage="played", encore_from=2)


def one_planned(diary):
    """Tonight's set on the table, nothing played."""
    songs_only(diary)
    show = diary.add_show("2031-03-13", "Ostby")
    diary.write_set(show, ["Ferry", "Tin Rook"])


def shown(value):
    """What a notebook would show of a value, as text."""
    if value is None:
        return ""
    bundle = getattr(value, "_repr_mimebundle_", None)
    if callable(bundle):
        made = bundle()
        made = made[0] if isinstance(made, tuple) else made
        return f"{made} {' '.join(words(value))}"
    made = [getattr(value, name)() for name in ("_repr_html_", "_repr_markdown_") if hasattr(value, name)]
    return " ".join(str(each) for each in made) or repr(value)


def words(widget):
    """Every text that a form holds."""
    yield str(getattr(widget, "value", ""))
    for child in getattr(widget, "children", ()):
        yield from words(child)


def run(path, show=shown):
    """Run every cell of a notebook in one program, and return what each shows."""
    names, found = {}, []
    for cell in json.loads(path.read_text(encoding="utf-8"))["cells"]:
        if cell["cell_type"] != "code":
            continue
        body = ast.parse("".join(cell["source"])).body
        last = body.pop() if body and isinstance(body[-1], ast.Expr) else None
        exec(compile(ast.Module(body, []), path.name, "exec"), names)  # noqa: S102  # our own cells
        if last is not None:
            found.append(show(eval(compile(ast.Expression(last.value), path.name, "eval"), names)))  # noqa: S307  # our own notebooks
    return found


@pytest.mark.parametrize("filled", [nothing, songs_only, one_planned, one_set], ids=lambda filled: filled.__name__)
@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.stem)
def test_a_page_without_data_is_no_error_and_says_what_to_do(path, filled, monkeypatch, tmp_path):
    """
    Each notebook runs from top to bottom, warns of nothing, and speaks of what is missing or what comes next.
    """
    monkeypatch.setenv("TOURSTATS_DIARY", str(where()))
    monkeypatch.chdir(tmp_path)
    with opened() as diary:
        filled(diary)
    with warnings.catch_warnings(), contextlib.redirect_stdout(io.StringIO()) as printed:
        warnings.simplefilter("error")
        found = run(path)
    text = " ".join([*found, printed.getvalue()])

    assert found
    assert "Traceback" not in text
    assert not re.search(r"\bnan\b|\bNaT\b|\bNone\b(?! of)", re.sub(r"<style>.*?</style>|\{.*", "", text)), text
    assert NEXT.search(text), text
