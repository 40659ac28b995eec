"""Yards and their helpers."""

import datetime as dt
from decimal import Decimal
from typing import Any, ClassVar

from django import forms
from django.core.exceptions import ValidationError
from django.db import IntegrityError
from django.utils.translation import gettext_lazy as _

from apiaries.actions import NameTaken, NotAMember, OwnYard
from apiaries.actions.colonies import MOST_AT_ONCE
from apiaries.fields import ColonyNames, OneLine, TypedDate, TypedPlace
from apiaries.forms.base import PageForm
from apiaries.models import Club, Person, Region, Yard

NAME_TAKEN = _("You already have a yard with this name. Choose another.")


class YardForm(PageForm):
    """Name, region and, if the keeper likes, the exact place of a yard."""

    name = OneLine(
        max_length=80,
        label=_("Name of the yard"),
        help_text=_("What you call it yourself, such as Home or Orchard. No address is needed."),
        error_messages={"required": _("Enter a name for the yard.")},
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )
    region = forms.ModelChoiceField(
        Region.objects.none(),
        label=_("Region"),
        empty_label=_("Choose a region"),
        help_text=_("All that others learn of the place."),
        error_messages={
            "required": _("Choose the region the yard is in."),
            "invalid_choice": _("Choose a region of the list."),
        },
    )
    place = TypedPlace(
        required=False,
        label=_("Exact place"),
        help_text=_(
            "Latitude and longitude as a phone shows them, such as 52.52000, 13.40500. "
            "Only you, your helpers and the region's inspectors see it."
        ),
    )
    area_only = forms.BooleanField(
        required=False,
        label=_("Keep only its area"),
        help_text=_("A cell of about 250 km² on a fixed grid is kept instead of the place you enter."),
    )

    refusals: ClassVar = {
        ValidationError: ("name", NAME_TAKEN),
        IntegrityError: ("name", NAME_TAKEN),
        NotAMember: ("region", _("Choose a region of your own club.")),
    }

    def __init__(
        self, *args: Any, club: Club, keeper: Person, yard: Yard | None = None, **kwargs: Any
    ) -> None:
        if yard is not None:
            place = (yard.latitude, yard.longitude) if yard.latitude is not None else None
            kwargs["initial"] = {
                "name": yard.name,
                "region": yard.region_id,
                "place": place,
                "area_only": place is None and bool(yard.cell),
            }
        super().__init__(*args, **kwargs)
        self.fields["region"].queryset = club.regions.all()
        self.keeper, self.yard = keeper, yard

    def clean_name(self) -> str:
        name: str = self.cleaned_data["name"]
        others = self.keeper.yards.filter(name__iexact=name, closed_on=None)
        if self.yard is not None:
            others = others.exclude(pk=self.yard.pk)
        if others.exists():
            raise ValidationError(NAME_TAKEN)
        return name

    def clean(self) -> dict[str, Any]:
        typed: dict[str, Any] = super().clean() or self.cleaned_data
        known = self.yard is not None and self.yard.cell
        if typed.get("area_only") and typed.get("place") is None and "place" not in self.errors and not known:
            self.add_error(
                "place", _("Enter the place: its area is worked out from it, then the place is dropped.")
            )
        return typed

    @property
    def latitude(self) -> Decimal | None:
        """Degrees north, or None."""
        return self.cleaned_data["place"][0] if self.cleaned_data.get("place") else None

    @property
    def longitude(self) -> Decimal | None:
        """Degrees east, or None."""
        return self.cleaned_data["place"][1] if self.cleaned_data.get("place") else None


class YardSetUpForm(YardForm):
    """A new yard with its colonies, in one step."""

    colonies = ColonyNames(
        required=False,
        label=_("Colonies"),
        help_text=_("How many, such as 4, or which: 3, 7, 12 or names with commas. You can add more later."),
    )
    started_on = TypedDate(
        required=False,
        label=_("They stand here since"),
        help_text=_("A day such as 12 Aug 2026. Leave it empty if you do not know it."),
    )

    field_order: ClassVar = ["name", "region", "colonies", "started_on", "place", "area_only"]
    refusals: ClassVar = {
        **YardForm.refusals,
        NameTaken: ("colonies", _("Each colony needs a name of its own.")),
    }

    def __init__(self, *args: Any, today: dt.date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["started_on"].today = self.today = today

    def clean_colonies(self) -> list[str]:
        """A number alone is how many there are: who sets up a yard with four hives types 4."""
        names: list[str] = self.cleaned_data["colonies"]
        alone = names[0] if len(names) == 1 else ""
        if alone.isascii() and alone.isdigit() and 2 <= int(alone) <= MOST_AT_ONCE:
            return [str(number) for number in range(1, int(alone) + 1)]
        return names


class HelperForm(PageForm):
    """Who helps, by the address they sign in with."""

    email = forms.EmailField(
        label=_("E-mail of the helper"),
        help_text=_("The address they sign in with. They must belong to your club."),
        error_messages={"required": _("Enter the e-mail address of the helper.")},
        widget=forms.EmailInput(attrs={"autocomplete": "off"}),
    )

    # One answer for "nobody has this address" and "somebody outside the club has it".
    UNKNOWN = _("No member of your club signs in with this address. Ask a coordinator to invite them first.")
    refusals: ClassVar = {
        OwnYard: ("email", _("You keep this yard yourself. Enter somebody else's address.")),
        NotAMember: ("email", UNKNOWN),
        IntegrityError: ("email", _("They were added at this very moment. Open the page again.")),
    }

    def clean_email(self) -> str:
        email = self.cleaned_data["email"].lower()
        self.person = Person.objects.filter(email=email, is_active=True).first()
        if self.person is None:
            raise ValidationError(self.UNKNOWN)
        return email
