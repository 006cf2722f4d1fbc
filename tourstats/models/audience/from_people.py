"""What the people who were there have heard: who was where, never who anybody is."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd

from tourstats import tables
from tourstats.models.audience import bits, small
from tourstats.models.audience.from_sets import Bools, Ints, Sets, groups
from tourstats.problems import UnknownShowProblem

SEVERAL = 2
"""Shows from which on somebody counts as a traveller."""


def freshness(
    plays: pd.DataFrame, shows: pd.DataFrame, attendance: pd.DataFrame, within: str = "leg", *, hide_under: int = 0
) -> pd.DataFrame:
    """How fresh each show was for those who had been at an earlier one.

    Parameters
    ----------
    plays, shows
        Played sets and their shows.
    attendance
        Who was where, a row a person and show; repeated rows count once. Whoever was at a show whose set is not
        known counts as if they had not been there.
    within
        What counts as heard before: earlier shows of the same "leg", "city" or other column of `shows`, or the "tour".
    hide_under
        Smallest group of people whose numbers are given; 0 for all. What is shown, printed or exported asks for 5.

    Returns
    -------
    DataFrame
        One row per show that has a set, in order:
        show_id,
        attendees, repeat (int, people; repeat attendees were at an earlier show),
        repeat_share (float, repeat / attendees),
        fresh_share (float, mean over repeat attendees of the share of the show's distinct songs not heard before),
        fresh_sd (float, its standard deviation over these people),
        worst_decile (float, fresh share that the least fresh tenth of them did not exceed),
        audience_fresh_share (float, mean over all attendees; everything is fresh to newcomers).
        Shares are missing where there is nobody.

    Raises
    ------
    TableProblem
        If somebody was at a show that is not in `shows`.

    Examples
    --------
    >>> shows = pd.DataFrame({"show_id": [1, 2], "date": ["2031-03-01", "2031-03-02"]})
    >>> plays = pd.DataFrame({"show_id": [1, 1, 2, 2], "position": [1, 2] * 2,
    ...                       "song": ["Ferry", "Tin Rook", "Ferry", "Salt Road"]})
    >>> attendance = pd.DataFrame({"person": ["a", "a", "b"], "show_id": [1, 2, 2]})
    >>> freshness(plays, shows, attendance)[["show_id", "attendees", "repeat", "fresh_share", "audience_fresh_share"]]
       show_id  attendees  repeat  fresh_share  audience_fresh_share
    0        1          1       0          NaN                  1.00
    1        2          2       1          0.5                  0.75

    """
    sets = Sets.of(plays, shows)
    masks = bits.Masks.of(sets, within)
    total = bits.tally(*attended(attendance, shows, sets), masks)
    return small.hidden_shows(bits.by_show(total, sets), hide_under)


def by_attendance(
    plays: pd.DataFrame, shows: pd.DataFrame, attendance: pd.DataFrame, *, hide_under: int = 0
) -> pd.DataFrame:
    """Songs that people really heard, by how many of these shows they attended.

    Returns
    -------
    DataFrame
        One row per number of shows that somebody attended: shows (int), people (int),
        songs_heard (float, mean distinct songs), to_shows (int, equal to shows unless rare numbers were put together).

    Examples
    --------
    >>> shows = pd.DataFrame({"show_id": [1, 2], "date": ["2031-03-01", "2031-03-02"]})
    >>> plays = pd.DataFrame({"show_id": [1, 1, 2, 2], "position": [1, 2] * 2,
    ...                       "song": ["Ferry", "Tin Rook", "Ferry", "Salt Road"]})
    >>> attendance = pd.DataFrame({"person": ["a", "a", "b"], "show_id": [1, 2, 2]})
    >>> by_attendance(plays, shows, attendance)
       shows  people  songs_heard  to_shows
    0      1       1          2.0         1
    1      2       1          3.0         2

    """
    sets = Sets.of(plays, shows)
    total = bits.tally(*attended(attendance, shows, sets), bits.Masks.of(sets, "tour"))
    return small.hidden_numbers(bits.by_number(total), hide_under)


def heard_by(
    plays: pd.DataFrame,
    shows: pd.DataFrame,
    attendance: pd.DataFrame,
    show_id: object,
    songs: Sequence[str] | None = None,
    within: str = "leg",
    *,
    hide_under: int = 0,
) -> pd.DataFrame:
    """Share of the audience of one show that had heard each song before.

    Parameters
    ----------
    plays, shows, attendance
        As for `freshness`. Attendance may hold the tickets of a show that is still to come.
    show_id
        The show whose audience is asked about.
    songs
        Titles to ask about; by default the show's own set, or every song played so far if it has none.
    within, hide_under
        As for `freshness`.

    Returns
    -------
    DataFrame
        One row per song, in set order (or as asked): song, attendees, heard (int, people), share (float).

    Examples
    --------
    >>> shows = pd.DataFrame({"show_id": [1, 2], "date": ["2031-03-01", "2031-03-02"]})
    >>> plays = pd.DataFrame({"show_id": [1, 1, 2, 2], "position": [1, 2] * 2,
    ...                       "song": ["Ferry", "Tin Rook", "Ferry", "Salt Road"]})
    >>> attendance = pd.DataFrame({"person": ["a", "a", "b"], "show_id": [1, 2, 2]})
    >>> heard_by(plays, shows, attendance, show_id=2)
            song  attendees  heard  share
    0      Ferry          2      1    0.5
    1  Salt Road          2      0    0.0

    """
    sets, ordered = Sets.of(plays, shows), tables.in_order(shows)
    if not (ordered.show_id == show_id).any():
        raise UnknownShowProblem.of(show_id)
    came = _checked(attendance, shows)
    people = came.person[came.show_id == show_id].unique()
    own = sets.shows.index[sets.shows.show_id == show_id]
    titles = list(dict.fromkeys(songs)) if songs is not None else _set_of(sets, own)
    earlier = _before(sets, ordered, show_id, within)
    person, at = attended(came[came.person.isin(people)], shows, sets)
    seen = earlier[at]
    counts = _people_by_song(person[seen], at[seen], sets.played)
    known = dict(zip(sets.songs, counts.tolist(), strict=True))
    heard = [known.get(title, 0) for title in titles]
    table = pd.DataFrame({"song": pd.Series(titles, dtype="str"), "attendees": len(people), "heard": heard})
    table = table.astype({"attendees": "int64", "heard": "int64"})
    table["share"] = table.heard / len(people) if len(people) else np.nan
    return small.hidden_songs(table, hide_under)


def heard_most(
    plays: pd.DataFrame, shows: pd.DataFrame, attendance: pd.DataFrame, *, hide_under: int = 0
) -> pd.DataFrame:
    """Songs that travellers (people who were at two or more of these shows) have heard most.

    Returns
    -------
    DataFrame
        One row per song, most often heard first: song, attendees, heard (int, travellers in all, and those who heard
        it), share (float, heard / attendees), times (float, mean over all travellers of how often they heard it).
        Missing where there are none.

    Examples
    --------
    >>> shows = pd.DataFrame({"show_id": [1, 2], "date": ["2031-03-01", "2031-03-02"]})
    >>> plays = pd.DataFrame({"show_id": [1, 1, 2, 2], "position": [1, 2] * 2,
    ...                       "song": ["Ferry", "Tin Rook", "Ferry", "Salt Road"]})
    >>> attendance = pd.DataFrame({"person": ["a", "a", "b"], "show_id": [1, 2, 2]})
    >>> heard_most(plays, shows, attendance)
            song  attendees  heard  share  times
    0      Ferry          1      1    1.0    2.0
    1   Tin Rook          1      1    1.0    1.0
    2  Salt Road          1      1    1.0    1.0

    """
    sets = Sets.of(plays, shows)
    person, at = attended(attendance, shows, sets)
    visits = np.bincount(person)
    several = visits[person] >= SEVERAL
    person, at = person[several], at[several]
    travellers = int((visits >= SEVERAL).sum())
    there = np.bincount(at, minlength=len(sets.played))
    table = pd.DataFrame(
        {
            "song": pd.Series(sets.songs, dtype="str"),
            "attendees": travellers,
            "heard": _people_by_song(person, at, sets.played),
        }
    )
    table["share"] = table.heard / travellers if travellers else np.nan
    table["times"] = there @ sets.played / travellers if travellers else np.nan
    few = table.heard.between(1, hide_under - 1)  # of those who did not hear it, the mean says nothing
    table = small.hidden_songs(table.sort_values("times", ascending=False, kind="stable"), hide_under)
    if hide_under > 1:
        table["times"] = table.times.round(1).mask(few)
    return table.reset_index(drop=True)


def attended(attendance: pd.DataFrame, shows: pd.DataFrame, sets: Sets) -> tuple[Ints, Ints]:
    """People and places of shows with a set, ordered by person and show, each pair once; people are numbered."""
    came = _checked(attendance, shows)
    places = came.show_id.map(dict(zip(sets.shows.show_id, sets.shows["at"], strict=True)))
    known = places.notna().to_numpy()
    if not known.any():
        return np.zeros(0, np.int64), np.zeros(0, np.int64)
    at = places[known].to_numpy(np.int64)
    person = pd.factorize(came.person[known])[0]
    return np.divmod(np.unique(person * len(sets.shows) + at), len(sets.shows))


def _checked(attendance: pd.DataFrame, shows: pd.DataFrame) -> pd.DataFrame:
    came = tables.checked(attendance, "attendance")
    tables.of_known_shows(came, tables.checked(shows, "shows"), "attendance")
    return came


def _before(sets: Sets, ordered: pd.DataFrame, show_id: object, within: str) -> Bools:
    """Which shows with a set came before this one in its group."""
    place = pd.Series(ordered.index, index=ordered.show_id)
    group = pd.Series(groups(ordered, within), index=ordered.show_id)
    ids = sets.shows.show_id
    early: Bools = (ids.map(place) < place[show_id]).to_numpy() & (ids.map(group) == group[show_id]).to_numpy()
    return early


def _set_of(sets: Sets, own: pd.Index) -> list[str]:
    """Songs of this set, or of all sets, by first play."""
    played = sets.played[own].any(0) if len(own) else np.ones(len(sets.songs), bool)
    return [song for song, there in zip(sets.songs, played, strict=True) if there]


def _people_by_song(person: Ints, at: Ints, played: Bools) -> Ints:
    """How many of these people heard each song; ordered by person."""
    if not len(person):
        return np.zeros(played.shape[1], np.int64)
    starts = np.flatnonzero(np.concatenate(([True], person[1:] != person[:-1])))
    heard = np.bitwise_or.reduceat(bits.packed(played)[at], starts, axis=0)
    patterns, people = np.unique(heard, axis=0, return_counts=True)
    unpacked = np.unpackbits(patterns.astype("<u8").view(np.uint8), axis=1, bitorder="little")
    return people @ unpacked[:, : played.shape[1]].astype(np.int64)
