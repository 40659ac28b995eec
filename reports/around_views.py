"""Yards around a place, for inspectors."""

from typing import Any

from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import render
from django.utils.http import urlencode
from django.views.decorators.http import require_safe

from apiaries.distance import Place
from apiaries.models import Person, Region, Yard
from apiaries.views.asking import person_of, today_in
from reports.access import inspected_regions_of, inspected_yard_for
from reports.around_form import QUICK_KM, USUAL_KM, AroundForm, DistanceForm
from reports.known_yards import with_treatments
from reports.yards_around import MOST_YARDS, centre_of, other_regions, yards_around

PER_PAGE = 25


@require_safe
def yards_around_place(request: HttpRequest) -> HttpResponse:
    """Which yards of the reader's regions lie within a distance of a place, sorted by what is known of them."""
    person = person_of(request)
    regions = inspected_regions_of(person)
    form = AroundForm(request.GET, yards=Yard.objects.inspected_by(person).filter(closed_on=None))
    centre = form.centre if form.is_valid() else None
    context = {"form": form, "regions": regions, "around": form.around, "km": USUAL_KM}
    return _page(request, person, regions, form, centre, context)


@require_safe
def yards_around_yard(request: HttpRequest, pk: int) -> HttpResponse:
    """The same around a yard of these regions."""
    person = person_of(request)
    regions = inspected_regions_of(person)
    yard = inspected_yard_for(person, pk)
    form = DistanceForm(request.GET)
    context = {"form": form, "regions": regions, "around": yard, "yard": yard}
    return _page(request, person, regions, form, centre_of(yard) if form.is_valid() else None, context)


def _page(
    request: HttpRequest,
    person: Person,
    regions: list[Region],
    form: DistanceForm,
    centre: Place | None,
    context: dict[str, Any],
) -> HttpResponse:
    if centre is not None and regions:
        typed, on = form.cleaned_data, today_in(person)
        found = yards_around(person, centre, typed["km"], order=typed["order"], on=on)
        page = Paginator(found.rows, PER_PAGE).get_page(request.GET.get("page"))
        context |= {
            "found": found,
            "centre": centre,
            "page": page,
            "rows": with_treatments(page, on),
            "km": typed["km"],
            "most": MOST_YARDS,
            "others": other_regions(person, regions),
            "quick": [(km, _within(request.GET, km)) for km in QUICK_KM if float(km) != typed["km"]],
        }
    return render(request, "reports/yards_around.html", context)


def _within(asked: QueryDict, km: str) -> str:
    """The same question with another distance, from the first page on."""
    kept = {name: asked.get(name, "") for name in ("place", "order")}
    return "?" + urlencode({name: text for name, text in kept.items() if text} | {"km": km})
