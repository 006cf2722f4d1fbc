"""The demo tour as the files a person could have typed: no two of them in quite the same form."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from itertools import zip_longest
from pathlib import Path
from unicodedata import combining, normalize

from tourstats.demo import band
from tourstats.demo.process import SEED, Tour, tour
from tourstats.demo.scenario import LEGS, Show, Song

MONTHS = (
    "January", "February", "March", "April", "May", "June",
    "July", "August", "September", "October", "November", "December",
)  # fmt: skip
SLOW_BPM = 90
KEY = ("date", "city", "number")
"""What names a show in a file: its day, its town, and which show of that day it was there."""


MEASURED = (
    *("position", "start_s", "end_s", "sure", "tempo_bpm", "drift", "unsteadiness", "tempo_sure", "loudness", "why"),
)


def files(seed: int = SEED) -> dict[str, str]:
    """Every file of the demo tour, by name.

    Examples
    --------
    >>> print(files()["venues.csv"].splitlines()[0])
    venue,city,room

    """
    the_tour = tour(seed)
    first, second, third = ([show for show in the_tour.shows if show.leg == leg.name] for leg in LEGS)
    playing = the_tour.playing
    by_id = {show.show_id: show for show in the_tour.shows}
    return {
        "repertoire.csv": _repertoire(the_tour.songs),
        "things.csv": _things(),
        "venues.csv": _venues(the_tour.shows),
        "shows.csv": _shows(the_tour.shows),
        "sets_leg1.csv": _grid(first),
        "sets_leg2.csv": _long(second),
        "sets_leg3.txt": _blocks(third[:-1]),
        "handouts_leg3.txt": _handouts(third[:-1]),
        "rehearsals.csv": _table(("date", "song", "way", "runs", "minutes"), playing.rehearsals),
        "reviews.csv": _table((*KEY, "song", "listening"), (_keyed(row, by_id) for row in playing.reviews)),
        "mistakes.csv": _table(
            (*KEY, "song", "kind", "section", "bar", "severity", "cause", "said_by", "remark", "listening"),
            (_keyed(row, by_id) for row in playing.mistakes),
        ),
        "notes.csv": _table(
            ("date", "about", "song", "next_song", "room", "city", "number", "text", "personal"),
            (_note(row) for row in the_tour.notes),
        ),
        "attendance.csv": _table(("person", "date", "number"), (_at(row) for row in the_tour.attendance)),
        "counts.csv": _table(
            (*KEY, "people", "earlier_date", "earlier_city", "earlier_number", "returning"),
            (_count(row) for row in the_tour.counts),
        ),
        "measured.csv": _table(
            (*KEY, *MEASURED),
            (_keyed(row, by_id) for row in the_tour.measured),
        ),
        "shapes.csv": _table(("song", "position", "name", "bars", "feel", "leads", "cue", "hits"), the_tour.shapes),
        "tested.csv": _table(("song", "date", "asked", "known"), the_tour.tested),
        "worked.csv": _table((*KEY, "song", "section", "remark"), (_keyed(row, by_id) for row in the_tour.worked)),
        "tonight.txt": _tonight(the_tour),
    }


def _table(columns: Sequence[str], rows: Iterable[Mapping[str, object]], delimiter: str = ",") -> str:
    """Write rows as CSV, an empty cell for what is missing."""
    text = io.StringIO()
    writer = csv.DictWriter(text, columns, extrasaction="ignore", delimiter=delimiter, lineterminator="\n")
    writer.writeheader()
    writer.writerows({name: _cell(row.get(name)) for name in columns} for row in rows)
    return text.getvalue()


def _cell(value: object) -> object:
    if isinstance(value, bool):
        return "yes" if value else ""
    return "" if value is None else value


def _at(row: dict[str, object]) -> dict[str, object]:
    """The row with the day, town and number of its show."""
    show = row["show"]
    assert isinstance(show, Show)  # noqa: S101  # for the type checker
    return {**row, "date": show.date, "city": show.city, "number": show.number}


def _keyed(row: dict[str, object], by_id: dict[int, Show]) -> dict[str, object]:
    return _at({**row, "show": by_id[int(str(row["show_id"]))]})


def _note(row: dict[str, object]) -> dict[str, object]:
    return _at(row) if "show" in row else row


def _count(row: dict[str, object]) -> dict[str, object]:
    earlier = _at({"show": row["earlier"]})
    return {**_at(row), **{f"earlier_{name}": earlier[name] for name in KEY}}


def _repertoire(songs: Iterable[Song]) -> str:
    rows = [
        {
            "song": song.title,
            "aliases": song.aliases,
            "status": "learning" if song.learning else "retired" if song.retired else "active",
            "since": song.since,
            "new_release": song.new_release,
            "tempo_bpm": song.tempo,
            "minutes": song.minutes,
            "starts_by": song.starts_by,
            "count_in": _count_in(song),
            "speech": band.SPEECHES[at % len(band.SPEECHES)],
            "gear": song.gear,
            "samples": song.samples,
            "track": song.track,
            "track_by": "Teo, switch" if song.track else "drums, pad" if song.samples else "",
            "track_fails": band.IF_THE_TRACK_FAILS if song.track else "",
            "readiness": song.readiness,
            "watch": song.watch,
        }
        for at, song in enumerate(songs)
    ]
    return _table(tuple(rows[0]), rows)


def _count_in(song: Song) -> str:
    """How a song is started: to a click where it has a track, slowly on a nod, else with sticks by who starts it."""
    if song.track:
        return "click, 2 bars"
    if song.tempo < SLOW_BPM:
        return "a breath and a nod"
    return "2 bars, sticks" if song.starts_by == "drums" else "1 bar, nod"


def _things() -> str:
    columns = ("thing", "who", "spare", "remark")
    return _table(columns, (dict(zip(columns, thing, strict=True)) for thing in band.THINGS))


def _venues(shows: Iterable[Show]) -> str:
    on_tour = {show.venue for show in shows}
    rows = [{"venue": venue, "city": city, "room": room} for city, venue, room, _ in band.VENUES if venue in on_tour]
    return _table(("venue", "city", "room"), rows)


def _shows(shows: Iterable[Show]) -> str:
    columns = ("date", "number", "leg", "venue", "city", "room", "set_minutes", "recording")
    reviewed_from = "weirhouse/{:%m%d}-{}.wav"
    rows = (
        {
            **{name: getattr(show, name) for name in columns[:-1]},
            "recording": reviewed_from.format(show.date, show.number) if show.played else "",
        }
        for show in shows
    )
    return _table(columns, rows)


def _day(day: date) -> str:
    return f"{day.day} {MONTHS[day.month - 1]} {day.year}"


def _heading(show: Show, shows: Sequence[Show]) -> str:
    """The day and the town, and which show of that day it was if there were two."""
    twice = any(other.date == show.date and other is not show for other in shows)
    return f"{_day(show.date)}, {show.city}" + (f", show {show.number}" if twice else "")


def _grid(shows: Sequence[Show]) -> str:
    """A column a show, as one keeps it in a spreadsheet; the encore under a line of its own."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow([_heading(show, shows) for show in shows])
    columns = [[*show.played[: -show.encore], "Encore", *show.played[-show.encore :]] for show in shows]
    writer.writerows(zip_longest(*columns, fillvalue=""))
    return text.getvalue()


def _long(shows: Iterable[Show]) -> str:
    """A row a song, with semicolons and dates the German way, as another kind of spreadsheet writes them."""
    rows = (
        {
            "Date": f"{show.date:%d.%m.%Y}",
            "Town": show.city,
            "No": place + 1,
            "Song": title,
            "Encore": "x" if place >= len(show.played) - show.encore else "",
        }
        for show in shows
        for place, title in enumerate(show.played)
    )
    return _table(("Date", "Town", "No", "Song", "Encore"), rows, delimiter=";")


def _block(show: Show, titles: Sequence[str], encore: int, shows: Sequence[Show]) -> str:
    main = len(titles) - encore
    lines = [f"{place}. {title}" for place, title in enumerate(titles, start=1)]
    return "\n".join([_heading(show, shows), *lines[:main], "Encore", *lines[main:]])


def _blocks(shows: Sequence[Show]) -> str:
    """A block a show, as one keeps it in a notes file on the phone."""
    return "\n\n".join(_block(show, show.played, show.encore, shows) for show in shows) + "\n"


def _handouts(shows: Sequence[Show]) -> str:
    """What had been handed out before those shows."""
    return "\n\n".join(_block(show, show.planned, show.planned_encore, shows) for show in shows) + "\n"


def _tonight(the_tour: Tour) -> str:
    """Tonight's set, typed in a hurry off the dressing-room wall; every line can be read without a question."""
    show = the_tour.shows[-1]
    by_title = {song.title: song for song in the_tour.songs}
    main = len(show.planned) - show.planned_encore
    lines = [band.BAND.upper(), f"{_day(show.date)}, {show.city}, {show.venue}", ""]
    for place, title in enumerate(show.planned):
        if place == main:
            lines += ["", "ENCORE"]
        lines.append(f"{place + 1}. {_hurried(place, by_title[title], list(by_title))}")
    return "\n".join(lines) + "\n"


def _hurried(place: int, song: Song, titles: Sequence[str]) -> str:
    """One line of the handout, as it comes from the thumb of somebody who knows the songs."""
    way = _WAYS[place % len(_WAYS)]
    initials = _initials(song.title)
    if way == "initials" and len(initials) >= 3 and [_initials(title) for title in titles].count(initials) == 1:  # noqa: PLR2004  # two letters are no initials
        return initials
    if way == "slip" and song.title.isascii() and len(song.title) > 12:  # noqa: PLR2004  # long enough to be known still
        at = len(song.title) - 3
        return song.title[:at] + song.title[at + 1] + song.title[at] + song.title[at + 2 :]
    plain = _without_accents(song.title)
    return {
        "loud": plain.upper(),
        "low": plain.lower(),
        "length": f"{plain}  {int(song.minutes)}:{round(song.minutes % 1 * 60):02d}",
        "other name": song.aliases.split(";")[0] or plain,
        "remark": f"{plain} (short intro)",
        "straight on": f"{plain} >",
    }.get(way, plain)


_WAYS = ("", "loud", "low", "slip", "length", "initials", "remark", "", "other name", "straight on", "slip", "initials")


def _initials(title: str) -> str:
    return "".join(word[0] for word in title.replace("-", " ").split() if word[0].isalnum()).upper()


def _without_accents(title: str) -> str:
    """Latin letters without their accents; other scripts as they are."""
    bare = "".join(letter for letter in normalize("NFD", title) if not combining(letter))
    return bare if bare.isascii() else title


def write_files(folder: Path, seed: int = SEED) -> None:
    """Write the files of the demo tour into a folder, which is made if it is not there."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, text in files(seed).items():
        (folder / name).write_text(text, encoding="utf-8", newline="\n")
