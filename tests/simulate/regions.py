"""Coverage of the 95 % ranges of a region: its rate, and the share of its yards above a level; and regions in order."""

import itertools

import numpy as np
from scipy import stats

from counts.estimate import yard_mean
from reports.pressure import YardCounts, drawn_together, pool_yards, region_figures, share_above
from tests.simulate.drawing import held, jars, rates

REGIONS, LEVEL = 400, 0.03


def share_scenarios():
    return list(itertools.product((5, 10, 20, 40), (0.008, 0.015, 0.03), (0.5, 0.9), (0.0, 0.4)))


def share(scenario, seed):
    """Whether the range of the share above the level holds the truth."""
    yards, median, sd, _ = scenario
    truth = float(stats.norm.sf(np.log(LEVEL / median) / sd))
    inside = []
    for said, keeper in _regions(scenario, seed):
        chances = pool_yards(said.mites, said.exposure, said.chance_c2).chances_above(LEVEL)
        range_ = share_above(chances, list(np.bincount(keeper)))
        inside.append(range_.low <= truth <= range_.high)
    return [held(f"{yards} yards", inside)]


def mean(scenario, seed):
    """Whether the range of the region's rate holds the mean of all its yards, those not counted too."""
    yards, median, sd, _ = scenario
    truth = float(median * np.exp(sd**2 / 2))
    inside = []
    for said, keeper in _regions(scenario, seed):
        found = region_figures(_counts(said, keeper))
        inside.append(found.reason is not None or found.low <= truth <= found.high)
    return [held(f"{yards} yards", inside)]


def order_scenarios():
    return list(itertools.product((0.008, 0.015, 0.03), (0.5, 0.9), (0.0, 0.3)))


def order(scenario, seed):
    """Twelve regions of 5 to 40 yards: whether the highest of them is one of the four smallest, and how far the small
    ones are from the truth, as counted and drawn together."""
    median, sd, between = scenario
    random = np.random.default_rng(seed)
    sizes = np.asarray([5, 5, 6, 7, 8, 10, 12, 16, 20, 26, 32, 40])
    smallest = {"counted": [], "drawn": []}
    nearer = []
    for _ in range(REGIONS // 4):
        truth = median * np.exp(random.normal(0, between, len(sizes)))
        figures = []
        for size, middle in zip(sizes, truth, strict=True):
            scenario_ = (int(size), middle, sd, 0.0)
            said, _ = _region(scenario_, random)
            figures.append(region_figures(_counts(said, np.arange(size))))
        rates = np.asarray([one.rate for one in figures])
        drawn = drawn_together(
            rates * np.asarray([one.exposure for one in figures]),
            [one.exposure for one in figures],
            [one.c2 for one in figures],
        )
        means = truth * np.exp(sd**2 / 2)
        for name, values in (("counted", rates), ("drawn", drawn)):
            smallest[name].append(bool(np.argmax(values) < 4))
        small = slice(0, 4)
        nearer.append(np.square(drawn - means)[small].sum() < np.square(rates - means)[small].sum())
    return [
        held("highest is one of the 4 smallest of 12, as counted", smallest["counted"]),
        held("highest is one of the 4 smallest of 12, drawn together", smallest["drawn"]),
        held("small regions nearer to the truth when drawn together", nearer),
    ]


def _regions(scenario, seed):
    random = np.random.default_rng(seed)
    for _ in range(REGIONS):
        yield _region(scenario, random)


def _region(scenario, random):
    """Yards of keepers with one to four each, log-normal around a median; the keeper's own part is `alike`."""
    yards, median, sd, alike = scenario
    keeper = np.repeat(np.arange(yards), random.integers(1, 5, yards))[:yards]
    own, theirs = random.normal(0, 1, yards), random.normal(0, 1, yards)[keeper]
    rate = median * np.exp(sd * (np.sqrt(1 - alike) * own + np.sqrt(alike) * theirs))
    mites = jars(random, rate[:, None] * rates(random, "gamma", 1.0, 0.8, (yards, 5)))
    return yard_mean(mites, np.full_like(mites, 300)), keeper


def _counts(said, keeper):
    return YardCounts(said.mites, said.exposure, said.chance_c2, keeper, np.full(len(keeper), 5))
