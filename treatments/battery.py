"""Batteries on a treatment day: charge for each load, loads in a battery, and the hive at which one runs short. Pure.

    run_hours          hours that a battery gives a current, after Peukert
    charge_of_load     amp hours and watt hours of one load
    loads_of_battery   loads that its usable share holds
    charge_along       what is drawn from each battery along the plan of a day, and where it runs short
    batteries_needed   batteries that the plan needs, when a short one is changed before a load begins

Peukert's law at the hour rate: a battery of C amp hours, rated over H hours, gives I amps for H (C / (I H))^k hours.
A cold, old or half-charged battery holds less: what this says is for a full one in good order.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import pairwise

from treatments._day_replay import HeaterLoad
from treatments.constants import DEFAULTS

EXPONENT_MAX = 2.0
VALUE_MIN, VALUE_MAX = 1e-6, 1e6
"""No amps, volts, watts, amp hours, hours or minutes are smaller or larger: our choice, to keep sums finite."""
ALMOST = 1e-9
"""So much of a battery may be missing before it counts as short: rounding of sums."""


class NoCharge(StrEnum):
    """Why nothing can be said of a battery."""

    CURRENT_UNKNOWN = "current_unknown"
    MINUTES_UNKNOWN = "minutes_unknown"
    CAPACITY_UNKNOWN = "capacity_unknown"
    SHARE_NOT_POSSIBLE = "share_not_possible"
    EXPONENT_NOT_POSSIBLE = "exponent_not_possible"
    LOAD_TOO_LARGE = "load_too_large"


@dataclass(frozen=True, slots=True, kw_only=True)
class Draw:
    """What a heater draws: amps, or watts with volts."""

    amps: float | None = None
    watts: float | None = None
    volts: float | None = None

    @property
    def current(self) -> float | None:
        """Amps; None while it cannot be known."""
        if self.amps is not None:
            return self.amps if _positive(self.amps) else None
        if not (_positive(self.watts) and _positive(self.volts)):
            return None
        return (self.watts or 0) / (self.volts or 1)


@dataclass(frozen=True, slots=True, kw_only=True)
class Battery:
    """A full battery: printed capacity, the share one may use, Peukert exponent (1: no loss, as lithium)."""

    amp_hours: float | None
    usable: float = DEFAULTS.battery_usable_share.value
    exponent: float = DEFAULTS.peukert_none.value
    rated_hours: float = DEFAULTS.battery_rated_hours.value


@dataclass(frozen=True, slots=True)
class Charge:
    """Charge of one load."""

    amp_hours: float
    watt_hours: float | None


@dataclass(frozen=True, slots=True)
class Used:
    """A battery when one load is through: the share of its usable part that is gone, above 1 where it is short."""

    load: HeaterLoad
    share: float


@dataclass(frozen=True, slots=True)
class BatteryDay:
    """One battery's day: after each load how much is gone, and the first load that it cannot finish."""

    battery: int
    used: tuple[Used, ...]
    short_at: HeaterLoad | None

    @property
    def share(self) -> float:
        """Share of the usable part that the whole day takes."""
        return self.used[-1].share if self.used else 0.0


def _positive(value: float | None) -> bool:
    return value is not None and VALUE_MIN <= value <= VALUE_MAX


def charge_of_load(draw: Draw, minutes: float | None) -> Charge | NoCharge:
    """What one load takes from the battery; watt hours where the volts are known."""
    current = draw.current
    if current is None:
        return NoCharge.CURRENT_UNKNOWN
    if minutes is None or not 0 <= minutes <= VALUE_MAX:
        return NoCharge.MINUTES_UNKNOWN
    amp_hours = current * minutes / 60
    volts = draw.volts if _positive(draw.volts) else None
    return Charge(amp_hours, None if volts is None else amp_hours * volts)


def run_hours(battery: Battery, current: float | None) -> float | NoCharge:
    """Hours until the battery is empty; a smaller current than the rated one gets no more than is printed on it."""
    problem = _problem(battery)
    if problem is not None:
        return problem
    if current is None or not _positive(current):
        return NoCharge.CURRENT_UNKNOWN
    return _hours(battery, current)


def _hours(battery: Battery, current: float) -> float:
    plain = (battery.amp_hours or 0) / current
    if plain >= battery.rated_hours:
        return plain
    return battery.rated_hours * math.pow(plain / battery.rated_hours, battery.exponent)


def loads_of_battery(
    battery: Battery, draw: Draw, first: float | None, following: float | None
) -> int | NoCharge:
    """Whole loads in the usable share, the first with a cold heater."""
    hours = run_hours(battery, draw.current)
    if isinstance(hours, NoCharge):
        return hours
    if not (_positive(first) and _positive(following)):
        return NoCharge.MINUTES_UNKNOWN
    left = hours * battery.usable * 60 * (1 + ALMOST) - (first or 0)
    return 0 if left < 0 else 1 + math.floor(left / (following or 1))


def charge_along(
    loads: Sequence[HeaterLoad], draw: Draw, battery: Battery, *, wiring: Mapping[int, int] | None = None
) -> tuple[BatteryDay, ...] | NoCharge:
    """Each battery's day. `wiring` says which battery feeds which heater; without it each heater has its own.

    Heaters that heat at once on one battery add their currents, and Peukert is reckoned for the sum.
    """
    problem = _problem(battery)
    if problem is not None:
        return problem
    current = draw.current
    if current is None:
        return NoCharge.CURRENT_UNKNOWN
    on: dict[int, list[HeaterLoad]] = {}
    for one in sorted(loads, key=lambda one: (one.heat_to, one.heat_from)):
        on.setdefault((wiring or {}).get(one.heater, one.heater), []).append(one)
    return tuple(_day_of(number, on[number], current, battery) for number in sorted(on))


def batteries_needed(loads: Sequence[HeaterLoad], draw: Draw, battery: Battery) -> int | NoCharge:
    """Batteries for the whole plan, each heater on its own, changed before a load that they could not finish."""
    days = charge_along(loads, draw, battery)
    if isinstance(days, NoCharge):
        return days
    shares = [
        [now - before for before, now in pairwise((0.0, *(one.share for one in day.used)))] for day in days
    ]
    if any(share > 1 + ALMOST for of in shares for share in of):
        return NoCharge.LOAD_TOO_LARGE
    return sum(map(_one_after_another, shares))


def _one_after_another(shares: Sequence[float]) -> int:
    """Batteries for the loads of one heater, each used until the next load does not fit."""
    batteries, left = 0, 0.0
    for share in shares:
        if batteries == 0 or share > left + ALMOST:
            batteries, left = batteries + 1, 1.0
        left -= share
    return batteries


def _problem(battery: Battery) -> NoCharge | None:
    if not (_positive(battery.amp_hours) and _positive(battery.rated_hours)):
        return NoCharge.CAPACITY_UNKNOWN
    if not VALUE_MIN <= battery.usable <= 1:
        return NoCharge.SHARE_NOT_POSSIBLE
    return None if 1 <= battery.exponent <= EXPONENT_MAX else NoCharge.EXPONENT_NOT_POSSIBLE


def _day_of(number: int, loads: Sequence[HeaterLoad], current: float, battery: Battery) -> BatteryDay:
    """The loads in the order in which they end, and what is gone by then."""
    gone = _gone_by(loads, current, battery)
    used = tuple(Used(one, gone[one.heat_to]) for one in loads)
    return BatteryDay(number, used, next((one.load for one in used if one.share > 1 + ALMOST), None))


def _gone_by(loads: Sequence[HeaterLoad], current: float, battery: Battery) -> dict[float, float]:
    """Share of the usable part that is gone whenever a heater goes on or off."""
    changes: dict[float, int] = {}
    for one in loads:
        changes[one.heat_from] = changes.get(one.heat_from, 0) + 1
        changes[one.heat_to] = changes.get(one.heat_to, 0) - 1
    total, on, since, gone = 0.0, 0, 0.0, {}
    for at in sorted(changes):
        if on:
            total += (at - since) / (60 * _hours(battery, on * current) * battery.usable)
        gone[at], since, on = total, at, on + changes[at]
    return gone
