"""Links from page to page: where the pages are served by their names, and in JupyterLab by their files."""

from __future__ import annotations

import base64
import html
import os
from pathlib import Path
from urllib.parse import parse_qs, quote, urlencode

from tourstats.pages.kit.look import LIVE_ONLY
from tourstats.pages.kit.places import PAGES, chosen

SONG = "song"
"""The page of one song, once there is one."""


def served() -> bool:
    """Whether this is a page that is served, not a notebook."""
    return bool(os.environ.get(LIVE_ONLY))


def to_page(name: str, **asked: str) -> str:
    """Address of a page, ready for an attribute; what it is asked goes behind it.

    Examples
    --------
    >>> to_page("rotation")
    '04-rotation.ipynb'

    """
    page = chosen(name)
    if not served():
        return quote(page.notebook)
    return html.escape(f"/{page.name}" + (f"?{urlencode(asked)}" if asked else ""))


def to_song(title: str) -> str:
    """A title as HTML, linked to its page where there is one; always escaped.

    Examples
    --------
    >>> to_song("Ferry & Tide")
    'Ferry &amp; Tide'

    """
    words = html.escape(title)
    if not served() or not any(page.name == SONG for page in PAGES):
        return words
    return f'<a class="tourstats-song" href="{to_page(SONG, song=title)}">{words}</a>'


def download(path: Path, words: str, kind: str = "application/pdf") -> str:
    """A link that carries the file itself, as HTML, so that it works wherever the page is shown.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     _ = (Path(folder) / "set.txt").write_text("Ferry")
    ...     download(Path(folder) / "set.txt", "Take the set", "text/plain")
    '<a download="set.txt" href="data:text/plain;base64,RmVycnk=">Take the set</a>'

    """
    coded = base64.b64encode(path.read_bytes()).decode()
    return f'<a download="{html.escape(path.name)}" href="data:{kind};base64,{coded}">{html.escape(words)}</a>'


def asked(name: str) -> str:
    """What this page was asked behind its address; nothing in JupyterLab.

    Examples
    --------
    >>> asked("song")
    ''

    """
    return parse_qs(os.environ.get("QUERY_STRING", "")).get(name, [""])[0] if served() else ""
