"""Practice plans on nights whose truth is known, small; benchmarks/practice.py has the full size."""

import numpy as np
import pandas as pd

from tourstats.models import practice
from tourstats.models.estimates import gamma_poisson

SONGS, SHOWS, PLAYING = 60, 40, 50.0


def night(rng):
    """A leader who keeps and fetches each song by its own chance; a player with a rate of mistakes for each.

    Truth: chance of the next show, and mistakes per performance. Seen: sets, and the mistakes of two shows in three.
    Temptation: the likeliest songs are well played, the worst are seldom played, the longest out seldom come back.
    """
    stay, back, rate = rng.beta(4, 3, SONGS), rng.beta(1.2, 4, SONGS), rng.gamma(0.8, 0.6, SONGS)
    now = rng.random(SONGS) < 1 / 3
    kept, came, out, found, reviewed, missed = np.zeros((6, SONGS))
    for _ in range(SHOWS):
        then = rng.random(SONGS) < np.where(now, stay, back)
        kept, came, out = kept + (now & then), came + (~now & then), out + ~now
        heard = then & (rng.random() < 2 / 3)
        found, reviewed = found + heard * rng.poisson(rate), reviewed + heard
        missed, now = np.where(then, 0, missed + 1), then
    shrunken_stay = (kept + 8 * kept.sum() / (SONGS * SHOWS - out.sum())) / (SHOWS - out + 8)
    shrunken_back = (came + 8 * came.sum() / out.sum()) / (out + 8)
    fitted = gamma_poisson(found, np.maximum(reviewed, 1e-3))
    songs = pd.DataFrame(
        {"song": [f"Song {at}" for at in range(SONGS)], "minutes": rng.uniform(2.5, 7, SONGS).round(2)}
    )
    truth = songs.assign(chance=np.where(now, stay, back), expected=rate)
    seen = songs.assign(
        chance=np.where(now, shrunken_stay, shrunken_back),
        expected=fitted.mean(found, np.maximum(reviewed, 1e-3)),
    )
    return truth, seen, missed


def avoided(steps, truth):
    """What steps avoid by the truth."""
    worth = (truth.chance * truth.expected).set_axis(truth.song)
    return (steps.song.map(worth) * steps.what.map(practice.TAKES)).sum()


def whole_runs(seen, by):
    """Whole runs, the greatest first, whatever still fits."""
    left, rows = PLAYING + 0.5, []
    for at in np.argsort(-np.asarray(by), kind="stable"):
        if seen.minutes[at] + 0.5 <= left:
            left -= seen.minutes[at] + 0.5
            rows.append(("whole run", seen.song[at]))
    return pd.DataFrame(rows, columns=["what", "song"])


def test_a_plan_avoids_most_of_what_perfect_knowledge_could():
    """
    One hour, tomorrow's set not known: at least 70 %, and more than any simple rule.
    """
    rng = np.random.default_rng(11)
    shares = []
    for _ in range(12):
        truth, seen, missed = night(rng)
        best = avoided(practice.plan(truth, 60), truth)
        steps = {
            "plan": practice.plan(seen, 60),
            "most avoided": whole_runs(seen, seen.chance * seen.expected),
            "by the minute": whole_runs(seen, seen.chance * seen.expected / seen.minutes),
            "most likely": whole_runs(seen, seen.chance),
            "most mistakes": whole_runs(seen, seen.expected),
            "longest unplayed": whole_runs(seen, missed),
            "any": whole_runs(seen, rng.random(SONGS)),
        }
        shares.append({rule: avoided(some, truth) / best for rule, some in steps.items()})
    mean = pd.DataFrame(shares).mean()

    assert mean["plan"] >= 0.7
    assert ["plan"] == mean[mean >= mean.drop("plan").max() + 0.02].index.tolist()
    assert pd.DataFrame(shares).max().max() <= 1 + 1e-9
