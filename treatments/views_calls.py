"""Counts that a yard is asked for: saying that there will be none this time."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone

from apiaries.access import recordable_yard_for
from apiaries.forms.base import posted
from apiaries.language import say
from apiaries.views.asking import person_of, today_in
from counts.week_actions import leave_out_count
from treatments.count_calls import call_of
from treatments.forms.calls import LeaveOutForm
from treatments.yard_outlooks import outlook_of


def count_leave_out(request: HttpRequest, pk: int) -> HttpResponse:
    """No count this time, because …: of the count that the yard is asked for now; else there is none to leave out."""
    person = person_of(request)
    yard = recordable_yard_for(person, pk)
    outlook_of(yard, at=timezone.now())
    call, about = call_of(yard, today_in(yard)), request.GET.get("about", "")
    if call is not None and about not in ("", call.subject):
        call = None
    form = LeaveOutForm(posted(request))
    if (
        call is not None
        and form.is_valid()
        and form.saves(
            lambda: leave_out_count(
                yard=yard, subject=call.subject, why=form.cleaned_data["why"], at=timezone.now(), by=person
            )
        )
    ):
        messages.success(request, say("Left out. The yard is not asked for this count any more."))
        return redirect("apiaries:yard-detail", pk=yard.pk)
    return render(request, "treatments/count_leave_out.html", {"form": form, "yard": yard, "call": call})
