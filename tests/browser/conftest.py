"""The pages and JupyterLab in a real browser: as a person gets them, a diary of nobody's, and no network.

One server of the pages and one browser serve all tests: what a test writes goes into a diary that is laid anew for it.
"""

import contextlib
import os
import shutil
import sqlite3
import subprocess
import sys
from types import SimpleNamespace

import pytest

from tests.browser.driving import DRAWN, RAN, TOKEN, UNFOLD, alone, asked, free_port, leave, ready, until
from tourstats import demo
from tourstats.diary import opened
from tourstats.pages import workbook
from tourstats.pages.kit.look import PICTURES_THERE
from tourstats.pages.workbook.lab import quiet_settings, with_share
from tourstats.pages.workbook.loaded import LAB, PROGRAM
from tourstats.pages.workbook.served import serving
from tourstats.pages.workbook.server import stop

BROWSERS = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable")
FLAGS = [
    *("--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking"),
    *("--disable-component-update", "--disable-sync"),
    # No name is looked up, so that nothing off this machine can be reached.
    "--host-resolver-rules=MAP * ~NOTFOUND , EXCLUDE 127.0.0.1",
]


def missing(word):
    """Skip with a clear word; where every check has to run, a skip is a failure."""
    if os.environ.get("CI"):
        pytest.fail(f"{word} In the full check the browser tests have to run.")
    pytest.skip(word)


@pytest.fixture(scope="session")
def program():
    """The system's own browser."""
    found = next(filter(None, map(shutil.which, BROWSERS)), None)
    if found is None:
        missing("There is no Chromium here: install it with `apt-get install chromium`.")
    return found


@pytest.fixture(scope="session")
def browser(program):
    """One browser for all tests."""
    try:
        from playwright.sync_api import sync_playwright  # noqa: PLC0415  # only in the extra `browser`
    except ImportError:
        missing("There is no Playwright here: install the extra `browser`.")
    with sync_playwright() as play:
        opened_ = play.chromium.launch(executable_path=program, args=FLAGS)
        yield opened_
        opened_.close()


@pytest.fixture(scope="session")
def axe():
    """The checker of accessibility."""
    try:
        from axe_playwright_python.sync_playwright import Axe  # noqa: PLC0415  # only in the extra `browser`
    except ImportError:
        missing("There is no checker of accessibility here: install the extra `browser`.")
    return Axe()


@pytest.fixture(scope="session")
def full_demo(tmp_path_factory):
    """The demo tour in a diary, made once."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("XDG_CACHE_HOME", str(tmp_path_factory.mktemp("cache")))
        return demo.path()


@pytest.fixture(scope="session")
def site(tmp_path_factory, full_demo):
    """All pages at one address, as `tourstats workbook` serves them; `diary` is the file that they write into."""
    home = tmp_path_factory.mktemp("site")
    with pytest.MonkeyPatch.context() as patch, contextlib.ExitStack() as until_the_end:
        for name in ("DATA", "CONFIG", "CACHE"):
            patch.setenv(f"XDG_{name}_HOME", str(home / name.lower()))
        shutil.copy(full_demo, home / "diary.sqlite")  # one that is named has to be there
        made = until_the_end.enter_context(serving("today", home / "diary.sqlite"))
        address, _, token = made.address.partition("?token=")
        yield SimpleNamespace(
            address=address.rpartition("/")[0], token=token, diary=home / "diary.sqlite", demo=full_demo
        )


@pytest.fixture
def fresh(site):
    """The demo tour as it was at first."""
    laid(site)
    return site


def laid(place):
    """Lay the demo tour anew where pages write, by SQLite's own copy: a page that still reads there would else take the
    new file's log away when it closes.
    """
    with (
        contextlib.closing(sqlite3.connect(place.demo)) as demo_tour,
        contextlib.closing(sqlite3.connect(place.diary, timeout=60)) as diary,
    ):
        demo_tour.backup(diary)


@pytest.fixture
def book(fresh):
    """Reads the diary back."""

    def read():
        with opened(fresh.diary) as diary:
            return diary.read()

    return read


@pytest.fixture
def served(browser, fresh):
    """Opens a page as `tourstats workbook` serves it; nothing off this machine can be reached or is asked for."""
    outside, pages = [], []

    def open_(name, width=390, theme="light", height=844, *, folded=False):
        context = browser.new_context(viewport={"width": width, "height": height}, accept_downloads=True)
        px = str(max(320, min(980, width - 48)))
        context.add_cookies([{"name": "tourstats-across", "value": px, "url": fresh.address}])
        page = alone(context, outside)
        pages.append(page)
        asked_ = "&" if "?" in name else "?"
        page.goto(f"{fresh.address}/{name}{asked_}token={fresh.token}&theme={theme}")
        page.wait_for_function(DRAWN)
        if not folded:
            page.evaluate(UNFOLD)
        return page

    yield open_
    for page in pages:
        leave(page)
        page.context.close()
    assert outside == []


@pytest.fixture(scope="session")
def lab(tmp_path_factory, full_demo):
    """JupyterLab, started as the workbook starts it; `diary` is the file that its pages write into."""
    home = tmp_path_factory.mktemp("home")
    folder = workbook.laid_out(home / "workbook")
    diary = home / "diary.sqlite"
    shutil.copy(full_demo, diary)
    own = [f"XDG_{name}_HOME" for name in ("DATA", "CONFIG", "CACHE")]
    own += [f"JUPYTER_{name}_DIR" for name in ("DATA", "CONFIG", "RUNTIME")]
    settings = {
        **{name: str(home / name.lower()) for name in (*own, "IPYTHONDIR")},
        "TOURSTATS_DIARY": str(diary),
        "JUPYTER_CONFIG_PATH": str(quiet_settings(home / "jupyter")),
        "JUPYTER_PATH": with_share(),
        PICTURES_THERE: "1",
    }
    port = free_port()
    command_line = [
        *(sys.executable, "-m", PROGRAM, LAB, "--no-browser", "--allow-root", f"--ServerApp.root_dir={folder}"),
        *(f"--ServerApp.port={port}", "--ServerApp.port_retries=0", f"--IdentityProvider.token={TOKEN}"),
        "--LabApp.expose_app_in_browser=True",
    ]
    with (home / "lab.log").open("w") as log, subprocess.Popen(
        command_line, cwd=folder, env=os.environ | settings, stdout=log, stderr=log
    ) as server:  # fmt: skip
        made = SimpleNamespace(address=f"http://127.0.0.1:{port}", diary=diary, folder=folder, demo=full_demo)
        until(lambda: asked(made, "api/status"), "JupyterLab answers")
        yield made
        stop(server)


@pytest.fixture
def tab(browser, lab):
    """Opens a notebook in a new tab, where it runs; nothing off this machine can be reached, and none is asked for."""
    outside, contexts = [], []

    def open_(name, width=1280, height=900):
        context = browser.new_context(viewport={"width": width, "height": height})
        contexts.append(context)
        page = alone(context, outside)
        page.goto(f"{lab.address}/doc/tree/{name}?token={TOKEN}")
        ready(page)
        page.wait_for_function(RAN)  # by itself
        return page

    yield open_
    for context in contexts:
        context.close()
    for session in asked(lab, "api/sessions") or []:
        asked(lab, f"api/sessions/{session['id']}", "DELETE")
    assert outside == []
