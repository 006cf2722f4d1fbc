"""Which hour of the job it is: what comes next, where to do it, and what is still open."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, datetime
from enum import Enum

import pandas as pd

from tourstats.models import song
from tourstats.pages.kit import show_written, tables_shown
from tourstats.pages.likely import words as likely
from tourstats.pages.song.words import due_in_words
from tourstats.problems import counted, listed
from tourstats.tables import in_order
from tourstats.tour import Tour, at_hand, night_of

RUN = 3
"""Songs to run that the page names; the page Likely swaps has the others."""
OVER_HOUR = 22
"""Hour from which on a show of today is taken to be over. Common practice, no source."""


class Hour(Enum):
    """What it is time for."""

    START = "start"
    AHEAD = "the set is not in"
    SET = "the set is in"
    OVER = "the show is over"
    LEG_OVER = "the leg is over"


@dataclass(frozen=True)
class Now:
    """The hour; up to three lines; the ways on as page and words, the first one first; what is open."""

    hour: Hour
    lines: tuple[str, ...]
    ways: tuple[tuple[str, str], ...]
    open: tuple[str, ...] = ()
    test: str = ""
    """What is to be asked today of the shapes of songs; empty where nothing is."""


def now(tables: Tour, at: datetime | None = None) -> Now:
    """What it is time for.

    Parameters
    ----------
    tables
        The whole diary.
    at
        Day and hour on the wall; by default those of this machine.

    Examples
    --------
    >>> now(Tour.of(), datetime(2031, 3, 4, 16)).hour
    <Hour.START: 'start'>
    >>> shows = pd.DataFrame({"show_id": [1], "date": ["2031-03-04"], "city": ["Ostby"]})
    >>> planned = pd.DataFrame({"show_id": [1], "position": [1], "song": ["Ferry"]})
    >>> tables = Tour.of(songs=planned[["song"]], shows=shows, planned=planned)
    >>> [now(tables, datetime(2031, 3, 4, hour)).hour.value for hour in (16, 23)]
    ['the set is in', 'the show is over']

    """
    at = at or datetime.now()  # noqa: DTZ005  # the clock on the wall
    if not len(tables.shows):
        return _start()
    shows = in_order(tables.shows)
    if tables.next_show() is None:
        return _leg_over(tables, shows)
    ahead = at_hand(tables, night_of(at))
    show = shows[shows.show_id == ahead].iloc[0]
    has_set = bool((tables.planned.show_id == ahead).any())
    if has_set and _is_over(show.date.date(), at):
        return _over(tables, show)
    said = _set(tables, shows, show) if has_set else _ahead(tables, show, at)
    return replace(said, test=_test(tables, ahead if has_set else None, at))


def _test(tables: Tour, show_id: object, at: datetime) -> str:
    """How much is to be asked today: of tonight's songs, or before the set is in of all, the likeliest first."""
    if not len(tables.sections):
        return ""
    tonight = None if show_id is None else song.tonight_wanted(tables, show_id)
    due = song.to_test(tables, pd.Timestamp(at.date()), tonight)
    whose = "all songs" if tonight is None else "tonight's songs"
    return f"of {whose}, {due_in_words(due)}." if len(due) else ""


def _is_over(day: date, at: datetime) -> bool:
    """Whether a show of that day is over; a night goes on until morning."""
    today = night_of(at)
    return day < today or (day == today and (at.hour >= OVER_HOUR or today < at.date()))


def _start() -> Now:
    return Now(
        Hour.START,
        (
            "There is no show in your diary yet.",
            "Bring what you have: a spreadsheet, last night's set, or songs.",
        ),
        (("start", "Start with your own tour"), ("show-day", "Only tonight's set")),
    )


def _ahead(tables: Tour, show: pd.Series, at: datetime) -> Now:
    lines = [f"Next: {show_written.named(show)}.", "The set is not in yet."]
    if show.date.date() < at.date():
        lines = [f"{show_written.named(show)}: no set was written down."]
    if len(tables.plays):
        said = likely.forecast(tables)
        run = likely.to_run(said, RUN).song.tolist()
        if run:
            lines.append(f"Most likely to come in: {listed(run)}.")
    ways = (("likely-swaps", "Likely swaps: what to run"), ("show-day", "The set is here"), ("rotation", "Rotation"))
    return Now(Hour.AHEAD, tuple(lines), ways, _open(tables))


def _set(tables: Tour, shows: pd.DataFrame, show: pd.Series) -> Now:
    titles = tables.planned.song[tables.planned.show_id == show.show_id]
    before = shows.show_id[shows.show_id.isin(tables.plays.show_id)].tail(1)
    last = set(tables.plays.song[tables.plays.show_id.isin(before)])
    came = list(dict.fromkeys(song for song in titles if song not in last)) if last else []
    lines = [
        f"{show_written.named(show)}.",
        f"The set is in: {counted(len(titles), 'song')}" + (f", {len(came)} came in." if last else "."),
    ]
    ways = (
        ("show-day", "Show day: what is new, what to run"),
        ("show-day?lists=1", "Lists to hand out and to tick off"),
        ("after-the-show", "After the show"),
    )
    return Now(Hour.SET, tuple(lines), ways, _open(tables))


def _over(tables: Tour, show: pd.Series) -> Now:
    lines = (f"{show_written.named(show)}.", "What was played is not saved yet; two minutes are enough.")
    ways = (("after-the-show", "After the show: log it"), ("show-day", "Show day"), ("likely-swaps", "Likely swaps"))
    return Now(Hour.OVER, lines, ways, _open(tables))


def _leg_over(tables: Tour, shows: pd.DataFrame) -> Now:
    last = shows[shows.show_id.isin(tables.plays.show_id)].iloc[-1]
    leg = f"The leg {last.leg} is over" if isinstance(last.leg, str) else "No show is ahead"
    these = shows.show_id[shows.leg == last.leg] if isinstance(last.leg, str) else shows.show_id
    played = tables.plays[tables.plays.show_id.isin(these)]
    reviewed = tables.reviews[tables.reviews.show_id.isin(these)].drop_duplicates(["show_id", "song"])
    performances = played.drop_duplicates(["show_id", "song"])
    lines = (
        f"{leg}: {counted(played.show_id.nunique(), 'show')}, the last one {show_written.named(last)}.",
        f"{len(reviewed)} of {len(performances)} performances are reviewed.",
    )
    ways = (("leg-review", "Leg review"), ("playing-trends", "Playing trends"), ("show-day", "Show day: another show"))
    return Now(Hour.LEG_OVER, lines, ways, _open(tables))


def _open(tables: Tour) -> tuple[str, ...]:
    """What waits: shows that were left out of the log, shows of this leg without a review, facts of songs."""
    shows = in_order(tables.shows)
    played = shows[shows.show_id.isin(tables.plays.show_id)]
    waiting = []
    if len(played):
        before = shows.loc[: played.index[-1]]
        left = before[before.show_id.isin(tables.planned.show_id) & ~before.show_id.isin(played.show_id)]
        if len(left):
            waiting.append(
                f"{counted(len(left), 'show')} not logged (the set of {tables_shown.cell(left.date.iloc[-1])})"
            )
        leg = played.leg.iloc[-1]
        these = played[played.leg == leg] if isinstance(leg, str) else played
        waits = these[~these.show_id.isin(tables.reviews.show_id)]
        if len(waits):
            latest = tables_shown.cell(waits.date.iloc[-1])
            which = f", most recently {latest}" if len(waits) > 1 else f" ({latest})"
            waiting.append(f"{counted(len(waits), 'show')} not reviewed{which}")
    active = tables.songs[tables.songs.status == "active"] if "status" in tables.songs else tables.songs
    for column, words in (("minutes", "a length"), ("tempo_bpm", "a tempo")):
        without = int(active[column].isna().sum()) if column in active else 0
        if without:
            waiting.append(f"{counted(without, 'song')} without {words}")
    return tuple(waiting)
