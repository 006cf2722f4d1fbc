"""What was found on a recording, typed on a telephone, one mistake a line."""

# ruff: noqa: RUF001, E501  # the signs that people type are meant, and a pattern is read in one piece
from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import pandas as pd

from tourstats.reading import lines as lines_
from tourstats.reading.titles import DOUBTFUL, NOTHING, SURE, Match, Titles, fold, index

COLUMNS = ("line", "position", "song", "kind", "section", "bar", "severity", "cause", "said_by", "remark", "verdict",
           "sure", "score", "candidates")  # fmt: skip

_KIND_WORDS = {
    "entry": "entry|entries|entrance|came in|come in|comes in|count in|counted in|pick ?up|missed the start|false start",
    "ending": "ending|endings|last hit|final hit|cut ?offs?|the end|ended|finish|stopped",
    "fill": "fills?|rolls?|drum break",
    "form": "form|structure|skipped|extra bar|bar short|bar long|repeat|repeats|wrong section|got lost|lost the|forgot the (?:bridge|verse|chorus)",
    "groove": "groove|feel|pocket|swing|swung|straight|shuffle|hats?",
    "dynamics": "dynamics?|loud|louder|quiet|soft|softer|too strong",
    "tempo": "tempo|dragged|dragging|drags|drag|rushed|rushing|rush|sped up|speeding|slowed|too slow|too fast|slow|fast|timing|behind|ahead|bpm",
    "sound": "sound|sounds|tuning|tuned|out of tune|samples?|click|mic|monitors?|buzz|feedback|tone|ring(?:ing)?|rattle",
}
_KINDS = [(kind, re.compile(rf"\b(?:{words})\b")) for kind, words in _KIND_WORDS.items()]
_LATE = re.compile(r"\b(?:late|early)\b")
_SECTION = re.compile(
    r"\b(?:(?:pre ?|last |first |second |third |fourth |final |half )?(?:intro|verse|chorus|prechorus|bridge|solo|outro|coda|refrain|middle eight|middle 8|"
    r"middle|breakdown|interlude|vamp|trio|strain|hook|tag)(?: \d{1,2}\b)?)"
)
_BAR = re.compile(r"\b(?:bars?|measures?|takt|mes)\s*#?\s*(\d{1,3})\b", re.IGNORECASE)
_SEVERITY = re.compile(r"\b(?:sev(?:erity)?\.?|schwere)\s*[:=]?\s*([123])\b", re.IGNORECASE)
_EVERYONE = re.compile(
    r"\b(?:every(?:one|body)|all of them|the (?:audience|crowd|whole room)|people)\b(?: \w+)? ?(?:heard|noticed|laughed)|\baudible to all\b"
)
_BAND = re.compile(r"\b(?:the )?band (?:heard|noticed|did)\b")
_CAUSES = (
    ("feel", re.compile(r"\b(?:interpretation|wrong style|wrong feel)\b")),
    ("sound", re.compile(r"\b(?:sonic|tuning|out of tune|samples?|monitors?|buzz|feedback|broke|broken|mic|rattle)\b")),
    (
        "playing",
        re.compile(r"\b(?:execution|slipped|forgot|dropped (?:a |the )?stick|stick|missed|miscounted|hands?)\b"),
    ),
)
_NAME = r"([^\W\d_][\w'’-]+)"
_SAID = (
    re.compile(rf"\b(?:said|noticed|heard|found) by {_NAME}", re.IGNORECASE),
    re.compile(rf"\b{_NAME} (?:said|says|told me|noticed|pointed out|thinks)\b", re.IGNORECASE),
    re.compile(rf"\b(?:according to|says|said) {_NAME}", re.IGNORECASE),
)
_NOBODY = frozenset(("who", "everyone", "everybody", "band", "they", "as", "it", "audience", "crowd", "people", "the"))

_UNITS = "first second third fourth fifth sixth seventh eighth ninth".split()  # noqa: SIM905  # reads as it is counted
_TEENS = "tenth eleventh twelfth thirteenth fourteenth fifteenth sixteenth seventeenth eighteenth nineteenth".split()  # noqa: SIM905  # reads as it is counted
ORDINALS = {
    **{word: number for number, word in enumerate([*_UNITS, *_TEENS, "twentieth"], start=1)},
    **{f"twenty {word}": 20 + number for number, word in enumerate(_UNITS, start=1)},
    "thirtieth": 30,
}
"""Positions in words, as far as a set goes."""
_CARDINALS = {
    word: number
    for number, word in enumerate(
        "one two three four five six seven eight nine ten eleven twelve thirteen fourteen fifteen sixteen seventeen eighteen nineteen twenty".split(),  # noqa: SIM905  # reads as it is counted
        start=1,
    )
}  # fmt: skip
_WORD = "|".join(sorted({*ORDINALS, *(word.replace(" ", "") for word in ORDINALS)}, key=len, reverse=True))
_THING = r"(?:one|song|tune|number|piece|track)"
_ORDINAL = re.compile(
    rf"\b({_WORD}|\d{{1,2}}(?:st|nd|rd|th)) (?:{_THING}\b|encore\b)|^(?:in |on )?(?:the )?({_WORD}|\d{{1,2}}(?:st|nd|rd|th))\b(?! (?:verse|chorus|bridge|bar|solo|time|half|hit|beat|ending|intro|fill))"
)
_NAMED = re.compile(rf"\b(?:song|number|no|nr|position|pos|tune) (\d{{1,2}}|{'|'.join(_CARDINALS)})\b")
_DIGITS = re.compile(
    r"(?:#|no\.?|nr\.?|song|pos\.?)?\s*(\d{1,2})(?=[\s.:,)\-–—]|$)(?!\s*(?:bpm|%|x\b|bars?\b|min|times|[.:]\d))[\s.:,)\-–—]*",
    re.IGNORECASE,
)
_CLEAN = re.compile(
    r"^(?:the )?(?:all|rest|everything|others?|remaining)\b.*\b(?:clean|good|fine|ok|okay|perfect|no mistakes)\b|^(?:nothing(?: found)?|no mistakes|clean)$"
)
_MOST_WORDS = 9


@dataclass(frozen=True)
class _Song:
    """The song that a line is about."""

    match: Match
    position: int | None = None
    rest: str = ""


class _Night:
    """The set of one show, to be asked by position and by title."""

    def __init__(self, plays: pd.DataFrame, songs: pd.DataFrame | Iterable[str] | None) -> None:
        ordered = plays.sort_values("position", kind="stable") if len(plays) else plays
        self.by_position = (
            dict(zip(ordered["position"].astype(int), ordered["song"], strict=True)) if len(plays) else {}
        )
        encore = (
            ordered["encore"].fillna(value=False).astype(bool)
            if "encore" in ordered.columns
            else pd.Series(False, index=ordered.index)
        )
        self.encores = [int(p) for p in ordered.loc[encore, "position"]] if len(plays) else []
        self.main = [int(p) for p in ordered.loc[~encore, "position"]] if len(plays) else []
        played = list(dict.fromkeys(self.by_position.values()))
        self.titles = index(_of_these(songs, played))
        self.all = index(songs) if songs is not None else self.titles

    def at(self, position: int | None) -> _Song | None:
        """Return the song at a position."""
        song = self.by_position.get(position) if position is not None else None
        return None if song is None else _Song(Match(song, SURE, 100, (song,), "same"), position)

    def place_of(self, song: str | None) -> int | None:
        """Return the position of a song, the first if it was played twice."""
        return next((position for position, title in self.by_position.items() if title == song), None)


def _of_these(songs: pd.DataFrame | Iterable[str] | None, played: list[str]) -> pd.DataFrame | list[str]:
    if isinstance(songs, pd.DataFrame) and "song" in songs.columns and set(played) <= set(songs["song"]):
        return songs[songs["song"].isin(played)]
    return played


def read_found(
    text: str, plays_of_show: pd.DataFrame, songs: pd.DataFrame | Iterable[str] | None = None
) -> pd.DataFrame:
    r"""Read mistakes typed one a line, and find the song of each. Nothing is written.

    Parameters
    ----------
    text
        The lines: "the fifth one dragged", "harbour: late entry bridge bar 12 !!", "#12 sev 3 sound".
    plays_of_show
        The set of that show: `position`, `song`, and `encore` if known.
    songs
        The repertoire, for other names of songs and for titles that were not in this set.

    Returns
    -------
    DataFrame
        One row per mistake:
            line        int    line in the text, from 1
            position    Int64  place in the set; missing if the song was not found
            song        str    title; missing unless sure
            kind        str    one of `tables.KINDS`; `other` if no word says
            section     str    part of the song; missing if not said
            bar         Int64  bar; missing if not said
            severity    int    1 to 3; "!" is 2, "!!" and "everyone heard" are 3, else 1
            cause       str    `playing`, `sound` or `feel`; missing if no word says
            said_by     str    who said so; missing if not said
            remark      str    the whole line
            verdict     str    `sure`, `doubtful` or `unknown`, of the song
            sure, score, candidates    as in `read_set`
        `attrs["ignored"]` lists (line, text, why) for every other line.

    Examples
    --------
    >>> night = pd.DataFrame({"position": [1, 2, 3], "song": ["Ferry", "Copper Wire", "Tin Rook"]})
    >>> read_found("the second one dragged in chorus 2\nferry: late entry bar 12 !!", night)[["song", "kind", "bar", "severity"]]
              song   kind   bar  severity
    0  Copper Wire  tempo  <NA>         1
    1        Ferry  entry    12         3

    """
    night = _Night(plays_of_show, songs)
    rows: list[dict[str, object]] = []
    ignored: list[tuple[int, str, str]] = []
    above: Match | None = None
    for number, raw in enumerate(text.splitlines(), start=1):
        line = lines_.cleaned(raw)
        why = _why_none(line)
        if why:
            ignored.append((number, line, why))
            continue
        bulleted = raw[:1] in " \t-*•–"
        song = _song_of(line, night)
        if song.match.verdict == SURE and line.rstrip().endswith(":") and not _words(song.rest):
            above = song.match
            ignored.append((number, line, "names the song of the lines below"))
            continue
        if above is not None and bulleted and song.match.verdict != SURE:
            song = _Song(above, night.place_of(above.song), line)
        elif not bulleted:
            above = None
        rows.append({"line": number, **_details(line, song)})
    return _frame(rows, ignored)


def read_like_findings(lines: Sequence[str]) -> bool:
    """Whether lines that hold no known song tell of a show: places of songs that do not count up, and what happened there.

    Examples
    --------
    >>> read_like_findings(["4 came in late after the bridge", "7 ++ felt great", "8 dropped the stick"])
    True
    >>> read_like_findings(["1 Slow Train", "2 Late Entry", "3 Loud"])
    False

    """
    numbers = [int(mark[1]) for line in lines if (mark := re.match(r"#?(\d{1,2})[.):]?\s", line))]
    forms = [_LATE, *(form for _, form in (*_KINDS, *_CAUSES))]
    told = sum("++" in line or any(form.search(fold(line)) for form in forms) for line in lines)
    counted = numbers == list(range(numbers[0], numbers[0] + len(numbers))) if numbers else True
    return len(numbers) > 1 and not counted and 2 * told >= len(lines)


def _why_none(line: str) -> str:
    if not line:
        return "blank"
    if not any(letter.isalnum() for letter in line):
        return "only signs"
    return "says that the rest was clean" if _CLEAN.search(fold(line)) and len(fold(line).split()) < _MOST_WORDS else ""


def _words(text: str) -> list[str]:
    return fold(text).split() if any(letter.isalnum() for letter in text) else []


def _song_of(line: str, night: _Night) -> _Song:
    """Find the song: by a title at the front, by a position, by a title anywhere."""
    bare = re.sub(r"^[\s\-*•–—>·]+", "", line)
    title = _title_in_front(bare, night, exact=True)
    place = _position(bare, night)
    if title is None and place is not None:
        behind = _title_in_front(place.rest, night, exact=True) if place.rest else None
        if behind is not None and behind.match.song != place.match.song:
            songs = tuple(str(song) for song in (place.match.song, behind.match.song) if song)
            return _Song(Match(None, DOUBTFUL, 60, songs))
        return place
    title = title or _title_in_front(bare, night, exact=False)
    if title is not None and place is not None and place.match.song != title.match.song and place.rest != bare:
        return title
    return title or place or _anywhere(bare, night)


def _title_in_front(text: str, night: _Night, *, exact: bool) -> _Song | None:
    """Find the longest words at the front that are a title of this set."""
    before = re.match(r"(.*?)\s*(?::|;|\s[-–—]+\s|,|\t)\s*", text)
    if before and before[1]:
        match = _title(before[1], night.titles, exact=exact)
        if match is not None:
            return _Song(match, night.place_of(match.song), text[before.end() :])
    words = text.split()
    for count in range(min(len(words), _MOST_WORDS), 0, -1):
        piece = " ".join(words[:count])
        match = _title(piece, night.titles, exact=exact)
        if match is None:
            continue
        if match.evidence != "same" and _is_talk(piece):
            continue
        return _Song(match, night.place_of(match.song), " ".join(words[count:]))
    if exact or not before or not before[1]:
        return None
    match = night.all.match(before[1])
    if match.verdict == SURE and match.song is not None:
        return _Song(replace(match.doubted(), candidates=(match.song,)), None, text)
    return _Song(match) if match.verdict == DOUBTFUL and not _is_talk(before[1]) else None


def _title(text: str, titles: Titles, *, exact: bool) -> Match | None:
    text = text.strip(" .,:;!-–—()")
    if not text:
        return None
    match = (titles.same(text) or titles.same(text, joined=True)) if exact else titles.match(text)
    return match if match is not None and match.verdict == SURE else None


def _is_talk(text: str) -> bool:
    """Whether words are of the kind that describe a mistake, and no title."""
    folded = fold(text)
    words = any(form.search(folded) for _, form in _KINDS) or _LATE.search(folded) or _SECTION.search(folded)
    return bool(words) or folded in ORDINALS or folded in ("the", "last", "wrong", "missed", "all", "again", "in")


def _position(text: str, night: _Night) -> _Song | None:
    """Find a position that the line names, and its song."""
    listed = re.match(rf"(?:the )?({_WORD}|\d{{1,2}}(?:st|nd|rd|th))\s*[:;,–—-]", text.casefold())
    position = _count(listed[1]) if listed else _said_position(fold(text), night)
    if position is not None:
        found = night.at(position)
        return None if found is None else replace(found, rest=text)
    digits = _DIGITS.match(text)
    if digits:
        found = night.at(int(digits[1]))
        return None if found is None else replace(found, rest=text[digits.end() :])
    return None


def _said_position(folded: str, night: _Night) -> int | None:  # noqa: PLR0911  # one way to say it after the other
    """Position of which the words speak: an ordinal, the opener, the closer, an encore."""
    everything = [*night.main, *night.encores]
    encore = re.search(
        rf"\b(?:({_WORD}|last|\d{{1,2}}(?:st|nd|rd|th)?) encore|encore (\d{{1,2}})|^e ?(\d{{1,2}}))\b", folded
    )
    if encore and night.encores:
        said = next(group for group in encore.groups() if group)
        number = len(night.encores) if said == "last" else _count(said)
        return night.encores[number - 1] if 0 < number <= len(night.encores) else None
    if re.search(r"\bthe encore\b|^encore\b", folded) and len(night.encores) == 1:
        return night.encores[0]
    if re.search(r"\b(?:second to last|next to last|penultimate|last but one)\b", folded):
        return everything[-2] if len(everything) > 1 else None
    if re.search(r"\blast (?:one |song )?(?:before the encores?|of the main set)\b|\bmain set closer\b", folded):
        return night.main[-1] if night.main else None
    if re.search(r"\b(?:opener|opening (?:song|number|tune))\b", folded):
        return everything[0] if everything else None
    if re.search(rf"\b(?:closer|closing (?:song|number|tune)|(?:last|final) {_THING})\b", folded):
        return everything[-1] if everything else None
    found = _ORDINAL.search(folded) or _NAMED.search(folded)
    return _count(next(group for group in found.groups() if group)) if found else None


def _count(said: str) -> int:
    if said[0].isdigit():
        return int(re.sub(r"\D", "", said))
    spaced = re.sub(r"^twenty(?=[a-z])", "twenty ", said) if said not in ORDINALS else said
    return ORDINALS.get(spaced, _CARDINALS.get(said, 0))


def _anywhere(text: str, night: _Night) -> _Song:
    """Find a title of the set inside the line; a short one, or one of several, is asked about."""
    folded = f" {fold(text)} "
    inside = [song for song in night.titles.names if f" {fold(song)} " in folded]
    inside = [song for song in inside if not any(song != other and fold(song) in fold(other) for other in inside)]
    if len(inside) == 1 and not _is_talk(inside[0]):
        return _Song(Match(inside[0], SURE, 95, (inside[0],), "same"), night.place_of(inside[0]), text)
    if inside:
        return _Song(Match(None, DOUBTFUL, 80, tuple(inside[:3])))
    talk = [word for word in text.split() if not _is_talk(word)]
    match = night.titles.match(" ".join(talk[:3])) if talk else NOTHING
    return _Song(match.doubted() if match.candidates else NOTHING)


def _details(line: str, song: _Song) -> dict[str, object]:
    """Kind, section, bar, severity, cause and who said so, from the words that are not the title."""
    text = song.rest if song.match.verdict == SURE and song.rest else line
    folded = fold(text)
    match = song.match
    section, bar = _SECTION.search(folded), _BAR.search(text)
    return {
        "position": song.position if match.verdict == SURE else None,
        "song": match.song,
        "kind": _kind(folded),
        "section": section.group().strip() if section else None,
        "bar": int(bar[1]) if bar else None,
        "severity": _severity(line, folded),
        "cause": next((cause for cause, form in _CAUSES if form.search(folded)), None),
        "said_by": _said_by(text),
        "remark": line,
        "verdict": match.verdict,
        "sure": match.verdict == SURE,
        "score": float(match.score),
        "candidates": list(match.candidates[:3]),
    }


def _kind(folded: str) -> str:
    named = next((kind for kind, form in _KINDS if form.search(folded)), None)
    return named or ("entry" if _LATE.search(folded) else "other")


def _severity(line: str, folded: str) -> int:
    said = _SEVERITY.search(line)
    if said:
        return int(said[1])
    if _EVERYONE.search(folded) or "!!" in line:
        return 3
    return 2 if _BAND.search(folded) or re.search(r"!(?!\w)", line) else 1


def _said_by(text: str) -> str | None:
    for form in _SAID:
        for found in form.finditer(text):
            if found[1].casefold() == "i":
                return "me"
            if found[1].casefold() not in _NOBODY:
                return found[1]
    return None


def _frame(rows: list[dict[str, object]], ignored: list[tuple[int, str, str]]) -> pd.DataFrame:
    frame = pd.DataFrame(rows, columns=list(COLUMNS))
    for name in ("song", "kind", "section", "cause", "said_by", "remark", "verdict"):
        frame[name] = frame[name].astype("str")
    frame = frame.astype(
        {"line": "int64", "position": "Int64", "bar": "Int64", "severity": "int64", "sure": bool, "score": float}
    )
    frame.attrs["ignored"] = ignored
    return frame
