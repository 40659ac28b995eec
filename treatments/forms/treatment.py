"""A whole treatment as the keeper tells it: days of its rounds, colonies, doses, what the pack says."""

import datetime as dt
import uuid
from typing import Any, ClassVar

from django import forms
from django.utils.translation import gettext_lazy as _

from apiaries.fields import OneLine, TypedDate
from apiaries.language import say
from apiaries.models import Yard
from apiaries.templatetags.recount_words import day
from treatments.actions import TYPED, NewRound, NewTreatment, NotPossible, TwiceAtOnce
from treatments.entry_keys import EntryKeyReused
from treatments.forms.asked import say_what_is_asked
from treatments.forms.doses import TWICE, DoseForm, ask_why
from treatments.forms.steps import went_in_words
from treatments.models import Application

MORE_ROUNDS = 2
MORE_FOR_THE_RECORD = ("supplier_address", "proof", "vet", "given_by", "registration")
FARTHEST_AHEAD = dt.timedelta(days=730)  # a slip of the year, such as 2062 for 2026, is no plan
WITHDRAWAL = _(
    "Enter the days as a whole number, even if it is 0, or leave it empty until you have read the label."
)

SAVED_BEFORE = _("This form was saved before. For one more treatment, open the form anew.")


def published_words(days: int) -> str:
    """The published withdrawal period as a hint: it is never filled in for the label."""
    return say("{days} is published; the label in your hand decides. Type it, even if it is 0.", days=days)


class TreatmentForm(DoseForm):
    """A day up to today is one on which the round was given; a day to come is planned."""

    entry_key = forms.UUIDField(widget=forms.HiddenInput)
    product = OneLine(
        label=_("Product"),
        required=False,
        max_length=120,
        help_text=_("As the pack says, in your own words."),
    )
    batch = OneLine(label=_("Batch number"), required=False, max_length=60)
    supplier = OneLine(label=_("Supplier"), required=False, max_length=200)
    supplier_address = OneLine(label=_("Supplier's address"), required=False, max_length=300)
    proof = OneLine(label=_("Proof of purchase"), required=False, max_length=200)
    vet = OneLine(label=_("Veterinarian, if one prescribed it"), required=False, max_length=200)
    given_by = OneLine(label=_("Given by, if not by you"), required=False, max_length=120)
    registration = OneLine(label=_("Registration number on the pack"), required=False, max_length=60)
    withdrawal_days = forms.IntegerField(
        label=_("Withdrawal period in days"),
        required=False,
        min_value=0,
        max_value=365,
        error_messages=dict.fromkeys(("invalid", "min_value", "max_value"), WITHDRAWAL),
        widget=forms.TextInput(attrs={"inputmode": "numeric", "autocomplete": "off"}),
    )
    note = OneLine(label=_("Note"), required=False, max_length=500)
    fills_doses = False
    refusals: ClassVar = {TwiceAtOnce: ("colonies", TWICE), EntryKeyReused: (None, SAVED_BEFORE)}

    def __init__(
        self,
        *args: Any,
        yard: Yard,
        application: Application,
        today: dt.date,
        first_on: dt.date | None = None,
        **kwargs: Any,
    ) -> None:
        super().__init__(
            *args, yard=yard, application=application, initial={"entry_key": uuid.uuid4()}, **kwargs
        )
        self.today, self.first_on = today, first_on or today
        self.initial["colonies"] = [colony.pk for colony in self.living]
        self.numbers = range(1, application.rounds_default + MORE_ROUNDS + 1)
        for number in self.numbers:
            self._add_round(number)
        published = application.withdrawal_days
        self.fields["withdrawal_days"].help_text = (
            published_words(published)
            if published is not None
            else say("As the label says. Type it, even if it is 0; empty means: still to be filled in.")
        )
        if self.measured:
            say_what_is_asked(self.fields, yard.club)

    def _add_round(self, number: int) -> None:
        usual = number <= self.application.rounds_default
        gap = dt.timedelta(days=self.application.days_between_rounds or 7) * (number - 1)
        self.fields[f"on_{number}"] = TypedDate(
            label=self._round_words(number),
            required=number == 1,
            future=True,
            today=self.today,
            initial=self.first_on + gap if usual else None,
            help_text=say("A day to come is kept as planned.") if number == 1 else "",
        )
        day_field = self.fields[f"on_{number}"]
        day_field.latest = self.today + FARTHEST_AHEAD
        day_field.latest_words = say("This is more than two years ahead. Look at the year again.")
        if self.application.stays:
            self.fields[f"out_{number}"] = TypedDate(
                label=self._out_words(number),
                required=False,
                today=self.today,
                help_text=self._stays_words() if number == 1 else "",
            )

    def _round_words(self, number: int) -> str:
        if number == 1 and self.application.rounds_default == 1:
            return say("Day given")
        return say("Round {number}", number=number)

    def _out_words(self, number: int) -> str:
        if number == 1 and self.application.rounds_default == 1:
            return say("Taken out on")
        return say("Round {number}: taken out on", number=number)

    def _stays_words(self) -> str:
        most = self.application.row.get("stays_in_days_max")
        days = self.application.stays_in_days
        if self.application.label_says_how_long:
            return say(
                "The label says how long it stays in. Leave this empty while it is in; note it when it is out."
            )
        span = say("{low} to {high}", low=days, high=most) if most else str(days)
        return say("Published: {days} days; the label decides. Leave this empty while it is in.", days=span)

    def round_fields(self) -> list[forms.BoundField]:
        """Day and, where something stays in the hive, the day it came out, round by round."""
        names = [name for number in self.numbers for name in (f"on_{number}", f"out_{number}")]
        return [self[name] for name in names if name in self.fields]

    def usual_fields(self) -> list[forms.BoundField]:
        """Those of the usual number of rounds."""
        return [
            field for field in self.round_fields() if int(field.name[-1]) <= self.application.rounds_default
        ]

    def more_fields(self) -> list[forms.BoundField]:
        """Those of further rounds."""
        return [
            field for field in self.round_fields() if int(field.name[-1]) > self.application.rounds_default
        ]

    def more_typed(self) -> bool:
        """Whether anything was typed for further rounds."""
        return any(field.value() for field in self.more_fields())

    def record_fields(self) -> list[forms.BoundField]:
        """What a medicine record may ask for beside product, batch, supplier and withdrawal period."""
        return [self[name] for name in MORE_FOR_THE_RECORD]

    def record_typed(self) -> bool:
        """Whether any of it was typed."""
        return any(field.value() for field in self.record_fields())

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        self.clean_doses()
        self._clean_rounds(cleaned)
        if not self._any_given(cleaned):
            # Of a plan nothing was given yet: what each colony gets is noted with the round.
            for field in self.dose_fields():
                if not self.data.get(field.html_name, "").strip():
                    self.errors.pop(field.name, None)
        above = self.above_limit()
        if above and not cleaned.get("note") and "note" not in self.errors:
            self.add_error("note", ask_why(above[0]))
        return cleaned

    def _any_given(self, cleaned: dict[str, Any]) -> bool:
        days = [cleaned.get(f"on_{number}") for number in self.numbers]
        return any(on is not None and on <= self.today for on in days) or "on_1" in self.errors

    def _clean_rounds(self, cleaned: dict[str, Any]) -> None:
        earlier: dt.date | None = None
        for number in self.numbers:
            on, out = cleaned.get(f"on_{number}"), cleaned.get(f"out_{number}")
            if on is None:
                if out is not None and f"on_{number}" not in self.errors:
                    self.add_error(f"on_{number}", say("Enter the day it went in."))
                continue
            if earlier is not None and on <= earlier:
                self.add_error(f"on_{number}", say("Each round comes after the one before."))
            earlier = on
            if out is not None and out < on:
                self.add_error(f"out_{number}", went_in_words(on))
            self._clean_label_days(number, on)

    def _clean_label_days(self, number: int, on: dt.date) -> None:
        first, last = self.application.valid_from, self.application.valid_to
        if first is not None and on < first:
            words = say("This label holds from {day}. Choose the earlier one for this day.", day=day(first))
            self.add_error(f"on_{number}", words)
        elif last is not None and on > last:
            words = say("This label held until {day}. Choose the later one for this day.", day=day(last))
            self.add_error(f"on_{number}", words)

    def reason_above(self) -> str:
        return str(self.cleaned_data.get("note") or "")[:200]

    def saves(self, write: Any) -> bool:
        try:
            return super().saves(write)
        except NotPossible as error:
            self.add_error("on_1", str(error))
            return False

    def new_treatment(self) -> NewTreatment:
        """The treatment as typed."""
        data = self.cleaned_data
        rounds = []
        for number in self.numbers:
            if on := data.get(f"on_{number}"):
                given = on <= self.today
                doses = self.new_doses() if given else ()
                rounds.append(NewRound(on, on if given else None, data.get(f"out_{number}"), doses))
        texts = {name: data[name] for name in TYPED}
        return NewTreatment(
            yard=self.yard,
            application=self.application,
            rounds=tuple(rounds),
            withdrawal_days=data["withdrawal_days"],
            entry_key=data["entry_key"],
            **texts,
        )
