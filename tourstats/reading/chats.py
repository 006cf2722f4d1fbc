"""Messages as telephones export them: a block or a line a message, with a time stamp and a sender before it."""

# ruff: noqa: RUF001, E501  # a question is read in one piece
from __future__ import annotations

import re
from collections import Counter
from dataclasses import dataclass, field
from itertools import pairwise

from tourstats.reading.days import Day, day_in

_STAMP = re.compile(
    r"^[\u200e\u200f\s]*\[?\s*(?P<day>[^\],:]{5,18}?),?\s+(?P<time>\d{1,2}[:.]\d{2}(?:[:.]\d{2})?(?:\s?[AaPp]\.?[Mm]\.?)?)\]?\s*(?:[-–—]\s*)?(?P<who>[^:\[\]]{1,40}):(?:\s+(?P<text>.*))?$"
)
_NAMED_IN_ANGLES = re.compile(
    r"^\[?(?P<day>[^\],:]{5,18}?),?[\sT]+(?P<time>\d{1,2}:\d{2}(?::\d{2})?)\]?\s*(?:<[@+%&~\s]?(?P<who>[^<>]{1,30})>\s?(?P<text>.*)|\*+\s(?P<said>.*))$"
)
"""A line a message with the name in angles, and what the program says itself behind a star."""
_STAMP_BEHIND = re.compile(
    r"^(?P<who>[^\[\],:]{1,40}),\s*\[(?P<day>[^\]]{5,18}?),?\s+(?P<time>\d{1,2}:\d{2}(?::\d{2})?(?:\s?[AaPp][Mm])?)\]:?\s*(?P<text>.*)$"
)
_STAMP_LINE = re.compile(
    r"^(?P<who>[^\[\],:—–]{1,40}?)(?:\s+[—–-]\s+|\s{2,})(?P<day>[^\],:]{5,18}?),?\s+(?P<time>\d{1,2}:\d{2}(?:\s?[AaPp][Mm])?)(?P<text>)$"
)
_STAMP_ABOVE = re.compile(
    r"^\[(?P<day>[^\],:]{5,18}?),?\s+(?P<time>\d{1,2}:\d{2}(?::\d{2})?(?:\s?[AaPp][Mm])?)\]\s*(?P<who>[^\[\],:—–]{1,40})(?P<text>)$"
)
"""Lines of their own above what was sent."""
_CLOCK_LINE = re.compile(r"^(?P<who>[^\[\],:—–\d]{1,40}?)(?:\s+[—–-])?\s+(?P<time>\d{1,2}:\d{2}(?:\s?[AaPp][Mm])?)$")
"""The same with a clock alone, below a line with the day."""
_ALERT = re.compile(
    r"^[\u200e\u200f\s]*\[?\s*(?P<day>[^\],:]{5,18}?),?\s+(?P<time>\d{1,2}[:.]\d{2}(?:[:.]\d{2})?(?:\s?[AaPp]\.?[Mm]\.?)?)\]?\s*(?:[-–—]\s*)(?P<text>[^:]+)$"
)
_CHATTER = re.compile(
    r"[\u200e\u200f\s]*(?:<[^<>]+>|.*(?:image|video|audio|sticker|photo|gif) omitted.*|\(?(?:edited|bearbeitet)\)?|(?:reactions?|reacted)\b.*|"
    r".{0,40}\breacted\b.*|messages? (?:and calls )?.*end-to-end.*|this message was deleted\.?|you deleted this message\.?|(?!\s*[-–—=_*]{2,}\s*$)[\W_]*)",
    re.IGNORECASE,
)
_FEW = 0.3
"""Share of lines with a clock up to which these are above what was sent, and no songs with their length."""
_EDITED = re.compile(r"\s*[\u200e\u200f]*(?:<[^<>]+>|\((?:edited|bearbeitet)\))\s*$", re.IGNORECASE)
"""What the program adds behind a line, in angles in any language."""
_REACTION = re.compile(
    r"^\s*(?:[\U0001F300-\U0001FAFF\u2600-\u27BF\ufe0f]+\s*\d*\s*|:[\w+-]+:\s*\d+\s*)+(?:[-–—]?\s*[A-Z][\w.]*(?:,\s*)?)*$"
)


@dataclass
class Message:
    """A message: its day, its minute of that day, who sent it, and its lines by number (from 1)."""

    day: Day
    minute: int
    who: str
    lines: list[tuple[int, str]] = field(default_factory=list)
    stamp: int = 0

    @property
    def hour(self) -> int:
        """Its hour."""
        return self.minute // 60


def messages(lines: list[str]) -> list[Message]:
    """Messages of a text; empty if it is no chat.

    Examples
    --------
    >>> found = messages(["[04.03.31, 22:14:05] Odile: Set", "Ferry", "12/03/2031, 22:20 - Bram: Tin Moth"])
    >>> [(one.who, [text for _, text in one.lines]) for one in found]
    [('Odile', ['Set', 'Ferry']), ('Bram', ['Tin Moth'])]

    """
    chat: list[Message] = []
    senders = Counter(match["who"] for line in lines if (match := _own_line(line)) and day_in(match["day"]))
    again = 2 * len(senders) <= senders.total()  # people write again; a town above its set stands there once
    above = [line for line, below in pairwise([*lines, ""]) if below.strip() or not _CLOCK_LINE.match(line)]
    clocks = Counter(match["who"] for line in above if (match := _CLOCK_LINE.match(line)))
    clocked = 0 < 2 * len(clocks) <= clocks.total() <= _FEW * sum(bool(line.strip()) for line in lines)
    under: Day | None = None
    for number, line in enumerate(lines, start=1):
        divider = day_in(line)
        if divider is not None and divider.full and not re.search(r"\w", divider.rest):
            under = divider
            if clocked:
                continue
        if under is not None and clocked and (match := _CLOCK_LINE.match(line)):
            chat.append(Message(under, _minute(match["time"]), match["who"].strip(), stamp=number))
            continue
        match = (
            _NAMED_IN_ANGLES.match(line)
            or _STAMP.match(line)
            or _STAMP_BEHIND.match(line)
            or (_own_line(line) if again else None)
            or _ALERT.match(line)
        )
        day = day_in(match["day"]) if match else None
        if match is not None and day is not None and not day.rest:
            who = match.groupdict().get("who") or ""
            chat.append(Message(day, _minute(match["time"]), who.strip(), stamp=number))
            if (match["text"] or "").strip() and who:
                chat[-1].lines.append((number, match["text"]))
        elif chat and line.strip():
            chat[-1].lines.append((number, line))
    stamped = Counter(bool(message.who) for message in chat)[True]
    written = sum(bool(line.strip()) for line in lines)
    return chat if stamped >= 2 and stamped >= 0.02 * written else []


def _own_line(line: str) -> re.Match[str] | None:
    return _STAMP_LINE.match(line) or _STAMP_ABOVE.match(line)


def is_exported(data: object) -> bool:
    """Whether what a JSON file holds are the messages of a chat."""
    sent = data.get("messages") if isinstance(data, dict) else None
    return isinstance(sent, list) and any(
        isinstance(one, dict) and {"date", "from", "text"} <= one.keys() for one in sent
    )


def from_json(data: dict[str, list[dict[str, object]]]) -> str:
    r"""Messages of a JSON file as other programs export them.

    Examples
    --------
    >>> from_json({"messages": [{"date": "2031-03-04T23:10:00", "from": "Odile", "text": ["Ostby:\n", {"text": "Ferry"}]}]})
    '2031-03-04, 23:10 - Odile: Ostby:\nFerry'

    """
    lines = []
    for one in data["messages"]:
        said = one.get("text")
        pieces = said if isinstance(said, list) else [said]
        text = "".join(str(piece.get("text", "")) if isinstance(piece, dict) else str(piece or "") for piece in pieces)
        day, _, time = str(one.get("date", "")).partition("T")
        if text.strip() and one.get("from"):
            lines.append(f"{day}, {time[:5]} - {one['from']}: {text.strip()}")
    return "\n".join(lines)


def _minute(text: str) -> int:
    hour, minute = (int(one) for one in re.findall(r"\d+", text)[:2])
    half = re.search(r"([ap])\.?m", text, re.IGNORECASE)
    return (hour if half is None else hour % 12 + 12 * (half[1].lower() == "p")) * 60 + minute


def is_chatter(text: str) -> bool:
    """Whether a line of a message is what the program adds: edited, reactions, pictures left out."""
    return _CHATTER.fullmatch(text) is not None or _REACTION.match(text) is not None


def without_edited(text: str) -> str:
    """A line without the program's note that it was changed."""
    return _EDITED.sub("", text)
