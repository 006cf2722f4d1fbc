"""Titles that are written short in some shows: the beginning or a word of one that stands in full in others."""

from __future__ import annotations

import re
from bisect import bisect_left
from collections import Counter, defaultdict
from collections.abc import Callable, Iterable

from tourstats.problems import counted, listed
from tourstats.reading.cells import tight
from tourstats.reading.layout import Draft
from tourstats.reading.legends import initials
from tourstats.reading.spellings import Written

SHORT, OWN = "short for these", "titles of their own"
_FEWEST = 3
"""Short names from which a file is taken to use them: one or two may be songs of like names."""
_LETTERS = 3
_CUT_OFF = re.compile(r"\s*(?:…|\.{2,})$")
_MOST = 0.9
"""Share of the shows that have a name or the longer title, never both, from which the one may stand for the other."""
_LAST_SIGN = "\U0010ffff"  # sorts behind whatever else may follow a beginning


def settle(places: list[Written], draft: Draft) -> None:
    """Ask about names that may be short for one title, all at once, and about each that may be short for several."""
    _rename(places, _said_short(places))
    nights: dict[str, set[int]] = defaultdict(set)
    for one in places:
        nights[one.song].add(one.night)
    find = _longer_titles(nights)
    longer = {song: titles for song in nights if (titles := find(song)) and len(tight(song)) >= _LETTERS}
    apart = {song: [title for title in titles if not nights[title] & nights[song]] for song, titles in longer.items()}
    ends = {song: titles[0] for song, titles in apart.items() if len(titles) == 1 and not apart.get(titles[0])}
    often = Counter(ends.values())
    ends = {song: title for song, title in ends.items() if often[title] == 1}  # what holds several songs is a medley
    maybe = ends
    if len(ends) < _FEWEST:  # one or two may be songs of like names
        ends = {song: title for song, title in ends.items() if _is_told_short(song, title, nights)}
    if ends:
        named = listed([f"{short} for {title}" for short, title in ends.items()], 4).replace('"', "")
        answer = draft.asking.choose(
            "short names",
            f"{counted(len(ends), 'name')} may be short: {named}.",
            (SHORT, OWN),
            SHORT,
            value=next(iter(ends)),
        )
        _rename(places, ends if answer == SHORT else {})
    for song, titles in longer.items():
        word = " " not in song and any(song in title.split() for title in titles)
        whole = maybe.get(song) if song not in ends else None
        if whole and " " in song and len(nights[song]) == 1 and len(nights[whole]) >= _FEWEST:
            _ask(places, draft, song, [whole], whole)
            continue
        if song not in ends and (song.endswith(".") or (word and len(titles) > 1)):
            _ask(places, draft, song, titles)


def _said_short(places: list[Written]) -> dict[str, str]:
    """Names that are short by their form for one title alone: its first letters, or its beginning and three points."""
    nights: dict[str, set[int]] = defaultdict(set)
    letters: dict[str, set[str]] = defaultdict(set)
    for one in places:
        nights[one.song].add(one.night)
        letters[initials(one.song)].add(one.song)
    find = _longer_titles(nights)
    longer: dict[str, str] = {}
    for song, mine in nights.items():
        if _CUT_OFF.search(song):
            titles = find(_CUT_OFF.sub("", song))
        elif song.isupper() and song.isalpha() and len(song) >= _LETTERS:
            titles = [title for title in letters[tight(song)] if title != song and not title.isupper()]
        else:
            continue
        if len(titles) == 1 and not nights[titles[0]] & mine:
            longer[song] = titles[0]
    return longer


def _is_told_short(song: str, title: str, nights: dict[str, set[int]]) -> bool:
    """Whether a name ends within a word of the title, is written small unlike it, or stands where it is missing."""
    behind = title.casefold().partition(song.strip(" .").casefold())[2]
    small = song[:1].islower() and title[:1].isupper()
    both, every = nights[song] | nights[title], set().union(*nights.values())
    instead = len(nights[song]) > 1 and len(both) >= max(_FEWEST + 1, _MOST * len(every))
    return behind[:1].isalpha() or small or instead


def _ask(places: list[Written], draft: Draft, song: str, titles: list[str], proposal: str | None = None) -> None:
    """Ask which title one name is short for."""
    at = next(one.at for one in places if one.song == song)
    taken = proposal or "a title of its own"
    answer = draft.asking.choose(
        f"short: {song}", f'"{song}" may be short for {" or ".join(titles[:3])}; it is taken for {taken}.',
        (song, *titles[:3]), proposal or song, where=draft.where(at), value=song,
    )  # fmt: skip
    _rename(places, {song: answer} if answer != song else {})


def _rename(places: list[Written], names: dict[str, str]) -> None:
    for one in places:
        one.song = names.get(one.song, one.song)


def _longer_titles(titles: Iterable[str]) -> Callable[[str], list[str]]:
    """Titles of which a name is the beginning, or the beginning of a word in them; looked up, as files can be long."""
    begun = sorted(
        (title[at:].casefold(), title)
        for title in titles
        for at in range(len(title))
        if title[at].isalnum() and (at == 0 or not title[at - 1].isalnum())
    )

    def longer(song: str) -> list[str]:
        stem = song.strip(" .").casefold()
        found = begun[bisect_left(begun, (stem, "")) : bisect_left(begun, (stem + _LAST_SIGN, ""))]
        return sorted({title for _, title in found if len(tight(title)) > len(tight(song)) + 1})

    return longer
