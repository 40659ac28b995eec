"""Form fields that read what people type. What was typed stays in the box when it could not be read."""

import datetime as dt
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext_lazy as _

from apiaries.language import say
from apiaries.templatetags.recount_words import day
from apiaries.typed import NotRead, read_day, read_km, read_names, read_place
from apiaries.zones import zone_names

if TYPE_CHECKING:
    from django_stubs_ext import StrOrPromise


class TypedDate(forms.Field):
    """A calendar day in one text box; cleans to a date, or None when it may be left empty.

    The form sets `today` (the day in the yard) before it cleans: then "today" and "yesterday" are understood and a
    day to come is refused, unless `future=True`. `earliest` refuses days before it, with `earliest_words`.
    """

    widget = forms.TextInput(attrs={"autocomplete": "off", "maxlength": "40", "size": "16"})

    def __init__(self, *, today: dt.date | None = None, future: bool = False, **kwargs: Any) -> None:
        kwargs.setdefault("help_text", _("For example 12 Aug 2026"))
        kwargs.setdefault("error_messages", {}).setdefault(
            "required", _("Enter the date, for example 12 Aug 2026.")
        )
        super().__init__(**kwargs)
        self.today, self.future = today, future
        self.earliest: dt.date | None = None
        self.earliest_words: StrOrPromise = _("This date is too early.")
        self.latest: dt.date | None = None
        self.latest_words: StrOrPromise = _("This date is too far ahead.")

    def prepare_value(self, value: Any) -> Any:
        return day(value) if isinstance(value, dt.date) else value

    def to_python(self, value: Any) -> dt.date | None:
        if isinstance(value, dt.date):
            return value
        text = str(value or "").strip()
        if not text:
            return None
        try:
            return read_day(text, today=self.today)
        except NotRead as error:
            raise ValidationError(str(error), code="not_read") from None

    def validate(self, value: dt.date | None) -> None:
        super().validate(value)
        if value is None:
            return
        if self.today is not None and not self.future and value > self.today:
            raise ValidationError(
                say("This date is still to come: today is {day} in the yard.", day=day(self.today)),
                code="future",
            )
        if self.earliest is not None and value < self.earliest:
            raise ValidationError(self.earliest_words, code="too_early")
        if not 1900 <= value.year < 2100:
            raise ValidationError(say("Enter a year from 1900 to 2099."), code="not_read")
        if self.latest is not None and value > self.latest:
            raise ValidationError(self.latest_words, code="too_late")

    def has_changed(self, initial: Any, data: Any) -> bool:
        try:
            return self.to_python(initial) != self.to_python(data)
        except ValidationError:
            return True


class TypedPlace(forms.Field):
    """Latitude and longitude in one text box, as a phone shows them; cleans to a pair of decimals or None."""

    widget = forms.TextInput(attrs={"autocomplete": "off", "maxlength": "60"})

    def prepare_value(self, value: Any) -> Any:
        return f"{value[0]}, {value[1]}" if isinstance(value, tuple) else value

    def to_python(self, value: Any) -> tuple[Decimal, Decimal] | None:
        text = str(value or "").strip()
        try:
            return read_place(text) if text else None
        except NotRead as error:
            raise ValidationError(str(error), code="not_read") from None


class TypedKm(forms.Field):
    """A distance in one text box; cleans to km, at most `most`."""

    widget = forms.TextInput(
        attrs={"autocomplete": "off", "maxlength": "20", "size": "8", "inputmode": "decimal"}
    )

    def __init__(self, *, most: int, **kwargs: Any) -> None:
        super().__init__(**kwargs)
        self.most = most

    def to_python(self, value: Any) -> float | None:
        text = str(value or "").strip()
        try:
            km = read_km(text) if text else None
        except NotRead as error:
            raise ValidationError(str(error), code="not_read") from None
        if km is not None and km > self.most:
            raise ValidationError(say("Enter at most {most} km.", most=self.most), code="too_far")
        return km


class ColonyNames(forms.Field):
    """Names of colonies: "1–24", or names with commas; cleans to a list of names, empty when left empty."""

    widget = forms.TextInput(attrs={"autocomplete": "off", "maxlength": "2000"})

    def to_python(self, value: Any) -> list[str]:
        try:
            return read_names(str(value or ""))
        except NotRead as error:
            raise ValidationError(str(error), code="not_read") from None

    def validate(self, value: list[str]) -> None:
        if self.required and not value:
            raise ValidationError(self.error_messages["required"], code="required")


class OneLine(forms.CharField):
    """Text without line breaks: names go into the headings of mails."""

    def to_python(self, value: Any) -> Any:
        return " ".join(str(super().to_python(value) or "").split())


class TimeZone(forms.ChoiceField):
    """A time zone from the time zone data base, and whatever zone is kept already."""

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("error_messages", {}).setdefault(
            "required", _("Choose a time zone such as Europe/Berlin.")
        )
        super().__init__(choices=_zones, **kwargs)

    def valid_value(self, value: str) -> bool:
        return value in zone_names()


def _zones() -> list[tuple[str, str]]:
    """Places first by continent, then UTC; the odd and old names are left out."""
    places = sorted(
        zone for zone in zone_names() if "/" in zone and not zone.startswith(("Etc/", "SystemV/", "US/"))
    )
    return [("UTC", "UTC"), *((zone, zone.replace("_", " ")) for zone in places)]
