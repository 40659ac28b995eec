"""The words for a drop in mites, and the rules that lead to them. Pure."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

from treatments.constants import DEFAULTS


class Verdict(StrEnum):
    """What can be said of a treatment."""

    WORKED = "worked"
    FELL_SHORT = "fell_short"
    DID_NOT_WORK = "did_not_work"
    CANNOT_TELL = "cannot_tell"
    TOO_EARLY = "too_early"
    NO_BEFORE_COUNT = "no_before_count"


class Reason(StrEnum):
    """Why there is no number, or why the number does not decide."""

    NO_BEFORE_COUNT = "no_before_count"
    NO_AFTER_COUNT = "no_after_count"
    TOO_EARLY = "too_early"
    NOT_A_COUNT = "not_a_count"
    NOT_PAIRED = "not_paired"
    DIFFERENT_METHODS = "different_methods"
    TOO_FEW_BEES = "too_few_bees"
    BOARD_TOO_SHORT = "board_too_short"
    NO_MITES_BEFORE = "no_mites_before"
    FEW_MITES_BEFORE = "few_mites_before"
    NO_MITES_IN_CONTROLS = "no_mites_in_controls"
    TOO_FAR_APART = "too_far_apart"
    TOO_FEW_TO_SAY_WORKED = "too_few_to_say_worked"
    RANGE_TOO_WIDE = "range_too_wide"
    STARTS_UNKNOWN = "starts_unknown"
    NO_TARGET = "no_target"


@dataclass(frozen=True, slots=True)
class Drop:
    """A drop in mites as a part of 1, with its 90 % range.

    Negative where there were more after than before. For a pool of many drops: `scale` is the mites before that
    one after stands for (exposures made equal, growth taken off), `spread` the squared CV beyond chance.
    """

    drop: float
    low: float
    high: float
    scale: float | None = None
    spread: float | None = None


@dataclass(frozen=True, slots=True)
class Outcome:
    """The drop the verdict is about, or None with the reason.

    `seen` is the drop before growth was corrected for.

    `picked_high` warns that the colonies were chosen by the very count that serves as their before-count:
    such counts fall by themselves, by 10-34 % in simulations. `weak` marks a comparison without any
    before-count.
    """

    drop: float | None
    low: float | None
    high: float | None
    verdict: Verdict
    reason: Reason | None = None
    seen: Drop | None = None
    mites_before: int = 0
    mites_after: int = 0
    mites_needed: float | None = None
    colonies: int = 0
    picked_high: bool = False
    weak: bool = False
    scale: float | None = None
    spread: float | None = None


@dataclass(frozen=True, slots=True)
class Counts:
    """What was counted, for the rule of the fewest mites and for the reader."""

    before: float
    after: float
    exposure_ratio: float
    colonies: int


def mites_needed(floor: float, exposure_ratio: float = 1.0) -> float:
    """Fewest mites before with which finding none after shows a drop above `floor` (exact, one-sided 5 %).

    `exposure_ratio` is the exposure after as a part of the one before. Infinite where no number would do.
    """
    room = (1.0 - floor) * exposure_ratio
    if not room > 0 or not math.isfinite(room):
        return math.inf if not room > 0 else 1
    return max(math.ceil(math.log(20.0) / math.log1p(room)), 1)


def verdict_of(drop: Drop, target: float, floor: float | None = None) -> tuple[Verdict, Reason | None]:
    """Word for a range: the lower limit is held against the floor, the upper one against the target."""
    least = _floor(floor, target)
    if drop.low >= least:
        return (Verdict.WORKED if drop.high >= target else Verdict.FELL_SHORT), None
    if drop.high < target:
        return Verdict.DID_NOT_WORK, None
    return Verdict.CANNOT_TELL, Reason.RANGE_TOO_WIDE


def judged(drop: Drop, counts: Counts, target: float, floor: float | None) -> Outcome:
    """Outcome of a drop. Never "worked" on fewer mites before than could show it even if none were left."""
    needed = mites_needed(_floor(floor, target), counts.exposure_ratio)
    verdict, reason = verdict_of(drop, target, floor)
    if verdict is Verdict.WORKED and counts.before < needed:
        verdict, reason = Verdict.CANNOT_TELL, Reason.TOO_FEW_TO_SAY_WORKED
    return Outcome(
        drop.drop,
        drop.low,
        drop.high,
        verdict,
        reason,
        mites_before=int(counts.before),
        mites_after=int(counts.after),
        mites_needed=needed,
        colonies=counts.colonies,
        scale=drop.scale,
        spread=drop.spread,
    )


def refused(reason: Reason) -> Outcome:
    """No number, and why."""
    verdicts = {Reason.TOO_EARLY: Verdict.TOO_EARLY, Reason.NO_BEFORE_COUNT: Verdict.NO_BEFORE_COUNT}
    return Outcome(None, None, None, verdicts.get(reason, Verdict.CANNOT_TELL), reason)


def _floor(floor: float | None, target: float) -> float:
    return target - DEFAULTS.floor_below_target.value if floor is None else floor
