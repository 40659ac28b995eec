"""What a keeper says about the day: when, how warm, and when supers go on or honey is taken."""

import datetime as dt
import math
from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext_lazy as _

from apiaries.fields import TypedDate
from apiaries.forms.base import PageForm
from apiaries.language import say, say_many
from treatments.ingredients import celsius_from_fahrenheit

DAYS = 7
FARTHEST_AHEAD = dt.timedelta(days=366)
COLDEST_C, WARMEST_C = -60.0, 60.0
WRONG = _("Enter the expected high as a number, such as 24 or 24.5.")
CELSIUS, FAHRENHEIT = "c", "f"


class High(forms.CharField):
    """A temperature typed with a point or a comma, and with or without its sign for degrees; cleans to a float."""

    widget = forms.TextInput(
        attrs={"inputmode": "text", "autocomplete": "off", "maxlength": "10", "size": "6"}
    )

    def to_python(self, value: Any) -> Any:
        text = str(super().to_python(value) or "").strip().lower()
        for sign in ("°c", "°f", "°"):
            text = text.removesuffix(sign).strip()
        text = text.replace("\N{MINUS SIGN}", "-").replace(",", ".")
        if not text:
            return None
        try:
            number = float(Decimal(text))
        except (ArithmeticError, ValueError):
            raise ValidationError(WRONG, code="invalid") from None
        if not math.isfinite(number):
            raise ValidationError(WRONG, code="invalid")
        return number


class DayForm(PageForm):
    """The day and what is expected of it. Everything but the day may be left empty."""

    on = TypedDate(label=_("Day of the treatment"), future=True)
    scale = forms.ChoiceField(
        label=_("Temperatures in"),
        choices=[(CELSIUS, "°C"), (FAHRENHEIT, "°F")],
        widget=forms.RadioSelect,
        error_messages=dict.fromkeys(("required", "invalid_choice"), _("Choose °C or °F.")),
    )
    supers_next_on = TypedDate(
        label=_("Supers go on, or honey is taken, on"),
        required=False,
        future=True,
        help_text=_("The next such day, if one is planned."),
    )

    def __init__(self, *args: Any, today: dt.date, fahrenheit: bool, **kwargs: Any) -> None:
        initial = {"on": today, "scale": FAHRENHEIT if fahrenheit else CELSIUS}
        super().__init__(*args, initial=initial, **kwargs)
        for name in ("on", "supers_next_on"):
            day_field = self.fields[name]
            day_field.today, day_field.earliest = today, today
            day_field.earliest_words = say("This day is past. Enter today or a day to come.")
            day_field.latest = today + FARTHEST_AHEAD
            day_field.latest_words = say("This is more than a year ahead. Look at the year again.")
        for n in range(DAYS):
            label = say("On the day") if n == 0 else say_many("{n} day after", "{n} days after", n)
            self.fields[f"high_{n}"] = High(label=label, required=False)

    def high_fields(self) -> list[forms.BoundField]:
        """The boxes for expected highs, day by day."""
        return [self[f"high_{n}"] for n in range(DAYS)]

    @property
    def highs_typed(self) -> bool:
        """Whether anything was typed there, or is to be mended."""
        return "scale" in self.errors or any(field.value() for field in self.high_fields())

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        for n in range(DAYS):
            high = self._celsius(cleaned.get(f"high_{n}"))
            if high is not None and not COLDEST_C <= high <= WARMEST_C:
                self.add_error(
                    f"high_{n}", say("No yard is that cold or warm. Look at the number and at °C or °F.")
                )
        return cleaned

    def _celsius(self, typed: float | None) -> float | None:
        if typed is None:
            return None
        return celsius_from_fahrenheit(typed) if self.cleaned_data.get("scale") == FAHRENHEIT else typed

    @property
    def highs_c(self) -> tuple[float | None, ...]:
        """What could be read of the expected highs, in °C, day by day; None where nothing was typed."""
        return tuple(self._celsius(self.cleaned_data.get(f"high_{n}")) for n in range(DAYS))
