"""Tables that a plan is made from: checked, filled in where something is not known, and in an order without titles."""

from __future__ import annotations

import zlib
from collections.abc import Iterable, Mapping, Sequence

import numpy as np
import pandas as pd

from tourstats.models.estimates import HARD_PART, PRIOR_RATE, PRIOR_RUNS, PRIOR_TRANSITION
from tourstats.problems import Problem, TableProblem

TAKES = {
    "whole run": round(-float(np.expm1(PRIOR_RUNS["kit"][0])), 2),
    "hard section": round(-HARD_PART * float(np.expm1(PRIOR_RUNS["kit"][0])), 2),
    "listen": round(-float(np.expm1(PRIOR_RUNS["listen"][0])), 2),
    "transition": round(-float(np.expm1(PRIOR_RUNS["kit"][0])), 2),
}
"""Share of the expected mistakes that one run takes away until a diary knows better: `playing.what_runs_take` is where
it comes from, and says what a diary has to say. Change it with `takes=`."""

WAYS = ("whole run", "hard section", "listen")
TRANSITION_PRIOR = round(PRIOR_RATE * float(np.expm1(PRIOR_TRANSITION[0])), 2)
"""Mistakes that a transition never played brings, where nothing is known. Common practice, no source."""

SONG_MINUTES = 4.0
"""Length of a song where no length at all is known."""

HARD_SHARE = 0.4
"""Length of the hard section as a share of the song, where it is not given. Common practice, no source."""

TRANSITION_MINUTES = 1.5
"""The end of one song and the start of the next. Common practice, no source."""


class PlanProblem(Problem):
    """What was asked of a plan cannot be."""

    @classmethod
    def bad_minutes(cls, name: str, value: object, expected: str) -> PlanProblem:
        """Say which setting is wrong and what it may be."""
        return cls(f"`{name}` is {value!r}, but it has to be {expected}.")

    @classmethod
    def bad_choice(cls, name: str, value: object, right: Sequence[str]) -> PlanProblem:
        """Say which word is wrong and list the right ones."""
        return cls(f"`{name}` may name {', '.join(right)}; it named {value!r}.")

    @classmethod
    def bad_take(cls, what: str, value: object) -> PlanProblem:
        """Say which share is wrong."""
        return cls(f"`takes` for {what} is {value!r}, but it has to be a share between 0 and 1.")

    @classmethod
    def unknown_song(cls, row: int, column: str, title: str) -> PlanProblem:
        """Name the transition whose song is no candidate."""
        return cls(
            f'Row {row} of the table of transitions: `{column}` is "{title}", which is not among the candidates. '
            "Add the song there, or take the transition out."
        )


def number(value: object, name: str, *, least: float = 0.0) -> float:
    """A setting as a finite number, or say what is wrong with it."""
    expected = f"a number of minutes, {least:g} or more"
    if isinstance(value, str | bytes | bool) or not np.isscalar(value):
        raise PlanProblem.bad_minutes(name, value, expected)
    as_float = float(value)  # type: ignore[arg-type]
    if not np.isfinite(as_float) or as_float < least:
        raise PlanProblem.bad_minutes(name, value, expected)
    return as_float


def shares(takes: Mapping[str, float] | None) -> dict[str, float]:
    """What each way takes away: the table `TAKES` with what the caller changed."""
    for what, share in (takes or {}).items():
        if what not in TAKES:
            raise PlanProblem.bad_choice("takes", what, tuple(TAKES))
        if not 0 <= share <= 1:
            raise PlanProblem.bad_take(what, share)
    return {**TAKES, **(takes or {})}


def checked_candidates(candidates: pd.DataFrame) -> pd.DataFrame:
    """Candidates with every number filled in, a row a song, in an order that titles and rows do not change.

    Adds `worth` (chance times expected times weight) and `assumed` (whether the expected mistakes are the prior).
    """
    table = _titled(candidates, "candidates", ["song"])
    table["chance"] = _column(table, "candidates", "chance", (0.0, 1.0), default=1.0)
    table["expected"] = _column(table, "candidates", "expected", (0.0, np.inf), blank=True)
    table["minutes"] = _column(table, "candidates", "minutes", (0.0, np.inf), blank=True, over=True)
    table["hard_minutes"] = _column(table, "candidates", "hard_minutes", (0.0, np.inf), blank=True, over=True)
    table["done"] = _column(table, "candidates", "done", (0.0, 1.0), default=0.0)
    table["weight"] = _column(table, "candidates", "weight", (0.0, np.inf), default=1.0)
    table["hard_part"] = _column(table, "candidates", "hard_part", (0.0, 1.0), blank=True)
    said = table["assumed"].eq(other=True) if "assumed" in table else False
    table["assumed"] = table.expected.isna() | said
    table["expected"] = table.expected.fillna(PRIOR_RATE)
    median = table.minutes.median() if table.minutes.notna().any() else SONG_MINUTES
    table["minutes"] = table.minutes.fillna(median)
    table["hard_minutes"] = np.minimum(table.hard_minutes.fillna(HARD_SHARE * table.minutes), table.minutes)
    table = _once(table, ["song"])
    place = pd.to_numeric(table["position"], errors="coerce") if "position" in table else pd.Series(np.nan, table.index)
    keys = {"fragile": -table.worth, "likely": -table.chance, "place": place, "short": table.minutes}
    order = pd.DataFrame({**keys, "hard": table.hard_minutes, "lot": table.song.map(lot)})
    return table.loc[order.sort_values(list(order.columns), kind="stable").index].reset_index(drop=True)


def checked_transitions(transitions: pd.DataFrame | None, songs: pd.DataFrame) -> pd.DataFrame:
    """Transitions with every number filled in, a row a pair, ordered like `songs` (checked candidates).

    Adds `a` and `b`, places of the two songs among the candidates, and `worth` and `assumed` as there.
    """
    if transitions is None:
        transitions = pd.DataFrame({"song": [], "next_song": []})
    table = _titled(transitions, "transitions", ["song", "next_song"])
    place = dict(zip(songs.song, songs.index, strict=True))
    for column in ("song", "next_song"):
        for row, title in enumerate(table[column], start=1):
            if title not in place:
                raise PlanProblem.unknown_song(row, column, title)
    table["a"], table["b"] = table.song.map(place).astype(int), table.next_song.map(place).astype(int)
    both = np.minimum(songs.chance.to_numpy()[table.a], songs.chance.to_numpy()[table.b])
    table["chance"] = _column(table, "transitions", "chance", (0.0, 1.0), default=both)
    table["expected"] = _column(table, "transitions", "expected", (0.0, np.inf), blank=True)
    table["minutes"] = _column(table, "transitions", "minutes", (0.0, np.inf), blank=True, over=True)
    table["assumed"] = table.expected.isna()
    table["expected"] = table.expected.fillna(TRANSITION_PRIOR)
    table["minutes"] = table.minutes.fillna(TRANSITION_MINUTES)
    table = _once(table, ["song", "next_song"])
    order = pd.DataFrame({"fragile": -table.worth, "a": table.a, "b": table.b})
    return table.loc[order.sort_values(["fragile", "a", "b"], kind="stable").index].reset_index(drop=True)


def candidates(
    songs: pd.DataFrame | Iterable[str],
    chances: pd.DataFrame | Mapping[str, float] | None = None,
    expected: pd.DataFrame | Mapping[str, float] | None = None,
) -> pd.DataFrame:
    """Put together what is known of each song, as `plan` takes it. No song is dropped.

    Parameters
    ----------
    songs
        Titles, or a table with them: minutes, watch and every other column is kept.
    chances
        Chance of being played by title: a table with song and chance (and because), or a mapping. None means that
        every song is played; else a song that is not there has no chance, and a song that is only there is added.
    expected
        Mistakes per performance by title: a table with song and expected or rate, or a mapping.

    Returns
    -------
    DataFrame
        A row a song: song, chance, expected, assumed, then the other columns, with because if the chances have it.
        Where nothing was reviewed, expected is the mean of the songs that were, or 0.3, and assumed is True.

    Examples
    --------
    >>> candidates(["Ferry", "Tin Rook"], {"Ferry": 0.7}, {"Tin Rook": 0.3})
           song  chance  expected  assumed
    0     Ferry     0.7       0.3     True
    1  Tin Rook     0.0       0.3    False

    """
    table = songs if isinstance(songs, pd.DataFrame) else pd.DataFrame({"song": pd.Series(list(songs), dtype=object)})
    table = _titled(table, "songs", ["song"]).drop(columns=["chance", "expected", "assumed"], errors="ignore")
    likely, rates = chances_of(chances), by_title(expected, "expected", ("expected", "rate"))
    more = [title for title in likely.index if title not in set(table.song)]
    table = pd.concat([table, pd.DataFrame({"song": more})], ignore_index=True) if more else table
    table.insert(1, "chance", 1.0 if chances is None else table.song.map(likely).astype(float).fillna(0.0))
    known = table.song.map(rates).astype(float)
    table.insert(2, "expected", known.fillna(known.mean() if known.notna().any() else PRIOR_RATE))
    table.insert(3, "assumed", known.isna())
    if isinstance(chances, pd.DataFrame) and "because" in chances and "because" not in table:
        table = table.merge(chances[["song", "because"]].drop_duplicates("song"), how="left", on="song")
    return table


def chances_of(chances: pd.DataFrame | Mapping[str, float] | None) -> pd.Series:
    """Chance of being played by title."""
    likely = by_title(chances, "chances", ("chance",))
    for row, chance in enumerate(likely, start=1):
        if not 0 <= chance <= 1:
            raise TableProblem.bad_value("chances", "chance", row, chance, "a number between 0 and 1")
    return likely


def by_title(values: pd.DataFrame | Mapping[str, float] | None, name: str, columns: tuple[str, ...]) -> pd.Series:
    """One number a title, from a table with any of these columns or from a mapping."""
    if values is None:
        return pd.Series(dtype=float)
    if not isinstance(values, pd.DataFrame):
        return pd.Series(dict(values), dtype=float)
    column = next((column for column in columns if column in values), columns[0])
    if "song" not in values or column not in values:
        raise TableProblem.missing_columns(name, ["song", column], values.columns)
    once = values.drop_duplicates("song")
    return pd.Series(once[column].to_numpy(dtype=float), index=once["song"].to_numpy(dtype=object))


def lot(title: str) -> int:
    """Number drawn for a title, always the same: what is equal in all else is not put in order of the alphabet."""
    return zlib.crc32(f"lot {title}".encode())


def weight_of(table: pd.DataFrame) -> pd.Series:
    """What a mistake of each row weighs; 1 where nobody said, or where it weighs nothing."""
    return table["weight"].where(table["weight"] > 0, 1.0) if "weight" in table else pd.Series(1.0, table.index)


def left_of(share: float, done: float) -> float:
    """Share of what is left that a run takes away which takes a share of all, where runs took away some already.

    Examples
    --------
    >>> left_of(0.5, 0.0), left_of(0.5, 0.2), left_of(0.5, 0.6)
    (0.5, 0.375, 0.0)

    """
    return max(0.0, 1 - (1 - share) / (1 - done)) if done < 1 else 0.0


def _titled(frame: pd.DataFrame, name: str, titles: list[str]) -> pd.DataFrame:
    missing = [column for column in titles if column not in frame.columns]
    if missing:
        raise TableProblem.missing_columns(name, missing, frame.columns)
    table = frame.reset_index(drop=True)
    for column in titles:
        for row, title in enumerate(table[column], start=1):
            if not isinstance(title, str) or not title.strip():
                raise TableProblem.bad_value(name, column, row, title, "a title")
        table[column] = table[column].astype(object)
    return table


def _column(
    table: pd.DataFrame,
    name: str,
    column: str,
    limits: tuple[float, float],
    *,
    default: object = np.nan,
    blank: bool = False,
    over: bool = False,
) -> pd.Series:
    """One column as numbers within its limits; `blank` cells may be empty, `over` excludes the lower limit."""
    if column not in table:
        return pd.Series(default, index=table.index, dtype=float)
    values = pd.to_numeric(table[column], errors="coerce").astype(float)
    low, high = limits
    fine = np.isfinite(values) & (values <= high) & ((values > low) if over else (values >= low))
    empty = table[column].isna() if blank else pd.Series(False, index=table.index)
    for row in np.flatnonzero(~(fine | empty)):
        between = f"a number between {low:g} and {high:g}" if np.isfinite(high) else f"a number of at least {low:g}"
        expected = f"a number over {low:g}" if over else between
        value = table[column].iloc[row]
        value = value.item() if isinstance(value, np.generic) else value
        raise TableProblem.bad_value(name, column, int(row) + 1, value, expected + (", or empty" if blank else ""))
    return values


def _once(table: pd.DataFrame, titles: list[str]) -> pd.DataFrame:
    """A row a song, or pair: a song that stands twice in a set is expected to go wrong twice, and is run once."""
    table = table.assign(worth=table.chance * table.expected * table.get("weight", 1.0))
    if not table.duplicated(titles).any():
        return table
    groups = table.groupby(titles, sort=False)
    first = table.drop_duplicates(titles).reset_index(drop=True)
    first["worth"] = groups.worth.sum().to_numpy()
    first["chance"] = groups.chance.max().to_numpy()
    first["expected"] = np.divide(
        first.worth / weight_of(first),
        first.chance,
        out=first.expected.to_numpy(dtype=float).copy(),
        where=first.chance.to_numpy() > 0,
    )
    return first
