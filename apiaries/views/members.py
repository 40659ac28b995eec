"""Members of the club."""

import datetime as dt
from collections.abc import Iterable

from django.contrib import messages
from django.core.paginator import Paginator
from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_safe

from apiaries.access import club_for, member_for
from apiaries.actions import LastAdministrator, LeftMeanwhile, change_role, end_membership
from apiaries.actions.sign_ins import end_all_sign_ins
from apiaries.forms import MemberForm, MemberSearchForm, posted
from apiaries.language import say, say_many
from apiaries.mail import role_mail
from apiaries.models import Membership, NoticeKind, Person, Region
from apiaries.notices import keep
from apiaries.permissions import Permission, Role, role_within
from apiaries.presenters import members_for_list, members_page
from apiaries.second_lock import as_the_service
from apiaries.views.asking import person_of

PER_PAGE = 40


@require_safe
def member_list(request: HttpRequest) -> HttpResponse:
    """Members with their roles, and invitations that are still open."""
    person = person_of(request)
    club = club_for(person, Permission.MEMBER_VIEW)
    waiting = club.invitations.filter(accepted_at=None, withdrawn_at=None, expires_at__gt=timezone.now())
    form = MemberSearchForm(request.GET)
    with as_the_service():  # how many yards each keeps: a number, whoever may see the yards
        page = Paginator(members_for_list(club, named=form.words), PER_PAGE).get_page(request.GET.get("page"))
        len(page.object_list)  # read here
    context = {
        "form": form,
        "page": page,
        "invitations": waiting.select_related("invited_by").prefetch_related("regions"),
        "may_invite": person.can(Permission.MEMBER_INVITE),
        "may_edit": person.can(Permission.CLUB_EDIT),
        "inspector": Role.INSPECTOR,
        "here": _asked(request),
        "sections": members_page(request, person, club),
    }
    return render(request, "apiaries/member_list.html", context)


def member_change(request: HttpRequest, pk: int) -> HttpResponse:
    """Another role, or other regions of an inspector."""
    person = person_of(request)
    member = member_for(person, pk, Permission.CLUB_EDIT)
    before = member.role
    form = MemberForm(posted(request), membership=member)
    if form.is_valid() and form.saves(lambda: _change(form, member, request)):
        # Whoever gave up being administrator sees the list of members no more.
        own = member.person_id == person.pk and before != member.role
        return redirect("apiaries:me") if own else redirect(_list_of(request, member))
    context = {
        "form": form,
        "member": member,
        "back_url": _list_of(request, member),
        "is_self": member.person_id == person.pk,
    }
    return render(request, "apiaries/member_change.html", context)


def _change(form: MemberForm, member: Membership, request: HttpRequest) -> None:
    person, typed, before = person_of(request), form.cleaned_data, member.role
    role, name = Role(typed["role"]), member.person.name
    if not _change_and_tell(member, role, typed.get("regions", ()), by=person, at=timezone.now()):
        messages.info(request, say("Nothing was changed for {name}.", name=name))
        return
    if member.person_id == person.pk:
        messages.success(request, say("You are {role} now.", role=role_within(role)))
        return
    changed = (
        say("The regions of {name} are saved.", name=name)
        if before == role
        else say("{name} is {role} now.", name=name, role=role_within(role))
    )
    messages.success(request, f"{changed} {say('They are told by mail.')}")


@transaction.atomic
def _change_and_tell(
    member: Membership, role: Role, regions: Iterable[Region], *, by: Person, at: dt.datetime
) -> bool:
    """The role and the mail about it, both or neither."""
    before = member.role
    if not change_role(membership=member, role=role, regions=regions, by=by):
        return False
    if member.person_id != by.pk:
        told = role_mail(member, by=by, before=before)
        keep(told, kind=NoticeKind.ROLE, person=member.person, at=at)
    return True


def _list_of(request: HttpRequest, member: Membership) -> str:
    """The list as it was left, at the member's row: the links there bring its page and search along."""
    return f"{reverse('apiaries:member-list')}{_asked(request)}#member-{member.pk}"


def _asked(request: HttpRequest) -> str:
    return f"?{request.GET.urlencode()}" if request.GET else ""


def member_sign_out(request: HttpRequest, pk: int) -> HttpResponse:
    """Ask once, then every sign-in of the member is over: for a phone that was lost or a browser left open."""
    person = person_of(request)
    member = member_for(person, pk, Permission.CLUB_EDIT)
    if member.person_id == person.pk:
        return redirect("apiaries:sign-in-list")
    if request.method == "POST":
        ended, name = end_all_sign_ins(member=member, at=timezone.now(), by=person), member.person.name
        words = say_many(
            "{name} is signed out of {n} device. They are told by mail.",
            "{name} is signed out of {n} devices. They are told by mail.",
            ended,
            name=name,
        )
        messages.success(request, words if ended else say("{name} was signed in nowhere.", name=name))
        return redirect(_list_of(request, member))
    context = {"member": member, "back_url": _list_of(request, member)}
    return render(request, "apiaries/member_sign_out.html", context)


def member_end(request: HttpRequest, pk: int) -> HttpResponse:
    """Ask once, then the person leaves the club; what they recorded stays."""
    person = person_of(request)
    member = member_for(person, pk, Permission.CLUB_EDIT)
    back = _list_of(request, member)
    own = member.person_id == person.pk
    if request.method == "POST":
        try:
            end_membership(membership=member, at=timezone.now(), by=person)
        except LastAdministrator:
            messages.error(
                request, say("The club needs an administrator. Make somebody else one first, with “Change”.")
            )
            return redirect(back)
        except LeftMeanwhile:
            pass  # somebody else was quicker, and the same is said
        messages.success(
            request,
            say("{name} is no longer a member. What they recorded stays.", name=member.person.name),
        )
        return redirect("apiaries:me" if own else back)
    return render(request, "apiaries/member_end.html", {"member": member, "back_url": back, "is_self": own})
