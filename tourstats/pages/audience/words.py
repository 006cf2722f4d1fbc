"""Repeat audience in words and tables: what people who travel have heard, and how new the next night would be.

Every number of people that is shown here comes from a model that was asked to leave out small groups.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import pandas as pd

from tourstats.models import audience
from tourstats.models.audience import SMALLEST
from tourstats.pages.kit import tables_shown
from tourstats.pages.kit.whose import whose
from tourstats.problems import Problem, counted
from tourstats.scale.taking import beside, there
from tourstats.tables import in_order
from tourstats.tour import Tour, coming

ENOUGH = 0.9
"""Share of the songs that counts as having heard nearly all."""
NOTHING = (
    "No set was played yet. Write down the first one on the page *After the show*, or take in a file of past sets."
)
NO_SCANS = "No ticket scans were taken in yet."
NO_DRAFT = "There is no draft, or no earlier show on this leg that somebody could have been at."
LABELS = {
    "attendees": "people on the list",
    "repeat": "of them here earlier on the leg",
    "fresh_share": "new to these",
    "worst_decile": "new to the 10% who have heard the most",
    "after_last": "new to somebody at the last show",
    "group": "to whom",
    "songs_new": "new songs",
    "basis": "known from",
    "heard_share": "heard by, of those coming",
    "one_earlier": "heard by somebody at one earlier show of the leg",
    "shows_ago": "shows ago on this leg",
    "share": "heard by",
    "times": "times, on average",
    "way": "shows",
    "shows": "how many",
    "expected": "songs heard",
    "audience_fresh_share": "new to all of them",
    "range": "between",
}


@dataclass(frozen=True)
class Leg:
    """The sets of one leg, and who was there."""

    name: str
    plays: pd.DataFrame
    shows: pd.DataFrame
    attendance: pd.DataFrame


def leg_of(tables: Tour, name: object | None = None) -> Leg:
    """One leg: the one that is named, else the last one that has a set. Without legs, the whole tour is one."""
    shows, played = in_order(tables.shows), tables.played()
    wanted = name if name is not None else played.leg.iloc[-1] if len(played) else None
    own = shows[shows.leg == wanted] if wanted is not None and pd.notna(wanted) else shows[shows.leg.isna()]
    here = [frame[frame.show_id.isin(own.show_id)] for frame in (tables.plays, tables.attendance)]
    return Leg(str(wanted) if pd.notna(wanted) else "the tour", here[0], own.reset_index(drop=True), here[1])


def kinds_of_data(tables: Tour) -> str:
    """Which of the three kinds of data this page is using, plainly."""
    nights_played = tables.plays.show_id.nunique()
    sets = "the set of one show" if nights_played == 1 else f"the sets of {nights_played} shows"
    nights = tables.attendance.show_id.nunique()
    if len(tables.attendance):
        visits = f"{SMALLEST * round(len(tables.attendance) / SMALLEST):,} visits at {nights} shows"
        own = f"**This page uses a list of who was where** ({visits}), besides {sets}."
    elif len(tables.counts):
        own = (
            f"**This page uses counts** of who came back ({_nights(tables.counts.show_id.nunique())}), besides {sets}."
        )
    else:
        return (
            f"**This page uses sets only**: {sets}. It says what somebody would have heard who came, not who came. "
            "Counts, or a list of who was where, would tell more."
        )
    counts = f" On {_nights(tables.counts.show_id.nunique())} somebody counted, too." if len(tables.attendance) else ""
    small = (
        f" Groups of fewer than {SMALLEST} people are not shown, and numbers of people are rounded to {SMALLEST}, so "
        "that no two tables give a small group away by their difference."
    )
    return own + (counts if len(tables.counts) else "") + small


def in_short(tables: Tour) -> str:
    """What today's data say, in two or three sentences."""
    if not len(tables.plays):
        return NOTHING
    said = [_nights_short(tables), _heard_short(tables), _draft_short(tables)]
    return " ".join(sentence for sentence in said if sentence)


def _nights_short(tables: Tour) -> str:
    """How new the shows of the leg were to those who came again."""
    leg = leg_of(tables)
    fresh = audience.freshness(tables.plays, tables.shows, tables.attendance, hide_under=SMALLEST)
    fresh = fresh[fresh.show_id.isin(leg.plays.show_id) & fresh.fresh_share.notna()]
    if len(fresh):
        low, high = fresh.fresh_share.min(), fresh.fresh_share.max()
        return (
            f"**On {leg.name}, {fresh.fresh_share.mean():.0%} of a set was new to those who had been at an earlier "
            f"show of the leg** (from {low:.0%} to {high:.0%}, show by show, as the list has them)."
        )
    after = audience.after_last(leg.plays, leg.shows, [1]).dropna()
    if not len(after):
        return f"On {leg.name} one show has a set so far: everything was new."
    return (
        f"**On {leg.name}, {after.fresh_share.mean():.0%} of a set was new to somebody who had been at the show "
        f"before** (from {after.fresh_share.min():.0%} to {after.fresh_share.max():.0%})."
    )


def _heard_short(tables: Tour) -> str:
    """How many shows it takes."""
    leg = leg_of(tables)
    need = audience.shows_to_hear(leg.plays, leg.shows, ENOUGH).set_index("way")
    if not len(need) or need.of.max() < 2:  # noqa: PLR2004  # of one show, one is enough
        return ""
    any_shows, in_row = need.loc["any shows"], need.loc["shows in a row"]
    return (
        f"To hear {ENOUGH:.0%} of its {int(any_shows.songs)} songs it takes {int(any_shows.shows)} of its "
        f"{int(any_shows.of)} shows, or {int(in_row.shows)} in a row."
    )


def _draft_short(tables: Tour) -> str:
    """The set that was handed out for the next show, if there is one."""
    planned = next_set(tables)
    if planned is None or not len(score := draft(tables, planned[1])):
        return ""
    first = score.iloc[0]
    return f"The set planned for {_day(planned[0])} is {first.fresh_share:.0%} new to somebody who was {first.group}."


def next_set(tables: Tour) -> tuple[pd.Series, list[str]] | None:
    """The first show that has a planned set and no played one, after the last played; and its titles."""
    ahead = coming(tables.shows, tables.plays)
    ahead = ahead[ahead.show_id.isin(tables.planned.show_id)]
    return (ahead.iloc[0], tables.set_of(ahead.show_id.iloc[0]).song.tolist()) if len(ahead) else None


def next_night(tables: Tour) -> dict[str, object]:
    """The next show of the diary; without one, the day after the last."""
    after = in_order(tables.shows).date.max() + pd.Timedelta(days=1) if len(tables.shows) else "2000-01-01"
    return tables.show() or {"date": after}


def draft(tables: Tour, titles: Sequence[str]) -> pd.DataFrame:
    """Score a draft of the next set for freshness, as from `audience.tonight`."""
    return audience.tonight(
        *(tables.plays, tables.shows, tables.attendance, tables.counts, titles, next_night(tables)),
        hide_under=SMALLEST,
    )


def draft_table(tables: Tour, titles: Sequence[str] | None = None) -> object:
    """How new a draft of the next set would be, and to whom: by default the one that was handed out."""
    planned = next_set(tables)
    titles = titles if titles is not None else planned[1] if planned else []
    table = draft(tables, titles)
    ranges = [_between(row.low, row.high) for row in table.itertuples()]
    table = table.assign(range=ranges, songs_new=table.songs_new.round(1))
    columns = ["group", "fresh_share", "range", "songs_new", "songs", "basis"]
    return tables_shown.shown(table, columns, labels={**LABELS, "fresh_share": "new"}, empty=NO_DRAFT)


def nights(tables: Tour, name: object | None = None) -> pd.DataFrame:
    """Freshness of each show of a leg: for whom it is known, and for somebody at the show before."""
    leg = leg_of(tables, name)
    fresh = audience.freshness(leg.plays, leg.shows, leg.attendance, hide_under=SMALLEST)
    after = audience.after_last(leg.plays, leg.shows, [1]).set_index("show_id").fresh_share
    told = leg.shows[["show_id", "date", "city", "room"]]
    return told.merge(fresh.assign(after_last=fresh.show_id.map(after)), on="show_id")


def scans_table(tables: Tour, diary: Path | None = None) -> object:
    """How new each show was to people among the ticket scans that were taken in beside the diary, if there are any.

    Parameters
    ----------
    tables
        The tour.
    diary
        Path of the diary; the one that the page shows, if not said.

    """
    folder = beside(whose().path if diary is None else diary)
    if not there(folder):
        return tables_shown.shown(pd.DataFrame(columns=["date"]), ["date"], labels=LABELS, empty=NO_SCANS)
    fresh = audience.from_scans(folder, tables.plays, tables.shows, "leg", hide_under=SMALLEST, progress=False).by_show
    table = tables.shows[["show_id", "date", "city"]].merge(fresh[fresh.attendees.ne(0)], on="show_id")
    columns = ["date", "city", "attendees", "repeat", "fresh_share", "worst_decile"]
    labels = {**LABELS, "attendees": "people scanned"}
    return tables_shown.shown(table, columns, labels=labels, empty="None of the scanned shows has a set.")


def curve(tables: Tour) -> pd.DataFrame:
    """Songs heard against shows of the leg attended: expected for any shows, for shows in a row, and real.

    Returns
    -------
    DataFrame
        way ("any shows", "shows in a row", "real"), shows, songs, low, high (missing for the real ones), people
        (missing for the expected ones).

    """
    leg = leg_of(tables)
    made = [
        audience.expected_heard(leg.plays, leg.shows, runs=runs).rename(columns={"expected": "songs"}).assign(way=way)
        for way, runs in (("any shows", False), ("shows in a row", True))
    ]
    real = audience.by_attendance(leg.plays, leg.shows, leg.attendance, hide_under=SMALLEST)
    made.append(real.rename(columns={"songs_heard": "songs"}).assign(way="real"))
    return pd.concat(made, ignore_index=True)[["way", "shows", "to_shows", "songs", "low", "high", "people"]]


def curve_words(tables: Tour) -> str:
    """What the curve says at one number of shows, and why real people may be off it."""
    table = curve(tables)
    real = table[table.way == "real"]
    if not len(real):
        return ""
    row = real[(real.shows > 1) & (real.shows == real.to_shows)].head(4).tail(1)
    if not len(row):
        return ""
    shows, songs = int(row.shows.iloc[0]), row.songs.iloc[0]
    expected = table[table.shows == shows].set_index("way").songs
    run = f", {expected['shows in a row']:.0f} at {shows} in a row" if "shows in a row" in expected else ""
    return (
        f"People who were at {shows} shows of the leg heard {songs:.0f} songs; at {shows} shows of any choice it "
        f"would be {expected['any shows']:.0f}{run}."
    )


def unheard_words(tables: Tour) -> str:
    """What sets alone say of songs that nobody has heard yet, beside what the repertoire says."""
    if not len(tables.plays):
        return NOTHING
    row = audience.unheard(tables.plays, tables.shows).iloc[0]
    active = tables.songs[tables.songs.status == "active"]
    waiting = int((~active.song.isin(tables.plays.song)).sum())
    known = f"The repertoire has {counted(waiting, 'active song')} that no show has had."
    if pd.isna(row.estimate):
        return f"One show has been played; it takes two to judge what is still to come. {known}"
    return (
        f"{row.heard} songs were played; {row.once} of them once and {row.twice} twice. From that alone, somebody who "
        f"hears sets and nothing else would judge that there are {row.estimate:.0f} at least "
        f"({row.low:.0f} to {row.high:.0f}). {known}"
    )


def coming_again_words(tables: Tour) -> str:
    """How many will come again, or why that cannot be told."""
    if not len(tables.attendance):
        return "How many will come again can be told from a list of who was where."
    try:
        found = audience.returning(tables.attendance, tables.shows)
    except Problem as problem:
        return str(problem)
    row = found.ahead.iloc[0]
    low, high = _five(row.low), _five(row.high)
    last = found.ahead.iloc[-1]
    more = f", {_five(last.again)} at one of the next {int(last.shows)}" if last.shows > 1 else ""
    return (
        f"Of the people on the list, about {_five(row.again)} ({low} to {high}) will be at the next show{more}, "
        "if every show is as near to them as any other."
    )


def review_paragraph(tables: Tour, name: object | None = None) -> str:
    """One paragraph for the review of a leg."""
    leg = leg_of(tables, name)
    if not len(leg.plays):
        return f"No set was played on {leg.name}."
    table = nights(tables, name)
    need = audience.shows_to_hear(leg.plays, leg.shows, ENOUGH).set_index("way").shows
    after = table.dropna(subset="after_last")
    songs = f"On {leg.name} {counted(leg.plays.song.nunique(), 'song')} were played at {counted(len(table), 'show')}"
    took = f"; to hear {ENOUGH:.0%} of them took {need['any shows']} shows, or {need['shows in a row']} in a row"
    sentences = [f"{songs}{took if len(table) > 1 else ''}."]
    if len(after):
        least = after.loc[after.after_last.idxmin()]
        sentences.append(
            f"A set was {after.after_last.mean():.0%} new to somebody who had been at the show before, least on "
            f"{_day(least)} ({least.after_last:.0%})."
        )
    known = table.dropna(subset="fresh_share")
    if len(known):
        sentences.append(
            f"To those who came again it was {known.fresh_share.mean():.0%} new on average, "
            f"{known.fresh_share.min():.0%} on the least fresh night and {known.fresh_share.max():.0%} on the freshest."
        )
    return " ".join(sentences)


def _five(people: float) -> int:
    return SMALLEST * round(people / SMALLEST)


def _between(low: float, high: float) -> str:
    return "" if pd.isna(low) else f"{100 * low:.0f} to {100 * high:.0f}%"


def _day(show: pd.Series) -> str:
    town = f" in {show.city}" if isinstance(show.get("city"), str) else ""
    return f"{show.date.day} {show.date:%B}{town}"


def _nights(count: int) -> str:
    return "one night" if count == 1 else f"{count} nights"
