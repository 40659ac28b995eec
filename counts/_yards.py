"""The mean rate of a yard from the jars of some of its colonies. Pure."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
from scipy import special

from counts._intervals import Floats, Prior, chance_above, rate_interval
from counts._verdicts import Refusal, Unit


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
    c2, chance_c2 = _spread(m, x, k, np.asarray(of), between_c2, within_c2, prior_weight, level)
    low, high = rate_interval(total, exposure, c2, level)
    rate = np.where(exposure > 0, total / np.where(exposure > 0, exposure, 1.0), 0.0)
    partial = k < of
    reason = _reasons(impossible, k, partial)
    counted = np.where(taken, n, 0.0).sum(axis=-1)
    rough = partial & (k < 3)
    values = (rate, low, high, c2, reason, total, counted, exposure, chance_c2, k, rough, total == 0)
    return YardEstimate(*values) if m.ndim > 1 else _one(*values)


def _spread(
    m: Floats, x: Floats, k: Floats, of: Floats, between: float, within: float, weight: float, level: float
) -> tuple[Floats, Floats]:
    """Squared CV of the yard's total, with and without the widening for few colonies."""
    total, exposure = m.sum(axis=-1), np.maximum(x.sum(axis=-1), np.finfo(np.float64).tiny)
    colonies_part = between_part(m, x, k, between, within, weight)
    share2 = np.square(x / exposure[..., None]).sum(axis=-1)
    safe = np.where(total > 1, total, 2.0)
    weight2 = np.clip((np.square(m).sum(axis=-1) - safe) / np.square(safe), share2, 1.0)
    jars_part = within * np.where(total > 1, weight2, share2)
    unsampled = colonies_part * (1.0 - k / np.maximum(of, 1.0)) * share2
    return np.asarray(_widening(k, weight, level) * unsampled + jars_part), np.asarray(unsampled + jars_part)


def between_part(m: Floats, x: Floats, k: Floats, between: float, within: float, weight: float) -> Floats:
    """Squared CV between the colonies of a yard: their own moment estimate, shrunk, the jars' part taken off."""
    total, exposure = m.sum(axis=-1), np.maximum(x.sum(axis=-1), np.finfo(np.float64).tiny)
    rate = np.maximum(total, 0.5) / exposure
    expected = x * rate[..., None]
    free = np.maximum(k - 1.0, 1.0)
    square = np.square(m - expected)
    chi = np.divide(square, expected, out=np.zeros_like(square), where=expected > 0).sum(axis=-1) / free
    seen = (chi - 1.0) / np.maximum(rate * exposure / np.maximum(k, 1.0), np.finfo(np.float64).tiny)
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
