"""Whether the numbers agree with each other and with what happens: tours whose truth is known, by two simulators.

    nice python -m benchmarks.honest [TOURS]

prints the tables of benchmarks/honest.md that are about runs, expected mistakes and the plan. 40 tours take about
fifteen minutes on a quiet core.
"""

import sys

import numpy as np
import pandas as pd

from benchmarks.practice import night
from tests.models.playing import afternoons, rehearsed
from tests.models.playing.as_tour import as_tour
from tourstats.demo import process as demo_process
from tourstats.models import playing, practice, tonight
from tourstats.tour import Tour

FIRST_SEED = 70_000
KINDS = (
    (rehearsed, "risky", "plain"),
    (rehearsed, "worried", "uneven"),
    (rehearsed, "fair", "partial"),
    (rehearsed, "mixed", "break"),
    (afternoons, "risky", "plain"),
    (afternoons, "worried", "partial"),
    (afternoons, "mixed", "uneven"),
    (afternoons, "fair", "break"),
)
NAMES = {rehearsed: "first simulator", afternoons: "second simulator"}


def tables(made):
    """What the playing models take, in their order."""
    return made.plays, made.shows, made.reviews, made.mistakes, made.rehearsals


def truth_of(simulator):
    """Logarithms of what is true."""
    logs = {way: (take if simulator is rehearsed else np.log(take)) for way, take in simulator.RUN.items()}
    return {f"run: {way}": value for way, value in logs.items()} | {"layoff": simulator.TRUTH["layoff"]}


def of_runs(tours):
    """Bias and coverage of what a run takes away, and how wide its interval is in percentage points either way."""
    rows = []
    for simulator, who, kind in KINDS:
        seeds = range(FIRST_SEED, FIRST_SEED + tours)
        parts = [playing.effects(*tables(simulator.tour(seed, who, kind))) for seed in seeds]
        found, truth = pd.concat(parts), truth_of(simulator)
        for name, part in found[found.effect.isin(list(truth))].groupby("effect"):
            true, ends = truth[name], np.exp(part[["low", "high"]])
            held = ((part.low <= true) & (true <= part.high)).mean()
            wide = 50 * (ends.high - ends.low)
            bias = part.log_ratio.mean() - true
            rows.append((NAMES[simulator], who, kind, name, len(part), true, bias, held, wide.mean(), wide.max()))
    columns = ["simulator", "who runs", "tours are", "effect", "told in", "truth", "bias", "held"]
    return pd.DataFrame(rows, columns=[*columns, "± points, mean", "± points, most"])


def of_expected(tours):
    """Calibration of expected mistakes and of chances by fifths, and what the range of a set holds, ends by lot."""
    rows, every = [], []
    for simulator, who, kind in KINDS:
        records = []
        for seed in range(FIRST_SEED, FIRST_SEED + tours):
            made = simulator.tour(seed, who, kind)
            records.append(playing.expected_record(as_tour(*tables(made))).assign(tour=seed))
        record = pd.concat(records, ignore_index=True)
        every.append(record)
        rows.append((NAMES[simulator], who, kind, *_calibrated(record)))
        print(rows[-1], file=sys.stderr, flush=True)
    rows.append(("all", "", "", *_calibrated(pd.concat(every, ignore_index=True))))
    columns = ["simulator", "who runs", "tours are", "expected/found", "by fifths", "chance/found by fifths"]
    return pd.DataFrame(rows, columns=[*columns, "range of the set holds, by lot"])


def of_the_demo(tours):
    """The same in the demo's process, each performance against its true mean, with the error of as many tours."""
    rows = []
    for seed in range(100, 100 + tours):
        made = demo_process.tour(seed)
        true, days = made.truth, {show.show_id: (show.date - made.shows[0].date).days for show in made.shows}
        plays = made.plays()
        ear = true.found_first + (true.found_last - true.found_first) * plays.show_id.map(days) / max(days.values())
        shows = [{name: getattr(show, name) for name in ("show_id", "date", "number", "room")} for show in made.played]
        found = ("show_id", "song", "kind", "severity", "cause", "listening")
        tour = Tour.of(
            shows=pd.DataFrame(shows), plays=plays[["show_id", "position", "song"]],
            songs=pd.DataFrame({"song": [song.title for song in made.songs]}),
            rehearsals=pd.DataFrame(made.playing.rehearsals), reviews=pd.DataFrame(made.playing.reviews),
            mistakes=pd.DataFrame(made.playing.mistakes)[list(found)],
        )  # fmt: skip
        truth = plays.assign(mean=np.exp(plays.log_rate) * ear)[["show_id", "song", "mean"]]
        told = playing.expected_record(tour).merge(truth, on=["show_id", "song"])
        fifth = (told.expected.rank(method="first").to_numpy() - 1) * 5 // len(told)
        sums = told.groupby(fifth)[["expected", "mean"]].sum()
        rows.append(sums.expected / sums["mean"])
        print(seed, rows[-1].round(2).tolist(), file=sys.stderr, flush=True)
    table = pd.DataFrame(rows)
    return pd.DataFrame({"mean of the tours": table.mean(), "error": table.sem(), "of one tour": table.std()}).round(3)


def _calibrated(record):
    table = playing.by_fifths(record)
    sets = record[record.whole.astype(bool)].groupby(["tour", "show_id"])
    night = sets.agg(found=("mistakes", "sum"), low=("range_low", "first"), high=("range_high", "first"))
    inside = (night.found > night.low) & (night.found < night.high)
    on = (night.found == night.low) | (night.found == night.high)
    words = [
        ", ".join(f"{value:.2f}" for value in part)
        for part in (table.expected / table.found, table.chance / table.wrong)
    ]
    held = (inside + 0.5 * on).mean() if len(night) else float("nan")
    return record.expected.sum() / record.mistakes.sum(), *words, held


def of_priors(nights=40):
    """Share of the steps of a plan that are others when a whole run is taken to take away 20 % or 80 % and not 33 %."""
    rows = []
    rng = np.random.default_rng(3)
    plans = {take: [] for take in (0.2, practice.TAKES["whole run"], 0.8)}
    for _ in range(nights):
        known = night(rng)[1]
        for take, steps in plans.items():
            takes = {"whole run": take, "hard section": 0.7 * take}
            made = practice.plan(known, 60, takes=takes)
            steps.append(set(zip(made.what, made.song, strict=True)) - {("rest", None)})
    usual = plans[practice.TAKES["whole run"]]
    for take in (0.2, 0.8):
        changed = [len(one - other) / len(one) for one, other in zip(plans[take], usual, strict=True)]
        rows.append((f"{take:.0%}", float(np.mean(changed))))
    both = [len(one - other) / len(one) for one, other in zip(plans[0.2], plans[0.8], strict=True)]
    rows.append(("20% against 80%", float(np.mean(both))))
    return pd.DataFrame(rows, columns=["a whole run is taken to take away", "steps that change"])


def of_afternoons(tours=8):
    """Six runs of the plan logged and the plan asked again, three times: what was said to be avoided, and what was."""
    rows = []
    for simulator, who, kind in KINDS[:6:2]:
        for seed in range(FIRST_SEED, FIRST_SEED + tours):
            made = simulator.tour(seed, who, kind)
            last = made.shows.date.max()
            show = made.shows.show_id[made.shows.date == last].iloc[0]
            tour = Tour.of(
                songs=made.songs, shows=made.shows, plays=made.plays, planned=made.plays[made.plays.show_id == show],
                reviews=made.reviews, mistakes=made.mistakes, rehearsals=made.rehearsals[made.rehearsals.date < last],
            )  # fmt: skip
            before, done, said, fell = None, set(), 0.0, 0.0
            repeated = 0
            for _ in range(3):
                brief = tonight.brief(tour, show, minutes=60)
                now = float(brief.total.expected[0])
                fell += 0.0 if before is None else before - now
                runs = brief.plan[brief.plan.what == "whole run"].head(6)
                repeated += len(set(runs.song) & done)
                done |= set(runs.song)
                said += float(runs.avoids.sum()) if before is None or len(runs) else 0.0
                before = now
                logged = pd.DataFrame({"date": last, "song": runs.song, "way": "kit"})
                tour = tour.replaced(rehearsals=pd.concat([tour.rehearsals, logged], ignore_index=True))
            fell += before - float(tonight.brief(tour, show, minutes=60).total.expected[0])
            rows.append((NAMES[simulator], who, kind, said, fell, repeated))
    table = pd.DataFrame(
        rows, columns=["simulator", "who runs", "tours are", "said to be avoided", "fell by", "repeated"]
    )
    return table.groupby(["simulator", "who runs", "tours are"], as_index=False, sort=False).mean()


def as_text(table):
    """A table in Markdown."""
    lines = [list(table.columns), ["---"] * table.shape[1]]
    lines += [
        [f"{value:.3f}" if isinstance(value, float) else str(value) for value in row] for row in table.to_numpy(object)
    ]
    return "\n".join("| " + " | ".join(line) + " |" for line in lines)


def main():
    """Print everything."""
    tours = int(sys.argv[1]) if len(sys.argv) > 1 else 40
    for part in (of_priors, of_afternoons):
        print(as_text(part()), flush=True)
        print()
    for part in (of_runs, of_expected, of_the_demo):
        print(as_text(part(tours)), flush=True)
        print()


if __name__ == "__main__":
    main()
