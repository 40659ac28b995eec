"""The edges of plans, of what would settle a yard and of odd counts: each limit at, just inside and just outside."""

import math

import numpy as np
import pytest
from scipy import stats

from counts._decisions import decision_chances
from counts._intervals import chance_above
from counts._yards import between_part, yard_mean
from counts.constants import DEFAULTS
from counts.data_checks import Oddity, chance_of_as_many, odd_habits, odd_in_yard
from counts.estimate import colonies_to_settle
from counts.sampling_plan import colonies_for_decision, precision_of, stopping_lines

SPREADS = {"between_c2": 0.8, "within_c2": 0.0536}
C2 = 0.0536


@pytest.mark.parametrize("plan", [(1, 0.03, 300), (8, 0.03, 1), (8, 1.5, 300)])
def test_smallest_plan_has_a_precision(plan):
    assert 0 < precision_of(*plan, **SPREADS) < math.inf


@pytest.mark.parametrize("plan", [(0, 3, 1), (3, 3, 1), (3, 9, 0), (1.5, 3, math.inf), (0.5, 0.9, 0)])
def test_no_lines_without_a_plan(plan):
    assert stopping_lines(*plan, 0.1, 0.1) is None


def test_small_means_and_sizes_have_lines():
    assert stopping_lines(0.5, 0.9, 0.4, 0.1, 0.1) is not None


def test_first_guess_of_colonies_meets_the_worked_example():
    # By hand: k0 = (1.2816 + .8416)^2 v / ln(1.5 / 3)^2, v = .8 + .0536 + 1 / (300 sqrt(.015 x .03)); of 20 colonies
    # k = k0 / (1 + k0 (.8 / v) / 20) = 6.9, where simulation needs about 7.
    v = 0.8 + 0.0536 + 1 / (300 * math.sqrt(0.015 * 0.03))
    k0 = (1.2815515655 + 0.8416212336) ** 2 * v / math.log(0.5) ** 2

    assert colonies_for_decision(0.015, 0.03, 300, **SPREADS) == pytest.approx(k0, rel=1e-9)
    of_twenty = colonies_for_decision(0.015, 0.03, 300, **SPREADS, colonies=20)
    assert of_twenty == pytest.approx(k0 / (1 + k0 * (0.8 / v) / 20), rel=1e-9)
    assert of_twenty == pytest.approx(6.9, abs=0.05)


@pytest.mark.parametrize("plan", [(0, 0.03, 300), (0.015, 0, 300), (0.015, 0.03, 0), (0.03, 0.03, 300)])
def test_no_guess_where_there_is_no_plan(plan):
    assert colonies_for_decision(*plan, **SPREADS) == math.inf


@pytest.mark.parametrize(
    "odd", [{"certain_at": 0}, {"certain_at": 1}, {"right": 0}, {"right": 1}, {"colonies": 0}]
)
def test_no_guess_for_what_cannot_be(odd):
    assert colonies_for_decision(0.015, 0.03, 300, **SPREADS, **odd) == math.inf


def test_one_colony_that_is_the_yard_gets_calls():
    chances = decision_chances(1, 1, 0.1, 0.03)
    assert chances is not None and chances.above > 0.8


@pytest.mark.parametrize("odd", [{"bees": 0}, {"between_c2": -0.5}, {"within_c2": -0.5}, {"certain_at": 0.5}])
def test_no_chances_for_what_cannot_be(odd):
    assert decision_chances(5, 20, 0.02, 0.03, **odd) is None


def settle_by_hand(mites, bees, colonies, level):
    """The plan of the methods' page, colony by colony: further jars show the rate of those counted."""
    m, x = np.asarray(mites, float), np.asarray(bees, float)
    k, total, exposure = len(m), m.sum(), x.sum()
    apart = float(between_part(m, x, 0.8, C2, 4.0))
    for sampled in range(min(max(k, 3), colonies), colonies + 1):
        uneven = (
            min(max((float((m**2).sum()) - total) / total**2 * k / sampled, 1 / sampled), 1)
            if total > 1
            else 1 / sampled
        )
        c2 = apart * (1 - sampled / colonies) / sampled + C2 * uneven
        chance = float(chance_above(total * sampled / k, exposure * sampled / k, c2, level))
        if chance >= 0.9 or chance <= 0.1:
            return sampled
    return None


@pytest.mark.parametrize("mites", [(0, 0, 30), (6, 8, 6), (9, 9, 8), (1, 0, 2, 0), (0, 1), (5,), (0, 0, 1)])
@pytest.mark.parametrize("level", [0.005, 0.01, 0.02, 0.03, 0.05])
@pytest.mark.parametrize("colonies", [4, 7, 20])
def test_colonies_that_settle_are_those_of_the_plan(mites, level, colonies):
    found = colonies_to_settle(mites, [300] * len(mites), colonies, level)

    assert found == settle_by_hand(mites, [300] * len(mites), colonies, level)
    assert found is None or found <= colonies


@pytest.mark.parametrize(
    "odd",
    [
        {"mites": [-0.5, 3]},
        {"bees": [0, 300]},
        {"bees": [-1, 300]},
        {"recovery": 0},
        {"colonies": 1},
        {"mites": []},
    ],
)
def test_nothing_settles_what_cannot_be(odd):
    told = {"mites": [5, 3], "bees": [300, 300], "colonies": 8} | odd
    if not told["mites"]:
        told["bees"] = []
    assert (
        colonies_to_settle(
            told["mites"], told["bees"], told["colonies"], 0.1, recovery=told.get("recovery", 1)
        )
        is None
    )


def odd_by_hand(m, n, i):
    """Mid-p of the upper tail beside the rest, with scipy's negative binomial."""
    others, jars = np.delete(m, i), np.delete(n, i)
    k = len(others)
    apart = float(between_part(others, jars, 0.8, C2, 4.0))
    rest = yard_mean(others, jars)
    mean = n[i] * max(others.sum(), 0.5) / jars.sum()
    c2 = (1 + max(apart, 1.5) + C2) * (1 + max(float(rest.c2), 1.5 / k)) - 1
    size = 1 / c2
    law = stats.nbinom(size, size / (size + mean))
    return law.sf(m[i]) + 0.5 * law.pmf(m[i])


@pytest.mark.parametrize("others", [(2, 3, 1), (0, 0, 0), (9, 12, 4, 7, 10), (1, 30)])
def test_odd_colony_is_the_one_beyond_the_tail(others):
    n = np.full(len(others) + 1, 300.0)
    flagged = []
    for mites in range(0, 700, 3):
        m = np.asarray([*others, mites], float)
        odd = len(others) in odd_in_yard(m, n)
        assert odd == (odd_by_hand(m, n, len(others)) < DEFAULTS.odd_chance.value), mites
        flagged.append(odd)
    assert any(flagged) and not flagged[1]


@pytest.mark.parametrize("odd", [(math.nan, 300), (3, math.nan), (-1, 300), (3, 0), (math.inf, 300)])
def test_no_colony_is_odd_beside_a_count_that_cannot_be(odd):
    assert odd_in_yard([2, 3, 90, odd[0]], [300, 300, 300, odd[1]]) == ()


@pytest.mark.parametrize(
    ("mites", "mean", "c2"), [(-0.5, 3, 1), (3, 0, 1), (3, 3, -0.5), (math.inf, 3, 1), (3, math.inf, 1)]
)
def test_chance_of_what_cannot_be_is_one(mites, mean, c2):
    assert chance_of_as_many(mites, mean, c2) == 1.0


@pytest.mark.parametrize("c2", [0.0, 1.0])
def test_chance_at_zero_and_one_mite(c2):
    law = stats.poisson(2.0) if c2 == 0 else stats.nbinom(1.0, 1.0 / 3.0)
    for mites in (0, 1, 2):
        expected = law.sf(mites) + 0.5 * law.pmf(mites)
        assert chance_of_as_many(mites, 2.0, c2) == pytest.approx(expected, rel=1e-9)


def test_nine_round_counts_show_no_habit_and_ten_do():
    assert odd_habits([(10, 300)] * 9) == ()
    assert odd_habits([(10, 300)] * 10) == (Oddity.ROUND_NUMBERS,)
    assert odd_habits([(11, 300)] * 10) == ()
