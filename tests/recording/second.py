"""A second maker of sound, of another kind than `band`: plucked strings, brushes, odd metres, no bass, no backbeat.

Tempo is not drawn beat by beat: a tape is played at a changing speed, so that everything, timing and pitch, moves with
it. It was written before it was first measured with, and nothing was tuned on it.
"""

from dataclasses import dataclass

import numpy as np
from scipy.signal import butter, lfilter, sosfilt

from tests.recording import band

RATE = band.RATE
METRES = {"five": (5, [0, 3], 2), "seven": (7, [0, 2, 4], 2), "three": (3, [0, 1, 2], 3), "two": (2, [0, 1], 4)}
USUAL = {"five": 148, "seven": 132, "three": 104, "two": 92}


@dataclass(frozen=True)
class Song:
    """What is the same each night."""

    title: str
    metre: str
    bpm: float
    seconds: float
    seed: int


@dataclass(frozen=True)
class Night:
    """One performance."""

    song: Song
    seed: int


def repertoire(count, seed, seconds=(100.0, 170.0)):
    """Some songs."""
    dice = np.random.default_rng([seed, 42])
    metres = list(METRES)
    return [
        Song(
            f"Piece {at + 1}",
            (metre := metres[at % 4]),
            round(USUAL[metre] * float(np.exp(dice.normal(0, 0.12))), 1),
            float(dice.uniform(*seconds)),
            seed * 100 + at,
        )
        for at in range(count)
    ]


def tonight(song, seed):
    """One night of it."""
    return Night(song, seed)


def _speed(seconds, dice):
    """Speed of the tape, a tenth of a second a step: an offset, a drift, and slow waves."""
    time = np.arange(int(seconds * 10) + 20) / 10
    wave = sum(
        dice.normal(0, 0.25) * np.sin(2 * np.pi * time / dice.uniform(25, 90) + dice.uniform(0, 6)) for _ in range(3)
    )
    return 1 + (dice.normal(0, 1.2) + dice.normal(0, 1.2) * (time / seconds - 0.5) + wave) / 100


def _pluck(pitch, seconds, dice):
    """A plucked string: noise in a loop that dulls."""
    period = round(RATE / (440 * 2 ** ((pitch - 69) / 12)))
    start = np.zeros(int(seconds * RATE), np.float32)
    start[:period] = dice.uniform(-1, 1, period)
    return lfilter([1], np.r_[1, np.zeros(period - 1), -0.4975, -0.4975], start).astype(np.float32)


def played(night):
    """Sound of one performance, and when its beats were."""
    song, own = night.song, np.random.default_rng(night.song.seed)
    dice = np.random.default_rng([night.song.seed, night.seed])
    per_bar, accents, parts = METRES[song.metre]
    beat = 60 / song.bpm
    count = int(song.seconds / beat / per_bar) * per_bar
    tape = np.zeros(int((count * beat + 3) * RATE), np.float32)
    root = int(own.integers(50, 60))
    riff = own.choice([0, 2, 3, 5, 7, 9, 10, 12], (4, per_bar * parts))
    strings = {int(p): _pluck(root + int(p) - 12 * k, 1.0, own) for p in np.unique(riff) for k in (0,)}
    low = {int(p): _pluck(root - 12 + int(p), 1.2, own) for p in np.unique(riff[:, 0])}
    brush = sosfilt(butter(1, [1500, 7000], "band", fs=RATE, output="sos"), own.normal(0, 1, RATE // 8))
    brush = (brush * np.hanning(len(brush)) ** 0.5).astype(np.float32)
    for place in range(count):
        bar, at = divmod(place, per_bar)
        line = riff[(bar // 2) % 4]
        loud = 0.7 if (bar // 8) % 3 == 1 else 1.0
        for part in range(parts):
            if dice.random() < (0.95 if part == 0 else 0.6):
                when = (place + part / parts) * beat + dice.normal(0, 0.009)
                _add(
                    tape,
                    when,
                    strings[int(line[at * parts + part])],
                    0.16 * loud * (1.4 if at in accents and not part else 1),
                )
        if at in accents:
            _add(tape, place * beat + dice.normal(0, 0.01), low[int(line[0])], 0.25 * loud)
        if (bar // 8) % 3 != 2 and dice.random() < 0.9:
            _add(tape, place * beat + 0.01 + dice.normal(0, 0.012), brush, 0.06 * loud)
    speed = _speed(count * beat, dice)
    place = np.concatenate([[0.0], np.cumsum(speed) / 10])
    clock = np.arange(len(place)) / 10
    end = float(np.interp(count * beat + 2.5, place, clock))
    sound = np.interp(np.interp(np.arange(int(end * RATE)) / RATE, clock, place) * RATE, np.arange(len(tape)), tape)
    lead = np.zeros(int(0.3 * RATE), np.float32)
    return np.concatenate([lead, sound.astype(np.float32)]), 0.3 + np.interp(np.arange(count + 1) * beat, place, clock)


def _add(tape, when, sound, gain):
    start = int(max(when, 0) * RATE)
    end = min(start + len(sound), len(tape))
    if end > start:
        tape[start:end] += gain * sound[: end - start]


true_tempo = band.true_tempo


def show(nights, seed, where, *, extra_after=None):
    """As `band.show`, with babble between the songs instead of noise."""
    dice = np.random.default_rng([seed, 8])
    parts, truth, at = [], [], 0.0
    for place, night in enumerate(nights):
        gap = float(dice.uniform(4, 20))
        babble = sum(band.talk(gap, dice) for _ in range(4)) * 0.15 + band.crowd(gap, dice, 0.01, [(0, 5, 0.12)])
        sound, beats = played(night)
        truth.append((night.song.title, at + gap + beats[0], at + gap + beats[-1], beats + at + gap))
        parts += [babble, sound]
        if extra_after == place:
            other = Song(
                "extra", night.song.metre, night.song.bpm * 1.15, night.song.seconds * 0.9, night.song.seed + 50
            )
            parts += [band.crowd(6, dice, 0.02, [(0, 5, 0.12)]), played(Night(other, seed))[0]]
        at = sum(map(len, parts)) / RATE
    parts.append(band.crowd(15, dice, 0.02, [(0, 9, 0.15)]))
    return band.Show(band.through(np.concatenate(parts).astype(np.float32), where, seed), truth)
