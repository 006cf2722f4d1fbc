"""A song, a show or a venue in words and tables: one list of parts for the page and the command."""

from __future__ import annotations

import html
import textwrap
from collections.abc import Sequence

import pandas as pd

from tourstats.models import song as model
from tourstats.pages.kit import links, tables_shown
from tourstats.pages.show_day.words import Section, where_and_when
from tourstats.problems import Problem, UnknownShowProblem, counted, listed
from tourstats.tables import in_order
from tourstats.tour import Tour

SAID = {"words": "in words"}
TO_TEST = {"chance": "chance of being in the next set", "days": "days until it is likely", "today": "questions today",
           "due": "due in all", "last": "last asked"}  # fmt: skip
MOST = 12
"""Rows of a table that stand there at once."""
ROUNDS = "Each time it was played, the newest first, and the shows it had been out before."
NOTHING_SAID = "Nothing was found or noted yet."
ROOMS = {"reviewed": "reviewed"}
TO_HEAR = {"reference": "as on the record", "reference_now": "as we play it now"}
CROSSED = {"way": "", "last": "last time", "reviewed": "listened to",
           "mistakes": "mistakes at the seam", "found": "last finding", "tried": "tried with the band",
           "notes": "said of it", "seam": "that night"}  # fmt: skip
READY = {
    "starts_by": "starts", "count_in": "count-in", "speech": "before it", "gear": "gear", "samples": "samples",
    "track": "track", "track_by": "track started by", "track_fails": "if the track fails",
    "watch": "watch",
}  # fmt: skip


class UnknownVenueProblem(Problem):
    """There is no such venue."""


def of_song(tour: Tour, title: str) -> list[Section]:
    """Everything about one song, what was said first.

    Raises
    ------
    UnknownSongProblem
        If it is not in the repertoire.

    """
    return parts(model.song(tour, title))


def parts(song: model.Song) -> list[Section]:
    """The page of a song that was looked up."""
    return [
        Section(song.title, _at_a_glance(song)),
        Section("What was found and said", "" if len(song.said) else NOTHING_SAID, _said(song.said), SAID),
        Section("To have ready", _ready(song)),
        Section("To hear it", _to_hear(song)),
        Section("Tempo and length", _tempo(song),
                song.tempi[["date", "city", "tempo_bpm", "tempo_sure", "drift", "minutes"]]),
        Section("Its shape", _by_heart(song), song.shape.drop(columns=["song"]).dropna(axis=1, how="all")),
        Section("Into it and out of it", "" if len(song.transitions) else "Not played yet.", _transitions(song),
                CROSSED),
        Section("In and out", ROUNDS if len(song.history) else "Not in a set yet.", _history(song),
                {"out": "out before, shows"}),
        Section("By kind of venue", "As counted, in performances reviewed.", song.rooms, ROOMS),
        Section("Runs and rehearsals", _run_words(song), song.runs[["date", "way", "runs", "minutes"]]),
    ]  # fmt: skip


def to_test(table: pd.DataFrame) -> Section:
    """Songs of which something is to be asked, as `model.to_test` gives them."""
    asked = [f"{row.known} of {row.asked}" if row.asked else "never" for row in table.itertuples()]
    words = f"{due_in_words(table)}."
    if not len(table):
        words = "Nothing is due: every question was asked lately, or no shape is written down yet."
    table = table.assign(known=asked)[["song", "chance", "days", "today", "due", "known", "last"]]
    return Section("To be asked today", words, table, TO_TEST)


def due_in_words(table: pd.DataFrame) -> str:
    """How many questions are today's share, on how many songs, and how many wait for another day."""
    wait, today = int((table.due - table.today).sum()), table[table.today > 0]
    later = f" ({wait:,} more can wait)" if wait else ""
    if not len(today):
        return f"enough for today{later}"
    return f"{counted(int(today.today.sum()), 'question')} on {counted(len(today), 'song')}{later}"


def begin(tour: Tour, show_id: object, day: pd.Timestamp) -> str:
    """How much is due of a show's songs, with one press to begin; empty where nothing is."""
    due = model.to_test(tour, day, model.tonight_wanted(tour, show_id))
    return ways_to_begin(f"{due_in_words(due)}.") if len(due) else ""


def ways_to_begin(words: str) -> str:
    """What is due in a sentence, and the link that begins."""
    page = links.to_page(links.SONG, test="1")
    return f'<p>To be asked today: {html.escape(words)} <a href="{page}">Begin the test</a></p>'


def of_show(tour: Tour, show_id: object) -> list[Section]:
    """One show: its set with what was found in each song, and what was noted.

    Raises
    ------
    UnknownShowProblem
        If there is no such show.

    """
    if show_id not in set(tour.shows.show_id):
        raise UnknownShowProblem.of(show_id)
    show = tour.shows[tour.shows.show_id == show_id].iloc[0].to_dict()
    told = model.told(tour)
    told = told[told.show_id == show_id]
    titles = tour.set_of(show_id) if show_id not in set(tour.plays.show_id) else tour.plays
    titles = titles[titles.show_id == show_id][["position", "song", "encore", "remark"]]
    titles = titles.assign(mistakes=titles.song.map(told[told.what == "mistake"].groupby("song").size()))
    reviewed = tour.reviews[(tour.reviews.show_id == show_id) & (tour.reviews.listening == 1)].song.nunique()
    words = f"{counted(len(titles), 'song')}, {reviewed} reviewed. {_mistakes(told)}"
    notes = tour.notes[(tour.notes.show_id == show_id) & (tour.notes.about != "song")]
    crossed = _crossed(tour, show_id)
    return [
        Section(where_and_when(show), words),
        Section("The set", "" if len(titles) else "No set of this show is in the diary.", titles),
        Section("Transitions", "" if len(crossed) else "None was played.", crossed, CROSSED),
        Section(
            "What was found and said", "" if len(told) else NOTHING_SAID, _heard(told, "song", "what", "words"), SAID
        ),
        Section("Notes", "" if len(notes) else "None.", notes[["date", "text"]]),
    ]


def of_venue(tour: Tour, venue: str) -> list[Section]:
    """One venue: its notes, what went wrong there, and what everybody heard first.

    Raises
    ------
    UnknownVenueProblem
        If there is no such venue.

    """
    if venue not in set(tour.venues.venue):
        raise UnknownVenueProblem(f'There is no venue "{venue}". Those there are: {listed(tour.venues.venue, most=8)}.')
    row = tour.venues[tour.venues.venue == venue].iloc[0]
    shows = in_order(tour.shows[tour.shows.venue == venue]).iloc[::-1]
    told = model.told(tour)
    told = told[told.show_id.isin(shows.show_id) & (told.what != "note")]
    loud = told[told.severity == max(model.HEARD)]
    seams = model.at_seams(tour)
    seams = seams[seams.show_id.isin(shows.show_id)]
    notes = tour.notes[(tour.notes.venue == venue) | tour.notes.show_id.isin(shows.show_id)].iloc[::-1]
    where = ", ".join(str(part) for part in (venue, row.city, row.room) if isinstance(part, str))
    return [
        Section(where, f"{counted(len(shows), 'show')}. {_mistakes(told)}"),
        Section("Notes", "" if len(notes) else "None yet.", notes[["date", "song", "text"]]),
        Section("What everyone heard", "" if len(loud) else "Nothing.", _heard(loud, "date", "song", "words"), SAID),
        Section("What was found and said", "" if len(told) else NOTHING_SAID,
                _heard(told, "date", "song", "what", "words"), SAID),
        Section("At transitions", "" if len(seams) else "Nothing found.",
                seams[["date", "song", "next_song", "words"]], SAID),
        Section("Shows", "" if len(shows) else "None yet.", shows[["date", "number", "leg", "show_id"]]),
    ]  # fmt: skip


def of_found(tour: Tour, found: pd.DataFrame) -> list[Section]:
    """The page of the one song, venue or show that was meant, of what `model.search` found; else none."""
    named = found[found.kind != "said"]
    kinds = named.kind.tolist()
    if kinds == ["song"] and set(found.name) == set(named.name):
        return of_song(tour, named.name.iloc[0])
    if kinds.count("venue") == 1 and "song" not in kinds:
        return of_venue(tour, named.name[named.kind == "venue"].iloc[0])
    return of_show(tour, int(named.name.iloc[0])) if kinds == ["show"] else []


def as_text(sections: Sequence[Section], width: int = 100, most: int | None = 12) -> str:
    """Return the page as plain text for a terminal."""
    lines: list[str] = []
    for part in sections:
        lines += [part.heading, "-" * min(len(part.heading), width), *textwrap.wrap(part.words, width)]
        if len(part.table):
            lines += [tables_shown.as_text(part.table, labels=part.labels, width=width, most=most, wrap=True)]
        lines.append("")
    return "\n".join(lines).rstrip()


def as_html(sections: Sequence[Section]) -> str:
    """The first part open, what was said open, the rest folded with counts; everything typed escaped."""
    first, *others = sections
    head = f"<h2>{html.escape(first.heading)}</h2><p>{links.linked(first.words)}</p>"
    return head + "".join(folded(part, open_=not at) for at, part in enumerate(others))


def folded(part: Section, *, open_: bool = False) -> str:
    """A part under its heading with its count."""
    count, state = f" ({len(part.table)})" if len(part.table) else "", " open" if open_ else ""
    return (
        f"<details class='tourstats-more'{state}><summary>{html.escape(part.heading)}{count}</summary>"
        f"{f'<p>{links.linked(part.words)}</p>' if part.words else ''}{_table(part)}</details>"
    )


def _table(part: Section) -> str:
    table: pd.DataFrame = part.table
    return tables_shown.shown(table, labels=part.labels, most=MOST).html if len(table) else ""


def _at_a_glance(song: model.Song) -> str:
    facts, played = song.facts, song.history
    if not facts["plays"]:
        ahead = _next(song) if song.ahead is not None and "position" in song.ahead else ""
        return f"{str(facts['status']).capitalize()}; in the repertoire, not yet in a set that was played.{ahead}"
    out = int(facts["layoff_shows"])
    here = f"Out {counted(out, 'show')}, {counted(int(facts['layoff_days']), 'day')}" if out else "In the last set"
    usual = ""
    if pd.notna(facts["usual_low"]):
        low, high = int(facts["usual_low"]), int(facts["usual_high"])
        often = f"{low} to {high} shows" if high > low else counted(low, "show")
        usual = f"; when it goes out it is usually out {often} (middle half)"
    return (
        f"In {int(facts['plays'])} of {len(played)} sets since its first. {here}{usual}.{_next(song)} "
        f"{_sure(song.streak)}"
    )


def _next(song: model.Song) -> str:
    """The chance of being in the next set; where that is written, whether it is, and what is said of it there."""
    if song.ahead is None:
        return "" if song.chance is None else f" Chance of being in the next set: {song.chance:.0%}."
    ahead, on = song.ahead, _day(song.ahead["date"])
    before = "" if song.chance is None else f" (its chance before that was written: {song.chance:.0%})"
    if "position" not in ahead:
        return f" Not in the set of {on}{before}."
    said = [ahead["remark"]] if isinstance(ahead["remark"], str) else []
    words = ", ".join([*said, *["straight into the next"] * bool(ahead["segue"])])
    return f" Number {ahead['position']} of the set of {on}{words and f': {words}'}{before}."


def _sure(streak: model.Streak) -> str:
    """How sure one can be of a clean next one."""
    if not streak.reviewed:
        return "Not reviewed yet."
    row = f"{streak.in_a_row} clean in a row up to now"
    base = f"Reviewed {counted(streak.reviewed, 'time')}, {streak.clean} clean; {row}"
    if streak.holds:
        return f"{base}: safe without thinking, a clean next one is {streak.sure:.0%} sure (it takes {streak.needed})."
    return f"{base}; it takes {streak.needed} to be {model.SURE:.0%} sure of a clean next one."


def _said(told: pd.DataFrame) -> pd.DataFrame:
    rooms = [
        f"{text} ({room})" if isinstance(room, str) else text for text, room in zip(told.words, told.room, strict=True)
    ]
    return links.with_hear(told.assign(words=rooms)[["date", "city", "what", "words"]], told)


def _heard(told: pd.DataFrame, *columns: str) -> pd.DataFrame:
    return links.with_hear(told[[*columns]], told)


def _transitions(song: model.Song) -> pd.DataFrame:
    """Into it and out of it: what stood there, and how it went."""
    table = song.transitions
    into = table.next_song == song.title
    way = into.map({True: "from", False: "into"})
    return table.assign(way=way, neighbour=table.song.where(into, table.next_song), found=_last_found(table))[
        ["way", "neighbour", "times", "last", "reviewed", "mistakes", "found", "tried", "notes"]
    ].dropna(axis="columns", how="all")


def _last_found(table: pd.DataFrame) -> list[str | None]:
    return [f"{row.found} ({_day(row.found_on)})" if pd.notna(row.found) else None for row in table.itertuples()]


def _day(day: pd.Timestamp) -> str:
    return tables_shown.cell(day).rsplit(" ", 1)[0]


def _crossed(tour: Tour, show_id: object) -> pd.DataFrame:
    """The transitions of one show: how often each was played in all, what was found there, and what that night."""
    titles = tour.plays[tour.plays.show_id == show_id].sort_values("position")
    at = {pair: n for n, pair in enumerate(zip(titles.song, titles.song.shift(-1), strict=True))}
    table = model.crossings(tour)
    places = [at.get(pair) for pair in zip(table.song, table.next_song, strict=True)]
    seams = model.at_seams(tour)
    seams = seams[seams.show_id == show_id].groupby(["song", "next_song"], as_index=False).words.agg("; ".join)
    table = table.assign(place=places, found=_last_found(table)).dropna(subset="place")
    table = table.merge(seams.rename(columns={"words": "seam"}), how="left", on=["song", "next_song"])
    table = table.sort_values("place", kind="stable", ignore_index=True)
    return table[["song", "next_song", "times", "reviewed", "mistakes", "seam", "found", "notes"]].dropna(
        axis="columns", how="all"
    )


def _ready(song: model.Song) -> str:
    said = [f"{label}: {song.facts[name]}" for name, label in READY.items() if isinstance(song.facts.get(name), str)]
    level = song.facts.get("readiness")
    return "; ".join([*said, *([f"readiness: {level}"] if isinstance(level, str) else [])]) or "Nothing is noted."


def _to_hear(song: model.Song) -> str:
    """What to learn it from; where nobody says how it is played now, the latest recording in which it was found."""
    said = [f"{label}: {song.facts[name]}" for name, label in TO_HEAR.items() if isinstance(song.facts[name], str)]
    there = song.tempi[song.tempi.recording.notna()]
    if not isinstance(song.facts["reference_now"], str) and len(there):
        row = there.iloc[0]
        at = f"{int(row.start_s) // 60}:{int(row.start_s) % 60:02}"
        said.append(f"as we play it now: {row.recording}, from {at} ({_day(row.date)})")
    return "; ".join(said) or "No recording and no link is noted: Corrections, a song, has fields for both."


def _tempo(song: model.Song) -> str:
    tempo, minutes = song.facts["tempo_bpm"], song.facts["minutes"]
    said = [f"wanted {tempo:.0f} bpm" if pd.notna(tempo) else "no tempo is noted"]
    said.append(f"{minutes:.1f} minutes" if pd.notna(minutes) else "no length is noted")
    sure = song.tempi[song.tempi.tempo_sure.fillna(value=False).astype(bool)]
    if len(sure):
        said.append(f"played at {sure.tempo_bpm.median():.1f} bpm in the median of {counted(len(sure), 'recording')}")
    return ", ".join(said).capitalize() + "."


def _by_heart(song: model.Song) -> str:
    """How far it is known by heart: claimed, or tested."""
    known, level = song.known, song.facts.get("readiness")
    claimed = f"readiness {level} is claimed, " if isinstance(level, str) else ""
    if not known.questions:
        return f"{claimed}{'and ' * bool(claimed)}nothing can be tested before its shape is written down.".capitalize()
    if known.last is None:
        return f"{claimed}never tested; its shape makes {counted(known.questions, 'question')}.".capitalize()
    said = f"Tested {known.last_known} of {known.last_asked} on {_day(known.last)}"
    if known.asked == known.questions == known.known:
        return f"{said}; by heart: all {known.questions} questions known the last time each was asked."
    return f"{said}; {known.known} of {counted(known.questions, 'question')} known the last time they were asked."


def _history(song: model.Song) -> pd.DataFrame:
    table = song.history.reset_index(names="at")
    table = table[table.position.notna()].assign(out=lambda t: t["at"].diff().sub(1).astype("Int64"))
    return table.iloc[::-1][["date", "city", "room", "position", "out", "remark", "mistakes"]]


def _run_words(song: model.Song) -> str:
    if not len(song.runs):
        return "No run is written down."
    ways = song.runs.groupby("way", sort=False).runs.sum()
    return "In all " + ", ".join(f"{counted(int(count), 'run')} ({way})" for way, count in ways.items()) + "."


def _mistakes(told: pd.DataFrame) -> str:
    count = int((told.what == "mistake").sum())
    return f"{counted(count, 'mistake')} written down." if count else "No mistake written down."
