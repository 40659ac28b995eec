"""How much more counting would settle it."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from counts.estimate import (
    bees_to_settle,
    chance_above,
    colonies_to_settle,
    estimate_board,
    estimate_jar,
    yard_mean,
)
from counts.samples import BeesBy, BoardSample, JarSample, Method


def jar(mites, bees=300):
    return estimate_jar(JarSample(mites, bees, BeesBy.VOLUME, Method.ALCOHOL_WASH))


@pytest.mark.parametrize("mites", [0, 1, 30])
def test_count_that_decides_needs_no_more_bees(mites):
    assert bees_to_settle(jar(mites), 0.03) == 300


def test_more_bees_settle_it_at_the_first_jar_that_would():
    estimate = jar(6)
    bees = bees_to_settle(estimate, 0.03)
    jars = bees // 300

    def chance(number):
        return chance_above(6 * number, number * estimate.exposure, estimate.c2 / number, 0.03)

    assert jars > 1
    assert chance(jars) <= 0.1 < chance(jars - 1)


def test_rate_at_the_level_is_never_settled():
    assert bees_to_settle(jar(9, 300), 9 / 300 / 0.95) is None


def test_boards_and_refused_counts_are_not_settled_by_bees():
    assert bees_to_settle(estimate_board(BoardSample(23, 3)), 5.0) is None
    assert bees_to_settle(jar(3, 20), 0.03) is None


def test_more_colonies_settle_a_yard_at_the_first_number_that_would():
    assert colonies_to_settle([3, 12, 5, 0, 9], [310, 295, 300, 280, 330], 12, 0.03) == 6
    # The whole yard would not: 1.9 per 100 lies too close to 2.
    assert colonies_to_settle([3, 12, 5, 0, 9], [310, 295, 300, 280, 330], 12, 0.02) is None


def test_yard_that_is_settled_needs_the_colonies_it_has():
    settled = [1, 0, 2, 1, 0]

    assert yard_mean(settled, [300] * 5, 12).chance_above(0.03) < 0.1
    assert colonies_to_settle(settled, [300] * 5, 12, 0.03) == 5


def test_one_colony_never_settles_a_yard_by_itself():
    assert colonies_to_settle([0], [300], 10, 0.10) == 3
    assert colonies_to_settle([], [], 10, 0.03) is None
    assert colonies_to_settle([3, 3], [300, 300], 1, 0.03) is None


wild = st.integers(0, 10**9)


@given(st.lists(st.tuples(wild, wild), max_size=5), wild, wild)
def test_any_whole_numbers_give_a_number_or_none(jars, colonies, level):
    needed = colonies_to_settle([m for m, _ in jars], [n for _, n in jars], colonies, level)

    assert needed is None or len(jars) <= needed <= colonies
    for mites, bees in jars:
        settled = bees_to_settle(jar(mites, bees), level)
        assert settled is None or bees <= settled <= 20 * bees
