"""The titles of a file matched to the repertoire: what is surely one is taken, what may be one is asked about."""

# ruff: noqa: E501  # a question is read in one piece
from __future__ import annotations

from collections import defaultdict

from tourstats.problems import listed
from tourstats.reading.account import NEW, SKIP
from tourstats.reading.asking import Asking
from tourstats.reading.cells import tight
from tourstats.reading.histories import Place, Whole
from tourstats.reading.known import Known
from tourstats.reading.songs import one_title
from tourstats.reading.titles import SURE, Match

ALL_UNKNOWN = "unknown titles"
"""Key by which every title that is near no other is answered at once."""
EACH = "each"
_SEVERAL = 3
_LIKELY = 88.0
_TODO = 'Answer with the title, "new" for a new song, or "skip" to leave it out.'


def match(whole: Whole, asking: Asking, known: Known) -> None:
    """Give each place the title that the repertoire has; ask about those it may not have."""
    if known.titles is None:
        return
    theirs: dict[str, list[Place]] = defaultdict(list)
    for one in whole.places:
        theirs[one.song].append(one)
    unknown: list[str] = []
    for title, places in theirs.items():
        found = known.titles.same(title) or one_title(title, known.titles)
        if found.verdict == SURE and found.song is not None:
            _name(places, found.song)
        elif found.candidates:
            _ask(whole, title, places, found, asking)
        elif len({one.night for one in places}) < 2:
            unknown.append(title)
    _ask_unknown(whole, {title: theirs[title] for title in unknown}, asking)
    whole.places = [one for one in whole.places if one.written.song]


def _name(places: list[Place], song: str) -> None:
    for one in places:
        if tight(song) != tight(one.song) and not one.written.remark:
            one.written.remark = one.written.remark
        one.written.song = song


def _ask(whole: Whole, title: str, places: list[Place], found: Match, asking: Asking) -> None:
    best = found.candidates[0] if found.score >= _LIKELY and len(places) < 2 else NEW  # what comes again is a song
    answer = asking.choose(
        f"title: {title}", f'"{title}" may not be in the repertoire. The nearest: {listed(found.candidates)}.', (*found.candidates, NEW, SKIP),
        best, todo=_TODO, free=True, where=whole.draft.where(places[0].item.at), value=title,
    )  # fmt: skip
    _answered(whole, places, answer)
    for one in places:
        one.written.sure = f"title: {title}" not in asking.open


def _ask_unknown(whole: Whole, unknown: dict[str, list[Place]], asking: Asking) -> None:
    """Ask about titles that are near none and stand once: all at once if there are several."""
    left = {title: places for title, places in unknown.items() if f"title: {title}" not in asking.answers}
    at_once = str(asking.answers.get(ALL_UNKNOWN, "")).strip()
    if len(left) >= _SEVERAL and at_once not in (NEW, SKIP, EACH):
        asking.choose(
            ALL_UNKNOWN, f"{len(left)} titles are near none of the repertoire: {listed(list(left), 6)}.", (NEW, SKIP, EACH), NEW,
            todo=f'Answer "{NEW}" if they are all new songs, "{SKIP}" to leave them out, or "{EACH}" to be asked about each.',
        )  # fmt: skip
        return
    for title, places in unknown.items():
        if title in left and at_once in (NEW, SKIP):
            _answered(whole, places, at_once)
            continue
        answer = asking.choose(
            f"title: {title}", f'"{title}" may not be in the repertoire. No title is near.', (NEW, SKIP), NEW,
            todo=_TODO, free=True, where=whole.draft.where(places[0].item.at), value=title,
        )  # fmt: skip
        _answered(whole, places, answer)


def _answered(whole: Whole, places: list[Place], answer: str) -> None:
    if answer == SKIP:
        whole.draft.take((one.item.at for one in places), "left out", "as you said")
        _name(places, "")
    elif answer != NEW:
        _name(places, answer)
