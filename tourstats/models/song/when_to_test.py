"""Which songs' shapes to be asked about on a day, spaced over the days before each is likely to be played."""

from __future__ import annotations

import math
from collections.abc import Mapping

import pandas as pd

from tourstats.models import by_heart, practice, swaps
from tourstats.problems import TooFewProblem
from tourstats.tables import in_order
from tourstats.tour import Tour


def to_test(tour: Tour, on: pd.Timestamp, wanted: Mapping[str, tuple[float, float]] | None = None) -> pd.DataFrame:
    """Which songs' shapes to be asked about on a day, spaced over the days before each is likely to be played.

    Parameters
    ----------
    tour
        As `tourstats.read` gives it.
    on
        The day.
    wanted
        As from `wanted`, where that was asked already; or of a few songs alone, as of tonight's set.

    Returns
    -------
    DataFrame
        A row a song whose shape is written down and of which something is due, the one that is wanted first on top:
        song, due (questions), today (of them, a day's share: `by_heart.A_SITTING` a song, `by_heart.A_DAY` in all
        with those that were asked on that day), questions, chance (of being in the next set), days (until it is as
        likely as not to have been played; missing if nobody can say), known (of those asked), asked, last (day).

    """
    shapes = tour.sections[tour.sections.song.isin(tour.songs.song[tour.songs.status != "retired"])]
    shapes = shapes if wanted is None else shapes[shapes.song.isin(list(wanted))]
    if not len(shapes):
        wanted = {}
    found = _wanted(tour, on) if wanted is None else wanted
    rows = []
    for title in shapes.song.unique():
        asked = questions_of(tour, title).asked
        past = tour.tested[tour.tested.song == title]
        chance, days = found.get(title, (float("nan"), float("nan")))
        # What was never asked is due at once, and that is most of a repertoire.
        many = int(by_heart.due(past, asked, on, gap(days)).due.sum()) if len(past) else len(asked)
        known = by_heart.how_known(past, asked)
        if many:
            rows.append((title, many, len(asked), chance, days, known.known, known.asked, known.last))
    columns = ["song", "due", "questions", "chance", "days", "known", "asked", "last"]
    table = pd.DataFrame(rows, columns=columns).astype({"last": "datetime64[us]", "due": "int64"})
    table = table.sort_values(["days", "due"], ascending=[True, False], kind="stable", ignore_index=True)
    left = by_heart.A_DAY - int((tour.tested.date == on).sum())
    sittings = table.due.clip(upper=by_heart.A_SITTING)
    table.insert(2, "today", sittings.clip(upper=(left - (sittings.cumsum() - sittings)).clip(lower=0)))
    return table


def questions_of(tour: Tour, title: str) -> pd.DataFrame:
    """The questions that a song's shape answers, as `by_heart.questions` gives them."""
    shape = tour.sections[tour.sections.song == title].sort_values("position")
    return by_heart.questions(shape, tour.songs[tour.songs.song == title].iloc[0].to_dict())


def gap(days: float) -> float:
    """The longest gap between two tests that suits the days until the song is likely to be played."""
    return by_heart.MOST_DAYS if pd.isna(days) else max(practice.suggest_gap(max(days, 0)), by_heart.FIRST_DAYS)


def tonight_wanted(tour: Tour, show_id: object) -> dict[str, tuple[float, float]]:
    """The songs of a show whose set is written, as `to_test` takes them: certain, and today."""
    return dict.fromkeys(tour.set_of(show_id).song, (1.0, 0.0))


def wanted(tour: Tour, on: pd.Timestamp) -> dict[str, tuple[float, float]]:
    """Of each song the chance of being in the next set, and days until it is as likely as not to have been played."""
    return {title: (float("nan"), float("nan")) for title in tour.songs.song} | _wanted(tour, on)


def _wanted(tour: Tour, on: pd.Timestamp) -> dict[str, tuple[float, float]]:
    """As `wanted`, of those songs of which it can be said."""
    ahead = tour.shows[tour.shows.date >= on] if len(tour.shows) else tour.shows
    days = (in_order(ahead).date - on).dt.days.tolist()
    played = tour.played().date.drop_duplicates()
    usual = float(played.diff().dt.days.median()) if len(played) > 1 else float("nan")
    first = days[0] if days else usual
    show = tour.next_show()
    certain = {} if show is None else dict.fromkeys(tour.set_of(show).song, (1.0, float(first)))
    try:
        chances = swaps.forecast(tour.plays, tour.shows, tour.songs, tour.show() or {}).songs
    except TooFewProblem:
        return certain
    found = {}
    for title, chance in zip(chances.song, chances.chance, strict=True):
        at = math.ceil(math.log(0.5) / math.log(1 - min(max(chance, 1e-6), 0.999999))) - 1
        found[title] = float(chance), float(days[at]) if at < len(days) else float(first + usual * at)
    return found | certain


def measured(tour: Tour) -> Tour:
    """The tour with the readiness that was measured in place of what was claimed, where a shape was asked about.

    Who knew every answer the last time that it was asked knows the song by heart at least; a song that is claimed to be
    by heart or further, of which an answer was not known, is by hand.

    Examples
    --------
    >>> songs = pd.DataFrame({"song": ["Ferry", "Tin Rook"], "readiness": ["by ear", "by heart"]})
    >>> shape = pd.DataFrame({"song": ["Ferry", "Tin Rook"], "position": 1, "name": "verse"})
    >>> asked = pd.DataFrame({"song": songs.song, "date": "2031-03-04", "known": [True, False]})
    >>> tour = Tour.of(songs=songs, sections=shape, tested=asked.assign(asked="What does it begin with?"))
    >>> measured(tour).songs.readiness.tolist()
    ['by heart', 'by hand']

    """
    songs = tour.songs.copy()
    for title, past in tour.tested.groupby("song", sort=False):
        row = songs.index[songs.song == title]
        known = by_heart.how_known(past, questions_of(tour, str(title)).asked)
        songs.loc[row, "readiness"] = by_heart.measured(songs.readiness[row[0]], known)
    return tour.replaced(songs=songs)
