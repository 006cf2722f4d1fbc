"""The shows after the next one: the chance that a song is played at least once."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from tourstats.models.estimates import one_thread
from tourstats.models.swaps.draws import expit, logit
from tourstats.models.swaps.forecasting import TIES
from tourstats.models.swaps.hazards import out_cells
from tourstats.models.swaps.history import read
from tourstats.models.swaps.pool import MEMBERS, Step, last_step
from tourstats.tables import finished, no_rows

Floats = NDArray[np.float64]


@finished
@one_thread
def coming(
    plays: pd.DataFrame,
    shows: pd.DataFrame,
    songs: pd.DataFrame,
    next_shows: int = 5,
    next_show: Mapping[str, Any] | None = None,
) -> pd.DataFrame:
    """Chance that each song is played at least once at the coming shows.

    The first of them is as in `forecast`. After that, a song that has not come is out longer from show to show, and
    its chance follows how often songs come back that have been out so long, moved by as much as this song's chance is
    above or below theirs now. Towns, legs, and changes of habit after the first show are not looked into, so far
    ahead it is a rough guide.

    Parameters
    ----------
    plays, shows, songs
        As in the diary.
    next_shows
        How many shows.
    next_show
        The first of them, as in `forecast`.

    Returns
    -------
    DataFrame
        One row per song of the repertoire, likeliest first: song, next (chance at the next show), chance (at least
        once). Empty while there is no set to go by.

    Examples
    --------
    >>> plays = pd.DataFrame({"show_id": [1, 1, 2, 2], "position": [1, 2, 1, 2], "song": ["A", "B", "A", "C"]})
    >>> shows = pd.DataFrame({"show_id": [1, 2], "date": ["2031-03-04", "2031-03-05"]})
    >>> coming(plays, shows, pd.DataFrame({"song": ["A", "B", "C"]}), next_shows=3).round(2)
      song  next  chance
    0    A  0.84    0.86
    1    C  0.83    0.86
    2    B  0.35    0.63

    """
    history = read(plays, shows, songs, next_show or {})
    if len(history.shows) == 1:
        return no_rows(song=str, next=float, chance=float)
    step = last_step(history)
    first = step.chances
    missed = 1 - first
    moved = _moved(step)
    for later in range(1, next_shows):
        missed = missed * (1 - _still_lying(step, moved, later))
    order = np.lexsort((np.random.default_rng(TIES).random(len(first)), missed))
    told = pd.DataFrame({"song": history.songs[step.rows.songs], "next": first, "chance": 1 - missed})
    return told.iloc[order].reset_index(drop=True)


def _moved(step: Step) -> Floats:
    """How far each song's log odds of coming in are from those of all that have been out so long."""
    ledger, rows = step.ledger, step.rows
    apart = logit(np.clip(step.chances, 1e-6, 1 - 1e-6)) - step.members[MEMBERS.index("stay and return")]
    common = (ledger.returns.sum() + 1) / (ledger.return_chances.sum() + 8)
    own = logit(ledger.own_returns()[rows.songs]) - logit(common)
    return np.asarray(np.where(rows.stays, own, apart))


def _still_lying(step: Step, moved: Floats, later: int) -> Floats:
    """Chance of each song so many shows after the next one, if it has not come until then."""
    ledger, rows = step.ledger, step.rows
    out = ledger.out[rows.songs] + later
    cells = np.where(ledger.ever[rows.songs], out_cells(out), step.hazards.cells(ledger, rows.songs))
    return expit(step.hazards.logits(cells) + moved * 0.8**later)
