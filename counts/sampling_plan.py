"""How many colonies, bees or mites a count needs. Pure.

    units_for_precision_nb, units_for_precision_taylor   sampling units for a wanted standard error
    mites_for_precision_poisson                          mites to count altogether
    finite_yard                                          fewer units, where the yard has few colonies
    colonies_for_precision, precision_of                 colonies to sample, one jar each; and the other way round
    stopping_lines                                       stop as soon as the count says enough
    colonies_for_decision                                a first guess for a call, above or below
    decision_chances, gain_of_more                       how often a plan ends in the right call
    draw_colonies                                        a fair list of colonies, with spares

Precision is the standard error as a share of the mean. A plan that cannot exist is infinite, or None.
Formulas: Karandinos 1976, Taylor 1961 (from memory); Wald's sequential test with a negative binomial.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from random import Random
from statistics import NormalDist

from counts._decisions import DecisionChances, decision_chances


def units_for_precision_nb(mean: float, k: float, d: float) -> float:
    """Sampling units for precision `d` at this mean per unit; counts negative binomial with size `k`."""
    if not (mean > 0 and k > 0 and d > 0):
        return math.inf
    return (1.0 / mean + 1.0 / k) / d**2


def units_for_precision_taylor(mean: float, a: float, b: float, d: float) -> float:
    """Sampling units for precision `d`, if the variance of a unit is `a * mean ** b` (Taylor's power law)."""
    if not (mean > 0 and a > 0 and d > 0):
        return math.inf
    return float(a * mean ** (b - 2.0) / d**2)


def mites_for_precision_poisson(d: float) -> float:
    """Mites to count altogether for precision `d`, if nothing but chance varies."""
    return 1.0 / d**2 if d > 0 else math.inf


def finite_yard(n: float, colonies: float) -> float:
    """Units needed in a yard of so many colonies, where an endless yard would need `n`."""
    if not colonies > 0:
        return 0.0
    return float(colonies) if math.isinf(n) else n / (1.0 + n / colonies)


def colonies_for_precision(
    rate: float,
    bees: float,
    *,
    between_c2: float,
    within_c2: float,
    precision: float = 0.25,
    colonies: float = math.inf,
) -> float:
    """Colonies to sample, so many bees each, for this precision of a yard's mean at `rate` mites per bee.

    A yard of few colonies needs fewer, but the error inside the jars does not shrink with it; the answer may
    therefore exceed `colonies`: then the wanted precision cannot be had with one jar each.
    """
    if not (rate > 0 and bees > 0 and precision > 0 and colonies > 0):
        return math.inf
    return (between_c2 + within_c2 + 1.0 / (bees * rate)) / (precision**2 + between_c2 / colonies)


def precision_of(
    k: float,
    rate: float,
    bees: float,
    *,
    between_c2: float,
    within_c2: float,
    colonies: float = math.inf,
) -> float:
    """The precision that `k` colonies give, so many bees each: `colonies_for_precision` the other way round."""
    if not (k > 0 and rate > 0 and bees > 0 and colonies >= k):
        return math.inf
    return math.sqrt(max((between_c2 + within_c2 + 1.0 / (bees * rate)) / k - between_c2 / colonies, 0.0))


@dataclass(frozen=True, slots=True)
class StoppingLines:
    """Two parallel lines for the mites found so far after so many colonies: stop at or outside them."""

    slope: float
    below: float
    above: float

    def call(self, mites: float, colonies: int) -> str:
        """`below`, `above` or `go on`, after so many mites in so many colonies taken in random order."""
        expected = self.slope * colonies
        if mites >= expected + self.above:
            return "above"
        return "below" if mites <= expected + self.below else "go on"


def stopping_lines(low: float, high: float, k: float, alpha: float, beta: float) -> StoppingLines | None:
    """Lines that tell a mean of `low` mites per jar from one of `high`, negative binomial with size `k`.

    `alpha` is the chance to call `low` above, `beta` to call `high` below. None if there is no such plan.
    """
    errors = 0 < alpha < 1 and 0 < beta < 1 and alpha + beta < 1
    if not (0 < low < high and 0 < k < math.inf and errors):
        return None
    weight = math.log(high * (low + k) / (low * (high + k)))
    slope = k * math.log((high + k) / (low + k)) / weight
    return StoppingLines(
        slope, below=math.log(beta / (1.0 - alpha)) / weight, above=math.log((1.0 - beta) / alpha) / weight
    )


def colonies_for_decision(
    rate: float,
    action_level: float,
    bees: float,
    *,
    between_c2: float,
    within_c2: float,
    colonies: float = math.inf,
    certain_at: float = 0.90,
    right: float = 0.80,
) -> float:
    """Colonies to sample for the right call with chance `right`: a first guess, by the normal distribution.

    Infinite where rate and level are the same. Show `decision_chances` for the number chosen.
    """
    possible = rate > 0 and action_level > 0 and bees > 0 and colonies > 0 and rate != action_level
    if not (possible and 0 < certain_at < 1 and 0 < right < 1):
        return math.inf
    wanted = NormalDist().inv_cdf(certain_at) + NormalDist().inv_cdf(right)
    spread = between_c2 + within_c2 + 1.0 / (bees * math.sqrt(rate * action_level))
    endless = wanted**2 * spread / math.log(rate / action_level) ** 2
    return endless / (1.0 + endless * (between_c2 / spread) / colonies)


def gain_of_more(now: DecisionChances | None, later: DecisionChances | None) -> float | None:
    """By how much the chance of the right call rises from one plan to another; None if either cannot be."""
    return None if now is None or later is None else later.right - now.right


@dataclass(frozen=True, slots=True)
class Draw:
    """Colonies to sample, in the order to take them, and spares for those that cannot be opened."""

    chosen: tuple[str, ...]
    spares: tuple[str, ...]


def draw_colonies(names: Iterable[str], k: int, spares: int, seed: str) -> Draw:
    """A fair draw without putting back; the caller brings the seed. All colonies where `k` is more than there are.

    The order is random too: who stops early must not have begun with the strongest. Each colony has its own lot from
    the seed, so that a list once printed keeps its order when a colony comes or goes.
    """
    lots = {name: Random(f"{seed} {name}").random() for name in set(names)}  # noqa: S311 (a fair list, no secret)
    drawn = sorted(lots, key=lambda name: (lots[name], name))[: max(k, 0) + max(spares, 0)]
    return Draw(tuple(drawn[: max(k, 0)]), tuple(drawn[max(k, 0) :]))


__all__ = [
    "DecisionChances",
    "Draw",
    "StoppingLines",
    "colonies_for_decision",
    "colonies_for_precision",
    "decision_chances",
    "draw_colonies",
    "finite_yard",
    "gain_of_more",
    "mites_for_precision_poisson",
    "precision_of",
    "stopping_lines",
    "units_for_precision_nb",
    "units_for_precision_taylor",
]
