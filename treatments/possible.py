"""What stands in the way of a way of treating, in one yard on one day. Pure.

Every limit comes from the reference data with its source; where a limit or a fact is not known the answer is
"find out", never a guess. The label in the keeper's hand decides.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum

from treatments.constants import DEFAULTS, Constants


class Subject(StrEnum):
    """What is looked at."""

    LABEL = "label"
    STILL_IN = "still_in"
    INTERVAL = "interval"
    SUPERS = "supers"
    BROOD = "brood"
    TEMPERATURE = "temperature"
    CLEAR_DATE = "clear_date"


class Stand(StrEnum):
    """How one subject, or the way as a whole, stands; from best to worst."""

    FREE = "free"
    NOTE = "note"
    FIND_OUT = "find_out"
    IN_THE_WAY = "in_the_way"


class Reason(StrEnum):
    """Why a subject stands as it does."""

    NO_LIMIT = "no_limit"
    WITHIN = "within"
    NOT_YET_IN_FORCE = "not_yet_in_force"
    NO_LONGER_IN_FORCE = "no_longer_in_force"
    SAME_STILL_IN = "same_still_in"
    OTHER_STILL_IN = "other_still_in"
    TOO_SOON = "too_soon"
    GIVEN_BEFORE = "given_before"
    SUPERS_ON = "supers_on"
    SUPERS_BY_LABEL = "supers_by_label"
    BROOD_THERE = "brood_there"
    BROOD_WEAKENS = "brood_weakens"
    BROOD_MISSING = "brood_missing"
    BROOD_UNKNOWN = "brood_unknown"
    TOO_COLD = "too_cold"
    TOO_WARM = "too_warm"
    DAYS_MISSING = "days_missing"
    LATE_FOR_SUPERS = "late_for_supers"
    WITHDRAWAL_UNKNOWN = "withdrawal_unknown"
    STAY_UNKNOWN = "stay_unknown"


class BroodNeed(StrEnum):
    """What a way of treating asks of the brood."""

    ONLY_WITHOUT = "only_without"
    BEST_WITHOUT = "best_without"
    NEEDED = "needed"
    ANY = "any"


@dataclass(frozen=True, slots=True)
class WayLimits:
    """Published limits of a way of treating; None for what the label alone says. Temperatures are daily highs, °C."""

    ingredient: str
    supers: str
    """off, allowed or label_decides."""
    brood: BroodNeed
    valid_from: dt.date | None = None
    valid_to: dt.date | None = None
    min_temp_c: float | None = None
    max_temp_c: float | None = None
    max_first_days_c: float | None = None
    """For the days after the first, where one is published for them."""
    days_between: int | None = None
    stays_in_days: int | None = 0
    withdrawal_days: int | None = None


@dataclass(frozen=True, slots=True)
class InHive:
    """A dose some colony of the yard got: from that day to the last on which it was in the hive."""

    ingredient: str
    first_on: dt.date
    last_on: dt.date


@dataclass(frozen=True, slots=True)
class YardToday:
    """What is known of a yard on the day: its colonies with supers and by brood, doses, highs, the next supering."""

    on: dt.date
    colonies: int
    with_supers: int
    with_brood: int
    brood_unknown: int
    """Colonies whose brood nobody looked at, or not lately."""
    doses: Sequence[InHive] = ()
    highs_c: Sequence[float | None] = ()
    """Expected highs from the day on; None, or a shorter list, for days not entered."""
    supers_next_on: dt.date | None = None
    """The day honey supers are to go on, or honey is to be taken."""


@dataclass(frozen=True, slots=True)
class Check:
    """How one subject stands: with the limit it is held against and the value found, where there are any."""

    subject: Subject
    stand: Stand
    reason: Reason
    limit: float | None = None
    found: float | None = None
    day: dt.date | None = None


@dataclass(frozen=True, slots=True)
class Possible:
    """All that was looked at, in order, and how the way stands as a whole: as its worst subject."""

    checks: tuple[Check, ...]

    @property
    def stand(self) -> Stand:
        order = list(Stand)
        return max((check.stand for check in self.checks), key=order.index, default=Stand.FREE)


def possible(way: WayLimits, yard: YardToday, constants: Constants = DEFAULTS) -> Possible:
    """What stands in the way of giving this to the yard's colonies on the day."""
    return Possible(
        (
            _label(way, yard.on),
            _still_in(way, yard),
            _interval(way, yard),
            _supers(way, yard),
            _brood(way, yard),
            _temperature(way, yard, int(constants.first_warm_days.value)),
            _clear_date(way, yard),
        )
    )


def _label(way: WayLimits, on: dt.date) -> Check:
    if way.valid_from is not None and on < way.valid_from:
        return Check(Subject.LABEL, Stand.IN_THE_WAY, Reason.NOT_YET_IN_FORCE, day=way.valid_from)
    if way.valid_to is not None and on > way.valid_to:
        return Check(Subject.LABEL, Stand.IN_THE_WAY, Reason.NO_LONGER_IN_FORCE, day=way.valid_to)
    return Check(Subject.LABEL, Stand.FREE, Reason.WITHIN)


def _still_in(way: WayLimits, yard: YardToday) -> Check:
    inside = [dose for dose in yard.doses if dose.first_on <= yard.on <= dose.last_on]
    same = [dose.last_on for dose in inside if dose.ingredient == way.ingredient and dose.first_on != yard.on]
    if same:
        return Check(Subject.STILL_IN, Stand.IN_THE_WAY, Reason.SAME_STILL_IN, day=max(same))
    other = [dose.last_on for dose in inside if dose.ingredient != way.ingredient]
    if other:
        return Check(Subject.STILL_IN, Stand.FIND_OUT, Reason.OTHER_STILL_IN, day=max(other))
    return Check(Subject.STILL_IN, Stand.FREE, Reason.WITHIN)


def _interval(way: WayLimits, yard: YardToday) -> Check:
    before = [
        dose.first_on for dose in yard.doses if dose.ingredient == way.ingredient and dose.first_on <= yard.on
    ]
    if not before:
        return Check(
            Subject.INTERVAL, Stand.FREE, Reason.NO_LIMIT if way.days_between is None else Reason.WITHIN
        )
    last, limit = max(before), way.days_between
    days = (yard.on - last).days
    if limit is None:
        return Check(Subject.INTERVAL, Stand.NOTE, Reason.GIVEN_BEFORE, found=days, day=last)
    soon = days < limit
    stand, reason = (Stand.IN_THE_WAY, Reason.TOO_SOON) if soon else (Stand.FREE, Reason.WITHIN)
    return Check(Subject.INTERVAL, stand, reason, limit=limit, found=days, day=last)


def _supers(way: WayLimits, yard: YardToday) -> Check:
    if way.supers == "allowed":
        return Check(Subject.SUPERS, Stand.FREE, Reason.NO_LIMIT)
    if not yard.with_supers:
        return Check(Subject.SUPERS, Stand.FREE, Reason.WITHIN, found=0)
    if way.supers == "off":
        return Check(Subject.SUPERS, Stand.IN_THE_WAY, Reason.SUPERS_ON, found=yard.with_supers)
    return Check(Subject.SUPERS, Stand.FIND_OUT, Reason.SUPERS_BY_LABEL, found=yard.with_supers)


def _brood(way: WayLimits, yard: YardToday) -> Check:
    need, there, unknown = way.brood, yard.with_brood, yard.brood_unknown
    if need is BroodNeed.ANY:
        return Check(Subject.BROOD, Stand.FREE, Reason.NO_LIMIT)
    if need is BroodNeed.NEEDED:
        if there:
            return Check(Subject.BROOD, Stand.FREE, Reason.WITHIN, found=there)
        if unknown:
            return Check(Subject.BROOD, Stand.FIND_OUT, Reason.BROOD_UNKNOWN, found=unknown)
        return Check(Subject.BROOD, Stand.IN_THE_WAY, Reason.BROOD_MISSING)
    if there:
        only = need is BroodNeed.ONLY_WITHOUT
        stand, reason = (Stand.IN_THE_WAY, Reason.BROOD_THERE) if only else (Stand.NOTE, Reason.BROOD_WEAKENS)
        return Check(Subject.BROOD, stand, reason, found=there)
    if unknown:
        return Check(Subject.BROOD, Stand.FIND_OUT, Reason.BROOD_UNKNOWN, found=unknown)
    return Check(Subject.BROOD, Stand.FREE, Reason.WITHIN, found=0)


def _temperature(way: WayLimits, yard: YardToday, first_days: int) -> Check:
    """The first day against the limits of the day; later ones against those for them, or all days it stays in."""
    bounds = [(way.min_temp_c, way.max_temp_c)]
    if way.max_first_days_c is not None:
        bounds += [(None, way.max_first_days_c)] * (first_days - 1)
    elif way.stays_in_days is None or way.stays_in_days > 0:
        bounds += [(way.min_temp_c, way.max_temp_c)] * (max(len(yard.highs_c), 1) - 1)
    if all(low is None and high is None for low, high in bounds):
        return Check(Subject.TEMPERATURE, Stand.FREE, Reason.NO_LIMIT)
    highs = [*yard.highs_c, *[None] * len(bounds)][: len(bounds)]
    for later, (high, (least, most)) in enumerate(zip(highs, bounds, strict=True)):
        day = yard.on + dt.timedelta(days=later)
        if high is not None and math.isfinite(high):
            if least is not None and high < least:
                return Check(Subject.TEMPERATURE, Stand.IN_THE_WAY, Reason.TOO_COLD, least, high, day)
            if most is not None and high > most:
                return Check(Subject.TEMPERATURE, Stand.IN_THE_WAY, Reason.TOO_WARM, most, high, day)
    missing = [n for n, high in enumerate(highs) if high is None or not math.isfinite(high)]
    if missing:
        day = yard.on + dt.timedelta(days=missing[0])
        return Check(Subject.TEMPERATURE, Stand.FIND_OUT, Reason.DAYS_MISSING, day=day)
    return Check(Subject.TEMPERATURE, Stand.FREE, Reason.WITHIN)


def _clear_date(way: WayLimits, yard: YardToday) -> Check:
    """Whether the withdrawal period ends by the day that supers go on or honey is taken."""
    if yard.supers_next_on is None:
        return Check(Subject.CLEAR_DATE, Stand.FREE, Reason.NO_LIMIT)
    if way.stays_in_days is None:
        return Check(Subject.CLEAR_DATE, Stand.FIND_OUT, Reason.STAY_UNKNOWN)
    if way.withdrawal_days is None:
        return Check(Subject.CLEAR_DATE, Stand.FIND_OUT, Reason.WITHDRAWAL_UNKNOWN)
    clear = yard.on + dt.timedelta(days=way.stays_in_days + way.withdrawal_days)
    if clear > yard.supers_next_on:
        return Check(Subject.CLEAR_DATE, Stand.IN_THE_WAY, Reason.LATE_FOR_SUPERS, day=clear)
    return Check(Subject.CLEAR_DATE, Stand.FREE, Reason.WITHIN, day=clear)


def sorted_by_stand(found: Iterable[tuple[str, Possible]]) -> list[tuple[str, Possible]]:
    """Ways with nothing in their way first; what is not possible comes last, and is never left out."""
    order = list(Stand)
    return sorted(found, key=lambda one: order.index(one[1].stand))
