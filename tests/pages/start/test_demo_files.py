"""The demo tour's own files, taken in by the command and by the page, in an order that nobody would choose."""

from datetime import date
from pathlib import Path
from zlib import crc32

from tourstats import demo
from tourstats.cli import main
from tourstats.diary import opened
from tourstats.pages.start.form import Start

DATA = Path(__file__).parents[3] / "data"
BY_PAGE = (
    "notes.csv",
    "repertoire.csv",
    "sets_leg1.csv",
    "shapes.csv",
    "things.csv",
    "tonight.txt",
    "venues.csv",
    "worked.csv",
)
NOT_TYPED = {"ticks", "levels", "settings"}
"""Tables of the demo that nobody types; they have no file."""


def by_page(diary, file):
    """Read a file on the page, and take all that is proposed; what it says."""
    form = Start(diary)
    form.path.value = str(file)
    if file.name == "tonight.txt":
        form.stage.value, form.day.value, form.city.value = "planned", date(2031, 10, 10), "Tarnholt"
    for description in ("Read it", "Take all that is proposed, and write it"):
        next(one for one in everything(form.box) if getattr(one, "description", "") == description).click()
    return " ".join(one.value for one in everything(form.box) if isinstance(getattr(one, "value", None), str))


def by_command(diary, file, capsys):
    """Take a file in with all that is proposed; what it says."""
    planned = ["--planned"] if file.name.startswith("handouts") else []
    main(["--diary", str(diary), "intake", str(file), "--accept", *planned])
    return "".join(capsys.readouterr())


def everything(box):
    """Every widget inside."""
    yield box
    for child in getattr(box, "children", ()):
        yield from everything(child)


def sizes(diary):
    """How many rows each table has."""
    with opened(diary) as book:
        return {name: len(table) for name, table in book.read() if name not in NOT_TYPED}


def test_every_file_goes_in_or_says_what_it_needs_first(tmp_path, capsys):
    """
    In any order, half by the page: a file that cannot go in yet says why and writes nothing; at the end all is there.
    """
    diary = tmp_path / "tour.sqlite"
    files = [file for file in DATA.iterdir() if file.suffix in (".csv", ".txt")]
    waiting = sorted(files, key=lambda file: crc32(file.name.encode()))  # as good as shuffled, and always the same
    for _ in range(4):
        left = []
        for file in waiting:
            before = sizes(diary) if diary.exists() else {}
            said = by_page(diary, file) if file.name in BY_PAGE else by_command(diary, file, capsys)
            if before == (sizes(diary) if diary.exists() else {}):
                left.append(file)
                assert any(word in said for word in ("first", "is no show", "may not be in the repertoire")), said
        waiting = left
    own = sizes(diary)
    demo_ = sizes(demo.path())

    assert ([], demo_) == (waiting, own)
