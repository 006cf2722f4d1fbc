"""What the reviews say of one's playing: rates of mistakes, what goes with them, and whether that changes.

performances   what was known of each play, and what was found in it
songs          rates by song and by everything else
design         which circumstances the data carry
gee            the regression behind them
effects        layoffs, rooms, positions, dates, with intervals
forecast       mistakes to expect tonight
"""

from tourstats.models.playing.effects import circumstances_used, effects, layoff_curve, ratios
from tourstats.models.playing.forecast import expected
from tourstats.models.playing.songs import rates

__all__ = ["circumstances_used", "effects", "expected", "layoff_curve", "rates", "ratios"]
