"""Units, refusals and the result of one sample. Pure."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from counts._intervals import Prior, chance_above
from counts.constants import METHOD_VERSION


class Unit(StrEnum):
    """What a rate is per. Boards are told per day; never turn one into the other."""

    PER_BEE = "per_bee"
    PER_DAY = "per_day"


class Refusal(StrEnum):
    """Why no estimate, or no verdict from one, is given."""

    NOT_A_COUNT = "not_a_count"
    NO_BEES = "no_bees"
    FEW_BEES = "few_bees"
    WRONG_METHOD = "wrong_method"
    DRONE_BROOD = "drone_brood"
    NO_DAYS = "no_days"
    SHORT_BOARD = "short_board"
    SMALL_SHARE = "small_share"
    FEW_MITES_ON_PART = "few_mites_on_part"
    TREATMENT_FALL = "treatment_fall"
    ONE_COLONY = "one_colony"


@dataclass(frozen=True, slots=True)
class Estimate:
    """What one sample says: mites per bee, or per day for a board, with its range.

    With a `reason` the numbers are None, except for `TREATMENT_FALL`: what fell under a treatment can be told
    per day, but is not the natural drop and is compared with nothing.
    """

    rate: float | None
    low: float | None
    high: float | None
    unit: Unit
    one_sided: bool
    """True at 0 mites: `high` is then a one-sided bound."""
    reason: Refusal | None
    mites: int = 0
    exposure: float = 0.0
    """Bees times recovery, or days times the share of cells counted times detection."""
    c2: float = 0.0
    rough: bool = False
    corrected: bool = False
    """Whether the rate makes up for mites that the method leaves on the bees."""
    bees: int | None = None
    days: float | None = None
    method: str = METHOD_VERSION

    @property
    def comparable(self) -> bool:
        """Whether it may be compared with an action level."""
        return self.reason is None

    @property
    def seen(self) -> float | None:
        """Mites per bee as found in the jar, not corrected; None for a board or without bees."""
        return self.mites / self.bees if self.bees else None

    def chance_above(self, action_level: float, prior: Prior | None = None) -> float:
        """Chance that the rate is above `action_level` (same unit); one half if nothing is known."""
        return float(chance_above(self.mites, self.exposure, self.c2, action_level, prior))
