"""The rows of a visit's form: one colony, one order, one sample for a laboratory."""

import datetime as dt
from collections.abc import Mapping, Sequence
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from apiaries.fields import OneLine, TypedDate
from apiaries.language import say, say_as
from apiaries.models import Colony
from apiaries.visit_facts import NewFinding, NewLabSample, NewOrder, NewSuspicion
from apiaries.visit_reference import Disease
from apiaries.visit_words import ASPECTS, OTHER

ORDERS, SAMPLES = 4, 3
"""Rows for orders and for laboratory samples (our choice); a report with more of them names them in the remarks."""


class PartForm(forms.Form):
    """A row that may be left empty as a whole."""

    row_name = ""

    @property
    def is_empty(self) -> bool:
        """Whether nothing at all was typed."""
        return not any(str(self.data.get(self.add_prefix(name), "")).strip() for name in self.fields)


class FindingForm(PartForm):
    """One colony: a tick that it was opened, what was seen, and what is suspected."""

    opened = forms.BooleanField(label=_("Opened"), required=False)
    remark = OneLine(label=_("Remark"), required=False, max_length=500)
    disease = forms.ChoiceField(
        label=_("Suspected"),
        required=False,
        error_messages={"invalid_choice": _("Choose from the list what is suspected.")},
    )
    disease_seen = OneLine(label=_("What you saw of it"), required=False, max_length=500)

    def __init__(
        self, data: Mapping[str, Any] | None, *, colony: Colony, diseases: Sequence[Disease], **kwargs: Any
    ) -> None:
        super().__init__(data, prefix=f"f{colony.pk}", **kwargs)
        self.colony, self.row_name = colony, say("Colony {name}", name=colony.name)
        self.duties = {one.key: one.duty for one in diseases}
        for aspect in ASPECTS:
            codes = [(code, say_as("finding", words)) for code, words in aspect.codes.items()]
            self.fields[aspect.name] = forms.ChoiceField(
                label=say(aspect.heading),
                choices=[("", say("Not looked")), *codes],
                widget=forms.RadioSelect,
                required=False,
                error_messages={"invalid_choice": say("Choose one of these.")},
            )
        self.fields["disease"].choices = [
            ("", say("Nothing suspected")),
            *((one.key, one.label) for one in diseases),
        ]

    def aspects(self) -> list[forms.BoundField]:
        """The boxes of what is looked at, in the order of the hive."""
        return [self[aspect.name] for aspect in ASPECTS]

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        other = any(cleaned.get(aspect.name) == OTHER for aspect in ASPECTS)
        if other and not cleaned.get("remark") and "remark" not in self.errors:
            self.add_error("remark", say("Say in the remark what else you saw."))
        if cleaned.get("disease_seen") and not cleaned.get("disease") and "disease" not in self.errors:
            self.add_error("disease", say("Choose what is suspected, or empty the box below."))
        return cleaned

    @property
    def finding(self) -> NewFinding | None:
        """What was seen; None where the colony was not opened and nothing is noted."""
        cleaned = self.cleaned_data
        codes = {aspect.name: cleaned.get(aspect.name) or "" for aspect in ASPECTS}
        if not (cleaned["opened"] or cleaned["remark"] or any(codes.values())):
            return None
        return NewFinding(colony=self.colony, remark=cleaned["remark"], **codes)

    @property
    def suspicion(self) -> NewSuspicion | None:
        """What is suspected in it, if anything."""
        key = self.cleaned_data["disease"]
        if not key:
            return None
        seen = self.cleaned_data["disease_seen"]
        return NewSuspicion(disease=key, duty=self.duties[key], colony=self.colony, seen=seen)


class OrderForm(PartForm):
    """Something the keeper has to do."""

    what = OneLine(label=_("What the keeper has to do"), required=False, max_length=500)
    due_on = TypedDate(label=_("By"), required=False, future=True)

    def __init__(self, data: Mapping[str, Any] | None, *, number: int, today: dt.date, **kwargs: Any) -> None:
        super().__init__(data, prefix=f"o{number}", **kwargs)
        self.row_name = say("Order {n}", n=number)
        self.fields["due_on"].today = today
        self.fields["due_on"].latest = today + dt.timedelta(days=3 * 366)
        self.fields["due_on"].latest_words = say(
            "This is more than three years ahead. Look at the year again."
        )

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        if not self.is_empty and not cleaned.get("what") and "what" not in self.errors:
            self.add_error("what", say("Say what the keeper has to do, or empty the date too."))
        return cleaned

    @property
    def order(self) -> NewOrder | None:
        """The order; None for an empty row."""
        if self.is_empty:
            return None
        return NewOrder(what=self.cleaned_data["what"], due_on=self.cleaned_data["due_on"])


class LabSampleForm(PartForm):
    """A sample taken for a laboratory."""

    number = OneLine(label=_("Number on the sample"), required=False, max_length=60)
    what = OneLine(
        label=_("What was taken"),
        required=False,
        max_length=200,
        help_text=_("For example: brood comb of colony 4, 30 bees."),
    )
    sent_to = OneLine(label=_("Laboratory"), required=False, max_length=200)
    results_to = OneLine(label=_("Who is told the result"), required=False, max_length=200)

    def __init__(self, data: Mapping[str, Any] | None, *, number: int, **kwargs: Any) -> None:
        super().__init__(data, prefix=f"l{number}", **kwargs)
        self.row_name = say("Sample {n}", n=number)

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        if self.is_empty:
            return cleaned
        if not cleaned.get("number") and "number" not in self.errors:
            self.add_error("number", say("Enter the number that stands on the sample, or empty this row."))
        if not cleaned.get("what") and "what" not in self.errors:
            self.add_error("what", say("Say what was taken, or empty this row."))
        return cleaned

    @property
    def sample(self) -> NewLabSample | None:
        """The sample; None for an empty row."""
        return None if self.is_empty else NewLabSample(**self.cleaned_data)


def stripped(typed: Mapping[str, Any], prefix: str) -> dict[str, Any]:
    """What was typed into the boxes of one row, by the names of its fields: to show it again without judging it."""
    start = f"{prefix}-"
    return {name.removeprefix(start): value for name, value in typed.items() if name.startswith(start)}
