"""The show that is being written down: its set, the songs people mean, and what the diary has of it already."""

from __future__ import annotations

import re
from collections.abc import Callable
from contextlib import AbstractContextManager
from datetime import date, datetime
from itertools import count
from typing import Any

import pandas as pd

from tourstats.diary import Diary, opened
from tourstats.pages.kit import tables_shown
from tourstats.pages.kit.undoing import changing
from tourstats.pages.kit.whose import Whose
from tourstats.problems import Problem, UnknownSongProblem, listed
from tourstats.reading.titles import DOUBTFUL, SURE, index
from tourstats.tables import in_order
from tourstats.tour import Tour, night_of, to_log

ENCORE = "ENCORE"
SHOWS = 20
"""How many past shows the page offers."""


class Night:
    """One show, read again after each change; `after` lists who wants to know."""

    def __init__(self, store: Whose) -> None:
        self.found = store
        self.show_id: int | None = None
        self.after: list[Callable[[], None]] = []
        self.read()

    def read(self, show_id: int | None = None) -> None:
        """Read the diary, and perhaps go to another show."""
        with opened(self.found.path) as diary, diary.one_moment():
            # A save has to feel immediate: who was in the audience is not read for it.
            self.tables = Tour(
                songs=diary.songs(), shows=diary.shows(), plays=diary.plays(), planned=diary.plays("planned"),
                rehearsals=diary.rehearsals(), reviews=diary.reviews(), mistakes=diary.mistakes(), notes=diary.notes(),
                worked=diary.worked(), sections=diary.sections(),
            )  # fmt: skip
        self.shows = in_order(self.tables.shows)
        self.show_id = self.show_id if show_id is None else show_id
        if self.show_id not in set(self.shows.show_id):
            self.show_id = self.to_log
        self.played = self._of_show(self.tables.plays)
        self.planned = self._of_show(self.tables.planned)
        self.plays = self.played if len(self.played) else self.planned
        self.numbered = numbered(self.plays, self.planned)
        self.songs = self.tables.songs

    def changed(self) -> None:
        """Read again after something was saved, and tell who wants to know."""
        self.read()
        for tell in self.after:
            tell()

    def writing(self) -> AbstractContextManager[Diary]:
        """The diary, open for changes; of the demo tour only a copy."""
        return changing(self.found)

    @property
    def show(self) -> int:
        """Number of the show; without one there is nothing to write down."""
        if self.show_id is None:
            raise Problem("There is no show in the diary yet. Paste the set on the page Show day first.")
        return self.show_id

    @property
    def row(self) -> pd.Series | None:
        """The show's row."""
        found = self.shows[self.shows.show_id == self.show_id]
        return found.iloc[0] if len(found) else None

    @property
    def today(self) -> date:
        """The day on the wall, of which the night lasts until morning; in the demo tour every show has been."""
        return date.max if self.found.demo else night_of(datetime.now())  # noqa: DTZ005  # the clock on the wall

    @property
    def day(self) -> date:
        """Day to which runs and notes belong: the show's own, or today where that is still to come."""
        that = None if self.row is None else self.row.date.date()
        return that if that is not None and that <= self.today else date.today()  # noqa: DTZ011  # the day on the wall

    @property
    def to_log(self) -> int | None:
        """The show that is to be logged, whichever is looked at."""
        return to_log(self.tables, self.today)

    @property
    def differs(self) -> bool:
        """Whether a played set is saved that is not the planned one, said line by line."""
        return bool(len(self.played)) and as_lines(self.played) != as_lines(self.planned)

    def titles(self) -> list[str]:
        """Every title, those of the set first."""
        tonight_ = list(dict.fromkeys(self.plays.song))
        return [*tonight_, *(song for song in self.songs.song if song not in set(tonight_))]

    def offered(self) -> list[tuple[str, int]]:
        """Shows to write down: those with a planned set only, the latest first, then the latest others."""
        has_set = self.shows.show_id.isin(self.tables.planned.show_id)
        played = self.shows.show_id.isin(self.tables.plays.show_id)
        backwards = self.shows.iloc[::-1]
        open_, done, rest = (backwards[mask.iloc[::-1]] for mask in (has_set & ~played, played, ~has_set & ~played))
        ahead = rest.iloc[::-1].head(3)
        rows = pd.concat([open_.head(SHOWS), done.head(SHOWS), ahead])
        return [(named(row), int(row.show_id)) for row in rows.itertuples()]

    def song(self, typed: str) -> str:
        """Title of a song by its place in the set or by letters; two that fit are asked about, never guessed."""
        words = typed.strip()
        if not words:
            raise Problem("Say which song: its number in the set, or some letters of its title.")
        same = [song for song in self.songs.song if song.casefold() == words.casefold()]
        if len(same) == 1 or words in same:
            return words if words in same else str(same[0])
        if words.lstrip("#").isdigit():
            return self._at(int(words.lstrip("#")))
        for known in (self.songs[self.songs.song.isin(self.plays.song)], self.songs):
            match = index(known).match(words)
            if match.verdict == SURE and match.song:
                return match.song
            begin = [song for song in known.song if song.casefold().startswith(words.casefold())]
            if len(begin) == 1:
                return str(begin[0])
            if match.verdict == DOUBTFUL or begin:
                could = list(dict.fromkeys([*begin, *match.candidates]))
                raise Problem(f'"{words}" could be {listed(could)}. Type more of it, or its number in the set.')
        raise UnknownSongProblem.of(words, [])

    def several(self, typed: str) -> list[str]:
        """Titles of several songs: "1-5, 8, ferry"."""
        songs: list[str] = []
        for part in re.split(r"[,;\n]+", typed):
            span = re.fullmatch(r"\s*(\d+)\s*[-–]\s*(\d+)\s*", part)  # noqa: RUF001  # what telephones make of it
            if span:
                songs += [self._at(at) for at in range(int(span[1]), int(span[2]) + 1)]
            elif part.strip():
                songs.append(self.song(part))
        if not songs:
            raise Problem('Say which songs, as in "1-5, 8" or by letters of their titles.')
        return list(dict.fromkeys(songs))

    def place(self, song: str) -> str:
        """A song with its number in the set in front, if it has one."""
        at = self.numbered.position[self.numbered.song == song]
        return f"{at.iloc[0]} {song}" if len(at) else song

    def _at(self, position: int) -> str:
        titles = self.numbered.song[self.numbered.position == position]
        if not len(titles):
            dropped = self.planned.song[self.planned.position == position]
            if len(dropped):
                raise Problem(f'Song {position} of the sheet, "{dropped.iloc[0]}", was not played at this show.')
            has = f"its songs are 1 to {self.numbered.position.max()}" if len(self.plays) else "it has no set yet"
            raise Problem(f"This show has no song {position}: {has}.")
        return str(titles.iloc[0])

    def _of_show(self, plays: pd.DataFrame) -> pd.DataFrame:
        return plays[plays.show_id == self.show_id].sort_values("position").reset_index(drop=True)


def numbered(plays: pd.DataFrame, planned: pd.DataFrame) -> pd.DataFrame:
    """A set with the numbers of the printed sheet: a dropped song leaves a gap, an added one comes after.

    Examples
    --------
    >>> planned = pd.DataFrame({"song": ["Ferry", "Tin Rook", "Copper Wire"], "position": [1, 2, 3]})
    >>> played = pd.DataFrame({"song": ["Ferry", "Salt Road", "Copper Wire"], "position": [1, 2, 3]})
    >>> numbered(played, planned).position.tolist()
    [1, 4, 3]

    """
    if not len(planned):
        return plays
    left: dict[str, list[int]] = {}
    for song, position in zip(planned.song, planned.position, strict=True):
        left.setdefault(song, []).append(int(position))
    more = count(int(planned.position.max()) + 1)
    return plays.assign(position=[left[song].pop(0) if left.get(song) else next(more) for song in plays.song])


def is_logged(tables: Tour, show_id: object) -> bool:
    """Whether what was played at a show is saved."""
    return bool((tables.plays.show_id == show_id).any())


def named(show: pd.Series) -> str:
    """A show as a person looks for it."""
    second = f", show {show.number}" if show.number != 1 else ""
    place = ", ".join(str(name) for name in (show.city, show.venue) if isinstance(name, str))
    return f"{tables_shown.cell(show.date)}{second}: {place}"


def as_lines(plays: pd.DataFrame) -> list[str]:
    """A set as text: a title a line with what is said about it, the encore under its own line.

    Examples
    --------
    >>> said = {"remark": ["no click", None], "segue": [True, False]}
    >>> as_lines(pd.DataFrame({"song": ["Ferry", "Gravel Pylon"], "encore": [False, True], **said}))
    ['Ferry (no click) >', 'ENCORE', 'Gravel Pylon']

    """
    titles = [said_of(row) for row in plays.itertuples()]
    first = encore_from(plays)
    return titles if first is None else [*titles[: first - 1], ENCORE, *titles[first - 1 :]]


def said_of(row: Any) -> str:  # noqa: ANN401  # a row of a table, as pandas names it
    """A title as it would be typed: with its remark behind it, and a sign where it goes straight on."""
    remark = getattr(row, "remark", None)
    said = f" ({remark})" if isinstance(remark, str) and remark.strip() else ""
    said = said.replace(" (", " - ", 1)[:-1] if said and set("()") & set(str(remark)) else said
    return f"{row.song}{said}{' >' if getattr(row, 'segue', False) is True else ''}"


def encore_from(plays: pd.DataFrame) -> int | None:
    """Place of the first song of the encore, from 1."""
    marked = plays.encore.fillna(value=False).astype(bool).tolist()
    return marked.index(True) + 1 if any(marked) else None
