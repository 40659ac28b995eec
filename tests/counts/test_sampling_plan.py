"""Plans against worked examples."""

import csv
import math
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from counts import sampling_plan
from counts.sampling_plan import (
    colonies_for_precision,
    finite_yard,
    precision_of,
    stopping_lines,
    units_for_precision_nb,
)

EXAMPLES = Path(__file__).parents[2] / "fixtures" / "worked_examples" / "sampling_plan.csv"
FUNCTIONS = (
    sampling_plan.units_for_precision_nb,
    sampling_plan.units_for_precision_taylor,
    sampling_plan.mites_for_precision_poisson,
    sampling_plan.finite_yard,
    sampling_plan.colonies_for_precision,
)


def examples():
    with EXAMPLES.open(newline="") as file:
        return [pytest.param(row, id=row["id"]) for row in csv.DictReader(file)]


@pytest.mark.parametrize("row", examples())
def test_plan_meets_the_worked_example(row):
    given = dict(pair.split("=") for pair in row["inputs"].split())
    function = {one.__name__: one for one in FUNCTIONS}[given.pop("function")]
    expected = row["expected"].removeprefix("value=")

    value = function(**{name: float(one) for name, one in given.items()})

    assert value == pytest.approx(float(expected), abs=0.5 * 10.0 ** -len(expected.partition(".")[2]))


def test_stopping_lines_meet_the_worked_example():
    # Calculated: Wald's lines for 1 against 3 mites per 100 bees in jars of 300, k = 1, both errors .1.
    lines = stopping_lines(3, 9, 1, 0.1, 0.1)

    assert lines.slope == pytest.approx(5.025685103, abs=5e-10)
    assert lines.above == pytest.approx(12.051370205, abs=5e-10)
    assert lines.below == pytest.approx(-12.051370205, abs=5e-10)


@pytest.mark.parametrize(
    ("low", "high", "k", "slope", "h"),
    [
        (3, 9, 2, 5.074, 7.618),
        (3, 9, 1, 5.022, 12.583),
        (4.5, 9, 2, 6.294, 14.215),
        (6, 12, 2, 8.377, 17.870),
    ],
)
def test_stopping_lines_of_common_plans(low, high, k, slope, h):
    # Calculated, with the size lowered by the scatter inside a jar: 1 / (1/k + .0536).
    lines = stopping_lines(low, high, 1 / (1 / k + 0.0536), 0.1, 0.1)

    assert lines.slope == pytest.approx(slope, abs=6e-4)
    assert (lines.above, -lines.below) == pytest.approx((h, h), abs=6e-4)


def test_upper_line_is_where_the_likelihood_ratio_reaches_nine():
    # ln 9 = 2.197224577: the log likelihood ratio of a total on the upper line, whatever the number of
    # colonies.
    lines, total_of = stopping_lines(3, 9, 1, 0.1, 0.1), lambda i: lines.slope * i + lines.above

    for i in (1, 5, 12):
        ratio = total_of(i) * math.log(9 * 4 / (3 * 10)) - i * math.log(10 / 4)
        assert ratio == pytest.approx(2.197224577, abs=1e-9)


def test_likelihood_ratio_of_four_colonies_stays_between_the_lines():
    # scipy: sum of nbinom.logpmf differences for (2, 7, 0, 11) is -.018731792.
    counts = (2, 7, 0, 11)
    ratio = sum(stats.nbinom.logpmf(m, 1, 1 / 10) - stats.nbinom.logpmf(m, 1, 1 / 4) for m in counts)

    assert ratio == pytest.approx(-0.018731792, abs=5e-10)
    assert stopping_lines(3, 9, 1, 0.1, 0.1).call(sum(counts), 4) == "go on"


def test_stopping_calls_at_and_beyond_the_lines():
    lines = stopping_lines(3, 9, 1, 0.1, 0.1)

    assert lines.call(18, 1) == "above"
    assert lines.call(17, 1) == "go on"
    assert lines.call(0, 2) == "go on"
    assert lines.call(0, 3) == "below"


@pytest.mark.parametrize(
    "plan", [(9, 3, 1, 0.1, 0.1), (3, 3, 1, 0.1, 0.1), (0, 3, 1, 0.1, 0.1), (3, 9, 1, 0.6, 0.5)]
)
def test_impossible_plan_is_none(plan):
    assert stopping_lines(*plan) is None


def test_plan_without_mites_or_bees_is_endless():
    assert units_for_precision_nb(0, 1, 0.25) == math.inf
    assert colonies_for_precision(0, 300, between_c2=0.4, within_c2=0.05) == math.inf
    assert colonies_for_precision(0.02, 0, between_c2=0.4, within_c2=0.05) == math.inf


def test_finite_yard_never_needs_more_than_it_has():
    assert finite_yard(math.inf, 12) == 12
    assert finite_yard(8, 10**6) == pytest.approx(8, rel=1e-4)
    assert finite_yard(8, 0) == 0


def test_eight_colonies_are_a_quarter_precision_plan_for_even_yards():
    # Eight colonies of 300 bees: Lee et al. 2010 (abstract). D = .27 at 3 per 100 and c_b2 = .4 is
    # calculated.
    needed = colonies_for_precision(0.03, 300, between_c2=0.4, within_c2=0.0536, precision=0.27)

    assert needed == pytest.approx(8, abs=0.3)


@pytest.mark.parametrize(("between", "printed"), [(0.2, 0.21), (0.4, 0.27), (0.8, 0.35), (2, 0.52)])
def test_precision_of_eight_colonies(between, printed):
    # Eight colonies of 300 bees (Lee et al. 2010, abstract) at 3 per 100: precision calculated by the formula.
    assert precision_of(8, 0.03, 300, between_c2=between, within_c2=0.0536) == pytest.approx(
        printed, abs=5e-3
    )


@given(st.integers(1, 200), st.floats(1e-4, 0.5), st.floats(50, 1000), st.floats(0, 3), st.integers(0, 1000))
def test_precision_and_colonies_are_each_others_inverse(k, rate, bees, between, more):
    plan = {"between_c2": between, "within_c2": 0.0536, "colonies": k + more}
    precision = precision_of(k, rate, bees, **plan)

    assert colonies_for_precision(rate, bees, precision=precision, **plan) == pytest.approx(k, rel=1e-6)
    assert precision_of(k + 1, rate, bees, **(plan | {"colonies": k + more + 1})) > 0


@pytest.mark.parametrize("odd", [(0, 0.03, 300), (8, 0, 300), (8, 0.03, 0), (8, 0.03, 300, 7)])
def test_no_precision_where_there_is_no_plan(odd):
    of = odd[3] if len(odd) > 3 else math.inf
    assert precision_of(*odd[:3], between_c2=0.8, within_c2=0.05, colonies=of) == math.inf
