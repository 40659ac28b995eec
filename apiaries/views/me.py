"""What people say about themselves."""

from django.conf import settings
from django.contrib import messages
from django.contrib.auth.decorators import login_not_required
from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import activate
from django.views.decorators.http import require_http_methods
from django.views.i18n import set_language

from apiaries.actions import choose_language, set_sharing, update_person
from apiaries.forms import MeForm, posted
from apiaries.language import say
from apiaries.models import Person
from apiaries.views.asking import person_of
from apiaries.zones import zone_of


def me(request: HttpRequest) -> HttpResponse:
    """Name, time zone, which mails and when, and whether coordinators may see one's yards."""
    person = person_of(request)
    membership = person.membership
    form = MeForm(posted(request), person=person, membership=membership)
    if form.is_valid() and form.saves(lambda: _save(form, person)):
        activate(form.cleaned_data["language"])  # what follows is said in it already
        messages.success(request, say("Saved."))
        return redirect("apiaries:me")
    leaving = person.leavings.open().first()
    context = {
        "form": form,
        "membership": membership,
        "leaving_on": leaving.due_at.astimezone(zone_of(person.time_zone)) if leaving else None,
    }
    return render(request, "apiaries/me.html", context)


@transaction.atomic
def _save(form: MeForm, person: Person) -> None:
    typed, membership = form.cleaned_data, person.membership
    update_person(
        person=person,
        name=typed["name"],
        time_zone=typed["time_zone"],
        language=typed["language"],
        mail_at=typed["mail_at"],
        wants_mail=typed["wants_mail"],
        wants_calls=typed["wants_calls"],
        wants_bulletins=typed["wants_bulletins"],
        quiet_days=typed["quiet_days"],
        by=person,
    )
    if membership is not None and typed["shares_counts"] != membership.shares_counts:
        set_sharing(membership=membership, shares_counts=typed["shares_counts"], by=person)


@login_not_required
@require_http_methods(["GET", "HEAD", "POST"])
def language(request: HttpRequest) -> HttpResponse:
    """Which language: kept with the person, or in this browser while nobody is signed in. Then back to where they were.

    Where that was, the browser says itself: an address in the link would make every page differ by its own.
    """
    if request.method != "POST":
        return render(request, "apiaries/language.html", {"next": request.headers.get("Referer", "/")})
    wanted = request.POST.get("language", "")
    if isinstance(request.user, Person) and wanted in dict(settings.LANGUAGES):
        choose_language(person=request.user, language=wanted, by=request.user)
    return set_language(request)
