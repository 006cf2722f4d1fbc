"""Mistakes at transitions: what was found at the end of one song and the start of the next, and nothing else of either.

A song that often goes wrong has a high rate after every other. What belongs to a transition is what was found at its
seam: a mistake whose kind is "entry" or whose section is the first of the second song, or whose kind is "ending" or
whose section is the last of the first; and that is held against what both songs' own starts and endings bring.
"""

from __future__ import annotations

import pandas as pd

from tourstats.models.estimates import gamma_poisson
from tourstats.models.playing.performances import counts
from tourstats.tables import checked, finished, in_sets
from tourstats.tour import Tour

ARROW = " \N{RIGHTWARDS ARROW} "
KEYS = ["show_id", "song"]


@finished
def at_transitions(tour: Tour) -> pd.DataFrame:
    """Mistakes at each transition, against what its two songs bring at their own starts and endings.

    Parameters
    ----------
    tour
        What is known; the first listening counts. From shapes of songs (`sections`) their first and last section are
        known; else only the kind of a mistake says. The change into the encore is no transition.

    Returns
    -------
    DataFrame
        A row a transition of which the second song was reviewed, in order of first appearance.
            transition  str    both titles
            reviewed    int    times that
            mistakes    int    found at its seam
            own         float  what the two songs bring there by themselves, at as many passes
            ratio       float  found against that, drawn towards all transitions
            low, high   float  95 % interval of the ratio

    Examples
    --------
    >>> plays = pd.DataFrame({"show_id": [1, 1], "position": [1, 2], "song": ["Ferry", "Tin Rook"]})
    >>> shows = pd.DataFrame({"show_id": [1], "date": ["2031-03-04"]})
    >>> kinds = pd.DataFrame({"show_id": 1, "song": "Tin Rook", "kind": ["entry", "tempo"], "severity": 1})
    >>> tour = Tour.of(plays=plays, shows=shows, reviews=plays, mistakes=kinds)
    >>> at_transitions(tour)[["transition", "reviewed", "mistakes"]]
             transition  reviewed  mistakes
    0  Ferry → Tin Rook         1         1

    """
    rows = passes(tour.mistakes, tour.reviews, tour.plays, tour.shows, tour.sections)
    table = rows.groupby("transition", sort=False).agg(
        reviewed=("mistakes", "size"), mistakes=("mistakes", "sum"), own=("own", "sum")
    )
    table = table.reset_index()
    model = gamma_poisson(table.mistakes, table.own)
    low, high = model.interval(table.mistakes, table.own)
    return table.assign(ratio=model.mean(table.mistakes, table.own), low=low, high=high)


def passes(
    mistakes: pd.DataFrame,
    reviews: pd.DataFrame,
    plays: pd.DataFrame,
    shows: pd.DataFrame,
    sections: pd.DataFrame | None = None,
) -> pd.DataFrame:
    """Each reviewed pass from one song to the next: show_id, song (the second), transition, mistakes and own."""
    heard = counts(reviews, mistakes)[KEYS]
    starts, ends = (_rates(heard, found) for found in at_edges(mistakes, sections))
    sets = in_sets(plays, shows)[0]
    before = sets.groupby("at")[["song", "encore"]].shift(1)
    rows = sets[KEYS].assign(before=before.song, transition=before.song + ARROW + sets.song)
    rows = rows[before.song.notna() & ~(sets.encore & ~before.encore.eq(True))].drop_duplicates(KEYS)
    rows = rows.merge(starts, on=KEYS)  # the second song was reviewed
    first = ends.rename(columns={"song": "before"})
    rows = rows.merge(first, how="left", on=["show_id", "before"], suffixes=("", "_end")).fillna(
        {"mistakes_end": 0, "own_end": 0}
    )
    rows = rows.assign(mistakes=(rows.mistakes + rows.mistakes_end).astype(int), own=rows.own + rows.own_end)
    return rows[[*KEYS, "transition", "mistakes", "own"]]


def at_edges(mistakes: pd.DataFrame, sections: pd.DataFrame | None) -> tuple[pd.DataFrame, pd.DataFrame]:
    """What was found at the start of a song, and at its end: the rows of both."""
    faults = checked(mistakes, "mistakes")
    faults = faults[faults.listening == 1]
    edges = [pd.Series(dtype="str")] * 2
    if sections is not None and len(sections):
        shape = sections.sort_values("position").drop_duplicates(["song", "position"]).groupby("song").name
        edges = [shape.first(), shape.last()]
    at_start, at_end = (
        (faults.kind == kind) | (faults.section.notna() & (faults.section == faults.song.map(edge)))
        for kind, edge in zip(("entry", "ending"), edges, strict=True)
    )
    return faults[at_start], faults[at_end & ~at_start]


def _rates(heard: pd.DataFrame, found: pd.DataFrame) -> pd.DataFrame:
    """Each reviewed performance with what was found there, and the song's own rate, drawn towards all songs."""
    tally = found.groupby(KEYS).size().rename("mistakes").reset_index()
    rows = heard.merge(tally, how="left", on=KEYS).fillna({"mistakes": 0})
    songs = rows.groupby("song", sort=False).mistakes.agg(["sum", "size"])
    model = gamma_poisson(songs["sum"], songs["size"])
    own = pd.Series(model.mean(songs["sum"], songs["size"]), songs.index)
    return rows.assign(own=rows.song.map(own).astype(float))
