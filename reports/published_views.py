"""The months as they were published. Gate, presenter, template."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from apiaries.access import club_for
from apiaries.permissions import Permission
from apiaries.views.asking import person_of
from reports.due_days import local_day
from reports.presenters import hiding_rule
from reports.published_form import PublishedForm
from reports.published_page import published_table, published_years, publishing_rule


@require_safe
def region_published(request: HttpRequest) -> HttpResponse:
    """Every region's months side by side, the same for everybody in the club."""
    person = person_of(request)
    club = club_for(person, Permission.REGION_VIEW)
    at = timezone.now()
    form = PublishedForm(request.GET, years=published_years(club, local_day(at, club.time_zone)))
    context = {
        "form": form,
        "club": club,
        "table": published_table(club, *form.chosen, at=at),
        "publishing_rule": publishing_rule(),
        "hiding_rule": hiding_rule(),
        "sees_live": person.can(Permission.REGION_VIEW_LIVE),
    }
    return render(request, "reports/published.html", context)
