"""Every table of the diary: columns, types, units and allowed values. This is the one place.

A table is a pandas DataFrame. `checked` turns whatever came in (a CSV, a frame typed in a notebook) into the table
described here, or says which cell is wrong. Columns that are not in a frame and not required are added, empty, so that
a model never has to ask whether one is there.

A column is one line of its table below: type, description, label, other names it has in files, choices, unit. The file's
columns, what is read from it and noted for `undo`, what may be typed and imported, what is exported and shown all follow
from `described`. A new column that may be empty, or that says what an empty cell means, needs nothing else.
"""

# ruff: noqa: E501  # a column is one line
from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from functools import cache, wraps
from hashlib import sha256
from inspect import signature
from typing import Any, ClassVar, ParamSpec, Protocol, TypeVar

import numpy as np
import pandas as pd
import pandera.pandas as pa
from pandera.errors import SchemaErrors
from pandera.typing import Series

from tourstats.problems import TableProblem

Given = ParamSpec("Given")
Result = TypeVar("Result")

STATUSES = ("active", "learning", "retired")
ROOMS = ("theatre", "arena", "club", "festival", "studio", "other")
WAYS = ("listen", "pad", "kit", "band")
READINESS = ("on paper", "by ear", "by hand", "by heart", "at the kit", "show-ready")
SEVERITIES = (1, 2, 3)
CAUSES = ("playing", "sound", "feel")
ABOUT = ("song", "transition", "room", "venue", "show")
STAGES = ("planned", "played")
LISTENINGS = (1, 2)
KINDS = ("entry", "ending", "form", "groove", "tempo", "fill", "dynamics", "sound", "other")
"""Kinds of mistake that the forms offer; others may be typed."""

DATE = "datetime64[us]"
FIRST_YEAR, LAST_YEAR = 1700, 2199
"""Years in which a day may be; another one is a slip, and more than some arithmetic with days can hold."""
BETWEEN_ITEMS = ";"
"""What separates the items of `aliases`, `gear` and `samples` within one cell."""


def column(
    description: str,
    *,
    label: str = "",
    also: str = "",
    unit: str = "",
    items: bool = False,
    name: bool = False,
    default: object = None,
    was: Mapping[str, str] | None = None,
    **limits: Any,  # noqa: ANN401  # whatever pandera checks
) -> Any:  # noqa: ANN401  # what pandera makes of it
    """Describe one column, once.

    Parameters
    ----------
    description
        What it says, for the manual.
    label
        What heads it where people read it; its own name if not said.
    also
        Other names that it has in people's files, small, in one word each.
    unit
        What it is counted in.
    items
        Whether a cell is a list, its items separated by semicolons.
    name
        Whether its text is a name, so that line ends and double spaces mean nothing.
    default
        What an empty cell means, in a column that cannot be empty.
    was
        Allowed values by what earlier programs called them.
    **limits
        What pandera checks: nullable, isin, gt, ge, le, unique.

    """
    said = {"label": label, "also": tuple(also.split()), "unit": unit, "items": items, "name": name,
            "default": default, "was": dict(was or {})}  # fmt: skip
    return pa.Field(description=description, metadata=said, **limits)


class Table(pa.DataFrameModel):
    """What all tables share: other columns are kept, values are coerced."""

    class Config:
        """Settings of pandera."""

        coerce = True
        strict = False


# Said alike in several tables.
_TITLE: dict[str, Any] = {"also": "title titel titre songtitle", "name": True}
_SHOW: dict[str, Any] = {"label": "show", "also": "show"}
_DAY: dict[str, Any] = {"label": "day", "also": "day datum when"}
_CITY: dict[str, Any] = {"also": "town ort stadt ville", "name": True, "nullable": True}
_ROOM: dict[str, Any] = {
    "label": "kind of venue",
    "also": "roomkind kindofroom roomtype type",
    "nullable": True,
    "isin": ROOMS,
}
_MINUTES: dict[str, Any] = {
    "label": "length", "also": "min mins length duration time dauer lange", "unit": "minutes", "nullable": True, "gt": 0
}  # fmt: skip
_PLACE: dict[str, Any] = {"also": "place pos no", "ge": 1}
_BAR: dict[str, Any] = {"also": "measure takt", "nullable": True, "ge": 0}
_AT: dict[str, Any] = {"label": "at", "also": "seconds", "unit": "s", "nullable": True, "ge": 0}


# fmt: off
class Songs(Table):
    """The repertoire, a row a song."""

    song: Series[str] = column("title", **_TITLE, unique=True, str_length={"min_value": 1})
    aliases: Series[str] = column("other names, separated by semicolons", label="other names", also="alias othernames alsocalled short abbreviation nickname", items=True, nullable=True)
    status: Series[str] = column("whether it may be played; active if not said", also="state", default="active", isin=STATUSES)
    since: Series[DATE] = column("date it joined the repertoire", label="joined on", also="added from joined insince", nullable=True)
    new_release: Series[bool] = column("whether it is newly released; false if not said", label="newly released", also="newrelease new unreleased released", default=False)
    tempo_bpm: Series[float] = column("beats per minute", label="tempo", also="tempo bpm speed", unit="bpm", nullable=True, gt=0, le=400)
    minutes: Series[float] = column("how long it takes", **_MINUTES, le=120)
    starts_by: Series[str] = column("who starts it", also="starts whostarts start whocountsin countsin", nullable=True)
    count_in: Series[str] = column("how it is started: bars, click, sticks, nod", also="countin counted click-in", nullable=True)
    speech: Series[str] = column("what is said before it, and by whom; empty if it comes straight on", label="speech before it", also="talk announcement", nullable=True)
    gear: Series[str] = column("what to set out before doors, separated by semicolons", also="equipment instruments instrument", items=True, nullable=True)
    samples: Series[str] = column("samples in the order needed, separated by semicolons", also="sample", items=True, nullable=True)
    track: Series[str] = column("backing track or click", label="track or click", also="click backing backingtrack playback", nullable=True)
    track_by: Series[str] = column("who starts and stops the track or sample, and with what", label="track started by", also="trackstarts", nullable=True)
    track_fails: Series[str] = column("what to do if the track or sample fails", label="if the track fails", also="fallback", nullable=True)
    readiness: Series[str] = column("how far it is learned", also="ready learned", nullable=True, isin=READINESS, was={
        "charted": "on paper", "heard": "by ear", "tapped": "by hand", "memorised": "by heart", "on the kit": "at the kit"})
    watch: Series[str] = column("spots to watch", also="watchout spots notes note remarks remark comment comments", nullable=True)
    reference: Series[str] = column("as on the record: a recording or a link to learn it from", label="as on the record", also="link url original record reference", nullable=True)
    reference_now: Series[str] = column("as we play it now: a recording or a link", label="as we play it now", also="referencenow playednow live", nullable=True)


class Venues(Table):
    """Places, a row a venue."""

    venue: Series[str] = column("name of the venue", also="place hall house name", name=True, unique=True, str_length={"min_value": 1})
    city: Series[str] = column("city or town", **_CITY)
    room: Series[str] = column("kind of venue", **_ROOM)


class Shows(Table):
    """Performances, a row a show; played, and yet to come."""

    show_id: Series[Any] = column("number of the show in the diary", **_SHOW, unique=True)
    date: Series[DATE] = column("day of the show", **_DAY)
    number: Series[int] = column("first, second … show of that day; 1 if not said", label="show of the day", also="shownumber showofday", default=1, ge=1)
    leg: Series[str] = column("run of shows it belongs to", also="tour run", name=True, nullable=True)
    venue: Series[str] = column("name of the venue", also="place hall house name", name=True, nullable=True)
    city: Series[str] = column("city or town", **_CITY)
    room: Series[str] = column("kind of venue", **_ROOM)
    set_minutes: Series[float] = column("length of the set that was asked for", label="set asked for", also="setlength", unit="minutes", nullable=True, gt=0)
    recording: Series[str] = column("where the recording is", label="where the recording is", also="file audio", nullable=True)


class Plays(Table):
    """Sets, a row a show and position."""

    show_id: Series[Any] = column("number of the show", **_SHOW)
    position: Series[int] = column("place in the set, from 1", **_PLACE)
    song: Series[str] = column("title", **_TITLE)
    encore: Series[bool] = column("whether it came after the main set; false if not said", default=False)
    remark: Series[str] = column("what stands behind its title on the set list", also="remarks comment", nullable=True)
    segue: Series[bool] = column("whether it goes straight into the next song; false if not said", default=False)


class Rehearsals(Table):
    """Runs outside the show, a row a song and day and way."""

    date: Series[DATE] = column("day", **_DAY)
    song: Series[str] = column("title", **_TITLE)
    way: Series[str] = column("how: by listening, on a pad, at the kit, with the band", also="how kindofrehearsal", isin=WAYS)
    runs: Series[int] = column("how often; 1 if not said", also="times count repetitions", default=1, ge=1)
    minutes: Series[float] = column("how long in all", **_MINUTES)


class Reviews(Table):
    """Songs of recorded shows that were listened to, also when nothing was found."""

    show_id: Series[Any] = column("number of the show", **_SHOW)
    song: Series[str] = column("title", **_TITLE)
    listening: Series[int] = column("1 the first time, 2 again; 1 if not said", default=1, isin=LISTENINGS)


class Mistakes(Table):
    """What was found in a review, a row a mistake."""

    show_id: Series[Any] = column("number of the show", **_SHOW)
    song: Series[str] = column("title", **_TITLE)
    kind: Series[str] = column("what sort", also="type category", nullable=True)
    section: Series[str] = column("part of the song", also="part where", nullable=True)
    bar: Series[pd.Int64Dtype] = column("bar within the section or song", **_BAR)
    severity: Series[int] = column("1 only I heard it, 2 the band did, 3 everyone did", also="sev level", isin=SEVERITIES)
    cause: Series[str] = column("where it came from", also="why", nullable=True, isin=CAUSES, was={
        "execution": "playing", "sonic": "sound", "interpretation": "feel"})
    said_by: Series[str] = column("who said so", also="by who from", nullable=True)
    remark: Series[str] = column("in words", also="remarks comment description text", nullable=True)
    listening: Series[int] = column("found the first time or again; 1 if not said", default=1, isin=LISTENINGS)
    at_s: Series[float] = column("where in the recording", **_AT)


class Worked(Table):
    """What worked, heard in a review, a row a finding."""

    show_id: Series[Any] = column("number of the show", **_SHOW)
    song: Series[str] = column("title", **_TITLE)
    section: Series[str] = column("part of the song", also="part where", nullable=True)
    bar: Series[pd.Int64Dtype] = column("bar within the section or song", **_BAR)
    remark: Series[str] = column("in words", also="remarks comment description text", nullable=True)
    at_s: Series[float] = column("where in the recording", **_AT)


class Sections(Table):
    """The shape of a song, a row a section in its order."""

    song: Series[str] = column("title", **_TITLE)
    position: Series[int] = column("place in the song, from 1", **_PLACE)
    name: Series[str] = column("what the section is called", label="section", also="section part", name=True, str_length={"min_value": 1})
    bars: Series[pd.Int64Dtype] = column("how many bars", also="length measures takte", nullable=True, ge=1)
    feel: Series[str] = column("how it is played", also="groove", nullable=True)
    leads: Series[str] = column("who leads into it", also="leader", nullable=True)
    cue: Series[str] = column("what tells that it starts", nullable=True)
    hits: Series[str] = column("what must not be missed in it", also="hit accents", nullable=True)


class Tested(Table):
    """What was asked of a song's shape away from the instrument, a row an answer."""

    song: Series[str] = column("title", **_TITLE)
    date: Series[DATE] = column("day it was asked", **_DAY)
    asked: Series[str] = column("the question", also="question", str_length={"min_value": 1})
    known: Series[bool] = column("whether the answer was known", also="right")


class Measured(Table):
    """What a recording of a show says about each song of the played set, a row a place in the set."""

    show_id: Series[Any] = column("number of the show", **_SHOW)
    position: Series[int] = column("place in the set, from 1", **_PLACE)
    start_s: Series[float] = column("where in the recording it starts", label="starts at", unit="s", nullable=True, ge=0)
    end_s: Series[float] = column("where in the recording it ends", label="ends at", unit="s", nullable=True, ge=0)
    sure: Series[bool] = column("whether it is sure where the song is; false if not said", label="place is sure", default=False)
    tempo_bpm: Series[float] = column("tempo over the song", label="tempo", also="tempo bpm", unit="bpm", nullable=True, gt=0, le=400)
    drift: Series[float] = column("tempo at its end against its start", unit="%", nullable=True)
    unsteadiness: Series[float] = column("how far the tempo moves about its own line", unit="%", nullable=True, ge=0)
    tempo_sure: Series[bool] = column("whether the tempo is sure; false if not said", default=False)
    loudness: Series[float] = column("how loud it is against the middle song of the show", unit="dB", nullable=True)
    moved: Series[bool] = column("whether somebody set its start and end by ear; false if not said", default=False)
    why: Series[str] = column("what speaks against its place or tempo", label="not sure because", nullable=True)


class Notes(Table):
    """Remarks to see again, a row a note."""

    date: Series[DATE] = column("day it was written", **_DAY, nullable=True)
    about: Series[str] = column("what it is on; song if not said", also="on", default="song", isin=ABOUT, was={"changeover": "transition"})
    song: Series[str] = column("title", **_TITLE, nullable=True)
    next_song: Series[str] = column("title of the song that follows, for a transition", also="nextsong next into", name=True, nullable=True)
    room: Series[str] = column("kind of venue it holds for", **_ROOM)
    venue: Series[str] = column("name of the venue it holds for", also="place hall house", name=True, nullable=True)
    show_id: Series[Any] = column("number of the show it was made at", **_SHOW, nullable=True)
    text: Series[str] = column("the remark", label="note", also="note remark comment", str_length={"min_value": 1})
    personal: Series[bool] = column("whether to leave it out of what others see; false if not said", also="private", default=False)


class Attendance(Table):
    """Who was where, a row a person and show. People are keyed hashes, never names."""

    person: Series[str] = column("keyed hash of whatever identified them", name=True, str_length={"min_value": 1})
    show_id: Series[Any] = column("number of the show", **_SHOW)


class Counts(Table):
    """How many of a night's audience were at an earlier show, as somebody counted or asked."""

    show_id: Series[Any] = column("number of the show", **_SHOW)
    people: Series[int] = column("how many were there in all", ge=0)
    earlier: Series[Any] = column("number of the earlier show", label="earlier show")
    returning: Series[int] = column("how many of them had been at the earlier show", ge=0)


class Levels(Table):
    """Shows from which on the person says that their playing starts a new level (a new kit, a lesson, an injury)."""

    show_id: Series[Any] = column("number of the first show of the new level", **_SHOW, unique=True)
    remark: Series[str] = column("why", nullable=True)


class Things(Table):
    """What is set out before doors at every show, a row a thing, beside what tonight's songs ask for."""

    thing: Series[str] = column("what it is", also="item what", name=True, unique=True, str_length={"min_value": 1})
    who: Series[str] = column("who sets it out", also="by", nullable=True)
    spare: Series[str] = column("what takes its place if it fails", label="if it fails", also="fallback backup", nullable=True)
    remark: Series[str] = column("where it stands, what to look at", also="remarks comment", nullable=True)


class Ticks(Table):
    """What was ticked off before a show, a row a show and thing."""

    show_id: Series[Any] = column("number of the show", **_SHOW)
    thing: Series[str] = column("what was ticked off", name=True, str_length={"min_value": 1})


class Settings(Table):
    """Figures that are yours to choose: what nobody has said stands as it is assumed."""

    setting: Series[str] = column('which figure, such as "heard more"', unique=True)
    figure: Series[float] = column("what it is to be", gt=0, le=100)
# fmt: on


ALL: dict[str, type[Table]] = {table.__name__.lower(): table for table in Table.__subclasses__()}
"""Every table by its name, in the order in which they refer to one another."""


@dataclass(frozen=True)
class Column:
    """What is said of one column: the one place that everything else asks."""

    name: str
    kind: str
    """text, int, float, bool or day"""
    description: str
    label: str
    unit: str
    also: tuple[str, ...]
    items: bool
    one_line: bool
    nullable: bool
    default: object
    unique: bool
    choices: tuple[Any, ...] = ()
    over: float | None = None
    least: float | None = None
    most: float | None = None
    filled: bool = False
    """whether text in it has to say something"""
    was: Mapping[str, str] = field(default_factory=dict)

    @property
    def required(self) -> bool:
        """Whether a table says nothing without it."""
        return not self.nullable and self.default is None

    def expected(self) -> str:
        """Say in words what it may hold."""
        if self.choices:
            return f"one of {', '.join(map(str, self.choices))}"
        limits = (("over", self.over), ("of at least", self.least), ("and at most", self.most))
        return " ".join([_KIND_WORDS[self.kind], *(f"{word} {limit:g}" for word, limit in limits if limit is not None)])


_KIND_WORDS = {
    "int": "a whole number",
    "float": "a number",
    "bool": "yes or no",
    "day": "a day such as 2031-03-04",
    "text": "text",
}


@cache
def described(table: str) -> dict[str, Column]:
    """Everything that is said of each column of a table, in order.

    Examples
    --------
    >>> described("songs")["tempo_bpm"].label, described("songs")["tempo_bpm"].expected()
    ('tempo', 'a number over 0 and at most 400')

    """
    return {name: _described(name, each) for name, each in ALL[table].to_schema().columns.items()}


def _described(name: str, given: Any) -> Column:  # noqa: ANN401  # a column of pandera
    said = dict(given.metadata or {})
    stated = {check.name: check.statistics for check in given.checks}
    return Column(
        name=name, kind=_kind(str(given.dtype)), description=str(given.description or ""),
        label=said.get("label") or name.replace("_", " "), unit=said.get("unit", ""), also=said.get("also", ()),
        items=said.get("items", False), one_line=said.get("name", False), nullable=bool(given.nullable),
        default=said.get("default"), unique=bool(given.unique), was=said.get("was", {}),
        choices=tuple(stated.get("isin", {}).get("allowed_values", ())),
        over=stated.get("greater_than", {}).get("min_value"),
        least=stated.get("greater_than_or_equal_to", {}).get("min_value"),
        most=stated.get("less_than_or_equal_to", {}).get("max_value"), filled="str_length" in stated,
    )  # fmt: skip


def _kind(dtype: str) -> str:
    if dtype == "None":  # a show's number: any name in a model's tables, a whole number in the diary
        return "int"
    for start, kind in (("date", "day"), ("bool", "bool"), ("int", "int"), ("Int", "int"), ("float", "float")):
        if dtype.startswith(start):
            return kind
    return "text"


def labels(table: str) -> dict[str, str]:
    """What heads each column where people read it, its unit included.

    Examples
    --------
    >>> labels("measured")["drift"], labels("venues")["city"]
    ('drift (%)', 'city')

    """
    return {
        name: f"{each.label} ({each.unit})" if each.unit and each.unit not in each.label.split() else each.label
        for name, each in described(table).items()
    }


def choices(table: str, name: str) -> tuple[Any, ...]:
    """Values that a column may have; empty if it is not a choice.

    Examples
    --------
    >>> choices("rehearsals", "way")
    ('listen', 'pad', 'kit', 'band')

    """
    return described(table)[name].choices


REQUIRED: dict[str, tuple[str, ...]] = {
    table: tuple(name for name, each in described(table).items() if each.required) for table in ALL
}
"""Columns without which a table says nothing; every other may be left out."""


PLACE = ["show_id", "position"]
"""Columns that name one row of `plays`: one song has each place in a set."""


def _on_a_copy(name: str) -> property:
    """One of pandas' indexers: reading with it works, what is set with it is lost, as pandas then warns."""
    return property(lambda frame: getattr(frame.copy(deep=False), name))


class Checked(pd.DataFrame):
    """A table of a tour that was found right and does not change, so that it need not be looked at again.

    Whatever is made of it (a part, a copy, a join) is an ordinary DataFrame, which has to be checked like any other.
    """

    _metadata: ClassVar = ["table"]  # travels with a pickled table

    def __init__(self, frame: pd.DataFrame, table: str) -> None:
        super().__init__(frame)
        object.__setattr__(self, "table", table)

    @property
    def _constructor(self) -> Any:  # noqa: ANN401  # what pandas makes of it
        return pd.DataFrame

    def _refuse(self, *_: object, **__: object) -> None:
        name = self.table
        raise TableProblem(f"The {name} of a tour do not change. Work on a copy: `{name} = tour.{name}.copy()`.")

    # Everything that changes a frame in place goes through one of these.
    __setitem__ = __delitem__ = insert = update = _update_inplace = _set_axis = _refuse

    loc, iloc, at, iat = map(_on_a_copy, ("loc", "iloc", "at", "iat"))


def columns(table: str) -> list[str]:
    """Names of a table's columns, in order.

    Examples
    --------
    >>> columns("venues")
    ['venue', 'city', 'room']

    """
    return list(described(table))


def empty(table: str) -> pd.DataFrame:
    """A table with no rows and the right types.

    Examples
    --------
    >>> empty("reviews").dtypes.astype(str).to_dict()
    {'show_id': 'int64', 'song': 'str', 'listening': 'int64'}

    """
    return checked(pd.DataFrame({name: pd.Series(dtype=object) for name in columns(table)}), table)


def no_rows(**kinds: type) -> pd.DataFrame:
    """What a model gives where there is nothing to say: no rows, and columns of these types.

    Examples
    --------
    >>> no_rows(song=str, chance=float).dtypes.astype(str).to_dict()
    {'song': 'str', 'chance': 'float64'}

    """
    return pd.DataFrame({name: pd.Series(dtype=kind) for name, kind in kinds.items()})


def checked(frame: pd.DataFrame, table: str) -> pd.DataFrame:
    """Return the frame as the table described here, or say which cell is wrong.

    Parameters
    ----------
    frame
        Any frame with the required columns of the table; others may be missing, and more may be there.
    table
        Name of the table, a key of `ALL`.

    Returns
    -------
    DataFrame
        A new frame with the table's columns first, in order and typed, then the other columns as they were.
        Rows keep their order; the index is 0, 1, ….

    Raises
    ------
    TableProblem
        Names the first cell that is wrong: table, row (from 1), column, value, and what it may hold. In a table of
        plays, also the first place in a set that two rows claim.

    Examples
    --------
    >>> checked(pd.DataFrame({"show_id": [1], "date": ["2031-03-04"]}), "shows")[["date", "number", "leg"]]
            date  number  leg
    0 2031-03-04       1  NaN

    """
    if isinstance(frame, Checked) and frame.table == table:
        return frame.copy(deep=False)
    latest = _LATEST.get(table, ())
    for known in latest:
        if frame.equals(known):
            return known.copy(deep=False)
    valid = _valid(frame, table)
    # In columns of objects True is as good as 1 to `equals`, so that they may not stand for one another.
    if np.dtype(object) not in valid.dtypes.tolist():
        _LATEST[table] = (valid.copy(deep=False), *latest)[:2]
    return valid


_LATEST: dict[str, tuple[pd.DataFrame, ...]] = {}
"""The latest two of each table that were found right: every model checks what it is given, and a page asks many."""


def _valid(frame: pd.DataFrame, table: str) -> pd.DataFrame:
    """The frame as the table, typed, after every check."""
    known = described(table)
    names = list(known)
    missing = [name for name in REQUIRED[table] if name not in frame.columns]
    if missing:
        raise TableProblem.missing_columns(table, missing, frame.columns)
    full = frame.reset_index(drop=True).reindex(columns=[*names, *(c for c in frame.columns if c not in names)])
    for name, each in known.items():
        if each.default is not None:
            full[name] = full[name].astype(object).where(full[name].notna(), each.default)
        elif each.kind == "day":
            full[name] = _dates(full[name], table)
        elif each.kind == "text":
            full[name] = _whole(full[name])
        elif name in ("show_id", "earlier"):
            full[name] = _numbers(full[name], nullable=each.nullable)
        if each.was:
            full[name] = full[name].replace(each.was)
    try:
        valid = ALL[table].validate(full, lazy=True)
    except SchemaErrors as errors:
        raise _first(errors, table, full) from errors
    if table == "plays" and (taken := valid.duplicated(PLACE)).any():
        raise _place_taken(valid, valid[taken].iloc[0])
    return valid.astype({name: DATE for name, each in known.items() if each.kind == "day"})


def _whole(values: pd.Series) -> pd.Series:
    """Words that were read as numbers, beside empty cells with a point and a nought: leg 1.0 is leg 1."""
    whole = pd.api.types.is_float_dtype(values.dtype) and (values.dropna() % 1 == 0).all()
    return values.astype("Int64") if whole and values.notna().any() else values


def latest_kept(make: Callable[Given, Result]) -> Callable[Given, Result]:
    """Keep the latest result of a function of a tour, for as long as it is asked the same of the very same tables.

    A page asks for a forecast in six places. The tables of a tour do not change, so that the same object means the same
    content; of frames that may change nothing is kept.

    Examples
    --------
    >>> asked = []
    >>> songs = latest_kept(lambda table, most=5: asked.append(most) or most)
    >>> table = object()
    >>> songs(table), songs(table), songs(table, most=3), songs(object(), most=3), asked
    (5, 5, 3, 3, [5, 3, 3])
    >>> songs(pd.DataFrame()), songs(pd.DataFrame()), asked
    (5, 5, [5, 3, 3, 5, 5])

    """
    kept: list[tuple[list[object], Result]] = []
    in_full = _in_full(make)

    @wraps(make)
    def same(*args: Given.args, **named: Given.kwargs) -> Result:
        asked = [_fixed(one) for one in in_full(*args, **named)]
        if any(isinstance(one, _MAY_CHANGE) and not isinstance(one, Checked) for one in asked):
            return make(*args, **named)
        if not (kept and len(kept[0][0]) == len(asked) and all(map(_the_same, kept[0][0], asked))):
            kept[:] = [(asked, make(*args, **named))]
        found = kept[0][1]
        return found.copy(deep=False) if isinstance(found, pd.DataFrame) else found

    return same


def _in_full(make: Callable[Given, object]) -> Callable[Given, list[object]]:
    """What a function is given, however it was said: in its own order, with what is left out."""
    known = signature(make)

    def asked(*args: Given.args, **named: Given.kwargs) -> list[object]:
        given = known.bind(*args, **named)
        given.apply_defaults()
        return list(given.arguments.values())

    return asked


def _fixed(one: object) -> object:
    """A mapping of plain values (a show, a set that is known) as what cannot change."""
    plain = isinstance(one, dict) and all(isinstance(value, _PLAIN) for value in one.values())
    # 1 is a place and True is not, though they are equal.
    return tuple((name, type(value), value) for name, value in one.items()) if plain else one  # type: ignore[attr-defined]


_PLAIN = (str, int, float, date, type(None))


def _the_same(one: object, other: object) -> bool:
    return one is other or (type(one) is type(other) and isinstance(one, str | int | float | tuple) and one == other)


_MAY_CHANGE = (pd.DataFrame, pd.Series, np.ndarray, list, dict, set)


class Beside(Protocol):
    """Where finished results are kept from one program to the next."""

    def found(self, key: str) -> Any:  # noqa: ANN401  # what was kept
        """What was kept under this key; None if nothing was."""

    def keep(self, key: str, made: object) -> None:
        """Keep it."""


beside: list[Beside] = []
"""Where `finished` keeps results: nowhere, unless pages or notebooks say so (`pages.kit.finished`)."""


def finished(make: Callable[Given, Result]) -> Callable[Given, Result]:
    """Keep the result of a costly function from one program to the next, and as `latest_kept` within one.

    It is found again by everything that it was made of: the name of the function, and the content of each table and value
    that was given. A tour with one cell changed is another tour, so that nothing can be stale. The function must ask
    nothing else: no clock, no file.
    """
    in_full = _in_full(make)

    @wraps(make)
    def found(*args: Given.args, **named: Given.kwargs) -> Result:
        if not beside:
            return make(*args, **named)
        try:
            asked = content([make.__module__, make.__qualname__, *in_full(*args, **named)])
        except TypeError:  # something whose content nobody knows
            return make(*args, **named)
        kept: Result | None = beside[0].found(asked)
        if kept is None:
            kept = make(*args, **named)
            beside[0].keep(asked, kept)
        return kept

    return latest_kept(found)


def content(one: object) -> str:
    """A digest of what a value holds: the same for equal tables, another one where a single cell differs.

    Examples
    --------
    >>> frame = pd.DataFrame({"song": ["Ferry", "Tin Rook"]})
    >>> content(frame) == content(frame.copy()), content(frame) == content(frame.replace("Ferry", "Mill Race"))
    (True, False)
    >>> content(1) == content("1"), content((1, "a")) == content([1, "a"])
    (False, True)

    """
    if isinstance(one, pd.DataFrame):
        known = one.__dict__.get("_content") if isinstance(one, Checked) else None
        if known is None:
            known = _digest(
                [*(_cells(one[name], str(name)) for name in one.columns), _cells(one.index.to_series(), "")]
            )
            if isinstance(one, Checked):  # it does not change
                object.__setattr__(one, "_content", known)
        return str(known)
    if isinstance(one, list | tuple):
        return _digest([content(each).encode() for each in one])
    if isinstance(one, Mapping):
        return content([*one.items()])
    if one is None or isinstance(one, str | int | float | date | np.generic):
        return f"{type(one).__name__} {one!r}"
    if not hasattr(one, "content"):
        raise TypeError(f"No content is known of {type(one).__name__}.")
    return str(one.content)  # a tour


def _cells(values: pd.Series, name: str) -> bytes:
    """Name, type and content of a column."""
    mixed = values.dtype == object  # numbers beside words: 1 and "1" are not the same
    cells = (
        repr(values.tolist()).encode()
        if mixed
        else pd.util.hash_pandas_object(values, index=False).to_numpy().tobytes()
    )
    return f"{name} {values.dtype} {len(values)} ".encode() + cells


def _digest(parts: list[bytes]) -> str:
    return sha256(b"".join(len(part).to_bytes(8) + part for part in parts)).hexdigest()


def in_order(shows: pd.DataFrame) -> pd.DataFrame:
    """Checked shows in the order in which they were played: by day, number on the day, then show_id.

    Examples
    --------
    >>> shows = pd.DataFrame({"show_id": [7, 3], "date": ["2031-03-04"] * 2, "number": [2, 1]})
    >>> in_order(shows).show_id.tolist()
    [3, 7]

    """
    return checked(shows, "shows").sort_values(["date", "number", "show_id"], kind="stable", ignore_index=True)


def of_known_shows(rows: pd.DataFrame, shows: pd.DataFrame, table: str) -> None:
    """Ask about rows of a table whose show is not among `shows`, both checked already.

    Examples
    --------
    >>> of_known_shows(pd.DataFrame({"show_id": [1, 9]}), pd.DataFrame({"show_id": [1, 2]}), "plays")
    Traceback (most recent call last):
    ...
    tourstats.problems.TableProblem: The table of plays has rows for 9, which the table of shows does not have. Add the
    show, or take these rows out.

    """
    unknown = rows.loc[~rows.show_id.isin(shows.show_id), "show_id"].unique()
    if len(unknown):
        raise TableProblem.unknown_shows(table, list(unknown))


def in_sets(plays: pd.DataFrame, shows: pd.DataFrame) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Put played sets and their shows in order, and number the shows that have a set.

    Parameters
    ----------
    plays, shows
        As in `Plays` and `Shows`; every play's show has to be there.

    Returns
    -------
    plays
        Checked, ordered by show and position, with `at`: place of the show among those that have a set, from 0.
    shows
        Checked, in order, only those that have a set, with the same `at` (equal to the index).

    Raises
    ------
    TableProblem
        If a play belongs to a show that is not in `shows`, or a table is wrong.

    Examples
    --------
    >>> shows = pd.DataFrame({"show_id": [1, 2], "date": ["2031-03-04", "2031-03-05"]})
    >>> plays = pd.DataFrame({"show_id": [1, 1, 2, 2], "position": [1, 2, 1, 2], "song": ["A", "B", "B", "C"]})
    >>> ordered, _ = in_sets(plays.iloc[::-1], shows)
    >>> ordered[["show_id", "position", "song", "at"]]
       show_id  position song  at
    0        1         1    A   0
    1        1         2    B   0
    2        2         1    B   1
    3        2         2    C   1

    """
    plays, ordered = checked(plays, "plays"), in_order(shows)
    of_known_shows(plays, ordered, "plays")
    ordered = ordered[ordered.show_id.isin(plays.show_id)].reset_index(drop=True)
    ordered["at"] = range(len(ordered))
    plays = plays.assign(at=plays.show_id.map(dict(zip(ordered.show_id, ordered["at"], strict=True))).astype(int))
    return plays.sort_values(["at", "position"], kind="stable", ignore_index=True), ordered


def items(cell: object) -> list[str]:
    """Split the items of one cell (gear, samples, aliases).

    Examples
    --------
    >>> items("brushes; small cowbell ;")
    ['brushes', 'small cowbell']
    >>> items(float("nan"))
    []

    """
    if not isinstance(cell, str):
        return []
    return [item.strip() for item in cell.split(BETWEEN_ITEMS) if item.strip()]


def _dates(values: pd.Series, table: str) -> pd.Series:
    """Days from datetimes, date objects or ISO text; anything else is asked about, never guessed."""
    if pd.api.types.is_datetime64_any_dtype(values):
        far = ~values.dt.year.between(FIRST_YEAR, LAST_YEAR) & values.notna()
        if far.any():
            row = int(far.to_numpy().argmax())
            raise _no_day(values.iloc[row].date().isoformat(), row + 1, str(values.name), table)
        return values.dt.tz_localize(None).dt.normalize().astype(DATE)
    return pd.Series(
        [_date(value, row, str(values.name), table) for row, value in enumerate(values, start=1)], dtype=DATE
    )


def _numbers(values: pd.Series, *, nullable: bool) -> pd.Series:
    """Show numbers as integers wherever they are, so that tables of shows and plays join; other names stay."""
    known = values.dropna()
    if not all(
        isinstance(value, int | np.integer) or (isinstance(value, float) and value.is_integer()) for value in known
    ):
        return values
    return values.astype("Int64" if nullable or len(known) < len(values) else "int64")


def one_day(value: object) -> pd.Timestamp:
    """One day of a show, read as in a table of them.

    Examples
    --------
    >>> one_day("2031-03-04")
    Timestamp('2031-03-04 00:00:00')

    """
    if value is None:
        raise _no_day(value, 1, "date", "shows")
    return pd.Timestamp(_dates(pd.Series([value], name="date"), "shows").iloc[0])


def _date(value: object, row: int, column: str, table: str) -> date | None:
    day = value
    if isinstance(value, str):
        try:
            day = date.fromisoformat(value.strip())
        except ValueError as error:
            raise _no_day(value, row, column, table) from error
    elif pd.isna(value):
        return None
    elif isinstance(value, datetime):
        day = value.date()
    if isinstance(day, date) and in_reach(day):
        return day
    raise _no_day(value, row, column, table)


def in_reach(day: date) -> bool:
    """Whether a day is in the years that can be counted in.

    Examples
    --------
    >>> in_reach(date(2031, 3, 4)), in_reach(date(9999, 12, 31))
    (True, False)

    """
    return FIRST_YEAR <= day.year <= LAST_YEAR


def _no_day(value: object, row: int, column: str, table: str) -> TableProblem:
    return TableProblem.bad_value(table, column, row, value, "a day such as 2031-03-04")


def _first(errors: SchemaErrors, table: str, frame: pd.DataFrame) -> TableProblem:
    """Turn pandera's report into one sentence about the first wrong cell."""
    cases = errors.failure_cases
    cell = cases[cases["index"].notna()]
    case = (cell if len(cell) else cases).iloc[0]
    column, check = str(case["column"]), str(case["check"])
    if pd.isna(case["index"]):
        return TableProblem(f"The table of {table}: `{column}` does not fit its description ({check}).")
    row = int(case["index"])
    value = frame[column].iloc[row]
    value = value.item() if isinstance(value, np.generic) else value
    return TableProblem.bad_value(table, column, row + 1, value, _expected(check, table, column))


def _place_taken(plays: pd.DataFrame, row: pd.Series) -> TableProblem:
    """Turn one place that is taken twice into a sentence."""
    same = (plays.show_id == row.show_id) & (plays.position == row.position)
    return TableProblem.place_taken(row.show_id, row.position, plays.song[same].tolist())


def _expected(check: str, table: str, column: str) -> str:
    """Say in words what a column may hold."""
    if "isin" in check:
        return described(table)[column].expected()
    if "unique" in check:
        return "there once only"
    return "filled in" if check == "not_nullable" else described(table)[column].expected()
