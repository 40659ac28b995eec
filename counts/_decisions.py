"""The chance that sampling some colonies of a yard ends in a right call, a wrong one, or none. Pure.

Whole yards are laid out on a fixed lattice of points instead of being drawn at random, so that the same plan
always has the same answer: colonies Gamma around the yard's mean, jars negative binomial, and then the very
estimate that the counts would get (`yard_mean`). Off by up to .015 for the number of points.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from scipy import special

from counts._intervals import POISSON_BELOW, Floats
from counts._yards import yard_mean
from counts.constants import DEFAULTS

POINTS = 2048
SAMPLED_MAX = 60
"""More sampled colonies are not worked out; the answer is then that of this many."""


@dataclass(frozen=True, slots=True)
class DecisionChances:
    """Chances that the yard is called below, called above, or not called, at its true mean rate."""

    below: float
    above: float
    rate: float
    action_level: float

    @property
    def no_call(self) -> float:
        """Chance that the counts cannot tell."""
        return max(0.0, 1.0 - self.below - self.above)

    @property
    def right(self) -> float:
        """Chance of the call that is true; at the level itself neither call is."""
        if self.rate == self.action_level:
            return 0.0
        return self.below if self.rate < self.action_level else self.above

    @property
    def wrong(self) -> float:
        """Chance of a call that is not true."""
        return self.below + self.above - self.right


@lru_cache(maxsize=1024)
def decision_chances(
    sampled: int,
    colonies: float,
    rate: float,
    action_level: float,
    *,
    bees: float = 300,
    between_c2: float = DEFAULTS.between_c2.value,
    within_c2: float = 0.0536,
    prior_weight: float = DEFAULTS.between_weight.value,
    certain_at: float = DEFAULTS.certain_at.value,
) -> DecisionChances | None:
    """Chances of each call from `sampled` of a yard's `colonies`, whose true mean is `rate` mites per bee.

    Fewer than three colonies of a larger yard get no call, as on every page. None where there is no such
    plan: no colonies, no bees, a rate or level that cannot be.
    """
    k = min(sampled, SAMPLED_MAX)
    possible = 1 <= sampled <= colonies and 0 < bees < math.inf and 0.5 < certain_at < 1 and prior_weight > 0
    spreads = 0 <= between_c2 < math.inf and 0 <= within_c2 < math.inf
    if not (possible and spreads and 0 < rate <= 10 and 0 < action_level <= 10):
        return None
    if sampled < colonies and sampled < DEFAULTS.yard_colonies_min.value:
        return DecisionChances(0.0, 0.0, rate, action_level)
    of = float(colonies) if sampled <= SAMPLED_MAX else max(float(colonies), k + 1.0)
    mites = _jars(
        _yards(k, of, between_c2) * (rate * bees), _lattice(2 * k + 1)[:, k + 1 : 2 * k + 1], within_c2
    )
    said = yard_mean(
        mites,
        np.full_like(mites, bees),
        of,
        between_c2=between_c2,
        within_c2=within_c2,
        prior_weight=prior_weight,
    ).chance_above(action_level)
    return DecisionChances(
        float(np.mean(said <= 1.0 - certain_at)), float(np.mean(said >= certain_at)), rate, action_level
    )


def _yards(k: int, of: float, between_c2: float) -> Floats:
    """Rates of the sampled colonies as parts of the yard's mean, one yard a row.

    A yard's rates, Gamma and scaled to a mean of exactly 1, are Dirichlet: the sampled ones share a Beta part.
    """
    points = _lattice(2 * k + 1)
    if between_c2 < POISSON_BELOW:
        return np.ones((POINTS, k))
    shape = 1.0 / between_c2
    own = np.maximum(special.gammaincinv(shape, points[:, :k]) / shape, np.finfo(np.float64).tiny)
    if math.isinf(of):
        return np.asarray(own)
    part = np.ones(POINTS) if k == of else special.betaincinv(k * shape, (of - k) * shape, points[:, k])
    return np.asarray(own / own.sum(axis=1, keepdims=True) * (of * part)[:, None])


def _jars(expected: Floats, points: Floats, within_c2: float) -> Floats:
    """Mites in jars that expect so many, at these points of their distribution."""
    mean = np.clip(expected, 1e-12, 1e12)
    few = np.minimum(mean, 1e4)
    if within_c2 < POISSON_BELOW:
        exact, many = special.pdtrik(points, few), mean
    else:
        size = 1.0 / within_c2
        exact = special.nbdtrik(points, size, size / (size + few))
        many = mean * special.gammaincinv(size, points) / size
    return np.asarray(np.where(mean < 1e4, np.ceil(np.nan_to_num(exact)), np.rint(many)), dtype=np.float64)


@lru_cache(maxsize=16)
def _lattice(dimensions: int) -> Floats:
    """Points spread evenly over a cube: multiples of square roots of primes, modulo 1 (Richtmyer, memory)."""
    primes: list[int] = []
    candidate = 2
    while len(primes) < dimensions:
        if all(candidate % one for one in primes):
            primes.append(candidate)
        candidate += 1
    steps = np.sqrt(np.asarray(primes, dtype=np.float64))
    return np.asarray(np.clip(np.outer(np.arange(1, POINTS + 1), steps) % 1.0, 1e-9, 1 - 1e-9))
