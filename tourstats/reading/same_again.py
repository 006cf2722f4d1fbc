"""A show that is told by an earlier one: "same as last night, Quill instead of Ferry"; proposed with both shows named."""

# ruff: noqa: RUF001, E501  # the signs that people type are meant, and a pattern is read in one piece
from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import replace

from tourstats.reading import encores
from tourstats.reading.cells import LABEL, kind_of, tight
from tourstats.reading.corrections import AFTER, BEFORE, Change, changed, mentions, only_asks, without_filling
from tourstats.reading.layout import Draft, Item, Night, Spot
from tourstats.reading.lines import segues
from tourstats.reading.spellings import bare_titles
from tourstats.reading.titles import Titles, fold, index

_SAME = re.compile(
    r"^\W*(?:the\s+)?(?:same|wie|gleich|like|as|comme|como|come)\b.{0,40}?\b(?:(?:show|night|set|gig)\s+before|again|before|yesterday|last night|night before|night|gestern|vorher|veille|hier|ayer|anoche|ieri|show)\b(?:\s+(?:as|list)\b.{0,24}?\b(?:before|yesterday|last night))?"
    r"|^\W*(?:(?:the|exactly|genau|exactement|le|la|el|lo)\s+)*(?:same|dasselbe|gleich\w*|m[eê]me|mismo|igual|stess[oa]|samma|samme|zelfde)\b(?:\s+\w+){0,2}?\s+(?:as|wie|que|di|som|als)\b|^\W*same\s+(?:set|again)\b",
    re.IGNORECASE,
)
_BETWEEN = re.compile(
    r"\b(?:but|except(?:ing)?|sauf|au(?:ss|ß)er|excepto|salvo|tranne|menos|behalve|utom|undtagen|unntatt|oprócz|kromě|kivéve|instead of|in place of|for|plus|and|added?|with|without|minus|no|drop|at the(?: very)? end|as (?:the )?encore|statt|ohne|mit|und|dazu|aber|last|first|out|in)\b|->|[,;]", re.IGNORECASE
)  # fmt: skip
_NOTHING = re.compile(r"\b(?:no changes?|nothing changed|exactly|again|as before|keine änderung\w*)\b", re.IGNORECASE)
_WHERE = re.compile(rf"\b(?:{AFTER}|{BEFORE}) \w")
"""What a line says, folded, of where a song belongs that was forgotten."""
_ADDED = re.compile(rf"[:,;(]|\b(?:{AFTER}|{BEFORE}|plus)\b", re.IGNORECASE)
LEAVE = "leave it out"
CORRECTION = "a change told later"
_PAIR, _FEW_LINES, _MOST_LINES, _FEW_WORDS, _LONGEST = 2, 3, 6, 4, 300


def is_told(body: Sequence[tuple[int, str]]) -> bool:
    """Whether lines tell a show by another, rather than by its songs."""
    return _telling([line for _, line in body]) is not None


def _telling(lines: Sequence[str]) -> int | None:
    """Which of a few lines tells a show by another: a sentence among remarks, or one of very few lines."""
    at = next((at for at, line in enumerate(lines) if _SAME.match(line)), None)
    few = at is not None and len(lines) <= (_MOST_LINES if len(lines[at].split()) > _FEW_WORDS else _FEW_LINES)
    return at if few else None


def told(draft: Draft) -> dict[int, Item]:
    """The shows that are told by another, by their place, each with the line that says so; they have no items then."""
    found = {}
    for number, night in enumerate(draft.nights):
        at = _telling([item.text for item in night.items])
        if at is not None:
            found[number] = night.items.pop(at)
            draft.take((item.at for item in night.items), "remark", "beside what tells the show")
            night.items, night.settled = [], True
    return found


def corrected(draft: Draft) -> None:
    """Settle what later messages, and lines below a set, change in it."""
    _corrected(draft, draft.later)
    _added(draft)


def same_again(draft: Draft, lines: dict[int, Item]) -> None:
    """Give each show that is told by an earlier one the songs of that one, as they are changed, and ask."""
    earlier: list[Night] = []
    lists = [item.text for item in draft.items() if item.kind != LABEL]
    bare = bare_titles(one for text in lists for one in (text, *segues(text)[::2]))
    for number, night in enumerate(draft.nights):
        if number in lines and earlier:
            _ask(draft, night, lines[number], earlier, bare)
        elif number in lines:
            night.items = [lines[number]]
        earlier += [night] if night.items else []


def _ask(draft: Draft, night: Night, line: Item, earlier: list[Night], bare: dict[str, str]) -> None:
    match = _SAME.match(line.text)
    rest = line.text[match.end() if match else 0 :]
    before, rest = _meant(rest, earlier)
    old = _apart(encores.without_headings(before.items), bare)
    change = changed(
        rest,
        [bare.get(item.text, item.text) for item in old],
        index({*bare.values(), *_new(_BETWEEN.split(rest), bare)}),
    )
    plain = not without_filling(_NOTHING.sub(" ", rest))
    words = ", ".join(change.said) if change else "" if plain else "whose changes are not understood"
    taken = f"the set of {before.day}{', ' if words else ''}{words}"
    answer = draft.asking.choose(
        f"same: {night.day}", f'"{line.text[:80]}" is said of {night.day}: taken for {taken}.', (taken, LEAVE), taken if change or plain else LEAVE,
        where=draft.where(line.at), value=line.text,
    )  # fmt: skip
    if answer != taken:
        night.items = []
        draft.take([line.at], "left out", "as you said")
        return
    night.items = [replace(item, at=line.at, part=at) for at, item in enumerate(_after(old, change, line.at))]


def _new(pieces: Iterable[str], bare: dict[str, str]) -> set[str]:
    """What may be titles that stand nowhere else, of the pieces of a line: with a capital, as the others have."""
    said = [text for piece in pieces if (text := piece.strip(' "“”„«».'))]
    small = all(text == text.casefold() for text in bare.values())
    return {text for text in said if small or not text[0].islower()}


def _apart(items: list[Item], bare: dict[str, str]) -> list[Item]:
    """Items of a set, each song of those that go into one another on its own, if they stand alone elsewhere."""
    forms = {tight(text) for text in bare.values()}
    parted: list[Item] = []
    for item in items:
        pieces = [text.strip() for text in segues(item.text)[::2]]
        if len(pieces) > 1 and all(tight(bare.get(text, text)) in forms for text in pieces):
            parted += [replace(item, text=text, segue=True) for text in pieces[:-1]]
            parted.append(replace(item, text=pieces[-1]))
        else:
            parted.append(item)
    return parted


def _after(old: list[Item], change: Change | None, at: Spot) -> list[Item]:
    """Items of a set after a change; a song that came in is taken from where it was said."""
    numbered = any(item.numbered for item in old)
    songs = change.songs if change else range(len(old))
    return [
        replace(old[one], top=top)
        if isinstance(one, int)
        else Item(one, kind_of(one), at, top, part=top, numbered=numbered)
        for top, one in enumerate(songs)
    ]


def _corrected(draft: Draft, later: Sequence[tuple[Spot, str]]) -> None:
    """Ask about messages that were sent after a set and name its songs: what they change is proposed."""
    titles = index({item.text for item in draft.items() if item.kind != LABEL})
    for spot, text in later:
        night = next((one for one in reversed(draft.nights) if one.at.row < spot.row and one.items), None)
        change = _change_in(text, night, titles) if night is not None else None
        if night is None or change is None:
            continue
        taken = ", ".join(change.said)
        problem = f'"{text[:80]}" was written after the set of {night.day}: taken for {taken}.'
        answer = draft.asking.choose(
            f"correction: {spot.row}", problem, (taken, LEAVE), taken, where=draft.where(spot), value=text
        )
        draft.take([spot], "remark", CORRECTION)
        if answer == taken:
            night.items = _after(encores.without_headings(night.items), change, spot)


def _added(draft: Draft) -> None:
    """Ask about lines below a set that say of one song, which it lacks, that it comes behind or before another of it."""
    often = Counter(item.text for item in draft.items() if item.kind != LABEL and len(item.text) < _LONGEST)
    lines = {text for text, times in often.items() if times == 1 and _WHERE.search(fold(text))}
    if not lines:
        return
    bare = bare_titles(often.keys() - lines)
    for night in draft.nights:
        for line in [item for item in night.items[1:] if item.text in lines and not (item.numbered or item.struck)]:
            rest = [item for item in night.items if item is not line]
            songs = [bare.get(one.text, one.text) for one in rest if one.kind != LABEL]
            change = _forgotten(line.text, songs, index({*bare.values(), *_new(_ADDED.split(line.text), bare)}))
            if change is None:
                continue
            taken = change.said[0]
            answer = draft.asking.choose(
                f"added: {line.at.row}", f'"{line.text[:80]}" is written below the set of {night.day}: taken for {taken}.', (taken, LEAVE), taken,
                where=draft.where(line.at), value=line.text,
            )  # fmt: skip
            draft.take([line.at], "remark", CORRECTION)
            night.items = _after(encores.without_headings(rest), change, line.at) if answer == taken else rest


def _forgotten(text: str, songs: list[str], titles: Titles) -> Change | None:
    """A set with the one song that a line adds to it; None if it does not, or changes more."""
    change = changed(re.sub("[,;(]", " ", text), songs, titles)
    return change if change is not None and len(change.said) == 1 and len(change.songs) > len(songs) else None


def _change_in(text: str, night: Night, titles: Titles) -> Change | None:
    """What a message changes; in words that are not known, one title of the set and one other mean that one in its place."""
    songs = [item.text for item in night.items if item.kind != LABEL]
    found = list(dict.fromkeys(one.song for one in mentions(text, titles)))
    change = changed(text, songs, titles) if found and not only_asks(text) else None
    if change is not None or len(found) != _PAIR or "?" in text:
        return change
    old, new = sorted(found, key=lambda song: song not in songs)
    if old not in songs or new in songs:
        return None
    return Change([new if song == old else at for at, song in enumerate(songs)], [f"{new} in the place of {old}"])


def _meant(rest: str, earlier: list[Night]) -> tuple[Night, str]:
    """The earlier show that is meant, by its town or venue if one is named, and what is said behind that."""
    for night in reversed(earlier):
        for place in (part for text in night.places for part in [text, *re.split(r"[,()–]|\s-\s", text)]):
            at = rest.casefold().find(place.strip().casefold())
            if len(tight(place)) > 2 and at >= 0:
                return night, rest[at + len(place.strip()) :]
    return earlier[-1], rest
