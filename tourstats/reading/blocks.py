"""Texts: shows as blocks under their day, a set a line, messages, or one set alone."""

# ruff: noqa: RUF001  # the signs that people type are meant
from __future__ import annotations

import itertools
import re
import statistics
from collections import Counter, defaultdict
from dataclasses import dataclass, field
from datetime import timedelta

from tourstats.reading import chats
from tourstats.reading.asking import Asking
from tourstats.reading.cells import LABEL, is_label, is_struck, kind_of, plain_signs, shown, tight, unstruck
from tourstats.reading.days import Calendar, Day, day_in
from tourstats.reading.known import Known
from tourstats.reading.layout import Draft, Item, Night, Spot
from tourstats.reading.trimming import trim

BLOCKS, CHAT, MAILS = "blocks under a day", "messages", "mails"
SET_A_LINE, ONE_SET = "a set a line", "one set"
_BULLET = re.compile(r"^\s*(?:[-*•–·+‣]|[\u2190-\u2bff\U0001f300-\U0001faff]|\[[ xX]?\])\s+")
"""A hyphen, a dot, a box, or any picture with a space behind it."""
_BOX = re.compile(r"^\s*(?:[-*•]\s+)?\[([ xX✓✔]?)\]\s+")
_CANCELLED = re.compile(
    r"\b(?:cancell?ed|abgesagt|annul[ée]+e?s?|cancelad[oa]|annullat[oa]|odwołan[ye]|rained off|called off)\b",
    re.IGNORECASE,
)
_NUMBER = re.compile(r"^\s*#?\(?(\d{1,2})(?:[.):]\s*[-–]?\s*|\s*[-–]\s+|\s+)(?=\S)")
_ENCORE_FRONT = re.compile(
    r"^(?:(?:e|enc|encore|zugabe|rappel|bis)\s*\d?\s*[:\-–)]\s+|(?:e|enc|encore)\s?\d[.)]?\s+)(.+)$", re.IGNORECASE
)
_MARKUP = re.compile(r"^(?:#{1,6}\s+|>\s*)+|(?<!\w)(?:\*\*|__)(?=\S)|(?<=\S)(?:\*\*|__)(?!\w)")
_RULE = re.compile(r"[\W_]+")
SEPARATORS = (" > ", " → ", " / ", " | ", "; ", " – ", " - ", " · ", ", ", "/", ";", ">")
_MAIL = re.compile(
    r"^\s*(?:from|to|cc|bcc|sent|subject|date|von|an|betreff|gesendet|reply-to)\s*:\s*(.*)$", re.IGNORECASE
)
_LAST_NIGHT = re.compile(
    r"\b(?:last night|yesterday|gestern|hier(?: soir)?|anoche|ayer|ieri(?: sera)?|wczoraj)\b", re.IGNORECASE
)
_WROTE = re.compile(r"^\s*(?:on|am|le)\b.{6,120}\b(?:wrote|schrieb|a écrit)\b.*:\s*$", re.IGNORECASE)


@dataclass
class _Block:
    """A show as a stretch of lines: its day, the lines above it that name places, and those below."""

    day: Day | None
    line: int
    places: list[tuple[int, str]] = field(default_factory=list)
    body: list[tuple[int, str]] = field(default_factory=list)
    earlier: int = 0
    """How many days before its day the show was: 1 for a mail that says "last night"."""


def prose(lines: list[str], calendar: Calendar, asking: Asking, known: Known, name: str = "") -> Draft | None:
    """Read a text; None if nothing in it can be shows."""
    draft = Draft(BLOCKS, asking, text=True)
    bare = [re.sub(r"^(\s*>)+ ?", "", plain_signs(line)).rstrip() for line in lines]
    bare = _without_empty_boxes(bare, asking)
    sent = chats.messages(bare)
    blocks = _of_chat(draft, bare, sent, calendar, name) if sent else _of_text(draft, bare, calendar, name)
    if not blocks:
        return None
    if draft.how == BLOCKS and len(blocks) > 1 and sum(not block.body for block in blocks) >= 0.8 * len(blocks):
        return _sets_in_lines(draft, blocks, calendar, known, name)
    for block in blocks:
        draft.nights.append(_without_cancelled(draft, _night(draft, block, calendar, name)))
    trim(draft, known)
    draft.nights = [night for night in draft.nights if night.items or draft.how != CHAT]
    return draft


def _without_empty_boxes(lines: list[str], asking: Asking) -> list[str]:
    """Where some boxes are ticked and some are not, ask whether only what is ticked was played."""
    boxes = [match for line in lines if (match := _BOX.match(line))]
    if len({match[1].strip() == "" for match in boxes}) < 2:
        return lines
    only, everything = "only what is ticked", "all of them"
    problem = f"{sum(not match[1].strip() for match in boxes)} of {len(boxes)} boxes are not ticked: what was played?"
    if asking.choose("boxes", problem, (only, everything), only, value=boxes[0].string.strip()) == everything:
        return lines
    return [
        f"~~{line[match.end() :]}~~" if (match := _BOX.match(line)) and not match[1].strip() else line for line in lines
    ]


def _without_cancelled(draft: Draft, night: Night) -> Night:
    """Ask whether a show whose heading says that it was cancelled was played all the same."""
    said = next((text for text in night.places if _CANCELLED.search(text)), None)
    if said is None or not night.items:
        return night
    out, played = "it was not played", "it was played"
    key = f"cancelled: {night.day or night.at.row}"
    answer = draft.asking.choose(
        key, f'"{said}" stands above a set.', (out, played), out, where=draft.where(night.at), value=said
    )
    if answer == out:
        draft.take((item.at for item in night.items), "left out", "a show that was cancelled")
        night.items = []
    return night


# ------------------------------------------------------------------------------------------------ where shows begin


def _of_text(draft: Draft, lines: list[str], calendar: Calendar, name: str) -> list[_Block]:
    mail = _mail_lines(draft, lines, name)
    mails = _of_mails(draft, lines, mail, calendar, name)
    if mails:
        return mails
    headings = []
    for number, line in enumerate(lines, start=1):
        day = day_in(_plain(line)) if number not in mail else None
        if day is None or not calendar.of(day) or not _may_head(line, day, calendar):
            continue
        headings.append((number, day))
    if not headings:
        if any("\t" in line for line in lines):
            return []
        draft.how = ONE_SET
        return [_Block(None, 1, [], [(n, line) for n, line in enumerate(lines, 1) if line.strip() and n not in mail])]
    return _between(draft, lines, headings, mail, name)


def _may_head(line: str, day: Day, calendar: Calendar) -> bool:
    """Whether a line with a day can be the heading of a show, and is no title such as "7. March of the Hats"."""
    if calendar.full and not day.full:
        return False
    if not day.full and day.rest:
        numbered = (
            re.match(r"^\s*\d{1,2}[.)]\s", line) is not None
            and day.text[:1].isdigit()
            and re.match(r"^\s*\d{1,2}[.)]\s+[^\W\d]", line) is not None
        )
        return not numbered and len(day.rest.split()) <= 6
    return not (_BULLET.match(line) and day.rest and len(day.rest) > 40)


def _between(
    draft: Draft, lines: list[str], headings: list[tuple[int, Day]], mail: set[int], name: str
) -> list[_Block]:
    """Cut a text at its days; up to two lines right above a day, behind a blank line, belong to it."""
    begins, before = [], -1
    for number, _ in headings:
        begins.append(_begin(lines, number, before))
        before = number
    draft.take(
        (Spot(name, n, 1) for n in range(1, begins[0]) if lines[n - 1].strip() and n not in mail),
        "heading",
        "above the first day",
    )
    blocks = []
    for (number, day), begin, end in zip(headings, begins, [*begins[1:], len(lines) + 1], strict=True):
        block = _Block(day, number)
        block.places = [(n, _plain(lines[n - 1])) for n in range(begin, number) if lines[n - 1].strip()]
        block.body = [(n, lines[n - 1]) for n in range(number + 1, end) if lines[n - 1].strip() and n not in mail]
        blocks.append(block)
    return blocks


def _begin(lines: list[str], number: int, before: int) -> int:
    """First line of a heading: those right above its day if a blank line or a rule stands above them."""
    begin = number
    while (
        begin > 1
        and number - begin < 2
        and begin - 1 > before + 1
        and not _is_blank(lines[begin - 2])
        and not _BULLET.match(lines[begin - 2])
        and not _NUMBER.match(lines[begin - 2])
    ):
        begin -= 1
    if begin < number and not (begin == 1 or _is_blank(lines[begin - 2])):
        return number
    return begin


def _is_blank(line: str) -> bool:
    return not line.strip() or (_RULE.fullmatch(line.strip()) is not None)


def _plain(line: str) -> str:
    """A line without marks of emphasis, headings and bullets."""
    return re.sub(r"[*_#=~]{2,}|^[#>\s*]+|[*_]+$", " ", _BULLET.sub("", line)).strip(" \t")


def _of_mails(draft: Draft, lines: list[str], mail: set[int], calendar: Calendar, name: str) -> list[_Block]:
    """Mails whose only day is that of their header: a set each, in the town that the subject names."""
    starts: list[tuple[int, Day]] = []
    for number in sorted(mail):
        day = day_in(lines[number - 1])
        sent = re.match(r"\s*(?:date|datum|sent|gesendet)\s*:", lines[number - 1], re.IGNORECASE)
        if (sent or _WROTE.match(lines[number - 1])) and day and calendar.of(day):
            starts.append((number, day))
    if not starts or any(
        (day := day_in(line)) and calendar.of(day) and n not in mail for n, line in enumerate(lines, 1)
    ):
        return []
    draft.how = MAILS
    draft.take(
        (Spot(name, n, 1) for n in range(1, starts[0][0]) if lines[n - 1].strip()), "left out", "above the first mail"
    )
    blocks = []
    for (number, day), end in zip(starts, [*(n for n, _ in starts[1:]), len(lines) + 1], strict=True):
        block = _Block(day, number)
        for n in range(number + 1, end):
            line = lines[n - 1].strip()
            subject = re.match(r"(?:subject|betreff)\s*:\s*(?:(?:re|fw|aw)\s*:\s*)*(.*)", line, re.IGNORECASE)
            if subject:
                block.places.append((n, subject[1]))
            elif line and n not in mail:
                block.body.append((n, lines[n - 1]))
        _cut_signature(draft, block, name)
        _say_last_night(draft, block, lines)
        hour = re.search(r"\b(\d{1,2}):\d{2}", lines[number - 1])
        if hour and int(hour[1]) < 6:
            draft.asking.confirm(
                "after midnight",
                "Sets were sent after midnight; each is taken for a show of the day that the mail bears.",
            )
        blocks.append(block)
    return [block for block in blocks if block.body]


def _cut_signature(draft: Draft, block: _Block, name: str) -> None:
    """Leave out a greeting that ends in a colon or a comma, and what stands below two hyphens."""
    for at, (number, text) in enumerate(block.body[:2]):
        if text.rstrip().endswith((":", ",")):
            draft.take((Spot(name, n, 1) for n, _ in block.body[: at + 1]), "heading", "above the set")
            if re.search(r"\b(?:in|at)\s+\S", text):
                block.places.append((number, text.rstrip(" :,")))
            block.body = block.body[at + 1 :]
            break
    end = next((at for at, (_, text) in enumerate(block.body) if text.strip() in ("--", "-- ")), None)
    if end is not None:
        draft.take((Spot(name, n, 1) for n, _ in block.body[end:]), "sender", "below the set")
        block.body = block.body[:end]


def _say_last_night(draft: Draft, block: _Block, lines: list[str]) -> None:
    """A mail that says "last night" above its set speaks of the day before; asked once for all of them."""
    first = block.body[0][0] if block.body else block.line
    if any(_LAST_NIGHT.search(line) for line in lines[block.line : first - 1]):
        block.earlier = 1
        draft.asking.confirm(
            "last night", 'A mail that says "last night" is taken for a show of the day before it was sent.'
        )


def _mail_lines(draft: Draft, lines: list[str], name: str) -> set[int]:
    """Lines of mail headers: two or more together, or "On … wrote:"."""
    found: set[int] = set()
    for number, line in enumerate(lines, start=1):
        near = sum(bool(_MAIL.match(other)) for other in lines[max(0, number - 3) : number + 2])
        match = _MAIL.match(line)
        if _WROTE.match(line) or (match and near >= 2 and not re.match(r"\s*(?:subject|betreff)", line, re.IGNORECASE)):
            found.add(number)
    for number in found:
        draft.take([Spot(name, number, 1)], "sender")
    return found


# ------------------------------------------------------------------------------------------------ messages


def _of_chat(draft: Draft, lines: list[str], sent: list[chats.Message], calendar: Calendar, name: str) -> list[_Block]:
    """Shows of a chat: a message of several lines is a set; else the lines of one evening and sender are."""
    draft.how = CHAT
    first = sent[0].stamp
    draft.take(
        (Spot(name, n, 1) for n in range(1, first) if lines[n - 1].strip()), "heading", "before the first message"
    )
    for message in sent:
        draft.take([Spot(name, message.stamp, 1)], "time stamp" if message.who else "left out")
        message.lines = [
            (number, chats.without_edited(text))
            for number, text in message.lines
            if not _is_program(draft, number, text, name)
        ]
    blocks = []
    if any(len(message.lines) >= 4 for message in sent):
        for message in sent:
            if len(message.lines) >= 3:
                blocks.append(_of_message(message, message.lines, calendar, draft))
            else:
                draft.take(
                    (Spot(name, number, 1) for number, _ in message.lines), "left out", "a message that is no set"
                )
        return blocks
    evenings: dict[tuple[Day, str], list[chats.Message]] = defaultdict(list)
    for message in sent:
        if message.lines:
            evenings[message.day, message.who].append(message)
    evenings = _of_main_sender(draft, evenings, name)
    return [
        _of_message(some[0], [line for one in some for line in one.lines], calendar, draft)
        for some in evenings.values()
    ]


def _of_main_sender(
    draft: Draft, evenings: dict[tuple[Day, str], list[chats.Message]], name: str
) -> dict[tuple[Day, str], list[chats.Message]]:
    """Evenings of whoever sends the sets; what others write is left out unless it repeats the sets' lines."""
    lines = Counter({who: 0 for _, who in evenings})
    for (_, who), some in evenings.items():
        lines[who] += sum(len(one.lines) for one in some)
    main = lines.most_common(1)[0][0]
    forms = {tight(text) for (_, who), some in evenings.items() if who == main for one in some for _, text in one.lines}
    kept = {}
    for (day, who), some in evenings.items():
        theirs = [(number, text) for one in some for number, text in one.lines]
        if who == main or lines[who] > 0.5 * lines[main] or any(tight(text) in forms for _, text in theirs):
            kept[day, who] = some
        else:
            draft.take((Spot(name, number, 2) for number, _ in theirs), "left out", f"said by {who}")
    people = {who for _, who in kept}
    if len(people) > 1:
        draft.asking.confirm(
            "senders", f"Several people wrote ({', '.join(sorted(people)[:3])}): all their lines are taken for songs."
        )
    return kept


def _is_program(draft: Draft, number: int, text: str, name: str) -> bool:
    if chats.is_chatter(text):
        draft.take([Spot(name, number, 1)], "left out", "what the program adds")
        return True
    return False


def _of_message(message: chats.Message, lines: list[tuple[int, str]], calendar: Calendar, draft: Draft) -> _Block:
    """A set in a message: its day is the one in its first line if there is one, else the message's."""
    block = _Block(message.day, message.stamp)
    for at, (number, text) in enumerate(lines[:2]):
        day = day_in(_plain(text))
        if day is not None and not _NUMBER.match(text) and (calendar.of(day) or not day.full):
            block.day = day if calendar.of(day) else message.day
            block.places = [(n, _plain(t)) for n, t in lines[:at]] + ([(number, day.rest)] if day.rest else [])
            draft.take([Spot("", number, 1)] if not block.places else [], "day")
            block.line = number
            block.body = lines[at + 1 :]
            return block
    if message.hour < 6:
        draft.asking.confirm(
            "after midnight",
            "Sets were sent after midnight; each is taken for a show of the day that the message bears.",
        )
    block.body = lines
    return block


# ------------------------------------------------------------------------------------------------ lines


def _sets_in_lines(draft: Draft, blocks: list[_Block], calendar: Calendar, known: Known, name: str) -> Draft | None:
    """Read a set a line: the sign that cuts the lines into most titles that come again."""
    draft.how = SET_A_LINE
    rests = [block.day.rest if block.day else "" for block in blocks]
    best: tuple[float, int, str, list[list[str]]] | None = None
    for rank, separator in enumerate(SEPARATORS):
        parts = [[part.strip() for part in rest.split(separator) if part.strip()] for rest in rests]
        if not all(parts) or statistics.median(map(len, parts)) < 3:
            continue
        often = Counter(form for one in parts for form in {tight(part) for part in one[1:]})
        again = sum(often[tight(part)] > 1 or tight(part) in known.songs for one in parts for part in one[1:]) / sum(
            map(len, parts)
        )
        if best is None or again > best[0] + 0.01:
            best = (again, rank, separator, parts)
    if best is None:
        return None
    segue = ">" in best[2] or "→" in best[2]
    for block, pieces in zip(blocks, best[3], strict=True):
        night = Night(calendar.of(block.day), at=Spot(name, block.line, 1))
        head, colon, first = pieces[0].partition(": ")
        titles = [first, *pieces[1:]] if colon else pieces
        night.places = [head] if colon else []
        night.items = [
            Item(text, kind_of(text), Spot(name, block.line, 1), at, part=at, segue=segue and at < len(titles) - 1)
            for at, text in enumerate(titles)
        ]
        draft.nights.append(night)
    if not all(night.places for night in draft.nights):
        _first_of_line(draft)
    draft.take(
        (Spot(name, n, 1) for block in blocks for n, _ in [*block.places, *block.body]), "heading", "between the sets"
    )
    trim(draft, known)
    return draft


def _first_of_line(draft: Draft) -> None:
    draft.asking.confirm(
        "first of a line", f'Is "{draft.nights[0].items[0].text}", the first of its line, read as it should be?'
    )


def _night(draft: Draft, block: _Block, calendar: Calendar, name: str) -> Night:
    day = calendar.of(block.day)
    night = Night(day - timedelta(days=block.earlier) if day else None, at=Spot(name, block.line, 1))
    night.places = [text for _, text in block.places if text]
    if block.day is not None and draft.how == BLOCKS and block.day.rest:
        night.places.append(block.day.rest)
    draft.take((Spot(name, number, 1) for number, _ in block.places), "city")
    if draft.how == BLOCKS or (block.places and draft.how == CHAT):
        draft.take([night.at], "day")
    _add_items(draft, night, block.body, name)
    return night


def _add_items(draft: Draft, night: Night, body: list[tuple[int, str]], name: str) -> None:
    """Make items of the lines of a set; numbers count if they run on, bullets if most lines have them."""
    bulleted = sum(bool(_BULLET.match(text)) for _, text in body) >= 0.5 * len(body)
    counted = _counting([_BULLET.sub("", text) for _, text in body])
    for top, (number, line) in enumerate(body):
        spot = Spot(name, number, 1)
        if draft.account.get(spot, ("",))[0] == "time stamp":
            spot = Spot(name, number, 2)
        item = _item(line, spot, top, counted=counted, bulleted=bulleted)
        if item is None:
            draft.take([spot], "sign")
        else:
            night.items.append(item)


def _counting(lines: list[str]) -> bool:
    """Whether numbers before the lines run on, so that they are no part of the titles."""
    run = [int(match[1]) for line in lines if (match := _NUMBER.match(line))]
    steps = sum(b == a + 1 for a, b in itertools.pairwise(run))
    restarts = sum(b == 1 for b in run[1:])
    if len(run) == 1:
        return run[0] == 1 and len(lines) <= 2 and re.match(r"\s*1[.)]", lines[0]) is not None
    return len(run) >= 2 and steps + restarts >= 0.8 * (len(run) - 1) - (len(run) > 3) and run[0] <= 1 + (len(run) > 3)


def _item(line: str, spot: Spot, top: int, *, counted: bool, bulleted: bool) -> Item | None:
    """One line as an item; None for a rule."""
    bullet = _BULLET.match(line) is not None
    text = _BULLET.sub("", line.strip())
    match = _NUMBER.match(text) if counted else None
    numbered = match is not None
    if match:
        text = text[match.end() :]
    struck = is_struck(text)
    text = shown(unstruck(_MARKUP.sub("", text)) if struck or "~~" in text else _MARKUP.sub("", text))
    said = _ENCORE_FRONT.match(text)
    text = said[1] if said else text
    if not text or (_RULE.fullmatch(text) and not (numbered or any(sign in "?!" for sign in text))):
        return None
    kind = LABEL if is_label(text) and not numbered else kind_of(text)
    return Item(
        text,
        kind,
        spot,
        top,
        struck=struck,
        encore=said is not None,
        numbered=numbered or said is not None or (bulleted and bullet),
    )
