"""One song: what was said about it, in words, and what it went through; a show and a venue are told in the same words.

`told` is the one place where a finding becomes a sentence, so that a page, the sheet and the command say the same.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from difflib import get_close_matches
from typing import Any, NamedTuple

import pandas as pd

from tourstats.models import by_heart, practice, rotation, swaps
from tourstats.problems import TooFewProblem, UnknownSongProblem
from tourstats.tables import in_order
from tourstats.tour import Tour

HEARD = {1: "", 2: "the band heard it", 3: "everyone heard it"}
"""How loud a mistake was, in words; what only the player heard goes without saying."""
COLUMNS = ["date", "show_id", "city", "song", "what", "severity", "words", "room", "personal", "at_s"]
ORDER = {"mistake": 0, "worked": 1, "note": 2}
SHOWN_AT_ONCE = 3
"""Sentences on a song that stand on the show day without asking for more."""
ALWAYS_SHOWN = 2
"""Shows back to which a mistake is always shown: what went wrong last night is what tonight is for."""
SURE = 0.9
"""Chance of a clean next performance from which on one may stop thinking of it. Common practice, no source."""
PRIOR_CLEAN = (1.0, 1.0)
"""Beta distribution from which the chance of a clean performance starts: every chance as likely as another (Bayes)."""


class Streak(NamedTuple):
    """Clean performances in a row, and how sure one can be of the next."""

    reviewed: int
    clean: int
    in_a_row: int
    """Clean ones in a row, up to the last that was reviewed."""
    needed: int
    """How many in a row it takes to be sure of the next."""
    sure: float
    """Chance that the next one is clean."""


@dataclass(frozen=True)
class Song:
    """Everything about one song.

    Attributes
    ----------
    title
        As in the repertoire.
    facts
        Its row of the repertoire, and of `rotation.layoffs`: how long it is out, when it was run.
    history, said, transitions
        As from `history`, `told`, `crossings`.
    runs
        Its runs and rehearsals, newest first: date, way, runs, minutes.
    rooms
        A row a kind of venue: room, played, reviewed, mistakes (first listenings), each as counted.
    shape
        Its sections in order.
    tempi
        Where recordings were measured, newest first: date, show_id, city, tempo_bpm, tempo_sure, drift, minutes.
    streak
        As from `streak`: how many clean ones in a row, and how many it takes.
    chance
        Chance of being in the next set, None where that cannot be said.
    questions, known
        What its shape asks, and how much of it was known, as from `by_heart`.

    """

    title: str
    facts: Mapping[str, Any]
    history: pd.DataFrame
    said: pd.DataFrame
    transitions: pd.DataFrame
    runs: pd.DataFrame
    rooms: pd.DataFrame
    shape: pd.DataFrame
    tempi: pd.DataFrame
    streak: Streak
    chance: float | None
    questions: pd.DataFrame
    known: by_heart.Known


def song(tour: Tour, title: str) -> Song:
    """Look up everything about one song.

    Parameters
    ----------
    tour
        As `tourstats.read` gives it; `tour.until(show_id)` for what was known before a show.
    title
        Its title or another name of it.

    Raises
    ------
    UnknownSongProblem
        If no title and no other name is written so; it names the nearest.

    Examples
    --------
    >>> tour = Tour.of(
    ...     songs=pd.DataFrame({"song": ["Ferry"], "aliases": ["The Sculling"]}),
    ...     shows=pd.DataFrame({"show_id": [1, 2], "date": ["2031-03-04", "2031-03-05"]}),
    ...     plays=pd.DataFrame({"show_id": [1, 2], "position": [1, 1], "song": ["Ferry", "Ferry"]}),
    ...     reviews=pd.DataFrame({"show_id": [2], "song": ["Ferry"]}),
    ... )
    >>> found = song(tour, "the sculling")
    >>> found.title, len(found.history), found.streak.in_a_row
    ('Ferry', 2, 1)

    """
    title = one(tour, title)
    out = rotation.layoffs(tour.plays, tour.shows, tour.songs, tour.rehearsals)
    played = history(tour, title)
    heard = played[played.reviewed.astype(bool)]
    facts = tour.songs[tour.songs.song == title].iloc[0].to_dict() | out[out.song == title].iloc[0].to_dict()
    shape = tour.sections[tour.sections.song == title].sort_values("position", ignore_index=True)
    asked = by_heart.questions(shape, facts)
    return Song(
        title=title,
        facts=facts,
        history=played,
        said=told(tour, [title]),
        transitions=crossings(tour, title),
        runs=tour.rehearsals[tour.rehearsals.song == title].iloc[::-1].reset_index(drop=True),
        rooms=_rooms(played),
        shape=shape,
        tempi=_tempi(tour, title),
        streak=streak(heard.mistakes.tolist()),
        chance=_chance(tour, title),
        questions=asked,
        known=by_heart.how_known(tour.tested[tour.tested.song == title], asked.asked),
    )


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


def _rooms(played: pd.DataFrame) -> pd.DataFrame:
    """By kind of venue, as counted."""
    there = played[played.position.notna()].assign(reviewed=lambda t: t.reviewed.astype(int))
    table = there.groupby("room", as_index=False).agg(
        played=("position", "size"), reviewed=("reviewed", "sum"), mistakes=("mistakes", "sum")
    )
    return table.sort_values("played", ascending=False, kind="stable", ignore_index=True)


def _tempi(tour: Tour, title: str) -> pd.DataFrame:
    """Where its recordings were measured, newest first."""
    there = tour.plays[tour.plays.song == title][["show_id", "position"]]
    table = tour.measured.merge(there, on=["show_id", "position"])
    table = table.merge(tour.shows[["show_id", "date", "city"]], on="show_id", how="left")
    table["minutes"] = (table.end_s - table.start_s) / 60
    table = table.sort_values("date", ascending=False, kind="stable", ignore_index=True)
    return table[["date", "show_id", "city", "tempo_bpm", "tempo_sure", "drift", "minutes"]]


def _chance(tour: Tour, title: str) -> float | None:
    """Chance of being in the next set, unless it is written already or too little is known."""
    try:
        forecast = swaps.forecast(tour.plays, tour.shows, tour.songs, tour.show() or {})
    except TooFewProblem:
        return None
    row = forecast.songs[forecast.songs.song == title]
    return float(row.chance.iloc[0]) if len(row) else None


def told(tour: Tour, songs: Sequence[str] | None = None) -> pd.DataFrame:
    """Return everything that was said about songs, a sentence a row.

    Parameters
    ----------
    tour
        What was said in it counts; for what was known before a show, `tour.until(show_id)`.
    songs
        Titles; all if not given.

    Returns
    -------
    DataFrame
        One row per mistake, thing that worked, and note on a song, newest first, then the loudest, with columns

        date      datetime  day of the show, or on which a note was written; missing where nobody said
        show_id   Int64     show it was found at, missing for most notes
        city      str       its town
        song      str       title
        what      str       "mistake", "worked" or "note"
        severity  Int64     1 to 3, of mistakes only
        words     str       as a sentence
        room      str       kind of venue that a note holds for, missing where it holds everywhere
        personal  bool      whether to leave it out of what others see
        at_s      float     seconds into the recording, where it was marked

    Examples
    --------
    >>> tour = Tour.of(
    ...     songs=pd.DataFrame({"song": ["Ferry"]}),
    ...     shows=pd.DataFrame({"show_id": [1], "date": ["2031-03-04"], "city": ["Brackwater"]}),
    ...     mistakes=pd.DataFrame({
    ...         "show_id": [1], "song": ["Ferry"], "severity": [3], "kind": ["entry"], "section": ["bridge"],
    ...         "bar": [12], "remark": ["a beat late"],
    ...     }),
    ... )
    >>> told(tour).words.tolist()
    ['entry: a beat late, bridge, bar 12; everyone heard it']

    """
    shows = in_order(tour.shows)
    order = {show_id: n for n, show_id in enumerate(shows.show_id)}
    found = pd.concat([_mistakes(tour), _worked(tour), _notes(tour)], ignore_index=True)
    if songs is not None:
        found = found[found.song.isin(list(songs))]
    at = [order.get(show_id, -1) for show_id in found.show_id]
    found = found.assign(
        date=found.date.fillna(
            pd.Series([_cell(shows.date, n) for n in at], index=found.index, dtype=found.date.dtype)
        ),
        city=pd.array([_cell(shows.city, n) for n in at], dtype="str"),
        at=at,
        rank=found.what.map(ORDER),
        loud=-found.severity.fillna(0).astype(int),
    )
    found = found.sort_values(["date", "at", "rank", "loud"], ascending=[False, False, True, True], kind="stable")
    return found[COLUMNS].reset_index(drop=True)


def tonight(past: Tour, the_set: pd.DataFrame) -> pd.DataFrame:
    """What was said about the songs of a set, by song in order, with the few sentences that stand there at once.

    Parameters
    ----------
    past
        The tour as it stood before the show, which is its last: notes for another kind of venue are left out.
    the_set
        position, song.

    Returns
    -------
    DataFrame
        As `told`, with position first and two more columns: `shows_ago` (Int64, 1 is the last show) and `shown`
        (bool: among the first three of its song, or a mistake of the last two shows).

    """
    first = the_set.drop_duplicates("song").set_index("song").position
    table = told(past, first.index.tolist())
    table = table[table.room.isna() | (table.room == past.shows.room.iloc[-1])]
    shows = in_order(past.shows[past.shows.show_id.isin(past.plays.show_id)])
    ago = {show_id: len(shows) - n for n, show_id in enumerate(shows.show_id)}
    shows_ago = pd.array([ago.get(show_id) for show_id in table.show_id], dtype="Int64")
    table = table.assign(position=first.reindex(table.song).array, shows_ago=shows_ago)
    fresh = ((table.what == "mistake") & (table.shows_ago <= ALWAYS_SHOWN)).fillna(value=False).astype(bool)
    table = table.assign(older=~fresh).sort_values(["position", "older"], kind="stable", ignore_index=True)
    shown = ~table.older | (table.groupby("song").cumcount() < SHOWN_AT_ONCE)
    return table.assign(shown=shown)[["position", *COLUMNS, "shows_ago", "shown"]]


def history(tour: Tour, song: str) -> pd.DataFrame:
    """Each show with a played set, and whether the song was in it.

    Returns
    -------
    DataFrame
        One row per show since the song was first played, oldest first: show_id, date, city, room, position (missing
        where it was out), encore, remark, reviewed (bool), mistakes (found at the first listening; missing where
        nobody listened).

    """
    shows = in_order(tour.shows[tour.shows.show_id.isin(tour.plays.show_id)])
    plays = tour.plays[tour.plays.song == song].drop_duplicates("show_id").set_index("show_id")
    first = tour.reviews[(tour.reviews.song == song) & (tour.reviews.listening == 1)].show_id
    found = tour.mistakes[(tour.mistakes.song == song) & (tour.mistakes.listening == 1)].groupby("show_id").size()
    table = shows[["show_id", "date", "city", "room"]].assign(
        position=plays.position.reindex(shows.show_id).astype("Int64").array,
        encore=plays.encore.reindex(shows.show_id).astype("boolean").array,
        remark=plays.remark.reindex(shows.show_id).array,
        reviewed=shows.show_id.isin(first).array,
    )
    table["mistakes"] = found.reindex(table.show_id).fillna(0).astype("Int64").array
    table["mistakes"] = table.mistakes.mask(~table.reviewed)
    since = table.position.notna().to_numpy().argmax() if table.position.notna().any() else len(table)
    return table.iloc[since:].reset_index(drop=True)


def crossings(tour: Tour, song: str) -> pd.DataFrame:
    """How the song was entered and left: what stood before it and after it.

    Returns
    -------
    DataFrame
        One row per neighbour and direction, the latest first: way ("into" this song or "out of" it), neighbour, times,
        last (day), notes (what was said about this transition, joined).

    """
    plays = in_order_of_sets(tour)
    same = plays.show_id.eq(plays.show_id.shift(-1)) & plays.encore.eq(plays.encore.shift(-1))
    pairs = plays.assign(next_song=plays.song.shift(-1))[same]
    into = pairs[pairs.next_song == song].assign(way="into", neighbour=lambda t: t.song)
    out_of = pairs[pairs.song == song].assign(way="out of", neighbour=lambda t: t.next_song)
    both = pd.concat([into, out_of], ignore_index=True)
    table = both.groupby(["way", "neighbour"], as_index=False).agg(times=("date", "size"), last=("date", "max"))
    said = {(row.song, row.next_song): row.text for row in tour.notes[tour.notes.about == "transition"].itertuples()}
    keys = [(row.neighbour, song) if row.way == "into" else (song, row.neighbour) for row in table.itertuples()]
    table["notes"] = pd.array([said.get(key) for key in keys], dtype="str")
    return table.sort_values(["last", "times"], ascending=False, kind="stable", ignore_index=True)


def in_order_of_sets(tour: Tour) -> pd.DataFrame:
    """Every place of every played set, by show and position, with the show's day."""
    shows = in_order(tour.shows).assign(_at=lambda t: range(len(t)))
    plays = tour.plays.merge(shows[["show_id", "date", "_at"]], on="show_id", how="left", validate="many_to_one")
    return plays.sort_values(["_at", "position"], kind="stable", ignore_index=True)


def streak(mistakes: Sequence[int]) -> Streak:
    """How many clean performances there are in a row, and how sure that makes one of the next.

    What counts is the run of clean ones since the last mistake, so that a song that went wrong while it was learned may
    become sure. With a beta distribution of uniform shape the chance that the next one is clean, after n clean ones in
    a row, is (n + 1) / (n + 2) (Laplace 1814, the rule of succession; from memory): eight in a row make nine in ten.
    `playing.safe` asks another question: how seldom it goes wrong in the long run.

    Parameters
    ----------
    mistakes
        Mistakes in each reviewed performance, the oldest first.

    Examples
    --------
    >>> found = streak([1, 0, 0, 0, 0, 0, 0, 0, 0])
    >>> found.in_a_row, found.needed, found.sure
    (8, 8, 0.9)

    """
    clean = [not count for count in mistakes]
    in_a_row = next((n for n, good in enumerate(reversed(clean)) if not good), len(clean))
    a, b = PRIOR_CLEAN
    needed = math.ceil((SURE * (a + b) - a) / (1 - SURE) - 1e-9)
    return Streak(len(clean), sum(clean), in_a_row, needed, (in_a_row + a) / (in_a_row + a + b))


def one(tour: Tour, title: str) -> str:
    """Return the song's title as it stands in the repertoire, however it was written.

    Raises
    ------
    UnknownSongProblem
        If no title and no other name is written so; it names the nearest.

    """
    known = {_folded(song): song for song in tour.songs.song}
    for song, others in zip(tour.songs.song, tour.songs.aliases, strict=True):
        for other in str(others).split(";") if isinstance(others, str) else ():
            known.setdefault(_folded(other), song)
    if _folded(title) in known:
        return str(known[_folded(title)])
    raise UnknownSongProblem.of(title, get_close_matches(title, tour.songs.song.tolist()))


def search(tour: Tour, words: str) -> pd.DataFrame:
    """Find songs, towns, venues, shows and words in what was said.

    Parameters
    ----------
    tour
        Everything.
    words
        What is looked for; every word has to be there, in any order and case.

    Returns
    -------
    DataFrame
        kind ("song", "venue", "show", "said"), name (to open it: title, venue or show_id as text), words (what is
        found there), in the order songs, venues, shows and what was said, the newest first.

    Examples
    --------
    >>> tour = Tour.of(songs=pd.DataFrame({"song": ["Ferry", "Tin Rook"]}))
    >>> search(tour, "fer").values.tolist()
    [['song', 'Ferry', 'Ferry']]

    """
    asked = [_folded(word) for word in words.split()]
    songs = [("song", row.song, _with_others(row.song, row.aliases)) for row in tour.songs.itertuples()]
    venues = [("venue", row.venue, _listed(row.venue, row.city)) for row in tour.venues.itertuples()]
    shows = [
        ("show", str(row.show_id), _listed(f"{row.date:%Y-%m-%d}", row.city, row.venue))
        for row in in_order(tour.shows).iloc[::-1].itertuples()
    ]
    said = [("said", row.song, f"{row.song}: {row.words}") for row in told(tour).itertuples()]
    others = tour.notes[tour.notes.about != "song"].iloc[::-1]
    said += [("said", _about(row), row["text"]) for row in others.to_dict("records")]
    every = (*songs, *venues, *shows, *said) if asked else ()
    found = [row for row in every if all(word in _folded(row[2]) for word in asked)]
    return pd.DataFrame(found, columns=["kind", "name", "words"], dtype="str")


def _about(note: Mapping[str, Any]) -> str:
    """What a note that is not on one song is about, to open it."""
    for name in ("song", "venue", "room"):
        if isinstance(note[name], str):
            return str(note[name])
    return "" if pd.isna(note["show_id"]) else str(note["show_id"])


def _cell(column: pd.Series, at: int) -> Any:  # noqa: ANN401  # a cell of any column
    """The cell of a show, None where there is no show."""
    return None if at < 0 else column.iloc[at]


def _mistakes(tour: Tour) -> pd.DataFrame:
    rows = tour.mistakes
    return rows.assign(
        what="mistake",
        words=[_mistake(row) for row in rows.to_dict("records")],
        personal=False,
        room=pd.array([None] * len(rows), dtype="str"),
        date=pd.Series(pd.NaT, index=rows.index, dtype="datetime64[us]"),
        severity=rows.severity.astype("Int64"),
    )


def _worked(tour: Tour) -> pd.DataFrame:
    rows = tour.worked
    return rows.assign(
        what="worked",
        words=["worked: " + (_listed(row["remark"], *_where(row)) or "this song") for row in rows.to_dict("records")],
        personal=False,
        room=pd.array([None] * len(rows), dtype="str"),
        date=pd.Series(pd.NaT, index=rows.index, dtype="datetime64[us]"),
        severity=pd.array([pd.NA] * len(rows), dtype="Int64"),
    )


def _notes(tour: Tour) -> pd.DataFrame:
    rows = tour.notes[tour.notes.about == "song"]
    return rows.assign(
        what="note",
        words=rows.text,
        severity=pd.array([pd.NA] * len(rows), dtype="Int64"),
        at_s=float("nan"),
    )


def _mistake(row: Mapping[str, Any]) -> str:
    """A mistake as a sentence: kind, what was written, where, and how loud; nothing twice."""
    remark = row["remark"] if isinstance(row["remark"], str) else ""
    where = [part for part in _where(row) if part.casefold() not in remark.casefold()]
    kind = row["kind"] if isinstance(row["kind"], str) and row["kind"] != "other" else ""
    said = _listed(f"{kind}: {remark}" if kind and remark else kind or remark or "a mistake", *where)
    whose = (
        f"said by {row['said_by']}" if row["said_by"] not in ("me", None) and isinstance(row["said_by"], str) else ""
    )
    return "; ".join(part for part in (said, HEARD[int(row["severity"])], whose) if part)


def _where(row: Mapping[str, Any]) -> list[str]:
    section = [row["section"]] if isinstance(row["section"], str) else []
    return [*section, *([f"bar {int(row['bar'])}"] if pd.notna(row["bar"]) else [])]


def _listed(*parts: object) -> str:
    return ", ".join(part for part in parts if isinstance(part, str) and part)


def _with_others(song: str, aliases: object) -> str:
    return f"{song} ({aliases.replace(';', ',')})" if isinstance(aliases, str) and aliases else song


def _folded(text: str) -> str:
    return " ".join(str(text).casefold().split())
