"""Which colonies were treated, and what each got: by the number of its brood boxes, in the unit of the label."""

import datetime as dt
from collections.abc import Iterable
from decimal import Decimal
from typing import Any, ClassVar

from django import forms
from django.utils.translation import gettext_lazy as _

from apiaries.fields import OneLine, TypedDate
from apiaries.forms.base import PageForm
from apiaries.language import say, say_many
from apiaries.models import Colony, Yard
from apiaries.templatetags.recount_words import plain
from treatments.actions import AlreadyClosed, NewDose, NotPossible, TwiceAtOnce
from treatments.dose import ColonySize, dose_per_colony, rule_from_unit, unit_of, unit_words
from treatments.ingredients import Ingredient, is_biotechnical
from treatments.models import Application, Round

TWICE = _(
    "One of these colonies already has this ingredient in it on one of these days. Look at the dates and the ticks."
)


def usual_for(way: Application, boxes: int) -> Decimal | None:
    """The published dose of a colony with so many brood boxes; None where the label or its size says."""
    most = way.row.get("dose_max_per_hive") or None
    rule = rule_from_unit(way.dose_amount, way.dose_unit, Decimal(most) if most else None)
    return dose_per_colony(rule, ColonySize(brood_boxes=boxes)).amount if rule else None


def most_for(way: Application, boxes: int) -> Decimal | None:
    """The published limit for a colony with so many brood boxes; None where there is none."""
    most = way.row.get("dose_max_per_hive")
    return Decimal(most) if most else usual_for(way, boxes)


class Amount(forms.DecimalField):
    """An amount typed as text, with a point or a comma."""

    published = ""
    """What a button fills in; empty where it stands in the box already, or nothing is published."""

    def __init__(self, **kwargs: Any) -> None:
        wrong = _("Enter what each of these colonies got, more than 0, such as 2 or 2.5.")
        names = ("required", "invalid", "min_value", "max_digits", "max_decimal_places", "max_whole_digits")
        super().__init__(
            min_value=Decimal("0.001"),
            max_digits=8,
            decimal_places=3,
            error_messages=dict.fromkeys(names, wrong),
            widget=forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"}),
            **kwargs,
        )

    def to_python(self, value: Any) -> Any:
        return super().to_python(value.strip().replace(",", ".") if isinstance(value, str) else value)

    def prepare_value(self, value: Any) -> Any:
        return plain(value) if isinstance(value, Decimal) else value


def ask_why(above: str) -> str:
    """What to do about an amount above the published limit, which `above` says in a sentence."""
    return say("{above} If your label allows it, write here why; else change the dose.", above=above)


class ColonyBoxes(forms.ModelMultipleChoiceField):
    """Ticks for colonies."""

    def label_from_instance(self, obj: Any) -> str:
        return say("Colony {name}", name=obj.name)


class DoseForm(PageForm):
    """Ticks for the colonies, and one amount for all those with as many brood boxes."""

    colonies = ColonyBoxes(
        queryset=Colony.objects.none(),
        label=_("Colonies treated"),
        widget=forms.CheckboxSelectMultiple,
        error_messages={"required": _("Tick the colonies that were treated.")},
    )

    fills_doses: ClassVar[bool] = True
    """Whether the published dose stands in the box: of a plan it may, of what was given it would be taken for noted."""

    def __init__(self, *args: Any, yard: Yard, application: Application, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.yard, self.application = yard, application
        self.living = list(yard.colonies.living().in_reading_order())
        self.unit = unit_words(unit_of(application.dose_unit, application.way))
        self.fields["colonies"].queryset = yard.colonies.living().in_reading_order()
        self.measured = not is_biotechnical(Ingredient(application.ingredient))
        if self.measured:
            for boxes in sorted({colony.brood_boxes for colony in self.living}):
                self.fields[f"dose_{boxes}"] = self._amount(boxes)

    def _amount(self, boxes: int) -> Amount:
        same = [colony.name for colony in self.living if colony.brood_boxes == boxes]
        usual = plain(self.usual(boxes))
        hint = say_many("Colony {names}.", "Colonies {names}.", len(same), names=", ".join(same))
        if usual and not self.fills_doses:
            published = say(
                "{dose} {unit} is published; the label in your hand decides. Enter what was given.",
                dose=usual,
                unit=self.unit,
            )
            hint = f"{hint} {published}"
        amount = Amount(
            label=say_many(
                "Dose of a colony with {n} brood box, in\N{NO-BREAK SPACE}{unit}",
                "Dose of a colony with {n} brood boxes, in\N{NO-BREAK SPACE}{unit}",
                boxes,
                unit=self.unit,
            ),
            help_text=hint,
            initial=usual if self.fills_doses else "",
        )
        amount.published = "" if self.fills_doses else usual
        return amount

    def usual(self, boxes: int) -> Decimal | None:
        """The published dose of a colony with so many brood boxes; None where the label or its size says."""
        return usual_for(self.application, boxes)

    def most(self, boxes: int) -> Decimal | None:
        """The published limit for such a colony; None where there is none."""
        return most_for(self.application, boxes)

    def dose_fields(self) -> list[forms.BoundField]:
        """The boxes for amounts."""
        return [self[name] for name in self.fields if name.startswith("dose_")]

    def clean_doses(self) -> None:
        """No amount is asked for a size of which no colony is ticked."""
        ticked = {f"dose_{colony.brood_boxes}" for colony in self.cleaned_data.get("colonies") or ()}
        for field in self.dose_fields():
            if ticked and field.name not in ticked:
                self.errors.pop(field.name, None)

    def above_limit(self) -> list[str]:
        """In sentences, the amounts above the published limit."""
        found = []
        for boxes in sorted({colony.brood_boxes for colony in self.cleaned_data.get("colonies") or ()}):
            typed, most = self.cleaned_data.get(f"dose_{boxes}"), self.most(boxes)
            if typed is not None and most is not None and typed > most:
                told = {"dose": plain(typed), "most": plain(most), "unit": self.unit}
                found.append(say("{dose} {unit} is more than the published {most} {unit}.", **told))
        return found

    def new_doses(self) -> tuple[NewDose, ...]:
        """What each ticked colony got; for work on the brood, that it was done."""
        return tuple(self._new_dose(colony) for colony in self.cleaned_data["colonies"])

    def _new_dose(self, colony: Colony) -> NewDose:
        if not self.measured:
            return NewDose(colony, self.application.dose_amount or Decimal(1))
        amount, most = self.cleaned_data[f"dose_{colony.brood_boxes}"], self.most(colony.brood_boxes)
        above = most is not None and amount > most
        return NewDose(colony, amount, self.reason_above() if above else "")

    def reason_above(self) -> str:
        """The keeper's reason for more than the published limit, as typed."""
        return str(self.cleaned_data.get("why_above") or "")


class GiveRoundForm(DoseForm):
    """A planned round was given."""

    given_on = TypedDate(label=_("Given on"))
    out_on = TypedDate(
        label=_("Taken out on"), required=False, help_text=_("Leave it empty while it is still in the hives.")
    )
    why_above = OneLine(
        label=_("Why more than the published limit"),
        required=False,
        max_length=200,
        help_text=_("Only where a dose is above it; your label decides."),
    )
    field_order: ClassVar = ["given_on", "out_on", "colonies"]

    refusals: ClassVar = {
        AlreadyClosed: (None, _("This round was given before, or its treatment was cancelled.")),
        TwiceAtOnce: ("colonies", TWICE),
    }

    def __init__(
        self, *args: Any, round_: Round, treated: Iterable[int], today: dt.date, **kwargs: Any
    ) -> None:
        initial = {"given_on": today, "colonies": list(treated)}
        application = round_.treatment.application
        super().__init__(
            *args, yard=round_.treatment.yard, application=application, initial=initial, **kwargs
        )
        if not initial["colonies"]:
            self.initial["colonies"] = [colony.pk for colony in self.living]
        for name in ("given_on", "out_on"):
            self.fields[name].today = today
        if not application.stays:
            del self.fields["out_on"]

    def saves(self, write: Any) -> bool:
        try:
            return super().saves(write)
        except NotPossible as error:
            self.add_error("given_on", str(error))
            return False

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        self.clean_doses()
        above = self.above_limit()
        if above and not cleaned.get("why_above") and "why_above" not in self.errors:
            self.add_error("why_above", ask_why(above[0]))
        return cleaned
