"""Which counts a list is asked for."""

from typing import Any, ClassVar

from django.db.models import QuerySet
from django_filters import rest_framework as filters

from apiaries.api.filters import DayFilter, KeyFilter
from counts.filters import ALL, STANDING
from counts.models import METHOD_WORDS, MiteSample


class CountFilters(filters.FilterSet):
    """By yard, colony, method and days; without those that were voided or corrected, unless they are asked for."""

    yard = KeyFilter(field_name="yard", help_text="Only those made in the yard with this key.")
    colony = KeyFilter(field_name="colony", help_text="Only of the colony with this key.")
    method = filters.ChoiceFilter(
        choices=[(method.value, method.value) for method in METHOD_WORDS], help_text="Only of this method."
    )
    standing = filters.ChoiceFilter(
        choices=[(one, one) for one in (STANDING, ALL)],
        method="by_standing",
        help_text="all: also those that were voided or corrected. standing, if not said: without them.",
    )

    class Meta:
        model = MiteSample
        fields: ClassVar[list[str]] = []

    def __init__(self, data: Any = None, *args: Any, **kwargs: Any) -> None:
        given = data.copy() if data is not None else {}
        given.setdefault("standing", STANDING)
        super().__init__(given, *args, **kwargs)

    def by_standing(self, samples: "QuerySet[MiteSample]", name: str, value: str) -> "QuerySet[MiteSample]":
        """Only those that count, or all."""
        return samples.filter(voided_at=None) if value == STANDING else samples


# "from" is a word of the language, so these two cannot be written as attributes.
CountFilters.base_filters["from"] = DayFilter(
    field_name="sampled_on", lookup_expr="gte", help_text="Only those made on this day or later."
)
CountFilters.base_filters["to"] = DayFilter(
    field_name="sampled_on", lookup_expr="lte", help_text="Only those made on this day or earlier."
)
