"""What was known of each song of each set before it was played, and what was found when it was reviewed."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import pandas as pd

from tourstats.tables import checked, in_sets, of_known_shows

FAR = 10**6
"""More days than any diary holds."""
NO_ROOM = "not said"
PRIOR_RATE_SPREAD = 0.7
"""Standard deviation of the logarithm of `PRIOR_RATE` between players."""
SONGS_DIFFER = 0.6
"""Standard deviation between songs, in logarithms, until ten songs were reviewed. Common practice, no source."""


def counts(reviews: pd.DataFrame, mistakes: pd.DataFrame, listening: int = 1) -> pd.DataFrame:
    """Mistakes of each reviewed song of each show, none included.

    Parameters
    ----------
    reviews, mistakes
        As in `tourstats.tables`. A mistake says that its song was reviewed, also without a row in `reviews`.
    listening
        1 for what was found the first time, 2 for what was found listening again.

    Returns
    -------
    DataFrame
        A row a show and song, in order of first appearance.
            show_id    the show
            song       str
            mistakes   int  0 or more

    Examples
    --------
    >>> reviews = pd.DataFrame({"show_id": [1, 1], "song": ["Ferry", "Tin Roof"]})
    >>> mistakes = pd.DataFrame({"show_id": [1, 1], "song": ["Ferry", "Ferry"], "severity": [1, 3]})
    >>> counts(reviews, mistakes)
       show_id      song  mistakes
    0        1     Ferry         2
    1        1  Tin Roof         0

    """
    heard, found = checked(reviews, "reviews"), checked(mistakes, "mistakes")
    keys = ["show_id", "song"]
    found = found.loc[found.listening == listening, keys]
    rows = pd.concat([heard.loc[heard.listening == listening, keys], found])
    number, which = pd.factorize(pd.MultiIndex.from_frame(rows))
    table = rows.iloc[np.unique(number, return_index=True)[1]].reset_index(drop=True)
    total = np.bincount(number, minlength=len(which))
    rows_of_reviews = np.bincount(number[: len(rows) - len(found)], minlength=len(which))
    return table.assign(mistakes=total - rows_of_reviews)


def circumstances(plays: pd.DataFrame, shows: pd.DataFrame, rehearsals: pd.DataFrame | None = None) -> pd.DataFrame:
    """What was known of each song of each set before it was played.

    Parameters
    ----------
    plays, shows, rehearsals
        As in `tourstats.tables`. A song that stands twice in a set is one row, at its first position.

    Returns
    -------
    DataFrame
        A row a show and song, by show and position.
            show_id, song
            at                int    place of the show among those that have a set, from 0
            room              str    kind of room, "not said" if it is not known
            usual room        str    kind of room of most shows; of several, the first in the alphabet
            missed            int    shows it missed since it was last played; 0 the first time
            layoff            float  log(1 + missed)
            days              float  log(1 + days / 7) since it was last played; 0 the first time
            first             bool   never played before
            seldom            float  log of one over the share of earlier shows that it was in
            position          float  0 the first song of the set, 1 the last
            date              float  0 the first show, 1 the last, each show the same step: playing changes by
                                     playing, and a break of a month is not a month on tour
            new transition    bool   follows a song that it never followed before
            run-through       bool   played at the kit or with the band since it was last played
            listened          bool   listened to or played on a pad since, and no more than that
            other room        bool   kind of room differs from the show before
            second show       bool   not the first show of its day
            day off           bool   at least one day without a show before
            encore            bool   after the main set

    """
    plays, shows = in_sets(plays, shows)
    place = plays.groupby("at").cumcount().to_numpy()
    last = np.maximum(plays["at"].value_counts().sort_index().to_numpy() - 1, 1)
    plays = plays.assign(
        place=place / last[plays["at"].to_numpy()] if len(plays) else 0.0, fresh=_new_transitions(plays)
    )
    table = plays.drop_duplicates(["at", "song"]).reset_index(drop=True)
    at, day = table["at"].to_numpy(), (shows.date - shows.date.min()).dt.days.to_numpy()
    before = table.groupby("song")["at"].shift(1)
    first = before.isna().to_numpy()
    was = before.fillna(0).astype(int).to_numpy()
    times = table.groupby("song").cumcount().to_numpy()
    missed = np.where(first, 0, at - was - 1)
    since = np.where(first, 0, day[at] - day[was]) if len(table) else at
    kit, heard = _rehearsed(table, shows, was, first, rehearsals)
    nights = _nights(shows, day)
    return pd.DataFrame(
        {
            "show_id": table.show_id,
            "song": table.song,
            "at": at,
            "room": shows.room.fillna(NO_ROOM).to_numpy()[at],
            "usual room": _commonest(shows.room),
            "missed": missed,
            "layoff": np.log1p(missed),
            "days": np.log1p(since / 7),
            "first": first,
            "seldom": np.log((at + 1) / (times + 0.5)),
            "position": table.place,
            "date": at / max(len(shows) - 1, 1),
            "new transition": table.fresh,
            "run-through": kit,
            "listened": heard & ~kit,
            **{name: values[at] for name, values in nights.items()},
            "encore": table.encore,
        }
    )


def performances(
    plays: pd.DataFrame,
    shows: pd.DataFrame,
    reviews: pd.DataFrame,
    mistakes: pd.DataFrame,
    rehearsals: pd.DataFrame | None = None,
) -> pd.DataFrame:
    """Circumstances and mistakes of each reviewed song of each set.

    Returns
    -------
    DataFrame
        As `circumstances`, with `mistakes`; only songs of a set that were reviewed. What was found in a song that is
        not in its show's set is left out.

    Raises
    ------
    TableProblem
        If a review or a mistake belongs to a show that is not in `shows`.

    """
    found = counts(reviews, mistakes)
    of_known_shows(found, checked(shows, "shows"), "reviews and mistakes")
    return circumstances(plays, shows, rehearsals).merge(found, on=["show_id", "song"], how="inner")


def _commonest(rooms: pd.Series) -> str:
    tally = rooms.dropna().value_counts()
    return str(min(tally.index[tally == tally.max()])) if len(tally) else NO_ROOM


def _new_transitions(plays: pd.DataFrame) -> npt.NDArray[np.bool_]:
    """Whether each play follows a song that it never followed in an earlier show."""
    song = pd.factorize(plays.song)[0]
    at = plays["at"].to_numpy()
    follows = np.zeros(len(plays), bool)
    follows[1:] = at[1:] == at[:-1]
    pair = np.where(follows, np.roll(song, 1) * (song.max(initial=0) + 1) + song, -1 - np.arange(len(song)))
    earliest = pd.Series(at).groupby(pair).transform("min").to_numpy()
    return np.asarray(follows & (earliest == at))


def _rehearsed(
    table: pd.DataFrame,
    shows: pd.DataFrame,
    was: npt.NDArray[np.int64],
    first: npt.NDArray[np.bool_],
    rehearsals: pd.DataFrame | None,
) -> tuple[npt.NDArray[np.bool_], npt.NDArray[np.bool_]]:
    """Whether each song was run through, and listened to, since the day it was last played."""
    none = np.zeros(len(table), bool)
    if rehearsals is None or not len(rehearsals) or not len(table):
        return none, none
    runs = checked(rehearsals, "rehearsals").dropna(subset=["date"])
    songs = pd.Index(table.song.unique())
    runs = runs[runs.song.isin(songs)]
    days = (shows.date - pd.Timestamp(0)).dt.days.to_numpy()
    key = songs.get_indexer(table.song) * FAR
    start, end = key + np.where(first, 0, days[was]), key + days[table["at"].to_numpy()]
    made = songs.get_indexer(runs.song) * FAR + (runs.date - pd.Timestamp(0)).dt.days.to_numpy()

    def between(rows: npt.NDArray[np.bool_]) -> npt.NDArray[np.bool_]:
        keys = np.sort(made[rows])
        return np.asarray(np.searchsorted(keys, end, "right") > np.searchsorted(keys, start, "right"))

    kit = runs.way.isin(["kit", "band"]).to_numpy()
    return between(kit), between(~kit)


def _nights(shows: pd.DataFrame, day: npt.NDArray[np.int64]) -> dict[str, npt.NDArray[np.bool_]]:
    """What holds for a show as a whole."""
    room = shows.room.fillna(NO_ROOM).to_numpy()
    other, off = np.zeros(len(shows), bool), np.zeros(len(shows), bool)
    other[1:] = (room[1:] != room[:-1]) & (room[1:] != NO_ROOM) & (room[:-1] != NO_ROOM)
    off[1:] = np.diff(day) > 1
    return {"other room": other, "second show": shows.number.to_numpy() > 1, "day off": off}
