"""What would settle whether a rate is above a level: how much more counting. Pure.

The answer supposes that further jars show the rate of those counted. It is a plan, not a promise: where the
rate lies close to the level, no amount of counting settles it.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from counts._intervals import chance_above
from counts._verdicts import Estimate, Unit
from counts._yards import between_part
from counts.constants import DEFAULTS, Constants


def bees_to_settle(estimate: Estimate, action_level: float, constants: Constants = DEFAULTS) -> int | None:
    """Bees of one colony, those counted included, that would settle it, in jars like the one counted.

    Each jar brings its own errors, so that they average out over jars. None: a board, a refused estimate, or
    not even `settle_jars_max` jars would.
    """
    if not estimate.comparable or estimate.unit is not Unit.PER_BEE or not estimate.bees:
        return None
    jars = np.arange(1, int(constants.settle_jars_max.value) + 1, dtype=np.float64)
    chances = chance_above(
        estimate.mites * jars, estimate.exposure * jars, estimate.c2 / jars, max(action_level, 0.0)
    )
    first = _first_settled(chances, constants)
    return None if first is None else (first + 1) * estimate.bees


def colonies_to_settle(
    mites: npt.ArrayLike,
    bees: npt.ArrayLike,
    colonies: int,
    action_level: float,
    *,
    recovery: float = 1.0,
    within_c2: float = 0.0536,
    constants: Constants = DEFAULTS,
) -> int | None:
    """Colonies of a yard, those sampled included, that would settle its mean, one jar each.

    None: no sample, counts that cannot be, or not even all colonies (or 200 of them) would.
    """
    m, x = (np.asarray(one, dtype=np.float64).ravel() for one in np.broadcast_arrays(mites, bees))
    known = np.isfinite(m).all() and np.isfinite(x).all() and (m >= 0).all() and (x > 0).all()
    if m.size == 0 or not known or not recovery > 0 or colonies < m.size:
        return None
    x = x * recovery
    k, of = float(m.size), float(colonies)
    between, weight = constants.between_c2.value, constants.between_weight.value
    apart = float(between_part(m, x, between, within_c2, weight))
    least = min(max(k, constants.yard_colonies_min.value), of)
    sampled = np.arange(least, max(least, min(of, 200.0)) + 1.0)
    total, exposure = float(m.sum()), float(x.sum())
    squares = (float((m**2).sum()) - total) / total**2 if total > 1 else 0.0
    uneven = np.clip(squares * k / sampled, 1.0 / sampled, 1.0)
    c2 = apart * (1.0 - sampled / of) / sampled + within_c2 * uneven
    grown = sampled / k
    first = _first_settled(
        chance_above(total * grown, exposure * grown, c2, max(action_level, 0.0)), constants
    )
    return None if first is None else int(sampled[first])


def _first_settled(chances: npt.NDArray[np.float64], constants: Constants) -> int | None:
    sure = constants.certain_at.value
    settled = np.flatnonzero((chances >= sure) | (chances <= 1.0 - sure))
    return int(settled[0]) if settled.size else None
