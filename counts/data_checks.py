"""Counts that do not fit those around them: what to ask, never a reason to delete. Pure.

Beside `counts.samples`, which looks at one count by itself, these look at the yard, the colony's last count
and a keeper's habits. A truly hot colony is the usual cause of an odd count.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from enum import StrEnum

import numpy as np
import numpy.typing as npt
from scipy import special

from counts._intervals import POISSON_BELOW
from counts._yards import between_part, yard_mean
from counts.constants import DEFAULTS, Constants


class Oddity(StrEnum):
    """What is odd about a count beside others; the last two are about many counts of one keeper."""

    HOT_OR_TYPING = "hot_or_typing"
    FAST_RISE = "fast_rise"
    FALL_UNTREATED = "fall_untreated"
    ROUND_NUMBERS = "round_numbers"
    ALL_ZERO = "all_zero"


def chance_of_as_many(mites: float, mean: float, c2: float) -> float:
    """Chance of so many mites or more (an equal count half counted), negative binomial; 1 if it cannot be."""
    if not (0 <= mites < math.inf and 0 < mean < math.inf and 0 <= c2 < math.inf):
        return 1.0
    if c2 < POISSON_BELOW:
        more, at_least = special.gammainc(mites + 1.0, mean), special.gammainc(max(mites, 1e-300), mean)
    else:
        size = 1.0 / c2
        part = mean / (size + mean)
        more = special.betainc(mites + 1.0, size, part)
        at_least = special.betainc(max(mites, 1e-300), size, part)
    return float((more + (at_least if mites >= 1 else 1.0)) / 2.0)


def odd_in_yard(
    mites: npt.ArrayLike,
    bees: npt.ArrayLike,
    *,
    within_c2: float = 0.0536,
    constants: Constants = DEFAULTS,
) -> tuple[int, ...]:
    """Places of colonies far above the others of their yard, each held against the rest; one jar each.

    None with fewer than three colonies, or where a count cannot be.
    """
    m, n = (np.asarray(one, dtype=np.float64).ravel() for one in np.broadcast_arrays(mites, bees))
    counts = np.isfinite(m) & np.isfinite(n) & (m >= 0) & (n > 0)
    if m.size < constants.odd_colonies_min.value or not counts.all():
        return ()
    chances = (_chance_beside(m, n, i, within_c2, constants) for i in range(m.size))
    return tuple(i for i, chance in enumerate(chances) if chance < constants.odd_chance.value)


def _chance_beside(
    m: npt.NDArray[np.float64], n: npt.NDArray[np.float64], i: int, within: float, constants: Constants
) -> float:
    others, jars = np.delete(m, i), np.delete(n, i)
    between, weight = constants.between_c2.value, constants.between_weight.value
    apart = float(between_part(others, jars, between, within, weight))
    rest = yard_mean(others, jars, between_c2=between, within_c2=within, prior_weight=weight)
    mean = n[i] * max(float(others.sum()), 0.5) / float(jars.sum())
    least = constants.odd_between_c2.value
    own, yard = max(apart, least) + within, max(float(rest.c2), least / others.size)
    return chance_of_as_many(float(m[i]), float(mean), (1.0 + own) * (1.0 + yard) - 1.0)


def change_z(
    before: float,
    bees_before: float,
    after: float,
    bees_after: float,
    days: float = 0.0,
    *,
    within_c2: float = 0.0536,
    constants: Constants = DEFAULTS,
) -> float:
    """Rise of a colony's rate beyond the fastest growth in so many days, in standard errors; 0 if unknown."""
    given = (before, bees_before, after, bees_after, days)
    if not (all(math.isfinite(one) and one >= 0 for one in given) and bees_before > 0 and bees_after > 0):
        return 0.0
    first, second = before + 0.5, after + 0.5
    rise = math.log(second / first) - math.log(bees_after / bees_before)
    error = math.sqrt(1.0 / first + 1.0 / second + 2.0 * within_c2)
    return (rise - constants.growth_max_per_day.value * days) / error


def odd_change(
    before: float,
    bees_before: float,
    after: float,
    bees_after: float,
    days: float,
    *,
    treated_between: bool,
    within_c2: float = 0.0536,
    constants: Constants = DEFAULTS,
) -> Oddity | None:
    """What is odd about two counts of one colony by one method, `days` apart."""
    counts = (before, bees_before, after, bees_after)
    if change_z(*counts, days, within_c2=within_c2, constants=constants) > constants.odd_z.value:
        return Oddity.FAST_RISE
    fell = change_z(*counts, within_c2=within_c2, constants=constants) < -constants.odd_z.value
    return Oddity.FALL_UNTREATED if fell and not treated_between else None


def odd_habits(washes: Sequence[tuple[int, int]], constants: Constants = DEFAULTS) -> tuple[Oddity, ...]:
    """What is odd about a keeper's washes, each (mites, bees): hints for a coordinator only.

    Of counts from ten mites on, one in five should end in 0 or 5. A wash counts as able to find nothing by
    chance only where it would seldom be empty at 1 mite per 100 bees (Poisson).
    """
    found: list[Oddity] = []
    many = [mites for mites, _ in washes if mites >= constants.heaped_mites_min.value]
    heaped = sum(mites % 5 == 0 for mites in many)
    if len(many) >= constants.heaped_counts_min.value and heaped:
        chance = float(special.betainc(heaped, len(many) - heaped + 1, 0.2))
        if chance < constants.odd_chance.value:
            found.append(Oddity.ROUND_NUMBERS)
    least = -100.0 * math.log(constants.empty_wash_chance.value)
    large = [mites for mites, bees in washes if bees >= least]
    if len(large) >= constants.empty_washes_min.value and not any(large):
        found.append(Oddity.ALL_ZERO)
    return tuple(found)
