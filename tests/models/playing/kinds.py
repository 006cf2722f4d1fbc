"""Tours whose mistakes have kinds and causes by lot: what a leg review names of them is not there."""

import numpy as np
import pandas as pd

from tests.models.playing.as_tour import as_tour
from tourstats.models.playing import compare

KINDS, CAUSES = ("entry", "tempo", "count", "sound", "other"), ("playing", "sound", "feel")


def with_kinds(made, seed, times=1.0):
    """Give each mistake a kind and a cause by lot; on the later leg there are `times` as many "entry"."""
    random = np.random.default_rng([seed, 5])
    found = made.mistakes.assign(
        kind=random.choice(KINDS, len(made.mistakes), p=[0.3, 0.25, 0.2, 0.15, 0.1]),
        cause=random.choice(CAUSES, len(made.mistakes), p=[0.5, 0.2, 0.3]),
    )
    later = found.show_id.map(made.shows.set_index("show_id").leg) == made.shows.leg.iloc[-1]
    more = found[later & (found.kind == "entry")]
    again = more.loc[more.index.repeat(random.poisson(times - 1, len(more)))] if times > 1 else more.head(0)
    return pd.concat([found, again], ignore_index=True)


def harder(made, found):
    """On the later leg only the harder half of the songs is reviewed."""
    later = made.shows.show_id[made.shows.leg == made.shows.leg.iloc[-1]]
    easy = made.levels.index[made.levels < made.levels.median()]
    gone = [frame.show_id.isin(later) & frame.song.isin(easy) for frame in (made.reviews, found)]
    return made.reviews[~gone[0]], found[~gone[1]]


def named(made, seed, *, hard=False, times=1.0):
    """Kinds and causes, and songs, that the review of the last leg names."""
    found = with_kinds(made, seed, times)
    reviews, found = harder(made, found) if hard else (made.reviews, found)
    legs = tuple(made.shows.leg.unique())
    rows = compare(as_tour(made.plays, made.shows, reviews, found), legs=legs).ratios
    rows = rows[rows.changed & (rows.about != "all")]
    return rows[rows.about != "song"].which.tolist(), rows[rows.about == "song"].which.tolist()
