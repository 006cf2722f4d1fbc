"""Any maker's songs on a stage where many begin softly: for `benchmarks/recording.py --soft`.

More than half of the songs begin before their band does: one instrument alone in chords of the song, in time or
free, 1 to 18 dB below it; bass, cymbals or a thin sound of the song itself. Before it lie words, a count-in, chords of
this song or of another, a tone that feeds back, hands in time, nothing, or the last song. The truth is the first beat
or the first chord.
"""

import numpy as np
from scipy.signal import butter, sosfilt

from benchmarks.hard_stage import HardStage
from tests.recording import band
from tourstats.recording.sound_features import features

RATE = band.RATE
BEGINNINGS = {"band": 0.4, "alone": 0.32, "free": 0.12, "thin": 0.16}
SCENES = ("nothing", "talk", "chords", "other chords", "hands", "feeds back", "pad", "tuning", "groove")


class SoftStage(HardStage):
    """A maker as `benchmarks/recording.py` uses it, around another one."""

    def show(self, nights, seed, where="clean", *, extra_after=None):
        """A show; `extra_after` puts a song that is on no list behind that place."""
        dice = np.random.default_rng([seed, 9182])
        parts, truth, at = [], [], 0.0
        other = self._level(self.maker.tonight(self.maker.repertoire(len(nights) + 4, seed + 5)[-1], seed))
        for place, night in enumerate(nights):
            sound, times = self._level(night)
            segued = bool(place) and dice.random() < 0.25  # nothing lies before it but the last song
            before = np.zeros(0, np.float32) if segued else _before(sound, times, other[0], dice, first_song=not place)
            if segued and parts:
                parts[-1] = parts[-1][: -int(2.5 * RATE)]
                at -= 2.5
            # How a song begins is the song's, not the night's.
            intro = _intro(sound, times, np.random.default_rng([night.song.seed, 77]), dice)
            joined, first, beats = _joined(intro, sound, times)
            at += len(before) / RATE
            truth.append((night.song.title, at + first, at + beats[-1], beats + at))
            parts += [before, joined]
            at += len(joined) / RATE
            if extra_after == place:
                parts += [_before(*other, sound, dice), other[0]]
                at += sum(map(len, parts[-2:])) / RATE
        parts.append(band.crowd(20, dice, 0.01, [(0, 9, 0.08)]))
        whole = np.concatenate(parts).astype(np.float32)
        floor = dice.choice([0.0008, 0.004, 0.008])
        return band.Show(band.through(whole + band.crowd(len(whole) / RATE, dice, floor), where, seed), truth)


def _joined(intro, sound, times):
    """A beginning before the band, or over its first seconds; where the song begins, and its beats."""
    kind, made = intro
    if kind == "band":
        return sound, times[0], times
    if kind == "thin":
        sound = sound.copy()
        sound[: len(made)] = made
        return sound, times[0], times
    return np.concatenate([made, sound[int(times[0] * RATE) :]]), 0.0, times - times[0] + len(made) / RATE


def _intro(sound, times, own, dice):
    """What is heard of a song before its band plays; `own` are the song's dice, `dice` the night's."""
    kind = str(own.choice(list(BEGINNINGS), p=list(BEGINNINGS.values())))
    seconds, gain = float(own.uniform(6, 17)), float(10 ** (-own.uniform(1, 18) / 20))
    if kind == "thin":
        low, high = own.permutation([(180, 2500), (40, 200), (3500, 9000), (60, 900)])[0]
        part = sound[: int((times[0] + seconds) * RATE)]
        return kind, max(gain, 0.4) * sosfilt(butter(2, [low, high], "band", fs=RATE, output="sos"), part).astype(
            np.float32
        )
    beat = float(np.median(np.diff(times))) * int(own.choice([1, 2, 4]))
    beat = beat if beat > 0.6 else 2 * beat  # chords hardly change faster
    after = times[0] if own.random() < 0.6 else float(own.uniform(0.2, 0.6)) * len(sound) / RATE
    return kind, reduced(sound, after, (seconds, beat), own, dice, free=kind == "free", gain=gain)


def reduced(sound, after, length, own, dice, *, free=False, gain=0.3):
    """The harmony of some seconds of a song, as one instrument would play it alone."""
    seconds, beat = length
    count = max(round(seconds / beat), 3)
    part = sound[int(after * RATE) : int((after + seconds + 3) * RATE)]
    chroma = features([part], RATE).chroma
    steps = beat * (np.exp(dice.normal(0, 0.25, count)) if free else np.exp(dice.normal(0, 0.015, count)))
    at = np.r_[0.0, np.cumsum(steps)]
    out = np.zeros(int(at[-1] * RATE), np.float32)
    low, voices, pattern = int(own.integers(40, 58)), int(own.integers(2, 5)), int(own.integers(0, 3))
    tone = _timbre(own)
    for place in range(count):
        strong = np.argsort(chroma[min(int(place * beat * 2), len(chroma) - 1)])[::-1][:voices]
        pitches = sorted(low + (int(pitch) + 9 - low) % 12 for pitch in strong)
        for voice, pitch in enumerate(pitches):
            late = voice * (steps[place] / len(pitches) if pattern == 2 else 0.01 * pattern)  # broken
            band.put(out, at[place] + late, tone(pitch, 1.3 * beat), float(dice.uniform(0.7, 1.0)))
    return gain * 0.15 * out / np.sqrt(np.mean(out**2) + 1e-9)


def _timbre(own):
    """A struck, plucked, bowed or blown instrument of its own."""
    fall, fade, rise = own.uniform(0.5, 2.5), own.choice([0.0, 1.0, 3.0]), own.choice([0.003, 0.02, 0.12])
    odd, vibrato = own.random() < 0.25, own.choice([0.0, 0.0, 0.2])  # a reed's partials

    def tone(pitch, seconds):
        time = np.arange(int(seconds * RATE)) / RATE
        hertz = 440 * 2 ** ((pitch - 69) / 12)
        phase = 2 * np.pi * hertz * time + vibrato * np.sin(2 * np.pi * 5.5 * time)
        wave = sum(
            np.sin(n * phase + n) / n**fall * np.exp(-time * fade * (0.5 + 0.3 * n))
            for n in range(1, 15, 2 if odd else 1)
            if n * hertz < 9000  # hertz
        )
        return (wave * np.minimum(time / rise, 1) * np.clip((seconds - time) / 0.08, 0, 1)).astype(np.float32)

    return tone


def _before(sound, times, other, dice, *, first_song=False):
    """Applause, one or two scenes, a breath, and often a count-in."""
    clapped = float(dice.uniform(3, 14))
    parts = [band.crowd(clapped + 3, dice, 0.006, [(0, clapped, dice.choice([0.03, 0.08, 0.16]))])]
    if first_song:
        parts = [band.crowd(dice.uniform(3, 30), dice, 0.01)]
    for kind in dice.choice(SCENES, size=int(dice.choice([1, 2])), replace=False):
        scene = _scene(str(kind), float(dice.uniform(4, 16)), (sound, times, other), dice)
        parts += [scene, band.crowd(float(dice.choice([0.5, 1.5, 4.0, 8.0])), dice, 0.006)]
    if dice.random() < 0.35:  # counted in, by voice or sticks
        beat = float(np.median(np.diff(times)))
        beat = beat * 2 if beat < 0.35 else beat  # seconds
        counted = np.zeros(int(4 * beat * RATE), np.float32)
        click = dice.normal(0, 1, 900).astype(np.float32) * np.exp(-np.arange(900) / 150).astype(np.float32)
        for at in range(4):
            band.put(counted, at * beat, band.note("voice", 52, 2) if at % 2 else click, 0.12)
        parts.append(counted)
    return np.concatenate(parts)


def _scene(kind, seconds, stage, dice):  # noqa: PLR0911  # a way out a scene
    """What happens for some seconds before a song."""
    sound, times, other = stage
    size, time = int(seconds * RATE), np.arange(int(seconds * RATE)) / RATE
    if kind == "nothing":
        return band.crowd(seconds / 3, dice, 0.005)
    if kind == "talk":
        return float(dice.uniform(0.1, 0.5)) * band.talk(seconds, dice)
    if kind in ("chords", "other chords"):
        of, after = (sound, times[0]) if kind == "chords" else (other, 20.0)
        own = np.random.default_rng(int(dice.integers(1 << 30)))
        return reduced(
            of,
            after,
            (seconds, float(dice.uniform(0.5, 1.6))),
            own,
            dice,
            free=True,
            gain=float(dice.uniform(0.1, 0.5)),
        )
    if kind == "hands":
        out = np.zeros(size, np.float32)
        clap = sosfilt(butter(2, [900, 4000], "band", fs=RATE, output="sos"), dice.normal(0, 1, 900)) * np.exp(
            -np.arange(900) / 200
        )
        for beat in np.arange(0, seconds, dice.uniform(0.4, 0.6)):
            for _ in range(8):
                band.put(
                    out, beat + abs(dice.normal(0, 0.03)), clap.astype(np.float32), float(dice.uniform(0.01, 0.05))
                )
        return out
    if kind == "feeds back":
        tone = np.sin(2 * np.pi * dice.uniform(300, 2500) * time) * np.minimum(time / seconds * 2, 1) ** 2
        return (0.06 * tone * np.clip((seconds - time) / 0.2, 0, 1)).astype(np.float32)
    if kind == "pad":
        tone = sum(band.note("organ", int(dice.integers(48, 60)) + step, int(seconds * 10)) for step in (0, 4, 7))
        return 0.02 * tone[:size] + float(dice.choice([0, 0.3])) * band.talk(seconds, dice)[: len(tone[:size])]
    if kind == "tuning":
        return 0.7 * band.tuning(seconds, dice)
    later = int(dice.uniform(0.1, 0.7) * len(sound))
    return 0.4 * sosfilt(butter(2, 3500, "high", fs=RATE, output="sos"), sound[later : later + size]).astype(np.float32)
