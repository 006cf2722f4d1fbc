"""Columns: two of songs side by side, and their order; a table with the songs in one; labels before songs."""

# ruff: noqa: RUF001  # the signs that people type are meant
from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace

from tourstats.reading import lines as lines_
from tourstats.reading.account import Piece
from tourstats.reading.corrections import mentions
from tourstats.reading.medium import Line
from tourstats.reading.songs import one_title
from tourstats.reading.titles import SURE, Titles

_GAP = re.compile(r"\t+\s*|\s{3,}|\s+[|│]\s+")
_NUMBER = re.compile(r"\W*(\d{1,2})(?!\d|[:.]\d)(?:\W|$)")
_TWO = 2
_FEWEST = 3
_ONCE = 1
_SHORT = 3
_MOST = 0.7


@dataclass(frozen=True)
class Columns:
    """Lines in the order in which they are read, and whether that order is sure.

    Attributes
    ----------
    lines
        The lines; of two columns the left one first.
    order
        "one" column, "down" each column by its numbers, "across" by its numbers, or "open" where nothing says which.

    """

    lines: list[Line]
    order: str = "one"


def apart(lines: Sequence[Line], titles: Titles) -> Columns:
    """Take two columns apart, if there are two.

    Examples
    --------
    >>> from tourstats.reading.titles import index
    >>> songs = index(["Ferry", "Wren", "Salt Road", "Copper Wire"])
    >>> read = apart([Line(1, "1. Ferry     3. Salt Road"), Line(2, "2. Wren      4. Copper Wire")], songs)
    >>> read.order, [line.text for line in read.lines]
    ('down', ['1. Ferry', '2. Wren', '3. Salt Road', '4. Copper Wire'])

    """
    halves = [
        None if lines_.why_no_song(line.text) == "a heading with a date" else half
        for line, half in zip(lines, _at_the_margin(lines, [_halves(line) for line in lines]), strict=True)
    ]
    heads = _heads(halves, titles)
    if not _are_two(halves, heads, titles):
        return Columns(list(lines))
    at = [place for place, half in enumerate(halves) if half is not None]
    first, last = at[0], at[-1] + 1
    margin = min(half[1].at + half[1].indent for half in halves if half is not None) - _SHORT
    while last < len(lines) and (lines[last].indent >= margin or (lines[last].text and lines[last - 1].text)):
        if lines[last].indent < margin and (_number(lines[last].text) or lines_.why_no_song(lines[last].text)):
            break
        last += 1
        last += last < len(lines) - 1 and not lines[last].text and lines[last + 1].indent >= margin
    above, below = list(lines[:first]), list(lines[last:])
    left: list[Line] = []
    right: list[Line] = []
    for line, half in zip(lines[first:last], halves[first:last], strict=True):
        if half is None:
            (right if line.indent >= margin else left).append(line)
        elif half in heads and not _headed(*half):
            left.append(half[0].all_as("heading", "a heading of its column"))
            right.append(half[1].all_as("heading", "a heading of its column"))
        else:
            left.append(half[0])
            right.append(half[1])
    start, goes_on = next(iter(_numbers(right)), None), max(_numbers(left), default=0) + 1
    also = [
        line for line in below
        if (number := _number(line.text)) is not None and start is not None and (number < start or number == goes_on)
    ]  # fmt: skip
    below = [line for line in below if line not in also]
    (main, encore), (other, behind) = _to_encore(left), _to_encore(right)
    order = "down" if heads else _order(main + also, other, behind + below)
    if order == "down" and not heads:
        left, right, below = main, other, [*encore, *behind, *below]
    if order == "across":
        return Columns([*above, *_across(lines[first:last], halves[first:last]), *also, *below], order)
    return Columns([*above, *left, *also, *right, *below], order)


def _are_two(halves: Sequence[tuple[Line, Line] | None], heads: Sequence[tuple[Line, Line]], titles: Titles) -> bool:
    """Whether songs stand in both halves; other words may stand below a second column that has a heading."""
    pairs = [half for half in halves if half is not None and half not in heads and not any(map(_no_title, half))]
    songs = sum(all(_is_song(part.text, titles) for part in half) for half in pairs)
    return songs >= _TWO and (songs >= _MOST * len(pairs) or any(_headed(*half) for half in heads))


def _at_the_margin(lines: Sequence[Line], halves: list[tuple[Line, Line] | None]) -> list[tuple[Line, Line] | None]:
    """Take apart too where a long line comes close to the right column, which begins at one place in most lines."""
    begins = Counter(half[1].at for half in halves if half is not None).most_common(1)
    if not begins or begins[0][1] < _FEWEST:
        return halves
    found = []
    for line, half in zip(lines, halves, strict=True):
        cut = begins[0][0] - line.at
        close = half is None and 0 < cut < len(line.text) and line.text[cut - 2 : cut].isspace()
        close = close and not line.text[cut].isspace()
        right = replace(line, text=line.text[max(cut, 0) :], at=line.at + cut, pieces=())
        found.append((replace(line, text=line.text[: max(cut, 0)].rstrip()), right) if close else half)
    return found


def _to_encore(column: list[Line]) -> tuple[list[Line], list[Line]]:
    """A column up to its encore, and its encore: that of both columns comes behind both."""
    at = next(
        (at for at, line in enumerate(column) if any(one.encore for one in lines_.fronts(line.text))), len(column)
    )
    return column[:at], column[at:]


def tabled(lines: Sequence[Line], titles: Titles) -> list[Line]:
    r"""Take the names of the columns off a table with a song a row, and what counts its rows if it is no number.

    Examples
    --------
    >>> from tourstats.reading.titles import index
    >>> rows = ["Nr;Titel;bpm", "1;Ferry;96", "2;Wren;120", ";Pause;", "Z1;Salt Road;88"]
    >>> lines = tabled([Line(at, row) for at, row in enumerate(rows, 1)], index(["Ferry", "Wren", "Salt Road"]))
    >>> [line.text for line in lines]
    ['', '1;Ferry;96', '2;Wren;120', 'Pause', 'Salt Road;88']

    """
    for sign in "\t;|,/":
        rows = {at: line.text.split(sign) for at, line in enumerate(lines) if sign in line.text}
        if len(rows) < _FEWEST or len(rows) < _MOST * sum(bool(line.text) for line in lines):
            continue
        wide = max(map(len, rows.values()))
        if sign == "/" and (wide <= _TWO or len(set(map(len, rows.values()))) > 1):
            continue  # "Ferry / Wren": two songs
        columns = [[(cells + [""] * wide)[at].strip() for cells in rows.values()] for at in range(wide)]
        sure = [_like_titles(texts, titles) for texts in columns]
        own = sure.index(max(sure))
        if sure[own] < _FEWEST or sum(count > _ONCE for count in sure) > 1:
            continue
        places = next((at for at in range(wide) if at != own and _tells_places(columns[at])), None)
        if places is not None:
            return tabled(_by_places(lines, rows, places, sign), titles)
        # The names of the columns stand above the first title, or above the first figure where no title is known.
        first = next((at for at, cells in rows.items() if _holds_a_song(cells, own, titles)), 0)
        return [
            _row_of_table(line, rows[at], own, sign, titles, above=at < first) if at in rows else line
            for at, line in enumerate(lines)
        ]
    return list(lines)


def _tells_places(texts: Sequence[str]) -> bool:
    """Whether a column says which place some rows have tonight: 1 to 12 in any order, perhaps E for the encore."""
    numbers = [int(text) for text in texts[1:] if text.isdecimal()]
    rest = [text for text in texts[1:] if text and not text.isdecimal()]
    counts = sorted(numbers) == list(range(1, len(numbers) + 1)) and numbers != sorted(numbers)
    return counts and len(numbers) > _FEWEST and all(lines_.is_encore_mark(text) or text == "E" for text in rest)


def _by_places(lines: Sequence[Line], rows: dict[int, list[str]], column: int, sign: str) -> list[Line]:
    """Rows in the order of the places that a column gives them, the place first; the others are left out."""
    heads, placed, others = [], [], []
    for at, line in enumerate(lines):
        cells = rows.get(at, [])
        place = cells[column].strip() if column < len(cells) else ""
        text = sign.join([place, *(cell for number, cell in enumerate(cells) if number != column)])
        if at == min(rows) or at not in rows:
            heads.append(line)
        elif place:
            placed.append((int(place) if place.isdecimal() else len(lines), replace(line, text=text)))
        else:
            others.append(line.all_as("left out", "without a place in the order"))
    return [*heads, *(line for _, line in sorted(placed, key=lambda one: one[0])), *others]


def _like_titles(texts: Sequence[str], titles: Titles) -> int:
    """How many texts of a column are titles; where none is known, of a column of words that stand once each."""
    if titles.names:
        return sum(titles.same(text) is not None for text in texts)
    full = [text for text in texts if sum(map(str.isalpha, text)) > _SHORT]
    return len(full) if len(full) >= _MOST * len(texts) and len(set(full)) == len(full) else 0


def _holds_a_song(cells: list[str], own: int, titles: Titles) -> bool:
    if not titles.names:
        return any(map(str.isdigit, "".join(cells)))
    return own < len(cells) and titles.same(cells[own].strip()) is not None


def _row_of_table(line: Line, cells: list[str], own: int, sign: str, titles: Titles, *, above: bool) -> Line:
    """One row: the names of the columns, a row of one word, or a song with what stands before it."""
    full = [at for at, cell in enumerate(cells) if cell.strip()]
    if above and len(full) > 1 and not any(cell.strip().isdigit() for cell in cells):
        return line.all_as("heading", "the names of the columns")
    words = cells[own].strip() if own < len(cells) else ""
    said = [at for at in full if at != own and any(map(str.isalpha, cells[at]))]
    if not full:
        return line
    uncounted = own > 0 and not cells[0].strip() and bool(full[1:])
    if titles.same(words) is None and (
        len(full) == 1 or not words or (not said and (uncounted or lines_.why_no_song(words)))
    ):
        only = own if words else full[0]
        if full[1:] and not any(letter.isalpha() for at in full[1:] for letter in cells[at]):
            return line.all_as("total", "a total")
        start = sum(len(cell) + 1 for cell in cells[:only])
        behind = sign.join(cells[only + 1 :])
        cut = line.without(start, "number") if start else line
        pieces = (
            (Piece(line.number, line.at + start + len(cells[only]) + 2, behind.strip(), "sign"),)
            if behind.strip(sign + " ")
            else ()
        )
        return replace(cut, text=cells[only].strip(), pieces=(*cut.pieces, *pieces))
    count = cells[0].strip()
    start = sum(len(cell) + 1 for cell in cells[:own])
    if own and words and not re.search(r"\d", count[:1]) and len(count) <= _SHORT and not lines_.is_encore_mark(count):
        cut = line.without(len(cells[0]) + 1, "encore mark" if _CODE.fullmatch(count) else "number")
        start -= cut.at - line.at
        line = cut
    return replace(line, title=(max(start, 0), start + len(cells[own]))) if words else line


_CODE = re.compile(r"[^\W\d_]{1,2}\s?\d")
"""What counts the songs of an encore apart from those of the set: Z1, T2."""
_LEAD = re.compile(r"(?<=[\])])\s+|\s{2,}|\s*:\s+|\s+[-–—]\s+")
_CELL = re.compile(r"\s{2,}|\s*[(\[{]|$")


_PLAIN_LABEL = re.compile(r"\W*[\w’']+(?: [\w’']+){0,2}:\s+|(?:\d+\W*\s)?[(\[][^()\[\]]+[)\]]\s+")
_MAY_CHANGE = re.compile(
    r"\b(?:out|off|cut|not?|in|instead|skip|drop|swap|maybe|perhaps|spare|one|more|reserve|option\w*|or|if|time|learn|tomorrow|next|en\w*c\w*|zug\w*|rappel|bis)\b",
    re.IGNORECASE,
)
"""Words of a label by which it is open whether its song is played, or where."""


def unlabelled(lines: Sequence[Line], titles: Titles) -> list[Line]:
    """Say where titles begin behind what stands before several and is none: who starts, the dance that is played.

    What comes again is said of the song; labels of which each stands once head their songs and are taken off.

    Examples
    --------
    >>> from tourstats.reading.titles import index
    >>> songs = index(["Ferry", "Wren", "Salt Road", "Copper Wire"])
    >>> rows = ["Long Mill - Ferry / Wren", "Corner Four - Salt Road", "The Basket - Copper Wire / Ferry"]
    >>> [line.text for line in unlabelled([Line(at, row) for at, row in enumerate(rows)], songs)]
    ['Ferry / Wren', 'Salt Road', 'Copper Wire / Ferry']
    >>> rows = ["Jo: Ferry", "Mia: Wren", "Jo: Salt Road"]
    >>> [line.text[line.title[0] :] for line in unlabelled([Line(at, row) for at, row in enumerate(rows)], songs)]
    ['Ferry', 'Wren', 'Salt Road']

    """
    if not titles.names:
        return _behind_keys(_before_square(_in_quotes(lines)))
    leads = {at: lead for at, line in enumerate(lines) if line.title is None and (lead := _lead(line.text, titles))}
    if len(leads) < _FEWEST:
        leads = {at: lead for at, lead in leads.items() if _only_labels(lines[at].text, lead)}
        return [
            replace(line, title=(leads[at], len(line.text))) if at in leads else line for at, line in enumerate(lines)
        ]
    labels = {lines[at].text[:start].casefold() for at, start in leads.items()}
    said = any(re.search(r"\s{2,}", label.rstrip(":- ")) or "[" in label or "(" in label for label in labels)
    once = len(labels) == len(leads) and not said
    bare = []
    for at, line in enumerate(lines):
        start = leads.get(at) or next((len(one) for one in labels if line.text.casefold().startswith(one)), 0)
        if not start or line.title is not None or titles.same(line.text) is not None:
            bare.append(line)
        else:
            titled = replace(line, title=(start, len(line.text)))
            bare.append(line.without(start, "heading", "a label") if once else titled)
    return bare


_KEY_BEFORE = re.compile(r"(?P<key>[A-H][#b♯♭]?(?:m|min|maj|dur|moll)?7?)(?:\s{2,}|\t+|\s+[-–—|]\s+)(?=\S)")


_QUOTED = re.compile(r"[\"“„«”](?P<title>[^\"“”«»]+)[\"“”»]")


def _in_quotes(lines: Sequence[Line]) -> list[Line]:
    """Say where titles stand where nothing is known yet and most lines have one in quotes; the others hold none."""
    quotes = {at: mark for at, line in enumerate(lines) if (mark := _QUOTED.search(line.text))}
    if len(quotes) < _FEWEST or len(quotes) < _MOST * sum(bool(line.text) for line in lines):
        return list(lines)
    return [
        replace(line, title=quotes[at].span("title")) if at in quotes
        else line.all_as("left out", "without quotes") if line.text and not lines_.why_no_song(line.text)
        else line
        for at, line in enumerate(lines)
    ]  # fmt: skip


def _before_square(lines: Sequence[Line]) -> list[Line]:
    """Say where titles end where nothing is known yet: words in square brackets behind one are said of it."""
    ends = [re.search(r"(?<=\S)\s*\[[^\[\]]*[^\W\d_]{2}[^\[\]]*\]\W*$", line.text) for line in lines]
    return [
        replace(line, title=(lines_.fronts(line.text)[-1].start, end.start())) if end and line.title is None else line
        for line, end in zip(lines, ends, strict=True)
    ]


def _behind_keys(lines: Sequence[Line]) -> list[Line]:
    """Say where titles begin where nothing is known yet and most lines begin with a key, and a gap."""
    keys = {at: mark for at, line in enumerate(lines) if line.title is None and (mark := _KEY_BEFORE.match(line.text))}
    if len({mark["key"] for mark in keys.values()}) < _TWO or len(keys) < _MOST * sum(
        len(line.text.split()) > 1 for line in lines
    ):
        return list(lines)
    return [
        replace(line, title=(keys[at].end(), _end_of_cell(line.text, keys[at].end()))) if at in keys else line
        for at, line in enumerate(lines)
    ]


def _end_of_cell(text: str, start: int) -> int:
    found = _CELL.search(text, start + 1)
    return found.start() if found else len(text)


_SMALL_BEHIND = re.compile(r"(?P<title>[^a-zà-ÿ]*[^a-zà-ÿ\s,;:–-])\s+(?=[A-ZÀ-Þ]?[a-zà-ÿ])")
_WORD = re.compile(r"[^\W\d_]{4,}")


def loud(lines: Sequence[Line], titles: Titles) -> list[Line]:
    """Say where the titles end on a paper in capitals: what stands in small letters behind one is said of it.

    So it is where every title begins its words with a capital, and small words stand behind one.

    Examples
    --------
    >>> rows = ["FERRY", "1888 Dell alone", "SALT ROAD yes, really", "WREN"]
    >>> from tourstats.reading.titles import index
    >>> songs = index(["Ferry", "1888", "Salt Road", "Wren"])
    >>> [line.title for line in loud([Line(at, row) for at, row in enumerate(rows)], songs)]
    [None, (0, 4), (0, 9), None]

    """
    bare = [line.text[lines_.fronts(line.text)[-1].start :] for line in lines if line.text]
    exact = [text for text in bare if (match := titles.same(text)) and match.verdict == SURE]
    if len(exact) >= _FEWEST and all(
        word[0].isupper() and not text.isupper() for text in exact for word in _WORD.findall(text)
    ):
        spans = [_title_before(line.text, titles) for line in lines]
        return [replace(line, title=span or line.title) for line, span in zip(lines, spans, strict=True)]
    fronts = {at: found for at, line in enumerate(lines) if (found := _SMALL_BEHIND.match(line.text))}
    titled = {
        at: found for at, found in fronts.items() if titles.same(found["title"]) and not titles.same(lines[at].text)
    }
    large = sum(line.text.isupper() for line in lines)
    if large < _FEWEST - 1 or large + len(titled) < _MOST * sum(bool(line.text) for line in lines):
        return list(lines)
    return [
        replace(line, title=(0, titled[at].end("title"))) if at in titled and line.title is None else line
        for at, line in enumerate(lines)
    ]


_MOVES = re.compile(r"\b(?:out|off|gone|not|instead|drop|skip|cut|swap|change|moved?|or|if)\b")
"""Small words behind a title that may say whether it is played, or where."""


def _title_before(text: str, titles: Titles) -> tuple[int, int] | None:
    """Where a title stands behind which small words do, apart by a space alone, perhaps with a key before them."""
    start = lines_.fronts(text)[-1].start if text else 0
    if titles.same(text[start:]) is not None or not re.search(r"(?:[^\W\d_]{4,}|\d{3,}) (?:\w{1,3} )?[a-zà-ÿ]", text):
        return None
    for gap in reversed(list(re.finditer(r"(?<=[\w?!)'’]) (?:[A-H][#b]?m? )?(?=[a-zà-ÿ])", text))):
        match = titles.same(text[start : gap.start()])
        rest = text[gap.end() :]
        small = any(word[0].islower() for word in _WORD.findall(rest)[:1])
        many = len(text[start : gap.start()].split()) >= _FEWEST and not mentions(rest, titles)  # no accident
        said = len(gap.group()) > 1 or many or lines_.reads_like_a_remark(rest)
        small = small and said and not _MOVES.search(rest)
        if match is not None and match.verdict == SURE and small:
            return start, gap.start()
    return None


_LIST = re.compile(r"\s*(?:/+|;|,|\||•|·|\s[-–—])\s*")


def listed(lines: Sequence[Line], titles: Titles) -> list[Line]:
    """Where nothing is known yet and the set is one line, its parts as lines, by the sign that comes again.

    Examples
    --------
    >>> from tourstats.reading.titles import index
    >>> [line.text for line in listed([Line(1, "Ferry / Tin, Rook / Wren / Salt Road")], index([]))]
    ['Ferry', 'Tin, Rook', 'Wren', 'Salt Road']

    """
    full = [line for line in lines if line.text]
    if titles.names or len(full) > _TWO:
        return list(lines)
    items: list[Line] = []
    for line in lines:
        signs = [mark for mark in _LIST.finditer(line.text) if mark.start()]
        often = max(
            (mark.group().strip()[0] for mark in signs),
            key=lambda sign: sum(sign == mark.group().strip()[0] for mark in signs),
            default="",
        )
        cuts = [mark for mark in signs if mark.group().strip()[0] == often]
        if len(cuts) < _FEWEST:
            items.append(line)
            continue
        edges = [0, *(mark.end() for mark in cuts)]
        for start, end in zip(edges, [*(mark.start() for mark in cuts), len(line.text)], strict=True):
            items.append(
                replace(line, text=line.text[start:end], at=line.at + start, pieces=line.pieces if not start else ())
            )
    return items


def _only_labels(text: str, upto: int) -> bool:
    """Whether what stands before a title names it in some way, and says nothing of whether or where it is played."""
    label = text[:upto]
    plain = _PLAIN_LABEL.fullmatch(label) is not None and _MAY_CHANGE.search(label) is None
    return plain and not any(way.encore for way in lines_.fronts(text))


def _lead(text: str, titles: Titles) -> int:
    """Where the songs of a line begin behind a gap, a dash or a colon, if only they are titles; 0 if nowhere."""
    if titles.same(text) is not None:
        return 0
    for gap in _LEAD.finditer(text):
        label, rest = text[: gap.start()], text[gap.end() :]
        cell = rest[: found.start()] if (found := _CELL.search(rest)) else rest
        parts = [part for part in lines_.segues(cell)[::2] if part.strip()]
        if parts and all((match := titles.same(part.strip())) is not None and match.verdict == SURE for part in parts):
            words = any(map(str.isalpha, label)) and one_title(label, titles).verdict != SURE
            return gap.end() if words and not lines_.is_encore_mark(label) and not lines_.why_no_song(label) else 0
    return 0


def _across(lines: Sequence[Line], halves: Sequence[tuple[Line, Line] | None]) -> list[Line]:
    return [one for line, half in zip(lines, halves, strict=True) for one in (half or (line,))]


def _heads(halves: Sequence[tuple[Line, Line] | None], titles: Titles) -> list[tuple[Line, Line]]:
    """What heads both columns: pairs above the first songs, with no song in either half."""
    heads: list[tuple[Line, Line]] = []
    for half in filter(None, halves):
        song = any(_is_song(part.text, titles) or not any(map(str.isalpha, part.text)) for part in half)
        if song and not _headed(*half):
            break
        heads.append(half)
    return heads if len(heads) == 1 or any(_headed(*half) for half in heads) else []


def _no_title(line: Line) -> bool:
    """Whether half a line is a mark and no title: a rule, the word before the encore."""
    return lines_.why_no_song(line.text) in ("only signs", "encore")


def _headed(left: Line, right: Line) -> bool:
    """Whether each column has a heading of its own: "Set 1" and "Set 2"."""
    return all(lines_.why_no_song(line.text) in ("a heading", "encore") for line in (left, right))


def _order(left: list[Line], right: list[Line], below: list[Line]) -> str:
    """How the numbers say that the columns are read; "open" where they say nothing."""
    one, other = _numbers(left), _numbers(right)
    full, beside = (sum(bool(line.text) for line in column) for column in (left, right))
    if len(one) < _MOST * full or len(other) < _MOST * beside or not one or not other:
        return "open"
    rising = one == sorted(one) and other == sorted(other)
    if rising and one[-1] < other[0]:
        return "down"
    mixed = [number for pair in zip(one, other, strict=False) for number in pair] + _numbers(below)
    return "across" if rising and mixed == sorted(mixed) else "open"


def _halves(line: Line) -> tuple[Line, Line] | None:
    """The two parts of a line with one wide gap; a number apart from its title goes with it."""
    cuts = []
    start = 0
    for gap in _GAP.finditer(line.text):
        before = line.text[start : gap.start()].strip()
        if not before or re.fullmatch(r"\W*\d{1,2}\W*", before):
            continue
        cuts.append(gap)
        start = gap.end()
    if len(cuts) != 1 or not line.text[cuts[0].end() :].strip():
        return None
    gap = cuts[0]
    sign = gap.group().strip()
    pieces = (Piece(line.number, line.at + gap.start() + gap.group().index(sign) + 1, sign, "sign"),) if sign else ()
    left = replace(line, text=line.text[: gap.start()].rstrip(), title=None)
    right = replace(line, text=line.text[gap.end() :], at=line.at + gap.end(), pieces=pieces, title=None)
    return left, right


def _is_song(text: str, titles: Titles) -> bool:
    """Whether half a line is a song: a title, or a number and words."""
    words = any(letter.isalpha() for letter in text) or len(re.findall(r"\d+", text)) > 1
    if _number(text) is not None and words:
        return True
    match = one_title(text, titles)
    return match.verdict == SURE and (match.evidence == "same" or not lines_.is_remark(text))


def _number(text: str) -> int | None:
    found = _NUMBER.match(text)
    return int(found[1]) if found else None


def _numbers(lines: list[Line]) -> list[int]:
    return [number for line in lines if (number := _number(line.text)) is not None]
