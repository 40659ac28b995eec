"""What of Region by month is to be shown."""

import datetime as dt
from collections.abc import Iterable, Mapping
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _
from django.utils.translation import pgettext_lazy

from apiaries.language import month_short, say
from apiaries.models import Club, Region
from apiaries.templatetags.recount_words import plain
from counts.action_levels import Level
from counts.samples import Kind
from reports.kinds import KIND_WORDS
from reports.parts import Part
from reports.presenters import years_of
from reports.region_cells import LEVEL_UNITS, PART_WORDS
from reports.region_choice import BY_NAME, HIGHEST_FIRST, Choice
from reports.region_rows import levels_on_offer
from reports.treated_facts import seasons_of
from treatments.ways import INGREDIENT_WORDS

ALL = "all"


class RegionMonthForm(forms.Form):
    """Kind of count, year, region and what else the page may be asked for; what is left out takes the usual."""

    kind = forms.ChoiceField(
        label=_("Kind of count"), choices=[(kind.value, _(words)) for kind, words in KIND_WORDS.items()]
    )
    year = forms.TypedChoiceField(label=_("Year"), coerce=int)
    compare = forms.TypedChoiceField(label=_("Compare with"), coerce=int, empty_value=None, required=False)
    region = forms.ChoiceField(label=_("Region"))
    part = forms.ChoiceField(
        label=_("Yards"), choices=[(part.value, _(words)) for part, words in PART_WORDS.items()]
    )
    level = forms.ChoiceField(label=_("Action level"), required=False)
    order = forms.ChoiceField(
        label=_("Order"), choices=[(BY_NAME, _("By name")), (HIGHEST_FIRST, _("Highest last month first"))]
    )

    def __init__(
        self, data: Mapping[str, str], *, club: Club, regions: Iterable[Region], today: dt.date
    ) -> None:
        usual = {
            "kind": Kind.WASH.value,
            "year": str(today.year),
            "region": ALL,
            "part": Part.ALL.value,
            "order": BY_NAME,
        }
        asked = {name: data.get(name) or usual.get(name, "") for name in self.base_fields}
        self.offer = levels_on_offer(club)
        kind = Kind(asked["kind"]) if asked["kind"] in KIND_WORDS else Kind.WASH
        self.levels = {level.key: level for level in self.offer.of_kind(kind)}
        # Another kind of count has other levels: one that was chosen before goes back to the usual.
        if asked["level"] not in self.levels and asked["level"] in {one.key for one in self.offer.published}:
            asked["level"] = ""
        # A year that was compared with and is now shown itself is no mistake.
        if asked["compare"] == asked["year"]:
            asked["compare"] = ""
        super().__init__(asked)
        self.usual_year = today.year
        self.regions = {str(region.pk): region for region in regions}
        years: Any = self.fields["year"]
        years.choices = [(str(year), str(year)) for year in years_of(club, today)]
        others: Any = self.fields["compare"]
        shown = self.data["year"]
        others.choices = [("", say("No other year")), *(one for one in years.choices if one[0] != shown)]
        places: Any = self.fields["region"]
        places.choices = [(ALL, say("All regions")), *((pk, one.name) for pk, one in self.regions.items())]
        levels: Any = self.fields["level"]
        levels.choices = [
            ("", say("The club's issuer")),
            *((key, _level_words(level)) for key, level in self.levels.items()),
        ]

    def choice(self) -> Choice:
        """What to show: what was asked for, where that makes sense, else the usual."""
        self.is_valid()
        clean = self.cleaned_data
        year = clean.get("year") or self.usual_year
        compare = clean.get("compare")
        return Choice(
            kind=Kind(clean.get("kind") or Kind.WASH.value),
            year=year,
            region=self.regions.get(clean.get("region", ALL)),
            part=Part(clean.get("part") or Part.ALL.value),
            level=self.levels.get(clean.get("level", "")),
            compare=None if compare == year else compare,
            order=clean.get("order") or BY_NAME,
        )


def _level_words(level: Level) -> str:
    when = ""
    if level.months:
        first, last = (month_short(number) for number in level.months)
        span = first if first == last else say("{first} to {last}", first=first, last=last)
        when = f", {span}"
    unit = say(LEVEL_UNITS[level.unit])
    return f"{plain(level.act_at)} {unit}: {level.issuer}{when}"


class TreatmentResultsForm(forms.Form):
    """Season, region and ingredient; what is left out takes the usual."""

    season = forms.TypedChoiceField(label=_("Season"), coerce=int)
    region = forms.ChoiceField(label=_("Region"))
    ingredient = forms.ChoiceField(
        label=_("Ingredient"),
        choices=[
            (ALL, pgettext_lazy("ingredients", "All")),
            *((key, _(words)) for key, words in INGREDIENT_WORDS.items()),
        ],
    )

    def __init__(self, data: Mapping[str, str], *, club: Club, today: dt.date) -> None:
        usual = {"season": str(today.year), "region": ALL, "ingredient": ALL}
        super().__init__({name: data.get(name) or value for name, value in usual.items()})
        self.seasons = seasons_of(club, today)
        self.by_key = {str(region.pk): region for region in club.regions.all()}
        seasons: Any = self.fields["season"]
        seasons.choices = [(str(year), str(year)) for year in self.seasons]
        regions: Any = self.fields["region"]
        regions.choices = [(ALL, say("All regions")), *((pk, one.name) for pk, one in self.by_key.items())]

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
