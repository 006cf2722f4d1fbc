"""The demo tour from nothing: a seed goes in, a whole tour and what is true of it come out."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property, lru_cache

import pandas as pd

from tourstats.demo import around, recorded, studied
from tourstats.demo.dice import Dice
from tourstats.demo.drumming import Playing, play_tour
from tourstats.demo.leader import write_sets
from tourstats.demo.parameters import Truth
from tourstats.demo.scenario import Show, Song, itinerary, repertoire

SEED = 19
"""Chosen among forty for the night it ends with: songs that were out long, titles in other scripts, seven swaps."""


@dataclass(frozen=True)
class Tour:
    """A tour as it was, known to nobody but the process. `shows[-1]` is tonight: planned, not played."""

    seed: int
    truth: Truth
    songs: tuple[Song, ...]
    shows: tuple[Show, ...]
    playing: Playing
    notes: around.Rows
    counts: around.Rows
    measured: recorded.Rows
    shapes: studied.Rows
    tested: studied.Rows
    worked: studied.Rows

    @cached_property
    def attendance(self) -> around.Rows:
        """Travellers and the shows they were at, a row a person and `Show`; made when first asked for."""
        return around.attendance(self.played, Dice(self.seed, 6))

    @property
    def played(self) -> tuple[Show, ...]:
        """All shows but tonight's."""
        return self.shows[:-1]

    def plays(self) -> pd.DataFrame:
        """What really happened at each play.

        Returns
        -------
        DataFrame
            One row per show and position: show_id, position, song, missed (shows sat out since last played), first
            (never played before), new_transition, run (way of the run that helped most, or empty), log_rate (natural
            log of the mistakes expected), mistakes (those that happened, found or not).

        """
        return pd.DataFrame([vars(play) for play in self.playing.plays])


def tour(seed: int = SEED, truth: Truth | None = None) -> Tour:
    """Make a whole tour; the same seed makes the same one.

    Parameters
    ----------
    seed
        Another seed, another tour of the same band.
    truth
        Parameters of the process; those of `Truth` if not given.

    Returns
    -------
    Tour
        Songs with what is hidden in them, shows with their sets, and everything the drummer wrote down. It is kept and
        shared, so leave it as it is.

    """
    return _default(seed) if truth is None else _made(seed, truth)


@lru_cache(maxsize=4)
def _default(seed: int) -> Tour:
    return _made(seed, Truth())


def truth() -> Truth:
    """What is true of the demo tour, whatever the seed."""
    return Truth()


def _made(seed: int, true: Truth) -> Tour:
    songs = repertoire(true, Dice(seed, 1))
    shows = itinerary(Dice(seed, 2))
    write_sets(shows, songs, true, Dice(seed, 3))
    playing = play_tour(shows, songs, true, Dice(seed, 4))
    titled = {song.title: song for song in songs}
    shapes = studied.shapes(songs, Dice(seed, 9))
    return Tour(
        seed=seed,
        truth=true,
        songs=tuple(songs),
        shows=tuple(shows),
        playing=playing,
        notes=around.notes(shows[:-1], titled, Dice(seed, 5)),
        counts=around.counts(shows[:-1], Dice(seed, 7)),
        measured=recorded.measured(shows, songs, playing, true, Dice(seed, 8)),
        shapes=shapes,
        tested=studied.tested(shapes, shows[-1].date, Dice(seed, 10)),
        worked=studied.worked(songs, playing, Dice(seed, 11)),
    )
