"""Any maker's songs on a stage where much happens before each: for `benchmarks/recording.py --hard`.

Before a song there is talk, talk over a held chord, tuning, the song tried softly with a breath after it or none, its
groove by the drums alone, a false start, or a bit of its middle; one in eight begins softly, one in eight stops for
some seconds.
The sound of what is tried is the song's own, so nothing but loudness, colour and the breath tells it from the song.
"""

import numpy as np
from scipy.signal import butter, sosfilt

from tests.recording import band

RATE = band.RATE
SCENES = {
    "none": 0.28,
    "talk": 0.14,
    "chord": 0.12,
    "tuning": 0.14,
    "tried": 0.10,
    "tried into it": 0.06,
    "drums": 0.08,
}
SCENES |= {"false start": 0.05, "noodle": 0.03}


class HardStage:
    """A maker as `benchmarks/recording.py` uses it, around another one."""

    def __init__(self, maker):
        self.maker = maker
        self.repertoire, self.tonight, self.true_tempo = maker.repertoire, maker.tonight, maker.true_tempo
        self.played = maker.played

    def show(self, nights, seed, where="clean", *, extra_after=None):
        """A show; `extra_after` puts a song that is on no list behind that place."""
        dice = np.random.default_rng([seed, 4711])
        parts, truth, at = [], [], 0.0
        for place, night in enumerate(nights):
            sound, times = self._level(night)
            before = _before(sound, int(times[0] * RATE), dice, first_song=not place)
            at += len(before) / RATE
            truth.append((night.song.title, at + times[0], at + times[-1], times + at))
            parts += [before, _changed(sound, times, dice)]
            at += len(sound) / RATE
            if extra_after == place:
                other = self.maker.repertoire(len(nights) + 4, seed + 5)[-1]
                parts += [_before(sound, int(times[0] * RATE), dice), self._level(self.maker.tonight(other, seed))[0]]
                at += sum(map(len, parts[-2:])) / RATE
        parts.append(band.crowd(20, dice, 0.01, [(0, 9, 0.08)]))
        whole = np.concatenate(parts).astype(np.float32)
        return band.Show(band.through(whole + band.crowd(len(whole) / RATE, dice, 0.004), where, seed), truth)

    def _level(self, night):
        sound, times = self.maker.played(night)
        return 0.15 * sound / np.sqrt(np.mean(sound**2)), times


def _only(sound, low, high):
    return sosfilt(butter(2, [low, high], "band", fs=RATE, output="sos"), sound).astype(np.float32)


def _before(sound, first, dice, *, first_song=False):
    """Applause, then one or two scenes with a pause behind each."""
    scenes = [
        band.crowd(dice.uniform(2, 30), dice, 0.01)
        if first_song
        else band.crowd(dice.uniform(3, 9), dice, 0.002, [(0, 9, 0.08)])
    ]
    chances = np.array(list(SCENES.values()))
    for kind in dice.choice(list(SCENES), size=int(dice.choice([1, 2])), p=chances / chances.sum(), replace=False):
        scene = _scene(str(kind), dice.uniform(5, 14), sound, first, dice)
        scenes.append(scene + band.crowd(len(scene) / RATE, dice, 0.008)[: len(scene)])
        breath = 0.2 if kind == "tried into it" else float(dice.choice([1.0, 2.5, 5.0, 9.0]))
        scenes.append(band.crowd(breath, dice, 0.01))
    return np.concatenate(scenes)


def _scene(kind, seconds, sound, first, dice):
    """What happens for some seconds before a song that begins at sample `first` of its sound."""
    size = int(seconds * RATE)
    later = int(dice.uniform(0.1, 0.8) * len(sound))
    if kind in ("talk", "none"):
        return 0.3 * band.talk(seconds, dice) if kind == "talk" else band.crowd(seconds / 2, dice, 0.01)
    if kind == "chord":
        tone = sum(band.note("organ", int(dice.integers(48, 60)) + step, int(seconds * 10)) for step in (0, 4, 7))
        return 0.03 * tone[:size] + 0.25 * band.talk(seconds, dice)[: len(tone[:size])]
    if kind == "tuning":
        return 0.7 * band.tuning(seconds, dice)
    part = {
        "drums": _only(sound[later : later + size], 4000, 9000),
        "noodle": 0.5 * _only(sound[later : later + size], 180, 2500),
    }.get(kind, sound[first : first + size] if kind == "false start" else _only(sound[first : first + size], 180, 2500))
    part = part * (1 if kind == "false start" else dice.uniform(0.2, 0.6))
    part[-RATE // 5 :] *= np.linspace(1, 0, len(part[-RATE // 5 :]))
    return part


def _changed(sound, times, dice):
    """A soft beginning, a stop inside the song."""
    sound, soft, stop = sound.copy(), *(dice.random(2) < 0.12)
    if soft:
        part = slice(int(times[0] * RATE), int((times[0] + dice.uniform(8, 18)) * RATE))
        sound[part] = dice.uniform(0.25, 0.5) * _only(sound[part], 180, 2500)
    if stop:
        begins = times[int(len(times) * dice.uniform(0.3, 0.8))]
        sound[int(begins * RATE) : int((begins + dice.uniform(2.5, 6)) * RATE)] *= 0.01
    return sound
