"""A band made of numpy: drums, bass, chords and a voice with human timing, a crowd, a room, a telephone.

The truth is known: when every beat was meant, and where every song begins and ends. Nobody's playing is in it.
What it tempts to: the loudest onsets are not on the beats (the snare is late, fills rush), the crowd claps in time, and
somebody plays between the songs.
"""

from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from scipy.signal import butter, oaconvolve, sosfilt
from scipy.stats import theilslopes

RATE = 22050

# Steps of a bar: beats, steps a beat, then kick, snare, hat, bass and chord, a letter a step ("X" loud, "x" soft).
STYLES = {
    "eights": (4, 2, "X...X.X.", "..X...X.", "XxXxXxXx", "X.xxX.xx", "X...x..."),
    "half": (4, 2, "X..x....", "....X...", "X.X.X.X.", "X..xX...", "X......."),
    "shuffle": (4, 3, "X.....X.x...", "...X.....X..", "X.xX.xX.xX.x", "X..X..X..X.x", "X.....x....."),
    "waltz": (3, 2, "X.....", "..x.x.", "X.X.X.", "X...x.", "..x.x."),
    "ghost": (4, 4, "X..x..X...x.....", "..x.X..x.x..X..x", "X.x.X.x.X.x.X.x.", "X..x..X...x.x...", "..x...X...x...X."),
    "floor": (4, 4, "X...X...X...X...", "....X.......X...", "..X...X...X...X.", "X.xxX.xxX.xxX.xx", "..x...x...x...x."),
    "train": (4, 4, "X...X...X...X...", "xxxxXxxxxxxxXxxx", "................", "X.......X.......", "....x.......x..."),
    "clave": (4, 4, "X..xX..xX..xX..x", "X..x..x...x..x..", "X.x.X.x.X.x.X.x.", "X..xX..xX..xX..x", "x..x..x...x..x.."),
    "six": (2, 3, "X.....", "...X..", "XxxXxx", "X..X.x", "X.xX.x"),
    "fast": (4, 2, "X.X.X.X.", ".X.X.X.X", "XXXXXXXX", "XxXxXxXx", "X.X.X.X."),
    "toms": (4, 4, "X.....X.X.......", "..x.x..x..x.x.x.", "................", "X.......X.......", "X..............."),
    "sparse": (4, 2, "X.....x.", "....X...", "x.x.x.x.", "X.......", "X......."),
}
"""Twelve ways to play a bar."""

USUAL = {"eights": 126, "half": 76, "shuffle": 112, "waltz": 150, "ghost": 98, "floor": 122}
USUAL |= {"train": 104, "clave": 116, "six": 64, "fast": 176, "toms": 92, "sparse": 70}
"""A tempo that suits each."""


@dataclass(frozen=True)
class Song:
    """What is the same each night."""

    title: str
    style: str
    bpm: float
    seconds: float
    seed: int
    quiet_start: bool = False
    slows: bool = False


@dataclass(frozen=True)
class Night:
    """One performance of a song: how fast against the song's tempo (%), how it drifts (% from start to end)."""

    song: Song
    seed: int
    faster: float = 0.0
    drift: float = 0.0
    loose_ms: float = 8.0
    wander: float = 0.4


def repertoire(count, seed, seconds=(150.0, 300.0)):
    """Some songs, each with a style, a tempo and chords of its own."""
    dice = np.random.default_rng(seed)
    styles = list(STYLES)
    return [
        Song(
            title=f"Song {at + 1}",
            style=(style := styles[at % len(styles)]),
            bpm=round(USUAL[style] * float(np.exp(dice.normal(0, 0.09))), 1),
            seconds=float(dice.uniform(*seconds)),
            seed=seed * 1000 + at,
            quiet_start=bool(dice.random() < 0.25),
            slows=bool(dice.random() < 0.2),
        )
        for at in range(count)
    ]


def tonight(song, seed):
    """The song as it might come out on one night."""
    dice = np.random.default_rng([song.seed, seed])
    return Night(
        song,
        seed,
        faster=float(dice.normal(0, 1.2)),
        drift=float(dice.normal(0, 1.2)),
        loose_ms=float(dice.uniform(4, 12)),
        wander=float(dice.uniform(0.1, 0.7)),
    )


def beats(night):
    """When each beat was meant, in seconds from the first, until the song has ended."""
    dice = np.random.default_rng([night.song.seed, night.seed, 1])
    song = night.song
    per_bar = STYLES[song.style][0]
    count = int(song.seconds * song.bpm / 60 / (4 * per_bar)) * 4 * per_bar
    through = np.linspace(-0.5, 0.5, count)
    slow = np.zeros(count)
    for at in range(1, count):
        slow[at] = 0.97 * slow[at - 1] + dice.normal(0, night.wander * 0.24)
    section = np.repeat(dice.normal(0, 0.35, count // (4 * per_bar) + 1), 4 * per_bar)[:count]
    percent = night.faster + night.drift * through + slow - slow.mean() + section - section.mean()
    if song.slows:
        percent[-4:] -= np.array([4, 8, 14, 20])
    return np.concatenate([[0.0], np.cumsum(60 / (song.bpm * (1 + percent / 100)))])


def true_tempo(times, fraction=1.0, window=16.0):
    """Median of the tempo in windows of a song, as beats say it, and the drift from start to end in per cent.

    Windows have their middle more than 8 s from either end, as those that are measured.
    """
    starts = np.arange(10.0 - window / 2, max(times[-1] - 10.0 - window / 2, 2.5), 2.0)
    place = np.interp(np.concatenate([starts, starts + window]), times, np.arange(len(times)) * fraction)
    bpm = (place[len(starts) :] - place[: len(starts)]) / window * 60
    slope = theilslopes(bpm, starts + window / 2).slope  # a verse that is slower moves it little
    return float(np.median(bpm)), float(slope * times[-1] / np.median(bpm) * 100)


# ------------------------------------------------------------------------------------------------ instruments


def _decay(seconds, half):
    return np.exp2(-np.arange(int(seconds * RATE)) / RATE / half).astype(np.float32)


@lru_cache(maxsize=64)
def drum(kind):
    """One stroke."""
    dice = np.random.default_rng(sum(map(ord, kind)))
    time = np.arange(int(0.4 * RATE)) / RATE
    noise = dice.normal(0, 1, len(time)).astype(np.float32)
    high = sosfilt(butter(2, 5500, "high", fs=RATE, output="sos"), noise)
    if kind == "kick":
        return (np.sin(2 * np.pi * (48 * time + 4 * (1 - np.exp(-time / 0.03)))) * _decay(0.4, 0.05)).astype(np.float32)
    if kind == "snare":
        return (0.5 * np.sin(2 * np.pi * 195 * time) * _decay(0.4, 0.03) + 0.45 * noise * _decay(0.4, 0.035)).astype(
            "f4"
        )
    if kind == "tom":
        return (np.sin(2 * np.pi * (95 * time + 2 * (1 - np.exp(-time / 0.05)))) * _decay(0.4, 0.08)).astype(np.float32)
    return (0.4 * high * _decay(0.4, 0.015 if kind == "hat" else 0.12)).astype(np.float32)


@lru_cache(maxsize=4096)
def note(kind, pitch, tenths):
    """One note of bass, strings, organ or voice, `tenths` of a second long."""
    seconds = tenths / 10 + 0.05
    time = np.arange(int(seconds * RATE)) / RATE
    hertz = 440 * 2 ** ((pitch - 69) / 12)
    partials = {"bass": 6, "strings": 14, "organ": 8, "voice": 12}[kind]
    phase = 2 * np.pi * hertz * time
    if kind == "voice":
        phase = phase + 0.25 * np.sin(2 * np.pi * 5.3 * time)
    wave = np.zeros(len(time))
    for n in range(1, partials + 1):
        if hertz * n < RATE / 2.2:
            fall = {"strings": 1.0, "bass": 1.4, "organ": 0.9, "voice": 1.1}[kind]
            fade = np.exp(-time * n * 0.8) if kind in ("strings", "bass") else 1.0
            wave += np.sin(n * phase + n) / n**fall * fade
    rise = np.minimum(1, time / {"voice": 0.06, "organ": 0.02}.get(kind, 0.004))
    return (wave * rise * np.minimum(1, (seconds - time) / 0.03)).astype(np.float32)


def put(out, at, sound, gain):
    """Add a sound at a moment, as far as there is room."""
    start = int(at * RATE)
    if 0 <= start < len(out):
        end = min(start + len(sound), len(out))
        out[start:end] += gain * sound[: end - start]


# ------------------------------------------------------------------------------------------------ one song


def played(night):
    """Sound of one performance, and when its beats were meant (the first at 0.3 s)."""
    song, dice = night.song, np.random.default_rng([night.song.seed, night.seed, 2])
    times = beats(night) + 0.3
    out = np.zeros(int((times[-1] + 3.5) * RATE), np.float32)
    plan = _plan(song)
    per_bar = STYLES[song.style][0]
    count = (len(times) - 1) // per_bar

    def when(place, late=0.0):
        loose = dice.normal(0, night.loose_ms / 1000)
        return float(np.interp(place, np.arange(len(times)), times)) + late + loose

    for bar in range(count):
        part = plan[min(bar // 4 * len(plan) * 4 // count, len(plan) - 1)]
        _bar(out, song, part, bar, when, dice, last=bar % 8 == 7)
    chord = plan[-1]["chords"][0]
    for pitch in chord:
        put(out, when(count * per_bar), note("strings", pitch, 30), 0.12)
    if plan[-1]["drums"]:
        put(out, when(count * per_bar), drum("crash"), 0.7)
        put(out, when(count * per_bar), drum("kick"), 0.8)
    return out / 2.2, times


def _plan(song):
    """Sections in order: which chords, who plays, how loud."""
    dice = np.random.default_rng(song.seed)
    root = int(dice.integers(40, 52))
    minor = dice.random() < 0.4
    scale = [0, 2, 3, 5, 7, 8, 10] if minor else [0, 2, 4, 5, 7, 9, 11]

    def chord(degree):
        return [root + 12 + scale[(degree + step) % 7] + 12 * ((degree + step) // 7) for step in (0, 2, 4)]

    def section(loud, *, drums=True, voice=True, keys="strings"):
        degrees = [int(d) for d in dice.choice([0, 0, 1, 2, 3, 4, 5], 4)]
        tune = [int(d) for d in dice.integers(0, 8, 16)]
        return {
            "chords": [chord(d) for d in degrees],
            "tune": [root + 24 + scale[d % 7] + 12 * (d // 7) for d in tune],
            "loud": loud,
            "drums": drums,
            "voice": voice,
            "keys": keys,
        }

    keys = str(dice.choice(["strings", "organ"]))
    intro = section(0.45, drums=False, voice=False, keys=keys) if song.quiet_start else section(0.8, voice=False)
    verse, chorus = section(0.75, keys=keys), section(1.0, keys=keys)
    bridge = section(0.6, drums=bool(dice.random() < 0.6), keys="organ")
    return [intro, verse, chorus, verse, chorus, bridge, chorus, chorus]


GAIN = {"X": 1.0, "x": 0.45}


def _bar(out, song, part, bar, when, dice, *, last):
    """Everything in one bar."""
    per_bar, steps, kick, snare, hat, bass, keys = STYLES[song.style]
    chord, loud, swing = part["chords"][bar % 4], part["loud"], 0.04 if song.style in ("ghost", "clave") else 0.0
    for step in range(per_bar * steps):
        place = bar * per_bar + (step + (swing if step % 2 else 0)) / steps
        if part["drums"]:
            fill = last and step >= per_bar * steps - steps
            strokes = {"kick": kick[step], "snare": "." if fill else snare[step], "hat": hat[step]}
            _strokes(out, strokes, when, place, loud, dice, fill=fill)
        if bass[step] in GAIN and (part["drums"] or step == 0):
            put(out, when(place), note("bass", chord[0] - 12, 4), 0.35 * GAIN[bass[step]] * loud)
        if keys[step] in GAIN:
            tenths = 12 if part["keys"] == "organ" else 8
            for string, pitch in enumerate(chord):
                put(out, when(place, 0.006 * string), note(part["keys"], pitch, tenths), 0.12 * GAIN[keys[step]] * loud)
    if part["drums"] and bar % 16 == 0:
        put(out, when(bar * per_bar), drum("crash"), 0.5 * loud)
    if part["voice"]:
        _sung(out, song, part, bar, when, dice)


def _strokes(out, strokes, when, place, loud, dice, *, fill):
    """The kit at one step; the snare is a little late, a fill a little early."""
    if fill and dice.random() < 0.8:
        put(out, when(place, -0.006), drum("tom"), 0.7 * loud)
    for kind, level in (("kick", 0.9), ("snare", 0.8), ("hat", 0.6)):
        if strokes[kind] in GAIN:
            late = 0.008 if kind == "snare" else 0.0
            put(out, when(place, late), drum(kind), level * GAIN[strokes[kind]] * loud * dice.uniform(0.8, 1.1))


def _sung(out, song, part, bar, when, dice):
    """The tune of one bar, on the beat or behind it."""
    per_bar = STYLES[song.style][0]
    for beat in range(0, per_bar, 1 if song.bpm < 110 else 2):
        if dice.random() < 0.7:
            pitch = part["tune"][(bar % 4 * per_bar + beat) % 16]
            late = float(dice.choice([0, 0.5]))
            put(out, when(bar * per_bar + beat + late, 0.02), note("voice", pitch, 5), 0.14 * part["loud"])


# ------------------------------------------------------------------------------------------------ around it


def crowd(seconds, dice, level=0.03, applause=()):
    """People: a murmur that comes and goes, and applause (start, length, level) where it is due."""
    size = round(seconds * RATE)
    noise = dice.normal(0, 1, size).astype(np.float32)
    murmur = sosfilt(butter(2, [200, 2500], "band", fs=RATE, output="sos"), noise).astype(np.float32)
    halves = np.arange(0, size + RATE // 2, RATE // 2)
    slow = np.interp(np.arange(size), halves, dice.lognormal(0, 0.4, len(halves)))
    out = (murmur * slow * level).astype(np.float32)
    clap = sosfilt(butter(2, [700, 6000], "band", fs=RATE, output="sos"), dice.normal(0, 1, size)).astype(np.float32)
    for start, length, loud in applause:
        a, b = int(max(start, 0) * RATE), min(int((start + length) * RATE), size)
        if b > a:
            shape = np.minimum(np.linspace(0, 6, b - a), 1) * np.minimum(np.linspace(3, 0, b - a), 1)
            out[a:b] += (clap[a:b] * shape * loud).astype(np.float32)
    return out


def talk(seconds, dice):
    """Somebody speaks: syllables of a buzzing tone with a moving colour, and pauses."""
    out = np.zeros(round(seconds * RATE), np.float32)
    at = 0.5
    while at < seconds - 0.5:
        pitch = int(dice.integers(44, 56))
        syllable = note("voice", pitch, int(dice.integers(1, 4)))
        low = float(dice.uniform(300, 900))
        sound = sosfilt(butter(1, [low, low * 3], "band", fs=RATE, output="sos"), syllable).astype(np.float32)
        put(out, at, sound, 0.5)
        at += float(dice.exponential(0.22)) + 0.1 + (1.2 if dice.random() < 0.12 else 0)
    return out


def tuning(seconds, dice):
    """Somebody noodles between two songs: notes without a beat."""
    out = np.zeros(round(seconds * RATE), np.float32)
    at = 0.3
    while at < seconds - 1:
        put(out, at, note("strings", int(dice.choice([40, 45, 50, 55, 59, 64])), int(dice.integers(3, 9))), 0.1)
        at += float(dice.exponential(0.5)) + 0.08
    return out


def through(sound, where, seed=0):
    """The same sound on the desk's output, in the room, or on a telephone among the people.

    `where` is "clean", "room", "telephone" or "far" (a telephone at the back, overdriven).
    """
    dice = np.random.default_rng([seed, 9])
    if where == "clean":
        return sound
    long, direct = {"room": (1.1, 1.0), "telephone": (1.4, 0.7), "far": (2.0, 0.35)}[where]
    tail = dice.normal(0, 1, int(long * RATE)) * np.exp(-6.9 * np.arange(int(long * RATE)) / RATE / long)
    tail = sosfilt(butter(1, 4500, fs=RATE, output="sos"), tail)
    tail = tail / np.sqrt((tail**2).sum()) * 0.6
    tail[0] = direct
    out = oaconvolve(sound, tail.astype(np.float32))[: len(sound)].astype(np.float32)
    if where == "room":
        return out + dice.normal(0, 0.002, len(out)).astype(np.float32)
    out = sosfilt(butter(2, [180, 7000], "band", fs=RATE, output="sos"), out).astype(np.float32)
    block = RATE // 4
    level = np.sqrt(np.add.reduceat(out**2, np.arange(0, len(out), block)) / block)
    smooth = sosfilt(butter(1, 0.25, fs=4, output="sos"), level) + 0.01
    out = out * np.interp(np.arange(len(out)), np.arange(len(smooth)) * block, 0.2 / smooth**0.7).astype(np.float32)
    out = out + crowd(len(out) / RATE, dice, 0.03 if where == "telephone" else 0.08)
    return np.tanh(out * (1.5 if where == "telephone" else 4)).astype(np.float32) * 0.6


# ------------------------------------------------------------------------------------------------ a whole show


@dataclass(frozen=True)
class Show:
    """A show's sound and the truth about it: a row (title, start, end, beats from the start of the file) a song."""

    sound: np.ndarray
    songs: list


def show(nights, seed, where="clean", *, first_gap=None, extra_after=None):
    """Songs in order with what is between them; `extra_after` adds a song that is on no list behind that place."""
    dice = np.random.default_rng([seed, 3])
    parts, truth, at = [], [], 0.0
    for place, night in enumerate(nights):
        length = (
            first_gap
            if place == 0 and first_gap is not None
            else float(dice.choice([3, 6, 12, 25], p=[0.2, 0.4, 0.3, 0.1]))
        )
        between = _between(length, dice, after=place > 0)
        sound, times = played(night)
        parts += [between, sound]
        at += len(between) / RATE
        truth.append((night.song.title, at + times[0], at + times[-1], times + at))
        at += len(sound) / RATE
        if extra_after == place:
            other, _ = played(
                replace(night, song=replace(night.song, seed=night.song.seed + 77, bpm=night.song.bpm * 1.17))
            )
            parts += [_between(8, dice, after=True), other]
            at += len(parts[-2]) / RATE + len(other) / RATE
    parts.append(_between(20, dice, after=True))
    sound = np.concatenate(parts)
    sound += crowd(len(sound) / RATE, dice, 0.006, [(end, 7, 0.08) for _, _, end, _ in truth])
    return Show(through(sound, where, seed), truth)


def _between(seconds, dice, *, after):
    out = np.zeros(round(seconds * RATE), np.float32)
    kind = dice.random()
    if seconds >= 5 and kind < 0.5:
        out += 0.4 * talk(seconds, dice)
    elif seconds >= 5 and kind < 0.75:
        out += tuning(seconds, dice)
    return out + crowd(seconds, dice, 0.012, [(0, min(seconds, 9), 0.1)] if after else [])
