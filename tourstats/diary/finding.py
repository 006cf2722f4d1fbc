"""Songs, shows and venues looked up by what a person says, for the methods that write."""

from __future__ import annotations

from datetime import date as day
from sqlite3 import Row
from typing import Any

from tourstats import tables
from tourstats.diary.ledger import Ledger
from tourstats.diary.values import as_int, clean_text, folded, is_missing
from tourstats.problems import Problem, UnknownShowProblem, UnknownSongProblem

SAME_LEG_DAYS = 21
"""A show within so many days of another belongs to its leg, unless said otherwise."""


class Finding(Ledger):
    """What the methods that write share; all of it runs inside a change."""

    def _song(self, title: object, where: str = "") -> int:
        """Key of a song by its title, in any letter case, or by another name that fits it alone."""
        if not isinstance(title, str) or is_missing(title):
            raise Problem(f"{where or 'Here'}: a title is missing. Type the song's title.")
        found = self._query("select song_id from songs where song = ?", (title,)).fetchone()
        if found is None:
            found = self._song_by_any_name(title)
        if found is None:
            raise UnknownSongProblem.of(clean_text(title, one_line=True), self._nearest(title), where)
        return int(found["song_id"])

    def _song_by_any_name(self, title: str) -> Row | None:
        wanted = folded(title)
        songs = self._query("select song_id, song, aliases from songs").fetchall()
        named = [row for row in songs if folded(row["song"]) == wanted]
        named = named or [row for row in songs if wanted in map(folded, tables.items(row["aliases"]))]
        return named[0] if len(named) == 1 else None

    def _nearest(self, title: str) -> list[str]:
        """Give the three titles that look most alike, if any does."""
        from rapidfuzz import fuzz, process  # noqa: PLC0415  # only when a title is unknown

        titles = [row["song"] for row in self._query("select song from songs order by song_id")]
        found = process.extract(title, titles, scorer=fuzz.ratio, processor=folded, limit=3, score_cutoff=50)
        return [match[0] for match in found]

    def _title_is_free(self, title: str, but: int = 0) -> None:
        """Refuse a title that another song has."""
        wanted = folded(title)
        for row in self._query("select song_id, song from songs where song_id <> ?", (but,)):
            if folded(row["song"]) == wanted:
                raise Problem(f'"{row["song"]}" is in the repertoire already. Change that song, or take another title.')

    def _show(self, show_id: object) -> int:
        """Key of a show that has to be there."""
        key = as_int(show_id)
        if key is None or self._query("select 1 from shows where show_id = ?", (key,)).fetchone() is None:
            raise UnknownShowProblem.of(show_id)
        return int(key)

    def _called(self, show_id: int) -> str:
        """What a show is called in a sentence."""
        row = self._query("select date, number, city from shows where show_id = ?", (show_id,)).fetchone()
        number = f" (show {row['number']} of the day)" if row["number"] > 1 else ""
        town = f" in {row['city']}" if row["city"] else ""
        return f"{row['date']}{town}{number}"

    def _when(self, show_id: int) -> tuple[Any, ...]:
        return tuple(self._query("select date, number, show_id from shows where show_id = ?", (show_id,)).fetchone())

    def _set_of(self, show_id: int) -> list[Row]:
        """Rows of a played set, in order."""
        sql = "select * from plays where show_id = ? and stage = 'played' order by position"
        return self._query(sql, (show_id,)).fetchall()

    def _played(self, show_id: int) -> list[int]:
        """Keys of the songs of a played set, each once."""
        ids = list(dict.fromkeys(row["song_id"] for row in self._set_of(show_id)))
        if not ids:
            raise Problem(f"Show {show_id} has no played set yet. Save what was played first, then review it.")
        return ids

    def _place(self, row: dict[str, Any]) -> None:
        """Put the key of the venue in the place of its name; a known one gives town and room when they are not said."""
        venue = row.pop("venue")
        row["venue_id"] = None
        if venue is None:
            return
        known = self._venue(venue, row["city"], row["room"])
        row["venue_id"] = known["venue_id"]
        row["city"] = row["city"] or known["city"]
        if row["room"] == known["room"]:
            row["room"] = None  # follows the venue, so that a correction there reaches its shows

    def _venue(self, venue: str, city: str | None, room: str | None) -> Row:
        """Find a venue of that name in that town, or add it."""
        rows = self._query("select * from venues").fetchall()
        for name in (venue, f"{venue}, {city}"):
            named = next((row for row in rows if folded(row["venue"]) == folded(name)), None)
            if named is None:
                key = self._insert("venues", {"venue": name, "city": city, "room": room})
                return self._query("select * from venues where venue_id = ?", (key,)).fetchone()  # type: ignore[no-any-return]
            if not city or not named["city"] or folded(named["city"]) == folded(city):
                return named  # type: ignore[no-any-return]
        return named  # type: ignore[return-value]

    def _known_venue(self, venue: str) -> Row:
        """Find a venue that has to be there."""
        rows = self._query("select * from venues").fetchall()
        found = next((row for row in rows if folded(row["venue"]) == folded(venue)), None)
        if found is None:
            raise Problem(f'There is no venue "{venue}" in the diary. Look at the list of venues for its name.')
        return found  # type: ignore[no-any-return]

    def _show_is_free(self, row: dict[str, Any], but: int = 0) -> None:
        """Refuse a show that is there already, and say under which number."""
        same_day = "select show_id, city from shows where date = ? and number = ? and show_id <> ?"
        for there in self._query(same_day, (row["date"], row["number"], but)):
            if folded(there["city"] or "") == folded(row["city"] or ""):
                town = f" in {there['city']}" if there["city"] else ""
                raise Problem(
                    f"The show of {row['date']}{town} is in the diary already, as show {there['show_id']}. "
                    f"Use that number; if it is another show of the same day, add it with number={row['number'] + 1}."
                )

    def _leg_of(self, date: str) -> str:
        """Leg of the nearest show before, else after, within three weeks; else a new one."""
        for side, order in (("<=", "desc"), (">=", "asc")):
            sql = f"select date, leg from shows where date {side} ? and leg is not null order by date {order}, number {order} limit 1"  # noqa: E501  # one statement, read in one piece
            near = self._query(sql, (date,)).fetchone()
            if near and abs(day.fromisoformat(date) - day.fromisoformat(near["date"])).days <= SAME_LEG_DAYS:
                return str(near["leg"])
        taken = {row["leg"] for row in self._query("select distinct leg from shows where leg is not null")}
        number = len(taken) + 1
        while f"leg {number}" in taken:
            number += 1
        return f"leg {number}"
