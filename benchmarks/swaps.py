"""What the likely swaps cost and how good they are.

usage: python benchmarks/swaps.py [FOLDER]

FOLDER holds simulated leaders: plays.parquet (tour, show_id, position, song), shows.parquet (tour, show_id, date, city,
leg), songs.parquet (tour, song, since_show, new_release) and oracle.parquet (tour, show_id, song, chance). Without it,
the made-up leaders of the tests are used, three tours of each kind. Prints the tables of benchmarks/swaps.md.
"""

from __future__ import annotations

import os
import subprocess
import sys
import time
from pathlib import Path

for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(name, "1")  # before numpy: small matrices lose by threads

import numpy as np  # noqa: E402  # as above
import pandas as pd  # noqa: E402  # as above

ROOT = Path(__file__).parents[1]
sys.path.insert(0, str(ROOT))

from sklearn.ensemble import HistGradientBoostingClassifier  # noqa: E402  # as above

from tests.models.swaps import leaders  # noqa: E402  # as above
from tourstats.models import swaps  # noqa: E402  # as above
from tourstats.models.swaps import rules  # noqa: E402  # as above

FROM, EVERY = 8, 4
SEED = 7


def own_tours():
    """Three made-up tours of each kind of leader."""
    for kind, make in leaders.KINDS.items():
        for seed in (101, 102, 103):
            tour = make(seed=seed)
            truth = pd.DataFrame(tour.chances, index=tour.shows.show_id, columns=tour.songs.song)
            truth = truth.rename_axis(columns="song").reset_index().melt("show_id", value_name="truth")
            yield kind, (tour.plays, tour.shows, tour.songs), truth


def tours_in(folder):
    """The tours of a folder."""
    plays, shows, songs, truth = (
        pd.read_parquet(Path(folder) / f"{name}.parquet") for name in ("plays", "shows", "songs", "oracle")
    )
    for tour in shows.tour.unique():
        mine = [table[table.tour == tour].drop(columns="tour") for table in (plays, shows, songs, truth)]
        dates = mine[1].set_index("show_id").date
        repertoire = mine[2].assign(since=mine[2].since_show.map(dates))
        yield tour.rsplit("-", 1)[0], (mine[0], mine[1], repertoire), mine[3].rename(columns={"chance": "truth"})


def found(songs, column, tie):
    """Of the songs that came in, the share among the ten likeliest outside the last set."""
    outside = songs[~songs.in_last_set].assign(tie=tie).sort_values([column, "tie"], ascending=[False, True])
    first = outside.groupby("show_id", sort=False).head(10)
    return first.played.sum() / max(outside.played.sum(), 1)


def quality(tours):
    """Regret, recall, slope, coverage, and the best simple rule, by kind of leader."""
    rows = []
    for kind, tables, truth in tours:
        record = swaps.track_record(*tables)
        songs = record.songs.merge(truth, on=["show_id", "song"])
        loss = swaps.by_show(songs).log_loss.mean()
        best = swaps.by_show(songs.assign(chance=songs.truth)).log_loss.mean()
        simple = {name: swaps.by_show(rule(*tables)).log_loss.mean() for name, rule in rules.ALL.items()}
        rng = np.random.default_rng(SEED)
        tie = rng.random((~songs.in_last_set).sum())
        reach = found(songs, "truth", tie)
        place = record.counts.fewer + rng.random(len(record.counts)) * record.counts.same
        open_ = songs[songs.chance.between(0.02, 0.98)]
        rows.append(
            {
                "kind": kind,
                "log loss": loss,
                "regret": loss - best,
                "recall, of the best": found(songs, "chance", tie) / reach if reach else np.nan,
                "slope": swaps.slope(songs.chance, songs.played),
                "swaps in 80 %": place.between(0.1, 0.9).mean(),
                "chance in 80 %": ((open_.low <= open_.truth) & (open_.truth <= open_.high)).mean(),
                "returns in range": record.returns.out.between(record.returns.low, record.returns.high).mean(),
                "best rule": min(simple.values()),
                "less best rule": loss - min(simple.values()),
            }
        )
    table = pd.DataFrame(rows)
    made = table.groupby("kind").mean()
    made["worst tour less best rule"] = table.groupby("kind")["less best rule"].max()
    return made


def boosted(tables):
    """Gradient boosting on the same features, fitted anew every few shows."""
    rows = swaps.feature_table(*tables)
    names = [name for name in rows.columns if name not in ("show_id", "song", "played", "level")]
    order = {show: k for k, show in enumerate(dict.fromkeys(rows.show_id), start=1)}
    at = rows.show_id.map(order).to_numpy()
    x, y = rows[names].astype(float).to_numpy(), rows.played.to_numpy(dtype=bool)
    chances, fits, spent, model = [], 0, 0.0, None
    for t in range(FROM, at.max() + 1):
        if (t - FROM) % EVERY == 0:
            begun = time.perf_counter()
            model = HistGradientBoostingClassifier(max_iter=60, learning_rate=0.06, max_leaf_nodes=8, random_state=SEED)
            model.fit(x[at < t], y[at < t])
            spent += time.perf_counter() - begun
            fits += 1
        now = at == t
        chances.append(rows.loc[now, ["show_id", "song", "played"]].assign(chance=model.predict_proba(x[now])[:, 1]))
    return swaps.by_show(pd.concat(chances)).log_loss.mean(), spent / fits


def against_boosting(tours):
    """Log loss and time of a refit, the pool against gradient boosting, on the first tour of each kind."""
    rows = {}
    for kind, tables, _ in tours:
        if kind in rows:
            continue
        begun = time.perf_counter()
        pooled = swaps.by_show(swaps.backtest(*tables)).log_loss.mean()
        ours = (time.perf_counter() - begun) / len(tables[1])
        loss, theirs = boosted(tables)
        rows[kind] = {"pool": pooled, "boosting": loss, "pool, ms": 1000 * ours, "boosting, ms": 1000 * theirs}
    return pd.DataFrame(rows).T


def times():
    """Seconds of a rolling backtest and of one forecast, and of the command in a fresh process."""
    rows = []
    for shows, songs in ((100, 130), (200, 150)):
        tour = leaders.by_town(songs=songs, shows=shows, size=22)
        tables = tour.plays, tour.shows, tour.songs
        begun = time.perf_counter()
        swaps.backtest(*tables)
        middle = time.perf_counter()
        swaps.forecast(*tables, {"city": "town 3"})
        rows.append(
            (f"{shows} x {songs}", middle - begun, time.perf_counter() - middle, (middle - begun) / shows * 1000)
        )
    command = [sys.executable, "-m", "tourstats.cli", "likely"]
    environment = os.environ | {"TOURSTATS_DIARY": "demo"}
    subprocess.run(command, capture_output=True, env=environment, cwd=ROOT, check=True)  # noqa: S603  # lays the demo out
    begun = time.perf_counter()
    subprocess.run(command, capture_output=True, env=environment, cwd=ROOT, check=True)  # noqa: S603  # our own command
    print(f"`tourstats likely` on the demo tour, process included: {time.perf_counter() - begun:.1f} s\n")
    return pd.DataFrame(rows, columns=["shows x songs", "backtest, s", "forecast, s", "a show, ms"]).set_index(
        "shows x songs"
    )


def printed(title, table, digits=4):
    """A table as Markdown."""
    print(f"## {title}\n\n| {table.index.name or ''} | {' | '.join(table.columns)} |")
    print(f"|{'---|' * (len(table.columns) + 1)}")
    for name, row in table.iterrows():
        print(f"| {name} | {' | '.join(f'{value:.{digits}f}' for value in row)} |")
    print()


if __name__ == "__main__":
    chosen = list(tours_in(sys.argv[1])) if len(sys.argv) > 1 else list(own_tours())
    printed("Time", times(), 2)
    printed("Quality", quality(chosen))
    printed("Against gradient boosting on the same features, one tour of each kind", against_boosting(chosen), 3)
