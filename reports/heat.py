"""Five classes for tables and maps of mite pressure, and words for what is far from usual. Pure.

The classes double from one to the next, the same for every month and region, so that colours can be compared; they are
no action levels (our choice).
"""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Sequence

from apiaries.language import figure, mark, say
from counts.samples import Kind
from reports.constants import DEFAULTS, Constants
from reports.pressure import unusual
from reports.trend import NoTrend, Trend

JAR_ENDS, BOARD_ENDS = (0.005, 0.01, 0.02, 0.04), (1.0, 2.0, 4.0, 8.0)
"""Where a class ends and the next begins, per bee or per day."""

CLASSES = len(JAR_ENDS) + 1
RISING = (
    mark("The months are rising over {years} years."),
    mark("The months are rising over {years} years, by about {slope} % a year."),
    mark("The months are rising over {years} years; the evidence is weak."),
)
FALLING = (
    mark("The months are falling over {years} years."),
    mark("The months are falling over {years} years, by about {slope} % a year."),
    mark("The months are falling over {years} years; the evidence is weak."),
)
"""Alone, with how much a year, and where little speaks for it."""


def class_ends(kind: Kind) -> tuple[float, ...]:
    """Where classes end, per bee or per day."""
    return BOARD_ENDS if kind is Kind.BOARD else JAR_ENDS


def heat_class(rate: float, kind: Kind) -> int:
    """1 for the lowest rates to 5 for the highest; an end belongs to the class that it begins."""
    return bisect_right(class_ends(kind), rate) + 1


def is_uncertain(
    rate: float, low: float, high: float, yards_effective: float | None, constants: Constants = DEFAULTS
) -> bool:
    """Whether a figure is marked: its range is wide beside it, or few yards stand behind it."""
    few = yards_effective is not None and yards_effective < constants.uncertain_yards.value
    return few or not rate > 0 or (high - low) / rate > constants.uncertain_width.value


def share_words(
    share: float, low: float, high: float, yards: int, constants: Constants = DEFAULTS
) -> tuple[str, str]:
    """A share of yards in whole per cent, and its range; never a bare 0 or 100."""
    few, whole = yards < constants.share_bare_yards.value, round(share * 100)
    told = f"{whole} %"
    if whole < 1:
        told = f"<{max(math.ceil(high * 100), 1) if few else 1} %"
    elif whole > 99:
        told = f">{min(math.floor(low * 100), 99) if few else 99} %"
    return told, say("{low} to {high} %", low=math.floor(low * 100), high=math.ceil(high * 100))


def unusual_words(past: Sequence[float], now: float, month: str) -> str:
    """That a month is unusually high beside the same month of earlier years; else nothing."""
    found = unusual(past, now) if past else None
    if not (found and found.is_unusual):
        return ""
    return say("unusually high for {month} beside {years} earlier years", month=month, years=len(past))


def trend_words(trend: Trend | NoTrend, constants: Constants = DEFAULTS) -> str:
    """What may be said of the years; no more than the test allows."""
    if trend is NoTrend.NO_YEARS:
        return ""
    if not isinstance(trend, Trend):
        least = int(constants.trend_years_min.value)
        return say(
            "Fewer than {years} years have figures: too few to say whether they rise or fall.", years=least
        )
    if not (trend.rising or trend.falling):
        return say("No rise or fall can be told from {years} years.", years=trend.years)
    plain, sloping, weak = RISING if trend.rising else FALLING
    if trend.weak:
        return say(weak, years=trend.years)
    if trend.per_year is None:
        return say(plain, years=trend.years)
    slope = figure(f"{abs(trend.per_year) * 100:.0f}")
    return say(sloping, years=trend.years, slope=slope)
