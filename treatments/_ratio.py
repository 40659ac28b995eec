"""The ratio of two counts: its quantiles, and how much it spreads beyond chance. Pure.

Given each colony's own rate, the mites after, out of those before and after, are binomial, however much
colonies differ; counting the same colonies twice takes that difference out. What is left is the error of
scooping, and the unequal effect among colonies when the answer is about more colonies than were counted. Both
together are `spread`, the squared CV of the ratio; it deflates the Beta posterior, so that limits stay closed
forms.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy import special

from treatments._verdicts import Counts
from treatments.constants import Constants

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Pair:
    """Mites and exposure (bees, or days x share of the board) of the same colonies, before and after."""

    before: Floats
    exposure_before: Floats
    after: Floats
    exposure_after: Floats

    @property
    def colonies(self) -> int:
        """Number of colonies counted twice."""
        return int(self.before.size)

    @property
    def ratio(self) -> float:
        """Rate after as a part of the rate before, of the sums: never a mean of percentages."""
        return self.mites_after / self.mites_before / self.exposure_ratio

    @property
    def mites_before(self) -> float:
        """All mites counted before."""
        return float(self.before.sum())

    @property
    def mites_after(self) -> float:
        """All mites counted after."""
        return float(self.after.sum())

    @property
    def exposure_ratio(self) -> float:
        """Exposure after as a part of the exposure before."""
        return float(self.exposure_after.sum() / self.exposure_before.sum())

    def counts(self) -> Counts:
        """What the words need to know of it."""
        return Counts(self.mites_before, self.mites_after, self.exposure_ratio, self.colonies)

    def quantile(self, share: float, spread: float) -> float:
        """Quantile of the ratio of rates; 0 for the lower ones when no mite was found after."""
        if self.mites_after == 0 and share < 0.5:
            return 0.0
        return ratio_quantile(self.mites_before, self.mites_after, spread, share) / self.exposure_ratio


def ratio_quantile(before: float, after: float, spread: float, share: float) -> float:
    """Quantile of after / before for equal exposures.

    Jeffreys (a half added to each), deflated by `spread`.
    """
    a, b = before + 0.5, after + 0.5
    chance = 1.0 / a + 1.0 / b
    keep = chance / (chance + spread)
    above = float(special.betaincinv(b * keep, a * keep, share))
    # 1 - above loses its digits near 1, so the other tail is taken.
    below = float(special.betaincinv(a * keep, b * keep, 1.0 - share))
    return above / max(below, 1e-300)


def paired_spread(pair: Pair, scoop_c2: float, treated: float | None, constants: Constants) -> float:
    """Squared CV of the ratio beyond chance.

    `treated`: how many colonies the answer is about; None for these.
    """
    effect = _effect_c2(pair, scoop_c2, constants)
    left_out = 0.0 if treated is None else max(0.0, 1.0 - pair.colonies / max(treated, 1.0))
    return (effect * left_out + scoop_c2) * _unevenness(pair)


def _effect_c2(pair: Pair, scoop_c2: float, constants: Constants) -> float:
    """Squared CV of the survivors among colonies, widened for how little is known of it."""
    weight, prior = constants.between_colonies_weight.value, constants.between_colonies_c2.value
    effect, freedom = prior, weight
    more = pair.colonies - 1
    if more >= 1 and pair.mites_after >= constants.learn_from_after.value:
        freedom = weight + more
        mixed = (weight * (prior + scoop_c2) + more * _seen_c2(pair)) / freedom
        effect = max(mixed - scoop_c2, 0.0)
    tail = (1.0 + constants.level.value) / 2.0
    widened = float(special.stdtrit(freedom, tail)) / float(special.ndtri(tail))
    return effect * widened**2


def _seen_c2(pair: Pair) -> float:
    """Squared CV of the ratio among colonies as these counts show it, chance taken off.

    By moments, clipped.
    """
    scaled = pair.before * (pair.exposure_after / pair.exposure_before)
    ratio = pair.mites_after / max(float(scaled.sum()), 1e-300)
    expected = ratio * scaled
    off = pair.after - expected
    by_chance = pair.after + ratio**2 * scaled
    inflate = pair.colonies / (pair.colonies - 1)
    seen = (inflate * float((off**2).sum()) - float(by_chance.sum())) / float((expected**2).sum())
    return min(max(seen, -2.0), 6.0)


def _unevenness(pair: Pair) -> float:
    """Share of the squared sum that one colony carries: 1 / colonies when all had the same mites before."""
    total, least = pair.mites_before, 1.0 / pair.colonies
    if total <= 1:
        return least
    return min(max((float((pair.before**2).sum()) - total) / total**2, least), 1.0)


def log_or_least(value: float) -> float:
    """Natural logarithm; minus infinity at 0."""
    return math.log(value) if value > 0 else -math.inf


def mover(treated: tuple[float, float, float], control: tuple[float, float, float]) -> tuple[float, float]:
    """Limits of a difference of logs from (low, median, high) of each arm.

    The method of variance recovery (MOVER).
    """
    (low_t, mid_t, high_t), (low_c, mid_c, high_c) = treated, control
    gap = mid_t - mid_c
    low = gap - math.hypot(mid_t - low_t, high_c - mid_c)
    return low, gap + math.hypot(high_t - mid_t, mid_c - low_c)
