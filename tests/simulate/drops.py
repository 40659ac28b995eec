"""Coverage of the 90 % ranges of the drop in mites, and how often "worked" is said wrongly."""

import itertools
import math

import numpy as np

from tests.simulate.drawing import Result, factor, jars, rates
from treatments.outcome import Verdict, drop_against_controls, drop_in_mites

YARDS, ARMS = 800, 800
TRUE_DROPS = (0.5, 0.8, 0.9, 0.95, 0.99)


def pair_scenarios():
    return list(
        itertools.product((1, 2, 3, 5, 8, 12, 20), (0.01, 0.03, 0.10), (0.5, 1, 5), TRUE_DROPS, (0.0, 0.5))
    )


def pair(scenario, seed):
    """The same colonies before and after, for yards whose counts allow an answer at all."""
    colonies, mean, k, drop, unlike = scenario
    random = np.random.default_rng(seed)
    rate = rates(random, "gamma", mean, 1 / k, (YARDS, colonies))
    survives = np.minimum((1 - drop) * factor(random, unlike, rate.shape), 1.0)
    before, after = jars(random, rate), jars(random, rate * survives)
    realised = 1 - (rate * survives).sum(axis=1) / rate.sum(axis=1)
    these, all_told, wrong, told = [], [], 0, 0
    for m, n, real in zip(before, after, realised, strict=True):
        for treated, kept, truth in ((None, these, real), (math.inf, all_told, drop)):
            said = drop_in_mites(m, 300, n, 300, treated_colonies=treated)
            if said.low is not None and said.high is not None:
                kept.append(said.low <= truth <= said.high)
            if treated is None:
                told += said.low is not None
                wrong += said.verdict is Verdict.WORKED
    found = [Result("drop of these colonies", sum(these), len(these))] if told >= YARDS / 2 else []
    if told >= YARDS / 2:
        found.append(Result("drop by the treatment", sum(all_told), len(all_told)))
    if drop == 0.8:
        found.append(Result('"worked" at a true drop of 80 %', wrong, YARDS))
    return found


def control_scenarios():
    designs = ((1, 1), (2, 2), (3, 3), (5, 2), (5, 5), (8, 4), (10, 10))
    return list(itertools.product(designs, (1.0, 1.6), TRUE_DROPS[:4]))


def controls(scenario, seed):
    """Treated and untreated colonies, all growing alike between the counts; 3 mites per 100 bees at first."""
    (treated, untreated), growth, drop = scenario
    random = np.random.default_rng(seed)
    inside, wrong = [], 0
    for _ in range(ARMS):
        arms = []
        for number, left in ((treated, 1 - drop), (untreated, 1.0)):
            rate = rates(random, "gamma", 0.03, 1.0, number)
            arms += [jars(random, rate), 300]
            arms += [jars(random, rate * growth * left * factor(random, 0.3, number)), 300]
        said = drop_against_controls(*arms)
        wrong += said.verdict is Verdict.WORKED
        if said.low is not None and said.high is not None:
            inside.append(said.low <= drop <= said.high)
    found = (
        [Result("drop against untreated colonies", sum(inside), len(inside))]
        if len(inside) >= ARMS / 2
        else []
    )
    if drop == 0.8:
        found.append(Result('"worked" at a true drop of 80 %, against untreated colonies', wrong, ARMS))
    return found
