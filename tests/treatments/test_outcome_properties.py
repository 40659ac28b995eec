"""What must hold of every outcome, whatever was counted."""

import math

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from treatments.outcome import (
    Verdict,
    abbott,
    drop_against_controls,
    drop_in_mites,
    drop_on_boards,
    mites_needed,
)

calm = settings(deadline=None, derandomize=True, max_examples=60)

MITES = st.integers(0, 10**9)
FEW = st.integers(0, 400)
TREATED = st.one_of(st.none(), st.integers(0, 10**9), st.just(math.inf))
JARS = st.lists(st.tuples(MITES, MITES, MITES, MITES), min_size=0, max_size=6)


def columns(rows):
    return [list(column) for column in zip(*rows, strict=True)] if rows else [[], [], [], []]


def is_answer_or_refusal(outcome):
    """Either three finite numbers in order (the drop may lie outside), or none and a reason; never NaN."""
    numbers = (outcome.drop, outcome.low, outcome.high)
    if None in numbers:
        return numbers == (None, None, None) and outcome.reason is not None
    return all(math.isfinite(one) for one in numbers) and outcome.low <= outcome.high <= 1.0


@calm
@given(JARS, TREATED, st.one_of(st.none(), st.integers(0, 10**9)))
def test_any_counts_give_an_answer_or_a_reason(rows, treated, days):
    before, bees_before, after, bees_after = columns(rows)
    growth = None if days is None else (0.02, 0.006)

    outcome = drop_in_mites(
        before, bees_before, after, bees_after, treated_colonies=treated, days_between=days, growth=growth
    )

    assert is_answer_or_refusal(outcome)
    assert isinstance(outcome.verdict, Verdict)


@calm
@given(JARS, JARS)
def test_any_controls_and_boards_give_an_answer_or_a_reason(rows, others):
    assert is_answer_or_refusal(drop_against_controls(*columns(rows), *columns(others)))
    assert is_answer_or_refusal(drop_on_boards(*columns(rows)))
    assert is_answer_or_refusal(abbott(*columns(rows)[2:], *columns(others)[2:]))


@calm
@given(st.integers(5, 400), FEW, st.integers(1, 50))
def test_limits_fall_with_mites_after_and_rise_with_mites_before(before, after, more):
    one = drop_in_mites(before, 300, after, 300)
    worse = drop_in_mites(before, 300, after + more, 300)
    better = drop_in_mites(before + more, 300, after, 300)

    assert worse.low < one.low < better.low
    assert worse.high < one.high or after == 0
    assert one.high < better.high or after == 0


@calm
@given(st.integers(5, 400), st.integers(5, 400), st.integers(50, 2000), st.integers(50, 2000))
def test_swapping_before_and_after_turns_the_ratio_over(before, after, bees_before, bees_after):
    # One colony each, so the spread is the same both ways.
    there = drop_in_mites(before, bees_before, after, bees_after)
    back = drop_in_mites(after, bees_after, before, bees_before)

    assert (1 - there.high) * (1 - back.low) == pytest.approx(1.0, rel=1e-6)


@calm
@given(st.integers(5, 400), FEW, st.integers(50, 1000), st.integers(2, 9))
def test_scaling_both_exposures_changes_nothing(before, after, bees, times):
    one = drop_in_mites(before, bees, after, 400)
    scaled = drop_in_mites(before, bees * times, after, 400 * times)

    limits = (one.drop, one.low, one.high)
    assert (scaled.drop, scaled.low, scaled.high) == pytest.approx(limits)


@calm
@given(st.lists(st.tuples(st.integers(1, 60), st.integers(0, 60)), min_size=2, max_size=8))
def test_range_widens_with_the_colonies_it_speaks_for(rows):
    before, after = (list(column) for column in zip(*rows, strict=True))
    assume(sum(before) >= 5)

    these, yard, all_ = (
        drop_in_mites(before, 300, after, 300, treated_colonies=n) for n in (len(rows), 12, math.inf)
    )

    assert these.high - these.low <= yard.high - yard.low + 1e-12
    assert yard.high - yard.low <= all_.high - all_.low + 1e-12


@calm
@given(st.integers(5, 400), FEW, st.floats(0.5, 0.98), st.floats(0.001, 0.02))
def test_raising_the_target_never_makes_it_better(before, after, target, more):
    low, high = (
        drop_in_mites(before, 1500, after, 1500, target=one, floor=0.5) for one in (target, target + more)
    )
    if high.verdict is Verdict.WORKED:
        assert low.verdict is Verdict.WORKED
    if low.verdict is Verdict.DID_NOT_WORK:
        assert high.verdict is Verdict.DID_NOT_WORK


@calm
@given(st.integers(5, 400), FEW, st.floats(0.1, 0.85), st.floats(0.001, 0.05))
def test_raising_the_floor_never_makes_it_work(before, after, floor, more):
    low, high = (drop_in_mites(before, 1500, after, 1500, floor=one) for one in (floor, floor + more))
    if high.verdict is Verdict.WORKED:
        assert low.verdict is Verdict.WORKED


@calm
@given(st.lists(FEW, min_size=1, max_size=6), TREATED)
def test_none_after_is_never_a_failure(before, treated):
    outcome = drop_in_mites(before, 300, [0] * len(before), 300, treated_colonies=treated)

    assert outcome.verdict not in (Verdict.DID_NOT_WORK, Verdict.FELL_SHORT)


@calm
@given(st.integers(0, 16), FEW, TREATED)
def test_fewer_than_seventeen_mites_never_show_that_it_worked(before, after, treated):
    outcome = drop_in_mites(before, 300, after, 300, treated_colonies=treated, floor=0.8)
    assert outcome.verdict is not Verdict.WORKED


@calm
@given(st.integers(50, 400), st.integers(0, 400))
def test_steady_controls_by_the_million_leave_the_plain_drop(before, after):
    plain = drop_in_mites(before, 1500, after, 1500)
    steady = drop_against_controls(before, 1500, after, 1500, 10**8, 10**8, 10**8, 10**8)

    assert steady.drop == pytest.approx(plain.drop)
    assert steady.low < plain.low + 1e-9


@calm
@given(st.integers(10, 400), st.integers(1, 400), st.integers(10, 400), st.integers(2, 5))
def test_common_growth_leaves_the_drop_against_controls(before, after, control, times):
    one = drop_against_controls(before, 300, after, 300, control, 300, control, 300)
    grown = drop_against_controls(before, 300, after * times, 300, control, 300, control * times, 300)

    assert grown.drop == pytest.approx(one.drop)


@calm
@given(st.integers(5, 400), st.integers(1, 400), st.integers(1, 7), st.integers(1, 7))
def test_boards_that_hung_twice_as_long_say_the_same_more_closely(before, after, days_before, days_after):
    one = drop_on_boards(before, days_before, after, days_after)
    twice = drop_on_boards(2 * before, 2 * days_before, 2 * after, 2 * days_after)
    half_counted = drop_on_boards(before, days_before, after, days_after, share_counted=0.5)

    assert twice.drop == pytest.approx(one.drop) == half_counted.drop
    assert twice.high - twice.low < one.high - one.low < half_counted.high - half_counted.low


@calm
@given(st.floats(-0.5, 0.99), st.floats(0.05, 20.0))
def test_mites_needed_is_the_smallest_number_that_shows_it(floor, ratio):
    # Exact upper limit of the ratio with none after: (1 / 0.05^(1/m) - 1), for equal exposures.
    needed = mites_needed(floor, ratio)
    limit = [1 - (0.05 ** (-1 / m) - 1) / ratio if m else -math.inf for m in (needed - 1, needed)]

    assert limit[0] <= floor + 1e-9
    assert limit[1] >= floor - 1e-9
