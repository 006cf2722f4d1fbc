"""A show that is told by another: "same as last night, Quill instead of Ferry"; proposed with both shows named."""

# ruff: noqa: E501  # a pattern is read in one piece
from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace

from tourstats.reading.cells import kind_of, tight
from tourstats.reading.layout import Draft, Item, Night

_SAME = re.compile(
    r"^\W*(?:the\s+)?(?:same|wie|gleich|like|as)\b.{0,40}?\b(?:(?:show|night|set|gig)\s+before|set|again|before|yesterday|last night|night before|night|gestern|vorher|show)\b(?:\s+(?:as|list)\b.{0,24}?\b(?:before|yesterday|last night))?",
    re.IGNORECASE,
)
_QUOTES = "\"“”„«»' ."
_INSTEAD = re.compile(
    r"(?:^|[,;.]|\bbut\b|\bwith\b)\s*(?P<new>[^,;]+?|[\"“].+?[\"”])\s+(?:instead of|in place of|for|statt)\s+(?P<old>.+)$",
    re.IGNORECASE,
)
_WITHOUT = re.compile(r"\b(?:without|minus|no|ohne|except)\s+(?P<old>.+)$", re.IGNORECASE)
_PLUS = re.compile(
    r"\b(?:plus|and|added|with|mit)\s+(?P<new>.+?)\s+(?:at the(?: very)? end|last|to close|zum schluss)\W*$",
    re.IGNORECASE,
)
_ARROWS = re.compile(r"(?P<old>[^.]+?)\s*->\s*out\s*,\s*(?P<new>.+?)\s*->\s*in\b.*$", re.IGNORECASE)
_NOTHING = re.compile(r"\W*(?:(?:again|as (?:the )?(?:show |night )?before|no changes?|unchanged|exactly)\W*)*")
LEAVE = "leave it out"


def is_told(body: Sequence[tuple[int, str]]) -> bool:
    """Whether lines tell a show by another, rather than by its songs."""
    return 0 < len(body) <= 3 and any(_SAME.match(line) for _, line in body)


def same_again(draft: Draft) -> None:
    """Give each show that is told by the one before the songs of that one, and ask."""
    before: Night | None = None
    for night in draft.nights:
        said = next((item for item in night.items if _SAME.match(item.text)), None) if len(night.items) <= 3 else None
        if said is not None and before is not None:
            _ask(draft, night, said, before)
        before = night if night.items else before


def _ask(draft: Draft, night: Night, said: Item, before: Night) -> None:
    songs, change = _changed([item for item in before.items if item.kind != "label"], said)
    taken = f"the set of {before.day}, {change}" if change else f"the set of {before.day}"
    answer = draft.asking.choose(
        f"same: {night.day}", f'"{said.text[:80]}" is said of {night.day}: taken for {taken}.', (taken, LEAVE), taken if change is not None else LEAVE,
        where=draft.where(said.at), value=said.text,
    )  # fmt: skip
    night.items = songs if answer == taken else []
    night.settled = True
    if answer != taken:
        draft.take([said.at], "left out", "as you said")


def _changed(items: list[Item], said: Item) -> tuple[list[Item], str | None]:
    """Songs of the show before with what is said to be changed, and the change in words; None if it is not understood."""
    songs = [replace(item, at=said.at, part=at, top=at) for at, item in enumerate(items)]
    at_of = {tight(item.text): at for at, item in enumerate(songs)}
    rest = re.sub(r"^(?:but|only|with|except that)\s+", "", said.text[_end(said.text) :].strip(" ,;."))
    if _NOTHING.fullmatch(rest):
        return songs, ""
    for form in (_ARROWS, _INSTEAD, _PLUS, _WITHOUT):
        match = form.search(rest)
        parts = match.groupdict() if match else {}
        new, old = (
            re.sub(r"\bat the(?: very)? end$", "", parts.get(name, "")).strip(_QUOTES) for name in ("new", "old")
        )
        if not parts or (old and tight(old) not in at_of):
            continue
        if old and new:
            at = at_of[tight(old)]
            songs[at] = replace(songs[at], text=new, kind=kind_of(new))
            return songs, f'"{new}" in the place of "{old}"'
        if old:
            return [item for item in songs if tight(item.text) != tight(old)], f'without "{old}"'
        return [
            *songs,
            Item(new, kind_of(new), said.at, len(songs), part=len(songs), numbered=said.numbered),
        ], f'"{new}" at the end'
    return songs, None


def _end(text: str) -> int:
    found = _SAME.match(text)
    return found.end() if found else 0
