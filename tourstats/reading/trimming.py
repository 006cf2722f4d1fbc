"""Which first and last items of the shows are no songs: songs come again in other places, towns and totals do not.

A row is the items that stand equally far from the top (or the end) of each show. It holds places if its values never
come in other rows while those of the rows between do; totals if they are numbers or times. Numbered sets speak for
themselves.
"""

# ruff: noqa: RUF001, E501  # the signs that people type are meant, and a pattern is read in one piece
from __future__ import annotations

import re
import statistics
from collections import Counter, defaultdict
from collections.abc import Iterable
from dataclasses import dataclass

from tourstats.reading import encores, headers, jotted
from tourstats.reading.cells import DAY, LABEL, NO_SONG, NUMBER, TEXT, TIME, is_around, is_encore, is_pause, tight
from tourstats.reading.known import Known
from tourstats.reading.layout import Draft, Item, Night
from tourstats.reading.medium import is_talk
from tourstats.reading.spellings import bare_titles
from tourstats.reading.titles import fold
from tourstats.reading.ways import CLOCK
from tourstats.tables import ROOMS

SONGS, PLACES, REMARKS = jotted.SONGS, "places", jotted.REMARKS
_FEW_SHOWS = 5
"""Shows up to which each may end with a song that stands nowhere else: it is asked about."""
MOST_HEADS, MOST_FEET = 5, 4
_FEW = 2
"""Lines of a day that may be no set where the sets are numbered."""
_FEWEST_SONGS, _FEWEST_PLACES = 4, 3
_SELDOM = 0.15
"""Share of texts in small letters up to which titles begin large."""
_LISTS = 4
"""Songs of a line from which it lists them."""
_LIST_SIGNS = re.compile(r"\s+[/–—-]\s+|[,;]\s+")
_IN_BRACKETS = re.compile(r"[(\[].*[)\]]")
_HEADING = re.compile(
    r"\b(?:set|sets|set-?list\w*|list[ae]?|songs?|titles?|lieder|tour\w*|live|band|orchest\w*|play(?:ed)?|gespielt\w*|program\w*|repertoire|concert\w*|konzert\w*|show)\b",
    re.IGNORECASE,
)
"""Words of a heading above songs, or of the name of who played them."""
_NOT_TITLES = (NUMBER, TIME, DAY, NO_SONG)


@dataclass(frozen=True)
class Row:
    """What one row of the shows tells: how many of its values come in other rows, in other shows, and are different."""

    items: list[Item]
    elsewhere: float
    again: float
    distinct: int
    numeric: float

    @property
    def size(self) -> int:
        """How many shows it has a value for."""
        return len(self.items)

    @property
    def constant(self) -> bool:
        """Whether it is the same in every show."""
        return self.distinct == 1 and self.size > 1

    @property
    def first(self) -> str:
        """Its first value."""
        return self.items[0].text


class _Rows:
    """The rows of a draft, counted once."""

    def __init__(self, nights: list[Night], known: Known) -> None:
        self.known = known
        self.shows: dict[str, set[int]] = defaultdict(set)
        self.tops: dict[str, set[int]] = defaultdict(set)
        self.bottoms: dict[str, set[int]] = defaultdict(set)
        self.nights = nights
        self.labelled: set[int] = set()
        """Items that a heading such as "Set 1" stands above."""
        last = [night.items[-1] for night in nights if night.items and not night.items[-1].numbered]
        self.last = Counter(item.form for item in last)
        self.ended: dict[str, list[str]] = defaultdict(list)
        for item in last:
            self.ended[_outline(item.text)].append(item.form)
        self.counted: Counter[str] = Counter()
        self.talk: set[str] = set()
        """What stands twice in one show and has a number in none: no set holds a song twice."""
        self.between: dict[str, list[bool]] = defaultdict(list)
        """Of each place in which something without a number stands, whether a number follows."""
        self.beside: dict[str, set[int]] = defaultdict(set)
        """Shows in which something without a number has an outline."""
        self.levels: dict[tuple[str, int], set[int]] = defaultdict(set)
        """Rows from the top (0) and from the bottom (1) in which it stands."""
        self.above: dict[str, set[tuple[str, ...]]] = defaultdict(set)
        """What stands beside the days of its shows."""
        for number, night in enumerate(nights):
            self._count(number, night)
        twice = Counter(
            form for night in nights for form, times in Counter(item.form for item in night.items).items() if times > 1
        )
        self.talk = {
            form for form, shows in twice.items() if shows > 1 and not self.counted[form] and form not in known.songs
        }
        below = [_below_numbers(night) for night in nights]
        ends = [item for some in below for item in some]
        numbered = sum(self.counted[item.form] > 0 or item.form in known.songs for item in ends)
        self.ends_without = sum(map(bool, below)) >= 0.6 * len(below) and numbered >= 0.5 * len(ends) > 0
        """Whether most shows end in songs without a number, as an encore below a line is: elsewhere they have one."""

    def _count(self, number: int, night: Night) -> None:
        label = False
        last = max((place for place, item in enumerate(night.items) if item.numbered), default=-1)
        for place, item in enumerate(night.items):
            self.above[item.form].add(tuple(night.places))
            label = label or item.kind == LABEL
            self.labelled |= {id(item)} if label else set()
            self.bottoms[item.form].add(item.bottom)
            self.shows[item.form].add(number)
            self.tops[item.form].add(item.top)
            self.counted[item.form] += item.numbered
            if not item.numbered:
                outline = _outline(item.text)
                self.between[item.form].append(place < last)
                self.beside[outline].add(number)
                self.levels[outline, 0].add(item.top)
                self.levels[outline, 1].add(item.bottom)

    def ends(self, item: Item) -> bool:
        """Whether the shows end with it, or, with another number in it, nearly all of them: "12 comments"."""
        return self.last[item.form] > 2 or self.ends_counted(item)

    def ends_counted(self, item: Item) -> bool:
        """Whether nearly all shows end with it, with another number in it: "12 comments"."""
        ended = self.ended[_outline(item.text)]
        counts = re.match(r"\d+\s+[^\W\d_]", item.text) is not None and len(set(ended)) > 1
        return counts and len(ended) >= max(3, 0.7 * len(self.nights))

    def again(self, item: Item) -> bool:
        """Whether it stands in other shows, or in the repertoire."""
        return len(self.shows[item.form]) > 1 or item.form in self.known.songs

    def is_title(self, item: Item) -> bool:
        """Whether it has a number in some show, or stands in the repertoire."""
        return self.counted[item.form] > 0 or item.form in self.known.songs

    def moves(self, item: Item) -> bool:
        """Whether it stands in other rows of other shows, or in the repertoire."""
        form = item.form
        return (self.again(item) and min(len(self.tops[form]), len(self.bottoms[form])) > 2) or form in self.known.songs

    def in_set(self, row: Row, *, placed: bool) -> bool:
        """Whether a row is surely of the set: below a heading of it, or the same in several towns, as no venue is."""
        if all(id(item) in self.labelled for item in row.items):
            return True
        where: dict[str, set[tuple[str, ...]]] = defaultdict(set)
        mine = {id(item) for item in row.items}
        for night in self.nights:
            above = tuple(map(tight, [*night.places, *night.said.values(), *(one.text for one in night.head)]))
            for item in night.items:
                if id(item) in mine:
                    where[item.form].add(above)
        apart = sum(len(places) > 1 for places in where.values())
        plain = not any(
            re.search(r"\d{4}|\b(?:leg|tour)\b", item.text, re.IGNORECASE) or fold(item.text) in ROOMS
            for item in row.items
        )
        return placed and len(where) > 1 and apart > 0.3 * len(where) and plain and not row.numeric and row.again >= 0.5

    def parts(self, item: Item) -> bool:
        """Whether it stands in three places or more, always between numbered songs, and never has a number: "MC"."""
        between = self.between[item.form]
        return not self.counted[item.form] and all(between) and len(between) >= _FEWEST_PLACES

    def leads(self, item: Item) -> bool:
        """Whether it leads to what follows in several places, in nearly every show or always at the top: "The set:"."""
        shows = len(self.shows[item.form])
        top = shows > 1 and self.tops[item.form] == {0}
        apart = len(self.above[item.form]) > 1
        return item.text.endswith(":") and apart and (top or shows >= max(3, 0.8 * len(self.nights)))

    def is_named(self, item: Item) -> bool:
        """Whether it is one of several that say the same of their show: "Conductor: ..." above each."""
        named = re.match(r"[^\W\d_]+(?: [^\W\d_]+)?:\s", item.text) is not None
        outline = _outline(item.text)
        in_place = min(len(self.levels[outline, end]) for end in (0, 1)) == 1
        return named and in_place and headers.named(item.text.split(":")[0]) is None and len(self.beside[outline]) > 2

    def is_said_of_show(self, item: Item) -> bool:
        """Whether it tells something of its show by name, or leads to its set."""
        return not item.numbered and item.kind == TEXT and (self.is_named(item) or self.leads(item))

    def of(self, items: Iterable[Item]) -> Row | None:
        row = [item for item in items if item.kind != LABEL and not item.struck]
        if not row:
            return None
        forms = [item.form for item in row]
        elsewhere = sum((len(self.shows[f]) > 1 and len(self.tops[f]) > 1) or f in self.known.songs for f in forms)
        again = sum(len(self.shows[f]) > 1 or f in self.known.songs for f in forms)
        numeric = sum(item.kind in _NOT_TITLES for item in row)
        return Row(row, elsewhere / len(row), again / len(row), len(set(forms)), numeric / len(row))


def trim(draft: Draft, known: Known) -> None:
    """Move the head of each show to its places and leave out its foot; ask where the file does not tell."""
    jotted.leave_out(draft, known)
    bare = bare_titles(item.text for item in draft.items())
    for night in draft.nights:
        for bottom, item in enumerate(reversed(night.items)):
            item.bottom, item.form = bottom, tight(bare[item.text])
    for night in draft.nights:
        night.head += [item for item in night.items if _names_place(item)]
        night.items = [item for item in night.items if not _names_place(item)]
    rows = _Rows(draft.nights, known)
    for night in draft.nights:
        while len(night.items) > 1 and _is_addressed(night.items[-1], draft, rows):
            draft.take([night.items.pop().at], "sender", "below the songs")
    for night in draft.nights:
        _leave_below_end(night, draft, rows)
    _leave_outside(draft, rows)
    encores.in_place_of_numbers(draft)
    for night in draft.nights:
        named = [item for item in night.items if rows.is_said_of_show(item)]
        draft.take((item.at for item in named), "remark", "said of each show")
        night.items = [item for item in night.items if item not in named]
        _strip(night, draft, rows)
        _leave_brackets(night, draft, rows)
        _settle_numbered(night, draft, rows)
    _leave_asides(draft, rows)
    _leave_talk(draft, rows)
    left = [night for night in draft.nights if not night.settled and night.items]
    if len(draft.nights) < 2 or not left:
        return
    tops = sorted({item.top for night in draft.nights for item in night.items})
    by_top = {top: rows.of(item for night in draft.nights for item in night.items if item.top == top) for top in tops}
    middle = [row for top in tops[3:-3] or tops if (row := by_top[top]) is not None]
    usual = _Usual(
        statistics.median([row.elsewhere for row in middle] or [0]),
        statistics.median([row.again for row in middle] or [0]),
    )
    _cut_heads(draft, left, [by_top[top] for top in tops], usual, rows)
    _cut_feet(draft, left, rows, usual)
    _cut_small_feet(draft, left)


def _is_addressed(item: Item, draft: Draft, rows: _Rows) -> bool:
    """Whether a last line leads to what follows it ("Mine:"), or signs a mail with the name of who sent it."""
    if item.numbered or item.marked or item.kind != TEXT or rows.again(item):
        return False
    name = tight(re.sub(r"\W+x+\W*$", "", item.text))
    near = len(name) >= _FEWEST_PLACES and any(person.startswith(name) for person in draft.people)
    return item.text.endswith(":") or near


def _leave_talk(draft: Draft, rows: _Rows) -> None:
    """Where the sets are numbered, a day with a line or two that have no number and come nowhere else is no show."""
    _leave_said(draft, rows)
    some = [night for night in draft.nights if not night.settled and 0 < len(night.items) <= _FEW]
    if len(draft.nights) - len(some) < max(3, 0.7 * len(draft.nights)):
        return
    if not all(night.settled for night in draft.nights if night.items and night not in some):
        return
    for night in some:
        if not any(item.numbered or item.kind == LABEL or rows.again(item) for item in night.items):
            draft.take((item.at for item in night.items), "remark", "no set, among numbered ones")
            night.items = []


def _leave_below_end(night: Night, draft: Draft, rows: _Rows) -> None:
    """What ends nearly every show with a number in it ends this one too, if what stands below it comes nowhere else."""
    end = next((at for at, item in enumerate(night.items) if not item.numbered and rows.ends_counted(item)), None)
    if end is not None and not any(map(rows.again, night.items[end + 1 :])):
        draft.take((item.at for item in night.items[end:]), "remark", "what ends the shows, and below")
        del night.items[end:]


def _leave_said(draft: Draft, rows: _Rows) -> None:
    """Where others hold sets, a day of one line that is a sentence, or begins small as none does, is no show."""
    alone = [night for night in draft.nights if len(night.items) == 1]
    full = [night for night in draft.nights if len(night.items) >= _FEWEST_SONGS]
    capital = [
        item.text[:1].isupper() or item.text[:1].isdigit()
        for night in full
        for item in night.items
        if item.kind == TEXT
    ]
    if len(full) < max(3, 0.7 * sum(bool(night.items) for night in draft.nights)) or sum(capital) < 0.95 * len(capital):
        return
    for night in alone:
        item = night.items[0]
        small = item.text[:1].islower() and len(item.text.split()) > _FEW
        if not item.numbered and not rows.again(item) and (small or _is_said(item)):
            draft.take([item.at], "remark", "no set, among others")
            night.items = []


def _names_place(item: Item) -> bool:
    """Whether a line says itself that it is the city or the venue: "City: Ostby"."""
    name, colon, value = item.text.partition(":")
    return bool(colon and value.strip()) and not item.numbered and headers.named(name) in (headers.CITY, headers.VENUE)


@dataclass(frozen=True)
class _Usual:
    """Median shares of the rows between: values that come in other rows, and in other shows."""

    elsewhere: float
    again: float


def _settle_numbered(night: Night, draft: Draft, rows: _Rows) -> None:
    """Take the run of numbered items of a show as its songs; ask about one within it that has none and comes again."""
    at = [place for place, item in enumerate(night.items) if item.numbered]
    songs = sum(item.kind != LABEL for item in night.items)
    if all(night.items[place].encore for place in at) or (len(at) < 3 and len(at) < songs):
        return
    inside = [item for item in night.items[at[0] : at[-1] + 1] if item.kind != LABEL]
    if len(at) < 0.6 * len(inside):
        return
    night.settled = True
    at = _until_end(night, at, rows, draft)
    above = [item for item in night.items[: at[0]] if item.kind != LABEL]
    said = [item for item in above if (_is_said(item) and not item.text.endswith(":")) or rows.is_named(item)]
    night.head += [item for item in above if item not in said]
    draft.take((item.at for item in said), "remark", "above the songs")
    kept = [item for item in night.items[: at[0]] if item.kind == LABEL]
    encore = next(
        (place for place, item in enumerate(night.items) if item.kind == LABEL and is_encore(item.text)), None
    )
    behind = len(night.items) if encore is None or encore < at[-1] else encore
    if rows.ends_without:
        behind = at[-1]
        for item in night.items[at[-1] + 1 :]:
            item.encore = item.encore or night.items[at[-1] + 1].gap
    talks = False
    for place, item in enumerate(night.items[at[0] :], start=at[0]):
        talks = talks or (
            place > at[-1]
            and item.kind != LABEL
            and (_is_said(item) or _is_parting(item.text) or tight(item.text) in draft.people)
        )
        stays = item.kind == LABEL or item.struck or (item.numbered and (place <= at[-1] or rows.again(item)))
        stays = stays or (item.encore and rows.again(item))
        stays = stays or (encore is not None and place > encore and item.at == night.items[encore].at)
        asked = not stays and item.kind == TEXT and not talks
        stays = stays or (asked and _unnumbered(item, night, draft, rows, within=place > behind) == SONGS)
        if stays:
            kept.append(item)
        else:
            draft.take([item.at], _kind_of_rest(item), "no number among numbered songs")
    night.items = kept


def _below_numbers(night: Night) -> list[Item]:
    """What stands without a number or a heading below the numbered songs of a show."""
    last = max((place for place, item in enumerate(night.items) if item.numbered), default=len(night.items))
    below = night.items[last + 1 :]
    return [] if any(item.kind == LABEL for item in below) else below


def _until_end(night: Night, at: list[int], rows: _Rows, draft: Draft) -> list[int]:
    """Numbered items up to what ends most other shows, if that counts or what stands below it comes nowhere else."""
    end = next((place for place, item in enumerate(night.items) if not item.numbered and rows.ends(item)), None)
    told = end is not None and rows.last[night.items[end].form] <= 2
    if end is None or end < at[0] or (not told and any(rows.again(item) for item in night.items[end + 1 :])):
        return at
    if told:
        draft.take((item.at for item in night.items[end:]), "remark", "below what ends the other shows")
        del night.items[end:]
    return [place for place in at if place < end]


def _unnumbered(item: Item, night: Night, draft: Draft, rows: _Rows, *, within: bool) -> str:
    """Whether what has no number among numbered songs is one; `within` an encore without any numbers it is."""
    titled = _is_like_title(item.text) or any(
        form in rows.shows for form in map(tight, _LIST_SIGNS.split(item.text)[1:])
    )
    again = rows.again(item)
    often = any(map(str.isdigit, item.text)) and len(rows.beside[_outline(item.text)]) > 1
    last = night is draft.nights[-1] and item is night.items[-1] and not item.marked
    if item.form in rows.talk:
        return REMARKS
    if within and (again or (titled and not often and not last)):
        return SONGS
    if rows.parts(item) or (not titled and not rows.is_title(item)):
        return REMARKS
    if not again and (often or tight(item.text) in draft.people):
        return REMARKS
    always = len(rows.shows[item.form]) >= max(3, 0.8 * len(draft.nights))
    said = "yet it stands in other sets" if again else "and stands in no other set: is it a song?"
    return draft.asking.choose(
        f"song: {item.text}", f'"{item.text}" has no number among numbered songs, {said}',
        (SONGS, REMARKS), SONGS if again and not always else REMARKS, where=draft.where(item.at), value=item.text,
    )  # fmt: skip


def _outline(text: str) -> str:
    """The first word of a text, and whether numbers stand in it: what is written below every show has one outline."""
    words = re.findall(r"[^\W\d_]+", text)
    return f"{fold(words[0]) if words else ''} {any(map(str.isdigit, text))}"


def _is_parting(text: str) -> bool:
    """Whether a line below numbered songs asks something or takes leave: what follows it is talk too."""
    words = text.split()
    return (len(words) > 4 and text.endswith("?")) or ((len(words) == 1 or text[-1:] in ",!") and is_talk(text))


def _is_said(item: Item) -> bool:
    """Whether a text is a sentence, a line of the day's plan, or what a desk or a film calls what is no song."""
    words = len(item.text.split())
    ends = item.text.endswith((".", "!!", ":")) and not item.text.endswith("..") and words > 1
    sentence = (
        (ends and len(item.text.split()[-1]) > 3)
        or words > 10
        or (words > 4 and re.search(r"\w{3}[a-z][.?!]\s+[A-Z]", item.text) is not None)
    )
    inside = re.search(r"\b\d{1,2}[:.h]\d{2}\b\W+\w+ \w", item.text) is not None
    aside = _IN_BRACKETS.fullmatch(item.text) is not None and words > 2
    aside = aside or re.fullmatch(r"[^\W\d_]+: .+\(\d+\s?(?:min\w*|['’])\)", item.text) is not None
    return (
        item.kind in _NOT_TITLES
        or sentence
        or aside
        or inside
        or CLOCK.match(item.text) is not None
        or is_around(item.text)
    )


def _leave_outside(draft: Draft, rows: _Rows) -> None:
    """Leave out what stands above the heading of the first set, or in a last paragraph, if it is a song nowhere."""
    for edge in (_above_heading, _last_paragraph, _above_lists, _below_lists):
        outside = {id(item) for night in draft.nights for item in edge(night)}
        songs = {item.form for item in draft.items() if id(item) not in outside}
        some = [item for item in draft.items() if id(item) in outside]
        if (
            not some
            or len(some) > 0.3 * len(outside | {id(item) for item in draft.items()})
            or any(one.form in songs for one in some)
            or (edge is _last_paragraph and any(rows.again(one) and _is_like_title(one.text) for one in some))
        ):
            continue
        if (
            edge in (_last_paragraph, _below_lists)
            and len(some) < 3
            and any(_is_like_title(item.text) for item in some)
        ):
            continue
        if edge is _above_heading and not draft.text and not any(night.places for night in draft.nights):
            for night in draft.nights:  # in a row a show the town may stand left of "Set 1:"
                night.places += [item.text for item in night.items if id(item) in outside]
            draft.take((item.at for item in some), "city")
        elif edge is not _above_lists:
            draft.take((item.at for item in some), "remark", "outside the set")
        for night in draft.nights:
            night.head += [item for item in night.items if id(item) in outside and edge is _above_lists]
            night.items = [item for item in night.items if id(item) not in outside]


def _above_heading(night: Night) -> list[Item]:
    at = next((at for at, item in enumerate(night.items) if item.kind == LABEL), 0)
    later = (
        re.search(r"[23]|two|second|\bii|zweit|deux|dos\b|due\b", night.items[at].text.casefold())
        if night.items
        else None
    )
    return [] if at > MOST_HEADS or not at or later or is_encore(night.items[at].text) else night.items[:at]


def _last_paragraph(night: Night) -> list[Item]:
    at = next((at for at in range(len(night.items) - 1, 0, -1) if night.items[at].gap), 0)
    few = len(night.items) - at <= MOST_HEADS
    return (
        night.items[at:]
        if at and few and not any(item.kind == LABEL or item.numbered for item in night.items[at:])
        else []
    )


def _above_lists(night: Night) -> list[Item]:
    """Lines of one piece above the first line that lists songs."""
    rows = Counter(item.at.row for item in night.items)
    first = next((at for at, item in enumerate(night.items) if rows[item.at.row] > _LISTS), 0)
    return (
        night.items[:first] if first <= MOST_HEADS and all(rows[one.at.row] == 1 for one in night.items[:first]) else []
    )


def _below_lists(night: Night) -> list[Item]:
    """Lines of one piece below the last line that lists songs, but for an encore with its heading."""
    rows = Counter(item.at.row for item in night.items)
    last = next((at for at in range(len(night.items), 0, -1) if rows[night.items[at - 1].at.row] > 1), 0)
    few = last > 0 and len(night.items) - last <= MOST_FEET and max(rows.values()) > _LISTS
    return (
        night.items[last:] if few and not any(item.kind == LABEL or item.encore for item in night.items[last:]) else []
    )


def _is_like_title(text: str) -> bool:
    return text[:1].isupper() and not re.search(r"[/,;~]|:\s|[.:!]$|^\W", text) and len(text.split()) < 8


def _strip(night: Night, draft: Draft, rows: _Rows) -> None:
    """Leave out sentences, and what is played before and behind every show, at either end of it."""
    for end in (0, -1):
        while len(night.items) > 1 and (item := night.items[end]).kind != LABEL:
            stays = min(len(rows.tops[item.form]), len(rows.bottoms[item.form])) == 1 or not item.numbered
            often = len(rows.shows[item.form]) > 1 and is_around(item.text) and stays
            told = (
                item.kind == TEXT
                and not item.numbered
                and not item.text.endswith(":")
                and _is_said(item)
                and not is_around(item.text)
            )
            if not (often or (told and not rows.moves(item) and len(draft.nights) > 1)):
                break
            apart = _unmarked(night, item) and not rows.counted[item.form]
            asks = rows.again(item) and item.kind == TEXT and not CLOCK.match(item.text) and not (told and apart)
            if asks and jotted.asked(draft, item, "several sets") == SONGS:
                break
            draft.take([item.at], "remark", "before the first song or after the last")
            del night.items[end]


def _unmarked(night: Night, item: Item) -> bool:
    """Whether a line has no number or mark though the songs of its show have."""
    others = [one for one in night.items if one.kind != LABEL and one is not item]
    return not item.numbered and sum(one.numbered for one in others) >= max(3, 0.7 * len(others))


def _leave_brackets(night: Night, draft: Draft, rows: _Rows) -> None:
    """Leave out what stands in brackets below a set, as "(great night!)"; where it repeats it is asked about."""
    said = "is it a song, or said of them?"
    while len(night.items) > 1 and _IN_BRACKETS.fullmatch((item := night.items[-1]).text) and not item.numbered:
        form = item.form
        if form in rows.known.songs or rows.bottoms[form] != {item.bottom}:
            return
        apart = _unmarked(night, item) and not rows.is_title(item)
        if len(rows.shows[form]) > 1 and not apart and draft.asking.choose(
            f"row: {item.text}", f'"{item.text}" stands below {len(rows.shows[form])} sets: {said}',
            (REMARKS, SONGS), REMARKS, where=draft.where(item.at), value=item.text,
        ) == SONGS:  # fmt: skip
            return
        draft.take([item.at], "remark", "in brackets below the set")
        del night.items[-1]


def _leave_asides(draft: Draft, rows: _Rows) -> None:
    """Ask about small letters in brackets, as "(tuning)", where every title has a capital and no bracket."""
    asides: dict[str, Item] = {}
    for item in draft.items():
        bare = item.text[1:2].islower() and not item.numbered and item.form not in rows.known.songs
        if bare and item.kind == TEXT and _IN_BRACKETS.fullmatch(item.text):
            asides.setdefault(item.form, item)
    titles = [item.text for item in draft.items() if item.kind == TEXT and item.form not in asides]
    if not titles or any(text[:1].islower() or text[:1] in "([" for text in titles):
        return
    for form, item in asides.items():
        if draft.asking.choose(
            f"song: {item.text}", f'"{item.text}" stands among the songs: is it one, or said between two?',
            (REMARKS, SONGS), REMARKS, where=draft.where(item.at), value=item.text,
        ) == REMARKS:  # fmt: skip
            draft.take((one.at for one in draft.items() if one.form == form), "remark", "in brackets between songs")
            for night in draft.nights:
                night.items = [one for one in night.items if one.form != form]


def _cut_heads(draft: Draft, left: list[Night], by_top: list[Row | None], usual: _Usual, rows: _Rows) -> None:
    placed = draft.placed or sum(bool(one.places or one.said) for one in draft.nights) >= 0.8 * len(draft.nights)
    for row in by_top[:MOST_HEADS]:
        if row is None:
            continue
        if all(_below_heading(night, row.items[0].top) for night in left):
            break
        stays = usual.elsewhere >= 0.45 and row.elsewhere <= 0.1 and row.distinct > 1  # songs move from row to row
        if rows.in_set(row, placed=placed) and not stays:
            break
        taken = _as_head(row, draft, usual, rows, placed=placed, top=row is by_top[0])
        if taken == SONGS:
            break
        placed = placed or row.size >= 0.6 * len(draft.nights)
        for night in left:
            head = [item for item in night.items if item.top == row.items[0].top]
            night.items = [item for item in night.items if item.top != row.items[0].top]
            if taken == PLACES:
                night.head += head
            else:
                draft.take([item.at for item in head], "heading")
        if taken == REMARKS and all(headers.named(item.text) == headers.SONG for item in row.items):
            break


def _below_heading(night: Night, top: int) -> bool:
    """Whether a row of a show stands below a heading of its set: "Set 1:"."""
    return any(item.kind == LABEL and item.at < one.at for one in night.items if one.top == top for item in night.items)


def _opens(row: Row, draft: Draft, rows: _Rows) -> bool:
    """Whether what stands above every set is a song that opens them all.

    It is one of a list, is not written alike everywhere, or there are other songs of every show, and it reads like no heading
    and stands in several towns, as no venue does.
    """
    mine = {id(item): item for item in row.items}
    on_line = Counter((number, item.at.row) for number, night in enumerate(draft.nights) for item in night.items)
    listed = [
        on_line[number, one.at.row]
        for number, night in enumerate(draft.nights)
        for one in night.items
        if id(one) in mine
    ]
    if min(listed) > 1 or len({item.text for item in row.items}) > 1:
        return True
    full = [night for night in draft.nights if night.items]
    always = sum(len(shows) == len(full) for shows in rows.shows.values())
    below = [night.items[1] for night in full if id(night.items[0]) in mine and len(night.items) > 1]
    like = _is_like_title(row.first) and not _HEADING.search(row.first) and headers.named(row.first) is None
    like = like and (not row.first.isupper() or all(item.text.isupper() for item in below))
    towns = {tight(" ".join(night.places)) for night in full}
    return like and always > _FEW and "" not in towns and len(towns) > 1 and not any(item.gap for item in below)


def _as_head(row: Row, draft: Draft, usual: _Usual, rows: _Rows, *, placed: bool, top: bool) -> str:  # noqa: C901, PLR0911  # one rule after the other
    """What the next row from the top holds: songs, places, or headings such as "Song"."""
    known = rows.known
    shows = len(draft.nights)
    if row.distinct <= 2 and row.size >= 2 and all(headers.named(item.text) is not None for item in row.items):
        return REMARKS
    if sum(known.is_place(item.text) for item in row.items) >= 0.7 * row.size and row.elsewhere < 0.3:
        return PLACES
    if row.numeric >= 0.7 and row.elsewhere < 0.3:
        if row.constant and any(item.kind == NUMBER for item in row.items):
            proposal = SONGS if len(row.first) > 2 else REMARKS
            return SONGS if _opens(row, draft, rows) else _ask(draft, row, "Every show begins with", proposal)
        return REMARKS
    if row.elsewhere >= max(0.3, 0.5 * usual.elsewhere) or (draft.beside and not row.constant):
        return SONGS
    said = all(map(_is_said, row.items))
    if row.constant and row.size > 2 and not row.elsewhere:
        opens = not said and _opens(row, draft, rows)
        proposal = SONGS if placed else REMARKS
        return REMARKS if said else SONGS if opens else _ask(draft, row, "Every show begins with", proposal)
    if (row.distinct < 0.3 * row.size and row.distinct < 4) or (row.size < 3 and not known.songs):
        unlike = not usual.elsewhere if row.again else usual.again >= 0.6
        proposal = PLACES if not placed and top and unlike else SONGS
        return _ask(draft, row, "Near the top of the shows stands", proposal, told=row.elsewhere >= 0.1)
    if shows > 3 and usual.again >= 0.6 and row.again <= 0.2:
        return PLACES
    if placed and not row.constant and row.again >= 0.5:
        return _ask(draft, row, "Near the top of the shows stands", SONGS)
    if usual.elsewhere < 0.2:
        return _ask(draft, row, "Hardly a title comes again; above the shows stands", SONGS, told=not top)
    if usual.elsewhere >= 0.45 and row.elsewhere <= 0.2:
        return PLACES
    if row.elsewhere <= 0.3 * usual.elsewhere and row.again < 0.6:
        return PLACES
    return _ask(draft, row, "Near the top of the shows stands", SONGS if placed or row.again > 0.3 else PLACES)


def _is_placed(draft: Draft) -> bool:
    """Whether town and venue of the shows stand elsewhere than above their songs."""
    return draft.placed or all(len(night.places) + len(night.said) > 1 for night in draft.nights)


def _ask(draft: Draft, row: Row, words: str, proposal: str, *, told: bool = False) -> str:
    """Ask what a row holds, unless the file has told enough."""
    if told or (
        _is_placed(draft) and not draft.text and proposal == SONGS and "ends" not in words and "last" not in words
    ):
        return proposal
    spot = row.items[0].at
    return draft.asking.choose(
        f"row: {row.first}", f'{words} "{row.first}": are these songs, places or remarks?', (SONGS, PLACES, REMARKS),
        proposal, where=draft.where(spot), value=row.first,
    )  # fmt: skip


def _cut_feet(  # noqa: C901  # one rule after the other
    draft: Draft, left: list[Night], rows: _Rows, usual: _Usual
) -> None:
    """Leave out rows of numbers or times at the end, and all below them; ask about rows that may be remarks."""
    deep, late = -1, {}
    for bottom in range(MOST_FEET):
        row = rows.of(item for night in left for item in night.items if item.bottom == bottom)
        if row is None:
            continue
        if row.numeric >= 0.7:
            if row.size == 1 and _above_songs(left, rows, range(deep + 1, bottom)):
                continue
            if row.constant and any(item.kind == NUMBER for item in row.items) and not _counts(left, bottom):
                late[bottom] = (row, "Every show ends with", REMARKS)
                continue
            deep = bottom
        elif bottom == deep + 1 and (last := _last_songs(row, usual, len(left))) is not None:
            if last == REMARKS:
                deep = bottom
            else:
                late[bottom] = (row, "The last of each show is", SONGS)
        elif bottom == 0 and row.size >= 3 and row.constant and not row.elsewhere and not _below_encore(left):
            late[bottom] = (row, "Every show ends with", SONGS)
    for bottom, (row, words, proposal) in late.items():
        if bottom > deep and _ask(draft, row, words, proposal) != SONGS:
            deep = bottom
    for night in left:
        _leave_foot(draft, night, deep)


def _below_encore(left: list[Night]) -> bool:
    """Whether the last of every show stands alone below the word for its encore, or behind its sign."""
    above = [night.items[-2] for night in left if len(night.items) > 1]
    return len(above) == len(left) and all(item.kind == LABEL and is_encore(item.text) for item in above)


def _cut_small_feet(draft: Draft, left: list[Night]) -> None:
    """Ask about what is said in small letters at the end of nearly every set, where titles begin large."""
    texts = [item for night in left for item in night.items if item.kind == TEXT]
    small = [item for item in texts if next(filter(str.isalpha, item.text), "A").islower()]
    alike: dict[str, list[Item]] = defaultdict(list)
    for item in small if len(small) <= _SELDOM * len(texts) else ():
        alike[item.form].append(item)
    for some in alike.values():
        low = all(item.bottom <= _FEW and len(item.text.split()) > _FEW and not item.numbered for item in some)
        if not low or len(some) < max(3, 0.8 * len(left)):
            continue
        text = some[0].text
        said = draft.asking.choose(
            f"row: {text}", f'"{text}" stands below {len(some)} sets in small letters, as no title does.',
            (SONGS, REMARKS), REMARKS, where=draft.where(some[0].at), value=text,
        )  # fmt: skip
        if said == REMARKS:
            draft.take((item.at for item in some), "remark", "below the songs")
            for night in left:
                night.items = [item for item in night.items if not any(item is one for one in some)]


def _last_songs(row: Row, usual: _Usual, shows: int) -> str | None:
    """What the last texts of the shows are where they come again less than others do; songs are asked about."""
    if row.size >= 3 and usual.elsewhere >= 0.45 and row.elsewhere <= 0.12 and row.distinct > 1:
        alone = row.again < 0.25
        if alone and (row.size > _FEW_SHOWS or any(map(_is_said, row.items))):
            return REMARKS
        return SONGS if alone or row.distinct <= 0.5 * row.size else None
    seldom = not row.elsewhere and row.again < 0.2
    return SONGS if seldom and usual.elsewhere < 0.45 and usual.again >= 0.6 and shows > 3 else None


def _leave_foot(draft: Draft, night: Night, deep: int) -> None:
    foot = [item for item in night.items if item.bottom <= deep]
    for item in foot:
        draft.take([item.at], _kind_of_rest(item), "below the songs")
    night.items = [item for item in night.items if item.bottom > deep]


def _kind_of_rest(item: Item) -> str:
    """What is left out beside songs: a break is a heading, a number or a time a total, anything else a remark."""
    if is_pause(item.text):
        return "heading"
    return "total" if item.kind in _NOT_TITLES else "remark"


def _above_songs(left: list[Night], rows: _Rows, below: Iterable[int]) -> bool:
    """Whether songs stand in one of the rows below, counted from the end: then a number above them is no total."""
    found = [rows.of(item for night in left for item in night.items if item.bottom == bottom) for bottom in below]
    return any(row is not None and row.again >= 0.5 and row.numeric < 0.5 for row in found)


def _counts(left: list[Night], bottom: int) -> bool:
    """Whether the numbers at the end count the songs above, or nearly so."""
    for night in left:
        above = sum(item.bottom > bottom and item.kind != LABEL for item in night.items)
        said = next((item.text for item in night.items if item.bottom == bottom), None)
        if said is not None and said not in {str(above - less) for less in (0, 1, 2)}:
            return False
    return True
