"""Which published months are to be shown."""

from collections.abc import Mapping, Sequence
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from counts.samples import Kind
from reports.kinds import KIND_WORDS


class PublishedForm(forms.Form):
    """Kind of count and year, and nothing finer; what is left out takes the usual."""

    kind = forms.ChoiceField(
        label=_("Kind of count"), choices=[(kind.value, _(words)) for kind, words in KIND_WORDS.items()]
    )
    year = forms.TypedChoiceField(label=_("Year"), coerce=int)

    def __init__(self, data: Mapping[str, str], *, years: Sequence[int]) -> None:
        usual = {"kind": Kind.WASH.value, "year": str(years[0])}
        super().__init__({name: data.get(name) or value for name, value in usual.items()})
        field: Any = self.fields["year"]
        field.choices = [(str(year), str(year)) for year in years]
        self.usual_year = years[0]
        self.is_valid()

    @property
    def chosen(self) -> tuple[Kind, int]:
        """What was asked for, where that makes sense, else the usual."""
        clean = self.cleaned_data
        return Kind(clean.get("kind") or Kind.WASH.value), clean.get("year") or self.usual_year
