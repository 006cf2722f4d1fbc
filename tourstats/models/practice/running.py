"""What to run in the minutes there are: the plan, what it leaves out, and what it assumed."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
import pandas as pd

from tourstats.models.estimates import PRIOR_RATE
from tourstats.models.practice.choosing import Item, Limits, Work, choose, room, units
from tourstats.models.practice.inputs import (
    HARD_SHARE,
    SONG_MINUTES,
    TRANSITION_MINUTES,
    TRANSITION_PRIOR,
    WAYS,
    PlanProblem,
    checked_candidates,
    checked_transitions,
    left_of,
    number,
    shares,
)
from tourstats.problems import counted

HOUR, REST, SETUP = 60.0, 10.0, 0.5
"""Minutes: in each hour so many of rest, and so many between two steps."""
ENDS_EARLY = 2.0
"""Minutes left over from which on it is said why nothing is run in them."""
HARDLY = 0.005
"""Below it two decimals would read 0.00."""
RESTS = "hands, back and ears: put the instrument down, somewhere quiet"
COLUMNS = {
    "step": "int64",
    "starts": "float64",
    "minutes": "float64",
    "what": "object",
    "song": "object",
    "next_song": "object",
    "avoids": "float64",
    "because": "object",
}


def plan(
    candidates: pd.DataFrame,
    minutes: float,
    *,
    transitions: pd.DataFrame | None = None,
    rest_minutes: float = REST,
    setup_minutes: float = SETUP,
    takes: Mapping[str, float] | None = None,
    ways: Sequence[str] = WAYS,
) -> pd.DataFrame:
    """What to run in these minutes, in order, with rests: the plan that avoids the most expected mistakes.

    Parameters
    ----------
    candidates
        A row a song: song; chance of being played (1 if the column is missing); expected mistakes per performance
        (0.3 where empty); minutes (where empty the median of the others, or 4); hard_minutes, length of the hard
        section (0.4 of the song where empty); hard_part, share of its mistakes that lie there; done, share of its
        mistakes that runs have taken away already (`expected` is what is left: a song run as well as it can be is not
        run again); weight, what a mistake of it counts. position, watch, because, layoff_shows, layoff_days and
        rehearsed_days are said in the reasons where they are given. A song that stands twice is run once and counts
        twice.
    minutes
        Minutes there are, rests included.
    transitions
        A row a pair that may follow on: song, next_song, expected, which the songs must not carry too (0.03 where
        empty), minutes (1.5 where empty),
        chance (the smaller of the two songs' where it is missing). Both songs have to be candidates.
    rest_minutes
        Rest in each whole hour; no stretch of playing is longer than the rest of the hour. 0 for none.
    setup_minutes
        Pause between two steps; songs that run on have none.
    takes
        Share of the expected mistakes that a way takes away, where it is not as in `TAKES`.
    ways
        Ways that are possible where one is: "whole run", "hard section", "listen".

    Returns
    -------
    DataFrame
        A row a step, in order; none if nothing fits
            step       int    from 1
            starts     float  minutes from the beginning
            minutes    float  how long; 0 for a transition between two songs that are run in a row
            what       str    "whole run", "hard section", "listen", "transition" or "rest"
            song       str    title; empty for a rest
            next_song  str    of a transition, and of a song that runs on; else empty
            avoids     float  expected mistakes avoided, times their weight
            because    str    why

    Raises
    ------
    Problem
        If a setting or a cell is not what it has to be; names the row.

    Notes
    -----
    A song is run one way at most. What a step avoids is chance times expected mistakes times the share taken away; the
    sum is made as large as it can be under the minutes, by a mixed-integer programme. A transition is run by itself, or
    comes free where its two songs are run whole in a row. The most fragile comes first, songs that run on stay
    together. Listening does not count towards the next rest and comes last: it rests the hands before the show.

    The choice is exact as long as what is chosen can be dealt out to the stretches between rests. Where it cannot,
    playing gives up what did not fit, mostly seconds, and the best is chosen under that.

    Examples
    --------
    >>> songs = pd.DataFrame({"song": ["Ferry", "Tin Rook"], "expected": [0.9, 0.2], "minutes": [5, 3]})
    >>> plan(songs, 7)[["starts", "minutes", "what", "song", "avoids"]]
       starts  minutes          what      song  avoids
    0     0.0      5.0     whole run     Ferry   0.297
    1     5.5      1.2  hard section  Tin Rook   0.046

    """
    minutes, rest, setup = _times(minutes, rest_minutes, setup_minutes)
    for way in ways:
        if way not in WAYS:
            raise PlanProblem.bad_choice("ways", way, WAYS)
    songs = checked_candidates(candidates)
    pairs = checked_transitions(transitions, songs)
    items = _items(songs, pairs, shares(takes), ways, setup)
    chosen = choose(items, _limits(minutes, rest, setup, plays=any(item.plays for item in items)))
    return _steps(items, chosen, songs, pairs, (rest, setup))


def left_out(
    candidates: pd.DataFrame,
    steps: pd.DataFrame,
    *,
    transitions: pd.DataFrame | None = None,
    takes: Mapping[str, float] | None = None,
) -> pd.DataFrame:
    """Songs and transitions that a plan has no step for, and what running each would have avoided, dearest first.

    Returns
    -------
    DataFrame
        song, next_song (of a transition, else empty), minutes it would have taken, costs: expected mistakes that a
        whole run, or running the transition, would have avoided.

    Examples
    --------
    >>> songs = pd.DataFrame({"song": ["Ferry", "Tin Rook"], "expected": [0.9, 0.2], "minutes": [5, 3]})
    >>> left_out(songs, plan(songs, 5))
           song next_song  minutes  costs
    0  Tin Rook      None      3.0  0.066

    """
    songs = checked_candidates(candidates)
    pairs = checked_transitions(transitions, songs)
    share = shares(takes)
    changing = steps[steps.what == "transition"]
    done = set(steps.song[steps.what != "transition"].dropna())
    crossed = set(zip(changing.song, changing.next_song, strict=True))
    parts = (
        songs[~songs.song.isin(done)].assign(next_song=None, share=share["whole run"]),
        pairs[
            ~pd.Series([pair in crossed for pair in zip(pairs.song, pairs.next_song, strict=True)], dtype=bool)
        ].assign(share=share["transition"], done=0.0),
    )
    columns = ["song", "next_song", "minutes", "worth", "share", "done"]
    missed = pd.concat(
        [part[columns].astype({"next_song": object}) for part in parts if len(part)] or [parts[0][columns]]
    )
    missed["costs"] = [
        worth * left_of(take, done) for worth, take, done in zip(missed.worth, missed.share, missed.done, strict=True)
    ]
    missed = missed[(missed.costs > 0) | (missed.done == 0)]
    missed["next_song"] = missed.next_song.where(missed.next_song.notna(), None)
    missed = missed.sort_values("costs", ascending=False, kind="stable", ignore_index=True)
    return missed[["song", "next_song", "minutes", "costs"]]


def why_it_ends(steps: pd.DataFrame, minutes: float, left: pd.DataFrame) -> str:
    """Why a plan ends before the minutes are over, in a sentence; "" where it does not, or has no step.

    Parameters
    ----------
    steps, left
        As from `plan` and `left_out`.
    minutes
        As for `plan`.

    Examples
    --------
    >>> songs = pd.DataFrame({"song": ["Ferry", "Tin Rook"], "expected": [0.9, 0.2], "minutes": [5, 3]})
    >>> steps = plan(songs, 20)
    >>> why_it_ends(steps, 20, left_out(songs, steps))
    'The plan ends after 8 of the 20 minutes: every song worth a run is in it.'

    """
    ends = float((steps.starts + steps.minutes).max()) if len(steps) else minutes
    if minutes - ends < ENDS_EARLY:
        return ""
    rests = steps[steps.what == "rest"]
    since = float((rests.starts + rests.minutes).max()) if len(rests) else 0.0
    why = "every song worth a run is in it"
    if len(left):
        longer = HOUR - REST - (ends - since) >= minutes - ends
        why = "what is left takes longer than that" if longer else "hands that played for so long need a rest"
    return f"The plan ends after {ends:.0f} of the {minutes:.0f} minutes: {why}."


def assumed(
    candidates: pd.DataFrame,
    *,
    transitions: pd.DataFrame | None = None,
    takes: Mapping[str, float] | None = None,
    of_runs: str = "assumed; common practice, no source",
) -> list[str]:
    """Sentences that say what a plan took for granted; `of_runs` is what is known of what a run takes away.

    Examples
    --------
    >>> print(assumed(pd.DataFrame({"song": ["Ferry"], "minutes": [4], "expected": [1.2]}))[0])
    No chances were given: every song counts as played.

    """
    songs = checked_candidates(candidates)
    pairs = checked_transitions(transitions, songs)
    share = shares(takes)
    sentences = []
    if "chance" not in candidates:
        sentences.append("No chances were given: every song counts as played.")
    sentences += _assumed_of_songs(candidates, songs)
    if pairs.assumed.any():
        sentences.append(
            f"Nothing is known of {_of(pairs.assumed, 'transition')}: {TRANSITION_PRIOR:g} mistakes are assumed each."
        )
    sentences.append(
        f"One whole run is taken to avoid {share['whole run']:.0%} of a song's expected mistakes, its hard section "
        f"{share['hard section']:.0%}, listening {share['listen']:.0%}, running a transition {share['transition']:.0%} "
        f"of the transition's ({of_runs})."
    )
    if len(pairs):
        sentences.append(
            f"A transition takes {TRANSITION_MINUTES:g} minutes where nothing else is said, and none where its two "
            "songs are run whole in a row."
        )
    rests = f"{SETUP:g} minutes are kept between two steps, and {REST:g} minutes of rest in each whole hour."
    return [*sentences, rests]


def _times(minutes: object, rest_minutes: object, setup_minutes: object) -> tuple[float, float, float]:
    """The three settings as numbers that go together."""
    minutes, rest = number(minutes, "minutes"), number(rest_minutes, "rest_minutes")
    setup = number(setup_minutes, "setup_minutes")
    if rest >= HOUR:
        raise PlanProblem.bad_minutes("rest_minutes", rest_minutes, "less than 60")
    if rest and setup > rest:
        raise PlanProblem.bad_minutes("setup_minutes", setup_minutes, "no longer than a rest")
    return minutes, rest, setup


def _limits(minutes: float, rest: float, setup: float, *, plays: bool) -> Limits:
    """Stretches of playing: one more than there are whole hours, as many as leave the most minutes to play."""
    stretches = 1 + int(minutes // HOUR) if rest and plays else 1
    stretch = HOUR - rest if rest and plays else minutes
    return Limits(stretches, room(stretch), room(minutes - rest * (stretches - 1)), room(setup))


def _items(
    songs: pd.DataFrame, pairs: pd.DataFrame, share: Mapping[str, float], ways: Sequence[str], setup: float
) -> list[Item]:
    """Everything that could be done and is worth anything."""
    pause = room(setup)
    lengths = {"whole run": "minutes", "hard section": "hard_minutes", "listen": "minutes"}
    rows = list(songs.itertuples())
    items = []
    for row, way in ((row, way) for row in rows for way in WAYS if way in ways):
        size = float(units(getattr(row, lengths[way]))) + pause
        items.append(Item(way, row.Index, None, row.worth * _taken(row, way, share), size, row.worth))
    if "whole run" in ways or "hard section" in ways:
        gain = share["transition"]
        for row in pairs.itertuples():
            size = float(units(row.minutes)) + pause
            items.append(Item("transition", row.a, row.b, row.worth * gain, size, row.worth))
            if "whole run" in ways and row.a != row.b:
                items.append(Item("in a row", row.a, row.b, row.worth * gain, -pause, row.worth))
    whole = {item.song for item in items if item.what == "whole run" and item.value > 0}
    return [
        item for item in items if item.value > 0 and (item.what != "in a row" or {item.song, item.next_song} <= whole)
    ]


def _taken(song: Any, way: str, share: Mapping[str, float]) -> float:  # noqa: ANN401  # a row of a table
    """Share of what is left of a song's mistakes that a way takes away."""
    of_all = share[way]
    if way == "hard section" and not pd.isna(song.hard_part):
        of_all = share["whole run"] * song.hard_part
    return left_of(of_all, song.done)


def _steps(
    items: Sequence[Item],
    chosen: tuple[list[list[Work]], list[Work]],
    songs: pd.DataFrame,
    pairs: pd.DataFrame,
    pauses: tuple[float, float],
) -> pd.DataFrame:
    """Lay the chosen works end to end, with their pauses, and say why each is there."""
    rest, setup = pauses
    titles = songs.assign(all_assumed=songs.assumed.all()).to_dict("records")
    pairs = pairs.assign(all_assumed=songs.assumed.all())
    crossings = {(row["a"], row["b"]): row for row in pairs.to_dict("records")}
    stretches, listening = chosen
    stretches = [*stretches[:-1], [*(stretches[-1] if stretches else []), *listening]]
    rows: list[dict[str, Any]] = []
    clock = 0.0
    for at, works in enumerate(stretches):
        if at:
            rows.append({"starts": clock, "minutes": rest, "what": "rest", "avoids": 0.0, "because": RESTS})
            clock += rest
        for nth, work in enumerate(works):
            clock += setup if nth else 0.0
            for place, then in zip(work, [*work[1:], None], strict=True):
                item = items[place]
                pair = None if item.next_song is None else (item.song, item.next_song)
                pick_up = setup if place == work[0] else 0.0
                step = (
                    _song_step(item, titles[item.song])
                    if pair is None
                    else _crossing_step(item, crossings[pair], pick_up)
                )
                if then is not None and pair is None:
                    step["next_song"] = titles[items[then].next_song or 0]["song"]
                rows.append({"starts": clock, **step})
                clock += step["minutes"]
    return _table(rows)


def _song_step(item: Item, song: Mapping[str, Any]) -> dict[str, Any]:
    minutes = song["hard_minutes"] if item.what == "hard section" else song["minutes"]
    because = "; ".join(_reasons(song, item.what))
    return {"minutes": minutes, "what": item.what, "song": song["song"], "avoids": item.value, "because": because}


def _crossing_step(item: Item, pair: Mapping[str, Any], pick_up: float) -> dict[str, Any]:
    """A transition by itself, between two songs that run on, or picked up after a rest that fell between them."""
    how, minutes = "the end of one into the start of the next", pair["minutes"]
    if item.what == "in a row" and pick_up:
        how, minutes = "from the last bars of the song before the rest", pick_up
    elif item.what == "in a row":
        how, minutes = "comes free: both songs are run in a row", 0.0
    reasons = [*_said(pair, "because"), how, _expects(pair, "a time")]
    return {
        "minutes": minutes,
        "what": "transition",
        "song": pair["song"],
        "next_song": pair["next_song"],
        "avoids": item.value,
        "because": "; ".join(reasons),
    }


def _reasons(song: Mapping[str, Any], what: str) -> list[str]:
    """Why a song is in the plan, in words; what the caller said of it comes first."""
    because = _said(song, "because")
    reasons = [*because]
    if what == "hard section":
        reasons += [f"watch: {spot}" for spot in _said(song, "watch")] or ["the part you are least sure of"]
    if _known(song, "position"):
        reasons.append(f"number {song['position']:.0f} of the set")
    if song["chance"] < 1:
        reasons.append(f"chance of being played {song['chance']:.0%}")
    if not because:
        reasons += _known_of(song)
    return [*reasons, _expects(song, "per performance")]


def _known_of(song: Mapping[str, Any]) -> list[str]:
    """How long it was not played, nor run."""
    parts = [counted(int(song[f"layoff_{unit}s"]), unit) for unit in ("day", "show") if _known(song, f"layoff_{unit}s")]
    told = [f"out {' and '.join(parts)}"] if parts else []
    if _known(song, "rehearsed_days"):
        told.append(f"last run {counted(int(song['rehearsed_days']), 'day')} ago")
    return told


def _expects(row: Mapping[str, Any], unit: str) -> str:
    if row.get("all_assumed"):
        return "assumed, nothing reviewed yet"
    if row["assumed"]:
        return f"{row['expected']:.2f} mistakes {unit} assumed, nothing reviewed yet"
    if row["expected"] < HARDLY:
        return f"hardly any mistakes {unit} expected"
    return f"{row['expected']:.2f} mistakes {unit} expected"


def _said(row: Mapping[str, Any], column: str) -> list[str]:
    text = row.get(column)
    return [text.strip()] if isinstance(text, str) and text.strip() else []


def _known(row: Mapping[str, Any], column: str) -> bool:
    return row.get(column) is not None and not pd.isna(row[column])


def _table(rows: list[dict[str, Any]]) -> pd.DataFrame:
    steps = pd.DataFrame([{"step": at, **row} for at, row in enumerate(rows, start=1)], columns=list(COLUMNS))
    for column in ("song", "next_song"):
        steps[column] = steps[column].astype(object).where(steps[column].notna(), None)
    # Half minutes add up to hairs in floating point.
    steps[["starts", "minutes"]] = steps[["starts", "minutes"]].astype(float).round(6)
    return steps.astype(COLUMNS)


def _assumed_of_songs(candidates: pd.DataFrame, songs: pd.DataFrame) -> list[str]:
    sentences = []
    if songs.assumed.any():
        sentences.append(
            f"Nothing was reviewed yet of {_of(songs.assumed, 'song')}: {PRIOR_RATE:g} mistakes per performance are "
            "assumed for each."
        )
    lengths = candidates["minutes"] if "minutes" in candidates else pd.Series(np.nan, index=candidates.index)
    if lengths.isna().any():
        length = SONG_MINUTES if lengths.isna().all() else pd.to_numeric(lengths).median()
        how = "" if lengths.isna().all() else ", the median of the others,"
        known = f"The length of {_of(lengths.isna(), 'song')} is not known"
        known = "No song's length is known" if len(lengths) > 1 and lengths.isna().all() else known
        sentences.append(f"{known}: {length:.1f} minutes{how} are assumed.")
    if "hard_minutes" not in candidates or candidates["hard_minutes"].isna().any():
        sentences.append(f"A hard section is taken to be {HARD_SHARE:.0%} of its song where its length is not given.")
    return sentences


def _of(which: pd.Series, noun: str) -> str:
    if len(which) == 1:
        return f"the {noun}"
    return f"any {noun}" if which.all() else f"{int(which.sum())} of {counted(len(which), noun)}"
