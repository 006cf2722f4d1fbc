"""A second maker of shows for `benchmarks/recording.py`: its sound has nothing of `tests/recording/band.py`.

Synthetic keys, a distorted guitar, a bass by frequency modulation and a kit of resonators; tempo as a walk with a bend
from start to end and steps at sections; hands that are early or late for a while; claps one by one, a speaker with
formants, a room of single echoes. The truth is when each beat was meant.
"""

from dataclasses import dataclass

import numpy as np
from scipy import signal

from tests.recording import band
from tests.recording.band import RATE, put

PROGRESSIONS = [(0, 7, 9, 5), (9, 5, 0, 7), (0, 5, 7, 7), (2, 7, 0, 0), (0, 10, 5, 0), (9, 7, 5, 7), (0, 3, 5, 10)]
PROGRESSIONS += [(5, 0, 7, 9)]
GROOVES = {
    # beats a bar, steps a beat, (kick, snare, hat) as steps of the bar with their strength, keys: steps of a chord
    "rock": (4, 2, {0: 1, 4: 0.9, 5: 0.5}, {2: 1, 6: 1}, dict.fromkeys(range(8), 0.6), (0, 3, 4)),
    "soul": (
        4, 4, {0: 1, 3: 0.4, 10: 0.9}, {4: 1, 12: 1, 7: 0.2, 9: 0.25}, dict.fromkeys(range(0, 16, 2), 0.5), (0, 6, 10)),
    "ballad": (4, 2, {0: 0.9, 5: 0.4}, {4: 0.8}, dict.fromkeys(range(8), 0.3), (0, 4)),
    "jig": (2, 3, {0: 1, 3: 0.7}, {3: 0.5, 5: 0.3}, dict.fromkeys(range(6), 0.5), (0, 3)),
    "swing": (4, 3, {0: 0.6, 6: 0.5}, {3: 0.5, 9: 0.6}, {0: 0.7, 3: 0.8, 5: 0.5, 6: 0.7, 9: 0.8, 11: 0.5}, (2, 8)),
    "disco": (4, 2, {0: 1, 2: 1, 4: 1, 6: 1}, {2: 0.8, 6: 0.8}, {1: 0.9, 3: 0.9, 5: 0.9, 7: 0.9}, (1, 3, 5, 7)),
    "polka": (2, 2, {0: 1, 2: 0.8}, {1: 0.7, 3: 0.7}, {}, (1, 3)),
    "slow six": (6, 2, {0: 1, 7: 0.3}, {6: 1}, dict.fromkeys(range(0, 12, 2), 0.5), (0, 4, 8)),
    "strum": (4, 2, {}, {}, {}, (0, 2, 3, 5, 6, 7)),
}  # fmt: skip
USUAL = {"rock": 132, "soul": 96, "ballad": 72, "jig": 118, "swing": 140, "disco": 118, "polka": 116}
USUAL |= {"slow six": 170, "strum": 108}


@dataclass(frozen=True)
class Song:
    """What is the same each night."""

    title: str
    groove: str
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
    dice = np.random.default_rng([seed, 1201])
    grooves = dice.permutation(list(GROOVES))
    made = []
    for at in range(count):
        groove = str(grooves[at % len(grooves)])
        bpm = round(USUAL[groove] * float(dice.uniform(0.84, 1.18)), 1)
        made.append(Song(f"Number {at + 1}", groove, bpm, float(dice.uniform(*seconds)), int(seed * 500 + at)))
    return made


def tonight(song, seed):
    """One night of it."""
    return Night(song, seed)


def _beats(night, bars, per_bar, sections):
    """When each beat was meant, from 0: a level, a bend, a slow walk, and a step where a section begins."""
    dice = np.random.default_rng([night.song.seed, night.seed, 17])
    count = bars * per_bar
    walk = signal.lfilter([1], [1, -0.985], dice.normal(0, 0.045 * dice.uniform(0.4, 1.6), count))
    off = dice.normal(0, 1.3) + dice.normal(0, 1.1) * (np.arange(count) / count - 0.5) + walk
    for first, last, kind in sections:
        off[first * per_bar : last * per_bar] += dice.normal(0.3 if kind == "chorus" else 0, 0.25)
    slow = np.ones(count)
    if np.random.default_rng(night.song.seed).random() < 0.25:
        slow[-per_bar * 2 :] = np.linspace(1, 0.75, per_bar * 2)
    return np.concatenate([[0.0], np.cumsum(60 / (night.song.bpm * (1 + off / 100) * slow))])


def true_tempo(times):
    """Median tempo in windows of 16 s and its drift in per cent, by the beats, without the first and last 8 s."""
    middles = np.arange(10.0, max(times[-1] - 10.0, 10.5), 1.0)
    count = np.interp(middles + 8, times, np.arange(len(times))) - np.interp(middles - 8, times, np.arange(len(times)))
    pairs = np.subtract.outer(middles, middles)
    slopes = (np.subtract.outer(count, count)[pairs > 0] / pairs[pairs > 0]) if len(middles) > 1 else np.zeros(1)
    return float(np.median(count) * 60 / 16), float(100 * np.median(slopes) * times[-1] / np.median(count))


def _env(seconds, attack, half):
    time = np.arange(int(seconds * RATE)) / RATE
    return (np.minimum(time / attack, 1) * 0.5 ** (time / half)).astype(np.float32)


def _kit(dice):
    """Strokes of one band's kit, each a resonator that was struck."""
    noise = dice.normal(0, 1, RATE // 2).astype(np.float32)

    def struck(low, high, seconds, half):
        sos = signal.butter(2, [low, high], "band", fs=RATE, output="sos")
        return signal.sosfilt(sos, noise[: int(seconds * RATE)]).astype(np.float32) * _env(seconds, 0.001, half)

    time = np.arange(int(0.3 * RATE)) / RATE
    kick = np.sin(2 * np.pi * dice.uniform(44, 62) * (time + 0.05 * np.exp(-time * 40))) * _env(0.3, 0.002, 0.06)
    click = struck(1500, 5000, 0.02, 0.004)
    kick[: len(click)] += 0.5 * click
    snare = 1.2 * struck(900, 7000, 0.25, 0.05)
    snare += 0.5 * np.sin(2 * np.pi * 210 * time[: len(snare)]) * _env(0.25, 0.001, 0.025)
    wood = np.sin(2 * np.pi * 2400 * time[:1200]).astype(np.float32) * _env(1200 / RATE, 0.0005, 0.008)
    hat, crash = 1.5 * struck(6000, 10500, 0.12, 0.018), struck(3000, 10000, 0.5, 0.2)
    return {"kick": kick, "snare": snare, "hat": hat, "crash": crash, "stick": wood}


def _tone(kind, pitch, seconds):
    """One note."""
    time = np.arange(int((seconds + 0.06) * RATE)) / RATE
    hertz = 440 * 2 ** ((pitch - 69) / 12)
    turn = 2 * np.pi * hertz * time
    if kind == "bass":
        wave = np.sin(turn + 1.8 * np.exp(-time * 6) * np.sin(turn))
    elif kind == "keys":
        wave = np.sin(turn + 1.2 * np.exp(-time * 3) * np.sin(3 * turn)) * np.exp(-time * 1.2)
    elif kind == "guitar":
        saw = sum(np.sin(n * turn * (1 + 0.0007 * n % 2)) / n for n in range(1, 16) if n * hertz < 9000)
        wave = np.tanh(2.5 * saw) * 0.5
    else:
        vibrato = 0.35 * np.sin(2 * np.pi * 5.6 * time) * np.minimum(time * 3, 1)
        wave = sum(a * np.sin(n * (turn + vibrato)) for n, a in enumerate((1, 0.6, 0.8, 0.3, 0.25, 0.1), 1))
    return (wave * np.minimum(time / 0.005, 1) * np.clip((seconds + 0.05 - time) / 0.05, 0, 1)).astype(np.float32)


def _form(bars, dice):
    """(first bar, bar after the last, kind) of each section, in whole groups of four bars."""
    kinds = ["intro", "verse", "chorus", "verse", "chorus", "solo", "break", "chorus", "outro"]
    cuts = np.round(np.cumsum(np.r_[0, dice.uniform(0.7, 1.3, len(kinds))]) / len(kinds) * bars / 4) * 4
    cuts = np.minimum((cuts * bars / max(cuts[-1], 1) // 4 * 4).astype(int), bars)
    cuts[-1] = bars
    return [(int(a), int(b), kind) for a, b, kind in zip(cuts, cuts[1:], kinds, strict=False) if b > a]


def played(night):
    """Sound of one performance from its count-in on, and when its beats were."""
    song, own = night.song, np.random.default_rng([night.song.seed, 3])
    dice = np.random.default_rng([song.seed, night.seed, 4])
    per_bar, steps = GROOVES[song.groove][:2]
    bars = max(int(song.seconds * song.bpm / 60 / per_bar), 16)
    sections = _form(bars, own)
    beats = _beats(night, bars, per_bar, sections)
    counted, root = own.random() < 0.5, int(own.integers(36, 48))
    times = beats + (per_bar * 60 / song.bpm + 0.2 if counted else 0.2)
    out = np.zeros(int((times[-1] + 3) * RATE), np.float32)
    band = _Band(song, root, _kit(own), _written(own), str(own.choice(["keys", "guitar"])), bool(own.random() < 0.3))
    if counted:
        for beat in range(per_bar):
            put(out, 0.2 + beat * 60 / song.bpm, band.kit["stick"], 0.3)
    feel = signal.lfilter([1], [1, -0.9], dice.normal(0, 0.0035, bars * per_bar * steps))
    for first, last, kind in sections:
        for bar in range(first, last):
            _bar(out, band, kind, (bar, bar - first), times, feel, dice)
    for note in (0, 4, 7):
        put(out, times[-1], _tone_kept(band.keys, root + 12 + note, 2.5), 0.12)
    put(out, times[-1], band.kit["kick"], 0.8)
    return np.tanh(1.3 * out) / 1.3, times


@dataclass(frozen=True)
class _Band:
    """Who plays a song, and what."""

    song: Song
    root: int
    kit: dict
    written: dict
    keys: str
    quiet: bool


def _written(own):
    """Chords and tune of each kind of section."""
    tune = [0, 2, 4, 7, 9, 12, 14, 16]
    return {
        kind: (PROGRESSIONS[own.integers(len(PROGRESSIONS))], own.permutation(tune))
        for kind in ("verse", "chorus", "solo")
    }


def _bar(out, band, kind, at, times, feel, dice):
    """One bar of everybody; `at` is its place in the song and in its section."""
    bar, since = at
    per_bar, steps = GROOVES[band.song.groove][:2]
    progression, tune = band.written.get(kind, band.written["chorus" if kind == "outro" else "verse"])
    drums = kind != "break" and not (kind == "intro" and band.quiet)
    loud = {"chorus": 1.0, "solo": 0.95, "break": 0.5, "intro": 0.4 if band.quiet else 0.8}.get(kind, 0.75)
    tonic = band.root + progression[since % 4]
    third = 3 if (tonic - band.root) % 12 in (2, 4, 9) else 4
    for step in range(per_bar * steps):
        when = float(np.interp(bar * per_bar + step / steps, np.arange(len(times)), times))
        when += feel[bar * per_bar * steps + step]
        if drums:
            _struck(out, band, (bar, step), when, loud, dice)
        _pitched(out, band, kind, step, (when, loud, tonic, third), dice)
        if kind in ("verse", "chorus", "solo") and step % steps == 0 and dice.random() < 0.65:  # the tune
            note = band.root + 24 + int(tune[(since % 2 * per_bar + step // steps) % 8])
            voice = "guitar" if kind == "solo" else "voice"
            put(out, when + dice.normal(0.015, 0.016), _tone_kept(voice, note, 0.4), 0.1 * loud)
    if drums and not since:
        put(out, times[bar * per_bar], band.kit["crash"], 0.5 * loud)


def _struck(out, band, at, when, loud, dice):
    """The kit at one step, with a fill at the end of eight bars."""
    bar, step = at
    per_bar, steps, kick, snare, hat, _ = GROOVES[band.song.groove]
    for name, steps_of, level in (("kick", kick, 0.8), ("snare", snare, 0.5), ("hat", hat, 0.35)):
        if step in steps_of:
            gain = level * steps_of[step] * loud * dice.uniform(0.75, 1.1)
            put(out, when + dice.normal(0, 0.006), band.kit[name], gain)
    if bar % 8 == 7 and step >= per_bar * steps - 3 and dice.random() < 0.7:
        put(out, when + dice.normal(0, 0.006), band.kit["snare"], 0.4 * loud)


def _pitched(out, band, kind, step, now, dice):
    """Chord and bass at one step."""
    when, loud, tonic, third = now
    *_, kick, _, _, chord_at = GROOVES[band.song.groove]
    if step in chord_at:
        for note in (0, third, 7):
            put(out, when + dice.normal(0, 0.006), _tone_kept(band.keys, tonic + 12 + note, 0.35), 0.09 * loud)
    if kind != "break" and (step in kick or (not kick and step == 0)):
        put(out, when + dice.normal(0, 0.006), _tone_kept("bass", tonic, 0.3), 0.3 * loud)


_KEPT = {}


def _tone_kept(kind, pitch, seconds):
    if (kind, pitch, seconds) not in _KEPT:
        _KEPT[kind, pitch, seconds] = _tone(kind, pitch, seconds)
    return _KEPT[kind, pitch, seconds]


def _applause(seconds, dice, people):
    """Pairs of hands, each with a rate of its own, that come and go; and some whoops."""
    out = np.zeros(int(seconds * RATE) + RATE, np.float32)
    for _ in range(people):
        begins, ends = (
            sorted(dice.uniform(0, seconds, 2)) if dice.random() < 0.5 else (0, seconds * dice.uniform(0.5, 1))
        )
        claps = np.arange(begins, ends, dice.uniform(0.18, 0.3)) + dice.normal(0, 0.02)
        clap = signal.lfilter([1], [1, -1.2 * np.cos(dice.uniform(0.3, 0.7)), 0.5], dice.normal(0, 1, 500)) * 0.5 ** (
            np.arange(500) / 60
        )
        for when in claps[claps >= 0]:
            put(out, when, clap.astype(np.float32), dice.uniform(0.01, 0.05))
    for _ in range(people // 12):
        time = np.arange(int(dice.uniform(0.3, 1) * RATE)) / RATE
        whoop = np.sin(2 * np.pi * dice.uniform(400, 900) * (time + 0.1 * time**2)) * np.hanning(len(time))
        put(out, dice.uniform(0, seconds), whoop.astype(np.float32), dice.uniform(0.01, 0.05))
    return out[: int(seconds * RATE)]


def _speech(seconds, dice):
    """Pulses of a voice through two formants that move, with pauses."""
    size = int(seconds * RATE)
    pitch = 110 * 2 ** (
        np.interp(np.arange(size), np.arange(0, size + 4000, 4000), dice.normal(0, 0.25, size // 4000 + 2))
    )
    pulses = np.diff(np.floor(np.cumsum(pitch) / RATE), prepend=0).astype(np.float32)
    out = np.zeros(size, np.float32)
    for first in range(0, size, 2600):
        if dice.random() < 0.72:
            part = pulses[first : first + 2600]
            for formant in (dice.uniform(300, 800), dice.uniform(900, 2300)):
                b, a = signal.iirpeak(formant, 6, fs=RATE)
                out[first : first + len(part)] += signal.lfilter(b, a, part).astype(np.float32) * np.hanning(len(part))
    return 2.5 * out


def _between(seconds, dice):
    """What happens between two songs."""
    out = _applause(seconds, dice, 40) * np.linspace(1.4, 0.1, int(seconds * RATE)).astype(np.float32)
    kind = dice.random()
    if kind < 0.4 and seconds > 5:
        spoken = _speech(seconds - 3, dice)
        out[-len(spoken) :] += 0.5 * spoken
    elif kind < 0.6 and seconds > 5:
        for when in np.cumsum(dice.exponential(0.45, int(seconds / 0.6))):
            put(out, 2 + when, _tone("guitar", int(dice.choice([40, 45, 50, 55, 59, 64])), 0.3), 0.06)
    return out


def _place(sound, where, seed):
    """What the recorder gets: the desk, the room, or a telephone in it."""
    dice = np.random.default_rng([seed, 31])
    if where == "clean":
        return sound + dice.normal(0, 3e-4, len(sound)).astype(np.float32)
    wet = np.zeros_like(sound)
    for _ in range(14):
        late = int(dice.uniform(0.007, 0.09) * RATE)
        wet[late:] += dice.uniform(0.1, 0.4) * dice.choice([-1, 1]) * sound[:-late]
    length = 1.3 if where == "room" else 1.9
    for low, high, share in ((60, 500, 1.0), (500, 2500, 0.8), (2500, 9000, 0.5)):
        time = np.arange(int(length * share * RATE)) / RATE
        tail = dice.normal(0, 1, len(time)) * 10 ** (-3 * time / (length * share))
        tail = signal.sosfilt(signal.butter(1, [low, high], "band", fs=RATE, output="sos"), tail)
        wet += 0.5 * signal.oaconvolve(sound, tail / np.sqrt((tail**2).sum()))[: len(sound)].astype(np.float32)
    out = (0.8 if where == "room" else 0.5) * sound + 0.6 * wet
    hum = dice.normal(0, 0.002, len(out)).astype(np.float32)
    if where == "room":
        return out + hum
    for first in range(0, len(out), 90 * RATE):
        near = _speech(20, dice) * 0.06
        put(out, (first / RATE) + dice.uniform(0, 60), near, 1.0)
    people = signal.sosfilt(
        signal.butter(1, [250, 1800], "band", fs=RATE, output="sos"), dice.normal(0, 0.03, len(out))
    )
    out = signal.sosfilt(signal.butter(2, 200, "high", fs=RATE, output="sos"), out + people + hum)
    loud = np.sqrt(signal.lfilter([1e-4], [1, -(1 - 1e-4)], out**2) + 1e-4)
    return (np.clip(0.35 * out / loud**0.8, -0.6, 0.6) / 0.6 * 0.9).astype(np.float32)


def show(nights, seed, where="clean", *, extra_after=None):
    """A show; `extra_after` puts a song that is on no list behind that place."""
    dice = np.random.default_rng([seed, 29])
    parts, truth, at = [], [], 0.0

    def put(sound):
        parts.append(sound)
        return len(sound) / RATE

    for place, night in enumerate(nights):
        at += put(_between(float(dice.uniform(2, 22)), dice))
        sound, times = played(night)
        truth.append((night.song.title, at + times[0], at + times[-1], times + at))
        at += put(sound)
        if extra_after == place:
            at += put(_between(7.0, dice))
            song = night.song
            other = Song("extra", song.groove, song.bpm * 0.87, song.seconds * 0.9, song.seed + 250)
            at += put(played(Night(other, seed))[0])
    put(_between(18.0, dice))
    return band.Show(_place(np.concatenate(parts).astype(np.float32), where, seed), truth)
