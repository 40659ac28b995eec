"""Mite pressure of a region in a month, from the counts of its yards. Pure.

One vote per yard. Yards lend each other strength (`reports._pooling`), so that a small yard's lucky or unlucky jar
does not pass for a good or a bad region.
"""

from __future__ import annotations

import math
from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
import numpy.typing as npt
from scipy import special

from counts.estimate import rate_interval
from reports._disclosure import (
    CountBand,
    HiddenCells,
    SuppressReason,
    count_band,
    hide_small_groups,
    publishable,
    suppress_reason,
)
from reports._pooling import (
    Floats,
    PooledYards,
    Population,
    Share,
    arrays_of,
    design_effect,
    pool_yards,
    share_above,
    share_of,
    yard_population,
)
from reports.constants import DEFAULTS, Constants


@dataclass(frozen=True, slots=True)
class YardCount:
    """What one yard found in a month.

    Mites and exposure of all its jars, their spread, and whose yard it is.
    """

    mites: int
    exposure: float
    c2: float
    keeper: Hashable
    colonies: int = 1


@dataclass(frozen=True, slots=True)
class YardCounts:
    """The same of many yards, one place each; keepers are told apart by their numbers, which are small."""

    mites: Floats
    exposure: Floats
    c2: Floats
    keeper: npt.NDArray[np.int64]
    colonies: npt.NDArray[np.int64]

    @classmethod
    def of(cls, yards: Sequence[YardCount]) -> YardCounts:
        """Side by side; a yard without exposure found nothing and is left out."""
        used = [yard for yard in yards if yard.exposure > 0]
        number = {keeper: place for place, keeper in enumerate(dict.fromkeys(yard.keeper for yard in used))}
        mites, exposure, c2 = arrays_of(
            *([getattr(yard, name) for yard in used] for name in ("mites", "exposure", "c2"))
        )
        keepers = np.asarray([number[yard.keeper] for yard in used], dtype=np.int64)
        return cls(mites, exposure, c2, keepers, np.asarray([yard.colonies for yard in used], dtype=np.int64))

    @property
    def of_keepers(self) -> list[int]:
        """The number of yards of each keeper."""
        found = np.bincount(self.keeper)
        owned: list[int] = found[found > 0].tolist()
        return owned


@dataclass(frozen=True, slots=True)
class Anomaly:
    """How far this year's month is from the same month of past years; `is_unusual` means unusually high."""

    t: float
    p: float
    is_unusual: bool


@dataclass(frozen=True, slots=True)
class RegionFigures:
    """One region's month.

    With a `reason` there are no figures; 0 mites found is a figure, with an upper limit.

    `zeros` is the number of yards that found none. `rate` is the mean over yards: all mites over `exposure`, with the
    squared CV `c2`; it is worth that of `effective` yards of a keeper each. `tenth` and `ninetieth`: nine and one in
    ten yards are above. `shares` are those of yards above action levels, by the level's key. Members of the club see
    the numbers of yards, keepers and colonies; outside the club they are told as bands only (`count_band`).
    """

    yards: int
    keepers: int
    colonies: int
    zeros: int | None = None
    rate: float | None = None
    low: float | None = None
    high: float | None = None
    exposure: float | None = None
    c2: float | None = None
    effective: float | None = None
    median: float | None = None
    tenth: float | None = None
    ninetieth: float | None = None
    shares: Mapping[str, Share] = field(default_factory=dict)
    reason: SuppressReason | None = None


def unusual(past: Sequence[float], now: float, constants: Constants = DEFAULTS) -> Anomaly | None:
    """Whether this year's figure is unusually high beside the same month of past years, on the log scale.

    None with too few past years, or where a figure is not above 0.
    """
    n = len(past)
    if n < constants.past_years_min.value or not min(*past, now) > 0:
        return None
    logs = np.log(np.asarray(past, dtype=np.float64))
    weight, usual = constants.past_weight.value, constants.past_sd.value
    freedom = n - 1 + weight
    variance = (weight * usual**2 + (n - 1) * float(logs.var(ddof=1))) / freedom
    t = (math.log(now) - float(logs.mean())) / math.sqrt(variance * (1.0 + 1.0 / n))
    p = float(special.stdtr(freedom, -t))
    return Anomaly(t, p, p < constants.unusual_below.value)


def region_figures(
    yards: YardCounts | Sequence[YardCount],
    levels: Mapping[str, float] | None = None,
    *,
    population: Population | None = None,
    constants: Constants = DEFAULTS,
) -> RegionFigures:
    """Figures of one region's month, or the reason why there are none. Rates are per unit of exposure.

    `levels`: action levels by a key of the caller's choice.
    """
    used = yards if isinstance(yards, YardCounts) else YardCounts.of(yards)
    owned = used.of_keepers
    number, colonies = len(used.mites), int(used.colonies.sum())
    reason = suppress_reason(owned, constants)
    pooled = reason or pool_yards(
        used.mites, used.exposure, used.c2, population=population, constants=constants
    )
    if not isinstance(pooled, PooledYards):
        return RegionFigures(number, len(owned), colonies, reason=pooled)
    effect = design_effect(owned, constants)
    mean = _mean(used, effect, pooled.population, constants)
    effective = number / effect
    by_rate = {
        rate: share_of(pooled.chances_above(rate), effective, constants)
        for rate in set((levels or {}).values())
    }
    tenth, median, ninetieth = pooled.quantiles((0.1, 0.5, 0.9)).tolist()
    return RegionFigures(
        number,
        len(owned),
        colonies,
        zeros=int((used.mites == 0).sum()),
        rate=mean.rate,
        low=mean.low,
        high=mean.high,
        exposure=mean.exposure,
        c2=mean.c2,
        effective=effective,
        median=median,
        tenth=tenth,
        ninetieth=ninetieth,
        shares={key: by_rate[rate] for key, rate in (levels or {}).items()},
    )


def mean_figures(yards: YardCounts, constants: Constants = DEFAULTS) -> RegionFigures:
    """The same without quantiles and shares, which cost most: for pieces of a map."""
    owned = yards.of_keepers
    number, colonies = len(yards.mites), int(yards.colonies.sum())
    reason = suppress_reason(owned, constants)
    if reason is not None:
        return RegionFigures(number, len(owned), colonies, reason=reason)
    effect = design_effect(owned, constants)
    mean = _mean(yards, effect, yard_population(yards.mites, yards.exposure, yards.c2, constants), constants)
    return RegionFigures(
        number,
        len(owned),
        colonies,
        zeros=int((yards.mites == 0).sum()),
        rate=mean.rate,
        low=mean.low,
        high=mean.high,
        exposure=mean.exposure,
        c2=mean.c2,
        effective=number / effect,
    )


def drawn_together(
    mites: npt.ArrayLike, exposure: npt.ArrayLike, c2: npt.ArrayLike, constants: Constants = DEFAULTS
) -> Floats:
    """The rates of regions of one month, each drawn towards their mean by as much as it is uncertain.

    For putting regions in order and for colours: among raw rates the smallest regions are the highest and the lowest.
    """
    m, x, spread = arrays_of(mites, exposure, c2)
    if m.size == 0:
        return np.empty(0)
    alike = replace(
        constants,
        yards_c2=constants.regions_c2,
        yards_weight=constants.regions_weight,
        yards_c2_min=constants.regions_c2_min,
    )
    pooled = pool_yards(m, x, spread, constants=alike)
    return pooled.means if isinstance(pooled, PooledYards) else np.empty(0)


@dataclass(frozen=True, slots=True)
class _Mean:
    rate: float
    low: float
    high: float
    exposure: float
    c2: float


def _mean(used: YardCounts, effect: float, population: Population, constants: Constants) -> _Mean:
    """Mean over yards with its range, taken as one negative binomial count of all mites.

    Its squared CV holds the spread of the counts and how yards differ, widened for how little a few yards
    say of that; checked in a simulation. Without any mite, a one-sided upper limit.
    """
    m, x = used.mites, used.exposure
    own, tail = float(used.c2.mean()), (1.0 + constants.level.value) / 2.0
    freedom = m.size - 1 + constants.yards_weight.value
    widened = (float(special.stdtrit(freedom, tail)) / float(special.ndtri(tail))) ** 2
    differ = ((1.0 + own) * (1.0 + widened / population.shape) - 1.0) / m.size
    mean, total = float((m / x).mean()), float(m.sum())
    weight = total / mean if mean else float(x.sum())
    c2 = effect * differ
    low, high = rate_interval(total, weight, c2, constants.level.value)
    return _Mean(mean, min(float(low), mean), max(float(high), mean), weight, c2)


__all__ = [
    "Anomaly",
    "CountBand",
    "HiddenCells",
    "PooledYards",
    "Population",
    "RegionFigures",
    "Share",
    "SuppressReason",
    "YardCount",
    "YardCounts",
    "count_band",
    "design_effect",
    "drawn_together",
    "hide_small_groups",
    "mean_figures",
    "pool_yards",
    "publishable",
    "region_figures",
    "share_above",
    "share_of",
    "suppress_reason",
    "unusual",
    "yard_population",
]
