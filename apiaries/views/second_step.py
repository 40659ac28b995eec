"""The second step at sign-in, for those whose role needs it."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_safe

from apiaries.second_step import lacks_second_step
from apiaries.views.asking import person_of


@require_safe
def second_step(request: HttpRequest) -> HttpResponse:
    """Why nothing else opens yet, and what to do; the page of the second step itself for everybody else."""
    person = person_of(request)
    if not lacks_second_step(person):
        return redirect("mfa_index")
    return render(request, "apiaries/second_step.html", {"membership": person.membership})
