"""Which lines stand beside a set and are no songs of it, by all that speaks for it together, in any language.

A line that is like nothing in the repertoire may be a new song. It is none when enough speaks against it: where it
stands, and what sets it apart from the lines that surely hold songs. Nothing that names a song is taken out here.
"""

# ruff: noqa: RUF001, E501  # the signs that people type are meant, and a pattern is read in one piece
from __future__ import annotations

import re
import unicodedata
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass

from tourstats.reading import lines as lines_
from tourstats.reading.found import Found
from tourstats.reading.medium import is_talk
from tourstats.reading.songs import Row
from tourstats.reading.titles import DOUBTFUL, SURE, Titles, fold

_A_FEW = 3
_WORD = 4
"""Letters from which a word that a title has too speaks for that title."""
_PART = 0.35
"""Share of a line's letters that words of one title make, so that the line nearly names it."""
_ENOUGH = 2.0
_USUAL, _SELDOM = 0.9, 0.1
_SIGNED_OFF = re.compile(
    r"--\s*$|(?:[a-z]+ )?x+$|(?:cheers|best|best wishes|regards|kind regards|love|thanks|thank you|all the best|x+|see you|see ya|cu|later|bye|a tout a lheure|a plus|bisous|bises|amities|saludos|besos|un abrazo|ciao|bis (?:dann|spater|gleich)|gruss|grusse|viele gruss\w*|lieb(?:e|en|er) gruss\w*|herzlich\w*|med venlig hilsen|mvh|abrazos?|baci|hugs|lg)\b"
)
_BY = re.compile(r"[/–—~]\s?[^\W\d_]+|([*_])[^\W\d_]+\1")
"""A name alone behind a stroke or between signs, as people sign."""
HANGS = re.compile(r"\b(?:if|unless|lose|drop|skip|cut|leave out|without|falls|wenn|ohne|sans|sin|senza|zonder)\b")
"""Words of a line that may change whether a song that it names is played."""
_SENTENCE = re.compile(r"[.!?]\s+")
_TIMED = re.compile(r"\W*\d{1,2}[:.h]\d{2}\b")
_HOUR = re.compile(r"\b\d{1,2}(?:[:.h]\d{2}|\s?(?:h|uhr|pm|am)\b)|\b\d{1,2}\s?[./]\s?\d{1,2}\b", re.IGNORECASE)
_TONIGHT = re.compile(
    r"\b(?:set ?list|set|list[ea]?|programm?a?e?|tonight|today|this evening|heute|ce soir|stasera|hoy|esta noche|ikvall|i (?:kveld|aften)|vanavond|dzis(?:iaj)?|tanaan|hoje|dnes|ma este)\b"
)
_INNER = re.compile(r"[^\W\d]{2}[.!?]\s+[^\W\d_]")
_LATER = re.compile(r"[^\W\d]{2}[.!?]\s+[a-zà-ÿ]")
_NAMED = re.compile(r"\W*[^\W\d_]{2,15}:\s+[^\W\d_]")
_PLACE_LIKE = re.compile(r"[,@/|]|\s[-–—]\s|\d[.:]\d")
_FRAMED = re.compile(r"([-–—~*=_.+#|/]+|\()\s*[^\W\d_].*[^\W\d_].*\W")


def beside_the_set(reading: Found, titles: Titles) -> None:
    """Take out what is no song: above and below the set with a word, within it as a remark on the song above."""
    who = _named_at_the_end(reading)
    firm = [row for row in _firm(reading, titles) if not any(row is one for one in who)]
    if not firm:
        return
    paper = _Paper.of(reading, firm, titles)
    gone: dict[str, list[Row]] = {"above the set": [], "talk": [], "a remark": []}
    signed_at = next((at for at, line in enumerate(reading.lines) if at > paper.last and _signs(line.text)), None)
    over = False
    for row in reading.rows:
        below = row.place > paper.last
        signed = signed_at is not None and row.place > signed_at
        text = paper.text(row)
        over = over or signed or (below and (_SIGNED_OFF.match(fold(text)) or _BY.fullmatch(text)) is not None)
        if _named_below(reading, row):
            gone["above the set"].append(row)
            continue
        named = any(row is one for one in who) and not names_a_song(row.as_typed, titles)
        in_table = reading.lines[row.place].title is not None and paper.first < row.place < paper.last
        sure = any(row is one for one in firm) or _closed(row, paper) or in_table
        if sure or not (signed or named or not _near(row, reading, titles)):
            continue
        against = sum(weight for weight, speaks in _SIGNS if speaks(paper, row)) + 2 * over
        if against >= _ENOUGH:
            over = over or below
            gone[_where(row, paper)].append(row)
    for why, rows in gone.items():
        for row in rows:
            heads = why == "a remark" and paper.text(row).startswith("#")
            reading.drop([row], "a heading" if heads else why)
            if heads and HANGS.search(fold(paper.text(row))):
                _under(reading, row)
            elif why == "a remark" and not heads:
                say_of_the_song_above(reading, row)


def _under(reading: Found, heading: Row) -> None:
    """Ask about the songs below a heading that says on what they hang, up to the next one."""
    ends = [at for at, why in reading.others.items() if at > heading.place and why in ("a heading", "encore")]
    for row in reading.rows:
        if heading.place < row.place < min(ends, default=len(reading.lines)):
            reading.change(row, row.asked("below a heading that says on what it hangs"))


def _signs(text: str) -> bool:
    """Whether a line ends with what stands above a name: two dashes, "Dinner is at six. Kind regards,"."""
    return text == "--" or (text.endswith(",") and _SIGNED_OFF.match(fold(_SENTENCE.split(text)[-1])) is not None)


def _closed(row: Row, paper: _Paper) -> bool:
    """Whether something else says already what a line is: it is asked about, new, numbered, begins the encore or calls songs."""
    new = any(map(lines_.says_new, re.findall(r"[^\W\d_]+", paper.text(row)[row.start :])))
    calls = new or paper.begins_encore(row) or (row.place < paper.last and paper.calls_songs(row))
    return bool(row.why or row.said.new or calls) or (paper.numbered and row.number is not None)


def _where(row: Row, paper: _Paper) -> str:
    """Whether what is no song stands above the set, says something of the song above it, or is talk."""
    line = paper.found.lines[row.place]
    within = paper.first < row.place <= paper.last and not is_talk(line.text) and not line.sender
    hangs = row.place == paper.last + 1 and (line.text[:1] in ("(", "[") or line.indent > paper.indent)
    return "above the set" if row.place < paper.first else "a remark" if within or hangs else "talk"


def say_of_the_song_above(reading: Found, row: Row) -> None:
    """Keep the words of a line as a remark on the song above it."""
    last = [other for other in reading.rows if other.place < row.place][-1]
    words = " ".join(reading.lines[row.place].text.strip(" ()[]-–—*•→↳>^~=_").split())
    reading.say(last, last.said.remark, words)


def names_a_song(text: str, titles: Titles) -> bool:
    """Whether a whole title stands in a line, word by word; a single small word does not count."""
    folded = f" {fold(text)} "
    return any(f" {fold(song)} " in folded for song in titles.names if len(fold(song)) > _A_FEW)


def _near(row: Row, reading: Found, titles: Titles) -> bool:
    """Whether a line names a song, or nearly: by its letters, being about as long, or by a word of one that stands in no other."""
    text = reading.lines[row.place].text
    longest = max((len(fold(song).split()) for song in row.match.candidates), default=0) + 1
    like = row.match.verdict == DOUBTFUL and len(fold(text).split()) <= longest
    if row.match.evidence or like or names_a_song(text, titles):
        return True
    if is_talk(text):
        return False
    there = {other.match.song for other in (*reading.rows, *reading.struck)}
    places = {word for place in reading.known_places for word in fold(place).split()}
    words = fold(text).split()
    shared = [
        word for word in words
        if len(word) >= _WORD and word not in places and titles.vocabulary.get(word, set()) - there
    ]  # fmt: skip
    return (words[:1] == shared[:1] != [] and _begins_large(text)) or len("".join(shared)) >= _PART * len(
        "".join(words)
    ) > 0


def _named_below(reading: Found, row: Row) -> bool:
    """Whether a line calls what follows, and every song that it may be stands in a line of its own below."""
    below = {one.match.song for one in reading.rows if one.place > row.place and one.numbered}
    calls = reading.lines[row.place].text.rstrip().endswith(":") and not row.numbered and reading.numbered
    return calls and bool(row.match.candidates) and set(row.match.candidates) <= below


def _firm(reading: Found, titles: Titles) -> list[Row]:
    """Lines that surely hold songs, and those that an encore mark or a number says so of; where nothing is known, all but talk."""
    if not titles.names and not reading.numbered:
        return _without_head_and_foot(reading)
    numbered = reading.numbered
    firm = [
        row for row in reading.rows if row.match.verdict == SURE or row.match.evidence or (numbered and row.numbered)
    ]
    places: list[int] = []
    marked = each = False
    for row in reading.rows:
        words = reading.lines[row.place].text
        apart = bool(places) and reading.blank_between(places[-1], row.place)
        before = [text for at, text, _ in row.said.pieces if at < row.start]
        own = any(at < row.start and kind == "encore mark" for at, _, kind in row.said.pieces)
        counted = any(
            map(str.isdigit, "".join([*before, *(piece.as_typed for piece in reading.lines[row.place].pieces)]))
        )
        if row.encore and (
            apart or (each and not own) or (marked and not counted) or is_talk(words) or _SIGNED_OFF.match(fold(words))
        ):
            break
        marked = row.encore and counted
        each = each or (own and any(row.place != place for place in places))
        places += [row.place] * row.encore
    if numbered or not firm:
        firm += [row for row in reading.rows if row.place in places and row not in firm]
    return firm


def _without_head_and_foot(reading: Found) -> list[Row]:
    """Lines that hold songs where nothing is known: no talk, no block above that reads like a place, no sentence below."""
    rows = [row for row in reading.rows if not is_talk(row.as_typed[row.start :] or row.as_typed)]
    cuts = [at for at in range(1, len(rows)) if reading.blank_between(rows[at - 1].place, rows[at].place)]
    first, last = (min(cuts), max(cuts)) if cuts else (0, len(rows))
    loud = [row.as_typed.isupper() for row in rows]
    shouted = loud[:1] == [True] and 4 * sum(loud[1:]) < len(loud) and first == 1
    placed = first <= _A_FEW < len(rows) - first and all(_PLACE_LIKE.search(row.as_typed) for row in rows[:first])
    head = first if shouted or placed else 0
    longest = max((len(row.as_typed.split()) for row in rows[head:last]), default=0)
    foot = last < len(rows) < last + _A_FEW and last > _A_FEW
    foot = foot and all(len(row.as_typed.split()) > longest for row in rows[last:])
    return rows[head : last if foot else len(rows)]


def _named_at_the_end(reading: Found) -> list[Row]:
    """Lines of the last block that all say what somebody does, "lights: Ada", as no line above it does."""
    rows = reading.rows
    blocks = [at for at in range(1, len(rows)) if reading.blank_between(rows[at - 1].place, rows[at].place)]
    above, below = rows[: max(blocks, default=len(rows))], rows[max(blocks, default=len(rows)) :]
    says = [[_NAMED.match(reading.lines[row.place].text) is not None for row in part] for part in (above, below)]
    return below if all(says[1]) and not any(says[0]) and not any(row.match.verdict == SURE for row in below) else []


@dataclass(frozen=True)
class _Paper:
    """What the lines that surely hold songs are like."""

    found: Found
    first: int
    last: int
    numbered: bool
    capital: float
    each: float
    loud: float
    ended: float
    named: float
    timed: float
    framed: float
    longest: int
    indent: int
    sender: str
    columns: frozenset[int]

    @classmethod
    def of(cls, reading: Found, firm: list[Row], titles: Titles) -> _Paper:
        texts = [reading.lines[row.place].text for row in firm]
        words = [text[row.start : row.end] or text for row, text in zip(firm, texts, strict=True)]
        senders = Counter(reading.lines[row.place].sender for row in firm).most_common(1)
        return cls(
            found=reading, first=min(row.place for row in firm), last=max(row.place for row in firm),
            numbered=reading.numbered, capital=_share(words, _begins_large), each=_share(words, _each_large), loud=_share(words, lambda text: text == text.upper()),
            ended=_share(texts, lambda text: text[-1:] in ".,:;!?…"), named=_share(texts, _NAMED.match),
            timed=_share(texts, _TIMED.match), framed=_share(texts, _FRAMED.fullmatch),
            longest=max((len(fold(name).split()) for name in (*titles.names, *words)), default=0),
            indent=max(reading.lines[row.place].indent for row in firm), sender=senders[0][0], columns=frozenset.intersection(*map(_columns, texts)),
        )  # fmt: skip

    def text(self, row: Row) -> str:
        """The line in which a row stands."""
        return self.found.lines[row.place].text

    def words(self, row: Row) -> str:
        """The line without what stands before its title."""
        return self.text(row)[row.start :] or self.text(row)

    def begins_encore(self, row: Row) -> bool:
        """Whether the encore is named before a row on its own line."""
        return any(kind == "encore mark" and at < row.start for at, _, kind in row.said.pieces)

    def calls_songs(self, row: Row) -> bool:
        """Whether it calls the songs below it, within the set: they may be spare, or of another kind."""
        return row.place > self.first and self.text(row).rstrip().endswith(":")

    def another(self, row: Row) -> bool:
        """Whether somebody else sent it."""
        sender = self.found.lines[row.place].sender
        return bool(self.sender and sender and sender != self.sender)


def _share(texts: list[str], is_so: Callable[[str], object]) -> float:
    return sum(bool(is_so(text)) for text in texts) / len(texts)


def _columns(text: str) -> frozenset[int]:
    """The columns of a table in which a row has something."""
    return frozenset(at for at, cell in enumerate(text.split("\t")) if cell.strip())


def _begins_large(text: str) -> bool:
    letters = [letter for letter in text if letter.isalpha()]
    return not letters or (letters[0].isupper() or not unicodedata.category(letters[0]).startswith("L"))


def _begins_small(paper: _Paper, row: Row) -> bool:
    """Whether a line begins small where titles begin large, or has small words where each word of theirs begins large."""
    small = next(filter(str.isalpha, paper.text(row)), "A").islower()
    return (paper.capital >= _USUAL and small) or (
        paper.each >= _USUAL and not _each_large(paper.text(row)[row.start : row.end])
    )


def _each_large(text: str) -> bool:
    return not any(word[0].islower() for word in re.findall(r"[^\W\d_]{4,}", text))


def _ends_a_sentence(paper: _Paper, row: Row) -> bool:
    return paper.ended <= _SELDOM and paper.text(row).rstrip(")\"' ")[-1:] in tuple(".,:;!?…")


def _apart(paper: _Paper, row: Row) -> bool:
    if row.place < paper.first:
        return paper.found.blank_between(row.place, paper.first)
    return paper.found.blank_between(row.place - 1, row.place) and (
        row.place > paper.last or paper.found.blank_between(row.place, row.place + 2)
    )


_SIGNS: tuple[tuple[float, Callable[[_Paper, Row], object]], ...] = (
    (1.5, lambda paper, row: row.place < paper.first),
    (1.0, lambda paper, row: row.place > paper.last),
    (0.5, _apart),
    (0.5, lambda paper, row: paper.numbered and row.number is None and not row.encore),
    (0.5, lambda paper, row: paper.numbered and row.number is None and (row.place < paper.first or _apart(paper, row))),
    (1.0, _ends_a_sentence),
    (1.0, lambda paper, row: paper.text(row).rstrip().endswith(":") or paper.text(row).startswith("#")),
    (1.0, _begins_small),
    (1.0, lambda paper, row: paper.found.lines[row.place].indent > paper.indent),
    (1.0, lambda paper, row: paper.loud >= _USUAL and paper.text(row) != paper.text(row).upper()),
    (1.0, lambda paper, row: paper.named <= _SELDOM and _NAMED.match(paper.text(row))),
    (1.0, lambda paper, row: paper.framed <= _SELDOM and _FRAMED.fullmatch(paper.text(row))),
    (1.0, lambda paper, row: paper.timed < 1 - _USUAL and _TIMED.match(paper.text(row))),
    (0.5, lambda paper, row: paper.timed <= _SELDOM and _HOUR.search(paper.text(row))),
    (0.5, lambda paper, row: _INNER.search(paper.text(row))),
    (1.5, lambda paper, row: _LATER.search(paper.text(row))),
    (1.0, lambda paper, row: _TONIGHT.search(fold(paper.words(row)))),
    (1.0, lambda paper, row: lines_.names_a_place(paper.text(row)) and row.place < paper.first),
    (0.5, lambda paper, row: len(fold(paper.text(row)).split()) >= paper.longest),
    (0.5, lambda paper, row: len(fold(paper.text(row)).split()) > paper.longest + 1),
    (1.0, lambda paper, row: len(paper.columns - _columns(paper.text(row))) > 0),
    (0.5, lambda paper, row: len(paper.columns - _columns(paper.text(row))) > 1),
    (1.0, lambda paper, row: is_talk(paper.words(row))),
    (1.5, lambda paper, row: paper.another(row)),
    (0.5, lambda paper, row: any(piece.taken_as == "sender" for piece in paper.found.lines[row.place].pieces)),
)
"""What speaks against a line being a song, and how much."""
