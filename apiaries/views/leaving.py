"""Leaving and being forgotten: one's own wish, or that of a member who wrote it to the club."""

from allauth.account import app_settings
from allauth.account.authentication import get_authentication_records
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST

from apiaries.access import member_for
from apiaries.actions import NotOpen, ask_to_leave, call_off_leaving, is_last_administrator
from apiaries.actions.leaving import COOL_OFF
from apiaries.forms import LeaveForm, MemberForgetForm, posted
from apiaries.forms.leaving import word_to_type
from apiaries.language import say
from apiaries.models import How, Leaving, Person
from apiaries.panels import leaving_panels
from apiaries.permissions import Permission
from apiaries.presenters import rendered
from apiaries.views.asking import limited, person_of
from apiaries.zones import zone_of


@limited("reauthenticate")
def leave(request: HttpRequest) -> HttpResponse:
    """What is erased, what is kept and until when; then the wish, with the password and a word."""
    person = person_of(request)
    leaving = person.leavings.open().first()
    if leaving is not None:
        return render(request, "apiaries/leave_open.html", {"due": _local(leaving, person)})
    form = LeaveForm(posted(request), person=person, signed_in_lately=_signed_in_lately(request))
    if form.is_valid() and form.saves(lambda: _ask(person, How.OWN)):
        return redirect("apiaries:leave")
    context = {
        "form": form,
        "word": word_to_type(),
        "days": COOL_OFF.days,
        "is_last": is_last_administrator(person),
        "sections": rendered(request, leaving_panels.for_page(person, person)),
    }
    return render(request, "apiaries/leave.html", context)


@require_POST
def leave_call_off(request: HttpRequest) -> HttpResponse:
    """One stays after all."""
    person = person_of(request)
    if _called_off(person, person):
        messages.success(request, say("You stay. Nothing was erased."))
    else:
        messages.info(request, say("Nothing was to be called off."))
    return redirect("apiaries:me")


@limited("reauthenticate")
def member_forget(request: HttpRequest, pk: int) -> HttpResponse:
    """A member wrote that they want to be forgotten. What is theirs is not shown to whoever writes it down."""
    by = person_of(request)
    member = member_for(by, pk, Permission.CLUB_EDIT)
    if member.person_id == by.pk:
        return redirect("apiaries:leave")
    leaving = member.person.leavings.open().first()
    form = MemberForgetForm(posted(request), person=by, signed_in_lately=_signed_in_lately(request))
    asked = leaving is None and form.is_valid()
    if asked and form.saves(lambda: _ask(member.person, How.IN_WRITING, by=by)):
        return redirect("apiaries:member-forget", pk=pk)
    context = {
        "form": form,
        "member": member,
        "word": word_to_type(),
        "days": COOL_OFF.days,
        "due": _local(leaving, by) if leaving else None,
    }
    return render(request, "apiaries/member_forget.html", context)


@require_POST
def member_forget_call_off(request: HttpRequest, pk: int) -> HttpResponse:
    """The member stays after all."""
    by = person_of(request)
    member = member_for(by, pk, Permission.CLUB_EDIT)
    if _called_off(member.person, by):
        messages.success(request, say("{name} stays. Nothing was erased.", name=member.person.name))
    else:
        messages.info(request, say("Nothing was to be called off."))
    return redirect("apiaries:member-list")


def _called_off(person: Person, by: Person) -> bool:
    leaving = person.leavings.open().first()
    if leaving is None:
        return False
    try:
        call_off_leaving(leaving=leaving, at=timezone.now(), by=by)
    except NotOpen:
        return False
    return True


def _ask(person: Person, how: How, by: Person | None = None) -> None:
    ask_to_leave(person=person, how=how, at=timezone.now(), by=by or person)


def _local(leaving: Leaving, person: Person) -> object:
    return leaving.due_at.astimezone(zone_of(person.time_zone))


def _signed_in_lately(request: HttpRequest) -> bool:
    """Within allauth's own time for such things; its own question answers yes for who has no password at all."""
    records = get_authentication_records(request, person_of(request))
    age = timezone.now().timestamp() - max((one["at"] for one in records), default=0)
    return bool(age < app_settings.REAUTHENTICATION_TIMEOUT)
