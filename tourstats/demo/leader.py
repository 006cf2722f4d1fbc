"""How the leader writes a new set for every show, and how the night then goes."""

from __future__ import annotations

import math

from tourstats.demo.dice import Dice
from tourstats.demo.parameters import Truth
from tourstats.demo.scenario import Show, Song


def write_sets(shows: list[Show], songs: list[Song], truth: Truth, dice: Dice) -> None:
    """Fill in what was planned for each show and, all but tonight's, what was played."""
    memory = _Memory(songs)
    for at, show in enumerate(shows):
        last = shows[at - 1] if at else None
        chosen = _choose(show, last, memory, truth, dice)
        order = _in_order(chosen, dice)
        show.planned = [song.title for song in order]
        show.planned_encore = show.encore = dice.pick((2, 3))
        if show is not shows[-1]:
            show.played = list(show.planned)
            if dice.chance(truth.change_chance):
                _change(show, memory, dice)
            memory.note(show)


class _Memory:
    """What the leader remembers: when each song was last played, how many nights in a row, and what each town heard."""

    def __init__(self, songs: list[Song]) -> None:
        self.songs = songs
        self.titled = {song.title: song for song in songs}
        self.out = dict.fromkeys(self.titled, 6)
        self.in_a_row = dict.fromkeys(self.titled, 0)
        self.heard: dict[str, set[str]] = {}

    def note(self, show: Show) -> None:
        played = set(show.played)
        for song in self.songs:
            here = song.title in played
            self.in_a_row[song.title] = self.in_a_row[song.title] + 1 if here else 0
            self.out[song.title] = 0 if here else self.out[song.title] + song.playable(show.date)
        self.heard[show.city] = played


def _choose(show: Show, last: Show | None, memory: _Memory, truth: Truth, dice: Dice) -> list[Song]:
    """The songs of the night, in the order of the repertoire."""
    size = dice.pick((22, 23, 24), (30, 40, 30))
    ready = [song for song in memory.songs if song.playable(show.date)]
    fixtures = [song for song in ready if song.fixture and dice.chance(truth.fixture_chance)]
    stays = [song for song in ready if not song.fixture and last and song.title in last.played]
    others = [song for song in ready if not song.fixture and song not in stays]
    heard = memory.heard.get(show.city, set())
    swaps = _swaps(show, last, truth, dice)
    going = max(len(fixtures) + len(stays) + swaps - size, truth.swaps_least) if last else 0
    leaves = dice.draw({song.title: _goes(song, heard, memory, truth) for song in stays}, going)
    kept = fixtures + [song for song in stays if song.title not in leaves]
    comes = dice.draw({song.title: _comes(song, heard, memory, truth) for song in others}, size - len(kept))
    return sorted(kept + [memory.titled[title] for title in comes], key=memory.songs.index)


def _swaps(show: Show, last: Show | None, truth: Truth, dice: Dice) -> int:
    """How many songs beyond the fixtures come in, at least."""
    swaps = truth.swaps_least + dice.poisson(
        truth.swaps_busy if dice.chance(truth.busy_share) else truth.swaps_quiet,
    )
    if last is None or last.leg != show.leg:
        swaps += truth.leg_start_swaps
    elif last.city == show.city:
        swaps += truth.same_city_swaps
    return swaps


def _goes(song: Song, heard: set[str], memory: _Memory, truth: Truth) -> float:
    return (
        -song.staying
        + truth.tired * math.log(memory.in_a_row[song.title])
        + truth.new_stays * song.new_release
        + truth.heard_here_out * (song.title in heard)
    )


def _comes(song: Song, heard: set[str], memory: _Memory, truth: Truth) -> float:
    return (
        song.returning
        + truth.queue * math.log(max(memory.out[song.title], 1))
        + truth.newness * song.new_release
        + truth.heard_here_in * (song.title in heard)
    )


def _in_order(chosen: list[Song], dice: Dice) -> list[Song]:
    """Openers first, closers last, the rest near where the leader likes each."""
    at = {song.title: song.place + dice.normal(sd=0.03) for song in chosen}
    edge = {True: -1.0, False: 0.0}
    at |= {song.title: edge[song.opens] + 2.0 * song.closes + dice.uniform(0, 0.1) for song in chosen if song.fixture}
    return sorted(chosen, key=lambda song: at[song.title])


def _change(show: Show, memory: _Memory, dice: Dice) -> None:
    """One thing that was not as planned: a song dropped, exchanged, added at the end, or two the other way round."""
    inner = range(3, len(show.played) - show.encore - 1)
    at = dice.pick(inner)
    songs = [song for song in memory.songs if song.playable(show.date) and not song.fixture]
    spare = [song.title for song in songs if song.title not in show.played]
    what = dice.pick(("drop", "exchange", "add", "turn"), (35, 30, 15, 20))
    if what == "drop":
        del show.played[at]
    elif what == "exchange":
        show.played[at] = dice.pick(spare)
    elif what == "add":
        show.played.append(dice.pick(spare))
        show.encore += 1
    else:
        show.played[at - 1], show.played[at] = show.played[at], show.played[at - 1]
