"""How long many ranges take, beside a reference library in the same run. Say: make bench

Prints ratios, because seconds differ between machines; best of several rounds, as other work only ever adds time.
The two do not compute the same thing: ours widens the range by what multiplies the rate (bees not counted, method's
recovery); the exact binomial range of the reference (statsmodels, proportion_confint, method "beta": Clopper and
Pearson) knows the mites' chance only. Ends with 1 if a bar is missed.
"""

import sys
import time
from collections.abc import Callable
from typing import Any

import numpy as np
from statsmodels.stats.proportion import proportion_confint

from counts.estimate import jar_c2, rate_interval, yard_mean
from counts.samples import BeesBy, Method

RANGES, ONE_BY_ONE, YARDS, COLONIES = 100_000, 2_000, 10_000, 5
ROUNDS = 7


def seconds(call: Callable[[], Any]) -> float:
    """Best time of one call; the first is not counted."""
    call()
    taken = []
    for _ in range(ROUNDS):
        before = time.perf_counter()
        call()
        taken.append(time.perf_counter() - before)
    return min(taken)


def main() -> int:
    """Print times, ratios and bars."""
    random = np.random.default_rng(20260503)
    bees = random.integers(150, 600, RANGES)
    mites = random.binomial(bees, random.beta(1, 40, RANGES))
    spread = float(jar_c2(Method.ALCOHOL_WASH, BeesBy.VOLUME))
    spreads = spread * random.uniform(0.9, 1.1, RANGES)
    jars = random.poisson(300 * random.gamma(1.25, 0.02 / 1.25, (YARDS, COLONIES)))
    few = list(zip(mites[:ONE_BY_ONE].tolist(), bees[:ONE_BY_ONE].tolist(), strict=True))

    ours = seconds(lambda: rate_interval(mites, bees, spread))
    unlike = seconds(lambda: rate_interval(mites, bees, spreads))
    theirs = seconds(lambda: proportion_confint(mites, bees, alpha=0.05, method="beta"))
    single = seconds(lambda: [proportion_confint(m, n, alpha=0.05, method="beta") for m, n in few])
    single *= RANGES / ONE_BY_ONE
    yards = seconds(lambda: yard_mean(jars, np.full_like(jars, 300), 20))

    lines = (
        (f"{RANGES:,} ranges, beside the reference on arrays", ours, ours / theirs, "at most 2.0"),
        ("  the same with a spread of its own for each", unlike, unlike / theirs, "none"),
        ("  the reference one by one, beside ours", single, single / ours, "at least 25"),
        (f"{YARDS:,} yards of {COLONIES} colonies", yards, yards / theirs, "under 0.5 s"),
    )
    sys.stdout.write(f"{'best of ' + str(ROUNDS):<50}{'seconds':>9}{'ratio':>9}  bar\n")
    sys.stdout.write(
        "".join(f"{what:<50}{took:9.3f}{ratio:9.2f}  {bar}\n" for what, took, ratio, bar in lines)
    )
    return 0 if ours <= 2 * theirs and single >= 25 * ours and yards < 0.5 else 1


if __name__ == "__main__":
    sys.exit(main())
