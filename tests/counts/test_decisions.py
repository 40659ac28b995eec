"""The planner's chances against a simulation made apart from the program, and drawing colonies fairly."""

import math
from collections import Counter

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from counts import _decisions
from counts.estimate import yard_mean
from counts.sampling_plan import colonies_for_decision, decision_chances, draw_colonies, gain_of_more

# Independent simulation: chance of the right call in a yard of 20, level 3 per 100, between-colony c2 .8, for
# 3, 5, 8 and 12 colonies sampled. Printed to two digits; its own error and that of the lattice are .02.
RIGHT = [
    (0.010, (0.70, 0.90, 0.98, 1.0)),
    (0.015, (0.46, 0.65, 0.84, 0.97)),
    (0.020, (0.29, 0.38, 0.51, 0.72)),
    (0.045, (0.35, 0.46, 0.60, 0.78)),
    (0.060, (0.57, 0.72, 0.88, 0.97)),
]


@pytest.mark.parametrize(("rate", "printed"), RIGHT)
def test_chance_of_the_right_call_meets_the_simulation(rate, printed):
    chances = [decision_chances(k, 20, rate, 0.03).right for k in (3, 5, 8, 12)]

    assert chances == pytest.approx(printed, abs=0.02)


@pytest.mark.parametrize("sampled", [3, 5, 8, 12])
def test_at_the_level_itself_each_call_comes_one_time_in_nine(sampled):
    # The same simulation: .11 each side.
    at_level = decision_chances(sampled, 20, 0.03, 0.03)

    assert (at_level.below, at_level.above) == pytest.approx((0.11, 0.11), abs=0.02)
    assert (at_level.right, at_level.wrong) == (0.0, at_level.below + at_level.above)


@pytest.mark.parametrize(("sampled", "colonies", "rate"), [(4, 9, 0.02), (6, 6, 0.04), (5, math.inf, 0.015)])
def test_lattice_agrees_with_yards_drawn_at_random(sampled, colonies, rate):
    random, many = np.random.default_rng(7), sampled if math.isinf(colonies) else colonies
    rates = random.gamma(1.25, 1.0, (20_000, many))
    rates *= rate / (1.25 if math.isinf(colonies) else rates.mean(axis=1, keepdims=True))
    mites = random.poisson(300 * rates[:, :sampled] * random.gamma(1 / 0.0536, 0.0536, (20_000, sampled)))
    said = yard_mean(mites, np.full_like(mites, 300), colonies).chance_above(0.03)

    planned = decision_chances(sampled, colonies, rate, 0.03)

    assert planned.below == pytest.approx(np.mean(said <= 0.1), abs=0.02)
    assert planned.above == pytest.approx(np.mean(said >= 0.9), abs=0.02)


def test_same_plan_always_has_the_same_answer():
    first = decision_chances(5, 20, 0.02, 0.03)
    _decisions._lattice.cache_clear()
    decision_chances.cache_clear()

    assert decision_chances(5, 20, 0.02, 0.03) == first


def test_three_more_colonies_buy_a_quarter():
    # From the same simulation: .65 with 5 and .84 with 8 colonies at 1.5 per 100.
    five, eight = (decision_chances(k, 20, 0.015, 0.03) for k in (5, 8))

    assert gain_of_more(five, eight) == pytest.approx(0.19, abs=0.03)
    assert gain_of_more(five, None) is None


def test_two_colonies_of_many_get_no_call():
    chances = decision_chances(2, 20, 0.001, 0.03)

    assert (chances.right, chances.wrong, chances.no_call) == (0.0, 0.0, 1.0)
    assert decision_chances(2, 2, 0.001, 0.03).right > 0.9


def test_first_guess_meets_the_worked_example():
    # Calculated: 6.9 for 1.5 against 3 per 100 in a yard of 20; the simulation needs about 7 for .8.
    spread = {"between_c2": 0.8, "within_c2": 0.0536}
    guess = colonies_for_decision(0.015, 0.03, 300, colonies=20, **spread)

    assert guess == pytest.approx(6.9, abs=0.05)
    assert decision_chances(7, 20, 0.015, 0.03).right == pytest.approx(0.8, abs=0.04)
    assert colonies_for_decision(0.03, 0.03, 300, **spread) == math.inf


wild = st.integers(0, 10**9)


@settings(max_examples=40, deadline=None)
@given(wild, wild, wild, wild, wild)
def test_any_whole_numbers_give_chances_or_no_plan(sampled, colonies, rate, level, bees):
    chances = decision_chances(sampled, colonies, rate / 1e8, level / 1e8, bees=bees)

    if chances is not None:
        parts = (chances.below, chances.above, chances.no_call)
        assert all(0 <= one <= 1 for one in parts)
        assert sum(parts) == pytest.approx(1)


def test_impossible_plans_are_none():
    assert decision_chances(0, 20, 0.02, 0.03) is None
    assert decision_chances(21, 20, 0.02, 0.03) is None
    assert decision_chances(5, 20, 0.0, 0.03) is None
    assert decision_chances(5, 20, 0.02, 0.03, bees=0) is None


def test_draw_is_fair_without_repeats_and_the_same_for_a_seed():
    names = [f"colony {n}" for n in range(6)]
    draws = [draw_colonies(names, 2, 1, str(seed)) for seed in range(3000)]
    first = Counter(draw.chosen[0] for draw in draws)

    assert all(count == pytest.approx(500, abs=100) for count in first.values())
    assert all((len(draw.chosen), len(draw.spares)) == (2, 1) for draw in draws)
    assert all(len({*draw.chosen, *draw.spares}) == 3 for draw in draws)
    assert draw_colonies(reversed(names), 2, 1, "5") == draws[5]


def test_draw_keeps_its_order_when_a_colony_comes_or_goes():
    names = [f"colony {n}" for n in range(8)]
    whole = draw_colonies(names, 8, 0, "seed").chosen

    assert draw_colonies(names[:5] + names[6:], 8, 0, "seed").chosen == tuple(
        n for n in whole if n != names[5]
    )


def test_draw_takes_all_colonies_where_more_are_wanted():
    assert sorted(draw_colonies("cab", 5, 2, "1").chosen) == ["a", "b", "c"]
    assert draw_colonies("abc", 2, 5, "1").spares != ()
    assert draw_colonies("abc", -1, -1, "1").chosen == ()
