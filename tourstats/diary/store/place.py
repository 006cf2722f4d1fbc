"""Where the diary is."""

from __future__ import annotations

import os
from pathlib import Path

import platformdirs

from tourstats.diary.store.trouble import DiaryProblem


def where(path: str | os.PathLike[str] | None = None) -> Path:
    """Path of the diary: the one given, else TOURSTATS_DIARY, else one in the user's data folder.

    Examples
    --------
    >>> where("~/tour.sqlite") == Path.home() / "tour.sqlite"
    True

    """
    said = os.fspath(path) if path is not None else os.environ.get("TOURSTATS_DIARY", "")
    place = Path(said).expanduser() if said else home() / "diary.sqlite"
    # SQLite follows a link to the file and keeps its log there; so do we, or the two would be taken for strangers.
    try:
        return place.resolve() if place.is_symlink() else place
    except (OSError, RuntimeError) as error:
        raise DiaryProblem(f"{place} is a link that leads nowhere. Name the file itself with `--diary`.") from error


def home() -> Path:
    """The user's data folder, where the diary is unless something else is said, and the notebooks in any case."""
    return Path(platformdirs.user_data_dir("tourstats", appauthor=False))


def exists(path: str | os.PathLike[str] | None = None) -> bool:
    """Whether there is a diary already; asking makes none.

    Examples
    --------
    >>> exists("nowhere.sqlite")
    False

    """
    place = where(path)
    return place.is_file() and place.stat().st_size > 0


def must_be_there(place: Path) -> None:
    """Say that there is no diary, for whoever only reads: a mistyped name begins none."""
    if not exists(place):
        raise DiaryProblem(
            f"There is no diary at {place}. Look at the name behind `--diary`, or begin it there: "
            f"`tourstats --diary {place} intake FILE`."
        )
