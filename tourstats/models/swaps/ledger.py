"""What the past says of each song before a show, brought forward one show at a time.

Nothing here looks at the show itself or at a later one.
"""

from __future__ import annotations

from math import fsum

import numpy as np
from numpy.typing import NDArray

from tourstats.models.swaps.history import History

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

QUICK, MIDDLE, SLOW = 4.0, 8.0, 16.0
"""Half-lives, in shows, of the rates that forget."""

_COMMON_LAYOFF = 4.0
"""Shows that a song is out, before anybody has come back."""

_RANGE = (0.08, 0.93)
"""Quantiles of past layoffs against the usual one. Wider than a tenth on either side, since habits drift."""
_FIRST_RATIOS = np.exp(np.linspace(-1.0, 1.0, 5))
"""Layoffs against what was usual, before there are any: from a third of it to three times."""


class Ledger:
    """Counts of every song up to a show. What it holds is replaced, never changed: a copy stays as it was.

    Attributes
    ----------
    at
        The show at hand: all before it is counted.
    seen
        Shows for which the song was a candidate.
    plays
        Shows at which it was played.
    run
        Shows in a row at which it was played, up to the last one.
    out
        Shows that it sat out since it was last played, or since it joined; 0 for songs of the last set.
    last, before_last
        Whether it was in the last set, and in the one before.
    kept
        Share of the set before last that was in the last set.
    repeated
        How many times in a row a set was the same as the one before.

    """

    def __init__(self, history: History) -> None:
        """Begin before the first show."""
        songs = len(history.songs)
        self.history = history
        self.at = 0
        self.seen, self.plays, self.run, self.out = (np.zeros(songs, dtype=np.int64) for _ in range(4))
        self.stays, self.stay_chances, self.returns, self.return_chances = (np.zeros(songs) for _ in range(4))
        self.log_layoffs = np.zeros(songs)
        self.ratios: list[float] = list(_FIRST_RATIOS)
        self.decayed = {half: (np.zeros(songs), np.zeros(songs)) for half in (QUICK, MIDDLE, SLOW)}
        self.joined_late, self.last, self.before_last = (np.zeros(songs, dtype=bool) for _ in range(3))
        self.first_plays, self.first_chances = 1.0, 20.0
        self.visits: dict[int, int] = {}
        self.stand_start = 0
        self.kept = 0.5
        self.repeated = 0

    @property
    def ever(self) -> Flags:
        """Whether each song has been played."""
        return self.plays > 0

    def learn(self) -> None:
        """Take in the set of the show at hand and move on to the next."""
        t, history = self.at, self.history
        played = history.played[t]
        candidate = history.candidate[t] | played
        if t:
            self._count_moves(played, candidate)
        self.joined_late = self.joined_late | ((self.seen == 0) & candidate & (t > 0))
        self.seen = self.seen + candidate
        self.plays = self.plays + played
        self.run = np.where(played, self.run + 1, 0)
        self.out = np.where(played, 0, self.out + candidate)
        fade = {half: np.where(candidate, 0.5 ** (1 / half), 1.0) for half in self.decayed}
        self.decayed = {
            half: (hits * fade[half] + played, chances * fade[half] + candidate)
            for half, (hits, chances) in self.decayed.items()
        }
        self.before_last, self.last = self.last, played
        self._arrive(t)
        self.at += 1

    def _count_moves(self, played: Flags, candidate: Flags) -> None:
        """Count who stayed, who came back, and who was played for the first time."""
        stayed = self.last & played
        self.stay_chances = self.stay_chances + self.last
        self.stays = self.stays + stayed
        absent = ~self.last & candidate & self.ever
        back = absent & played
        self.return_chances = self.return_chances + absent
        if back.any():
            self.ratios = [*self.ratios, *np.sort(self.out[back] / self.usual()[back]).tolist()]
            self.returns = self.returns + back
            self.log_layoffs = self.log_layoffs + np.where(back, np.log(np.maximum(self.out, 1)), 0.0)
        new = candidate & ~self.ever
        if new.any():
            self.first_plays = 0.9 * self.first_plays + int((new & played).sum())
            self.first_chances = 0.9 * self.first_chances + int(new.sum())
        here = int(self.last.sum())
        self.kept = (int(stayed.sum()) + 0.5) / (here + 1.0)
        self.repeated = self.repeated + 1 if int(stayed.sum()) == here == int(played.sum()) else 0

    def _arrive(self, t: int) -> None:
        """Remember, on leaving a city, what it heard last."""
        city = self.history.city
        if t == 0 or city[t] < 0 or city[t] != city[t - 1]:
            if t and city[t - 1] >= 0:
                self.visits = {**self.visits, int(city[t - 1]): t - 1}
            self.stand_start = t

    def rates(self, half: float, candidate: Flags) -> Floats:
        """Share of shows with the song, where a show counts half as much after `half` more."""
        hits, chances = self.decayed[half]
        there = max(int(candidate.sum()), 1)
        # A set may have had more songs than there are now, some of them retired since.
        base = min(max(int(self.last.sum()), 1), there) / (there + 1)
        return np.asarray((hits + base) / (chances + 1))

    def overall(self, candidate: Flags) -> Floats:
        """Share of shows with the song, drawn to the common share as far as songs are alike (by moments)."""
        plays, seen = self.plays[candidate], np.maximum(self.seen[candidate], 1)
        common = (int(plays.sum()) + 0.5) / (int(seen.sum()) + 1)
        # Exact sums of fractions (fsum): neither the order of songs nor songs of later shows change a bit.
        excess = (plays / seen - common) ** 2 - common * (1 - common) / seen
        spread = fsum(excess) / max(len(excess), 1)
        strength = np.clip(common * (1 - common) / spread - 1, 1, 40) if spread > 0 else 40.0
        return np.asarray((self.plays + strength * common) / (self.seen + strength))

    def own_stays(self) -> Floats:
        """Share of nights after which the song stayed, drawn to the common share."""
        common = (self.stays.sum() + 2) / (self.stay_chances.sum() + 4)
        return np.asarray((self.stays + 6 * common) / (self.stay_chances + 6))

    def own_returns(self) -> Floats:
        """Share of nights out after which the song came back, drawn to the common share."""
        common = (self.returns.sum() + 1) / (self.return_chances.sum() + 8)
        return np.asarray((self.returns + 20 * common) / (self.return_chances + 20))

    def usual(self) -> Floats:
        """Shows that the song usually sits out before it comes back, drawn to what is common."""
        common = (fsum(self.log_layoffs) + 2 * np.log(_COMMON_LAYOFF)) / (self.returns.sum() + 2)
        return np.asarray(np.exp((self.log_layoffs + 2 * common) / (self.returns + 2)))

    def return_range(self) -> tuple[Floats, Floats]:
        """Shows out after which the song comes back, four times in five when it does.

        Past layoffs of all songs, each against what was usual for its song just before it ended, say how far a layoff
        may be from the usual one.
        """
        low, high = np.quantile(self.ratios, _RANGE)
        usual = self.usual()
        return np.maximum(np.round(usual * low), 1), np.maximum(np.round(usual * high), 1)

    def heard_here(self, t: int) -> tuple[Flags, bool]:
        """Which songs were heard at the last visit to this city, and whether there was one."""
        visit = self.visits.get(int(self.history.city[t])) if self.history.city[t] >= 0 else None
        return (np.zeros_like(self.last), False) if visit is None else (self.history.played[visit], True)
