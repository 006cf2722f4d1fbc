"""The workbook's open cells: what they show is what the pages say, whatever is turned in the first of them."""

import json
import re

import pandas as pd
import pytest
from pandas.testing import assert_frame_equal

import tourstats as ts
from tests.pages.open_cells import NOTEBOOKS, shown
from tourstats.models import practice, swaps
from tourstats.pages.audience import words as audience
from tourstats.pages.kit import tables_shown
from tourstats.pages.likely import words as likely
from tourstats.pages.review import words as review
from tourstats.pages.rotation import words as rotation
from tourstats.pages.trends import words as trends

WORKBOOK = sorted(NOTEBOOKS.glob("0[3-7]*.ipynb"))
TURNED = [
    {},
    {"by": "room", "leg": "{leg}"},
    {"by": ["leg", "room"], "until": 60, "most": 3},
]
"""What a person may turn in the first open cell."""
FOLDED = ("workbook.say", "review.said", "parts =", "from ", "found = trends.read", "past =", "sets, people")
"""What a folded cell may begin with: sentences, and what is read once for them."""


@pytest.fixture(scope="module")
def tour():
    return ts.read("demo")


def made(name, tour):
    """Every name that the cells of a notebook make."""
    space = {}
    assert list(shown(name, tour, space=space))
    return space


@pytest.mark.parametrize("turned", TURNED, ids=["as it stands", "one leg by room", "before a show by two columns"])
@pytest.mark.parametrize("path", WORKBOOK, ids=lambda path: path.stem)
@pytest.mark.filterwarnings("ignore")
def test_a_question_of_ones_own_works(path, turned, tour):
    """
    With another column, another leg, or another day, each gives a table with rows or a chart that can be drawn, or says
    what it takes.
    """
    leg = tour.legs()[1]
    chosen = {key: leg if value == "{leg}" else value for key, value in turned.items()}
    asked = [cell for cell in shown(path.stem, tour, chosen) if "own-question" in cell[0]]

    assert asked
    for _, source, value in asked:
        assert len(value) if isinstance(value, pd.DataFrame | str) else value.to_dict()["$schema"], source


@pytest.mark.parametrize("path", WORKBOOK, ids=lambda path: path.stem)
def test_tables_and_charts_are_made_in_open_cells(path):
    """
    What is folded away are sentences; a table or a chart is made in lines that one can read and change.
    """
    folded, opened = [], []
    for cell in json.loads(path.read_text(encoding="utf-8"))["cells"]:
        source = "".join(cell["source"])
        if cell["cell_type"] == "code" and "form." not in source:
            (folded if "jupyter" in cell["metadata"] else opened).append(source)

    assert [] == [source for source in folded if not source.startswith(FOLDED) and not re.match(r"parts|tempo", source)]
    assert len(opened) >= len(folded) - 1
    work = [[line for line in source.splitlines() if line and "import " not in line] for source in opened]
    assert 8 >= max(map(len, work))


def test_a_page_and_the_workbook_show_the_same_numbers(tour):
    """
    What a served page says and its forms answer is what the open cells make.
    """
    said, round_, trend, heard, leg = (made(path.stem, tour) for path in WORKBOOK)

    assert likely.to_run(likely.forecast(tour)).chance.tolist() == said["outside"].chance.head(10).tolist()
    form = likely.known_table(tour, said["known"]).html
    assert tables_shown.shown(said["both"].loc[said["moved"].index].reset_index(names="song").head(10),
                              labels=likely.LABELS).html == form  # fmt: skip
    assert rotation.out_and_not_run(tour).song.tolist() == round_["out"].song.tolist()
    page = trends.read(tour)
    assert page.control.expected.tolist() == trend["nights"].expected.tolist()
    assert page.effects.ratio.tolist() == trend["effects"].ratio.tolist()
    assert page.songs.query("basis == 'reviews'").rate.tolist() == pytest.approx(trend["songs"].rate.tolist())
    assert audience.nights(tour).fresh_share.tolist() == pytest.approx(
        heard["nights"].fresh_share.tolist(), nan_ok=True
    )
    assert f"{audience.draft(tour, heard['titles']).fresh_share.iloc[0]:.0%} new" in audience.in_short(tour)
    parts = {part.heading: part for part in review.parts(tour, charts=False)}
    where = parts["Where the mistakes are"].table
    assert_frame_equal(where, pd.DataFrame(leg["where"][list(where)]).reset_index(drop=True), check_dtype=False)
    steps = leg["plan"][leg["plan"].what.isin(practice.WAYS)]
    assert parts["For the break"].table.song.tolist() == steps.song.head(review.MOST_SONGS).tolist()
    assert steps.song.tolist() == leg["steps"].song.tolist() != []
    assert parts["What came of runs"].words.startswith(f"Of {leg['came'].runs.sum()} runs ")
    assert swaps.recall(ts.track_record(tour).songs, (10,)).recall.iloc[0] == pytest.approx(
        said["past"].recall.query("way == 'this forecast' and first == 10").recall.iloc[0]
    )
