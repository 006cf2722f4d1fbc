"""Likely swaps in words and tables: what to run tonight and why, how many songs may change, how good this has been."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import pandas as pd

from tourstats.models import swaps
from tourstats.models.swaps import rules
from tourstats.models.swaps.past_shows import middle
from tourstats.pages.kit import tables_shown
from tourstats.problems import counted
from tourstats.tables import finished, in_order
from tourstats.tour import Tour

Known = Iterable[str] | Mapping[str, bool | int]

RUN = 10
"""Songs that the list offers to run, where nothing else is said."""
GO = 5
"""Songs of the last set that the list names as likely to go."""
FLAT = 1.5
"""How many times as likely as another the likeliest song is, at most, if the two are alike. Our own choice."""
ENOUGH = 12
"""Shows forecast in the past, from which on something is said about how good that was."""
NOTHING = (
    "No set was played yet, so nothing can be said of the next one. Write down the first set, or take in past ones."
)
TOO_SHORT = f"Not enough past shows yet to judge by: it takes {ENOUGH} after the first eight."
EARLY = "This is an early guess from {shows}: trust it little until there are eight or more."
HOW = (
    "Chances come from the shows before: how long each song has been in or out, how often and how lately it was "
    "played, the city, the leg, what is new."
)
LABELS = {
    "way": "forecast or rule",
    "log_loss": "how far off (0 is perfect)",
    "worse": "worse than the forecast by",
    "low": "by at least",
    "high": "by at most",
    "recall_10": "found in the first 10",
    "slope": "how sure (1 is right, below too sure)",
    "first": "songs run",
    "found": "of them came in",
    "came": "came in, all",
    "recall": "found",
    "member": "forecast or rule",
    "weight": "weight",
    "chance_before": "chance before",
    "swaps": "songs coming in",
    "missing_minutes": "minutes still missing",
    "step": "next step",
}


def forecast(tables: Tour, known: Known = (), show: Mapping[str, Any] | None = None) -> swaps.Forecast:
    """The forecast of the next show, or of `show`."""
    asked = tables.show() if show is None else show
    return swaps.forecast(tables.plays, tables.shows, tables.songs, asked, known=known)


def to_run(outlook: swaps.Forecast, run: int = RUN) -> pd.DataFrame:
    """Songs outside the last set, the likeliest first: song, chance, low, high, because."""
    out = outlook.songs[~outlook.songs.in_last_set.astype(bool) & (outlook.songs.chance > 0)]
    return out.head(run).drop(columns="in_last_set").reset_index(drop=True)


def to_go(outlook: swaps.Forecast, most: int = GO) -> pd.DataFrame:
    """Songs of the last set, the likeliest to go first: song, goes (chance that it is not in the next), because."""
    inside = outlook.songs[outlook.songs.in_last_set.astype(bool)]
    going = inside.assign(goes=1 - inside.chance).sort_values("goes", ascending=False, kind="stable")
    return going[["song", "goes", "because"]].head(most).reset_index(drop=True)


def flat(outlook: swaps.Forecast, run: int = RUN) -> int:
    """How many songs outside the last set are about as likely as the likeliest; 0 where the list tells them apart.

    A list is flat where so many are alike that half of them again would not fit into it.
    """
    out = to_run(outlook, len(outlook.songs)).chance
    alike = int((out * FLAT >= out.max()).sum()) if len(out) else 0
    return alike if alike >= FLAT * run else 0


def in_short(tables: Tour, known: Known = ()) -> str:
    """What today's diary says of the next set, in two or three sentences."""
    return _in_short(forecast(tables, known), tables.show(), RUN, mark="**")


def _in_short(outlook: swaps.Forecast, show: Mapping[str, Any], run: int, mark: str = "") -> str:
    """Say how many songs may come in, how many of them the list covers, and how early it is."""
    if not len(outlook.songs):
        return NOTHING
    few, many = _swaps(outlook)
    listed = to_run(outlook, run)
    covered, expected = listed.chance.sum(), _expected(outlook)
    when = tables_shown.cell(show["date"]) if "date" in show else "the next show"
    where = f", {show['city']}" if "city" in show else ""
    number = f"{few} to {many} songs come" if few < many else "one song comes" if few == 1 else f"{few} songs come"
    sentences = [
        f"{mark}For {when}{where}, {number} in{mark} four nights in five, {expected:.1f} on average.",
        f"Running the first {_songs(len(listed))} of the list covers about {covered:.1f} of these {expected:.1f}."
        if len(listed)
        else "Every song was in the last set.",
    ]
    alike = flat(outlook, run)
    if alike:
        first, last = (f"{chance:.0%}" for chance in to_run(outlook, alike).chance.iloc[[0, -1]])
        sentences.append(f"The list is flat: any of these {alike} is about as likely as the next ({last} to {first}).")
    if outlook.note:
        sentences.append(EARLY.format(shows=counted(outlook.shows, "show")))
    return " ".join(sentences)


def known_table(tables: Tour, known: Known, most: int = RUN) -> tables_shown.Shown:
    """What changes most for the other songs once a part of the set is known."""
    before, after = (forecast(tables, what).songs.set_index("song") for what in ((), known))
    both = pd.DataFrame({"chance_before": before.chance, "chance_now": after.chance}).dropna()
    both = both[~after.because.reindex(both.index).str.startswith("known")]
    order = (both.chance_now - both.chance_before).abs().sort_values(ascending=False, kind="stable").index
    table = both.loc[order].head(most).reset_index(names="song")
    return tables_shown.shown(table, labels=LABELS, empty=NOTHING)


def first_songs(tables: Tour, most: int = 5) -> dict[str, bool | int]:
    """The first songs of the last set as if they were known again: "it's the same first five"."""
    last = in_order(tables.shows)
    last = last[last.show_id.isin(tables.plays.show_id)].tail(1)
    opening = tables.plays[tables.plays.show_id.isin(last.show_id)].sort_values("position").head(most)
    return {song: int(position) for song, position in zip(opening.song, opening.position, strict=True)}


# ---------------------------------------------------------------------------- how good it has been


@finished
def _by_rules(tables: Tour) -> dict[str, pd.DataFrame]:
    return {name: rule(tables.plays, tables.shows, tables.songs) for name, rule in rules.ALL.items()}


@dataclass(frozen=True)
class LookBack:
    """Forecasts of the past shows of a diary, and simple rules beside them; each worked out once."""

    tables: Tour

    @cached_property
    def record(self) -> swaps.Record:
        """As from `swaps.track_record`."""
        return swaps.track_record(self.tables.plays, self.tables.shows, self.tables.songs)

    @cached_property
    def rules(self) -> dict[str, pd.DataFrame]:
        """Each simple rule on the same shows."""
        return _by_rules(self.tables)

    @cached_property
    def compared(self) -> pd.DataFrame:
        """As from `swaps.compare`."""
        return swaps.compare(self.record.songs, self.rules)

    @cached_property
    def recall(self) -> pd.DataFrame:
        """As from `swaps.recall`, for the forecast and each rule: way, first, found, came, recall, low, high."""
        return pd.concat([swaps.recall(table).assign(way=way) for way, table in self.ways.items()], ignore_index=True)

    @property
    def ways(self) -> dict[str, pd.DataFrame]:
        """The forecast and each rule by its name, on the same shows."""
        return {"this forecast": self.record.songs, **self.rules}

    @property
    def enough(self) -> bool:
        """Whether there are enough past shows to judge by."""
        return len(self.record.counts) >= ENOUGH


def how_good(past: LookBack) -> str:
    """How good the forecasts of this tour have been, and whether a simple rule does as well."""
    shows = len(past.record.counts)
    if not past.enough:
        return f"Not enough past shows yet to judge by: {shows} so far, it takes {ENOUGH} after the first eight."
    ten = past.recall[(past.recall.way == "this forecast") & (past.recall["first"] == RUN)].iloc[0]
    counts = past.record.counts
    held = ((counts.low <= counts.came) & (counts.came <= counts.high)).mean()
    first_ten = (
        f"Of the {int(ten.came)} songs that came in at the last {shows} shows, **{ten.recall:.0%} were among the first "
        f"ten** of the list{'' if pd.isna(ten.low) else f' ({ten.low:.0%} to {ten.high:.0%})'}."
        if ten.came
        else f"No song came in at the last {shows} shows."
    )
    nights = f"The 80% interval of the number of swaps held {held:.0%} of the nights."
    return f"{first_ten} {nights} {against_rules(past.compared)}"


def against_rules(compared: pd.DataFrame) -> str:
    """Whether a simple rule does as well, from `swaps.compare`."""
    simple = compared[compared.way != "this forecast"]
    best = simple.loc[simple.log_loss.idxmin()]
    if best.high < 0:
        return f'On this tour **the rule "{best.way}" does better**: go by it.'
    if best.low <= 0:
        return f'On this tour **the rule "{best.way}" does about as well**: the forecast is not clearly better.'
    return f'The best simple rule, "{best.way}", is clearly worse on this tour.'


# ---------------------------------------------------------------------------- in the terminal


def as_text(tables: Tour, next_show: Mapping[str, Any] | None = None, run: int = RUN, known: Known = ()) -> str:
    """What the command prints: the songs to run, how many swaps to expect, and who may go.

    Parameters
    ----------
    tables
        The diary.
    next_show
        Which show; the first after the last one played if not said.
    run
        How many songs to list.
    known
        What is known of the set, as for `swaps.forecast`.

    """
    show = tables.show() if next_show is None else next_show
    outlook = forecast(tables, known, show)
    if not len(outlook.songs):
        return NOTHING
    listed = tables_shown.as_text(
        to_run(outlook, run), ["song", "chance", "because"], empty="Every song was in the last set.", wrap=True
    )
    going = to_go(outlook).rename(columns={"goes": "chance"})
    parts = [
        _in_short(outlook, show, run),
        f"To run tonight, likeliest first:\n{listed}",
        f"Of the last set, likeliest to go:\n{tables_shown.as_text(going, wrap=True)}",
        HOW,
    ]
    return "\n\n".join(parts)


def _expected(outlook: swaps.Forecast) -> float:
    return float((outlook.counts.swaps * outlook.counts.chance).sum())


def _swaps(outlook: swaps.Forecast) -> tuple[int, int]:
    """The 80% interval of the number of songs coming in."""
    chances = outlook.counts.set_index("swaps").chance
    low, high = middle(chances.reindex(range(int(chances.index.max()) + 1), fill_value=0.0).to_numpy())
    return low, high


def _songs(number: int) -> str:
    return "song" if number == 1 else f"{number} songs"
