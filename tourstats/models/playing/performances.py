"""What was known of each song of each set before it was played, and what was found when it was reviewed."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import pandas as pd

from tourstats.tables import checked, in_sets, latest_kept, of_known_shows
from tourstats.tour import Tour

Bools = npt.NDArray[np.bool_]
Words = npt.NDArray[np.object_]

FAR = 10**6
"""More days than any diary holds."""
BEST_FIRST = ("kit", "band", "pad", "listen")
"""Ways to run a song. Of several in a week the first of these counts, and no more than that."""
WEEK = 7
"""Days before a show within which a run counts for it. Common practice, no source."""
RUN = "run: "
"""What effects of runs are named: this, then the way."""
ON_THE_DAY = "run on the day"
WENT_WRONG = ("went wrong last time", "went wrong the time before", "went wrong the third time back")
BREAK_DAYS = 14
"""Days from one show to the next from which on the time between is a break. Common practice, no source."""
LEAST_PACE = 0.5
"""Days a show, at least: more than two a day nobody plays for long."""
NO_ROOM = "not said"
PRIOR_RATE_SPREAD = 0.7
"""Standard deviation of the logarithm of `PRIOR_RATE` between players."""
SONGS_DIFFER = 0.6
"""Standard deviation between songs, in logarithms, until ten songs were reviewed. Common practice, no source."""


FEWEST_TO_NOTICE, FEWEST_CLEAN = 12, 0.1
"""Reviewed performances from which on it is noticed that hardly any is clean, and the share that is hardly any. At 1.2
mistakes a performance, four times what is usual, three in ten would be clean. Our own choice."""


def faults_only(table: pd.DataFrame) -> bool:
    """Whether what was clean seems not to be written down, in all and at nearly every show; `table` as from `counts`.

    Examples
    --------
    >>> found = pd.DataFrame({"show_id": [1] * 12, "song": "Ferry", "mistakes": 1})
    >>> faults_only(found), faults_only(found.assign(mistakes=[0, 0] + [1] * 10))
    (True, False)

    """
    clean = table.mistakes == 0
    if len(clean) < FEWEST_TO_NOTICE or clean.mean() >= FEWEST_CLEAN:
        return False
    return bool((clean.groupby(table.show_id).mean() < FEWEST_CLEAN).mean() > 1 / 2)


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
    >>> reviews = pd.DataFrame({"show_id": [1, 1], "song": ["Ferry", "Tin Rook"]})
    >>> mistakes = pd.DataFrame({"show_id": [1, 1], "song": ["Ferry", "Ferry"], "severity": [1, 3]})
    >>> counts(reviews, mistakes)
       show_id      song  mistakes
    0        1     Ferry         2
    1        1  Tin Rook         0

    """
    heard, faults = checked(reviews, "reviews"), checked(mistakes, "mistakes")
    keys = ["show_id", "song"]
    faults = faults.loc[faults.listening == listening, keys]
    rows = pd.concat([heard.loc[heard.listening == listening, keys], faults])
    number, which = pd.factorize(pd.MultiIndex.from_frame(rows))
    table = rows.iloc[np.unique(number, return_index=True)[1]].reset_index(drop=True)
    total = np.bincount(number, minlength=len(which))
    rows_of_reviews = np.bincount(number[: len(rows) - len(faults)], minlength=len(which))
    return table.assign(mistakes=total - rows_of_reviews)


@latest_kept
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
            room              str    kind of venue, "not said" if it is not known
            usual room        str    kind of venue of most shows until then; of several, the first in the alphabet
            missed            int    shows it missed since it was last played; 0 the first time
            layoff            float  log(1 + missed)
            break             float  how much longer that is in logarithms, if a break without shows counts as the shows
                                     that it had room for; 0 without a break since it was last played
            first             bool   never played before
            seldom            float  log of one over the share of earlier shows that it was in
            position          float  0 the first song of the set, 1 the last
            date              float  0 the first show, 1 the last, each show the same step: playing changes by
                                     playing, and a break of a month is not a month on tour
            new transition    bool   follows a song that it never followed before
            ran               str    way of the run that counts: the first of `BEST_FIRST` on the day of the show or in
                                     the seven days before; "" without one
            run: kit …        bool   one a way: whether it is that
            run on the day    float  for a run: whether it was made on the day itself, less the share that was until
                                     then; else 0
            other room        bool   kind of venue differs from the show before
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
    ran, fresh = _ran(table, shows, rehearsals)
    counts_from = _shows_of_breaks(day)
    of_breaks = np.where(first, 0.0, counts_from[at] - counts_from[was]) if len(table) else np.zeros(0)
    nights = _nights(shows, day)
    return pd.DataFrame(
        {
            "show_id": table.show_id,
            "song": table.song,
            "at": at,
            "room": shows.room.fillna(NO_ROOM).to_numpy()[at],
            "usual room": _commonest(shows.room)[at],
            "missed": missed,
            "layoff": np.log1p(missed),
            "break": np.log1p(missed + of_breaks) - np.log1p(missed),
            "first": first,
            "seldom": np.log((at + 1) / (times + 0.5)),
            "position": table.place,
            "date": at / max(len(shows) - 1, 1),
            "new transition": table.fresh,
            "ran": pd.Series(ran, dtype="str"),
            **{RUN + way: ran == way for way in BEST_FIRST},
            ON_THE_DAY: _apart(fresh, ran != "", at),
            **{name: values[at] for name, values in nights.items()},
            "encore": table.encore,
        }
    )


@latest_kept
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
        As `circumstances`, with `mistakes`, and whether anything was found in the song at each of its latest three
        reviews before (`WENT_WRONG`); only songs of a set that were reviewed. What was found in a song that is not in
        its show's set is left out.

    Raises
    ------
    TableProblem
        If a review or a mistake belongs to a show that is not in `shows`.

    """
    found = counts(reviews, mistakes)
    of_known_shows(found, checked(shows, "shows"), "reviews and mistakes")
    return with_reviews(circumstances(plays, shows, rehearsals), found)


def of_tour(tour: Tour) -> pd.DataFrame:
    """As `performances`, of a tour."""
    return performances(tour.plays, tour.shows, tour.reviews, tour.mistakes, tour.rehearsals)


def with_reviews(table: pd.DataFrame, found: pd.DataFrame) -> pd.DataFrame:
    """Put what was found (as `counts`) beside `circumstances`; only what was reviewed."""
    table = table.merge(found, on=["show_id", "song"], how="inner")
    of_song = table.groupby("song").mistakes
    return table.assign(**{name: of_song.shift(back).gt(0) for back, name in enumerate(WENT_WRONG, start=1)})


def _commonest(rooms: pd.Series) -> Words:
    """The kind of venue of most shows until each."""
    tally = pd.get_dummies(rooms, dtype=int).sort_index(axis=1).cumsum()
    if not len(tally.columns):
        return np.full(len(rooms), NO_ROOM, dtype=object)
    usual = tally.columns.to_numpy(object)[tally.to_numpy().argmax(axis=1)]
    return np.asarray(np.where(tally.any(axis=1), usual, NO_ROOM), object)


def _new_transitions(plays: pd.DataFrame) -> npt.NDArray[np.bool_]:
    """Whether each play follows a song that it never followed in an earlier show."""
    song = pd.factorize(plays.song)[0]
    at = plays["at"].to_numpy()
    follows = np.zeros(len(plays), bool)
    follows[1:] = at[1:] == at[:-1]
    pair = np.where(follows, np.roll(song, 1) * (song.max(initial=0) + 1) + song, -1 - np.arange(len(song)))
    earliest = pd.Series(at).groupby(pair).transform("min").to_numpy()
    return np.asarray(follows & (earliest == at))


def _ran(table: pd.DataFrame, shows: pd.DataFrame, rehearsals: pd.DataFrame | None) -> tuple[Words, Bools]:
    """Way of the run that counts for each performance, "" without one, and whether it was made on the day itself."""
    ran, fresh = np.full(len(table), "", dtype=object), np.zeros(len(table), bool)
    if rehearsals is None or not len(rehearsals) or not len(table):
        return ran, fresh
    runs = checked(rehearsals, "rehearsals").dropna(subset=["date"])
    songs = pd.Index(table.song.unique())
    runs = runs[runs.song.isin(songs)]
    show = songs.get_indexer(table.song) * FAR + _days(shows.date)[table["at"].to_numpy()]
    made = songs.get_indexer(runs.song) * FAR + _days(runs.date)
    for way in reversed(BEST_FIRST):
        keys = np.sort(made[(runs.way == way).to_numpy()])
        until = np.searchsorted(keys, show, "right")
        counts_now = until > np.searchsorted(keys, show - WEEK, "left")
        ran[counts_now] = way
        fresh[counts_now] = (until > np.searchsorted(keys, show, "left"))[counts_now]
    return ran, fresh


def _days(dates: pd.Series) -> npt.NDArray[np.int64]:
    return np.asarray((dates - pd.Timestamp(0)).dt.days.to_numpy(), np.int64)


def _apart(fresh: Bools, run: Bools, at: npt.NDArray[np.int64]) -> npt.NDArray[np.float64]:
    """Whether a run was made on the day, less the share that was, so that a way's effect is that of its usual run."""
    size = int(at.max(initial=-1)) + 1
    usual = np.bincount(at, fresh & run, size).cumsum() / np.maximum(np.bincount(at, run, size).cumsum(), 1)
    return np.asarray(np.where(run, fresh - usual[at], 0.0), float)


def _shows_of_breaks(day: npt.NDArray[np.int64]) -> npt.NDArray[np.float64]:
    """Shows that the breaks until each show had room for, at the pace of the tour before them."""
    gaps = np.diff(day)
    on_tour = gaps < BREAK_DAYS
    pace = np.cumsum(np.where(on_tour, gaps, 0)) / np.maximum(np.cumsum(on_tour), 1)
    pace = np.where(np.cumsum(on_tour) > 0, np.maximum(pace, LEAST_PACE), 1.0)
    return np.asarray(np.r_[0.0, np.cumsum(np.where(on_tour, 0.0, gaps / pace - 1))], float)


def _nights(shows: pd.DataFrame, day: npt.NDArray[np.int64]) -> dict[str, npt.NDArray[np.bool_]]:
    """What holds for a show as a whole."""
    room = shows.room.fillna(NO_ROOM).to_numpy()
    other, off = np.zeros(len(shows), bool), np.zeros(len(shows), bool)
    other[1:] = (room[1:] != room[:-1]) & (room[1:] != NO_ROOM) & (room[:-1] != NO_ROOM)
    off[1:] = np.diff(day) > 1
    return {"other room": other, "second show": shows.number.to_numpy() > 1, "day off": off}
