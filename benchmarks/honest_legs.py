"""Whether a leg review names a change that is not there: share of tours without change in which anything is named.

python benchmarks/honest_legs.py [tours]
"""

import sys

import numpy as np

from tests.models.playing import apart, simulated
from tests.models.playing.kinds import named


def main(tours):
    """Print a row a kind of tour."""
    without = {"date": 0.0}
    print("tour | kinds or causes named | songs named | tours")
    for words, simulator, scenario, hard in (
        ("plain", simulated, "plain", False),
        ("nights vary", simulated, "uneven", False),
        ("harder songs on leg two", simulated, "plain", True),
        ("apart, nights vary", apart, "uneven", False),
        ("apart, harder songs on leg two", apart, "plain", True),
    ):
        told = [
            named(simulator.tour(seed, scenario, truth={**simulator.TRUTH, **without}), seed, hard=hard)
            for seed in range(tours)
        ]
        print(
            f"{words} | {np.mean([bool(k) for k, _ in told]):.3f} | {np.mean([bool(s) for _, s in told]):.3f} | {tours}"
        )
    told = [
        named(simulated.tour(seed, truth={**simulated.TRUTH, **without}), seed, times=2.5)[0] for seed in range(tours)
    ]
    print(f"one kind x 2.5: found {np.mean(['entry' in kinds for kinds in told]):.2f}")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 200)
