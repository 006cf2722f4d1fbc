"""What a set that is not played yet will be to those who come: information for the show day, not advice."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from tourstats import tables, tour
from tourstats.models.audience import small
from tourstats.models.audience.from_counts import returning_shares
from tourstats.models.audience.from_sets import Bools, Floats, Ints, Sets, groups

LAST = (1, 2, 3)
LATELY = 5
"""Nights whose crowds stand for tonight's."""

Show = Mapping[str, Any]


@dataclass(frozen=True)
class _Crowd:
    """Share of tonight's audience that heard each song: a row a night that stands for tonight, a column a song.

    `low` and `high` differ from `heard` for counts, which are rounded and asked of some.
    """

    heard: Floats
    low: Floats
    high: Floats
    repeat: Floats | None  # share of repeat attendees by night, where it is known
    whole: bool  # whether these are people of all sorts, not travellers only
    people: Ints | None  # by night: attendees and repeat attendees (rows), where they are known
    basis: str


def tonight(
    plays: pd.DataFrame,
    shows: pd.DataFrame,
    attendance: pd.DataFrame | None,
    counts: pd.DataFrame | None,
    titles: Sequence[str],
    next_show: Show,
    within: str = "leg",
    *,
    hide_under: int = 0,
) -> pd.DataFrame:
    """How fresh a set would be, scored before the show: for people at the last shows, and for those likely to come.

    Parameters
    ----------
    plays, shows
        Played sets and their shows.
    attendance
        Who was where, and who has a ticket for `next_show` if that is known; or None. A list on which everybody came
        at least twice is one of travellers, and says nothing of the whole audience.
    counts
        As in `tables.Counts`; or None. Used for what attendance does not say.
    titles
        The set, planned or a draft. A title that stands twice counts once.
    next_show
        date, and if known leg, city, number, show_id. Only earlier shows count. Without a leg, that of the last show.
    within
        What counts as heard before: earlier shows of the same "leg", "city" or other column, or the whole "tour".
    hide_under
        Smallest group of people whose numbers are given; 0 for all. What is shown asks for 5.

    Returns
    -------
    DataFrame
        One row per group of people; empty where no show came before:
        group (str: "at the last show", "at the last 2 shows", …, "returning people", "whole audience"),
        fresh_share, low, high (float, share of the set that is new to them; low to high is the range over the nights
        that stand for tonight, and missing for "sets", where nothing is guessed),
        songs_new (float), songs (int), basis (str: "sets", "tickets", "as lately", "counts", "counts lately").

    Examples
    --------
    >>> shows = pd.DataFrame({"show_id": [1, 2], "date": ["2031-03-01", "2031-03-02"]})
    >>> plays = pd.DataFrame({"show_id": [1, 1, 2, 2], "position": [1, 2] * 2,
    ...                       "song": ["Ferry", "Tin Rook", "Ferry", "Salt Road"]})
    >>> draft = ["Tin Rook", "Copper Wire", "Salt Road", "Low Water"]
    >>> tonight(plays, shows, None, None, draft, {"date": "2031-03-03"})[["group", "fresh_share", "songs_new", "songs"]]
                     group  fresh_share  songs_new  songs
    0     at the last show         0.75        3.0      4
    1  at the last 2 shows         0.50        2.0      4

    """
    sets = Sets.of(plays, shows)
    earlier = _earlier(sets, next_show, within)
    known = {song: number for number, song in enumerate(sets.songs)}
    songs = list(dict.fromkeys(titles))
    played = np.array([known[song] for song in songs if song in known], np.int64)
    rows = []
    for last in LAST if songs else ():
        if last <= len(earlier):
            old = sets.played[earlier[-last:]][:, played].any(0).sum()
            group = "at the last show" if last == 1 else f"at the last {last} shows"
            rows.append((group, 1 - old / len(songs), np.nan, np.nan, "sets"))
    for crowd in _crowds(sets, earlier, attendance, _shown(counts, hide_under), next_show, within) if rows else ():
        if not _few(crowd, hide_under):
            rows += _audience(crowd, played, len(songs))
    table = pd.DataFrame(rows, columns=["group", "fresh_share", "low", "high", "basis"]).astype(
        {"group": "str", "basis": "str", "fresh_share": "float64", "low": "float64", "high": "float64"}
    )
    if hide_under > 1:
        from_people = table.basis != "sets"
        for column in ("fresh_share", "low", "high"):
            table[column] = table[column].round(2).where(from_people, table[column])
    table.insert(4, "songs_new", table.fresh_share * len(songs))
    table.insert(5, "songs", np.full(len(table), len(songs)))
    return table


def newest_for(
    plays: pd.DataFrame,
    shows: pd.DataFrame,
    songs: pd.DataFrame,
    next_show: Show,
    attendance: pd.DataFrame | None = None,
    counts: pd.DataFrame | None = None,
    within: str = "leg",
    *,
    hide_under: int = 0,
) -> pd.DataFrame:
    """Songs of the repertoire by how new they would be to those coming; as information, not as advice.

    Parameters
    ----------
    plays, shows, attendance, counts, next_show, within, hide_under
        As for `tonight`.
    songs
        The repertoire; retired songs are left out.

    Returns
    -------
    DataFrame
        One row per song, newest first: song (str), heard_share, low, high (float, share of those coming, of people
        on the list if there is attendance, that heard it; missing without attendance or counts), one_earlier (float,
        chance that somebody who was at one earlier show of the group, any of them, heard it), shows_ago (Int64, 1 for
        the last show; missing if it was not played in the group), basis (str).

    Examples
    --------
    >>> shows = pd.DataFrame({"show_id": [1, 2], "date": ["2031-03-01", "2031-03-02"]})
    >>> plays = pd.DataFrame({"show_id": [1, 1, 2, 2], "position": [1, 2] * 2,
    ...                       "song": ["Ferry", "Tin Rook", "Ferry", "Salt Road"]})
    >>> songs = pd.DataFrame({"song": ["Ferry", "Tin Rook", "Copper Wire"]})
    >>> newest_for(plays, shows, songs, {"date": "2031-03-03"})[["song", "one_earlier", "shows_ago"]]
              song  one_earlier  shows_ago
    0  Copper Wire          0.0       <NA>
    1     Tin Rook          0.5          2
    2        Ferry          1.0          1

    """
    sets, repertoire = Sets.of(plays, shows), tables.checked(songs, "songs")
    titles = repertoire.song[repertoire.status != "retired"].reset_index(drop=True)
    earlier = _earlier(sets, next_show, within)
    crowd = next(iter(_crowds(sets, earlier, attendance, _shown(counts, hide_under), next_show, within)), None)
    known = {song: number for number, song in enumerate(sets.songs)}
    number = titles.map(known).fillna(len(known)).astype("int64").to_numpy()  # one more, for songs never played
    group = np.pad(sets.played[earlier], ((0, 0), (0, 1)))[:, number]
    shows_ago = np.where(group.any(0), group[::-1].argmax(0) + 1 if len(group) else 0, len(group) + 1)
    table = pd.DataFrame({"song": titles, "heard_share": np.nan, "low": np.nan, "high": np.nan})
    if crowd is not None and not _few(crowd, hide_under):
        heard, low, high = (np.pad(part, ((0, 0), (0, 1)))[:, number] for part in (crowd.heard, crowd.low, crowd.high))
        table["heard_share"], table["low"], table["high"] = heard.mean(0), low.min(0), high.max(0)
        table = table.round(2) if hide_under > 1 else table
    table["one_earlier"] = group.mean(0) if len(group) else np.nan
    table["shows_ago"] = pd.Series(shows_ago, dtype="Int64").mask(shows_ago > len(group))
    table["basis"] = "sets" if crowd is None else crowd.basis
    order = np.lexsort((-shows_ago, table.one_earlier, table.heard_share))
    return table.iloc[order].reset_index(drop=True)


def _audience(crowd: _Crowd, played: Ints, songs: int) -> list[tuple[str, float, float, float, str]]:
    """Rows for the people who come, from the share of the set that the whole audience has heard, night by night."""
    old, low, high = (array[:, played].sum(1) / songs for array in (crowd.heard, crowd.low, crowd.high))
    rows = []
    if crowd.repeat is not None and (crowd.repeat > 0).any():
        some = crowd.repeat > 0
        fresh = 1 - old[some] / crowd.repeat[some]
        rows.append(("returning people", float(fresh.mean()), float(fresh.min()), float(fresh.max()), crowd.basis))
    if crowd.whole:
        rows.append(("whole audience", float(1 - old.mean()), float(1 - high.max()), float(1 - low.min()), crowd.basis))
    return rows


def _shown(counts: pd.DataFrame | None, hide_under: int) -> pd.DataFrame | None:
    return None if counts is None else small.hidden_counts(tables.checked(counts, "counts"), hide_under)


def _few(crowd: _Crowd, hide_under: int) -> bool:
    """Whether a night that stands for tonight would show a small group."""
    if crowd.people is None or hide_under <= 1:
        return False
    there, back = (pd.Series(row) for row in crowd.people)
    return bool((small.too_small(back, there, hide_under) | (there < hide_under)).any())


def _before(sets: Sets, next_show: Show) -> Bools:
    """Which shows were before this one."""
    return np.asarray(sets.shows.show_id.isin(tour.earlier(sets.shows, next_show).show_id))


def _earlier(sets: Sets, next_show: Show, within: str) -> Ints:
    """Places of the shows of the same group that were before this one."""
    shows, early = sets.shows, np.flatnonzero(_before(sets, next_show))
    if within == "tour" or not len(early):
        return early
    codes, wanted = groups(shows, within), next_show.get(within)
    if wanted is not None and not pd.isna(wanted):
        same = (shows[within] == wanted).to_numpy(bool)
    else:  # a show without a leg is taken to go on with the leg of the last one
        same = codes == codes[early[-1]] if within == "leg" else np.zeros(len(shows), bool)
    return np.asarray(early[same[early]])


def _crowds(
    sets: Sets,
    earlier: Ints,
    attendance: pd.DataFrame | None,
    counts: pd.DataFrame | None,
    next_show: Show,
    within: str,
) -> list[_Crowd]:
    """What tonight's audience has heard: from tickets, else as on the last nights; for all of it, else from counts."""
    found = []
    if attendance is not None and len(attendance):
        found.append(_from_attendance(sets, earlier, attendance, next_show.get("show_id")))
    if counts is not None and len(counts) and not any(crowd and crowd.whole for crowd in found):
        found.append(_from_counts(sets, earlier, counts, next_show, within))
    return [crowd for crowd in found if crowd is not None]


def _from_attendance(sets: Sets, earlier: Ints, attendance: pd.DataFrame, show_id: object) -> _Crowd | None:
    there = _presence(attendance, sets.shows.show_id.iloc[earlier], show_id)
    played = sets.played[earlier]
    if there[:, -1].any():
        crowds, basis = [there[there[:, -1], :-1]], "tickets"
    else:
        # As lately: last night's crowd, seen from last night, is moved to tonight, each show counted backwards.
        basis, crowds = "as lately", []
        for night in range(max(1, len(earlier) - LATELY), len(earlier)):
            crowd = there[there[:, night]][:, :night]
            crowds += [np.pad(crowd, ((0, 0), (len(earlier) - night, 0)))] if len(crowd) else []
    if not crowds:
        return None
    heard = np.array([_share_heard(crowd, played) for crowd in crowds])
    people = np.array([[len(crowd) for crowd in crowds], [crowd.any(1).sum() for crowd in crowds]])
    once = attendance.drop_duplicates(["person", "show_id"]).person.duplicated(keep=False)
    return _Crowd(heard, heard, heard, people[1] / people[0], bool((~once).any()), people, basis)


def _presence(attendance: pd.DataFrame, earlier: pd.Series, show_id: object) -> Bools:
    """Who was at which of these shows (a row a person), and in the last column who comes to this one."""
    places = {show: place for place, show in enumerate(earlier)}
    if show_id is not None:
        places[show_id] = len(earlier)
    at = attendance.show_id.map(places)
    known = at.notna().to_numpy()
    person, people = pd.factorize(attendance.person[known])
    there = np.zeros((len(people), len(earlier) + 1), bool)
    there[person, at[known].astype("int64")] = True
    return there


def _share_heard(crowd: Bools, played: Bools) -> Floats:
    """Share of a crowd that heard each song, given who of them was at which of these shows."""
    patterns, people = np.unique(np.packbits(crowd, axis=1), axis=0, return_counts=True)
    seen = np.unpackbits(patterns, axis=1, count=crowd.shape[1]).astype(np.float32)
    return people @ (seen @ played.astype(np.float32) > 0) / len(crowd)


def _from_counts(sets: Sets, earlier: Ints, counts: pd.DataFrame, next_show: Show, within: str) -> _Crowd | None:
    """From the counts of this show, else from those of the last counted nights, seen backwards from tonight."""
    shares = returning_shares(counts)
    place = pd.Series(range(len(earlier)), index=sets.shows.show_id.iloc[earlier])
    own = shares[(shares.show_id == next_show.get("show_id")) & shares.earlier.isin(place.index)]
    if len(own):
        nights, basis = [own.assign(ago=len(earlier) - own.earlier.map(place))], "counts"
    else:
        past = sets.shows.show_id[_before(sets, next_show)]
        nights, basis = _lately(shares[shares.show_id.isin(past)], sets, within), "counts lately"
    if not nights or not len(earlier):
        return None
    played = sets.played[earlier]
    heard, low, high = (
        np.array([_heard(night, played, column) for night in nights]) for column in ("share", "low", "high")
    )
    return _Crowd(heard, low, high, None, True, None, basis)


def _lately(shares: pd.DataFrame, sets: Sets, within: str) -> list[pd.DataFrame]:
    """Counts of the last counted nights, with how many shows of the group before each the earlier one was."""
    group = pd.Series(groups(sets.shows, within), index=sets.shows.show_id)
    rank = pd.Series(range(len(group)), index=group.index)
    step = group.groupby(group).cumcount()
    known = shares[shares.show_id.isin(group.index) & shares.earlier.isin(group.index)]
    known = known[known.show_id.map(group) == known.earlier.map(group)]
    known = known.assign(ago=known.show_id.map(step) - known.earlier.map(step), rank=known.show_id.map(rank))
    return [night for _, night in known[known.ago > 0].groupby("rank")][-LATELY:]


def _heard(night: pd.DataFrame, played: Bools, column: str) -> Floats:
    """Share that heard each song if the counts against several shows are independent."""
    missed = np.ones(played.shape[1])
    for ago, share in zip(night.ago, night[column], strict=True):
        if 0 < ago <= len(played):
            missed *= 1 - share * played[len(played) - int(ago)]
    return 1 - missed
