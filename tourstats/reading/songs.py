"""The songs in one line: one, several that go into each other, or none and why."""

# ruff: noqa: RUF001  # the signs that people type are meant
from __future__ import annotations

from dataclasses import dataclass, replace

from tourstats.reading import lines as lines_
from tourstats.reading.titles import DOUBTFUL, NOTHING, SURE, Match, Titles, fold

_WAYS = 10
"""Ways to take a line that are compared with typing slips in mind."""
_A_PAIR = 2
_A_WORD = 4
"""Letters from which a word that was taken off may be one of the title's own."""
_BEHIND_A_NUMBER = tuple(".):] ")
_DASHES = ("-", "–", "—")
WEAK = ("first words", "cut short", "initials")


@dataclass(frozen=True)
class Row:
    """A song of the set as it was found."""

    line: int
    as_typed: str
    match: Match
    numbered: bool = False
    encore: bool = False


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
    if same is None or any(letter.isalnum() for letter in same[0].off):
        several = _several(number, lines_.fronts(line, letters=letters)[-1], ways, titles)
        if several and (same is None or sum(row.match.verdict == SURE for row in several) > 1):
            return several
    way, match = same or _nearest(ways, titles)
    return [Row(number, line, match, numbered=ways[-1].numbered or way.numbered, encore=_says_encore(ways, way, match))]


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
            if match is not None:
                return way, match.doubted() if way.names_another else match
    return None


def _nearest(ways: list[lines_.Reading], titles: Titles) -> tuple[lines_.Reading, Match]:
    """Find the way to take the line that is nearest to a title."""
    ways = [way for way in ways if way is ways[0] or not lines_.is_encore_mark(way.text)]
    likely = [way for way in ways if way.text[0].isalpha() or (titles.starts_with_digit and way.text[0].isdigit())]
    ways = (likely or ways)[:_WAYS]
    found = list(zip(ways, (match for _, match in titles.judged([way.text for way in ways])), strict=True))
    sure = [(way, match) for way, match in found if match.verdict == SURE]
    if sure:
        firm = [(way, match) for way, match in sure if not _guessed(way, match)]
        if firm:  # "Meadow" does not speak against "Meadow with the Birdge"
            sure, found = firm, [(way, match) for way, match in found if not _guessed(way, match)]
        way, match = min(sure, key=lambda item: (item[1].evidence in WEAK, item[1].slips))
        against = any(other.song != match.song for _, other in sure) or (
            (match.slips > 0 or match.evidence == "cut short")  # "Broken G": a title that breaks off, or a key
            and any(m.evidence in WEAK and m.weighs and m.verdict == DOUBTFUL and not m.slips for _, m in found)
        )
        return way, match.doubted() if against or _guessed(way, match) or way.names_another else match
    best = max(found, key=lambda item: (item[1].verdict == DOUBTFUL, item[1].score))
    others = [song for _, match in found for song in match.candidates]
    candidates = tuple(dict.fromkeys([*best[1].candidates, *others]))[:3]
    return best[0], replace(best[1], candidates=candidates)


def _guessed(way: lines_.Reading, match: Match) -> bool:
    """Whether weak evidence comes from leaving out words that titles have: "with …", or words of this very title."""
    if match.evidence not in WEAK:
        return False
    meant = {word for song in match.candidates[:1] for word in fold(song).split()}
    return way.cut_at_a_word or any(len(word) >= _A_WORD and word in meant for word in fold(way.off).split())


def _several(number: int, front: lines_.Reading, ways: list[lines_.Reading], titles: Titles) -> list[Row]:
    """Read a line that holds more than one song behind its `front`; nothing if it does not."""
    for split, enough in ((lines_.segues, _enough_segues), (lines_.cells, _enough_cells)):
        pieces = split(front.text)
        if len(pieces) == 1 or (split is lines_.segues and _whole(ways, titles)):
            continue
        parts = [(text, match) for text, match in _joined(pieces, titles) if text]
        found = [(text, match) for text, match in parts if match.evidence == "same" or not lines_.is_remark(text)]
        if len(found) > 1 and enough([match for _, match in found], pieces[1::2]):
            encore = _says_encore(ways, front, found[0][1])
            return [Row(number, text, match, front.numbered, encore) for text, match in found]
    return []


def _strong(matches: list[Match]) -> int:
    return sum(match.verdict == SURE and match.evidence not in WEAK for match in matches)


def _enough_segues(matches: list[Match], marks: list[str]) -> bool:
    """Whether the pieces are songs: an arrow says so, a slash perhaps, the word "into" only between two titles."""
    if any(mark.strip().isalpha() for mark in marks):
        return _strong(matches) == len(matches)
    arrows = all(">" in mark or mark.strip() not in ("/", "//") for mark in marks)
    return _strong(matches) > 0 or (arrows and all(match.verdict == SURE for match in matches))


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


def _joined(pieces: list[str], titles: Titles) -> list[tuple[str, Match]]:
    """Match the pieces, joining those that make one title together ("Either/Or")."""
    found = []
    at = 0
    while at < len(pieces):
        for end in range(min(len(pieces), at + 7), at, -1):
            text = "".join(pieces[at:end]).strip()
            if end - at == 1 or ((end - at) % 2 and _same([lines_.Reading(text)], titles) is not None):
                found.append((text, one_title(text, titles)))
                at = end + 1
                break
    return found


def one_title(text: str, titles: Titles) -> Match:
    """Match one piece of a line, with its numbering and remarks."""
    if not text:
        return NOTHING
    ways = lines_.readings(text)
    same = _same(ways, titles)
    return (same or _nearest(ways, titles))[1]
