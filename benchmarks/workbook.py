"""How long the workbook lets a person wait: from page to page, to the end of a notebook, until a line is saved.

    python -m benchmarks.workbook [RUNS]

In turn and in the same run, each beside what it is compared with: a page of Voilà with one empty cell, a notebook
whose only cell is `import pandas`, and a line of text that is answered and not saved. Needs a Chromium and the extra
`browser`. Prints three tables of medians; `workbook.md` holds the last figures.
"""

import os
import re
import shutil
import signal
import statistics
import subprocess
import sys
import tempfile
import time
from contextlib import contextmanager
from pathlib import Path

import nbformat
from nbclient import NotebookClient
from playwright.sync_api import sync_playwright

from benchmarks import tonight
from tests.browser.conftest import BROWSERS, FLAGS
from tests.browser.driving import DRAWN, until
from tourstats import demo
from tourstats.pages import workbook
from tourstats.pages.kit import finished
from tourstats.pages.kit.contents import PAGES

OURS = [sys.executable, "-m", "tourstats.cli", "workbook", "--no-browser"]
VOILA = [sys.executable, "-m", "voila", "--no-browser"]
BARE = "`import pandas` alone"
ECHO = """import ipywidgets as w
field, said = w.Textarea(description="What I found"), w.HTML()
def heard(change):
    if "\\n" in change["new"]:
        said.value, field.value = "Saved: " + change["new"], ""
field.observe(heard, "value")
box = w.VBox([field, said])
box.add_class("tourstats-form")
box"""
"""A form that answers Enter and saves nothing."""


@contextmanager
def address(command, settings):
    """Start a server, and give the address that it prints."""
    # Its words go to a file, so that it never waits for somebody who reads them.
    with tempfile.TemporaryFile("w+") as words, subprocess.Popen(  # noqa: S603  # our own words
        command, stdout=words, stderr=words, env=os.environ | settings, start_new_session=True
    ) as server:  # fmt: skip
        try:
            yield until(lambda: _printed(words), "the server says where it is")
        finally:
            # All of it at once, for a server of Jupyter's may keep itself for ever; its kernels end by themselves.
            os.killpg(server.pid, signal.SIGKILL)


def _printed(words):
    words.seek(0)
    found = re.search(r"http://(?:127\.0\.0\.1|localhost)(:\d+/\S*)\s", words.read())
    return found and f"http://127.0.0.1{found.group(1)}"


def one_cell(folder, name, source):
    """Write a notebook with one cell, and give its path."""
    path = folder / name / f"{name}.ipynb"
    path.parent.mkdir()
    kernel = {"kernelspec": {"name": "python3", "display_name": "Python 3"}}
    nbformat.write(nbformat.v4.new_notebook(cells=[nbformat.v4.new_code_cell(source)], metadata=kernel), path)
    return path


def drawn(page, place):
    """Go to a served page, and wait until it is there."""
    page.goto(place)
    page.wait_for_function(DRAWN)


def saved(browser, command, settings):
    """Seconds from Enter behind a line to the words that say it is saved, five times, the first line left out."""
    with address(command, settings) as place:
        page = browser.new_page()
        drawn(page, place)
        took = []
        for number in range(1, 7):
            page.get_by_label("What I found", exact=True).click()
            page.keyboard.type(f"{number} rushed in the intro")
            page.wait_for_timeout(500)  # as long as a finger takes to find the key
            start = time.perf_counter()
            page.keyboard.press("Enter")
            page.wait_for_function(
                "words => document.querySelector('.tourstats-form').textContent.includes(words)",
                arg=f"Saved: {number} ",
            )
            took.append(time.perf_counter() - start)
        page.close()
    return took[1:]


def run_all(notebook, folder, settings):
    """Seconds from a kernel that is ready to the end of the last cell."""
    client = NotebookClient(notebook, timeout=600, resources={"metadata": {"path": str(folder)}})
    with client.setup_kernel(env=os.environ | settings):
        start = time.perf_counter()
        for at, cell in enumerate(notebook.cells):
            client.execute_cell(cell, at)
        return time.perf_counter() - start


def from_page_to_page(browser, folder, runs, settings):
    """Time each page in turn on one server, the first round left out, beside a page of Voilà with one empty cell."""
    bare = "Voilà, one empty cell"
    with address([*VOILA, str(one_cell(folder, "empty", "1 + 1"))], {}) as empty, address(OURS, settings) as ours:
        page = browser.new_page(viewport={"width": 1280, "height": 900})
        drawn(page, ours)
        places = {bare: empty} | {one.title: re.sub(r"/\w*\?", f"/{one.name}?", ours) for one in PAGES}
        took = {name: [] for name in places}
        for _ in range(runs + 1):
            for name, place in places.items():
                page.wait_for_timeout(1000)  # as long as a person looks at least
                start = time.perf_counter()
                drawn(page, place)
                took[name].append(time.perf_counter() - start)
        page.close()
    show("from one page to the next, s", {name: times[1:] for name, times in took.items()}, dict.fromkeys(took, bare))


def one_line(browser, folder, diaries):
    """Time the save of one line on each diary, beside a form that saves nothing."""
    echo = one_cell(folder, "echo", ECHO)
    floor = "a form that saves nothing"
    took = {f"one line, {diary}": saved(browser, [*OURS, "--page", "after-the-show"], settings)
            for diary, settings in diaries.items()}  # fmt: skip
    took[floor] = saved(browser, [*VOILA, str(echo)], {})
    show("from Enter to the words, s", took, dict.fromkeys(took, floor))


def notebooks(folder, runs, diaries):
    """Time every notebook from top to bottom on each diary, in turn, beside one that only imports pandas."""
    books = {path.stem: nbformat.read(path, 4) for path in sorted(workbook.NOTEBOOKS.glob("[0-9]*.ipynb"))}
    books[BARE] = nbformat.read(one_cell(folder, "bare", "import pandas"), 4)
    took = {(name, diary): [] for name in books for diary in diaries}
    for _ in range(runs + 1):
        for name, notebook in books.items():
            for diary, settings in diaries.items():
                took[name, diary].append(run_all(notebook, folder, settings))
    for diary in diaries:
        times = {name: took[name, diary][1:] for name in books}
        show(f"from the first cell to the last, s: {diary}", times, dict.fromkeys(books, BARE))


def show(what, took, beside):
    """Print the median of each, and its ratio to what it is compared with."""
    medians = {name: statistics.median(times) for name, times in took.items()}
    print(f"| | median {what} | ratio |\n|---|---|---|")
    for name, median in medians.items():
        print(f"| {name} | {median:.2f} | {median / medians[beside[name]]:.1f} |", flush=True)
    print()


def main(runs):
    """Time everything on the demo tour and on a long one, and print the tables."""
    program = next(filter(None, map(shutil.which, BROWSERS)))
    with tempfile.TemporaryDirectory() as name, sync_playwright() as play:
        folder = Path(name)
        # Nobody's own folders: a notebook that was laid out once is not laid out again, as on every day but the first.
        own = {key: str(folder / key.lower()) for key in ("XDG_DATA_HOME", "XDG_CONFIG_HOME", "XDG_CACHE_HOME")}
        os.environ |= own
        short, long = folder / "short" / "diary.sqlite", folder / "long" / "diary.sqlite"
        for path in (short, long):
            path.parent.mkdir()
        shutil.copy(demo.path(), short)
        tonight.fill(long)
        diaries = {"demo tour": {"TOURSTATS_DIARY": str(short)},
                   f"{tonight.SHOWS} shows, {tonight.SONGS} songs": {"TOURSTATS_DIARY": str(long)}}  # fmt: skip
        browser = play.chromium.launch(executable_path=program, args=FLAGS)
        from_page_to_page(browser, folder, runs, diaries["demo tour"])
        one_line(browser, folder, diaries)
        browser.close()
        # Without the folder nothing is kept; with it, what the round that is left out worked out.
        again = {finished.FOLDER: str(folder / "finished")}
        notebooks(folder, runs, diaries | {f"{name}, again": settings | again for name, settings in diaries.items()})
    print(f"{runs} runs of each in turn; {os.cpu_count()} cores, load {os.getloadavg()[0]:.1f} at the end.")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 5)
