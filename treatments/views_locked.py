"""Medicine records of people who were forgotten, for the inspectors of their regions."""

from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from apiaries.views.asking import person_of
from treatments.access import locked_entries_for
from treatments.locked_page import locked_lines

PER_PAGE = 20


@require_safe
def locked_records(request: HttpRequest) -> HttpResponse:
    """What is kept until its day, the first to go first."""
    entries = locked_entries_for(person_of(request))
    page = Paginator(entries, PER_PAGE).get_page(request.GET.get("page"))
    return render(request, "treatments/locked_records.html", {"page": page, "lines": locked_lines(page)})
