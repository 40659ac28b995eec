"""A seeded season of invented yards: how often the range holds the truth, and how often a word is wrong.

Colonies are Gamma (size 1) around 3 mites per 100 bees, the survivors differ among colonies with a CV of a
half, scoops by 20 % and bee counts by 10 %; five jars of 300 bees before and after.
"""

import math

import numpy as np
import pytest

from treatments.outcome import Verdict, drop_in_mites

YARDS, COLONIES, BEES = 1200, 5, 300


def season(drop, seed):
    """Before, after, and the drop that these very colonies had, for every yard."""
    rng = np.random.default_rng(seed)
    shape = (YARDS, COLONIES)
    rate = rng.gamma(1.0, 0.03, shape)
    survives = np.minimum((1 - drop) * rng.gamma(4.0, 0.25, shape), 1.0)
    jar = [np.exp(rng.normal(-0.025, math.hypot(0.2, 0.1), shape)) for _ in range(2)]
    before = rng.poisson(BEES * rate * jar[0])
    after = rng.poisson(BEES * rate * survives * jar[1])
    return before, after, 1 - (rate * survives).sum(axis=1) / rate.sum(axis=1)


def outcomes(drop, seed, treated=None):
    before, after, realised = season(drop, seed)
    said = [
        drop_in_mites(m, BEES, n, BEES, treated_colonies=treated) for m, n in zip(before, after, strict=True)
    ]
    told = [(one, real) for one, real in zip(said, realised, strict=True) if one.low is not None]
    assert len(told) > 0.9 * YARDS
    return told


@pytest.mark.parametrize(("drop", "seed"), [(0.5, 1), (0.8, 2), (0.95, 3)])
def test_range_holds_what_these_colonies_had(drop, seed):
    told = outcomes(drop, seed)
    held = np.mean([one.low <= real <= one.high for one, real in told])
    assert held == pytest.approx(0.90, abs=0.05)


@pytest.mark.parametrize(("drop", "seed"), [(0.5, 4), (0.8, 5), (0.95, 6)])
def test_range_holds_what_the_treatment_does(drop, seed):
    told = outcomes(drop, seed, treated=math.inf)
    held = np.mean([one.low <= drop <= one.high for one, _ in told])
    assert held == pytest.approx(0.90, abs=0.07)


def test_worked_is_seldom_said_of_a_drop_at_the_floor():
    told = outcomes(0.8, 7, treated=math.inf)
    wrong = np.mean([one.verdict is Verdict.WORKED for one, _ in told])
    assert wrong < 0.08


def test_words_find_what_works_and_what_does_not():
    good = np.mean([one.verdict is Verdict.WORKED for one, _ in outcomes(0.99, 8)])
    bad = np.mean([one.verdict is Verdict.DID_NOT_WORK for one, _ in outcomes(0.5, 9)])
    assert good > 0.6
    assert bad > 0.7
