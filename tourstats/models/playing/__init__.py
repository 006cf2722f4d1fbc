"""What the reviews say of one's playing: rates of mistakes, what goes with them, and whether that changes.

performances      what was known of each play, and what was found in it
seams             mistakes at transitions, against what both songs bring by themselves
song_rates        rates by song and by everything else
design            which circumstances the data carry
within            the regression behind them: each song held against itself
runs              what a run takes away: one quantity, assumed and then learned
effects           layoffs, rooms, positions, dates, with intervals
checks            whether that regression fits, and whether one show carries it
forecast          mistakes to expect tonight
spots             where it goes wrong again, and how much that weighs
record            how good the expected mistakes were, and what came of runs
monitor           show by show against what the set should have brought
grouped           performances as one wide table, and rates by any column of it
contrast          two legs held against each other
second_listening  agreement, and whether one got stricter
chosen            which shows were reviewed, and the trend like with like
"""

from tourstats.models.playing.checks import influence, residual_checks
from tourstats.models.playing.chosen import like_with_like, review_bias
from tourstats.models.playing.contrast import Comparison, PartsProblem, compare
from tourstats.models.playing.effects import (
    as_ratios,
    circumstances_used,
    effects,
    layoff_curve,
    ratios,
    usual_room,
    what_runs_take,
)
from tourstats.models.playing.forecast import expected
from tourstats.models.playing.monitor import control
from tourstats.models.playing.performances import counts as counted
from tourstats.models.playing.performances import faults_only
from tourstats.models.playing.record import by_fifths, expected_record, what_came_of_runs
from tourstats.models.playing.seams import at_edges, at_transitions
from tourstats.models.playing.second_listening import (
    agreement,
    matched,
    sample_again,
    strictness,
    tells,
    without_drift,
)
from tourstats.models.playing.song_rates import rates
from tourstats.models.playing.spots import HEARD_MORE, hard_parts, heard_more, spots, weights
