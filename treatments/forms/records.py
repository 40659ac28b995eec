"""What is typed for the medicine record: whose and which year, what the pack says, purchases and disposals."""

import datetime as dt
import uuid
from decimal import Decimal
from typing import Any, ClassVar

from django import forms
from django.http import QueryDict
from django.utils.translation import gettext_lazy as _

from apiaries.fields import OneLine, TypedDate
from apiaries.forms.base import PageForm
from apiaries.language import mark, say
from apiaries.models import Person, Yard
from apiaries.templatetags.recount_words import plain
from treatments.actions import AlreadyClosed, NotPossible
from treatments.entry_keys import EntryKeyReused
from treatments.forms.treatment import SAVED_BEFORE, published_words
from treatments.medicine_actions import RECORD_FIELDS, NewDisposal, NewPurchase, RecordFields
from treatments.models import MedicineDisposal, MedicinePurchase, Treatment
from treatments.models.medicines import LONGEST_WITHDRAWAL, MEDICINES
from treatments.ways import INGREDIENT_WORDS

ALL_YEARS = "all"
UNITS = (
    *("g", "kg", "mL", "L"),
    *(mark("strips"), mark("wafers"), mark("trays"), mark("packs"), mark("pieces")),
)
QUANTITY = _("Enter how much, more than 0, such as 35 or 2.5.")
DAYS = _("Enter the days as a whole number from 0 to 365, as the label says, even if it is 0.")
CHANGED = _("Something that was written down changes. Say why; it stays with the record.")
CLOSED = _("This entry was corrected or voided before. Go back and look at it.")


class RecordChoice(PageForm):
    """Whose record, which year, which yard; what is left out is the reader's own, this year, all yards."""

    keeper = forms.ModelChoiceField(Person.objects.none(), label=_("Keeper"), empty_label=None)
    year = forms.ChoiceField(label=_("Year"))
    yard = forms.ModelChoiceField(
        Yard.objects.none(), label=_("Yard"), required=False, empty_label=_("All yards")
    )

    def __init__(self, asked: QueryDict, *, person: Person, today: dt.date) -> None:
        seen = Yard.objects.visible_to(person)
        keepers = Person.objects.filter(pk__in=[person.pk, *seen.values_list("keeper", flat=True)])
        own = seen.filter(keeper=person).exists() or MedicinePurchase.objects.filter(keeper=person).exists()
        people = list(
            keepers.order_by("name", "pk") if own else keepers.exclude(pk=person.pk).order_by("name", "pk")
        )
        data = asked.copy()
        data.setdefault("keeper", str(person.pk if own or not people else people[0].pk))
        data.setdefault("year", str(today.year))
        super().__init__(data)
        self.people = people
        self.fields["keeper"].queryset = keepers
        self.fields["keeper"].choices = [(one.pk, one.name) for one in people or [person]]
        self.chosen = self._keeper(data.get("keeper"))
        self.fields["yard"].queryset = seen.filter(keeper=self.chosen).order_by("name", "pk")
        self.fields["year"].choices = self._years(person, today)

    def _keeper(self, typed: Any) -> Person | None:
        try:
            return self.fields["keeper"].clean(typed)
        except forms.ValidationError:
            return None

    def _years(self, person: Person, today: dt.date) -> list[tuple[str, str]]:
        days = [
            *Treatment.objects.visible_to(person)
            .filter(yard__keeper=self.chosen, rounds__given_on__isnull=False)
            .dates("rounds__given_on", "year"),
            *MedicinePurchase.objects.visible_to(person)
            .filter(keeper=self.chosen)
            .dates("bought_on", "year"),
            *MedicineDisposal.objects.visible_to(person)
            .filter(keeper=self.chosen)
            .dates("disposed_on", "year"),
        ]
        years = sorted({today.year, *(one.year for one in days)}, reverse=True)
        return [*((str(year), str(year)) for year in years), (ALL_YEARS, say("All years"))]

    def year_chosen(self) -> int | None:
        """The year, or None for all."""
        return None if self.cleaned_data["year"] == ALL_YEARS else int(self.cleaned_data["year"])


class Quantity(forms.DecimalField):
    """How much, typed as text, with a point or a comma."""

    def __init__(self, **kwargs: Any) -> None:
        names = ("required", "invalid", "min_value", "max_digits", "max_decimal_places", "max_whole_digits")
        super().__init__(
            min_value=Decimal("0.001"),
            max_digits=10,
            decimal_places=3,
            error_messages=dict.fromkeys(names, QUANTITY),
            widget=forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"}),
            **kwargs,
        )

    def to_python(self, value: Any) -> Any:
        return super().to_python(value.strip().replace(",", ".") if isinstance(value, str) else value)

    def prepare_value(self, value: Any) -> Any:
        return plain(value) if isinstance(value, Decimal) else value


def withdrawal(*, required: bool, hint: Any) -> forms.IntegerField:
    """A withdrawal period in days; 0 must be typed."""
    return forms.IntegerField(
        label=_("Withdrawal period in days"),
        required=required,
        min_value=0,
        max_value=LONGEST_WITHDRAWAL,
        help_text=hint,
        error_messages=dict.fromkeys(("required", "invalid", "min_value", "max_value"), DAYS),
        widget=forms.TextInput(attrs={"inputmode": "numeric", "autocomplete": "off"}),
    )


class RecordForm(PageForm):
    """What the pack and the bill say of a treatment, filled in or corrected afterwards."""

    product = OneLine(
        label=_("Product"),
        required=False,
        max_length=120,
        help_text=_("As the pack says, in your own words."),
    )
    batch = OneLine(label=_("Batch number"), required=False, max_length=60)
    withdrawal_days = withdrawal(required=True, hint="")
    supplier = OneLine(label=_("Supplier"), required=False, max_length=200)
    supplier_address = OneLine(label=_("Supplier's address"), required=False, max_length=300)
    proof = OneLine(
        label=_("Proof of purchase"),
        required=False,
        max_length=200,
        help_text=_("Which invoice or receipt, and where it is."),
    )
    vet = OneLine(
        label=_("Veterinarian"),
        required=False,
        max_length=200,
        help_text=_("Name and address, if one prescribed it."),
    )
    given_by = OneLine(
        label=_("Given by"),
        required=False,
        max_length=120,
        help_text=_(
            "If it was not the one who recorded it; with a licence number where your state asks for one."
        ),
    )
    registration = OneLine(
        label=_("Registration number"),
        required=False,
        max_length=60,
        help_text=_("On the pack; US: the EPA number."),
    )
    why = OneLine(
        label=_("Why does it change?"),
        required=False,
        max_length=200,
        help_text=_(
            "Needed where something that was written down changes. What stood there stays to be seen."
        ),
    )
    refusals: ClassVar = {
        NotPossible: ("why", CHANGED),
        AlreadyClosed: (None, _("This treatment was cancelled before. Its record stays as it is.")),
    }

    def __init__(self, *args: Any, treatment: Treatment, **kwargs: Any) -> None:
        initial = {name: getattr(treatment, name) for name in RECORD_FIELDS}
        super().__init__(*args, initial=initial, **kwargs)
        published = treatment.application.withdrawal_days
        self.fields["withdrawal_days"].help_text = (
            published_words(published)
            if published is not None
            else say("As the label says. Type it, even if it is 0.")
        )

    def told(self) -> RecordFields:
        """The fields as typed."""
        return RecordFields(**{name: self.cleaned_data[name] for name in RECORD_FIELDS})


class KeptForm(PageForm):
    """What a purchase and a disposal share; with `old` it is the form of a correction, which asks why."""

    entry_key = forms.UUIDField(widget=forms.HiddenInput)
    product = OneLine(
        label=_("Product"),
        max_length=120,
        help_text=_("As the pack says, in your own words."),
        error_messages={"required": _("Enter the product, as the pack says.")},
    )
    batch = OneLine(label=_("Batch number"), required=False, max_length=60)
    quantity = Quantity(label=_("Quantity"))
    unit = forms.ChoiceField(label=_("Unit"), choices=[(unit, _(unit)) for unit in UNITS])
    note = OneLine(label=_("Note"), required=False, max_length=500)
    refusals: ClassVar = {EntryKeyReused: (None, SAVED_BEFORE), AlreadyClosed: (None, CLOSED)}
    day_field: ClassVar[str]

    def __init__(
        self,
        *args: Any,
        today: dt.date,
        old: MedicinePurchase | MedicineDisposal | None = None,
        **kwargs: Any,
    ) -> None:
        held = {name: getattr(old, name) for name in self.base_fields if old and hasattr(old, name)}
        super().__init__(*args, initial=held | {"entry_key": uuid.uuid4()}, **kwargs)
        self.fields[self.day_field].today = today
        if old is not None:
            self.fields["why"] = OneLine(
                label=say("Why is it corrected?"),
                max_length=200,
                error_messages={"required": say("Enter the reason. It stays with the record.")},
            )

    def saves(self, write: Any) -> bool:
        try:
            return super().saves(write)
        except NotPossible as error:
            self.add_error(self.day_field, str(error))
            return False

    def _typed(self) -> dict[str, Any]:
        return {name: value for name, value in self.cleaned_data.items() if name != "why"}


class PurchaseForm(KeptForm):
    """A medicine that was bought."""

    bought_on = TypedDate(label=_("Bought on"))
    ingredient = forms.ChoiceField(
        label=_("Active ingredient"),
        required=False,
        choices=[("", _("Not said")), *((one, _(INGREDIENT_WORDS[one])) for one in MEDICINES)],
    )
    supplier = OneLine(label=_("Supplier"), required=False, max_length=200)
    supplier_address = OneLine(label=_("Supplier's address"), required=False, max_length=300)
    proof = OneLine(
        label=_("Proof of purchase"),
        required=False,
        max_length=200,
        help_text=_("Which invoice or receipt, and where it is."),
    )
    withdrawal_days = withdrawal(
        required=False,
        hint=_("As the label says. Type it, even if it is 0; empty means: still to be filled in."),
    )
    expires_on = TypedDate(label=_("Use by"), required=False, future=True)
    field_order: ClassVar = [
        *("bought_on", "product", "ingredient", "batch", "quantity", "unit", "supplier", "supplier_address"),
        *("proof", "withdrawal_days", "expires_on", "note", "why"),
    ]
    day_field = "bought_on"

    def new(self) -> NewPurchase:
        """The purchase as typed."""
        return NewPurchase(**self._typed())


class DisposalForm(KeptForm):
    """A medicine that was disposed of."""

    disposed_on = TypedDate(label=_("Disposed of on"))
    how = OneLine(
        label=_("How"),
        required=False,
        max_length=200,
        help_text=_("Such as: given back, collected as chemical waste."),
    )
    place = OneLine(label=_("Where"), required=False, max_length=200)
    field_order: ClassVar = [
        "disposed_on",
        "product",
        "batch",
        "quantity",
        "unit",
        "how",
        "place",
        "note",
        "why",
    ]
    day_field = "disposed_on"

    def new(self) -> NewDisposal:
        """The disposal as typed."""
        return NewDisposal(**self._typed())
