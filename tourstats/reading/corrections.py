"""What is said of a set in words: "Ferry instead of Wren", "drop Wren", "Ferry first", "swap 3 and 4".

The titles are found first and stand as signs; what is left is read by one grammar. Words that it does not know are given
back, and a title that nothing was said about makes the whole not understood: nothing is changed by half.
"""

# ruff: noqa: RUF001, E501  # the signs that people type are meant, and a pattern is read in one piece
from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

from tourstats.reading.titles import SURE, Titles, fold
from tourstats.reading.vocabulary import INSTEAD

_LONGEST = 9
"""Words that a title may have here."""
_SHORTEST = 4
"""Letters from which a word of one title alone may stand for it."""
_FIRST, _LAST = "first", "last"


@dataclass(frozen=True)
class Mention:
    """A title that stands in a text: which song, and its characters."""

    song: str
    start: int
    end: int


@dataclass
class Change:
    """A set as it is after what was said.

    Attributes
    ----------
    songs
        The songs in their new order: the place in the old set, or a title that was not in it.
    said
        What was changed, in words.
    unclear
        Words that nothing was made of.
    mentions
        The titles that stand in the text.
    heirs
        Of each song that came in the place of another: that one.
    encores
        Songs that are said to be encore.

    """

    songs: list[int | str]
    said: list[str] = field(default_factory=list)
    unclear: str = ""
    mentions: list[Mention] = field(default_factory=list)
    heirs: dict[str, str] = field(default_factory=dict)
    encores: set[str] = field(default_factory=set)
    named: bool = False
    """Whether the words that nothing was made of may name a song of the set."""


_T = r"<(\d+)>"
_TS = r"((?:<\d+>[\s,]*(?:and |und |et |y |or )?)+)"
_INSTEAD = rf"(?:{INSTEAD}|in for|for)"
_OPENS = r"(?:first|as (?:the )?(?:first|opener)|to open|opens|at the (?:very )?(?:start|beginning|top|front)|to start|up front|zuerst|am anfang|als erstes)"
_CLOSES = r"(?:last|as (?:the )?(?:last(?: song)?|closer)|to close|closes|at the (?:very )?end|to finish|to end|am ende|zum schluss|als letztes|a la fin|al final)"
_ENCORE = r"(?:as (?:the |an |second )?encore|in the encore|for the encore|als zugabe|en rappel)"
AFTER = "after|behind|following|nach|hinter|na|apres|dopo|despues de|tras|efter|etter|po"
BEFORE = "before|vor|voor|avant|prima di|antes de|fore|przed"
"""Words for where a song comes, as they are folded."""
_BESIDE = rf"(?:right |straight |directly |just )?({AFTER}|{BEFORE}) <(\d+)>"
_PLACE = (
    rf"(?:(?:(?:{_OPENS}|{_CLOSES}|nach hinten|nach vorn|nach vorne) ?,? ?)?{_BESIDE}|{_OPENS}|{_CLOSES}|{_ENCORE})"
)
_SAME_PLACE = r"(?: (?:in |at |into )?(?:its|the same|that|same|his) (?:place|spot|slot)| instead| there| for it| dafur| stattdessen)?"
_GOES = r"(?:is |are |goes |go |comes |come |stays |kommt |bleibt |fliegt |faellt |fallt |both |be |bitte |please )*"
_OUT = r"(?:out|cut|dropped|gone|off|raus|weg|entfallt|skipped|not tonight|leaves)"
_TAKE_OUT = r"(?:drop|dropping|without|no|cut|skip|minus|lose|losing|leave out|leaving out|omit|scratch|scrap|forget|take out|kick(?: out)?|not|less|ohne|sans|sin|senza|zonder|uten|utan|except(?: for)?)"
_PUT_IN = r"(?:add|adding|plus|bring back|bring in|put|insert|move|with|mit|avec|met|con|including|play|do)"
_FILLING = re.compile(
    r"\b(?:same|but|and|then|so|the|a|set|please|pls|also|ok|okay|yes|right|sorry|correction|corrected|change|changes|one change|two changes|"
    r"otherwise|except|excepting|sauf|ausser|excepto|(?:same |gleiche |memes )?(?:encores?|bis|zugaben?|rappels?)(?: the same| uguali| iguales| gleich)|maar|men|ma|e|oh|rest|stays?|unchanged|everything|else|is|be|we|lets|let|us|just|only|that|and that|thats|it|all|today|tonight|now|und|aber|sonst|"
    r"as|songs?|for|i|well|will|want to|would like to|have to|cheers|thanks|thx|order|meme ordre|mais|sauf|bisous|bises|a ce soir|pero|orden|mismo|gleiche|reihenfolge)\b|[,;:.!()\[\]–—-]"
)
_ASKS = re.compile(
    r"\b(?:can|could|should|shall|may|might|maybe|perhaps|what about|how about|or)\b|\?|\bx or y\b", re.IGNORECASE
)


def mentions(text: str, titles: Titles, among: Sequence[str] = ()) -> list[Mention]:
    """Titles that stand in a text as they are, the longest first where they overlap.

    Of the songs `among` which it is sought, else of all, a word of one alone is enough, if it is written large or stands
    by itself.

    Examples
    --------
    >>> from tourstats.reading.titles import index
    >>> songs = index(["Ferry", "Salt", "Salt Road", "Copper Wire"])
    >>> [found.song for found in mentions("Ferry instead of Salt Road", songs)]
    ['Ferry', 'Salt Road']
    >>> [found.song for found in mentions("drop Copper, please", songs, ["Ferry", "Copper Wire"])]
    ['Copper Wire']

    """
    words = list(re.finditer(r"[^\W_]+(?:['’][^\W_]+)*|[?!]+", text))
    named, at = [], 0
    while at < len(words):
        for upto in range(min(len(words), at + _LONGEST), at, -1):
            start, end = words[at].start(), words[upto - 1].end()
            title = _title(text[start:end], titles)
            if title and not _ends_too_late(text, words[at:upto], title, titles):
                named.append(Mention(title, start, end))
                at = upto
                break
        else:
            short, upto = _in_short(text, words, at, titles, among) if among else ("", at + 1)
            if among and not short:
                short, upto = _in_short(text, words, at, titles, tuple(titles.names))
            named += [Mention(short, words[at].start(), words[upto - 1].end())] if short else []
            at = upto
    return named


def _in_short(
    text: str, words: Sequence[re.Match[str]], at: int, titles: Titles, among: Sequence[str]
) -> tuple[str, int]:
    """The song of which words of a text can only be a part, and up to which word; else nothing."""
    songs = set(among)
    for upto in range(at + 1, min(len(words), at + _LONGEST) + 1):
        typed = fold(text[words[upto - 1].start() : words[upto - 1].end()])
        theirs = (titles.vocabulary.get(typed) or titles.vocabulary.get(f"{typed}s", set())) & songs
        if not theirs:
            break
        songs = theirs
    else:
        upto += 1
    part = text[words[at].start() : words[upto - 2].end()] if upto - 1 > at else ""
    before, behind = text[: words[at].start()].rstrip(), text[words[upto - 2].end() :].lstrip()
    apart = (not before or not before[-1].isalnum()) and (not behind or not behind[0].isalnum())
    told = len(songs) == 1 and max(map(len, fold(part).split()), default=0) >= _SHORTEST and bool(_words_left(part))
    return (next(iter(songs)), upto - 1) if told and (apart or part[:1].isupper()) else ("", at + 1)


def _words_left(words: str) -> str:
    """What is left of words when those that change nothing are taken out."""
    return _FILLING.sub("", fold(words)).strip()


def _ends_too_late(text: str, words: Sequence[re.Match[str]], title: str, titles: Titles) -> bool:
    """Whether the last word is the article of what comes next: "Ferry, A" of "Ferry, A Guinea"."""
    if words[1:] and words[-1].start() - words[-2].end() > 1:  # a comma stands between
        return _title(text[words[0].start() : words[-2].end()], titles) == title
    return False


def _title(words: str, titles: Titles) -> str:
    """The song that words are the title of; a small word or a number of two figures has to be written as the title is."""
    match = titles.same(words)
    if match is None or match.verdict != SURE or match.song is None:
        return ""
    folded = fold(words)
    common = len(folded) == 1 or (folded.isdigit() and len(folded) <= 2) or not _words_left(words)
    names = (match.song, *titles.names.get(match.song, ()))
    return "" if common and (words not in names or folded.isdigit()) else match.song


def changed(text: str, songs: Sequence[str], titles: Titles, numbers: Mapping[int, int] | None = None) -> Change | None:
    """Read what is to be changed in a set; None if nothing is, or if it is not understood.

    Parameters
    ----------
    text
        What was said.
    songs
        The set as it was.
    titles
        The repertoire.
    numbers
        Place in the set of each number that stands on the paper; by default as they are counted.

    Examples
    --------
    >>> from tourstats.reading.titles import index
    >>> songs = index(["Ferry", "Wren", "Salt Road", "Copper Wire"])
    >>> changed("Copper Wire instead of Wren, and drop Salt Road", ["Ferry", "Wren", "Salt Road"], songs).songs
    [0, 'Copper Wire']
    >>> changed("without the slow one", ["Ferry", "Wren"], songs) is None
    True

    """
    counted = {at + 1: at for at in range(len(songs))} if numbers is None else dict(numbers)
    found = mentions(text, titles, songs)
    reading = _Grammar(list(songs), [one.song for one in found])
    signs = _signs(text, found, reading, counted)
    left = reading.read(signs)
    if reading.failed or not reading.said or "<" in left or len(set(songs)) < len(songs):
        return None
    unclear, there = without_filling(left), set(songs)
    named = any(len(word) >= _SHORTEST and titles.vocabulary.get(word, set()) & there for word in unclear.split())
    return Change(reading.result(), reading.said, unclear, found, reading.heirs, reading.encores, named)


def without_filling(text: str) -> str:
    """What is left of words when those that change nothing are taken out: "but", "please", "the rest stays"."""
    return " ".join(_FILLING.sub(" ", _folded(text)).split())


_OPEN = re.compile(
    r"[?<\d]|\b(?:or|oder|ou|maybe|perhaps|some|something|another|else|other|ones?|shorter|longer|slow|fast|tell|later|decide|see|wait|not|no|but|except|one of|quelque|voir|peut|etwas|vielleicht|"
    r"anderes|algo|otra|quiza|qualcosa|altro|iets|noget|nagot)\b"
)


def says_no_more(change: Change, day: str = "") -> bool:
    """Whether the words that nothing was made of change nothing: a reason, a greeting, when to be there.

    Examples
    --------
    >>> [says_no_more(Change([], ["without Wren"], words)) for words in ("were short of time m x", "something shorter")]
    [True, False]

    """
    bare = re.sub(r"\b\d{1,2}(?: ?: ?\d\d)? ?(?:uhr|h|pm|am|oclock)\b", " ", change.unclear)
    bare = re.sub(rf"\b(?:on |am |le )?{day}\b", " ", bare) if day else bare
    return bool(change.said) and not change.named and _OPEN.search(bare) is None


def only_asks(text: str) -> bool:
    """Whether a change is asked for and not said: "can we drop Ferry?"."""
    return _ASKS.search(text) is not None


def _signs(text: str, named: Sequence[Mention], reading: _Grammar, counted: Mapping[int, int]) -> str:
    """The text folded, with a sign for each title, and for each number that counts the set."""
    parts, at = [], 0
    for place, one in enumerate(named):
        parts += [_folded(text[at : one.start]), f" <{place}> "]
        at = one.end
    parts.append(_folded(text[at:]))

    def number(match: re.Match[str]) -> str:
        place = counted.get(int(match[1]))
        if place is None:
            return match.group()
        reading.named.append(reading.old[place])
        return f" <{len(reading.named) - 1}> "

    joined = re.sub(r"(?<=>) \( (?!same)[^()<>]*\)", "", " ".join(" ".join(parts).split()))  # a reason
    joined = re.sub(r"(?<![<\d])(?:number|nr|no|song|nummer|n)\.? ?(\d{1,2})(?![\d>])", number, joined)
    if re.search(
        r"\b(?:swap|switch|change|drop|skip|cut|replace|tausch\w*|leave out|leaving out|(?:is|are|both|go(?:es)?) out|raus|fliegen|fliegt)\b",
        joined,
    ):
        joined = re.sub(r"\b\d{1,2} ?[:.h] ?\d\d\b", " ", joined)  # the time of the day
        joined = re.sub(r"(?<![<\d:.])(\d{1,2})(?![\d>:.]\d?)", number, joined)
    return joined


def _folded(text: str) -> str:
    """Words in small letters and without accents; the signs between clauses stay."""
    text = re.sub('[«»“”„"]', " ", text)
    pieces = re.split(r"([,;:.!?()\n+]|[-–—=]*[<>→⇒]+|(?:(?<=\s)|^)[-–—](?=\s|$))", text)
    return " ".join(fold(piece) if place % 2 == 0 else _sign(piece) for place, piece in enumerate(pieces) if piece)


def _sign(piece: str) -> str:
    return ";" if piece == "\n" else "->" if set("<>→⇒") & set(piece) else "-" if piece in "–—" else piece


class _Grammar:
    """One reading of what was said: each rule takes its words out of the text and notes what they change."""

    def __init__(self, old: list[str], named: list[str]) -> None:
        self.old, self.named = old, named
        self.now: list[str] = list(old)
        self.said: list[str] = []
        self.free: list[int] = []
        self.heirs: dict[str, str] = {}
        self.encores: set[str] = set()
        self.failed = False

    def read(self, text: str) -> str:
        """Apply every rule as often as it fits; what is left of the text."""
        rules: tuple[tuple[str, Callable[[re.Match[str]], None]], ...] = (
            (rf"(?:swap|switch|exchange|change|tausche?) {_T} (?:for|with|and|to|into|und|gegen|mit) {_T}(?: round| around| over)?", self._swap),
            (rf"{_T} ?(?:and|und|et|y|e|en|og|och) {_T} (?:to )?(?:change|swap|switch|trade|tauschen|vertauschen|getauscht|wechseln)(?: places| plaetze| round| around| over)?", self._swap),
            (rf"replace {_T} (?:with|by|for|durch|mit) {_T}", lambda m: self._instead(m[2], m[1])),
            (rf"instead of {_T} ?,? ?(?:we |play |do |comes |there is |it is |its )*{_T}", lambda m: self._instead(m[2], m[1])),
            (rf"(?:(?:an)?statt|au lieu de|a la place de|en vez de|invece di|in plaats van) {_T} ?,? ?(?:(?:spielen|machen|nehmen) wir |kommt |heute |tonight |ce soir |hoy |stasera |on (?:joue|fait|met|prend) |tocamos |va |facciamo |spelen we |doen we )*{_T}", lambda m: self._instead(m[2], m[1])),
            (rf"{_T} {_GOES}{_INSTEAD} {_T}", lambda m: self._instead(m[1], m[2])),
            (rf"{_T} {_GOES}{_OUT} ?[,;.]? ?(?:and |und |so )?{_T} {_GOES}(?:in|rein){_SAME_PLACE}(?: \( ?(?:the )?same (?:place|spot|slot) ?\))?", lambda m: self._instead(m[2], m[1])),
            (rf"{_TAKE_OUT} {_T} ?[,;.]? ?(?:and |und |et )?{_PUT_IN} {_T}(?: in)? (?:there|instead|its place|dort|dafur|stattdessen)", lambda m: self._instead(m[2], m[1])),
            (rf"(?:out|raus) : {_TS} ?[,;.]? ?(?:and )?(?:in|rein) : {_TS}", self._lists),
            (rf"(?:in|rein) : {_TS} ?[,;.]? ?(?:and )?(?:out|raus) : {_TS}", lambda m: self._lists_of(m[2], m[1])),
            (rf"{_T} ?- ?(?:->|>) ?{_T}|{_T} ?-> ?{_T}", self._arrow),
            (rf"(?:{_PUT_IN} )?{_T} {_GOES}{_PLACE}", self._put),
            (rf"(?:als|as|en|como|come|for) (?:(?:the|an?|la|le|el) )?(?:aller)?(?:letzte|last|final|very last|dernier|ultimo)? ?(?:encore|zugabe|rappel|bis|toegift|ekstranummer|extranummer) (?:noch |we do |we play |also )?{_T}", self._encore_last),
            (rf"(?:open|start|begin|kick off|los geht s)(?:ing)? with {_T}", lambda m: self._place(m[1], _FIRST)),
            (rf"(?:end|close|finish)(?:ing)? with {_T}", lambda m: self._place(m[1], _LAST)),
            (rf"(?:{_TAKE_OUT}|(?:^|;) ?-|(?:out|raus) :) {_TS}", lambda m: self._drop(m[1])),
            (rf"{_TS} ?{_GOES}{_OUT}", lambda m: self._drop(m[1])),
            (rf"(?:{_PUT_IN}|(?:^|;) ?\+|(?:in|rein) :) {_TS}(?: (?:in|back|again|too|rein|there|dort|dafur))?", lambda m: self._add(m[1])),
            (rf"{_TS} ?{_GOES}(?:in|back|rein|back in){_SAME_PLACE}", lambda m: self._add(m[1])),
        )  # fmt: skip
        left = re.sub(" +", " ", text)
        for form, act in rules:
            pattern = re.compile(form)
            while not self.failed and (match := pattern.search(left)):
                act(match)
                left = re.sub(" +", " ", f"{left[: match.start()]} ; {left[match.end() :]}")
        return left

    def result(self) -> list[int | str]:
        """The set as it is now: places in the old one, and titles that are new in it."""
        return [self.old.index(song) if song in self.old else song for song in self.now]

    def _song(self, sign: str) -> str:
        return self.named[int(sign)]

    def _instead(self, new: str, old: str) -> None:
        song, gone = self._song(new), self._song(old)
        if gone not in self.now or song in self.now:
            self.failed = True
            return
        self.now[self.now.index(gone)] = song
        self.heirs[song] = gone
        self.said.append(f"{song} in the place of {gone}")

    def _swap(self, match: re.Match[str]) -> None:
        one, other = self._song(match[1]), self._song(match[2])
        if one in self.now and other in self.now and one != other:
            at, to = self.now.index(one), self.now.index(other)
            self.now[at], self.now[to] = other, one
            self.said.append(f"{one} and {other} changed round")
        elif one in self.now:
            self._instead(match[2], match[1])
        else:
            self._instead(match[1], match[2])

    def _arrow(self, match: re.Match[str]) -> None:
        old, new = (sign for sign in match.groups() if sign is not None)
        self._instead(new, old)

    def _lists(self, match: re.Match[str]) -> None:
        self._lists_of(match[1], match[2])

    def _lists_of(self, out: str, into: str) -> None:
        gone, come = re.findall(_T, out), re.findall(_T, into)
        if len(gone) == len(come):
            for old, new in zip(gone, come, strict=True):
                self._instead(new, old)
        else:
            self._drop(out)
            self._add(into)

    def _drop(self, signs: str) -> None:
        for sign in re.findall(_T, signs):
            song = self._song(sign)
            if song not in self.now:
                self.failed = True
                return
            self.free.append(self.now.index(song))
            self.now.remove(song)
            self.said.append(f"without {song}")

    def _add(self, signs: str) -> None:
        songs = [self._song(sign) for sign in re.findall(_T, signs)]
        if any(song in self.now for song in songs):
            self.failed = True  # "add Ferry" to a set that has it
        elif len(songs) == len(self.free) == 1:
            self.now.insert(self.free.pop(), songs[0])
            self.heirs[songs[0]] = gone = self.said[-1].removeprefix("without ")
            self.said[-1] = f"{songs[0]} in the place of {gone}"
        elif self.free and len(songs) != len(self.free):
            self.failed = True  # which of them comes in whose place?
        else:
            self.now += songs
            self.said += [f"{song} at the end" for song in songs]

    def _put(self, match: re.Match[str]) -> None:
        words, song = match.group(), self._song(match[1])
        if match[2]:
            self._beside(song, self._song(match[3]), after=re.fullmatch(AFTER, match[2]) is not None)
        else:
            self._place(match[1], _FIRST if re.search(rf"> .*{_OPENS}$", words) else _LAST)
            self.encores |= {song} if re.search(rf"{_ENCORE}$", words) else set()

    def _encore_last(self, match: re.Match[str]) -> None:
        self._place(match[1], _LAST)
        self.encores.add(self._song(match[1]))

    def _beside(self, song: str, other: str, *, after: bool) -> None:
        if other not in self.now or song == other:
            self.failed = True
            return
        if song in self.now:
            self.now.remove(song)
        self.now.insert(self.now.index(other) + after, song)
        self.said.append(f"{song} {'after' if after else 'before'} {other}")

    def _place(self, sign: str, where: str) -> None:
        song = self._song(sign)
        if song in self.now:
            self.now.remove(song)
        self.now.insert(0 if where == _FIRST else len(self.now), song)
        self.said.append(f"{song} {'first' if where == _FIRST else 'at the end'}")
