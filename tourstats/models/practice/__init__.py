"""What to run in the minutes there are, and what to learn next: mistakes avoided by the minute, chosen exactly.

inputs       songs and transitions with what a run of each is worth
choosing     those that fit into the minutes, exactly
running      the plan: order, breaks, a day off
learning     what to learn next, and when to run it again
new_to_band  songs that are new to me, by a day
"""

from tourstats.models.estimates import HARD_PART
from tourstats.models.practice.choosing import chosen
from tourstats.models.practice.inputs import TAKES, WAYS, candidates
from tourstats.models.practice.learning import STEPS, learn_next, suggest_gap
from tourstats.models.practice.new_to_band import learning_order, mine, my_steps, took
from tourstats.models.practice.running import assumed, left_out, plan, why_it_ends
