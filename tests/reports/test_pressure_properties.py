"""What must hold of regional figures, whatever was counted."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as arrays

from reports.pressure import (
    PooledYards,
    Population,
    YardCount,
    design_effect,
    hide_small_groups,
    pool_yards,
    publishable,
    region_figures,
)

POPULATIONS = st.builds(Population, st.floats(0.001, 0.1), st.floats(0.2, 20.0))
YARD = st.builds(YardCount, st.integers(0, 10**9), st.integers(0, 10**9), st.floats(0, 6), st.integers(0, 9))
TABLES = arrays.arrays(
    np.int64, arrays.array_shapes(min_dims=2, max_dims=2, max_side=6), elements=st.integers(0, 40)
)

calm = settings(deadline=None, derandomize=True, max_examples=60)


@calm
@given(POPULATIONS, st.integers(0, 500), st.integers(50, 10**6), st.floats(0, 3))
def test_a_yard_lies_between_its_count_and_the_others(population, mites, bees, c2):
    pooled = pool_yards([mites], [bees], [c2], population=population)

    low, high = sorted((mites / bees, population.mean))
    assert low * (1 - 1e-9) <= pooled.means[0] <= high * (1 + 1e-9)


@calm
@given(POPULATIONS, st.floats(0.001, 0.2))
def test_a_yard_is_its_count_with_many_bees_and_the_others_with_none(population, rate):
    many = pool_yards([rate * 1e12], [1e12], [0.0], population=population)
    none = pool_yards([0], [1e-9], [0.0], population=population)

    assert many.means[0] == pytest.approx(rate, rel=1e-6)
    assert none.means[0] == pytest.approx(population.mean, rel=1e-6)


@calm
@given(st.lists(YARD, min_size=0, max_size=12), st.floats(0.001, 0.2), st.randoms())
def test_the_order_of_yards_does_not_matter(found, level, random):
    shuffled = random.sample(found, len(found))
    one, other = region_figures(found, {"a": level}), region_figures(shuffled, {"a": level})

    assert one.reason == other.reason
    if one.reason is not None:
        return
    for name in ("rate", "low", "high", "exposure", "c2", "tenth", "median", "ninetieth"):
        assert getattr(one, name) == pytest.approx(getattr(other, name), rel=1e-6, abs=1e-9)
    for name in ("share", "low", "high"):
        shares = getattr(one.shares["a"], name), getattr(other.shares["a"], name)
        assert shares[0] == pytest.approx(shares[1], rel=1e-6, abs=1e-9)


@calm
@given(st.lists(YARD, min_size=0, max_size=12), st.floats(0.001, 0.2))
def test_figures_are_numbers_in_order_or_none_and_a_reason(found, level):
    figures = region_figures(found, {"a": level})

    if figures.reason is not None:
        assert {figures.low, figures.rate, figures.high, figures.median} == {None}
        assert figures.shares == {}
        return
    share = figures.shares["a"]
    numbers = (figures.low, figures.rate, figures.high, share.low, share.share, share.high)
    assert figures.tenth <= figures.median <= figures.ninetieth
    assert all(math.isfinite(one) for one in numbers)
    assert 0 <= numbers[0] <= numbers[1] <= numbers[2]
    assert 0 <= numbers[3] <= numbers[4] <= numbers[5] <= 1


@calm
@given(st.lists(st.integers(1, 9), min_size=1, max_size=9))
def test_yards_count_in_full_only_with_one_for_each_keeper(owned):
    assert (design_effect(owned) == 1.0) == (set(owned) == {1})
    assert design_effect(owned) >= 1.0


@calm
@given(TABLES, st.integers(1, 20))
def test_no_total_gives_a_hidden_cell_away(counts, least):
    primary = (counts > 0) & (counts < least)
    hidden = hide_small_groups(counts, primary)

    assert (hidden.cells | ~primary).all()
    assert not hidden.cells[counts == 0].any()
    for axis, without in ((1, hidden.rows_without_total), (0, hidden.columns_without_total)):
        alone = np.flatnonzero(hidden.cells.sum(axis=axis) == 1)
        assert tuple(alone) == without
        shown = ((counts > 0) & ~hidden.cells).sum(axis=axis)
        assert (shown[alone] == 0).all()


@calm
@given(st.lists(st.integers(0, 40), max_size=2))
def test_two_keepers_are_never_shown_however_many_yards(owned):
    assert not publishable(owned)


@calm
@given(st.lists(st.integers(1, 9), min_size=1, max_size=9), st.randoms())
def test_publishable_does_not_depend_on_the_order(owned, random):
    assert publishable(owned) == publishable(random.sample(owned, len(owned)))


@calm
@given(st.lists(st.integers(0, 10**9), min_size=1, max_size=9), st.floats(0.01, 0.99))
def test_quantiles_grow(mites, share):
    pooled = pool_yards(mites, 1500.0, 0.2)

    assert isinstance(pooled, PooledYards)
    assert pooled.quantile(share / 2) <= pooled.quantile(share)
