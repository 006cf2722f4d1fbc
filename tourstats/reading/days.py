"""Days as people write them. What can be read two ways is settled for the whole file at once, or asked about."""

# ruff: noqa: RUF001, E501, SIM905  # the signs that people type are meant
from __future__ import annotations

import itertools
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from functools import lru_cache

from tourstats.reading.asking import Asking
from tourstats.reading.titles import fold

DAY_FIRST, MONTH_FIRST, YEAR_FIRST = ORDERS = ("day first", "month first", "year first")
_MONTHS = (
    "jan ene gen sty led tam янв", "feb fev lut uno hel фев", "mar maa mrt bre мар", "apr avr abr kwi dub huh апр",
    "may mai maj mei mag kve tou мая май", "jun juin giu cze cerv kes июн", "jul juil lug lip cervene cervenc hei июл",
    "aug aou ago sie srp elo авг", "sep set wrz zar szep syy сен", "oct okt ott out paz rij lok окт",
    "nov lis marr ноя", "dec dez dic gru pro jou дек",
)  # fmt: skip
_MONTH_OF = {word: number for number, words in enumerate(_MONTHS, start=1) for word in words.split()}
_WEEKDAYS = (
    "mon monday mo montag lun lundi lunes lunedi po pon poniedzialek ma maandag segunda seg mandag man mandag mandagen måndag mån maanantai pondeli h hetfo luni понедельник пн 月 월",
    "tue tues tuesday di dienstag die mar mardi martes martedi wto wtorek dinsdag terca ter tirsdag tir tis tisdag ti tiistai uterý ut k kedd marti вторник вт 火 화",
    "wed weds wednesday mi mittwoch mit mer mercredi miercoles mie mercoledi sro sr sroda wo woensdag quarta qua onsdag ons ke keskiviikko st streda sze szerda miercuri среда ср 水 수",
    "thu thur thurs thursday do donnerstag don jeu jeudi jueves jue giovedi gio czw czwartek donderdag quinta qui torsdag tor tors to torstai ct ctvrtek stvrtok cs csutortok joi четверг чт 木 목",
    "fri friday fr freitag fre ven vendredi viernes vie venerdi pia pt piatek vr vrijdag sexta sex fredag fre pe perjantai pa patek piatok p pentek vineri пятница пт 金 금",
    "sat saturday sa samstag sonnabend sam samedi sabado sab sabato so sob sobota za zaterdag lordag lor lø lördag lör la lauantai szo szombat sambata суббота сб 土 토",
    "sun sunday so sonntag son dim dimanche domingo dom domenica nie niedz niedziela zo zondag sondag søndag søn sø söndag sön su sunnuntai ne nedele nedela v vasarnap duminica воскресенье вс 日 일",
)  # fmt: skip
_WEEKDAY_OF: dict[str, int | None] = {}
"""Which day a word is; none if it is one in one language and another in the next, as "so" is."""
for _number, _words in enumerate(_WEEKDAYS):
    for _word in map(fold, _words.split()):
        _WEEKDAY_OF[_word] = _number if _WEEKDAY_OF.get(_word, _number) == _number else None
WEEKDAY = re.compile(
    rf"\b(?:{'|'.join(word for words in _WEEKDAYS for at, word in enumerate(words.split()) if not at or len(word) > 3)})\b\.?",
    re.IGNORECASE,
)
"""A weekday by its name, or as English cuts it; shorter forms of other languages are words of their own too."""
_NUMBERS = re.compile(
    r"(?<![\d.,/-])(\d{1,4})(\s?[./-]\s?)(\d{1,2})(?:\s?[./-]\s?|\s+(?=(?:19|20)\d\d))(\d{4}|\d{1,2})(?!\d)(?![./-]\d)(?:[T ]+\d{1,2}:\d{2}(?::\d{2})?(?:\.\d+)?(?:Z|[+-]\d\d:?\d\d)?)?"
)
_ROMAN = re.compile(r"(?<![\w.])(\d{1,2})(?:\.\s?|[-/])([IVX]{1,4})(?:\.\s?|[-/])(\d{4}|\d{2})(?!\d)")
_ROMANS = "I II III IV V VI VII VIII IX X XI XII".split()  # reads as it is counted
_COMPACT = re.compile(r"(?<!\d)(20\d\d|19\d\d)(\d\d)(\d\d)(?!\d)")
_EAST = re.compile(r"(?:(\d{4})\s?[年년]\s?)?(?<!\d)(\d{1,2})\s?[月월]\s?(\d{1,2})\s?[日일]")
_WORDS = re.compile(
    r"(?<![\d.:/])(\d{1,2})(?:st|nd|rd|th|\.|º|er)?[\s-]+(?:de\s+|of\s+|d')?([^\W\d_]{3,12})\.?,?(?:[\s-]+(?:de[l]?\s+)?(\d{4}|'\d\d|(?<=[^\W\d_]-)\d\d|\d\d(?=\s*(?:$|[,;)\]|–—]|\s-)))(?!\d))?"
    r"|(?<!\w)([^\W\d_]{3,12})\.?[\s-]+(\d{1,2})(?:st|nd|rd|th|\.(?!\d))?(?!\d|[:.]\d|\s?/\s?\d)(?:,?[\s-]+(\d{4}|'\d\d)(?!\d))?"
    r"|(?<![\w.])(\d{4})\.?\s+([^\W\d_]{3,12})\.?\s+(\d{1,2})(?:\.|(?!\w))",
    re.IGNORECASE,
)
_SHORT = re.compile(r"(?<![\d./:-])(\d{1,2})(?:\.\s?(\d{1,2})\.|\s?/\s?(\d{1,2}))(?![\d/:-])")
_AROUND = " ,;:–—-|#[]()*\t/=_•·@【】"
SERIALS = range(32_000, 62_000)
"""Numbers of days in a spreadsheet: 1987 to 2069."""
_EPOCH = date(1899, 12, 30)
_CENTURY = 100
_LEAP = 2004
"""A year that has every day, for those that are written without one."""
_FEW_OPEN = 5
"""How many days are certain for each that may be read two ways, from which that one is none of the shows'."""


@dataclass(frozen=True)
class Day:
    """A day as written, before it is settled which one it is.

    Attributes
    ----------
    numbers
        Year, month and day if they are certain; three numbers as they stand if they are not; month and day, or two
        numbers as they stand, if there is no year.
    how
        `certain`, `numbers`, `month day` or `two numbers`.
    rest
        What else the text held.
    weekday
        0 for Monday, if one stands beside it.
    dots
        Whether dots stand between the numbers, which nobody writes with the month first.

    """

    numbers: tuple[int, ...]
    how: str
    rest: str = field(default="", compare=False)
    weekday: int | None = field(default=None, compare=False)
    dots: bool = field(default=False, compare=False)
    text: str = field(default="", compare=False)

    @property
    def full(self) -> bool:
        """Whether the year is written."""
        return self.how in ("certain", "numbers")

    def on(self, order: str, year: int | None = None) -> date | None:
        """The day, if its numbers make one in that order."""
        if self.how == "certain":
            return _date(*self.numbers)
        if self.how == "month day":
            return None if year is None else _date(year, *self.numbers)
        if self.how == "two numbers":
            one, two = self.numbers
            return None if year is None else _date(year, one, two) if order == MONTH_FIRST else _date(year, two, one)
        one, two, three = self.numbers
        found = {DAY_FIRST: (three, two, one), MONTH_FIRST: (three, one, two), YEAR_FIRST: (one, two, three)}[order]
        return _date(_year(found[0]), *found[1:])


def day_in(cell: object, *, whole: bool = False) -> Day | None:
    """Find the first day in a cell.

    Parameters
    ----------
    cell
        Text, or a day of a spreadsheet.
    whole
        Whether the cell has to hold nothing else.

    Examples
    --------
    >>> day_in("Fri 4 March 2031, Brackwater").rest, day_in("3/4/2031").how, day_in("4 March").how, day_in("1847")
    ('Brackwater', 'numbers', 'month day', None)

    """
    if isinstance(cell, datetime | date):
        return Day((cell.year, cell.month, cell.day), "certain", text=f"{cell:%Y-%m-%d}")
    if not isinstance(cell, str) or not any(sign.isdigit() for sign in cell):
        return None
    found = _found(cell)
    return None if found is None or (whole and found.rest) else found


@lru_cache(maxsize=65536)
def _found(text: str) -> Day | None:
    for pattern, read in (
        (_EAST, _east),
        (_ROMAN, _roman),
        (_COMPACT, _east),
        (_NUMBERS, _three),
        (_WORDS, _named),
        (_SHORT, _two),
    ):
        at = 0
        while (match := pattern.search(text, at)) is not None:
            found, at = read(match), match.start() + 1
            if found is not None:
                weekday, rest = _rest(text, match)
                heads = not re.search(r"\w", text[: match.start()]) and re.match(r"\s+[^\W\d_]", text[match.end() :])
                if found[1] == "two numbers" and rest and weekday is None and not heads:
                    continue
                return Day(*found, rest=rest, weekday=weekday, dots="." in match.group(), text=match.group().strip())
    return None


def _rest(text: str, match: re.Match[str]) -> tuple[int | None, str]:
    """What stands beside a day: the weekday, and everything else."""
    before, after = text[: match.start()], text[match.end() :]
    weekday = None
    last = re.search(r"([^\W\d_]+)\.?,?\s*\(?$", before)
    if last and fold(last[1]) in _WEEKDAY_OF and (len(last[1]) > 1 or not last.start()):
        weekday, before = _WEEKDAY_OF[fold(last[1])], before[: last.start()]
    first = re.match(r"\s*,?\s*\(?([^\W\d_]+)\)?\.?(?=$|[\s,;:–—-])", after)
    whole = first and (
        len(first[1]) > 3 or re.match(r"\s*\(\w+\)", after) or not re.match(r"\s*\w", after[first.end() :])
    )
    if (
        weekday is None
        and first
        and whole
        and (len(first[1]) > 1 or not first[1].isascii())
        and fold(first[1]) in _WEEKDAY_OF
    ):
        weekday, after = _WEEKDAY_OF[fold(first[1])], after[first.end() :]
    parts = (_closed(before.strip(_AROUND)), _closed(after.strip(_AROUND)))
    rest = re.sub(r"[^\S\t]*\n\s*|[^\S\t]{3,}", "\t", ", ".join(part for part in parts if part))
    return weekday, re.sub(r"[^\S\t]+", " ", rest)


def _closed(text: str) -> str:
    """A text with the bracket that was taken off its end, if one is open in it."""
    return f"{text})" if text.rfind("(") > text.rfind(")") else text


def _east(match: re.Match[str]) -> tuple[tuple[int, ...], str] | None:
    if match[1] is None:
        numbers = (int(match[2]), int(match[3]))
        return (numbers, "month day") if _date(2000, *numbers) else None
    full = (int(match[1]), int(match[2]), int(match[3]))
    return (full, "certain") if _date(*full) else None


def _roman(match: re.Match[str]) -> tuple[tuple[int, ...], str] | None:
    if match[2] not in _ROMANS:
        return None
    numbers = (_year(int(match[3])), _ROMANS.index(match[2]) + 1, int(match[1]))
    return (numbers, "certain") if _date(*numbers) else None


def _three(match: re.Match[str]) -> tuple[tuple[int, ...], str] | None:
    one, two, three = match[1], match[3], match[4]
    numbers = (int(one), int(two), int(three))
    if len(one) == 4:
        return (numbers, "certain") if len(three) < 3 and _date(*numbers) else None
    if len(one) == 3 or (len(one) == 1 and len(three) == 1):
        return None
    undecided = Day(numbers, "numbers")
    return (numbers, "numbers") if any(undecided.on(order) for order in ORDERS) else None


def _named(match: re.Match[str]) -> tuple[tuple[int, ...], str] | None:
    found = (match[1], match[2], match[3]) if match[1] else (match[5], match[4], match[6])
    number, word, year = found if match[7] is None else (match[9], match[8], match[7])
    month = month_of(word)
    if month is None:
        return None
    if year:
        numbers = (_year(int(year.lstrip("'"))), month, int(number))
        return (numbers, "certain") if _date(*numbers) else None
    return ((month, int(number)), "month day") if _date(2000, month, int(number)) else None


def _two(match: re.Match[str]) -> tuple[tuple[int, ...], str] | None:
    if match[2]:
        numbers = (int(match[2]), int(match[1]))
        return (numbers, "month day") if _date(2000, *numbers) else None
    numbers = (int(match[1]), int(match[3]))
    return (numbers, "two numbers") if _date(2000, *numbers) or _date(2000, *numbers[::-1]) else None


def month_of(word: str) -> int | None:
    """Number of a month by its name in any of the languages known here.

    Examples
    --------
    >>> month_of("März"), month_of("junio"), month_of("Marigold")
    (3, 6, None)

    """
    folded = fold(word)
    found = next((_MONTH_OF[folded[:size]] for size in (7, 4, 3) if folded[:size] in _MONTH_OF), None)
    return found if found is None or len(folded) <= 3 or folded in _LONG_NAMES or folded == "sept" else None


_LONG_NAMES = frozenset(
    fold(word)
    for word in """
    january february march april may june july august september october november december januar februar märz maerz mai juni juli oktober
    dezember jänner feber janvier février mars avril juin juillet août septembre octobre novembre décembre enero febrero marzo abril mayo junio
    julio agosto septiembre setiembre octubre noviembre diciembre gennaio febbraio aprile maggio giugno luglio settembre ottobre dicembre
    janeiro fevereiro março maio junho julho setembro outubro novembro dezembro januari februari maart mei augustus styczeń luty marzec kwiecień
    maj czerwiec lipiec sierpień wrzesień październik listopad grudzień stycznia lutego marca kwietnia maja czerwca lipca sierpnia września
    października listopada grudnia января февраля марта апреля мая июня июля августа сентября октября ноября декабря январь февраль март апрель
    май июнь июль август сентябрь октябрь ноябрь декабрь marts augusti desember toukokuu kesäkuu tammikuu helmikuu maaliskuu huhtikuu heinäkuu
    elokuu syyskuu lokakuu marraskuu joulukuu leden února únor března březen dubna duben května květen června červen července červenec srpna
    srpen září října říjen listopadu prosince prosinec ledna január február marec apríl máj jún júl március április május június július
    szeptember október ianuarie februarie martie aprilie iunie iulie septembrie octombrie noiembrie decembrie
    """.split()
)


def _year(number: int) -> int:
    return number + (2000 if number < 70 else 1900) if number < _CENTURY else number


@lru_cache(maxsize=65536)
def _date(year: int, month: int, day: int) -> date | None:
    try:
        return date(year, month, day) if 1700 <= year <= 2199 else None
    except ValueError:
        return None


def of_serial(number: float) -> date | None:
    """Day of a spreadsheet's number.

    Examples
    --------
    >>> of_serial(46449), of_serial(1847)
    (datetime.date(2027, 3, 3), None)

    """
    return _EPOCH + timedelta(days=int(number)) if int(number) in SERIALS else None


@dataclass
class Calendar:
    """The one order of day, month and year of a file, and the years of days without one."""

    order: str = DAY_FIRST
    years: dict[Day, int] = field(default_factory=dict)
    full: bool = True
    """Whether days with a year stand in the file: those without one are then passed over."""

    def of(self, day: Day | None) -> date | None:
        """The day meant, or None."""
        return None if day is None else day.on(self.order, self.years.get(day))


def settle(days: Sequence[Day], asking: Asking, years: Iterable[int] = (), latest: int | None = None) -> Calendar:
    """Settle the days of a file, or ask.

    Parameters
    ----------
    days
        In the order in which they stand.
    asking
        Takes the questions.
    years
        Years written elsewhere in the file, or in its name.
    latest
        Year that is proposed where the file does not tell.

    """
    full = [day for day in days if day.full]
    open_ = [day for day in dict.fromkeys(days) if day.how in ("numbers", "two numbers")]
    certain = len({day for day in days if day.how == "certain"})
    told = list(years)
    year = told[0] if len(told) == 1 else _LEAP
    calendar = Calendar(_order(open_, asking, year, few=_FEW_OPEN * len(open_) <= certain))
    calendar.full = bool(full)
    bare = list(dict.fromkeys(day for day in days if not day.full))
    if bare and not full:
        _give_years(bare, calendar, asking, told, latest)
    return calendar


def _order(days: list[Day], asking: Asking, year: int, *, few: bool = False) -> str:
    """The order in which the numbers stand: the one that makes days of them, that fits weekdays, and goes forward."""
    if not days:
        return DAY_FIRST
    tried = {order: [day.on(order, year) for day in days] for order in ORDERS if order != YEAR_FIRST or days[0].full}
    fits = {order: dates for order, dates in tried.items() if sum(map(bool, dates)) >= 0.98 * len(days)}
    answer = fold(str(asking.answers.get("date order", "")))
    if answer in tried:
        return answer
    if not fits:
        asking.choose("date order", "The days fit no one order of day, month and year.", tuple(tried), DAY_FIRST,
                      value=days[0].text)  # fmt: skip
        return DAY_FIRST
    if year != _LEAP or all(day.full for day in days):
        said = [order for order, dates in fits.items() if _weekdays_fit(days, dates)]
        fits = {order: fits[order] for order in said} or fits
    if DAY_FIRST in fits and all(day.dots for day in days):
        fits.pop(MONTH_FIRST, None)
    ranked = sorted(fits, key=lambda order: _forward(fits[order]), reverse=True)
    best = ranked[0]
    rivals = [
        order
        for order in ranked[1:]
        if fits[order] != fits[best] and (_as_likely(fits[order], fits[best]) or not _forward(fits[best])[0] or len(days) < 4)
        and (order != YEAR_FIRST or _forward(fits[order])[0])
    ]  # fmt: skip
    if rivals and not few:
        both = ", ".join(f"{order}: {fits[order][0]:%d %B %Y}" for order in (best, *rivals) if fits[order][0])
        asking.choose("date order", f'"{days[0].text}" can be read in more than one order ({both}), and nothing in the file tells which.',
                      (best, *rivals), best, value=days[0].text)  # fmt: skip
    return best


def _as_likely(dates: list[date | None], best: list[date | None]) -> bool:
    """Whether days in another order go one way too, with the gaps of a tour, or with gaps not much wider."""
    forward, share, gap = _forward(dates)
    return forward or (share >= 0.9 and -gap <= 2 * -_forward(best)[2])


def weekday(word: str) -> int | None:
    """The day of the week that a word is, from 0 for Monday, in many languages; None if it is none.

    Examples
    --------
    >>> weekday("Donnerstag"), weekday("Ferry")
    (3, None)

    """
    return _WEEKDAY_OF.get(fold(word))


def _weekdays_fit(days: list[Day], dates: list[date | None]) -> bool:
    pairs = [(day.weekday, on) for day, on in zip(days, dates, strict=True) if day.weekday is not None and on]
    return sum(weekday == on.weekday() for weekday, on in pairs) >= 0.9 * len(pairs)


def _forward(dates: list[date | None]) -> tuple[bool, float, float]:
    """Whether days go one way with gaps of a tour, how many do, and the usual gap (the smaller, the better)."""
    days = [day for day in dates if day is not None]
    steps = [later > earlier for earlier, later in itertools.pairwise(days)] or [True]
    share = max(sum(steps), len(steps) - sum(steps)) / len(steps)
    gap = (max(days) - min(days)).days / max(1, len(days) - 1)
    return share >= 0.9 and gap <= 60, share, -gap


def _give_years(bare: list[Day], calendar: Calendar, asking: Asking, years: list[int], latest: int | None) -> None:
    """Give days without a year theirs: the only one in the file, the one that their weekdays tell, or the answer."""
    told = set(years)
    first = told.pop() if len(told) == 1 else _by_weekdays(bare, calendar.order)
    answer = str(asking.answers.get("year", "")).strip()
    if re.fullmatch(r"\d{4}", answer):
        first = int(answer)
    told_wrong = first is not None and not answer and not _weekdays_right(bare, calendar.order, first)
    if told_wrong:
        offers = list(dict.fromkeys(str(year) for year in (_by_weekdays(bare, calendar.order, first), first) if year))
        text = asking.choose("year", f"The weekdays are not those of {first}, which the file names.", offers, offers[0],
                             todo="Answer with the year of the first show, such as 2031.", free=True,
                             value=bare[0].text)  # fmt: skip
        first = int(text) if re.fullmatch(r"\d{4}", text) else first
    if first is None:
        guess = str(latest) if latest else ""
        text = asking.choose("year", f'"{bare[0].text}" has no year, and the file does not tell which it is.',
                             (guess,) if guess else (), guess, todo="Answer with the year of the first show, such as 2031.",
                             free=True, value=bare[0].text)  # fmt: skip
        first = int(text) if re.fullmatch(r"\d{4}", text) else None
    if first is not None:
        calendar.years |= _walked(bare, calendar.order, first)


def _walked(bare: list[Day], order: str, year: int) -> dict[Day, int]:
    """Years from the first day on: one more where the days begin again, one less where they are listed backwards."""
    years: dict[Day, int] = {}
    dates = [day.on(order, _LEAP) for day in bare]
    steps = [(b - a).days for a, b in itertools.pairwise(dates) if a and b]
    backwards = sum(step < 0 for step in steps) > sum(step > 0 for step in steps)
    before: date | None = None
    for day, on in zip(bare, dates, strict=True):
        if before and on:
            step = (on - before).days
            year += (step < -120 and not backwards) - (step > 120 and backwards)
        before = on or before
        years[day] = year
    return years


def _weekdays_right(bare: list[Day], order: str, year: int) -> bool:
    """Whether half of the weekdays that are written fit, from a year on; so it is where fewer than three are."""
    years = _walked(bare, order, year)
    told = [(day.weekday, on) for day in bare if day.weekday is not None and (on := day.on(order, years[day]))]
    return len(told) < 3 or sum(weekday == on.weekday() for weekday, on in told) >= 0.5 * len(told)


def _by_weekdays(bare: list[Day], order: str, about: int | None = None) -> int | None:
    """The one year, of the few about one or about now, in which every weekday is right; None without three of them."""
    if sum(day.weekday is not None for day in bare) < 3:
        return None
    about = about or datetime.now().astimezone().year
    fitting = []
    for year in range(about - 4, about + 2):
        years = _walked(bare, order, year)
        if all(
            (on := day.on(order, years[day])) and on.weekday() == day.weekday for day in bare if day.weekday is not None
        ):
            fitting.append(year)
    return fitting[0] if len(fitting) == 1 else None


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
