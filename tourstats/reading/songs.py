"""The songs in one line: one, several that go into each other, or none and why."""

# ruff: noqa: RUF001  # the signs that people type are meant
from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass, replace

from tourstats.reading import lines as lines_
from tourstats.reading.marks import NEW_BEFORE, Said, said_around, says_cut
from tourstats.reading.titles import DOUBTFUL, NOTHING, SURE, Match, Titles, fold

_WAYS = 10
"""Ways to take a line that are compared with typing slips in mind."""
_A_PAIR = 2
_EXACT = 100
_A_WORD = 4
"""Letters from which a word that was taken off may be one of the title's own."""
_BEHIND_A_NUMBER = tuple(".):] ")
_DASHES = ("-", "–", "—")
SAID_NEW = "said to be new"
WEAK = ("first words", "some words", "abbreviated", "cut short", "initials")


_MEDLEY = re.compile(r"\s*(?:[(\[]|\s[-–—]\s)\s*medley\b[^()\[\]]*[)\]]?\s*$", re.IGNORECASE)
"""What is said of several songs on one line, and makes no other song of the last."""
_OR = re.compile(r"\s+(?:or|oder|ou)\s+", re.IGNORECASE)


@dataclass(frozen=True)
class Row:
    """A song of the set as it was found.

    Attributes
    ----------
    line
        Line of the text, from 1.
    as_typed
        The line, or the part of it that holds this song.
    match
        Title that it was matched to.
    numbered, encore
        Whether a number stood before it; whether it says that it is encore.
    since, start, end, upto
        Characters of the line: the song's part of it, and within that the title.
    said
        What stands around the title.
    why
        Reason to ask, if it is another than the title.
    into
        Sign between this song and the next of the same line, if they go into each other.
    place
        Place of the line among the lines of the set, from 0.
    title
        The title as it is typed, where the line says itself where it stands: a cell of a table.

    """

    line: int
    as_typed: str
    match: Match
    numbered: bool = False
    encore: bool = False
    since: int = 0
    start: int = 0
    end: int = 0
    upto: int = 0
    said: Said = Said()  # noqa: RUF009  # frozen
    why: str = ""
    into: str = ""
    place: int = 0
    title: str = ""

    @property
    def number(self) -> int | None:
        """Number that stands before it."""
        before = [(text, kind) for at, text, kind in self.said.pieces if at < self.start]
        marks = [place for place, (_, kind) in enumerate(before) if kind == "encore mark"]
        counts = [text for text, kind in before[: marks[0] if marks else None] if kind == "number"]
        digits = re.sub(r"\D", "", unicodedata.normalize("NFKC", counts[-1])) if counts else ""
        return int(digits) if digits else None

    def asked(self, why: str) -> Row:
        """Return the same song, to be asked about for a reason."""
        return replace(self, match=self.match.doubted(), why=self.why or why)


def songs_in(number: int, line: str, titles: Titles, *, within: bool = False, letters: bool = False) -> list[Row] | str:
    """Read one line: its songs, or why it holds none.

    `within` a set, "7. March …" is no day. Where `letters` count the lines, "E." is no encore.
    """
    if not line:
        return "blank"
    ways = lines_.readings(line, letters=letters)
    same = _same(ways, titles)
    if same is None or same[1].verdict != SURE:
        why = lines_.why_no_song(line)
        if why and same is None and not (within and lines_.may_be_numbered(line)):
            return why
    fronts = lines_.fronts(line, letters=letters)[::-1]
    front = fronts[0]
    if same is None:
        one = _one_or_other(number, line, front, titles)
        if one is not None:
            return [one]
    if same is None or any(letter.isalnum() for letter in same[0].off):
        several = next((found for one in fronts if (found := _several(number, line, one, ways, titles))), [])
        if several and (same is None or sum(row.match.verdict == SURE for row in several) > 1):
            return several
    way, match = same or _nearest(_behind_new(line, ways), titles)
    row = Row(number, line, match, ways[-1].numbered or way.numbered, _says_encore(ways, way, match), upto=len(line))
    return [with_said(row, line, way)]


def with_said(row: Row, line: str, way: lines_.Reading) -> Row:
    """The row with where its title stands in the line and what is said around it."""
    if row.match.verdict != SURE:
        way = lines_.likely(line[: row.upto]) if not row.since else way
    asks = (row.match.song or "").endswith("?")
    behind = line[way.end : row.upto]
    end = way.end + (len(behind) - len(behind.lstrip(" ?")) if asks and behind.lstrip()[:1] == "?" else 0)
    said = said_around(line, way.start, end, row.upto, row.since)
    return judged_with_said(replace(row, start=way.start, end=end, said=said))


def judged_with_said(row: Row) -> Row:
    """Doubt a song of which it is said that nobody has decided, or that it is new though an old one is near."""
    said, match = row.said, row.match
    if said.perhaps:
        return row.asked("not decided yet")
    if said.new and match.verdict == SURE and (said.new > 1 or match.evidence in WEAK):
        return row.asked(SAID_NEW)
    return row


def _one_or_other(number: int, line: str, front: lines_.Reading, titles: Titles) -> Row | None:
    """Read "Ferry or Wren": one place, and a question with both."""
    pieces = _OR.split(front.text)
    if len(pieces) == 1:
        return None
    found = [one_title(piece, titles) for piece in pieces]
    if all(match.verdict != SURE or match.evidence in WEAK for match in found):
        return None
    songs = tuple(dict.fromkeys(song for match in found for song in match.candidates))[:3]
    match = Match(None, DOUBTFUL, max(match.score for match in found), songs, "one or the other")
    row = Row(number, line, match, front.numbered, front.encore, upto=len(line), why="one or the other")
    said = said_around(line, front.start, front.end)
    return replace(row, start=front.start, end=front.end, said=said)


def _says_encore(ways: list[lines_.Reading], way: lines_.Reading, match: Match) -> bool:
    """Whether the line says encore: a mark that was taken off, also where what is left is no title yet."""
    if match.verdict == SURE:
        return way.encore or way.perhaps
    return way.encore or (ways[-1].encore and not (match.candidates and way is ways[0]))


def _same(ways: list[lines_.Reading], titles: Titles) -> tuple[lines_.Reading, Match] | None:
    """Find the first way to take the line that is a title but for spelling, then but for spaces."""
    for joined in (False, True):
        for way in ways:
            if joined and way.text[1:2] in _BEHIND_A_NUMBER:
                continue
            match = titles.same(way.text, joined=joined)
            if match is not None and not _only_counts(way, ways, titles):
                best, found = _exact(ways, match, titles) or (way, match)
                bare = _bare(best, found, ways, titles)
                return bare, found.doubted() if bare.names_another else found
    return None


def _only_counts(way: lines_.Reading, ways: list[lines_.Reading], titles: Titles) -> bool:
    """Whether a number that would be a title stands before a title, and so counts it: "9  Fix the Pylon"."""
    behind = [one for one in ways if one.start >= way.end] if way.text.isdigit() and way.off else []
    return any(titles.same(one.text) is not None for one in behind)


def _exact(ways: list[lines_.Reading], match: Match, titles: Titles) -> tuple[lines_.Reading, Match] | None:
    """Find the way that is one of the doubtful candidates as it is: "a) The Ferry" has no other article."""
    if match.verdict == SURE:
        return None
    found = [(way, same) for way in ways if (same := titles.same(way.text)) and same.score == _EXACT]
    return next(((way, same) for way, same in found if same.song in match.candidates), None)


def _bare(way: lines_.Reading, match: Match, ways: list[lines_.Reading], titles: Titles) -> lines_.Reading:
    """Take the way that leaves least around the same title: "Ferry (A)" is Ferry in A, "Ferry ?" a doubt."""
    inside = [one for one in ways if way.start <= one.start and one.end <= way.end and one is not way]
    same = [one for one in inside if match.song and (found := titles.same(one.text)) and found.song == match.song]
    bare = min([*same, way], key=lambda one: len(one.text))
    return bare if bare is way or bare.off or bare.start > way.start else way


def _behind_new(line: str, ways: list[lines_.Reading]) -> list[lines_.Reading]:
    """Behind "NEW:" stands a title; the word itself is none, though titles begin with it."""
    said = NEW_BEFORE.match(line)
    return [way for way in ways if said is None or way.start >= said.end()] or ways


def _nearest(ways: list[lines_.Reading], titles: Titles) -> tuple[lines_.Reading, Match]:
    """Find the way to take the line that is nearest to a title."""
    ways = [way for way in ways if way is ways[0] or not lines_.is_encore_mark(way.text)]
    likely = [way for way in ways if way.text[0].isalpha() or (titles.starts_with_digit and way.text[0].isdigit())]
    ways = (likely or ways)[:_WAYS]
    judged = list(zip(ways, (match for _, match in titles.judged([way.text for way in ways])), strict=True))
    sure = [(way, match) for way, match in judged if match.verdict == SURE]
    if sure:
        firm = [(way, match) for way, match in sure if not _guessed(way, match)]
        if firm:  # "Meadow" does not speak against "Meadow with the Birdge"
            sure, judged = firm, [(way, match) for way, match in judged if not _guessed(way, match)]
        way, match = min(sure, key=lambda item: (item[1].evidence in WEAK, item[1].slips))
        # Of the same words the least, so that a sign behind a title that was mistyped is said of it: "Copper Wrie >".
        way = min((one for one, _ in sure if fold(one.text) == fold(way.text)), key=lambda one: len(one.text))
        against = any(other.song != match.song for _, other in sure) or (
            (match.slips > 0 or match.evidence == "cut short")  # "Broken G": a title that breaks off, or a key
            and any(m.evidence in WEAK and m.weighs and m.verdict == DOUBTFUL and not m.slips for _, m in judged)
        )
        return way, match.doubted() if against or _guessed(way, match) or way.names_another else match
    best = max(judged, key=lambda item: (item[1].verdict == DOUBTFUL, item[1].score))
    others = [song for _, match in judged for song in match.candidates]
    candidates = tuple(dict.fromkeys([*best[1].candidates, *others]))[:3]
    return best[0], replace(best[1], candidates=candidates)


def _guessed(way: lines_.Reading, match: Match) -> bool:
    """Whether weak evidence comes from leaving out words that titles have: "with …", or words of this very title."""
    if match.evidence not in WEAK:
        return False
    meant = {word for song in match.candidates[:1] for word in fold(song).split()}
    if re.search(r"\d", way.off) and any(word.isdigit() for word in meant - set(fold(way.text).split())):
        return True  # "Night Coach 41" is not "Night Coach 14"
    return way.cut_at_a_word or any(len(word) >= _A_WORD and word in meant for word in fold(way.off).split())


def _several(number: int, line: str, front: lines_.Reading, ways: list[lines_.Reading], titles: Titles) -> list[Row]:
    """Read a line that holds more than one song behind its `front`; nothing if it does not."""
    for split, enough in ((lines_.segues, _enough_segues), (lines_.pluses, _all_same), (lines_.cells, _enough_cells)):
        pieces = split(_MEDLEY.sub("", front.text))
        if len(pieces) == 1 or (split is lines_.segues and _whole(ways, titles)):
            continue
        parts = [part for part in _joined(pieces, titles) if part.text]
        first = parts[0].text if parts and split is lines_.cells else ""
        if first.isdecimal() and first not in titles.names:  # "9   Ferry": it counts, though a title is "Nine"
            parts = parts[1:]
        songs = [
            part
            for part in parts
            if part.match.evidence == "same"
            or not (lines_.is_remark(part.text) or says_cut(part.text))
            or (split is lines_.segues and part.match.candidates and not re.search(r"[^\W\d_]", part.text))
        ]  # "Ferry / 4:15 / Wren": a title that begins with a time, and no length
        if (
            split is lines_.cells and songs and songs[0].text[:1].isupper()
        ):  # "Ferry - short intro", though it is a title
            songs = [part for part in songs if not is_small_remark(part.text, part.match.song or "")]
        if len(songs) > 1 and enough([part.match for part in songs], pieces[1::2]):
            encore = _says_encore(ways, front, songs[0].match)
            return _rows_of(number, line, front, songs, encore=encore, segue=split is not lines_.cells)
    return []


def is_small_remark(text: str, song: str) -> bool:
    """Whether words are a remark though they are a title too: it begins large, they small, and they read like one."""
    return text[:1].islower() and song[:1].isupper() and lines_.reads_like_a_remark(text)


def _rows_of(
    number: int, line: str, front: lines_.Reading, parts: list[_Part], *, encore: bool, segue: bool
) -> list[Row]:
    """The songs of one line as rows, each with its own part of the line."""
    rows = []
    starts = [front.start + part.at for part in parts]
    for at, part in enumerate(parts):
        upto = starts[at + 1] if at + 1 < len(parts) else len(line)
        ends = starts[at] + len(part.text)
        into = line[ends:upto].strip() if segue and at + 1 < len(parts) else ""
        into = into if into.strip("/") or len(parts) == _A_PAIR else ""  # strokes part the songs of a list
        row = Row(
            *(number, part.text, part.match, front.numbered, encore),
            since=starts[at] if at else 0, upto=upto, into=into,
        )  # fmt: skip
        way = replace(part.way, start=part.way.start + starts[at])
        rows.append(with_said(row, line, way))
    return rows


def _strong(matches: list[Match]) -> int:
    return sum(match.verdict == SURE and match.evidence not in WEAK for match in matches)


def _enough_segues(matches: list[Match], marks: list[str]) -> bool:
    """Whether the pieces are songs: an arrow says so, a slash perhaps, the word "into" only between two titles."""
    if any(mark.strip().isalpha() for mark in marks):
        return _strong(matches) == len(matches)
    arrows = all(">" in mark or mark.strip() not in ("/", "//") for mark in marks)
    return _strong(matches) > 0 or (arrows and all(match.verdict == SURE for match in matches))


def _all_same(matches: list[Match], _marks: list[str]) -> bool:
    """Whether every piece is a title as it is: "Ferry + Wren (medley)"."""
    return all(match.verdict == SURE and match.evidence == "same" for match in matches)


def _enough_cells(matches: list[Match], marks: list[str]) -> bool:
    """Whether the pieces are songs and no remarks: behind a dash only a title as it is, else most of them."""
    if any(mark.strip() in _DASHES for mark in marks):
        return all(match.verdict == SURE and match.evidence == "same" for match in matches)
    return _strong(matches) > 1 and (_strong(matches) == len(matches) or 2 * _strong(matches) >= len(matches) > _A_PAIR)


def _whole(ways: list[lines_.Reading], titles: Titles) -> bool:
    """Whether the line as a whole, marks and all, is surely one title typed with slips."""
    return any(
        match.verdict == SURE
        for match in (titles.match(way.text) for way in ways if sum(map(bool, lines_.segues(way.text)[::2])) > 1)
    )


@dataclass(frozen=True)
class _Part:
    """One piece of a line that holds several songs: where it begins, and what it is."""

    at: int
    text: str
    way: lines_.Reading
    match: Match


def _joined(pieces: list[str], titles: Titles) -> list[_Part]:
    """Match the pieces, joining those that make one title together ("Ember/Or")."""
    parts = []
    at = 0
    while at < len(pieces):
        for end in range(min(len(pieces), at + 7), at, -1):
            whole = "".join(pieces[at:end])
            text = whole.strip()
            if end - at == 1 or ((end - at) % 2 and _same([lines_.Reading(text)], titles) is not None):
                start = len("".join(pieces[:at])) + len(whole) - len(whole.lstrip())
                parts.append(_Part(start, text, *_one(text, titles)))
                at = end + 1
                break
    return parts


def _one(text: str, titles: Titles) -> tuple[lines_.Reading, Match]:
    if not text:
        return lines_.Reading(text), NOTHING
    ways = lines_.readings(text)
    return _same(ways, titles) or _nearest(ways, titles)


def one_title(text: str, titles: Titles) -> Match:
    """Match one piece of a line, with its numbering and remarks."""
    return _one(text, titles)[1]
