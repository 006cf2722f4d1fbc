"""The diary: one SQLite file, read as tables, changed by small whole changes.

Modules, from the file up: `place` (where it lies), `file` (opening it safely), `migrations` (its tables), `ledger`
(changes and undo), `finding`, `adding`, `editing`, `taking` (what the methods do), `frames` (reading),
`backup`, `export`.
"""

from __future__ import annotations

import base64
import json
import os
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from datetime import datetime
from typing import Any

import pandas as pd

from tourstats.diary import file, frames
from tourstats.diary.backup import before_migration
from tourstats.diary.place import where
from tourstats.diary.taking import Taking
from tourstats.diary.trouble import explained
from tourstats.problems import TableProblem
from tourstats.tables import ALL, STAGES
from tourstats.tour import Tour


@contextmanager
def opened(path: str | os.PathLike[str] | None = None, *, patience_s: float = file.PATIENCE_S) -> Iterator[Diary]:
    """Open the diary, made or brought up to date if need be, and close it at the end of the block.

    Parameters
    ----------
    path
        Where it lies; by default as `where` finds it. Its folder is made if it is not there.
    patience_s
        How long a change waits, in seconds, while another notebook is writing.

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
    with file.connected(place, before_migration, patience_s) as (db, writable):
        yield Diary(db, place, writable=writable)


class Diary(Taking):
    """What is remembered, open. Get one from `opened`."""

    def read(self) -> Tour:
        """Everything, as of one moment, whoever writes meanwhile."""
        with self.one_moment():
            frames = {table: self._frame(table) for table in ALL if table != "plays"}
            return Tour(plays=self.plays(), planned=self.plays("planned"), **frames)

    def songs(self) -> pd.DataFrame:
        """Repertoire as in `tables.Songs`, in the order in which songs were added."""
        return self._frame("songs")

    def venues(self) -> pd.DataFrame:
        """Places as in `tables.Venues`."""
        return self._frame("venues")

    def shows(self) -> pd.DataFrame:
        """Shows as in `tables.Shows`, in their order; a room that was not said is the venue's."""
        return self._frame("shows")

    def legs(self) -> pd.DataFrame:
        """Runs of shows.

        Returns
        -------
        DataFrame
            One row per leg, in the order of first dates, with columns

            leg : str
                Its name.
            first, last : datetime
                Days of its first and last show.
            shows, played : int
                How many shows it has, and how many of them have a played set.

        """
        with self.one_moment():
            shows, plays = self.shows(), self.plays()
        shows = shows.assign(played=shows.show_id.isin(plays.show_id))
        legs = shows.groupby("leg", sort=False).agg(
            first=("date", "min"), last=("date", "max"), shows=("date", "size"), played=("played", "sum")
        )
        return legs.reset_index().astype({"shows": "int64", "played": "int64"})

    def plays(self, stage: str = "played") -> pd.DataFrame:
        """Sets as in `tables.Plays`, "played" or "planned", by order of shows and position."""
        if stage not in STAGES:
            raise TableProblem(f"The `stage` of a set cannot be {stage!r}; it has to be one of {', '.join(STAGES)}.")
        return self._frame("plays", (stage,))

    def rehearsals(self) -> pd.DataFrame:
        """Rehearsals as in `tables.Rehearsals`, by day, and each row's number `rehearsal_id`."""
        return self._frame("rehearsals")

    def reviews(self) -> pd.DataFrame:
        """Reviews as in `tables.Reviews`, by order of shows."""
        return self._frame("reviews")

    def mistakes(self) -> pd.DataFrame:
        """Mistakes as in `tables.Mistakes`, by order of shows, and each row's number `mistake_id`."""
        return self._frame("mistakes")

    def worked(self) -> pd.DataFrame:
        """What worked as in `tables.Worked`, by order of shows, and each row's number `worked_id`."""
        return self._frame("worked")

    def sections(self) -> pd.DataFrame:
        """Shapes of songs as in `tables.Sections`, by song and position."""
        return self._frame("sections")

    def measured(self) -> pd.DataFrame:
        """What recordings say as in `tables.Measured`, by order of shows and position."""
        return self._frame("measured")

    def kept(self, songs: Sequence[str] | None = None) -> pd.DataFrame:
        """What is kept of recorded performances, by order of shows and position.

        Parameters
        ----------
        songs
            Titles; all of them if not said.

        Returns
        -------
        DataFrame
            show_id, position, song, and `kept`: bytes as `tourstats.recording` packs them.

        """
        sql = (
            "select m.show_id, m.position, g.song, m.kept from measured m join shows s on s.show_id = m.show_id "
            "join plays p on p.show_id = m.show_id and p.position = m.position and p.stage = 'played' "
            "join songs g on g.song_id = p.song_id where m.kept is not null "
            "order by s.date, s.number, s.show_id, m.position"
        )
        rows = [
            (row["show_id"], row["position"], row["song"], base64.b64decode(row["kept"]))
            for row in self._query(sql)
            if songs is None or row["song"] in songs
        ]
        return pd.DataFrame(rows, columns=["show_id", "position", "song", "kept"])

    def notes(self) -> pd.DataFrame:
        """Notes as in `tables.Notes`, in the order in which they were added, and each row's number `note_id`."""
        return self._frame("notes")

    def attendance(self) -> pd.DataFrame:
        """Who was where as in `tables.Attendance`; people are keyed hashes."""
        return self._frame("attendance")

    def counts(self) -> pd.DataFrame:
        """Counts of people who came back, as in `tables.Counts`."""
        return self._frame("counts")

    def levels(self) -> pd.DataFrame:
        """Shows that start a new level, as in `tables.Levels`."""
        return self._frame("levels")

    def pasted(self) -> pd.DataFrame:
        """Every text that a set was pasted from.

        Returns
        -------
        DataFrame
            One row per text, by order of shows and then time, with columns

            show_id : int
                Number of the show.
            stage : str
                "planned" or "played".
            text : str
                As it came.
            pasted_at : str
                When, as ISO text to the second, by the clock of this machine.

        """
        return self._frame("pasted")

    @contextmanager
    def one_moment(self) -> Iterator[None]:
        """Read several tables as of one moment; inside a change they are read as they stand in it."""
        if self._db.in_transaction:
            yield
            return
        self._query("begin")
        try:
            yield
        finally:
            if self._db.in_transaction:
                self._db.execute("rollback")

    def save_draft(self, key: str, data: Mapping[str, Any]) -> None:
        """Keep what was typed but not saved, under a name; it replaces what was there and is no part of `undo`."""
        now = datetime.now().isoformat(timespec="seconds")  # noqa: DTZ005  # the clock on the wall
        sql = (
            "insert into drafts (key, data, saved_at) values (?, ?, ?) "
            "on conflict (key) do update set data = excluded.data, saved_at = excluded.saved_at"
        )
        self._aside(sql, (key, json.dumps(dict(data)), now))

    def draft(self, key: str) -> dict[str, Any] | None:
        """Return what was typed but not saved under this name, or None."""
        row = self._query("select data from drafts where key = ?", (key,)).fetchone()
        return None if row is None else dict(json.loads(row["data"]))

    def drop_draft(self, key: str) -> None:
        """Forget what was typed under this name; harmless if there is nothing."""
        self._aside("delete from drafts where key = ?", (key,))

    def _aside(self, sql: str, values: tuple[Any, ...]) -> None:
        """Write something that is no change of the diary."""
        if self._depth:
            self._write(sql, values)
        else:
            with self._writing():
                self._db.execute(sql, values)

    def _frame(self, table: str, values: tuple[Any, ...] = ()) -> pd.DataFrame:
        with explained(self.path):
            return frames.read(self._db, table, values)
