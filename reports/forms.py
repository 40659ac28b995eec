"""What of Region by month is to be shown."""

import datetime as dt
from collections.abc import Mapping
from typing import Any

from django import forms

from apiaries.models import Club, Region
from counts.samples import Kind
from reports.presenters import KIND_WORDS, Choice, years_of
from reports.treated_facts import seasons_of
from treatments.ways import INGREDIENT_WORDS

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


class TreatmentResultsForm(forms.Form):
    """Season, region and ingredient; what is left out takes the usual."""

    season = forms.TypedChoiceField(label="Season", coerce=int)
    region = forms.ChoiceField(label="Region")
    ingredient = forms.ChoiceField(label="Ingredient", choices=[(ALL, "All"), *INGREDIENT_WORDS.items()])

    def __init__(self, data: Mapping[str, str], *, club: Club, today: dt.date) -> None:
        usual = {"season": str(today.year), "region": ALL, "ingredient": ALL}
        super().__init__({name: data.get(name) or value for name, value in usual.items()})
        self.seasons = seasons_of(club, today)
        self.by_key = {str(region.pk): region for region in club.regions.all()}
        seasons: Any = self.fields["season"]
        seasons.choices = [(str(year), str(year)) for year in self.seasons]
        regions: Any = self.fields["region"]
        regions.choices = [(ALL, "All regions"), *((pk, one.name) for pk, one in self.by_key.items())]

    @property
    def season_asked(self) -> int:
        """The season to show: the present one where none that makes sense was asked for."""
        return self.cleaned_data.get("season") or self.seasons[0]

    @property
    def region_asked(self) -> Region | None:
        return self.by_key.get(self.cleaned_data.get("region", ALL))

    @property
    def ingredient_asked(self) -> str:
        """Empty for all of them."""
        asked = self.cleaned_data.get("ingredient", ALL)
        return "" if asked == ALL else asked
