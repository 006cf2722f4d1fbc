"""Where bars and sections of a song begin in a performance, from its tempo curve and its shape."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from tourstats.recording.kept import CURVE_S, Kept

BEATS = 4
"""Beats of a step where the shape does not tell how long a bar is."""
METRES = range(2, 9)
NEAR = 0.06
"""How far the beats of a performance over the bars of the shape may be from a whole number, as a share."""


@dataclass(frozen=True)
class Bars:
    """Starts of bars in seconds from the start of the song; whether the shape says that they are bars; sections."""

    seconds: tuple[float, ...]
    known: bool
    sections: tuple[tuple[float, str], ...]


def bars_of(kept: Kept | None, length: float, sections: pd.DataFrame) -> Bars:
    """Bars of a performance; steps of four beats where its shape is not known, nothing without a sure tempo.

    Parameters
    ----------
    kept
        What is kept of the performance.
    length
        Its length, in seconds.
    sections
        The song's shape as in `tourstats.tables.Sections`; may be empty.

    Examples
    --------
    >>> kept = Kept(np.full(50, 120.0), 8.0, np.zeros(0), np.zeros((0, 12)))
    >>> shape = pd.DataFrame({"position": [1, 2], "name": ["verse", "chorus"], "bars": [20, 30]})
    >>> bars_of(kept, 100.0, shape).sections
    ((0.0, 'verse'), (40.0, 'chorus'))

    """
    if kept is None or not len(kept.curve) or length <= 0:
        return Bars((), known=False, sections=())
    times = np.arange(0, length + 0.05, 0.1)
    moments = kept.curve_from_s + CURVE_S * np.arange(len(kept.curve))
    beats = np.concatenate([[0.0], np.cumsum(np.interp(times[:-1], moments, kept.curve) / 600)])
    counts = sections.sort_values("position").bars.astype(float) if len(sections) else pd.Series(dtype=float)
    total = float(counts.sum()) if len(counts) and counts.notna().all() else 0.0
    per = beats[-1] / total if total else 0.0
    metre = round(per)
    known = metre in METRES and abs(per / metre - 1) < NEAR
    step = metre if known else BEATS
    starts = np.interp(np.arange(0, beats[-1], step), beats, times).round(2)
    named: tuple[tuple[float, str], ...] = ()
    if known:
        # The bars of the shape are laid evenly over the beats, so that a bar more or less does not shift the end.
        first = np.concatenate([[0.0], np.cumsum(counts)[:-1]]) * per
        at = np.interp(first, beats, times).round(2)
        named = tuple(zip((float(a) for a in at), sections.sort_values("position").name, strict=True))
    return Bars(tuple(float(start) for start in starts), known, named)


def place_of(bars: Bars, seconds: float) -> tuple[str | None, int | None]:
    """Section and bar in it (from 1) of a moment of a song; None where the shape does not tell.

    Examples
    --------
    >>> place_of(Bars((0.0, 2.0, 4.0, 6.0), True, ((0.0, "verse"), (4.0, "chorus"))), 6.5)
    ('chorus', 2)

    """
    if not bars.known or not bars.sections:
        return None, None
    begun = [(start, name) for start, name in bars.sections if start <= seconds + 0.05]  # rounding
    start, name = begun[-1] if begun else bars.sections[0]
    return name, sum(start - 0.05 <= bar <= seconds + 0.05 for bar in bars.seconds) or None  # as above
