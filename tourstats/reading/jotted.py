"""Lines around a set that tell of the day in numbers: times, counts, money. Songs move; these stay at the edge."""

# ruff: noqa: RUF001  # the signs that people type are meant

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Container, Iterable, Sequence

from tourstats.problems import counted
from tourstats.reading.cells import LABEL, tight
from tourstats.reading.known import Known
from tourstats.reading.layout import Draft, Item, Night

SONGS, REMARKS = "songs", "remarks"
_CLOCK = re.compile(
    r"(?<![\d:.])(?:(?:1\d|2[0-4])[:.h]\s?[0-5]\d|(?:[01]?\d|2[0-4])(?:[:.]\d\d)?\s?(?:[ap]\.?m\b|uhr\b|h\b))",
    re.IGNORECASE,
)
_LENGTH = re.compile(r".*\d[:'’]\d\d\W*")
"""What ends in a running time, as a clock may look too."""
_FEW_LINKS = 2
_LONGEST = 100
"""Letters of such a line."""
_MOST_LENGTHS = 0.3
"""Share of the lines from which running times stand behind songs."""
_COUNT = re.compile(r"[^\W\d_][^\d:]*:\s*\d+\W*|.*\D\d+[.,]\d\d\W*")
"""A count with its name, "Songs: 18", or a sum of money."""
_PLAN = re.compile(r"[^,;]*\d[^,;]*[,;].*|[^,;]*[,;].*\d.*")
"""Two parts, and a number in one: "hotel at the bridge, breakfast from 7"."""
_WORD = re.compile(r"[^\W\d_]{2,}")


def leave_out(draft: Draft, known: Known) -> None:
    """Leave out what stands at the edge of each of its shows, and tells times or counts; ask about the rest."""
    forms: dict[str, list[Item]] = defaultdict(list)
    for item in draft.items():
        if item.kind != LABEL and not item.numbered and not item.marked and tight(item.text) not in known.songs:
            forms[_outline(item.text)].append(item)
    lengths = [_LENGTH.fullmatch(item.text) is not None for item in draft.items()]
    timed = sum(lengths) > _MOST_LENGTHS * len(lengths)
    titles = {tight(item.text) for item in draft.items()} | known.songs
    reasons = {form: why for form, items in forms.items() if (why := _reason(form, items, titles, timed=timed))}
    while True:
        edge = {id(item) for night in draft.nights for item in _edge(night.items, reasons)}
        inside = [form for form in reasons if not all(id(item) in edge for item in forms[form])]
        if not inside:
            break
        reasons = {form: why for form, why in reasons.items() if form not in inside}
    counts = sum(item.numbered for item in draft.items()) >= _NUMBERED * sum(1 for _ in draft.items())
    for form, why in reasons.items():
        if why != _ASK or counts or asked(draft, forms[form][0], counted(len(forms[form]), "set")) == REMARKS:
            _drop(draft.nights, draft, forms[form], why)


_ASK, _NUMBERED = "said beside the set", 0.6
"""Why a line is asked about, and the share of numbered ones from which what has no number is none of them."""


def _reason(form: str, items: Sequence[Item], titles: Container[str], *, timed: bool) -> str:
    """Why a line may be no song: it tells a time, counts, or counts otherwise in other shows; or it has to be asked."""
    text = items[0].text
    links = re.split(r"\s[·•|]\s", text[:_LONGEST])
    if len(links) > _FEW_LINKS and not any(tight(one) in titles for one in links):
        return "links"
    numbers = {tuple(re.findall(r"\d+", item.text)) for item in items}
    if len(text) > _LONGEST or "#" not in form or not _WORD.search(text) or (timed and _LENGTH.fullmatch(text)):
        return ""
    if _CLOCK.search(text):
        return "a time of the day"
    if _COUNT.fullmatch(text) or len(numbers) > 1:
        return "a count"
    return _ASK if len(items) > 1 and _PLAN.fullmatch(text) else ""


def _edge(items: Sequence[Item], forms: Container[str]) -> list[Item]:
    """What stands above the first song or below the last, but for who wrote it, in brackets; nothing if all does."""
    inner = [
        at
        for at, item in enumerate(items)
        if item.kind != LABEL
        and _outline(item.text) not in forms
        and not (item.text[:1] in "([" and item.text[-1:] in ")]")
    ]
    return [item for at, item in enumerate(items) if inner and not inner[0] <= at <= inner[-1] and item.kind != LABEL]


def _outline(text: str) -> str:
    """A text with a sign for each number."""
    return re.sub(r"\d+", "#", text.casefold().strip())


def asked(draft: Draft, item: Item, edge: str) -> str:
    """Ask about what stands at the edge of shows and reads like no song: "Walk-in music"."""
    return draft.asking.choose(
        f"song: {item.text}",
        f'"{item.text[:60]}" stands at the edge of {edge}: is it a song?',
        (SONGS, REMARKS),
        REMARKS,
        where=draft.where(item.at),
        value=item.text,
    )


def _drop(nights: Iterable[Night], draft: Draft, items: Sequence[Item], why: str) -> None:
    gone = {id(item) for item in items}
    draft.take((item.at for item in items), "remark", why)
    for night in nights:
        night.items = [item for item in night.items if id(item) not in gone]
