"""A file read as sets of shows: every shape is tried on the whole of it, and the one that explains it best is taken."""

# ruff: noqa: E501  # a question is read in one piece
from __future__ import annotations

import re
from collections import Counter, defaultdict
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field, replace

from tourstats.reading import repertoire
from tourstats.reading.asking import Asking, Where
from tourstats.reading.blocks import (
    ADDED,
    CANCELLED,
    EXPLAINED,
    NO_SHOW,
    ONE_SET,
    PAGES,
    REHEARSED,
    REPEATED,
    ROWS,
    SHEETS,
    prose,
    stretches,
)
from tourstats.reading.cells import is_label, shown, tight
from tourstats.reading.days import Calendar, day_in, settle, years_in
from tourstats.reading.files import Cut, Source, aligned, cuts
from tourstats.reading.grids import grid
from tourstats.reading.headers import CITY, VENUE
from tourstats.reading.histories import Whole, comes_again, shows_of, weighed
from tourstats.reading.known import Known
from tourstats.reading.layout import Draft, Spot, Taken
from tourstats.reading.long_tables import COUNTED, OFF, SAME_AGAIN, kinds_of, long_table
from tourstats.reading.same_again import CORRECTION
from tourstats.reading.set_cells import sets_in_cells
from tourstats.reading.stand_ins import filled_in
from tourstats.reading.workbooks import Sheet, letter
from tourstats.reading.years import section_of, with_years

Make = Callable[[Asking], Draft | None]
_LEAST, _NEAR = 2.2, 0.25
"""Score from which a reading counts, and distance within which a second one is as good."""
_IN_A_LIST = re.compile(r"\s*\d{1,2}[.):]?\s+\d{4}\s*$")
"""A song of a list that is a year: "4. 1907"."""
_FEW_ROWS = 2
_A_LIST, _A_TITLE = 4, 8
"""Songs from which a cell lists them, and letters from which a title that stands in it speaks for itself."""
_TOP = 6
"""Texts at the top of a file of which one may name its year among other words."""
_AS_MUCH = 0.8
"""Share of the places of the best reading that another one has to have."""
_QUIET = ("song", "struck out", "number", "day", "sign", "encore mark", "time stamp", "sender")


@dataclass
class View:
    """One way to look at a file: its tables, or its lines; with what stands where."""

    sheets: list[Sheet]
    lines: list[str] | None = None
    stray: list[int] = field(default_factory=list)
    dated: list[str] = field(default_factory=list)
    """The lines, with the years of days that stand without one."""

    def texts(self) -> dict[Spot, str]:
        """What stands in each spot that is not empty."""
        if self.lines is not None:
            return {Spot("", number, 1): line.strip() for number, line in enumerate(self.lines, 1) if line.strip()}
        return {
            Spot(sheet.name, *at): shown(value)
            for sheet in self.sheets
            for at, value in {**sheet.cells, **sheet.far}.items()
            if at not in sheet.lent
        }


@dataclass
class Best:
    """The reading that was taken, and how the file was looked at for it."""

    whole: Whole
    view: View


def sets_in(source: Source, asking: Asking, known: Known, latest: int | None = None) -> Best | None:
    """Read a file as sets of shows; None if nothing in it can be that."""
    views = list(_views(source))
    calendar = _calendar(source, views, asking, known, latest)
    readings: list[Best] = []
    for view in views:
        if not any(_is_certain(one.whole) for one in readings):
            readings += [Best(whole, view) for whole in _of_view(view, calendar, asking, known)]
    readings = [one for one in readings if one.whole.draft.how != ONE_SET] or readings
    if not readings:
        return None
    readings.sort(key=lambda one: -one.whole.score)
    best = _chosen(readings, asking)
    asking.take(best.whole.asking)
    _guard(best, source, asking, known)
    repertoire.match(best.whole, asking, known)
    return best


def _views(source: Source) -> Iterator[View]:
    if source.sheets:
        yield View(filled_in(source.sheets))
    if source.text is None:
        return
    side = None if source.sheets else aligned(source.text)
    tables: list[Cut] = []
    if side is not None:
        yield View([side.sheet])
    elif not source.sheets:
        stamped = sum(bool(re.match(r"^\W?\[?[^\],]{6,12},?\s+\d{1,2}:\d{2}", line)) for line in source.lines())
        tables = cuts(source.text) if stamped < 0.5 * len(source.lines()) else []
    for cut in tables:
        yield View(
            filled_in([cut.sheet]),
            stray=[line for line in cut.stray if cut.widths.get(line) != _usual(cut.widths)],
        )
    if not any(_is_quoted(cut, source.text) for cut in tables):
        yield View([], source.lines(), dated=with_years(source.lines()))


def _is_quoted(cut: Cut, text: str) -> bool:
    """Whether cells in quotation marks go over several lines in most rows of a table: its lines are none of a text."""
    over = [cell for cell in cut.sheet.cells.values() if isinstance(cell, str) and "\n" in cell]
    return not cut.stray and 2 * len(over) > len(cut.widths) > _FEW_ROWS and text.count('"') >= 2 * len(over)


def _usual(widths: Mapping[int, int]) -> int:
    return Counter(widths.values()).most_common(1)[0][0]


def _calendar(source: Source, views: list[View], asking: Asking, known: Known, latest: int | None) -> Calendar:
    """Settle the days of the whole file at once."""
    texts: list[object] = []
    for view in views[:1] if views and views[0].sheets else []:
        for sheet in view.sheets:
            texts += [sheet.name, *(sheet.cells[at] for at in sorted(sheet.cells))]
    if source.text is not None and not any(map(day_in, texts)):
        texts += [re.sub(r"[*_#>]", " ", line) for line in views[-1].dated or source.lines()]
    days = [day for text in texts if (day := day_in(text)) is not None and not is_label(str(text))]
    above = [line for line in source.lines()[:40] if "\t" not in line] if source.text and source.sheets else []
    top = [
        text
        for text in [*texts[:40], *above]
        if isinstance(text, str) and day_in(text) is None and not _IN_A_LIST.match(text)
    ]
    name, once = re.sub(r"[_-]", " ", source.name), [text for text in top if texts.count(text) == 1]
    tried = (years_in([name, *some]) for some in (top, [text for text in once if not text.isdigit()]))
    headed = {year for at, text in enumerate(once) if (year := section_of(text, top=at < _TOP))}
    told = next((years for years in tried if len(years) == 1), headed)
    calendar = settle(days, asking, told, known.latest or latest)
    for key in ("date order", "year"):
        if key in asking.open:
            asking.open[key] = replace(asking.open[key], where=_where(views, asking.open[key].value))
    return calendar


def _where(views: list[View], value: str) -> Where:
    """The first cell or line with a text in it."""
    for view in views:
        for spot, text in sorted(view.texts().items()):
            if value in text:
                return Where("", spot.sheet, spot.row, letter(spot.column) if view.sheets else "")
    return Where()


def _of_view(view: View, calendar: Calendar, asking: Asking, known: Known) -> list[Whole]:
    """Readings of one view of the file, each weighed."""
    if view.lines is not None:
        return [one for one in [_weigh(lambda ask: prose(view.dated, calendar, ask, known), asking, known)] if one]
    sheets = [sheet for sheet in view.sheets if sheet.cells]
    kinds = {sheet.name: kinds_of(sheet) for sheet in sheets}
    alone: list[tuple[Whole, Make, Sheet]] = []
    for sheet in sheets:
        made = _of_sheet(sheet, kinds[sheet.name], calendar, asking, known)
        if made is not None:
            alone.append((*made, sheet))
    readings = []
    if len(sheets) > 1:
        book = _weigh(lambda ask: stretches(sheets, calendar, ask, known), asking, known)
        readings += [book] if book else []
    if alone:
        whole = (
            alone[0][0]
            if len(alone) == 1
            else _weigh(lambda ask: _together([make for _, make, _ in alone], ask), asking, known)
        )
        if whole is not None:
            _leave_out_sheets(whole, [sheet for sheet in sheets if sheet.name not in {one.name for *_, one in alone}])
            readings.append(whole)
    return readings


def _weigh(make: Make, asking: Asking, known: Known) -> Whole | None:
    draft = make(asking.apart())
    return None if draft is None or not draft.nights else weighed(draft, known)


def _of_sheet(
    sheet: Sheet, kinds: dict[tuple[int, int], str], calendar: Calendar, asking: Asking, known: Known
) -> tuple[Whole, Make] | None:
    """The best reading of one sheet; a second one that is as good is asked about."""
    makes: list[Make] = [
        lambda ask: long_table(sheet, kinds, calendar, ask, known),
        lambda ask: grid(sheet, kinds, calendar, ask, known, turned=False),
        lambda ask: grid(sheet, kinds, calendar, ask, known, turned=True),
        lambda ask: sets_in_cells(sheet, kinds, calendar, ask, known),
    ]
    tried: list[tuple[Whole, Make]] = []
    for make in makes:
        if not any(_is_certain(whole) for whole, _ in tried) and (reading := _weigh(make, asking, known)):
            tried.append((reading, make))
    if not any(comes_again(whole) for whole, _ in tried):

        def make(ask: Asking) -> Draft | None:
            return stretches([sheet], calendar, ask, known)

        tried += [(reading, make)] if (reading := _weigh(make, asking, known)) else []
    tried.sort(key=lambda one: -one[0].score)
    if not tried or tried[0][0].score < _LEAST:
        return None
    wholes = [whole for whole, _ in tried]
    best = wholes[0]
    said = str(asking.answers.get("shape", ""))
    best = next((one for one in wholes if one.draft.how == said), best)
    near = [one for one in wholes if one is not best and _is_as_good(one, best)]
    if near:
        _ask_shape(best, near, best.asking)
    return next(one for one in tried if one[0] is best)


def _is_certain(whole: Whole) -> bool:
    """Whether a table names its days and songs, and titles come again, with nothing open: other shapes are not tried."""
    return whole.draft.named and comes_again(whole) and not whole.asking.open


def _ask_shape(best: Whole, near: list[Whole], asking: Asking) -> None:
    both = "; ".join(
        f"{one.draft.how}: {len(one.nights)} shows, {len(one.places)} places, the first {one.places[0].song!r}"
        for one in (best, *near)
    )
    offers = [one.draft.how for one in (best, *near)]
    asking.choose("shape", f"The file can be read in more than one way. {both}.", offers, offers[0])


def _together(makes: list[Make], asking: Asking) -> Draft | None:
    """Several sheets of several shows each, as one file of titles."""
    drafts = [draft for make in makes if (draft := make(asking))]
    if not drafts:
        return None
    whole = Draft(drafts[0].how, asking)
    for draft in drafts:
        whole.nights += draft.nights
        whole.account |= draft.account
    return whole


def _leave_out_sheets(whole: Whole, rest: list[Sheet]) -> None:
    titles = {tight(one.song) for one in whole.places}
    for sheet in rest:
        whole.draft.take(
            (Spot(sheet.name, *at) for at in sheet.cells), "left out", f"sheet {sheet.name}: no shows in it"
        )
        theirs = [form for value in sheet.cells.values() if (form := tight(shown(value))) in titles]
        if len(theirs) > 3 and (len(set(theirs)) < len(theirs) or len(theirs) < 0.8 * len(titles)):
            whole.asking.confirm(
                f"sheet {sheet.name}", f'Sheet "{sheet.name}" holds titles too, but no days; it is left out.'
            )


def _chosen(readings: list[Best], asking: Asking) -> Best:
    """The best reading; of those that are as good, the one in which most songs come again is proposed."""
    said = str(asking.answers.get("shape", ""))
    as_good = [one for one in readings if one.whole.score > readings[0].whole.score - _NEAR]
    most = max(as_good, key=lambda one: _back_again(one.whole))
    best = next((one for one in readings if one.whole.draft.how == said), most)
    near = [one.whole for one in readings if one is not best and _is_as_good(one.whole, best.whole)]
    if near:
        _ask_shape(best.whole, near, asking)
    return best


def _is_as_good(other: Whole, best: Whole) -> bool:
    """Whether another reading explains as much of the file, and says something else."""
    near = other.score > best.score - _NEAR and len(other.places) >= _AS_MUCH * len(best.places)
    return near and not _holds(best, other)


def _holds(best: Whole, other: Whole) -> bool:
    """Whether another reading says the same, or only lacks songs that come again from show to show."""
    shows = shows_of(best.places)
    days = [[night.day for night in one.nights] for one in (best, other)]
    if days[0] == days[1] and not best.asking.open and _back_again(best) > _back_again(other):
        return True
    mine, theirs = ({(day, song) for day, _, song in one.view()} for one in (best, other))
    return best.view() == other.view() or (
        theirs < mine and all(len(shows.get(song, ())) > 1 for _, song in mine - theirs)
    )


def _back_again(whole: Whole) -> int:
    """How many places hold a song that other shows have too."""
    shows = shows_of(whole.places)
    return sum(len(shows[tight(one.song)]) > 1 for one in whole.places)


# ------------------------------------------------------------------------------------------------ guards


def _guard(best: Best, source: Source, asking: Asking, known: Known) -> None:
    """Ask about whatever was left out and names a song, about two titles in one, and about what nothing explains."""
    whole, texts = best.whole, best.view.texts()
    _account_for_rest(best, texts, asking)
    songs = {tight(one.song) for one in whole.places} | known.songs
    with_songs = {one.item.at for one in whole.places}
    left = {
        spot: taken
        for spot, taken in whole.draft.account.items()
        if taken.taken_as not in _QUIET and texts.get(spot) and spot not in with_songs
    }
    _ask_about_lost(whole, left, texts, songs, asking)
    _ask_about_swallowed(whole, texts, asking)
    _ask_about_doubtful(best, source, asking)
    _ask_about_joint(whole, asking)
    named = all(night.named for night in whole.nights)
    places = {tight(text) for night in whole.nights for text in night.said.values()}
    free = (one for one in whole.places if not (named and one.item.numbered))
    both = next((one for one in free if tight(one.song) in places and len(tight(one.song)) > 2), None)
    if both is not None:
        asking.confirm(
            f"place: {both.song}",
            f'"{both.song}" is a place and a title.',
            where=whole.draft.where(both.item.at),
            value=both.song,
        )


def _account_for_rest(best: Best, texts: dict[Spot, str], asking: Asking) -> None:
    whole = best.whole
    for sheet in best.view.sheets:
        for at in sheet.lent:
            whole.draft.account.pop(Spot(sheet.name, *at), None)
        whole.draft.take((Spot(sheet.name, *at) for at in sheet.explained), "heading", EXPLAINED)
        far = sheet.far.keys() - sheet.explained
        whole.draft.take((Spot(sheet.name, *at) for at in far), "left out", "far away from the table")
    said = {role: {tight(night.said.get(role, "")) for night in whole.nights} for role in (CITY, VENUE)}
    for spot, taken in whole.draft.account.items():
        if taken.taken_as == "city" and tight(texts.get(spot, "")) in said[VENUE] - said[CITY]:
            whole.draft.account[spot] = Taken("venue", taken.why)
    done = set(whole.draft.account) | {one.item.at for one in whole.places}
    lines = {spot.row for spot in done} if best.view.lines is not None else set()
    rest = [spot for spot in texts if spot not in done and spot.row not in lines]
    silent = [spot for spot in rest if not any(sign.isalnum() for sign in texts[spot])]
    whole.draft.take(silent, "sign")
    rest = [spot for spot in rest if any(sign.isalnum() for sign in texts[spot])]
    whole.draft.take(rest, "not understood")
    if rest:
        asking.confirm(
            "not understood",
            f'{len(rest)} of {len(texts)} cells or lines are not understood, the first "{texts[rest[0]][:50]}"; they are left out.',
            where=whole.draft.where(rest[0]),
            value=texts[rest[0]],
        )


def _ask_about_lost(
    whole: Whole, left: Mapping[Spot, Taken], texts: dict[Spot, str], songs: set[str], asking: Asking
) -> None:
    lost = []
    plain = _plain_songs(whole)
    columns = {one.item.at.column for one in whole.places}
    written = {(one.item.at.sheet, one.item.at.row, tight(one.song)) for one in whole.places}
    for spot, taken in left.items():
        apart = (spot.sheet, spot.row, tight(texts[spot])) in written or taken.why in (
            f"sheet {spot.sheet}: no shows in it",
            NO_SHOW,
        )
        if apart or (whole.draft.named and spot.column not in columns):
            continue
        if taken.why in (SAME_AGAIN, CANCELLED, OFF, COUNTED, EXPLAINED, REHEARSED, REPEATED, CORRECTION, PAGES, ADDED):
            continue
        text = texts[spot]
        bare = tight(re.sub(r"^\s*#?\(?\d{1,2}[.):]?\s+", "", text))
        if len(bare) > 2 and (bare in songs or tight(text) in songs):
            lost.append((spot, "yet it is a title elsewhere"))
        elif plain and (named := plain.findall(_plain(text))) and not _told_of(whole, spot, text, set(named)):
            lost.append((spot, "yet a title stands in it"))
    if lost:
        spot, why = lost[0]
        more = f", {len(lost)} such in all" if len(lost) > 1 else ""
        asking.confirm(
            f"left out: {texts[spot][:60]}",
            f'"{texts[spot][:60]}" is left out, {why}{more}.',
            where=whole.draft.where(spot),
            value=texts[spot],
        )


def _ask_about_swallowed(whole: Whole, texts: dict[Spot, str], asking: Asking) -> None:
    """Ask about a cell or a line that lists songs if a title stands in it that was not taken: behind a town, say."""
    taken: dict[Spot, list[str]] = defaultdict(list)
    for one in whole.places:
        taken[one.item.at].append(_plain(one.song))
    every = sorted({song for songs in taken.values() for song in songs}, key=len, reverse=True)
    for spot, songs in taken.items():
        if len(songs) < _A_LIST:
            continue
        rest = _plain(texts.get(spot, ""))
        for song in every:
            if song in rest and song not in songs and len(song) > _A_TITLE:
                title = song.strip()
                asking.confirm(
                    f"swallowed: {title}",
                    f'"{title}" stands among songs and is left out.',
                    where=whole.draft.where(spot),
                    value=title,
                )
                return
            rest = rest.replace(song, " | ") if song in songs else rest


def _told_of(whole: Whole, spot: Spot, text: str, named: set[str]) -> bool:
    """Whether a line below a set speaks of its songs: all that it names stand in the set, and it says more."""
    by_line = whole.draft.text or whole.draft.how in (ROWS, SHEETS)
    above = [night.at.row for night in whole.nights if night.at.sheet == spot.sheet and night.at.row <= spot.row]
    if not by_line or not above or len(_plain(text).split()) < sum(len(song.split()) for song in named) + 2:
        return False
    mine = {at for at, night in enumerate(whole.nights) if night.at.sheet == spot.sheet and night.at.row == max(above)}
    return named <= {_plain(one.song) for one in whole.places if one.night in mine}


def _plain(text: str) -> str:
    words = re.sub(r"[\W_]+", " ", text.casefold()).strip()
    return f" {words} "


def _plain_songs(whole: Whole) -> re.Pattern[str] | None:
    longs = sorted({_plain(one.song) for one in whole.places if len(tight(one.song)) >= 4}, key=len)
    return re.compile("|".join(map(re.escape, longs))) if longs else None


def _ask_about_joint(whole: Whole, asking: Asking) -> None:
    """Ask about a text that may hold two titles."""
    plain = _plain_songs(whole)
    for song in dict.fromkeys(one.song for one in whole.places):
        inside = {found for found in plain.findall(_plain(song)) if found != _plain(song)} if plain else set()
        if re.search(r"\t|\s{3,}|\S\s+\d{1,2}[.)]\s+\S", song) or len(inside) > 1:
            asking.confirm(f"two titles: {song}", f'"{song}": two titles in one?', value=song)
            return
        if inside and re.match(r"(?:and|then|und|y|et)\s", song, re.IGNORECASE):
            asking.confirm(f"two titles: {song}", f'"{song}": running text, or a title?', value=song)
            return


def _ask_about_doubtful(best: Best, source: Source, asking: Asking) -> None:
    """Ask about lines with a byte or a quotation mark that could not be read, unless the title stands elsewhere too."""
    whole = best.whole
    often = Counter(tight(one.song) for one in whole.places)
    for lines, words in (
        (source.doubtful, "holds a letter that cannot be read"),
        (best.view.stray, "has a quotation mark without its pair"),
    ):
        for number in sorted(lines):
            here = [one for one in whole.places if one.item.at.row == number]
            if here and all(often[tight(one.song)] > 1 for one in here):
                continue
            if not here:
                continue
            taken = f', taken as "{here[0].song}"' if here else ""
            asking.confirm(f"line {number}", f"Line {number} {words}{taken}.", value=here[0].song if here else "")
