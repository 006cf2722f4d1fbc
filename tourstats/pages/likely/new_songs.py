"""New to the band, in words and tables: the order, what does not fit, and how long songs took so far."""

from __future__ import annotations

from datetime import date

import pandas as pd

from tourstats.models import practice, song, swaps
from tourstats.models.practice.new_to_band import ENOUGH
from tourstats.pages.kit import tables_shown
from tourstats.pages.kit.tables_shown import Shown
from tourstats.problems import counted
from tourstats.tour import Tour

AHEAD = 5
"""Coming shows at which a song may be played."""
LABELS = {
    "place": "no.",
    "minutes": "minutes to learn",
    "begins": "first day",
    "ready": "show-ready on",
    "chance": f"in the next {AHEAD} shows",
    "played": "times the band played it",
}
ALL_KNOWN = (
    "You know every song of the repertoire: none is short of show-ready. Songs get their readiness in Corrections."
)


def joined(tour: Tour) -> date | None:
    """The day of the first show that was listened back to, from which on I take myself to be in the band."""
    days = tour.shows.date[tour.shows.show_id.isin(tour.reviews.show_id)]
    return days.min().date() if len(days) else None


def asked(tour: Tour, until: date, minutes_a_day: float, today: date, since: date | None) -> Shown:
    """In which order to learn what I do not know by a day, as HTML and as text.

    Parameters
    ----------
    tour
        The diary.
    until, today
        The day by when, and the first day.
    minutes_a_day
        For learning.
    since
        When I joined; None if not yet. What was asked about by heart counts as measured, not as claimed; a song played
        since then counts as known where nothing is said of its readiness.

    """
    tour = song.measured(tour)
    mine = practice.mine(tour.plays, tour.shows, since)
    learned = practice.took(tour.songs, tour.rehearsals, mine)
    ahead = swaps.coming(tour.plays, tour.shows, tour.songs, AHEAD, tour.show()) if len(tour.plays) else pd.DataFrame()
    order = practice.learning_order(
        tour.songs, tour.plays, minutes_a_day, until, today,
        chances=ahead if len(ahead) else None, ready=mine.song.unique(), steps=practice.my_steps(learned),
    )  # fmt: skip
    if not len(order):
        return Shown(f"<p>{ALL_KNOWN}</p>", lambda: ALL_KNOWN)
    sentences = [in_short(order, (until - today).days, minutes_a_day), pace(learned)]
    if not len(ahead):
        sentences.append("No set was played yet: every song counts as likely as the others.")
    fits, late = order[order.place.notna()], order[order.place.isna()]
    tables = [
        tables_shown.shown(fits, labels=LABELS, caption="In this order", most=len(order), empty="None fits."),
        *(
            [tables_shown.shown(late, ["song", "minutes", "chance", "played"], labels=LABELS, caption=NOT_IN_TIME)]
            if len(late)
            else []
        ),
    ]
    return Shown(
        "".join([*(f"<p>{sentence}</p>" for sentence in sentences), *(table.html for table in tables)]),
        lambda: "\n\n".join([" ".join(sentences), *(table.text for table in tables)]),
    )


NOT_IN_TIME = "Not in time, the least likely first"


def in_short(order: pd.DataFrame, days: int, minutes_a_day: float) -> str:
    """How many of the songs fit.

    Examples
    --------
    >>> order = pd.DataFrame({"place": pd.array([1, 2, None], dtype="Int64"), "minutes": [60.0, 60.0, 115.0]})
    >>> in_short(order, 3, 45)
    '3 days of 45 minutes, 3 songs to learn: 2 fit in 120 minutes; 1 does not.'

    """
    fits = order[order.place.notna()]
    late = len(order) - len(fits)
    first = f"{counted(days, 'day')} of {minutes_a_day:g} minutes, {counted(len(order), 'song')} to learn:"
    if not late:
        return f"{first} all fit in {fits.minutes.sum():.0f} minutes."
    rest = "1 does not" if late == 1 else f"{late} do not"
    return f"{first} {len(fits)} {'fits' if len(fits) == 1 else 'fit'} in {fits.minutes.sum():.0f} minutes; {rest}."


def pace(learned: pd.DataFrame) -> str:
    """How long songs took so far, or what is assumed.

    Examples
    --------
    >>> pace(pd.DataFrame({"minutes": [], "share": []}))[:63]
    'Assumed: 115 minutes from nothing to show-ready (common practic'

    """
    all_steps = sum(practice.STEPS.values())
    if len(learned) < ENOUGH:
        return (
            f"Assumed: {all_steps:.0f} minutes from nothing to show-ready (common practice, no source); "
            f"{counted(len(learned), 'song')} learned with its runs written down so far, from {ENOUGH} on your own "
            "pace is used."
        )
    low, middle, high = (learned.share.quantile(part) * all_steps for part in (0.25, 0.5, 0.75))
    return (
        f"At your own pace: {len(learned)} songs took you {middle:.0f} minutes in the middle ({low:.0f} to {high:.0f} "
        f"for half of them) from the first run to your first show; {all_steps:.0f} would be assumed. Runs that are not "
        "written down are not in it."
    )
