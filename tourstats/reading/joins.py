"""Tables that point at each other: what a key stands for is put where it stands, in workbooks as in records."""

# ruff: noqa: E501  # an example is read in one piece
from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from tourstats.reading import headers
from tourstats.reading.cells import DAYS, NUMBER, kind_of, shown
from tourstats.reading.titles import fold
from tourstats.reading.workbooks import Cell, Sheet


def joined(sheets: Sequence[Sheet]) -> list[Sheet]:
    """Tables with the day or the title that another one has for their keys; that one is set aside.

    What else it says of a show or a song follows in columns that the file does not have there.

    Examples
    --------
    >>> shows = {(1, 1): "Show no", (1, 2): "Date", (2, 1): "1", (2, 2): "2031-03-04", (3, 1): "2", (3, 2): "2031-03-05"}
    >>> songs = {(1, 1): "Show no", (1, 2): "Title", (2, 1): "1", (2, 2): "Quill", (3, 1): "1", (3, 2): "Wren"}
    >>> aside, found = joined([Sheet("shows", shows), Sheet("played", songs)])
    >>> list(aside.cells), [found.cells[row, 1] for row in (1, 2, 3)]
    ([], ['Date', '2031-03-04', '2031-03-04'])

    """
    found = list(sheets)
    for at in range(len(found)):
        for other, lending in enumerate(found):
            if other != at and found[at].cells and (filled := _filled_in(_Keyed.of(found[at]), _Keyed.of(lending))):
                found[at] = filled
                found[other] = lending.without(lending.cells)
    return found


@dataclass
class _Keyed:
    """A table by its columns: what each is called, and what stands in it row by row."""

    sheet: Sheet
    head: int
    names: dict[int, str]
    columns: dict[int, dict[int, Cell]]
    rows: int

    @classmethod
    def of(cls, sheet: Sheet) -> _Keyed | None:
        """A table below a row of names; None if it has none."""
        rows: dict[int, dict[int, Cell]] = {}
        for (row, column), value in sorted(sheet.cells.items()):
            rows.setdefault(row, {})[column] = value
        head = next((row for row, cells in rows.items() if len(cells) > 1), None)
        if head is None or not all(isinstance(value, str) for value in rows[head].values()):
            return None
        columns: dict[int, dict[int, Cell]] = {column: {} for column in rows[head]}
        below = [row for row in rows if row > head]
        for row in below:
            for column in rows[row].keys() & columns.keys():
                columns[column][row] = rows[row][column]
        return cls(sheet, head, {column: shown(value) for column, value in rows[head].items()}, columns, len(below))

    def values(self, column: int) -> list[str]:
        """What stands in a column, as text."""
        return [shown(value) for value in self.columns[column].values()]

    def column_of(self, role: str) -> int | None:
        """The column of a role, by its name or, for days, by what stands in it; numbers point elsewhere."""
        named = [column for column, name in self.names.items() if role_of(name) == role]
        kinds = {column: [kind_of(value) for value in cells.values()] for column, cells in self.columns.items()}
        dated = [column for column, some in kinds.items() if some and all(kind in DAYS for kind in some)]
        tried = [*named, *(dated if role == headers.DATE else ())]
        return next((column for column in tried if not all(kind == NUMBER for kind in kinds[column])), None)


def _filled_in(table: _Keyed | None, other: _Keyed | None) -> Sheet | None:
    """A table with what it points at in another, where that one alone says the day or the song; None if it does not."""
    if table is None or other is None:
        return None
    wanted = (headers.SONG, headers.DATE)
    roles = [(one, at) for one in wanted if (at := other.column_of(one)) and not table.column_of(one)]
    found = _key(table, other) if roles else None
    if found is None:
        return None
    (role, said), (pointing, key) = roles[0], found
    theirs = {shown(value): row for row, value in other.columns[key].items()}
    have = {fold(name) for name in table.names.values()}
    lent = [at for at, name in other.names.items() if at not in (key, said) and fold(name) not in have]
    first = max(column for _, column in table.sheet.cells) + 1
    stays = role == headers.DATE and role_of(table.names[pointing]) in (headers.CITY, headers.VENUE)
    lent += [said] if stays else []
    places = {at: first + step for step, at in enumerate(lent)} | ({} if stays else {said: pointing})
    cells, titles = dict(table.sheet.cells), set(table.sheet.titles)
    own = role_of(table.names[pointing]) == headers.SONG
    cells |= {(table.head, to): other.names[at] for at, to in places.items() if not (own and to == pointing)}
    for row, value in table.columns[pointing].items():
        for at, to in places.items():
            if (meant := other.columns[at].get(theirs[shown(value)])) is not None:
                cells[row, to] = meant
    beyond = {at for at in cells if at[1] >= first}
    titles |= {(row, pointing) for row in table.columns[pointing]} if role == headers.SONG else set()
    return replace(table.sheet, cells=cells, titles=titles, lent=table.sheet.lent | beyond)


def _key(table: _Keyed, other: _Keyed) -> tuple[int, int] | None:
    """The one column of a table that holds nothing but the keys of another, and the column of these."""
    for key in other.columns:
        theirs = set(other.values(key))
        if len(theirs) < other.rows:
            continue
        inside = [column for column in table.columns if table.columns[column] and set(table.values(column)) <= theirs]
        same = [column for column in inside if fold(table.names[column]) == fold(other.names[key])]
        related = same or [column for column in inside if points_at(table.names[column], other.sheet.name)]
        pointing = related or [column for column in inside if headers.named(table.names[column]) != headers.POSITION]
        if len(pointing) == 1:
            return pointing[0], key
    return None


def role_of(name: str) -> str | None:
    """What a column is by its name; the name of a place is no title.

    Examples
    --------
    >>> role_of("location.city"), role_of("venue.name"), role_of("name")
    ('city', None, 'song')

    """
    *above, last = name.split(".")
    role = headers.named(last) or headers.named(name)
    return None if role == headers.SONG and above and headers.named(above[-1]) not in (None, role) else role


def points_at(column: str, table: str) -> bool:
    """Whether the name of a column is that of a table, as "song_id" of "songs"."""
    one, other = column.casefold().removesuffix("id").strip("_. "), table.casefold().rstrip("s")
    return len(one) > 2 and len(other) > 2 and (one.startswith(other) or other.startswith(one.rstrip("s")))
