"""Matching what somebody typed to the titles of the repertoire.

A line is compared by several kinds of evidence, the strongest first. A kind counts only if it points at one song:

1. the same text; the same but for case, accents and punctuation; the same but for articles, "&" or "and", "pt 2" or
   "part two", and spaces ("Saltroad");
2. typing slips. They are counted with a keyboard in mind: a neighbouring key, a doubled, dropped or swapped letter
   costs less than another letter, and the sum allowed grows with the length of the title. A word that is itself a word
   of the repertoire, and a number, is not taken for a slip of another one; nor, in a title of one or two words, is any
   word of the language ("Lodger" for "Ledger");
3. first words ("Harbour"), unless the same word stands in another title too; a title that breaks off ("Copper Wi");
   initials ("TFS").

What people do not do is shorten a title to its last word, or add words of content to it; so a line that merely shares
words with a title is a guess, and asked about. The same is true whenever two songs are about as near as each other,
or two kinds of evidence point at different songs.
"""

# ruff: noqa: RUF001  # the signs that people type are meant
from __future__ import annotations

import re
import unicodedata
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import lru_cache
from itertools import pairwise

import pandas as pd

from tourstats.problems import TableProblem
from tourstats.reading.vocabulary import is_listed, is_word
from tourstats.tables import items

SURE, DOUBTFUL, UNKNOWN = "sure", "doubtful", "unknown"

_SPELT = str.maketrans(
    {
        "ø": "o", "ł": "l", "đ": "d", "ð": "d", "ħ": "h", "ı": "i", "æ": "ae", "œ": "oe", "þ": "th",
        "&": " and ", "+": " and ",
        **dict.fromkeys("'’‘`´ʼ′", ""),
    }
)  # fmt: skip
_MARKS = re.compile("[\u0300-\u036f\u0591-\u05c7\u064b-\u0652\u200b-\u200f\u2060\ufe0e\ufe0f\ufeff\u00ad]")
_ARTICLES = frozenset(("the", "a", "an"))
_SMALL = _ARTICLES | frozenset(
    ("and", "of", "in", "on", "to", "my", "i", "is", "it", "at", "by", "for", "no", "de", "la")
)
_NUMBERS = {
    word: str(number)
    for number, word in enumerate(
        (
            *("one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve"),
            *("thirteen", "fourteen", "fifteen", "sixteen", "seventeen", "eighteen", "nineteen", "twenty"),
        ),
        start=1,
    )
} | {
    word: str(number)
    for number, words in enumerate(
        ("twee zwei deux", "drie drei trois tres tre", "vier quatre cuatro quattro", "vijf funf cinq cinco cinque",
         "zes sechs seis sei", "zeven sieben sept siete sette", "acht huit ocho otto", "negen neun neuf nueve nove",
         "tien zehn dix diez dieci"),
        start=2,
    )
    for word in words.split()
} | {"for": "4", "thru": "through"}  # fmt: skip
_ORDINALS = {
    word: str(number)
    for number, words in enumerate(
        ("first erster erste premier primera prima", "second zweiter zweite deuxieme segunda seconda",
         "third dritter dritte troisieme tercera terza", "fourth vierter vierte quatrieme cuarta quarta"),
        start=1,
    )
    for word in words.split()
}  # fmt: skip
"""Which part it is, beside the word for a part."""
_SEEN = str.maketrans("015i8", "olslb")
"""Digits that a machine, or a thumb, puts for letters; "1" stands for "l" and for "i"."""
_LETTERS_OF = str.maketrans("0158", "OISB")
_READ = re.compile(r"(?<![^\W_])(?=[A-Z0158]*\d)(?=(?:\d*[A-Z]){3})[A-Z0158]{5,}(?![^\W_])")
"""A long word in capitals with digits among its letters, as a machine reads a photo."""
_PARTS = {
    **dict.fromkeys(("deel", "teil", "partie", "czesc", "osa"), "part"),
    "pt": "part",
    "prt": "part",
    **dict.fromkeys(("nr", "number", "nummer", "numero"), "no"),
    **dict.fromkeys(("n", "et", "und", "og", "och"), "and"),
    "vol": "volume",
}
_ROMAN = {"i": "1", "ii": "2", "iii": "3", "iv": "4", "v": "5", "vi": "6"}
_ROWS = ("qwertyuiop", "asdfghjkl", "zxcvbnm")
_FEWEST_LETTERS = 3
_FEW_WORDS = 2
_MOST_INITIALS = 8
_MOST_FIRST = 20
"""Words of a title that are looked at where it may stand with its first ones alone."""
_SHORTER = 0.75
"""Share of its letters that is left of a word that is shortened within."""
_LONG = 6
"""Letters from which first words may hold a slip."""
_NEAR = 4
"""Slips beyond which two titles are not compared at all."""
_ANOTHER = 3.5
"""What another number, or a word that means something else, costs: more than slips may in any title."""
_NO_FINGER = 1.0
"""What a letter costs that is neither beside the one that was meant, nor dropped, doubled or swapped."""
SEVERAL_WORDS = 86
"""Likeness of two words or more that make half of a title."""
_GUESS = 62
"""Likeness (0 to 100) from which a title is worth offering as a guess."""


def fold(text: str) -> str:
    """Write a title without case, accents and punctuation, so that two ways of typing it are equal.

    Marks are taken off Latin, Greek, Cyrillic, Hebrew and Arabic letters; other scripts keep theirs, where they change
    the letter. A title of nothing but punctuation stays as it is.

    Examples
    --------
    >>> fold("  Żółta  Łódź (Don't Wait!) "), fold("Salt & Road"), fold("がらす"), fold("???")
    ('zolta lodz dont wait', 'salt and road', 'がらす', '???')

    """
    return _fold(text)


@lru_cache(maxsize=65536)
def _fold(text: str) -> str:
    if text.isascii():
        spelt = text.lower().translate(_SPELT)
    else:
        bare = _MARKS.sub("", unicodedata.normalize("NFKD", text))
        spelt = unicodedata.normalize("NFC", bare).casefold().translate(_SPELT)
        spelt = _MARKS.sub("", unicodedata.normalize("NFKC", spelt))
    words = "".join(
        letter if letter.isalnum() or unicodedata.category(letter)[0] == "M" else " " for letter in spelt
    ).split()
    return " ".join(words) or "".join(text.split()).casefold()


@lru_cache(maxsize=65536)
def loose(text: str) -> tuple[str, ...]:
    """Words of a title without articles, with "pt II", "part two" and "Part 2" alike.

    Examples
    --------
    >>> loose("The Ferry, pt. II") == loose("Ferry (Part Two)") == loose("Ferry, second part")
    True

    """
    words = [_PARTS.get(word, word) for word in _fold(text).split()]
    kept = [_NUMBERS.get(word, word) for word in words if word not in _ARTICLES] or words
    for at, (which, word) in enumerate(pairwise(kept)):
        if word == "part" and (number := _ORDINALS.get(which, which)).isdigit():  # "2. Teil", "second part"
            kept[at : at + 2] = ["part", number]
    return tuple(
        _ROMAN.get(word, word) if before in ("part", "volume", "no") or (before and word in ("ii", "iii")) else word
        for before, word in zip(["", *kept], kept, strict=False)
    )


@dataclass(frozen=True)
class Match:
    """What one line was found to be.

    Attributes
    ----------
    song
        Title in the repertoire; None unless sure.
    verdict
        `sure`, `doubtful` or `unknown`.
    score
        Likeness of the best candidate, 0 to 100.
    candidates
        Up to three titles, best first; empty when unknown.
    evidence
        Kind of evidence: `same`, `slip`, `first words`, `some words`, `abbreviated`, `cut short`,
        `initials`, or nothing.
    slips
        What the slips cost, about one each.
    weighs
        Whether it speaks against other evidence, or is no more than a guess.

    """

    song: str | None
    verdict: str
    score: float
    candidates: tuple[str, ...] = ()
    evidence: str = ""
    slips: float = 0.0
    weighs: bool = True

    def doubted(self) -> Match:
        """Return the same match, to be asked about."""
        return replace(self, song=None, verdict=DOUBTFUL if self.candidates else UNKNOWN)


NOTHING = Match(None, UNKNOWN, 0.0)


def names_of(songs: pd.DataFrame | Iterable[str]) -> dict[str, tuple[str, ...]]:
    """Titles and the other names of each, from a table of songs or plain titles.

    Examples
    --------
    >>> names_of(pd.DataFrame({"song": ["Ferry", "Tin Rook"], "aliases": ["boat song; BS", None]}))
    {'Ferry': ('boat song', 'BS'), 'Tin Rook': ()}

    """
    if isinstance(songs, pd.DataFrame):
        if "song" not in songs.columns:
            raise TableProblem.missing_columns("songs", ["song"], songs.columns)
        aliases = songs["aliases"] if "aliases" in songs.columns else [None] * len(songs)
        pairs: Iterable[tuple[object, object]] = zip(songs["song"], aliases, strict=True)
    else:
        pairs = ((title, None) for title in songs)
    return {
        str(title): tuple(items(other) if not isinstance(other, list | tuple) else map(str, other))
        for title, other in pairs
        if not (title is None or title != title or not str(title).strip())  # noqa: PLR0124  # NaN is not itself
    }


def index(songs: pd.DataFrame | Iterable[str]) -> Titles:
    """Titles ready to be matched; the same repertoire is prepared once."""
    return _index(tuple(names_of(songs).items()))


@lru_cache(maxsize=8)
def _index(names: tuple[tuple[str, tuple[str, ...]], ...]) -> Titles:
    return Titles(dict(names))


@dataclass(frozen=True)
class _Name:
    """One name of a song in one of the ways it is compared: word by word as it is, or loosely."""

    song: str
    words: tuple[str, ...]

    @property
    def compact(self) -> str:
        return "".join(self.words)


@dataclass
class Titles:
    """A repertoire prepared for matching: each name under each key by which it may be found."""

    names: Mapping[str, tuple[str, ...]]
    keys: dict[str, dict[str, set[str]]] = field(default_factory=lambda: defaultdict(lambda: defaultdict(set)))
    first: dict[str, set[str]] = field(default_factory=lambda: defaultdict(set))
    first_words: dict[str, tuple[str, ...]] = field(default_factory=dict)
    initials: dict[str, set[str]] = field(default_factory=lambda: defaultdict(set))
    known: tuple[list[_Name], list[_Name]] = field(default_factory=lambda: ([], []))
    vocabulary: dict[str, set[str]] = field(default_factory=lambda: defaultdict(set))

    def __post_init__(self) -> None:
        """File every name under its keys."""
        for song, aliases in self.names.items():
            self._file(song, song, "")
            for alias in aliases:
                self._file(alias, song, "alias ")
        self.compacts = [[name.compact for name in known] for known in self.known]
        self.spaced = [" ".join(name.words) for name in self.known[1]]
        self.firsts = list(self.first)
        self.starts_with_digit = any(name[:1].isdigit() for known in self.compacts for name in known)

    def _file(self, name: str, song: str, kind: str) -> None:
        forms = _forms(name)
        self.keys[f"{kind}plain"][_plain(name)].add(song)
        for how, words in zip(("folded", "loose"), forms, strict=True):
            self.keys[f"{kind}{how}"][" ".join(words)].add(song)
            self.keys[f"{kind}joined"]["".join(words)].add(song)
        self.keys["seen"][_as_seen(forms[0])].add(song)
        if not kind:
            spelt = tuple(fold(word)[:1] for word in name.split())
            for words in {*forms, *(tuple(word for word in words if word != "and") for words in forms), spelt}:
                if len(words) > 1:
                    self.initials["".join(word[:1] for word in words)].add(song)
        if "&" in name or "+" in name:
            self.keys[f"{kind}loose"][" ".join(loose(re.sub("[&+]", " ", name)))].add(song)
        for known, words in zip(self.known, forms, strict=True):
            known.append(_Name(song, words))
            for word in words:
                self.vocabulary[word].add(song)
            for count in range(1, min(len(words), _MOST_FIRST)):
                self.first["".join(words[:count])].add(song)
                self.first_words["".join(words[:count])] = words[:count]

    def same(self, text: str, *, joined: bool = False) -> Match | None:
        """Match only what is the same but for spelling, and perhaps but for spaces; None if nothing is."""
        folded, words = _forms(text)
        if joined:
            keys = [("joined", "".join(folded), 98), ("joined", "".join(words), 97)]
        else:
            keys = [("plain", _plain(text), 100), ("folded", " ".join(folded), 100), ("loose", " ".join(words), 98)]
        for kind in ("", "alias "):
            for how, key, score in keys:
                songs = self.keys[f"{kind}{how}"].get(key)
                if songs and key:
                    if how != "loose":
                        return self._of(songs, score, "same")
                    found = self._of(
                        songs | (self.first.get("".join(folded), set()) if not kind else set()), score, "same"
                    )
                    return found.doubted() if self._other_article(folded, found) else found
        if any(_is_mixed(word) or word in _LONE for word in folded):
            songs = self.keys["seen"].get(_as_seen(folded))
            return self._of(songs, 96, "slip", 0.5) if songs else None
        return None

    def _other_article(self, folded: tuple[str, ...], found: Match) -> bool:
        """Whether the typed title has "the" where the song has "a"; the last word may be a key."""
        mine = _ARTICLES.intersection(folded[:-1])
        theirs = _ARTICLES.intersection(fold(found.song or "").split())
        return bool(mine and theirs and mine != theirs)

    def match(self, text: str) -> Match:
        """Match one title as typed, with nothing before or behind it.

        Examples
        --------
        >>> titles = index(["Copper Wire", "Copper Trivet", "The Ferry Song"])
        >>> titles.match("coper wire").song, titles.match("TFS").song, titles.match("Copper").candidates
        ('Copper Wire', 'The Ferry Song', ('Copper Wire', 'Copper Trivet'))

        """
        if not text.strip():
            return NOTHING
        return self.judged([text])[0][1]

    def judged(self, texts: Sequence[str]) -> list[tuple[str, Match]]:
        """Match several ways to read one line; those that are not sure are offered the guesses of all of them."""
        found = [(text, self._judge(_without_digits(text))) for text in texts]
        if any(match.verdict == SURE for _, match in found):
            return found
        near = [song for text in texts for song in self._guesses(text)]
        return [(text, _with_guesses(match, near)) for text, match in found]

    def _judge(self, text: str) -> Match:
        same = self.same(text) or self.same(text, joined=True)
        if same is not None:
            return same
        slip = self._slip(text)
        claims = [claim for claim in (slip, *self._short(text, slip)) if claim is not None]
        weighed = [claim for claim in claims if claim.weighs and not _only_last_letter(claim, slip)]
        sure = {claim.song for claim in weighed if claim.verdict == SURE}
        ranked = sorted(claims, key=lambda claim: (not claim.weighs, -claim.score))
        candidates = tuple(dict.fromkeys(song for claim in ranked for song in claim.candidates))[:3]
        if len(sure) == 1 and all(claim.candidates[0] in sure for claim in weighed):
            best = next(claim for claim in weighed if claim.verdict == SURE)
            others = tuple(song for song in candidates if song != best.song)
            return replace(best, candidates=(str(best.song), *others)[:3])
        if not claims:
            return NOTHING
        first = weighed[0] if weighed else max(claims, key=lambda claim: claim.score)
        score = max(claim.score for claim in claims)
        return Match(None, DOUBTFUL, score, candidates, first.evidence, first.slips, weighs=bool(weighed))

    def _of(self, songs: Iterable[str], score: float, evidence: str, slips: float = 0.0) -> Match:
        """Sure if there is one song, doubtful if there are more, in the order of the repertoire."""
        ordered = [song for song in self.names if song in set(songs)]
        if len(ordered) == 1:
            return Match(ordered[0], SURE, score, (ordered[0],), evidence, slips)
        return Match(None, DOUBTFUL, score, tuple(ordered[:3]), evidence, slips)

    def _slip(self, text: str) -> Match | None:
        """Find the title that typing slips lead away from."""
        from rapidfuzz import process  # noqa: PLC0415  # only where it is used
        from rapidfuzz.distance import OSA  # noqa: PLC0415  # only where it is used

        costs: dict[str, tuple[float, int]] = {}
        for words, known, compacts in zip(_forms(text), self.known, self.compacts, strict=True):
            compact = "".join(words)
            most = min(_NEAR, len(compact) // 2)
            for _, _, at in process.extract(compact, compacts, scorer=OSA.distance, score_cutoff=most, limit=6):
                name = known[at]
                cost = self._cost(words, name.words)
                if cost < costs.get(name.song, (99.0, 0))[0]:
                    costs[name.song] = (cost, len(name.compact))
        ranked = sorted(costs.items(), key=lambda item: item[1][0])
        if not ranked:
            return None
        (song, (cost, length)), *rest = ranked
        score = max(round(100 * (1 - cost / max(length, 1)), 1), 0.0)
        near = tuple(s for s, (c, n) in ranked if c <= n / 2)[:3] or (song,)
        if cost > _allowed(length):
            return Match(None, DOUBTFUL, score, near, "slip", cost, weighs=False)
        if rest and rest[0][1][0] - cost < _margin(cost):
            return Match(None, DOUBTFUL, score, near, "slip", cost)
        return Match(song, SURE, score, (song,), "slip", cost)

    def _cost(self, typed: tuple[str, ...], meant: tuple[str, ...]) -> float:  # noqa: C901  # a fine after the other
        """Weigh the slips between what was typed and a name, with a fine for what slips seldom do."""
        one, other = "".join(typed), "".join(meant)
        cost = slips(one, other)
        few = sum(word not in _SMALL for word in meant) <= _FEW_WORDS
        if _digits(typed) != _digits(meant):
            cost += _ANOTHER
        if len(typed) == len(meant):
            for word, wanted in zip(typed, meant, strict=True):
                if word == wanted:
                    continue
                if word[:1] not in (wanted[:1], wanted[1:2]):
                    other_word = word[1:] == wanted[1:] and word[0] + wanted[0] not in _BESIDE
                    cost += 1.1 if other_word and len(meant) <= _FEW_WORDS else 0.2
                if word in self.vocabulary and word not in _ARTICLES:
                    cost += 1.5
                elif few and wanted not in _SMALL and _is_another(word, wanted):
                    cost += _ANOTHER
                elif slips(word, wanted) > max(1.3, 0.4 * len(wanted)):
                    cost += 0.7
        elif abs(len(one) - len(other)) > 1:
            cost += 1.5 if set(typed) <= set(meant) or set(meant) <= set(typed) or len(meant) <= _FEW_WORDS else 0.3
        elif len(typed) > 1 and any(word in self.vocabulary and word not in meant for word in typed):
            cost += 1.5
        return cost

    def _short(self, text: str, slip: Match | None) -> Iterable[Match]:
        """Find songs of which the text is initials, the first words, or a piece that breaks off."""
        folded, words = _forms(text)
        letters = "".join(folded)
        if len(letters) > 1 and _is_initials(text) and letters in self.initials:
            yield self._of(self.initials[letters], 88, "initials")
        abbreviated = self._abbreviated(folded) if "." in text and len(folded) > 1 else set()
        if abbreviated:
            yield self._of(abbreviated, 90, "abbreviated")
            return
        content = not letters.isascii() or any(len(word) >= _FEWEST_LETTERS and word not in _SMALL for word in words)
        for compact in dict.fromkeys((letters, "".join(words))):
            if content and compact in self.first:
                songs = self.first[compact]
                within = self.vocabulary.get(compact, set()) if len(words) == 1 else set()
                yield self._of(songs | within, 92, "first words")
                return
        if not content and len(letters) < _LONG - 1:
            return
        some = self._some_words(words)
        if some:
            full = max(len("".join(loose(song))) for song in some)
            several = sum(len(word) >= _FEWEST_LETTERS for word in words) > 1 and 2 * len("".join(words)) >= full
            score = SEVERAL_WORDS if several else SEVERAL_WORDS - 4
            yield replace(self._of(some, score, "some words" if len(some) == 1 else "").doubted(), weighs=False)
            return
        cut = self._cut_to(letters, 0) or self._cut_to("".join(words), 1)
        if cut:
            broken = len(folded) > 1 or text.rstrip().endswith((".", "…", "-"))
            found = self._of(cut, 90, "cut short")
            yield found if broken else found.doubted()
        elif len(letters) >= _LONG and not _digits(words) and (slip is None or slip.verdict != SURE):
            yield from self._slipped_first(words, "".join(words))

    def _abbreviated(self, typed: tuple[str, ...]) -> set[str]:
        """Songs of which a run of words is shortened word by word: "Nett. Sluice", "Bread Kn. Serm."."""
        return {name.song for name in self.known[0] if _run_shortened(typed, name.words)}

    def _some_words(self, typed: tuple[str, ...]) -> set[str]:
        """Songs of which these are words, in their order: "Gull Attack" of "Sudden Gull Attack"."""
        typed = tuple(word if word in self.vocabulary else f"{word}s" for word in typed)
        content = [word for word in typed if word not in _SMALL]
        if not content or any(word not in self.vocabulary for word in typed):
            return set()
        near = set.intersection(*(self.vocabulary[word] for word in content))
        return {name.song for name in self.known[1] if name.song in near and _in_order(typed, name.words)}

    def _cut_to(self, start: str, how: int) -> set[str]:
        """Songs with a name that goes on from here."""
        return {self.known[how][at].song for at, name in enumerate(self.compacts[how]) if name.startswith(start)}

    def _slipped_first(self, words: tuple[str, ...], compact: str) -> Iterable[Match]:
        from rapidfuzz import process  # noqa: PLC0415  # only where it is used
        from rapidfuzz.distance import OSA  # noqa: PLC0415  # only where it is used

        near = process.extract(compact, self.firsts, scorer=OSA.distance, score_cutoff=2, limit=6)
        costs = sorted((self._cost(words, self.first_words[key]), key) for key, _, _ in near)
        if not costs:
            return
        songs = {song for cost, key in costs if cost - costs[0][0] < _margin(costs[0][0]) for song in self.first[key]}
        found = self._of(songs, 85, "first words", costs[0][0])
        yield found if costs[0][0] <= 1 else replace(found.doubted(), weighs=False)

    def _guesses(self, text: str) -> list[str]:
        """Titles that are alike, or share a word of content; no more than guesses."""
        from rapidfuzz import fuzz, process  # noqa: PLC0415  # only where it is used

        spaced = " ".join(loose(text))
        if len(spaced) < _FEWEST_LETTERS and spaced.isascii():
            return []
        return [
            self.known[1][at].song
            for scorer, least in ((fuzz.ratio, _GUESS), (fuzz.token_set_ratio, 80))
            for _, _, at in process.extract(spaced, self.spaced, scorer=scorer, score_cutoff=least, limit=4)
        ]


def _with_guesses(match: Match, near: Sequence[str]) -> Match:
    candidates = tuple(dict.fromkeys([*match.candidates, *near]))[:3]
    verdict = DOUBTFUL if candidates else UNKNOWN
    return replace(match, verdict=verdict, candidates=candidates, score=match.score or (_GUESS if candidates else 0.0))


def _forms(text: str) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Words as they are and loosely; both without accents, case and punctuation."""
    return tuple(fold(text).split()), loose(text)


def _plain(text: str) -> str:
    return unicodedata.normalize("NFC", " ".join(text.split()))


def _is_another(word: str, wanted: str) -> bool:
    """Whether a word is no slip of another: it is common, or it is listed and no finger slips like that."""
    return is_word(word) or (slips(word, wanted) >= _NO_FINGER and is_listed(word))


def _only_last_letter(claim: Match, slip: Match | None) -> bool:
    """Whether a title seems to break off only because a slip took its last letter."""
    sure = slip is not None and slip.verdict == SURE and slip.slips <= 1
    return claim.evidence == "cut short" and sure and slip is not None and slip.song in claim.candidates


def _is_initials(text: str) -> bool:
    """Whether a text could be initials: one short word, or letters with dots or spaces between them."""
    bare = re.sub(r"[.\s]", "", text)
    if not bare.isalpha() or len(bare) > _MOST_INITIALS:
        return False
    letters = re.split(r"[.\s]+", text.strip(" ."))
    return len(letters) == 1 or all(len(letter) == 1 for letter in letters)


_LONE = frozenset("oil")
"""Letters that alone may be a nought or a one."""


def _is_mixed(word: str) -> bool:
    return not word.isalpha() and not word.isdigit() and word.isascii()


def _without_digits(text: str) -> str:
    """A text with the letters that digits stand for within long words in capitals: "W0LVES"."""
    return _READ.sub(lambda found: found[0].translate(_LETTERS_OF), text)


def _as_seen(words: Iterable[str]) -> str:
    """Words with what looks alike written alike, numbers apart: "c0pper lid" and "Copper Lid"."""
    return " ".join(word if word.isdigit() else word.translate(_SEEN) for word in words)


def _run_shortened(typed: tuple[str, ...], title: tuple[str, ...]) -> bool:
    """Whether a run of a title's words, with or without its small ones, is what was typed, word by word."""
    for words in (tuple(word for word in title if word not in _SMALL), title):
        whole = len(words) == len(typed) and max(map(len, typed)) >= _FEWEST_LETTERS
        runs = (words[at : at + len(typed)] for at in range(len(words) - len(typed) + 1))
        if any(all(_shortens(*pair, letter=whole) for pair in zip(typed, run, strict=True)) for run in runs):
            return True
    return False


def _shortens(typed: str, meant: str, *, letter: bool) -> bool:
    """Whether one word shortens another: its first letters, or its first letter and some that follow, in order."""
    if meant.startswith(typed):
        return letter or len(typed) > 1 or meant == typed
    rest = iter(meant)
    few = 1 < len(typed) <= _SHORTER * len(meant)
    return few and typed[0] == meant[0] and all(letter in rest for letter in typed)


def _in_order(typed: Sequence[str], words: Sequence[str]) -> bool:
    """Whether words stand among others in their order."""
    rest = iter(words)
    return all(word in rest for word in typed)


def _digits(words: Iterable[str]) -> list[str]:
    return [word for word in words if any(letter.isdigit() for letter in word)]


def _allowed(length: int) -> float:
    """What slips may cost in a title of so many letters and still be slips."""
    return next((most for longest, most in _ALLOWED if length <= longest), 3.0)


_ALLOWED = ((3, 0.0), (4, 0.8), (6, 1.3), (9, 2.0), (13, 2.6))
"""Letters up to which slips may cost so much; beyond the last, 3."""


def _margin(cost: float) -> float:
    """How much further away the next song has to be."""
    return 0.55 + 0.15 * cost


def _beside() -> Iterable[str]:
    """Pairs of letters whose keys are next to each other, in both orders; y and z change places between countries."""
    for row, below in zip(_ROWS, (*_ROWS[1:], ""), strict=True):
        for at, one in enumerate(row):
            yield from (one + other for other in row[at + 1 : at + 2] + below[max(at - 1, 0) : at + 1])
    yield from ("yz", "qa", "wz")


_BESIDE = frozenset(pair[::step] for pair in _beside() for step in (1, -1))


@lru_cache(maxsize=65536)
def slips(typed: str, meant: str) -> float:
    """Weigh the typing slips that turn `meant` into `typed`.

    A letter doubled or a double dropped costs 0.5, two letters swapped or a neighbouring key 0.6, a letter dropped or a
    stray neighbouring key 0.8, any other letter 1; at the start of the title 0.3 more, as people seldom slip there.

    Examples
    --------
    >>> slips("copperr wrie", "copper wire"), slips("berry", "ferry")
    (1.1, 1.3)

    """
    strays = [_stray(typed, at) for at in range(len(typed))]
    before: list[float] = []
    last = [0.0]
    for at, stray in enumerate(strays):
        last.append(last[-1] + stray + (0 if at else 0.3))
    # rows: letters of `meant`; columns: letters of `typed`
    for i, want in enumerate(meant):
        dropped = (0.5 if i and meant[i - 1] == want else 0.8) + (0 if i else 0.3)
        ahead = meant[i - 1] if i else ""
        row = [last[0] + dropped]
        for j, have in enumerate(typed):
            best = last[j]
            if want != have:
                best += (0.6 if have + want in _BESIDE else 1.0) + (0 if i or j else 0.3)
                if j and have == ahead and want == typed[j - 1] and before[j - 1] + 0.6 < best:
                    best = before[j - 1] + 0.6
            row.append(min(best, last[j + 1] + dropped, row[j] + strays[j]))
        before, last = last, row
    return round(last[-1], 3)


def _stray(typed: str, at: int) -> float:
    """Weigh a letter too many: doubled, beside a neighbour on the keyboard, or any."""
    around = typed[max(at - 1, 0) : at] + typed[at + 1 : at + 2]
    if typed[at] in around:
        return 0.5
    return 0.8 if any(typed[at] + other in _BESIDE for other in around) else 1.0
