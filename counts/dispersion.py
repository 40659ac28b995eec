"""How much the colonies of a yard differ in this club, from its own counts. Pure.

It replaces the default (`between_c2`) once enough yards have two colonies counted on one occasion.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from counts.constants import DEFAULTS, Constants


class NoSpread(StrEnum):
    """Why the club's own spread is not known yet."""

    FEW_YARDS = "few_yards"
    FEW_MITES = "few_mites"


@dataclass(frozen=True, slots=True)
class ClubSpread:
    """Squared CVs of the club's jars within a yard: in all, and its part between colonies."""

    total_c2: float
    between_c2: float
    yards: int


def club_spread(
    yards: Iterable[Sequence[tuple[float, float]]],
    *,
    within_c2: float = 0.0536,
    constants: Constants = DEFAULTS,
) -> ClubSpread | NoSpread:
    """Spread pooled over yards, each a list of (mites, bees) of different colonies on one occasion.

    By moments, chance taken off. Yards with fewer than two usable jars do not count.
    """
    over, room, used = 0.0, 0.0, 0
    for yard in yards:
        jars = np.asarray([jar for jar in yard if _usable(*jar)], dtype=np.float64).reshape(-1, 2)
        if len(jars) >= 2:
            more, at = _yard_moments(jars[:, 0], jars[:, 1])
            over, room, used = over + more, room + at, used + 1
    if used < constants.club_yards_min.value:
        return NoSpread.FEW_YARDS
    if not room > 0:
        return NoSpread.FEW_MITES
    total = max(over / room, 0.0)
    return ClubSpread(total, max(total - within_c2, 0.0), used)


def _usable(mites: float, bees: float) -> bool:
    return bool(np.isfinite(mites) and np.isfinite(bees) and mites >= 0 and bees > 0)


def _yard_moments(m: np.ndarray, n: np.ndarray) -> tuple[float, float]:
    """Squares beyond chance, and what they are a multiple of: with equal jars (k - 1) (mean^2 - s^2 / k)."""
    k, part = len(m), n / n.sum()
    rate = m.sum() / n.sum()
    squares = float(np.square(m - n * rate).sum())
    by_chance = float((n * rate * (1.0 - part)).sum())
    leverage = float((n**2 * (1.0 - 2.0 * part + np.square(part).sum())).sum())
    rate2 = rate**2 - squares / (k - 1) / k / n.mean() ** 2
    return squares - by_chance, leverage * rate2
