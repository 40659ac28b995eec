"""What is typed on the pages of visits: which yards to show, which to visit on a day, which year."""

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from django import forms
from django.http import QueryDict
from django.utils.translation import gettext_lazy as _

from apiaries.fields import OneLine, TypedDate
from apiaries.forms.base import PageForm
from apiaries.language import say
from apiaries.models import Region, Yard
from reports.visit_plan import DUE, ORDERS, VisitRow

MOST_AT_ONCE = 30
"""Yards planned for one day at once (our choice)."""
FARTHEST_AHEAD = dt.timedelta(days=366)
YEARS_BACK = 15


class ChooseYardsForm(forms.Form):
    """Which yards to show, and in which order; what cannot be read is said, and shows all of them."""

    region = forms.ChoiceField(
        label=_("Region"),
        required=False,
        error_messages={"invalid_choice": _("Choose a region of the list.")},
    )
    name = OneLine(label=_("Yard or keeper"), required=False, max_length=80)
    order = forms.ChoiceField(
        label=_("Order"), required=False, error_messages={"invalid_choice": _("Choose an order of the list.")}
    )

    def __init__(self, asked: QueryDict, *, regions: Sequence[Region]) -> None:
        super().__init__({name: asked.get(name, "") for name in self.base_fields})
        self.fields["region"].choices = [
            ("", say("All regions")),
            *((str(one.pk), one.name) for one in regions),
        ]
        self.fields["order"].choices = [(key, say(words)) for key, words in ORDERS.items()]

    @property
    def chosen_order(self) -> str:
        self.is_valid()
        return self.cleaned_data.get("order") or DUE

    def chosen(self, rows: Iterable[VisitRow]) -> list[VisitRow]:
        """Those that were asked for."""
        self.is_valid()
        region, words = self.cleaned_data.get("region", ""), self.cleaned_data.get("name", "").casefold()
        return [
            row
            for row in rows
            if region in ("", str(row.yard.region_id))
            and words in f"{row.yard.name} {row.yard.keeper.name}".casefold()
        ]


class PlanForm(PageForm):
    """A day, and the yards to visit on it."""

    yards = forms.TypedMultipleChoiceField(
        label=_("Yards"),
        coerce=int,
        error_messages={
            "required": _("Tick at least one yard."),
            "invalid_choice": _("One of the yards is not in your regions any more. Nothing was planned."),
        },
    )
    on = TypedDate(label=_("Day of the visits"), future=True)
    why = OneLine(
        label=_("Why"),
        required=False,
        max_length=200,
        help_text=_("For example: yearly round, follow-up, at the keeper's wish. The keeper sees it."),
    )
    announced = forms.BooleanField(
        label=_("Tell the keepers"),
        required=False,
        help_text=_("They then see the planned visit on the yard's page."),
    )

    def __init__(self, typed: Mapping[str, Any] | None, *, yards: Mapping[int, Yard], today: dt.date) -> None:
        super().__init__(typed, initial={"announced": True})
        self.known = yards
        self.fields["yards"].choices = [(key, yard.name) for key, yard in yards.items()]
        day = self.fields["on"]
        day.today, day.earliest, day.latest = today, today, today + FARTHEST_AHEAD
        day.earliest_words = say("This day is past. Enter today or a day to come.")
        day.latest_words = say("This is more than a year ahead. Look at the year again.")

    @property
    def ticked(self) -> set[int]:
        """Yards that were ticked, whatever else is wrong."""
        found = self.data.getlist("yards") if hasattr(self.data, "getlist") else []
        return {int(key) for key in found if key.isascii() and key.isdigit() and len(key) < 18}

    def clean_yards(self) -> list[Yard]:
        keys = self.cleaned_data["yards"]
        if len(keys) > MOST_AT_ONCE:
            raise forms.ValidationError(say("Tick at most {most} yards at once.", most=MOST_AT_ONCE))
        return [self.known[key] for key in keys]


class YearForm(forms.Form):
    """Which year; what cannot be read is said, and shows the current one."""

    year = forms.ChoiceField(
        label=_("Year"), required=False, error_messages={"invalid_choice": _("Choose a year of the list.")}
    )

    def __init__(self, asked: Mapping[str, str], *, today: dt.date) -> None:
        super().__init__({"year": asked.get("year", "")}, initial={"year": str(today.year)})
        self.today = today
        years = range(today.year, today.year - YEARS_BACK, -1)
        self.fields["year"].choices = [(str(year), str(year)) for year in years]

    @property
    def chosen_year(self) -> int:
        """The year that was asked for, else the current one."""
        self.is_valid()
        return int(self.cleaned_data.get("year") or self.today.year)
