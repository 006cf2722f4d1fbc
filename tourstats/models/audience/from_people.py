"""What the people who were there have heard: who was where, never who anybody is."""

from __future__ import annotations

import numpy as np
import pandas as pd

from tourstats import tables
from tourstats.models.audience import bits, small
from tourstats.models.audience.from_sets import Bools, Ints, Sets

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


def _people_by_song(person: Ints, at: Ints, played: Bools) -> Ints:
    """How many of these people heard each song; ordered by person."""
    if not len(person):
        return np.zeros(played.shape[1], np.int64)
    starts = np.flatnonzero(np.concatenate(([True], person[1:] != person[:-1])))
    heard = np.bitwise_or.reduceat(bits.packed(played)[at], starts, axis=0)
    patterns, people = np.unique(heard, axis=0, return_counts=True)
    unpacked = np.unpackbits(patterns.astype("<u8").view(np.uint8), axis=1, bitorder="little")
    return people @ unpacked[:, : played.shape[1]].astype(np.int64)
