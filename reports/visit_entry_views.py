"""Where visits from a phone arrive."""

from dataclasses import asdict

from django.http import HttpRequest, HttpResponse, JsonResponse
from django.views.decorators.http import require_POST

from apiaries.access import visitable_yard_for
from apiaries.entries import NotEntries, batch_in, body_of
from apiaries.views.asking import limited, person_of
from reports.visit_entries import BYTES_MAX, ENTRIES_MAX, keep_visit_entries
from reports.visit_phone import state_of


@require_POST
@limited("visit_entries")
def visit_entries(request: HttpRequest, pk: int) -> HttpResponse:
    """Visits to one yard from a phone: an answer for each, and the server's clock."""
    person = person_of(request)
    yard = visitable_yard_for(person, pk)
    try:
        body = body_of(request, bytes_max=BYTES_MAX)
        batch = batch_in(body, person, most=ENTRIES_MAX, too_many=413)
    except NotEntries as error:
        return JsonResponse({"error": str(error)}, status=error.status)
    answers = [asdict(answer) for answer in keep_visit_entries(batch.entries, yard, person)]
    return JsonResponse({"answers": answers, **state_of()})
