"""What happens to colonies: splitting, uniting, requeening, and undoing what was noted by mistake."""

import datetime as dt
from typing import Any, ClassVar

from django import forms
from django.db import IntegrityError
from django.utils.translation import gettext_lazy as _

from apiaries.actions import AlreadyEnded, AlreadyUndone, NameTaken, NotThereYet
from apiaries.fields import OneLine, TypedDate
from apiaries.forms.base import PageForm
from apiaries.language import say
from apiaries.models import Colony, Yard

EARLIEST_WORDS = _("The colony did not stand here yet on that day. Enter a later one.")
NAME_THERE = _("A colony in that yard already has this name. Choose another.")
GONE_MEANWHILE = _("One of the two colonies is gone by now. Look at their pages first.")


class LifeForm(PageForm):
    """A day on which something happened to a colony, and a word about it."""

    on = TypedDate(label=_("On which day"), help_text=_("Today, or an earlier day such as 12 Aug 2026."))
    note = OneLine(max_length=200, required=False, label=_("In a few words"))

    refusals: ClassVar = {
        AlreadyEnded: (None, _("This colony is gone, so nothing more can be noted of it.")),
        NotThereYet: ("on", EARLIEST_WORDS),
    }

    def __init__(self, *args: Any, colony: Colony, today: dt.date, **kwargs: Any) -> None:
        initial = {"on": today} | kwargs.pop("initial", {})
        super().__init__(*args, initial=initial, **kwargs)
        self.colony = colony
        on = self.fields["on"]
        on.today, on.earliest, on.earliest_words = today, colony.known_start, EARLIEST_WORDS


class ColonySplitForm(LifeForm):
    """A new colony from this one."""

    name = OneLine(
        max_length=40,
        label=_("Name or number of the new colony"),
        error_messages={"required": _("Enter a name or number for the new colony.")},
    )
    to_yard = forms.ModelChoiceField(
        Yard.objects.none(),
        label=_("It stands in"),
        empty_label=None,
        error_messages={
            "required": _("Choose the yard it stands in."),
            "invalid_choice": _("Choose one of your own yards."),
        },
    )
    brood_boxes = forms.TypedChoiceField(
        label=_("Its brood boxes"),
        coerce=int,
        choices=[(number, str(number)) for number in range(1, 7)],
        error_messages={"required": _("Choose the number of brood boxes.")},
    )

    field_order = ("name", "to_yard", "on", "brood_boxes", "note")
    refusals: ClassVar = LifeForm.refusals | {
        NameTaken: ("name", NAME_THERE),
        IntegrityError: ("name", NAME_THERE),
    }

    def __init__(self, *args: Any, yards: Any, colony: Colony, **kwargs: Any) -> None:
        super().__init__(*args, colony=colony, initial={"to_yard": colony.yard_id}, **kwargs)
        self.fields["to_yard"].queryset = yards
        self.fields["note"].help_text = say("For example: three frames of brood, the old queen stayed.")

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        yard, name = cleaned.get("to_yard"), cleaned.get("name")
        if yard and name and yard.colonies.living().filter(name__iexact=name).exists():
            self.add_error("name", NAME_THERE)
        return cleaned


class _ColonyChoice(forms.ModelChoiceField):
    def label_from_instance(self, colony: Colony) -> str:
        return say("Colony {name}, {yard}", name=colony.name, yard=colony.yard.name)


class ColonyUniteForm(LifeForm):
    """Which colony takes in the bees of this one."""

    into = _ColonyChoice(
        Colony.objects.none(),
        label=_("Its bees went into"),
        empty_label=_("Choose a colony"),
        error_messages={
            "required": _("Choose the colony that took in the bees."),
            "invalid_choice": _("Choose a living colony of your own yards."),
        },
    )

    field_order = ("into", "on", "note")
    refusals: ClassVar = LifeForm.refusals | {AlreadyEnded: (None, GONE_MEANWHILE)}

    def __init__(self, *args: Any, others: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["into"].queryset = others
        self.fields["note"].help_text = say("For example: weak, queenless.")

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        into, on = cleaned.get("into"), cleaned.get("on")
        if into and on and into.known_start and on < into.known_start:
            self.add_error(
                "on",
                say("Colony {name} did not stand there yet on that day. Enter a later one.", name=into.name),
            )
        return cleaned


class ColonyRequeenForm(LifeForm):
    """The colony has another queen."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        note = self.fields["note"]
        note.label, note.help_text = (
            say("Origin and mark"),
            say("For example: raised by themselves; bought, white dot."),
        )


class UndoForm(PageForm):
    """Why something that was noted of a colony is not so."""

    why = OneLine(
        max_length=200,
        label=_("What was wrong"),
        help_text=_("For example: it was colony 4."),
        error_messages={"required": _("Say what was wrong, for example: it was colony 4.")},
    )

    refusals: ClassVar = {
        AlreadyUndone: (None, _("This was undone at this very moment. Look at the colony's page.")),
        NameTaken: (None, _("Another colony in its yard has its name by now. Rename that one first.")),
        IntegrityError: (None, _("Another colony in its yard has its name by now. Rename that one first.")),
    }


class UndoSplitForm(UndoForm):
    """The same for a split, where the new colony may or may not stand there."""

    there = forms.ChoiceField(
        label=_("Does the new colony exist?"),
        choices=[
            ("yes", _("Yes, but it does not come from this colony")),
            ("no", _("No, there is no such colony")),
        ],
        widget=forms.RadioSelect,
        error_messages={"required": _("Say whether the new colony exists.")},
    )

    field_order = ("there", "why")
