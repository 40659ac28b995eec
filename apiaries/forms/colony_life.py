"""What happens to colonies: splitting, uniting, requeening, and undoing what was noted by mistake."""

import datetime as dt
from typing import Any, ClassVar

from django import forms
from django.db import IntegrityError

from apiaries.actions import AlreadyEnded, AlreadyUndone, NameTaken, NotThereYet
from apiaries.fields import OneLine, TypedDate
from apiaries.forms.base import PageForm
from apiaries.models import Colony, Yard

EARLIEST_WORDS = "The colony did not stand here yet on that day. Enter a later one."
NAME_THERE = "A colony in that yard already has this name. Choose another."
GONE_MEANWHILE = "One of the two colonies is gone by now. Look at their pages first."


class LifeForm(PageForm):
    """A day on which something happened to a colony, and a word about it."""

    on = TypedDate(label="On which day", help_text="Today, or an earlier day such as 12 Aug 2026.")
    note = OneLine(max_length=200, required=False, label="In a few words")

    refusals: ClassVar = {
        AlreadyEnded: (None, "This colony is gone, so nothing more can be noted of it."),
        NotThereYet: ("on", EARLIEST_WORDS),
    }

    def __init__(self, *args: Any, colony: Colony, today: dt.date, **kwargs: Any) -> None:
        initial = {"on": today} | kwargs.pop("initial", {})
        super().__init__(*args, initial=initial, **kwargs)
        self.colony = colony
        on = self.fields["on"]
        on.today, on.earliest, on.earliest_words = today, colony.started_on, EARLIEST_WORDS


class ColonySplitForm(LifeForm):
    """A new colony from this one."""

    name = OneLine(
        max_length=40,
        label="Name or number of the new colony",
        error_messages={"required": "Enter a name or number for the new colony."},
    )
    to_yard = forms.ModelChoiceField(
        Yard.objects.none(),
        label="It stands in",
        empty_label=None,
        error_messages={
            "required": "Choose the yard it stands in.",
            "invalid_choice": "Choose one of your own yards.",
        },
    )
    brood_boxes = forms.TypedChoiceField(
        label="Its brood boxes",
        coerce=int,
        choices=[(number, str(number)) for number in range(1, 7)],
        error_messages={"required": "Choose the number of brood boxes."},
    )

    field_order = ("name", "to_yard", "on", "brood_boxes", "note")
    refusals: ClassVar = LifeForm.refusals | {
        NameTaken: ("name", NAME_THERE),
        IntegrityError: ("name", NAME_THERE),
    }

    def __init__(self, *args: Any, yards: Any, colony: Colony, **kwargs: Any) -> None:
        super().__init__(*args, colony=colony, initial={"to_yard": colony.yard_id}, **kwargs)
        self.fields["to_yard"].queryset = yards
        self.fields["note"].help_text = "For example: three frames of brood, the old queen stayed."

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        yard, name = cleaned.get("to_yard"), cleaned.get("name")
        if yard and name and yard.colonies.living().filter(name__iexact=name).exists():
            self.add_error("name", NAME_THERE)
        return cleaned


class _ColonyChoice(forms.ModelChoiceField):
    def label_from_instance(self, colony: Colony) -> str:
        return f"Colony {colony.name}, {colony.yard.name}"


class ColonyUniteForm(LifeForm):
    """Which colony takes in the bees of this one."""

    into = _ColonyChoice(
        Colony.objects.none(),
        label="Its bees went into",
        empty_label="Choose a colony",
        error_messages={
            "required": "Choose the colony that took in the bees.",
            "invalid_choice": "Choose a living colony of your own yards.",
        },
    )

    field_order = ("into", "on", "note")
    refusals: ClassVar = LifeForm.refusals | {AlreadyEnded: (None, GONE_MEANWHILE)}

    def __init__(self, *args: Any, others: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["into"].queryset = others
        self.fields["note"].help_text = "For example: weak, queenless."

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        into, on = cleaned.get("into"), cleaned.get("on")
        if into and on and on < into.started_on:
            self.add_error(
                "on", f"Colony {into.name} did not stand there yet on that day. Enter a later one."
            )
        return cleaned


class ColonyRequeenForm(LifeForm):
    """The colony has another queen."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        note = self.fields["note"]
        note.label, note.help_text = (
            "Origin and mark",
            "For example: raised by themselves; bought, white dot.",
        )


class UndoForm(PageForm):
    """Why something that was noted of a colony is not so."""

    why = OneLine(
        max_length=200,
        label="What was wrong",
        help_text="For example: it was colony 4.",
        error_messages={"required": "Say what was wrong, for example: it was colony 4."},
    )

    refusals: ClassVar = {
        AlreadyUndone: (None, "This was undone at this very moment. Look at the colony's page."),
        NameTaken: (None, "Another colony in its yard has its name by now. Rename that one first."),
        IntegrityError: (None, "Another colony in its yard has its name by now. Rename that one first."),
    }


class UndoSplitForm(UndoForm):
    """The same for a split, where the new colony may or may not stand there."""

    there = forms.ChoiceField(
        label="Does the new colony exist?",
        choices=[
            ("yes", "Yes, but it does not come from this colony"),
            ("no", "No, there is no such colony"),
        ],
        widget=forms.RadioSelect,
        error_messages={"required": "Say whether the new colony exists."},
    )

    field_order = ("there", "why")
