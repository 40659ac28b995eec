"""What may come: when a colony could reach a level, and what rounds of a treatment could leave. Pure.

    days_to_level    days of steady growth, with mites arriving from elsewhere, from one rate to another
    time_to_level    the same from a count, for all the rates and growths that it leaves possible
    count_again_by   the day to show, or why none is
    rounds_outlook   mites left after rounds, for a band of what a round kills; what a jar would show then

An outlook is expected, never promised: the early end is shown, and the recount decides.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Collection
from dataclasses import dataclass
from enum import StrEnum
from typing import Any, Protocol

import numpy as np
import numpy.typing as npt
from scipy import special

from counts.estimate import Prior, Unit, rate_quantiles
from treatments._stages import Brood, brood_of, broodless, course
from treatments.constants import DEFAULTS, Constants

Floats = npt.NDArray[np.float64]

STEPS = 15
"""Rates and growths are each taken at the middles of so many equal parts of their distribution."""
ROUNDS_MAX = 30


class NoOutlook(StrEnum):
    """Why nothing is foretold."""

    NO_ESTIMATE = "no_estimate"
    NO_LEVEL = "no_level"
    BROOD_UNKNOWN = "brood_unknown"
    BROODLESS = "broodless"
    OLD_SAMPLE = "old_sample"
    IN_THE_FUTURE = "in_the_future"
    TREATED_SINCE = "treated_since"
    SEASON_ENDS = "season_ends"
    NOT_A_PLAN = "not_a_plan"


@dataclass(frozen=True, slots=True)
class TimeToLevel:
    """Days until the level, for every rate and growth taken; 0 where it is reached already."""

    days: Floats

    def after(self, chance: float) -> float:
        """Days by which the level is reached with this chance."""
        return float(np.quantile(self.days, chance, method="inverted_cdf"))

    def chance_by(self, day: float) -> float:
        """Chance that the level is reached by this day."""
        return float(np.mean(self.days <= day))


def days_to_level(
    rate: npt.ArrayLike, level: npt.ArrayLike, growth: npt.ArrayLike, arrivals: npt.ArrayLike = 0.0
) -> Floats:
    """Days from `rate` to `level`, growing by `growth` a day, `arrivals` per bee and day; arrays in and out.

    0 at or above the level, infinite where nothing grows. Never NaN for values that are not negative.
    """
    now, bar, r, g = (
        np.maximum(np.asarray(one, dtype=np.float64), 0.0) for one in (rate, level, growth, arrivals)
    )
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        # log1p keeps the digits where growth or arrivals are next to nothing.
        straight = (bar - now) / (r * now + g)
        bent = np.log1p(r * straight) / r
    days = np.where(r * np.where(np.isfinite(straight), straight, 1.0) < 1e-12, straight, bent)
    return np.asarray(np.where(now >= bar, 0.0, days))[()]


def time_to_level(
    mites: float,
    exposure: float,
    c2: float,
    level: float,
    *,
    growth: tuple[float, float] | None = None,
    arrivals: float = 0.0,
    prior: Prior | None = None,
    constants: Constants = DEFAULTS,
) -> TimeToLevel | NoOutlook:
    """Days to `level`, mites per bee, from a count; growth (mean, sd) a day is Normal and never below a least."""
    if not (exposure > 0 and mites >= 0 and c2 >= 0) or not all(map(math.isfinite, (mites, exposure, c2))):
        return NoOutlook.NO_ESTIMATE
    if not 0 < level < math.inf:
        return NoOutlook.NO_LEVEL
    shares = (np.arange(STEPS) + 0.5) / STEPS
    mean, sd = growth or (constants.growth_per_day.value, constants.growth_per_day.sd)
    grows = np.maximum(mean + sd * special.ndtri(shares), constants.growth_per_day_min.value)
    rates = rate_quantiles(mites, exposure, c2, shares, prior)
    return TimeToLevel(days_to_level(rates[:, None], level, grows[None, :], arrivals))


class Counted(Protocol):
    """What an outlook starts from: the estimate of a colony or of a yard."""

    @property
    def unit(self) -> Unit: ...
    @property
    def comparable(self) -> bool: ...
    @property
    def mites(self) -> Any: ...
    @property
    def exposure(self) -> Any: ...
    @property
    def c2(self) -> Any: ...


@dataclass(frozen=True, slots=True)
class CountAgain:
    """The day to count again by, the early end of the outlook.

    `capped` says that it would be even later than an outlook reaches. Chances are of being at the level.
    """

    by: dt.date
    capped: bool
    chance_now: float
    chance_in_30_days: float
    with_prior: bool


def count_again_by(
    estimate: Counted,
    level: float | None,
    *,
    sampled_on: dt.date,
    on: dt.date,
    brood: str | None,
    treated_since: bool,
    season_ends_on: dt.date | None = None,
    arrivals: float | None = None,
    prior: Prior | None = None,
    constants: Constants = DEFAULTS,
) -> CountAgain | NoOutlook:
    """When to count again, of an estimate of a colony or yard in mites per bee; or why nothing is foretold.

    `brood` is none, some, plenty, or None where nobody looked. Never a day before `on`.
    """
    if treated_since:
        return NoOutlook.TREATED_SINCE
    if sampled_on > on:
        return NoOutlook.IN_THE_FUTURE
    if (on - sampled_on).days > constants.outlook_sample_days_max.value:
        return NoOutlook.OLD_SAMPLE
    if brood not in ("some", "plenty"):
        return NoOutlook.BROODLESS if brood == "none" else NoOutlook.BROOD_UNKNOWN
    if level is None:
        return NoOutlook.NO_LEVEL
    if not estimate.comparable or estimate.unit is not Unit.PER_BEE:
        return NoOutlook.NO_ESTIMATE
    given = (float(estimate.mites), float(estimate.exposure), float(estimate.c2))
    coming = constants.arrivals_per_bee.value if arrivals is None else arrivals
    days = time_to_level(*given, level, arrivals=coming, prior=prior, constants=constants)
    if isinstance(days, NoOutlook):
        return days
    early, last = days.after(constants.outlook_early.value), constants.outlook_days_max.value
    by = sampled_on + dt.timedelta(days=math.floor(min(early, last)))
    if season_ends_on is not None and season_ends_on < max(by, on):
        return NoOutlook.SEASON_ENDS
    passed = (on - sampled_on).days
    chances = days.chance_by(passed), days.chance_by(passed + 30)
    return CountAgain(max(by, on), early > last, *chances, with_prior=prior is not None)


@dataclass(frozen=True, slots=True)
class Left:
    """What rounds leave, under one supposition of what a round kills and how long mites stay on bees."""

    kill: float
    dispersal_days: float
    """0 for a colony without brood."""
    left: float
    """All mites on the last day of the treatment, as a part of those at the start."""
    drop_at_recount: float
    """Drop on the day of the recount, against the mites there would be without a treatment."""
    jar_drop_soon: float
    """Drop that a jar would show two days after the last round: too good, as it sees no brood."""
    jar_drop_at_recount: float
    """Drop that a jar would show on the day of the recount."""


@dataclass(frozen=True, slots=True)
class RoundsOutlook:
    """Expected outcome of rounds with its band; the recount, on `recount_on_day`, decides."""

    expected: Left
    least: Left
    most: Left
    recount_on_day: int


def rounds_outlook(
    round_days: Collection[int],
    *,
    brood: bool,
    growth: float | None = None,
    arrivals: float = 0.0,
    caged_on: int | None = None,
    constants: Constants = DEFAULTS,
) -> RoundsOutlook | NoOutlook:
    """What rounds on these days leave, for the band of what a round kills of the mites on bees.

    Never one number alone: in field trials rounds with brood killed far less than without. `arrivals` from
    elsewhere a day, as a part of the mites at the start. Day 0 is any day before or of the first round.
    `caged_on` is the day the queen was caged, to the end of the treatment: what she laid before goes on being
    capped for some days, so a round too soon after finds mites under cappings.
    """
    days = sorted(set(round_days))
    begins = min([*days[:1], *([] if caged_on is None else [caged_on])], default=0)
    span = days[-1] - begins if days else 0
    steps = (1 <= len(days) <= ROUNDS_MAX) and 0 <= span <= constants.outlook_days_max.value
    rate = constants.growth_per_day.value if growth is None else growth
    if not (steps and 0 <= rate <= 1 and 0 <= arrivals < math.inf):
        return NoOutlook.NOT_A_PLAN
    c = constants
    rows = (
        (
            (c.kill_brood, c.dispersal_days),
            (c.kill_low, c.dispersal_days_short),
            (c.kill_high, c.dispersal_days_long),
        )
        if brood
        else ((c.kill_broodless, None), (c.kill_low, None), (c.kill_broodless, None))
    )
    expected, least, most = (
        left_after(
            days,
            kill.value,
            stay.value if stay else None,
            growth=rate,
            arrivals=arrivals,
            caged_on=caged_on,
            constants=c,
        )
        for kill, stay in rows
    )
    return RoundsOutlook(expected, least, most, days[-1] + int(c.recount_after_days.value))


def left_after(
    round_days: Collection[int],
    kill: float,
    dispersal_days: float | None,
    *,
    growth: float = DEFAULTS.growth_per_day.value,
    arrivals: float = 0.0,
    caged_on: int | None = None,
    constants: Constants = DEFAULTS,
) -> Left:
    """What rounds on these days leave if each kills `kill` of the mites on bees; no brood without dispersal.

    Only the days between rounds matter: until the first one (or the caging) nothing changes but their number.
    """
    first = min([*round_days, *([] if caged_on is None else [caged_on])])
    rounds = {day - first for day in round_days}
    last, after = max(rounds), int(constants.recount_after_days.value)
    brood = brood_of(dispersal_days, growth, constants) if dispersal_days else broodless(constants)
    until = None if caged_on is None else caged_on - first + int(constants.capped_from_day.value)
    treated = course(brood, rounds, kill, last + max(after, 2), arrivals, cells_until=until)
    alone = course(brood, frozenset(), kill, last + max(after, 2), arrivals)
    return Left(
        kill=kill,
        dispersal_days=dispersal_days or 0.0,
        left=float(treated.total[last]),
        drop_at_recount=1.0 - float(treated.total[last + after] / alone.total[last + after]),
        jar_drop_soon=1.0 - float(treated.on_bees[last + 2]) / treated.start_on_bees,
        jar_drop_at_recount=1.0 - float(treated.on_bees[last + after]) / treated.start_on_bees,
    )


__all__ = [
    "Brood",
    "CountAgain",
    "Left",
    "NoOutlook",
    "RoundsOutlook",
    "TimeToLevel",
    "brood_of",
    "count_again_by",
    "course",
    "days_to_level",
    "left_after",
    "rounds_outlook",
    "time_to_level",
]
