"""Days as sheets write them: both orders, two-digit years, serial numbers, words of both languages."""

import datetime as dt

import pytest
from hypothesis import given
from hypothesis import strategies as some

from counts.imports.days import (
    SERIAL_START,
    SERIAL_START_1904,
    DayOrder,
    NotADay,
    TwoMeanings,
    orders_shown,
    read_sheet_day,
)

TODAY = dt.date(2026, 8, 14)
AUG_12 = dt.date(2026, 8, 12)
# 46246 is 12 Aug 2026 in a spreadsheet: independent calculation, days from 30 Dec 1899.
SAME_DAY = [
    "2026-08-12", "2026-08-12T00:00:00", "2026-08-12 14:30", "12.8.2026", "12.08.26", "12.8.26", "12 Aug 2026",
    "12. August 2026", "12. Aug 26", "Aug 12, 2026", "46246", "46246.5", "46246,25",
]  # fmt: skip


@pytest.mark.parametrize("text", SAME_DAY)
def test_one_day_in_many_ways(text: str) -> None:
    assert read_sheet_day(text, None, TODAY) == AUG_12


def test_slashes_that_can_be_two_days_are_not_guessed() -> None:
    with pytest.raises(TwoMeanings) as told:
        read_sheet_day("03/04/26", None, TODAY)

    assert (told.value.one, told.value.two) == (dt.date(2026, 4, 3), dt.date(2026, 3, 4))


@pytest.mark.parametrize(
    ("order", "day"), [(DayOrder.DAY_FIRST, dt.date(2026, 4, 3)), (DayOrder.MONTH_FIRST, dt.date(2026, 3, 4))]
)
def test_once_the_order_is_said_they_are_read(order: DayOrder, day: dt.date) -> None:
    assert read_sheet_day("03/04/26", order, TODAY) == day


def test_order_that_is_said_does_not_change_a_day_that_can_only_be_one() -> None:
    assert read_sheet_day("25/08/2025", DayOrder.MONTH_FIRST, TODAY) == dt.date(2025, 8, 25)
    assert read_sheet_day("03.04.26", DayOrder.MONTH_FIRST, TODAY) == dt.date(2026, 4, 3)


def test_two_digits_of_a_year_far_ahead_are_of_the_century_before() -> None:
    assert read_sheet_day("1.6.98", None, TODAY) == dt.date(1998, 6, 1)
    assert read_sheet_day("1.6.37", None, TODAY) == dt.date(1937, 6, 1)


@pytest.mark.parametrize(("text", "year"), [("12.8.27", 2027), ("12. Aug 27", 2027), ("12.8.36", 2036)])
def test_two_digits_of_a_year_soon_to_come_stay_in_the_future(text: str, year: int) -> None:
    assert read_sheet_day(text, None, TODAY) == dt.date(year, 8, 12)


def test_two_digits_near_the_end_of_a_century() -> None:
    assert read_sheet_day("12.8.03", None, dt.date(2095, 8, 14)) == dt.date(2103, 8, 12)
    assert read_sheet_day("12.8.99", None, dt.date(2101, 8, 14)) == dt.date(2099, 8, 12)


@pytest.mark.parametrize(
    ("text", "one", "two"),
    [("26-08-12", dt.date(2012, 8, 26), AUG_12), ("05-05-26", dt.date(2026, 5, 5), dt.date(2005, 5, 26))],
)
def test_dashes_that_may_begin_with_the_year_are_asked_about(text: str, one: dt.date, two: dt.date) -> None:
    with pytest.raises(TwoMeanings) as told:
        read_sheet_day(text, None, TODAY)

    assert (told.value.one, told.value.two) == (one, two)
    assert read_sheet_day(text, DayOrder.DAY_FIRST, TODAY) == one


def test_dashes_that_may_begin_with_the_year_show_no_order() -> None:
    assert orders_shown(["26-08-12"], TODAY) == (frozenset(), True)
    assert orders_shown(["31-08-26"], TODAY) == (frozenset({DayOrder.DAY_FIRST}), False)  # not in 2031
    assert orders_shown(["26/08/12", "26-08-2012"], TODAY) == (frozenset({DayOrder.DAY_FIRST}), False)


@pytest.mark.parametrize("text", ["soon", "31/02/2026", "12345", "0", "2026", "13.13.2026", "١٢/٨/٢٠٢٦x"])
def test_what_is_no_day_is_refused(text: str) -> None:
    with pytest.raises(NotADay):
        read_sheet_day(text, DayOrder.DAY_FIRST, TODAY)


def test_serials_of_a_workbook_that_counts_from_1904() -> None:
    assert read_sheet_day(str(46246 - 1462), None, TODAY, SERIAL_START_1904) == AUG_12


@given(some.dates(dt.date(1990, 1, 1), TODAY))
def test_serial_numbers_come_back_as_the_day_they_were(day: dt.date) -> None:
    assert read_sheet_day(str((day - SERIAL_START).days), None, TODAY) == day


@given(some.dates(dt.date(1937, 1, 1), TODAY), some.sampled_from(DayOrder))
def test_written_in_an_order_and_read_in_it_is_the_same_day(day: dt.date, order: DayOrder) -> None:
    text = day.strftime("%d/%m/%y" if order is DayOrder.DAY_FIRST else "%m/%d/%y")

    assert read_sheet_day(text, order, TODAY) == day


def test_other_days_of_the_sheet_show_the_order() -> None:
    assert orders_shown(["03/04/26", "25/04/26"], TODAY) == (frozenset({DayOrder.DAY_FIRST}), True)
    assert orders_shown(["03/04/26", "04/25/26", "25/04/26"], TODAY) == (frozenset(DayOrder), True)
    assert orders_shown(["03.04.26", "2026-01-02", "04/04/26"], TODAY) == (frozenset(), False)
