"""What others see of the reader."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from apiaries.models import Yard
from apiaries.permissions import Permission
from apiaries.views.asking import person_of
from reports.access import feeds_of
from reports.seen_of_me import seen_of


@require_safe
def seen_of_me(request: HttpRequest) -> HttpResponse:
    """For everybody who sees something, and everybody who does not: what they see of the reader, as they see it."""
    person = person_of(request)
    membership = person.membership
    context = {
        "seen": seen_of(person),
        "membership": membership,
        "keeps": Yard.objects.filter(keeper=person).exists(),
        "in_figures": person.can(Permission.REGION_VIEW),
        "feeds": feeds_of(person).count(),
    }
    return render(request, "reports/seen_of_me.html", context)
