"""What a set is headed with: a day, a town or a venue that is known."""

# ruff: noqa: RUF001, E501  # the signs that people type are meant, a pattern is read in one piece
from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Iterator, Mapping

from tourstats.reading import lines as lines_
from tourstats.reading.days import WEEKDAY, weekday
from tourstats.reading.titles import fold

_DAY = re.compile(
    r"(?:(?:mon|tues?|wed(?:nes)?|thu(?:rs)?|fri|sat(?:ur)?|sun)(?:day)?\b\.?,?\s*)?"
    r"(?:\d{4}-\d{1,2}-\d{1,2}|\d{1,2}\s?[./]\s?\d{1,2}(?:\s?[./]\s?(?:\d{4}|\d{2}))?\.?(?!\d|\s?bpm))",
    re.IGNORECASE,
)
_FILLING = re.compile(
    r"\b(?:set ?list|set|tonight|today|tomorrow|live|at|in|the|for|our|show|gig|from|to|list|is|here|doors?|stage|curfew|"
    r"\d{1,2}[:.h]\d{2}(?:\s?[ap]m)?|[ap]m|uhr|h)\b",
    re.IGNORECASE,
)


def heading_of(line: str, places: Mapping[str, Iterable[str]]) -> dict[str, str]:
    """What a line above a set says of the show, if that is all it says: its day, town and venue; empty if it is none.

    Parameters
    ----------
    line
        One line.
    places
        The `city`s and `venue`s that are known.

    Examples
    --------
    >>> known = {"city": ["Tarnholt", "Westhallow"], "venue": ["Tithe Shed"]}
    >>> heading_of("TARNHOLT 10.10.", known), heading_of("TARNHOLT  Weds", known)
    ({'city': 'Tarnholt', 'day': '10.10.'}, {'city': 'Tarnholt'})
    >>> heading_of("Tithe Shed, doors 19:30", known), heading_of("Rooks over Tarnholt", known)
    ({'venue': 'Tithe Shed'}, {})

    """
    heading: dict[str, str] = {}
    rest = f" {_plain(line)} "
    for kind in ("venue", "city"):
        for name in sorted(places.get(kind, ()), key=len, reverse=True):
            form = re.compile(rf"(?<!\w){_as_typed(_plain(name))}(?!\w)", re.IGNORECASE)
            if fold(name) and form.search(rest):
                heading.setdefault(kind, name)
                rest = form.sub(" ", rest, count=1)
    day = _day_in(rest)
    if day:
        heading["day"] = day
        rest = rest.replace(day, " ", 1)
    words = re.findall(r"[^\W\d_]+", _FILLING.sub(" ", WEEKDAY.sub(" ", rest)))
    left = "".join(word for word in words if weekday(word) is None)
    only_day = set(heading) == {"day"} and not lines_.has_date(line)
    if not heading or any(letter.isalpha() for letter in left) or (only_day and not WEEKDAY.search(line)):
        return {}
    return heading


def dated(line: str) -> dict[str, str]:
    """What a line above a set with a day in it says, though its places are not known: the `day`, and what else stands there.

    Examples
    --------
    >>> dated("Thursday Dec 3, Holmbeck - Old Gasworks")
    {'day': 'Thursday Dec 3', 'place': 'Holmbeck, Old Gasworks'}
    >>> dated("Saturday 21 Nov - Great Oddle")["place"]
    'Great Oddle'

    """
    day = _day_in(line)
    if not day:
        return {}
    weekday = WEEKDAY.search(line)
    rest = _FILLING.sub(" ", WEEKDAY.sub(" ", line.replace(day, " ", 1)))
    words = [" ".join(part.split()).strip(" .:-–—") for part in re.split(r"[,;|@/()]|\s[-–—]\s|\s{3,}", rest)]
    place = ", ".join(word for word in words if any(map(str.isalpha, word)))
    named = weekday is not None and weekday.group() not in day
    return {"day": f"{weekday.group()} {day}" if weekday and named else day} | ({"place": place} if place else {})


def _plain(text: str) -> str:
    """A text without accents, letter by letter."""
    return "".join(unicodedata.normalize("NFD", letter)[:1] for letter in text)


def _as_typed(name: str) -> str:
    """A form that finds a name whatever stands between its words."""
    return r"[\W_]+".join(re.escape(word) for word in re.findall(r"\w+", name)) or r"(?!)"


def _day_in(text: str) -> str:
    found = _DAY.search(text) or lines_.date_in(text)
    return found.group().strip(" ,") if found else ""


def known_places(cities: Iterable[object], venues: Iterable[object]) -> dict[str, list[str]]:
    """Towns and venues that are known, each once.

    Examples
    --------
    >>> known_places(["Westhallow", None, "Westhallow"], [])
    {'city': ['Westhallow'], 'venue': []}

    """
    return {"city": list(_texts(cities)), "venue": list(_texts(venues))}


def _texts(values: Iterable[object]) -> Iterator[str]:
    yield from dict.fromkeys(value.strip() for value in values if isinstance(value, str) and value.strip())
