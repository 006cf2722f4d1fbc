"""Playing trends in words and tables: one set of tables, from which sentences, tables and charts are all taken."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import pandas as pd

from tourstats.models import playing
from tourstats.models.estimates import rate_interval
from tourstats.problems import TooFewProblem, counted
from tourstats.tables import finished, in_order
from tourstats.tour import Tour

LIKE = "in the second half of the tour against the first, of the same songs in the same kind of venue"
_ABOUT = 0.1
"""How far from 1 a ratio is said to be "about as many"."""
NO_REVIEWS = (
    "No song was reviewed yet. Listen to a recording and write down what you find on the page *After the show*, "
    "also when you find nothing."
)
EFFECTS = {
    "layoff": ("after ten shows off", "layoff"),
    "position": ("at the end of the set, against its start", "place in the set"),
    "date": ("at the last show, against the first", "date"),
    "first": ("the first time a song is played", "first times"),
    "new transition": ("after a transition that was never played before", "transitions never played before"),
    "run: kit": ("when the song was run at the kit that week", "runs at the kit"),
    "run: band": ("when it was rehearsed with the band that week, and no more", "rehearsals with the band"),
    "run: pad": ("when it was run on a pad that week, and no more", "runs on a pad"),
    "run: listen": ("when it was listened to that week, and no more", "listening"),
    "run on the day": ("when the run was on the day itself, against one earlier in the week", "runs on the day"),
    "other room": ("when the kind of venue is not that of the show before", "a change of room"),
    "second show": ("at the second show of a day", "second shows of a day"),
    "day off": ("after a day without a show", "days off before"),
    "encore": ("in the encore", "encores"),
    "break": ("after a break with room for ten shows", "breaks"),
}
"""What an effect is about, to follow "mistakes", and its short name."""
WORDS = {effect: words for effect, (words, _) in EFFECTS.items()}
ROOMS = {
    "theatre": "in a theatre",
    "arena": "in an arena",
    "club": "in a club",
    "festival": "at a festival",
    "studio": "in a studio",
    "other": "in another kind of venue",
    "not said": "in a room of unknown kind",
}
COUNTED = {"first times": "songs played for the first time", "long layoffs": "songs after ten shows off or more"}
SHARES = {
    "second show": "second shows of a day",
    "day off": "after a day without a show",
    "weekend": "Friday to Sunday",
}
AT_SEAMS = {
    "reviewed": "times reviewed",
    "mistakes": "found at the seam",
    "own": "both songs bring by themselves",
    "ratio": "times as many",
}
ALIKE = 0.05
"""Share by which rates of songs differ at least, if one is said to have the most."""
FEWEST_SEEN = 10
"""Reviewed shows from which on it is said how long a change takes to be seen."""
SEEN = {1.0: (8, 9), 0.67: (7, 9), 0.5: (6, 8), 0.33: (4, 6)}
"""Of ten tours, how many show half as many mistakes again within 15 and 30 shows, by the share of shows reviewed:
`benchmarks/honest.md`, tours with uneven nights."""
BY_CHANCE = "Where nothing changes, one or two shows in a hundred stand out all the same (simulated tours)."
"""As measured in `benchmarks/honest.md`."""
TOO_FEW_TO_CHECK = "Too few reviews yet to check these figures."
CAUTION = (
    "These are patterns in what you wrote down, not a diagnosis. If playing hurts or hearing changes, stop and ask a "
    "health professional."
)


@dataclass(frozen=True)
class Trends:
    """Every table of the page, computed once.

    `effects` has effect, words, ratio, low, high, clear; the others are as the models give them, `control` with the
    date of each show and `songs` the most mistakes first. `ear`, `strictness` and `without_drift` are empty while too
    little was listened to again; `too_few` then says so.
    """

    found: pd.DataFrame
    effects: pd.DataFrame
    used: pd.DataFrame
    curve: pd.DataFrame
    songs: pd.DataFrame
    control: pd.DataFrame
    bias: pd.DataFrame
    alike: pd.DataFrame
    ear: pd.DataFrame
    twice: pd.DataFrame
    strictness: pd.DataFrame
    without_drift: pd.DataFrame
    too_few: str

    @property
    def faults_only(self) -> bool:
        """Whether what was clean seems not to be written down."""
        return playing.faults_only(self.found)


@finished
def read(tables: Tour) -> Trends:
    """Ask the playing models everything that the page says; where only faults were written down, as on day one."""
    reviewed = playing.counted(tables.reviews, tables.mistakes)
    if playing.faults_only(reviewed):
        return replace(read(without_reviews(tables)), found=reviewed)
    four = (tables.plays, tables.shows, tables.reviews, tables.mistakes)
    control = playing.control(*four, tables.levels)
    control = control.merge(in_order(tables.shows)[["show_id", "date", "city", "leg"]], on="show_id")
    raw = playing.effects(*four, tables.rehearsals)
    songs = playing.rates(tables.mistakes, tables.reviews, songs=tables.songs)
    songs = songs.sort_values(["rate", "reviewed"], ascending=[False, False], kind="stable", ignore_index=True)
    ear, strict, too_few = _again(tables)
    return Trends(
        found=reviewed,
        effects=effects_in_words(tables, raw),
        used=playing.circumstances_used(tables),
        curve=playing.layoff_curve(tables),
        songs=songs,
        control=control,
        bias=playing.review_bias(tables),
        alike=playing.like_with_like(tables),
        ear=ear,
        twice=playing.matched(tables.reviews, tables.mistakes) if len(ear) else pd.DataFrame(),
        strictness=strict,
        without_drift=playing.without_drift(raw, strict) if len(strict) else pd.DataFrame(),
        too_few=too_few,
    )


def effects_in_words(tables: Tour, raw: pd.DataFrame | None = None) -> pd.DataFrame:
    """What goes with mistakes, as `playing.ratios`, with the words of each effect."""
    four = (tables.plays, tables.shows, tables.reviews, tables.mistakes)
    effects = playing.ratios(playing.effects(*four, tables.rehearsals) if raw is None else raw)
    usual = playing.usual_room(tables)
    effects.insert(1, "words", [effect_words(effect, usual) for effect in effects.effect])
    return effects


def without_reviews(tables: Tour) -> Tour:
    """The tour as if nobody had listened to it."""
    return tables.replaced(reviews=tables.reviews.head(0), mistakes=tables.mistakes.head(0))


def effect_words(effect: str, usual_room: str) -> str:
    """What an effect is about, to follow "mistakes".

    Examples
    --------
    >>> effect_words("room: festival", "theatre")
    'at a festival, against a theatre'

    """
    if effect.startswith("room: "):
        room = effect.removeprefix("room: ")
        usual = ROOMS.get(usual_room, f"in a {usual_room}").partition(" ")[2]
        return f"{ROOMS.get(room, f'in a {room}')}, against {usual}"
    return WORDS.get(effect, effect)


def times(ratio: float, low: float, high: float) -> str:
    """A ratio with its interval.

    Examples
    --------
    >>> times(1.42, 1.13, 1.8), times(0.934, 0.6, 12.2)
    ('1.4 times (1.1 to 1.8)', '0.93 times (0.60 to 12)')

    """
    return f"{_figure(ratio)} times ({_figure(low)} to {_figure(high)})"


def as_many(ratio: float, low: float, high: float, words: str = "") -> str:
    """How many mistakes there are under a circumstance, in words first.

    Examples
    --------
    >>> as_many(1.42, 1.13, 1.8, "in a club")
    '1.4 times as many mistakes in a club (1.1 to 1.8 times)'
    >>> as_many(0.61, 0.41, 0.93, "in a club"), as_many(1.03, 0.7, 1.7, "in a club")
    ('39% fewer mistakes in a club (59% to 7% fewer)', 'About as many mistakes in a club (0.70 to 1.7 times)')
    >>> as_many(0.31, 0.06, 1.6)
    '69% fewer mistakes (94% fewer to 60% more)'

    """
    about = f"mistakes{words and f' {words}'}"
    if ratio < 1 and abs(ratio - 1) >= _ABOUT:
        least = f"{100 * (1 - low):.0f}%{' fewer' if high >= 1 else ''}"
        most = f"{100 * abs(1 - high):.0f}% {'more' if high >= 1 else 'fewer'}"
        return f"{100 * (1 - ratio):.0f}% fewer {about} ({least} to {most})"
    many = "About as many" if abs(ratio - 1) < _ABOUT else f"{_figure(ratio)} times as many"
    return f"{many} {about} ({_figure(low)} to {_figure(high)} times)"


def effect_sentence(row: Any) -> str:  # noqa: ANN401  # a row of a table
    """One effect as people say it: "1.4 times as many mistakes after ten shows off (1.1 to 1.8 times)"."""
    alone = " for one of so many" if not row.clear and (row.low > 1 or row.high < 1) else ""
    doubt = "" if row.clear else f"; that may be chance{alone}"
    return f"{as_many(row.ratio, row.low, row.high, row.words)}{doubt}"


def faults_words(trends: Trends) -> str:
    """Say that only what went wrong seems to be written down, and what to do, instead of rates."""
    clean = int((trends.found.mistakes == 0).sum())
    return (
        f"Of {counted(len(trends.found), 'performance')} reviewed, {clean or 'not one'} "
        f"{'was' if clean <= 1 else 'were'} clean: it seems that only what went wrong was written down. Rates and "
        "effects would be far too high, so none are told. For the shows that you heard whole, say at the end of "
        "*Playing trends* that the rest was clean: one press for all of them; then they are."
    )


def in_short(trends: Trends) -> str:
    """What today's reviews say, in a few sentences."""
    if not len(trends.found):
        return NO_REVIEWS
    if trends.faults_only:
        return faults_words(trends)
    sentences = [counted_words(trends)]
    effects = trends.effects.set_index("effect", drop=False)
    sentences += [f"{effect_sentence(effects.loc[name])}." for name in ("layoff", "date") if name in effects.index]
    if not len(effects):
        sentences.append(not_enough(trends))
    out = int(trends.control.signal.sum())
    stand = "stands" if out <= 1 else "stand"
    return " ".join([*sentences, f"Of {counted(len(trends.control), 'show')} reviewed, {out or 'none'} {stand} out."])


def counted_words(trends: Trends) -> str:
    """How much was reviewed and found."""
    found = trends.found
    low, high = rate_interval(found.mistakes.sum(), len(found))
    return (
        f"**{counted(len(found), 'performance')} of {counted(found.show_id.nunique(), 'show')} were reviewed, "
        f"with {counted(found.mistakes.sum(), 'mistake')}**: "
        f"{found.mistakes.mean():.2f} per performance ({float(low):.2f} to {float(high):.2f})."
    )


def not_enough(trends: Trends) -> str:
    """How many reviews there are and how many it takes."""
    why = trends.used.iloc[0]
    have = f"{why.have:.0f} {why.because.removeprefix('too few ')}"
    return f"Not enough reviews yet to say what goes with mistakes: {have}, it takes {why.need:.0f}."


def effects_words(trends: Trends) -> str:
    """What is clear, an effect a line; the three that come first where nothing is."""
    if trends.faults_only:
        return faults_words(trends)
    if not len(trends.effects):
        return not_enough(trends) if len(trends.found) else NO_REVIEWS
    rows = trends.effects
    told = rows[rows.clear] if rows.clear.any() else rows.head(3)
    said = [f"- {effect_sentence(row)}" for row in told.itertuples()]
    left = len(rows) - len(told)
    others = f"\n\n{left} more may be chance; the picture has them." if left else ""
    return "\n".join(said) + others


def effects_title(trends: Trends) -> str:
    """The finding of the chart of effects."""
    clear = trends.effects[trends.effects.clear]
    if trends.faults_only:
        return "Only what went wrong was written down: no effects"
    if not len(clear):
        return "Nothing goes clearly with mistakes yet"
    go = "goes" if len(clear) == 1 else "go"
    return f"{len(clear)} of {counted(len(trends.effects), 'circumstance')} {go} clearly with mistakes"


def left_out_words(trends: Trends) -> str:
    """Which circumstances are left out, by the rule, and when they come in."""
    out = trends.used[~trends.used.used]
    if not len(trends.effects) or not len(out):
        return "" if len(trends.effects) else not_enough(trends)
    reasons: dict[str, list[str]] = {}
    for row in out.itertuples():
        reasons.setdefault(_comes_in(row), []).append(_name(row.circumstance))
    said = [f"{', '.join(names)} ({reason})" for reason, names in reasons.items()]
    return (
        "Left out for now, by a rule that looks at how much was reviewed and never at what was found to matter: "
        f"{'; '.join(said)}."
    )


def curve_words(trends: Trends) -> str:
    """The layoff curve in a sentence, and what it rests on."""
    at = trends.curve[(trends.curve.shows_off == 10) & ~trends.curve.run_through].iloc[0]  # noqa: PLR2004  # as said
    sentence = f"After ten shows off: {times(at.ratio, at.low, at.high)} the mistakes of a song from the last set."
    if at.basis == "prior":
        why = trends.used.iloc[0]
        until = (
            f" until {why.need:.0f} {why.because.removeprefix('too few ')} ({why.have:.0f} so far)"
            if why.because
            else ""
        )
        return f"{sentence} Assumed{until}: the reviews do not say yet (common practice, no source)."
    both = trends.curve[(trends.curve.shows_off == 10) & trends.curve.run_through]  # noqa: PLR2004  # as said
    if len(both):
        run = both.iloc[0]
        return f"{sentence} With a run at the kit that week: {times(run.ratio, run.low, run.high)}."
    return f"{sentence} What a run at the kit changes, the reviews do not tell apart yet."


def control_words(trends: Trends) -> str:
    """Which shows stood out from what their sets should have brought."""
    if trends.faults_only:
        return "No show is held against the others: only what went wrong was written down."
    signals = trends.control[trends.control.signal]
    if not len(trends.control):
        return "No show was reviewed yet, so none can stand out."
    if not len(signals):
        none = f"None of {len(trends.control)} shows reviewed stands out from what its set should have brought."
        return f"{none} {seen_within(trends)}".rstrip()
    last = signals.iloc[-1]
    what = f": {last.made_by}" if last.made_by else ""
    many = "1 show stands out" if len(signals) == 1 else f"{len(signals)} shows stand out"
    told = f"{last.because}, {counted(last.mistakes, 'mistake')}, {last.expected:.1f} expected{what}"
    said = f"{many}, of {len(trends.control)} reviewed; the latest is {day(last.date)} ({told}). {BY_CHANCE}"
    return f"{said} {seen_within(trends)}".rstrip()


def seen_within(trends: Trends) -> str:
    """How long a change takes to be seen at this rate of reviewing, from simulated tours; nothing on the first days."""
    shows = trends.control
    if len(shows) < FEWEST_SEEN:
        return ""
    share = float(shows.share.iloc[-1])
    since = round(len(shows) / share)
    at = min(SEEN, key=lambda known: abs(known - share))
    soon, later = SEEN[at]
    return (
        f"From the first show that you reviewed to the latest, {len(shows)} of {since} are reviewed: at that rate half "
        f"as many mistakes again would be seen within fifteen shows of the tour about {soon} times in ten, within "
        f"thirty {later} times in ten (simulated tours)."
    )


def ear_words(trends: Trends) -> str:
    """Whether two listenings agree, and what is left of the trend with one ear."""
    if not len(trends.strictness):
        return f"{trends.too_few} Until then a trend may be an ear that got stricter or milder."
    kappa, twice = trends.ear.iloc[0], trends.twice
    shows = counted(twice.show_id.nunique(), "show")
    found = f"{twice.both.sum()} both times, {(twice['first'] - twice.both).sum()} only the first time"
    agreed = f"agreement {kappa.value:.2f} ({kappa.low:.2f} to {kappa.high:.2f}; 1 is full)"
    alone = f"{(twice.again - twice.both).sum()} only again; {agreed}"
    sentences = [f"{kappa.plays} performances of {shows} were listened to again: {found}, {alone}."]
    if not playing.tells(trends.strictness):
        sentences.append(
            "Too little was listened to again to say whether the ear got stricter: choose songs of many shows, from "
            "the first to the last. Until then a trend may be an ear that got stricter or milder."
        )
        return " ".join(sentences)
    drift = playing.as_ratios(trends.strictness).set_index("what").loc["drift"]
    doubt = "; that may be chance" if drift.low <= 1 <= drift.high else ""
    strict = f"you found {times(drift.ratio, drift.low, drift.high)} as much at the last show as at the first{doubt}"
    sentences.append(f"Of what there was, {strict}.")
    if len(trends.without_drift):
        both = playing.as_ratios(trends.without_drift).set_index("trend")
        seen, one = both.loc["as reviewed"], both.loc["with one ear"]
        sentences.append(
            f"The trend as reviewed is {times(seen.ratio, seen.low, seen.high)}; with one ear throughout "
            f"{times(one.ratio, one.low, one.high)}."
        )
    return " ".join(sentences)


def bias_words(trends: Trends) -> str:
    """How reviewed shows differ from the others, and the trend like with like."""
    differs = trends.bias[trends.bias.differs]
    said = [_difference(row) for row in differs.itertuples()]
    first = (
        f"Reviewed shows differ from the others in: {', '.join(said)}."
        if said
        else "Reviewed shows do not differ clearly from the others."
    )
    if not len(trends.alike):
        return (
            f"{first} Too few songs were reviewed in the same kind of venue in both halves to compare like with like."
        )
    row = playing.as_ratios(trends.alike).iloc[0]
    return (
        f"{first} {as_many(row.ratio, row.low, row.high, LIKE)} in "
        f"{row.cells:.0f} songs and kinds of venue, {row.plays:.0f} performances."
    )


def songs_title(trends: Trends) -> str:
    """The finding of the chart of songs."""
    rows = trends.songs[trends.songs.basis == "reviews"]
    if trends.faults_only:
        return "Only what went wrong was written down: no rates"
    if not len(rows):
        return "No song was reviewed yet"
    if trends.found.show_id.nunique() < 2 or rows.rate.iloc[0] - rows.rate.iloc[-1] < ALIKE * rows.rate.iloc[0]:  # noqa: PLR2004  # one show tells no song from another
        return "The reviews do not tell one song from another yet"
    first = rows.iloc[0]
    return f"{first.song} has the most mistakes per performance: {first.rate:.2f} ({first.low:.2f} to {first.high:.2f})"


def _again(tables: Tour) -> tuple[pd.DataFrame, pd.DataFrame, str]:
    """Agreement and strictness, or how much is still to be listened to again."""
    try:
        ear = playing.agreement(tables.reviews, tables.mistakes)
        return ear, playing.strictness(tables), ""
    except TooFewProblem as problem:
        return pd.DataFrame(), pd.DataFrame(), str(problem)


def _difference(row: Any) -> str:  # noqa: ANN401  # a row of a table
    """One property of reviewed shows against the others': shares as percentages, counts a show."""
    if row.what in COUNTED:
        return f"{COUNTED[row.what]} ({row.reviewed:.1f} against {row.others:.1f})"
    if row.what == "date":
        return "how late in the tour they were"
    words = ROOMS.get(row.what.removeprefix("room: "), SHARES.get(row.what, row.what))
    return f"{words} ({row.reviewed:.0%} against {row.others:.0%})"


def _name(circumstance: str) -> str:
    if circumstance.startswith("room: "):
        return f"{circumstance.removeprefix('room: ')} rooms"
    return EFFECTS.get(circumstance, ("", circumstance))[1]


def _comes_in(row: Any) -> str:  # noqa: ANN401  # a row of a table
    if "mistakes" in row.because:
        return f"the first of them at {row.need:.0f} mistakes in songs reviewed more than once, {row.have:.0f} so far"
    if "shows" in row.because or "performances" in row.because:
        unit = "shows" if "shows" in row.because else "performances"
        return f"at {row.need:.0f} {unit} either way, {row.have:.0f} so far"
    return "always the same" if "differs" in row.because else "tied to other circumstances"


def _figure(value: float) -> str:
    return f"{value:.2f}" if value < 1 else f"{value:.1f}" if value < 10 else f"{value:.0f}"  # noqa: PLR2004  # digits


def day(date: pd.Timestamp) -> str:
    """A day within a tour, as people say it.

    Examples
    --------
    >>> day(pd.Timestamp("2031-03-04"))
    '4 March'

    """
    return f"{date.day} {date:%B}"
