"""Corrections of what is in the diary: choose it, see its fields, save. Every change can be undone at once.

One page, one choice on top: a song, two titles that are one song, a show, a venue, a set that was played, an entry.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import ipywidgets as w
import pandas as pd

from tourstats.diary import Diary, read_set
from tourstats.diary.tonights_set import keep
from tourstats.pages.corrections.gaps import Gaps
from tourstats.pages.kit import links, tables_shown
from tourstats.pages.kit.fields import Fields
from tourstats.pages.kit.questions import Questions
from tourstats.pages.kit.room_kinds import Rooms
from tourstats.pages.kit.show_written import as_lines, named
from tourstats.pages.kit.undoing import changing, undo_button
from tourstats.pages.kit.widgets import InShort, Page, Said, button, choice, column, lines, row, whose_words
from tourstats.pages.workbook import Whose, whose
from tourstats.problems import Problem, counted
from tourstats.reading.doubles import likely_doubles
from tourstats.reading.settling import open_lines, settled
from tourstats.tables import described, in_order
from tourstats.tour import Tour

A_NEW_SONG = "a new song"
SONG = tuple(described("songs"))
SHOW = tuple(name for name in described("shows") if name != "show_id")
VENUE = tuple(described("venues"))
MISTAKE = tuple(name for name in described("mistakes") if name not in ("show_id", "song", "listening"))
NOTE = ("text", "room", "personal")
LAST_ENTRIES = 100
"""Entries that are offered, the latest first; a song chosen above finds the older ones."""
ALL_SONGS = "all songs"
CHOOSE = "choose …"
WORDS = "Run this page to correct what is in the diary."
EMPTY = "There is nothing to correct yet. Bring what you have on the page *Start*."


class Part:
    """One form of the page: what it works on is chosen on top; `fill` reads the diary again and hands it on."""

    name = ""
    empty = ""
    """What to say when there is nothing to choose."""

    def __init__(self, store: Whose, after: Callable[[Tour], None]) -> None:
        self.found, self.after = store, after
        self.said, self.nothing = Said(), w.HTML()
        self.tables = Tour.of()
        self.undo = undo_button(store, self.said, self.fill)
        self.all = w.VBox(self.children())
        self.box = w.VBox([self.nothing, self.all])

    def children(self) -> list[w.Widget]:
        """Fields and buttons, from top to bottom."""
        raise NotImplementedError

    def offer(self) -> list[tuple[str, Any]]:
        """What can be chosen."""
        raise NotImplementedError

    def offered(self, field: w.Dropdown, options: list[tuple[str, Any]]) -> None:
        """Put options into a choice, and keep what was chosen if it is still there."""
        before = field.value
        field.options = options
        values = [value for _, value in options]
        if values:
            field.value = before if before in values else values[0]

    def fill(self) -> None:
        """Read the diary again and offer what is in it."""
        self.tables = self.found.tour()
        there = self.offer()
        self.nothing.value = "" if there else f"<p>{self.empty}</p>"
        self.all.layout.display = "" if there else "none"
        self.offered(self.chosen, there)
        self.show(None)
        self.after(self.tables)

    def show(self, _: object) -> None:
        """Fill the fields with what is chosen."""

    def change(self, do: Callable[[Diary], object], words: str) -> None:
        """Make one change, unless this is the demo tour itself; then offer anew."""
        with changing(self.found) as diary:
            do(diary)
        self.fill()
        self.said.done(words)

    chosen: w.Dropdown


class RowPart(Part):
    """One row of a table with all its fields: a song, a show, a venue."""

    noun = table = key = ""
    columns: tuple[str, ...] = ()
    saved = '"{now}" is saved.'

    def children(self) -> list[w.Widget]:
        """Choice, fields, buttons."""
        self.chosen = choice(self.noun.capitalize(), [])
        self.chosen.observe(self.show, names="value")
        self.fields = Fields(self.table, self.columns)
        save = button(f"Save the {self.noun}", self.save, self.said, main=True)
        return [self.chosen, self.fields.box, row(save, *self.more_buttons(), self.undo), self.said]

    def more_buttons(self) -> list[w.Widget]:
        """What else can be done with it."""
        return []

    def show(self, _: object) -> None:
        """Fill the fields with what is chosen."""
        self.fields.fill(_row_of(getattr(self.tables, self.table), self.key, self.chosen.value))

    def save(self) -> None:
        """Write what was changed; the choice goes along with a new name."""
        values, was = self.fields.changed(), self.chosen.value
        if not values:
            raise Problem("Nothing was changed.")
        now = values.get(self.key, was)
        self.change(lambda diary: getattr(diary, f"change_{self.noun}")(was, **values), self.saved.format(now=now))
        self.chosen.value = now


class SongPart(RowPart):
    """A song: all that is known about it; or a new one."""

    name, noun, table, key, columns = "a song", "song", "songs", "song", SONG
    empty = "The repertoire has no song yet. Bring a list on the page Start."

    def offer(self) -> list[tuple[str, Any]]:
        """Titles by the alphabet, and a new one."""
        return [*_titles(self.tables), (A_NEW_SONG, A_NEW_SONG)]

    def save(self) -> None:
        """Write what was changed, or the new song."""
        if self.chosen.value != A_NEW_SONG:
            super().save()
            return
        values, title = self.fields.changed(), self.fields.fields["song"].value.strip()
        if not title:
            raise Problem("Give the new song a title.")
        self.change(lambda diary: diary.add_song(**{"song": title, **values}), f'"{title}" is in the repertoire.')
        self.chosen.value = next((name for _, name in self.offer() if name == title), self.chosen.value)


class MergePart(Part):
    """Two titles that are one song."""

    name = "one song under two titles"
    empty = "Choose two songs."

    def children(self) -> list[w.Widget]:
        """What may be one song, two choices, what goes where, the button."""
        self.likely = choice("May be one song", [])
        self.chosen, self.right = choice("Wrong title", []), choice("Right title", [])
        self.goes = w.HTML()
        self.likely.observe(self._take, names="value")
        for field in (self.chosen, self.right):
            field.observe(self.show, names="value")
        merge = button("Merge", self.save, self.said, main=True)
        return [self.likely, self.chosen, self.right, self.goes, row(merge, self.undo), self.said]

    def offer(self) -> list[tuple[str, Any]]:
        """Titles by the alphabet, if there are two; nothing is chosen, so that no press merges what nobody chose."""
        titles = _titles(self.tables)
        titles = [(CHOOSE, None), *titles] if len(titles) > 1 else []
        times = self.tables.plays.song.value_counts()
        pairs = [sorted(pair, key=lambda song: times.get(song, 0)) for pair in likely_doubles(self.tables.songs.song)]
        offered = [(f"{wrong} → {right}", (wrong, right)) for wrong, right in pairs]
        self.likely.options = [(CHOOSE, None), *offered]
        self.likely.layout.display = "" if offered else "none"
        self.offered(self.right, titles)
        return titles

    def show(self, _: object) -> None:
        """Say how much would go to the right title."""
        wrong = self.chosen.value
        parts = [counted(int((table.song == wrong).sum()), name) for name, table in (
            ("performance", self.tables.plays), ("run", self.tables.rehearsals), ("review", self.tables.reviews),
            ("mistake", self.tables.mistakes), ("note", self.tables.notes))]  # fmt: skip
        self.goes.value = (
            f"<p>Moves with it: {', '.join(parts)}. The wrong title stays as another name of the song.</p>"
            if wrong is not None
            else ""
        )

    def save(self) -> None:
        """Merge; afterwards nothing is chosen, so that the button does nothing when it is pressed again."""
        wrong, right = self.chosen.value, self.right.value
        if wrong is None or right is None:
            raise Problem("Choose the wrong title and the right one first.")
        self.change(lambda diary: diary.merge_songs(wrong, right), f'"{wrong}" is "{right}" now.')
        self.chosen.value = self.right.value = None

    def _take(self, _: object) -> None:
        """Take the two titles of a pair, the one that was played more as the right one."""
        if self.likely.value is not None:
            self.chosen.value, self.right.value = self.likely.value


class ShowPart(RowPart):
    """A show: day, place, room, leg; or taken out."""

    name, noun, table, key, columns = "a show", "show", "shows", "show_id", SHOW
    empty = "There is no show yet. Write down a set first."
    saved = "The show is saved."

    def more_buttons(self) -> list[w.Widget]:
        """Delete it."""
        return [button("Delete the show", self.remove, self.said)]

    def offer(self) -> list[tuple[str, Any]]:
        """Shows, the latest first."""
        return _shows(self.tables)

    def remove(self) -> None:
        """Take the show out with all that hangs on it."""
        show_id, words = self.chosen.value, self.chosen.label
        said = f"Deleted with its sets, reviews and mistakes: {words}. Undo brings all of it back."
        self.change(lambda diary: diary.remove_show(show_id), said)


class VenuePart(RowPart):
    """A venue: name, town, kind of venue; its shows follow."""

    name, noun, table, key, columns = "a venue", "venue", "venues", "venue", VENUE
    empty = "There is no venue yet; they come with the shows."
    saved = '"{now}" is saved; its shows follow.'

    def offer(self) -> list[tuple[str, Any]]:
        """Venues by the alphabet."""
        return [(_named_venue(venue), venue.venue) for venue in self.tables.venues.sort_values("venue").itertuples()]


class SetPart(Part):
    """A set, corrected after the fact."""

    name = "a set"
    empty = "There is no show yet. Write down a set first."

    def children(self) -> list[w.Widget]:
        """Choice, the set as text, questions, buttons."""
        self.questions = Questions(lambda: None)
        self.chosen = choice("Show", [])
        self.stage = choice("The set that was", ["played", "planned"])
        for field in (self.chosen, self.stage):
            field.observe(self.show, names="value")
        self.typed = lines("Set", 14)
        self.typed.observe(lambda _: self.questions.forget(), names="value")
        hint = w.HTML("<p>A song a line, in order; a line ENCORE before the encore.</p>")
        buttons = row(button("Save the set", self.save, self.said, main=True), self.undo)
        return [self.chosen, self.stage, hint, self.typed, self.questions.box, buttons, self.said]

    def offer(self) -> list[tuple[str, Any]]:
        """Shows, the latest first."""
        return _shows(self.tables)

    def show(self, _: object) -> None:
        """Put the set into the field, a line a song."""
        plays = self.tables.plays if self.stage.value == "played" else self.tables.planned
        songs = plays[plays.show_id == self.chosen.value].sort_values("position")
        self.typed.value = "\n".join(as_lines(songs))

    def save(self) -> None:
        """Read the text, ask what is open, and write the set."""
        lines = read_set(self.typed.value, self.tables.songs)
        given = {int(key.removeprefix("line ")): answer for key, answer in self.questions.answers().items()}
        open_ = open_lines(lines, given)
        self.questions.ask(_asked(open_))
        if len(open_):
            raise Problem("Not saved yet: settle the lines above, then save again.")
        ready, show_id, stage = settled(lines, given), self.chosen.value, self.stage.value

        def write(diary: Diary) -> None:
            with diary.atomic(f"the correction of the {stage} set of {self.chosen.label}"):
                keep(diary, ready, show_id, stage)

        stay = self._reviewed_but_gone(ready.titles) if stage == "played" else ""
        self.change(write, f"The {stage} set is saved: {counted(len(ready.titles), 'song')}.{stay}")
        self.questions.forget()

    def _reviewed_but_gone(self, titles: list[str]) -> str:
        """Say which reviews speak of songs that the set no longer has."""
        reviews = self.tables.reviews[self.tables.reviews.show_id == self.chosen.value]
        gone = [song for song in reviews.song.unique() if song not in titles]
        words = ", ".join(f'"{song}"' for song in gone)
        return f" Reviews of {words} stay; take them out under an entry if they are wrong." if gone else ""


class EntryPart(Part):
    """A mistake, note, rehearsal or review: changed, or taken out."""

    name = "an entry"
    empty = "There is no such entry yet."
    kinds = ("a mistake", "a note", "a rehearsal", "a review")

    def children(self) -> list[w.Widget]:
        """Choices, fields, buttons."""
        self.kind = choice("Entry", self.kinds)
        self.song = choice("Song", [ALL_SONGS])
        self.chosen = choice("Which", [])
        self.fields = {"a mistake": Fields("mistakes", MISTAKE), "a note": Fields("notes", NOTE)}
        self.save_button = button("Save the entry", self.save, self.said, main=True)
        for field in (self.kind, self.song):
            field.observe(lambda _: self.offer_entries(), names="value")
        self.chosen.observe(self.show, names="value")
        buttons = row(self.save_button, button("Take it out", self.remove, self.said), self.undo)
        return [self.kind, self.song, self.chosen, *(fields.box for fields in self.fields.values()), buttons, self.said]

    def fill(self) -> None:
        """Read the diary again; the choices of kind and song stay to be used, whatever there is."""
        self.tables = self.found.tour()
        self.offered(self.song, [(ALL_SONGS, ALL_SONGS), *_titles(self.tables)])
        self.offer_entries()

    def offer_entries(self) -> None:
        """Offer the entries of that kind and song, the latest first."""
        there = self.offer()
        self.nothing.value = "" if there else f"<p>{self.empty}</p>"
        self.offered(self.chosen, there)
        self.show(None)

    def offer(self) -> list[tuple[str, Any]]:
        """Entries with their numbers."""
        rows = _entries(self.tables, self.kind.value)
        if self.song.value != ALL_SONGS:
            rows = rows[rows.song == self.song.value]
        return list(zip(rows.words.iloc[::-1][:LAST_ENTRIES], rows.key.iloc[::-1][:LAST_ENTRIES], strict=True))

    def show(self, _: object) -> None:
        """Fill the fields of a mistake or a note; the others can only be taken out."""
        kind = self.kind.value
        for name, fields in self.fields.items():
            wanted = name == kind and self.chosen.value is not None
            fields.box.layout.display = "" if wanted else "none"
            if wanted:
                frame, key = (
                    (self.tables.mistakes, "mistake_id") if kind == "a mistake" else (self.tables.notes, "note_id")
                )
                fields.fill(_row_of(frame, key, self.chosen.value))
        self.save_button.layout.display = "" if kind in self.fields else "none"

    def save(self) -> None:
        """Write what was changed of a mistake or a note."""
        key, kind = self._key(), self.kind.value.removeprefix("a ")
        values = self.fields[self.kind.value].changed()
        if not values:
            raise Problem("Nothing was changed.")
        self.change(lambda diary: getattr(diary, f"change_{kind}")(key, **values), f"The {kind} is saved.")

    def remove(self) -> None:
        """Take the entry out."""
        key, kind, words = self._key(), self.kind.value.removeprefix("a "), self.chosen.label
        what = {"show_id": key[0], "songs": key[1], "listening": key[2]} if kind == "review" else {f"{kind}_id": key}
        self.change(lambda diary: getattr(diary, f"remove_{kind}")(**what), f"Taken out: {words}. Undo brings it back.")

    def _key(self) -> Any:  # noqa: ANN401  # a number, or show, song and listening
        if self.chosen.value is None:
            raise Problem("Choose an entry first.")
        return self.chosen.value


PARTS: tuple[type[Part], ...] = (SongPart, MergePart, SetPart, ShowPart, VenuePart, EntryPart)
TABLES: dict[str, type[Gaps | Rooms]] = {
    "what is missing: tempi, lengths, who counts in": Gaps,
    "the kind of venues that have none": Rooms,
}
"""Forms that list everything that lacks something."""
MISSING = "missing"
"""What the page is asked behind its address to open with the first of them."""


class PutRight:
    """The page; `short` and `form` are what a notebook shows of it, `part` the form that is open."""

    def __init__(self, path: str | Path | None = None) -> None:
        self.found = whose(path)
        self.short = InShort("put-right")
        self.parts: dict[str, Part] = {}
        self.what = choice("Correct", [*(part.name for part in PARTS), *TABLES])
        if links.asked(MISSING):
            self.what.value = next(iter(TABLES))
        self.place = w.VBox([])
        self.what.observe(self._open, names="value")
        self._open(None)
        self.box = column(whose_words(self.found), self.what, self.place, name="put-right")
        self.form = Page(self.box, WORDS)

    @property
    def part(self) -> Part:
        """The form that is open; made when it is first wanted."""
        name = self.what.value
        if name not in self.parts:
            made = next(part for part in PARTS if part.name == name)
            self.parts[name] = made(self.found, self._say)
        return self.parts[name]

    def _say(self, tables: Tour) -> None:
        self.short.say(in_short(tables))

    def _open(self, _: object) -> None:
        """Show the form of that name with what the diary holds now."""
        if self.what.value in TABLES:
            self.place.children = (TABLES[self.what.value](self.found, self._say).box,)
            return
        self.part.said.clear()
        self.part.fill()
        self.place.children = (self.part.box,)


def in_short(tables: Tour) -> str:
    """How much there is, and what looks as if it wanted putting right.

    Examples
    --------
    >>> in_short(Tour.of())
    'There is nothing to correct yet. Bring what you have on the page *Start*.'

    """
    if not len(tables.songs) and not len(tables.shows):
        return EMPTY
    songs = tables.songs[tables.songs.status != "retired"]
    missing = {"tempo": songs.tempo_bpm, "length": songs.minutes, "person who starts them": songs.starts_by}
    lacks = [f"{int(cells.isna().sum())} have no {name}" for name, cells in missing.items() if cells.isna().any()]
    without = int(tables.shows.room.isna().sum())
    said = [f"**{counted(len(tables.songs), 'song')} and {counted(len(tables.shows), 'show')}** are in the diary."]
    if lacks:
        said.append(f"Of the songs that may be played, {', '.join(lacks)}.")
    if without:
        said.append(f"{without} show{'s have' if without > 1 else ' has'} no kind of venue.")
    return " ".join(said)


def _titles(tables: Tour) -> list[tuple[str, Any]]:
    return [(title, title) for title in sorted(tables.songs.song, key=str.casefold)]


def _shows(tables: Tour) -> list[tuple[str, Any]]:
    return [(named(show), show.show_id) for show in in_order(tables.shows).iloc[::-1].itertuples()]


def _named_venue(venue: pd.Series) -> str:
    return f"{venue.venue} ({venue.city})" if isinstance(venue.city, str) else str(venue.venue)


def _row_of(frame: pd.DataFrame, key: str, value: object) -> dict[str, Any] | None:
    found = frame[frame[key] == value] if len(frame) else frame
    return {str(name): cell for name, cell in found.iloc[0].to_dict().items()} if len(found) else None


def _asked(lines: pd.DataFrame) -> pd.DataFrame:
    """Questions about the lines of a set that are open."""
    return pd.DataFrame(
        {
            "key": [f"line {position}" for position in lines.position],
            "row": lines.line.tolist(),
            "value": lines.as_typed.tolist(),
            "column": "",
            "problem": [f'"{typed}" may not be in the repertoire.' for typed in lines.as_typed],
            "todo": "Choose the title, a new song, or leave it out.",
            "candidates": lines.candidates.tolist(),
            "blocking": True,
        }
    )


def _entries(tables: Tour, kind: str) -> pd.DataFrame:
    """Entries of one kind in words, the latest last: key, song, words."""
    days = tables.shows.set_index("show_id").date
    told: list[tuple[Any, Any, tuple[Any, ...]]]
    if kind == "a mistake":
        told = [
            (each, days[each.show_id], (each.kind, each.section, each.remark)) for each in tables.mistakes.itertuples()
        ]
    elif kind == "a note":
        told = [(each, each.date, (each.text,)) for each in tables.notes.itertuples()]
    elif kind == "a rehearsal":
        told = [(each, each.date, (each.way, counted(each.runs, "run"))) for each in tables.rehearsals.itertuples()]
    else:
        heard = ("reviewed", "listened to again")
        told = [(each, days[each.show_id], (heard[each.listening > 1],)) for each in tables.reviews.itertuples()]
    number = f"{kind.removeprefix('a ')}_id"
    rows = [
        (
            (each.show_id, each.song, int(each.listening)) if kind == "a review" else getattr(each, number),
            each.song,
            _words(day, each.song, *parts),
        )
        for each, day, parts in told
    ]
    return pd.DataFrame(rows, columns=["key", "song", "words"]).astype({"key": object})


def _words(day: object, *parts: object) -> str:
    return ", ".join([tables_shown.cell(day), *(str(part) for part in parts if isinstance(part, str) and part)])[:120]
