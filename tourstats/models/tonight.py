"""Everything the show day shows, as tables: each model is asked once.

What was known before the show counts, and nothing later: a brief for a past show says what it would have said then.
"""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from tourstats.models import audience, lists, playing, practice, rotation, song
from tourstats.problems import Problem, counted
from tourstats.tables import finished, items
from tourstats.tour import Tour, coming

MINUTES = 110.0
"""Minutes on stage before doors, where nothing else is said. Common practice, no source: about two hours."""
LEAST_TAKEN = 0.05
"""Share that a run is taken to take away at least: a plan needs an order also where the diary says that runs do not
help."""
BREAK_DAYS = 14
"""Days without being played from which on a song of the last set is out all the same. Common practice, no source."""
BREAK_ASSUMED_DAYS = 28
"""Length of a break whose end nobody has said. Common practice, no source."""
LONG_SINCE_KIT_DAYS = 21
"""Days without a run at the kit from which on it is worth saying. Common practice, no source."""
FACTS = [
    *("tempo_bpm", "minutes", "starts_by", "count_in", "speech", "gear", "samples", "track", "track_by"),
    *("track_fails", "watch"),
]
"""What the show day takes from the repertoire as it is."""
FAULTS_ONLY = (
    "it seems that only what went wrong was written down, so no rate is taken from it: say on Playing trends of which "
    "shows the rest was clean"
)
"""What is said where hardly any reviewed performance is clean."""


class NoSetProblem(Problem):
    """The show has no set yet."""

    @classmethod
    def of(cls, show_id: object) -> NoSetProblem:
        """Say what to do about it."""
        return cls(f"Show {show_id} has no set yet. Paste the set that was handed out, then ask again.")


@dataclass(frozen=True)
class Brief:
    """What the show day shows. Every page takes its tables from here.

    Attributes
    ----------
    show
        The show's row as a mapping: show_id, date, number, leg, venue, city, room, set_minutes; days_since the last
        show, None for the first.
    set
        A row a position: position, song, encore, remark (what is said of it tonight), segue, status (carried, moved,
        in; missing for the very first set), was, tempo_bpm, minutes, starts_by, count_in, speech, gear, samples, track,
        track_by, track_fails, watch, cues (of its shape's sections), layoff_shows, layoff_days, expected (mistakes in
        the mean of such nights, with what was run so far and nothing more), low, high (of that mean), chance (that
        anything goes wrong), basis, warning (one short text for the sheet), clean_in_a_row (reviewed performances up
        to the last), safe (bool: safe without thinking, no minutes).
    total
        One row: expected, range_low, range_high (mistakes of the whole set, four nights in five), basis.
    runs
        As from `playing.what_runs_take`: what a run takes away, and whether that is assumed.
    changes
        song, change (in, out, moved), position, was, layoff_shows, layoff_days.
    care
        Songs that need care, the one with most expected mistakes first: song, position, expected, low, high, chance,
        basis, reasons.
    transitions
        Transitions worth a thought, in order: position, song, next_song, times (played so far), reasons.
    words
        What was found on these songs and said of them, by song in order, as from `song.tonight`: position, song, what
        (mistake, worked, note), words, date, show_id, city, severity, personal, at_s, shows_ago, shown (stands there
        at once, or one press away).
    notes
        What was said that holds tonight: why, position, song, next_song, room, text, date, personal.
    ready, band, technician, director
        As from `lists`: what is set out before doors, what to try with the band at the sound check, what changes
        hands between songs, every transition.
    length
        One row: songs, minutes (of those known), unknown (songs without a length), asked, over (minutes over what
        was asked; missing if that is not known).
    plan, left_out, ends, assumed
        As from `practice`: what to run, what does not fit and what that may cost (what costs nothing, as a song that is
        safe, is not missing), why the plan ends early where it does, what was assumed.
    heard
        As from `audience.tonight`: how much of the set is new to people who were at earlier shows.

    """

    show: Mapping[str, object]
    set: pd.DataFrame
    total: pd.DataFrame
    runs: pd.DataFrame
    changes: pd.DataFrame
    care: pd.DataFrame
    transitions: pd.DataFrame
    words: pd.DataFrame
    notes: pd.DataFrame
    ready: pd.DataFrame
    band: pd.DataFrame
    technician: pd.DataFrame
    director: pd.DataFrame
    length: pd.DataFrame
    plan: pd.DataFrame
    left_out: pd.DataFrame
    ends: str
    assumed: Sequence[str]
    heard: pd.DataFrame


@finished
def brief(tour: Tour, show_id: object, minutes: float = MINUTES) -> Brief:
    """Ask every model about one show.

    Parameters
    ----------
    tour
        As `Diary.read` gives it; of what came after the show nothing is used.
    show_id
        A show with a planned set; for a show without one, its played set is taken.
    minutes
        Time before doors, in minutes.

    Raises
    ------
    UnknownShowProblem, NoSetProblem
        If the show is not there, or nobody has said what is played.

    Examples
    --------
    >>> tour = Tour.of(
    ...     songs=pd.DataFrame({"song": ["Ferry", "Tin Rook"], "minutes": [4.0, 5.0]}),
    ...     shows=pd.DataFrame({"show_id": [1, 2], "date": ["2031-03-04", "2031-03-05"]}),
    ...     plays=pd.DataFrame({"show_id": [1], "position": [1], "song": ["Ferry"]}),
    ...     planned=pd.DataFrame({"show_id": [2, 2], "position": [1, 2], "song": ["Tin Rook", "Ferry"]}),
    ... )
    >>> brief(tour, show_id=2, minutes=30).set[["position", "song", "status", "warning"]]
       position      song   status     warning
    0         1  Tin Rook       in  first time
    1         2     Ferry  carried         NaN

    """
    past = tour.until(show_id)
    show, titles = _show(past), tour.set_of(show_id)
    if not len(titles):
        raise NoSetProblem.of(show_id)
    layoffs = rotation.layoffs(past.plays, past.shows, past.songs, past.rehearsals, before=show_id)
    changed = rotation.changes(pd.concat([past.plays, titles], ignore_index=True), past.shows)
    changed = changed[changed.show_id == show_id]
    expected = playing.expected(heard := heard_whole(past), show, titles.song.tolist())
    the_set = _safe(heard, _the_set(titles, changed, layoffs, past, expected))
    pairs = _pairs(the_set, rotation.transitions(past.plays, past.shows))
    crossings = _transitions(the_set, pairs, any_played=bool(len(past.plays)))
    ticked = past.ticks.thing[past.ticks.show_id == show_id]
    band = _band(past, the_set, pairs, ticked)
    runs = playing.what_runs_take(heard)
    every = _candidates(the_set, past)
    candidates = _without_safe(_without_band(every, band), the_set.song[the_set.safe])
    never, takes = _never_played(crossings, the_set, band) if len(past.plays) else None, takes_of(runs)
    plan = practice.plan(candidates, minutes, transitions=never, takes=takes)
    left = practice.left_out(candidates, plan, transitions=never, takes=takes).query("costs > 0")
    return Brief(
        show=show,
        set=the_set,
        total=_total(expected),
        runs=runs,
        changes=_changes(changed, the_set, layoffs),
        care=_care(the_set, every.weight.to_numpy(), any_played=bool(len(past.plays))),
        transitions=crossings,
        words=song.tonight(past, the_set),
        notes=_notes(past.notes, the_set, show, past.shows),
        ready=lists.set_out(the_set, past.things, ticked),
        band=band,
        technician=lists.hand_overs(the_set, past.things),
        director=lists.for_director(the_set, pairs),
        length=_length(the_set, show),
        plan=plan,
        left_out=left,
        ends=practice.why_it_ends(plan, minutes, left),
        assumed=_assumed(candidates, never, takes, runs, faults=heard is not past),
        heard=_heard(past, titles, show),
    )


def _show(past: Tour) -> dict[Any, Any]:
    """The show at hand, with the days since the last one."""
    show: dict[Any, Any] = past.shows.iloc[-1].to_dict()
    return show | {"days_since": (show["date"] - past.played().date.max()).days if len(past.plays) else None}


def _assumed(
    candidates: pd.DataFrame, never: pd.DataFrame | None, takes: dict[str, float], runs: pd.DataFrame, *, faults: bool
) -> tuple[str, ...]:
    """What was assumed, in words; first that only what went wrong was written down, where it was."""
    said = practice.assumed(candidates, transitions=never, takes=takes, of_runs=known_of_runs(runs))
    return (*([FAULTS_ONLY] if faults else []), *said)


def _heard(past: Tour, titles: pd.DataFrame, show: Mapping[str, Any]) -> pd.DataFrame:
    """How new the set is to those who may come."""
    asked = past.plays, past.shows, past.attendance, past.counts, titles.song.tolist(), show
    return audience.tonight(*asked, hide_under=audience.SMALLEST)


def heard_whole(tour: Tour) -> Tour:
    """The tour, as if nobody had listened to it where only what went wrong was written down: rates would mislead."""
    if not playing.faults_only(playing.counted(tour.reviews, tour.mistakes)):
        return tour
    return tour.replaced(reviews=tour.reviews.head(0), mistakes=tour.mistakes.head(0))


def takes_of(runs: pd.DataFrame) -> dict[str, float]:
    """What each way of a plan takes away, from `playing.what_runs_take`.

    Examples
    --------
    >>> takes_of(pd.DataFrame({"way": ["kit", "listen"], "takes": [0.4, -0.1]}))
    {'whole run': 0.4, 'hard section': 0.28, 'listen': 0.05, 'transition': 0.4}

    Where listening seems to do more than playing, that is taken for chance.

    """
    kit, listen = (max(float(runs.set_index("way").takes[way]), LEAST_TAKEN) for way in ("kit", "listen"))
    hard = round(kit * practice.HARD_PART, 9)
    return {"whole run": kit, "hard section": hard, "listen": min(listen, hard), "transition": kit}


def known_of_runs(runs: pd.DataFrame) -> str:
    """What is known of what a run at the kit takes away, in words.

    Examples
    --------
    >>> row = {"way": "kit", "basis": "assumed", "reviewed": 3, "needs": None, "takes_low": 0, "takes_high": 0.7}
    >>> known_of_runs(pd.DataFrame([row]))
    'assumed; common practice, no source; 3 reviewed performances had a run at the kit that week, it takes 20 at least'

    """
    row = runs.set_index("way").loc["kit"]
    if row.basis == "assumed":
        had = f"{counted(row.reviewed, 'reviewed performance')} had a run at the kit that week"
        return f"assumed; common practice, no source; {had}, it takes 20 at least"
    interval = f"likely {max(row.takes_low, 0):.0%} to {row.takes_high:.0%}"
    if row.basis == "the diary":
        return f"from {row.reviewed} reviewed performances with a run that week; {interval}"
    return (
        f"mostly assumed: {row.reviewed} reviewed performances with a run, about {row.needs:.0f} weigh more; {interval}"
    )


def _total(expected: pd.DataFrame) -> pd.DataFrame:
    """Mistakes of the whole set, each song counted once."""
    once = expected.drop_duplicates("song")
    row = once.iloc[0]
    total = {"expected": once.expected.sum(), "range_low": row.range_low, "range_high": row.range_high}
    return pd.DataFrame([total | {"basis": row.basis}])


def _candidates(the_set: pd.DataFrame, past: Tour) -> pd.DataFrame:
    """Songs as a plan takes them: what a transition never played brings is not the song's, and counts once."""
    told = ["song", "position", "minutes", "watch", "layoff_shows", "layoff_days", "rehearsed_days"]
    again = the_set.duplicated("song")  # a song that stands twice is one performance
    return the_set[told].assign(
        expected=(the_set.expected - the_set.transition).mask(again, 0.0),
        assumed=the_set.basis == "prior",
        done=the_set.run_share,
        hard_part=playing.hard_parts(past.mistakes, the_set.song).to_numpy(),
        chance=1.0,
        weight=playing.weights(past.mistakes, the_set.song, playing.heard_more(past.settings)).to_numpy(),
    )


def _without_band(candidates: pd.DataFrame, band: pd.DataFrame) -> pd.DataFrame:
    """What the band has taken on is nothing to run alone."""
    return candidates[~candidates.song.isin(band.song[band.ticked & (band.what == "song")])].reset_index(drop=True)


def _band(past: Tour, the_set: pd.DataFrame, pairs: pd.DataFrame, ticked: pd.Series) -> pd.DataFrame:
    """What to try with the band; before the first set no transition is newer than another."""
    known = pairs if len(past.plays) else pairs.iloc[:0]
    return lists.for_band(the_set, known, _left_open(past), ticked, lists.new_endings(past, the_set.song))


def _left_open(past: Tour) -> pd.DataFrame:
    """Mistakes of the last two shows that the band heard too, each kind and place once."""
    last = past.played().show_id.iloc[::-1].head(song.ALWAYS_SHOWN).tolist()
    table = past.mistakes[past.mistakes.show_id.isin(last) & (past.mistakes.severity >= lists.BAND_HEARD)]
    table = table.assign(shows_ago=[last.index(show_id) + 1 for show_id in table.show_id])
    table = table.sort_values(["shows_ago", "severity"], ascending=[True, False], kind="stable")
    return table.drop_duplicates("song")[["song", "kind", "section", "shows_ago"]]


def _never_played(crossings: pd.DataFrame, the_set: pd.DataFrame, band: pd.DataFrame) -> pd.DataFrame:
    """Transitions that were never played, with the part of the second song's mistakes that they bring.

    One that the band has taken on, or with a song that is no candidate any more, is left to the band.
    """
    theirs = band[band.ticked]
    taken = set(zip(theirs.song, theirs.next_song, strict=True))
    gone = set(theirs.song[theirs.what == "song"])
    alone = [
        (one, two) not in taken and not gone & {one, two}
        for one, two in zip(crossings.song, crossings.next_song, strict=True)
    ]
    crossings = crossings[pd.Series(alone, index=crossings.index, dtype=bool)]
    part = the_set.drop_duplicates("song").set_index("song").transition
    never = crossings[crossings.times == 0][["song", "next_song"]]
    return never.assign(expected=part.reindex(never.next_song).to_numpy())


@finished
def day_off(
    tour: Tour, chances: pd.DataFrame, show: Mapping[str, object], minutes: float
) -> tuple[pd.DataFrame, pd.DataFrame]:
    """What to run while the set of a coming show is not known.

    Parameters
    ----------
    tour
        What is known.
    chances
        song and chance of being played there, as from `swaps.forecast`.
    show
        date (the day after the last show if not said), and if known number and room.
    minutes
        Minutes there are.

    Returns
    -------
    steps
        As from `practice.plan`. Expected mistakes, what runs take away and what was run are those of the show day.
    safe
        Songs that get no minutes because they are safe without thinking, the likeliest first: song, chance,
        clean_in_a_row.

    """
    candidates, takes = _ahead(tour, chances, show)
    out = rotation.layoffs(tour.plays, tour.shows, tour.songs).set_index("song").layoff_shows
    found = song.records(heard_whole(tour), candidates.song)
    safe = [title for title, one in found.items() if song.safe_tonight(one, out.get(title, math.inf), None)]
    steps = practice.plan(_without_safe(candidates, pd.Series(safe, dtype="str")), minutes, takes=takes)
    table = candidates[["song", "chance"]].assign(clean_in_a_row=[found[title].in_a_row for title in candidates.song])
    table = table[candidates.song.isin(safe) & (candidates.chance > 0)]
    return steps, table.sort_values("chance", ascending=False, kind="stable", ignore_index=True)


@finished
def for_break(
    tour: Tour, *, sittings: int = 6, minutes: float = 50.0, shows: int = 3, days: int | None = None
) -> tuple[pd.DataFrame, pd.DataFrame]:
    """What to run in a break, in sittings that a body can do, for the first shows after it.

    Parameters
    ----------
    tour
        What is known.
    sittings, minutes
        How many sittings, each on a day of its own, and how long each is.
    shows
        Shows after the break that count: a song is worth its chance of being played at one of them.
    days
        Days until the first of them; if not said until the next show in the diary, or 28 from the last one.

    Returns
    -------
    steps
        As from `practice.plan`, with `sitting` from 1 first. A song is run once.
    candidates
        The songs they were chosen from, as `practice.plan` takes them.

    """
    from tourstats.models import swaps  # noqa: PLC0415  # late: who has the set list in hand does not wait for it

    last = tour.played().date.max()
    ahead = coming(tour.shows, tour.plays)
    end = ahead.date.iloc[0] if len(ahead) and days is None else last + pd.Timedelta(days=days or BREAK_ASSUMED_DAYS)
    show = {"date": end, "leg": "the leg after"}
    chances = swaps.coming(tour.plays, tour.shows, tour.songs, shows, show)
    candidates, takes = _ahead(tour, chances, show)
    parts = []
    for sitting in range(1, sittings + 1):
        steps = practice.plan(candidates, minutes, takes=takes)
        run = candidates.song.isin(steps.song[steps.what.isin(practice.WAYS)])
        candidates = candidates.assign(done=candidates.done.mask(run, 1.0))
        parts.append(steps.assign(sitting=sitting))
    steps = pd.concat(parts, ignore_index=True)
    return steps[["sitting", *steps.columns.drop("sitting")]], candidates


def _ahead(tour: Tour, chances: pd.DataFrame, show: Mapping[str, object]) -> tuple[pd.DataFrame, dict[str, float]]:
    """Songs that may come at a show, as a plan takes them, and what runs take away."""
    songs = tour.songs[tour.songs.status != "retired"]
    day = tour.played().date.max() + pd.Timedelta(days=1)
    tour = heard_whole(tour)
    said = playing.expected(tour, {"date": day, **show}, songs.song.tolist(), in_order_of_set=False)
    runs = playing.what_runs_take(tour)
    known = practice.candidates(songs, chances, said[["song", "expected"]])
    table = known.merge(said[["song", "run_share", "basis"]], how="left", on="song")
    # A song that only the forecast knows is not run: nobody has said how long it is, or what it asks for.
    table = table[table.basis.notna()].reset_index(drop=True)
    table = table.assign(assumed=table.basis == "prior", done=table.run_share)
    table["weight"] = playing.weights(tour.mistakes, table.song, playing.heard_more(tour.settings)).to_numpy()
    table["hard_part"] = playing.hard_parts(tour.mistakes, table.song).to_numpy()
    return table.drop(columns=["run_share", "basis"]), takes_of(runs)


def _the_set(
    titles: pd.DataFrame, changed: pd.DataFrame, layoffs: pd.DataFrame, past: Tour, expected: pd.DataFrame
) -> pd.DataFrame:
    """Tonight's set with all that is known of each song."""
    facts = past.songs[["song", *FACTS]].assign(cues=past.songs.song.map(_cues(past.sections)))
    table = titles[["position", "song", "encore", "remark", "segue"]]
    table = table.merge(facts, how="left", on="song", validate="many_to_one")
    came = changed[changed.change != "swap-out"].set_index("song")
    table["was"] = came.was.reindex(table.song).array
    table["status"] = came.change.map({"carry-over": "carried", "swap-in": "in"}).reindex(table.song).array
    table.loc[table.song.isin(_moved(came)), "status"] = "moved"
    table = table.merge(layoffs.drop(columns=["status", "readiness"]), how="left", on="song", validate="many_to_one")
    mistakes = expected.drop(columns=["range_low", "range_high"]).drop_duplicates("song")
    table = table.merge(mistakes, how="left", on="song", validate="many_to_one")
    table["warning"] = [_warning(row, any_played=bool(len(past.plays))) for row in table.to_dict("records")]
    return table.astype({"warning": "str", "cues": "str"})


def _cues(sections: pd.DataFrame) -> dict[str, str]:
    """Of each song what tells that its sections start, in their order."""
    said = sections[sections.cue.notna()].sort_values("position", kind="stable")
    said = said.assign(cue=said.name + ": " + said.cue)
    return dict(said.groupby("song").cue.agg("; ".join))


def _safe(heard: Tour, the_set: pd.DataFrame) -> pd.DataFrame:
    """The set with the clean performances in a row of each song, and whether it needs no minutes."""
    found = song.records(heard, the_set.song)
    safe = [song.safe_tonight(found[row.song], row.layoff_shows, row.remark) for row in the_set.itertuples()]
    return the_set.assign(clean_in_a_row=[found[title].in_a_row for title in the_set.song], safe=safe)


def _without_safe(candidates: pd.DataFrame, safe: pd.Series) -> pd.DataFrame:
    """What needs no minutes gets none, but may stand beside a transition that does."""
    return candidates.assign(expected=candidates.expected.mask(candidates.song.isin(safe), 0.0))


def _moved(came: pd.DataFrame) -> list[str]:
    """The fewest songs that had to move for the rest of the carry-overs to keep their order."""
    carried = came[came.change == "carry-over"].sort_values("position")
    places = carried.was.astype(int).tolist()
    tails: list[int] = []
    length = []
    for place in places:
        length.append(bisect_left(tails, place))
        tails[length[-1] : length[-1] + 1] = [place]
    kept, want = set(), len(tails) - 1
    for at in reversed(range(len(places))):
        if length[at] == want:
            kept.add(at)
            want -= 1
    return [song for at, song in enumerate(carried.index) if at not in kept]


def _warning(row: Mapping[str, Any], *, any_played: bool) -> str | None:
    """One short text for the sheet: how long it was out, then the spot to watch."""
    parts = []
    if not row["plays"]:
        parts += ["first time"] * any_played  # before the first set everything is
    elif row["layoff_shows"]:
        parts.append(f"out {counted(row['layoff_shows'], 'show')}")
    elif row["layoff_days"] >= BREAK_DAYS:
        parts.append(f"out {counted(row['layoff_days'], 'day')}")
    if isinstance(row["watch"], str):
        parts.append(row["watch"])
    return " · ".join(parts) or None


def _changes(changed: pd.DataFrame, the_set: pd.DataFrame, layoffs: pd.DataFrame) -> pd.DataFrame:
    """What came in, went out and moved, with how long what came in had been out."""
    moved = the_set.song[the_set.status == "moved"]
    names = changed.change.map({"swap-in": "in", "swap-out": "out", "carry-over": "moved"})
    rows = changed.assign(change=names)[(names != "moved") | changed.song.isin(moved)]
    rows = rows.merge(layoffs[["song", "layoff_shows", "layoff_days", "plays"]], how="left", on="song")
    rows = rows.sort_values("change", kind="stable", key=lambda c: c.map({"in": 0, "out": 1, "moved": 2}))
    return rows[["song", "change", "position", "was", "plays", "layoff_shows", "layoff_days"]].reset_index(drop=True)


def _care(the_set: pd.DataFrame, weight: NDArray[np.float64], *, any_played: bool) -> pd.DataFrame:
    """Songs with a reason for care, the most expected mistakes first, those that more people hear weighing more.

    A song that was in the last set needs care if reviews say that it goes wrong more often than this set in the mean.
    """
    table = the_set.assign(heard=the_set.expected * weight).drop_duplicates("song")
    often = (table.basis != "prior") & (table.expected > table.expected.mean())
    reasons = [_reasons(row, often=more) for row, more in zip(table.to_dict("records"), often, strict=True)]
    table["reasons"] = pd.array(reasons, dtype="str")
    table = table if any_played else table.iloc[:0]  # before the first set no song stands out from the others
    table = table[(table.reasons != "") & ~table.safe]
    table = table.sort_values("heard", ascending=False, kind="stable", ignore_index=True)
    return table[["song", "position", "expected", "low", "high", "chance", "basis", "reasons"]]


def _reasons(row: Mapping[str, Any], *, often: bool) -> str:
    """Why a song needs care, in words."""
    parts = []
    if not row["plays"]:
        parts.append("never played at a show")
    elif row["layoff_shows"]:
        low, high = f"{row['usual_low']:.0f}", f"{row['usual_high']:.0f}"
        longer = row["layoff_shows"] > row["usual_high"]  # never where nobody knows how long is usual
        usual = f", usually {low if low == high else f'{low} to {high}'}" if longer else ""
        parts.append(f"out {counted(row['layoff_days'], 'day')} and {counted(row['layoff_shows'], 'show')}{usual}")
    elif row["layoff_days"] >= BREAK_DAYS:
        parts.append(f"not played for {row['layoff_days']} days")
    if (parts or row["status"] == "in") and pd.isna(row["rehearsed_days"]):
        parts.append("no run on record")
    elif parts and (pd.isna(row["kit_days"]) or row["kit_days"] > LONG_SINCE_KIT_DAYS):
        never = pd.isna(row["kit_days"])
        parts.append("never run at the kit" if never else f"last run at the kit {row['kit_days']} days ago")
    if (parts or often) and isinstance(row["because"], str) and row["because"]:
        parts.append(f"mistakes: {row['because']}")
    if parts and isinstance(row["watch"], str):
        parts.append(f"watch {row['watch']}")
    return "; ".join(parts)


def _pairs(the_set: pd.DataFrame, played: pd.DataFrame) -> pd.DataFrame:
    """Each transition of tonight, with how often it was played."""
    pairs = rotation.following(the_set.assign(show_id=0))[["position", "song", "next_song", "next_position"]]
    pairs = pairs.merge(played[["song", "next_song", "times"]], how="left", on=["song", "next_song"])
    return pairs.assign(times=pairs.times.fillna(0).astype(int))


def _transitions(the_set: pd.DataFrame, pairs: pd.DataFrame, *, any_played: bool) -> pd.DataFrame:
    """Transitions of tonight that were never played or ask for something, in order of the set."""
    at = the_set.set_index("position").to_dict("index")
    reasons = [
        _crossing(at[row.position], at[row.next_position], row.times, any_played=any_played)
        for row in pairs.itertuples()
    ]
    pairs = pairs.assign(reasons=pd.array(reasons, dtype="str"))  # text also where a set of one song has no transition
    return pairs[pairs.reasons != ""].drop(columns="next_position").reset_index(drop=True)


def _crossing(one: Mapping[str, object], two: Mapping[str, object], times: int, *, any_played: bool) -> str:
    """What a transition asks for, in words; empty if nothing."""
    parts = ["never played before"] if any_played and not times else []
    parts += ["segue, no gap"] if one["segue"] is True else []
    parts += [
        f"{row['song']}: {row['remark']}" for row in (one, two) if isinstance(row["remark"], str) and row["remark"]
    ]
    a, b = one["tempo_bpm"], two["tempo_bpm"]
    if isinstance(a, float) and isinstance(b, float) and max(a / b, b / a) >= lists.TEMPO_JUMP:
        parts.append(f"tempo {a:.0f} to {b:.0f}")
    away, taken = (set(items(x["gear"])) - set(items(y["gear"])) for x, y in ((one, two), (two, one)))
    if taken:
        parts.append("pick up: " + ", ".join(gear for gear in items(two["gear"]) if gear in taken))
    if away:
        parts.append("put down: " + ", ".join(gear for gear in items(one["gear"]) if gear in away))
    if items(two["samples"]):
        parts.append(f"sample: {', '.join(items(two['samples']))}")
    if isinstance(two["track"], str) and two["track"] != one["track"]:
        parts.append(f"track: {two['track']}")
    if isinstance(two["starts_by"], str) and isinstance(one["starts_by"], str) and two["starts_by"] != one["starts_by"]:
        parts.append(f"count-in: {two['starts_by']}")
    return "; ".join(parts)


def _notes(notes: pd.DataFrame, the_set: pd.DataFrame, show: Mapping[str, object], shows: pd.DataFrame) -> pd.DataFrame:
    """Notes that hold tonight: on these songs, these transitions, this kind of venue, this place."""
    place = the_set.drop_duplicates("song").set_index("song").position
    pairs = set(zip(the_set.song, the_set.song.shift(-1), strict=True))
    here = shows.show_id[(shows.venue.notna() & (shows.venue == show["venue"])) & (shows.show_id != show["show_id"])]
    this_room = notes.room.isna() | (notes.room == show["room"])
    why = pd.Series("", index=notes.index)
    why[(notes.about == "show") & notes.show_id.isin(here)] = "this venue"
    why[(notes.about == "venue") & notes.venue.notna() & (notes.venue == show["venue"])] = "this venue"
    why[(notes.about == "room") & notes.room.notna() & this_room] = "this kind of venue"
    why[(notes.about == "song") & notes.song.isin(place.index) & this_room] = "song"
    why[(notes.about == "song") & notes.song.isin(place.index) & this_room & notes.room.notna()] = (
        "song in this kind of venue"
    )
    transition = pd.Series([pair in pairs for pair in zip(notes.song, notes.next_song, strict=True)], index=notes.index)
    why[(notes.about == "transition") & transition.astype(bool)] = "transition"
    table = notes.assign(why=why, position=place.reindex(notes.song).astype("Int64").array)[why != ""]
    table = table.sort_values(["position", "date"], kind="stable", na_position="last", ignore_index=True)
    return table[["why", "position", "song", "next_song", "room", "text", "date", "personal"]]


def _length(the_set: pd.DataFrame, show: Mapping[str, object]) -> pd.DataFrame:
    """Length of the set against what was asked for."""
    known, asked = float(the_set.minutes.sum()), show["set_minutes"]
    row = {"songs": len(the_set), "minutes": known, "unknown": int(the_set.minutes.isna().sum()), "asked": asked}
    return pd.DataFrame([row]).assign(over=lambda t: t.minutes - t.asked.astype(float))
