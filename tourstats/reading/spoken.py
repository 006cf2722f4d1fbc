"""A set that was dictated: several titles in one line without commas, and the words that people say between them."""

# ruff: noqa: SIM905, E501  # words are read in one piece
from __future__ import annotations

import re

from tourstats.reading.corrections import Mention, mentions
from tourstats.reading.marks import Said
from tourstats.reading.medium import is_talk
from tourstats.reading.songs import Row, is_small_remark
from tourstats.reading.titles import SEVERAL_WORDS, SURE, Match, Titles, fold
from tourstats.reading.vocabulary import ENCORES

_FEWEST, _MANY = 3, 5
"""Titles from which the words between them are enough to tell that they are songs; before fewer a sign has to stand.

From the second number on, words of one title alone are enough for each.
"""
_BETWEEN = frozenset(
    """ok okay so right well um uh er hi hey all guys everyone everybody tonight today we ll will start starting begin open
    opening opener with then and after that this next comes come followed by goes go going straight into segue finish
    finishing end ending close closing closer to the a is are its it be first second third last finally song songs encore
    encores for in of as set list setlist here do play playing have got up off again back now one more under over on fold page
    bottom other side also plus heute abend noch eine eins dann danach und zuerst am ende zum schluss zugabe ce soir puis
    ensuite et on commence par pour finir rappel encore une hoy esta noche vale abrimos empezamos con luego despues y seguimos
    cerramos acabamos una mas stasera poi e dopo vanavond daarna en ikvall sedan och sa""".split()
)
"""Words that say nothing of a song."""
_PART = re.compile(r"[se] ?\d?|\d{1,2}")
_SEGUE = re.compile(r"\b(?:into|segue|straight)\b")
_BRACKETS = re.compile(r"\s*(?:\([^()]*\)|\[[^\[\]]*\])")
_ARROW = re.compile(r"[>→⇒➔➜➝➡▶»]")
_ENCORE = re.compile(rf"\b(?:{ENCORES}|one more|e\s?\d?(?=\s?[:.]))(?!\w)", re.IGNORECASE)
_AND = ("", "and", "und", "et", "y", "e", "en", "och", "og")
_LATE = re.compile(rf"(?:for|as|als|en|in|pour|como|come) (?:(?:the|an?|la|el) )?(?:{ENCORES})\b")
"""What is said behind titles that are the encore."""
_CALLS = re.compile(rf"(?:[:.]|\b(?:{ENCORES}))\s*$", re.IGNORECASE)
"""What stands right before a title and says that one comes."""


def spoken(number: int, line: str, titles: Titles) -> list[Row]:
    """The songs of a line that was dictated; none where a word stands between them that may say something.

    Examples
    --------
    >>> from tourstats.reading.titles import index
    >>> songs = index(["Ferry", "Wren", "Salt Road"])
    >>> [row.match.song for row in spoken(1, "we start with ferry then wren into salt road", songs)]
    ['Ferry', 'Wren', 'Salt Road']
    >>> spoken(1, "ferry then wren without the intro then salt road", songs)
    []

    """
    exact = mentions(line, titles)
    short = mentions(line, titles, tuple(titles.names))
    late = _LATE.match(fold(line[short[-1].end :])) is not None if short else False
    return _songs_of(number, line, exact, titles) or (
        _songs_of(number, line, short, titles) if late or len(short) >= _MANY else []
    )


def _songs_of(number: int, line: str, named: list[Mention], titles: Titles) -> list[Row]:
    """The songs of a line in which these titles stand; none where a word between them may say something."""
    named = [
        one for one in named
        if line[: one.start].rstrip()[-1:] not in ("(", "[") or not is_small_remark(line[one.start : one.end], one.song)
    ]  # fmt: skip
    edges = [0, *(one.end for one in named)]
    gaps = [line[start:end] for start, end in zip(edges, [*(one.start for one in named), len(line)], strict=True)]
    remarks = [_BRACKETS.match(gap) for gap in gaps]
    gaps = [gap[mark.end() :] if mark and at else gap for at, (gap, mark) in enumerate(zip(gaps, remarks, strict=True))]
    talk = is_talk(gaps[-1].strip(" .,;:!-"))
    folded = [fold(bare) if any(map(str.isalnum, bare := _ENCORE.sub(" ", gap))) else "" for gap in gaps]
    late = not talk and _LATE.match(fold(gaps[-1])) is not None
    others = {word for words in folded[: -1 if talk else None] for word in words.split() if not _PART.fullmatch(word)}
    few = len(named) < _FEWEST
    called = all(_CALLS.search(gap) or (at and gap.strip(" ,&") in _AND) for at, gap in enumerate(gaps[:-1]) if gap)
    called = late or (called and (talk or not folded[-1]) and (bool(gaps[0].strip()) or not any(remarks)))
    if any(re.search(r"\d[:.]?\d", gap) and titles.match(gap.strip(" ,;/>-")).candidates for gap in gaps[1:-1]):
        return []  # "Ferry / 4:15 / Wren", where a title begins with a time
    if not named or not others <= _BETWEEN or (few and not called) or "?" in "".join(gaps[: -1 if talk else None]):
        return []
    rows: list[Row] = []
    for at, one in enumerate(named):
        pieces = [(one.start - len(gaps[at]), gaps[at], "sign")] if gaps[at].strip() else []
        behind = remarks[at + 1]
        if behind:
            pieces.append((one.end, behind.group(), "remark"))
        if at == len(named) - 1 and gaps[-1].strip():
            pieces.append((len(line) - len(gaps[-1]), gaps[-1], "sign"))
        match = titles.same(line[one.start : one.end])
        if match is None or match.verdict != SURE:
            match = Match(one.song, SURE, SEVERAL_WORDS, (one.song,), "some words")
        encore = late or bool(rows and rows[-1].encore) or _ENCORE.search(gaps[at]) is not None
        segue = _SEGUE.search(folded[at + 1]) is not None or _ARROW.search(gaps[at + 1]) is not None
        words = Said(remark=behind.group().strip(" ()[]") if behind else "", segue=segue, pieces=tuple(pieces))
        rows.append(
            Row(number, line[one.start : one.end], match, encore=encore, start=one.start, end=one.end, said=words)
        )
    return rows
