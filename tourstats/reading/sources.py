"""What somebody brought, read whole: what it is, what is in it, what every piece was taken for, and what is open."""

# ruff: noqa: E501, RUF001  # a question is read in one piece; the signs that people type are meant
from __future__ import annotations

import os
import re
from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from typing import Any

import pandas as pd

from tourstats import tables as columns_
from tourstats.problems import counted, listed
from tourstats.reading import account as account_
from tourstats.reading import one_kind
from tourstats.reading.account import NEW, SKIP, Piece, account_of
from tourstats.reading.again import There, matched
from tourstats.reading.asking import QUESTIONS, Asking, table_of
from tourstats.reading.blocks import ONE_SET
from tourstats.reading.cells import plain_signs, shown, tight
from tourstats.reading.days import day_in
from tourstats.reading.files import Source, bytes_of, cuts
from tourstats.reading.files import source as opened_source
from tourstats.reading.histories import Place, Whole, comes_again
from tourstats.reading.known import Known, known
from tourstats.reading.layout import Night, Spot
from tourstats.reading.people import COUNTS, PEOPLE, kind_of_people, read_counts, read_people, sheets_of_people
from tourstats.reading.places import room_of
from tourstats.reading.sets import read_set
from tourstats.reading.settling import ORDER, choices, first_day, open_lines, proposed
from tourstats.reading.titles import fold
from tourstats.reading.whole import Best, sets_in

SETS, ONE = "sets of several shows", "one set"
KINDS = (SETS, ONE, *one_kind.KINDS, PEOPLE, COUNTS)
"""What may be brought."""
_MAY_BE_SETS = ("songs", "venues", "shows", "notes")
"""Tables that are taken for such only if nothing in them comes again from show to show."""
MOST_IN_A_SET = 45
"""Lines without any day beyond which a list is taken for the repertoire. Common practice, no source."""
_MARK, _COUNT = re.compile(r"^\s*(?:[-*•–·+‣]|[\u2190-\u2bff]|\[[ xX]?\])\s+"), re.compile(r"^\d{1,3}[.):]?\s+")


@dataclass(frozen=True)
class Pasted:
    """Text or bytes that were pasted, sent or chosen, with the name that they have."""

    data: str | bytes
    name: str = "pasted text"


@dataclass(frozen=True)
class Reading:
    """What was read. Nothing of it is written yet.

    Attributes
    ----------
    name, kind, how
        Of the file; one of `KINDS`, or empty if nothing was found; the shape it was read in.
    account
        One row per piece, as in `account.account_of`.
    shows
        One row per show in the order of the file: as `tables.Shows`, show_id from 1, and `file`, `sheet`, `row`.
    plays
        One row per song of a show: as `tables.Plays`, with `as_typed` and `row`.
    songs
        One row per title: song (str), times (int), spellings (str: each with how often), new (bool).
    questions
        One row per open question, as in `asking.QUESTIONS`; shows, plays and songs are as proposed.
    rows
        The rows, if it is a table of another kind; of a file of sets, what its columns say of songs, as `tables.Songs`.
    there
        For each show_id: what the tour has of it already, as `again.matched` gives it.
    lines
        As `read_set` gives them, if it is one set.
    text
        The text itself, if it is one.

    """

    name: str
    kind: str
    how: str = ""
    account: pd.DataFrame = field(default_factory=lambda: account_of([]))
    shows: pd.DataFrame = field(default_factory=lambda: _show_frame([]))
    plays: pd.DataFrame = field(default_factory=lambda: _play_frame([]))
    songs: pd.DataFrame = field(default_factory=lambda: pd.DataFrame(columns=["song", "times", "spellings", "new"]))
    questions: pd.DataFrame = field(default_factory=lambda: table_of([]))
    rows: pd.DataFrame = field(default_factory=pd.DataFrame)
    there: dict[Any, There] = field(default_factory=dict)
    lines: pd.DataFrame | None = None
    text: str | None = None

    @property
    def proposal(self) -> dict[str, str]:
        """The answer that is proposed to each open question; a question without one is not in it."""
        return {str(one.key): str(one.proposal) for one in self.questions.itertuples() if one.proposal}

    @property
    def open(self) -> pd.DataFrame:
        """Questions that nothing is proposed for: they have to be answered."""
        return self.questions[self.questions["proposal"] == ""]

    def said(self) -> list[str]:
        """Say in a few lines what is in it, what was left out, and which songs are new or were merged."""
        if self.kind not in (SETS, ONE):
            rest = listed(self.rows.attrs.get("left_out", []))
            lost = [f"Left out, as {self.kind} have no such column: {rest}"] if rest else []
            return [f"{counted(len(self.rows), 'row')} of {self.kind}", *lost] if len(self.rows) else []
        return [
            *account_.said(self.account, len(self.shows), self.plays.song if self.kind == SETS else None),
            *_songs_said(self.songs),
        ]


def read(
    source: str | os.PathLike[str] | Pasted | Source,
    tour: Any = None,  # noqa: ANN401  # a Tour, or tables by those names
    *,
    songs: Any = None,  # noqa: ANN401  # a table of songs, or titles
    answers: Mapping[str, object] | None = None,
    kind: str | None = None,
    stage: str = "played",  # a Tour, or tables by those names
) -> Reading:
    r"""Read whatever somebody brought. Nothing is written.

    Parameters
    ----------
    source
        A path, something pasted, or a file that is open already.
    tour
        What is known: its songs, shows and venues.
    songs
        The repertoire alone, in the place of a tour.
    answers
        To questions of an earlier reading, by key.
    kind
        One of `KINDS`; None to find out.
    stage
        Whether the sets were "played" or "planned", to compare them with what the tour has.

    Raises
    ------
    FileProblem
        If it cannot be opened at all.

    Examples
    --------
    >>> text = "4 March 2031, Ostby\n1. Salt Lantern\n2. Tin Moth\n\n5 March 2031, Oxmere\n1. Tin Moth\n2. Salt Lantern\n3. Quill"
    >>> found = read(Pasted(text))
    >>> found.kind, len(found.shows), len(found.plays), found.questions.key.tolist()
    ('sets of several shows', 2, 5, [])

    """
    asking = Asking({key: str(answer) for key, answer in (answers or {}).items()})
    opened = _opened(source, asking)
    what = known(tour, songs)
    opened = _without_people(opened)
    kind = kind or (asking.answers.get("kind") if asking.answers.get("kind") in KINDS else None)
    told = kind or kind_of_people(opened) or one_kind.kind_of(opened)
    apart = asking.apart()
    best = sets_in(opened, apart, what, _this_year()) if told in (None, SETS) or _may_be_sets(opened, told) else None
    if kind is None and best is not None and comes_again(best.whole):
        told = None
    if told in (PEOPLE, COUNTS):
        reader = read_people if told == PEOPLE else read_counts
        rows, problems = reader(opened, getattr(tour, "shows", None), asking.answers)
        return Reading(opened.name, told, rows=rows, questions=_with_proposals(problems))
    if told in one_kind.KINDS and not (told == "songs" and _plain_list(opened)):
        rows, problems = one_kind.read_table(
            *(opened, told, getattr(tour, "shows", None), getattr(tour, "songs", None) if songs is None else songs),
            answers=asking.answers,
        )
        return Reading(opened.name, told, rows=rows, questions=_with_proposals(problems))
    few = best is not None and (
        len(best.whole.nights) <= _FEW_SHOWS or len(best.whole.places) < _FEWEST_SONGS * len(best.whole.nights)
    )
    if kind is None and few and _is_prose(opened):
        return _nothing(opened, asking)
    if told in (None, SETS) and best is not None and best.whole.draft.how != ONE_SET:
        asking.take(apart)
        return _sets(opened, best, asking, what, tour, stage)
    if told == SETS or (kind is None and _is_prose(opened)):
        return _nothing(opened, asking)
    return _list(opened, told, asking, _songs_of(tour, songs))


def read_history(
    path: str | os.PathLike[str],
    songs: pd.DataFrame | Iterable[str] | None = None,
    *,
    answers: Mapping[str, object] | None = None,
) -> tuple[pd.DataFrame, pd.DataFrame, pd.DataFrame]:
    r"""Read the sets of many shows from one file. Nothing is written.

    Parameters
    ----------
    path
        The file: a table with a row a song, a column or a row a show, blocks of text, messages, a sheet a show; CSV
        with any usual separator, a spreadsheet, a document, plain text.
    songs
        The repertoire, to which titles are matched. Without it the file's own titles are grouped.
    answers
        Decisions on the problems of an earlier reading, by their `key`.

    Returns
    -------
    shows
        One row per show in the order of the file, as `tables.Shows`; show_id from 1, and `file`, `sheet` and `row`.
    plays
        One row per song played, as `tables.Plays`, with `as_typed` and `row`. `attrs["ignored"]` lists what was not
        read, as (sheet, row, text, why).
    problems
        One row per question, with columns key, file, sheet, row, column, value, problem, todo, candidates, proposal,
        and `blocking`: whether it has to be answered before anything is written.

    Raises
    ------
    FileProblem
        If the file cannot be opened at all.

    Examples
    --------
    >>> from pathlib import Path
    >>> from tempfile import TemporaryDirectory
    >>> with TemporaryDirectory() as folder:
    ...     file = Path(folder) / "sets.csv"
    ...     text = "date,town,song\n2031-03-04,Ostby,Salt Lantern\n2031-03-04,Ostby,Tin Mot\n2031-03-04,Ostby,Quill\n"
    ...     kept = file.write_text(text, encoding="utf-8")
    ...     shows, plays, problems = read_history(file, ["Salt Lantern", "Tin Moth", "Quill"])
    >>> shows[["show_id", "date", "city"]]
       show_id       date   city
    0        1 2031-03-04  Ostby
    >>> plays[["show_id", "position", "song"]]
       show_id  position          song
    0        1         1  Salt Lantern
    1        1         2      Tin Moth
    2        1         3         Quill
    >>> len(problems)
    0

    """
    found = read(path, songs=songs, answers=answers, kind=SETS)
    left = found.account[~found.account.taken_as.isin([account_.SONG, "day", "number"])]
    found.plays.attrs["ignored"] = list(
        left[["sheet", "row", "as_typed", "taken_as"]].itertuples(index=False, name=None)
    )
    return found.shows, found.plays, found.questions


# ------------------------------------------------------------------------------------------------ opening


def _opened(source: str | os.PathLike[str] | Pasted | Source, asking: Asking) -> Source:
    if isinstance(source, Source):
        return source
    if isinstance(source, Pasted):
        data = source.data.encode("utf-8", "replace") if isinstance(source.data, str) else source.data
        return opened_source(source.name, data, asking)
    name, data = bytes_of(source)
    return opened_source(name, data, asking)


def _without_people(source: Source) -> Source:
    """A workbook without its sheets of people, if it has others: they are not read beside sets."""
    people = sheets_of_people(source) if len(source.sheets) > 1 else []
    if not people or len(people) == len(source.sheets):
        return source
    return replace(source, sheets=[one for one in source.sheets if one.name not in people], apart=people)


def _may_be_sets(source: Source, told: str) -> bool:
    return told in _MAY_BE_SETS and not one_kind.surely(source, told)


def _songs_of(tour: Any, songs: Any) -> Any:  # noqa: ANN401  # as `read` takes them
    found = getattr(tour, "songs", None) if songs is None else songs
    return found if found is not None and len(found) else None


def _plain_list(source: Source) -> bool:
    return source.text is not None and not source.sheets and not cuts(source.text)


def _this_year() -> int:
    return date.today().year  # noqa: DTZ011  # the day on the wall


def _with_proposals(problems: pd.DataFrame) -> pd.DataFrame:
    """Questions of a table, each with the columns of `asking.QUESTIONS`."""
    return problems.reindex(columns=list(QUESTIONS)).fillna({"proposal": "", "sheet": "", "column": ""})


# ------------------------------------------------------------------------------------------------ sets of several shows


def _sets(source: Source, best: Best, asking: Asking, what: Known, tour: Any, stage: str) -> Reading:  # noqa: ANN401  # as `read` takes it
    whole = best.whole
    rooms = {at: _room(night, asking) for at, night in enumerate(whole.nights)}
    on_sheet = Counter(night.at.sheet for night in whole.nights)
    shows = [
        _show(source, night, at, rooms[at], several=on_sheet[night.at.sheet] > 1)
        for at, night in enumerate(whole.nights)
    ]
    plays: list[tuple[object, ...]] = [
        (
            one.night + 1,
            one.position,
            one.song,
            one.encore,
            one.written.remark or one.item.remark,
            one.segue or one.item.segue,
            one.item.text,
            one.item.at.row,
        )
        for one in whole.places
    ]
    facts, columns = one_kind.of_songs(
        best.view.sheets, [(one.song, one.item.at.sheet, one.item.at.row) for one in whole.places]
    )
    for spot, taken in whole.draft.account.items():
        if (spot.sheet, spot.column) in columns and taken.taken_as == account_.LEFT_OUT:
            whole.draft.account[spot] = taken._replace(taken_as="remark", why="said of the song")
    account = account_of(_pieces(source, best))
    show_frame, play_frame = _show_frame([show for show in shows if show["date"] is not None]), _play_frame(plays)
    play_frame = play_frame[play_frame.show_id.isin(show_frame.show_id)].reset_index(drop=True)
    theirs = getattr(tour, "plays" if stage == "played" else "planned", None)
    there = matched(show_frame, play_frame, getattr(tour, "shows", None), theirs, asking)
    return Reading(
        source.name, SETS, whole.draft.how, account, show_frame, play_frame, _song_frame(whole, what),
        table_of(asking.open.values(), source.name), facts, there, text=source.text,
    )  # fmt: skip


def _show(source: Source, night: Night, at: int, room: str | None, *, several: bool) -> dict[str, object]:
    """One show; the sheet that holds several names a leg."""
    said = night.said
    leg = said.get("leg") or (_leg_of(night.at.sheet) if several else None)
    return {
        "show_id": at + 1, "date": night.day, "number": night.number or 1, "leg": leg, "venue": said.get("venue"), "city": said.get("city"),
        "room": room, "file": source.name, "sheet": night.at.sheet, "row": night.at.row,
    }  # fmt: skip


def _leg_of(sheet: str) -> str | None:
    """Name of the sheet, where it is neither a day nor what a program calls a first sheet."""
    plain = re.fullmatch(
        r"(?:sheet|table|tabelle|feuille|hoja|blatt|arkusz|list|setlists?|sets|shows?|history|data)?[\s_-]?\d*",
        sheet,
        re.IGNORECASE,
    )
    return None if not sheet or plain or day_in(sheet) is not None else sheet


def _room(night: Night, asking: Asking) -> str | None:
    text = night.said.get("room")
    if not text:
        return None
    answer = str(asking.answers.get(f"room: {text}", "")).strip().lower()
    return room_of(text) or (answer if answer in columns_.ROOMS else None)


def _pieces(source: Source, best: Best) -> Iterable[Piece]:
    """What every spot of the file was taken for; sheets of people are named, and not what stands in them."""
    whole, texts = best.whole, best.view.texts()
    for name in source.apart:
        why = "holds people, and is taken only from a file of its own"
        yield Piece(1, 1, f"sheet {name}", account_.LEFT_OUT, why=why, file=source.name, sheet=name)
    songs: dict[Spot, list[Place]] = defaultdict(list)
    for one in whole.places:
        songs[one.item.at].append(one)
    for spot, places in songs.items():
        titles = "; ".join(one.song for one in places)
        typed = texts.get(spot) or "; ".join(one.item.text for one in places)
        yield Piece(
            spot.row,
            max(1, spot.column),
            typed,
            account_.SONG,
            titles,
            all(one.written.sure for one in places),
            "",
            source.name,
            spot.sheet,
        )
    for spot, taken in whole.draft.account.items():
        if spot not in songs and (spot in texts or spot.column > 1):
            yield Piece(
                spot.row,
                max(1, spot.column),
                texts.get(spot, ""),
                taken.taken_as,
                why=taken.why,
                sure=taken.taken_as != account_.NOT_UNDERSTOOD,
                file=source.name,
                sheet=spot.sheet,
            )


def _song_frame(whole: Whole, what: Known) -> pd.DataFrame:
    """One row per title: how often, in which spellings, and whether the repertoire lacks it."""
    spelt: dict[str, Counter[str]] = defaultdict(Counter)
    for one in whole.places:
        spelt[one.song][one.written.raw] += 1
    rows = [
        {"song": song, "times": count.total(), "spellings": ", ".join(f"{text} ({times})" for text, times in count.most_common()),
         "merged": len({tight(text) for text in count}) > 1, "new": what.titles is None or song not in what.titles.names}
        for song, count in spelt.items()
    ]  # fmt: skip
    return pd.DataFrame(rows, columns=["song", "times", "spellings", "merged", "new"])


def _songs_said(songs: pd.DataFrame) -> list[str]:
    """Say which songs are new and which were merged, with how often each spelling stands there."""
    if not len(songs) or "merged" not in songs:
        return []
    lines = []
    new = songs[songs.new]
    if len(new) and len(new) < len(songs):
        lines.append(
            f"{counted(len(new), 'new song')}: {listed([f'{one.song} ({one.times})' for one in new.itertuples()], 12)}".replace(
                '"', ""
            )
        )
    merged = songs[songs.merged]
    lines += [f"{one.song}: {one.spellings}" for one in merged.itertuples()]
    once = songs[songs.times == 1]
    if len(once) and len(once) <= 0.5 * len(songs):
        lines.append(
            f"{len(once)} stand{'s' if len(once) == 1 else ''} once: {listed(once.song.tolist(), 12)}".replace('"', "")
        )
    return lines


def _show_frame(shows: list[dict[str, object]]) -> pd.DataFrame:
    names = ("show_id", "date", "number", "leg", "venue", "city", "room", "file", "sheet", "row")
    frame = pd.DataFrame(shows, columns=list(names))
    frame["date"] = pd.Series(frame["date"].to_list(), dtype=columns_.DATE)
    for name in ("leg", "venue", "city", "room", "file", "sheet"):
        frame[name] = frame[name].astype("str")
    return frame.astype({"show_id": "int64", "number": "int64", "row": "int64"})


def _play_frame(plays: list[tuple[object, ...]]) -> pd.DataFrame:
    frame = pd.DataFrame(plays, columns=["show_id", "position", "song", "encore", "remark", "segue", "as_typed", "row"])
    return frame.astype(
        {
            "show_id": "int64",
            "position": "int64",
            "song": "str",
            "encore": bool,
            "remark": "str",
            "segue": bool,
            "as_typed": "str",
            "row": "int64",
        }
    )


# ------------------------------------------------------------------------------------------------ one set, or a list of songs


def _ask_when_and_where(asking: Asking) -> None:
    """Ask for the day and the town of a set that names neither."""
    yesterday = str(date.today() - timedelta(days=1))  # noqa: DTZ011  # the day on the wall
    asking.choose(
        "day",
        "No day is written in it: which show is it?",
        (yesterday,),
        yesterday,
        todo='Answer with the day, as 2031-03-04; a list of the repertoire with "kind=songs".',
        free=True,
    )
    asking.choose("city", "In which city was it?", ("not said",), "not said", todo="Answer with the city.", free=True)


def _list(source: Source, kind: str | None, asking: Asking, songs: Any) -> Reading:  # noqa: ANN401  # as `read` takes them
    """One set without a day, or a plain list of the repertoire."""
    lines, above = _without_heading(_lines(source))
    if not any(line.strip() for line in lines):
        return _nothing(source, asking)
    if kind not in (ONE, "songs"):
        kind = ONE if sum(bool(line.strip()) for line in lines) <= MOST_IN_A_SET else "songs"
    if kind == "songs":
        _ask_about_list(source.name, lines, asking)
    text = "\n".join(lines)
    rows = read_set(text, songs if songs is not None else [])
    if not len(rows):
        _ask_nothing(source, asking)
    if kind == "songs":
        rows = _whole_titles(rows, lines)
    fresh = first_day(rows) if songs is None or kind == "songs" else {}
    for row in open_lines(rows, fresh).itertuples():
        _ask_line(row, asking)
    order = rows.attrs.get(ORDER) or {}
    if order:
        asking.choose(
            ORDER, f"{rows.attrs['asks']} is open: {'; '.join(order.values())}.", tuple(order), next(iter(order))
        )
    if kind == ONE and len(rows):
        _ask_when_and_where(asking)
    account = rows.attrs.get("account")
    table = account if isinstance(account, pd.DataFrame) else account_of([*above, *_line_pieces(rows)])
    return Reading(
        source.name,
        kind,
        ONE_SET,
        table,
        questions=table_of(asking.open.values(), source.name),
        rows=rows,
        lines=rows,
        text=text,
    )


def _without_heading(lines: list[str]) -> tuple[list[str], list[Piece]]:
    """A line that stands apart above one long block of others is what the list is called."""
    full = [at for at, line in enumerate(lines) if line.strip()]
    apart = len(full) > 8 and full[1] > full[0] + 1 and full[-1] - full[1] == len(full) - 2
    again = apart and any(tight(lines[full[0]]) == tight(lines[at]) for at in full[1:])
    if not apart or again:
        return lines, []
    heading = lines[full[0]]
    piece = Piece(full[0] + 1, 1, heading, "heading", why="apart above the list")
    return ["" if at == full[0] else line for at, line in enumerate(lines)], [piece]


def _whole_titles(rows: pd.DataFrame, lines: list[str]) -> pd.DataFrame:
    """A list of the repertoire holds titles: what stands behind one is its own, unless it stands behind many."""
    tails = Counter(rows.remark[rows.remark != ""])
    often = max(3, 0.1 * len(rows))
    alone = ~rows.line.duplicated(keep=False) & ~rows.sure & (rows.remark.map(tails).fillna(0) < often)
    texts = [_MARK.sub("", plain_signs(lines[line - 1])).strip() for line in rows.line]
    counted = sum(bool(_COUNT.match(text)) for text in texts) > 0.5 * len(texts)
    titles = [_COUNT.sub("", text) if counted else text for text in texts]
    kept = rows.assign(
        as_new=rows.as_new.where(~alone, pd.Series(titles, index=rows.index)),
        remark=rows.remark.where(~alone, ""), encore=False, segue=False,
    )  # fmt: skip
    kept.attrs = rows.attrs
    return kept


def _ask_about_list(name: str, lines: list[str], asking: Asking) -> None:
    """Ask whether lines are a list of songs where days stand among them, or lines that come again, as in sets."""
    often = Counter(form for line in lines if (form := tight(line)))
    again = sum(times for times in often.values() if times > 1)
    days = [line.strip() for line in lines if (day := day_in(line)) is not None and day.full]
    code = sum(line.rstrip().endswith((";", "{", "}", "},")) for line in lines)
    why = []
    if days:
        why.append(f'days stand in it (the first: "{days[0][:60]}")')
    if again > 0.1 * often.total():
        why.append(f"{again} of its {often.total()} lines come again")
    if code > 0.3 * often.total():
        why.append("its lines end as those of a program do")
    if why:
        asking.confirm("list", f"{name} was read as a list of songs, yet {' and '.join(why)}: no show was found in it.")


def _is_prose(source: Source) -> bool:
    """Whether a long text is written in sentences, or for a machine: neither one set nor a list of songs has such lines."""
    full = [line for line in source.lines() if line.strip()]
    machine = sum(_FOR_A_MACHINE.match(line) is not None for line in full)
    sentences, long = (sum(len(line.split()) > words for line in full) for words in (8, 12))
    return (len(full) > 12 and 2 * sentences > len(full)) or (len(full) > 40 and 4 * (long + machine) > len(full))


_FEW_SHOWS, _FEWEST_SONGS = 2, 3
"""Shows of a long text, and songs of each, up to which its days may be those of something else."""
_FOR_A_MACHINE = re.compile(r"\s*[\w.\"-]+\s*=\s*\S|\s*(?:def|class|import|from)\s\w|\s*[{}\[\]]|\|[-: |]+\|")
"""Lines of a program or its settings, and rules of a table of signs."""


def _ask_nothing(source: Source, asking: Asking) -> None:
    asking.choose(
        "nothing", f"No show was found in {source.name}{': it reads like a text, not like sets' if _is_prose(source) else ''}.", (), "",
        todo="Give each show a day and each song a row, and name the columns date and song.",
    )  # fmt: skip


def _nothing(source: Source, asking: Asking) -> Reading:
    _ask_nothing(source, asking)
    return Reading(source.name, "", questions=table_of(asking.open.values(), source.name))


def _ask_line(row: Any, asking: Asking) -> None:  # noqa: ANN401  # a row of a table, as pandas names it
    offers = [answer for _, answer in choices(row)]
    asking.choose(f"line {row.position}", f'"{row.as_typed}" may not be in the repertoire.', offers, proposed(row),
                  todo=f'Answer with the title, "{NEW}" for a new song, or "{SKIP}" to leave it out.', free=True, value=row.as_typed)  # fmt: skip


def _line_pieces(rows: pd.DataFrame) -> Iterable[Piece]:
    for row in rows.itertuples():
        yield Piece(int(row.line), 1, row.as_typed, account_.SONG, row.song if row.sure else None, bool(row.sure))
    for line, text, why in rows.attrs.get("ignored", ()):
        if str(text).strip():
            yield Piece(int(line), 1, str(text), "encore mark" if why == "encore" else "heading", why=str(why))


def _lines(source: Source) -> list[str]:
    """Lines of a text, or the column of titles of a table."""
    if source.text is not None and not source.sheets:
        lines = source.lines()
        first = next((at for at, line in enumerate(lines) if line.strip()), 0)
        head = bool(lines) and fold(lines[first]) in ("song", "songs", "title", "titles", "titel", "titre")
        return ["", *lines[first + 1 :]] if head else lines
    for sheet in source.sheets:
        by: dict[int, list[str]] = defaultdict(list)
        for (_, column), value in sorted(sheet.cells.items()):
            by[column].append(shown(value))
        if by:
            best = max(by.values(), key=lambda texts: len({tight(text) for text in texts if not text.isdigit()}))
            return best[1:] if fold(best[0]) in ("song", "songs", "title", "titles", "titel", "titre") else best
    return []
