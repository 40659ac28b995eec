"""What must hold for every outlook."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from counts.estimate import Prior
from treatments.outlook import (
    NoOutlook,
    RoundsOutlook,
    TimeToLevel,
    brood_of,
    course,
    days_to_level,
    left_after,
    rounds_outlook,
    time_to_level,
)

calm = settings(deadline=None, derandomize=True, max_examples=60)
rates = st.floats(1e-4, 0.2)
growths = st.floats(1e-3, 0.1)
arrivals = st.floats(0, 0.01)
more = st.floats(1.01, 3)
stays = st.floats(2, 20)
kills = st.floats(0.05, 0.95)
schedules = st.sets(st.integers(0, 40), min_size=1, max_size=6)
wild = st.integers(0, 10**9)


@calm
@given(rates, more, growths, arrivals, more)
def test_days_rise_with_the_level_and_fall_with_all_that_grows(rate, times, growth, coming, factor):
    level = rate * times
    days = days_to_level(rate, level, growth, coming)

    assert days > 0
    assert days_to_level(rate, level * factor, growth, coming) > days
    assert days_to_level(rate * min(factor, times), level, growth, coming) < days
    assert days_to_level(rate, level, growth * factor, coming) < days
    assert days_to_level(rate, level, growth, coming + 0.001 * factor) < days


@calm
@given(rates, more, growths, st.floats(1e-4, 0.01))
def test_days_without_arrivals_or_growth_are_the_limits(rate, times, growth, coming):
    level = rate * times

    assert days_to_level(rate, level, growth, 1e-14) == pytest.approx(math.log(times) / growth, rel=1e-6)
    assert days_to_level(rate, level, 1e-14, coming) == pytest.approx((level - rate) / coming, rel=1e-6)
    assert days_to_level(rate, level, 0, coming) == pytest.approx((level - rate) / coming)
    assert days_to_level(rate, level, 0, 0) == math.inf


@calm
@given(st.integers(0, 60), st.integers(50, 1000), rates, st.floats(0, 200), st.floats(0, 200))
def test_chance_rises_with_the_day_and_the_mites(mites, bees, level, one, other):
    found, hotter = (time_to_level(m, bees, 0.0536, level) for m in (mites, mites + 5))

    assert found.chance_by(min(one, other)) <= found.chance_by(max(one, other))
    assert found.chance_by(one) <= hotter.chance_by(one)
    assert found.after(0.1) <= found.after(0.5) <= found.after(0.9)


@calm
@given(st.integers(8, 60), st.floats(0.001, 0.004))
def test_region_of_few_mites_puts_the_day_off(mites, mean):
    alone = time_to_level(mites, 300, 0.0536, 1.0)

    assert time_to_level(mites, 300, 0.0536, 1.0, prior=Prior(mean, 0.8)).after(0.5) > alone.after(0.5)


@calm
@given(stays, growths)
def test_untreated_colony_grows_as_told(stay, growth):
    total = course(brood_of(stay, growth), (), 0.9, 30).total

    assert total == pytest.approx(np.exp(growth * np.arange(31)))
    assert left_after([0], 0.0, stay, growth=growth).left == pytest.approx(1.0)


@calm
@given(schedules, kills, stays, arrivals)
def test_no_mite_is_lost_or_made_up(rounds, kill, stay, coming):
    found = course(brood_of(stay, 0.02), rounds, kill, 50, coming)

    assert 1.0 + found.born - found.died == pytest.approx(found.total)
    assert (found.on_bees >= 0).all() and (found.in_brood >= 0).all()


@calm
@given(schedules, kills, stays, st.integers(0, 40))
def test_more_kill_or_one_more_round_leaves_less(rounds, kill, stay, another):
    brood = brood_of(stay, 0.02)

    def left(days, each):
        return course(brood, days, each, 60).total[60]

    assert left(rounds, kill + 0.04) < left(rounds, kill)
    assert left(rounds | {another}, kill) <= left(rounds, kill)


@calm
@given(schedules, kills, stays, st.integers(0, 1000))
def test_rounds_later_in_the_year_leave_the_same_share(rounds, kill, stay, days):
    shifted = left_after([day + days for day in rounds], kill, stay)

    assert shifted == left_after(rounds, kill, stay)


@calm
@given(st.integers(1, 6))
def test_full_kill_without_brood_leaves_none(rounds):
    assert left_after(range(rounds), 1.0, None).left == 0


@calm
@given(wild, wild, wild, wild, st.integers(0, 10**9))
def test_any_whole_numbers_give_days_or_a_reason(mites, bees, c2, level, coming):
    found = time_to_level(mites, bees, c2, level, arrivals=coming)

    if isinstance(found, TimeToLevel):
        assert not np.isnan(found.days).any()
        assert (found.days >= 0).all()
    else:
        assert found in NoOutlook
    assert not np.isnan(days_to_level(mites, bees, c2, level))


@calm
@given(st.lists(wild, max_size=5), st.booleans(), wild)
def test_any_rounds_give_an_outlook_or_a_reason(days, brood, coming):
    for given_days in (days, [day % 100 for day in days]):
        found = rounds_outlook(given_days, brood=brood, arrivals=coming / 1e9)
        if isinstance(found, RoundsOutlook):
            assert found.least.left >= found.expected.left >= found.most.left >= 0
            assert math.isfinite(found.expected.jar_drop_at_recount)
        else:
            assert found is NoOutlook.NOT_A_PLAN
