"""One tour: every table, checked once and never changed, and the ways to look at a part of it.

`until` is the one place that says what was known before a show. Whatever is asked of show k is asked of
`tour.until(k)`, so that it is the same with and without all that came after.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import date, datetime, timedelta
from functools import cache
from html import escape
from typing import Any

import pandas as pd

from tourstats.problems import TableProblem, UnknownShowProblem, counted
from tourstats.tables import ALL, Checked, checked, content, empty, in_order, one_day

NAMES = (*ALL, "planned")
"""Tables of a tour: those described in `tables`, and the sets twice, as they were played and as they were planned."""
NIGHT_ENDS = 6
"""Hour until which the night before goes on."""
UP_TO_THE_SHOW = ("shows", "planned", "levels", "ticks", "attendance", "counts")
"""What a show has before it begins: its place, its paper, a new level of playing, and who stands at its doors."""
AFTERWARDS = ("recording",)
"""Columns of a show that are known only when it is over."""


class Tour:
    """Everything that is known of a tour, as tables: `songs`, `shows`, `plays` (as played), `planned` and so on.

    Each name of `tables.ALL` is an attribute, and `planned` beside `plays`. A tour never changes: what is made of one
    of its tables is an ordinary DataFrame, and `replaced` gives another tour. Without arguments every table is empty.

    Parameters
    ----------
    before
        The show that this tour stands before, if it was cut there.
    note
        What to say of where it comes from.
    frames
        Tables that are right already, as the diary reads them. For any other frames use `Tour.of`, which checks them.

    Examples
    --------
    >>> tour = Tour.of(
    ...     songs=pd.DataFrame({"song": ["Ferry", "Tin Rook"]}),
    ...     shows=pd.DataFrame({"show_id": [1, 2], "date": ["2031-03-04", "2031-03-05"]}),
    ...     plays=pd.DataFrame({"show_id": [1, 2], "position": [1, 1], "song": ["Ferry", "Tin Rook"]}),
    ... )
    >>> tour
    A tour of 2 shows from 2031-03-04 to 2031-03-05, 2 with a set; 2 songs. Nothing yet of: venues, rehearsals,
    reviews, mistakes, worked, sections, tested, measured, notes, attendance, counts, levels, things, ticks, planned.
    >>> tour.until(2).plays.song.tolist()
    ['Ferry']

    """

    def __init__(self, before: Any = None, note: str = "", **frames: pd.DataFrame) -> None:  # noqa: ANN401  # a show_id
        _known(frames)
        made = {name: _sealed(frames[name], name) if name in frames else _none(name) for name in NAMES}
        object.__setattr__(self, "_frames", made)
        object.__setattr__(self, "before", before)
        object.__setattr__(self, "note", note)

    @classmethod
    def of(cls, **frames: pd.DataFrame) -> Tour:
        """Check each frame given and take an empty table for each one that is not.

        Raises
        ------
        TableProblem
            Names the first cell that is wrong, or a table that there is not.

        Examples
        --------
        >>> tour = Tour.of(songs=pd.DataFrame({"song": ["Ferry"]}))
        >>> tour.songs.song.tolist(), len(tour.plays)
        (['Ferry'], 0)

        """
        _known(frames)
        return cls(**{name: checked(frame, _table(name)) for name, frame in frames.items()})

    def replaced(self, **frames: pd.DataFrame) -> Tour:
        """Return the same tour with other frames in place of some tables, checked.

        Examples
        --------
        >>> Tour().replaced(songs=pd.DataFrame({"song": ["Ferry"]})).songs.song.tolist()
        ['Ferry']

        """
        _known(frames)
        new = {name: checked(frame, _table(name)) for name, frame in frames.items()}
        return type(self)(self.before, self.note, **{**dict(self), **new})

    def noted(self, note: str) -> Tour:
        """Return the same tour, which says of itself where it comes from."""
        return type(self)(self.before, note, **dict(self))

    def until(self, show_id: object) -> Tour:
        """Everything as it stood before one show; its own row is there, so that it is the next.

        Sets, reviews, mistakes and whatever else belongs to a show are those of earlier shows; what was planned, a new
        level and who comes are those of the show too. Rehearsals count until its day. A note counts if it was written
        before its day, or on that day and not at this show. Songs that joined later are left out; what a song's row
        says (its tempo, its readiness) bears no date and stands as it is now.

        Raises
        ------
        UnknownShowProblem
            If there is no such show.

        """
        return self._cut(show_id, over=False)

    def through(self, show_id: object) -> Tour:
        """Everything as it stood when one show was over: as `until`, with its set, its review and its recording."""
        return self._cut(show_id, over=True)

    def shows_between(self, first: object = None, last: object = None) -> Tour:
        """Only the shows between two days or two shows, both counted in, and what belongs to them.

        Rehearsals and notes are those from the day after the show before up to the last day, so that what was run for
        the first show is there.

        Parameters
        ----------
        first, last
            A day (date or ISO text) or a show_id; from the beginning, or to the end, if not said.

        Examples
        --------
        >>> shows = pd.DataFrame({"show_id": [1, 2, 3], "date": ["2031-03-04", "2031-03-05", "2031-03-08"]})
        >>> Tour.of(shows=shows).shows_between("2031-03-05").shows.show_id.tolist()
        [2, 3]

        """
        shows = in_order(self.shows)
        return self._only(shows[_from(shows, first) & _from(shows[::-1], last)[::-1]])

    def leg(self, name: str | None = None) -> Tour:
        """Only the shows of one leg and what belongs to them, as `shows_between`; the latest with a set if not said.

        Raises
        ------
        TableProblem
            If no show belongs to such a leg.

        Examples
        --------
        >>> shows = pd.DataFrame({"show_id": [1, 2], "date": ["2031-03-04", "2031-05-05"], "leg": ["Spring", "Early summer"]})
        >>> Tour.of(shows=shows).leg("Spring").shows.show_id.tolist()
        [1]

        """  # noqa: E501  # the example is one frame
        shows, legs = in_order(self.shows), self.legs()
        if name is None:
            played = self.played().leg.dropna()
            name = played.iloc[-1] if len(played) else legs[-1] if legs else None
            if name is None:
                return self
        if name not in legs:
            known = f"The legs are {', '.join(legs)}." if legs else "No show belongs to a leg yet."
            raise TableProblem(f'There is no leg "{name}". {known}')
        return self._only(shows[shows.leg == name])

    def legs(self) -> list[str]:
        """Names of the legs, in the order of their first shows."""
        return list(dict.fromkeys(in_order(self.shows).leg.dropna()))

    def played(self) -> pd.DataFrame:
        """Shows that have a played set, in order."""
        shows = in_order(self.shows)
        return shows[shows.show_id.isin(self.plays.show_id)].reset_index(drop=True)

    def next_show(self) -> Any:  # noqa: ANN401  # as show_id in a table
        """The show that this tour stands before: where it was cut, else the first after the last one with a set.

        None if no show is to come.

        Examples
        --------
        >>> shows = pd.DataFrame({"show_id": [1, 2], "date": ["2031-03-04", "2031-03-05"]})
        >>> plays = pd.DataFrame({"show_id": [1], "position": [1], "song": ["Ferry"]})
        >>> int(Tour.of(shows=shows, plays=plays).next_show())
        2

        """
        if self.before is not None:
            return self.before
        ahead = coming(self.shows, self.plays)
        return ahead.show_id.iloc[0] if len(ahead) else None

    def day_of(self, show_id: object) -> date | None:
        """The day of a show; None if there is no such show."""
        rows = self.shows[self.shows.show_id == show_id]
        return rows.date.iloc[0].date() if len(rows) else None

    def show(self, show_id: object = None) -> dict[str, Any]:
        """What is known of a show, as a mapping that models take for `next_show`; of the next one if not said.

        Only what is known is in it; it is empty if no show is to come.

        Examples
        --------
        >>> Tour.of(shows=pd.DataFrame({"show_id": [7], "date": ["2031-03-04"]})).show()
        {'show_id': 7, 'date': Timestamp('2031-03-04 00:00:00'), 'number': 1}

        """
        asked = self.next_show() if show_id is None else show_id
        if asked is None:
            return {}
        rows = self.shows[self.shows.show_id == asked].to_dict("records")
        if not rows:
            raise UnknownShowProblem.of(asked)
        return {str(name): value for name, value in rows[0].items() if not pd.isna(value)}

    def set_of(self, show_id: object) -> pd.DataFrame:
        """The set of a show by position: as it was planned, else as it was played; empty if there is none."""
        for sets in (self.planned, self.plays):
            own = sets[sets.show_id == show_id]
            if len(own):
                break
        return own.sort_values("position", kind="stable", ignore_index=True)

    @property
    def content(self) -> str:
        """A digest of everything in it: another one where a single cell differs."""
        if "_content" not in self.__dict__:
            self.__dict__["_content"] = content([self.before, *self])
        return str(self.__dict__["_content"])

    def __getattr__(self, name: str) -> pd.DataFrame:
        """Return a table."""
        try:
            return self.__dict__["_frames"][name]
        except KeyError:
            raise AttributeError(f"A tour has no table `{name}`; it has {', '.join(NAMES)}.") from None

    def __setattr__(self, name: str, value: object) -> None:
        """Refuse: a tour never changes."""
        raise AttributeError(f"A tour never changes; `tour.replaced({name}=…)` gives another one.")

    def __iter__(self) -> Iterator[tuple[str, pd.DataFrame]]:
        """Each table with its name."""
        return iter(self.__dict__["_frames"].items())

    def __dir__(self) -> list[str]:
        """Offer the tables where names are completed."""
        return [*super().__dir__(), *NAMES]

    def __repr__(self) -> str:
        """One or two sentences: what is in it, from when to when, and what is missing."""
        return " ".join(self._words())

    def _repr_html_(self) -> str:
        rows = "".join(
            f"<tr><th scope='row'>{name}</th><td>{len(table):,}</td><td>{escape(_what(name))}</td></tr>"
            for name, table in self
            if len(table)
        )
        said = "".join(f"<p>{escape(words)}</p>" for words in self._words())
        head = "<tr><th scope='col'>table</th><th scope='col'>rows</th><th scope='col'>what</th></tr>"
        return f"{said}<table><thead>{head}</thead><tbody>{rows}</tbody></table>" if rows else said

    def _words(self) -> list[str]:
        shows, songs = in_order(self.shows), counted(len(self.songs), "song")
        when = f" from {shows.date.iloc[0]:%Y-%m-%d} to {shows.date.iloc[-1]:%Y-%m-%d}" if len(shows) else ""
        legs = f", in {counted(len(self.legs()), 'leg')}" if self.legs() else ""
        sets = f", {len(self.played())} with a set" if len(shows) else ""
        said = [f"A tour of {counted(len(shows), 'show')}{when}{legs}{sets}; {songs}."]
        if self.before is not None:
            said.append(f"It stands before show {self.before}.")
        missing = [name for name, table in self if not len(table) and name != "settings"]
        said += [f"Nothing yet of: {', '.join(missing)}."] if missing else []
        return [*([self.note.replace("*", "")] if self.note else []), *said]

    def _cut(self, show_id: object, *, over: bool) -> Tour:
        """Everything up to a show, without or with what came of it."""
        shows = in_order(self.shows)
        at = shows.index[shows.show_id == show_id]
        if not len(at):
            raise UnknownShowProblem.of(show_id)
        day, to_here = shows.date[at[0]], shows.show_id[: at[0] + 1]
        done = to_here if over else to_here[:-1]
        frames = {name: _of_shows(table, to_here if name in UP_TO_THE_SHOW else done) for name, table in self}
        hidden = {name: shows[name].where(shows.show_id.isin(done)) for name in AFTERWARDS}
        frames["shows"] = shows[: at[0] + 1].assign(**hidden)
        for name in ("rehearsals", "tested"):
            table = getattr(self, name)
            frames[name] = table[table.date <= day]
        frames["notes"] = self.notes[_written_by(self.notes, done, to_here, day)]
        joined = ~(self.songs.since > day) | self.songs.song.isin([*frames["plays"].song, *frames["planned"].song])
        frames["songs"] = self.songs[joined]
        return type(self)(None if over else show_id, self.note, **_renumbered(frames))

    def _only(self, shows: pd.DataFrame) -> Tour:
        """Only these shows and what belongs to them."""
        every = in_order(self.shows)
        frames = {name: _of_shows(table, shows.show_id) for name, table in self}
        frames["shows"] = shows
        if len(shows):
            before = every.date[every.date < shows.date.iloc[0]]
            for name in ("rehearsals", "tested", "notes"):
                table = getattr(self, name)
                inside = (table.date <= shows.date.iloc[-1]) & ~(len(before) and table.date <= before.iloc[-1])
                frames[name] = table[inside]
        return type(self)(None, self.note, **_renumbered(frames))


def night_of(at: datetime) -> date:
    """The day of which it is the night until morning.

    Examples
    --------
    >>> night_of(datetime(2031, 3, 5, 2)), night_of(datetime(2031, 3, 5, 16))
    (datetime.date(2031, 3, 4), datetime.date(2031, 3, 5))

    """
    return at.date() - timedelta(days=int(at.hour < NIGHT_ENDS))


def coming(shows: pd.DataFrame, plays: pd.DataFrame) -> pd.DataFrame:
    """Shows after the last one that has a played set, in order."""
    ordered = in_order(shows)
    played = ordered.index[ordered.show_id.isin(plays.show_id)]
    return ordered.loc[played[-1] + 1 if len(played) else 0 :].reset_index(drop=True)


def at_hand(tour: Tour, today: date = date.max) -> Any:  # noqa: ANN401  # as show_id in a table
    """The show that a day is about: the one to log if nobody did, else the next; None if no show is to come.

    Examples
    --------
    >>> shows = pd.DataFrame({"show_id": [1, 2, 3], "date": ["2031-03-04", "2031-03-05", "2031-03-06"]})
    >>> planned = pd.DataFrame({"show_id": [1, 2, 3], "position": 1, "song": "Ferry"})
    >>> tour = Tour.of(shows=shows, planned=planned, plays=planned[:1])
    >>> [int(at_hand(tour, date(2031, 3, day))) for day in (5, 6)], int(tour.next_show())
    ([2, 3], 2)

    """
    waits = to_log(tour, today)
    return tour.next_show() if waits is None or (tour.plays.show_id == waits).any() else waits


def to_log(tour: Tour, today: date = date.max) -> int | None:
    """The latest show that has a set and is not still to come.

    An earlier one that nobody logged does not come back every night. Before the first set is played it is the next
    show; where the days of sets that were played are still to come too, as in a made-up tour, the next show if it has
    a set, else the latest.

    Examples
    --------
    >>> shows = pd.DataFrame({"show_id": [1, 2, 3], "date": ["2031-03-04", "2031-03-05", "2031-03-06"]})
    >>> planned = pd.DataFrame({"show_id": [1, 2, 3], "position": 1, "song": "Ferry"})
    >>> tour = Tour.of(shows=shows, planned=planned, plays=planned[:1])
    >>> to_log(tour, date(2031, 3, 5)), to_log(tour, date(2030, 1, 1))
    (2, 2)

    """
    shows = in_order(tour.shows)
    has_set = shows[shows.show_id.isin([*tour.plays.show_id, *tour.planned.show_id])]
    so_far = has_set[has_set.date.dt.date <= today]
    ahead = tour.next_show()
    if len(so_far):
        return int(so_far.show_id.iloc[-1])
    if ahead is not None and (not len(tour.plays) or ahead in has_set.show_id.array):
        return int(ahead)
    return int(has_set.show_id.iloc[-1]) if len(tour.plays) else None


def earlier(shows: pd.DataFrame, show: Mapping[str, Any]) -> pd.DataFrame:
    """Shows before one that is given as a mapping, in order: before its place, or else before its day and number.

    Parameters
    ----------
    shows
        As in `tables.Shows`.
    show
        show_id, or date and perhaps number; without a number every show of that day counts as before.

    Examples
    --------
    >>> shows = pd.DataFrame({"show_id": [1, 2], "date": ["2031-03-04", "2031-03-05"]})
    >>> earlier(shows, {"show_id": 2}).show_id.tolist(), earlier(shows, {"date": "2031-03-05"}).show_id.tolist()
    ([1], [1, 2])

    """
    ordered = in_order(shows)
    known = ordered.index[ordered.show_id == show["show_id"]] if "show_id" in show else []
    if len(known):
        return ordered.iloc[: known[0]]
    asked = one_day(show["date"])
    number = show.get("number") or float("inf")
    return ordered[(ordered.date < asked) | ((ordered.date == asked) & (ordered.number < number))]


def _of_shows(table: pd.DataFrame, show_ids: pd.Series) -> pd.DataFrame:
    """Rows that belong to these shows; a table that belongs to no show is left whole."""
    return table[table.show_id.isin(show_ids)] if "show_id" in table.columns else table


def _written_by(notes: pd.DataFrame, done: pd.Series, to_here: pd.Series, day: pd.Timestamp) -> pd.Series:
    """Whether each note was there by then: before the day, or on it and not at a show that was yet to come."""
    at_done, at_none_later = (notes.show_id.isna() | notes.show_id.isin(shows) for shows in (done, to_here))
    return ((notes.date < day) & at_none_later) | (~(notes.date > day) & at_done)


def _from(shows: pd.DataFrame, edge: object) -> pd.Series:
    """Whether each show is at or after an edge in the order given: a day or a show_id."""
    if edge is None:
        return pd.Series(data=True, index=shows.index)
    if not isinstance(edge, str | date):
        if edge not in set(shows.show_id):
            raise UnknownShowProblem.of(edge)
        return (shows.show_id == edge).cummax()
    forwards = shows.index.is_monotonic_increasing
    return shows.date >= one_day(edge) if forwards else shows.date <= one_day(edge)


def _renumbered(frames: Mapping[str, pd.DataFrame]) -> dict[str, pd.DataFrame]:
    return {name: frame.reset_index(drop=True) for name, frame in frames.items()}


def _table(name: str) -> str:
    """The table that describes one of a tour's: planned sets are sets too."""
    return "plays" if name == "planned" else name


def _known(frames: Mapping[str, object]) -> None:
    unknown = [name for name in frames if name not in NAMES]
    if unknown:
        raise TableProblem(f"A tour has no table `{unknown[0]}`; it has {', '.join(NAMES)}.")


def _sealed(frame: pd.DataFrame, name: str) -> Checked:
    return frame if isinstance(frame, Checked) and frame.table == _table(name) else Checked(frame, _table(name))


@cache
def _none(name: str) -> Checked:
    return _sealed(empty(_table(name)), name)


def _what(name: str) -> str:
    """What a table holds, from its description."""
    if name == "planned":
        return "Sets as they were handed out, a row a show and position"
    return str(ALL[name].__doc__).split("\n", 1)[0].rstrip(".")
