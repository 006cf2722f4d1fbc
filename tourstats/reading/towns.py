"""Which words of what somebody says above a set name the place: those that are no words of a language."""

# ruff: noqa: RUF001, E501  # the signs that people type are meant, and a pattern is read in one piece
from __future__ import annotations

import re
from collections.abc import Collection

from tourstats.reading.days import weekday
from tourstats.reading.places import reads_like_venue
from tourstats.reading.titles import fold
from tourstats.reading.vocabulary import is_common

_PIECES = re.compile(r"\s*[,;:!?()\[\]|/\n\t•·]+\s*|\s+[-–—]+\s+|\.(?:\s+|$)")
_WORD = re.compile(r"[^\W_]+(?:['’.-][^\W_]+)*")
_LINKS, _SHORTEST, _SHOUTED = 3, 2, 5
"""Letters of a word in small letters within a name ("del"), of a name, and of one in capitals that is none ("VAT")."""
_BEFORE_A_PLACE = frozenset(
    ["in", "at", "a", "en", "em", "i", "w", "v", "ve", "na", "pa", "te", "zu", "por", "per", "pro"]
)
_SAID = re.compile(
    r"set|sets|setlist\w*|list[ae]?|songs|gig|show|concert\w*|konzert\w*|tour|soundcheck|"
    r"heute?|gestern|letzte[rsn]?|hoy|ayer|anoche|ultim[ao]|oggi|ieri|stasera|aujourdhui|hier|derniere?|vanavond|vandaag|gisteren|laatste|tonight|today|yesterday|last|"
    r"dzis(?:iaj)?|wczoraj|ostatni[ae]?|dnes|vcera|posledni|tanaan|eilen|idag|ikvall|igar|ikveld|iaften|sista|siste|sidste|danes|vceraj|hoje|ontem|ma|tegnap|сегодня|вчера"
)
"""What a set is called, and the day of which it is said, folded."""


def named_in(text: str, common: Collection[str] = ()) -> list[str]:
    """Names in what somebody says, without the words of languages around them; `common` stand in other such lines too.

    Examples
    --------
    >>> [named_in(text) for text in ("Setlist heute Wendelquern:", "eccomi, Pieve Corta stasera", "Torre Arva, ultima!! segno qua")]
    [['Wendelquern'], ['Pieve Corta'], ['Torre Arva']]
    >>> named_in("Lo de anoche en Almudera del Rey"), named_in("Letzte: Kaldquern, Kulturbahnhof"), named_in("gestern oxmere")
    (['Almudera del Rey'], ['Kaldquern', 'Kulturbahnhof'], ['oxmere'])
    >>> named_in("Villasol Sala Lince Azul 👇")
    ['Villasol', 'Sala Lince Azul']

    """
    known = {fold(word) for word in common}
    pieces = [_WORD.findall(piece) for piece in _PIECES.split(text) if piece]
    runs = [run for words in pieces for run in _capitals(words)]
    runs = runs or [run for words in pieces for run in _rare(words)]
    runs = [less for run in runs if (less := _without(run, known))]
    apart = [run for run in runs if len(run) > 1 or not _is_plain(run[0])] or runs
    shouting = all(run[0].isupper() for run in apart)
    named = [run for run in apart if shouting or not (len(run) == 1 and run[0].isupper() and len(run[0]) <= _SHOUTED)]
    if len(named) > 1 and _is_in(text, *named[:2]):
        named[:2] = named[1::-1]
    return [" ".join(part) for run in named for part in _parted(run) if part]


def _is_in(text: str, first: list[str], second: list[str]) -> bool:
    """Whether a text says that the first of two is in the second: "the Kiln in Ostby"."""
    between = text.partition(" ".join(first))[2].partition(" ".join(second))[0].split()
    told = len(between) == 1 and fold(between[0]) in _BEFORE_A_PLACE
    return told and not reads_like_venue(" ".join(second))


def shorter(named: list[str]) -> str:
    """What the town may be, where the first name may begin with a word of a language, or end in a venue; else nothing.

    Examples
    --------
    >>> shorter(["Danach Oxmere"]), shorter(["Ostby Salt Hall"]), shorter(["Torre Arva"]), shorter(["Oxmere", "Salt Hall"])
    ('Oxmere', 'Ostby', '', '')

    """
    first, _, rest = named[0].partition(" ")
    if rest and is_common(fold(first), often=True):
        return rest
    return first if len(named) == 1 and rest and reads_like_venue(rest.split()[-1]) else ""


def _parted(run: list[str]) -> tuple[list[str], list[str]]:
    """A town, and its venue, where a word for one stands between them: "Villasol Sala Lince"."""
    at = next((at for at in range(1, len(run) - 1) if reads_like_venue(run[at])), len(run))
    return run[:at], run[at:]


def _capitals(words: list[str]) -> list[list[str]]:
    """Words with a capital that stand together, with the short ones between them: "Almudera del Rey"."""
    runs: list[list[str]] = []
    last = -_LINKS
    for at, word in enumerate(words):
        if not (word[:1].isupper() or (word[:1].isdigit() and last == at - 1)):
            continue
        links = words[last + 1 : at] if runs and last >= 0 else [word.lower()] * _LINKS
        houses = words[at - 1 : at] if at and reads_like_venue(words[at - 1]) and at - 1 != last else []
        near = len(links) < _LINKS and all(len(one) <= _LINKS and fold(one) not in _BEFORE_A_PLACE for one in links)
        if near and not houses:
            runs[-1] += [*links, word]
        else:
            runs.append([*houses, word])
        last = at
    return runs


def _rare(words: list[str]) -> list[list[str]]:
    runs: list[list[str]] = [[]]
    for word in words:
        runs[-1:] = [runs[-1], []] if _is_plain(word) else [[*runs[-1], word]]
    return [run for run in runs if run and max(map(len, run)) > _SHORTEST]


def _without(run: list[str], known: Collection[str]) -> list[str]:
    """A run without the words at either end that stand in other lines, or say of which day it is."""
    while run and (fold(run[0]) in known or _is_day(run[0])):
        run = run[1:]
    while run and (fold(run[-1]) in known or _is_day(run[-1])):
        run = run[:-1]
    return run


def _is_day(word: str) -> bool:
    return _SAID.fullmatch(fold(word)) is not None or (len(word) > _LINKS and weekday(word) is not None)


def _is_plain(word: str) -> bool:
    """Whether a word stands in a language's list of words so often that it is no name."""
    return is_common(fold(word)) or _is_day(word)
