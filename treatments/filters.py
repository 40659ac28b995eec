"""Which treatments a list shows."""

from typing import Any

import django_filters
from django.utils.translation import gettext_lazy as _

from apiaries.models import Person, Yard
from treatments.models import Treatment


class TreatmentFilter(django_filters.FilterSet):
    """By yard."""

    yard = django_filters.ModelChoiceFilter(
        queryset=Yard.objects.none(), empty_label=_("All yards"), label=_("Yard")
    )

    class Meta:
        model = Treatment
        fields: list[str] = []

    def __init__(self, data: Any, *, person: Person, **kwargs: Any) -> None:
        super().__init__(data, queryset=Treatment.objects.visible_to(person), **kwargs)
        self.filters["yard"].field.queryset = Yard.objects.visible_to(person).order_by("name", "pk")
