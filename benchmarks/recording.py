"""How well songs are found in recordings, and how well their tempo is measured, on made-up shows whose truth is known.

    python benchmarks/recording.py                  the band the method was built on, other seeds than it was built on
    python benchmarks/recording.py --second         a second maker of sound, of another kind
    python benchmarks/recording.py --another        a third, which shares no code with the first
    python benchmarks/recording.py --third          a fourth, with a fiddle that tries the next song
    python benchmarks/recording.py --hard           with one of these: much happens before each song
    python benchmarks/recording.py --soft           with one of these: most songs begin before their band does
    python benchmarks/recording.py --wrong          a show of each maker, with the sets of the others: what is sure
    python benchmarks/recording.py --long           2.5 hours in one file (--parts 12: 6 hours): time and memory

A show has an unlisted song, an absent one, or a late start in one of three; each is heard twice: as a first show (only
the set, the tempo wanted and a rough length are known), and with an earlier night of the same songs.
"""

import argparse
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
import pandas as pd

from benchmarks import another_band, third_band
from benchmarks.hard_stage import HardStage
from benchmarks.soft_stage import SoftStage
from tests.recording import band, second
from tests.recording.files import written
from tourstats import recording
from tourstats.models import listening
from tourstats.recording.measuring import found_in
from tourstats.recording.sound_features import features
from tourstats.recording.tempo import tempo

PLACES = ("clean", "room", "telephone")
MAKERS = (band, second, another_band, third_band)


def repertoire(songs, dice):
    """What a diary would know: tempo as wanted, and a length that is off by 5 % (standard deviation)."""
    minutes = [song.seconds / 60 * np.exp(dice.normal(0, 0.05)) for song in songs]
    return pd.DataFrame({"song": [s.title for s in songs], "tempo_bpm": [s.bpm for s in songs], "minutes": minutes})


def one_show(maker, seed, where, size, seconds):
    """Rows of one show: as a first show, and with an earlier one."""
    dice = np.random.default_rng([seed, 77])
    songs = maker.repertoire(size + 1, seed, seconds)
    known = repertoire(songs, dice)
    odd = ("plain", "unlisted", "absent")[seed % 3]
    listed = [song.title for song in songs[:size]]
    nights = [maker.tonight(song, seed) for song in songs[:size]]
    if odd == "absent":
        listed.insert(size // 2, songs[size].title)
    show = maker.show(nights, seed, where, extra_after=size // 2 if odd == "unlisted" else None)
    heard = features([show.sound], band.RATE)
    again = [maker.tonight(song, seed + 1000) for song in dice.permutation(np.array(songs, dtype=object))]
    before = maker.show(again, seed + 1000, PLACES[(PLACES.index(where) + 1) % 3])
    told = features([before.sound], band.RATE)
    past = found_in(told, [title for title, *_ in before.songs], known)
    earlier = past.measured.assign(kept=past.measured.position.map(past.kept))
    rows = []
    for kind, given in (("first", None), ("again", earlier)):
        table = found_in(heard, listed, known, given).measured
        truth = {title: (start, end, maker.true_tempo(beats - beats[0])) for title, start, end, beats in show.songs}
        for row in table.itertuples():
            start, end, (bpm, drift) = truth.get(row.song, (np.nan, np.nan, (np.nan, np.nan)))
            rows.append(
                {
                    "kind": kind,
                    "where": where,
                    "odd": odd,
                    "there": row.song in truth,
                    "sure": row.sure,
                    "start": row.start_s - start,
                    "end": row.end_s - end,
                    "tempo_sure": row.tempo_sure,
                    "tempo": (row.tempo_bpm / bpm - 1) * 100,
                    "drift": row.drift - drift,
                }
            )
    return rows


def wrong_sets(seed, size):
    """Sets that were not played, and how many of their songs are called sure."""
    nights = []
    for at, maker in enumerate(MAKERS):
        songs = maker.repertoire(size, seed, (100.0, 170.0))
        show = maker.show([maker.tonight(song, seed) for song in songs], seed, PLACES[(seed + at) % 3])
        nights.append((features([show.sound], band.RATE), repertoire(songs, np.random.default_rng([seed, at]))))
    pairs = [(heard, known) for heard, own in nights for _, known in nights if known is not own]
    tables = [found_in(heard, known.song.tolist(), known).measured for heard, known in pairs]
    sure = [int((table.sure | table.tempo_sure).sum()) for table in tables]
    print(f"{len(tables)} sets of other songs: {sum(sure)} of {size * len(tables)} songs sure", flush=True)


def wrong_tempi(maker, seeds):
    """Share of songs whose tempo is called sure although what was wanted is another's, more than 20 % away."""
    said = tries = 0
    for seed in seeds:
        dice = np.random.default_rng(seed)
        song = maker.repertoire(12, seed, (60.0, 90.0))[seed % 12]
        sound, beats = maker.played(maker.tonight(song, seed))
        heard = features([band.through(sound, PLACES[seed % 3], seed)], band.RATE).onsets
        bpm = maker.true_tempo(beats - beats[0])[0]
        for _ in range(4):
            wrong = bpm * np.exp(dice.choice([-1, 1]) * dice.uniform(0.24, 0.6))
            found = tempo(heard, wrong)
            # Half and double are the same pulse, and a metre's own subdivision can be meant.
            tries += 1
            said += bool(found.sure and min(abs(np.log2(found.bpm / bpm) - k) for k in (-1, 0, 1)) > 0.03)
    return said, tries


def off(values, share):
    """A quantile of the size of errors."""
    return np.quantile(values.abs().dropna(), share) if values.notna().any() else np.nan


def told(rows):
    """The table of the note."""
    for (kind, where), part in rows.groupby(["kind", "where"], sort=False):
        there = part[part.there]
        sure, fast = there[there.sure], there[there.tempo_sure]
        three = {name: [round(float(off(values, q)), 2) for q in (0.5, 0.95, 1)] for name, values in (
            ("start s", sure.start), ("end s", sure.end), ("tempo %", fast.tempo), ("drift", fast.drift))}  # fmt: skip
        print(f"{kind:6}{where:10} songs {len(there)}, place sure {there.sure.mean():.0%}, ", end="")
        print(f"tempo sure {there.tempo_sure.mean():.0%}, median, 95 %, worst:", three, end=" ")
        print(f"absent called sure {(~part.there & part.sure).sum()} of {(~part.there).sum()}", flush=True)


def heard_first(seeds):
    """Of the five songs that truly depart most, how many are among the first six."""
    hits = []
    for seed in seeds:
        dice = np.random.default_rng([seed, 5])
        own = dice.normal(0, 2, 30)
        rows, truth = [], []
        for show in range(1, 13):
            for position, song in enumerate(dice.permutation(30)[:20], start=1):
                away = dice.standard_t(3) * 0.9
                bpm = 100 * np.exp((own[song] + away + dice.normal(0, 0.1)) / 100)
                rows.append((show, position, f"Song {song}", bpm))
                if show == 12:
                    truth.append((abs(away), position))
        table = pd.DataFrame(rows, columns=["show_id", "position", "song", "tempo_bpm"]).assign(tempo_sure=True)
        table = table.assign(sure=True, start_s=0.0, end_s=240.0)
        shows = pd.DataFrame({"show_id": range(1, 13), "date": pd.date_range("2031-03-04", periods=12)})
        songs = pd.DataFrame({"song": [f"Song {at}" for at in range(30)], "tempo_bpm": 100.0})
        first = listening.order(table, table[["show_id", "position", "song"]], shows, songs, 12).position.head(6)
        hits.append(len({place for _, place in sorted(truth)[-5:]} & set(first)))
    return hits


def made(path, parts):
    """A long file: a show of six songs, again and again. In a process of its own, whose memory does not count."""
    songs = band.repertoire(6, 3, (270.0, 300.0))
    sound = band.show([band.tonight(song, 1) for song in songs], 3, "clean").sound
    written(path, np.tile(sound, parts), band.RATE, codec="aac", layout="stereo")


def long_file(parts):
    """Processor time and memory of hours of sound from a file."""
    songs = band.repertoire(6, 3, (270.0, 300.0))
    titles = [f"{song.title} again {at}" for at in range(parts) for song in songs]
    known = pd.concat([repertoire(songs, np.random.default_rng(1))] * parts, ignore_index=True).assign(song=titles)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "show.m4a"
        subprocess.run([sys.executable, __file__, "--make", str(path), "--parts", str(parts)], check=True)  # noqa: S603  # this script
        size = path.stat().st_size
        before, held = time.process_time(), resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        heard = recording.listen(path, titles, known)
    took, peak = time.process_time() - before, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(
        f"{heard.seconds / 3600:.2f} h, {len(titles)} songs, {size / 1e6:.0f} MB of M4A: {took:.0f} s of processor time"
    )
    print(f"peak {peak:.0f} MB ({held:.0f} MB before it began)")
    print(f"kept at most {max(map(len, heard.kept.values()))} bytes a performance")
    print(f"place sure {heard.measured.sure.mean():.0%}, tempo sure {heard.measured.tempo_sure.mean():.0%}")


def main():
    """What was asked for."""
    asked = argparse.ArgumentParser()
    asked.add_argument("--second", action="store_true")
    asked.add_argument("--another", action="store_true")
    asked.add_argument("--third", action="store_true")
    asked.add_argument("--hard", action="store_true")
    asked.add_argument("--soft", action="store_true")
    asked.add_argument("--wrong", action="store_true")
    asked.add_argument("--long", action="store_true")
    asked.add_argument("--make", type=Path)
    asked.add_argument("--parts", type=int, default=5)
    asked.add_argument("--seed", type=int, default=400)
    asked.add_argument("--shows", type=int, default=2)
    asked.add_argument("--size", type=int, default=9)
    given = asked.parse_args()
    if given.make:
        made(given.make, given.parts)
        return
    if given.long:
        long_file(given.parts)
        return
    if given.wrong:
        for seed in range(given.seed, given.seed + given.shows):
            wrong_sets(seed, given.size)
        return
    maker = second if given.second else another_band if given.another else third_band if given.third else band
    maker = HardStage(maker) if given.hard else SoftStage(maker) if given.soft else maker
    rows = []
    for at in range(given.shows * 3):
        rows += one_show(maker, given.seed + at, PLACES[at // given.shows], given.size, (100.0, 170.0))
        print(f"show {at + 1} of {given.shows * 3}", flush=True)
    table = pd.DataFrame(rows)
    told(table)
    wrong, tries = wrong_tempi(maker, range(given.seed + 500, given.seed + 500 + 12 * given.shows))
    print(f"wrong wanted tempo called sure: {wrong} of {tries}")
    if maker is band:
        hits = np.array(heard_first(range(200)))
        print(
            f"the five that depart most among the first six: {hits.mean():.2f}, four or more: {np.mean(hits >= 4):.0%}"
        )


if __name__ == "__main__":
    main()
