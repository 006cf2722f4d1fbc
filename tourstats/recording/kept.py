"""What is kept of one performance once the recording is closed: no sound, about three kilobytes."""

from __future__ import annotations

import zlib
from dataclasses import dataclass

import numpy as np

METHOD = 1
"""Version of the method; what another version kept is not held against this one's."""
CURVE_S = 2.0
HEAD = np.dtype([("method", "<u2"), ("curve", "<u2"), ("level", "<u2"), ("chroma", "<u2"), ("from_s", "<f4")])


@dataclass(frozen=True)
class Kept:
    """Of one performance: tempo every two seconds from `curve_from_s` on, level every two seconds, chroma a second.

    curve: beats a minute, empty where the tempo is not sure. level: dB against the show. chroma: (seconds, 12).
    Moments count from the start of the song.
    """

    curve: np.ndarray
    curve_from_s: float
    level: np.ndarray
    chroma: np.ndarray

    def packed(self) -> bytes:
        """As bytes, for the diary.

        Examples
        --------
        >>> kept = Kept(np.array([120.0, 120.5]), 8.0, np.array([-3.0]), np.eye(12, dtype=np.float32))
        >>> again = Kept.unpacked(kept.packed())
        >>> again.curve.tolist(), again.curve_from_s, again.level.tolist(), np.allclose(again.chroma, kept.chroma)
        ([120.0, 120.5], 8.0, [-3.0], True)

        """
        head = np.array((METHOD, len(self.curve), len(self.level), len(self.chroma), self.curve_from_s), HEAD)
        curve = np.round(np.nan_to_num(self.curve) * 100).astype("<u2")
        level = np.clip(np.round(self.level * 2), -127, 127).astype("i1")
        chroma = np.clip(np.round(self.chroma * 127), -127, 127).astype("i1")
        return zlib.compress(b"".join(part.tobytes() for part in (head, curve, level, chroma)))

    @classmethod
    def unpacked(cls, packed: bytes) -> Kept | None:
        """As it was; None for what another version of the method kept."""
        data = zlib.decompress(packed)
        head = np.frombuffer(data, HEAD, 1)[0]
        if head["method"] != METHOD:
            return None
        sizes = int(head["curve"]), int(head["level"]), int(head["chroma"])
        at = HEAD.itemsize
        curve = np.frombuffer(data, "<u2", sizes[0], at).astype(float) / 100
        level = np.frombuffer(data, "i1", sizes[1], at + 2 * sizes[0]).astype(float) / 2
        chroma = np.frombuffer(data, "i1", 12 * sizes[2], at + 2 * sizes[0] + sizes[1]).reshape(-1, 12)
        return cls(curve, float(head["from_s"]), level, chroma.astype(np.float32) / 127)
