"""A laptop that sleeps, a page left without a word, a server that dies: what was typed is kept, and it is said."""

import contextlib
import os
import shutil
import signal
from types import SimpleNamespace

import pytest

from tests.browser.driving import DRAWN, FORM, PATIENCE_S, processes, until
from tests.browser.test_forms import KERNEL, draft
from tourstats.pages.workbook.served import serving

pytestmark = pytest.mark.browser

LEFT_S = 10
"""How long a page that nobody is connected to keeps its kernel here."""


@pytest.fixture(scope="module")
def own(tmp_path_factory, full_demo):
    """A server of one's own, to be put to sleep and killed."""
    home = tmp_path_factory.mktemp("left")
    with pytest.MonkeyPatch.context() as patch:
        for name in ("DATA", "CONFIG", "CACHE"):
            patch.setenv(f"XDG_{name}_HOME", str(home / name.lower()))
        shutil.copy(full_demo, home / "diary.sqlite")
        with serving("after-the-show", home / "diary.sqlite", left_s=LEFT_S) as made:
            yield SimpleNamespace(address=made.address, server=made.server, diary=home / "diary.sqlite")


@pytest.fixture
def page(browser, own):
    """The page that is opened after a show."""
    context = browser.new_context(viewport={"width": 1280, "height": 900})
    context.set_default_timeout(PATIENCE_S * 1000)
    opened = context.new_page()
    opened.goto(own.address)
    opened.wait_for_function(DRAWN)
    yield opened
    context.close()


def test_what_is_typed_while_the_server_sleeps_is_saved_when_it_wakes(page, own):
    """
    Stopped as by a lid that is closed, and started again: no reload, no word is missing.
    """
    field = page.locator(FORM).get_by_label("What I found", exact=True)
    own.server.send_signal(signal.SIGSTOP)
    field.fill("4 dragged in the")
    own.server.send_signal(signal.SIGCONT)
    until(lambda: draft(own) == "4 dragged in the", "the draft is kept")


def test_a_page_that_went_without_a_word_loses_its_kernel_and_not_its_draft(page, own):
    """
    As where a browser crashes: after the time nothing runs for it any more, and the line stands there again.
    """
    field = page.locator(FORM).get_by_label("What I found", exact=True)
    field.fill("5 late in the coda")
    until(lambda: draft(own) == "5 late in the coda", "the draft is kept")
    kernel = page.evaluate(KERNEL)
    with contextlib.suppress(Exception):  # the browser's own word for a page that is gone
        page.goto("chrome://crash")
    until(lambda: not processes(kernel), "the kernel has ended")
    again = page.context.new_page()
    again.goto(own.address)
    again.wait_for_function(DRAWN)

    assert "5 late in the coda" == again.locator(FORM).get_by_label("What I found", exact=True).input_value()


def test_a_server_that_was_killed_is_said(page, own):
    """
    One bar says so, and the browser keeps what is typed from then on.
    """
    os.kill(own.server.pid, signal.SIGKILL)
    page.locator(".tourstats-gone").get_by_text("Not connected. Your words are kept here; reload.").wait_for()
    page.locator(FORM).get_by_label("What I found", exact=True).fill("6 rushed")

    assert "6 rushed" in page.evaluate("JSON.stringify(localStorage)")
