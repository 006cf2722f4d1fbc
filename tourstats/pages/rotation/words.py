"""The rotation in words and lists: what is out longest and was not run, how many songs change, what is always in."""

from __future__ import annotations

import pandas as pd

from tourstats.models import rotation
from tourstats.pages.kit import tables_shown
from tourstats.problems import counted
from tourstats.tour import Tour

ALL_RUN = "No song is out that was not run since."
NOTHING = (
    "No set was played yet. Write down the first one on the page *After the show*, or take in a file of past sets."
)


def out_and_not_run(tables: Tour) -> pd.DataFrame:
    """Active songs that are out and were not run since they were last played, the longest first, as from `layoffs`."""
    layoffs = rotation.layoffs(tables.plays, tables.shows, tables.songs, tables.rehearsals)
    run_since = layoffs.rehearsed.notna() & (layoffs.rehearsed > layoffs.last_played)
    return layoffs[(layoffs.status == "active") & (layoffs.layoff_shows > 0) & ~run_since].reset_index(drop=True)


def in_short(tables: Tour) -> str:
    """What today's diary says of the rotation, in two or three sentences."""
    nights = rotation.changes_a_night(tables.plays, tables.shows)
    if not len(tables.plays):
        return NOTHING
    songs, out = tables.songs[tables.songs.status == "active"], out_and_not_run(tables)
    sentences = []
    if len(out):
        first = out.iloc[0]
        sentences.append(
            f"**{len(out)} of {len(songs)} active songs are out and have not been run since**; the longest is "
            f"*{first.song}*: {counted(first.layoff_shows, 'show')}, {counted(first.layoff_days, 'day')}."
        )
    if len(nights):
        usual = nights.came_in.quantile([0.1, 0.5, 0.9]).round().astype(int).tolist()
        sentences.append(f"On a usual night {usual[1]} songs come in; four nights in five, {usual[0]} to {usual[2]}.")
    round_ = rotation.goes_round(tables.plays, tables.shows, tables.songs)
    back = min(10, len(round_))
    sentences.append(
        f"The last {'show' if back == 1 else f'{back} shows'} went through {round_.share.iloc[back - 1]:.0%} of the "
        "active repertoire."
    )
    return " ".join(sentences)


def out_table(tables: Tour, most: int = 20) -> object:
    """The list a musician wants first: what is out longest and was not run, with how long it is usually out."""
    table = out_and_not_run(tables).assign(usual=usual)
    columns = ["song", "layoff_shows", "layoff_days", "usual", "rehearsed_days", "rehearsed_way"]
    words = {"usual": "usually out, shows"}
    return tables_shown.shown(table, columns, labels=words, most=most, empty=ALL_RUN)


def planned_against_played(tables: Tour) -> str:
    """How often the set that was handed out is the set that was played, and what changed on the way."""
    both = rotation.planned_and_played(tables.planned, tables.plays, tables.shows)
    if not len(both):
        return "No show has both a planned and a played set yet."
    as_planned = int((both.dropped.map(len) + both.added.map(len) == 0).sum())
    dropped = both.dropped.explode().dropna().value_counts()
    often = f" Dropped most often: *{dropped.index[0]}* ({_times(dropped.iloc[0])})." if len(dropped) else ""
    return f"{as_planned} of {len(both)} sets were played as they were handed out.{often}"


def usual(layoffs: pd.DataFrame) -> list[str]:
    """How long each song of a table of layoffs is usually out, in words.

    Examples
    --------
    >>> usual(pd.DataFrame({"usual_low": [4, None, 4], "usual_high": [9, None, 4], "returns": [5, 1, 3]}))
    ['4 to 9', 'came back once so far', '4']

    """
    return [_usual(row) for row in layoffs.itertuples()]


def _usual(row: pd.Series) -> str:
    if pd.isna(row.usual_low):
        return f"came back {_times(row.returns)} so far" if row.returns else "never came back yet"
    high = "longer" if pd.isna(row.usual_high) else f"{row.usual_high:.0f}"
    low = f"{row.usual_low:.0f}"
    return low if low == high else f"{low} to {high}"


def _times(count: int) -> str:
    return {1: "once", 2: "twice"}.get(count, f"{count} times")
