"""The sheet of a round: who gets what, in which order, shut and opened when, with what to bring and what is due after.

Everything is worked out from the sheet's few facts each time, so that a sheet never disagrees with itself.
"""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from apiaries.language import say
from apiaries.zones import zone_of
from treatments.battery import (
    Battery,
    BatteryDay,
    Draw,
    NoCharge,
    batteries_needed,
    charge_along,
    charge_of_load,
)
from treatments.constants import DEFAULTS
from treatments.day_plan import (
    Aim,
    DayPlan,
    HandTimes,
    HeaterTimes,
    HiveTimes,
    HiveWork,
    NoPlan,
    Saving,
    day_plan,
    what_more_saves,
)
from treatments.dose import Total, total_to_bring, unit_words
from treatments.models import DaySheet, Device, SheetHive, Treatment

VAPOUR = "vapour"
HEATERS_COMPARED = 3


@dataclass(frozen=True, slots=True)
class SheetRow:
    """A hive of the sheet, with its clock times where a plan could be made; `minutes` count from the start."""

    hive: SheetHive
    heater: int | None = None
    shut_at: dt.datetime | None = None
    heat_at: dt.datetime | None = None
    drawn_at: dt.datetime | None = None
    open_at: dt.datetime | None = None
    """Not to be opened before."""
    short_battery: bool = False
    """Whether a battery runs short at this hive."""


@dataclass(frozen=True, slots=True)
class Power:
    """What the day asks of the batteries; a reason instead of figures where something is not known."""

    reason: NoCharge | None
    amp_hours: float = 0.0
    batteries: Sequence[BatteryDay] = ()
    needed: int | None = None
    enough: bool = False


@dataclass(frozen=True, slots=True)
class Sheet:
    """Everything that a sheet shows, on screen, on paper and in the yard."""

    sheet: DaySheet
    treatment: Treatment
    rows: Sequence[SheetRow]
    plan: DayPlan | None
    no_plan: NoPlan | None
    start: dt.datetime
    finish: dt.datetime | None
    total: Total
    unit: str
    power: Power | None
    savings: Sequence[Saving]

    @property
    def vapour(self) -> bool:
        return self.treatment.application.way == VAPOUR

    @property
    def hours(self) -> str:
        """How long the day lasts, in hours and minutes."""
        return span_words(self.plan.minutes) if self.plan else ""


def sheet_of(sheet: DaySheet) -> Sheet:
    """The sheet worked out; `sheet` comes with round, treatment, application, yard and device. One query more."""
    treatment = sheet.round.treatment
    hives = list(sheet.hives.select_related("colony"))
    start = start_of(sheet)
    vapour = treatment.application.way == VAPOUR
    found = planned(sheet, hives) if vapour else None
    plan = found if isinstance(found, DayPlan) else None
    power = power_of(sheet.device, plan) if plan is not None else None
    return Sheet(
        sheet=sheet,
        treatment=treatment,
        rows=_rows(hives, plan, start, power),
        plan=plan,
        no_plan=found if isinstance(found, NoPlan) else None,
        start=start,
        finish=start + dt.timedelta(minutes=plan.finish) if plan else None,
        total=total_to_bring([hive.amount for hive in hives], whole=bool(hives) and _is_whole(hives[0].unit)),
        unit=unit_words(hives[0].unit) if hives else "",
        power=power,
        savings=_savings(sheet, hives) if plan is not None else (),
    )


def start_of(sheet: DaySheet) -> dt.datetime:
    """When the day begins, on the yard's clock."""
    zone = zone_of(sheet.round.treatment.yard.time_zone)
    return dt.datetime.combine(sheet.round.planned_on, sheet.starts_at, tzinfo=zone)


def planned(sheet: DaySheet, hives: Sequence[SheetHive]) -> DayPlan | NoPlan:
    """The schedule of the sheet, minutes from its start; a reason where no heater was timed.

    Bees are not shut in for the sake of an earlier evening: hives are opened in time first.
    """
    return day_plan(
        [HiveWork(loads=hive.loads) for hive in hives],
        times_of(sheet.device),
        heaters=sheet.heaters,
        people=sheet.people,
        hands=hands_of(sheet),
        aim=Aim.OPEN_IN_TIME,
    )


def times_of(device: Device | None) -> HeaterTimes:
    """A device's times as the sums take them; unknown ones stay unknown."""
    if device is None or not device.is_timed:
        return HeaterTimes(first=None, following=None, cool=None)
    return HeaterTimes(
        first=_float(device.first_minutes),
        following=_float(device.following_minutes),
        cool=_float(device.cool_minutes),
    )


def hands_of(sheet: DaySheet) -> HandTimes:
    """The sheet's waits with the usual times of a person's steps."""
    return HandTimes(wait=float(sheet.wait_minutes), sealed=float(sheet.sealed_minutes))


def draw_of(device: Device) -> Draw:
    """What a device draws."""
    return Draw(amps=_float(device.amps), watts=_float(device.watts), volts=_float(device.volts))


def battery_of(device: Device) -> Battery:
    """One of a device's batteries; what was not told is the usual."""
    return Battery(
        amp_hours=_float(device.battery_ah),
        usable=_float(device.usable_share) or DEFAULTS.battery_usable_share.value,
        exponent=_float(device.peukert) or DEFAULTS.peukert_none.value,
        rated_hours=_float(device.rated_hours) or DEFAULTS.battery_rated_hours.value,
    )


def power_of(device: Device | None, plan: DayPlan) -> Power | None:
    """Charge along the plan; None for a heater without a battery (mains, gas)."""
    if device is None or not device.batteries:
        return None
    draw, battery = draw_of(device), battery_of(device)
    # Fewer batteries than heaters: some feed two.
    wiring = {load.heater: (load.heater - 1) % device.batteries + 1 for load in plan.loads}
    days = charge_along(plan.loads, draw, battery, wiring=wiring)
    needed = batteries_needed(plan.loads, draw, battery)
    charge = charge_of_load(draw, sum(load.heats for load in plan.loads))
    if isinstance(days, NoCharge):
        return Power(days)
    if isinstance(needed, NoCharge):
        return Power(needed)
    if isinstance(charge, NoCharge):
        return Power(charge)
    lasts = all(day.short_at is None for day in days)
    return Power(None, charge.amp_hours, days, needed, enough=lasts or needed <= device.batteries)


def _rows(
    hives: Sequence[SheetHive], plan: DayPlan | None, start: dt.datetime, power: Power | None
) -> list[SheetRow]:
    if plan is None:
        return [SheetRow(hive) for hive in hives]
    times = {one.hive: one for one in plan.hives}
    short = {day.short_at.hive for day in power.batteries if day.short_at} if power else set()
    return [_row(hive, times[place], start, place in short) for place, hive in enumerate(hives, start=1)]


def _row(hive: SheetHive, times: HiveTimes, start: dt.datetime, short: bool) -> SheetRow:
    def clock(minutes: float) -> dt.datetime:
        return start + dt.timedelta(minutes=minutes)

    return SheetRow(
        hive,
        times.heater,
        clock(times.closed_at),
        clock(times.heat_from),
        clock(times.drawn_at),
        clock(times.open_from),
        short,
    )


def _savings(sheet: DaySheet, hives: Sequence[SheetHive]) -> Sequence[Saving]:
    """What more heaters and hands would save, against the sheet's own; only what saves a minute or more."""
    most = max(HEATERS_COMPARED, sheet.heaters)
    works, times = [HiveWork(loads=hive.loads) for hive in hives], times_of(sheet.device)
    lines = what_more_saves(works, times, heaters=most, people=2, hands=hands_of(sheet), aim=Aim.OPEN_IN_TIME)
    if isinstance(lines, NoPlan):
        return ()
    own = next(one for one in lines if (one.heaters, one.people) == (sheet.heaters, sheet.people))
    more = [
        Saving(one.heaters, one.people, one.finish, own.finish - one.finish)
        for one in lines
        if (one.heaters > sheet.heaters) != (one.people > sheet.people) and one.heaters >= sheet.heaters
    ]
    return [one for one in more if one.people >= sheet.people and one.saved >= 1]


def span_words(minutes: float) -> str:
    """A stretch of time to the minute: 2 h 05 min."""
    whole = int(minutes + 0.5)
    hours, rest = divmod(whole, 60)
    if hours:
        two_digits = f"{rest:02d}"
        return say("{hours} h {minutes} min", hours=hours, minutes=two_digits)
    return say("{minutes} min", minutes=rest)


def _is_whole(unit: str) -> bool:
    return unit not in ("g", "mL")


def _float(value: Decimal | None) -> float | None:
    return None if value is None else float(value)
