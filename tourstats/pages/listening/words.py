"""What to hear first, and why, in words; what was measured, as a table."""

from __future__ import annotations

import re
from typing import Any

import numpy as np
import pandas as pd

from tourstats.models import listening
from tourstats.pages.kit import tables_shown
from tourstats.pages.kit.links import moment
from tourstats.pages.listening import hearing
from tourstats.problems import counted
from tourstats.recording import Kept, bars_of
from tourstats.recording.kept import CURVE_S
from tourstats.tour import Tour

PEOPLE = (
    "A recording with other people on it is theirs too: ask before you pass it on, and keep to what the band and the "
    "venue have agreed. It is read on this machine only, never changed, copied or sent; what is kept are figures."
)
EARS = (
    "Loud headphones wear out ears as a stage does. As a guide to how much is enough, WHO-ITU H.870 (Safe listening "
    "devices and systems) takes 80 dBA for 40 hours a week for adults; every 3 dB more halves the hours, and the "
    "show before counts. If your ears ring or sounds are dull, stop, and see a doctor or an audiologist."
)
"""Source of the figures: ITU-T H.870, mode 1 (1.6 Pa²h a week), as WHO publishes it."""
UNITS = {"tempo": "%", "length": "%", "drift": "points", "loudness": "dB"}
FAR = listening.TELLS
SAID = {
    ("tempo", True): "{by:.1f}% faster than you usually play it",
    ("tempo", False): "{by:.1f}% slower than you usually play it",
    ("drift", True): "it speeds up more than it usually does, by {by:.1f}% from start to end",
    ("drift", False): "it slows down more than it usually does, by {by:.1f}% from start to end",
    ("unsteadiness", True): "the tempo wanders more than usual",
    ("unsteadiness", False): "steadier than usual",
    ("length", True): "{by:.0f}% longer than usual",
    ("length", False): "{by:.0f}% shorter than usual",
    ("loudness", True): "{by:.1f} dB louder within the show than usual",
    ("loudness", False): "{by:.1f} dB softer within the show than usual",
    ("softs", True): "its soft parts are {by:.1f} dB louder than usual",
    ("softs", False): "its soft parts are {by:.1f} dB softer than usual",
    ("louds", True): "its loud parts are {by:.1f} dB louder than usual",
    ("louds", False): "its loud parts are {by:.1f} dB softer than usual",
}


def seconds_in(text: str) -> float | None:
    """A moment as people type it; None if it is none.

    Examples
    --------
    >>> seconds_in("1:23"), seconds_in("1:02:03"), seconds_in("83.5"), seconds_in("soon")
    (83.0, 3723.0, 83.5, None)

    """
    try:
        parts = [float(part) for part in text.strip().split(":")]
    except ValueError:
        return None
    return sum(part * 60**power for power, part in enumerate(reversed(parts))) if 0 < len(parts) < 4 else None  # noqa: PLR2004  # hours, minutes, seconds


def also_at(why: object) -> list[float]:
    """Where a song may begin as well, in seconds into the recording, as what speaks against its place says.

    Examples
    --------
    >>> also_at("it may also begin at 1:02:03; the recording begins or ends in it"), also_at(None)
    ([3723.0], [])

    """
    found = re.search(r"it may also begin at ([\d:]+)", why) if isinstance(why, str) else None
    return [at for at in [seconds_in(found[1]) if found else None] if at is not None]


def because(row: pd.Series, away: pd.DataFrame) -> str:
    """Why a song is worth hearing: a row of `listening.order`, and what of its departures is told (`told`).

    Examples
    --------
    >>> row = pd.Series({"departure": 3.1, "new": False, "open": True, "watch": False, "click": False})
    >>> away = pd.DataFrame({"quantity": ["tempo", "softs"], "percent": [2.96, -4.0], "departure": [3.1, -2.2]})
    >>> because(row, away)
    '3.0% faster than you usually play it; its soft parts are 4.0 dB softer than usual; something was found last time'

    """
    parts = ["played for the first time"] if row.new else []
    parts += [departed(one) for _, one in away.assign(click=row.click).iterrows()]
    if row.click and "tempo" not in set(away.quantity) and pd.notna(row.departure):
        parts.append("with the click")
    if row.open:
        parts.append("something was found last time")
    if row.watch:
        parts.append("it has a spot to watch")
    if not parts:
        parts.append("about as usual" if pd.notna(row.departure) else "nothing to hold it against yet")
    return "; ".join(parts)


def departed(row: pd.Series) -> str:
    """By how much a performance departs from its usual, and in what; to a click, from the click."""
    size = abs(float(row.percent))
    by = 100 * np.expm1(size / 100) if UNITS.get(row.quantity) == "%" and row.percent > 0 else size
    if UNITS.get(row.quantity) == "%" and row.percent < 0:
        by = -100 * np.expm1(-size / 100)
    said = SAID[row.quantity, bool(row.departure > 0)].format(by=by)
    if row.quantity == "tempo" and row.get("click", False):
        said = said.replace("you usually play it", "the click")
    if row.get("earlier") == 0:  # held against the repertoire alone
        said = said.replace("you usually play it", "wanted").replace("than usual", "than in the repertoire")
    since = row.get("since")
    return f"{said}, from {since} on" if row.quantity == "tempo" and isinstance(since, str) else said


def told(away: pd.DataFrame) -> pd.DataFrame:
    """What of `listening.departures` is worth words, the largest first; of how loud it was, one thing a song."""
    far = away[away.departure.abs() >= FAR]
    far = far.assign(percent=far.value - far.usual, size=far.departure.abs())
    far = far.sort_values(["position", "size"], ascending=[True, False], kind="stable")
    what = far.quantity.replace(["softs", "louds"], "loudness")
    again = far.assign(what=what).duplicated(["position", "what"]).to_numpy(bool)
    return far.loc[~again].drop(columns="size")


def first(tour: Tour, show_id: object, minutes: float | None = None, kept: pd.DataFrame | None = None) -> pd.DataFrame:
    """What to hear first: position, song, from, to (in the recording), why; as many as fit into the minutes.

    `kept` is what is kept of performances (`Diary.kept`): with it, soft and loud parts are held against the song's
    usual, and it is said from which section on it was faster or slower.
    """
    levels = None if kept is None else hearing.levels(kept)
    about = tour.measured, tour.plays, tour.shows, tour.songs
    ordered = listening.order(*about, show_id, tour.mistakes, levels)
    if minutes is not None:
        ordered = listening.in_minutes(ordered, minutes)
    away = told(listening.departures(*about, show_id, levels))
    since = [_since(tour, show_id, one, kept) for one in away.itertuples()]
    away = away.assign(since=pd.Series(since, index=away.index, dtype=object))
    ordered = ordered.assign(click=ordered.song.isin(listening.to_a_click(tour.songs)))
    why = np.array([because(row, away[away.position == row.position]) for _, row in ordered.iterrows()], dtype=object)
    sure = tour.measured.position[(tour.measured.show_id == show_id) & tour.measured.sure.astype(bool)]
    doubt = np.where(ordered.position.isin(sure), "", "; its place is not sure")
    parts = {"from": ordered.start_s.map(moment), "to": ordered.end_s.map(moment), "why": why + doubt}
    return ordered[["position", "song"]].assign(**parts).reset_index(drop=True)


def _since(tour: Tour, show_id: object, away: Any, kept: pd.DataFrame | None) -> str | None:  # noqa: ANN401  # a row
    """From which section of its shape on a song was faster or slower than usual."""
    if kept is None or away.quantity != "tempo":
        return None
    packs = kept.kept[(kept.show_id == show_id) & (kept.position == away.position)]
    about = Kept.unpacked(packs.iloc[0]) if len(packs) else None
    if about is None:
        return None
    mine = tour.measured[(tour.measured.show_id == show_id) & (tour.measured.position == away.position)].iloc[0]
    bars = bars_of(about, float(mine.end_s - mine.start_s), tour.sections[tour.sections.song == away.song])
    if not bars.sections:
        return None
    seconds = about.curve_from_s + CURVE_S * np.arange(len(about.curve), dtype=float)
    usual = float(mine.tempo_bpm) / float(np.exp(away.percent / 100))
    return listening.since(np.asarray(seconds, float), np.asarray(about.curve, float), usual, bars.sections)


def table(tour: Tour, show_id: object, kept: pd.DataFrame | None = None) -> pd.DataFrame:
    """What the recording says of each song of the set, in its order; figures that are not sure are not there.

    With `kept` as in `first`, soft and loud parts are held against the song's usual, in dB within the show.
    """
    places = tour.plays.loc[tour.plays.show_id == show_id, ["position", "song"]]
    rows = places.merge(tour.measured[tour.measured.show_id == show_id], how="left", on="position")
    wanted = rows.song.map(tour.songs.drop_duplicates("song").set_index("song").tempo_bpm.to_dict())
    levels = None if kept is None else hearing.levels(kept)
    away = listening.departures(tour.measured, tour.plays, tour.shows, tour.songs, show_id, levels)
    # What has no usual yet departs from nothing.
    off = (away.value - away.usual).where(away.departure.notna())

    def against(quantity: str) -> pd.Series:
        return rows.position.map(off[away.quantity == quantity].set_axis(away.position[away.quantity == quantity]))

    there = rows.start_s.notna()
    columns = pd.DataFrame(
        {
            "position": rows.position,
            "song": rows.song,
            "start": rows.start_s.map(moment, na_action="ignore"),
            "end": rows.end_s.map(moment, na_action="ignore"),
            "placed for sure": rows.sure.eq(True).map({True: "yes", False: "no"}).where(there, "not found"),
            "wanted": wanted.astype(float).round(1),
            "played": rows.tempo_bpm.astype(float).round(1),
            "drift, %": rows.drift.astype(float).round(1),
            "unsteady, %": rows.unsteadiness.astype(float).round(2),
            "against usual, %": (100 * np.expm1(against("tempo").astype(float) / 100)).round(1) + 0.0,  # no -0.0
            "loudness, dB": rows.loudness.astype(float).round(1),
            "softs against usual, dB": against("softs").astype(float).round(1),
            "louds against usual, dB": against("louds").astype(float).round(1),
            "not sure because": rows.why if "why" in rows else "",
        }
    )
    return columns[[name for name in columns if columns[name].notna().any() or "usual" not in name]]


def table_as_text(tour: Tour, show_id: object, kept: pd.DataFrame) -> str:
    """The same for a terminal: figures in columns, and below them what is not sure, a line a song."""
    every = table(tour, show_id, kept)
    short = {"placed for sure": "sure", "against usual, %": "usual, %", "loudness, dB": "loud, dB"}
    short |= {f"{part} against usual, dB": f"{part}, dB" for part in ("softs", "louds")}
    figures = tables_shown.as_text(every.drop(columns="not sure because"), labels=short, wrap=True)
    unsure = every[["position", "song", "not sure because"]].dropna()
    doubts = [f"{position} {song}: {why}" for position, song, why in unsure.itertuples(index=False) if why]
    return "\n".join([figures, *(["", "Not sure:", *doubts] if doubts else [])])


def at_a_glance(tour: Tour, show_id: object) -> str:
    """How much of the recording is known, and what stands out, in two sentences."""
    rows = tour.measured[tour.measured.show_id == show_id]
    if not len(rows):
        return "No recording of this show has been listened to yet."
    songs = int((tour.plays.show_id == show_id).sum())
    sure, fast = int(rows.sure.sum()), int(rows.tempo_sure.sum())
    text = f"{sure} of {counted(songs, 'song')} placed for sure, {fast} with a tempo."
    ordered = listening.order(tour.measured, tour.plays, tour.shows, tour.songs, show_id, tour.mistakes)
    ordered = ordered.assign(click=ordered.song.isin(listening.to_a_click(tour.songs)))
    far = ordered[ordered.departure.abs() >= FAR]
    if len(far):
        row = far.iloc[0]
        text += f" Furthest from usual: {row.song}, {departed(row)}."
    return text


def crept(tour: Tour, leg: object = None) -> str:
    """How many songs crept up or down, by how much, for the leg review; nothing while too little is known.

    Examples
    --------
    >>> import pandas as pd
    >>> crept(Tour.of(shows=pd.DataFrame({"show_id": [1], "date": ["2031-03-04"]})))
    ''

    """
    rows = listening.creep(tour.measured, tour.plays, tour.shows, leg)
    if not len(rows):
        return ""
    parts = []
    for sign, word in ((1, "up"), (-1, "down")):
        clear = rows[rows.clear & (np.sign(rows.change) == sign)]
        if len(clear) == 1:
            one = clear.iloc[0]
            low, high = sorted((abs(one.low), abs(one.high)))
            parts.append(f"{one.song} has crept {word} by {abs(one.change):.1f}% (likely {low:.1f} to {high:.1f}%)")
        elif len(clear):
            span = sorted({f"{by:.1f}" for by in (clear.change.abs().min(), clear.change.abs().max())}, key=float)
            parts.append(f"{counted(len(clear), 'song')} have crept {word}, by {' to '.join(span)}%")
    if not parts:
        return f"No tempo crept for sure, of {counted(len(rows), 'song')} recorded at least {listening.FEWEST} times."
    return f"{'; '.join(parts)}, of {counted(len(rows), 'song')} recorded at least {listening.FEWEST} times."
