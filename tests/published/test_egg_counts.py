"""Worm eggs of 14 sheep before and after treatment (R package eggCounts on CRAN, data set epgs).

One egg counted stands for 50 per gram. Sums 18,850 and 1,450, a drop of 92.308 %; one animal rises from 0 to
300.
"""

import csv
import math
from pathlib import Path

import numpy as np
import pytest
from scipy import stats

from treatments.outcome import Reason, Verdict, drop_in_mites, mites_needed

DATA = Path(__file__).parents[2] / "fixtures" / "published" / "sheep_egg_counts.csv"
FACTOR = 50


def eggs():
    """Eggs counted before and after."""
    with DATA.open(newline="") as file:
        rows = list(csv.DictReader(file))
    return np.array(
        [[int(row[f"eggs_per_gram_{when}"]) // FACTOR for row in rows] for when in ("before", "after")]
    )


def limits(variance, quantile, log=True):
    """Limits of the drop by the delta method, on the log or the plain scale. Reference for the tests."""
    ratio = eggs()[1].sum() / eggs()[0].sum()
    step = quantile * math.sqrt(variance)
    ends = (math.exp(step), math.exp(-step)) if log else (1 + step, 1 - step)
    return [100 * (1 - ratio * end) for end in ends]


def variance(paired):
    """Squared standard error of the log ratio of means, with or without the pairing."""
    scaled = eggs() / eggs().mean(axis=1, keepdims=True)
    both = (scaled[1] - scaled[0]).var(ddof=1) if paired else scaled.var(axis=1, ddof=1).sum()
    return both / eggs().shape[1]


def test_sums_and_drop():
    before, after = eggs()
    assert (FACTOR * before.sum(), FACTOR * after.sum()) == (18850, 1450)

    outcome = drop_in_mites(before, 1000, after, 1000, target=0.95)

    assert 100 * outcome.drop == pytest.approx(92.308, abs=0.0005)
    assert (outcome.mites_before, outcome.mites_after, outcome.colonies) == (377, 29, 14)


def test_range_is_near_the_paired_one():
    """Paired, log scale, 90 %.

    87.97-95.08. Paired, plain scale, 95 %: 87.79-96.83 (calculated from the data).
    """
    assert limits(variance(paired=True), 1.644854) == pytest.approx([87.97, 95.08], abs=0.005)
    assert limits(variance(paired=True), stats.t.ppf(0.975, 13), log=False) == pytest.approx(
        [87.79, 96.83], abs=0.005
    )

    outcome = drop_in_mites(
        *(part for counts in eggs() for part in (counts, 1000)), treated_colonies=math.inf
    )

    assert (100 * outcome.low, 100 * outcome.high) == pytest.approx((87.97, 95.08), abs=1.0)


def test_range_is_not_the_unpaired_one():
    """The 1992 guideline forgets that the same animals were counted twice.

    62.95-98.40 (t 2.0555, se 0.76485).
    """
    assert math.sqrt(variance(paired=False)) == pytest.approx(0.76485, abs=0.000005)
    unpaired = limits(variance(paired=False), stats.t.ppf(0.975, 26))
    assert unpaired == pytest.approx([62.95, 98.40], abs=0.005)

    outcome = drop_in_mites(
        *(part for counts in eggs() for part in (counts, 1000)), treated_colonies=math.inf
    )

    assert 100 * outcome.low > unpaired[0] + 20


def test_three_before_and_none_after_cannot_tell():
    """Even the binomial rule of Dobson et al. 2012 (abstract) gives a lower limit of 39.8 % only."""
    assert 100 * (1 - stats.beta.ppf(0.975, 1, 4)) == pytest.approx(39.8, abs=0.05)
    outcome = drop_in_mites(3, 300, 0, 300)
    assert (outcome.verdict, outcome.reason) == (Verdict.CANNOT_TELL, Reason.FEW_MITES_BEFORE)


@pytest.mark.parametrize(
    ("before", "two_sided", "one_sided"),
    [(10, 71.51, 76.16), (20, 83.89, 86.71), (40, 91.40, 92.95), (100, 96.41, 97.08), (200, 98.18, 98.52)],
)
def test_none_after_beside_the_binomial_rule(before, two_sided, one_sided):
    """Dobson et al. 2012 (abstract): 1 - BetaInv(.; 1, n + 1), a flat prior for the share that is left.

    Our 90 % range (Jeffreys, both counts uncertain) leaves about 1.9 of n where that leaves 3, so its lower
    limit is higher. The word "worked" does not rest on it alone: the fewest mites it needs are stricter than
    both.
    """
    binomial = [100 * (1 - stats.beta.ppf(level, 1, before + 1)) for level in (0.975, 0.95)]
    assert binomial == pytest.approx([two_sided, one_sided], abs=0.006)

    low = 100 * drop_in_mites(before, 300, 0, 300).low

    assert 0.6 < (100 - low) / (100 - one_sided) < 0.9
    assert mites_needed(one_sided / 100) > before
