"""Regional figures against values calculated apart from the program."""

import math

import numpy as np
import pytest
from scipy import stats

from reports.constants import DEFAULTS, METHOD_VERSION
from reports.pressure import (
    CountBand,
    Population,
    RegionFigures,
    SuppressReason,
    YardCount,
    count_band,
    design_effect,
    hide_small_groups,
    pool_yards,
    publishable,
    region_figures,
    share_above,
    suppress_reason,
    unusual,
    yard_population,
)


def yards(mites, keepers="abcdefgh", exposure=1500.0, c2=0.2):
    return [YardCount(m, exposure, c2, keeper) for m, keeper in zip(mites, keepers, strict=False)]


def test_one_yard_leans_on_its_population():
    # scipy.stats.gamma: shape 1.25 + 14/4.87, rate 1.25/0.015 + 600/4.87 (deflator 1 + 0.43 x 600 x 0.015)
    pooled = pool_yards([14], [600], [0.43], population=Population(0.015, 1.25))

    assert pooled.means[0] == pytest.approx(0.019971002, abs=6e-10)
    assert pooled.quantile(0.025) == pytest.approx(0.005584865, abs=6e-10)
    assert pooled.quantile(0.975) == pytest.approx(0.043354840, abs=6e-10)
    assert pooled.chances_above(0.03)[0] == pytest.approx(0.147869098, abs=6e-10)


def test_population_by_moments():
    # By hand: rates .01 and .03, mean .02, variance .0002, chance .02 x (1/1000), own spread .1
    between = ((0.0002 - 0.02 / 1000) / 0.0004 - 0.1) / 1.1
    expected = (1 * between + 6 * 0.6) / 7

    population = yard_population([10, 30], [1000, 1000], [0.1, 0.1])

    assert population.mean == pytest.approx(0.02)
    assert population.shape == pytest.approx(1 / expected)


def test_population_keeps_within_bounds():
    alike = yard_population([20] * 200, [1000] * 200, [0.3] * 200)
    unlike = yard_population([0] * 99 + [9000], [1000] * 100, [0.0] * 100)
    assert (alike.shape, unlike.shape) == (pytest.approx(1 / 0.05), pytest.approx(1 / 6.0))


def test_quantile_is_of_the_average_of_the_yards():
    pooled = pool_yards([0, 3, 10, 60, 90], [1500] * 5, [0.2] * 5)
    # Not of their means, which lie too close together.
    assert pooled.quantile(0.9) > np.quantile(pooled.means, 0.9)
    assert pooled.quantile(0.5) < pooled.means.mean()


@pytest.mark.parametrize(
    ("chance", "owned", "n", "low", "high"),
    # design effect 1.545454545; scipy.stats.beta.ppf
    [(0.37, [1, 1, 2, 3, 4], 7.117647059, 0.107053000, 0.717662130)],
)
def test_share_counts_yards_of_one_keeper_for_less(chance, owned, n, low, high):
    share = share_above([chance] * sum(owned), owned)

    assert design_effect(owned) == pytest.approx(1.545454545, abs=6e-10)
    assert share.n_effective == pytest.approx(n, abs=6e-10)
    assert (share.share, share.low, share.high) == pytest.approx((chance, low, high), abs=1e-8)


def test_share_of_certain_yards_is_the_jeffreys_range():
    # statsmodels: proportion_confint(4, 11, method="jeffreys")
    share = share_above([1.0] * 4 + [0.0] * 7, [1] * 11)
    assert (share.low, share.high) == pytest.approx((0.137319968, 0.652007728), abs=6e-10)


def test_unusual_month():
    # scipy.stats.t.sf(2.705924511, 10)
    found = unusual([1.1, 0.8, 1.6, 1.2, 0.9], 3.1)

    assert (found.t, found.p) == pytest.approx((2.705924511, 0.011043796), abs=6e-10)
    assert found.is_unusual
    assert not unusual([1.1, 0.8, 1.6, 1.2, 0.9], 1.5).is_unusual
    assert not unusual([1.1, 0.8, 1.6, 1.2, 0.9], 0.1).is_unusual


@pytest.mark.parametrize(
    ("past", "now"), [([], 1.0), ([1.0, 2.0], 9.0), ([1.0, 2.0, 0.0], 9.0), ([1, 2, 3], 0)]
)
def test_unusual_says_nothing_on_too_little(past, now):
    assert unusual(past, now) is None


@pytest.mark.parametrize(
    ("owned", "reason"),
    [
        ([], SuppressReason.NO_SAMPLES),
        ([0, 0], SuppressReason.NO_SAMPLES),
        ([5, 5], SuppressReason.TOO_FEW_KEEPERS),
        ([2, 1, 1], SuppressReason.TOO_FEW_YARDS),
        ([7, 2, 2], SuppressReason.ONE_KEEPER_DOMINATES),
        ([6, 2, 2], None),
        ([2, 2, 1], None),
    ],
)
def test_suppress_reason(owned, reason):
    assert suppress_reason(owned) is reason
    assert publishable(owned) == (reason is None)


@pytest.mark.parametrize(
    ("number", "band"),
    [
        (0, "none"),
        (1, "<5"),
        (4, "<5"),
        (5, "5–9"),
        (9, "5–9"),
        (10, "10–19"),
        (20, "20–49"),
        (49, "20–49"),
        (50, "50+"),
    ],
)
def test_count_band(number, band):
    assert count_band(number) == CountBand(band)


def test_hidden_cells_take_company():
    counts = [[2, 9, 7], [8, 6, 30], [0, 12, 40]]
    hidden = hide_small_groups(counts, np.asarray(counts) < 5)

    assert hidden.cells.tolist() == [[True, False, True], [True, False, True], [False, False, False]]
    assert (hidden.rows_without_total, hidden.columns_without_total) == ((), ())


def test_hidden_cell_alone_in_its_row_takes_the_total():
    hidden = hide_small_groups([[2, 0], [9, 9]], [[True, False], [False, False]])

    assert hidden.cells.tolist() == [[True, False], [True, True]]
    assert (hidden.rows_without_total, hidden.columns_without_total) == ((0,), (1,))


def test_figures_of_a_region():
    figures = region_figures(yards([0, 3, 10, 60, 90]), {"two": 0.02})

    assert (figures.yards, figures.keepers, figures.zeros, figures.reason) == (5, 5, 1, None)
    assert figures.rate == pytest.approx(163 / 1500 / 5)
    assert 0 < figures.low < figures.median < figures.rate < figures.high
    assert figures.tenth < figures.median < figures.ninetieth
    share = figures.shares["two"]
    assert 0 < share.low < share.share < share.high < 1


def test_range_of_the_rate_by_hand():
    # Five yards of five keepers, then of three; Beta limits of 150 mites, t with 10 degrees of freedom.
    mites = [10, 20, 30, 40, 50]
    shape = yard_population(mites, [1500] * 5, [0.2] * 5).shape
    wider = (stats.t.ppf(0.975, 10) / stats.norm.ppf(0.975)) ** 2
    for keepers, effect in (("abcde", 1.0), ("aabbc", 1 + 0.3 * (9 / 5 - 1))):
        size = 1 / (effect * (1.2 * (1 + wider / shape) - 1) / 5)
        y = stats.beta.ppf([0.025, 0.975], 150.5, size)

        figures = region_figures(yards(mites, keepers))

        assert [figures.low, figures.high] == pytest.approx(size * y / (1 - y) / 7500, rel=1e-9)


def test_no_samples_suppressed_and_zero_are_three_things():
    none, few, zero = (region_figures(yards(mites), {"two": 0.02}) for mites in ([], [4, 2], [0] * 8))

    assert none == RegionFigures(0, 0, 0, reason=SuppressReason.NO_SAMPLES)
    assert few == RegionFigures(2, 2, 2, reason=SuppressReason.TOO_FEW_KEEPERS)
    assert (zero.rate, zero.low, zero.zeros, zero.reason) == (0.0, 0.0, 8, None)
    # Never narrower than finding none in all their bees as if they were one jar: 2.9957 / 12000.
    assert zero.high > -math.log(0.05) / 12000


def test_figures_without_an_action_level_have_no_share():
    figures = region_figures(yards([0, 3, 10, 60, 90]))
    assert figures.shares == {}
    assert figures.median is not None


@pytest.mark.parametrize(("mean", "shape", "number"), [(0.005, 1.2, 5), (0.02, 1.5, 10), (0.01, 1.5, 30)])
def test_range_of_the_rate_holds_the_truth(mean, shape, number):
    rng = np.random.default_rng(number)
    held = []
    for _ in range(600):
        rates = rng.gamma(shape, mean / shape, number) * rng.gamma(5, 0.2, number)
        found = [YardCount(int(m), 1500.0, 0.2, i) for i, m in enumerate(rng.poisson(rates * 1500))]
        figures = region_figures(found)
        held.append(figures.low <= mean <= figures.high)
    assert np.mean(held) == pytest.approx(0.95, abs=0.045)


def test_constants_are_stored_with_their_version():
    stored = DEFAULTS.as_stored()
    assert stored["method"] == METHOD_VERSION
    assert set(stored) == {"method"} | {name for name, _ in DEFAULTS.named()}
