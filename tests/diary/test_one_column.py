"""A column is one line: in a copy of the house it is added in one place, and everything else follows."""

import os
import shutil
import subprocess
import sys
from pathlib import Path

from tourstats.diary import opened

PACKAGE = Path(__file__).parents[2] / "tourstats"
FIRST_OF = {"class Songs(Table)": "song: ", "class Plays(Table)": "show_id: ", "class Notes(Table)": "date: "}
NEW = {
    "class Songs(Table)": 'lamp: Series[str] = column("colour of its light", label="light", also="licht", '
    'nullable=True, isin=("red", "blue"), was={"crimson": "red"})',
    "class Plays(Table)": 'seated: Series[bool] = column("whether it was played sitting", default=False)',
    "class Notes(Table)": 'weight: Series[float] = column("how much it matters", unit="g", nullable=True, ge=0)',
}

SCRIPT = """
import sys
from pathlib import Path

import pandas as pd

from tourstats import tables
from tourstats.cli import main
from tourstats.diary import export, import_tables, opened
from tourstats.pages.corrections import form
from tourstats.pages.kit.fields import Fields
from tourstats.problems import Problem

folder = Path(sys.argv[1])
old = folder / "old.sqlite"
with opened(old) as book:  # a file that was made before there was such a column
    assert book.songs().lamp.isna().all() and not book.plays().seated.any()
    book.change_song("Ferry", lamp="crimson")
    book.add_song("Tin Rook", lamp="blue")
    book.write_set(1, pd.DataFrame({"song": ["Ferry", "Tin Rook"], "seated": [True, False]}), stage="played")
    note = book.add_note("loud", song="Ferry", weight=0.1 + 0.2)
    try:
        book.add_song("Lantern", lamp="green")
    except Problem as problem:
        assert "one of red, blue" in str(problem)
    else:
        raise AssertionError
    read = book.read()
    assert ["red", "blue"] == read.songs.lamp.tolist()
    assert [True, False] == read.plays.seated.tolist()
    assert [0.1 + 0.2] == read.notes.weight.tolist()

    # exported and read back
    export(folder / "out", book)
    with opened(folder / "again.sqlite") as again:
        import_tables(folder / "out", again)
        for name, frame in again.read():
            pd.testing.assert_frame_equal(dict(book.read())[name], frame, obj=name)

    # undone, value by value
    book.change_song("Ferry", lamp="blue")
    book.change_note(note, weight=7)
    book.remove_show(1)
    for _ in range(3):
        book.undo()
    assert ["red", "blue"] == book.songs().lamp.tolist()
    assert [0.1 + 0.2] == book.notes().weight.tolist()
    assert [True, False] == book.plays().seated.tolist()
    while book.undoable():
        book.undo()
    assert 0 == len(book.songs())

# shown: the form that corrects a song has it, with its choices
assert "lamp" in form.SONG
assert "Light" == Fields("songs", form.SONG).fields["lamp"].description
with opened(folder / "shown.sqlite") as book:
    book.add_song("Ferry")
page = form.PutRight(folder / "shown.sqlite")
page.what.value = "a song"
song = page.part
song.chosen.value = "Ferry"
song.fields.fields["lamp"].value = "blue"
song.save()
with opened(folder / "shown.sqlite") as book:
    assert ["blue"] == book.songs().lamp.tolist()
    book.undo()
    assert book.songs().lamp.isna().all()
assert "weight (g)" == tables.labels("notes")["weight"]

# imported from a person's own file, under another name and with an older word
(folder / "repertoire.csv").write_text("Title,Tempo,Licht\\nFerry,96,crimson\\nTin Rook,120,blue\\n")
assert 0 == main(["--diary", str(folder / "own.sqlite"), "intake", str(folder / "repertoire.csv")])
with opened(folder / "own.sqlite") as book:
    assert ["red", "blue"] == book.songs().lamp.tolist()
"""


def test_a_column_that_is_added_in_one_place_is_stored_shown_imported_exported_and_undone(tmp_path):
    """
    Three columns (a choice, yes or no, a number with a unit) are added to `tables.py` of a copy, and to nothing else.
    """
    house = tmp_path / "house"
    shutil.copytree(PACKAGE, house / "tourstats", ignore=shutil.ignore_patterns("__pycache__"))
    source = house / "tourstats" / "tables.py"
    text = source.read_text(encoding="utf-8")
    for table, line in NEW.items():
        at = text.index(f"    {FIRST_OF[table]}", text.index(table))
        end = text.index("\n", at) + 1
        text = f"{text[:end]}    {line}\n{text[end:]}"
    source.write_text(text, encoding="utf-8")
    with opened(tmp_path / "old.sqlite") as book:
        book.add_song("Ferry")
        book.write_set(book.add_show("2031-03-04", "Brackwater"), ["Ferry"], stage="played")
    environment = os.environ | {"PYTHONPATH": str(house), "PYTHONDONTWRITEBYTECODE": "1"}

    done = subprocess.run(
        [sys.executable, "-c", SCRIPT, str(tmp_path)], env=environment, cwd=tmp_path, capture_output=True, text=True,
        check=False,
    )  # fmt: skip

    assert 0 == done.returncode, done.stderr[-3000:]
