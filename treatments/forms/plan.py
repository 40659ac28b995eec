"""The plan of a treatment day: when, which colonies, how much, with what and whom."""

import datetime as dt
import uuid
from decimal import ROUND_CEILING, Decimal
from typing import Any, ClassVar

from django import forms
from django.core.exceptions import ValidationError
from django.utils.text import format_lazy
from django.utils.translation import gettext_lazy as _

from apiaries.fields import OneLine, TypedDate
from apiaries.language import say
from apiaries.models import Person, Yard
from apiaries.templatetags.recount_words import plain
from treatments.actions import AlreadyClosed, NewRound, NewTreatment
from treatments.constants import DEFAULTS
from treatments.day_actions import NewHive, NewSheet, NoHives, SheetInUse
from treatments.entry_keys import EntryKeyReused
from treatments.forms.doses import DoseForm, ask_why
from treatments.forms.treatment import FARTHEST_AHEAD, SAVED_BEFORE
from treatments.models import Application, Device, Round
from treatments.status import round_days

ROUNDS_MAX = 10
VAPOUR = "vapour"
USUAL_START = dt.time(9, 0)
MINUTES = _("Enter minutes from 0 to 240, such as 15 or 2.5.")


class ClockTime(forms.CharField):
    """A time of day as people type it: 9, 9:30, 9.30, 14:05, 2:05 pm; cleans to a time."""

    wrong = _("Enter the time, such as 9:30 or 14:05.")
    widget = forms.TextInput(attrs={"autocomplete": "off", "maxlength": "12", "size": "8"})

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(error_messages={"required": self.wrong}, **kwargs)

    def prepare_value(self, value: Any) -> Any:
        return f"{value:%H:%M}" if isinstance(value, dt.time) else value

    def to_python(self, value: Any) -> Any:
        text = str(super().to_python(value) or "").strip().lower().replace(".", ":")
        if not text:
            return None
        half = next((one for one in ("am", "pm") if text.endswith(one)), "")
        parts = text.removesuffix(half).strip().split(":")
        if len(parts) > 2 or not all(part.isascii() and part.isdigit() and len(part) <= 2 for part in parts):
            raise ValidationError(self.wrong, code="invalid")
        hour, minute = int(parts[0]), int(parts[1]) if len(parts) == 2 else 0
        if half:
            hour = hour % 12 + (12 if half == "pm" else 0) if 1 <= hour <= 12 else 99
        if hour > 23 or minute > 59:
            raise ValidationError(self.wrong, code="invalid")
        return dt.time(hour, minute)


class Minutes(forms.DecimalField):
    """Minutes typed with a point or a comma."""

    def __init__(self, **kwargs: Any) -> None:
        names = (
            "required",
            "invalid",
            "min_value",
            "max_value",
            "max_digits",
            "max_decimal_places",
            "max_whole_digits",
        )
        super().__init__(
            min_value=Decimal(0),
            max_value=Decimal(240),
            max_digits=6,
            decimal_places=2,
            error_messages=dict.fromkeys(names, MINUTES),
            widget=forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off", "size": "6"}),
            **kwargs,
        )

    def to_python(self, value: Any) -> Any:
        return super().to_python(value.strip().replace(",", ".") if isinstance(value, str) else value)

    def prepare_value(self, value: Any) -> Any:
        return plain(value) if isinstance(value, Decimal) else value


def _whole(label: Any, wrong: Any, most: int, **kwargs: Any) -> forms.IntegerField:
    return forms.IntegerField(
        label=label,
        min_value=1,
        max_value=most,
        error_messages=dict.fromkeys(("required", "invalid", "min_value", "max_value"), wrong),
        widget=forms.TextInput(attrs={"inputmode": "numeric", "autocomplete": "off", "size": "4"}),
        **kwargs,
    )


class PlanForm(DoseForm):
    """A day to come (or today), planned. With `round_` the sheet of a round that is planned already."""

    entry_key = forms.UUIDField(widget=forms.HiddenInput)
    on = TypedDate(label=_("Day"), future=True)
    rounds = _whole(
        _("Rounds"), format_lazy(_("Enter how many rounds, from 1 to {most}."), most=ROUNDS_MAX), ROUNDS_MAX
    )
    gap = _whole(
        _("Days from one round to the next"),
        _("Enter the days between rounds, from 1 to 90."),
        90,
        required=False,
    )
    starts_at = ClockTime(label=_("Start"), help_text=_("On the yard’s clock."))
    people = forms.TypedChoiceField(
        label=_("Who works"),
        choices=[("1", _("One person")), ("2", _("Two people"))],
        coerce=int,
        widget=forms.RadioSelect,
        error_messages=dict.fromkeys(("required", "invalid_choice"), _("Choose one person or two.")),
    )
    device = forms.ModelChoiceField(
        label=_("Heater"),
        queryset=Device.objects.none(),
        required=False,
        empty_label=_("no heater of mine: times stay unknown"),
    )
    heaters = _whole(_("How many of them"), _("Enter how many heaters, from 1 to 12."), 12)
    wait_minutes = Minutes(
        label=_("Wait before drawing the heater"),
        help_text=_("From the end of heating. Common practice, no source."),
    )
    sealed_minutes = Minutes(
        label=_("Kept shut after the last vapour"),
        help_text=_("10 to 15 minutes is published for pans; the label decides."),
    )
    note = OneLine(label=_("Note"), required=False, max_length=500)
    sure = forms.CharField(required=False, widget=forms.HiddenInput)

    refusals: ClassVar = {
        EntryKeyReused: (None, SAVED_BEFORE),
        AlreadyClosed: (None, _("This round was given before, or its treatment was cancelled.")),
        SheetInUse: (None, _("Something was ticked on this sheet. It is no longer planned anew.")),
        NoHives: ("colonies", _("Tick at least one colony.")),
    }

    def __init__(
        self,
        *args: Any,
        yard: Yard,
        application: Application,
        person: Person,
        today: dt.date,
        round_: Round | None = None,
        **kwargs: Any,
    ) -> None:
        start = {
            "entry_key": uuid.uuid4(),
            "on": today,
            "rounds": application.rounds_default,
            "gap": application.days_between_rounds,
            "starts_at": USUAL_START,
            "people": 1,
            "heaters": 1,
            "wait_minutes": int(DEFAULTS.wait_before_drawing_minutes.value),
            "sealed_minutes": int(DEFAULTS.sealed_minutes.value),
        }
        super().__init__(
            *args, yard=yard, application=application, initial=start | kwargs.pop("initial", {}), **kwargs
        )
        self.round_, self.vapour = round_, application.way == VAPOUR
        self.fields["colonies"].label = say("Colonies to treat")
        self.fields["colonies"].error_messages["required"] = say("Tick the colonies to treat.")
        self.initial.setdefault("colonies", [colony.pk for colony in self.living])
        self._set_days(today)
        devices = Device.objects.of(person)
        self.fields["device"].queryset = devices
        if first := devices.first():
            self.initial.setdefault("device", first.pk)
        if not self.vapour:
            for name in ("people", "device", "heaters", "wait_minutes", "sealed_minutes"):
                del self.fields[name]
        if round_ is not None:
            for name in ("on", "rounds", "gap", "note"):
                del self.fields[name]

    def _set_days(self, today: dt.date) -> None:
        day_field = self.fields["on"]
        day_field.today, day_field.earliest = today, today
        day_field.earliest_words = say("This day is past. What was given already is recorded, not planned.")
        day_field.latest = today + FARTHEST_AHEAD
        day_field.latest_words = say("This is more than two years ahead. Look at the year again.")

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        self.clean_doses()
        if (cleaned.get("rounds") or 1) > 1 and not cleaned.get("gap") and "gap" not in self.errors:
            self.add_error("gap", say("Enter the days from one round to the next."))
        device, heaters = cleaned.get("device"), cleaned.get("heaters")
        if device is not None and heaters and heaters > device.number:
            self.add_error(
                "heaters",
                say("You noted {number} of these. Enter that number or less.", number=device.number),
            )
        above = self.above_limit()
        if above and "note" in self.fields and not cleaned.get("note") and "note" not in self.errors:
            self.add_error("note", ask_why(above[0]))
        return cleaned

    def planned_days(self) -> tuple[dt.date, ...]:
        """The days of the rounds."""
        data = self.cleaned_data
        return round_days(data["on"], data["rounds"], data.get("gap") or 1)

    def new_treatment(self) -> NewTreatment:
        """The planned treatment as typed."""
        return NewTreatment(
            yard=self.yard,
            application=self.application,
            rounds=tuple(NewRound(day) for day in self.planned_days()),
            note=self.cleaned_data.get("note") or "",
            entry_key=self.cleaned_data["entry_key"],
        )

    def new_sheet(self) -> NewSheet:
        """The sheet as typed, hives in reading order."""
        data = self.cleaned_data
        return NewSheet(
            starts_at=data["starts_at"],
            hives=tuple(self._hive(dose.colony, dose.amount) for dose in self.new_doses()),
            people=data.get("people") or 1,
            device=data.get("device"),
            heaters=data.get("heaters") or 1,
            wait_minutes=data.get("wait_minutes") or Decimal(0),
            sealed_minutes=data.get("sealed_minutes") or Decimal(0),
        )

    def _hive(self, colony: Any, amount: Decimal) -> NewHive:
        device = self.cleaned_data.get("device")
        most = device.grams_per_load if device is not None and self.vapour else None
        loads = int((amount / most).to_integral_value(ROUND_CEILING)) if most else 1
        return NewHive(colony=colony, amount=amount, loads=max(loads, 1))
