"""The mean rate of a yard from the jars of some of its colonies. Pure."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
from scipy import special

from counts._intervals import Floats, Prior, chance_above, rate_interval
from counts._verdicts import Refusal, Unit

TINY = float(np.finfo(np.float64).tiny)


@dataclass(frozen=True, slots=True)
class YardEstimate:
    """The mean rate of a yard's colonies, mites per bee, with its range; arrays for several yards at once.

    Where `reason` is set no verdict on the yard may be drawn. Without any sample the numbers of one yard are
    None (of several: rate 0, range 0 to infinity; read the reason first).
    """

    rate: Any
    low: Any
    high: Any
    c2: Any
    reason: Any
    """A `Refusal` or None; an object array of them for several yards."""
    mites: Any
    bees: Any
    exposure: Any
    chance_c2: Any
    """Squared CV for chances: without the widening that pays for the few colonies sampled."""
    colonies_sampled: Any
    rough: Any
    """True for fewer than three colonies of a larger yard: the range is shown, but no verdict drawn."""
    one_sided: Any
    unit: Unit = Unit.PER_BEE

    @property
    def comparable(self) -> bool:
        """Whether one yard's estimate may be compared with an action level."""
        return self.reason is None and not self.rough

    def chance_above(self, action_level: npt.ArrayLike, prior: Prior | None = None) -> Any:
        """Chance that the yard's mean is above `action_level`, mites per bee; one half without any sample."""
        return chance_above(self.mites, self.exposure, self.chance_c2, action_level, prior)


@dataclass(frozen=True, slots=True)
class ColonySums:
    """What the spread of a yard is told from, summed over its sampled colonies (one jar each); arrays for several
    yards. Sums of mites and exposure, of their squares, and of squared mites per exposure."""

    colonies: Floats
    mites: Floats
    exposure: Floats
    mites_squared: Floats
    exposure_squared: Floats
    mites_squared_per_exposure: Floats

    @classmethod
    def of(cls, mites: Floats, exposure: Floats) -> ColonySums:
        """Summed over the last axis; a place without exposure is no sample."""
        taken = exposure > 0
        per_exposure = np.divide(np.square(mites), exposure, out=np.zeros_like(mites), where=taken)
        return cls(
            taken.sum(axis=-1).astype(np.float64),
            mites.sum(axis=-1),
            exposure.sum(axis=-1),
            np.square(mites).sum(axis=-1),
            np.square(exposure).sum(axis=-1),
            per_exposure.sum(axis=-1),
        )


def yard_mean(
    mites: npt.ArrayLike,
    bees: npt.ArrayLike,
    colonies: npt.ArrayLike | None = None,
    *,
    recovery: npt.ArrayLike = 1.0,
    between_c2: float = 0.8,
    within_c2: float = 0.0536,
    prior_weight: float = 4.0,
    level: float = 0.95,
) -> YardEstimate:
    """Mean rate of the `colonies` of a yard (unknown: taken as endless) from those sampled, one jar each.

    The last axis runs over the sampled colonies; a place with 0 bees is no sample, so yards of different
    size fit one array. The spread between colonies is their own moment estimate, shrunk towards `between_c2`
    with the weight of `prior_weight` colonies; only that part shrinks as the share of colonies sampled grows.
    Two jars of one colony are one sample: add them up before calling.
    """
    m, n = (np.asarray(one, dtype=np.float64) for one in np.broadcast_arrays(mites, bees))
    m, n = np.atleast_1d(m), np.atleast_1d(n)
    impossible = ((m < 0) | (n < 0) | ~np.isfinite(m) | ~np.isfinite(n) | ((n == 0) & (m > 0))).any(axis=-1)
    found = n * np.asarray(recovery, dtype=np.float64)
    taken = (found > 0) & ~impossible[..., None]
    m, x = np.where(taken, m, 0.0), np.where(taken, found, 0.0)
    k = taken.sum(axis=-1).astype(np.float64)
    of = np.inf if colonies is None else np.maximum(np.asarray(colonies, dtype=np.float64), k)
    total, exposure = m.sum(axis=-1), x.sum(axis=-1)
    c2, chance_c2 = _spread(ColonySums.of(m, x), of, between_c2, within_c2, prior_weight, level)
    low, high = rate_interval(total, exposure, c2, level)
    rate = np.where(exposure > 0, total / np.where(exposure > 0, exposure, 1.0), 0.0)
    partial = k < of
    reason = _reasons(impossible, k, partial)
    counted = np.where(taken, n, 0.0).sum(axis=-1)
    rough = partial & (k < 3)
    values = (rate, low, high, c2, reason, total, counted, exposure, chance_c2, k, rough, total == 0)
    return YardEstimate(*values) if m.ndim > 1 else _one(*values)


def chance_spread(
    sums: ColonySums,
    within_c2: npt.ArrayLike,
    *,
    between_c2: float = 0.8,
    prior_weight: float = 4.0,
) -> Floats:
    """`YardEstimate.chance_c2` of yards whose number of colonies is not known, from the sums over those sampled."""
    unsampled, jars_part = _parts(sums, np.inf, between_c2, np.asarray(within_c2, np.float64), prior_weight)
    return np.asarray(unsampled + jars_part)


def _spread(
    sums: ColonySums, of: npt.ArrayLike, between: float, within: float, weight: float, level: float
) -> tuple[Floats, Floats]:
    """Squared CV of the yard's total, with and without the widening for few colonies."""
    unsampled, jars_part = _parts(sums, of, between, within, weight)
    wider = _widening(sums.colonies, weight, level) * unsampled
    return np.asarray(wider + jars_part), np.asarray(unsampled + jars_part)


def _parts(
    sums: ColonySums, of: npt.ArrayLike, between: float, within: float | Floats, weight: float
) -> tuple[Floats, Floats]:
    """What the colonies that were not sampled add to the squared CV of the yard's total, and what the jars add."""
    colonies_part = between_of_sums(sums, between, within, weight)
    total = sums.mites
    share2 = sums.exposure_squared / np.maximum(np.square(sums.exposure), TINY)
    safe = np.where(total > 1, total, 2.0)
    weight2 = np.clip((sums.mites_squared - safe) / np.square(safe), share2, 1.0)
    jars_part = within * np.where(total > 1, weight2, share2)
    return colonies_part * (1.0 - sums.colonies / np.maximum(of, 1.0)) * share2, jars_part


def between_part(m: Floats, x: Floats, between: float, within: float, weight: float) -> Floats:
    """Squared CV between the colonies of a yard: their own moment estimate, shrunk, the jars' part taken off."""
    return between_of_sums(ColonySums.of(m, x), between, within, weight)


def between_of_sums(sums: ColonySums, between: float, within: float | Floats, weight: float) -> Floats:
    """The same from the sums over the colonies."""
    k, total, exposure = sums.colonies, sums.mites, np.maximum(sums.exposure, TINY)
    rate = np.maximum(total, 0.5) / exposure
    # The sum over colonies of (m - x rate)^2 / (x rate), multiplied out.
    square = sums.mites_squared_per_exposure / rate - 2.0 * total + rate * sums.exposure
    chi = np.maximum(square, 0.0) / np.maximum(k - 1.0, 1.0)
    seen = (chi - 1.0) / np.maximum(rate * exposure / np.maximum(k, 1.0), TINY)
    pooled = (weight * (between + within) + (k - 1.0) * seen) / np.maximum(weight + k - 1.0, 1e-9)
    pooled = np.where(k > 1, pooled, between + within)
    return np.asarray(np.maximum(pooled - within, 0.0))


def _widening(k: Floats, weight: float, level: float) -> Floats:
    """(t / normal quantile) squared, where the spread is estimated from few colonies; 1 for one colony."""
    tail = (1.0 + level) / 2.0
    t = special.stdtrit(np.maximum(weight + k - 1.0, 1e-3), tail)
    return np.where(k > 1, np.square(t / special.ndtri(tail)), 1.0)


def _reasons(impossible: Any, k: Floats, partial: Any) -> npt.NDArray[np.object_]:
    reason = np.full(np.shape(k), None, dtype=object)
    reason[(k == 1) & partial] = Refusal.ONE_COLONY
    reason[k == 0] = Refusal.NO_BEES
    reason[impossible] = Refusal.NOT_A_COUNT
    return reason


def _one(*values: Any) -> YardEstimate:
    """The same for a single yard, as plain numbers."""
    plain = (np.asarray(value)[()] for value in values)
    rate, low, high, c2, reason, mites, bees, exposure, chance_c2, k, rough, none = plain
    known = k > 0
    return YardEstimate(
        rate=float(rate) if known else None,
        low=float(low) if known else None,
        high=float(high) if known else None,
        c2=float(c2) if known else None,
        reason=reason,
        mites=int(mites),
        bees=int(bees),
        exposure=float(exposure),
        chance_c2=float(chance_c2),
        colonies_sampled=int(k),
        rough=bool(rough),
        one_sided=bool(none and known),
    )
