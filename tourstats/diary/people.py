"""People: who was where, as keyed hashes only; the key is kept apart from the diary, readable by its owner alone."""

from __future__ import annotations

import base64
import hashlib
import hmac
import os
import re
import secrets
from collections.abc import Callable
from datetime import datetime
from pathlib import Path

import pandas as pd
import platformdirs

from tourstats.diary import shows
from tourstats.diary.shows import show_key
from tourstats.diary.store.changes import Store
from tourstats.diary.store.copies import forget_in_copies, forget_rows
from tourstats.diary.store.trouble import DiaryProblem
from tourstats.diary.store.values import clean_text, cleaned, folded
from tourstats.problems import Problem, TableProblem

KEY_BYTES = 32
HASH_LETTERS = 32
BLOCK = 64
"""Bytes that SHA-256 takes in at once."""


def hasher() -> Callable[[str], str]:
    """Give a function that turns whatever identifies a person into a hash (HMAC-SHA-256, 32 hexadecimal digits).

    Letter case and extra spaces make no other person.

    The same person gets the same hash as long as the key stays; without the key, which is in the user's folder for
    settings (TOURSTATS_PEOPLE_KEY names another file), nobody can try names against the hashes.
    """
    hashed = _keyed(_key(_place()))
    return lambda person: hashed(folded(person))


def key_for(purpose: str) -> str:
    """Sixteen letters (96 bits) that follow from the key, for another use of it: nothing else can be told from them."""
    made = hmac.digest(_key(_place()), f"A key: {purpose}".encode(), "sha256")  # a folded person has no capitals
    return base64.urlsafe_b64encode(made[:12]).decode()


def is_hash(person: str) -> bool:
    """Whether this can only be a hash, ours or the shorter ones of the demo: no name, address or number looks so.

    Examples
    --------
    >>> is_hash("0b103248fd0d42aa0b103248fd0d42aa"), is_hash("4006381333931"), is_hash("ola@example.org")
    (True, False, False)

    """
    return re.fullmatch("[0-9a-f]{12}|[0-9a-f]{32}", person) is not None and not person.isdecimal()


def _keyed(key: bytes) -> Callable[[str], str]:
    """HMAC-SHA-256 (RFC 2104), with the key taken in once for all: for millions of people that is most of the work."""
    block = (key if len(key) <= BLOCK else hashlib.sha256(key).digest()).ljust(BLOCK, b"\0")
    inner, outer = (hashlib.sha256(bytes(byte ^ pad for byte in block)) for pad in (0x36, 0x5C))

    def hashed(person: str) -> str:
        first, last = inner.copy(), outer.copy()
        first.update(person.encode())
        last.update(first.digest())
        return last.hexdigest()[:HASH_LETTERS]

    return hashed


def save_key(to: str | os.PathLike[str]) -> Path:
    """Copy the key for people to a file that is not there yet, readable by its owner alone, and return where it is.

    Whoever has it can look whether a name is in the diary: keep it apart from the diary's copies.
    """
    key, target = _key(_place()), Path(to).expanduser()
    try:
        with os.fdopen(os.open(target, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as file:
            file.write(key)
    except OSError as error:
        raise DiaryProblem(
            f"The key for people cannot be copied to {target} ({error.strerror}). Name a file that is not there yet."
        ) from error
    return target


def take_key(source: str | os.PathLike[str]) -> Path:
    """Use a key that was saved, on this machine from now on, and return where it is; another one here is kept aside.

    Raises
    ------
    DiaryProblem
        If the file is no key, or cannot be read or put in place.

    """
    origin, place = Path(source).expanduser(), _place()
    try:
        key = origin.read_bytes()
        if len(key) != KEY_BYTES:
            raise DiaryProblem(
                f"{origin} is no key for people. Name the file that `tourstats backup --people-key` wrote."
            )
        place.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
        if place.exists() and place.read_bytes() != key:
            place.rename(place.with_name(f"{place.name}.{datetime.now():%Y%m%d-%H%M%S}"))  # noqa: DTZ005  # the clock on the wall
        part = place.with_name(f"{place.name}.{os.getpid()}")
        with os.fdopen(os.open(part, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600), "wb") as file:
            file.write(key)
        part.replace(place)
    except OSError as error:
        raise DiaryProblem(
            f"The key for people cannot be taken from {origin} to {place} ({error.strerror})."
        ) from error
    return place


def _place() -> Path:
    said = os.environ.get("TOURSTATS_PEOPLE_KEY", "")
    if said:
        return Path(said).expanduser()
    return Path(platformdirs.user_config_dir("tourstats", appauthor=False)) / "people.key"


def _key(place: Path) -> bytes:
    """Read the key, or make one; two programs that make it at once agree on the first."""
    try:
        place.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
        part = place.with_name(f"{place.name}.{os.getpid()}")
        if not place.exists():
            with os.fdopen(os.open(part, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as file:
                file.write(secrets.token_bytes(KEY_BYTES))
            try:
                os.link(part, place)  # fails if another program was first
            except FileExistsError:
                pass
            finally:
                part.unlink()
        key = place.read_bytes()
    except OSError as error:
        raise DiaryProblem(
            f"The key for people, {place}, cannot be read or made ({error.strerror}). Allow it, "
            "or name another file with TOURSTATS_PEOPLE_KEY."
        ) from error
    if len(key) != KEY_BYTES:
        raise DiaryProblem(
            f"The key for people, {place}, is damaged. Put a copy of it back, or remove it and start anew."
        )
    return key


def add_attendance(store: Store, /, people: pd.DataFrame, *, hashed: bool = False) -> int:
    """Add who was at which show and return how many rows are new.

    Parameters
    ----------
    people
        One row per person and show, columns `person` and `show_id`. Whatever identifies a person is turned into
        a keyed hash before it is written; the diary never holds a name or a ticket number.
    hashed
        Say so when `person` holds such hashes already.

    """
    needed = [name for name in ("person", "show_id") if name not in people.columns]
    if needed:
        raise TableProblem.missing_columns("attendance", needed, people.columns)
    name = _hashed_already if hashed else hasher()
    new = 0
    with store.atomic("the attendance"):
        shows: dict[object, int] = {}
        for person, show_id in zip(people["person"].tolist(), people["show_id"].tolist(), strict=True):
            if show_id not in shows:
                shows[show_id] = show_key(store, show_id)
            row = {**cleaned("attendance", {"person": person}), "show_id": shows[show_id]}
            row["person"] = name(row["person"])
            sql = "insert into attendance (person, show_id) values (:person, :show_id) on conflict do nothing"
            new += store.write(sql, row).rowcount
    return new


def add_counts(store: Store, /, show_id: object, people: int, earlier: object, returning: int) -> None:
    """Write down how many of a night's audience said that they were at an earlier show.

    Parameters
    ----------
    show_id, people
        The show, and how many were there in all.
    earlier, returning
        The earlier show, and how many of them had been there. Saying it again replaces the count.

    """
    row = cleaned("counts", {"people": people, "returning": returning})
    if row["returning"] > row["people"]:
        raise Problem(f"{row['returning']} came back of {row['people']} in all; it cannot be more than all.")
    with store.atomic() as change:
        row |= {"show_id": show_key(store, show_id), "earlier": show_key(store, earlier)}
        change.words = f"the count of people at {shows.called(store, row['show_id'])}"
        if shows.when(store, row["earlier"]) >= shows.when(store, row["show_id"]):
            raise Problem(
                f"Show {row['earlier']} is not earlier than show {row['show_id']}. Name the show that came first."
            )
        row["came_back"] = row.pop("returning")  # a word that SQLite keeps for itself
        tail = "on conflict (show_id, earlier) do update set people = :people, came_back = :came_back"
        store.insert("counts", row, tail=tail)


def forget(store: Store, /, person: str | None = None) -> int:
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
    if store.depth:
        raise Problem("Forgetting is not part of a larger change. Call it by itself.")
    hashes = None
    if person is not None:  # also as it was hashed before letter case was folded
        hashes = [person, hasher()(clean_text(person)), _keyed(_key(_place()))(clean_text(person))]
    with store.writing():
        gone = forget_rows(store.db, hashes)
    store.select("pragma wal_checkpoint(truncate)")
    forget_in_copies(store.path, hashes)
    return gone


def _hashed_already(person: str) -> str:
    """Let a hash pass; a name or an address that slipped in here is not written, nor repeated in the sentence."""
    if re.fullmatch(r"[0-9a-f]{12,}", person) is None:
        raise TableProblem(
            "A `person` among the attendance is not a hash. Leave `hashed` out, so that they are hashed."
        )
    return person
