"""People as keyed hashes: the key lies apart from the diary, readable by its owner alone."""

from __future__ import annotations

import hashlib
import hmac
import os
import secrets
from collections.abc import Callable
from pathlib import Path

import platformdirs

from tourstats.diary.trouble import DiaryProblem

KEY_BYTES = 32
HASH_LETTERS = 32


def hasher() -> Callable[[str], str]:
    """Give a function that turns whatever identifies a person into a hash (HMAC-SHA-256, 32 hexadecimal digits).

    The same person gets the same hash as long as the key stays; without the key, which lies in the user's folder for
    settings (TOURSTATS_PEOPLE_KEY names another file), nobody can try names against the hashes.
    """
    key = _key(_place())
    return lambda person: hmac.new(key, person.encode(), hashlib.sha256).hexdigest()[:HASH_LETTERS]


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
