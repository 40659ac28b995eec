"""Counting on paper: yard sheets and method cards."""

from collections.abc import Sequence

from django.contrib.auth.decorators import login_not_required
from django.http import Http404, HttpRequest, HttpResponse
from django.urls import reverse
from django.views.decorators.http import require_safe

from apiaries.access import recordable_yard_for
from apiaries.models import Yard
from apiaries.views.asking import person_of, today_in
from apiaries.views.files import paper_asked, pdf_answer
from counts.method_cards import method_cards_pdf as cards_pdf
from counts.planning import plan_of
from counts.samples import Method
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
    paper = paper_asked(request)
    planned = [one for yard in yards if (one := _planned(request, yard)) is not None]
    if not planned:
        raise Http404
    return pdf_answer(yard_sheets_pdf(planned, paper=paper), f"{name}-{paper}")


def _planned(request: HttpRequest, yard: Yard) -> Planned | None:
    """The yard's list as the page *Which colonies to sample* draws it; None where no colony lives."""
    plan = plan_of(yard, on=today_in(yard), asked=request.GET)
    if not plan["chosen"]:
        return None
    number = SheetNumber(plan["on"], plan["draw"], plan["k"])
    address = request.build_absolute_uri(f"{reverse('counts:yard-count', args=[yard.pk])}?sheet={number}")
    return Planned(yard, plan, number, address)


@login_not_required
@require_safe
def method_cards_pdf(request: HttpRequest) -> HttpResponse:
    """How each way of counting goes, one card a page; for anybody, signed in or not. `method` asks for one card."""
    asked = request.GET.get("method", "")
    methods = [method for method in Method if asked in ("", method.value)]
    paper = paper_asked(request)
    if not methods:
        raise Http404
    return pdf_answer(cards_pdf(methods, paper=paper), f"method-cards-{paper}")
