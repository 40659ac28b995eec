"""Treatments with their recounts and outcomes, to read."""

from collections.abc import Sequence
from typing import Any, ClassVar

from django.db.models import QuerySet
from django_filters import rest_framework as filters

from apiaries.api.filters import KeyFilter
from apiaries.api.scopes import Scope
from apiaries.api.views import ReadViewSet
from apiaries.models import Person
from treatments.api.shapes import TreatmentOut
from treatments.api.telling import tellable, treatments_told
from treatments.models import Dose, Treatment


class TreatmentFilters(filters.FilterSet):
    """By yard, and by a colony that got a dose."""

    yard = KeyFilter(field_name="yard", help_text="Only those in the yard with this key.")
    colony = KeyFilter(
        method="by_colony", help_text="Only those in which the colony with this key got a dose."
    )

    class Meta:
        model = Treatment
        fields: ClassVar[list[str]] = []

    def by_colony(self, treatments: "QuerySet[Treatment]", name: str, value: int) -> "QuerySet[Treatment]":
        """With a dose for the colony, voided ones too, as the colony's page has them."""
        return treatments.filter(pk__in=Dose.objects.filter(colony=value).values("round__treatment"))


class TreatmentViewSet(ReadViewSet):
    """Treatments in the yards you may see, planned and cancelled ones too; each with its recount and its outcome."""

    reads = Scope.TREATMENTS_READ
    serializer_class = TreatmentOut
    filterset_class = TreatmentFilters

    def queryset_for(self, person: Person) -> "QuerySet[Treatment]":
        return tellable(Treatment.objects.visible_to(person))

    def as_listed(self, things: Sequence[Any]) -> Any:
        return TreatmentOut(treatments_told(things, self.person), many=True).data
