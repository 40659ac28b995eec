"""What of Region by month is to be shown."""

import datetime as dt
from collections.abc import Mapping
from typing import Any

from django import forms

from apiaries.models import Club
from counts.samples import Kind
from reports.presenters import KIND_WORDS, Choice, years_of

ALL = "all"


class RegionMonthForm(forms.Form):
    """Kind of count, year and region; what is left out takes the usual."""

    kind = forms.ChoiceField(
        label="Kind of count", choices=[(kind.value, words) for kind, words in KIND_WORDS.items()]
    )
    year = forms.TypedChoiceField(label="Year", coerce=int)
    region = forms.ChoiceField(label="Region")

    def __init__(self, data: Mapping[str, str], *, club: Club, today: dt.date) -> None:
        usual = {"kind": Kind.WASH.value, "year": str(today.year), "region": ALL}
        super().__init__({name: data.get(name) or value for name, value in usual.items()})
        self.usual_year = today.year
        self.regions = {str(region.pk): region for region in club.regions.all()}
        years: Any = self.fields["year"]
        years.choices = [(str(year), str(year)) for year in years_of(club, today)]
        regions: Any = self.fields["region"]
        regions.choices = [(ALL, "All regions"), *((pk, one.name) for pk, one in self.regions.items())]

    def choice(self) -> Choice:
        """What to show: what was asked for, where that makes sense, else the usual."""
        self.is_valid()
        clean = self.cleaned_data
        return Choice(
            kind=Kind(clean.get("kind") or Kind.WASH.value),
            year=clean.get("year") or self.usual_year,
            region=self.regions.get(clean.get("region", ALL)),
        )
