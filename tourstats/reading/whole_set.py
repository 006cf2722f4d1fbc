"""Looking at a set as a whole: what is heading or talk, what the numbers say, which arrow is a segue."""

# ruff: noqa: RUF001  # the signs that people type are meant
# ruff: noqa: E501  # a pattern is read in one piece
from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import replace

from tourstats.problems import counted
from tourstats.reading import lines as lines_
from tourstats.reading.beside import HANGS, beside_the_set, names_a_song, say_of_the_song_above
from tourstats.reading.corrections import Change, changed, mentions, only_asks, says_no_more
from tourstats.reading.found import Found
from tourstats.reading.marks import Said, said_around, says_cut
from tourstats.reading.medium import Line
from tourstats.reading.settling import TAKE
from tourstats.reading.songs import WEAK, Row, is_small_remark
from tourstats.reading.titles import DOUBTFUL, NOTHING, SEVERAL_WORDS, SURE, UNKNOWN, Match, Titles, fold
from tourstats.reading.vocabulary import INSTEAD

_A_FEW = 3
_MOST = 0.8
_SET = 60
"""Rows up to which a paste is taken for one set, in which a song seldom stands twice."""
_SHORTEST, _LONGEST = 0.5, 1.5
"""Share of the shortest and of the longest of the last sets beyond which a set is asked about."""
_HALF = 0.5
"""Share of short forms from which a paper is written in them: that so many words of one title each are other songs is not to be believed."""
_KNOWN = 5
"""Songs that are surely known, from which a set tells what is none."""
_SAYS_SO = re.compile(
    r"\b(?:instead|replaces?|raus|rein|swap|switch|tausch\w*|vertausch\w*|(?:change|trade) places|rather than|in (?:its|the same) place|correction|corrected|statt|anstatt|au lieu|en vez|is out|are out|comes out|goes out|leave out|leaving out)\b"
)
"""Words that only a correction has."""
_DROPS = re.compile(r"(?:[^\W\d_]+ ){0,2}(?:drop|skip|cut|lose|scrap|leave out|take out|streich\w*)\b")
"""How a line begins that takes a song out; behind the song it ends, or a reason follows a sign."""
_BESIDE = re.compile(r"\b(?:after|before|nach|hinter|vor|apres|avant|despues de|antes de|dopo|prima di)\b")
_SCRIBBLED = re.compile(r"\b(?:scribbled|scratched|crossed|struck|rubbed|blacked) out\b")
_OFF = re.compile(r"(?:no|not|without|skip|cut|drop|kein|keine|ohne|sans|pas de|sin|nada de)\b")
_TONIGHT = re.compile(r"(?:tonight|today|this time|heute|ce soir|esta noche|stasera)\b")
_CORRECTS = re.compile(
    r"\b(?:swap|switch|instead|replace|replaces|rather than|move|drop|add|scrap|(?<!dont )(?<!not )forget|correction|corrected|without|same as|as last night|"
    r"as yesterday|leave out|leaving out|tausch\w*|gegen|statt|raus|rein|weg|not playing|no \d{1,2}|(?:skip|cut|out|is|was) \d{1,2})\b"
)
_REMARK_LINE = re.compile(r"[(\[].*[)\]]\W*|(?:note|nb|n\.b\.|remark|ps)\s*[:.].*", re.IGNORECASE)
_LOWER_REMARK = re.compile(r"\s*(?:[-–—*•→↳>^]+\s*)?[a-z]")
_TOGETHER = re.compile(r"\b(?:medley|segue|no gaps?|straight|into|mashup)\b", re.IGNORECASE)
_LETTER = re.compile(r"\W*[^\W\d_]{1,2}\s?\d?\W\s*")
_ARROWS = re.compile(r"(?:[-=~]+>|→|⇒|➔|➜|➝|➡)")
_ARROWS_OR_MORE = re.compile(r">|→|⇒|➔|➜|➝|➡|▶|»")
_ANY_SEGUE = re.compile(r"(?:[-=~]*>+|→|⇒|➔|➜|➝|➡|▶|»)")


def looked_over(reading: Found, titles: Titles) -> Found:
    """Settle what single lines could not: each rule looks at the whole set and changes what was found."""
    for rule in (
        _explained,
        _banners,
        _corrected,
        _answers,
        beside_the_set,
        _another_act,
        _remark_lines,
        _short_forms,
        _twins,
        _twice,
        _set_apart,
        _titles_behind,
        _arrows,
        _brackets,
        _numbers,
        _not_listed,
        _boxes,
        _size,
    ):
        rule(reading, titles)
    return reading


_EXPLAINS = re.compile(r"(?P<sign>[^\w\s]{1,2}|\(?\w{1,2}\)?)\s*=\s*(?P<means>[^\s=].*)")


def _explained(reading: Found, _titles: Titles) -> None:
    """Say of the songs with a sign what the paper says that it means: "* = new"."""
    explained = [(at, mark) for at, line in enumerate(reading.lines) if (mark := _EXPLAINS.fullmatch(line.text))]
    for place, mark in explained:
        above = [row for row in reading.rows if row.place != place and _behind(row, reading, mark["sign"])]
        if above:
            reading.drop([row for row in reading.rows if row.place == place], "said of the signs")
            reading.others[place] = "said of the signs"
        new = lines_.says_new(mark["means"])
        if says_cut(mark["means"]) or _LEFT_OUT.search(fold(mark["means"])):
            reading.struck += [replace(row, said=replace(row.said, cut=True)) for row in above]
            reading.drop(above, "struck out")
            continue
        for row in above:
            if lines_.is_encore_mark(mark["means"].split(".")[0]):
                reading.change(row, replace(row, encore=True))
            elif new:
                reading.change(row, replace(row, said=replace(row.said, new=row.said.new or 1)))
            else:
                reading.say(row, row.said.remark, mark["means"])


_LEFT_OUT = re.compile(r"\b(?:leave|left|leaving|taken|struck|cut|is|are|not) (?:out|tonight|today|played)\b")


def _behind(row: Row, reading: Found, sign: str) -> bool:
    """Whether a sign stands behind a title, or before it."""
    text = reading.lines[row.place].text
    if re.match(rf"{re.escape(sign)}\s", text[: row.start]):
        return True
    before = r"[\s(]" if sign.isalnum() else r"(?:^|[\s\w)])"
    return re.search(rf"{before}{re.escape(sign)}(?:$|[\s()])", text[row.start :]) is not None


_BANNER = re.compile(r"([=*#~_+–—-]{2,}|[=~#•]) ?[^\W_].*[^\W_][)\]]? ?\1")


def _banners(reading: Found, titles: Titles) -> None:
    """A line between two rules of signs, "== drop C ==", where no song stands so, says something of the song below."""
    framed = [row for row in reading.rows if _BANNER.fullmatch(reading.lines[row.place].text)]
    firm = [row for row in framed if row.match.verdict == SURE and row.match.evidence not in WEAK]
    if firm or any(row.said.new or row.number is not None for row in framed):
        return
    begin = Counter(fold(reading.lines[row.place].text).split()[0] for row in framed)
    for row in framed:
        if begin[fold(reading.lines[row.place].text).split()[0]] > 1:  # "**Block 1**", "**Block 2 (seated)**"
            reading.drop([row], "a heading")
            continue
        below = next((one for one in reading.rows if one.place > row.place and one not in framed), None)
        if below is not None and not names_a_song(row.as_typed, titles):
            reading.drop([row], "a remark")
            words = reading.lines[row.place].text.strip("=*#~_+–—-• ")
            reading.say(below, words, below.said.remark)


def _corrected(reading: Found, titles: Titles) -> None:
    """Change the set where a line below says how: "Ferry instead of Wren", "swap 3 and 4"; else ask about such a line."""
    _left_out_too_soon(reading)
    unsaid = []
    for row in [row for row in reading.rows if not row.numbered and _may_correct(row, reading)]:
        line = reading.lines[row.place]
        folded = fold(line.text)
        above = [one for one in reading.rows if one.place < row.place]
        above = above if any(one.match.song for one in above) else []
        meant = above or [one for one in reading.rows if one.match.song and one.number is not None]
        songs = [one.match.song or f"line {one.line}" for one in meant]  # what is still open keeps its place
        says = len(meant) > 1 and titles.same(line.text) is None and _says_so(line.text, songs, titles)
        if (_OFF.match(folded) or _SCRIBBLED.search(folded)) and (off := _off(line, reading, titles)):
            reading.struck.append(off)
            reading.drop([row], "struck out")
            continue
        numbers = {one.number: at for at, one in enumerate(meant) if one.number is not None}
        change = changed(line.text, songs, titles, numbers) if says else None
        understood = change is not None and (not change.unclear or says_no_more(change))
        if change is not None and understood and not only_asks(line.text):
            _apply(reading, row, meant, change)
        elif not above and not _of_the_set(line.text, reading, titles) and line.text.endswith(":"):
            if mentions(line.text, titles):
                reading.drop([row], "above the set")
        elif row.match.verdict != SURE and _CORRECTS.search(folded) and len(folded.split()) > _A_FEW - 1:
            reading.change(row, row.asked("reads like a correction"))
            unsaid.append(reading.lines[row.place])
    _asked_and_done(reading, unsaid, titles)


def _may_correct(row: Row, reading: Found) -> bool:
    """Whether a line is no song for sure, or is below all songs and says that its own comes before or behind another."""
    lowest = max((one.place for one in reading.rows if one.match.verdict == SURE and not one.said.remark), default=0)
    placed = row.place > lowest and _BESIDE.search(fold(row.said.remark)) is not None
    return row.match.verdict != SURE or placed


def _says_so(text: str, songs: Sequence[str], titles: Titles) -> bool:
    """Whether a line has words that only a correction has, and names what they are said of."""
    folded, named = fold(text), mentions(text, titles, songs)
    two = _BESIDE.search(folded) is not None and len(named) > 1
    drops = _DROPS.match(folded) is not None and bool(named) and re.match(r"\s*(?:$|[^\w\s])", text[named[-1].end :])
    return two or bool(drops) or _SAYS_SO.search(folded) is not None


def _of_the_set(text: str, reading: Found, titles: Titles) -> bool:
    """Whether a line names a song that stands in the set, or one that it does not take out of it."""
    there = {row.match.song for row in reading.rows}
    return any(one.song in there or not _TAKES_OUT.search(fold(text)) for one in mentions(text, titles))


_TAKES_OUT = re.compile(r"\b(?:drop|skip|cut|lose|leave out|without|no|ohne|sans|sin|senza|zonder)\b")


def _left_out_too_soon(reading: Found) -> None:
    """Look again at what was left out around the songs, such as a time, where it says what becomes of a number of theirs."""
    numbers = {row.number for row in reading.rows if row.number is not None}
    songs = {row.place for row in reading.rows if row.match.verdict == SURE} or {0, len(reading.lines)}
    beside = [at for at in reading.others if not min(songs) < at < max(songs)]
    for place in [at for at in beside if reading.others[at] not in _NAMELESS]:
        line, folded = reading.lines[place], fold(reading.lines[place].text)
        if not line.why and _SAYS_SO.search(folded) and numbers & set(map(int, re.findall(r"\b\d{1,2}\b", folded))):
            del reading.others[place]
            row = Row(line.number, line.text, NOTHING, place=place, start=0, end=len(line.text))
            reading.rows.insert(sum(one.place < place for one in reading.rows), row)


def _off(line: Line, reading: Found, titles: Titles) -> Row | None:
    """The song that a line says is not played tonight, if it is in no other line: "no Ferry tonight, Bram has a cold"."""
    named = mentions(line.text, titles)
    if len(named) != 1 or any(row.match.song == named[0].song for row in reading.rows if row.match.verdict == SURE):
        return None
    one = named[0]
    if not (_TONIGHT.match(fold(line.text[one.end :])) or _SCRIBBLED.search(fold(line.text[: one.start]))):
        return None
    around = ((0, line.text[: one.start]), (one.end, line.text[one.end :]))
    pieces = tuple((at, text, "remark") for at, text in around if text.strip())
    match = Match(one.song, SURE, 100.0, (one.song,), "same")
    return Row(
        *(line.number, line.text, match), start=one.start, end=one.end, said=Said(cut=True, pieces=pieces),
        place=reading.lines.index(line),
    )  # fmt: skip


def _apply(reading: Found, line: Row, above: list[Row], change: Change) -> None:
    """Put what a line says into the songs above it; the songs that it takes out are struck out."""
    text = reading.lines[line.place].text
    came: list[Row] = []
    rows: list[Row] = []
    encores = [row.encore for row in above]
    for now in change.songs:
        if isinstance(now, int):
            rows.append(
                replace(above[now], encore=encores[len(rows)] if len(change.songs) == len(above) else above[now].encore)
            )
            continue
        at = next(one for one in change.mentions if one.song == now)
        match = Match(now, SURE, 100.0, (now,), "same")
        heir = next((row for row in above if row.match.song == change.heirs.get(now)), None)
        encore = heir.encore if heir else bool(rows and rows[-1].encore) or now in change.encores
        came.append(Row(line.line, now, match, encore=encore, start=at.start, end=at.end, place=line.place))
        rows.append(came[-1])
    gone = [row for at, row in enumerate(above) if at not in change.songs]
    reading.struck += [replace(row, said=replace(row.said, cut=True)) for row in gone]
    reading.drop([*gone, line], "struck out")
    reading.others[line.place] = f"a correction: {', '.join(change.said)}"
    if came:  # what stands around its titles is the correction
        reading.others.pop(line.place)
        cuts = sorted((row.start, row.end) for row in came)
        edges = zip([0, *(end for _, end in cuts)], [*(start for start, _ in cuts), len(text)], strict=True)
        pieces = tuple((start, text[start:end], "remark") for start, end in edges if text[start:end].strip())
        first = came[0]
        rows[rows.index(first)] = replace(first, said=Said(pieces=pieces))
    reading.rows = [*rows, *(row for row in reading.rows if not any(row is one for one in above))]


def _asked_and_done(reading: Found, unsaid: Sequence[Line], titles: Titles) -> None:
    """What was asked for, of songs that another line settles, is talk: "can we drop Ferry?", "ok, Ferry is out"."""
    gone = {row.match.song for row in reading.struck}
    for row in [row for row in reading.rows if any(reading.lines[row.place] is line for line in unsaid)]:
        line = reading.lines[row.place]
        named = {one.song for one in mentions(line.text, titles)}
        if named and named <= gone:
            reading.drop([row], "talk")


def _answers(reading: Found, titles: Titles) -> None:
    """What others write of songs that stand in the set of who sent it is talk, unless it says what becomes of them."""
    firm = [row for row in reading.rows if row.match.verdict == SURE]
    senders = Counter(sender for row in firm if (sender := reading.lines[row.place].sender)).most_common(1)
    gone = {row.match.song for row in reading.struck}
    there = gone | {row.match.song for row in firm}
    for row in [row for row in reading.rows if row.match.verdict != SURE and row.number is None] if senders else ():
        line, folded = reading.lines[row.place], fold(reading.lines[row.place].text)
        says = _CORRECTS.search(folded) or HANGS.search(folded) or _NOT.search(folded)
        named = {one.song for one in mentions(line.text, titles)}
        if line.text.rstrip().endswith("?"):  # a question is answered by what stands in the set
            words = (titles.vocabulary.get(word, set()) for word in folded.split() if len(word) > _A_FEW)
            says, named = None, {next(iter(songs & there), "") for songs in words if songs}
        other = line.sender not in ("", senders[0][0])
        aside = row.match.verdict == UNKNOWN and not says and len(firm) >= _KNOWN
        settled = named <= (gone if says else there) if named else aside
        if other and settled:
            reading.drop([row], "talk")


_NOT = re.compile(r"\b(?:not|no|nicht|kein\w*|pas|sin|non|niet|please|bitte)\b")


def _another_act(reading: Found, _titles: Titles) -> None:
    """Take out songs of which not one is known, counted from 1 apart from others that are: the set of another act."""
    runs: list[list[Row]] = [[]]
    for row in reading.rows:
        if row.number == 1 and runs[-1]:
            runs.append([])
        runs[-1].append(row)
    known = [sum(row.match.verdict == SURE for row in run) for run in runs]
    if max(known) < _KNOWN or max(known) < _MOST * len(runs[known.index(max(known))]):
        return
    for run in runs:
        foreign = all(row.match.verdict == UNKNOWN and not row.said.new for row in run)
        heads = reading.others.get(run[0].place - 1) if run else None
        if sum(row.number is not None for row in run) >= _A_FEW and foreign and heads not in (None, "blank", "encore"):
            reading.drop(run, "of another act")


def _speaks(row: Row) -> bool:
    """Whether it is known already what is asked of a row, or that its song is new."""
    return bool(row.why) or row.said.new > 1


def _remark_lines(reading: Found, titles: Titles) -> None:
    """Give a line that only says something to the song above it."""
    numbered = reading.numbered
    keyed = lines_.keyed(line.text for line in reading.lines)
    for row in [row for row in reading.rows if row.match.verdict != SURE and not row.numbered and not _speaks(row)]:
        above = [other for other in reading.rows if other.place < row.place]
        text = reading.lines[row.place].text
        says = (
            _REMARK_LINE.fullmatch(text)
            or (keyed and row.match.verdict == UNKNOWN and lines_.is_key(text))
            or (
                numbered
                and row.match.verdict == UNKNOWN
                and _LOWER_REMARK.match(text)
                and lines_.reads_like_a_remark(text)
            )
        )
        if not above or not says or names_a_song(text, titles):
            continue
        say_of_the_song_above(reading, row)
        reading.drop([row], "a remark")


def _short_forms(reading: Found, titles: Titles) -> None:
    """Take words of one title for it, or a title that breaks off: several of them, or on a paper of short forms one."""
    firm = {row.match.song for row in reading.rows if row.match.verdict == SURE}
    open_ = [
        row
        for row in reading.rows
        if row.match.verdict != SURE and not row.why and row.match.candidates and row.match.candidates[0] not in firm
        and (row.match.evidence == "some words" or (row.match.evidence == "cut short" and len(row.match.candidates) == 1))
    ]  # fmt: skip
    means = Counter(row.match.candidates[0] for row in open_)
    short = sum(row.match.verdict == SURE and row.match.evidence in WEAK for row in reading.rows) + len(means)
    known = len(firm) >= _KNOWN and 2 * len(firm) > len(reading.rows)
    written_short = short >= _A_FEW and len(firm) + len(means) >= _MOST * len(reading.rows) and len(firm) >= _A_FEW
    written_short |= short >= max(_KNOWN, _HALF * len(reading.rows))
    for row in open_:
        match, song = row.match, row.match.candidates[0]
        enough = match.evidence == "some words" and match.score >= SEVERAL_WORDS and known
        if means[song] == 1 and (written_short or enough):
            meant = replace(row, match=replace(match, song=song, verdict=SURE))
            text = reading.lines[row.place].text
            comma = text.find(", ", row.start, row.end)
            if comma > 0 and titles.same(text[row.start : row.end]) is None:  # "Wire, Bram starts"
                said = said_around(text, row.start, comma)
                pieces = (*(one for one in row.said.pieces if one[0] < row.start), *said.pieces)
                meant = replace(meant, end=comma, said=replace(said, pieces=pieces))
            reading.change(row, meant)


def _set_apart(reading: Found, titles: Titles) -> None:
    """Songs with letters below songs that are numbered are the encore; so are as many as always below the only rule."""
    rows = reading.rows
    counts = [at for at, row in enumerate(rows) if row.number is not None]
    below = rows[counts[-1] + 1 :] if len(counts) >= _A_FEW else []
    for row in below:
        text = reading.lines[row.place].text
        mark = _LETTER.match(text)
        same = titles.same(text[mark.end() :]) if mark and not row.start else None
        if mark is None or (same.song if same else row.match.song) != row.match.song or row.start > mark.end():
            below = []
    rules = [at for at, why in reading.others.items() if why == "only signs" and rows and at > rows[0].place]
    if len(rules) == 1 and not below:
        under = [row for row in rows if row.place > rules[0]]
        below = under if len(under) <= (reading.longest_encore if reading.usual[1] else _A_FEW) else []
    for row in () if any(row.encore for row in rows) else below:
        reading.change(row, replace(row, encore=True))


def _twins(reading: Found, _titles: Titles) -> None:
    """Doubt weak evidence for a song that another line of the same set names better."""
    if len(reading.rows) > _SET:
        return
    named = {row.match.song for row in reading.rows if row.match.verdict == SURE and row.match.evidence not in WEAK}
    for row in reading.rows:
        if row.match.verdict == SURE and row.match.evidence == "first words" and row.match.song in named:
            reading.change(row, replace(row, match=row.match.doubted()))


def _twice(reading: Found, _titles: Titles) -> None:
    """Ask about a song that stands in the set already, unless numbers say that this one is meant to be played again."""
    if len(reading.rows) > _SET:
        return
    seen: dict[str, bool] = {}
    again: list[Row] = []
    taken_up = [
        at for at, row in enumerate(reading.rows)
        if at > 1 and row.match.song == reading.rows[at - 2].match.song and row.place == reading.rows[at - 2].place
        and _ARROWS_OR_MORE.search(reading.rows[at - 2].into) and _ARROWS_OR_MORE.search(reading.rows[at - 1].into)
    ]  # fmt: skip
    for row in [
        row
        for at, row in enumerate(reading.rows)
        if row.match.song and row.match.verdict == SURE and at not in taken_up
    ]:
        song, counted = str(row.match.song), row.number is not None
        if song in seen:
            again.append(row)
            if not (counted and seen[song]):
                reading.change(row, row.asked("stands twice"))
        seen[song] = counted
    for row in again if len(again) > 1 else ():  # one is played again; a set that stands there twice is read twice
        reading.change(row, row.asked("stands twice"))


_FOR_ANOTHER = re.compile(rf"(?:was|{INSTEAD})\s", re.IGNORECASE)
"""What names the song in whose place this one came."""


_IN_BRACKETS = re.compile(r"^\s*[(\[][^()\[\]]*[)\]]\W*$")


def _titles_behind(reading: Found, titles: Titles) -> None:
    """Ask about a song behind which another title stands: it may be a song of its own."""
    there = {row.match.song for row in reading.rows}
    for row in [row for row in reading.rows if row.match.verdict == SURE and row.said.remark]:
        parts = [part for part in row.said.remark.split(", ") if not lines_.is_remark(part)]
        if all(_FOR_ANOTHER.match(part) and not {one.song for one in mentions(part, titles)} & there for part in parts):
            continue
        large = reading.lines[row.place].text[row.start : row.start + 1].isupper()
        named = {
            one.song for part in parts for one in mentions(part, titles)
            if len(fold(one.song)) > _A_FEW and not (large and is_small_remark(part[one.start :], one.song))
        }  # fmt: skip
        # Nothing but the other title, or what becomes of it: both may be meant.
        bare = any(titles.same(part) or _CORRECTS.search(fold(part)) for part in parts)
        alone = {
            one.match.song for one in reading.rows if one.number is not None or not (bare or one.place == row.place)
        }
        beside = _IN_BRACKETS.search(reading.lines[row.place].text[row.end :]) is not None
        if named - {row.match.song} - alone and (bare or not beside):
            reading.change(row, row.asked("another title stands behind it"))


def _arrows(reading: Found, _titles: Titles) -> None:
    """Ask about the first song of a lone "A -> B" or "A / B": both may be meant, or one of them."""
    joined = [row for row in reading.rows if _ARROWS.search(row.into)]
    segues = sum(len(_ANY_SEGUE.findall(line.text)) for line in reading.lines)
    if len(joined) == 1 and segues == 1 and joined[0].match.verdict == SURE:
        reading.change(joined[0], joined[0].asked("an arrow: goes into the next, or changed for it"))
    dashed = [row for at, row in enumerate(reading.rows[1:]) if _behind_a_dash(reading, reading.rows[at], row)]
    if len(dashed) == 1:
        reading.change(dashed[0], dashed[0].asked("behind a dash: a song, or said of the one before"))
    slashed = [row for row in reading.rows if row.into == "/" and not _TOGETHER.search(reading.lines[row.place].text)]
    last = bool(slashed) and slashed[0].encore and slashed[0].place == reading.rows[-1].place  # "Encore: Ferry / Wren"
    if len(slashed) == 1 and not segues and slashed[0].match.verdict == SURE and not last:
        reading.change(slashed[0], slashed[0].asked("a slash: both, or one of the two"))


def _behind_a_dash(reading: Found, row: Row, behind: Row) -> bool:
    """Whether a song stands behind another on its line, and only a dash between."""
    between = reading.lines[row.place].text[row.end : behind.start].strip()
    return row.place == behind.place and between in ("-", "–", "—")


def _brackets(reading: Found, _titles: Titles) -> None:
    """Ask about the few songs that stand in brackets as a whole: they may be out."""
    inside = [
        row for row in reading.rows if row.match.verdict == SURE and _in_brackets(row, reading.lines[row.place].text)
    ]
    if inside and 2 * len(inside) < len(reading.rows):
        for row in inside:
            reading.change(row, row.asked("in brackets"))


def _in_brackets(row: Row, text: str) -> bool:
    title = text[row.start : row.end]
    return title[:1] in ("(", "[") and title[-1:] in (")", "]") and (row.match.song or "")[:1] not in ("(", "[")


def _numbers(reading: Found, _titles: Titles) -> None:
    """Compare the order with the numbers: one twice is asked about, and so is an order that is not theirs."""
    if not reading.numbered or reading.order:
        return
    runs: list[list[Row]] = [[]]
    counts = [row.number for row in reading.rows if row.number is not None]
    down = counts == sorted(set(counts), reverse=True)
    for row in reading.rows:
        if row.number is None:
            continue
        if runs[-1] and row.number == 1 and runs[-1][-1].number != 1 and not down:
            runs.append([])
        runs[-1].append(row)
    for run in runs:
        numbers = [row.number or 0 for row in run]
        twice = {number for number, count in Counter(numbers).items() if count > 1}
        for row in run:
            if row.number in twice:
                reading.change(row, row.asked(f"number {row.number} stands twice"))
        if not twice and len(run) >= _A_FEW:
            there = {0, *numbers, *(row.number for row in reading.struck)}
            reading.missing += sorted(set(range(min(numbers[0], 1), max(numbers) + 1)) - there)
    swapped = any(why.startswith("a correction") for why in reading.others.values()) or any(
        row.number is None and not row.said.remark and row.said.pieces for row in reading.rows
    )
    rising = all(numbers == sorted(numbers) for numbers in ([row.number or 0 for row in run] for run in runs))
    if len(runs) == 1 and not rising and not swapped and len({row.number for row in runs[0]}) == len(reading.rows):
        order = sorted(range(len(reading.rows)), key=lambda at: reading.rows[at].number or 0)
        reading.order = {"lines": "as the lines stand", "numbers": "by their numbers"}
        reading.places = {"lines": list(range(len(reading.rows))), "numbers": order}


_NAMELESS = frozenset(
    ("blank", "only signs", "only numbers", "encore", "struck out", "a city", "a venue", "a day", "quoted")
)
"""Why lines hold no song of which it is known whether they name one."""


def _not_listed(reading: Found, titles: Titles) -> None:
    """Ask about a line that was left out though it names a song, if nothing else says what becomes of that song."""
    struck = {row.match.song for row in reading.struck}
    settled = struck | {song for row in reading.rows for song in (row.match.song, *row.match.candidates)}
    for place, why in list(reading.others.items()):
        line = reading.lines[place]
        if why in _NAMELESS or line.why or why.startswith(("a correction", "said of")):
            continue
        if why == "above the set" and not _of_the_set(line.text, reading, titles):
            continue
        hangs = HANGS.search(fold(line.text)) is not None
        named = [
            one.song
            for one in mentions(line.text, titles)
            if len(fold(one.song)) > _A_FEW and one.song not in (struck if hangs else settled)
        ]
        if named:
            match = Match(None, DOUBTFUL, 100.0, tuple(dict.fromkeys(named))[:3])
            row = Row(
                line.number,
                line.text,
                match,
                place=place,
                start=0,
                end=len(line.text),
                why="names a song, and was left out",
            )
            del reading.others[place]
            at = sum(one.place < place for one in reading.rows)
            reading.rows.insert(at, row)


_BOX = re.compile(r"\W*?(?:\[(?P<in>[ xX✓✔]?)\]|(?P<sign>[☐☑✓✔✅]))")


def _boxes(reading: Found, _titles: Titles) -> None:
    """Ask what boxes mean of which some are ticked and some are not."""
    boxes = [_BOX.match(reading.lines[row.place].text) for row in reading.rows]
    ticked = [at for at, box in enumerate(boxes) if box and (box["in"] or box["sign"] or " ") not in " ☐"]
    if reading.order or not all(boxes) or len(ticked) in (0, len(boxes)):
        return
    everything = list(range(len(boxes)))
    reading.order = {"all": f"all {counted(len(boxes), 'song')}", "ticked": f"only the {len(ticked)} that are ticked"}
    reading.places = {"all": everything, "ticked": ticked}
    reading.asks = "Which songs are played"


def _size(reading: Found, _titles: Titles) -> None:
    """Ask whether a set is whole that is much shorter or longer than those before it."""
    low, high = reading.usual
    if reading.order or not high or low * _SHORTEST <= len(reading.rows) <= high * _LONGEST:
        return
    sure = all(row.match.verdict == SURE for row in reading.rows) and not reading.missing
    if sure and _KNOWN <= len(reading.rows) < low:
        return  # a short set of which every line is known
    usual = f"{low}" if low == high else f"{low} to {high}"
    reading.order = {TAKE: f"{counted(len(reading.rows), 'song')}, where the last sets had {usual}"}
    reading.places = {TAKE: list(range(len(reading.rows)))}
    reading.asks = "The length of the set"
