"""Whether something is a word: what a likeness may take for a slip of another title is no word of its own."""

from __future__ import annotations

import gzip
from functools import lru_cache
from importlib import resources

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
