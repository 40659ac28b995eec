"""Coverage of the 95 % ranges of a jar, a yard and a board."""

import itertools

import numpy as np

from counts.estimate import combined_c2, rate_interval, yard_mean
from tests.simulate.drawing import factor, held, jars, rates

JAR_DRAWS, YARDS, BOARD_DRAWS = 50_000, 4000, 20_000

JARS = {
    "bee count 10 %": (0.10, 0.0, 1.0, 0.0),
    "bee count 10 %, scoop 20 %, recovery .90 ± .05": (0.10, 0.20, 0.90, 0.05),
    "bee count 10 %, scoop 30 %, recovery .80 ± .08": (0.10, 0.30, 0.80, 0.08),
    "bee count 15 %, scoop 35 %, recovery .75 ± .10": (0.15, 0.35, 0.75, 0.10),
}
RATES = (0.003, 0.005, 0.01, 0.02, 0.03, 0.05, 0.08, 0.12)


def jar_scenarios():
    return list(itertools.product(JARS, RATES))


def jar(scenario, seed):
    """Binomial mites among the bees that were really in the jar."""
    name, rate = scenario
    bee_cv, scoop, recovery, sd = JARS[name]
    random = np.random.default_rng(seed)
    bees = np.rint(300 * factor(random, bee_cv, JAR_DRAWS)).astype(int)
    found = np.clip(random.normal(recovery, sd, JAR_DRAWS), 0.05, 1.0) if sd else recovery
    mites = random.binomial(bees, np.minimum(rate * factor(random, scoop, JAR_DRAWS) * found, 1.0))
    low, high = rate_interval(mites, 300 * recovery, combined_c2(bee_cv, scoop, sd / recovery))
    return [held(name, (low <= rate) & (rate <= high))]


def yard_scenarios():
    return list(
        itertools.product(
            (3, 5, 8, 20), ("gamma", "log-normal"), (0.5, 1, 2, 5), (0.005, 0.01, 0.02, 0.04, 0.08)
        )
    )


def yard(scenario, seed):
    """The mean of the very 20 colonies of the yard, so many of them sampled; k is their evenness."""
    sampled, kind, k, mean = scenario
    random = np.random.default_rng(seed)
    colonies = rates(random, kind, mean, 1 / k, (YARDS, 20))
    mites = jars(random, colonies[:, :sampled])
    said, truth = yard_mean(mites, np.full_like(mites, 300), 20), colonies.mean(axis=1)
    return [held(f"{sampled} of 20 colonies", (said.low <= truth) & (truth <= said.high))]


BOARDS = {
    "no variation but chance": (0.0, 0.0, 1.0, 0.0),
    "day to day 30 %": (0.30, 0.0, 1.0, 0.0),
    "day to day 30 %, a third of the cells": (0.30, 0.095, 1.0, 0.0),
    "day to day 30 %, debris hides 10 ± 8 %": (0.30, 0.0, 0.90, 0.08),
    "day to day 50 %, cells 15 %, debris hides 15 ± 10 %": (0.50, 0.15, 0.85, 0.10),
}


def board_scenarios():
    return list(itertools.product(BOARDS, (0.5, 2, 5, 10, 30, 100), (1, 2, 3, 7)))


def board(scenario, seed):
    """Mites a day on a board; every day has its own luck."""
    name, drop, days = scenario
    day_cv, grid, detection, sd = BOARDS[name]
    random = np.random.default_rng(seed)
    part = 1 / 3 if grid else 1.0
    each = factor(random, day_cv, (BOARD_DRAWS, days)).sum(axis=1)
    seen = np.clip(random.normal(detection, sd, BOARD_DRAWS), 0.05, 1.0) if sd else detection
    mites = random.poisson(drop * each * part * factor(random, grid, BOARD_DRAWS) * seen)
    c2 = day_cv**2 / days + grid**2 + (sd / detection) ** 2
    low, high = rate_interval(mites, days * part * detection, c2)
    return [held(name, (low <= drop) & (drop <= high))]
