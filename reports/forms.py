"""What of Region by month is to be shown."""

import datetime as dt
from collections.abc import Mapping

from django import forms

from apiaries.models import Club, Region
from counts.samples import Kind
from reports.presenters import KIND_WORDS, Choice, years_of


class RegionMonthForm(forms.Form):
    """Kind of count, year and region; what is left out takes the usual."""

    kind = forms.ChoiceField(
        label="Kind of count",
        required=False,
        choices=[(kind.value, words) for kind, words in KIND_WORDS.items()],
    )
    year = forms.TypedChoiceField(label="Year", required=False, coerce=int, empty_value=None)
    region = forms.ModelChoiceField(
        label="Region", required=False, queryset=Region.objects.none(), empty_label="All regions side by side"
    )

    def __init__(self, data: Mapping[str, str], *, club: Club, today: dt.date) -> None:
        usual = {"kind": Kind.WASH.value, "year": str(today.year), "region": ""}
        given = {name: data.get(name) or value for name, value in usual.items()}
        super().__init__(given)
        self.usual_year = today.year
        self.fields["year"].choices = [(str(year), str(year)) for year in years_of(club, today)]
        self.fields["region"].queryset = club.regions.all()

    def choice(self) -> Choice:
        """What to show: what was asked for, where that makes sense, else the usual."""
        self.is_valid()
        clean = self.cleaned_data
        return Choice(
            kind=Kind(clean.get("kind") or Kind.WASH.value),
            year=clean.get("year") or self.usual_year,
            region=clean.get("region"),
        )
