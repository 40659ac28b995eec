"""Did it work? The drop in mites with its range, and a word for it. Pure.

Every answer rests on mites counted, not on percentages of single colonies: sums of the same colonies before
and after. The range is a 90 % one, so that each limit is a one-sided 5 % test, as in the egg-count reduction
test for sheep and horses (AAEP guide after the 2023 W.A.A.V.P. guideline): good when the lower limit clears
the floor, bad when the upper limit stays under the target, otherwise nobody can tell. A refusal is a value
with a reason.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import NamedTuple

import numpy as np
import numpy.typing as npt
from scipy import special

from treatments._ratio import Pair, log_or_least, mover, paired_spread
from treatments._verdicts import Drop, Outcome, Reason, Verdict, judged, mites_needed, refused, verdict_of
from treatments.constants import DEFAULTS, Constants


class Growth(NamedTuple):
    """Growth of mites per day without treatment, and its standard deviation; a plain pair will do."""

    per_day: float
    sd: float


DEFAULT_GROWTH = Growth(DEFAULTS.growth_per_day.value, DEFAULTS.growth_per_day.sd)


def drop_in_mites(
    before: npt.ArrayLike,
    bees_before: npt.ArrayLike,
    after: npt.ArrayLike,
    bees_after: npt.ArrayLike,
    *,
    treated_colonies: float | None = None,
    target: float = 0.90,
    floor: float | None = None,
    days_between: float | None = None,
    growth: tuple[float, float] | None = None,
    too_early: bool = False,
    same_method: bool = True,
    selected_by_count: bool = False,
    constants: Constants = DEFAULTS,
) -> Outcome:
    """Drop between two jars of the same colonies, one value per colony (or scalars for one).

    `treated_colonies`: None for "these colonies", a number for a yard, infinity for "the treatment". With
    `growth` and `days_between`, drop, range and verdict are corrected for what the mites would have grown.
    """
    checked = _pair(before, bees_before, after, bees_after, constants.jar_bees_min.value, Reason.TOO_FEW_BEES)
    refusal = Reason.TOO_EARLY if too_early else None if same_method else Reason.DIFFERENT_METHODS
    pair = _with_mites(checked, refusal, constants)
    if not isinstance(pair, Pair):
        return refused(pair)
    spread = paired_spread(pair, 2.0 * constants.jar_c2.value, treated_colonies, constants)
    seen = _drop(pair, spread, 1.0, constants)
    answer = seen
    if growth is not None:
        days = math.nan if days_between is None else float(days_between)
        if not 0 <= days <= constants.days_between_max.value:
            return replace(refused(Reason.TOO_FAR_APART), seen=seen)
        wider = spread + (growth[1] * days) ** 2
        answer = _drop(pair, wider, math.exp(-growth[0] * days), constants)
    outcome = judged(answer, pair.counts(), target, floor)
    return replace(outcome, seen=seen, picked_high=selected_by_count)


def drop_on_boards(
    before: npt.ArrayLike,
    days_before: npt.ArrayLike,
    after: npt.ArrayLike,
    days_after: npt.ArrayLike,
    *,
    share_counted: float = 1.0,
    treated_colonies: float | None = None,
    target: float = 0.90,
    floor: float | None = None,
    too_early: bool = False,
    selected_by_count: bool = False,
    constants: Constants = DEFAULTS,
) -> Outcome:
    """Drop between the natural fall on boards before and after, never counting the fall a treatment causes.

    The caller leaves a week after the end of the treatment (common practice, no source). `share_counted` is
    the part of the board's cells counted, the same both times.
    """
    checked = _pair(
        before, days_before, after, days_after, constants.board_days_min.value, Reason.BOARD_TOO_SHORT
    )
    pair = _with_mites(checked, Reason.TOO_EARLY if too_early else None, constants)
    if not isinstance(pair, Pair):
        return refused(pair)
    if not 0.0 < share_counted <= 1.0:
        return refused(Reason.NOT_A_COUNT)
    grid = constants.board_grid_cv.value**2 if share_counted < 1.0 else 0.0
    days = 1.0 / float(pair.exposure_before.mean()) + 1.0 / float(pair.exposure_after.mean())
    spread = paired_spread(
        pair, constants.board_day_cv.value**2 * days + 2 * grid, treated_colonies, constants
    )
    seen = _drop(pair, spread, 1.0, constants)
    return replace(judged(seen, pair.counts(), target, floor), seen=seen, picked_high=selected_by_count)


def drop_against_controls(
    before: npt.ArrayLike,
    bees_before: npt.ArrayLike,
    after: npt.ArrayLike,
    bees_after: npt.ArrayLike,
    control_before: npt.ArrayLike,
    control_bees_before: npt.ArrayLike,
    control_after: npt.ArrayLike,
    control_bees_after: npt.ArrayLike,
    *,
    target: float = 0.90,
    floor: float | None = None,
    too_early: bool = False,
    same_method: bool = True,
    constants: Constants = DEFAULTS,
) -> Outcome:
    """Drop against untreated colonies counted at the same times (Henderson & Tilton 1955), range by MOVER."""
    bees_min = constants.jar_bees_min.value
    refusal = Reason.TOO_EARLY if too_early else None if same_method else Reason.DIFFERENT_METHODS
    checked = _pair(before, bees_before, after, bees_after, bees_min, Reason.TOO_FEW_BEES)
    pair = _with_mites(checked, refusal, constants)
    others = _pair(
        control_before, control_bees_before, control_after, control_bees_after, bees_min, Reason.TOO_FEW_BEES
    )
    if not isinstance(pair, Pair):
        return refused(pair)
    if not isinstance(others, Pair):
        return refused(others)
    if others.mites_before < constants.mites_before_min.value or others.mites_after == 0:
        return refused(Reason.NO_MITES_IN_CONTROLS)
    low, high = mover(_log_limits(pair, constants), _log_limits(others, constants))
    seen = Drop(1.0 - pair.ratio / others.ratio, 1.0 - math.exp(min(high, 690.0)), 1.0 - math.exp(low))
    return replace(judged(seen, pair.counts(), target, floor), seen=seen)


def abbott(
    after: npt.ArrayLike,
    bees_after: npt.ArrayLike,
    control_after: npt.ArrayLike,
    control_bees_after: npt.ArrayLike,
    *,
    constants: Constants = DEFAULTS,
) -> Outcome:
    """Treated against untreated colonies, counted only after (Abbott 1925).

    Weak: nobody knows how they started.

    The range covers starting rates as unlike as those of colonies usually are; there is never a verdict.
    """
    least = constants.jar_bees_min.value
    treated, control = _counted(after, bees_after), _counted(control_after, control_bees_after)
    if treated is None or control is None:
        return refused(Reason.NOT_A_COUNT)
    if treated[0].size == 0 or control[0].size == 0:
        return refused(Reason.NO_AFTER_COUNT)
    if min(treated[1].min(), control[1].min()) < least:
        return refused(Reason.TOO_FEW_BEES)
    if control[0].sum() < constants.mites_before_min.value:
        return refused(Reason.NO_MITES_IN_CONTROLS)
    sums = [np.asarray([part.sum()]) for part in (*control, *treated)]
    apart = constants.start_c2.value + constants.jar_c2.value
    seen = _drop(Pair(*sums), apart / treated[0].size + apart / control[0].size, 1.0, constants)
    verdict, reason = Verdict.CANNOT_TELL, Reason.STARTS_UNKNOWN
    outcome = Outcome(seen.drop, seen.low, seen.high, verdict, reason, seen=seen, weak=True)
    return replace(outcome, mites_after=int(treated[0].sum()), colonies=int(treated[0].size))


def drop_by_follow_up(
    fallen: int,
    fallen_in_follow_up: int,
    *,
    follow_up_efficacy: float = 1.0,
    target: float = 0.90,
    floor: float | None = None,
    constants: Constants = DEFAULTS,
) -> Outcome:
    """Mites that fell in the treatment, of those and the ones a second, different one then brought down.

    The way of field trials (Dietemann et al. 2013, COLOSS BEEBOOK II varroa 4.5.4). About these colonies
    only: the range (Jeffreys) has no part for how other colonies would differ.
    """
    if fallen < 0 or fallen_in_follow_up < 0 or not 0.0 < follow_up_efficacy <= 1.0:
        return refused(Reason.NOT_A_COUNT)
    left = fallen_in_follow_up / follow_up_efficacy
    total = fallen + left
    if total < constants.mites_before_min.value:
        return refused(Reason.FEW_MITES_BEFORE if total else Reason.NO_MITES_BEFORE)
    tail = (1.0 - constants.level.value) / 2.0
    low, high = special.betaincinv(fallen + 0.5, left + 0.5, [tail, 1.0 - tail])
    seen = Drop(fallen / total, float(low) if fallen else 0.0, float(high) if left else 1.0)
    verdict, reason = verdict_of(seen, target, floor)
    return Outcome(
        seen.drop, seen.low, seen.high, verdict, reason, seen=seen, mites_after=int(fallen_in_follow_up)
    )


Counted = tuple[npt.NDArray[np.float64], npt.NDArray[np.float64]]


def _counted(mites: npt.ArrayLike, exposure: npt.ArrayLike) -> Counted | None:
    """Mites and exposure as flat arrays of one length; None for what cannot be a count."""
    try:
        m, x = np.broadcast_arrays(
            np.asarray(mites, dtype=np.float64), np.asarray(exposure, dtype=np.float64)
        )
    except (ValueError, TypeError):
        return None
    if not (np.isfinite(m).all() and np.isfinite(x).all() and (m >= 0).all() and (x >= 0).all()):
        return None
    return m.ravel(), x.ravel()


def _pair(
    before: npt.ArrayLike,
    exposure_before: npt.ArrayLike,
    after: npt.ArrayLike,
    exposure_after: npt.ArrayLike,
    least: float,
    too_little: Reason,
) -> Pair | Reason:
    """The two counts side by side, or why they cannot be."""
    first, second = _counted(before, exposure_before), _counted(after, exposure_after)
    if first is None or second is None:
        return Reason.NOT_A_COUNT
    if first[0].size == 0:
        return Reason.NO_BEFORE_COUNT
    if second[0].size == 0:
        return Reason.NO_AFTER_COUNT
    if first[0].size != second[0].size:
        return Reason.NOT_PAIRED
    if min(first[1].min(), second[1].min()) < least:
        return too_little
    return Pair(*first, *second)


def _with_mites(checked: Pair | Reason, refusal: Reason | None, constants: Constants) -> Pair | Reason:
    """The pair if nothing speaks against it.

    That there is no before-count is said first, it cannot be mended.
    """
    if not isinstance(checked, Pair):
        first = checked is Reason.NO_BEFORE_COUNT or refusal is None
        return checked if first else refusal or checked
    if refusal is not None:
        return refusal
    if checked.mites_before == 0:
        return Reason.NO_MITES_BEFORE
    return Reason.FEW_MITES_BEFORE if checked.mites_before < constants.mites_before_min.value else checked


def _drop(pair: Pair, spread: float, growth_factor: float, constants: Constants) -> Drop:
    tail = (1.0 - constants.level.value) / 2.0
    low, high = (pair.quantile(share, spread) * growth_factor for share in (tail, 1.0 - tail))
    scale = growth_factor / pair.exposure_ratio
    return Drop(1.0 - pair.ratio * growth_factor, 1.0 - high, 1.0 - low, scale, spread)


def _log_limits(pair: Pair, constants: Constants) -> tuple[float, float, float]:
    """Log of the ratio: lower limit, median, upper limit, about colonies like these in general."""
    spread = paired_spread(pair, 2.0 * constants.jar_c2.value, math.inf, constants)
    tail = (1.0 - constants.level.value) / 2.0
    low, middle, high = (log_or_least(pair.quantile(share, spread)) for share in (tail, 0.5, 1.0 - tail))
    return low, middle, high


__all__ = [
    "DEFAULT_GROWTH",
    "Drop",
    "Growth",
    "Outcome",
    "Reason",
    "Verdict",
    "abbott",
    "drop_against_controls",
    "drop_by_follow_up",
    "drop_in_mites",
    "drop_on_boards",
    "mites_needed",
]
