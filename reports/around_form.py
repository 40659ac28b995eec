"""Around which place, and how far."""

from collections.abc import Mapping

from django import forms
from django.core.exceptions import ValidationError
from django.db.models import Q, QuerySet
from django.utils.translation import gettext_lazy as _

from apiaries.distance import Place
from apiaries.fields import OneLine, TypedKm
from apiaries.language import mark, say
from apiaries.models import Yard
from apiaries.typed import NotRead, read_place
from reports.yards_around import KNOWN, ORDERS, centre_of

USUAL_KM = "3"
QUICK_KM = ("1", "3", "5", "10")
MOST_KM = 50
"""An inspector's day, not a country (our choice)."""
MOST_NAMED = 20
SOME_FIT = mark("{number} yards fit this name. Choose one below, or add the keeper’s name.")
MORE_FIT = mark("More than {number} yards fit this name. Choose one below, or add the keeper’s name.")


class DistanceForm(forms.Form):
    """How far, and in what order; what is left out takes the usual."""

    km = TypedKm(
        most=MOST_KM,
        label=_("Distance in km"),
        error_messages={"required": _("Enter a distance in kilometres, for example 3.")},
    )
    order = forms.ChoiceField(
        choices=[(key, _(words)) for key, words in ORDERS.items()],
        error_messages={"invalid_choice": _("Choose an order of the list.")},
    )

    def __init__(self, asked: Mapping[str, str]) -> None:
        usual = {"km": USUAL_KM, "order": KNOWN}
        super().__init__({name: asked.get(name, usual.get(name, "")) for name in self.base_fields})
        self.fields["km"].help_text = say("For example 3 or 2.5, at most {most}.", most=MOST_KM)


class AroundForm(DistanceForm):
    """A place, typed as coordinates or by the name of a yard.

    Cleans to `centre`. `around` is the yard it is the place of, `named` those among which a name does not decide.
    """

    place = OneLine(
        max_length=120,
        label=_("Place"),
        help_text=_(
            "Latitude and longitude such as 52.52000, 13.40500, or a yard of your regions by its name, its keeper’s, "
            "or both."
        ),
        error_messages={"required": _("Enter a place: latitude and longitude, or the name of a yard.")},
        widget=forms.TextInput(attrs={"autocomplete": "off", "spellcheck": "false"}),
    )

    field_order = ("place", "km", "order")

    def __init__(self, asked: Mapping[str, str], *, yards: "QuerySet[Yard]") -> None:
        super().__init__(asked)
        self.is_bound = any(name in asked for name in self.fields)
        self.initial = {"km": USUAL_KM, "order": KNOWN}
        self.yards = yards
        self.around: Yard | None = None
        self.centre: Place | None = None
        self.named: list[Yard] = []

    def clean_place(self) -> str:
        text: str = self.cleaned_data["place"]
        try:
            latitude, longitude = read_place(text)
        except NotRead as error:
            self.around = self._yard_called(text, error)
            self.centre = centre_of(self.around)
            if self.centre is None:
                raise ValidationError(
                    say(
                        "{yard} has no place: its keeper gave none. Enter latitude and longitude.",
                        yard=self.around.name,
                    )
                ) from None
        else:
            self.centre = float(latitude), float(longitude)
        return text

    def _yard_called(self, text: str, error: NotRead) -> Yard:
        yards = self.yards.select_related("keeper", "region").order_by("name", "keeper__name", "pk")
        found: list[Yard] = list(yards.filter(name__iexact=text)[: MOST_NAMED + 1])
        letters = sum(letter.isalpha() for letter in text)
        if not found and letters:
            for word in text.split():
                yards = yards.filter(Q(name__icontains=word) | Q(keeper__name__icontains=word))
            found = list(yards[: MOST_NAMED + 1])
        if len(found) == 1:
            return found[0]
        if found:
            self.named = found[:MOST_NAMED]
            many = len(found) > MOST_NAMED
            raise ValidationError(say(MORE_FIT if many else SOME_FIT, number=len(self.named)))
        if letters > 2:
            raise ValidationError(
                say(
                    "No yard in your regions fits “{text}”. Check the name, or enter latitude and longitude such as "
                    "52.52000, 13.40500.",
                    text=text,
                )
            )
        raise ValidationError(str(error))
