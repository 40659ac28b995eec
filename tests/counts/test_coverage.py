"""Seeded simulations: how often the ranges hold the truth they were computed for."""

import numpy as np
import pytest
from scipy import stats

from counts.estimate import Prior, chance_above, rate_interval, yard_mean

C2 = 0.0536


def drawn(rate, c2, draws, seed, exposure=300):
    """Negative binomial counts with this mean rate and squared CV."""
    random = np.random.default_rng(seed)
    return random.poisson(exposure * rate * random.gamma(1 / c2, c2, draws))


def share_inside(low, high, truth):
    return float(np.mean((low <= truth) & (truth <= high)))


def test_jar_range_holds_the_truth_95_times_in_100():
    # 2 000 draws at c2 = .0536, 2 per 100, 300 bees: .925 to .98 expected, .9525 in an independent simulation.
    low, high = rate_interval(drawn(0.02, C2, 2000, seed=20), 300, C2)

    assert 0.925 <= share_inside(low, high, 0.02) <= 0.98


@pytest.mark.parametrize("rate", [0.005, 0.01, 0.03, 0.06, 0.12])
def test_jar_range_holds_for_low_and_high_rates(rate):
    # Independent simulation at c2 = .0536: mean .955, lowest .935, over rates from .3 to 12 per 100.
    low, high = rate_interval(drawn(rate, C2, 4000, seed=21), 300, C2)

    assert 0.925 <= share_inside(low, high, rate) <= 0.985


def test_poisson_range_alone_is_not_honest_for_a_real_jar():
    # The same simulation for exact Poisson limits, without the jar's own errors: .73 at its lowest. Ours would
    # fail the tests above if the spread were dropped.
    low, high = rate_interval(drawn(0.12, C2, 4000, seed=22), 300, 0.0, exact=True)

    assert share_inside(low, high, 0.12) < 0.85


@pytest.mark.parametrize("days", [1, 3, 7])
def test_board_range_holds_the_truth(days):
    # Independent simulation, drop from day to day with CV .3: mean .959, lowest .934.
    c2 = 0.09 / days
    low, high = rate_interval(drawn(10.0, c2, 4000, seed=23, exposure=days), days, c2)

    assert 0.925 <= share_inside(low, high, 10.0) <= 0.985


def test_bound_at_zero_holds_95_times_in_100():
    # A rate at the bound itself is missed by a jar without mites once in twenty.
    bound = rate_interval(0, 300, C2)[1]
    empty = np.mean(drawn(bound, C2, 20_000, seed=24) == 0)

    assert empty == pytest.approx(0.05, abs=0.006)
    assert stats.nbinom.pmf(0, 1 / C2, 1 / (1 + C2 * 300 * bound)) == pytest.approx(0.05)


def test_yard_range_holds_the_mean_of_the_whole_yard():
    # Independent simulation, 20 colonies, 5 sampled: mean .949 over yards of all kinds, .970 at this evenness.
    random = np.random.default_rng(25)
    loads = random.gamma(2.0, 0.02 / 2.0, (4000, 20))
    jars = random.poisson(300 * loads[:, :5] * random.gamma(1 / C2, C2, (4000, 5)))

    yards = yard_mean(jars, np.full_like(jars, 300), 20)

    assert 0.94 <= share_inside(yards.low, yards.high, loads.mean(axis=1)) <= 0.99


def test_whole_yard_sampled_keeps_its_width_and_its_coverage():
    # The usual correction for a finite yard would give width 0 here, and hold the truth never.
    random = np.random.default_rng(26)
    loads = random.gamma(1.0, 0.02, (4000, 8))
    jars = random.poisson(300 * loads * random.gamma(1 / C2, C2, loads.shape))

    yards = yard_mean(jars, np.full_like(jars, 300), 8)

    assert (yards.high > yards.low).all()
    assert 0.93 <= share_inside(yards.low, yards.high, loads.mean(axis=1)) <= 0.985


def test_chance_above_is_right_as_often_as_it_says():
    # Rates drawn from the prior under which the chance is exact: density ~ rate^-1/2 (1/c2 + 300 rate)^-1/2.
    random, rates = np.random.default_rng(27), np.geomspace(1e-6, 3, 20_000)
    weight = rates / np.sqrt(rates * (1 / C2 + 300 * rates))
    rate = random.choice(rates, 100_000, p=weight / weight.sum())
    chance = chance_above(random.poisson(300 * rate * random.gamma(1 / C2, C2, rate.size)), 300, C2, 0.03)

    for low, high in ((0.1, 0.4), (0.4, 0.6), (0.6, 0.9)):
        told = (chance > low) & (chance < high)
        assert np.mean(rate[told] > 0.03) == pytest.approx(np.mean(chance[told]), abs=0.025)


def test_chance_from_one_sample_alone_is_too_high_where_high_rates_are_rare():
    # Independent simulation, mean 1 per 100 with shape .8: told .47, true .23; with the region's prior .52 and .49.
    random = np.random.default_rng(28)
    rate = random.gamma(0.8, 0.01 / 0.8, 100_000)
    found = random.poisson(300 * rate * random.gamma(1 / C2, C2, rate.size))
    alone = chance_above(found, 300, C2, 0.03)
    informed = chance_above(found, 300, C2, 0.03, Prior(0.01, 0.8))

    told_alone, told_informed = (alone > 0.4) & (alone < 0.6), (informed > 0.4) & (informed < 0.6)
    assert np.mean(rate[told_alone] > 0.03) < np.mean(alone[told_alone]) - 0.15
    assert np.mean(rate[told_informed] > 0.03) == pytest.approx(np.mean(informed[told_informed]), abs=0.06)
