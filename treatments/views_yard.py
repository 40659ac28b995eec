"""The treatment day's sheet in the yard: the page that a phone keeps, and where its ticks arrive."""

from dataclasses import asdict

from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import render
from django.views.decorators.csrf import ensure_csrf_cookie
from django.views.decorators.http import require_POST, require_safe

from apiaries.entries import KEEP_FOR, NotEntries, batch_in, body_of
from apiaries.views.asking import person_of
from treatments.access import recordable_sheet_for
from treatments.yard_page import state_of, yard_page
from treatments.yard_ticks import BYTES_MAX, ENTRIES_MAX, keep_entries


@require_safe
@ensure_csrf_cookie
def round_yard(request: HttpRequest, pk: int, number: int) -> HttpResponse:
    """The sheet for the yard. Once the round is over nothing is ticked, but what still waits is shown."""
    person = person_of(request)
    page = yard_page(recordable_sheet_for(person, pk, number), person)
    answer = render(request, "treatments/round_yard.html", page)
    if not page["closed"]:
        answer[KEEP_FOR] = str(person.pk)
    return answer


@require_POST
def round_marks(request: HttpRequest, pk: int, number: int) -> HttpResponse:
    """Ticks from a phone: an answer for each, and all ticks as they stand now."""
    person = person_of(request)
    sheet = recordable_sheet_for(person, pk, number)
    try:
        batch = batch_in(body_of(request, bytes_max=BYTES_MAX), person, most=ENTRIES_MAX)
    except NotEntries as error:
        return JsonResponse({"error": str(error)}, status=error.status)
    answers = [asdict(answer) for answer in keep_entries(sheet, batch.entries, person)]
    return JsonResponse({"answers": answers, **state_of(sheet)})
