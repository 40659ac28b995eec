"""How long 100,000 ranges take, beside a reference library in the same run. Say: make bench

Prints the ratio, because seconds differ between machines. The two do not compute the same thing: ours widens the
range by what multiplies the rate (bees not counted, method's recovery); the exact binomial range of the reference
(statsmodels, proportion_confint, method "beta": Clopper and Pearson) knows the mites' chance only.
"""

import statistics
import sys
import time
from collections.abc import Callable
from typing import Any

import numpy as np
from statsmodels.stats.proportion import proportion_confint

from counts.estimate import jar_c2, rate_interval
from counts.samples import BeesBy, Method

RANGES = 100_000
ROUNDS = 5


def seconds(call: Callable[[], Any]) -> float:
    """Median time of one call; the first is not counted."""
    call()
    taken = []
    for _ in range(ROUNDS):
        before = time.perf_counter()
        call()
        taken.append(time.perf_counter() - before)
    return statistics.median(taken)


def main() -> None:
    """Print both times and their ratio."""
    random = np.random.default_rng(20260503)
    bees = random.integers(150, 600, RANGES)
    mites = random.binomial(bees, random.beta(1, 40, RANGES))
    spread = jar_c2(Method.ALCOHOL_WASH, BeesBy.VOLUME)

    ours = seconds(lambda: rate_interval(mites, bees, spread))
    theirs = seconds(lambda: proportion_confint(mites, bees, alpha=0.05, method="beta"))

    sys.stdout.write(
        f"{RANGES:,} ranges of a wash, {int((mites == 0).sum()):,} of them without a mite; median of {ROUNDS} rounds\n"
        f"  counts.estimate.rate_interval         {1000 * ours:8.1f} ms\n"
        f"  statsmodels proportion_confint, beta  {1000 * theirs:8.1f} ms\n"
        f"  ratio                                 {ours / theirs:8.2f}\n"
    )


if __name__ == "__main__":
    main()
