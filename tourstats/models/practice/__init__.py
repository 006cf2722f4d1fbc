"""What to run in the minutes there are, and what to learn next: mistakes avoided by the minute, chosen exactly."""

from tourstats.models.practice.choosing import chosen
from tourstats.models.practice.inputs import TAKES, WAYS
from tourstats.models.practice.running import assumed, in_short, left_out, plan

__all__ = ["TAKES", "WAYS", "assumed", "chosen", "in_short", "left_out", "plan"]
