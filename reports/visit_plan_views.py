"""Planning visits: the yards that are due, and what is known of one before going."""

from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_safe

from apiaries.access import visitable_yard_for, visits_of
from apiaries.actions.visits import DayIsPast, PlannedAlready, plan_visits
from apiaries.forms.base import posted
from apiaries.language import say, say_many
from apiaries.models import Visit, Yard
from apiaries.reference import cautions
from apiaries.views.asking import person_of, today_in
from counts.models import MiteSample
from counts.presenters import rows_of, with_all
from reports.access import inspected_regions_of
from reports.visit_due import due_of
from reports.visit_gate import small, to_open
from reports.visit_phone import waiting_phone
from reports.visit_plan import in_order, visit_rows
from reports.visit_plan_form import ChooseYardsForm, PlanForm

PER_PAGE = 60
COUNTS_SHOWN = 20


def visit_list(request: HttpRequest) -> HttpResponse:
    """Planned visits, the yards that are due, and the form that plans visits for a day."""
    person = person_of(request)
    visits_of(person)
    regions, on = inspected_regions_of(person), today_in(person)
    yards = Yard.objects.inspected_by(person).filter(closed_on=None)
    by_key = {yard.pk: yard for yard in yards.select_related("club", "region", "keeper")}
    form = PlanForm(posted(request), yards=by_key, today=on)
    if form.is_valid() and _planned(request, form):
        return redirect("reports:visit-list")
    chosen = ChooseYardsForm(request.GET, regions=regions)
    rows = in_order(chosen.chosen(visit_rows(person, yards, on)), chosen.chosen_order, on)
    page = Paginator(rows, PER_PAGE).get_page(request.GET.get("page"))
    planned = (
        Visit.objects.planned()
        .inspected_by(person)
        .select_related("yard__keeper", "yard__region", "inspector")
    )
    made = Visit.objects.made().inspected_by(person).select_related("yard__keeper", "inspector")
    context: dict[str, Any] = {
        "regions": regions,
        "form": form,
        "filter": chosen,
        "page": page,
        "rows": list(page),
        "total": len(rows),
        "planned": planned.order_by("planned_on", "yard__name"),
        "made": made.order_by("-visited_on", "-pk")[:10],
        "on": on,
        "phone": waiting_phone(person),
    }
    return render(request, "reports/visit_list.html", context)


def _planned(request: HttpRequest, form: PlanForm) -> bool:
    person, typed = person_of(request), form.cleaned_data
    try:
        visits = plan_visits(
            yards=typed["yards"],
            on=typed["on"],
            inspector=person,
            announced=typed["announced"],
            why=typed["why"],
            at=timezone.now(),
            by=person,
        )
    except PlannedAlready as error:
        words = say(
            "A visit to {yard} is planned for this day already. Nothing was planned.", yard=error.yard.name
        )
        form.add_error("yards", words)
        return False
    except DayIsPast:
        form.add_error("on", say("This day is past in one of the yards. Enter today or a day to come."))
        return False
    messages.success(request, say_many("{n} visit is planned.", "{n} visits are planned.", len(visits)))
    return True


@require_safe
def visit_before(request: HttpRequest, pk: int) -> HttpResponse:
    """What is known of a yard before going there, to read or to print."""
    person = person_of(request)
    yard = visitable_yard_for(person, pk)
    on = today_in(yard)
    (row,) = visit_rows(person, Yard.objects.filter(pk=yard.pk), on)
    planned = row.planned
    day = planned.planned_on if planned is not None and planned.planned_on else on
    samples = MiteSample.objects.visible_to(person).standing().filter(yard=yard)
    context = {
        "yard": yard,
        "row": row,
        "place": (yard.latitude, yard.longitude) if yard.latitude is not None else None,
        "planned": planned,
        "colonies": list(yard.colonies.living().in_reading_order()),
        "counts": rows_of(with_all(samples).order_by("-sampled_on", "-pk")[:COUNTS_SHOWN]),
        "visits": Visit.objects.made()
        .filter(yard=yard)
        .select_related("inspector")
        .order_by("-visited_on", "-pk")[:10],
        "due": due_of(person, on, yard=yard),
        "chosen": to_open(
            yard,
            on=day,
            present=small(request.GET.get("present")),
            draw=small(request.GET.get("draw"), most=9999) or 0,
        ),
        "stings": [one for one in cautions() if one["where"] in ("stings", "lone_work")],
        "on": on,
    }
    return render(request, "reports/visit_before.html", context)
