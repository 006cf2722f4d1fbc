"""How the lines of a file's shows are cut into pieces: whole, a field of each, or many songs a line.

Every way is tried on all shows at once. What speaks for one is how much of the text it makes come again from show to
show, each piece once a show: songs do, and so a cut at the right sign makes more of the file come again than any other.
"""

# ruff: noqa: RUF001  # the signs that people type are meant
from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from itertools import groupby, pairwise

from tourstats.reading.asking import Asking
from tourstats.reading.cells import (
    DAY,
    ENCORES,
    KEY,
    LABEL,
    NO_SONG,
    NOTHING,
    NUMBER,
    RECORDED,
    TIME,
    is_label,
    kind_of,
    tight,
)
from tourstats.reading.known import Known

BEHIND = "Encore:"
"""What stands for strokes in a list, which part the encore."""
_STROKES = re.compile(r"//| \| | -{2,3} ")
CELLS, GAP, INLINE, QUOTED, WORDS = "\t", "  ", "1. ", "“ ”", " "
_ENCORE_WITHIN = re.compile(
    rf"(?:\s*[.;,|/)\]–—-]+\s*|(?<=\S)\s+)[(\[]?(?:the\s+)?(?:E|{ENCORES})\s*:\s*(?=\S)", re.IGNORECASE
)
_MARK_ALONE = re.compile(rf"\W*\d{{1,2}}\W*|\W*(?:[EZRB]|{ENCORES})\s*\d?\W*", re.IGNORECASE)
"""What stands in the place of a number and belongs to what stands behind it."""
LISTS = (" > ", " → ", " / ", " | ", "; ", " – ", " - ", " — ", " · ", ", ", "/", ";", ">")
_FIELDS = (CELLS, GAP, INLINE, ";", " | ", " — ", " – ", " - ", ",")
NUMBER_FIRST = re.compile(
    r"^\s*#?\(?(?!\d{1,2}[:.]\d{2}\b)(\d{1,2})(?:[.):]\s*(?:[-–](?![-–]))?\s*|\s*[-–]\s+|\s+)(?=\S)"
)
CLOCK = re.compile(r"^\s*\(?\d{1,2}:\d{2}(?::\d{2})?\)?\s*[-–—:|]?\s*(?=\S)")
MARK = re.compile(
    r"^\s*(?:(?:[-*•]\s+)?\[[ xX✓✔]?\]|[-*•–·+‣✓✔]|[\u2190-\u2bff\U0001f300-\U0001faff])\s+|^\s*[✓✔・\u25a0-\u25ff]\s*"
)
"""A hyphen, a dot, a box, a tick, or any picture with a space behind it; behind a dot or a square of the East none."""
_LEAD = re.compile(r"^([^:\d“\"]{1,40}):\s+(?=\S)")
_HEADED = re.compile(r"^([^:“\"]{1,40}):\s+(?=\S)")
"""A lead, which may count the sets."""
_AND = re.compile(r"\s+(?:and|und|et|y|e|og|och|i|ja|en|&)\s+")
_RECORDED = re.compile(rf"{RECORDED}$", re.IGNORECASE)
_EMPTY = (NUMBER, TIME, DAY, NO_SONG, LABEL, NOTHING)
_GAIN = 1.25
"""How many times as much has to come again before lines are cut rather than taken whole."""
_IN_A_LINE = (", ", "; ", " / ", " - ", " – ")
_LISTED = 5
"""Pieces from which a line lists songs where the others hold one each."""
_ALL_QUOTED = 0.9
_LOOK = 4000
"""Lines that are looked at."""
ACROSS, DOWN = "across", "down"


@dataclass(frozen=True)
class Field:
    """A part of a line: its text, and which it is."""

    text: str
    at: int


@dataclass
class Cut:
    """A line cut: its songs in order, what was said before them ("Encore:"), and what stands beside them."""

    songs: list[Field]
    lead: str = ""
    beside: list[Field] = field(default_factory=list)


@dataclass(frozen=True)
class Way:
    """One way to cut lines.

    Attributes
    ----------
    sign
        What stands between the parts; nothing if a line is one piece.
    picks
        Which parts are songs; empty if all are.
    worth
        How much of the text it makes come again.

    """

    sign: str = ""
    picks: tuple[int, ...] = ()
    worth: float = 0.0

    @property
    def is_list(self) -> bool:
        """Whether a line holds any number of songs."""
        return bool(self.sign) and not self.picks


Bodies = Sequence[Sequence[str]]


def core(text: str) -> str:
    """A text without what counts it, times it or marks it, as it is compared."""
    bare = MARK.sub("", text.strip())
    for form in (CLOCK, NUMBER_FIRST, CLOCK):
        rest = form.sub("", bare, count=1)
        bare = rest if re.search(r"\w", rest) else bare
    return tight(_RECORDED.sub("", bare))


def parts(line: str, sign: str) -> list[str]:
    """Parts of a line between signs; an empty cell is an empty part.

    Examples
    --------
    >>> parts(" 1  Quill      7  Tin Moth", GAP), parts("1. Quill  2. Tin Moth", INLINE)
    (['1  Quill', '7  Tin Moth'], ['1. Quill', '2. Tin Moth'])

    """
    if not sign:
        return [line.strip()]
    if sign == INLINE:
        return [part.strip() for part in re.split(r"\s+(?=\d{1,2}[.)]\s+\S)", line.strip())]
    if sign == QUOTED:
        return re.findall(r"[“\"«„]([^“”\"«»„]{1,60})[”\"»“]", line)
    if sign == GAP:
        found: list[str] = []
        for part in re.split(r"\s{2,}|\t", line.strip()):
            if found and _MARK_ALONE.fullmatch(found[-1]):
                found[-1] += f"  {part}"
            elif part:
                found.append(part)
        return found
    strokes = [found for found in _STROKES.finditer(line) if found[0].strip() != sign.strip()] if sign in LISTS else []
    if len(strokes) == 1:
        return [*parts(line[: strokes[0].start()], sign), BEHIND, *parts(line[strokes[0].end() :], sign)]
    return [part.strip() for part in line.split(sign)]


def with_encore_parted(line: str) -> str:
    """A list of songs with two strokes where it says that the encore begins: "Quill, Wren. Enc: Tin Moth".

    Examples
    --------
    >>> with_encore_parted("Quill, Wren, Zinc. Enc: Tin Moth, Marl"), with_encore_parted("Encore: Quill")
    ('Quill, Wren, Zinc // Tin Moth, Marl', 'Encore: Quill')

    """
    if len(re.findall(r"(?<!/)//(?!/)", line)) > 1:
        return re.sub(r"\s*///?\s*", lambda match: " // " if "///" in match[0] else " / ", line)
    found = _ENCORE_WITHIN.search(line)
    if found is None or not any(sign in line[: found.start()] for sign in LISTS):
        return line
    rest = line[found.end() :]
    return f"{line[: found.start()]} // {rest.rstrip(')]') if re.search('[([]', found[0]) else rest}"


def unwrapped(body: Sequence[tuple[int, str]], sign: str, width: float) -> list[tuple[int, str]]:
    """Lines of a show with those joined that an editor has broken: a list that goes on where the line is full."""
    joined: list[tuple[int, str]] = []
    mark, last = sign.strip(), ""
    for number, line in body:
        text = line.strip()
        full = len(last.rstrip()) + 1 + len(text.split(" ")[0]) > width
        listed = bool(joined) and (mark in joined[-1][1] or mark in text)
        goes_on = listed and not MARK.match(line) and (last.rstrip().endswith(mark) or (full and not _LEAD.match(line)))
        if goes_on or (joined and mark and text.startswith(mark)):
            joined[-1] = (joined[-1][0], f"{joined[-1][1].rstrip()} {text}")
        else:
            joined.append((number, line))
        last = line
    return joined


def leads(bodies: Bodies) -> set[str]:
    """What stands before a colon at several shows, such as "They played:", or says set or encore."""
    found = [
        {match[1].strip() for line in body for match in [_LEAD.match(MARK.sub("", line))] if match} for body in bodies
    ]
    often = Counter(lead for one in found for lead in one)
    return {lead for lead, times in often.items() if times > 1 or is_label(f"{lead}:")}


def cut(line: str, way: Way, leading: set[str], again: Counter[str] | None = None, *, said_of_set: bool = False) -> Cut:
    """Cut one line; two pieces alone are no list unless it was said that a set follows."""
    said_of_set = said_of_set or way.sign not in (", ", " - ", " – ", " — ")
    lead = _LEAD.match(MARK.sub("", line)) if way.is_list else None
    if lead and lead[1].strip() in leading:
        inner = cut(MARK.sub("", line)[lead.end() :], way, set(), again, said_of_set=True)
        return Cut(inner.songs, lead[1].strip(), inner.beside)
    texts = parts(line, way.sign)
    if way.sign == QUOTED:
        return Cut([Field(text.strip(), at) for at, text in enumerate(texts)])
    if way.is_list:
        texts = _ending(_apart(texts, way.sign, again), way, again)
        several = len(texts) > 2 or said_of_set
        return Cut([Field(text, at) for at, text in enumerate(texts) if text] if several else [Field(line.strip(), 0)])
    if not way.sign and again is not None:
        return _of_one(line, again)
    if not way.picks or len(texts) <= min(way.picks):
        return Cut([Field(line.strip(), 0)] if way.sign != CELLS else [])
    songs = [Field(texts[at], at) for at in way.picks if at < len(texts) and texts[at]]
    return Cut(songs, "", [Field(text, at) for at, text in enumerate(texts) if at not in way.picks and text])


def below_heading(line: str) -> tuple[str, str]:
    """The heading that a line begins with ("Encore"), and what stands behind it; nothing if it begins with none."""
    bare = MARK.sub("", line)
    lead = _HEADED.match(bare)
    return (lead[1].strip(), bare[lead.end() :]) if lead and is_label(f"{lead[1].strip()}:") else ("", "")


def below_headings(lines: Iterable[str]) -> Counter[str]:
    """How often each text stands behind a heading in a line, and pieces of several; how many each heading leads."""
    led = [(lead, rest) for lead, rest in map(below_heading, lines) if rest]
    rests = [rest for _, rest in led]
    heads = Counter(f"{lead}:" for lead, _ in {(lead, core(rest)) for lead, rest in led})
    several = {core(rest): rest for rest in rests}.values()
    pieces = Counter(
        form
        for rest in several
        for form in {core(one) for sign in _IN_A_LINE for one in parts(rest, sign)} - {core(rest)}
    )
    return Counter(map(core, rests)) + Counter({form: times for form, times in pieces.items() if times > 1}) + heads


def signs_in_titles(lines: Iterable[str]) -> Counter[str]:
    """How many lines without a heading of their own hold a sign that may part songs."""
    return Counter(sign for line in lines if not below_heading(line)[0] for sign in _IN_A_LINE if sign in line)


def _of_one(line: str, again: Counter[str]) -> Cut:
    """Cut a line of a file whose lines hold one song each: one may list songs, or say something behind its song."""
    lead, rest = below_heading(line)
    if lead:
        pieces = max(
            (_whole_titles(parts(rest, sign), sign, again) for sign in _IN_A_LINE),
            key=lambda some: (sum(again[core(one)] > 0 for one in some) / len(some) if len(some) > 1 else 0, len(some)),
        )
        sign = next(sign for sign in _IN_A_LINE if _whole_titles(parts(rest, sign), sign, again) == pieces)
        if two := next(
            (two for two in _twos(rest) if min(again[core(one)] for one in two) >= max(1, again[core(rest)])), None
        ):
            return Cut([Field(text, at) for at, text in enumerate(two)], lead)
        known = sum(again[core(piece)] > 0 for piece in pieces)
        if len(pieces) > 1 and ((again[core(rest)] < 2 and known >= 0.5 * len(pieces)) or not again[sign]):
            return Cut([Field(text, at) for at, text in enumerate(pieces) if text], lead)
        if again[core(line)] < 2 or again[f"{lead}:"] > 1:
            return Cut([Field(rest, 0)], lead)
    if listed := _listed(line, again):
        return Cut([Field(text, at) for at, text in enumerate(listed)])
    match = re.match(r"(.*?\S)(?:\s{3,}|\t)(\S.*)$", line.strip())
    if match and again[core(match[1])]:
        return Cut([Field(match[1], 0)], "", [Field(match[2], 1)])
    return Cut([Field(line.strip(), 0)])


def _whole_titles(pieces: list[str], sign: str, again: Counter[str]) -> list[str]:
    """Pieces of a line, those joined that are one title elsewhere: "Perro Viejo, Calle Nueva"."""
    for at, (one, other) in enumerate(pairwise(pieces)):
        if (
            again[core(both := f"{one}{sign}{other}")] > (len(pieces) == 2)
            and not again[core(one)] * again[core(other)]
        ):
            return _whole_titles([*pieces[:at], both, *pieces[at + 2 :]], sign, again)
    return pieces


def _listed(line: str, again: Counter[str]) -> list[str]:
    """Songs of a line that lists them where the others of the file hold one each; of a sentence none."""
    for sign in LISTS[:10]:
        songs = [text for text in parts(line, sign) if text]
        if any(len(text) > 50 or re.search("[“”«»„]|[.?!]\\s", text) for text in songs):
            continue
        known = sum(again[core(text)] > 0 for text in songs)
        if (
            len(songs) >= _LISTED
            and again[core(line)] < 2
            and (known >= 0.5 * len(songs) or sign in (" > ", " → ", " / ", " | "))
        ):
            return _ending(songs, Way(", "), again)
    return []


def _apart(texts: list[str], sign: str, again: Counter[str] | None) -> list[str]:
    """Pieces of a list, cut where its sign lacks a space or another one stands, if each side is a song elsewhere."""
    if again is None or not sign.strip():
        return texts
    found = []
    for text in texts:
        tried = ([piece.strip() for piece in text.split(one)] for one in (sign.strip(), *_IN_A_LINE))
        cuts = (some for some in tried if len(some) > 1 and all(again[core(piece)] for piece in some))
        found += [text] if again[core(text)] > 1 else next(cuts, [text])
    return found


def _ending(texts: list[str], way: Way, again: Counter[str] | None) -> list[str]:
    """The last songs of a sentence: parted by "and", without its full stop, and without what is said behind a title."""
    said = re.match(r"(.+?)[.!?]\s+(?=[^\W\d_])", texts[-1]) if again is not None else None
    if said and again is not None and again[core(said[1])] and not again[core(texts[-1])] > 1:
        texts = [*texts[:-1], said[1]]
    if way.sign != ", " or len(texts) < 3 or not texts[-1]:
        return texts
    last = texts[-1][:-1] if texts[-1].endswith(".") and not texts[-1].endswith("..") else texts[-1]
    if again is not None and again[core(last)]:
        return [*texts[:-1], last]
    twos = _twos(last)
    for one, other in twos:
        if (len(twos) == 1 and "&" not in last) or (again is not None and again[core(one)] and again[core(other)]):
            return [*texts[:-1], one, other]
    return [*texts[:-1], last]


def _twos(text: str) -> list[tuple[str, str]]:
    """What stands before and behind each "and" of a text."""
    return [(text[: found.start()].strip(), text[found.end() :].strip()) for found in _AND.finditer(text)]


def all_quoted(bodies: Bodies) -> bool:
    """Whether nearly every letter of the sets stands in quotation marks, so that these surely hold the songs."""
    lines = [line for body in bodies for line in body]
    inside = [one for line in lines for one in parts(line, QUOTED)]
    quoted, letters = (sum(len(re.findall(r"\w", text)) for text in some) for some in (inside, lines))
    return quoted > _ALL_QUOTED * letters


def best_way(bodies: Bodies, known: Known, *, cells: bool = False, legend: Iterable[str] = ()) -> Way:
    """The way in which most of the lines come again from show to show; `cells` if they are the rows of a table."""
    bodies = _some(bodies)
    leading = leads(bodies)
    whole = Way(worth=_worth(bodies, Way(), leading, known))
    lines = [line for body in bodies for line in body]
    if not cells and all_quoted(bodies):
        return _weighed(bodies, Way(QUOTED), leading, known)
    tried = []
    listed = max(map(len, bodies), default=0) == 1  # a line a show: what parts it makes a list, and no columns
    for sign in (CELLS,) if cells else [sign for sign in _FIELDS if not (listed and sign in LISTS)]:
        if sum(len(parts(line, sign)) > 1 for line in lines) >= 0.4 * len(lines) or cells:
            tried += _picked(bodies, sign, leading, known)
    if cells:
        return max(tried, key=lambda way: way.worth, default=Way(CELLS, (0,)))
    for sign in LISTS:
        if sum(len([part for part in parts(line, sign) if part != BEHIND]) > 2 for line in lines) >= 0.15 * len(lines):
            tried.append(_weighed(bodies, Way(sign), leading, known))
    tried += _others(bodies, lines, leading, known, set(legend))
    columns = [way for way in tried if way.sign in (CELLS, GAP, " | ") and _is_titles_beside(bodies, way)]
    if columns:
        return max(columns, key=lambda way: way.worth)
    best = max(tried, key=lambda way: way.worth, default=whole)
    if best.worth > 0 and sum(CELLS in line for line in lines) >= 0.4 * len(lines):
        return best
    return best if best.worth > _GAIN * whole.worth and best.worth > 0 else whole


def _others(bodies: Bodies, lines: list[str], leading: set[str], known: Known, legend: set[str]) -> list[Way]:
    """Titles in quotation marks, and short names parted by spaces."""
    found = []
    if sum(len(parts(line, QUOTED)) > 1 for line in lines) >= 0.5 * len(bodies):
        found.append(_weighed(bodies, Way(QUOTED), leading, known))
    words = [word for line in lines for word in line.split()]
    if legend and sum(tight(word) in legend for word in words) > 0.8 * len(words):
        found.append(_weighed(bodies, Way(WORDS), leading, known))
    return found


def _some(bodies: Bodies) -> Bodies:
    found: list[Sequence[str]] = []
    for body in bodies:
        found.append(body)
        if sum(map(len, found)) > _LOOK:
            break
    return found


def _weighed(bodies: Bodies, way: Way, leading: set[str], known: Known) -> Way:
    return Way(way.sign, way.picks, _worth(bodies, way, leading, known))


def _worth(bodies: Bodies, way: Way, leading: set[str], known: Known, at: int | None = None) -> float:
    """How many letters come again in other shows, less those that come twice within one; of one field, or of all."""
    sets = []
    for body in bodies:
        cuts = [one for line in body for one in cut(line, way, leading).songs if at is None or one.at == at]
        cuts = [one for one in cuts if not (way.is_list and re.search("[“”«»„]", one.text))]
        sets.append(
            Counter(core(one.text) for one in cuts if kind_of(one.text) not in _EMPTY or core(one.text) in known.songs)
        )
    often = Counter(form for one in sets for form in one)
    again = sum(min(len(form), 40) * (often[form] > 1 or form in known.songs) for one in sets for form in one if form)
    twice = sum(min(len(form), 40) * (times - 1) for one in sets for form, times in one.items())
    return again - twice


def _picked(bodies: Bodies, sign: str, leading: set[str], known: Known) -> list[Way]:
    """The fields that hold songs: those of which as much comes again as of the best, nearly."""
    most = max(len(parts(line, sign)) for body in bodies for line in body)
    if most > 60:
        return []
    way = Way(sign, tuple(range(most)))
    # a line without cells among others is said of the show: it is none of the first column
    rows = [[line for line in body if sign != CELLS or CELLS in line] for body in bodies]
    worth = [_worth(rows, way, leading, known, at) for at in range(most)]
    top = max(worth)
    picks = tuple(at for at in range(most) if worth[at] >= 0.4 * top > 0)
    if not picks:
        return []
    columns: list[set[str]] = [set() for _ in range(most)]
    for body in rows:
        for line in body:
            for at, part in enumerate(parts(line, sign)):
                columns[at] |= {core(part)} if kind_of(part) not in (*_EMPTY, KEY) else set()
    songs = set().union(*(columns[at] for at in picks))
    # the second half of a set has the songs of the first at other shows; what is said beside songs has none
    picks = tuple(at for at in range(most) if at in picks or len(columns[at] & songs) > max(1, 0.25 * len(columns[at])))
    texts = [
        part
        for body in bodies
        for line in body
        for at, part in enumerate(parts(line, sign))
        if at not in picks and part
    ]
    plain = sum(kind_of(text) in (*_EMPTY, KEY) for text in texts)
    if sign in (" — ", " – ", " - ", ",") and (len(picks) > 1 or plain < 0.8 * len(texts)):
        return []
    picked = _weighed(bodies, Way(sign, picks), leading, known)
    if sign == INLINE and sum(
        text.endswith((";", ",", "/"))
        for text in (one for body in bodies for line in body for one in parts(line, sign))
    ) > 0.3 * len(texts or [1]):
        return []
    if sign in (GAP, INLINE) and _all_counted(bodies, picked):
        picked = Way(sign, picks, picked.worth * 2)
    return [picked]


def _is_titles_beside(bodies: Bodies, way: Way) -> bool:
    """Whether one column holds titles, and every other one keys, numbers, times, or what comes twice a show."""
    if len(way.picks) != 1 or not way.worth > 0:
        return False
    beside: dict[int, list[list[str]]] = {}
    for body in bodies:
        mine: dict[int, list[str]] = {}
        for line in body:
            for one in cut(line, way, set()).beside:
                mine.setdefault(one.at, []).append(one.text)
        for at, texts in mine.items():
            beside.setdefault(at, []).append(texts)
    return bool(beside) and all(_is_said_of_songs(column) for column in beside.values())


def _is_said_of_songs(column: list[list[str]]) -> bool:
    """Whether a column beside titles holds what is said of them, by its kinds or because it repeats within a show."""
    every = [text for texts in column for text in texts]
    plain = sum(
        kind_of(text) in (*_EMPTY, KEY)
        or re.fullmatch(r"[A-H](?:b|es|is|#)?m?|[A-Z]{1,3}(?:[/+][A-Z]{1,3})*", text) is not None
        for text in every
    )
    twice = sum(len(set(map(tight, texts))) < len(texts) for texts in column if len(texts) > 1)
    return plain >= 0.8 * len(every) or (
        len(set(map(tight, every))) <= 0.34 * len(every) and twice >= 0.5 * len(column)
    )


def _all_counted(bodies: Bodies, way: Way) -> bool:
    """Whether each of several pieces of a line has its own number."""
    rows = [[number_of(one.text) for one in cut(line, way, set()).songs] for body in bodies for line in body]
    several = [row for row in rows if len(row) > 1]
    return bool(several) and sum(None not in row for row in several) >= 0.9 * len(several)


def order_of(bodies: Bodies, way: Way, asking: Asking) -> str:
    """Whether several songs a line are read across or down: as their numbers run, or as halves; else asked."""
    if len(way.picks) < 2:
        return ACROSS
    rows = [[number_of(one.text) for one in cut(line, way, set()).songs] for body in bodies for line in body]
    full = [row for row in rows if len(row) > 1 and None not in row]
    if len(full) >= 0.5 * sum(len(row) > 1 for row in rows) and full:
        return ACROSS if sum(b == a + 1 for row in full for a, b in pairwise(row)) > 0.5 * len(full) else DOWN  # type: ignore[operator]  # none is None
    if column_heads(bodies, way):
        return DOWN
    sample = next(line for body in bodies for line in body if len(cut(line, way, set()).songs) > 1)
    first, second = (one.text for one in cut(sample, way, set()).songs[:2])
    return asking.choose(
        "two song columns", f'"{first}" and "{second}" stand side by side, and both are songs.', (ACROSS, DOWN),
        DOWN, value=sample.strip(),
        todo='Answer "across" to read each line from left to right, or "down" to read one column, then the other.',
    )  # fmt: skip


def column_heads(bodies: Bodies, way: Way) -> set[str]:
    """Lines above two columns of songs: each part says which half it is, or they are the same line at most shows.

    That line has a word in each of its parts, or is in capitals as no other is: two openers side by side are none.
    """
    rows = [(line.strip(), [one.text for one in cut(line, way, set()).songs]) for body in bodies for line in body]
    often = Counter(line for line, _ in rows)
    shouted = Counter(line for line, texts in rows if line.isupper() and len(texts) > 1)
    heads = set()
    for line, texts in rows:
        words = [set(re.findall(r"[^\W\d_]{2,}", text.casefold())) for text in texts]
        alike = len(texts) > 1 and bool(set.intersection(*words) or (len(shouted) == 1 and line in shouted))
        if (texts and all(map(is_label, texts))) or (alike and often[line] >= max(2, 0.6 * len(bodies))):
            heads.add(line)
    return heads


def always_together(bodies: Bodies, way: Way) -> tuple[str, str] | None:
    """Two pieces that a sign parts which titles have too, and that stand nowhere without each other.

    Where they stand once, the second has to begin small, as the rest of a title does: "The bill, please".
    """
    if not way.is_list or way.sign not in (", ", " - ", " – ", " — ", "/", ",", ">"):
        return None
    said = leads(bodies)
    rows = [
        [text for one in cut(line, way, said).songs for text in re.split(r"\s+(?:>|→|->)\s+", one.text)]
        for body in bodies
        for line in body
    ]
    rows = [[*some] for row in rows for behind, some in groupby(row, BEHIND.__eq__) if not behind and len(row) > 1]
    often = Counter(core(text) for row in rows for text in row)
    beside = Counter((core(one), core(other)) for row in rows for one, other in pairwise(row))
    pairs = ((one, other) for row in rows for one, other in pairwise(row))
    return next(
        (
            pair
            for pair in pairs
            if beside[core(pair[0]), core(pair[1])] == often[core(pair[0])] == often[core(pair[1])]
            and (often[core(pair[0])] > 1 or pair[1][:1].islower())
        ),
        None,
    )


def number_of(text: str) -> int | None:
    """The number that stands before a text, behind its mark."""
    found = NUMBER_FIRST.match(MARK.sub("", text))
    return int(found[1]) if found else None


def counting(lines: Sequence[str]) -> bool:
    """Whether numbers before the lines run on, so that they are no part of the titles."""
    run = [number for line in lines if (number := number_of(line)) is not None]
    steps = sum(b == a + 1 for a, b in pairwise(run))
    restarts = sum(b == 1 for b in run[1:])
    if len(run) == 1:
        return run[0] == 1 and len(lines) <= 2 and re.match(r"\s*1[.)]", lines[0]) is not None
    return len(run) >= 2 and steps + restarts >= 0.8 * (len(run) - 1) - (len(run) > 3) and run[0] <= 1 + (len(run) > 3)


def counted(lines: Sequence[str]) -> list[bool]:
    """Of which lines the number before them counts: it goes on, or is written as most are ("3." is no "3 Doors").

    Examples
    --------
    >>> counted(["1. Quill", "2. Ferry", "3. Tin Moth", "4. Zinc", "14 Doors"])
    [True, True, True, True, False]

    """
    found = [NUMBER_FIRST.match(line) for line in lines]
    if not counting(lines):
        return [False] * len(lines)
    signs = Counter(re.sub(r"[\w\s#]", "", match[0]) for match in found if match)
    usual, last, told = signs.most_common(1)[0][0], 0, []
    for match in found:
        goes_on = match is not None and int(match[1]) == last + 1
        told.append(match is not None and (goes_on or re.sub(r"[\w\s#]", "", match[0]) == usual))
        last = int(match[1]) if match is not None and told[-1] else last
    return told


def timed(lines: Sequence[str]) -> bool:
    """Whether a running time or a clock stands before most lines."""
    return sum(CLOCK.match(MARK.sub("", line)) is not None for line in lines) >= 0.6 * len(lines)
