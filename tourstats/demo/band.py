"""The band of the demo tour: its songs, its people, its towns, and the words its drummer writes, from `band.toml`.

Nothing here exists. The Weirhouse Nine are two violins, cello, accordion, piano, cornet, trombone, sousaphone and
drums; they play dances, airs and marches of their own. The person who keeps the diary is the drummer, in the band
since January 2031.
"""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from pathlib import Path
from typing import Any

_WRITTEN: dict[str, Any] = tomllib.loads(Path(__file__).with_suffix(".toml").read_text(encoding="utf-8"))


@dataclass(frozen=True)
class Dance:
    """What songs of one sort have in common."""

    name: str
    slowest: int
    fastest: int
    sections: list[str]
    gear: list[str]
    place: float
    """Where in a set the leader likes it, 0 early to 1 late."""


DANCES = {letter: Dance(**what) for letter, what in _WRITTEN["DANCES"].items()}
SONGS = [(title, marks, names) for title, marks, names in (line.split("|") for line in _WRITTEN["SONGS"].splitlines())]
"""Title, dance and marks, other names."""


def __getattr__(name: str) -> Any:  # noqa: ANN401  # texts, lists and tables of them
    """Whatever stands in the file under that name."""
    try:
        return _WRITTEN[name]
    except KeyError as error:
        raise AttributeError(name) from error
