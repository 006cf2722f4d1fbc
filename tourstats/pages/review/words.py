"""The leg review: one page of prose with computed numbers, as notebook, HTML and PDF.

Every part asks the models once and is empty where there are no data for it. What is personal (notes marked so, remarks
beside mistakes, who said them) is only there if it is asked for: a musical director may see less.
"""

from __future__ import annotations

import html
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import partial
from typing import TYPE_CHECKING, Any

import pandas as pd

from tourstats.models import playing, practice, swaps, tonight
from tourstats.models.song import in_words
from tourstats.pages.audience import words as audience
from tourstats.pages.kit import links, tables_shown
from tourstats.pages.kit.charts import svg
from tourstats.pages.listening import tempo_over_tour
from tourstats.pages.trends import chart as drawn
from tourstats.pages.trends import comes_again
from tourstats.pages.trends import words as trends
from tourstats.pages.workbook import say
from tourstats.problems import Problem, counted
from tourstats.tables import latest_kept
from tourstats.tour import Tour

if TYPE_CHECKING:
    from IPython.display import Markdown

BREAK_MINUTES = 180.0
SITTING = 60.0
"""Minutes of a sitting, rest included: the time in a break is cut into these."""
FIRST_SHOWS = 3
"""Shows after the break that are prepared for."""
"""Minutes of practice that the break's plan is made for, if none are said."""
PAPER_HEIGHT, PAPER_ROW = 130, 18
"""Height of the chart of shows and of a row, in dots: lower than on a screen, with type as large."""
MOST_NOTES = 6
MOST_SONGS = 8
FEWEST_FORECASTS = 100
FEWEST_SHOWS_UNEVEN = 5
"""Reviewed shows of each leg from which on it is said how much the playing varied: with two an interval is endless."""

NOTHING = (
    "No set was played yet, so there is no leg to review. Log the first show on the page *After the show*, or take in "
    "a file of past sets."
)


REVIEWS_FIRST = "nothing to say yet. Write down what you find on recordings, on the page *After the show*."
NOT_YET = {
    "What got better, what did not": "nothing to say yet. It takes two legs with enough reviewed shows each.",
    "The record of the forecasts": "nothing to say yet. It takes some more shows on this leg.",
    "Freshness for people who travelled": "nothing to say yet. It takes two shows.",
}
"""What a part waits for that is not there, where that is not reviews."""


class ReviewProblem(Problem):
    """The review cannot be made as asked."""


@dataclass(frozen=True)
class Part:
    """One part of the review: a heading, paragraphs (lines that begin with a dash are a list), a table and a chart."""

    heading: str
    words: str
    table: pd.DataFrame = field(default_factory=pd.DataFrame)
    chart: Any = None

    def _repr_mimebundle_(self, **_: object) -> dict[str, str]:
        """As a part of a notebook."""
        return {"text/html": part_html(self), "text/plain": f"{self.heading}\n{self.words}"}


@dataclass(frozen=True)
class _Leg:
    """The leg, the one before it, and everything up to its end."""

    name: object
    before: object
    tables: Tour
    shows: pd.DataFrame
    trends: trends.Trends


def parts(
    tables: Tour,
    leg: object = None,
    *,
    personal: bool = True,
    minutes: float = BREAK_MINUTES,
    charts: bool = True,
    step: Callable[[int, int], None] = lambda _, __: None,
) -> list[Part]:
    """Every part of the review, in order; a part without data is left out.

    Parameters
    ----------
    tables
        The whole diary.
    leg
        Which leg; the last one played if not said. What came after it is not used.
    personal
        Whether personal notes and remarks beside mistakes are there.
    minutes
        Practice time of the break, for its plan.
    charts
        Whether charts are drawn.
    step
        Called before each part with how many are done, and of how many; what it raises ends the work.

    Raises
    ------
    ReviewProblem
        If there is no such leg.

    """
    if not len(tables.plays) and leg is None:
        return [Part("At a glance", NOTHING)]
    the_leg = leg_of(tables, leg)
    makers: list[Callable[[], Part | None]] = [
        partial(_in_short, the_leg),
        partial(_changed, the_leg),
        partial(_effects, the_leg, charts=charts),
        partial(_shows, the_leg, charts=charts),
        partial(_layoffs, the_leg),
        partial(_tempo, the_leg),
        partial(_where, the_leg),
        partial(_again, the_leg),
        partial(_safe, the_leg),
        partial(_runs, the_leg),
        *([partial(_expected, the_leg)] if charts else []),
        partial(_worked, the_leg),
        partial(_ear, the_leg),
        partial(_forecasts, the_leg),
        partial(_break, the_leg, minutes),
        partial(_notes, the_leg, personal=personal),
        *([partial(_remarks, the_leg)] if personal else []),
        partial(_fresh, the_leg),
    ]
    if the_leg.trends.faults_only:
        makers = [maker for maker in makers if getattr(maker, "func", None) not in STAND_ON_RATES]
    made = []
    for at, make in enumerate(makers):
        step(at, len(makers))
        made.append(make())
    step(len(makers), len(makers))
    return [part for part in made if part is not None]


def said(made: Mapping[str, Part], heading: str, *, named: bool = False) -> Markdown:
    """The words of one part as prose for a notebook, if need be with its heading; a sentence if there are no data."""
    part = made.get(heading)
    words = part.words if part else NOT_YET.get(heading, REVIEWS_FIRST)
    return say(f"**{heading}:** {words}" if named or not part else words)


@latest_kept
def leg_of(tables: Tour, leg: object) -> _Leg:
    """Everything known at the end of a leg."""
    played = tables.played()
    legs = list(dict.fromkeys(played.leg.dropna()))
    name = leg if leg is not None else legs[-1] if legs else None
    own = played[played.leg == name] if name is not None else played
    if not len(own):
        raise ReviewProblem(
            f"There is no leg {leg} with a played set. Legs: {', '.join(map(str, legs)) or 'none'}. "
            "Choose one of these."
        )
    known = tables.through(own.show_id.iloc[-1])
    at = legs.index(name) if name in legs else 0
    return _Leg(name or "the tour", legs[at - 1] if at else None, known, own, trends.read(known))


def _in_short(leg: _Leg) -> Part:
    """The leg in three or four sentences."""
    reviewed = leg.trends.found
    here = reviewed[reviewed.show_id.isin(leg.shows.show_id)]
    first, last = (trends.day(leg.shows.date.iloc[at]) for at in (0, -1))
    when = f"on {first}" if first == last else f"from {first} to {last}"
    sentences = [f"{leg.name}: {counted(len(leg.shows), 'show')} {when}."]
    if leg.trends.faults_only:
        sentences.append(trends.faults_words(leg.trends))
    elif len(here):
        rate = f"{counted(here.mistakes.sum(), 'mistake')}: {here.mistakes.mean():.2f} per performance"
        plays, shows = counted(len(here), "performance"), counted(here.show_id.nunique(), "show")
        sentences.append(f"{plays} of {shows} were reviewed, with {rate}.")
    else:
        sentences.append("No song of this leg was reviewed.")
    clear = leg.trends.effects[leg.trends.effects.clear]
    if len(clear) and not leg.trends.faults_only:
        sentences += [f"{trends.effect_sentence(row)}." for row in clear.head(2).itertuples()]
    elif len(reviewed) and not leg.trends.faults_only:
        sentences.append("Nothing goes clearly with mistakes yet.")
    return Part("At a glance", " ".join(sentences))


@latest_kept
def _changed(leg: _Leg) -> Part | None:
    """What got better, what did not, and what changed, against the leg before."""
    tables = leg.tables
    try:
        held = playing.compare(tables, legs=(leg.before, leg.name))
    except playing.PartsProblem:
        return None
    whole = held.ratios.iloc[0]
    verdict = "better" if whole.high < 1 else "worse" if whole.low > 1 else "neither clearly better nor clearly worse"
    many = trends.as_many(whole.ratio, whole.low, whole.high)
    sentences = [f"Against {leg.before}, as if both had had the same sets: {many[0].lower()}{many[1:]}, {verdict}."]
    even = held.evenness.set_index("part")
    if even.shows.min() >= FEWEST_SHOWS_UNEVEN:
        uneven = {part: f"{row.dispersion:.1f} ({row.low:.1f} to {row.high:.1f})" for part, row in even.iterrows()}
        sentences.append(
            f"From show to show the playing varied {uneven['later']} times as much as chance alone makes it, "
            f"on {leg.before} {uneven['earlier']} times."
        )
    songs = held.ratios[held.ratios.about == "song"]
    changed = songs[songs.changed]
    for word, which in (("better", changed.which[changed.ratio < 1]), ("worse", changed.which[changed.ratio > 1])):
        sentences += [f"Clearly {word}: {', '.join(which)}."] if len(which) else []
    if not len(changed):
        sentences.append(
            f"Of {len(songs)} songs reviewed on both, none changed more than chance would make one of so many."
        )
    sorts = held.ratios[held.ratios.about.isin(["kind", "cause"])]
    clear = sorts[sorts.changed]
    listed = [f"{row.which} {trends.times(row.ratio, row.low, row.high)}" for row in clear.itertuples()]
    sentences.append(
        f"By kind and cause: {', '.join(listed)}." if listed else "No kind or cause of mistake changed clearly."
    )
    return Part("What got better, what did not", " ".join(sentences))


def _effects(leg: _Leg, *, charts: bool) -> Part | None:
    """What goes with mistakes."""
    if not len(leg.trends.found):
        return None
    rows, words = leg.trends.effects, trends.effects_words(leg.trends)
    if not len(rows):
        return Part("What goes with mistakes", words)
    title = trends.effects_title(leg.trends)
    chart = drawn.effects(rows, title).properties(height=PAPER_ROW * len(rows)) if charts else None
    return Part("What goes with mistakes", f"{words}\n\n{trends.left_out_words(leg.trends)}", chart=chart)


def _shows(leg: _Leg, *, charts: bool) -> Part | None:
    """Show by show, and what surprised."""
    if not len(leg.trends.control):
        return None
    control = leg.trends.control
    here = control[control.show_id.isin(leg.shows.show_id)]
    title = trends.control_words(leg.trends)
    surprised = [
        f"- {trends.day(row.date)}, {row.city}: {row.because}, {counted(row.mistakes, 'mistake')}, "
        f"{row.expected:.1f} expected" + (f" ({row.made_by})" if row.made_by else "")
        for row in here[here.signal].itertuples()
    ]
    chart = drawn.control(control, title).properties(height=PAPER_HEIGHT) if charts else None
    said = surprised if charts else [title, *surprised]  # the chart's title says it
    return Part("Show by show: what surprised", "\n".join(said), chart=chart)


def _layoffs(leg: _Leg) -> Part | None:
    return Part("Layoffs", trends.curve_words(leg.trends)) if len(leg.trends.found) else None


def _tempo(leg: _Leg) -> Part | None:
    words = tempo_over_tour.of_leg(leg.tables, leg.name)
    return Part("Tempo", words, tempo_over_tour.table(leg.tables, leg.name).head(MOST_SONGS)) if words else None


@latest_kept
def _where(leg: _Leg) -> Part | None:
    """Songs, sections and causes with the most mistakes per performance; rooms are told with the effects, once."""
    tables, rows = leg.tables, []
    if not len(leg.trends.found):
        return None
    for by, most in (("song", 3), ("section", 2), ("cause", 1)):
        table = playing.rates(tables.mistakes, tables.reviews, by, plays=tables.plays, shows=tables.shows)
        table = table[table[by] != "not said"].sort_values("rate", ascending=False, kind="stable").head(most)
        rows.append(table.rename(columns={by: "which"}).assign(by=by))
    table = pd.concat(rows, ignore_index=True)
    columns = ["which", "by", "reviewed", "mistakes", "rate", "low", "high"]
    return Part(
        "Where the mistakes are", "The most mistakes per performance, drawn towards the mean of all:", table[columns]
    )


def _again(leg: _Leg) -> Part | None:
    """Which spots go wrong again and again."""
    return Part("What goes wrong again and again", *comes_again.spots(leg.tables)) if len(leg.trends.found) else None


def _safe(leg: _Leg) -> Part | None:
    """Songs that are safe."""
    return Part("Songs that are safe", *comes_again.safe(leg.tables)) if len(leg.trends.found) else None


def _runs(leg: _Leg) -> Part | None:
    """What came of what was run on this leg."""
    said = comes_again.runs(leg.tables, leg.tables.shows_between(*leg.shows.show_id.iloc[[0, -1]]).rehearsals)
    return Part("What came of runs", *said) if len(said.table) else None


def _expected(leg: _Leg) -> Part | None:
    """How good the expected mistakes were: in the file alone, for on a page it is asked for (`trends.form.record`)."""
    said = comes_again.record(leg.tables)
    if not len(said.table):
        return None
    chart = drawn.record(said.table).properties(height=PAPER_HEIGHT)
    return Part("How good the expected mistakes were", said.words, said.table, chart)


def _ear(leg: _Leg) -> Part | None:
    if not len(leg.trends.found):
        return None
    return Part("How far to trust this", f"{trends.ear_words(leg.trends)}\n{trends.bias_words(leg.trends)}")


@latest_kept
def _break(leg: _Leg, minutes: float) -> Part | None:
    """What to work on until the next leg: mistakes, times the chance of being played, by the minute."""
    tables = leg.tables
    active = tables.songs[tables.songs.status != "retired"]
    if not len(active) or not len(leg.trends.found):
        return None
    sittings = max(1, round(minutes / SITTING))
    plan, known = tonight.for_break(tables, sittings=sittings, minutes=SITTING)
    steps = plan[plan.what.isin(practice.WAYS)]
    table = steps[["sitting", "song", "what", "minutes", "avoids"]].head(MOST_SONGS).reset_index(drop=True)
    worth = float((known.chance * known.expected * known.weight).sum())
    words = (
        f"{counted(steps.song.nunique(), 'song')} in {counted(sittings, 'sitting')} of {SITTING:.0f} minutes, each on "
        f"a day of its own: about {steps.avoids.sum():.1f} of {worth:.1f} mistakes avoided at the first "
        f"{FIRST_SHOWS} shows after the break, if it is run in the week before them: what a run takes away fades."
    )
    rest = f" The first {len(table)} of {len(steps)} runs:" if len(steps) > len(table) else ""
    care = "Rest ten minutes in each hour; defer to local rules, and to a health professional if anything hurts."
    return Part("For the break", f"{words} {care}{rest}", table)


def _worked(leg: _Leg) -> Part | None:
    """What was good to hear on this leg, the latest first."""
    rows = leg.tables.worked
    rows = rows[rows.show_id.isin(leg.shows.show_id)].merge(leg.shows[["show_id", "date", "city"]], on="show_id")
    if not len(rows):
        return None
    rows = rows.assign(text=[in_words(row.remark, row.song) or row.section for row in rows.itertuples()])
    rows = rows.sort_values("date", ascending=False, kind="stable")
    words = f"{counted(len(rows), 'time')} on {counted(rows.song.nunique(), 'song')}."
    rows = rows.head(MOST_NOTES).reset_index(drop=True)
    return Part("What worked", words, links.with_hear(rows[["date", "city", "song", "text"]], rows))


def _notes(leg: _Leg, *, personal: bool) -> Part | None:
    """Notes of this leg that are worth reading again, the latest first."""
    notes = leg.tables.notes
    first, last = leg.shows.date.iloc[[0, -1]]
    rows = notes[notes.date.between(first, last) | notes.show_id.isin(leg.shows.show_id)]
    rows = rows if personal else rows[~rows.personal]
    if not len(rows):
        return None
    rows = rows.sort_values("date", ascending=False, kind="stable").head(MOST_NOTES)
    about = rows[["song", "next_song", "room"]].apply(lambda row: ", ".join(row.dropna().astype(str)), axis=1)
    table = pd.DataFrame({"date": rows.date, "about": about.where(about != "", rows.about), "text": rows.text})
    return Part("Notes worth reading again", "", table.reset_index(drop=True))


def _remarks(leg: _Leg) -> Part | None:
    """Remarks beside the gravest mistakes of the leg."""
    rows = leg.tables.mistakes
    rows = rows[rows.show_id.isin(leg.shows.show_id) & rows.remark.notna() & (rows.listening == 1)]
    if not len(rows):
        return None
    rows = rows.sort_values("severity", ascending=False, kind="stable", ignore_index=True).head(MOST_NOTES)
    table = rows[["song", "section", "severity"]].assign(
        remark=[in_words(row.remark, row.song) for row in rows.itertuples()]
    )
    table = links.with_hear(table, rows)
    return Part("Remarks beside mistakes", "", table)


@latest_kept
def _forecasts(leg: _Leg) -> Part | None:
    """How good the forecasts of songs have been."""
    tables = leg.tables
    record = swaps.backtest(tables.plays, tables.shows, tables.songs)
    record = record[record.show_id.isin(leg.shows.show_id)]
    if len(record) < FEWEST_FORECASTS:
        return None
    base = swaps.base_rate(tables.plays, tables.shows, tables.songs)
    base = base[base.show_id.isin(leg.shows.show_id)]
    ten = swaps.recall(record, (10,)).iloc[0]
    if not ten.came:
        return Part("The record of the forecasts", "No song came in on this leg after the first show.")
    plain = swaps.recall(base, (10,)).iloc[0]
    return Part(
        "The record of the forecasts",
        f"Of {ten.came:.0f} songs that came in on this leg, {ten.found:.0f} were among the ten likeliest of the night "
        f"({ten.recall:.0%}). Going by how often each song is played, {plain.found:.0f} would have been.",
    )


@latest_kept
def _fresh(leg: _Leg) -> Part | None:
    words = audience.review_paragraph(leg.tables, leg.name if leg.name in set(leg.shows.leg) else None)
    return Part("Freshness for people who travelled", words) if words else None


STAND_ON_RATES = (_changed, _effects, _shows, _layoffs, _where, _safe, _expected, _ear, _break)
"""Parts that say nothing true where only what went wrong was written down."""


def lines_of(words: str) -> list[tuple[bool, str]]:
    """Paragraphs, and whether each is an item of a list."""
    lines = [line.replace("**", "") for line in words.split("\n") if line.strip()]
    return [(line.startswith("- "), line.removeprefix("- ")) for line in lines]


def part_html(part: Part) -> str:
    """One part as HTML: everything typed is escaped."""
    pieces = [f"<h2>{html.escape(part.heading)}</h2>"]
    for item, line in lines_of(part.words):
        pieces.append(f"<p>{'• ' if item else ''}{html.escape(line)}</p>")
    if len(part.table):
        pieces.append(tables_shown.shown(part.table).html)
    if part.chart is not None:
        pieces.append(f"<figure>{svg(part.chart)}</figure>")
    return "\n".join(pieces)
