"""Finding a song by what was typed, and songs, towns, venues, shows and words of notes by one field."""

from __future__ import annotations

from collections.abc import Mapping
from difflib import get_close_matches
from typing import Any

import pandas as pd

from tourstats.models.song.said import joined, told
from tourstats.problems import UnknownSongProblem
from tourstats.tables import in_order
from tourstats.tour import Tour

_DAY = "%d %B %Y %b %a"
"""A day as people type it."""


def one(tour: Tour, title: str) -> str:
    """Return the song's title as it stands in the repertoire, however it was written.

    Raises
    ------
    UnknownSongProblem
        If no title and no other name is written so; it names the nearest.

    """
    known = {_folded(song): song for song in tour.songs.song}
    for song, others in zip(tour.songs.song, tour.songs.aliases, strict=True):
        for other in str(others).split(";") if isinstance(others, str) else ():
            known.setdefault(_folded(other), song)
    if _folded(title) in known:
        return str(known[_folded(title)])
    raise UnknownSongProblem.of(title, get_close_matches(title, tour.songs.song.tolist()))


def search(tour: Tour, words: str) -> pd.DataFrame:
    """Find songs, towns, venues, shows and words in what was said.

    Parameters
    ----------
    tour
        Everything.
    words
        What is looked for; every word has to be there, in any order and case; a day may be written in words.

    Returns
    -------
    DataFrame
        kind ("song", "venue", "show", "said"), name (to open it: title, venue or show_id as text), words (what is
        found there), in the order songs, venues, shows and what was said, the newest first.

    Examples
    --------
    >>> tour = Tour.of(songs=pd.DataFrame({"song": ["Ferry", "Tin Rook"]}))
    >>> search(tour, "fer").values.tolist()
    [['song', 'Ferry', 'Ferry']]

    """
    dated = in_order(tour.shows).iloc[::-1]
    day_of = dict(zip(dated.show_id, dated.date.dt.strftime("%Y-%m-%d"), strict=True))
    asked = [_folded(word) for word in words.split()]
    songs = [("song", row.song, _with_others(row.song, row.aliases)) for row in tour.songs.itertuples()]
    venues = [("venue", row.venue, joined(row.venue, row.city)) for row in tour.venues.itertuples()]
    shows = [
        ("show", str(row.show_id), joined(f"{row.date:%Y-%m-%d}", row.city, row.venue), f"{row.date:{_DAY}}")
        for row in dated.itertuples()
    ]
    said = [("said", row.song, f"{row.song}: {row.words}") for row in told(tour).itertuples()]
    others = tour.notes[tour.notes.about != "song"].iloc[::-1]
    said += [("said", _about(row), row["text"]) for row in others.to_dict("records")]
    sets = pd.concat([tour.planned, tour.plays]).dropna(subset="remark").drop_duplicates(["show_id", "song", "remark"])
    said += [
        ("said", row.song, f"{row.song}: {row.remark} (set of {day_of[row.show_id]})") for row in sets.itertuples()
    ]
    every = (*songs, *venues, *shows, *said) if asked else ()
    found = [row[:3] for row in every if all(word in _folded(" ".join(row[2:])) for word in asked)]
    return pd.DataFrame(found, columns=["kind", "name", "words"], dtype="str")


def _about(note: Mapping[str, Any]) -> str:
    """What a note that is not on one song is about, to open it."""
    for name in ("song", "venue", "room"):
        if isinstance(note[name], str):
            return str(note[name])
    return "" if pd.isna(note["show_id"]) else str(note["show_id"])


def _with_others(song: str, aliases: object) -> str:
    return f"{song} ({aliases.replace(';', ',')})" if isinstance(aliases, str) and aliases else song


def _folded(text: str) -> str:
    return " ".join(str(text).casefold().split())
