"""The functions of the package's root: a tour in, tables out. Each one asks the model that answers.

A table that comes back is a `Told`: a DataFrame, so is whatever is made of it, and in a notebook it reads like every
table of the workbook. `table.labels` are the words of its columns, `table.units` what they are measured in. Any other
DataFrame gets the same look by `ts.table(frame)`.

Everything is asked of the tour as it is given: `ts.layoffs(tour.until(21))` is what was known before show 21.
"""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields, is_dataclass, replace
from datetime import date
from typing import Any, TypeVar

import pandas as pd

from tourstats.models import audience, playing, rotation, swaps, tonight
from tourstats.models import song as songs
from tourstats.models.playing import grouped
from tourstats.models.playing.contrast import Comparison
from tourstats.problems import Problem
from tourstats.tables import ALL, described
from tourstats.tour import Tour

Result = TypeVar("Result")

OF_A_MISTAKE = ("kind", "section", "cause", "severity")
UNITS = {"shows": "shows", "days": "days", "share": "share of 1", "rate": "a performance", "chance": "0 to 1"}
"""Units of columns that no table describes, by the last word of their name."""


class Told(pd.DataFrame):
    """A table that reads well in a notebook, and whose columns know their words and units."""

    @property
    def _constructor(self) -> Any:  # noqa: ANN401  # what pandas makes of it
        return Told

    @property
    def labels(self) -> dict[str, str]:
        """The words for each column that is here."""
        from tourstats.pages.kit.tables_shown import LABELS  # noqa: PLC0415  # only where it is shown

        words = {**LABELS, **self.attrs.get("labels", {})}
        return {str(name): words.get(str(name), str(name).replace("_", " ")) for name in self.columns}

    @property
    def units(self) -> dict[str, str]:
        """What each column that has a unit is measured in."""
        known = {name: column.unit for table in ALL for name, column in described(table).items() if column.unit}
        return {
            str(name): known.get(str(name)) or UNITS[str(name).rpartition("_")[2]]
            for name in self.columns
            if str(name) in known or str(name).rpartition("_")[2] in UNITS
        }

    def _repr_html_(self) -> str:
        from tourstats.pages.kit.tables_shown import shown  # noqa: PLC0415  # as above

        named = any(name is not None for name in self.index.names)  # numbers left by a query or a sort say nothing
        flat = pd.DataFrame(self).reset_index() if named else pd.DataFrame(self)
        most = self.attrs.get("most") or pd.get_option("display.max_rows")
        empty = self.attrs.get("empty") or "Nothing to show yet."
        return shown(flat, labels=self.attrs.get("labels"), most=most, empty=empty).html


def table(
    frame: pd.DataFrame,
    columns: Sequence[str] | None = None,
    *,
    labels: Mapping[str, str] | None = None,
    most: int | None = None,
    empty: str = "",
) -> Told:
    """Give any DataFrame the look of the workbook's tables; it stays a DataFrame, and so does what is made of it.

    Parameters
    ----------
    frame
        Whatever was made.
    columns
        Which columns, in which order; all of them if not said.
    labels
        Words for columns, before those that the workbook has.
    most
        Rows to show; how many more there are is said below.
    empty
        What to say where there are no rows.

    Examples
    --------
    >>> told = table(pd.DataFrame({"song": ["Ferry"], "new": [0.25]}), labels={"new": "new to most"})
    >>> told.labels, "new to most" in told.query("new < 1")._repr_html_()
    ({'song': 'song', 'new': 'new to most'}, True)

    """
    told = Told(frame if columns is None else frame[list(columns)])
    told.attrs = {"labels": dict(labels or {}), "most": most, "empty": empty}
    return told


def read(path: str | os.PathLike[str] | None = None) -> Tour:
    """Read a whole diary: the one at `path`, the demo tour ("demo"), or one's own, and before it exists the demo."""
    from tourstats.diary import opened  # noqa: PLC0415  # a tour can be asked without a file
    from tourstats.pages.kit.whose import whose  # noqa: PLC0415  # as above

    found = whose(None if path is None else os.fspath(path))
    with opened(found.path, make=False) as diary:
        return diary.read().noted(found.words.partition(" Try ")[0].partition(" Your own ")[0])


def layoffs(tour: Tour) -> Told:
    """How long each song has been out, a row a song, the longest first. As `models.rotation.layoffs`."""
    return Told(rotation.layoffs(tour.plays, tour.shows, tour.songs, tour.rehearsals, before=tour.before))


def returns(tour: Tour) -> Told:
    """Each time that a song was out and came back, or is still out. As `models.rotation.returns`."""
    return Told(rotation.returns(tour.plays, tour.shows))


def changes(tour: Tour, by: str = "show") -> Told:
    """What changed from set to set: how many songs (`by="show"`, a row a show) or which ones (`by="song"`)."""
    if by not in ("show", "song"):
        raise Problem(f"`by` is show or song; it was {by!r}.")
    counting = rotation.changes_a_night if by == "show" else rotation.changes
    return Told(counting(tour.plays, tour.shows))


def forecast(tour: Tour, known: Any = ()) -> swaps.Forecast:  # noqa: ANN401  # titles, or a mapping
    """Which songs come in at the next show: `.songs`, `.counts`, `.parts`. As `models.swaps.forecast`."""
    return _told(swaps.forecast(tour.plays, tour.shows, tour.songs, tour.show(), known=known))


def track_record(tour: Tour) -> swaps.Record:
    """How good the forecasts of past shows were, each made from the shows before it. As `models.swaps.track_record`."""
    return _told(swaps.track_record(tour.plays, tour.shows, tour.songs))


def performances(tour: Tour) -> Told:
    """Each reviewed performance with its circumstances, a row each. As `models.playing.grouped.performances`."""
    return Told(grouped.performances(tour))


def rates(tour: Tour, by: str | Sequence[str] = "song") -> Told:
    """Mistakes a reviewed performance in each group, drawn towards the mean, with 95 % intervals.

    Parameters
    ----------
    tour
        All of it, or a part.
    by
        Any column of songs, shows or `performances` ("song", "starts_by", "room"), or several; or a column of
        mistakes (kind, section, cause, severity), each against all performances; or "transition".

    """
    tour = tonight.heard_whole(tour)
    if isinstance(by, str) and by in (*OF_A_MISTAKE, "transition"):
        rated = playing.rates(tour.mistakes, tour.reviews, by, plays=tour.plays, shows=tour.shows)
        rated = rated.sort_values("rate", ascending=False, kind="stable", ignore_index=True)
        return Told(rated[[by, "reviewed", "mistakes", "rate", "low", "high"]])
    return Told(grouped.rates_by(performances(tour), by))


def effects(tour: Tour) -> Told:
    """What goes with mistakes, the rest held still: effect, words, ratio, low, high, clear. See `playing.effects`."""
    tour = tonight.heard_whole(tour)
    from tourstats.pages.trends.words import effects_in_words  # noqa: PLC0415  # the words of a page

    return Told(effects_in_words(tour))


def control(tour: Tour) -> Told:
    """Each reviewed show against what its set should have brought. As `models.playing.control`, with date and leg."""
    tour = tonight.heard_whole(tour)
    told = playing.control(tour.plays, tour.shows, tour.reviews, tour.mistakes, tour.levels)
    return Told(told.merge(tour.shows[["show_id", "date", "city", "leg"]], on="show_id"))


def compare(tour: Tour, legs: tuple[str, str] | None = None, day: date | str | None = None) -> Comparison:
    """Two legs against each other (the last two reviewed), or before and after a day. See `playing.compare`."""
    if legs is None and day is None:
        heard = [table.show_id[table.listening == 1] for table in (tour.reviews, tour.mistakes)]
        reviewed = tour.shows[tour.shows.show_id.isin(pd.concat(heard))]
        last = list(dict.fromkeys(reviewed.leg.dropna()))[-2:]
        if len(last) < 2:  # noqa: PLR2004  # a pair
            raise Problem(
                "There are no two legs with reviews to compare yet. Say a day: `ts.compare(tour, day='2031-04-01')`."
            )
        legs = (last[0], last[1])
    return _told(playing.compare(tour, legs=legs, day=day))


def freshness(tour: Tour, within: str = "leg") -> Told:
    """How new each set was to people who had been at an earlier show. As `models.audience.freshness`."""
    small = audience.SMALLEST
    return Told(audience.freshness(tour.plays, tour.shows, tour.attendance, within=within, hide_under=small))


def plan(tour: Tour, minutes: float = tonight.MINUTES) -> Told:
    """What to run in these minutes for the next show: for its set, or without one for the songs that may come in."""
    show_id = tour.next_show()
    if show_id is not None and len(tour.set_of(show_id)):
        return Told(tonight.brief(tour, show_id, minutes).plan)
    return Told(tonight.day_off(tour, forecast(tour).songs, tour.show(), minutes)[0])


def brief(tour: Tour, show_id: object = None, minutes: float = tonight.MINUTES) -> tonight.Brief:
    """Everything that the show day shows, of one show or the next. As `models.tonight.brief`."""
    asked = tour.next_show() if show_id is None else show_id
    if asked is None:
        raise Problem("No show is to come. Name one that was: `ts.brief(tour, show_id=…)`.")
    return _told(tonight.brief(tour, asked, minutes))


@dataclass(frozen=True)
class Song(songs.Song):
    """Everything about one song, as `models.song.Song`; in a notebook it reads like its page."""

    def __repr__(self) -> str:
        """The first sentences of its page."""
        from tourstats.pages.song import words  # noqa: PLC0415  # only where it is shown

        first = words.parts(self)[0]
        return f"{first.heading}: {first.words}"

    def _repr_html_(self) -> str:
        from tourstats.pages.song import words  # noqa: PLC0415  # as above

        return words.as_html(words.parts(self))


def song(tour: Tour, title: str) -> Song:
    """Everything about one song, found by its title or another name of it. As `models.song.song`."""
    found = songs.song(tour, title)
    return _told(Song(**{field.name: getattr(found, field.name) for field in fields(found)}))


def _told(result: Result) -> Result:
    """Let each table of a frozen result read well."""
    if not is_dataclass(result) or isinstance(result, type):
        return result
    frames = {field.name: getattr(result, field.name) for field in fields(result) if field.init}
    told = {name: Told(frame) for name, frame in frames.items() if isinstance(frame, pd.DataFrame)}
    return replace(result, **told)
