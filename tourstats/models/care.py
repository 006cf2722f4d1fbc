"""Care for ears and hands: reminders with their sources, no advice, and nothing is blocked.

Local rules, and a hearing or health professional, come first. No sentence here promises that something does no harm.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

import pandas as pd

from tourstats.problems import Problem

DAY_MINUTES = 480.0


@dataclass(frozen=True)
class Rule:
    """A limit for noise: eight hours at `level_dba`, half of it for each `exchange_db` more; quieter than `from_dba`
    does not count.
    """

    level_dba: float
    exchange_db: float
    from_dba: float
    source: str


RULES = {
    "niosh": Rule(85, 3, -math.inf, "NIOSH 98-126, 1998: recommended limit, 85 dBA for 8 hours, 3 dB exchange"),
    "osha 80": Rule(90, 5, 80, "OSHA 29 CFR 1910.95: hearing conservation, from 80 dBA, 5 dB exchange"),
    "osha 90": Rule(90, 5, 90, "OSHA 29 CFR 1910.95: permissible limit, from 90 dBA, 5 dB exchange"),
}
"""What a level is held against. Local law may ask for more, or less."""

REST = (
    "Rest about ten minutes in each hour, and five after 25 minutes alone; "
    "drilling one movement wears on hands and back, so vary it, and stop where it hurts: a health professional knows "
    "what holds for you."
)
"""The rests are those of G. Klickstein (2009), The Musician's Way, p. 75; named here, not on a page of every day."""


class LevelProblem(Problem):
    """A level or a time that cannot be."""

    @classmethod
    def of(cls, what: str, value: object, expected: str) -> LevelProblem:
        """Say what is wrong and what it may be."""
        return cls(f"The {what} is {value!r}, but it has to be {expected}.")


def allowed_minutes(level_dba: float, rule: str = "niosh") -> float:
    """Minutes a day that a rule has for one level; endless below what the rule counts.

    By the rule's formula. OSHA's table G-16 rounds it to half and quarter hours: 6 h at 92 dBA, where the formula has
    6.06.

    Examples
    --------
    >>> allowed_minutes(100)
    15.0
    >>> allowed_minutes(85, "osha 90")
    inf

    """
    limit, level = _rule(rule), _level(level_dba)
    if level < limit.from_dba:
        return math.inf
    return float(DAY_MINUTES / 2 ** ((level - limit.level_dba) / limit.exchange_db))


def noise_dose(segments: pd.DataFrame | Iterable[tuple[float, float]], rule: str = "niosh") -> float:
    """How much of a day's limit some stretches of noise come to, in percent: 100 is all of it.

    Parameters
    ----------
    segments
        Pairs of level in dBA and minutes, or a table with the columns level_dba and minutes.
    rule
        "niosh", "osha 80" or "osha 90".

    Examples
    --------
    >>> noise_dose([(94, 30), (100, 90), (85, 60)])
    662.5

    """
    return 100 * sum((minutes / allowed_minutes(level, rule) for level, minutes in _pairs(segments)), start=0.0)


def caution(level_dba: float | None, minutes: float) -> str:
    """One sentence: the time at a level against a recommended limit, with whom to ask.

    Examples
    --------
    >>> print(caution(94, 110))
    110 minutes at 94 dBA is 183% of the recommended limit for a day (60 minutes at that level): a reminder, not advice;
    local rules and a hearing professional come first.

    """
    end = "a reminder, not advice; local rules and a hearing professional come first."
    if level_dba is None or pd.isna(level_dba):
        return f"Nobody has said how loud it is: at 100 dBA, the recommended limit for a day is 15 minutes: {end}"
    time = _minutes(minutes)
    allowed = allowed_minutes(level_dba)
    return (
        f"{time:g} minutes at {level_dba:g} dBA is {noise_dose([(level_dba, time)]):.0f}% of the recommended limit "
        f"for a day ({_lasting(allowed)} at that level): {end}"
    )


def _lasting(minutes: float) -> str:
    if minutes >= 2 * 60:
        return f"{minutes / 60:.3g} hours"
    return f"{minutes:.3g} minutes" if minutes >= 1 else f"{minutes * 60:.2g} seconds"


def _pairs(segments: pd.DataFrame | Iterable[tuple[float, float]]) -> list[tuple[float, float]]:
    if isinstance(segments, pd.DataFrame):
        segments = segments[["level_dba", "minutes"]].itertuples(index=False, name=None)
    return [(_level(level), _minutes(minutes)) for level, minutes in segments]


def _rule(rule: str) -> Rule:
    if rule not in RULES:
        raise LevelProblem(f"`rule` is one of {', '.join(RULES)}; it was {rule!r}.")
    return RULES[rule]


def _level(level_dba: float) -> float:
    if isinstance(level_dba, str | bool) or not 0 <= level_dba <= 200:  # noqa: PLR2004  # louder is a typing error
        raise LevelProblem.of("level", level_dba, "a number of dBA between 0 and 200")
    return float(level_dba)


def _minutes(minutes: float) -> float:
    if isinstance(minutes, str | bool) or not 0 <= minutes <= 24 * 60:
        raise LevelProblem.of("time", minutes, "a number of minutes between 0 and 1440")
    return float(minutes)
