"""What comes again: spots that go wrong, songs that are safe, what came of runs, how good the expected mistakes were.

Each part is a sentence or two and a table, for *Playing trends* and the leg review alike.
"""

from __future__ import annotations

from typing import NamedTuple

import pandas as pd

from tourstats.models import playing, song
from tourstats.problems import counted
from tourstats.tables import latest_kept
from tourstats.tour import Tour

MOST = 8
"""Rows of a table that is read at a glance."""
FEWEST_TOLD = 50
"""Performances told from which on it is said how good the expected mistakes were."""
GOOD = 0.15
"""Share by which expected and found may differ before it is said that they do. Our own choice."""


class Said(NamedTuple):
    """Words and the table behind them."""

    words: str
    table: pd.DataFrame


@latest_kept
def spots(tables: Tour) -> Said:
    """Which spots go wrong again and again."""
    table = playing.spots(tables.mistakes, tables.reviews)
    if not len(table):
        return Said("No spot went wrong at two shows yet: it takes findings with their section.", table)
    first = table.iloc[0]
    bar = "" if pd.isna(first.bar) else f", bar {first.bar}"
    words = (
        f"{counted(len(table), 'spot')} went wrong at two shows or more. The surest is {first.song}, "
        f"{first.section}{bar}: at {counted(first.shows, 'show')}, {counted(first.reviewed, 'performance')} reviewed, "
        f"{first.rate:.2f} mistakes a performance ({first.low:.2f} to {first.high:.2f}), drawn towards all spots."
    )
    return Said(words, table.head(MOST))


@latest_kept
def safe(tables: Tour) -> Said:
    """Which songs are safe."""
    table = song.safe(tables)
    if not len(table):
        return Said("No song was reviewed yet, so none is known to be safe.", table)
    sure = table[table.safe]
    words = (
        f"**{counted(len(sure), 'song')} of {len(table)} reviewed {'is' if len(sure) == 1 else 'are'} safe.** "
        f"{song.rule()} A song that was clean 12 times in a row goes wrong at most 0.25 times a performance."
    )
    return Said(words, sure[["song", "reviewed", "clean", "in_a_row", "sure", "at_most"]].head(MOST))


def runs(tables: Tour, made: pd.DataFrame | None = None) -> Said:
    """What came of runs (all of them, or those `made` on a leg), and what was run for nothing."""
    table = playing.what_came_of_runs(tables, made)
    if not len(table):
        return Said("No run was written down yet.", table)
    days, nothing = int(table.runs.sum()), int(table.for_nothing.sum())
    row = playing.what_runs_take(tables).set_index("way").loc["kit"]
    told = f"{days - nothing} were of a song played within the week after, {nothing} were not"
    sentences = [f"Of {counted(days, 'run')} (a song on a day), {told}."]
    if row.basis == "assumed":
        sentences.append(
            "Whether runs helped, the reviews do not tell yet: it is assumed that one at the kit takes away a third."
        )
    else:
        low, high = max(row.takes_low, 0), max(row.takes_high, 0)
        sentences.append(
            f"A run at the kit that week took away about {max(row.takes, 0):.0%} of a song's mistakes ({low:.0%} to "
            f"{high:.0%}; {row.basis}); what stands in one row below is too little to tell."
        )
    columns = ["song", "runs", "for_nothing", "reviewed", "mistakes", "without"]
    return Said(" ".join(sentences), table[columns].head(MOST))


@latest_kept
def record(tables: Tour) -> Said:
    """How good the expected mistakes were: each show as it would have been told on its day."""
    told = playing.expected_record(tables)
    table = playing.by_fifths(told) if len(told) >= FEWEST_TOLD else told.head(0)
    if not len(table):
        return Said(
            f"How good the expected mistakes were is said from {FEWEST_TOLD} performances on, reviewed after the first "
            f"eight shows; {len(told)} so far.",
            table,
        )
    expected, found = told.expected.sum(), int(told.mistakes.sum())
    ratio = expected / max(found, 1)
    how = "about right" if abs(ratio - 1) <= GOOD else "too many" if ratio > 1 else "too few"
    both = f"{expected:.0f} mistakes were expected and {found} found: {how}"
    sentences = [f"Over {counted(len(told), 'performance')}, told as before each show, {both}."]
    whole = (
        told[told.whole.astype(bool)]
        .groupby("show_id")
        .agg(found=("mistakes", "sum"), low=("range_low", "first"), high=("range_high", "first"))
    )
    if len(whole):
        inside = int(whole.found.between(whole.low, whole.high).sum())
        sentences.append(
            f"The range of the whole set, four nights in five, held {inside} of {counted(len(whole), 'show')}."
        )
    fifths = table.assign(fifth=["least expected", "second", "third", "fourth", "most expected"])
    return Said(" ".join(sentences), fifths[["fifth", "performances", "expected", "found", "chance", "wrong"]])
