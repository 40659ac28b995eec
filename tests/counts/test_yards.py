"""The mean of a yard against reference values."""

import math

import numpy as np
import pytest

from counts.estimate import Refusal, rate_interval, yard_mean

MITES, BEES = [3, 12, 5, 0, 9], [310, 295, 300, 280, 330]


def test_yard_mean_meets_the_worked_example():
    # R: svyratio(~m,~n,svydesign(ids=~id,weights=~1,data=d)) for the rate; the spread by hand (X2
    # 3.798473544, c_mom .482495439, c_b .614447719); k<-1/.114189963173838; y<-qbeta(c(.025,.975),29.5,k);
    # 100*k*y/(1-y)/1515
    yard = yard_mean(MITES, BEES, 12)

    assert yard.rate == pytest.approx(0.01914191419, abs=5e-12)
    assert yard.c2 == pytest.approx(0.114189963, abs=5e-10)
    assert (100 * yard.low, 100 * yard.high) == pytest.approx((0.9738179835, 4.5781065368))
    assert yard.chance_above(0.02) == pytest.approx(0.489769031, abs=5e-10)
    assert (yard.mites, yard.bees, yard.colonies_sampled) == (29, 1515, 5)
    assert yard.reason is None and not yard.rough


def test_whole_yard_without_jar_error_is_a_pooled_poisson_count():
    yard = yard_mean(MITES, BEES, 5, within_c2=0.0)

    assert (yard.low, yard.high) == pytest.approx(rate_interval(29, 1515, 0.0))


def test_range_widens_with_the_colonies_not_sampled():
    # Calculated: width 1.72 per 100 for the 5 of 5, without jar error, to 5.03 for 5 of 1000.
    widths = [
        yard_mean(MITES, BEES, of).high - yard_mean(MITES, BEES, of).low for of in (5, 8, 12, 50, 1000, None)
    ]

    assert widths == sorted(widths)
    assert widths[-1] > widths[0]
    assert 100 * widths[4] == pytest.approx(5.03, abs=5e-3)


def test_one_colony_of_many_gives_no_verdict_on_the_yard():
    assert yard_mean([9], [300], 12).reason is Refusal.ONE_COLONY
    assert yard_mean([9], [300]).reason is Refusal.ONE_COLONY
    assert yard_mean([9], [300], 1).reason is None


def test_two_colonies_of_many_are_rough_and_not_compared():
    assert yard_mean([9, 3], [300, 300], 12).rough
    assert not yard_mean([9, 3], [300, 300], 12).comparable
    assert yard_mean([9, 3], [300, 300], 2).comparable


def test_yard_without_samples_is_not_shown_as_zero():
    for yard in (yard_mean([], [], 12), yard_mean([0], [0], 12)):
        assert (yard.reason, yard.rate, yard.low, yard.high) == (Refusal.NO_BEES, None, None, None)


@pytest.mark.parametrize(
    ("mites", "bees"), [([-1, 3], [300, 300]), ([3, 3], [300, 0]), ([3, math.nan], [300, 300])]
)
def test_impossible_counts_give_a_reason(mites, bees):
    assert yard_mean(mites, bees, 5).reason is Refusal.NOT_A_COUNT


def test_none_found_in_the_yard_is_one_sided():
    yard = yard_mean([0, 0, 0], [300, 300, 300], 10)

    assert (yard.rate, yard.low, yard.one_sided) == (0, 0, True)
    assert yard.high > 0


def test_several_yards_at_once_equal_each_by_itself():
    yards = yard_mean([MITES, [9, 3, 0, 0, 0]], [BEES, [300, 300, 0, 0, 0]], [12, 30])

    single = yard_mean([9, 3], [300, 300], 30)
    assert yards.high[0] == pytest.approx(yard_mean(MITES, BEES, 12).high)
    assert (yards.low[1], yards.high[1]) == pytest.approx((single.low, single.high))
    assert list(yards.reason) == [None, None]
    assert list(yards.colonies_sampled) == [5, 2]


def test_recovery_scales_rate_and_range():
    half, whole = yard_mean(MITES, BEES, 12, recovery=0.5), yard_mean(MITES, BEES, 12)

    assert np.array([half.rate, half.low, half.high]) == pytest.approx(
        2 * np.array([whole.rate, whole.low, whole.high])
    )


@pytest.mark.parametrize("big", [[10**9] * 3, [0, 0, 10**9], [1, 1, 1]])
def test_any_whole_numbers_give_finite_numbers(big):
    for bees in ([1, 1, 1], [300] * 3, [10**9] * 3):
        yard = yard_mean(big, bees, 9)
        assert math.isfinite(yard.rate) and math.isfinite(yard.high)
        assert yard.low <= yard.rate <= yard.high
        assert 0 <= yard.chance_above(0.03) <= 1
