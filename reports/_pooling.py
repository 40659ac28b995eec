"""Yards of a region lend each other strength; shares and quantiles of the yards behind them. Pure.

Empirical Bayes, gamma-Poisson by moments. Quantiles and shares come from the average of the yards' posteriors, not
from raw rates, which are too wide, nor from their means, which are too narrow.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy import special

from reports._disclosure import SuppressReason
from reports.constants import DEFAULTS, Constants

Floats = npt.NDArray[np.float64]

STEPS, NEAR, CLOSE = 200, 1e-7, 1e-13


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
        return float(self.quantiles([share])[0])

    def quantiles(self, shares: Sequence[float]) -> Floats:
        """Several of them at once, by Newton's steps on the log scale, kept between what is known to be too low and
        too high."""
        wanted = np.asarray(shares, dtype=np.float64)
        x = np.maximum(np.quantile(self.means, wanted), np.finfo(np.float64).tiny)
        low, high = np.zeros_like(x), np.full_like(x, np.inf)
        constant = special.gammaln(self.shape)
        for _ in range(STEPS):
            z = self.rate * x[:, None]
            over = special.gammainc(self.shape, z).mean(axis=1) - wanted
            low, high = np.where(over < 0, x, low), np.where(over > 0, x, high)
            with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
                dense = np.exp(self.shape * np.log(z) - z - constant).mean(axis=1)
                step = x * np.exp(np.clip(-over / dense, -3.0, 3.0))
                middle = np.where(np.isinf(high), x * 4.0, np.where(low == 0, x / 4.0, np.sqrt(low * high)))
            near = np.abs(over) <= NEAR
            inside = np.isfinite(step) & ((step > low) & (step < high) | near)
            x = np.where(inside, step, np.where(near, x, middle))
            # A step squares the error: from so near it ends within the last digits, and need not be looked at.
            if np.all(near | (high - low <= CLOSE * x)):
                break
        return np.asarray(x)


@dataclass(frozen=True, slots=True)
class Share:
    """Share of yards above an action level, with its range; `n_effective` yards stand behind it."""

    share: float
    low: float
    high: float
    n_effective: float


def yard_population(
    mites: npt.ArrayLike, exposure: npt.ArrayLike, c2: npt.ArrayLike, constants: Constants = DEFAULTS
) -> Population:
    """Mean and shape of the yards' rates by moments, the shape drawn towards what regions are usually like.

    Where no yard found a mite the mean is that of half a mite in all, as nothing smaller can be told from it.
    """
    m, x, spread = arrays_of(mites, exposure, c2)
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
    m, x, spread = arrays_of(mites, exposure, c2)
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
    if np.size(chances) == 0:
        return SuppressReason.NO_SAMPLES
    return share_of(chances, sum(yards_of_keepers) / design_effect(yards_of_keepers, constants), constants)


def share_of(chances: npt.ArrayLike, n: float, constants: Constants = DEFAULTS) -> Share:
    """The same of one yard or more that count for `n`."""
    share = float(np.asarray(chances, dtype=np.float64).mean())
    tail = (1.0 - constants.level.value) / 2.0
    low, high = special.betaincinv(share * n + 0.5, (1.0 - share) * n + 0.5, [tail, 1.0 - tail])
    return Share(share, min(float(low), share), max(float(high), share), n)


def arrays_of(
    mites: npt.ArrayLike, exposure: npt.ArrayLike, c2: npt.ArrayLike
) -> tuple[Floats, Floats, Floats]:
    """The three as flat arrays of one length."""
    m, x, spread = np.broadcast_arrays(*(np.asarray(one, dtype=np.float64) for one in (mites, exposure, c2)))
    return m.ravel(), x.ravel(), spread.ravel()
