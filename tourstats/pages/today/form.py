"""Today as a page: three lines, the ways on as large as a thumb, what is open, and the way in for a telephone."""

from __future__ import annotations

import base64
import html
import io
from datetime import datetime
from pathlib import Path
from urllib.parse import parse_qsl

from tourstats.pages.kit import links
from tourstats.pages.kit.look import WAYS
from tourstats.pages.kit.whose import Whose, whose
from tourstats.pages.kit.widgets import plain
from tourstats.pages.song.words import ways_to_begin
from tourstats.pages.today.words import Now, now
from tourstats.pages.workbook import telephone
from tourstats.tour import Tour


class Today:
    """The page, made anew each time it is shown."""

    def __init__(self, path: str | Path | None = None, at: datetime | None = None) -> None:
        self.found = whose(path)
        tables = self.found.tour()
        self.now = now(tables, at or _clock(self.found, tables))

    def _repr_html_(self) -> str:
        demo = f"<p><em>{html.escape(plain(self.found.words))}</em></p>" if self.found.demo else ""
        first = _way("start", "Start with your own tour") if self.found.demo and not self.found.copy else ""
        return f"{WAYS}<div class='tourstats-today'>{as_html(self.now)}{first}{demo}{_telephone()}</div>"

    def __repr__(self) -> str:
        """The lines without a browser."""
        test = [f"To be asked today: {self.now.test}"] if self.now.test else []
        return "\n".join([*self.now.lines, *test, *self.now.open])


def as_html(today: Now) -> str:
    """Everything typed escaped."""
    first, *others = today.lines
    lines = [f"<p class='first'>{links.linked(first)}</p>", *(f"<p>{links.linked(line)}</p>" for line in others)]
    ways = [_way(page, words, main=not at) for at, (page, words) in enumerate(today.ways)]
    missing = links.to_page("corrections", missing="1")
    waits = [
        f"<a href='{missing}'>{html.escape(one)}</a>" if " without " in one else links.linked(one) for one in today.open
    ]
    rest = f"<p>Open: {'; '.join(waits)}.</p>" if waits else ""
    test = ways_to_begin(today.test) if today.test else ""
    return f"{''.join(lines)}<p class='ways'>{''.join(ways)}</p>{test}{rest}"


def _way(page: str, words: str, *, main: bool = False) -> str:
    kind = "way main" if main else "way"
    name, _, asked = page.partition("?")
    return f"<a class='{kind}' href='{links.to_page(name, **dict(parse_qsl(asked)))}'>{html.escape(words)}</a>"


def _clock(store: Whose, tables: Tour) -> datetime | None:
    """For the demo tour it is the afternoon of its next show; else the clock on the wall."""
    ahead = tables.next_show()
    if not store.demo or ahead is None:
        return None
    day = tables.shows.date[tables.shows.show_id == ahead].iloc[0]
    return datetime(day.year, day.month, day.day, 16)  # noqa: DTZ001  # the clock on the wall


def _telephone() -> str:
    """The way in for a telephone, where one may come."""
    address = telephone.link()
    if not address:
        return ""
    drawn = io.BytesIO()
    telephone.picture(address).save(drawn, kind="svg", scale=5, dark="#000", light="#fff")
    picture = base64.b64encode(drawn.getvalue()).decode()
    minutes = telephone.GOOD_S // 60
    return (
        "<details class='telephone'><summary>To the telephone</summary>"
        f"<p><img alt='The address as a picture for the camera' src='data:image/svg+xml;base64,{picture}'></p>"
        f"<p>Within {minutes} minutes, in the same network: <code>{html.escape(address)}</code></p>"
        f"<p>{html.escape(telephone.SAFETY)}</p></details>"
    )
