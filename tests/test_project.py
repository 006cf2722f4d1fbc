"""The project's own papers say the same thing."""

import re
import tomllib
from pathlib import Path

from tourstats.cli import COMMANDS

ROOT = Path(__file__).parents[1]
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]


def name_of(requirement):
    return re.split(r"[\[><=~! ]", requirement)[0]


def test_conda_users_get_the_same_versions():
    """
    environment.yml names every dependency of pyproject.toml with the same bounds, and no other.
    """
    lines = (ROOT / "environment.yml").read_text(encoding="utf-8").splitlines()
    listed = [line.strip().removeprefix("- ").strip('"') for line in lines if line.strip().startswith("- ")]
    expected = sorted(re.sub(r"\[.*?\]", "", requirement) for requirement in PROJECT["dependencies"])

    got = sorted(line for line in listed if name_of(line) not in {"conda-forge", "python", "pip", "pip:"})

    assert expected == got


def test_every_dependency_is_explained():
    """
    DEVELOPERS.md says of each library what it is for and what was weighed against it.
    """
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    asked = [*PROJECT["dependencies"], *(r for extra in PROJECT["optional-dependencies"].values() for r in extra)]

    assert [] == [name_of(r) for r in asked if f"| `{name_of(r)}`" not in text]


CALLED = {
    "axe-playwright-python": "axe_playwright_python",
    "pi-heif": "pi_heif",
    "pillow": "PIL",
    "pyspellchecker": "spellchecker",
    "python-calamine": "python_calamine",
    "python-docx": "docx",
    "scikit-learn": "sklearn",
    "vl-convert-python": "vl_convert",
}
"""Libraries that are imported by another name than they are installed by."""


def rooms(name, root="tourstats"):
    """Which rooms import a library, or start it as a program of its own."""
    module = CALLED.get(name, name.replace("-", "_"))
    used = re.compile(rf"^\s*(import|from) {module}\b|[\"']{module}[\"']", re.MULTILINE)
    paths = [path for path in (ROOT / root).rglob("*.py") if used.search(path.read_text(encoding="utf-8"))]
    return {path.relative_to(ROOT / root).with_suffix("").parts[0] for path in paths}


def test_every_dependency_is_used_by_the_package():
    """
    What every user installs, the package imports, or starts as a program of its own.
    """
    assert [] == [name for name in map(name_of, PROJECT["dependencies"]) if not rooms(name)]


def test_every_library_is_where_the_table_says():
    """
    DEVELOPERS.md names the rooms that use it, all of them and no other; the rest are for tests, benchmarks or commands.
    """
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    rows = re.findall(r"^\| `([^`]+)` \| ([^|]+) \|", text[text.index("| library") :], flags=re.MULTILINE)
    others = {"tests", "benchmarks", "\N{EN DASH}"}

    assert len(rows) > len(PROJECT["dependencies"])
    assert [] == [(name, said) for name, said in rows if rooms(name) != set(said.split(", ")) - others]


def test_every_dependency_is_bounded_from_below():
    """
    No library comes in a version that nobody tried.
    """
    asked = [*PROJECT["dependencies"], *(r for extra in PROJECT["optional-dependencies"].values() for r in extra)]

    assert [] == [r for r in asked if ">=" not in r]


def test_the_readme_has_the_two_commands():
    """
    Each is one line that starts from a bare machine; the second is what the checks run.
    """
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    commands = re.findall(r"^python3 -m venv .*$", text, flags=re.MULTILINE)

    assert 2 == len(commands)
    assert commands[0].endswith("tourstats tonight")
    assert commands[1].endswith("pytest")


def test_the_readme_names_every_command():
    """
    Whoever reads the README has seen each command once.
    """
    text = (ROOT / "README.md").read_text(encoding="utf-8")

    assert 12 == len(COMMANDS)
    assert [] == [name for name in COMMANDS if f"tourstats {name}" not in text]


def test_every_rule_that_is_passed_over_has_its_reason():
    """
    A `noqa` names the rule, and says behind it why it does not hold there.
    """
    sources = [path for room in ("tourstats", "tests", "benchmarks") for path in (ROOT / room).rglob("*.py")]
    lines = [(path.name, line) for path in sources for line in path.read_text(encoding="utf-8").splitlines()]

    bare = re.compile(r"# (?:ruff: )?noqa(?!: [A-Z]+\d+(?:, [A-Z]+\d+)*  # \w)")
    assert [] == [(name, line) for name, line in lines if bare.search(line)]


def test_each_room_has_one_file_to_begin_with_and_every_file_named_is_there():
    """
    DEVELOPERS.md leads into every room, and names no file that is gone.
    """
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    begin = text.split("| room | begin with |")[1].split("\n\n")[0]
    first = [re.findall(r"`([\w/]+\.py)`", line)[:1] for line in begin.splitlines()[2:]]
    rooms = {path.name for path in (ROOT / "tourstats").iterdir() if (path / "__init__.py").exists()}
    named = re.findall(r"`((?:[\w]+/)*\w+\.py)`", text)

    assert [] == [line for line in first if len(line) != 1]
    assert rooms <= {name.split("/")[0] for (name,) in first}
    assert [] == [n for n in named if not any((ROOT / at / n).exists() for at in ("", "tourstats", "tourstats/pages"))]
