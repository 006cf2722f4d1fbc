"""All pages served at one address: a bar of links, a token in the address, and nothing asked of a network.

The server is a program of its own, `pages_server`; here it is started, waited for, told to whom it may listen, and
stopped.
"""

from __future__ import annotations

import io
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
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path

from tourstats.diary.store.place import home
from tourstats.pages.kit import finished, look
from tourstats.pages.kit.contents import FIRST, chosen
from tourstats.pages.kit.whose import for_pages
from tourstats.pages.workbook import telephone
from tourstats.pages.workbook.lab import WorkbookProblem, laid_out, with_share
from tourstats.pages.workbook.loaded import PROGRAM
from tourstats.pages.workbook.server import stop, stopped_when_asked

HERE = "127.0.0.1"
"""This machine only, unless asked otherwise."""
NETWORK = "0.0.0.0"  # noqa: S104  # for who asks for it
EVERYWHERE = (NETWORK, "::")
THEMES = ("light", "dark")
LEFT_S = 600
"""How long a page that nobody is connected to keeps its kernel, in seconds; drafts are in the diary by then."""
PATIENCE_S = 180.0
"""How long the server may take to start, in seconds."""
PORT = 8866
"""Where the pages are for a telephone, if nothing else is there: it finds them again tomorrow."""


@dataclass(frozen=True)
class Served:
    """Pages that are being served: the address of one, token included, the server, and the way in for a telephone."""

    address: str
    server: subprocess.Popen[bytes]
    telephone: str = ""


def serve(
    name: str = FIRST,
    path: str | Path | None = None,
    *,
    address: str = HERE,
    theme: str = "light",
    browser: bool = True,
    phone: bool = False,
) -> None:
    """Serve the pages, say where, open one, and wait until it is stopped.

    Parameters
    ----------
    name
        Of the page to open, as `kit.contents.PAGES` has it; a few letters at its beginning are enough if they fit one.
    path
        Which diary, as for `workbook.whose`.
    address
        Where to listen: this machine only by default; 0.0.0.0 lets the network in.
    theme
        "light" or "dark", where the browser has not chosen.
    browser
        Whether to open a browser; else the address is only printed.
    phone
        Whether a telephone may come: then the way in is printed, also as a picture for its camera.

    Raises
    ------
    PageProblem, WorkbookProblem
        If there is no such page or theme, or the server does not start.

    """
    address = NETWORK if phone and address == HERE else address
    with stopped_when_asked(), serving(name, path, address=address, theme=theme, phone=phone) as page:
        said = [f"The pages are at {page.address}", _reach(address), *_way_in(page), "Ctrl-C stops them."]
        print(*said, sep="\n", flush=True)  # noqa: T201  # the address is the result
        if browser:
            webbrowser.open(page.address)
        page.server.wait()


@contextmanager
def serving(
    name: str = FIRST,
    path: str | Path | None = None,
    *,
    address: str = HERE,
    theme: str = "light",
    phone: bool = False,
    left_s: int = LEFT_S,
) -> Iterator[Served]:
    """Start the server, wait until it answers, and stop it at the end of the block; as `serve` otherwise.

    `left_s` is how long a page that nobody is connected to keeps its kernel, in seconds.
    """
    if theme not in THEMES:
        raise WorkbookProblem(f"The theme of a page is one of {', '.join(THEMES)}; it was {theme!r}.")
    first = chosen(name)
    folder = laid_out(home() / "workbook")
    latest = folder.parent / "page" / "port"
    token, port = secrets.token_urlsafe(24), _free_port(address, PORT if phone else _latest(latest))
    host = HERE if address in EVERYWHERE else address
    place = f"http://[{host}]:{port}/" if ":" in host else f"http://{host}:{port}/"
    outside = f"http://{telephone.own_address() if address in EVERYWHERE else host}:{port}/" if phone else ""
    settings = _settings(folder, path, token, left_s) | ({telephone.OPEN: outside} if phone else {})
    server = subprocess.Popen(_command(folder, address, port, theme), cwd=folder, env=settings)  # noqa: S603  # our own
    try:
        _wait(server, place)
        latest.write_text(str(port), encoding="ascii")
        yield Served(f"{place}{first.name}?token={token}", server, _link(outside, token))
    finally:
        stop(server)


def _link(outside: str, token: str) -> str:
    return f"{outside}telephone/{telephone.code(token)}" if outside else ""


def _command(folder: Path, address: str, port: int, theme: str) -> list[str]:
    return [
        *(sys.executable, "-m", PROGRAM, str(folder), "--no-browser"),
        *(f"--port={port}", f"--Voila.ip={address}", "--Voila.auto_token=True", "--Voila.port_retries=0"),
        *("--template=tourstats", f"--theme={theme}", "--Voila.log_level=ERROR"),
    ]


def _settings(folder: Path, path: str | Path | None, token: str, left_s: int = LEFT_S) -> dict[str, str]:
    """The server's environment. The token goes in here, since everybody on the machine can read a command line."""
    own = folder.parent / "page"
    own.mkdir(parents=True, exist_ok=True)
    config = {
        "Voila": {
            "tornado_settings": {
                "headers": {"Referrer-Policy": "no-referrer"},
                "ws_ping_interval": 30_000,
                "ws_ping_timeout": 30_000,
            }
        },
        "VoilaConfiguration": {"file_allowlist": [], "show_tracebacks": False, "progressive_rendering": True},
        "MappingKernelManager": {"cull_idle_timeout": left_s, "cull_interval": max(1, min(60, left_s))},
    }
    (own / "voila.json").write_text(json.dumps(config), encoding="utf-8")
    environment = os.environ | {
        "JUPYTER_PATH": with_share(),
        "JUPYTER_CONFIG_PATH": str(own),
        "JUPYTER_TOKEN": token,
        telephone.SECRETS: str(own),
        look.LIVE_ONLY: "1",
        finished.FOLDER: str(finished.place()),
    }
    return environment | for_pages(path)


def _latest(port: Path) -> int:
    """The port of the last time, so that a tab that was left open, and what it keeps, is found again."""
    with suppress(OSError, ValueError):
        return int(port.read_text(encoding="ascii"))
    return 0


def _free_port(address: str, wanted: int = 0) -> int:
    """A port that nothing listens on: the one wanted, if that can be."""
    family = socket.AF_INET6 if ":" in address else socket.AF_INET
    with suppress(OSError, OverflowError), socket.socket(family) as probe:
        if os.name == "posix":  # a server that has just ended holds its port for a minute
            probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        probe.bind((address, wanted))
        return int(probe.getsockname()[1])
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
        "The pages did not start; what their server said stands above. Open the notebooks instead: `tourstats lab`."
    )


def _reach(address: str) -> str:
    """Who can open them."""
    return "Only this machine can open them." if address == HERE else telephone.SAFETY


def _way_in(page: Served) -> list[str]:
    """The way in for a telephone, in letters and as a picture."""
    if not page.telephone:
        return []
    drawn = io.StringIO()
    telephone.picture(page.telephone).terminal(drawn, compact=True, border=2)
    minutes = telephone.GOOD_S // 60
    said = f"On a telephone in the same network, within {minutes} minutes (then take the new code from the page Today):"
    return [said, page.telephone, drawn.getvalue()]
