"""Sound from files: any container and codec that PyAV reads, block by block, never the whole in memory or changed."""

from __future__ import annotations

import importlib.util
import itertools
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from tourstats.problems import Problem, listed
from tourstats.recording.sound_features import tens

RATE = 22050
"""Samples a second of what is handed out: what is heard of a show ends at 9.6 kHz, and two shows are heard alike."""
MOST_DAMAGE = 1000
"""Packets that cannot be read, after which a file is given up."""
SUFFIXES = (
    *(".wav", ".flac", ".ogg", ".opus", ".mp3", ".m4a", ".aac", ".mp4", ".mov", ".m4v", ".mkv", ".webm", ".avi"),
    *(".3gp", ".aif", ".aiff", ".caf", ".wma", ".amr", ".bwf", ".w64", ".mka"),
)
"""Ends of names that are looked for in a folder; any other file can still be named."""


class RecordingProblem(Problem):
    """A recording cannot be read, or says nothing."""

    @classmethod
    def no_reader(cls) -> RecordingProblem:
        """The extra is not installed."""
        return cls(
            "Recordings are read by PyAV, which is not installed. Install it with: pip install 'tourstats[recording]' "
            "(from a checkout: pip install -e '.[recording]')."
        )

    @classmethod
    def not_there(cls, path: Path) -> RecordingProblem:
        """No such file."""
        return cls(f'There is no recording "{path}". Check the path, or choose the file again.')

    @classmethod
    def not_sound(cls, path: Path) -> RecordingProblem:
        """Something else than sound."""
        return cls(
            f'"{path.name}" holds no sound that can be read: it may be another kind of file, damaged, or (M4A, MP4) '
            "cut off before it was closed. Choose the recording itself (WAV, FLAC, MP3, M4A, MP4 and others), or "
            "convert it to WAV."
        )

    @classmethod
    def silent(cls, paths: Sequence[Path]) -> RecordingProblem:
        """Nothing to hear."""
        return cls(f"{listed([p.name for p in paths])} can be read, but there is nothing on it: it is silent.")

    @classmethod
    def too_short(cls, seconds: float) -> RecordingProblem:
        """Less than a song."""
        return cls(
            f"The recording is {seconds:.0f} seconds long: too short to look for songs. "
            "Choose the recording of the show."
        )


@dataclass
class Source:
    """One or more files that follow one another, as one recording. `remarks` fill while it is read."""

    paths: tuple[Path, ...]
    remarks: list[str]
    lengths: list[float]

    @classmethod
    def of(cls, paths: Sequence[str | Path] | str | Path) -> Source:
        """Look at every file before any is read; ask about the first that cannot be."""
        if importlib.util.find_spec("av") is None:
            raise RecordingProblem.no_reader()
        given = [paths] if isinstance(paths, str | Path) else list(paths)
        found = tuple(Path(path).expanduser() for path in given)
        if not found:
            raise RecordingProblem.not_there(Path())
        for path in found:
            if not path.is_file():
                raise RecordingProblem.not_there(path)
        return cls(found, [], [_length(path) for path in found])

    @property
    def seconds(self) -> float:
        """Length as the files state it; 0 where they do not."""
        return sum(self.lengths)

    def blocks(self, start: float = 0.0, end: float = np.inf) -> Iterator[np.ndarray]:
        """Mono sound between two moments of the recording, ten seconds at a time."""
        before = 0.0
        for path, length in zip(self.paths, self.lengths, strict=True):
            got = 0
            if not length or before + length > start:
                for block in tens(_pieces(path, max(start - before, 0.0), end - before, self.remarks), RATE):
                    got += len(block)
                    yield block
            before += length or got / RATE
            if before >= end:
                return


def _opened(path: Path) -> Any:  # noqa: ANN401  # PyAV is loaded late, so its types are not there
    import av  # noqa: PLC0415  # an extra: only who listens has it

    try:
        container = av.open(str(path), metadata_errors="ignore")
    except (av.FFmpegError, ValueError, OSError) as error:
        raise RecordingProblem.not_sound(path) from error
    if not container.streams.audio:
        container.close()
        raise RecordingProblem.not_sound(path)
    return container


def _length(path: Path) -> float:
    with _opened(path) as container:
        stream = container.streams.audio[0]
        if stream.duration and stream.time_base:
            return float(stream.duration * stream.time_base)
        return container.duration / 1e6 if container.duration else 0.0


def _pieces(path: Path, start: float, end: float, remarks: list[str]) -> Iterator[np.ndarray]:
    """Mono sound of one file at `RATE` between two moments, a frame at a time; what there is of a cut file is read."""
    import av  # noqa: PLC0415  # as above

    heard: float | None = None
    with _opened(path) as container:
        stream = container.streams.audio[0]
        stream.thread_type = "NONE"
        # The channels are kept and averaged here: mixed down by the resampler they can add up to more than full scale.
        resampler = av.AudioResampler(format="fltp", rate=RATE)
        first = float(stream.start_time * stream.time_base) if stream.start_time and stream.time_base else 0.0
        if start > 1:
            container.seek(int((start + first) / stream.time_base), stream=stream)
        for frame in itertools.chain(_frames(container, path, remarks), [None]):
            if heard is None:
                heard = max(float(frame.time or 0.0) - first, 0.0) if start > 1 and frame is not None else 0.0
            for small in _resampled(resampler, frame):
                after = heard + len(small) / RATE
                low, high = max(round((start - heard) * RATE), 0), max(round((min(end, after) - heard) * RATE), 0)
                heard = after
                yield small[low:high]
            if heard >= end:
                return


def _frames(container: Any, path: Path, remarks: list[str]) -> Iterator[Any]:  # noqa: ANN401  # as above
    """Decoded frames; a damaged place is passed over, and said once."""
    import av  # noqa: PLC0415  # as above

    packets = container.demux(container.streams.audio[0])
    damaged = 0
    while damaged < MOST_DAMAGE:
        try:
            yield from next(packets).decode()
        except (StopIteration, av.EOFError):
            break
        except (av.FFmpegError, ValueError):
            damaged += 1
    if damaged:
        remarks.append(f'"{path.name}" is damaged in places: what could be read was read.')


def _resampled(resampler: Any, frame: Any) -> list[np.ndarray]:  # noqa: ANN401  # as above
    try:
        return [small.to_ndarray().mean(axis=0) for small in resampler.resample(frame)]
    except ValueError:  # the sound changed its form half way: a damaged frame
        return []
