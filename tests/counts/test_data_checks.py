"""Counts that do not fit their neighbours: against R's negative binomial and simulations made apart."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from counts.data_checks import Oddity, chance_of_as_many, change_z, odd_change, odd_habits, odd_in_yard
from counts.sentences import ODDITY_SENTENCES


def test_chance_of_as_many_meets_the_reference():
    # R: pnbinom(40, 1/1.5, mu=6, lower.tail=FALSE) + .5*dnbinom(40, 1/1.5, mu=6); likewise for 90 and mean 4.
    assert chance_of_as_many(40, 6, 1.5) == pytest.approx(0.006112671021, abs=5e-13)
    assert chance_of_as_many(90, 4, 1.5) == pytest.approx(2.698327e-07, rel=2e-7)


@pytest.mark.parametrize("mites", [0, 1, 7, 200])
@pytest.mark.parametrize("c2", [0.0, 0.4])
def test_chance_of_as_many_is_that_of_scipy(mites, c2):
    count = stats.nbinom(1 / c2, 1 / (1 + c2 * 6)) if c2 else stats.poisson(6)

    assert chance_of_as_many(mites, 6, c2) == pytest.approx(count.sf(mites) + count.pmf(mites) / 2)


def test_rise_meets_the_worked_example():
    # Calculated: (ln(30.5/3.5) - .05 x 14) / sqrt(1/3.5 + 1/30.5 + 2 x .0536)
    assert change_z(3, 300, 30, 300, 14) == pytest.approx(2.245300358, abs=5e-10)
    assert odd_change(3, 300, 30, 300, 14, treated_between=False) is None


def test_rise_faster_than_mites_breed_is_asked_about_and_a_slow_one_is_not():
    assert odd_change(3, 300, 60, 300, 7, treated_between=False) is Oddity.FAST_RISE
    assert odd_change(3, 300, 60, 300, 60, treated_between=False) is None


def test_fall_is_asked_about_only_without_a_treatment():
    assert odd_change(60, 300, 2, 300, 14, treated_between=False) is Oddity.FALL_UNTREATED
    assert odd_change(60, 300, 2, 300, 14, treated_between=True) is None


def test_rates_are_compared_not_mites():
    assert change_z(5, 100, 20, 400) < change_z(5, 100, 20, 100)
    assert change_z(10**6, 100, 4 * 10**6, 400) == pytest.approx(0, abs=1e-4)


def test_steady_colonies_are_hardly_ever_asked_about():
    # Independent simulation: under .0001 for either question.
    random = np.random.default_rng(41)
    rates = random.gamma(1.25, 0.02, 4000)
    pairs = random.poisson(300 * rates * random.gamma(1 / 0.0536, 0.0536, (2, 4000))).T
    asked = [odd_change(a, 300, b, 300, 14, treated_between=False) for a, b in pairs]

    assert sum(one is not None for one in asked) <= 4


# Independent simulation: jars of a yard held to be odd though nothing is, by how even colonies are (k).
@pytest.mark.parametrize(("k", "printed"), [(0.5, 0.019), (1, 0.0055), (2, 0.0013), (5, 0.0002)])
def test_true_counts_are_seldom_odd_in_their_yard(k, printed):
    random = np.random.default_rng(42)
    rates = random.gamma(k, 0.03 / k, (800, 8))
    yards = random.poisson(300 * rates * random.gamma(1 / 0.0536, 0.0536, rates.shape))
    flagged = sum(len(odd_in_yard(yard, 300)) for yard in yards) / yards.size

    assert flagged <= 1.5 * printed + 0.002


def test_ten_times_too_many_is_found_in_a_third_of_yards():
    # Independent simulation: a typing error of x 10 is found in 33-43 %.
    random = np.random.default_rng(43)
    rates = random.gamma(1.25, 0.03 / 1.25, (600, 8))
    yards = random.poisson(300 * rates * random.gamma(1 / 0.0536, 0.0536, rates.shape))
    yards[:, 0] *= 10
    found = np.mean([0 in odd_in_yard(yard, 300) for yard in yards])

    assert 0.28 <= found <= 0.48


def test_hot_colony_stands_out_by_its_place_and_two_colonies_never_do():
    assert odd_in_yard([3, 2, 90, 4], [300, 280, 310, 300]) == (2,)
    assert odd_in_yard([0, 900], 300) == ()


def test_counts_ending_in_five_and_nothing():
    heaped = [(10, 300), (15, 300), (20, 300), (25, 300), (10, 300)] * 3
    honest = [(11, 300), (13, 300), (20, 300), (24, 300), (17, 300)] * 3

    assert odd_habits(heaped) == (Oddity.ROUND_NUMBERS,)
    assert odd_habits(honest) == ()
    # Below ten mites every fifth number is common: that is no habit.
    assert odd_habits([(5, 300), (0, 300)] * 20) == ()


def test_ten_large_washes_without_a_mite_are_a_hint():
    # Poisson: 282 bees find none at 1 per 100 with chance exp(-2.82) = .0596; 281 with .0602.
    assert odd_habits([(0, 282)] * 10) == (Oddity.ALL_ZERO,)
    assert odd_habits([(0, 281)] * 10) == ()
    assert odd_habits([(0, 300)] * 9) == ()
    assert odd_habits([(0, 300)] * 10 + [(1, 300)]) == ()


def test_every_oddity_has_a_question_of_its_own():
    assert set(ODDITY_SENTENCES) == set(Oddity)
    assert len(set(ODDITY_SENTENCES.values())) == len(Oddity)
    assert "hot colony or a typing error?" in ODDITY_SENTENCES[Oddity.HOT_OR_TYPING]


wild = st.integers(0, 10**9)


@given(st.lists(st.tuples(wild, wild), max_size=6), wild)
def test_any_whole_numbers_give_questions_or_none(jars, days):
    mites, bees = [one for one, _ in jars], [one for _, one in jars]

    assert all(0 <= place < len(jars) for place in odd_in_yard(mites, bees))
    assert set(odd_habits(jars)) <= set(Oddity)
    for (a, x), (b, y) in zip(jars, jars[1:], strict=False):
        assert math.isfinite(change_z(a, x, b, y, days))
        assert 0 <= chance_of_as_many(a, b, x) <= 1
