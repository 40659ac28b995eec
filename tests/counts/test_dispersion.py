"""The club's own spread against simulations made apart from the program."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from counts.dispersion import ClubSpread, NoSpread, club_spread


def clubs(yards, seed, number=200, bees=300):
    """Clubs whose yards have 2 to 4 colonies counted; total squared CV (1.8)(1.0536) - 1 = .896."""
    random = np.random.default_rng(seed)
    for _ in range(number):
        rates = random.gamma(1.25, 0.02 / 1.25, (yards, 4)) * random.gamma(1 / 0.0536, 0.0536, (yards, 4))
        counted, mites = random.integers(2, 5, yards), random.poisson(bees * rates)
        yield [[(m, bees) for m in yard[:k]] for yard, k in zip(mites, counted, strict=True)]


# Independent simulation, true .896. 30 yards: median .888, middle half .64-1.15; 100 yards: .73-1.03.
@pytest.mark.parametrize(("yards", "low", "high"), [(30, 0.64, 1.15), (100, 0.73, 1.03)])
def test_club_finds_its_spread(yards, low, high):
    found = [club_spread(club).total_c2 for club in clubs(yards, seed=1)]

    assert np.median(found) == pytest.approx(0.888, abs=0.06)
    assert np.quantile(found, [0.25, 0.75]) == pytest.approx([low, high], abs=0.1)


def test_equal_jars_are_the_plain_moments():
    # By hand: two jars of 2 and 10 mites: squares 32, chance (k-1) 6 = 6, room (k-1)(36 - 32/2) = 20.
    spread = club_spread([[(2, 300), (10, 300)]] * 30)

    assert spread == ClubSpread(pytest.approx(26 / 20), pytest.approx(1.3 - 0.0536), 30)


def test_unequal_jars_do_not_pass_for_unlike_colonies():
    random = np.random.default_rng(3)
    bees = np.array([100, 200, 300, 400, 500])
    club = [list(zip(random.poisson(0.05 * bees), bees, strict=True)) for _ in range(400)]

    assert club_spread(club).total_c2 == pytest.approx(0.0, abs=0.02)


def test_fewer_than_thirty_yards_of_two_colonies_do_not_replace_the_default():
    pairs = [[(3, 300), (9, 300)]] * 29

    assert club_spread(pairs) is NoSpread.FEW_YARDS
    assert club_spread([*pairs, [(5, 300)]]) is NoSpread.FEW_YARDS
    assert isinstance(club_spread([*pairs, [(5, 300), (4, 300)]]), ClubSpread)


def test_yards_without_mites_say_nothing():
    assert club_spread([[(0, 300), (0, 300)]] * 40) is NoSpread.FEW_MITES


jar = st.tuples(st.integers(0, 10**9), st.integers(0, 10**9))


@given(st.lists(jar, max_size=6))
def test_any_whole_numbers_give_a_spread_or_a_reason(yard):
    spread = club_spread([yard] * 30)

    if isinstance(spread, ClubSpread):
        assert 0 <= spread.between_c2 <= spread.total_c2 < np.inf
    else:
        assert spread in NoSpread
