"""Which songs are of the encore: what stands beside, before or above the last songs of the shows and nowhere else.

Whatever it is called, in whatever language: a word or a sign that begins no song but those at the ends of the sets.
"""

# ruff: noqa: RUF001  # the signs that people type are meant
from __future__ import annotations

import re
from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence

from tourstats.reading import headers
from tourstats.reading.asking import Asking
from tourstats.reading.cells import ENCORES, LABEL, TEXT, is_encore, is_label, tight
from tourstats.reading.layout import Draft, Item, Night
from tourstats.reading.titles import fold
from tourstats.reading.ways import core

_FEWEST, _MOST, _SHARE = 3, 5, 0.4
"""Shows whose ends have to say it, songs of an encore, and the share of a set that it may be."""
_PART = re.compile(r"#?|[ivx]+|.*(?:set|half|part|teil|h[aä]lfte|sats|deel)\b.*|(?:first|second|third|main|last)\b.*")
"""What counts songs, or parts of a set: a last part is no encore for being last."""


_HEADED = re.compile(r"(\w[\w ]{1,14}):\s*(.+)")
_PAIR = 2
_WORD_FIRST = re.compile(rf"({ENCORES})[\s:.)-]+(?=[^\W\d_])", re.IGNORECASE)
_LED = re.compile(r"^\s*(?P<lead>[^\W\d_][^:]{0,30}):\s+(?=\S)(?P<rest>.+)$")
_LISTED = re.compile(r"[,;/>]\s+")
_TITLE = re.compile(r"[^\W\da-z_](?:[^\d:€$£]*[^\d:€$£.!])?")
SONG, LEFT_OUT = "a song", "leave it out"
_LAST_ONE = re.compile(r"(?:the )?(?:last|clos|final|letzte|derni|ultim)")
_FLAGS = frozenset({"0", "1", ""})
_WORD = re.compile(rf"\W*(?:{ENCORES})\W*\d?\W*", re.IGNORECASE)


def form(mark: str) -> str:
    """A mark without its number and the signs around it, as it is compared.

    Examples
    --------
    >>> [form(mark) for mark in ("12.", "E1", "Enc.", "+", " ")]
    ['#', 'e#', 'enc', '+', '']

    """
    return re.sub(r"\d+", "#", mark.casefold()).strip(" .:)(][-–—|")


def is_word(text: str) -> bool:
    """Whether a text is a word for the encore, with a number perhaps: "encore 2", and no "bis" within a title."""
    return _WORD.fullmatch(text) is not None


def at_the_ends(shows: Iterable[Sequence[tuple[str, str]]], *, named: bool = False) -> set[str]:
    """What stands beside the last songs of the shows alone; one show is enough if it is a word for the encore.

    Parameters
    ----------
    shows
        Each song, and what stands beside it, show by show. What goes with a song wherever it stands is its key, unless
        nothing else stands beside any other song.
    named
        Whether it is said already that the encore is marked here, as by the name of a column.

    Examples
    --------
    >>> shows = [["Quill", "Wren", "Marl"], ["Wren", "Marl", "Quill"], ["Marl", "Quill", "Wren"]]
    >>> at_the_ends([list(zip(songs, ("1", "2", "tak"))) for songs in shows])
    {'tak'}

    """
    shows = [show for show in shows if len(show) > 1]
    texts = {mark for show in shows for _, mark in show}
    form_of = {mark: mark if named and texts <= _FLAGS else form(mark) for mark in texts}
    forms = [[form_of[mark] for _, mark in show] for show in shows]
    words = {form_of[mark] for mark in texts if is_encore(mark) and len(form(mark)) >= _FEWEST}
    alone = len({*form_of.values()} - {""}) == 1
    forms_at_ends = set()
    for mark in {one for some in forms for one in some}:
        if _PART.fullmatch(mark) and not (mark in words or named):
            continue
        with_it = [[one == mark for one in some] for some in forms if mark in some]
        last = [flags for flags in with_it if flags == sorted(flags) and sum(flags) <= max(1, _SHARE * len(flags))]
        few = mark in words or (named and mark)
        enough = 1 if few else max(_FEWEST, 0.6 * len(forms))
        with_mark, without = (
            {tight(song) for show in shows for song, one in show if (form_of[one] == mark) == so}
            for so in (True, False)
        )
        if len(last) >= max(enough, 0.9 * len(with_it)) and (few or alone or with_mark & without):
            forms_at_ends.add(mark)
    return {mark for mark in texts if form_of[mark] in forms_at_ends}


def below_leads(shows: Sequence[Sequence[str]], asking: Asking) -> list[list[str]]:
    """Lines of shows in which a word before a colon that leads to the last songs of most says that they are the encore.

    It stands nowhere else. Unless half of what it leads to stands without it elsewhere, it is asked about; what is said
    to be the last song is no encore.

    Examples
    --------
    >>> sets = [["Quill", "Marl", "Wren", "Ask: Zinc"], ["Zinc", "Marl", "Quill", "Ask: Wren"], ["Zinc", "Ask: Marl"]]
    >>> below_leads(sets, Asking())[0]
    ['Quill', 'Marl', 'Wren', 'Encore: Zinc']

    """
    found = [[_LED.match(line) for line in show] for show in shows]
    titles = {core(line) for show in shows for line in show if not _LED.match(line)}
    often = Counter(lead for show in found for lead in {fold(match["lead"]) for match in show if match})
    read = [list(show) for show in shows]
    counted = 2 * sum(line.lstrip()[:1].isdigit() for show in shows for line in show) > sum(map(len, shows))
    for lead, times in often.items():
        ends = [[match is not None and fold(match["lead"]) == lead for match in show] for show in found]
        some = [match for show in found for match in show if match and fold(match["lead"]) == lead]
        few = all(flags == sorted(flags) and sum(flags) <= min(_MOST, max(1, _SHARE * len(flags))) for flags in ends)
        if is_label(f"{lead}:") or times < max(2, 0.6 * len(shows)) or not few or headers.named(lead) is not None:
            continue
        rests = {match["rest"] for match in some}
        told = sum(any(core(piece) in titles for piece in (rest, *_LISTED.split(rest))) for rest in rests)
        if 2 * told < len(rests) and (
            counted or not all(_TITLE.fullmatch(rest) for rest in rests) or not _is_led(some[0], asking)
        ):
            continue
        front = "" if _LAST_ONE.match(lead) else "Encore: "
        for show, flags in zip(read, ends, strict=True):
            show[:] = [
                front + line.partition(":")[2].strip() if led else line for line, led in zip(show, flags, strict=True)
            ]
    return read


def _is_led(line: re.Match[str], asking: Asking) -> bool:
    """Whether songs stand behind a word that leads to the last line of most sets and to no known title, as is asked."""
    problem = f'"{line["lead"]}:" stands before the last of most sets: is "{line["rest"]}" a song?'
    return asking.choose(f"song: {line['rest']}", problem, (SONG, LEFT_OUT), SONG, value=line.string.strip()) == SONG


def settle(draft: Draft) -> None:
    """Take for encores what the marks and the headings of the shows tell, whatever the word for it."""
    nights = [[item for item in night.items if item.kind != LABEL] for night in draft.nights]
    words = at_the_ends([(item.text, item.mark) for item in items] for items in nights)
    for items in nights if words else ():
        for item in items:
            item.encore = item.encore or item.mark in words
    _before_titles(nights)
    _below_headings(draft)
    if not any(map(_has_one, draft.nights)):
        _apart(draft)


def _before_titles(nights: list[list[Item]]) -> None:
    """Take a word off that stands with a colon before the last titles of the shows: "EXTRA: Ferry"."""
    taken = {id(item): match for items in nights for item in items if (match := _HEADED.fullmatch(item.text))}
    items = [item for items in nights for item in items]
    bare = {tight(item.text) for item in items}
    counted = 2 * sum(item.numbered for item in items) > len(items)
    for item in items:
        match = taken.get(id(item))
        if match and (_PART.fullmatch(form(match[1])) or not ((counted and item.numbered) or tight(match[2]) in bare)):
            del taken[id(item)]
    shows = [
        [(match[2], match[1]) if (match := taken.get(id(item))) else (item.text, "") for item in items]
        for items in nights
    ]
    words = at_the_ends(shows, named=sum(any(mark for _, mark in show) for show in shows) > 1) - {""}
    for item in items:
        if (match := taken.get(id(item))) and match[1] in words:
            item.text, item.encore = match[2], True


def in_place_of_numbers(draft: Draft) -> None:
    """Take the word for the encore off songs that have it in the place of a number, if two of them have the same."""
    fronts: dict[str, list[tuple[Item, re.Match[str]]]] = defaultdict(list)
    for night in draft.nights:
        last = max((place for place, item in enumerate(night.items) if item.numbered), default=len(night.items))
        for item in night.items[last + 1 :]:
            if item.kind == TEXT and (front := _WORD_FIRST.match(item.text)):
                fronts[fold(front[1])].append((item, front))
    counted = {fold(item.text.split()[0]) for item in draft.items() if item.numbered and item.text.split()}
    for word, some in fronts.items():
        if word in counted or len({tight(item.text[front.end() :]) for item, front in some}) < _PAIR:
            continue
        for item, front in some:
            item.mark, item.text, item.encore = front[1], item.text[front.end() :], True


def _has_one(night: Night) -> bool:
    return any(item.encore or (item.kind == LABEL and is_encore(item.text)) for item in night.items)


def _apart(draft: Draft) -> None:
    """Take the few songs below the only rule of a set, or empty line, for its encore, where most sets have one."""
    often = Counter(form for night in draft.nights for form in {tight(item.text) for item in night.items})
    nights = [night.items for night in draft.nights if night.items]
    for ruled, share in ((True, 0.6), (False, 0.8)):
        ends: list[list[Item]] = []
        for items in nights:
            gaps = [at for at, item in enumerate(items) if at and (item.ruled if ruled else item.gap)]
            behind = items[gaps[0] :] if len(gaps) == 1 else []
            if behind and len(behind) <= min(_MOST, _SHARE * len(items)):
                ends.append(behind)
        told = [sum(often[tight(item.text)] > 1 for item in behind) for behind in ends]
        ends = ends if ruled else [end for end, again in zip(ends, told, strict=True) if 2 * again >= len(end)]
        if len(ends) >= max(_FEWEST, share * len(nights)) and 2 * sum(told) >= sum(map(len, ends)):
            for behind in ends:
                behind[0].encore = True
            return


def without_headings(items: Iterable[Item]) -> list[Item]:
    """Items of a set without the headings in it; what stands below that of the encore is of it."""
    kept, encore = [], False
    for item in items:
        if item.kind == LABEL:
            encore = is_encore(item.text)
        else:
            item.encore = item.encore or encore
            kept.append(item)
    return kept


def _below_headings(draft: Draft) -> None:
    """A line without a number that stands in most sets above their last few numbered songs is a heading: "Na bis:"."""
    places: dict[str, list[tuple[Night, Item]]] = defaultdict(list)
    for night in draft.nights:
        once = {tight(item.text): item for item in reversed(night.items)}
        for form, item in once.items():
            if not item.marked and not item.numbered and item.kind in (TEXT, LABEL) and item is not night.items[0]:
                places[form].append((night, item))
    full = sum(bool(night.items) for night in draft.nights)
    if 2 * sum(map(_has_one, draft.nights)) > full:
        return
    for some in places.values():
        if len(some) >= max(_FEWEST, 0.6 * full) and _heads_ends(some):
            for night, item in some:
                at = _index(night, item)
                draft.take([item.at], "encore mark", "above the last songs of most shows")
                for one in night.items[at + 1 :]:
                    one.encore = True
                del night.items[at]


def _heads_ends(some: Sequence[tuple[Night, Item]]) -> bool:
    """Whether a line stands above the last few songs of shows, and is itself none: all others have a number."""
    first = some[0][1]
    if first.kind == LABEL and is_label(first.text):
        return False
    sets = [(night.items, night.items[_index(night, item) + 1 :]) for night, item in some]
    apart = first.text.endswith(":") or all(
        sum(one.numbered for one in items) >= 0.6 * (len(items) - 1) for items, _ in sets
    )
    few = [end for items, end in sets if 0 < len(end) <= min(_MOST, max(1, _SHARE * len(items)))]
    counted = {tight(one.text) for items, _ in sets for one in items if one.numbered}
    below = [tight(one.text) in counted for end in few for one in end]
    return apart and len(few) >= 0.9 * len(some) and (2 * sum(below) >= len(below) or first.text.endswith(":"))


def _index(night: Night, item: Item) -> int:
    return next(at for at, one in enumerate(night.items) if one is item)
