"""No word that was replaced comes back where a user can read it."""

import ast
import json
import re
from pathlib import Path

import pytest

from tourstats import tables
from tourstats.cli import main

ROOT = Path(__file__).parents[1]
REPLACED = (
    r"that lie longest",
    r"\b(lies|lain)\b", r"\blay (?:\d|how)", r"changeover", r"\bIn short\b", r"\bPut right\b", r"Take it with you",
    r"have ready, mind", r"put away:", r"\btake: ", r"the ear found", r"comes back at any time", r"stalest",
    r"tenth that heard most", r"It takes two songs", r"Goes along:", r"Look it over", r"Not taken for a mistake",
    r"not surely a title", r"Write it into the diary", r"No day stands", r"worth seeing again", r"rooms of the kind",
    r"Nobody has said how long the set", r"made up for the purpose", r"Never played yet", r"The tour as a picture",
    r"Which shows were alike", r"further down", r"\b1 reviewed shows", r"Keep ready for a set", r"keeps ready for",
    r"(?:line|lines) waits? for you", r"four nights of five", r"Nothing tells these", r"No song waits",
    r"\bmemorised\b", r"\bcharted\b", r"\bper play\b", r"\ba play\b", r"What must lie ready", r"nat a song",
    r"(?i:log loss)", r"way of telling", r"repeat attendees", r"a second pair", r"on a second device",
    r"a plan without it", r"NIOSH", r"\bChao\b", r"Klickstein",
    r"(?i:\bkinds? of room\b)", r"\bin (?:which|this|that|a new) town\b", r"--city TOWN", r"\bplays reviewed\b",
    r"\bplays, last\b",
    r"\bOn Autumn rooms", r"Write down first whether", r"It takes you",
)  # fmt: skip
"""What stood there once; each is a pattern of what people would have read."""
ASIDE = {
    "tourstats/pages/kit/light_altair.py",
    "tourstats/reading/findings.py",  # words that people write
    "tourstats/reading/lines.py",
}
NAMES_OF_SOURCES = {r"NIOSH", r"\bChao\b", r"Klickstein"}
"""Authors are named where a method is explained or kept, not on a daily page."""


def _said(path):
    """Strings of a module that are no docstrings."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    told = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant):
            told.add(id(node.value))
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in told:
            yield node.value


def _texts():
    """What a user can read, with where it stands."""
    rooms = ["cli.py", "answers.py", "pages/**/*.py", "models/**/*.py", "reading/**/*.py", "diary/*.py", "demo/*.py"]
    for path in [each for room in rooms for each in (ROOT / "tourstats").glob(room)]:
        where = path.relative_to(ROOT).as_posix()
        if where not in ASIDE:
            yield from ((where, text) for text in _said(path))
    for path in (ROOT / "README.md", ROOT / "data/README.md", ROOT / "CHANGELOG.md"):
        yield path.name, path.read_text(encoding="utf-8")
    for path in sorted((ROOT / "notebooks").glob("*.ipynb")):
        for cell in json.loads(path.read_text(encoding="utf-8"))["cells"]:
            if cell["cell_type"] == "markdown":
                yield path.name, "".join(cell["source"])
    for table in tables.ALL:
        yield from ((f"labels of {table}", words) for words in tables.labels(table).values())


def _found(texts):
    return [
        (where, old, text[max(found.start() - 30, 0) : found.end() + 30])
        for where, text in texts
        for old in REPLACED
        if (found := re.search(old, text))
        and not (old in NAMES_OF_SOURCES and where.endswith((".md", ".ipynb", "care.py")))
    ]


def test_no_replaced_word_is_read_anywhere():
    """
    Sentences of pages, commands and problems, labels of columns, the manual, and the prose of the notebooks.
    """
    assert [] == _found(_texts())


def test_the_list_finds_what_it_is_for():
    """
    A sentence of the old kind is found, so that the test above can fail.
    """
    assert [r"\ba play\b"] == [old for _, old, _ in _found([("page.py", "0.30 mistakes a play, out 12 shows")])]


@pytest.mark.parametrize("words", [("tonight", "--all"), ("tonight", "--for", "band"), ("likely",)], ids=" ".join)
def test_commands_on_the_demo_tour_speak_in_todays_words(words, capsys, tmp_path, monkeypatch):
    """
    Also what is put together from pieces.
    """
    monkeypatch.chdir(tmp_path)

    assert 0 == main(["--diary", "demo", *words])
    assert [] == _found([(words[0], capsys.readouterr().out)])
