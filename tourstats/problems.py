"""What can go wrong for the person at the desk, each in one sentence that says what, where, and what to do.

Every exception here is a `Problem`; a command prints its sentence and ends with status 1, a form shows it beside the
field. Anything else that escapes is a fault of ours.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence


class Problem(Exception):  # noqa: N818  # the word the person sees
    """Something the person can put right; its text says how."""


class TableProblem(Problem):
    """A table does not hold what its description in `tables` says."""

    @classmethod
    def missing_columns(cls, table: str, missing: Iterable[str], given: Iterable[str]) -> TableProblem:
        """Say which columns are needed and which were given."""
        return cls(
            f"The table of {table} needs the {_columns(missing)}; it has {', '.join(map(str, given)) or 'no columns'}. "
            "Add what is missing, or rename what is there."
        )

    @classmethod
    def bad_value(cls, table: str, column: str, row: object, value: object, expected: str) -> TableProblem:
        """Say which cell is wrong and what it may hold."""
        return cls(f"Row {row} of the table of {table}: `{column}` is {value!r}, but it has to be {expected}.")

    @classmethod
    def place_taken(cls, show_id: object, position: object, songs: Sequence[str]) -> TableProblem:
        """Say which place in which set is taken more than once, and by what."""
        return cls(
            f"The table of plays has {len(songs)} rows for position {position} of show {show_id}: {listed(songs)}. "
            "Give each song a position of its own, or take out what is there twice."
        )

    @classmethod
    def unknown_shows(cls, table: str, show_ids: Sequence[object]) -> TableProblem:
        """Say which rows refer to shows that are not there."""
        return cls(
            f"The table of {table} has rows for {listed(show_ids)}, which the table of shows does not have. "
            "Add the show, or take these rows out."
        )


class UnknownSongProblem(Problem):
    """A title is not in the repertoire."""

    @classmethod
    def of(cls, title: str, nearest: Sequence[str], where: str = "") -> UnknownSongProblem:
        """Name the title, where it stood, and the nearest ones."""
        near = f" The nearest in the repertoire: {listed(nearest)}." if nearest else ""
        place = f"{where}: " if where else ""
        return cls(
            f'{place}"{title}" is not in the repertoire.{near} Correct the title, add it as another name of a song, '
            "or add it as a new song."
        )


class UnknownShowProblem(Problem):
    """A show is not in the diary."""

    @classmethod
    def of(cls, show_id: object) -> UnknownShowProblem:
        """Name the show that was asked for."""
        return cls(
            f"There is no show {show_id} in the diary. Add it first, or look at the list of shows for its number."
        )


class TooFewProblem(Problem):
    """There are not enough data for an honest answer."""

    @classmethod
    def of(cls, what: str, have: int, need: int) -> TooFewProblem:
        """Say how many there are and how many it takes."""
        return cls(f"Not enough {what} yet: {have} so far, it takes {need}.")


def listed(values: Sequence[object], most: int = 5) -> str:
    """Write a few values as prose, and say how many more there are.

    Examples
    --------
    >>> listed(["Ferry", "Tin Rook"])
    '"Ferry" and "Tin Rook"'
    >>> listed([1, 2, 3, 4], most=2)
    '1, 2 and 2 more'

    """
    shown = [f'"{value}"' if isinstance(value, str) else str(value) for value in values[:most]]
    more = len(values) - len(shown)
    if more:
        return f"{', '.join(shown)} and {more} more"
    return together(shown)


def together(names: Sequence[str]) -> str:
    """Names in a sentence, the last one behind "and".

    Examples
    --------
    >>> together(["bell", "click", "pad"])
    'bell, click and pad'

    """
    return " and ".join([", ".join(names[:-1]), names[-1]]) if len(names) > 1 else "".join(names)


def counted(number: float, word: str) -> str:
    """Write a number of things.

    Examples
    --------
    >>> counted(1, "show"), counted(14, "city"), counted(1094, "play")
    ('1 show', '14 cities', '1,094 plays')

    """
    many = f"{word[:-1]}ies" if word.endswith("y") and word[-2:-1] not in "aeou" else f"{word}s"
    return f"{int(number):,} {word if number == 1 else many}"


def there_are(number: int, word: str) -> str:
    """Write that there is a number of things.

    Examples
    --------
    >>> there_are(1, "line"), there_are(3, "line")
    ('1 line is', '3 lines are')

    """
    return f"{counted(number, word)} {'is' if number == 1 else 'are'}"


def _columns(names: Iterable[str]) -> str:
    names = [f"`{name}`" for name in names]
    return f"column{'s' if len(names) > 1 else ''} {', '.join(names)}"
