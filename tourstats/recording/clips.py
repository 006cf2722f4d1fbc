"""A few minutes of a recording as MP3, to be heard in a page; the recording itself is only read."""

from __future__ import annotations

import io
from collections.abc import Sequence
from pathlib import Path

import numpy as np

from tourstats.recording.sound import RATE, Source

BITS = 64_000
"""Bits a second: mono, 1.5 MB for three minutes; with more the encoder takes longer, and somebody waits."""
QUICKLY = {"compression_level": "7"}
"""For the encoder: half the time that it takes by itself, and as many bits."""


def clip(paths: Sequence[str | Path] | str | Path, start: float, end: float) -> bytes:
    """Cut a part of a recording, in seconds from its beginning.

    Parameters
    ----------
    paths
        The recording, or its files in order.
    start, end
        Seconds.

    Raises
    ------
    RecordingProblem
        If a file is not there or holds no sound.

    """
    import av  # noqa: PLC0415  # an extra: only who listens has it

    source = Source.of(paths)
    mp3 = io.BytesIO()
    with av.open(mp3, "w", format="mp3") as container:
        stream = container.add_stream("libmp3lame", rate=RATE, bit_rate=BITS, layout="mono", options=QUICKLY)
        at = 0
        for block in source.blocks(max(start, 0.0), end):
            whole = np.clip(block * 32767, -32767, 32767).astype(np.int16)
            frame = av.AudioFrame.from_ndarray(whole[None], format="s16", layout="mono")
            frame.rate, frame.pts = RATE, at
            at += len(whole)
            container.mux(stream.encode(frame))
        container.mux(stream.encode(None))
    return mp3.getvalue()
