"""What others need of tonight's set: the band, the technician, the musical director; and what is set out.

Each function takes the tables of the show day and gives a table that may be shown to others: what a finding says in
words, a note and a spot to watch are the writer's own and stand on none of them.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from typing import Any

import pandas as pd

from tourstats.problems import counted, together
from tourstats.tables import items
from tourstats.tour import Tour

TRANSITION_MINUTES, ENDING_MINUTES, OPEN_MINUTES = 1.5, 2.0, 2.0
"""What trying takes with the band: the last bars of one song and the first of the next; an ending; a few bars. Common
practice, no source."""
SONG_MINUTES = 4.0
"""A song whose length nobody has said."""
TEMPO_JUMP = 1.25
"""Ratio of two tempi from which on the change is worth a thought. Common practice, no source."""
LONG_OUT = 8
"""Shows out from which on the others too have not played a song for long. Common practice, no source."""
BAND_HEARD = 2
"""Severity from which on a finding is the band's: they heard it too."""
BAND_COLUMNS = ["key", "what", "position", "song", "next_song", "who", "why", "minutes", "ticked"]


def for_band(
    the_set: pd.DataFrame,
    crossings: pd.DataFrame,
    findings: pd.DataFrame,
    ticked: Iterable[str],
    endings: Mapping[str, str] | None = None,
) -> pd.DataFrame:
    """What to try with the band at the sound check, in order of need.

    Parameters
    ----------
    the_set
        As `set` of the brief: position, song, remark, segue, minutes, starts_by, count_in, plays, layoff_shows.
    crossings
        position, song, next_song, next_position and times (how often it was played), of tonight's transitions.
    findings
        song, kind, section and shows_ago of mistakes that the band heard at the last two shows.
    ticked
        Keys that the band has taken on, or has done.
    endings
        As from `new_endings`.

    Returns
    -------
    DataFrame
        A row a thing to try: key (its name for a tick), what (transition, said tonight, new ending, song, left open),
        position, song, next_song, who (who starts it and how: who has to be there first), why, minutes, ticked.

    """
    who = {row["song"]: _starts(row) for row in the_set.to_dict("records")}
    said = [*_said(the_set), *_endings(the_set, endings or {})]
    rows = [*_new_transitions(the_set, crossings), *said, *_unplayed(the_set), *_open(the_set, findings)]
    table = pd.DataFrame(rows, columns=["need", "what", "position", "song", "next_song", "why", "minutes"])
    table = table.sort_values(["need", "position"], kind="stable", ignore_index=True)
    starts = [row.next_song if isinstance(row.next_song, str) else row.song for row in table.itertuples()]
    table["who"] = [who.get(song) or None for song in starts]
    table["key"] = [key(row.what, row.song, row.next_song) for row in table.itertuples()]
    table["ticked"] = table.key.isin(list(ticked))
    return table.drop_duplicates("key", ignore_index=True)[BAND_COLUMNS]


NEW_ENDING = re.compile(
    r"\b(?:new|another|changed|different|shorter|longer)\b[^.;|]{0,20}\b(?:ending|end|outro|coda|tag|out)\b"
    r"|\b(?:ending|end|outro|coda|tag|out)\b[^.;|]{0,20}\b(?:new|changed|different|shorter|longer)\b",
    re.IGNORECASE,
)
"""How people write that an ending is not the old one."""
Row = tuple[int, str, int, str, str | None, str, float]


def _new_transitions(the_set: pd.DataFrame, crossings: pd.DataFrame) -> Iterator[Row]:
    """Transitions never played: those without a gap first, then those with a jump in tempo."""
    at = the_set.set_index("position").to_dict("index")
    for row in crossings[crossings.times == 0].itertuples():
        one, two = at[row.position], at[row.next_position]
        a, b = one["tempo_bpm"], two["tempo_bpm"]
        jump = bool(pd.notna(a) and pd.notna(b) and max(a / b, b / a) >= TEMPO_JUMP)
        gap = one["segue"] is True
        why = "never played" + ", segue" * gap + (f", tempo {a:.0f} to {b:.0f}" if jump else "")
        yield (
            0 if gap else 2 if jump else 3,
            "transition",
            row.position,
            row.song,
            row.next_song,
            why,
            TRANSITION_MINUTES,
        )


def _said(the_set: pd.DataFrame) -> Iterator[Row]:
    """What is new by the paper itself, behind the title; a song that was never played is to be tried whole anyway."""
    for row in the_set[the_set.remark.notna() & the_set.plays.gt(0)].itertuples():
        yield 1, "said tonight", row.position, row.song, None, str(row.remark), ENDING_MINUTES


def new_endings(past: Tour, songs: Iterable[str]) -> dict[str, str]:
    """Songs whose ending is new by what was written down, and where that stands; never in the writer's words.

    A note counts from the last time that the song was played on, a finding or what worked if it is of that time, a
    shape for as long as it says so. Personal notes do not count.

    Examples
    --------
    >>> shape = pd.DataFrame({"song": ["Ferry"], "position": 1, "name": ["outro"], "feel": ["new, stop on 4"]})
    >>> new_endings(Tour.of(songs=shape[["song"]], sections=shape), ["Ferry"])
    {'Ferry': 'new ending, by its shape'}

    """
    days = past.shows.set_index("show_id").date.to_dict()
    last = past.plays.assign(date=past.plays.show_id.map(days)).groupby("song").date.max().to_dict()
    shape = past.sections.sort_values("position").drop_duplicates("song", keep="last")
    parts = [shape[name].fillna("") for name in ("name", "feel", "cue", "hits")]
    ends = ["ending, " + ", ".join(said) for said in zip(*parts, strict=True)]
    told = [(title, text, None, "its shape") for title, text in zip(shape.song, ends, strict=True)]
    for table in (past.mistakes, past.worked):
        told += [(row.song, row.remark, days.get(row.show_id), "a finding") for row in table.itertuples()]
    notes = past.notes[(past.notes.about == "song") & ~past.notes.personal.astype(bool)]
    told += [(row.song, row.text, row.date, "a note") for row in notes.itertuples()]
    tonight = set(songs)
    return {
        title: f"new ending, by {source}"
        for title, text, day, source in told
        if title in tonight and isinstance(text, str) and NEW_ENDING.search(text)
        and (day is None or title not in last or (pd.notna(day) and day >= last[title]))
    }  # fmt: skip


def _endings(the_set: pd.DataFrame, endings: Mapping[str, str]) -> Iterator[Row]:
    """What is new by what was written down; what the paper says tonight is said already."""
    for row in the_set[the_set.remark.isna()].drop_duplicates("song").itertuples():
        if row.song in endings:
            yield 1, "new ending", row.position, row.song, None, endings[row.song], ENDING_MINUTES


def _unplayed(the_set: pd.DataFrame) -> Iterator[Row]:
    """Songs that the others have not played for long either, or never."""
    for row in the_set.drop_duplicates("song").to_dict("records"):
        out = row["layoff_shows"]
        never = not row["plays"]
        if never or (pd.notna(out) and out >= LONG_OUT):
            length = row["minutes"] if pd.notna(row["minutes"]) else SONG_MINUTES
            said = f", {row['remark']}" if isinstance(row["remark"], str) else ""
            why = f"never played at a show{said}" if never else f"out {counted(int(out), 'show')}"
            yield 1 if never else 4, "song", row["position"], row["song"], None, why, float(length)


def _open(the_set: pd.DataFrame, findings: pd.DataFrame) -> Iterator[Row]:
    """What the last two shows left open: where it was and of what kind, never in the finder's own words."""
    place = the_set.drop_duplicates("song").set_index("song").position
    for row in findings[findings.song.isin(place.index)].to_dict("records"):
        where = ", ".join(str(row[name]) for name in ("kind", "section") if isinstance(row[name], str))
        when = "last show" if row["shows_ago"] == 1 else f"{row['shows_ago']} shows ago"
        said = f"{where or 'a mistake'} ({when})"
        yield 5, "left open", int(place[row["song"]]), row["song"], None, said, OPEN_MINUTES


def key(what: str, song: str, next_song: object) -> str:
    """The name of a thing to try, for its tick."""
    into = f" > {next_song}" if isinstance(next_song, str) else ""
    return f"band, {what}: {song}{into}"


def hand_overs(the_set: pd.DataFrame, things: pd.DataFrame) -> pd.DataFrame:
    """What changes hands between songs, for the technician, in order of the set.

    Parameters
    ----------
    the_set
        position, song, encore, gear, samples, track, track_by, track_fails.
    things
        As in `tables.Things`: the spares that the user has named.

    Returns
    -------
    DataFrame
        A row where anything changes: after (position of the song before it, 0 before the first), into, out (gear that
        goes), in_ (gear that comes), armed (samples, and a track that the song before it did not have), by, fails.

    """
    spares = things.set_index("thing").spare.to_dict()
    rows, before, was = [], _Needs([], [], None), 0
    for row in the_set.sort_values("position", kind="stable").to_dict("records"):
        now = _Needs.of(row)
        comes, goes = [x for x in now.gear if x not in before.gear], [x for x in before.gear if x not in now.gear]
        armed = [f"sample{'s' * (len(now.samples) > 1)} {together(now.samples)}"] if now.samples else []
        armed += [_named(now.track)] if now.track and now.track != before.track else []
        fails = [f"{name}: {spares[name]}" for name in comes if isinstance(spares.get(name), str)]
        fails += [str(row["track_fails"])] if armed and isinstance(row["track_fails"], str) else []
        if comes or goes or armed:
            by = row["track_by"] if armed and isinstance(row["track_by"], str) else ""
            rows.append((was, row["song"], together(goes), together(comes), together(armed), by, "; ".join(fails)))
        before, was = now, row["position"]
    return pd.DataFrame(rows, columns=["after", "into", "out", "in_", "armed", "by", "fails"])


def _named(track: str) -> str:
    return track if "track" in track else f"track {track}"


class _Needs:
    """What one song needs on the stage."""

    def __init__(self, gear: list[str], samples: list[str], track: str | None) -> None:
        self.gear, self.samples, self.track = gear, samples, track

    @classmethod
    def of(cls, row: Mapping[str, Any]) -> _Needs:
        track = row["track"] if isinstance(row["track"], str) else None
        return cls(list(items(row["gear"])), list(items(row["samples"])), track)


def for_director(the_set: pd.DataFrame, pairs: pd.DataFrame) -> pd.DataFrame:
    """Every transition of the set as a musical director looks at it.

    Parameters
    ----------
    the_set
        position, song, segue, tempo_bpm, starts_by, count_in, speech, cues, status.
    pairs
        position, song, next_song, next_position and times, a row a transition of tonight.

    Returns
    -------
    DataFrame
        position, song, next_song, gap (segue or empty), played (how often before), tempo ("116 to 65", empty where one
        is not known), starts (who starts the next song and how), speech (before it), cue (the first in it).

    """
    at = the_set.set_index("position").to_dict("index")
    rows = []
    for row in pairs.itertuples():
        one, two = at[row.position], at[row.next_position]
        known = pd.notna(one["tempo_bpm"]) and pd.notna(two["tempo_bpm"])
        tempo = f"{one['tempo_bpm']:.0f} to {two['tempo_bpm']:.0f}" if known else ""
        gap = "segue" if one["segue"] is True else ""
        speech, cues = (two[name] if isinstance(two[name], str) else "" for name in ("speech", "cues"))
        cue = cues.partition("; ")[0]
        rows.append((row.position, row.song, row.next_song, gap, row.times, tempo, _starts(two), speech, cue))
    columns = ["position", "song", "next_song", "gap", "played", "tempo", "starts", "speech", "cue"]
    return pd.DataFrame(rows, columns=columns)


def _starts(row: Mapping[str, Any]) -> str:
    """Who starts a song, and how."""
    return ", ".join(row[name] for name in ("starts_by", "count_in") if isinstance(row[name], str))


def set_out(the_set: pd.DataFrame, things: pd.DataFrame, ticked: Iterable[str]) -> pd.DataFrame:
    """What is set out before doors: what tonight's songs ask for in the order needed, then what stands out every night.

    Parameters
    ----------
    the_set
        position, song, gear, samples, track, track_fails.
    things
        As in `tables.Things`. One that tonight's songs ask for by the same name lends it its spare and remark.
    ticked
        What is ticked off already.

    Returns
    -------
    DataFrame
        item, kind (gear, sample, track, always), first (position, missing for what is always out), songs, spare (the
        user's own words, empty where there are none), who, remark, ticked.

    """
    needs: dict[tuple[str, str], list[tuple[int, str]]] = {}
    fails: dict[str, str] = {}
    for row in the_set.itertuples():
        track = [row.track] if isinstance(row.track, str) else []
        for kind, names in (("gear", items(row.gear)), ("sample", items(row.samples)), ("track", track)):
            for name in names:
                needs.setdefault((kind, name), []).append((row.position, row.song))
        if track and isinstance(row.track_fails, str):
            fails.setdefault(row.track, row.track_fails)
    kept = things.set_index("thing").to_dict("index")
    rows: list[tuple[str, str, int | None, str]] = [
        (name, kind, uses[0][0], ", ".join(f"{place} {song}" for place, song in uses))
        for (kind, name), uses in needs.items()
    ]
    rows += [(name, "always", None, "") for name in kept if name not in {name for _, name in needs}]
    table = pd.DataFrame(rows, columns=["item", "kind", "first", "songs"]).astype({"first": "Int64"})
    for column in ("spare", "who", "remark"):
        said = [kept.get(name, {}).get(column) for name in table["item"]]
        table[column] = [words if isinstance(words, str) else "" for words in said]
    table["spare"] = [
        row.spare or (fails.get(row.item, "") if row.kind == "track" else "") for row in table.itertuples()
    ]
    return table.assign(ticked=table["item"].isin(list(ticked)))
