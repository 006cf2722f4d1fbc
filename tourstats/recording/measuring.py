"""A show's recording and its set, in; where each song is, how fast it was, and what is kept of it, out."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import pandas as pd

from tourstats.recording import evidence
from tourstats.recording.evidence import Wanted
from tourstats.recording.kept import CURVE_S, Kept
from tourstats.recording.sound import RATE, RecordingProblem, Source
from tourstats.recording.sound_features import FRAMES, SLOW, Features, features
from tourstats.recording.splitting import Evidence, Place, ahead, places
from tourstats.recording.starts import Sound
from tourstats.recording.tempo import NONE, Tempo, tempo

COLUMNS = (
    *("position", "song", "start_s", "end_s", "sure", "tempo_bpm", "tempo_sure", "drift", "unsteadiness", "loudness"),
    "why",
)
LEAST_S = 60.0
"""A recording shorter than this is no show."""
SILENT_DB = -80.0
EARLIER = 2
"""Earlier performances whose harmony is held against a song: more cost time and gain little."""
AWAY, HAVE_THEIRS, FEWEST_PLACED = 0.1, 0.4, 3
"""How far a tempo is from what was wanted, as a logarithm, to be another; the share of the songs that have theirs where
a tempo far from the wanted one is believed; of fewer songs nothing is said of the whole.
"""
CLOSE, COUNTS, PLAYED = 0.03, 8.0, 7.8
"""Of a set that was played tempi are this close to what was wanted, but for what is common to the night; what the share
of such songs counts against how far the set is `ahead`, and the least sum: `benchmarks/recording.md` says on what.
"""
UNKNOWN = 0.55
"""What stands for that share where no tempo is wanted."""
NEAR = 0.9
"""The chance that a song begins within 20 s of its start, from which on its tempo is measured there."""
HALF, REST = 0.5, 0.45
"""A smaller share of the songs found is remarked on; where a larger share of the recording is outside of them, another
show may be on it.
"""
Progress = Callable[[float, str], None]
"""Told the share done and what is being done; may raise to stop."""


@dataclass(frozen=True)
class Heard:
    """What came of listening to a recording once.

    measured: as `measure` gives it. kept: what is kept of each performance, by position. remarks: what speaks against
    the recording, each a sentence. seconds: its length.
    """

    measured: pd.DataFrame
    kept: Mapping[int, bytes]
    remarks: tuple[str, ...]
    seconds: float


def measure(
    paths: Sequence[str | Path] | str | Path,
    set: Sequence[str] | pd.DataFrame,  # noqa: A002  # the word of the trade, and of the contract
    songs: pd.DataFrame,
    earlier: pd.DataFrame | None = None,
) -> pd.DataFrame:
    """Find the songs of a set in a recording, and measure how fast each was.

    Parameters
    ----------
    paths
        A recording of the show, or several files in order.
    set
        Titles in the order in which they were played, or a table with `position` and `song`.
    songs
        The repertoire: `song`, and where known `tempo_bpm` (as wanted) and `minutes`.
    earlier
        What was measured at earlier shows: `song`, `start_s`, `end_s`, `sure`, `tempo_bpm`, `tempo_sure`, and `kept`.

    Returns
    -------
    DataFrame
        One row per song of the set, in order. A figure that is not sure is not there.

        position      int    place in the set
        song          str    title
        start_s       float  seconds into the recording: the first beat after a count-in, or the first note of what
                             begins freely, is sung alone or held before the beat; NaN if it was not found
        end_s         float
        sure          bool   whether the place can be relied on
        tempo_bpm     float  mean without the fastest and slowest tenth; NaN unless `tempo_sure`
        tempo_sure    bool
        drift         float  per cent of the tempo, from start to end
        unsteadiness  float  spread about that line, per cent
        loudness      float  dB against the middle song of the show
        why           str    what speaks against place and tempo, in words; empty if nothing does

    Raises
    ------
    RecordingProblem
        If a file is not there, holds no sound, is silent, or is too short for a show.

    """
    return listen(paths, set, songs, earlier).measured


def listen(
    paths: Sequence[str | Path] | str | Path,
    set: Sequence[str] | pd.DataFrame,  # noqa: A002  # as in `measure`
    songs: pd.DataFrame,
    earlier: pd.DataFrame | None = None,
    fixed: Mapping[int, tuple[float, float]] | None = None,
    progress: Progress | None = None,
) -> Heard:
    """As `measure`, with what is kept; `fixed` are starts and ends that a person has set, by position."""
    progress = progress or _untold
    source = Source.of(paths)
    heard = features(_told(source, progress), RATE)
    remarks = [*source.remarks, *_checked(heard, source)]
    found = found_in(heard, set, songs, earlier, fixed, progress)
    return replace(found, remarks=(*remarks, *found.remarks))


def found_in(
    heard: Features,
    order: Sequence[str] | pd.DataFrame,
    songs: pd.DataFrame,
    earlier: pd.DataFrame | None = None,
    fixed: Mapping[int, tuple[float, float]] | None = None,
    progress: Progress | None = None,
) -> Heard:
    """The same from a recording that has been heard."""
    progress = progress or _untold
    wanted, positions = _wanted(order, songs, earlier)
    progress(0.75, "Finding the songs")
    found = evidence_of(heard, tuple(wanted), _by_place(fixed or {}, positions, heard))
    where = places(found)
    rows, kept, tempi = [], {}, []
    chroma, level = evidence.seconds_of_chroma(heard), heard.colours[:, 0]
    for at, (song, place) in enumerate(zip(wanted, where, strict=True)):
        progress(0.8 + 0.2 * at / len(wanted), f"Measuring {song.song}")
        tempi.append(_tempo(heard, song, place))
    tempi, where = believed(tempi, wanted, where, heard.seconds, ahead(found))
    for song, position, place, fast in zip(wanted, positions, where, tempi, strict=True):
        rows.append(_row(position, song.song, place, fast))
        if place.end > place.start:
            kept[position] = _kept(chroma, level, fast, place).packed()
    measured = pd.DataFrame(rows, columns=[*COLUMNS])
    measured["loudness"] = _loudness(level, measured)
    return Heard(measured, kept, tuple(_about(measured, heard)), heard.seconds)


def measured_between(
    paths: Sequence[str | Path] | str | Path, start: float, end: float, bpm: float
) -> tuple[dict[str, object], bytes]:
    """Measure one song again between a start and an end that somebody set: figures, and what is kept.

    Returns
    -------
    dict
        start_s, end_s, sure, tempo_bpm, tempo_sure, drift, unsteadiness, why, as in `measure`.
    bytes
        As in `Heard.kept`.

    """
    heard = features(Source.of(paths).blocks(start, end), RATE)
    length = heard.seconds
    fast = tempo(heard.onsets, bpm)
    row = _row(0, "", Place(start, start + length, sure=True, why=""), fast)
    kept = _kept(evidence.seconds_of_chroma(heard), heard.colours[:, 0], fast, Place(0.0, length, sure=True, why=""))
    names = ("start_s", "end_s", "sure", "tempo_bpm", "tempo_sure", "drift", "unsteadiness", "why")
    return {name: row[name] for name in names}, kept.packed()


def _untold(_share: float, _words: str) -> None:
    """Nobody waits."""


def evidence_of(heard: Features, wanted: tuple[Wanted, ...], fixed: Mapping[int, tuple[int, int]]) -> Evidence:
    """What speaks for each song at each second."""
    slow = evidence.per_second(heard)
    pulse = evidence.pulses(heard.onsets, len(slow))
    chroma = evidence.seconds_of_chroma(heard)
    return Evidence(
        evidence.music(slow, pulse),
        evidence.tempo_match(pulse, list(wanted)),
        evidence.chroma_match(chroma, list(wanted)),
        wanted,
        dict(fixed),
        Sound(evidence.strokes(heard), heard.colours, chroma, heard.onsets),
    )


def _told(source: Source, progress: Progress) -> Iterator[np.ndarray]:
    """Blocks, with word of how far it is."""
    heard = 0.0
    for block in source.blocks():
        heard += len(block) / RATE
        share = 0.75 * min(heard / source.seconds, 1) if source.seconds else 0.0
        progress(share, f"Reading the recording: {heard / 60:.0f} minutes so far")
        yield block


def _checked(heard: Features, source: Source) -> list[str]:
    """Refuse what cannot be a show; remark on what makes figures doubtful."""
    if heard.seconds < LEAST_S:
        raise RecordingProblem.too_short(heard.seconds)
    if heard.colours[:, 0].max() < SILENT_DB:
        raise RecordingProblem.silent(source.paths)
    remarks = []
    if source.seconds and heard.seconds < 0.9 * source.seconds:
        remarks.append(
            f"The recording breaks off after {heard.seconds / 60:.0f} of {source.seconds / 60:.0f} minutes: "
            "what comes after could not be read."
        )
    if heard.clipped > 0.01:  # noqa: PLR2004  # one sample in a hundred at the limit can be heard
        remarks.append(f"{heard.clipped:.0%} of the recording is clipped: turn the input down next time.")
    return remarks


def _wanted(
    order: Sequence[str] | pd.DataFrame, songs: pd.DataFrame, earlier: pd.DataFrame | None
) -> tuple[list[Wanted], list[int]]:
    """What is known of each song of the set, from the repertoire and from earlier shows."""
    if isinstance(order, pd.DataFrame):
        ordered = order.sort_values("position", kind="stable") if "position" in order else order
        titles = ordered.song.tolist()
        positions = ordered.position.tolist() if "position" in order else list(range(1, len(titles) + 1))
    else:
        titles, positions = list(order), list(range(1, len(order) + 1))
    known = songs.drop_duplicates("song").set_index("song")
    before = dict(tuple(earlier.groupby("song"))) if earlier is not None and len(earlier) else {}
    return [_known(title, known, before.get(title)) for title in titles], positions


def _known(title: str, songs: pd.DataFrame, before: pd.DataFrame | None) -> Wanted:
    """The usual tempo and length are the median of what was sure before, else what the repertoire says."""

    def said(column: str) -> float:
        value = songs[column].get(title, np.nan) if column in songs else np.nan
        return float(value) if pd.notna(value) else np.nan

    bpm, seconds, chroma = said("tempo_bpm"), said("minutes") * 60, []
    if before is not None:
        sure = before[before.sure.astype(bool)]
        lengths = (sure.end_s - sure.start_s).dropna()
        tempi = before.tempo_bpm[before.tempo_sure.astype(bool)].dropna() if "tempo_sure" in before else lengths[:0]
        seconds = float(lengths.median()) if len(lengths) else seconds
        bpm = float(tempi.median()) if len(tempi) else bpm
        # Its harmony can be relied on as well where only the start was not sure, but the tempo was.
        known = before[before.sure.astype(bool) | before.tempo_sure.astype(bool)] if "tempo_sure" in before else sure
        packs = known.kept.dropna().tolist()[-EARLIER:] if "kept" in before else []
        chroma = [kept.chroma for kept in map(Kept.unpacked, packs) if kept is not None]
    return Wanted(title, bpm, seconds, tuple(chroma))


def _by_place(
    fixed: Mapping[int, tuple[float, float]], positions: Sequence[int], heard: Features
) -> dict[int, tuple[int, int]]:
    last = len(heard.colours) // SLOW
    return {
        positions.index(position): (min(round(start), last - 1), min(round(end), last))
        for position, (start, end) in fixed.items()
        if position in positions
    }


def _tempo(heard: Features, song: Wanted, place: Place) -> Tempo:
    if not place.end > place.start:
        return NONE
    return tempo(heard.onsets[int(place.start * FRAMES) : int(place.end * FRAMES)], song.bpm)


def believed(
    tempi: list[Tempo], wanted: list[Wanted], where: list[Place], seconds: float, ahead: float
) -> tuple[list[Tempo], list[Place]]:
    """Tempi and places of a recording of some seconds; where it may be of another set, nothing is sure.

    `ahead` is how far the set is ahead of other orders, NaN where that is not known.
    """
    off = np.array(
        [np.log(one.bpm / song.bpm) if one.sure else np.nan for one, song in zip(tempi, wanted, strict=True)]
    )
    near = np.abs(off) <= AWAY
    known = np.array([bool(song.bpm > 0 and one.doubts) for one, song in zip(tempi, wanted, strict=True)])
    close = near & (np.abs(off - (np.median(off[near]) if near.any() else 0.0)) <= CLOSE)
    theirs = float(close[known].mean()) if known.any() else UNKNOWN
    why = _another_set(where, seconds, ahead + COUNTS * theirs)
    if why:
        where = [replace(one, sure=False, why=why) if one.sure and not one.fixed else one for one in where]
        return [replace(one, sure=False, why=why) if one.sure else one for one in tempi], where
    where = _beside_lost(tempi, close | np.array([place.fixed for place in where]), where)
    why = "the pulse that stands out is not the one wanted"
    many = known.any() and near[known].mean() >= HAVE_THEIRS
    told = [fits or not one.sure or (many and at.sure) for one, at, fits in zip(tempi, where, near, strict=True)]
    return [one if so else replace(one, sure=False, why=why) for one, so in zip(tempi, told, strict=True)], where


def _beside_lost(tempi: list[Tempo], own: np.ndarray, where: list[Place]) -> list[Place]:
    """Places; from one that was lost, or is too short, to the next that is its `own` song's, each may be another's."""
    doubtful = np.array([not one.doubts for one in tempi])
    for order in (range(1, len(where)), range(len(where) - 2, -1, -1)):
        for at in order:
            doubtful[at] |= doubtful[at - order.step] and not own[at]
    why = "a song near it was not found, and this has not quite the tempo that is wanted: it may be that song"
    return [
        replace(place, sure=False, why=why, near=0.0) if place.sure and so and not is_own else place
        for place, so, is_own in zip(where, doubtful, own, strict=True)
    ]


def _another_set(where: list[Place], seconds: float, played: float) -> str:
    """Why this may be a recording of another set; empty if it fits."""
    if np.isnan(played) and len(where) >= FEWEST_PLACED and not any(place.sure for place in where):
        return "no song of the set could be placed for sure"
    if played < PLAYED:
        return "the set fits the recording hardly better than in any other order: it may be another show"
    if seconds - sum(place.end - place.start for place in where if place.end > place.start) > REST * seconds:
        return "much of the recording is outside the songs of this set: another show may be on it"
    return ""


def _row(position: int, title: str, place: Place, fast: Tempo) -> dict[str, object]:
    # A tempo that was measured somewhere else than in the song is nobody's; a start some seconds off does not matter.
    good = fast.sure and (place.sure or place.near >= NEAR)
    found = place.end > place.start
    told = fast.sure or not found or fast.why == place.why
    doubts = [words for words in (place.why, "" if told else f"tempo: {fast.why}") if words]
    return {
        "position": position,
        "song": title,
        "start_s": place.start,
        "end_s": place.end,
        "sure": place.sure,
        "tempo_bpm": fast.bpm if good else np.nan,
        "tempo_sure": good,
        "drift": fast.drift if good else np.nan,
        "unsteadiness": fast.unsteadiness if good else np.nan,
        "loudness": np.nan,
        "why": "; ".join(doubts),
    }


def _loudness(level: np.ndarray, measured: pd.DataFrame) -> pd.Series:
    """Middle level of each song, against the middle song of the show: a recorder's gain does not matter."""
    each = [
        float(np.median(level[int(row.start_s * SLOW) : int(row.end_s * SLOW)])) if row.end_s > row.start_s else np.nan
        for row in measured.itertuples()
    ]
    middles = pd.Series(each, dtype=float)
    return (middles - middles.median()).round(2)


def _kept(chroma: np.ndarray, level: np.ndarray, fast: Tempo, place: Place) -> Kept:
    first = float(fast.seconds[0]) if fast.sure and len(fast.seconds) else 0.0
    part = level[int(place.start * SLOW) : int(place.end * SLOW)]
    step = int(CURVE_S * SLOW)
    levels = part[: len(part) // step * step].reshape(-1, step).mean(axis=1) - np.median(level)
    return Kept(fast.curve if fast.sure else np.zeros(0), first, levels, chroma[int(place.start) : int(place.end)])


def _about(measured: pd.DataFrame, heard: Features) -> list[str]:
    """Whether this can be the recording of this set at all."""
    placed = measured.start_s.notna()
    sure = int(measured.sure.sum())
    remarks = []
    if len(measured) >= FEWEST_PLACED and sure < 0.25 * len(measured):
        remarks.append(
            f"Only {sure} of {len(measured)} songs could be placed for sure. If this is another show, a sound check or "
            "another set, choose the right recording; otherwise check the starts by ear and move them."
        )
    lost = len(measured) - int(placed.sum())
    if HALF * len(measured) < lost < len(measured):
        remarks.append(
            f"{lost} of {len(measured)} songs were not found: is this the whole recording, and the right set?"
        )
    rest = heard.seconds - float((measured.end_s - measured.start_s).sum())
    if placed.any() and rest > REST * heard.seconds:
        remarks.append(
            f"{rest / 60:.0f} of {heard.seconds / 60:.0f} minutes are outside the songs of this set: is there "
            "another show on the recording?"
        )
    return remarks
