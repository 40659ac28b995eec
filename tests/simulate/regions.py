"""Coverage of the 95 % range of the share of yards above a level."""

import itertools

import numpy as np
from scipy import stats

from counts.estimate import yard_mean
from reports.pressure import pool_yards, share_above
from tests.simulate.drawing import held, jars, rates

REGIONS, LEVEL = 400, 0.03


def share_scenarios():
    return list(itertools.product((5, 10, 20, 40), (0.008, 0.015, 0.03), (0.5, 0.9), (0.0, 0.4)))


def share(scenario, seed):
    """Yards of keepers with one to four each, log-normal around a median; the keeper's own part is `alike`."""
    yards, median, sd, alike = scenario
    random = np.random.default_rng(seed)
    truth = float(stats.norm.sf(np.log(LEVEL / median) / sd))
    inside = []
    for _ in range(REGIONS):
        keeper = np.repeat(np.arange(yards), random.integers(1, 5, yards))[:yards]
        own, theirs = random.normal(0, 1, yards), random.normal(0, 1, yards)[keeper]
        mean = median * np.exp(sd * (np.sqrt(1 - alike) * own + np.sqrt(alike) * theirs))
        mites = jars(random, mean[:, None] * rates(random, "gamma", 1.0, 0.8, (yards, 5)))
        said = yard_mean(mites, np.full_like(mites, 300))
        chances = pool_yards(said.mites, said.exposure, said.chance_c2).chances_above(LEVEL)
        range_ = share_above(chances, list(np.bincount(keeper)))
        inside.append(range_.low <= truth <= range_.high)
    return [held(f"{yards} yards", inside)]
