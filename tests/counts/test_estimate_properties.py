"""What must hold for every count, whatever its numbers."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from counts.action_levels import Level, LevelKind, LevelUnit, Standing, standing
from counts.constants import DEFAULTS
from counts.estimate import (
    Prior,
    chance_above,
    combined_c2,
    estimate_board,
    estimate_jar,
    rate_interval,
    yard_mean,
)
from counts.samples import BeesBy, BoardSample, JarSample, Method
from counts.sentences import estimate_sentence

mites = st.integers(0, 2000)
bees = st.integers(50, 5000)
spreads = st.one_of(st.just(0.0), st.floats(1e-4, 0.6))
rates = st.floats(1e-4, 0.5)
any_count = st.integers(0, 10**9)
jars = st.lists(st.tuples(st.integers(0, 300), st.integers(50, 600)), min_size=2, max_size=12)

calm = settings(deadline=None, derandomize=True, max_examples=60)


@calm
@given(mites, bees, spreads)
def test_limits_hold_the_rate_and_start_at_zero_only_without_mites(m, n, c2):
    low, high = rate_interval(m, n, c2)

    assert low <= m / n < high
    assert (low == 0) == (m == 0)


@calm
@given(mites, bees, spreads, rates)
def test_limits_and_chance_rise_with_the_mites(m, n, c2, level):
    few, more = rate_interval(m, n, c2), rate_interval(m + 1, n, c2)

    assert few[0] < more[0] and few[1] < more[1]
    assert chance_above(m, n, c2, level) <= chance_above(m + 1, n, c2, level)


@calm
@given(mites, bees, spreads, st.floats(0.1, 50))
def test_limits_times_exposure_depend_on_mites_and_spread_only(m, n, c2, factor):
    one, scaled = rate_interval(m, n, c2), rate_interval(m, n * factor, c2)

    assert np.multiply(scaled, factor) == pytest.approx(one, rel=1e-9)


@calm
@given(mites, bees, st.floats(0, 0.5), st.floats(1e-3, 0.5))
def test_range_widens_with_the_spread(m, n, c2, more):
    narrow, wide = rate_interval(m, n, c2), rate_interval(m, n, c2 + more)

    assert wide[1] - wide[0] > narrow[1] - narrow[0]


@calm
@given(st.integers(0, 300), bees)
def test_small_spread_meets_the_poisson_limits(m, n):
    assert rate_interval(m, n, 2e-6) == pytest.approx(rate_interval(m, n, 0.0), rel=1e-3)


@calm
@given(mites, bees, spreads, st.floats(0.5, 0.98))
def test_higher_level_gives_a_wider_range_around_the_narrower(m, n, c2, level):
    inner, outer = rate_interval(m, n, c2, level), rate_interval(m, n, c2, level + 0.015)

    assert outer[0] <= inner[0] and inner[1] < outer[1]


@calm
@given(st.integers(1, 2000), bees, spreads)
def test_exact_limits_lie_outside_the_usual_ones(m, n, c2):
    usual, exact = rate_interval(m, n, c2), rate_interval(m, n, c2, exact=True)

    assert exact[0] < usual[0] and usual[1] < exact[1]


@calm
@given(mites, bees, spreads, rates, rates)
def test_chance_falls_with_the_level_from_one_to_none(m, n, c2, one, other):
    low, high = sorted((one, other))

    assert chance_above(m, n, c2, low) >= chance_above(m, n, c2, high)
    assert chance_above(m, n, c2, 0.0) == 1
    assert chance_above(m, n, c2, math.inf) == pytest.approx(0, abs=1e-9)


@calm
@given(st.integers(1, 2000), bees, spreads)
def test_chance_at_a_limit_is_its_tail(m, n, c2):
    low, high = rate_interval(m, n, c2)

    assert chance_above(m, n, c2, low) == pytest.approx(0.975, abs=1e-7)
    assert chance_above(m, n, c2, high) == pytest.approx(0.025, abs=1e-7)


@calm
@given(mites, bees, st.floats(1e-4, 0.5), rates, st.floats(1e-3, 0.2), st.floats(0.1, 5))
def test_chance_with_a_prior_is_between_none_and_one_and_falls(m, n, c2, level, mean, shape):
    prior = Prior(mean, shape)

    assert 1 >= chance_above(m, n, c2, level, prior) >= chance_above(m, n, c2, 2 * level, prior) >= 0


@calm
@given(mites, bees)
def test_half_the_recovery_doubles_the_estimate(m, n):
    whole = yard_mean([m], [n], 1)
    half = yard_mean([m], [n], 1, recovery=0.5)

    assert (half.rate, half.low, half.high) == pytest.approx((2 * whole.rate, 2 * whole.low, 2 * whole.high))


@calm
@given(jars, st.randoms(use_true_random=False))
def test_yard_does_not_depend_on_the_order_of_its_colonies(found, random):
    shuffled = random.sample(found, len(found))
    one, other = (yard_mean(*zip(*each, strict=True), 40) for each in (found, shuffled))

    assert (one.rate, one.low, one.high) == pytest.approx((other.rate, other.low, other.high))


@calm
@given(jars)
def test_whole_yard_without_jar_error_is_pooled_poisson(found):
    m, n = zip(*found, strict=True)
    yard = yard_mean(m, n, len(found), within_c2=0.0)

    assert (yard.low, yard.high) == pytest.approx(rate_interval(sum(m), sum(n), 0.0))


@calm
@given(jars, st.integers(0, 100), st.integers(1, 1000))
def test_yard_range_widens_with_the_colonies_not_sampled(found, more, still_more):
    m, n = zip(*found, strict=True)
    small, large = (yard_mean(m, n, len(found) + extra) for extra in (more, more + still_more))

    assert large.high >= small.high * (1 - 1e-12)
    assert large.low <= small.low * (1 + 1e-12)


@calm
@given(st.integers(0, 2000), st.floats(0.5, 3))
def test_longer_board_with_the_same_drop_is_narrower(m, days):
    short, long = estimate_board(BoardSample(m, days)), estimate_board(BoardSample(2 * m, 2 * days))

    assert short.rate == pytest.approx(long.rate)
    assert long.high - long.low < short.high - short.low


@calm
@given(st.integers(20, 2000), st.floats(1, 7))
def test_half_the_board_gives_the_rate_of_twice_the_mites_with_a_wider_range(m, days):
    half, whole = estimate_board(BoardSample(m, days, 0.5)), estimate_board(BoardSample(2 * m, days))

    assert half.rate == pytest.approx(whole.rate)
    assert half.low < whole.low and half.high > whole.high


@calm
@given(any_count, any_count, st.sampled_from(Method), st.sampled_from(BeesBy))
def test_jar_gives_numbers_or_a_reason_and_a_sentence(m, n, method, bees_by):
    estimate = estimate_jar(JarSample(m, n, bees_by, method))
    told = (estimate.rate, estimate.low, estimate.high)

    assert all(one is None for one in told) if estimate.reason else all(map(math.isfinite, told))
    assert estimate_sentence(estimate)


@calm
@given(any_count, any_count, st.floats(0, 1), st.booleans())
def test_board_gives_numbers_or_a_reason_and_a_sentence(m, days, share, treated):
    estimate = estimate_board(BoardSample(m, days, share), treatment_in_hive=treated)

    assert estimate.reason or estimate.low <= estimate.rate <= estimate.high < math.inf
    assert "%" not in estimate_sentence(estimate)


@calm
@given(st.lists(st.tuples(any_count, any_count), max_size=6), any_count)
def test_yard_gives_numbers_or_a_reason_and_never_nan(found, colonies):
    yard = yard_mean([m for m, _ in found], [n for _, n in found], colonies)

    if yard.rate is None:
        assert yard.reason is not None
    else:
        assert 0 <= yard.low <= yard.rate <= yard.high
    assert 0 <= yard.chance_above(0.03) <= 1


@calm
@given(mites, st.integers(50, 1000), st.floats(0.1, 20), st.floats(0.1, 20))
def test_standing_never_rises_with_the_action_level(m, n, one, other):
    order = [Standing.ABOVE, Standing.EITHER_SIDE, Standing.BELOW]
    levels = (
        Level("k", "i", "r", LevelKind.JAR, LevelUnit.PER_100_BEES, at, True, "m", "s")
        for at in sorted((one, other))
    )
    estimate = estimate_jar(JarSample(m, n, BeesBy.VOLUME, Method.SOAP_WASH))

    first, second = (order.index(standing(estimate, level)) for level in levels)
    assert first <= second


@calm
@given(st.lists(st.floats(0, 1), max_size=5))
def test_combined_spread_is_at_least_the_sum_and_ignores_order(cvs):
    c2 = combined_c2(*cvs)

    assert c2 >= sum(cv**2 for cv in cvs) - 1e-12
    assert c2 == pytest.approx(combined_c2(*reversed(cvs)))


def test_default_jar_spread_is_the_product_of_its_parts():
    estimate = estimate_jar(JarSample(9, 300, BeesBy.VOLUME, Method.SUGAR_ROLL), DEFAULTS)

    assert estimate.c2 == pytest.approx(combined_c2(0.10, 0.20, 0.055 / 0.929))
