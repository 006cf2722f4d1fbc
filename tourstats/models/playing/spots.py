"""Where in a song it goes wrong again and again, and how much that weighs."""

from __future__ import annotations

from collections.abc import Iterable

import pandas as pd

from tourstats.models.estimates import HARD_PART, gamma_poisson
from tourstats.models.playing.performances import counts
from tourstats.tables import checked, finished

HEARD_MORE = 2.0
"""How many times as much a mistake weighs for each step of severity: one that the band heard counts for two, one that
everybody heard for four. 1 weighs all alike. Common practice, no source; the user's to change (`Diary.set_figure`)."""
WORTH = 4.0
"""Mistakes' worth by which a song is drawn to all of them, in what its mistakes weigh and where they lie."""
OFTEN = 2
"""Shows at which a spot went wrong, at least, before it is told."""
NOT_SAID = "not said"


def heard_more(settings: pd.DataFrame) -> float:
    """How many times as much a mistake weighs for each step of severity: as the person chose, or as it is assumed.

    Examples
    --------
    >>> heard_more(pd.DataFrame({"setting": ["heard more"], "figure": [1.5]})), heard_more(pd.DataFrame())
    (1.5, 2.0)

    """
    chosen = settings.figure[settings.setting == "heard more"] if len(settings) else settings
    return float(chosen.iloc[-1]) if len(chosen) else HEARD_MORE


def weights(mistakes: pd.DataFrame, songs: Iterable[str], heard_more: float = HEARD_MORE) -> pd.Series:
    """What a mistake of each song weighs, against one of all songs: by how many people heard it.

    Parameters
    ----------
    mistakes
        As in `tourstats.tables`.
    songs
        Titles.
    heard_more
        How many times as much a mistake weighs for each step of severity.

    Returns
    -------
    Series
        By title, in the order given: 1 for a song like all the others, drawn to 1 by four mistakes.

    Examples
    --------
    By hand: weights 1, 1, 4 have the mean 2; Tin Rook has (4 + 4 * 2) / (1 + 4) = 2.4, against 2.

    >>> found = pd.DataFrame({"show_id": [1, 1, 2], "song": ["Ferry", "Ferry", "Tin Rook"], "severity": [1, 1, 3]})
    >>> weights(found, ["Tin Rook", "Salt Road"]).tolist()
    [1.2, 1.0]

    """
    found = checked(mistakes, "mistakes")
    titles = pd.Index(list(songs))
    if not len(found):
        return pd.Series(1.0, index=titles)
    weight = heard_more ** (found.severity.to_numpy(float) - 1)
    usual = float(weight.mean())
    by_song = pd.Series(weight).groupby(found.song.to_numpy()).agg(["sum", "size"]).reindex(titles).fillna(0.0)
    return ((by_song["sum"] + WORTH * usual) / (by_song["size"] + WORTH) / usual).rename(None)


@finished
def spots(mistakes: pd.DataFrame, reviews: pd.DataFrame) -> pd.DataFrame:
    """Which spots go wrong again and again: song, section and bar, the surest first.

    Returns
    -------
    DataFrame
        A row a spot that went wrong at two shows at least. A mistake without a section is none.
            song, section  str
            bar            Int64  missing for the section as a whole (all of its mistakes, with a bar or without)
            shows          int    shows at which it went wrong
            reviewed       int    performances of the song reviewed
            mistakes       int
            rate           float  mistakes a performance, drawn towards all spots
            low, high      float  95 % interval of that

    Notes
    -----
    Gamma-Poisson shrinkage over all spots in which anything was ever found: see `tourstats.models.estimates`.

    Examples
    --------
    >>> reviews = pd.DataFrame({"show_id": [1, 2, 3], "song": "Ferry"})
    >>> found = reviews.iloc[[0, 2]].assign(section="bridge", bar=[4, 9], severity=1)
    >>> spots(found, reviews)[["section", "bar", "shows", "reviewed"]]
      section   bar  shows  reviewed
    0  bridge  <NA>      2         3

    """
    found = checked(mistakes, "mistakes")
    found = found[(found.listening == 1) & found.section.notna() & (found.section != NOT_SAID)]
    heard = counts(reviews, mistakes).groupby("song").size()
    whole = found.assign(bar=pd.NA)
    parts = [_counted(part, heard) for part in (whole, found[found.bar.notna()])]
    table = pd.concat(parts, ignore_index=True).astype({"bar": "Int64"})
    table = table[table.shows >= OFTEN]
    # A bar that has all of its section's mistakes says it better than the section does.
    named = table[table.bar.notna()][["song", "section", "mistakes"]].drop_duplicates()
    same = table.merge(named, how="left", on=["song", "section", "mistakes"], indicator="same").same == "both"
    table = table[~(same.to_numpy() & table.bar.isna().to_numpy())]
    return table.sort_values(["low", "rate"], ascending=False, kind="stable", ignore_index=True)


def _counted(found: pd.DataFrame, heard: pd.Series) -> pd.DataFrame:
    """Shows, mistakes and shrunken rate of each spot."""
    groups = found.groupby(["song", "section", "bar"], sort=False, dropna=False)
    table = groups.agg(shows=("show_id", "nunique"), mistakes=("show_id", "size")).reset_index()
    table["reviewed"] = table.song.map(heard).astype(int) if len(table) else pd.Series(dtype=int)
    model = gamma_poisson(table.mistakes, table.reviewed)
    low, high = model.interval(table.mistakes, table.reviewed)
    table = table.assign(rate=model.mean(table.mistakes, table.reviewed), low=low, high=high)
    return table[["song", "section", "bar", "shows", "reviewed", "mistakes", "rate", "low", "high"]]


def hard_parts(mistakes: pd.DataFrame, songs: Iterable[str]) -> pd.Series:
    """Share of each song's mistakes that lie in its worst section, drawn to seven tenths by four mistakes.

    Examples
    --------
    By hand: three of four in the bridge, (3 + 4 * 0.7) / (4 + 4).

    >>> sections = ["bridge", "bridge", "bridge", "verse"]
    >>> found = pd.DataFrame({"show_id": 1, "song": "Ferry", "section": sections, "severity": 1})
    >>> hard_parts(found, ["Ferry", "Tin Rook"]).round(3).tolist()
    [0.725, 0.7]

    """
    found = checked(mistakes, "mistakes")
    found = found[(found.listening == 1) & found.section.notna()]
    by_section = found.groupby(["song", "section"]).size()
    titles = pd.Index(list(songs))
    worst, every = (
        values.reindex(titles).fillna(0.0).to_numpy(float)
        for values in (by_section.groupby("song").max(), by_section.groupby("song").sum())
    )
    return pd.Series((worst + WORTH * HARD_PART) / (every + WORTH), index=titles)
