"""How people type a set: repertoires of several styles, and a noise process with a known answer for each line.

Truth: every line made by `messy` has one right answer; every line made by `strangers` has none (a title that the
repertoire does not have, or an abbreviation that fits two songs). Temptation: matching whatever is nearest answers all of
the first and all of the second.
"""

# ruff: noqa: E501, RUF001, SIM905, PLR0911, ARG005, B023  # lists of words and signs are read in one piece; the lambdas are called at once

import re
import unicodedata
from collections import Counter
from dataclasses import dataclass

import numpy as np

_NOUNS = (
    "Ferry Wire Rook Ladle Lantern Sluice Trivet Harbour Trellis Gasket Bobbin Orchard Pulley Thimble Gutter Saucer Trowel Plough "
    "Parcel Ledger Kindle Heath Tunnel Kerchief Barrow Marrow Valise Basket Compass Lighthouse Rake Crate Stone Lid Light Latch "
    "Hatch Hinge House Flask Wafer Wick Spoke Sponge Spindle Sickle Pickle Mill Dial Drain Grain Keg Peg Bell Grate Larder Line Lane Plank "
    "Hoe Mallet Wallet Turnip Tarpaulin Parsnip Shilling Saddler Trumpeter Cornice"
).split()
_ADJECTIVES = (
    "Copper Salt Tin Old New Dented Pewter Woollen Quiet Long Last First Blue Red Green Brown White Paper Hollow Crooked Northern Empty "
    "Tilted Folded Frozen Little Oily Lumpy Lent Dark Brisk Slow Second Midweek Sleeping Velvet Iron Hidden Ribbed"
).split()
_VERBS = "Follow Shovel Leave Hoist Mend Bake Wait Rinse Fold Ring Tilt Weigh Sift Bring Stack Find Lift Open Close Prune".split()
_SMALL = "in on over under by for from to beyond without behind across into".split()
_ODD = (
    "1847", "Ember/Or", "7 Buckets", "Żółta Łódź", "Café Louche", "Søndagsbrød", "Señor Tamiz", "夜の船賃", "港の鍋", "Белая Лопата", "Μαύρη Κουτάλα",
    "Half (Trowel)", "Slow - Fast", "Left > Right", "Don't Weigh Up", "Nobody's Drain Line", "Who's Ladling?", "Pier B", "Élan du Facteur",
    "Salt & Parsnip Hill", "Rake 'n' Rust", "Pt. Reyna", "Culvert Street, Pt. 2", "Culvert Street, Pt. 1", "Überseife", "Åskvägg", "Ferry No. 9",
    "Twenty-One Ladles", "99 Trowels", "A.M. Turnip Hill", "Mañana Tal Cual", "Q", "Oe", "Drub", "Æther Mill", "Naïf", "שלום דלי", "مرسى الدلو",
)  # fmt: skip
STYLES = ("two words", "sentences", "few words", "odd")

_NEIGHBOURS = {
    letter: (row[at - 1 : at] if at else "") + row[at + 1 : at + 2]
    for row in ("qwertyuiop", "asdfghjkl", "zxcvbnm")
    for at, letter in enumerate(row)
}


@dataclass(frozen=True)
class Line:
    """A line as typed, the title it means (None if it has no right answer), and what was done to it."""

    typed: str
    meant: str | None
    kind: str


def _pick(rng, items):
    return items[int(rng.integers(len(items)))]


def title(rng, style):
    """Make up one title."""
    nouns, adjectives = (_NOUNS, _ADJECTIVES) if style != "few words" else (_NOUNS[:24], _ADJECTIVES[:14])
    noun, other, adjective = _pick(rng, nouns), _pick(rng, nouns), _pick(rng, adjectives)
    verb, small = _pick(rng, _VERBS), _pick(rng, _SMALL)
    if style == "two words":
        forms = [f"{adjective} {noun}"] * 6 + [f"{noun} {other}"] * 3 + [noun]
    elif style == "few words":
        forms = [
            f"{adjective} {noun}",
            f"{noun} {other}",
            f"The {adjective} {noun}",
            f"{adjective} {noun} {other}",
            f"{noun} of {other}",
        ]
    else:
        forms = [
            f"{adjective} {noun}", f"The {noun} {small.title()} the {other}", f"{verb} the {noun}", f"{verb} Me {small.title()} the {noun}",
            f"The {adjective} {noun}", f"{noun} and {other}", f"{noun} & {other}", f"{verb}ing {small.title()} {noun}", f"A {noun} {small} {adjective} {other}",
            f"Don't {verb} the {adjective} {noun}", f"{noun}'s {other}", f"My {adjective} {noun}", f"No {noun}", f"{noun}", f"{verb} {small.title()}",
            f"{noun}, Pt. 2",
        ]  # fmt: skip
    return _pick(rng, forms)


def _key(text):
    bare = "".join(c for c in unicodedata.normalize("NFKD", text.casefold()) if not unicodedata.combining(c))
    return re.sub(r"\b(the|a|an)\b|\W|_", "", bare.replace("&", "and")) or text


def repertoire(rng, style, size=150):
    """Make up titles, all different also without case, accents, articles and punctuation."""
    found = {_key(t): t for t in _ODD} if style == "odd" else {}
    while len(found) < size:
        made = title(rng, style if style != "odd" else "sentences")
        found.setdefault(_key(made), made)
    return list(found.values())[:size]


def slip(rng, text):
    """One typing slip on a letter of the text."""
    places = [at for at, letter in enumerate(text) if letter.isalpha()]
    if len(places) < 4:
        return text
    at = _pick(rng, places[1:] if rng.random() < 0.9 else places)
    letter = text[at].lower()
    how = rng.choice(["beside", "drop", "double", "swap", "stray", "other"], p=[0.28, 0.26, 0.12, 0.2, 0.07, 0.07])
    if how == "beside" and _NEIGHBOURS.get(letter):
        return text[:at] + _pick(rng, _NEIGHBOURS[letter]) + text[at + 1 :]
    if how == "double":
        return text[:at] + text[at] * 2 + text[at + 1 :]
    if how == "swap" and at + 1 < len(text):
        return text[:at] + text[at + 1] + text[at] + text[at + 2 :]
    if how == "stray":
        return text[:at] + _pick(rng, "abcdefghijklmnopqrstuvwxyz") + text[at:]
    if how == "other":
        return text[:at] + _pick(rng, "abcdefghijklmnopqrstuvwxyz") + text[at + 1 :]
    return text[:at] + text[at + 1 :]


def _plainer(rng, text):
    """Without accents and punctuation."""
    bare = "".join(c for c in unicodedata.normalize("NFKD", text) if not "\u0300" <= c <= "\u036f")
    return " ".join(re.sub(r"[^\w\s]", _pick(rng, ["", " "]) if rng.random() < 0.3 else "", bare).split()) or text


def _articles(rng, text):
    return re.sub(r"\b(?:The|A|An|the|a) ", "", text)


def _ands(rng, text):
    if "&" in text:
        return text.replace("&", _pick(rng, ["and", "+", "n"]))
    return re.sub(r"\band\b", "&", text)


def _parts(rng, text):
    return re.sub(
        r"Pt\. (\d)",
        lambda m: _pick(rng, [f"pt {m[1]}", f"part {m[1]}", f"Part {'I' * int(m[1])}", f"Pt{'.'} {m[1]}"]),
        text,
    )


def _joined(rng, text):
    return text.replace(" ", "", 1) if rng.random() < 0.5 else text.replace(" ", "").lower()


KINDS = {
    "as it is": lambda rng, text: text,
    "case": lambda rng, text: _pick(rng, [text.upper(), text.lower(), text.title()]),
    "plainer": _plainer,
    "one slip": slip,
    "two slips": lambda rng, text: slip(rng, slip(rng, text)),
    "slip, lower case": lambda rng, text: slip(rng, text.lower()),
    "no articles": _articles,
    "and": _ands,
    "part": _parts,
    "joined": _joined,
}
_WEIGHTS = {"as it is": 3, "case": 3, "one slip": 4, "two slips": 2, "slip, lower case": 3}


def _short_forms(titles):
    """Initials and first words that fit exactly one title: form → title, and those that fit more."""
    initials, first, inside = Counter(), Counter(), Counter()
    made = {"initials": {}, "first words": {}, "cut short": {}}
    fits_two = []
    for text in titles:
        words = [re.sub(r"\W", "", word) for word in text.split()]
        words = [word for word in words if word]
        if len(words) >= 2 and all(word[0].isascii() and word[0].isalpha() for word in words):
            form = "".join(word[0] for word in words).upper()
            initials[form] += 1
            made["initials"][form] = text
        content = [w for w in words if w.lower() not in ("the", "a", "an")]
        inside.update({_key(word) for word in content})  # a bare word that stands in several titles fits them all
        for count in range(1, len(content)):
            form = " ".join(content[:count])
            first[form.lower()] += 1
            if len(form) >= 4 and content[count - 1].lower() not in (*_SMALL, "and", "of", "my", "no", "me"):
                made["first words"][form] = text
    keys = {_key(text) for text in titles}
    fits_two += [form for form, count in initials.items() if count > 1 and len(form) > 1 and _key(form) not in keys]
    fits_two += [
        form
        for form, text in made["first words"].items()
        if (first[form.lower()] > 1 or inside[_key(form)] > 1) and _key(form) not in keys
    ]
    made["initials"] = {
        f: t for f, t in made["initials"].items() if initials[f] == 1 and _key(f) not in keys and len(f) > 2
    }
    made["first words"] = {
        f: t
        for f, t in made["first words"].items()
        if first[f.lower()] == 1 and inside[_key(f)] < 2 and _key(f) not in keys
    }
    for text in titles:
        words = text.split()
        if len(words) > 1 and len(words[-1]) > 4 and text.isascii():
            cut = text[: -len(words[-1]) + 2]
            if sum(_key(other).startswith(_key(cut)) for other in titles) == 1:
                made["cut short"][cut] = text
    return made, fits_two


def decorate(rng, text, number):
    """Put numbering before a title and times, keys, tempos, remarks and signs behind it."""
    before = _pick(
        rng,
        [
            "", "", f"{number}. ", f"{number}) ", f"#{number} ", f"{number:02d} - ", f"({number}) ", f"[{number}] ", f"{number}: ", f"{number} ",
            "- ", "• ", "* ", f"{chr(96 + number % 26 + 1)}) ", f"{number}.", f"\t{number}\t", "I. ", "→ ", "[ ] ", f"{number} – ",
        ],
    )  # fmt: skip
    behind = ""
    for _ in range(int(rng.choice([0, 1, 2], p=[0.45, 0.4, 0.15]))):
        behind += _pick(
            rng,
            [
                " 3:45", " (4 min)", " 3'45", " Am", " F#m", " in D", " 128", " 128bpm", " ♩=128", " (new!)", " *", " - capo 2", " w/ strings",
                " >", " ->", " (Am)", " [3:45]", " 21:10", " !!", " – slow start", "\t3:45", "  Bb", " (acoustic)", ", capo 3", " | 96 bpm", " x2",
            ],
        )  # fmt: skip
    return before + text + behind


def messy(rng, titles, count, *, decorated=True):
    """Lines that have a right answer."""
    forms, _ = _short_forms(titles)
    kinds = [*KINDS, *forms]
    weights = np.array([_WEIGHTS.get(kind, 1.5) for kind in kinds])
    lines = []
    while len(lines) < count:
        kind = str(rng.choice(kinds, p=weights / weights.sum()))
        if kind in forms:
            if not forms[kind]:
                continue
            typed = _pick(rng, list(forms[kind]))
            meant = forms[kind][typed]
            typed = typed.lower() if rng.random() < 0.3 else typed
        else:
            meant = _pick(rng, titles)
            typed = KINDS[kind](rng, meant)
            kind = "as it is" if typed == meant else kind
        if kind != "as it is" and any(typed == other for other in titles if other != meant):
            continue
        lines.append(Line(decorate(rng, typed, len(lines) % 30 + 1) if decorated else typed, meant, kind))
    return lines


def strangers(rng, titles, style, count):
    """Lines that have no right answer."""
    _, fits_two = _short_forms(titles)
    keys = {_key(text) for text in titles}
    lines = []
    while len(lines) < count:
        kind = _pick(
            rng,
            ["another title", "another title", "one word more", "one word other", "last words", "fits two", "one word"],
        )
        known = _pick(rng, titles)
        words = known.split()
        typed = {
            "another title": lambda: title(rng, style if style != "odd" else "sentences"),
            "one word more": lambda: f"{known} {_pick(rng, ['Blues', 'Thrice', 'Again', 'Waltz', *_NOUNS])}",
            "one word other": lambda: " ".join([*words[:-1], _pick(rng, _NOUNS)]) if len(words) > 1 else "Gravel Mountain",
            "last words": lambda: " ".join(words[1:]) if len(words) > 2 else f"Ah {words[-1]} Mine",
            "fits two": lambda: _pick(rng, fits_two) if fits_two else "Zither Lament",
            "one word": lambda: _pick(rng, ["Tarmac", "Gravy", "Parade", "Thirtieth", "Marble", "Hangar", *_NOUNS]),
        }[kind]()  # fmt: skip
        if _key(typed) in keys or (kind != "fits two" and any(_key(t).startswith(_key(typed)) for t in titles)):
            continue
        lines.append(Line(decorate(rng, typed, len(lines) % 30 + 1), None, kind))
    return lines
