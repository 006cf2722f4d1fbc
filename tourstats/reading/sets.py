"""Reading tonight's set: which line is which song, what is said behind a title, and an account of every line."""

# the signs that people type are meant
from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace

import pandas as pd

from tourstats.reading import lines as lines_
from tourstats.reading import marks
from tourstats.reading.account import SONG, STRUCK_OUT, Piece
from tourstats.reading.based import based
from tourstats.reading.columns import Columns, apart, listed, loud, tabled, unlabelled
from tourstats.reading.found import Found
from tourstats.reading.headed import dated, heading_of
from tourstats.reading.medium import Line, lines_of
from tourstats.reading.settling import ORDER
from tourstats.reading.songs import SAID_NEW, Row, judged_with_said, songs_in, with_said
from tourstats.reading.spoken import spoken
from tourstats.reading.titles import NOTHING, SURE, UNKNOWN, Titles, fold, index
from tourstats.reading.whole_set import looked_over

COLUMNS = (
    *("position", "as_typed", "song", "sure", "score", "candidates", "encore", "verdict", "line", "as_new"),
    *("remark", "segue", "taken_as", "why", "short"),
)
_NEXT = 3
"""Lines below a first one in which the numbering may go on."""
_FEWEST = 3
_PARTS = 2
_LAST_SETS = 10
"""Sets before tonight whose length says how long a set is."""
_A_LIST = 5
"""Words from which a line may hold three songs in any way of writing them."""
_OFTEN = 0.5
"""Share of the last sets that had an encore, from which tonight's will have one."""
_ENDS = ("the end", "end", "fin")
_BRACKETS_WITHIN = re.compile(
    rf"(?:\W*\d{{1,2}}\W+)?(?P<title>[^()\[\]]+?)\s*(?:[(\[][^()\[\]]*[)\]]|[{lines_.PICTURES}]|\s\d{{1,2}}:\d\d)\s+[^\W_].*"
)
"""A title with brackets or a picture behind it, and words behind those."""
_LONE_NUMBER = re.compile(r"(?:(\d{1,2})\s?[.):\]-]+\s+)?(\d{1,4})")
_TAKEN_AS = {
    "only signs": "sign", "only numbers": "number", "encore": "encore mark", "a heading": "heading", "talk": "left out",
    "a heading with a date": "day", "a time of the day": "time stamp", "above the set": "heading", "a remark": "remark",
    "struck out": "struck out", "a total": "total", "a day": "day", "a city": "city", "a venue": "venue",
    "a length": "heading",
}  # fmt: skip
"""What a line that holds no song is taken for, by why it holds none."""


def read_set(
    text: str, songs: pd.DataFrame | Iterable[str], places: Mapping[str, Iterable[str]] | None = None,
    earlier: pd.DataFrame | None = None,
) -> pd.DataFrame:  # fmt: skip
    r"""Read a pasted set and match each line to the repertoire. Nothing is written.

    Parameters
    ----------
    text
        The set as it was pasted: numbered or not, from a chat, a mail or a page, with times, keys, remarks, segue
        marks, encore marks, headings and songs that are struck out.
    songs
        The repertoire: a table with `song` and perhaps `aliases`, or plain titles.
    places
        The `city`s and `venue`s that are known, so that a heading is taken as such.
    earlier
        Songs of the shows before tonight, for "same as last night but …": show_id, date, city, position, song, encore.

    Returns
    -------
    DataFrame
        One row per song of the set, in order:
            position     int    place in the set, from 1
            as_typed     str    the line, or the part of it that holds this song
            song         str    title in the repertoire; missing unless sure
            sure         bool   whether the title can be taken without asking
            score        float  likeness of the best title, 0 to 100
            candidates   list   up to three titles, best first; empty if nothing is near
            encore       bool   whether it comes after the main set
            verdict      str    `sure`, `doubtful` or `unknown`
            line         int    line in the text, from 1
            as_new       str    title it would get as a new song
            remark       str    what is said about it; empty if nothing
            segue        bool   whether it goes straight into the next
            taken_as     str    "song"; what else stands there is in the account
            why          str    reason to ask, where it is another than the title; "said to be new" of a new song
            short        str    what stands there for the title, if an answer should be remembered as another name
        `attrs["ignored"]` lists (line, text, why) for every other line that is not blank, and for blank lines too;
        `attrs["account"]` every piece (for `account_of`), `attrs["struck"]` (line, text, title) of what is struck out,
        `attrs["headed"]` the day, city and venue of the heading (`place`: what may be them), `attrs["missing"]` numbers
        that no line has,
        `attrs["order"]` and `attrs["places"]` what the order may be where it is open, `attrs["asks"]` what it is.

    Examples
    --------
    >>> repertoire = ["Ferry", "Copper Wire", "Salt Road"]
    >>> found = read_set("1. coper wire 3:45\nSalt Road (no click) > Ferry\nENCORE\nGravel Pylon", repertoire)
    >>> found[["position", "song", "verdict", "encore", "remark", "segue"]]
       position         song  verdict  encore    remark  segue
    0         1  Copper Wire     sure   False            False
    1         2    Salt Road     sure   False  no click   True
    2         3        Ferry     sure   False            False
    3         4          NaN  unknown    True            False

    """
    titles = index(songs)
    lines = lines_of(text, lambda words: titles.same(words) is not None)
    lines = unlabelled(tabled(_parted(lines), titles), titles)
    table = sum(line.title is not None for line in lines) >= _FEWEST
    columns = Columns(lines) if table else apart(listed(loud(lines, titles), titles), titles)
    reading = Found(columns.lines)
    reading.known_places = tuple(name for names in (places or {}).values() for name in names)
    _read_lines(reading, titles, places or {})
    if earlier is not None and len(earlier):
        last = earlier.groupby("show_id", sort=False).encore.agg(["size", "sum"]).tail(_LAST_SETS)
        if len(last) >= _FEWEST:
            reading.usual = int(last["size"].min()), int(last["size"].max())
            reading.longest_encore = int(last["sum"].max()) if (last["sum"] > 0).mean() > _OFTEN else 0
        based(reading, titles, earlier)
    looked_over(reading, titles)
    if columns.order == "open":
        across = sorted(
            range(len(reading.rows)), key=lambda at: (reading.rows[at].line, reading.lines[reading.rows[at].place].at)
        )
        reading.order = {"down": "down the left column, then the right", "across": "across, line by line"}
        reading.places = {"down": list(range(len(reading.rows))), "across": across}
    return _frame(reading, titles, _fresh(songs))


def _parted(lines: list[Line]) -> list[Line]:
    """Take letters that head the parts of a set for headings: A, B, C above a block each; a Z is the encore."""
    texts = ["", *(line.text for line in lines), ""]
    letters_alone = (at for at, text in enumerate(texts) if len(text) == 1 and text.isupper())
    heads = [at - 1 for at in letters_alone if not texts[at - 1] and texts[at + 1]]
    letters = "".join(lines[at].text for at in heads).removesuffix("Z")
    if len(letters) < _PARTS or not "ABCDEFG".startswith(letters):
        return lines
    parted = list(lines)
    for at in heads:
        last = lines[at].text == "Z"
        parted[at] = lines[at].all_as("encore mark" if last else "heading", "encore" if last else "a part of the set")
    return parted


def _read_lines(reading: Found, titles: Titles, places: Mapping[str, Iterable[str]]) -> None:
    """Read one line after the other."""
    texts = [line.text for line in reading.lines]
    keyed = lines_.keyed(texts)
    lettered = keyed or lines_.lettered(texts)
    counted = _counting_lines(texts)
    encore = False
    for place, line in enumerate(reading.lines):
        below = next((other for other in texts[place + 1 : place + 1 + _NEXT] if other), "")
        within = bool(reading.rows) or lines_.counts_on(line.text, below)
        encore = encore or (bool(reading.rows) and any(piece.taken_as == "encore mark" for piece in line.pieces))
        rows: list[Row] | str = _outside(line, reading, titles, places)
        if not rows:
            rows = _songs(line, titles, within=within, letters=lettered or not reading.rows, counted=counted)
        if rows == "encore" and keyed and lines_.is_key(line.text):
            rows = [_unknown(line, 0, len(line.text), numbered=False)]
        if rows == "a heading with a date" and not reading.rows and not within:
            reading.headed = {**dated(line.text), **reading.headed}
        if isinstance(rows, str):
            encore = encore or rows == "encore"
            reading.others[place] = rows
            continue
        for row in rows:
            placed = replace(row, place=place, encore=encore or row.encore)
            if row.said.cut:
                reading.struck.append(placed)
                continue
            encore = placed.encore
            reading.rows.append(placed)
        if all(row.said.cut for row in rows):
            reading.others[place] = "struck out"


def _outside(line: Line, reading: Found, titles: Titles, places: Mapping[str, Iterable[str]]) -> str:
    """Say why a line is no part of the set: the medium took it, or it says where and when; nothing if it may be."""
    if line.why:
        return line.why
    if any(row.match.verdict == SURE for row in reading.rows) or not line.text:
        return ""
    says = heading_of(line.text, places)
    if not says or (titles.same(line.text) is not None and "day" not in says):
        return ""
    reading.headed = {**says, **reading.headed}
    return next(f"a {kind}" for kind in ("city", "venue", "day") if kind in says)


def _songs(line: Line, titles: Titles, *, within: bool, letters: bool, counted: bool) -> list[Row] | str:
    """Read a line with what is struck out taken off first; a number or "The End" may be a title."""
    text = line.text
    if counted and text.strip(" .):").isdecimal() and text not in titles.names:
        return "only numbers"  # "9" counts, though a title is "Nine"
    struck = marks.struck_parts(text)
    if struck:
        kept = text
        for start, end in struck:
            kept = kept[:start] + " " * (end - start) + kept[end:]
        return _beside_struck(line, kept, struck, titles)
    title = line.title or _before_brackets(text, titles)
    start, end = title or (0, len(text))
    cut = start + marks.cut_before(text[start:end])
    if cut > start and titles.same(text[start:end]) is None:
        rest = songs_in(line.number, " " * cut + text[cut:end], titles, within=True)
        if not isinstance(rest, str) and len(rest) == 1 and rest[0].match.verdict == SURE:
            before, behind = (0, text[:cut], "sign"), ((end, text[end:], "sign"),) if text[end:].strip() else ()
            row = rest[0]
            return [
                replace(
                    row, as_typed=text, said=replace(row.said, cut=True, pieces=(before, *row.said.pieces, *behind))
                )
            ]
    if title is not None:
        return _titled(line, title, titles, letters=letters)
    rows = songs_in(line.number, text, titles, within=within, letters=letters)
    sure = 2 if isinstance(rows, str) else sum(row.match.verdict == SURE for row in rows)
    open_ = not isinstance(rows, str) and rows[0].match.verdict != SURE and not rows[0].why
    if open_ or len(text.split()) >= _A_LIST:
        all_ = spoken(line.number, text, titles)
        rows = all_ if len(all_) > sure else rows
    return _alone(line, rows, titles, counted=counted) if isinstance(rows, str) else rows


def _alone(line: Line, why: str, titles: Titles, *, counted: bool) -> list[Row] | str:
    """Take a line without a known title for a place to be filled, a number or "The End"; else say why it is none."""
    text = line.text
    if why == "only numbers" and not counted and (number := _LONE_NUMBER.fullmatch(text)):
        return [_unknown(line, number.start(2), number.end(2), numbered=number[1] is not None)]
    if why in ("only signs", "only numbers") and (open_ := re.search(r"\?+", text)):
        return [_unknown(line, *open_.span(), numbered=False).asked("not decided yet")]
    if why == "a heading" and (ends := re.search(r"\bthe end\b|\bend\b|\bfin\b", text, re.IGNORECASE)):
        numbered = re.match(r"\W*\d{1,2}\W+\s*\D", text) is not None
        if fold(text[ends.start() :]) in _ENDS and (numbered or not titles.names):
            return [_unknown(line, ends.start(), ends.end(), numbered=numbered)]
    return why


def _before_brackets(text: str, titles: Titles) -> tuple[int, int] | None:
    """Where a title stands that brackets end, though words stand behind them too."""
    found = _BRACKETS_WITHIN.fullmatch(text)
    same = titles.same(found["title"]) if found else None
    if found is None or same is None or same.verdict != SURE or titles.same(text) is not None:
        return None
    return None if lines_.Reading(text, off=text[found.end("title") :]).names_another else found.span("title")


def _titled(line: Line, title: tuple[int, int], titles: Titles, *, letters: bool) -> list[Row] | str:
    """Read a line of which it is known where its title stands; what stands around it is said of the song."""
    start, end = title
    rows = songs_in(line.number, " " * start + line.text[start:end], titles, within=True, letters=letters)
    if isinstance(rows, str):
        beside = line.text[:start] + line.text[end:]
        counted = re.search(r"\d", line.text[:start]) and any(map(str.isalpha, beside)) and rows == "a heading"
        if rows == "only numbers" and not titles.names:
            return [replace(_unknown(line, start, end, numbered=False), title=line.text[start:end].strip())]
        if "?" in line.text[start:end] and rows == "only signs":
            return _alone(line, rows, titles, counted=True)
        return [_unknown(line, start, end, numbered=True)] if counted else rows
    around = marks.said_around(line.text, rows[0].start, rows[0].end, rows[0].upto if rows[1:] else len(line.text))
    before = [kind for at, _, kind in around.pieces if at < start]
    front = fold(line.text[:start]).split()
    marked = "encore mark" in before and not (letters and "e" in front and not re.fullmatch(r"e\d", front[0]))
    row = replace(rows[0], said=around, encore=rows[0].encore or marked)
    row = replace(row, numbered=row.numbered or "number" in before, upto=row.upto if rows[1:] else len(line.text))
    alone = replace(row, as_typed=line.text, title=line.text[start:end].strip())
    return [judged_with_said(row if rows[1:] else alone), *rows[1:]]


def _unknown(line: Line, start: int, end: int, *, numbered: bool) -> Row:
    said = marks.said_around(line.text, start, end)
    return Row(line.number, line.text, NOTHING, numbered, upto=len(line.text), start=start, end=end, said=said)


def _beside_struck(line: Line, kept: str, struck: list[tuple[int, int]], titles: Titles) -> list[Row]:
    """Read a line of which parts are struck out: what is left may be a song, or only its number and a remark."""
    pieces = tuple((start, line.text[start:end], STRUCK_OUT) for start, end in struck)
    says = any(marks.says_cut(re.sub("[~\u0334-\u0338]", "", line.text[start:end])) for start, end in struck)
    left = songs_in(line.number, kept, titles, within=True) if any(map(str.isalpha, kept)) else "struck"
    own = line.title is not None and line.title[0] <= struck[0][0] < line.title[1]
    left = [] if own or isinstance(left, str) else left
    rows = [row for row in left if row.match.verdict == SURE or not _only_said(kept)]
    if rows:
        first = rows[0]
        around = replace(first.said, pieces=(*pieces, *first.said.pieces), cut=first.said.cut or says)
        return [replace(first, said=around), *rows[1:]]
    start, end = struck[0]
    row = _unknown(line, start, end, numbered=False)
    match = titles.match(re.sub("[~\u0334-\u0338]", "", line.text[start:end]))
    return [replace(row, match=match, said=replace(row.said, cut=True))]


def _only_said(kept: str) -> bool:
    """Whether what is left beside something struck out only says so."""
    text = re.sub(r"^[\s*•-]*(?:\[.?\])?\W*?\d*[\s.):-]*", "", kept)
    return not text or lines_.reads_like_a_remark(text) or text[:1] in "(["


def _counting_lines(texts: list[str]) -> bool:
    """Whether numbers on lines of their own count the songs: 1, Ferry, 2, Wren."""
    alone = [int(text.strip(" .):")) for text in texts if re.fullmatch(r"\d{1,2}[.):]?", text)]
    return len(alone) >= _FEWEST and alone == list(range(alone[0], alone[0] + len(alone)))


def _fresh(songs: pd.DataFrame | Iterable[str]) -> frozenset[str]:
    """Songs of the repertoire that are still new, so that "new" behind them surprises nobody."""
    if not isinstance(songs, pd.DataFrame):
        return frozenset()
    fresh = pd.Series(data=False, index=songs.index)
    if "new_release" in songs.columns:
        fresh |= songs["new_release"].fillna(value=False).astype(bool)
    if "status" in songs.columns:
        fresh |= songs["status"].eq("learning")
    return frozenset(songs.song[fresh])


def _still_new(row: Row, fresh: frozenset[str]) -> Row:
    """Take "NEW: Ferry" as it is where Ferry is known to be new."""
    known = row.why == SAID_NEW and row.match.evidence == "same" and row.match.candidates[:1]
    if not known or known[0] not in fresh:
        return row
    return replace(row, why="", match=replace(row.match, song=known[0], verdict=SURE))


def _frame(reading: Found, titles: Titles, fresh: frozenset[str]) -> pd.DataFrame:
    rows = [_still_new(row, fresh) for row in reading.rows]
    numbered = sum(row.numbered for row in rows) > len(rows) / 2
    rows = [_named(row, reading.lines[row.place].text, numbered=numbered) for row in rows]
    frame = pd.DataFrame(
        {
            "position": pd.Series(range(1, len(rows) + 1), dtype="int64"),
            "as_typed": pd.Series([row.as_typed for row in rows], dtype="str"),
            "song": pd.Series([row.match.song for row in rows], dtype="str"),
            "sure": pd.Series([row.match.verdict == SURE for row in rows], dtype=bool),
            "score": pd.Series([float(row.match.score) for row in rows], dtype=float),
            "candidates": pd.Series([list(row.match.candidates[:3]) for row in rows], dtype=object),
            "encore": pd.Series([row.encore for row in rows], dtype=bool),
            "verdict": pd.Series([row.match.verdict for row in rows], dtype="str"),
            "line": pd.Series([row.line for row in rows], dtype="int64"),
            "as_new": pd.Series([_as_new(row, numbered=numbered) for row in rows], dtype="str"),
            "remark": pd.Series([row.said.remark for row in rows], dtype="str"),
            "segue": pd.Series([row.said.segue or bool(row.into) for row in rows], dtype=bool),
            "taken_as": pd.Series([SONG] * len(rows), dtype="str"),
            "why": pd.Series([_reason(row) for row in rows], dtype="str"),
            "short": pd.Series([_short(row, reading, titles) for row in rows], dtype="str"),
        }
    )
    frame.attrs["ignored"] = sorted(
        (reading.lines[at].number, reading.lines[at].text, why) for at, why in reading.others.items()
    )
    frame.attrs["account"] = list(_pieces(reading, rows))
    frame.attrs["struck"] = [(row.line, row.as_typed, row.match.song or "") for row in reading.struck]
    frame.attrs["headed"], frame.attrs["missing"] = reading.headed, reading.missing
    frame.attrs[ORDER], frame.attrs["places"], frame.attrs["asks"] = reading.order, reading.places, reading.asks
    return frame


def _named(row: Row, text: str, *, numbered: bool) -> Row:
    """A song that is not known, with its title and what is said around it once the whole set is known."""
    if row.match.verdict == SURE or row.since or row.into or not numbered or row.match.evidence:
        return row
    again = with_said(row, text, lines_.likely(text, numbered=numbered))
    return replace(again, why=row.why, said=replace(again.said, remark=row.said.remark or again.said.remark))


def _as_new(row: Row, *, numbered: bool) -> str:
    """Title that it would get as a new song."""
    if row.match is NOTHING and lines_.why_no_song(row.as_typed):  # a number, "The End"
        return row.as_typed[row.start : row.end]
    return row.title or lines_.likely_title(row.as_typed, numbered=numbered)


def _reason(row: Row) -> str:
    """Why a row is asked about; a new song that is said to be new is not."""
    return SAID_NEW if row.said.new and row.match.verdict == UNKNOWN and not row.why else row.why


def _short(row: Row, reading: Found, titles: Titles) -> str:
    """The bare word that stands in several titles; its answer is worth remembering."""
    text = reading.lines[row.place].text[row.start : row.end]
    word = fold(text)
    several = len(titles.vocabulary.get(word, ())) > 1
    return text if row.match.verdict != SURE and several and " " not in word and row.why == "" else ""


def _pieces(reading: Found, rows: list[Row]) -> Iterator[Piece]:
    """Every piece of every line once."""
    for line in reading.lines:
        yield from line.pieces
    for place, why in reading.others.items():
        line = reading.lines[place]
        if line.text and why != "struck out":
            kind = _TAKEN_AS.get(why, "remark" if why.startswith(("a correction", "said of")) else "left out")
            yield Piece(line.number, line.at + 1, line.text, kind, why="" if kind == why else why)
    for row in (*rows, *reading.struck):
        line = reading.lines[row.place]
        for at, text, kind in row.said.pieces:
            lead = len(text) - len(text.lstrip())
            yield Piece(line.number, line.at + at + lead + 1, text.strip(), kind)
        kind = STRUCK_OUT if row.said.cut else SONG
        sure = row.match.verdict == SURE or row.said.cut
        title = line.text[row.start : row.end] or row.as_typed
        yield Piece(line.number, line.at + row.start + 1, title, kind, row.match.song, sure, row.why)
