"""A keeper's heaters and batteries, with what one load takes and how many a battery holds."""

from dataclasses import dataclass
from decimal import Decimal

from apiaries.language import figure as in_marks
from apiaries.language import mark, say
from apiaries.models import Person
from apiaries.reference import cautions
from apiaries.templatetags.recount_words import plain
from treatments.battery import Battery, Draw, NoCharge, charge_of_load, loads_of_battery
from treatments.constants import DEFAULTS
from treatments.day_sheet import battery_of, draw_of, times_of
from treatments.device_kinds import DEFAULTS_OF, Told, kind_of, percent, told_of
from treatments.models import Device

REASONS = {
    NoCharge.CURRENT_UNKNOWN: mark("neither watts with volts nor amps are noted"),
    NoCharge.MINUTES_UNKNOWN: mark("not timed yet"),
    NoCharge.CAPACITY_UNKNOWN: mark("the capacity of the battery is not noted"),
    NoCharge.SHARE_NOT_POSSIBLE: mark("the share used is not possible"),
    NoCharge.EXPONENT_NOT_POSSIBLE: mark("the Peukert exponent is not possible"),
    NoCharge.LOAD_TOO_LARGE: mark("one load is more than a battery holds"),
}
FIRST_CAUTIONS = ("any", "vapour", "heat")
BATTERY_CAUTIONS = ("battery",)
FURTHER_CAUTIONS = ("oxalic", "lone_work")


@dataclass(frozen=True, slots=True)
class Load:
    """What one load takes, in words: minutes, charge, energy; `unknown` says why something is missing."""

    minutes: str
    amp_hours: str = ""
    watt_hours: str = ""
    unknown: str = ""


@dataclass(frozen=True, slots=True)
class Stock:
    """What the batteries hold: whole loads of one, of all, and of one if high currents cost nothing."""

    loads: int | None
    of_all: int | None
    without_loss: int | None
    unknown: str
    figures: list[Told]


@dataclass(frozen=True, slots=True)
class DeviceRow:
    """One device as the list shows it; `stock` is None for a heater without a battery."""

    device: Device
    power: str
    first: Load
    following: Load
    stock: Stock | None


def rows_of(person: Person) -> tuple[list[DeviceRow], list[Device]]:
    """The person's devices in use, worked out, and those put away, the last one first. One query."""
    devices = Device.objects.filter(keeper=person).order_by("name", "pk")
    away = [one for one in devices if one.put_away_at is not None]
    in_use = [row_of(one) for one in devices if one.put_away_at is None]
    return in_use, sorted(away, key=lambda one: (one.put_away_at, one.pk), reverse=True)


def row_of(device: Device) -> DeviceRow:
    """A device with its sums."""
    draw, times = draw_of(device), times_of(device)
    return DeviceRow(
        device=device,
        power=_power_words(device, draw),
        first=_load(device, draw, times.first),
        following=_load(device, draw, times.following),
        stock=_stock(device, draw) if device.batteries else None,
    )


def trial_cautions(device: Device) -> tuple[list[str], list[str]]:
    """What to know before heating acid: first what matters at once, then the rest."""
    first = FIRST_CAUTIONS + (BATTERY_CAUTIONS if device.batteries else ())
    return _cautions_at(first), _cautions_at(FURTHER_CAUTIONS)


def _cautions_at(places: tuple[str, ...]) -> list[str]:
    return [row["sentence"] for row in cautions() if row["where"] in places]


def _power_words(device: Device, draw: Draw) -> str:
    """Watts, volts and amps as noted, with the amps worked out of the watts; empty where nothing is noted."""
    noted = [(device.watts, "W"), (device.volts, "V"), (device.amps, "A")]
    words = ", ".join(f"{plain(value)}\N{NO-BREAK SPACE}{unit}" for value, unit in noted if value is not None)
    worked_out = device.amps is None and draw.current is not None
    return f"{words}: {figure(draw.current or 0)}\N{NO-BREAK SPACE}A" if worked_out else words


def _load(device: Device, draw: Draw, minutes: float | None) -> Load:
    """Without a battery nobody asks for the charge, unless the power is noted."""
    if minutes is None:
        return Load("", unknown=say(REASONS[NoCharge.MINUTES_UNKNOWN]))
    words = in_marks(f"{minutes:g}\N{NO-BREAK SPACE}min")
    charge = charge_of_load(draw, minutes)
    if isinstance(charge, NoCharge):
        return Load(words, unknown=say(REASONS[charge]) if device.batteries else "")
    energy = "" if charge.watt_hours is None else figure(charge.watt_hours)
    return Load(words, figure(charge.amp_hours), energy)


def _stock(device: Device, draw: Draw) -> Stock:
    battery, times = battery_of(device), times_of(device)
    loads = loads_of_battery(battery, draw, times.first, times.following)
    figures = _figures(device, battery)
    if isinstance(loads, NoCharge):
        return Stock(None, None, None, say(REASONS[loads]), figures)
    lossless = Battery(
        amp_hours=battery.amp_hours, usable=battery.usable, exponent=DEFAULTS.peukert_none.value
    )
    without = loads_of_battery(lossless, draw, times.first, times.following)
    gained = without if isinstance(without, int) and without != loads else None
    return Stock(loads, loads * device.batteries, gained, "", figures)


def _figures(device: Device, battery: Battery) -> list[Told]:
    """What the batteries are reckoned with, each figure beside where it comes from."""
    usual = DEFAULTS_OF[kind_of(device.batteries, device.peukert)]
    share, exponent, hours = (
        Decimal(str(value)) for value in (battery.usable, battery.exponent, battery.rated_hours)
    )
    told = [
        told_of(say("{share} of it is used", share=percent(share)), share, usual.share),
        told_of(say("Peukert exponent {exponent}", exponent=plain(exponent)), exponent, usual.exponent),
    ]
    if exponent > 1:
        words = say("printed capacity holds for {hours} hours", hours=plain(hours))
        told.append(told_of(words, hours, usual.hours))
    return told


def figure(value: float) -> str:
    """Three figures that count: 0.521, 6.25, 12.5, 104."""
    return plain(Decimal(f"{value:.3g}"))
