"""What is changed or taken out of the diary: each call is one change, and `undo` brings it back whole."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from tourstats import tables
from tourstats.diary import people as persons
from tourstats.diary.adding import Adding, more_runs
from tourstats.diary.backup import forget_in_copies, forget_rows
from tourstats.diary.layout import KEYS
from tourstats.diary.values import SINGULAR, clean_text, cleaned, folded
from tourstats.problems import Problem

Row = dict[str, Any]


class Editing(Adding):
    """Songs, shows, venues, mistakes, notes, rehearsals and reviews, corrected."""

    def change_song(self, song: str, /, **columns: object) -> None:
        """Change columns of a song; `song="…"` as a column renames it, and its history stays with it.

        Parameters
        ----------
        song
            The title it has now.
        **columns
            Columns of `tables.Songs` and what they should hold; None empties one.

        Examples
        --------
        >>> import tempfile
        >>> from tourstats.diary import opened
        >>> with tempfile.TemporaryDirectory() as folder, opened(f"{folder}/tour.sqlite") as diary:
        ...     diary.add_song("Fery")
        ...     diary.change_song("Fery", song="Ferry", tempo_bpm=96)
        ...     diary.songs()[["song", "tempo_bpm"]].to_dict("records")
        'Fery'
        [{'song': 'Ferry', 'tempo_bpm': 96.0}]

        """
        row = cleaned("songs", columns)
        with self.atomic(f'the change to the song "{song}"'):
            song_id = self._song(song)
            if "song" in row:
                self._title_is_free(row["song"], but=song_id)
            self._update("songs", song_id, row)

    def merge_songs(self, wrong: str, right: str) -> None:
        """Make one song of two: what was written down for `wrong` goes to `right`, and its name with it."""
        with self.atomic(f'the merge of "{wrong}" into "{right}"'):
            old, new = self._song(wrong), self._song(right)
            if old == new:
                raise Problem(f'"{wrong}" and "{right}" are one song already. Name two songs.')
            for table, column in (("plays", "song_id"), ("mistakes", "song_id"), ("worked", "song_id"),
                                  ("notes", "song_id"), ("notes", "next_song_id")):  # fmt: skip
                self._write(f"update {table} set {column} = ? where {column} = ?", (new, old))
            self._merge_rehearsals(old, new)
            self._write("update or ignore reviews set song_id = ? where song_id = ?", (new, old))
            self._write("delete from reviews where song_id = ?", (old,))
            if not self._query("select 1 from sections where song_id = ?", (new,)).fetchone():
                self._write("update sections set song_id = ? where song_id = ?", (new, old))
            self._write("delete from sections where song_id = ?", (old,))
            self._merge_names(old, new)
            self._write("delete from songs where song_id = ?", (old,))

    def change_show(self, show_id: object, /, **columns: object) -> None:
        """Change columns of a show (those of `add_show`); another venue gives the room when it is not said."""
        row = cleaned("shows", columns)
        if "show_id" in row:
            raise Problem("The number of a show stays as it is. Change its date, town or number on the day instead.")
        with self.atomic() as change:
            key = self._show(show_id)
            change.words = f"the change to the show {self._called(key)}"
            there = dict(self._query("select * from shows where show_id = ?", (key,)).fetchone())
            self._move(there, row)
            self._show_is_free({**there, **row}, but=key)
            self._update("shows", key, row)

    def remove_show(self, show_id: object) -> None:
        """Take a show out with its sets, reviews, mistakes, attendance and counts; notes on songs stay."""
        with self.atomic() as change:
            key = self._show(show_id)
            change.words = f"the removal of the show {self._called(key)}"
            self._write("delete from notes where show_id = ? and about = 'show'", (key,))
            self._write("delete from shows where show_id = ?", (key,))

    def change_venue(self, venue: str, /, **columns: object) -> None:
        """Change columns of a venue; shows there that had its town or its room follow."""
        row = cleaned("venues", columns)
        with self.atomic(f'the change to the venue "{venue}"'):
            there = self._known_venue(venue)
            rows = self._query("select * from venues").fetchall()
            if "venue" in row and any(
                folded(each["venue"]) == folded(row["venue"]) and each["venue_id"] != there["venue_id"] for each in rows
            ):
                raise Problem(f'There is a venue "{row["venue"]}" already. Take another name.')
            if "city" in row:
                same = "update shows set city = ? where venue_id = ? and city is ?"
                self._write(same, (row["city"], there["venue_id"], there["city"]))
            self._update("venues", there["venue_id"], row)

    def change_mistake(self, mistake_id: int, /, **columns: object) -> None:
        """Change columns of a mistake, by the `mistake_id` that `mistakes()` shows."""
        row = cleaned("mistakes", columns)
        with self.atomic() as change:
            there = self._row("mistakes", mistake_id)
            if "show_id" in row:
                row["show_id"] = self._show(row["show_id"])
            if "song" in row:
                row["song_id"] = self._song(row.pop("song"))
            self._update("mistakes", there["mistake_id"], row)
            now = {**there, **row}
            self._reviewed(now["show_id"], now["song_id"], now["listening"])
            change.words = f"the change to {self._mistake_called(now)}"

    def remove_mistake(self, mistake_id: int) -> None:
        """Take a mistake out; the song stays reviewed."""
        with self.atomic() as change:
            there = self._row("mistakes", mistake_id)
            change.words = f"the removal of {self._mistake_called(there)}"
            self._write("delete from mistakes where mistake_id = ?", (there["mistake_id"],))

    def change_note(self, note_id: int, /, **columns: object) -> None:
        """Change columns of a note, by the `note_id` that `notes()` shows."""
        row = cleaned("notes", columns)
        with self.atomic("the change to a note"):
            there = self._row("notes", note_id)
            now = {column: there[column] for column in ("date", "about", "room", "show_id", "text", "personal")}
            for column in ("song", "next_song"):
                now[column] = self._title(there[f"{column}_id"])
            venue = self._query("select venue from venues where venue_id = ?", (there["venue_id"],)).fetchone()
            now["venue"] = None if venue is None else venue["venue"]
            self._update("notes", there["note_id"], self._linked({**now, **row}))

    def remove_note(self, note_id: int) -> None:
        """Take a note out."""
        with self.atomic("the removal of a note"):
            self._write("delete from notes where note_id = ?", (self._row("notes", note_id)["note_id"],))

    def remove_worked(self, worked_id: int) -> None:
        """Take out what worked, by the `worked_id` that `worked()` shows; the song stays reviewed."""
        with self.atomic("the removal of what worked"):
            self._write("delete from worked where worked_id = ?", (self._row("worked", worked_id)["worked_id"],))

    def remove_rehearsal(self, rehearsal_id: int) -> None:
        """Take a rehearsal out, by the `rehearsal_id` that `rehearsals()` shows."""
        with self.atomic() as change:
            there = self._row("rehearsals", rehearsal_id)
            change.words = f'the removal of the rehearsal of "{self._title(there["song_id"])}" on {there["date"]}'
            self._write("delete from rehearsals where rehearsal_id = ?", (there["rehearsal_id"],))

    def remove_review(self, show_id: object, songs: Sequence[str] | str, listening: int = 1) -> None:
        """Say that songs of a show were not reviewed after all; their mistakes of that listening go too.

        Parameters
        ----------
        show_id, songs, listening
            As in `add_review`.

        """
        row = cleaned("reviews", {"listening": listening})
        with self.atomic() as change:
            key = self._show(show_id)
            change.words = f"the removal of reviews of {self._called(key)}"
            titles = [songs] if isinstance(songs, str) else songs
            ids = self._played(key) if songs == "all" else [self._song(title) for title in titles]
            for song_id in ids:
                for table in ("mistakes", "reviews"):
                    self._write(
                        f"delete from {table} where show_id = ? and song_id = ? and listening = ?",
                        (key, song_id, row["listening"]),
                    )

    def forget(self, person: str | None = None) -> int:
        """Take a person's attendance, or everybody's, out of the diary and its copies for good; there is no undo.

        Parameters
        ----------
        person
            Whatever identified them, or the hash that `attendance()` shows; nobody named means everybody.

        Returns
        -------
        int
            How many rows of the diary were taken out.

        """
        if self._depth:
            raise Problem("Forgetting is not part of a larger change. Call it by itself.")
        hashes = None if person is None else [person, persons.hasher()(clean_text(person))]
        with self._writing():
            gone = forget_rows(self._db, hashes)
        self._query("pragma wal_checkpoint(truncate)")
        forget_in_copies(self.path, hashes)
        return gone

    def _move(self, there: Row, row: Row) -> None:
        """Put the venue's key in the place of its name; a room like the venue's is left to the venue."""
        old = self._query("select * from venues where venue_id = ?", (there["venue_id"],)).fetchone()
        room = there["room"] or (old["room"] if old else None)
        if row.get("venue") is not None:
            city = row.get("city") or there["city"]
            new = self._venue(row.pop("venue"), city, row.get("room") or room)
            row |= {"venue_id": new["venue_id"], "city": city or new["city"]}
            row.setdefault("room", None)
        elif "venue" in row:
            new, row["venue_id"] = None, row.pop("venue")
            row.setdefault("room", room)
        else:
            new = old
        if new is not None and row.get("room") == new["room"]:
            row["room"] = None

    def _merge_rehearsals(self, old: int, new: int) -> None:
        for row in self._query("select * from rehearsals where song_id = ?", (old,)).fetchall():
            same = "select * from rehearsals where song_id = ? and date = ? and way = ?"
            there = self._query(same, (new, row["date"], row["way"])).fetchone()
            if there is None:
                self._update("rehearsals", row["rehearsal_id"], {"song_id": new})
            else:
                self._update("rehearsals", there["rehearsal_id"], more_runs(there, row))
                self._write("delete from rehearsals where rehearsal_id = ?", (row["rehearsal_id"],))

    def _merge_names(self, old: int, new: int) -> None:
        rows = [self._query("select * from songs where song_id = ?", (key,)).fetchone() for key in (new, old)]
        names = [
            *tables.items(rows[0]["aliases"]),
            rows[1]["song"].replace(";", ","),
            *tables.items(rows[1]["aliases"]),
        ]
        once = {folded(name): name for name in reversed(names) if folded(name) != folded(rows[0]["song"])}
        kept = f"{tables.BETWEEN_ITEMS} ".join(reversed(once.values()))
        self._update("songs", new, {"aliases": kept or None})

    def _row(self, table: str, key: object) -> dict[str, Any]:
        """Row of a table by its number, or a sentence that says where numbers are found."""
        found = None
        if isinstance(key, int) or hasattr(key, "__index__"):
            sql = f"select * from {table} where {KEYS[table]} = ?"
            found = self._query(sql, (int(key),)).fetchone()
        if found is None:
            one = SINGULAR[table].split(" ", 1)[1]
            raise Problem(f"There is no {one} with the number {key!r}. Look at the table of {table} for its number.")
        return dict(found)

    def _title(self, song_id: int | None) -> str | None:
        found = self._query("select song from songs where song_id = ?", (song_id,)).fetchone()
        return None if found is None else str(found["song"])

    def _mistake_called(self, row: dict[str, Any]) -> str:
        return f'the mistake in "{self._title(row["song_id"])}" at {self._called(row["show_id"])}'
