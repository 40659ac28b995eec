"""The page Treatment results. Gate, presenter, template."""

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from apiaries.access import club_for
from apiaries.language import say
from apiaries.permissions import Permission
from apiaries.views.asking import person_of
from reports.due_days import local_day
from reports.forms import TreatmentResultsForm
from reports.hiding import hiding_rule
from reports.results_page import CONFOUNDERS, NEXT_STEPS, results_page


@require_safe
def treatment_results(request: HttpRequest) -> HttpResponse:
    """What came of the club's treatments in a season; a region of another club does not exist here."""
    person = person_of(request)
    club = club_for(person, Permission.REGION_VIEW_LIVE)
    at = timezone.now()
    today = local_day(at, person.time_zone)
    form = TreatmentResultsForm(request.GET, club=club, today=today)
    form.is_valid()
    if "region" in form.errors:
        raise Http404
    context = {
        "form": form,
        "club": club,
        "results": results_page(club, form, zone=person.time_zone, on=today, at=at),
        "confounders": [say(one) for one in CONFOUNDERS],
        "next_steps": [say(one) for one in NEXT_STEPS],
        "hiding_rule": hiding_rule(),
    }
    return render(request, "reports/treatment_results.html", context)
