"""Days as people write them. What can be read two ways is never guessed."""

# ruff: noqa: RUF001, E501  # the signs that people type are meant, and a pattern is read in one piece
from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from tourstats.reading.titles import fold

DAY_FIRST, MONTH_FIRST = ORDERS = ("day first", "month first")
_MONTHS = {
    name: number
    for number, names in enumerate(
        (
            "jan january januar janvier enero gennaio janeiro", "feb february februar fevrier febrero febbraio fevereiro",
            "mar march marz maerz mrz mars marzo marco", "apr april avril abril aprile", "may mai mayo maggio maio",
            "jun june juni juin junio giugno junho", "jul july juli juillet julio luglio julho",
            "aug august aout agosto", "sep sept september septembre septiembre settembre setembro",
            "oct okt october oktober octobre octubre ottobre outubro", "nov november novembre noviembre novembro",
            "dec dez december dezember decembre diciembre dicembre dezembro",
        ),
        start=1,
    )
    for name in names.split()
}  # fmt: skip
_WEEKDAY = (
    r"(?:(?:mon|tues?|wed(?:nes)?|thu(?:rs)?|fri|sat(?:ur)?|sun)(?:day)?|montag|dienstag|mittwoch|donnerstag|freitag|samstag|sonntag|"
    r"mo|di|mi|do|fr|sa|so)\b\.?,?\s*"
)
_WORD = r"([^\W\d_]{3,12})\.?"
_CLOCK = r"(?:[T\s]+\d{1,2}:\d{2}(?::\d{2}(?:\.\d+)?)?(?:Z|[+-]\d{2}:?\d{2})?)?"
_FORMS = tuple(
    (re.compile(rf"(?<!\w)(?:{_WEEKDAY})?{form}(?![\w])", re.IGNORECASE), kind)
    for form, kind in (
        (rf"(\d{{4}})[-/.](\d{{1,2}})[-/.](\d{{1,2}}){_CLOCK}", "ymd"),
        (r"(\d{1,2})\.\s?(\d{1,2})\.\s?(\d{4}|\d{2})", "dmy"),
        (r"(\d{1,2})[/-](\d{1,2})[/-](\d{4}|\d{2})", "either"),
        (rf"(\d{{1,2}})(?:st|nd|rd|th)?\.?[\s-]+(?:of\s+)?{_WORD},?[\s-]+(\d{{4}})", "d-word-y"),
        (rf"{_WORD}[\s-]+(\d{{1,2}})(?:st|nd|rd|th)?,?[\s-]+(\d{{4}})", "word-d-y"),
        (rf"(\d{{1,2}})(?:st|nd|rd|th)?\.?[\s-]+(?:of\s+)?{_WORD}", "d-word"),
        (rf"{_WORD}[\s-]+(\d{{1,2}})(?:st|nd|rd|th)?", "word-d"),
        (r"(\d{1,2})\.\s?(\d{1,2})\.", "dm"),
        (r"(\d{1,2})/(\d{1,2})", "either-no-year"),
    )
)
_EPOCH = date(1899, 12, 30)
_SERIALS = (15_000, 110_000)
_CENTURY = 100


@dataclass(frozen=True)
class Day:
    """A day as written, before it is settled which one it is.

    Attributes
    ----------
    first, second
        Its two numbers, in the order in which they stand if they can change places, else day and month.
    year
        None if it was not written.
    either
        Whether the numbers can change places.
    rest
        What else the text held.
    text
        As written.

    """

    first: int
    second: int
    year: int | None
    either: bool = False
    rest: str = ""
    text: str = ""

    def on(self, order: str | None, year: int | None) -> date | None:
        """Return the day, if the order of day and month and the year are known or not needed."""
        year = self.year or year
        if year is None or self.asks_for_order(order):
            return None
        swapped = self.either and (
            order == MONTH_FIRST if self._fits(DAY_FIRST) and self._fits(MONTH_FIRST) else not self._fits(DAY_FIRST)
        )
        day, month = (self.second, self.first) if swapped else (self.first, self.second)
        return _date(year, month, day)

    def asks_for_order(self, order: str | None) -> bool:
        """Whether it cannot be told without knowing which number is the day."""
        return (
            self.either
            and order is None
            and self.first != self.second
            and self._fits(DAY_FIRST)
            and self._fits(MONTH_FIRST)
        )

    def order(self) -> str | None:
        """Order of day and month that it gives away, if any."""
        if not self.either or self._fits(DAY_FIRST) == self._fits(MONTH_FIRST):
            return None
        return DAY_FIRST if self._fits(DAY_FIRST) else MONTH_FIRST

    def _fits(self, order: str) -> bool:
        day, month = (self.first, self.second) if order == DAY_FIRST else (self.second, self.first)
        return _date(self.year or 2000, month, day) is not None


def day_in(cell: object, *, whole: bool = False) -> Day | None:
    """Find a day in a cell.

    Parameters
    ----------
    cell
        Text, a date cell, or a serial number of a spreadsheet.
    whole
        Whether the cell has to hold nothing else.

    Examples
    --------
    >>> day_in("Fri 4 March 2031, Brackwater").rest, day_in("3/4/2031").either, day_in("4.3.2031").either
    ('Brackwater', True, False)

    """
    if isinstance(cell, datetime | date):
        return Day(cell.day, cell.month, cell.year, text=f"{cell:%Y-%m-%d}")
    if isinstance(cell, float | int) and not isinstance(cell, bool):
        if not (_SERIALS[0] <= cell <= _SERIALS[1]):
            return None
        found = _EPOCH + timedelta(days=int(cell))
        return Day(found.day, found.month, found.year, text=f"{found:%Y-%m-%d}")
    if not isinstance(cell, str) or not any(letter.isdigit() for letter in cell):
        return None
    for form, kind in _FORMS:
        for match in form.finditer(cell):
            rest = f"{cell[: match.start()]} {cell[match.end() :]}".strip(" \t\n,;:-–—|/()@·•#=")
            day = _day(match, kind, " ".join(rest.split()))
            if day is not None and not (whole and day.rest):
                return day
    return None


def _day(match: re.Match[str], kind: str, rest: str) -> Day | None:
    """Read what a form found; None if its numbers or its word make no day."""
    one, two, *three = match.groups()
    year = _year(three[0]) if three else None
    text = match.group().strip()
    if kind == "ymd":
        return _checked(Day(int(two_digits(three[0])), int(two), int(one), rest=rest, text=text))
    if "word" in kind:
        word, number = (two, one) if kind.startswith("d-") else (one, two)
        month = _MONTHS.get(fold(word))
        return None if month is None else _checked(Day(int(number), month, year, rest=rest, text=text))
    return _checked(Day(int(one), int(two), year, either=kind.startswith("either"), rest=rest, text=text))


def two_digits(text: str) -> str:
    """Digits of a number as they stand."""
    return text


def _checked(day: Day) -> Day | None:
    return day if day._fits(DAY_FIRST) or (day.either and day._fits(MONTH_FIRST)) else None  # noqa: SLF001  # same module


def _year(text: str) -> int:
    year = int(text)
    return year + 2000 if year < _CENTURY else year


def _date(year: int, month: int, day: int) -> date | None:
    try:
        return date(year, month, day)
    except ValueError:
        return None


def order_of(days: Iterable[Day]) -> str | None:
    """Order of day and month that a column gives away; None if it does not, or contradicts itself."""
    found = {order for day in days if (order := day.order()) is not None}
    return found.pop() if len(found) == 1 else None


def years_in(texts: Iterable[object]) -> set[int]:
    """Years written in some texts.

    Examples
    --------
    >>> years_in(["Spring leg 2031", "Ferry"])
    {2031}

    """
    return {
        int(year)
        for text in texts
        if isinstance(text, str)
        for year in re.findall(r"(?<!\d)(20\d\d|19\d\d)(?!\d)", text)
    }
