"""Which songs come in tomorrow: chances, reasons, and how good both have been.

history      tables into arrays, with what was known before each show
ledger       what the past says of each song, brought forward show by show
features     one row of plain numbers per song and show
ridge        a logistic fit with a penalty, made to be fitted again every night
hazards      how often songs stay and return, by how long they have been in or out
sizes        how many songs the next set has
pool         the ways of telling, weighed by how well each did; the walk through the tour
draws        fixed-size draws, exactly; how many songs change on quiet and busy nights
known_set    what a person says of the next set
forecasting  the next show
past_shows   past shows, each as it would have been told on its day
reasons      why
ahead        the shows after the next
rules        simple rules to beat
scores       how to score forecasts
"""

from tourstats.models.swaps.ahead import coming
from tourstats.models.swaps.draws import inclusion, odds_for, yeses
from tourstats.models.swaps.features import table as feature_table
from tourstats.models.swaps.forecasting import Forecast, forecast
from tourstats.models.swaps.known_set import KnownSetProblem
from tourstats.models.swaps.past_shows import Record, backtest, track_record
from tourstats.models.swaps.rules import base_rate, carry_over, decayed_rate, markov
from tourstats.models.swaps.scores import (
    brier,
    by_show,
    calibration,
    compare,
    log_loss,
    recall,
    slope,
)
