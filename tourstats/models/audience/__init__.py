"""Repeat audience: what people who travel with the tour have heard, and how much of a night is new to them.

Three kinds of data, each enough for an answer: sets alone, counts ("of 2,100 tonight, about 300 were here
yesterday"), and one row per person and show. Nothing here speaks of a single person.

From files of any length the same is counted by `tourstats.scale.counting`; its `from_scans` is found here too.

from_sets    from sets alone: songs heard after k shows, songs still to come, overlap of shows
from_counts  the same, weighted by how many were counted
from_people  the same, from who was where
coming_back  how many will come again
evening      what the show day and a draft set need
bits         sets of songs and shows as bits, counted without joins
small        what may be shown of small groups
"""

from importlib import import_module
from typing import Any

from tourstats.models.audience.coming_back import Returning, returning
from tourstats.models.audience.evening import newest_for, tonight
from tourstats.models.audience.from_counts import freshness_from_counts, returning_shares
from tourstats.models.audience.from_people import by_attendance, freshness, heard_most
from tourstats.models.audience.from_sets import (
    after_last,
    expected_heard,
    shared,
    shows_to_hear,
    unheard,
)
from tourstats.models.audience.small import SMALLEST


def __getattr__(name: str) -> Any:  # noqa: ANN401  # whatever stands under the name
    """Find what counts scans by the name it is called by here, and load it only then."""
    if name in ("Scans", "from_scans"):
        return getattr(import_module("tourstats.scale.counting"), name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
