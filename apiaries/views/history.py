"""What changed: the past of any fact, for those who may see the fact."""

from django.core.paginator import Paginator
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from apiaries.telling import facts
from apiaries.views.asking import person_of
from apiaries.what_changed import past_of_fact

PER_PAGE = 50


@require_safe
def history(request: HttpRequest, kind: str, pk: int) -> HttpResponse:
    """Who changed what of the fact, when and why; newest first."""
    person = person_of(request)
    asked = facts.kinds.get(kind)
    if asked is None:
        raise Http404
    fact = asked.gate(person, pk)
    past = past_of_fact(kind, fact, person)
    page = Paginator(past.changes, PER_PAGE).get_page(request.GET.get("page"))
    context = {
        "title": asked.title(fact, person),
        "back_url": asked.back(fact, person),
        "page": page,
        "withheld": past.withheld,
    }
    return render(request, "apiaries/history.html", context)
