"""The same thing again: which shows of a file the diary has already, and what differs."""

# ruff: noqa: E501  # a question is read in one piece
from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

import pandas as pd

from tourstats.problems import counted, listed
from tourstats.reading.asking import Asking, Where
from tourstats.reading.cells import tight

TAKE, KEEP = "take the file's", "keep the diary's"
SAME, OTHER = "the same show", "another show"
DIFFERS = "differs"
"""Key by which all shows whose sets differ are answered at once."""
_MOVED_DAYS = 400
_ALIKE = 0.9
Set = list[tuple[str, bool]]


@dataclass(frozen=True)
class There:
    """What the diary has for a show of the file.

    Attributes
    ----------
    show_id
        The show in the diary; None if it is new.
    write
        Whether its set is to be written.
    change
        Columns of the show that are to be changed: another day or town, as was answered.

    """

    show_id: Any = None
    write: bool = True
    change: tuple[tuple[str, object], ...] = ()


@dataclass
class _Diary:
    """Shows and sets of the diary, and which of them were matched already."""

    shows: list[Any]
    sets: dict[object, Set]
    taken: set[object]
    named: set[date]
    """Days that the file has shows on itself."""

    def on(self, day: date) -> list[Any]:
        return [show for show in self.shows if show.date.date() == day and show.show_id not in self.taken]


def matched(
    shows: pd.DataFrame,
    plays: pd.DataFrame,
    their_shows: pd.DataFrame | None,
    their_plays: pd.DataFrame | None,
    asking: Asking,
) -> dict[Any, There]:
    """Find each show of a file in the diary, and ask where they differ.

    Returns
    -------
    dict
        For the show_id of the file: what the diary has.

    """
    mine = sets_of(plays)
    if their_shows is None or not len(their_shows):
        return {show.show_id: There() for show in shows.itertuples()}
    diary = _Diary(list(their_shows.itertuples()), sets_of(their_plays), set(), {day.date() for day in shows.date})
    matches: dict[Any, There] = {}
    differing: list[tuple[Any, There, int, int]] = []
    for show in shows.itertuples():
        there = _find(show, mine[show.show_id], diary, asking)
        if there.show_id is not None:
            diary.taken.add(there.show_id)
            theirs = diary.sets[there.show_id]
            differ = _differing(mine[show.show_id], theirs)
            if not mine[show.show_id] or (theirs and not differ):
                there = There(there.show_id, write=False, change=there.change)
            elif theirs:
                differing.append((show, there, differ, max(len(theirs), len(mine[show.show_id]))))
        matches[show.show_id] = there
    _ask_differing(differing, matches, sum(map(len, mine.values())), asking)
    return matches


def sets_of(plays: pd.DataFrame | None) -> dict[object, Set]:
    """Titles and encores of each show, in order."""
    found: dict[object, Set] = defaultdict(list)
    if plays is not None and len(plays):
        ordered = plays.sort_values(["show_id", "position"], kind="stable")
        for show_id, song, encore in zip(ordered["show_id"], ordered["song"], ordered["encore"], strict=True):
            found[show_id].append((tight(str(song)), bool(encore)))
    return found


def _differing(one: Set, other: Set) -> int:
    """Places in which two sets differ."""
    return sum(a != b for a, b in zip(one, other, strict=False)) + abs(len(one) - len(other))


def _find(show: Any, mine: Set, diary: _Diary, asking: Asking) -> There:  # noqa: ANN401  # a row
    day, city = show.date.date(), tight(show.city) if isinstance(show.city, str) else ""
    here = diary.on(day)
    same_town = [one for one in here if not city or tight(_text(one.city)) in ("", city)]
    numbered = [one for one in same_town if one.number == show.number]
    if numbered:
        return There(numbered[0].show_id)
    if len(same_town) == 1 and not city:
        return There(same_town[0].show_id)
    equal = next((one for one in here if mine and _same_songs(mine, diary.sets[one.show_id])), None)
    where = Where(str(getattr(show, "file", "")), row=int(getattr(show, "row", 0)))
    if equal is not None:
        answer = asking.choose(
            f"city: {day}",
            f"The diary has this set on {day} in {_text(equal.city) or 'no city'}, the file in {show.city}.",
            (SAME, OTHER),
            SAME,
            where=where,
        )
        return There(equal.show_id, change=(("city", show.city),)) if answer == SAME else There()
    return _moved(show, mine, diary, city, where, asking)


def _moved(show: Any, mine: Set, diary: _Diary, city: str, where: Where, asking: Asking) -> There:  # noqa: ANN401  # a row
    """A show with the same set in the same town on another day may be the same, moved."""
    day = show.date.date()
    near = [
        one for one in diary.shows
        if one.show_id not in diary.taken and abs(one.date.date() - day) <= timedelta(days=_MOVED_DAYS) and (not city or tight(_text(one.city)) in ("", city))
        and len(mine) > 2 and one.date.date() not in diary.named and mine == diary.sets[one.show_id]
    ]  # fmt: skip
    if len(near) != 1:
        return There()
    theirs = near[0]
    answer = asking.choose(
        f"moved: {day}", f"The diary has this set in {_text(theirs.city) or 'no city'} on {theirs.date:%Y-%m-%d}, the file on {day}.", (SAME, OTHER), SAME, where=where
    )  # fmt: skip
    return There(theirs.show_id, change=(("date", day),)) if answer == SAME else There()


def _same_songs(one: Set, other: Set) -> bool:
    """Whether two sets are nearly the same, in the same order."""
    return bool(other) and _differing(one, other) <= (1 - _ALIKE) * len(one)


def _ask_differing(
    differing: list[tuple[Any, There, int, int]], matches: dict[Any, There], places: int, asking: Asking
) -> None:
    """Ask once about all sets that differ; each can be answered apart, by its day and town."""
    if not differing:
        return
    days = [f"{show.date:%Y-%m-%d}" + (f" {show.city}" if isinstance(show.city, str) else "") for show, *_ in differing]
    differ = sum(count for *_, count, _ in differing)
    apart = {
        day: asking.answers.get(f"diary: {day} {show.number}") for day, (show, *_) in zip(days, differing, strict=True)
    }
    at_once = KEEP
    if any(answer not in (KEEP, TAKE) for answer in apart.values()):
        many = counted(len(differing), "show")
        at_once = asking.choose(
            DIFFERS, f"The diary has other sets for {many} ({listed(days, 3).replace(chr(34), '')}): {differ} of {places} places differ.", (TAKE, KEEP), TAKE,
            todo=f'Answer "{TAKE}" or "{KEEP}"; a show apart by its key, such as "diary: {days[0]} {differing[0][0].number}".',
        )  # fmt: skip
    for day, (show, there, *_) in zip(days, differing, strict=True):
        answer = apart[day] if apart[day] in (KEEP, TAKE) else at_once
        matches[show.show_id] = There(there.show_id, write=answer == TAKE, change=there.change)


def _text(value: object) -> str:
    return value if isinstance(value, str) else ""
