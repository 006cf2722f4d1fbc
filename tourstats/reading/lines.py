"""Taking a line apart: what may stand before a title, behind it, and between two; and lines that hold no song."""

# ruff: noqa: RUF001, E501, SIM905  # the signs that people type are meant, and a pattern is read in one piece
from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass, replace
from itertools import pairwise

from tourstats.reading.titles import fold
from tourstats.reading.vocabulary import BREAKS, ENCORES, EXTRAS, NEWS

INVISIBLE = re.compile("[\u200b-\u200f\u202a-\u202e\u2060-\u2064\ufe0e\ufe0f\ufeff\u00ad]")
_CONTROL = re.compile(r"[\x00-\x08\x0e-\x1f\x7f]")

PICTURES = "\U0001f000-\U0001f9ff\u23e9-\u23fa\u2600-\u26ff\u2702\u2728-\u2764"
_ENCORE_WORD = rf"(?:{ENCORES})"
_IF_ASKED = r"(?:(?:then,? )?if (?:they (?:\w+ ?){1,3}|there(?: is|['’]?s) (?:an|one)(?: encore)?|asked(?: for)?|we get one|need(?:ed)?|wanted)|falls (?:noch )?(?:gew[uü]nscht|zugabe)|s['’]?ils en (?:veulent|redemandent)|s['’]?il y a rappel|jos (?:pyydet[aä]{2}n|huudetaan)|si piden(?: otra)?)"
"""What a song is kept ready for."""
_NO_ENCORE = re.compile(
    rf"(?:no|kein\w*|ohne|without|pas d[ e]|sans|sin|senza|geen|zonder|uden|ingen|utan) ?{_ENCORE_WORD}\b"
)
_ENCORE_MARK = re.compile(
    rf"(?:(?:the |first |second |third )*{_ENCORE_WORD}|{EXTRAS})(?: (?:break|set|\d{{1,2}}|[ivx]+))?|e ?(?:\d{{1,2}})?|(?:and )?{_IF_ASKED}"
)
_ENCORE_FRONT = re.compile(
    rf"(?:(?:the|and|y|et|und|for|as|en|de|als|im|in|comme|como|first|second|third|1st|2nd|3rd)\s+)*[(\[*]*(?:{_ENCORE_WORD}(?![^\W\d_])(?::(?=[)\]]))?[)\]]?\s*(?:#?\d{{1,2}}|[ivx]+\b)?|e\s?[-#]?\s?\d{{1,2}}\b[)\]]?|[zrb]\d\b[)\]]?(?=\s)|(?:{EXTRAS})\s?[:：.](?!\d)|(?:{_IF_ASKED})(?=:|\s{{2}}|\s[-–—]))"
    rf"[\s).:\-–—|>=*{PICTURES}]*(?=\S)",
    re.IGNORECASE,
)
_LONE = r"(?:[(\[]\s?{0}\s?[)\]]|(?!\w\.\s?[^\W\d_]\.){0}\s?[.:)\]]|{0}\s?[-–—|/>]+\s|{0}\t)"
"""A letter that stands alone before a title."""
_LONE_E = re.compile(rf"{_LONE.format('e')}[\s).:\-–—|>=]*(?=\S)", re.IGNORECASE)
_LONE_OTHER = re.compile(
    rf"\W*(?:\d{{1,3}}\W+)?{_LONE.format('(?:[a-df-z][#b♯♭]?(?:m|min|maj)?|e[b♭]|e[b♭]?(?:m|min|maj))')}", re.IGNORECASE
)
_ENCORE_TAIL = re.compile(
    rf"(?:[(\[\-–—:,*]\s*|\s)(?:(?:\d\w*|first|second|third)\s+)?{_ENCORE_WORD}\.?\s*\d*\s*[)\]*]*\s*$|[(\[]\s*e\s?[1-3]\s*[)\]]\s*$",
    re.IGNORECASE,
)

IN_ORDER = r"opener|closer|then|next|finally|followed by|first|second|third|fourth|fifth|sixth|zuerst|dann|danach|puis|ensuite|luego|despu[eé]s"
"""Words before a title that say no more than its place."""
_FRONTS = (
    re.compile(rf"(?:[-–—*•●○◦▪▫■□►▸▶‣⁃∙·✓✔✗☐☑→⇒>»~+=_|\\/.,;:!{PICTURES}]|\[\s?[xX]?\s?\]|o(?=\s+\S))+\s*(?=\S)"),
    re.compile(r"\d{1,2}[:.h]\d{2}(?::\d{2})?\s*(?:h|uhr|am|pm)?\s*[-–—:|)]?\s+(?=\S)", re.IGNORECASE),
    re.compile(
        r"[(\[#<]*\s*(?:(?:no|nr|track|song|pos)\b\.?|n°|№|#)?\s*\d{1,3}(?:[a-c](?=[.)]))?(?:[\s)\].:\-–—/|>,;_=*\u20e3．、。】）]+|(?:st|nd|rd|th|º|°)\s+)(?=\S)",
        re.IGNORECASE,
    ),
    re.compile(r"[\u2460-\u24ff\u2776-\u2793][\s.):\-–—]*(?=\S)"),
    re.compile(r"(?!(?:[^\W\d_]\.){2})[(\[]?(?:[ivxlc]{1,7}|[a-z])[)\].:]+\s*(?=\S)", re.IGNORECASE),
    re.compile(r"[ivx]{1,5}\s+[-–—|]*\s*(?=\S)", re.IGNORECASE),
    re.compile(
        r"(?:new(?: song| tune| one)?|brand new|opener|opening|open with|closer|closing|close with|last(?: song)?|song|medley|intro|outro|solo|maybe|then|acoustic|"
        r"set \w+|s\s?\d|audible|alternate|alt|(?:set ?(?:list)? )?(?:for )?(?:tonight|today)(?:['’]?s set(?: ?list)?)?|heute(?: abend)?|ce soir|stasera|esta noche|"
        r"set(?: ?list)?)\s*(?:[:>|]|\s[-–—]+\s)\s*(?=\S)",
        re.IGNORECASE,
    ),
    re.compile(r"(?:maybe|perhaps|possibly|vielleicht)\s+(?=\S)", re.IGNORECASE),
    re.compile(rf"(?:and )?(?:{IN_ORDER})\s*(?:[:>|]|\s[-–—]\s|\s)\s*(?=\S)", re.IGNORECASE),
)
_NUMBER = re.compile(r"\d+")

_KEY = r"[A-H](?:#|b|♯|♭|is|es|s)?(?:\s?(?:m|mi|min|maj|minor|major|dur|moll|sus\d?))?\d?"
_REMARKS = (
    "acoustic|electric|new|short|long|slow|slower|fast|faster|solo|intro|outro|half ?time|double ?time|full band|band only|if time|"
    "maybe|tbc|tbd|click|no click|track|with track|version|ver|vers|live|opener|closer|quiet|loud|new tune|unplugged|brushes|"
    "with strings|strings|capo ?\\d*|drop ?[a-h]|low tuning|standard|tacet|segue|cold|fade|vamp|jam|extended|edit|sing ?along|last|first"
)
_BARE_REMARKS = "acoustic|medley|unplugged|half ?time|double ?time|tbc|tbd|capo ?\\d*|drop ?[a-h]|no click|with click|segue|new tune|if time|brushes|tacet"
"""Remarks that stand behind a title without a sign between; "long" or "last" may be its last word."""
_TAILS = (
    re.compile(r"\s+([*_~\"]+)[^*_~\"]+\1$"),
    re.compile(r"[\s*>~→⇒»,;:|/\\+=!?…\-–—.^_†‡§•·❌✗✘✖✂⛔🚫]+$"),
    re.compile(r"\s*[(\[{<（【「][^(\[{<（【「)\]}>）】」]*[)\]}>）】」]?\s*$"),
    re.compile(r"[\s,]+[@~ca.]*\s?\d{1,2}\s?[:'’′.h]\s?\d{2}\s?[\"”″'’]*(?:\s*(?:min|m|h))?$", re.IGNORECASE),
    re.compile(r"[\s,]+\d{1,3}\s?(?:min(?:s|utes)?|sec|s|m|['’′])\.?$", re.IGNORECASE),
    re.compile(r"[\s,]+(?:[♩♪𝅘𝅥𝅮]|q|tempo|bpm|t)?\s*[=:@~]?\s*\d{2,3}(?:[.,]\d+)?\s*(?:bpm)?$", re.IGNORECASE),
    re.compile(rf"[\s,]+(?:in\s+|key(?:\s+of)?\s*[:=]?\s*)?{_KEY}$"),
    re.compile(r"[\s,]+(?:in\s+)?(?:[a-h](?:#|b|♯|♭)?m|[a-h](?:#|♯|♭)|[a-h]\s(?:minor|major|dur|moll|min|maj))$", re.IGNORECASE),
    re.compile(r"[\s,]+(?:x\s?\d{1,2}|\d{1,2}\s?x)$", re.IGNORECASE),
    re.compile(rf"\s+(?:{_BARE_REMARKS}|encore)$", re.IGNORECASE),
    re.compile(r"(?:\s+[-–—~]+\s*|\s*[:;,|\t#]+\s*|\s*//+\s*|\s*\.\.\.+\s*|\s*…\s*|\s{2,}|\s*[-–—]\s+)(?![\s\S]*(?:\s[-–—~]+|[:;,|\t#…]|//|\.\.\.|\s{2}|[-–—]\s)).*$"),
    re.compile(r"\s+(?:w/|with\s|feat\b|ft\b|f/).*$", re.IGNORECASE),
)  # fmt: skip
_KEY_LINE = re.compile(r"[A-H][#b♯♭]?(?:m|min|maj|-?dur|-?moll)?\d?(?:\s*\([^()]*\))?")
_FEWEST = 3
_PLAIN_TAILS = 9
"""Tails, of those above, that are never part of a title: signs, times, tempos, keys, counts."""
_BESIDE = (2, _PLAIN_TAILS)
"""Tails that may belong to a title that nobody knows: in brackets, behind a dash."""
_NEWS = re.compile(rf"(?:{NEWS})(?: (?:song|tune|one))?")
SAID_WORDS = frozenset(
    "acoustic electric unplugged intro outro ending end start starts started count counts click track tempo half double short long "
    "shorter longer slow slower fast faster capo tuning tuned drop key bpm brushes mallets sticks solo solos bar bars verse chorus bridge "
    "vamp fade segue straight gap cold open guitar guitars bass drums keys piano horns strings vocals guest tonight first only no without "
    "with new neu neue nueva nuevo nuova nuovo nouveau nouvelle everyone band crowd singalong talk banter speech change swap watch cue quiet loud big stop stops wait if time cut skip maybe "
    "last extended edit version medley tag jam feel swing straighter heavier lighter premiere debut down up step tone semitone lower higher transposed together alone".split()
)
"""Words of which what is said about a song is made; one of them, apart from the title, makes a remark."""
_DASHED = re.compile(r"\s(?:[-–—]+\s|//\s*)(?=[^-–—]*$).*$")
_SAID_APART = re.compile(r"(?<=\S)(?:\s{3,}|\t)|\s(?=(?:NEW|NEU)!)")
"""What parts a title from what is said of it: a wide gap, or that it is new."""
_SHOUTED = re.compile(
    r"(?<=[a-z\u00df-\u00ff])\s+(?:NEW|NEU|NOUVEAU|NUEVA|NUOVA|NOVA|NIEUW|NY)(?:\s+(?:SONG|TUNE))?\W*$"
)
"""That a song is new, shouted behind a title that is not."""
_WITH_BEHIND = re.compile(r"\s+w/\s?.*$", re.IGNORECASE)
_BARE_NUMBER = re.compile(r"\d{1,3}\s+[^\W\d_]")
_OTHER_SONG = re.compile(
    r"\b(?:part|pt|reprise|reprisal|medley|vol|volume|ii|iii|iv)\b|^\W*(?:[2-9]|two|three)\b(?!\s*/|\s+[^\W\d_]+s\b)",
    re.IGNORECASE,
)
"""What makes another song of a title; a number only right behind it, as "guitar 2", "in 6/8" and "2 guitars" do not."""

_SEGUES = re.compile(
    r"(\s*(?:[-=~]*>+|→|⇒|➔|➜|➝|➡|▶|»)\s*|\s*(?<![\s(\[][wWfF])/+\s*|\s+(?:into|segue|seg\.?|goes into)\s+)",
    re.IGNORECASE,
)
_PLUSES = re.compile(r"(\s+\+\s+)")
_COLUMNS = re.compile(r"(\s*[\t|;,]\s*|\s{3,}|\s+[-–—]\s+)")
_PLAIN_REMARK = re.compile(rf"(?:{_REMARKS}|{_KEY}|\d+(?:[:'.]\d+)?\s*(?:bpm|min|x)?|x\d+)", re.IGNORECASE)

_MONTH = (
    r"(?:jan|feb|mar|apr|may|jun|jul|aug|sep|sept|oct|nov|dec|january|february|march|april|june|july|august|september|october|"
    r"november|december|januar|februar|märz|maerz|mai|juni|juli|oktober|dezember|janvier|février|fevrier|avril|juin|juillet|août|"
    r"aout|septembre|octobre|novembre|décembre|enero|febrero|marzo|abril|mayo|junio|julio|agosto|septiembre|octubre|noviembre|"
    r"diciembre)"
)
_DATE = re.compile(
    rf"\b\d{{4}}[-./]\d{{1,2}}[-./]\d{{1,2}}\b|\b\d{{1,2}}[./-]\d{{1,2}}[./-](?:\d{{4}}|\d{{2}})\b|"
    rf"\b\d{{1,2}}(?:st|nd|rd|th|\.)?\s+(?:of\s+)?{_MONTH}\b\.?|\b{_MONTH}\.?\s+\d{{1,2}}(?:st|nd|rd|th)?\b(?![:'’.]\d)",
    re.IGNORECASE,
)
_NUMBERED_MONTH = re.compile(rf"\W*(?:n[or]\b\W*)?\d{{1,2}}\W*\s+{_MONTH}\b", re.IGNORECASE)
_HEADER = re.compile(
    r"(?:the )?(?:set ?list|song ?list|running order|track ?list|tonight(?:s set)?|todays set|main ?set|haupt ?(?:set|teil)|hovedsett?|premiere partie|acoustic set|electric set|"
    r"(?:set|part|page|akt|act) (?:\d|one|two|three|i{1,3})|(?:\d(?:st|nd|rd)?|first|second|third|1\.|2\.) set|set|intermission|"
    rf"(?:(?:\d{{1,2}} ?(?:min|mins|minutes?|minuten)|short|long) )?(?:{BREAKS})(?: (?:{BREAKS}|\d{{1,2}} ?(?:min\w*)?))*|"
    r"end|fin|the end|end of (?:the )?(?:main )?set|main|notes?|songs?|no song|title|titles|"
    r"programm?e?|programm|liste|setliste|(?:side|set) [a-d]|[a-d] (?:side|set)|side (?:one|two)|first|second|first half|second half)"
)
_CLOCK = re.compile(
    r"(?:doors?|curfew|load ?in|load ?out|get ?in|sound ?check|line ?check|stage(?: time)?|on ?stage|show ?time|start|end|finish|"
    r"support|dinner|bus call|lobby(?: call)?|changeover|set(?: time| length)?|beginn|einlass|total|running time|length|duration)\b"
)
_CLOCK_BEFORE = re.compile(r"\s*\d{1,2}[:.h]\d{2}\s*(?:h|uhr|am|pm)?\s*[-–—:|)]?\s+(?=[^\W\d_])", re.IGNORECASE)
_SET_LENGTH = re.compile(
    r"(?:(?:set|only|just|max|about|ca|circa|total|we have|we only have|short set|long set) )*\d{1,3} ?(?:mins?|minutes?|minuten|m|h|hours?|std)"
    r"(?: (?:only|max|set|total|tonight|sharp|slot|nur|short set|including encores?|incl encores?|with encores?|no encores?))*"
)
"""How long the set is to be, said on a line of its own."""
_COLUMN_NAMES = frozenset(
    "no nr pos song songs title titel time length dauer key tonart bpm tempo notes note remarks who start gear".split()
) | {"#"}
_LABELLED = re.compile(
    r"\s*(?:date|datum|venue|city|town|place|ort|band|artist|tour|leg|show|gig|room|hall|location|festival|day|stage|set length|length|"
    r"total|duration|crew|foh|from|by|subject|sent|to)\s*(?:#|no\.?|nr\.?)?\s*[:=#]",
    re.IGNORECASE,
)
_PLACE = re.compile(
    r"\b(?:hall|theatre|theater|club|arena|festival|ballroom|pavilion|stadium|auditorium|opera house|halle|tour|live at|@|leg)\b|@|\bat the\b"
)


@dataclass(frozen=True)
class Reading:
    """One way to take a line: what may be the title, and what was taken off.

    Attributes
    ----------
    text
        What may be the title.
    numbered
        Whether a number or a letter stood before it.
    encore
        Whether something before or behind it says encore.
    off
        What was taken off behind it.
    perhaps
        Whether a lone E stood before it, which says encore if the rest is a title.
    start
        Character of the line at which the text begins, from 0.

    """

    text: str
    numbered: bool = False
    encore: bool = False
    off: str = ""
    perhaps: bool = False
    start: int = 0

    @property
    def end(self) -> int:
        """Character of the line behind the text."""
        return self.start + len(self.text)

    @property
    def cut_at_a_word(self) -> bool:
        """Whether what was taken off begins with a word that titles have too: "with"."""
        return re.match(r"(?:with|feat|ft)\b", self.off, re.IGNORECASE) is not None

    @property
    def names_another(self) -> bool:
        """Whether what was taken off may make it another song: "(Part 2)", "reprise"."""
        behind = re.sub(r"\d{1,2}[:'’.]\d{2}|\b\d{2,}\b|x\s?\d|\d\s?x|capo\s*\d+|\d+\s*(?:min|m|')", " ", self.off)
        return bool(_OTHER_SONG.search(behind))


_DOTS = re.compile(r"(?<=\w) \.\. (?=\w)")
"""What somebody types for a dash."""


def cleaned(line: str) -> str:
    r"""Take out what cannot be seen, and write every space as one of ours.

    Examples
    --------
    >>> cleaned("\ufeffTin\u00a0Rook\u200b  ")
    'Tin Rook'

    """
    line = re.sub(r"(?<=\d)′(?=\d\d)", ":", _DOTS.sub(" - ", line))
    if line.isascii() and line.isprintable():
        return line.strip()
    seen = _CONTROL.sub(" ", INVISIBLE.sub("", line))
    return "".join(" " if letter != "\t" and letter.isspace() else letter for letter in seen).strip()


_KEY_IN_BRACKETS = re.compile(r"(?:[E\d]\d*\W+)?[(\[]([A-H][#b]?m?7?)[)\]]\s")


def lettered(lines: Iterable[str]) -> bool:
    """Whether lines begin with letters other than E, for counting or for keys, so that an E alone says nothing.

    Examples
    --------
    >>> lettered(["a) Ferry", "e) Tin Rook"]), lettered(["Am - Ferry"]), lettered(["Ferry", "E. Tin Rook"])
    (True, True, False)
    >>> lettered(["G  96  Ferry", "E  104  Wren", "Am  88  Salt Road"])
    True

    """
    lines = list(lines)
    keys = {word for line in lines if is_key(word := line.split(maxsplit=1)[0] if line else "")}
    keys |= {found[1] for line in lines if (found := _KEY_IN_BRACKETS.match(line))}
    return len(keys) >= _FEWEST or any(_LONE_OTHER.match(line) for line in lines)


def fronts(line: str, *, letters: bool = False) -> list[Reading]:
    """Give the line as it is, then with one thing after the other taken off its front.

    With `letters`, a lone E is one of the letters that count the lines and no encore.

    Examples
    --------
    >>> [reading.text for reading in fronts("E1. #3 Ferry")]
    ['E1. #3 Ferry', '#3 Ferry', 'Ferry']
    >>> [reading.encore for reading in fronts("E: Ferry")], [reading.perhaps for reading in fronts("E. Ferry")]
    ([False, True], [False, True])

    """
    ways = [Reading(line.strip(), start=len(line) - len(line.lstrip()))]
    for _ in range(4):
        last = ways[-1]
        mark = _ENCORE_FRONT.match(last.text) or (None if letters else _LONE_E.match(last.text))
        rest = last.text[mark.end() :].strip() if mark else ""
        if mark and rest:
            lone = mark.re is _LONE_E and ":" not in mark.group()
            encore, start = last.encore or not lone, _from(last, rest)
            ways.append(Reading(rest, last.numbered, encore, perhaps=last.perhaps or lone, start=start))
            continue
        for place, front in enumerate(_FRONTS):
            mark = front.match(last.text)
            rest = last.text[mark.end() :].strip() if mark else ""
            if rest:
                numbered = (
                    last.numbered or place in (2, 3, 4) or bool(_NUMBER.search(last.text[: len(last.text) - len(rest)]))
                )
                ways.append(Reading(rest, numbered, last.encore, perhaps=last.perhaps, start=_from(last, rest)))
                break
        else:
            break
    return ways


def _from(before: Reading, rest: str) -> int:
    """Character at which the rest of a reading begins, which goes to its end but for spaces."""
    return before.start + before.text.rfind(rest)


def tails(reading: Reading) -> list[Reading]:
    """Give the reading as it is, then with one thing after the other taken off behind it.

    Examples
    --------
    >>> [found.text for found in tails(Reading("Ferry (new!), capo 3 3:45 Am"))]
    ['Ferry (new!), capo 3 3:45 Am', 'Ferry (new!), capo 3 3:45', 'Ferry (new!), capo 3', 'Ferry (new!),', 'Ferry (new!)',
     'Ferry']

    """
    ways = [reading]
    for _ in range(8):
        last = ways[-1]
        encore = last.encore or bool(_ENCORE_TAIL.search(last.text))
        for tail in _TAILS:
            mark = tail.search(last.text)
            rest = last.text[: mark.start()].rstrip() if mark else ""
            if rest and fold(rest) and any(letter.isalnum() for letter in rest):
                off = f"{last.text[len(rest) :]} {last.off}".strip()
                ways.append(Reading(rest, last.numbered, encore, off, last.perhaps, last.start))
                break
        else:
            break
    return ways


def readings(line: str, *, letters: bool = False) -> list[Reading]:
    """Every way to take a line, the one that leaves most of it first; each text once. `letters` as for `fronts`."""
    seen: dict[str, Reading] = {}
    for front in fronts(line, letters=letters):
        for reading in tails(front):
            seen.setdefault(reading.text, reading)
    return list(seen.values())


def likely_title(line: str, *, numbered: bool = True) -> str:
    """Title that a line would get as a new song: without numbering, times, keys, tempos and plain remarks.

    A bare number before it belongs to the title unless the lines of the set are `numbered`.

    Examples
    --------
    >>> likely_title("12. Gravel Pylon (new!) 3:45"), likely_title("Half (Moon)"), likely_title("1847")
    ('Gravel Pylon', 'Half (Moon)', '1847')
    >>> likely_title("Weathercock NEW"), likely_title("Something New"), likely_title("ALL NEW")
    ('Weathercock', 'Something New', 'ALL NEW')
    >>> likely_title("13 Lichtung West          4:20 neu"), likely_title("The Choir NEW! first time, be nice")
    ('Lichtung West', 'The Choir')

    """
    return " ".join(likely(line, numbered=numbered).text.split())


def likely(line: str, *, numbered: bool = True) -> Reading:
    """The reading of a line that leaves the title it would get as a new song, as `likely_title`."""
    found = fronts(line)
    if not numbered:
        found = [reading for reading in found if not _BARE_NUMBER.match(line) or reading is found[0]]
    whole = [reading for reading in found if reading.encore == found[-1].encore]  # no encore mark is left before it
    best = next((reading for reading in whole if reading.numbered), found[-1])
    best = next((one for one in found if says_new(best.text.removesuffix(one.text).strip(" :-–—>"))), best)
    text = _SAID_APART.split(best.text)[0]
    for _ in range(6):
        for place, tail in enumerate((*_TAILS[:_PLAIN_TAILS], _DASHED, _WITH_BEHIND, _SHOUTED)):
            mark = tail.search(text)
            rest = text[: mark.start()].rstrip() if mark else ""
            plain = mark is not None and (place not in _BESIDE or _is_said(rest, mark.group()))
            if rest and plain and any(letter.isalnum() for letter in rest):
                text = rest
                break
        else:
            break
    return replace(best, text=text)


def segues(text: str) -> list[str]:
    """Split where one song goes into the next; every other item is what stood between.

    Examples
    --------
    >>> segues("Ferry > Tin Rook / Salt Road into Copper Wire")
    ['Ferry', ' > ', 'Tin Rook', ' / ', 'Salt Road', ' into ', 'Copper Wire']

    """
    return _SEGUES.split(text)


def pluses(text: str) -> list[str]:
    """Split where songs are added up, as in a medley: "Ferry + Tin Rook"; every other item is what stood between."""
    return _PLUSES.split(text)


def cells(text: str) -> list[str]:
    """Split where a line may have columns or a list; every other item is what stood between."""
    return _COLUMNS.split(text)


def is_remark(text: str) -> bool:
    """Whether a piece of a line is a key, a time, a tempo or a plain remark, and no title."""
    bare = text.strip(" ()[]*!.-–—:;,|=♩♪+")
    return not bare or _PLAIN_REMARK.fullmatch(bare) is not None


def reads_like_a_remark(text: str) -> bool:
    """Whether what stands behind a title, apart from it by a sign, is said about it and no part of it.

    Examples
    --------
    >>> [reads_like_a_remark(text) for text in ("(new ending)", "- Odile starts", "(Moon)", "(Part 2)")]
    [True, True, False, False]

    """
    if is_remark(text) or _ENCORE_TAIL.search(text) or says_new(text):
        return True
    return _OTHER_SONG.search(text) is None and bool(SAID_WORDS.intersection(fold(text).split()))


def _is_said(title: str, behind: str) -> bool:
    """Whether what stands behind a title that nobody knows is said of it: by its words, or small beside capitals."""
    words = re.findall(r"[^\W\d_]+", behind)
    small = any(word.islower() for word in words if len(word) > len("the"))
    large = all(word[0].isupper() for word in re.findall(r"[^\W\d_]{4,}", title))
    return reads_like_a_remark(behind) or (small and large and not _OTHER_SONG.search(behind))


def says_new(text: str) -> bool:
    """Whether words say no more than that a song is new, in one of several languages."""
    return _NEWS.fullmatch(fold(text)) is not None


def is_encore_mark(line: str) -> bool:
    """Whether a line only says that the encore begins.

    Examples
    --------
    >>> [is_encore_mark(line) for line in ("--- ENCORE ---", "Zugabe:", "E1", "Encore Song")]
    [True, True, True, False]

    """
    return _ENCORE_MARK.fullmatch(fold(line)) is not None


def has_date(line: str) -> bool:
    """Whether a day is written in the line, outside brackets."""
    return _DATE.search(re.sub(r"\([^)]*\)", " ", line)) is not None


def date_in(line: str) -> re.Match[str] | None:
    """Find a day with its month in words, or with its year."""
    return _DATE.search(line)


def may_be_numbered(line: str) -> bool:
    """Whether what reads like a day may be the number of a line and a title: "7. March for Osk".

    Examples
    --------
    >>> [may_be_numbered(line) for line in ("7. March for Osk", "7. March 2031 Westhallow", "7. March")]
    [True, False, True]

    """
    return _NUMBERED_MONTH.match(line) is not None and re.search(r"\b\d{4}\b", line) is None


def is_key(line: str) -> bool:
    """Whether a line holds a key and nothing else, or what is said in brackets."""
    return _KEY_LINE.fullmatch(line) is not None


def keyed(lines: Iterable[str]) -> bool:
    """Whether keys stand on lines of their own, below their songs.

    Examples
    --------
    >>> keyed(["Ferry", "G", "Wren", "Am (no click)", "Salt Road", "E"]), keyed(["Ferry", "G", "Wren"])
    (True, False)

    """
    keys = list(map(is_key, lines))
    return sum(keys) >= _FEWEST and not any(one and other for one, other in pairwise(keys))


def counts_on(line: str, below: str) -> bool:
    """Whether a line has the number 1 before it, and the one below it the number 2.

    Examples
    --------
    >>> counts_on("No. 1 March for Osk", "No. 2 Ferry"), counts_on("1. March, Westhallow", "1. Ferry")
    (True, False)

    """
    return bool(re.match(r"\D{0,5}0?1\b", line) and re.match(r"\D{0,5}0?2\b", below))


def why_no_song(line: str) -> str:  # noqa: PLR0911  # one reason after the other
    """Say why a line that fits no title certainly holds no song, or nothing."""
    timed = _CLOCK_BEFORE.match(line)
    words = line[timed.end() :] if timed else line
    folded, bare = fold(words), fold(re.sub(r"\s*[(\[][^()\[\]]*[)\]]\s*$", "", words))
    if not any(letter.isalnum() for letter in unicodedata.normalize("NFKC", line)):
        return "only signs"
    if re.fullmatch(r"[\d\s.:/\-–—'()#=]+", line):
        return "only numbers"
    if _SET_LENGTH.fullmatch(folded):
        return "a length"
    if is_encore_mark(words):
        return "encore"
    if _NO_ENCORE.match(folded):
        return "talk"
    if (
        _HEADER.fullmatch(folded)
        or _HEADER.fullmatch(bare)
        or all(fold(cell) in _COLUMN_NAMES for cell in cells(line)[::2])
    ):
        return "a heading"
    if has_date(line):
        return "a heading with a date"
    if _CLOCK.match(folded) and re.search(r"\d", line):
        return "a time of the day"
    if _LABELLED.match(line) or re.search(r"https?://|www\.|\S@\S+\.\w", line):
        return "a heading"
    return ""


def names_a_place(line: str) -> bool:
    """Whether a line reads like a place or a tour."""
    return _PLACE.search(fold(line)) is not None or "@" in line
