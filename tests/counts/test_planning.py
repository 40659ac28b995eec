"""What the page says of its plans in words, held against simulated yards."""

import math

import numpy as np
import pytest

from counts import planning

BETWEEN, WITHIN, BEES = (
    0.8,
    0.0515,
    285.0,
)  # what the page plans with: default spread, a wash by volume, 95 % found
YARDS = 6000


def weighed(k: int, of: int) -> planning._Weighed:
    return planning._Weighed(k=k, of=of, between_c2=BETWEEN, within_c2=WITHIN, bees=BEES)


def jars(rate: float, k: int, of: int, between: float = BETWEEN, seed: int = 71) -> np.ndarray:
    """Mites in jars of the first `k` colonies of yards of `of` colonies, whose true mean is just `rate`."""
    random = np.random.default_rng(seed)
    rates = random.gamma(1 / between, between, (YARDS, of))
    rates *= rate / rates.mean(axis=1, keepdims=True)
    return random.poisson(BEES * rates[:, :k] * random.gamma(1 / WITHIN, WITHIN, (YARDS, k)))


def stopped(
    rate: float, k: int, of: int, between: float = BETWEEN
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Called above, called below, and the mean at the stop, by the table of the page for a level of 3 per 100."""
    totals = jars(rate, k, of, between).cumsum(axis=1)
    table = planning._stops(0.03 * BEES, weighed(k, of))
    above = totals >= [one.above for one in table]
    below = totals <= [-1 if one.below is None else one.below for one in table]
    last = np.where((above | below).any(axis=1), (above | below).argmax(axis=1), k - 1)
    at = np.arange(YARDS)
    return above[at, last], below[at, last], totals[at, last] / (BEES * (last + 1))


@pytest.mark.parametrize(("k", "of"), [(3, 24), (8, 24), (11, 24), (5, 12)])
def test_mean_comes_as_close_as_told_two_times_in_three(k, of):
    told = planning._close(weighed(k, of), k, 0.03)
    means = 100 * jars(0.03, k, of).mean(axis=1) / BEES

    assert np.mean((told.low <= means) & (means <= told.high)) == pytest.approx(2 / 3, abs=0.06)
    assert np.std(means) == pytest.approx(3 * told.percent / 100, abs=0.06)


@pytest.mark.parametrize("k", [8, 12])
def test_stopping_early_calls_at_most_one_in_ten_wrongly(k):
    half, level = stopped(0.015, k, 400), stopped(0.03, k, 400)

    assert 0.02 < half[0].mean() < 0.10
    assert 0.02 < level[1].mean() < 0.10


def test_uneven_yards_are_called_wrongly_more_often():
    even, uneven = (stopped(0.03, 12, 400, between)[1].mean() for between in (BETWEEN, 2 * BETWEEN))

    assert uneven > 2 * even


def test_lines_are_too_careful_for_a_small_yard():
    endless, small = stopped(0.015, 8, 400), stopped(0.015, 8, 8)

    assert small[0].mean() < endless[0].mean() / 2
    assert small[0].mean() + small[1].mean() < endless[0].mean() + endless[1].mean()


def test_mean_after_stopping_early_lies_too_far_out():
    above, below, mean = stopped(0.0225, 12, 400)

    assert mean[above].mean() > 1.2 * 0.0225
    assert mean[below].mean() < 0.8 * 0.0225


def test_plan_goes_no_further_than_the_yard_or_twelve_stops():
    assert weighed(8, 24).more == 3
    assert weighed(8, 10).more == 2
    assert len(planning._stops(9, weighed(20, 20))) == 12


def test_range_of_a_mean_never_goes_below_none():
    assert planning._close(weighed(1, math.inf), 1, 0.001).low == 0
