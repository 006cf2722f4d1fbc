"""What kind of thing a cell or a line holds, before anybody knows what it is for."""

# ruff: noqa: RUF001, E501  # the signs that people type are meant
from __future__ import annotations

import re
import unicodedata
from datetime import date, datetime
from functools import lru_cache

from tourstats.reading import vocabulary
from tourstats.reading.days import day_in
from tourstats.reading.lines import INVISIBLE
from tourstats.reading.titles import fold
from tourstats.reading.workbooks import Cell

NOTHING, NUMBER, DAY, DAY_AND_TEXT, SHORT_DAY, TIME, LABEL, NO_SONG, KEY, TEXT = KINDS = (
    "nothing", "number", "day", "day and text", "short day", "time", "label", "no song", "key", "text",
)  # fmt: skip
DAYS = (DAY, DAY_AND_TEXT)
ANY_DAY = (DAY, DAY_AND_TEXT, SHORT_DAY)
WORDS = (TEXT, KEY, DAY, DAY_AND_TEXT, SHORT_DAY, NUMBER)
"""What a title may look like."""

ENCORES = rf"{vocabulary.ENCORES}|[ea]kstra|zug"
"""What an encore is called, where a label or a column says it."""
CANCELLED = (
    r"cancell?ed|postponed|rained off|called off|no show|abgesagt|ausgefallen|f[aä]llt aus|verschoben|annul[ée]+e?s?|report[ée]e?|cancelad[oa]|anulad[oa]|suspendid[oa]|"
    r"aplazad[oa]|adiad[oa]|annullat[oa]|rinviat[oa]|odwołan[yea]|przełożon[ya]|afgelast|geannuleerd|uitgesteld|inst[aä]lld|avlyst|aflyst|udsat|utsatt|peruttu|zrušeno|zrušené|elmarad|отмен[её]н\w*"
)
"""What is said of a show that was not played."""
_LABEL = re.compile(
    rf"\W*(?:[^\W\d_]{{2,12}}\s?\d(?=:)|(?<=[=*~#-]{{2}} )[ezrb](?= [=*~#-]{{2}})|(?:1st|2nd|3rd|first|second|third|main|early|late|acoustic|electric)[\s-]+set|set\s*(?:\d|one|two|three|i{{1,3}})?|(?:(?:1st|2nd|first|second|the)\s+)?(?:{ENCORES})\s*(?:break|set)?\s*\d?|[ezrbt]\d|[ezrb]\s*:"
    r"|teil\s*\d|part\s*(?:\d|one|two)|set\s?-?lists?|main(?:\s+set)?|hauptset|(?:the\s+)?(?:show|gig|concert|set)\s*:|(?:1st|2nd|first|second|1\.|2\.)\s+half|(?:erste|zweite|1\.|2\.)\s+hälfte)\W*(?:\(?\d+\s*(?:songs?|min(?:utes)?)\)?)?\W*",
    re.IGNORECASE,
)
_SAID_LABEL = re.compile(rf"(?:[^\W\d_]{{1,4}} ){{1,2}}(?:{ENCORES})\s*:?", re.IGNORECASE)
"""An encore as it is said in small letters: "y de bis"."""
_ENCORE = re.compile(rf"\b(?:{ENCORES})\b|^\W*[ezrbt]\d|^\W*[ezrb]\W*$|アンコール|앙코르|安可", re.IGNORECASE)
_BREAK = r"(?:intermission|interval|(?:\d+\s?min\w*\s+|short\s+|long\s+)?(?:break|pausa?e?|pauze|paus|przerwa|tauko|szünet|přestávka|pauza))(?:\W+\d+\s?min\w*)?(?:\s*\([^()]*\)|, [^\W\d_]+)?"
_NO_SONG = re.compile(
    rf"\W*(?:tb[cad]|{CANCELLED}|{_BREAK}|n/?a|travel(?: day)?|day off|off|"
    r"unknown|unbekannt|missing|no (?:list|record|data)|not recorded|soundcheck|doors|curfew)\W*",
    re.IGNORECASE,
)
_ERRORS = r"#(?:n/?a|ref!?|value!?|name\??|div/0!?|null!?|num!?)"
_ERROR = re.compile(_ERRORS, re.IGNORECASE)
TOTALS = r"total|totaal|totalt|i alt|yhteens[aä]|celkem|sum|summe|gesamt|razem|suma|length|duration|dauer|end of set|totale?|running time|attendance|audience|capacity|tickets|people|songs|count"
"""What counts other rows is called, as part of a pattern."""
_SURELY_NO_SONG = re.compile(
    rf"\W*(?:{TOTALS})s?\s*[:=]?\s*(?:\d.*)?|\W+|(?:#[^\W\d]\w*[\s,]*){{2,}}|\S+@\S+\.\w+|https?://\S+|\+\d[\d\s()/-]{{7,}}|{_ERRORS}|"
    r"\d{1,3} (?:songs|tunes|lieder|stücke|titres|chansons|canciones|temas|brani|liedjes|låtar|sange|paid|paying)",
    re.IGNORECASE,
)
_KEY = re.compile(r"[A-Ha-h][#b♭♯]?\s?(?:m|min|maj|dur|moll|major|minor)?7?")
_TIME = re.compile(
    r"~?\d{1,3}\s?[:'’]\s?\d{2}(?:[:.]\d\d)?\"?(?:\s*(?:min|h|uhr|am|pm))?|\d{1,3}\s?(?:min|mins|minutes|'|h)|\d{1,2}h\d{2}|\d{1,2}\s?uhr",
    re.IGNORECASE,
)
RECORDED = r"\.(?:wav|mp3|m4a|flac|aiff?|ogg)"
"""How the name of a recording ends, as part of a pattern."""
STRIKE = "\u0335\u0336\u0337\u0338"


def kind_of(value: Cell) -> str:
    """Kind of a cell.

    Examples
    --------
    >>> [kind_of(one) for one in ("14 March 2031, Ostby", 12.0, "3:45", "Encore", "Total 20", "F#m", "Salt Lantern")]
    ['day and text', 'number', 'time', 'label', 'no song', 'key', 'text']

    """
    if value is None or isinstance(value, bool):
        return NOTHING if value is None else TEXT
    if isinstance(value, float | int):
        return NUMBER
    if isinstance(value, date | datetime):
        return DAY
    return _kind_of_text(value.strip())


@lru_cache(maxsize=262144)
def _kind_of_text(text: str) -> str:  # noqa: PLR0911  # one kind after the other
    if not text:
        return NOTHING
    if re.fullmatch(r"[#(]?\d+[.)]?|\d+[.,]\d+|[-−]\d+|\d+%|[$€£]\s?\d[\d.,]*|\d{1,3}(?:,\d{3})+", text):
        return NUMBER
    if _TIME.fullmatch(text):
        return TIME
    if is_label(text):
        return LABEL
    if _NO_SONG.fullmatch(text) or _SURELY_NO_SONG.fullmatch(text):
        return NO_SONG
    found = day_in(text)
    if found is not None and found.full:
        return DAY_AND_TEXT if found.rest else DAY
    if found is not None and not found.rest:
        return SHORT_DAY
    return KEY if _KEY.fullmatch(text) else TEXT


def plain_signs(line: str) -> str:
    r"""
    Take what cannot be seen out of a line; a digit in a box, or a wide one, is a number.

    Examples
    --------
    >>> plain_signs("1\ufe0f\u20e30\ufe0f\u20e3 Salt Lantern\u200b"), plain_signs("\uff13\uff0eFerry")
    ('10. Salt Lantern', '3.Ferry')

    """
    line = re.sub(
        r"^(\s*)([\uff10-\uff19]+[\uff0e\uff09\u3001]?)", lambda match: f"{match[1]}{_narrow(match[2])}", line
    )
    boxed = re.sub(r"^(\s*)((?:\d\ufe0f?\u20e3)+)", lambda match: f"{match[1]}{re.sub(r'[^0-9]', '', match[2])}.", line)
    return INVISIBLE.sub("", boxed).replace("\U0001f51f", "10.")


def _narrow(count: str) -> str:
    return unicodedata.normalize("NFKC", count.replace("\u3001", "."))


def is_label(text: str) -> bool:
    """Whether a text is a heading inside a set: "Set 2", "ENCORE:"."""
    return _LABEL.fullmatch(text) is not None or (text[:1].islower() and _SAID_LABEL.fullmatch(text) is not None)


def is_encore(text: str) -> bool:
    """Whether a heading inside a set is that of the encore."""
    return _ENCORE.search(text) is not None


def is_surely_no_song(text: str) -> bool:
    """Whether a text is a total, an error of a spreadsheet, or nothing but signs."""
    return _SURELY_NO_SONG.fullmatch(text) is not None


def is_error(text: str) -> bool:
    """Whether a cell holds what a spreadsheet writes where it could not reckon: "#N/A", "#REF!"."""
    return _ERROR.fullmatch(text.strip()) is not None


def is_no_song(text: str) -> bool:
    """Whether a text says that something was not played or not known."""
    return _NO_SONG.fullmatch(text) is not None or is_surely_no_song(text)


def is_pause(text: str) -> bool:
    """Whether a text names a pause, or says that nothing was played: no set holds a song of that name alone."""
    return (
        re.fullmatch(
            rf"\W*(?:{_BREAK}|{CANCELLED}|tb[cad])\W*",
            text,
            re.IGNORECASE,
        )
        is not None
    )


_AROUND = re.compile(
    r"\W*(?:line[\s-]?check|sound[\s-]?check|walk[\s-]?(?:in|on|out|off)(?: music| tape)?|(?:house|break|intro|outro) (?:music|tape)|intro|outro|mute all|blackout|talk ?back|"
    r"applause|end of (?:the )?(?:show|set)|bow|bows|credits)\W*",
    re.IGNORECASE,
)


def is_around(text: str) -> bool:
    """Whether a text is what desks, films and plans call what is before and behind the songs: of every show, it is none."""
    return _AROUND.fullmatch(text) is not None


def is_struck(text: str) -> bool:
    """Whether a text is struck out with signs."""
    letters = sum(sign.isalnum() for sign in text)
    overlaid = sum(sign in STRIKE for sign in text)
    return bool(re.fullmatch(r"\W*(~~|--)\s*\S.*\S?\s*\1\W*", text)) or (overlaid > 0 and overlaid >= 0.6 * letters)


def unstruck(text: str) -> str:
    """A text without the signs that strike it out."""
    return (
        re.sub(r"^\s*(~~|--)(.*)\1\s*$", r"\2", text.translate({ord(sign): None for sign in STRIKE}))
        .replace("~~", "")
        .strip()
    )


def shown(value: Cell) -> str:
    """A cell as the person would read it: 1847.0 is "1847".

    Examples
    --------
    >>> shown(1847.0), shown("  Ferry "), shown(True)
    ('1847', 'Ferry', 'yes')

    """
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return str(int(value)) if value.is_integer() else str(value)
    if isinstance(value, datetime | date):
        return f"{value:%Y-%m-%d}"
    return " ".join(unicodedata.normalize("NFC", str(value)).split())


def lines_of(value: Cell) -> str:
    r"""A cell as the person would read it, with a stroke between its lines.

    Examples
    --------
    >>> lines_of("Ostby\nSalt Hall ")
    'Ostby / Salt Hall'

    """
    return " / ".join(filter(None, map(shown, value.splitlines()))) if isinstance(value, str) else shown(value)


@lru_cache(maxsize=262144)
def tight(text: str) -> str:
    """A title without case, accents, punctuation and spaces.

    Examples
    --------
    >>> tight("Salt Road") == tight("salt-road"), tight("???")
    (True, '???')

    """
    return fold(text).replace(" ", "")


def whole_number(value: Cell) -> int | None:
    """A cell as a whole number, where it is one."""
    if isinstance(value, float):
        return int(value) if value.is_integer() else None
    match = re.fullmatch(r"\W*(\d{1,9})(?:\.0)?\W*", value) if isinstance(value, str) else None
    return int(match[1]) if match else None
