"""What a person says of the next set, and from which show on to look back: as numbers and titles, or asked about."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Mapping

import numpy as np

from tourstats.problems import Problem, UnknownSongProblem, listed


class KnownSetProblem(Problem):
    """What is said to be known of the set cannot be."""

    @classmethod
    def contradiction(cls, titles: list[str]) -> KnownSetProblem:
        """No set of the right size agrees with it."""
        return cls(
            f"No set agrees with what is known of it ({listed(titles)}): more songs than the set has room for, or "
            "too few left to fill it. Take out what is not sure, or give the size of the set."
        )


def size(given: object) -> int | None:
    """How many songs the set has, as a whole number; None if nobody has said.

    Examples
    --------
    >>> size(22.0), size(None)
    (22, None)

    """
    number = _whole(given)
    if given is not None and number is None:
        raise Problem(f"The set cannot have {given!r} songs; say a whole number of at least 1, or leave it out.")
    return number


def watched(start: object) -> int:
    """How many shows to watch before the first forecast, as a whole number.

    Examples
    --------
    >>> watched(8)
    8

    """
    number = _whole(start)
    if number is None:
        raise Problem(
            f"`start` is {start!r}, but it has to be a whole number of at least 1: how many shows to watch before the "
            "first forecast, which needs a set to go by."
        )
    return number


def known(given: Iterable[str] | Mapping[str, bool | int], titles: Iterable[str]) -> dict[str, bool | int]:
    """What is known of each title: in, not in, or its position.

    Parameters
    ----------
    given
        Titles that are in; or for each title True, False or its position. None says nothing.
    titles
        Those that the tables have. Another one is a new song that nobody has listed yet.

    Raises
    ------
    UnknownSongProblem
        If a title is one of the tables but for spaces, capitals, accents or signs, and would pass for a new song; or
        if a song that nobody has listed is said to be out.

    Examples
    --------
    >>> known(["Ferry"], ["Ferry", "Tin Rook"]), known({"Ferry": 3, "Quite New": True}, ["Ferry"])
    ({'Ferry': True}, {'Ferry': 3, 'Quite New': True})
    >>> known(["ferry "], ["Ferry", "Tin Rook"])
    Traceback (most recent call last):
    ...
    tourstats.problems.UnknownSongProblem: What is known of the set: "ferry " is not in the repertoire. The nearest in
    the repertoire: "Ferry". Correct the title, add it as another name of a song, or add it as a new song.

    """
    if isinstance(given, Mapping):
        sure = {title: what for title, what in given.items() if what is not None}
    else:
        sure = dict.fromkeys([given] if isinstance(given, str) else given, True)
    there = set(titles)
    new = [title for title in sure if title not in there]
    if new:
        written = {_plain(title): title for title in there}
        for title in new:
            near = written.get(_plain(title) or title)
            if near is not None or sure[title] is False:
                raise UnknownSongProblem.of(title, [] if near is None else [near], "What is known of the set")
    return sure


def _whole(number: object) -> int | None:
    """Give a whole number of at least 1, or nothing if it is none."""
    if isinstance(number, int | float | np.integer) and 1 <= number < np.inf and not number % 1:
        return int(number)
    return None


def _plain(title: str) -> str:
    """Letters and digits of a title alone, so that two ways of writing it are equal."""
    return "".join(letter for letter in unicodedata.normalize("NFKD", title).casefold() if letter.isalnum())
