"""Trends against pymannkendall and simulated regions."""

import math

import numpy as np
import pymannkendall
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reports.trend import NoTrend, Trend, kendall_test, season_trend, sen_slope

SIX_YEARS = np.array(
    [
        [1.2, 2.1, 3.0, 4.4],
        [1.0, 2.5, 3.3, 4.0],
        [1.5, 2.4, 2.8, 5.1],
        [1.7, 2.9, 3.6, 5.0],
        [1.6, 3.1, 3.9, 5.6],
        [2.0, 3.0, 4.1, 6.2],
    ]
)


def test_seasons_apart_meet_the_reference():
    # pymannkendall.seasonal_test(x, period=4)
    test = kendall_test(SIX_YEARS, together=False)

    assert (test.s, test.variance) == (44, pytest.approx(113.333333, abs=5e-7))
    assert (test.z, test.p) == (pytest.approx(4.039146677), pytest.approx(5.364601e-05, rel=1e-6))
    assert sen_slope(SIX_YEARS) == pytest.approx(0.2)


def test_seasons_together_meet_the_reference():
    # pymannkendall.correlated_seasonal_test: variance 349.333333; it leaves out the correction for continuity
    # (z 2.354142), with which p is .021412055 by hand.
    test = kendall_test(SIX_YEARS)

    assert test.variance == pytest.approx(349.333333, abs=5e-7)
    assert test.p == pytest.approx(0.021412055, abs=5e-10)
    assert test.s / math.sqrt(test.variance) == pytest.approx(2.354142, abs=5e-7)


@pytest.mark.parametrize("seed", range(5))
@pytest.mark.parametrize("digits", [1, 0])
def test_any_table_with_ties_meets_the_reference_at_test_time(seed, digits):
    table = np.random.default_rng(seed).gamma(3, 1, (9, 6)).round(digits)
    apart = pymannkendall.seasonal_test(table.ravel(), period=6)
    together = pymannkendall.correlated_seasonal_test(table.ravel(), period=6)

    ours = kendall_test(table, together=False)
    assert (ours.s, ours.variance, ours.z) == pytest.approx((apart.s, apart.var_s, apart.z))
    assert kendall_test(table).variance == pytest.approx(together.var_s)
    assert sen_slope(table) == pytest.approx(apart.slope)


def test_missing_months_meet_the_reference():
    table = SIX_YEARS.copy()
    table[2, 1] = table[0, 3] = np.nan
    reference = pymannkendall.seasonal_test(table.ravel(), period=4)

    ours = kendall_test(table, together=False)
    assert (ours.s, ours.variance, ours.p) == pytest.approx((reference.s, reference.var_s, reference.p))


def region(years, slope, seed, sd=0.3, months=0.2):
    """Six months over years: a slope on the log scale, good and bad years as a whole, and months' own luck."""
    random = np.random.default_rng(seed)
    year = random.normal(0, sd, (years, 1)) + slope * np.arange(years)[:, None]
    return 0.02 * np.exp(year + random.normal(0, months, (years, 6)))


@pytest.mark.parametrize("years", [6, 8, 10])
def test_steady_regions_are_seldom_called_rising_or_falling(years):
    # Independent simulation, nominal .05: .00-.05 with the covariance, .15-.23 without.
    tables = [region(years, 0.0, seed) for seed in range(600)]
    called = np.mean([one.rising or one.falling for one in map(season_trend, tables)])
    without = np.mean([kendall_test(one, together=False).p < 0.05 for one in tables])

    assert called <= 0.07
    assert without >= 0.13


@pytest.mark.parametrize(("years", "power"), [(6, 0.15), (8, 0.55), (10, 0.92)])
def test_rise_of_a_tenth_a_year_is_found_as_often_as_told(years, power):
    # The same simulation, +10 % a year, year-to-year sd .15. How months vary by themselves is not told there:
    # .35 is our guess, so the match is a loose one.
    found = [season_trend(region(years, math.log(1.1), seed, 0.15, 0.35)).rising for seed in range(400)]

    assert np.mean(found) == pytest.approx(power, abs=0.12)


def test_years_decide_what_is_told():
    assert season_trend(np.full((4, 6), np.nan)) is NoTrend.NO_YEARS
    assert season_trend([]) is NoTrend.NO_YEARS
    assert season_trend(region(5, 0.1, 1)) is NoTrend.FEW_YEARS
    six, nine, ten = (season_trend(region(years, math.log(1.1), 1, sd=0.01)) for years in (6, 9, 10))

    assert (six.weak, six.per_year) == (True, None)
    assert (nine.weak, nine.per_year) == (True, None)
    assert (ten.weak, ten.rising, ten.falling) == (False, True, False)
    assert ten.per_year == pytest.approx(0.1, abs=0.02)


def test_empty_years_keep_their_place_but_do_not_count():
    table = np.vstack([region(3, 0.1, 2), np.full((4, 6), np.nan), region(2, 0.1, 3)])

    assert season_trend(table) is NoTrend.FEW_YEARS
    assert sen_slope([[1.0], [np.nan], [3.0]]) == 1.0


def test_nothing_that_varies_is_no_trend():
    trend = season_trend(np.full((12, 6), 0.02))

    assert (trend.test.p, trend.rising, trend.falling) == (1.0, False, False)
    assert season_trend(np.zeros((12, 6))).per_year is None


calm = settings(deadline=None, derandomize=True, max_examples=60)
tables = st.integers(6, 12).flatmap(
    lambda years: st.lists(
        st.lists(st.one_of(st.none(), st.integers(0, 10**9)), min_size=3, max_size=3),
        min_size=years,
        max_size=years,
    )
)


def as_table(rows):
    return np.array([[np.nan if one is None else float(one) for one in row] for row in rows])


@calm
@given(tables)
def test_turning_time_round_turns_the_sign(rows):
    forward, back = kendall_test(as_table(rows)), kendall_test(as_table(rows)[::-1])

    assert back.s == -forward.s
    assert back.p == pytest.approx(forward.p)


@calm
@given(tables)
def test_only_the_order_of_values_matters(rows):
    table = as_table(rows)

    assert kendall_test(np.sqrt(table) / 7 + 1) == kendall_test(table)


@calm
@given(tables)
def test_any_table_gives_a_trend_or_a_reason(rows):
    trend = season_trend(as_table(rows))

    if isinstance(trend, Trend):
        assert 0 <= trend.test.p <= 1
        assert not (trend.rising and trend.falling)
        assert trend.per_year is None or math.isfinite(trend.per_year)
    else:
        assert trend in NoTrend
