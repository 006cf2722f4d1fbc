"""Lists of people: who was where, and counts at the door. What identifies people is in no message and no account."""

# ruff: noqa: E501  # a question is read in one piece
from __future__ import annotations

import re
from collections import Counter
from collections.abc import Mapping

import pandas as pd

from tourstats.reading.asking import Asking, Where, table_of
from tourstats.reading.cells import DAYS, kind_of, shown, whole_number
from tourstats.reading.days import day_in, settle
from tourstats.reading.files import Source
from tourstats.reading.one_kind import Rows, sheets_of
from tourstats.reading.titles import fold
from tourstats.reading.workbooks import Cell

PEOPLE, COUNTS = "attendance", "counts"
_NAMES = {
    "person": "person people email e mail mail address name names guest guests ticket ticketno ticketnumber ticketid barcode holder attendee attendees visitor fan fanid member "
    "customer who personid besucher gast gaste nom invite emailaddress guestname fullname firstname lastname surname plus",
    "date": "date day datum when showdate jour fecha data", "city": "city town ort stadt ville", "number": "number shownumber show showno",
    "show_id": "showid", "venue": "venue hall",
}  # fmt: skip
_COUNT_NAMES = {
    "date": "date day datum", "city": "city town", "number": "number shownumber", "people": "people attendance all total counted audience",
    "earlier_date": "earlierdate before previousdate earlier", "earlier_city": "earliercity previouscity", "earlier_number": "earliernumber previousnumber",
    "returning": "returning cameback again seenbefore",
}  # fmt: skip
_MAIL = re.compile(r"[\w.+-]+@[\w-]+\.\w+")
_HASH = re.compile(r"[0-9a-f]{12,64}")
_HEADER_ROWS = 10
_OF_SONGS = frozenset(
    (
        "song",
        "songs",
        "title",
        "titel",
        "titre",
        "piece",
        "track",
        "severity",
        "way",
        "position",
        "pos",
        "tempo",
        "aliases",
        "bpm",
    )
)
"""Columns that no list of people has."""


def sheets_of_people(source: Source) -> list[str]:
    """Sheets of a workbook that hold people."""
    return [rows.name for rows in sheets_of(source) if _person_column(rows) is not None]


def kind_of_people(source: Source) -> str | None:
    """Say whether a file is a list of people, or counts of them; None for anything else."""
    people = sheets_of_people(source)
    if people and len(people) < len(source.sheets):
        return None
    for rows in sheets_of(source):
        head = _head(rows, _COUNT_NAMES)
        if head and {"people", "returning", "date"} <= set(head[1]):
            return COUNTS
        if _person_column(rows) is not None:
            return PEOPLE
    return None


def _head(rows: Rows, names: Mapping[str, str]) -> tuple[int, dict[str, int]] | None:
    """The row of column names, and the column of each."""
    for at, row in enumerate(rows.rows[:_HEADER_ROWS]):
        words = [fold(cell).replace(" ", "") if isinstance(cell, str) else "" for cell in row]
        found: dict[str, int] = {}
        for name, spelt in names.items():
            place = next((words.index(word) for word in [name.replace("_", ""), *spelt.split()] if word in words), None)
            if place is not None and place not in found.values():
                found[name] = place
        if len(found) >= 2:
            return at, found
    return None


def _person_column(rows: Rows) -> int | None:
    """The column that identifies people: addresses, hashes, or one that says so beside days and no song."""
    width = max(map(len, rows.rows), default=0)
    head = _head(rows, _NAMES)
    below = rows.rows[head[0] + 1 :] if head else rows.rows
    for column in range(width):
        texts = [shown(row[column]).strip() for row in below if column < len(row) and row[column] is not None]
        marked = sum(
            bool(_MAIL.fullmatch(text) or (_HASH.fullmatch(text) and re.search(r"\d", text))) for text in texts
        )
        if len(texts) > (0 if head else 2) and marked >= 0.6 * len(texts):
            return column
    if head is None or "person" not in head[1]:
        return None
    if _OF_SONGS & {fold(shown(cell)).replace(" ", "") for cell in rows.rows[head[0]]}:
        return None
    said = fold(shown(rows.rows[head[0]][head[1]["person"]])).replace(" ", "")
    sure = said not in ("name", "names", "who", "nom", "people", "plus", "number")
    days = len(below) if "show_id" in head[1] else sum(any(kind_of(cell) in DAYS for cell in row) for row in below)
    return head[1]["person"] if sure and days >= 0.5 * max(1, len(below)) else None


def read_people(
    source: Source, shows: pd.DataFrame | None, answers: Mapping[str, str]
) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Who was where: person (as written, to be hashed before anything is kept), show_id; and the questions."""
    asking, attended = Asking(dict(answers)), []
    for rows in sheets_of(source):
        column = _person_column(rows)
        if column is None:
            continue
        head = _head(rows, _NAMES)
        at, names = head or (-1, {})
        names = {name: place for name, place in names.items() if place != column and name != "person"}
        if not names:
            names = _by_content(rows, column)
        for show_id, row in _with_shows(rows, at + 1, names, shows, asking, source.name):
            person = shown(row[column] if column < len(row) else None)
            if person and show_id is not None:
                attended.append({"person": person, "show_id": show_id})
    return pd.DataFrame(attended, columns=["person", "show_id"]), table_of(asking.open.values(), source.name)


def _by_content(rows: Rows, person: int) -> dict[str, int]:
    """The column of days, where no names say so."""
    width = max(map(len, rows.rows), default=0)
    days = Counter(
        {
            column: sum(column < len(row) and kind_of(row[column]) in DAYS for row in rows.rows)
            for column in range(width)
            if column != person
        }
    )
    best = days.most_common(1)
    return {"date": best[0][0]} if best and best[0][1] >= 0.5 * len(rows.rows) else {}


def read_counts(
    source: Source, shows: pd.DataFrame | None, answers: Mapping[str, str]
) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Counts at the door: show_id, people, earlier (a show), returning; and the questions."""
    asking, counts = Asking(dict(answers)), []
    for rows in sheets_of(source):
        head = _head(rows, _COUNT_NAMES)
        if head is None:
            continue
        at, names = head
        earlier = {name.removeprefix("earlier_"): place for name, place in names.items() if name.startswith("earlier_")}
        mine = list(_with_shows(rows, at + 1, names, shows, asking, source.name))
        before = list(_with_shows(rows, at + 1, earlier, shows, asking, source.name))
        for (show_id, row), (other, _) in zip(mine, before, strict=True):
            people, returning = whole_number(row[names["people"]]), whole_number(row[names["returning"]])
            if None not in (show_id, other, people, returning):
                counts.append({"show_id": show_id, "people": people, "earlier": other, "returning": returning})
    return pd.DataFrame(counts, columns=["show_id", "people", "earlier", "returning"]), table_of(
        asking.open.values(), source.name
    )


def _with_shows(
    rows: Rows, first: int, names: Mapping[str, int], shows: pd.DataFrame | None, asking: Asking, file: str
) -> list[tuple[object, list[Cell]]]:
    """Rows with the number of the show that each names; shows that are not there are asked about once each."""
    body = [
        (number, row)
        for number, row in zip(rows.numbers[first:], rows.rows[first:], strict=True)
        if any(cell is not None for cell in row)
    ]
    calendar = settle([day for _, row in body if (day := day_in(_get(row, names, "date")))], asking)
    known = _ids(shows)
    pairs: list[tuple[object, list[Cell]]] = []
    missing: dict[str, int] = {}
    for number, row in body:
        on = calendar.of(day_in(_get(row, names, "date")))
        show_id = _show(
            known,
            _get(row, names, "show_id"),
            on,
            shown(_get(row, names, "city")),
            whole_number(_get(row, names, "number")),
        )
        if show_id is None:
            missing.setdefault(f"{on or 'a day that cannot be read'} {shown(_get(row, names, 'city'))}".strip(), number)
        pairs.append((show_id, row))
    for said, number in list(missing.items())[:1]:
        more = f" and {len(missing) - 1} more" if len(missing) > 1 else ""
        asking.choose(
            "shows",
            f"The diary has no one show of {said}{more}.",
            (),
            "",
            todo="Take in the sets or the shows first, then this file.",
            where=Where(file, rows.name, number),
        )
    return pairs


def _get(row: list[Cell], names: Mapping[str, int], name: str) -> Cell:
    at = names.get(name)
    return row[at] if at is not None and at < len(row) else None


def _ids(shows: pd.DataFrame | None) -> list[tuple[object, object, str, int]]:
    if shows is None or not len(shows):
        return []
    cities = [fold(city) if isinstance(city, str) else "" for city in shows["city"]]
    return list(zip(shows["show_id"], shows["date"].dt.date, cities, shows["number"], strict=True))


def _show(
    known: list[tuple[object, object, str, int]], said: Cell, day: object, city: str, number: int | None
) -> object:
    """The one show that is meant; None if there is none or more than one."""
    if said is not None and day is None:
        wanted = whole_number(said)
        return next((show_id for show_id, *_ in known if show_id == wanted), None)
    there = [one for one in known if one[1] == day]
    if city and len(there) > 1:
        there = [one for one in there if one[2] == fold(city)] or there
    if len(there) > 1:
        there = [one for one in there if one[3] == (number or 1)]
    return there[0][0] if len(there) == 1 else None
