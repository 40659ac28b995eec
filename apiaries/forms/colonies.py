"""Colonies: adding, describing, moving, ending."""

import datetime as dt
from typing import Any, ClassVar

from django import forms
from django.core.exceptions import ValidationError
from django.db import IntegrityError
from django.utils.translation import gettext_lazy as _

from apiaries.actions import AlreadyEnded, NameTaken, SameYard, TooMany
from apiaries.fields import ColonyNames, OneLine, TypedDate
from apiaries.forms.base import PageForm
from apiaries.language import say
from apiaries.models import Brood, Colony, Yard

NAME_TAKEN = _("A colony in this yard already has this name. Choose another.")


class ColonyAddForm(PageForm):
    """Many colonies at once."""

    colonies = ColonyNames(
        label=_("Colonies"),
        help_text=_("Which: numbers such as 1–24, or names with commas between. 4 is one colony called 4."),
        error_messages={"required": _("Enter the numbers or names of the colonies, such as 1–24.")},
    )
    brood_boxes = forms.IntegerField(
        label=_("Brood boxes of each"),
        min_value=1,
        max_value=6,
        initial=1,
        help_text=_("You can change it for a single colony later."),
        error_messages={
            "required": _("Enter the number of brood boxes, from 1 to 6."),
            "invalid": _("Enter the number of brood boxes, from 1 to 6."),
        },
        widget=forms.TextInput(attrs={"inputmode": "numeric", "autocomplete": "off"}),
    )
    started_on = TypedDate(
        label=_("They stand here since"), help_text=_("Today, or an earlier day such as 12 Aug 2026.")
    )

    refusals: ClassVar = {
        TooMany: ("colonies", _("Add at most 200 colonies at once.")),
        IntegrityError: (
            "colonies",
            _("Some of these names were taken at this very moment. Look at the yard first."),
        ),
    }

    def __init__(self, *args: Any, yard: Yard, today: dt.date, **kwargs: Any) -> None:
        super().__init__(*args, initial={"started_on": today}, **kwargs)
        self.fields["started_on"].today = today
        self.yard = yard

    def clean_colonies(self) -> list[str]:
        names: list[str] = self.cleaned_data["colonies"]
        living = {name.lower() for name in self.yard.colonies.living().values_list("name", flat=True)}
        if taken := [name for name in names if name.lower() in living]:
            raise ValidationError(taken_words(taken))
        return names

    def saves(self, write: Any) -> bool:
        try:
            return super().saves(write)
        except NameTaken as error:
            self.add_error("colonies", taken_words(error.names))
            return False


class ColonyForm(PageForm):
    """What the keeper last saw of a colony."""

    name = OneLine(
        max_length=40, label=_("Name or number"), error_messages={"required": _("Enter a name or number.")}
    )
    brood_boxes = forms.TypedChoiceField(
        label=_("Brood boxes"),
        coerce=int,
        choices=[(number, str(number)) for number in range(1, 7)],
        error_messages={"required": _("Choose the number of brood boxes.")},
    )
    supers_on = forms.BooleanField(
        required=False,
        label=_("Supers are on"),
        help_text=_("Boxes with honey for harvest. Some treatments must wait for them."),
    )
    brood = forms.ChoiceField(
        label=_("Brood, last seen"),
        choices=lambda: [(brood.value, str(brood.label).capitalize()) for brood in Brood],
        widget=forms.RadioSelect,
        error_messages={"required": _("Say what was last seen, or “Not looked”.")},
    )
    brood_seen_on = TypedDate(required=False, label=_("Day you looked"))

    refusals: ClassVar = {ValidationError: ("name", NAME_TAKEN), IntegrityError: ("name", NAME_TAKEN)}

    def __init__(self, *args: Any, colony: Colony, today: dt.date, **kwargs: Any) -> None:
        seen = {
            name: getattr(colony, name)
            for name in ("name", "brood_boxes", "supers_on", "brood", "brood_seen_on")
        }
        super().__init__(*args, initial=seen, **kwargs)
        self.fields["brood_seen_on"].today = today
        self.colony = colony

    def clean_name(self) -> str:
        name: str = self.cleaned_data["name"]
        others = self.colony.yard.colonies.living().exclude(pk=self.colony.pk)
        if others.filter(name__iexact=name).exists():
            raise ValidationError(NAME_TAKEN)
        return name

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        dated = cleaned.get("brood_seen_on") or "brood_seen_on" in self.errors
        if cleaned.get("brood") not in (None, Brood.UNKNOWN) and not dated:
            self.add_error(
                "brood_seen_on", _("Enter the day you looked into the brood nest, for example 12 Aug 2026.")
            )
        return cleaned


class ColonyMoveForm(PageForm):
    """Where the colony stands from now on."""

    to_yard = forms.ModelChoiceField(
        Yard.objects.none(),
        label=_("To which yard"),
        empty_label=_("Choose a yard"),
        error_messages={
            "required": _("Choose the yard it moved to."),
            "invalid_choice": _("Choose one of your own yards."),
        },
    )
    moved_on = TypedDate(label=_("Moved on"))

    refusals: ClassVar = {
        NameTaken: ("to_yard", _("A colony there already has this name. Rename one of the two first.")),
        SameYard: ("to_yard", _("It stands in this yard already. Choose another.")),
        AlreadyEnded: (None, _("This colony is gone, so it cannot move.")),
        IntegrityError: ("to_yard", _("A colony there already has this name. Rename one of the two first.")),
    }

    def __init__(self, *args: Any, colony: Colony, yards: Any, today: dt.date, **kwargs: Any) -> None:
        super().__init__(*args, initial={"moved_on": today}, **kwargs)
        self.fields["to_yard"].queryset = yards
        moved_on = self.fields["moved_on"]
        known = [colony.known_start] if colony.known_start else []
        moved_on.today = today
        moved_on.earliest = max([*known, *colony.moves.values_list("moved_on", flat=True)], default=None)
        moved_on.earliest_words = say("It was not in this yard yet on that day. Enter a later one.")


class ColonyEndForm(PageForm):
    """That a colony is no more."""

    ended_on = TypedDate(
        label=_("On which day"), help_text=_("The day you found it, or handed it over, such as 12 Aug 2026.")
    )
    why = OneLine(
        max_length=200,
        label=_("What became of it"),
        help_text=_(
            "For example: died in winter, sold. If its bees went into another colony, choose Unite instead."
        ),
        error_messages={"required": _("Say what became of it, for example: died in winter.")},
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )

    refusals: ClassVar = {AlreadyEnded: (None, _("This was written down before. Look at the colony's page."))}

    def __init__(self, *args: Any, colony: Colony, today: dt.date, **kwargs: Any) -> None:
        super().__init__(*args, initial={"ended_on": today}, **kwargs)
        ended_on = self.fields["ended_on"]
        ended_on.today, ended_on.earliest = today, colony.known_start
        ended_on.earliest_words = say("The colony did not stand here yet on that day. Enter a later one.")


def taken_words(names: Any) -> str:
    """Which names are taken, the first few by name."""
    few, more = ", ".join(list(names)[:5]), max(0, len(names) - 5)
    if len(names) == 1:
        return say(
            "A colony {name} stands in this yard already. Leave it out or choose another name.", name=few
        )
    shown = say("{names} and {more} more", names=few, more=more) if more else few
    return say(
        "Colonies {names} stand in this yard already. Leave them out or choose other names.", names=shown
    )
