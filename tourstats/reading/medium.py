"""What a set was sent in, taken off before its lines are read: a chat, a mail, a page, a list of signs."""

# ruff: noqa: RUF001, E501  # the signs that people type are meant, and a pattern is read in one piece
from __future__ import annotations

import re
import unicodedata
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from html.parser import HTMLParser

from tourstats.reading import lines as lines_
from tourstats.reading.account import Piece
from tourstats.reading.documents import struck_by_style
from tourstats.reading.titles import fold

_LONGEST_WORDS_OF_A_CHAT = 60
_MANY = 0.6
_FEWEST = 3


@dataclass(frozen=True)
class Line:
    """One line as it was sent, and what is left of it when the medium is taken off.

    Attributes
    ----------
    number
        Line of the text, from 1.
    text
        What is left.
    at
        Character at which it begins, from 0.
    pieces
        What was taken off, and for what.
    sender
        Who sent it, in a chat.
    why
        Reason why nothing is left, if so.
    indent
        Spaces before it, as it was sent.
    title
        Characters of `text` between which its title stands, where the lines around it show that.

    """

    number: int
    text: str
    at: int = 0
    pieces: tuple[Piece, ...] = field(default=())
    sender: str = ""
    why: str = ""
    indent: int = 0
    title: tuple[int, int] | None = None

    def without(self, count: int, taken_as: str, why: str = "") -> Line:
        """Take the first `count` characters off, as one piece."""
        typed = self.text[:count]
        rest = self.text[count:]
        bare = rest.lstrip()
        piece = (Piece(self.number, self.at + 1, typed.strip(), taken_as, why=why),) if typed.strip() else ()
        return replace(self, text=bare, at=self.at + count + len(rest) - len(bare), pieces=(*self.pieces, *piece))

    def all_as(self, taken_as: str, why: str) -> Line:
        """Take the whole line off."""
        return replace(self.without(len(self.text), taken_as, why), why=why)


def lines_of(text: str, is_title: Callable[[str], bool]) -> list[Line]:
    r"""Lines of a text with the marks of its medium taken off; `is_title` says whether words are a title as they are.

    Examples
    --------
    >>> chat = "[10/10/31, 16:02] Odile: 1. Ferry\n2. Wren\n[10/10/31, 16:05] Bram: \U0001f44d"
    >>> [(line.text, line.sender) for line in lines_of(chat, lambda text: False)]
    [('1. Ferry', 'Odile'), ('2. Wren', 'Odile'), ('', 'Bram')]
    >>> [line.text for line in lines_of("> Ferry\n> Wren\n> Salt Road", lambda text: False)]
    ['Ferry', 'Wren', 'Salt Road']

    """
    shown = text_of_page(text) if _PAGE.search(text) else _STRUCK_TAG.sub("~~", _STYLE_TAG.sub("", text))
    lines = [
        Line(
            number,
            _ANGLE.sub(r"[\1]", lines_.cleaned(line)),
            indent=len(line.expandtabs()) - len(line.expandtabs().lstrip(" ")),
        )
        for number, line in enumerate(shown.splitlines(), start=1)
    ]
    return _chat(_signed(_quoted(lines, is_title), is_title), is_title)


# ---------------------------------------------------------------------------- a page

_PAGE = re.compile(r"</(?:li|p|div|td|tr|ol|ul|table|body|html)\s*>|<br\s*/?>", re.IGNORECASE)
_STRUCK_TAG = re.compile(r"</?(?:s|del|strike)\s*>", re.IGNORECASE)
_ANGLE = re.compile(r"(?<=\w\s)<(?!this message|edited|media|image|video|audio)([^<>@]{1,60})>", re.IGNORECASE)
_STYLE_TAG = re.compile(r"</?(?:b|i|u|em|strong|span|mark|small)\b[^<>]*>", re.IGNORECASE)


class _Page(HTMLParser):
    """Words of a page: blocks are lines, cells are columns, struck out stays struck out."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.words: list[str] = []
        self.hidden = 0

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:  # noqa: ARG002  # HTMLParser's
        self.hidden += tag in ("script", "style", "head", "title")
        self.words.append(self._sign(tag))

    def handle_endtag(self, tag: str) -> None:
        self.hidden -= tag in ("script", "style", "head", "title")
        self.words.append(self._sign(tag) if tag != "br" else "")

    def handle_data(self, data: str) -> None:
        if not self.hidden:
            self.words.append(" ".join(data.split()) if not data.strip() else re.sub(r"\s+", " ", data))

    @staticmethod
    def _sign(tag: str) -> str:
        if tag in ("s", "del", "strike"):
            return "~~"
        if tag in ("td", "th"):
            return "\t"
        return (
            "\n"
            if tag in ("br", "li", "p", "div", "tr", "ol", "ul", "table", "h1", "h2", "h3", "h4", "body", "pre")
            else ""
        )


def text_of_page(page: str) -> str:
    r"""Words of an HTML page as lines.

    Examples
    --------
    >>> text_of_page("<ol><li>Ferry</li><li><s>Wren</s></li></ol>")
    'Ferry\n~~Wren~~'

    """
    reader = _Page()
    reader.feed(struck_by_style(page))
    reader.close()
    lines = (re.sub(r"\t{2,}", "\t", line).strip() for line in "".join(reader.words).splitlines())
    return "\n".join(line for line in lines if line)


# ---------------------------------------------------------------------------- quoted mail


def _quoted(lines: list[Line], is_title: Callable[[str], bool]) -> list[Line]:
    """Take the marks of quoting off, where most lines have them; below a long text or a set of one's own it is left out."""
    full = [line for line in lines if line.text]
    marked = [line for line in full if re.match(r"(?:>\s?)+(?:\S|$)", line.text)]
    last = bool(marked) and full[-len(marked) :] == marked
    own = sum(is_title(_COUNT.sub("", line.text)) for line in full[: -len(marked)]) if last else 0
    only = last and not own and _FEWEST * len(marked) >= len(full)  # what one's own words are said of
    if len(marked) < max(_FEWEST, _MANY * len(full)) and not (only and len(marked) >= _FEWEST):
        below = last and (_FEWEST * len(marked) < len(full) or own > len(marked) / 2)
        return [line.all_as("left out", "quoted") if below and line in marked else line for line in lines]
    quoted = []
    for line in lines:
        mark = re.match(r"(?:>\s?)+", line.text)
        twice = only and mark is not None and mark.group().count(">") > 1
        bare = line if mark is None else line.without(mark.end(), "sign", "quoted")
        quoted.append(line.all_as("left out", "quoted") if twice else bare)
    return quoted


_COUNT = re.compile(r"^\W*\d{1,2}\W+")
_FROM = re.compile(r"(?:from|von|de|da|van|fra|fr[aå]n|od)\s?:\s*(?P<name>[^<]+)", re.IGNORECASE)
_SENT = re.compile(
    r"(?:date|sent|datum|gesendet|fecha|enviado|data|envoy[eé]|verzonden|skickat|sendt)\s?:", re.IGNORECASE
)
"""The day on which a mail was sent, which is not that of the show."""
_HEAD_OF_MAIL = re.compile(r"[A-Za-zÀ-ÿ-]+\s?: \S")
_HEADED = re.compile(r"[^\W\d_]+\s?: \S")


def _signed(lines: list[Line], is_title: Callable[[str], bool]) -> list[Line]:
    """Leave out the signature of a mail, below its two dashes, and the name of who sent it on a line of its own."""
    full = [line.text for line in lines if line.text][:2]
    sender = _FROM.match(full[0]) if len(full) > 1 and _HEADED.match(full[1]) else None
    if sender is None:
        return lines
    names, below, head, plain = fold(sender["name"]).split(), False, True, []
    for line in lines:
        quoted = any(piece.why == "quoted" for piece in line.pieces)
        below = (below or line.text == "--") and not line.why and not quoted
        words = [word for word in fold(line.text).split() if word not in ("der", "die", "das", "the")]
        own = bool(words) and all(any(name.startswith(word) for name in names) for word in words)
        head = head and _HEAD_OF_MAIL.match(line.text) is not None
        signed = not is_title(line.text) and (
            below or own or _SENT.match(line.text) or (head and "-" in line.text.split(":")[0])
        )
        plain.append(line.all_as("left out", "of who sent it") if line.text and not line.why and signed else line)
    return plain


# ---------------------------------------------------------------------------- a chat

_DAY = r"(?:\d{1,2}[./-]\d{1,2}[./-](?:\d{4}|\d{2})|\d{4}-\d{2}-\d{2}|today|yesterday|(?:mon|tue|wed|thu|fri|sat|sun)[a-z]*\.?)"
_TIME = r"\d{1,2}[:.]\d{2}(?::\d{2})?(?:\s?[ap]\.?m\.?)?"
_WHEN = rf"(?:{_DAY}(?:,|\s+at)?\s+{_TIME}|{_TIME},?\s+{_DAY})"
_NAME = r"[~+]?[^\W\d_][\w .'’()&-]{0,30}?|\+\d[\d ()-]{6,18}"
_STAMPED = re.compile(
    rf"(?P<when>\[{_WHEN}\]|\[(?:\d{{1,2}}[./]\d{{1,2}}\.?,?\s+)?{_TIME}\]|{_WHEN})\s*[-–—|]?\s*(?P<sender>{_NAME})\s?:(?:\s+|$)",
    re.IGNORECASE,
)
_TIMED = re.compile(rf"(?P<when>{_TIME})\s*[-–—|]?\s+(?P<sender>{_NAME})\s?:\s+(?=\S)", re.IGNORECASE)
_NAME_AND_TIME = re.compile(rf"(?P<sender>{_NAME}),?\s+(?P<when>{_TIME})", re.IGNORECASE)
_LATE = r"(?:1\d|2[0-3]):\d{2}(?::\d{2})?"
_HALF_DAY = r"(?:(?:today|yesterday) at )?\d{1,2}:\d{2}\s?[ap]\.?m\.?"
_HEAD = re.compile(
    rf"(?:(?P<sender>{_NAME})\s*[,—–-]?\s*(?:\[\s?(?:{_WHEN}|{_LATE})\s?\]|\(?(?:{_WHEN}|{_HALF_DAY})\)?)|"
    rf"\[?(?:{_WHEN})\]?\s*[-–—,]?\s*(?P<behind>{_NAME})?)\s*:?",
    re.IGNORECASE,
)
_BARE_STAMP = re.compile(rf"(?:\[{_WHEN}\]|\[{_TIME}\]|{_WHEN})\s*[-–—|]?\s*(?=\S)", re.IGNORECASE)
_EDITED = re.compile(
    r"\s*[<(\[‎]*\s*(?:this message was edited|edited|bearbeitet|modifié|editado)\s*[>)\]]*\s*$", re.IGNORECASE
)
_SYSTEM = re.compile(
    r"<[^<>]*(?:omitted|weggelassen|attached)[^<>]*>|(?:image|video|audio|sticker|gif|document|photo|voice message) omitted|"
    r"messages and calls are end.to.end encrypted.*|.{1,40} (?:joined|left|was added|added .{1,30}|created (?:the )?group.*|changed the (?:subject|group).*|pinned a message.*)|"
    r"this message was deleted\.?|you deleted this message\.?|forwarded(?: message| many times)?|missed voice call.*|(?:seen|read|delivered)(?: by .*| \d.*)?",
    re.IGNORECASE,
)
_REACTED = re.compile(
    r"(?:.{1,40} )?(?:reacted|liked|loved|laughed at|emphasi[sz]ed|disliked|questioned)\b.*(?:[\"“”«»]| to | with |:).*",
    re.IGNORECASE,
)


def _chat(lines: list[Line], is_title: Callable[[str], bool]) -> list[Line]:
    """Take stamps, senders, reactions and the chat's own words off, if it is a chat."""
    marks = [_stamp(line.text, is_title) for line in lines]
    timed = [_TIMED.match(line.text) for line in lines]
    named = Counter(mark["sender"] for mark in timed if mark and not is_title(mark["sender"]))
    if not any(marks) and named and max(named.values()) > 1 and len(named) < sum(named.values()):
        marks = [mark if mark and not is_title(mark["sender"]) else None for mark in timed]
    if not any(marks):
        alone = [
            mark if mark and not is_title(mark["sender"]) else None
            for mark in (_NAME_AND_TIME.fullmatch(line.text) for line in lines)
        ]
        marks = alone if max(Counter(mark["sender"] for mark in alone if mark).values(), default=0) > 1 else marks
    if not any(marks):
        return [_edited(line) for line in lines]
    plain, sender = [], ""
    for line, mark in zip(lines, marks, strict=True):
        taken = line
        if mark is not None:
            sender = (mark["sender"] or mark.groupdict().get("behind") or "").strip() or sender
            taken = _without_stamp(line, mark)
        elif bare := _BARE_STAMP.match(line.text):
            taken = line.without(bare.end(), "time stamp")
        plain.append(_own_words(_edited(replace(taken, sender=sender)), is_title))
    return plain


def _stamp(text: str, is_title: Callable[[str], bool]) -> re.Match[str] | None:
    """Find the stamp and the sender before a message, or alone on a line above it."""
    mark = _STAMPED.match(text) or _HEAD.fullmatch(text)
    sender = "" if mark is None else mark["sender"] or mark.groupdict().get("behind") or ""
    key = re.search(r"\d\s?Am\b", text) is not None  # "3:45 Am" behind a song is its length and its key
    timed = is_title(re.sub(r"\s+\d{1,2}[:.]\d{2}\s*$", "", text))  # "Otherwise Tuesday 3:15" is a song and its length
    if mark is None or is_title(sender) or ((key or timed) and mark.re is _HEAD):
        return None
    return mark if sender or mark.re is _STAMPED else None


def _without_stamp(line: Line, mark: re.Match[str]) -> Line:
    """Take the stamp and the sender off, in the order in which they stand."""
    spans = [
        (mark.span(name), kind)
        for name, kind in (("sender", "sender"), ("behind", "sender"))
        if mark.groupdict().get(name)
    ]
    (start, end), kind = spans[0]
    pieces = [
        (0, start, "time stamp"),
        (start, end, kind),
        (end, mark.end(), "time stamp" if mark.re is _HEAD else "sign"),
    ]
    taken, done = line, 0
    for begin, stop, as_what in pieces:
        begins = max(begin, done)
        if stop > begins and taken.text:
            count = stop - (taken.at - line.at)
            taken = taken.without(max(count, 0), as_what)
            done = stop
    return taken


def _edited(line: Line) -> Line:
    """Take "edited" off the end of a message."""
    mark = _EDITED.search(line.text, max(0, len(line.text) - _LONGEST_WORDS_OF_A_CHAT))
    if mark is None or not mark.group().strip().startswith(("<", "(", "[", "‎")):
        return line
    piece = Piece(line.number, line.at + mark.start() + 1, mark.group().strip(), "sign", why="edited")
    return replace(line, text=line.text[: mark.start()], pieces=(*line.pieces, piece))


_NAMES_BETWEEN = re.compile(r"[,&\d]|\b(?:and|und)\b")


def _own_words(line: Line, is_title: Callable[[str], bool]) -> Line:
    """Take off what the chat says itself, and reactions."""
    if not line.text:
        return line
    if _SYSTEM.fullmatch(line.text):
        return line.all_as("left out", "a word of the chat itself")
    if _REACTED.fullmatch(line.text) or _is_reaction(line.text, is_title):
        return line.all_as("left out", "a reaction")
    return line


def _is_reaction(text: str, is_title: Callable[[str], bool]) -> bool:
    """Whether a line is a picture, perhaps with how many or who: "👍 2", "❤️ Bram, Odile"."""
    first = text[0]
    if unicodedata.category(first) != "So":
        return False
    rest = "".join(letter for letter in text if unicodedata.category(letter) not in ("So", "Sk", "Mn", "Cf"))
    names = re.fullmatch(r"\s*(?:\d{0,3}|(?:[^\W\d_]+(?:,|\s+(?:and|und|&))?\s*)+)\s*", rest) is not None
    return (
        names
        and not is_title(rest.strip())
        and not any(word[0].islower() for word in _NAMES_BETWEEN.sub(" ", rest).split())
    )


_TALK = re.compile(
    r"(?:hi|hey|hello|hallo|dear|moin|morning|evening|guys|good (?:morning|afternoon|evening)|cheers|thanks|thank you|thx|many thanks|best|kind regards|regards|best wishes|"
    r"all the best|love|see you|see ya|cu|sent from|here(?: is| are|s)?|this is|tonights?|todays?|set for|the set|our set|list for|ok|okay|great|yes|no problem|sure|done|"
    r"please|pls|let me know|any questions|call me|ps|nb|fyi|have a|good luck|break a leg|sorry|btw|on .{5,60} wrote|von meinem|gesendet|liebe|viele|gruss|grusse|bis|salut|bonjour|bonsoir|bisous|bises|a tout a lheure|a plus|a ce soir|voila|merci|hola|buenas|gracias|nos vemos|saludos|besos|ciao|grazie|a dopo)\b|よろしく|お疲れ",
    re.IGNORECASE,
)


def is_talk(text: str) -> bool:
    """Whether a line is a greeting, an address or talk around a set.

    Examples
    --------
    >>> [is_talk(text) for text in ("hey all, set for tonight", "see you at five!! x", "Best wishes", "Salt Road")]
    [True, True, True, False]

    """
    return _TALK.match(fold(text)) is not None
