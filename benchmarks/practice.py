"""What a practice plan avoids on nights whose truth is known, against simple rules; what rests cost; how long it takes.

    python benchmarks/practice.py [nights]

prints the tables of practice.md.

Truth: sixty songs, each with its own chance to stay in the set and to come back, and its own rate of mistakes (gamma,
mean 0.5 a play), times (1 + shows missed) to the power of 0.3. A history of 45 shows is drawn, two shows in three are
reviewed. The planner sees the sets, the counted mistakes and the lengths: its chances are shrunken shares of stays and
returns, its rates shrunken counts, and it takes the power to be 0.25. "Perfect knowledge" is the same plan made from
the true chances, rates and, where they differ by song, what a run really takes away.
"""

import sys
import time

import numpy as np
import pandas as pd

from tourstats.models import practice
from tourstats.models.estimates import gamma_poisson
from tourstats.models.practice import choosing

SONGS, SHOWS, SETUP, PLAYING = 60, 45, 0.5, 50.0
SPLIT = 0.4  # length of a hard section as a share of the song, as the plan takes it


def night(rng, shows=SHOWS, reviewed=2 / 3):
    """One tour up to last night: what is true of the next show, and what the planner can see."""
    stay, back = rng.beta(4, 3, SONGS), rng.beta(1.2, 4, SONGS)
    rate = rng.gamma(0.8, 0.5 / 0.8, SONGS)
    minutes = np.round(rng.uniform(150, 420, SONGS)) / 60
    now, missed = rng.random(SONGS) < 1 / 3, np.full(SONGS, 5)
    seen = {name: np.zeros(SONGS) for name in ("stays", "ins", "returns", "outs", "mistakes", "exposure")}
    for _ in range(shows):
        then = np.where(now, rng.random(SONGS) < stay, rng.random(SONGS) < back)
        seen["stays"] += now & then
        seen["ins"] += now
        seen["returns"] += ~now & then
        seen["outs"] += ~now
        if rng.random() < reviewed:
            seen["mistakes"] += np.where(then, rng.poisson(rate * (1 + missed) ** 0.3), 0)
            seen["exposure"] += np.where(then, (1 + missed) ** 0.25, 0)
        missed = np.where(then, 0, missed + 1)
        now = then
    truth = pd.DataFrame({"chance": np.where(now, stay, back), "expected": rate * (1 + missed) ** 0.3})
    known = pd.DataFrame({"chance": chances(seen, now), "expected": rates(seen) * (1 + missed) ** 0.25})
    titles = [f"Song {at}" for at in range(SONGS)]
    for table in (truth, known):
        table.insert(0, "song", titles)
        table["minutes"] = minutes
    return truth, known, now, missed


def chances(seen, now):
    """Shares of stays and of returns, each song's pulled to that of all songs by the weight of eight shows."""

    def shrunken(yes, of):
        return (yes + 8 * (yes.sum() + 0.5) / (of.sum() + 1)) / (of + 8)

    return np.where(now, shrunken(seen["stays"], seen["ins"]), shrunken(seen["returns"], seen["outs"]))


def rates(seen):
    """Mistakes per performance without a layoff, shrunken; a song that was never reviewed gets the mean."""
    reviewed = seen["exposure"] > 0
    fitted = gamma_poisson(seen["mistakes"][reviewed], seen["exposure"][reviewed])
    rate = np.full(SONGS, fitted.average)
    rate[reviewed] = fitted.mean(seen["mistakes"][reviewed], seen["exposure"][reviewed])
    return rate


def avoided(steps, truth, share):
    """What the steps really avoid."""
    worth = (truth.chance * truth.expected * share).set_axis(truth.song)
    run = steps[steps.what.isin(practice.WAYS)]
    return float((run.song.map(worth) * run.what.map(practice.TAKES)).sum())


def in_order(known, order):
    """Whole runs in an order, whatever still fits the fifty minutes that can be played in an hour."""
    left, rows = PLAYING + SETUP, []
    for at in order:
        if known.minutes[at] + SETUP <= left:
            left -= known.minutes[at] + SETUP
            rows.append({"what": "whole run", "song": known.song[at]})
    return pd.DataFrame(rows, columns=["what", "song"])


def greedy(known):
    """The most avoided by the minute first, whole or hard section, whatever still fits; a song once."""
    worth = known.chance * known.expected
    ways = {"whole run": known.minutes, "hard section": SPLIT * known.minutes}
    options = [
        (worth[at] * practice.TAKES[way] / (length[at] + SETUP), at, way, length[at] + SETUP)
        for way, length in ways.items()
        for at in known.index
    ]
    left, done, rows = PLAYING + SETUP, set(), []
    for _, at, way, length in sorted(options, reverse=True):
        if at not in done and length <= left:
            left -= length
            done.add(at)
            rows.append({"what": way, "song": known.song[at]})
    return pd.DataFrame(rows, columns=["what", "song"])


def rules(known, now, missed, rng):
    """Steps by each rule, all within the same hour."""
    lot = rng.permutation(SONGS)
    return {
        "the plan": practice.plan(known, 60),
        "greedy: most avoided by the minute": greedy(known),
        "most likely first": in_order(known, known.chance.sort_values(ascending=False).index),
        "most mistakes first": in_order(known, known.expected.sort_values(ascending=False).index),
        "longest unplayed first": in_order(known, lot[np.argsort(-missed[lot], kind="stable")]),
        "last night's set again": in_order(known, lot[now[lot]]),
        "any songs": in_order(known, lot),
    }


def against_rules(nights, seed, spread=0.0, **history):
    """Mean share of what perfect knowledge avoids, by rule, with a bootstrap interval over nights."""
    rng = np.random.default_rng(seed)
    rows = []
    for _ in range(nights):
        truth, known, now, missed = night(rng, **history)
        share = rng.uniform(1 - spread, 1 + spread, SONGS)
        best = avoided(practice.plan(truth.assign(expected=truth.expected * share), 60), truth, share)
        rows.append(
            {rule: avoided(steps, truth, share) / best for rule, steps in rules(known, now, missed, rng).items()}
        )
    return pd.DataFrame(rows)


def interval(values, rng):
    """95 % bootstrap interval of the mean."""
    means = rng.choice(values, (2000, len(values))).mean(axis=1)
    return np.quantile(means, [0.025, 0.975])


def known_set(nights, seed, minutes):
    """Mean share of all expected mistakes that the plan avoids when the set is on the table."""
    rng = np.random.default_rng(seed)
    shares = []
    for _ in range(nights):
        truth, known, *_ = night(rng)
        tonight = rng.random(SONGS) < truth.chance
        truth, known = (table[tonight].assign(chance=1.0).reset_index(drop=True) for table in (truth, known))
        steps = practice.plan(known, minutes)
        shares.append(avoided(steps, truth, 1.0) / truth.expected.sum())
    return float(np.mean(shares))


def long_night(rng, songs, pairs):
    """Songs of any length, and transitions: those of one set in order, or any."""
    titles = [f"Song {at}" for at in range(songs)]
    table = pd.DataFrame(
        {"song": titles, "minutes": np.round(rng.uniform(150, 420, songs)) / 60, "expected": rng.gamma(1, 0.6, songs)}
    )
    if pairs == songs - 1:
        return table, pd.DataFrame({"song": titles[:-1], "next_song": titles[1:]})
    table["chance"] = rng.beta(0.5, 2, songs)
    places = rng.permutation([(a, b) for a in range(songs) for b in range(songs) if a != b])[:pairs]
    return table, pd.DataFrame({"song": [titles[a] for a, _ in places], "next_song": [titles[b] for _, b in places]})


def timed(number, seed, songs, pairs, minutes):
    """Median and longest time of a plan, and how far the rests keep it below what could be avoided without them."""
    rng = np.random.default_rng(seed)
    seconds, lost = [], []
    solve, bounds = choosing._taken, []  # noqa: SLF001  # the first choice is the bound: playing cut anywhere

    def kept(items, *limits):
        taken = solve(items, *limits)
        bounds.append(sum(items[place].value for place in taken))
        return taken

    choosing._taken = kept  # noqa: SLF001  # to see the programme that is solved
    try:
        for _ in range(number):
            table, transitions = long_night(rng, songs, pairs)
            bounds.clear()
            begun = time.perf_counter()
            steps = practice.plan(table, minutes, transitions=transitions)
            seconds.append(time.perf_counter() - begun)
            lost.append(max(0.0, 1 - steps.avoids.sum() / bounds[0]))
    finally:
        choosing._taken = solve  # noqa: SLF001  # put back
    return np.median(seconds), max(seconds), np.mean(np.array(lost) < 1e-9), np.mean(lost), max(lost)


def main():
    """Print every table."""
    nights = int(sys.argv[1]) if len(sys.argv) > 1 else 300
    practice.plan(pd.DataFrame({"song": ["Ferry"]}), 10)  # the import of the solver is not the plan's
    rng = np.random.default_rng(0)
    tables = (
        against_rules(nights, 1),
        against_rules(nights, 2, spread=0.4),
        against_rules(nights, 5, spread=0.4, shows=10, reviewed=1 / 3),
    )
    print(
        f"Share of what perfect knowledge avoids, one hour, set not known, {nights} nights, 95 % interval of the mean\n"
    )
    print("| rule | a run helps all songs alike | 0.6 to 1.4 times as much | also 10 shows only, one in 3 reviewed |")
    print("|---|---|---|---|")
    for rule in tables[0]:
        cells = []
        for table in tables:
            low, high = interval(table[rule].to_numpy(), rng)
            cells.append(f"{table[rule].mean():.1%} ({low:.1%} to {high:.1%})")
        print(f"| {rule} | {' | '.join(cells)} |")
    print("\nSet known: share of all expected mistakes that the plan avoids\n\n| minutes | share |\n|---|---|")
    for minutes in (35, 60, 110):
        print(f"| {minutes} | {known_set(nights, 3, minutes):.1%} |")
    print("\nTime, and what rests cost, 40 nights each\n")
    print("| songs | transitions | minutes | median s | longest s | no loss by rests | mean loss | largest loss |")
    print("|---|---|---|---|---|---|---|---|")
    for songs, pairs, minutes in (
        (24, 23, 60),
        (24, 23, 110),
        (30, 29, 170),
        (60, 0, 60),
        (150, 0, 110),
        (150, 200, 60),
        (150, 200, 110),
    ):
        middle, longest, none, mean, most = timed(40, 4, songs, pairs, minutes)
        print(
            f"| {songs} | {pairs} | {minutes} | {middle:.3f} | {longest:.3f} | {none:.0%} | {mean:.2%} | {most:.2%} |"
        )


if __name__ == "__main__":
    main()
