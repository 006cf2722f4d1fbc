"""What may be shown of small groups.

The rule, wherever a table, a chart, a page or a file shows numbers of people:

1. A group of 1 to 4 people is not shown, nor anything about them; nor is a group that leaves 1 to 4 when it is taken
   from the people who were there, since the rest would give it away. Of such a show only its attendance stays.
2. Every count is rounded to the nearest 5, and shares of people are worked out from rounded counts. Two tables that
   differ by a few people (with and without a leg, before and after somebody was forgotten), totals, and nested groups
   therefore do not differ by these few in what is shown.
3. What is said of a group's songs is rounded to whole percent; the least fresh tenth only where it is 5 people.
4. Rare numbers of shows attended are put together until there are 5 people, so that no row is left to be worked out
   from a total.
5. Counts at the door are held to the same: one of 1 to 4 people, or that leaves 1 to 4, is not used for what is shown.

Rounding to 5 with averages withheld for small groups is what statistical offices do with counts of people (the
"standard rounding methodology" of the higher-education statistics agency of the United Kingdom; from memory).
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from tourstats.models.audience.from_sets import Ints

SMALLEST = 5
"""Smallest group of people that anything shown speaks of; a model is asked with `hide_under`."""
TENTH = 10


def rounded(counts: pd.Series, under: int) -> pd.Series:
    """Counts to the nearest multiple of the smallest group that is shown.

    Examples
    --------
    >>> rounded(pd.Series([0, 7, 8, 300]), 5).tolist()
    [0, 5, 10, 300]

    """
    return ((counts + under // 2) // under * under).astype("int64")


def too_small(part: pd.Series, whole: pd.Series, under: int) -> pd.Series:
    """Whether a part, or what it leaves of the whole, is a group that must not be shown."""
    rest = whole - part
    return part.between(1, under - 1) | rest.between(1, under - 1)


def hidden_shows(table: pd.DataFrame, under: int) -> pd.DataFrame:
    """Apply the rule to a table of freshness, a row a show. With `under` 0 or 1 nothing is hidden."""
    if under <= 1:
        return table
    tail = table["repeat"] < under * TENTH
    hide = too_small(table["repeat"], table.attendees, under)
    nobody = table.attendees.between(1, under - 1)
    whole, part = rounded(table.attendees, under), rounded(table["repeat"], under)
    shown = table.assign(
        attendees=whole.astype("Int64").mask(nobody),
        repeat=part.astype("Int64").mask(hide | nobody),
        repeat_share=(part / whole.where(whole > 0)).mask(hide | nobody),
    )
    for column in ("fresh_share", "fresh_sd", "audience_fresh_share"):
        shown[column] = shown[column].round(2).mask(hide | nobody)
    shown["worst_decile"] = shown.worst_decile.round(2).mask(hide | nobody | tail)
    # From the rounded share of the audience and the fresh share, a rounded number of repeat attendees follows: no more.
    return shown


def hidden_counts(counts: pd.DataFrame, under: int) -> pd.DataFrame:
    """Counts at the door without those of a small group, or of one that leaves a small group.

    Examples
    --------
    >>> hidden_counts(pd.DataFrame({"people": [60, 60, 60, 4], "returning": [4, 5, 57, 0]}), 5)
       people  returning
    1      60          5

    """
    if under <= 1:
        return counts
    return counts[~too_small(counts["returning"], counts["people"], under) & (counts["people"] >= under)]


def hidden_songs(table: pd.DataFrame, under: int) -> pd.DataFrame:
    """Apply the rule to a table of who had heard what: columns `heard` and `attendees` (people), and `share`."""
    if under <= 1:
        return table
    hide = too_small(table.heard, table.attendees, under) | (table.attendees < under)
    whole, part = rounded(table.attendees, under), rounded(table.heard, under)
    return table.assign(
        attendees=whole.astype("Int64").mask(table.attendees < under),
        heard=part.astype("Int64").mask(hide),
        share=(part / whole.where(whole > 0)).round(2).mask(hide),
    )


def together(people: Ints, under: int) -> Ints:
    """Number the rows of shows attended so that each number holds at least so many people; the rarest go together.

    Examples
    --------
    >>> together(np.array([90, 7, 2, 1]), 5)
    array([0, 1, 1, 1])

    """
    number, have, made = 0, 0, []
    for count in people:
        if have >= max(under, 1):
            number, have = number + 1, 0
        made.append(number)
        have += int(count)
    joined = np.array(made, np.int64)
    if have < under and number:
        joined[joined == number] = number - 1  # the last ones join those before
    return joined


def hidden_numbers(table: pd.DataFrame, under: int) -> pd.DataFrame:
    """Apply the rule to songs heard by number of shows attended; adds `to_shows`, the end of a joined row."""
    table = table.assign(to_shows=table.shows)
    if under <= 1 or table.empty:
        return table
    number = together(table.people.to_numpy(), under)
    weighted = table.assign(songs=table.songs_heard * table.people, visits=table.shows * table.people)
    joined = weighted.groupby(number).agg(
        shows=("shows", "min"), people=("people", "sum"), songs=("songs", "sum"), to_shows=("to_shows", "max")
    )
    joined = joined[joined.people >= under]
    return joined.assign(people=rounded(joined.people, under), songs_heard=(joined.songs / joined.people).round(1))[
        ["shows", "people", "songs_heard", "to_shows"]
    ].reset_index(drop=True)
