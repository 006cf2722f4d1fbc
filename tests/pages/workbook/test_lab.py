"""The notebooks in the user's folder: fresh each day, and what the user changed is never lost."""

import json

from tourstats.pages.workbook import NOTEBOOKS, laid_out

NAME = "04-rotation.ipynb"


def changed(path, words, outputs=()):
    """Change a cell as a user does, and leave what a run leaves."""
    notebook = json.loads(path.read_text(encoding="utf-8"))
    code = next(cell for cell in notebook["cells"] if cell["cell_type"] == "code")
    code["source"], code["outputs"] = words or code["source"], list(outputs)
    path.write_text(json.dumps(notebook), encoding="utf-8")


def outputs(path):
    return [
        output
        for cell in json.loads(path.read_text(encoding="utf-8"))["cells"]
        if cell["cell_type"] == "code"
        for output in cell["outputs"]
    ]


def test_nothing_of_yesterday_is_left_on_the_second_day(tmp_path):
    """
    A form's dead view and yesterday's numbers, saved when the notebook was closed, are gone when it is opened again.
    """
    laid_out(tmp_path)
    stale = {"output_type": "display_data", "metadata": {}, "data": {"text/plain": "yesterday"}}
    changed(tmp_path / NAME, None, [stale])
    laid_out(tmp_path)

    assert [] == [output for path in tmp_path.glob("*.ipynb") for output in outputs(path)]
    assert {path.name for path in NOTEBOOKS.glob("*.ipynb")} == {path.name for path in tmp_path.glob("*.ipynb")}


def test_what_the_user_changed_is_kept_each_time(tmp_path):
    """
    Beside ours, under names that are never taken twice, also where the list of what was laid out is torn.
    """
    laid_out(tmp_path)
    changed(tmp_path / NAME, "first = 1")
    laid_out(tmp_path)
    changed(tmp_path / NAME, "second = 2")
    (tmp_path / ".laid-out.json").write_text('{"04-rot', encoding="utf-8")
    laid_out(tmp_path)
    mine = sorted(path.read_text(encoding="utf-8") for path in tmp_path.glob("*-mine*.ipynb"))

    assert ["first = 1" in mine[0], "second = 2" in mine[1]] == [True, True]
    assert "first = 1" not in (tmp_path / NAME).read_text(encoding="utf-8")


def test_a_notebook_that_no_longer_comes_with_the_program_goes(tmp_path):
    """
    Only where it was left as it was.
    """
    laid_out(tmp_path)
    marks = json.loads((tmp_path / ".laid-out.json").read_text(encoding="utf-8"))
    for name in ("08-old.ipynb", "09-changed.ipynb"):
        (tmp_path / name).write_text((tmp_path / NAME).read_text(encoding="utf-8"), encoding="utf-8")
    marks |= {"08-old.ipynb": marks[NAME], "09-changed.ipynb": "another"}
    (tmp_path / ".laid-out.json").write_text(json.dumps(marks), encoding="utf-8")
    laid_out(tmp_path)

    assert (False, True) == ((tmp_path / "08-old.ipynb").exists(), (tmp_path / "09-changed.ipynb").exists())
