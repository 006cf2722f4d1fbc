"""Links from page to page: where the pages are served by their names, and in JupyterLab by their files."""

from __future__ import annotations

import base64
import html
import os
import re
from functools import lru_cache
from pathlib import Path
from typing import Self
from urllib.parse import parse_qs, quote, urlencode

import pandas as pd

from tourstats.diary import opened
from tourstats.pages.kit.contents import chosen
from tourstats.pages.kit.look import LIVE_ONLY
from tourstats.pages.kit.whose import whose

SONG = "song"
"""The page of one song."""
_LONG_WORD, _BREAK = re.compile(r"[^\s;&<>-]{12}(?=[^\s;&<>-]{12})"), r"\g<0><wbr>"
"""Where a word of 24 letters and more may be broken: a telephone is narrower than some titles."""
_AWAY = r"https?://[^\s<>\"'`]*[^\s<>\"'`.,;:!?)]"
_ADDRESS = re.compile(f"({_AWAY})")
_LETTER = re.compile(r"[^\W\d_]")
_MARKS = re.compile(r"[\\`*_\[\]|~]")
"""What means something else in prose: in a title it is spelt out."""


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
    """A title as HTML, on a served page linked to its own page; always escaped.

    Examples
    --------
    >>> to_song("Ferry & Tide")
    'Ferry &amp; Tide'

    """
    words = html.escape(title)
    return f'<a class="tourstats-song" href="{to_page(SONG, song=title)}">{words}</a>' if served() else words


def linked(text: str, *, in_prose: bool = False) -> str:
    """A sentence as HTML, escaped; an address is a link, and on a served page each title of the repertoire too.

    A title without a letter is linked only where it stands by itself, as in a table: in a sentence it is a number.

    Parameters
    ----------
    text
        As it was typed or said.
    in_prose
        Whether it is the prose of a notebook, whose marks stay what they are.

    Examples
    --------
    >>> linked("Ferry & Tide came in.")
    'Ferry &amp; Tide came in.'

    """
    # Every other part is an address or a title.
    wordless = not _LETTER.search(text)
    parts = [text] if wordless else (_titles() if served() else _ADDRESS).split(text)
    pieces = []
    for at, part in enumerate(parts):
        if at % 2:
            link = _away(part) if _ADDRESS.fullmatch(part) else to_song(part)
            pieces.append(_MARKS.sub(lambda mark: f"&#{ord(mark[0])};", link))
        elif in_prose:
            pieces.append(re.sub(r"([\[\]])", r"\\\1", html.escape(part, quote=False)))
        else:
            pieces.append(_LONG_WORD.sub(_BREAK, html.escape(part)))
    return "".join(pieces)


def _away(address: str) -> str:
    """A link off this machine, opened beside the page, which tells it nothing."""
    words = html.escape(address)
    return f'<a href="{words}" target="_blank" rel="noopener noreferrer">{words}</a>'


def _titles() -> re.Pattern[str]:
    """What finds the titles of the diary that the pages show, as it is now."""
    found = whose()
    return _found_by(found.path, found.written)


@lru_cache(maxsize=1)
def _found_by(path: Path, _: object) -> re.Pattern[str]:
    with opened(path, make=False) as diary:
        titles = [title for title in diary.songs().song if any(map(str.isalpha, title))]
    longest = sorted(titles, key=len, reverse=True)
    any_title = "|".join(map(re.escape, longest))
    return re.compile(rf"({_AWAY}|(?<!\w)(?:{any_title})(?!\w))") if longest else _ADDRESS


class Heard(str):
    """Words with the address at which the moment of a recording that they tell of is heard; escape them as any."""

    __slots__ = ("address",)
    address: str

    def __new__(cls, words: str, show_id: object, at_s: float) -> Self:
        """Give words an address.

        Examples
        --------
        >>> Heard("1:23", 4, 83.0).link("Hear it"), Heard("1:23", 4, 83.0)
        ('', '1:23')

        """
        made = super().__new__(cls, words)
        made.address = to_page("listening", show=str(show_id), at=str(at_s)) if served() else ""
        return made

    def link(self, words: str) -> str:
        """As a link with these words; nothing where there is no page to go to."""
        return f'<a href="{self.address}">{html.escape(words)}</a>' if self.address else ""


def hear(rows: pd.DataFrame) -> pd.Series:
    """A cell a row that leads to the moment, from `show_id` and `at_s`; missing where none was marked."""
    made = [
        Heard(moment(float(at)), show, float(at)) if pd.notna(at) else None
        for show, at in zip(rows.show_id, rows.at_s, strict=True)
    ]
    return pd.Series(made, index=rows.index, dtype=object)


def with_hear(table: pd.DataFrame, rows: pd.DataFrame) -> pd.DataFrame:
    """A table with a last column that leads to the moments of its rows, if any of them has one."""
    return table.assign(hear=hear(rows)) if rows.at_s.notna().any() else table


def moment(seconds: float) -> str:
    """A moment of a recording as people read it.

    Examples
    --------
    >>> moment(83.4), moment(3723)
    ('1:23', '1:02:03')

    """
    whole = int(seconds)
    hours, rest = divmod(whole, 3600)
    return f"{hours}:{rest // 60:02d}:{rest % 60:02d}" if hours else f"{rest // 60}:{rest % 60:02d}"


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
