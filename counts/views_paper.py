"""Counting on paper: yard sheets."""

from collections.abc import Sequence

from django.http import Http404, HttpRequest, HttpResponse
from django.urls import reverse
from django.views.decorators.http import require_safe

from apiaries.access import recordable_yard_for
from apiaries.models import Yard
from apiaries.paper import Paper
from apiaries.views.asking import person_of, today_in
from counts.planning import plan_of
from counts.sheet_order import SheetNumber
from counts.yard_sheet import Planned, yard_sheets_pdf

MOST_YARDS = 60
"""So many sheets at once (our choice)."""


@require_safe
def yard_sheet_pdf(request: HttpRequest, pk: int) -> HttpResponse:
    """The yard's list of the day with room to write."""
    yard = recordable_yard_for(person_of(request), pk)
    return _file(request, [yard], f"yard-sheet-{yard.pk}")


@require_safe
def yard_sheets_pdf_all(request: HttpRequest) -> HttpResponse:
    """A sheet for every open yard in which the person may count."""
    yards = Yard.objects.recordable_by(person_of(request)).filter(closed_on=None, colonies__ended_on=None)
    found = yards.filter(colonies__isnull=False).distinct().select_related("club").order_by("name", "pk")
    return _file(request, list(found[:MOST_YARDS]), "yard-sheets")


def _file(request: HttpRequest, yards: Sequence[Yard], name: str) -> HttpResponse:
    paper = next((one for one in Paper if one.value == request.GET.get("paper", Paper.A4)), None)
    planned = [one for yard in yards if (one := _planned(request, yard)) is not None]
    if paper is None or not planned:
        raise Http404
    answer = HttpResponse(yard_sheets_pdf(planned, paper=paper), content_type="application/pdf")
    answer["Content-Disposition"] = f'attachment; filename="{name}-{paper}.pdf"'
    return answer


def _planned(request: HttpRequest, yard: Yard) -> Planned | None:
    """The yard's list as the page *Which colonies to sample* draws it; None where no colony lives."""
    plan = plan_of(yard, on=today_in(yard), asked=request.GET)
    if not plan["chosen"]:
        return None
    number = SheetNumber(plan["on"], plan["draw"], plan["k"])
    address = request.build_absolute_uri(f"{reverse('counts:yard-count', args=[yard.pk])}?sheet={number}")
    return Planned(yard, plan, number, address)
