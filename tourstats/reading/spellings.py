"""Which texts are one song: what stands behind a title is a remark only by the evidence of the file; slips are grouped.

A tail is a remark if the bare title stands elsewhere too (in the file or in the repertoire) and the tail follows other
titles as well, or is a word that people write behind titles. It belongs to the title when it never comes off.
"""

# ruff: noqa: RUF001, E501  # the signs that people type are meant
from __future__ import annotations

import itertools
import re
from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field

from tourstats.problems import listed
from tourstats.reading.asking import NEW_SONG, Asking
from tourstats.reading.cells import KEY, NUMBER, TIME, kind_of, shown, tight
from tourstats.reading.encores import is_word as is_word_for_encore
from tourstats.reading.known import Known
from tourstats.reading.layout import Spot
from tourstats.reading.legends import Legend
from tourstats.reading.titles import fold, loose
from tourstats.reading.vocabulary import INSTEAD, NEWS, is_listed, is_word

REMARK, TITLE = "a remark", "part of the title"
_TAILS = tuple(
    re.compile(pattern)
    for pattern in (
        rf"\s+(?i:{INSTEAD})\s+[^()\[\]]+$",
        r"\s*(?:[*†‡]+|!{2,}|\s!|\(\?\))$", r"\s*(?:>+|→|~+>|->)$", r"\s*[(\[{][^()\[\]{}]+[)\]}]$", r"\s+(?:[-–—]|--)\s+[^-–—]+$", r"\s+in\s+[A-Ha-h][#b♭♯]?(?:m|moll|dur| minor| major)?$",
        r"\s+\d{1,2}[:'’]\d{2}\"?$", r"\s+(?:[♩♪]\s?=|@)\s?\d{2,3}$", r"\s+(?:in\s+)?\d{1,3}(?:\s?bpm)?$", r"\s+x\s?[2-9]$", r"\s+[A-H][#b♭♯]?m?$", r"\s*,\s*[^,]+$", r"\s+(?:acoustic|solo|short|live|acoustic version|reprise)$",
    )
)  # fmt: skip
_KNOWN = re.compile(
    r"\W*(?:short|long|acoustic|live|new|solo|neu|kurz|akustisch|fast|slow|extended|unplugged|first time(?: ever)?|debut|premiere|new song|short version|long version|"
    r"acoustic version|short intro|long intro|new intro|new ending|short ending|half time|no click|with click|on piano|in [A-Ha-h][#b♭]?m?|\d{1,2}[:'’]\d{2}\"?|x\s?[2-9]|[*†!‡]+|[>→~-]+)?\W*",
    re.IGNORECASE,
)
_INSTEAD = re.compile(rf"[(\[–—-]?\s*(?:{INSTEAD})\s.*", re.IGNORECASE)
_IN_A_KEY = re.compile(r"in\s+[A-Ha-h][#b♭♯]?(?:m|moll|dur| minor| major)?")
_TEMPO = re.compile(r"\W*(?:\d{2,3}\s?bpm|[♩♪]\s?=\s?\d{2,3}|@\s?\d{2,3})\W*", re.IGNORECASE)
_TIMED = re.compile(r"\W*\d{1,2}[:'’]\d{2}\"?\W*")
_PART = re.compile(
    r"\W*(?:part|pt|teil|vol|volume|no|nr|reprise|i{1,3}|iv)\b\W*(?:\d+|[ivx]+|one|two|three)?\W*$", re.IGNORECASE
)
_ONLY_NEW = re.compile(rf"\s*[(\[](?:{NEWS})!*[)\]]\s*", re.IGNORECASE)
"""What stands behind a song when it is first played, and is no part of any title."""
_NEW = re.compile(
    r"\b(?:new(?! (?:ending|intro|outro|start|verse|bridge|solo|key|version|arrangement|break|tempo|part))|neu|nouveau|debut|premi[eè]re|first time)\b",
    re.IGNORECASE,
)
_MOST_CUTS = 3
_FEWEST_TAILS = 6
"""Titles with a tail of one kind from which all of them are one question."""
_MANY_TAILS, _NEARLY_ALL = 8, 0.9
"""Titles with a tail of one kind, and their share, from which nobody asks whether they are remarks."""
_AGAIN = 0.7
"""Share of different tails up to which they are of a few words, as who sings."""
_MOST_COMPARED = 3000
_LENGTHS = 3
"""Titles behind which a running time stands, from which on it is one and no part of a title."""
_PROVED = 3
"""Titles behind which a tail stands, two of them bare elsewhere, from which it is a remark behind any other."""
_LONG_WORD = 6
"""Letters above which a slip in a word is told from another word by a word list alone."""
_LEAST = 5
"""Letters from which a title is compared with others for slips."""


@dataclass
class Written:
    """One place of a song in a show, as it is written."""

    raw: str
    night: int
    at: Spot
    song: str = ""
    remark: str = ""
    sure: bool = True


@dataclass
class Titles:
    """What became of the texts.

    Attributes
    ----------
    merged
        Spellings that were taken for another title: (spelling, how often, title, how often).
    new
        Titles that the repertoire does not have.

    """

    merged: list[tuple[str, int, str, int]] = field(default_factory=list)
    new: list[str] = field(default_factory=list)


def settle(places: list[Written], asking: Asking, known: Known, legend: Legend | None = None) -> Titles:
    """Give each place its song and remark, and ask what the file does not tell; a legend explains tails and names."""
    legend = legend or Legend()
    _take_tails_off(places, asking, known, legend.marks)
    for place in places:
        place.song = legend.short.get(tight(place.song), place.song)
    titles = Titles()
    names = _named(places)
    groups = _grouped(places, asking, known, names, titles)
    for place in places:
        form = tight(place.song)
        place.song = names[groups.get(form, form)]
    return titles


# ------------------------------------------------------------------------------------------------ tails


@dataclass
class _Tails:
    """Which tails follow which titles in the file."""

    full: Counter[str]
    nights: dict[str, set[int]]
    bases: dict[str, set[str]] = field(default_factory=lambda: defaultdict(set))
    tails: dict[str, set[str]] = field(default_factory=lambda: defaultdict(set))
    cuts: dict[str, list[tuple[str, str, int]]] = field(default_factory=dict)
    marks: set[str] = field(default_factory=set)
    """Tails that the file explains."""
    usual: dict[int, bool] = field(default_factory=dict)
    """Kinds of tails that most titles have, as composers in brackets: whether they are remarks."""
    timed: int = 0
    """How many titles have a running time behind them."""

    def names_another(self, tail: str, form: str) -> bool:
        """Whether a tail says something of another title of the file: "(instead of Tin Moth)"; ", Tin Moth" does not."""
        words = [word for word in tail.split() if any(map(str.isalnum, word))]
        ends = {tight(" ".join(words[at:])) for at in range(1, len(words))} - {form}
        return any((self.full[end] or end in self.bases) and len(end) >= _LEAST for end in ends)

    def proved(self, mark: str) -> bool:
        """Whether a tail follows two titles that stand without it too."""
        return sum(self.full[base] > 0 for base in self.tails[mark]) > 1

    def comes_off(self, tail: str) -> bool:
        """Whether what begins with the same sign comes off most titles that it stands behind, of which there are a few."""
        worn = {tight(found[0][0]) for found in self.cuts.values() if found and found[0][1][0] == tail[0]}
        off = [base for base in worn if self.full[base] or len(self.bases[base]) > 1]
        return len(off) >= max(_LENGTHS, 0.5 * len(worn))

    def beside(self, base: str) -> bool:
        """Whether a title stands with two tails in one show: then these are two songs."""
        nights = [self.nights[tight(raw)] for raw, cuts in self.cuts.items() if cuts and tight(cuts[0][0]) == base]
        return any(one & other for one, other in itertools.combinations(nights, 2))


def _form(tail: str) -> str:
    return tight(tail) or tail.strip()


def _split(text: str) -> tuple[str, str, int] | None:
    """A text without its tail, the tail, and of which kind it is."""
    for kind, pattern in enumerate(_TAILS):
        match = pattern.search(text)
        if match and match.start() and any(sign.isalnum() for sign in text[: match.start()]):
            return text[: match.start()].strip(" ,"), match[0].strip(), kind
    return None


def _cuts(text: str) -> list[tuple[str, str, int]]:
    found: list[tuple[str, str, int]] = []
    while len(found) < _MOST_CUTS and (cut := _split(text)):
        text = cut[0]
        found.append(cut)
    return found


def bare_titles(texts: Iterable[str]) -> dict[str, str]:
    """Each text without tails: its bare title stands elsewhere, or they follow three titles or more.

    Examples
    --------
    >>> bare_titles(["Quill", "Quill - with Odile", "Tin Moth *", "Zinc *", "Marl *", "Night Coach 14"])["Tin Moth *"]
    'Tin Moth'

    """
    cuts = {text: _cuts(text) for text in dict.fromkeys(texts)}
    alone, bases = set(map(tight, cuts)), defaultdict(set)
    for found in cuts.values():
        for base, tail, _ in found:
            bases[_form(tail)].add(tight(base))
    worn = Counter(found[0][2] for found in cuts.values() if found)
    usual = {kind for kind, times in worn.items() if times >= max(_FEWEST_TAILS, 0.5 * len(cuts))}
    bare = {}
    for text, found in cuts.items():
        bare[text] = text
        for base, tail, kind in found:
            plain = (text == bare[text] and kind in usual) or _TEMPO.fullmatch(tail) or _TIMED.fullmatch(tail)
            told = plain or (len(bases[_form(tail)]) > _LENGTHS and not tail[:1].isalnum())
            if tight(base) not in alone and not told:
                break
            bare[text] = base
    return bare


def _take_tails_off(places: list[Written], asking: Asking, known: Known, marks: set[str]) -> None:
    tails = _Tails(Counter(tight(place.raw) for place in places), defaultdict(set), marks=marks)
    for place in places:
        tails.nights[tight(place.raw)].add(place.night)
    for raw in dict.fromkeys(place.raw for place in places):
        tails.cuts[raw] = _cuts(raw)
        for base, tail, _ in tails.cuts[raw]:
            tails.tails[_form(tail)].add(tight(base))
            tails.bases[tight(base)].add(_form(tail))
    tails.timed = len({tight(base) for cuts in tails.cuts.values() for base, tail, _ in cuts if _TIMED.fullmatch(tail)})
    _ask_about_usual(tails, asking, known)
    chosen = {raw: _bare(raw, tails, asking, known) for raw in tails.cuts}
    for place in places:
        place.song = chosen[place.raw]
        rest = place.raw[len(place.song) :] if place.raw.startswith(place.song) else ""
        place.remark = re.sub(r"[)\]}]\s*[(\[{]", ", ", rest).strip(" -–—,()[]{}")


def _ask_about_usual(tails: _Tails, asking: Asking, known: Known) -> None:
    """One question where most titles have a tail of one kind, the same behind several, and few stand without."""
    ends: dict[int, list[tuple[str, str]]] = defaultdict(list)
    for raw, cut in tails.cuts.items():
        told = not cut or tight(raw) in known.songs or _form(cut[0][1]) in tails.marks
        if not told and any(sign.isalnum() for sign in cut[0][1]):
            ends[cut[0][2]].append((cut[0][0], cut[0][1]))
    for kind, pairs in ends.items():
        again = Counter(_form(tail) for _, tail in pairs)
        plain = all(kind_of(tail.strip("()[]{}")) in (KEY, NUMBER, TIME) for _, tail in pairs)
        few = len(pairs) < max(_FEWEST_TAILS, 0.5 * len(tails.cuts))
        if few or not (plain or len(again) <= _AGAIN * len(pairs)):
            continue
        if len(pairs) >= _MANY_TAILS and (plain or len(pairs) >= _NEARLY_ALL * len(tails.cuts)):
            tails.usual[kind] = True
            continue
        (base, tail), named = pairs[0], listed(list(dict.fromkeys(tail for _, tail in pairs)), 3)
        answer = asking.choose(
            f"tails: {tail}", f"{len(pairs)} of {len(tails.cuts)} titles have something behind them: {named}. Are these remarks, or parts of the titles?",
            (REMARK, TITLE), REMARK, value=f"{base} {tail}",
        )  # fmt: skip
        tails.usual[kind] = answer == REMARK


def _bare(raw: str, tails: _Tails, asking: Asking, known: Known) -> str:
    """A text without the tails that are remarks."""
    text = raw
    if tight(raw) in known.songs:
        return raw
    for base, tail, kind in tails.cuts[raw]:
        told = tails.usual.get(kind) if text == raw or len(tails.tails[_form(tail)]) > 1 else None
        remark, asks = _judge(text, base, tail, tails, known) if told is None else (told, False)
        if asks:
            answer = asking.choose(
                f"tail: {text}", f'Is "{tail}" behind "{base}" a remark, or part of the title?', (REMARK, TITLE), REMARK if remark else TITLE, value=raw
            )  # fmt: skip
            remark = answer == REMARK
        if not remark:
            break
        text = base
    return text


def _is_said(base: str, tail: str, tails: _Tails, known: Known) -> bool:
    """Whether a tail is surely no part of a title: a tempo, a word for the encore, a song that was replaced, "new"."""
    form = tight(base)
    new = _NEW.search(tail) is not None and form in known.songs
    return (
        _form(tail) in tails.marks
        or is_word_for_encore(tail.strip(" ()[]{}-–—,"))
        or _TEMPO.fullmatch(tail) is not None
        or (_ONLY_NEW.fullmatch(tail) is not None and form not in known.songs)
        or (not new and (tails.names_another(tail, form) or _INSTEAD.fullmatch(tail) is not None))
    )


def _judge(text: str, base: str, tail: str, tails: _Tails, known: Known) -> tuple[bool, bool]:  # noqa: PLR0911  # one rule after the other
    """Whether a tail is a remark, and whether that has to be asked."""
    if _is_said(base, tail, tails, known):
        return True, False
    form, mark = tight(base), _form(tail)
    several = _apart(tails.tails[mark], tails.full)
    stands = tails.full[form] > 0 or form in known.songs
    together = tails.nights[tight(text)] & tails.nights[form] if tight(text) != form else set()
    word = _KNOWN.fullmatch(tail) is not None and not tail[-1:].isdigit()
    if _NEW.search(tail) and form in known.songs:
        return False, True
    if _TIMED.fullmatch(tail):
        lengths = {one for one in tails.bases[form] if _TIMED.fullmatch(one) or one.isdigit()}
        return stands or len(lengths) > 1 or tails.timed >= min(_LENGTHS, len(tails.full)), False
    if _PART.match(tail) or together:
        return False, False
    if stands and (several >= 2 or word or not any(sign.isalnum() for sign in tail)):
        return True, False
    if stands:
        return True, not _reads_small(base, tail)
    if not any(sign.isalnum() for sign in tail):
        return (True, False) if several >= 2 or tail in (">", "→", "->") else (tail in "*†‡", tail in "*†‡")
    if several > 1 and any(tails.full[other] for other in tails.tails[mark]) and len(tails.bases[form]) == 1:
        return True, not (several >= _PROVED and tails.proved(mark))
    if len(tails.bases[form]) > 1 and all(map(tails.proved, tails.bases[form])) and not tails.beside(form):
        return True, False
    return _judge_once(text, base, tail, tails, several)


def _judge_once(text: str, base: str, tail: str, tails: _Tails, several: int) -> tuple[bool, bool]:
    """The same of a tail that never comes off."""
    form, once, small = tight(base), tails.full[tight(text)] == 1, _reads_small(base, tail)
    word = _KNOWN.fullmatch(tail) is not None and not tail[-1:].isdigit()
    in_key = _IN_A_KEY.fullmatch(tail) is not None and not tails.bases[tight(text)]
    bracketed = tail[0] in "([{"
    said = len(re.findall(r"\w+|\+", tail)) > 1 and (small or bracketed)
    if said and (small or tails.comes_off(tail)):
        return True, not (once or several > 1)
    if word and ((once and (in_key or tail[0] in "([-–—*")) or small):
        return small, small or in_key or several > 1
    if several >= 3 and not any(sign.isdigit() for sign in tail):
        return len(tails.bases[form]) == 1 and tail[0] != " ", True
    return said, said


def _reads_small(base: str, tail: str) -> bool:
    """Whether what stands in brackets or behind a dash begins small behind a title that does not: it is said of it."""
    first = next((sign for sign in tail if sign.isalpha()), "")
    small = first.islower() and not base[:1].islower()
    return tail[0] in "([{-–—" and (small or (base.isupper() and tail.upper() != tail))


def _apart(bases: set[str], full: Counter[str]) -> int:
    """How many titles a tail follows, slips of one title counted once."""
    from rapidfuzz.distance import OSA  # noqa: PLC0415  # only where it is used

    kept: list[str] = []
    for base in sorted(bases, key=lambda form: -full[form])[:50]:
        if all(len(base) < _LEAST or OSA.distance(base, other, score_cutoff=2) > 2 for other in kept):
            kept.append(base)
    return len(kept)


# ------------------------------------------------------------------------------------------------ spellings


def _named(places: Iterable[Written]) -> dict[str, str]:
    """The title of each form: its commonest spelling that is neither shouted nor all small."""
    spelt: dict[str, Counter[str]] = defaultdict(Counter)
    for place in places:
        spelt[tight(place.song)][shown(place.song)] += 1

    def rank(count: Counter[str], text: str) -> tuple[bool, bool, int]:
        shouted = text.isupper() and len(text) > 3 and count.total() > count[text]
        return not shouted, not text.islower(), count[text]

    return {form: max(count, key=lambda text: rank(count, text)) for form, count in spelt.items()}


def _grouped(
    places: list[Written], asking: Asking, known: Known, names: dict[str, str], titles: Titles
) -> dict[str, str]:
    """Forms that are slips of another form: one question with all of them, each of which may be answered apart."""
    number = Counter(tight(place.song) for place in places)
    nights: dict[str, set[int]] = defaultdict(set)
    for place in places:
        nights[tight(place.song)].add(place.night)
    pairs = _slips(number, nights, known, names)
    groups: dict[str, str] = {}
    for form, meant in pairs.items():
        if _is_no_word(names[form], names[meant], number[form], number[meant]):
            groups[form] = meant
            titles.merged.append((names[form], number[form], names[meant], number[meant]))
            continue
        key = f"title: {names[form]}"
        said = f'"{names[form]}" ({number[form]}×) looks like "{names[meant]}" ({number[meant]}×).'
        answer = asking.choose(
            key,
            said,
            (names[meant], NEW_SONG),
            names[meant],
            todo=f'Answer "{names[meant]}" if they are one song, or "{NEW_SONG}" if they are two.',
            value=names[form],
        )
        if answer != NEW_SONG:
            groups[form] = meant
            titles.merged.append((names[form], number[form], names[meant], number[meant]))
    return groups


def _is_no_word(typed: str, meant: str, few: int, many: int) -> bool:
    """Whether a slip may be taken without asking: seldom against often, and the word that differs is no word or name."""
    if loose(typed) == loose(meant):
        return True
    one, other = fold(typed).split(), fold(meant).split()
    slips = set(one) - set(other)
    if (
        few <= min(2, many)
        and typed.isascii()
        and all(len(word) > _LONG_WORD for word in slips)
        and _is_written_better(meant, typed)
    ):
        return True
    if few > 1 or many < 3 or len(one) != len(other):
        return False
    differ = [(a, b) for a, b in zip(one, other, strict=True) if a != b]
    if (
        len(differ) != 1
        or len(differ[0][0]) < (4 if len(one) < 3 else 2)
        or any(sign.isdigit() for sign in differ[0][0])
    ):
        return False
    slip, right = differ[0]
    moved = len(slip) != len(right) or sorted(slip) == sorted(right)
    # a letter left out, doubled or moved; another letter could make another name
    turned = sorted(slip) == sorted(right)
    if is_word(slip) or (slip[0] != right[0] and not turned):
        return False
    return (len(slip) > 4 and is_word(right)) or turned or (moved and many >= 5 and len(one) > 1)


def _is_written_better(one: str, other: str) -> bool:
    """Whether the words of a title that another lacks stand in a word list, and none of those that it has instead."""
    mine, theirs = set(fold(one).split()), set(fold(other).split())
    return bool(theirs - mine) and all(map(is_listed, mine - theirs)) and not any(map(is_listed, theirs - mine))


def _is_better(one: str, other: str, number: Counter[str], names: dict[str, str]) -> bool:
    """Whether a form is properly written and another is not, even if the slip is up to twice as common."""
    return number[other] <= 2 * number[one] and _is_written_better(names[one], names[other])


def _slips(number: Counter[str], nights: dict[str, set[int]], known: Known, names: dict[str, str]) -> dict[str, str]:
    """For each form that is a slip of a commoner one in other shows: that one. Never across different digits."""
    from rapidfuzz import process  # noqa: PLC0415  # only where it is used
    from rapidfuzz.distance import OSA  # noqa: PLC0415  # only where it is used

    forms = [form for form in number if len(form) >= _LEAST and form not in known.songs][:_MOST_COMPARED]
    every = [form for form in number if len(form) >= _LEAST][:_MOST_COMPARED]
    if len(every) < 2 or not forms:
        return {}
    near = process.cdist(forms, every, scorer=OSA.distance, score_cutoff=2, dtype="uint8")
    likeness = _likeness(number)
    up = {form: form for form in every}
    stands = {form: set(nights[form]) for form in every}

    def root(form: str) -> str:
        while up[form] != form:
            form = up[form]
        return form

    close = zip(*((near > 0) & (near <= 2)).nonzero(), strict=True)
    pairs = {(int(near[a][b]), forms[a], every[b]) for a, b in close}
    for distance, one, other in sorted(pairs | {(0, *pair) for pair in _said_alike(every, names)}):
        low, high = one, other
        if other not in known.songs:
            low, high = sorted((one, other), key=lambda form: (number[form], -likeness(form)))
            spelt = number[one] == number[other] and not distance and not re.search(r"\d", low)
            low, high = (high, low) if spelt or _is_better(low, high, number, names) else (low, high)
        if not _is_slip(low, high, distance, number, nights, better=_is_better(high, low, number, names)):
            continue
        below, above = root(low), root(high)
        if below != above and not stands[below] & stands[above]:  # what stands twice in one show is two songs
            up[below] = above
            stands[above] |= stands[below]
    families: dict[str, list[str]] = defaultdict(list)
    for form in every:
        families[root(form)].append(form)
    tops: dict[str, str] = {}
    for family in families.values():
        better = {one: any(_is_better(one, other, number, names) for other in family) for one in family}
        top = max(family, key=lambda form: (form in known.songs, better[form], number[form], -likeness(form)))
        tops |= {form: top for form in family if form != top}
    return tops


def _said_alike(forms: Sequence[str], names: dict[str, str]) -> Iterator[tuple[str, str]]:
    """Forms that are one when they are said: "14 Herrings" and "Fourteen Herrings", "The Quill" and "Quill"."""
    said: dict[tuple[str, ...], list[str]] = defaultdict(list)
    for form in forms:
        said[loose(names[form])].append(form)
    for some in said.values():
        yield from itertools.combinations(some, 2)


def _is_slip(
    low: str, high: str, distance: int, number: Counter[str], nights: dict[str, set[int]], *, better: bool
) -> bool:
    """Whether one form may be a slip of another: seldom against often, or the other one alone is made of words."""
    if not distance:
        return number[low] == 1 and not nights[low] & nights[high]
    if re.sub(r"\D", "", low) != re.sub(r"\D", "", high) or nights[low] & nights[high]:
        return False
    if better and len(low) > 2 * _LEAST - 2:
        return True
    if number[low] > 2 + 0.1 * number[high]:
        return False
    return distance == 1 or not (len(low) < 9 or number[low] > 1 or (number[high] < 2 and len(low) < 12))


def _likeness(number: Counter[str]) -> Callable[[str], float]:
    """How odd the letters of a form stand beside each other, against the file's other titles."""
    pairs: Counter[str] = Counter()
    for form, times in number.items():
        for one, two in zip("^" + form, form + "$", strict=True):
            pairs[one + two] += times

    def odd(form: str) -> float:
        return sum(1 / (1 + pairs[one + two] - number[form]) for one, two in zip("^" + form, form + "$", strict=True))

    return odd
