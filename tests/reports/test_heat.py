"""Classes, marks and words of Region by month: pure."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from counts.samples import Kind
from reports.heat import (
    CLASSES,
    class_ends,
    heat_class,
    is_uncertain,
    share_words,
    trend_words,
    unusual_words,
)
from reports.trend import NoTrend, season_trend


@pytest.mark.parametrize("kind", [Kind.WASH, Kind.ROLL, Kind.BOARD])
def test_classes_double_and_each_end_begins_the_next(kind):
    ends = class_ends(kind)

    assert [after / before for before, after in zip(ends[:-1], ends[1:], strict=True)] == [2.0, 2.0, 2.0]
    assert [heat_class(end, kind) for end in ends] == [2, 3, 4, 5]
    assert [heat_class(math.nextafter(end, 0), kind) for end in ends] == [1, 2, 3, 4]
    assert heat_class(0.0, kind) == 1 and heat_class(1e9, kind) == CLASSES == 5


@given(st.floats(0, 1), st.floats(0, 1))
def test_a_higher_rate_never_has_a_lower_class(one, other):
    low, high = sorted((one, other))
    assert heat_class(low, Kind.WASH) <= heat_class(high, Kind.WASH)


# NCHS standards for rates, as summarised at https://stacks.cdc.gov/view/cdc/123462: relative width above 160 %, or
# fewer than 10 behind it.
@pytest.mark.parametrize(
    ("rate", "low", "high", "yards", "uncertain"),
    [
        (1.0, 0.4, 2.0, 10.0, False),
        (1.0, 0.4, 2.01, 10.0, True),
        (1.0, 0.9, 1.1, 9.99, True),
        (1.0, 0.9, 1.1, None, False),
        (0.0, 0.0, 0.1, 50.0, True),
    ],
)
def test_wide_ranges_and_few_yards_are_marked(rate, low, high, yards, uncertain):
    assert is_uncertain(rate, low, high, yards) is uncertain


@pytest.mark.parametrize(
    ("share", "yards", "told"),
    [
        ((0.37, 0.107, 0.718), 11, ("37 %", "10 to 72 %")),
        ((0.001, 0.0, 0.083), 19, ("<9 %", "0 to 9 %")),
        ((0.001, 0.0, 0.083), 20, ("<1 %", "0 to 9 %")),
        ((0.999, 0.917, 1.0), 19, (">91 %", "91 to 100 %")),
        ((0.999, 0.917, 1.0), 20, (">99 %", "91 to 100 %")),
    ],
)
def test_a_share_is_never_a_bare_0_or_100(share, yards, told):
    assert share_words(*share, yards) == told


@given(st.floats(0, 1), st.floats(0, 1), st.floats(0, 1), st.integers(1, 100))
def test_no_share_whatever_it_is_reads_0_or_100(one, two, three, yards):
    low, share, high = sorted((one, two, three))
    assert share_words(share, low, high, yards)[0] not in ("0 %", "100 %", "<0 %", ">100 %")


def test_an_unusual_month_is_named_with_its_years():
    # method's worked example: past 1.1, .8, 1.6, 1.2, .9, now 3.1: t 2.706, p .011
    past = [1.1, 0.8, 1.6, 1.2, 0.9]
    assert unusual_words(past, 3.1, "March") == "unusually high for March beside 5 earlier years"
    assert (
        unusual_words(past, 1.3, "March")
        == unusual_words([], 3.1, "March")
        == unusual_words(past[:2], 9, "March")
        == ""
    )


def _years(number, growth):
    return season_trend([[month * growth**year for month in (1.0, 2.0, 3.0, 4.0)] for year in range(number)])


def test_the_years_are_told_no_more_than_the_test_allows():
    assert trend_words(NoTrend.NO_YEARS) == ""
    assert (
        trend_words(_years(5, 1.1))
        == "Fewer than 6 years have figures: too few to say whether they rise or fall."
    )
    assert trend_words(_years(8, 1.1)) == "The months are rising over 8 years; the evidence is weak."
    assert trend_words(_years(8, 1.0)) == "No rise or fall can be told from 8 years."
    assert trend_words(_years(12, 1.1)) == "The months are rising over 12 years, by about 10 % a year."
    assert trend_words(_years(12, 0.9)) == "The months are falling over 12 years, by about 10 % a year."
