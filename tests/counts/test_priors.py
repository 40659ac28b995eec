"""Priors of a region and month: what they are by hand, and that chances with one are what they say."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from counts.estimate import Prior, chance_above, rate_quantiles
from counts.priors import NoPrior, region_month_prior

C2 = 0.0536


def region(mean, k, number, seed):
    """True rates and jars of 300 bees of a region and month."""
    random = np.random.default_rng(seed)
    rates = random.gamma(k, mean / k, number)
    return rates, random.poisson(300 * rates * random.gamma(1 / C2, C2, number))


def calibration_error(chances, above):
    """Mean gap, over tenths, between the chance told and how often it came true."""
    tenth = np.minimum((10 * chances).astype(int), 9)
    gaps = [
        abs(chances[tenth == t].mean() - above[tenth == t].mean()) * np.mean(tenth == t) for t in set(tenth)
    ]
    return float(sum(gaps))


# Independent simulation, 300 bees, level 3 per 100: calibration error from the sample alone, and with a prior.
@pytest.mark.parametrize(
    ("mean", "k", "alone", "leaning"),
    [(0.01, 0.8, 0.046, 0.003), (0.02, 0.8, 0.034, 0.007), (0.04, 2, 0.017, 0.027)],
)
def test_chances_come_true_as_often_as_told(mean, k, alone, leaning):
    rates, mites = region(mean, k, 60_000, seed=31)
    prior = region_month_prior(mites[:2000], 300, C2)
    above = rates[2000:] > 0.03

    without = calibration_error(chance_above(mites[2000:], 300, C2, 0.03), above)
    with_one = calibration_error(chance_above(mites[2000:], 300, C2, 0.03, prior), above)

    assert without == pytest.approx(alone, abs=0.012)
    assert with_one < leaning + 0.012


@pytest.mark.parametrize(("mean", "k"), [(0.01, 0.8), (0.02, 2.0)])
def test_many_samples_find_the_mean_and_the_shape(mean, k):
    _, mites = region(mean, k, 20_000, seed=32)
    prior = region_month_prior(mites, 300, C2)

    assert prior.mean == pytest.approx(mean, rel=0.05)
    assert prior.shape == pytest.approx(k, rel=0.1)


def test_thirty_samples_are_a_prior_and_twenty_nine_are_not():
    assert region_month_prior([3] * 29, 300, C2) is NoPrior.FEW_SAMPLES
    assert isinstance(region_month_prior([3] * 30, 300, C2), Prior)
    assert region_month_prior([3] * 29 + [-1], 300, C2) is NoPrior.NOT_A_COUNT


def test_prior_by_hand():
    # Rates .01 and .03 in equal number: variance 30/29 x .0001, chance .02/300, own .0536; shape drawn to .8.
    seen = ((30 / 29 * 0.0001 - 0.02 / 300) / 0.0004 - C2) / (1 + C2)
    prior = region_month_prior([3, 9] * 15, 300, C2)

    assert prior.mean == pytest.approx(0.02)
    assert prior.shape == pytest.approx(1 / max((29 * seen + 4 * 0.8) / 33, 0.05))


def test_region_without_mites_has_a_small_mean_not_none():
    assert region_month_prior([0] * 40, 300, C2).mean == pytest.approx(0.5 / 12000)


@pytest.mark.parametrize("prior", [None, Prior(0.01, 0.8)])
@pytest.mark.parametrize("c2", [0.0, C2, 1.5])
def test_quantiles_are_where_the_chance_is_the_rest(prior, c2):
    for share in (0.05, 0.5, 0.9):
        rate = rate_quantiles(9, 300, c2, share, prior)
        assert chance_above(9, 300, c2, rate, prior) == pytest.approx(1 - share, abs=1e-9)


@given(st.lists(st.tuples(st.integers(0, 10**9), st.integers(0, 10**9)), min_size=1, max_size=4))
def test_any_whole_numbers_give_a_prior_or_a_reason(jars):
    mites, bees = zip(*jars * 30, strict=True)
    prior = region_month_prior(mites, bees, C2)

    if isinstance(prior, Prior):
        assert 0 < prior.mean < np.inf
        assert 0.16 < prior.shape < 20.01
    else:
        assert prior is NoPrior.NOT_A_COUNT
