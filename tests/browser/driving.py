"""What the browser tests share: asking the server, waiting until something is so, opening and running a notebook."""

import contextlib
import json
import re
import socket
import time
import urllib.request
from pathlib import Path

TOKEN = "only-for-this-test"  # noqa: S105  # of a server that lives for a minute
PATIENCE_S = 60
"""Far more than anything takes on an idle machine; a busy one gets the time that it needs."""
ELSEWHERE = re.compile(r"^(?!(https?|wss?)://127\.0\.0\.1[:/]|data:|blob:|about:)")
"""An address off this machine."""
CELLS = ".jp-Notebook .jp-Cell"
FORM = ".tourstats-form"

READY = """() => {
    const session = window.jupyterapp?.shell.currentWidget?.context?.sessionContext;
    const kernel = session?.session?.kernel;
    return Boolean(session?.isReady && kernel?.connectionStatus === 'connected' && kernel.status === 'idle');
}"""
"""Whether the page itself has reached its kernel: what is run before is lost without a word."""

RAN = """() => {
    const shown = window.jupyterapp.shell.currentWidget;
    const code = [...shown.content.model.sharedModel.cells].filter(cell => cell.cell_type === 'code');
    const failed = code.some(cell => cell.outputs.some(output => output.output_type === 'error'));
    const waits = /Loading widget|Error displaying widget/.test(document.querySelector('.jp-Notebook').textContent);
    const rests = shown.context.sessionContext.session?.kernel?.status === 'idle';
    return rests && (failed || (code.every(cell => cell.execution_count) && !waits));
}"""
"""Whether every cell was run, or one failed, and each form has found its kernel."""

DRAWN = """() => {
    const cells = document.querySelector('#rendered_cells');
    return cells && cells.offsetHeight > 0 && !document.querySelector('#loading')
        && cells.querySelector('.jp-OutputArea-output')
        && !cells.querySelector('[cell-index]:not(:has(.jp-Cell-outputWrapper))')
        && !/Loading widget|Error displaying widget/.test(cells.textContent)
        && !cells.querySelector('.vega-embed:empty');
}"""
"""Whether a served page is there, with its forms and charts."""


UNFOLD = "document.querySelectorAll('.tourstats-fold button').forEach(one => one.click())"
"""Opens every part that a telephone folds."""


def free_port():
    """A port that nothing listens on."""
    with socket.socket() as held:
        held.bind(("127.0.0.1", 0))
        return held.getsockname()[1]


def asked(lab, what, method="GET"):
    """Ask the server; None while it does not answer."""
    request = urllib.request.Request(f"{lab.address}/{what}?token={TOKEN}", method=method)  # noqa: S310  # the server that this test started
    with contextlib.suppress(OSError), urllib.request.urlopen(request, timeout=5) as answer:  # noqa: S310  # as above
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


def alone(context, outside):
    """Open a page that reaches nothing off this machine; what it asked for there is written down.

    The page's own policy refuses most of that before the browser asks: such refusals are written down as well.
    """

    def refuse(route):
        outside.append(route.request.url)
        route.abort()

    context.set_default_timeout(PATIENCE_S * 1000)
    context.route(ELSEWHERE, refuse)
    context.expose_binding("wasRefused", lambda _, what: outside.append(what))
    context.add_init_script(
        "document.addEventListener('securitypolicyviolation', one => window.wasRefused(one.blockedURI))"
    )
    page = context.new_page()
    page.on("websocket", lambda one: outside.append(one.url) if ELSEWHERE.match(one.url) else None)
    return page


def leave(page):
    """Leave a page, which ends its kernel; its last word is lost where requests are looked through."""
    page.context.unroute_all()
    page.goto("about:blank")


def ready(page):
    """Wait until the page has drawn its cells and reached its kernel."""
    page.wait_for_selector(CELLS)
    page.wait_for_function(READY)


def processes(kernel):
    """Numbers of the processes that are this kernel: by their command, or by the name that a forked one goes by."""
    found = set()
    for place in Path("/proc").glob("[0-9]*/cmdline"):
        with contextlib.suppress(OSError):
            name = place.with_name("comm").read_text(encoding="utf-8").strip()
            if name == kernel[:8] or kernel in place.read_text(encoding="utf-8", errors="replace"):
                found.add(int(place.parent.name))
    return found


MOST_TABS = 60
NAMED = """() => {
    const one = document.activeElement, label = one.labels?.[0];
    const words = one.tagName === 'BUTTON' ? one.title || one.textContent : label?.textContent;
    return (words || one.ariaLabel || '').trim();
}"""
"""What a person would call the thing at which the keyboard is."""
CHOSEN = r"() => document.activeElement.selectedOptions[0]?.text.replace(/\s/g, ' ')"


class Hand:
    """A person who uses the keyboard alone; each group of letters and each key that is not a letter counts as one."""

    def __init__(self, page):
        self.page, self.count = page, 0

    def press(self, key, times=1):
        """Press one key."""
        for _ in range(times):
            self.page.keyboard.press(key)
            self.count += 1

    def write(self, text):
        """Type a group of letters."""
        self.page.keyboard.type(text)
        self.count += 1

    def to(self, name):
        """Go on with Tab to the field or button of that name, past no more than a page has."""
        for _ in range(MOST_TABS):
            self.press("Tab")
            if self.page.evaluate(NAMED) == name:
                return
        raise AssertionError(f"Tab never came to {name!r}.")

    def choose(self, words):
        """Go down in a choice to these words."""
        for _ in range(MOST_TABS):
            if self.page.evaluate(CHOSEN) == words:
                return
            self.press("ArrowDown")
        raise AssertionError(f"There is no {words!r} to choose.")


def said(page, words):
    """Wait until the page says it."""
    page.locator(f"{FORM} .said", has_text=words).first.wait_for()


def rows(table, show, *columns):
    """These columns of one show, in order."""
    found = table[table.show_id == show]
    return list(found[list(columns)].itertuples(index=False, name=None))
