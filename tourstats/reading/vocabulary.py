"""Whether something is a word of its own; and the few words of the trade that stand on every set, in the languages of bands."""

# ruff: noqa: E501  # a pattern is read in one piece

from __future__ import annotations

import gzip
from functools import lru_cache
from importlib import resources

ENCORES = (
    r"encor[eé]s?|enc|zugaben?|rappels?|bis(?:es(?!,)|y|i|ser|se|sy|is)?|toegift(?:en)?|[ea]kstranum(?:re?|mer|er)|extra\s?num+er|extral[aå]tar|"
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
OUTS = (
    r"entf[aä]llt|f[aä]llt (?:heute )?aus|lassen wir (?:heute )?weg|weglassen|spielen wir (?:heute )?nicht|nicht gespielt|heute ohne|"
    r"on (?:la |le |les )?saute|[aà] sauter|saut[eé]e?s?|annul[eé]e?s?|barr[eé]e?s?|retir[eé]e?s?|enlev[eé]e?s?|on (?:ne )?(?:la |le )?joue pas|pas jou[eé]e?s?|pas aujourdhui|"
    r"no va|no la tocamos|hoy no|esta noche no|quitad[ao]|fuera|se cae|saltamos|saltiamo|salta|tolt[ao]|via|stasera no|non (?:si|la) fa(?:cciamo)?|"
    r"vervalt|slaan we over|overslaan|niet vanavond|vandaag niet|fora|hoje n[aã]o|n[aã]o tocamos|cortad[ao]|"
    r"utg[aå]r|udg[aå]r|struken|stryks|hoppas [oö]ver|springes over|ikke i (?:kveld|aften)|inte ikv[aä]ll|ute i kveld|"
    r"nie gramy|wypada|skre[sś]lon[eay]|nehrajeme|vynech[aá]me|vynechat|pois|j[aä]tet[aä][aä]n pois|kimarad|ei t[aä]n[aä][aä]n"
)
"""Words that strike a song out, in the languages of bands; those of English and a few more stand in `marks`."""
NEWS = (
    r"new|neu(?:e[rs]?)?|nouveau|nouvelle|nuev[ao]|nuov[ao]|nov[aoyi]|ny(?:tt?)?|nieuwe?|now[aye]|uusi|uj|新曲|初披露"
)
"""What a song that was never played is called, folded."""
INSTEAD = (
    r"instead of|rather than|in place of|in the place of|in lieu of|replac(?:es|ing)|(?:an)?statt|anstelle von|au lieu de|[aà] la place de|en vez de|en lugar de|"
    r"invece di|al posto di|no lugar de|in plaats van|i ?ste[dt]et for|i st[aä]llet f[oö]r|zamiast|m[ií]sto|namiesto"
)
"""What leads from a song to the one in whose place it came."""

_FEWEST = 3
_ONCE = 50
"""How often the rarest words of the list are counted; many of them are slips themselves."""
_COMMON = {"en": 16000, "de": 1200, "es": 6800, "fr": 3500, "it": 4400, "pt": 3800, "nl": 3800}
"""How often a list counts a word that makes up ten of a million."""
_SHORT, _OFTEN, _TEN = 4, 1000, 10
"""Of short words the list has many that nobody would write; they count if they are not rare."""


@lru_cache(maxsize=65536)
def is_word(text: str) -> bool:
    """Whether a folded text is a word of English, by the frequency list that comes with pyspellchecker.

    Examples
    --------
    >>> [is_word(word) for word in ("lodger", "sextet", "harbour", "coper", "birdge")]
    [True, True, True, False, False]

    """
    return _may_be(text) and _times(text, "en") > (_OFTEN if len(text) <= _SHORT else _ONCE)


@lru_cache(maxsize=65536)
def is_listed(text: str) -> bool:
    """Whether a folded text stands at all in the lists of seven languages: a rare word, or a slip that many make.

    Examples
    --------
    >>> [is_listed(word) for word in ("septet", "leuchtturm", "tournevis", "birdge")]
    [True, True, True, False]

    """
    return _may_be(text) and any(_times(text, language) for language in ("en", "fr", "es", "it", "de", "nl", "pt"))


@lru_cache(maxsize=65536)
def is_common(text: str, *, often: bool = False) -> bool:
    """Whether a folded text is a word that one of seven languages uses, or often; names of places hardly stand in them.

    Examples
    --------
    >>> [is_common(word) for word in ("gestern", "letzte", "night", "stasera", "oxmere", "neustadt")]
    [True, True, True, True, False, False]

    """
    return text.isalpha() and any(
        _times(text, language) > least * (_TEN if often else 1) for language, least in _COMMON.items()
    )


def _may_be(text: str) -> bool:
    return len(text) >= _FEWEST and text.isascii() and text.isalpha()


def _times(word: str, language: str) -> int:
    listed = _list_of(language)
    key = f'\n"{word}": '.encode()
    at = listed.find(key)
    if at < 0 and language == "en" and "our" in word:  # the list is American
        return _times(word.replace("our", "or"), language)
    return int(listed[at + len(key) : listed.index(b",", at)]) if at >= 0 else 0


@lru_cache(maxsize=7)
def _list_of(language: str) -> bytes:
    """A list as it is, searched without being taken apart: a set needs a few words of 160,000."""
    return gzip.decompress((resources.files("spellchecker") / "resources" / f"{language}.json.gz").read_bytes())
