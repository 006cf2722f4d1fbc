"""Tempo over a tour, in words and as tables: what crept, and what goes with playing faster."""

from __future__ import annotations

import pandas as pd

from tourstats.models import listening
from tourstats.pages.kit import tables_shown
from tourstats.pages.listening.words import crept
from tourstats.problems import counted
from tourstats.tour import Tour

NOTHING = (
    "No tempo was measured yet. Listen to the recording of a show on the page *Listening*; from four recordings of a "
    "song on, this says how its tempo goes."
)
EFFECTS = {
    "position": "at the end of the set, against its start",
    "layoff": "after ten shows out, against none",
    "after faster": "after a song that is 20% faster",
    "date": "at the last show, against the first",
}


def words(tour: Tour) -> str:
    """What crept over the tour, and what goes with playing faster; what is not known yet is said."""
    if not tour.measured.tempo_sure.astype(bool).any():
        return NOTHING
    sentence = crept(tour) or (
        f"Not enough recordings yet to say how tempo goes: it takes {listening.FEWEST} of one song, at "
        f"{listening.FEWEST} shows."
    )
    found = listening.effects(tour.measured, tour.plays, tour.shows, tour.songs)
    if not len(found):
        shows = tour.measured.show_id[tour.measured.tempo_sure.astype(bool)].nunique()
        more = f"What goes with playing faster is told from {listening.FEWEST_SHOWS} recorded shows on; so far {shows}."
        return f"{sentence} {more}"
    clear = found[(found.low > 0) | (found.high < 0)]
    if not len(clear):
        return f"{sentence} Nothing that was looked at goes with playing faster or slower for sure."
    return " ".join([sentence, *(effect_words(row) for row in clear.itertuples())])


def effect_words(row: object) -> str:
    """One circumstance as a sentence.

    Examples
    --------
    >>> from types import SimpleNamespace
    >>> effect_words(SimpleNamespace(effect="room: festival", percent=1.42, low=0.8, high=2.0))
    'At a festival the same songs are 1.4% faster (likely 0.8 to 2.0%).'

    """
    effect, percent = str(getattr(row, "effect", "")), float(getattr(row, "percent", 0.0))
    low, high = sorted(abs(float(getattr(row, name, 0.0))) for name in ("low", "high"))
    kind = effect.removeprefix("room: ")
    where = EFFECTS.get(effect, f"at {'an' if kind[:1] in 'aeiou' else 'a'} {kind}" if kind != "other" else "elsewhere")
    way = "faster" if percent > 0 else "slower"
    return (
        f"{where[0].upper()}{where[1:]} the same songs are {abs(percent):.1f}% {way} (likely {low:.1f} to {high:.1f}%)."
    )


def table(tour: Tour, leg: object = None) -> pd.DataFrame:
    """Songs recorded often enough, those that crept most first."""
    rows = listening.creep(tour.measured, tour.plays, tour.shows, leg)
    rows = rows.sort_values("change", key=abs, ascending=False, kind="stable", ignore_index=True)
    made = pd.DataFrame({"song": rows.song, "recorded": rows.performances, "tempo": rows.tempo_bpm.round(1)})
    likely = [
        f"{low + 0.0:+.1f} to {high + 0.0:+.1f}"
        for low, high in zip(rows.low.round(1), rows.high.round(1), strict=True)
    ]
    return made.assign(**{"change, %": rows.change.round(1), "likely, %": likely, "clear": rows.clear})


def shown(tour: Tour) -> object:
    """The same for a notebook."""
    return tables_shown.shown(table(tour), empty="No song was recorded often enough yet.", most=15)


def of_leg(tour: Tour, leg: object) -> str:
    """The line of the leg review; empty while there is nothing to say.

    A leg is short: the tempo is told from the shows of the leg itself.
    """
    count = tour.measured[tour.measured.tempo_sure.astype(bool)].show_id.isin(tour.shows.show_id[tour.shows.leg == leg])
    said = crept(tour, leg)
    return f"{said} ({counted(int(count.sum()), 'performance')} with a sure tempo.)" if said else ""
