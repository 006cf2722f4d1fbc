"""One whole reading weighed: its places in order, what is odd about them, and how well it explains the file."""

# ruff: noqa: RUF001, E501  # the signs that people type are meant
from __future__ import annotations

import itertools
import re
import statistics
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date, timedelta

from tourstats.problems import listed
from tourstats.reading import encores, places, short_names, spellings
from tourstats.reading import lines as lines_
from tourstats.reading.account import SKIP
from tourstats.reading.asking import NO, YES, Asking
from tourstats.reading.blocks import ONE_SET
from tourstats.reading.cells import (
    CANCELLED,
    DAY,
    DAY_AND_TEXT,
    KEY,
    LABEL,
    NO_SONG,
    NUMBER,
    SHORT_DAY,
    TEXT,
    TIME,
    is_encore,
    is_pause,
    is_surely_no_song,
    kind_of,
    tight,
)  # fmt: skip
from tourstats.reading.days import day_in
from tourstats.reading.grids import SONGS_DOWN
from tourstats.reading.headers import CITY, VENUE
from tourstats.reading.known import Known
from tourstats.reading.layout import Draft, Item, Night, Taken
from tourstats.reading.marks import says_cut
from tourstats.reading.spellings import Titles, Written
from tourstats.reading.vocabulary import is_word
from tourstats.reading.workbooks import letter

SONG, LEFT_OUT = "a song", "leave it out"
_NUMERIC = (NUMBER, TIME, DAY, SHORT_DAY)
_TAIL = re.compile(r"(?<=\S)(?:\s+(?:[-–—]+|<+-*|#|\*+)|\s*[(\[:]+)\s*")
_CLOCKS = re.compile(r"\d{1,2}(?:[.:]\d\d)?\s?(?:[ap]\.?m\b|uhr\b|h\b)|\d{1,2}[:.]\d\d", re.IGNORECASE)
_OR = re.compile(r"\s+(?:or|oder|ou)\s+|\s*/\s*|\s*->\s*", re.IGNORECASE)
_PARTED = re.compile(r"\S (?:>+|→) \S")
_FEW_SONGS, _MANY_SONGS, _LONG_TAIL = 3, 60, 8
_INITIALS = re.compile(r"[^\W\d_a-z]{3,6}")
_SAME_END = 3
"""Titles with one last word from which it may stand behind them."""
_LONG = 50
"""Letters from which a text is long for a title though it has a number of its own."""


@dataclass
class Place:
    """One song of one show."""

    night: int
    position: int
    written: Written
    encore: bool
    item: Item
    segue: bool = False

    @property
    def song(self) -> str:
        """Its title."""
        return self.written.song


@dataclass
class Whole:
    """A draft with its songs settled.

    Attributes
    ----------
    draft
        What was weighed.
    places
        Songs in order.
    titles
        What was merged.
    score
        How well it explains itself: the higher, the better.

    """

    draft: Draft
    places: list[Place]
    titles: Titles
    score: float = 0.0
    nights: list[Night] = field(default_factory=list)

    @property
    def asking(self) -> Asking:
        """What is open in it."""
        return self.draft.asking

    def view(self) -> set[tuple[date | None, int, str]]:
        """What it says: day, position and song of every place."""
        return {(self.nights[one.night].day, one.position, tight(one.song)) for one in self.places}


def weighed(draft: Draft, known: Known) -> Whole | None:
    """Settle the songs of a draft, ask about what is odd, and say how good it is; None if there is no song in it."""
    places.settle(draft, known)
    _account_for_heads(draft)
    for item in draft.items():
        if (meant := draft.legend.short.get(tight(item.text))) is not None:
            item.text, item.kind = meant, TEXT
    often = Counter(
        form
        for night in draft.nights
        for form in {tight(text) for item in night.items for text in (item.text, lines_.likely_title(item.text))}
    )
    draft.parted = _parted(draft, often, known)
    draft.raws = {item.text.strip().casefold() for item in draft.items()}
    songs: list[Place] = []
    nights: list[Night] = []
    _leave_places(draft, known)
    for night in draft.nights:
        _leave_cancelled(draft, night, known)
        mine = _places(draft, night, len(nights), often, known)
        if not mine and draft.how != ONE_SET:
            draft.take([night.at], "day", "a day without songs")
        if mine:
            nights.append(night)
            songs += mine
    if not songs:
        return None
    nights, songs = _with_days(draft, nights, songs)
    if not songs:
        return None
    titles = spellings.settle([one.written for one in songs], draft.asking, known, draft.legend)
    whole = Whole(draft, songs, titles, nights=nights)
    _encores_behind(songs)
    _number(whole)
    _ask_about_days(whole)
    _ask_about_sizes(whole)
    _ask_about_titles(whole, known)
    whole.score = _score(whole, known)
    return whole


def _account_for_heads(draft: Draft) -> None:
    for night in draft.nights:
        for item in night.head:
            text = tight(item.text)
            role = next((one for one in (CITY, VENUE) if (said := tight(night.said.get(one, ""))) and (said in text or text in said)), "remark")  # fmt: skip
            draft.account.setdefault(item.at, Taken(role, "" if role != "remark" else "said of the show"))


def _encores_behind(songs: list[Place]) -> None:
    """What is said behind a title may be that it was the encore: "Quill (encore)"; so is what follows it in the show."""
    shows = [list(some) for _, some in itertools.groupby(songs, key=lambda one: one.night)]
    words = encores.at_the_ends([(one.song, one.written.remark) for one in some] for some in shows)
    words = {text for text in words if is_encore(text)}
    told = {id(one): one.written.remark.split(", ") for one in songs}
    words |= {text for some in told.values() for text in some if encores.is_word(text)}
    said = {one.night: at for at, one in reversed(list(enumerate(songs))) if {*told[id(one)]} & (words - {""})}
    for at, one in enumerate(songs):
        one.encore = one.encore or at >= said.get(one.night, at + 1)
        one.written.remark = ", ".join(text for text in told[id(one)] if text not in words)


# ------------------------------------------------------------------------------------------------ songs of a show


def _leave_places(draft: Draft, known: Known) -> None:
    """What names town and venue of a show is the heading of a page, and no song."""
    both = {(tight(night.said[CITY]), tight(night.said[VENUE])) for night in draft.nights if {CITY, VENUE} <= night.said.keys()}  # fmt: skip
    for night in draft.nights:
        heads = [
            item for item in night.items
            if not item.numbered and tight(item.text) not in known.songs
            and any(city in tight(item.text) and venue in tight(item.text) for city, venue in both)
        ]  # fmt: skip
        draft.take((item.at for item in heads), "heading", "town and venue of a show")
        night.items = [item for item in night.items if item not in heads]


def _leave_cancelled(draft: Draft, night: Night, known: Known) -> None:
    """A show of which nothing is said but that it was cancelled has no songs; of "???" it is asked."""
    only = night.items[0] if len(night.items) == 1 else None
    if only is not None and re.match(r"\?{2,}", only.text):
        problem = f'Of the show of {night.day} only "{only.text}" is written; it is left out.'
        draft.asking.confirm(f"left out: {night.day}", problem, where=draft.where(only.at), value=only.text)
        draft.take([only.at], "left out", "a show of which no song is written")
        night.items = []
    if (
        only is not None
        and re.match(rf"\W*(?:{CANCELLED})\b", only.text, re.IGNORECASE)
        and tight(only.text) not in known.songs
    ):
        draft.take([only.at], "left out", "a show that was cancelled")
        night.items = []


def _places(draft: Draft, night: Night, number: int, often: Counter[str], known: Known) -> list[Place]:
    songs: list[Place] = []
    encore = False
    for item in night.items:
        if item.kind == LABEL:
            encore = is_encore(item.text)
            draft.take([item.at], "encore mark" if encore else "heading")
            continue
        encore = encore or item.encore
        item.placed = item.placed or (item is not night.items[-1] and bool(songs))
        for text, segue in _songs(draft, item, often, known):
            songs.append(Place(number, 0, Written(text, number, item.at), encore, item, segue))
    return songs


def _songs(draft: Draft, item: Item, often: Counter[str], known: Known) -> list[tuple[str, bool]]:
    """Titles of one item, each with whether it goes straight into the next; nothing if it is no song."""
    text = item.text.strip().strip('"“”„').strip()
    again = often[tight(item.text)] > 1 or tight(text) in known.songs
    where = draft.where(item.at)
    if item.kind == NO_SONG and not again_like_song(item, again=again, known=known):
        return _left_out(draft, item, text, often)
    if item.struck:
        draft.take([item.at], "struck out")
        return []
    tails = [text[at.end() :] for at in _TAIL.finditer(text)]
    if (cut := next(filter(_is_cut, tails), None)) is not None:
        draft.take([item.at], "struck out", cut.strip(" )]"))
        return []
    if item.kind in _NUMERIC and not _numeric_title(item, text, again=again):
        proposal = SONG if item.kind == NUMBER and re.fullmatch(r"\d{2,4}", text) else LEFT_OUT
        answer = draft.asking.choose(
            f"song: {text}",
            f'"{text}" stands among the songs: is it one?',
            (SONG, LEFT_OUT),
            proposal,
            where=where,
            value=text,
        )
        if answer == LEFT_OUT:
            draft.take([item.at], "number", "a number among the songs")
            return []
    if item.kind == KEY and not again:
        draft.asking.choose(
            f"song: {text}", f'"{text}": a key, or a title?', (SONG, LEFT_OUT), SONG, where=where, value=text
        )
    return _several(draft, item, text, often, known)


def _is_cut(tail: str) -> bool:
    """Whether a tail says that a song was cut, and perhaps why: "(CUT - time)"."""
    words = re.split(r"\s*[,;:–—(]\s*|\s+-\s*", tail.strip(" )]"))
    return says_cut(words[0]) and (len(words) == 1 or len(tail.split()) < _LONG_TAIL)


def again_like_song(item: Item, *, again: bool, known: Known) -> bool:
    """Whether a word that usually is no song is one here: in the repertoire, or numbered and back again."""
    off = re.fullmatch(rf"\W*(?:{CANCELLED})\W*", item.text, re.IGNORECASE)
    never = is_surely_no_song(item.text) or (is_pause(item.text) and not off)
    stands = item.numbered or (off is not None and item.placed)
    return tight(item.text) in known.songs or (again and stands and not never)


def _left_out(draft: Draft, item: Item, text: str, often: Counter[str]) -> list[tuple[str, bool]]:
    total = is_surely_no_song(text)
    off = re.fullmatch(rf"\W*(?:{CANCELLED})\W*", text, re.IGNORECASE)
    pause = is_pause(text) and not off and not (item.numbered and 2 * often[tight(item.text)] < len(draft.nights))
    said_off = re.search(rf"\b(?:{CANCELLED})\b", item.text, re.IGNORECASE)
    if item.numbered and not (total or said_off or is_pause(text)) and not any(map(str.isdigit, text)):
        return [(text, False)]  # it is counted among the songs: "Curfew", "The End"
    if not total and (item.numbered or item.placed) and not pause:
        answer = draft.asking.choose(
            f"song: {text}",
            f'"{text}" has a place among the songs.',
            (SONG, LEFT_OUT),
            SONG if is_pause(text) and draft.named else LEFT_OUT,
            where=draft.where(item.at),
            value=text,
        )
        if answer == SONG:
            return [(text, False)]
    empty = re.fullmatch(r"[-–—]+", text) is not None
    if total and (item.numbered or item.placed) and not any(sign.isalnum() for sign in text) and not empty:
        draft.asking.confirm(
            f"left out: {text}",
            f'"{text}" stands where a song should; it is left out, and the songs below move up.',
            where=draft.where(item.at),
            value=text,
        )
    counts = any(sign.isdigit() for sign in text) and not is_pause(text)
    draft.take([item.at], "total" if counts else "left out", "no song" if total else text)
    return []


def _numeric_title(item: Item, text: str, *, again: bool) -> bool:
    """Whether a number or a day among the songs is surely a title."""
    digits = item.kind in (NUMBER, SHORT_DAY) and re.fullmatch(r"\d{1,4}|.*[^\W\d_]{3}.*", text) is not None
    return (digits and (again or item.numbered or item.placed)) or (
        item.kind in (DAY, SHORT_DAY, DAY_AND_TEXT) and again
    )


def _several(  # noqa: C901, PLR0911  # one way after the other
    draft: Draft, item: Item, text: str, often: Counter[str], known: Known
) -> list[tuple[str, bool]]:
    """A text that may hold two songs: one going into the next, or one or the other."""

    def title(part: str) -> bool:
        return often[tight(part)] > 0 or tight(part) in known.songs or tight(lines_.likely_title(part)) in often

    whole = tight(text) in known.songs or re.fullmatch(r"\d+/\d+", text) is not None
    if whole or (often[tight(text)] > 2 and not _PARTED.search(text)):
        return [(text, item.segue)]
    pieces = [piece.strip() for piece in lines_.segues(text)[::2]]
    marks = [mark.strip() for mark in lines_.segues(text)[1::2]]
    if len(pieces) > 1 and not pieces[-1]:
        return [(pieces[0], True)] if len(pieces) == 2 and not marks[0].isalpha() else [(text, item.segue)]
    if len(pieces) == 2 and pieces[0] and re.match(r"[(\[*]|[-–—]\s", pieces[1]):
        return [(f"{pieces[0]} {pieces[1]}", True)]
    arrows = [mark for mark in marks if ">" in mark or "→" in mark]
    if len(pieces) > 1 and all(pieces) and sum(map(title, pieces)) >= max(1, len(pieces) - 1):
        if "->" not in marks and (arrows or all(map(title, pieces))):
            return [
                *((piece, mark != "/") for piece, mark in zip(pieces, marks, strict=False)),
                (pieces[-1], item.segue),
            ]
        return _asked_pieces(draft, item, text, pieces)
    if len(pieces) > 1 and all(pieces) and {">", "→"} & {*marks}:
        if draft.parted:
            return [*((piece, True) for piece in pieces[:-1]), (pieces[-1], item.segue)]
        return _asked_pieces(draft, item, text, [text, *pieces])
    choices = [piece.strip() for piece in _OR.split(text)]
    if len(choices) == 2 and all(choices) and all(map(title, choices)):
        return _asked_pieces(draft, item, text, choices)
    doubtful = re.fullmatch(r"(.+?)\s*\(?\?+\)?", text)
    if doubtful and (tight(doubtful[1]) in known.songs or doubtful[1].casefold() in draft.raws):
        answer = draft.asking.choose(
            f"song: {text}", f'"{text}": was it played?', (YES, NO), YES, where=draft.where(item.at), value=text
        )
        return [(doubtful[1].strip(), item.segue)] if answer == YES else _skip(draft, item)
    return [(text, item.segue)]


def _parted(draft: Draft, often: Counter[str], known: Known) -> bool:
    """Whether most arrows between words of the file part two titles, of which one at least stands alone elsewhere."""
    found = [lines_.segues(item.text)[::2] for item in draft.items() if _PARTED.search(item.text)]
    told = sum(
        any(often[tight(lines_.likely_title(one))] or tight(one) in known.songs for one in some) for some in found
    )
    return 2 * told > len(found)


def _asked_pieces(draft: Draft, item: Item, text: str, pieces: list[str]) -> list[tuple[str, bool]]:
    """Ask which of two songs it was, or whether both."""
    both = "both"
    answer = draft.asking.choose(
        f"song: {text}",
        f'"{text}": which was played?',
        (*pieces, both, SKIP),
        pieces[0],
        where=draft.where(item.at),
        value=text,
    )
    if answer == SKIP:
        return _skip(draft, item)
    return [(piece, False) for piece in pieces] if answer == both else [(answer, item.segue)]


def _skip(draft: Draft, item: Item) -> list[tuple[str, bool]]:
    draft.take([item.at], "left out", "as you said")
    return []


# ------------------------------------------------------------------------------------------------ what is odd


def _number(whole: Whole) -> None:
    """Number the places of each show, and the shows of one day."""
    count: Counter[int] = Counter()
    for one in whole.places:
        count[one.night] += 1
        one.position = count[one.night]
    twice = Counter(form for one in whole.places for form in [(one.night, tight(one.song))])
    for (night, form), times in twice.items():
        if times > 1:
            first = next(one for one in whole.places if one.night == night and tight(one.song) == form)
            whole.asking.confirm(
                f"twice: {whole.nights[night].day} {first.song}",
                f'"{first.song}" stands {times} times in the set of {whole.nights[night].day}.',
                where=whole.draft.where(first.item.at),
                value=first.song,
            )


def _with_days(draft: Draft, nights: list[Night], songs: list[Place]) -> tuple[list[Night], list[Place]]:
    """Ask for the day of each show that has none: the day of the show before is not lent."""
    if draft.how == ONE_SET:
        return nights, songs
    gone: set[int] = set()
    for at, key in _keys_of_days(nights).items():
        night = nights[at]
        said = _ask_day(draft, nights, at, key)
        night.day = said if isinstance(said, date) else None
        gone |= {at} if said == SKIP else set()
    if not gone:
        return nights, songs
    for one in songs:
        if one.night in gone:
            draft.take([one.item.at], "left out", "a show without a day, as you said")
    kept = [at for at in range(len(nights)) if at not in gone]
    places_ = [one for one in songs if one.night not in gone]
    for one in places_:
        one.night = one.written.night = kept.index(one.night)
    return [nights[at] for at in kept], places_


def _keys_of_days(nights: list[Night]) -> dict[int, str]:
    """For each show without a day what its question is called: by what stands there, else by its place."""
    bare = {at: night for at, night in enumerate(nights) if night.day is None}
    typed, rows = (Counter(one.typed for one in bare.values()), Counter(one.at.row for one in bare.values()))
    places = {
        at: f"column {letter(one.at.column)}" if rows[one.at.row] > 1 else f"row {one.at.row}"
        for at, one in bare.items()
    }
    return {at: f"date: {one.typed if one.typed and typed[one.typed] == 1 else places[at]}" for at, one in bare.items()}


def _ask_day(draft: Draft, nights: list[Night], at: int, key: str) -> date | str:
    """The day of one show: what was answered, or one between those of its neighbours, which is asked about."""
    night = nights[at]
    before = next((one.day for one in reversed(nights[:at]) if one.day), None)
    after = next((one.day for one in nights[at + 1 :] if one.day), None)
    one = timedelta(days=1)
    guess = before + one if before else after - one if after else None
    what = f'"{night.typed}" is no day' if night.typed else "The day is missing"
    proposal = f"{guess}" if guess else ""
    said = str(draft.asking.answers.get(key, SKIP))
    valid = tight(said) == SKIP or ((found := day_in(said, whole=True)) is not None and found.how == "certain")
    asking = draft.asking if valid else Asking(open=draft.asking.open)
    answer = asking.choose(
        key, f"{what}.", (proposal, SKIP) if proposal else (SKIP,), proposal,
        todo='Give the day as 2031-03-04, or "skip" to leave this show out.', free=True, where=draft.where(night.at), value=night.typed,
    )  # fmt: skip
    if answer == SKIP:
        return SKIP
    given = day_in(answer, whole=True)
    settled = given.on("") if given is not None and given.how == "certain" else None
    return settled or ""


def _ask_about_days(whole: Whole) -> None:
    asking, days = whole.asking, [night.day for night in whole.nights]
    known = [day for day in days if day is not None]
    _ask_about_order(asking, known)
    seen: dict[tuple[date | None, str], list[int]] = {}
    for night in whole.nights:
        same = seen.setdefault((night.day, tight(night.said.get(CITY, ""))), [])
        clocks = {
            said[0]
            for said in (_CLOCKS.findall(" ".join(other.places)) for other in whole.nights if other.day == night.day)
            if said
        }
        if same and night.number is None and len(clocks) > len(same):
            night.number = max(same) + 1
        elif same and (night.number is None or night.number in same):
            asking.confirm(
                f"two shows: {night.day}",
                f"{night.day} stands for two shows{' in ' + night.said[CITY] if CITY in night.said else ''}; they are taken as two of one day.",
                where=whole.draft.where(night.at),
            )
            night.number = max(same) + 1
        same.append(night.number or 1)
    if len(set(known)) < len({(night.day, tight(night.said.get(CITY, ""))) for night in whole.nights if night.day}):
        asking.confirm("one day, two cities", "One day stands for shows in two cities.")


def _ask_about_order(asking: Asking, days: list[date]) -> None:
    runs: list[list[date]] = []
    for day in days:
        runs[-1:] = [[*runs[-1], day]] if runs and runs[-1][-1] <= day else [*runs[-1:], [day]]
    if len(runs) < len(days) and [day for run in runs[::-1] for day in run] == sorted(days):
        return  # mails below each other, the latest first
    for before, day, after in zip(days, days[1:], days[2:], strict=False):
        if before <= after and not before <= day <= after and len(days) > 3:
            asking.confirm(f"day: {day}", f"{day} stands between {before} and {after}.")
    steps = [b > a for a, b in itertools.pairwise(days) if a != b]
    if len(days) > 3 and steps and max(sum(steps), len(steps) - sum(steps)) / len(steps) < 0.8:
        asking.confirm("order of days", "The days go neither forward nor backward.")
    for near, (last,) in ((days[1:3], days[:1]), (days[-3:-1][::-1], days[-1:])) if len(days) > 3 else ():
        if abs((last - near[0]).days) > 330 + 20 * abs((near[0] - near[1]).days):
            asking.confirm(f"day: {last}", f"{last} stands far from the others.")


def _ask_about_sizes(whole: Whole) -> None:
    count = Counter(one.night for one in whole.places)
    sizes = [count[at] for at in range(len(whole.nights))]
    usual = statistics.median(sizes)
    for at, size in enumerate(sizes):
        odd = len(sizes) > 3 and (size > 1.7 * usual or size < 0.35 * usual)
        if odd or (len(sizes) in (2, 3) and (size > 3 * usual or 3 * size < usual)):
            night = whole.nights[at]
            whole.asking.confirm(
                f"size: {night.day}",
                f"The show of {night.day} has {size} songs, the others {usual:g}.",
                where=whole.draft.where(night.at),
            )
    if (usual < _FEW_SONGS or usual > _MANY_SONGS) and whole.draft.how != ONE_SET and not _told(whole):
        whole.asking.confirm("sizes", f"The sets have {usual:g} songs: is that right?")


def _told(whole: Whole) -> bool:
    """Whether the file says itself where the songs are: a column of that name, or numbers before them."""
    return whole.draft.named or sum(one.item.numbered for one in whole.places) >= 0.6 * len(whole.places)


def _ask_about_titles(whole: Whole, known: Known) -> None:
    """Ask about texts that stand once and look unlike the titles, and whether there are titles at all."""
    asking, places_ = whole.asking, whole.places
    nights = shows_of(places_)
    back = [one for one in places_ if len(nights[tight(one.song)]) > 1 or tight(one.song) in known.songs]
    once = [one for one in places_ if len(nights[tight(one.song)]) == 1 and tight(one.song) not in known.songs]
    numbered = any(one.item.numbered for one in places_)
    if len(whole.nights) > 3 and len(back) < 0.25 * len(places_) and not numbered and not whole.draft.named:
        asking.confirm("titles", "Hardly a title comes again: are these songs?")
    short_names.settle([one.written for one in places_], whole.draft)
    _ask_about_initials(whole, known)
    if len(whole.nights) == 1 and not known.songs and whole.draft.text and not whole.draft.named:
        asking.confirm(
            "one show", f'One show of {len(places_)} songs, of which none is known: "{places_[0].song}" and so on.'
        )
    usual = sorted({one.song for one in back})
    if len(usual) >= 5 and whole.draft.how != SONGS_DOWN:  # there marks say what was played
        _ask_about_odd(whole, once, usual)
    starts = Counter(one.written.raw.split(": ")[0] for one in places_ if ": " in one.written.raw)
    timed = sum(bool(re.match(r"\W*\d{1,2}[:.]\d\d", one.written.raw)) for one in places_)
    if timed > 0.2 * len(places_) or (starts and starts.most_common(1)[0][1] > 0.3 * len(places_)):
        asking.confirm("beginnings", "The titles begin with times, or all with one name.")
    _ask_about_endings(whole)
    long = next((one for one in places_ if len(one.written.raw) > 80), None)
    if long is not None:
        asking.confirm(
            "long title", f'"{long.written.raw[:60]} …" is long for a title.', where=whole.draft.where(long.item.at)
        )


def _ask_about_initials(whole: Whole, known: Known) -> None:
    """Ask about letters that are no word, where titles are words: the first ones of a title that stands nowhere in full."""
    titles = {one.song for one in whole.places if tight(one.song) not in known.songs}
    initials = {
        song for song in titles if song.isupper() and _INITIALS.fullmatch(song) and not is_word(song.casefold())
    }
    if initials and 2 * sum(song.isupper() for song in titles) < len(titles):
        named = listed(sorted(initials), 4)
        problem = f"{named}: what is that short for? If it is no title, write it in full in the file and read it again."
        whole.asking.confirm(f"initials: {min(initials)}", problem, value=min(initials))


def _ask_about_endings(whole: Whole) -> None:
    """Ask where most titles end with one of a few words: a key, a number, initials, who plays: they may stand behind."""
    titles = {one.song for one in whole.places}
    ends = [title.split()[-1] for title in titles if len(title.split()) > 1]
    short = Counter(end for end in ends if len(end) <= 3)
    same = Counter({end: times for end, times in Counter(ends).items() if times >= _SAME_END})
    short = max(short, same, key=Counter.total) if whole.draft.text else short
    if len(ends) >= 8 and short.total() > 0.6 * len(ends) and len(short) <= 0.5 * short.total():
        first = next(title for title in sorted(titles) if title.split()[-1] in short)
        whole.asking.confirm("endings", f'Most titles end with a few short words, such as "{first}": is that right?', value=first)  # fmt: skip


_FRAMED = re.compile(r"([~*=_#+|-]+)\s*\w.*\w\s*\1")


def _ask_about_odd(whole: Whole, once: list[Place], usual: list[str]) -> None:
    def form(text: str) -> tuple[bool, bool]:
        return text[:1].islower(), bool(re.search(r"\d[:.]\d\d|[.:,;…]$|\?\?|!!", text))

    small = statistics.mean(form(text)[0] for text in usual)
    signs = statistics.mean(form(text)[1] for text in usual)
    longest, words = max(map(len, usual)) + 6, max(len(text.split()) for text in usual) + 1
    capital = {one.night for one in whole.places if one.written.raw[:1].isupper()}

    def odd(one: Place) -> bool:
        text = one.song
        long = len(text) > longest or len(text.split()) > words
        told = one.item.numbered or (whole.draft.named and one.item.placed)
        return (
            (form(text)[0] and small < 0.1 and one.night in capital)
            or (form(text)[1] and signs < 0.1)
            or (long and (whole.draft.text or not told or len(text) >= _LONG))
        )

    framed = {text for text in {one.song for one in whole.places} if _FRAMED.fullmatch(text)}
    framed = framed if 5 * len(framed) < len(usual) else set()
    unlike = dict.fromkeys(sorted(framed), "stands between signs, as no other title does")
    unlike |= dict.fromkeys((one.song for one in once if odd(one)), "stands once and looks unlike the titles")
    for text, how in unlike.items():
        theirs = [one for one in whole.places if one.song == text]
        likely = LEFT_OUT if text in framed else SONG
        where = whole.draft.where(theirs[0].item.at)
        offers = (likely, *({SONG, LEFT_OUT} - {likely}))
        problem = f'"{text}" {how}: is it a song?'
        if whole.asking.choose(f"song: {text}", problem, offers, likely, where=where, value=text) == LEFT_OUT:
            for one in theirs:
                one.written.song = ""
    gone = [one for one in whole.places if not one.written.song]
    if gone:
        whole.draft.take((one.item.at for one in gone), "left out", "as you said")
        whole.places = [one for one in whole.places if one.written.song]
        count: Counter[int] = Counter()
        for one in whole.places:
            count[one.night] += 1
            one.position = count[one.night]


def shows_of(songs: Iterable[Place]) -> dict[str, set[int]]:
    """The shows that each song stands in, by its form."""
    shows: dict[str, set[int]] = {}
    for one in songs:
        shows.setdefault(tight(one.song), set()).add(one.night)
    return shows


def comes_again(whole: Whole) -> bool:
    """Whether these are surely sets: several songs a show, of which a good part comes again."""
    count = Counter(one.night for one in whole.places)
    nights = shows_of(whole.places)
    again = sum(len(nights[tight(one.song)]) > 1 for one in whole.places)
    return (
        len(count) > 1
        and statistics.median(count.values()) >= 3
        and again >= 0.3 * len(whole.places)
        and whole.draft.how != ONE_SET
    )


def _score(whole: Whole, known: Known) -> float:
    count = Counter(one.night for one in whole.places)
    sizes = [count[at] for at in range(len(whole.nights))]
    nights = shows_of(whole.places)
    many = len(whole.places)
    again = sum(len(nights[tight(one.song)]) > 1 or tight(one.song) in known.songs for one in whole.places) / many
    words = sum(kind_of(one.written.raw) == TEXT for one in whole.places) / many
    distinct = sum(map(len, nights.values())) / many
    days = [night.day for night in whole.nights]
    forward = [b > a for a, b in itertools.pairwise(days) if a and b and a != b]
    way = max(sum(forward), len(forward) - sum(forward)) / len(forward) if forward else 1
    spread = statistics.pstdev(sizes) / statistics.mean(sizes)
    score = (
        (1.0 if whole.draft.named else 0.0)
        + 2 * again
        + words
        + min(1, distinct)
        + 0.7 * len(set(days)) / len(days)
        + 0.5 * way
        + 0.5 * max(0, 1 - spread)
    )
    return (
        score
        - 0.15 * min(8, len(whole.asking.open))
        - (2 if statistics.median(sizes) < 2.5 and not _told(whole) else 0)
    )
