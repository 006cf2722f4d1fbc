"""Transitions: how often each was played, what went wrong at its seam, and what was said of it."""

from __future__ import annotations

import pandas as pd

from tourstats.models import lists, playing, rotation
from tourstats.models.song.said import sentence
from tourstats.tables import in_order, in_sets
from tourstats.tour import Tour

PAIR = ["song", "next_song"]


def crossings(tour: Tour, song: str | None = None) -> pd.DataFrame:
    """How each transition went.

    Parameters
    ----------
    tour
        What was played and found in it.
    song
        Only those into it and out of it.

    Returns
    -------
    DataFrame
        One row per transition that was played, the latest first.
            song, next_song  str
            times            int       how often it was played; the change into the encore is no transition
            last             datetime  day of the last time
            reviewed         int       of them, how often the second song was listened to
            mistakes         Int64     found at the seam then; missing where nobody listened
            found, found_on            the last finding there, in words, and its day
            tried            datetime  day on which the band last tried it, as ticked off
            notes            str       what was said of it, joined

    Examples
    --------
    >>> plays = pd.DataFrame({"show_id": 1, "position": [1, 2], "song": ["Ferry", "Tin Rook"]})
    >>> late = pd.DataFrame({"show_id": 1, "song": ["Tin Rook"], "kind": "entry", "remark": "late", "severity": 1})
    >>> shows = pd.DataFrame({"show_id": [1], "date": ["2031-03-04"]})
    >>> tour = Tour.of(songs=plays[["song"]], shows=shows, plays=plays, reviews=plays, mistakes=late)
    >>> crossings(tour)[["song", "next_song", "times", "mistakes", "found"]].values.tolist()
    [['Ferry', 'Tin Rook', 1, 1, 'entry: late']]

    """
    pairs = _pairs(tour)
    if song is not None:
        pairs = pairs[(pairs.song == song) | (pairs.next_song == song)]
    heard = tour.reviews[tour.reviews.listening == 1][["show_id", "song"]].drop_duplicates()
    heard = heard.rename(columns={"song": "next_song"}).assign(heard=True)
    pairs = pairs.merge(heard, how="left", on=["show_id", "next_song"])
    table = pairs.groupby(PAIR, as_index=False).agg(
        times=("date", "size"), last=("date", "max"), reviewed=("heard", "count")
    )
    found = at_seams(tour, pairs)
    latest = found.drop_duplicates(PAIR).set_index(PAIR)
    keys = pd.MultiIndex.from_frame(table[PAIR])
    counted = found.groupby(PAIR).size().reindex(keys).fillna(0).astype("Int64").to_numpy()
    table["mistakes"] = pd.array(counted, dtype="Int64")
    table["mistakes"] = table.mistakes.mask((table.reviewed == 0) & (table.mistakes == 0))
    for column, name in (("found", "words"), ("found_on", "date")):
        table[column] = latest[name].reindex(keys).array
    said = tour.notes[tour.notes.about == "transition"].groupby(PAIR).text.agg("; ".join)
    table["tried"] = _tried(tour, table)
    table["notes"] = said.reindex(keys).astype("str").array
    return table.sort_values(["last", "times"], ascending=False, kind="stable", ignore_index=True)


def at_seams(tour: Tour, pairs: pd.DataFrame | None = None) -> pd.DataFrame:
    """What was found at transitions, the newest first and of one night the loudest.

    Parameters
    ----------
    tour
        As for `crossings`.
    pairs
        show_id, song, next_song and date of those that are asked for; all that were played if not given.

    Returns
    -------
    DataFrame
        A row a finding of the first listening at the end of a song or the start of the next: show_id, date, song,
        next_song, severity, words.

    """
    pairs = _pairs(tour) if pairs is None else pairs
    starts, ends = playing.at_edges(tour.mistakes, tour.sections)
    starts = starts.rename(columns={"song": "next_song"})
    rows = pd.concat([starts.merge(pairs, on=["show_id", "next_song"]), ends.merge(pairs, on=["show_id", "song"])])
    rows = rows.assign(words=[sentence(row) for row in rows.to_dict("records")])
    order = {show_id: at for at, show_id in enumerate(in_order(tour.shows).show_id)}
    rows = rows.assign(at=rows.show_id.map(order)).sort_values(["at", "severity"], ascending=False, kind="stable")
    return rows[["show_id", "date", *PAIR, "severity", "words"]].reset_index(drop=True)


def _pairs(tour: Tour) -> pd.DataFrame:
    """Every pass from one song to the next: show_id, date, song, next_song."""
    plays, shows = in_sets(tour.plays, tour.shows)
    pairs = rotation.following(plays).merge(shows[["show_id", "date"]], on="show_id", validate="many_to_one")
    return pairs[["show_id", "date", *PAIR]].drop_duplicates(["show_id", *PAIR], ignore_index=True)


def _tried(tour: Tour, pairs: pd.DataFrame) -> pd.Series:
    """Day on which each was last ticked off as tried with the band."""
    ticks = tour.ticks.merge(tour.shows[["show_id", "date"]], on="show_id").groupby("thing").date.max()
    keys = [lists.key("transition", row.song, row.next_song) for row in pairs.itertuples()]
    return pd.Series(ticks.reindex(keys).array, index=pairs.index, dtype="datetime64[us]")
