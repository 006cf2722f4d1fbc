"""The stage sheet: one show's set on paper or on a tablet, as PDF and HTML.

Nothing on it doubts: how long a song was out is for the afternoon, and stands there only where it is asked for. Where
there is no room for all words at a size that can be read, the less important ones go. A sign that no font here draws is
left out and said.
"""

from __future__ import annotations

import html
import json
import math
import re
import unicodedata
from collections.abc import Callable, Iterable, Mapping
from pathlib import Path
from typing import Any, NamedTuple, Protocol

import pandas as pd

from tourstats.pages.kit import look, typeset
from tourstats.pages.kit.whole_files import write_whole
from tourstats.problems import Problem, listed
from tourstats.tables import items

PAPERS = {"A4": (595.28, 841.89), "Letter": (612.0, 792.0)}
"""Width and height in points."""
MOST_A_PAGE = 30
"""Songs on one page; beyond that the set is shared out over pages of about the same length."""
SEGUE = " >"
"""Behind a title that goes straight into the next."""
NOT_DRAWN = "(no font here draws this title)"
_TEMPLATE = Path(__file__).with_name("sheet.typ")
_SHOW = ("show_id", "date", "number", "leg", "venue", "city", "room", "set_minutes")


class SheetProblem(Problem):
    """The sheet cannot be made as asked."""

    @classmethod
    def unknown_paper(cls, paper: object) -> SheetProblem:
        """Say which papers there are."""
        return cls(f"The paper of a stage sheet is one of {', '.join(PAPERS)}; it was {paper!r}.")

    @classmethod
    def no_show(cls) -> SheetProblem:
        """Say that there is nothing to print."""
        return cls("There is no show with a set to make a stage sheet of. Write down a set first.")

    @classmethod
    def cannot_write(cls, path: Path, reason: str) -> SheetProblem:
        """Say where it failed and what to try."""
        return cls(f"The stage sheet cannot be written to {path}: {reason}. Choose another folder, or close the file.")


class Sheet(NamedTuple):
    """Where the sheet is, and a sentence for each sign that could not be drawn on paper."""

    html: Path
    pdf: Path
    left_out: tuple[str, ...]


class Sheets(NamedTuple):
    """Where the sheets of many shows are, how many, and a sentence for each sign that could not be drawn."""

    pdf: Path
    shows: int
    left_out: tuple[str, ...]


class HasSet(Protocol):
    """What the sheet takes from a brief."""

    @property
    def show(self) -> Mapping[str, Any]:
        """The show: show_id, date, number, leg, venue, city, room, set_minutes."""

    @property
    def set(self) -> pd.DataFrame:
        """Songs: position, song, encore, remark, segue, tempo_bpm, minutes, starts_by, count_in, speech, gear, samples,
        track, track_by, track_fails, watch, cues, warning (watch, and before it how long the song was out).
        """


def stage_sheet(
    brief: HasSet,
    folder: str | Path,
    paper: str = "A4",
    *,
    dark: bool = False,
    doubts: bool = False,
    machine_fonts: bool = True,
) -> Sheet:
    """Write one show's sheet as HTML and PDF.

    Parameters
    ----------
    brief
        With `show`, a mapping, and `set`, a row a song; every column but position and song may be missing or empty.
    folder
        Where to write; made if it is not there. A sheet of the same show is written over.
    paper
        A4 or Letter.
    dark
        White on black, for a tablet.
    doubts
        Whether it says of a song how long it was out, or that it was never played.
    machine_fonts
        Whether fonts of this machine may be used beside those that are brought along.

    Returns
    -------
    Sheet
        html, pdf (paths) and left_out (sentences).

    Raises
    ------
    SheetProblem
        If the paper is not known, or the files cannot be written.

    Examples
    --------
    >>> import tempfile, types
    >>> songs = pd.DataFrame({"position": [1, 2], "song": ["Ferry", "Tin Rook"], "encore": [False, True]})
    >>> brief = types.SimpleNamespace(show={"show_id": 41, "date": pd.Timestamp("2031-03-04")}, set=songs)
    >>> sheet = stage_sheet(brief, tempfile.mkdtemp(), machine_fonts=False)
    >>> sheet.pdf.name, sheet.html.name, sheet.left_out
    ('stage-sheet-2031-03-04.pdf', 'stage-sheet-2031-03-04.html', ())

    """
    if paper not in PAPERS:
        raise SheetProblem.unknown_paper(paper)
    content = _content(brief, paper, dark=dark, doubts=doubts)
    printed, left_out, _ = _pdf([content], content["title"], machine_fonts=machine_fonts)
    name = _name(brief.show, dark=dark)
    pdf, page = Path(folder) / f"{name}.pdf", Path(folder) / f"{name}.html"
    try:
        write_whole(pdf, printed)
        write_whole(page, _html(content, paper))
    except OSError as error:
        raise SheetProblem.cannot_write(Path(folder), error.strerror or str(error)) from error
    return Sheet(page, pdf, left_out)


def leg_sheets(
    briefs: Iterable[HasSet],
    file: str | Path,
    paper: str = "A4",
    *,
    title: str = "Stage sheets",
    machine_fonts: bool = True,
) -> Sheets:
    """Write the sheets of many shows, in the order given, into one PDF; each begins a page of its own.

    Parameters
    ----------
    briefs
        One for each show, as for `stage_sheet`.
    file
        The PDF; its folder is made if it is not there, and what was there is written over.
    paper, machine_fonts
        As for `stage_sheet`.
    title
        What the document calls itself.

    Returns
    -------
    Sheets
        pdf (path), shows (how many) and left_out (sentences).

    Raises
    ------
    SheetProblem
        If there is no show, the paper is not known, or the file cannot be written.

    Examples
    --------
    >>> import tempfile, types
    >>> songs = pd.DataFrame({"position": [1], "song": ["Ferry"]})
    >>> nights = [types.SimpleNamespace(show={"show_id": n, "date": f"2031-03-0{n}"}, set=songs) for n in (4, 5)]
    >>> made = leg_sheets(nights, tempfile.mkdtemp() + "/leg.pdf", machine_fonts=False)
    >>> made.pdf.name, made.shows, made.left_out
    ('leg.pdf', 2, ())

    """
    if paper not in PAPERS:
        raise SheetProblem.unknown_paper(paper)
    contents = [_content(brief, paper, dark=False) for brief in briefs]
    if not contents:
        raise SheetProblem.no_show()
    printed, left_out, _ = _pdf(contents, title, machine_fonts=machine_fonts)
    place = Path(file)
    try:
        write_whole(place, printed)
    except OSError as error:
        raise SheetProblem.cannot_write(place, error.strerror or str(error)) from error
    return Sheets(place, len(contents), left_out)


def picture(brief: HasSet, *, ppi: int = 72) -> tuple[bytes, str]:
    """Draw one show's sheet, which has to fit one page, as PNG.

    Returns
    -------
    png
        The picture.
    drawn_from
        Everything that stands on it and how it is laid out, as text, to see later whether the picture still holds.

    """
    content = _content(brief, "A4", dark=False)
    _, _, drawn = _pdf([content], content["title"], machine_fonts=True)
    png = _compiled(drawn, content["title"], machine_fonts=True, format="png", ppi=ppi, pdf_standards=[])
    return png, json.dumps([content, ppi, _TEMPLATE.read_text(encoding="utf-8")], sort_keys=True)


def _content(brief: HasSet, paper: str, *, dark: bool, doubts: bool = False) -> dict[str, Any]:
    """All that stands on the sheet, as words."""
    show = {name: _known(brief.show.get(name)) for name in _SHOW}
    songs = _songs(brief.set, "warning" if doubts else "watch")
    pages = max(math.ceil(len(songs) / MOST_A_PAGE), 1)
    each = max(math.ceil(len(songs) / pages), 1)
    day = pd.Timestamp(show["date"])
    width, height = PAPERS[paper]
    town = _text(show["city"]) or _text(show["venue"]) or "Stage sheet"
    date = f"{day.day} {day:%b %Y}"
    return {
        "width": width,
        "height": height,
        "dark": dark,
        "fonts": typeset.FONTS,
        "day": [day.year, day.month, day.day],
        "date": date,
        "town": town,
        "title": f"Stage sheet, {town}, {date}",
        "place": _place(show),
        "total": _total(brief.set, show["set_minutes"]),
        "foot": "Boxed number: came in since the last set." if any(song["came-in"] for song in songs) else "",
        "pages": [songs[at : at + each] for at in range(0, len(songs), each)] or [[]],
    }


def _songs(played: pd.DataFrame, watch: str) -> list[dict[str, Any]]:
    """Each song as the words of its row; `opens` where the encore begins."""
    rows: list[dict[str, Any]] = []
    was_encore = False
    for cells in played.sort_values("position", kind="stable").to_dict("records"):
        cell = {name: _known(value) for name, value in cells.items()}
        encore = bool(cell.get("encore") or False)
        rows.append(
            {
                "position": int(cell["position"]),
                "title": _text(cell["song"]) + (SEGUE if cell.get("segue") is True else ""),
                "tempo": _number(cell.get("tempo_bpm")),
                "starts": ", ".join(filter(None, (_text(cell.get("starts_by")), _text(cell.get("count_in"))))),
                "told": _told(cell, watch),
                "came-in": cell.get("status") == "in",
                "opens": encore and not was_encore,
            }
        )
        was_encore = encore
    return rows


def _told(cell: Mapping[str, Any], watch: str) -> list[dict[str, Any]]:
    """What to have ready and to watch, as it is read; `rank` says what stays where there is no room, 0 last of all."""
    parts = (
        (5, "speech: ", _text(cell.get("speech"))),
        (2, "", ", ".join(items(cell.get("gear")))),
        (3, "sample: ", ", ".join(items(cell.get("samples")))),
        (4, "track: ", ", ".join(items(cell.get("track")))),
        (6, "started by ", _text(cell.get("track_by"))),
        (7, "if it fails: ", _text(cell.get("track_fails"))),
        (8, "cues: ", _text(cell.get("cues"))),
        (0, "!\u00a0", _text(cell.get("remark"))),
        (1, "!\u00a0", _text(cell.get(watch))),
    )
    said: list[dict[str, Any]] = [
        {"rank": rank, "words": f"{name}{words}", "strong": rank <= 1} for rank, name, words in parts if words
    ]
    ranks = sorted(part["rank"] for part in said)
    return [part | {"rank": ranks.index(part["rank"])} for part in said]


def _place(show: Mapping[str, Any]) -> str:
    """Venue, kind of venue, leg and number of the show, as far as they are known."""
    number = show["number"]
    parts = [
        _text(show["venue"]) if show["city"] is not None else "",
        _text(show["room"]),
        _text(show["leg"]),
        f"show {_text(show['show_id'])}" if show["show_id"] is not None else "",
        f"number {int(number)} of the day" if number is not None and number > 1 else "",
    ]
    return " · ".join(filter(None, parts))


def _total(played: pd.DataFrame, asked: float | None) -> str:
    """How many songs, how long, and how long it was asked to be."""
    songs = "1 song" if len(played) == 1 else f"{len(played)} songs"
    minutes = played["minutes"].dropna() if "minutes" in played else pd.Series(dtype=float)
    least = "" if len(minutes) == len(played) else "at least "
    length = f"{least}{int(minutes.sum() + 0.5)}" if len(minutes) else ""
    wanted = f"{asked:.0f} asked for" if asked is not None else ""
    time = " of ".join(filter(None, [f"{length} min" if length else "", wanted]))
    return " · ".join(filter(None, [songs, time]))


def _pdf(
    contents: list[dict[str, Any]], title: str, *, machine_fonts: bool
) -> tuple[bytes, tuple[str, ...], list[dict[str, Any]]]:
    """Set the sheets; besides the PDF and what was left out, the words as they were drawn."""
    pdf, lost = typeset.until_drawn(
        lambda lost: _compiled([_without(content, lost) for content in contents], title, machine_fonts=machine_fonts)
    )
    drawn = contents
    if lost:
        drawn = [_explained(content, lost) for content in contents]
        pdf = _compiled(drawn, title, machine_fonts=machine_fonts)
    several = len(contents) > 1
    said = ((content["date"], sentence) for content in contents for sentence in _said(content, lost))
    return pdf, tuple(f"{date}: {sentence}" if several else sentence for date, sentence in said), drawn


def _compiled(
    contents: list[dict[str, Any]],
    title: str,
    *,
    machine_fonts: bool,
    **settings: Any,  # noqa: ANN401  # of typst
) -> bytes:
    whole = _each({"title": title, "day": contents[0]["day"], "sheets": contents}, _breakable)
    return typeset.compiled(_TEMPLATE.read_bytes(), whole, machine_fonts=machine_fonts, **settings)


def _explained(content: dict[str, Any], lost: set[str]) -> dict[str, Any]:
    """The words that can be drawn, a title of which little remains replaced, and below it what was left out."""
    losses = list(_losses(content, lost))
    if not losses:
        return content
    cleaned = _without(content, lost)
    for page, before in zip(cleaned["pages"], content["pages"], strict=True):
        for song, whole in zip(page, before, strict=True):
            # A stump of a title misleads; better none.
            if not song["title"] or 2 * _letters(song["title"]) < _letters(whole["title"]):
                song["title"] = NOT_DRAWN
    where = ", ".join(place for place, _ in losses)
    return cleaned | {"foot": f"{cleaned['foot']} Signs that no font here draws are left out: {where}.".strip()}


def _without(content: dict[str, Any], lost: set[str]) -> dict[str, Any]:
    """The same words without some signs."""
    if not lost:
        return content
    # A joiner or a choice of picture has nothing to join once a neighbour is gone.
    gone = dict.fromkeys(map(ord, lost | set("\u200d\ufe0e\ufe0f")))
    made: dict[str, Any] = _each(content, lambda words: " ".join(words.translate(gone).split()))
    return made


def _each(value: Any, change: Callable[[str], str]) -> Any:  # noqa: ANN401  # JSON
    """Change every text in nested lists and mappings."""
    if isinstance(value, str):
        return change(value)
    if isinstance(value, list):
        return [_each(item, change) for item in value]
    if isinstance(value, dict):
        return {name: _each(item, change) for name, item in value.items()}
    return value


def _said(content: dict[str, Any], lost: set[str]) -> Iterable[str]:
    """One sentence for each place that lost a sign."""
    titles = {_song(song): f'Song {song["position"]}, "{song["title"]}"' for page in content["pages"] for song in page}
    for place, signs in _losses(content, lost):
        yield f"{titles.get(place, 'The heading')}: no font on this machine draws {listed(signs)}; left out on paper."


def _losses(content: dict[str, Any], lost: set[str]) -> Iterable[tuple[str, list[str]]]:
    """Places that lose a sign, and the signs."""
    places = [("heading", content["town"] + content["place"])]
    for page in content["pages"]:
        places += [(_song(song), _all_words(song)) for song in page]
    for place, words in places:
        if here := [sign for sign in dict.fromkeys(words) if sign in lost]:
            yield place, here


def _all_words(song: Mapping[str, Any]) -> str:
    return "".join([song["title"], song["starts"], *(part["words"] for part in song["told"])])


def _letters(title: str) -> int:
    return sum(sign.isalnum() for sign in title)


def _song(song: dict[str, Any]) -> str:
    return f"song {song['position']}"


def _known(value: Any) -> Any:  # noqa: ANN401  # any cell
    """None for whatever way of saying nothing."""
    return None if value is None or (pd.api.types.is_scalar(value) and pd.isna(value)) else value


def _text(value: object) -> str:
    """One line without signs that only steer a printer."""
    if value is None:
        return ""
    words = " ".join(str(value).split())
    return "".join(sign for sign in words if unicodedata.category(sign) not in ("Cc", "Cs"))


def _breakable(text: str) -> str:
    """Allow a break within a word that is longer than any column."""
    return re.sub(r"\S{24}(?=\S)", "\\g<0>\u200b", text)


def _number(value: float | None) -> str:
    return "" if value is None else f"{value:.1f}".removesuffix(".0")


def _name(show: Mapping[str, Any], *, dark: bool) -> str:
    number = _known(show.get("number")) or 1
    parts = [
        f"stage-sheet-{pd.Timestamp(show['date']):%Y-%m-%d}",
        f"{int(number)}" if number > 1 else "",
        "dark" * dark,
    ]
    return "-".join(filter(None, parts))


def _html(content: dict[str, Any], paper: str) -> str:
    """The same as one HTML file."""
    text = {name: html.escape(content[name]) for name in ("town", "date", "place", "total", "foot")}
    rows = "\n".join(_row(song) for songs in content["pages"] for song in songs)
    style = f"@page {{ size: {paper}; margin: 9mm }}{_STYLE}"
    return look.page(content["title"], style, _BODY.format(**text, rows=rows), "dark" if content["dark"] else "light")


def _row(song: dict[str, Any]) -> str:
    """A row with its roles spelt out, since a telephone lays the table out as a list."""
    cell = {name: html.escape(str(value)) for name, value in song.items()}
    strong = " · ".join(html.escape(part["words"]) for part in song["told"] if part["strong"])
    ready = " · ".join(html.escape(part["words"]) for part in song["told"] if not part["strong"])
    encore = '<tr role="row" class="encore"><th role="rowheader" colspan="5" scope="rowgroup">Encore</th></tr>\n'
    number = f'<b title="came in since the last set">{cell["position"]}</b>' if song["came-in"] else cell["position"]
    told = (f"<span>{ready}</span>" if ready else "") + (f"<strong>{strong}</strong>" if strong else "")
    return (
        f'{encore if song["opens"] else ""}<tr role="row"><td role="cell" class="no">{number}</td>'
        f'<th role="rowheader" scope="row" dir="auto">{cell["title"]}</th>'
        f'<td role="cell" class="bpm">{cell["tempo"]}</td>'
        f'<td role="cell" class="starts" dir="auto">{cell["starts"]}</td>'
        f'<td role="cell" class="mind" dir="auto">{told}</td></tr>'
    )


_STYLE = """
body { padding: 12px; max-width: 60rem; font-size: 16px; line-height: 1.15 }
header { display: flex; flex-wrap: wrap; justify-content: space-between; gap: 0 1rem }
h1 { font-size: 1.6rem; margin: 0 }
header p { margin: 0 }
header .date { font-size: 1.15rem; font-weight: 700; align-self: end }
table { width: 100%; border-collapse: collapse; margin-top: .4rem }
caption, thead th { font-size: .8rem; font-weight: 400; text-align: left; padding: 0 .3rem }
caption { caption-side: bottom; padding: .4rem 0 0 }
td, tbody th { border-top: 1px solid #777; padding: .22rem .3rem; text-align: left; vertical-align: middle }
tbody th { font-size: 1.35rem; overflow-wrap: anywhere; width: 45% }
.no, .bpm { font-size: 1.35rem; font-weight: 700; text-align: right; white-space: nowrap }
thead .no, thead .bpm { font-size: .8rem; font-weight: 400 }
.no b { color: #fff; background: #000; padding: 0 .25rem; border-radius: 3px;
  -webkit-print-color-adjust: exact; print-color-adjust: exact }
.dark .no b { color: #000; background: #fff }
.mind { font-size: .95rem; overflow-wrap: anywhere }
.mind span, .mind strong { display: block }
.encore th { border-top: 3px solid currentColor; font-size: 1rem; letter-spacing: .15em; text-transform: uppercase;
  padding-top: .6rem }
tr { break-inside: avoid }
@media screen and (max-width: 600px) {
  body { padding: 6px }
  table, tbody, caption { display: block }
  thead { display: none }
  tr { display: grid; grid-template-columns: 2.4rem auto 1fr auto; gap: 0 .5rem; align-items: baseline;
    border-top: 1px solid #777; padding: .2rem 0 }
  td, tbody th { border: 0; padding: 0; width: auto }
  td:empty { display: none }
  tbody th { grid-column: 2 / 4 }
  .bpm { grid-column: 4; grid-row: 1 }
  .starts { grid-column: 2; grid-row: 2 }
  .starts:empty + .mind { grid-column: 2 / 5 }
  .mind { grid-column: 3 / 5; grid-row: 2 }
  .encore { border-top: 3px solid currentColor }
  .encore th { grid-column: 1 / 5; border: 0; padding: .3rem 0 }
}
@media print { body { padding: 0; font-size: 13px } html { font-size: 13px } }
"""

_BODY = """
<header><h1 dir="auto">{town}</h1><p class="date">{date}</p></header>
<header><p dir="auto">{place}</p><p>{total}</p></header>
<table role="table">
<caption>{foot}</caption>
<thead><tr><th class="no" scope="col">no.</th><th scope="col">song</th><th class="bpm" scope="col">bpm</th>
<th scope="col">count-in</th><th scope="col">ready / watch</th></tr></thead>
<tbody>
{rows}
</tbody>
</table>
"""
