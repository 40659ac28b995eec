"""Mite pressure of a region in a month, from the counts of its yards. Pure.

One vote per yard. Yards lend each other strength (empirical Bayes, gamma-Poisson by moments), so that a small
yard's lucky or unlucky jar does not pass for a good or a bad region; quantiles and shares come from the
average of the yards' posteriors, not from raw rates, which are too wide, nor from their means, which are too
narrow.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Hashable, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy import optimize, special

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
from reports.constants import DEFAULTS, Constants

Floats = npt.NDArray[np.float64]


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
class Population:
    """Mean rate of the yards and the shape of its Gamma.

    Small where yards differ, large where they are alike.
    """

    mean: float
    shape: float


@dataclass(frozen=True, slots=True)
class PooledYards:
    """The Gamma posterior of every yard's rate: `shape` and `rate` (per exposure), and what they lean on."""

    population: Population
    shape: Floats
    rate: Floats

    @property
    def means(self) -> Floats:
        """Every yard's rate, drawn towards the others."""
        return np.asarray(self.shape / self.rate)

    def chances_above(self, action_level: float) -> Floats:
        """Every yard's chance of being above the action level."""
        return np.asarray(special.gammaincc(self.shape, self.rate * max(action_level, 0.0)))

    def quantile(self, share: float) -> float:
        """Quantile over yards, of the average of their posteriors."""
        each = special.gammaincinv(self.shape, share) / self.rate
        low, high = float(each.min()), float(each.max())
        if high - low <= 1e-12 * high:
            return high
        return float(optimize.brentq(lambda x: float(self._below(x)) - share, low, high, xtol=1e-12))

    def _below(self, rate: float) -> float:
        return float(special.gammainc(self.shape, self.rate * rate).mean())


@dataclass(frozen=True, slots=True)
class Share:
    """Share of yards above an action level, with its range; `n_effective` yards stand behind it."""

    share: float
    low: float
    high: float
    n_effective: float


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

    `zeros` is the number of yards that found none. `rate` is the mean over yards. Members of the club see the
    numbers of yards, keepers and colonies; outside the club they are told as bands only (`count_band`).
    """

    yards: int
    keepers: int
    colonies: int
    zeros: int | None = None
    rate: float | None = None
    low: float | None = None
    high: float | None = None
    median: float | None = None
    share_above: float | None = None
    share_low: float | None = None
    share_high: float | None = None
    reason: SuppressReason | None = None


def yard_population(
    mites: npt.ArrayLike, exposure: npt.ArrayLike, c2: npt.ArrayLike, constants: Constants = DEFAULTS
) -> Population:
    """Mean and shape of the yards' rates by moments, the shape drawn towards what regions are usually like.

    Where no yard found a mite the mean is that of half a mite in all, as nothing smaller can be told from it.
    """
    m, x, spread = _arrays(mites, exposure, c2)
    rates = m / x
    mean = max(float(rates.mean()), 0.5 / float(x.sum()))
    between, more = 0.0, len(rates) - 1
    if more:
        own = float(spread.mean())
        by_chance = mean * float((1.0 / x).mean())
        between = ((float(rates.var(ddof=1)) - by_chance) / mean**2 - own) / (1.0 + own)
    weight, prior = constants.yards_weight.value, constants.yards_c2.value
    drawn = (more * between + weight * prior) / (more + weight)
    return Population(mean, 1.0 / min(max(drawn, constants.yards_c2_min.value), constants.yards_c2_max.value))


def pool_yards(
    mites: npt.ArrayLike,
    exposure: npt.ArrayLike,
    c2: npt.ArrayLike,
    *,
    population: Population | None = None,
    constants: Constants = DEFAULTS,
) -> PooledYards | SuppressReason:
    """Posterior of every yard's rate; a reason where there is no yard.

    With fewer than `own_yards_min` yards the caller passes the `population` of the same month in all regions.
    """
    m, x, spread = _arrays(mites, exposure, c2)
    if m.size == 0:
        return SuppressReason.NO_SAMPLES
    lean_on = population or yard_population(m, x, spread, constants)
    deflate = 1.0 + spread * x * lean_on.mean
    return PooledYards(lean_on, lean_on.shape + m / deflate, lean_on.shape / lean_on.mean + x / deflate)


def design_effect(yards_of_keepers: Sequence[int], constants: Constants = DEFAULTS) -> float:
    """By how much yards count for less because one keeper has several; 1 with one yard per keeper."""
    owned = [number for number in yards_of_keepers if number > 0]
    if not owned:
        return 1.0
    return 1.0 + constants.keeper_likeness.value * (sum(n * n for n in owned) / sum(owned) - 1.0)


def share_above(
    chances: npt.ArrayLike, yards_of_keepers: Sequence[int], constants: Constants = DEFAULTS
) -> Share | SuppressReason:
    """Share of yards above an action level from each yard's chance of it, with a Jeffreys range."""
    each = np.asarray(chances, dtype=np.float64).ravel()
    if each.size == 0:
        return SuppressReason.NO_SAMPLES
    share = float(each.mean())
    n = sum(yards_of_keepers) / design_effect(yards_of_keepers, constants)
    tail = (1.0 - constants.level.value) / 2.0
    low, high = special.betaincinv(share * n + 0.5, (1.0 - share) * n + 0.5, [tail, 1.0 - tail])
    return Share(share, min(float(low), share), max(float(high), share), n)


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
    yards: Sequence[YardCount],
    action_level: float | None = None,
    *,
    population: Population | None = None,
    constants: Constants = DEFAULTS,
) -> RegionFigures:
    """Figures of one region's month, or the reason why there are none. Rates are per unit of exposure."""
    used = [yard for yard in yards if yard.exposure > 0]
    owned = list(Counter(yard.keeper for yard in used).values())
    sizes = RegionFigures(len(used), len(owned), sum(yard.colonies for yard in used))
    reason = suppress_reason(owned, constants)
    mites, exposure, c2 = ([getattr(yard, name) for yard in used] for name in ("mites", "exposure", "c2"))
    pooled = pool_yards(mites, exposure, c2, population=population, constants=constants)
    if reason is not None or not isinstance(pooled, PooledYards):
        return RegionFigures(sizes.yards, sizes.keepers, sizes.colonies, reason=reason)
    rate, low, high = _mean_range(mites, exposure, c2, owned, pooled.population, constants)
    chances: npt.ArrayLike = [] if action_level is None else pooled.chances_above(action_level)
    share = share_above(chances, owned, constants)
    above = share if isinstance(share, Share) else None
    return RegionFigures(
        sizes.yards,
        sizes.keepers,
        sizes.colonies,
        zeros=mites.count(0),
        rate=rate,
        low=low,
        high=high,
        median=pooled.quantile(0.5),
        share_above=above.share if above else None,
        share_low=above.low if above else None,
        share_high=above.high if above else None,
    )


def _mean_range(
    mites: Sequence[int],
    exposure: Sequence[float],
    c2: Sequence[float],
    yards_of_keepers: Sequence[int],
    population: Population,
    constants: Constants,
) -> tuple[float, float, float]:
    """Mean over yards with its range, taken as one negative binomial count of all mites.

    Its squared CV holds the spread of the counts and how yards differ, widened for how little a few yards
    say of that; checked in a simulation. Without any mite, a one-sided upper limit.
    """
    m, x, spread = _arrays(mites, exposure, c2)
    own, tail = float(spread.mean()), (1.0 + constants.level.value) / 2.0
    freedom = m.size - 1 + constants.yards_weight.value
    widened = (float(special.stdtrit(freedom, tail)) / float(special.ndtri(tail))) ** 2
    differ = ((1.0 + own) * (1.0 + widened / population.shape) - 1.0) / m.size
    mean, total = float((m / x).mean()), float(m.sum())
    weight = total / mean if mean else float(x.sum())
    effect = design_effect(yards_of_keepers, constants)
    low, high = rate_interval(total, weight, effect * differ, constants.level.value)
    return mean, min(float(low), mean), max(float(high), mean)


def _arrays(
    mites: npt.ArrayLike, exposure: npt.ArrayLike, c2: npt.ArrayLike
) -> tuple[Floats, Floats, Floats]:
    m, x, spread = np.broadcast_arrays(*(np.asarray(one, dtype=np.float64) for one in (mites, exposure, c2)))
    return m.ravel(), x.ravel(), spread.ravel()


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
    "count_band",
    "design_effect",
    "hide_small_groups",
    "pool_yards",
    "publishable",
    "region_figures",
    "share_above",
    "suppress_reason",
    "unusual",
    "yard_population",
]
