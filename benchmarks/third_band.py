"""A fourth maker of shows for `benchmarks/recording.py`, written after ends and breaks were tuned.

A reed organ, a plucked double bass, a fiddle, frame drum, shaker and hand claps; harmony as a walk on fifths; tempo as
steps at phrases with hands that follow one another. Between songs the fiddle tunes and tries the next song, people
whistle and clap in time, somebody speaks. In every show one song is cut short and one begins with the fiddle alone. The
room is a network of delays, the telephone a narrow one that pumps. The truth is when each beat was meant.
"""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from scipy import signal

from tests.recording import band
from tests.recording.band import RATE, put

# beats a bar, steps a beat, drum (low, high) as steps of the bar, shaker every so many steps, chord on steps
FEELS = {
    "reel": (4, 4, (0, 8), (4, 12, 14), 2, (0, 6, 8, 14)),
    "slow air": (3, 2, (0,), (), 2, (0,)),
    "stomp": (4, 2, (0, 4), (2, 6), 0, (0, 3, 5)),
    "nine": (3, 3, (0, 6), (3, 8), 3, (0, 3, 6)),
    "tango": (4, 2, (0, 3, 6), (4,), 0, (0, 2, 4, 6)),
    "bossa": (4, 2, (0, 3, 4, 7), (2, 5), 1, (0, 3, 6)),
    "march": (2, 4, (0, 4), (2, 3, 6, 7), 0, (2, 6)),
    "ten": (5, 2, (0, 6), (4, 8), 2, (0, 3, 6, 8)),
}
USUAL = {"reel": 112, "slow air": 84, "stomp": 128, "nine": 96, "tango": 124, "bossa": 134, "march": 108, "ten": 152}


@dataclass(frozen=True)
class Song:
    """What is the same each night."""

    title: str
    feel: str
    bpm: float
    seconds: float
    seed: int


@dataclass(frozen=True)
class Night:
    """One performance; `share` of it is played."""

    song: Song
    seed: int
    share: float = 1.0


def repertoire(count, seed, seconds=(100.0, 170.0)):
    """Some songs."""
    dice = np.random.default_rng([seed, 60])
    feels = [str(one) for one in dice.permutation(list(FEELS))]
    return [
        Song(
            f"Tune {at + 1}",
            (feel := feels[at % len(feels)]),
            round(USUAL[feel] * float(2 ** dice.uniform(-0.2, 0.2)), 1),
            float(dice.uniform(*seconds)),
            seed * 300 + at,
        )
        for at in range(count)
    ]


def tonight(song, seed):
    """One night of it."""
    return Night(song, seed)


def _times(night, bars):
    """When each beat was meant: each phrase of four bars has its own pace, and slides into the next."""
    dice = np.random.default_rng([night.song.seed, night.seed, 61])
    per_bar = FEELS[night.song.feel][0]
    phrases = bars // 4 + 2
    pace = dice.normal(0, 1.4) + dice.normal(0, 1.2) * np.linspace(-0.5, 0.5, phrases) + dice.normal(0, 0.45, phrases)
    beats = np.arange(bars * per_bar)
    percent = np.interp(beats / (4 * per_bar), np.arange(phrases), pace)
    return np.concatenate([[0.0], np.cumsum(60 / (night.song.bpm * (1 + percent / 100)))])


def true_tempo(times):
    """Median tempo in windows of 16 s, and the drift through them from start to end in per cent."""
    middles = np.arange(10.0, max(times[-1] - 10.0, 10.5), 2.0)
    beat = np.interp(np.concatenate([middles - 8, middles + 8]), times, np.arange(len(times)))
    bpm = (beat[len(middles) :] - beat[: len(middles)]) / 16 * 60
    slope = np.median([
        (b - a) / (y - x)
        for i, (x, a) in enumerate(zip(middles, bpm, strict=True))
        for y, b in zip(middles[i + 1 :], bpm[i + 1 :], strict=True)
    ]) if len(bpm) > 1 else 0.0  # fmt: skip
    return float(np.median(bpm)), float(100 * slope * times[-1] / np.median(bpm))


@lru_cache(maxsize=4096)
def _tone(kind, pitch, tenths):
    """One note: reeds that beat against each other, a string that is bowed, or one that is plucked."""
    time = np.arange(int((tenths / 10 + 0.08) * RATE)) / RATE
    hertz = 440 * 2 ** ((pitch - 69) / 12)
    top = max(int(8000 / hertz), 1)
    if kind == "reed":
        wave = sum(signal.square(2 * np.pi * hertz * tune * time, 0.3) for tune in (0.997, 1.0, 1.004)) / 3
        wave = signal.sosfilt(signal.butter(2, 2600, fs=RATE, output="sos"), wave)
        shape = np.minimum(time / 0.03, 1)
    elif kind == "fiddle":
        phase = 2 * np.pi * hertz * time + 0.4 * np.sin(2 * np.pi * 6.1 * time)
        wave = sum(np.sin(n * phase) / n * (1.6 if n in (3, 5) else 1) for n in range(1, min(top, 18) + 1))
        shape = np.minimum(time / 0.07, 1)
    else:
        wave = sum(np.sin(2 * np.pi * n * hertz * time) * 0.5 ** (time * (3 + 2 * n)) / n for n in range(1, 7))
        shape = np.minimum(time / 0.006, 1)
    return (wave * shape * np.clip((tenths / 10 + 0.07 - time) / 0.06, 0, 1)).astype(np.float32)


@lru_cache(maxsize=16)
def _hit(kind):
    """One stroke of skin, rim, shaker or hands."""
    dice = np.random.default_rng(len(kind) * 7)
    time = np.arange(int(0.35 * RATE)) / RATE
    noise = dice.normal(0, 1, len(time))
    if kind == "low":
        made = np.sin(2 * np.pi * (82 * time - 20 * time**2)) * 0.5 ** (time / 0.07) + 0.08 * noise * 0.5 ** (
            time / 0.01
        )
    elif kind == "high":
        made = np.sin(2 * np.pi * 310 * time) * 0.5 ** (time / 0.025) + 0.3 * noise * 0.5 ** (time / 0.012)
    else:
        low, high, half = {"shaker": (5000, 9800, 0.02), "hands": (900, 3200, 0.018)}[kind]
        made = signal.sosfilt(signal.butter(2, [low, high], "band", fs=RATE, output="sos"), noise) * 0.5 ** (
            time / half
        )
    return made.astype(np.float32)


def _written(song):
    """Sections: (bars, roots, tune, who plays); harmony walks on a circle of fifths."""
    own = np.random.default_rng([song.seed, 62])
    home = int(own.integers(0, 12))
    walk = [-1, -1, 1, 2, -3, 3]

    def section():
        roots = (home + 7 * np.cumsum([0, *own.choice(walk, 3)])) % 12
        return [int(root) for root in roots], [int(note) for note in own.choice([0, 2, 3, 5, 7, 8, 10, 12], 16)]

    parts = {"a": section(), "b": section(), "c": section()}
    return [
        ("a", "soft"),
        ("a", "all"),
        ("b", "all"),
        ("a", "all"),
        ("c", "no drums"),
        ("b", "all"),
        ("a", "all"),
    ], parts


def played(night, *, alone=False):
    """Sound of one performance, and when its beats were; `alone`: the fiddle begins by itself."""
    song, dice = night.song, np.random.default_rng([night.song.seed, night.seed, 63])
    per_bar, steps = FEELS[song.feel][:2]
    bars = max(int(song.seconds * song.bpm / 60 / per_bar), 16)
    times = 0.25 + _times(night, bars)
    bars = max(int(bars * night.share), 8)
    times = times[: bars * per_bar + 1]
    out = np.zeros(int((times[-1] + 2.5) * RATE), np.float32)
    order, parts = _written(song)
    for bar in range(bars):
        name, who = order[min(bar * len(order) // max(bars, 1), len(order) - 1)]
        who = who if who != "soft" or alone else "all"
        for step in range(per_bar * steps):
            meant = float(np.interp(bar * per_bar + step / steps, np.arange(len(times)), times))
            _step(out, song.feel, (bar, step), meant, (*parts[name], who), dice)
    for note in (0, 7, 12):
        put(out, times[-1], _tone("reed", 48 + parts["a"][0][0] + note, 15), 0.1)
    return out, times


def _step(out, feel, at, meant, written, dice):
    """Everybody at one step of a bar."""
    bar, step = at
    per_bar, steps, low, high, shaker, chord = FEELS[feel]
    roots, tune, who = written
    root, loud = roots[bar % 4], {"soft": 0.45, "no drums": 0.6, "all": 1.0}[who]
    if who == "all":
        for kind, on, gain in (("low", step in low, 0.6), ("high", step in high, 0.35)):
            if on:
                put(out, meant + dice.normal(0, 0.007), _hit(kind), gain * dice.uniform(0.7, 1.1))
        if shaker and step % shaker == 0:
            put(out, meant + dice.normal(0.004, 0.008), _hit("shaker"), 0.16 * dice.uniform(0.5, 1))
    if who != "soft":
        if step in low or step == 0:
            put(out, meant + dice.normal(0, 0.008), _tone("bass", 36 + root, 6), 0.4 * loud)
        if step in chord:
            for note in (0, 4 if root % 3 else 3, 7):
                put(out, meant + dice.normal(0.006, 0.008), _tone("reed", 48 + root + note, 4), 0.05 * loud)
    if step % steps == 0 and dice.random() < 0.75:
        note = 60 + roots[0] + tune[(bar % 4 * per_bar + step // steps) % 16]
        put(out, meant + dice.normal(0.01, 0.015), _tone("fiddle", note, 4 if who != "soft" else 6), 0.1 * loud)


def _between(seconds, following, dice):
    """Applause that falls into time and out of it, whistles, tuning, a try of the next song, a voice."""
    out = np.zeros(int(seconds * RATE), np.float32)
    together, pace = dice.random() < 0.3, dice.uniform(0.35, 0.55)
    for _ in range(30):
        each = pace if together else dice.uniform(0.16, 0.32)
        for when in np.arange(dice.uniform(0, each if not together else 0.05), seconds * dice.uniform(0.2, 0.6), each):
            put(out, when + dice.normal(0, 0.02), _hit("hands"), dice.uniform(0.01, 0.05))
    for _ in range(dice.integers(0, 3)):
        time = np.arange(RATE // 2) / RATE
        rise = np.sin(2 * np.pi * (dice.uniform(1200, 1800) * time + 500 * time**2)) * np.hanning(len(time))
        put(out, dice.uniform(0, seconds), rise.astype(np.float32), 0.03)
    kind = dice.random()
    late = seconds * 0.55
    if kind < 0.35:
        for when in np.arange(late, seconds - 0.8, 0.7):
            put(out, when, _tone("fiddle", int(dice.choice([55, 62, 69, 76])), 6), 0.06)
    elif kind < 0.6 and following is not None:
        _, parts = _written(following)
        for when, note in zip(np.arange(late, seconds - 1.5, dice.uniform(0.3, 0.5)), parts["a"][1], strict=False):
            put(out, when + dice.normal(0, 0.05), _tone("fiddle", 60 + parts["a"][0][0] + note, 3), 0.06)
    elif kind < 0.9:
        for when in np.cumsum(dice.uniform(0.12, 0.4, int((seconds - late) * 4))) + late:
            put(out, when, _tone("reed", int(dice.integers(40, 50)), 1), 0.15)
    return out


def _heard(sound, where, seed):
    """A desk, a room of eight delays that feed one another, or a telephone in it."""
    dice = np.random.default_rng([seed, 64])
    hiss = dice.normal(0, 6e-4, len(sound)).astype(np.float32)
    if where == "clean":
        return sound + hiss
    wet = np.zeros_like(sound)
    for low in (0.031, 0.037, 0.041, 0.043, 0.053, 0.059, 0.067, 0.071):
        size, back = int(low * RATE), 0.82 if where == "room" else 0.87
        rows = np.pad(0.4 * sound, (0, -len(sound) % size)).reshape(-1, size)
        for row in range(1, len(rows)):
            rows[row] += back * rows[row - 1]
        wet += rows.reshape(-1)[: len(sound)]
    out = sound * (0.9 if where == "room" else 0.5) + 0.16 * wet
    if where == "room":
        return out + 4 * hiss
    people = signal.sosfilt(signal.butter(2, [200, 1500], "band", fs=RATE, output="sos"), dice.normal(0, 1, len(out)))
    swell = np.repeat(dice.uniform(0.3, 1, len(out) // (4 * RATE) + 1), 4 * RATE)[: len(out)]
    out = out + 0.05 * (people * swell).astype(np.float32)
    out = signal.sosfilt(signal.butter(2, [250, 6000], "band", fs=RATE, output="sos"), out)
    level = signal.lfilter([2e-4], [1, -(1 - 2e-4)], np.abs(out)) + 0.01
    return (np.tanh(0.15 * out / level**0.7) * 0.8).astype(np.float32)


def show(nights, seed, where="clean", *, extra_after=None):
    """A show: one song is cut short, another begins with the fiddle alone; `extra_after` adds an unlisted one."""
    dice = np.random.default_rng([seed, 65])
    cut, alone = dice.permutation(len(nights))[:2]
    parts, truth, at = [], [], 0.0
    for place, night in enumerate(nights):
        between = _between(float(dice.uniform(3, 25)), night.song, dice)
        night = Night(night.song, night.seed, 0.62 if place == cut else 1.0)  # noqa: PLW2901  # as it was played
        sound, times = played(night, alone=place == alone)
        at += len(between) / RATE
        truth.append((night.song.title, at + times[0], at + times[-1], times + at))
        at += len(sound) / RATE
        parts += [between, sound]
        if extra_after == place:
            other = Song(
                "extra", night.song.feel, night.song.bpm * 0.9, night.song.seconds * 0.9, night.song.seed + 150
            )
            parts += [_between(8.0, other, dice), played(Night(other, seed))[0]]
            at += (len(parts[-2]) + len(parts[-1])) / RATE
    parts.append(_between(16.0, None, dice))
    return band.Show(_heard(np.concatenate(parts), where, seed), truth)
