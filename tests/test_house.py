"""The plan of the house: who may import whom, and what a start costs."""

import ast
import subprocess
import sys
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parents[1] / "tourstats"
MODULES = sorted(PACKAGE.rglob("*.py"))

GROUND = {"problems", "tables", "tour"}
"""What everybody stands on."""

ORDER = {
    "problems": set(),
    "tables": {"problems"},
    "tour": {"problems", "tables"},
    "reading": GROUND,
    "diary": GROUND | {"reading"},
    "recording": GROUND,
    "models": GROUND,
    "scale": GROUND | {"diary", "models"},
    "demo": GROUND | {"reading", "diary"},
    "pages": GROUND | {"reading", "diary", "recording", "models", "scale", "demo"},
    "answers": GROUND | {"diary", "models", "pages"},
    "cli": GROUND | {"reading", "diary", "recording", "models", "scale", "demo", "pages"},
}
"""What each room may import of ours, besides itself."""

OTHERS = {
    "problems": set(),
    "tables": {"numpy", "pandas", "pandera"},
    "tour": {"pandas", "html"},
    "answers": {"pandas", "os"},
    "reading": {
        *{"numpy", "pandas", "python_calamine", "rapidfuzz", "docx", "pypdfium2", "PIL", "pi_heif", "rapidocr"},
        *{"contextlib", "csv", "email", "gzip", "html", "importlib", "io", "os", "pathlib", "warnings", "xml"},
    },
    "diary": {
        *{"numpy", "pandas", "platformdirs", "python_calamine", "rapidfuzz", "sqlite3"},
        *{
            "contextlib",
            "csv",
            "errno",
            "fcntl",
            "hmac",
            "io",
            "os",
            "pathlib",
            "secrets",
            "shutil",
            "stat",
            "struct",
            "tempfile",
            "time",
            "warnings",
        },
    },
    "recording": {"numpy", "pandas", "scipy", "av", "datetime", "importlib", "pathlib", "io"},
    "models": {"numpy", "pandas", "scipy", "statsmodels", "threadpoolctl"},
    "scale": {
        *{"numpy", "pandas", "pyarrow", "tqdm", "dask", "distributed"},
        *{"concurrent", "contextlib", "csv", "os", "pathlib", "secrets", "shutil", "tempfile"},
    },
    "demo": {
        "numpy",
        "pandas",
        "platformdirs",
        "contextlib",
        "io",
        "os",
        "pathlib",
        "shutil",
        "tempfile",
        "argparse",
        "csv",
        "tomllib",
    },
    "pages": {
        *{
            "altair",
            "anywidget",
            "IPython",
            "ipywidgets",
            "nbclient",
            "nbconvert",
            "nbformat",
            "pandas",
            "pyarrow",
            "traitlets",
            "typst",
        },
        *{
            "vl_convert",
            "wcwidth",
            "contextlib",
            "gc",
            "html",
            "importlib",
            "io",
            "os",
            "pathlib",
            "pickle",
            "tempfile",
            "threading",
            "time",
            "tqdm",
        },
        *{"numpy", "fontTools", "shutil", "subprocess", "sys"},
        *{
            "asyncio",
            "atexit",
            "secrets",
            "signal",
            "socket",
            "urllib",
            "warnings",
            "webbrowser",
        },  # the pages served, on this machine
        *{
            "voila",
            "jinja2",
            "tornado",
            "ipykernel",
            "jupyter_client",
            "jupyter_server",
            "jupyterlab",
            "multiprocessing",
            "segno",
            "hmac",
        },
    },
    "cli": {"argparse", "pandas", "os", "pathlib", "shlex", "sys", "contextlib"},
}
"""Libraries that each room may import; of the standard library, what touches files or the world is named too."""

PURE = {
    *{
        "__future__",
        "abc",
        "ast",
        "base64",
        "bisect",
        "calendar",
        "collections",
        "copy",
        "dataclasses",
        "datetime",
        "difflib",
    },
    *{
        "decimal",
        "enum",
        "functools",
        "hashlib",
        "heapq",
        "inspect",
        "itertools",
        "json",
        "locale",
        "math",
        "operator",
        "random",
        "re",
    },
    *{"statistics", "string", "textwrap", "threading", "typing", "unicodedata", "warnings", "zipfile", "zlib", "types"},
}
"""Parts of the standard library that read, write and draw nothing."""

BY_NAME = "models.audience"
"""The one room that finds a name in a room above it, when asked for it: `from_scans`, which others rely on there."""


def name_of(path):
    parts = path.relative_to(PACKAGE).with_suffix("").parts
    return ".".join(part for part in parts if part != "__init__")


def imported(path):
    """Every import of a module, also late ones and those inside decorated functions or branches."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert not node.level, f"{path.name} imports relatively"
            yield from (f"{node.module}.{alias.name}" for alias in node.names)


@pytest.mark.parametrize("path", MODULES, ids=name_of)
def test_each_room_imports_only_what_it_may(path):
    """
    Data goes one way, and each room has one limit on what it may use.
    """
    room = name_of(path).split(".")[0]
    if not room:
        return
    allowed = OTHERS[room] | PURE
    if name_of(path) == BY_NAME:
        allowed = allowed | {"importlib"}

    for name in imported(path):
        top, *rest = name.split(".")
        if top == "tourstats":
            assert rest[0] in ORDER[room] | {room}, f"{name_of(path)} may not import {name}"
        else:
            assert top in allowed, f"{name_of(path)} may not import {name}"


@pytest.mark.parametrize("path", [p for p in MODULES if name_of(p).startswith("models.")], ids=name_of)
def test_models_do_not_ask_one_another(path):
    """
    Each model answers for itself; only tonight and a song's page ask the others, and everyone may use the few formulas.
    """
    own = name_of(path).split(".")[1]
    if own in {"tonight", "song"}:
        return
    theirs = {name.split(".")[2] for name in imported(path) if name.startswith("tourstats.models.")}

    assert theirs <= {own, "estimates"}


def test_no_function_is_longer_than_forty_lines():
    """
    What is longer does two things; its docstring is not counted.
    """
    long = []
    for path in MODULES:
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
                body = node.body[ast.get_docstring(node) is not None :]
                if body and body[-1].end_lineno - body[0].lineno + 1 > 40:
                    long.append(f"{name_of(path)}.{node.name}")

    assert [] == long


def test_no_name_that_lives_long_is_called_found_said_or_made():
    """
    A name that is read far from where it was given says its job there: `songs`, `match`, `sentences`. Of everything in
    a program it can be said that it was found, said or made. What is imported keeps the name that it has at home.
    """
    vague = []
    for path in MODULES:
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
                uses = [one for one in ast.walk(node) if isinstance(one, ast.Name | ast.arg)]
                for name in ("found", "said", "made"):
                    own = [one for one in uses if name in {getattr(one, "id", ""), getattr(one, "arg", "")}]
                    given = any(not isinstance(getattr(one, "ctx", None), ast.Load) for one in own)
                    lines = sorted(one.lineno for one in own)
                    if given and lines[-1] - lines[0] > 8:
                        vague += [f"{name_of(path)}.{node.name}, {name}: lines {lines[0]} to {lines[-1]}"]

    assert [] == vague


@pytest.mark.parametrize("path", MODULES, ids=name_of)
def test_no_import_is_guarded(path):
    """
    A missing library is a broken installation, not a case.
    """
    tree = ast.parse(path.read_text(encoding="utf-8"))
    guarded = [
        node.lineno
        for block in ast.walk(tree)
        if isinstance(block, ast.Try)
        for node in block.body
        if isinstance(node, ast.Import | ast.ImportFrom)
    ]

    assert [] == guarded


def test_no_two_modules_of_reading_ask_each_other():
    """
    A line is taken apart, then titles are matched, then sets are read: nothing goes back.
    """
    modules = {name_of(path): set(imported(path)) for path in MODULES if name_of(path).startswith("reading.")}
    asks = {
        name: {other for other in modules for one in theirs if f"{one}.".startswith(f"tourstats.{other}.")}
        for name, theirs in modules.items()
    }
    while free := {name for name, theirs in asks.items() if not theirs & set(asks)}:
        asks = {name: theirs for name, theirs in asks.items() if name not in free}

    assert {} == asks


@pytest.mark.parametrize("name", ["__init__.py", "models/__init__.py", "pages/__init__.py"])
def test_the_roots_import_nothing(name):
    """
    Importing a room costs only what is asked of it.
    """
    assert set(imported(PACKAGE / name)) <= {"importlib.import_module", "typing.Any"}


def test_nobody_imports_the_package_root():
    """
    What a module uses it names, room and all.
    """
    for path in MODULES:
        for name in imported(path):
            top, *rest = name.split(".")
            assert top != "tourstats" or (rest and rest[0] in ORDER), f"{name_of(path)}: {name}"


def test_the_path_to_the_show_day_loads_nothing_heavy():
    """
    At 16:00 there are two seconds; charts, forms and statsmodels are not among them.
    """
    code = (
        "import sys, tourstats.cli, tourstats.diary, tourstats.models.tonight;"
        "print(*sorted({'altair', 'ipywidgets', 'statsmodels', 'IPython', 'scipy.stats'} & set(sys.modules)))"
    )
    out = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)

    assert "" == out.stdout.strip()


def test_the_map_in_the_package_names_every_room():
    """
    The docstring of the package lists what is there, and nothing else.
    """
    text = ast.get_docstring(ast.parse((PACKAGE / "__init__.py").read_text(encoding="utf-8")))
    mapped = {line.split()[0] for line in text.split("\n\n")[-1].splitlines()}
    there = {path.stem for path in PACKAGE.iterdir() if path.name not in ("__init__.py", "__pycache__")}

    assert there == mapped


MAPPED = sorted(path.parent for path in PACKAGE.rglob("__init__.py") if path.parent != PACKAGE)
"""Folders whose docstring lists what is in them."""


@pytest.mark.parametrize("folder", MAPPED, ids=lambda folder: str(folder.relative_to(PACKAGE)))
def test_the_map_in_each_folder_names_what_is_there(folder):
    """
    Whoever looks for a form or a sentence finds its module in the docstring of the folder, and nothing that is gone.
    """
    text = ast.get_docstring(ast.parse((folder / "__init__.py").read_text(encoding="utf-8")))
    mapped = {line.split()[0] for line in text.split("\n\n")[-1].splitlines()}
    there = {path.stem for path in folder.iterdir() if path.suffix == ".py" or path.is_dir()}

    assert there - {"__init__", "__main__", "__pycache__"} == mapped


SAME_JOB = {
    "words": "pages",
    "form": "pages",
    "chart": "pages",
    "printed": "pages",
    "songs": "reading diary",
    "sets": "reading diary",
    "people": "reading diary",
}
"""Names that may stand in several folders, and the rooms where they are a convention: each page has words, a form,
charts and paper; a noun is read by `reading` and kept by `diary`."""


def test_a_module_is_called_by_its_job_and_by_no_other_modules_name():
    """
    Whoever opens a module by its name opens the right one.
    """
    rooms = {}
    for path in MODULES:
        if path.stem not in {"__init__", "__main__"}:
            rooms.setdefault(path.stem, []).append(name_of(path).split(".")[0])
    twice = {
        name: sorted(where)
        for name, where in rooms.items()
        if len(where) > 1 and not set(where) <= set(SAME_JOB.get(name, "").split())
    }

    assert {} == twice


@pytest.mark.parametrize("path", sorted(PACKAGE.glob("pages/*/*.py")), ids=name_of)
def test_the_kit_knows_no_page(path):
    """
    What every page is made of is below all pages; the workbook's own modules are made of the kit alone.
    """
    folder = name_of(path).split(".")[1]
    theirs = {name.split(".")[2] for name in imported(path) if name.startswith("tourstats.pages.")}
    below = {"kit": {"kit"}, "workbook": {"kit", "workbook"}}

    if name_of(path) != "pages.workbook.readme_pictures":
        assert theirs <= below.get(folder, theirs)


def test_altair_is_taken_from_the_kit_alone():
    """
    Whoever imports it first and directly waits for a parser of internet names.
    """
    pages = [path for path in PACKAGE.glob("pages/**/*.py") if path.stem != "light_altair"]

    assert [] == [name_of(path) for path in pages if any(name.startswith("altair") for name in imported(path))]
