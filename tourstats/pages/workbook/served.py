"""One notebook served as a page: no cells, one column, a token in the address, and nothing asked of a network.

The server is Voilà, run as a program of its own, with a template that leaves out the icon font it would fetch, keeps
fields off the edges of a telephone, and a policy that has the browser refuse every request off this machine.
"""

from __future__ import annotations

import json
import os
import secrets
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
import webbrowser
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import urlsplit

from tourstats.diary.place import home
from tourstats.pages.kit import look
from tourstats.pages.kit.whose import for_pages
from tourstats.pages.workbook.lab import NOTEBOOKS, WorkbookProblem, laid_out
from tourstats.pages.workbook.server import stop, stopped_when_asked
from tourstats.problems import listed

HERE = "127.0.0.1"
"""This machine only, unless asked otherwise."""
EVERYWHERE = ("0.0.0.0", "::")  # noqa: S104  # to find out that somebody asked for it
THEMES = ("light", "dark")
PATIENCE_S = 60.0
"""How long the server may take to start, in seconds."""
POLICY = (
    "default-src 'self' data: blob:; script-src 'self' 'unsafe-inline' 'unsafe-eval' blob:; "
    "style-src 'self' 'unsafe-inline'; connect-src 'self'; frame-ancestors 'self'"
)
"""What a page may load: only what this server gives. Voilà's own scripts stand in the page and evaluate."""

_TEMPLATE = """{%- extends 'voila/templates/lab/index.html.j2' -%}
{% import "spinner.macro.html.j2" as spinner %}
{%- block notebook_css -%}
{{ resources.include_js("static/voila-style.js") }}
{{ spinner.css() }}
{{ super.super() }}
<style>
.jp-mod-noOutputs.jp-mod-noInput, .celltag_in-jupyterlab { display: none }
html, body.jp-Notebook { height: auto; overflow: visible; padding: 0; background: var(--jp-layout-color0) }
#main, #jp-main-content-panel, #rendered_cells { position: static !important; height: auto !important;
  width: auto !important; overflow: visible !important; contain: none !important }
#rendered_cells code { overflow-wrap: anywhere }
#rendered_cells { box-sizing: border-box; max-width: 66rem; margin: 0 auto; padding: 12px 14px 4rem }
#rendered_cells .jp-Cell { padding: 0; margin: 0 0 .6rem }
#rendered_cells .jp-Cell-inputWrapper, #rendered_cells .jp-OutputArea-child { max-width: 100% }
#rendered_cells .jp-InputPrompt, #rendered_cells .jp-OutputPrompt, #rendered_cells .jp-Collapser { display: none }
#rendered_cells .jp-OutputArea-output { box-sizing: border-box; padding: 2px; min-width: 0; overflow-x: auto }
#rendered_cells .jp-RenderedHTMLCommon { font-size: 16px; line-height: 1.45; padding: 0 }
#rendered_cells .jp-RenderedHTMLCommon h1 { font-size: 1.7rem }
#rendered_cells .jp-RenderedHTMLCommon table { font-size: inherit }
#rendered_cells svg, #rendered_cells img { max-width: 100%; height: auto }
#rendered_cells :is(.vega-embed, figure) svg { max-width: none }
#rendered_cells .tourstats-form, #rendered_cells .widget-html-content { box-sizing: border-box; max-width: 100% }
#rendered_cells .widget-html-content { font-size: 16px; line-height: 1.4 }
#rendered_cells .tourstats-form > * { max-width: 100% }
#rendered_cells .widget-html { min-height: 0 }
</style>
{%- endblock notebook_css -%}
"""


@dataclass(frozen=True)
class Served:
    """A page that is being served: its address, token included, and the running server."""

    address: str
    server: subprocess.Popen[bytes]


def names() -> dict[str, Path]:
    """Notebooks by the name that a page is asked for: the file's, without its number.

    Examples
    --------
    >>> "rotation" in names()
    True

    """
    return {path.stem.partition("-")[2]: path for path in sorted(NOTEBOOKS.glob("[0-9]*.ipynb"))}


def serve(
    name: str, path: str | Path | None = None, *, address: str = HERE, theme: str = "light", browser: bool = True
) -> None:
    """Serve one notebook as a page, say where, and wait until it is stopped.

    Parameters
    ----------
    name
        Of the notebook, as `names` gives it; a few letters at its beginning are enough if they fit one.
    path
        Which diary, as for `workbook.whose`.
    address
        Where to listen: this machine only by default; 0.0.0.0 lets a telephone in the same network in.
    theme
        "light" or "dark".
    browser
        Whether to open a browser; else the address is only printed.

    Raises
    ------
    WorkbookProblem
        If there is no such page or theme, or the server does not start.

    """
    with stopped_when_asked(), serving(name, path, address=address, theme=theme) as page:
        print(f"The page is at {page.address}", _reach(page.address, address), "Ctrl-C stops it.", sep="\n", flush=True)  # noqa: T201  # the address is the result
        if browser:
            webbrowser.open(page.address)
        page.server.wait()


@contextmanager
def serving(
    name: str, path: str | Path | None = None, *, address: str = HERE, theme: str = "light"
) -> Iterator[Served]:
    """Start the server, wait until it answers, and stop it at the end of the block; as `serve` otherwise."""
    if theme not in THEMES:
        raise WorkbookProblem(f"The theme of a page is one of {', '.join(THEMES)}; it was {theme!r}.")
    notebook = _chosen(name)
    folder = laid_out(home() / "workbook")
    token, port = secrets.token_urlsafe(24), _free_port(address)
    command = _command(folder / notebook.name, address, port, theme)
    server = subprocess.Popen(command, cwd=folder, env=_settings(folder, path, token))  # noqa: S603  # our own words
    host = HERE if address in EVERYWHERE else address
    place = f"http://[{host}]:{port}/" if ":" in host else f"http://{host}:{port}/"
    try:
        _wait(server, place)
        yield Served(f"{place}?token={token}", server)
    finally:
        stop(server)


def _chosen(name: str) -> Path:
    """The notebook of that name, or of the only name that begins so."""
    there = names()
    fits = [path for known, path in there.items() if known.startswith(name)] if name else []
    if name in there or len(fits) == 1:
        return there.get(name) or fits[0]
    raise WorkbookProblem(f'There is no page "{name}". The pages: {listed(list(there), most=20)}.')


def _command(notebook: Path, address: str, port: int, theme: str) -> list[str]:
    return [
        *(sys.executable, "-m", "voila", str(notebook), "--no-browser", f"--port={port}", f"--Voila.ip={address}"),
        *("--Voila.auto_token=True", "--Voila.port_retries=0", "--template=tourstats", f"--theme={theme}"),
        "--Voila.log_level=ERROR",
    ]


def _settings(folder: Path, path: str | Path | None, token: str) -> dict[str, str]:
    """The server's environment. The token goes in here, since everybody on the machine can read a command line."""
    own = folder.parent / "page"
    template = own / "voila" / "templates" / "tourstats"
    template.mkdir(parents=True, exist_ok=True)
    (template / "conf.json").write_text(json.dumps({"base_template": "lab"}), encoding="utf-8")
    (template / "index.html.j2").write_text(_TEMPLATE, encoding="utf-8")
    headers = {"Content-Security-Policy": POLICY, "Referrer-Policy": "no-referrer"}
    config = {
        "Voila": {"tornado_settings": {"headers": headers}},
        "VoilaConfiguration": {"file_allowlist": [], "show_tracebacks": False},
    }
    (own / "voila.json").write_text(json.dumps(config), encoding="utf-8")
    before = os.environ.get("JUPYTER_PATH")
    made = os.environ | {
        "JUPYTER_PATH": os.pathsep.join([str(own), *([before] if before else [])]),
        "JUPYTER_CONFIG_PATH": str(own),
        "JUPYTER_TOKEN": token,
        look.LIVE_ONLY: "1",
    }
    return made | for_pages(path)


def _free_port(address: str) -> int:
    """A port that nothing listens on."""
    family = socket.AF_INET6 if ":" in address else socket.AF_INET
    try:
        with socket.socket(family) as probe:
            probe.bind((address, 0))
            return int(probe.getsockname()[1])
    except OSError as error:
        raise WorkbookProblem(
            f"This machine has no address {address} ({error.strerror}). Leave --address out for this machine only, or "
            "say 0.0.0.0 for the network it is in."
        ) from error


def _wait(server: subprocess.Popen[bytes], place: str) -> None:
    """Wait until the server answers; without its token it says no, and that is an answer."""
    until = time.monotonic() + PATIENCE_S
    while time.monotonic() < until:
        if server.poll() is not None:
            break
        try:
            with urllib.request.urlopen(f"{place}login", timeout=5):  # noqa: S310  # our own server
                return
        except urllib.error.HTTPError as answer:
            answer.close()
            return
        except OSError:
            time.sleep(0.1)
    raise WorkbookProblem(
        "The page did not start; what its server said stands above. Open the notebooks instead: `tourstats workbook`."
    )


def _reach(page: str, address: str) -> str:
    """Who can open it."""
    if address == HERE:
        return "Only this machine can open it."
    return (
        "Whoever is in the same network and has the whole address can open it and change your diary; the way there is "
        f"not encrypted. On a telephone, put this machine's name in the place of {urlsplit(page).hostname}."
    )
