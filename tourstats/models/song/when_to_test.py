"""Which songs' shapes to be asked about on a day, spaced over the days before each is likely to be played."""

from __future__ import annotations

import math

import pandas as pd

from tourstats.models import by_heart, practice, swaps
from tourstats.problems import TooFewProblem
from tourstats.tables import in_order
from tourstats.tour import Tour


def to_test(tour: Tour, on: pd.Timestamp) -> pd.DataFrame:
    """Which songs' shapes to be asked about on a day, spaced over the days before each is likely to be played.

    Parameters
    ----------
    tour
        As `tourstats.read` gives it.
    on
        The day.

    Returns
    -------
    DataFrame
        A row a song whose shape is written down and of which something is due, the one that is wanted first on top:
        song, due (questions), questions, chance (of being in the next set), days (until it is as likely as not to
        have been played; missing if nobody can say), known (of those asked), asked, last (day).

    """
    shapes = tour.sections[tour.sections.song.isin(tour.songs.song[tour.songs.status != "retired"])]
    wanted = _days_until(tour, on)
    rows = []
    for title, shape in shapes.groupby("song", sort=False):
        facts = tour.songs[tour.songs.song == title].iloc[0].to_dict()
        asked = by_heart.questions(shape.sort_values("position"), facts).asked
        past = tour.tested[tour.tested.song == title]
        chance, days = wanted.get(title, (float("nan"), float("nan")))
        most = by_heart.MOST_DAYS if pd.isna(days) else max(practice.suggest_gap(days), 1.0)
        many = int(by_heart.due(past, asked, on, most).due.sum())
        known = by_heart.how_known(past, asked)
        if many:
            rows.append((title, many, len(asked), chance, days, known.known, known.asked, known.last))
    columns = ["song", "due", "questions", "chance", "days", "known", "asked", "last"]
    table = pd.DataFrame(rows, columns=columns).astype({"last": "datetime64[us]"})
    return table.sort_values(["days", "due"], ascending=[True, False], kind="stable", ignore_index=True)


def days_until(tour: Tour, on: pd.Timestamp, song: str) -> float:
    """Days until a song is as likely as not to have been played; missing if nobody can say."""
    return _days_until(tour, on).get(song, (float("nan"), float("nan")))[1]


def _days_until(tour: Tour, on: pd.Timestamp) -> dict[str, tuple[float, float]]:
    """Of each song the chance of being in the next set, and days until it is as likely as not to have been played."""
    ahead = tour.shows[tour.shows.date >= on] if len(tour.shows) else tour.shows
    days = (in_order(ahead).date - on).dt.days.tolist()
    played = tour.played().date.drop_duplicates()
    usual = float(played.diff().dt.days.median()) if len(played) > 1 else float("nan")
    first = days[0] if days else usual
    show = tour.next_show()
    tonight_ = set() if show is None else set(tour.set_of(show).song)
    try:
        chances = swaps.forecast(tour.plays, tour.shows, tour.songs, tour.show() or {}).songs
    except TooFewProblem:
        return {title: (1.0, float(first)) for title in tonight_}
    found = {}
    for title, chance in zip(chances.song, chances.chance, strict=True):
        shows = 1.0 if title in tonight_ else math.ceil(math.log(0.5) / math.log(1 - min(max(chance, 1e-6), 0.999999)))
        at = int(shows) - 1
        when = float(days[at]) if at < len(days) else float(first + usual * at)
        found[title] = (1.0 if title in tonight_ else float(chance), when)
    return found
