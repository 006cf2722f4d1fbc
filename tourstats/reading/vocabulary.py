"""Whether something is a word of its own; and the few words of the trade that stand on every set, in the languages of bands."""

# ruff: noqa: E501  # a pattern is read in one piece

from __future__ import annotations

import gzip
from functools import lru_cache
from importlib import resources

ENCORES = (
    r"encor[eé]s?|enc|zugaben?|rappels?|bis(?:es|y|i|ser|se|sy|is)?|toegift(?:en)?|[ea]kstranum(?:re?|mer|er)|extra\s?num+er|extral[aå]tar|"
    r"ylim[aä]{2}r[aä](?:inen|iset)|encoret|p[rř][ií]dav(?:ek|ky|ok)|r[aá]ad[aá]s(?:ok)?|propinas?|fuori programma|fuera de programa|"
    r"dodatek|dodatci|na bis|бис[ыа]?|アンコール|앙코르|安可"
)
"""What the encore is called; "extra" and "en" say it only before a colon or on a line of their own."""
EXTRAS = r"extra|ekstra|en"
BREAKS = (
    r"intermission|interval|break|paus[ea]?|pauz[ae]|przerwa|entr ?acte|descanso|intervall?o|tauko|szunet|prestavka|odmor|mezipauza|"
    r"tea(?: break)?|buffet|speeches|raffle|休憩"
)
"""What a pause is called, folded."""
NEWS = (
    r"new|neu(?:e[rs]?)?|nouveau|nouvelle|nuev[ao]|nuov[ao]|nov[aoyi]|ny(?:tt?)?|nieuwe?|now[aye]|uusi|uj|新曲|初披露"
)
"""What a song that was never played is called, folded."""

_FEWEST = 3
_ONCE = 50
"""How often the rarest words of the list are counted; many of them are slips themselves."""
_SHORT, _OFTEN = 4, 1000
"""Of short words the list has many that nobody would write; they count if they are not rare."""


@lru_cache(maxsize=65536)
def is_word(text: str) -> bool:
    """Whether a folded text is a word of English, by the frequency list that comes with pyspellchecker.

    Examples
    --------
    >>> [is_word(word) for word in ("lodger", "sextet", "frog", "coper", "birdge")]
    [True, True, True, False, False]

    """
    if len(text) < _FEWEST or not text.isascii() or not text.isalpha():
        return False
    return _times(text) > (_OFTEN if len(text) <= _SHORT else _ONCE)


def _times(word: str) -> int:
    listed = _listed()
    key = f'\n"{word}": '.encode()
    at = listed.find(key)
    return int(listed[at + len(key) : listed.index(b",", at)]) if at >= 0 else 0


@lru_cache(maxsize=1)
def _listed() -> bytes:
    """The list as it is, searched without being taken apart: a set needs a few words of 160,000."""
    return gzip.decompress((resources.files("spellchecker") / "resources" / "en.json.gz").read_bytes())
