"""The shape of a song as people write it: one line or many, sections with bars, feel, who leads, cue and hits.

Every word of what was typed is in the account once, with what it was taken for.
"""

# ruff: noqa: RUF001, E501  # the signs that people type are meant, and a pattern is read in one piece
from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

import pandas as pd

from tourstats.problems import counted
from tourstats.reading.account import LEFT_OUT, Piece, account_of

COLUMNS = ("position", "name", "bars", "feel", "leads", "cue", "hits", "row", "as_typed", "sure", "why")
DETAILS = ("feel", "leads", "cue", "hits")

_NAMES = {
    "intro": "introduction|intro|opening|int|in",
    "pre-chorus": "pre[ -]?chorus|pre[ -]?ch|prech|pre|pc|build(?:[ -]?up)?|lift",
    "post-chorus": "post[ -]?chorus|post[ -]?ch|post",
    "verse": "verses?|vers|vrs|ver|vs|v|couplet|strophe",
    "chorus": "chorus(?:es)?|chor|chrs|cho|ch|c|refrain|refr|ref",
    "middle eight": "middle (?:eight|8)|mid[ -]?8|m8",
    "bridge": "bridge|brdg|bdg|brg|br|b",
    "solo": "solos?|sol",
    "interlude": "interlude|interl|inter|turn[ -]?around|turn|ta",
    "instrumental": "instrumental|instr|inst",
    "breakdown": "break[ -]?down|bkdn|break|brk|bd",
    "outro": "outro|out|ending|end",
    **{name: name for name in ("vamp", "tag", "hook", "riff", "head", "trio", "strain", "part", "theme", "return", "coda")},
}  # fmt: skip
"""What a section is called, and how people write it."""
_WORD = "|".join(f"(?P<_{at}>{words})" for at, words in enumerate(_NAMES.values()))
_CANON = list(_NAMES)
_FIRSTS = {
    "1st": "first",
    "2nd": "second",
    "3rd": "third",
    "4th": "fourth",
    "dbl": "double",
    "lst": "last",
    "half": "half",
}
_WHICH = rf"(?:{'|'.join(_FIRSTS)}|first|second|third|fourth|last|final|double|short|long)"
_BARS = (
    r"(?P<bars>\d{1,3}(?:\s*\+\s*\d{1,3})*)(?![\w/:.]*(?:th|st|nd|rd|/)\b)\s*"
    r"(?:(?:bars?|b|m|meas(?:ures?)?|mes|takte?)\b\.?)?"
    r"(?:\s*[x×*]\s*(?P<times>\d{1,2})\b|\s+(?P<twice>twice|three times)\b)?(?![\w/]|\s*bpm)"
)
_NAME = rf"(?P<which>{_WHICH}\s+)?(?P<whose>[^\W\d_]{{2,12}}\s+(?=solo|break\b|vamp|riff|drum))?(?:{_WORD})(?P<glued>\s*#?\d{{1,2}}(?=\s*[:\](.,]|\s+\d|\s*$))?"
_HEAD = re.compile(rf"^\[?(?:{_NAME})(?![^\W\d_])\]?\s*[:.=–—-]?\s*(?:\(?{_BARS}\)?)?", re.IGNORECASE)
_BARS_FIRST = re.compile(rf"^{_BARS}\s*(?:of\s+)?(?=(?:{_NAME})(?!\w))", re.IGNORECASE)
_NUMBER = re.compile(r"^\s*\(?(\d{1,2})[.)]\s+")
_LETTER = re.compile(rf"^\[?(?P<letter>[A-H]['’]?)(?P<which>\d|\s\d(?=\]))?\]?\s*[:.=–—-]?\s*(?:{_BARS})?(?=\W|$)")
_LETTERS = re.compile(rf"^(?P<letters>[A-D]{{3,8}})\s+{_BARS}(?=\W|$)")
_ONLY_BARS = re.compile(rf"^{_BARS}$", re.IGNORECASE)
_ONLY_TIMES = re.compile(r"^(?:[x×*]\s*(?P<times>\d{1,2})|(?P<twice>twice|three times))$", re.IGNORECASE)
_NAMED_OTHERWISE = re.compile(rf"^(?P<other>[^\W\d_][^\d|,;:()]{{1,28}}?)\s*[:=]?\s+{_BARS}(?=\W|$)", re.IGNORECASE)
_START = re.compile(r"^(?:count(?:ed)?[ -]?(?:in|off)?|cnt|clicks?|sticks?)\b", re.IGNORECASE)
_OF_THE_SONG = re.compile(r"^(?:tempo|key|time|meter|metre|bpm|capo|tuning|length)\b|\b\d+\s*bpm\b", re.IGNORECASE)
_LABEL = re.compile(r"^(?P<label>feel|groove|leads?|leader|cues?|hits?|accents?)\s*[:=]\s*", re.IGNORECASE)
_LABELS = {"fe": "feel", "gr": "feel", "le": "leads", "cu": "cue", "hi": "hits", "ac": "hits"}
_HIT = re.compile(
    r"\b(?:hits?|crash(?:es)?|stabs?|accents?|push(?:es)?|shots?|punch(?:es)?|chokes?|stops?(?![ -]?time)|fills?|pick-?ups?|kicks? on|unison)\b",
    re.IGNORECASE,
)
_OF_THE_HIT = re.compile(
    r"(?:^|\b)(?:the|a|no|big|one|two|three|four|\d+|snare|kick|bass|tom|cymbal|bell|band|drum|full|final|last|first)\s*$",
    re.IGNORECASE,
)
"""Words that belong to the hit behind them, and do not say how the section feels."""
_LEADS = re.compile(r"^(?P<who>.+?)\s+leads?(?: in| off)?$|^(?:led by|leads?|follow)\s+(?P<whom>.+)$", re.IGNORECASE)
_CUE = re.compile(
    r"^(?:when|after|until|till)\b|\b(?:cues?|cued|nods?|looks?|look up|signals?|watch|wait|counts?|counted|shouts?|calls?|eye)\b",
    re.IGNORECASE,
)
_CUT = re.compile(r"[,;()\[\]]|\s[/–—-]\s|\s?(?:→|[-=]>)\s?|\s>\s?")
_AMBIGUOUS = frozenset(("in", "end", "part", "turn", "lift", "post", "ref", "head", "hook", "return", "break"))
"""Words that stand before a number in ordinary talk too ("push in 2"): not by themselves the start of a section."""
_NEXT = re.compile(rf"(?<!\w)(?:{_NAME})(?![^\W\d_])\s*{_BARS}", re.IGNORECASE)
_WHICH_ONE = ("verse", "chorus", "pre-chorus", "post-chorus", "strain", "part")
_MOST_NUMBER = 4
"""A small number alone behind these is which one it is ("verse 2"), not how many bars."""


@dataclass(frozen=True)
class _Part:
    """Some of the text, and where it begins."""

    row: int
    column: int
    text: str

    def cut(self, start: int, end: int | None = None) -> _Part:
        """A part of this one, without the blanks round it."""
        text = self.text[start:end]
        return _Part(self.row, self.column + start + len(text) - len(text.lstrip()), text.strip())


@dataclass
class _Section:
    """A section as it is being read."""

    name: str
    row: int
    number: str = ""
    bars: int | None = None
    details: dict[str, list[str]] = field(default_factory=lambda: {name: [] for name in DETAILS})
    typed: list[str] = field(default_factory=list)
    sure: bool = True
    why: str = ""

    def doubt(self, why: str) -> None:
        """Ask the reader to look."""
        self.sure, self.why = False, self.why or why


def read_shape(text: str) -> pd.DataFrame:
    """Read the sections of a song, typed in one line or pasted as many. Nothing is written.

    Parameters
    ----------
    text
        Sections between upright strokes or one a line: a name in full or short ("v", "ch", "br", "out"), its bars
        ("16", "16b", "2x8", "8 x2"), and behind them how it feels, who leads, the cue, the hits, in any order.

    Returns
    -------
    DataFrame
        One row per section, in order:
            position            int    from 1
            name                str    written out; those that come more than once are numbered
            bars                Int64  missing if not said
            feel, leads, cue    str    missing if not said
            hits                str    separated by semicolons; missing if not said
            row                 int    line of the text
            as_typed            str    what it was read from
            sure                bool   whether it need not be looked at
            why                 str    reason, where it is not sure
        `attrs["account"]` holds every piece, for `account_of`, `attrs["start"]` how the song is counted in ("" if not said).

    Examples
    --------
    >>> read_shape("in 4 | v 16 brushes | br 12 half-time, crash on 2 going in | out on nod")[["name", "bars", "feel", "cue", "hits"]]
         name  bars       feel     cue                   hits
    0   intro     4        NaN     NaN                    NaN
    1   verse    16    brushes     NaN                    NaN
    2  bridge    12  half-time     NaN  crash on 2 going in
    3   outro  <NA>        NaN  on nod                    NaN

    """
    reader = _Reader()
    parts = list(_hard_parts(text))
    reader.letters = any(re.match(r"\[?A['’1]?\]?[\s:.]", part.text + " ") for part in parts)
    for part in parts:
        reader.take(part)
    frame = _frame(reader.sections)
    frame.attrs.update(account=tuple(reader.pieces), start="; ".join(reader.start))
    return frame


def said(shape: pd.DataFrame) -> list[str]:
    """Say in a few lines what a shape was read as, and what has to be looked at.

    Examples
    --------
    >>> said(read_shape("v 16 | ch 8 x2 | 120 bpm"))
    ['2 sections, 32 bars.', 'Left out, since it is not part of the shape: "120 bpm".']

    """
    bars = shape.bars.dropna()
    without = len(shape) - len(bars)
    unsaid = f", {without} without a number of bars" if without else ""
    lines = [f"{counted(len(shape), 'section')}, {counted(int(bars.sum()), 'bar')}{unsaid}."]
    lines += [f"Counted in: {shape.attrs['start']}."] if shape.attrs.get("start") else []
    lines += [f"Look at {row.name}: {row.why}." for row in shape[~shape.sure][["name", "why"]].itertuples(index=False)]
    account = account_of(shape.attrs["account"])
    for kind, words in ((LEFT_OUT, "Left out, since it is not part of the shape"), ("heading", "Taken for a heading"),
                        ("not understood", "Not understood")):  # fmt: skip
        theirs = account[account.taken_as == kind].as_typed.tolist()
        lines += ["{}: {}.".format(words, ", ".join(f'"{one}"' for one in theirs))] if theirs else []
    return lines


def as_line(sections: pd.DataFrame) -> str:
    r"""Write a shape as one line that reads back as the same shape.

    Examples
    --------
    >>> as_line(read_shape("v 16 brushes\nch 8: hits on 3"))
    'verse 16, feel: brushes | chorus 8, hits: hits on 3'

    """
    return " | ".join(_written(row) for row in sections.to_dict("records"))


def _written(row: Mapping[str, Any]) -> str:
    bars = f" {int(row['bars'])}" if pd.notna(row["bars"]) else ":"
    name = f"[{row['name']}]" if str(row["name"])[-1:].isdigit() else str(row["name"])
    details = [f"{kind}: {one}" for kind in DETAILS for one in _items(row.get(kind), kind)]
    return ", ".join([f"{name}{bars}", *details]).rstrip(":")


def _items(cell: object, kind: str) -> list[str]:
    if not isinstance(cell, str):
        return []
    return [one.strip() for one in re.split(";" if kind == "hits" else ",", cell) if one.strip()]


def _hard_parts(text: str) -> Iterator[_Part]:
    """Lines, and what stands between upright strokes."""
    for row, line in enumerate(text.splitlines(), start=1):
        for found in re.finditer(r"[^|‖¦]+", line):
            part = _Part(row, 1, line).cut(*found.span())
            if part.text:
                yield part


class _Reader:
    """Takes one part after the other; what it cannot place it says."""

    def __init__(self) -> None:
        self.sections: list[_Section] = []
        self.pieces: list[Piece] = []
        self.start: list[str] = []
        self.letters = self.more_hits = False

    def take(self, part: _Part) -> None:
        """Read what stands in one line or between two strokes."""
        part = self._stripped(part)
        if not any(letter.isalnum() for letter in part.text):
            self._note(part, "sign")
        elif not self._section(part, hard=True):
            self._other(part)

    def _stripped(self, part: _Part) -> _Part:
        """Without the number of the line, a bullet, or a time in front."""
        for form, kind in ((re.compile(r"^[-*•–—>·]+\s+"), "sign"), (_NUMBER, "number"),
                           (re.compile(r"^\d{1,2}:\d\d(?::\d\d)?\b"), "time stamp")):  # fmt: skip
            found = form.match(part.text)
            if found:
                self._note(part.cut(0, found.end()), kind)
                part = part.cut(found.end())
        return part

    def _section(self, part: _Part, *, hard: bool) -> bool:
        """Read a section, if one begins here; what stands behind it too."""
        match = _LETTERS.match(part.text)
        if match:
            self._strains(part, match)
            return True
        bars_first = _BARS_FIRST.match(part.text)
        head = part.cut(bars_first.end()) if bars_first else part
        match = (self.letters and _LETTER.match(head.text)) or _HEAD.match(head.text)
        if not match or _START.match(head.text) or not self._begins(match, head.text, hard=hard):
            return False
        section = self._named(match, head)
        self.sections.append(section)
        if bars_first:
            self._count(section, bars_first, part)
        elif match["bars"]:
            self._count(section, match, head)
        section.typed.append(part.text)
        self._details(head.cut(match.start("bars") if bars_first and match["bars"] else match.end()))
        return True

    def _begins(self, match: re.Match[str], text: str, *, hard: bool) -> bool:
        """Whether these words begin a section here, and are not part of a description."""
        rest = text[match.end() :].strip()
        if match["bars"] or match.groupdict().get("glued"):
            return (
                hard or match.groupdict().get("letter") is not None or match[0].split()[0].casefold() not in _AMBIGUOUS
            )
        short = len(re.sub(r"\W", "", match[0])) == 1
        if hard:
            return not (short and rest)
        return not short and (
            not rest or (bool(_CUE.search(rest)) and match[0].strip().casefold() in ("out", "outro", "end", "tag"))
        )

    def _named(self, match: re.Match[str], part: _Part) -> _Section:
        groups = match.groupdict()
        end = match.start("bars") if match["bars"] else match.end()
        self._note(part.cut(0, end), "section")
        if groups.get("letter"):
            return _Section(match["letter"], part.row, (groups["which"] or "").strip())
        name = next(_CANON[at] for at in range(len(_CANON)) if groups[f"_{at}"])
        section = _Section(name, part.row)
        if groups["glued"]:
            section.number = re.sub(r"\D", "", groups["glued"])
            which = match[0][0] == "[" or (name in _WHICH_ONE and int(section.number) <= _MOST_NUMBER)
            if not which and not match["bars"]:  # "v16" is sixteen bars
                section.bars, section.number = int(section.number), ""
        before = [str(groups[one]).strip().casefold() for one in ("which", "whose") if groups[one]]
        section.name = " ".join([*(_FIRSTS.get(one, one) for one in before), name])
        return section

    def _count(self, section: _Section, match: re.Match[str], part: _Part) -> None:
        bars = sum(int(one) for one in re.findall(r"\d+", match["bars"]))
        times = int(match["times"] or {"twice": 2, "three times": 3}.get(str(match["twice"]).casefold(), 1))
        alone = section.name in _WHICH_ONE and bars < _MOST_NUMBER and times == 1 and not section.number
        if alone and re.fullmatch(r"\d", part.text[match.start("bars") :].strip()[:2].strip()):
            section.number = str(bars)
            section.doubt(f"{bars} was taken for which {section.name} it is, not for its bars")
        else:
            section.bars = bars * times
        if times > 1:
            section.details["feel"].append(f"{min(bars, times)} × {max(bars, times)}")
        self._note(part.cut(match.start("bars"), match.end()), "bars")

    def _strains(self, part: _Part, match: re.Match[str]) -> None:
        """AABA with the bars of the whole."""
        letters, bars = match["letters"], int(re.findall(r"\d+", match["bars"])[0])
        self._note(part.cut(0, match.end("letters")), "section")
        self._note(part.cut(match.start("bars"), match.end()), "bars")
        for letter in letters:
            section = _Section(letter, part.row, typed=[part.text], bars=bars // len(letters))
            section.doubt(f"{bars} bars were shared out over {len(letters)} parts")
            self.sections.append(section)
        self._details(part.cut(match.end()))

    def _details(self, part: _Part) -> None:
        """What stands behind a section: details, and whatever section begins in them."""
        begin = 0
        for cut in [*_CUT.finditer(part.text), None]:
            piece = part.cut(begin, cut.start() if cut else None)
            self.more_hits = begin > 0 and part.text[begin - 1] == ";" and bool(self.sections[-1].details["hits"])
            begin = cut.end() if cut else begin
            if piece.text:
                self._fragment(piece)

    def _fragment(self, part: _Part) -> None:
        if not any(letter.isalnum() for letter in part.text):
            self._note(part, "sign")
            return
        if self._section(part, hard=False):
            return
        section = self.sections[-1]
        times = _ONLY_TIMES.match(part.text)
        bars = _ONLY_BARS.match(part.text)
        if bars and section.bars is None:
            self._count(section, bars, part)
        elif times:
            many = int(times["times"] or {"twice": 2}.get(str(times["twice"]).casefold(), 3))
            section.details["feel"].append(f"{many} × {section.bars}" if section.bars else f"{many} times")
            section.bars = section.bars * many if section.bars else None
            self._note(part, "bars")
        else:
            later = self._next_within(part.text)
            self._detail(part.cut(0, later))
            if later is not None and not self._section(part.cut(later), hard=True):
                self._detail(part.cut(later))

    def _next_within(self, text: str) -> int | None:
        """Where the next section begins in a line without any sign between ("brushes ch 8 open hat")."""
        for found in _NEXT.finditer(text):
            if found.start() and found[0].split()[0].casefold() not in _AMBIGUOUS:
                return found.start()
        return None

    def _detail(self, part: _Part) -> None:
        """Feel, who leads, cue, or hit."""
        section = self.sections[-1]
        label, hit = _LABEL.match(part.text), _HIT.search(part.text)
        if label:
            kind, text = _LABELS[label["label"][:2].casefold()], part.text[label.end() :]
        elif hit and hit.start() and not _OF_THE_HIT.search(part.text[: hit.start()]):
            self._detail(part.cut(0, hit.start()))
            self._detail(part.cut(hit.start()))
            return
        elif self.more_hits:
            kind, text = "hits", part.text
        else:
            kind, text = self._kind(part.text, hit)
        if text.strip():
            section.details[kind].append(text.strip())
        self._note(part, {"leads": "lead", "hits": "hit"}.get(kind, kind))

    @staticmethod
    def _kind(text: str, hit: re.Match[str] | None) -> tuple[str, str]:
        if hit:
            return "hits", text
        leads = _LEADS.match(text)
        if leads:
            return "leads", leads["who"] or leads["whom"]
        return ("cue" if _CUE.search(text) else "feel"), text

    def _other(self, part: _Part) -> None:
        """What is no section by any usual name."""
        named = _NAMED_OTHERWISE.match(part.text)
        times = _ONLY_TIMES.match(part.text)
        if _START.match(part.text):
            self.start.append(part.text)
            self._note(part, "start")
        elif _OF_THE_SONG.search(part.text):
            self._note(part, LEFT_OUT, why="belongs to the song, not to its shape")
        elif named and not _LABEL.match(part.text):
            self._note(part.cut(0, named.start("bars")), "section", sure=False)
            section = _Section(named["other"].strip(), part.row, typed=[part.text])
            section.doubt("its name is not a usual one")
            self.sections.append(section)
            self._count(section, named, part)
            self._details(part.cut(named.end()))
        elif not self.sections:
            self._note(part, "heading")
        else:
            if not (times or _LABEL.match(part.text) or _HIT.search(part.text) or _CUE.search(part.text)):
                self.sections[-1].doubt(f'"{part.text}" names no section and was taken for a part of this one')
            self.sections[-1].typed.append(part.text)
            self._details(part)

    def _note(self, part: _Part, kind: str, *, sure: bool = True, why: str = "") -> None:
        if part.text:
            self.pieces.append(Piece(part.row, part.column, part.text, kind, sure=sure, why=why))


def _numbered(sections: list[_Section]) -> list[str]:
    """Names of all sections, those that come more than once numbered in their order."""
    often = Counter(section.name for section in sections)
    told = Counter((section.name, section.number) for section in sections if section.number)
    met: Counter[str] = Counter()
    names = []
    for section in sections:
        met[section.name] += 1
        theirs = [count for (name, _), count in told.items() if name == section.name]
        # Numbers that people gave stay, unless one stands twice or some are missing.
        given = sum(theirs) == len(theirs) == often[section.name]
        number = section.number if given else str(met[section.name]) if often[section.name] > 1 else section.number
        names.append(f"{section.name} {number}".strip())
    return names


def _frame(sections: list[_Section]) -> pd.DataFrame:
    rows = [
        {
            "position": place, "name": name, "bars": each.bars,
            **{kind: ("; " if kind == "hits" else ", ").join(each.details[kind]) or None for kind in DETAILS},
            "row": each.row, "as_typed": " ".join(each.typed), "sure": each.sure, "why": each.why,
        }
        for place, (each, name) in enumerate(zip(sections, _numbered(sections), strict=True), start=1)
    ]  # fmt: skip
    frame = pd.DataFrame(rows, columns=list(COLUMNS))
    types = dict.fromkeys(("name", *DETAILS, "as_typed", "why"), "str") | {
        "position": "int64",
        "row": "int64",
        "sure": bool,
    }
    return frame.astype(types | {"bars": "Int64"})
