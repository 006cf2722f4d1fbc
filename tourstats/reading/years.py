"""The year of days that are written without one: from the heading, the mail or the message that they stand under."""

# ruff: noqa: RUF001  # the signs that people type are meant
from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from datetime import date, timedelta
from itertools import pairwise

from tourstats.reading.cells import is_label
from tourstats.reading.days import DAY_FIRST, Day, day_in, month_of

META = re.compile(
    r"^[\s>]*(?:from|to|cc|bcc|sent|subject|date|reply-to|von|an|betreff|gesendet|datum|de|à|objet|envoyé|para|asunto|fecha|enviado|da|a|data|oggetto|inviato|"
    r"od|do|temat|wysłano|van|aan|onderwerp|verzonden|fra|til|emne|från|till|ämne|skickat)\s*:\s*(.*)$",
    re.IGNORECASE,
)  # fmt: skip
WROTE = re.compile(
    r"^[\s>]*\S.{4,140}\b(?:wrote|writes|schrieb|a écrit|escribió|escreveu|ha scritto|napisał\(?a?\)?|schreef|skrev|"
    r"kirjoitti)\b.{0,60}:\s*$",
    re.IGNORECASE,
)
_YEAR = re.compile(r"(?<![\d.,/:-])((?:19|20)\d\d)(?:[/–-]\d\d(?![\d./-]))?(?![\d:]|[.,/-]\d)")
_IN_A_LIST = re.compile(r"\s*(?:(?:\d{1,3}[.):]|[-*•]\s)\s*\d|\d{1,2}[.)]\s)")
"""How a song of a list begins: "5. 1907" is the fifth."""
_FEWEST, _LONG = 2, 8
"""Days with a year that tell that of others, and words from which a line with a day is no heading."""
_APART = 12
"""Years at most between two sections of a text; a number further away is a title."""
_NEAR = 300
"""Days within which a day without a year is sought beside one that has it."""


def with_years(lines: Sequence[str]) -> list[str]:
    """Lines in which each day without a year has that of what it stands under, where every day of the text lacks it.

    Examples
    --------
    >>> with_years(["== 2016 ==", "Fri 30 December, Ostby", "Ferry", "Sun 1 January, Oxmere", "Tin Moth"])[3]
    'Sun 1 January 2017, Oxmere'
    >>> with_years(["4 March 2031", "Ferry", "", "5 March", "Wren", "", "6 March 2031", "Quill"])[3]
    '5 March 2031'
    >>> with_years(["Fri 4 March 2031, Ostby", "Ferry", "", "5 March, Oxmere", "Wren"])[3]
    '5 March 2031, Oxmere'
    >>> with_years(["Date: Mon, 20 Nov 2023", "Subject: sets", "", "16 November, Ostby", "Ferry"])[3]
    '16 November 2023, Ostby'

    """
    days = {at: day for at, line in enumerate(lines) if (day := day_in(line)) is not None}
    meta = {at for at, line in enumerate(lines) if WROTE.match(line) or _in_head(lines, at)}
    bare = [at for at, day in days.items() if not day.full and at not in meta and not _counted(lines[at], day)]
    told = [at for at in bare if days[at].weekday is not None]
    heads = sum(not at or not lines[at - 1].strip() for at in told) >= 0.8 * len(told)
    bare = told if len(told) > 1 and (heads or len(told) >= 0.5 * len(bare)) else bare
    if not bare or any(day.full and at not in meta for at, day in days.items()):
        return _between_dated(lines, {at: day for at, day in days.items() if at not in meta}, bare)
    dated, anchor, section, before = list(lines), None, None, None
    first = next((at for at, line in enumerate(lines) if line.strip()), 0)
    often = Counter(line.strip() for line in lines)
    for at, line in enumerate(lines):
        day = days.get(at)
        if at in meta:
            anchor = _full(day) or anchor
        elif day is None or (not day.full and at not in bare):
            year = section_of(line, top=at <= first + 2) if often[line.strip()] == 1 else None
            if year and (section is None or abs(year - section) <= _APART):
                section, before = year, None
        elif not day.full:
            year = beside(day, anchor) if anchor else section
            if year is None:
                continue
            on = day.on(DAY_FIRST, year)
            if section and not anchor and before and on and (before - on).days > _NEAR / 2:
                section = year = year + 1
                on = day.on(DAY_FIRST, year)
            before = on or before
            turned = day.on("month first", year) if day.how == "two numbers" else on
            if on is None or day.weekday in (None, on.weekday(), turned and turned.weekday()):
                typed = day.text.rstrip(" ,")
                dated[at] = line.replace(typed, _with(typed, year), 1)
    return dated


def _between_dated(lines: Sequence[str], days: dict[int, Day], bare: Sequence[int]) -> list[str]:
    """Give a day without a year that of the days around it, where it heads a block as they do and goes on from them."""
    dated, full = list(lines), {at: on for at, day in days.items() if day.full and (on := _full(day))}
    apart = {at: not at or not re.search(r"\w", lines[at - 1]) for at in days}
    first = bool(full) and min(full) == min(days)  # the others go on from it
    if not (first or len(full) >= _FEWEST) or sum(apart[at] for at in full) < 0.8 * len(full):
        return dated
    counts = all(re.match(r"\s*\d{1,2}[.)]\s", lines[at]) for at in full)
    step = 1 if sum(b >= a for a, b in pairwise(full.values())) * 2 >= len(full) - 1 else -1
    for at in bare:
        last, after = ([on for other, on in sorted(full.items()) if (other < at) == up] for up in (True, False))
        near = last[-1] if last else after[0] if after else None
        year = beside(days[at], near) if near and apart[at] else None
        on = days[at].on(DAY_FIRST, year) if year else None
        told = on is not None and days[at].weekday in (None, on.weekday()) and len(days[at].rest.split()) < _LONG
        told = told and not is_label(lines[at].strip()) and (counts or not re.match(r"\s*\d{1,2}[.)]\s", lines[at]))
        if on is None or year is None or not told:
            continue
        if all((on - one).days * step >= 0 for one in last[-1:]) and all(
            (one - on).days * step >= 0 for one in after[:1]
        ):
            dated[at] = lines[at].replace(days[at].text.rstrip(" ,"), _with(days[at].text.rstrip(" ,"), year), 1)
            full[at] = on
    return dated


def carried(texts: Sequence[str]) -> list[str]:
    """Days of a row or column of which the first has a year, each with the year that brings it nearest the one before.

    Examples
    --------
    >>> carried(["30.12. 2032, Ostby", "31.12.", "2.1."])
    ['30.12. 2032, Ostby', '31.12.2032', '2.1.2033']

    """
    days = [day_in(text) for text in texts]
    first = _full(days[0])
    if first is None or all(day is None or day.full for day in days):
        return list(texts)
    before: date = first
    whole = [texts[0]]
    for text, day in zip(texts[1:], days[1:], strict=True):
        near = [on for year in (-1, 0, 1) if day and (on := day.on(DAY_FIRST, before.year + year))]
        bare = day is not None and not day.full and day.how == "month day" and near
        on = min(near, key=lambda one: abs(one - before)) if bare else _full(day)
        typed = day.text.rstrip(" ,") if day else ""
        whole.append(text.replace(typed, _with(typed, on.year), 1) if bare and on else text)
        before = on or before
    return whole


def _in_head(lines: Sequence[str], at: int) -> bool:
    """Whether a line is one of the head of a mail: two or more such stand together."""
    near = range(max(0, at - 3), min(len(lines), at + 4))
    return META.match(lines[at]) is not None and sum(META.match(lines[other]) is not None for other in near) > 1


def _counted(line: str, day: Day) -> bool:
    """Whether the number of a line makes its title look like a day: "4  March: Tin Moth"."""
    return day.weekday is None and re.match(r"\s*\d{1,2}(?:[.)]?\s{2,}|[.)]?\s+[^\W\d]+:)", line) is not None


def _full(day: Day | None) -> date | None:
    return day.on(DAY_FIRST) if day is not None and day.full else None


def beside(day: Day, anchor: date, order: str = DAY_FIRST) -> int | None:
    """The year that brings a day nearest to one that has a year; what was played lies before what is written."""
    tried = [(year, on) for year in range(anchor.year - 1, anchor.year + 2) if (on := day.on(order, year))]
    late = timedelta(days=7)
    near = [(abs(on - anchor) * (5 if on > anchor + late else 1), year) for year, on in tried]
    distance, year = min(near, default=(timedelta.max, 0))
    return year if distance.days < _NEAR else None


def section_of(line: str, *, top: bool = False) -> int | None:
    """The year of a heading: alone, with the name of a month, with marks of a heading, or in the first lines."""
    if _IN_A_LIST.match(line):
        return None
    years = {int(year) for year in _YEAR.findall(line)}
    words = re.findall(r"[^\W\d_]+", line)
    marked = re.match(r"\s*(?:#|=|\*\*|--)", line) is not None
    short = not words or (len(words) == 1 and month_of(words[0]) is not None) or (len(words) < 9 and (marked or top))
    return years.pop() if len(years) == 1 and short else None


def _with(text: str, year: int) -> str:
    if re.fullmatch(r"[\d\s]+[./][\d\s]+[./]?", text):
        return f"{text.rstrip('./')}{'.' if '.' in text else '/'}{year}"
    if "月" in text or "월" in text:
        return f"{year}{'年' if '月' in text else '년'}{text}"
    return f"{text} {year}"
