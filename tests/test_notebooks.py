"""The workbook's open cells: each *Your own question* works as it stands, by another column, and on another leg."""

import json
import warnings
from pathlib import Path

import pandas as pd
import pytest

import tourstats as ts
from tourstats.pages.rotation import words as rotation
from tourstats.pages.trends import words as trends

NOTEBOOKS = sorted((Path(__file__).parents[1] / "notebooks").glob("0[3-7]*.ipynb"))
TURNED = [
    {},
    {"by": '"room"', "leg": '"{leg}"', "only": '"{leg}"'},
    {"by": '["leg", "encore"]', "until": "60", "most": "3"},
]
"""What a person may turn in the first open cell."""


def cells(path, tag):
    notebook = json.loads(path.read_text(encoding="utf-8"))
    return ["".join(cell["source"]) for cell in notebook["cells"] if tag in cell["metadata"].get("tags", ())]


@pytest.fixture(scope="module")
def tour():
    return ts.read("demo")


@pytest.mark.parametrize("turned", TURNED, ids=["as it stands", "one leg by room", "before a show by two columns"])
@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.stem)
def test_a_question_of_ones_own_works(path, turned, tour):
    """
    Run after nothing but the cell with what can be turned, each gives a table with rows or a chart that can be drawn.
    """
    space = {"book": tour}
    (first,) = cells(path, "turned")
    values = "\n".join(f"{name} = {value.format(leg=tour.legs()[1])}" for name, value in turned.items())
    head, _, tail = first.partition("book = book.until")
    exec(f"{head}\n{values}\nbook = book.until{tail}", space)  # noqa: S102  # our own cell
    asked = cells(path, "own-question")

    assert asked
    for source in asked:
        *lines, last = source.splitlines()
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            exec("\n".join(lines), space)  # noqa: S102  # our own cell
            shown = eval(last, space)  # noqa: S307  # our own cell
            assert len(shown) if isinstance(shown, pd.DataFrame) else shown.to_dict()["$schema"], source


def test_a_page_and_the_workbook_show_the_same_numbers(tour):
    """
    What the served page lists is what the open functions give.
    """
    out = ts.layoffs(tour).query("status == 'active' and layoff_shows > 0 and not rehearsed > last_played")
    page = trends.read(tour)

    assert rotation.out_and_not_run(tour).song.tolist() == out.song.tolist()
    assert page.control.expected.tolist() == ts.control(tour).expected.tolist()
    assert page.effects.ratio.tolist() == ts.effects(tour).ratio.tolist()
