"""Which counts a list shows."""

import datetime as dt
from typing import Any

import django_filters
from django import forms
from django.db.models import QuerySet
from django.utils.translation import gettext_lazy as _
from django.utils.translation import pgettext_lazy

from apiaries.fields import TypedDate
from apiaries.models import Colony, Person, Yard
from apiaries.yard_choice import RegionFilter, SeenYards, YardChoiceFilter, narrow_by_place
from counts.forms.basics import METHOD_LABELS
from counts.models import MiteSample

STANDING, VOIDED, ALL = "standing", "voided", "all"


class DayFilter(django_filters.Filter):
    """A calendar day typed as text."""

    field_class = TypedDate


class SampleFilter(django_filters.FilterSet):
    """By region, yard, method, days, and whether they still count. What cannot be read is said, and left out."""

    region = RegionFilter()
    yard = YardChoiceFilter(queryset=Yard.objects.none(), empty_label=_("All yards"), label=_("Yard"))
    method = django_filters.ChoiceFilter(
        choices=list(METHOD_LABELS.items()), empty_label=_("All methods"), label=_("Method")
    )
    colony = django_filters.ModelChoiceFilter(queryset=Colony.objects.none(), widget=forms.HiddenInput)
    voided = django_filters.ChoiceFilter(
        label=_("Which"),
        method="by_voided",
        empty_label=None,
        null_label=None,
        choices=[
            (STANDING, _("Not voided")),
            (VOIDED, _("Voided or corrected")),
            (ALL, _("All")),
        ],
    )

    class Meta:
        model = MiteSample
        fields: list[str] = []

    def __init__(
        self, data: Any, *, person: Person, today: dt.date, seen: SeenYards | None = None, **kwargs: Any
    ) -> None:
        seen = seen or SeenYards(person)
        given = data.copy()
        given.setdefault("voided", STANDING)
        super().__init__(given, queryset=MiteSample.objects.visible_to(person), **kwargs)
        narrow_by_place(self.filters, seen)
        self.filters["colony"].field.queryset = Colony.objects.visible_to(person).select_related("yard")
        for name in ("from", "to"):
            self.filters[name].field.today = today

    def by_voided(self, samples: "QuerySet[MiteSample]", name: str, value: str) -> "QuerySet[MiteSample]":
        """Those that count, those that no longer do, or both."""
        return samples.filter(voided_at__isnull=value == STANDING) if value in (STANDING, VOIDED) else samples


# "from" is a word of the language, so these two cannot be written as attributes.
SampleFilter.base_filters["from"] = DayFilter(
    field_name="sampled_on",
    lookup_expr="gte",
    label=pgettext_lazy("from a day on", "From"),
    required=False,
    future=True,
)
SampleFilter.base_filters["to"] = DayFilter(
    field_name="sampled_on",
    lookup_expr="lte",
    label=pgettext_lazy("up to a day", "To"),
    required=False,
    future=True,
)
