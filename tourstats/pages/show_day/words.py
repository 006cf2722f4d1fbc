"""The show day in words and tables, in the order of the afternoon: one list for command and notebook."""

from __future__ import annotations

import textwrap
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import pandas as pd

from tourstats.models import care
from tourstats.models.song import ALWAYS_SHOWN, NO_MINUTES, rule
from tourstats.models.tonight import BREAK_DAYS, Brief
from tourstats.pages.kit import links, tables_shown
from tourstats.problems import counted, together

NO_TIME = "There is no time for a run: read the list of songs that need care once more."
SET_OUT = "Set out before doors"
MOST = 8
"""Songs that need care, at most: more than that nobody can keep in mind."""

SCREEN, STEPS = 56, 12
"""Lines of a terminal that the show day may take, with four more below it; steps of the plan at most."""
STAGE_DBA = 97.0
"""Level that the reminder takes where none was entered. Common practice, no source: beside a drum kit."""
ASSUMED = f"Nobody has entered a level: {STAGE_DBA:.0f} dBA is assumed (common practice, no source)."


@dataclass(frozen=True)
class Section:
    """One part of a page: a heading, a sentence or two, and perhaps a table with labels for print."""

    heading: str
    words: str
    table: pd.DataFrame = field(default_factory=pd.DataFrame)
    labels: Mapping[str, str] = field(default_factory=dict)


def sections(brief: Brief, level_dba: float | str | None = None) -> list[Section]:
    """Every part of the show day, in order; a part without data says so in its words.

    Parameters
    ----------
    brief
        As from `models.tonight.brief`.
    level_dba
        Level on stage while practising, in dBA, for the reminder on hearing; as it was typed, or not at all.

    """
    return [
        Section(where_and_when(brief.show), in_short(brief)),
        _changes(brief),
        _care(brief),
        _transitions(brief),
        _notes(brief),
        _ready(brief),
        Section("Length", length(brief)),
        *_plan(brief, level_dba),
        Section("For people who travel", heard(brief)),
    ]


def where_and_when(show: Mapping[str, Any]) -> str:
    """Where and when a show is, as a heading.

    Examples
    --------
    >>> day = {"date": "2031-03-04", "number": 2}
    >>> where_and_when(day | {"venue": "Weir Hall", "city": "Ostby", "room": "theatre"})
    'Weir Hall, Ostby, theatre, Tuesday 4 March 2031, show 2 of the day'

    """
    day = pd.Timestamp(str(show["date"]))
    parts = [str(show[name]) for name in ("venue", "city", "room") if isinstance(show[name], str)]
    parts.append(f"{day:%A} {day.day} {day:%B %Y}")
    if show["number"] != 1:
        parts.append(f"show {show['number']} of the day")
    return ", ".join(parts)


def in_short(brief: Brief) -> str:
    """What matters tonight in two or three sentences."""
    status = brief.set.status
    came, carried = int((status == "in").sum()), int(status.isin(["carried", "moved"]).sum())
    compared = f"{carried} carried over, {came} came in" if came + carried else "the first set in the diary"
    since = brief.show["days_since"]
    long_ago = isinstance(since, int) and since > BREAK_DAYS
    sentences = [f"The last show was {since} days ago."] if long_ago else []
    sentences.append(f"{counted(len(brief.set), 'song')}: {compared}.")
    if len(brief.care):
        first = brief.care.iloc[0]
        sentences.append(f"Most care: {first.song} ({first.reasons}).")
        sentences += [of_the_set(brief)] if brief.total.basis.iloc[0] != "prior" else []
    new = int(brief.transitions.reasons.str.startswith("never").sum())
    if new:
        sentences.append(f"{counted(new, 'transition')} {'was' if new == 1 else 'were'} never played before.")
    runs = _runs(brief).query("what != 'rest'")
    if len(runs):
        sentences.append(f"The plan has {counted(len(runs), 'run')}, starting with {runs.song.iloc[0]}.")
    return " ".join(sentences)


def how_often(chance: float) -> str:
    """A chance as people say it.

    Examples
    --------
    >>> [how_often(chance) for chance in (0.02, 0.21, 0.48, 0.66, 0.95)]
    ['1 time in 50', '1 time in 5', '1 time in 2', '2 times in 3', 'nearly always']

    """
    of = (0.9, "nearly always"), (0.7, "3 times in 4"), (0.58, "2 times in 3"), (0.42, "1 time in 2")
    return next((words for least, words in of if chance >= least), f"1 time in {1 / max(chance, 0.001):.0f}")


def of_the_set(brief: Brief) -> str:
    """How many mistakes to expect in the whole set, four nights in five; nothing that counts without reviews."""
    row = brief.total.iloc[0]
    if row.basis == "prior":
        return "Nothing was reviewed yet, so no mistakes can be counted ahead."
    low, high = int(row.range_low), int(row.range_high)
    many = f"{low} to {high} mistakes" if low < high else counted(low, "mistake")
    return f"In the whole set, {many} four nights in five."


def length(brief: Brief) -> str:
    """How long the set is against what was asked for."""
    row = brief.length.iloc[0]
    if row.unknown == row.songs:
        return "No song of this set has a length in the diary yet, so the set cannot be added up."
    minutes = int(row.minutes + 0.5)  # what is said next is counted from what is said here
    sentence = f"{minutes} minutes of music in {counted(row.songs, 'song')}"
    if row.unknown:
        sentence += f", {row.unknown} of which {'has' if row.unknown == 1 else 'have'} no length in the diary"
    if pd.isna(row.asked):
        return sentence + ". No set length given."
    over = minutes - round(row.asked)
    if over > 0:
        return f"{sentence}: {over} minutes more than the {row.asked:.0f} that were asked for, before any talking."
    return f"{sentence}; {row.asked:.0f} were asked for, which leaves {-over} for talking and transitions."


def rows(brief: Brief) -> pd.DataFrame:
    """The set as it is used: a row a song, in order.

    Returns
    -------
    DataFrame
        position, song, encore, segue, status (carried, moved, in), new (what is new of it, in words), remark (what
        stands behind its title tonight), watch (its own spots to watch), ready (a list: who starts it and how, what is
        said before it, its track, its cues), found and more (lists of what was found and
        said, at once and one press away), fresh (the loudest mistake of the last two shows), open (how many of `found`
        are of the last two shows, and are never folded away).

    """
    the_set = brief.set
    return pd.DataFrame({
        "position": the_set.position,
        "song": the_set.song,
        "encore": the_set.encore,
        "segue": the_set.segue.fillna(value=False).astype(bool),
        "status": the_set.status,
        "new": [_new(row) for row in the_set.to_dict("records")],
        "remark": the_set.remark,
        "watch": the_set.watch,
        "ready": [_ready_for(row) for row in the_set.to_dict("records")],
        "found": the_set.song.map(said(brief, shown=True)),
        "more": the_set.song.map(said(brief, shown=False)),
        "fresh": the_set.song.map(_lately(brief)),
        "open": the_set.song.map(_fresh(brief).groupby("song").size()).fillna(0).astype(int),
    }).pipe(lambda table: table.astype("object").where(table.notna(), None))  # fmt: skip


READY = (
    ("starts", ("starts_by", "count_in")), ("before it", ("speech",)), ("track", ("track", "track_by")),
    ("sample", ("samples",)), ("if it fails", ("track_fails",)), ("cues", ("cues",)),
)  # fmt: skip
"""What a song begins with and what may fail, by the words for it."""


def _ready_for(row: Mapping[str, Any]) -> list[str]:
    told = [(label, ", ".join(row[name] for name in names if isinstance(row[name], str))) for label, names in READY]
    return [f"{label}: {words}" for label, words in told if words]


def _new(row: Mapping[str, Any]) -> str:
    """What is new of a song since the last set."""
    if row["status"] == "in":
        return "first time" if not row["plays"] else f"in, out {counted(int(row['layoff_shows']), 'show')}"
    return f"was {int(row['was'])}" if row["status"] == "moved" and pd.notna(row["was"]) else ""


def said(brief: Brief, *, shown: bool) -> dict[str, list[str]]:
    """What was found on each song and said of it, in words with their days: what stands there at once, or the rest."""
    told: dict[str, list[str]] = {}
    for row in brief.words[brief.words.shown == shown].itertuples():
        line = f"{row.words} ({_when(row.date)})" if pd.notna(row.date) else row.words
        heard = links.Heard(line, row.show_id, row.at_s) if pd.notna(row.at_s) else line
        told.setdefault(row.song, []).append(heard)
    return told


def _lately(brief: Brief) -> dict[str, str]:
    """Of each song the mistake of the last two shows that matters most."""
    return dict(_fresh(brief).drop_duplicates("song")[["song", "words"]].itertuples(index=False, name=None))


def _fresh(brief: Brief) -> pd.DataFrame:
    """Mistakes of the last two shows, which stand first of their song."""
    lately = (brief.words.shows_ago <= ALWAYS_SHOWN).fillna(value=False).astype(bool)
    return brief.words[(brief.words.what == "mistake") & lately]


def _when(day: pd.Timestamp) -> str:
    return tables_shown.cell(day).rsplit(" ", 1)[0]


def steps(brief: Brief) -> pd.DataFrame:
    """The plan as it is worked through: at (clock from 0:00), song, what, how (in words, with its minutes).

    A transition into the song of the next step goes without saying.
    """
    table = _runs(brief)
    after = table.song[table.what != "rest"].shift(-1).reindex(table.index)
    into = [
        f", into {song}" if isinstance(song, str) and song != next_ else ""
        for song, next_ in zip(table.next_song, after, strict=True)
    ]
    how = [f"{what}{to}, {minutes:.1f} min" for what, to, minutes in zip(table.what, into, table.minutes, strict=True)]
    return table.assign(at=[_clock(at) for at in table.starts], how=how)[["at", "song", "what", "how"]]


def as_text(brief: Brief, width: int = 100, level_dba: float | None = None) -> str:
    """The whole show day as plain text for a terminal."""
    first, *others = sections(brief, level_dba)
    return "\n".join(line for section in (first, _in_order(brief), *others) for line in _as_text(section, width))


def _in_order(brief: Brief) -> Section:
    the_set = brief.set
    on = the_set.segue.fillna(value=False).astype(bool)
    table = the_set.assign(song=the_set.song.where(~on, the_set.song + " >"))[["position", "song", "remark"]]
    return Section("The set in order", "", table.dropna(axis="columns", how="all"), {"remark": "said tonight"})


def _as_text(section: Section, width: int) -> list[str]:
    said = [section.heading, "-" * min(len(section.heading), width), *textwrap.wrap(section.words, width)]
    if len(section.table):
        said += ["", tables_shown.as_text(section.table, labels=section.labels, width=width, wrap=True)]
    return [*said, ""]


def on_one_screen(brief: Brief, width: int = 100, most: int = SCREEN) -> str:
    """The show day on one screen: at a glance, the set in order with what is said of it, the first steps of the plan.

    A set too long for the screen is said in fewer words a song, then in columns; no song is left out.

    Parameters
    ----------
    brief
        As for `rows`.
    width, most
        Columns, and lines.

    """
    where = where_and_when(brief.show)
    head = [where, "-" * min(len(where), width), *textwrap.wrap(in_short(brief), width), ""]
    plan = [
        f"{row.at:>6}  {row.song or 'rest'}{f', {row.how}' if row.what != 'rest' else ''}"
        for row in steps(brief).itertuples()
    ]
    room = most - len(head) - 3
    the_set = _set_in(brief, width, room, min(len(plan), STEPS))
    shown = plan[: max(min(STEPS, room - len(the_set)), 1)]
    title = f"The plan, the first {len(shown)} of {len(plan)} steps" if len(plan) > len(shown) else "The plan"
    last = [title, *(_short(step, width) for step in shown)] if plan else [NO_TIME]
    return "\n".join([*head, *the_set, "", *last])


def _set_in(brief: Brief, width: int, room: int, plan: int) -> list[str]:
    """The set in at most so many lines: all that is said of a song, a line a song, or several songs in a line.

    Of the lines, so many are for the plan, and fewer where there are many songs.
    """
    table = rows(brief).to_dict("records")
    whole = [line for row in table for line in _line(row, width)]
    if len(whole) <= room - plan:
        return whole
    each = [_said_of(row) for row in table]
    columns = next((many for many in (1, 2) if -(-len(each) // many) <= room - plan // 4), 3)
    across = width // columns - (columns > 1)
    deep = -(-len(each) // columns)
    lines = [_short(said, across) for said in each]
    return ["  ".join(f"{line:{across}}" for line in lines[at::deep]).rstrip() for at in range(deep)]


def _short(line: str, width: int) -> str:
    """As much of a line as there is room for."""
    return line if len(line) <= width else f"{line[: width - 1].rstrip()}…"


def _line(row: Mapping[str, Any], width: int) -> list[str]:
    """A song with all that is known of it, over as many lines as it takes."""
    return textwrap.wrap(_said_of(row), width, subsequent_indent=" " * 6)


def _said_of(row: Mapping[str, Any]) -> str:
    """One song: number, title, where it goes straight on; what is new, what is said of it tonight, what to watch."""
    told = [row["new"], row["remark"], f"watch {row['watch']}" if row["watch"] else None]
    told.append(f"lately: {row['fresh']}" if row["fresh"] else None)
    told = [part for part in told if part]
    mark = "E" if row["encore"] else " "
    title = f"{mark}{row['position']:>3}  {row['song']}{' >' if row['segue'] is True else ''}"
    return f"{title}  ({'; '.join(told)})" if told else title


def _changes(brief: Brief) -> Section:
    table = brief.changes.assign(out=[_out(row) for row in brief.changes.itertuples()])
    counts = table.change.value_counts()
    words = ", ".join(f"{counts.get(name, 0)} {name}" for name in ("in", "out", "moved")) + "."
    if brief.set.status.isna().all():
        words = "There is no earlier set to compare with."
    elif not len(table):
        words = "The same songs in the same order as last time."
    return Section(
        "Tonight against the last set",
        words,
        table[["change", "song", "position", "was", "out"]],
        {"change": "", "position": "now", "was": "last time", "out": "out for"},
    )


def _out(row: pd.Series) -> str:
    if row.change != "in":
        return ""
    return f"{counted(row.layoff_shows, 'show')}, {counted(row.layoff_days, 'day')}" if row.plays else "never played"


def _care(brief: Brief) -> Section:
    table = brief.care.head(MOST)
    more = len(brief.care) - len(table)
    ranked = "Ranked by the mistakes to be expected tonight if nothing more is run, those that more people hear first."
    words = f"{ranked} {of_the_set(brief)}"
    if brief.total.basis.iloc[0] == "prior":
        words = f"{of_the_set(brief)} Ranked by what is known: new, out for long, transitions never played, readiness."
    if brief.set.status.isna().all():
        words = "Nothing is known of these songs yet; it comes with the first show and the first review."
    elif not len(table):
        words = "No song of this set was out, and nothing was found in reviews: nothing stands out."
    elif more:
        words += f" {more} more have less to go wrong."
    words = " ".join(filter(None, (words, safe(brief))))
    last = brief.words[brief.words.what == "mistake"].drop_duplicates("song").set_index("song").words
    table = table.assign(
        often=[how_often(row.chance) if row.basis != "prior" else "" for row in table.itertuples()],
        reasons=[
            f"{row.reasons}; last: {last[row.song]}" if row.song in last else row.reasons for row in table.itertuples()
        ],
    )
    columns = ["position", "song", "often", "reasons"] if table.often.any() else ["position", "song", "reasons"]
    labels = {"often": "something goes wrong about", "reasons": "why"}
    return Section("Songs that need care", words, table[columns], labels)


def safe(brief: Brief) -> str:
    """Which songs of tonight need no minutes, with their clean performances; empty where there are none."""
    return no_minutes(brief.set[brief.set.safe].drop_duplicates("song"))


def no_minutes(rows: pd.DataFrame) -> str:
    """Which songs are safe without thinking: song and clean_in_a_row.

    Examples
    --------
    >>> no_minutes(pd.DataFrame({"song": ["Ferry"], "clean_in_a_row": [9]})), no_minutes(pd.DataFrame())
    ('Safe without thinking, no minutes needed: Ferry (9 clean in a row).', '')

    """
    named = [f"{row.song} ({row.clean_in_a_row} clean in a row)" for row in rows.itertuples()]
    return f"Safe without thinking, no minutes needed: {together(named)}." if named else ""


def _transitions(brief: Brief) -> Section:
    words = "" if len(brief.transitions) else "Every transition was played before and asks for nothing."
    if brief.set.status.isna().all():
        words = "No set was played yet, so nobody can say which transitions are new."
    return Section(
        "Transitions",
        words,
        brief.transitions[["position", "song", "next_song", "reasons"]],
        {"position": "after", "song": "from", "next_song": "into", "reasons": "what"},
    )


def _notes(brief: Brief) -> Section:
    words = "" if len(brief.notes) else "There are no notes on these songs, this kind of venue or this venue yet."
    table = brief.notes[["position", "song", "why", "text", "date"]]
    return Section("My notes", words, table, {"why": "holds for", "date": "written"})


def _ready(brief: Brief) -> Section:
    words = "In the order needed, then what stands out every night." if len(brief.ready) else ""
    return Section(
        SET_OUT,
        words or "No gear, samples or tracks are noted.",
        brief.ready[["first", "item", "kind", "songs", "spare"]],
        {"first": "from no.", "item": "item", "songs": "for", "spare": "if it fails"},
    )


ASSUMED_UNTIL = f"{STAGE_DBA:.0f} is assumed until you type one"
"""What stands in the field for the level while it is empty."""


def _plan(brief: Brief, level_dba: float | str | None) -> list[Section]:
    # A transition that comes free between two songs run in a row is in the column "into" already.
    table = _runs(brief).assign(starts=lambda t: [_clock(at) for at in t.starts])
    played = float(brief.plan.minutes[brief.plan.what.isin(["whole run", "hard section", "transition"])].sum())
    words = brief.ends if len(table) else NO_TIME
    # Without reviews the order is all that is known, and no decimals are given.
    unknown = brief.total.basis.iloc[0] == "prior"
    costs, avoids = ([], []) if unknown else (["costs"], ["avoids"])
    left = Section(
        "What does not fit",
        f"{len(brief.left_out)} more{'' if unknown else ', with the mistakes that leaving them may cost'}.",
        brief.left_out.head(MOST)[["song", "next_song", "minutes", *costs]],
        {"next_song": "into", "costs": "mistakes"},
    )
    return [
        Section(
            "The plan",
            words,
            table[["starts", "song", "what", "next_song", "minutes", *avoids]],
            {"starts": "at", "next_song": "into"},
        ),
        *([left] if len(brief.left_out) else []),
        Section(
            "What the plan assumes", " ".join([*brief.assumed, *([rule(), NO_MINUTES] if brief.set.safe.any() else [])])
        ),
        Section("Ears and hands", ears_and_hands(level_dba, round(played))),
    ]


def ears_and_hands(level_dba: float | str | None, minutes: float) -> str:
    """The reminder, by the level that was measured or typed; without one, by a level that is said to be assumed.

    Examples
    --------
    >>> for level in (None, 97, "94,5", "loud"):
    ...     print(ears_and_hands(level, 30).partition(" is ")[0])
    Nobody has entered a level: 97 dBA
    30 minutes at 97 dBA
    30 minutes at 94.5 dBA
    The level on stage

    """
    if level_dba is None or level_dba == "":
        return f"{ASSUMED} {care.caution(STAGE_DBA, minutes)} {care.REST}"
    try:
        said = care.caution(float(str(level_dba).replace(",", ".")), minutes)
    except (ValueError, care.LevelProblem):
        said = str(care.LevelProblem.of("level on stage", level_dba, "a number of dBA between 0 and 200"))
    return f"{said} {care.REST}"


def _runs(brief: Brief) -> pd.DataFrame:
    return brief.plan[(brief.plan.what != "transition") | (brief.plan.minutes > 0)]


def _clock(minutes: float) -> str:
    return f"{int(minutes) // 60}:{int(minutes) % 60:02}"


def heard(brief: Brief) -> str:
    """How new the set is to those who were at the last shows, and to the whole house, in one sentence."""
    known = brief.heard[brief.heard.fresh_share.notna()]
    nights = known.index[known.group.str.startswith("at the last")]
    known = known.drop(nights[1:-1])  # the last night and the longest run of nights say it
    if not len(known):
        return "There is no earlier show on this leg that people could have been at."
    shares = [f"{row.fresh_share:.0%} to {_whom(row.group)}" for row in known.itertuples()]
    return f"New tonight: {together(shares)}."


def _whom(group: str) -> str:
    return (
        f"somebody who was {group}" if group.startswith("at ") else f"the {group}".replace("the returning", "returning")
    )
