"""The end of the day: the sheet as it was worked becomes doses, with what the medicine record asks of the pack."""

import datetime as dt
from collections.abc import Collection
from dataclasses import dataclass
from decimal import Decimal
from typing import Any, ClassVar

from django import forms
from django.utils.translation import gettext_lazy as _

from apiaries.fields import OneLine, TypedDate
from apiaries.forms.base import PageForm
from apiaries.language import say
from apiaries.templatetags.recount_words import plain
from treatments.actions import AlreadyClosed, NewDose, NotPossible, TwiceAtOnce
from treatments.forms.doses import TWICE, Amount, ask_why, most_for
from treatments.forms.plan import ClockTime
from treatments.forms.treatment import WITHDRAWAL
from treatments.medicine_actions import RECORD_FIELDS, RecordFields
from treatments.models import DaySheet, SheetHive

BACKWARDS = _("It cannot have ended before it began. Look at both times.")


@dataclass(frozen=True, slots=True)
class HiveRow:
    """One hive of the form: its tick and its amount, with what was ticked in the yard in words."""

    hive: SheetHive
    got: forms.BoundField
    amount: forms.BoundField
    seen: str


class FinishForm(PageForm):
    """What each hive got, when, and what the pack says. Nothing here is filled in for the label."""

    given_on = TypedDate(label=_("Given on"))
    began = ClockTime(label=_("Began at"), required=False)
    ended = ClockTime(label=_("Ended at"), required=False, help_text=_("When the last hive was open again."))
    why_above = OneLine(
        label=_("Why more than the published limit"),
        required=False,
        max_length=200,
        help_text=_("Only where a dose is above it; your label decides."),
    )
    product = OneLine(
        label=_("Product"),
        required=False,
        max_length=120,
        help_text=_("As the pack says, in your own words."),
    )
    batch = OneLine(label=_("Batch number"), required=False, max_length=60)
    supplier = OneLine(label=_("Supplier"), required=False, max_length=200)
    withdrawal_days = forms.IntegerField(
        label=_("Withdrawal period in days"),
        required=False,
        min_value=0,
        max_value=365,
        help_text=_("As the label says. Type it, even if it is 0; empty stays marked as missing."),
        error_messages=dict.fromkeys(("invalid", "min_value", "max_value"), WITHDRAWAL),
        widget=forms.TextInput(attrs={"inputmode": "numeric", "autocomplete": "off"}),
    )
    field_order: ClassVar = ["given_on", "began", "ended"]
    refusals: ClassVar = {
        AlreadyClosed: (None, _("This round was given before, or its treatment was cancelled.")),
        TwiceAtOnce: (None, TWICE),
    }

    def __init__(
        self,
        *args: Any,
        sheet: DaySheet,
        hives: Collection[SheetHive],
        ticked: dict[int, str],
        treated: Collection[int],
        times: tuple[dt.time | None, dt.time | None],
        today: dt.date,
        **kwargs: Any,
    ) -> None:
        treatment = sheet.round.treatment
        start = {
            name: getattr(treatment, name) for name in ("product", "batch", "supplier", "withdrawal_days")
        }
        start |= {"given_on": min(sheet.round.planned_on, today), "began": times[0], "ended": times[1]}
        super().__init__(*args, initial=start, **kwargs)
        self.sheet, self.hives, self.ticked = sheet, list(hives), ticked
        self.fields["given_on"].today = today
        for hive in self.hives:
            got = forms.BooleanField(
                label=say("Colony {name} got it", name=hive.colony.name),
                required=False,
                initial=hive.pk in treated,
            )
            amount = Amount(
                label=say("Dose of colony {name}", name=hive.colony.name),
                required=False,
                initial=plain(hive.amount),
            )
            self.fields[f"got_{hive.pk}"], self.fields[f"amount_{hive.pk}"] = got, amount

    def rows(self) -> list[HiveRow]:
        """The hives in the order walked."""
        return [
            HiveRow(hive, self[f"got_{hive.pk}"], self[f"amount_{hive.pk}"], self.ticked.get(hive.pk, ""))
            for hive in self.hives
        ]

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        taken = [hive for hive in self.hives if cleaned.get(f"got_{hive.pk}")]
        for hive in self.hives:
            name = f"amount_{hive.pk}"
            if hive not in taken:
                self.errors.pop(name, None)
            elif cleaned.get(name) is None and name not in self.errors:
                self.add_error(name, say("Enter what it got, more than 0, such as 2 or 2.5."))
        if not taken:
            self.add_error(
                None, say("Tick at least one hive that was treated; cancel the treatment if none was.")
            )
        began, ended = cleaned.get("began"), cleaned.get("ended")
        if began is not None and ended is not None and ended < began:
            self.add_error("ended", BACKWARDS)
        above = self.above()
        if above and not cleaned.get("why_above") and "why_above" not in self.errors:
            self.add_error("why_above", ask_why(above[0]))
        return cleaned

    def above(self) -> list[str]:
        """In sentences, the doses above the published limit."""
        return [
            say(
                "Colony {name}: {dose} {unit} is more than the published {most} {unit}.",
                name=hive.colony.name,
                dose=plain(typed),
                most=plain(most),
                unit=hive.unit_words,
            )
            for hive, typed, most in self._taken()
            if most is not None and typed > most
        ]

    def _taken(self) -> list[tuple[SheetHive, Decimal, Decimal | None]]:
        way = self.sheet.round.treatment.application
        found = []
        for hive in self.hives:
            typed = self.cleaned_data.get(f"amount_{hive.pk}")
            if self.cleaned_data.get(f"got_{hive.pk}") and typed is not None:
                found.append((hive, typed, most_for(way, hive.colony.brood_boxes)))
        return found

    def new_doses(self) -> tuple[NewDose, ...]:
        """What each ticked hive got, with the keeper's reason where it is above the limit."""
        why = self.cleaned_data.get("why_above") or ""
        return tuple(
            NewDose(hive.colony, typed, why if most is not None and typed > most else "")
            for hive, typed, most in self._taken()
        )

    def told(self) -> RecordFields:
        """What the pack says, as typed; what this form does not ask stays as it is."""
        treatment = self.sheet.round.treatment
        kept = {name: getattr(treatment, name) for name in RECORD_FIELDS}
        typed = {
            name: self.cleaned_data[name] for name in ("product", "batch", "supplier", "withdrawal_days")
        }
        return RecordFields(**(kept | typed))

    def moment(self, name: str, zone: dt.tzinfo) -> dt.datetime | None:
        """A typed time on the day it was given, on the yard's clock."""
        typed = self.cleaned_data.get(name)
        return dt.datetime.combine(self.cleaned_data["given_on"], typed, tzinfo=zone) if typed else None

    def saves(self, write: Any) -> bool:
        try:
            return super().saves(write)
        except NotPossible as error:
            self.add_error("given_on", str(error))
            return False
