"""Where somebody is signed in: one's list, and the end of one or of all others."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from apiaries.access import sign_in_for
from apiaries.actions.sign_ins import end_other_sign_ins, end_sign_in
from apiaries.language import say, say_many
from apiaries.presenters_sign_ins import sign_ins_of
from apiaries.views.asking import person_of


@require_safe
def sign_in_list(request: HttpRequest) -> HttpResponse:
    """What holds now, what was lately, and what was refused."""
    listed = sign_ins_of(person_of(request), session_key=request.session.session_key, at=timezone.now())
    return render(request, "apiaries/sign_in_list.html", {"sign_ins": listed})


@require_POST
def sign_in_end(request: HttpRequest, pk: int) -> HttpResponse:
    """One of them. Not asked twice: whoever ended a wrong one signs in again."""
    person = person_of(request)
    if end_sign_in(sign_in=sign_in_for(person, pk), at=timezone.now(), by=person):
        messages.success(request, say("That device is signed out."))
    else:
        messages.info(request, say("That device was signed out already."))
    return redirect("apiaries:sign-in-list")


@require_POST
def sign_in_end_others(request: HttpRequest) -> HttpResponse:
    """All but this one."""
    person = person_of(request)
    ended = end_other_sign_ins(person=person, keep=request.session.session_key, at=timezone.now(), by=person)
    messages.success(
        request, say_many("One other device is signed out.", "{n} other devices are signed out.", ended)
    )
    return redirect("apiaries:sign-in-list")
