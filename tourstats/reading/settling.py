"""What is open in a set, what each line may be, and the answers put in their places."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from typing import Any

import pandas as pd

from tourstats.problems import Problem, listed, there_are
from tourstats.reading.account import LEFT_OUT, NEW, SKIP, SONG, Piece, account_of
from tourstats.reading.findings import read_like_findings
from tourstats.reading.songs import SAID_NEW
from tourstats.reading.titles import UNKNOWN

_LIKELY = 75
"""Likeness (0 to 100) from which the nearest title is proposed."""
_UNDECIDED = (
    "not decided yet", "one or the other", "not understood", "reads like a correction", "in brackets", "stands twice",
    "an arrow: goes into the next, or changed for it", "a slash: both, or one of the two",
    "behind a dash: a song, or said of the one before", "names a song, and was left out",
)  # fmt: skip
"""Reasons to ask to which nobody but the musician knows the answer."""
_BEGINS_LARGE = r"[(\[](?:[A-ZÀ-Þ][a-zà-ÿ]+[)\]]|(?:[A-ZÀ-Þ][a-zà-ÿ]* )+[A-ZÀ-Þ])"
"""Brackets that are written as titles are."""
_MAY_BE_MORE = r"(?i)\s[-\u2013\u2014/>]\s|\d\s?[ap]m\b|\d[:h]\d\d\b|^\W*(?:tb[acd]|something.*|any.*|song \d*)\W*$"
"""Signs within a title, an hour and words for a song that nobody has chosen."""
TAKE = "take"
"""The answer that takes a set as it is proposed."""
ORDER = "order"
"""Key under which the order of the songs is answered, where the paper leaves it open."""


@dataclass(frozen=True)
class Settled:
    """A set that is ready to be written.

    Attributes
    ----------
    titles
        Songs in order, for `Diary.write_set`.
    encore_from
        Position of the first song of the encore, from 1; None if there is none.
    new
        Titles that have to be added to the repertoire first.
    remarks, segues
        Of each song: what is said about it, and whether it goes straight into the next.
    aliases
        Bare words that were asked about, and the song that each means from now on.
    account
        Every piece of the set, as `account_of` gives it, its songs as they were settled.

    """

    titles: list[str]
    encore_from: int | None
    new: list[str]
    remarks: list[str] = field(default_factory=list)
    segues: list[bool] = field(default_factory=list)
    aliases: dict[str, str] = field(default_factory=dict)
    account: pd.DataFrame = field(default_factory=lambda: account_of([]), compare=False)


def choices(line: Any) -> list[tuple[str, str]]:  # noqa: ANN401  # a row of a table, as pandas names it
    """What an open line of a set may be: the words to offer, and the answer that `settled` takes, nearest title first.

    Parameters
    ----------
    line
        A row of `read_set`, by names.

    Examples
    --------
    >>> from tourstats.reading.sets import read_set
    >>> choices(next(read_set("Copper", ["Copper Wire", "Copper Trivet"]).itertuples()))
    [('Copper Wire', 'Copper Wire'), ('Copper Trivet', 'Copper Trivet'), ('a new song: Copper', 'new'),
     ('leave it out', 'skip')]

    """
    near = [(title, title) for title in line.candidates]
    return [*near, (f"a new song: {line.as_new}", NEW), ("leave it out", SKIP)]


def proposed(line: Any) -> str:  # noqa: ANN401  # a row of a table, as pandas names it
    r"""The answer that is proposed to an open line: a title that is near, new where none is; empty where people know.

    Examples
    --------
    >>> from tourstats.reading.sets import read_set
    >>> songs = ["Copper Wire", "Copper Trivet", "Wren"]
    >>> [proposed(line) for line in read_set("Copper\nTin Moth\nmaybe Wren", songs).itertuples()]
    ['Copper Wire', 'new', '']

    """
    if line.why in _UNDECIDED:
        return ""
    if not len(line.candidates):
        return NEW
    return str(line.candidates[0]) if line.score >= _LIKELY else ""


def accepted(lines: pd.DataFrame) -> dict[int | str, str]:
    """The answers of somebody who takes all that is proposed; what nothing is proposed for stays open."""
    answers: dict[int | str, str] = {
        int(line.position): answer for line in open_lines(lines).itertuples() if (answer := proposed(line))
    }
    ways = list(lines.attrs.get(ORDER) or {})
    return answers | ({ORDER: ways[0]} if ways else {})


class NoSetProblem(Problem):
    """What was given for a set is none."""

    @classmethod
    def unless_a_set(cls, lines: pd.DataFrame) -> None:
        """Raise where there is no song in it, or where its lines tell of a show that was played."""
        if not len(lines):
            raise cls("There is no song in that set. Give one song a line, in the order of the set.")
        if not lines.sure.any() and read_like_findings(lines.as_typed.tolist()):
            raise cls(
                "These lines read like findings of a show that was played, not like a set; nothing is saved. Findings "
                "go in on the page After the show, by the places of its set. If they are songs, number them in order."
            )


class OpenLinesProblem(Problem):
    """Lines of a set are not settled: rows of `read_set` in `lines`; `order` and `asks` as in its attrs."""

    lines: pd.DataFrame
    order: dict[str, str]
    asks: str

    @classmethod
    def of(
        cls, lines: pd.DataFrame, order: Mapping[str, str] | None = None, asks: str = "The order of the songs"
    ) -> OpenLinesProblem:
        """List every open line with the nearest titles, by the position under which it is answered."""
        items = [
            f'- song {row.position} (line {row.line}), "{row.as_typed}"{f" ({row.why})" if row.why else ""}: '
            + (f"perhaps {listed(row.candidates)}" if len(row.candidates) else "not in the repertoire")
            for row in lines.itertuples()
        ]
        parts = []
        if items:
            todo = "Give each a title of the repertoire, say that it is new, or skip it."
            parts += [f"{there_are(len(items), 'line')} not settled. {todo}", *items]
        if order:
            ways = "; ".join(f"{ORDER}={answer}: {words}" for answer, words in order.items())
            parts += [f"{asks} is not settled. {ways}."]
        problem = cls("\n".join(parts))
        problem.lines, problem.order, problem.asks = lines, dict(order or {}), asks
        return problem


def open_lines(lines: pd.DataFrame, answered: Iterable[object] = ()) -> pd.DataFrame:
    r"""Rows of a set that somebody has to be asked about.

    A song that is said to be new, and near to none that is known, is new.

    Examples
    --------
    >>> from tourstats.reading.sets import read_set
    >>> open_lines(read_set("Fery\nNEW: Gravel Pylon\nTin Moth", ["Ferry", "Copper Wire"])).as_typed.tolist()
    ['Tin Moth']

    """
    new = (lines["verdict"] == UNKNOWN) & (lines["why"] == SAID_NEW)
    return lines[~lines["sure"].astype(bool) & ~new & ~lines["position"].isin(list(answered))]


def first_day(lines: pd.DataFrame) -> dict[int | str, str]:
    """Answers where the repertoire is empty: there is nothing to mistake a title for, so that every song is new.

    A line in small letters, or with two marks of exclamation, is asked about where the others are not written so; and
    so are brackets that begin large and may be the title's own, a title that may be two or none, and what stands alone.
    """
    plain = (lines["verdict"] == UNKNOWN) & lines["why"].isin(["", SAID_NEW])
    loud = lines.as_typed.str.contains(r"!!|\?\?")
    small = lines.as_new.str.extract(r"([^\W\d_])", expand=False).str.islower().fillna(value=False).astype(bool)
    plain &= ~(lines.as_typed.str.contains(_BEGINS_LARGE) & lines.remark.ne(""))
    plain &= ~(lines.as_new.str.contains(_MAY_BE_MORE) | _all_alone(lines))
    for odd in (loud, small):
        plain &= ~odd | (4 * odd.sum() > len(lines))
    return dict.fromkeys(lines.position[plain].tolist(), NEW)


def _all_alone(lines: pd.DataFrame) -> pd.Series:
    """Whether a line stands apart from those before and behind it, in a set whose lines follow each other."""
    gap = lines.line.diff()
    apart = (gap > 1) | gap.isna()
    alone = apart & apart.shift(-1, fill_value=True)
    return alone & ~lines.encore & (2 * (gap == 1).sum() >= len(lines) - 1)


def settled(lines: pd.DataFrame, answers: Mapping[Any, str] | None = None) -> Settled:
    r"""Put the answers to the open lines of a set in their places.

    Parameters
    ----------
    lines
        As `read_set` gives them.
    answers
        For positions: a title, `"new"` for a new song called as it was typed, `"new: Title"` for one called
        otherwise, or `"skip"` to leave the line out. An answer overrides a sure match. For `"order"`, where it is
        open: one of `lines.attrs["order"]`.

    Raises
    ------
    OpenLinesProblem
        Lists the lines that are still open.

    Examples
    --------
    >>> from tourstats.reading.sets import read_set
    >>> lines = read_set("Fery Cross (no click)\n2. Gravel Pylon", ["Ferry", "Copper Wire"])
    >>> ready = settled(lines, {1: "Ferry", 2: "new"})
    >>> ready.titles, ready.new, ready.remarks
    (['Ferry', 'Gravel Pylon'], ['Gravel Pylon'], ['no click', ''])

    """
    answers = dict(answers or {})
    order, places = lines.attrs.get(ORDER) or {}, lines.attrs.get("places") or {}
    way = str(answers.pop(ORDER, "")).strip().casefold()
    given = {int(position): str(answer).strip() for position, answer in answers.items() if _is_answer(answer)}
    _settle_or_raise(lines, open_lines(lines, given), {} if way in order else order)
    ready = Settled([], None, [])
    encore_from = None
    titles: dict[int, str | None] = dict.fromkeys(lines.position)
    for row in lines.iloc[places[way]].itertuples() if order else lines.itertuples():
        answer = given.get(int(row.position))
        if answer is not None and answer.casefold() == SKIP:
            continue
        if answer is None and not row.sure:
            answer = NEW
        title, is_new = (str(row.song), False) if answer is None else _answered(answer, str(row.as_new))
        titles[int(row.position)] = title
        ready.titles.append(title)
        ready.remarks.append(str(row.remark))
        ready.segues.append(bool(row.segue))
        if is_new and title not in ready.new:
            ready.new.append(title)
        elif answer is not None and row.short and not is_new:
            ready.aliases[str(row.short)] = title
        if row.encore and encore_from is None:
            encore_from = len(ready.titles)
    pieces = _settled_pieces(lines.attrs["account"], titles.values())
    return replace(ready, encore_from=encore_from, account=account_of(pieces))


def _settle_or_raise(lines: pd.DataFrame, still: pd.DataFrame, order: Mapping[str, str]) -> None:
    """Ask about the lines that are still open, and about the order, if it is."""
    if len(still) or order:
        asks = lines.attrs["asks"]
        if TAKE in order:
            asks += f" ({'; '.join(f'{row.position} {row.as_typed}' for row in lines.itertuples())})"
        raise OpenLinesProblem.of(still, order, asks)


def _settled_pieces(pieces: Iterable[Piece], titles: Iterable[str | None]) -> Iterator[Piece]:
    """The account of a set with each song as it was settled: the title that it got, or left out."""
    left = iter(titles)
    for piece in pieces:
        title = next(left) if piece.taken_as == SONG else None
        if title is not None:
            yield replace(piece, song=title, sure=True)
        else:
            yield replace(piece, taken_as=LEFT_OUT) if piece.taken_as == SONG else piece


def _is_answer(answer: object) -> bool:
    return isinstance(answer, str) and bool(answer.strip())


def _answered(answer: str, as_new: str) -> tuple[str, bool]:
    """Title of an answer, and whether it is new."""
    if answer.casefold() == NEW:
        return as_new, True
    word, colon, title = answer.partition(":")
    if colon and word.strip().casefold() == NEW and title.strip():
        return title.strip(), True
    return answer, False
