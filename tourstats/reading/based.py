"""A set that is said to be an earlier one with changes: "same as last night but Ferry instead of Wren"."""

# ruff: noqa: RUF001, E501  # the signs that people type are meant, and a pattern is read in one piece
from __future__ import annotations

import re
from dataclasses import replace

import pandas as pd

from tourstats.reading.corrections import Change, changed, says_no_more, without_filling
from tourstats.reading.days import WEEKDAY, weekday
from tourstats.reading.found import Found
from tourstats.reading.marks import Said
from tourstats.reading.medium import is_talk
from tourstats.reading.settling import TAKE
from tourstats.reading.songs import Row
from tourstats.reading.titles import NOTHING, SURE, Match, Titles, fold

_NIGHT = r"last night|yesterday|gestern(?: abend)?|hier(?: soir)?|ayer|anoche|ieri(?: sera)?|gisteren(?:avond)?|ig[aå]r|i g[aå]r"
_LAST = rf"{_NIGHT}|last time|the last (?:one|show|set|night)|last (?:show|set)|letztes mal"
_LAST_NIGHT = re.compile(rf"\b(?:{_NIGHT})\b", re.IGNORECASE)
"""Words for the night before, which is one show where only one was played on that day."""
_A_WEEK = pd.Timedelta(days=7)
_SAME = re.compile(
    r"^\W*(?:(?!(?:not|nicht|pas|no|nothing|never|kein\w*|different|anders|bit|almost|nearly|kind|sort|fast|etwa|presque)\b)[^\W\d_]+(?:['’][^\W\d_]+)?[\s,:.!]+){0,10}"
    r"(?:(?:exactly|pretty much|basically|genau|mostly) )?(?:the )?(?:same|like|as|repeat|wie|dasselbe|gleich|comme|como|come|identical|mismo|misma|m[eê]me|stess[oa]|zelfde|hetzelfde|samma|samme|igual)\b"
    r"(?: (?:set|one|list|thing|again))*(?: (?:as|like|to|from|of|wie|que|che|als|som|di|de|a))?(?: (?:on|in|at|am|the))?\s+"
    r"(?P<which>%s)(?:['’]s)?(?: (?:set|show|gig|night|list))?\b|^\W*(?P<whose>%s)['’]s (?:set(?: ?list)?|list|show)\b",
    re.IGNORECASE,
)


def based(reading: Found, titles: Titles, earlier: pd.DataFrame) -> None:
    """Propose the set that a line names, with the changes that are said, in the place of the lines from there on.

    Parameters
    ----------
    reading
        What was read line by line; changed where an earlier set is named.
    titles
        The repertoire.
    earlier
        Songs of the shows before tonight, one row each: show_id, date, city, position, song, encore; perhaps last_night,
        where they are surely those of the night before: then a change that is wholly understood needs no question.

    """
    if not len(earlier):
        return
    names = "|".join([_LAST, WEEKDAY.pattern, *(re.escape(town) for town in earlier.city.dropna().unique() if town)])
    form = re.compile(_SAME.pattern % (names, names), re.IGNORECASE)
    for place, line in enumerate(reading.lines):
        said = form.match(line.text)
        if said is None or titles.same(line.text) is not None:
            continue
        last = _meant(earlier, said["which"] or said["whose"])
        if last is not None and not any(row.match.verdict == SURE for row in reading.rows if row.place < place):
            _propose(reading, titles, last, earlier, place, said.end())
        return


def _meant(earlier: pd.DataFrame, which: str) -> pd.DataFrame | None:
    """The latest of the shows that are meant, its songs in order; None where there is none."""
    shows = earlier
    if (day := weekday(which)) is not None:
        shows = earlier[earlier.date.dt.day_of_week == day]
    elif re.fullmatch(_LAST, which, re.IGNORECASE) is None:
        shows = earlier[earlier.city.map(fold, na_action="ignore") == fold(which)]
    if not len(shows):
        return None
    newest = shows.sort_values(["date", "show_id"], kind="stable").show_id.iloc[-1]
    return shows[shows.show_id == newest].sort_values("position")


def _surely_meant(last: pd.DataFrame, earlier: pd.DataFrame, text: str) -> bool:
    """Whether only one show can be meant: that of the night before, or the one in a town within a week of the last."""
    if _LAST_NIGHT.search(text):
        return "last_night" in last and bool(last.last_night.all())
    town, lately = last.city.iloc[0], earlier[earlier.date > earlier.date.max() - _A_WEEK]
    there = len(set(lately.show_id[lately.city.eq(town)])) == 1 and bool(lately.show_id.isin(last.show_id).any())
    return isinstance(town, str) and there and re.search(rf"\b{re.escape(town)}\b", text, re.IGNORECASE) is not None


def _propose(reading: Found, titles: Titles, last: pd.DataFrame, earlier: pd.DataFrame, place: int, end: int) -> None:
    """Put the earlier set with its changes in the place of the lines from `place` on; ask once whether it is right."""
    below = [
        at for at, line in enumerate(reading.lines) if at > place and line.text and not line.why and not is_talk(line.text)
    ]  # fmt: skip
    town = last.city.iloc[0]
    behind = reading.lines[place].text[end:]
    if isinstance(town, str) and town:  # "as on Thursday in Westhallow"
        behind = re.sub(rf"^\W*(?:[^\W\d_]{{1,3}}\s+)?{re.escape(town)}\b", "", behind, flags=re.IGNORECASE)
    text = "\n".join([behind, *(reading.lines[at].text for at in below)])
    old = last.song.tolist()
    change = changed(text, old, titles)
    if change is not None and says_no_more(change, f"{last.date.iloc[0]:%-d %B}".lower()):
        change.unclear = ""
    if change is None:
        change = Change(list(range(len(old))), unclear=text.strip(" ,.;:") if without_filling(text) else "")
    for at in (place, *below):
        reading.others[at] = "said of an earlier set"
    reading.rows = [row for row in reading.rows if row.place < place]
    reading.struck = [row for row in reading.struck if row.place < place]
    number = reading.lines[place].number
    encore = _encore(change, old, last.encore.tolist())
    for at, now in enumerate(change.songs):
        song = old[now] if isinstance(now, int) else now
        match = Match(song, SURE, 100.0, (song,), "same")
        reading.rows.append(Row(number, song, match, encore=encore[at], place=place))
    if change.unclear:
        reading.rows.append(_not_understood(change.unclear, number, place))
    words = _words(last, change)
    reading.headed = {kind: text for kind, text in reading.headed.items() if text not in reading.lines[place].text}
    if not change.unclear and _surely_meant(last, earlier, reading.lines[place].text):
        for at in (place, *below):
            reading.others[at] = f"said of an earlier set: {words}"
        return
    reading.order = {TAKE: words}
    reading.places = {TAKE: list(range(len(reading.rows)))}
    reading.asks = "The set that is proposed"


def _not_understood(words: str, number: int, place: int) -> Row:
    return Row(number, words, replace(NOTHING, candidates=()), place=place, said=Said(), why="not understood")


def _encore(change: Change, old: list[str], was: list[bool]) -> list[bool]:
    """Whether each song is encore: as it was, as the song in whose place it came, or as the one before it."""
    encore: list[bool] = []
    for now in change.songs:
        song = old[now] if isinstance(now, int) else now
        gone = change.heirs.get(song, song)
        before = bool(encore and encore[-1])
        encore.append(song in change.encores or before or (gone in old and bool(was[old.index(gone)])))
    return encore


def _words(last: pd.DataFrame, change: Change) -> str:
    """What is proposed, in words: which set, and what is changed."""
    first = last.iloc[0]
    town = f" at {first.city}" if isinstance(first.city, str) and first.city else ""
    return f"the set of {first.date:%-d %B %Y}{town}, {', '.join(change.said) or 'as it was'}"
