"""DEVELOPERS.md says how to add things: here each recipe is followed once, on a copy of the house, and it works."""

import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
HOW = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")

RECIPES = {
    # what is added: the places the recipe names, and what is put in before, or at the end of, a line there
    "an import form": [
        ("reading/documents.py", "", '''

def slashed(data: bytes) -> str:
    """Lines of a file that parts them by slashes."""
    return data.decode().removeprefix("%SETS").replace("/", "\\n")
'''),
        ("reading/files.py", "    return _text(name, data, asking)\n",
         '    if data.startswith(b"%SETS"):\n        return Source(name, text=documents.slashed(data))\n'),
    ],
    "a reason": [
        ("models/swaps/features.py", '    "first_plays": "new",\n', '    "first_night": "since when",\n'),
        ("models/swaps/reasons.py", '            "leg": self._leg,\n',
         '            "since when": lambda song: f"stands since {self.ledger.run[song]}" if staying else "",\n'),
    ],
    "a form": [
        ("pages/rotation/how_often.py", None, '''"""Rotation asked: how often one song was played."""

from tourstats.diary import opened
from tourstats.pages.kit.asked import Asked
from tourstats.pages.kit.whose import whose
from tourstats.pages.kit.widgets import text


class HowOften:
    """One song."""

    def __init__(self) -> None:
        self.found, self.song = whose(), text("Song")
        self.asked = Asked("how-often", [self.song], "How often", self.answer)

    def answer(self) -> str:
        """Count it."""
        with opened(self.found.path) as diary:
            return f"<p>{(diary.plays().song == self.song.value).sum()} times.</p>"
'''),
    ],
    "a command": [
        ("cli.py", "COMMANDS: dict[", '''def _count(asked: argparse.Namespace) -> None:
    """Count the shows."""
    from tourstats.diary import opened

    with opened(asked.diary) as diary:
        print(len(diary.shows()), asked.what)


'''),
        ("cli.py", '    "likely": (',
         '    "count": ("count", _count, lambda add: add.add_argument("--what", default="shows")),\n'),
    ],
    "a chart": [
        ("pages/rotation/chart.py", "", '''

def lengths(frame: pd.DataFrame, title: str = "") -> Any:  # noqa: ANN401  # an Altair chart
    """Draw the length of each set."""
    chart = alt.Chart(frame).mark_bar().encode(x="show_id:O", y="songs:Q")
    return finished(chart, title or f"{len(frame)} sets", "Bars: songs a set.", rows=len(frame))
'''),
        ("pages/chart.py", "__all__ = [", "from tourstats.pages.rotation.chart import lengths\n\n"),
    ],
}  # fmt: skip

SCRIPT = """
import sys
from pathlib import Path

import pandas as pd

import tourstats as ts
from tourstats.cli import main
from tourstats.diary import opened

folder = Path(sys.argv[1])
own = folder / "own.sqlite"
with opened(own) as diary:
    for title in ("Ferry", "Paraffin Hymn", *(f"Ochre Lantern {number}" for number in range(3))):
        diary.add_song(title)
    for number in range(1, 13):
        show = diary.add_show(f"2031-03-{number:02}", "Brackwater", leg="Spring")
        diary.write_set(show, ["Ferry", "Paraffin Hymn", f"Ochre Lantern {number % 3}"], stage="played")

# an import form: a file of its own kind becomes a set
(folder / "tonight.sets").write_text("%SETSParaffin Hymn/Ferry")
assert 0 == main(["--diary", str(own), "tonight", str(folder / "tonight.sets"), "--date", "2031-04-01",
                  "--city", "Brackwater", "--room", "club"])
with opened(own) as diary:
    assert ["Paraffin Hymn", "Ferry"] == diary.plays(stage="planned").song.tolist()
    tour = diary.read()

# a reason: it is a part of a chance, and said
forecast = ts.forecast(tour)
assert "since when" in set(forecast.parts.part)

# a form: it answers
import os
os.environ["TOURSTATS_DIARY"] = str(own)
from tourstats.pages.rotation.how_often import HowOften
made = HowOften()
made.song.value = "Ferry"
made.asked.ask()
assert "12 times" in made.asked.answer.value

# a chart: it is in the one place, and can be gone on with
sets = tour.plays.groupby("show_id").size().rename("songs").reset_index()
assert "12 sets" in str(ts.chart.lengths(sets).properties(width=300).to_dict()["title"])

# a command: it is there, with its option
assert 0 == main(["--diary", str(own), "count", "--what", "nights"])
"""


@pytest.fixture(scope="module")
def house(tmp_path_factory):
    """A copy of the package with every recipe followed."""
    folder = tmp_path_factory.mktemp("house")
    shutil.copytree(ROOT / "tourstats", folder / "tourstats", ignore=shutil.ignore_patterns("__pycache__"))
    for place, before, text in (step for steps in RECIPES.values() for step in steps):
        path = folder / "tourstats" / place
        if before is None:
            assert not path.exists()
            path.write_text(text, encoding="utf-8")
            continue
        source = path.read_text(encoding="utf-8")
        assert before in source, f"{place} has no {before!r} any more: the recipe is to be written anew"
        path.write_text(source.replace(before, text + before, 1) if before else source + text, encoding="utf-8")
    return folder


def test_what_is_added_by_the_recipes_works(house, tmp_path):
    """
    A kind of file is read, a reason said, a form answers, a command runs, a chart is drawn.
    """
    environment = os.environ | {"PYTHONPATH": str(house), "PYTHONDONTWRITEBYTECODE": "1"}
    done = subprocess.run(
        [sys.executable, "-c", SCRIPT, str(tmp_path)], env=environment, cwd=tmp_path, capture_output=True, text=True,
        check=False,
    )  # fmt: skip

    assert 0 == done.returncode, done.stderr[-3000:]
    assert "12 nights" in done.stdout or "13 nights" in done.stdout


@pytest.mark.parametrize("what", RECIPES)
def test_each_recipe_is_told(what):
    """
    DEVELOPERS.md has a line for it that names every place that the test changes.
    """
    (line,) = re.findall(rf"^- \*\*{what}\*\*(?:.|\n  )*", HOW, flags=re.MULTILINE)

    assert [] == [place for place, *_ in RECIPES[what] if place not in line]
