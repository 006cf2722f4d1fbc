"""JupyterLab in a real browser: the notebooks as a person gets them, a diary of nobody's, and no network."""

import contextlib
import os
import shutil
import subprocess
import sys
from pathlib import Path
from types import SimpleNamespace

import pytest

from tests.browser.driving import DRAWN, TOKEN, alone, asked, command, free_port, ready, run_all, until
from tourstats import demo
from tourstats.diary import opened
from tourstats.pages import workbook
from tourstats.pages.workbook.lab import quiet_settings
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
def lab(tmp_path_factory, full_demo):
    """JupyterLab, started as the workbook starts it; `diary` is the file that its pages write into."""
    home = tmp_path_factory.mktemp("home")
    folder = workbook.laid_out(home / "workbook")
    diary = home / "diary.sqlite"
    own = [f"XDG_{name}_HOME" for name in ("DATA", "CONFIG", "CACHE")]
    own += [f"JUPYTER_{name}_DIR" for name in ("DATA", "CONFIG", "RUNTIME")]
    settings = {
        **{name: str(home / name.lower()) for name in (*own, "IPYTHONDIR")},
        "TOURSTATS_DIARY": str(diary),
        "JUPYTER_CONFIG_PATH": str(quiet_settings(home / "jupyter")),
    }
    port = free_port()
    command_line = [
        *(sys.executable, "-m", "jupyterlab", "--no-browser", "--allow-root", f"--ServerApp.root_dir={folder}"),
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
def fresh(lab):
    """The demo tour and the notebooks as they were at first, with no kernel running."""
    for session in asked(lab, "api/sessions") or []:
        asked(lab, f"api/sessions/{session['id']}", "DELETE")
    until(lambda: asked(lab, "api/sessions") == [], "no kernel is left")
    for side in ("-wal", "-shm"):
        Path(f"{lab.diary}{side}").unlink(missing_ok=True)
    shutil.copy(lab.demo, lab.diary)
    for notebook in lab.folder.glob("*.ipynb"):
        notebook.unlink()
    workbook.laid_out(lab.folder)
    return lab


@pytest.fixture
def tab(browser, fresh):
    """Opens a notebook in a new tab; nothing off this machine can be reached, and none is asked for."""
    outside, contexts = [], []

    def open_(name, width=1280, height=900, *, dark=False):
        context = browser.new_context(viewport={"width": width, "height": height})
        contexts.append(context)
        page = alone(context, outside)
        page.goto(f"{fresh.address}/doc/tree/{name}?token={TOKEN}")
        ready(page)
        if dark:
            command(page, "apputils:change-theme", theme="JupyterLab Dark")
            page.wait_for_function("() => document.body.dataset.jpThemeLight === 'false'")
        run_all(page)
        return page

    yield open_
    for context in contexts:
        context.close()
    assert outside == []


@pytest.fixture
def book(fresh):
    """Reads the diary back."""

    def read():
        with opened(fresh.diary) as diary:
            return diary.read()

    return read


@pytest.fixture
def served(browser, fresh, tmp_path):
    """Opens a page as `tourstats workbook` serves it."""
    outside = []
    with contextlib.ExitStack() as until_the_end:
        servers = {}

        def open_(name, width=390, theme="light"):
            if theme not in servers:
                servers[theme] = until_the_end.enter_context(serving(name, fresh.diary, theme=theme))
            context = browser.new_context(viewport={"width": width, "height": 844})
            until_the_end.callback(context.close)
            page = alone(context, outside)
            _, _, token = servers[theme].address.partition("?")
            page.goto(f"{servers[theme].address.rpartition('/')[0]}/{name}?{token}")
            page.wait_for_function(DRAWN)
            return page

        yield open_
    assert outside == []
