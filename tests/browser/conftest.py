"""JupyterLab in a real browser: the notebooks as a person gets them, a diary of nobody's, and no network."""

import contextlib
import json
import os
import re
import shutil
import signal
import socket
import subprocess
import sys
import time
import urllib.request
from functools import partial
from pathlib import Path
from types import SimpleNamespace

import pytest

from tourstats import demo
from tourstats.diary import opened
from tourstats.pages import workbook

TOKEN = "only-for-this-test"  # noqa: S105  # of a server that lives for a minute
BROWSERS = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable")
FLAGS = [
    *("--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking"),
    *("--disable-component-update", "--disable-sync"),
    # No name is looked up, so that nothing off this machine can be reached.
    "--host-resolver-rules=MAP * ~NOTFOUND , EXCLUDE 127.0.0.1",
]
PATIENCE_S = 30
ELSEWHERE = re.compile(r"^(?!(https?|wss?)://127\.0\.0\.1[:/]|data:|blob:|about:)")
"""An address off this machine."""


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
def full_demo(tmp_path_factory):
    """The demo tour in a diary, made once."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("XDG_CACHE_HOME", str(tmp_path_factory.mktemp("cache")))
        return demo.path()


def free_port():
    with socket.socket() as held:
        held.bind(("127.0.0.1", 0))
        return held.getsockname()[1]


@pytest.fixture(scope="session")
def lab(tmp_path_factory, full_demo):
    """JupyterLab, started as the workbook starts it; `diary` is the file that its pages write into."""
    home = tmp_path_factory.mktemp("home")
    folder = workbook.laid_out(home / "workbook")
    diary = home / "diary.sqlite"
    shutil.copy(full_demo, diary)
    port = free_port()
    settings = {
        "TOURSTATS_DIARY": str(diary),
        "JUPYTER_CONFIG_PATH": str(workbook._quiet(home / "jupyter")),
        **{name: str(home / name.lower()) for name in ("XDG_DATA_HOME", "XDG_CONFIG_HOME", "XDG_CACHE_HOME")},
        **{
            name: str(home / name.lower()) for name in ("JUPYTER_DATA_DIR", "JUPYTER_CONFIG_DIR", "JUPYTER_RUNTIME_DIR")
        },
        "IPYTHONDIR": str(home / "ipython"),
    }
    command = [
        *(sys.executable, "-m", "jupyterlab", "--no-browser", "--allow-root", f"--ServerApp.root_dir={folder}"),
        *(f"--ServerApp.port={port}", "--ServerApp.port_retries=0", f"--IdentityProvider.token={TOKEN}"),
        "--LabApp.expose_app_in_browser=True",
    ]
    with (home / "lab.log").open("w") as log, subprocess.Popen(
        command, cwd=folder, env=os.environ | settings, stdout=log, stderr=log
    ) as server:  # fmt: skip
        made = SimpleNamespace(address=f"http://127.0.0.1:{port}", diary=diary, folder=folder, demo=full_demo)
        until(lambda: asked(made, "api/status"), "JupyterLab answers")
        yield made
        server.terminate()
        server.wait(20)


def asked(lab, what, method="GET"):
    """Ask the server; None while it does not answer."""
    request = urllib.request.Request(f"{lab.address}/{what}?token={TOKEN}", method=method)  # noqa: S310
    with contextlib.suppress(OSError), urllib.request.urlopen(request, timeout=5) as answer:  # noqa: S310
        body = answer.read()
        return json.loads(body) if body else {}
    return None


def until(said, what, patience_s=PATIENCE_S):
    """Wait until something is so, and return it."""
    end = time.monotonic() + patience_s
    while time.monotonic() < end:
        found = said()
        if found:
            return found
        time.sleep(0.1)
    raise AssertionError(f"Waited {patience_s} s in vain: {what}.")


@pytest.fixture
def fresh(lab):
    """The demo tour as it was at first, with no kernel running."""
    for session in asked(lab, "api/sessions") or []:
        asked(lab, f"api/sessions/{session['id']}", "DELETE")
    for side in ("-wal", "-shm"):
        Path(f"{lab.diary}{side}").unlink(missing_ok=True)
    shutil.copy(lab.demo, lab.diary)
    return lab


@pytest.fixture
def tab(browser, fresh):
    """Opens a notebook in a new tab; nothing off this machine can be reached, and none is asked for."""
    outside, contexts = [], []

    def open_(name, width=1280, height=900, *, dark=False, run=True):
        context = browser.new_context(viewport={"width": width, "height": height})
        contexts.append(context)
        page = alone(context, outside)
        page.goto(f"{fresh.address}/doc/tree/{name}?token={TOKEN}")
        page.wait_for_selector(".jp-Notebook .jp-Cell", timeout=PATIENCE_S * 1000)
        idle(fresh, name)
        if dark:
            command(page, "apputils:change-theme", theme="JupyterLab Dark")
        if run:
            run_all(page, name, fresh)
        return page

    yield open_
    for context in contexts:
        context.close()
    assert outside == []


def alone(context, outside):
    """Open a page whose requests off this machine are refused, and written down."""

    def refuse(route):
        outside.append(route.request.url)
        route.abort()

    context.route(ELSEWHERE, refuse)
    page = context.new_page()
    page.on("websocket", lambda one: outside.append(one.url) if ELSEWHERE.match(one.url) else None)
    return page


def command(page, name, **what):
    """Do what a menu of JupyterLab does; at the width of a telephone its menus are folded away."""
    page.evaluate("([name, what]) => window.jupyterapp.commands.execute(name, what)", [name, what])


def idle(lab, name):
    """Wait until the notebook has a kernel that rests."""

    def rests():
        sessions = [one for one in asked(lab, "api/sessions") or [] if one["path"] == name]
        return sessions and sessions[0]["kernel"]["execution_state"] == "idle"

    until(rests, f"the kernel of {name} rests")


def run_all(page, name, lab):
    """Run every cell, as the menu does, and wait for the end; again, if the page had not reached its kernel yet."""
    for _ in range(3):
        command(page, "notebook:run-all-cells")
        idle(lab, name)
        with contextlib.suppress(Exception):
            page.wait_for_function(RAN, timeout=10_000)
            return
    raise AssertionError(f"{name} did not run to its end in three attempts.")


RAN = """() => {
    const cells = [...window.jupyterapp.shell.currentWidget.content.model.sharedModel.cells];
    const code = cells.filter(cell => cell.cell_type === 'code');
    const failed = code.some(cell => cell.outputs.some(output => output.output_type === 'error'));
    const waits = /Loading widget|Error displaying widget/.test(document.querySelector('.jp-Notebook').textContent);
    return failed || (code.every(cell => cell.execution_count) && !waits);
}"""
"""Whether every cell was run, or one failed, and each form has found its kernel."""


@pytest.fixture
def book(fresh):
    """Reads the diary back."""

    def read():
        with opened(fresh.diary) as diary:
            return diary.read()

    return read


@pytest.fixture
def lab_calls(fresh):
    """What a test asks of the server itself."""

    def kill(name):
        """Kill the kernel of a notebook as a full memory would: without a word to it."""
        found = [one for one in asked(fresh, "api/sessions") if one["path"] == name]
        kernel = found[0]["kernel"]["id"]
        for place in Path("/proc").glob("[0-9]*/cmdline"):
            with contextlib.suppress(OSError):
                if kernel in place.read_text(encoding="utf-8", errors="replace"):
                    os.kill(int(place.parent.name), signal.SIGKILL)
                    return
        raise AssertionError(f"No process of kernel {kernel}.")

    return SimpleNamespace(kill=kill, until=until, idle=partial(idle, fresh), run_all=partial(run_all, lab=fresh))


@pytest.fixture
def served(browser, fresh, tmp_path):
    """Opens a notebook as a page of its own, as `tourstats workbook --page` serves it."""
    from tourstats.pages.served import serving  # noqa: PLC0415  # after the folders of nobody are set

    outside = []
    with contextlib.ExitStack() as until_the_end:

        def open_(name, width):
            page_name = name.removesuffix(".ipynb").partition("-")[2]
            made = until_the_end.enter_context(serving(page_name, fresh.diary))
            context = browser.new_context(viewport={"width": width, "height": 844})
            until_the_end.callback(context.close)
            page = alone(context, outside)
            page.goto(made.address)
            page.locator(".tourstats-form button").first.wait_for(timeout=PATIENCE_S * 1000)
            return page

        yield open_
    assert outside == []
