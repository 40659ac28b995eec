"""Where counts from a phone arrive: a batch at a time, or from the file that a phone wrote."""

from dataclasses import asdict

from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import render
from django.views.decorators.http import require_POST

from apiaries.access import recordable_yard_for
from apiaries.entries import NotEntries, batch_in, body_of
from apiaries.forms.base import posted
from apiaries.views.asking import limited, person_of
from counts.entries import BYTES_MAX, ENTRIES_MAX, clock_off, keep_entries
from counts.forms.phone_file import PhoneFileForm
from counts.phone_page import state_of


@require_POST
@limited("count_entries")
def yard_entries(request: HttpRequest, pk: int) -> HttpResponse:
    """Counts from a phone: an answer for each, and what the person counted here last."""
    person = person_of(request)
    yard = recordable_yard_for(person, pk)
    try:
        body = body_of(request, bytes_max=BYTES_MAX)
        batch = batch_in(body, person, most=ENTRIES_MAX, too_many=413)
    except NotEntries as error:
        return JsonResponse({"error": str(error)}, status=error.status)
    off = clock_off(batch.told.get("sent_at"))
    answers = [asdict(answer) for answer in keep_entries(batch.entries, person, off=off)]
    return JsonResponse({"answers": answers, **state_of(yard, person)})


def phone_file(request: HttpRequest) -> HttpResponse:
    """Bring in the file that a phone wrote of what it could not send: the same entries, under the same keys."""
    person = person_of(request)
    form = PhoneFileForm(posted(request), request.FILES or None, person=person)
    if not form.is_valid():
        return render(request, "counts/phone_file.html", {"form": form})
    noted = form.cleaned_data["file"]
    answers = keep_entries([entry["body"] for entry in noted], person)
    told = [{"label": entry["label"], "answer": answer} for entry, answer in zip(noted, answers, strict=True)]
    return render(request, "counts/phone_file.html", {"form": PhoneFileForm(person=person), "told": told})
