"""What a count says: rate, range, and the chance of being above a level. Pure.

    rate_interval   limits of a rate from a count, its exposure and the spread of what multiplies it
    chance_above    chance that the rate is above a level, from this sample alone or with a prior
    combined_c2     squared CV of several independent sources of error together
    yard_mean       mean of a yard's colonies from those sampled
    chance_spread   the spread behind it for many yards, from sums over their colonies
    rate_quantiles  quantiles of the rate after a count, with or without a prior
    bees_to_settle, colonies_to_settle   how much more counting would decide
    estimate_jar    one wash or roll, mites per bee
    estimate_board  one board, mites per day

Rates are per bee or per day; "per 100 bees" exists only where they are shown. A refusal is a value with a
reason, never an exception, and no number is ever NaN.

>>> low, high = rate_interval(9, 300, 0.0536)
>>> round(float(100 * low), 2), round(float(100 * high), 2)
(1.35, 6.69)
"""

from __future__ import annotations

import math

from counts._intervals import Prior, chance_above, combined_c2, rate_interval, rate_quantiles
from counts._settle import bees_to_settle, colonies_to_settle
from counts._verdicts import Estimate, Refusal, Unit
from counts._yards import ColonySums, YardEstimate, chance_spread, yard_mean
from counts.constants import DEFAULTS, Constant, Constants
from counts.samples import JAR_KINDS, BeesBy, BoardSample, JarSample, Kind, Method, kind_of

__all__ = [
    "ColonySums",
    "Estimate",
    "Prior",
    "Refusal",
    "Unit",
    "YardEstimate",
    "bees_to_settle",
    "chance_above",
    "chance_spread",
    "colonies_to_settle",
    "combined_c2",
    "estimate_board",
    "estimate_jar",
    "jar_c2",
    "rate_interval",
    "rate_quantiles",
    "recovery_of",
    "yard_mean",
]


def recovery_of(method: Method, constants: Constants = DEFAULTS) -> Constant:
    """The share of the mites on the bees that a jar method finds. KeyError for a method that is no jar."""
    return {
        Method.ALCOHOL_WASH: constants.recovery_wash,
        Method.SOAP_WASH: constants.recovery_wash,
        Method.SUGAR_ROLL: constants.recovery_sugar,
        Method.CO2: constants.recovery_co2,
    }[method]


def jar_c2(method: Method, bees_by: BeesBy, constants: Constants = DEFAULTS) -> float:
    """Squared CV of one jar: how its bees were measured, the scoop, and the method's recovery."""
    counted = bees_by is BeesBy.COUNTED
    bees_cv = constants.bees_cv_counted if counted else constants.bees_cv_estimated
    return float(combined_c2(bees_cv.value, constants.scoop_cv.value, recovery_of(method, constants).cv))


def estimate_jar(sample: JarSample, constants: Constants = DEFAULTS) -> Estimate:
    """Mites per bee from one jar, corrected for what its method leaves on the bees, with the range.

    Refused: no bees, fewer than 50, a count that cannot be, a method that is no jar. 50-99 bees are rough.
    """
    refusal = _jar_refusal(sample, constants)
    if refusal is not None:
        return _refused(refusal, Unit.PER_BEE, mites=sample.mites, bees=sample.bees)
    recovery = recovery_of(sample.method, constants)
    exposure = sample.bees * recovery.value
    c2 = jar_c2(sample.method, sample.bees_by, constants)
    low, high = rate_interval(sample.mites, exposure, c2, constants.level.value)
    return Estimate(
        rate=sample.mites / exposure,
        low=float(low),
        high=float(high),
        unit=Unit.PER_BEE,
        one_sided=sample.mites == 0,
        reason=None,
        mites=int(sample.mites),
        exposure=exposure,
        c2=c2,
        rough=sample.bees < constants.jar_bees_rough.value,
        corrected=recovery.value != 1.0,
        bees=int(sample.bees),
    )


def estimate_board(
    sample: BoardSample, constants: Constants = DEFAULTS, *, treatment_in_hive: bool = False
) -> Estimate:
    """Mites per day from one board, with the range. Never a share of the bees.

    Refused: under 12 hours, too small a part of the cells or too few mites on a part. Over a week, or less
    than a third of the cells, is rough. With a treatment in the hive it is a treatment fall, compared with
    nothing.
    """
    refusal = _board_refusal(sample, constants)
    if refusal is not None:
        return _refused(refusal, Unit.PER_DAY, mites=sample.mites, days=sample.days)
    detection = constants.board_detection
    exposure = sample.days * sample.share_counted * detection.value
    partial = sample.share_counted < 1
    grid_cv = constants.board_grid_cv.value if partial else 0.0
    # Errors add here, not multiply: days average out over the time the board lay, the grid does not.
    c2 = constants.board_day_cv.value**2 / sample.days + grid_cv**2 + detection.cv**2
    low, high = rate_interval(sample.mites, exposure, c2, constants.level.value)
    long = sample.days > constants.board_days_max.value
    return Estimate(
        rate=sample.mites / exposure,
        low=float(low),
        high=float(high),
        unit=Unit.PER_DAY,
        one_sided=sample.mites == 0,
        reason=Refusal.TREATMENT_FALL if treatment_in_hive else None,
        mites=int(sample.mites),
        exposure=exposure,
        c2=c2,
        rough=long or sample.share_counted < constants.board_share_rough.value,
        corrected=partial or detection.value != 1.0,
        days=sample.days,
    )


def _jar_refusal(sample: JarSample, constants: Constants) -> Refusal | None:
    kind = kind_of(sample.method)
    if kind not in JAR_KINDS:
        return Refusal.DRONE_BROOD if kind is Kind.DRONE_BROOD else Refusal.WRONG_METHOD
    if not _countable(sample.mites):
        return Refusal.NOT_A_COUNT
    if not sample.bees > 0 or not math.isfinite(sample.bees):
        return Refusal.NO_BEES
    return Refusal.FEW_BEES if sample.bees < constants.jar_bees_min.value else None


def _board_refusal(sample: BoardSample, constants: Constants) -> Refusal | None:
    if not _countable(sample.mites) or not 0 < sample.share_counted <= 1:
        return Refusal.NOT_A_COUNT
    if not sample.days > 0 or not math.isfinite(sample.days):
        return Refusal.NO_DAYS
    if sample.days < constants.board_days_min.value:
        return Refusal.SHORT_BOARD
    if sample.share_counted < constants.board_share_min.value:
        return Refusal.SMALL_SHARE
    few = sample.mites < constants.board_partial_mites_min.value
    return Refusal.FEW_MITES_ON_PART if few and sample.share_counted < 1 else None


def _countable(mites: float) -> bool:
    return math.isfinite(mites) and mites >= 0 and mites == int(mites)


def _refused(
    reason: Refusal, unit: Unit, *, mites: int, bees: int | None = None, days: float | None = None
) -> Estimate:
    count = int(mites) if _countable(mites) else 0
    return Estimate(None, None, None, unit, one_sided=False, reason=reason, mites=count, bees=bees, days=days)
