"""Days as sheets write them: words, numbers with two orders, two-digit years, serial numbers of spreadsheets. Pure."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterable
from enum import StrEnum

from apiaries.typed import NotRead, read_day


class DayOrder(StrEnum):
    """Which of the first two numbers of 03/04/26 is the day."""

    DAY_FIRST = "day_first"
    MONTH_FIRST = "month_first"


class TwoMeanings(ValueError):
    """The day can be either of these, and nobody said which."""

    def __init__(self, one: dt.date, two: dt.date) -> None:
        super().__init__(f"{one} or {two}")
        self.one, self.two = one, two


class NotADay(ValueError):
    """The text is no day."""


SERIAL_START = dt.date(1899, 12, 30)
"""Day 0 of a spreadsheet's serial numbers, for days after 28 Feb 1900 (ECMA-376 part 1, 18.17.4.1, 1900 date base)."""
SERIAL_START_1904 = dt.date(1904, 1, 1)
"""The same in workbooks that say they count from 1904."""
FIRST_SERIAL = 32_874
"""1 Jan 1990: a smaller number in a column of dates is more likely something else (our choice)."""
LONG_AGO = dt.date(1980, 1, 1)
"""A day before this one is more likely a slip of the pen than a count (our choice)."""
YEARS_AHEAD = 10
"""A year of two digits is at most so many years ahead (our choice): 27 written in 2026 is a slip, not 1927."""

_TIME = re.compile(r"[T ,]+\d{1,2}[:.]\d{2}(?:[:.]\d{2}(?:\.\d+)?)?(?:\s*(?:uhr|h|am|pm))?$", re.IGNORECASE)
_THREE = re.compile(r"(\d{1,2})\s*([./-])\s*(\d{1,2})\s*\2\s*(\d{4}|\d{2})\.?")
_SERIAL = re.compile(r"(\d{5})(?:[.,]\d+)?")
_SHORT_YEAR = re.compile(r"(.*[^\d\s.,'-])[\s.,'-]+(\d{2})")


def read_sheet_day(
    text: str, order: DayOrder | None, today: dt.date, serial_start: dt.date = SERIAL_START
) -> dt.date:
    """The day a cell means. Errors: `TwoMeanings` where it can be two days and no order is given; `NotADay`.

    Dots put the day first wherever they are used (common practice, no source); so 03.04.26 is never asked about.
    26-08-12 may begin with its year, so it is asked about until an order is given, though no month is 26.
    """
    typed = _TIME.sub("", text.strip())
    if found := _SERIAL.fullmatch(typed):
        if int(found[1]) >= FIRST_SERIAL:
            return serial_start + dt.timedelta(days=int(found[1]))
        raise NotADay(text)
    if found := _THREE.fullmatch(typed):
        day = _of_three(int(found[1]), int(found[3]), _year(found[4], today), found[2], order)
        if order is None and (other := year_first(text, today)) is not None and other != day:
            raise TwoMeanings(day, other)
        return day
    if found := _SHORT_YEAR.fullmatch(typed):
        typed = f"{found[1]} {_year(found[2], today)}"
    try:
        return read_day(typed)
    except NotRead as error:
        raise NotADay(text) from error


def year_first(text: str, today: dt.date) -> dt.date | None:
    """The day that 26-08-12 is if its year comes first; None where it is no likely one (`LONG_AGO` to today).

    Only between dashes, as ISO 8601 writes days.
    """
    found = _THREE.fullmatch(_TIME.sub("", text.strip()))
    if found is None or found[2] != "-" or len(found[1]) != 2 or len(found[4]) != 2:
        return None
    day = _made(_year(found[1], today), int(found[3]), int(found[4]))
    return day if day is not None and LONG_AGO <= day <= today else None


def orders_shown(texts: Iterable[str], today: dt.date) -> tuple[frozenset[DayOrder], bool]:
    """Which orders some cell can only be read in, and whether any cell can be read in both."""
    shown: set[DayOrder] = set()
    open_ones = False
    for text in texts:
        found = _THREE.fullmatch(_TIME.sub("", text.strip()))
        if found is None or found[2] == ".":
            continue
        year = _year(found[4], today)
        first, second = _made(year, int(found[3]), int(found[1])), _made(year, int(found[1]), int(found[3]))
        if (first or second) and year_first(text, today) not in (None, first or second):
            open_ones = True
        elif first is not None and second is not None:
            open_ones = open_ones or first != second
        elif first is not None:
            shown.add(DayOrder.DAY_FIRST)
        elif second is not None:
            shown.add(DayOrder.MONTH_FIRST)
    return frozenset(shown), open_ones


def _of_three(one: int, two: int, year: int, mark: str, order: DayOrder | None) -> dt.date:
    day_first, month_first = _made(year, two, one), _made(year, one, two)
    if mark == ".":
        month_first = None
    if day_first is None and month_first is None:
        raise NotADay(f"{one}{mark}{two}{mark}{year}")
    if day_first is None or month_first is None or day_first == month_first:
        found = day_first or month_first
        assert found is not None  # noqa: S101  (one of them is, see above)
        return found
    if order is None:
        raise TwoMeanings(day_first, month_first)
    return day_first if order is DayOrder.DAY_FIRST else month_first


def _made(year: int, month: int, day: int) -> dt.date | None:
    try:
        return dt.date(year, month, day)
    except ValueError:
        return None


def _year(text: str, today: dt.date) -> int:
    """All four digits; of two, the last year that ends in them and is not further ahead than `YEARS_AHEAD`."""
    if len(text) == 4:
        return int(text)
    last = today.year + YEARS_AHEAD
    return last - (last - int(text)) % 100
