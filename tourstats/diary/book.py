"""The diary as people use it: one name for everything that can be read from it, written into it, and taken back."""

from __future__ import annotations

import functools
import os
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Concatenate, ParamSpec, TypeVar

import pandas as pd

from tourstats.diary import notes, people, playing, set_out, sets, shows, songs, taken
from tourstats.diary.store import file
from tourstats.diary.store.changes import Store
from tourstats.diary.store.copies import before_migration
from tourstats.diary.store.place import must_be_there, where
from tourstats.diary.store.trouble import DiaryProblem
from tourstats.problems import TableProblem
from tourstats.tables import ALL, STAGES
from tourstats.tour import Tour

Given = ParamSpec("Given")
Back = TypeVar("Back")


@contextmanager
def opened(
    path: str | os.PathLike[str] | None = None, *, patience_s: float = file.PATIENCE_S, make: bool = True
) -> Iterator[Diary]:
    """Open the diary, made or brought up to date if need be, and close it at the end of the block.

    Parameters
    ----------
    path
        Where it is; by default as `where` finds it. Its folder is made if it is not there.
    patience_s
        How long a change waits, in seconds, while another notebook is writing.
    make
        Whether a diary begins where there is none; False for whoever only reads.

    Raises
    ------
    DiaryProblem
        If the file cannot be opened; its sentence says what to do, and the file is left as it is. A file that may
        only be read opens; `Diary.writable` is False then, and a change raises.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder, opened(f"{folder}/tour.sqlite") as diary:
    ...     _ = diary.add_song("Ferry")
    ...     show_id = diary.add_show("2031-03-04", "Brackwater", room="club")
    ...     diary.write_set(show_id, ["Ferry"], stage="played")
    ...     diary.plays()
       show_id  position   song  encore remark  segue
    0        1         1  Ferry   False    NaN  False

    """
    place = where(path)
    if not make:
        must_be_there(place)
    with file.connected(place, before_migration, patience_s) as (db, writable):
        yield Diary(Store(db, place, writable=writable))


@contextmanager
def begun(path: str | os.PathLike[str] | None = None) -> Iterator[Diary]:
    """Open the diary as `opened` does; one that would begin here begins only if something was written.

    Until then it is beside its place. What another program begins there meanwhile stays.

    Raises
    ------
    DiaryProblem
        If another program began a diary in the same place meanwhile; nothing of this one is written then.

    """
    place = where(path)
    if place.exists():
        with opened(place) as diary:
            yield diary
        return
    try:
        place.parent.mkdir(parents=True, exist_ok=True)
        aside = tempfile.TemporaryDirectory(dir=place.parent, prefix=".begins-", ignore_cleanup_errors=True)
    except OSError as error:
        raise DiaryProblem(
            f"The folder of the diary {place} cannot be made or written ({error.strerror}). Name another place with "
            "`--diary`."
        ) from error
    with aside as folder:
        part = Path(folder) / place.name
        with opened(part) as diary:
            yield diary
            written = diary.undoable() is not None
        if written:
            _put(part, place)


def _put(part: Path, place: Path) -> None:
    """Give a file its name, unless somebody else has it."""
    try:
        os.link(part, place)  # fails if the name is taken, however late
    except FileExistsError as error:
        raise DiaryProblem(
            f"Another program began the diary {place} in the meantime. Its diary stays, and nothing was added to it; "
            "do the same once more, and it is added."
        ) from error
    except OSError:  # a disk without links
        part.rename(place)


def _of(function: Callable[Concatenate[Store, Given], Back]) -> Callable[Concatenate[Diary, Given], Back]:
    """Let a function over the store be a method of the diary."""

    @functools.wraps(function)
    def method(self: Diary, /, *given: Given.args, **named: Given.kwargs) -> Back:
        return function(self.store, *given, **named)

    return method


def _table(name: str) -> Callable[[Diary], pd.DataFrame]:
    def method(self: Diary) -> pd.DataFrame:
        return self.store.frame(name)

    method.__name__, method.__doc__ = name, f"{ALL[name].__doc__} Columns as in `tables.{ALL[name].__name__}`."
    return method


class Diary:
    """What is remembered, open. Get one from `opened`.

    Each method is a function of the module that is named after its noun, over the store; each call is one change.
    """

    def __init__(self, store: Store) -> None:
        self.store = store
        self.path, self.writable = store.path, store.writable

    atomic, undo, undoable = _of(Store.atomic), _of(Store.undo), _of(Store.undoable)
    one_moment = _of(Store.one_moment)
    save_draft, draft, drop_draft = _of(Store.save_draft), _of(Store.draft), _of(Store.drop_draft)

    add_song, change_song, merge_songs = _of(songs.add_song), _of(songs.change_song), _of(songs.merge_songs)
    set_sections, write_shape, add_tested = _of(songs.set_sections), _of(songs.write_shape), _of(songs.add_tested)
    add_show, change_show, remove_show = _of(shows.add_show), _of(shows.change_show), _of(shows.remove_show)
    add_venue, change_venue = _of(shows.add_venue), _of(shows.change_venue)
    start_level = _of(shows.start_level)
    write_set, set_measured = _of(sets.write_set), _of(sets.set_measured)
    add_rehearsal, remove_rehearsal = _of(playing.add_rehearsal), _of(playing.remove_rehearsal)
    add_review, remove_review = _of(playing.add_review), _of(playing.remove_review)
    add_mistake, change_mistake = _of(playing.add_mistake), _of(playing.change_mistake)
    remove_mistake = _of(playing.remove_mistake)
    rest_was_clean, set_figure = _of(playing.rest_was_clean), _of(playing.set_figure)
    add_worked, remove_worked = _of(playing.add_worked), _of(playing.remove_worked)
    add_note, change_note, remove_note = _of(notes.add_note), _of(notes.change_note), _of(notes.remove_note)
    keep_thing, drop_thing, tick = _of(set_out.keep_thing), _of(set_out.drop_thing), _of(set_out.tick)
    tick_band = _of(set_out.tick_band)
    add_attendance, add_counts, forget = _of(people.add_attendance), _of(people.add_counts), _of(people.forget)
    take_tables = _of(taken.take_tables)

    legs, pasted, kept = _of(shows.legs), _of(sets.pasted), _of(sets.kept)
    songs, venues, shows, rehearsals = map(_table, ("songs", "venues", "shows", "rehearsals"))
    reviews, mistakes, worked = map(_table, ("reviews", "mistakes", "worked"))
    sections, tested, measured, notes = map(_table, ("sections", "tested", "measured", "notes"))
    attendance, counts, levels, settings = map(_table, ("attendance", "counts", "levels", "settings"))
    things, ticks = map(_table, ("things", "ticks"))

    def plays(self, stage: str = "played") -> pd.DataFrame:
        """Sets as in `tables.Plays`, "played" or "planned", by order of shows and position."""
        if stage not in STAGES:
            raise TableProblem(f"The `stage` of a set cannot be {stage!r}; it has to be one of {', '.join(STAGES)}.")
        return self.store.frame("plays", stage)

    def read(self) -> Tour:
        """Everything, as of one moment, whoever writes meanwhile."""
        with self.one_moment():
            frames = {table: self.store.frame(table) for table in ALL if table != "plays"}
            return Tour(plays=self.plays(), planned=self.plays("planned"), **frames)
