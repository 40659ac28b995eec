"""How much a colony gets by its size, and how much to bring for a yard. Pure.

The amounts come from the reference data, which follow labels; the label in the keeper's hand decides.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import ROUND_CEILING, Decimal
from enum import StrEnum

from apiaries.language import mark, say
from treatments.constants import DEFAULTS


class DosePer(StrEnum):
    """What the dose is counted by."""

    COLONY = "colony"
    BROOD_BOX = "brood_box"
    FRAME = "frame"
    SEAM = "seam"


class DoseReason(StrEnum):
    """Why there is no dose, or why it is not the plain product."""

    SIZE_MISSING = "size_missing"
    AT_MAX = "at_max"


@dataclass(frozen=True, slots=True)
class DoseRule:
    """`amount` of `unit` for every `per_number` of `per`.

    Never more than `max_per_colony`; `whole` for strips.
    """

    amount: Decimal
    unit: str
    per: DosePer
    per_number: int = 1
    max_per_colony: Decimal | None = None
    whole: bool = False


_UNITS = {
    "g_per_brood_box": ("g", DosePer.BROOD_BOX, 1, False),
    "g_per_hive": ("g", DosePer.COLONY, 1, False),
    "ml_per_hive": ("mL", DosePer.COLONY, 1, False),
    "ml_per_seam": ("mL", DosePer.SEAM, 1, False),
    "strips_per_5_frames": ("strips", DosePer.FRAME, 5, True),
    "strips_per_brood_box": ("strips", DosePer.BROOD_BOX, 1, True),
    "strips_per_hive": ("strips", DosePer.COLONY, 1, True),
    "trays_per_hive": ("trays", DosePer.COLONY, 1, True),
    "combs_per_hive": ("combs", DosePer.COLONY, 1, True),
}


def rule_from_unit(amount: Decimal | None, dose_unit: str, max_per_colony: Decimal | None) -> DoseRule | None:
    """The rule that a line of the reference data states; None where it leaves the dose to the label."""
    if amount is None or dose_unit not in _UNITS:
        return None
    unit, per, number, whole = _UNITS[dose_unit]
    return DoseRule(amount, unit, per, number, max_per_colony, whole)


_WAY_UNITS = {"vapour": "g", "extended_release_strip": "strips", "strip": "strips", "wafer": "wafers"}


def unit_of(dose_unit: str, way: str) -> str:
    """The unit in which one colony's dose is noted; by the way of giving it where the data leave it to the label."""
    if dose_unit in _UNITS:
        return _UNITS[dose_unit][0]
    return _WAY_UNITS.get(way, "mL" if "trickle" in way or way in ("pad", "evaporator") else "pieces")


_UNIT_WORDS = (
    mark("g"),
    mark("kg"),
    mark("mL"),
    mark("L"),
    mark("strips"),
    mark("trays"),
    mark("combs"),
    mark("wafers"),
    mark("pieces"),
    mark("packs"),
)


def unit_words(unit: str) -> str:
    """A unit as it is kept, in the reader's language; what people typed stays as it is."""
    return say(unit) if unit in _UNIT_WORDS else unit


@dataclass(frozen=True, slots=True)
class ColonySize:
    """Size of one colony; None for what nobody has noted."""

    brood_boxes: int | None = None
    frames: int | None = None
    seams: int | None = None

    def number_of(self, per: DosePer) -> int | None:
        """How many of them the colony has."""
        if per is DosePer.COLONY:
            return 1
        by_kind = {DosePer.BROOD_BOX: self.brood_boxes, DosePer.FRAME: self.frames, DosePer.SEAM: self.seams}
        return by_kind[per]


@dataclass(frozen=True, slots=True)
class ColonyDose:
    """What one colony gets; no amount, with a reason, while its size is not known."""

    amount: Decimal | None
    unit: str
    reason: DoseReason | None = None


@dataclass(frozen=True, slots=True)
class Total:
    """What a yard needs: the doses together, the spare, and what to bring."""

    doses: Decimal
    spare: Decimal
    to_bring: Decimal


def dose_per_colony(rule: DoseRule, size: ColonySize) -> ColonyDose:
    """Dose of one colony. Strips are whole, rounded up, but never above the most a hive may get."""
    number = size.number_of(rule.per)
    if number is None or number <= 0:
        return ColonyDose(None, rule.unit, DoseReason.SIZE_MISSING)
    amount = rule.amount * number / rule.per_number
    if rule.whole:
        amount = amount.to_integral_value(ROUND_CEILING)
    if rule.max_per_colony is not None and amount > rule.max_per_colony:
        return ColonyDose(rule.max_per_colony, rule.unit, DoseReason.AT_MAX)
    return ColonyDose(amount, rule.unit)


def total_to_bring(amounts: Iterable[Decimal], *, spare: Decimal | None = None, whole: bool = False) -> Total:
    """Amounts together with the spare share, a tenth unless told; whole units are rounded up."""
    share = Decimal(str(DEFAULTS.spare_share.value)) if spare is None else spare
    doses = sum(amounts, Decimal(0))
    extra = doses * share
    if whole:
        extra = extra.to_integral_value(ROUND_CEILING)
    return Total(doses, extra, doses + extra)


def grams_dissolved(grams_per_litre: Decimal, millilitres: Decimal) -> Decimal:
    """Grams of the substance in that much of a solution (g/L is the same as mg/mL)."""
    return grams_per_litre * millilitres / 1000
