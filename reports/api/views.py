"""Regions and their months as they were published. Nobody gets more here than the page of published months shows."""

from django.db.models import QuerySet
from django.utils import timezone
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from apiaries.api.conditional import answer_if_changed
from apiaries.api.problems import Fault
from apiaries.api.reading import odd_question
from apiaries.api.scopes import Scope
from apiaries.api.views import ReadViewSet
from apiaries.models import Person, Region
from counts.samples import Kind
from reports.access import published_regions_of
from reports.api.shapes import KINDS, MonthsOut, RegionOut
from reports.api.telling import months_told

FIRST_YEAR, LAST_YEAR = 1900, 2099
KIND = OpenApiParameter("kind", str, enum=KINDS, default=Kind.WASH.value, description="Kind of count.")
YEAR = OpenApiParameter("year", int, description="The present one, if not said.")


class RegionViewSet(ReadViewSet):
    """The regions of your club."""

    reads = Scope.REGIONS_READ
    serializer_class = RegionOut

    def queryset_for(self, person: Person) -> "QuerySet[Region]":
        return published_regions_of(person)

    def known_parameters(self) -> set[str]:
        return super().known_parameters() | ({"kind", "year"} if self.action == "months" else set())

    @extend_schema(parameters=[KIND, YEAR], responses=MonthsOut)
    @action(detail=True)
    def months(self, request: Request, pk: int) -> Response:
        """A year of its months as they were published: the same for everybody in the club."""
        region = self.get_object()
        kind, year = _asked(request)
        told = months_told(region, kind, year, at=timezone.now())
        return answer_if_changed(request, MonthsOut(told).data)


def _asked(request: Request) -> tuple[Kind, int | None]:
    """Kind and year; None for the present year. Errors: Problem."""
    kind, year = request.query_params.get("kind", Kind.WASH.value), request.query_params.get("year")
    faults = []
    if kind not in KINDS:
        faults.append(Fault(name="kind", detail=f"Say one of {', '.join(KINDS)}."))
    if year is not None and not (
        year.isascii() and year.isdigit() and len(year) == 4 and FIRST_YEAR <= int(year) <= LAST_YEAR
    ):
        faults.append(Fault(name="year", detail=f"Say a year from {FIRST_YEAR} to {LAST_YEAR}."))
    if faults:
        raise odd_question(faults)
    return Kind(kind), None if year is None else int(year)
