"""Shows, legs, venues, and how a show or a venue is found by what a person says."""

from __future__ import annotations

from datetime import date as day
from sqlite3 import Row
from typing import Any

import pandas as pd

from tourstats.diary.store.changes import Store
from tourstats.diary.store.values import as_int, cleaned, folded
from tourstats.problems import Problem, UnknownShowProblem

SAME_LEG_DAYS = 21
"""A show within so many days of another belongs to its leg, unless said otherwise."""

Cells = dict[str, Any]


def add_show(  # noqa: PLR0913, PLR0917  # the contract names them
    store: Store,
    /,
    date: object,
    city: str | None = None,
    room: str | None = None,
    venue: str | None = None,
    leg: str | None = None,
    number: int = 1,
    set_minutes: float | None = None,
    recording: str | None = None,
    **more: object,
) -> int:
    """Add a show and return its number in the diary.

    Parameters
    ----------
    date
        Day, as a date or as ISO text.
    city, room
        Town and kind of venue; what is not said is taken from a venue that the diary knows.
    venue
        Name of the place; added, with town and room, when the diary does not know it.
    leg
        Run of shows. If not said: the leg of the latest show up to that day if it is at most 21 days earlier,
        else of the next show if it is at most 21 days later, else a new one named "leg 1", "leg 2", ….
    number
        First, second, … show of that day.
    set_minutes
        Length of the set that was asked for.
    recording
        Where the recording is.
    **more
        Any other column of `tables.Shows`.

    Raises
    ------
    Problem
        If that show is there already, or a value does not fit.

    """
    said = {"date": date, "city": city, "room": room, "venue": venue, "leg": leg, "number": number,
            "set_minutes": set_minutes, "recording": recording, **more}  # fmt: skip
    row = cleaned("shows", said)
    with store.atomic() as change:
        placed(store, row)
        is_free(store, row)
        if row["leg"] is None:
            row["leg"] = leg_of(store, row["date"])
        show_id = store.insert("shows", row)
        change.words = f"the new show {called(store, show_id)}"
    return show_id


def change_show(store: Store, show_id: object, /, **columns: object) -> None:
    """Change columns of a show (those of `add_show`); another venue gives the room when it is not said."""
    row = cleaned("shows", columns)
    if "show_id" in row:
        raise Problem("The number of a show stays as it is. Change its date, city or number on the day instead.")
    with store.atomic() as change:
        key = show_key(store, show_id)
        change.words = f"the change to the show {called(store, key)}"
        there = dict(store.select("select * from shows where show_id = ?", (key,)).fetchone())
        _moved(store, there, row)
        is_free(store, {**there, **row}, but=key)
        store.update("shows", key, row)


def remove_show(store: Store, /, show_id: object) -> None:
    """Take a show out with its sets, reviews, mistakes, attendance and counts; notes on songs stay."""
    with store.atomic() as change:
        key = show_key(store, show_id)
        change.words = f"the removal of the show {called(store, key)}"
        store.write("delete from notes where show_id = ? and about = 'show'", (key,))
        store.write("delete from shows where show_id = ?", (key,))


def add_venue(store: Store, /, venue: str, city: str | None = None, room: str | None = None) -> str:
    """Add a place, or fill in what was not known of it, and return the name it is kept under.

    A second place of the same name in another town is kept as "name, town".
    """
    row = cleaned("venues", {"venue": venue, "city": city, "room": room})
    with store.atomic(f'the venue "{row["venue"]}"'):
        found = venue_of(store, row["venue"], row["city"], row["room"])
        known = {name: row[name] for name in ("city", "room") if row[name] is not None}
        store.update("venues", found["venue_id"], known)
    return str(found["venue"])


def change_venue(store: Store, venue: str, /, **columns: object) -> None:
    """Change columns of a venue; shows there that had its town or its room follow."""
    row = cleaned("venues", columns)
    with store.atomic(f'the change to the venue "{venue}"'):
        there = known_venue(store, venue)
        rows = store.select("select * from venues").fetchall()
        if "venue" in row and any(
            folded(each["venue"]) == folded(row["venue"]) and each["venue_id"] != there["venue_id"] for each in rows
        ):
            raise Problem(f'There is a venue "{row["venue"]}" already. Take another name.')
        if "city" in row:
            same = "update shows set city = ? where venue_id = ? and city is ?"
            store.write(same, (row["city"], there["venue_id"], there["city"]))
        store.update("venues", there["venue_id"], row)


def start_level(store: Store, /, show_id: object, remark: str | None = None) -> None:
    """Say that your playing starts a new level with this show (a new kit, a lesson, an injury)."""
    row = cleaned("levels", {"remark": remark})
    with store.atomic() as change:
        row["show_id"] = show_key(store, show_id)
        change.words = f"the new level from {called(store, row['show_id'])}"
        store.insert("levels", row, tail="on conflict (show_id) do update set remark = :remark")


def legs(store: Store) -> pd.DataFrame:
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
    with store.one_moment():
        shows, plays = store.frame("shows"), store.frame("plays", "played")
    shows = shows.assign(played=shows.show_id.isin(plays.show_id))
    legs = shows.groupby("leg", sort=False).agg(
        first=("date", "min"), last=("date", "max"), shows=("date", "size"), played=("played", "sum")
    )
    return legs.reset_index().astype({"shows": "int64", "played": "int64"})


def show_key(store: Store, /, show_id: object) -> int:
    """Key of a show that has to be there."""
    key = as_int(show_id)
    if key is None or store.select("select 1 from shows where show_id = ?", (key,)).fetchone() is None:
        raise UnknownShowProblem.of(show_id)
    return int(key)


def called(store: Store, /, show_id: int) -> str:
    """What a show is called in a sentence."""
    row = store.select("select date, number, city from shows where show_id = ?", (show_id,)).fetchone()
    number = f" (show {row['number']} of the day)" if row["number"] > 1 else ""
    town = f" in {row['city']}" if row["city"] else ""
    return f"{row['date']}{town}{number}"


def when(store: Store, /, show_id: int) -> tuple[Any, ...]:
    """What puts shows in order."""
    return tuple(store.select("select date, number, show_id from shows where show_id = ?", (show_id,)).fetchone())


def placed(store: Store, row: Cells) -> None:
    """Put the key of the venue in the place of its name; a known one gives town and room when they are not said."""
    venue = row.pop("venue")
    row["venue_id"] = None
    if venue is None:
        return
    known = venue_of(store, venue, row["city"], row["room"])
    row["venue_id"] = known["venue_id"]
    row["city"] = row["city"] or known["city"]
    if row["room"] == known["room"]:
        row["room"] = None  # follows the venue, so that a correction there reaches its shows


def is_free(store: Store, /, row: Cells, but: int = 0) -> None:
    """Refuse a show that is there already, and say under which number."""
    same_day = "select show_id, city from shows where date = ? and number = ? and show_id <> ?"
    for there in store.select(same_day, (row["date"], row["number"], but)):
        if folded(there["city"] or "") == folded(row["city"] or ""):
            town = f" in {there['city']}" if there["city"] else ""
            raise Problem(
                f"The show of {row['date']}{town} is in the diary already, as show {there['show_id']}. "
                f"Use that number; if it is another show of the same day, add it with number={row['number'] + 1}."
            )


def venue_of(store: Store, /, venue: str, city: str | None, room: str | None) -> Row:
    """Find a venue of that name in that town, or add it."""
    rows = store.select("select * from venues").fetchall()
    for name in (venue, f"{venue}, {city}"):
        named = next((row for row in rows if folded(row["venue"]) == folded(name)), None)
        if named is None:
            key = store.insert("venues", {"venue": name, "city": city, "room": room})
            return store.select("select * from venues where venue_id = ?", (key,)).fetchone()  # type: ignore[no-any-return]
        if not city or not named["city"] or folded(named["city"]) == folded(city):
            return named  # type: ignore[no-any-return]
    return named  # type: ignore[return-value]


def known_venue(store: Store, /, venue: str) -> Row:
    """Find a venue that has to be there."""
    rows = store.select("select * from venues").fetchall()
    found = next((row for row in rows if folded(row["venue"]) == folded(venue)), None)
    if found is None:
        raise Problem(f'There is no venue "{venue}" in the diary. Look at the list of venues for its name.')
    return found  # type: ignore[no-any-return]


def leg_of(store: Store, /, date: str) -> str:
    """Leg of the nearest show before, else after, within three weeks; else a new one."""
    for side, order in (("<=", "desc"), (">=", "asc")):
        sql = f"select date, leg from shows where date {side} ? and leg is not null order by date {order}, number {order} limit 1"  # noqa: E501  # one statement, read in one piece
        near = store.select(sql, (date,)).fetchone()
        if near and abs(day.fromisoformat(date) - day.fromisoformat(near["date"])).days <= SAME_LEG_DAYS:
            return str(near["leg"])
    taken = {row["leg"] for row in store.select("select distinct leg from shows where leg is not null")}
    number = len(taken) + 1
    while f"leg {number}" in taken:
        number += 1
    return f"leg {number}"


def _moved(store: Store, there: Cells, row: Cells) -> None:
    """Put the venue's key in the place of its name; a room like the venue's is left to the venue."""
    old = store.select("select * from venues where venue_id = ?", (there["venue_id"],)).fetchone()
    room = there["room"] or (old["room"] if old else None)
    if row.get("venue") is not None:
        city = row.get("city") or there["city"]
        new = venue_of(store, row.pop("venue"), city, row.get("room") or room)
        row |= {"venue_id": new["venue_id"], "city": city or new["city"]}
        row.setdefault("room", None)
    elif "venue" in row:
        new, row["venue_id"] = None, row.pop("venue")
        row.setdefault("room", room)
    else:
        new = old
    if new is not None and row.get("room") == new["room"]:
        row["room"] = None
