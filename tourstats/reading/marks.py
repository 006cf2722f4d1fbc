"""What stands around a title on a set: what is said about the song, where it goes straight on, whether it is out."""

# ruff: noqa: RUF001, E501  # the signs that people type are meant, and a pattern is read in one piece
from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

from tourstats.reading import lines as lines_
from tourstats.reading.titles import fold
from tourstats.reading.vocabulary import OUTS

_ITEMS = re.compile(
    r"\([^()]*\)?|\[[^\[\]]*\]?|\{[^{}]*\}?|【[^】]*】?|（[^）]*）?|"
    r"(?:(?!\s[-–—~]+\s|\s{3,}|\s?//)[^()\[\]{}【】（）|\t;])+|\s[-–—~]+\s|\s{3,}|\s?//|[|\t;)\]}】）]"
)
"""Brackets with what is in them, and what stands between brackets, columns and dashes."""
_AROUND = " \t\"'“”*_`.,:;!|/\\=+~-–—•·()[]{}<【】（）#"
_POINTS = "<>→⇒➔➜➝➡▶»"
_ARROW = re.compile(r"(?:[-=~]*>+|→|⇒|➔|➜|➝|➡|▶|»)\s*$")
_ARROW_FIRST = re.compile(r"^\s*(?:[-=~]*>+|→|⇒|➔|➜|➝|➡|▶|»)")
_SEGUE = re.compile(
    r"(?:segue|seg|attacca|enchain\w*|(?:ohne|sans|sin|senza|uden|utan|zonder) (?:pause|pausa|paus|pauze)|no (?:gap|break|stop|pause)|(?:straight|right) (?:on|into(?: the)? next)|(?:gleich|direkt|sofort) weiter|into(?: the)? next|goes into next|runs on)"
)
_ONLY_SEGUE = re.compile(r"\W*(?:segue|seg|attacca)?\W*", re.IGNORECASE)
_SEGUE_WITHIN = re.compile(r"\b(?:segues?|attacca|no gap|straight into|goes (?:straight )?into)\b")
_CUT = re.compile(
    rf"(?:{OUTS}|(?:is |was )?(?:cut|out|skip(?:ped)?|dropped?|scratch(?:ed)?|struck|cancel(?:led|ed)?|removed|left out|gestrichen|omit(?:ted)?|entfällt|entfallt|"
    r"raus|supprimé|supprime|weg|off the set|not played|no)(?: for)?(?: (?:tonight|today|now|time))?|not (?:tonight|today)|do not play|dont play|"
    r"no longer in|not in (?:the )?set|(?:we )?(?:skip|drop|cut)(?: (?:it|this|that))?|nicht heute|heute nicht|pas ce soir)"
)
_CUT_BEFORE = re.compile(
    r"\s*(?:\d{1,2}[.):]*\s+)?(?:[-*•\[(]\s*)?(?:cut|skip|drop|scratch|crossed out|struck(?: out)?|not tonight|no longer|(?:durch)?gestrichen|barré|rayé|tachad[oa])\s*[\])]?\s*[:\-–—]?\s+|\s*[❌✗✘✖✂⛔🚫]\ufe0f?\s*|\s*out\s*:\s*",
    re.IGNORECASE,
)
_PERHAPS = re.compile(
    r"(?:maybe|perhaps|possibly|vielleicht|peut etre|undecided|not sure|unsure|to be decided|optional|opt|if we want|we will see|well see|"
    r"tell you later|decide later|let me know)(?: (?:not|tonight|cut|skip|out))?"
)
_HANGS_ON = re.compile(
    r"\b(?:only if|(?:skip|drop|cut|out|leave out|not) if|unless|depends|depending on|moved (?:to|up|down|back)|next (?:week|time|show|month)|tomorrow|another (?:night|day|time)|on hold|reserve|"
    r"standby|on standby|in case|else skip|nur wenn|nachste woche|nachstes mal|seulement si|la prochaine|demain|solo si|manana|alleen als|volgende week|solo se|domani)\b|"
    r"^no$|^no (?:next|tomorrow|later|sorry|wait|it is|its)\b"
)
"""Words behind a title by which it is open whether it is played tonight, or where."""
_PERHAPS_BEFORE = re.compile(
    r"\W*(?:\d{1,2}\W+)?(?:maybe|perhaps|possibly|optional|vielleicht)\b[\s:\-–—]*", re.IGNORECASE
)
_NEW = re.compile(
    r"\b(?:new song|brand new|first time(?! since| in )(?: ever)?|first ever|premiere|premier|world premiere|debut|never played|neuer song|neues stuck|"
    r"nouvelle chanson|live debut|tour debut)\b"
)
NEW_BEFORE = re.compile(r"(?:\W|\d)*(?:brand )?new(?: song| tune| one)?\s*[:>|–—-]", re.IGNORECASE)
_LENGTH = re.compile(
    r"[@~]?\s*\d{1,2}\s?[:'’′]\s?\d{2}\s?[\"”″'’]*(?:\s*(?:min|m))?|\d{1,2}(?:[.,]5)?\s?(?:mins?|minutes?|['’′])",
    re.IGNORECASE,
)
_ONE_OR = re.compile(r"^\W*(?:or|oder|ou|o|else)\s+(?=\S)", re.IGNORECASE)


@dataclass(frozen=True)
class Said:
    """What stands before and behind a title.

    Attributes
    ----------
    remark
        What is said about the song, as it is written, without brackets and lengths; empty if nothing.
    segue
        Whether the song goes straight into the next.
    cut
        Whether the song is struck out by a word: "cut", "not tonight".
    perhaps
        Whether nobody has decided yet: "?", "maybe", "or …".
    new
        How new it is said to be: 0 not at all, 1 in passing ("new!"), 2 outright ("NEW:", "first time ever").
    pieces
        Each part: character of the line from 0, the part, and what it was taken for.

    """

    remark: str = ""
    segue: bool = False
    cut: bool = False
    perhaps: bool = False
    new: int = 0
    pieces: tuple[tuple[int, str, str], ...] = ()


def said_around(line: str, start: int, end: int, upto: int | None = None, since: int = 0) -> Said:
    """Read what stands around a title, which is `line[start:end]`; the song's part of the line is `line[since:upto]`.

    Examples
    --------
    >>> said = said_around("4. Ferry (short intro) 3:45 >", 3, 8)
    >>> said.remark, said.segue
    ('short intro', True)
    >>> said_around("Ferry - CUT", 0, 5).cut, said_around("Ferry (cut 2nd verse)", 0, 5).cut
    (True, False)
    >>> said_around("Ferry ?", 0, 5).perhaps, said_around("NEW: Ferry", 5, 10).new
    (True, 2)

    """
    upto = len(line) if upto is None else upto
    front, tail = line[since:start], line[end:upto]
    pieces = [*_before(front, since), *_behind(tail, end)]
    told = [
        text for _, text, kind in pieces if kind == "remark" or (kind == "segue" and not _ONLY_SEGUE.fullmatch(text))
    ]
    remarks = [" ".join(text.strip(_AROUND + _POINTS).split()) for text in told]
    words = [fold(text) for _, text, kind in pieces if kind in ("remark", "segue")]
    signs = tail + " ".join(text for _, text, kind in pieces if kind == "segue")
    return Said(
        remark=", ".join(remark for remark in remarks if remark),
        segue=bool(_ARROW.search(tail.rstrip(" )]*_|")))
        or bool(_ARROW_FIRST.match(tail))
        or any(_SEGUE_WITHIN.search(word) or _SEGUE.fullmatch(word) for word in words),
        cut=any(kind == "cut" for *_, kind in pieces),
        perhaps=bool(re.search(r"(?:^|[\s(\[])\?+\s*[)\]]?\s*(?:$|[>→-])", signs) or re.match(r"\?", tail))
        or bool(_PERHAPS_BEFORE.match(front))
        or any(
            _PERHAPS.fullmatch(word) or _HANGS_ON.search(word) or _ONE_OR.match(word + " x") for word in words if word
        ),
        new=_newness(front, words),
        pieces=tuple((at, text, "sign" if kind == "cut" else kind) for at, text, kind in pieces),
    )


def _newness(front: str, words: list[str]) -> int:
    if NEW_BEFORE.match(front) or any(_NEW.search(word) for word in words):
        return 2
    return int(any(map(lines_.says_new, words)))


def _before(front: str, at: int) -> Iterator[tuple[int, str, str]]:
    """Parts of what stands before a title: the number, a clock, a word, signs."""
    for part in re.finditer(
        r"[(\[][^()\[\]]*[^\W\d_]{2}[^()\[\]]*[)\]]|\d{1,2}[:.h]\d{2}(?::\d{2})?|\d+(?:st|nd|rd|th) [^\W\d_][^\d:>|]*|\d+|[^\W\d_][^\d:>|]*|[^\w(\[]+|[(\[_]+",
        front,
    ):
        text = part.group()
        if not text.strip():
            continue
        if text[0] in "([" and text[1:]:
            kind = "cut" if says_cut(text) else "remark"
        elif not any(letter.isalnum() for letter in text):
            kind = "cut" if _CUT_BEFORE.fullmatch(text) else "sign"
        elif lines_.is_encore_mark(text) or (fold(text) == "e"):
            kind = "encore mark"
        elif re.fullmatch(r"\d{1,2}[:.h]\d{2}(?::\d{2})?", text):
            kind = "time stamp"
        elif text.strip().isdigit() or _counts(text):
            kind = "number"
        elif re.fullmatch(lines_.IN_ORDER, text.strip(_AROUND), re.IGNORECASE):
            kind = "sign"
        else:
            kind = "cut" if _CUT_BEFORE.fullmatch(f"{text.strip()} ") else "remark"
        yield at + part.start(), text, kind


def _counts(text: str) -> bool:
    """Whether letters before a title only count: a letter, a Roman number, "No", "Uhr"."""
    return (
        re.fullmatch(r"(?:[a-z]|[ivxlc]{1,7}|no|nr|track|song|pos|st|nd|rd|th|uhr|am|pm|h|x)", fold(text)) is not None
    )


def _behind(tail: str, at: int) -> Iterator[tuple[int, str, str]]:
    """Parts of what stands behind a title: remarks, lengths, segues, words that strike it out, signs."""
    for part in _ITEMS.finditer(tail):
        text = part.group()
        if not text.strip():
            continue
        if text.strip(_AROUND + "?>→⇒") and "(" not in text[:1] and "[" not in text[:1]:
            yield from _without_length(text, at + part.start())
        else:
            yield at + part.start(), text, _kind(text)


def _without_length(text: str, at: int) -> Iterator[tuple[int, str, str]]:
    """Part a length from what stands beside it: "capo 3 3:45"."""
    found = re.search(r"(?:^|(?<=[\s,]))\(?\d{1,2}\s?[:'’′]\s?\d{2}[\"”″]?\)?(?=$|[\s,>*])", text)
    if found is None or _LENGTH.fullmatch(text.strip(_AROUND)):
        yield at, text, _kind(text)
        return
    for start, part in ((0, text[: found.start()]), (found.start(), found.group()), (found.end(), text[found.end() :])):
        if part.strip():
            yield at + start, part, _kind(part)


def _kind(text: str) -> str:
    """What one part behind a title is taken for."""
    bare = text.strip(_AROUND + "?" + _POINTS)
    folded = fold(bare) if bare else ""
    if not bare or not any(map(str.isalnum, bare)):
        if re.search("[❌✗✘✖✂⛔🚫]", text):
            return "cut"
        return "segue" if _ARROW.search(text.rstrip(" )]*_")) else "sign"
    if _LENGTH.fullmatch(bare):
        return "length"
    if (lines_.is_encore_mark(bare) and folded != "e") or re.fullmatch(r"(?:\d\w* |first |second )?encore", folded):
        return "encore mark"
    why = re.match(r"([^,;:–—-]{3,}?)(?:[,;:]|\s[-–—]\s)(?!.*\b(?:if|unless|or|maybe|then)\b)", bare)
    if _CUT.fullmatch(folded) or (why and _CUT.fullmatch(fold(why[1]))):
        return "cut"
    return "segue" if _SEGUE.fullmatch(folded) else "remark"


def says_cut(text: str) -> bool:
    """Whether words say nothing but that a song is out.

    Examples
    --------
    >>> says_cut("CUT!"), says_cut("not tonight"), says_cut("Cut Glass")
    (True, True, False)

    """
    return _CUT.fullmatch(fold(text.strip(_AROUND))) is not None if text.strip(_AROUND) else False


def cut_before(line: str) -> int:
    """Length of the words before a title that strike it out: "skip", "CUT:"; 0 if there are none.

    Examples
    --------
    >>> cut_before("skip Ferry"), cut_before("CUT: Ferry"), cut_before("Ferry")
    (5, 5, 0)

    """
    found = _CUT_BEFORE.match(line)
    called = _CALLED.match(line) if found is None else None
    said = called if called and says_cut(called["words"]) else found
    return said.end() if said else 0


_CALLED = re.compile(r"\s*(?:\d{1,2}[.):]*\s+)?(?P<words>[^\W\d_][^:]{1,20}):\s+")
"""Words before a title that a colon ends."""


_OVERLAY = re.compile("(?:[^\\s\u0334-\u0338][\u0334-\u0338]+\\s?)+")
_STRUCK = re.compile(r"~~(?P<two>.+?)~~|(?<![\w~])~(?P<one>[^~\s](?:[^~]*[^~\s])?)~(?![\w~])")


def struck_parts(line: str) -> list[tuple[int, int]]:
    """Where a line is struck out: between `~~`, `~` of a chat, or with a stroke over each letter.

    Examples
    --------
    >>> struck_parts("4. ~~Ferry~~ Wren"), struck_parts("F\u0336e\u0336r\u0336r\u0336y\u0336")
    ([(3, 12)], [(0, 10)])

    """
    found = [(part.start(), part.end()) for form in (_STRUCK, _OVERLAY) for part in form.finditer(line)]
    return sorted(found)
