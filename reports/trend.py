"""Whether a region's months rise or fall over the years. Pure.

Seasonal Mann-Kendall test (Hirsch & Slack 1984, from memory), always with the covariance between months: years
are good or bad as a whole, and without it one in six steady regions would be called rising or falling.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
import numpy.typing as npt
from scipy import special

from reports.constants import DEFAULTS, Constants

Floats = npt.NDArray[np.float64]


class NoTrend(StrEnum):
    """Why no trend is tested. A line of few years is shown as it is."""

    NO_YEARS = "no_years"
    FEW_YEARS = "few_years"


@dataclass(frozen=True, slots=True)
class KendallTest:
    """Sum of signs over seasons, its variance, and the two-sided chance of as much without any trend."""

    s: int
    variance: float
    z: float
    p: float


@dataclass(frozen=True, slots=True)
class Trend:
    """A tested trend. `weak` below ten years: the p is then a hint, and no slope is told."""

    test: KendallTest
    years: int
    weak: bool
    rising: bool
    falling: bool
    per_year: float | None
    """Change a year as a part of 1 (Sen slope of the logs); None while weak or without two values above 0."""


def season_trend(years_by_months: npt.ArrayLike, constants: Constants = DEFAULTS) -> Trend | NoTrend:
    """Trend of monthly figures, one row a year and one column a month; NaN where a month has no figure.

    Years without any figure still take their place in time, but do not count.
    """
    values = _table(years_by_months)
    years = int(np.isfinite(values).any(axis=1).sum())
    if years < constants.trend_years_min.value:
        return NoTrend.FEW_YEARS if years else NoTrend.NO_YEARS
    test = kendall_test(values)
    called = test.p < constants.trend_below.value
    weak = years < constants.trend_years_full.value
    with np.errstate(divide="ignore", invalid="ignore"):
        slope = None if weak else sen_slope(np.where(values > 0, np.log(values), np.nan))
    per_year = None if slope is None else math.expm1(min(slope, 700.0))
    return Trend(test, years, weak, called and test.s > 0, called and test.s < 0, per_year)


def kendall_test(years_by_seasons: npt.ArrayLike, *, together: bool = True) -> KendallTest:
    """The test on a table of years by seasons; `together` counts how seasons go together, else not.

    With the correction for continuity. Where nothing varies p is 1.
    """
    values = _table(years_by_seasons)
    signs = _signs(values)
    s = int(np.triu(np.moveaxis(signs, 2, 0), 1).sum())
    covariance = _covariance(values, signs)
    variance = float(covariance.sum() if together else np.trace(covariance))
    if not variance > 0:
        return KendallTest(s, 0.0, 0.0, 1.0)
    z = (s - int(np.sign(s))) / math.sqrt(variance)
    return KendallTest(s, variance, z, float(2.0 * special.ndtr(-abs(z))))


def sen_slope(years_by_seasons: npt.ArrayLike) -> float | None:
    """Median change a year over all pairs of years of the same season; None without such a pair."""
    values = _table(years_by_seasons)
    first, second = np.triu_indices(len(values), 1)
    slopes = (values[second] - values[first]) / (second - first)[:, None]
    known = slopes[np.isfinite(slopes)]
    return float(np.median(known)) if known.size else None


def _table(values: npt.ArrayLike) -> Floats:
    table = np.atleast_2d(np.asarray(values, dtype=np.float64))
    if table.size == 0:
        return np.empty((0, 0))
    return np.where(np.isfinite(table), table, np.nan)


def _signs(values: Floats) -> Floats:
    """Sign of the change from year i to year j, for every season; 0 where either is missing."""
    with np.errstate(invalid="ignore"):
        return np.asarray(np.nan_to_num(np.sign(values[None, :, :] - values[:, None, :])))


def _covariance(values: Floats, signs: Floats) -> Floats:
    """Covariance of the sums of signs of any two seasons; ties and missing figures are allowed for."""
    n, number = len(values), np.isfinite(values).sum(axis=0).astype(np.float64)
    # Ranks within a season; a missing year has the middle rank.
    ranks = (number[None, :] + 1.0 - signs.sum(axis=1)) / 2.0
    pairs = np.einsum("ijg,ijh->gh", signs, signs) / 2.0
    return np.asarray((pairs + 4.0 * ranks.T @ ranks - n * np.outer(number + 1.0, number + 1.0)) / 3.0)
