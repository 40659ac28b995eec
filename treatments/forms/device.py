"""What a keeper says about a heater, its batteries and its timed trial."""

import datetime as dt
import re
from decimal import ROUND_HALF_UP, Decimal
from typing import Any

from django import forms
from django.utils.text import format_lazy
from django.utils.translation import gettext_lazy as _

from apiaries.fields import OneLine, TypedDate
from apiaries.forms.base import PageForm
from apiaries.templatetags.recount_words import plain
from treatments.battery import EXPONENT_MAX
from treatments.device_kinds import DEFAULTS_OF, Kind, kind_of
from treatments.models import Device
from treatments.models.days import MINUTES_MAX

GRAMS_MAX, WATTS_MAX, VOLTS_MAX, AMPS_MAX, AMP_HOURS_MAX, HOURS_MAX = 100, 5000, 400, 500, 5000, 200
"""Nothing a person carries to a hive is larger: our choice, against a slip of the comma."""
HEATERS_MAX, BATTERIES_MAX = 12, 24
HUNDREDTH = Decimal("0.01")
CLOCK = re.compile(r"(\d{1,4}):([0-5]?\d)")
BATTERY_BOXES = ("batteries", "battery_ah", "rated_hours", "usable_percent", "peukert")
POWER_TWICE = _("Enter watts with volts, or amps. Both are two answers to one question: empty one of them.")
VOLTS_MISSING = _(
    "Enter the volts too: watts alone do not say what is drawn from a battery. Most car batteries have 12."
)
VOLTS_ALONE = _(
    "Enter watts or amps too: volts alone do not say what the heater draws. Or leave the volts empty."
)
NO_BATTERY_BUT = _(
    "No battery is chosen, yet something is entered about one. Choose its kind, or empty those boxes."
)


class Figure(forms.DecimalField):
    """A number typed with a point or a comma, and with or without its unit."""

    def __init__(self, *, wrong: Any, unit: str = "", **kwargs: Any) -> None:
        names = ("required", "invalid", "min_value", "max_value")
        digits = ("max_digits", "max_decimal_places", "max_whole_digits")
        super().__init__(
            error_messages=dict.fromkeys((*names, *digits), wrong),
            widget=forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off", "maxlength": "20"}),
            **kwargs,
        )
        self.unit = unit

    def to_python(self, value: Any) -> Any:
        text = str(value if value is not None else "").strip().removesuffix(self.unit).strip()
        return super().to_python(text.replace(",", "."))

    def prepare_value(self, value: Any) -> Any:
        return plain(value) if isinstance(value, Decimal | int) else value


class Minutes(Figure):
    """Minutes, as 10.5 or 10,5, or as a stopwatch shows them: 10:30."""

    def __init__(self, *, least: Decimal, **kwargs: Any) -> None:
        super().__init__(unit="min", min_value=least, max_value=MINUTES_MAX, decimal_places=2, **kwargs)

    def to_python(self, value: Any) -> Any:
        clock = CLOCK.fullmatch(value.strip()) if isinstance(value, str) else None
        if clock is None:
            return super().to_python(value)
        seconds = int(clock[1]) * 60 + int(clock[2])
        return (Decimal(seconds) / 60).quantize(HUNDREDTH, ROUND_HALF_UP)


def _some(wrong: Any, most: int, unit: str, **kwargs: Any) -> Figure:
    """A positive number up to `most`, to two decimals."""
    return Figure(
        wrong=format_lazy(wrong, most=most),
        unit=unit,
        min_value=HUNDREDTH,
        max_value=most,
        decimal_places=2,
        required=False,
        **kwargs,
    )


def _whole(most: int, **kwargs: Any) -> forms.IntegerField:
    wrong = format_lazy(_("Enter a whole number from 1 to {most}."), most=most)
    return forms.IntegerField(
        min_value=1,
        max_value=most,
        error_messages=dict.fromkeys(("required", "invalid", "min_value", "max_value"), wrong),
        widget=forms.TextInput(attrs={"inputmode": "numeric", "autocomplete": "off"}),
        **kwargs,
    )


class DeviceForm(PageForm):
    """A heater and its batteries. What is left empty is the usual of its kind, or unknown."""

    name = OneLine(
        label=_("Name"),
        max_length=60,
        help_text=_(
            "In your own words, so that you know it again: pan with the long lead. No brand is needed."
        ),
        error_messages={
            "required": _("Give it a name, in your own words."),
            "max_length": _("Use at most 60 characters."),
        },
    )
    number = _whole(HEATERS_MAX, label=_("How many such heaters"), initial=1)
    grams_per_load = _some(
        _("Enter the grams as a number up to {most}, such as 2 or 2.5."),
        GRAMS_MAX,
        "g",
        label=_("Grams that one load holds"),
        help_text=_("As its instructions say. Weigh what you fill in: a spoon is not a measure."),
    )
    watts = _some(
        _("Enter the watts as a number up to {most}, such as 150."), WATTS_MAX, "W", label=_("Watts")
    )
    volts = _some(
        _("Enter the volts as a number up to {most}, such as 12."), VOLTS_MAX, "V", label=_("Volts")
    )
    amps = _some(_("Enter the amps as a number up to {most}, such as 12.5."), AMPS_MAX, "A", label=_("Amps"))
    battery_kind = forms.ChoiceField(
        label=_("Battery"),
        choices=[(kind.value, kind.label) for kind in Kind],
        widget=forms.RadioSelect,
        error_messages=dict.fromkeys(
            ("required", "invalid_choice"), _("Choose what feeds the heater: a kind of battery, or none.")
        ),
    )
    battery_ah = _some(
        _("Enter the capacity in amp hours as a number up to {most}, such as 40."),
        AMP_HOURS_MAX,
        "Ah",
        label=_("Capacity printed on one battery"),
        help_text=_("In amp hours. Left empty, nobody can say how long it lasts."),
    )
    batteries = _whole(
        BATTERIES_MAX, label=_("How many such batteries"), required=False, help_text=_("Left empty: 1.")
    )
    usable_percent = Figure(
        wrong=_("Enter the share that you use in per cent, from 1 to 100, such as 50."),
        unit="%",
        min_value=1,
        max_value=100,
        decimal_places=1,
        required=False,
        label=_("Share of it that you use"),
        help_text=_("In per cent. Left empty: the usual of its kind, as below."),
    )
    rated_hours = Figure(
        wrong=format_lazy(_("Enter the hours as a number from 0.1 to {most}, such as 20."), most=HOURS_MAX),
        unit="h",
        min_value=Decimal("0.1"),
        max_value=HOURS_MAX,
        decimal_places=1,
        required=False,
        label=_("Hours for which the printed capacity holds"),
        help_text=_("Printed beside it as C20 or 20 h. Left empty: 20 for lead-acid."),
    )
    peukert = Figure(
        wrong=format_lazy(
            _("Enter the exponent from 1 to {most}, such as 1.2. With 1 nothing is lost."),
            most=int(EXPONENT_MAX),
        ),
        min_value=1,
        max_value=Decimal(str(EXPONENT_MAX)),
        decimal_places=3,
        required=False,
        label=_("Peukert exponent"),
        help_text=_(
            "How much less it gives when much is drawn at once. Left empty: the usual of its kind, as below."
        ),
    )

    def __init__(self, *args: Any, device: Device | None = None, **kwargs: Any) -> None:
        super().__init__(*args, initial=_initial(device) if device else None, **kwargs)

    @property
    def finer_open(self) -> bool:
        """Whether something stands in the boxes that most people leave empty, or is to be mended there."""
        return any(self[name].value() for name in ("usable_percent", "rated_hours", "peukert"))

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        self._clean_power()
        if cleaned.get("battery_kind") == Kind.NONE and any(self._typed(name) for name in BATTERY_BOXES):
            self.add_error("battery_kind", NO_BATTERY_BUT)
        return cleaned

    def _clean_power(self) -> None:
        watts, volts, amps = (self._typed(name) for name in ("watts", "volts", "amps"))
        if watts and amps:
            self.add_error("amps", POWER_TWICE)
        elif watts and not volts:
            self.add_error("volts", VOLTS_MISSING)
        elif volts and not (watts or amps):
            self.add_error("watts", VOLTS_ALONE)

    def _typed(self, name: str) -> bool:
        """Whether anything stands in a box, readable or not."""
        return bool(str(self[name].value() or "").strip())

    def facts(self) -> dict[str, Any]:
        """The columns of a device."""
        names = ("name", "number", "grams_per_load", "watts", "volts", "amps")
        kind = Kind(self.cleaned_data["battery_kind"])
        return {name: self.cleaned_data[name] for name in names} | self._battery(kind)

    def _battery(self, kind: Kind) -> dict[str, Any]:
        if kind is Kind.NONE:
            nothing = dict.fromkeys(("battery_ah", "rated_hours", "usable_share", "peukert"))
            return {"batteries": 0, **nothing}
        typed, usual = self.cleaned_data, DEFAULTS_OF[kind]
        percent = typed["usable_percent"]
        return {
            "batteries": typed["batteries"] or 1,
            "battery_ah": typed["battery_ah"],
            "rated_hours": typed["rated_hours"] or usual.rated_hours,
            "usable_share": usual.usable_share if percent is None else percent / 100,
            "peukert": typed["peukert"] or usual.peukert,
        }


def _initial(device: Device) -> dict[str, Any]:
    """A device as its form holds it; boxes with the usual of the kind stay empty, so that they follow the kind."""
    names = ("name", "number", "grams_per_load", "watts", "volts", "amps")
    kind = kind_of(device.batteries, device.peukert)
    held = {name: getattr(device, name) for name in names} | {"battery_kind": kind.value}
    if kind is Kind.NONE:
        return held
    usual = DEFAULTS_OF[kind]
    share = device.usable_share
    return held | {
        "batteries": device.batteries,
        "battery_ah": device.battery_ah,
        "usable_percent": None if share in (None, usual.usable_share) else share * 100,
        "rated_hours": None if device.rated_hours == usual.rated_hours else device.rated_hours,
        "peukert": None if device.peukert == usual.peukert else device.peukert,
    }


class TrialForm(PageForm):
    """The keeper's own timed trial, whole or not at all. Times of an earlier trial are never filled in."""

    tried_on = TypedDate(label=_("Day of the trial"))
    first_minutes = Minutes(
        least=HUNDREDTH,
        wrong=_("Enter the minutes of the first load, such as 10.5, or minutes and seconds, such as 10:30."),
        label=_("First load: minutes until the pan is empty"),
    )
    following_minutes = Minutes(
        least=HUNDREDTH,
        wrong=_("Enter the minutes of the second load, such as 10.5, or minutes and seconds, such as 10:30."),
        label=_("Second load: minutes until the pan is empty"),
    )
    cool_minutes = Minutes(
        least=Decimal(0),
        wrong=_("Enter the minutes of cooling, such as 10.5, or minutes and seconds, such as 10:30."),
        label=_("Minutes until it has cooled"),
    )

    def __init__(self, *args: Any, today: dt.date, **kwargs: Any) -> None:
        super().__init__(*args, initial={"tried_on": today}, **kwargs)
        self.fields["tried_on"].today = today

    def facts(self) -> dict[str, Any]:
        """The columns of a device that a trial fills."""
        return dict(self.cleaned_data)
