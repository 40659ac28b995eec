"""What people say about themselves."""

from django.contrib import messages
from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render

from apiaries.actions import set_sharing, update_person
from apiaries.forms import MeForm, posted
from apiaries.models import Person
from apiaries.views.asking import person_of


def me(request: HttpRequest) -> HttpResponse:
    """Name, time zone, which mails and when, and whether coordinators may see one's yards."""
    person = person_of(request)
    membership = person.membership
    form = MeForm(posted(request), person=person, membership=membership)
    if form.is_valid() and form.saves(lambda: _save(form, person)):
        messages.success(request, "Saved.")
        return redirect("apiaries:me")
    return render(request, "apiaries/me.html", {"form": form, "membership": membership})


@transaction.atomic
def _save(form: MeForm, person: Person) -> None:
    typed, membership = form.cleaned_data, person.membership
    update_person(
        person=person,
        name=typed["name"],
        time_zone=typed["time_zone"],
        mail_at=typed["mail_at"],
        wants_mail=typed["wants_mail"],
        wants_calls=typed["wants_calls"],
        wants_bulletins=typed["wants_bulletins"],
        quiet_days=typed["quiet_days"],
        by=person,
    )
    if membership is not None and typed["shares_counts"] != membership.shares_counts:
        set_sharing(membership=membership, shares_counts=typed["shares_counts"], by=person)
