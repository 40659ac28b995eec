"""Ranges and chances for a count with a known exposure. Pure.

Every count is taken as `mites ~ NegBin(mean = exposure x rate, size = 1/c2)`, where `c2` is the squared
coefficient of variation of everything that multiplies the mean. With that size known, the posterior under the
Jeffreys prior is a Beta distribution, so limits and chances are closed forms. `c2 -> 0` is the Poisson case.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, cast

import numpy as np
import numpy.typing as npt
from scipy import special

Floats = npt.NDArray[np.float64]

POISSON_BELOW = 1e-6
"""Smaller squared CVs are computed as Poisson: the Beta functions lose digits there; both agree to 2e-5."""

MANY = 64
"""From so many counts on it pays to look for equal ones."""


@dataclass(frozen=True, slots=True)
class Prior:
    """What other samples of the same region and month say: their mean rate and how alike they are."""

    mean: float
    shape: float


def combined_c2(*cvs: npt.ArrayLike) -> Floats:
    """Squared CV of a product of independent factors with these CVs; 0 for none."""
    product: Any = 1.0
    for cv in cvs:
        product = product * (1.0 + np.square(np.asarray(cv, dtype=np.float64)))
    return cast(Floats, np.asarray(product - 1.0)[()])


def rate_interval(
    mites: npt.ArrayLike, exposure: npt.ArrayLike, c2: npt.ArrayLike, level: float = 0.95, exact: bool = False
) -> tuple[Floats, Floats]:
    """Lower and upper limit of the rate, per unit of exposure; arrays in, arrays out.

    Jeffreys limits; at 0 mites the lower one is 0 and the upper one is one-sided and exact at the same level.
    With `exact` the wider, guaranteed two-sided limits (Garwood's for c2 = 0). Without exposure, or for a
    count that cannot be, nothing is known: 0 and infinity. Never NaN.
    """
    count, room, spread = _broadcast(mites, exposure, c2)
    known = _known(count, room, spread)
    low, high = _limits_of_all(np.where(known, count, 0.0), np.where(known, spread, 0.0), level, exact)
    room = np.where(known, room, 1.0)
    with np.errstate(over="ignore"):
        low, high = low / room, high / room
    return np.where(known, low, 0.0)[()], np.where(known, high, np.inf)[()]


def _limits_of_all(m: Floats, spread: Floats, level: float, exact: bool) -> tuple[Floats, Floats]:
    """Limits of exposure x rate. They hang on mites and spread alone, so equal counts are computed once."""
    if m.size < MANY or np.ptp(spread) > 0:
        return _limits(m, spread, level, exact)
    counts, place = np.unique(m, return_inverse=True)
    low, high = _limits(counts, np.full_like(counts, spread.flat[0]), level, exact)
    return low[place].reshape(m.shape), high[place].reshape(m.shape)


def _limits(m: Floats, spread: Floats, level: float, exact: bool) -> tuple[Floats, Floats]:
    kappa, tail = _kappa(spread), (1.0 - level) / 2.0
    below, above = (0.0, 1.0) if exact else (0.5, 0.5)
    low, high = _odds(m + below, kappa, tail), _odds(m + above, kappa, 1.0 - tail)
    # With a spread beyond all reason the Jeffreys limits would leave the count's own rate outside.
    low, high = np.where(m == 0, 0.0, np.minimum(low, m)), np.maximum(high, m)
    if not exact:
        with np.errstate(over="ignore"):
            high = np.where(m == 0, _none_found(kappa, 1.0 - level), high)
    return low, high


def chance_above(
    mites: npt.ArrayLike,
    exposure: npt.ArrayLike,
    c2: npt.ArrayLike,
    action_level: npt.ArrayLike,
    prior: Prior | None = None,
) -> Floats:
    """Chance that the rate is above `action_level` (same unit), from this sample alone or with a prior.

    The prior is conjugate: mean and shape of the rates in the same region and month. Where nothing is known
    (no exposure, an impossible count) the answer is one half. Never NaN.
    """
    count, room, spread, bar = _broadcast(mites, exposure, c2, action_level)
    known = _known(count, room, spread) & ~np.isnan(bar)
    m, x = np.where(known, count, 0.0), np.where(known, room, 1.0)
    kappa, t = _kappa(np.where(known, spread, 0.0)), np.clip(np.where(known, bar, 0.0), 0.0, 1e300)
    poisson = np.isinf(kappa)
    size = np.where(poisson, 1.0, kappa)
    shape, weight, alpha = 0.5, 0.0, np.zeros_like(size)
    if prior is not None:
        shape, weight = prior.shape, prior.shape / prior.mean
        alpha = 1.0 + size * weight / x
    with np.errstate(over="ignore", under="ignore"):
        chance = special.betainc(size + alpha, m + shape, size / (size + x * t))
        if poisson.any():
            chance = np.where(poisson, special.gammaincc(m + shape, (x + weight) * t), chance)
    return np.where(known, chance, 0.5)[()]


def rate_quantiles(
    mites: float, exposure: float, c2: float, shares: npt.ArrayLike, prior: Prior | None = None
) -> Floats:
    """Quantiles of the rate after one count, from it alone (Jeffreys) or with a prior; rising with `shares`.

    Meant for sums over a rate that is not known exactly. Without exposure, or for a count that cannot be, they
    are infinite.
    """
    at = np.asarray(shares, dtype=np.float64)
    if not _known(*_broadcast(mites, exposure, c2)).all():
        return np.full(at.shape, np.inf)
    shape, weight = (0.5, 0.0) if prior is None else (prior.shape, prior.shape / prior.mean)
    if c2 < POISSON_BELOW:
        return np.asarray(special.gammaincinv(mites + shape, at) / (exposure + weight))
    size = 1.0 / c2
    more = 0.0 if prior is None else 1.0 + size * weight / exposure
    above = np.asarray(special.betaincinv(mites + shape, size + more, at))
    below = np.asarray(special.betaincinv(size + more, mites + shape, 1.0 - at))
    with np.errstate(over="ignore"):
        return np.asarray(size * (above / np.maximum(below, np.finfo(np.float64).tiny)) / exposure)


def _broadcast(*values: npt.ArrayLike) -> list[Floats]:
    arrays = [np.asarray(value, dtype=np.float64) for value in values]
    return [np.asarray(one) for one in np.broadcast_arrays(*arrays)]


def _known(count: Floats, room: Floats, spread: Floats) -> npt.NDArray[np.bool_]:
    """Where there is something to compute from: a count, some exposure, a spread that is a number."""
    finite = np.isfinite(count) & np.isfinite(room) & np.isfinite(spread)
    return np.asarray(finite & (count >= 0) & (room > 0) & (spread >= 0))


def _kappa(spread: Floats) -> Floats:
    """Size of the negative binomial; infinite where it is computed as Poisson."""
    poisson = spread < POISSON_BELOW
    return np.where(poisson, np.inf, 1.0 / np.where(poisson, 1.0, spread))


def _odds(shape: Floats, kappa: Floats, share: float) -> Floats:
    """Quantile of exposure x rate: `kappa y / (1 - y)`, y ~ Beta(shape, kappa); Gamma(shape) if Poisson."""
    poisson = np.isinf(kappa)
    size = np.where(poisson, 1.0, kappa)
    safe = np.where(shape > 0, shape, 1.0)
    y = np.asarray(special.betaincinv(safe, size, share))
    rest = np.array(1.0 - y)
    # 1 - y loses its digits where y is close to 1 (many mites, large spread): take the other tail there.
    close = np.asarray(y > 0.5)
    if close.any():
        special.betaincinv(size, safe, 1.0 - share, out=rest, where=close)
        y = np.where(close, 1.0 - rest, y)
    with np.errstate(over="ignore", divide="ignore"):
        odds = np.asarray(size * (y / rest))
    if poisson.any():
        odds = np.where(poisson, special.gammaincinv(safe, share), odds)
    return np.asarray(odds)


def _none_found(kappa: Floats, tail: float) -> Floats:
    """Largest exposure x rate that still shows no mite with chance `tail`; -ln(tail) for Poisson."""
    rare = -np.log(tail)
    poisson = np.isinf(kappa)
    size = np.where(poisson, 1.0, kappa)
    return np.asarray(np.where(poisson, rare, size * np.expm1(rare / size)), dtype=np.float64)
