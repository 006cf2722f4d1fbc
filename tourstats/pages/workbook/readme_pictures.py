"""The pictures of the README, drawn from the demo tour: `python -m tourstats.pages.workbook.readme_pictures FOLDER`.

Each picture carries a digest of what it was drawn from. A test compares these digests with those of today's demo tour,
so that a picture cannot go stale; the bytes may differ from machine to machine, for fonts and drawing engines do.
"""

from __future__ import annotations

import hashlib
import json
import re
import sys
import tempfile
import zlib
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from tourstats import demo
from tourstats.diary import opened
from tourstats.models import tonight
from tourstats.pages import sheet
from tourstats.pages.kit.charts import svg
from tourstats.pages.rotation import chart as drawn
from tourstats.pages.rotation import words as rotation
from tourstats.pages.show_day import words as show_day
from tourstats.tour import Tour

FOLDER = Path(__file__).parents[3] / "data" / "pictures"
SHEET, OUT, TOUR, DAY = "stage-sheet.png", "out-longest.svg", "tour.svg", "show-day.txt"
WORDS = "drawn from "
PPI = 72
_LINES = 60
"""Lines of the show day that the README shows."""


@dataclass(frozen=True)
class Picture:
    """A file's bytes, and the digest of what it was drawn from that stands in it."""

    data: bytes
    digest: str


def pictures(tables: Tour | None = None) -> dict[str, Picture]:
    """Draw every picture, by the name of its file; from the demo tour unless tables are given."""
    tables = demo_tables() if tables is None else tables
    brief = tonight.brief(tables, tables.next_show())
    png, words = sheet.picture(brief, ppi=PPI)
    day = "\n".join(show_day.as_text(brief).splitlines()[:_LINES]).rstrip() + "\n"
    return {
        SHEET: Picture(_with_words(png, WORDS + digest(words)), digest(words)),
        OUT: _chart(drawn.layoffs(rotation.out_and_not_run(tables))),
        TOUR: _chart(drawn.tour_picture(tables.plays, tables.shows, tables.songs)),
        DAY: Picture(day.encode(), digest(day)),
    }


def write(folder: str | Path) -> list[Path]:
    """Draw every picture into a folder, made if it is not there, and return the files."""
    place = Path(folder)
    place.mkdir(parents=True, exist_ok=True)
    made = pictures()
    for name, picture in made.items():
        (place / name).write_bytes(picture.data)
    return [place / name for name in made]


def digest(text: str) -> str:
    """What stands for a text.

    Examples
    --------
    >>> digest("Ferry")[:8]
    'be3152d0'

    """
    return hashlib.sha256(text.encode()).hexdigest()


def drawn_from(path: str | Path) -> str | None:
    """Digest of what a file was drawn from; for text, of the text itself; None if nobody wrote it down."""
    data = Path(path).read_bytes()
    if Path(path).suffix == ".txt":
        return digest(data.decode())
    found = re.search(WORDS.encode() + rb"([0-9a-f]{64})", data)
    return found[1].decode() if found else None


def demo_tables() -> Tour:
    """Everything of a demo tour that nobody has touched."""
    with tempfile.TemporaryDirectory() as folder, opened(Path(folder) / "demo.sqlite") as diary:
        demo.fill(diary)
        return diary.read()


def _chart(chart: Any) -> Picture:  # noqa: ANN401  # any Altair chart
    """A chart as SVG; names that Altair counts up in each program are no part of what it shows."""
    spec = json.dumps(_rounded(chart.to_dict()), sort_keys=True)
    found = digest(re.sub(r'"(view|param|concat|layer)_\d+"', r'"\1"', spec))
    return Picture(svg(chart).replace("</svg>", f"<!-- {WORDS}{found} --></svg>").encode(), found)


def _rounded(value: Any) -> Any:  # noqa: ANN401  # JSON
    """Numbers to six figures, since the last ones differ between processors."""
    if isinstance(value, float):
        return float(f"{value:.6g}")
    if isinstance(value, list):
        return [_rounded(item) for item in value]
    if isinstance(value, dict):
        return {name: _rounded(item) for name, item in value.items()}
    return value


def _with_words(png: bytes, words: str) -> bytes:
    """Put a comment into a PNG, before its end mark."""
    body = b"tEXt" + b"Comment\x00" + words.encode("latin-1")
    chunk = (len(body) - 4).to_bytes(4, "big") + body + zlib.crc32(body).to_bytes(4, "big")
    end = png.rindex(b"IEND") - 4
    return png[:end] + chunk + png[end:]


if __name__ == "__main__":
    if len(sys.argv) != 2:  # noqa: PLR2004  # the program and its folder
        sys.exit("Say where the pictures go: python -m tourstats.pages.workbook.readme_pictures FOLDER")
    write(sys.argv[1])
