"""Folder listings of recordings: each file that is named as a song, under the day of its name or of its folder."""

from __future__ import annotations

import re
from datetime import date

from tourstats.reading.cells import RECORDED
from tourstats.reading.days import day_in
from tourstats.reading.workbooks import Cell, Sheet

_FILE = re.compile(rf"(?P<name>[^/\\]+?){RECORDED}\s*$", re.IGNORECASE)
_BEFORE = re.compile(
    r"^.*?\d{1,2}:\d{2}(?::\d{2})?\s+(?:[\d.,]{4,}\s+)?|^[-rwxd]{10}\s.*?\s(?:\d{1,2}:\d{2}|\d{4})\s+|^\W+"
)
_TITLE = re.compile(
    r"^(?P<head>.*?)(?:^|[\s_-])(?:track\s*)?(?P<number>\d{1,3})(?:[\s_.-]+)(?P<title>\S.*)$", re.IGNORECASE
)
_SHARE = 0.4
_LONGEST = 300
"""Letters of a line that are looked at."""


def is_listing(text: str) -> bool:
    r"""Whether a good part of the lines of a text ends in the name of a recording.

    Examples
    --------
    >>> is_listing("01 Quill.wav\n02 Tin Moth.wav"), is_listing("Quill\nTin Moth")
    (True, False)

    """
    lines = [line[:_LONGEST] for line in text.splitlines() if line.strip()]
    if sum(line.count(",") > 2 or line.count(";") > 1 for line in lines) > 0.8 * len(lines):
        return False
    return bool(lines) and sum(_FILE.search(line) is not None for line in lines) >= max(2, _SHARE * len(lines))


def listing(text: str) -> Sheet:
    r"""Table of the recordings of a listing: day, what else the name of the folder or the file says, number, title.

    Examples
    --------
    >>> sheet = listing("Directory of E:/2031-03-04 Ostby\n04/03/2031  20:00  56,623 01 Tin Moth.wav")
    >>> [sheet.cells[2, column] for column in range(1, 5)]
    [datetime.date(2031, 3, 4), 'Ostby', 1.0, 'Tin Moth']

    """
    cells: dict[tuple[int, int], Cell] = {
        (1, at): name for at, name in enumerate(("date", "city", "position", "song"), start=1)
    }
    folder: tuple[date | None, str] = (None, "")
    row = 1
    for line in text.splitlines():
        file = _FILE.search(line)
        if file is None:
            found = _place(re.split(r"[/\\]", line)[-1])
            folder = found if found[0] is not None else folder
            continue
        name = _BEFORE.sub("", file["name"]) if file.start() == 0 else file["name"]
        folder = _of_path(line[: file.start("name")], folder)
        found_day = day_in(name.replace("_", " "))
        day = found_day.on("day first") if found_day is not None and found_day.how == "certain" else None
        rest = name.replace("_", " ").replace(found_day.text, " ", 1) if found_day is not None and day else name
        parted = _TITLE.match(rest.strip() if " " in name.strip() else re.sub("[-_]", " ", rest).strip())
        place, number, title = (parted["head"], parted["number"], parted["title"]) if parted else ("", "", rest)
        row += 1
        town = place.strip(" -") if day else folder[1]
        values: tuple[Cell, ...] = (day or folder[0], town or None, float(number) if number else None, title.strip())
        cells |= {(row, at): value for at, value in enumerate(values, start=1) if value is not None}
    return Sheet("recordings", cells)


def _of_path(path: str, folder: tuple[date | None, str]) -> tuple[date | None, str]:
    parts = [part for part in re.split(r"[/\\]", path) if part.strip()]
    found = _place(parts[-1]) if parts else (None, "")
    return found if found[0] is not None else folder


def _place(text: str) -> tuple[date | None, str]:
    day = day_in(text.replace("_", " "))
    on = day.on("day first") if day is not None and day.how == "certain" else None
    return (None, "") if day is None or on is None else (on, day.rest.strip(" _-"))
